"""What each number of a build file can be: one table for the file, the panels and the docs; a slip is refused where it stands."""

import itertools
import json
import re

import pytest

from aquaplumb import plausible, tables, whatif
from aquaplumb.air import air_pump_file
from aquaplumb.build import Build, layouts, load
from aquaplumb.build.measured import WHAT
from aquaplumb.build.records import Stock, Wanted
from aquaplumb.build.vessels import Vessel
from aquaplumb.plumbing import pump_file, pumps
from aquaplumb.review import review
from aquaplumb.review.findings import unusual
from aquaplumb.units import BODY_MASS, LENGTH, NUMBER, STOCKING, TEMPERATURE, DesignError, pint_unit
from aquaplumb.whatif import fish_load, warmth
from aquaplumb.whatif.opened import Opened

ROWS = tables.table(plausible.Span)


def told(cls=plausible.Told):
    """Every record of the build file."""
    for one in cls.__subclasses__():
        yield one
        yield from told(one)


def fields():
    return {
        (cls, field): cls.range_of(field)
        for cls in told()
        for field, kind in cls._kinds.items()
        if kind is not None and not field.startswith("_")
    }


def test_every_number_of_a_build_file_has_its_range_and_every_range_its_number():
    found = fields()
    assert len(found) > 120
    assert [f"{cls.__name__}.{field}" for (cls, field), row in found.items() if row is None] == []
    files = {f"{kind}.{name}" for kind, module in (("pump file", pump_file), ("air pump file", air_pump_file)) for name in (*module._COLUMNS, *(n for n, k in module._SAYS.items() if k))}  # fmt: skip
    used = (
        {row.si.name for row in found.values()}
        | files
        | {"lines.*.fittings.*", "conduits.*.cables.*"}
        | {f"measured.{what}" for what in (*WHAT, "volume", "time")}
    )
    assert used == set(ROWS)


def test_a_range_is_of_its_numbers_kind_and_the_usual_lies_in_what_can_be():
    for (cls, field), row in fields().items():
        kind = cls._kinds[field]
        assert bool(row.si.unit) == bool(kind.si), row.si.name
        if kind.si:
            assert pint_unit(row.si.unit).dimensionality == pint_unit(kind.si).dimensionality, row.si.name
        (low, high), (from_, to) = row.hard(kind), row.usual(kind)
        assert low <= from_ < to <= high, row.si.name
        default = cls._defaults.get(field)
        if isinstance(default, (int, float)):
            assert not row.refused(float(default), kind, "the default"), row.si.name


def builds():
    folder = tables.folder("data") / "builds"
    yield from ((path.stem, path.read_text(encoding="utf-8")) for path in sorted(folder.rglob("*.toml")))
    for layout in layouts.LAYOUTS:
        for units, beds in (("metric", 1), ("US", layouts.MOST_BEDS)):
            made = layouts.first_build(layout, beds=beds, units=units, altitude="0 m", coldest_water="22 degC", warmest_water="28 degC")
            yield f"{layout}, {beds}, {units}", made


def test_no_demo_faulty_build_or_layout_is_refused_or_called_unusual():
    """A false alarm is a defect: each of these is as somebody could build it."""
    seen = 0
    for name, text in builds():
        assert Build(text).unusual == {}, name
        seen += 1
    assert seen > 80


NONSENSE = [
    ("alkalinity", '"90 g/L"', "90 mg/L"), ("chloride", '"120 g/L"', "120 mg/L"), ("body_mass", '"400 kg"', "400 g"), ("protein", "0", ""),
    ("protein", "32", "32 %"), ("ph", "0", ""), ("ph", "69", "6.9"), ("dose", '"1 kg/L"', "1 mg/L"), ("carbon_dioxide_limit", '"15 g/L"', "15 mg/L"),
    ("nozzle_bore", '"10 m"', "10 mm"), ("outlet", '"-10 km"', "-10 cm"), ("coldest_water", '"72 degC"', "72 °F"), ("altitude", '"120 km"', "120 m"),
    ("feed_per_area", '"0 g/m2/d"', ""), ("screen_open_area", '"0 cm2"', ""), ("elbow 90", "2000", "2"),
]  # fmt: skip
PLACES = {"dose": "upkeep", "carbon_dioxide_limit": "water"}


def courtyard_with(key, value):
    """The courtyard's text with another value of a key, in place of the first or in its section."""
    text = load("courtyard").text
    if key in PLACES:
        return text.replace(f"[{PLACES[key]}]\n", f"[{PLACES[key]}]\n{key} = {value}\n", 1)
    if key == "nozzle_bore":
        return re.sub(r"(?m)^(outlet = .*)$", rf"\1\nnozzle_bore = {value}", text, count=1)
    if key == "screen_open_area" and "screen_open_area" not in text:
        return re.sub(r"(?m)^(lip = .*)$", rf"\1\nscreen_open_area = {value}", text, count=1)
    return re.sub(rf'(?m)((?:^|[{{,] ?"?){key}"? *= *)("[^"]*"|[\d.]+)', lambda m: m[1] + value, text, count=1)


@pytest.mark.parametrize("key, value, meant", NONSENSE, ids=lambda v: v if isinstance(v, str) else "")
def test_what_can_never_be_is_refused_with_its_place_its_range_and_a_guess(key, value, meant):
    text = courtyard_with(key, value)
    assert text != load("courtyard").text
    line = next(n for n, one in enumerate(text.split("\n"), 1) if re.search(rf'{key}"? *= *{re.escape(value)}', one))
    with pytest.raises(DesignError) as wrong:
        Build(text)
    said = str(wrong.value)
    assert re.search(rf"line {line}: .*{key}: {re.escape(value.strip(chr(34)))} is (above|below) \S+", said), said
    assert (f"did you mean {meant}?" in said) if meant else "did you mean" not in said, said
    assert len(said) <= 300


@pytest.mark.parametrize("given, kind, name, meant", [
    ("6 in", LENGTH, "vessels.*.working_depth", ""), ("700 mm", LENGTH, "vessels.*.height", ""), ("80 m", LENGTH, "vessels.*.height", "80 cm"),
    ("95 degF", TEMPERATURE, "site.warmest_water", ""), ("95 degC", TEMPERATURE, "site.warmest_water", "95 °F"),
    (40, NUMBER, "water.removal", "40 %"), ("15000 kg/m3", STOCKING, "fish.density", "15 kg/m3"), ("12 kg", BODY_MASS, "fish.body_mass", "12 g"),
])  # fmt: skip
def test_a_guess_is_one_slip_away_and_usual(given, kind, name, meant):
    row = plausible.row(name)
    value = given if isinstance(given, (int, float)) else kind and plausible.si_value(given, kind, name)
    if not meant:
        assert not row.refused(value, kind, given) and not row.unusual(value, kind, given)
    else:
        assert f"id you mean {meant}?" in (row.refused(value, kind, given) or row.unusual(value, kind, given))


def test_an_unusual_number_is_a_note_that_can_be_accepted():
    text = courtyard_with("ph", "9.9")
    found = review(Build(text)).finding("unusual value")
    assert (found.severity, found.where) == ("note", "water › ph") and "5 to 9.5" in found.sentence
    text += '[accepted."unusual value · water › ph"]\nreason = "soda lake"\nkind = "note"\nsaid = "' + found.sentence + '"\n'
    assert "unusual value" not in [one.name for one in review(Build(text)).findings]


def kept_keys():
    """{row of the table: pages after 00 with a control that keeps it}, as the pages' own panels have them; nothing is worked out in these."""
    found = {}
    for path in sorted((tables.folder("data").parent / "notebooks").glob("[01][0-9]-*.ipynb")):
        code = "\n".join(
            "".join(cell["source"]) for cell in json.loads(path.read_text(encoding="utf-8"))["cells"] if cell["cell_type"] == "code"
        )
        for module, demo in itertools.product(re.findall(r"(\w+)\.panel\(", code), ("courtyard", "greenhouse", "balcony")):
            try:
                controls = Opened(getattr(whatif, module).panel.__self__, load(demo), None).controls()
            except DesignError:
                continue  # a page for builds of another sort
            for one in controls:
                if getattr(one, "key", "") and one.kept and path.name[:2] != "00":
                    found.setdefault(one.key, set()).add(path.name[:2])
    return found


def test_the_note_names_the_first_page_that_changes_the_number():
    build, found, named = load("greenhouse"), kept_keys(), set()
    assert len(found) > 50
    for name, pages in found.items():
        section, *_, last = name.split(".")
        line = "tank overflow" if last == "outlet" else "bed loop"
        keys = ("lines", line, "pipe", 0, last) if section == "lines" and line == "bed loop" else (section, line, last)
        page = unusual.page_of(build, keys)
        assert page == min(pages), name
        named.add((page, last))
    assert named == {(page, key.split(".")[1]) for page, several in unusual.PAGES.items() for key in several.split()}


def test_a_number_that_no_page_changes_sends_to_none():
    assert (
        unusual.page_of(load("greenhouse"), ("vessels", "sump", "empty_mass"))
        == unusual.page_of(load("greenhouse"), ("lines", "tank overflow", "length"))
        == ""
    )
    text = courtyard_with("altitude", '"4500 m"')
    found = review(Build(text)).finding("unusual value")
    assert found.notebook == "03" and str(found).endswith("(notebook 03)")
    found = review(
        Build(text.replace('altitude = "4500 m"', 'altitude = "450 m"').replace('empty_mass = "40 kg"', 'empty_mass = "4000 kg"'))
    ).finding("unusual value")
    assert found.notebook == "" and "notebook" not in str(found) and found.cure.endswith("accept this note.")


def test_a_nought_that_means_none_is_not_unusual():
    assert Build(courtyard_with("altitude", '"0 m"')).unusual == {}


@pytest.mark.parametrize("make", [
    lambda: Stock(species="Nile tilapia", density="15 kg/m3", body_mass="400 kg", feeding_rate="1 %/d", protein=0.3),
    lambda: Wanted(ph=69), lambda: Wanted(salinity=50), lambda: load("courtyard").fish.replace(protein=3),
    lambda: load("courtyard").vessels["fish tank"].replace(height="80 km"),
])  # fmt: skip
def test_the_door_of_a_record_refuses_what_the_file_refuses(make):
    with pytest.raises(DesignError, match="the most for"):
        make()


def test_a_pump_of_a_gigawatt_is_refused(tmp_path):
    file = tmp_path / "my-pump.csv"
    file.write_text("flow [L/h],head [m],power [W]\n0,3,1e9\n1000,2,1e9\n2000,0.5,1e9\n", encoding="utf-8")
    with pytest.raises(DesignError, match=r"line 2: power: 1e9 W is above 50,000 W, the most for what a pump draws"):
        pumps.from_csv(file)


def refusal(text):
    with pytest.raises(DesignError) as wrong:
        Build(text)
    return str(wrong.value)


def test_a_floor_above_the_pipe_that_ends_in_it_says_both_with_their_lines():
    text = load("courtyard").text.replace('floor = "0.62 m"', 'floor = "6.2 m"', 1)
    line = text[: text.index('floor = "6.2 m"')].count("\n") + 1
    assert re.search(
        rf"line {line}: vessels › bed 1 › floor: 6.2 m is above the pipe that ends in it, 1.05 m \(line \d+: lines › riser › pipe › outlet\)",
        refusal(text),
    )


def test_a_lip_over_the_rim_a_short_pipe_and_a_lip_under_the_floor_are_refused_in_the_files_unit():
    text = re.sub(r"(?m)^route = .*\n", "", load("greenhouse").text)
    key = re.compile(r'(?ms)(^\[lines\."[^\n]*"\]\nkind = "overflow".*?^lip = )("[^"]*")')
    assert key.search(text)
    for value, why in (("40 ft", "is over the rim of"), ("-40 ft", "is under the floor of")):
        told_ = refusal(key.sub(rf'\g<1>"{value}"', text, count=1))
        assert f"lip: {value} {why}" in told_ and " m" not in told_.split("lip:")[1].replace(" m)", ""), told_
    short = re.compile(r'(?ms)(^\[lines\."[^\n]*"\]\nkind = "overflow".*?^length = )("[^"]*")')
    assert "0.1 in of pipe is shorter than the height between its ends" in refusal(short.sub(lambda m: f'{m[1]}"0.1 in"', text, count=1))


def test_a_depth_over_the_height_is_told_in_the_files_own_unit():
    text = re.sub(r'(?m)^working_depth = "[^"]*"', 'working_depth = "300 in"', load("barrel-yard").text, count=1)
    told_ = refusal(text)
    assert re.search(r"line \d+: vessels › [^›]+ › working_depth: .*300 in.* in\.", told_), told_


def test_what_the_file_refuses_its_box_refuses_and_says_the_same():
    build = load("courtyard")
    for panel, name, key, typed in (
        (fish_load.panel(build), "density", "density", "4000"), (fish_load.panel(build), "body_mass", "body_mass", "400000"), (fish_load.panel(build), "warm", "warmest_water", "95"),
    ):  # fmt: skip
        row = panel.control(name)
        before = row.value
        row.box.value = float(typed)
        unit = row.spec.kind.unit().replace("³", "3").replace("°", "deg")
        sentence = refusal(courtyard_with(key, f'"{typed} {unit}"')).split(f"{key}: ")[1]
        assert row.value == before and sentence.replace("kg/m3", "kg/m³").replace("degC", "°C") in panel._note.value, panel._note.value
        with pytest.raises(DesignError, match="the most for"):
            panel.set(**{name: f"{typed} {unit}"})


def test_a_boxs_key_is_a_row_and_its_slider_within_what_can_be():
    for make in (fish_load.panel, warmth.panel):
        panel = make(load("courtyard"))
        keyed = [row.spec for row in panel._rows.values() if getattr(row.spec, "key", "")]
        assert keyed
        for spec in keyed:
            for end in spec.ends():
                assert not spec.refused(end, spec.kind.text(end)), spec.name


def test_the_reference_of_the_build_file_has_its_ranges_from_the_table():
    """Written anew with ``python -c "from aquaplumb import plausible; print(plausible.as_list())"``."""
    assert plausible.as_list() in (tables.folder("data") / "builds" / "README.md").read_text(encoding="utf-8")


def test_a_vessel_given_in_code_says_its_own_words():
    with pytest.raises(DesignError, match="working depth is 2 m; it lies between 0 and the height, 1 m"):
        Vessel(name="t", kind="fish tank", shape="round", diameter="1 m", height="1 m", floor="0 m", working_depth="2 m")

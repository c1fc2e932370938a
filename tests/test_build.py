"""The build file: bad input is told in one clear sentence with its line; a save loses nothing."""

import copy
import os
import pickle
import re
import stat
import threading
import tomllib

import numpy as np
import pint
import pytest

from aquaplumb.build import Build, demos, file_text, load, my_build
from aquaplumb.system.steady import Steady
from aquaplumb.units import KINDS, SYSTEMS, DesignError, Quantity, pint_unit, quantity, u

COURTYARD = load("courtyard").text


def changed(old: str, new: str, count: int = 1) -> str:
    assert old in COURTYARD, f"the test means to change {old!r}"
    return COURTYARD.replace(old, new, count)


def line_number(text: str, snippet: str) -> int:
    return text[: text.index(snippet)].count("\n") + 1


@pytest.mark.parametrize("name", [*demos(), *demos(faulty=True)])
def test_every_demo_build_reads_and_says_it_is_invented(name):
    build = load(name)
    assert build.vessels
    assert build.pumped
    assert "nvented for the demo" in build.about


def test_a_build_holds_quantities():
    build = load("courtyard")
    assert build.vessels["fish tank"].diameter.to("m").magnitude == pytest.approx(1.4)
    assert build.lines["riser"].si.pipe[0].bore.to("mm").magnitude == pytest.approx(34.0)  # 40 mm PN16: 40 − 2 × 3.0
    assert build.vessels["bed 1"].si.void == pytest.approx(0.45)
    assert [v.si.name for v in build.of_kind("bed")] == ["bed 1", "bed 2"]


BAD = [
    ("a missing unit", 'diameter = "1.4 m"', 'diameter = "1.4"', ["diameter", "no unit"]),
    ("a bare number", 'diameter = "1.4 m"', "diameter = 1.4", ["diameter", "no unit", "quotes"]),
    ("a wrong dimension", 'diameter = "1.4 m"', 'diameter = "1.4 L"', ["diameter", "a volume", "a length"]),
    ("a decimal comma", 'diameter = "1.4 m"', 'diameter = "1,4 m"', ["diameter", "comma", "1.4 m"]),
    ("arithmetic", 'diameter = "1.4 m"', 'diameter = "9**9**9 L"', ["diameter", "not a unit"]),
    ("a negative length", 'length = "2.2 m"', 'length = "-2.2 m"', ["length", "less than nothing"]),
    ("a size that no table has", 'size = "40 mm"', 'size = "41 mm"', ["size", "41 mm"]),
    ("a standard that no table has", 'standard = "PN10"', 'standard = "PN11"', ["PN11"]),
    ("an unknown species", "Nile tilapia", "Nile tilapa", ["species", "Nile tilapia"]),
    ("an unknown crop", '"lettuce"', '"letuce"', ["crop", "lettuce"]),
    ("an unknown medium", '"expanded clay 8-16 mm"', '"expandd clay"', ["medium", "expanded clay"]),
    ("an unknown fitting", '"union" = 1', '"unoin" = 1', ["unoin", "union"]),
    ("an unknown pump", "demo mains 120 W submersible", "demo mains 121 W submersible", ["pump", "120 W"]),
    ("an unknown key", 'empty_mass = "40 kg"', 'emty_mass = "40 kg"', ["emty_mass", "empty_mass"]),
    ("an unknown section", "[plants]", "[plant]", ["plant", "plants"]),
    ("an unknown kind", 'kind = "overflow"', 'kind = "overflo"', ["overflow"]),
    ("an unknown shape", 'shape = "round"', 'shape = "oval"', ["oval", "round"]),
    (
        "a saturation in hundredths",
        "turnovers =",
        "inlet_saturation = 90\nturnovers =",
        ["inlet_saturation: 90 is above", "did you mean 90 %", '"90 %"', "line"],
    ),
    ("a saturation of nothing", "turnovers =", "inlet_saturation = 0\nturnovers =", ["inlet_saturation", '"10 %"']),
    (
        "a peak in hundredths",
        "turnovers =",
        'oxygen_peak = "1.4 %"\nturnovers =',
        ["oxygen_peak: 1.4 % is below", "did you mean 1.4?", "from 1 to 4"],
    ),
    ("feed with a slipped point", 'protein = "32 %"', 'protein = "0.32 %"', ["protein", "0.32 %", '"32 %"']),
    ("a removal in hundredths", 'removal = "40 %"', "removal = 40", ["removal", "part of a whole"]),
    ("a cover in hundredths", 'covered = "80 %"', "covered = 80", ["covered", "part of a whole"]),
    ("an opening in hundredths", "opening = 0.75", "opening = 75", ["opening", "part of a whole"]),
    ("voids in hundredths", 'empty_mass = "40 kg"', 'void = 45\nempty_mass = "40 kg"', ["void", "part of a whole"]),
    ("a missing key", 'diameter = "1.4 m"\n', "", ["diameter"]),
    ("a missing section", '[site]\naltitude = "120 m"', '[water2]\naltitude = "120 m"', ["water2"]),
    ("a line to nowhere", 'to = "sump"', 'to = "smup"', ["smup", "sump"]),
    ("a line from nowhere", 'from = "sump"', 'from = "pond"', ["pond", "sump"]),
    ("a loop in the pipe", 'name = "riser"\n', 'name = "riser"\nafter = "header"\n', ["loop"]),
    ("a stretch after nothing", 'after = "header"', 'after = "heeder"', ["heeder", "header"]),
    ("two firsts", 'name = "header"\nafter = "riser"', 'name = "header"', ["both start at the pump"]),
    ("a stretch twice", 'name = "to bed 2"', 'name = "to bed 1"', ["twice"]),
    ("a dead end", 'to = "bed 2"\n', "", ["leads nowhere"]),
    ("half a fitting", '"union" = 1', '"union" = 1.5', ["whole number"]),
    ("a working depth over the rim", 'working_depth = "0.70 m"', 'working_depth = "0.90 m"', ["working depth", "height"]),
    ("a mass of text", 'empty_mass = "40 kg"', 'empty_mass = "heavy"', ["empty_mass"]),
    ("true in quotes", "emergency = true", 'emergency = "yes"', ["emergency", "true or false"]),
    ("text without quotes", 'species = "Nile tilapia"', "species = Nile tilapia", ["line", "TOML"]),
    ("an open bracket", "[fish]", "[fish", ["line", "TOML"]),
    ("a key twice", 'species = "Nile tilapia"', 'species = "Nile tilapia"\nspecies = "koi carp"', ["TOML"]),
    ("cold above warm", 'coldest_water = "22 degC"', 'coldest_water = "32 degC"', ["warmer"]),
    ("units in miles", 'units = "metric"', 'units = "imperial"', ["imperial", "US"]),
    ("a control half said", 'inlet_depth = "0.10 m"', 'control = { kind = "float", on_depth = "30 cm" }', ["off_depth"]),
    ("a float upside down", 'inlet_depth = "0.10 m"', 'control = { kind = "float", on_depth = "10 cm", off_depth = "20 cm" }', ["higher"]),
    ("a nan", 'diameter = "1.4 m"', "diameter = nan", ["diameter"]),
    ("a share of text", "share = 0.53", "share = true", ["share"]),
    ("fish of no mass", 'body_mass = "400 g"', 'body_mass = "0 g"', ["body_mass: 0 g is below 0.001 g", "350 g"]),
    ("a share out of a hundred", "share = 0.53", "share = 53", ["share", "from 0 to 1"]),
    ("a part over the whole", 'removal = "40 %"', 'removal = "140 %"', ["removal", "100 %"]),
    ("a valve beyond open", "opening = 0.75", "opening = 75", ["opening", "from 0 to 1"]),
    ("a zero bore", 'size = "40 mm"\n', 'bore = "0 mm"\n', ["bore"]),
]


@pytest.mark.parametrize(("old", "new", "says"), [pytest.param(*case[1:], id=case[0]) for case in BAD])
def test_bad_input_is_told_in_one_sentence(old, new, says):
    with pytest.raises(DesignError) as told:
        build = Build(changed(old, new))
        from aquaplumb.review import review

        review(build)
    message = str(told.value)
    for word in says:
        assert word in message, message
    assert "\n" not in message
    assert len(message) < 500


def test_the_line_that_is_named_is_the_line():
    text = changed('lip = "0.91 m"', 'lip = "0.91 L"')
    with pytest.raises(DesignError, match=rf"line {line_number(text, '0.91 L')}:"):
        Build(text)
    text = changed('name = "to bed 2"\nafter = "header"\nsize = "25 mm"', 'name = "to bed 2"\nafter = "header"\nsize = "25.5 mm"')
    with pytest.raises(DesignError, match=rf"line {line_number(text, '25.5 mm')}:"):
        Build(text)


def test_a_record_made_in_python_keeps_the_limits_of_the_file():
    with pytest.raises(DesignError, match="inlet_saturation: 90 is above 2"):
        load("courtyard").water.replace(inlet_saturation=90)
    with pytest.raises(DesignError, match="covered: 80 is above 1.*part of a whole"):
        load("courtyard").heat.replace(covered=80)


def test_warmed_tap_water_may_be_over_full():
    """Oxygen that water keeps, from memory of the standard tables: 14.6 mg/L at 0 °C, 7.6 mg/L at 30 °C."""
    assert load("courtyard").changed({("water", "inlet_saturation"): 14.6 / 7.6}).water.si.inlet_saturation > 1.9


@pytest.mark.parametrize("text", ["", "=", "[[[", "a" * 2_000_000, "\x00", "[" * 5000, "[vessels]", "vessels = 3", "lines = []"])
def test_what_is_not_a_build_is_refused(text):
    with pytest.raises(DesignError) as told:
        Build(text)
    assert "\n" not in str(told.value)


def test_files_that_cannot_be_read(tmp_path):
    with pytest.raises(DesignError, match="there is no file"):
        load(tmp_path / "none.toml")
    with pytest.raises(DesignError, match="is a folder"):
        load(tmp_path)
    big = tmp_path / "big.toml"
    with big.open("wb") as file:
        file.truncate(50_000_000)
    with pytest.raises(DesignError, match="50.0 MB"):
        load(big)
    binary = tmp_path / "picture.toml"
    binary.write_bytes(b"\x89PNG\xff\xfe\x00")
    with pytest.raises(DesignError, match="not plain text"):
        load(binary)
    with pytest.raises(DesignError, match="courtyard"):
        load("courtyrad")


# --- saving


def test_a_save_keeps_comments_and_order_and_changes_only_its_keys(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(COURTYARD, encoding="utf-8")
    load(path).keep({("lines", "riser", "pump"): "demo mains 250 W submersible", ("fish", "density"): "12 kg/m3"})
    before, after = COURTYARD.split("\n"), path.read_text(encoding="utf-8").split("\n")
    different = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert different == [
        ('density = "15 kg/m3"', 'density = "12 kg/m3"'),
        ('pump = "demo mains 120 W submersible"', 'pump = "demo mains 250 W submersible"'),
    ]


def test_a_comment_behind_a_changed_value_stays(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(COURTYARD, encoding="utf-8")
    load(path).keep({("water", "turnovers"): "1.5 /h"})
    assert 'turnovers = "1.5 /h"             # tank volumes each hour' in path.read_text(encoding="utf-8")


@pytest.mark.parametrize("system", SYSTEMS)
def test_an_amount_is_written_in_signs_of_any_keyboard_and_said_as_on_a_page(system):
    """As the demos have theirs: "15 kg/m3", "28 degC", "45 g/m2/d"; it reads back as what it was."""
    for kind in KINDS:
        if unit := kind.unit(system):
            kept = file_text.written(Quantity(48.0, pint_unit(unit)))
            assert kept.isascii() and file_text.as_said(kept) == ("48 an hour" if unit == "1/h" else f"48 {unit}")
            assert quantity(kept, kind).m_as(pint_unit(unit)) == pytest.approx(48)
    assert file_text.as_said("6 mm2 flexible") == "6 mm2 flexible" and file_text.as_said("50 mm") == "50 mm"


def test_two_notebooks_do_not_lose_each_others_change(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(COURTYARD, encoding="utf-8")
    one, two = load(path), load(path)
    one.keep({("fish", "density"): "12 kg/m3"})
    both = two.keep({("lines", "riser", "pump"): "demo mains 250 W submersible"})
    assert both.value("fish", "density") == "12 kg/m3"
    assert both.value("lines", "riser", "pump") == "demo mains 250 W submersible"


def test_the_same_key_changed_meanwhile_is_refused_and_nothing_is_lost(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(COURTYARD, encoding="utf-8")
    one, two = load(path), load(path)
    one.keep({("fish", "density"): "12 kg/m3"})
    on_disk = path.read_bytes()
    with pytest.raises(DesignError, match="changed in my-build.toml meanwhile"):
        two.keep({("fish", "density"): "9 kg/m3"})
    assert path.read_bytes() == on_disk
    assert two.keep({("fish", "density"): "12 kg/m3"}).value("fish", "density") == "12 kg/m3"  # the same wish is no clash


def test_a_change_that_makes_no_sound_build_is_not_saved(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(COURTYARD, encoding="utf-8")
    with pytest.raises(DesignError, match="a volume"):
        load(path).keep({("fish", "density"): "12 L"})
    assert path.read_text(encoding="utf-8") == COURTYARD
    assert os.listdir(tmp_path) == ["my-build.toml"]


def test_a_file_broken_by_hand_meanwhile_is_left_alone(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(COURTYARD, encoding="utf-8")
    build = load(path)
    path.write_text("half a file [", encoding="utf-8")
    with pytest.raises(DesignError, match="TOML"):
        build.keep({("fish", "density"): "12 kg/m3"})
    assert path.read_text(encoding="utf-8") == "half a file ["


def test_a_stretch_is_found_by_its_name_not_its_place(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(COURTYARD, encoding="utf-8")
    kept = load(path).keep({("lines", "riser", "pipe", "to bed 2", "opening"): 0.75})
    assert kept.value("lines", "riser", "pipe", "to bed 2", "opening") == 0.75
    assert kept.value("lines", "riser", "pipe", "to bed 1", "opening") == kept.lines["riser"].si.pipe[3].si.opening
    with pytest.raises(DesignError, match="to bed 9"):
        kept.keep({("lines", "riser", "pipe", "to bed 9", "opening"): 0.5})


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="a superuser may write anywhere; Windows has other rights")
def test_a_folder_that_cannot_be_written(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(COURTYARD, encoding="utf-8")
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        with pytest.raises(DesignError, match="cannot be written"):
            load(path).keep({("fish", "density"): "12 kg/m3"})
    finally:
        tmp_path.chmod(stat.S_IRWXU)
    assert path.read_text(encoding="utf-8") == COURTYARD


def test_a_folder_that_is_not_there():
    with pytest.raises(DesignError, match="cannot be written"):
        Build(COURTYARD, file_text.Path("/no/such/folder/my-build.toml")).keep({("fish", "density"): "12 kg/m3"})


def test_a_failed_replace_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "my-build.toml"
    path.write_text(COURTYARD, encoding="utf-8")
    build = load(path)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(DesignError, match="No space left"):
        build.keep({("fish", "density"): "12 kg/m3"})
    assert path.read_text(encoding="utf-8") == COURTYARD
    assert os.listdir(tmp_path) == ["my-build.toml"]


def test_many_saves_at_once_leave_a_whole_file(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(COURTYARD, encoding="utf-8")
    seen = []

    def work(key, values):
        for value in values:
            try:
                load(path).keep({key: value})
            except DesignError as wrong:  # a clash is told, never a half-written file
                seen.append(str(wrong))

    jobs = [
        threading.Thread(target=work, args=(("fish", "density"), [f"{n} kg/m3" for n in range(5, 15)])),
        threading.Thread(target=work, args=(("water", "turnovers"), [f"{n / 10} /h" for n in range(5, 15)])),
    ]
    for job in jobs:
        job.start()
    for job in jobs:
        job.join()
    build = load(path)
    assert not seen
    assert build.value("fish", "density") == "14 kg/m3"
    assert build.value("water", "turnovers") == "1.4 /h"


def test_my_build_is_a_demo_until_it_is_kept(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    build = my_build()
    assert build.title == load("courtyard").title
    assert not (tmp_path / "my-build.toml").exists()
    build.keep({("title",): "Mine"})
    assert my_build().title == "Mine"
    assert "# A build file" in (tmp_path / "my-build.toml").read_text(encoding="utf-8")


def test_windows_line_ends_and_a_byte_order_mark_are_read(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_bytes(b"\xef\xbb\xbf" + COURTYARD.replace("\n", "\r\n").encode())
    assert load(path).title == load("courtyard").title


# --- sections that may be left out -----------------------------------------------------------------

AIR = {("air", "pump"): "demo mains 35 W air pump", ("air", "stones"): 4}


def test_air_power_heat_and_upkeep_may_be_left_out():
    build = load("one-way-out")
    assert build.air is build.power is build.heat is build.upkeep is None


def test_a_section_is_read_with_its_units_and_its_tables():
    build = load("courtyard").changed({**AIR, ("power", "voltage"): "12 V", ("power", "wire"): "2.5 mm2 flexible", ("power", "wire_length"): "20 ft",
                                       ("power", "latitude"): "-35 deg", ("heat", "coldest_air"): "41 degF", ("upkeep", "alkalinity"): "80 mg/L"})  # fmt: skip
    assert build.air.si.stones == 4
    assert build.power.wire_length.m_as("m") == pytest.approx(6.096)
    assert build.power.latitude.m_as("deg") == pytest.approx(-35)
    assert build.heat.coldest_air.m_as("degC") == pytest.approx(5)
    assert build.upkeep.alkalinity.m_as("mg/L") == pytest.approx(80)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({("air", "pump"): "demo mains 36 W air pump", ("air", "stones"): 4}, "did you mean demo mains 35 W air pump"),
        ({("air", "pump"): "demo mains 35 W air pump"}, "an air pump and its stones go together"),
        ({("power", "voltage"): "12 V", ("power", "capacity"): "0 Ah"}, "capacity: 0 Ah is below 0.1 Ah"),
        ({("power", "voltage"): "12 V", ("power", "panel"): "100 W"}, "how far north or south"),
        ({("power", "voltage"): "12 V", ("power", "wire"): "3 mm2 flexible"}, "did you mean"),
        ({("heat", "covered"): "50 %"}, "coldest_air is missing"),
        ({("upkeep", "start"): "at once"}, 'it has with fish, with ammonia'),
    ],
)  # fmt: skip
def test_a_section_that_cannot_be_is_refused(changes, said):
    with pytest.raises(DesignError, match=re.escape(said)):
        load("one-way-out").changed(changes)


# --- used from code -----------------------------------------------------------------------------------------


def test_a_build_is_made_of_a_dict_as_its_file_would_be_read():
    yard, sections = load("courtyard"), tomllib.loads(COURTYARD)
    made = Build(sections)
    assert (made.title, made.site, made.fish, made.water) == (yard.title, yard.site, yard.fish, yard.water)
    assert made.vessels == yard.vessels and made.lines == yard.lines and list(made.lines) == list(yard.lines)
    assert Build(made.text).lines == yard.lines, "its text is a file"
    sections["fish"] |= {"density": 20 * u.kg / u.m**3, "protein": np.float64(0.3)}
    sections["about"] = None
    assert Build(sections).fish.si.density == 20 and Build(sections).fish.protein == 0.3


@pytest.mark.parametrize(
    ("change", "says"),
    [
        pytest.param({"dnsity": "20 kg/m3"}, "the build: fish › dnsity: the section has no 'dnsity'; did you mean density?", id="a slip"),
        pytest.param({"density": 20 * u.kg}, "the build: fish › density: this is 20 kg, a mass; it needs a mass in a volume", id="a mass"),
        pytest.param({"density": object()}, "the build: fish › density: an object cannot stand in a build", id="an object"),
        pytest.param({5: "a"}, "the build: fish: 5 is no name", id="a number for a name"),
        pytest.param({"species": "Nile talapia"}, "the build: fish › species: the species table has no 'Nile talapia'; did you mean Nile", id="no such fish"),
    ],
)  # fmt: skip
def test_a_dict_is_refused_as_its_file_would_be(change, says):
    sections = tomllib.loads(COURTYARD)
    with pytest.raises(DesignError, match="^" + re.escape(says)):
        Build({**sections, "fish": {**sections["fish"], **change}})


@pytest.mark.parametrize(
    ("given", "says"),
    [
        pytest.param("courtyard", "load('courtyard') reads a file or a demo build", id="a name for a text"),
        pytest.param(None, "a file's text, or of a dict with its sections; this is None", id="nothing"),
        pytest.param({}, "site: is missing", id="an empty dict"),
        pytest.param({"fish": 3}, "site: is missing", id="a number for a section"),
    ],
)
def test_what_makes_no_build(given, says):
    with pytest.raises(DesignError, match=re.escape(says)):
        Build(given)


def test_keys_with_dots_and_quantities():
    yard = load("courtyard")
    assert yard.changed({"fish.density": 25 * u.kg / u.m**3}).fish.si.density == 25
    assert yard.changed({("fish", "density"): "25 kg/m3"}).fish == yard.changed({"fish.density": "25 kg/m3"}).fish
    assert yard.changed({"vessels.fish tank.working_depth": "60 cm"}).vessels["fish tank"].si.working_depth == 0.6
    assert yard.changed({'vessels."fish tank".working_depth': 60 * u.cm}).vessels["fish tank"].si.working_depth == pytest.approx(0.6)
    assert yard.changed({"lines.riser.pipe.riser.length": 2 * u.m}).pumped["riser"].pipe[0].si.length == 2
    assert yard.changed({"fish.protein": 0.4, "heat": None}).fish.protein == 0.4
    assert yard.value("lines.riser.pump") == yard.value("lines", "riser", "pump") == yard.pumped["riser"].pump
    with_other = pint.UnitRegistry()
    assert yard.changed({"fish.density": with_other.Quantity(25, "kg/m**3")}).fish.si.density == 25


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        pytest.param({"fish.species.x": 1}, "'species' in fish › species › x is 'Nile tilapia', and holds nothing more.", id="in a text"),
        pytest.param({"lines.riser.pmp": "a"}, "riser › pmp: the section has no 'pmp'; did you mean pump", id="a slip"),
        pytest.param(
            {"lines.riser.pipe.zz.size": "25 mm"}, "there is no 'zz' to change in lines › riser › pipe › zz", id="no such stretch"
        ),
        pytest.param({"lines.riser.pipe.zz": "25 mm"}, "is a list of stretches; say what of which", id="a stretch as a whole"),
        pytest.param({"fish.density": [1] * u.kg}, "fish › density: a Quantity cannot stand in a build", id="a list of quantities"),
        pytest.param({"": 1}, "'' names nothing in a build", id="no key"),
        pytest.param({5: 1}, '5 names nothing in a build; write what it is of, such as "lines.riser.pump"', id="a number for a key"),
        pytest.param("fish.density", 'changes are given by their keys, such as {"fish.density"', id="text"),
        pytest.param(None, "this is None", id="nothing"),
    ],
)
def test_changes_that_cannot_be(changes, says):
    for way in (load("courtyard").changed, load("courtyard").keep):
        with pytest.raises(DesignError, match=re.escape(says)):
            way(changes)


def test_a_build_is_frozen(tmp_path):
    yard = load("courtyard")
    for change in (lambda: setattr(yard, "title", "x"), lambda: setattr(yard, "fish", None), lambda: delattr(yard, "fish")):
        with pytest.raises(AttributeError, match=r"a build does not change; make another with \.changed"):
            change()
    for held in (yard.vessels, yard.lines, yard.lines["riser"].pipe[0].fittings):
        with pytest.raises(TypeError, match="does not change"):
            held.pop("sump", None)
    assert isinstance(yard.lines["riser"].pipe, tuple)
    for same in (copy.deepcopy(yard), pickle.loads(pickle.dumps(yard))):
        assert same.lines == yard.lines and same.vessels == yard.vessels and same.text == yard.text


def test_salt_in_the_water_is_one_number_for_all_that_breathes():
    """35 g/kg at 20 °C holds 7.396 mg/L for 9.092 fresh: Benson and Krause 1984."""
    fresh = load("courtyard").changed(
        {("site", "warmest_water"): "20 degC", ("site", "coldest_water"): "20 degC", ("site", "altitude"): "0 m"}
    )
    sea = fresh.changed({("water", "salinity"): "35 g/kg", ("fish", "species"): "barramundi"})
    for build, full in ((fresh, 9.092e-3), (sea, 7.396e-3)):
        system = Steady(build)
        assert system.need.saturation == pytest.approx(full, abs=5e-6)
        assert system.air.saturation == system.need.saturation
        assert system.air.budget.si.salinity == build.water.si.salinity


@pytest.mark.parametrize("salinity", ["50 g/kg", "35 mg/L", "-1 g/kg"])
def test_a_salinity_that_cannot_be_is_refused_when_the_build_is_read(salinity):
    with pytest.raises(DesignError, match="salinity"):
        load("courtyard").changed({("water", "salinity"): salinity})

"""Pipe in the ground and in conduits: the file, the fill, each cure done as it is said, parts, sheet and drawings."""

import math
import re

import pytest
from matplotlib.lines import Line2D

from aquaplumb import tables
from aquaplumb.build import load
from aquaplumb.build.laid import filled, laid
from aquaplumb.plumbing import conduits, pipe_sizes
from aquaplumb.plumbing.conduits import ConduitSize, conduit_fill, fill_limit, wide_conduit
from aquaplumb.review import findings
from aquaplumb.system.steady import Steady
from aquaplumb.units import DesignError
from aquaplumb.whatif import pipe_size as pipe_page
from aquaplumb.workshop.as_built import AsBuilt
from aquaplumb.workshop.line_plan import LinePlan
from aquaplumb.workshop.parts import parts_list
from aquaplumb.workshop.sheet import sheet, web_page
from cures import LONG

DUCT, FROST = ("conduits", "garden duct"), ("site", "frost_depth")
HEADER = ("lines", "riser", "pipe", "header")


def build(duct=None, **keys):
    """The courtyard with its header (32 mm pipe) in a duct, or laid otherwise; `keys` are of the header."""
    changes = {FROST: "0 cm"} | {(*HEADER, key): value for key, value in keys.items()}
    if duct is not None:
        changes |= {DUCT: {"size": "63 mm cable duct", "length": "2 m", "buried": "70 cm", **duct}, (*HEADER, "conduit"): "garden duct"}
    return load("courtyard").changed(changes)


def found(made, name):
    return [f for f in findings.found(Steady(made)) if f.name == name]


# --- fill, against print ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bore", "area", "one", "two", "more"),
    [(0.622, 0.304, 0.161, 0.094, 0.122), (1.049, 0.864, 0.458, 0.268, 0.346), (2.067, 3.356, 1.778, 1.04, 1.342)],
    ids=["NEC chapter 9 table 4, EMT 1/2 in", "EMT 1 in", "EMT 2 in"],  # inches; printed at sfasoft.com
)
def test_fill_is_that_of_table_4(bore, area, one, two, more):
    for count, allowed in ((1, one), (2, two), (3, more), (9, more)):
        each = math.sqrt(4 * allowed / math.pi / count)  # as many alike as just fill it
        full = conduit_fill([f"{each} in"] * count, f"{bore} in")
        assert full == pytest.approx(allowed / area, abs=0.003)  # the table is rounded to 0.001 in²
        assert full == pytest.approx(fill_limit(count), abs=0.004)


@pytest.mark.parametrize(("count", "limit"), [(1, 0.53), (2, 0.31), (3, 0.40), (40, 0.40)], ids=lambda v: f"NEC chapter 9 table 1: {v}")
def test_limits_of_fill(count, limit):
    assert fill_limit(count) == limit


@pytest.mark.parametrize("size", ["1/2 in", "3/4 in", "1 in", "1 1/4 in", "1 1/2 in"])
def test_the_conduit_of_one_pipe_is_two_or_three_sizes_wider(size):
    """A trade page on sleeves (hotelsabruzzo.com) asks for 2 to 3 pipe sizes more than the pipe."""
    names = [row.si.name.removesuffix(" PVC conduit") for row in tables.table(ConduitSize).values() if row.si.make == "PVC conduit"]
    wide = wide_conduit(pipe_sizes.pipe_size(size, "Sch 40").outside_diameter, "PVC conduit").removesuffix(" PVC conduit")
    assert names.index(wide) - names.index(size) in (2, 3)


def test_inch_conduit_is_pipe_of_schedule_40():
    """Its outside is that of ASTM D1785, its bore the average of makers' tables: data/pipes.csv has both from other print."""
    known = pipe_sizes.sizes("Sch 40")
    rows = [row.si for row in tables.table(ConduitSize).values() if row.si.make == "PVC conduit"]
    both = [row for row in rows if row.name.removesuffix(" PVC conduit") in known]
    assert len(both) >= 6
    for row in both:
        pipe = pipe_sizes.pipe_size(row.name.removesuffix(" PVC conduit"), "Sch 40").si
        assert row.outside_diameter == pytest.approx(pipe.outside_diameter, abs=5e-5)
        assert row.bore == pytest.approx(pipe.bore_average, abs=5e-4)


def test_tables_are_in_order_and_thinner_inside_than_outside():
    rows = [row.si for row in tables.table(ConduitSize).values()]
    assert all(row.bore < row.outside_diameter for row in rows)
    for make in ("PVC conduit", "cable duct"):
        bores = [row.bore for row in rows if row.make == make]
        assert bores == sorted(bores)  # `wide_conduit` takes the first that will do
    assert {row.si.supply for row in tables.table("cables").values()} == {"mains", "low voltage", "data", "cord"}
    assert all(row.si.name.startswith("mains") == (row.si.supply == "mains") for row in tables.table("cables").values())


def test_nothing_is_wide_enough():
    assert wide_conduit("200 mm", "cable duct") is None


def test_hose_is_wider_than_its_bore():
    assert conduits.pipe_outside("20 mm").m_as("mm") == pytest.approx(25)  # PE 25 x 2.3 mm of SDR 11 is 20.4 mm inside, from memory


# --- the file ----------------------------------------------------------------------------------------


def test_a_file_without_the_keys_has_none():
    for name in ("courtyard", "greenhouse"):
        made = load(name)
        assert made.conduits == {} and laid(made) == () and filled(made) == ()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({(*HEADER, "conduit"): "no such"}, 'there is no [conduits."no such"] section'),
        ({DUCT: {"size": "63 mm cable duct", "length": "2 m"}, (*HEADER, "conduit"): "gardn duct"}, "did you mean garden duct?"),
        (
            {DUCT: {"size": "40 mm cable duct", "length": "2 m"}, (*HEADER, "conduit"): "garden duct"},
            "garden duct is 30 mm wide inside and the pipe 32 mm outside; take a wider conduit.",
        ),
        ({(*HEADER, "buried"): "-60 cm"}, "a length of less than nothing"),
        ({DUCT: {"size": "63 mm cable duct", "length": "2 m", "buried": "-1 cm"}}, "a length of less than nothing"),
        ({FROST: "-1 cm"}, "a length of less than nothing"),
        (
            {DUCT: {"size": "63 mm cable duct", "length": "2 m"}, (*HEADER, "conduit"): "garden duct", (*HEADER, "buried"): "60 cm"},
            "leave buried out here",
        ),
        ({DUCT: {"size": "64 mm duct", "length": "2 m"}}, "the list of conduits has no '64 mm duct'"),
        ({DUCT: {"length": "2 m"}}, "size is missing"),
        ({DUCT: {"bore": "0 mm", "length": "2 m"}}, "bore: 0 mm is below 3 mm"),
        ({DUCT: {"size": "63 mm cable duct"}}, "length is missing"),
        ({DUCT: {"size": "63 mm cable duct", "length": "2 m", "bends": "-90 deg"}}, "bends: is -90 deg"),
        ({DUCT: {"size": "63 mm cable duct", "length": "2 m", "cables": {"mains": 1}}}, "the list of cables has no 'mains'"),
        ({DUCT: {"size": "63 mm cable duct", "length": "2 m", "cables": {"data cable": -1}}}, "a whole number"),
        ({DUCT: {"size": "63 mm cable duct", "length": "2 m", "cables": "data cable"}}, "names and counts"),
        ({(*HEADER, "frost"): "warm"}, "it has drained, insulated, indoors"),
        ({"conduits": "garden duct"}, "write a section [conduits"),
        ({("lines", "tank overflow", "conduit"): "x"}, 'there is no [conduits."x"] section'),
    ],
)
def test_a_wrong_key_is_refused_in_one_sentence(changes, said):
    with pytest.raises(DesignError) as refused:
        load("courtyard").changed(changes)
    assert said in str(refused.value) and "\n" not in str(refused.value)


def test_a_conduit_too_thin_is_said_in_the_builds_units():
    with pytest.raises(DesignError, match=r"1\.18 in wide inside"):
        load("greenhouse").changed({DUCT: {"bore": "30 mm", "length": "2 m"}, ("lines", "tank overflow", "conduit"): "garden duct"})


def test_a_bore_given_is_the_one_that_counts():
    made = build({"bore": "50 mm"})
    assert made.conduits["garden duct"].bore.m_as("mm") == pytest.approx(50)
    assert filled(made)[0].fill == pytest.approx((32 / 50) ** 2)


def test_a_keep_of_a_panel_loses_none_of_the_keys(tmp_path):
    path = tmp_path / "my-build.toml"
    start = build({"boxes": 1, "bends": "5 deg", "cables": {"draw cord": 1}}, frost="indoors", boxes=2)
    path.write_text(start.text, encoding="utf-8")
    panel = pipe_page.panel(load(path))
    panel.set(stretch="header", size="40 mm", length="3 m")
    panel._press_keep()
    assert panel.kept.startswith("✔"), panel.kept
    kept = load(path)
    assert kept.conduits == start.conduits and kept.site == start.site
    [one] = laid(kept)
    assert (one.name, one.pipe.size, one.conduit.name, one.frost, one.boxes) == ("header", "40 mm", "garden duct", "indoors", 3)


def test_a_keep_of_a_pipe_wider_than_its_conduit_is_refused(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(build({}).text, encoding="utf-8")
    panel = pipe_page.panel(load(path))
    panel.set(stretch="header", size="63 mm")
    panel._press_keep()
    assert "take a wider conduit" in panel.kept
    assert path.read_text(encoding="utf-8") == build({}).text


def test_a_pipe_changed_in_memory_stays_where_it_lies():
    made = build(buried="70 cm")
    line = made.pumped["riser"]
    wider = line.with_si(pipe=tuple(p.with_si(bore=0.04) if p.si.name == "header" else p for p in line.si.pipe))
    assert [p.cover for p in laid(made.replaced(lines=[wider]))] == pytest.approx([0.7])


# --- cures, each done as it is said -------------------------------------------------------------------


def test_a_conduit_too_full_is_well_in_the_size_that_is_named():
    [told] = found(build({"size": "50 mm cable duct"}), "conduit too full")
    size = re.search(r"Use a (\d+ mm cable duct)", told.cure)[1]
    assert not found(build({"size": size}), "conduit too full")
    bore = re.search(r"([\d.]+ mm) or more inside", told.cure)[1]
    assert not found(build({"size": "110 mm cable duct", "bore": bore}), "conduit too full")


@pytest.mark.parametrize("cables", [{"mains flex 3 x 2.5 mm2": n} for n in (2, 3, 5)])
def test_a_conduit_of_cables_is_well_with_the_bore_that_is_named(cables):
    thin = load("courtyard").changed({DUCT: {"bore": "20 mm", "length": "2 m", "cables": cables}})
    [told] = found(thin, "conduit too full")
    bore = re.search(r"([\d.]+ mm) or more inside", told.cure)[1]
    assert not found(thin.changed({(*DUCT, "bore"): bore}), "conduit too full")


@pytest.mark.parametrize("name", ["mains beside water", "cables beside water"])
def test_cables_get_a_conduit_of_their_own(name):
    cable = {"mains flex 3 x 1.5 mm2": 1} if name.startswith("mains") else {"low voltage 2 x 2.5 mm2": 1}
    made = build({"size": "90 mm cable duct", "cables": cable})
    [told] = found(made, name)
    assert "a conduit of their own" in told.cure and "your local code" in told.cure
    assert "licensed electrician" in told.cure or name.startswith("cables")
    cured = made.changed({(*DUCT, "cables"): None, ("conduits", "own"): {**duct_of(made), "cables": cable}})
    assert not [f for f in findings.found(Steady(cured)) if f.severity in ("stop", "fix")]


def duct_of(made):
    return {"size": made.conduits["garden duct"].si.size, "length": "2 m", "buried": "70 cm"}


def test_a_mains_cable_is_well_at_the_depth_that_is_named():
    made = load("courtyard").changed({DUCT: {"bore": "40 mm", "length": "2 m", "buried": "10 cm", "cables": {"mains UF-B 12/2": 1}}})
    [told] = found(made, "mains cable shallow")
    depth = re.search(r"Bury it under ([\d.]+ cm)", told.cure)[1]
    assert not found(made.changed({(*DUCT, "buried"): depth}), "mains cable shallow")


@pytest.mark.parametrize("units", ["metric", "US"])
@pytest.mark.parametrize("name", ["buried above the frost", "buried shallow"])
def test_a_pipe_is_well_at_the_depth_that_is_named(name, units):
    made = build(buried="20 cm").changed({FROST: "47 cm" if "frost" in name else "0 cm", ("units",): units})
    [told] = found(made, name)
    depth = re.search(rf"Bury it under ({LONG})", told.cure)[1]
    assert not found(made.changed({(*HEADER, "buried"): depth}), name)


@pytest.mark.parametrize("word", ["drained", "insulated"])
def test_frost_is_met_by_what_the_cure_says(word):
    made = build(buried="20 cm").changed({FROST: "47 cm"})
    [told] = found(made, "buried above the frost")
    assert f'frost = "{word}"' in told.cure
    assert not found(made.changed({(*HEADER, "frost"): word}), "buried above the frost")


def test_frost_depth_is_asked_for_with_a_value_that_serves():
    made = build(buried="1 m").changed({FROST: None})
    [told] = found(made, "frost depth not given")
    for depth in re.findall(r'"([\d.]+ cm)"', told.cure):
        assert not found(made.changed({FROST: depth}), "frost depth not given")


def test_a_valve_in_the_ground_is_parted_off():
    """The first cure: the stretch in two, the valve above ground."""
    spout = ("lines", "riser", "pipe", "to bed 1")
    made = load("courtyard").changed({FROST: "0 cm", (*spout, "buried"): "70 cm"})
    [told] = found(made, "joint out of reach")
    assert "“ball valve”" in told.sentence
    text = made.text.replace(
        'name = "to bed 2"\nafter = "header"', 'name = "rise"\nafter = "to bed 1"\nsize = "25 mm"\nlength = "30 cm"\n'
        'valve = "ball valve"\nopening = 0.75\nto = "bed 1"\noutlet = "1.05 m"\nshare = 0.235\n\n[[lines.riser.pipe]]\nname = "to bed 2"\nafter = "header"',
    )  # fmt: skip
    text = text.replace('name = "to bed 1"\nafter = "header"\nsize = "25 mm"\nlength = "1.0 m"\nfittings = { "tee branch" = 1, "elbow 90" = 1 }\n'
                        'route = ["0.9 m", "elbow 90", "down 0.1 m"]\nvalve = "ball valve"\nopening = 0.75\nto = "bed 1"\noutlet = "1.05 m"\nshare = 0.235\n',
                        'name = "to bed 1"\nafter = "header"\nsize = "25 mm"\nlength = "0.7 m"\nfittings = { "tee branch" = 1, "elbow 90" = 1 }\n')  # fmt: skip
    parted = type(made)(text)
    assert "rise" in [p.si.name for p in parted.pumped["riser"].si.pipe] and laid(parted)
    assert not found(parted, "joint out of reach")
    assert not [f for f in findings.found(Steady(parted)) if f.severity in ("stop", "fix")]


def test_what_moves_or_comes_apart_has_to_be_reached():
    for name, to_reach in (("union", True), ("swing check valve", True), ("strainer", True), ("elbow 90", False), ("coupling", False)):
        assert bool(found(build(buried="70 cm", fittings={name: 1}), "joint out of reach")) == to_reach, name


def test_rigid_pipe_is_well_in_a_straight_conduit_or_as_hose():
    made = build({"bends": "90 deg"})
    assert found(made, "rigid pipe in a bent conduit")
    assert not found(made.changed({(*DUCT, "bends"): "0 deg"}), "rigid pipe in a bent conduit")
    hose = made.changed({(*HEADER, "size"): None, (*HEADER, "bore"): "26 mm"})
    assert not found(hose, "rigid pipe in a bent conduit")


def test_a_falling_line_is_looked_at_too():
    made = load("courtyard").changed({("lines", "tank overflow", "buried"): "20 cm", FROST: "60 cm"})
    assert {f.name for f in findings.found(Steady(made)) if f.where == "tank overflow"} >= {"buried above the frost", "buried shallow"}


def test_a_cable_in_a_conduit_without_water_is_no_alarm():
    made = load("courtyard").changed(
        {DUCT: {"size": "50 mm cable duct", "length": "2 m", "buried": "70 cm", "cables": {"mains pump cord": 1}}}
    )
    assert not [f for f in findings.found(Steady(made)) if f.where == "garden duct"]


# --- what goes to the workshop ------------------------------------------------------------------------


def test_the_parts_of_a_conduit():
    made = build({"size": "2 in PVC conduit", "boxes": 1, "bends": "180 deg"}, size=None, bore="26 mm")
    listed = {p.what: p for p in parts_list(made) if p.group == "Trench and conduit"}
    assert (listed["conduit"].size, listed["conduit"].amount, listed["conduit"].unit) == ("2 in PVC conduit", 2, "m")
    assert "“header”" in listed["conduit"].reason
    assert listed["conduit bend"].amount == 2  # two quarter turns
    assert listed["end seal"].amount == 2 and listed["box with a lid"].amount == 1
    assert listed["warning tape"].amount == 2 and listed["draw cord"].amount == 2
    notes = " ".join(parts_list(made).notes)
    assert "Before you dig" in notes and "811" in notes and "before anything is covered" in notes


def test_pipe_in_the_ground_hangs_on_no_bracket():
    def brackets(made):
        return " ".join(p.reason for p in parts_list(made) if p.what == "bracket")

    assert "“header”" in brackets(build()) and "“header”" not in brackets(build(buried="70 cm"))
    hung = load("courtyard").changed(
        {DUCT: {"size": "2 in PVC conduit", "length": "3 m"}, (*HEADER, "conduit"): "garden duct", FROST: "0 cm"}
    )
    assert "“garden duct”" in brackets(hung) and "“header”" not in brackets(hung)
    [own] = [p for p in parts_list(hung) if p.what == "bracket" and "garden duct" in p.reason]
    assert own.amount == 4  # 3 m, 1.22 m apart by most codes (data/supports.csv): 3 spans
    assert not [p for p in parts_list(hung) if p.what == "warning tape"]  # nothing to dig up
    assert "Before you dig" not in " ".join(parts_list(hung).notes)


def test_parts_of_a_build_above_ground_are_silent_about_digging():
    told = parts_list("courtyard")
    assert not [p for p in told if p.group == "Trench and conduit"] and "dig" not in " ".join(told.notes)


def test_the_drawings_say_and_show_where_pipe_lies():
    made = build({}).changed({("lines", "tank overflow", "buried"): "80 cm"})
    plan, whole = LinePlan(made, "riser"), AsBuilt(made)
    assert "70 cm of cover, in the conduit “garden duct”" in plan.alt()
    assert (
        "header: 70 cm of cover, in the conduit “garden duct”" in whole.alt()
        and "tank overflow" in whole.alt()
        and "buried, 80 cm of cover" in whole.alt()
    )
    assert dashes(plan) == dashes(LinePlan(build(), "riser")) + 1
    assert dashes(whole) > dashes(AsBuilt(build()))


@pytest.mark.sweep(1)
@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "x" * 300, "\u05de\u05d9\u05db\u05dc \u202e12", "two\nlines"])
def test_a_conduits_name_is_text_and_nothing_else(name):
    made = build(conduit=None).changed({
        ("conduits", name): {"size": "63 mm cable duct", "length": "2 m", "buried": "70 cm"}, (*HEADER, "conduit"): name,
    })  # fmt: skip
    plan, whole = LinePlan(made, "riser"), AsBuilt(made)
    for drawing in (plan, whole):
        assert "<script>" not in drawing.svg()
        assert "70 cm of cover" in drawing.alt() and "\n" not in drawing.alt() and "x" * 100 not in drawing.alt()
    page = web_page.html(sheet(made, designs=20))
    assert "<script>alert" not in page and "x" * 100 not in page and "\u202e" not in page


def dashes(drawing):
    """How many lines of a drawing are broken."""
    return sum(line.get_linestyle() == "--" for line in drawing.figure().findobj(Line2D))


def test_the_sheet_has_a_chapter_only_where_there_is_something_to_lay():
    made = sheet(build({"cables": {"draw cord": 1}}), designs=20)
    keys = [c.key for c in made.chapters]
    assert keys.index("laying") == keys.index("cuts") + 1
    [row] = made.grid("conduits").rows
    assert row[4] == pytest.approx(100 * (32**2 + 4**2) / 47**2) and row[5] == 31
    [pipe] = made.grid("laid").rows
    assert "70 cm of cover" in pipe[1]
    steps = next(b for b in made.chapter("laying").blocks if type(b).__name__ == "NumberedSteps").lines
    order = [
        next(i for i, line in enumerate(steps) if word in line)
        for word in ("marked", "Dig", "sand", "before anything is covered", "warning tape")
    ]
    assert order == sorted(order)

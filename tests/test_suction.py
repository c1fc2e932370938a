"""The side of a pump that draws: ANSI/HI 9.8, suction limits in print, pump files that say how a pump stands, and each cure tried."""

import re

import pytest

from aquaplumb import u
from aquaplumb.build import load
from aquaplumb.plumbing import pumps
from aquaplumb.review import findings, review
from aquaplumb.system.steady import Steady
from aquaplumb.units import DesignError
from cures import LONG

LINE = ("lines", "main")
PIPE = (*LINE, "suction", "suction pipe")
OPEN = {(*PIPE, "opening"): 1.0}
FOOT = {**OPEN, (*PIPE, "fittings"): {"foot valve, hinged": 1, "elbow 90": 1, "union": 1}}


def told(name, changes, base="suction-throttled"):
    """Of one finding: those that a build with changes shows."""
    return [f for f in findings.found(Steady(load(base).changed(changes))) if f.name == name]


# --- print ----------------------------------------------------------------------------------------


def test_submergence_by_hand():
    """S = D (1 + 2.3 Fr), Fr = V/√(g D) (ANSI/HI 9.8 as quoted): 0.1 m at 1 m/s has Fr 1/√0.980665 = 1.0098 and S 0.1 · 3.3226 = 0.332 m."""
    flow = 3.14159265 / 4 * 0.1**2
    assert pumps.submergence.si(flow, 0.1) == pytest.approx(0.3323, abs=1e-4)
    assert pumps.submergence.si(0.0, 0.1) == pytest.approx(0.1)  # one bore over a mouth that hardly draws


def test_suction_limit_is_the_print():
    """26 ft at sea level, "approximately 2 feet for each 1000 feet" less (Honda Power Equipment, pump theory); read to half a foot."""
    for altitude, feet in ((0, 26), (1000, 24), (5000, 16)):
        assert pumps.suction_limit(altitude * u.ft).to("ft").magnitude == pytest.approx(feet, abs=0.15)
    for metres in (0, 1000, 3000):  # and never over what the air can push
        air = pumps.suction_head_available(0 * u.m, 0 * u.m, altitude=metres * u.m)
        assert pumps.suction_limit(metres * u.m) < air


# --- cures, tried as they stand ----------------------------------------------------------------------


def height_in(cure):
    """The height that a cure names, as a file has it."""
    return re.search(r"pump at (-?[\d.,]+ \w+)", cure).group(1)


def test_a_pump_above_its_water_is_cured_by_a_foot_valve_or_by_setting_it_lower():
    high = {**OPEN, (*LINE, "pump_height"): "2 ft"}
    [finding] = told("pump not primed", high)
    assert finding.severity == "stop" and "foot valve" in finding.cure
    assert not told("pump not primed", {**high, (*LINE, "pump_height"): height_in(finding.cure)})
    assert {f.severity for f in told("pump not primed", {**high, **FOOT})} == {"note"}


def test_a_suction_lift_beyond_the_pump_is_cured_by_the_height_that_is_named():
    high = {**FOOT, (*LINE, "pump_height"): "27 ft"}
    [finding] = told("suction lift beyond the pump", high)
    assert finding.severity == "stop"
    assert not told("suction lift beyond the pump", {**high, (*LINE, "pump_height"): height_in(finding.cure)})


def test_the_pumps_own_npsh_decides_where_it_asks_for_more_than_print():
    """9.69 m of air less vapour at 900 ft and 79 °F, less 2 m that the pump needs and 0.5 m: 7.19 m, or 23.6 ft, over water at 0.25 ft."""
    strong = {**FOOT, (*LINE, "pump"): "demo mains 180 W external", (*PIPE, "size"): "3 in"}
    [finding] = told("suction lift beyond the pump", {**strong, (*LINE, "pump_height"): "24.1 ft"})
    assert "suction head, and it needs" in finding.sentence
    assert not told("suction lift beyond the pump", {**strong, (*LINE, "pump_height"): "23 ft"})


def test_too_little_water_over_a_mouth_is_cured_in_each_way_that_is_named():
    shallow = {**OPEN, (*LINE, "inlet_depth"): "10 in"}
    [finding] = told("inlet too near the surface", shallow)
    deeper = re.search(rf"sump ({LONG}) deep", finding.cure).group(1)
    lower = re.search(rf"mouth to ({LONG}) over", finding.cure).group(1)
    wider = re.search(r"mouth of ([\d/ ]+ in) Sch 40", finding.cure).group(1)
    for cure in ({("vessels", "sump", "working_depth"): deeper}, {(*LINE, "inlet_depth"): lower}, {(*PIPE, "size"): wider}):
        assert not told("inlet too near the surface", {**shallow, **cure}), cure


def test_a_mouth_over_the_lowest_level_of_a_float_is_what_counts():
    floats = {**OPEN, (*LINE, "control"): {"kind": "float", "on_depth": "15 in", "off_depth": "9 in"}}
    assert told("inlet too near the surface", floats)
    assert not told("inlet too near the surface", {**floats, (*LINE, "inlet_depth"): "2 in"})


def test_a_rounded_mouth_is_wider_than_its_pipe():
    edge = {**OPEN, (*LINE, "inlet_depth"): "9.5 in"}
    assert told("inlet too near the surface", edge)
    assert not told("inlet too near the surface", {**edge, (*PIPE, "fittings"): {"pipe entrance, rounded": 1, "elbow 90": 1, "union": 1}})


def test_a_demo_with_its_pumps_in_the_water_hears_nothing_of_suction():
    for name in ("courtyard", "greenhouse"):
        said = {f.name for f in review(load(name)).findings}
        assert not said & {
            "suction not described",
            "pump not primed",
            "suction lift beyond the pump",
            "inlet too near the surface",
            "inlet depth not given",
        }


# --- heights that cannot be ------------------------------------------------------------------------------


def test_a_pump_higher_than_the_air_can_push_is_refused_in_one_sentence():
    with pytest.raises(
        DesignError,
        match=r"main › pump_height: the pump stands 34 ft 9 in over the water of sump; the air pushes water up 31 ft 9 3/8 in at most",
    ):
        load("suction-throttled").changed({(*LINE, "pump_height"): "35 ft"})  # 9.69 m, see above


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({("lines", "riser", "inlet_depth"): "0.8 m"}, "riser › inlet_depth: sump is 0.75 m high, and the pump needs water 0.8 m deep"),
        ({("lines", "riser", "pipe", "to the tank", "break_hole"): "0.9 m"}, "the hole at 0.9 m is lower than the pipe's end at 1.05 m"),
        (
            {("lines", "bed 1 siphon", "siphon"): {"vent": "0.88 m"}},
            "bed 1 siphon › siphon › vent: its vent at 0.88 m is not below its lip at 0.87 m",
        ),
    ],
)
def test_heights_that_contradict_each_other_are_refused_in_one_sentence(changes, words):
    with pytest.raises(DesignError, match=re.escape(words)):
        load("courtyard").changed(changes)


# --- a person's own pump -------------------------------------------------------------------------------------

POINTS = "flow [L/h],head [m],power [W]\n0,6,66\n1500,4.95,79\n2900,3.2,89.5\n4400,0.75,100\n"
SAYS = "supply,DC\nvoltage,24 V\nlowest voltage,18 V\nplacement,external\nself-priming,yes\nsuction head needed,7 ft\nshortest cycle,5 min\noutlet,1 in\n"


def own_build(tmp_path, says, changes=None):
    """The build on the plank with a pump of somebody's own, whose file says so much above its points."""
    (tmp_path / "mine.csv").write_text(says + POINTS, encoding="utf-8")
    path = tmp_path / "plank.toml"
    text = load("suction-throttled").text.replace('pump = "demo mains 60 W external"', 'pump_file = "mine.csv"')
    path.write_text(text, encoding="utf-8")
    return load(path).changed({**OPEN, **(changes or {})})


def test_a_pump_file_says_how_its_pump_is_driven_and_stands(tmp_path):
    (tmp_path / "mine.csv").write_text(SAYS + POINTS, encoding="utf-8")
    mine = pumps.from_csv(tmp_path / "mine.csv")
    assert (mine.supply, mine.placement, mine.self_priming, mine.outlet) == ("DC", "external", "yes", "1 in")
    assert mine.voltage.to("V").magnitude == 24 and mine.lowest_voltage.to("V").magnitude == 18
    assert mine.suction_head_needed.to("ft").magnitude == pytest.approx(7)
    assert mine.shortest_cycle.to("min").magnitude == pytest.approx(5)
    assert pumps.from_csv(tmp_path / "mine.csv", supply="mains").supply == "mains"  # what is given goes first


def test_an_own_dc_pump_runs_at_the_voltage_of_its_line(tmp_path):
    """Speed as voltage, then the affinity laws: 18 V on 24 V points is three quarters of the flow and 0.5625 of the head."""
    pump = Steady(own_build(tmp_path, SAYS, {(*LINE, "voltage"): "18 V"})).pumped["main"].pump
    assert pump.si.flow[-1] * 3.6e6 == pytest.approx(0.75 * 4400) and pump.si.head[0] == pytest.approx(0.5625 * 6)


def test_a_pump_file_without_voltage_is_refused_with_the_line_to_write(tmp_path):
    with pytest.raises(DesignError, match=r'a line "voltage,12 V"'):
        Steady(own_build(tmp_path, "supply,DC\n", {(*LINE, "voltage"): "18 V"}))
    with pytest.raises(DesignError, match="supply,DC"):
        Steady(own_build(tmp_path, "", {(*LINE, "voltage"): "18 V"}))


def test_a_self_priming_pump_of_ones_own_needs_no_foot_valve(tmp_path):
    up = {(*LINE, "pump_height"): "2 ft"}
    plain = SAYS.replace("self-priming,yes\n", "")
    assert [f.severity for f in findings.found(Steady(own_build(tmp_path, plain, up))) if f.name == "pump not primed"] == ["stop"]
    assert not [f for f in findings.found(Steady(own_build(tmp_path, SAYS, up))) if f.name == "pump not primed"]


def test_a_plain_pump_of_unknown_npsh_sucks_two_to_four_metres(tmp_path):
    """BPMA, suction lift with non self-priming pumps: "generally limited to a maximum of 2 to 4m"."""

    def severities(height):
        build = own_build(tmp_path, "placement,external\n", {**FOOT, (*LINE, "pump_height"): height})
        return [f.severity for f in findings.found(Steady(build)) if f.name == "suction lift beyond the pump"]

    assert severities("1.5 m") == [] and severities("2.5 m") == ["fix"] and severities("4.2 m") == ["stop"]


@pytest.mark.parametrize(
    ("says", "words"),
    [
        ("supply,gas\n", "line 1: supply is 'gas'; write mains or DC"),
        ("supply,DC\nvoltage,12\n", "line 2: "),
        ("voltage,12 V\nvoltage,24 V\n", "line 2: 'voltage' is there twice"),
        ("self-priming,\n", "line 1: after 'self-priming' it needs one value, such as self-priming,yes"),
        ("suction head needed,-1 m\n", "line 1: suction head needed is -1 m"),
        ("colour,blue\n", "first line has no column 'flow'"),
    ],
)
def test_a_pump_file_that_says_it_wrong_is_refused(tmp_path, says, words):
    (tmp_path / "mine.csv").write_text(says + POINTS, encoding="utf-8")
    with pytest.raises(DesignError, match=re.escape(words)):
        pumps.from_csv(tmp_path / "mine.csv")


def test_the_line_that_is_wrong_is_counted_from_the_top_of_the_file(tmp_path):
    (tmp_path / "mine.csv").write_text("supply,DC\n" + POINTS.replace("2900,3.2", "2900,many"), encoding="utf-8")
    with pytest.raises(DesignError, match="line 5"):
        pumps.from_csv(tmp_path / "mine.csv")

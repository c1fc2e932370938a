"""The review against sums done by hand, other libraries and the conservation of water."""

import html
import json
import math

import numpy as np
import pytest

from aquaplumb.build import demos, load
from aquaplumb.build.vessels import water_volume
from aquaplumb.plumbing import fittings, lines, pumps
from aquaplumb.review import Result, review
from aquaplumb.review.compare import comparison
from aquaplumb.system.steady import Steady
from aquaplumb.units import DesignError, rounded, u
from aquaplumb.workshop.sheet import sheet

DAY, HOUR = 86400.0, 3600.0
EVERY = [*demos(), *demos(faulty=True)]
_SEEN = {}


def seen(name, changes=None):
    key = (name, repr(changes))
    if key not in _SEEN:
        _SEEN[key] = review(load(name).changed(changes) if changes else load(name))
    return _SEEN[key]


# --- by hand ------------------------------------------------------------------------------------------

# The courtyard, by pencil: a round tank of 1.4 m with 0.70 m of water; 15 kg/m³ of fish of 400 g that eat 1.2 % a
# day of feed with 32 % protein; two beds of 2.0 × 1.1 m with 0.30 m of clay of 300 m²/m³.
VOLUME = math.pi / 4 * 1.4**2 * 0.70
BIOMASS = 15 * VOLUME
FEED = 0.012 * BIOMASS
AMMONIA = 0.092 * 0.32 * FEED  # Losordo & DeLong (2015), after Timmons & Ebeling: TAN = F · PC · 0.092
OXYGEN = 0.25 * FEED  # Timmons & Ebeling, fish alone, from memory
BY_HAND = {
    "fish.tank volume": (VOLUME, "m³"),
    "fish.biomass": (BIOMASS, "kg"),
    "fish.count": (round(BIOMASS / 0.4), ""),
    "fish.feed": (FEED, "kg/day"),
    "fish.ammonia": (AMMONIA, "kg/day"),
    "fish.oxygen": (OXYGEN, "kg/day"),
    "fish.carbon dioxide": (1.375 * OXYGEN, "kg/day"),  # 44.01 / 32.00, a molecule for a molecule
    "fish.bed oxygen": (4.57 * AMMONIA, "kg/day"),  # 2 O2 for an N: 64.00 / 14.007
    "fish.alkalinity": (7.14 * AMMONIA, "kg/day"),  # two charges for an N: 100.09 / 14.007
    "beds.area": (2 * 2.0 * 1.1, "m²"),
    "beds.area needed": (FEED / 0.045, "m²"),  # the build's own 45 g/m²/d
    "beds.media": (2 * 2.0 * 1.1 * 0.30, "m³"),
    "beds.surface": (300 * 2 * 2.0 * 1.1 * 0.30, "m²"),
    "need.turnover": (VOLUME, "m³/hour"),
    "need.ammonia": (AMMONIA / 24 / (1e-3 * 0.40), "m³/hour"),  # 1 mg/L is 1e-3 kg/m³
    "need.carbon dioxide": (1.375 * OXYGEN / 24 / (15e-3 - 5e-3), "m³/hour"),
    "line riser.lift": (1.05 - (-0.70 + 0.45), "m"),
}  # fmt: skip


@pytest.mark.parametrize("name", BY_HAND)
def test_the_courtyard_by_hand(name):
    value, unit = BY_HAND[name]
    ours = seen("courtyard")[name].quantity
    assert (ours.to(unit).magnitude if unit else float(ours.magnitude)) == pytest.approx(value, rel=2e-3)


def test_oxygen_in_the_courtyards_warmest_water():
    """gsw (Garcia & Gordon) at 28 °C and the standard atmosphere at 120 m; vapour 3.78 kPa (steam tables)."""
    gsw = pytest.importorskip("gsw")
    full = gsw.O2sol_SP_pt(0.0, 28.0) * 31.9988e-3 * 0.99624  # µmol/kg -> mg/L with water of 0.99624 kg/L
    pressure, vapour = 101.325 * (1 - 0.0065 * 120 / 288.15) ** 5.2559, 3.78
    full *= (pressure - vapour) / (101.325 - vapour)
    assert seen("courtyard")["need.saturation"].quantity.to("mg/L").magnitude == pytest.approx(full, rel=3e-3)
    flow = OXYGEN / 24 * 1.4 / ((0.9 * full - 5) * 1e-3)  # the build asks for 5 mg/L out; 0.9 and 1.4 are usual
    assert seen("courtyard")["need.oxygen"].quantity.to("m³/hour").magnitude == pytest.approx(flow, rel=1e-2)


def test_weight_of_the_courtyards_tank():
    """Brimful: π/4 · 1.4² · 0.85 m³ of water and 40 kg, over π/4 · 1.4² m²; g 9.81."""
    load_ = (1000 * 0.85 + 40 / (math.pi / 4 * 1.4**2)) * 9.81
    assert seen("courtyard")["beds.load fish tank"].quantity.to("Pa").magnitude == pytest.approx(load_, rel=2e-3)


def test_head_of_a_single_pipe_by_another_library():
    """One pipe, two elbows, an open end: Darcy–Weisbach with fluids' Colebrook factor; where the pump's points say so."""
    fluids = pytest.importorskip("fluids")
    scipy = pytest.importorskip("scipy.interpolate")
    review_ = seen("float-that-chatters")
    part = review_.build.pumped["barrel loop"].si.pipe[0]
    flow = review_["line barrel loop.flow"].value
    bore, length = part.si.bore, part.si.length
    assert (bore, length) == (pytest.approx(0.0204216), pytest.approx(7 * 0.3048))  # 3/4 in Sch 40, average bore
    v = flow / (math.pi / 4 * bore**2)
    viscosity = 1.03e-6  # m²/s at 66 °F, between the tables' 1.053e-6 at 18 °C and 1.004e-6 at 20 °C; a tenth on it is 3 mm
    f = fluids.friction_factor(Re=v * bore / viscosity, eD=1.5e-6 / bore)
    lift = (54 - (-14 + 11)) * 0.0254
    elbow = 0.7  # data/fittings.csv, typical
    head = lift + (f * length / bore + 2 * elbow + 1) * v**2 / (2 * 9.80665)
    assert review_["line barrel loop.head"].value == pytest.approx(head, abs=0.01)
    points = np.array([[0, 2.8], [400, 2.7], [800, 2.4], [1200, 2], [1700, 1.35], [2100, 0.7], [2500, 0]])  # the demo's CSV
    on_curve = scipy.PchipInterpolator(points[:, 0], points[:, 1])(flow * 3.6e6)
    assert review_["line barrel loop.head"].value == pytest.approx(float(on_curve), abs=0.03)
    assert fittings.fitting("elbow 90").si.k_typical == elbow


def test_cost_of_a_year_by_hand():
    """Watts × 8.76 kWh a year for each watt × the build's price."""
    watts = seen("courtyard")["line riser.power"].value
    assert 88 <= watts <= 120  # the pump's points
    assert seen("courtyard")["line riser.cost"].value == pytest.approx(watts * 8.76 * 0.30, rel=1e-9)


# --- water is not lost ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EVERY)
def test_what_comes_into_a_vessel_leaves_it(name):
    system = seen(name).system
    for vessel, state in system.vessels.items():
        drawn = sum(p.mean for p in system.pumped.values() if p.line.si.source == vessel)
        falls = sum(f.mean for f in system.falling.values() if f.line.si.source == vessel)
        assert state.mean == pytest.approx(drawn + falls, rel=1e-9, abs=1e-15), vessel
        assert state.peak >= state.mean * (1 - 1e-9)


@pytest.mark.parametrize("name", EVERY)
def test_the_outlets_share_the_lines_flow(name):
    results = seen(name).results
    for line in seen(name).build.pumped.values():
        whole = results[f"line {line.name}.flow"].value
        ends = [p.si.name for p in line.si.pipe if p.si.to]
        assert sum(results[f"line {line.name} › {end}.flow"].value for end in ends) == pytest.approx(whole, rel=1e-9)
        assert sum(results[f"line {line.name} › {end}.share"].value for end in ends) == pytest.approx(1, rel=1e-9)
        assert sum(results[f"line {line.name} › {end}.wanted share"].value for end in ends) == pytest.approx(1, abs=2e-3)
        for pipe in line.si.pipe:  # continuity: speed is flow over the bore's area
            flow, speed = (results[f"line {line.name} › {pipe.si.name}.{what}"].value for what in ("flow", "speed"))
            assert speed == pytest.approx(flow / (math.pi / 4 * pipe.si.bore**2), rel=1e-9)
            into = [q.si.name for q in line.si.pipe if q.si.after == pipe.si.name]
            if into:  # a junction passes on what it gets
                assert sum(results[f"line {line.name} › {q}.flow"].value for q in into) == pytest.approx(flow, rel=1e-9)


@pytest.mark.parametrize("name", EVERY)
def test_the_pump_meets_the_system_curve(name):
    """Two ways to the same point: the tree solved with the pump in it, and the crossing of two curves."""
    for line in seen(name).system.pumped.values():
        grid = np.linspace(0, 1.5 * line.flow, 60)
        point = pumps.operating_point(line.pump, lines.system_curve.si(line.tree, grid)).si
        assert line.flow == pytest.approx(float(point.flow), rel=5e-3)
        assert line.head == pytest.approx(float(point.head), rel=5e-3, abs=2e-3)
        assert line.low == pytest.approx(float(point.flow_low), rel=5e-3)
        assert line.high == pytest.approx(float(point.flow_high), rel=5e-3)
        assert line.low <= line.flow <= line.high


# --- when pumps run ---------------------------------------------------------------------------------------


def test_a_float_pump_runs_as_long_as_its_inflow_takes():
    got = seen("greenhouse")
    inflow, flow = got["vessel dosing tank.over an hour"].value, got["line bed loop.flow"].value
    assert Steady(got.build).pumped["bed loop"].duty == pytest.approx(inflow / flow, rel=1e-9)  # of the balance, from the lowest water
    assert inflow == pytest.approx(got["line tank loop.flow"].value, rel=1e-9)  # all of it goes round by the tank


def test_a_float_pumps_share_and_starts_are_those_of_its_round():
    """Hand: from on to off as the pump out of each level takes it, less what comes, and back up with what comes."""
    got = seen("greenhouse")
    line, tank = got.system.pumped["bed loop"], got.build.vessels["dosing tank"]
    c, inflow = line.line.si.control.si, got["vessel dosing tank.over an hour"].value
    depths = np.linspace(c.off_depth, c.on_depth, 41)
    pumped = np.array([lines.flows.si(line.tree.with_si(source=tank.si.floor + z), line.pump).si.flow for z in depths])
    area = np.gradient(np.array([water_volume.si(tank, z) for z in depths]), depths)
    down = np.trapezoid(area / (pumped - inflow), depths)
    up = (water_volume.si(tank, c.on_depth) - water_volume.si(tank, c.off_depth)) / inflow
    assert got["line bed loop.duty"].value == pytest.approx(down / (down + up), rel=0.012)  # the sump swings too: 0.7 % more comes
    assert got["line bed loop.starts"].value == pytest.approx(3600 / (down + up), rel=0.05)  # which are 4 % of what the pump gains on it
    assert got["line bed loop.energy"].value == pytest.approx(
        got["line bed loop.power"].value * got["line bed loop.duty"].value * 8760 * 3600
    )
    assert got["vessel dosing tank.water at its lowest"].value == pytest.approx(c.off_depth, abs=2e-3)
    assert got["vessel dosing tank.at its highest"].value == pytest.approx(c.on_depth, abs=2e-3)
    narrower = got.build.changed({("lines", "bed loop", "control", "on_depth"): "16 in"})
    told = str(comparison(got.build, narrower))
    assert "part of the time that it runs" in told and "starts in an hour" in told
    assert f"{rounded(100 * line.duty)} % of the time, by a float" in str(sheet(got.build, designs=50).chapters)


def test_a_timer_moves_its_part_of_the_hour():
    timer = {("lines", "riser", "control"): {"kind": "timer", "on": "15 min", "off": "45 min"}}
    got, always = seen("courtyard", timer), seen("courtyard")
    assert got["line riser.duty"].value == pytest.approx(15 / 60)
    assert got["line riser.flow"].value == pytest.approx(always["line riser.flow"].value, rel=1e-9)
    for vessel in ("fish tank", "bed 1", "sump"):
        mean, peak = (got[f"vessel {vessel}.{what}"].value for what in ("over an hour", "at most, siphons running"))
        assert mean == pytest.approx(always[f"vessel {vessel}.over an hour"].value / 4, rel=1e-9)
        assert peak == pytest.approx(always[f"vessel {vessel}.at most, siphons running"].value, rel=1e-9)  # drains carry it all the same
    assert got["line riser.wanted"].value == pytest.approx(4 * always["line riser.wanted"].value, rel=1e-9)
    assert got["line riser.cost"].value == pytest.approx(always["line riser.cost"].value / 4, rel=1e-9)


def test_a_float_pump_weaker_than_its_inflow_runs_all_the_time():
    got = seen("greenhouse", {("lines", "bed loop", "pump"): "demo mains 45 W submersible"})
    system = got.system
    line, tank = system.pumped["bed loop"], system.vessels["dosing tank"]
    assert line.flow < tank.mean
    assert line.duty == 1
    over = system.falling["dosing emergency overflow"].mean  # and the rest goes over
    assert over == pytest.approx(tank.mean - line.flow, rel=1e-9)
    assert system.vessels["sump"].mean == pytest.approx(system.pumped["tank loop"].flow, rel=1e-9)


def test_a_float_pump_that_feeds_itself_keeps_running():
    floats = {("lines", "riser", "control"): {"kind": "float", "on_depth": "50 cm", "off_depth": "45 cm"}}
    got, always = seen("courtyard", floats), seen("courtyard")
    assert got.system.pumped["riser"].duty == pytest.approx(1)
    for name in ("vessel fish tank.over an hour", "vessel sump.over an hour", "line riser.wanted"):
        assert got[name].value == pytest.approx(always[name].value, rel=1e-9)


def test_a_float_pump_that_gets_part_of_its_own_water_back():
    """Half of what it pumps comes back: duty · flow = inflow + duty · flow / 2, so duty = 2 · inflow / flow."""
    weak = "demo mains 20 W submersible"
    changes = {("lines", "tank loop", "pump"): weak, **{
        ("lines", f"bed {bed} drain", key): value for bed in (1, 2) for key, value in (("to", "dosing tank"), ("outlet", "25 in"))
    }}  # fmt: skip
    got = seen("greenhouse", changes)
    system = Steady(got.build)
    inflow, line = system.pumped["tank loop"].flow, system.pumped["bed loop"]
    assert 0 < inflow < line.flow / 2
    assert line.duty == pytest.approx(2 * inflow / line.flow, rel=1e-6)
    assert got["line bed loop.duty"].value == pytest.approx(line.duty, rel=0.05)  # its run, in which the pump draws from higher water


# --- what is handed over ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EVERY)
def test_every_result_says_what_it_is_and_where_it_is_from(name):
    got = seen(name)
    for key, result in got.results.items():
        assert isinstance(result, Result)
        assert key == result.name
        assert result.label and result.formula and result.source and result.section
        assert math.isfinite(result.value)
        assert result.quantity.check(u.Unit("") if not result.kind.si else result.kind.quantity(1.0).units)


@pytest.mark.parametrize("name", ["courtyard", "greenhouse", "far-bed-starved"])
def test_the_json_holds_it_all(name):
    got = seen(name)
    told = json.loads(got.as_json())
    assert told["sound"] is got.sound
    assert told["units"] == got.build.units
    assert [r["name"] for r in told["results"]] == list(got.results)
    for r in told["results"]:
        assert set(r) == {"name", "label", "section", "value", "unit", "shown", "formula", "source"}
        assert r["name"] and r["formula"] and r["source"] and r["unit"] is not None
    assert [f["name"] for f in told["findings"]] == [f.name for f in got.findings]
    assert {"severity", "where", "sentence", "cure", "notebook"} <= set(told["findings"][0])


def test_a_flow_that_cannot_be_is_no_number_in_the_json():
    """JSON knows no infinity: oxygen wanted in the tank above what comes in asks for a flow without end."""
    got = seen("courtyard", {("water", "outlet_oxygen"): "7.5 mg/L"})
    told = {r["name"]: r for r in json.loads(got.as_json(), parse_constant=pytest.fail)["results"]}
    assert told["need.oxygen"]["value"] is None
    assert "not possible" in str(got)


def test_the_text_shows_every_number_and_finding():
    for name in EVERY:
        got = seen(name)
        text = str(got)
        for f in got.findings:
            assert f.sentence in text and f.cure in text
        for r in got.results.values():
            assert r.label in text and r.text(got.build.units) in text
        assert text == repr(got)


def test_a_name_that_is_not_there_is_told_with_near_ones():
    with pytest.raises(DesignError, match="no 'nope'"):
        seen("courtyard")["nope"]
    with pytest.raises(DesignError, match=r"did you mean .*fish\.feed"):
        seen("courtyard")["fish.feet"]


def test_the_table():
    table = seen("greenhouse").frame()
    assert list(table.columns) == ["key", "part", "what", "number", "unit", "shown", "formula", "source"]
    assert list(table.key) == list(seen("greenhouse").results)
    assert not table.isna().any(axis=None) and (table.drop(columns="unit") != "").all(axis=None)
    row = table[table.key == "fish.feed"].iloc[0]
    assert row.unit == "oz/d" and row.shown.endswith(" oz/d")
    feed = seen("greenhouse")["fish.feed"].value
    assert row.number == pytest.approx(feed * 86400 / 0.028349523125), "NIST SP 811: an ounce is 28.349523125 g"
    found = seen("gravel-bed-on-a-deck").findings_frame()
    assert list(found.columns) == ["name", "severity", "where", "sentence", "cure", "notebook"]
    assert list(found.name) == [f.name for f in seen("gravel-bed-on-a-deck").findings] and found.severity[0] == "stop"
    assert list(seen("courtyard").findings_frame().severity) == ["note"]


def test_a_notebook_shows_a_table_in_the_colours_of_its_page():
    got = review(load("courtyard").changed({"title": "<b>Mine</b> & yours"}))
    for shown in (got._repr_html_(), got.build._repr_html_()):
        assert "&lt;b&gt;Mine&lt;/b&gt; &amp; yours" in shown and "<b>" not in shown
        assert "color" not in shown and "background" not in shown
        assert shown.count("<table") == shown.count("</table>") > 0
    assert "194 g/d" in got._repr_html_() and "temperature out of range" in got._repr_html_()
    assert "fish tank" in got.build._repr_html_()
    assert got.build.replaced(vessels=[]).fish is got.build.fish


def test_verdict_counts():
    assert seen("courtyard").sound
    assert seen("courtyard").verdict == "1 note"
    got = seen("gravel-bed-on-a-deck")
    assert not got.sound
    assert got.verdict.startswith("1 to stop for")


def test_review_takes_a_name_or_a_build():
    assert str(review("courtyard")) == str(review(load("courtyard")))


def test_a_part_is_a_table_on_the_screen_and_says_so_where_it_has_no_numbers():
    seen = review(load("courtyard", units="US"))
    shown = seen.part("Pumped line")._repr_mimebundle_()
    assert shown["text/plain"].startswith("Pumped line: riser") and shown["text/html"].count("<table>") == 2
    for one in seen.results.values():
        if one.section.startswith("Pumped line"):
            assert one.shown("US") in html.unescape(shown["text/html"])
    none = seen.part("No such part")
    assert "no numbers yet" in none and "<pre" not in none._repr_mimebundle_()["text/html"], "a phone does not wrap it"
    folded = seen.part("Pumped line", under="Its numbers")
    page = folded._repr_mimebundle_()["text/html"]
    assert (
        page.startswith("<details><summary>Its numbers</summary>")
        and shown["text/html"] in page
        and str(folded) == str(seen.part("Pumped line"))
    )

"""How sure: against a plain loop over the steady system, closed forms of chances, scipy, water through time, and any executor."""

import concurrent.futures
import json
import multiprocessing
import pickle
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from aquaplumb.build import demos, load
from aquaplumb.build.vessels import plan_area, water_volume
from aquaplumb.figures.tornado import TornadoPicture
from aquaplumb.fish import circulation
from aquaplumb.plumbing import drains, full_pipe, line_solver, lines, pumps
from aquaplumb.review import findings, review
from aquaplumb.review.designs import SweptBuild, in_band, solved_designs
from aquaplumb.review.numbers import results
from aquaplumb.review.ranges import SIPHON_START, WARMTH, checked, triangular, unknowns
from aquaplumb.review.sweep import BLOCK, EVERYTHING, default_ranges, said, sweep
from aquaplumb.system import each_line
from aquaplumb.system.drills import drills
from aquaplumb.system.failures import POWER
from aquaplumb.system.steady import Steady
from aquaplumb.units import DesignError, u

FACTORS_NOT_IN_A_FILE = ("K of ", "pipe roughness", "overflow capacity", "siphon flow", "flow that starts a siphon", "media surface")
LIFT = {"lift of riser": ("-5 cm", "0 cm", "5 cm")}


@pytest.fixture
def exact(monkeypatch):
    """The tree solved until nothing changes. As it is it stops where the next step would be some 1e-8 of a flow, one by one a step earlier."""
    monkeypatch.setattr(line_solver, "_SETTLED", 1e-7)
    each_line._kept_pumped.cache_clear()  # what was solved less exactly before


# --- a plain loop over the steady system -----------------------------------------------------------


def rebuilt(build, plan, value, folder):
    """The build that a person would write for one design."""
    made, vessels = [], []
    for name, line in build.pumped.items():

        def pipe(p, name=name):
            s, said = p.si, plan.said[name, p.si.name]
            mouth = (
                None
                if not s.to
                else (build.vessels[s.to].rim if s.outlet is None else s.outlet) + value[f"lift of {name}"] + value[f"outlet of {said}"]
            )
            return p.from_si(**{**vars(s), "outlet": mouth, "opening": value.get(f"valve of {said}", s.opening)})

        pump, file = plan.pumps[name].si, folder / f"{name}.csv"
        points = zip(pump.flow * value[f"pump flow of {name}"], pump.head * value[f"pump head of {name}"], pump.power)
        file.write_text(
            "flow [m³/s],head [m],power [W]\n" + "".join(f"{q!r},{h!r},{w!r}\n" for q, h, w in (map(float, p) for p in points)),
            encoding="utf-8",
        )
        new = {
            "suction": tuple(map(pipe, line.si.suction)),
            "pipe": tuple(map(pipe, line.si.pipe)),
            "pump": "",
            "pump_file": file.name,
            "voltage": None,
            "speed": 1.0,
        }
        made.append(line.from_si(**{**vars(line.si), **new}))
    for name, vessel in build.vessels.items():
        v = vessel.si
        depth = v.working_depth + value.get(f"water level in {name}", 0.0)
        void = min(1.0, v.void * value.get("media voids", 1.0)) if v.media_depth is not None else v.void
        vessels.append(vessel.from_si(**{**vars(v), "working_depth": depth, "void": void}))
    warm = value[WARMTH]
    site = build.site.from_si(**{**vars(build.site.si), "coldest_water": warm, "warmest_water": warm})
    eats = {name: value.get(f"feeding rate of {name}", value.get("feeding rate")) for name in build.stocks}
    stocks = {name: stock.with_si(feeding_rate=eats[name]) for name, stock in build.stocks.items()}
    other = build.replaced(lines=made, vessels=vessels, site=site, fish=stocks[build.fish.si.name or "fish"])
    if build.several:
        vars(other)["_stocks"] = stocks
    vars(other)["path"] = folder / "my-build.toml"  # its pump files lie beside it
    return other


@pytest.mark.sweep(2)
@pytest.mark.parametrize(
    "name",
    [
        *demos(),
        "timer-too-short",
        "siphon-that-never-stops",
        "far-bed-starved",
        "nothing-stops-the-second-pump",
        "pump-chosen-at-zero-head",
    ],
)
def test_each_design_is_what_the_steady_system_says_of_it(name, tmp_path, exact):
    """Cross-check: some designs rebuilt as builds, one by one, 1e-9 of each number; in water with some salt."""
    build = load(name).changed({("water", "salinity"): "3 g/kg"})
    ranges = {name: band for name, band in default_ranges(build).items() if not name.startswith(FACTORS_NOT_IN_A_FILE)}
    sure, whole = sweep(build, ranges, 5, seed=3), Steady(build)
    for i in range(sure.n):
        value = {one: float(values[i]) for one, values in sure.unknowns.items()}
        seen = near(whole, rebuilt(build, sure.plan, value, tmp_path))
        told = [one for one in sure.results if one in seen.results and one != "beds.surface needed"]
        assert len(told) >= 8
        for one in told:  # a stretch of a tree scales what it carries in the build
            off = 0.03 if one.startswith("fall") and sure.plan.branches else 1e-9
            assert sure.results[one][i] == pytest.approx(seen.results[one].value, rel=off, abs=1e-12), one
        if value[WARMTH] <= 302.15:
            rate = value["nitrification rate"] * film(value[WARMTH])
            assert sure.results["beds.surface needed"][i] == pytest.approx(seen.system.fish.ammonia / rate, rel=1e-9)


def near(whole, build):
    """The numbers of a design: of its balance, off by what the run of the whole build shows, as on a slider."""
    system = whole.changed(build)
    return SimpleNamespace(system=system, results={one.name: one for one in results(system)})


def film(temperature):
    """Of the rate at 20 °C: below, by Ea = 68 kJ/mol (Vannecke and Volcke 2015); above, 4.275 % a degree (Zhu and Chen 2002), to 29 °C."""
    if temperature < 293.15:
        return np.exp(68e3 / 8.314462618 * (1 / 293.15 - 1 / temperature))
    return 1 + 0.04275 * (temperature - 293.15)


@pytest.mark.parametrize("name", demos())
@pytest.mark.parametrize(("place", "band"), [(-1, "high"), (1, "low")], ids=["all K lowest", "all K highest"])
def test_the_ends_of_the_fittings_band_are_those_of_the_review(name, place, band, exact):
    """Cross-check: `flow low` is what the high tables give, `flow high` the low ones."""
    build = load(name)
    found = sweep(build, {one: (place, place, place) for one in default_ranges(build) if one.startswith("K of ")}, 1, seed=0)
    for line in build.pumped:
        assert found.results[f"line {line}.flow"][0] == pytest.approx(review(build)[f"line {line}.flow {band}"].value, rel=1e-9)


def test_roughness_is_that_of_the_line_solver(exact):
    """Cross-check: the same line given rough pipe, one design at a time."""
    system = Steady(load("courtyard"))
    line = system.pumped["riser"]
    found = sweep("courtyard", {"pipe roughness": ("0.01 mm", "0.03 mm", "0.1 mm")}, 4, seed=1)
    for rough, flow in zip(found.unknowns["pipe roughness"], found.results["line riser.flow"]):
        parts = tuple(p.from_si(**{**vars(p.si), "roughness": float(rough)}) for p in line.tree.si.stretches)
        tree = line.tree.from_si(**{**vars(line.tree.si), "stretches": parts})
        assert flow == pytest.approx(lines.flows.si(tree, line.pump).si.flow, rel=1e-9)


@pytest.mark.sweep(4)
@pytest.mark.parametrize(
    "name", [*demos(), "far-bed-starved", "riser-too-thin", "second-pump-in-the-fish-tank", "upper-sump-with-one-way-out"]
)
def test_a_design_among_others_is_as_it_is_alone(name, exact):
    """Identity: every unknown drawn, dry branches too; the designs are solved side by side and know nothing of each other."""
    sure = sweep(name, None, 300, seed=3)
    for i in range(0, sure.n, 25):
        alone = solved_designs(sure.plan, {one: values[i : i + 1] for one, values in sure.unknowns.items()}, 1)
        for one, values in alone.results.items():
            assert sure.results[one][i] == pytest.approx(values[0], rel=1e-9, abs=1e-12), one
        assert all(sure.holds[one][i] == held[0] for one, held in alone.holds.items())


@pytest.mark.parametrize("place", [-1.0, -0.5, 0.0, 0.5, 1.0])
def test_falling_lines_take_the_same_fittings(place):
    """By hand: the bed's siphon has one elbow 90 (0.57, 0.7, 1.5 in the table), an entrance of 0.5 and an exit of 1."""
    k = {-1.0: 0.57, -0.5: 0.635, 0.0: 0.7, 0.5: 1.1, 1.0: 1.5}[place] + 1.5
    assert in_band(place, 0.57, 0.7, 1.5) == pytest.approx(k - 1.5)
    sure = sweep("courtyard", {"K of bends": (place, place, place), "siphon flow": (0.9, 0.9, 0.9)}, 1, seed=0)
    f, cold = sure.build.lines["bed 1 siphon"].si, sure.build.site.si.coldest_water
    for what, top in (("full", f.lip), ("vent", f.siphon.si.vent)):
        flow = 0.9 * drains.siphon_flow.si(top - f.outlet, f.bore, f.length, k=k, temperature=cold)
        assert sure.results[f"fall bed 1 siphon.carries {'when full' if what == 'full' else 'at its vent'}"][0] == pytest.approx(
            flow, rel=1e-9
        )


def test_pumped_fittings_between_two_bands_are_between_by_the_same_part(exact):
    """By hand: half way to the high K an elbow 90 is 1.1, 0.4 over the typical; the riser has two, the other stretches one, one, one and two."""
    system = Steady(load("courtyard"))
    line = system.pumped["riser"]
    counts = {"riser": 2, "to the tank": 1, "header": 1, "to bed 1": 1, "to bed 2": 2}
    parts = tuple(p.from_si(**{**vars(p.si), "extra_k": 0.4 * counts[p.si.name]}) for p in line.tree.si.stretches)
    by_hand = lines.flows.si(line.tree.from_si(**{**vars(line.tree.si), "stretches": parts}), line.pump).si.flow
    assert sweep("courtyard", {"K of bends": (0.5, 0.5, 0.5)}, 1, seed=0).results["line riser.flow"][0] == pytest.approx(by_hand, rel=1e-9)


def test_a_half_clogged_strainer_costs_four_times_its_own_k(exact):
    """By hand: the table's strainer is 0.7, at most 2.8; half blocked each is four times as much, so 8.4 more on the riser."""
    build = load("courtyard")
    line = build.pumped["riser"]
    dirty = build.replaced(lines=[line.from_si(**{**vars(line.si), "strainer_blocked": 0.5})])
    system = Steady(dirty)
    tree_ = system.pumped["riser"].tree
    parts = tuple(p.from_si(**{**vars(p.si), "extra_k": 8.4 * (p.si.name == "riser")}) for p in tree_.si.stretches)
    by_hand = lines.flows.si(tree_.from_si(**{**vars(tree_.si), "stretches": parts}), system.pumped["riser"].pump).si.flow
    assert sweep(dirty, {"K of strainers": (1, 1, 1)}, 1, seed=0).results["line riser.flow"][0] == pytest.approx(by_hand, rel=1e-9)


def test_a_share_holds_within_a_tenth():
    """Counted by hand; the tenth is that of the finding "bed shares uneven" (common practice, no source)."""
    sure = sweep("drain-no-wider-than-the-riser", None, 1000, seed=1)
    wanted = Steady(sure.build).pumped["main"].outlets
    for outlet in wanted:
        got = sure.results[f"line main › {outlet.name}.share"] / outlet.wanted_share
        assert sure.chance(f"{outlet.to} gets its share") == np.mean((got >= 0.9) & (got <= 1.1))
    assert 0 < sure.chance("right bed gets its share") < 1


def test_a_hole_in_a_sunken_pipe_keeps_the_tank_from_draining_back():
    """Cross-check against `levels`, with a hole 2 cm under the usual level and without: the fault's own cure."""
    build = load("pipe-end-under-water")
    for line in build.pumped.values():
        pipes = [p if p.si.outlet is None or not p.si.to or p.si.outlet >= build.vessels[p.si.to].level
                 else p.from_si(**{**vars(p.si), "break_hole": build.vessels[p.si.to].level - 0.02}) for p in line.si.pipe]  # fmt: skip
        cured = build.replaced(lines=[line.from_si(**{**vars(line.si), "pipe": tuple(pipes)})])
    end = next(v.si.name for v in build.of_kind("sump"))
    ours = [sweep(one, {}, 1, seed=0).results[f"vessel {end}.after a power cut"][0] for one in (build, cured)]
    deepest = max(drill.run.vessel(end).si.highest for drill in drills(cured).of(POWER))
    assert ours[1] < ours[0] - 0.1
    assert deepest - 1e-3 < ours[1] < deepest + 0.01


def test_the_media_take_the_tables_band():
    system = Steady(load("courtyard"))
    for place, band in ((-1, "low"), (0, "typical"), (1, "high")):
        found = sweep("courtyard", {"media surface": (place, place, place)}, 1, seed=0)
        assert found.results["beds.surface"][0] == pytest.approx(system.living.surface[band], rel=1e-12)


def test_an_overflow_carries_in_proportion_until_its_pipe_is_full():
    plain = sweep("courtyard", {}, 1, seed=0).results["fall tank overflow.carries up to the brim"][0]
    for factor in (0.8, 1.1):
        found = sweep("courtyard", {"overflow capacity": (factor, factor, factor)}, 1, seed=0)
        assert found.results["fall tank overflow.carries up to the brim"][0] == pytest.approx(factor * plain, rel=1e-9)


# The courtyard by hand: a round tank of 1.4 m × 0.70 m holds 15 kg/m³ of fish, that eat 1.2 % a day with 32 % of protein; 53 % of
# the riser's flow goes to the tank, 47 % to the beds. A kg of feed takes 0.25 kg of oxygen (Timmons and Ebeling, from memory),
# a molecule of which makes one of carbon dioxide (44.01 for 32.00 g/mol); 0.092 × feed × protein is ammonia as N (the same book).
_TANK = np.pi / 4 * 1.4**2 * 0.70  # m³
_FEED = _TANK * 15 * 0.012 * 1e6 / 24  # mg/h
WANTED = {
    "twice an hour through the tank": ({"turnovers": "2 /h"}, 2000 * _TANK / 0.53, 1e-9),
    # 7.83 mg/L in fresh water of 28 °C at sea level (Benson and Krause 1984, the USGS tables), less 1.4 % of pressure at 120 m
    "oxygen to the tank, 1.4 times at the peak": ({}, 1.4 * 0.25 * _FEED / (0.9 * 7.83 * 0.986 - 5.0) / 0.53, 0.01),
    "carbon dioxide from the tank": (
        {"carbon_dioxide_limit": "6.5 mg/L", "inlet_carbon_dioxide": "5 mg/L"},
        0.25 * _FEED * 44.01 / 32.00 / 1.5 / 0.53,
        1e-3,
    ),
    "ammonia to the beds": ({"ammonia_limit": "0.2 mg/L"}, 0.092 * _FEED * 0.32 / (0.2 * 0.4) / 0.47, 1e-3),
}


@pytest.mark.parametrize(("water", "litres", "off"), WANTED.values(), ids=WANTED)
def test_a_pump_is_sized_for_the_largest_of_what_fish_and_bacteria_ask_for(water, litres, off):
    """By hand: each of the four needs in turn is the largest, in L/h."""
    sure = sweep(load("courtyard").changed({("water", key): value for key, value in water.items()}), {}, 1, seed=0)
    assert sure.results["line riser.wanted"][0] * 3.6e6 == pytest.approx(litres, rel=off)


def test_a_blocked_screen_costs_its_head_before_an_overflow():
    """By hand: the screen is an orifice of seven tenths of its 150 cm², coefficient 0.6, in a row with the mouth."""
    build = load("courtyard")
    dirty = build.changed({("lines", "tank overflow", "screen_blocked"): 0.3})
    flow = sweep(dirty, {}, 1, seed=0).results["fall tank overflow.carries up to the brim"][0]
    fall = build.falling["tank overflow"].si
    before_mouth = (flow / (0.6 * 0.7 * 150e-4)) ** 2 / (2 * 9.80665)
    room = build.vessels["fish tank"].rim - build.vessels["fish tank"].si.freeboard - fall.lip
    assert drains.standpipe_flow.si(room - before_mouth, fall.bore) == pytest.approx(flow, rel=1e-3)
    assert before_mouth > 0.002


def test_a_falling_pipe_that_ends_under_water_loses_the_head_below_it():
    """Identity: an end 15 cm under the sump's water at −0.25 m is as one at its surface, wherever that stands."""

    def full(outlet, higher):
        build = load("courtyard").changed({("lines", "bed 1 siphon", "outlet"): outlet})
        return sweep(build, {"water level in sump": (higher, higher, higher)}, 1, seed=0).results["fall bed 1 siphon.carries when full"][0]

    assert full("-0.40 m", "0 cm") == pytest.approx(full("-0.25 m", "0 cm"), rel=1e-9)
    assert full("-0.40 m", "5 cm") == pytest.approx(full("-0.20 m", "0 cm"), rel=1e-9)
    assert full("-0.20 m", "0 cm") < full("-0.25 m", "0 cm")


# --- limits: nothing uncertain ----------------------------------------------------------------------


@pytest.mark.sweep(20)
@pytest.mark.parametrize("name", [*demos(), *demos(faulty=True)])
def test_with_nothing_uncertain_a_chance_is_0_or_1_and_the_numbers_are_the_reviews(name, exact):
    build = load(name)
    sure, seen = sweep(build, {}, 3, seed=0), review(build)
    assert set(sure.chances.values()) <= {0.0, 1.0}
    for one in sure.results:
        if one in seen.results:
            assert np.ptp(sure.results[one]) == 0
            near = 1e-4 if one.startswith("fall") and " › " in one else 1e-9  # branches share by tables
            assert sure.results[one][0] == pytest.approx(seen.results[one].value, rel=near, abs=1e-12), one
    found = {(f.name, f.where): f for f in findings.found(seen.system)}
    for line in build.pumped:
        short = any(
            where == line and what in ("pump short at real head", "timer too short") and f.severity != "note"
            for (what, where), f in found.items()
        )
        assert (sure.chance(f"{line} brings what is wanted") == 0) == short
    for fall in build.falling:
        if f"{fall} starts" in sure.holds:
            c = seen.system.falling[fall].siphon.si
            assert (sure.chance(f"{fall} stops") == 1) == (c.stops != "no")
            assert {"sure": sure.chance(f"{fall} starts") == 1, "no": sure.chance(f"{fall} starts") == 0}.get(c.starts, True)
    short = ("biofilter short", "beds") in found and found["biofilter short", "beds"].severity != "note"
    assert (sure.chance("the media suffice") == 0) == short
    uneven = any(what == "bed shares uneven" for what, _ in found)
    assert uneven == any(
        sure.chance(one) == 0 for one in sure.holds if "gets its share" in one and seen.system.pumped[_line_of(sure, one)].flow > 0
    )


def _line_of(sure, chance):
    """The line that a chance of a share belongs to."""
    vessel = chance.partition(" gets its share")[0]
    end = chance.partition(" by ")[2]
    return next(line for line in sure.plan.trees for e, to in sure.plan.ends(line) if to == vessel and end in ("", sure.plan.said[line, e]))


def test_a_range_of_no_width_is_as_a_fixed_value():
    fixed = sweep("courtyard", {"lift of riser": ("3 cm", "3 cm", "3 cm")}, 50, seed=4)
    assert np.ptp(fixed.results["line riser.flow"]) == 0
    assert np.all(fixed.unknowns["lift of riser"] == 0.03)
    assert fixed.matters("line riser.flow") == {"lift of riser": 0.0}


# --- chances in closed form --------------------------------------------------------------------------


def triang(low, typical, high):
    return stats.triang((typical - low) / (high - low), low, high - low)


def test_the_chance_that_a_siphon_starts_is_the_chance_that_its_threshold_is_low_enough():
    """Closed form: only the starting Froude number is unknown, so the chance is its distribution at the load's number."""
    sure = sweep("courtyard", {SIPHON_START: (1.5, 2.4, 3.5)}, 20_000, seed=5)
    for bed in ("bed 1 siphon", "bed 2 siphon"):
        number = review("courtyard").system.falling[bed].froude
        # A Latin hypercube counts such a chance to one design in each block.
        assert sure.chance(f"{bed} starts") == pytest.approx(triang(1.5, 2.4, 3.5).cdf(number), abs=1 / BLOCK + 1e-9)
        assert 0.1 < sure.chance(f"{bed} starts") < 0.9


def test_the_chance_that_a_siphon_stops_is_the_chance_that_it_carries_more_than_comes():
    """Closed form: only the siphon's own flow is unknown; it stops where that is more than what comes in."""
    name = next(f.name for f in review("siphon-that-never-stops").system.falling.values() if f.siphon)
    c = review("siphon-that-never-stops").system.falling[name].siphon.si
    limit = c.inflow / c.flow_at_vent
    band = 0.9 * limit, 1.05 * limit, 1.3 * limit
    sure = sweep("siphon-that-never-stops", {"siphon flow": band}, 10_000, seed=4)
    assert sure.chance(f"{name} stops") == pytest.approx(triang(*band).sf(limit), abs=1 / BLOCK + 1e-9)


@pytest.mark.parametrize(("number", "starts"), [(full_pipe.MAY_FILL, "no"), (full_pipe.FULL, "sure")], ids=["Froude 1", "Froude 2"])
@pytest.mark.parametrize("name", ["courtyard", "siphon-that-dribbles", "siphon-that-never-stops"])
def test_at_the_ends_of_the_starting_band_a_siphon_is_as_the_review_says(name, number, starts):
    sure = sweep(name, {SIPHON_START: (number, number, number)}, 1, seed=0)
    for fall in review(name).system.falling.values():
        if fall.siphon:
            word = fall.siphon.si.starts
            assert (sure.chance(f"{fall.name} starts") == 1) == (word == "sure" if starts == "sure" else word != "no")


def test_the_chance_that_the_media_suffice_is_that_of_the_rate():
    """Closed form: only the rate is unknown; enough where surface × rate ≥ ammonia."""
    build = load("courtyard")
    system = Steady(build)
    needed = system.fish.ammonia / system.living.surface["typical"]
    grams = needed * 86400e3 / film(system.cold)  # at 20 °C
    band = 0.5 * grams, 0.9 * grams, 2.0 * grams
    sure = sweep(build, {"nitrification rate": tuple(one * u.g / u.m**2 / u.day for one in band)}, 10_000, seed=6)
    assert sure.chance("the media suffice") == pytest.approx(triang(*band).sf(grams), abs=1 / BLOCK + 1e-9)


def test_the_chance_that_the_sump_holds_is_that_of_its_level():
    """Closed form: only the sump's level is unknown; each centimetre more at the start is one more at the end, up to the rim."""
    build = load("courtyard")
    still = sweep(build, {}, 1, seed=0).results["vessel sump.after a power cut"][0]
    spare = build.vessels["sump"].si.height - still
    band = spare - 0.05, spare, spare + 0.02
    sure = sweep(build, {"water level in sump": tuple(one * u.m for one in band)}, 10_000, seed=6)
    assert sure.chance("sump holds a power cut") == pytest.approx(
        triang(*band).cdf(spare), abs=0.005
    )  # a tenth of a millimetre: heads over lips rise as the lift falls


def test_the_chance_that_a_pump_delivers_is_that_of_its_flow():
    """Closed form: with the wanted flow given, the chance is that of the flow at 95 % of it; the flow rises with the pump's factor."""
    build = load("courtyard")
    line = build.pumped["riser"]
    wanted = 3700 / 3.6e6
    other = build.replaced(lines=[line.from_si(**{**vars(line.si), "wanted": wanted})])
    band = 0.8, 0.95, 1.2
    sure = sweep(other, {"pump flow of riser": band}, 8000, seed=2)
    drawn, flow = sure.unknowns["pump flow of riser"], sure.results["line riser.flow"]
    order = np.argsort(drawn)
    at = np.interp(0.95 * wanted, flow[order], drawn[order])
    assert sure.chance("riser brings what is wanted") == pytest.approx(triang(*band).sf(at), abs=1e-3)


# --- what is drawn --------------------------------------------------------------------------------


@pytest.mark.parametrize("band", [(0.0, 1.0, 3.0), (0.0, 0.0, 1.0), (-2.0, 5.0, 5.0)], ids=str)
def test_the_triangle_is_that_of_scipy(band):
    chance = np.linspace(0, 1, 101)
    np.testing.assert_allclose(triangular(chance, *band), triang(*band).ppf(chance), atol=1e-12)


def test_the_drawn_values_have_the_mean_and_percentiles_of_their_triangle():
    """scipy.stats.triang; ten blocks of a Latin hypercube are off by about a design in 2,048, in the flat ends a little more."""
    sure = sweep(
        "courtyard", {WARMTH: ("20 degC", "22 degC", "28 degC"), "feeding rate": ("1 %/d", "1.2 %/d", "1.6 %/d")}, 10 * BLOCK, seed=8
    )
    for name, band in sure.ranges.items():
        values, true = sure.unknowns[name], triang(*band)
        width = band[2] - band[0]
        assert values.mean() == pytest.approx(true.mean(), abs=1e-4 * width)
        assert values.std() == pytest.approx(true.std(), rel=1e-3)
        np.testing.assert_allclose(np.percentile(values, [5, 25, 50, 75, 95]), true.ppf([0.05, 0.25, 0.5, 0.75, 0.95]), atol=1e-3 * width)
        assert stats.kstest(values, true.cdf).statistic < 2 / BLOCK
    assert abs(stats.spearmanr(*sure.unknowns.values()).statistic) < 3 / np.sqrt(sure.n)  # each by itself


@pytest.mark.parametrize("name", [*demos(), *demos(faulty=True)])
def test_the_usual_ranges_rise_lie_round_the_build_and_name_a_source(name):
    build = load(name)
    ranges = default_ranges(build)
    known = unknowns(build)
    assert list(checked(build, ranges)) == list(known)
    for one, (low, typical, high) in checked(build, ranges).items():
        assert low <= typical <= high
        assert known[one].nominal is None or low - 1e-12 <= known[one].nominal <= high + 1e-12
        assert ranges[one].source
        assert one in str(ranges)


# --- identities -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unknown", "sign"),
    [(f"K of {kind}", -1) for kind in ("bends", "tees", "joints", "check valves", "strainers")]
    + [("pipe roughness", -1), ("lift of riser", -1), ("outlet of the pipe to bed 1", -1), ("pump flow of riser", 1), ("pump head of riser", 1),
       ("valve of the pipe to the tank", 1), ("water level in sump", 1), (WARMTH, 1)],
)  # fmt: skip
def test_more_of_it_means_more_or_less_flow_without_exception(unknown, sign):
    build = load("courtyard")
    ranges = default_ranges(build)
    band = ranges[unknown] if unknown != "pipe roughness" else ("0.01 mm", "0.05 mm", "0.1 mm")  # smoother than 10 µm the pipe is as smooth
    sure = sweep(build, {unknown: band}, 300, seed=1)
    order = np.argsort(sure.unknowns[unknown])
    assert np.all(sign * np.diff(sure.results["line riser.flow"][order]) > -1e-13)
    # Joints: the table's typical and high K are one value for most, so half of the ranks are shared.
    assert sign * sure.matters("line riser.flow")[unknown] > (0.9 if unknown == "K of joints" else 1 - 1e-6)
    assert len(sure.swings("line riser.flow").rows) == 1


@pytest.mark.parametrize("name", demos())
def test_shares_add_up_and_what_falls_is_what_was_pumped(name):
    """Conservation: the shares of a line make one; what comes to the beds leaves them."""
    build = load(name)
    sure = sweep(build, None, 200, seed=2)
    for line in build.pumped:
        parts = [one for one in sure.results if one.startswith(f"line {line} › ")]
        np.testing.assert_allclose(sum(sure.results[one] for one in parts if one.endswith(".share")), 1.0, rtol=1e-12)
        np.testing.assert_allclose(
            sum(sure.results[one] for one in parts if one.endswith(".flow")), sure.results[f"line {line}.flow"], rtol=1e-12
        )


def test_a_pump_of_other_units_is_the_same_pump(exact):
    """Identity: half of the flow through half of the head, and so on, are affinity laws; at speed n flow goes as n, head as n²."""
    build = load("courtyard")
    system = Steady(build)
    tree, pump = system.pumped["riser"].tree, system.pumped["riser"].pump
    n = 0.9
    slow = lines.flows.si(tree, pumps.at_speed.si(pump, n)).si.flow
    same = sweep(build, {"pump flow of riser": (n, n, n), "pump head of riser": (n**2, n**2, n**2)}, 1, seed=0)
    assert same.results["line riser.flow"][0] == pytest.approx(slow, rel=1e-9)


def test_rank_correlations_are_those_of_scipy():
    sure = sweep("courtyard", None, 500, seed=9)
    for name in ("line riser.flow", "beds.surface needed", "line riser.wanted"):  # the last has many equal values
        for one, found in sure.matters(name).items():
            assert found == pytest.approx(stats.spearmanr(sure.unknowns[one], sure.results[name]).statistic, abs=1e-12)
    strengths = [abs(v) for v in sure.matters("line riser.flow").values()]
    assert strengths == sorted(strengths, reverse=True)
    assert next(iter(sure.matters("bed 1 siphon starts"))) == SIPHON_START


def test_swings_are_the_reviews_of_builds_with_one_thing_changed(exact):
    """Cross-check: nothing else is off, so each end of a bar is a build of its own."""
    build = load("courtyard")
    sure = sweep(build, {"feeding rate": ("1 %/d", "1.2 %/d", "1.5 %/d"), **LIFT}, 100, seed=1)
    bars = sure.swings("line riser.wanted")
    assert [row.name for row in bars.rows] == ["feeding rate"]
    low, high = (
        review(build.replaced(fish=build.fish.replace(feeding_rate=rate)))["line riser.wanted"].value for rate in ("1 %/d", "1.5 %/d")
    )
    assert (bars.rows[0].at_low, bars.rows[0].at_high) == pytest.approx((low, high), rel=1e-9)
    assert bars.middle == pytest.approx(review(build)["line riser.wanted"].value, rel=1e-9)


def test_each_stock_has_an_appetite_of_its_own():
    """By hand: catfish that eat half as much again make half as much more ammonia; the bluegill's stays (definition of the ammonia of a feed)."""
    build = load("kitchen-garden")
    assert [name for name in unknowns(build) if name.startswith("feeding")] == [f"feeding rate of {name}" for name in build.stocks]
    makes = {one.name: one.ammonia for tank in Steady(build).tanks.values() for one in tank.stocks}
    rate = build.stocks["catfish"].si.feeding_rate * 86400 * 100
    plain, more = (
        sweep(build, {"feeding rate of catfish": (f"{part * rate} %/d",) * 3}, 1, seed=0).results["beds.surface needed"][0]
        for part in (1.0, 1.5)
    )
    assert more / plain == pytest.approx(1 + 0.5 * makes["catfish"] / sum(makes.values()), rel=1e-6)
    with pytest.raises(DesignError, match="feeding rate of bluegill"):
        sweep(build, {"feeding rate": ("1 %/d", "1.2 %/d", "1.6 %/d")}, 1, seed=0)


# --- a power cut --------------------------------------------------------------------------------------


AFTER_A_CUT = [*demos(), "sump-with-nothing-to-spare", "pipe-end-under-water", "siphon-that-never-stops", "upper-sump-with-one-way-out"]


@pytest.mark.parametrize("name", [*AFTER_A_CUT, "siphon-that-dribbles"])
def test_the_lowest_vessel_after_a_power_cut_is_as_deep_as_water_through_time_says(name):
    """Cross-check against `levels`, whose drills cut the power at six moments of the beds' round; ours is the worst moment.

    So ours is never under by more than the millimetre that has not run off in eight hours; over it by no more than the
    stroke of a float switch, whose moment the drills may miss, or where a siphon never gets going (it is reckoned to).
    """
    build = load(name)
    sure = sweep(build, {}, 1, seed=0)
    ends = [one.removesuffix(" holds a power cut") for one in sure.holds if one.endswith(" holds a power cut")]
    assert set(ends) == set(build.vessels) - {fall.si.source for fall in build.falling.values()}
    stroke = 0.0
    for line in build.pumped.values():
        c, source = line.si.control.si, build.vessels[line.si.source]
        if c.kind == "float":
            stroke += water_volume.si(source, c.on_depth) - water_volume.si(source, c.off_depth)
    for end in ends:
        stories = [drill.run.vessel(end).si for drill in drills(build).of(POWER)]
        worst, spills = max(story.highest for story in stories), any(story.spilled > 1e-3 for story in stories)
        ours = sure.results[f"vessel {end}.after a power cut"][0]
        assert ours > worst - 1e-3
        assert (sure.chance(f"{end} holds a power cut") == 0) == spills
        if not spills and name not in ("siphon-that-dribbles", "barrel-yard"):  # their siphons have let go, or not, at the cuts tried
            assert ours < worst + 1e-3 + stroke / plan_area.si(build.vessels[end])


def test_what_comes_down_goes_by_the_voids_and_the_heads_over_lips():
    """By hand: two beds of 2.2 m² fall 0.20 m in media of 0.45 voids, into a sump of 1.8 m²; the tank (1.4 m round) stands over its lip."""

    def sump(unknown, factor):
        found = sweep("courtyard", {unknown: (factor, factor, factor)}, 1, seed=0)
        return found.results["vessel sump.after a power cut"][0], found

    plain, found = sump("media voids", 1.0)
    assert plain - sump("media voids", 0.9)[0] == pytest.approx(2 * 2.2 * 0.20 * 0.45 * 0.1 / 1.8, rel=1e-9)
    load, bore = found.results["fall tank overflow.has to carry"][0], found.build.lines["tank overflow"].si.bore
    heads = [drains.standpipe_depth.si(load / factor, bore) for factor in (0.5, 1.0)]
    assert sump("overflow capacity", 0.5)[0] - plain == pytest.approx(np.pi / 4 * 1.4**2 * (heads[0] - heads[1]) / 1.8, rel=1e-9)


# --- executors, seeds, stopping ------------------------------------------------------------------------


def same(one, other):
    assert one.n == other.n
    assert one.results.keys() == other.results.keys()
    assert all(np.array_equal(one.results[name], other.results[name]) for name in one.results)
    assert all(np.array_equal(one.holds[name], other.holds[name]) for name in one.holds)
    assert one.chances == other.chances


@pytest.fixture(scope="module")
def here():
    return sweep("courtyard", None, 2 * BLOCK + 100, seed=7)


def test_the_same_seed_gives_the_same_answer_and_another_seed_another(here):
    same(here, sweep("courtyard", None, 2 * BLOCK + 100, seed=7))
    other = sweep("courtyard", None, 2 * BLOCK + 100, seed=8)
    assert not np.array_equal(here.results["line riser.flow"], other.results["line riser.flow"])
    longer = sweep("courtyard", None, 3 * BLOCK, seed=7)  # whole blocks are kept as they are
    assert np.array_equal(here.results["line riser.flow"][: 2 * BLOCK], longer.results["line riser.flow"][: 2 * BLOCK])


def test_the_order_in_which_ranges_are_given_does_not_matter():
    ranges = dict(default_ranges(load("courtyard")))
    same(sweep("courtyard", ranges, 100, seed=1), sweep("courtyard", dict(reversed(ranges.items())), 100, seed=1))


def test_threads_give_the_same_answer(here):
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        same(here, sweep("courtyard", None, here.n, seed=7, executor=pool))


def test_processes_started_afresh_give_the_same_answer(here):
    told = []
    with concurrent.futures.ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        same(here, sweep("courtyard", None, here.n, seed=7, executor=pool, progress=lambda done, total: told.append((done, total))))
    assert sorted(told) == told
    assert told[-1] == (here.n, here.n)
    assert len(told) == 3


@pytest.mark.weekly
@pytest.mark.parametrize("processes", [False, True], ids=["in this process", "in others"])
def test_a_dask_cluster_gives_the_same_answer(here, processes):
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=2, processes=processes, dashboard_address=None, silence_logs="ERROR"
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        same(here, sweep("courtyard", None, here.n, seed=7, executor=client.get_executor()))


def test_a_plan_travels_with_its_own_pump_file(tmp_path):
    (tmp_path / "mine.csv").write_text("flow [L/h],head [m],power [W]\n0,4,70\n2000,3,85\n4000,2,95\n6000,0,100\n", encoding="utf-8")
    path = tmp_path / "my-build.toml"
    path.write_text(load("courtyard").text.replace('pump = "demo mains 120 W submersible"', 'pump_file = "mine.csv"'), encoding="utf-8")
    plan = SweptBuild(load(path))
    (tmp_path / "mine.csv").unlink()
    assert pickle.loads(pickle.dumps(plan)).pumps["riser"].si.flow[-1] == pytest.approx(6 / 3600)


def test_a_stop_keeps_what_is_done():
    told = []
    sure = sweep("courtyard", LIFT, 10 * BLOCK, seed=1, progress=lambda done, total: told.append(done), stop=lambda: len(told) == 2)
    assert (sure.n, sure.asked, sure.whole) == (2 * BLOCK, 10 * BLOCK, False)
    assert f"{2 * BLOCK:,} of {10 * BLOCK:,} designs" in str(sure)
    whole = sweep("courtyard", LIFT, 2 * BLOCK, seed=1)
    assert whole.whole
    same(sure, whole)


@pytest.mark.parametrize("pool", [None, concurrent.futures.ThreadPoolExecutor], ids=["here", "threads"])
def test_an_interrupt_keeps_what_is_done(pool):
    def interrupt(done, total):
        if done >= 2 * BLOCK:
            raise KeyboardInterrupt

    executor = pool(1) if pool else None
    sure = sweep("courtyard", LIFT, 40 * BLOCK, seed=1, progress=interrupt, executor=executor)
    assert 2 * BLOCK <= sure.n < 40 * BLOCK
    assert len(sure.results["line riser.flow"]) == sure.n
    if executor:
        executor.shutdown()


# --- doors -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ranges", "words"),
    [
        ({"lift of raiser": ("0 cm", "0 cm", "0 cm")}, "lift of riser"),
        ({"lift of riser": (-0.05, 0.0, 0.05)}, "no unit"),
        ({"lift of riser": ("5 cm", "0 cm", "-5 cm")}, "rising order"),
        ({"lift of riser": ("-5 cm", "5 cm")}, "three values"),
        ({"lift of riser": "5 cm"}, "three values"),
        ({"lift of riser": ("1 L", "2 L", "3 L")}, "a volume"),
        ({"lift of riser": ("1 cm", None, "3 cm")}, "not one value"),
        ({"K of bends": (-2, 0, 1)}, "-1 to 1"),
        ({"K of bends": (0.0, float("nan"), 1.0)}, "not a finite number"),
        ({"pump flow of riser": (0, 1, 2)}, "20 % to 500 %"),
        ({WARMTH: ("-1 degC", "20 degC", "25 degC")}, "0 °C to 40 °C"),
        ({"valve of the pipe to bed 1": (0.5, 0.9, 1.2)}, "0 to 1"),
        ({"valve of the pipe to bed 2": (0.5, 0.9, 1.0)}, "no 'valve of the pipe to bed 2'"),
        ({"water level in sump": ("0 cm", "10 cm", "1 m")}, "water level in sump"),
        (["lift of riser"], "ranges is a list; it needs names with a value each"),
    ],
    ids=lambda value: str(value)[:40],
)
def test_ranges_that_cannot_be_are_refused_in_plain_words(ranges, words):
    with pytest.raises(DesignError, match=words):
        sweep("courtyard", ranges, 10, seed=1)


@pytest.mark.parametrize("n", [0, -5, 2.5, "many", None, True, 10**9])
def test_a_number_of_designs_that_cannot_be_is_refused(n):
    with pytest.raises(DesignError, match="number of designs|n is .*; it needs a whole number"):
        sweep("courtyard", LIFT, n, seed=1)


@pytest.mark.parametrize("seed", [-1, 0.5, "a", None])
def test_a_seed_that_cannot_be_is_refused(seed):
    with pytest.raises(DesignError, match="seed"):
        sweep("courtyard", LIFT, 10, seed=seed)


def test_an_executor_that_is_none_is_refused():
    with pytest.raises(DesignError, match="who does the work"):
        sweep("courtyard", LIFT, 10, seed=1, executor=4)


def test_names_that_are_not_there_are_refused(here):
    for ask in (here.chance, here.percentiles, here.matters, here.swings):
        with pytest.raises(DesignError, match="did you mean|has"):
            ask("line riser.flwo")
    with pytest.raises(DesignError, match="no margin"):
        here.matters(EVERYTHING)
    with pytest.raises(DesignError, match="percentiles go from"):
        here.percentiles("line riser.flow", at=(5, 101))


def test_one_design_is_enough_to_ask_everything_of():
    sure = sweep("greenhouse", None, 1, seed=1)
    assert sure.n == 1
    assert set(sure.chances.values()) <= {0.0, 1.0}
    assert "yes" in str(sure)
    assert len(sure.frame()) == len(sure.results)


# --- how it reads -----------------------------------------------------------------------------------


def test_the_answer_reads_at_a_glance(here):
    text = str(here)
    assert "Courtyard, one pump" in text
    assert f"{here.n:,} designs" in text
    for name in here.holds:
        assert (name in text) == (not name.endswith(" starts and stops"))  # that it starts, and that it stops, are lines of their own
    assert "hangs most on: pump flow of riser" in text
    assert not any(odd in text for odd in ("nan", "inf", "e-0", "None"))
    assert here.percentiles("line riser.flow")[50].to("L/h").magnitude == pytest.approx(np.median(here.results["line riser.flow"]) * 3.6e6)
    assert isinstance(here.percentiles("line riser.cost")[50], float)
    frame = here.frame()
    assert list(frame.index) == list(here.results)
    assert frame.loc["line riser.flow", "50 %"] == pytest.approx(np.median(here.results["line riser.flow"]) * 3.6e6)
    assert frame.loc["line riser › to bed 1.share", "unit"] == "%"
    assert len(here.designs()) == here.n
    assert set(here.unknowns) | set(here.results) | set(here.holds) == set(here.designs().columns)
    assert json.dumps(here.chances)


def test_a_chance_promises_no_more_than_it_shows():
    assert [said(chance, 1000) for chance in (0.0, 0.004, 0.35, 0.996, 1.0)] == ["none", "under 1 %", "35 %", "over 99 %", "all"]


def test_no_flow_is_enough_is_said_and_counted():
    """Warm water with less oxygen than the tank is to keep: the wanted flow has no end, and the pump never brings it."""
    build = load("courtyard")
    thirsty = build.replaced(water=build.water.replace(outlet_oxygen="9 mg/L"))
    with pytest.raises(DesignError, match="no flow"):
        circulation.oxygen_flow("1 g/d", inlet="7 mg/L", outlet="9 mg/L")
    sure = sweep(thirsty, None, 50, seed=1)
    assert sure.chance("riser brings what is wanted") == 0
    assert "no flow is enough" in str(sure)
    assert len(sure.frame()) == len(sure.results)


# --- the picture -------------------------------------------------------------------------------------


@pytest.mark.sweep(2)
@pytest.mark.parametrize("system", ["metric", "US"])
@pytest.mark.parametrize("name", demos())
def test_no_words_of_the_picture_overlap_and_none_is_cut_off(name, system):
    sure = sweep(name, None, 400, seed=1)
    for result in {one.rpartition(".")[2]: one for one in sure.results}.values():  # one of each sort
        record = sure.swings(result)
        picture = TornadoPicture(record, system=system)
        picture.png()
        drawn = picture.figure.canvas.get_renderer()
        boxes = [word.get_window_extent(drawn) for word in (*picture.names, *picture.values)]
        for place, one in enumerate(boxes):
            assert one.x0 >= 0, (result, picture.names)
            assert one.x1 <= picture.width
            assert not any(
                one.x0 < other.x1 - 1 and other.x0 < one.x1 - 1 and one.y0 + 2 < other.y1 - 2 and other.y0 + 2 < one.y1 - 2
                for other in boxes[:place]
            ), result
        title = picture._title.get_window_extent(drawn)
        assert title.y0 > max(box.y1 for box in boxes) - 3
        words = picture.alt(record)
        for row in picture.shown(record):
            assert row.name in words


def test_the_picture_draws_nothing_it_does_not_know(here):
    picture = TornadoPicture(here.swings("line riser.flow"))
    again = TornadoPicture(here.swings("line riser.cost"))
    assert picture.png() != again.png()
    assert "riser" in repr(picture)
    assert "L/h" in repr(picture)
    assert picture.names[0].get_text() == next(iter(here.matters("line riser.flow")))
    quiet = TornadoPicture(sweep("courtyard", {}, 10, seed=1).swings("line riser.flow"))
    quiet.png()
    assert "no unknown moves it" in repr(quiet)


def test_factors_may_be_given_in_hundredths():
    one, other = (sweep("courtyard", {"pump flow of riser": band}, 50, seed=1) for band in ((0.9, 1.0, 1.1), ("90 %", "100 %", "110 %")))
    np.testing.assert_allclose(one.results["line riser.flow"], other.results["line riser.flow"], rtol=1e-12)

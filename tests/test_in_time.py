"""What a run shows decides what a review says: starts of pumps, lowest water, peaks of drains, each beside the run or a hand calculation.

All builds are invented for the tests.
"""

import re

import numpy as np
import pytest

from aquaplumb.build import load
from aquaplumb.review import findings, review
from aquaplumb.review.sweep import sweep
from aquaplumb.system import settling
from aquaplumb.system.drills import drills
from aquaplumb.system.failures import NOTHING
from aquaplumb.system.levels import simulate
from aquaplumb.system.steady import Steady
from aquaplumb.units import rounded
from aquaplumb.whatif import pipe_size, pump, water_flow
from aquaplumb.whatif.base import short
from aquaplumb.workshop.sheet import sheet
from levels_builds import fall, made, pumped, vessel
from test_network import any_build, siphon_bed
from test_repeats import CHECK, bucket


def test_a_float_pump_without_a_check_valve_starts_as_its_run_does():
    """What its riser holds runs back into the bucket at each stop: 2 L, more than the float's band, which the closed form leaves out."""
    build = bucket(check=False)
    found = review(build).finding("float chatters")
    said = int(re.search(r"starts its pump (\d+) times an hour", found.sentence).group(1))
    run = simulate(build, "3 h", quick=True)
    assert said == pytest.approx(run.starts("p", after=3600) / 2, rel=0.02)
    closed = findings.found(Steady(build))  # on a slider
    apart = int(re.search(r"pump (\d+) times", next(f for f in closed if f.name == "float chatters").sentence).group(1))
    assert apart > 3 * said
    assert "runs back" in found.sentence and found.cure.startswith("Fit a check valve")


def roomy(gap, *, check=True):
    """The same with a pit of 0.8 m² in place of the bucket, so that its float has all the room it wants."""
    control = {"kind": "float", "on_depth": f"{0.08 + gap!r} m", "off_depth": "0.08 m"}
    return made(
        vessel("tank", area=2.0, floor=1.0, height=0.8), vessel("sump", "sump", area=2.0, floor=0.2, height=0.8),
        vessel("pit", "sump", area=0.8, height=0.6, depth=0.1, floor=-0.5),
        pumped("riser", "sump", {"tank": 1.65}, pump="demo mains 45 W submersible", inlet_depth=0.1, fittings=CHECK),
        pumped("p", "pit", {"sump": 1.3}, control=control, inlet_depth=0.05, fittings=CHECK if check else None),
        fall("over", "tank", "pit", lip=1.6, outlet=0.0, bore=0.06, vented=True),
    )  # fmt: skip


@pytest.mark.parametrize("check", [True, False])
def test_the_cure_of_a_float_that_chatters_clears_it(check):
    found = review(roomy(0.02, check=check)).finding("float chatters")
    apart = (
        float(re.search(r"set them ([\d.]+) (cm|m|mm) apart", found.cure).group(1))
        * {"m": 1, "cm": 0.01, "mm": 1e-3}[re.search(r"set them [\d.]+ (\w+) apart", found.cure).group(1)]
    )
    assert "float chatters" not in [f.name for f in review(roomy(apart)).findings]


def test_a_working_depth_under_the_inlet_is_no_alarm_where_the_lip_holds_the_water_higher():
    """The file says 5 cm, the pump needs 10; the lip of the tank stands at 50 cm, and more comes in than the pump takes out."""
    build = made(
        vessel("tank", area=1.0, height=0.8, depth=0.05), vessel("sump", "sump", area=1.5, floor=-0.9, depth=0.5),
        vessel("bed", "bed", area=1.0, height=0.4, floor=1.0, depth=0.2),
        pumped("riser", "sump", {"tank": 0.6}, inlet_depth=0.1),
        pumped("up", "tank", {"bed": 1.4}, pump="demo mains 45 W submersible", inlet_depth=0.1),
        fall("over", "tank", "sump", lip=0.5, outlet=-0.2, bore=0.08, vented=True),
        fall("bed drain", "bed", "tank", lip=1.2, outlet=0.85, bore=0.06, vented=True),
    )  # fmt: skip
    assert "pump draws air" in [f.name for f in findings.found(Steady(build))]
    assert "pump draws air" not in [f.name for f in review(build).findings]
    assert simulate(build, "2 h").vessel("tank").si.last > 0.4


@pytest.mark.parametrize("name", ["courtyard", "greenhouse"])
def test_what_a_demos_run_shows_is_what_its_balance_says(name):
    """Within the accuracy of both they agree, and then the balance's numbers stay."""
    system = Steady(load(name))
    seen = system.in_time
    assert seen.shown is system.running
    for line, one in seen.falling.items():
        assert one.load == pytest.approx(system.falling[line].load, rel=0.3)
        assert one.peak >= 0.95 * system.falling[line].peak


@pytest.mark.sweep(4)
@pytest.mark.parametrize("seed", range(12))
def test_no_drain_and_no_level_is_reckoned_with_less_than_its_run_shows(seed):
    build = any_build(seed)
    seen, run = Steady(build).in_time, drills(build).of(NOTHING)[0].run
    late = run.time >= 3600
    if any(line.si.control.si.kind != "always" for line in build.pumped.values()):
        for name, one in seen.falling.items():
            assert one.peak >= 0.95 * run.flow[late, run.flows.index(name)].max() - 2e-6, name
        for i, name in enumerate(run.vessels):
            highest = min(seen.vessels[name].highest - seen.vessels[name].vessel.si.floor, seen.vessels[name].vessel.si.height)
            assert highest >= run.depth[late, i].max() - 6e-3, name


def test_siphons_that_start_early_are_in_the_peaks():
    """A bed's siphon that may start empties its bed into the sump: the peak of what comes there is the siphon's, not the pump's."""
    build = siphon_bed(0.03)
    system = Steady(build)
    run = drills(build).every[0].run
    most = max(d.run.flow[d.run.time >= 3600, run.flows.index("bed siphon")].max() for d in drills(build).every[:2])
    assert system.in_time.vessels["sump"].peak >= 0.95 * most > 1.05 * system.pumped["riser"].flow


def test_a_dry_pumps_lift_is_from_the_lowest_water_of_its_run():
    """Three siphon beds take their water out of the sump: it falls below its working depth, and the pump sucks so much higher."""
    beds = [f"bed {i}" for i in range(3)]
    parts = [vessel(b, "bed", area=1.0, height=0.4, floor=0.6, depth=0.05) for b in beds]
    parts += [fall(f"{b} siphon", b, "sump", lip=0.85, outlet=-0.2, bore=0.025, length=1.2, vent=0.65) for b in beds]
    parts += [
        vessel("tank", area=1.5, height=0.9, floor=0.3, depth=0.4), vessel("sump", "sump", area=2.5, height=0.9, floor=-0.9, depth=0.6),
        pumped("riser", "sump", {b: 1.1 for b in beds}, pump="demo mains 180 W external", inlet_depth=0.05, pump_height="0.5 m", suction=None),
    ]  # fmt: skip
    system = Steady(made(*parts)).in_time
    lowest = system.shown.pumps["riser"].lowest
    run = drills(system.build).of(NOTHING)[0].run
    assert lowest == pytest.approx(run.depth[run.time >= 3600, run.vessels.index("sump")].min(), abs=1e-3)
    assert lowest < 0.6 - 0.1
    from aquaplumb.review.findings.suction import _lift

    assert _lift(system, system.pumped["riser"]) == pytest.approx(0.5 - (-0.9 + lowest))


def test_a_build_whose_levels_are_not_found_is_told(monkeypatch):
    """Two rounds are too few to find them; with all the rounds there is nothing to tell."""
    build = any_build(3)
    assert "water does not settle" not in [f.name for f in findings.found(Steady(build))]
    monkeypatch.setattr(settling, "_ROUNDS", 2)
    found = next(f for f in findings.found(Steady(build)) if f.name == "water does not settle")
    assert found.severity == "note" and found.where in build.vessels and "levels through time" in found.cure


def test_a_tank_that_is_drained_from_below_its_floor_settles():
    """It stood emptier than dry, and never filled again: what comes into it leaves by the open pipe, 29 cm under its floor."""
    build = made(
        vessel("tank", area=1.1, height=0.9, floor=0.93, depth=0.05), vessel("pit", "sump", area=0.33, height=0.9, floor=0.52, depth=0.05),
        vessel("bed", "bed", area=1.07, height=0.56, floor=0.66, depth=0.1),
        pumped("p", "pit", {"bed": 1.3}, bore=0.03), fall("f1", "tank", "bed", lip=1.15, outlet=0.94, bore=0.02),
        fall("f2", "pit", "tank", lip=0.69, outlet=0.64, bore=0.075),
    )  # fmt: skip
    system = Steady(build)
    assert np.abs(system.means.usual.left).max() < 1e-9


def test_what_a_siphon_lets_into_a_tee_is_no_more_than_it_carries():
    """Two like branches share the full siphon; the blink in which its tee fills is no peak."""
    seen = Steady(load("barrel-yard")).in_time
    most = seen.falling["bell › stem"].siphon.si.flow_at_full
    for branch in ("bell › to left barrels", "bell › to right barrels"):
        assert seen.falling[branch].load == pytest.approx(most / 2, rel=0.05)


# --- one number, wherever it is told ------------------------------------------------------------------


def timed(build, line, on, off):
    return build.changed({("lines", line, "control"): {"kind": "timer", "on": on, "off": off}})


SWITCHED = {
    "greenhouse, by a float": lambda: load("greenhouse"),
    "greenhouse, by a timer and a float": lambda: timed(load("greenhouse"), "tank loop", "45 min", "15 min"),
    "courtyard, by a timer into siphons": lambda: timed(load("courtyard"), "riser", "30 min", "30 min"),
    "two floats of a faulty build": lambda: load("upper-sump-with-one-way-out"),
    "a chattering bucket": bucket,
    "a roomy pit": lambda: roomy(0.1),
    **{f"at random, {seed}": lambda seed=seed: any_build(seed) for seed in (3, 8)},
}


@pytest.mark.sweep(1)
@pytest.mark.parametrize("made_of", SWITCHED.values(), ids=SWITCHED)
def test_share_cost_and_load_are_one_number_wherever_they_are_told(made_of):
    """The review's, on the sheet, in a sweep with nothing drawn, and on pages 03, 04 and 08 as they open."""
    build = made_of()
    seen, drawn = review(build), sweep(build, {}, 1, seed=0).results
    printed = str(sheet(build))
    for name, line in seen.system.pumped.items():
        kind = line.line.si.control.si.kind
        if kind != "always":
            assert f"{rounded(100 * line.duty)} % of the time, by a {kind}" in printed
        assert (f"line {name}.cost" in drawn) == (line.cost is not None)
        if line.cost is not None:
            assert drawn[f"line {name}.cost"][0] == pytest.approx(line.cost, rel=1e-6)
            assert pump.choice(build, name).cost == pytest.approx(line.cost, rel=1e-6)
            assert pump.ranking(build, name).loc[short(line.pump.si.name), "cost a year"] == rounded(line.cost)
        shown = {one.name: one.duty for one in water_flow.needs(build, name).si.lines}
        assert shown[name] == pytest.approx(line.duty, rel=1e-6)
    for name, one in seen.system.falling.items():
        assert drawn[f"fall {name}.has to carry"][0] == pytest.approx(one.load, rel=1e-4, abs=1e-9), name
    told = [(f.name, f.where, f.sentence) for f in findings.found(seen.system)]
    for page in (pipe_size.SizeWhatIf.as_built(build), *(pump.choice(build, name) for name in build.pumped)):
        assert [(f.name, f.where, f.sentence) for f in page.si.findings] == told


@pytest.mark.parametrize("change", [{"speed": 1.05}, {"pump": "demo mains 120 W submersible"}, {"pump": "demo mains 250 W submersible"}])
@pytest.mark.parametrize(("name", "line"), [("greenhouse", "bed loop"), ("upper-sump-with-one-way-out", "bed line")])
def test_a_moved_slider_is_within_a_hundredth_of_its_own_run(name, line, change):
    """Cross-check: the run of the changed build, which is too dear for a move. What a drain has to carry is not below it."""
    build = load(name)
    other = build.replaced(lines=[build.pumped[line].with_si(**{"voltage": None, **change})])
    moved, run = Steady(build).changed(other), Steady(other).in_time
    assert moved.pumped[line].duty == pytest.approx(run.pumped[line].duty, abs=0.01)
    for drain in run.falling:
        assert moved.falling[drain].load >= 0.98 * run.falling[drain].load


def test_a_weak_pump_runs_all_the_time_on_a_slider_too():
    """The float of the bed loop asks for 86 % of the time; a pump of a third of the flow is never done."""
    build = load("greenhouse")
    panel = pump.panel(build, "bed loop")
    panel.set(pump="demo mains 20 W submersible")
    record = panel.record.si
    assert record.cost == pytest.approx(record.power / 1000 * 8760 * build.site.si.power_price, rel=1e-6)


def test_the_end_of_the_watch_is_no_time_of_a_dry_pump():
    """A blocked outlet never opens by itself: the 3 h 57 min that it once drew air were those for which the run was watched."""
    told = review(load("sump-with-nothing-to-spare")).finding("pump runs dry").sentence
    assert told.endswith("draws air until somebody stops it.") and "3 min later" in told

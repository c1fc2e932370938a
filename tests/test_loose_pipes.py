"""A pipe comes off its pump, a vessel leaks, a valve is left shut: by heights, by the run through time, on the sheet."""

import numpy as np
import pytest

from aquaplumb import load
from aquaplumb.system import failures, implicit, levels
from aquaplumb.system.loose_pipes import loose_pipes, spare_water
from aquaplumb.system.steady import Steady
from aquaplumb.units import TIME
from aquaplumb.workshop.sheet import more_trials

BACK = "pipe-end-under-water"


def only(build):
    (one,) = loose_pipes(Steady(build))
    return one


def test_a_pump_in_the_fish_tank_empties_it_to_its_inlet_or_its_switch():
    balcony = load("balcony")
    one = only(balcony)
    inlet = balcony.pumped["riser"].si.inlet_depth
    assert one.source == one.tank and one.left == pytest.approx(inlet) and "its inlet draws air" in one.why
    assert one.share == pytest.approx(inlet / one.usual, rel=0.01)  # identity: upright walls
    switch = only(balcony.changed({("lines", "riser", "control"): {"kind": "always", "cut_out_depth": "45 cm"}}))
    assert switch.left == pytest.approx(0.45) and "low-level switch" in switch.why


def test_a_tank_that_the_pump_does_not_stand_in_falls_to_its_lip():
    one = only(load("courtyard"))
    assert one.left == pytest.approx(0.85 - 0.15)  # lip over floor, as the file has them
    assert one.minutes == pytest.approx(1000 * one.lost / (Steady(load("courtyard")).pumped["riser"].pump.si.flow[-1] * 60000))


def test_the_hole_for_air_decides_how_far_a_tank_runs_back():
    """By heights of the file: without a hole down to the pipe's end, with one down to the hole; a check valve holds all of it."""
    build = load(BACK)
    tank, end = build.vessels["round tank"].si, next(p.si for p in build.pumped["riser"].si.pipe if p.si.to == "round tank")
    bare = only(build)
    assert bare.left == pytest.approx(max(0.0, end.outlet - tank.floor)) and "runs back" in bare.why
    hole = tank.floor + 0.5
    holed = only(build.changed({("lines", "riser", "pipe", end.name, "break_hole"): f"{hole} m"}))
    assert holed.left == pytest.approx(0.5) and "hole for air" in holed.why
    first = build.pumped["riser"].si.pipe[0].si
    checked = only(build.changed({("lines", "riser", "pipe", first.name, "fittings"): {**first.fittings, "swing check valve": 1}}))
    assert checked.left > holed.left and "runs back" not in checked.why


@pytest.fixture(scope="module")
def run():
    build = load("courtyard")
    stories = [failures.failure(build, failures.LOOSE, "riser"), failures.failure(build, failures.LEAK, "bed 1")]
    found = levels.runs(build, [TIME.quantity(2 * 3600.0)] * 2, [one.events(1800.0) for one in stories])
    assert (
        stories[0].words == "the pipe of riser comes off its pump"
        and stories[1].words == "water leaks out of bed 1, as through a cracked fitting"
    )
    return found


def test_the_run_through_time_agrees_with_the_heights(run):
    """Cross-check: the same by hours of water through time; no water is lost in the book."""
    loose, one = run[0], only(load("courtyard"))
    at = {name: loose.depth[-1, i] for i, name in enumerate(loose.vessels)}
    assert at["sump"] == pytest.approx(load("courtyard").pumped["riser"].si.inlet_depth, abs=0.01)
    assert at["fish tank"] == pytest.approx(one.left, abs=0.01)
    assert abs(loose.balance) < 1e-6
    ends = [i for i, name in enumerate(loose.flows) if name.startswith("riser › ")]
    assert np.all(loose.flow[loose.time > 1801][:, ends] == 0)
    gone = loose.volume[0].sum() - loose.volume[-1].sum()
    assert gone > one.lost  # what falls back from tank and beds goes, too


@pytest.mark.parametrize("dense", [implicit.DENSE, 0], ids=["solved whole", "solved in parts"])
def test_a_loose_pipe_throws_out_what_its_pump_gives_freely(monkeypatch, dense):
    """Cross-check: the last point of the pump's curve, for as long as there is water over its inlet; then steps are long again."""
    monkeypatch.setattr(implicit, "DENSE", dense)
    build = load("courtyard")
    (loose,) = levels.runs(build, [TIME.quantity(6 * 3600.0)], [failures.failure(build, failures.LOOSE, "riser").events(1800.0)])
    free = float(Steady(build).pumped["riser"].pump.si.flow[-1])
    early = np.interp([1810.0, 1870.0], loose.time, loose.evaporated)
    assert np.diff(early)[0] == pytest.approx(60 * free, rel=1e-3)
    drawn = loose.volume[0].sum() + loose.pipes[0] - loose.volume[-1].sum() - loose.pipes[-1]
    assert drawn == pytest.approx(loose.evaporated[-1] - loose.evaporated[0], abs=1e-6)
    assert np.diff(loose.time[loose.time > 5 * 3600]).max() > 60


def test_a_leak_takes_its_litres_from_where_the_pump_draws(run):
    leak, build = run[1], load("courtyard")
    gone = leak.volume[0].sum() - leak.volume[-1].sum()
    assert gone == pytest.approx(failures.LEAKS * 5400, rel=0.1)  # an hour and a half at 60 L/h; pipes fill meanwhile
    tank, sump = (leak.vessels.index(name) for name in ("fish tank", "sump"))
    assert leak.depth[-1, tank] == pytest.approx(leak.depth[0, tank], abs=0.01) and leak.depth[-1, sump] < leak.depth[0, sump] - 0.02
    assert spare_water(Steady(build), "riser") == pytest.approx(1.5 * 1.2 * (Steady(build).running_depth("sump") - 0.10))


def test_every_build_can_fail_so():
    kinds = failures.what_can_fail(load("kitchen-garden"))
    assert kinds[failures.LOOSE] == ["riser"] and set(kinds[failures.LEAK]) == {"bed 1", "bed 2", "bed 3", "bed 4"}
    assert failures.VALVE in kinds


def test_the_sheet_has_the_three_drills():
    system = Steady(load("courtyard"))
    (_, loose), (_, leak), (_, shut) = (part(system) for part in (more_trials.loose, more_trials.leak, more_trials.left_shut))
    assert loose.rows[0][:2] == ("riser", "sump") and "it falls to its lip" in loose.rows[0][7]
    assert leak.rows[0][3] == pytest.approx(spare_water(system, "riser") / failures.LEAKS / 3600)
    by_valve = {row[0]: row for row in shut.rows}
    assert by_valve["to bed 1"][1] == "bed 1" and by_valve["to bed 1"][3] < by_valve["to bed 1"][2]
    dry = Steady(load("courtyard").changed({("lines", "riser", "pipe", "to bed 1", "opening"): 0.0})).pumped["riser"].flow
    assert by_valve["to bed 1"][3] == pytest.approx(dry * 3.6e6, rel=1e-3)  # cross-check: the build with that valve at 0
    alone = more_trials.left_shut(
        Steady(
            load("balcony").changed(
                {("lines", "riser", "pipe", p.si.name, "valve"): None for p in load("balcony").pumped["riser"].si.pipe if p.si.valve}
            )
        )
    )
    assert "no valve to leave shut" in alone[0].text

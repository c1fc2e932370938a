"""The balance of many designs at once: each design of a batch beside the same build solved alone, whatever its ways out are.

All builds are invented for the tests.
"""

import numpy as np
import pytest

from aquaplumb.plumbing import drains
from aquaplumb.review.designs import SweptBuild, solved_designs
from aquaplumb.review.ranges import OVERFLOWS, WARMTH, checked, default_ranges, latin_hypercube
from aquaplumb.review.sweep import sweep
from aquaplumb.system.settling import Solver
from aquaplumb.system.steady import Steady
from levels_builds import fall, made, pumped, vessel
from test_network import any_build, ring

LPH = 1 / 3.6e6


@pytest.mark.sweep(6)
@pytest.mark.parametrize("seed", range(24))
def test_with_nothing_drawn_any_builds_loads_are_those_of_the_build(seed):
    """Two to four vessels in a ring, several ways out of each, joints, timers: the batch is the build itself, to its tolerance of 1e-10."""
    build = any_build(seed)
    told, system = solved_designs(SweptBuild(build), {}, 3), Steady(build)
    for name, one in system.falling.items():
        assert told.results[f"fall {name}.has to carry"] == pytest.approx(one.load, rel=1e-8, abs=1e-12), name


@pytest.mark.sweep(4)
@pytest.mark.parametrize("seed", range(0, 24, 2))
def test_a_design_of_any_build_is_that_build_with_its_pump_and_water(seed, tmp_path):
    """Other pumped flows, levels and warmth, several ways out: within 1 % of the flow of the build that a person would write for it.

    What is not exact is the full pipe's friction in other water, away from the head at which the build runs.
    """
    from test_sweep import rebuilt

    build = any_build(seed)
    ranges = {
        n: b
        for n, b in default_ranges(build).items()
        if n == WARMTH or n.startswith(("pump flow", "pump head", "water level", "lift", "outlet", "valve"))
    }
    sure = sweep(build, ranges, 3, seed=seed)
    for i in range(sure.n):
        value = {**sure.plan.nominal, **{one: float(values[i]) for one, values in sure.unknowns.items()}}
        alone = Steady(rebuilt(build, sure.plan, value, tmp_path))
        whole = max(line.flow for line in alone.pumped.values())
        for name, one in alone.falling.items():
            assert sure.results[f"fall {name}.has to carry"][i] == pytest.approx(one.load, abs=0.01 * whole), name


def test_overflows_share_by_their_lips_in_every_design():
    """Three overflows, one lip 20 mm lower: hand, each weir times the design's factor, at the level at which they carry what comes."""
    from scipy.optimize import brentq

    lips = {"low": 0.77, "left": 0.80, "right": 0.80}
    build = ring(*(fall(name, "tank", "sump", lip=lip, outlet=-0.2, bore=0.05, length=1.5, vented=True) for name, lip in lips.items()))
    comes = Steady(build).pumped["riser"].flow
    factors = np.array([0.6, 0.8, 1.0])
    told = solved_designs(SweptBuild(build), {OVERFLOWS: factors}, 3)
    for i, factor in enumerate(factors.tolist()):
        level = brentq(lambda h: factor * sum(drains.standpipe_flow.si(h - lip, 0.05) for lip in lips.values()) - comes, 0.7, 0.95)  # noqa: B023
        for name, lip in lips.items():
            by_hand = factor * drains.standpipe_flow.si(level - lip, 0.05)
            assert told.results[f"fall {name}.has to carry"][i] == pytest.approx(by_hand, rel=0.01, abs=2 * LPH), name


def test_water_is_conserved_in_every_design():
    """Identity: of a thousand designs of builds with floats, joints and siphons each settles, and what comes to a vessel leaves it."""
    for build in (any_build(5), two_floats()):
        plan = SweptBuild(build)
        values = latin_hypercube(checked(build, default_ranges(build)), 1000, np.random.default_rng(4))
        seen = []
        original = Solver.settled

        def kept(self, *args, **more):
            seen.append(original(self, *args, **more))  # noqa: B023
            return seen[-1]  # noqa: B023

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(Solver, "settled", kept)
            solved_designs(plan, values, 1000)
        assert len(seen) >= 2
        for one in seen:
            assert np.abs(one.left).max() <= 1e-9 * one.comes.max()


def two_floats():
    """A tank runs over into a pit, which a float's pump lifts to a bed with a siphon; another float's pump lifts from the sump."""

    def between(low, high):
        return {"kind": "float", "on_depth": f"{high} m", "off_depth": f"{low} m"}

    return made(
        vessel("tank", area=1.5, height=0.9, floor=0.3, depth=0.5), vessel("pit", "sump", area=0.5, height=0.8, floor=-0.9, depth=0.3),
        vessel("bed", "bed", area=1.0, height=0.4, floor=0.7, depth=0.2), vessel("sump", "sump", area=1.5, height=0.9, floor=-1.0, depth=0.5),
        pumped("riser", "sump", {"tank": 1.4}, pump="demo mains 45 W submersible", control=between(0.15, 0.5), inlet_depth=0.1),
        pumped("up", "pit", {"bed": 1.3}, control=between(0.15, 0.5), inlet_depth=0.1),
        fall("over", "tank", "pit", lip=0.9, outlet=0.0, bore=0.06, vented=True),
        fall("bed siphon", "bed", "sump", lip=0.95, outlet=-0.1, bore=0.025, length=1.2, vent=0.75),
        fall("bed guard", "bed", "sump", lip=1.0, outlet=-0.1, bore=0.06, emergency=True, vented=True),
    )  # fmt: skip

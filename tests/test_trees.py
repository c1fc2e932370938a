"""Falling lines with branches: what goes through each stretch, beside a solution of its own and a hand calculation; and what is said of them.

All builds are invented for the tests. The outside value: each tee's head by bracketing (`scipy.optimize.brentq`), with Darcy and
Weisbach's loss written out here and `fluids`' friction factor, and the balance of volumes by `scipy.integrate.solve_ivp`.
"""

import math

import fluids
import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from aquaplumb import water
from aquaplumb.build import Build, load
from aquaplumb.plumbing import drains
from aquaplumb.plumbing.fittings import losses, valve_k
from aquaplumb.review import review
from aquaplumb.review.findings.base import shop
from aquaplumb.system.levels import Event, simulate
from aquaplumb.system.steady import Steady
from aquaplumb.units import DesignError
from aquaplumb.workshop.parts import parts_list
from levels_builds import fall, made, pumped, tree, vessel
from test_network import balances

LPH, G, ROUGH = 1 / 3.6e6, 9.80665, 1.5e-6


# --- a solution of its own ---------------------------------------------------------------------------


def full(leg, head, first, viscosity, *, ends, k_screen=0.0):
    """The flow [m³/s] of a full stretch on a difference of heads: Darcy–Weisbach, entrance 0.5 for the first, exit 1 at an end."""
    if head <= 0:
        return 0.0
    area = math.pi / 4 * leg.bore**2
    k = losses(leg.fittings).si.k + (valve_k.si(leg.valve, leg.opening) if leg.valve else 0.0) + 0.5 * first + 1.0 * ends + k_screen
    v = 1.0
    for _ in range(200):
        f = fluids.friction_factor(Re=max(v * leg.bore / viscosity, 1e-9), eD=ROUGH / leg.bore)
        new = math.sqrt(2 * G * head / (k + f * leg.length / leg.bore))
        if abs(new - v) < 1e-12:
            break
        v = 0.5 * (v + new)
    return v * area


def tee(over, bore):
    """Into a branch no faster than water falls from the height that stands over its start, and by its wet part."""
    return math.pi / 4 * bore**2 * math.sqrt(2 * G * max(over, 0.0)) * min(max(over, 0.0) / bore, 1.0)


class ByHand:
    """The flow of each stretch of a tree at given levels, tee by tee."""

    def __init__(self, line, levels, viscosity):
        self.t, self.levels, self.viscosity = line.si, levels, viscosity
        self.legs = {leg.si.name: leg.si for leg in self.t.pipe}
        self.first = next(name for name, leg in self.legs.items() if not leg.after)

    def goes(self, name, head, starts):
        """(what stretch `name` takes from `head`, by stretch): its tee's head is where as much comes as leaves."""
        leg, first = self.legs[name], name == self.first
        starts = max(starts, leg.crown) if leg.crown is not None else starts
        low = max(leg.outlet, leg.crown) if leg.crown is not None else leg.outlet
        if first:
            over, area, k = head - starts, math.pi / 4 * leg.bore**2, 0.0
            mouth = drains.standpipe_flow.si(max(0.0, over), leg.bore)
            if self.t.screen_open_area:
                holes = 0.6 * self.t.screen_open_area * (1 - self.t.screen_blocked)
                k = (area / holes) ** 2
                if over > 0:  # the screen's head and the mouth's in a row
                    mouth = brentq(
                        lambda q: q - drains.standpipe_flow.si(max(0.0, over - (q / holes) ** 2 / (2 * G)), leg.bore), 0.0, mouth + 1e-12
                    )
        else:
            mouth, k = tee(head - starts, leg.bore), 0.0

        def carried(below):
            return min(mouth, full(leg, head - max(low, below), first, self.viscosity, ends=bool(leg.to), k_screen=k))

        if leg.to:
            flow = carried(self.levels[leg.to])
            return flow, {name: flow}
        on = [n for n, other in self.legs.items() if other.after == name]

        def rest(below):
            return carried(below) - sum(self.goes(n, below, leg.outlet)[0] for n in on)

        if carried(-99.0) <= 0:
            return 0.0, {}
        bottom = min(min(leg.outlet, *(self.legs[n].outlet for n in on)), *self.levels.values()) - 1.0
        below = brentq(rest, bottom, head, xtol=1e-13, rtol=1e-14)
        found = {name: carried(below)}
        for n in on:
            found |= self.goes(n, below, leg.outlet)[1]
        return found[name], found

    def flows(self):
        return self.goes(self.first, self.levels[self.t.source], self.t.lip)[1]


def by_hand(build, line, levels):
    return ByHand(build.lines[line], levels, water.kinematic_viscosity.si(build.site.si.coldest_water)).flows()


# --- builds --------------------------------------------------------------------------------------------


LEGS = [
    {"name": "header", "bore": 0.046, "length": 2.0, "outlet": 1.0, "fittings": {"elbow 90": 2}},
    {"name": "to bed 1", "after": "header", "to": "bed 1", "bore": 0.026, "length": 1.0, "outlet": 0.95, "fittings": {"tee branch": 1},
     "valve": "ball valve", "opening": 0.6},
    {"name": "on", "after": "header", "bore": 0.036, "length": 1.0, "outlet": 0.98, "fittings": {"tee run": 1}},
    {"name": "to bed 2", "after": "on", "to": "bed 2", "bore": 0.026, "length": 1.0, "outlet": 0.95, "fittings": {"tee branch": 1}},
    {"name": "to bed 3", "after": "on", "to": "bed 3", "bore": 0.026, "length": 2.0, "outlet": 0.6, "fittings": {"tee run": 1}},
]  # fmt: skip


def three_beds(legs=LEGS, *, lip=1.5, floor=0.5, more=(), **whole):
    """A fish tank whose water falls through one branching pipe to three beds, and from them to the pump's sump."""
    whole = {"screen_open_area": "200 cm2", **whole}
    return made(
        vessel("tank", area=1.2, height=0.9, floor=0.8, depth=0.72),
        *[vessel(f"bed {i}", "bed", area=1.5, height=0.4, floor=floor, depth=0.2) for i in (1, 2, 3)],
        vessel("sump", "sump", area=1.5, height=0.9, floor=-0.9, depth=0.6),
        tree("gravity", "tank", lip=lip, pipe=legs, **whole),
        *[fall(f"drain {i}", f"bed {i}", "sump", lip=floor + 0.2, outlet=0.0, bore=0.05, length=1.0, vented=True) for i in (1, 2, 3)],
        pumped("riser", "sump", {"tank": 1.75}, inlet_depth=0.1), *more,
    )  # fmt: skip


def changed(legs, name, **to):
    return [{**leg, **to} if leg["name"] == name else leg for leg in legs]


def any_tree(seed):
    """A tank that falls through a tree of two to four ends, at random: heights, sizes, valves, a screen, humps, some ends under water."""
    rng = np.random.default_rng(seed)
    deep = rng.random() < 0.3  # the beds stand so high that their water covers the pipes' ends
    floor = 0.9 if deep else 0.5
    count = int(rng.integers(2, 4))
    lip = float(rng.uniform(1.35, 1.55))
    start = float(rng.uniform(1.0, 1.2))
    legs = [
        {
            "name": "stem",
            "bore": float(rng.uniform(0.03, 0.06)),
            "length": 2.0,
            "outlet": start,
            "fittings": {"elbow 90": int(rng.integers(0, 3))},
        }
    ]
    after, height = "stem", start
    for i in range(1, count + 1):
        leg = {"name": f"to bed {i}", "after": after, "to": f"bed {i}", "bore": float(rng.uniform(0.02, 0.04)), "length": float(rng.uniform(0.5, 3.0)),
               "outlet": float(rng.uniform(floor + 0.05, floor + 0.3)), "fittings": {"tee branch": 1}}  # fmt: skip
        if rng.random() < 0.4:
            leg |= {"valve": "ball valve", "opening": float(rng.uniform(0.3, 1.0))}
        if rng.random() < 0.15:
            leg |= {"crown": height + float(rng.uniform(-0.1, 0.1)), "vented": bool(rng.random() < 0.5)}
        legs.append(leg)
        if i < count - 1 or (i < count and rng.random() < 0.5):
            height -= float(rng.uniform(0.0, 0.05))
            legs.append(
                {
                    "name": f"on {i}",
                    "after": after,
                    "bore": float(rng.uniform(0.03, 0.05)),
                    "length": 1.0,
                    "outlet": height,
                    "fittings": {"tee run": 1},
                }
            )
            after = f"on {i}"
    screen = (
        {"screen_open_area": f"{rng.uniform(60, 250):.0f} cm2", "screen_blocked": float(rng.uniform(0, 0.5))} if rng.random() < 0.5 else {}
    )
    beds = [vessel(f"bed {i}", "bed", area=float(rng.uniform(0.8, 2.0)), height=0.5, floor=floor, depth=0.25) for i in range(1, count + 1)]
    outs = [
        fall(f"drain {i}", f"bed {i}", "sump", lip=floor + 0.25, outlet=0.0, bore=0.06, length=1.0, vented=True)
        for i in range(1, count + 1)
    ]
    return made(
        vessel("tank", area=float(rng.uniform(0.8, 2.0)), height=0.9, floor=0.8, depth=0.6),
        vessel("sump", "sump", area=2.0, height=0.9, floor=-0.9, depth=0.6), *beds, *outs,
        tree("gravity", "tank", lip=lip, pipe=legs, **screen),
        fall("over", "tank", "sump", lip=1.62, outlet=0.0, bore=0.09, length=2.0, vented=True, emergency=True),
        pumped("riser", "sump", {"tank": 1.75}, inlet_depth=0.1),
    )  # fmt: skip


# --- what the water does -------------------------------------------------------------------------------


def agrees(build, system):
    """The settled flow of each stretch is that which tee by tee comes of the settled levels."""
    levels = {name: v.level for name, v in system.vessels.items()}
    found = by_hand(build, "gravity", levels)
    whole = max(found.values(), default=0.0)
    for leg in build.lines["gravity"].si.pipe:
        mine = system.falling[f"gravity › {leg.si.name}"].mean
        assert mine == pytest.approx(found.get(leg.si.name, 0.0), rel=0.02, abs=0.003 * whole + 1e-9), leg.si.name  # tables of 400 heads


def test_a_tree_shares_its_water_by_heights_pipes_and_valves():
    build = three_beds()
    system = Steady(build)
    agrees(build, system)
    balances(system)
    ends = {i: system.falling[f"gravity › to bed {i}"].mean for i in (1, 2, 3)}
    assert sum(ends.values()) == pytest.approx(system.pumped["riser"].flow, rel=1e-6)
    assert ends[3] > ends[2] > ends[1] > 0  # the lowest end gets the most, the throttled one the least
    run = simulate(build, "6 h")
    for i, flow in ends.items():
        assert run.flow[-1, run.flows.index(f"gravity › to bed {i}")] == pytest.approx(flow, rel=0.01)
    whole = run.volume.sum(axis=1) + run.pipes + run.spilled.sum(axis=1)
    assert np.ptp(whole) < 1e-12 * whole[0] and abs(run.balance) < 1e-12
    assert run.vessels == list(build.vessels)  # nobody hears of the tees


@pytest.mark.sweep(15)
@pytest.mark.parametrize("seed", range(200))
def test_any_tree_settles_where_its_tees_do(seed):
    build = any_tree(seed)
    system = Steady(build)
    balances(system)
    agrees(build, system)


@pytest.mark.parametrize("seed", range(0, 60, 6))
def test_any_tree_runs_as_it_settles_and_keeps_its_water(seed):
    build = any_tree(seed)
    system, run = Steady(build), simulate(build, "4 h", quick=True)
    whole = run.volume.sum(axis=1) + run.spilled.sum(axis=1) + run.pipes
    assert np.ptp(whole) < 1e-9 * whole[0] and abs(run.balance) < 1e-9
    for name, state in system.falling.items():
        assert run.flow[-1, run.flows.index(name)] == pytest.approx(state.mean, abs=0.03 * system.pumped["riser"].flow), name


def test_a_tank_that_runs_out_through_a_tree_follows_an_integration_of_its_own():
    """A tank and two vessels joined by one branching pipe under water: levels by `solve_ivp` with the tees bracketed anew at each moment."""
    legs = [
        {"name": "stem", "bore": 0.04, "length": 1.5, "outlet": 0.0},
        {"name": "to a", "after": "stem", "to": "a", "bore": 0.03, "length": 1.0, "outlet": 0.0, "fittings": {"tee branch": 1}},
        {"name": "to b", "after": "stem", "to": "b", "bore": 0.025, "length": 2.0, "outlet": 0.1, "fittings": {"tee run": 1}},
    ]
    build = made(
        vessel("tank", area=1.0, floor=0.0, depth=0.9), vessel("a", "buffer tank", area=0.7, floor=0.0, depth=0.3),
        vessel("b", "buffer tank", area=0.5, floor=0.0, depth=0.0), vessel("sump", "sump", floor=-2.0), pumped("off", "sump", {"tank": 1.5}, inlet_depth=0.9),
        tree("gravity", "tank", lip=0.0, pipe=legs),
    )  # fmt: skip
    run = simulate(build, "6 min", start={"tank": "0.9 m", "a": "0.3 m", "b": "0 m", "sump": "0 m"})

    def change(_, level):
        found = by_hand(build, "gravity", dict(zip(("tank", "a", "b"), level)))
        return [-found["stem"] / 1.0, found["to a"] / 0.7, found["to b"] / 0.5]

    ivp = solve_ivp(change, (0, 240), [0.9, 0.3, 0.0], rtol=1e-6, atol=1e-7, max_step=5.0, dense_output=True)
    for at in (20.0, 60.0, 120.0, 200.0):
        depth = run.depth_at(at)
        assert [depth[name] for name in ("tank", "a", "b")] == pytest.approx(list(ivp.sol(at)), abs=0.004), at


def test_a_hump_without_a_vent_carries_only_what_stands_over_it():
    """Hand: with air in the hump the head is from the tank's water to the crown, not to the end."""
    bare = fall("drain", "tank", "sump", lip=1.2, outlet=0.0, bore=0.05, length=4.0)
    build = three_beds(more=[bare + 'crown = "1.4 m"\n'])
    drain, plain = Steady(build).falling["drain"], Steady(three_beds(more=[bare])).falling["drain"]
    head = drain.source.rim - drain.source.si.freeboard - 1.4
    viscosity = water.kinematic_viscosity.si(build.site.si.coldest_water)
    assert drain.capacity == pytest.approx(full(drain.line.si, head, True, viscosity, ends=True), rel=0.005)
    assert drain.capacity < 0.5 * plain.way.full(1.67)
    [said] = [f for f in review(build).findings if f.name == "air held in a hump"]
    assert said.where == "drain" and "1.4 m" in said.sentence
    assert "air held in a hump" not in [f.name for f in review(build.changed({("lines", "drain", "vented"): True})).findings]


# --- what is said ----------------------------------------------------------------------------------------


def told(build, name):
    return [f for f in review(build).findings if f.name == name]


def test_a_shut_branch_is_told_and_opening_it_helps():
    build = three_beds(changed(LEGS, "to bed 1", opening=0.0))
    [said] = told(build, "drain shut")
    assert said.where == "gravity › to bed 1" and "Open it" in said.cure
    assert not told(build, "branch without water") and not told(three_beds(), "drain shut")


@pytest.mark.parametrize("shut", [[4], [1, 4], [3, 4]], ids=["the last", "first and last", "both at one tee"])
def test_a_tee_with_no_way_out_holds_no_run_up(shut):
    """With the last branch shut, a blocked one leaves a tee whose water goes nowhere: its level swings about its neighbour's unless it is met closely."""
    build = load("terrace").changed({("lines", "tank drain", "pipe", leg, "opening"): 0 for leg in shut})
    for branch in build.falling:
        run = simulate(build, "9 h", events=[Event("drain blocks", branch, at="1 h", part=1.0)], quick=True)
        assert len(run.time) < 2000, branch
        assert abs(run.balance) < 1e-9


def test_a_branch_that_starts_over_the_water_in_its_pipe_is_told():
    build = three_beds(changed(LEGS, "to bed 1", crown=1.3, vented=True))
    assert [f.where for f in told(build, "branch without water")] == ["gravity › to bed 1"]


@pytest.mark.parametrize("by, cure", [({"opening": 0.15}, "Open the valve"), ({"bore": 0.011, "opening": 1.0}, "wider")])
def test_a_tree_too_thin_for_its_water_is_told_and_its_cure_works(by, cure):
    """Both ways out of a short tree: its valves, then its sizes; done literally, the finding goes."""
    legs = [{**leg, **({"valve": "ball valve", **by} if leg.get("to") else {})} for leg in LEGS]
    build = three_beds(legs)
    [said] = told(build, "drain short")
    assert said.severity == "stop" and said.where == "gravity › header" and cure in said.cure
    if "opening" in by and by["opening"] < 1:
        mended = [{**leg, "opening": 1.0} if "opening" in leg else leg for leg in legs]
    else:
        sizes = {"one": 1}.get(said.cure.split()[4]) or int(said.cure.split()[4])

        def wider(leg):
            offered = [bore for _, bore in shop(lambda kind, value: "mm", Build_leg(leg))[1] if bore > leg["bore"] * 1.001]
            return {**leg, "bore": offered[min(sizes, len(offered)) - 1]}

        mended = [wider(leg) for leg in legs]
    assert not told(three_beds(mended), "drain short")


class Build_leg:
    """A stretch of which only the bore is known, as `shop` asks for it."""

    def __init__(self, leg):
        self.bore, self.standard = leg["bore"], ""


def test_the_parts_of_a_tree_are_its_pipes_tees_and_valves():
    """Hand: two tees, one at each place where the pipe parts; one valve; one tank fitting; 7 m of pipe in four bores."""
    text = str(parts_list(three_beds()))
    assert "ball valve, bore 26 mm: 1 piece" in text
    assert "tee, bore 46 mm: 1" in text and "tee, bore 36 mm: 1" in text
    assert "where “gravity › header” leaves “tank”" in text and "leaves “gravity" not in text
    assert "bore 26 mm: 4 m" in text


# --- bad input -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "legs, says",
    [
        (changed(LEGS, "to bed 2", after="nowhere"), "nowhere"),
        (changed(LEGS, "to bed 2", to=None), "'to bed 2' leads nowhere"),
        (changed(LEGS, "on", after=None), "both start at the lip"),
        (changed(changed(LEGS, "on", after="to bed 3"), "to bed 3", to=None), "follows itself in a loop"),
        (changed(LEGS, "to bed 3", to="tank"), "goes back to it"),
        (changed(LEGS, "header", outlet=None), "outlet is missing"),
        (changed(LEGS, "to bed 3", to="bed 9"), "bed 9"),
    ],
)
def test_a_tree_that_cannot_be_is_refused_in_one_sentence(legs, says):
    with pytest.raises(DesignError) as refused:
        three_beds(legs)
    assert says in str(refused.value) and "gravity" in str(refused.value)


def test_what_belongs_to_a_stretch_is_not_taken_for_the_whole_line():
    with pytest.raises(DesignError, match="this line has branches: say it of a stretch"):
        three_beds(length="2 m")


def test_a_tree_is_kept_key_by_key(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(three_beds().text)
    build = Build(path.read_text(), path).keep({("lines", "gravity", "pipe", 1, "opening"): 0.9})
    assert build.lines["gravity"].si.pipe[1].si.opening == 0.9 and "opening = 0.9" in path.read_text()

"""The water of a build decides what its review says: layouts that a rule of thumb misjudged, each beside an integration of its own.

All builds are invented for the tests. The outside value of each is a hand calculation, or `scipy`'s integration of the
balance of volumes with the flows of `drains` and `full_pipe` (which have tests against print of their own).
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from aquaplumb.build import load
from aquaplumb.build.vessels import water_volume
from aquaplumb.plumbing import drains, full_pipe
from aquaplumb.review import review
from aquaplumb.system.levels import Event, simulate
from aquaplumb.system.running import RunningSwitch, running
from aquaplumb.system.steady import Steady
from levels_builds import fall, made, pumped, vessel

LPH = 1 / 3.6e6


def flows(build):
    """(mean flow by falling line, of the settled system), both in L/h."""
    return {name: f.mean / LPH for name, f in Steady(build).falling.items()}


def in_the_end(build, hours=4, **more):
    """The mean flow of each falling line in the last hour of a run, in L/h, and the run."""
    run = simulate(build, f"{hours} h", **more)
    return {name: mean(run, run.flow[:, i], run.time[-1] - 3600) / LPH for i, name in enumerate(run.flows)}, run


def mean(run, values, since):
    """The mean of what holds from each step of a run to the next, after a moment [s]."""
    late = run.time > since
    return float((values[late][:-1] * np.diff(run.time[late])).sum() / np.ptp(run.time[late]))


def names(build, *severities):
    return [f.name for f in review(build).findings if f.severity in (severities or ("stop", "fix"))]


# --- the thirteen ----------------------------------------------------------------------------------


def ring(*falls, tank=None, **more):
    """A fish tank over a sump, a pump that lifts, and what falls."""
    return made(
        tank or vessel("tank", area=1.5, height=0.8, floor=0.3, depth=0.5),
        vessel("sump", "sump", area=1.5, height=0.8, floor=-0.9, depth=0.5),
        pumped("riser", "sump", {"tank": 1.3}, inlet_depth=0.1, fittings={"elbow 90": 2}, **more), *falls,
    )  # fmt: skip


def test_three_overflows_of_which_one_has_a_lower_lip():
    lips = {"low": 0.77, "left": 0.80, "right": 0.80}
    build = ring(*(fall(name, "tank", "sump", lip=lip, outlet=-0.2, bore=0.06, length=1.5) for name, lip in lips.items()))
    comes = Steady(build).pumped["riser"].flow
    level = brentq(lambda h: sum(drains.standpipe_flow.si(h - lip, 0.06) for lip in lips.values()) - comes, 0.7, 0.9)
    for name, lip in lips.items():
        assert flows(build)[name] == pytest.approx(drains.standpipe_flow.si(level - lip, 0.06) / LPH, rel=2e-3, abs=0.5)
    assert flows(build)["left"] < 0.01 * flows(build)["low"]


def test_an_emergency_overflow_with_the_lower_lip_is_wet_every_day():
    build = ring(
        fall("usual", "tank", "sump", lip=0.82, outlet=-0.2, bore=0.06, vented=True),
        fall("spare way", "tank", "sump", lip=0.78, outlet=-0.2, bore=0.06, emergency=True, vented=True),
    )
    said, run = flows(build), in_the_end(build)[0]
    assert said["usual"] == run["usual"] == 0
    assert said["spare way"] == pytest.approx(run["spare way"], rel=2e-3) and said["spare way"] > 1000
    wet = review(build).finding("emergency overflow in use")
    assert "spare way" in wet.sentence
    cured = build.changed({("lines", "spare way", "lip"): wet.cure.split("Set its lip at ")[1].split(",")[0]})
    assert "emergency overflow in use" not in names(cured)


def test_a_float_pump_in_a_ring_with_a_second_pump():
    """The float's pump moves what comes: its share of the time is the other pump's flow over its own."""
    build = made(
        vessel("tank", area=1.5, height=0.8, floor=0.3), vessel("pit", "sump", area=1.0, height=0.9, floor=-1.0, depth=0.5),
        vessel("buffer", "buffer tank", area=1.2, height=0.9, floor=-0.9, depth=0.4),
        pumped("lifts", "pit", {"tank": 1.3}, control={"kind": "float", "on_depth": "0.6 m", "off_depth": "0.3 m"}, inlet_depth=0.1),
        pumped("returns", "buffer", {"pit": 0.1}, pump="demo mains 20 W submersible", inlet_depth=0.1),
        fall("down", "tank", "buffer", lip=0.8, outlet=0.0, bore=0.08, vented=True),
    )  # fmt: skip
    system, (_, story) = Steady(build), in_the_end(build, 9, quick=True)
    share = system.pumped["returns"].flow / system.pumped["lifts"].flow
    on = mean(story, story.on[:, story.pumps.index("lifts")], 4 * 3600)
    assert system.pumped["lifts"].duty == pytest.approx(share, rel=0.02) and on == pytest.approx(share, rel=0.12)
    assert "float pump always on" not in names(build)


def filter_by_gravity(bore=0.1):
    """A filter of the same height beside the tank, joined by a pipe under water; the pump draws from the filter."""
    return made(
        vessel("tank", area=1.5, height=0.8, depth=0.6), vessel("filter", "settling tank", area=0.5, height=0.8, depth=0.6),
        pumped("riser", "filter", {"tank": 1.0}, inlet_depth=0.1),
        fall("joint", "tank", "filter", lip=0.3, outlet=0.3, bore=bore, length=0.4, kind="joint"),
    )  # fmt: skip


def test_a_filter_fed_by_gravity_through_a_drowned_pipe():
    build = filter_by_gravity()
    system = Steady(build)
    comes = system.pumped["riser"].flow
    head = full_pipe.full_bore_head.si(comes, 0.1, 0.4, k=1.5, temperature=system.cold)  # hand: entrance and exit
    stands = {name: v.level for name, v in system.vessels.items()}
    assert system.falling["joint"].mean == pytest.approx(comes, rel=1e-6)
    assert stands["tank"] - stands["filter"] == pytest.approx(head, rel=0.02) and head < 0.003
    assert not {"drain has no fall", "drain short", "emergency overflow in use"} & set(names(build))


def test_a_joint_settles_as_two_tubes_do():
    """Two vessels of different levels, joined: an independent integration of the volumes."""
    build = made(
        vessel("tank", area=1.5, height=0.9, depth=0.8), vessel("filter", "settling tank", area=0.5, height=0.9, depth=0.4),
        fall("joint", "tank", "filter", lip=0.2, outlet=0.2, bore=0.03, length=0.6, kind="joint"),
    )  # fmt: skip
    t = Steady(build).cold

    def change(_, level):
        gap = level[0] - level[1]
        q = math.copysign(full_pipe.full_bore_flow.si(abs(gap), 0.03, 0.6, k=1.5, temperature=t), gap)
        return [-q / 1.5, q / 0.5]

    run = simulate(build, "10 min", start={"tank": "0.8 m", "filter": "0.4 m"})
    truth = solve_ivp(change, (0, 600), [0.8, 0.4], rtol=1e-8, atol=1e-9, t_eval=[60, 200, 600])
    for moment, levels in zip(truth.t, truth.y.T):
        assert [run.depth_at(moment)[v] for v in ("tank", "filter")] == pytest.approx(levels, abs=2e-3)


def test_an_overflow_whose_tank_a_timer_pump_draws_from():
    build = made(
        vessel("tank", area=1.5, height=0.8, floor=0.3), vessel("sump", "sump", area=2.5, height=0.9, floor=-1.0, depth=0.5),
        vessel("bed", "bed", area=2.0, height=0.4, floor=0.6, depth=0.2),
        pumped("riser", "sump", {"tank": 1.3}, inlet_depth=0.1),
        pumped("doses", "tank", {"bed": 1.2}, inlet_depth=0.1, control={"kind": "timer", "on": "15 min", "off": "45 min"}),
        fall("over", "tank", "sump", lip=0.8, outlet=0.0, bore=0.1, vented=True),
        fall("bed drain", "bed", "sump", lip=0.8, outlet=0.0, bore=0.1, vented=True),
    )  # fmt: skip
    system, (_, run) = Steady(build), in_the_end(build)
    comes, draws = system.pumped["riser"].flow, system.pumped["doses"].flow
    most = run.flow[run.time > 3600, run.flows.index("over")].max()
    assert system.falling["over"].peak == pytest.approx(comes, rel=1e-3) and most == pytest.approx(comes, rel=0.01)
    assert system.falling["over"].mean == pytest.approx(max(0.0, comes - draws / 4), rel=0.02)


def test_a_working_depth_that_the_lip_does_not_give():
    build = ring(fall("over", "tank", "sump", lip=1.0, outlet=0.0, bore=0.08, vented=True))  # the file says 0.5 m, the lip 0.7 m
    system = Steady(build)
    holds = 1.5 * (0.7 + drains.standpipe_depth.si(system.pumped["riser"].flow, 0.08))  # m³: a box
    assert system.fish.tank_volume == pytest.approx(holds, rel=2e-3)
    found = review(build).finding("working depth off the lip")
    assert found.where == "tank"
    cured = build.changed({("vessels", "tank", "working_depth"): found.cure.split('"')[1]})
    assert "working depth off the lip" not in names(cured, "note")
    as_said = ring(fall("over", "tank", "sump", lip=0.79, outlet=0.0, bore=0.08, vented=True))
    assert Steady(as_said).fish.tank_volume == pytest.approx(1.5 * 0.5)


def test_a_screen_of_few_holes_is_what_limits_a_drain():
    """3 cm² of holes: Torricelli's speed at the brim by a coefficient of 0.6, the pipe behind it being far wider."""
    build = ring(fall("drain", "tank", "sump", lip=0.75, outlet=-0.3, bore=0.08, length=1.5, screen_open_area="3 cm2", vented=True))
    room = 1.1 - 0.03 - 0.75
    by_hand = 0.6 * 3e-4 * math.sqrt(2 * 9.80665 * room)
    assert Steady(build).falling["drain"].capacity == pytest.approx(by_hand, rel=0.06)
    found = review(build).finding("drain short")
    assert found.severity == "stop" and "of holes" in found.cure
    holes = found.cure.split("Give its screen ")[1].split(" of holes")[0]
    assert "drain short" not in names(build.changed({("lines", "drain", "screen_open_area"): holes}))
    _, run = in_the_end(build)
    assert run.spilled[-1, run.vessels.index("tank")] > 0.1


def test_a_screen_mostly_blocked_that_passes_the_flow_is_no_alarm():
    build = ring(
        fall(
            "drain",
            "tank",
            "sump",
            lip=0.78,
            outlet=-0.3,
            bore=0.08,
            length=1.5,
            screen_open_area="300 cm2",
            screen_blocked=0.85,
            vented=True,
        )
    )
    clean = build.changed({("lines", "drain", "screen_blocked"): 0.0})
    rises = Steady(build).vessels["tank"].level - Steady(clean).vessels["tank"].level
    flow = Steady(build).pumped["riser"].flow
    by_hand = (flow / (0.6 * 45e-4)) ** 2 / (2 * 9.80665)
    assert rises == pytest.approx(by_hand, rel=0.05) and rises < 0.01
    assert "drain short" not in names(build)


def test_a_check_valve_that_the_fall_cannot_open():
    """A spring check needs about half a metre; from 1.0 m to water at 0.6 m there is less."""
    build = ring(
        fall("drain", "tank", "sump", lip=0.75, outlet=0.40, bore=0.08, length=0.6, fittings={"spring check valve": 1}, vented=True),
        tank=vessel("tank", area=1.5, height=0.5, floor=0.35, depth=0.4),
    )
    fall_ = Steady(build).falling["drain"]
    needs = fall_.way.opening_head
    assert needs > fall_.line.si.lip + fall_.room - 0.40 and fall_.capacity == 0
    found = review(build).finding("drain short")
    assert found.severity == "stop" and "check valve" in found.cure
    cured = build.changed({("lines", "drain", "fittings"): {"swing check valve": 1}})
    assert Steady(cured).falling["drain"].capacity > Steady(cured).falling["drain"].load
    _, run = in_the_end(build)
    assert run.flow[:, run.flows.index("drain")].max() == 0 and run.spilled[-1, run.vessels.index("tank")] > 0.1


def test_a_side_outlet_half_full_carries_by_critical_depth():
    """Hand: half a bore of head over a hole of 100 mm; y = 0.33 D gives A = 0.229 D², T = 0.94 D, H = 0.33 + 0.122 + loss."""
    bore = 0.1
    depth = brentq(lambda y: _critical_head(y) - 0.5, 0.05, 0.9)
    by_hand = _critical_flow(depth) * bore**2.5
    assert drains.side_outlet_flow.si(0.5 * bore, bore) == pytest.approx(by_hand, rel=1e-3)
    upright, side = (
        ring(fall("drain", "tank", "sump", lip=0.8, outlet=-0.3, bore=0.06, length=2.0, entry=e, vented=True)) for e in ("upright", "side")
    )
    comes = Steady(side).pumped["riser"].flow
    over = [Steady(b).vessels["tank"].level - 0.8 for b in (upright, side)]
    assert over[0] == pytest.approx(drains.standpipe_depth.si(comes, 0.06), abs=5e-4)
    assert drains.side_outlet_flow.si(over[1], 0.06) == pytest.approx(comes, rel=5e-3) and over[1] > 2 * over[0]


def _critical_flow(y):
    """Q over D^2.5 at a depth over the bore: Q² T = g A³."""
    angle = 2 * math.acos(1 - 2 * y)
    area, width = (angle - math.sin(angle)) / 8, math.sin(angle / 2)
    return math.sqrt(9.80665 * area**3 / width)


def _critical_head(y):
    angle = 2 * math.acos(1 - 2 * y)
    area, width = (angle - math.sin(angle)) / 8, math.sin(angle / 2)
    speed_full = _critical_flow(y) * 4 / math.pi
    return y + area / (2 * width) + 0.5 * speed_full**2 / (2 * 9.80665)


def siphon_bed(inflow_bore, *, sump_height=0.6, guard=True, depth=0.25):
    return made(
        vessel("tank", area=1.5, height=0.9, floor=0.3, depth=0.4), vessel("sump", "sump", area=0.5, height=sump_height, floor=-0.9, depth=0.4),
        vessel("bed", "bed", area=1.2, height=0.36, floor=0.6, depth=depth),
        pumped("riser", "sump", {"bed": 1.2}, bore=inflow_bore, inlet_depth=0.05),
        fall("bed siphon", "bed", "sump", lip=0.85, outlet=-0.2, bore=0.025, length=1.2, vent=0.65),
        *([fall("bed guard", "bed", "sump", lip=0.9, outlet=-0.2, bore=0.06, emergency=True, vented=True)] if guard else []),
    )  # fmt: skip


def test_siphons_are_run_late_and_early():
    """In the band where a siphon may start (Froude 1 to 2 in print) both are run, and what spills in either is said."""
    band = drains.siphon_starting_band.si(0.025).si
    build = next(
        b
        for b in (siphon_bed(bore) for bore in np.linspace(0.010, 0.03, 41).tolist())
        if band.may * 1.1 < Steady(b).pumped["riser"].flow < band.sure * 0.9
    )
    late, early = (simulate(build, "4 h", starts=starts) for starts in ("sure", "may"))
    assert late.starts("bed siphon") == 0 and early.starts("bed siphon") >= 3
    assert early.litres_spilled.m_as("L") > 5 > late.litres_spilled.m_as("L")
    spills = [f for f in review(build).findings if f.name == "spills while running"]
    assert spills and spills[0].severity == "stop" and "as early as" in spills[0].sentence


def test_a_siphon_that_never_starts_sends_no_burst_down():
    """Too little water to start it: what falls is what comes, and no drain below has to carry a full siphon's flow."""
    build = siphon_bed(0.009)
    system = Steady(build)
    assert 0 < system.pumped["riser"].flow < drains.siphon_starting_band.si(0.025).si.may
    assert system.vessels["sump"].peak == pytest.approx(system.pumped["riser"].flow, rel=1e-6)


def test_beds_said_to_be_full_to_the_rim_start_at_their_lip():
    brim, lip = (simulate(siphon_bed(0.03, depth=depth), "1 min").depth_at(0.0)["bed"] for depth in (0.36, 0.25))
    assert brim == pytest.approx(lip) == pytest.approx(0.25)


def test_a_bed_over_its_tank_with_the_pump_in_the_tank_needs_no_sump():
    build = made(
        vessel("tank", area=1.5, height=0.8, depth=0.65), vessel("bed", "bed", area=0.8, height=0.4, floor=0.9, depth=0.25),
        pumped("riser", "tank", {"bed": 1.4}, inlet_depth=0.1),
        fall("drain", "bed", "tank", lip=1.15, outlet=0.75, bore=0.08, vented=True),
        fall("spare drain", "bed", "tank", lip=1.2, outlet=0.75, bore=0.08, emergency=True, vented=True),
    )  # fmt: skip
    assert not build.of_kind("sump")
    system = Steady(build)
    assert system.falling["drain"].mean == pytest.approx(system.pumped["riser"].flow, rel=1e-6)
    water = {
        "drain short",
        "no overflow path",
        "spills while running",
        "pump runs dry",
        "fish tank falls below a safe depth",
        "float pump always on",
    }
    assert not water & set(names(build))


# --- over to another end of the line, when its pump rests ---------------------------------------------


def resting(check=True, hole=None, bed=0.6):
    """A tank whose inlet ends deep in its water, a bed lower on the same line, and a check valve that holds the water in the riser."""
    return made(
        vessel("tank", area=1.0, height=1.0, floor=1.0, depth=0.9), vessel("bed", "bed", area=2.0, height=0.5, floor=0.4, depth=0.1),
        vessel("sump", "sump", area=2.0, height=1.0, floor=-1.2, depth=0.6),
        pumped("riser", "sump", {"tank": {"outlet": 1.3, "break_hole": hole}, "bed": bed}, inlet_depth=0.1, bore=0.03,
               fittings={"swing check valve": 1} if check else None),
        fall("over", "tank", "sump", lip=1.9, outlet=0.0, bore=0.08, vented=True), fall("drain", "bed", "sump", lip=0.5, outlet=0.0, bore=0.08, vented=True),
    )  # fmt: skip


def test_a_tank_siphons_over_to_a_lower_end_of_its_line_though_a_check_valve_holds():
    """`solve_ivp`: both branches, 0.5 m each, full, down to the tank's end at 1.3 m, where air gets in; no loss at a tee is listed here."""
    build = resting()
    run = simulate(build, "3 h", events=[Event("pump fails", "riser", at="1 h")])
    at = float(run.depth_at(3600.0)["tank"]) + 1.0

    def change(_, level):
        return [-full_pipe.full_bore_flow.si(max(0.0, level[0] - 0.6), 0.03, 1.0, k=1.0, temperature=293.15)]

    def air(_, level):
        return level[0] - 1.3

    air.terminal = True
    ivp = solve_ivp(change, (0, 7200), [at], rtol=1e-8, atol=1e-9, events=air, dense_output=True)
    for later in (60.0, 120.0, 0.9 * ivp.t[-1]):
        assert run.depth_at(3600.0 + later)["tank"] + 1.0 == pytest.approx(ivp.sol(later)[0], abs=0.012)
    assert run.vessel("tank").si.last == pytest.approx(0.3, abs=0.001)
    whole = run.volume.sum(axis=1) + run.pipes + run.spilled.sum(axis=1)
    assert np.ptp(whole) < 1e-12 * whole[0]


@pytest.mark.parametrize(
    "build, left",
    [
        (resting(hole="1.8 m"), 0.8),  # a hole lets air in
        (resting(bed=1.95), 0.9),  # no end lies lower
        (resting(check=False), 0.3),  # back to the sump, as far
    ],
)
def test_what_stops_a_tank_from_siphoning_over(build, left):
    run = simulate(build, "3 h", events=[Event("pump fails", "riser", at="1 h")])
    assert run.vessel("tank").si.last == pytest.approx(left, abs=0.03)


def test_a_tank_that_siphons_over_is_told_with_a_cure_that_works():
    assert "fish tank falls below a safe depth" in names(resting())
    assert "fish tank falls below a safe depth" not in names(resting(hole="1.8 m"))


# --- any build -------------------------------------------------------------------------------------


def any_build(seed):
    """Two to four vessels in a ring with joints, screens, side holes, check valves, timers and floats, at random."""
    rng = np.random.default_rng(seed)
    places = ["tank", "second", "third"][: rng.integers(1, 4)]
    parts = [vessel("sump", "sump", area=float(rng.uniform(1.0, 3.0)), height=0.9, floor=-1.0, depth=0.5)]
    for i, name in enumerate(places):
        shape = {"medium": "expanded clay 8-16 mm", "media_depth": 0.3} if i and rng.random() < 0.3 else {}
        parts.append(
            vessel(
                name,
                "fish tank" if not i else "bed",
                area=float(rng.uniform(0.6, 2.0)),
                height=0.7,
                floor=1.2 - 0.4 * i,
                depth=0.5,
                **shape,
            )
        )
    for i, name in enumerate(places):
        to = places[i + 1] if i + 1 < len(places) else "sump"
        bottom = 1.2 - 0.4 * i
        for k in range(rng.integers(1, 4)):
            more = (
                {"screen_open_area": f"{rng.uniform(30, 200):.0f} cm2", "screen_blocked": float(rng.uniform(0, 0.6))}
                if rng.random() < 0.4
                else {}
            )
            more |= {"fittings": {"swing check valve": 1}} if rng.random() < 0.2 else {}
            more |= {"valve": "ball valve", "opening": float(rng.uniform(0.4, 1))} if rng.random() < 0.2 else {}
            entry = "side" if rng.random() < 0.4 else "upright"
            lip = bottom + float(rng.uniform(0.4, 0.55))
            parts.append(fall(f"fall {i} {k}", name, to, lip=lip, outlet=bottom - 0.1 if to != "sump" else 0.2, bore=float(rng.uniform(0.04, 0.09)),
                              length=1.0, entry=entry, emergency=bool(k and rng.random() < 0.5), vented=True, **more))  # fmt: skip
    if rng.random() < 0.5:
        parts.append(vessel("filter", "settling tank", area=0.5, height=0.9, floor=-1.0, depth=0.5))
        parts.append(fall("joint", "sump", "filter", lip=-0.8, outlet=-0.8, bore=0.09, length=0.5, kind="joint"))
    source = "filter" if any("filter" in part.splitlines()[0] for part in parts) else "sump"
    control = {"kind": "timer", "on": "15 min", "off": "5 min"} if rng.random() < 0.2 else None
    parts.append(pumped("riser", source, {places[0]: 2.1}, inlet_depth=0.1, control=control))
    return made(*parts)


@pytest.mark.sweep(5)
@pytest.mark.parametrize("seed", range(16))
def test_any_build_settles_where_its_run_does_and_keeps_its_water(seed):
    build = any_build(seed)
    system, run = Steady(build), simulate(build, "3 h", quick=True)
    whole = run.volume.sum(axis=1) + run.spilled.sum(axis=1) + run.pipes
    assert np.ptp(whole) < 1e-9 * whole[0] and abs(run.balance) < 1e-9
    if run.litres_spilled.m_as("L") > 1:
        assert any(v.spilled > 0 or v.highest > v.vessel.rim - 0.01 for v in system.vessels.values())
        return
    late = run.time > run.time[-1] - 3600
    for name, state in system.falling.items():
        goes = mean(run, run.flow[:, run.flows.index(name)], run.time[-1] - 3600)
        most = np.abs(run.flow[late, run.flows.index(name)]).max()
        whole_flow = system.pumped["riser"].mean
        loose = 0.12 if build.pumped["riser"].si.control.si.kind == "timer" else 0.05  # the pump's water stands a little higher or lower
        assert state.mean == pytest.approx(goes, abs=loose * whole_flow), name
        assert abs(state.peak) >= 0.95 * most - 0.05 * whole_flow or name == "joint", name  # which also swings when a pump stops
    for name, v in system.vessels.items():
        if v.spilled == 0 and name not in ("sump", "filter") and build.pumped["riser"].si.control.si.kind == "always":
            assert v.level - v.vessel.si.floor == pytest.approx(run.vessel(name).si.last, abs=0.012), name


def test_a_blocked_screen_blocks_its_holes():
    """Half of the holes shut: the head that they cost is four times as much, whatever the pipe behind them carries."""
    build = ring(fall("drain", "tank", "sump", lip=0.7, outlet=-0.3, bore=0.08, length=1.5, screen_open_area="60 cm2", vented=True))
    flow = Steady(build).pumped["riser"].flow
    run = simulate(build, "4 h", events=[Event("drain blocks", "drain", at="1 h", part=0.5)])
    before, after = (run.depth_at(t)["tank"] for t in (3500.0, run.time[-1]))
    by_hand = (flow / (0.6 * 60e-4)) ** 2 / (2 * 9.80665)
    assert after - before == pytest.approx(3 * by_hand, rel=0.05)


# --- what it does while nothing fails ------------------------------------------------------------------


def test_a_build_that_switches_nothing_runs_as_it_settles():
    build = ring(fall("over", "tank", "sump", lip=0.78, outlet=-0.2, bore=0.08, vented=True))
    seen, system = running(build), Steady(build)
    assert seen.flows["over"].mean == seen.flows["over"].most == pytest.approx(system.pumped["riser"].flow, rel=1e-6)
    assert seen.pumps["riser"] == RunningSwitch(1.0, 0.0, lowest=0.5) and not seen.siphons and seen.early is None
    tank = seen.vessels["tank"]
    assert (
        tank.lowest
        == tank.mean
        == tank.highest
        == pytest.approx(0.48 + drains.standpipe_depth.si(system.pumped["riser"].flow, 0.08), abs=5e-4)
    )


@pytest.mark.parametrize("name", ["courtyard", "greenhouse"])
def test_a_demo_runs_as_its_means_say(name):
    """Identity: over hours each line carries its mean, each pump its share; what a float's tank holds between its levels is one start."""
    build = load(name)
    seen, system = running(build), Steady(build)
    for line, state in system.falling.items():
        assert seen.flows[line].mean == pytest.approx(state.mean, rel=0.08, abs=2e-6), line
    for line, state in system.pumped.items():
        assert seen.pumps[line].share == pytest.approx(state.duty, rel=0.04)
        c = state.line.si.control.si
        if c.kind == "float":
            held = water_volume.si(state.source, c.on_depth) - water_volume.si(state.source, c.off_depth)
            by_hand = system.vessels[state.source.si.name].mean * (1 - state.duty) / held
            assert seen.pumps[line].starts == pytest.approx(by_hand, rel=0.35)  # a few rounds in three hours
    assert all(v.lowest <= v.mean <= v.highest for v in seen.vessels.values())
    assert bool(seen.early) == bool(len(system.network.siphons))


def test_a_siphons_rounds_are_what_comes_over_what_it_lets_go():
    """Hand: three hours of the same inflow fill the bed, from vent to lip and what runs in meanwhile, so many times."""
    seen, system = running(load("courtyard")), Steady(load("courtyard"))
    fall_ = system.falling["bed 1 siphon"]
    bed, f = fall_.source, fall_.line.si
    held = water_volume.si(bed, f.lip - bed.si.floor) - water_volume.si(bed, f.siphon.si.vent - bed.si.floor)
    comes, lets_go = system.vessels["bed 1"].mean, 0.5 * (fall_.siphon.si.flow_at_full + fall_.siphon.si.flow_at_vent)
    by_hand = 1 / (held / comes + held / (lets_go - comes))
    assert seen.siphons["bed 1 siphon"].starts == pytest.approx(by_hand, rel=0.2)


# --- the settled water -----------------------------------------------------------------------------------


def balances(system):
    """Identity: into each vessel whose level nobody keeps up comes what leaves it."""
    n, m = system.network, system.means
    for i, name in enumerate(n.names):
        if m._solver.held[i]:
            continue
        drawn = sum(p.flow * p.duty for p in system.pumped.values() if p.source.si.name == name)
        out = sum(max(f.mean, 0.0) for f in system.falling.values() if f.line.si.source == name)
        out += sum(max(-f.mean, 0.0) for f in system.falling.values() if f.line.si.to == name)
        assert m.usual.comes[i] == pytest.approx(drawn + out + m.usual.spilled[i], rel=1e-9, abs=1e-12), name


@pytest.mark.sweep(1)
@pytest.mark.parametrize("first", range(0, 200, 50))
def test_the_water_of_any_build_settles(first):
    for seed in range(first, first + 50):
        balances(Steady(any_build(seed)))


def test_a_tank_with_no_way_out_and_a_joint_at_rest_settle():
    """One fills to its rim and spills what the pump brings; the other swings about no difference of levels unless held back."""
    full = made(
        vessel("tank", area=20.0, floor=1.0, depth=0.3), vessel("pit", "sump", floor=-1.0, height=1.2), pumped("lift", "pit", {"tank": 2.5})
    )
    system = Steady(full)
    balances(system)
    assert system.vessels["tank"].spilled == pytest.approx(system.pumped["lift"].flow, rel=1e-9)
    rest = made(
        vessel("tank", area=1.5, height=0.9, depth=0.8), vessel("filter", "settling tank", area=0.5, height=0.9, depth=0.4),
        fall("joint", "tank", "filter", lip=0.2, outlet=0.2, bore=0.03, length=0.6, kind="joint"),
    )  # fmt: skip
    balances(Steady(rest))

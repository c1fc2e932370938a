"""Findings about falling pipe with branches, and about humps in what falls; what lets a tree of pipe carry more."""

from __future__ import annotations

from dataclasses import replace

from aquaplumb.plumbing import pipes
from aquaplumb.plumbing.branches import Branches
from aquaplumb.plumbing.fittings import valve_k
from aquaplumb.plumbing.part_full import SCOUR_SPEED
from aquaplumb.review.findings.base import finding, fix, note, shop
from aquaplumb.units import FLOW, LENGTH, SPEED

DIRTIER = 1.3  # a drain a third dirtier than on its first day still has to carry: common practice, no source
_REACHED = 3.0  # m of pipe that a brush reaches from its end: common practice, no source
_SAME = 1.001  # of a bore: rounding
TRICKLE = 1e-6  # m³/s: 4 L/h, no flow worth a word


def carries(fall, whole: Branches) -> float:
    """What a tree with these stretches lets out of its vessel, filled up to the freeboard [m³/s]."""
    first = next(i for i, parent in enumerate(whole.parents) if parent < 0)
    let_in = float(whole.ways[first].mouth(fall.room, 1 - fall.line.si.screen_blocked))
    return float(whole.flows(fall.line.least_lip + fall.room, let_in)[first])


def carry_more(system, fall, need: float, say) -> str:
    """What lets a tree carry so much [m³/s]: open valves, or stretches that are a size or more wider; empty where nothing does."""
    whole, build = fall.whole, system.build
    legs = [leg.si for name, leg in build.falling.items() if build.line_of(name) == build.line_of(fall.name)]
    open_ = [
        replace(way, k=way.k - valve_k.si(leg.valve, leg.opening) + valve_k.si(leg.valve, 1.0)) if leg.valve and leg.opening > 0 else way
        for way, leg in zip(whole.ways, legs)
    ]
    throttled = [leg.name for leg in legs if leg.valve and leg.opening < 1]
    if throttled and carries(fall, replace(whole, ways=open_)) >= need:
        return f"Open the valve{'s' * (len(throttled) > 1)} of {' and '.join(throttled)}."
    for sizes in range(1, 8):
        wider = []
        for way, leg in zip(whole.ways, legs):
            bores = [bore for _, bore in shop(say, leg)[1] if bore > way.bore * _SAME]
            wider.append(replace(way, bore=bores[min(sizes, len(bores)) - 1] if bores else way.bore))
        if carries(fall, replace(whole, ways=wider)) >= need:
            return f"Take all its stretches {'one size' if sizes == 1 else f'{sizes} sizes'} wider."
    return ""


@finding("branch without water", notebook="07")
def dry_branch(system, say):
    """An end of a falling line that gets nothing, though water runs through the rest."""
    for fall in system.falling.values():
        f = fall.line.si
        if f.to not in system.build.vessels or fall.leaves_vessel or f.emergency or fall.peak > TRICKLE or f.opening == 0:
            continue  # one that is shut is told by itself
        above = [other for other in system.falling.values() if other.line.si.to == f.source]
        if not above or above[0].peak <= TRICKLE:
            continue  # nothing comes to the tee: its way up has been told, or nothing falls at all
        yield fix(
            fall.name,
            f"No water goes through {fall.name} to {f.to}: it has to rise to {say(LENGTH, fall.line.least_lip)}, and the water that comes to its tee leaves lower.",
            "Lay it without that rise, its end no higher than the other branches', or throttle those until the water stands higher in the pipe.",
        )


@finding("flat run", notebook="06")
def flat_run(system, say):
    """Stretches of a falling line that lie flat, in which what fish leave settles: after a drop the water stands in them."""
    slow = [
        (fall.name, speed)
        for fall in system.falling.values()
        if fall.drop == 0 and not fall.line.si.emergency and fall.line.si.kind != "joint" and fall.line.si.length > _REACHED
        if fall.root.si.kind in ("fish tank", "settling tank")
        if fall.peak > TRICKLE and (speed := pipes.speed.si(fall.peak, fall.line.si.bore)) < SCOUR_SPEED
    ]
    if slow:
        name, speed = min(slow, key=lambda item: item[1])
        others = f" (and so {'do' if len(slow) > 2 else 'does'} {len(slow) - 1} more)" if len(slow) > 1 else ""
        yield note(
            name,
            f"{name} lies flat{others}: full, its water moves at {say(SPEED, speed)}, and what fish leave settles in pipe slower than {say(SPEED, SCOUR_SPEED)}.",
            "Lay it with a fall, choose a smaller size there, or fit a cap to flush it.",
        )


@finding("air held in a hump", notebook="06")
def hump(system, say):
    """A falling line that goes over a hump with no vent: air gathers there, and only what stands above the hump drives the water."""
    for fall in system.falling.values():
        f = fall.line.si
        if f.crown is None or f.crown <= f.outlet or f.vented:
            continue
        short = fall.load > 0 and fall.capacity < DIRTIER * fall.load
        yield (fix if short else note)(
            fall.name,
            f"{fall.name} goes over a hump at {say(LENGTH, f.crown)}. Air gathers there, so it carries {say(FLOW, fall.capacity)} at most, as if it ended at that height; once full it can suck {fall.root.si.name} down, and what settles lies in the low place before the hump.",
            "Lay it without the hump, or give the top of the hump an open vent, higher than the water can stand (vented = true)"
            + (", and a wider pipe or a lower hump." if short else "."),
        )

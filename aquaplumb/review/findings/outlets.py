"""Findings about the ways out of a vessel: their screens, their number, and pipes too short to be true."""

from __future__ import annotations

from aquaplumb.build.records import way_to
from aquaplumb.plumbing import drains
from aquaplumb.review.findings.base import at_least, finding, fix, stop
from aquaplumb.review.findings.falls import COMES, DRY, HOLES
from aquaplumb.units import BORE, DEPTH, FLOW, HEAD, LENGTH, SPEED

_SLACK = 0.999  # of a length: rounding of heights and lengths


def _smallest(system, vessel: str) -> float:
    """The mass of the smallest fish of a fish tank [kg]; of all, where none lives there."""
    own = [s for tank in system.tanks.values() if vessel in tank.vessels for s in tank.stocks]
    return min(s.stock.body_mass for s in own or system.stocks.values())


@finding("no overflow path", notebook="06")
def no_overflow_path(system, say):
    """Water comes in and has no way out, or one way only, and nothing if that blocks."""
    beds = []
    for state in system.vessels.values():
        if state.peak <= 0:
            continue
        ways = [f for f in system.falling.values() if f.line.si.source == state.name]
        ways += [f for f in system.falling.values() if f.line.si.kind == "joint" and f.line.si.to == state.name]
        drawn = [p for p in system.pumped.values() if p.line.si.source == state.name]
        if not ways and not drawn:
            yield stop(
                state.name,
                f"{say(FLOW, state.peak)} comes into {state.name} and no line leads out of it. It spills.",
                "Give it a drain and an emergency overflow.",
            )
        elif (
            len(ways) < 2
            and state.vessel.si.kind != "sump"
            and not (ways and drawn)
            and (ways or system.means.comes_without(drawn[0].name, state.name) > COMES * state.peak)
        ):
            what = ways[0].name if ways else drawn[0].name
            if state.vessel.grows:
                beds.append((state, what))
                continue
            yield fix(
                state.name,
                f"{what} is the only way out of {state.name}; if it blocks, {say(FLOW, state.peak)} goes over the rim.",
                f"Give it a second overflow, {_higher(system, [state], say)}, that is always free (emergency = true).",
            )
    if beds:
        state, what = max(beds, key=lambda bed: bed[0].peak)
        kinds = {bed.vessel.si.kind for bed, _ in beds}
        others = (
            f"; {len(beds) - 1} more {kinds.pop() if len(kinds) == 1 else 'vessel'}{'s have' if len(beds) > 2 else ' has'} one way out, too"
            if len(beds) > 1
            else ""
        )
        yield fix(
            state.name,
            f"{what} is the only way out of {state.name}; if it blocks, {say(FLOW, state.peak)} goes over the rim and the pump runs dry{others}.",
            f"Give {'each' if others else 'it'} a second overflow, {_higher(system, [bed for bed, _ in beds], say)}, that is always free (emergency = true).",
        )


def _higher(system, states, say) -> str:
    """How much higher the lip of a second overflow lies than that of the first, so that it is dry while that one runs; the most of several."""
    gaps = []
    for state in states:
        for fall in system.falling.values():
            if fall.line.si.source == state.name and fall.line.si.kind != "joint":
                gaps.append(DRY + (0.0 if fall.siphon else float(drains.standpipe_depth.si(state.peak, fall.line.si.bore))))
    if not gaps:  # only a joint, under water
        return f"its lip at {at_least(say, HEAD, max(state.highest for state in states) + DRY)} or higher"
    return f"its lip {at_least(say, DEPTH, max(gaps))} higher or more"


@finding("screen too fast", notebook="06")
def screen_too_fast(system, say):
    """Water through a screen fast enough to pin small fish."""
    for fall in system.falling.values():
        limit = drains.screen_speed_limit.si(_smallest(system, fall.line.si.source))
        if fall.screen_speed is not None and fall.source.si.kind == "fish tank" and fall.screen_speed > limit:
            area = fall.load / limit
            yield fix(
                fall.name,
                f"Water goes through the screen of {fall.name} at {say(SPEED, fall.screen_speed)}; fish of this size are pinned above {say(SPEED, limit)}.",
                f"Give the screen {at_least(say, HOLES, 2 * area)} of holes: half of them may be blocked.",
            )


@finding("outlet without a screen", notebook="06")
def no_screen(system, say):
    """A way out of a fish tank that nothing keeps the fish from."""
    for fall in system.falling.values():
        f = fall.line.si
        out_of_tank = [v.si.kind == "fish tank" for v in (fall.source, *([fall.to] if f.kind == "joint" else []))]
        if not any(out_of_tank) or f.emergency or f.screen_open_area is not None:
            continue
        body = min(_smallest(system, v.si.name) for v in (fall.source, fall.to) if v.si.kind == "fish tank")
        limit, load = drains.screen_speed_limit.si(body), max(fall.load, abs(fall.mean))
        slot = drains.screen_slot_limit.si(max(body, 0.45e-3))
        yield fix(
            fall.name,
            f"Nothing keeps the fish out of {fall.name}: they swim or are carried into it, and block it.",
            f"Give its mouth a screen with {at_least(say, HOLES, 2 * load / limit)} of holes (screen_open_area), none of them wider than {say(BORE, slot)}, and keep it clean.",
        )


@finding("pipe shorter than its rise", notebook="05")
def too_short(system, say):
    """A pipe that is shorter than from one of its ends to the other: its length, or a height, is wrong."""
    for fall in system.falling.values():
        f = fall.line.si
        if f.length < abs(fall.drop) * _SLACK:
            yield fix(
                fall.name,
                f"{fall.name} is {say(LENGTH, f.length)} long; between its lip and its outlet lie {say(LENGTH, abs(fall.drop))}.",
                f"Measure again: its length is {at_least(say, LENGTH, abs(fall.drop))} at least, or one of the two heights is another.",
            )
    for line in system.pumped.values():
        inlet = line.source.si.floor + (line.line.si.inlet_depth or 0.0)
        heights = {part.si.name: part.si.outlet for part in line.tree.si.stretches if part.si.to}
        for outlet in line.outlets:
            end = heights[outlet.name] if outlet.pipe.si.outlet is None else outlet.pipe.si.outlet
            along = sum(part.si.length for part in way_to(line.line.si, outlet.pipe))
            if along < (end - inlet) * _SLACK:
                yield fix(
                    outlet.name,
                    f"The pipe of {line.name} to {outlet.to} is {say(LENGTH, along)} long, all its stretches together; from the pump's water to its end it rises {say(LENGTH, end - inlet)}.",
                    f"Measure again: it is {at_least(say, LENGTH, end - inlet)} long at least, or a height is another.",
                )

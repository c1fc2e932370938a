"""Findings about falling water: drains, overflows, siphons and screens."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from aquaplumb.plumbing import drains, full_pipe, siphons
from aquaplumb.plumbing.drains import standpipe_depth
from aquaplumb.plumbing.fittings import valve_k
from aquaplumb.plumbing.part_full import SCOUR_SPEED
from aquaplumb.review.findings.base import at_least, at_most, finding, fix, note, shop, stop, wide_enough
from aquaplumb.review.findings.branches import DIRTIER, TRICKLE, carry_more
from aquaplumb.review.findings.siphon_cures import cure_for_a_dribble, cure_for_one_that_runs_on, fits_no_flow
from aquaplumb.system.balance import AS_SAID
from aquaplumb.units import FLOW, LENGTH, SPEED, Kind, in_percent

COMES = 0.01  # of the usual flow: less is only what still runs down
_LITTLE = 0.1  # of the water's depth: a lip so much lower does not change the vessel; common practice, no source
_ROUNDING, _TINY = 1.001, 1e-9  # so that what a cure names is enough when it is typed
_LEAST_FALL, _USUAL_FALL = 0.0099, 0.02  # 1 % (a hair under, for rounding) and 1/4 in a foot: plumbing codes, from memory
DRY = 0.02  # m over the usual water at which an emergency overflow stays dry; common practice, no source
_SHORT = 0.3  # m of pipe in which nothing settles: common practice, no source
HOLES = Kind("an area", "m²", "cm²", "in²", "60 cm2")


def _ways_out(system) -> list:
    """The falling lines, of a tree its first stretch."""
    return [fall for fall in system.falling.values() if fall.leaves_vessel]


@finding("drain short", notebook="06")
def drain_short(system, say):
    """A drain or overflow that carries less than comes in: its vessel is up to the brim, or an emergency overflow takes the rest."""
    for fall in _ways_out(system):
        f, vessel = fall.line.si, system.vessels[fall.source.si.name]
        brim = fall.source.rim - fall.source.si.freeboard
        if (
            fall.load <= 0
            or f.siphon
            or (f.valve and f.opening <= 0)
            or (f.emergency and vessel.highest <= brim and fall.capacity >= DIRTIER * fall.load)
        ):
            continue
        if vessel.highest > brim and fall.room <= 0:
            yield stop(
                fall.name,
                f"{fall.name} takes water in at {say(LENGTH, f.lip)}; {vessel.name} is full at {say(LENGTH, brim)}. It spills first.",
                _carry_more(system, fall, say),
            )
        elif _drowned(fall) and f.kind != "joint":
            continue  # no bore helps: "drain has no fall" says so, where the water does not get through
        elif fall.capacity < fall.load:
            severity, rest = (
                (stop, "The rest goes over.")
                if vessel.highest > brim or f.emergency
                else (fix, "The rest takes the emergency overflow, every day: nothing is left for the day when this one blocks.")
            )
            yield severity(
                fall.name,
                f"{fall.name} carries {say(FLOW, fall.capacity)} before {vessel.name} is full to the brim; {say(FLOW, fall.load)} comes in. {rest}",
                _carry_more(system, fall, say),
            )
        elif fall.capacity < DIRTIER * fall.load:
            yield fix(
                fall.name,
                f"{fall.name} carries {say(FLOW, fall.capacity)}, hardly more than the {say(FLOW, fall.load)} that comes in; a little slime and it spills.",
                _carry_more(system, fall, say),
            )


def _carry_more(system, fall, say) -> str:
    """What lets a falling line carry its load: what holds it up is its valve, its screen, its check valve or its bore."""
    f, way = fall.line.si, fall.way
    high = f.lip + fall.room - fall.bottom
    if f.kind == "joint" and _drowned(fall) and (wider := _wide_joint(fall, high, say)):
        return f"Use {wider}."
    if fall.whole and (cure := carry_more(system, fall, DIRTIER * _ROUNDING * fall.load, say)):
        return cure
    if f.valve and f.opening < 1 and min(way.mouth(fall.room), replace(way, k=_open(fall)).full(high)) >= DIRTIER * fall.load:
        return f"Open its {f.valve}."
    if f.screen_open_area and min(replace(way, screen=None).mouth(fall.room), replace(way, screen=None).full(high)) >= DIRTIER * fall.load:
        return f"Give its screen {say(HOLES, _holes(fall, high))} of holes or more, and keep them clear."
    if way.opening_head and replace(way, opening_head=0.0, check_k=0.0).full(high) >= DIRTIER * fall.load:
        return "Take its check valve out, or use a swing check, which needs far less to open."
    return _cure_for_a_small_drain(system, fall, say)


def _wide_joint(fall, high: float, say) -> str:
    """The size of a joint under water that carries its load where its vessel stands so much [m] higher than the other; "" where none does."""
    standard, offered = shop(say, fall.line.si)
    clear, need = 1 - fall.line.si.screen_blocked, DIRTIER * _ROUNDING * fall.load
    found = (size for size, bore in offered if high > 0 and float(replace(fall.way, bore=bore).full(high, clear)) >= need)
    return next((f"{size} {standard} or wider" for size in found), "")


def _open(fall) -> float:
    f = fall.line.si
    return fall.way.k - valve_k.si(f.valve, f.opening) + valve_k.si(f.valve, 1.0) if f.opening > 0 else fall.way.k


def _holes(fall, high: float) -> float:
    """The open area [m²] with which a line carries its load with margin, at its share of blocked holes."""
    area, clear = fall.line.si.screen_open_area, 1 - fall.line.si.screen_blocked
    for _ in range(60):
        way = replace(fall.way, screen=area)
        if min(way.mouth(fall.room, clear), way.full(high, clear)) >= DIRTIER * fall.load:
            break
        area *= 1.1
    return area


def _speed(fall, slope):
    """The speed [m/s] of a line's load, part full where it slopes; 0 where nothing settles in it: a steep pipe, or clean water."""
    if fall.peak <= TRICKLE or fall.root.si.kind not in ("fish tank", "settling tank"):
        return np.zeros(np.shape(slope))
    bore, sloping = fall.line.si.bore, (np.greater(slope, 0)) & np.less(slope, 1)
    even = np.where(sloping, slope, 0.5)
    fill = drains.gravity_fill.si(fall.peak, bore, even)
    full = np.greater_equal(fill, 1) | _drowned(fall)
    return np.where(sloping, np.where(full, fall.peak / (np.pi / 4 * bore**2), drains.gravity_speed.si(bore, even, fill=fill)), 0.0)


def _scouring(fall) -> float:
    """The slope from which a line's load keeps solids moving; 1 where none does."""
    slopes = np.geomspace(0.005, 1.0, 200)[:-1]
    return float(next(iter(slopes[_speed(fall, slopes) >= SCOUR_SPEED]), 1.0))


def _drowned(fall) -> bool:
    """Whether the water at its lower end stands as high as its lip, so that nothing falls."""
    return fall.bottom >= fall.line.si.lip


def _carries(system, fall, bore: float, lip: float) -> float:
    """What a falling line would carry up to the freeboard with another bore and lip: the lesser of its mouth and its full pipe."""
    top, clear, way = fall.source.rim - fall.source.si.freeboard, 1 - fall.line.si.screen_blocked, replace(fall.way, bore=bore)
    return float(min(way.mouth(max(0.0, top - lip), clear), way.full(max(0.0, top - fall.bottom), clear)))


def _lower_lip(system, fall, need: float) -> float | None:
    """A lip a little lower at which the same pipe carries so much; None where that takes too much water away, or the pipe is too thin."""
    line, source = fall.line.si, fall.source
    clear = 1.0 if line.screen_open_area else 1 - line.screen_blocked
    if clear <= 0:
        return None
    lip = source.rim - source.si.freeboard - float(drains.standpipe_depth.si(need / clear, line.bore))
    least = [source.level - _LITTLE * source.si.working_depth, fall.bottom, line.outlet + _LEAST_FALL * line.length]
    if line.emergency:  # not under the water that stands over the usual lips
        usual = [f for f in system.falling.values() if f.line.si.source == line.source and not f.line.si.emergency]
        least += [f.line.si.lip + f.depth for f in usual]
    while lip > max(least) and _carries(system, fall, line.bore, lip) < need * (1 - _TINY):
        lip -= 1e-3  # a screen before the mouth costs some head, too
    return lip if lip > max(least) else None


def _cure_for_a_small_drain(system, fall, say) -> str:
    """A lip so much lower that the same pipe takes the load with margin, where that does it; a pipe of the table wide enough; several."""
    need, line = DIRTIER * _ROUNDING * fall.load, fall.line.si
    standard, offered = shop(say, line)
    lip = _lower_lip(system, fall, need)
    lower = (
        ""
        if lip is None
        else f"set its lip at {at_most(say, LENGTH, lip)} or lower" + ("" if line.emergency else " (the water then stands lower)")
    )
    at = line.lip
    if fall.room <= 0 and lip is None:
        at, lower = fall.source.level, f"set its lip at {at_most(say, LENGTH, fall.source.level)} or lower"
    wider = next((f"use {size} {standard} or wider" for size, bore in offered if _carries(system, fall, bore, at) >= need), "")
    most = _carries(system, fall, offered[-1][1], at)
    if not wider and most > 0 and lip is None:
        wider = f"use {math.ceil(need / most)} pipes of {offered[-1][0]} {standard} side by side"
    both = (", and " if at != line.lip else ", or ").join(cure for cure in (lower, wider) if cure)
    return _capital(both or "lower the water that it ends in") + "."


@finding("emergency overflow in use", notebook="06")
def emergency_in_use(system, say):
    """An emergency overflow that is wet with nothing blocked, so that its vessel has nothing left when the usual way blocks."""
    for fall in _ways_out(system):
        usual = [other for other in system.falling.values() if other.line.si.source == fall.line.si.source and not other.line.si.emergency]
        if not fall.line.si.emergency or fall.peak <= 0 or not usual or any(0 < other.capacity < other.load for other in usual):
            continue  # dry; or the only way out; or "drain short" says why
        vessel, lowest = system.vessels[fall.source.si.name], min(usual, key=lambda other: other.line.si.lip)
        wider = (
            _wide_joint(lowest, fall.line.si.lip - DRY - lowest.bottom, say) if lowest.line.si.kind == "joint" and _drowned(lowest) else ""
        )
        through = lowest.line.si.kind != "joint"  # a joint lies under water: its lip says nothing
        above = (lowest.line.si.lip + standpipe_depth.si(vessel.peak, lowest.line.si.bore) if through else vessel.highest) + DRY
        yield fix(
            fall.name,
            f"{fall.name} carries up to {say(FLOW, fall.peak)} with nothing blocked: its lip at {say(LENGTH, fall.line.si.lip)} is below the water that {lowest.name} needs to take all. When one of the two blocks, nothing is left.",
            f"Use {wider} for {lowest.name}."
            if wider
            else f"Set its lip at {at_least(say, LENGTH, above)}"
            + (", " if above < fall.source.rim - fall.source.si.freeboard else f" and the rim higher, or the lip of {lowest.name} lower, ")
            + f"and let {lowest.name} carry what comes.",
        )


@finding("working depth off the lip", notebook="06")
def depth_off(system, say):
    """A working depth that the lips do not give: the water stands elsewhere, and so do fish, feed and pump."""
    for v in system.vessels.values():
        said, stands = v.vessel.si.working_depth, min(v.level - v.vessel.si.floor, v.vessel.si.height)
        ways = [f for f in system.falling.values() if v.name in (f.source.si.name, f.to.si.name) and f.mean != 0]
        if abs(stands - said) <= AS_SAID or not ways or any(f.siphon for f in ways if f.line.si.source == v.name) or v.spilled > 0:
            continue
        if any(p.line.si.source == v.name and p.line.si.control.si.kind != "always" for p in system.pumped.values()):
            continue  # it goes up and down with a float or timer
        yield note(
            v.name,
            f"The file says that {v.name} stands {say(LENGTH, said)} deep; its lips hold it at {say(LENGTH, stands)} while the system runs. Fish, feed and turnover are reckoned on that.",
            f'Write working_depth = "{say(LENGTH, stands)}", or move the lip.',
        )


@finding("drain has no fall", notebook="06")
def drain_no_fall(system, say):
    """A line that does not fall, where the water does not get through it for all that; a sloping one that is too flat for solids."""
    for fall in system.falling.values():
        f, vessel = fall.line.si, system.vessels[fall.root.si.name]
        if f.kind == "joint":
            continue
        spills = fall.leaves_vessel and vessel.highest > fall.source.rim - fall.source.si.freeboard
        nothing = fall.leaves_vessel and fall.peak <= COMES * vessel.peak and vessel.peak > 0
        severity = stop if spills else fix
        if fall.drop <= 0 and (spills or nothing) and not f.emergency:
            yield severity(
                fall.name,
                f"{fall.name} goes in at {say(LENGTH, f.lip)} and comes out at {say(LENGTH, f.outlet)}: it does not fall.",
                "Set its outlet below its lip.",
            )
        elif fall.drop < 0:
            yield note(
                fall.name,
                f"{fall.name} rises from {say(LENGTH, f.lip)} to {say(LENGTH, f.outlet)}: the water gets through, and solids settle where it rises.",
                "Set its outlet below its lip, or flush it now and then.",
            )
        elif _drowned(fall) and (spills or nothing) and not f.emergency:
            yield severity(
                fall.name,
                f"{fall.name} comes out under water that stands at {say(LENGTH, fall.to.level)}, as high as its lip: no water falls.",
                "Raise the upper vessel or lower the other one's level.",
            )
        elif not f.emergency and 0 < (speed := _speed(fall, fall.slope)) < SCOUR_SPEED and f.length > _SHORT:
            enough = max(_USUAL_FALL, _scouring(fall))
            yield fix(
                fall.name,
                f"Water runs down {fall.name} at {say(SPEED, speed)}, a fall of {in_percent(fall.slope, 1)}; under {say(SPEED, SCOUR_SPEED)} what fish leave settles there.",
                f"Let it fall {at_least(say, LENGTH, enough * f.length)} from end to end: a higher lip, or a lower outlet."
                if enough < 1
                else "So little water moves no solids: send more through it, use a thinner pipe, let it come in flushes as a siphon or a float does, or flush it by hand.",
            )


@finding("gravity line too full", notebook="06")
def gravity_line_full(system, say):
    """A sloping line that would run full, gulp and block."""
    for fall in system.falling.values():
        f = fall.line.si
        if f.kind != "gravity line" or fall.load <= 0 or not 0 < fall.slope < 1 or fall.name not in system.build.lines:
            continue  # one with branches runs full behind its valves, by intent
        if system.vessels[f.source].level - f.lip >= 2 * f.bore + AS_SAID:
            continue  # so deep under water it takes no air in, and runs full by intent
        half = drains.gravity_flow.si(f.bore, fall.slope, fill=0.5)
        if fall.load > half:
            full = drains.gravity_flow.si(f.bore, fall.slope, fill=0.8)
            severity = fix if fall.load > full else note
            yield severity(
                fall.name,
                f"{fall.name} carries {say(FLOW, half)} half full; {say(FLOW, fall.load)} comes. A gravity line more than half full gulps air and blocks.",
                f"Choose {wide_enough(say, _half_full(fall), f)}, or more fall.",
            )


def _half_full(fall) -> float:
    """The bore in which a sloping line runs half full; Manning's flow goes by the power 8/3 of the bore."""
    f = fall.line.si
    return f.bore * _ROUNDING * (fall.load / drains.gravity_flow.si(f.bore, fall.slope, fill=0.5)) ** 0.375


@finding("overflow can siphon", notebook="06")
def overflow_can_siphon(system, say):
    """An overflow so fast that it runs full, and then sucks its vessel down."""
    quiet, gulping = full_pipe.GULPING, full_pipe.MAY_FILL
    for fall in _ways_out(system):
        f = fall.line.si
        if f.siphon or f.vented or fall.load <= 0 or f.kind == "gravity line" or (f.kind == "joint" and _drowned(fall)):
            continue
        limit = full_pipe.flow_at_froude.si(quiet, f.bore)
        bore = f.bore * (fall.load / limit) ** 0.4
        if f.emergency and fall.froude > quiet:
            yield fix(
                fall.name,
                f"{fall.name} takes {say(FLOW, fall.load)} when the usual way is blocked; it stays quiet to {say(FLOW, limit)}. Past that it can fill and pull {fall.source.si.name} down to where it takes its water in.",
                f"Use {wide_enough(say, bore, f)}, or give it an open top (vented = true).",
            )
        elif fall.froude > gulping:
            yield fix(
                fall.name,
                f"{fall.name} carries {say(FLOW, fall.load)}; above {say(FLOW, full_pipe.flow_at_froude.si(gulping, f.bore))} it can run full and pull {fall.source.si.name} down to where it takes its water in.",
                f"Use {wide_enough(say, bore, f)}, or give it an open top (vented = true).",
            )
        elif fall.froude > quiet:
            yield note(
                fall.name,
                f"{fall.name} carries {say(FLOW, fall.load)}; above {say(FLOW, limit)} it gulps air: loud, and the level jumps.",
                f"{_capital(wide_enough(say, bore, f))} is quiet; an open top (vented = true) keeps it from siphoning.",
            )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


@finding("siphon never starts", notebook="06")
def siphon_never_starts(system, say):
    """Too little water to fill the siphon: it dribbles over for ever."""
    for fall in system.falling.values():
        if not fall.siphon or fall.load <= 0:
            continue
        s = fall.siphon.si
        if s.starts == "no":
            runs_on = " One thin enough to start would not be sure to stop with so little fall." if fits_no_flow(fall, say) else ""
            yield fix(
                fall.name,
                f"{fall.name} gets {say(FLOW, fall.load)}; it may start from {say(FLOW, s.starting.si.may)} and is sure to from {say(FLOW, s.starting.si.sure)}. Below that it dribbles and never empties {fall.source.si.name}.{runs_on}",
                cure_for_a_dribble(fall, say),
            )
        elif s.starts == "may" and s.stops != "no":  # else "siphon never stops" says it
            yield note(
                fall.name,
                f"{fall.name} gets {say(FLOW, fall.load)}; it may start from {say(FLOW, s.starting.si.may)}, and is sure to from {say(FLOW, s.starting.si.sure)}. No measured starting flow is in print.",
                "Try it twenty times with a bucket before you trust it.",
            )


@finding("siphon never stops", notebook="06")
def siphon_never_stops(system, say):
    """As much water comes in as the siphon carries at its vent: it runs for ever."""
    for fall in system.falling.values():
        if not fall.siphon or _drowned(fall) or (fall.siphon.si.starts == "no" and fall.load > 0):
            continue  # what never starts need not stop
        s = fall.siphon.si
        if s.stops == "no":
            yield fix(
                fall.name,
                f"{fall.name} gets {say(FLOW, fall.load)}, and carries {say(FLOW, s.flow_at_vent)} when the water is down at its vent: air never gets in, it never stops{' once it starts' if s.starts == 'may' else ''}.",
                cure_for_one_that_runs_on(fall, say),
            )
        elif s.stops == "doubtful":
            yield note(
                fall.name,
                f"{fall.name} gets {say(FLOW, fall.load)} and carries {say(FLOW, s.flow_at_vent)} at its vent: it may not stop when it is dirty.",
                f"Aim for {at_most(say, FLOW, s.flow_at_vent / siphons.MARGIN)} or less.",
            )

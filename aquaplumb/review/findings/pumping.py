"""Findings about the pump on its curve."""

from __future__ import annotations

import math

from aquaplumb.build.records import way_to
from aquaplumb.build.vessels import water_volume
from aquaplumb.plumbing import pumps
from aquaplumb.plumbing.lines import required_head
from aquaplumb.review.findings.base import at_least, finding, fix, note, stop
from aquaplumb.system.each_line import checked_ends
from aquaplumb.units import FLOW, HEAD, LENGTH, TIME, VOLUME

# All common practice, no source: a flow this far short is within what a bucket and a watch can tell; half is a failure.
ENOUGH, _HALF = 0.95, 0.5
_LEAST_FLOW, _MOST_LIFT = 0.1, 0.85  # of the pump's largest flow, of its shut-off head: beyond, it is near shut-off
_FAR_TOO_STRONG = 2.5  # times the flow that is needed
SHORTEST_CYCLE = 600.0  # s between starts where the maker says nothing: six an hour
_MUCH_TOO_SOON, _ROOMIER = 0.9, 1.2  # of the shortest cycle, for starts that come in bursts; times the room that the same bursts need
_SLACK = 1.1  # the pump brings more with its water higher than where the float stops it


@finding("pump short at real head", notebook="08")
def pump_short(system, say):
    """A pump that does not bring the flow at the head it really meets."""
    for line in system.pumped.values():
        shut_off, largest = float(line.pump.si.head[0]), float(line.pump.si.flow[-1])
        name, control = line.pump.si.name, line.line.si.control.si.kind
        if control == "timer" and line.flow >= ENOUGH * line.wanted * line.duty > 0:
            continue  # it would do if it ran all the time: "timer too short" says so
        if line.flow <= 0 and _all_shut(line):
            yield stop(
                line.name,
                f"{line.name} moves no water, though {name} could lift it {say(HEAD, shut_off)}: its valves are shut.",
                "Open the valve of each branch.",
            )
        elif line.flow <= 0:
            yield stop(
                line.name,
                f"{name} lifts water {say(HEAD, shut_off)} at most; {line.name} needs {say(HEAD, line.start)} before any water moves. Nothing comes.",
                "Choose a pump with more head: its highest point well above the lift.",
            )
        elif math.isfinite(line.wanted) and line.flow < ENOUGH * line.wanted:
            box = f" The {say(FLOW, largest)} on its box hold at no lift." if largest >= line.wanted else ""
            severity = stop if line.flow < _HALF * line.wanted else fix
            yield severity(
                line.name,
                f"{name} brings {say(FLOW, line.flow)} at {say(HEAD, line.head)} through {line.name}; {say(FLOW, line.wanted)} is needed {line.wanted_why}.{box}",
                f"Choose a pump that brings {at_least(say, FLOW, line.wanted)} at {at_least(say, HEAD, required_head.si(line.tree, line.wanted))}, which is what this pipe asks for then, or a bigger pipe.",
            )
        elif math.isfinite(line.wanted) and line.low < ENOUGH * line.wanted:
            yield note(
                line.name,
                f"If its fittings cost as much as the high tables say, {name} brings {say(FLOW, line.low)} through {line.name}; {say(FLOW, line.wanted)} is needed.",
                "Measure it with a bucket and a watch, or choose the next bigger pump.",
            )


def _all_shut(line) -> bool:
    """Whether a shut valve stands on the way to every outlet."""
    return all(any(p.si.valve and p.si.opening <= 0 for p in way_to(line.line.si, outlet.pipe)) for outlet in line.outlets)


@finding("pump outside its curve", notebook="08")
def pump_outside(system, say):
    """A pump run beyond its last point, or near its shut-off head."""
    for line in system.pumped.values():
        largest, shut_off = float(line.pump.si.flow[-1]), float(line.pump.si.head[0])
        if line.flow > largest:
            yield fix(
                line.name,
                f"{line.name} runs its pump at {say(FLOW, line.flow)}, past the last point of its curve, {say(FLOW, largest)}: its maker gives no figure there.",
                "Choose a pump of more flow and less head, or throttle after the pump.",
            )
        elif 0 < line.flow < _LEAST_FLOW * largest or (line.flow > 0 and line.lift > _MOST_LIFT * shut_off):
            yield fix(
                line.name,
                f"{line.name} lifts {say(HEAD, line.lift)} of the {say(HEAD, shut_off)} that its pump can: near shut-off a little wear or dirt stops the flow.",
                "Choose a pump with more head, or lower the outlets.",
            )


@finding("pump far too strong", notebook="08")
def pump_too_strong(system, say):
    """A pump that brings much more than is needed."""
    for line in system.pumped.values():
        if math.isfinite(line.wanted) and line.wanted > 0 and line.flow > _FAR_TOO_STRONG * line.wanted:
            yield note(
                line.name,
                f"{line.name} brings {say(FLOW, line.flow)}; {say(FLOW, line.wanted)} is needed {line.wanted_why}. The rest costs power all year.",
                "Look for a smaller one among the pumps of notebook 08.",
            )


@finding("float chatters", notebook="09")
def float_chatters(system, say):
    """A float switch that starts its pump too often."""
    for line in system.pumped.values():
        c = line.line.si.control.si
        if c.kind != "float" or line.flow <= 0:
            continue
        shortest, vessel = line.pump.si.shortest_cycle or SHORTEST_CYCLE, line.source
        volume = water_volume.si(vessel, c.on_depth) - water_volume.si(vessel, c.off_depth)
        starts, between = _starts(system, line, volume)
        if starts * shortest <= 1 and between >= _MUCH_TOO_SOON * shortest:
            continue
        bursts = starts * shortest <= 1
        often = (
            f"each {say(TIME, between)}; the pump bears a start each {say(TIME, shortest)}"
            if bursts
            else f"{starts * 3600:.0f} times an hour; the pump bears {3600.0 / shortest:.0f} (one each {say(TIME, shortest)})"
        )
        # Where it is no matter of bursts, the worst inflow is half of the pump's flow, whatever comes today.
        needed = volume * _ROOMIER * shortest / between if bursts else _SLACK * pumps.float_volume.si(shortest, line.flow)
        back = not all(checked_ends(line.line).values())
        needed += system.network.line_held[system.network.lines.index(line.name)] if back else 0.0
        gap = (c.on_depth - c.off_depth) * needed / volume if volume > 0 else math.inf
        fits = c.off_depth + gap < vessel.si.height - vessel.si.freeboard
        yield fix(
            line.name,
            f"The float switch of {line.name} starts its pump {often}." + (" What its pipe holds runs back at each stop." if back else ""),
            ("Fit a check valve. " if back else "")
            + f"It needs {say(VOLUME, needed)} between its on and off depths: "
            + (f"set them {at_least(say, LENGTH, gap)} apart." if fits else f"{vessel.si.name} is too small for that."),
        )


def _starts(system, line, volume: float) -> tuple[float, float]:
    """(starts of a float's pump in a second [1/s], the usual time between two [s]): as its run shows, else by what comes on the mean."""
    if system.shown:
        seen = [one.pumps[line.name] for one in system.shown.bands]
        return max(one.starts for one in seen), min(one.between for one in seen)
    inflow = system.vessels[line.line.si.source].mean
    if not 0 < inflow < line.flow:
        return 0.0, math.inf
    starts = float(pumps.starts_per_hour.si(volume, inflow=inflow, pump_flow=line.flow))
    return starts, 1 / starts if starts > 0 else math.inf


@finding("pump draws air", notebook="09")
def pump_draws_air(system, say):
    """A pump whose inlet is not deep enough under water."""
    for line in system.pumped.values():
        least, c = line.line.si.inlet_depth, line.line.si.control.si
        if least is None:
            continue
        depth = c.off_depth if c.kind == "float" else line.source.si.working_depth
        if c.kind != "float" and system.shown and not system.shown.pumps[line.name].dry:
            continue  # its water stands elsewhere than the file says
        if depth < least:
            yield stop(
                line.name,
                f"The water in {line.source.si.name} stands {say(LENGTH, depth)} deep when the pump of {line.name} still runs; its inlet needs {say(LENGTH, least)}.",
                "Raise the level or the float's off depth; a pump that draws air stops moving water and burns out.",
            )

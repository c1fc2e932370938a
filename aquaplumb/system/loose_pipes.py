"""A pipe comes off its pump, a vessel leaks: how far down each can bring a fish tank, and what decides. Bare SI numbers.

A pump whose pipe is off throws out all that it can reach: its own vessel down to its inlet or its low-level switch. A fish
tank that it does not stand in loses what stands over its lip, and more where a joint under water binds the two, or where
the loose pipe ends under its water and nothing holds it: down to the hole for air in that pipe, else to its end.

Source: balance of mass; heights as in the build file.
"""

from __future__ import annotations

from dataclasses import dataclass

from aquaplumb.build.vessels import water_volume
from aquaplumb.system.each_line import checked_ends
from aquaplumb.system.steady import Steady


@dataclass(frozen=True, slots=True)
class LoosePipe:
    """What one pump does to one fish tank once its pipe is off."""

    line: str
    source: str  #: the vessel that the pump draws from
    tank: str
    usual: float  #: depth of the tank in use [m]
    left: float  #: … when nothing more runs out [m]
    share: float  #: of its usual water that is left
    why: str  #: what decides, as the end of a sentence
    lost: float  #: out of the pump's own vessel [m³]
    minutes: float  #: in which the pump throws that out, nothing coming back [min]


def stops_at(line) -> tuple[float, str]:
    """The depth at which a pump no longer draws, and what stops it; `line` is a bare `PumpedLine`."""
    inlet, control = line.inlet_depth or 0.0, line.control.si
    if control.cut_out_depth is not None and control.cut_out_depth > inlet:
        return control.cut_out_depth, "its low-level switch stops it there"
    if control.kind == "float" and control.off_depth > inlet:
        return control.off_depth, "its float switch stops it there"
    return inlet, "its inlet draws air there" if line.inlet_depth else "nothing stops it: the file gives no inlet_depth"


def loose_pipes(system: Steady) -> list[LoosePipe]:
    """Each pump with its pipe off, and each fish tank."""
    return [_loose(system, line, tank) for line in system.pumped.values() for tank in system.build.of_kind("fish tank")]


def _loose(system: Steady, line, tank) -> LoosePipe:
    source, t = line.source, tank.si
    stop, why_stop = stops_at(line.line.si)
    usual = system.running_depth(t.name)
    here = system.running_depth(source.si.name)
    lost = max(0.0, water_volume.si(source, here) - water_volume.si(source, min(stop, here)))
    if source.si.name == t.name:
        left, why = min(stop, usual), why_stop
    else:
        left, why = min(_behind(system, line, tank, usual, source.si.floor + stop), key=lambda one: one[0])
    share = water_volume.si(tank, left) / max(water_volume.si(tank, usual), 1e-9)
    return LoosePipe(line.name, source.si.name, t.name, usual, left, share, why, lost, lost / float(line.pump.si.flow[-1]) / 60)


def _behind(system: Steady, line, tank, usual: float, reaches: float):
    """(depth left, why) of each way by which a tank may lose water to a pump that stands elsewhere."""
    t = tank.si
    lips = [f.least_lip - t.floor for f in system.build.falling.values() if f.si.source == t.name and f.si.kind != "joint"]
    yield (min(usual, max(0.0, min(lips))), "it falls to its lip, and stands") if lips else (usual, "nothing leaves it")
    for f in system.build.falling.values():
        ends = {f.si.source: f.si.to, f.si.to: f.si.source}
        if f.si.kind == "joint" and ends.get(t.name) == line.source.si.name:
            yield min(usual, max(0.0, max(reaches, f.si.lip) - t.floor)), f"{f.si.name} binds it to {line.source.si.name}"
    held = checked_ends(line.line)
    for pipe in (o.pipe.si for o in line.outlets if o.to == t.name and not held[o.name]):
        end = tank.rim if pipe.outlet is None else pipe.outlet
        if end - t.floor < usual:
            low = end if pipe.break_hole is None else max(end, pipe.break_hole)
            what = (
                "the hole for air in it stops that"
                if pipe.break_hole is not None
                else "no hole lets air into it, and no check valve holds it"
            )
            yield min(usual, max(0.0, low - t.floor)), f"it runs back through “{pipe.name}”: {what}"


def spare_water(system: Steady, line: str) -> float:
    """What may be lost anywhere before the pump of a line draws air: the water over its inlet in its vessel [m³]."""
    state = system.pumped[line]
    here, stop = system.running_depth(state.source.si.name), stops_at(state.line.si)[0]
    return max(0.0, water_volume.si(state.source, here) - water_volume.si(state.source, min(stop, here)))

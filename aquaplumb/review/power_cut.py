"""What comes down when the power fails, and whether the lowest vessel holds it, for many designs at once.

The water that stands over lips, the beds' water above their vents, films on their way and what is left in pipes without
a check valve run down the falling lines until all is still. `aquaplumb.system.levels` follows the same through time, for one design; this is
its end, at the worst moment: each bed just let go by its siphon, each vessel of a float switch just emptied
(or, for itself, just full).
All numbers in here are bare SI.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from aquaplumb.build.records import check_valve_to
from aquaplumb.build.vessels import plan_area, water_depth, water_volume
from aquaplumb.plumbing import drains, fittings, full_pipe
from aquaplumb.review.ranges import OVERFLOWS, VOIDS
from aquaplumb.system import films

_STILL = 1e-9  # m³


@dataclass(frozen=True, slots=True)
class Rest:
    """What a vessel holds when all is still, in each design."""

    depth: np.ndarray  #: [m]
    volume: np.ndarray  #: [m³]
    room: np.ndarray  #: up to its rim [m³]


def at_rest(build, drawn, loads: dict[str, np.ndarray]) -> dict[str, Rest]:
    """What each vessel without a way out holds when all is still, by name.

    Parameters
    ----------
    build : Build
    drawn : designs.Drawn
        The unknowns' values.
    loads : dict
        The flow of each falling line while the pumps run, by name [m³/s].

    Source: conservation of water; compared with `aquaplumb.system.levels` in the tests.
    """
    vessels = {name: _with_voids(v, drawn) for name, v in build.vessels.items()}
    running = {name: _running_depth(build, v, drawn, loads) for name, v in vessels.items()}
    for f in _joints(build):  # either stands at least as high as the other, and that from which it runs by its head higher
        one, other = vessels[f.source].si, vessels[f.to].si
        head = full_pipe.full_bore_head.si(np.abs(loads[f.name]), f.bore, f.length, k=fittings.ENTRANCE + fittings.EXIT)
        level = np.maximum(one.floor + running[f.source], other.floor + running[f.to] + head)
        running[f.source] = np.minimum(level - one.floor, one.height)
        running[f.to] = np.minimum(np.maximum(running[f.to], level - head - other.floor), other.height)
    on_its_way = {name: _on_its_way(build, v, running[name], loads) for name, v in vessels.items()}
    ways = _ways(build, vessels, drawn, loads)
    floats = {line.si.source for line in build.pumped.values() if line.si.control.si.kind == "float"}
    found = {}
    for full in (False, True):
        still = _come_to_rest(ways, _held(build, vessels, running, on_its_way, drawn, full))
        for name in vessels.keys() - {name for name, *_ in ways}:
            if (name in floats) == full:  # for itself, a float's vessel is fullest just before its pump starts
                v, volume = vessels[name], still[name]
                room = water_volume.si(v, v.si.height)
                depth = water_depth.si(v, volume) + np.maximum(volume - room, 0.0) / plan_area.si(v)  # as if its walls went on
                found[name] = Rest(depth, volume, drawn.full(room))
    return {name: found[name] for name in vessels if name in found}


def _held(build, vessels, running, on_its_way, drawn, full: bool) -> dict[str, np.ndarray]:
    """What each vessel holds when the power fails: floats' vessels `full`, or just emptied, their water in the vessels that it goes to."""
    held = {name: drawn.full(water_volume.si(v, running[name]) + on_its_way[name]) for name, v in vessels.items()}
    for line in build.pumped.values():
        p, c = line.si, line.si.control.si
        if c.kind == "float":
            if full:
                held[p.source] = np.maximum(held[p.source], water_volume.si(vessels[p.source], c.on_depth))
            else:
                gone = np.maximum(held[p.source] - water_volume.si(vessels[p.source], c.off_depth), 0.0)
                held[p.source] = held[p.source] - gone
                ends = [end.si.to for end in p.pipe if end.si.to]
                for to in ends:
                    held[to] = held[to] + gone / len(ends)
        if not all(check_valve_to(p, end) for end in p.pipe if end.si.to):
            held[p.source] = held[p.source] + sum(np.pi / 4 * s.si.bore**2 * s.si.length for s in (*p.suction, *p.pipe))
    return held


def _come_to_rest(ways: list, held: dict) -> dict[str, np.ndarray]:
    """All that stands above a vessel's way out runs on, until nothing moves."""
    for _ in range(2 * len(held)):
        moved = 0.0
        for name, rest, to in ways:
            over = np.maximum(held[name] - rest, 0.0)
            held[name], held[to] = held[name] - over, held[to] + over
            moved = max(moved, float(over.max()))
        if moved < _STILL:
            break
    return held


def _with_voids(vessel, drawn):
    """A bed with the voids of each design."""
    if vessel.si.media_depth is None or VOIDS not in drawn.values:
        return vessel
    return vessel.with_si(void=np.minimum(1.0, vessel.si.void * drawn(VOIDS)))


def _running_depth(build, vessel, drawn, loads):
    """How deep a vessel stands while the system runs: as in `levels`, its working depth, or what it takes to push its water over the lip."""
    v = vessel.si
    depth = v.working_depth + drawn(f"water level in {v.name}", 0.0)
    falls = [f.si for f in build.falling.values() if f.si.source == v.name and not f.si.emergency and not f.si.siphon]
    if not falls or any(line.si.source == v.name for line in build.pumped.values()):
        return depth
    lowest = min(falls, key=lambda f: f.lip)
    over = drains.standpipe_depth.si(loads[lowest.name] / drawn(OVERFLOWS), lowest.bore)
    return np.minimum(np.maximum(depth, lowest.lip - v.floor + over), v.height)


def _on_its_way(build, vessel, depth, loads):
    """What is on its way through a channel, a tower or trickling media while the system runs, beside what stands at its foot."""
    drains = [f.si.name for f in build.falling.values() if f.si.source == vessel.si.name and not f.si.emergency and not f.si.siphon]
    return films.film(vessel, sum(loads[name] for name in drains), build.site.si.coldest_water, depth) if drains else 0.0


def _joints(build) -> list:
    """The pipes that hold two vessels at one level."""
    return [f.si for f in build.falling.values() if f.si.kind == "joint" and {f.si.source, f.si.to} <= build.vessels.keys()]


def _lands(build, f) -> str:
    """The vessel that a falling line ends in; of a tree of pipe, that at its lowest end."""
    while f.to not in build.vessels:
        f = min((g.si for g in build.falling.values() if g.si.source == f.to), key=lambda g: g.outlet)
    return f.to


def _ways(build, vessels, drawn, loads) -> list[tuple]:
    """(vessel, what stays in it, where the rest goes): its lowest lip, and pipe ends under water that let it back."""
    stays: dict[str, list[tuple]] = {name: [] for name in vessels}  # of each vessel: lip, lip in each design, where it goes
    joints = _joints(build)
    for f in (f.si for f in build.falling.values() if f.si.source in vessels and f.si not in joints):
        if f.siphon:
            stop = f.siphon.si.vent
        elif f.intake is not None and not f.vented:  # it may run full, and then pulls the vessel down
            stop = np.where(full_pipe.froude.si(loads[f.name], f.bore) >= full_pipe.MAY_FILL, min(f.intake, f.lip), f.lip)
        else:
            stop = f.lip
        stays[f.source].append((float(np.min(stop)), stop, _lands(build, f)))
    alone = {name: min(found, key=lambda stay: stay[0]) for name, found in stays.items() if found}
    for f in joints:  # either way, down to where the other vessel stands
        for name, other in ((f.source, f.to), (f.to, f.source)):
            if other in alone:
                stop = np.maximum(f.lip, alone[other][1])
                stays[name].append((float(np.min(stop)), stop, other))
    ways = []
    for name, found in stays.items():
        if found:
            _, stop, to = min(found, key=lambda stay: stay[0])
            ways.append((name, water_volume.si(vessels[name], stop - vessels[name].si.floor), to))
    for line in build.pumped.values():
        for end in line.si.pipe:
            e = end.si
            if not e.to or check_valve_to(line.si, end):
                continue
            mouth = vessels[e.to].rim if e.outlet is None else e.outlet
            air = mouth if e.break_hole is None else max(mouth, e.break_hole)
            if air < vessels[e.to].rim:
                ways.append((e.to, water_volume.si(vessels[e.to], air - vessels[e.to].si.floor), line.si.source))
    return ways

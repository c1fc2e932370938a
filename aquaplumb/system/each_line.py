"""A build's lines as they lie, whatever comes to them: the tree of each pumped line with its pump at work, the way of each falling one.

Bare SI numbers. `aquaplumb.system.balance` and `aquaplumb.system.flow_tables` are both made of it.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, field, replace
from pathlib import Path

from aquaplumb.build import Build, FallingLine, FallingTree, PumpedLine
from aquaplumb.build.records import check_valve_to
from aquaplumb.build.trees import pieces
from aquaplumb.build.vessels import Vessel
from aquaplumb.plumbing import falls, lines, pumps, siphons
from aquaplumb.plumbing.branches import Branches
from aquaplumb.system.states import FallingPipe, Outlet, PumpedPipes
from aquaplumb.units import Bare

MEASURED_LOSS = (
    0.10  # part of a line's losses that a bucket leaves open: flow goes as their root, and is good to 5 % (common practice, no source)
)
MEASURED_PUMP = 0.02  # part of a pump's flow and head that it leaves open (common practice, no source)
_KEPT = 256  # lines that are kept solved: on a slider's move only those that it changes are solved anew


def pump_of(build: Build, line: PumpedLine) -> pumps.Pump:
    """The pump of a line, at its voltage; a pump file is looked for beside the build file."""
    p = line.si
    folder = build.path.parent if build.path else Path()
    pump = pumps.from_csv(folder / p.pump_file) if p.pump_file else pumps.pump(p.pump)
    if p.voltage is not None:
        pump = pumps.at_voltage.si(pump, p.voltage)
    return weaker(pump if p.speed == 1 else pumps.at_speed.si(pump, p.speed), p.pump_factor)


def weaker(pump: pumps.Pump, factor: float) -> pumps.Pump:
    """The same pump with so much of its points' flow and head; it draws what it drew at them."""
    return pump if factor == 1 else pump.with_si(flow=pump.si.flow * factor, head=pump.si.head * factor)


def lowest_water(line: PumpedLine, source: Vessel) -> float:
    """The elevation [m] that a pump may have to lift from: a float's off level, else the working level."""
    control = line.si.control.si
    return source.si.floor + control.off_depth if control.kind == "float" else source.level


def tree(build: Build, line: PumpedLine) -> lines.Line:
    """The pumped line as the tree of pipe that the solver knows."""
    p = line.si
    return lines.Line.from_si(
        name=p.name,
        source=lowest_water(line, build.vessels[p.source]),
        temperature=build.site.si.coldest_water,
        suction=tuple(_stretch(pipe, build.vessels, p.loss_factor) for pipe in p.suction),
        stretches=tuple(_stretch(pipe, build.vessels, p.loss_factor) for pipe in p.pipe),
        strainer_blocked=p.strainer_blocked,
    )


def _stretch(pipe, vessels, factor: float) -> lines.Stretch:
    costs = {"loss_factor": factor * pipe.si.loss_factor}
    if not pipe.si.to:
        return pipe.stretch(**costs)
    vessel, outlet = vessels[pipe.si.to], pipe.si.outlet
    return pipe.stretch(max(vessel.level, vessel.rim if outlet is None else outlet), **costs)


def costing(line: lines.Line, factor: float) -> lines.Line:
    """The line with every stretch costing so many times as much head."""
    more = [[part.with_si(loss_factor=factor * part.si.loss_factor) for part in parts] for parts in (line.si.suction, line.si.stretches)]
    return line.with_si(suction=tuple(more[0]), stretches=tuple(more[1]))


def pumped_pipes(build: Build, line: PumpedLine) -> PumpedPipes:
    """A pumped line while its pump runs."""
    if line.si.pump_file:  # a file may change
        return _pumped(build, line)
    ends = tuple(build.vessels[pipe.si.to] for pipe in line.si.pipe if pipe.si.to)
    kept = _kept_pumped(_Alone(build, build.site.si.coldest_water, build.vessels[line.si.source], ends), line)
    own = {pipe.si.name: pipe for pipe in line.si.pipe}  # what was kept may be of another build with the same line
    outlets = [replace(outlet, pipe=own[outlet.name]) for outlet in kept.outlets]
    return replace(kept, line=line, source=build.vessels[line.si.source], outlets=outlets)


@dataclass(frozen=True)
class _Alone:
    """A build, compared by what one of its lines has to do with."""

    build: Build = field(compare=False)
    coldest: float
    source: Vessel
    ends: tuple[Vessel, ...]


@functools.lru_cache(maxsize=_KEPT)
def _kept_pumped(alone: _Alone, line: PumpedLine) -> PumpedPipes:
    return _pumped(alone.build, line)


def _pumped(build: Build, line: PumpedLine) -> PumpedPipes:
    p = line.si
    made, pump = tree(build, line), pump_of(build, line)
    typical = lines.flows.si(made, pump).si
    if p.measured_on:  # print's band is gone
        band = [lines.flows.si(costing(made, 1 + way * MEASURED_LOSS), weaker(pump, 1 - way * MEASURED_PUMP)).si.flow for way in (1, -1)]
    else:
        band = [lines.flows.si(made, pump, band=b).si.flow for b in ("low", "high")]
    ends = [pipe for pipe in p.pipe if pipe.si.to]
    total = typical.flow
    into = dict(zip(typical.ends, typical.end_flow))
    shares = _shares(ends)
    return PumpedPipes(
        name=p.name,
        line=line,
        tree=made,
        pump=pump,
        stretch_flow=dict(zip(typical.names, typical.stretch_flow)),
        stretch_speed=dict(zip(typical.names, typical.speed)),
        suction_loss=float(sum(typical.loss[: len(p.suction)])),
        source=build.vessels[p.source],
        flow=total,
        head=typical.head,
        low=min(band),
        high=max(band),
        outlets=[
            Outlet(
                name=end.si.name,
                to=end.si.to,
                flow=into[end.si.name],
                share=into[end.si.name] / total if total > 0 else 0.0,
                wanted_share=shares[end.si.name],
                pipe=end,
            )
            for end in ends
        ],
        start=float(lines.required_head.si(made, 0.0)),
        lift=max(part.si.outlet for part in made.si.stretches if part.si.to) - made.si.source,
    )


def _shares(ends) -> dict[str, float]:
    """The wanted share of each outlet; what is not said is split evenly over the rest, and the whole is one."""
    said = {e.si.name: e.si.share for e in ends if e.si.share is not None}
    silent = [e.si.name for e in ends if e.si.share is None]
    left = max(0.0, 1.0 - sum(said.values()))
    shares = {**said, **{name: left / len(silent) for name in silent}}
    whole = sum(shares.values())
    return {name: share / whole for name, share in shares.items()} if whole > 0 else dict.fromkeys(shares, 1 / len(shares))


@functools.lru_cache(maxsize=_KEPT)
def checked_ends(line: PumpedLine) -> dict[str, bool]:
    """Whether a check valve stands on the way to each end of a pumped line, by its stretch."""
    return {end.si.name: check_valve_to(line.si, end) for end in line.si.pipe if end.si.to}


def siphon_start(f) -> Bare:
    """The flows from which a falling line may fill and is sure to, bare: as measured, else by its bore."""
    band, measured = siphons.siphon_starting_band.si(f.bore).si, f.siphon.start_band if f.siphon else None
    return Bare(never_below=min(band.never_below, measured[0]), may=measured[0], sure=measured[1]) if measured else band


@functools.lru_cache(maxsize=_KEPT)
def line_way(line: FallingLine, coldest: float, exits: bool = True) -> falls.Way:
    """The way of a falling line's water, in the coldest water [K]; `exits` where it ends in a vessel."""
    return falls.way_of(line.si, coldest, exits=exits)


def places(build: Build) -> dict[str, Vessel]:
    """The vessels, then the junctions of falling trees, by name."""
    return {**build.vessels, **build.junctions}


def falling_pipes(build: Build) -> dict[str, FallingPipe]:
    """Every falling line, of a tree every stretch, and what it carries with its vessel up to the freeboard."""
    at, found = places(build), {}
    for name, line in build.lines.items():
        if isinstance(line, FallingLine):
            source, to = at[line.si.source], at[line.si.to]
            found[name] = replace(_falling(line, source, to, build.site.si.coldest_water), line=line, source=source, to=to, root=source)
        elif isinstance(line, FallingTree):
            found |= _tree_pipes(build, line, at)
    return found


@functools.lru_cache(maxsize=_KEPT)
def _falling(line: FallingLine, source: Vessel, to: Vessel, coldest: float) -> FallingPipe:
    f, way = line.si, line_way(line, coldest)
    lip, end = line.least_lip, line.lower_end
    room = max(0.0, source.rim - source.si.freeboard - lip)
    bottom = max(end, to.level)
    clear = 1.0 - f.screen_blocked
    capacity = min(way.mouth(room, clear), way.full(max(0.0, lip + room - bottom), clear))
    k = way.k + way.check_k
    return FallingPipe(
        name=f.name, line=line, source=source, to=to, root=source, way=way, k=k, room=room, bottom=bottom, capacity=float(capacity),
        drop=f.lip - f.outlet, slope=_slope(f), siphon_flow=_siphon_flow(f, way, k, lip - bottom), whole=None,
    )  # fmt: skip


def _slope(f) -> float:
    return (f.lip - f.outlet) / f.length if f.length > 0 else math.inf


def _siphon_flow(f, way: falls.Way, k: float, fall: float) -> float | None:
    full = {"length": f.length, "k": k, "temperature": way.temperature}
    return siphons.siphon_flow.si(max(0.0, fall), f.bore, **full) if f.siphon else None


def _tree_pipes(build: Build, tree: FallingTree, at: dict[str, Vessel]) -> dict[str, FallingPipe]:
    """The stretches of a tree. The first stands for the whole: what it carries goes through all of it."""
    t, own, coldest, root = tree.si, pieces(tree), build.site.si.coldest_water, at[tree.si.source]
    names, lines = list(own), list(own.values())
    first = next(i for i, line in enumerate(lines) if line.si.source == t.source)
    ways = [line_way(line, coldest, line.si.to in build.vessels) for line in lines]
    bottoms = [max(line.lower_end, at[line.si.to].level if line.si.to in build.vessels else -math.inf) for line in lines]
    ends_at = {line.si.to: i for i, line in enumerate(lines)}
    whole = Branches(ways, tuple(ends_at.get(line.si.source, -1) for line in lines), bottoms)
    lip, clear = lines[first].least_lip, 1.0 - t.screen_blocked
    room = max(0.0, root.rim - root.si.freeboard - lip)
    most = whole.flows(lip + room, float(ways[first].mouth(room, clear)))
    found = {}
    for i, (name, line, way) in enumerate(zip(names, lines, ways)):
        f, bottom, k = line.si, bottoms[i], way.k + way.check_k
        if i == first:
            bottom, k = whole.lowest, whole.as_one(lip, first)
        found[name] = FallingPipe(
            name=name, line=line, source=at[f.source], to=at[f.to], root=root, way=way, k=k, room=room, bottom=bottom, capacity=float(most[i]),
            drop=f.lip - f.outlet, slope=_slope(f), siphon_flow=_siphon_flow(f, way, k, lip - bottom), whole=whole if i == first else None,
        )  # fmt: skip
    return found

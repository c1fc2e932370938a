"""The lines of a first build: the tree of pipe for each pump, the pump, the valves, and what falls.

Part of `aquaplumb.build.layouts`, which is the face of all this. All numbers are bare SI.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from aquaplumb.build.falling_records import FallingLine, Siphon
from aquaplumb.build.layout_plan import End, Loop, Plan, up
from aquaplumb.build.records import Pipe
from aquaplumb.build.vessels import Vessel
from aquaplumb.plumbing import drains, full_pipe, lines, pipe_sizes, pipes, pumps
from aquaplumb.plumbing.fittings import ENTRANCE, EXIT, fitting_head, valve_k, valve_opening
from aquaplumb.plumbing.fittings import k as fitting_k
from aquaplumb.units import DesignError

_SPEED, _FASTEST = 1.1, 1.4  # m/s: what pipe is chosen for, and what it may become with the pump that there is
_CARRIES, _QUIET = 1.6, 0.27  # times what comes in; the Froude number of an overflow with no open top
_ENOUGH, _LEAST_OPEN = 1.3, 0.35  # times what is wanted; a valve's opening that can still be set by hand
_SCREEN = 0.1  # m/s through a screen that young fish can swim away from
_RISER = {"strainer": 1, "elbow 90": 2, "union": 1, "swing check valve": 1}
# All common practice, no source.


def _pipes(p: Plan, loop: Loop) -> tuple[Pipe, ...]:
    """The tree of pipe: a riser, the main branch, and a header with one branch for each other end; sized for its flow."""
    made: list[Pipe] = []

    def pipe(name: str, after: str, flow: float, length: float, fittings: dict, end: End | None = None, share: float | None = None) -> None:
        size = _size(p, flow)
        made.append(Pipe.from_si(
            name=name, after=after, size=size, bore=pipe_sizes.bore.si(size, p.kit.pipe_standard), length=up(length, p.kit.step),
            fittings=fittings, valve="ball valve" if end else "", to=end.to.si.name if end else "", outlet=end.outlet if end else None, share=share,
        ))  # fmt: skip

    total, main, rest = loop.wanted, loop.main, loop.rest
    pipe(loop.riser, "", total, 2.2, _RISER)
    if main and rest:
        name = "to the tank" if main.to.si.kind == "fish tank" else f"to {main.to.si.name}"
        pipe(name, loop.riser, main.flow, main.reach, {"tee branch": 1, "elbow 90": 1}, main, main.flow / total)
    elif main:
        pipe("inlet", loop.riser, main.flow, main.reach, {"elbow 90": 2}, main)
    after = loop.riser
    for i, end in enumerate(rest):
        left, share = rest[i:], end.flow / total if len(loop.ends) > 1 else None
        if len(left) > 1:
            name = "header" if i == 0 else f"header {i + 1}"
            flow = sum(one.flow for one in left)
            pipe(name, after, flow, 2.5 if i == 0 else 1.3, {"tee run": 1, "elbow 90": 1} if i == 0 else {"tee run": 1})
            after = name
            pipe(f"to {end.to.si.name}", after, end.flow, end.reach, {"tee branch": 1, "elbow 90": 1}, end, share)
        else:
            pipe(f"to {end.to.si.name}", after, end.flow, 1.2 + end.reach, {"tee run": 1, "elbow 90": 2}, end, share)
    return tuple(made)


def _size(p: Plan, flow: float) -> str:
    """The smallest size in which the water is not too fast."""
    for size in pipe_sizes.sizes(p.kit.pipe_standard):
        if pipes.speed.si(flow, pipe_sizes.bore.si(size, p.kit.pipe_standard)) <= _SPEED:
            return size
    raise DesignError("no pipe of the table is wide enough for that flow; plan fewer beds.")


def pump_line(p: Plan, loop: Loop) -> Loop:
    """The loop with its pipe, its pump, its valves and its flow: the smallest demo pump that brings what is wanted."""
    wanted, fixed = loop.wanted, sum(end.flow for end in loop.ends if end.fixed)
    first = loop
    for _ in range(4):
        loop = replace(loop, pipe=_pipes(p, loop))
        pump, flow = _chosen(p, loop, wanted)
        more = (flow - fixed) / (wanted - fixed) if wanted > fixed else 1.0  # each end that is not fixed has its part of the rest
        loop = replace(
            loop, pump=pump, flow=flow, main=first.main and _times(first.main, more), rest=tuple(_times(end, more) for end in first.rest)
        )
        if all(pipes.speed.si(f, pipe.si.bore) <= _FASTEST for pipe, f in _flows(loop)):
            break
    loop = _with_valves(p, loop)
    return loop if loop.rest else _throttled(p, loop, _ENOUGH * wanted)


def _times(end: End, more: float) -> End:
    return end if end.fixed else replace(end, flow=end.flow * more)


def _throttled(p: Plan, loop: Loop, enough: float) -> Loop:
    """The one valve of a loop set back whose pump, the next in strength, brings far more than enough."""
    *others, end = loop.pipe
    pump, tree = pumps.pump(loop.pump), _tree(p, loop)
    while enough < loop.flow and loop.main:
        spare = pumps.head.si(pump, enough) - lines.required_head.si(tree, enough)
        k = valve_k.si(end.si.valve, 1.0) + spare / fitting_head.si(enough, end.si.bore, 1.0)
        opening = float(valve_opening.si(end.si.valve, k))
        if opening >= _LEAST_OPEN:
            return replace(loop, pipe=(*others, end.with_si(opening=round(opening, 2))), flow=enough, main=replace(loop.main, flow=enough))
        enough *= 1.1
    return loop


def _flows(loop: Loop) -> Iterator[tuple[Pipe, float]]:
    """Each pipe with its flow."""
    flow = {end.to.si.name: end.flow for end in loop.ends}

    def through(pipe: Pipe) -> float:
        return flow[pipe.si.to] if pipe.si.to else sum(through(other) for other in loop.pipe if other.si.after == pipe.si.name)

    for pipe in loop.pipe:
        yield pipe, through(pipe)


def _tree(p: Plan, loop: Loop) -> lines.Line:
    stretches = tuple(pipe.stretch(pipe.si.outlet) for pipe in loop.pipe)
    return lines.Line.from_si(name=loop.name, source=loop.source.level, temperature=p.site.si.coldest_water, stretches=stretches)


def _chosen(p: Plan, loop: Loop, wanted: float) -> tuple[str, float]:
    """The weakest mains submersible that brings the flow even if fittings cost the most, and its usual flow."""
    tree = _tree(p, loop)
    lift = max(end.outlet for end in loop.ends) - loop.source.level
    mains = [pump for pump in map(pumps.pump, pumps.names()) if pump.si.supply == "mains" and pump.si.placement == "submersible"]
    for pump in sorted(mains, key=lambda pump: float(pump.si.flow[-1])):
        if lift > 0.8 * float(pump.si.head[0]) or wanted > float(pump.si.flow[-1]):
            continue
        if lines.valve_settings.si(tree, pump, band="high").si.flow >= wanted:
            return pump.si.name, lines.valve_settings.si(tree, pump).si.flow
    raise DesignError(f"no demo pump is strong enough for so many in {p.layout}; plan fewer, or two loops.")


def _with_valves(p: Plan, loop: Loop) -> Loop:
    """Shares from the flow there is, and openings so that each branch gets its share."""
    total, flow = loop.wanted, {end.to.si.name: end.flow for end in loop.ends}

    def shared(pipe: Pipe) -> Pipe:
        return pipe if pipe.si.share is None else pipe.with_si(share=round(flow[pipe.si.to] / total, 3))

    loop = replace(loop, pipe=tuple(map(shared, loop.pipe)))
    settings = lines.valve_settings.si(_tree(p, loop), pumps.pump(loop.pump)).si
    opening = dict(zip(settings.ends, settings.opening))

    def opened(pipe: Pipe) -> Pipe:
        return pipe.with_si(opening=min(1.0, round(float(opening[pipe.si.name]), 2))) if pipe.si.to else pipe

    return replace(loop, pipe=tuple(map(opened, loop.pipe)))


# --- what falls ---------------------------------------------------------------------------------------


def fall(
    p: Plan, name: str, source: Vessel, to: Vessel, lip: float, outlet: float, length: float, flow: float, *, kind: str = "overflow",
    emergency: bool = False, least: float = 0.0, elbows: int = 0, screen: bool = False,
) -> FallingLine:  # fmt: skip
    """An overflow or a drain, wide enough for what comes in with its vessel's pump at full flow."""
    line = FallingLine.from_si(
        name=name, kind=kind, source=source.si.name, to=to.si.name, lip=lip, outlet=outlet, length=up(length, p.kit.step),
        fittings={"elbow 90": elbows} if elbows else {}, vented=not emergency, emergency=emergency,
        screen_open_area=screen_of(flow) if screen else None, standard=p.kit.drain_standard,
    )  # fmt: skip
    room = source.rim - source.si.freeboard - lip
    return line.with_si(size=_drain(p, line, flow, room, lip - max(outlet, to.level), least))


def screen_of(flow: float) -> float:
    """The open area [m²] of a screen for a flow; half of its holes may be blocked."""
    return max(2 * flow / _SCREEN, 1e-2)


def siphon(p: Plan, bed: Vessel, to: Vessel, size: str) -> FallingLine:
    """A bed's siphon, from its usual level down to near its floor."""
    return FallingLine.from_si(
        name=f"{bed.si.name} siphon", kind="bed drain", source=bed.si.name, to=to.si.name, lip=bed.level, outlet=p.kit.m("siphon out"),
        length=up(1.1, p.kit.step / 2), fittings={"elbow 90": 1}, siphon=Siphon.from_si(vent=bed.si.floor + p.kit.m("vent")), size=size,
        standard=p.kit.pipe_standard,
    )  # fmt: skip


def _drain(p: Plan, line: FallingLine, flow: float, room: float, drop: float, least: float) -> str:
    """The smallest size that carries the flow with margin, and stays quiet where it has no open top."""
    k = fitting_k(line.si.fittings) + ENTRANCE + EXIT
    for size in pipe_sizes.sizes(p.kit.drain_standard):
        bore = pipe_sizes.bore.si(size, p.kit.drain_standard)
        if bore < least:
            continue
        carries = min(
            drains.standpipe_flow.si(room, bore),
            full_pipe.full_bore_flow.si(drop, bore, length=line.si.length, k=k, temperature=p.site.si.coldest_water),
        )
        if carries >= _CARRIES * flow and (line.si.vented or full_pipe.froude.si(1.05 * flow, bore) <= _QUIET):
            return size
    raise DesignError(f"no drain pipe of the table is wide enough for {line.si.name}; plan fewer beds.")

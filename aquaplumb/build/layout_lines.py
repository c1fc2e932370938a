"""The lines of a first build: the tree of pipe for each pump, the pump, the valves, and what falls.

Part of `aquaplumb.build.layouts`, which is the face of all this. All numbers are bare SI.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Sequence
from dataclasses import replace

from aquaplumb.build.falling_records import FallingLine, FallingTree, Leg, Siphon
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
            **({"nozzles": end.drippers, "nozzle_bore": p.kit.m("dripper", 0)} if end and end.drippers else {}),
        ))  # fmt: skip

    total, main, rest = loop.wanted, loop.main, loop.rest
    pipe(loop.riser, "", total, 2.2, _RISER)
    if main and rest:
        name = "to the tank" if main.to.si.name == "fish tank" else f"to {main.to.si.name}"
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
    needed = lines.valve_settings.si(tree, flow=wanted, band="high").si.head
    for pump in _mains():
        if lift > 0.8 * float(pump.si.head[0]) or wanted > float(pump.si.flow[-1]):
            continue
        if pumps.head.si(pump, wanted) >= needed:
            return pump.si.name, lines.valve_settings.si(tree, pump).si.flow
    raise DesignError(f"no demo pump is strong enough for so many in {p.layout}; plan fewer, a smaller tank, or two loops.")


@functools.cache
def _mains() -> list[pumps.Pump]:
    """The demo pumps to choose from, the weakest first."""
    mains = [pump for pump in map(pumps.pump, pumps.names()) if pump.si.supply == "mains" and pump.si.placement == "submersible"]
    return sorted(mains, key=lambda pump: float(pump.si.flow[-1]))


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
    emergency: bool = False, least: float = 0.0, elbows: int = 0, screen: bool = False, over: float | None = None,
) -> FallingLine:  # fmt: skip
    """An overflow or a drain, wide enough for what comes in with its vessel's pump at full flow; and for so little water over its lip."""
    line = FallingLine.from_si(
        name=name, kind=kind, source=source.si.name, to=to.si.name, lip=lip, outlet=outlet, length=up(length, p.kit.step),
        fittings={"elbow 90": elbows} if elbows else {}, vented=not emergency, emergency=emergency,
        screen_open_area=screen_of(flow) if screen else None, standard=p.kit.drain_standard,
    )  # fmt: skip
    room = source.rim - source.si.freeboard - lip
    room = room if over is None else min(room, over)
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


def branching(
    p: Plan, name: str, source: Vessel, to: Sequence[Vessel], outlet: float, flow: float, *, siphon_size: str = ""
) -> FallingTree:  # fmt: skip
    """One pipe from a vessel's usual level, with a branch to each other vessel at one height; valves, so that each gets the same.

    Sizes grow until the water stands well under the lip in the pipe. With a siphon there are no valves: they would clog and slow it.
    """
    standard = p.kit.pipe_standard if siphon_size else p.kit.drain_standard
    for wider in range(2 if siphon_size else 0, 6):
        legs = _legs(p, source, to, outlet, flow, standard, wider, spread=bool(siphon_size))
        needs = _needs(p, legs, flow, len(to))
        stem = legs[0].si.bore
        lip = source.level if siphon_size else source.level - p.kit.near(drains.standpipe_depth.si(flow, stem))
        room = source.rim - source.si.freeboard - lip
        if siphon_size or (max(needs.values()) <= lip - p.kit.m("emergency") and drains.standpipe_flow.si(room, stem) >= _CARRIES * flow):
            break
    else:
        raise DesignError(f"no pipe of the table is wide enough for {name}; plan fewer beds.")
    top = max(needs.values())
    if not siphon_size:
        legs = [_shared_out(leg, top - needs[leg.si.name], flow / len(to)) if leg.si.to else leg for leg in legs]
    else:
        legs = [
            legs[0].with_si(size=siphon_size, bore=pipe_sizes.bore.si(siphon_size, standard)),
            *(leg.with_si(valve="") for leg in legs[1:]),
        ]
    return FallingTree.from_si(
        name=name, kind="bed drain" if siphon_size else "gravity line", source=source.si.name, lip=lip, pipe=tuple(legs),
        vented=not siphon_size, siphon=Siphon.from_si(vent=source.si.floor + p.kit.m("vent")) if siphon_size else None,
        screen_open_area=screen_of(flow) if source.si.kind == "fish tank" else None,
    )  # fmt: skip


def _legs(
    p: Plan, source: Vessel, to: Sequence[Vessel], outlet: float, flow: float, standard: str, wider: int, *, spread: bool
) -> list[Leg]:
    """The stretches of a branching pipe: a stem down to the branches' height, a header (or all tees in one place), a branch for each vessel."""
    offered = pipe_sizes.sizes(standard)

    def leg(name: str, after: str, part: float, length: float, fittings: dict, end: Vessel | None = None) -> Leg:
        enough = (i for i, size in enumerate(offered) if pipes.speed.si(flow * part, pipe_sizes.bore.si(size, standard)) <= _SPEED)
        size = offered[min(next(enough, len(offered) - 1) + wider, len(offered) - 1)]
        return Leg.from_si(
            name=name, after=after, size=size, standard=standard, bore=pipe_sizes.bore.si(size, standard), length=up(length, p.kit.step),
            fittings=fittings, outlet=outlet, valve="ball valve" if end else "", to=end.si.name if end else "",
        )  # fmt: skip

    count = len(to)
    if count == 1:
        return [leg("stem", "", 1.0, 1.5 + source.level - outlet, {"elbow 90": 2}, to[0])]
    legs, after = [leg("stem", "", 1.0, 1.0 + source.level - outlet, {"elbow 90": 1})], "stem"
    for i, vessel in enumerate(to):
        left, name = count - i, vessel.si.name
        if spread:
            legs.append(leg(f"to {name}", after, 1 / count, 1.0 + 0.9 * (i // 2), {"tee branch": 1, "elbow 90": 1}, vessel))
        elif left > 2 or (left == 2 and i == 0 and count == 2):
            legs.append(leg(f"to {name}", after, 1 / count, 1.0, {"tee branch": 1, "elbow 90": 1}, vessel))
            if left > 2:
                legs.append(leg(f"header {i + 1}", after, (left - 1) / count, 1.3, {"tee run": 1}))
                after = f"header {i + 1}"
        elif left == 2:
            legs.append(leg(f"to {name}", after, 1 / count, 1.0, {"tee branch": 1, "elbow 90": 1}, vessel))
        else:
            legs.append(leg(f"to {name}", after, 1 / count, 2.2, {"tee run": 1, "elbow 90": 1}, vessel))
    return legs


def _needs(p: Plan, legs: list[Leg], flow: float, count: int) -> dict[str, float]:
    """The elevation [m] to which water has to stand in the pipe so that each end gets its part, its valve open."""
    behind = {leg.si.name: sum(_under(legs, leg, end) for end in legs if end.si.to) for leg in legs}

    def lost(leg: Leg) -> float:
        f = leg.si
        k = (
            fitting_k(f.fittings)
            + (EXIT if f.to else 0.0)
            + (0.0 if f.after else ENTRANCE)
            + (valve_k.si(f.valve, 1.0) if f.valve else 0.0)
        )
        return float(full_pipe.full_bore_head.si(flow * behind[f.name] / count, f.bore, f.length, k=k, temperature=p.site.si.coldest_water))

    by_name = {leg.si.name: leg for leg in legs}
    needs = {}
    for end in (leg for leg in legs if leg.si.to):
        need, here = end.si.outlet, end
        while True:
            need += lost(here)
            if not here.si.after:
                break
            here = by_name[here.si.after]
        needs[end.si.name] = need
    return needs


def _under(legs: list[Leg], leg: Leg, end: Leg) -> bool:
    """Whether the water of an end comes through a stretch."""
    by_name = {one.si.name: one for one in legs}
    here = end
    while here is not leg and here.si.after:
        here = by_name[here.si.after]
    return here is leg


def _shared_out(leg: Leg, spare: float, flow: float) -> Leg:
    """A branch with its valve so far shut that it loses what it has to spare [m]."""
    f = leg.si
    k = valve_k.si(f.valve, 1.0) + spare / fitting_head.si(flow, f.bore, 1.0)
    return leg.with_si(opening=min(1.0, round(float(valve_opening.si(f.valve, k)), 2)))


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

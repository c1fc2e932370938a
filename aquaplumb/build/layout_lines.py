"""The lines of a first build: the tree of pipe for each pump, the pump, the valves, and everything that falls.

Part of `aquaplumb.build.layouts`, which is the face of all this. All numbers are bare SI.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from aquaplumb.build.falling_records import FallingLine, Siphon
from aquaplumb.build.layout_plan import Loop, Plan
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
# All common practice, no source.


def _pipes(p: Plan, loop: Loop) -> tuple[Pipe, ...]:
    """The tree of pipe: a riser, the tank's branch, and a header with one branch for each bed; sized for its flow."""
    made: list[Pipe] = []

    def pipe(
        name: str,
        after: str,
        flow: float,
        length: float,
        fittings: dict,
        to: str = "",
        outlet: float | None = None,
        share: float | None = None,
    ) -> None:
        size = _size(p, flow)
        made.append(Pipe.from_si(
            name=name, after=after, size=size, bore=pipe_sizes.bore.si(size, p.kit.pipe_standard), length=up(length, p.kit.step),
            fittings=fittings, valve="ball valve" if to else "", to=to, outlet=outlet, share=share,
        ))  # fmt: skip

    total = loop.tank + loop.bed * len(p.beds)
    pipe(loop.riser, "", total, 2.2, {"strainer": 1, "elbow 90": 2, "union": 1, "swing check valve": 1})
    reach = 1.0 + p.tank.si.diameter / 2
    if loop.tank and loop.bed:
        bends = {"tee branch": 1, "elbow 90": 1}
        pipe("to the tank", loop.riser, loop.tank, reach, bends, "fish tank", p.kit.m("inlet", p.two), loop.tank / total)
    elif loop.tank:
        pipe("inlet", loop.riser, loop.tank, reach, {"elbow 90": 2}, "fish tank", p.kit.m("inlet", p.two))
    if loop.bed:
        after, outlet, share = loop.riser, p.kit.m("bed outlet"), loop.bed / total if total > loop.bed else None
        for i, bed in enumerate(p.beds):
            left, to = len(p.beds) - i, bed.si.name
            if left > 1:
                name = "header" if i == 0 else f"header {i + 1}"
                pipe(name, after, left * loop.bed, 2.5 if i == 0 else 1.3, {"tee run": 1, "elbow 90": 1} if i == 0 else {"tee run": 1})
                after = name
                pipe(f"to {to}", after, loop.bed, 1.0, {"tee branch": 1, "elbow 90": 1}, to, outlet, share)
            else:
                pipe(f"to {to}", after, loop.bed, 2.2, {"tee run": 1, "elbow 90": 2}, to, outlet, share)
    return tuple(made)


def _size(p: Plan, flow: float) -> str:
    """The smallest size in which the water is not too fast."""
    for size in pipe_sizes.sizes(p.kit.pipe_standard):
        if pipes.speed.si(flow, pipe_sizes.bore.si(size, p.kit.pipe_standard)) <= _SPEED:
            return size
    raise DesignError("no pipe of the table is wide enough for that flow; plan fewer beds.")


def pump_line(p: Plan, loop: Loop) -> Loop:
    """The loop with its pipe, its pump, its valves and its flow: the smallest demo pump that brings what is wanted."""
    tank, bed, beds = loop.tank, loop.bed, len(p.beds)
    wanted = tank + bed * beds
    for _ in range(4):
        loop = replace(loop, pipe=_pipes(p, loop))
        pump, flow = _chosen(p, loop, wanted)
        if p.siphon_size:  # each siphon gets what it starts and stops with; the tank has the rest
            loop = replace(loop, pump=pump, flow=flow, tank=flow - beds * bed, bed=bed)
        else:
            loop = replace(loop, pump=pump, flow=flow, tank=tank * flow / wanted, bed=bed * flow / wanted)
        if all(pipes.speed.si(f, pipe.si.bore) <= _FASTEST for pipe, f in _flows(p, loop)):
            break
    loop = _with_valves(p, loop)
    return loop if loop.bed else _throttled(p, loop, _ENOUGH * tank)


def _throttled(p: Plan, loop: Loop, enough: float) -> Loop:
    """The one valve of a loop set back whose pump, the next in strength, brings far more than enough."""
    *others, end = loop.pipe
    pump, tree = pumps.pump(loop.pump), _tree(p, loop)
    while enough < loop.flow:
        spare = pumps.head.si(pump, enough) - lines.required_head.si(tree, enough)
        k = valve_k.si(end.si.valve, 1.0) + spare / fitting_head.si(enough, end.si.bore, 1.0)
        opening = float(valve_opening.si(end.si.valve, k))
        if opening >= _LEAST_OPEN:
            return replace(loop, pipe=(*others, end.with_si(opening=round(opening, 2))), flow=enough, tank=enough)
        enough *= 1.1
    return loop


def _flows(p: Plan, loop: Loop) -> Iterator[tuple[Pipe, float]]:
    """Each pipe with its flow."""
    for pipe in loop.pipe:
        s, beds = pipe.si, len(p.beds)
        if not s.after:
            yield pipe, loop.tank + loop.bed * beds
        elif s.to:
            yield pipe, loop.tank if s.to == "fish tank" else loop.bed
        else:
            yield pipe, loop.bed * (beds if s.name == "header" else beds + 1 - int(s.name.split()[1]))


def _tree(p: Plan, loop: Loop) -> lines.Line:
    stretches = tuple(pipe.stretch(pipe.si.outlet) for pipe in loop.pipe)
    return lines.Line.from_si(name=loop.name, source=loop.level, temperature=p.site.si.coldest_water, stretches=stretches)


def _chosen(p: Plan, loop: Loop, wanted: float) -> tuple[str, float]:
    """The weakest mains submersible that brings the flow even if fittings cost the most, and its usual flow."""
    tree = _tree(p, loop)
    lift = max(pipe.si.outlet for pipe in loop.pipe if pipe.si.to) - loop.level
    mains = [pump for pump in map(pumps.pump, pumps.names()) if pump.si.supply == "mains" and pump.si.placement == "submersible"]
    for pump in sorted(mains, key=lambda pump: float(pump.si.flow[-1])):
        if lift > 0.8 * float(pump.si.head[0]) or wanted > float(pump.si.flow[-1]):
            continue
        if lines.valve_settings.si(tree, pump, band="high").si.flow >= wanted:
            return pump.si.name, lines.valve_settings.si(tree, pump).si.flow
    raise DesignError(f"no demo pump is strong enough for {len(p.beds)} beds in {p.layout}; plan fewer beds or two loops.")


def _with_valves(p: Plan, loop: Loop) -> Loop:
    """Shares from the flow there is, and openings so that each branch gets its share."""
    total = loop.tank + loop.bed * len(p.beds)

    def shared(pipe: Pipe) -> Pipe:
        own = loop.tank if pipe.si.to == "fish tank" else loop.bed
        return pipe if pipe.si.share is None else pipe.with_si(share=round(own / total, 3))

    loop = replace(loop, pipe=tuple(map(shared, loop.pipe)))
    settings = lines.valve_settings.si(_tree(p, loop), pumps.pump(loop.pump)).si
    opening = dict(zip(settings.ends, settings.opening))

    def opened(pipe: Pipe) -> Pipe:
        return pipe.with_si(opening=min(1.0, round(float(opening[pipe.si.name]), 2))) if pipe.si.to else pipe

    return replace(loop, pipe=tuple(map(opened, loop.pipe)))


def up(value: float, step: float) -> float:
    """The next multiple of a step, so that the file reads well."""
    return math.ceil(value / step - 1e-9) * step


# --- everything that falls ----------------------------------------------------------------------------


def falls(p: Plan) -> tuple[FallingLine, ...]:
    """The overflows and drains, each wide enough for what comes in with its vessel's pump at full flow."""
    tank_flow, bed_flow, m, step = p.loops[0].tank, p.loops[-1].bed, p.kit.m, p.kit.step
    made: list[FallingLine] = []

    def fall(
        name: str, source: Vessel, to: Vessel, lip: float, outlet: float, length: float, flow: float, *, kind: str = "overflow",
        emergency: bool = False, least: float = 0.0, elbows: int = 0, screen: float | None = None,
    ) -> None:  # fmt: skip
        line = FallingLine.from_si(
            name=name, kind=kind, source=source.si.name, to=to.si.name, lip=lip, outlet=outlet, length=up(length, step),
            fittings={"elbow 90": elbows} if elbows else {}, vented=not emergency, emergency=emergency, screen_open_area=screen,
            standard=p.kit.drain_standard,
        )  # fmt: skip
        room = source.rim - source.si.freeboard - lip
        made.append(line.with_si(size=_drain(p, line, flow, room, lip - max(outlet, to.level), least)))

    reach = 1.0 + p.tank.si.diameter / 2
    screen = max(2 * tank_flow / _SCREEN, 1e-2)  # half of its holes may be blocked
    spare = p.tank.level + m("emergency")
    if p.settling and p.dosing:
        s, d = p.settling, p.dosing
        on = m("dosing", 2)
        fall("tank overflow", p.tank, s, p.tank.level, s.level + step, 1.0, tank_flow, least=0.05, elbows=1, screen=screen)
        fall("tank emergency overflow", p.tank, p.sump, spare, m("low"), reach, tank_flow, emergency=True, elbows=2)
        fall("settling outlet", s, d, s.level, on + step, 0.7, tank_flow, least=0.05)
        fall("settling emergency overflow", s, p.sump, s.level + m("emergency"), m("low"), 1.8, tank_flow, emergency=True)
        fall("dosing emergency overflow", d, p.sump, on + m("emergency"), m("low"), 1.5, tank_flow, emergency=True)
    else:
        fall("tank overflow", p.tank, p.sump, p.tank.level, m("sump in"), reach, tank_flow, least=0.05, elbows=2, screen=screen)
        fall("tank emergency overflow", p.tank, p.sump, spare, m("sump in"), reach, tank_flow, emergency=True, elbows=2)
    for bed in p.beds:
        name = bed.si.name
        if p.siphon_size:
            made.append(FallingLine.from_si(
                name=f"{name} siphon", kind="bed drain", source=name, to="sump", lip=bed.level, outlet=m("siphon out"), length=up(1.1, step / 2),
                fittings={"elbow 90": 1}, siphon=Siphon.from_si(vent=bed.si.floor + m("vent")), size=p.siphon_size, standard=p.kit.pipe_standard,
            ))  # fmt: skip
        else:
            fall(f"{name} drain", bed, p.sump, bed.level, m("low"), 1.4, bed_flow, kind="bed drain", least=0.04, elbows=1)
        spare = bed.level + m("bed emergency")
        fall(f"{name} emergency overflow", bed, p.sump, spare, m("low"), 1.4, bed_flow, emergency=True, least=0.04)
    return tuple(made)


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

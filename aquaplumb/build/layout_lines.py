"""The lines of a first build: the tree of pipe for each pump, the pump, the valves, and everything that falls.

Part of `aquaplumb.build.layouts`, which is the face of all this. All numbers are bare SI.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

from aquaplumb.plumbing import drains, full_pipe, lines, pipe_sizes, pipes, pumps
from aquaplumb.plumbing.fittings import ENTRANCE, EXIT, fitting_head, valve_k, valve_opening
from aquaplumb.plumbing.fittings import k as fitting_k
from aquaplumb.units import DesignError

_SPEED, _FASTEST = 1.1, 1.4  # m/s: what pipe is chosen for, and what it may become with the pump that there is
_CARRIES, _QUIET = 1.6, 0.27  # times what comes in; the Froude number of an overflow with no open top
_ENOUGH, _LEAST_OPEN = 1.3, 0.35  # times what is wanted; a valve's opening that can still be set by hand
_SCREEN = 0.1  # m/s through a screen that young fish can swim away from
_FREEBOARD = 0.03  # m, what a vessel keeps free unless its file says otherwise
# All common practice, no source.


def _stretches(p, line) -> list[SimpleNamespace]:
    """The tree of pipe: a riser, the tank's branch, and a header with one branch for each bed; sized for its flow."""
    made = []

    def stretch(name, after, flow, length, fittings, to="", outlet=None, share=None):
        made.append(SimpleNamespace(
            name=name, after=after, size=_pipe(p, flow), length=up(length, p.step), fittings=fittings, to=to, outlet=outlet,
            share=share, valve="ball valve" if to else "", opening=1.0,
        ))  # fmt: skip

    total = line.tank + line.bed * p.beds
    stretch(line.riser, "", total, 2.2, {"strainer": 1, "elbow 90": 2, "union": 1, "swing check valve": 1})
    if line.tank:
        alone = not line.bed
        bends = {"elbow 90": 2} if alone else {"tee branch": 1, "elbow 90": 1}
        name = "inlet" if alone else "to the tank"
        stretch(
            name,
            line.riser,
            line.tank,
            1.0 + p.tank.diameter / 2,
            bends,
            "fish tank",
            p.m("inlet", p.two),
            None if alone else line.tank / total,
        )
    if line.bed:
        after, outlet, share = line.riser, p.m("bed outlet"), line.bed / total if total > line.bed else None
        for i, bed in enumerate(p.names):
            left = p.beds - i
            if left > 1:
                name = "header" if i == 0 else f"header {i + 1}"
                stretch(name, after, left * line.bed, 2.5 if i == 0 else 1.3, {"tee run": 1, "elbow 90": 1} if i == 0 else {"tee run": 1})
                after = name
            last = left == 1
            stretch(
                f"to {bed}",
                after,
                line.bed,
                2.2 if last else 1.0,
                {"tee run": 1, "elbow 90": 2} if last else {"tee branch": 1, "elbow 90": 1},
                bed,
                outlet,
                share,
            )
    return made


def _pipe(p, flow: float) -> str:
    """The smallest size in which the water is not too fast."""
    for size in pipe_sizes.sizes(p.pipe_standard):
        if pipes.speed.si(flow, pipe_sizes.bore.si(size, p.pipe_standard)) <= _SPEED:
            return size
    raise DesignError("no pipe of the table is wide enough for that flow; plan fewer beds.")


def pump_line(p, line) -> None:
    """The pump of a line, its valves and its flow: the smallest demo pump that brings what is wanted."""
    wanted = (line.tank, line.bed)
    for _ in range(4):
        line.stretches = _stretches(p, line)
        line.pump, settings = _chosen(p, line, wanted[0] + wanted[1] * p.beds)
        flow = settings.si.flow
        if p.siphons:  # each siphon gets what it starts and stops with; the tank has the rest
            line.tank, line.bed = flow - p.beds * wanted[1], wanted[1]
        else:
            line.tank, line.bed = (w * flow / (wanted[0] + wanted[1] * p.beds) for w in wanted)
        if all(pipes.speed.si(f, pipe_sizes.bore.si(s.size, p.pipe_standard)) <= _FASTEST for s, f in _flows(p, line)):
            break
    line.flow = flow
    _set_valves(p, line)
    if line.tank and not line.bed:
        _throttle(p, line, _ENOUGH * wanted[0])


def _throttle(p, line, enough: float) -> None:
    """Set back the one valve of a line whose pump, the next in strength, brings far more than enough."""
    end, pump, tree = line.stretches[-1], pumps.pump(line.pump), _tree(p, line)
    bore = pipe_sizes.bore.si(end.size, p.pipe_standard)
    while enough < line.flow:
        spare = pumps.head.si(pump, enough) - lines.required_head.si(tree, enough)
        k = valve_k.si(end.valve, 1.0) + spare / fitting_head.si(enough, bore, 1.0)
        opening = float(valve_opening.si(end.valve, k))
        if opening >= _LEAST_OPEN:
            end.opening, line.flow, line.tank = round(opening, 2), enough, enough
            return
        enough *= 1.1


def _flows(p, line):
    """(stretch, flow) for each stretch."""
    for s in line.stretches:
        if not s.after:
            yield s, line.tank + line.bed * p.beds
        elif s.to:
            yield s, line.tank if s.to == "fish tank" else line.bed
        else:
            yield s, line.bed * (p.beds if s.name == "header" else p.beds + 1 - int(s.name.split()[1]))


def _tree(p, line) -> lines.Line:
    return lines.Line.from_si(name=line.name, source=line.level, temperature=p.cold, suction=(), strainer_blocked=0.0, stretches=tuple(
        lines.Stretch.from_si(
            name=s.name, after=s.after, bore=pipe_sizes.bore.si(s.size, p.pipe_standard), length=s.length, fittings=s.fittings,
            valve=s.valve, opening=s.opening, to=s.to, outlet=s.outlet, share=s.share,
        ) for s in line.stretches
    ))  # fmt: skip


def _chosen(p, line, wanted: float):
    """The weakest mains submersible that brings the flow even if fittings cost the most, and its valves' settings."""
    tree = _tree(p, line)
    lift = max(s.outlet for s in line.stretches if s.to) - line.level
    mains = [pump for pump in map(pumps.pump, pumps.names()) if pump.si.supply == "mains" and pump.si.placement == "submersible"]
    for pump in sorted(mains, key=lambda pump: float(pump.si.flow[-1])):
        if lift > 0.8 * float(pump.si.head[0]) or wanted > float(pump.si.flow[-1]):
            continue
        if lines.valve_settings.si(tree, pump, band="high").si.flow >= wanted:
            return pump.si.name, lines.valve_settings.si(tree, pump)
    raise DesignError(f"no demo pump is strong enough for {p.beds} beds in {p.layout}; plan fewer beds or two loops.")


def _set_valves(p, line) -> None:
    """Shares from the flow there is, and openings so that each branch gets its share."""
    total = line.tank + line.bed * p.beds
    for s in line.stretches:
        if s.share is not None:
            s.share = round((line.tank if s.to == "fish tank" else line.bed) / total, 3)
    settings = lines.valve_settings.si(_tree(p, line), pumps.pump(line.pump)).si
    opening = dict(zip(settings.ends, settings.opening))
    for s in line.stretches:
        if s.to:
            s.opening = min(1.0, round(float(opening[s.name]), 2))


def up(value: float, step: float) -> float:
    """The next multiple of a step, so that the file reads well."""
    return math.ceil(value / step - 1e-9) * step


# --- everything that falls ----------------------------------------------------------------------------


def falls(p) -> list[SimpleNamespace]:
    """The overflows and drains, each wide enough for what comes in with its vessel's pump at full flow."""
    tank_flow = p.lines[0].tank
    bed_flow = p.lines[-1].bed
    rim = p.tank.floor + p.tank.height
    made = []

    def fall(name, kind, source, to, lip, outlet, length, flow, *, rim, below, vented=True, emergency=False, least=0.0, fittings=None):
        line = SimpleNamespace(
            name=name, kind=kind, source=source, to=to, lip=lip, outlet=outlet, length=up(length, p.step), fittings=fittings or {},
            vented=vented, emergency=emergency, vent=None, screen=None, size="", standard=p.drain_standard,
        )  # fmt: skip
        line.size = _drain(p, line, flow, rim - _FREEBOARD - lip, lip - max(outlet, below), least)
        made.append(line)
        return line

    sump_level = p.sump.floor + p.sump.depth
    after_tank = "settling tank" if p.two else "sump"
    settling_level = p.settling.depth if p.two else 0.0
    reach = 1.0 + p.tank.diameter / 2
    tank = fall(
        "tank overflow", "overflow", "fish tank", after_tank, p.tank_level, settling_level + p.step if p.two else p.m("sump in"), 1.0 if p.two else reach,
        tank_flow, rim=rim, below=settling_level if p.two else sump_level, least=0.05, fittings={"elbow 90": 1 if p.two else 2},
    )  # fmt: skip
    tank.screen = max(2 * tank_flow / _SCREEN, 1e-2)  # half of its holes may be blocked
    fall(
        "tank emergency overflow", "overflow", "fish tank", "sump", p.tank_level + p.m("emergency"), p.m("low") if p.two else p.m("sump in"), reach,
        tank_flow, rim=rim, below=sump_level, vented=False, emergency=True, fittings={"elbow 90": 2},
    )  # fmt: skip
    if p.two:
        s, d = p.settling, p.dosing
        fall(
            "settling outlet",
            "overflow",
            "settling tank",
            "dosing tank",
            s.depth,
            d.on + p.step,
            0.7,
            tank_flow,
            rim=s.height,
            below=d.depth,
            least=0.05,
        )
        lip = s.depth + p.m("emergency")
        fall(
            "settling emergency overflow",
            "overflow",
            "settling tank",
            "sump",
            lip,
            p.m("low"),
            1.8,
            tank_flow,
            rim=s.height,
            below=sump_level,
            vented=False,
            emergency=True,
        )
        lip = d.on + p.m("emergency")
        fall(
            "dosing emergency overflow",
            "overflow",
            "dosing tank",
            "sump",
            lip,
            p.m("low"),
            1.5,
            tank_flow,
            rim=d.height,
            below=sump_level,
            vented=False,
            emergency=True,
        )
    bed_rim = p.m("bed floor") + p.m("bed", 2)
    for bed in p.names:
        if p.siphons:
            made.append(SimpleNamespace(
                name=f"{bed} siphon", kind="bed drain", source=bed, to="sump", lip=p.bed_level, outlet=p.m("siphon out"), length=up(1.1, p.step / 2), fittings={"elbow 90": 1},
                vented=False, emergency=False, vent=p.m("bed floor") + p.m("vent"), screen=None, size=p.siphon_size, standard=p.pipe_standard,
            ))  # fmt: skip
        else:
            fall(
                f"{bed} drain",
                "bed drain",
                bed,
                "sump",
                p.bed_level,
                p.m("low"),
                1.4,
                bed_flow,
                rim=bed_rim,
                below=sump_level,
                least=0.04,
                fittings={"elbow 90": 1},
            )
        lip = p.bed_level + p.m("bed emergency")
        fall(
            f"{bed} emergency overflow",
            "overflow",
            bed,
            "sump",
            lip,
            p.m("low"),
            1.4,
            bed_flow,
            rim=bed_rim,
            below=sump_level,
            vented=False,
            emergency=True,
            least=0.04,
        )
    return made


def _drain(p, line, flow: float, room: float, drop: float, least: float) -> str:
    """The smallest size that carries the flow with margin, and stays quiet where it has no open top."""
    k = fitting_k(line.fittings) + ENTRANCE + EXIT
    for size in pipe_sizes.sizes(p.drain_standard):
        bore = pipe_sizes.bore.si(size, p.drain_standard)
        if bore < least:
            continue
        carries = min(
            drains.standpipe_flow.si(room, bore), full_pipe.full_bore_flow.si(drop, bore, length=line.length, k=k, temperature=p.cold)
        )
        if carries >= _CARRIES * flow and (line.vented or full_pipe.froude.si(1.05 * flow, bore) <= _QUIET):
            return size
    raise DesignError(f"no drain pipe of the table is wide enough for {line.name}; plan fewer beds.")

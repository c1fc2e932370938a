"""Vessels set out on the ground, seen from above: in rows, with a path to walk along both sides of each row.

    ground = set_out(vessels, 6.0, 5.0)      # a place 6 m long and 5 m wide
    ground.length, ground.width            # what it takes with its paths

All numbers are bare SI. What is set out is a proposal: the build file does not say where a vessel stands.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from aquaplumb.build import ground, neighbours, routes
from aquaplumb.build.falling_records import FallingLine
from aquaplumb.build.ground import GAP, PATH, Cluster, GroundPlan, Placed, Reach
from aquaplumb.build.records import PumpedLine, way_to
from aquaplumb.build.vessels import Vessel
from aquaplumb.units import LENGTH, Bare

STEP = {"metric": 0.05, "US": 0.0254}  # m; common practice, no source


def reaches(vessels: dict[str, Vessel], pumped: Sequence[PumpedLine], falls: Sequence[FallingLine]) -> list[Reach]:
    """Each pipe between two vessels; a pumped one begins at its pump, on its vessel's floor where that does not stand dry."""
    found = []
    for line in (one.si for one in pumped):
        start = vessels[line.source].si.floor if line.pump_height is None else line.pump_height
        for pipe in line.pipe:
            end = pipe.si
            if end.to in vessels and end.to != line.source:
                outlet = vessels[end.to].rim if end.outlet is None else end.outlet
                way = [p.si for p in way_to(line, pipe)]
                long, along = sum(p.length for p in way), _along_told(way)
                found.append(Reach(end.name, line.source, end.to, long, max(0.0, outlet - start), along))
    for f in (line.si for line in falls):
        if f.source in vessels and f.to in vessels:
            found.append(Reach(f.name, f.source, f.to, f.length, max(0.0, f.lip - f.outlet), _along_told([f])))
    return found


def _along_told(way: Sequence[Bare]) -> float | None:
    """How far stretches go along by their routes [m]; None where one does not tell it."""
    return None if any(routes.untold(one) for one in way) else sum(routes.level(one.route) for one in way)


def takes(length: float, units: str) -> str:
    """How much room something takes, as one paces it out: up to the next 5 cm or inch."""
    step = STEP[units]
    return LENGTH.text(step * math.ceil(length / step - 1e-6), units)


def set_out(
    vessels: Sequence[Vessel],
    length: float,
    width: float,
    *,
    below: Sequence[str] = (),
    units: str = "metric",
    pipes: Sequence[Reach] = (),
) -> GroundPlan:
    """The vessels in rows on a place, along its length or else along its width; those `below` stand under the others.

    Where they fit neither way, what plants grow in stands in rows beyond the rest, which stands across: a wide tank takes no row
    of beds its width. Where that does not fit, it is the way that is the least too large, and runs over the place's edge. With
    `pipes` each stands next to what they join it to (`aquaplumb.build.neighbours`); in the rows where there is no room for that.
    """
    path, place = PATH[units], (length, width)
    blocks, grow = _first(vessels, below), {v.si.name for v in vessels if v.grows}
    if pipes and (plan := neighbours.side_by_side(blocks, pipes, place, path, grow)):
        return plan
    plans = [_along(blocks, place, path, False)]
    if not plans[0].fits:
        plans.append(_along(blocks, place, path, True))
    if not below and 0 < len(grow) < len(vessels) and not any(plan.fits for plan in plans):
        plans += [_parted(blocks, place, path, turned, grow) for turned in (False, True)]
    return min(plans, key=lambda plan: (not plan.fits, max(plan.length / length, plan.width / width)))


def _turned(plan: GroundPlan) -> GroundPlan:
    """The same with x and y changed round."""
    return GroundPlan(tuple(piece.turned for piece in plan.pieces), plan.width, plan.length, plan.place[::-1], plan.path)


def _along(blocks: Sequence[Cluster], place: tuple[float, float], path: float, turned: bool) -> GroundPlan:
    """Blocks in rows along a place's length, or along its width."""
    here = place[::-1] if turned else place
    plan = GroundPlan(*_rows(blocks, here[0], path), here, path)
    return _turned(plan) if turned else plan


def _parted(blocks: Sequence[Cluster], place: tuple[float, float], path: float, turned: bool, grow: set[str]) -> GroundPlan:
    """Tanks in rows across the place's near end, and past them what plants grow in, in rows along it; or with the place's sides changed round."""
    length, width = place[::-1] if turned else place
    tanks, across, deep = _rows([block for block in blocks if block.name not in grow], width, path)
    beds, along, wide = _rows([block for block in blocks if block.name in grow], length - deep, path)
    pieces = (*(piece.turned for piece in tanks), *(replace(piece, x=piece.x + deep) for piece in beds))
    plan = GroundPlan(pieces, deep + along, max(across, wide), (length, width), path)
    return _turned(plan) if turned else plan


def stood_over(vessels: dict[str, Vessel], falls: Sequence[FallingLine]) -> list[str]:
    """The names of vessels on the ground that plants stand over: what falls from these comes down into them, and clears their rims."""
    ends = [(vessels[f.source], vessels[f.to]) for f in (line.si for line in falls) if f.source in vessels and f.to in vessels]
    return sorted({to.si.name for bed, to in ends if bed.grows and to.si.floor >= 0 and bed.si.floor >= to.rim})


def _first(vessels: Sequence[Vessel], below: Sequence[str]) -> list[Cluster]:
    """The blocks in the order in which they are set out first: the widest before the others, what stands under others last."""
    return sorted((block for v in vessels for block in ground.blocks(v, v.si.name in below)), key=lambda block: (block.below, -block.width))


def _rows(blocks: Sequence[Cluster], limit: float, path: float) -> tuple[tuple[Placed, ...], float, float]:
    """The pieces in rows no longer than a limit with the path round their end, and what they take: along the rows, across them."""
    rows: list[list[Cluster]] = []
    for block in sorted(blocks, key=lambda block: block.below):  # what stands under others goes into the rows there are
        row = next((row for row in rows if _used(row, block.below) + block.length + path <= limit + 1e-9), None)
        if row is None:
            rows.append(row := [])
        row.append(block)
    pieces: list[Placed] = []
    y = path
    for row in rows:
        deep, x = max(block.width for block in row), {True: 0.0, False: 0.0}
        for block in row:
            shift = y + (deep - block.width) / 2
            pieces += [replace(piece, x=piece.x + x[block.below], y=piece.y + shift) for piece in block.pieces]
            x[block.below] += block.length + GAP
        y += deep + path
    return tuple(pieces), max(piece.x + piece.length for piece in pieces) + path, y


def _used(row: Sequence[Cluster], below: bool) -> float:
    """How far a row is taken, on the ground or above."""
    return sum(block.length + GAP for block in row if block.below == below)

"""Vessels set out on the ground, seen from above: in rows, with a path to walk along both sides of each row.

    ground = set_out(vessels, 6.0, 5.0)      # a place 6 m long and 5 m wide
    ground.length, ground.width            # what it takes with its paths

All numbers are bare SI. What is set out is a proposal: the build file does not say where a vessel stands.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from aquaplumb.build.falling_records import FallingLine
from aquaplumb.build.vessels import Vessel
from aquaplumb.units import LENGTH

# Common practice, no source.
PATH = {"metric": 0.6, "US": 2 * 0.3048}  # m beside each row and round one end of it, for a person with a bucket
_STEP = {"metric": 0.05, "US": 0.0254}  # m
_GAP = 0.1  # m between neighbours in a row, for pipe
_TOWERS = 0.5  # m from one tower to the next, for light
_TABLE, _CHANNELS = 1.2, 0.05  # m of channels side by side that can be reached from both paths; between two of them


@dataclass(frozen=True, slots=True)
class Placed:
    """One vessel on the ground: its lower left corner, its length along x and its width along y [m]."""

    name: str
    x: float
    y: float
    length: float
    width: float
    round: bool = False
    below: bool = False  # whether others stand over it, on a frame
    floor: float = 0.0  # m, elevation of its bottom

    @property
    def middle(self) -> tuple[float, float]:
        """Its middle [m]."""
        return self.x + self.length / 2, self.y + self.width / 2

    @property
    def turned(self) -> Placed:
        """The same with x and y changed round."""
        return replace(self, x=self.y, y=self.x, length=self.width, width=self.length)


@dataclass(frozen=True, slots=True)
class GroundPlan:
    """Vessels on a place: the `pieces`, what they take with their paths (`length` along x, `width`), and the place itself [m]."""

    pieces: tuple[Placed, ...]
    length: float
    width: float
    place: tuple[float, float]
    path: float

    @property
    def fits(self) -> bool:
        """Whether the place has room for it."""
        return self.length <= self.place[0] + 1e-9 and self.width <= self.place[1] + 1e-9

    @property
    def pit(self) -> float:
        """How deep the lowest vessel stands in the ground [m]; 0 where none does."""
        return max([0.0, *(-piece.floor for piece in self.pieces)])


def takes(length: float, units: str) -> str:
    """How much room something takes, as one paces it out: up to the next 5 cm or inch."""
    step = _STEP[units]
    return LENGTH.text(step * math.ceil(length / step - 1e-6), units)


def set_out(vessels: Sequence[Vessel], length: float, width: float, *, below: Sequence[str] = (), units: str = "metric") -> GroundPlan:
    """The vessels in rows on a place, along its length or else along its width; those `below` stand under the others.

    Where they fit neither way, what plants grow in stands in rows beyond the rest, which stands across: a wide tank takes no row
    of beds its width. Where that does not fit, it is the way that is the least too large, and runs over the place's edge.
    """
    path = PATH[units]
    ways = [GroundPlan(*_rows(vessels, length, below, path), (length, width), path)]
    if not ways[0].fits:
        ways.append(_turned(GroundPlan(*_rows(vessels, width, below, path), (width, length), path)))
    if not below and len({v.grows for v in vessels}) == 2 and not any(way.fits for way in ways):
        ways += [_parted(vessels, length, width, path), _turned(_parted(vessels, width, length, path))]
    return min(ways, key=lambda way: (not way.fits, max(way.length / length, way.width / width)))


def _turned(plan: GroundPlan) -> GroundPlan:
    """The same with x and y changed round."""
    return GroundPlan(tuple(piece.turned for piece in plan.pieces), plan.width, plan.length, plan.place[::-1], plan.path)


def _parted(vessels: Sequence[Vessel], length: float, width: float, path: float) -> GroundPlan:
    """Tanks in rows across the place's near end, and past them what plants grow in, in rows along it."""
    first = [v for v in vessels if not v.grows]
    tanks, across, deep = _rows(first, width, (), path)
    beds, along, wide = _rows([v for v in vessels if v.grows], length - deep, (), path)
    pieces = (*(piece.turned for piece in tanks), *(replace(piece, x=piece.x + deep) for piece in beds))
    return GroundPlan(pieces, deep + along, max(across, wide), (length, width), path)


def stood_over(vessels: dict[str, Vessel], falls: Sequence[FallingLine]) -> list[str]:
    """The names of vessels on the ground that plants stand over: what falls from these comes down into them, and clears their rims."""
    ends = [(vessels[f.source], vessels[f.to]) for f in (line.si for line in falls) if f.source in vessels and f.to in vessels]
    return sorted({to.si.name for bed, to in ends if bed.grows and to.si.floor >= 0 and bed.si.floor >= to.rim})


def _rows(vessels: Sequence[Vessel], limit: float, below: Sequence[str], path: float) -> tuple[tuple[Placed, ...], float, float]:
    """The pieces in rows no longer than a limit with the path round their end, and what they take: along the rows, across them."""
    blocks = sorted((block for v in vessels for block in _blocks(v, v.si.name in below)), key=lambda block: -block.width)
    rows: list[list[_Block]] = []
    for block in sorted(blocks, key=lambda block: block.below):  # what stands under others comes last, into the rows there are
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
            x[block.below] += block.length + _GAP
        y += deep + path
    return tuple(pieces), max(piece.x + piece.length for piece in pieces) + path, y


@dataclass(frozen=True, slots=True)
class _Block:
    """What is not parted: one vessel, or channels side by side."""

    length: float
    width: float
    below: bool
    pieces: tuple[Placed, ...]


def _used(row: Sequence[_Block], below: bool) -> float:
    """How far a row is taken, on the ground or above."""
    return sum(block.length + _GAP for block in row if block.below == below)


def _blocks(vessel: Vessel, below: bool) -> list[_Block]:
    """The blocks of one vessel, its longer side along the row."""
    v, count = vessel.si, round(vessel.si.count)
    sides = sorted((v.length or v.diameter, v.width or v.diameter), reverse=True)
    one = Placed(v.name, 0.0, 0.0, sides[0], sides[1], v.shape in ("round", "cone-bottomed"), below, v.floor)
    if v.kind == "tower":
        wide = max(_TOWERS, one.length)
        off = (wide - one.length) / 2
        return [_Block(wide - _GAP, wide, below, (replace(one, x=off - _GAP / 2, y=off),))] * count
    if v.kind != "channel":
        return [_Block(one.length, one.width, below, (one,))] * count
    step = one.width + _CHANNELS
    most = max(1, int((_TABLE + _CHANNELS) / step + 1e-9))
    tables = [min(most, count - start) for start in range(0, count, most)]
    return [
        _Block(one.length, many * step - _CHANNELS, below, tuple(replace(one, y=place * step) for place in range(many))) for many in tables
    ]

"""Vessels set out on the ground, seen from above: in rows, with a path to walk along both sides of each row.

    ground = set_out(vessels, 6.0, 5.0)      # a place 6 m long and 5 m wide
    ground.length, ground.width            # what it takes with its paths

All numbers are bare SI. What is set out is a proposal: the build file does not say where a vessel stands.
"""

from __future__ import annotations

import functools
import itertools
import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from aquaplumb.build import routes
from aquaplumb.build.falling_records import FallingLine
from aquaplumb.build.records import PumpedLine, way_to
from aquaplumb.build.vessels import Vessel
from aquaplumb.units import LENGTH, Bare

# Common practice, no source.
PATH = {"metric": 0.6, "US": 2 * 0.3048}  # m beside each row and round one end of it, for a person with a bucket
_STEP = {"metric": 0.05, "US": 0.0254}  # m
_GAP = 0.1  # m between neighbours in a row, for pipe
_TOWERS = 0.5  # m from one tower to the next, for light
_TRIES = 400  # plans that are tried for one in which every pipe reaches
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


class Reach(NamedTuple):
    """A pipe seen from above: its name, the vessels at its ends, how long it is, the height between its ends, and the legs of its route that go along [m]."""

    name: str
    source: str
    to: str
    length: float
    height: float
    along: float | None = None  # where the file tells its route

    @property
    def most(self) -> float:
        """How far apart its vessels may stand [m], along walls and square corners."""
        return max(self.length - self.height if self.along is None else self.along, _GAP)

    def missing(self, pieces: Sequence[Placed]) -> float:
        """How much too far its vessels stand apart [m]; of several alike the nearest count."""
        ends = [[piece for piece in pieces if piece.name == name] for name in (self.source, self.to)]
        return max(0.0, min((_apart(a, b) for a in ends[0] for b in ends[1]), default=0.0) - self.most)


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


def _apart(one: Placed, other: Placed) -> float:
    """The ground between two pieces [m]."""
    if one.round and other.round:
        return max(0.0, math.dist(one.middle, other.middle) - one.length / 2 - other.length / 2)
    if one.round or other.round:
        disc, box = (one, other) if one.round else (other, one)
        x, y = disc.middle
        near = (min(max(x, box.x), box.x + box.length), min(max(y, box.y), box.y + box.width))
        return max(0.0, math.dist((x, y), near) - disc.length / 2)
    gaps = (max(a, b, 0.0) for a, b in (
        (other.x - one.x - one.length, one.x - other.x - other.length), (other.y - one.y - one.width, one.y - other.y - other.width)
    ))  # fmt: skip
    return math.hypot(*gaps)


def takes(length: float, units: str) -> str:
    """How much room something takes, as one paces it out: up to the next 5 cm or inch."""
    step = _STEP[units]
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
    `pipes` they change places until each pipe reaches, or as many of them as the search finds.
    """
    path, place = PATH[units], (length, width)
    blocks, grow = _first(vessels, below), {v.si.name for v in vessels if v.grows}
    ways: list[_Way] = [functools.partial(_along, place=place, path=path, turned=False)]
    if not ways[0](blocks).fits:
        ways.append(functools.partial(_along, place=place, path=path, turned=True))
    if not below and 0 < len(grow) < len(vessels) and not any(way(blocks).fits for way in ways):
        ways += [functools.partial(_parted, place=place, path=path, turned=turned, grow=grow) for turned in (False, True)]

    def large(way: _Way) -> tuple[bool, float]:
        plan = way(blocks)
        return not plan.fits, max(plan.length / length, plan.width / width)

    best = min(ways, key=large)
    return _nearer(best, blocks, pipes) if pipes else best(blocks)


def _turned(plan: GroundPlan) -> GroundPlan:
    """The same with x and y changed round."""
    return GroundPlan(tuple(piece.turned for piece in plan.pieces), plan.width, plan.length, plan.place[::-1], plan.path)


def _along(blocks: Sequence[_Block], place: tuple[float, float], path: float, turned: bool) -> GroundPlan:
    """Blocks in rows along a place's length, or along its width."""
    here = place[::-1] if turned else place
    plan = GroundPlan(*_rows(blocks, here[0], path), here, path)
    return _turned(plan) if turned else plan


def _parted(blocks: Sequence[_Block], place: tuple[float, float], path: float, turned: bool, grow: set[str]) -> GroundPlan:
    """Tanks in rows across the place's near end, and past them what plants grow in, in rows along it; or with the place's sides changed round."""
    length, width = place[::-1] if turned else place
    tanks, across, deep = _rows([block for block in blocks if block.pieces[0].name not in grow], width, path)
    beds, along, wide = _rows([block for block in blocks if block.pieces[0].name in grow], length - deep, path)
    pieces = (*(piece.turned for piece in tanks), *(replace(piece, x=piece.x + deep) for piece in beds))
    plan = GroundPlan(pieces, deep + along, max(across, wide), (length, width), path)
    return _turned(plan) if turned else plan


def _nearer(way: _Way, blocks: list[_Block], pipes: Sequence[Reach]) -> GroundPlan:
    """The plan after blocks have changed places, two at a time, as long as that brings what pipes join nearer to each other; from several orders at the start."""

    def worse(plan: GroundPlan) -> tuple[float, float]:
        return round(sum(pipe.missing(plan.pieces) for pipe in pipes), 6), plan.length * plan.width

    first = found = way(blocks)
    least, tries, dice = worse(first), 0, random.Random(1)
    order = list(blocks)
    while least[0] > 0 and tries < _TRIES:
        plan, best, moved = way(order), (math.inf, 0.0), True
        while moved:
            moved = False
            for i, j in itertools.combinations(range(len(order)), 2):
                if order[i].like(order[j]):
                    continue
                for other in (_swapped(order, i, j), _moved(order, i, j), _moved(order, j, i)):
                    tries += 1
                    tried = way(other)
                    if (tried.fits or not first.fits) and worse(tried) < best:
                        plan, order, best, moved = tried, other, worse(tried), True
            moved = moved and tries < _TRIES
        if best < least:
            found, least = plan, best
        order = sorted(blocks, key=lambda _: dice.random())
    return found


def _swapped(blocks: list[_Block], i: int, j: int) -> list[_Block]:
    other = list(blocks)
    other[i], other[j] = other[j], other[i]
    return other


def _moved(blocks: list[_Block], i: int, j: int) -> list[_Block]:
    other = list(blocks)
    other.insert(j, other.pop(i))
    return other


def stood_over(vessels: dict[str, Vessel], falls: Sequence[FallingLine]) -> list[str]:
    """The names of vessels on the ground that plants stand over: what falls from these comes down into them, and clears their rims."""
    ends = [(vessels[f.source], vessels[f.to]) for f in (line.si for line in falls) if f.source in vessels and f.to in vessels]
    return sorted({to.si.name for bed, to in ends if bed.grows and to.si.floor >= 0 and bed.si.floor >= to.rim})


def _first(vessels: Sequence[Vessel], below: Sequence[str]) -> list[_Block]:
    """The blocks in the order in which they are set out first: the widest before the others, what stands under others last."""
    return sorted((block for v in vessels for block in _blocks(v, v.si.name in below)), key=lambda block: (block.below, -block.width))


def _rows(blocks: Sequence[_Block], limit: float, path: float) -> tuple[tuple[Placed, ...], float, float]:
    """The pieces in rows no longer than a limit with the path round their end, and what they take: along the rows, across them."""
    rows: list[list[_Block]] = []
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

    def like(self, other: _Block) -> bool:
        """Whether another is of the same vessel and as large."""
        return self.pieces[0].name == other.pieces[0].name and (self.length, self.width) == (other.length, other.width)


_Way = Callable[[Sequence[_Block]], GroundPlan]  # of setting blocks out


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

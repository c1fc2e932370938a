"""Vessels on the ground, seen from above: one as it is set down, all of them as a plan, and how far pipe lets them stand apart. Bare SI numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

# Common practice, no source.
PATH = {"metric": 0.6, "US": 2 * 0.3048}  # m to walk on, for a person with a bucket
GAP = 0.1  # m between neighbours, for pipe
TOWERS = 0.5  # m from one tower to the next, for light
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
        return max(self.length - self.height if self.along is None else self.along, GAP)

    def missing(self, pieces: Sequence[Placed]) -> float:
        """How much too far its vessels stand apart [m]; of several alike the nearest count."""
        ends = [[piece for piece in pieces if piece.name == name] for name in (self.source, self.to)]
        return max(0.0, min((apart(a, b) for a in ends[0] for b in ends[1]), default=0.0) - self.most)


def apart(one: Placed, other: Placed) -> float:
    """The ground between two pieces [m]."""
    if one.round and other.round:
        return max(0.0, math.dist(one.middle, other.middle) - one.length / 2 - other.length / 2)
    if one.round or other.round:
        disc, box = (one, other) if one.round else (other, one)
        x, y = disc.middle
        near = (min(max(x, box.x), box.x + box.length), min(max(y, box.y), box.y + box.width))
        return max(0.0, math.dist((x, y), near) - disc.length / 2)
    along = max(other.x - one.x - one.length, one.x - other.x - other.length, 0.0)
    return math.hypot(along, max(other.y - one.y - one.width, one.y - other.y - other.width, 0.0))


@dataclass(frozen=True, slots=True)
class Cluster:
    """What is not parted: one vessel, channels side by side, or towers in a row."""

    length: float
    width: float
    below: bool
    pieces: tuple[Placed, ...]

    @property
    def name(self) -> str:
        """Of the vessel that it is of."""
        return self.pieces[0].name

    @property
    def turned(self) -> Cluster:
        """The same with x and y changed round."""
        return Cluster(self.width, self.length, self.below, tuple(piece.turned for piece in self.pieces))


def blocks(vessel, below: bool) -> list[Cluster]:
    """The blocks of one vessel (a `aquaplumb.build.vessels.Vessel`), its longer side along the row."""
    v, count = vessel.si, round(vessel.si.count)
    sides = sorted((v.length or v.diameter, v.width or v.diameter), reverse=True)
    one = Placed(v.name, 0.0, 0.0, sides[0], sides[1], v.shape in ("round", "cone-bottomed"), below, v.floor)
    if v.kind == "tower":
        wide = max(TOWERS, one.length)
        off = (wide - one.length) / 2
        return [Cluster(wide - GAP, wide, below, (replace(one, x=off - GAP / 2, y=off),))] * count
    if v.kind != "channel":
        return [Cluster(one.length, one.width, below, (one,))] * count
    step = one.width + _CHANNELS
    most = max(1, int((_TABLE + _CHANNELS) / step + 1e-9))
    tables = [min(most, count - start) for start in range(0, count, most)]
    return [
        Cluster(one.length, many * step - _CHANNELS, below, tuple(replace(one, y=place * step) for place in range(many))) for many in tables
    ]

"""Where the vessels of a build stand, seen from above: as the file says (`at`, `turned`), or as a proposal.

    plan = standing(load("courtyard"))
    plan.told                      # True: the file says where each stands; else this is a proposal
    plan["sump"].middle

Along is x, across is y, from the corner of the yard that you choose. Bare SI numbers.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aquaplumb.build import Build
from aquaplumb.build.ground import PATH, GroundPlan, Reach
from aquaplumb.build.placing import reaches, set_out, stood_over
from aquaplumb.build.vessels import Vessel

FINGER = 0.02  # m; common practice, no source
_ROUND = 24  # corners that a round vessel is reckoned with
_HAIR = 1e-6  # m
_PARTS, _WIDER = (1.0, 0.75, 1.25, 1.6), 1.5  # of the usual length and width of a place, tried in this order


@dataclass(frozen=True, slots=True)
class Footprint:
    """One vessel on the ground: its corners in order, its middle [m], and how it is shaped."""

    name: str
    corners: tuple[tuple[float, float], ...]
    middle: tuple[float, float]
    radius: float = 0.0  # of a round one
    low: float = 0.0  # elevation of its inside bottom and of its rim
    high: float = 0.0
    below: bool = False  # whether others stand over it
    told: bool = False  # whether the file says where it stands

    @property
    def narrow(self) -> float:
        """Its shorter side [m]."""
        if self.radius:
            return 2 * self.radius
        (ax, ay), (bx, by), (cx, cy) = self.corners[:3]
        return min(math.hypot(bx - ax, by - ay), math.hypot(cx - bx, cy - by))


@dataclass(frozen=True, slots=True)
class Standing:
    """All vessels on the ground. `told` says that the file says where each stands; `size` is the yard's, or what a proposal takes [m]."""

    pieces: tuple[Footprint, ...]
    size: tuple[float, float]
    told: bool
    yard: bool  # whether the size is the yard's, as the file has it
    path: float

    def __getitem__(self, name: str) -> Footprint:
        return next(piece for piece in self.pieces if piece.name == name)

    def of(self, name: str) -> list[Footprint]:
        """All footprints of a name: one, or as many as its count."""
        return [piece for piece in self.pieces if piece.name == name]


@functools.lru_cache(maxsize=16)
def standing(build: Build) -> Standing:
    """Where all vessels stand; of those of which the file does not say it, a proposal beside the rest.

    Source: the build file; the proposal `aquaplumb.build.placing`, whose paths are common practice.

    >>> from aquaplumb.build import load
    >>> standing(load("courtyard")).told
    True
    """
    path, yard = PATH[build.units], _yard(build)
    rest = any(not v.si.at for v in build.vessels.values())
    pieces = told(build)
    if rest:
        ground = proposal(build)
        beside = max((x for foot in pieces for x, _ in foot.corners), default=0.0)
        pieces += [_proposed(p, build.vessels[p.name], beside) for p in ground.pieces]
        over = (beside + ground.length, max(ground.width, *(y for foot in pieces for _, y in foot.corners)))
        size = yard if yard and ground.fits and not beside else tuple(map(max, yard or (0.0, 0.0), over))
    else:
        size = yard or tuple(max(foot[k] for one in pieces for foot in one.corners) + path for k in (0, 1))
    return Standing(tuple(pieces), (float(size[0]), float(size[1])), not rest, bool(yard), path)


@functools.lru_cache(maxsize=64)
def proposal(build: Build) -> GroundPlan:
    """The vessels of which the file does not say where they stand, set out in its yard, or in a place of the usual size.

    Source: `aquaplumb.build.placing`, whose paths are common practice.
    """
    vessels, pipes = list(build.vessels.values()), pipes_of(build)
    rest, over = [v for v in vessels if not v.si.at], stood_over(build.vessels, list(build.drops.values()))
    length, width = _usual(vessels)
    place = _yard(build)
    found: list[tuple[float, GroundPlan]] = []
    for tried in [place] if place else [(part * length, _WIDER * width) for part in _PARTS]:
        plan = set_out(rest, *tried, below=over, units=build.units, pipes=pipes)
        found.append((round(sum(pipe.missing(plan.pieces) for pipe in pipes), 3), plan))
        if found[-1][0] == 0:
            break
    return min(found, key=lambda one: one[0])[1]


def pipes_of(build: Build) -> list[Reach]:
    """Each pipe of a build between two vessels, and how far it reaches."""
    return reaches(build.vessels, list(build.pumped.values()), list(build.drops.values()))


def _yard(build: Build) -> tuple[float, float] | None:
    s = build.site.si
    return None if s.yard_length is None or s.yard_width is None else (s.yard_length, s.yard_width)


def told(build: Build) -> list[Footprint]:
    """The vessels of which the file says where they stand; a proposal for the rest takes longer (`standing`).

    Source: the build file.
    """
    return [foot for v in build.vessels.values() for foot in _told(v)]


def unreached(build: Build) -> list[tuple[Reach, float]]:
    """The pipes that are too short for where their vessels stand, along square ways, and by how much [m]; a finger's breadth is none.

    Source: the build file and `standing`.
    """
    plan, found = standing(build), []
    for pipe in pipes_of(build):
        gap = min(apart(a, b) for a in plan.of(pipe.source) for b in plan.of(pipe.to))
        if gap - pipe.most > FINGER:
            found.append((pipe, gap - pipe.most))
    return found


def _usual(vessels: Sequence[Vessel]) -> tuple[float, float]:
    """A place about one and a half times as long as wide, with paths."""
    area = sum(v.si.count * ((v.si.length or v.si.diameter) + 1.0) * ((v.si.width or v.si.diameter) + 0.8) for v in vessels)
    longest = max(v.si.length or v.si.diameter for v in vessels)
    length = max(math.sqrt(1.5 * area), longest + 1.4)
    return length, area / length


def _shape(vessel: Vessel) -> tuple[float, float, bool]:
    v = vessel.si
    return v.length or v.diameter, v.width or v.diameter, v.shape in ("round", "cone-bottomed")


def _told(vessel: Vessel) -> list[Footprint]:
    v, (long, wide, is_round) = vessel.si, _shape(vessel)
    return [_footprint(v.name, x, y, long, wide, v.turned, is_round, v.floor, vessel.rim, told=True) for x, y in v.at]


def _proposed(p, vessel: Vessel, beside: float) -> Footprint:
    x, y = p.middle
    return _footprint(p.name, x + beside, y, p.length, p.width, 0.0, p.round, p.floor, vessel.rim, below=p.below)


def _footprint(name, x, y, long, wide, turned, is_round, low, high, *, told=False, below=False) -> Footprint:
    if is_round:
        ring = [2 * math.pi * k / _ROUND for k in range(_ROUND)]
        corners = tuple((x + long / 2 * math.cos(a), y + long / 2 * math.sin(a)) for a in ring)
        return Footprint(name, corners, (x, y), long / 2, low, high, below, told)
    c, s = math.cos(turned), math.sin(turned)
    square = [(-long / 2, -wide / 2), (long / 2, -wide / 2), (long / 2, wide / 2), (-long / 2, wide / 2)]
    return Footprint(name, tuple((x + a * c - b * s, y + a * s + b * c) for a, b in square), (x, y), 0.0, low, high, below, told)


# --- how far apart -------------------------------------------------------------------------------------


@functools.lru_cache(maxsize=1024)  # each move of a slider looks at the same pairs
def overlap(one: Footprint, other: Footprint) -> bool:
    """Whether two footprints take the same ground (square ones by their separating lines)."""
    if one.radius or other.radius:
        return _between(one, other) < -_HAIR
    a, b = np.array(one.corners), np.array(other.corners)
    for corners in (a, b):
        edges = np.roll(corners, -1, axis=0) - corners
        for normal in np.column_stack([-edges[:, 1], edges[:, 0]]):
            along_a, along_b = a @ normal, b @ normal
            if along_a.max() <= along_b.min() + _HAIR or along_b.max() <= along_a.min() + _HAIR:
                return False
    return True


@functools.lru_cache(maxsize=1024)
def apart(one: Footprint, other: Footprint) -> float:
    """The ground between two footprints [m]; 0 where they touch or overlap."""
    if one.radius or other.radius:
        return max(0.0, _between(one, other))
    if overlap(one, other):
        return 0.0
    return min(
        _to_edge(point, edge)
        for a, b in ((one, other), (other, one))
        for point in a.corners
        for edge in zip(b.corners, (*b.corners[1:], b.corners[0]))
    )


def _between(one: Footprint, other: Footprint) -> float:
    """The ground between two footprints of which one is round, or both [m]; below 0 where they overlap."""
    if one.radius and other.radius:
        return math.dist(one.middle, other.middle) - one.radius - other.radius
    disc, box = (one, other) if one.radius else (other, one)
    return from_point(disc.middle, box) - disc.radius


def from_point(point: tuple[float, float], foot: Footprint) -> float:
    """How far a point is from a footprint [m]; 0 inside it."""
    inside = all(_left(point, *edge) >= -_HAIR for edge in zip(foot.corners, (*foot.corners[1:], foot.corners[0])))
    return 0.0 if inside else min(_to_edge(point, edge) for edge in zip(foot.corners, (*foot.corners[1:], foot.corners[0])))


def _left(point, start, end) -> float:
    return (end[0] - start[0]) * (point[1] - start[1]) - (end[1] - start[1]) * (point[0] - start[0])


def _to_edge(point, edge) -> float:
    (ax, ay), (bx, by) = edge
    along, (px, py) = (bx - ax, by - ay), point
    square = along[0] ** 2 + along[1] ** 2
    part = 0.0 if square == 0 else min(1.0, max(0.0, ((px - ax) * along[0] + (py - ay) * along[1]) / square))
    return math.hypot(px - ax - part * along[0], py - ay - part * along[1])

"""Vessels set out next to those that pipes join them to: each as near as its pipes ask, with a path along both sides of what plants grow in.

The first is the one that most pipes come to, mostly the sump; the others follow one by one, each where the pipes that it has by then
reach best and the whole takes the least ground. All numbers are bare SI.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from aquaplumb.build.ground import GAP, TOWERS, Cluster, GroundPlan, Placed, Reach, apart

_ORDERS = 8  # in which they are set down, until every pipe reaches
_TOUCH = 0.15  # m: what stands so near is meant to, with pipe between (as in the findings); common practice, no source
_IN_A_ROW = 8  # towers
_HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class _Down:
    """A block that is set down, its lower left corner at x and y; `grows` where plants stand in it."""

    block: Cluster
    x: float
    y: float
    grows: bool
    pieces: tuple[Placed, ...]

    @property
    def box(self) -> tuple[float, float, float, float]:
        return self.x, self.y, self.x + self.block.length, self.y + self.block.width

    @property
    def lies(self) -> bool:
        """Whether its longer side is along x."""
        return self.block.length >= self.block.width


def _set_down(block: Cluster, x: float, y: float, grows: bool) -> _Down:
    pieces = tuple(
        Placed(p.name, p.x + x, p.y + y, p.length, p.width, p.round, p.below, p.floor) for p in block.pieces
    )  # replace() is slow
    return _Down(block, x, y, grows, pieces)


def side_by_side(
    blocks: Sequence[Cluster], pipes: Sequence[Reach], place: tuple[float, float], path: float, grow: set[str]
) -> GroundPlan | None:
    """The plan in which the pipes reach best, of several orders; nothing where none fits into the place."""
    found: GroundPlan | None = None
    least = (math.inf, 0.0)
    dice, rows = random.Random(1), _rowed(blocks)
    for number in range(_ORDERS):
        down = _packed(_order(rows, pipes, dice if number else None), pipes, place, path, grow)
        if not down:
            continue
        x0, y0, x1, y1 = _taken(down, path)
        pieces = tuple(replace(piece, x=piece.x - x0, y=piece.y - y0) for one in down for piece in one.pieces)
        plan = GroundPlan(pieces, x1 - x0, y1 - y0, place, path)
        worse = round(_missing(pipes, plan.pieces), 2), plan.length * plan.width
        if worse < least:
            found, least = plan, worse
        if least[0] == 0:
            break
    return found


def _rowed(blocks: Sequence[Cluster]) -> list[Cluster]:
    """Blocks of which those of single towers are rows of some."""
    single = [block for block in blocks if block.width == TOWERS and len(block.pieces) == 1]
    found = [block for block in blocks if block not in single]
    for _, alike in itertools.groupby(single, key=lambda block: block.name):
        group = list(alike)
        many = math.ceil(len(group) / math.ceil(len(group) / _IN_A_ROW))
        for row in (group[k : k + many] for k in range(0, len(group), many)):
            pieces = tuple(replace(block.pieces[0], x=block.pieces[0].x + k * TOWERS) for k, block in enumerate(row))
            found.append(Cluster(TOWERS * len(row) - GAP, TOWERS, row[0].below, pieces))
    return found


def _order(blocks: Sequence[Cluster], pipes: Sequence[Reach], dice: random.Random | None) -> list[Cluster]:
    """Blocks in the order in which they are set down: what most pipes come to, then always one that is joined to those before, by the shortest pipe first."""
    many = {block.name: sum(block.name in (pipe.source, pipe.to) for pipe in pipes) for block in blocks}
    left = sorted(blocks, key=lambda block: (-many[block.name], -block.length * block.width))
    if dice:
        left[1:] = sorted(left[1:], key=lambda _: dice.random())
    order = [left.pop(0)] if left else []
    while left:
        done = {block.name for block in order}

        def farthest(block: Cluster, done: set[str] = done) -> tuple[bool, float]:
            joined = [p.most for p in pipes if block.name in (p.source, p.to) and (p.source in done or p.to in done)]
            return not joined, 0.0 if dice and dice.random() < 0.5 else min(joined, default=math.inf)

        order.append(left.pop(min(range(len(left)), key=lambda k: farthest(left[k]))))
    return order


def _packed(order: Sequence[Cluster], pipes: Sequence[Reach], place: tuple[float, float], path: float, grow: set[str]) -> list[_Down]:
    """Blocks set down one after the other; nothing where one finds no room."""
    down: list[_Down] = []
    for block in order:
        grows = block.name in grow
        if not down:
            down.append(_set_down(block, 0.0, 0.0, grows))
            continue
        mine = [pipe for pipe in pipes if block.name in (pipe.source, pipe.to)]
        near = {block.name, *(pipe.source for pipe in mine), *(pipe.to for pipe in mine)}
        for beside in ([one for one in down if block.below or one.block.name in near], down):
            best = _best(block, grows, beside, down, mine, place, path)
            if best:
                break
        else:
            return []
        down.append(best)
    return down


def _best(
    block: Cluster,
    grows: bool,
    beside: Sequence[_Down],
    down: Sequence[_Down],
    pipes: Sequence[Reach],
    place: tuple[float, float],
    path: float,
) -> _Down | None:
    """A block where its pipes miss the least, and then the whole takes the least ground."""
    best, least = None, (math.inf, 0.0)
    alike = next((one for one in down if one.block.name == block.name), None)  # all of a name are turned one way
    ways = [block.turned if alike and alike.lies != (block.length >= block.width) else block]
    if alike is None and abs(block.length - block.width) > _HAIR:
        ways.append(block.turned)
    ends = [_end(block.name, pipe, down) for pipe in pipes]
    bounds, edges = _box(down), _looking(down)
    for way in ways:
        for x, y in dict.fromkeys(spot for one in beside for spot in _spots(way, one, path)):
            box = x, y, x + way.length, y + way.width
            wider = min(bounds[0], box[0]), min(bounds[1], box[1]), max(bounds[2], box[2]), max(bounds[3], box[3])
            own = [x] if grows and way.length < way.width else []
            left, low, right, high = _with_paths(wider, edges + own, path)
            long, wide = right - left, high - low
            if long > place[0] + _HAIR or wide > place[1] + _HAIR or (0.0, long * wide) >= least:
                continue
            tried = _set_down(way, x, y, grows)
            missing = round(sum(max(0.0, min(near, *_gaps(tried.pieces, others)) - most) for near, others, most in ends), 2)
            worse = missing, long * wide
            if worse < least and all(_bears(tried, one, path) for one in down):
                best, least = tried, worse
    return best


def _end(name: str, pipe: Reach, down: Sequence[_Down]) -> tuple[float, list[Placed], float]:
    """Of a pipe with an end at a vessel: how near what stands of it already is, the pieces at its other end, and how far apart they may stand [m]."""
    own, other = ([one for one in down if one.block.name == end] for end in (name, pipe.source if pipe.to == name else pipe.to))
    pieces = [piece for one in other for piece in one.pieces]
    if not pieces:
        return 0.0, [], math.inf
    return min((gap for one in own for gap in _gaps(one.pieces, pieces)), default=math.inf), pieces, pipe.most


def _gaps(pieces: Sequence[Placed], others: Sequence[Placed]) -> list[float]:
    return [apart(a, b) for a in pieces for b in others] or [math.inf]


def _spots(block: Cluster, one: _Down, path: float) -> Iterator[tuple[float, float]]:
    """Where a block may be set down beside another, or under it."""
    (x0, y0, x1, y1), long, wide = one.box, block.length, block.width
    if block.below != one.block.below:
        yield (x0 + x1 - long) / 2, (y0 + y1 - wide) / 2
    for gap in (GAP, path):
        for y in (y0, y1 - wide, (y0 + y1 - wide) / 2, y0 - (wide + path) / 2, y1 - (wide - path) / 2):
            yield from ((x1 + gap, y), (x0 - gap - long, y))
        for x in (x0, x1 - long, (x0 + x1 - long) / 2, x0 - (long + path) / 2, x1 - (long - path) / 2):
            yield from ((x, y1 + gap), (x, y0 - gap - wide))


def _bears(one: _Down, other: _Down, path: float) -> bool:
    """Whether two may stand as they do: a path apart, or as near as touching where that leaves both long sides of what plants grow in free."""
    if one.block.below != other.block.below:
        return True
    (ax0, ay0, ax1, ay1), (bx0, by0, bx1, by1) = one.box, other.box
    along, across = max(bx0 - ax1, ax0 - bx1), max(by0 - ay1, ay0 - by1)
    if max(along, across) >= path - _HAIR:
        return True
    if max(along, across) < -_HAIR:
        return False
    for grower in (one, other):
        if grower.grows and (along if grower.lies else across) < -_HAIR:
            return False
    gap = min(apart(a, b) for a in one.pieces for b in other.pieces)
    return gap >= path - _HAIR or GAP - _HAIR <= gap <= _TOUCH + _HAIR


def _taken(down: Sequence[_Down], path: float) -> tuple[float, float, float, float]:
    """The ground that they take with their paths: along both sides of it, round one end, and round the other where a long side looks that way."""
    return _with_paths(_box(down), _looking(down), path)


def _looking(down: Sequence[_Down]) -> list[float]:
    """The near edges of what plants grow in with a long side that looks along x."""
    return [one.x for one in down if one.grows and not one.lies]


def _with_paths(box: tuple[float, float, float, float], edges: Sequence[float], path: float) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = box
    return x0 - (path if any(edge < x0 + path - _HAIR for edge in edges) else 0.0), y0 - path, x1 + path, y1 + path


def _box(down: Sequence[_Down]) -> tuple[float, float, float, float]:
    boxes = [one.box for one in down]
    return min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes)


def _missing(pipes: Sequence[Reach], pieces: Sequence[Placed]) -> float:
    """How much pipe is missing where both its ends are there [m]."""
    names = {piece.name for piece in pieces}
    return sum(pipe.missing(pieces) for pipe in pipes if pipe.source in names and pipe.to in names)

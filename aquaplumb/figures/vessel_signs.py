"""What a vessel looks like from the side: its outline up to a depth, and the strokes by which its kind is known.

Both drawings of a build use it, the picture on the screen and the elevation as built. Across, a place is a part of the vessel's width
(0 its left wall, 1 its right one); upwards it is an elevation [m].
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from aquaplumb.build.vessels import Vessel
from aquaplumb.units import Bare

Stroke = tuple[tuple[float, float], ...]

_ARC = 12  # points of a quarter of a round outline
_SPROUTS, _COLUMNS = 4, 4  # plants on a vessel; of several towers so many are drawn
_BOARD, _TALL = 0.04, 0.08  # m, of floating boards; of a plant


def sides(v: Bare, depth: float) -> tuple[float, float]:
    """Where the two walls stand at a depth over the inside bottom, as parts of the width."""
    if v.shape == "cone-bottomed" and depth < v.cone_height:
        half = 0.5 * max(0.0, depth) / v.cone_height
        return 0.5 - half, 0.5 + half
    if v.shape == "lying" and v.kind != "channel":
        r = v.diameter / 2
        depth = min(max(depth, 0.0), v.height)
        widest = r if v.height >= r else math.sqrt(v.height * (2 * r - v.height))
        half = 0.5 * math.sqrt(max(depth * (2 * r - depth), 0.0)) / widest
        return 0.5 - half, 0.5 + half
    return 0.0, 1.0


def outline(v: Bare, depth: float) -> Stroke:
    """The vessel up to a depth over its inside bottom, from its upper left corner going down and up again."""
    if v.slope and v.length:  # its floor rises to the left, where the water comes in
        rise = min(v.slope * v.length, v.height)
        if depth >= rise:
            return (0.0, v.floor + depth), (0.0, v.floor + rise), (1.0, v.floor), (1.0, v.floor + depth)
        left = 1 - depth / rise
        return (left, v.floor + depth), (left, v.floor + depth), (1.0, v.floor), (1.0, v.floor + depth)
    heights = [depth, 0.0]
    if v.shape == "cone-bottomed" and depth > v.cone_height:
        heights.insert(1, v.cone_height)
    elif v.shape == "lying" and v.kind != "channel":
        heights = [depth * math.cos(math.pi / 2 * k / _ARC) if k < _ARC else 0.0 for k in range(_ARC + 1)]
    ends = [(*sides(v, h), v.floor + h) for h in heights]
    return tuple([(left, y) for left, _, y in ends] + [(right, y) for _, right, y in reversed(ends)])


def strokes(vessel: Vessel, level: float) -> list[Stroke]:
    """The strokes by which the kind of a vessel is known, with its water at an elevation [m]."""
    v = vessel.si
    made = list(_KINDS[v.kind](v, level)) if v.kind in _KINDS else []
    for one in v.does:
        made += list(_FILTERS[one](v, level))
    return [tuple(_between(v, x, y) for x, y in one) for one in made] + list(_legs(v))


def _between(v: Bare, x: float, y: float) -> tuple[float, float]:
    """A place between the walls, where those do not stand upright."""
    left, right = sides(v, max(y - v.floor, 0.0))
    return left + x * (right - left), y


def _legs(v: Bare) -> Iterator[Stroke]:
    """Legs down to the zero mark, of one that stands on them over it."""
    if v.legs and v.floor > 0:
        for x in (0.08, 0.92):
            yield (x, v.floor), (x, 0.0)


def _sprouts(v: Bare, foot: float, tall: float, roots: float = 0.0) -> Iterator[Stroke]:
    """Plants that stand side by side at an elevation."""
    for k in range(_SPROUTS):
        x = (k + 0.5) / _SPROUTS
        yield (x - 0.035, foot + tall), (x, foot), (x + 0.035, foot + tall)
        yield (x, foot), (x, foot + 1.1 * tall)
        if roots:
            yield (x, foot), (x - 0.015, foot - roots / 2), (x + 0.015, foot - roots)


def _fish(v: Bare, level: float) -> Iterator[Stroke]:
    y, half = v.floor + 0.45 * max(level - v.floor, 0.1), 0.06 * v.height
    body = [(0.42 + 0.16 * t, y + half * math.sin(math.pi * t)) for t in (k / 8 for k in range(9))]
    yield (*body, *((x, 2 * y - up) for x, up in reversed(body)))
    yield (0.42, y), (0.37, y + half), (0.37, y - half), (0.42, y)


def _heap(v: Bare, level: float) -> Iterator[Stroke]:
    """What has sunk to the floor."""
    yield tuple((0.2 + 0.6 * t, v.floor + 0.14 * v.height * math.sin(math.pi * t)) for t in (k / 8 for k in range(9)))


def _bed(v: Bare, level: float) -> Iterator[Stroke]:
    yield from _sprouts(v, v.floor + (v.media_depth or level - v.floor), _TALL)


def _raft(v: Bare, level: float) -> Iterator[Stroke]:
    for x in (0.04, 0.52):
        yield (x, level), (x, level + _BOARD), (x + 0.44, level + _BOARD), (x + 0.44, level), (x, level)
    yield from _sprouts(v, level + _BOARD, _TALL, min(0.5 * (level - v.floor), 0.15) + _BOARD)


def _channel(v: Bare, level: float) -> Iterator[Stroke]:
    top = v.floor + v.height
    yield (0.0, top), (1.0, top)  # its lid
    yield from _sprouts(v, top, _TALL, 0.6 * v.height)


def _tower(v: Bare, level: float) -> Iterator[Stroke]:
    columns = int(min(v.count, _COLUMNS))
    for k in range(1, columns):
        yield (k / columns, v.floor), (k / columns, v.floor + v.height)
    for k in range(columns):
        for n in range(3):
            y, x = v.floor + v.height * (0.25 + 0.25 * n), (k + 0.5) / columns
            yield (x - 0.3 / columns, y + 0.06 * v.height), (x, y), (x + 0.3 / columns, y + 0.06 * v.height)


def _sump(v: Bare, level: float) -> Iterator[Stroke]:
    """Ground beside its rim, where it is let in; else the mark of the lowest water."""
    y = v.floor + v.height
    for x, way in ((0.0, -1), (1.0, 1)):
        yield (x, y), (x + 0.06 * way, y)


def _buffer(v: Bare, level: float) -> Iterator[Stroke]:
    """Two short lines under the water's mark: what comes in bursts goes on evenly."""
    for k in (1, 2):
        y = level - 0.08 * k * v.height
        yield (0.5 - 0.1 / k, y), (0.5 + 0.1 / k, y)


def _swirl(v: Bare, level: float) -> Iterator[Stroke]:
    y, up = v.floor + 0.5 * v.height, 0.16 * v.height
    turns = [2 * math.pi * k / 12 for k in range(25)]
    yield tuple((0.5 + 0.2 * t / turns[-1] * math.cos(t), y + up * t / turns[-1] * math.sin(t)) for t in turns)


def _radial(v: Bare, level: float) -> Iterator[Stroke]:
    """The still well in its middle."""
    for x in (0.38, 0.62):
        yield (x, v.floor + 0.35 * v.height), (x, level)
    yield from _heap(v, level)


def _screen(v: Bare, level: float) -> Iterator[Stroke]:
    yield (0.3, v.floor + 0.1 * v.height), (0.7, v.floor + 0.8 * v.height)
    for k in range(1, 6):
        x, y = 0.3 + 0.4 * k / 6, v.floor + (0.1 + 0.7 * k / 6) * v.height
        yield (x - 0.03, y + 0.03 * v.height), (x + 0.03, y - 0.03 * v.height)


def _mat(v: Bare, level: float) -> Iterator[Stroke]:
    for x in (0.45, 0.55):
        yield (x, v.floor), (x, level)
    steps = 6
    yield tuple((0.45 + 0.1 * (k % 2), v.floor + (level - v.floor) * k / steps) for k in range(steps + 1))


def _brushes(v: Bare, level: float) -> Iterator[Stroke]:
    for x in (0.25, 0.5, 0.75):
        yield (x, v.floor + 0.15 * v.height), (x, level)
        for k in range(1, 5):
            y = v.floor + 0.15 * v.height + (level - v.floor - 0.15 * v.height) * k / 5
            yield (x - 0.07, y), (x + 0.07, y)


def _rings(v: Bare, y: float, many: int, wide: float = 0.03) -> Iterator[Stroke]:
    for k in range(many):
        x = (k + 0.7) / (many + 0.4)
        yield tuple((x + wide * math.cos(a), y + 0.6 * wide * v.height * math.sin(a)) for a in (math.pi * n / 4 for n in range(9)))


def _media(v: Bare, level: float) -> Iterator[Stroke]:
    """The floor that media lie on."""
    yield (0.0, v.floor + 0.06 * v.height), (1.0, v.floor + 0.06 * v.height)


def _moving(v: Bare, level: float) -> Iterator[Stroke]:
    for part, many in ((0.25, 5), (0.5, 4), (0.75, 5)):
        yield from _rings(v, v.floor + part * (level - v.floor), many)


def _drops(v: Bare, part: float, long: float) -> Iterator[Stroke]:
    for k in range(5):
        x, y = (k + 0.5) / 5, v.floor + part * v.height
        yield (x, y), (x, y - long * v.height)


def _trickling(v: Bare, level: float) -> Iterator[Stroke]:
    for part in (0.9, 0.6, 0.3):
        yield from _drops(v, part, 0.15)


def _degassing(v: Bare, level: float) -> Iterator[Stroke]:
    yield from _drops(v, 0.9, 0.1)
    for x in (0.3, 0.7):
        yield (x, v.floor + 0.5 * v.height), (x, v.floor + 0.75 * v.height)
        yield (x - 0.04, v.floor + 0.68 * v.height), (x, v.floor + 0.75 * v.height), (x + 0.04, v.floor + 0.68 * v.height)


_KINDS = {
    "fish tank": _fish, "settling tank": _heap, "buffer tank": _buffer, "bed": _bed, "raft": _raft, "channel": _channel, "tower": _tower,
    "sump": _sump,
}  # fmt: skip
_FILTERS = {
    "settling": _heap, "swirl": _swirl, "radial flow": _radial, "screen": _screen, "mat": _mat, "brushes": _brushes, "media": _media,
    "moving bed": _moving, "trickling": _trickling, "degassing": _degassing,
}  # fmt: skip

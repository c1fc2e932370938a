"""What is odd about a number beside the others of its build: a note each, told as those of `data/plausible.csv` are.

A decimal point or unit that slipped leaves a number that can be, but not among its neighbours: a bed a tenth as long as the other
beside it, an overflow of 12 m where the drain next to it has 2.5 m, a cone as flat as a plate.
"""

from __future__ import annotations

import heapq
import math
import re
from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from aquaplumb.build.records import PumpedLine
from aquaplumb.records import said
from aquaplumb.units import LENGTH, DesignError, Quantity, quantity, rounded

if TYPE_CHECKING:
    from aquaplumb.build.line_reader import LineReader as Reader

# All of these are common practice, no source; none is true of a demo, of a first build or of a published system.
_DETOUR = 1.5  # times the way that other pipes and the vessels take between the same two ends; the demos have 0.5, the farthest build 0.9
_SHALLOW = 0.15  # of a height, for what is there to hold water
_FLAT = 0.2  # of half the width: what falls on such a cone lies there
_HOLDS = ("fish tank", "settling tank", "buffer tank", "raft", "sump")
_SLIPS = {10: ("ten times", "a tenth of"), 100: ("a hundred times", "a hundredth of"), 1000: ("a thousand times", "a thousandth of")}
_PARTS = ("suction", "pipe")
_BEGINS = re.compile(r"\s*[-+]?\.?\d")  # not read: the file's reader has read each number already
_ALIKE = 3  # other numbers that two have in common, at least


def noted(reader: Reader, vessels: dict, lines: dict) -> None:
    """Keep in mind what is odd of a file, beside what is unusual by itself."""
    units = reader.head()[2]
    for keys, why in (*_twins(reader.doc), *_shapes(vessels, units), *_detours(vessels, lines, units)):
        reader.unusual.setdefault(keys, why)


def _shapes(vessels: dict, units: str) -> Iterable[tuple[tuple, str]]:
    """Vessels with next to no water, and cones that are plates."""
    for name, vessel in vessels.items():
        v = vessel.si
        if v.kind in _HOLDS and v.working_depth < _SHALLOW * v.height:
            yield ("vessels", name, "working_depth"), f"{said(v.working_depth, LENGTH, units)} is little water for a height of {said(v.height, LENGTH, units)}."  # fmt: skip
        if v.cone_height is not None and v.diameter is not None and v.cone_height < _FLAT * v.diameter / 2:
            yield ("vessels", name, "cone_height"), f"{said(v.cone_height, LENGTH, units)} is flat for a cone {said(v.diameter, LENGTH, units)} across."  # fmt: skip


# --- one of several alike -------------------------------------------------------------------------


def _twins(doc: dict) -> Iterable[tuple[tuple, str]]:
    """One number of a vessel, line or stretch that is another's but for its decimal point, where all their others are the same."""
    alike: dict[tuple, list] = defaultdict(list)
    for keys, found in _sections(doc):
        numbers = _numbers(found)
        if len(numbers) > _ALIKE:
            for path, value in numbers.items():
                alike[keys[0], path, frozenset(one for one in numbers.items() if one[0] != path)].append((keys, value))
    for (_, path, _), several in alike.items():
        count = Counter(value for _, value in several)
        if len(count) == 1:
            continue
        usual = max(count, key=lambda value: count[value])  # of as many the first
        other = next(keys for keys, value in several if value == usual)
        for keys, value in several:
            if words := _slip(value, usual):
                name = next(key for key in reversed(other) if isinstance(key, str) and key not in _PARTS)
                yield (*keys, *path), f"{value} is {words} what {name} has, {usual}, and all else of the two is the same."


def _slip(value, usual) -> str:
    """How far a number is off another, in words, where that is a decimal point."""
    one, two = _read(value), _read(usual)
    if one is None or two is None or not one.check(two.dimensionality) or not one.m * two.m > 0:
        return ""
    share = float((one / two).m_as(""))
    return next((words[share < 1] for factor, words in _SLIPS.items() if math.isclose(max(share, 1 / share), factor, rel_tol=1e-6)), "")


def _sections(doc: dict) -> Iterable[tuple[tuple, dict]]:
    """(keys, values) of each vessel, falling line and stretch of pipe."""
    for section in ("vessels", "lines"):
        for name, found in doc[section].items():
            for part in _PARTS:
                for place, stretch in enumerate(found.get(part, ())):
                    yield (section, name, part, place), stretch
            if "pipe" not in found:
                yield (section, name), found


def _numbers(found: dict, path: tuple = ()) -> dict[tuple, Any]:
    """Each number of a section as it is written, by its path; of what only begins as one `_slip` finds nothing."""
    numbers: dict[tuple, Any] = {}
    for key, value in found.items():
        if isinstance(value, dict):
            numbers |= _numbers(value, (*path, key))
        elif isinstance(value, (int, float)) or (isinstance(value, str) and _BEGINS.match(value)):
            numbers[*path, key] = value
    return numbers


def _read(value) -> Quantity | None:
    if not isinstance(value, str):
        return Quantity(float(value)) if isinstance(value, (int, float)) else None
    try:
        return quantity(value)
    except DesignError:
        return None


# --- pipe that goes a long way round --------------------------------------------------------------


def _detours(vessels: dict, lines: dict, units: str) -> Iterable[tuple[tuple, str]]:
    """Stretches far longer than the way between their two ends through the other pipes, with each vessel on it from side to side."""
    sizes = {name: max(one for one in (v.si.diameter, v.si.length, v.si.width) if one) for name, v in vessels.items()}
    edges = list(_edges(lines))
    ways: dict[Any, list] = defaultdict(list)
    for place, (_, start, end, length) in enumerate(edges):
        ways[start].append((end, length, place))
        ways[end].append((start, length, place))
    for place, (keys, start, end, length) in enumerate(edges):
        if keys and (other := _way(ways, sizes, start, end, place, length / _DETOUR)):
            about = f"{rounded(LENGTH.shown(other, units), 2)} {LENGTH.unit(units)}"
            yield (
                (*keys, "length"),
                f"{said(length, LENGTH, units)} of pipe is far: the way between its ends by the other pipes is about {about}.",
            )


def _edges(lines: dict) -> Iterable[tuple[tuple, Any, Any, float]]:
    """(keys, start, end, length) of each stretch; of the suction as a whole without keys. An end is a vessel, or where stretches meet."""
    for name, line in lines.items():
        s, pipe = line.si, getattr(line.si, "pipe", ())
        first: Any = s.source
        if isinstance(line, PumpedLine):
            first = (name, "pump")
            yield (), s.source, first, sum(p.si.length for p in s.suction)
        for place, p in enumerate(one.si for one in pipe):
            yield ("lines", name, "pipe", place), (name, p.after) if p.after else first, p.to or (name, p.name), p.length
        if not pipe:
            yield ("lines", name), s.source, s.to, s.length


def _way(ways: dict, sizes: dict, start, end, without: int, most: float) -> float:
    """The shortest way between two ends but for one pipe; 0 where there is none of less than `most`."""
    queue, seen, turn = [(sizes.get(start, 0.0), 0, start)], set(), 0
    while queue:
        far, _, here = heapq.heappop(queue)
        if far >= most:
            return 0.0
        if here == end:
            return far
        if here not in seen:
            seen.add(here)
            for there, length, place in ways[here]:
                if place != without and there not in seen:
                    turn += 1
                    heapq.heappush(queue, (far + length + sizes.get(there, 0.0), turn, there))
    return 0.0

"""What two numbers of a build file cannot be together: a floor above the pipe that ends in it, a lip over the rim, a pipe shorter than its rise.

Each refusal stands at the one number, and says the other with its place, both as the file has them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from aquaplumb.build.records import PumpedLine, way_to
from aquaplumb.build.vessels import Vessel
from aquaplumb.records import FromFile, said
from aquaplumb.units import HEAD, LENGTH

if TYPE_CHECKING:
    from aquaplumb.build.line_reader import LineReader as Reader

# What is off by less is no slip of a unit: it is built so or measured badly, and a finding says it (`review.findings.outlets`, `contradictions`).
_SLACK = 0.3  # m (common practice, no source)
_SHORT = 0.5  # of a rise (common practice, no source)


def checked(reader: Reader, vessels: dict[str, Vessel], lines: dict) -> None:
    """Refuse lines that do not fit their vessels."""
    for name, line in lines.items():
        if isinstance(line, PumpedLine):
            _pumped(reader, ("lines", name), line.si, vessels)
        else:
            _falls(reader, ("lines", name), line.si, vessels)


def _told(reader: Reader, value: float, kind) -> str:
    """A number as the file has it, and where."""
    if not isinstance(value, FromFile):
        return kind.text(value, reader.head()[2])
    place = value.place().removeprefix(reader.name).lstrip(", ")
    return f"{value.said} ({place.removeprefix(': ')})"


def _refuse(reader: Reader, keys: tuple, value: float, kind, why: str) -> None:
    reader.refuse(keys, f"{said(value, kind, reader.head()[2])} {why}")


def _ends_in(reader: Reader, outlet: float, vessel: Vessel) -> None:
    """Refuse a vessel whose inside bottom is above the pipe that ends in it."""
    v = vessel.si
    if outlet < v.floor - _SLACK:
        _refuse(reader, ("vessels", v.name, "floor"), v.floor, HEAD, f"is above the pipe that ends in it, {_told(reader, outlet, HEAD)}.")


def _pumped(reader: Reader, keys: tuple, line, vessels: dict[str, Vessel]) -> None:
    source = vessels[line.source]
    for place, pipe in enumerate(line.pipe):
        s = pipe.si
        if not s.to or s.outlet is None:
            continue
        _ends_in(reader, s.outlet, vessels[s.to])
        way = [p.si.length for p in way_to(line, pipe)]
        _long_enough(reader, (*keys, "pipe", place, "length"), s.length, way, s.outlet - source.level, s.outlet)


def _falls(reader: Reader, keys: tuple, f, vessels: dict[str, Vessel]) -> None:
    source, floor = vessels[f.source], vessels[f.source].si.floor
    if f.lip > source.rim + _SLACK:
        height, stands = _told(reader, source.si.height, LENGTH), _told(reader, floor, HEAD)
        _refuse(
            reader, (*keys, "lip"), f.lip, HEAD, f"is over the rim of {f.source}, which has a height of {height} on a floor at {stands}."
        )
    for place, at in (((*keys, "lip"), f.lip), ((*keys, "siphon", "vent"), f.siphon.si.vent if f.siphon else f.lip)):
        if at < floor - _SLACK:
            _refuse(reader, place, at, HEAD, f"is under the floor of {f.source}, {_told(reader, floor, HEAD)}.")
    legs = {leg.si.name: ((*keys, "pipe", place, "length"), leg.si) for place, leg in enumerate(getattr(f, "pipe", ()))}
    for place, leg in legs.values() or [((*keys, "length"), f)]:
        if leg.to:
            _ends_in(reader, leg.outlet, vessels[leg.to])
            way, before = [leg.length], getattr(leg, "after", "")
            while before:
                way.append(legs[before][1].length)
                before = legs[before][1].after
            _long_enough(reader, place, leg.length, way, f.lip - leg.outlet, leg.outlet)


def _long_enough(reader: Reader, keys: tuple, length: float, way: list[float], rise: float, end: float) -> None:
    """Refuse pipe that is shorter than the height between its ends."""
    if sum(way) < _SHORT * rise:
        together = " (with the pipe before it)" if len(way) > 1 else ""
        tall = HEAD.text(rise, reader.head()[2])
        _refuse(reader, keys, length, LENGTH, f"of pipe{together} is shorter than the height between its ends, {tall}; it ends at {_told(reader, end, HEAD)}.")  # fmt: skip

"""Which numbers of a review stand on what is a builder's own: rows beside the build file, or a pump's own file.

A number stands on a row if it moves when the row does: the build is solved again with all of its own rows larger, and its own
pumps slower; by so much that whole numbers move too, or by less where such a build cannot be. So nobody keeps a list of what
hangs on what.
"""

from __future__ import annotations

from dataclasses import replace

from aquaplumb.build import Air, Build, own_rows
from aquaplumb.review.numbers import RUN, Result, results
from aquaplumb.system.steady import Steady
from aquaplumb.tables import OwnName
from aquaplumb.units import DesignError

_MOVED = 1e-6  # of a number: under this it is rounding
_PUSHES = (0.2, 0.02, 0.001)  # shares by which they are moved, the first that makes a build


def files(build: Build) -> list[str]:
    """The files of a builder's own that a build names, in its order."""
    own = [str(build.value("own", table)) for table in build.own]
    pumps = [line.si.pump_file for line in build.pumped.values() if line.si.pump_file]
    blowers = [str(file) for key in ("pump_file", "backup_pump_file") if (file := build.value("air", key))]
    return list(dict.fromkeys([*own, *pumps, *blowers]))


def marked(system: Steady) -> dict[str, Result]:
    """Every number of a review by name; the source of one that stands on the builder's own begins with "yours"."""
    found = {r.name: r for r in results(system)}
    if not files(system.build):
        return found
    moves = _moving(system.build)
    if moves is not None and any(name.startswith(("line ", "fall ", "vessel ")) for name in moves):
        moves |= {name for name, r in found.items() if r.source == RUN}  # all of a run moves with any flow
    return {
        name: replace(r, source=f"yours ({', '.join(files(system.build))}); {r.source}", yours=True)
        if moves is None or name in moves
        else r
        for name, r in found.items()
    }


def _moving(build: Build) -> set[str] | None:
    """The names of the numbers that move with what is the builder's own; None where that cannot be told: then all may."""
    as_told = Build(build.text, build.path, own=build.own) if build.month else build  # a year is solved as a year, on both sides
    for by in _PUSHES:
        try:
            still = {r.name: r.value for r in results(Steady(as_told).in_time)}
            pushed = Build(build.text, build.path, own=own_rows.shifted(build.own, by))
            slower = [line.with_si(speed=line.si.speed * (1 - by)) for line in pushed.pumped.values() if line.si.pump_file]
            moved = {r.name: r.value for r in results(Steady(pushed.replaced(lines=slower, air=_blown_more(pushed.air, by))).in_time)}
        except DesignError:
            continue
        return {name for name, value in moved.items() if not _same(still.get(name), value)} | (still.keys() - moved.keys())
    return None


def _blown_more(air: Air | None, by: float) -> Air | None:
    """The air with the pumps that files tell of larger; as it is where none is."""
    own = {
        f: name
        for f in ("pump", "backup_pump")
        if air and isinstance(name := getattr(air.si, f), OwnName) and name.rows[0].source.endswith(".csv")
    }
    return air.with_si(**{f: own_rows.larger(name, by) for f, name in own.items()}) if air and own else air


def _same(old: float | None, new: float) -> bool:
    """Whether a number stood still; both may be beyond all bounds, or no number."""
    return old is not None and (old == new or (old != old and new != new) or abs(new - old) <= _MOVED * max(abs(old), abs(new)))

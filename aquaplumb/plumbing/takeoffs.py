"""Sockets and take-offs: how deep pipe goes into a fitting, and how much of a measured line the fitting itself takes up.

    takeoffs.socket_depth("1 in", "Sch 40")            # how far the pipe goes in
    takeoffs.take_off("elbow 90", "1 in", "Sch 40")    # from its centre to the bottom of its socket

A piece of pipe is as long as its line from centre to centre, less the take-off of each fitting, and its two socket depths.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping

from aquaplumb import tables
from aquaplumb.plumbing import pipe_sizes
from aquaplumb.plumbing.fittings import fitting
from aquaplumb.units import Bore, DesignError, takes_quantities

AS_WIDE = 0.03  # of an outside diameter: as near as the label of another standard may be
_KINDS = {"tee run": "tee", "tee branch": "tee", "hose barb": "adapter", "foot valve, hinged": "adapter", "foot valve, poppet": "adapter"}
_BY_GROUP = {"valve": "valve", "check valve": "check valve", "bend": "elbow 90", "straight": "coupling"}


@tables.table_type("sockets")
class SocketSize(tables.Row):
    """How deep a pipe of one size goes into a fitting.

    Source: ``data/sockets.csv``, each row with its own.
    """

    system: str
    size: str
    outside_diameter: Bore
    depth: Bore


@tables.table_type("takeoffs")
class TakeOff(tables.Row):
    """How far it is from a fitting's centre to the bottom of its socket; of a straight one half of its length without sockets.

    Source: ``data/takeoffs.csv``, each row with its own.
    """

    fitting: str
    system: str
    size: str
    take_off: Bore


def socket_row(size: str, standard: str, own: Mapping | None = None) -> SocketSize | None:
    """The row of a size's socket, a builder's own first; None where the pipe is not cemented or nobody knows its sockets.

    Source: ``data/sockets.csv``, each row with its own.

    Examples
    --------
    >>> socket_row("50 mm", "EN 1451") is None, socket_row("63 mm", "PN10").size
    (True, '63 mm')
    """
    if not (size and standard):
        return None
    for row in _own(own, "sockets"):
        pipe = pipe_sizes.pipe_size(size, standard).si
        if row.si.size == pipe.size and row.si.system == pipe.standard:
            return row
    return _ours(size, standard)


@functools.lru_cache(maxsize=500)
def _ours(size: str, standard: str) -> SocketSize | None:
    """The row of our table for a pipe, by its outside."""
    pipe = pipe_sizes.pipe_size(size, standard).si
    if pipe.joined_by != "cement":
        return None
    inch = "Sch 80" if pipe.standard == "Sch 80" else "Sch 40"
    labelled = inch if pipe.size.endswith("in") else "metric"
    rows = [r for r in tables.table(SocketSize).values() if r.si.system in (inch, "metric")]
    near = [r for r in rows if abs(r.si.outside_diameter / pipe.outside_diameter - 1.0) <= AS_WIDE]
    return min(near, key=lambda r: (r.si.system != labelled, abs(r.si.outside_diameter - pipe.outside_diameter)), default=None)


@takes_quantities
def socket_depth(size: str, standard: str) -> Bore:
    """How deep a pipe goes into the socket of a fitting.

    size: As on the label: "1 in", "32 mm".
    standard: Such as "Sch 40" or "PN16".
    returns (one value): The least that the standard allows.
    raises: Where the pipe is not cemented, or nobody knows its sockets.

    Inch: a table. Metric: half the outside diameter and 6 mm, 12 mm at least.

    Source: ASTM D2466 and D2467; ISO 727-1, EN 1452-3: each row of ``data/sockets.csv``.

    >>> print(socket_depth("32 mm", "PN16").to("mm"))
    22 mm
    """
    row = socket_row(size, standard)
    if row is None:
        raise DesignError(f"nobody here knows how deep {size} {standard} goes into its fittings; measure one, from its mouth to its stop.")
    return row.si.depth


@takes_quantities
def take_off(fitting: str, size: str, standard: str) -> Bore:
    """How far it is from a fitting's centre to the bottom of its socket.

    fitting: Such as "elbow 90", "tee", "ball valve".
    size: As on the label: "1 in", "32 mm".
    standard: Such as "Sch 40" or "PN16".
    returns (one value): Of a straight fitting (coupling, valve) half of its length without its sockets.
    raises: Where the table has none.

    Source: ASTM D2466 and D2467; ISO 264: each row of ``data/takeoffs.csv``; valves and unions common practice, no source.

    >>> print(take_off("elbow 90", "32 mm", "PN16").to("mm"))
    17 mm
    """
    found = taken(fitting, size, standard)
    if found is None:
        raise DesignError(
            f"nobody here knows the take-off of {fitting} in {size} {standard}; measure one, from its centre to its socket's stop."
        )
    return found


def taken(name: str, size: str, standard: str, own: Mapping | None = None) -> float | None:
    """The take-off of a fitting [m], a builder's own row first; None where nobody knows it.

    Source: ``data/takeoffs.csv``, each row with its own.

    Examples
    --------
    >>> taken("union", "32 mm", "PN16")
    0.01
    """
    for row in _own(own, "takeoffs"):
        if row.si.fitting == name and row.si.size == pipe_sizes.pipe_size(size, standard).si.size:
            return row.si.take_off
    socket = socket_row(size, standard, own)
    if socket is None:
        return None
    system = "metric" if socket.si.size.endswith("mm") else "inch"
    found = tables.table(TakeOff).get(f"{kind_of(name)} {system} {socket.si.size}")
    return None if found is None else found.si.take_off


@functools.lru_cache(maxsize=500)
def kind_of(name: str) -> str:
    """What a fitting counts as in the table of take-offs: all valves as one, all check valves too.

    Source: ``data/takeoffs.csv``.

    Examples
    --------
    >>> kind_of("gate valve"), kind_of("tee branch"), kind_of("elbow 45")
    ('valve', 'tee', 'elbow 45')
    """
    kinds = _kinds()
    if name in _KINDS or name in kinds:
        return _KINDS.get(name, name)
    row = fitting(name).si
    return _KINDS.get(row.name, row.name if row.name in kinds else _BY_GROUP.get(row.group, row.name))


@functools.cache
def _kinds() -> frozenset[str]:
    return frozenset(row.si.fitting for row in tables.table(TakeOff).values())


def _own(own: Mapping | None, table: str) -> Iterable:
    return (row for name in (own or {}).get(table, {}).values() for row in name.rows)

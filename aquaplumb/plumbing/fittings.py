"""Fittings, valves, check valves and screens: the head that each costs, as K times the speed head.

Print differs by a factor of two on small fittings (elbow 0.6 to 1.5, tee branch 1.0 to 2.4), so each row of
``data/fittings.csv`` keeps a low, a typical and a high K, and a result that matters carries the band. K goes with
the speed in the pipe that the fitting sits in.

Tables in print give Crane's K as a multiple of a friction factor fT by size; the fluids library's `ft_Crane` is up
to 5 % below the printed fT. Both are far inside the band.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable, Mapping

import numpy as np

from aquaplumb import tables
from aquaplumb.given import takes_things
from aquaplumb.plumbing.pipes import speed
from aquaplumb.plumbing.valves import check_valve_head, valve_handle, valve_k, valve_opening
from aquaplumb.tables import BANDS
from aquaplumb.units import GRAVITY, Bore, DesignError, Flow, Head, Number, Record, below, takes_quantities

__all__ = [
    "BANDS", "ENTRANCE", "EXIT", "Fitting", "Losses", "check_valve_head", "clogged_k", "fitting",
    "fitting_head", "k", "losses", "valve_handle", "valve_k", "valve_opening",
]  # fmt: skip

ENTRANCE, EXIT = 0.5, 1.0  # speed heads: a square-edged way in; what is lost at a free end (Crane TP-410)


# --- the table ----------------------------------------------------------------------------------


@tables.table_type("fittings")
class Fitting(tables.Row):
    """One kind of fitting: its K, low to high, and for a check valve the head that opens it."""

    group: str
    k_low: Number | None
    k_typical: Number
    k_high: Number | None
    opening_head_low: Head | None
    opening_head_typical: Head | None
    opening_head_high: Head | None

    @property
    def is_check_valve(self) -> bool:
        """Whether water can pass it one way only."""
        return self.group == "check valve"


class Losses(Record):
    """What a set of fittings adds up to in one pipe."""

    k: Number  # of all but the check valves
    check_k: Number = 0.0  # of the check valves, fully open
    opening_head: Head = 0.0  # what it takes to open them


@takes_things
def fitting(name: str) -> Fitting:
    """All that the table knows of one fitting.

    name: Such as "elbow 90" ("90° elbows" serves as well), "tee branch", "swing check valve".

    Source: ``data/fittings.csv``, each row with its own.

    >>> from aquaplumb.plumbing import fittings
    >>> fittings.fitting("90° elbow").k_typical
    0.7
    """
    rows = tables.table(Fitting)
    if name in rows or isinstance(name, tables.OwnName):
        return tables.row(Fitting, name)
    return rows.get(_by_words().get(_words(name), "")) or tables.row(Fitting, name)


def _words(name: str) -> frozenset[str]:
    return frozenset(word.removesuffix("s") for word in re.findall(r"[a-z]+|\d+", str(name).casefold()) if word != "deg")


@functools.cache
def _by_words() -> dict[frozenset[str], str]:
    return {_words(name): name for name in tables.names("fittings")}


@takes_things
def losses(fittings: Mapping[str, float] | Iterable[str], *, band: str = "typical") -> Losses:
    """The K of a set of fittings in one pipe, check valves kept apart (see `check_valve_head`).

    fittings: Names and counts, ``{"elbow 90": 4, "ball valve": 1}``, or a list of names.
    band: "low", "typical" or "high". Where only one K is known it serves for all three.

    K values of fittings add up when some ten bores of straight pipe lie between them; closer together they
    cost a little less or more.

    Source: ``data/fittings.csv``, each row with its own.

    >>> from aquaplumb.plumbing import fittings
    >>> fittings.losses({"elbow 90": 4, "swing check valve": 1}).check_k
    2.0
    """
    if band not in BANDS:
        raise DesignError(f"the band is '{band}'; it is one of {', '.join(BANDS)}.")
    counts = fittings if isinstance(fittings, Mapping) else [(name, 1) for name in fittings]
    k = check_k = opening = 0.0
    for name, count in counts.items() if isinstance(counts, Mapping) else counts:
        row = fitting(name)
        if not isinstance(count, (int, float)) or isinstance(count, bool) or not 0 <= count < 10_000:
            raise DesignError(f"the count of '{name}' is {count!r}; it is how many there are, 0 or more.")
        one = _in_band(row, "k", band)
        if row.is_check_valve:
            check_k += count * one
            opening += count * (_in_band(row, "opening_head", band) or 0.0)
        else:
            k += count * one
    return Losses.from_si(k=k, check_k=check_k, opening_head=opening)


def _in_band(row: Fitting, field: str, band: str):
    """The number of a band, or the typical one; None where neither is known."""
    value = getattr(row.si, f"{field}_{band}")
    return getattr(row.si, f"{field}_typical") if value is None else value


@takes_things
def k(fittings: Mapping[str, float] | Iterable[str], *, band: str = "typical") -> float:
    """The sum of K of a set of fittings in one pipe, check valves counted as fully open.

    fittings: Names and counts, ``{"elbow 90": 4, "ball valve": 1}``, or a list of names.
    band: "low", "typical" or "high".
    returns: A plain number.

    Source: ``data/fittings.csv``, each row with its own.

    >>> from aquaplumb.plumbing import fittings
    >>> print(round(fittings.k({"elbow 90": 4, "ball valve": 1}), 2))
    2.87
    """
    total = losses(fittings, band=band).si
    return total.k + total.check_k


# --- head ---------------------------------------------------------------------------------------


@takes_quantities
def fitting_head(flow: Flow, bore: Bore, k: Number) -> Head:
    """The head that fittings cost.

    flow: A negative flow gives a negative head.
    bore: Of the pipe that the fitting sits in.
    k: See `k`. It may be negative, at a tee where a fast stream draws a slow one along.

    h = K v |v| / 2g.

    Source: the definition of K (Crane TP-410).

    >>> from aquaplumb.plumbing import fittings
    >>> print(round(fittings.fitting_head("2000 L/h", "26.14 mm", 2.87), 2))
    0.16 m
    """
    v = speed.si(flow, bore)
    return k * v * np.abs(v) / (2.0 * GRAVITY)


@takes_quantities
def clogged_k(k: Number, blocked: Number) -> Number:
    """The K of a strainer or screen with part of its openings blocked.

    k: Clean.
    blocked: The share of the open area that is blocked, 0 to under 1. Half blocked makes K four times as large.

    K / (1 − blocked)²: the same flow through less area.

    Source: continuity. Burkhardt (JAWWA 2018) found that a mesh on an overflow does act as lost area.

    >>> from aquaplumb.plumbing import fittings
    >>> print(round(fittings.clogged_k(0.7, "50 %"), 1))
    2.8
    """
    if below(blocked, 0) or np.any(np.greater_equal(blocked, 1)):
        raise DesignError("the blocked share is from 0 (clean) to under 1; fully blocked, nothing flows.")
    return k / np.square(1.0 - np.asarray(blocked))

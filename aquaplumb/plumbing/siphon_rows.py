"""Siphons that builders measured: the rows of ``data/measured/siphons.csv``, and the band of starting flows once there are some.

A row is anonymous: bore, bell, vent, fall, and the flows at which it first started and at which it stopped.
"""

from __future__ import annotations

import functools

from aquaplumb import tables
from aquaplumb.plumbing.full_pipe import FULL, MAY_FILL, froude
from aquaplumb.units import Bore, Flow

_FEWEST = 3  # rows that make a band: of two nobody knows which is odd; common practice, no source
BY_TRIAL = 0.10  # part of a flow that was found by opening a valve bit by bit; common practice, no source


class MeasuredSiphon(tables.Row):
    """A siphon that somebody measured: `vent` is how far air comes in below its lip, `fall` from its lip down to where it ends."""

    bore: Bore
    bell: Bore | None
    vent: Bore | None
    fall: Bore | None
    starts: Flow | None
    stops: Flow | None


@functools.cache
def measured_siphons() -> tuple[MeasuredSiphon, ...]:
    """Every row there is, the invented example too."""
    return tuple(tables._rows_of(MeasuredSiphon, tables.folder("data") / "measured" / "siphons.csv"))


def start_numbers(rows=None) -> tuple[float, float]:
    """The Froude numbers from which a siphon may start and is sure to: print's 1 and 2, or what was measured once three rows are.

    The least and the most that were measured, each a tenth wider. Rows that are not *measured* count for nothing.

    Source: print as in `siphons.siphon_starting_band`; Froude's number scales a falling pipe that fills (same print).
    """
    seen = [
        float(froude.si(row.si.starts, row.si.bore))
        for row in (measured_siphons() if rows is None else rows)
        if row.si.basis == "measured" and row.si.starts is not None
    ]
    if len(seen) < _FEWEST:
        return MAY_FILL, FULL
    return (1 - BY_TRIAL) * min(seen), (1 + BY_TRIAL) * max(seen)

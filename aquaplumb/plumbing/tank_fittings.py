"""Tank fittings (bulkheads): the hole that each goes through, and how much of a wall its flange takes."""

from __future__ import annotations

from aquaplumb import tables
from aquaplumb.plumbing import takeoffs
from aquaplumb.units import Bare, Bore

CLEAR = 0.02  # m from a flange to a rim, floor, corner, rib or the next flange, so that its ring lies flat; common practice, no source


@tables.table_type("tankfittings")
class TankFitting(tables.Row):
    """The hole that a tank fitting of a size goes through, and its flange.

    Source: ``data/tankfittings.csv``, each row with its own.
    """

    outside_diameter: Bore
    thread: str
    hole_low: Bore
    hole_typical: Bore
    hole_high: Bore
    flange: Bore
    grommet_hole: Bore | None


def tank_fitting(pipe: Bare) -> TankFitting | None:
    """The row that fits a pipe; None where there is none."""
    rows = tables.table(TankFitting).values()
    socket = takeoffs.socket_row(pipe.size, pipe.standard) if pipe.size and pipe.standard else None
    wide = socket.si.outside_diameter if socket else pipe.bore
    near = [row for row in rows if abs(row.si.outside_diameter / wide - 1) <= takeoffs.AS_WIDE]
    label = (socket.si.size if socket else "").endswith("mm")
    return min(near, key=lambda row: row.si.name.endswith("mm") != label, default=None)

"""Solvent cement: how much the joints of plastic pipe take, and how long to leave them alone.

Print differs by six to eight times on the waiting, and by a half on the cement. Both are taken at their larger end:
cement that is left over costs little, and a joint that lets go floods the floor.

CAUTION: cement and primer are flammable and make you dizzy: open air, no flame, no spark, gloves. Let the joints cure,
then rinse the pipes with water that no fish will meet.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import tables
from aquaplumb.given import takes_things
from aquaplumb.units import (
    NUMBER,
    TEMPERATURE,
    Bore,
    Number,
    Record,
    Temperature,
    Time,
    Volume,
    check_range,
    takes_quantities,
)

SHORTEST_CURE = 86400.0  # s: a pipe maker's PVC-U sheet asks 24 h before any test with water, up to 8 in
_HUMID = 1.5  # above 60 % of relative humidity, the makers' manual
_WARM, _COOL = 288.7, 277.6  # K: 60 and 40 °F, where the manual's columns change


@tables.table_type("cement")
class CementRow(tables.Row):
    """What a joint of one size takes: cement and primer, and the times to set and to cure.

    Source: ``data/cement.csv``, each row with its own.
    """

    outside_diameter: Bore
    cement_low: Volume | None
    cement_high: Volume | None
    primer_low: Volume | None
    primer_high: Volume | None
    set_low: Time | None
    set_high: Time | None
    cure_warm: Time | None
    cure_cool: Time | None
    cure_cold: Time | None


class CementNeed(Record):
    """The cement and the primer (or cleaner) that a number of joints take.

    Source: `cement_need`.
    """

    cement: Volume
    primer: Volume


@takes_things
def cement_row(size: str) -> CementRow:
    """What the table knows of a size, such as "1 in" or "32 mm".

    Source: ``data/cement.csv``.

    >>> round(cement_row("2 in").cement_high.m_as("mL"))
    16
    """
    return tables.row(CementRow, size, "table of solvent cement")


_AS_WIDE = 0.02  # of an outside diameter: as near as the label of another standard may be


@takes_quantities
def cement_size(size: str, outside_diameter: Bore) -> str:
    """The size of the table that a pipe's joints go by: that of its label where it is as wide, else the next one up.

    size: As on the label, whatever the standard: a Japanese 50 mm is 60 mm wide outside.
    outside_diameter (one value):

    Source: the outside diameters of ``data/cement.csv``.

    >>> cement_size("50 mm", "60 mm"), cement_size("1 in", "33.4 mm")
    ('2 in', '1 in')
    """
    rows = {name: row.si.outside_diameter for name, row in tables.table("cement").items()}
    if size in rows and abs(rows[size] / outside_diameter - 1.0) <= _AS_WIDE:
        return size
    wider = [name for name, wide in rows.items() if wide >= outside_diameter * (1.0 - _AS_WIDE)]
    return min(wider or rows, key=lambda name: (abs(rows[name] - outside_diameter), name))


@takes_quantities
def cement_need(size: str, joints: Number) -> CementNeed:
    """The cement and primer for joints of one size, by the source that asks for more.

    size: As on the label: "1 in", "32 mm".
    joints: Sockets to cement: two for an elbow or a coupling, three for a tee.

    Source: ``data/cement.csv``: joints from a US quart (a pipe maker's manual), mass for 100 joints (a cement maker's sheet).

    >>> print(round(cement_need("1 in", 125).cement.to("quart"), 3))
    1 qt
    """
    check_range(joints, 0.0, 1e6, NUMBER, "cement_need: joints", "a count of joints")
    row = cement_row(size).si
    return CementNeed.from_si(cement=joints * row.cement_high, primer=joints * row.primer_high)


def _longest(size: str, field: str) -> float:
    """The longest time in print up to a size; the print ends at 3 in, and a larger size has at least that."""
    outside = cement_row(size).si.outside_diameter
    known = [getattr(row.si, field) for row in tables.table("cement").values() if row.si.outside_diameter <= outside]
    return max(time for time in known if time is not None)


@takes_quantities
def set_time(size: str) -> Time:
    """How long not to move a fresh joint at all, at 16 to 38 °C: the longer of two sources.

    size: As on the label: "1 in", "32 mm".
    returns (one value): For sizes above 3 in at least so long.

    Source: ``data/cement.csv``: one manual has 15 and 30 min, another 2 and 5 min for the same joints.

    >>> print(set_time("1 in").to("min"))
    15 min
    """
    return _longest(size, "set_high")


@takes_quantities
def cure_time(size: str, temperature: Temperature = 293.15, *, humid: bool = True) -> Time:
    """How long to wait before water and pressure: the longest in print, and never under 24 hours.

    size: The largest pipe in the system, as on the label: "1 in", "32 mm".
    temperature: Of the air while you wait, −18 to 38 °C. In hotter air cement dries before the pipe is home: work in
        the cool.
    humid: Whether the air is above 60 % humid, as it is beside open water: half as long again.
    returns: For sizes above 3 in at least so long.

    From 60 °F (16 °C) the manual's warm column, from 40 °F (4 °C) the cool, below it the cold one, each for the
    highest pressure it has.

    Source: ``data/cement.csv``; the 24 hours: a maker's sheet on testing PVC-U, and a rule of thumb.

    >>> print(cure_time("2 in", "10 degC").to("h"))
    36 h
    """
    check_range(temperature, 255.3, 311.2, TEMPERATURE, "cure_time: temperature", "the table of curing times")
    warm, cool, cold = (_longest(size, f"cure_{word}") for word in ("warm", "cool", "cold"))
    printed = np.where(np.greater_equal(temperature, _WARM), warm, np.where(np.greater_equal(temperature, _COOL), cool, cold))
    return np.maximum(printed * (_HUMID if humid else 1.0), SHORTEST_CURE)[()]

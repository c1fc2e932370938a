"""Pumps: what a pump really delivers against a real head, and what it costs to run.

The figure on a pump's box is its flow at no lift at all. Here a pump is its maker's points (flow, head,
input power); a smooth curve through them meets the system's curve at the operating point.

CAUTION: a mains pump stands in or beside water. Plug it into a socket with a residual-current device
(RCD, GFCI), hang the cable so that it drips below the socket, and pull the plug before a hand goes in.
"""

from __future__ import annotations

import functools
from pathlib import Path

from aquaplumb import tables
from aquaplumb.pumpcurve import Pump, at_speed, at_voltage, curve, head, power
from aquaplumb.pumppoints import points
from aquaplumb.units import Head, Time, Voltage, takes_quantities

__all__ = ["Pump", "at_speed", "at_voltage", "curve", "from_csv", "head", "names", "power", "pump"]

# --- the demo pumps, and a maker's points ------------------------------------------------------------


@tables.table_type("pumps")
class PumpRow(tables.Row):
    """A row of ``data/pumps.csv``; its points are in ``data/pumps/<points>.csv``."""

    supply: str
    placement: str
    voltage: Voltage | None = None
    lowest_voltage: Voltage | None = None
    outlet: str = ""
    shortest_cycle: Time | None = None
    suction_head_needed: Head | None = None
    points: str = ""


def names() -> list[str]:
    """The names of the demo pumps, all of them invented for the demo.

    Returns
    -------
    list of str

    Source: ``data/pumps.csv``.

    Examples
    --------
    >>> "demo mains 45 W submersible" in names()
    True
    """
    return tables.names("pumps")


def pump(name: str) -> Pump:
    """A demo pump by its name. All are invented for the demo: for your own, use `from_csv`.

    Parameters
    ----------
    name : str
        One of `names`.

    Returns
    -------
    Pump

    Source: ``data/pumps.csv`` and ``data/pumps/``.

    Examples
    --------
    >>> pump("demo mains 45 W submersible").basis
    'invented for the demo'
    """
    return _demo(tables.row("pumps", name, "list of pumps").si.name)


@functools.cache
def _demo(name: str) -> Pump:
    row = vars(tables.row("pumps", name).si)
    made = points(tables.folder("data") / "pumps" / f"{row['points']}.csv")
    return Pump.from_si(**made, **{field: row[field] for field in Pump._kinds if field in row})


@takes_quantities
def from_csv(
    path: str | Path,
    *,
    name: str = "",
    supply: str = "mains",
    placement: str = "submersible",
    voltage: Voltage | None = None,
) -> Pump:
    """A pump from a file of its maker's points, read off the curve sheet.

    Parameters
    ----------
    path : str or Path
        A CSV file with the header ``flow [L/h],head [m],power [W]`` (any units of flow, head and power; the
        power column may be left out or blank), then one point a line from zero flow up.
    name : str
        What to call it; without one, the file's name.
    supply : str
        "mains" or "DC".
    placement : str
        "submersible" or "external".
    voltage : Voltage, optional [V]
        At which the points hold.

    Returns
    -------
    Pump

    Raises
    ------
    DesignError
        Saying which line is wrong, and the cure.

    Source: the maker's own curve; take the curve, not the single figure on the box.

    Examples
    --------
    >>> from aquaplumb import tables
    >>> mine = from_csv(tables.folder("data") / "pumps" / "mains-45-w-submersible.csv", name="mine")
    >>> print(mine.head[0])
    2.8 m
    """
    made = points(Path(path))
    given = {"supply": supply, "placement": placement, "voltage": voltage, "basis": "maker's claim"}
    return Pump.from_si(name=name or Path(path).stem, **made, **given)

"""Pumps: what a pump really delivers against a real head, and what it costs to run.

The figure on a pump's box is its flow at no lift at all. Here a pump is its maker's points (flow, head,
input power); a smooth curve through them meets the system's curve at the operating point.

CAUTION: a mains pump stands in or beside water. Plug it into a socket with a residual-current device
(RCD, 30 mA; in North America a class A GFCI, 5 mA), hang the cable so that it drips below the socket, and pull the plug before a hand goes in.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path

import numpy as np

from aquaplumb import tables
from aquaplumb.given import takes_things
from aquaplumb.plumbing.pump_choice import (
    Candidate,
    OperatingPoint,
    SystemCurve,
    annual_cost,
    annual_energy,
    operating_point,
    ranking,
)
from aquaplumb.plumbing.pump_curve import Pump, at_speed, at_voltage, curve, head, power
from aquaplumb.plumbing.pump_file import points
from aquaplumb.plumbing.suction import submergence, suction_head_available, suction_limit
from aquaplumb.units import (
    FLOW,
    TIME,
    VOLUME,
    DesignError,
    Flow,
    Head,
    Time,
    Turnover,
    Voltage,
    Volume,
    takes_quantities,
)

# The parts of this module that stand in files of their own, so that each file stays short.
__all__ = [
    "Candidate", "OperatingPoint", "Pump", "SystemCurve", "annual_cost", "annual_energy", "at_speed", "at_voltage",
    "curve", "float_volume", "from_csv", "head", "names", "operating_point", "power", "pump", "ranking",
    "starts_per_hour", "submergence", "suction_head_available", "suction_limit",
]  # fmt: skip


# --- the demo pumps, and a maker's points ------------------------------------------------------------


@tables.table_type("pumps")
class PumpRow(tables.Row):
    """A row of ``data/pumps.csv``; its points are in ``data/pumps/<points>.csv``.

    Source: Invented for the demo, all of them.
    """

    supply: str
    placement: str
    voltage: Voltage | None = None
    lowest_voltage: Voltage | None = None
    outlet: str = ""
    shortest_cycle: Time | None = None
    suction_head_needed: Head | None = None
    self_priming: str = ""
    points: str = ""


def names() -> list[str]:
    """The names of the demo pumps, all of them invented for the demo.

    Returns
    -------
    list of str

    Source
    ------
    ``data/pumps.csv``.

    Examples
    --------
    >>> "demo mains 45 W submersible" in names()
    True
    """
    return tables.names("pumps")


@takes_things
def pump(name: str) -> Pump:
    """A demo pump by its name. All are invented for the demo: for your own, use `from_csv`.

    name: One of `names`.

    Source: ``data/pumps.csv`` and ``data/pumps/``.

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
    supply: str = "",
    placement: str = "",
    voltage: Voltage | None = None,
) -> Pump:
    """A pump from a file of its maker's points, read off the curve sheet.

    path: A CSV file with the header ``flow [L/h],head [m],power [W]`` (any units of flow, head and power; the power
        column may be left out or blank), then one point a line from zero flow up. Above the header it may say what
        drives the pump and how it stands, one thing a line: ``supply,DC`` · ``voltage,12 V`` (at which the points
        hold) · ``lowest voltage,9 V`` · ``placement,external`` · ``self-priming,yes`` · ``suction head needed,1.5 m``
        (its NPSH) · ``shortest cycle,5 min`` · ``outlet,1 in``.
    name: What to call it; without one, the file's name.
    supply: "mains" or "DC"; without one what the file says, else "mains".
    placement: "submersible" or "external"; without one what the file says, else "submersible".
    voltage: At which the points hold; without one what the file says.
    raises: Saying which line is wrong, and the cure.

    Source: The maker's own curve; take the curve, not the single figure on the box.

    >>> from aquaplumb import tables
    >>> mine = from_csv(tables.folder("data") / "pumps" / "mains-45-w-submersible.csv", name="mine")
    >>> print(mine.head[0])
    2.8 m
    """
    made = points(Path(path))
    given = {field: value for field, value in (("supply", supply), ("placement", placement), ("voltage", voltage)) if value}
    return Pump.from_si(name=name or Path(path).stem, **{"basis": "maker's claim", **made, **given})


def own_curve(pump) -> Callable:
    """Head and slope by flow, bare SI: of a pump, or a function of one's own, tried at no flow."""
    if isinstance(pump, Pump):
        return curve(pump)
    try:
        top, slope = pump(0.0)
        fits = bool(np.isfinite(top + slope))
    except (TypeError, ValueError, ArithmeticError):
        fits = False
    if not fits:
        raise DesignError(
            "the pump is a function that does not give (head [m], slope) for a flow [m³/s], such as lambda flow: (2 - 500 * flow, -500)."
        )
    return pump


# --- starts -------------------------------------------------------------------------------------


def _above_zero(value, kind, where: str) -> None:
    if not np.all(np.greater(value, 0)):
        raise DesignError(f"{where} is {kind.text(np.min(value))}; give {kind.noun} above zero, such as {kind.example}.")


@takes_quantities
def starts_per_hour(volume: Volume, inflow: Flow, pump_flow: Flow) -> Turnover:
    """How often a pump on a float switch starts.

    volume: Between the float's on level and its off level.
    inflow: Coming in, steadily.
    pump_flow: Going out while the pump runs.
    returns: None at all with no inflow (it rests) or with more inflow than the pump moves (it never rests).

    One cycle is the filling and the emptying: V / Qin + V / (Qp − Qin). Starts are most at Qin = Qp / 2.

    Source: US Army EI 11C201 (1997) and MIL-HDBK-1005/9A, storage of pumping stations.

    >>> print(round(starts_per_hour("20 L", "600 L/h", "1200 L/h").to("1/h"), 1))
    15 1/h
    """
    _above_zero(volume, VOLUME, "starts_per_hour: volume")
    _above_zero(pump_flow, FLOW, "starts_per_hour: pump_flow")
    if np.any(np.less(inflow, 0)):
        raise DesignError(f"starts_per_hour: inflow is {FLOW.text(np.min(inflow))}, below zero; give a flow of zero or more.")
    return np.maximum(inflow * (pump_flow - inflow), 0) / (volume * pump_flow)


@takes_quantities
def float_volume(cycle: Time, pump_flow: Flow) -> Volume:
    """The volume between a float's on and off levels that spares the pump: at half of the pump's flow coming in, the worst.

    cycle: The least time from start to start that the pump allows.
    pump_flow: Going out while the pump runs.
    returns: t Q / 4.

    Source: US Army EI 11C201 (1997) and MIL-HDBK-1005/9A.

    >>> print(round(float_volume("6 min", "100 gpm").to("gal")))
    150 gal
    """
    _above_zero(cycle, TIME, "float_volume: cycle")
    _above_zero(pump_flow, FLOW, "float_volume: pump_flow")
    return cycle * pump_flow / 4

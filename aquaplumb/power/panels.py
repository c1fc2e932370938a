"""Solar panels: what is lost on the way, and the size that the worst month asks for.

Part of `aquaplumb.power`, which is the face of all this; the sunshine itself, and the cautions, are in `solar`.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.power.battery_kinds import BatteryKind, battery_share
from aquaplumb.power.solar import MONTHS, NO_SUN, Sunshine
from aquaplumb.tables import BANDS
from aquaplumb.units import (
    INSOLATION,
    NUMBER,
    POWER,
    Current,
    DesignError,
    Insolation,
    Number,
    Power,
    Record,
    Voltage,
    below,
    check_range,
    takes_quantities,
)

STANDARD_SUN = 1000.0  # W/m², at which a panel's label holds
LOSSES = 0.140757  # PVWatts version 5, its eight losses together
OFF_GRID = 0.87  # heat and a plain charge controller: brings the whole to 0.75, the middle of 0.70 to 0.80


@takes_quantities
def panel_losses(
    *,
    soiling: Number = 0.02,
    shading: Number = 0.03,
    mismatch: Number = 0.02,
    wiring: Number = 0.02,
    connections: Number = 0.005,
    light: Number = 0.015,
    label: Number = 0.01,
    outages: Number = 0.03,
) -> Number:
    """What is lost between a panel's label and its wires, all in one: 14.1 % unless you know better.

    soiling: Dust, leaves and bird droppings.
    shading: By trees and walls; far more where one stands near.
    mismatch: Panels that differ from each other.
    light: The first hours in the sun take a little for good.
    label: The panel is a little less than its label.
    outages: Time in which it is off.
    returns: A share: 0.14 loses 14 %.

    1 − (1 − a)(1 − b)…: losses one after another, not added up.

    Source: Dobos (2014), PVWatts version 5 manual, NREL/TP-6A20-62641, with its defaults.

    >>> print(round(panel_losses(), 4))
    0.1408
    """
    left = 1.0
    for share in (soiling, shading, mismatch, wiring, connections, light, label, outages):
        check_range(share, 0, 1, NUMBER, "panel_losses: a loss", "a part of the whole")
        left = left * (1 - share)
    return 1 - left


def panel_yield(losses, off_grid):
    """The part of a panel's label that reaches the battery's controller in standard sun: bare numbers.

    Source
    ------
    The product of what each leaves.
    """
    check_range(losses, 0, 0.95, NUMBER, "the panel's losses", "a part of the whole")
    check_range(off_grid, 0.05, 1, NUMBER, "the off-grid share", "a part of the whole")
    return (1 - losses) * off_grid


@takes_quantities
def charge_current(panel: Power, voltage: Voltage, *, losses: Number = LOSSES) -> Current:
    """The current that a panel pushes into its battery in full sun.

    panel: As on its label.
    voltage: Of the battery.
    losses: What dirt, shade and wires keep; PVWatts' 14.1 % unless given.
    returns: I = P (1 − losses) / U. A plain (PWM) regulator, which does not turn spare volts into amperes, lets less
        through.

    Source: Power is voltage times current; losses as `panel_losses`.

    >>> print(charge_current("300 W", "12 V").round(1))
    21.5 A
    """
    check_range(losses, 0, 0.95, NUMBER, "charge_current: the panel's losses", "a part of the whole")
    return panel * (1 - losses) / voltage


@takes_quantities
def panel_power(
    load: Power,
    insolation: Insolation,
    *,
    losses: Number = LOSSES,
    off_grid: Number = OFF_GRID,
    kind: str | BatteryKind = "lead-acid flooded",
    round_trip: Number | None = None,
    band: str = "typical",
) -> Power:
    """The panel that makes up for a load, day by day, at a given sunshine: its power as on the label.

    load: The mean through day and night: 20 W that runs half of the time is 10 W.
    insolation: On the panel, such as "4 kWh/m2/d".
    losses: As from `panel_losses`.
    off_grid: What heat and the charge controller leave; 0.87 brings the whole to 0.75.
    kind: The energy is counted as going through the battery, all of it: a little on the safe side.
    round_trip: The part of what goes into the battery that comes out; the table's for its kind when left out.
    band: Which of the table's values.
    returns: Often written Wp, for peak. It just breaks even: a run of dull days is never caught up, so add a fifth or
        more (common practice, no source).
    raises: Where there is no sun at all.

    Source: Energy balance of a day; an off-grid whole of 0.70 to 0.80 is common practice, from memory.

    >>> print(round(panel_power("20 W", "4 kWh/m2/d", losses=0, off_grid=0.75, round_trip=0.85)))
    188 W
    """
    if below(load, 0):
        raise DesignError(f"panel_power: load is {POWER.text(np.min(load))}, below zero; give the mean that is drawn, such as 20 W.")
    if below(insolation, 0):
        raise DesignError(
            f"panel_power: insolation is {INSOLATION.text(np.min(insolation))}, below zero; give one such as {INSOLATION.example}."
        )
    if below(insolation, NO_SUN):
        raise DesignError("no sun falls on the panel, so no panel is large enough; plan on mains or a generator for that time.")
    round_trip = battery_share(kind, "round_trip", band) if round_trip is None else round_trip
    check_range(round_trip, 0.1, 1, NUMBER, "the battery's round trip", "a part of the whole")
    return load * STANDARD_SUN / (insolation * panel_yield(losses, off_grid) * round_trip)


class PanelSize(Record):
    """The panel that a load asks for, and in which month.

    power: As on the label, for the worst month.
    month: The worst one.
    insolation: In that month.
    by_month (array of 12): What each month would ask for; what is more than this is spare in it.

    Source: See `panel_size`.
    """

    power: Power
    month: str
    insolation: Insolation
    by_month: Power


@takes_quantities
def panel_size(
    load: Power,
    sun: Sunshine,
    *,
    sky_band: str = "low",
    losses: Number = LOSSES,
    off_grid: Number = OFF_GRID,
    kind: str | BatteryKind = "lead-acid flooded",
    round_trip: Number | None = None,
) -> PanelSize:
    """The panel for the worst month of the year.

    load (scalar or array of 12): The mean through day and night, by month if it changes.
    sun: As from `sunshine`.
    sky_band: Which sunshine to trust: "low" unless you know your climate.
    losses (one value): As from `panel_losses`.
    off_grid (one value): As in `panel_power`.
    round_trip (one value): As in `panel_power`.
    raises: Where a month has no sun at all, as beyond the polar circle.

    Source: The worst-month rule of off-grid sizing; common practice.

    >>> from aquaplumb.power.solar import sunshine
    >>> panel_size("20 W", sunshine("40 deg")).month
    'December'
    """
    if sky_band not in BANDS:
        raise DesignError(f"the band is '{sky_band}'; write low, typical or high.")
    light = getattr(sun.si, sky_band)
    if np.ndim(load) and np.shape(load) != (12,):
        raise DesignError(f"panel_size: load has {np.size(load)} values; give one for each month, January first, or a single one.")
    if np.any(light < NO_SUN):
        dark = [month for month, value in zip(MONTHS, light) if value < NO_SUN]
        raise DesignError(
            f"no sun falls on the panel in {', '.join(dark)} at this latitude, so no panel is large enough; "
            "plan on mains or a generator for that time."
        )
    power = panel_power.si(np.broadcast_to(load, 12), light, losses=losses, off_grid=off_grid, kind=kind, round_trip=round_trip)
    worst = int(np.argmax(power))
    return PanelSize.from_si(power=float(power[worst]), month=MONTHS[worst], insolation=float(light[worst]), by_month=power)

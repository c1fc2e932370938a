"""Batteries: how large for how many hours, and how long one lasts.

Part of `aquaplumb.power`, which is the face of all this. The kinds, and what depth, age and cold take, are in
`batterykinds`.

CAUTION: a battery drives thousands of amperes into a short circuit: it welds spanners and starts fires. Take off rings,
insulate tools, cover the poles, and put a fuse at the plus pole that is made to break such a current. Lead-acid
batteries give off hydrogen as they charge, which explodes at a spark: set them where air moves, high up as well, away
from flames, and not in a living room; their acid blinds, so wear goggles. Charge each kind with a charger made for it,
and lithium ones only with their own cut-off for each cell. Keep all of them above any water that could rise. Your local code
comes first; what it keeps for licensed trades is theirs.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.power.battery_kinds import RATED_AT, BatteryKind, usable_share
from aquaplumb.units import (
    CHARGE,
    POWER,
    VOLTAGE,
    Charge,
    DesignError,
    Energy,
    Number,
    Power,
    Temperature,
    Time,
    Voltage,
    endless,
    takes_quantities,
)


def _usable(power=0.0, voltage=1.0) -> None:
    if np.any(np.less(power, 0)):
        raise DesignError(f"the power is {POWER.text(np.min(power))}, below zero; give what is drawn, such as 20 W.")
    if not np.all(np.greater(voltage, 0)):
        raise DesignError(f"the voltage is {VOLTAGE.text(np.min(voltage))}; give the battery's, such as 12 V.")


@takes_quantities
def battery_capacity(
    power: Power,
    time: Time,
    voltage: Voltage,
    *,
    kind: str | BatteryKind = "lead-acid flooded",
    depth: Number | None = None,
    ageing: Number | None = None,
    temperature: Temperature = RATED_AT,
    band: str = "typical",
) -> Charge:
    """The capacity to buy, as on the label, to run a load for a time with nothing coming in.

    power: Out of the battery, the day's mean: with the wire's heat, and with the inverter's if there is one.
    time: To bridge: hours of a power cut, or days without sun, such as "2 d".
    voltage: Of the battery: 12 V for lead, 12.8 V for a "12 V" LiFePO4.
    depth: As in `usable_share`.
    ageing: As in `usable_share`.
    temperature: Of the battery on the coldest day.
    band: Which of the table's values: "low" buys the most.
    returns: None at all for no load. It holds for a discharge over 20 hours or so; in 5 hours, lead gives about a sixth
        less (common practice, no source).

    Source: Energy over voltage, over the part that is usable: sizing as in IEEE 1013, from memory.

    >>> print(round(battery_capacity("20 W", "2 d", "12 V", ageing=1).to("Ah")))
    160 Ah
    """
    _usable(power, voltage)
    return power * time / voltage / usable_share.si(kind=kind, depth=depth, ageing=ageing, temperature=temperature, band=band)


@takes_quantities
def usable_energy(
    capacity: Charge,
    voltage: Voltage,
    *,
    kind: str | BatteryKind = "lead-acid flooded",
    depth: Number | None = None,
    ageing: Number | None = None,
    temperature: Temperature = RATED_AT,
    band: str = "typical",
) -> Energy:
    """The energy that you may plan to take from a full battery.

    capacity: As on the label, such as "100 Ah".
    voltage: Of the battery.
    depth: As in `usable_share`.
    ageing: As in `usable_share`.
    temperature: Of the battery on the coldest day.
    band: Which of the table's values.
    raises: For a battery of no capacity, rather than an answer of no hours.

    Source: Charge times voltage, times the part that is usable.

    >>> print(round(usable_energy("160 Ah", "12 V", ageing=1).to("Wh")))
    960 Wh
    """
    _usable(voltage=voltage)
    if not np.all(np.greater(capacity, 0)):
        raise DesignError(
            f"the battery has {CHARGE.text(np.min(capacity))}; give the capacity on its label, such as 100 Ah, or size one first."
        )
    return capacity * voltage * usable_share.si(kind=kind, depth=depth, ageing=ageing, temperature=temperature, band=band)


@takes_quantities
@endless
def battery_time(
    capacity: Charge,
    power: Power,
    voltage: Voltage,
    *,
    kind: str | BatteryKind = "lead-acid flooded",
    depth: Number | None = None,
    ageing: Number | None = None,
    temperature: Temperature = RATED_AT,
    band: str = "typical",
) -> Time:
    """How long a full battery runs a load with nothing coming in: the inverse of `battery_capacity`.

    capacity: As on the label.
    power: Out of the battery, the mean.
    voltage: Of the battery.
    depth: As in `usable_share`.
    ageing: As in `usable_share`.
    temperature: Of the battery on the coldest day.
    band: Which of the table's values.
    returns: Without end for no load.

    Source: Energy over power.

    >>> print(round(battery_time("100 Ah", "20 W", "12 V", ageing=1).to("h")))
    30 h
    """
    _usable(power, voltage)
    energy = usable_energy.si(capacity, voltage, kind=kind, depth=depth, ageing=ageing, temperature=temperature, band=band)
    with np.errstate(divide="ignore"):
        return np.divide(energy, power)

"""The oxygen of one fish tank: what comes in, what goes out, where it settles, and what it is after a while.

All of it is reached through `air`. The tank is stirred evenly and everything stands still in time, so that every
answer is a closed form; `oxygentime` turns it to minutes, `oxygenrun` strings such stretches together through a night.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from aquaplumb import water
from aquaplumb.air.breathing import after_meal
from aquaplumb.air.transfer import STILL_FILM, field_factor, surface_transfer, transfer_coefficient
from aquaplumb.units import (
    NUMBER,
    Area,
    Concentration,
    DepthRate,
    DesignError,
    Flow,
    Length,
    MassRate,
    Number,
    Record,
    Salinity,
    Temperature,
    Time,
    Volume,
    at_least,
    check_range,
    takes_quantities,
)


class OxygenBudget(Record):
    """A fish tank as its oxygen sees it. From `from_si`, each field may be an array: a thousand designs at once.

    volume: Of water.
    use: What fish take in a usual hour (`oxygen_use`).
    dirt: What bacteria take for the dirt that rots in the tank itself (`fish.dirt_oxygen`); no meal raises it.
    inflow: Of water from the pump.
    inflow_oxygen: In that water. It stays as it is, whatever the tank does.
    standard_transfer: Of the air stones (`stone_transfer`) or any aerator.
    surface: Of water that is open to the air.
    film: As in `surface_transfer`.
    salinity: These five as in `field_factor`.
    """

    volume: Volume
    use: MassRate
    inflow: Flow = 0.0
    inflow_oxygen: Concentration = 0.0
    standard_transfer: MassRate = 0.0
    surface: Area = 0.0
    film: DepthRate = STILL_FILM
    alpha: Number = 0.8
    beta: Number = 0.95
    temperature: Temperature = 293.15
    altitude: Length = 0.0
    salinity: Salinity = 0.0
    dirt: MassRate = 0.0

    def check(self) -> None:
        """Refuse a tank without water, and less than nothing of anything."""
        s = self.si
        if not np.all(np.greater(s.volume, 0)):
            raise DesignError("OxygenBudget: volume is 0 or less; the tank holds some water, such as 1000 L.")
        for name in ("use", "inflow", "inflow_oxygen", "standard_transfer", "surface", "film", "dirt"):
            if not at_least(getattr(s, name), 0):
                raise DesignError(f"OxygenBudget: {name} is below 0; give 0 or more.")


class OxygenTerms(Record):
    """What each way brings at one level of oxygen, and what is left over (`net`; below 0 the oxygen falls).

    Source: `oxygen_terms`.
    """

    inflow: MassRate
    air: MassRate
    surface: MassRate
    use: MassRate
    dirt: MassRate
    net: MassRate


def changed(budget: OxygenBudget, **si) -> OxygenBudget:
    """The tank with some bare fields changed. Source: none, it only copies."""
    return budget.with_si(**si)


def gain_and_rate(budget: OxygenBudget) -> tuple[Any, Any]:
    """(a, k) of dC/dt = a − k C, bare [kg/m³/s] and [1/s]. Source: the balance in `oxygen_after`."""
    s = budget.si
    saturation = water.oxygen_saturation.si(s.temperature, salinity=s.salinity, altitude=s.altitude)
    check_range(s.beta, 0.5, 1.1, NUMBER, "OxygenBudget: beta", "the ratio of saturation in tank water to that in clean water")
    stones = transfer_coefficient.si(s.standard_transfer, s.volume, temperature=s.temperature, alpha=s.alpha)
    open_water = s.film * s.surface
    gain = (s.inflow * s.inflow_oxygen + open_water * saturation - s.use - s.dirt) / s.volume
    return gain + stones * s.beta * saturation, stones + (s.inflow + open_water) / s.volume


def over(top, bottom):
    """top/bottom, bare; nothing over nothing is nothing, and something over nothing cannot be had: infinite. Source: none."""
    top, bottom = np.broadcast_arrays(np.asarray(top, float), np.asarray(bottom, float))
    ratio = np.where(top > 0, np.inf, 0.0)
    np.divide(top, bottom, out=ratio, where=bottom > 0)
    return ratio[()]


def mean_decay(x):
    """(1 − e^−x)/x, 1 at 0. Source: closed form."""
    x = np.asarray(x, float)
    return np.where(np.abs(x) > 1e-12, -np.expm1(-x) / np.where(np.abs(x) > 1e-12, x, 1.0), 1.0)[()]


def level_after(start, gain, rate, time):
    """The level after a time of dC/dt = a − k C, not below 0; bare numbers. Source: closed form, see `oxygen_after`."""
    return np.maximum(start + (gain - rate * start) * time * mean_decay(rate * time), 0.0)


@takes_quantities
def without(budget: OxygenBudget, *, pump_runs: bool = False, air_runs: bool = False, meal_peak: Number = 1.0) -> OxygenBudget:
    """The same tank with its pump, its air or both stopped.

    pump_runs: Whether water still comes in.
    air_runs: Whether the stones still bubble.
    meal_peak: As in `after_meal`; the usual hour when left out.

    Source: Definition.

    >>> from aquaplumb import air, u
    >>> tank = air.OxygenBudget(volume="1000 L", use="3 g/h", inflow="1000 L/h", inflow_oxygen="7 mg/L")
    >>> print(round(air.steady_oxygen(tank).to("mg/L"), 1), air.without(tank).si.inflow)
    4 mg/L 0.0
    """
    s = budget.si
    return changed(
        budget,
        use=after_meal.si(s.use, meal_peak=meal_peak),
        inflow=s.inflow if pump_runs else 0.0,
        standard_transfer=s.standard_transfer if air_runs else 0.0,
    )


@takes_quantities
def oxygen_terms(budget: OxygenBudget, oxygen: Concentration) -> OxygenTerms:
    """What water flow, air and surface bring into a tank at one level of oxygen, beside what is used.

    oxygen: In the tank.
    returns: inflow, air, surface, use, net [kg/s]. A way that takes oxygen out is below 0.

    Source: The balance in `oxygen_after`; `field_factor`, `surface_transfer`.

    >>> from aquaplumb import air, u
    >>> tank = air.OxygenBudget(volume="1000 L", use="3 g/h", inflow="1000 L/h", inflow_oxygen="7 mg/L")
    >>> print(air.oxygen_terms(tank, "5 mg/L").net.to("g/h"))
    -1 g/h
    """
    s = budget.si
    place = {"temperature": s.temperature, "altitude": s.altitude, "salinity": s.salinity}
    inflow = s.inflow * (s.inflow_oxygen - oxygen)
    stones = s.standard_transfer * field_factor.si(oxygen, alpha=s.alpha, beta=s.beta, **place)
    surface = surface_transfer.si(s.surface, oxygen, film=s.film, **place)
    return OxygenTerms.from_si(
        inflow=inflow, air=stones, surface=surface, use=s.use, dirt=s.dirt, net=inflow + stones + surface - s.use - s.dirt
    )


@takes_quantities
def steady_oxygen(budget: OxygenBudget) -> Concentration:
    """The oxygen at which a tank settles when nothing changes.

    returns: 0 where the use is more than all ways bring: long before, the fish are dead. Where nothing is used and
        nothing comes in, the level stays where it was: not a number.

    C = a/k, a and k as in `oxygen_after`.

    Source: Balance of mass.

    >>> from aquaplumb import air, u
    >>> tank = air.OxygenBudget(volume="1000 L", use="3 g/h", inflow="1000 L/h", inflow_oxygen="7 mg/L")
    >>> print(round(air.steady_oxygen(tank).to("mg/L"), 2))
    4 mg/L
    """
    gain, rate = np.broadcast_arrays(*(np.asarray(v, float) for v in gain_and_rate(budget)))
    level = np.where(gain < 0, 0.0, np.nan)
    np.divide(gain, rate, out=level, where=rate > 0)
    return np.maximum(level, 0.0)[()]


@takes_quantities
def oxygen_after(budget: OxygenBudget, start: Concentration, time: Time) -> Concentration:
    """The oxygen in a tank after a time in which nothing changes.

    returns: Not below 0.

    V dC/dt = Q (C in − C) + G (β Cs − C) + film · A (Cs − C) − use − dirt, with G = α SOTR/Cs,20 · 1.024^(t − 20). That is
    dC/dt = a − k C, so C = C0 + (a − k C0)(1 − e^−kt)/k, and C0 + a t where k is 0.
    Fish breathe as much at low oxygen as at high here. In truth they slow down a little: this is the safe side.

    Source: Balance of mass; `field_factor` (ASCE/EWRI 2-06) and `surface_transfer`.

    >>> from aquaplumb import air, u
    >>> tank = air.OxygenBudget(volume="1000 L", use="6 g/h")
    >>> print(air.oxygen_after(tank, "7 mg/L", "30 min").to("mg/L"))
    4 mg/L
    """
    if np.any(np.less(time, 0)):
        raise DesignError("oxygen_after: time is below 0; give 0 or more, such as 30 min.")
    return level_after(start, *gain_and_rate(budget), time)


@takes_quantities
def standard_transfer_needed(budget: OxygenBudget, oxygen: Concentration) -> MassRate:
    """The standard transfer of air that holds a tank at a level of oxygen, beside water flow and surface.

    budget: Its own standard transfer does not count.
    oxygen: The level to hold.
    returns: In clean water without oxygen at 20 °C. 0 where flow and surface do it alone; infinite where no air can.

    SOTR = (use − inflow − surface)/F, F as in `field_factor`.

    Source: `oxygen_terms` with nothing left over.

    >>> from aquaplumb import air, u
    >>> tank = air.OxygenBudget(volume="1000 L", use="6.2 g/h", temperature="25 degC")
    >>> print(round(air.standard_transfer_needed(tank, "5 mg/L").to("g/h"), 0))
    22 g/h
    """
    s = budget.si
    still = oxygen_terms.si(changed(budget, standard_transfer=0.0), oxygen).si.net
    factor = field_factor.si(oxygen, temperature=s.temperature, altitude=s.altitude, salinity=s.salinity, alpha=s.alpha, beta=s.beta)
    return over(np.maximum(-still, 0.0), factor)

"""How long a tank's oxygen lasts when pump or air stop, and the level at which the danger begins.

All of it is reached through `air`.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.air.tank_oxygen import OxygenBudget, gain_and_rate, steady_oxygen, without
from aquaplumb.units import Concentration, Number, Time, takes_quantities


def fall_time(start, level, gain, rate):
    """The time of a fall from start to a level, bare; infinite where it is not reached. Source: see `time_to_oxygen`."""
    start, level, gain, rate = np.broadcast_arrays(*(np.asarray(v, float) for v in (start, level, gain, rate)))
    lack, pace = start - level, rate * start - gain  # what is to be lost, and how fast it goes at first
    falls = (lack > 0) & (pace > 0) & (rate * lack < pace)
    safe = np.where(falls, pace, 1.0)
    x = np.where(falls, rate * lack / safe, 0.0)
    slower = np.where(x > 1e-12, -np.log1p(-x) / np.where(x > 1e-12, x, 1.0), 1.0)
    return np.where(lack <= 0, 0.0, np.where(falls, lack / safe * slower, np.inf))[()]


@takes_quantities
def time_to_oxygen(budget: OxygenBudget, start: Concentration, level: Concentration) -> Time:
    """The time until the oxygen has fallen from one level to another, if nothing changes.

    budget: The tank as it is after the failure (`without`).
    returns: 0 where it is there already; infinite where it never gets there.

    t = −ln(1 − k D/f)/k, D = start − level, f = k start − a the fall at first; D/f where k is 0.

    Source: `oxygen_after`, solved for the time.

    >>> from aquaplumb import air, u
    >>> tank = air.OxygenBudget(volume="1000 L", use="6 g/h")
    >>> print(round(air.time_to_oxygen(tank, "7 mg/L", "3 mg/L").to("min"), 1))
    40 min
    """
    return fall_time(start, level, *gain_and_rate(budget))


@takes_quantities
def time_to_critical(
    budget: OxygenBudget,
    critical: Concentration,
    *,
    start: Concentration | None = None,
    meal_peak: Number = 1.4,
    pump_runs: bool = False,
    air_runs: bool = False,
) -> Time:
    """How long the fish have, from the failure to the level where the danger begins.

    It reckons on the safe side: the failure comes just after a meal, the fish go on breathing as hard, and nobody
    feeds them any more. Frightened fish and dirt that rots can still make it shorter: let an alarm leave you half of
    it.

    budget: The tank with everything running.
    critical: `oxygen_critical` in the species table: danger begins there, it is no target.
    start: When it fails. Left out: where the tank settles after a meal with everything running.
    meal_peak: As in `after_meal`; 1.4 when left out.
    pump_runs: Whether water still comes in.
    air_runs: Whether the stones still bubble.
    returns: 0 where it is below already; infinite where it never gets there.

    Source: `time_to_oxygen`; a meal's peak: `after_meal`.

    >>> from aquaplumb import air, u
    >>> tank = air.OxygenBudget(volume="1000 L", use="6 g/h")
    >>> print(round(air.time_to_critical(tank, "3 mg/L", start="7 mg/L").to("min"), 1))
    28.6 min
    """
    if start is None:
        start = steady_oxygen.si(without.si(budget, pump_runs=True, air_runs=True, meal_peak=meal_peak))
    failed = without.si(budget, pump_runs=pump_runs, air_runs=air_runs, meal_peak=meal_peak)
    return time_to_oxygen.si(failed, start, critical)

"""The alkalinity that a start with ammonia eats, and the base to put back, week by week.

Ammonia is *as nitrogen* (N), alkalinity *as calcium carbonate* (CaCO3). All of it is reached through `startup`.
"""

from __future__ import annotations

import functools

import numpy as np

from aquaplumb.units import DAY, BodyMass, Concentration, Number, Record, Temperature, Time, Volume, takes_quantities
from aquaplumb.water.bases import base_row
from aquaplumb.water.chemistry import base_needed
from aquaplumb.water.cycling import PAUSE_ABOVE, dosed_start
from aquaplumb.water.two_step import PIECES, TYPICAL

FLOOR = 0.02  # kg/m³ as CaCO3: below it the pH swings by the hour (see `dosing.alkalinity_time`)
RUN = 84 * DAY
_TESTS = (4, 3, 2, 1)  # days between tests: who tests less often does not see the pH fall; common practice, no source


@functools.lru_cache(maxsize=64)
def dosed_run(dose: float, temperature: float, seed: float):
    """Twelve weeks of `dosed_start`, bare SI numbers in; the last runs are kept. Source: as there."""
    return dosed_start.si(dose, temperature=temperature, seed=seed, days=RUN)


class StartAlkalinity(Record):
    """What a start with ammonia eats of alkalinity. Arrays of three: slow, typical and fast bacteria.

    ``runs_out`` is when nothing but 20 mg/L is left with nothing put back, not a number (nan) where it lasts until the
    beds are ready. ``eaten`` is until then, with typical bacteria; ``base`` what puts it back, a mass for each week, and ``after``
    for each week from then until fish come; ``no_dose`` on how many mornings of each week there is too much nitrite for a dose, and so
    little ammonia to turn. ``test_every`` is the longest time between tests in which no bacteria eat
    more than there is over 20 mg/L, 0 where even a day is too long.

    Source: `start_alkalinity`.
    """

    runs_out: Time
    eaten: Concentration
    base: BodyMass
    after: BodyMass
    no_dose: Number
    test_every: Time


@takes_quantities
def start_alkalinity(
    dose: Concentration, volume: Volume, base: str = "potassium bicarbonate", *, alkalinity: Concentration, held: Concentration = 0.1,
    temperature: Temperature = 298.15, seed: Number = 0.0,
) -> StartAlkalinity:  # fmt: skip
    """The alkalinity that a start with doses of ammonia eats, and the base that puts it back, week by week.

    A start without fish eats as much as any other nitrification, and nobody sees it: when it runs out, the pH falls and the
    bacteria stop before the system is ready. With no fish in the water a bicarbonate may go in at once; never a hydroxide.

    dose (one value): As N, of each morning.
    volume (one value): All the water of the system.
    base: A name in the table of bases, or its formula.
    alkalinity (one value): As CaCO3, on the first day.
    held (one value): As CaCO3, to which each test brings it back.
    temperature (one value): 0 to 40 °C.
    seed (one value): The share of a finished biofilm that comes along.

    A run of `dosed_start` through twelve weeks: 7.15 g for each gram of N turned. It leaves out that bacteria slow as
    the pH falls, so it is the need of a start that is looked after.

    Source: `dosed_start` and `fish.alkalinity_use`; 100 to 150 mg/L at the start: DeLong and Losordo, SRAC 4502.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> need = startup.start_alkalinity("2 mg/L", 1500 * u.L, alkalinity="90 mg/L", temperature="22 degC")
    >>> print(round(need.test_every.to("d"), 0), len(need.base))
    4 d 5
    """
    run = dosed_run(float(dose), float(temperature), float(seed)).si
    used, day = run.alkalinity_used, PIECES + 1
    mornings = np.concatenate([used[:, ::day], used[:, -1:]], axis=1)
    until = np.where(np.isnan(run.ready), RUN, run.ready)
    room = max(alkalinity - FLOOR, 0.0)
    first = np.array([np.interp(room, eaten, run.time, right=np.inf) for eaten in used])
    runs_out = np.where(first < until, first, np.nan)
    weeks = int(np.ceil(until[TYPICAL] / DAY / 7))
    ends = mornings[TYPICAL, 7 * np.arange(weeks + 1)]
    often = next((days for days in _TESTS if np.max(mornings[:, days:] - mornings[:, :-days]) <= held - FLOOR), 0)
    formula = base_row(base).formula
    week = mornings[TYPICAL, -1] - mornings[TYPICAL, -8]
    held_back = run.nitrite[TYPICAL, : 7 * weeks * day : day] > PAUSE_ABOVE
    return StartAlkalinity.from_si(
        runs_out=runs_out,
        eaten=float(np.interp(until[TYPICAL], run.time, used[TYPICAL])),
        base=base_needed.si(np.diff(ends), volume, formula),
        after=base_needed.si(week, volume, formula),
        no_dose=held_back.reshape(weeks, 7).sum(axis=1),
        test_every=often * DAY,
    )

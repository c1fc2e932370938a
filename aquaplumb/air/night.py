"""The oxygen of a tank through a day or a night: meals, light, and a pump or its air that stops and comes back.

Reached through `air`. Between two changes everything stands still, so each stretch is the closed form of
`oxygenbudget`: no step to choose, no error that builds up.
"""

from __future__ import annotations

import itertools

import numpy as np

from aquaplumb.air.tank_oxygen import OxygenBudget, changed, gain_and_rate, level_after, steady_oxygen
from aquaplumb.air.time_left import fall_time
from aquaplumb.sentences import as_given
from aquaplumb.units import (
    DAY,
    NUMBER,
    Concentration,
    DesignError,
    MassRate,
    Number,
    Record,
    Time,
    check_range,
    takes_quantities,
)


class OxygenRun(Record):
    """The oxygen at many moments, and the worst of it. Arrays of designs stand along the later axes of `oxygen`.

    `lowest` comes at `lowest_time`; `below` is the time spent under the critical level; `first_below` is when it first
    gets there, infinite where it never does.

    Source: `oxygen_run`.
    """

    time: Time
    oxygen: Concentration
    lowest: Concentration
    lowest_time: Time
    below: Time
    first_below: Time


def _pairs(given, where: str):
    """[(start, end), ...] of an off time; bare. Source: none, it only reads."""
    if given is None:
        return []
    times = np.ravel(np.asarray(given, float))
    if times.size % 2 or np.any(np.diff(times) < 0):
        raise DesignError(f"oxygen_run: {where} needs pairs of times in order, when it stops and when it comes back, such as [27, 30] h.")
    return list(zip(times[::2], times[1::2]))


def _within(time, pairs) -> bool:
    return any(start <= time < end for start, end in pairs)


_MOST_POINTS = 100_000  # moments of a run: a minute each of two months


def _daily(times, first, last):
    """Each time of day, at every day that touches the run. Source: none, it only counts."""
    days = np.arange(np.floor(first / DAY) - 1, np.ceil(last / DAY) + 1)
    return (np.ravel(np.asarray(times, float))[:, None] + DAY * days).ravel()


@takes_quantities
def oxygen_run(
    budget: OxygenBudget,
    critical: Concentration,
    *,
    begin: Time = 18 * 3600.0,
    end: Time = 32 * 3600.0,
    start: Concentration | None = None,
    meals: Time = (8 * 3600.0, 17 * 3600.0),
    meal_peak: Number = 1.4,
    meal_length: Time = 6 * 3600.0,
    pump_off: Time | None = None,
    air_off: Time | None = None,
    backup_transfer: MassRate = 0.0,
    backup_delay: Time = 0.0,
    backup_lasts: Time = float("inf"),
    light: Time = (6 * 3600.0, 18 * 3600.0),
    light_gain: MassRate = 0.0,
    dark_use: MassRate = 0.0,
    points: int = 200,
) -> OxygenRun:
    """The oxygen in a tank through a night or a day, by the clock.

    Clock times run on past midnight: 3 at night after an evening at 18 is 27 h. A meal that falls into a failure is
    not given; one already eaten still costs its oxygen. Between meals fish take their usual use and after meals more,
    which adds up to some more than the day's mean: the safe side. At low oxygen they breathe on as hard.

    budget: The tank with everything running; its fields may be arrays.
    begin (one value): On the clock, since midnight; 18 h when left out.
    end (one value): 32 h, 8 in the morning, when left out.
    start: At the beginning. Left out: where the tank settles at its usual use.
    meals (array): Times of day, each day again: 8 h and 17 h.
    meal_peak: As in `after_meal`.
    meal_length (one value): How long the use stays high after a meal, 6 h.
    pump_off (array): When the pump stops and when it comes back, in pairs.
    air_off (array): The same for the air.
    backup_transfer: Standard transfer of a backup that runs while pump or air is off.
    backup_delay (one value): From the failure until the backup runs.
    backup_lasts (one value): How long it then runs: until its battery is flat.
    light (array): When it gets light and when dark: 6 h and 18 h.
    light_gain: What algae and plants in the tank give, on balance, while it is light. Small; do not build on it.
    dark_use: What they take in the dark.
    points: Moments to show; all changes come besides.
    returns: time [s], oxygen, lowest [kg/m³], lowest time, below, first below [s]

    The closed form of `oxygen_after` from change to change. Within one stretch the level only rises or only falls, so
    the lowest is found exactly.

    Source: `oxygen_after`; the meal's shape: common practice, no source (`after_meal` for its size).

    >>> from aquaplumb import air, u
    >>> tank = air.OxygenBudget(volume="1000 L", use="3 g/h", inflow="1000 L/h", inflow_oxygen="8 mg/L")
    >>> night = air.oxygen_run(tank, "3 mg/L", pump_off=[27, 28] * u.h)
    >>> print(round(night.lowest.to("mg/L"), 1), round(night.lowest_time.to("h"), 1))
    2 mg/L 28 h
    """
    if not begin < end:
        raise DesignError("oxygen_run: the end is not after the beginning; clock times run on past midnight: 8 in the morning is 32 h.")
    check_range(meal_peak, 1.0, 4.0, NUMBER, "oxygen_run: meal peak", "the rise after a meal")
    if backup_delay < 0 or backup_lasts < 0 or not 0 <= meal_length <= DAY or np.size(light) != 2:
        raise DesignError(
            "oxygen_run: the backup's delay and how long it lasts are 0 or more, a meal lasts 0 to 24 h, and light has two times, such as [6, 18] h."
        )
    if not 2 <= points <= _MOST_POINTS:
        raise DesignError(f"oxygen_run: points is {as_given(points)}; it is how many moments to show, 2 to {_MOST_POINTS:,}.")
    pump_off, air_off = _pairs(pump_off, "pump off"), _pairs(air_off, "air off")
    any_off = pump_off + air_off
    eaten = [m for m in _daily(meals, begin, end) if not _within(m, any_off)]
    dawn, dusk = (float(v) % DAY for v in np.ravel(light))

    changes = [t for pair in any_off for t in pair] + [t for s, _ in any_off for t in (s + backup_delay, s + backup_delay + backup_lasts)]
    changes += [t for m in eaten for t in (m, m + meal_length)] + list(_daily((dawn, dusk), begin, end))
    turns = np.unique([begin, end, *(t for t in changes if begin < t < end)])
    moments = np.linspace(begin, end, int(points))

    known: dict[tuple, tuple] = {}

    def conditions(moment: Time):
        """(gain, rate) while all stands as at this moment."""
        pump, stones = not _within(moment, pump_off), not _within(moment, air_off)
        backup = any(s + backup_delay <= moment < min(e, s + backup_delay + backup_lasts) for s, e in any_off)
        fed = any(m <= moment < m + meal_length for m in eaten)
        clock = moment % DAY
        lit = dawn <= clock < dusk if dawn <= dusk else not dusk <= clock < dawn
        key = (pump, stones, backup, fed, lit)
        if key not in known:
            s = budget.si
            transfer = (s.standard_transfer if stones else 0.0) + (backup_transfer if backup else 0.0)
            now = changed(budget, use=s.use * (meal_peak if fed else 1.0), inflow=s.inflow if pump else 0.0, standard_transfer=transfer)
            gain, rate = gain_and_rate(now)
            known[key] = gain + (light_gain if lit else -np.asarray(dark_use)[()]) / s.volume, rate
        return known[key]

    level = steady_oxygen.si(budget) if start is None else start
    if not np.all(np.isfinite(level)):
        raise DesignError(
            "oxygen_run: nothing comes into this tank and nothing is used, so it has no level of its own; give start, such as 7 mg/L."
        )
    level = np.asarray(level + 0.0 * conditions(begin)[0] + 0.0 * np.asarray(critical), float)  # of the shape of all designs
    times, levels = [turns[:1]], [level[None]]
    below, first = np.zeros(level.shape), np.full(level.shape, np.inf)
    for before, after in itertools.pairwise(turns):
        gain, rate = conditions(0.5 * (before + after))
        shown = np.append(moments[(moments > before) & (moments < after)], after)
        course = level_after(level, gain, rate, (shown - before).reshape(-1, *[1] * level.ndim))
        span, later = after - before, course[-1]
        down = np.minimum(fall_time(level, critical, gain, rate), span)  # how long still above the critical level
        up = np.minimum(fall_time(-level, -np.asarray(critical), -np.asarray(gain), rate), span)  # how long still below
        under = np.where(level < critical, up, np.where(later < critical, span - down, 0.0))
        first = np.where((under > 0) & ~np.isfinite(first), before + np.where(level < critical, 0.0, down), first)
        below, level = below + under, later
        times.append(shown)
        levels.append(course)
    time, oxygen = np.concatenate(times), np.concatenate(levels)
    where = np.argmin(oxygen, axis=0)
    return OxygenRun.from_si(
        time=time, oxygen=oxygen, lowest=oxygen.min(axis=0)[()], lowest_time=time[where], below=below[()], first_below=first[()]
    )

"""The two groups of bacteria behind a start-up: one turns ammonia to nitrite, the other nitrite to nitrate.

How fast they grow and eat, and the stepping of both through the days. Ammonia, nitrite and nitrate are always *as
nitrogen* (N). All of it is reached through `startup`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from aquaplumb.fish.nitrification import BEST
from aquaplumb.fish.nitrification import growth_at as warmer
from aquaplumb.fish.waste import alkalinity_use
from aquaplumb.units import (
    CONCENTRATION,
    DAY,
    NUMBER,
    TEMPERATURE,
    TIME,
    Concentration,
    DesignError,
    Number,
    Rate,
    Record,
    Temperature,
    Time,
    check_range,
    takes_quantities,
)

PACE: Any = (0.16, 0.5, 1.0)  # slow, typical, fast: see cycling.dosed_start
SLOW, TYPICAL, FAST = range(3)  # their places in what a run gives
_NITRITE_ACTIVATION = 44e3 / 8.314462618  # K: the nitrite oxidisers' activation energy over the gas constant
_DECAY_WARMTH = 1.08  # for a degree up to the best temperature, from memory
PIECES = 6  # rows kept of a day, and one more, so that a dose shows as a step


class Nitrifiers(Record):
    """One group of nitrifying bacteria at 20 °C: how fast it grows and fades, and how much there is at first.

    growth: With more than enough ammonia (or nitrite).
    half_saturation: As N: where it grows at half of that.
    growth_yield: Bacteria (dry, organic) grown on a unit of N turned.
    start: Bacteria in a new, unseeded system, spread over all the water. A guess: nobody measures it.
    """

    growth: Rate
    half_saturation: Concentration
    growth_yield: Number
    decay: Rate
    start: Concentration


# Rittmann and McCarty, Environmental Biotechnology, 20 °C (from memory); the start is an assumption.
AMMONIA_OXIDISERS = Nitrifiers.from_si(growth=0.76 / DAY, half_saturation=1.0e-3, growth_yield=0.33, decay=0.11 / DAY, start=2e-5)
NITRITE_OXIDISERS = Nitrifiers.from_si(growth=0.81 / DAY, half_saturation=1.3e-3, growth_yield=0.083, decay=0.11 / DAY, start=5e-6)


class Warmth(Record):
    """How much faster each group grows than at 20 °C: the first on ammonia, the second on nitrite."""

    first: Number
    second: Number


class StartUp(Record):
    """A start-up through time. The last axis is time; before it, by default, slow, typical and fast bacteria.

    ``removal`` is the ammonia turned in the 24 hours before. ``added``, ``taken_out`` (by water changes) and
    ``alkalinity_used`` (as CaCO3) are sums since the first day, so tan + nitrite + nitrate + taken_out = added. A
    day begins and ends with a row of its own, so that a dose shows as a step. ``ready`` is "not a number" (nan) where
    the run ends before it is.

    Source: `dosed_start`, `stocked_start`.
    """

    time: Time
    tan: Concentration
    nitrite: Concentration
    nitrate: Concentration
    removal: Concentration
    added: Concentration
    taken_out: Concentration
    alkalinity_used: Concentration
    first_group: Concentration
    second_group: Concentration
    tan_peak: Concentration
    nitrite_peak: Concentration
    ready: Time


@dataclass(frozen=True, slots=True)
class Ammonia:
    """How ammonia comes into the water, as N: bare SI numbers or arrays."""

    load: Any  # kg/m³/s, for the seed
    wanted: Any  # kg/m³, of a full day
    others: tuple  # arrays that go with the rest
    supply: Callable[[float], Any] | None = None  # kg/m³/s at a time in seconds
    dose: Callable[[int, np.ndarray, np.ndarray], Any] | None = None  # kg/m³ at once on the morning of a day, by ammonia and nitrite


@takes_quantities
def growth_warmth(temperature: Temperature) -> Warmth:
    """How much faster the bacteria grow at a temperature than at 20 °C. The second group gains less from warmth.

    temperature: 0 to 40 °C. Best at 29 °C; below 1 °C as at 1 °C.
    returns: first (on ammonia), second (on nitrite); 1 at 20 °C

    exp(Ea/R (1/293.15 − 1/T)) to 29 °C, Ea 68 kJ/mol for the first group and 44 kJ/mol for the second; above, both fall to
    nothing at 42 °C (`fish.nitrification.growth_at`).

    Source: Vannecke and Volcke 2015, supplement; cold and heat as `fish.nitrification.growth_at`.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> warmth = startup.growth_warmth(25 * u.degC)
    >>> print(round(warmth.first, 2), round(warmth.second, 2))
    1.6 1.35
    """
    check_range(temperature, 273.15, 313.15, TEMPERATURE, "growth_warmth: temperature", "the growth of the bacteria")
    first, second = warmer(temperature), warmer(temperature, _NITRITE_ACTIVATION)
    return Warmth.from_si(first=first, second=second)


def two_steps(where: str, plan: Ammonia, *, temperature, days, seed, pace, water_change, change_above, near_nil, first, second) -> StartUp:
    """Step both groups through the days by Runge-Kutta of the fourth order, with more steps where they eat fast.

    Source: the equations stand in `cycling.dosed_start`.
    """
    check_range(days, DAY, 365 * DAY, TIME, f"{where}: days", "a start-up")
    check_range(seed, 0.0, 1.0, NUMBER, f"{where}: seed", "a share")
    check_range(water_change, 0.0, 1.0, NUMBER, f"{where}: water change", "a share")
    check_range(plan.load * DAY, 0.0, 0.05, CONCENTRATION, f"{where}: ammonia of a day, in all the water", "this picture")
    pace = np.asarray(pace, float)
    check_range(pace, 0.05, 3.0, NUMBER, f"{where}: pace", "this picture")
    warm, groups = growth_warmth.si(temperature).si, (first.si, second.si)
    arrays = (plan.load, plan.wanted, temperature, seed, pace, water_change, change_above, near_nil, *plan.others)
    try:
        shape = np.broadcast_shapes(*map(np.shape, arrays))
    except ValueError:
        raise DesignError(
            f"{where}: the lists given do not go together; pace is a list of {pace.size} and runs along the last axis, so give"
            " other lists as a column, or a single pace such as 0.5."
        ) from None
    upright = (2, *[1] * len(shape))
    half = np.reshape([g.half_saturation for g in groups], upright)
    gain = np.reshape([g.growth_yield for g in groups], upright)
    warmth = np.stack([np.broadcast_to(w, shape) for w in (warm.first, warm.second)])
    turn = pace * np.reshape([g.growth for g in groups], upright) * warmth / gain
    fading = pace * np.reshape([g.decay for g in groups], upright) * _DECAY_WARMTH ** (np.minimum(temperature, BEST) - 293.15)
    fading = np.broadcast_to(fading, (2, *shape))

    state = np.zeros((8, *shape))  # tan, nitrite, nitrate, first and second group, N added, ammonia and nitrite turned
    finished = np.divide(gain * plan.load, fading, out=np.zeros((2, *shape)), where=fading > 0)
    state[3:5] = np.reshape([g.start for g in groups], upright) + seed * finished

    def change_of(time, y, out):
        food = y[:2]
        eaten = turn * y[3:5] * food / (half + food)
        out[:2] = -eaten
        out[2] = 0.0
        out[1:3] += eaten
        out[3:5] = gain * eaten - fading * y[3:5]
        out[6:] = eaten
        if plan.supply is not None:
            came = plan.supply(time)
            out[0] += came
            out[5] = came

    a, b, c, d = np.zeros((4, *state.shape))
    taken, kept, out = np.zeros(shape), [], []
    count = round(days / DAY)
    for day in range(count):
        share = np.where(np.maximum(state[0], state[1]) > change_above, water_change, 0.0)
        taken = taken + share * state[:3].sum(axis=0)
        state[:3] *= 1 - share
        if plan.dose is not None:
            state[[0, 5]] += plan.dose(day, state[0], state[1])
        kept.append(state.copy())
        out += [taken] * (PIECES + 1)
        for piece in range(PIECES):
            steps = max(1, int(np.ceil(np.max(turn * state[3:5] / half) * DAY / PIECES)))
            h = DAY / PIECES / steps
            for step in range(steps):
                time = (day + piece / PIECES) * DAY + step * h
                change_of(time, state, a)
                change_of(time + h / 2, state + h / 2 * a, b)
                change_of(time + h / 2, state + h / 2 * b, c)
                change_of(time + h, state + h * c, d)
                state += h / 6 * (a + 2 * (b + c) + d)
            kept.append(state.copy())
    return _record(np.stack(kept, axis=-1), np.stack(out, axis=-1), count, plan.wanted, near_nil)


def _record(rows, taken, count, wanted, near_nil) -> StartUp:
    tan, nitrite, nitrate, first, second, added, turned, turned_on = rows
    day = PIECES + 1
    time = (np.arange(count)[:, None] + np.linspace(0, 1, day)).ravel() * DAY
    before = np.concatenate([np.zeros((*turned.shape[:-1], day)), turned[..., :-day]], axis=-1)
    ends = slice(PIECES, None, day)
    a_day, first_day, second_day = (np.diff(sums[..., ends], axis=-1, prepend=0.0) for sums in (added, turned, turned_on))
    nil, wanted = np.asarray(near_nil)[..., None], np.asarray(wanted)[..., None]
    held = (tan[..., ends] <= nil) & (nitrite[..., ends] <= nil) & (a_day >= wanted) & (a_day > 0)
    held &= np.minimum(first_day, second_day) >= 0.8 * a_day  # a load below near nil is no proof
    held = np.logical_and.accumulate(held[..., ::-1], axis=-1)[..., ::-1]  # and stays so
    ready = np.where(held.any(axis=-1), (np.argmax(held, axis=-1) + 1) * DAY, np.nan)
    return StartUp.from_si(
        time=time, tan=tan, nitrite=nitrite, nitrate=nitrate, removal=turned - before, added=added, taken_out=taken,
        alkalinity_used=alkalinity_use.si(turned), first_group=first, second_group=second,
        tan_peak=tan.max(axis=-1), nitrite_peak=nitrite.max(axis=-1), ready=ready,
    )  # fmt: skip

"""Invented weather: a year of brighter and duller days around the monthly mean, to see how a battery bears them.

Part of `aquaplumb.power`, which is the face of all this.

It is not a forecast and not your weather: it is a coin that is tossed each day, leaning towards what yesterday was, so
that dull days come in runs. Every month keeps its mean exactly. Try several seeds; a real winter can be worse than any.
"""

from __future__ import annotations

from itertools import accumulate

import numpy as np

from aquaplumb.power.solar import MONTH_OF_DAY, monthly
from aquaplumb.units import NUMBER, DesignError, Number, check_range, takes_quantities
from aquaplumb.water.halving import last_below

DULLEST, BRIGHTEST = 0.05, 1.05  # of a clear sky: heavy cloud; a clean day. Common practice, no source.


@takes_quantities
def invented_skies(
    sky_share: Number,
    *,
    seed: int = 1,
    persistence: Number = 0.5,
    spread: Number = 1.2,
    weight: Number | None = None,
) -> Number:
    """The share of the clear sky's sunshine that comes through on each day of an invented year.

    sky_share (scalar or array of 12): The mean of each month, 0 to 1.
    seed: Another seed, another year; the same seed, the same year.
    persistence (one value): How much a day takes after the one before: 0 not at all, towards 1 in long runs.
    spread (one value): How far days differ: 0 makes all days of a month alike; at 1.2 clear and dull days both come
        often.
    weight (array of 365): The clear sky's sunshine on each day, so that the month's mean of *sunshine* is kept; else
        all days count alike.
    returns: 365 values.

    A first-order chain z = p z₋₁ + √(1 − p²) e with normal e; the share is an S-shaped function of z between 0.05 and
    1.05, shifted in each month so that the mean comes out. Persistence and spread are invented for this toolkit.

    Source: First-order chains for daily sunshine as in Graham, Hollands and Huget (1988), from memory: they found about 0.3 from day to day.
    The larger default is on the side of longer dark runs.

    >>> days = invented_skies(0.6, seed=3)
    >>> print(round(days[:31].mean(), 3))
    0.6
    """
    check_range(sky_share, 0, BRIGHTEST, NUMBER, "invented_skies: sky_share", "a share of the clear sky")
    check_range(persistence, 0, 0.95, NUMBER, "invented_skies: persistence", "a chain of days")
    check_range(spread, 0, 5, NUMBER, "invented_skies: spread", "a chain of days")
    if np.shape(sky_share) not in ((), (12,)):
        raise DesignError(f"invented_skies: sky_share has {np.size(sky_share)} values; give one for each month, or a single one.")
    if isinstance(seed, bool) or not isinstance(seed, (int, np.integer)) or seed < 0:
        raise DesignError(f"invented_skies: seed is {seed!r}; give a whole number such as 1.")
    mean = np.broadcast_to(np.asarray(sky_share, float), 12)
    weight = np.ones(365) if weight is None else np.asarray(weight, float)
    if weight.shape != (365,):
        raise DesignError(f"invented_skies: weight has {weight.size} values; give one for each day of a year of 365.")
    normal = np.random.default_rng(seed).standard_normal(365)
    p, rest = float(persistence), float(np.sqrt(1 - persistence**2))
    z = spread * np.array(list(accumulate(normal.tolist(), lambda before, e: p * before + rest * e)))
    sun = monthly(weight)
    part = weight / np.where(sun > 0, sun, 1.0)[MONTH_OF_DAY]
    part = np.where(sun[MONTH_OF_DAY] > 0, part, 1.0)  # where there is no sun, all days count alike

    def days(shift):
        return DULLEST + (BRIGHTEST - DULLEST) / (1 + np.exp(-(z + shift[MONTH_OF_DAY])))

    share = days(last_below(np.full(12, -40.0), np.full(12, 40.0), lambda shift: monthly(days(shift) * part) <= mean))
    # a mean at or under the dullest day, or that of no cloud at all, leaves no room: all days alike
    alike = (mean <= DULLEST) | (mean >= BRIGHTEST * (1 - 1e-9))
    return np.where(alike[MONTH_OF_DAY], mean[MONTH_OF_DAY], share)

"""Where the nitrogen of a year goes, and what is cut of the plants, month by month; bare SI numbers, all as N."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from aquaplumb.build.seasons import BEGINS, YEAR
from aquaplumb.fish.waste import NITROGEN_IN_PROTEIN
from aquaplumb.units import DAY, Bare
from aquaplumb.water.build_up import KEPT, UPTAKE

_GROWN = 0.5  # of a crop's time until it takes up as much as a full bed: before, straight up from nothing; common practice, no source


@dataclass(frozen=True, slots=True)
class NitrogenYear:
    """The nitrogen of each month [kg]: feed = fish + solids + ammonia, and ammonia = plants + changed + what is more in the water."""

    feed: np.ndarray
    fish: np.ndarray
    solids: np.ndarray
    ammonia: np.ndarray  #: it all becomes nitrate
    plants: np.ndarray  #: that they take
    changed: np.ndarray  #: that goes out with changed water
    left: np.ndarray  #: in the water at the end of each month; the year begins with none
    volume: float  #: of the water [m³]

    @property
    def nitrate(self) -> np.ndarray:
        """In the water at the end of each month [kg/m³]."""
        return self.left / self.volume


def nitrogen_year(
    brought: np.ndarray, ammonia: np.ndarray, area: float, growing: np.ndarray, season: Bare, *, volume: float, change: float
) -> NitrogenYear:
    """The nitrogen of a year's days of protein brought and ammonia given off [kg/s]; `change` is of water [m³/s].

    As `startup.nitrogen_balance` has it, but that plants also take what was left before, and young ones take less.

    Source: FAO Technical Paper 589, App. 4; Graber and Junge (2009); mass balance.
    """
    want = UPTAKE * area * DAY * growing * leaf(growing, season)
    out = -math.expm1(-change * DAY / volume)
    there, taken, changed, left = 0.0, np.zeros(YEAR), np.zeros(YEAR), np.zeros(YEAR)
    for day, made in enumerate((ammonia * DAY).tolist()):
        there += made
        taken[day] = min(float(want[day]), there)
        there -= taken[day]
        changed[day] = there * out
        there -= changed[day]
        left[day] = there
    feed = brought * NITROGEN_IN_PROTEIN * DAY
    ends = np.r_[np.array(BEGINS[1:]) - 1, YEAR - 1]
    month = lambda days: np.add.reduceat(days, BEGINS)  # noqa: E731
    return NitrogenYear(
        feed=month(feed), fish=month(KEPT * feed), solids=month((1 - KEPT) * feed - ammonia * DAY), ammonia=month(ammonia * DAY),
        plants=month(taken), changed=month(changed), left=left[ends], volume=volume,
    )  # fmt: skip


def leaf(growing: np.ndarray, season: Bare) -> np.ndarray:
    """How much of what a full bed takes up the plants of each day take: all where the season does not say when they are replanted."""
    if season.replant is None:
        return np.ones(YEAR)
    if not season.together:  # a part of the beds each week: all ages stand side by side
        return np.full(YEAR, 1 - _GROWN / 2)
    return np.minimum(_age(growing, season) / (_GROWN * season.replant / DAY), 1.0)


def plants_cut(plants: float, growing: np.ndarray, season: Bare) -> np.ndarray:
    """The plants to cut in each month: all beds at the end of each crop, or a part of them every day."""
    if season.replant is None:
        return np.zeros(12)
    length = season.replant / DAY
    if not season.together:
        return np.add.reduceat(plants * growing / length, BEGINS)
    age = _age(growing, season)
    done = growing & (age >= math.ceil(length) - 1)
    return np.add.reduceat(plants * done.astype(float), BEGINS)


def _age(growing: np.ndarray, season: Bare) -> np.ndarray:
    """Since how many days the plants of each day stand, where all are planted together: on the first day on which any grow, and anew when cut."""
    length, age, ages = max(1, math.ceil(season.replant / DAY)), 0, np.zeros(YEAR)
    begins = np.flatnonzero(growing & ~np.roll(growing, 1))
    first = int(begins[0]) if len(begins) else 0
    for day in (np.arange(YEAR) + first) % YEAR:
        if not growing[day]:
            age = 0
            continue
        ages[day] = age
        age = (age + 1) % length
    return ages

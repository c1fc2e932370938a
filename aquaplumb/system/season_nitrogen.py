"""Where the nitrogen of a year goes, and what is cut of the plants, month by month; bare SI numbers, all as N."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from aquaplumb.build.seasons import BEGINS, MONTH_DAYS, YEAR, by_day
from aquaplumb.fish.crop_weather import crop_growth
from aquaplumb.fish.waste import NITROGEN_IN_PROTEIN
from aquaplumb.system.states import Growing
from aquaplumb.units import DAY, Bare
from aquaplumb.water.build_up import KEPT, UPTAKE

_ROUNDED = 1e-6  # of a day
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
    brought: np.ndarray, ammonia: np.ndarray, area: float, grows: np.ndarray, season: Bare, *, volume: float, change: float
) -> NitrogenYear:
    """The nitrogen of a year's days of protein brought and ammonia given off [kg/s]; `change` is of water [m³/s].

    As `startup.nitrogen_balance` has it, but that plants also take what was left before, and young ones take less, and all of them where
    they have but a part of their usual growth (`grows`).

    Source: FAO Technical Paper 589, App. 4; Graber and Junge (2009); mass balance.
    """
    want = UPTAKE * area * DAY * grows * leaf(grows, season)
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


def weather_share(beds: Growing, season: Bare) -> np.ndarray:
    """The part of their usual growth that the air and the sun of each day let plants have; all of it where nobody says them."""
    air = by_day(season.air) if season.air else None
    sun = season.light_share * by_day(season.sunshine) if season.sunshine else None
    stand = [(one.area * share, crop) for one in beds.each.values() for crop, share in one.crops.items() if one.area * share > 0]
    if not stand or (air is None and sun is None):
        return np.ones(YEAR)
    return sum(area * crop_growth.si(crop, air=air, sun=sun) for area, crop in stand) / sum(area for area, _ in stand)


def leaf(grows: np.ndarray, season: Bare) -> np.ndarray:
    """How much of what a full bed takes up the plants of each day take: all where the season does not say when they are replanted."""
    if season.replant is None:
        return np.ones(YEAR)
    if not season.together:  # a part of the beds each week: all ages stand side by side
        return np.full(YEAR, 1 - _GROWN / 2)
    return np.minimum(_age(grows, season)[0] / (_GROWN * season.replant / DAY), 1.0)


def plants_cut(plants: float, grows: np.ndarray, season: Bare) -> np.ndarray:
    """The plants to cut in each month: all beds at the end of each crop, or a part of them every day; the slower they grow, the fewer."""
    if season.replant is None:
        return np.zeros(12)
    cut = _age(grows, season)[1] if season.together else grows * DAY / season.replant
    return np.add.reduceat(plants * cut, BEGINS)


def _age(grows: np.ndarray, season: Bare) -> tuple[np.ndarray, np.ndarray]:
    """How many days of usual growth the plants of each day have had, where all are planted together, and on which days they are cut.

    They are planted on the first day after bare months, and anew when cut; what still stands when those begin is lost, and in cold or dark
    it waits.
    """
    bare = np.isin(np.repeat(np.arange(12), MONTH_DAYS), season.bare)
    length, age, ages, cut = max(1, math.ceil(season.replant / DAY)), 0.0, np.zeros(YEAR), np.zeros(YEAR)
    begins = np.flatnonzero(~bare & np.roll(bare, 1))
    first = int(begins[0]) if len(begins) else 0
    for day in (np.arange(YEAR) + first) % YEAR:
        ages[day] = age
        age = 0.0 if bare[day] else age + grows[day]
        if age > length - _ROUNDED:
            age, cut[day] = 0.0, 1.0
    return ages, cut

"""A start with the fish in the water, run through its weeks: how bad its peaks are, and which start the fish would bear.

The review and page 12 read the same runs, so that both say the same of a start.
"""

from __future__ import annotations

import functools
import itertools
import math
from dataclasses import dataclass, replace

import numpy as np

from aquaplumb.fish import waste_limits
from aquaplumb.system.balance import Balance
from aquaplumb.units import DAY, Bare
from aquaplumb.water.cycling import stocked_start
from aquaplumb.water.start_alkalinity import RUN
from aquaplumb.water.two_step import SLOW, TYPICAL

CHANGED = 0.25  # of the water, on each morning that asks for it: common practice, no source
_CHANGE_ABOVE = 1e-3  # kg/m³ of ammonia or nitrite: FAO 589, 1 mg/L; or what the fish bear, where that is less
_LONGEST = 365 * DAY  # that a run's ramp is
_MOST = 0.05  # kg/m³ of ammonia a day, the most that a run is for; fish die of less
_COLDEST, _WARMEST = 278.15, 308.15  # K
_TENTHS = np.arange(1, 11) / 10  # of old media that a cure names
_FEW = np.array([0.05, *np.arange(1, 10) / 10])  # of the fish that a cure names
_SIX_WEEKS = 42 * DAY  # until all fish are in: Kentucky State University, Aquaponics Production Manual 2021 §6.6, 6 to 8 weeks


@dataclass(frozen=True)
class Bears:
    """What the fish of a build bear of a waste, and past which they die, bare; endless where nobody knows."""

    whose: str
    limit: float
    danger: float


@dataclass(frozen=True)
class Peak:
    """The worst that a start comes to: `severity` is "stop" where fish may die, "fix" where they are harmed, "note" where they may be."""

    severity: str
    what: str
    value: float  # kg/m³, as N
    bears: Bears
    slow: bool  # whether it comes only where the bacteria are slow


@dataclass(frozen=True)
class FirstFish:
    """A start with fish: its numbers, bare, and what its weeks come to."""

    tan: Bears
    nitrite: Bears
    ammonia: float
    water: float
    first_share: float
    ramp: float
    temperature: float
    seed: float
    water_change: float

    @property
    def change_above(self) -> float:
        """The ammonia or nitrite of a morning on which water is changed."""
        return change_above(self.tan, self.nitrite)

    @functools.cached_property
    def run(self) -> Bare:
        """Its twelve weeks, a bare `StartUp`."""
        return self._weeks()

    def _weeks(self, **others) -> Bare:
        sets = {name: getattr(self, name) for name in ("first_share", "ramp", "temperature", "seed", "water_change", "change_above")}
        return stocked_start.si(self.ammonia, self.water, days=RUN, **(sets | others)).si

    @functools.cached_property
    def worst(self) -> Peak | None:
        """The worst of its peaks with typical bacteria, or with slow ones where that is worse for the fish; none where they bear all."""
        run, found = self.run, []
        for pace, (what, bears, peaks) in itertools.product(
            (TYPICAL, SLOW), (("ammonia", self.tan, run.tan_peak), ("nitrite", self.nitrite, run.nitrite_peak))
        ):
            if (value := float(peaks[pace])) > bears.limit:
                severity = "stop" if value > bears.danger else "fix" if pace == TYPICAL else "note"
                found.append(Peak(severity, what, value, bears, pace == SLOW))
        order = ("stop", "fix", "note")
        return min(found, key=lambda p: (order.index(p.severity), p.slow, -p.value / p.bears.danger), default=None)

    @functools.cached_property
    def borne(self) -> FirstFish | None:
        """A start near it in which no peak passes what the fish bear, however slow the bacteria; None where there is none.

        With the least old media that do; of those with as many fish on the first day, else with fewer; else with six weeks until all are in.
        """
        few = [self.first_share, *np.flip(_FEW[self.first_share - 1e-9 > _FEW])]
        old = [self.seed, *_TENTHS[self.seed + 1e-9 < _TENTHS]]
        for ramp in [self.ramp] if self.ramp >= _SIX_WEEKS else [self.ramp, _SIX_WEEKS]:
            run = self._weeks(first_share=np.reshape(few, (-1, 1)), seed=np.reshape(old, (-1, 1, 1)), ramp=ramp)
            within = ((run.tan_peak <= self.tan.limit) & (run.nitrite_peak <= self.nitrite.limit)).all(axis=-1)
            for seed, share in np.argwhere(within):
                one = _known(replace(self, first_share=float(few[share]), seed=float(old[seed]), ramp=ramp))
                if one.worst is None:  # run alone too, in which steps may be a little longer
                    return one
        return None


@functools.lru_cache(maxsize=32)
def _known(start: FirstFish) -> FirstFish:
    """The same, with what is known of it: review and page ask about one start, and so does whoever does what a cure says."""
    return start


def first_fish(
    system: Balance, *, first_share: float, ramp: float, seed: float, temperature: float | None = None, water_change: float = CHANGED
) -> FirstFish:
    """A start of a solved build with fish, in its coldest water where no other is given; all bare SI."""
    tan, nitrite = bears(system)
    return _known(
        FirstFish(
            tan=tan, nitrite=nitrite, ammonia=min(system.fish.ammonia, _MOST / DAY * system.water), water=system.water, first_share=first_share,
            ramp=min(ramp, _LONGEST), temperature=usual_warmth(system.cold) if temperature is None else temperature, seed=seed, water_change=water_change,
        )
    )  # fmt: skip


def change_above(*waste: Bears) -> float:
    """The ammonia or nitrite of a morning on which water is changed, for fish that bear so much."""
    return min(_CHANGE_ABOVE, *(one.limit for one in waste))


def usual_warmth(cold: float) -> float:
    """The water of a start in a build whose coldest water is this: within 5 to 35 °C [K]."""
    return min(max(cold, _COLDEST), _WARMEST)


def bears(system: Balance) -> tuple[Bears, Bears]:
    """What all the fish of a build bear of ammonia and of nitrite: of each the stock that bears the least."""
    stocks = [stock.si for stock in system.build.stocks.values()]
    limits = [waste_limits.si(stock.species, body_mass=stock.body_mass).si for stock in stocks]

    def least(limit: str, danger: str) -> Bears:
        most, dangers = ([math.inf if (value := getattr(one, name)) is None else value for one in limits] for name in (limit, danger))
        return Bears(stocks[most.index(min(most))].species, min(most), min(dangers))

    return least("tan", "tan_danger"), least("nitrite", "nitrite_danger")

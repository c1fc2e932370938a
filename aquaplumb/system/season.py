"""A year of a build, day by day: fish that come, grow and leave, what they eat, and what that asks of beds and air.

    run = season_run(Balance(build))     # bare SI, an array holds the 365 days from the first of January
    worst_month(run)                     # the month in which most is asked of beds or air

Every year is like the one before: a stock that comes in April comes every April. A stock is fed what fish of its size eat at the
day's temperature, and grows by warmth over days (`fish.grown_mass`), whatever the water is like: no fish dies. The heaviest day of the
worst month is what the steady review then speaks of (`in_worst_month`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from aquaplumb import air, fish, tables, water
from aquaplumb.air import breathing
from aquaplumb.air.tank_oxygen import OxygenBudget
from aquaplumb.build import Build, Stock
from aquaplumb.build.seasons import AGE, BEGINS, MONTH_DAYS, MONTHS, YEAR, by_day, stock_of
from aquaplumb.build.vessels import open_area
from aquaplumb.fish import beds
from aquaplumb.fish.feeding import WEIGHED
from aquaplumb.system.air_plan import air_plans
from aquaplumb.system.balance import Balance
from aquaplumb.system.blown import TYPICAL, hung
from aquaplumb.system.inflow import into_tanks
from aquaplumb.system.season_nitrogen import NitrogenYear, nitrogen_year, plants_cut, weather_share
from aquaplumb.system.stock_loads import strictest
from aquaplumb.units import DAY, Bare, DesignError

AIR = "the air"
HARDLY = 0.005  # of the feed: less is told as none (rounding)
_DAYS = np.arange(YEAR)
MONTH_OF = np.repeat(np.arange(12), MONTH_DAYS)  # the month of each day of the year, from 0
_NOTHING = 1e-15


@dataclass(frozen=True, slots=True)
class CohortYear:
    """One stock through the days for which it is kept, from the one on which it comes; an array holds them."""

    name: str
    tank: str
    species: Bare  #: its row of `species`, bare
    count: float
    protein: float
    cohort: Bare | None  #: the bare `Cohort`; None for fish that are there all year
    day: np.ndarray  #: of the year
    mass: np.ndarray  #: of one fish [kg]
    rate: np.ndarray  #: feed a day over the mass of the fish [1/s]
    oxygen: np.ndarray  #: after a meal, of all of them [kg/s]
    goes: int  #: the day of the year on which it is taken out; −1 for fish that are there all year
    last_mass: float  #: of one fish on that day [kg]
    ripe: bool  #: whether it has its harvest mass by then, where it has one

    @property
    def biomass(self) -> np.ndarray:
        """Of all of them [kg]."""
        return self.count * self.mass

    @property
    def feed(self) -> np.ndarray:
        """[kg/s]."""
        return self.biomass * self.rate

    @property
    def conversion(self) -> float:
        """Feed over what they gain; infinite where they gain nothing."""
        gain = self.count * (self.last_mass - self.mass[0])
        return float(self.feed.sum() * DAY / gain) if gain > 0 else math.inf


@dataclass(frozen=True, slots=True)
class TankYear:
    """One fish tank through the year."""

    biomass: np.ndarray  #: [kg]
    density: np.ndarray  #: [kg/m³]
    asks: np.ndarray  #: for oxygen after a meal, its dirt's with it [kg/s]
    can: np.ndarray  #: what water, stones and surface bring at the least that its fish need [kg/s]


@dataclass(frozen=True, slots=True)
class SeasonRun:
    """A year of a build; an array holds its days."""

    water: np.ndarray  #: its mean temperature [K]
    cold: np.ndarray  #: … as cold as it gets at that time of the year
    warm: np.ndarray  #: … as warm
    cohorts: tuple[CohortYear, ...]
    tanks: dict[str, TankYear]
    biomass: np.ndarray  #: of all fish [kg]
    feed: np.ndarray  #: [kg/s]
    ammonia: np.ndarray  #: that they give off [kg/s]
    living: str  #: what its bacteria live on, in words: "the beds"
    turned: np.ndarray  #: … and can turn [kg/s]
    nitrogen: NitrogenYear
    plants_cut: np.ndarray  #: by month
    stands: float | None  #: how long a crop stands where it grows as usual [s]
    by_weather: bool  #: whether there are plants, and the season tells their air or their sun
    grows: np.ndarray  #: part of their usual growth that plants have; none where nothing grows
    takes: np.ndarray  #: feed that they can take up what becomes of [kg/s]
    month: int  #: in which most is asked of beds or air, from 0
    day: int  #: … on which day of the year
    what: str  #: … of which
    tank: str  #: … and of which tank, where it is the air

    @property
    def strain(self) -> dict[str, np.ndarray]:
        """What is asked over what can be done: of what bacteria live on, and of the air of each tank."""
        named = (lambda tank: AIR) if len(self.tanks) == 1 else (lambda tank: f"{AIR} of {tank}")
        return {
            self.living: _over(self.ammonia, self.turned),
            **{named(name): _over(tank.asks, tank.can) for name, tank in self.tanks.items()},
        }

    def asks(self, part: str) -> str:
        """What the worst month asks of what the bacteria live on, or of a tank's air, in words; `part` is how much of what they can."""
        if self.what == self.living:
            return f"{self.living} have to turn {part} of the ammonia that they can"
        return f"fish use {part} of the oxygen that can come in{f' to {self.tank}' if len(self.tanks) > 1 else ''}"

    @property
    def most(self) -> float:
        """… in the worst month."""
        return float(max(strain[self.day] for strain in self.strain.values()))

    def mean_of(self, days: np.ndarray) -> np.ndarray:
        """The mean of each month."""
        return np.add.reduceat(days, BEGINS) / MONTH_DAYS

    @property
    def lean(self) -> tuple[int, float] | None:
        """The month, from 0, in which plants can take the least part of the feed, and that part; None where nobody says the air or the sun, or nobody eats."""
        feed, takes = self.mean_of(self.feed), self.mean_of(self.takes)
        if not self.by_weather or not feed.any():
            return None
        part = np.where(feed > _NOTHING, takes / np.maximum(feed, _NOTHING), np.inf)
        month = int(np.lexsort((-feed, part))[0])
        return month, min(1.0, float(part[month]))

    def by_month(self, days: np.ndarray) -> np.ndarray:
        """The most of each month."""
        return np.maximum.reduceat(days, BEGINS)


def season_run(system: Balance) -> SeasonRun:
    """A year of a build with a season, on its balance, whichever fish that has."""
    build = system.build
    if build.season is None:
        raise DesignError("the build has no [season]; give it one, with the water's temperature through the year.")
    site, season = build.all_year.si, build.season.si
    mean = np.array(season.temperature)
    down, up = max(0.0, mean.min() - site.coldest_water), max(0.0, site.warmest_water - mean.max())
    temperature = by_day(mean)
    cold, warm = temperature - down, temperature + up
    cohorts = tuple(_grown(one.si, temperature, warm, build) for one in season.cohorts) or _all_year(system, temperature, warm)
    tanks = _tanks(system, cohorts, warm)
    feed = _whole(cohorts, lambda one: one.feed)
    ammonia = _whole(cohorts, lambda one: fish.ammonia_production.si(one.feed, one.protein))
    own = build.water.si.nitrification_rate
    usual = np.minimum(*(beds.nitrification_rate.si(t).si.typical for t in (cold, warm))) if own is None else np.full(YEAR, own)
    turned = system.living.surface["typical"] * usual
    grows = weather_share(system.beds, season) * ~np.isin(MONTH_OF, season.bare)
    brought = _whole(cohorts, lambda one: one.feed * one.protein)
    change = (build.upkeep.si.water_change if build.upkeep else 0.0) / DAY
    living = f"the {system.living.words}"
    strains = [(living, "", _over(ammonia, turned)), *((AIR, name, _over(tank.asks, tank.can)) for name, tank in tanks.items())]
    what, tank, strain = max(strains, key=lambda one: one[2].max())
    day = int(np.argmax(strain))
    if strain[day] <= 0:
        day = int(np.argmax(temperature))
    return SeasonRun(
        water=temperature, cold=cold, warm=warm, cohorts=cohorts, tanks=tanks, biomass=_whole(cohorts, lambda one: one.biomass),
        feed=feed, ammonia=ammonia, living=living, turned=turned,
        nitrogen=nitrogen_year(brought, ammonia, system.beds.area, grows, season, volume=system.water, change=change),
        plants_cut=plants_cut(system.beds.plants, grows, season), stands=season.replant, by_weather=bool((season.air or season.sunshine) and system.beds.area > 0), grows=grows,
        takes=system.beds.area * system.beds.feed_per_area * grows, month=int(MONTH_OF[day]), day=day, what=what, tank=tank,
    )  # fmt: skip


def in_worst_month(build: Build) -> tuple[Build, SeasonRun | None]:
    """A build with the fish and the water of the worst day of its season, and its year; one without a season as it is."""
    if build.season is None or build.month:
        return build, None
    run = season_run(Balance(build))
    return on_day(build, run, run.day), run


def on_day(build: Build, run: SeasonRun, day: int) -> Build:
    """A build with the fish and the water of a day of its year."""
    site = build.all_year.with_si(coldest_water=float(run.cold[day]), warmest_water=float(run.warm[day]))
    asked = {name: float(tank.asks.max()) for name, tank in run.tanks.items()} if len(run.tanks) > 1 else {}
    return build.in_month(MONTHS[MONTH_OF[day]], stocks_on(run, day, build) or build.stocks, site, asked)


def stocks_on(run: SeasonRun, day: int, build: Build) -> dict[str, Stock]:
    """The fish of a day of the year as stocks, fed as on that day; of one that stays over a year each age is its own."""
    found: dict[str, Stock] = {}
    for one in run.cohorts:
        for age, at in enumerate(np.flatnonzero(one.day == day)):
            rate, mass = float(one.rate[at]), float(one.mass[at])
            if one.cohort is None:
                found[one.name] = build.stocks[one.name].with_si(feeding_rate=rate)
            else:
                name = one.name + (f"{AGE}{age + 1}" if age else "")
                found[name] = stock_of(one.cohort, name, mass, build.vessels, rate)
    return found


# --- how it is worked out -------------------------------------------------------------------------


def _over(asked: np.ndarray, can: np.ndarray) -> np.ndarray:
    return np.where(asked > 0, asked / np.maximum(can, _NOTHING), 0.0)


def _by_day(one: CohortYear, values: np.ndarray) -> np.ndarray:
    """What a stock's days come to by the day of the year: of one that is kept for longer, several ages at once."""
    return np.bincount(one.day, values, minlength=YEAR)


def _whole(cohorts: Iterable[CohortYear], of: Callable[[CohortYear], np.ndarray]) -> np.ndarray:
    """What all stocks come to by the day of the year."""
    return sum((_by_day(one, of(one)) for one in cohorts), np.zeros(YEAR))


def _grown(cohort: Bare, temperature: np.ndarray, warm: np.ndarray, build: Build) -> CohortYear:
    """A stock that comes, grows and leaves."""
    species = tables.row("species", cohort.species).si
    growth = fish.growth_coefficient.si(species=species.name).typical if cohort.growth is None else cohort.growth
    day = (cohort.comes + np.arange(cohort.goes - cohort.comes + 1)) % YEAR
    degrees = fish.growing_degrees.si(temperature, species=species.name)[day]
    eaten = np.r_[0.0, np.cumsum(degrees[:-1])] * DAY  # degree-seconds
    mass = fish.grown_mass.si(cohort.body_mass, 274.15, eaten, growth=growth)
    ripe = cohort.harvest_mass is None or bool(mass[-1] >= cohort.harvest_mass)
    last = int(np.argmax(mass >= cohort.harvest_mass)) if ripe and cohort.harvest_mass is not None else len(day) - 1
    day, kept = day[:last], mass[:last]
    rate = fish.feeding_rate.si(np.clip(kept, *WEIGHED), species=species.name, temperature=temperature[day]).si.typical
    breathed = breathing.fish_respiration.si(rate, kept, warm[day], species=species.name, meal_peak=build.water.si.oxygen_peak).si.fed
    return CohortYear(
        name=cohort.name, tank=cohort.tank, species=species, count=cohort.count, protein=cohort.protein, cohort=cohort, day=day, mass=kept, rate=rate,
        oxygen=cohort.count * kept * breathed, goes=int((cohort.comes + last) % YEAR), last_mass=float(mass[last]), ripe=ripe,
    )  # fmt: skip


def _all_year(system: Balance, temperature: np.ndarray, warm: np.ndarray) -> tuple[CohortYear, ...]:
    """The stocks of a file whose season has none of its own: always there, always as heavy, fed as told on the day on which they eat most."""
    found = []
    for one in system.stocks.values():
        eats = fish.appetite.si(temperature, species=one.species.name)
        rate = one.stock.feeding_rate * (eats / eats.max() if eats.max() > 0 else eats)
        mass = np.full(YEAR, one.stock.body_mass)
        breathed = breathing.fish_respiration.si(
            rate, mass, warm, species=one.species.name, meal_peak=system.build.water.si.oxygen_peak
        ).si.fed
        found.append(CohortYear(
            name=one.name, tank=one.tank, species=one.species, count=one.count, protein=one.stock.protein, cohort=None, day=_DAYS, mass=mass, rate=rate,
            oxygen=one.biomass * breathed, goes=-1, last_mass=float(mass[0]), ripe=True,
        ))  # fmt: skip
    return tuple(found)


def _tanks(system: Balance, cohorts: tuple[CohortYear, ...], warm: np.ndarray) -> dict[str, TankYear]:
    """Each fish tank through the year, with its part of the air stones; by what it asks for on its heaviest day they hang."""
    wanted, place = system.build.water.si, {"salinity": system.build.water.si.salinity, "altitude": system.build.site.si.altitude}
    plans = air_plans(system)
    told = next(iter(plans.values())).told
    stones = sum(plan.usual.stones for plan in plans.values())
    whole = sum((plan.usual.standard for plan in plans.values()), np.zeros(3))
    lived = {name: [one for one in cohorts if one.tank == name] for name in system.tanks}
    asks = {name: _asks(mine, system.tanks[name].stays) for name, mine in lived.items()}
    hang = hung(stones, {name: float(asked.max()) for name, asked in asks.items()})
    saturation = water.oxygen_saturation.si(warm, **place)
    found = {}
    for name, mine in lived.items():
        tank = system.tanks[name]
        least = strictest(tank.stocks, "oxygen_minimum").oxygen_minimum if tank.stocks else None
        budget = OxygenBudget.from_si(
            volume=tank.volume, use=0.0, inflow=into_tanks(system, tanks=tank.vessels), inflow_oxygen=wanted.inlet_saturation * saturation,
            standard_transfer=float(whole[TYPICAL]) * hang[name] / stones if stones else 0.0,
            surface=sum(open_area.si(system.build.vessels[one]) for one in tank.vessels), temperature=warm, **place,
        )  # fmt: skip
        terms = air.oxygen_terms.si(budget, least or wanted.outlet_oxygen).si
        can = np.maximum(terms.inflow + terms.air + terms.surface, 0.0)
        asked = asks[name] if told else asks[name] * (1 - wanted.aerated_share)
        biomass = _whole(mine, lambda one: one.biomass)
        found[name] = TankYear(biomass=biomass, density=biomass / max(tank.volume, _NOTHING), asks=asked, can=can)
    return found


def _asks(mine: list[CohortYear], stays: float) -> np.ndarray:
    """The oxygen that the fish of a tank use after a meal, and their dirt that stays there [kg/s]."""
    return _whole(mine, lambda one: one.oxygen) + _whole(mine, lambda one: fish.dirt_oxygen.si(one.feed, stays=stays))

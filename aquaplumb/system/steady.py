"""A build, solved: its balance, and each plan that is worked out of it at the first asking.

    system = Steady(load("courtyard"))
    system.pumped["riser"].flow      # bare m³/s
    system.air.steady                # from here on worked out when asked for, and kept with the system

One rule of forgetting: a build and a system never change. Another build is another object, with nothing kept.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

import numpy as np

from aquaplumb.build import Air, Build, Heat, Supply, Upkeep
from aquaplumb.system.air_plan import AirPlan, air_plans, first_in_danger
from aquaplumb.system.balance import Balance
from aquaplumb.system.drippers import Drippers, drippers
from aquaplumb.system.filtering import FilterLoop, FilterWork, filter_works, loops
from aquaplumb.system.heat_plan import HeatPlan, heat_plan, heat_through_year
from aquaplumb.system.means import Means
from aquaplumb.system.power_plan import PowerPlan, power_plan, power_year
from aquaplumb.system.raft_air import RaftAir, rafts_air
from aquaplumb.system.season import SeasonRun, in_worst_month
from aquaplumb.system.stories import Endless
from aquaplumb.system.turning import Turning, turning
from aquaplumb.system.upkeep_plan import UpkeepPlan, upkeep_plan
from aquaplumb.units import Bare

if TYPE_CHECKING:
    from aquaplumb.system.running import Running

_SOLVED = 20  # builds that are kept solved, by `solved`
_OF_WATER, _OF_DUTIES = (
    ("filters", "loops", "turning"),
    ("power", "year", "airs", "air"),
)  # plans that read peaks; that read shares of the time


def as_shown(share, reckoned: float, shown: float):
    """A float's share of the time in a build much like one whose balance has `reckoned` one, and whose run has `shown` another.

    At the float's real levels a pump brings more or less than at that of its balance, and runs the less or the more, in
    proportion; all the time where more comes than it can bring.
    """
    if shown == reckoned:
        return share
    return np.where((np.asarray(share) >= 1.0) & (reckoned < 1.0), 1.0, np.minimum(1.0, share * (shown / reckoned)))


@dataclass(frozen=True, eq=False, init=False)
class Steady(Balance):
    """A build, solved: `fish`, `beds`, `need`, `pumped`, `falling` and `vessels`, each with bare SI numbers.

    `inflow` asks "what if so much came into this vessel at most?", by its name [m³/s], whatever the pumps bring.
    `runs` spares the work where it is known already how a line's pump runs on the build's own supply, by line.
    """

    season: SeasonRun | None  #: its year, where the build has one: then the rest is of its worst month
    runs: Mapping[str, Bare]  #: bare `power.WiredPump` records, by the line's name

    def __init__(self, build: Build, *, inflow: dict[str, float] | None = None, runs: Mapping[str, Bare] | None = None):
        build, year = in_worst_month(build)
        super().__init__(build, inflow=inflow)
        vars(self).update(runs=runs or {}, season=year)

    def with_sections(
        self, *, air: Air | None = None, power: Supply | None = None, heat: Heat | None = None, upkeep: Upkeep | None = None
    ) -> Steady:
        """The same water with another [air], [power], [heat] or [upkeep]: none of them changes it. For a what-if."""
        other = object.__new__(Steady)
        same = {field.name: getattr(self, field.name) for field in fields(self)}
        build = self.build.replaced(air=air, power=power, heat=heat, upkeep=upkeep)
        vars(other).update(same | {"build": build, "runs": {}})
        return other

    @functools.cached_property
    def running(self) -> Running | None:
        """What it does while nothing fails, from hours of its water through time; None where those cannot be followed."""
        from aquaplumb.system.running import running

        try:
            return running(self.build)
        except Endless:
            return None

    @functools.cached_property
    def in_time(self) -> Steady:
        """The same with what its run shows: `shown`, peaks, loads, highest levels, and the share of the time that floats let pumps run.

        What flows over the hour, and the level of the hour, stay those of the balance, which tests hold to the run; so does a peak
        that is another thing in the run by less than the two may be apart (`Means.shown`). The same where nobody can follow the
        run, or where it is asked what would come into a vessel.
        """
        if self.running is None or self.means.asked:
            return self
        floats = {name: self.running.pumps[name] for name, p in self.pumped.items() if p.line.si.control.si.kind == "float"}
        shares = {name: one.share for name, one in floats.items() if math.isfinite(one.between)}
        other = self._seen(self.means.shown(self.running), shares, shown=self.running)
        vars(other)["in_time"] = other
        return other

    def changed(self, build: Build, *, wants: Collection[str] = ()) -> Steady:
        """A build much like this one, at once, as a slider's move or a try asks for it: its balance, off as much as this one's run is off its own.

        That goes for peaks, levels and floats' shares of the time (`as_shown`). The lines that it `wants` go on wanting the flow
        that they want here: a tank that a strong pump fills higher asks for no more of its turnover.
        """
        other, seen = Steady(build), self.in_time
        if seen is not self:
            shares = {
                name: float(as_shown(p.duty, self.pumped[name].duty, seen.pumped[name].duty))
                for name, p in other.pumped.items()
                if p.line.si.control.si.kind == "float"
            }
            other = other._seen(other.means.off_as(self.means, seen.means), shares)
        as_here = {name: seen.pumped[name] for name in wants}
        if as_here:
            vars(other)["pumped"] = {
                name: replace(p, wanted=as_here[name].wanted, wanted_why=as_here[name].wanted_why) if name in as_here else p
                for name, p in other.pumped.items()
            }
        return other

    def _seen(self, means: Means, shares: Mapping[str, float], **known) -> Steady:
        """The same with other peaks, and floats' pumps at work for other shares of the time."""
        other = object.__new__(Steady)
        new = vars(other)
        new.update(vars(self))  # each plan that was worked out, too
        for plan in _OF_WATER:
            new.pop(plan, None)
        new.update(known, means=means)
        new["vessels"], new["falling"] = other._vessels(), other._fallen()
        if shares:
            new["pumped"] = {name: p.at_work(shares.get(name, p.duty)) for name, p in self.pumped.items()}
            for plan in _OF_DUTIES:
                new.pop(plan, None)
        return other

    @functools.cached_property
    def air(self) -> AirPlan:
        """Its worst night: warmest water, heaviest day; of the fish tank that comes into danger first."""
        return first_in_danger(self.airs)

    @functools.cached_property
    def airs(self) -> dict[str, AirPlan]:
        """The same night of each fish tank, by its name."""
        return air_plans(self, self.power.hours if self.power else None)

    @functools.cached_property
    def power(self) -> PowerPlan | None:
        """What its [power] section comes to; None without."""
        return power_plan(self, self.build.power, self.runs) if self.build.power else None

    @functools.cached_property
    def year(self) -> Bare | None:
        """A year of invented weather on its panel and battery, a bare `SolarYear`; None without."""
        return power_year(self.power)

    @functools.cached_property
    def filters(self) -> dict[str, FilterWork]:
        """How each filter works, by its vessel's name."""
        return filter_works(self)

    @functools.cached_property
    def drippers(self) -> list[Drippers]:
        """What the drippers of towers do, end by end."""
        return drippers(self)

    @functools.cached_property
    def rafts(self) -> dict[str, RaftAir]:
        """The oxygen under the boards of each raft, by its name."""
        return rafts_air(self)

    @functools.cached_property
    def loops(self) -> dict[str, FilterLoop]:
        """What the loop of each pump does with ammonia and solids, by its line."""
        return loops(self, self.filters)

    @functools.cached_property
    def heat(self) -> HeatPlan | None:
        """What its [heat] section comes to on the coldest night; None without."""
        return heat_plan(self, self.build.heat) if self.build.heat else None

    @functools.cached_property
    def heat_months(self) -> list[HeatPlan]:
        """What its water loses in the mean air of each month; none without a season that says it."""
        return heat_through_year(self)

    @functools.cached_property
    def upkeep(self) -> UpkeepPlan:
        """Alkalinity and base, nitrite and chloride, tap water, the start."""
        return upkeep_plan(self)

    @functools.cached_property
    def turning(self) -> dict[str, Turning]:
        """How fast the water of each round fish tank turns, by the tank's name."""
        return turning(self)


@functools.lru_cache(maxsize=_SOLVED)
def solved(build: Build) -> Steady:
    """A build, solved once; the last few that were asked about are kept."""
    return Steady(build)

"""The water as a log last had it: the latest of each value, how old it is, and the worse where it is old."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from aquaplumb.build import Build
from aquaplumb.review.readings.bands import Band
from aquaplumb.review.readings.log import Log
from aquaplumb.units import DAY, DesignError, span
from aquaplumb.water import chemistry

OLD = 10  # days after which a reading says nothing of today's water: common practice, no source
FRESH = 1.0  # days within which readings belong together


@dataclass(frozen=True)
class Mark:
    """A value (bare SI) to reckon with, and whence it is where it was not measured with the rest."""

    value: float
    whence: str = ""


class Latest:
    """The latest of each value of a log (bare SI): `now` what still counts, `old` what does not, in days.

    A reading counts for ten days, and for longer where it was out of its band: what was bad and was not measured again is
    held to be bad still. Ages are days before the log's last date.
    """

    def __init__(self, log: Log, build: Build, bands: dict[str, Band]):
        self.log, self.build, self.bands = log, build, bands
        self.now: dict[str, float] = {}
        self.old: dict[str, int] = {}
        for name in log.measured:
            if (last := log.latest(name)) is not None:
                if (age := self.age(name)) > OLD and not (name in bands and bands[name].outside(last[1])):
                    self.old[name] = round(age)
                else:
                    self.now[name] = last[1]
        if (gas := self._carbon_dioxide()) is not None:
            self.now["carbon dioxide"] = gas

    def age(self, name: str) -> float:
        """How long before the log's last date a name was last measured, in days; inf where it never was."""
        last = self.log.latest(name)
        return math.inf if last is None else float((self.log.dates[-1] - last[0]) / np.timedelta64(1, "D"))

    def aged(self, name: str) -> str:
        """The age in words; "" for what is as young as the log's end."""
        age = self.age(name)
        return "" if age < FRESH else f"measured {span(age * DAY)} before the log ends"

    def highest(self, name: str, otherwise: float) -> Mark:
        """The highest pH or temperature to reckon with: the last day's, where that is old the highest that may be.

        `otherwise` stands in for a value that nobody measured, and is the least for one that is too old to count.
        """
        last, values, days = self.log.latest(name), self.log.si.get(name), self.log.days
        if last is None or values is None:
            return Mark(otherwise, "not measured, so the worse is taken")
        if (age := self.age(name)) < FRESH:
            same = self.log.dates.astype("datetime64[D]") == last[0].astype("datetime64[D]")
            return Mark(float(np.nanmax(values[same])))
        if age <= OLD:
            late = days >= days[-1] - OLD
            return Mark(float(np.nanmax(values[late])), f"the highest of the last {OLD} days, {self.aged(name)}")
        return Mark(max(float(np.nanmax(values)), otherwise), f"{self.aged(name)}, so the worse is taken")

    def ph(self) -> Mark:
        """The pH to reckon ammonia's poison with; one that nobody knows may be at the top of what is good."""
        return self.highest("pH", max(self.bands["pH"].high, self.build.water.si.ph))

    def temperature(self) -> Mark:
        """The temperature to reckon with; one that nobody knows may be the warmest of the site."""
        return self.highest("temperature", self.build.site.si.warmest_water)

    def unionised(self, rise: float = 0.0) -> float | None:
        """Un-ionised ammonia of the last reading of ammonia, the pH higher by `rise`; None where there is none."""
        last = self.log.latest("ammonia")
        if last is None:
            return None
        return last[1] * float(chemistry.unionised_fraction.si(min(self.ph().value + rise, 14.0), self.temperature().value))

    def _carbon_dioxide(self) -> float | None:
        try:
            return float(chemistry.carbon_dioxide.si(*(self.now[name] for name in ("pH", "alkalinity", "temperature"))))
        except (KeyError, DesignError):  # not measured, or out of the formula's range
            return None

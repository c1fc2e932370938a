"""How well the beds turn ammonia by the readings, beside what the build assumes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from aquaplumb import fish
from aquaplumb.build import Build
from aquaplumb.build.vessels import water_volume
from aquaplumb.given import takes_things
from aquaplumb.review import Review, review
from aquaplumb.review.readings.bands import line_through
from aquaplumb.review.readings.log import Log
from aquaplumb.system.steady import solved
from aquaplumb.units import CONCENTRATION, MASS_RATE, DesignError, in_percent

LEAST = 0.05e-3  # kg/m³ as N: a home kit tells no less from nothing (common practice)
FEWEST = 4  # readings of feed and of ammonia


@takes_things
def system_water(build: Build) -> float:
    """All water of a build [m³], as its review tells it; of one that cannot be solved, what stands at its working depths. Source: geometry."""
    try:
        return float(solved(build).water)
    except DesignError:
        return float(sum(water_volume.si(v, v.si.working_depth) for v in build.vessels.values()))


@dataclass(frozen=True)
class Biofilter:
    """What the readings say of the beds (bare SI, nitrogen as N).

    `feed` is the day's, `made` the ammonia it makes, `share_of_load` that over the build's heaviest day; `ammonia`
    is what stands in the water, `flow` what the build sends over its beds. `removal` is the part of the ammonia that a
    pass must be taking out, `assumed` what the build file says, `share` the one over the other. `at_least` marks
    ammonia too low for a kit. `nitrate_rise` is nitrate's a second in all the water, `nitrate_share` that over the
    ammonia turned; None where there are too few readings. `start` and `end` are the days it looks at, `living`
    is what the bacteria live on, in words.
    """

    start: np.datetime64
    end: np.datetime64
    feed: float
    made: float
    expected: float
    ammonia: float
    flow: float
    turned: float
    removal: float
    assumed: float
    at_least: bool
    volume: float
    nitrate_rise: float | None
    living: str = "beds"

    @property
    def share_of_load(self) -> float:
        """The ammonia made, over that of the build's heaviest day."""
        return self.made / self.expected if self.expected > 0 else math.nan

    @property
    def share(self) -> float:
        """The removal in a pass over what the build assumes."""
        return self.removal / self.assumed if self.assumed > 0 else math.inf

    @property
    def nitrate_share(self) -> float | None:
        """The nitrate that shows, over the ammonia that was turned."""
        return None if self.nitrate_rise is None or self.turned <= 0 else self.nitrate_rise / self.turned

    def text(self, system: str = "metric") -> str:
        """It, in words with its numbers and its limits."""
        first, last = (np.datetime_as_string(d, unit="D") for d in (self.start, self.end))
        least = "at least " if self.at_least else ""
        sentences = [
            f"{first} to {last}: {MASS_RATE.text(self.feed, system)} of feed makes {MASS_RATE.text(self.made, system)} of ammonia (as N), "
            f"{in_percent(self.share_of_load)} of the build's heaviest day, and {CONCENTRATION.text(self.ammonia, system)} of it stands in the water.",
            f"So a pass through the {self.living} takes out {least}{in_percent(self.removal)} of the ammonia where the build assumes {in_percent(self.assumed)}: "
            f"your readings say that the biofilter does {least}{in_percent(self.share)} of what the build assumes.",
        ]
        if self.nitrate_share is not None:
            sentences.append(
                f"Nitrate rises by {MASS_RATE.text(self.nitrate_rise, system)} (as N), {in_percent(self.nitrate_share)} of the ammonia turned; plants and water changes take the rest."
            )
        sentences.append(
            "It rests on the build's flow, the feed's protein and a kit that reads in steps: good to a third either way at best."
        )
        return " ".join(sentences)

    __str__ = text


@takes_things
def biofilter(log: Log, build: Build | Review, *, days: float = 21.0) -> Biofilter | None:
    """What the beds take out of the water by the last weeks' readings, beside what the build assumes.

    days: How far back from the log's last day to look.
    returns: None where there are fewer than four readings of feed or of ammonia, or no water runs over beds.

    Ammonia made: P = 0.092 · mean feed · protein (the build's). Turned: P − V dC/dt, V the system's water, dC/dt the
    slope of the ammonia readings. A pass takes out η = turned/(Q C), Q the flow over the beds by the build, C the median
    of the readings, or 0.05 mg/L where they are lower, which a kit cannot tell from nothing.

    What it does not see: ammonia that plants take up and that pipes and tank walls turn is put down to the beds, so η runs
    high, past 100 % at times; a pump that has clogged moves less than the build says, so η then runs low. Nitrate is a floor:
    plants take it up, water changes and wet sludge carry it off, and a bed without oxygen turns it to gas.

    Source: mass balance; 0.092 Timmons and Ebeling (see `fish.ammonia_production`).

    >>> from aquaplumb.build import load
    >>> from aquaplumb.review.readings import read
    >>> found = biofilter(read("courtyard-spring"), load("courtyard"))
    >>> found.share < 1
    True
    """
    if not days > 0:
        raise DesignError(f"days is {days}; look back over some days, such as 21.")
    if not {"feed", "ammonia"} <= set(log.si):
        return None
    seen = build if isinstance(build, Review) else review(build)
    system, late = seen.system, log.days >= log.days[-1] - days
    fed = late & np.isfinite(log.si["feed"])
    tested = late & np.isfinite(log.si["ammonia"])
    flow = float(system.living_flow())
    if fed.sum() < FEWEST or tested.sum() < FEWEST or flow <= 0:
        return None
    volume = system.water
    feed = float(np.mean(log.si["feed"][fed]))
    made = float(fish.ammonia_production.si(feed, system.fish.protein))
    standing = line_through("ammonia", log.days[tested] * 86400, log.si["ammonia"][tested])
    stored = volume * standing.slope if standing and standing.clear else 0.0
    turned = max(0.0, made - stored)
    level = float(np.median(log.si["ammonia"][tested]))
    rise = None
    if "nitrate" in log.si:
        at = late & np.isfinite(log.si["nitrate"])
        line = line_through("nitrate", log.days[at] * 86400, log.si["nitrate"][at])
        rise = volume * line.slope if line else None
    window = log.dates[fed | tested]
    return Biofilter(
        start=window[0], end=window[-1], feed=feed, made=made, expected=float(system.fish.ammonia), ammonia=level, flow=flow,
        turned=turned, removal=turned / (flow * max(level, LEAST)), assumed=seen.build.water.si.removal, at_least=level <= LEAST,
        volume=volume, nitrate_rise=rise, living=system.living.words,
    )  # fmt: skip

"""The fish: how many, how much feed, and what the feed becomes (ammonia, used oxygen, carbon dioxide, solids).

Everything downstream (beds, media, air, water flow) hangs on the feed of the *heaviest* day, not of the mean day.
Ammonia is always *as nitrogen* (N), alkalinity always *as calcium carbonate* (CaCO3).
"""

from __future__ import annotations

import numpy as np

from aquaplumb.fish.feeding import Feeding, FeedingRate, Species, appetite, feeding_rate
from aquaplumb.fish.waste import (
    alkalinity_use,
    ammonia_by_balance,
    ammonia_production,
    carbon_dioxide_production,
    fish_oxygen,
    nitrification_oxygen,
    oxygen_demand,
    solids_production,
)
from aquaplumb.units import (
    BodyMass,
    DesignError,
    Mass,
    MassRate,
    Number,
    Rate,
    Stocking,
    Time,
    Volume,
    takes_quantities,
)

__all__ = [
    "Feeding", "FeedingRate", "Species", "alkalinity_use", "ammonia_by_balance", "ammonia_production", "appetite",
    "carbon_dioxide_production", "daily_feed", "feeding_rate", "fish_count", "fish_oxygen", "nitrification_oxygen",
    "oxygen_demand", "peak_feed", "solids_production", "specific_growth_rate", "standing_biomass",
]  # fmt: skip


@takes_quantities
def standing_biomass(tank_volume: Volume, density: Stocking) -> Mass:
    """The mass of fish that a tank holds at a stocking density.

    With the density at harvest this is the heaviest stock, which is the one to design for. Above about 20 kg/m³ a
    home system has little time when something fails: fish die in minutes, not hours.

    tank_volume: Of the water in the fish tanks alone.

    Source: Definition. Densities: FAO Technical Paper 589 ch. 7 and 8 (10 to 20 kg/m³ at home, from memory); SRAC 4503.

    >>> from aquaplumb import fish, u
    >>> print(fish.standing_biomass(1000 * u.L, 20 * u.kg / u.m**3))
    20 kg
    """
    return tank_volume * density


@takes_quantities
def fish_count(biomass: Mass, body_mass: BodyMass) -> Number:
    """The number of fish in a mass of fish.

    body_mass: Of one fish.
    returns: Not rounded.

    Source: Definition.

    >>> from aquaplumb import fish, u
    >>> print(fish.fish_count(20 * u.kg, 500 * u.g))
    40.0
    """
    if np.any(np.less_equal(body_mass, 0)):
        raise DesignError("fish_count: body mass is 0 g; a fish weighs something, such as 350 g.")
    return biomass / body_mass


@takes_quantities
def daily_feed(biomass: Mass, feeding_rate: Rate) -> MassRate:
    """The feed a day for a mass of fish.

    This is the feed of *that* stock. Size a system on the heaviest stock at its harvest (`peak_feed` says more).

    feeding_rate: Feed a day as a share of the fish's mass, such as 1.5 %/d.

    Source: Definition; used so in Losordo and DeLong 2015, Flow rate estimation for RAS (4,000 kg at 1.5 %/d: 60 kg/d).

    >>> from aquaplumb import fish, u
    >>> print(fish.daily_feed(20 * u.kg, 1.5 * u.percent / u.day).to("g/d"))
    300 g/d
    """
    return biomass * feeding_rate


@takes_quantities
def peak_feed(feed: MassRate, *, peak_factor: Number = 1.4) -> MassRate:
    """The feed of the heaviest day, from the mean feed.

    A yearly mean hides the weeks before harvest, and a daily mean hides the hours after a meal. Feed worked out from
    the *harvest* density needs no factor for the first; for the second, oxygen and ammonia peak at about 1.4 times.
    A single batch that grows from small fish to harvest peaks at 1.5 to 2.5 times its own mean feed.

    feed: The mean.
    peak_factor: 1 or more.

    Source: Common practice, no source.

    >>> from aquaplumb import fish, u
    >>> print(fish.peak_feed(200 * u.g / u.day, peak_factor=1.5).to("g/d"))
    300 g/d
    """
    if np.any(np.less(peak_factor, 1)):
        raise DesignError("peak_feed: peak factor is below 1; a peak is at least the mean, so give 1 or more, such as 1.4.")
    return feed * peak_factor


@takes_quantities
def specific_growth_rate(start: BodyMass, end: BodyMass, time: Time) -> Rate:
    """How fast fish grew between two weighings, as a share of their mass a day.

    start: Mean mass of a fish at first.
    end: Mean mass at last.
    time: Between the two.

    G = ln(W2/W1)/t.

    Source: Definition, as in all fish-farming texts.

    >>> from aquaplumb import fish, u
    >>> print(round(fish.specific_growth_rate(50 * u.g, 500 * u.g, 180 * u.day).to("%/d"), 3))
    1.279 %/d
    """
    if np.any(np.less_equal(start, 0)) or np.any(np.less_equal(end, 0)) or np.any(np.less_equal(time, 0)):
        raise DesignError("specific_growth_rate: a mass or the time is 0; give two weighings and the days between them.")
    return np.log(end / start) / time

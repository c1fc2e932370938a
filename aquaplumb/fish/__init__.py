"""The fish: how many, how much feed, and what the feed becomes (ammonia, used oxygen, carbon dioxide, solids).

Everything downstream (beds, media, air, water flow) hangs on the feed of the *heaviest* day, not of the mean day.
Ammonia is always *as nitrogen* (N), alkalinity always *as calcium carbonate* (CaCO3).
"""

from __future__ import annotations

from aquaplumb.fish.crop_weather import CropGrowth, crop_growth
from aquaplumb.fish.feeding import Feeding, FeedingRate, Species, appetite, feeding_rate
from aquaplumb.fish.growth import Growth, GrowthCoefficient, growing_degrees, grown_mass, growth_coefficient, measured_growth
from aquaplumb.fish.limits import WasteLimits, waste_limits
from aquaplumb.fish.swimming import body_length, swimming_limit
from aquaplumb.fish.waste import (
    alkalinity_use,
    ammonia_by_balance,
    ammonia_production,
    carbon_dioxide_production,
    dirt_oxygen,
    fish_oxygen,
    nitrification_oxygen,
    solids_production,
)
from aquaplumb.units import (
    Mass,
    MassRate,
    Rate,
    Stocking,
    Volume,
    takes_quantities,
)

__all__ = [
    "CropGrowth", "Feeding", "FeedingRate", "Growth", "GrowthCoefficient", "Species", "WasteLimits", "alkalinity_use", "ammonia_by_balance", "ammonia_production", "appetite",
    "body_length", "carbon_dioxide_production", "crop_growth", "daily_feed", "dirt_oxygen", "feeding_rate", "fish_oxygen", "growing_degrees", "grown_mass", "growth_coefficient", "measured_growth", "nitrification_oxygen",
    "solids_production", "standing_biomass", "swimming_limit", "waste_limits",
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
def daily_feed(biomass: Mass, feeding_rate: Rate) -> MassRate:
    """The feed a day for a mass of fish.

    This is the feed of *that* stock. Size a system on the heaviest stock at its harvest: a batch that grows from small
    fish peaks at 1.5 to 2.5 times its own mean feed (common practice, no source).

    feeding_rate: Feed a day as a share of the fish's mass, such as 1.5 %/d.

    Source: Definition; used so in Losordo and DeLong 2015, Flow rate estimation for RAS (4,000 kg at 1.5 %/d: 60 kg/d).

    >>> from aquaplumb import fish, u
    >>> print(fish.daily_feed(20 * u.kg, 1.5 * u.percent / u.day).to("g/d"))
    300 g/d
    """
    return biomass * feeding_rate

"""The species table, and how much of its own mass a fish eats in a day. All of it is reached through `fish`."""

from __future__ import annotations

import functools

import numpy as np

from aquaplumb import tables
from aquaplumb.units import (
    BODY_MASS,
    BodyMass,
    Concentration,
    DesignError,
    Number,
    Rate,
    Record,
    Salinity,
    Stocking,
    Temperature,
    Time,
    check_range,
    takes_quantities,
)

WEIGHED = (0.001, 3.0)  # kg: the fish that data/feeding.csv knows


@tables.table_type("species")
class Species(tables.Row):
    """One kind of fish: what it bears, what it eats, how many a home system carries.

    ``survive_…`` are the ends of what it lives through, ``best_…`` where it grows well; below ``feeding_stops`` it
    does not eat, nor above ``feeding_ends`` (blank: to the end of what it lives through). Limits of ammonia, nitrite and nitrate are as N; `limits.waste_limits` tells where they come from.
    ``oxygen_minimum`` is for every day, ``oxygen_critical`` is where the danger begins. ``condition`` is Fulton's factor,
    for the length of a fish of a mass. ``salinity_high`` is the most that it lives in for weeks, got used to it slowly. A blank is unknown (None).

    Source: ``data/species.csv``, row by row.
    """

    latin_name: str
    survive_low: Temperature | None
    feeding_stops: Temperature | None
    best_low: Temperature | None
    best_high: Temperature | None
    survive_high: Temperature | None
    feeding_ends: Temperature | None
    tan_limit: Concentration | None
    unionised_limit: Concentration | None
    nitrite_limit: Concentration | None
    nitrate_limit: Concentration | None
    oxygen_minimum: Concentration | None
    oxygen_critical: Concentration | None
    protein_low: Number | None
    protein_typical: Number | None
    protein_high: Number | None
    stocking_low: Stocking | None
    stocking_high: Stocking | None
    harvest_mass: BodyMass | None
    growing_time_low: Time | None
    growing_time_high: Time | None
    condition: Number | None
    salinity_high: Salinity | None
    feeding_curve: str
    screen: str


@tables.table_type("feeding")
class Feeding(tables.Row):
    """One point of a feeding curve: the feed a day, as a share of the fish's mass, at one body mass.

    Source: ``data/feeding.csv``, row by row.
    """

    curve: str
    body_mass: BodyMass
    low: Rate
    typical: Rate
    high: Rate


class FeedingRate(Record):
    """A feeding rate with its band: what print holds for low, typical and high.

    Source: `feeding_rate`.
    """

    low: Rate
    typical: Rate
    high: Rate


@functools.cache
def _curve(name: str):
    """(log body mass, log low, log typical, log high) of a feeding curve, and the ends of its body mass."""
    points = [row.si for row in tables.table("feeding").values() if row.si.curve == name]
    if not points:
        known = {row.si.curve for row in tables.table("feeding").values()}
        raise DesignError(tables.unknown("feeding table", name, sorted(known)))
    logs = np.log([(p.body_mass, p.low, p.typical, p.high) for p in points]).T
    return logs, points[0].body_mass, points[-1].body_mass


@functools.cache
def _appetite_points(species: str):
    """(temperatures, shares) between which appetite runs straight: none, full, full, none."""
    row = tables.row("species", species).si
    points = (row.feeding_stops, row.best_low, row.best_high, row.feeding_ends or row.survive_high)
    if None in points:
        raise DesignError(f"the species table does not say at which temperatures {row.name} feeds; give a feeding rate yourself.")
    return points, (0.0, 1.0, 1.0, 0.0)


@takes_quantities
def appetite(temperature: Temperature, *, species: str = "Nile tilapia") -> Number:
    """The share of its full ration that a fish takes at a temperature: 1 in its best range, 0 where it stops feeding.

    A straight line between those points. It is a rough picture, good for "about half"; a fish that leaves feed is
    the better judge. Uneaten feed fouls the water: feed what is gone in ten minutes.

    species: A name in the species table.
    returns: 0 to 1.

    Source: Ends: the species table (FAO Technical Paper 589 ch. 7). The straight line and the ten minutes: common practice,
    no source. Wheaton, RAS waste overview, has 3 to 4 %/d in the warm and 1 to 2 %/d in the cool for one stock.

    >>> from aquaplumb import fish, u
    >>> print(fish.appetite(22 * u.degC, species="Nile tilapia"))
    0.5
    """
    share = np.interp(temperature, *_appetite_points(species))
    return float(share) if np.ndim(share) == 0 else share


@takes_quantities
def feeding_rate(body_mass: BodyMass, *, species: str = "Nile tilapia", temperature: Temperature | None = None) -> FeedingRate:
    """How much of its mass a fish eats in a day, by its size and the water's temperature, as a band.

    Rough on purpose: print disagrees by a factor of two to three between 50 and 200 g, most of the curve is from
    memory, and all warm-water fish share one curve. Start low, watch the fish, and weigh some each month.

    body_mass: 1 g to 3 kg.
    species: A name in the species table; it chooses the warm-water or the cold-water curve.
    temperature: Left out: the fish's best range. Outside it the rate falls, as `appetite` says, to nothing.
    returns: low, typical, high [1/s]

    Straight lines between the points of ``data/feeding.csv``, on logarithms of both mass and rate.

    Source: SRAC 282 (Rakocy) stage table (from memory) and FAO Technical Paper 589 §7.3 (1 to 2 %/d above 50 g); trout:
    Gallego-Alarcón and García-Pulido 2017 (1.13 %/d at 287 to 472 g) and common practice. Row by row in the table.

    >>> from aquaplumb import fish, u
    >>> rate = fish.feeding_rate(250 * u.g, species="Nile tilapia", temperature=28 * u.degC)
    >>> print(rate)
    FeedingRate(low=1 %/d, typical=1.5 %/d, high=2 %/d)
    """
    curve, lightest, heaviest = _curve(tables.row("species", species).si.feeding_curve)
    if np.any(np.less(body_mass, lightest * (1 - 1e-9))) or np.any(np.greater(body_mass, heaviest * (1 + 1e-9))):
        check_range(body_mass, lightest, heaviest, BODY_MASS, "feeding_rate: body mass", "the feeding table")
    share = 1.0 if temperature is None else appetite.si(temperature, species=species)
    at = np.log(body_mass)
    low, typical, high = (np.exp(np.interp(at, curve[0], line)) * share for line in curve[1:])
    return FeedingRate.from_si(low=low, typical=typical, high=high)

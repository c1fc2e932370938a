"""How fish grow, by the thermal-unit growth coefficient: warmth over days. All of it is reached through `fish`."""

from __future__ import annotations

import numpy as np

from aquaplumb import tables
from aquaplumb.fish.feeding import appetite
from aquaplumb.fish.nitrification import above_zero
from aquaplumb.units import BodyMass, DesignError, Number, Record, Temperature, Time, takes_quantities

_ZERO, _DAY = 273.15, 86400.0
_FINGERLING = 0.01  # kg: from here on the species table's growing times are taken to count; assumed
_UNIT = 1e-3 * 0.1 / _DAY  # of a coefficient: g^(1/3) for 1000 degree-days, in kg^(1/3)/K/s


@tables.table_type("growth")
class Growth(tables.Row):
    """How fast one kind of fish grows: its coefficient in g^(1/3) for 1000 degree-days, as a band.

    Source: ``data/growth.csv``, row by row.
    """

    low: Number
    typical: Number
    high: Number


class GrowthCoefficient(Record):
    """A thermal-unit growth coefficient, g^(1/3) for 1000 degree-days, as a band.

    Source: `growth_coefficient`.
    """

    low: Number
    typical: Number
    high: Number


@takes_quantities
def growth_coefficient(*, species: str = "Nile tilapia") -> GrowthCoefficient:
    """How fast a kind of fish grows: the rise of the cube root of its mass, in grams, for 1000 degree-days.

    Strains and feeds differ by half and more: weigh your own, and give theirs (`measured_growth`).

    species: A name in the species table. One without a row in the growth table is reckoned from its harvest mass and growing time.
    raises: For a fish of which neither is known.

    Source: ``data/growth.csv``, row by row.

    >>> from aquaplumb import fish
    >>> print(fish.growth_coefficient(species="rainbow trout").typical)
    1.5
    """
    s = tables.row("species", species).si
    known = {row.si.name: row.si for row in tables.table("growth").values()}
    if s.name in known:
        row = known[s.name]
        return GrowthCoefficient(low=row.low, typical=row.typical, high=row.high)
    if None in (s.harvest_mass, s.growing_time_low, s.growing_time_high, s.best_low, s.best_high):
        raise DesignError(f"nobody has said how fast {s.name} grows; give a coefficient of your own, such as growth = 0.8.")
    slow, fast = (
        float(measured_growth.si(_FINGERLING, s.harvest_mass, (s.best_low + s.best_high) / 2, time))
        for time in (s.growing_time_high, s.growing_time_low)
    )
    return GrowthCoefficient(low=slow, typical=(slow + fast) / 2, high=fast)


@takes_quantities
def measured_growth(start: BodyMass, end: BodyMass, temperature: Temperature, time: Time) -> Number:
    """The thermal-unit growth coefficient of fish that were weighed twice, in g^(1/3) for 1000 degree-days.

    start, end: Mass of one fish, the mean of thirty or more.
    temperature: Of the water, the mean over that time; over 0 °C.

    1000 · (W₂^(1/3) − W₁^(1/3)) / (°C · days), masses in grams. Print also has it for 100 or for one degree-day.

    Source: Iwama and Tautz (1981), Can. J. Fish. Aquat. Sci. 38 (abstract: W^(1/3) rises with T/1000 a day); Jobling (2003),
    Aquaculture Research 34, 581.

    >>> from aquaplumb import fish
    >>> print(round(fish.measured_growth("10 g", "350 g", "11 degC", "200 d"), 2))
    2.22
    """
    degrees = np.asarray(temperature, float) - _ZERO
    above_zero(degrees, "measured_growth: temperature in °C", "15 degC")
    above_zero(time, "measured_growth: time", "60 days")
    return (np.cbrt(end) - np.cbrt(start)) / (_UNIT * degrees * time)


@takes_quantities
def grown_mass(body_mass: BodyMass, temperature: Temperature, time: Time, *, growth: Number) -> BodyMass:
    """The mass of a fish after some time in water of a temperature.

    temperature: The mean; below 0 °C nothing grows.
    growth: The thermal-unit growth coefficient (`growth_coefficient`).

    (W^(1/3) + coefficient / 1000 · °C · days)³, masses in grams. It holds between the temperatures at which a fish feeds well,
    where growth rises with warmth, and for fish whose shape stays; past the best it falls again: `growing_degrees`. CAUTION:
    over a year and from fry to harvest it may be a third off; weigh some each month.

    Source: Iwama and Tautz (1981); its limits: Jobling (2003), Aquaculture Research 34, 581.

    >>> from aquaplumb import fish
    >>> print(round(fish.grown_mass("10 g", "11 degC", "200 d", growth=2.224).to("g")))
    350 g
    """
    degrees = np.maximum(np.asarray(temperature, float) - _ZERO, 0.0)
    return (np.cbrt(body_mass) + growth * _UNIT * degrees * time) ** 3


@takes_quantities
def growing_degrees(temperature: Temperature, *, species: str = "Nile tilapia") -> Number:
    """The degrees [°C] that count for growth: all of them where the fish eats its fill, fewer the less it eats, none where it does not.

    species: A name in the species table.

    °C · `appetite`. Growth rises with warmth up to a best and falls after it (Jobling 2003); that it falls as appetite does is
    common practice, no source.

    Source: `appetite`; Jobling (2003), Aquaculture Research 34, 581.

    >>> from aquaplumb import fish
    >>> fish.growing_degrees("28 degC"), fish.growing_degrees("22 degC"), fish.growing_degrees("15 degC")
    (28.0, 11.0, 0.0)
    """
    degrees = np.maximum(np.asarray(temperature, float) - _ZERO, 0.0) * appetite.si(temperature, species=species)
    return float(degrees) if np.ndim(degrees) == 0 else degrees

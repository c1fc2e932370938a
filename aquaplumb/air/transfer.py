"""Oxygen from air into water: at the maker's standard conditions and at yours, over a fall, and through the surface.

All of it is reached through `air`. A *standard* transfer is what an aerator brings in clean water at 20 °C without
any oxygen in it. In a fish tank it brings a third of that or so.
"""

from __future__ import annotations

from aquaplumb import water
from aquaplumb.units import (
    LENGTH,
    NUMBER,
    TEMPERATURE,
    Area,
    Concentration,
    DepthRate,
    DesignError,
    Length,
    MassRate,
    Number,
    Salinity,
    Temperature,
    Turnover,
    Volume,
    check_range,
    not_above,
    takes_quantities,
)
from aquaplumb.water.chemistry import ZERO_CELSIUS

SATURATION_20 = float(water.oxygen_saturation.si(293.15))  # kg/m³: fresh water, 20 °C, sea level, 9.09 mg/L
THETA = 1.024  # the transfer's rise for a degree, ASCE 2-06
STILL_FILM = 0.5 / 86400  # m/s: through a still surface, see `surface_transfer`
OXYGEN_SHARE = 0.20946  # of dry air, by volume
_OXYGEN, _GAS = 31.9988e-3, 8.314462618  # kg/mol, J/mol/K


@takes_quantities
def oxygen_in_air(temperature: Temperature = 293.15, *, altitude: Length = 0.0) -> Concentration:
    """The oxygen in a volume of air. A litre of air on a mountain holds less of it.

    temperature: Of the air where its flow is measured, −20 to 50 °C; 20 °C when left out.
    returns: Of dry air; damp air has 1 to 3 % less.

    0.20946 · 0.0319988 p/(R T), p the standard atmosphere's. 1 L/min of air carries 16.7 g of oxygen an hour.

    Source: Ideal gas; ICAO standard atmosphere (`water.atmospheric_pressure`); oxygen in dry air 20.946 %, US Standard
    Atmosphere 1976.

    >>> from aquaplumb import air, u
    >>> print(round(air.oxygen_in_air(20 * u.degC).to("g/L"), 3))
    0.279 g/L
    """
    check_range(temperature, 253.15, 323.15, TEMPERATURE, "oxygen_in_air: temperature", "the air's range")
    return OXYGEN_SHARE * _OXYGEN * water.atmospheric_pressure.si(altitude) / (_GAS * temperature)


def _field(alpha, beta, where: str) -> None:
    check_range(alpha, 0.0, 1.5, NUMBER, f"{where}: alpha", "the ratio of transfer in tank water to that in clean water")
    check_range(beta, 0.5, 1.1, NUMBER, f"{where}: beta", "the ratio of saturation in tank water to that in clean water")


@takes_quantities
def field_factor(
    oxygen: Concentration,
    *,
    temperature: Temperature = 293.15,
    altitude: Length = 0.0,
    salinity: Salinity = 0.0,
    alpha: Number = 0.8,
    beta: Number = 0.95,
) -> Number:
    """The share of its standard transfer that an aerator brings in your water.

    The fuller the water is already, the less goes in. Above saturation the factor is negative: air then takes oxygen
    *out*.

    oxygen: In the tank's water.
    temperature: Of the water, 0 to 40 °C; 20 °C when left out.
    salinity: Grams of salt in a kilogram of water.
    alpha: Transfer in tank water over that in clean water: 0.8 with feed and fish slime in it, 0.9 and more when clean.
    beta: Saturation in tank water over that in clean water: 0.95 to 0.99.

    F = α (β Cs − C)/Cs,20 · 1.024^(t − 20), Cs at your temperature, height and salt, Cs,20 = 9.09 mg/L. That water
    at depth can hold a little more (2 to 5 % at 1 m) is left out, on the safe side.

    Source: ASCE/EWRI 2-06, Measurement of oxygen transfer in clean water; Boyd and Ahmad (1987), both from memory. α and β:
    common practice, no source.

    >>> from aquaplumb import air, u
    >>> print(round(air.field_factor(5 * u.mg / u.L, temperature=25 * u.degC), 3))
    0.282
    """
    _field(alpha, beta, "field_factor")
    saturation = water.oxygen_saturation.si(temperature, salinity=salinity, altitude=altitude)
    return alpha * (beta * saturation - oxygen) / SATURATION_20 * THETA ** (temperature - ZERO_CELSIUS - 20.0)


@takes_quantities
def transfer_coefficient(
    standard_transfer: MassRate, volume: Volume, *, temperature: Temperature = 293.15, alpha: Number = 1.0
) -> Turnover:
    """How fast an aerator fills a tank with oxygen: the part of what is missing that it brings in a time (KLa).

    volume: Of the tank's water.
    temperature: 20 °C when left out.
    alpha: As in `field_factor`; 1, clean water, when left out.

    KLa = α SOTR/(V Cs,20) · 1.024^(t − 20); the transfer is then KLa V (β Cs − C).

    Source: ASCE/EWRI 2-06, definition of SOTR, from memory.

    >>> from aquaplumb import air, u
    >>> print(round(air.transfer_coefficient(20 * u.g / u.h, 1000 * u.L).to("1/h"), 1))
    2.2 1/h
    """
    if not_above(volume, 0):
        raise DesignError("transfer_coefficient: volume is 0 or less; the tank holds some water, such as 1000 L.")
    check_range(temperature, ZERO_CELSIUS, 313.15, TEMPERATURE, "transfer_coefficient: temperature", "liquid water here")
    _field(alpha, 1.0, "transfer_coefficient")
    return alpha * standard_transfer / (volume * SATURATION_20) * THETA ** (temperature - ZERO_CELSIUS - 20.0)


@takes_quantities
def deficit_ratio(height: Length, *, temperature: Temperature = 293.15, cleanness: Number = 1.0, shape: Number = 0.8) -> Number:
    """How many times smaller the water's lack of oxygen is after a fall.

    height: From the upper water to the lower, 0 to 3 m.
    temperature: 0 to 35 °C; 20 °C when left out.
    cleanness: 1.8 clean water, 1.6 slightly dirty, 1.0 moderately dirty (fish tanks), 0.65 foul.
    shape: 0.8 for a sheet that falls free off an edge, 1.05 down a slope, 0.05 for an end under water.
    returns: 1 or more; 1 where nothing falls.

    r = 1 + 0.38 a b h (1 − 0.11 h)(1 + 0.046 t), h in m, t in °C; r = (Cs − C above)/(Cs − C below). Fitted on river
    weirs with much more water than a garden pipe; a spray or a thin sheet does better, a solid jet worse.

    Source: Gameson (1957), Water Research Laboratory (1973); as printed with its a and b after Butts and Evans (1983) in the
    theory manual of a river basin model, eq. 7:3.5.12.

    >>> from aquaplumb import air, u
    >>> print(round(air.deficit_ratio(0.5 * u.m, temperature=25 * u.degC, cleanness=1.25, shape=1), 3))
    1.483
    """
    check_range(height, 0.0, 3.0, LENGTH, "deficit_ratio: height", "the formula for falls")
    check_range(temperature, ZERO_CELSIUS, 308.15, TEMPERATURE, "deficit_ratio: temperature", "the formula for falls")
    check_range(cleanness, 0.0, 1.8, NUMBER, "deficit_ratio: cleanness", "the formula for falls")
    check_range(shape, 0.0, 1.5, NUMBER, "deficit_ratio: shape", "the formula for falls")
    return 1 + 0.38 * cleanness * shape * height * (1 - 0.11 * height) * (1 + 0.046 * (temperature - ZERO_CELSIUS))


@takes_quantities
def oxygen_after_fall(
    oxygen: Concentration,
    height: Length,
    *,
    temperature: Temperature = 293.15,
    altitude: Length = 0.0,
    salinity: Salinity = 0.0,
    cleanness: Number = 1.0,
    shape: Number = 0.8,
) -> Concentration:
    """The oxygen in water after it has fallen. No fall fills it quite; water above saturation loses some.

    oxygen: Before the fall.
    height: 0 to 3 m.
    temperature: 0 to 35 °C; 20 °C when left out.
    shape: These two as in `deficit_ratio`.

    C below = Cs − (Cs − C above)/r.

    Source: `deficit_ratio` (Gameson 1957).

    >>> from aquaplumb import air, u
    >>> print(round(air.oxygen_after_fall(5 * u.mg / u.L, 0.5 * u.m, temperature=25 * u.degC).to("mg/L"), 2))
    5.77 mg/L
    """
    saturation = water.oxygen_saturation.si(temperature, salinity=salinity, altitude=altitude)
    ratio = deficit_ratio.si(height, temperature=temperature, cleanness=cleanness, shape=shape)
    return saturation - (saturation - oxygen) / ratio


@takes_quantities
def surface_transfer(
    area: Area,
    oxygen: Concentration,
    *,
    temperature: Temperature = 293.15,
    altitude: Length = 0.0,
    salinity: Salinity = 0.0,
    film: DepthRate = STILL_FILM,
) -> MassRate:
    """The oxygen that comes in through the tank's surface when nothing stirs it: very little.

    area: Open to the air.
    oxygen: In the tank's water.
    film: The depth of water whose lack is made good in a day: 350 to 740 mm; 500 when left out. Fish that swim and
        water that circles bring more.

    film · A (Cs − C). Measured for a gas of Schmidt number 600; oxygen at 20 °C has about 530, 6 % more, left out.

    Source: Cole, Bade, Bastviken, Pace and Van de Bogert (2010), Limnol. Oceanogr. Methods 8, 285-293: 0.35 to 0.74 m/d on
    small lakes with little wind (abstract).

    >>> from aquaplumb import air, u
    >>> print(round(air.surface_transfer(1.1 * u.m**2, 5 * u.mg / u.L, temperature=25 * u.degC).to("g/h"), 3))
    0.075 g/h
    """
    saturation = water.oxygen_saturation.si(temperature, salinity=salinity, altitude=altitude)
    return film * area * (saturation - oxygen)

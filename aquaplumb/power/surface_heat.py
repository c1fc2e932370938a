"""What a water surface loses to the air: evaporation, convection, radiation, and what a lid does about it.

`temperature` is always the water's, `air` the air's. All of it is reached through `heat`.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import water
from aquaplumb.fish.nitrification import not_below_zero
from aquaplumb.units import (
    HEAT_TRANSFER,
    NUMBER,
    SPEED,
    TEMPERATURE,
    Area,
    HeatTransfer,
    MassRate,
    Number,
    Power,
    Pressure,
    Record,
    Speed,
    Temperature,
    check_range,
    takes_quantities,
)

__all__ = ["SurfaceLoss", "evaporation", "surface_loss", "vapour_in_air"]

_STILL, _WINDY = 0.089, 0.0782  # W/m²/Pa, and for each m/s: the pool formula, see `evaporation`
_BOWEN = 0.46 * water.ATMOSPHERE / 760  # Pa/K: Bowen's 0.46 mmHg/K
_EMISSIVITY, _STEFAN = 0.95, 5.670374419e-8  # of water; W/m²/K⁴ (CODATA)


class SurfaceLoss(Record):
    """What a water surface loses to the air, way by way; below zero where the air warms the water.

    Source: `surface_loss`.
    """

    evaporation: Power
    convection: Power
    radiation: Power
    lid: Power
    total: Power


def _weather(temperature, air, humidity, wind, where: str) -> None:
    check_range(temperature, 273.15, 313.15, TEMPERATURE, f"{where}: temperature", "this heat sum")
    check_range(air, 243.15, 313.15, TEMPERATURE, f"{where}: air", "this heat sum")
    check_range(humidity, 0.0, 1.0, NUMBER, f"{where}: humidity (55 % is 0.55)", "a share")
    check_range(wind, 0.0, 5.0, SPEED, f"{where}: wind", "the evaporation formula")


def _latent(temperature):
    """J/kg to turn water into vapour; a straight line, within 0.02 % of IAPWS-97 from 0 to 40 °C."""
    return 2.5009e6 - 2365.5 * (temperature - 273.15)


@takes_quantities
def vapour_in_air(air: Temperature, humidity: Number) -> Pressure:
    """The pressure of the water vapour in the air: what holds evaporation back.

    air: −30 to 40 °C.
    humidity: Relative, as a share: 0.55 or "55 %".

    Humidity times `water.vapour_pressure`; below freezing humidity is told over liquid water, and the pressure is
    611 Pa · exp(17.62 t/(243.12 + t)), t in °C.

    Source: Definition of relative humidity; below freezing the Magnus form of WMO-No. 8 (from memory).

    >>> from aquaplumb.power import heat
    >>> from aquaplumb import u
    >>> print(round(heat.vapour_in_air(20 * u.degC, 0.5).to("kPa"), 2))
    1.17 kPa
    """
    _weather(293.15, air, humidity, 0.0, "vapour_in_air")
    t = np.minimum(air, 273.15) - 273.15
    return humidity * water.vapour_pressure.si(np.maximum(air, 273.15)) * np.exp(17.62 * t / (243.12 + t))


@takes_quantities
def evaporation(
    area: Area,
    temperature: Temperature,
    *,
    air: Temperature,
    humidity: Number,
    wind: Speed = 0.0,
    stirring: Number = 1.0,
    covered: Number = 0.0,
) -> MassRate:
    """The water that an open surface gives to the air; below zero it is dew, which falls on colder water.

    area: Of the water's surface.
    temperature: Of the water, 0 to 40 °C.
    air: −30 to 40 °C.
    humidity: Relative, as a share: 0.55 or "55 %".
    wind: Over the water itself, 0 to 5 m/s; indoors nearly none.
    stirring: 1 for water that air stones and falling water keep moving (common practice), 0.74 for a quiet surface.
    covered: The share of the surface under a lid or film that lets no vapour out.

    W = A (pw − pa)(0.089 + 0.0782 v)/Y, pressures in Pa, v in m/s, Y the latent heat in J/kg. Print disagrees: quiet
    pools were measured at 72 to 84 % of it, and a formula for lakes (Ryan and Harleman) gives about half. A
    heater sized by it has that in hand. What plants drink and leaks are not in it.

    Source: ASHRAE Handbook, HVAC Applications, natatoriums (Carrier 1918). 0.74: Smith, Löf and Jones, ASHRAE Transactions 104 (1998).
    72 to 84 %: Jones, Smith and Löf, an outdoor pool in Fort Collins.

    >>> from aquaplumb.power import heat
    >>> from aquaplumb import u
    >>> made = heat.evaporation(1 * u.m**2, 26 * u.degC, air=20 * u.degC, humidity=0.5)
    >>> print(round(made.to("kg/d"), 1))
    6.9 kg/d
    """
    return _evaporative(area, temperature, air, humidity, wind, stirring, covered, "evaporation") / _latent(temperature)


def _evaporative(area, temperature, air, humidity, wind, stirring, covered, where: str):
    """W that evaporation takes."""
    _weather(temperature, air, humidity, wind, where)
    check_range(stirring, 0.3, 2.0, NUMBER, f"{where}: stirring", "the evaporation formula")
    check_range(covered, 0.0, 1.0, NUMBER, f"{where}: covered", "a share")
    thirst = water.vapour_pressure.si(temperature) - vapour_in_air.si(air, humidity)
    return area * (1 - covered) * stirring * (_STILL + _WINDY * wind) * thirst


@takes_quantities
def surface_loss(
    area: Area,
    temperature: Temperature,
    *,
    air: Temperature,
    humidity: Number,
    wind: Speed = 0.0,
    stirring: Number = 1.0,
    covered: Number = 0.0,
    lid_transfer: HeatTransfer = 4.0,
    surroundings: Temperature | None = None,
) -> SurfaceLoss:
    """The heat that a water surface loses: by evaporation, to the air, by radiation, and through a lid.

    temperature: Of the water, 0 to 40 °C.
    air: −30 to 40 °C.
    humidity: Relative, as a share.
    wind: Over the water itself, 0 to 5 m/s.
    stirring: As in `evaporation`.
    covered: The share under a lid: it loses by `lid_transfer` alone.
    lid_transfer: 4 for a single sheet over an air gap (common practice); with foam on it see `heat.wall_transfer`.
    surroundings: What the water sees: the air's temperature when left out. Under a clear night sky about 20 K less than
        that.
    returns: evaporation, convection, radiation, lid, total [W]

    Convection is A (0.089 + 0.0782 v) 61.3 (Tw − Ta): Bowen's ratio times the heat of evaporation. Radiation is
    A 0.95 σ (Tw⁴ − Ts⁴). Where the water is colder than the air it lies still under its own cold, and the true
    warming is less than this. On a mountain more evaporates and less goes by convection.

    Source: `evaporation` (ASHRAE); Bowen (1926), Phys. Rev. 27, 779-787: R = 0.46 ΔT/Δp (mmHg). Emissivity and night sky:
    a web page on solar pools (briangwilliams.us), after ISO/TR 12596.

    >>> from aquaplumb.power import heat
    >>> from aquaplumb import u
    >>> open_tank = heat.surface_loss(1.5 * u.m**2, 26 * u.degC, air=16 * u.degC, humidity=0.6)
    >>> print(round(open_tank.total.to("W"), -1))
    470 W
    >>> lidded = heat.surface_loss(1.5 * u.m**2, 26 * u.degC, air=16 * u.degC, humidity=0.6, covered=0.9)
    >>> print(round(lidded.total.to("W"), -1))
    100 W
    """
    evaporated = _evaporative(area, temperature, air, humidity, wind, stirring, covered, "surface_loss")
    not_below_zero(lid_transfer, "surface_loss: lid transfer", HEAT_TRANSFER.example)
    seen = air if surroundings is None else surroundings
    check_range(seen, 203.15, 333.15, TEMPERATURE, "surface_loss: surroundings", "this heat sum")
    open_area = area * (1 - covered)
    convected = open_area * stirring * (_STILL + _WINDY * wind) * _BOWEN * (temperature - air)
    radiated = open_area * _EMISSIVITY * _STEFAN * (temperature**4 - seen**4)
    lid = area * covered * lid_transfer * (temperature - air)
    return SurfaceLoss.from_si(
        evaporation=evaporated, convection=convected, radiation=radiated, lid=lid, total=evaporated + convected + radiated + lid
    )

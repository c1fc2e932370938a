"""Warm water in colder air: what it loses by its surface and walls, the heater that holds it, how fast it cools.

Open water loses most of its heat by evaporation: a lid is worth more than a thicker wall. `temperature` is always the
water's, `air` the air's. Nothing here knows of sunshine: a tank in the sun gets more heat than it loses by day.

A heater in water is mains near water: behind a residual-current device (RCD, 30 mA; in North America a class A GFCI, 5 mA), with a thermostat of its own and one
above it that cuts it off, and never dry. Two small ones are safer than a big one: a thermostat that sticks then cooks
no fish. Follow the maker and the local rules, and have a licensed electrician wire it.
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.fish.nitrification import not_below_zero
from aquaplumb.power.surface_heat import SurfaceLoss, evaporation, surface_loss, vapour_in_air
from aquaplumb.tables import unknown
from aquaplumb.units import (
    HEAT_TRANSFER,
    LENGTH,
    NUMBER,
    Area,
    DesignError,
    HeatTransfer,
    Length,
    Number,
    Power,
    Temperature,
    Time,
    Volume,
    check_range,
    endless,
    not_above,
    takes_quantities,
)

__all__ = [
    "MATERIALS", "SurfaceLoss", "cooled_temperature", "cooling_time", "evaporation", 
    "heater_size", "surface_loss", "vapour_in_air", "wall_loss", "wall_transfer", 
]  # fmt: skip

MATERIALS = {"extruded polystyrene": 0.034, "expanded polystyrene": 0.038, "mineral wool": 0.040, "wood": 0.13}  # W/m/K
SKIN = 0.13  # m²K/W: the still air on the outside of a wall; ISO 6946 (from memory). Water on the inside adds nothing to speak of.
SPECIFIC_HEAT = 4186.0  # J/kg/K, 0.2 % either way from 5 to 40 °C (IAPWS)


@takes_quantities
def wall_transfer(thickness: Length, *, material: str = "extruded polystyrene") -> HeatTransfer:
    """The heat that a square metre of wall lets through for each degree (its U-value), by its insulation.

    thickness: Of the insulation; 0 for a bare tank.
    material: "extruded polystyrene", "expanded polystyrene", "mineral wool" or "wood". Keep it dry: wet wool or wet
        foam insulates little, and only closed foam stays dry in the ground.

    U = 1/(0.13 + d/k); the tank's own thin wall and the water's side are left out. Outdoors in wind 0.04 stands for
    0.13, which makes a bare wall three times worse and an insulated one hardly.

    Source: ISO 6946 (0.13 and 0.04 m²K/W); conductivities as makers declare them, wood ISO 10456 (all from memory).

    >>> from aquaplumb.power import heat
    >>> from aquaplumb import u
    >>> print(round(heat.wall_transfer(50 * u.mm), 2))
    0.62 W/K/m²
    """
    if material not in MATERIALS:
        raise DesignError(unknown("list of insulation", material, MATERIALS))
    check_range(thickness, 0.0, 1.0, LENGTH, "wall_transfer: thickness", "this sum")
    return 1 / (SKIN + thickness / MATERIALS[material])


@takes_quantities
def wall_loss(area: Area, temperature: Temperature, *, outside: Temperature, transfer: HeatTransfer) -> Power:
    """The heat that goes through walls and floor; below zero where the outside is warmer.

    area: Wetted wall and floor.
    temperature: Of the water.
    outside: Of the air, or of the ground around a sunken sump.
    transfer: `wall_transfer`: about 8 for a bare wall, 0.6 with 5 cm of foam.

    Source: Definition of a U-value, ISO 6946.

    >>> from aquaplumb.power import heat
    >>> from aquaplumb import u
    >>> print(heat.wall_loss(5.6 * u.m**2, 25 * u.degC, outside=10 * u.degC, transfer="8 W/m2/K").to("W"))
    672 W
    """
    not_below_zero(transfer, "wall_loss: transfer", HEAT_TRANSFER.example)
    return area * transfer * (temperature - outside)


@takes_quantities
def heater_size(loss: Power, *, margin: Number = 1.2) -> Power:
    """The heater that holds the water on its coldest day.

    Buy it as two, each with its own thermostat. A heater that is much too big cooks the fish when its thermostat sticks.
    Warm up slowly: fish bear about 1 K in an hour and 3 K in a day (common practice, no source).

    loss: Surface and walls, at the coldest air and with the lid as you leave it at night.
    margin: 1.2 or more (common practice).
    returns: 0 where nothing is lost.

    Source: Heat balance; the margin and the two heaters are common practice, no source.

    >>> from aquaplumb.power import heat
    >>> from aquaplumb import u
    >>> print(heat.heater_size(500 * u.W))
    600 W
    """
    check_range(margin, 1.0, 5.0, NUMBER, "heater_size: margin", "a margin")
    return np.maximum(loss, 0.0) * margin


def _capacity(volume):
    """J/K of a volume of water, at 1,000 kg/m³."""
    return 1000.0 * SPECIFIC_HEAT * volume


@takes_quantities
def cooled_temperature(volume: Volume, temperature: Temperature, *, air: Temperature, loss: Power, time: Time) -> Temperature:
    """How warm the water still is some time after its heater has stopped.

    temperature: Of the water at the start.
    loss: At the start, surface and walls together, as the tank stands then: lid on, pump off.

    T = Ta + (T0 − Ta) exp(−t/τ), τ = ρ c V (T0 − Ta)/loss: the loss shrinks with the difference. Water that
    evaporates ends a few kelvin below the air in dry air; this ends at the air.

    Source: Newton's law of cooling, closed form.

    >>> from aquaplumb.power import heat
    >>> from aquaplumb import u
    >>> left = heat.cooled_temperature(1000 * u.L, 25 * u.degC, air=5 * u.degC, loss=400 * u.W, time="12 h")
    >>> print(round(left.to("degC"), 1))
    21.3 °C
    """
    return air + (temperature - air) * np.exp(-time * _pace(volume, temperature, air, loss, "cooled_temperature"))


@takes_quantities
@endless
def cooling_time(volume: Volume, temperature: Temperature, *, lowest: Temperature, air: Temperature, loss: Power) -> Time:
    """How long the water stays above a temperature after its heater has stopped.

    Without power fish run out of oxygen long before they run out of warmth: bring air first.

    temperature: Of the water at the start.
    lowest: What it shall not fall below.
    loss: At the start, as in `cooled_temperature`.
    returns: 0 where it is that cold already; without end (inf) where the air is no colder than that.

    t = τ ln((T0 − Ta)/(T1 − Ta)), τ as in `cooled_temperature`.

    Source: Newton's law of cooling, closed form.

    >>> from aquaplumb.power import heat
    >>> from aquaplumb import u
    >>> held = heat.cooling_time(1000 * u.L, 25 * u.degC, lowest=20 * u.degC, air=5 * u.degC, loss=400 * u.W)
    >>> print(round(held.to("hour"), 1))
    16.7 h
    """
    pace = np.asarray(_pace(volume, temperature, air, loss, "cooling_time"), float)
    start, end = np.broadcast_arrays(np.asarray(temperature - air, float), np.asarray(lowest - air, float))
    falls = (start > end) & (end > 0)
    ratio = np.divide(start, end, out=np.ones(start.shape), where=falls)
    shape = np.broadcast(ratio, pace).shape
    time = np.divide(np.log(ratio), pace, out=np.full(shape, math.inf), where=np.broadcast_to(falls & (pace > 0), shape))
    time = np.where(start <= end, 0.0, time)
    return float(time) if time.ndim == 0 else time


def _pace(volume, temperature, air, loss, where: str):
    """1/τ: the share of the difference that goes in a second."""
    if not_above(volume, 0):
        raise DesignError(f"{where}: volume is 0 or less; give the water that cools, such as 1000 L.")
    gap = np.asarray(temperature - air, float)
    if np.any(np.asarray(loss) * gap < 0) or np.any((gap == 0) & (np.asarray(loss) != 0)):
        raise DesignError(
            f"{where}: the water is no warmer than the air and yet loses heat (or the other way round). That is evaporation or dew, "
            "which this sum leaves out; a heater is not what is missing."
        )
    return np.divide(loss, _capacity(volume) * gap, out=np.zeros(np.broadcast(gap, loss, volume).shape), where=gap != 0)

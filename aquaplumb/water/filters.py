"""What filters do: how fast water rises in them, what sinks there, how much of their media works, what air drives out.

Each limit of print is a named number beside its source; `aquaplumb.system.filtering` holds a build against them.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.fish.living import LivingSurface
from aquaplumb.fish.nitrification import above_zero
from aquaplumb.units import (
    GRAVITY,
    Area,
    Bore,
    BulkDensity,
    Flow,
    Length,
    Number,
    Speed,
    Temperature,
    Time,
    Volume,
    takes_quantities,
)
from aquaplumb.water import kinematic_viscosity

_HOUR = 3600.0
# m/s over the plan area up to which it does its work. Settling: a US gallon a minute on a square foot, 2.4 m/h, SRAC 453 (from memory).
# Swirl and radial flow: 0.0031 m/s, 11.2 m/h, at which Davidson and Summerfelt 2005 measured 37 and 78 % of solids taken out (read).
RISE_LIMIT = {"settling": 2.44 / _HOUR, "swirl": 0.0031, "radial flow": 0.0031}
CATCHES = {"swirl": 0.371, "radial flow": 0.779}  # of the solids, at that rise (Davidson and Summerfelt 2005, read)
LEAST_STAY = 15 * 60.0  # s in a settling tank: SRAC 453 has 15 to 30 min (from memory), the UVI clarifiers 20 to 30 min (Rakocy)
FACE_LIMIT = 0.10 / 60  # m/s through a mat, brushes or a fine screen: 10 cm a minute, common practice, no source
GRAIN = 1100.0  # kg/m³ of fish dirt: print has 1,050 to 1,190 (Chen et al. 1993; Timmons and Ebeling, from memory)
MOST_FILL, LEAST_FILL = 0.70, 0.20  # of a moving bed's water: 67 to 70 % at most, Rusten et al. 2006 (from memory); least: common practice
LEAST_AIR = 3.0 / _HOUR  # 1/s: volumes of air an hour for one of a moving bed's water, so that all of it turns; common practice, no source
LEAST_WETTING, MOST_WETTING = 100 / 86400, 250 / 86400  # m/s: 100 to 250 m³/m²/d on a trickling filter, Timmons and Ebeling (from memory)
LEAST_FALL = 0.5  # m of trickling media: print has 1 to 5 m (Timmons and Ebeling, from memory), small ones have less: common practice
IN_AIR = 0.6e-3  # kg/m³ of carbon dioxide that water keeps in plain air at 20 °C: 0.04 % of it, Henry's law
AIR_TO_WATER = 5.0  # volumes of air to one of water in a degasser: 5 to 10, Timmons and Ebeling; Summerfelt et al. 2000 (from memory)
OWN_AIR = 1.0  # … that water draws along as it falls through an open one with no blower; common practice, no source
_STRIPPED = 0.6  # of the carbon dioxide over the air's, in a metre of packing with that much air: as before, from memory
_WETTED = {"low": 0.5, "typical": 0.75, "high": 1.0}  # of trickling media that are well wetted; common practice, no source
_MOVING = {
    "low": 1.0,
    "typical": 1.0,
    "high": 2.25,
}  # 605 g/m³/d at 500 m²/m³ and 27 °C, Timmons and Ebeling (from memory), over SRAC 282's typical


@takes_quantities
def rise(flow: Flow, area: Area) -> Speed:
    """How fast water rises over the plan area of a vessel, its overflow rate: what sinks slower goes on with it.

    v = Q/A.

    Source: Hazen 1904; definition.

    >>> from aquaplumb.water import filters
    >>> print(round(filters.rise("2000 L/h", "0.179 m2").to("m/h"), 1))
    11.2 m/h
    """
    above_zero(area, "rise: area", "0.3 m2")
    return flow / area


@takes_quantities
def settled_size(rise: Speed, temperature: Temperature = 293.15, *, density: BulkDensity = GRAIN) -> Bore:
    """The smallest grain that sinks as fast as the water rises.

    density: Of the grain; fish dirt has 1,050 to 1,190 kg/m³.

    Stokes for small grains, w = R g d²/(18 ν), and less in faster water: w = R g d²/(18 ν + √(0.3 R g d³)), R = ρ/1000 − 1, solved for d.

    Source: Ferguson and Church 2004, spheres (C1 = 18, C2 = 0.4).

    >>> from aquaplumb.water import filters
    >>> print(round(filters.settled_size("2.44 m/h").to("mm"), 2))
    0.11 mm
    """
    heavier = (density / 1000.0 - 1.0) * GRAVITY
    thick = 18.0 * kinematic_viscosity.si(temperature)
    size = np.sqrt(np.asarray(rise) * thick / heavier)
    for _ in range(40):  # each step of this fixed point halves the error
        size = np.sqrt(np.asarray(rise) * (thick + np.sqrt(0.3 * heavier * size**3)) / heavier)
    return float(size) if np.ndim(size) == 0 else size


@takes_quantities
def stay(volume: Volume, flow: Flow) -> Time:
    """How long water stays in a vessel.

    Source: Definition.

    >>> from aquaplumb.water import filters
    >>> print(filters.stay("500 L", "1000 L/h").to("min"))
    30 min
    """
    return np.divide(volume, flow, out=np.full(np.broadcast(volume, flow).shape, np.inf), where=np.asarray(flow) > 0)[()]


@takes_quantities
def wetted_surface(surface: LivingSurface, wetting: Speed) -> LivingSurface:
    """The part of a trickling filter's media that works at a wetting.

    wetting: Flow over the plan area of the media. Below the least of print the wet part falls with it.

    Source: Timmons and Ebeling (100 to 250 m³/m²/d, from memory); the wetted part: common practice, no source.

    >>> from aquaplumb.fish import living
    >>> from aquaplumb.water import filters
    >>> print(filters.wetted_surface(living.media_surface("100 L", "200 m2/m3"), "5 m/h").typical)
    15 m²
    """
    part = min(1.0, wetting / LEAST_WETTING)
    return LivingSurface.from_si(**{band: getattr(surface.si, band) * _WETTED[band] * part for band in _WETTED})


@takes_quantities
def moving_surface(surface: LivingSurface) -> LivingSurface:
    """What the surface of moving carriers is worth in still media: as much, and at the best twice and a quarter.

    Source: Timmons and Ebeling: 605 g of ammonia N a day in a cubic metre of carriers of 500 m²/m³ at 25 to 30 °C (from memory), against
    SRAC 282's typical rate.

    >>> from aquaplumb.fish import living
    >>> from aquaplumb.water import filters
    >>> print(filters.moving_surface(living.media_surface("100 L", "400 m2/m3")).high)
    90 m²
    """
    return LivingSurface.from_si(**{band: getattr(surface.si, band) * _MOVING[band] for band in _MOVING})


@takes_quantities
def stripped(depth: Length, air_to_water: Number = AIR_TO_WATER) -> Number:
    """The part of the carbon dioxide (over what air keeps in water) that falls out of water in a degasser.

    depth: Of the packing, or of the fall.
    air_to_water: Volumes of air to one of water; with less than five it drives out less, with more no more.

    1 − 0.4^(depth/1 m), times the air's part.

    Source: 0.6 a metre at five volumes of air: Timmons and Ebeling; Summerfelt et al. 2000 (both from memory).

    >>> from aquaplumb.water import filters
    >>> print(round(filters.stripped("1 m"), 2))
    0.6
    """
    return (1 - np.power(1 - _STRIPPED, depth)) * np.minimum(1.0, air_to_water / AIR_TO_WATER)

"""Sunshine on a panel by latitude, tilt and month, and the panel that the worst month asks for.

Part of `aquaplumb.power`, which is the face of all this.

What is computed is a cloudless sky; clouds come as a share of it that you give, or as your own twelve values. The day
runs in solar time (noon when the sun is highest), so that no longitude is needed. Hills, trees and walls are left out:
one shaded corner can stop a whole panel.

CAUTION: a panel in daylight cannot be switched off. A few in a row reach a voltage that kills; roofs and strings of
panels are for licensed trades, and your local code comes first.
"""

from __future__ import annotations

import functools
from typing import ClassVar

import numpy as np

from aquaplumb.units import (
    ANGLE,
    INSOLATION,
    LENGTH,
    MONTH_DAYS,
    MONTHS,
    NUMBER,
    Angle,
    DesignError,
    Insolation,
    Length,
    Number,
    Record,
    check_range,
    takes_quantities,
)

DAYS = np.array(MONTH_DAYS)
MONTH_OF_DAY = np.repeat(np.arange(12), DAYS)
TURBIDITY = 3.0  # Linke's: clean to middling air; 2 in mountains, 5 over a smoky town (from memory)
GROUND = 0.25  # what the ground throws back, pvlib's own value for grass and soil
SKY = {"low": 0.4, "typical": 0.6, "high": 0.8}
STEPS = 6  # in an hour
NO_SUN = 1.0  # W/m², the mean of a day and night: less is twilight that no panel lives on


@functools.lru_cache(maxsize=64)
def clear_hours(latitude: float, tilt: float, turbidity: float = TURBIDITY, altitude: float = 0.0) -> np.ndarray:
    """Sunshine on a panel under a cloudless sky, hour by hour through a year: bare SI.

    Parameters
    ----------
    latitude : float [rad]
    tilt : float [rad]
        Towards the equator; on the equator itself, towards the south.
    turbidity : float
    altitude : float [m]

    Returns
    -------
    array of 365 days by 24 hours [W/m²]

    Notes
    -----
    The bending of light by the air is left out: a low sun at 64° comes out 2 % short, nearer the equator nothing.

    Source
    ------
    Ineichen and Perez (2002) for the sky, as in pvlib; Spencer (1971) for the sun's declination; Kasten and Young (1989)
    for the air on the way; an even sky for the light that clouds and air scatter.
    """
    from pvlib import atmosphere, clearsky, irradiance, solarposition

    day = np.arange(1, 366)[:, None]
    angle = np.radians(15 * ((np.arange(24 * STEPS) + 0.5) / STEPS - 12))
    declination = solarposition.declination_spencer71(day)
    up, across = np.sin(declination), np.cos(declination) * np.cos(angle)
    zenith = np.degrees(np.arccos(np.clip(up * np.sin(latitude) + across * np.cos(latitude), -1, 1)))
    leaning = latitude + (tilt if latitude < 0 else -tilt)  # the panel lies as level ground does at this latitude
    facing = np.maximum(up * np.sin(leaning) + across * np.cos(leaning), 0)
    air = atmosphere.get_relative_airmass(zenith, model="kastenyoung1989")  # not a number at night: pvlib makes it 0
    air = atmosphere.get_absolute_airmass(air, atmosphere.alt2pres(altitude))
    beyond = np.broadcast_to(irradiance.get_extra_radiation(day.ravel())[:, None], zenith.shape)
    with np.errstate(divide="ignore", invalid="ignore"):
        sky = clearsky.ineichen(zenith, air, turbidity, altitude=altitude, dni_extra=beyond)
    direct = np.where(zenith < 90, np.nan_to_num(sky["dni"]) * facing, 0)
    scattered = sky["dhi"] * (1 + np.cos(tilt)) / 2 + sky["ghi"] * GROUND * (1 - np.cos(tilt)) / 2
    total = np.maximum(direct + np.nan_to_num(scattered), 0).reshape(365, 24, STEPS).mean(-1)
    total.flags.writeable = False  # it is kept for the next call
    return total


def _hours(latitude, tilt, turbidity, altitude) -> np.ndarray:
    for name, value in (("latitude", latitude), ("tilt", tilt), ("turbidity", turbidity), ("altitude", altitude)):
        if np.ndim(value):
            raise DesignError(f"the {name} is a list; give one value, and call it for each.")
    check_range(latitude, -np.pi / 2, np.pi / 2, ANGLE, "the latitude", "a place on the earth (south is below zero)")
    tilt = abs(latitude) if tilt is None else tilt
    check_range(tilt, 0, np.pi / 2, ANGLE, "the tilt", "a panel from flat to upright")
    check_range(turbidity, 1, 10, NUMBER, "the turbidity of the air", "the clear sky")
    check_range(altitude, -400, 5000, LENGTH, "the altitude", "the clear sky")
    # rounded, so that a sliding ruler finds again what it has worked out
    return clear_hours(round(float(latitude), 6), round(float(tilt), 6), round(float(turbidity), 3), round(float(altitude), 0))


def monthly(days: np.ndarray) -> np.ndarray:
    """The mean of each month from 365 daily values, along the last axis.

    Source
    ------
    A year of 365 days.
    """
    return np.add.reduceat(days, np.cumsum(DAYS) - DAYS, axis=-1) / DAYS


class Sunshine(Record):
    """The sunshine on a panel, month by month.

    clear (array of 12): Under a cloudless sky.
    low (array of 12): What comes through, a dull climate; the same as typical where it is your own.
    typical (array of 12):
    high (array of 12): A bright climate.
    sky_share (array of 12): The typical values over the clear ones; 0 where the sun does not rise.
    dark_months (of str): In which no sun to speak of falls on the panel: below 1 W/m², day and night.
    basis: Where the clouds come from.

    Source: See `sunshine`.
    """

    latitude: Angle
    tilt: Angle
    altitude: Length
    turbidity: Number
    clear: Insolation
    low: Insolation
    typical: Insolation
    high: Insolation
    sky_share: Number
    dark_months: tuple[str, ...]
    made_with: ClassVar[str] = "power.sunshine(latitude)"
    basis: str


@takes_quantities
def sunshine(
    latitude: Angle,
    *,
    tilt: Angle | None = None,
    sky_share: Number | None = None,
    insolation: Insolation | None = None,
    turbidity: Number = TURBIDITY,
    altitude: Length = 0.0,
) -> Sunshine:
    """The sunshine on a panel by month: a cloudless sky, times the share that clouds let through.

    latitude (one value): South of the equator below zero.
    tilt (one value): Facing the equator; as steep as the latitude when left out.
    sky_share (scalar or array of 12): The share of the clear sky's sunshine that comes through, by month. When left
        out, 0.4, 0.6 and 0.8 stand for a dull, a middling and a bright climate.
    insolation (array of 12): Your own monthly values *on the panel*, measured or from a weather service's map, in place
        of `sky_share`: the best there is.
    turbidity (one value): Linke's, of the air: 2 in clean mountain air, 3 as a rule here, 5 over a smoky town.
    altitude (one value):

    Beyond the polar circles some months have no sun: their values are 0, or next to it, and `dark_months` names them.

    Source: `clear_hours`; real monthly means are 0.4 to 0.8 of the clear sky's (common practice, no table seen).

    >>> here = sunshine("40 deg", sky_share=0.5)
    >>> print(here.typical[11].to("kWh/m**2/day").round(1))
    2.3 kWh/d/m²
    """
    hours = _hours(latitude, tilt, turbidity, altitude)
    clear = monthly(hours.mean(-1))
    if sky_share is not None and insolation is not None:
        raise DesignError("sunshine: give either sky_share or your own insolation, one of the two.")
    if insolation is not None:
        own = _twelve(insolation, "insolation")
        check_range(own, 0, 500, INSOLATION, "sunshine: insolation", "sunshine on the earth")
        bands, basis = [own] * 3, "your own monthly values"
    elif sky_share is not None:
        share = _twelve(sky_share, "sky_share")
        check_range(share, 0, 1.1, NUMBER, "sunshine: sky_share", "a share of the clear sky")
        bands, basis = [clear * share] * 3, "your own shares of a clear sky"
    else:
        bands, basis = [clear * share for share in SKY.values()], "0.4, 0.6 and 0.8 of a clear sky: common practice, no source"
    low, typical, high = bands
    dark = tuple(month for month, sun in zip(MONTHS, typical) if sun < NO_SUN)
    return Sunshine.from_si(
        latitude=latitude, tilt=abs(latitude) if tilt is None else tilt, altitude=altitude, turbidity=turbidity, clear=clear,
        low=low, typical=typical, high=high, sky_share=np.divide(typical, clear, out=np.zeros(12), where=clear > 1e-6),
        dark_months=dark, basis=basis,
    )  # fmt: skip


def _twelve(values, name: str) -> np.ndarray:
    values = np.asarray(values, float)
    if values.shape not in ((), (12,)):
        raise DesignError(f"sunshine: {name} has {values.size} values; give one for each month, January first, or a single one.")
    return np.broadcast_to(values, 12)

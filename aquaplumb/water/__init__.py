"""Water itself: its density, viscosity and vapour pressure, and the oxygen it can hold.

Every fit names the range in which it holds and refuses values outside it. What else is dissolved (ammonia, carbon
dioxide, alkalinity) is in `chemistry` and is reached from here as well: ``water.unionised_fraction``.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.units import (
    LENGTH,
    SALINITY,
    TEMPERATURE,
    BulkDensity,
    Concentration,
    DynamicViscosity,
    Length,
    Pressure,
    Salinity,
    Temperature,
    Viscosity,
    check_range,
    takes_quantities,
)
from aquaplumb.water.chemistry import (
    ZERO_CELSIUS,
    as_calcium_carbonate,
    as_nitrogen,
    base_needed,
    carbon_dioxide,
    unionised_ammonia,
    unionised_fraction,
)

__all__ = [
    "as_calcium_carbonate", "as_nitrogen", "atmospheric_pressure", "base_needed", "carbon_dioxide", "density",
    "dynamic_viscosity", "kinematic_viscosity", "oxygen_saturation", "unionised_ammonia", "unionised_fraction",
    "vapour_pressure",
]  # fmt: skip

ATMOSPHERE = 101325.0  # Pa


def _liquid(temperature, where: str, why: str) -> None:
    check_range(temperature, ZERO_CELSIUS, 313.15, TEMPERATURE, f"{where}: temperature", why)


@takes_quantities
def density(temperature: Temperature = 293.15) -> BulkDensity:
    """The density of fresh water at one atmosphere.

    temperature: 0 to 40 °C; 20 °C when left out.

    ρ = (999.83952 + 16.945176 t − 7.9870401e-3 t² − 4.6170461e-5 t³ + 1.0556302e-7 t⁴ − 2.8054253e-10 t⁵)
    / (1 + 0.01687985 t), t in °C. Dissolved salts are left out: 1 g/kg adds about 0.08 %.

    Source: Kell, G. S. (1975), J. Chem. Eng. Data 20(1), 97-105, the equation for one atmosphere.

    >>> from aquaplumb import u, water
    >>> print(round(water.density(25 * u.degC), 1))
    997 kg/m³
    """
    _liquid(temperature, "density", "the density formula")
    t = temperature - ZERO_CELSIUS
    top = 999.83952 + t * (16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12))))
    return top / (1 + 16.879850e-3 * t)


@takes_quantities
def dynamic_viscosity(temperature: Temperature = 293.15) -> DynamicViscosity:
    """The dynamic viscosity of fresh water: how hard it is to stir. Cold water is twice as thick as warm.

    temperature: 0 to 40 °C; 20 °C when left out.

    μ/(1 µPa s) = 280.68 τ^-1.9 + 511.45 τ^-7.7 + 61.131 τ^-19.6 + 0.45903 τ^-40, τ = T/300 K, at 0.1 MPa.
    The fit holds from −20 to 110 °C; here it is asked for 0 to 40 °C.

    Source: Pátek, Hrubý, Klomfar, Součková and Harvey (2009), J. Phys. Chem. Ref. Data 38(1), 21-29;
    IAPWS Supplementary Release SR6-08, liquid water at 0.1 MPa.

    >>> from aquaplumb import u, water
    >>> print(round(water.dynamic_viscosity(20 * u.degC).to("mPa s"), 3))
    1.002 mPa·s
    """
    _liquid(temperature, "dynamic_viscosity", "the viscosity formula")
    tau = temperature / 300.0
    return 1e-6 * (280.68 * tau**-1.9 + 511.45 * tau**-7.7 + 61.131 * tau**-19.6 + 0.45903 * tau**-40.0)


@takes_quantities
def kinematic_viscosity(temperature: Temperature = 293.15) -> Viscosity:
    """The kinematic viscosity of fresh water, μ/ρ: the one that pipe friction asks for.

    temperature: 0 to 40 °C; 20 °C when left out.

    Source: `dynamic_viscosity` (Pátek et al. 2009) over `density` (Kell 1975).

    >>> from aquaplumb import u, water
    >>> print(round(water.kinematic_viscosity(20 * u.degC).to("mm²/s"), 3))
    1.003 mm²/s
    """
    _liquid(temperature, "kinematic_viscosity", "the viscosity formula")
    return dynamic_viscosity.si(temperature) / density.si(temperature)


@takes_quantities
def vapour_pressure(temperature: Temperature = 293.15) -> Pressure:
    """The pressure at which water boils at this temperature: suction below it breaks the water column.

    temperature: 0 to 40 °C; 20 °C when left out.
    returns: Absolute, not gauge.

    ln(p/pc) = (Tc/T)(a1 τ + a2 τ^1.5 + a3 τ³ + a4 τ^3.5 + a5 τ⁴ + a6 τ^7.5), τ = 1 − T/Tc.

    Source: Wagner and Pruss (1993), J. Phys. Chem. Ref. Data 22(3), 783-787, eq. 1; IAPWS Supplementary Release SR1-86.

    >>> from aquaplumb import u, water
    >>> print(round(water.vapour_pressure(25 * u.degC).to("kPa"), 2))
    3.17 kPa
    """
    _liquid(temperature, "vapour_pressure", "the vapour pressure formula")
    ratio = temperature / 647.096
    tau = 1 - ratio
    half = tau**0.5
    cube = tau * tau * tau
    series = (
        tau * (-7.85951783 + 1.84408259 * half)
        + cube * (-11.7866497 + 22.6807411 * half - 15.9618719 * tau)
        + 1.80122502 * cube * cube * tau * half
    )
    return 22.064e6 * np.exp(series / ratio)


@takes_quantities
def atmospheric_pressure(altitude: Length = 0.0) -> Pressure:
    """The usual air pressure at a height above the sea. Weather moves it by about 3 % either way.

    altitude: −500 to 5,000 m; sea level when left out.

    p = 101325 (1 − 2.25577e-5 z)^5.25588, z in m. Holds up to 11,000 m; asked for up to 5,000 m.

    Source: ICAO standard atmosphere, Doc 7488; ISO 2533:1975.

    >>> from aquaplumb import u, water
    >>> print(round(water.atmospheric_pressure(1000 * u.m).to("kPa"), 1))
    89.9 kPa
    """
    check_range(altitude, -500.0, 5000.0, LENGTH, "atmospheric_pressure: altitude", "the table of air pressure by height")
    return ATMOSPHERE * (1 - 2.25577e-5 * altitude) ** 5.25588


@takes_quantities
def oxygen_saturation(temperature: Temperature, *, salinity: Salinity = 0.0, altitude: Length = 0.0) -> Concentration:
    """The oxygen that water holds when it has stood in contact with air until it takes up no more.

    Warm water holds less, and so does water on a mountain.

    temperature: 0 to 40 °C.
    salinity: Grams of salt in a kilogram of water, 0 to 40, such as "35 g/kg", "3.5 %" or 35; fresh water when left out.
    altitude: −500 to 5,000 m; sea level when left out.

    ln C* = −139.34411 + 1.575701e5/T − 6.642308e7/T² + 1.2438e10/T³ − 8.621949e11/T⁴
    − S (0.017674 − 10.754/T + 2140.7/T²), C* in mg/L at 1 atm of moist air.
    At pressure P [atm]: C = C* P (1 − u/P)(1 − θP) / ((1 − u)(1 − θ)), with ln u = 11.8571 − 3840.70/T − 216961/T²
    and θ = 9.75e-4 − 1.426e-5 t + 6.436e-8 t². P is the standard atmosphere's (`atmospheric_pressure`).

    Source: Benson and Krause (1984), Limnol. Oceanogr. 29(3), 620-632; APHA Standard Methods 4500-O, table 4500-O:I.

    >>> from aquaplumb import u, water
    >>> print(round(water.oxygen_saturation(25 * u.degC).to("mg/L"), 2))
    8.26 mg/L
    >>> print(round(water.oxygen_saturation(25 * u.degC, altitude=1500 * u.m).to("mg/L"), 2))
    6.85 mg/L
    """
    _liquid(temperature, "oxygen_saturation", "the oxygen table")
    check_range(salinity, 0.0, 40.0, SALINITY, "oxygen_saturation: salinity", "the oxygen table")
    check_range(altitude, -500.0, 5000.0, LENGTH, "oxygen_saturation: altitude", "the table of air pressure by height")
    x = 1.0 / temperature
    logarithm = -139.34411 + x * (1.575701e5 + x * (-6.642308e7 + x * (1.243800e10 - x * 8.621949e11)))
    logarithm = logarithm - salinity * (0.017674 + x * (-10.754 + x * 2140.7))
    pressure = (1 - 2.25577e-5 * altitude) ** 5.25588
    vapour = np.exp(11.8571 + x * (-3840.70 - x * 216961.0))
    t = temperature - ZERO_CELSIUS
    theta = 9.75e-4 + t * (-1.426e-5 + t * 6.436e-8)
    thinner = (pressure - vapour) * (1 - theta * pressure) / ((1 - vapour) * (1 - theta))
    return 1e-3 * np.exp(logarithm) * thinner

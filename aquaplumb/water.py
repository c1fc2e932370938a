"""Water itself: its density, viscosity and vapour pressure, the oxygen it can hold, ammonia and carbon dioxide in it.

Every fit names the range in which it holds and refuses values outside it. Ammonia is always *as nitrogen* (N) and
alkalinity always *as calcium carbonate* (CaCO3); `as_nitrogen` and `as_calcium_carbonate` turn a test kit's reading
into that basis, once, at the edge.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.tables import unknown
from aquaplumb.units import (
    CONCENTRATION,
    LENGTH,
    NUMBER,
    TEMPERATURE,
    BulkDensity,
    Concentration,
    DesignError,
    DynamicViscosity,
    Length,
    Mass,
    Number,
    Pressure,
    Temperature,
    Viscosity,
    Volume,
    check_range,
    takes_quantities,
)

ZERO_CELSIUS = 273.15  # K
ATMOSPHERE = 101325.0  # Pa
_ROUND = 1e-9  # a converted end of a range (104 °F) must not fall outside it by rounding


def _within(value, low: float, high: float, kind, where: str, why: str) -> None:
    """`check_range`, quick for a single number: these kernels run at each move of a slider."""
    if isinstance(value, float) and low <= value <= high:
        return
    if np.any(np.less(value, low - _ROUND)) or np.any(np.greater(value, high + _ROUND)):
        check_range(value, low, high, kind, where, why)


def _liquid(temperature, where: str, why: str) -> None:
    _within(temperature, ZERO_CELSIUS, 313.15, TEMPERATURE, f"{where}: temperature", why)


@takes_quantities
def density(temperature: Temperature = 293.15) -> BulkDensity:
    """The density of fresh water at one atmosphere.

    Parameters
    ----------
    temperature : Temperature, scalar or array [K]
        0 to 40 °C; 20 °C when left out.

    Returns
    -------
    BulkDensity, scalar or array [kg/m³]

    Notes
    -----
    ρ = (999.83952 + 16.945176 t − 7.9870401e-3 t² − 4.6170461e-5 t³ + 1.0556302e-7 t⁴ − 2.8054253e-10 t⁵)
    / (1 + 0.01687985 t), t in °C. Dissolved salts are left out: 1 g/kg adds about 0.08 %.

    Source
    ------
    Kell, G. S. (1975), J. Chem. Eng. Data 20(1), 97-105, the equation for one atmosphere.

    Examples
    --------
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

    Parameters
    ----------
    temperature : Temperature, scalar or array [K]
        0 to 40 °C; 20 °C when left out.

    Returns
    -------
    DynamicViscosity, scalar or array [Pa s]

    Notes
    -----
    μ/(1 µPa s) = 280.68 τ^-1.9 + 511.45 τ^-7.7 + 61.131 τ^-19.6 + 0.45903 τ^-40, τ = T/300 K, at 0.1 MPa.
    The fit holds from −20 to 110 °C; here it is asked for 0 to 40 °C.

    Source
    ------
    Pátek, Hrubý, Klomfar, Součková and Harvey (2009), J. Phys. Chem. Ref. Data 38(1), 21-29;
    IAPWS Supplementary Release SR6-08, liquid water at 0.1 MPa.

    Examples
    --------
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

    Parameters
    ----------
    temperature : Temperature, scalar or array [K]
        0 to 40 °C; 20 °C when left out.

    Returns
    -------
    Viscosity, scalar or array [m²/s]

    Source
    ------
    `dynamic_viscosity` (Pátek et al. 2009) over `density` (Kell 1975).

    Examples
    --------
    >>> from aquaplumb import u, water
    >>> print(round(water.kinematic_viscosity(20 * u.degC).to("mm²/s"), 3))
    1.003 mm²/s
    """
    _liquid(temperature, "kinematic_viscosity", "the viscosity formula")
    return dynamic_viscosity.si(temperature) / density.si(temperature)


@takes_quantities
def vapour_pressure(temperature: Temperature = 293.15) -> Pressure:
    """The pressure at which water boils at this temperature: suction below it breaks the water column.

    Parameters
    ----------
    temperature : Temperature, scalar or array [K]
        0 to 40 °C; 20 °C when left out.

    Returns
    -------
    Pressure, scalar or array [Pa]
        Absolute, not gauge.

    Notes
    -----
    ln(p/pc) = (Tc/T)(a1 τ + a2 τ^1.5 + a3 τ³ + a4 τ^3.5 + a5 τ⁴ + a6 τ^7.5), τ = 1 − T/Tc.

    Source
    ------
    Wagner and Pruss (1993), J. Phys. Chem. Ref. Data 22(3), 783-787, eq. 1; IAPWS Supplementary Release SR1-86.

    Examples
    --------
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

    Parameters
    ----------
    altitude : Length, scalar or array [m]
        −500 to 5,000 m; sea level when left out.

    Returns
    -------
    Pressure, scalar or array [Pa]

    Notes
    -----
    p = 101325 (1 − 2.25577e-5 z)^5.25588, z in m. Holds up to 11,000 m; asked for up to 5,000 m.

    Source
    ------
    ICAO standard atmosphere, Doc 7488; ISO 2533:1975.

    Examples
    --------
    >>> from aquaplumb import u, water
    >>> print(round(water.atmospheric_pressure(1000 * u.m).to("kPa"), 1))
    89.9 kPa
    """
    _within(altitude, -500.0, 5000.0, LENGTH, "atmospheric_pressure: altitude", "the table of air pressure by height")
    return ATMOSPHERE * (1 - 2.25577e-5 * altitude) ** 5.25588


@takes_quantities
def oxygen_saturation(temperature: Temperature, *, salinity: Number = 0.0, altitude: Length = 0.0) -> Concentration:
    """The oxygen that water holds when it has stood in contact with air until it takes up no more.

    Warm water holds less, and so does water on a mountain.

    Parameters
    ----------
    temperature : Temperature, scalar or array [K]
        0 to 40 °C.
    salinity : Number, scalar or array
        Grams of salt in a kilogram of water, 0 to 40; fresh water when left out.
    altitude : Length, scalar or array [m]
        −500 to 5,000 m; sea level when left out.

    Returns
    -------
    Concentration, scalar or array [kg/m³]

    Notes
    -----
    ln C* = −139.34411 + 1.575701e5/T − 6.642308e7/T² + 1.2438e10/T³ − 8.621949e11/T⁴
    − S (0.017674 − 10.754/T + 2140.7/T²), C* in mg/L at 1 atm of moist air.
    At pressure P [atm]: C = C* P (1 − u/P)(1 − θP) / ((1 − u)(1 − θ)), with ln u = 11.8571 − 3840.70/T − 216961/T²
    and θ = 9.75e-4 − 1.426e-5 t + 6.436e-8 t². P is the standard atmosphere's (`atmospheric_pressure`).

    Source
    ------
    Benson and Krause (1984), Limnol. Oceanogr. 29(3), 620-632; APHA Standard Methods 4500-O, table 4500-O:I.

    Examples
    --------
    >>> from aquaplumb import u, water
    >>> print(round(water.oxygen_saturation(25 * u.degC).to("mg/L"), 2))
    8.26 mg/L
    >>> print(round(water.oxygen_saturation(25 * u.degC, altitude=1500 * u.m).to("mg/L"), 2))
    6.85 mg/L
    """
    _liquid(temperature, "oxygen_saturation", "the oxygen table")
    _within(salinity, 0.0, 40.0, NUMBER, "oxygen_saturation: salinity (g/kg)", "the oxygen table")
    _within(altitude, -500.0, 5000.0, LENGTH, "oxygen_saturation: altitude", "the table of air pressure by height")
    x = 1.0 / temperature
    logarithm = -139.34411 + x * (1.575701e5 + x * (-6.642308e7 + x * (1.243800e10 - x * 8.621949e11)))
    logarithm = logarithm - salinity * (0.017674 + x * (-10.754 + x * 2140.7))
    pressure = (1 - 2.25577e-5 * altitude) ** 5.25588
    vapour = np.exp(11.8571 + x * (-3840.70 - x * 216961.0))
    t = temperature - ZERO_CELSIUS
    theta = 9.75e-4 + t * (-1.426e-5 + t * 6.436e-8)
    thinner = (pressure - vapour) * (1 - theta * pressure) / ((1 - vapour) * (1 - theta))
    return 1e-3 * np.exp(logarithm) * thinner


@takes_quantities
def unionised_fraction(ph: Number, temperature: Temperature) -> Number:
    """The share of total ammonia that is un-ionised (NH3), the form that burns gills.

    Parameters
    ----------
    ph : Number, scalar or array
        0 to 14.
    temperature : Temperature, scalar or array [K]
        0 to 50 °C.

    Returns
    -------
    Number, scalar or array
        Between 0 and 1; the same on either basis, as N or as NH3.

    Notes
    -----
    f = 1/(1 + 10^(pKa − pH)), pKa = 0.09018 + 2729.92/T, fresh water. A misprint of the
    second constant, 2727.92, is about; it puts f 1.5 % high. Dissolved salts lower f a little: by about 2 % at an
    ionic strength of 0.6 mmol/L, 5 % at 3 mmol/L (PHREEQC).

    Source
    ------
    Emerson, Russo, Lund and Thurston (1975), J. Fish. Res. Board Can. 32(12), 2379-2383.

    Examples
    --------
    >>> from aquaplumb import u, water
    >>> print(round(water.unionised_fraction(8.0, 24 * u.degC), 4))
    0.0502
    """
    _within(temperature, ZERO_CELSIUS, 323.15, TEMPERATURE, "unionised_fraction: temperature", "the ammonia formula")
    _within(ph, 0.0, 14.0, NUMBER, "unionised_fraction: ph", "the pH scale")
    return 1 / (1 + 10.0 ** (0.09018 + 2729.92 / temperature - ph))


@takes_quantities
def unionised_ammonia(tan: Concentration, ph: Number, temperature: Temperature) -> Concentration:
    """The un-ionised ammonia in water, as N. Gills are harmed above about 0.05 mg/L.

    Parameters
    ----------
    tan : Concentration, scalar or array [kg/m³]
        Total ammonia, as N (a kit that reads as NH3 or NH4: see `as_nitrogen`).
    ph : Number, scalar or array
        0 to 14.
    temperature : Temperature, scalar or array [K]
        0 to 50 °C.

    Returns
    -------
    Concentration, scalar or array [kg/m³]
        As N.

    Source
    ------
    Emerson et al. (1975), as `unionised_fraction`; the 0.05 mg/L from UF/IFAS FA-16.

    Examples
    --------
    >>> from aquaplumb import u, water
    >>> print(round(water.unionised_ammonia(1.0 * u.mg / u.L, 8.0, 24 * u.degC).to("mg/L"), 4))
    0.0502 mg/L
    """
    return tan * unionised_fraction.si(ph, temperature)


@takes_quantities
def carbon_dioxide(ph: Number, alkalinity: Concentration, temperature: Temperature) -> Concentration:
    """The dissolved carbon dioxide that a pH and an alkalinity imply. Fish are slowed above about 15 to 20 mg/L.

    Parameters
    ----------
    ph : Number, scalar or array
        5 to 9.
    alkalinity : Concentration, scalar or array [kg/m³]
        As CaCO3.
    temperature : Temperature, scalar or array [K]
        0 to 40 °C.

    Returns
    -------
    Concentration, scalar or array [kg/m³]
        As CO2.

    Notes
    -----
    [CO2] = A / (K1/h + 2 K1 K2/h²), with A the alkalinity in mol/L (CaCO3 mg/L over 50,044) and h = 10^-pH;
    all alkalinity taken as carbonate and activity taken as concentration, so it runs up to 6 % high at
    100 mg/L of alkalinity. The limit of 15 to 20 mg/L is common practice.

    Source
    ------
    Plummer and Busenberg (1982), Geochim. Cosmochim. Acta 46, 1011-1040, for K1 and K2.

    Examples
    --------
    >>> from aquaplumb import u, water
    >>> print(round(water.carbon_dioxide(7.0, 100 * u.mg / u.L, 25 * u.degC).to("mg/L"), 0))
    20 mg/L
    """
    _liquid(temperature, "carbon_dioxide", "this carbon dioxide sum")
    _within(ph, 5.0, 9.0, NUMBER, "carbon_dioxide: ph", "this carbon dioxide sum")
    _within(alkalinity, 0.0, 1.0, CONCENTRATION, "carbon_dioxide: alkalinity", "this carbon dioxide sum")
    t, log_t = temperature, np.log10(temperature)
    k1 = -356.3094 - 0.06091964 * t + 21834.37 / t + 126.8339 * log_t - 1684915.0 / t**2
    k2 = -107.8871 - 0.03252849 * t + 5151.79 / t + 38.92561 * log_t - 563713.9 / t**2
    bicarbonate = 10.0 ** (k1 + ph)
    return alkalinity / 50.0435 * 44.0095 / (bicarbonate * (1 + 2 * 10.0 ** (k2 + ph)))


_NITROGEN = {"N": 1.0, "NH3": 14.0067 / 17.0305, "NH4": 14.0067 / 18.0385, "NO2": 14.0067 / 46.0055, "NO3": 14.0067 / 62.0049}
_CARBONATE = {"CaCO3": 1.0, "HCO3": 50.0435 / 61.0168}
# Grams of each base that add the alkalinity of one gram of CaCO3: its molar mass over its charges, over 50.0435.
_BASES = {"CaCO3": 1.0, "NaHCO3": 84.0066 / 50.0435, "KHCO3": 100.1151 / 50.0435, "KOH": 56.1056 / 50.0435,
          "Ca(OH)2": 74.0927 / 2 / 50.0435, "Na2CO3": 105.9884 / 2 / 50.0435, "K2CO3": 138.2055 / 2 / 50.0435}  # fmt: skip


@takes_quantities
def as_nitrogen(reading: Concentration, form: str) -> Concentration:
    """A test kit's ammonia, nitrite or nitrate reading, turned to the nitrogen basis used everywhere here.

    Parameters
    ----------
    reading : Concentration, scalar or array [kg/m³]
    form : str
        What the kit reads as: "NH3", "NH4", "NO2", "NO3" or "N".

    Returns
    -------
    Concentration, scalar or array [kg/m³]
        As N.

    Source
    ------
    Ratios of molar masses, IUPAC standard atomic weights.

    Examples
    --------
    >>> from aquaplumb import u, water
    >>> print(round(water.as_nitrogen(50 * u.mg / u.L, "NO3").to("mg/L"), 1))
    11.3 mg/L
    """
    if form not in _NITROGEN:
        raise DesignError(unknown("list of nitrogen forms", form, _NITROGEN))
    return reading * _NITROGEN[form]


@takes_quantities
def as_calcium_carbonate(reading: Concentration, form: str) -> Concentration:
    """An alkalinity reading turned to the calcium carbonate basis used everywhere here.

    Parameters
    ----------
    reading : Concentration, scalar or array [kg/m³]
    form : str
        What the kit reads as: "HCO3" or "CaCO3". One degree of a dKH kit is 17.8 mg/L as CaCO3, one meq/L is 50.

    Returns
    -------
    Concentration, scalar or array [kg/m³]
        As CaCO3.

    Source
    ------
    Ratio of equivalent masses, IUPAC standard atomic weights.

    Examples
    --------
    >>> from aquaplumb import u, water
    >>> print(round(water.as_calcium_carbonate(122 * u.mg / u.L, "HCO3").to("mg/L"), 0))
    100 mg/L
    """
    if form not in _CARBONATE:
        raise DesignError(unknown("list of alkalinity forms", form, _CARBONATE))
    return reading * _CARBONATE[form]


@takes_quantities
def base_needed(rise: Concentration, volume: Volume, base: str) -> Mass:
    """The mass of a base that raises the alkalinity of a volume of water.

    Give it in small lots over days: a pH that moves by 0.3 in a day already stresses fish. KOH and Ca(OH)2 burn skin
    and eyes and push the pH up hard: gloves, goggles, and always the base into the water.

    Parameters
    ----------
    rise : Concentration, scalar or array [kg/m³]
        As CaCO3.
    volume : Volume, scalar or array [m³]
    base : str
        "NaHCO3", "KHCO3", "KOH", "Ca(OH)2", "CaCO3", "Na2CO3" or "K2CO3".

    Returns
    -------
    Mass, scalar or array [kg]
        Pure and dry, and all of it dissolved; CaCO3 dissolves only in soft, acid water.

    Source
    ------
    Stoichiometry: molar mass over charges, against 50.04 g of CaCO3 an equivalent. The pH caution: FAO 589.

    Examples
    --------
    >>> from aquaplumb import u, water
    >>> print(round(water.base_needed(10 * u.mg / u.L, 1000 * u.L, "NaHCO3").to("g"), 1))
    16.8 g
    """
    if base not in _BASES:
        raise DesignError(unknown("list of bases", base, _BASES))
    return rise * volume * _BASES[base]

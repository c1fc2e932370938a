"""What dissolves in the water: ammonia and its poisonous share, carbon dioxide, alkalinity and its bases.

Ammonia, nitrite and nitrate are always *as nitrogen* (N), alkalinity always *as calcium carbonate* (CaCO3);
`as_nitrogen` and `as_calcium_carbonate` turn a test kit's reading into that basis, once, at the edge. All of it is
reached through `water`: ``water.unionised_fraction``.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.tables import unknown
from aquaplumb.units import (
    CONCENTRATION,
    NUMBER,
    TEMPERATURE,
    Concentration,
    DesignError,
    Mass,
    Number,
    Temperature,
    Volume,
    check_range,
    takes_quantities,
)

__all__ = [
    "as_calcium_carbonate", "as_nitrogen", "base_needed", "carbon_dioxide", "carbonate_constants", "unionised_ammonia",
    "unionised_fraction",
]  # fmt: skip

ZERO_CELSIUS = 273.15  # K


@takes_quantities
def unionised_fraction(ph: Number, temperature: Temperature) -> Number:
    """The share of total ammonia that is un-ionised (NH3), the form that burns gills.

    ph: 0 to 14.
    temperature: 0 to 50 °C.
    returns: Between 0 and 1; the same on either basis, as N or as NH3.

    f = 1/(1 + 10^(pKa − pH)), pKa = 0.09018 + 2729.92/T, fresh water. A misprint of the
    second constant, 2727.92, is about; it puts f 1.5 % high. Dissolved salts lower f a little: by about 2 % at an
    ionic strength of 0.6 mmol/L, 5 % at 3 mmol/L (PHREEQC).

    Source: Emerson, Russo, Lund and Thurston (1975), J. Fish. Res. Board Can. 32(12), 2379-2383.

    >>> from aquaplumb import u, water
    >>> print(round(water.unionised_fraction(8.0, 24 * u.degC), 4))
    0.0502
    """
    check_range(temperature, ZERO_CELSIUS, 323.15, TEMPERATURE, "unionised_fraction: temperature", "the ammonia formula")
    check_range(ph, 0.0, 14.0, NUMBER, "unionised_fraction: ph", "the pH scale")
    return 1 / (1 + 10.0 ** (0.09018 + 2729.92 / temperature - ph))


@takes_quantities
def unionised_ammonia(tan: Concentration, ph: Number, temperature: Temperature) -> Concentration:
    """The un-ionised ammonia in water, as N. Gills are harmed above about 0.05 mg/L.

    tan: Total ammonia, as N (a kit that reads as NH3 or NH4: see `as_nitrogen`).
    ph: 0 to 14.
    temperature: 0 to 50 °C.
    returns: As N.

    Source: Emerson et al. (1975), as `unionised_fraction`; the 0.05 mg/L from UF/IFAS FA-16.

    >>> from aquaplumb import u, water
    >>> print(round(water.unionised_ammonia(1.0 * u.mg / u.L, 8.0, 24 * u.degC).to("mg/L"), 4))
    0.0502 mg/L
    """
    return tan * unionised_fraction.si(ph, temperature)


def carbonate_constants(temperature):
    """(log10 K1, log10 K2) of carbonic acid in fresh water, mol/L, at a bare temperature [K] from 0 to 40 °C.

    Source: Plummer and Busenberg (1982), Geochim. Cosmochim. Acta 46, 1011-1040.
    """
    t, log_t = temperature, np.log10(temperature)
    k1 = -356.3094 - 0.06091964 * t + 21834.37 / t + 126.8339 * log_t - 1684915.0 / t**2
    k2 = -107.8871 - 0.03252849 * t + 5151.79 / t + 38.92561 * log_t - 563713.9 / t**2
    return k1, k2


@takes_quantities
def carbon_dioxide(ph: Number, alkalinity: Concentration, temperature: Temperature) -> Concentration:
    """The dissolved carbon dioxide that a pH and an alkalinity imply. Fish are slowed above about 15 to 20 mg/L.

    ph: 5 to 9.
    alkalinity: As CaCO3.
    temperature: 0 to 40 °C.
    returns: As CO2.

    [CO2] = A / (K1/h + 2 K1 K2/h²), with A the alkalinity in mol/L (CaCO3 mg/L over 50,044) and h = 10^-pH;
    all alkalinity taken as carbonate and activity taken as concentration, so it runs up to 6 % high at
    100 mg/L of alkalinity. The limit of 15 to 20 mg/L is common practice.

    Source: Plummer and Busenberg (1982), Geochim. Cosmochim. Acta 46, 1011-1040, for K1 and K2.

    >>> from aquaplumb import u, water
    >>> print(round(water.carbon_dioxide(7.0, 100 * u.mg / u.L, 25 * u.degC).to("mg/L"), 0))
    20 mg/L
    """
    check_range(temperature, ZERO_CELSIUS, 313.15, TEMPERATURE, "carbon_dioxide: temperature", "this carbon dioxide sum")
    check_range(ph, 5.0, 9.0, NUMBER, "carbon_dioxide: ph", "this carbon dioxide sum")
    check_range(alkalinity, 0.0, 1.0, CONCENTRATION, "carbon_dioxide: alkalinity", "this carbon dioxide sum")
    log_k1, log_k2 = carbonate_constants(temperature)
    return alkalinity / 50.0435 * 44.0095 / (10.0 ** (log_k1 + ph) * (1 + 2 * 10.0 ** (log_k2 + ph)))


_NITROGEN = {"N": 1.0, "NH3": 14.0067 / 17.0305, "NH4": 14.0067 / 18.0385, "NO2": 14.0067 / 46.0055, "NO3": 14.0067 / 62.0049}
_CARBONATE = {"CaCO3": 1.0, "HCO3": 50.0435 / 61.0168}
# Grams of each base that add the alkalinity of one gram of CaCO3: its molar mass over its charges, over 50.0435.
_BASES = {"CaCO3": 1.0, "NaHCO3": 84.0066 / 50.0435, "KHCO3": 100.1151 / 50.0435, "KOH": 56.1056 / 50.0435,
          "Ca(OH)2": 74.0927 / 2 / 50.0435, "Na2CO3": 105.9884 / 2 / 50.0435, "K2CO3": 138.2055 / 2 / 50.0435}  # fmt: skip


@takes_quantities
def as_nitrogen(reading: Concentration, form: str) -> Concentration:
    """A test kit's ammonia, nitrite or nitrate reading, turned to the nitrogen basis used everywhere here.

    form: What the kit reads as: "NH3", "NH4", "NO2", "NO3" or "N".
    returns: As N.

    Source: Ratios of molar masses, IUPAC standard atomic weights.

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

    form: What the kit reads as: "HCO3" or "CaCO3". One degree of a dKH kit is 17.8 mg/L as CaCO3, one meq/L is 50.
    returns: As CaCO3.

    Source: Ratio of equivalent masses, IUPAC standard atomic weights.

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

    rise: As CaCO3.
    base: "NaHCO3", "KHCO3", "KOH", "Ca(OH)2", "CaCO3", "Na2CO3" or "K2CO3".
    returns: Pure and dry, and all of it dissolved; CaCO3 dissolves only in soft, acid water.

    Source: Stoichiometry: molar mass over charges, against 50.04 g of CaCO3 an equivalent. The pH caution: FAO 589.

    >>> from aquaplumb import u, water
    >>> print(round(water.base_needed(10 * u.mg / u.L, 1000 * u.L, "NaHCO3").to("g"), 1))
    16.8 g
    """
    if base not in _BASES:
        raise DesignError(unknown("list of bases", base, _BASES))
    return rise * volume * _BASES[base]

"""Carbon dioxide out of water into the air of stones."""

from __future__ import annotations

import numpy as np

from aquaplumb.air.transfer import SATURATION_20, THETA
from aquaplumb.units import NUMBER, TEMPERATURE, AirFlow, Flow, MassRate, Number, Temperature, check_range, takes_quantities
from aquaplumb.water.chemistry import ZERO_CELSIUS

_SLOWER = 0.9  # of the transfer coefficient of oxygen: Summerfelt, Vinci and Piedrahita 2000; Colt and Watten (from memory)
_LITRE_ATMOSPHERES = 0.082057366  # the gas constant, L atm/mol/K


@takes_quantities
def carbon_dioxide_in_air(temperature: Temperature = 293.15) -> Number:
    """Carbon dioxide in air over that in the water that it stands on, mass in a volume each (Henry's law without unit).

    temperature: 0 to 40 °C; 20 °C when left out.

    1/(K R T), log10 K = 108.3865 + 0.01985076 T − 6919.53/T − 40.45154 log10 T + 669365/T².

    Source: Plummer and Busenberg (1982), Geochim. Cosmochim. Acta 46, 1011-1040.

    >>> from aquaplumb import air, u
    >>> print(round(air.carbon_dioxide_in_air(25 * u.degC), 2))
    1.2
    """
    t = temperature
    check_range(t, ZERO_CELSIUS, 313.15, TEMPERATURE, "carbon_dioxide_in_air: temperature", "this solubility")
    log_k = 108.3865 + 0.01985076 * t - 6919.53 / t - 40.45154 * np.log10(t) + 669365.0 / t**2
    return 1 / (10.0**log_k * _LITRE_ATMOSPHERES * t)


@takes_quantities
def stripping_flow(air_flow: AirFlow, standard_transfer: MassRate, *, temperature: Temperature = 293.15, alpha: Number = 0.8) -> Flow:
    """The flow of water that air stones keep free of carbon dioxide: what they drive out, over what is in it above the air's.

    air_flow: Free air, through all stones together.
    standard_transfer: Of oxygen, by that air (`stone_transfer`).
    temperature: Of the water; 20 °C when left out.
    alpha: As in `field_factor`.

    A bubble takes up what it can hold and no more: S = G H (1 − exp(−k/(G H))), with G the air, H `carbon_dioxide_in_air`, and
    k = 0.9 KLa V of oxygen. KLa that is worked out of a transfer is a little low, which is the safe side.

    Source: Matter-Müller, Gujer and Giger 1981, Water Research 15 (volatile substances, bubbles that fill up); 0.9: Summerfelt, Vinci
    and Piedrahita 2000, Aquacultural Engineering 22, 87-108 (both from memory).

    >>> from aquaplumb import air, u
    >>> stones = air.stone_transfer(40 * u.L / u.min, 0.8 * u.m)
    >>> print(round(air.stripping_flow(40 * u.L / u.min, stones).to("L/h"), 0))
    721 L/h
    """
    check_range(alpha, 0.0, 1.5, NUMBER, "stripping_flow: alpha", "the ratio of transfer in tank water to that in clean water")
    most = np.multiply(air_flow, carbon_dioxide_in_air.si(temperature))
    through = _SLOWER * alpha * standard_transfer / SATURATION_20 * THETA ** (temperature - ZERO_CELSIUS - 20.0)
    return most * -np.expm1(-np.divide(through, most, out=np.zeros(np.broadcast(through, most).shape), where=most > 0))[()]

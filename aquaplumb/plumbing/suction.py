"""The side of a pump that draws: how high it can stand over its water, and how deep its inlet has to be under it.

Part of `aquaplumb.plumbing.pumps`, which is the face of all this.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import water
from aquaplumb.plumbing.full_pipe import froude
from aquaplumb.units import GRAVITY, Bore, Flow, Head, Length, Pressure, Temperature, takes_quantities

LARGEST_LIFT = 7.9  # m: 26 ft, "all centrifugal pumps … no more" at sea level (a pump maker's pump theory, in print)
_THINNER = 0.002  # m of it lost a metre of altitude: "approximately 2 feet for each 1000 feet" (same)


@takes_quantities
def suction_head_available(
    lift: Head,
    loss: Head,
    *,
    altitude: Length = 0.0,
    temperature: Temperature = 293.15,
    pressure: Pressure = 0.0,
) -> Head:
    """Net positive suction head at an external pump's inlet: what air pressure has left to push water in with.

    lift: From the water up to the pump's middle; negative when the water stands higher, which is better.
    loss: Friction, fittings and strainer of the suction pipe.
    altitude: Of the site.
    temperature: Of the water.
    pressure: On the water above that of the air: zero for an open tank.
    returns: Keep it above what the pump needs, with half a metre to spare (common practice, no source); else the water
        boils in the pump and eats it.

    (air pressure + pressure − vapour pressure) / (ρ g) − lift − loss, with ρ g at the water's temperature.

    Source: Crane TP-410, example 7.32.

    >>> print(round(suction_head_available("3 m", "0.5 m").to("m"), 2))
    6.61 m
    """
    weight = water.density.si(temperature) * GRAVITY
    push = water.atmospheric_pressure.si(altitude) + pressure - water.vapour_pressure.si(temperature)
    return push / weight - lift - loss


@takes_quantities
def suction_limit(altitude: Length = 0.0) -> Head:
    """The most suction lift, pipe losses in it, that any centrifugal pump manages in practice, however little suction head it needs.

    Physics would allow more (see `suction_head_available`); leaks, air coming out of the water and wear take the rest.
    A plain pump whose maker says nothing manages far less: 2 to 4 m.

    altitude: Of the site.

    26 ft less 2 ft for each 1000 ft of altitude, which is more than the air's pressure falls (1.1 ft): the print is kept.

    Source: Honda Power Equipment, "Pump theory" (26 ft, 2 ft for each 1000 ft); 2 to 4 m, British Pump Manufacturers
    Association, "Suction lift with non self-priming centrifugal pumps".

    >>> print(round(suction_limit("1000 ft").to("ft")))
    24 ft
    """
    return np.maximum(LARGEST_LIFT - _THINNER * np.asarray(altitude, float), 0.0)[()]


@takes_quantities
def submergence(flow: Flow, bore: Bore) -> Head:
    """The water needed over the open end of a suction pipe, or over a pump's inlet bell, so that no vortex draws air in.

    It holds for an open mouth. A strainer spreads the flow over an area and an edge that the formula knows nothing of:
    there its maker's least depth counts. A lid or baffle over the mouth does with less.

    bore: Of the mouth: of the bell, where it has one.

    S = D (1 + 2.3 Fr), with the Froude number Fr = V/√(g D) of the speed in the mouth.

    Source: ANSI/HI 9.8-1998, Pump Intake Design (formula as quoted by two engineering handbooks on the web; the
    standard's own page not seen).

    >>> print(round(submergence("2000 L/h", "35 mm").to("mm")))
    114 mm
    """
    return bore * (1.0 + 2.3 * froude.si(flow, bore))

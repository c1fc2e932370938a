"""How much water has to move: turnover, oxygen, ammonia and carbon dioxide each ask for a flow; the largest governs.

Ammonia is always *as nitrogen* (N). All flows are the mean over the hour: a pump on a timer has to move the hour's
water in its minutes (the flow over `duty`).
"""

from __future__ import annotations

import numpy as np

from aquaplumb.units import (
    NUMBER,
    Concentration,
    DesignError,
    Flow,
    MassRate,
    Number,
    Time,
    Turnover,
    Volume,
    below,
    check_range,
    not_above,
    takes_quantities,
)


@takes_quantities
def turnover_flow(volume: Volume, turnovers: Turnover) -> Flow:
    """The flow that changes a tank's water so many times an hour.

    volume: Of the fish tank.
    turnovers: 1 to 2 an hour at 15 to 20 kg/m³, half of that for few fish.

    Source: Definition; turnovers FAO Technical Paper 589 §4 (from memory).

    >>> from aquaplumb.fish import circulation
    >>> from aquaplumb import u
    >>> print(round(circulation.turnover_flow(1000 * u.L, 1.5 / u.hour).to("L/h"), 0))
    1500 L/h
    """
    return volume * turnovers


@takes_quantities
def oxygen_flow(demand: MassRate, *, inlet: Concentration, outlet: Concentration) -> Flow:
    """The flow that brings the fish their oxygen, when the water alone brings it.

    Air stones in the tank bring oxygen too and make this need smaller, or none: then it says what must pass if the
    air pump stops.

    demand: Of the fish in the tank, at its peak: after a meal about 1.4 times the day's mean.
    inlet: Oxygen in the water that comes; at most the saturation (`water.oxygen_saturation`).
    outlet: Oxygen in the water that leaves, which is what the fish live in: 5 mg/L for most, 6 for trout.
    raises: Where the inlet has no more oxygen than the outlet: no flow can bring any.

    Q = R/(C_in − C_out).

    Source: Mass balance of a mixed tank; Losordo and DeLong 2015, Flow rate estimation for RAS. Outlet: FAO Technical
    Paper 589 table 3.1 and 3.2.

    >>> from aquaplumb.fish import circulation
    >>> from aquaplumb import u
    >>> need = circulation.oxygen_flow(50 * u.g / u.day, inlet=7.5 * u.mg / u.L, outlet=5 * u.mg / u.L)
    >>> print(round(need.to("L/h"), 0))
    833 L/h
    """
    gain = np.subtract(inlet, outlet)
    if np.any(gain <= 0):
        raise DesignError(
            f"oxygen_flow: the inlet has {_mg(inlet)} of oxygen and the outlet is to keep {_mg(outlet)}, so no flow can "
            "bring any; aerate the water before it enters, cool it, or put the air into the tank itself."
        )
    return demand / gain


@takes_quantities
def ammonia_flow(production: MassRate, *, limit: Concentration, removal: Number) -> Flow:
    """The flow past the beds that keeps the tank's ammonia at a limit.

    production: Ammonia that the fish give off, as N, of the heaviest day.
    limit: Total ammonia in the tank, as N: 1 mg/L or less, and less at a high pH (`water.unionised_ammonia`).
    removal: The share that the beds take out in one pass, 0.3 to 0.7; above 0, up to 1.

    Q = P/(η C).

    Source: Mass balance of a mixed tank; Losordo and DeLong 2015, Flow rate estimation for RAS. Limit: FAO Technical Paper
    589 ch. 7 (toxic above 1 mg/L); the share in one pass is common practice, no source.

    >>> from aquaplumb.fish import circulation
    >>> from aquaplumb import u
    >>> print(round(circulation.ammonia_flow(6 * u.g / u.day, limit=1 * u.mg / u.L, removal=0.5).to("L/h"), 0))
    500 L/h
    """
    check_range(removal, 0.0, 1.0, NUMBER, "ammonia_flow: removal in one pass", "a share")
    capacity = np.multiply(removal, limit)
    if np.any(capacity <= 0):
        raise DesignError(
            "ammonia_flow: the limit or the removal in one pass is 0, which no flow can reach; give a limit such as 1 mg/L "
            "and a share such as 0.5."
        )
    return production / capacity


@takes_quantities
def carbon_dioxide_flow(production: MassRate, *, inlet: Concentration, limit: Concentration) -> Flow:
    """The flow that carries the carbon dioxide off to where the water is stirred with air.

    production: `fish.carbon_dioxide_production`.
    inlet: In the water that comes back: falling and splashing beds leave about 5 mg/L.
    limit: In the tank: 15 to 20 mg/L at most.
    raises: Where the inlet has no less than the limit.

    Q = P/(C_limit − C_in).

    Source: Mass balance of a mixed tank; inlet and limit common practice, no source.

    >>> from aquaplumb.fish import circulation
    >>> from aquaplumb import u
    >>> need = circulation.carbon_dioxide_flow(68.8 * u.g / u.day, inlet=5 * u.mg / u.L, limit=15 * u.mg / u.L)
    >>> print(round(need.to("L/h"), 0))
    287 L/h
    """
    room = np.subtract(limit, inlet)
    if np.any(room <= 0):
        raise DesignError(
            f"carbon_dioxide_flow: the water comes in with {_mg(inlet)} of carbon dioxide and the limit is {_mg(limit)}, "
            "so no flow can carry any off; let the water fall and splash through air before it returns."
        )
    return production / room


@takes_quantities
def duty(on: Time, off: Time) -> Number:
    """The share of the time that a pump on a timer runs.

    on: Minutes on, each round.
    off: Minutes off, each round; 0 for a pump that never stops.
    returns: Above 0, up to 1.

    Source: Definition. 15 min on, 45 min off is common practice (FAO Technical Paper 589 §4.3, from memory).

    >>> from aquaplumb.fish import circulation
    >>> from aquaplumb import u
    >>> print(circulation.duty(15 * u.min, 45 * u.min))
    0.25
    """
    if not_above(on, 0) or below(off, 0):
        raise DesignError("duty: a pump has to be on for more than 0 minutes and off for 0 or more, such as 15 on and 45 off.")
    return on / (on + off)


def _mg(concentration) -> str:
    """A concentration, or the span of an array of them, in mg/L."""
    low, high = np.min(concentration) * 1e3, np.max(concentration) * 1e3
    return f"{low:.3g} mg/L" if low == high else f"{low:.3g} to {high:.3g} mg/L"

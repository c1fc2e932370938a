"""A pipe that falls and runs full: how much it carries, and whether it does run full.

All of it is reached through `drains`: ``drains.full_bore_flow("1 m", "26 mm", "1.5 m")``.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import water
from aquaplumb.plumbing.pipes import ROUGHNESS, factor_and_slope, friction_head, speed
from aquaplumb.units import (
    BORE,
    GRAVITY,
    LENGTH,
    Bore,
    DesignError,
    Flow,
    Head,
    Length,
    Number,
    Temperature,
    below,
    not_above,
    takes_quantities,
)

__all__ = ["FULL", "GULPING", "MAY_FILL", "flow_at_froude", "froude", "full_bore_flow", "full_bore_head"]

GULPING, MAY_FILL, FULL = 0.3, 1.0, 2.0  # Froude numbers where a falling pipe starts to; see `drains.standpipe_regime`
_STILL = 1e-12  # m: a fall under this drives nothing


@takes_quantities
def froude(flow: Flow, bore: Bore) -> Number:
    """The Froude number of a flow in a falling pipe, as if it filled the bore.

    returns: Under 0.3 air gets out freely; over 1 to 2 the pipe runs full.

    Fr = v / √(g D), v = Q / (π D²/4).

    Source: Hills, Chemical Engineering 1983 (quoted): 36 m³/h in 180 mm is 0.296.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.froude("36 m3/h", "180 mm"), 3))
    0.296
    """
    return np.abs(speed.si(flow, bore)) / np.sqrt(GRAVITY * bore)


@takes_quantities
def flow_at_froude(froude: Number, bore: Bore) -> Flow:
    """The flow in a falling pipe at a Froude number: the inverse of `froude`.

    froude: 0.3 for the most that stays quiet.

    Source: as `froude`.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.flow_at_froude(0.3, "52.5 mm").to("L/min")))
    28 L/min
    """
    sound_bore(bore)
    return froude * (np.pi / 4.0) * np.sqrt(GRAVITY) * np.power(bore, 2.5)


@takes_quantities
def full_bore_head(
    flow: Flow,
    bore: Bore,
    length: Length,
    *,
    k: Number = 1.5,
    roughness: Length = ROUGHNESS,
    temperature: Temperature = 293.15,
) -> Head:
    """The fall that a full pipe needs for a flow: friction, fittings, entrance and exit.

    k: Of all fittings with the entrance (0.5) and the exit (1.0); those two alone unless given.

    h = (K + f L/D) v²/2g.

    Source: Darcy–Weisbach, see `pipes.friction_head`.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.full_bore_head("90 L/min", "26.64 mm", "1 m"), 2))
    0.83 m
    """
    v = speed.si(flow, bore)
    straight = friction_head.si(flow, bore, length, roughness=roughness, temperature=temperature)
    return straight + k * v * np.abs(v) / (2.0 * GRAVITY)


@takes_quantities
def full_bore_flow(
    fall: Head,
    bore: Bore,
    length: Length,
    *,
    k: Number = 1.5,
    roughness: Length = ROUGHNESS,
    temperature: Temperature = 293.15,
) -> Flow:
    """The flow of a pipe that runs full from one water level down to another: the inverse of `full_bore_head`.

    fall: From the upper water level to the lower one, or to the end of the pipe where it ends free. At or under 0
        nothing flows.
    k: Of all fittings with the entrance (0.5) and the exit (1.0); those two alone unless given. 0 only in the midst of a longer pipe.

    (K + f L/D) v²/2g = fall, solved for ln v by Newton steps.

    Source: Darcy–Weisbach, see `pipes.friction_head`.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.full_bore_flow("1 m", "26.64 mm", "1 m").to("L/min")))
    99 L/min
    """
    if below(k, 0) or not_above(np.maximum(k, length), 0):
        raise DesignError("k has to be more than 0: the exit alone is 1.")
    sound_bore(bore)
    if below(length, 0):
        raise DesignError(f"the length is {LENGTH.text(np.min(length))}; it cannot be negative.")
    slim = np.divide(length, bore)
    drive = 2.0 * GRAVITY * np.maximum(fall, _STILL)
    per_speed, rough = bore / water.kinematic_viscosity.si(temperature), np.divide(roughness, bore)
    v = np.sqrt(drive / (k + 0.02 * slim))
    for turn in range(60):
        f, slope = factor_and_slope(per_speed * v, rough)
        loss = k + f * slim
        step = np.log(drive / (loss * v * v)) / (2.0 + slope * f * slim / loss)
        # Where f is a cubic (Re 2000 to 4000) whole steps might go to and fro for ever; half steps cannot.
        v = v * np.exp(step if turn < 8 else 0.5 * step)
        if np.abs(step).max() < (1e-7 if turn < 8 else 1e-13):  # whole steps square the error
            break
    return np.where(np.greater(fall, _STILL), v * (np.pi / 4.0) * np.square(bore), 0.0)[()]


def in_words(words: tuple[str, ...], *reached):
    """The word for how many of the ordered conditions hold; a plain str for a scalar."""
    count = sum(np.asarray(condition, int) for condition in reached)
    return words[int(count)] if np.ndim(count) == 0 else np.array(words)[count]


def sound_bore(bore) -> None:
    """Refuse a bore that is not more than 0."""
    if not_above(bore, 0):
        raise DesignError(f"the bore is {BORE.text(np.min(bore))}; it needs to be more than 0, such as {BORE.example}.")

"""Pipe: its true bore, how fast water runs in it, and the head that friction takes.

The bore is not the size on the label: "1 in" Schedule 40 is 26.1 mm inside, "32 mm" PN16 is 27.2 mm, and
friction goes with nearly the fifth power of it. `bore` reads it from ``data/pipes.csv``; `friction_head` is
Darcy–Weisbach with Colebrook's factor and water's viscosity at its temperature.
"""

from __future__ import annotations

import numpy as np
from scipy.special import wrightomega

from aquaplumb import water
from aquaplumb.plumbing.pipe_sizes import PipeSize, bore, pipe_size, pressure_rating, sizes, standards
from aquaplumb.units import (
    BORE,
    GRAVITY,
    LENGTH,
    NUMBER,
    Bore,
    DesignError,
    Flow,
    Head,
    Length,
    Number,
    Speed,
    Temperature,
    below,
    check_range,
    not_above,
    takes_quantities,
)

__all__ = [
    "GRAVITY", "NEAR", "ROUGHNESS", "SPEED_HIGH", "SPEED_LOW", "PipeSize", "bore", "factor_and_slope", "friction_factor",
    "friction_head", "pipe_size", "pressure_rating", "reynolds", "sizes", "speed", "standards",
]  # fmt: skip

ROUGHNESS = 1.5e-6  # m, PVC and drawn tubing: lmnoeng.com and makers' pages, see `friction_head`
SPEED_LOW = 0.61  # m/s: below it solids settle, in pumped pipe as in drains (2 ft/s, ASPE Data Book vol. 2; some say 3)
NEAR = 0.02  # of a limit of speed: no sharper than that; common practice, no source
SPEED_HIGH = 1.5  # m/s: above it noise and water hammer (5 ft/s, footnote of the class 160 PVC friction table)

LAMINAR, TURBULENT = 2000.0, 4000.0  # Reynolds numbers between which nobody knows the factor
_A = 2.0 / np.log(10.0)  # Colebrook: 1/√f = −A ln(ε/3.7 + 2.51/(Re √f))
_RE, _ROUGH, _F = 1.0 / (2.51 * _A), 1.0 / (3.7 * 2.51 * _A), 1.0 / _A**2
_STILL = 1e-9  # the smallest Reynolds number, so that 64/Re stays finite where water stands


# --- friction -----------------------------------------------------------------------------------


def factor_and_slope(reynolds, relative_roughness):
    """Darcy's friction factor and its slope in the logarithms, for Newton steps; bare numbers, no door.

    Parameters
    ----------
    reynolds : scalar or array
        Reynolds number, not negative. Below 1e-9 it counts as 1e-9, so the factor stays finite.
    relative_roughness : scalar or array
        Roughness over bore.

    Returns
    -------
    tuple of scalar or array
        The factor f and d ln f / d ln Re: −1 in laminar flow, near −0.2 in smooth turbulent flow.
        The head's slope follows as dh/dQ = (2 + slope) h/Q; where Q can be zero, floor it first.

    Notes
    -----
    With Wright's ω, w = ω(ln(Re/(2.51 A)) + b), b = ε Re/(3.7 · 2.51 A) and A = 2/ln 10, Colebrook is
    1/√f = A (w − b) exactly, and its slope is −2/(1 + w): no iteration, one special function.

    Source: Colebrook (1939); its solution by ω: Corless et al., "On the Lambert W function" (1996), and
    Clamond (2009), both from memory. See `friction_factor`.
    """
    turbulent = np.maximum(reynolds, TURBULENT)
    rough = relative_roughness * (_ROUGH * turbulent)
    w = wrightomega(np.log(_RE * turbulent) + rough)
    f = _F / (w - rough) ** 2
    slope = -2.0 / (1.0 + w)
    not_turbulent = np.less(reynolds, TURBULENT)
    if not not_turbulent.any():
        return f, slope
    # Below 4000, f and slope are those at 4000: what the cubic has to meet at its upper end.
    low = np.maximum(reynolds, _STILL)
    x = low / LAMINAR - 1.0
    upper = 0.5 * f * slope
    c2, c3 = 3.0 * f - 0.032 - upper, upper + 0.032 - 2.0 * f
    between = 0.032 + x * (-0.032 + x * (c2 + x * c3))
    between_slope = (x + 1.0) * (-0.032 + x * (2.0 * c2 + 3.0 * x * c3)) / between
    still = low <= LAMINAR
    f = np.where(not_turbulent, np.where(still, 64.0 / low, between), f)[()]
    slope = np.where(not_turbulent, np.where(still, -1.0, between_slope), slope)[()]
    return f, slope


@takes_quantities
def friction_factor(reynolds: Number, relative_roughness: Number = 0.0) -> Number:
    """Darcy's friction factor of a full round pipe.

    Laminar, 64/Re, up to Re 2000; Colebrook, solved exactly, from Re 4000. Between the two the flow flickers
    and *nobody knows the factor*; there a cubic in Re meets both ends in value and slope, so that a solver
    or a slider sees no step. The factor is Darcy's (four times Fanning's).

    reynolds: Reynolds number, speed × bore / kinematic viscosity.
    relative_roughness: Roughness over bore, from 0 (smooth) to 0.05.

    Colebrook: 1/√f = −2 log10(ε/3.7 + 2.51/(Re √f)).

    Source: Colebrook (1939); range of relative roughness as on Moody's chart, 0 to 0.05.

    >>> from aquaplumb.plumbing import pipes
    >>> print(round(pipes.friction_factor(100_000, 0.001), 4))
    0.0222
    """
    if below(reynolds, 0):
        raise DesignError("friction_factor: the Reynolds number is negative; it is speed × bore / viscosity, 0 or more.")
    check_range(relative_roughness, 0.0, 0.05, NUMBER, "friction_factor: relative_roughness", "Colebrook's formula")
    return factor_and_slope(reynolds, relative_roughness)[0]


@takes_quantities
def speed(flow: Flow, bore: Bore) -> Speed:
    """The mean speed of the water in a full pipe.

    Below 0.61 m/s solids settle; above 1.5 m/s pipes are noisy and hammer (`SPEED_LOW`, `SPEED_HIGH`).

    bore: The inside diameter, see `bore`.

    v = Q / (π D²/4).

    Source: continuity. The limits: ASPE Data Book vol. 2 (2 ft/s); PVC friction tables and Engineering
    ToolBox (5 ft/s).

    >>> from aquaplumb.plumbing import pipes
    >>> print(round(pipes.speed("2000 L/h", "26.14 mm"), 2))
    1.04 m/s
    """
    _positive(bore, BORE, "the bore")
    return flow * (4.0 / np.pi) / bore**2


@takes_quantities
def reynolds(flow: Flow, bore: Bore, *, temperature: Temperature = 293.15) -> Number:
    """The Reynolds number of a full pipe: under 2000 laminar, over 4000 turbulent.

    flow: In either direction; the number is positive.
    temperature: The water's, 20 °C unless given.

    Re = v D / ν = 4 Q / (π D ν).

    Source: its definition, with `water.kinematic_viscosity`.

    >>> from aquaplumb.plumbing import pipes
    >>> print(round(pipes.reynolds("1000 L/h", "26.14 mm"), -2))
    13500.0
    """
    _positive(bore, BORE, "the bore")
    return np.abs(flow) * (4.0 / np.pi) / (bore * water.kinematic_viscosity.si(temperature))


@takes_quantities
def friction_head(flow: Flow, bore: Bore, length: Length, *, roughness: Length = ROUGHNESS, temperature: Temperature = 293.15) -> Head:
    """The head that a straight run of full pipe costs.

    flow: A negative flow runs backward and gives a negative head.
    bore: The inside diameter, see `bore`.
    roughness: 1.5 µm unless given: new PVC. 7 µm, for old pipe, adds about 3 % in 1 in pipe.
    temperature: The water's, 20 °C unless given. At 5 °C friction is about a tenth more.

    h = f (L/D) v |v| / 2g, f from `friction_factor`. Slime in a pipe that has run for a year adds to it; we know
    of no measured figure, so leave the pump a margin.

    Source: Darcy–Weisbach; roughness of drawn tubing, lmnoeng.com (0.0015 mm).

    >>> from aquaplumb.plumbing import pipes
    >>> print(round(pipes.friction_head("2000 L/h", "26.14 mm", "10 m"), 2))
    0.51 m
    """
    _positive(bore, BORE, "the bore")
    _not_negative(length, LENGTH, "the length")
    v = flow * (4.0 / np.pi) / bore**2
    fast = np.abs(v)
    f, _ = factor_and_slope(fast * bore / water.kinematic_viscosity.si(temperature), roughness / bore)
    return f * (length / bore) * v * fast / (2.0 * GRAVITY)


def _positive(value, kind, what: str) -> None:
    if not_above(value, 0):
        raise DesignError(f"{what} is {kind.text(np.min(value))}; it needs to be more than 0, such as {kind.example}.")


def _not_negative(value, kind, what: str) -> None:
    if below(value, 0):
        raise DesignError(f"{what} is {kind.text(np.min(value))}; it cannot be negative.")

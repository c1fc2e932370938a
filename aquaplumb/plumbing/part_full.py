"""Drains that slope and run part full, with air over the water.

All of it is reached through `drains`: ``drains.gravity_flow("52 mm", 0.02)``.
"""

from __future__ import annotations

import functools

import numpy as np

from aquaplumb.plumbing.full_pipe import sound_bore
from aquaplumb.plumbing.pipes import SPEED_LOW
from aquaplumb.units import NUMBER, Bore, DesignError, Flow, Number, Speed, below, check_range, takes_quantities

MANNING = 0.011  # PVC: 0.009 (JM Eagle, from tests), 0.010 (road tables), 0.011 (ASCE, low end); the slow one
SCOUR_SPEED = SPEED_LOW  # the least that keeps solids moving

_FULLEST = 5.278107137  # the wetted angle at which Manning's flow is greatest: 94 % full
_TINY = 1e-12
_SPACING = 0.01  # of the table by which `gravity_fill` starts, in ln of the angle


def _shape(fill):
    """(angle, angle − sine): the wetted angle of a round pipe, and 8/D² times the wetted area."""
    check_range(fill, 0.0, 1.0, NUMBER, "the fill", "a depth over the bore")
    angle = 2.0 * np.arccos(1.0 - 2.0 * np.asarray(fill, float))
    return angle, angle - np.sin(angle)


def _full_flow(bore, slope, manning_n):
    """Manning's flow over the shape factor (θ − sin θ)^(5/3) θ^(−2/3)."""
    sound_bore(bore)
    if below(slope, 0):
        raise DesignError("the slope is negative; it is the fall over the length, such as 0.02 (2 cm in a metre).")
    check_range(manning_n, 0.007, 0.03, NUMBER, "Manning's n", "Manning's formula for pipe")
    return np.power(bore, 8 / 3) * np.sqrt(slope) / (manning_n * 8.0 * 4.0 ** (2 / 3))


@takes_quantities
def gravity_flow(bore: Bore, slope: Number, *, manning_n: Number = MANNING, fill: Number = 0.5) -> Flow:
    """The flow of a sloping drain that runs part full, with air over the water.

    Half full is the usual design: it keeps the air way open. Long enough for the flow to be even: some 20 bores.

    slope: Fall over length: 0.02 is 2 cm in a metre, about ¼ in per foot.
    manning_n: 0.011 unless given: 0.009 for clean PVC in tests, 0.010 and 0.011 in tables.
    fill: Depth over bore. The flow is greatest at 0.94, 7 % more than at 1.

    Q = A R^(2/3) √S / n with the round pipe's exact area A and hydraulic radius R.

    Source: Manning. n: JM Eagle (0.009), FHWA-type tables (0.010), ASCE (0.011).

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.gravity_flow("52 mm", 0.02).to("L/min")))
    45 L/min
    """
    angle, area = _shape(fill)
    shape = area ** (5 / 3) * np.maximum(angle, _TINY) ** (-2 / 3)
    return _full_flow(bore, slope, manning_n) * shape


@takes_quantities
def gravity_speed(bore: Bore, slope: Number, *, manning_n: Number = MANNING, fill: Number = 0.5) -> Speed:
    """The speed of the water in a sloping drain that runs part full.

    Under 0.61 m/s (2 ft/s, `SCOUR_SPEED`) fish waste settles in it.

    slope: Fall over length.
    fill: Depth over bore.

    v = R^(2/3) √S / n.

    Source: Manning, as `gravity_flow`; the limit, ASPE Data Book vol. 2.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.gravity_speed("52 mm", 0.02), 2))
    0.71 m/s
    """
    angle, area = _shape(fill)
    shape = (area / np.maximum(angle, _TINY)) ** (2 / 3)
    return _full_flow(bore, slope, manning_n) * shape * 8.0 / np.square(bore)


@takes_quantities
def gravity_fill(flow: Flow, bore: Bore, slope: Number, *, manning_n: Number = MANNING) -> Number:
    """How full a sloping drain runs at a flow: the inverse of `gravity_flow`.

    slope: Fall over length.
    returns: Depth over bore, up to 0.94; 1 where the flow is more than the drain can carry with a free surface: it then
        runs full and backs up.

    Source: Manning, as `gravity_flow`; solved from a table by four Newton steps.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.gravity_fill("45 L/min", "52 mm", 0.02), 1))
    0.5
    """
    capacity = _full_flow(bore, slope, manning_n)
    wanted = np.maximum(flow, 0.0) / np.maximum(capacity, _TINY * _TINY)
    log_shape, below, log_angle = _table()
    most = log_shape[-1]
    target = np.minimum(np.log(np.maximum(wanted, _TINY * _TINY)), most)
    # By the root of the distance from the top the angle is nearly straight, there where Newton's steps fail.
    guess = np.interp(-np.sqrt(most - target), below, log_angle) + np.minimum(target - log_shape[0], 0.0) * (3 / 13)
    for _ in range(4):
        angle = np.exp(guess)
        area = angle - np.sin(angle)
        slip = (5 / 3) * np.log(area) - (2 / 3) * guess - target
        steep = (5 / 3) * angle * (1.0 - np.cos(angle)) / area - 2 / 3
        # At its greatest the flow does not change with the angle; a step there stays within the table's spacing.
        guess = guess - np.clip(slip / np.maximum(steep, 1e-9), -_SPACING, _SPACING)
    fill = 0.5 * (1.0 - np.cos(0.5 * np.minimum(np.exp(guess), _FULLEST)))
    return np.where(wanted > np.exp(most) * (1.0 + 1e-12), 1.0, np.where(np.less_equal(flow, 0), 0.0, fill))[()]


@functools.cache
def _table():
    """ln of Manning's shape factor against ln of the wetted angle, from nearly dry to the fullest flow."""
    log_angle = np.arange(np.log(_FULLEST), np.log(0.05), -_SPACING)[::-1]
    angle = np.exp(log_angle)
    log_shape = (5 / 3) * np.log(angle - np.sin(angle)) - (2 / 3) * log_angle
    return log_shape, -np.sqrt(log_shape[-1] - log_shape), log_angle

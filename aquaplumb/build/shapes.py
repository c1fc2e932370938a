"""Shapes of vessels as bare numbers: how wide, how much they hold up to a depth. `aquaplumb.build.vessels` says them as quantities.

`v` is a bare vessel record; all numbers are of one vessel, and media are not in them.
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.units import Bare

SIZES = {  # what each shape is measured by
    "round": ("diameter",), "rectangular": ("length", "width"), "cone-bottomed": ("diameter", "cone_height"), "lying": ("length", "diameter"),
}  # fmt: skip
_ALONG, _WEIGHTS = np.polynomial.legendre.leggauss(48)  # along a sloping pipe, from −1 to 1


def segment(depth, diameter):
    """The area of a circle up to a depth. Source: plane geometry, r² acos(1 − d/r) − (r − d) √(2 r d − d²)."""
    r = np.asarray(diameter) / 2
    d = np.clip(depth, 0.0, 2 * r)
    return r**2 * np.arccos(np.clip(1 - d / r, -1.0, 1.0)) - (r - d) * np.sqrt(np.maximum(2 * r * d - d**2, 0.0))


def top_area(v: Bare) -> float:
    """The area seen from above, at the rim or where it is widest below."""
    if v.shape == "rectangular":
        return v.length * v.width
    if v.shape == "lying":
        half = min(v.height, v.diameter / 2)
        return v.length * 2 * math.sqrt(max(half * (v.diameter - half), 0.0))
    return math.pi * v.diameter**2 / 4


def around(v: Bare) -> float:
    """How long it is round its wall."""
    if v.shape in ("rectangular", "lying"):
        return 2 * (v.length + (v.width or v.diameter))
    return math.pi * v.diameter


def bend(v: Bare) -> tuple[float, float]:
    """(depth, power): up to that depth the water grows with this power of it, above with the plan area.

    A cone's with the third power, that at the foot of a sloping channel, a wedge, with the second, that between media with the first.
    A lying drum knows no such depth: see `curved`.
    """
    if curved(v):
        return 0.0, 1.0
    if v.shape == "cone-bottomed":
        return v.cone_height, 3.0
    return (v.slope * v.length, 2.0) if v.slope else (v.media_depth or 0.0, 1.0)


def curved(v: Bare) -> bool:
    """Whether its plan area changes all the way up, so that only a table tells its depths."""
    return v.shape == "lying"


def held(v: Bare, depth):
    """What one holds up to a depth, media left out; beyond the rim as if its walls went on, but for a lying one.

    Source: plane geometry; a cone holds a third of its cylinder, a wedge a half; a lying one the segment of its circle, at a slope its
    mean along the pipe (Gauss and Legendre).
    """
    if curved(v):
        if not v.slope:
            return v.length * segment(depth, v.diameter)
        wet = np.minimum(v.length, np.asarray(depth) / v.slope)  # so far up the pipe there is water
        here = np.asarray(depth)[..., None] - v.slope * wet[..., None] * (1 + _ALONG) / 2
        return wet * (segment(here, v.diameter) @ _WEIGHTS) / 2
    area, (low, power) = top_area(v), bend(v)
    if power == 1.0:
        return area * depth
    return area * low / power * (np.minimum(depth, low) / low) ** power + area * np.maximum(depth - low, 0.0)

"""Brackets: how far apart plastic pipe may be held, full of water and warm, and how many that makes.

Tables in print differ, so the smaller distance of a table and of the usual plumbing code is taken: pipe that sags
traps air and solids. Valves and other heavy pieces want a bracket of their own.
"""

from __future__ import annotations

import functools

import numpy as np

from aquaplumb import tables
from aquaplumb.units import (
    BORE,
    LENGTH,
    TEMPERATURE,
    Bore,
    DesignError,
    Length,
    Number,
    Temperature,
    below,
    check_range,
    not_above,
    takes_quantities,
)

CODE_SMALL, CODE_LARGE = 0.9144, 1.2192  # m: 3 ft to 1 in, 4 ft above, most US plumbing codes (Charlotte Pipe's manual)
_SOFT = 0.5  # of the distance for PVC: polyethylene; common practice, no source
_ONE_INCH = 0.0335  # m, outside diameter up to which a pipe counts as small: 1 in pipe is 33.4 mm


@tables.table_type("supports")
class Support(tables.Row):
    """The distance of brackets for one size of pipe at one temperature.

    Source: ``data/supports.csv``, each row with its own.
    """

    standard: str
    size: str
    outside_diameter: Bore
    temperature: Temperature
    spacing: Length


@functools.cache
def _sizes(standard: str) -> list[tuple[float, list[float], list[float]]]:
    """(outside diameter, temperatures, spacings) of each size of a standard, smallest first."""
    found: dict[float, tuple[list[float], list[float]]] = {}
    for row in tables.table("supports").values():
        if row.si.standard == standard:
            warm, apart = found.setdefault(row.si.outside_diameter, ([], []))
            warm.append(row.si.temperature)
            apart.append(row.si.spacing)
    return [(outside, *found[outside]) for outside in sorted(found)]


@takes_quantities
def support_spacing(outside_diameter: Bore, temperature: Temperature, *, standard: str = "", code: bool = True) -> Length:
    """The largest distance between two brackets on level pipe that is full of water.

    outside_diameter (one value):
    temperature: The warmest that the pipe gets, up to 60 °C. Pipe in the sun is hotter than its water.
    standard: "Sch 40" or "Sch 80"; any other counts as metric pipe, whose wall is thinner.
    code: Whether the usual plumbing code caps it: 3 ft (0.91 m) up to 1 in pipe, 4 ft (1.22 m) above.
    returns: Pipe that stands upright may have more; ask your code.

    Straight lines between the printed temperatures, the coldest column below it. A size that is not in the table has
    the distance of the next smaller one. Thin-walled inch pipe (SDR 21, SDR 26) and drain pipe go by the metric table,
    polyethylene, which sags, by half of it (common practice, no source).

    Source: ``data/supports.csv``; the caps: Charlotte Pipe's manual on what most plumbing codes ask.

    >>> print(round(support_spacing("33.4 mm", "100 degF", standard="Sch 40", code=False).to("ft"), 2))
    4.5 ft
    """
    if not outside_diameter > 0:
        raise DesignError(
            f"support_spacing: the pipe's outside diameter is {BORE.text(outside_diameter)}; it needs more than 0, such as 33.4 mm."
        )
    check_range(temperature, 223.15, 333.15, TEMPERATURE, "support_spacing: temperature", "the table of supports")
    sizes = _sizes(standard if standard in ("Sch 40", "Sch 80") else "metric")
    fitting = [row for row in sizes if row[0] <= outside_diameter * (1 + 1e-3)] or sizes[:1]
    _, warm, apart = fitting[-1]
    spacing = np.interp(temperature, warm, apart) * (_SOFT if standard.startswith("PE ") else 1.0)
    if code:
        spacing = np.minimum(spacing, CODE_SMALL if outside_diameter < _ONE_INCH else CODE_LARGE)
    return spacing


@takes_quantities
def bracket_count(length: Length, spacing: Length) -> Number:
    """How many brackets hold a run of pipe: one at each end, and between them none further apart than the spacing.

    spacing: See `support_spacing`.
    returns: None for no pipe.

    Source: Counting; a bracket at each end is common practice, no source.

    >>> print(bracket_count("5 m", "1.2 m"))
    6.0
    """
    if not_above(spacing, 0):
        raise DesignError(f"bracket_count: the spacing is {LENGTH.text(np.min(spacing))}; it needs more than 0, such as 1 m.")
    if below(length, 0):
        raise DesignError(f"bracket_count: the length is {LENGTH.text(np.min(length))}; it cannot be negative.")
    spans = np.ceil(np.divide(length, spacing) * (1 - 1e-12))
    return np.where(np.greater(length, 0), spans + 1.0, 0.0)[()]

"""The pipe table: what the label says, the bore that is really there, and the pressure it may carry.

All of it is reached through `pipes`: ``pipes.bore("1 in", "Sch 40")``.
"""

from __future__ import annotations

import functools
import re

import numpy as np

from aquaplumb import tables
from aquaplumb.given import takes_things
from aquaplumb.units import (
    LENGTH,
    TEMPERATURE,
    Bore,
    DesignError,
    Pressure,
    Quantity,
    Temperature,
    check_range,
    quantity,
    takes_quantities,
)


@tables.table_type("pipes")
class PipeSize(tables.Row):
    """One size of pipe: what the label says, and what is really there."""

    standard: str
    size: str
    outside_diameter: Bore
    wall_min: Bore  # the thinnest wall that the standard allows
    bore_minimum_wall: Bore
    bore_average: Bore | None  # of the pipe as made, where print has it
    pressure_rating: Pressure | None  # cold: 73 °F for inch pipe, 20 °C for metric; None for drain pipe
    joined_by: str  # "cement", "push" (into ring seals) or "clamp" (compression fittings, barbs)
    made_for: str  # "pressure" or "drain"


@functools.cache
def _by_standard() -> dict[str, dict[str, PipeSize]]:
    found: dict[str, dict[str, PipeSize]] = {}
    for row in tables.table(PipeSize).values():
        found.setdefault(row.si.standard, {})[row.si.size] = row
    return found


def _of(standard: str) -> dict[str, PipeSize]:
    """The sizes of a standard by their labels; one of a builder's own carries them."""
    if isinstance(standard, tables.OwnName):
        return {row.si.size: row for row in standard.rows if isinstance(row, PipeSize)}
    return _by_standard()[standard]


def standards() -> list[str]:
    """The pipe standards in the table.

    Inch: "Sch 40", "Sch 80", "SDR 21", "SDR 26", "BS class C", "D" and "E", "PE SIDR 15". Metric: "PN6", "PN10", "PN16", "PE SDR 17", "PE SDR 11";
    "AS PN9", "PN12" and "PN18" and "JIS VP" by labels that are not the outside. For drains alone: "EN 1329", "EN 1451", "EN 1401", "JIS VU".

    Source: ``data/pipes.csv``, each row with its own.

    Examples
    --------
    >>> from aquaplumb.plumbing import pipes
    >>> pipes.standards()[0]
    'Sch 40'
    """
    return list(_by_standard())


@takes_things
def sizes(standard: str) -> list[str]:
    """The sizes that a standard has in the table, smallest first.

    standard: Such as "Sch 40" or "PN16".

    Source: ``data/pipes.csv``, each row with its own.

    >>> from aquaplumb.plumbing import pipes
    >>> pipes.sizes("PN10")[:3]
    ['25 mm', '32 mm', '40 mm']
    """
    return list(_of(standard_named(standard)))


@takes_quantities
def next_size(wanted: Bore, standard: str) -> str | None:
    """The smallest size of a standard whose bore is at least so wide; None where the table has none so wide.

    wanted (one value):
    standard: Such as "Sch 40" or "PN16".
    returns: Such as "1 1/4 in".

    Source: ``data/pipes.csv``, each row with its own.

    >>> from aquaplumb.plumbing import pipe_sizes
    >>> pipe_sizes.next_size("30 mm", "Sch 40")
    '1 1/4 in'
    """
    name = standard_named(standard)
    return next((size for size in sizes(name) if bore.si(size, name) >= wanted * 0.9999), None)


@functools.cache
def standard_named(text: str) -> str:
    """The table's name of a standard, however it was written ("schedule 40", "SDR-21", "pn 16")."""
    if isinstance(text, tables.OwnName):
        return text
    squeezed = re.sub(r"[\s.\-_]", "", str(text)).casefold().replace("schedule", "sch")
    for name in _by_standard():
        if squeezed == name.replace(" ", "").casefold():
            return name
    raise DesignError(tables.unknown("pipe table", text, _by_standard()))


@takes_things
def pipe_size(size: str | Quantity, standard: str) -> PipeSize:
    """All that the table knows of one size of pipe.

    size: The size on the label, however it is written: "1 in", "1-1/2 in", "1½ in", '1 1/2"', "32 mm".
    standard: Such as "Sch 40" or "PN16", see `standards`.

    Source: ``data/pipes.csv``, each row with its own.

    >>> from aquaplumb.plumbing import pipes
    >>> print(round(pipes.pipe_size("1 in", "Sch 40").outside_diameter.to("mm"), 1))
    33.4 mm
    """
    return _pipe_size(f"{size:.9g~P}" if isinstance(size, Quantity) else str(size), standard_named(standard))


@functools.lru_cache(maxsize=1000)
def _pipe_size(size: str, standard: str) -> PipeSize:
    rows = _of(standard)
    if size in rows:
        return rows[size]
    tidy = re.sub(r"(\d)\s*[-\u2013]\s*(?=\d)", r"\1 ", size.strip()).replace("″", '"').replace("”", '"')
    try:
        wanted = quantity(tidy, LENGTH).m_as("m")
    except DesignError:
        raise DesignError(f"I cannot read '{size:.40}' as a pipe size; {standard} has {', '.join(rows)}.") from None
    for name, row in rows.items():
        if abs(wanted / quantity(name).m_as("m") - 1.0) < 1e-6:
            return row
    raise DesignError(f"there is no {size} pipe in {standard}; {standard} has {', '.join(rows)}.")


@takes_quantities
def bore(size: str | Quantity, standard: str, *, wall: str = "average") -> Bore:
    """The inside diameter of a size of pipe.

    Two bores of the same inch pipe are in print: the one that the thinnest allowed wall leaves, and the one of
    the pipe as made, whose wall is thicker. The first makes friction come out 10 % too small at 1 in (17 % at
    ½ in), so the average is used unless you ask. Where no average is known (metric pipe) it is the first.

    size: The size on the label: "1 in", "1-1/2 in", "32 mm".
    standard: Such as "Sch 40" or "PN16", see `standards`.
    wall: "average" or "minimum".
    returns (one value):

    Average bore = OD − 2 (t + ½ max(0.020 in, 0.12 t)), t the minimum wall: it gives makers' averages to 0.001 in.

    Source: ASTM D1785, D2241; DIN 8062 and ISO 4065; makers' tables: see each row of ``data/pipes.csv``.

    >>> from aquaplumb.plumbing import pipes
    >>> print(round(pipes.bore("1 in", "Sch 40").to("mm"), 1))
    26.1 mm
    """
    if wall not in ("average", "minimum"):
        raise DesignError(f"wall is '{wall}'; it is 'average' (the pipe as made) or 'minimum' (the thinnest allowed).")
    row = pipe_size(size, standard).si
    return row.bore_minimum_wall if wall == "minimum" or row.bore_average is None else row.bore_average


# What is left of the cold rating as PVC warms, (°C, share). Inch: harvel.com and PPFA User Bulletin 3-96, at
# 73, 80, 90 … 140 °F. Metric: DIN 8062, 20, 40 and 60 °C.
_INCH = ((22.78, 26.67, 32.22, 37.78, 43.33, 48.89, 54.44, 60.0), (1.0, 0.88, 0.75, 0.62, 0.51, 0.40, 0.31, 0.22))
_DERATING = {"PN16": ((20.0, 40.0, 60.0), (1.0, 10 / 16, 2.5 / 16)), "PN6": ((20.0, 40.0, 60.0), (1.0, 4 / 6, 0.0))}
_METRIC = ((20.0, 40.0, 60.0), (1.0, 0.6, 0.1))  # PN10; taken for all PVC whose own standard says nothing here, the lowest of them
_POLYETHYLENE = ((20.0, 30.0, 40.0, 50.0), (1.0, 0.87, 0.74, 0.0))  # EN 12201 to 40 °C, from memory; over 50 °C none


@takes_quantities
def pressure_rating(size: str | Quantity, standard: str, *, temperature: Temperature = 293.15) -> Pressure:
    """The pressure that a size of PVC pipe may carry at a temperature.

    For plain pipe with solvent-cement sockets, and for polyethylene. Drain pipe has no rating and is refused. A thread cut in Schedule 80 halves it; Schedule 40 is not to be
    threaded. PVC is never to be filled with compressed air: it shatters.

    temperature: Of the pipe, 0 to 60 °C; 20 °C unless given. Pipe in the sun is hotter than its water.

    Source: ratings ``data/pipes.csv``, row by row; shares left when warm: harvel.com and PPFA
    User Bulletin 3-96 (inch), DIN 8062 (metric).

    >>> from aquaplumb.plumbing import pipes
    >>> print(round(pipes.pressure_rating("1/2 in", "Sch 40", temperature="100 degF").to("psi")))
    372 psi
    """
    check_range(temperature, 273.15, 333.15, TEMPERATURE, "the pipe's temperature", "the rating of PVC pipe")
    row = pipe_size(size, standard).si
    if row.pressure_rating is None:
        raise DesignError(
            f"{row.size} {row.standard} has no pressure rating: drain pipe is not made for any; take pressure pipe where a pump pushes."
        )
    usual = _INCH if row.standard.startswith(("Sch", "SDR")) else _POLYETHYLENE if row.standard.startswith("PE ") else _METRIC
    warm, share = _DERATING.get(row.standard, usual)
    return row.pressure_rating * np.interp(np.asarray(temperature) - 273.15, warm, share)

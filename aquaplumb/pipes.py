"""Pipe: its true bore, how fast water runs in it, and the head that friction takes.

The bore is not the size on the label: "1 in" Schedule 40 is 26.1 mm inside, "32 mm" PN16 is 27.2 mm, and
friction goes with nearly the fifth power of it. `bore` reads it from ``data/pipes.csv``; `friction_head` is
Darcy–Weisbach with Colebrook's factor and water's viscosity at its temperature.
"""

from __future__ import annotations

import functools
import re

import numpy as np
from scipy.special import wrightomega

from aquaplumb import tables, water
from aquaplumb.units import (
    BORE,
    LENGTH,
    NUMBER,
    TEMPERATURE,
    Bore,
    DesignError,
    Flow,
    Head,
    Length,
    Number,
    Pressure,
    Quantity,
    Speed,
    Temperature,
    check_range,
    quantity,
    takes_quantities,
)

GRAVITY = 9.80665  # m/s², standard
ROUGHNESS = 1.5e-6  # m, PVC and drawn tubing: lmnoeng.com and makers' pages, see `friction_head`
SPEED_LOW = 0.6  # m/s: below it solids settle (2 ft/s, ASPE Data Book vol. 2)
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
    calm = np.less(reynolds, TURBULENT)
    if not calm.any():
        return f, slope
    # Below 4000, f and slope are those at 4000: what the cubic has to meet at its upper end.
    low = np.maximum(reynolds, _STILL)
    x = low / LAMINAR - 1.0
    upper = 0.5 * f * slope
    c2, c3 = 3.0 * f - 0.032 - upper, upper + 0.032 - 2.0 * f
    between = 0.032 + x * (-0.032 + x * (c2 + x * c3))
    between_slope = (x + 1.0) * (-0.032 + x * (2.0 * c2 + 3.0 * x * c3)) / between
    still = low <= LAMINAR
    f = np.where(calm, np.where(still, 64.0 / low, between), f)[()]
    slope = np.where(calm, np.where(still, -1.0, between_slope), slope)[()]
    return f, slope


@takes_quantities
def friction_factor(reynolds: Number, relative_roughness: Number = 0.0) -> Number:
    """Darcy's friction factor of a full round pipe.

    Laminar, 64/Re, up to Re 2000; Colebrook, solved exactly, from Re 4000. Between the two the flow flickers
    and *nobody knows the factor*; there a cubic in Re meets both ends in value and slope, so that a solver
    or a slider sees no step. The factor is Darcy's (four times Fanning's).

    Parameters
    ----------
    reynolds : Number, scalar or array
        Reynolds number, speed × bore / kinematic viscosity.
    relative_roughness : Number, scalar or array
        Roughness over bore, from 0 (smooth) to 0.05.

    Returns
    -------
    Number, scalar or array

    Notes
    -----
    Colebrook: 1/√f = −2 log10(ε/3.7 + 2.51/(Re √f)).

    Source: Colebrook (1939); range of relative roughness as on Moody's chart, 0 to 0.05.

    Examples
    --------
    >>> print(round(friction_factor(100_000, 0.001), 4))
    0.0222
    """
    if np.any(np.less(reynolds, 0)):
        raise DesignError("friction_factor: the Reynolds number is negative; it is speed × bore / viscosity, 0 or more.")
    check_range(relative_roughness, 0.0, 0.05, NUMBER, "friction_factor: relative_roughness", "Colebrook's formula")
    return factor_and_slope(reynolds, relative_roughness)[0]


@takes_quantities
def speed(flow: Flow, bore: Bore) -> Speed:
    """The mean speed of the water in a full pipe.

    Below 0.6 m/s solids settle; above 1.5 m/s pipes are noisy and hammer (`SPEED_LOW`, `SPEED_HIGH`).

    Parameters
    ----------
    flow : Flow, scalar or array [m³/s]
    bore : Bore, scalar or array [m]
        The inside diameter, see `bore`.

    Returns
    -------
    Speed, scalar or array [m/s]

    Notes
    -----
    v = Q / (π D²/4).

    Source: continuity. The limits: ASPE Data Book vol. 2 (2 ft/s); PVC friction tables and Engineering
    ToolBox (5 ft/s).

    Examples
    --------
    >>> print(round(speed("2000 L/h", "26.14 mm"), 2))
    1.04 m/s
    """
    _positive(bore, BORE, "the bore")
    return flow * (4.0 / np.pi) / bore**2


@takes_quantities
def reynolds(flow: Flow, bore: Bore, *, temperature: Temperature = 293.15) -> Number:
    """The Reynolds number of a full pipe: under 2000 laminar, over 4000 turbulent.

    Parameters
    ----------
    flow : Flow, scalar or array [m³/s]
        In either direction; the number is positive.
    bore : Bore, scalar or array [m]
    temperature : Temperature, scalar or array [K]
        The water's, 20 °C unless given.

    Returns
    -------
    Number, scalar or array

    Notes
    -----
    Re = v D / ν = 4 Q / (π D ν).

    Source: its definition, with `water.kinematic_viscosity`.

    Examples
    --------
    >>> print(round(reynolds("1000 L/h", "26.14 mm"), -2))
    13500.0
    """
    _positive(bore, BORE, "the bore")
    return np.abs(flow) * (4.0 / np.pi) / (bore * water.kinematic_viscosity.si(temperature))


@takes_quantities
def friction_head(
    flow: Flow, bore: Bore, length: Length, *, roughness: Length = ROUGHNESS, temperature: Temperature = 293.15
) -> Head:
    """The head that a straight run of full pipe costs.

    Parameters
    ----------
    flow : Flow, scalar or array [m³/s]
        A negative flow runs backward and gives a negative head.
    bore : Bore, scalar or array [m]
        The inside diameter, see `bore`.
    length : Length, scalar or array [m]
    roughness : Length, scalar or array [m]
        1.5 µm unless given: new PVC. 7 µm, for old pipe, adds about 3 % in 1 in pipe.
    temperature : Temperature, scalar or array [K]
        The water's, 20 °C unless given. At 5 °C friction is about a tenth more.

    Returns
    -------
    Head, scalar or array [m]

    Notes
    -----
    h = f (L/D) v |v| / 2g, f from `friction_factor`. Slime in a pipe that has run for a year adds to it; we know
    of no measured figure, so leave the pump a margin.

    Source: Darcy–Weisbach; roughness of drawn tubing, lmnoeng.com (0.0015 mm).

    Examples
    --------
    >>> print(round(friction_head("2000 L/h", "26.14 mm", "10 m"), 2))
    0.51 m
    """
    _positive(bore, BORE, "the bore")
    _not_negative(length, LENGTH, "the length")
    v = flow * (4.0 / np.pi) / bore**2
    fast = np.abs(v)
    f, _ = factor_and_slope(fast * bore / water.kinematic_viscosity.si(temperature), roughness / bore)
    return f * (length / bore) * v * fast / (2.0 * GRAVITY)


@takes_quantities
def hazen_williams_head(flow: Flow, bore: Bore, length: Length, *, c: Number = 150.0) -> Head:
    """The friction head by the old Hazen–Williams rule: only to compare with printed tables.

    Do not design with it: it does not know the water's temperature, and at the small flows of a home system
    it is 10 to 13 % low (½ in at 2 gpm, 1 in at 5 gpm). Use `friction_head`.

    Parameters
    ----------
    flow : Flow, scalar or array [m³/s]
    bore : Bore, scalar or array [m]
    length : Length, scalar or array [m]
    c : Number, scalar or array
        150 for plastic in most tables, 140 in some.

    Returns
    -------
    Head, scalar or array [m]

    Notes
    -----
    h = 0.2083 (100/C)^1.852 Q^1.852 / d^4.8655 in ft per 100 ft, with Q in US gal/min and d in inches.
    The forms in print differ by 1 %.

    Source: the form that the Plastic Pipe and Fittings Association (PPFA) prints.

    Examples
    --------
    >>> print(round(hazen_williams_head("10 gpm", "1.049 in", "100 ft").to("ft"), 2))
    5.54 ft
    """
    _positive(bore, BORE, "the bore")
    _not_negative(length, LENGTH, "the length")
    gpm, inches = np.abs(flow) / 6.30901964e-5, bore / 0.0254
    return np.sign(flow) * 0.2083 * (100.0 / c) ** 1.852 * gpm**1.852 / inches**4.8655 * length / 100.0


def _positive(value, kind, what: str) -> None:
    if np.any(np.less_equal(value, 0)):
        raise DesignError(f"{what} is {kind.text(np.min(value))}; it needs to be more than 0, such as {kind.example}.")


def _not_negative(value, kind, what: str) -> None:
    if np.any(np.less(value, 0)):
        raise DesignError(f"{what} is {kind.text(np.min(value))}; it cannot be negative.")


# --- sizes --------------------------------------------------------------------------------------


@tables.table_type("pipes")
class PipeSize(tables.Row):
    """One size of pipe: what the label says, and what is really there."""

    standard: str
    size: str
    outside_diameter: Bore
    wall_min: Bore  # the thinnest wall that the standard allows
    bore_minimum_wall: Bore
    bore_average: Bore | None  # of the pipe as made, where print has it
    pressure_rating: Pressure  # cold: 73 °F for inch pipe, 20 °C for metric


@functools.cache
def _by_standard() -> dict[str, dict[str, PipeSize]]:
    found: dict[str, dict[str, PipeSize]] = {}
    for row in tables.table("pipes").values():
        found.setdefault(row.si.standard, {})[row.si.size] = row
    return found


def standards() -> list[str]:
    """The pipe standards in the table: "Sch 40", "Sch 80", "SDR 21", "SDR 26" (inch), "PN10", "PN16" (metric).

    Source: ``data/pipes.csv``, each row with its own.

    Examples
    --------
    >>> standards()[0]
    'Sch 40'
    """
    return list(_by_standard())


def sizes(standard: str) -> list[str]:
    """The sizes that a standard has in the table, smallest first.

    Parameters
    ----------
    standard : str
        Such as "Sch 40" or "PN16".

    Source: ``data/pipes.csv``, each row with its own.

    Examples
    --------
    >>> sizes("PN10")[:3]
    ['25 mm', '32 mm', '40 mm']
    """
    return list(_by_standard()[_standard(standard)])


@functools.cache
def _standard(text: str) -> str:
    """The table's name of a standard, however it was written ("schedule 40", "SDR-21", "pn 16")."""
    squeezed = re.sub(r"[\s.\-_]", "", str(text)).casefold().replace("schedule", "sch")
    for name in _by_standard():
        if squeezed == name.replace(" ", "").casefold():
            return name
    raise DesignError(tables.unknown("pipe table", text, _by_standard()))


def pipe_size(size: str, standard: str) -> PipeSize:
    """All that the table knows of one size of pipe.

    Parameters
    ----------
    size : str
        The size on the label, however it is written: "1 in", "1-1/2 in", "1½ in", '1 1/2"', "32 mm".
    standard : str
        Such as "Sch 40" or "PN16", see `standards`.

    Returns
    -------
    PipeSize

    Source: ``data/pipes.csv``, each row with its own.

    Examples
    --------
    >>> print(round(pipe_size("1 in", "Sch 40").outside_diameter.to("mm"), 1))
    33.4 mm
    """
    return _pipe_size(f"{size:.9g~P}" if isinstance(size, Quantity) else str(size), _standard(standard))


@functools.lru_cache(maxsize=1000)
def _pipe_size(size: str, standard: str) -> PipeSize:
    rows = _by_standard()[standard]
    if size in rows:
        return rows[size]
    tidy = re.sub(r"(\d)\s*[-\u2013]\s*(?=\d)", r"\1 ", size.strip()).replace("″", '"').replace("”", '"')
    try:
        wanted = quantity(tidy, LENGTH).m_as("m")
    except DesignError:
        raise DesignError(f"I cannot read '{size}' as a pipe size; {standard} has {', '.join(rows)}.") from None
    for name, row in rows.items():
        if abs(wanted / quantity(name).m_as("m") - 1.0) < 1e-6:
            return row
    raise DesignError(f"there is no {size} pipe in {standard}; {standard} has {', '.join(rows)}.")


@takes_quantities
def bore(size: str, standard: str, *, wall: str = "average") -> Bore:
    """The inside diameter of a size of pipe.

    Two bores of the same inch pipe are in print: the one that the thinnest allowed wall leaves, and the one of
    the pipe as made, whose wall is thicker. The first makes friction come out 10 % too small at 1 in (17 % at
    ½ in), so the average is used unless you ask. Where no average is known (metric pipe) it is the first.

    Parameters
    ----------
    size : str
        The size on the label: "1 in", "1-1/2 in", "32 mm".
    standard : str
        Such as "Sch 40" or "PN16", see `standards`.
    wall : str
        "average" or "minimum".

    Returns
    -------
    Bore, scalar [m]

    Notes
    -----
    Average bore = OD − 2 (t + ½ max(0.020 in, 0.12 t)), t the minimum wall: it gives makers' averages to 0.001 in.

    Source: ASTM D1785, D2241; DIN 8062 and ISO 4065; makers' tables: see each row of ``data/pipes.csv``.

    Examples
    --------
    >>> print(round(bore("1 in", "Sch 40").to("mm"), 1))
    26.1 mm
    """
    if wall not in ("average", "minimum"):
        raise DesignError(f"wall is '{wall}'; it is 'average' (the pipe as made) or 'minimum' (the thinnest allowed).")
    row = pipe_size(size, standard).si
    return row.bore_minimum_wall if wall == "minimum" or row.bore_average is None else row.bore_average


# What is left of the cold rating as PVC warms, (°C, share). Inch: harvel.com and PPFA User Bulletin 3-96, at
# 73, 80, 90 … 140 °F. Metric: DIN 8062, 20, 40 and 60 °C.
_INCH = ((22.78, 26.67, 32.22, 37.78, 43.33, 48.89, 54.44, 60.0), (1.0, 0.88, 0.75, 0.62, 0.51, 0.40, 0.31, 0.22))
_DERATING = {"PN10": ((20.0, 40.0, 60.0), (1.0, 0.6, 0.1)), "PN16": ((20.0, 40.0, 60.0), (1.0, 10 / 16, 2.5 / 16))}


@takes_quantities
def pressure_rating(size: str, standard: str, *, temperature: Temperature = 293.15) -> Pressure:
    """The pressure that a size of PVC pipe may carry at a temperature.

    For plain pipe with solvent-cement sockets. A thread cut in Schedule 80 halves it; Schedule 40 is not to be
    threaded. PVC is never to be filled with compressed air: it shatters.

    Parameters
    ----------
    size : str
    standard : str
    temperature : Temperature, scalar or array [K]
        Of the pipe, 0 to 60 °C; 20 °C unless given. Pipe in the sun is hotter than its water.

    Returns
    -------
    Pressure, scalar or array [Pa]

    Source: ratings ASTM D1785, D2241, DIN 8062 (``data/pipes.csv``); shares left when warm: harvel.com and PPFA
    User Bulletin 3-96 (inch), DIN 8062 (metric).

    Examples
    --------
    >>> print(round(pressure_rating("1/2 in", "Sch 40", temperature="100 degF").to("psi")))
    372 psi
    """
    check_range(temperature, 273.15, 333.15, TEMPERATURE, "the pipe's temperature", "the rating of PVC pipe")
    row = pipe_size(size, standard).si
    warm, share = _DERATING.get(row.standard, _INCH)
    return row.pressure_rating * np.interp(np.asarray(temperature) - 273.15, warm, share)

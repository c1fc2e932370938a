"""The way of a stretch of pipe, told leg by leg: `route = ["up 1.2 m", "elbow 90", "0.6 m"]`.

A leg is a length, from the middle of one fitting to the middle of the next; "up" or "down" before it where it is upright. Between
legs stand the names of the fittings, and of the valve.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from aquaplumb.build import file_text
from aquaplumb.plumbing import fittings
from aquaplumb.sentences import as_given
from aquaplumb.units import LENGTH, Bare, DesignError, quantity

NEAR = 0.005  # m, or a hundredth: how well legs add up to a length; nobody measures pipe better (common practice, no source)
_LEG = re.compile(r"(?:(up|down|along)\s+)?(-?[\d.,]+\s*\S+.*)", re.IGNORECASE)
_AT_ENDS = ("tee", "end", "screen")  # groups of data/fittings.csv that may be counted and stand in no route: at the ends
_JOINS = ("adapter", "reducer", "union")  # … and these
_IMPLIED = ("bulkhead fitting", "adapter", "union")  # what a drawing asks for though nobody counts it: a route may place it
_MOST = 60  # steps


class Step(NamedTuple):
    """A leg (its `length` [m], and how much of it goes `up`, 1 to −1) or a `fitting`."""

    length: float = 0.0
    up: float = 0.0
    fitting: str = ""


def read(given: Any, named=lambda name: name) -> tuple[Step, ...]:
    """The steps of a route as the file has them; `named` finds a fitting of the builder's own.

    Raises
    ------
    DesignError
        In one sentence: what cannot be read, and what to write.
    """
    if not isinstance(given, list) or not given or len(given) > _MOST or not all(isinstance(one, str) for one in given):
        raise DesignError(
            f'is {as_given(given)!s:.60}; it is a list of legs and fittings in quotes, such as route = ["up 1.2 m", "elbow 90", "0.6 m"].'
        )
    steps = []
    for text in given:
        leg = _LEG.fullmatch(text.strip())
        if leg:
            length = quantity(leg[2], LENGTH).m_as("m")
            if length <= 0:
                raise DesignError(f'the leg "{text}" has no length; write "down 0.4 m" for one that goes down.')
            up = {"up": 1.0, "down": -1.0}.get((leg[1] or "").casefold(), 0.0)
            steps.append(Step(length=float(length), up=up))
        elif re.match(r"(up|down|along)\b", text.strip(), re.IGNORECASE):
            raise DesignError(f'cannot read the leg "{text:.40}"; write a length such as "up 1.2 m".')
        else:
            name = named(text.strip())
            steps.append(Step(fitting=name if hasattr(name, "rows") else fittings.fitting(name).si.name))
    if not any(step.length for step in steps):
        raise DesignError('it has no leg; write the length between two fittings, such as "0.6 m".')
    return tuple(steps)


def legs_of(route: tuple[Step, ...]) -> Iterator[tuple[float, float, str]]:
    """(leg, up, the fitting at its end) of a route; legs without a fitting between them are one."""
    length, up = 0.0, 0.0
    for step in route:
        if step.fitting:
            yield length, up, step.fitting
            length, up = 0.0, 0.0
        else:
            length, up = length + step.length, step.up
    if length:
        yield length, up, ""


def length(route: tuple[Step, ...]) -> float:
    """All legs together [m]."""
    return sum(step.length for step in route)


def rise(route: tuple[Step, ...]) -> float:
    """How much higher its end is than its start [m]."""
    return sum(step.length * step.up for step in route)


def adds_up(stretch: Bare) -> bool:
    """Whether the legs of a stretch are as long together as the stretch."""
    return abs(length(stretch.route) - stretch.length) <= max(NEAR, 0.01 * stretch.length)


def untold(stretch: Bare) -> bool:
    """Whether a stretch's route does not tell how far it climbs and how far it goes along: there is none, or it slants."""
    slants = any("45" in step.fitting for step in stretch.route)
    return not stretch.route or slants or not adds_up(stretch)


def level(route: tuple[Step, ...]) -> float:
    """All legs that are not upright together [m]."""
    return sum(step.length for step in route if not step.up)


def told(found: Mapping, named, units: str) -> tuple[dict, tuple[Step, ...]]:
    """A stretch of the file with what its route tells in place of what it leaves out: length and fittings; and the route.

    Raises
    ------
    DesignError
        Where route and length, or route and fittings, do not agree.
    """
    steps = read(found["route"], named)
    whole = {key: value for key, value in found.items() if key != "route"}
    whole.setdefault("length", f"{length(steps):.6g} m")
    counts: dict[str, int] = {}
    for step in steps:
        if step.fitting:
            counts[step.fitting] = counts.get(step.fitting, 0) + 1
    valve = whole.get("valve", "")
    if isinstance(valve, str) and valve:
        counts.pop(fittings.fitting(named(valve)).si.name, None)
    whole.setdefault("fittings", counts)
    return whole, steps


def check(stretch: Bare, units: str) -> None:
    """Refuse a route that says another length or other fittings than its stretch.

    Raises
    ------
    DesignError
        In one sentence.
    """
    if not adds_up(stretch):
        legs, whole = (LENGTH.text(one, units) for one in (length(stretch.route), stretch.length))
        raise DesignError(f"its legs add up to {legs}, and length says {whole}; mend one of them, or leave length out.")
    counted = {fittings.fitting(name).si.name: count for name, count in stretch.fittings.items()}
    valve = fittings.fitting(stretch.valve).si.name if stretch.valve else ""
    for name in dict.fromkeys([*counted, *(step.fitting for step in stretch.route if step.fitting)]):
        here = sum(step.fitting == name for step in stretch.route) - (name == valve)
        wanted = counted.get(name, 0)
        loose = fittings.fitting(name).si.group in _AT_ENDS or name in _JOINS
        if max(here, 0) != wanted and not (loose and here <= wanted) and not (name in _IMPLIED and not wanted):
            raise DesignError(f'it has {max(here, 0)} × "{name}", and fittings says {wanted:g}; mend one of them, or leave fittings out.')


TOUCHED = dict.fromkeys(("length", "fittings", "valve", "lip", "outlet", "entry"), "route") | {"count": "at"}  # what a key makes untrue


def dropped(changes: Mapping, value_at) -> dict:
    """Changes of a file, with routes and places taken out that they make untrue; `value_at` finds what stands at some keys.

    A length and fittings that only the route told stand beside it from then on.
    """
    found: dict = {}
    for keys, value in changes.items():
        whole = keys[:-1] if keys[-2:-1] == ("fittings",) else keys  # one fitting's count
        if untrue := TOUCHED.get(whole[-1]):
            beside = (*whole[:-1], untrue)
            if beside not in changes and value_at(beside) is not None and value_at(keys) != value:
                found[beside] = None
                alone = _told_alone(value_at(beside), value_at((*whole[:-1], "valve"))) if untrue == "route" else {}
                found |= {(*whole[:-1], key): one for key, one in alone.items() if value_at((*whole[:-1], key)) is None}
    return found | dict(changes)


def _told_alone(route: list[str], valve: str | None) -> dict:
    """What a route of the file says of its stretch, as the file would say it: length and fittings."""
    legs = [_LEG.fullmatch(step.strip()) for step in route]
    long = sum(quantity(leg[2], LENGTH) for leg in legs if leg)
    names = [step.strip() for step, leg in zip(route, legs) if not leg]
    counts = Counter(name for name in names if name.casefold() != (valve or "").casefold())  # the valve stands beside them
    return {"length": file_text.written(long), "fittings": dict(counts)}

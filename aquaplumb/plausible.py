"""What each number of a build file can be, and what it usually is: `data/plausible.csv`, for the file, the panels and the docs.

A row is named after its section and key, `vessels.*.floor`; a `Told` record names the sections in which its fields are
looked up. What lies outside the hard range is refused, what lies outside the usual one is worth a note; both sentences
guess at the slip: a unit or a decimal point that gives a usual value.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Iterator
from typing import ClassVar

import numpy as np

from aquaplumb import tables
from aquaplumb.units import TEMPERATURE, VOLTAGE, DesignError, Kind, Quantity, Record, pint_unit, quantity, rounded, si_value

_SLACK = 1e-9
# One slip after the other: first a unit that stands for another, then a decimal point.
_SWAPS = {
    "[length]": ("mm", "cm", "m", "in", "ft"),
    "[mass]": ("g", "kg", "oz", "lb"),
    "[length] ** 3": ("L", "mL", "gal", "m³"),
    "[length] ** 3 / [time]": ("L/h", "L/min", "gal/h", "gal/min", "m³/h"),
    "[temperature]": ("°C", "°F"),
    "[mass] / [length] ** 3": ("mg/L", "g/L", "kg/m³", "lb/gal"),
    "[time]": ("s", "min", "h", "days"),
    "[length] ** 2": ("mm²", "cm²", "m²", "in²", "ft²"),
    "[mass] * [length] ** 2 / [time] ** 3": ("W", "kW"),
    "[current] * [time]": ("Ah",),
}
_FACTORS = (0.001, 1000.0, 0.01, 100.0, 0.1, 10.0)


@tables.table_type("plausible")
class Span(tables.Row):
    """What a number of the build file can be (hard) and what it usually is, as text in `unit`.

    `what` is what has it, as in "the most for one fish"; `advice` what a refusal says beyond.
    """

    unit: str = ""
    hard_low: str
    hard_high: str
    usual_low: str
    usual_high: str
    what: str
    advice: str = ""

    def hard(self, kind: Kind) -> tuple[float, float]:
        """The least and the most, bare SI."""
        return _si(self.si.hard_low, self.si.unit, kind), _si(self.si.hard_high, self.si.unit, kind)

    def usual(self, kind: Kind) -> tuple[float, float]:
        """From where to where it usually is, bare SI."""
        return _si(self.si.usual_low, self.si.unit, kind), _si(self.si.usual_high, self.si.unit, kind)

    def refused(self, value: float, kind: Kind, given) -> str:
        """Why a bare value cannot be, in a sentence that begins with what was `given`; nothing where it can."""
        low, high = self.hard(kind)
        if _inside(value, (low, high)):
            return ""
        if value < 0 <= low and kind is not TEMPERATURE:
            needs = f"{kind.noun} of less than nothing cannot be" if kind.si else "it needs a plain number of 0 or more, such as 0.4"
            return f"is {_said(given)}; {needs}."
        ends = _ends((low, high), kind, given)
        side, end, least = ("below", ends[0], "least") if value < low else ("above", ends[1], "most")
        guess = self.guess(given, kind)
        meant = f"; did you mean {guess}?" if guess else "."
        advice = f" {self.si.advice}" if self.si.advice else ""
        return f"{_said(given)} is {side} {end}, the {least} for {self.si.what} ({_from_to(*ends)}){meant}{advice}"

    def unusual(self, value: float, kind: Kind, given) -> str:
        """What is odd about a bare value that can be, as in `refused`; nothing where it is usual, or nothing at all."""
        if _inside(value, self.usual(kind)) or (value == 0 == self.hard(kind)[0]):
            return ""
        span = _from_to(*_ends(self.usual(kind), kind, given))
        guess = self.guess(given, kind)
        return f"{_said(given)} is unusual: {self.si.what} is mostly {span}.{f' Did you mean {guess}?' if guess else ''}"

    def guess(self, given, kind: Kind) -> str:
        """What was meant, if a usual value is one slip away: another unit, or a decimal point that moved."""
        if kind is VOLTAGE:  # 230 V is no slip of 23 V: who has mains in hand must not be told so
            return ""
        found = [(said, number) for said, number, value in _slips(given, kind) if _inside(value, self.usual(kind))]
        return next((said for said, number in found if 0.1 <= abs(number) < 1000), found[0][0] if found else "")


@functools.cache
def _si(text: str, unit: str, kind: Kind) -> float:
    return float(si_value(quantity(f"{text} {unit}", kind), kind, unit)) if unit else float(text)


def _inside(value: float, ends: tuple[float, float]) -> bool:
    slack = _SLACK * (ends[1] - ends[0])
    return ends[0] - slack <= value <= ends[1] + slack


def _said(given) -> str:
    return given if isinstance(given, str) else f"{given:.6g}" if isinstance(given, (int, float)) else f"{given:.6g~P}"


def _read(given, kind: Kind):
    """What was given as a quantity; None where it is a plain number."""
    found = quantity(given, kind) if isinstance(given, str) else given
    return found if hasattr(found, "units") and kind.si else None


def _ends(ends: tuple[float, float], kind: Kind, given) -> list[str]:
    """Both ends in the unit that was given; in the usual one where they would have too many digits there."""
    found = _read(given, kind)
    if found is None:
        return [f"{rounded(100 * end, 4)} %" if isinstance(given, str) and "%" in given else rounded(end, 4) for end in ends]
    shown, unit = [(end, Quantity(end, pint_unit(kind.si)).m_as(found.units)) for end in ends], _unit(given, found)
    return [f"{rounded(n)} {unit}" if n == 0 or 0.01 <= abs(n) < 1e5 else kind.text(end) for end, n in shown]


def _from_to(low: str, high: str) -> str:
    """A span in words, its unit once: "0 to 40 °C"."""
    number, _, unit = low.partition(" ")
    return f"{number if unit and high.endswith(f' {unit}') else low} to {high}"


def _slips(given, kind: Kind) -> Iterator[tuple[str, float, float]]:
    """Each slip that could have made what was given, undone: as it would be written, its number there, and its bare value."""
    found = _read(given, kind)
    if found is None:
        percent = isinstance(given, str) and "%" in given
        number = si_value(quantity(given, kind) if isinstance(given, str) else given, kind, "it")
        if percent:
            yield f"{100 * number:.6g}", 100 * number, 100 * number
        elif number > 1:
            yield f"{number:.6g} %", number, number / 100
        for factor in _FACTORS:
            moved = number * factor * (100 if percent else 1)
            yield f"{moved:.6g}{' %' * percent}", moved, number * factor
        return
    others = next((units for dimension, units in _SWAPS.items() if found.check(dimension)), ())
    swapped = [(unit, si_value(Quantity(found.m, pint_unit(unit)), kind, "it")) for unit in others if pint_unit(unit) != found.units]
    bare = si_value(found, kind, "it")
    for unit, value in sorted(swapped, key=lambda one: (_us(one[0]) != _us(f"{found.units:~P}"), _apart(one[1], bare))):
        if not math.isclose(value, bare):
            yield f"{found.m:.6g} {unit}", found.m, value
    for factor in _FACTORS:
        moved = Quantity(found.m * factor, found.units)
        yield f"{moved.m:.6g} {_unit(given, found)}", moved.m, si_value(moved, kind, "it")


def _us(unit: str) -> bool:
    return bool(re.search(r"in|ft|gal|oz|lb", unit.replace("min", "")))


def _apart(one: float, other: float) -> float:
    """How far two values are apart, whatever their size."""
    return abs(math.log(one / other)) if one * other > 0 else math.inf


def _unit(given, found) -> str:
    text = re.sub(r"^[-+\d./ ]+(?:[eE][-+]?\d+)?\s*", "", given) if isinstance(given, str) else ""
    if found.check("[temperature]"):
        return f"{found.units:~P}"
    return text if text and not re.search(r"\d", re.sub(r"[a-zA-Z]\d", "", text)) else f"{found.units:~P}"


def about(label: str, wrong: str) -> str:
    """A refusal after what it is about: "power is -4 W; …", "power: 1e9 W is above …"."""
    return f"{label}{' ' if wrong.startswith('is ') else ': '}{wrong}"


def row(name: str) -> Span:
    """The range of a key, such as "vessels.*.floor"."""
    return tables.row(Span, name)


class Told(Record):
    """A record of the build file: what a person says of it lies in the ranges of its `sections`, the first that has the key."""

    sections: ClassVar[tuple[str, ...]]

    @classmethod
    @functools.cache
    def range_of(cls, field: str) -> Span | None:
        """The range of a field; None of one that is no number."""
        if cls._kinds.get(field) is None:
            return None
        names = tables.table(Span)
        return next((names[f"{section}.{field}"] for section in cls.sections if f"{section}.{field}" in names), None)

    @classmethod
    def within(cls, field: str, value, given, where: str = "") -> None:
        """Refuse a bare number outside its hard range; `given` is how it was said."""
        found, kind = cls.range_of(field), cls._kinds[field]
        if found and kind and np.ndim(value) == 0 and (wrong := found.refused(value, kind, given)):
            raise DesignError(about(where, wrong) if where else wrong)

    @classmethod
    def unusual(cls, field: str, value, given) -> str:
        """What is odd about a bare number that can be; nothing where it is usual."""
        found, kind = cls.range_of(field), cls._kinds[field]
        return found.unusual(value, kind, given) if found and kind else ""


def as_list() -> str:
    """All ranges as the build file's own reference has them: a table in Markdown."""
    rows = [r.si for r in tables.table(Span).values()]
    lines = [f"| `{r.name}` | {_span(r.hard_low, r.hard_high, r.unit)} | {_span(r.usual_low, r.usual_high, r.unit)} |" for r in rows]
    return "\n".join(["| key | can be | mostly is |", "|---|---|---|", *lines])


def _span(low: str, high: str, unit: str) -> str:
    return f"{low} to {high} {unit}".strip()

"""One place for units: quantities outside, bare SI numbers inside.

Everything a person gives or reads carries a unit. `u` is the one registry
(``900 * u.L / u.h``); `quantity` reads a person's text (``"1 1/2 in"``) and evaluates nothing.
`takes_quantities` puts a door on a function: its annotations say which arguments are quantities; inside are plain SI
floats or arrays; `function.si` is the function without the door. `Record` does the same for a group of values:
`record.flow` is a quantity, `record.si.flow` a number. The kinds of quantity are listed in `kinds`.
"""

from __future__ import annotations

import functools
import inspect
import re
import typing
from fractions import Fraction as _Ratio
from types import SimpleNamespace
from typing import Any

import numpy as np

from aquaplumb.kinds import *  # noqa: F403
from aquaplumb.kinds import KINDS, NUMBER, DesignError, Kind, Quantity, pint_unit, rounded

# --- reading people's text --------------------------------------------------------------------

_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_TOO_LONG = 60
_NUMBER = re.compile(
    r"(?P<sign>[+-]?)\s*(?:(?P<whole>\d{1,9})\s+(?P<top>\d{1,9})/(?P<bottom>\d{1,9})"
    r"|(?P<top2>\d{1,9})/(?P<bottom2>\d{1,9})"
    r"|(?P<decimal>(?:\d{1,15}(?:\.\d{0,20})?|\.\d{1,20})(?:[eE][+-]?\d{1,2}(?![\w]))?))"
)


def quantity(text: str, kind: Kind | None = None):
    """The quantity that a person's text says, read strictly and safely.

    Parameters
    ----------
    text : str
        A number, then a unit: ``"1000 L"``, ``"1 1/2 in"``, ``"20 kg/m3"``, ``"75 °F"``. A decimal comma is
        refused, since 1,500 means a thousand to one reader and one and a half to the next.
    kind : Kind, optional
        What it must be, such as `FLOW`.

    Returns
    -------
    pint.Quantity

    Raises
    ------
    DesignError
        With what was found and what to type.

    Examples
    --------
    >>> print(quantity("1 1/2 in").to("mm"))
    38.1 mm
    """
    if isinstance(text, Quantity):
        return _fits(text, kind, "") if kind else text
    example = kind.example if kind else "1000 L"
    if not isinstance(text, str):
        raise DesignError(f"{text!r} has no unit; write it with one and in quotes, such as \"{example}\".")
    if len(text) > _TOO_LONG:
        raise DesignError(f"'{text[:20]}…' is {len(text)} characters long; a number and a unit are enough, such as {example}.")
    tidy = " ".join(text.replace("\u2212", "-").split())
    for sign, plain in _VULGAR.items():
        tidy = re.sub(rf"\s*{sign}", f" {plain}", tidy)
    tidy = tidy.strip()
    if re.match(r"[+-]?\d+,\d", tidy):
        thousands = f"; if the comma marks thousands, leave it out: {tidy.replace(',', '')}" if re.match(r"[+-]?[1-9]\d{0,2},\d{3}\b", tidy) else ""
        raise DesignError(f"'{text}' has a comma in its number. With a decimal point it is {tidy.replace(',', '.', 1)}{thousands}.")
    found = _NUMBER.match(tidy)
    if not found:
        raise DesignError(f"'{text}' does not start with a number; write a number and a unit, such as {example}.")
    value = _value(found, text)
    unit = tidy[found.end() :].strip()
    if not unit and not (kind and not kind.si):
        raise DesignError(f"'{text}' has no unit; write it with one, such as {example}.")
    try:
        result = Quantity(value, pint_unit(unit))
    except DesignError as wrong:
        raise DesignError(f"'{text}': {wrong}") from None
    return _fits(result, kind, "", given=text) if kind else result


def _value(found: re.Match, text: str) -> float:
    sign = -1.0 if found["sign"] == "-" else 1.0
    if found["decimal"] is not None:
        return sign * float(found["decimal"])
    top, bottom = int(found["top"] or found["top2"]), int(found["bottom"] or found["bottom2"])
    if bottom == 0:
        raise DesignError(f"'{text}' divides by zero.")
    return sign * float(int(found["whole"] or 0) + _Ratio(top, bottom))


# --- the door -----------------------------------------------------------------------------------


def noun(value) -> str:
    """What a quantity is, in words: "a volume"."""
    for kind in KINDS:
        if value.check(pint_unit(kind.si).dimensionality):
            return kind.noun
    return "something else"


def _fits(value, kind: Kind, where: str, given: str | None = None):
    if not value.check(pint_unit(kind.si).dimensionality):
        said = given or f"{value:.6g~P}"
        raise DesignError(f"{where or 'this'} is {said}, {noun(value)}; it needs {kind.noun} such as {kind.example}.")
    return value


def si_value(value, kind: Kind, where: str):
    """The bare SI number (or array) of a quantity, refused in plain words where it is not of its kind."""
    if value is None:
        return None
    if not isinstance(value, Quantity):
        if not kind.si and not isinstance(value, (str, bytes)):
            number = value if isinstance(value, np.ndarray) else np.asarray(value, float)[()]
        elif isinstance(value, str):
            return si_value(quantity(value), kind, where)
        else:
            raise DesignError(f"{where} is {value!r}, with no unit; it needs {kind.noun} such as {kind.example}.")
    else:
        number = _fits(value, kind, where).m_as(pint_unit(kind.si))
        if not isinstance(number, np.ndarray):
            number = float(number)
    if not np.all(np.isfinite(number)):
        raise DesignError(f"{where} is not a finite number; it needs {kind.noun} such as {kind.example}.")
    return number


def check_range(value, low: float, high: float, kind: Kind, where: str, why: str) -> None:
    """Refuse a bare SI value outside ``low`` to ``high``, naming the range and its reason."""
    slack = 1e-9 * (high - low)  # 104 °F is 40 °C, and not a rounding error more
    if isinstance(value, float):  # what a slider moves: stay lean
        if low - slack <= value <= high + slack:
            return
    elif np.all(np.greater_equal(value, low - slack)) and np.all(np.less_equal(value, high + slack)):
        return
    worst = float(np.min(value) if np.min(value) < low else np.max(value))
    unit = kind.unit()
    span = f"{rounded(kind.shown(low), 4)} to {rounded(kind.shown(high), 4)} {unit}".rstrip()
    raise DesignError(f"{where} is {kind.text(worst)}; {why} holds from {span}.")


def _kind_of(hint) -> Kind | None:
    """The Kind in an annotation such as `Flow` or `Flow | None`, or None."""
    if isinstance(hint, typing._UnionGenericAlias) or type(hint).__name__ == "UnionType":
        hint = next((arg for arg in typing.get_args(hint) if arg is not type(None)), hint)
    for extra in getattr(hint, "__metadata__", ()):
        if isinstance(extra, Kind):
            return extra
    return None


def takes_quantities(function):
    """Put the door on a function: quantities in and out, bare SI numbers inside.

    Arguments annotated with `Flow`, `Length`, ... are checked and turned to SI; a return annotated so is
    wrapped. Text such as ``"900 L/h"`` serves as a quantity. ``function.si`` is the kernel without the door.
    """
    hints = typing.get_type_hints(function, include_extras=True)
    kinds = {name: kind for name, hint in hints.items() if name != "return" and (kind := _kind_of(hint))}
    returns = _kind_of(hints.get("return"))
    signature = inspect.signature(function)

    @functools.wraps(function)
    def door(*args, **kwargs):
        try:
            bound = signature.bind(*args, **kwargs)
        except TypeError as wrong:
            raise TypeError(f"{function.__name__}: {wrong}; it is used as {function.__name__}{_usage(signature)}") from None
        for name, value in bound.arguments.items():
            if name in kinds:
                bound.arguments[name] = si_value(value, kinds[name], f"{function.__name__}: {name}")
        result = function(*bound.args, **bound.kwargs)
        return result if returns is None or returns is NUMBER or result is None else returns.quantity(result)

    door.si = function
    door.kinds = kinds
    door.returns = returns
    return door


def _usage(signature: inspect.Signature) -> str:
    return "(" + ", ".join(signature.parameters) + ")"


PART = (0.0, 1.0, 'it is a part of a whole, from 0 to 1, or from "0 %" to "100 %"')


class Record:
    """A frozen group of values: quantities at the face, bare SI numbers in ``.si``.

    A subclass lists its fields as annotations, with defaults where there are any::

        class Point(Record):
            flow: Flow
            head: Head
            name: str = ""

    ``Point(flow="900 L/h", head=1.2 * u.m)`` checks units; `Point.from_si` takes bare SI numbers.
    """

    limits: typing.ClassVar[dict[str, tuple[float, float, str]]] = {}  # the least and the most of pure numbers, and what to type
    _kinds: typing.ClassVar[dict[str, Kind | None]] = {}
    _defaults: typing.ClassVar[dict[str, Any]] = {}

    def __init_subclass__(cls) -> None:
        hints = typing.get_type_hints(cls, include_extras=True)
        fields = [n for n, h in hints.items() if not n.startswith("_") and typing.get_origin(h) is not typing.ClassVar]
        cls._kinds = {name: _kind_of(hints[name]) for name in fields}
        cls._defaults = {n: vars(b)[n] for b in reversed(cls.__mro__) for n in fields if n in vars(b)}
        for name in cls._defaults:
            if name in vars(cls):
                delattr(cls, name)

    def __init__(self, **given):
        name = type(self).__name__
        self._fill({k: si_value(v, kind, f"{name}: {k}") if (kind := self._kinds.get(k)) else v for k, v in given.items()})

    @classmethod
    def from_si(cls, **given):
        """The record from bare SI numbers."""
        record = cls.__new__(cls)
        record._fill(given)
        return record

    def _fill(self, values: dict) -> None:
        name = type(self).__name__
        if unknown := [k for k in values if k not in self._kinds]:
            raise DesignError(f"{name} has no '{unknown[0]}'; it has {', '.join(self._kinds)}.")
        for field, kind in self._kinds.items():
            if field not in values:
                if field not in self._defaults:
                    raise DesignError(f"{name} needs {field}" + (f", {kind.noun} such as {kind.example}." if kind else "."))
                default = self._defaults[field]
                values[field] = si_value(default, kind, field) if kind and isinstance(default, (str, Quantity)) else default
        vars(self)["si"] = SimpleNamespace(**{field: values[field] for field in self._kinds})
        for field in self.limits:
            self.within(field, values[field], f"{name}: {field} is {values[field]}")
        self.check()

    @classmethod
    def within(cls, field: str, value, said: str) -> None:
        """Refuse a pure number outside the limits of its field, if it has any; `said` is how the sentence begins."""
        least, most, why = cls.limits.get(field, (-np.inf, np.inf, ""))
        if value is not None and not np.all((np.asarray(value) >= least - 1e-9) & (np.asarray(value) <= most + 1e-9)):
            raise DesignError(f"{said}; {why}.")

    def check(self) -> None:
        """Refuse values that cannot be together; a subclass fills this in."""

    def __getattr__(self, name: str):
        if name.startswith("_") or name == "si" or name not in self._kinds:
            raise AttributeError(f"{type(self).__name__} has no '{name}'; it has {', '.join(self._kinds)}.")
        value, kind = getattr(self.si, name), self._kinds[name]
        return value if kind is None or kind is NUMBER or value is None else kind.quantity(value)

    def __setattr__(self, name, value):
        raise AttributeError(f"{type(self).__name__} does not change; make another with .replace({name}=…).")

    def replace(self, **changes):
        """A copy with some fields changed (given as quantities)."""
        name = type(self).__name__
        new = {k: si_value(v, kind, f"{name}: {k}") if (kind := self._kinds.get(k)) else v for k, v in changes.items()}
        return self.from_si(**{**vars(self.si), **new})

    def __eq__(self, other):
        return type(self) is type(other) and repr(vars(self.si)) == repr(vars(other.si))

    def __hash__(self):
        return hash((type(self), repr(vars(self.si))))

    def __getstate__(self):
        return vars(self.si)

    def __setstate__(self, state):
        self._fill(dict(state))

    def __dir__(self):
        return [*super().__dir__(), *self._kinds]

    def __repr__(self):
        def text(name, value):
            kind = self._kinds[name]
            return kind.text(value) if kind and isinstance(value, (int, float)) else repr(value)

        return f"{type(self).__name__}({', '.join(f'{n}={text(n, v)}' for n, v in vars(self.si).items())})"

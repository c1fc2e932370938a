"""One place for units: quantities outside, bare SI numbers inside.

Everything a person gives or reads carries a unit. `u` is the one registry
(``900 * u.L / u.h``); `quantity` reads a person's text (``"1 1/2 in"``) and evaluates nothing.
`takes_quantities` puts a door on a function: its annotations say which arguments are quantities; inside are plain SI
floats or arrays; `function.si` is the function without the door. `Record` does the same for a group of values:
`record.flow` is a quantity, `record.si.flow` a number. The kinds of quantity are listed in `kinds`.
"""

from __future__ import annotations

import functools
import html
import inspect
import re
import types
import typing
from collections.abc import Callable, Iterable
from fractions import Fraction as _Ratio
from typing import Any, Generic, ParamSpec, Self, TypeVar

import numpy as np

from aquaplumb.docstrings import filled_in
from aquaplumb.given import Fixed, Thing, called, thing, told
from aquaplumb.kinds import *  # noqa: F403
from aquaplumb.kinds import ANGLE, KINDS, NUMBER, SALINITY, SHARE, SYSTEMS, DesignError, Kind, Quantity, pint_unit, rounded, u
from aquaplumb.times import *  # noqa: F403

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
    if kind is not None and not isinstance(kind, Kind):
        raise DesignError(f"quantity: kind is {told(kind)}; it is one of aquaplumb.units, such as FLOW.")
    if isinstance(text, Quantity):
        return _fits(text, kind, "") if kind else text
    example = kind.example if kind else "1000 L"
    if not isinstance(text, str):
        raise DesignError(f'{text!r} has no unit; write it with one and in quotes, such as "{example}".')
    if len(text) > _TOO_LONG:
        raise DesignError(f"'{text[:20]}…' is {len(text)} characters long; a number and a unit are enough, such as {example}.")
    tidy = " ".join(text.replace("\u2212", "-").split())
    for sign, plain in _VULGAR.items():
        tidy = re.sub(rf"\s*{sign}", f" {plain}", tidy)
    tidy = tidy.strip()
    if re.match(r"[+-]?\d+,\d", tidy):
        thousands = (
            f"; if the comma marks thousands, leave it out: {tidy.replace(',', '')}" if re.match(r"[+-]?[1-9]\d{0,2},\d{3}\b", tidy) else ""
        )
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
    kind = kind_of(value)
    return kind.noun if kind else "something else"


def kind_of(value) -> Kind | None:
    """The first kind that a quantity can be; None where it is of none."""
    if not isinstance(value, Quantity):
        raise DesignError(f"this is {told(value)}; give a quantity, such as 900 * u.L / u.h.")
    if value.dimensionless:
        return ANGLE if value.units in (u.degree, u.radian) else SALINITY if value.units == pint_unit(SALINITY.si) else SHARE
    return next((kind for kind in KINDS if value.check(pint_unit(kind.si).dimensionality)), None)


def show(value, system: str = "metric") -> str:
    """A quantity or a record as a builder reads it, in "metric" or "US" units.

    >>> print(show(quantity("0.00025 m3/s")), "or", show(quantity("0.00025 m3/s"), "US"))
    900 L/h or 238 gal/h
    """
    if not isinstance(system, str) or system not in SYSTEMS:
        raise DesignError(f"there is no unit system '{system}'; there are {' and '.join(SYSTEMS)}.")
    if isinstance(value, Record):
        return value._shown(system)
    kind = kind_of(value) if isinstance(value, Quantity) else None
    return kind.text(value.m_as(pint_unit(kind.si)), system) if kind else str(value)


def _fits(value, kind: Kind, where: str, given: str | None = None):
    if not value.check(pint_unit(kind.si).dimensionality):
        said = given or f"{value:.6g~P}"
        raise DesignError(f"{where or 'this'} is {said}, {noun(value)}; it needs {kind.noun} such as {kind.example}.")
    return value


def _ours(value, kind: Kind, where: str):
    """A quantity of another registry or library (anything with ``.units``) as one of ours."""
    magnitude = getattr(value, "magnitude", getattr(value, "value", None))
    try:
        return Quantity(magnitude, str(value.units))
    except Exception:
        raise DesignError(f"{where} is {value!s}, in a unit that I do not know; it needs {kind.noun} such as {kind.example}.") from None


def si_value(value, kind: Kind, where: str):
    """The bare SI number (or array) of a quantity, refused in plain words where it is not of its kind.

    Text is read, lists of texts or quantities become arrays, and a quantity of another library is converted. A bare
    number is refused but for pure numbers and for salinity, which people give without a unit: grams in a kilogram.
    """
    if value is None:
        return None
    if isinstance(value, (list, tuple)) and any(isinstance(one, str) or hasattr(one, "units") for one in value):
        return np.array([si_value(one, kind, where) for one in value])
    if isinstance(value, str):
        value = quantity(value)
    if not isinstance(value, Quantity) and hasattr(value, "units"):
        value = _ours(value, kind, where)
    if isinstance(value, Quantity):
        number = _fits(value, kind, where).m_as(pint_unit(kind.si))
        if not isinstance(number, np.ndarray):
            number = float(number)
    elif (kind.si and kind is not SALINITY) or isinstance(value, bytes):
        raise DesignError(f"{where} is {told(value)}, with no unit; it needs {kind.noun} such as {kind.example}.")
    else:
        try:
            number = value if isinstance(value, np.ndarray) else np.asarray(value, float)[()]
        except (TypeError, ValueError, OverflowError):
            raise DesignError(f"{where} is {told(value)}; it needs {kind.noun} such as {kind.example}.") from None
    if not np.all(np.isfinite(number)):
        raise DesignError(f"{where} is not a finite number; it needs {kind.noun} such as {kind.example}.")
    return number


def needed_value(value, kind: Kind, where: str):
    """As `si_value`, of what may not be left out."""
    if value is None:
        raise DesignError(f"{where} is None; it needs {kind.noun} such as {kind.example}.")
    return si_value(value, kind, where)


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
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        hint = next((arg for arg in typing.get_args(hint) if arg is not type(None)), hint)
    for extra in getattr(hint, "__metadata__", ()):
        if isinstance(extra, Kind):
            return extra
    return None


_Given = ParamSpec("_Given")
_Got = TypeVar("_Got", covariant=True)


class Door(typing.Protocol, Generic[_Given, _Got]):
    """What `takes_quantities` makes of a function: quantities or text in, a quantity out; `si` is the function itself."""

    __name__: str
    si: Callable[..., Any]
    kinds: dict[str, Kind]
    returns: Kind | None

    def __call__(self, *args: _Given.args, **kwargs: _Given.kwargs) -> _Got: ...


def takes_quantities(function: Callable[_Given, _Got]) -> Door[_Given, _Got]:
    """Put the door on a function: quantities in and out, bare SI numbers inside.

    Arguments annotated with `Flow`, `Length`, ... are checked and turned to SI; a return annotated so is
    wrapped. Text such as ``"900 L/h"`` serves as a quantity. ``function.si`` is the kernel without the door.
    The docstring gets each name, kind and unit from the annotations (see `docstrings`).
    """
    hints = typing.get_type_hints(function, include_extras=True)
    kinds = {name: kind for name, hint in hints.items() if name != "return" and (kind := _kind_of(hint))}
    returns = _kind_of(hints.get("return"))
    signature = inspect.signature(function)
    optional = {n for n in kinds if signature.parameters[n].default is None or type(None) in typing.get_args(hints[n])}
    things = {n: found for n, one in signature.parameters.items() if n not in kinds and (found := thing(hints.get(n), one.default))}

    @functools.wraps(function)
    def door(*args, **kwargs):
        bound = called(function, signature, args, kwargs)
        for name, value in bound.arguments.items():
            where = f"{function.__name__}: {name}"
            if name in kinds:
                bound.arguments[name] = (
                    needed_value(value, kinds[name], where) if name not in optional else si_value(value, kinds[name], where)
                )
            elif name in things:
                bound.arguments[name] = things[name].read(value, where)
        try:
            result = function(*bound.args, **bound.kwargs)
        except (TypeError, ValueError) as wrong:
            several = {n: np.shape(v) for n, v in bound.arguments.items() if n in kinds and np.ndim(v)}
            if isinstance(wrong, DesignError) or not several:
                raise
            raise DesignError(f"{function.__name__}: {_misfit(several)}") from wrong
        return result if returns is None or returns is NUMBER or result is None else returns.quantity(result)

    door.__doc__ = filled_in(
        function.__doc__,
        {name: _entry(one.annotation, kinds.get(name)) for name, one in signature.parameters.items()},
        None if signature.return_annotation is inspect.Signature.empty else _entry(signature.return_annotation, returns),
    )
    vars(door).update(si=function, kinds=kinds, returns=returns)
    function.__qualname__ += ".si"  # so that it pickles as what it is called
    return typing.cast(Any, door)


def _misfit(several: dict[str, tuple]) -> str:
    """Why lists of values cannot be worked with."""
    count = " and ".join(f"{name} has {' × '.join(map(str, shape))}" for name, shape in several.items())
    try:
        np.broadcast_shapes(*several.values())
    except ValueError:
        return f"{count} values; give as many to each, or one."
    return f"{count} values; it takes one of each at a time."


def _entry(annotation, kind: Kind | None) -> tuple[str, str, str]:
    """What a docstring says of an argument: its annotation as it stands in the code, its unit, its shape."""
    words = annotation if isinstance(annotation, str) else kind.noun if kind else getattr(annotation, "__name__", str(annotation))
    return words, kind.si if kind else "", "scalar or array" if kind else ""


class Bare(types.SimpleNamespace):
    """The values of a record as bare SI numbers; frozen, as the record is."""

    def __setattr__(self, name, value):
        raise AttributeError(f"a record does not change; make another with .with_si({name}=…).")

    def __delattr__(self, name):
        raise AttributeError("a record does not change.")


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
    _optional: typing.ClassVar[set[str]] = set()
    _things: typing.ClassVar[dict[str, Thing]] = {}
    __signature__: typing.ClassVar[inspect.Signature]

    def __init_subclass__(cls) -> None:
        hints = typing.get_type_hints(cls, include_extras=True)
        fields = [n for n, h in hints.items() if not n.startswith("_") and typing.get_origin(h) is not typing.ClassVar]
        cls._kinds = {name: _kind_of(hints[name]) for name in fields}
        cls._defaults = {n: vars(b)[n] for b in reversed(cls.__mro__) for n in fields if n in vars(b)}
        cls._optional = {n for n in fields if cls._defaults.get(n, ...) is None or type(None) in typing.get_args(hints[n])}
        cls._things = {n: found for n in fields if not cls._kinds[n] and (found := thing(hints[n], cls._defaults.get(n, ...)))}
        own = {n: text for b in reversed(cls.__mro__) for n, text in vars(b).get("__annotations__", {}).items()}
        cls.__doc__ = filled_in(cls.__doc__, {n: (*_entry(own[n], cls._kinds[n])[:2], "") for n in fields}, None, "Attributes")
        for name in cls._defaults:
            if name in vars(cls):
                delattr(cls, name)
        empty = inspect.Parameter.empty
        cls.__signature__ = inspect.Signature(  # what help and editors show
            [inspect.Parameter(n, inspect.Parameter.KEYWORD_ONLY, default=cls._defaults.get(n, empty), annotation=own[n]) for n in fields]
        )

    def __init__(self, **given):
        self._fill(self._read(given))

    @classmethod
    def _read(cls, given: dict) -> dict:
        """What a person gives, as bare SI numbers and as the things that the fields are."""
        read = dict(given)
        for name, value in given.items():
            where = f"{cls.__name__}: {name}"
            if kind := cls._kinds.get(name):
                read[name] = si_value(value, kind, where) if name in cls._optional else needed_value(value, kind, where)
            elif name in cls._things:
                read[name] = cls._things[name].read(value, where)
        return read

    @classmethod
    def from_si(cls, **given: Any) -> Self:
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
        vars(self)["si"] = Bare(**{n: Fixed(v) if type(v := values[n]) is dict else v for n in self._kinds})
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

    def _tidied(self, field: str, value) -> None:
        """Keep a field in its usual form; for `check` alone, before anybody has seen the record."""
        vars(self.si)[field] = value

    def __getattr__(self, name: str):
        if name.startswith("_") or name == "si" or name not in self._kinds:
            raise AttributeError(f"{type(self).__name__} has no '{name}'; it has {', '.join(self._kinds)}.")
        value, kind = getattr(self.si, name), self._kinds[name]
        return value if kind is None or kind is NUMBER or value is None else kind.quantity(value)

    def __setattr__(self, name, value):
        raise AttributeError(f"{type(self).__name__} does not change; make another with .replace({name}=…).")

    def replace(self, **changes) -> Self:
        """A copy with some fields changed (given as quantities)."""
        return self.with_si(**self._read(changes))

    def with_si(self, **changes: Any) -> Self:
        """A copy with some fields changed (given as bare SI numbers)."""
        return self.from_si(**{**vars(self.si), **changes})

    def __eq__(self, other):
        return type(self) is type(other) and _same(vars(self.si), vars(other.si))

    def __hash__(self):
        return hash((type(self), _fixed(vars(self.si))))

    def __getstate__(self):
        return vars(self.si)

    def __setstate__(self, state):
        self._fill(dict(state))

    def __dir__(self):
        return [*super().__dir__(), *self._kinds]

    def _texts(self, system: str) -> dict[str, str]:
        """Each field as it is shown."""
        return {n: v._shown(system) if isinstance(v, Record) else _shown(v, self._kinds[n], system) for n, v in vars(self.si).items()}

    def _shown(self, system: str) -> str:
        return f"{type(self).__name__}({', '.join(f'{n}={text}' for n, text in self._texts(system).items())})"

    def __repr__(self):
        return self._shown("metric")

    def _repr_html_(self) -> str:
        return html_table(type(self).__name__, [(n.replace("_", " "), text) for n, text in self._texts("metric").items()])

    def frame(self, system: str = "metric"):
        """The record as a pandas DataFrame, one column a field with its unit in the head; arrays of one length are its rows."""
        import pandas as pd

        columns: dict[str, Any] = {}
        for name, value in vars(self.si).items():
            kind = self._kinds[name]
            unit = kind.unit(system) if kind else ""
            head = f"{name.replace('_', ' ')} [{unit}]" if unit else name.replace("_", " ")
            columns[head] = kind.shown(np.asarray(value, float), system) if kind and value is not None else value
        lengths = [len(v) for v in columns.values() if isinstance(v, (np.ndarray, tuple, list)) and np.ndim(v) == 1]
        rows = max(lengths, key=lengths.count, default=1)

        def column(value):
            fits = isinstance(value, (np.ndarray, tuple, list)) and np.ndim(value) == 1 and len(value) == rows
            return list(value) if fits else [value[()] if isinstance(value, np.ndarray) and not value.ndim else value] * rows

        return pd.DataFrame({head: column(value) for head, value in columns.items()})


def html_table(caption: str, rows: Iterable[tuple[str, ...]], heads: tuple[str, ...] = ()) -> str:
    """A plain table for a notebook, in the colours of its page: the first cell of a row is its head, all text is escaped."""
    left = ' style="text-align:left"'
    top = f"<tr>{''.join(f'<th{left}>{html.escape(head)}</th>' for head in heads)}</tr>" if heads else ""
    lines = (
        f"<tr><th{left}>{html.escape(first)}</th>{''.join(f'<td>{html.escape(c)}</td>' for c in cells)}</tr>" for first, *cells in rows
    )
    return f"<table><caption{left}>{html.escape(caption)}</caption>{top}{''.join(lines)}</table>"


def _shown(value, kind: Kind | None, system: str) -> str:
    if kind and isinstance(value, (int, float, np.ndarray, np.number)):
        return kind.text(value, system)
    return repr(value)


def _same(a, b) -> bool:
    """Whether two values of records are the same: arrays by every number in them."""
    if isinstance(a, np.ndarray) or isinstance(b, np.ndarray):
        return np.shape(a) == np.shape(b) and bool(np.all((a == b) | ((a != a) & (b != b))))
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(_same(a[key], b[key]) for key in a)
    if isinstance(a, (tuple, list)) and type(a) is type(b):
        return len(a) == len(b) and all(map(_same, a, b))
    return bool(a is b or a == b or (a != a and b != b))


def _fixed(value):
    """A value of a record as something with a hash; an array has none."""
    if isinstance(value, dict):
        return frozenset((key, _fixed(one)) for key, one in value.items())
    return tuple(map(_fixed, value)) if isinstance(value, (tuple, list)) else value

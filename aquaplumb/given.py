"""What a person gives, read where a thing is meant (a pump by its name, a build by its file) and where a quantity is.

The doors (`takes_things`, and `units.takes_quantities` for what is no quantity) read a function's annotations: a class
that can be called by a name has a `named`, text alone is a list of one, and whatever cannot be is refused in one
sentence. A class says in `made_with` how to get one, where its own name does not say so. `quantity` reads a person's
text (``"1 1/2 in"``) and evaluates nothing. Quantities are reached through `units`.
"""

from __future__ import annotations

import functools
import inspect
import numbers
import re
import types
import typing
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction as _Ratio
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

import numpy as np

from aquaplumb.files import named_file
from aquaplumb.kinds import ANGLE, KINDS, NEVER_NEGATIVE, SALINITY, SHARE, DesignError, Kind, Quantity, pint_unit, u
from aquaplumb.sentences import an, as_given
from aquaplumb.signatures import Call, annotated

LEAST, LARGEST = 1e-60, 1e30  # in SI units: nothing, and beyond all that is built; their powers in our formulas stay numbers
_SEVERAL = (list, tuple, Iterable, Collection, Sequence)
_PLAIN = {
    str: "text in quotes",
    Path: "the name of a file in quotes",
    bool: "True or False",
    int: "a whole number",
    float: "a plain number such as 0.4",
    Callable: "a function",
    type: "the class of its record",
    dict: "names with a value each, as in {'name': value}",
    Mapping: "names with a value each, as in {'name': value}",
} | dict.fromkeys(_SEVERAL, "a list")


@dataclass(frozen=True)
class Thing:
    """What an argument has to be: one of some classes; what is in it, if it holds several; whether it may be left out."""

    classes: tuple[type, ...]
    inside: Thing | None = None
    optional: bool = False

    @functools.cached_property
    def as_is(self) -> frozenset[type]:
        """Classes of which a value is taken as it comes."""
        if any(c in _SEVERAL or c is Path for c in self.classes):
            return frozenset()
        by_name = any(hasattr(c, "named") for c in self.classes)
        return frozenset(self.classes) - {dict, Quantity} - ({str, type} if by_name else set())

    def read(self, value, where: str):
        """The value as it is meant, or a `DesignError` that begins with `where`."""
        if value is None:
            if self.optional:
                return None
            raise DesignError(f"{where} is None; it needs {self.words()}.")
        if Path in self.classes and isinstance(value, (str, Path)):
            named_file(value, where)
        by_name = next((c for c in self.classes if hasattr(c, "named")), None)
        if by_name and isinstance(value, (str, Path)):
            try:
                return by_name.named(value)
            except DesignError as wrong:
                raise DesignError(f"{where}: {wrong}") from None
        if isinstance(value, Quantity):
            value = Quantity(real(value.magnitude, where, self.words()), value.units)
        several = next((c for c in self.classes if c in _SEVERAL), None)
        if several and (isinstance(value, str) or (self.inside and isinstance(value, self.inside.classes))):
            value = [value]  # never letter by letter
        elif (isinstance(value, type) and type not in self.classes) or (isinstance(value, bool) and bool not in self.classes):
            pass
        elif isinstance(value, self.classes) and not (several and isinstance(value, Mapping) and not {dict, Mapping} & {*self.classes}):
            if isinstance(value, Mapping):
                return {key: self.inside.read(one, f"{where}: {key}") for key, one in value.items()} if self.inside else value
            if not several:
                return value
        elif isinstance(value, np.bool_) and bool in self.classes:
            return bool(value)
        elif str in self.classes and isinstance(name := getattr(getattr(value, "si", None), "name", None), str):
            return name
        elif isinstance(value, numbers.Real) and {int, float} & {*self.classes} and (float in self.classes or value % 1 == 0):
            number = float(real(value, where, self.words()))
            return number if float in self.classes else int(number)
        if not several or isinstance(value, Mapping) or not isinstance(value, Iterable) or getattr(value, "ndim", 1) == 0:
            raise DesignError(f"{where} is {as_given(value)}; it needs {self.words()}.")
        read = [self.inside.read(one, where) for one in value] if self.inside else list(value)
        return tuple(read) if several is tuple else read

    def words(self) -> str:
        """What it needs, in words: "a pump, or the name of one in quotes"."""
        named = [c for c in self.classes if hasattr(c, "named")]
        return " or ".join(dict.fromkeys(_words(c) for c in self.classes if not (named and c in (str, Path))))


def _words(cls: type) -> str:
    if cls in _PLAIN:
        return _PLAIN[cls]
    if hasattr(cls, "m_as"):
        return "a quantity with its unit"
    how = "or the name of one in quotes" if hasattr(cls, "named") else f"made with {getattr(cls, 'made_with', f'{cls.__name__}(…)')}"
    return f"{an(cls.__name__)}, {how}"


def thing(hint, default=inspect.Parameter.empty) -> Thing | None:
    """What an annotation asks for; None where it says nothing that could be looked at.

    ``Build | Any`` asks for a build; the "Any" lets a type checker pass the name of one.
    """
    options = typing.get_args(hint) if typing.get_origin(hint) in (typing.Union, types.UnionType) else (hint,)
    classes = tuple(typing.get_origin(one) or one for one in options if one not in (type(None), Any) or len(options) == 1)
    if not classes or not all(isinstance(c, type) and c not in (object, Any, inspect.Parameter.empty) for c in classes):
        return None
    inside = [args[-1 if args[-1] is not ... else 0] for one in options if (args := typing.get_args(one))]
    return Thing(classes, thing(inside[0]) if len(inside) == 1 else None, default is None or type(None) in options)


_Given = ParamSpec("_Given")
_Got = TypeVar("_Got")


def takes_things(function: Callable[_Given, _Got]) -> Callable[_Given, _Got]:
    """Put a door on a function that takes builds, pumps, text, …: each argument is read as its annotation says.

    The docstring gets each name and what it is from the annotations (see `signatures`).
    """
    call = Call(function)

    @functools.cache
    def things() -> dict[str, Thing]:  # at the first call: a method's class is not there before
        hints = typing.get_type_hints(function)
        return {n: found for n, one in call.signature.parameters.items() if (found := thing(hints.get(n), one.default))}

    @functools.wraps(function)
    def door(*args: Any, **kwargs: Any):
        given, asked = call.named(args, kwargs), things()
        for name, value in given.items():
            if name in asked and type(value) not in asked[name].as_is:
                given[name] = asked[name].read(value, f"{function.__name__}: {name}")
        return call(given)

    door.__doc__ = annotated(function, call.signature)
    return typing.cast(Any, door)


# --- where a quantity is meant ------------------------------------------------------------

_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_TOO_LONG = 60
_NUMBER = re.compile(
    r"(?P<sign>[+-]?)\s*(?:(?P<whole>\d{1,9})\s+(?P<top>\d{1,9})/(?P<bottom>\d{1,9})"
    r"|(?P<top2>\d{1,9})/(?P<bottom2>\d{1,9})"
    r"|(?P<decimal>(?:\d{1,15}(?:\.\d{0,20})?|\.\d{1,20})(?:[eE][+-]?\d{1,2}(?![\w]))?))"
)
_FEET = re.compile(
    r"(?P<sign>[+-]?)\s*(?P<feet>[\d./ ]+?)\s*(?:(?:feet|foot|ft\.?)(?=\s|[\d./ ]+(?:in|[\"\u2033\u201d]))|['\u2032\u2019](?!['\u2032\u2019]))\s*(?P<rest>[\d.].*)$",
    re.IGNORECASE,
)
_INCHES = re.compile(r"\s*(?:inch(?:es)?|in\.?|[\"\u2033\u201d]|['\u2032\u2019]{2})$", re.IGNORECASE)
_PAIR = re.compile(r"[+-]?[\d./ ]+(?P<one>[a-zA-Z]+)\s+[\d./ ]+(?P<other>[a-zA-Z]+)$")


def _feet_and_inches(tidy: str, text: str):
    """The length in "5 ft 6 1/2 in" or "5' 6 1/2"", as a tape is read; None where the text is not of that form."""
    found = _FEET.match(tidy)
    if not found:
        return None
    feet, inches = _NUMBER.fullmatch(found["feet"].strip()), _INCHES.sub("", found["rest"]).strip()
    number = _NUMBER.fullmatch(inches)
    if not feet or not number or feet["decimal"] is None or "." in found["feet"]:
        raise DesignError(f"'{text}': write whole feet, then inches, such as 5 ft 6 1/2 in, or one number, such as 5.5 ft.")
    if not _INCHES.search(found["rest"]):
        raise DesignError(f"'{text}': {inches} what? Write {found['feet'].strip()} ft {inches} in.")
    if _value(number, text) >= 12:
        raise DesignError(f"'{text}' has 12 inches or more beside its feet; write the inches over the last whole foot, such as 5 ft 6 in.")
    total = _value(feet, text) + _value(number, text) / 12.0
    return Quantity(-total if found["sign"] == "-" else total, u.foot)


def quantity(text: str, kind: Kind | None = None):
    """The quantity that a person's text says, read strictly and safely.

    Parameters
    ----------
    text : str
        A number, then a unit: ``"1000 L"``, ``"1 1/2 in"``, ``"20 kg/m3"``, ``"75 °F"``, or feet and inches as on a tape,
        ``"5 ft 6 1/2 in"``. A decimal comma is
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
        raise DesignError(f"quantity: kind is {as_given(kind)}; it is one of aquaplumb.units, such as FLOW.")
    if isinstance(text, Quantity):
        return _fits(text, kind, "") if kind else text
    example = kind.example if kind else "1000 L"
    if not isinstance(text, str):
        raise DesignError(f'{as_given(text)} has no unit; write it with one and in quotes, such as "{example}".')
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
    if (result := _feet_and_inches(tidy, text)) is not None:
        return _fits(result, kind, "", given=text) if kind else result
    if pair := _PAIR.match(tidy):
        raise DesignError(
            f"'{text}' gives two amounts, in {pair['one']} and in {pair['other']}; write one number and one unit, such as {example}."
        )
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


def noun(value) -> str:
    """What a quantity is, in words: "a volume"."""
    kind = kind_of(value)
    return kind.noun if kind else "something else"


def kind_of(value) -> Kind | None:
    """The first kind that a quantity can be; None where it is of none."""
    if not isinstance(value, Quantity):
        raise DesignError(f"this is {as_given(value)}; give a quantity, such as 900 * u.L / u.h.")
    if value.dimensionless:
        return ANGLE if value.units in (u.degree, u.radian) else SALINITY if value.units == pint_unit(SALINITY.si) else SHARE
    return next((kind for kind in KINDS if value.check(pint_unit(kind.si).dimensionality)), None)


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


def real(value, where: str, needs: str):
    """The number or array of numbers in `value`; whatever is none is refused: `where` begins the sentence, `needs` ends it."""
    if type(value) is float and (value == 0.0 or LEAST <= abs(value) <= LARGEST):  # nearly always
        return value + 0.0
    number = _numbers(value, where, needs)
    if not np.all(np.isfinite(number)):
        raise DesignError(f"{where} is not a finite number; it needs {needs}.")
    if np.any(np.abs(number) > LARGEST):
        raise DesignError(f"{where} is {np.max(np.abs(number)):.3g} in SI units, beyond all that can be built; it needs {needs}.")
    return np.where(np.abs(number) < LEAST, 0.0, number)[()]


def _numbers(value, where: str, needs: str):
    try:
        array = np.asarray(value)
    except (TypeError, ValueError):  # rows of several lengths
        raise DesignError(f"{where} has rows of several lengths; it needs {needs}.") from None
    several = array.ndim and (array.dtype.kind == "O" or isinstance(value, (list, tuple)))
    parts = np.asarray(value, object).flat if several else (value,)
    if array.dtype.kind == "b" or (several and any(isinstance(one, (bool, np.bool_)) for one in parts)):
        raise DesignError(f"{where} is {'a list of true and false' if array.ndim else value}, which is no number; it needs {needs}.")
    if array.size == 0:
        raise DesignError(f"{where} is an empty list; it needs {needs}.")
    try:
        if array.dtype.kind == "O" and all(isinstance(one, numbers.Real) for one in array.flat):
            array = array.astype(float)
    except OverflowError:
        raise DesignError(f"{where} is a number of over 300 digits; it needs {needs}.") from None
    if array.dtype.kind not in "iuf":
        raise DesignError(f"{where} is {as_given(value)}; it needs {needs}.")
    return array.astype(float, copy=False)[()]


def si_value(value, kind: Kind, where: str):
    """The bare SI number (or array) of a quantity, refused in plain words where it is not of its kind.

    Text is read, lists of texts or quantities become arrays, and a quantity of another library is converted. A bare
    number is refused but for pure numbers and for salinity, which people give without a unit: grams in a kilogram.
    """
    if value is None:
        return None
    needs = f"{kind.noun} such as {kind.example}"
    if isinstance(value, (list, tuple)) and any(isinstance(one, str) or hasattr(one, "units") for one in value):
        return real([si_value(one, kind, where) for one in value], where, needs)
    if isinstance(value, str):
        value = quantity(value)
    if not isinstance(value, Quantity) and hasattr(value, "units"):
        value = _ours(value, kind, where)
    if isinstance(value, Quantity):
        if type(value.magnitude) is not float:
            value = Quantity(real(value.magnitude, where, needs), value.units)
        number = real(_fits(value, kind, where).m_as(pint_unit(kind.si)), where, needs)
        return number if isinstance(number, np.ndarray) else float(number)
    if (kind.si and kind is not SALINITY) or isinstance(value, bytes):
        raise DesignError(f"{where} is {as_given(value)}, with no unit; it needs {needs}.")
    return real(value, where, needs)


@functools.lru_cache(maxsize=10_000)
def text_value(text: str, kind: Kind) -> float:
    """The bare SI number that a text says, each text once: a build of hundreds is read anew for each number of it that changes."""
    return si_value(quantity(text, kind), kind, "it")


def needed_value(value, kind: Kind, where: str):
    """As `si_value`, of what may not be left out."""
    if value is None:
        raise DesignError(f"{where} is None; it needs {kind.noun} such as {kind.example}.")
    return si_value(value, kind, where)


def at_least_nothing(value, kind: Kind, where: str):
    """A bare SI value, refused where it is less than nothing and its kind never is: a time, a mass, an area, an amount in water …"""
    if kind in NEVER_NEGATIVE and value is not None and np.any(np.less(value, 0.0)):
        raise DesignError(f"{where} is {kind.text(float(np.min(value)))}, below zero; it needs 0 or more, such as {kind.example}.")
    return value


def kind_in(hint) -> Kind | None:
    """The Kind in an annotation such as `Flow` or `Flow | None`, or None."""
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        hint = next((arg for arg in typing.get_args(hint) if arg is not type(None)), hint)
    for extra in getattr(hint, "__metadata__", ()):
        if isinstance(extra, Kind):
            return extra
    return None

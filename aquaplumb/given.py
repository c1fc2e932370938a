"""What a person gives where a thing is meant: a pump by its name, a build by its file, one text where there may be several.

The doors (`takes_things`, and `units.takes_quantities` for what is no quantity) read a function's annotations: a class
that can be called by a name has a `named`, text alone is a list of one, and whatever cannot be is refused in one
sentence. A class says in `made_with` how to get one, where its own name does not say so.
"""

from __future__ import annotations

import functools
import inspect
import numbers
import types
import typing
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

import numpy as np

from aquaplumb.kinds import DesignError

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

    def read(self, value, where: str):
        """The value as it is meant, or a `DesignError` that begins with `where`."""
        if value is None:
            if self.optional:
                return None
            raise DesignError(f"{where} is None; it needs {self.words()}.")
        by_name = next((c for c in self.classes if hasattr(c, "named")), None)
        if by_name and isinstance(value, (str, Path)):
            try:
                return by_name.named(value)
            except DesignError as wrong:
                raise DesignError(f"{where}: {wrong}") from None
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
            return float(value) if float in self.classes else int(float(value))
        if not several or isinstance(value, Mapping) or not isinstance(value, Iterable):
            raise DesignError(f"{where} is {told(value)}; it needs {self.words()}.")
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
    return f"{_a(cls.__name__)}, {how}"


def _a(word: str) -> str:
    return f"{'an' if word[0] in 'aeiouAEIOU' else 'a'} {word}"


def told(value) -> str:
    """What was given, in a sentence: a short value as it is typed, of anything else what it is."""
    if value is None or isinstance(value, (str, int, float, np.number)) or (hasattr(value, "units") and np.ndim(value) == 0):
        return f"{value!r:.60}" if isinstance(value, str) else f"{value!s:.60}"
    return f"the class {value.__name__}" if isinstance(value, type) else _a(type(value).__name__.removeprefix("nd"))


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
    """Put a door on a function that takes builds, pumps, text, …: each argument is read as its annotation says."""
    signature = inspect.signature(function)

    @functools.cache
    def things() -> dict[str, Thing]:  # at the first call: a method's class is not there before
        hints = typing.get_type_hints(function)
        return {n: found for n, one in signature.parameters.items() if (found := thing(hints.get(n), one.default))}

    @functools.wraps(function)
    def door(*args: Any, **kwargs: Any):
        bound = called(function, signature, args, kwargs)
        for name, value in bound.arguments.items():
            if name in things():
                bound.arguments[name] = things()[name].read(value, f"{function.__name__}: {name}")
        return function(*bound.args, **bound.kwargs)

    return typing.cast(Any, door)


def called(function: Callable, signature: inspect.Signature, args: tuple, kwargs: dict) -> inspect.BoundArguments:
    """The arguments by name; a call that does not fit is told how the function is used."""
    try:
        return signature.bind(*args, **kwargs)
    except TypeError as wrong:
        raise TypeError(f"{function.__name__}: {wrong}; it is used as {function.__name__}{_usage(signature)}") from None


def _usage(signature: inspect.Signature) -> str:
    """How a function is called: "(flow, *, temperature)"; what stands after the star is given by name."""
    names, starred = [], False
    for name, one in signature.parameters.items():
        if one.kind is one.KEYWORD_ONLY and not starred:
            names.append("*")
            starred = True
        names.append(name if one.default is one.empty else f"{name}=…")
    return f"({', '.join(names)})" + (", with a name before each that follows the *" if starred else "")


class Fixed(dict):
    """A dict that does not change: what stands in records and builds."""

    def _refused(self, *_: Any, **__: Any) -> typing.NoReturn:
        raise TypeError("this does not change: of a build make another with .changed({…}), of a record with .replace(…).")

    __setitem__ = __delitem__ = __ior__ = clear = pop = popitem = setdefault = update = _refused

    def __reduce__(self):
        return Fixed, (dict(self),)

"""A frozen group of values: quantities at the face, bare SI numbers in ``.si``. Reached through `units`."""

from __future__ import annotations

import html
import inspect
import types
import typing
from collections.abc import Callable, Iterable
from typing import Any, Self

import numpy as np

from aquaplumb.given import Thing, kind_in, needed_value, quantity, si_value, thing
from aquaplumb.kinds import NUMBER, DesignError, Kind, Quantity, pint_unit, rounded
from aquaplumb.signatures import filled_in, of_annotation


class Fixed(dict):
    """A dict that does not change: what stands in records and builds."""

    def _refused(self, *_: Any, **__: Any) -> typing.NoReturn:
        raise TypeError("this does not change: of a build make another with .changed({…}), of a record with .replace(…).")

    __setitem__ = __delitem__ = __ior__ = clear = pop = popitem = setdefault = update = _refused

    def __reduce__(self):
        return Fixed, (dict(self),)


class FromFile(float):
    """A bare SI number out of a file: `said` as it is written there, and `place()` tells where, so that a refusal can."""

    said: str
    place: Callable[[], str]

    @classmethod
    def of(cls, number: float, said: str, place: Callable[[], str]) -> FromFile:
        """The number with its place."""
        made = cls(number)
        made.said, made.place = said, place
        return made


def said(value, kind: Kind, system: str = "metric") -> str:
    """A bare SI value as its file has it; of another, in the unit of a system."""
    return value.said if isinstance(value, FromFile) else kind.text(value, system)


class FieldError(DesignError):
    """What is wrong with one field of a record, beside another: `field` is its name."""

    def __init__(self, field: str, why: str):
        super().__init__(why)
        self.field = field


def check_range(value, low: float, high: float, kind: Kind, where: str, why: str) -> None:
    """Refuse a bare SI value outside ``low`` to ``high``, naming the range and its reason."""
    slack = 1e-9 * (high - low)  # 104 °F is 40 °C, and not a rounding error more
    if isinstance(value, float):  # what a slider moves: stay lean
        if low - slack <= value <= high + slack:
            return
    elif np.all(np.greater_equal(value, low - slack)) and np.all(np.less_equal(value, high + slack)):
        return
    worst = float(np.min(value) if np.min(value) < low else np.max(value))
    ends, unit, said = (kind.shown(low), kind.shown(high)), kind.unit(), kind.text(worst)
    if isinstance(value, FromFile):  # in the file's own unit
        where, said, one = f"{value.place()}: {where}", value.said, quantity(value.said, kind)
        ends, unit = tuple(Quantity(end, pint_unit(kind.si)).m_as(one.units) for end in (low, high)), f"{one.units:~P}"
    span = f"{rounded(ends[0], 4)} to {rounded(ends[1], 4)} {unit}".rstrip()
    raise DesignError(f"{where} is {said}; {why} holds from {span}.")


class Bare(types.SimpleNamespace):
    """The values of a record as bare SI numbers; frozen, as the record is."""

    def __setattr__(self, name, value):
        raise AttributeError(f"a record does not change; make another with .with_si({name}=…).")

    def __delattr__(self, name):
        raise AttributeError("a record does not change.")


class Record:
    """A frozen group of values: quantities at the face, bare SI numbers in ``.si``.

    A subclass lists its fields as annotations, with defaults where there are any::

        class Point(Record):
            flow: Flow
            head: Head
            name: str = ""

    ``Point(flow="900 L/h", head=1.2 * u.m)`` checks units; `Point.from_si` takes bare SI numbers.
    """

    _kinds: typing.ClassVar[dict[str, Kind | None]] = {}
    _defaults: typing.ClassVar[dict[str, Any]] = {}
    _optional: typing.ClassVar[set[str]] = set()
    _things: typing.ClassVar[dict[str, Thing]] = {}
    __signature__: typing.ClassVar[inspect.Signature]

    def __init_subclass__(cls) -> None:
        hints = typing.get_type_hints(cls, include_extras=True)
        fields = [n for n, h in hints.items() if not n.startswith("_") and typing.get_origin(h) is not typing.ClassVar]
        cls._kinds = {name: kind_in(hints[name]) for name in fields}
        inherited = {n: default for b in reversed(cls.__bases__) for n, default in getattr(b, "_defaults", {}).items()}
        cls._defaults = inherited | {n: vars(b)[n] for b in reversed(cls.__mro__) for n in fields if n in vars(b)}
        cls._optional = {n for n in fields if cls._defaults.get(n, ...) is None or type(None) in typing.get_args(hints[n])}
        cls._things = {n: found for n in fields if not cls._kinds[n] and (found := thing(hints[n], cls._defaults.get(n, ...)))}
        own = {n: text for b in reversed(cls.__mro__) for n, text in vars(b).get("__annotations__", {}).items()}
        cls.__doc__ = filled_in(cls.__doc__, {n: (*of_annotation(own[n], cls._kinds[n])[:2], "") for n in fields}, None, "Attributes")
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
                if value is not None:
                    cls.within(name, read[name], value, where)
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
        self.check()

    @classmethod
    def within(cls, field: str, value, given, where: str = "") -> None:
        """Refuse what a field can never be, whatever the others are; a subclass fills this in."""

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
        return self is other or (type(self) is type(other) and _same(vars(self.si), vars(other.si)))

    def __hash__(self):
        kept = vars(self)
        if "_hash" not in kept:  # a record does not change, and is looked up by the thousand
            kept["_hash"] = hash((type(self), _fixed(vars(self.si))))
        return kept["_hash"]

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


def folded(title: str, shown: str) -> str:
    """HTML under a line of these words, which opens it; in a copy on paper it is open."""
    return f"<details><summary>{html.escape(title, quote=False)}</summary>{shown}</details>"


class Lines(str):
    """Text in columns, which a narrow screen scrolls sideways and does not break; or the same as the HTML of a `table`, where it has one."""

    table = ""

    def under(self, title: str) -> Lines:
        """The same; in a notebook it is folded under a line of these words."""
        self.table = folded(title, self._html())
        return self

    def _html(self) -> str:
        return self.table or f'<pre class="ap-wide">{html.escape(self)}</pre>'

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/plain": str(self), "text/html": self._html()}


class Columned:
    """What prints in columns, for a notebook: see `Lines`."""

    def _repr_mimebundle_(self, include=None, exclude=None):
        return Lines(str(self))._repr_mimebundle_()


def _shown(value, kind: Kind | None, system: str) -> str:
    if kind and isinstance(value, (int, float, np.ndarray, np.number)):
        return kind.text(value, system)
    return repr(value)


def _same(a, b) -> bool:
    """Whether two values of records are the same: arrays by every number in them."""
    if a is b:
        return True
    if isinstance(a, np.ndarray) or isinstance(b, np.ndarray):
        return np.shape(a) == np.shape(b) and bool(np.all((a == b) | ((a != a) & (b != b))))
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(_same(a[key], b[key]) for key in a)
    if isinstance(a, (tuple, list)) and type(a) is type(b):
        return len(a) == len(b) and all(map(_same, a, b))
    return bool(a == b or (a != a and b != b))


def _fixed(value):
    """A value of a record as something with a hash; an array has none."""
    if isinstance(value, dict):
        return frozenset((key, _fixed(one)) for key, one in value.items())
    return tuple(map(_fixed, value)) if isinstance(value, (tuple, list)) else value

"""The data tables in ``data/``: each row a small typed record with its basis, source and note.

tables.names()                  # which tables there are
tables.names("species")         # the names in one
tables.row("media", "expanded clay").specific_surface
tables.row(Medium, "expanded clay")      # the same, in code: a type checker knows that it is a `Medium`
tables.frame("fittings")        # the whole table as a pandas DataFrame, to look at

Rows of one's own come from a file beside a build (`own_rows`) and are in no table: the names in that build carry them.
"""

from __future__ import annotations

import csv
import difflib
import functools
import importlib
import re
from pathlib import Path
from typing import Any, ClassVar, Self, TypeVar, cast, overload

from aquaplumb.given import takes_things
from aquaplumb.records import Fixed
from aquaplumb.units import DesignError, Kind, Record, quantity, si_value

BANDS = ("low", "typical", "high")  # of a value where sources disagree
BASES = ("measured", "published", "maker's claim", "common practice", "invented for the demo")
YOURS = "yours"  # the basis of a row of one's own


def folder(name: str) -> Path:
    """Where ``data`` or ``notebooks`` is: inside the installed package, or beside it in a checkout."""
    here = Path(__file__).resolve().parent
    for place in (here / name, here.parent / name):
        if place.is_dir():
            return place
    raise DesignError(f"the folder '{name}' did not come with this installation; install aquaplumb again.")


class Row(Record):
    """What every row has: a name, and where its numbers come from."""

    name: str
    basis: str
    source: str
    note: str = ""

    _table: ClassVar[str]

    @classmethod
    def named(cls, name: str) -> Self:
        """The row of a name: it serves wherever such a row is meant."""
        return row(cls, name, f"list of {cls._table}")


class OwnName(str):
    """The name of a row of one's own, which it carries: whoever gets the name needs no table to find the row.

    It reads as the text that it is. Two are the same where the rows are, so that what is kept by a name (a solved line, a
    curve) is kept for the row. A pipe standard of one's own is such a name for all of its sizes.
    """

    rows: tuple[Row, ...]
    said: tuple  #: what the rows say, bare

    def __new__(cls, text: str, rows: tuple[Row, ...] = ()) -> OwnName:
        """The name, without its rows where they are not there yet."""
        made = super().__new__(cls, text)
        return made._carrying(rows)

    def _carrying(self, rows: tuple[Row, ...]) -> OwnName:
        self.rows, self.said = rows, tuple((type(r).__name__, *(str(value) for value in vars(r.si).values())) for r in rows)
        return self

    def __eq__(self, other: object) -> bool:
        return str.__eq__(self, other) is True and self.said == getattr(other, "said", self.said)

    def __ne__(self, other: object) -> bool:
        return not self == other

    __hash__ = str.__hash__

    def __reduce__(self):
        return OwnName, (str(self),), self.rows  # a row holds its own name: the name is there before its rows

    def __setstate__(self, rows: tuple[Row, ...]) -> None:
        self._carrying(rows)


_TYPES: dict[str, type[Row]] = {}
_R = TypeVar("_R", bound=Row)
_HOMES = {  # where each table's record stands; the room is opened when the table is asked for
    "airpumps": "air.air_pumps", "airstones": "air.stones", "bases": "water.bases", "batteries": "power.battery_kinds",
    "cables": "plumbing.conduits", "cement": "workshop.cement", "conduits": "plumbing.conduits", "cropgrowth": "fish.crop_weather", "crops": "fish.beds", "feeding": "fish.feeding", "fittings": "plumbing.fittings", "growth": "fish.growth",
    "media": "fish.nitrification", "pipes": "plumbing.pipe_sizes", "pumps": "plumbing.pumps", "plausible": "plausible", "species": "fish.feeding",
    "sockets": "plumbing.takeoffs", "stock": "workshop.pipe_stock", "supports": "workshop.supports", "takeoffs": "plumbing.takeoffs", "tankfittings": "plumbing.tank_fittings", "upkeep": "water.upkeep", "wires": "power.wire_sizes",
}  # fmt: skip


def table_type(name: str):
    """Say which record the rows of ``data/<name>.csv`` become (a class decorator)."""

    def register(cls: type[_R]) -> type[_R]:
        _TYPES[name] = cls
        cls._table = name
        return cls

    return register


@overload
def table(name: type[_R]) -> dict[str, _R]: ...
@overload
def table(name: str) -> dict[str, Row]: ...
@takes_things
def table(name: str | type[Row]) -> Any:
    """All rows of a table, by name, in the file's order; asked for by its record, ``table(Medium)``, each is known to be one."""
    return _read(_named(name))


def _named(table: str | type[Row]) -> str:
    """A table's name, asked for by it or by the record of its rows."""
    if isinstance(table, str):
        return table
    if not issubclass(table, Row) or table not in _TYPES.values():
        raise DesignError(f"there is no table of {table.__name__}; there are {', '.join(sorted(_HOMES))}.")
    return table._table


@functools.cache
def _read(name: str) -> dict[str, Row]:
    kind = _kind(name)
    rows = [_record(kind, raw, f"{name}.csv line {line}") for line, raw in _rows(folder("data") / f"{name}.csv")]
    return Fixed({row.si.name: row for row in rows})


def _rows_of(cls: type[_R], path: Path) -> list[_R]:
    """The rows of a file that is no table by itself, as records of a class."""
    return [cast(_R, _record(cls, raw, f"{path.name} line {line}")) for line, raw in _rows(path)]


def _kind(name: str) -> type[Row]:
    """The record of a table's rows."""
    if name not in _TYPES and name in _HOMES:
        importlib.import_module(f"aquaplumb.{_HOMES[name]}")
    if name not in _TYPES:
        raise DesignError(f"there is no table '{name:.40}'; there are {', '.join(sorted(_HOMES))}.")
    return _TYPES[name]


@takes_things
def names(name: str = "") -> list[str]:
    """The names in a table, in order; without one, which tables there are.

    >>> names("species")[0], "pumps" in names()
    ('Nile tilapia', True)
    """
    return list(_read(name)) if name else sorted(_HOMES)


@overload
def row(name: type[_R], wanted: str, what: str = "") -> _R: ...
@overload
def row(name: str, wanted: str, what: str = "") -> Row: ...
@takes_things
def row(name: str | type[Row], wanted: str, what: str = "") -> Any:
    """One row by its name; an unknown name is refused with the nearest ones."""
    table = _named(name)
    if isinstance(wanted, OwnName) and isinstance(wanted.rows[0], _kind(table)):
        return wanted.rows[0]
    rows = _read(table)
    if wanted in rows:
        return rows[wanted]
    folded = {key.casefold(): key for key in rows}
    if str(wanted).casefold() in folded:
        return rows[folded[str(wanted).casefold()]]
    raise DesignError(unknown(what or f"{table} table", wanted, rows))


_LONGEST, _LISTED = 40, 130  # letters of a name that is not known, as it is said again; of the names beside it


def unknown(what: str, wanted, known) -> str:
    """The sentence for a name that a list does not have: the near ones, or all when they are few."""
    known = [str(k) for k in known]
    wanted = str(wanted) if len(str(wanted)) <= _LONGEST else f"{str(wanted)[:_LONGEST]}…"
    words = set(wanted.casefold().split())
    near = [k for k in known if words and words <= set(k.casefold().split())][:3]
    near = near or difflib.get_close_matches(wanted, known, 3, 0.5)
    if near:
        return f"the {what} has no '{wanted}'; did you mean {' or '.join(near)}?"
    few = [k for n, k in enumerate(known) if len(", ".join(known[: n + 1])) <= _LISTED]
    some = ", ".join(few) + (" …" if len(known) > len(few) else "")
    return f"the {what} has no '{wanted}'; it has {some}."


@takes_things
def frame(name: str):
    """A table as a pandas DataFrame with its headers as printed, to look at or to sort."""
    import pandas as pd

    _kind(name)
    return pd.read_csv(folder("data") / f"{name}.csv", comment=None, keep_default_na=True)


# --- reading ------------------------------------------------------------------------------------

_HEADER = re.compile(r"(?P<field>[^\[\]]+?)\s*(?:\[(?P<unit>[^\]]*)\])?$")


def _cells(line: str) -> list[str]:
    """The cells of one line."""
    return next(csv.reader([line]), [])


def _field(head: str) -> str:
    """The field of a record that a column's head means: "best low [°C]" is `best_low`."""
    found = _HEADER.match(head.strip())
    return found["field"].strip().replace(" ", "_").replace("-", "_") if found else ""


def _rows(path: Path):
    """(line number, {field: (text, unit or None)}) for each row of a tidy CSV."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.reader(file)
        fields = [(_field(cell), found["unit"] if (found := _HEADER.match(cell.strip())) else None) for cell in next(reader)]
        for cells in reader:
            if any(cell.strip() for cell in cells):
                if len(cells) != len(fields):
                    raise DesignError(f"{path.name} line {reader.line_num}: {len(cells)} cells where the header has {len(fields)}.")
                yield reader.line_num, {field: (cell.strip(), unit) for (field, unit), cell in zip(fields, cells)}


def _record(cls: type[Row], raw: dict, where: str) -> Row:
    """The typed record of one row; a blank cell is unknown (None), never 0."""
    values = {}
    for field, (text, unit) in raw.items():
        if field not in cls._kinds:
            raise DesignError(f"{where}: the column '{field}' is not one that a {cls.__name__} has.")
        values[field] = _cell(text, unit, cls._kinds[field], f"{where}: {field}")
    return cls.from_si(**{**{f: None for f in cls._kinds if f not in cls._defaults}, **values})


def _cell(text: str, unit: str | None, kind: Kind | None, where: str):
    if kind is None:
        return text
    if text == "":
        return None
    try:
        return si_value(quantity(f"{text} {unit or ''}".strip(), kind), kind, where)
    except DesignError as wrong:
        raise DesignError(f"{where}: {wrong}") from None

"""Rows of one's own: files beside the build for what a builder has and our tables have not, with the same columns as ours.

    [own]
    species = "my-species.csv"           # the name of the table, and the file beside the build

Ours stay as they are, and a name that ours has is refused. A name in the build carries its row (`tables.OwnName`), so that
nothing is kept for the whole process: two builds with other rows of one name know nothing of each other, in any thread.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from aquaplumb import tables
from aquaplumb.plumbing import pipe_sizes
from aquaplumb.plumbing.pump_file import plain_text
from aquaplumb.records import Fixed
from aquaplumb.tables import OwnName, Row
from aquaplumb.units import SHARE, TEMPERATURE, DesignError, Kind, quantity

TABLES = ("species", "crops", "media", "fittings", "pipes", "airpumps", "airstones", "sockets", "takeoffs")
# What of a build names a row, by its key; `size` goes by the standard that carries it.
NAMED = {"species": "species", "crop": "crops", "medium": "media", "standard": "pipes", "stone": "airstones"} | dict.fromkeys(
    ("pump", "backup_pump"), "airpumps"
)
_CLASSES = ("feeding_curve", "group", "supply", "joined_by", "made_for")  # words that ours tell apart; others would mean nothing
_LADDER = ("survive_low", "feeding_stops", "best_low", "best_high", "survive_high")
_MOST = 500  # rows: a person's own are a handful
_LONGEST = 80  # letters of a name

Own = Mapping[str, Mapping[str, OwnName]]  #: by table, then by name


def read(section: Mapping, folder: Path) -> Own:
    """The names of each table that an [own] section adds, each with its row. The files lie in `folder`."""
    found = {table: _names(table, folder / file) for table, file in section.items()}
    return Fixed({table: Fixed(names) for table, names in found.items()})


def names(own: Own, table: str) -> list[str]:
    """The names to choose from: ours, then a build's own."""
    return [*tables.names(table), *own.get(table, {}).values()]


def shifted(own: Own, share: float) -> Own:
    """The same names with every number of their rows larger by a share, or a little less: what moves with them stands on them.

    A temperature goes up by a hundredth of that, a part of a whole up to the whole.
    """
    place = 0
    found: dict[str, dict[str, OwnName]] = {}
    for table, named in own.items():
        for name, old in named.items():
            new, rows = OwnName(name), []
            for row in old.rows:
                place += 1
                by = share * (1.0 - 0.1 * math.sin(place) ** 2)
                moved: dict[str, Any] = {
                    f: _larger(f, kind, v, by) for f, kind in row._kinds.items() if kind and (v := getattr(row.si, f)) is not None
                }
                moved |= {f: tuple(v * (1.0 + by) for v in vars(row.si)[f]) for f in ("flows", "pressures") if vars(row.si).get(f)}
                same = {"standard": new} if table == "pipes" else {"name": new}
                rows.append(row.with_si(**moved, **same))
            found.setdefault(table, {})[name] = new._carrying(tuple(rows))
    return Fixed({table: Fixed(named) for table, named in found.items()})


def larger(name: OwnName, share: float) -> OwnName:
    """One name with the numbers of its row larger by a share."""
    return shifted({"airpumps": {str(name): name}}, share)["airpumps"][str(name)]


def _larger(field: str, kind: Kind, value: float, by: float) -> float:
    more = value * (1.0 + (0.01 * by if kind is TEMPERATURE else by))
    return min(more, 1.0) if _is_part(field, kind) else more


def _is_part(field: str, kind: Kind) -> bool:
    return kind is SHARE or field.startswith(("void", "protein"))


def _names(table: str, path: Path) -> dict[str, OwnName]:
    """The names in one file."""
    rows = [_row(table, raw, path.name, line) for line, raw in _lines(table, path)]
    seen: dict[str, int] = {}
    for line, row in rows:
        name, where = row.si.name, f"{path.name} line {line}"
        if name.casefold() in (one.casefold() for one in tables.names(table)):
            raise DesignError(f"{where}: '{name}' has a name that ours has; ours stay, so give yours another, such as 'my {name}'.")
        if name.casefold() in seen:
            raise DesignError(f"{where}: '{name}' is there already, in line {seen[name.casefold()]}; give each a name of its own.")
        seen[name.casefold()] = line
    if table == "pipes":
        return _standards(rows, path.name)
    found = {}
    for _, row in rows:
        name = OwnName(row.si.name)
        found[str(name)] = name._carrying((row.with_si(name=name),))
    return found


def _standards(rows: list[tuple[int, Row]], file: str) -> dict[str, OwnName]:
    """Pipe goes by its standard: each of one's own carries all its sizes, smallest first."""
    found: dict[str, OwnName] = {}
    for line, row in rows:
        said, where = row.si.standard, f"{file} line {line}"
        try:
            known = pipe_sizes.standard_named(said)
        except DesignError:
            known = ""
        if known or not said:
            whose = f"standard '{said}' is one of ours, and ours stay" if known else "it has no standard"
            raise DesignError(f"{where}: {whose}; give your pipe a standard of its own, such as 'my {said or 'hose'}'.")
        try:
            label = quantity(row.si.size).m_as("m")
        except Exception:
            raise DesignError(f"{where}: size '{row.si.size}' is no size such as '32 mm' or '1 1/4 in'.") from None
        name = found.setdefault(said, OwnName(said))
        if any(abs(quantity(other.si.size).m_as("m") / label - 1) < 1e-6 for other in name.rows):
            raise DesignError(f"{where}: {said} has {row.si.size} already; give each size once.")
        ours = sorted([*name.rows, row.with_si(standard=name)], key=lambda one: one.si.bore_minimum_wall)
        name._carrying(tuple(ours))
    return found


# --- reading a file ---------------------------------------------------------------------------------------------


def _lines(table: str, path: Path):
    """(line, cells by field) of each row of a file, its header looked at first."""
    ours = f"data/{table}.csv"
    text = plain_text(path, "file of your own rows", f"{_MOST} rows take far less. Save only your rows, with the header of {ours}.")
    header = text.split("\n", 1)[0]
    if not text.strip() or (";" in header and "," not in header):
        what = "its columns are parted by semicolons; save it with commas, and decimals with a point" if text.strip() else "it is empty"
        raise DesignError(f"{path.name}: {what}. The first line is that of {ours}: {','.join(list(_headers(table))[:3])},…")
    found = list(tables._rows(path))
    fields = [tables._field(cell) for cell in tables._cells(header)]
    kind = tables._kind(table)
    for field in fields:
        if field not in kind._kinds:
            raise DesignError(f"{path.name}: " + tables.unknown(f"header of {ours}", field.replace("_", " "), [tables._field(h).replace("_", " ") for h in _headers(table)]))  # fmt: skip
        if fields.count(field) > 1:
            raise DesignError(f"{path.name}: the column '{field.replace('_', ' ')}' is there twice; keep one of the two.")
    for head, example in _headers(table).items():
        if tables._field(head) not in (*fields, "basis", "source", "note"):
            raise DesignError(
                f"{path.name} has no column '{head}', which {ours} has; add it to the first line, and below it a value such as {example}."
            )
    if not found:
        raise DesignError(f"{path.name} has a header but no row under it; write one row for each {_one(table)} of yours.")
    if len(found) > _MOST:
        raise DesignError(f"{path.name} has {len(found):,} rows; {_MOST} are the most. Keep those that your builds use.")
    return found


def _headers(table: str) -> dict[str, str]:
    """The columns of a table of ours, each with the first value that stands in it."""
    lines = [tables._cells(line) for line in (tables.folder("data") / f"{table}.csv").read_text(encoding="utf-8").splitlines()]
    return {head: next((row[i] for row in lines[1:] if row[i]), "") for i, head in enumerate(lines[0])}


def _one(table: str) -> str:
    return {"species": "species", "media": "medium", "airpumps": "air pump", "airstones": "air stone"}.get(table, table.removesuffix("s"))


def _row(table: str, raw: dict, file: str, line: int) -> tuple[int, Row]:
    """One row, checked: a cell may be blank only where one of ours is."""
    where, kind = f"{file} line {line}", tables._kind(table)
    name = raw["name"][0]
    if not name or len(name) > _LONGEST or not name.isprintable():
        raise DesignError(
            f"{where}: {'the name is blank' if not name else f'{name!r:.40} is no name'}; write one, such as 'my {_one(table)}'."
        )
    ours, examples = tables.table(table).values(), {tables._field(head): (head, value) for head, value in _headers(table).items()}
    for field, (text, _) in raw.items():
        if not text and field not in ("basis", "source", "note") and all(getattr(row.si, field) not in (None, "") for row in ours):
            head, example = examples[field]
            raise DesignError(f"{where}: '{head}' of {name} is blank; what hangs on it would be silent. Write a value such as {example}.")
        if field in _CLASSES and text not in (known := dict.fromkeys(getattr(row.si, field) for row in ours)):
            raise DesignError(f"{where}: " + tables.unknown(f"list of words for {field.replace('_', ' ')}", text, known))
    said = [cells[0] for field in ("basis", "source") if (cells := raw.get(field)) and cells[0]]
    row = tables._record(kind, {**raw, "basis": (tables.YOURS, None), "source": (": ".join(said) or file, None)}, where)
    _sensible(row, where)
    return line, row


def _sensible(row: Row, where: str) -> None:
    """Refuse numbers that cannot be, or that stand in the wrong order."""
    s = vars(row.si)
    for field, kind in row._kinds.items():
        if kind and s[field] is not None and s[field] < 0:
            raise DesignError(f"{where}: {field.replace('_', ' ')} is {kind.text(s[field])}, which is less than nothing.")
        if kind and _is_part(field, kind) and s[field] is not None and s[field] > 1:
            raise DesignError(f"{where}: {field.replace('_', ' ')} is {s[field]:g} of a whole; it is a part, such as 0.4 or 40 %.")
    stems = dict.fromkeys(re.sub(r"_(low|typical|high)$", "", field) for field in s if re.search(r"_(low|typical|high)$", field))
    orders = [_LADDER, ("best_high", "feeding_ends")] if set(_LADDER) <= set(s) else []
    for order in [*orders, *([f"{stem}_{end}" for end in ("low", "typical", "high")] for stem in stems)]:
        values = [(field, s[field]) for field in order if s.get(field) is not None]
        for (one, low), (other, high) in itertools.pairwise(values):
            if low > high:
                raise DesignError(f"{where}: {one.replace('_', ' ')} is over {other.replace('_', ' ')}; they rise in that order.")
    if "bore_minimum_wall" in s and not 0 < s["bore_minimum_wall"] < s["outside_diameter"]:
        raise DesignError(f"{where}: the bore is more than 0 and less than the outside diameter, such as 26 mm in 32 mm.")
    if s.get("made_for") == "pressure" and s["pressure_rating"] is None:
        raise DesignError(
            f"{where}: pressure rating is blank; what is made for pressure says so on the pipe, such as 10 bar. Else it is for a drain."
        )

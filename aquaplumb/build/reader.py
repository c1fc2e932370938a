"""From the values of a build file to records: every refusal names the key, its line, what was found and what is possible."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import Any, NoReturn

from aquaplumb import plausible, tables
from aquaplumb.build import file_text, likes, own_rows, stocks
from aquaplumb.build.line_reader import LineReader
from aquaplumb.build.measured import MeasuredReader
from aquaplumb.build.own_reader import OwnReader
from aquaplumb.build.records import Plants, Site, Stock, Wanted
from aquaplumb.build.sections import OPTIONAL
from aquaplumb.build.vessels import FILTERS, Vessel
from aquaplumb.given import text_value
from aquaplumb.plumbing import conduits, fittings
from aquaplumb.records import FromFile
from aquaplumb.sentences import as_given
from aquaplumb.units import LENGTH, NUMBER, DesignError, Kind, in_percent, quantity, si_value

# Fields whose kind is looked after here because a record field of that name means something else to Python.
_RENAMED = {"from": "source"}
SECTIONS = {"site": Site, "fish": Stock, "plants": Plants, "water": Wanted}
_TOP = (
    "title",
    "about",
    "units",
    "own",
    "pipe",
    *SECTIONS,
    "stocks",
    "season",
    *OPTIONAL,
    "vessels",
    "conduits",
    "lines",
    "accepted",
    "measured",
)


def place(name: str, text: str, keys: tuple) -> str:
    """Where a key stands, in words: "my-build.toml, line 75: vessels › bed 1 › floor"."""
    line = file_text.line_of(text, keys)
    return f"{name}{f', line {line}' if line else ''}: {' › '.join(f'{k:.40}' for k in keys if not isinstance(k, int))}"


class Reader(OwnReader, LineReader, MeasuredReader):
    """Turns parsed TOML into records; every refusal names the key, its line and what is possible."""

    def __init__(self, doc: dict, text: str, name: str, folder: Path = Path(), own: own_rows.Own | None = None):
        self.doc, self.text, self.name, self.folder = doc, text, name, folder
        self.unusual: dict[tuple, str] = {}  # what is odd, by where it stands
        try:
            self.doc = doc = likes.resolved(doc)
        except likes.LikeError as wrong:
            self.refuse(wrong.keys, str(wrong))
        for key in doc:
            if key not in _TOP:
                self.refuse((key,), tables.unknown("build file", key, _TOP))
        self.own = self.own_rows(folder) if own is None else own
        self.pipe_defaults = self.values(("pipe",), doc.get("pipe", {}), ("standard", "wall"))

    def refuse(self, keys: tuple, why: str) -> NoReturn:
        raise DesignError(f"{place(self.name, self.text, keys)}: {why}") from None

    def head(self) -> tuple[str, str, str]:
        title, about = self.doc.get("title", ""), self.doc.get("about", "")
        for key, text in (("title", title), ("about", about)):
            if not isinstance(text, str):
                self.refuse((key,), f'is {as_given(text)}; it needs text in quotes, such as {key} = "Season one".')
        units = self.doc.get("units", "metric")
        if units not in ("metric", "US"):
            self.refuse(("units",), f'is {units!r:.60}; it is "metric" or "US".')
        return title, about, units

    def section(self, name: str, cls):
        if name not in self.doc:
            if cls is Wanted:
                return Wanted.from_si()
            self.refuse((name,), f"is missing; add a [{name}] section with {', '.join(self.needed(cls))}.")
        record = self.record((name,), self.doc[name], cls, **(stocks.ALONE if cls is Stock else {}))
        if cls is Stock:
            self.known((name, "species"), lambda: self.species(record))
        if cls is Plants:
            self.known((name, "crop"), lambda: tables.row("crops", record.si.crop))
        return record

    def optional(self, name: str, cls):
        """The record of a section that may be left out, or None; names in it are looked up in their tables."""
        if name not in self.doc:
            return None
        record = self.record((name,), self.from_files(name, self.doc[name]), cls)
        for field, look_up in cls.look_up.items():
            if value := getattr(record.si, field):
                self.known((name, field), functools.partial(look_up, value))
        return record

    @staticmethod
    def species(stock: Stock) -> tables.Row:
        return tables.row("species", stock.si.species)

    def known(self, keys: tuple, look_up) -> None:
        """Refuse a name that a table does not have, with its line."""
        try:
            look_up()
        except DesignError as wrong:
            self.refuse(keys, str(wrong))

    @staticmethod
    def needed(cls) -> list[str]:
        return [f for f in cls._kinds if f not in cls._defaults]

    def values(self, keys: tuple, found, allowed) -> dict:
        if not isinstance(found, dict):
            self.refuse(keys, f"is {found!r:.60}; it needs a section with {', '.join(allowed)}.")
        for key in found:
            if key not in allowed:
                self.refuse((*keys, key), tables.unknown("section", key, allowed))
        return found

    def record(self, keys: tuple, found: dict, cls, **fixed):
        """One record; `fixed` fields come from elsewhere."""
        names = {new: old for old, new in _RENAMED.items()}
        allowed = [names.get(f, f) for f in cls._kinds if f not in fixed]
        given = self.values(keys, found, allowed)
        ready = dict(fixed)
        for key, value in given.items():
            field = _RENAMED.get(key, key)
            ready[field] = self.field((*keys, key), value, cls, field)
        for field in self.needed(cls):
            if field not in ready:
                kind = cls._kinds[field]
                hint = f', {kind.noun}: {names.get(field, field)} = "{kind.example}"' if kind and kind is not NUMBER else ""
                self.refuse(keys, f"{names.get(field, field)} is missing{hint}.")
        try:
            return cls.from_si(**ready)
        except DesignError as wrong:
            field = getattr(wrong, "field", "")
            self.refuse((*keys, names.get(field, field)) if field in ready else keys, str(wrong))

    def field(self, keys: tuple, value, cls, field: str):
        kind = cls._kinds[field]
        choices = getattr(cls, "choices", {}).get(field)
        try:
            if choices and value not in choices:
                raise DesignError(tables.unknown(f"list of {field}s", value, choices))
            if kind is not None:
                if kind is NUMBER and (isinstance(value, bool) or not isinstance(value, (str, int, float))):
                    raise DesignError(f"is {as_given(value)}; it needs a plain number of 0 or more, such as 0.4.")
                number = (
                    text_value(value, kind)
                    if isinstance(value, str)
                    else si_value(value if kind is NUMBER else quantity(value, kind), kind, "it")
                )
                return self.ranged(keys, number, value, kind, cls.range_of(field))
        except DesignError as wrong:
            self.refuse(keys, str(wrong))
        default = cls._defaults.get(field)
        if isinstance(default, bool) and not isinstance(value, bool):
            self.refuse(keys, f"is {value!r:.60}; it is true or false, without quotes.")
        if field == "crop" and isinstance(default, dict):
            return self.crops(keys, value)
        if field == "does":
            return self.done(keys, value)
        if field in ("at", "door", "socket"):
            return self.spots(keys, value, several=field == "at")
        if field == "fittings":
            return self.counted(keys, value, fittings.fitting, field, "elbow 90")
        if field == "cables":
            return self.counted(keys, value, conduits.cable, field, "low voltage 2 x 2.5 mm2")
        if not isinstance(default, bool) and field not in ("siphon", "control", "pipe", "suction") and not isinstance(value, str):
            self.refuse(keys, f"is {value!r:.60}; it needs text in quotes.")
        if field == "name" and len(value) > file_text.LONGEST_NAME:
            self.refuse(keys, f"has {len(value):,} letters; a name has {file_text.LONGEST_NAME:,} at most.")
        return self.named_row(field, value)

    def ranged(self, keys: tuple, number: float, said, kind: Kind, span: plausible.Span | None) -> FromFile:
        """A number that knows its place; refused outside its hard range, kept in mind outside its usual one."""
        if span and (wrong := span.refused(number, kind, said)):
            raise DesignError(wrong)
        if span and (odd := span.unusual(number, kind, said)):
            self.unusual[keys] = odd
        return FromFile.of(number, said if isinstance(said, str) else f"{said:.12g}", functools.partial(place, self.name, self.text, keys))

    def counted(self, keys: tuple, found, look_up, field: str, example: str) -> dict:
        """Names of a table, each with how many there are."""
        if isinstance(found, dict):
            found = {self.named_row(keys[-1], name): count for name, count in found.items()}
        if not isinstance(found, dict):
            self.refuse(keys, f'it needs names and counts, such as {{ "{example}" = 2 }}.')
        for name, count in found.items():
            self.known((*keys, name), functools.partial(look_up, name))
            if isinstance(count, bool) or not isinstance(count, int) or count < 0:
                self.refuse((*keys, name), f"is {count!r:.60}; it needs a whole number of pieces.")
            try:
                self.ranged(
                    (*keys, name),
                    float(si_value(count, NUMBER, "it")),
                    count,
                    NUMBER,
                    plausible.row(f"{'conduits' if keys[0] == 'conduits' else 'lines'}.*.{field}.*"),
                )
            except DesignError as wrong:
                self.refuse((*keys, name), str(wrong))
        return dict(found)

    def crops(self, keys: tuple, found) -> dict[str, float]:
        """The crops of one vessel by name, each with its share of the places."""
        shares = {found: 1.0} if isinstance(found, str) else found
        if not isinstance(shares, dict) or not shares:
            self.refuse(keys, f'is {found!r:.60}; it is one crop in quotes, or several by share: {{ lettuce = "60 %", basil = "40 %" }}.')
        read = {}
        for told_name, share in shares.items():
            name = self.named_row("crop", told_name)
            self.known((*keys, name), functools.partial(tables.row, "crops", name))
            try:
                if isinstance(share, bool) or not isinstance(share, (str, int, float)):
                    raise DesignError(f'is {share!r:.60}; it is a share such as "60 %".')
                read[name] = float(si_value(quantity(share, NUMBER) if isinstance(share, str) else share, NUMBER, "it"))
            except DesignError as wrong:
                self.refuse((*keys, name), str(wrong))
        if min(read.values()) <= 0 or abs(sum(read.values()) - 1.0) > 0.005:
            told = " and ".join(in_percent(share) for share in read.values())
            self.refuse(keys, f"its shares are {told}; each is more than nothing, and together they make 100 %.")
        return read

    def spots(self, keys: tuple, found, *, several: bool):
        """A place on the ground as two lengths, along and across; or several of them, one for each of a count."""
        pairs = found if several and isinstance(found, list) and found and all(isinstance(one, list) for one in found) else [found]
        read = []
        for pair in pairs:
            if not isinstance(pair, list) or len(pair) != 2:
                self.refuse(
                    keys, f'is {found!r:.60}; it is two lengths, along and across from the yard\'s corner: {keys[-1]} = ["1.2 m", "0.4 m"].'
                )
            try:
                read.append(tuple(float(si_value(quantity(one, LENGTH), LENGTH, "it")) for one in pair))
            except DesignError as wrong:
                self.refuse(keys, str(wrong))
        return tuple(read) if several else read[0]

    def done(self, keys: tuple, found) -> tuple[str, ...]:
        """What a filter does: one word, or several in a list."""
        several = [found] if isinstance(found, str) else found
        if not isinstance(several, list) or not several or not all(isinstance(one, str) for one in several):
            self.refuse(keys, f'is {found!r:.60}; it is what the filter does, in quotes, or several in a list: does = ["mat", "media"].')
        for one in several:
            if one not in FILTERS:
                self.refuse(keys, tables.unknown("list of what a filter does", one, FILTERS))
        return tuple(dict.fromkeys(several))

    def named(self, key: str) -> dict:
        found = self.doc.get(key)
        if not isinstance(found, dict) or not found:
            self.refuse((key,), f'is missing; name each one in a section of its own, such as [{key}."fish tank"].')
        return found

    # vessels

    def vessels(self) -> dict[str, Vessel]:
        result = {}
        for name, found in self.named("vessels").items():
            keys = ("vessels", name)
            if not isinstance(found, dict):
                self.refuse(keys, f'is {found!r:.60}; write a section [vessels."{name}"].')
            fixed = {"name": name}
            if found.get("medium"):
                try:
                    medium: Any = tables.row("media", self.named_row("medium", found["medium"]))
                    fixed["void"] = medium.si.void_typical
                except DesignError as wrong:
                    self.refuse((*keys, "medium"), str(wrong))
                if "media_depth" not in found and "media_volume" not in found:
                    self.refuse(
                        keys,
                        'media_depth is missing, a length: media_depth = "30 cm" (or media_volume = "100 L" of what does not lie in it up to a depth).',
                    )
            result[name] = self.record(keys, found, Vessel, **fixed)
        if not any(v.si.kind == "fish tank" for v in result.values()):
            self.refuse(("vessels",), 'there is no fish tank; give one vessel kind = "fish tank".')
        return result

"""From the values of a build file to records: every refusal names the key, its line, what was found and what is possible."""

from __future__ import annotations

import functools
from typing import Any, NoReturn

from aquaplumb import tables
from aquaplumb.build import file_text, stocks
from aquaplumb.build.records import Conduit, Control, FallingLine, Pipe, Plants, PumpedLine, Siphon, Site, Stock, Wanted
from aquaplumb.build.sections import OPTIONAL
from aquaplumb.build.vessels import Vessel
from aquaplumb.plumbing import conduits, fittings, pipe_sizes, pumps
from aquaplumb.units import BORE, HEAD, LENGTH, NUMBER, DesignError, quantity, si_value

# Fields whose kind is looked after here because a record field of that name means something else to Python.
_RENAMED = {"from": "source"}
SECTIONS = {"site": Site, "fish": Stock, "plants": Plants, "water": Wanted}
_TOP = ("title", "about", "units", "pipe", *SECTIONS, "stocks", "season", *OPTIONAL, "vessels", "conduits", "lines")


class Reader:
    """Turns parsed TOML into records; every refusal names the key, its line and what is possible."""

    def __init__(self, doc: dict, text: str, name: str):
        self.doc, self.text, self.name = doc, text, name
        for key in doc:
            if key not in _TOP:
                self.refuse((key,), tables.unknown("build file", key, _TOP))
        self.pipe_defaults = self.values(("pipe",), doc.get("pipe", {}), ("standard", "wall"))

    def refuse(self, keys: tuple, why: str) -> NoReturn:
        line = file_text.line_of(self.text, keys)
        where = " › ".join(str(k) for k in keys if not isinstance(k, int))
        raise DesignError(f"{self.name}{f', line {line}' if line else ''}: {where}: {why}") from None

    def head(self) -> tuple[str, str, str]:
        title, about = str(self.doc.get("title", "")), str(self.doc.get("about", ""))
        units = self.doc.get("units", "metric")
        if units not in ("metric", "US"):
            self.refuse(("units",), f'is {units!r}; it is "metric" or "US".')
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
        record = self.record((name,), self.doc[name], cls)
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
            self.refuse(keys, f"is {found!r}; it needs a section with {', '.join(allowed)}.")
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
            self.refuse(keys, str(wrong))

    def field(self, keys: tuple, value, cls, field: str):
        kind = cls._kinds[field]
        choices = getattr(cls, "choices", {}).get(field)
        try:
            if choices and value not in choices:
                raise DesignError(tables.unknown(f"list of {field}s", value, choices))
            if kind is NUMBER:
                number = si_value(quantity(value, kind) if isinstance(value, str) else value, kind, "it")
                if isinstance(value, bool) or number < 0:
                    raise DesignError(f"is {value!r}; it needs a plain number of 0 or more, such as 0.4.")
                cls.within(field, number, f"is {value!r}")
                return float(number)
            if kind is not None:
                number = si_value(quantity(value, kind), kind, "it")
                if number < 0 and kind.noun not in ("a head", "an angle"):
                    raise DesignError(f"is {value}; {kind.noun} of less than nothing cannot be.")
                return number
        except DesignError as wrong:
            self.refuse(keys, str(wrong))
        default = cls._defaults.get(field)
        if isinstance(default, bool) and not isinstance(value, bool):
            self.refuse(keys, f"is {value!r}; it is true or false, without quotes.")
        if field == "fittings":
            return self.counted(keys, value, fittings.fitting, "elbow 90")
        if field == "cables":
            return self.counted(keys, value, conduits.cable, "low voltage 2 x 2.5 mm2")
        if not isinstance(default, bool) and field not in ("siphon", "control", "pipe", "suction") and not isinstance(value, str):
            self.refuse(keys, f"is {value!r}; it needs text in quotes.")
        return value

    def counted(self, keys: tuple, found, look_up, example: str) -> dict:
        """Names of a table, each with how many there are."""
        if not isinstance(found, dict):
            self.refuse(keys, f'it needs names and counts, such as {{ "{example}" = 2 }}.')
        for name, count in found.items():
            self.known((*keys, name), functools.partial(look_up, name))
            if isinstance(count, bool) or not isinstance(count, int) or not 0 <= count <= 1000:
                self.refuse((*keys, name), f"is {count!r}; it needs a whole number of pieces.")
        return dict(found)

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
                self.refuse(keys, f'is {found!r}; write a section [vessels."{name}"].')
            fixed = {"name": name}
            if found.get("medium"):
                try:
                    medium: Any = tables.row("media", found["medium"])
                    fixed["void"] = medium.si.void_typical
                except DesignError as wrong:
                    self.refuse((*keys, "medium"), str(wrong))
                if "media_depth" not in found:
                    self.refuse(keys, 'media_depth is missing, a length: media_depth = "30 cm".')
            result[name] = self.record(keys, found, Vessel, **fixed)
        if not any(v.si.kind == "fish tank" for v in result.values()):
            self.refuse(("vessels",), 'there is no fish tank; give one vessel kind = "fish tank".')
        return result

    # conduits

    def conduits(self) -> dict[str, Conduit]:
        """The conduits by name; a file may have none."""
        result: dict[str, Conduit] = {}
        given = self.doc.get("conduits", {})
        for name, found in given.items() if isinstance(given, dict) else [("garden duct", given)]:
            keys = ("conduits", name)
            if not isinstance(found, dict):
                self.refuse(keys, f'is {found!r}; write a section [conduits."{name}"].')
            made = self.record(keys, found, Conduit, name=name)
            if made.si.size:
                self.known((*keys, "size"), functools.partial(conduits.conduit_size, made.si.size))
                bore = conduits.conduit_size(made.si.size).si.bore
                made = made if made.si.bore is not None else made.with_si(bore=bore)
            if made.si.bore is None:
                self.refuse(keys, 'size is missing: size = "63 mm cable duct" (see data/conduits.csv), or bore = "47 mm".')
            if made.si.bore <= 0:
                self.refuse((*keys, "bore"), "a conduit needs a bore of more than 0.")
            result[name] = made
        return result

    def laid(self, keys: tuple, piece) -> None:
        """Refuse a pipe whose conduit is not there, is too thin for it, or has another depth beside it."""
        s = piece.si
        if not s.conduit:
            return
        if s.conduit not in self.ducts:
            known = (
                tables.unknown("list of conduits", s.conduit, self.ducts)
                if self.ducts
                else f'there is no [conduits."{s.conduit}"] section.'
            )
            self.refuse((*keys, "conduit"), known)
        if s.buried is not None:
            self.refuse((*keys, "buried"), f"it runs in {s.conduit}, and the depth of that is given there; leave buried out here.")
        inside, outside = self.ducts[s.conduit].si.bore, conduits.pipe_outside.si(s.bore, size=s.size, standard=s.standard)
        if outside >= inside:
            wide, pipe = (BORE.text(width, self.doc.get("units", "metric")) for width in (inside, outside))
            self.refuse((*keys, "conduit"), f"{s.conduit} is {wide} wide inside and the pipe {pipe} outside; take a wider conduit.")

    # lines

    def lines(self, vessels: dict, ducts: dict, site: Site) -> dict:
        self.ducts = ducts
        result = {}
        for name, found in self.named("lines").items():
            keys = ("lines", name)
            if not isinstance(found, dict):
                self.refuse(keys, f'is {found!r}; write a section [lines."{name}"].')
            kinds = ("pumped", *FallingLine.choices["kind"])
            if found.get("kind") not in kinds:
                self.refuse(
                    (*keys, "kind"),
                    tables.unknown("list of kinds of line", found["kind"], kinds) if "kind" in found
                    else f'is missing; it is one of {", ".join(kinds)}.',
                )  # fmt: skip
            make = self.pumped if found["kind"] == "pumped" else self.falling
            result[name] = make(keys, name, found, vessels)
            if isinstance(result[name], PumpedLine):
                self.drawn(keys, result[name].si, vessels, site.si)
        return result

    def drawn(self, keys: tuple, line, vessels: dict, site) -> None:
        """A pump that no water can reach is refused: its inlet over the rim, or itself higher than the air can push water."""
        source, units = vessels[line.source], self.head()[2]
        if line.inlet_depth is not None and line.inlet_depth >= source.si.height:
            self.refuse(
                (*keys, "inlet_depth"),
                f"{line.source} is {LENGTH.text(source.si.height, units)} high, and the pump needs water {LENGTH.text(line.inlet_depth, units)} deep in it: "
                "it never runs. Count inlet_depth from the vessel's floor, or draw from a deeper vessel.",
            )
        if line.pump_height is None:
            return
        lift = line.pump_height - (source.si.floor + line.control.si.off_depth if line.control.si.kind == "float" else source.level)
        most = pumps.suction_head_available.si(0.0, 0.0, altitude=site.altitude, temperature=site.warmest_water)
        if lift >= most:
            self.refuse(
                (*keys, "pump_height"),
                f"the pump stands {HEAD.text(lift, units)} over the water of {line.source}; the air pushes water up {HEAD.text(most, units)} at most. "
                "Set the pump lower, or take one that stands in the water and leave pump_height out.",
            )

    def vessel_named(self, keys: tuple, name, vessels: dict) -> None:
        if name not in vessels:
            self.refuse(keys, tables.unknown("list of vessels", name, vessels))

    def pumped(self, keys: tuple, name: str, found: dict, vessels: dict) -> PumpedLine:
        own = {k: v for k, v in found.items() if k not in ("kind", "control", "pipe", "suction")}
        control = self.record((*keys, "control"), found.get("control", {}), Control)
        pipe = self.stretches((*keys, "pipe"), found.get("pipe"), vessels)
        suction = self.stretches((*keys, "suction"), found.get("suction", []), vessels)
        line = self.record(keys, own, PumpedLine, name=name, control=control, pipe=pipe, suction=suction)
        self.vessel_named((*keys, "from"), line.si.source, vessels)
        if not (line.si.pump or line.si.pump_file):
            self.refuse(keys, 'pump is missing: a name from data/pumps.csv, or pump_file = "my-pump.csv" with its maker\'s points.')
        if not line.si.pump_file:
            self.known((*keys, "pump"), lambda: pumps.pump(line.si.pump))
        self.tree((*keys, "pipe"), pipe)
        return line

    def stretches(self, keys: tuple, found, vessels: dict) -> tuple:
        if not isinstance(found, list) or (not found and keys[-1] == "pipe"):
            self.refuse(keys, f"is missing; a pumped line needs at least one stretch of pipe: [[{'.'.join(keys)}]].")
        stretches = []
        for place, each in enumerate(found):
            stretch = self.record((*keys, place), self.sized(each), Pipe)
            if stretch.si.to:
                self.vessel_named((*keys, place, "to"), stretch.si.to, vessels)
            hole, end, units = stretch.si.break_hole, stretch.si.outlet, self.head()[2]
            if hole is not None and end is not None and hole < end:
                self.refuse(
                    (*keys, place, "break_hole"),
                    f"the hole at {HEAD.text(hole, units)} is lower than the pipe's end at {HEAD.text(end, units)}, where air gets in anyhow. "
                    "Set it above the water, or leave it out.",
                )
            stretches.append(self.with_bore((*keys, place), stretch))
        return tuple(stretches)

    def tree(self, keys: tuple, pipe: tuple) -> None:
        """Each stretch follows another, once; the first follows none; each way ends in a vessel."""
        names = [p.si.name for p in pipe]
        parent = {p.si.name: p.si.after for p in pipe}
        for place, p in enumerate(pipe):
            if names.count(p.si.name) > 1:
                self.refuse((*keys, place, "name"), f"'{p.si.name}' is there twice; each stretch needs a name of its own.")
            if p.si.after and p.si.after not in names:
                self.refuse((*keys, place, "after"), tables.unknown("line", p.si.after, names))
            seen, here = {p.si.name}, p.si.after
            while here:
                if here in seen:
                    self.refuse((*keys, place, "after"), f"'{p.si.name}' follows itself in a loop; water must have one way from the pump.")
                seen.add(here)
                here = parent.get(here, "")
            feeds = any(q.si.after == p.si.name for q in pipe)
            if not feeds and not p.si.to:
                self.refuse((*keys, place), f"'{p.si.name}' leads nowhere; give it to = a vessel, or let a stretch follow it.")
            if feeds and p.si.to:
                self.refuse((*keys, place, "to"), f"'{p.si.name}' ends in {p.si.to} and feeds more pipe; end a branch of its own there.")
        if (first := [p.si.name for p in pipe if not p.si.after]) and len(first) > 1:
            self.refuse((*keys, 1, "after"), f"{' and '.join(first)} both start at the pump; let all but one follow another stretch.")

    def falling(self, keys: tuple, name: str, found: dict, vessels: dict) -> FallingLine:
        own = {k: v for k, v in found.items() if k != "siphon"}
        siphon = self.record((*keys, "siphon"), found["siphon"], Siphon) if "siphon" in found else None
        line = self.record(keys, self.sized(own), FallingLine, name=name, siphon=siphon)
        for key, vessel in (("from", line.si.source), ("to", line.si.to)):
            self.vessel_named((*keys, key), vessel, vessels)
        if line.si.source == line.si.to:
            self.refuse((*keys, "to"), f"the line comes from and goes to {line.si.to}.")
        if siphon and siphon.si.vent >= line.si.lip:
            vent, lip = (HEAD.text(at, self.head()[2]) for at in (siphon.si.vent, line.si.lip))
            self.refuse(
                (*keys, "siphon"),
                f"its vent at {vent} is not below its lip at {lip}: it would never run. Air must come in lower, near the bed's floor.",
            )
        return self.with_bore(keys, line)

    def sized(self, found):
        """A stretch with the file's usual standard filled in."""
        if not isinstance(found, dict):
            return found
        return {**({} if "bore" in found else self.pipe_defaults), **found}

    def with_bore(self, keys: tuple, piece):
        """The record with its bore looked up from size and standard, where it is not given."""
        if piece.si.bore is not None:
            if piece.si.bore <= 0:
                self.refuse((*keys, "bore"), "a pipe needs a bore of more than 0.")
            self.laid(keys, piece)
            return piece
        if not piece.si.size or not piece.si.standard:
            missing = "standard" if piece.si.size else "size"
            self.refuse(keys, f'{missing} is missing: size = "1 in" and standard = "Sch 40", or bore = "25 mm".')
        try:
            bore = pipe_sizes.bore.si(piece.si.size, piece.si.standard, wall=piece.si.wall)
        except DesignError as wrong:
            self.refuse((*keys, "size"), str(wrong))
        piece = piece.with_si(bore=bore)
        self.laid(keys, piece)
        return piece

"""The build: a person's whole system in one small file, as records that the rest of the library reads.

    build = load("my-build.toml")
    build.vessels["fish tank"].working_depth
    build = build.keep({("lines", "riser", "pump"): "demo mains 45 W submersible"})    # saves the file

The file's own form is told in ``data/builds/README.md``; `aquaplumb.buildfile` reads and saves its text.
"""

from __future__ import annotations

import copy
from pathlib import Path
from typing import ClassVar

from aquaplumb import beds, buildfile, feeding, fittings, pipesizes, pumps, tables
from aquaplumb.units import (
    NUMBER,
    Area,
    AreaRate,
    BodyMass,
    Bore,
    Concentration,
    DesignError,
    FloorLoad,
    Flow,
    Head,
    Length,
    Number,
    Planting,
    Rate,
    Record,
    Stocking,
    Temperature,
    Time,
    Turnover,
    Voltage,
    quantity,
    si_value,
)
from aquaplumb.vessels import Vessel

MINE = "my-build.toml"


# --- the records ------------------------------------------------------------------------------


class Site(Record):
    """Where the system stands: `floor_rating` is what the floor is built to carry, `power_price` per kWh."""

    altitude: Length = 0.0
    coldest_water: Temperature
    warmest_water: Temperature
    floor_rating: FloorLoad | None = None
    power_price: Number = 0.30

    def check(self) -> None:
        """Refuse a coldest above the warmest."""
        if self.si.coldest_water > self.si.warmest_water:
            raise DesignError("coldest_water is warmer than warmest_water; swap them.")


class Stock(Record):
    """The fish on the heaviest day: the most that the tank will hold, fed as on that day."""

    species: str
    density: Stocking
    body_mass: BodyMass
    feeding_rate: Rate
    protein: Number

    parts: ClassVar[tuple] = ("protein",)

    def check(self) -> None:
        """Refuse fish of no mass."""
        if not self.si.body_mass > 0:
            raise DesignError('body_mass is 0; the fish need a mass, such as body_mass = "350 g".')


class Plants(Record):
    """What grows in the beds."""

    crop: str
    feed_per_area: AreaRate | None = None
    spacing: Planting | None = None


class Wanted(Record):
    """What the water has to be like. Ammonia is total ammonia as N.

    `removal` is the part of the ammonia that one pass through the beds takes out; `aerated_share` the part of the
    fish's oxygen that air stones bring, so that the flow need not; `oxygen_peak` how much
    more they use after a meal than over the day; `inlet_saturation` how full of oxygen the water
    comes back, and `inlet_carbon_dioxide` what is left in it after falling and splashing (common practice, no source).
    """

    turnovers: Turnover = 1 / 3600
    outlet_oxygen: Concentration = 5e-3
    inlet_saturation: Number = 0.9
    aerated_share: Number = 0.0
    oxygen_peak: Number = 1.4
    ammonia_limit: Concentration = 1e-3
    removal: Number = 0.4
    inlet_carbon_dioxide: Concentration = 5e-3
    carbon_dioxide_limit: Concentration = 15e-3
    ph: Number = 7.0
    nitrification_rate: AreaRate | None = None

    parts: ClassVar[tuple] = ("aerated_share", "removal")


class Pipe(Record):
    """A stretch of pipe. It follows the stretch named in `after`; it may end in a vessel (`to`)."""

    name: str
    after: str = ""
    size: str = ""
    standard: str = ""
    wall: str = "average"
    bore: Bore | None = None
    length: Length
    fittings: dict = {}
    valve: str = ""
    opening: Number = 1.0
    to: str = ""
    outlet: Head | None = None
    nozzle_bore: Bore | None = None
    nozzles: Number = 1.0
    share: Number | None = None

    choices: ClassVar[dict] = {"wall": ("average", "minimum")}
    parts: ClassVar[tuple] = ("opening", "share")


class Control(Record):
    """When a pump runs: always, on a timer, or on a float switch in the vessel that it draws from."""

    kind: str = "always"
    on: Time | None = None
    off: Time | None = None
    on_depth: Length | None = None
    off_depth: Length | None = None

    choices: ClassVar[dict] = {"kind": ("always", "timer", "float")}

    def check(self) -> None:
        """Refuse a control with a part missing or the wrong way round."""
        c = self.si
        if c.kind == "timer" and (c.on is None or c.off is None or c.on <= 0 or c.off < 0):
            raise DesignError('a timer needs on and off, such as on = "15 min", off = "45 min".')
        if c.kind == "float":
            if c.on_depth is None or c.off_depth is None:
                raise DesignError('a float switch needs on_depth and off_depth, such as on_depth = "35 cm", off_depth = "20 cm".')
            if c.on_depth <= c.off_depth:
                raise DesignError("a float switch that empties a vessel turns on at a higher depth than it turns off.")


class PumpedLine(Record):
    """A pump and its tree of pipe. `wanted` is the flow you need of it; `chosen_head` the head you reckoned with.

    `speed` is a speed control's setting as a share of full speed; `voltage` that which reaches a DC pump.
    """

    name: str
    source: str
    pump: str = ""
    pump_file: str = ""
    voltage: Voltage | None = None
    speed: Number = 1.0
    control: Control
    suction: tuple = ()
    pipe: tuple = ()
    wanted: Flow | None = None
    chosen_head: Head | None = None
    inlet_depth: Length | None = None
    strainer_blocked: Number = 0.0

    parts: ClassVar[tuple] = ("strainer_blocked",)


class Siphon(Record):
    """A siphon on a falling line: it trips over the line's lip and stops when air comes in at the vent."""

    vent: Head


class FallingLine(Record):
    """Water that falls: an overflow, a bed drain or a sloping gravity line, from its lip to its outlet.

    `lip` is the elevation at which water goes in, `outlet` that of the lower end. `emergency` marks an overflow that
    is dry unless another way is blocked; `vented` one that takes in air at its top and so cannot siphon.
    """

    name: str
    kind: str
    source: str
    to: str
    lip: Head
    outlet: Head
    size: str = ""
    standard: str = ""
    wall: str = "average"
    bore: Bore | None = None
    length: Length
    fittings: dict = {}
    emergency: bool = False
    vented: bool = False
    siphon: Siphon | None = None
    screen_open_area: Area | None = None
    screen_blocked: Number = 0.0

    choices: ClassVar[dict] = {
        "kind": ("overflow", "bed drain", "gravity line"),
        "wall": ("average", "minimum"),
    }
    parts: ClassVar[tuple] = ("screen_blocked",)


# Fields whose kind is looked after here because a record field of that name means something else to Python.
_RENAMED = {"from": "source"}
_SECTIONS = {"site": Site, "fish": Stock, "plants": Plants, "water": Wanted}
_TOP = ("title", "about", "units", "pipe", *_SECTIONS, "vessels", "lines")


class Build:
    """A person's system: `site`, `fish`, `plants`, `water`, `vessels` and `lines` (by name, in the file's order).

    Frozen: `keep` and `changed` give a new Build. `text` is the file's text, `path` where it lives (or will, on the
    first save).
    """

    def __init__(self, text: str, path: Path | None = None):
        self.text, self.path = text, path
        self.name = path.name if path else "the build"
        reader = _Reader(buildfile.values(text, self.name), text, self.name)
        self.title, self.about, self.units = reader.head()
        self.site, self.fish, self.plants, self.water = (reader.section(n, cls) for n, cls in _SECTIONS.items())
        self.vessels = reader.vessels()
        self.lines = reader.lines(self.vessels)

    @property
    def pumped(self) -> dict[str, PumpedLine]:
        """The pumped lines by name."""
        return {n: line for n, line in self.lines.items() if isinstance(line, PumpedLine)}

    @property
    def falling(self) -> dict[str, FallingLine]:
        """The overflows, bed drains and gravity lines by name."""
        return {n: line for n, line in self.lines.items() if isinstance(line, FallingLine)}

    def of_kind(self, kind: str) -> list[Vessel]:
        """The vessels of a kind, such as "bed"."""
        return [v for v in self.vessels.values() if v.si.kind == kind]

    def value(self, *keys):
        """The text in the file at a path such as ``("lines", "riser", "pump")``, or None."""
        return buildfile.value_at(buildfile.document(self.text, self.name), keys)

    def replaced(self, *, site=None, fish=None, plants=None, water=None, vessels=(), lines=()) -> Build:
        """This build with some records replaced, in memory only: for a what-if. Its text stays what it was.

        `vessels` and `lines` are records with the names of those that they replace.
        """
        other = copy.copy(self)
        for name, record in (("site", site), ("fish", fish), ("plants", plants), ("water", water)):
            if record is not None:
                setattr(other, name, record)
        other.vessels = {**self.vessels, **{v.si.name: v for v in vessels}}
        other.lines = {**self.lines, **{line.si.name: line for line in lines}}
        return other

    def changed(self, changes: dict[tuple, object]) -> Build:
        """This build with some keys changed, in memory only; refused where the result is not a sound file."""
        doc = buildfile.document(self.text, self.name)
        for keys, value in changes.items():
            buildfile.set_at(doc, keys, value)
        return Build(doc.as_string(), self.path)

    def keep(self, changes: dict[tuple, object]) -> Build:
        """Save some keys to the build file, and nothing else; returns the build as it now stands on disk.

        Raises
        ------
        DesignError
            Where the change makes no sound build, where another notebook changed the same key meanwhile, or where the
            file cannot be written. The file is then as it was.
        """
        path = self.path or Path(MINE)
        if not changes and path.exists():
            return load(path)
        with buildfile.alone(path):
            text = buildfile.merged(path, self.text, changes)
            build = Build(text, path)
            buildfile.write(path, text)
        return build

    def __repr__(self) -> str:
        return f"Build({self.title!r}: {len(self.vessels)} vessels, {len(self.pumped)} pumped and {len(self.falling)} falling lines)"


def load(path) -> Build:
    """The build in a file.

    Parameters
    ----------
    path : str or Path
        A TOML build file, or the name of a demo build such as "courtyard".

    Returns
    -------
    Build

    Raises
    ------
    DesignError
        In one sentence: the key, its line, what was found and what is possible.

    Source: none; a build is what its owner says.

    Examples
    --------
    >>> load("courtyard").of_kind("fish tank")[0].kind
    'fish tank'
    """
    path = Path(path)
    if path.suffix == "" and not path.exists():
        demo = tables.folder("data") / "builds" / f"{path.name}.toml"
        faulty = tables.folder("data") / "builds" / "faulty" / f"{path.name}.toml"
        found = demo if demo.exists() else faulty
        if not found.exists():
            raise DesignError(tables.unknown("set of demo builds", path.name, demos()) + " Your own file ends in .toml.")
        return Build(buildfile.text_of(found), None)
    return Build(buildfile.text_of(path), path)


def demos(faulty: bool = False) -> list[str]:
    """The names of the demo builds, sound or each with one classic mistake."""
    place = tables.folder("data") / "builds"
    return sorted(file.stem for file in (place / "faulty" if faulty else place).glob("*.toml"))


def my_build(path: str = MINE, demo: str = "courtyard") -> Build:
    """Your own build if the file is here, else a demo build that becomes yours at the first keep.

    Source: none; a build is what its owner says.
    """
    file = Path(path)
    if file.exists():
        return load(file)
    start = load(demo)
    return Build(start.text, file)


# --- from the file's values to records -----------------------------------------------------------


class _Reader:
    """Turns parsed TOML into records; every refusal names the key, its line and what is possible."""

    def __init__(self, doc: dict, text: str, name: str):
        self.doc, self.text, self.name = doc, text, name
        for key in doc:
            if key not in _TOP:
                self.refuse((key,), tables.unknown("build file", key, _TOP))
        self.pipe_defaults = self.values(("pipe",), doc.get("pipe", {}), ("standard", "wall"))

    def refuse(self, keys: tuple, why: str):
        line = buildfile.line_of(self.text, keys)
        where = " › ".join(str(k) for k in keys if not isinstance(k, int))
        raise DesignError(f"{self.name}{f', line {line}' if line else ''}: {where}: {why}") from None

    def head(self) -> tuple[str, str, str]:
        title, about = str(self.doc.get("title", "")), str(self.doc.get("about", ""))
        units = self.doc.get("units", "metric")
        if units not in ("metric", "US"):
            self.refuse(("units",), f"is {units!r}; it is \"metric\" or \"US\".")
        return title, about, units

    def section(self, name: str, cls):
        if name not in self.doc:
            if cls is Wanted:
                return Wanted.from_si()
            self.refuse((name,), f"is missing; add a [{name}] section with {', '.join(self.needed(cls))}.")
        record = self.record((name,), self.doc[name], cls)
        if cls is Stock:
            self.known((name, "species"), lambda: self.species(record))
        if cls is Plants:
            self.known((name, "crop"), lambda: tables.row("crops", record.si.crop))
        return record

    @staticmethod
    def species(stock: Stock) -> feeding.Species:
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
                if field in getattr(cls, "parts", ()) and number > 1:
                    raise DesignError(f"is {value!r}; it is a part of a whole, from 0 to 1, or from \"0 %\" to \"100 %\".")
                return float(number)
            if kind is not None:
                number = si_value(quantity(value, kind), kind, "it")
                if number < 0 and kind.noun != "a head":
                    raise DesignError(f"is {value}; {kind.noun} of less than nothing cannot be.")
                return number
        except DesignError as wrong:
            self.refuse(keys, str(wrong))
        default = cls._defaults.get(field)
        if isinstance(default, bool) and not isinstance(value, bool):
            self.refuse(keys, f"is {value!r}; it is true or false, without quotes.")
        if field == "fittings":
            return self.fittings(keys, value)
        if not isinstance(default, bool) and field not in ("siphon", "control", "pipe", "suction") and not isinstance(value, str):
            self.refuse(keys, f"is {value!r}; it needs text in quotes.")
        return value

    def fittings(self, keys: tuple, found) -> dict:
        if not isinstance(found, dict):
            self.refuse(keys, 'it needs names and counts, such as { "elbow 90" = 2 }.')
        for name, count in found.items():
            try:
                fittings.fitting(name)
            except DesignError as wrong:
                self.refuse((*keys, name), str(wrong))
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
                    medium: beds.Medium = tables.row("media", found["medium"])
                    fixed["void"] = medium.si.void_typical
                except DesignError as wrong:
                    self.refuse((*keys, "medium"), str(wrong))
                if "media_depth" not in found:
                    self.refuse(keys, 'media_depth is missing, a length: media_depth = "30 cm".')
            result[name] = self.record(keys, found, Vessel, **fixed)
        for kind in ("fish tank", "sump"):
            if not any(v.si.kind == kind for v in result.values()):
                self.refuse(("vessels",), f'there is no {kind}; give one vessel kind = "{kind}".')
        return result

    # lines

    def lines(self, vessels: dict) -> dict:
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
        return result

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
            return piece
        if not piece.si.size or not piece.si.standard:
            missing = "standard" if piece.si.size else "size"
            self.refuse(keys, f'{missing} is missing: size = "1 in" and standard = "Sch 40", or bore = "25 mm".')
        try:
            bore = pipesizes.bore.si(piece.si.size, piece.si.standard, wall=piece.si.wall)
        except DesignError as wrong:
            self.refuse((*keys, "size"), str(wrong))
        return type(piece).from_si(**{**vars(piece.si), "bore": bore})

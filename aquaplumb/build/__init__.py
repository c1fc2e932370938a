"""The build: a person's whole system in one small file, as records that the rest of the library reads.

    build = load("my-build.toml")
    build.vessels["fish tank"].working_depth
    build = build.keep({("lines", "riser", "pump"): "demo mains 45 W submersible"})    # saves the file

The file's own form is told in ``data/builds/README.md``; `aquaplumb.build.file_text` reads and saves its text.
"""

from __future__ import annotations

import copy
import functools
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from aquaplumb import files, tables
from aquaplumb.build import file_text, likes, own_rows, routes, seasons, stocks, trees
from aquaplumb.build.cases import case
from aquaplumb.build.falling_records import FallingLine, FallingTree, Leg, Siphon
from aquaplumb.build.measured import Measured, MeasuredDay
from aquaplumb.build.own_rows import Own
from aquaplumb.build.reader import SECTIONS, Reader
from aquaplumb.build.records import Conduit, Control, Pipe, Plants, PumpedLine, Site, Stock, Wanted
from aquaplumb.build.sections import OPTIONAL, Accepted, Air, Heat, Supply, Upkeep
from aquaplumb.build.vessels import Vessel
from aquaplumb.given import Thing, takes_things
from aquaplumb.records import Fixed
from aquaplumb.sentences import as_given
from aquaplumb.units import DesignError, html_table, show

__all__ = [
    "MINE",
    "Air",
    "Build",
    "Conduit",
    "Control",
    "FallingLine",
    "FallingTree",
    "Heat",
    "Leg",
    "Measured",
    "MeasuredDay",
    "Pipe",
    "Plants",
    "PumpedLine",
    "Siphon",
    "Site",
    "Stock",
    "Supply",
    "Upkeep",
    "Wanted",
    "demos",
    "load",
    "my_build",
]

MINE = "my-build.toml"


class Build:
    """A person's system: `site`, `fish`, `plants`, `water`, `vessels` and `lines` (by name, in the file's order).

    `stocks` has all fish by name. Where there are several, `fish` is the one spoken of: the first, or that of `speaking_of`.

    `air`, `power`, `heat` and `upkeep` are sections that a file may leave out; then they are None. `conduits` are by
    name too, and there may be none. `own` are the rows that files beside it add, by table and name, and `accepted` the
    findings that its owner has looked at, by name and what they are about. `measured` is what was measured, day by day.

    It is made of a file's text, or of a dict with the file's sections (amounts as text or as quantities). Frozen: `keep`
    and `changed` give a new Build. `text` is the file's text, `path` where it lives (or will, on the first save).
    """

    text: str
    own: Own
    path: Path | None
    name: str
    title: str
    about: str
    units: str
    site: Site
    fish: Stock
    plants: Plants
    water: Wanted
    air: Air | None
    power: Supply | None
    heat: Heat | None
    upkeep: Upkeep | None
    vessels: dict[str, Vessel]
    conduits: dict[str, Conduit]
    lines: dict[str, PumpedLine | FallingLine | FallingTree]
    accepted: dict[tuple[str, str], Accepted]
    measured: tuple[MeasuredDay, ...]
    season: seasons.Season | None
    unusual: dict[tuple, str]  # what is odd about a number of the file, by its keys
    air_asked: dict[str, float]  # oxygen that each tank asks for on its heaviest day [kg/s], in a month of a season: by it its stones hang
    _year: Site
    month: str  # of the season whose stocks and water these are, with what makes it the worst; "" in a build as the file has it
    _stocks: dict[str, Stock]
    _values: dict  # what stands in the file, every `like` filled in

    def __init__(self, text: str | Mapping, path: Path | None = None, *, own: Own | None = None):
        name = path.name if path else "the build"
        shown = text if isinstance(text, str) else ""  # nobody has seen the lines of a text that we make ourselves
        if isinstance(text, Mapping):
            text = file_text.text_from(text, name)
        elif not isinstance(text, str):
            raise DesignError(f"a build is made of a file's text, or of a dict with its sections; this is {as_given(text)}.")
        elif text.strip() and not set("=[#\n") & set(text):
            raise DesignError(f"{text!r:.60} is not the text of a build file; load({text!r:.60}) reads a file or a demo build.")
        folder = path.parent if path else Path()
        reader = Reader(file_text.values(text, name), shown, name, folder, own)  # fills in each `like`
        kept = vars(self)
        kept.update(
            text=text, path=path, name=name, own=reader.own, _values=reader.doc, **dict(zip(("title", "about", "units"), reader.head()))
        )
        several = "stocks" in reader.doc or bool(isinstance(reader.doc.get("season"), dict) and reader.doc["season"].get("stocks"))
        kept.update({n: reader.section(n, cls) for n, cls in SECTIONS.items() if n != "fish" or not several})
        kept.update({n: reader.optional(n, cls) for n, cls in OPTIONAL.items()})
        kept["vessels"] = Fixed(reader.vessels())
        kept["season"] = season = seasons.read(reader, self.vessels)
        if season and self.power:
            kept["power"] = seasons.clouded(season, self.power)
        found = (
            seasons.stand_ins(season, self.vessels) if season and season.cohorts else stocks.read(reader, self.vessels) if several else {}
        )
        kept.update(_stocks=Fixed(found), month="", _year=self.site, air_asked=Fixed())
        if several:
            kept["fish"] = next(iter(self._stocks.values()))
        kept["conduits"] = Fixed(reader.conduits())
        kept["lines"] = Fixed(reader.lines(self.vessels, self.conduits, self.site))
        kept["accepted"] = Fixed(reader.accepted())
        kept["unusual"] = Fixed(reader.unusual)
        kept["measured"] = reader.measured(self.vessels, self.lines)

    @classmethod
    def named(cls, name: str | Path) -> Build:
        """The build of a file or a demo's name: it serves wherever a build is meant."""
        return load(name)

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"a build does not change; make another with .changed({{…}}), or with .replaced({name}=…).")

    def __delattr__(self, name: str) -> None:
        setattr(self, name, None)

    def choice(self, table: str) -> list[str]:
        """The names of a table to choose from, such as "species": ours, then its own."""
        return own_rows.names(self.own, table)

    @property
    def stocks(self) -> dict[str, Stock]:
        """All fish by name, in the file's order; one without a name is "fish"."""
        return {**self._stocks, self.fish.si.name or "fish": self.fish}

    @property
    def all_year(self) -> Site:
        """The site as the file has it, whatever month is looked at."""
        return self._year if self.month else self.site

    @property
    def several(self) -> bool:
        """Whether the fish are told stock by stock, each in its tank."""
        return bool(self._stocks)

    @takes_things
    def speaking_of(self, stock: str) -> Build:
        """This build with `fish` the stock of that name."""
        if stock not in self.stocks:
            raise DesignError(tables.unknown("list of stocks", stock, self.stocks))
        return self.replaced(fish=self.stocks[stock])

    def fish_key(self, field: str) -> tuple:
        """Where the file has a field of the stock that is spoken of."""
        name = self.fish.si.name
        if self.season and self.season.cohorts:
            return ("season", "stocks", name.partition(seasons.AGE)[0], field)
        return ("stocks", name, field) if name else ("fish", field)

    @property
    def pumped(self) -> dict[str, PumpedLine]:
        """The pumped lines by name."""
        return {n: line for n, line in self.lines.items() if isinstance(line, PumpedLine)}

    @property
    def falling(self) -> dict[str, FallingLine]:
        """The overflows, bed drains, gravity lines and joints by name; of one with branches each stretch, as "line › stretch"."""
        return self._fallen(trees.pieces)

    @property
    def drops(self) -> dict[str, FallingLine]:
        """The same from vessel to vessel: of one with branches each end, from the lip of the whole; to draw and to tell."""
        return self._fallen(trees.drops)

    def line_of(self, stretch: str) -> str:
        """The line that a falling stretch, "line › stretch", belongs to; a line itself is its own."""
        return stretch if stretch in self.lines else stretch.rpartition(" › ")[0]

    def _fallen(self, parts) -> dict[str, FallingLine]:
        found: dict[str, FallingLine] = {}
        for name, line in self.lines.items():
            if isinstance(line, FallingTree):
                found |= parts(line)
            elif isinstance(line, FallingLine):
                found[name] = line
        return found

    @property
    def junctions(self) -> dict[str, Vessel]:
        """Where the stretches of falling lines with branches meet, by name: vessels of next to no water."""
        return trees.junctions((line for line in self.lines.values() if isinstance(line, FallingTree)), self.vessels)

    def of_kind(self, kind: str) -> list[Vessel]:
        """The vessels of a kind, such as "bed"."""
        return [v for v in self.vessels.values() if v.si.kind == kind]

    @property
    def growing(self) -> list[Vessel]:
        """The vessels that plants grow in: beds, rafts, channels and towers."""
        return [v for v in self.vessels.values() if v.grows]

    def value(self, *keys):
        """What stands in the file at ``"lines.riser.pump"`` or ``"lines", "riser", "pump"``, or None."""
        return copy.deepcopy(file_text.value_at(self._values, file_text.path_of(keys[0] if len(keys) == 1 else keys)))

    @takes_things
    def replaced(
        self, *, vessels: Iterable[Vessel] = (), lines: Iterable[PumpedLine | FallingLine | FallingTree] = (), **sections
    ) -> Build:
        """This build with some records replaced, in memory only: for a what-if. Its text stays what it was.

        `vessels` and `lines` are records with the names of those that they replace; the rest are sections by name,
        such as ``fish=``.
        """
        kinds = {**SECTIONS, **OPTIONAL}
        if strange := [name for name in sections if name not in kinds]:
            raise DesignError(tables.unknown("list of sections", strange[0], kinds))
        other = copy.copy(self)
        new = {name: Thing((kinds[name],), optional=True).read(record, f"replaced: {name}") for name, record in sections.items()}
        vars(other).update({name: record for name, record in new.items() if record is not None})
        vars(other)["vessels"] = Fixed({**self.vessels, **{v.si.name: v for v in vessels}})
        vars(other)["lines"] = Fixed({**self.lines, **{line.si.name: line for line in lines}})
        return other

    def in_month(self, month: str, stocks: Mapping[str, Stock], site: Site, air_asked: Mapping[str, float]) -> Build:
        """This build with the stocks and the water of a month of its season, in memory only."""
        other = self.replaced(site=site)
        vars(other).update(
            month=month,
            _year=self.all_year,
            air_asked=Fixed(air_asked),
            _stocks=Fixed(stocks) if self.several else self._stocks,
            fish=next(iter(stocks.values())),
        )
        return other

    def with_season(self, season: seasons.Season) -> Build:
        """This build with another year, in memory only: for a what-if. Its text stays what it was."""
        other = copy.copy(self)
        stocks = seasons.stand_ins(season, self.vessels) or self._stocks
        vars(other).update(season=season, _stocks=Fixed(stocks), fish=next(iter(stocks.values()), self.fish))
        return other

    def changed(self, changes: Mapping[Any, object]) -> Build:
        """This build with some keys changed, in memory only; refused where the result is not a sound file.

        A key is a path such as ``"lines.riser.pump"`` or ``("lines", "riser", "pump")``, its value text, a number or a
        quantity; None takes it out.
        """
        doc = file_text.document(self.text, self.name)
        file_text.set_all(doc, self._with_routes(changes))
        return Build(doc.as_string(), self.path)

    def _with_routes(self, changes: Mapping[Any, object]) -> dict[tuple, object]:
        """Changes by their paths, with the routes of pipe and the places of vessels taken out that they make untrue."""
        paths = file_text.as_changes(changes)
        if not any(routes.TOUCHED.keys() & set(keys[-2:]) for keys in paths):
            return paths
        doc = likes.resolved(file_text.values(self.text, self.name))  # a route may be another section's
        return routes.dropped(paths, lambda keys: file_text.value_at(doc, keys))

    def keep(self, changes: Mapping[Any, object]) -> Build:
        """Save some keys to the build file, and nothing else; returns the build as it now stands on disk.

        Raises
        ------
        DesignError
            Where the change makes no sound build, where another notebook changed the same key meanwhile, or where the
            file cannot be written. The file is then as it was.
        """
        path, changes = self.path or Path(MINE), self._with_routes(changes)
        if not changes and path.exists():
            return load(path)
        with files.alone(path):
            text = file_text.merged(path, self.text, changes)
            build = Build(text, path)
            files.write(path, file_text.with_line_ends(path, text))
        return build

    def _repr_html_(self) -> str:
        rows = [(name, f"{stock.si.species}, {show(stock.density, self.units)}") for name, stock in self.stocks.items()]
        rows += [("plants", self.plants.si.crop)]
        rows += [(name, f"{v.si.kind}, water {show(v.working_depth, self.units)} deep") for name, v in self.vessels.items()]
        rows += [(name, f"pump: {line.si.pump or line.si.pump_file}, from {line.si.source}") for name, line in self.pumped.items()]
        rows += [(name, f"{line.si.kind}, from {line.si.source} to {line.si.to}") for name, line in self.drops.items()]
        return html_table(self.title or self.name, rows)

    def __repr__(self) -> str:
        return f"Build({self.title!r}: {len(self.vessels)} vessels, {len(self.pumped)} pumped and {len(self.lines) - len(self.pumped)} falling lines)"


@takes_things
def load(path: str | Path, *, units: str | None = None) -> Build:
    """The build in a file.

    path: A TOML build file, or the name of a demo build such as "courtyard", or a build with a mistake in it: "case 08".
    units: To show it in, "metric" or "US", whatever its file says.
    raises: In one sentence: the key, its line, what was found and what is possible.

    Source: none; a build is what its owner says.

    >>> load("courtyard").of_kind("fish tank")[0].kind
    'fish tank'
    """
    path = Path(path)
    if path.suffix == "" and not path.exists():
        demo = tables.folder("data") / "builds" / f"{path.name}.toml"
        faulty = tables.folder("data") / "builds" / "faulty" / f"{case(path.name) or path.name}.toml"
        found = demo if demo.exists() else faulty
        if not found.exists():
            raise DesignError(tables.unknown("set of demo builds", path.name, demos()) + " Your own file ends in .toml.")
        return _demo(found, found.stat().st_mtime_ns, units)
    return _in_units(Build(file_text.text_of(path), path), units)


def _in_units(build: Build, units: str | None) -> Build:
    return build if units is None else build.changed({("units",): units})


@functools.lru_cache(maxsize=64)
def _demo(path: Path, changed: int, units: str | None) -> Build:
    """The demo in a file that was last changed then; read once, since a build does not change."""
    build = Build(file_text.text_of(path), None) if units is None else _demo(path, changed, None)
    return build if units == build.units else _in_units(build, units)


@takes_things
def demos(faulty: bool = False) -> list[str]:
    """The names of the demo builds, sound or each with one classic mistake."""
    place = tables.folder("data") / "builds"
    return sorted(file.stem for file in (place / "faulty" if faulty else place).glob("*.toml"))


@takes_things
def my_build(path: str | Path = MINE, demo: str = "courtyard") -> Build:
    """Your own build if the file is here, else a demo build that becomes yours at the first keep.

    Source: none; a build is what its owner says.
    """
    file = Path(path)
    if file.exists():
        return load(file)
    return lent(load(demo), file)


@functools.lru_cache(maxsize=8)
def lent(demo: Build, file: Path) -> Build:
    """A demo as one's own, while nothing is kept in that file: read once, since a build does not change."""
    return Build(demo.text, file)

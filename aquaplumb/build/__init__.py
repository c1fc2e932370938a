"""The build: a person's whole system in one small file, as records that the rest of the library reads.

    build = load("my-build.toml")
    build.vessels["fish tank"].working_depth
    build = build.keep({("lines", "riser", "pump"): "demo mains 45 W submersible"})    # saves the file

The file's own form is told in ``data/builds/README.md``; `aquaplumb.build.file_text` reads and saves its text.
"""

from __future__ import annotations

import copy
from pathlib import Path

from aquaplumb import tables
from aquaplumb.build import file_text
from aquaplumb.build.reader import SECTIONS, Reader
from aquaplumb.build.records import Control, FallingLine, Pipe, Plants, PumpedLine, Siphon, Site, Stock, Wanted
from aquaplumb.build.sections import OPTIONAL, Air, Heat, Supply, Upkeep
from aquaplumb.build.vessels import Vessel
from aquaplumb.units import DesignError

__all__ = [
    "MINE",
    "Air",
    "Build",
    "Control",
    "FallingLine",
    "Heat",
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

    `air`, `power`, `heat` and `upkeep` are sections that a file may leave out; then they are None.

    Frozen: `keep` and `changed` give a new Build. `text` is the file's text, `path` where it lives (or will, on the
    first save).
    """

    def __init__(self, text: str, path: Path | None = None):
        self.text, self.path = text, path
        self.name = path.name if path else "the build"
        reader = Reader(file_text.values(text, self.name), text, self.name)
        self.title, self.about, self.units = reader.head()
        self.site, self.fish, self.plants, self.water = (reader.section(n, cls) for n, cls in SECTIONS.items())
        self.air, self.power, self.heat, self.upkeep = (reader.optional(n, cls) for n, cls in OPTIONAL.items())
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
        return file_text.value_at(file_text.document(self.text, self.name), keys)

    def replaced(self, *, vessels=(), lines=(), **sections) -> Build:
        """This build with some records replaced, in memory only: for a what-if. Its text stays what it was.

        `vessels` and `lines` are records with the names of those that they replace; the rest are sections by name,
        such as ``fish=``.
        """
        if strange := [name for name in sections if name not in (*SECTIONS, *OPTIONAL)]:
            raise DesignError(tables.unknown("list of sections", strange[0], (*SECTIONS, *OPTIONAL)))
        other = copy.copy(self)
        for kept in ("_network", "_drills"):  # what was worked out of the old one
            vars(other).pop(kept, None)
        vars(other).update({name: record for name, record in sections.items() if record is not None})
        other.vessels = {**self.vessels, **{v.si.name: v for v in vessels}}
        other.lines = {**self.lines, **{line.si.name: line for line in lines}}
        return other

    def changed(self, changes: dict[tuple, object]) -> Build:
        """This build with some keys changed, in memory only; refused where the result is not a sound file."""
        doc = file_text.document(self.text, self.name)
        for keys, value in changes.items():
            file_text.set_at(doc, keys, value)
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
        with file_text.alone(path):
            text = file_text.merged(path, self.text, changes)
            build = Build(text, path)
            file_text.write(path, text)
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
        return Build(file_text.text_of(found), None)
    return Build(file_text.text_of(path), path)


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

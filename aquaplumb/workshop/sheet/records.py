"""What a build sheet is made of: chapters of words, lists, tables and drawings, as plain records without any layout.

A person's own names are text and nothing else. In the records each stands between two signs (`OPEN` and `SHUT`, the
isolates of Unicode) wherever its direction of writing could upset its surroundings; `bare` takes them out again.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from aquaplumb.build import Build
from aquaplumb.kinds import on_tape
from aquaplumb.units import Kind, rounded
from aquaplumb.workshop.cut_list import shown_name

OPEN, SHUT = "\u2068", "\u2069"
_LONGEST = 2000  # characters of a cell or paragraph
_TURNS = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")  # signs that turn the direction of writing
_FROM_THE_RIGHT = re.compile("[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff\U00010800-\U00010fff\U0001e800-\U0001efff]")


# m: what a tape shows at all, and below which elsewhere decimals stand; on the sheet a depth is the same everywhere
_HAIR, _FINE = 0.0254 / 16, 0.0254 / 2


@dataclass(frozen=True)
class GridColumn:
    """A column of a table: its name, the unit of its numbers, their decimals (else three figures); `pen` stays empty to be filled in by hand.

    `tape` is the kind of lengths that are written as on a US tape; a workbook has them in decimals.
    """

    name: str
    unit: str = ""
    decimals: int | None = None
    number: bool = False
    pen: bool = False
    tape: Kind | None = None

    @property
    def headline(self) -> str:
        """What stands over it where its cells are written with `text`."""
        return self.name if self.tape else self.header

    @property
    def header(self) -> str:
        """The name with its unit, as everywhere: "flow [L/h]"."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name

    def text(self, cell) -> str:
        """A cell as a person reads it."""
        if cell is None:
            return ""
        if isinstance(cell, str):
            return cell
        if not math.isfinite(cell):
            return "not possible"
        if self.tape:
            metres = self.tape.from_shown(cell, "US")
            return on_tape(metres) if _HAIR <= abs(metres) < _FINE else self.tape.text(metres, "US")
        if self.decimals is None:
            return rounded(cell)
        plain = f"{cell:,.{self.decimals}f}"
        plain = plain.rstrip("0").rstrip(".") if "." in plain else plain
        return "0" if plain == "-0" else plain


def words(name: str) -> GridColumn:
    """A column of words."""
    return GridColumn(name)


def amount(name: str, kind: Kind, units: str, decimals: int | None = None) -> GridColumn:
    """A column of numbers in the builder's unit of a kind."""
    return GridColumn(name, kind.unit(units), decimals, number=True, tape=kind if kind.tape and units == "US" else None)


def count(name: str, unit: str = "", decimals: int | None = None) -> GridColumn:
    """A column of numbers in a unit of its own."""
    return GridColumn(name, unit, decimals, number=True)


def pen(name: str = "yours") -> GridColumn:
    """A column to write in."""
    return GridColumn(name, pen=True)


@dataclass(frozen=True)
class Grid:
    """A table: rows of text, numbers or None. Where `grouped`, the first column heads the rows that have the same."""

    key: str
    title: str
    columns: tuple[GridColumn, ...]
    rows: tuple[tuple, ...]
    grouped: bool = False


@dataclass(frozen=True)
class Words:
    """A paragraph."""

    text: str


@dataclass(frozen=True)
class Caution:
    """A paragraph that nobody may miss."""

    text: str


@dataclass(frozen=True)
class Heading:
    """A heading inside a chapter."""

    text: str


@dataclass(frozen=True)
class NumberedSteps:
    """What to do, in order."""

    lines: tuple[str, ...]


@dataclass(frozen=True)
class Points:
    """Things to know, in no order."""

    lines: tuple[str, ...]


@dataclass(frozen=True)
class SheetDrawing:
    """A picture as SVG text, with its title and the same in words; `upright` on the page of its chapter, else on one that lies on its side."""

    title: str
    svg: str
    alt: str
    upright: bool = False


Block = Grid | Words | Caution | Heading | NumberedSteps | Points | SheetDrawing


@dataclass(frozen=True)
class Chapter:
    """A part of the sheet."""

    key: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Sheet:
    """A build's whole sheet: its title, the verdict, whether it is sound, and the chapters in order.

    `file` is the build file's name, `dated` the day of the print, `mark` six letters that change with what the sheet says;
    `whole` that the table of sources is printed too.
    """

    title: str
    about: str
    units: str
    verdict: str
    sound: bool
    chapters: tuple[Chapter, ...]
    file: str = ""
    dated: str = ""
    mark: str = ""
    whole: bool = False

    @property
    def told_apart(self) -> str:
        """What stands under each page, to tell two prints apart."""
        return " · ".join(one for one in (bare(self.title), self.printed) if one)

    @property
    def printed(self) -> str:
        """Its file, day and mark."""
        return " · ".join(one for one in (self.file, self.dated, f"mark {self.mark}" if self.mark else "") if one)

    def chapter(self, key: str) -> Chapter:
        """A chapter by its key."""
        return next(one for one in self.chapters if one.key == key)

    @property
    def grids(self) -> list[Grid]:
        """All tables, in order."""
        return [block for chapter in self.chapters for block in chapter.blocks if isinstance(block, Grid)]

    def grid(self, key: str) -> Grid:
        """A table by its key."""
        return next(one for one in self.grids if one.key == key)


# --- a person's own words ---------------------------------------------------------------------------------


def bare(text: str) -> str:
    """Text without the signs round names: for a table file."""
    return text.replace(OPEN, "").replace(SHUT, "")


def _tidy(text: str) -> str:
    """On one line, without signs that turn the direction of writing or that do not print."""
    text = "".join(letter if letter.isprintable() else " " for letter in _TURNS.sub("", text))
    return " ".join(text.split())


class Names:
    """Makes a person's names safe in any text: shortened, and kept from turning what stands round them."""

    def __init__(self, build: Build):
        own = [*build.vessels, *build.lines, *build.conduits]
        own += [pipe.si.name for line in build.pumped.values() for pipe in (*line.si.suction, *line.si.pipe)]
        tidied = {_tidy(name): _shown(name) for name in own if name}
        tidied |= {shown_name(name): _shown(name) for name in own if name}
        tidied = {name: shown for name, shown in tidied.items() if name and name != shown}
        longest_first = sorted(tidied, key=len, reverse=True)
        self._shown = tidied
        self._pattern = re.compile("|".join(map(re.escape, longest_first))) if tidied else None

    def __call__(self, text: str, *, longest: int = _LONGEST) -> str:
        """A text as it may stand on the sheet."""
        text = _tidy(text)
        if self._pattern:
            text = self._pattern.sub(lambda found: self._shown[found[0]], text)
        if len(text) > longest:
            text = bare(text)[: longest - 1] + "…"
        if _FROM_THE_RIGHT.search(text) and OPEN not in text:
            text = f"{OPEN}{text}{SHUT}"
        return text

    def tidied(self, block):
        """A block, chapter or the like with every text in it made safe."""
        if isinstance(block, str):
            return self(block)
        if isinstance(block, tuple):
            return tuple(self.tidied(one) for one in block)
        if isinstance(block, SheetDrawing):
            return replace(block, title=self(block.title), alt=self(block.alt))
        if isinstance(block, Grid):
            return replace(block, title=self(block.title), rows=self.tidied(block.rows))
        if isinstance(block, (Words, Caution, Heading)):
            return replace(block, text=self(block.text))
        if isinstance(block, (NumberedSteps, Points)):
            return replace(block, lines=self.tidied(block.lines))
        if isinstance(block, Chapter):
            return replace(block, blocks=self.tidied(block.blocks))
        return block


def _shown(name: str) -> str:
    shown = shown_name(_tidy(name))
    return f"{OPEN}{shown}{SHUT}" if _FROM_THE_RIGHT.search(shown) else shown

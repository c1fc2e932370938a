"""The build sheet as one page of HTML that needs nothing else: no script, no network; it prints on A4 and Letter.

All that a person wrote is text: it is escaped by the template engine, and each name stands in a `<bdi>` of its own where
its direction of writing asks for it. The page itself is in ``sheet.html``, beside this file.
"""

from __future__ import annotations

import itertools
import re
from pathlib import Path

from aquaplumb import __version__
from aquaplumb.units import DesignError
from aquaplumb.workshop.sheet.records import OPEN, SHUT, Chapter, Grid, Sheet, SheetDrawing, bare

PAPERS = {"A4": "A4", "letter": "letter"}
_SHORT = 14  # letters of a word that need not be broken
_NUMBERED = re.compile(r"(?<![\w-])\w{1,24}-\d{1,2}(?![\w-])")  # "overflow-4", as a piece of pipe is labelled
_TICKS = ("have", "sawn", "drilled", "packed")  # columns that want a tick and no more
_NARROW, _MANY = 84, 12  # letters of a row for which half the paper's width is enough; rows from which it pays
_SAID = 1500  # letters of a table that fills a third of a page
_METADATA = re.compile(r"<metadata>.*?</metadata>", re.DOTALL)
_IDS = re.compile(r'(\bid="|url\(#|href="#)')
_NEVER = re.compile(  # within a tag only: between tags stand the names and titles, as escaped text
    r"<\s*(script|foreignObject|iframe|image)\b|<(?:[^<>\"']|\"[^\"]*\"|'[^']*')*?(?:(?:(?<=[\"'])|[\s/])on\w+\s*=|href\s*=\s*[\"']?\s*javascript:)",
    re.IGNORECASE,
)


def html(sheet: Sheet, *, paper: str = "") -> str:
    """The page.

    Parameters
    ----------
    sheet : Sheet
    paper : str
        "A4" or "letter", for a printer that is not asked; left open otherwise, so that the reader's own is used.

    Returns
    -------
    str

    Raises
    ------
    DesignError
        Where the paper is not known.

    Source: none; a layout.

    Examples
    --------
    >>> from aquaplumb.workshop.sheet import sheet
    >>> html(sheet("courtyard", designs=50)).startswith("<!DOCTYPE html>")
    True
    """
    if paper and paper not in PAPERS:
        raise DesignError(f"there is no paper '{paper}'; there is {' and '.join(PAPERS)}.")
    page = _template().render(sheet=sheet, version=__version__, paper=PAPERS.get(paper, ""))
    return re.sub(r"\n\s*\n+", "\n", page).strip() + "\n"


def _template():
    import jinja2

    place = jinja2.Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined)
    place.filters |= {
        "marked": _marked,
        "bare": bare,
        "kind": lambda block: type(block).__name__,
        "strange": _strange,
        "looks": _looks,
        "groups": _groups,
        "capitalised": _capitalised,
        "drawn": _Drawn(),
        "css": _css,
    }
    place.tests |= {"narrow": _narrow, "small": _small, "lying": _lying}
    return place.from_string(Path(__file__).with_name("sheet.html").read_text(encoding="utf-8"))


def _lying(chapter: Chapter) -> bool:
    """Whether a chapter begins on a page that lies on its side."""
    return any(isinstance(block, SheetDrawing) and not block.upright for block in chapter.blocks)


def _css(text: str):
    """Words as they may stand in a style's quotes: every sign but plain letters and figures by its number."""
    from markupsafe import Markup

    return Markup("".join(c if c.isascii() and (c.isalnum() or c == " ") else f"\\{ord(c):x} " for c in bare(text)))


def _marked(text: str):
    """Escaped text, the signs round names turned into elements; a piece's number stays on the line of the word before it."""
    from markupsafe import Markup, escape

    whole = _NUMBERED.sub(r'<span class="whole">\g<0></span>', str(escape(text)))
    return Markup(whole.replace(OPEN, "<bdi>").replace(SHUT, "</bdi>"))


def _strange(block) -> None:
    raise TypeError(f"a page has no place for {type(block).__name__}")


def _capitalised(text):
    return text[:1].upper() + text[1:]


def _looks(grid: Grid) -> list:
    """How each column looks: numbers to the right, room for a pen, and short words that are never broken."""
    from markupsafe import Markup

    found = []
    for place, column in enumerate(grid.columns):
        cells = [row[place] for row in grid.rows if place < len(row) and isinstance(row[place], str)]
        longest = max((len(word) for cell in cells for word in cell.split()), default=0)
        name = (
            ("tick" if column.name in _TICKS else "pen")
            if column.pen
            else "number"
            if column.number
            else "short"
            if longest <= _SHORT
            else ""
        )
        name += " twice" if _twice(grid, place) else " tape" if column.name.endswith("on the tape") else ""
        found.append(Markup(f' class="{name}"') if name else Markup(""))
    return found


def _twice(grid: Grid, place: int) -> bool:
    """Whether a column of decimals is told once more beside it as a tape has it: on paper the tape is enough."""
    return place + 1 < len(grid.columns) and grid.columns[place + 1].name.endswith("on the tape")


def _narrow(grid: Grid) -> bool:
    """Whether a long table is printed in two columns."""
    wide = 0
    for place, column in enumerate(grid.columns[1 if grid.grouped else 0 :], start=1 if grid.grouped else 0):
        if _twice(grid, place):
            continue
        cells = [bare(column.text(row[place])) for row in grid.rows if place < len(row)]
        wide += 2 + max(map(len, [*cells, *column.headline.split()]))
    return len(grid.rows) >= _MANY and wide <= _NARROW


def _small(grid: Grid) -> bool:
    """Whether a table is kept whole on one page: of few rows, none of them long."""
    written = sum(len(column.text(cell)) for row in grid.rows for column, cell in zip(grid.columns, row))
    return not grid.grouped and len(grid.rows) < _MANY and written < _SAID


def _groups(grid: Grid) -> list[tuple[str, list]]:
    """The rows of a table under what heads them."""
    if not grid.grouped:
        return [("", list(grid.rows))]
    return [(head, list(rows)) for head, rows in itertools.groupby(grid.rows, key=lambda row: row[0])]


class _Drawn:
    """Puts drawings into the page: each with ids of its own, and nothing in it that could run or load."""

    def __init__(self) -> None:
        self._count = 0

    def __call__(self, drawing: SheetDrawing):
        from markupsafe import Markup

        if _NEVER.search(drawing.svg):
            raise ValueError(f"the drawing '{drawing.title}' holds what has no place on paper")
        self._count += 1
        return Markup(_IDS.sub(rf"\g<1>drawing{self._count}-", _METADATA.sub("", drawing.svg)))

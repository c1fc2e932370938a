"""Drawings for paper: a figure measured in points, on which no word stands on another, as SVG or PNG.

A `Picture` (see `aquaplumb.figures.style`) is for a slider; a `Drawing` is for a wall. It grows with what it shows. Its
words are measured before they are placed, and shortened with "…" where there is no room. As SVG the words are
outlines, so that they are as wide on every machine as they were measured here.
"""

from __future__ import annotations

import contextlib
import functools
import html
import io
import re
import unicodedata
import warnings
from typing import Any

import matplotlib
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon
from matplotlib.text import Text

from aquaplumb.build import Build
from aquaplumb.figures.style import COLOURS
from aquaplumb.units import HEAD, LENGTH

SIZE = 7.5  # points: small print that is read on paper; letter paper takes a drawing at 0.94 of its size, which leaves 7
_LARGER = 1.5  # pixels of a screen for a point, so that it is read there too
ROW = 9.6  # points from one line of words to the next
WIDE, HIGH = 785.0, 476.0  # points: A4 on its side, 10 mm kept free all round, and 20 mm for what is written over a drawing
DASHED, DOTTED = (0, (5, 2.2)), (0, (1.2, 1.8))
_FONT: dict[Any, Any] = {
    "font.family": ["sans-serif"], "font.sans-serif": ["DejaVu Sans"], "text.parse_math": False, "svg.fonttype": "path", "path.simplify": False,
    "text.hinting": "no_hinting",  # as wide in print as on a screen
}  # fmt: skip
_ROOM = 1.004  # a little wider than measured, for rounding
_LONGEST, _MOST = 80, 400  # characters of a person's name for a thing that are shown; of any words that are measured


def tidy(words: str, longest: int = _LONGEST) -> str:
    """A person's words on one line: no line breaks, no signs that are not seen or that turn the direction of writing."""
    seen = "".join(c if unicodedata.category(c)[0] != "C" else " " if c.isspace() else "" for c in str(words))
    seen = " ".join(seen.split())
    return seen if len(seen) <= longest else seen[: longest - 1].rstrip() + "…"


class Drawing:
    """A drawing of a build for paper. A new one fills in `draw`, `title` and `alt`.

    Parameters
    ----------
    build : Build
    system : str
        "metric" or "US"; the build's own by default.
    """

    def __init__(self, build: Build, *, system: str | None = None):
        self.build, self.system = build, system or build.units
        self.width, self.height = WIDE, HIGH
        self._figure: Figure | None = None

    # --- what a new drawing fills in

    def title(self) -> str:
        """What it is, in a few words."""
        raise NotImplementedError

    def alt(self) -> str:
        """All that it says, in words, for who cannot see it."""
        raise NotImplementedError

    def draw(self) -> None:
        """Set `width` and `height`, then put everything on; all places in points from the lower left corner."""
        raise NotImplementedError

    # --- what it may use

    def number(self, height: float) -> str:
        """A bare elevation or depth, always in the ruler's unit: to a millimetre, or to a hundredth of a foot, an eighth of an inch."""
        number = round(float(HEAD.shown(height, self.system)), 2 if self.system == "US" else 3) + 0.0
        return f"{number:,.10g}".replace("-", "\u2212")

    def at(self, height: float) -> str:
        """The same with its unit, as a tape has it."""
        if self.system == "US":
            return LENGTH.text(height, "US").replace("-", "\u2212")
        return f"{self.number(height)} {HEAD.unit(self.system)}"

    def at_first(self, height: float) -> str:
        """The first of two, "0.7 to 0.9 m": its unit is that of the second, but on a US tape each has its own."""
        return self.at(height) if self.system == "US" else self.number(height)

    def measured(self, words: str, size: float = SIZE, weight: str = "normal") -> float:
        """How wide words are [points]."""
        return _width(tidy(words, _MOST), size, weight)

    def fitted(self, words: str, room: float, size: float = SIZE, weight: str = "normal") -> str:
        """The words, shortened with "…" to a room [points]."""
        words = tidy(words, _MOST)
        if _width(words, size, weight) <= room:
            return words
        low, high = 0, len(words)
        while high - low > 1:
            half = (low + high) // 2
            low, high = (half, high) if _width(words[:half].rstrip() + "…", size, weight) <= room else (low, half)
        return words[:low].rstrip() + "…" if low else ""

    def wrapped(self, words: str, room: float, lines: int, size: float = SIZE, weight: str = "normal") -> list[str]:
        """The words in at most so many lines; what is left over ends in "…"."""
        ahead = tidy(words, _MOST).split(" ")
        found: list[str] = []
        while ahead and len(found) < lines - 1:
            line = [ahead.pop(0)]
            while ahead and _width(" ".join([*line, ahead[0]]), size, weight) <= room:
                line.append(ahead.pop(0))
            if _width(line[0], size, weight) > room:  # one word longer than the line
                return [*found, self.fitted(" ".join([*line, *ahead]), room, size, weight)]
            found.append(" ".join(line))
        return [*found, self.fitted(" ".join(ahead), room, size, weight)] if ahead else found

    def word(
        self,
        x: float,
        y: float,
        words: str,
        *,
        room: float,
        align: str = "left",
        size: float = SIZE,
        weight: str = "normal",
        colour: str = "ink",
        paper: bool = False,
    ) -> None:
        """Words at a place, in the middle of their height, and no wider than `room`; on white paper if they stand on lines."""
        words = self.fitted(words, room, size, weight)
        if not words:
            return
        box = {"facecolor": "white", "edgecolor": "none", "pad": 0.5} if paper else None
        text = Text(
            x,
            y,
            words,
            fontsize=size,
            fontweight=weight,
            ha=align,
            va="center_baseline",
            color=COLOURS[colour],
            parse_math=False,
            zorder=20,
            bbox=box,
        )
        self.axes.add_artist(text)

    def line(self, points, *, colour: str = "ink", width: float = 0.8, style="-", order: float = 5, **look) -> None:
        """A line through points."""
        xs, ys = zip(*points)
        self.axes.add_artist(
            Line2D(xs, ys, color=COLOURS[colour], linewidth=width, linestyle=style, zorder=order, solid_capstyle="butt", **look)
        )

    def sign(
        self,
        x: float,
        y: float,
        marker: str,
        *,
        size: float = 4.0,
        colour: str = "ink",
        fill: str | None = None,
        width: float = 0.8,
        order: float = 9,
    ) -> None:
        """A small sign: a ring, an arrow head, a bar."""
        self.line([(x, y)], colour=colour, style="none", order=order, marker=marker, markersize=size, markeredgewidth=width,
                  markeredgecolor=COLOURS[colour], markerfacecolor=fill or COLOURS[colour])  # fmt: skip

    def area(self, points, colour: str, *, order: float = 3, hatch: str = "", edge: str = "none") -> None:
        """A filled shape."""
        self.axes.add_artist(Polygon(points, closed=True, facecolor=colour, edgecolor=edge, linewidth=0, hatch=hatch or None, zorder=order))

    def tag(self, x: float, y: float, words: str, *, colour: str = "ink", radius: float = 5.4) -> None:
        """A letter or number in a ring."""
        self.sign(x, y, "o", size=2 * radius, colour=colour, fill="white", order=12)
        self.word(x, y, words, room=2.6 * radius, align="center", weight="bold", colour=colour)

    # --- the figure and its copies

    def figure(self) -> Figure:
        """The drawing as a matplotlib figure, made once."""
        if self._figure is None:
            with _settings():
                figure = Figure(facecolor="white")
                FigureCanvasAgg(figure)
                self.axes = figure.add_axes((0, 0, 1, 1))
                self.axes.set_axis_off()
                self.draw()
                self.axes.set(xlim=(0, self.width), ylim=(0, self.height))
                figure.set_size_inches(self.width / 72, self.height / 72)
            self._figure = figure
        return self._figure

    def svg(self) -> str:
        """The drawing as one `<svg>` element that needs nothing else; the same each time."""
        return svg_text(self.figure(), self.title(), f"{type(self).__name__} {self.title()}")

    def png(self, scale: float = 2.0) -> bytes:
        """The drawing as PNG; at scale 1 a point is a pixel, at 4.2 it is fit for print (300 to an inch)."""
        figure, page = self.figure(), io.BytesIO()
        with _settings():
            figure.savefig(page, format="png", dpi=72 * scale, metadata={"Software": None})
        return page.getvalue()

    def _repr_mimebundle_(self, include=None, exclude=None):
        words = self.alt()
        return {"image/png": self.png(), "text/plain": words}, {
            "image/png": {"alt": words, "width": round(_LARGER * self.width), "height": round(_LARGER * self.height)}
        }

    def __repr__(self) -> str:
        return self.alt()


def svg_text(figure: Figure, title: str, salt: str) -> str:
    """A figure as one `<svg>` element that needs nothing else, under a title; the same each time."""
    page = io.StringIO()
    with _settings(salt):
        figure.savefig(page, format="svg", metadata={"Date": None, "Creator": None, "Title": title})
    text = page.getvalue()
    text = re.sub(r"(?s)<!--.*?-->\n?", "", text[text.index("<svg") :])  # it would have every word once more as a remark
    text = re.sub(r'<g id="[^"]*"', "<g", text)  # so that several can stand in one page
    start = text.index(">") + 1
    return f'{text[: start - 1]} role="img" aria-label="{html.escape(title)}">{text[start:]}'


@contextlib.contextmanager
def _settings(salt: str = "drawing"):
    """matplotlib as it comes, with our letters, whatever the reader has set; theirs are as they were afterwards."""
    with matplotlib.rc_context(), _quiet():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update({**_FONT, "svg.hashsalt": salt})
        yield


class _quiet(warnings.catch_warnings):
    """Without a warning for a sign that the font lacks: a person's own names may hold any."""

    def __enter__(self):
        super().__enter__()
        warnings.filterwarnings("ignore", message="Glyph .* missing")


@functools.lru_cache(maxsize=1)
def _pen():
    return FigureCanvasAgg(Figure(dpi=72)).get_renderer()


@functools.lru_cache(maxsize=20_000)
def _width(words: str, size: float, weight: str) -> float:
    """How wide words are [points], as drawn: measured large, and not on whole pixels."""
    before = matplotlib.rcParams["text.hinting"]
    try:
        matplotlib.rcParams["text.hinting"] = _FONT["text.hinting"]
        with _quiet():
            font = FontProperties(family=_FONT["font.sans-serif"], size=10 * size, weight=weight)
            return _pen().get_text_width_height_descent(words, font, ismath=False)[0] / 10 * _ROOM
    finally:
        matplotlib.rcParams["text.hinting"] = before

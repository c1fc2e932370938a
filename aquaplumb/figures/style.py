"""How every picture looks, and the base class they are made from.

A `Picture` keeps one matplotlib figure. What does not move (axes, grid, faint curves) is drawn once; a move
draws only what moves onto that kept background and encodes it fast, so that a slider feels direct. A new picture
is a class with four short methods::

    class Parabola(Picture):
        def frame(self, record):                     # once
            plane = self.plane(("flow", FLOW, "0 L/h", "4000 L/h"), ("head", HEAD, "0 m", "4 m"))
            self.curve, self.point = plane.curve("water"), plane.dot("good")

        def move(self, record):                      # at each move; bare SI numbers
            self.curve.put(record.si.flow, record.si.head)
            self.point.put(record.si.best_flow, record.si.best_head)

        def title(self, record):                     # the finding, one sentence; **bold** where it matters
            return f"The best flow is **{self.text(FLOW, record.si.best_flow)}**."

        def alt(self, record):                       # what the picture says, for who cannot see it
            return f"A curve of head against flow that peaks at {self.text(FLOW, record.si.best_flow)}."

matplotlib's pyplot is never used: its global state and settings stay as the reader left them.
"""

from __future__ import annotations

import copy
import html
import math
import re
import textwrap
import warnings
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon
from matplotlib.text import Text
from matplotlib.ticker import ScalarFormatter

from aquaplumb.figures.canvas import Canvas
from aquaplumb.figures.png import as_png
from aquaplumb.units import Kind, folded, quantity, si_value

# Colours by role, from the set of Okabe and Ito (2008), which people with any kind of colour vision can tell apart.
# Never colour alone: a role also has its own width, dashes, marker or word.
COLOURS = {
    "water": "#0072B2",  # blue: what the pipe, the bed or the fish asks for
    "pump": "#26323C",  # near black: what the chosen machine gives
    "good": "#009E73",  # green: the answer, when it will work
    "wrong": "#D55E00",  # red-orange: will not work, and nothing else
    "needed": "#26323C",  # dashed: the aim
    "air": "#56B4E9",
    "plants": "#CC79A7",
    "warm": "#E69F00",
    "faint": "#8FA5B3",  # what could also be chosen
    "grid": "#E6E9EC",
    "ink": "#26323C",
}
# Words of a role are written in a darker shade of its colour: 4.5 to 1 on white and on its own pale band, in light and when a
# dark theme turns the picture (WCAG 2.2, success criterion 1.4.3).
WRITTEN = {**COLOURS, "water": "#005F96", "good": "#00714F", "wrong": "#A84700", "air": "#1F6E9C", "plants": "#9C4477", "warm": "#855A00",
           "faint": "#566773"}  # fmt: skip
WIDTHS = {"faint": 1.4, "pump": 2.2, "water": 2.4, "needed": 1.3}
FONT = 9.0  # points
SMALLEST = 7.2  # points: ten pixels on a screen, where a picture stands in its own size


def calm(axes) -> None:
    """Style axes quietly: a light grid behind, no box, short ticks. It changes these axes only."""
    axes.set_axisbelow(True)
    axes.grid(True, color=COLOURS["grid"], linewidth=0.9)
    axes.spines[["top", "right"]].set_visible(False)
    axes.spines[["left", "bottom"]].set_color(COLOURS["faint"])
    axes.tick_params(colors=COLOURS["ink"], labelsize=FONT, length=3, color=COLOURS["faint"])
    for ruler in (axes.xaxis, axes.yaxis):
        ruler.label.set(color=COLOURS["ink"], size=FONT + 0.5)
    axes.set_facecolor("white")


class Picture:
    """A figure of one record that can be drawn again and again, quickly.

    Parameters
    ----------
    record : Record, optional
        What to show when the picture itself is displayed in a notebook.
    system : str
        "metric" or "US".
    """

    width, height = 640, 400  # as shown, in pixels
    scale = 1.0  # pixels drawn for each pixel shown
    above = ""  # a sentence to stand over it, such as on whose bed one practises
    look = ""  # what to see in it, folded under it
    titled = True  # a what-if panel says the title above the picture and leaves it out here

    def __init__(self, record=None, *, system: str = "metric"):
        self.record, self.system = record, system
        self._page: tuple | None = None  # as it was displayed last, and of what
        self._begin()

    def _begin(self) -> None:
        """Begin with an empty figure."""
        self.figure = Figure()
        self._canvas = Canvas(self.figure)
        self._moving: list = []
        self._drawn: tuple | None = None
        self._background: Any = None

    # --- what a new picture fills in ---

    def frame(self, record) -> None:
        """Draw once what does not move, and make what does (`Plane` and `moving`)."""
        raise NotImplementedError

    def move(self, record) -> None:
        """Put what moves where the record says."""
        raise NotImplementedError

    def title(self, record) -> str:
        """The finding, one sentence."""
        return ""

    def alt(self, record) -> str:
        """What the picture says, in words and numbers."""
        return self.title(record)

    def key(self, record):
        """What the frame depends on besides the unit system; the frame is drawn anew when it changes."""
        return None

    # --- what it may use ---

    def plane(self, x: tuple, y: tuple, *, box: tuple = (0.0, 0.0, 1.0, 1.0)) -> Plane:
        """Calm axes; `x` and `y` are (label, kind, low, high), `box` a part of the figure (left, bottom, width, height)."""
        left, bottom, width, height = box
        roof = self.height - (38 if self.titled else 0)  # the title stands above all planes
        corner = (left * self.width + 58, bottom * roof + 46)
        inner = (width * self.width - 58 - 22, height * roof - 46 - 12)  # labels left and below, room for the last tick
        place = np.array([*corner, *inner]) / (self.width, self.height, self.width, self.height)
        return Plane(self, self.figure.add_axes(tuple(place)), x, y)

    def moving(self, artist):
        """Mark a matplotlib artist as one that moves; `frame` made it, `move` changes it."""
        artist.set_animated(True)
        self._moving.append(artist)
        return artist

    def text(self, kind: Kind, si: float) -> str:
        """A bare SI value as the reader sees it, in the picture's unit system."""
        return kind.text(si, self.system).replace("-", "\u2212")

    # --- drawing ---

    def png(self, record=None, system: str | None = None, *, compression: int = 1) -> bytes:
        """The picture as PNG; only what moves is drawn, unless the frame must change."""
        record = self.record if record is None else record
        self.system = system or self.system
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="Glyph .* missing")  # a person's own names may hold any sign
            pixels = self._pixels(record)
        return as_png(pixels[:, :, :3], compression)

    def _pixels(self, record) -> np.ndarray:
        wanted = (self.system, self.titled, self.scale, self.key(record))
        if self._drawn != wanted:
            self._drawn = None  # nothing half drawn is kept, should the frame raise
            self._new_frame(record)
        self._canvas.restore_region(self._background)
        self.move(record)
        if self.titled:
            said = textwrap.wrap(_held(plain(self.title(record))), int(self.width / 8.4), max_lines=2, placeholder=" …")
            self._title.set_text("\n".join(said))
        for artist in sorted(self._moving, key=lambda artist: artist.zorder):
            self.figure.draw_artist(artist)
        self._drawn = wanted
        return np.asarray(self._canvas.buffer_rgba())

    def _new_frame(self, record) -> None:
        self._moving.clear()
        for axes in self.figure.axes:  # `clear` would first dress each anew, which is a tenth of a frame's time
            self.figure.delaxes(axes)
        self.figure.clear()
        self.figure.set_dpi(100 * self.scale)
        self.figure.set_size_inches(self.width / 100, self.height / 100)
        self.figure.set_facecolor("white")
        place: dict[str, Any] = {"x": 12 / self.width, "y": 1 - 8 / self.height, "va": "top", "ha": "left"}
        self._title = self.moving(self.figure.text(s="", size=FONT + 1.5, color=COLOURS["ink"], parse_math=False, **place))
        self.frame(record)
        self._canvas.draw()
        self._background = self._canvas.copy_from_bbox(self.figure.bbox)

    def _repr_mimebundle_(self, include=None, exclude=None):
        words = " ".join(filter(None, [self.above, plain(self.alt(self.record))]))
        image = self._displayed()
        return {"image/png": image, "text/plain": words}, {"image/png": {"alt": words, "width": self.width, "height": self.height}}

    def _displayed(self) -> bytes:
        """The picture for a page: drawn once as long as it is of the same record, since one on a page does not move."""
        wanted = (self.record, self.system, self.titled)
        if self._page is None or any(one is not other for one, other in zip(self._page[0], wanted, strict=True)):
            once = copy.copy(self)  # its frame and all that is on it, some ten megabytes, go with it
            once._begin()
            once.scale = 2.0 * type(self).scale
            self._page = wanted, once.png(compression=6)
        return self._page[1]

    def _ipython_display_(self):
        self.display(self.look)

    def display(self, look: str) -> None:
        """The picture, and below it what to see and the same in words: a static picture's alt text is not read by JupyterLab."""
        from IPython.display import publish_display_data

        data, metadata = self._repr_mimebundle_()
        if self.above:
            publish_display_data({"text/html": f"<p><i>{html.escape(self.above)}</i></p>", "text/plain": self.above})
        publish_display_data(data, metadata)
        seen = folded("What to see", f"<p>{rich(look)}</p>") if look else ""
        words = folded("The same in words", f"<p>{html.escape(data['text/plain'])}</p>")
        publish_display_data({"text/html": seen + words, "text/plain": ""})

    def __repr__(self):
        return plain(self.alt(self.record)) if self.record is not None else f"{type(self).__name__}()"


def _held(text: str) -> str:
    """A sentence in which no number parts from its unit at a line's end."""
    return re.sub(r"(?<=\d) (?=[A-Za-z%°])", "\u00a0", text)


def round_up(number: float) -> float:
    """The next of 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8 times a power of ten: where a ruler ends."""
    power = 10.0 ** math.floor(math.log10(number))
    return next(lead * power for lead in (1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10) if lead * power >= number * 0.9999)


def plain(text: str) -> str:
    """A sentence without its ``**bold**`` marks."""
    return text.replace("**", "")


def rich(text: str) -> str:
    """A person's sentence as safe HTML: everything escaped, then ``**bold**`` made bold."""
    return re.sub(r"\*\*(.+?)\*\*", r"<b>\1</b>", html.escape(str(text)))


class Plane:
    """Axes whose two directions are quantities. All that is put on them is given in bare SI numbers.

    ``curve``, ``band``, ``dot``, ``mark`` and ``word`` each make one thing in the colour of a role and hand it back;
    its ``put`` places it. With ``still=True`` it belongs to the frame: place it at once.
    """

    def __init__(self, picture: Picture, axes, x: tuple, y: tuple):
        self.picture, self.axes = picture, axes
        calm(axes)
        self.x_kind, self.y_kind = x[1], y[1]
        for side, (label, kind, low, high) in (("x", x), ("y", y)):
            unit = kind.unit(picture.system)
            axes.set(**{
                f"{side}label": f"{label} [{unit}]" if unit else label,
                f"{side}lim": (self._shown(kind, _si(low, kind)), self._shown(kind, _si(high, kind))),
            })  # fmt: skip
        for ruler in (axes.xaxis, axes.yaxis):
            plain_numbers = _Numbers(useOffset=False)
            plain_numbers.set_scientific(False)
            ruler.set_major_formatter(plain_numbers)

    def _shown(self, kind: Kind, si):
        return kind.shown(np.asarray(si, float), self.picture.system)

    def x(self, si):
        """Where a bare SI value is along x, in the reader's unit."""
        return self._shown(self.x_kind, si)

    def y(self, si):
        """Where a bare SI value is along y, in the reader's unit."""
        return self._shown(self.y_kind, si)

    def add(self, artist, still: bool = False):
        """Put an artist on the axes; it moves unless it is `still`."""
        self.axes.add_artist(artist)
        return artist if still else self.picture.moving(artist)

    def curve(self, role: str, *, dashed: bool = False, still: bool = False) -> PlaneCurve:
        """A line: ``put(x, y)``."""
        line = Line2D([], [], color=COLOURS[role], linewidth=WIDTHS.get(role, 2.0), solid_capstyle="round", zorder=3)
        if dashed:
            line.set_linestyle((0, (5, 3)))
        return PlaneCurve(self, self.add(line, still))

    def band(self, role: str, *, still: bool = False) -> PlaneBand:
        """What is between a low and a high estimate: ``put(x, low, high)``."""
        area = Polygon(np.zeros((3, 2)), closed=True, facecolor=COLOURS[role], alpha=0.15, linewidth=0, zorder=2)
        return PlaneBand(self, self.add(area, still))

    def dot(self, role: str, *, still: bool = False) -> PlaneDot:
        """A point that is the answer: ``put(x, y)``; ``put(x, y, works=False)`` turns it to a red-orange cross."""
        point = Line2D([], [], linestyle="none", marker="o", markersize=9, color=COLOURS[role], zorder=5)
        return PlaneDot(self, self.add(point, still), COLOURS[role])

    def mark(self, role: str, *, still: bool = False) -> PlaneMark:
        """A dashed upright line with a word at its top: ``put(x, "needed")``."""
        line = Line2D([], [], color=COLOURS[role], linewidth=1.3, linestyle=(0, (5, 3)), zorder=4)
        return PlaneMark(self, self.add(line, still), self.word(role, still=still))

    def word(self, role: str = "ink", *, still: bool = False, align: str = "left") -> PlaneWord:
        """A few words on the plane: ``put(x, y, "demo 45 W")``."""
        text = Text(0, 0, "", color=WRITTEN[role], fontsize=FONT, ha=align, va="bottom", zorder=6, parse_math=False, clip_on=True)
        return PlaneWord(self, self.add(text, still))


class _Numbers(ScalarFormatter):
    """Numbers of a ruler, with a comma at the thousands."""

    def __call__(self, x, pos=None):
        return re.sub(r"^(\D*)(\d{4,})", lambda number: f"{number[1]}{int(number[2]):,}", super().__call__(x, pos))


class PlaneItem:
    """A thing on a plane that can be put somewhere or hidden."""

    def __init__(self, plane: Plane, artist):
        self.plane, self.artist = plane, artist

    def hide(self) -> None:
        """Take it out of sight until it is put again."""
        self.artist.set_visible(False)


class PlaneCurve(PlaneItem):
    def put(self, x, y) -> None:
        """Run the line through these bare SI points."""
        self.artist.set_data(np.atleast_1d(self.plane.x(x)), np.atleast_1d(self.plane.y(y)))
        self.artist.set_visible(True)


class PlaneDot(PlaneItem):
    def __init__(self, plane: Plane, artist, colour: str):
        super().__init__(plane, artist)
        self.colour = colour

    def put(self, x, y, works: bool = True) -> None:
        """Place the point; one that does not work is a cross, so that colour is not all that tells."""
        self.artist.set_data(np.atleast_1d(self.plane.x(x)), np.atleast_1d(self.plane.y(y)))
        self.artist.set(color=self.colour if works else COLOURS["wrong"], marker="o" if works else "X", visible=True)


class PlaneBand(PlaneItem):
    def put(self, x, low, high) -> None:
        """Fill from `low` to `high` along `x`, all bare SI."""
        x, low, high = self.plane.x(x), self.plane.y(low), self.plane.y(high)
        self.artist.set_xy(np.column_stack([np.concatenate([x, x[::-1]]), np.concatenate([low, high[::-1]])]))
        self.artist.set_visible(True)


class PlaneWord(PlaneItem):
    def put(self, x, y, text: str) -> None:
        """Say `text` there (bare SI place)."""
        self.artist.set(x=float(self.plane.x(x)), y=float(self.plane.y(y)), text=text, visible=True)


class PlaneMark(PlaneItem):
    def __init__(self, plane: Plane, artist, word: PlaneWord):
        super().__init__(plane, artist)
        self.word = word

    def put(self, x, text: str = "") -> None:
        """Stand the line at `x`, its word on the side that has room."""
        place = float(self.plane.x(x))
        (left, right), (low, high) = self.plane.axes.get_xlim(), self.plane.axes.get_ylim()
        self.artist.set(data=([place, place], [low, high]), visible=True)
        gap = 0.008 * (right - left)
        turn = place > right - 0.2 * (right - left)
        self.word.artist.set(
            x=place - gap if turn else place + gap, y=high - 0.06 * (high - low), text=text, ha="right" if turn else "left", visible=True
        )

    def hide(self) -> None:
        """Take the line and its word out of sight."""
        super().hide()
        self.word.hide()


def _si(value, kind: Kind) -> float:
    return si_value(quantity(value, kind), kind, "axis") if isinstance(value, str) else float(value)

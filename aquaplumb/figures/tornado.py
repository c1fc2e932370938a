"""The picture of what a number hangs on: one bar for each unknown, from its low to its high, the widest on top.

TornadoPicture(sweep(my_build(), None, 10_000, seed=1).swings("line riser.flow"))
"""

from __future__ import annotations

import textwrap

from matplotlib.patches import Rectangle

from aquaplumb.figures.style import COLOURS, Picture
from aquaplumb.units import NUMBER

_SHOWN, _LEAST = 8, 0.02  # bars; of the widest: those below hardly move it
_LEFT = 0.16  # of the width, for the unknowns' names, besides the room that every plane has
_THICK = 0.52  # of a row
_LETTER = 7.0  # pixels, at the most


class TornadoPicture(Picture):
    """Bars of a result with one unknown at its low and at its high; shaded, where nine of ten designs lie.

    Its record is a `aquaplumb.review.sweep.Swings`.
    """

    width, height = 640, 420

    def __init__(self, record=None, *, system: str | None = None):
        super().__init__(record, system=system or (record.units if record is not None else "metric"))

    def key(self, record):
        """All of it stands still."""
        return record.name, record.n, record.middle, record.low, record.high, record.rows

    @staticmethod
    def shown(record) -> list:
        """The unknowns that get a bar."""
        return [row for row in record.rows[:_SHOWN] if row.width >= _LEAST * record.rows[0].width]

    def frame(self, record) -> None:
        """The axes, the bars with the unknowns' values at their ends, the shade and the middle line."""
        rows = self.shown(record)
        values = [record.middle, record.low, record.high, *(v for row in rows for v in (row.at_low, row.at_high))]
        low, high = min(values), max(values)
        span = (high - low) or abs(high) or 1.0
        word = 20 + _LETTER * max((len(end) for row in rows for end in row.ends(self.system)), default=0)
        side = span * word / ((1 - _LEFT) * self.width - 80 - 2 * word)  # room beyond the bars for the words at their ends
        left, right, floor = low - side, high + side, len(rows) + 0.8
        plane = self.plane((record.label, record.kind, left, right), ("", NUMBER, floor, -0.9), box=(_LEFT, 0, 1 - _LEFT, 1))
        axes = plane.axes
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.grid(False, axis="y")
        axes.locator_params(axis="x", nbins=6)
        axes.axvspan(float(plane.x(record.low)), float(plane.x(record.high)), color=COLOURS["water"], alpha=0.10, linewidth=0, zorder=1)
        middle = float(plane.x(record.middle))
        axes.plot([middle, middle], [-0.4, floor], color=COLOURS["needed"], linewidth=1.3, linestyle=(0, (5, 3)), zorder=4)
        gap = 0.008 * (right - left)
        self.names, self.values = [], []
        for place, row in enumerate(rows):
            ends = sorted(zip((row.at_low, row.at_high), row.ends(self.system)), key=lambda end: end[0])
            start, stop = min(ends[0][0], record.middle), max(ends[1][0], record.middle)
            x, wide = float(plane.x(start)), float(plane.x(stop) - plane.x(start))
            axes.add_patch(Rectangle((x, place - _THICK / 2), wide, _THICK, color=COLOURS["water"], alpha=0.75, linewidth=0, zorder=3))
            for align, at, (_, told) in (("right", start - gap, ends[0]), ("left", stop + gap, ends[1])):
                self.values.append(self._word(plane, at, place, told, align))
            name = "\n".join(textwrap.wrap(row.name, 22)[:2])
            self.names.append(self._word(plane, left - 0.01 * (right - left), place, name, "right"))
        typical = f"all typical: {self.text(record.kind, record.middle)}"
        self.values.append(self._word(plane, record.middle, -0.64, typical, "center"))
        self.values.append(
            self._word(plane, (record.low + record.high) / 2, floor - 0.42, "shaded: nine of ten designs", "center", paper=True)
        )

    @staticmethod
    def _word(plane, x: float, y: float, text: str, align: str, paper: bool = False):
        word = plane.word("ink", still=True, align=align)
        word.artist.set(va="center", clip_on=False)
        if paper:
            word.artist.set_bbox({"facecolor": "white", "alpha": 0.8, "linewidth": 0, "pad": 1.0})
        word.put(x, y, text)
        return word.artist

    def move(self, record) -> None:
        """Nothing moves."""

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        said = [
            record.sentence(self.system),
            f"With everything typical it is {self.text(record.kind, record.middle)}. One unknown alone, from its low to its high, takes it:",
        ]
        for row in self.shown(record):
            low, high = row.ends(self.system)
            said.append(f"{row.name} ({low} to {high}) from {self.text(record.kind, row.at_low)} to {self.text(record.kind, row.at_high)};")
        rest = len(record.rows) - len(self.shown(record))
        said.append(f"{rest} more move it less." if rest > 0 else "no other moves it.")
        return " ".join(said)

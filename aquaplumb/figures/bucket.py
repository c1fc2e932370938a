"""The picture of what was measured: for each value the band in which it was to be expected, the one after the yes, and the value."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from aquaplumb.figures.style import COLOURS, WRITTEN, Picture
from aquaplumb.units import NUMBER, Kind

_LEFT, _ROW = 0.26, 34  # of the width, for names, besides the room that every plane has; pixels of a row
_FAR = 2.2  # times what was reckoned: a value beyond stands at the edge, with its number


@dataclass(frozen=True)
class BandRow:
    """One row, bare SI: `before` and `after` are (low, high), `value` and `after` None where there is none yet."""

    label: str
    kind: Kind
    reckoned: float
    before: tuple[float, float]
    after: tuple[float, float] | None = None
    value: float | None = None
    outside: bool = False


class BandsPicture(Picture):
    """Each row over what was reckoned: a pale bar for the band before, a dark one for the band after, a dot for the bucket.

    Its record is a list of `BandRow`; an outside value is a cross.
    """

    width = 700

    def __init__(self, rows: list[BandRow], system: str = "metric"):
        super().__init__(rows, system=system)
        self.height = 120 + _ROW * max(1, len(rows))

    def frame(self, record) -> None:
        """All of it: it does not move."""
        plane = self.plane(
            ("measured over reckoned (pale: expected, dark: after the yes)", NUMBER, 0.0, _FAR + 0.75),
            ("", NUMBER, len(record) - 0.3, -0.8),
            box=(_LEFT, 0, 1 - _LEFT, 1),
        )
        axes = plane.axes
        axes.set_yticks([])
        axes.set_xticks([0, 0.5, 1, 1.5, 2])
        axes.spines["left"].set_visible(False)
        axes.grid(False, axis="y")
        axes.axvline(1.0, color=COLOURS["needed"], linewidth=1.3, linestyle=(0, (5, 3)), zorder=2)
        for place, row in enumerate(record):
            self._row(axes, place, row)

    def _row(self, axes, place: int, row: BandRow) -> None:
        def part(si: float) -> float:
            return float(np.clip(si / row.reckoned if row.reckoned else 1.0, 0.0, _FAR))

        for band, thick, alpha in ((row.before, 0.66, 0.22), (row.after, 0.66, 0.8)):
            if band:
                low, high = map(part, band)
                axes.add_patch(
                    Rectangle((low, place - thick / 2), high - low, thick, color=COLOURS["water"], alpha=alpha, linewidth=0, zorder=3)
                )
        name = "\n".join(textwrap.wrap(row.label, 30)[:2])
        axes.text(-0.02, place, name, ha="right", va="center", fontsize=9, color=COLOURS["ink"], clip_on=False)
        if row.value is None:
            told, colour = self._span(row), WRITTEN["ink"]
        else:
            colour = COLOURS["wrong" if row.outside else "good"]
            axes.add_line(
                Line2D(
                    [part(row.value)], [place], linestyle="none", marker="X" if row.outside else "o", markersize=7, color=colour, zorder=5
                )
            )
            told, colour = self.text(row.kind, row.value), WRITTEN["wrong" if row.outside else "good"]
        axes.text(_FAR + 0.06, place, told, ha="left", va="center", fontsize=9, color=colour, clip_on=False)

    def _span(self, row: BandRow) -> str:
        low, high = (self.text(row.kind, end) for end in row.before)
        return f"{low.rpartition(' ')[0] or low} to {high}"

    def move(self, record) -> None:
        """Nothing moves."""

    def title(self, record) -> str:
        """How many lie outside, and how much narrower the bands would be."""
        read = [row for row in record if row.value is not None]
        if not read:
            return "What to expect. Time a bucket at each outlet."
        out = [row.label for row in read if row.outside]
        first = f"Outside its band: {', '.join(out)}." if out else f"All {len(read)} inside their bands."
        both = [(row.before, row.after) for row in read if row.after]
        if not both:
            return first
        narrower = np.median([(b[1] - b[0]) / max(a[1] - a[0], 1e-12) for b, a in both])
        return f"{first} After the yes, bands {narrower:.1f} times as narrow." if narrower > 1.05 else first

    def alt(self, record) -> str:
        """What the picture says, in words."""
        said = [self.title(record)]
        for row in record:
            measured = "not measured" if row.value is None else f"measured {self.text(row.kind, row.value)}"
            after = f", after the yes {self.text(row.kind, row.after[0])} to {self.text(row.kind, row.after[1])}" if row.after else ""
            said.append(
                f"{row.label}: {measured}, expected {self.text(row.kind, row.before[0])} to {self.text(row.kind, row.before[1])}{after}."
            )
        return " ".join(said)

"""The picture of how sure a build is: a bar for each promise, from what 1 design in 20 has to what 19 in 20 have."""

from __future__ import annotations

import math
import textwrap

from matplotlib.patches import Rectangle

from aquaplumb.figures.style import COLOURS, WRITTEN, Picture
from aquaplumb.review.sweep import said
from aquaplumb.units import NUMBER, rounded

_FROM, _TO = 0.4, 2.0  # of what is needed: where the ruler ends
_LEFT, _RIGHT = -0.065, 0.10  # of the width: no labels stand left of the ruler; for the chances
_THICK, _LETTERS = 0.4, 60
_OVER = 0.45  # of a row: its name stands over the middle of its bar, so that a phone, which shows the left half, has both


class SurePicture(Picture):
    """Bars of what there is over what is needed; what lies left of the line at 1 does not hold.

    Its record is a `aquaplumb.whatif.build_sheet.Sureness`.
    """

    width, height = 640, 456

    def key(self, record):
        """The promises: which rows there are."""
        return record.si.names

    def frame(self, record) -> None:
        """The axes, the names and the line at 1."""
        names = record.si.names
        floor = len(names) - 0.3
        plane = self.plane(
            ("what there is, over what is needed", NUMBER, _FROM, _TO), ("", NUMBER, floor, -1.25), box=(_LEFT, 0, 1 - _LEFT - _RIGHT, 1)
        )
        axes, self.plane_ = plane.axes, plane
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.grid(False, axis="y")
        axes.axvspan(_FROM, 1.0, color=COLOURS["grid"], alpha=0.6, linewidth=0, zorder=0)
        axes.plot([1, 1], [-0.8, floor], color=COLOURS["needed"], linewidth=1.3, linestyle=(0, (5, 3)), zorder=4)
        self.words = [self._word(1.0, -1.02, "just enough", "center"), self._word(_TO + 0.03, -1.02, "holds in", "left")]
        self.words += [
            self._word(_FROM + 0.02, place - _OVER, textwrap.shorten(name, _LETTERS, placeholder=" …"), "left")
            for place, name in enumerate(names)
        ]
        self.bars: list[Rectangle] = []
        self.short: list[Rectangle] = []
        self.middles, self.ends, self.chances = [], [], []
        for place in range(len(names)):
            # no snapping to whole pixels: a small move of a slider shows as a small move
            for kept, colour in ((self.bars, "water"), (self.short, "wrong")):
                kept.append(
                    plane.add(
                        Rectangle((0, place - _THICK / 2), 0, _THICK, color=COLOURS[colour], alpha=0.8, linewidth=0, zorder=3, snap=False)
                    )
                )
            self.middles.append(
                plane.add(Rectangle((0, place - _THICK / 2), 0.008, _THICK, color="white", linewidth=0, zorder=4, snap=False))
            )
            self.ends.append(plane.word("ink", align="right"))
            self.chances.append(plane.word("ink"))
            for word in (self.ends[-1], self.chances[-1]):
                word.artist.set(va="center", clip_on=False)

    def _word(self, x: float, y: float, text: str, align: str):
        word = self.plane_.word("ink", still=True, align=align)
        word.artist.set(va="center", clip_on=False)
        word.put(x, y, text)
        return word.artist

    def move(self, record) -> None:
        """Put each bar, its middle and its chance."""
        r = record.si
        for place in range(len(r.names)):
            low, middle, high = (min(max(float(value), _FROM), _TO) for value in (r.low[place], r.middle[place], r.high[place]))
            low, high = (low, max(high, low + 0.01)) if low < _TO - 0.01 else (_TO - 0.01, _TO)
            self._bar(self.bars[place], max(low, 1.0), high)
            self._bar(self.short[place], low, min(high, 1.0))
            self.middles[place].set(x=middle - 0.004, visible=_FROM < middle < _TO)
            beyond = r.low[place] >= _TO or r.high[place] <= _FROM
            if beyond:
                over = r.low[place] >= _TO
                told = f"{self._times(r.low[place] if over else r.high[place])} {'or more ▸' if over else 'or less'}"
                self.ends[place].artist.set_ha("right" if over else "left")
                self.ends[place].put(_TO - 0.03 if over else _FROM + 0.04, place, told if over else f"◂ {told}")
            else:
                self.ends[place].hide()
            self.chances[place].artist.set_color(WRITTEN["wrong" if r.chance[place] < 0.5 else "ink"])
            self.chances[place].put(_TO + 0.03, place, said(r.chance[place], r.designs))

    @staticmethod
    def _bar(bar, start: float, stop: float) -> None:
        bar.set(x=start, width=max(0.0, stop - start), visible=stop > start)

    @staticmethod
    def _times(ratio: float) -> str:
        return f"{rounded(ratio)} times" if math.isfinite(ratio) else "without end"

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        rows = [
            f"{name}: holds in {said(chance, r.designs)}; nine of ten designs have {self._times(low)} to {self._times(high)} what is needed"
            for name, chance, low, high in zip(r.names, r.chance, r.low, r.high)
        ]
        return f"{record.sentence(self.system)} A bar for each promise: {'; '.join(rows)}."

"""The picture of a build's heat: where it goes on the coldest night, and how the tank cools in a power cut."""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.figures.style import Picture, round_up
from aquaplumb.units import NUMBER, POWER, TEMPERATURE

_PAPER = {"facecolor": "white", "alpha": 0.8, "linewidth": 0, "pad": 1.0}


class WarmthPicture(Picture):
    """Above: a bar for each way in which heat goes. Below: the fish tank in a power cut, against what its fish bear.

    Its record is a `aquaplumb.whatif.warmth.ColdNight`.
    """

    width, height = 640, 430

    def key(self, record):
        """The rulers: a build's own, whatever the sliders say."""
        r = record.si
        return r.ruler, r.cold_end, r.warm_end

    def frame(self, record) -> None:
        """Axes and the names of the ways."""
        r = record.si
        self.end, self.names = round_up(r.ruler), list(r.ways)
        bars = self.plane(("heat lost", POWER, 0.0, self.end), ("", NUMBER, 0.0, float(len(self.names))), box=(0.095, 0.45, 0.905, 0.55))
        self.rows = {name: len(self.names) - place - 0.5 for place, name in enumerate(self.names)}
        bars.axes.set_yticks(list(self.rows.values()), self.names)
        bars.axes.tick_params(axis="y", length=0)
        bars.axes.grid(False, axis="y")
        self.bars = {name: (bars.band("warm"), bars.word("ink")) for name in self.names}
        for bar, word in self.bars.values():
            bar.artist.set(alpha=0.55)
            word.artist.set_va("center")
            word.artist.set_bbox(_PAPER)
        self.hours_end = float(r.hours[-1]) / 3600
        cut = self.plane(
            ("hours without power", NUMBER, 0.0, self.hours_end),
            ("fish tank", TEMPERATURE, r.cold_end, r.warm_end),
            box=(0.095, 0.0, 0.905, 0.46),
        )
        cut.axes.set_xticks(np.arange(0, self.hours_end + 1, 6))
        self.bears, self.bears_word = cut.curve("needed", dashed=True), cut.word("ink")
        self.warm, self.point = cut.curve("water"), cut.dot("wrong")
        self.bears_word.artist.set_bbox(_PAPER)

    def move(self, record) -> None:
        """The bars, and the cooling tank."""
        r = record.si
        for name, (bar, word) in self.bars.items():
            watts, row = r.ways[name], self.rows[name]
            high = min(max(watts, 0.0), self.end)
            if high > 0:
                bar.put([0.0, high], [row - 0.3] * 2, [row + 0.3] * 2)
            else:
                bar.hide()
            word.artist.set_ha("right" if high > 0.85 * self.end else "left")
            word.put(
                high + (-0.008 if high > 0.85 * self.end else 0.008) * self.end,
                row,
                self.text(POWER, watts) + (" (past this ruler)" if watts > self.end else ""),
            )
        span = [0.0, self.hours_end]
        self.bears.put(span, [r.lowest, r.lowest])
        soon = r.time / 3600 < 0.5 * self.hours_end  # the curve falls: over the line there is room after it, under the curve before it
        self.bears_word.artist.set_ha("right" if soon else "left")
        self.bears_word.put(
            (0.988 if soon else 0.012) * self.hours_end,
            r.lowest + 0.02 * (r.warm_end - r.cold_end),
            f"{r.species} cannot live below {self.text(TEMPERATURE, r.lowest)}",
        )
        self.warm.put(np.asarray(r.hours) / 3600, r.warm)
        if r.time / 3600 <= self.hours_end:
            self.point.put(r.time / 3600, r.lowest, works=False)
        else:
            self.point.hide()

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        ways = ", ".join(f"{name} {self.text(POWER, watts)}" for name, watts in r.ways.items())
        after = float(np.interp(12 * 3600.0, r.hours, r.warm))
        cut = f"In a power cut the fish tank is at {self.text(TEMPERATURE, after)} after 12 hours"
        end = (
            f", and at the {self.text(TEMPERATURE, r.lowest)} that {r.species} bears after {r.time / 3600:.0f}."
            if math.isfinite(r.time)
            else "; it does not get too cold for its fish."
        )
        return f"{record.sentence(self.system)} Bars of the heat lost: {ways}. {cut}{end}"

"""The picture of a bed's level through two hours: it fills to the lip and empties to the vent, or it does not."""

from __future__ import annotations

import numpy as np

from aquaplumb.figures.style import COLOURS, Picture
from aquaplumb.units import DEPTH, FLOW, TIME

HOURS = 2.0
_ROOM = 1.08  # of the bed's height, as far as the ruler of depths goes
_APART = 0.062  # of that ruler: how far two names beside it keep from each other


class RoundPicture(Picture):
    """Above, the bed's depth against time, with its rim, lip and vent; below, what the siphon lets go.

    Its record is a `aquaplumb.whatif.siphon_round.Round`.
    """

    width, height = 640, 440

    def key(self, record):
        """The siphon and its bore: rulers hang on them, and on no slider."""
        r = record.si
        return r.line, r.bore, r.lip, r.rim

    def frame(self, record) -> None:
        """Axes, and the heights that do not move."""
        r = record.si
        self.top, self.long = _ROOM * r.rim, HOURS * 3600
        self.most = r.ruler
        self.bed = bed = self.plane(
            ("", TIME, 0.0, self.long), ("depth of water in the bed", DEPTH, 0.0, self.top), box=(0.03, 0.28, 0.82, 0.72)
        )
        self.out = out = self.plane(("time", TIME, 0.0, self.long), ("flow out", FLOW, 0.0, self.most), box=(0.03, 0, 0.82, 0.385))
        ticks = np.arange(0, self.long + 1, 1200)
        for plane in (bed, out):
            plane.axes.set_xticks(plane.x(ticks))
        bed.axes.tick_params(axis="x", labelbottom=False)
        bed.axes.set_xlabel("")
        out.axes.locator_params(axis="y", nbins=4)
        if r.media > 0:
            bed.axes.axhspan(0, float(bed.y(r.media)), color=COLOURS["grid"], alpha=0.5, linewidth=0)
        names = [("rim", r.rim), ("media's top", r.media), ("lip", r.lip)]
        self.taken: list[float] = []
        for name, height in sorted((one for one in names if one[1] > 0), key=lambda one: -one[1]):
            bed.axes.axhline(float(bed.y(height)), color=COLOURS["faint"], linewidth=1.0, zorder=1.6)
            self._beside(name, height, still=True)
        self.vent_line, self.vent_word = bed.curve("needed", dashed=True), self._word()
        self.early, self.early_word = bed.curve("water", dashed=True), bed.word("ink")
        self.level = bed.curve("water")
        self.good, self.warm = bed.dot("good"), bed.dot("warm")
        for dot in (self.good, self.warm):
            dot.artist.set_clip_on(False)
        self.gone, self.flow = out.band("water"), out.curve("faint")
        self.comes, self.comes_word = out.curve("needed", dashed=True), out.word("ink")
        self.comes_word.artist.set(clip_on=False, va="center")

    def _word(self, still: bool = False):
        word = self.bed.word("ink", still=still)
        word.artist.set(clip_on=False, va="center")
        return word

    def _beside(self, name: str, height: float, *, still: bool = False, word=None) -> None:
        """Name a height to the right of the ruler, lower where another name has its place already."""
        place = height
        for other in sorted(self.taken, reverse=True):
            if abs(place - other) < _APART * self.top:
                place = other - _APART * self.top
        if still:
            self.taken.append(place)
        (word or self._word(still)).put(1.025 * self.long, place, name)

    def move(self, record) -> None:
        """What the sliders move."""
        r = record.si
        self.vent_line.put([0.0, self.long], [r.vent, r.vent])
        self._beside("vent", r.vent, word=self.vent_word)
        self.level.put(r.times, r.depths)
        if r.early_times is None:
            self.early.hide()
            self.early_word.hide()
        else:
            self.early.put(r.early_times, r.early_depths)
            self.early_word.put(0.01 * self.long, r.rim - 0.075 * self.top, "dashed: if it starts")
        at = (self.long, min(float(np.interp(self.long, r.times, r.depths)), r.rim))
        shown, hidden = (self.good, self.warm) if record.surely or not record.works else (self.warm, self.good)
        shown.put(*at, works=record.works)
        hidden.hide()
        self.gone.put(r.times, np.zeros_like(r.flows), r.flows)
        self.flow.put(r.times, r.flows)
        level = min(r.inflow, self.most)
        self.comes.put([0.0, self.long], [level, level])
        over = "\n(above here)" if r.inflow > self.most else ""
        self.comes_word.put(1.025 * self.long, min(level, 0.9 * self.most), f"{self.text(FLOW, r.inflow)} in{over}")

    # --- words

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        said = [
            record.sentence(self.system),
            f"The depth of water in {r.source} through {60 * HOURS:.0f} minutes, from the vent on, and below it what the siphon lets go.",
        ]
        said.append(
            f"Over the bed's floor the vent is at {self.text(DEPTH, r.vent)}, the lip at {self.text(DEPTH, r.lip)}, the rim at {self.text(DEPTH, r.rim)}."
        )
        said.append(f"The water is between {self.text(DEPTH, r.lowest)} and {self.text(DEPTH, r.highest)} deep.")
        if r.early_times is not None:
            said.append("A dashed line shows the level if the siphon starts; the full line if it does not.")
        if record.works:
            said.append(f"At most {self.text(FLOW, r.biggest)} goes out through the siphon.")
        said.append(f"What the siphon ends in is held at its working level; {self.text(FLOW, r.inflow)} comes in all the time.")
        return " ".join(said)

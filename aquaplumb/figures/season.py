"""The picture of a year: the fish that a build holds, and what they ask of beds and air, day by day."""

from __future__ import annotations

import numpy as np

from aquaplumb.build.seasons import BEGINS, MONTH_DAYS, MONTHS, YEAR
from aquaplumb.figures.style import Picture, round_up
from aquaplumb.units import MASS, NUMBER, SHARE

_MOST = 1.5  # of what can be done: the end of the lower ruler
_WORD = 0.13  # of what can be done: how high a word stands
_PAPER = {"facecolor": "white", "alpha": 0.8, "linewidth": 0, "pad": 1.0}


class SeasonPicture(Picture):
    """Above: the mass of all fish through the year. Below: what is asked of beds and air, against all that they can do.

    Its record is a `aquaplumb.whatif.season.Year`.
    """

    width, height = 640, 430

    def key(self, record):
        """The rulers: a build's own, whatever the sliders say."""
        return record.si.ruler

    def frame(self, record) -> None:
        """Axes with the months, and the line of all that can be done."""
        self.end = round_up(record.si.ruler)
        fish = self.plane(("", NUMBER, 0.0, float(YEAR)), ("fish", MASS, 0.0, self.end), box=(0.0, 0.5, 1.0, 0.5))
        asked = self.plane(("", NUMBER, 0.0, float(YEAR)), ("asked of it", SHARE, 0.0, _MOST), box=(0.0, 0.0, 1.0, 0.54))
        for plane in (fish, asked):
            plane.axes.set_xticks([begin + length / 2 for begin, length in zip(BEGINS, MONTH_DAYS)], [month[:3] for month in MONTHS])
            plane.axes.tick_params(axis="x", length=0)
            plane.axes.grid(False, axis="x")
        self.fish, self.over, self.lean = fish.curve("water"), fish.word("ink"), fish.word("plants")
        asked.curve("needed", dashed=True, still=True).put([0.0, float(YEAR)], [1.0, 1.0])
        asked.word("ink", still=True).put(4.0, 1.02, "all that can be done")
        self.beds, self.beds_word = asked.curve("plants"), asked.word("ink")
        self.air, self.air_word = asked.curve("air"), asked.word("ink")
        self.worst = asked.dot("good")
        for word in (self.beds_word, self.air_word, self.over, self.lean):
            word.artist.set_bbox(_PAPER)

    def move(self, record) -> None:
        """The curves and the worst day."""
        r, days = record.si, np.arange(YEAR) + 0.5
        self.fish.put(days, np.minimum(r.biomass, self.end))
        if r.biomass.max() > self.end:
            self.over.put(float(days[np.argmax(r.biomass)]), 0.9 * self.end, f"{self.text(MASS, float(r.biomass.max()))}, past this ruler")
        else:
            self.over.hide()
        if r.lean and r.biomass.max() <= self.end:
            month = MONTHS.index(r.lean)
            self.lean.put(BEGINS[month] + MONTH_DAYS[month] / 2, 0.88 * self.end, "plants take least")
            self.lean.artist.set_ha("left" if month < 2 else "right" if month > 9 else "center")
        else:
            self.lean.hide()
        self.beds.put(days, np.minimum(r.beds, _MOST))
        self.air.put(days, np.minimum(r.air, _MOST))
        self._name(r, days)
        self.worst.put(r.day + 0.5, min(r.most, _MOST), works=r.works)

    def _name(self, r, days) -> None:
        """Each curve's name beside it, on no line: the upper one's over it; the lower one's between them, or under it, where there is room."""
        living = (self.beds_word, r.beds, r.living.removeprefix("the "))
        upper, lower = sorted((living, (self.air_word, r.air, "air")), key=lambda one: one[1].max(), reverse=True)
        at = int(np.argmax(np.where(days < 0.8 * YEAR, upper[1], -1.0)))
        high, low = (float(min(values[at], _MOST)) for _, values, _ in (upper, lower))
        x, align = (float(days[at]), "right" if days[at] > 0.6 * YEAR else "left")
        beside = low + 0.05 if high - low > _WORD + 0.08 else low - _WORD - 0.02 if low > _WORD + 0.04 else None
        if beside is None:
            lower[0].hide()
        else:
            lower[0].put(x, beside, lower[2])
        upper[0].put(x, min(high + 0.03, _MOST - _WORD), upper[2] if beside is not None else f"{upper[2]}, {lower[2]}")
        for word in (self.beds_word, self.air_word):
            word.artist.set_ha(align)

    def title(self, record) -> str:
        """The finding, in a sentence."""
        r = record.si
        return f"{'Too much: ' if not r.works else ''}{r.month} asks the most, {SHARE.text(r.most)} of what {r.what} can do."

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        months = [
            f"{month} {self.text(MASS, float(r.biomass[begin : begin + length].max()))}"
            for month, begin, length in zip(MONTHS, BEGINS, MONTH_DAYS)
        ]
        return (
            f"{record.sentence(self.system)} The most fish of each month: {', '.join(months)}. "
            f"At most, {r.living} are asked for {SHARE.text(float(r.beds.max()))} and the air for {SHARE.text(float(r.air.max()))} of what they can do."
        )

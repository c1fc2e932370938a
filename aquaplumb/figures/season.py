"""The picture of a year: the fish that a build holds, and what they ask of beds and air, day by day."""

from __future__ import annotations

import numpy as np

from aquaplumb.build.seasons import BEGINS, MONTH_DAYS, MONTHS, YEAR
from aquaplumb.figures.style import Picture, plain, round_up
from aquaplumb.units import MASS, NUMBER, SHARE

_MOST = 1.5  # of what can be done: the end of the lower ruler
_WORD = 0.13  # of what can be done: how high a word stands
_LETTER = 4.6  # days: how wide a letter is
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
        asked = self.plane(("", NUMBER, 0.0, float(YEAR)), ("in use", SHARE, 0.0, _MOST), box=(0.0, 0.0, 1.0, 0.54))
        for plane in (fish, asked):
            plane.axes.set_xticks([begin + length / 2 for begin, length in zip(BEGINS, MONTH_DAYS)], [month[:3] for month in MONTHS])
            plane.axes.tick_params(axis="x", length=0, pad=12)
            for month in plane.axes.get_xticklabels():
                month.set_verticalalignment("baseline")
            plane.axes.grid(False, axis="x")
        self.fish, self.over, self.lean = fish.curve("water"), fish.word("ink"), fish.word("plants")
        asked.curve("needed", dashed=True, still=True).put([0.0, float(YEAR)], [1.0, 1.0])
        asked.word("ink", still=True).put(4.0, 1.02, "all that can be done")
        self.beds, self.beds_word = asked.curve("plants"), asked.word("plants")
        self.air, self.air_word = asked.curve("air"), asked.word("air")
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
        """Each curve's name on it or past its end, on no curve and not on the worst day, as near to that as can be; none where there is no room."""
        living = (self.beds_word, np.minimum(r.beds, _MOST), r.living.removeprefix("the "))
        air = (self.air_word, np.minimum(r.air, _MOST), "oxygen")
        taken: list[tuple[float, float, float, float]] = [(r.day - 12, r.day + 13, min(r.most, _MOST) - 0.09, min(r.most, _MOST) + 0.09)]
        for (word, own, name), other in ((air, living[1]), (living, air[1])):
            wide = _LETTER * len(name)
            places = [
                (abs(x + wide / 2 - r.day), x, y)
                for x in range(3, int(YEAR - wide), 3)
                for span in [slice(x, int(x + wide) + 1)]
                if own[max(0, x - 6)] > 0.0 or own[min(YEAR - 1, int(x + wide) + 6)] > 0.0
                for y in (float(own[span].max()) + 0.04, float(own[span].min()) - _WORD - 0.03)
                if 0.0 < y < _MOST - _WORD
                and (other[span].min() > y + _WORD or other[span].max() < y - 0.02)
                and not y - 0.02 < 1.0 < y + _WORD
                and not any(x < right and x + wide > left and y < top and y + _WORD > low for left, right, low, top in taken)
            ]
            if not places:
                word.hide()
                continue
            _, x, y = min(places)
            taken.append((x, x + wide, y, y + _WORD))
            word.put(float(x), y, name)

    def title(self, record) -> str:
        """The finding, in a sentence."""
        r = record.si
        return f"{'Too much: ' if not r.works else ''}{r.month} asks the most: {plain(r.asks)}."

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        months = [
            f"{month} {self.text(MASS, float(r.biomass[begin : begin + length].max()))}"
            for month, begin, length in zip(MONTHS, BEGINS, MONTH_DAYS)
        ]
        return (
            f"{record.sentence(self.system)} The most fish of each month: {', '.join(months)}. "
            f"At most, {r.living} do {SHARE.text(float(r.beds.max()))} of what they can, and fish use {SHARE.text(float(r.air.max()))} of the oxygen that can come in."
        )

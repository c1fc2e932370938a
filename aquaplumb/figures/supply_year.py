"""The picture of a battery through a year: the least charge of each day, and the darkest weeks hour by hour."""

from __future__ import annotations

import numpy as np

from aquaplumb.figures.style import COLOURS, Picture
from aquaplumb.power.solar import DAYS, MONTHS
from aquaplumb.units import INSOLATION, NUMBER, SHARE, in_percent

FORTNIGHT, BEFORE, SHOWN = 14, 7, 28  # days: of dark, of the lower plane before it, of the lower plane in all
TOP = 1.2  # of the charge, where the rulers end: words stand over 1
_FLAT = 0.035  # where marks of flat hours stand
_PAPER = {"facecolor": "white", "alpha": 0.8, "linewidth": 0, "pad": 1.0}


class YearPicture(Picture):
    """Above: each day's least charge, the dark fortnight shaded, days with flat hours marked. Below: its weeks, hour by hour.

    Its record is a `aquaplumb.whatif.supply_year.SunYear`.
    """

    width, height = 640, 450

    def frame(self, record) -> None:
        """Axes; months above, days below."""
        year = self.plane(("", NUMBER, 0.0, 365.0), ("least of the day", SHARE, 0.0, TOP), box=(0.0, 0.48, 1.0, 0.52))
        starts = np.cumsum(DAYS) - DAYS
        year.axes.set_xticks([*starts, 365], [""] * 13)
        for start, days, month in zip(starts, DAYS, MONTHS):
            year.axes.annotate(month[0], (start + days / 2, 0), xycoords=("data", "axes fraction"), xytext=(0, -7), textcoords="offset points",
                               ha="center", va="top", fontsize=9, color=COLOURS["ink"], annotation_clip=False)  # fmt: skip
        dark = self.plane(
            ("days from the beginning of the dark fortnight", NUMBER, -float(BEFORE), float(SHOWN - BEFORE)),
            ("charge", SHARE, 0.0, TOP),
            box=(0.0, 0.0, 1.0, 0.52),
        )
        dark.axes.set_xticks(np.arange(-BEFORE, SHOWN - BEFORE + 1, 7))
        for plane in (year, dark):
            plane.axes.set_yticks([0, 25, 50, 75, 100])
        self.shades = [year.band("pump"), year.band("pump")]
        self.area, self.low = year.band("water"), year.curve("water")
        self.flat, self.dark_flat = self._marks(year), self._marks(dark)
        dark.band("pump", still=True).put([0.0, float(FORTNIGHT)], [0.0, 0.0], [TOP, TOP])
        self.charge = dark.curve("water")
        self.low.artist.set_linewidth(1.2)
        self.charge.artist.set_linewidth(1.6)
        self.fortnight = year.word("ink")
        self.told, self.sun = year.word("wrong"), dark.word("ink", align="center")
        for word in (self.fortnight, self.told, self.sun):
            word.artist.set_bbox(_PAPER)

    @staticmethod
    def _marks(plane):
        marks = plane.curve("wrong")
        marks.artist.set(linestyle="none", marker="|", markersize=9, markeredgewidth=1.6, zorder=5)
        return marks

    def move(self, record) -> None:
        """The charge, the fortnight and the flat hours."""
        r = record.si
        days = np.arange(365) + 0.5
        start = r.dark_start - 1
        parts = ((start, min(start + FORTNIGHT, 365)), (0, start + FORTNIGHT - 365))  # it may run over New Year
        for shade, (left, right) in zip(self.shades, parts):
            if right > left:
                shade.put([left, right], [0.0, 0.0], [TOP, TOP])
            else:
                shade.hide()
        left = start > 180
        self.fortnight.artist.set_ha("right" if left else "left")
        self.fortnight.put(start - 3 if left else start + FORTNIGHT + 3, 1.05, "the dark fortnight")
        self.area.put(days, np.zeros(365), r.lows)
        self.low.put(days, r.lows)
        flat = days[r.flat > 0.02]
        self._put(self.flat, flat)
        if len(flat):
            self.told.artist.set_ha("center")
            self.told.put(182.5, 0.10, f"flat on {len(flat)} days (marked)")
        else:
            self.told.hide()
        hours = -BEFORE + np.arange(len(r.dark_charge)) / 24
        self.charge.put(hours, r.dark_charge)
        self._put(self.dark_flat, hours[r.dark_flat > 0.02])
        self.sun.put(0.5 * FORTNIGHT, 1.05, f"{self.text(INSOLATION, r.dark_insolation)} of sun on the panel")

    @staticmethod
    def _put(marks, x) -> None:
        if len(x):
            marks.put(x, np.full(len(x), _FLAT))
        else:
            marks.hide()

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        months = np.split(r.lows, np.cumsum(DAYS)[:-1])
        least = [float(part.min()) for part in months]
        flat = int((r.flat > 0.02).sum())
        return " ".join([
            record.sentence(self.system),
            f"The least charge of each day through a year of invented weather; by month from January: {', '.join(in_percent(low) for low in least)}.",
            f"The pump stands for part of {flat} days." if flat else "The pump never stands.",
            f"The dark fortnight begins on day {r.dark_start} of the year and brings {self.text(INSOLATION, r.dark_insolation)}; "
            f"below, its weeks hour by hour: the charge falls to {in_percent(float(r.dark_charge.min()))}.",
        ])  # fmt: skip

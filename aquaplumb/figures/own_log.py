"""The picture of a grower's log: each reading through its dates, against the band in which it is good."""

from __future__ import annotations

import numpy as np
from matplotlib.lines import Line2D

from aquaplumb.build import Build
from aquaplumb.figures.style import COLOURS, Picture
from aquaplumb.review.readings import bands, judge, spells
from aquaplumb.review.readings.log import Log
from aquaplumb.units import DAY, DAYS

SHOWN = ("ammonia", "nitrite", "pH", "alkalinity", "oxygen", "temperature")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class LogPicture(Picture):
    """Up to six readings of a log, each on its own ruler; the green band is good, a red-orange cross lies outside.

    Parameters
    ----------
    log : Log
    build : Build
        Whose species the bands are for; a demo's log is shown with the demo's.
    """

    width = 700

    def __init__(self, log: Log, build: Build):
        super().__init__(log, system=build.units)
        self.build = judge(log, build)
        self.bands = bands(self.build)
        self.names = [name for name in SHOWN if name in log.si and np.isfinite(log.si[name]).any()]
        self.rows = max(1, -(-len(self.names) // 2))
        self.height = 90 + 140 * self.rows

    def frame(self, record) -> None:
        """All of it: a log does not move."""
        roof = self.height - (38 if self.titled else 0)
        tall = (roof - 40) / self.rows  # between two rulers' feet
        long = max(float(record.days[-1]), 1.0) * DAY
        for place, name in enumerate(self.names):
            row, column = divmod(place, 2)
            last = row == self.rows - 1 or place + 2 >= len(self.names)
            foot = (self.rows - 1 - row) * tall
            self._reading(record, name, long, (0.5 * column + 0.02, foot / roof, 0.48, (tall + 58 - 22) / roof), last)

    def _reading(self, log, name: str, long: float, box: tuple, last: bool) -> None:
        values, band = log.si[name], self.bands[name]
        there = np.isfinite(values)
        low, high = self._ends(values[there], band)
        plane = self.plane(("", DAYS, -0.02 * long, 1.02 * long), ("", band.kind, low, high), box=box)
        good = np.clip([band.low, band.high], low, high)
        plane.band("good", still=True).put(np.array([-0.02, 1.02]) * long, np.full(2, good[0]), np.full(2, good[1]))
        days = log.days * DAY
        plane.curve("faint", still=True).put(days[there], values[there])
        for wrong in (False, True):
            here = there & ((band.outside(values) != 0) == wrong)
            dots = Line2D(plane.x(days[here]), plane.y(values[here]), linestyle="none", marker="X" if wrong else "o", markersize=6 if wrong else 4,
                          color=COLOURS["wrong" if wrong else "water"], zorder=5)  # fmt: skip
            plane.add(dots, still=True)
        ticks = np.unique(np.round(np.linspace(0.0, long / DAY, 4)))
        plane.axes.set_xticks(plane.x(ticks * DAY), [self._date(log.dates[0], tick) if last else "" for tick in ticks])
        plane.axes.set(xlabel="", ylabel=log.column(name).heading(self.system).replace(" [", "\n["))
        plane.axes.yaxis.labelpad = 2
        plane.axes.locator_params(axis="y", nbins=4)

    @staticmethod
    def _ends(values, band) -> tuple[float, float]:
        """Where a ruler begins and ends: round all values and the nearest edge of the band."""
        edges = [edge for edge in (band.low, band.high) if np.isfinite(edge)]
        near = [
            edge
            for edge in edges
            if values.min() - 2 * np.ptp(values) - 0.2 * abs(edge) <= edge <= values.max() + 2 * np.ptp(values) + 0.2 * abs(edge)
        ]
        all_of_them = [*values, *(near or edges[:1])]
        low, high = min(all_of_them), max(all_of_them)
        room = 0.12 * (high - low) or 0.1 * abs(high) or 1e-4
        zero = band.name not in ("temperature", "pH")
        return max(0.0, low - room) if zero else low - room, high + room

    @staticmethod
    def _date(first, day: float) -> str:
        """A day after the first, as "2 Mar"."""
        _year, month, number = str((first + np.timedelta64(int(day * 1440), "m")).astype("datetime64[D]")).split("-")
        return f"{int(number)} {_MONTHS[int(month) - 1]}"

    def move(self, record) -> None:
        """Nothing moves."""

    # --- words

    def title(self, record) -> str:
        """What left its band."""
        left = dict.fromkeys(spell.name for spell in self._spells(record))
        return f"Out of its band for a time: {', '.join(left)}." if left else "All readings stayed in their bands."

    def alt(self, record) -> str:
        """What the picture says, in words."""
        said = [
            self.title(record),
            f"{record.name}: {len(self.names)} readings through their dates, each against the band that is good for {' and '.join(dict.fromkeys(stock.si.species for stock in self.build.stocks.values()))}.",
        ]
        said += [f"{spell.text(self.system)}." for spell in self._spells(record)]
        return " ".join(said)

    def _spells(self, record) -> list:
        return [spell for spell in spells(record, self.build) if spell.name in self.names]

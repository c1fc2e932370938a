"""The picture of a tank's oxygen through a night in which something fails."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.patches import Rectangle

from aquaplumb.figures.style import COLOURS, FONT, Picture
from aquaplumb.system.air_plan import AIR, FAILS, FED, PUMP
from aquaplumb.units import CONCENTRATION, HOUR, NUMBER, clock, roughly

BEGIN, END = 20 * 3600.0, 32 * 3600.0  # s on the clock: from evening to morning
_PAPER = {"facecolor": "white", "alpha": 0.8, "linewidth": 0, "pad": 1.0}
_ALONE = {PUMP: "on the stones alone", AIR: "on the water flow alone"}


class NightPicture(Picture):
    """Oxygen against the clock: the level (blue, with its band), the danger below, and the minutes that are left.

    Its record is a `aquaplumb.whatif.night_air.Night`.
    """

    width, height = 640, 420

    def key(self, record):
        """Where the rulers end, and the fish's own levels: no slider moves them."""
        return self._ends(record), record.si.critical, record.si.minimum

    @staticmethod
    def _ends(record) -> tuple[float, float]:
        """The last hour on the clock, and the most oxygen [kg/m³]."""
        r = record.si
        return math.ceil(max(END, r.until) / HOUR), 2e-3 * math.ceil(1.06 * r.most / 2e-3)

    def frame(self, record) -> None:
        """Axes, the danger zone and the fish's everyday least."""
        r = record.si
        self.end, self.top = self._ends(record)
        plane = self.plane(("time of night", NUMBER, BEGIN / HOUR, self.end), ("oxygen in the tank", CONCENTRATION, 0.0, self.top))
        step = 2 if self.end <= 34 else 4 if self.end <= 48 else 6
        ticks = np.arange(BEGIN / HOUR, self.end + 1e-6, step)
        plane.axes.set_xticks(ticks, [clock(tick * HOUR) for tick in ticks])
        plane.axes.set_xlabel("time of night")
        self.pixel = self.top / (self.height - 46 - 12 - 38)  # kg/m³ high
        wide = self.end - BEGIN / HOUR
        zone = Rectangle((BEGIN / HOUR, 0), wide, plane.y(r.critical), facecolor=COLOURS["wrong"], alpha=0.13, linewidth=0, zorder=0.5)
        plane.add(zone, still=True)
        plane.word("wrong", still=True, align="right").put(
            self.end - 0.012 * wide, r.critical - 16 * self.pixel, f"danger below {self.text(CONCENTRATION, r.critical)}"
        )
        self.least = plane.curve("faint", dashed=True, still=True)
        self.least.put(np.array([BEGIN / HOUR, self.end]), np.array([r.minimum, r.minimum]))
        word = plane.word("ink", still=True)
        word.artist.set_bbox(_PAPER)
        word.put(BEGIN / HOUR + 0.012 * wide, r.minimum + 2 * self.pixel, f"every day at least {self.text(CONCENTRATION, r.minimum)}")
        self.full, self.full_name = plane.curve("faint"), plane.word("ink")
        self.bare, self.band, self.level = plane.curve("faint"), plane.band("water"), plane.curve("water")
        self.meal = plane.word("ink")
        self.fails, self.comes = plane.mark("needed"), plane.mark("needed")
        self.fails_name, self.comes_name = plane.word("ink", align="right"), plane.word("ink")
        self.point = plane.dot("good")
        self.numbers = [plane.word("ink") for _ in range(2)]
        self.captions = [plane.word("ink") for _ in range(2)]
        for number in self.numbers:
            number.artist.set(fontsize=FONT + 9, fontweight="bold")
        for word in (self.meal, self.full_name, self.fails_name, self.comes_name):
            word.artist.set_bbox(_PAPER)
        self.wide = wide

    def move(self, record) -> None:
        """The level with its band, the failure, who comes, and the minutes told large."""
        r = record.si
        first, gap = BEGIN / HOUR, 0.012 * self.wide
        self.full.put(np.array([first, self.end]), np.array([r.saturation, r.saturation]))
        self.full_name.put(first + gap, r.saturation + 3 * self.pixel, f"full: {self.text(CONCENTRATION, r.saturation)}")
        shown = r.times <= (math.inf if r.in_time or r.response is None else r.until)
        hours = r.times[shown] / HOUR
        self.band.put(hours, r.low[shown], r.high[shown])
        self.level.put(hours, r.typical[shown])
        fed = float(np.interp(FED, r.times, r.typical))
        self.meal.hide()
        if fed > r.minimum + 20 * self.pixel:  # else it would stand on other words
            self.meal.put(FED / HOUR + gap, fed + 4 * self.pixel, "last meal")
        self.bare.hide()
        if r.spare:
            dark = (r.times >= FAILS) & (r.times <= r.until) & (r.bare > 0)
            self.bare.put(r.times[dark] / HOUR, r.bare[dark])
        self._marks(r, gap)
        if r.in_time:
            self.point.put(r.until / HOUR, float(np.interp(r.until, r.times, r.typical)))
        elif FAILS + r.lasts > r.times[-1]:  # nobody has said when help comes, and the danger comes after the picture's end
            self.point.hide()
        else:
            self.point.put((FAILS + r.lasts) / HOUR, min(r.critical, r.start), works=False)
        told = [(r.left, _ALONE.get(r.fails, "from failure to danger"))]
        if r.spare:
            told = [(r.left, "without the spare"), (r.lasts, "with the spare")]
        for place, (number, caption) in enumerate(zip(self.numbers, self.captions)):
            if place >= len(told):
                number.hide()
                caption.hide()
                continue
            at = first + gap + 0.27 * place * self.wide
            number.put(at, 15 * self.pixel, roughly(told[place][0]) if math.isfinite(told[place][0]) else "it holds")
            caption.put(at, 3 * self.pixel, told[place][1])

    def _marks(self, r, gap: float) -> None:
        high = self.top - 18 * self.pixel
        self.fails.put(FAILS / HOUR)
        self.fails_name.put(FAILS / HOUR - gap, high, f"{r.fails}, {clock(FAILS)}")
        if r.response is None:
            self.comes.hide()
            self.comes_name.hide()
            return
        self.comes.put(r.until / HOUR)
        turn = r.until / HOUR > self.end - 0.28 * self.wide
        low = high - 18 * self.pixel if turn else high
        self.comes_name.artist.set_ha("right" if turn else "left")
        self.comes_name.put(r.until / HOUR + (-gap if turn else gap), low, f"somebody comes, {clock(r.until)}")

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si

        def say(value):
            return self.text(CONCENTRATION, value)

        settles = f"While the spare runs it settles at {say(r.settles)}." if r.spare else f"It then settles at {say(r.settles)}."
        comes = "Nobody has said when somebody comes." if r.response is None else f"Somebody comes at {clock(r.until)}."
        return (
            f"{record.sentence(self.system)} The picture has oxygen against the clock, from {clock(BEGIN)} on. Full water would hold {say(r.saturation)}. Before the failure "
            f"the level stands at {say(r.start)}, after the last meal at {clock(FED)}. At {clock(FAILS)} {r.fails}; the level falls. Danger begins below "
            f"{say(r.critical)}; every day the fish want {say(r.minimum)}. {settles} {comes} The band is from what stones bring at least to what they "
            f"bring at most in print."
        )

"""The picture of a start-up: ammonia, nitrite and nitrate through twelve weeks, each with its band."""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.figures.style import Picture
from aquaplumb.units import CONCENTRATION, DAY, DAYS

WEEKS = 12
_MOST = {"ammonia": 12e-3, "nitrite": 12e-3, "nitrate": 150e-3}  # kg/m³ as N: where the rulers end
_ROWS = {"ammonia": 0.604, "nitrite": 0.302, "nitrate": 0.0}
_TALL = 0.396


class StartUpPicture(Picture):
    """Three strips through the weeks; pale bands from fast to slow bacteria, lines for the usual ones.

    Its record is a `aquaplumb.whatif.start_up.StartUpWeeks`.
    """

    width, height = 640, 480

    def key(self, record):
        """The fish, whose limits the frame holds."""
        return record.si.tan_limit, record.si.nitrite_limit

    def frame(self, record) -> None:
        """Rulers and limits."""
        self.long = WEEKS * 7 * DAY
        self.strips, self.bands, self.lines, self.overs, self.wrongs, self.windows = {}, {}, {}, {}, {}, {}
        self.limits = {"ammonia": record.si.tan_limit, "nitrite": record.si.nitrite_limit, "nitrate": math.inf}
        weeks = np.arange(WEEKS + 1)
        for name, bottom in _ROWS.items():
            strip = self.plane(("", DAYS, 0.0, self.long), ("", CONCENTRATION, 0.0, _MOST[name]), box=(0.0, bottom, 0.9, _TALL))
            strip.axes.set_xticks(strip.x(weeks * 7 * DAY), [str(week) for week in weeks])
            strip.axes.locator_params(axis="y", nbins=4)
            strip.axes.set(xlabel="weeks" if name == "nitrate" else "", ylabel="as N [mg/L]")
            strip.axes.tick_params(axis="x", labelbottom=name == "nitrate")
            self._beside(strip, name, 0.93 * _MOST[name])
            if self.limits[name] < _MOST[name]:
                strip.curve("needed", dashed=True, still=True).put([0.0, self.long], [self.limits[name]] * 2)
                self._beside(strip, "limit", self.limits[name])
            self.strips[name], self.windows[name] = strip, strip.band("good")
            self.windows[name].artist.set(alpha=0.10, zorder=1.5)
            self.bands[name], self.lines[name] = strip.band("water"), strip.curve("water")
            self.wrongs[name], self.overs[name] = strip.dot("good"), strip.word()
            self.overs[name].artist.set_bbox({"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 1.0})
        self.usual = [strip.curve("needed", dashed=True) for strip in self.strips.values()]
        self.ready = self.strips["nitrate"].word()

    def _beside(self, strip, text: str, height: float) -> None:
        """A word to the right of a strip."""
        word = strip.word(still=True)
        word.artist.set(clip_on=False, va="center")
        word.put(1.012 * self.long, height, text)

    def move(self, record) -> None:
        """What the sliders move."""
        r, peaks = record.si, {"ammonia": record.si.tan_peak, "nitrite": record.si.nitrite_peak}
        for name, values in (("ammonia", r.tan), ("nitrite", r.nitrite), ("nitrate", r.nitrate)):
            most, usual = _MOST[name], values[1]
            shown = np.minimum(values, 1.1 * most)
            self.bands[name].put(r.time, shown.min(axis=0), shown.max(axis=0))
            self.lines[name].put(r.time, usual)
            at = int(usual.argmax())
            self.wrongs[name].hide()
            self.overs[name].hide()
            if name == "nitrate":
                continue
            if record.with_fish and usual[at] > self.limits[name]:
                self.wrongs[name].put(r.time[at], min(usual[at], 0.9 * most), works=False)
            if usual[at] > most:
                late = r.time[at] > 0.6 * self.long
                self.overs[name].artist.set_ha("right" if late else "left")
                self.overs[name].put(
                    r.time[at] + (-0.02 if late else 0.02) * self.long,
                    0.84 * most,
                    f"to {self.text(CONCENTRATION, peaks[name][1])}, over this ruler",
                )
        self._when(*(r.ready[pace] for pace in (2, 1, 0)))

    def _when(self, fast: float, usual: float, slow: float) -> None:
        """Where the water may be ready: green from fast to slow bacteria, a dashed line where it usually is."""
        ends = [fast, slow if math.isfinite(slow) else self.long] if math.isfinite(fast) else [0.0, 0.0]
        for name, window in self.windows.items():
            window.put(np.array(ends), np.zeros(2), np.full(2, _MOST[name]))
        if not math.isfinite(usual):
            for thing in (*self.usual, self.ready):
                thing.hide()
            return
        for line, most in zip(self.usual, _MOST.values()):
            line.put([usual, usual], [0.0, most])
        early = usual < 0.4 * self.long
        self.ready.artist.set_ha("left" if early else "right")
        self.ready.put(usual + (0.01 if early else -0.01) * self.long, 0.84 * _MOST["nitrate"], "ready, as it usually goes")

    # --- words

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        said = [
            record.sentence(self.system),
            "Three strips through twelve weeks: ammonia rises and falls first, then nitrite; nitrate is what stays. Each is what a test shows in the morning; pale bands span fast to slow bacteria.",
        ]
        for name, values in (("Ammonia", r.tan), ("Nitrite", r.nitrite)):
            tops = values.max(axis=-1)
            days = r.time[values.argmax(axis=-1)] / DAY
            said.append(
                f"{name} is highest after {min(days):.0f} to {max(days):.0f} days, at {self.text(CONCENTRATION, min(tops))} to {self.text(CONCENTRATION, max(tops))}."
            )
        said.append(f"Nitrate ends at {self.text(CONCENTRATION, float(r.nitrate[1][-1]))}.")
        limits = [
            f"{word} {self.text(CONCENTRATION, limit)}"
            for word, limit in (("ammonia", r.tan_limit), ("nitrite", r.nitrite_limit))
            if math.isfinite(limit)
        ]
        if limits:
            said.append(
                f"Dashed: what {r.species} bears, {' and '.join(limits)}"
                + ("." if record.with_fish else ", which matters once fish are in.")
            )
        return " ".join(said)

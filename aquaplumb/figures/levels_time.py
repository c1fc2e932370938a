"""The picture of water through time: how full each vessel is over the hours, and the build from the side at one moment."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.lines import Line2D

from aquaplumb.build.vessels import GROWING
from aquaplumb.figures.elevation import Elevation
from aquaplumb.figures.style import COLOURS, FONT, SMALLEST, WRITTEN
from aquaplumb.system.outcome import DRY, SPILL
from aquaplumb.units import DEPTH, HOURS, LENGTH, SHARE, VOLUME, lasting

MOST = 9  # vessels drawn over the hours
_LOOKS = {
    "fish tank": ("pump", 2.2),
    "settling tank": ("faint", 1.6),
    "filter": ("faint", 1.6),
    "buffer tank": ("warm", 1.6),
    **dict.fromkeys(GROWING, ("plants", 1.4)),
    "sump": ("water", 2.4),
}
_CEILING = 1.27  # of a vessel's height, where the upper ruler ends: room over the rim for words
_FILM = 5e-4  # m: what is left on a floor
_STILL = 2e-6  # m³/s: 7 L/h over a rim, and less, is a trickle that ends
_APART = 13.0  # pixels from one name at the right to the next
_WET = 0.02  # in parts of a vessel's height: beds that stay as close as this are one line to the eye
_RUNS: dict[str, Any] = {"color": COLOURS["water"], "linewidth": 2.6, "zorder": 3.5, "solid_capstyle": "round", "solid_joinstyle": "round"}
_PAPER = {"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.8}


class LevelsPicture(Elevation):
    """Above, how full each vessel is over the hours, as a part of its height; below, the build at the moment of the dashed line.

    Its record is a `aquaplumb.whatif.levels_time.Levels`.
    """

    width, height = 700, 590
    _LOWER = 345.0  # pixels for the drawing from the side

    def __init__(self, record=None, *, system: str = "metric"):
        super().__init__(record, system=system)

    def drawn(self, record):
        """The build in the record."""
        return record.si.build

    def key(self, record):
        """The frame has the whole run; only the moment moves."""
        return super().key(record), record.si.settings

    def place(self) -> tuple[float, float, float, float]:
        """The drawing from the side stands under the hours."""
        return 62 / self.width, 6 / self.height, 1 - 74 / self.width, (self._LOWER - 22) / self.height

    # --- what does not move

    def frame(self, record) -> None:
        """The lines over the hours, and the build with its water, pumps and pipes, ready to be moved."""
        super().frame(record)
        r = record.si
        self.axes.set_ylabel(self.axes.get_ylabel(), labelpad=3)
        self._side(r)
        self._hours(r)

    def _legend(self) -> None:
        """The lower drawing names its few signs in words where they stand."""

    def _words(self, v) -> list[str]:
        """A vessel's name, and a line left free for its depth at the moment."""
        return [*super()._words(v)[:-1], *([] if self.crowded else ["\u00a0"])]

    def _side(self, r) -> None:
        """Pale pipes, and over them what may run; water and words of each vessel move."""
        self.running, self.over, self.told, self.deep = {}, {}, {}, {}
        for name, pipes in self.ways.items():
            self.running[name] = [self._put(Line2D(*pipe.get_data(), **_RUNS)) for pipe in pipes]
            for pipe in pipes:
                pipe.set(color=COLOURS["faint"], alpha=0.55, linewidth=1.2)
        for mouth in self.mouths:
            mouth.set_color(COLOURS["faint"])
        for water in self.water_of.values():
            self.moving(water)
        pen = self._canvas.get_renderer()
        for name, words in self.names.items():  # its name stands; only the depth under it moves
            box = words.get_window_extent(pen)
            x, y = self.figure.transFigure.inverted().transform(((box.x0 + box.x1) / 2, box.y0))
            self.deep[name] = self.moving(
                self.figure.text(
                    x,
                    y,
                    "",
                    ha="center",
                    va="top" if self.crowded else "bottom",
                    rotation=90 * self.crowded,
                    fontsize=FONT - 0.8,
                    color=COLOURS["ink"],
                    zorder=9,
                    parse_math=False,
                )
            )
        for disc, letter in self.pumps.values():
            self.moving(disc), self.moving(letter)
        for name, vessel in self.build.vessels.items():
            place = self.places[name]
            rim, edge = self._y(vessel.rim), 0.07
            drops = Line2D(
                [place.left - edge, place.right + edge] * 3, [y for k in range(3) for y in [self._y(vessel.rim - 9 * k / self.metre)] * 2]
            )
            drops.set(linestyle="none", marker="v", markersize=5, color=COLOURS["wrong"], zorder=11)
            self.over[name] = self._put(drops)
            spilt = self.axes.text(
                place.middle,
                rim,
                "",
                ha="center",
                va="bottom",
                fontsize=FONT - 0.5,
                color=WRITTEN["wrong"],
                weight="bold",
                zorder=12,
                bbox=_PAPER,
            )
            self.told[name] = self.moving(spilt)
        for vessel, depth, word in r.switches:
            self._switch(vessel, depth, word)
        left, bottom, _, high = self.place()
        at: dict[str, Any] = {"x": left, "y": bottom + high + 3 / self.height, "va": "bottom", "ha": "left"}
        self.now = self.moving(self.figure.text(s="", size=FONT, color=COLOURS["ink"], parse_math=False, zorder=13, **at))

    def _put(self, artist):
        self.axes.add_artist(artist)
        return self.moving(artist)

    def _switch(self, vessel: str, depth: float, word: str) -> None:
        """The depth at which a float or a low-level switch acts, as a short line in its vessel."""
        place, floor = self.places[vessel], self.build.vessels[vessel].si.floor
        y, wide = self._y(floor + depth), 0.2 * (place.right - place.left)
        self._line([place.left, place.left + wide], [y, y], color=COLOURS["ink"], linewidth=1.2, zorder=8)
        self.axes.annotate(
            word,
            (place.left, y),
            xytext=(-3, 0),
            textcoords="offset points",
            ha="right",
            va="center",
            fontsize=SMALLEST,
            color=COLOURS["ink"],
            zorder=8,
        )

    def _hours(self, r) -> None:
        """How full the vessels are over the hours."""
        run, end = r.run, float(r.run.time[-1])
        roof = self.height - (38 if self.titled else 0)
        low = self._LOWER / roof
        plane = self.plane(
            ("time", HOURS, 0.0, end), ("how full, part of its height", SHARE, 0.0, _CEILING), box=(0.005, low, 0.845, 1 - low)
        )
        self.hours = axes = plane.axes
        axes.set_yticks([0, 25, 50, 75, 100])
        axes.xaxis.labelpad = 1
        axes.set_ylabel("how full [% of height]")
        axes.grid(False, axis="x")
        for begin, until, words in r.bands:
            axes.axvspan(float(plane.x(begin)), float(plane.x(min(until, end))), color=COLOURS["grid"], alpha=0.75, linewidth=0, zorder=0)
            self._say(plane, begin, 1.16, words)
        axes.axhline(100, color=COLOURS["ink"], linewidth=1, linestyle=(0, (5, 3)), zorder=2)
        names = []
        for label, place in self.shown(r):
            vessel = self.build.vessels[run.vessels[place]].si
            role, width = _LOOKS[vessel.kind]
            curve = plane.curve(role, still=True)
            curve.artist.set(linewidth=width, alpha=0.9)
            full = run.depth[:, place] / vessel.height
            curve.put(run.time, full)
            names.append((float(full[run.time > 0.9 * end].mean()), label, WRITTEN["ink" if role == "faint" else role]))
        self._names_at_right(plane, names)
        self._alarms(plane, r)
        self.cursor = plane.curve("needed", dashed=True)
        self.cursor.artist.set_linewidth(1.3)
        self.dots = plane.add(
            Line2D([], [], linestyle="none", marker="o", markersize=5, markerfacecolor="white", markeredgecolor=COLOURS["ink"], zorder=6)
        )
        self.plane_of_hours = plane

    def _say(self, plane, time: float, high: float, words: str, role: str = "ink") -> None:
        """Words from a time on, kept inside the ruler."""
        room = self.hours.get_xlim()[1]
        x = min(float(plane.x(time)) + 0.006 * room, room)
        wide = 5.6 * len(words) / (0.845 * self.width - 80) * room
        self.hours.text(
            max(0.0, min(x, room - wide)),
            100 * high,
            words,
            fontsize=FONT,
            color=WRITTEN[role],
            ha="left",
            va="bottom",
            zorder=6,
            parse_math=False,
            bbox={**_PAPER, "alpha": 0.6},
        )

    def shown(self, r) -> list[tuple[str, int]]:
        """(name, column) of each line over the hours: at most nine vessels, and beds that keep together as one."""
        run, vessels = r.run, self.build.vessels
        order = sorted(range(len(run.vessels)), key=lambda i: (vessels[run.vessels[i]].grows, i))
        lines: list[tuple[list[str], int]] = []
        for i in order:
            v = vessels[run.vessels[i]].si
            if v.kind in GROWING:
                for names, other in lines:
                    w = vessels[run.vessels[other]].si
                    if w.kind in GROWING and np.abs(run.depth[:, i] / v.height - run.depth[:, other] / w.height).max() < _WET:
                        names.append(v.name)
                        break
                else:
                    lines.append(([v.name], i))
            else:
                lines.append(([v.name], i))
        return [(together(names), i) for names, i in lines[:MOST]]

    def _names_at_right(self, plane, names: list) -> None:
        """Each line's name at its end, apart from each other."""
        high = self.hours.get_position().height * self.height
        names = sorted(names)
        places = [full / _CEILING * high for full, *_ in names]
        for k in range(1, len(places)):
            places[k] = max(places[k], places[k - 1] + _APART)
        top = high - 6
        for k in range(len(places) - 1, -1, -1):
            top = places[k] = min(places[k], top)
            top -= _APART
        for y, (_, label, colour) in zip(places, names):
            self.hours.annotate(label, (1.0, y / high), xycoords="axes fraction", xytext=(5, 0), textcoords="offset points", va="center",
                                fontsize=FONT - 0.3, color=colour, annotation_clip=False, parse_math=False)  # fmt: skip

    def _alarms(self, plane, r) -> None:
        """In red-orange: what goes over a rim, and when a pump draws air."""
        run, spills = r.run, []
        for i, name in enumerate(run.vessels):
            rate = over_rim(run)[:, i] > 0
            if run.spilled[-1, i] > SPILL:
                spills.append((float(run.time[np.flatnonzero(rate)[0]]), f"{name} spills {self.text(VOLUME, run.spilled[-1, i])}"))
                self._bar(plane, run.time, rate, 1.0)
        if spills:
            first = min(time for time, _ in spills)
            self._say(plane, first, 1.035, ", ".join(words for _, words in spills), "wrong")
        dry = [name for name in run.pumps if run.longest_dry(name)[0] > DRY]
        for name in dry:
            self._bar(plane, run.time, run.dry[:, run.pumps.index(name)], 0.012)
        if dry:
            first = min(run.longest_dry(name)[1] for name in dry)
            self._say(plane, first, 0.05, f"{', '.join(dry)}: pump draws air", "wrong")

    def _bar(self, plane, time, when, high: float) -> None:
        bar = plane.curve("wrong", still=True)
        bar.put(time, np.where(when, high, np.nan))
        bar.artist.set(linewidth=4.5, marker="|", markersize=5, zorder=5)

    # --- what moves

    def move(self, record) -> None:
        """Everything at the moment."""
        r = record.si
        run, state, depths = r.run, r.state, r.depths
        x = float(r.moment)
        self.cursor.put([x, x], [0.0, 1.13])
        marks = [depths[run.vessels[i]] / self.build.vessels[run.vessels[i]].si.height for _, i in self.shown_now(r)]
        self.dots.set_data(np.full(len(marks), float(self.plane_of_hours.x(x))), np.array([float(self.plane_of_hours.y(m)) for m in marks]))
        self.now.set_text(f"at {lasting(r.moment)}{': ' + r.now if r.now else ''}")
        for name, vessel in self.build.vessels.items():
            v, depth, spilt = vessel.si, depths[name], state.spilled[name]
            if depth > 0:
                self.water_of[name].set_xy(self._corners(v, self.places[name], depth))
            self.water_of[name].set_visible(depth > 0)
            self.deep[name].set_text(self.text(LENGTH, depth) if depth > _FILM else "empty")
            self.over[name].set_visible(name in r.spilling)
            self.told[name].set(text=f"spilt {self.text(VOLUME, spilt)}", visible=spilt > SPILL)
        for name, pipes in self.running.items():
            for pipe in pipes:
                pipe.set_visible(name in r.running)
        for name, (disc, letter) in self.pumps.items():
            role = "wrong" if state.dry[name] and state.on[name] else "water" if state.on[name] else "faint"
            disc.set(
                color=COLOURS[role] if state.on[name] else "white", markeredgecolor=COLOURS[role], marker="X" if role == "wrong" else "o"
            )
            letter.set(
                color="white" if state.on[name] else COLOURS["ink"], text="" if role == "wrong" else "P" if state.on[name] else "off"
            )

    def shown_now(self, r) -> list:
        """The lines of the frame; worked out once for each run."""
        if getattr(self, "_lines_of", None) is not r.run:
            self._lines_of, self._lines = r.run, self.shown(r)
        return self._lines

    # --- words

    def title(self, record) -> str:
        """The outcome, in a few sentences."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        run, state, depths = r.run, r.state, r.depths
        parts = [
            record.sentence(self.system),
            f"Above, over {lasting(run.time[-1])}, how full each vessel is; the dashed line at 100 % is the rim.",
        ]
        for name in run.vessels:
            v, height = r.stories[name], r.build.vessels[name].si.height
            said = f"{name}: {self.text(LENGTH, v.lowest)} to {self.text(LENGTH, v.highest)} deep, of {self.text(LENGTH, height)}"
            said += f"; spills {self.text(VOLUME, v.spilled)} from {lasting(v.first_spill)} on" if v.spilled > SPILL else ""
            parts.append(said + ".")
        now = "; ".join(f"{name}: {self.text(LENGTH, depths[name])}" for name in run.vessels)
        pumps = "; ".join(
            f"{name} {'draws air' if state.dry[name] and state.on[name] else 'runs' if state.on[name] else 'stands still'}"
            for name in run.pumps
        )
        flowing = [name for name in r.running if name not in run.pumps]
        over = f" Water goes over the rim of {' and '.join(r.spilling)}." if r.spilling else ""
        parts.append(
            f"Below, the build from the side at {lasting(r.moment)}{' (' + r.now + ')' if r.now else ''}. Depths: {now}. Pumps: {pumps}.{over}"
        )
        parts.append(f"Water runs in: {'; '.join(flowing)}." if flowing else "No water runs.")
        if r.switches:
            parts.append(
                "Switches: " + "; ".join(f"{vessel} {word} at {self.text(DEPTH, depth)}" for vessel, depth, word in r.switches) + "."
            )
        return " ".join(parts)


def over_rim(run) -> np.ndarray:
    """What goes over each rim in the step that begins at each moment [m³/s]; a last trickle counts for nothing."""
    rate = np.diff(run.spilled, axis=0, append=run.spilled[-1:]) / np.diff(run.time, append=run.time[-1] + 1.0)[:, None]
    return np.where(rate > _STILL, rate, 0.0)


def together(names: list[str]) -> str:
    """Several beds in one label: "bed 1 to 4", "herbs, mint"."""
    if len(names) == 1:
        return names[0]
    stems = {name.rpartition(" ")[0] for name in names}
    if len(stems) == 1 and "" not in stems:
        numbers = [name.rpartition(" ")[2] for name in names]
        return f"{stems.pop()} {numbers[0]} {'and' if len(names) == 2 else 'to'} {numbers[-1]}"
    return names[0] if len(", ".join(names)) > 16 else ", ".join(names)

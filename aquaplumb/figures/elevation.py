"""The elevation drawing of a build: every vessel and line seen from the side, heights to scale.

Heights are true to the ruler at the left. Widths are not to scale: they leave room for the names.
"""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass
from typing import Any

from matplotlib.lines import Line2D
from matplotlib.patches import Polygon, Rectangle
from matplotlib.ticker import MaxNLocator

from aquaplumb.build import Build
from aquaplumb.build.vessels import KINDS, water_volume
from aquaplumb.figures.style import COLOURS, FONT, SMALLEST, Picture, calm
from aquaplumb.figures.vessel_signs import outline, strokes
from aquaplumb.units import HEAD, LENGTH, VOLUME

_PUMPED: dict[str, Any] = {"color": COLOURS["water"], "linewidth": 2.2}
_FALLS: dict[str, Any] = {"color": COLOURS["air"], "linewidth": 1.8}
_EMERGENCY: dict[str, Any] = {"color": COLOURS["faint"], "linewidth": 1.3, "linestyle": (0, (4, 2))}
_GAP = 0.4  # between vessels, in the drawing's own measure
_DRY = 0.2  # from a vessel to a pump that stands dry beside it, the same
_LANES = (9.0, 7.5, 6.0, 5.0)  # pixels from one falling pipe to the next, where there is room
_LINE = 15.0  # pixels for a line of a name
_CROWD = 10  # vessels whose names have room beside each other
_LETTERS, _LONGEST = 6.2, 20  # pixels for a letter of a name that stands upright; letters of it that are shown


@dataclass(frozen=True, slots=True)
class Across:
    """Where a vessel stands across, in the drawing's own measure."""

    left: float
    right: float

    @property
    def middle(self) -> float:
        return (self.left + self.right) / 2


class Elevation(Picture):
    """A build from the side. Its record is the `Build` itself.

    Parameters
    ----------
    record : Build
    system : str
        "metric" or "US"; the build's own by default.
    """

    width, height = 700, 360

    def __init__(self, record: Build, *, system: str | None = None):
        super().__init__(record, system=system or record.units)

    def drawn(self, record) -> Build:
        """The build in the record; a picture whose record is more than a build fills this in."""
        return record

    def key(self, record):
        """The frame is the whole drawing: it changes with what is drawn, not with fish or flows."""
        record = self.drawn(record)
        vessels = [v.si for v in record.vessels.values()]
        pumped = [(line.si.source, [(p.si.to, p.si.outlet) for p in line.si.pipe if p.si.to]) for line in record.pumped.values()]
        falls = [(f.source, f.to, f.lip, f.outlet, f.emergency) for f in (line.si for line in record.drops.values())]
        return repr((vessels, pumped, falls))

    def place(self) -> tuple[float, float, float, float]:
        """Where in the figure the drawing stands: left, bottom, width, height, as parts of the figure."""
        left, bottom, roof = 70 / self.width, 14 / self.height, (48 if self.titled else 8) / self.height
        return left, bottom, 1 - left - 12 / self.width, 1 - bottom - roof

    def frame(self, record) -> None:
        """Draw everything; nothing moves."""
        record = self.drawn(record)
        place = self.place()
        axes = self.figure.add_axes(place)
        calm(axes)
        axes.grid(False, axis="x")
        axes.spines["bottom"].set_visible(False)
        axes.set_xticks([])
        axes.yaxis.set_major_locator(MaxNLocator("auto", steps=[1, 2, 5, 10]))  # a quarter of a metre would push the name off the edge
        axes.set_ylabel(f"height [{HEAD.unit(self.system)}]")
        self.axes, self.build = axes, record
        self.places = self._places(record)
        self.crowded = len(record.vessels) > _CROWD  # then names stand upright
        self.runs: list[tuple[float, float, float]] = []
        self.water_of: dict[str, Any] = {}  # from here on what a picture of a moment moves, by name
        self.names: dict[str, Any] = {}
        self.ways: dict[str, list[Line2D]] = {}
        self.pumps: dict[str, tuple] = {}
        self.mouths: list[Line2D] = []
        low, high = self._span(record)
        self.metre = self.height * place[3] / (high - low)  # pixels
        self.lanes = {name: lane for vessel in record.vessels for name, lane in self._lanes(vessel).items()}
        axes.set_xlim(-0.3, max(p.right for p in self.places.values()) + 0.3)
        axes.set_ylim(self._y(low), self._y(high))
        axes.axhline(self._y(0.0), color=COLOURS["faint"], linewidth=1, zorder=0)
        for line in record.drops.values():
            self._falling(line.si)
        for number, line in enumerate(record.pumped.values()):
            self._pumped(line, high, number)
        for vessel in record.vessels.values():
            self._vessel(vessel)
        self._legend()

    def move(self, record) -> None:
        """Nothing moves."""

    def title(self, record) -> str:
        """What kind of system it is, in a sentence."""
        record = self.drawn(record)
        tops = [
            record.vessels[p.si.to].rim if p.si.outlet is None else p.si.outlet
            for line in record.pumped.values()
            for p in line.si.pipe
            if p.si.to
        ]
        lift = max(tops) - min(record.vessels[line.si.source].level for line in record.pumped.values())
        lifters = "one pump lifts" if len(record.pumped) == 1 else f"{len(record.pumped)} pumps lift"
        return f"{record.title or 'Your build'}: {lifters} the water {self.text(LENGTH, lift)}; it falls back by itself"

    def alt(self, record) -> str:
        """The drawing in words: each vessel with its heights, each line with its ends."""
        parts = [self.title(record) + ". Seen from the side; heights are to scale, widths are not."]
        record = self.drawn(record)
        for v in record.vessels.values():
            litres = self.text(VOLUME, water_volume.si(v, v.si.working_depth))
            parts.append(
                f"{v.si.name}: bottom at {self.text(LENGTH, v.si.floor)}, water at {self.text(LENGTH, v.level)}, rim at {self.text(LENGTH, v.rim)}, {litres} of water."
            )
        for line in record.pumped.values():
            ends = ", ".join(p.si.to for p in line.si.pipe if p.si.to)
            parts.append(f"{line.si.name}: pumped from {line.si.source} to {ends}.")
        for line in record.drops.values():
            f = line.si
            parts.append(f"{f.name}: falls from {f.source} at {self.text(LENGTH, f.lip)} to {f.to} at {self.text(LENGTH, f.outlet)}.")
        return " ".join(parts)

    def _legend(self) -> None:
        """What the kinds of line mean, in the free corner below the ground."""
        bundled = any(self._bundled(line.si) for line in self.build.drops.values())
        kinds: list[tuple[str, dict[str, Any]]] = [
            ("pumped up", _PUMPED),
            ("falls by itself" + (" (where drawn as one, each pipe runs alone)" if bundled else ""), _FALLS),
            ("dry, unless another way is blocked", _EMERGENCY),
        ]
        for place, (words, look) in enumerate(kinds):
            y, x = (0.03, 0.01 + 0.25 * place) if self.crowded else (0.155 - 0.055 * place, 0.01)
            self._line([x, x + 0.035], [y, y], transform=self.axes.transAxes, **look)
            self.axes.text(
                x + 0.043, y, words, transform=self.axes.transAxes, va="center", fontsize=FONT - 1, color=COLOURS["ink"],
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
            )  # fmt: skip

    # --- where things stand

    def _places(self, build: Build) -> dict[str, Across]:
        places: dict[str, Across] = {}
        x = 0.0
        for vessel in sorted(build.vessels.values(), key=lambda v: KINDS.index(v.si.kind)):
            v = vessel.si
            wide = 1.0 + 0.35 * (v.diameter or v.length)  # a narrow vessel keeps room for its name
            places[v.name] = Across(x, x + wide)
            x += wide + _GAP
        return places

    @staticmethod
    def _span(build: Build) -> tuple[float, float]:
        outlets = [p.si.outlet for line in build.pumped.values() for p in line.si.pipe if p.si.outlet is not None]
        high = max([v.rim for v in build.vessels.values()] + outlets)
        low = min([v.si.floor for v in build.vessels.values()] + [0.0])
        room = high - low
        under = 0.2 if low < 0 else 0.5  # nothing stands in the ground: the legend goes below the names
        if len(build.vessels) > _CROWD:
            under = 0.55  # names stand upright over it
        return low - under * room, high + (0.10 + 0.07 * len(build.pumped)) * room

    def _y(self, height: float) -> float:
        return HEAD.shown(height, self.system)

    # --- what is drawn

    def _vessel(self, vessel) -> None:
        v, place = vessel.si, self.places[vessel.si.name]
        water = Polygon(self._corners(v, place, v.working_depth), closed=True, facecolor=COLOURS["air"], alpha=0.45, linewidth=0, zorder=4)
        self.water_of[v.name] = self.axes.add_patch(water)
        if v.media_depth:
            wall = Rectangle((place.left, self._y(v.floor)), place.right - place.left, self._y(v.floor + v.media_depth) - self._y(v.floor))
            wall.set(facecolor="none", edgecolor=COLOURS["faint"], hatch="...", linewidth=0, zorder=5)
            self.axes.add_patch(wall)
        for stroke in strokes(vessel, v.floor + v.working_depth):
            across = [place.left + x * (place.right - place.left) for x, _ in stroke]
            self._line(across, [self._y(y) for _, y in stroke], color=COLOURS["faint"], linewidth=0.9, zorder=5.5)
        xs, ys = zip(*self._corners(v, place, v.height))
        self._line(xs, ys, color=COLOURS["ink"], linewidth=1.8, zorder=6, solid_capstyle="round")
        words = self._words(v)
        if self.crowded:
            return self._upright(v, place, ", ".join(words))
        x = self._name_place(v, place)
        under = v.floor - _LINE * len(words) / self.metre
        crossing = [height for left, right, height in self.runs if left < x < right and under < height < v.floor]  # pipes run there
        inside = bool(crossing) and v.height * self.metre > _LINE * len(words)
        foot = min(crossing) if crossing and not inside else v.floor  # too low for its name: that stands below the pipes
        self.names[v.name] = self.axes.annotate(
            "\n".join(words), (x, self._y(foot)), xytext=(0, 4 if inside else -3), textcoords="offset points", ha="center", va="bottom" if inside else "top",
            fontsize=FONT - 0.8, color=COLOURS["ink"], linespacing=1.15, zorder=8, parse_math=False,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip

    def _upright(self, v, place, words: str) -> None:
        """A name that stands upright: in its vessel, where that is high enough, else under it."""
        inside = v.height * self.metre > _LETTERS * len(words)
        self.names[v.name] = self.axes.annotate(
            words, (place.middle, self._y(v.floor)), xytext=(0, 4 if inside else -4), textcoords="offset points", ha="center",
            va="bottom" if inside else "top", rotation=90, fontsize=FONT - 0.8, color=COLOURS["ink"], zorder=8, parse_math=False,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip

    def _words(self, v) -> list[str]:
        """A vessel's name in short lines, and its water."""
        if self.crowded:
            return [
                textwrap.shorten(v.name, _LONGEST, placeholder="…"),
                self.text(VOLUME, water_volume.si(self.build.vessels[v.name], v.working_depth)),
            ]
        return [*textwrap.wrap(v.name, 9)[:3], self.text(VOLUME, water_volume.si(self.build.vessels[v.name], v.working_depth))]

    def _name_place(self, v, place) -> float:
        """Where a vessel's name stands under it: in the middle, or beside the pipes that go down at its right."""
        falls = [line.si for line in self.build.drops.values() if line.si.source == v.name]
        right = any(self.places[f.to].middle > place.middle for f in falls)
        return place.left + (0.38 if right and v.shape != "cone-bottomed" else 0.5) * (place.right - place.left)

    def _corners(self, v, place, depth: float) -> list[tuple[float, float]]:
        """The outline of the vessel up to a depth, from its upper left corner, going down."""
        return [(place.left + x * (place.right - place.left), self._y(y)) for x, y in outline(v, depth)]

    def _line(self, xs, ys, **look) -> Line2D:
        """A line on the drawing. `plot` would scale the axes for each, which takes longer than the line."""
        line = Line2D(xs, ys, **look)
        self.axes.add_artist(line)
        return line

    def _path(self, name: str, points, **look) -> None:
        """A pipe, kept under the name of its line (of a pumped one's end: "line › end", as `levels` names them)."""
        xs, ys = zip(*points)
        line = self._line(xs, [self._y(y) for y in ys], solid_joinstyle="round", solid_capstyle="round", **look)
        self.ways.setdefault(name, []).append(line)

    def _pumped(self, line, high: float, place: int) -> None:
        p = line.si
        source = self.places[p.source]
        low, _ = self._span(self.build)
        lane = high - (0.05 + 0.07 * place) * (high - low)
        start = source.right - (0.2 + 0.14 * place) * (source.right - source.left)
        vessel = self.build.vessels[p.source].si
        bottom = vessel.floor + 0.25 * vessel.working_depth
        look = {**_PUMPED, "zorder": 3}
        if p.pump_height is not None:  # it stands dry, beside the vessel: its suction goes out at the wall, or over the rim
            inlet, dry = start, source.right + _DRY
            high_up = p.pump_height > self.build.vessels[p.source].rim
            way = [(inlet, p.pump_height), (dry, p.pump_height)] if high_up else [(dry, bottom), (dry, p.pump_height)]
            self._path(p.name, [(inlet, bottom), *way], **look)
            start, bottom = dry, p.pump_height
        self._path(p.name, [(start, bottom), (start, lane)], **look)
        ends = [pipe.si for pipe in p.pipe if pipe.si.to]
        seen: dict[str, int] = {}
        for end in ends:
            seen[end.to] = seen.get(end.to, 0) + 1
            to = self.places[end.to]
            x = to.left + (0.22 + 0.13 * place + 0.1 * (seen[end.to] - 1)) * (to.right - to.left)
            target = self.build.vessels[end.to]
            outlet = target.rim if end.outlet is None else end.outlet
            self._path(f"{p.name} › {end.name}", [(start, lane), (x, lane), (x, max(outlet, target.si.floor))], **look)
            self.mouths.append(self._line([x], [self._y(outlet)], marker="v", color=COLOURS["water"], markersize=6, zorder=7))
        disc = self._line(
            [start], [self._y(bottom)], marker="o", color="white", markeredgecolor=COLOURS["water"], markersize=12, markeredgewidth=1.6, zorder=9
        )  # fmt: skip
        letter = self.axes.annotate(
            "P", (start, self._y(bottom)), ha="center", va="center", fontsize=SMALLEST, color=COLOURS["water"], weight="bold", zorder=10
        )
        self.pumps[p.name] = disc, letter

    def _start(self, f) -> tuple[float, int]:
        """Where across a falling pipe leaves its vessel, and which of that vessel's pipes it is."""
        source, to = self.places[f.source], self.places[f.to]
        lines = dict.fromkeys(self.build.line_of(name) for name, line in self.build.drops.items() if line.si.source == f.source)
        place = list(lines).index(self.build.line_of(f.name))
        inset = (0.10 + 0.09 * place) * (source.right - source.left)
        return (source.right - inset if to.middle > source.middle else source.left + inset), place

    def _lanes(self, target: str) -> dict[str, float]:
        """A height of its own for each pipe that falls into a vessel, where there is room for that; else nothing.

        The pipe that comes from farthest runs lowest and ends first, so that none crosses another.
        """
        falls = sorted((line.si for line in self.build.drops.values() if line.si.to == target), key=lambda f: self._start(f)[0])
        to = self.places[target]
        if not falls or any(self.places[f.source].middle > to.middle for f in falls):
            return {}
        first = self.places[falls[0].source]
        over = [v.si for name, v in self.build.vessels.items() if first.left < self.places[name].left < to.left]
        named = min([v.floor - _LINE * len(self._words(v)) / self.metre for v in over], default=math.inf)
        bare = min([v.floor for v in over], default=math.inf)  # names then stand inside the vessels
        for roof, step in ((roof, pixels / self.metre) for roof in (named, bare) for pixels in _LANES):
            height, lanes = self.build.vessels[target].rim, {}
            for f in falls:
                height = lanes[f.name] = max(height + step, f.outlet + 0.4 * step)
            if height + 0.7 * step < roof and (roof == named or len(falls) < 5):
                return lanes
        return {}

    def _bundled(self, f) -> bool:
        """Whether so many pipes of its kind fall into its vessel, with no room for a lane each, that one line stands for all."""
        alike = [name for name, line in self.build.drops.items() if line.si.to == f.to and line.si.emergency == f.emergency]
        return len([name for name in alike if name not in self.lanes]) > 2

    def _falling(self, f) -> None:
        to, target = self.places[f.to], self.build.vessels[f.to]
        start, place = self._start(f)
        landing = [name for name in self.lanes if self.build.drops[name].si.to == f.to] or sorted(
            line.si.name for line in self.build.drops.values() if line.si.to == f.to
        )
        step = landing.index(f.name) / max(1, len(landing))
        if self._bundled(f):  # one line for all of them, which is clearer than a comb
            step = 0.35 if f.emergency else 0.1
        end = to.left + (0.06 + 0.72 * step) * (to.right - to.left)
        lane = min(self.lanes.get(f.name, max(f.outlet, target.rim) + (1 + place) * max(0.05, _LANES[1] / self.metre)), f.lip)
        self.runs.append((min(start, end), max(start, end), lane))
        look = {**(_EMERGENCY if f.emergency else _FALLS), "zorder": 2}
        self._path(f.name, [(end, f.outlet), (end, lane), (start, lane), (start, f.lip)], **look)  # from its end, where dashes then agree
        mouth = self._line([start], [self._y(f.lip)], marker="_", color=look["color"], markersize=9, markeredgewidth=2, zorder=7)
        self.mouths.append(mouth)

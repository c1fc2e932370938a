"""The elevation drawing of a build as built: every height to scale, with levels at rest, running and in a power cut.

Heights are true to the ruler; widths are not. Under the drawing stand two tables: one of vessels, a column under each,
and one of lines, by the letter or number that marks them on the drawing.
"""

from __future__ import annotations

import math
from typing import Any

from aquaplumb.units import HEAD
from aquaplumb.workshop.as_built_places import APART, MARGIN, SMALL, TINY, AsBuiltPlaces
from aquaplumb.workshop.as_built_words import SWINGS
from aquaplumb.workshop.paper import DASHED, DOTTED, HIGH, ROW, SIZE

_LOOKS = {"run": ("-", 1.1), "low": ("-", 0.5), "rest": (DASHED, 1.0), "cut": (DOTTED, 1.4)}  # of the levels: dashes, width
_PUMPED: dict[str, Any] = {"colour": "water", "width": 1.8}
_FALLS: dict[str, Any] = {"colour": "air", "width": 1.4}
_EMERGENCY: dict[str, Any] = {"colour": "faint", "width": 1.0, "style": (0, (4, 2))}
_LAID: dict[str, Any] = {"style": (0, (7, 1.6, 1.2, 1.6))}  # what lies in the ground or a conduit
_NOTES = (
    "Heights to scale, widths not. Heights count from the zero mark; depths of switches from the vessel's inside bottom.",
    "Running, lowest (a thin line): where the level goes up and down. Highest in a power cut: at any moment of 8 h, for several moments at which it begins; at rest: at its end.",
    "Flow in brackets: only while another way out is blocked. Can carry: with the water at its freeboard; of a siphon, while it runs; ! is too little.",
)  # fmt: skip
_DRAWN = 250.0  # points for the drawing itself
_SKY = "#F4F6F8"
_WATER = "#DCE9F2"


class AsBuilt(AsBuiltPlaces):
    """A build from the side, for the wall: `svg`, `png`, and `alt`, the same in words.

    Parameters
    ----------
    build : Build
    system : str
        "metric" or "US"; the build's own by default.
    """

    # --- what is drawn

    def draw(self) -> None:
        """The drawing above, the two tables below."""
        self._plan()
        rows = self._vessel_rows()
        pumped, falling = self._pumped_rows(), self._falling_rows()
        self.row = ROW * self.larger
        lines_high = (1 + max(len(pumped), len(falling)) + len(_NOTES)) * self.row + 8
        vessels_high = (2 + len(rows)) * self.row + 10
        head = 38.0 * self.larger
        self.height = max(HIGH * self.larger, head + _DRAWN + vessels_high + lines_high)
        self._head()
        low = vessels_high + lines_high
        self._heights(low, self.height - head)
        for k, (x, end) in enumerate(zip(self.edges, self.edges[1:])):
            if k % 2 == 0:
                self.area([(x, lines_high + 4), (x, self.height - head), (end, self.height - head), (end, lines_high + 4)], _SKY, order=0)
        self._ruler()
        runs = self._levels_of_lanes()
        for name, fall in self.build.drops.items():
            self._fall(fall.si, runs[name])
        for name, line in self.build.pumped.items():
            self._pump_line(name, line)
        for vessel in self.vessels:
            self._vessel(vessel)
        self._vessel_table(rows, low)
        self._line_tables(pumped, falling, lines_high)

    def _head(self) -> None:
        top = self.height - 10 * self.larger
        self.word(MARGIN, top, self.title(), room=self.width - 2 * MARGIN, size=10 * self.larger, weight="bold")
        x, y, size = MARGIN, top - 16 * self.larger, SMALL * self.larger
        signs = [
            ("pumped", lambda: self.line([(x, y), (x + 18, y)], **_PUMPED)),
            ("falls by itself", lambda: self.line([(x, y), (x + 18, y)], **_FALLS)),
            ("emergency overflow, dry", lambda: self.line([(x, y), (x + 18, y)], **_EMERGENCY)),
            ("lip", lambda: self.sign(x + 9, y, "_", size=10, width=1.8)),
            ("water comes out", lambda: self.sign(x + 9, y, "v")),
            ("vent: air stops the siphon", lambda: self.sign(x + 9, y, "o", fill="white")),
            ("pump", lambda: self.tag(x + 9, y, "A")),
            ("falling line", lambda: self.tag(x + 9, y, "1")),
        ]
        if any(self._lies(f.si) for f in self.build.drops.values()):
            signs.insert(2, ("in the ground or a conduit", lambda: self.line([(x, y), (x + 18, y)], **{**_FALLS, **_LAID})))
        for words, put in signs:
            put()
            room = self.measured(words, size)
            self.word(x + 22, y, words, room=room + 1, size=size)
            x += 22 + room + 14

    def _ruler(self) -> None:
        x, size = MARGIN + self.own - 12, SMALL * self.larger
        shown = [HEAD.shown(h, self.system) for h in (self.bottom, self.top)]
        unit, steps = self.metre * HEAD.from_shown(1.0, self.system), (0.05, 0.1, 0.2, 0.25, 0.5, 1, 2, 5, 10, 20, 50)
        step = next((s for s in steps if s * unit >= 13 * self.larger), 100)
        self.word(x - 5, self.high - 4, f"height [{HEAD.unit(self.system)}]", room=80 * self.larger, align="right", size=size)
        self.line([(x, self._y(self.bottom)), (x, self._y(self.top))], width=0.7)
        for k in range(math.ceil(shown[0] / step - 1e-6), math.floor(shown[1] / step + 1e-6) + 1):
            y = self._y(HEAD.from_shown(k * step, self.system))
            self.line([(x - 3, y), (x, y)], width=0.7)
            self.line([(x, y), (self.width - MARGIN, y)], colour="faint" if k == 0 else "grid", width=1.0 if k == 0 else 0.5, order=1)
            self.word(x - 5, y, f"{k * step:g}".replace("-", "\u2212"), room=40 * self.larger, align="right", size=size)
            for part in range(1, 5):
                small = y + part * step / 5 * HEAD.from_shown(1.0, self.system) * self.metre
                if small < self._y(self.top):
                    self.line([(x - 1.5, small), (x, small)], width=0.5)

    def _vessel(self, vessel) -> None:
        v, place, at = vessel.si, self.places[vessel.si.name], self.levels[vessel.si.name]
        self.area(self._outline(vessel, vessel.rim), "white", order=3)
        if at.high > v.floor:
            self.area(self._outline(vessel, at.high), _WATER, order=3.2)
        if v.media_depth:
            self.area(self._outline(vessel, v.floor + v.media_depth), "none", order=3.4, hatch="...", edge="#C9D3DA")
        self.line(self._outline(vessel, vessel.rim), width=1.5, order=8)
        x = place.words
        for word, level in (("run", at.high), ("rest", at.rest), ("cut", at.cut)):
            style, width = _LOOKS[word]
            y = self._y(level)
            ends = self._sides(vessel, level)
            self.line([(ends[0], y), (ends[1], y)], width=width, style=style, order=7)
            if word == "run" and at.high - at.low > SWINGS:
                low = self._sides(vessel, at.low)
                self.line([(low[0], self._y(at.low)), (low[1], self._y(at.low))], width=_LOOKS["low"][1], order=7)
            if v.name not in self.silent:
                room = self.measured(word, TINY)
                self.word(x, y, word, room=room, size=TINY, paper=True)
                x += room + APART
        self._switches(v.name)

    def _switches(self, name: str) -> None:
        """The depths at which switches act, beside the vessel, apart from each other."""
        labels = sorted(self.strips[name], key=lambda one: one[1])
        wall = self.places[name].right
        for (words, height), y in zip(labels, spread([self._y(h) for _, h in labels], 8.0, self.low + 4, self.high - 4)):
            at = self._y(height)
            self.line([(wall - 5, at), (wall + 2, at), (wall + 8, y)], width=0.7, order=9)
            self.word(wall + 9, y, words, room=self.measured(words, SMALL) + 1, size=SMALL, paper=True)

    def _sides(self, vessel, level: float) -> tuple[float, float]:
        v, place = vessel.si, self.places[vessel.si.name]
        depth = level - v.floor
        if v.shape != "cone-bottomed" or depth >= v.cone_height:
            return place.left, place.right
        half = (place.right - place.left) / 2 * max(0.0, depth) / v.cone_height
        middle = (place.left + place.right) / 2
        return middle - half, middle + half

    def _outline(self, vessel, level: float) -> list[tuple[float, float]]:
        """The vessel's shape up to a level, from its upper left corner going down."""
        v = vessel.si
        knees = [v.floor + v.cone_height] if v.shape == "cone-bottomed" and level > v.floor + v.cone_height else []
        heights = [level, *knees, v.floor]
        sides = [(*self._sides(vessel, h), self._y(h)) for h in heights]
        return [(left, y) for left, _, y in sides] + [(right, y) for _, right, y in reversed(sides)]

    def _fall(self, f, lane: float) -> None:
        """A falling pipe: from its lip down, across behind what stands between, and down to its outlet."""
        look = {**(_EMERGENCY if f.emergency else _FALLS), **(_LAID if self._lies(f) else {})}
        whole = self.build.line_of(f.name)
        start, end = self.across["start", whole], self.across["end", f.name]
        lip, outlet = self._y(f.lip), self._y(f.outlet)
        source, to = self.places[f.source], self.places[f.to]
        right = end >= start
        leaves, comes = (source.right, to.left) if right else (source.left, to.right)
        within = self._y(self.build.vessels[f.source].si.floor) < lane
        self.line([(start, lip), (start, lane), *([(leaves, lane)] if within else [])], order=6, **look)
        self.line([(leaves if within else start, lane), (comes, lane)], order=2, **look)
        inside = lane < self._y(self.build.vessels[f.to].rim)
        self.line([(comes, lane), (end, lane)], order=6 if inside else 2, **look)
        self.line([(end, lane), (end, outlet)], order=6, **look)
        if f.intake is not None and f.intake < f.lip:
            self.line([(start - 3, self._y(f.intake)), (start - 3, lip), (start, lip)], order=6, **look)
        self.sign(start, lip, "_", size=9, width=1.8, colour=look["colour"])
        self.sign(end, outlet, "v", colour=look["colour"], size=3.5)
        if f.siphon:
            self.sign(start, self._y(f.siphon.si.vent), "o", colour=look["colour"], fill="white", size=3.6)
        own = [self.numbers[name] for name in self.build.drops if self.build.line_of(name) == whole]
        if own[0] != self.numbers[f.name]:
            return  # of one with branches, the first end has put the mark
        over = max(self._y(self.build.vessels[f.source].rim), lip) + 10
        self.line([(start, lip), (start, over)], width=0.5, colour="faint", style=DOTTED, order=5)
        self.tag(start, over, own[0] if len(own) == 1 else f"{own[0]}–{own[-1]}", radius=4.6 if len(own) == 1 else 6.4)

    def _pump_line(self, name: str, line) -> None:
        x, y, lane = self.across["pump", name], self._y(self._pump_height(line)), self.lanes[name]
        xs = [m.x for m in self.mouths if m.line == name] + [x]
        self.line([(x, y), (x, lane)], order=6, **_PUMPED)
        self.line([(min(xs), lane), (max(xs), lane)], order=2, **_PUMPED)
        for m in self.mouths:
            if m.line == name:
                end = self._y(self._mouth(m.pipe))
                self.line([(m.x, lane), (m.x, end)], order=6, **_PUMPED)
                self.sign(m.x, end, "v", colour="water", size=5)
        self.tag(x, y, self.letters[name], colour="water")

    # --- tables

    def _vessel_table(self, rows: list, top: float) -> None:
        size = SIZE * self.larger  # as large as every number has room for
        room = [self.places[v.si.name].room for v in self.vessels]
        widest = max(self.measured(cell) / wide for *_, cells, _ in rows for cell, wide in zip(cells, room))
        own = max(self.measured(words) for _, words, *_ in rows) / (self.own - 28)
        size = min(size, 0.98 * SIZE / max(widest, own))
        y = top - 6
        for v, wide in zip(self.vessels, room):
            words = self.wrapped(v.si.name, wide, 2, size, "bold")
            for k, one in enumerate(words):
                self.word(self.places[v.si.name].left, y - (2 - len(words) + k) * self.row, one, room=wide + 1, size=size, weight="bold")
        for k, (look, words, cells, colour) in enumerate(rows):
            row = y - (2 + k) * self.row
            self.line([(MARGIN, row + self.row / 2), (self.width - MARGIN, row + self.row / 2)], colour="grid", width=0.5, order=1)
            if look:
                self.line([(MARGIN, row), (MARGIN + 18, row)], style=_LOOKS[look][0], width=_LOOKS[look][1])
            weight = "bold" if colour == "wrong" else "normal"
            self.word(MARGIN + 22, row, words, room=self.own - 26, size=size, colour=colour, weight=weight)
            for v, cell, wide in zip(self.vessels, cells, room):
                self.word(self.places[v.si.name].left, row, cell, room=wide + 1, size=size, colour=colour, weight=weight)

    def _line_tables(self, pumped: list, falling: list, top: float) -> None:
        wide = self.width - 2 * MARGIN - 14
        left = 0.37 * wide
        self._table(MARGIN, top, ["", "pumped", "size", "flow", ""], pumped, [0.045, 0.40, 0.195, 0.17, 0.19], left)
        heads = ["", "falls by itself", "to", "size", "lip", "outlet", "vent", "flow", "can carry"]
        self._table(MARGIN + left + 14, top, heads, falling, [0.035, 0.225, 0.12, 0.135, 0.085, 0.085, 0.085, 0.11, 0.12], wide - left)
        for k, words in enumerate(reversed(_NOTES)):
            self.word(MARGIN, 4 + (k + 0.5) * self.row, words, room=self.width - 2 * MARGIN, size=SMALL * self.larger)

    def _table(self, x: float, top: float, heads: list, rows: list, parts: list, wide: float) -> None:
        y = top - 0.5 * self.row
        for k, cells in enumerate([heads, *rows]):
            place = x
            for j, (words, part) in enumerate(zip(cells, parts)):
                bold = k == 0 or j == 0 or words.endswith("!")
                colour = "wrong" if words.endswith(" !") else "ink"
                weight = "bold" if bold else "normal"
                self.word(place, y - k * self.row, words, room=part * wide - 3, weight=weight, colour=colour, size=SMALL * self.larger)
                place += part * wide
        self.line([(x, y - self.row / 2), (x + wide, y - self.row / 2)], width=0.6)


def spread(places: list[float], apart: float, low: float, high: float) -> list[float]:
    """Sorted places moved as little as need be, so that each is `apart` from the next, between `low` and `high`."""
    moved = list(places)
    for k in range(1, len(moved)):
        moved[k] = max(moved[k], moved[k - 1] + apart)
    roof = high
    for k in range(len(moved) - 1, -1, -1):
        moved[k] = max(low + k * apart, min(moved[k], roof))
        roof = moved[k] - apart
    return moved

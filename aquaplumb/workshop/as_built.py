"""The elevation drawing of a build as built: every height to scale, with levels at rest, running and in a power cut.

Heights are true to the ruler; widths are not. Under the drawing stand two tables: one of vessels, a column under each,
and one of lines, by the letter or number that marks them on the drawing; where those have no room, on sheets of their own.
"""

from __future__ import annotations

import math
from typing import Any

from aquaplumb.figures.vessel_signs import outline, sides, strokes
from aquaplumb.units import HEAD
from aquaplumb.workshop.as_built_pieces import Labels
from aquaplumb.workshop.as_built_places import APART, MARGIN, AsBuiltPlaces
from aquaplumb.workshop.as_built_tables import NOTES, LinesAsBuilt
from aquaplumb.workshop.as_built_words import SWINGS
from aquaplumb.workshop.paper import DASHED, DOTTED, HIGH, ROW, SIZE, Drawing, tidy

_LOOKS = {"run": ("-", 1.1), "low": ("-", 0.5), "rest": (DASHED, 1.0), "cut": (DOTTED, 1.4)}  # of the levels: dashes, width
_PUMPED: dict[str, Any] = {"colour": "water", "width": 1.8}
_FALLS: dict[str, Any] = {"colour": "air", "width": 1.4}
_EMERGENCY: dict[str, Any] = {"colour": "faint", "width": 1.0, "style": (0, (4, 2))}
_LAID: dict[str, Any] = {"style": (0, (7, 1.6, 1.2, 1.6))}  # what lies in the ground or a conduit
_DRAWN = 176.0  # points for the drawing itself, at the least
_NAMES = 3  # lines for a vessel's name in the table
_SKY = "#F4F6F8"
_WATER = "#DCE9F2"


class AsBuilt(AsBuiltPlaces, LinesAsBuilt):
    """A build from the side, for the wall: `svg`, `png`, and `alt`, the same in words; `sheets` are all that belong to it.

    Parameters
    ----------
    build : Build
    system : str
        "metric" or "US"; the build's own by default.
    part : int
        Which sheet of the drawing, from 0 on.
    """

    def sheets(self) -> list[Drawing]:
        """All sheets on A4: this drawing in its parts, then the tables of lines, where they have no room under it."""
        found: list[Drawing] = [AsBuilt(self.build, system=self.system, part=k) for k in range(len(self.parts))]
        if not self._tables_fit:
            tables = LinesAsBuilt(self.build, system=self.system)
            found += [LinesAsBuilt(self.build, system=self.system, page=k) for k in range(tables.pages)]
        return found

    def title(self) -> str:
        """Whose drawing it is."""
        return AsBuiltPlaces.title(self)

    # --- what is drawn

    @property
    def _tables_high(self) -> float:
        return (1 + max(len(self._pumped_rows()), len(self._falling_rows())) + len(NOTES)) * ROW + 8

    @property
    def _vessels_high(self) -> float:
        return (_NAMES + len(self._vessel_rows())) * ROW + 10

    @property
    def _tables_fit(self) -> bool:
        return len(self.parts) == 1 and 38.0 + _DRAWN + self._vessels_high + self._tables_high <= HIGH

    def draw(self) -> None:
        """The drawing above, the two tables below."""
        rows, under, head = self._vessel_rows(), self._tables_high if self._tables_fit else len(NOTES) * ROW + 4, 38.0
        self.height = HIGH
        self._head()
        low = self._vessels_high + under
        self._heights(low, self.height - head)
        for k, (x, end) in enumerate(zip(self.edges, self.edges[1:])):
            if k % 2 == 0:
                self.area([(x, under + 4), (x, self.height - head), (end, self.height - head), (end, under + 4)], _SKY, order=0)
        self._ruler()
        runs = self._levels_of_lanes()
        self.ways: dict[str, list[tuple[float, float]]] = {}
        for name, fall in self.drops.items():
            self._fall(fall.si, runs[name])
        for fall in self.stubs.values():
            self._stub(fall.si)
        for name, line in self.build.pumped.items():
            self._pump_line(name, line)
        for vessel in self.shown:
            self._vessel(vessel)
        self._vessel_table(rows, low)
        if self._tables_fit:
            self._line_tables(self._pumped_rows(), self._falling_rows(), under)
        else:
            self._notes()
        self._pieces(low)

    def _pieces(self, low: float) -> None:
        """What is sawn for each falling line, by the labels of the cut list."""
        labels = Labels(self, low, self.high)
        for name in self.ways:
            ends = (self.drops[name].si.source, self.drops[name].si.to)
            others = [v for v in self.shown if v.si.name not in ends]
            places = [(self.places[v.si.name], v) for v in others]
            behind = [(at.left, self._y(v.si.floor), at.right, self._y(v.rim)) for at, v in places]
            apart = [way for other, way in self.ways.items() if self.build.line_of(other) != self.build.line_of(name)]
            labels.along(self.ways[name], self.runs_of(name), self.numbers[name], behind, apart)

    def _head(self) -> None:
        top = self.height - 10
        name = self.title() + (f", sheet {self.part + 1} of {len(self.parts)}" if len(self.parts) > 1 else "")
        self.word(MARGIN, top, name, room=self.width - 2 * MARGIN, size=10, weight="bold")
        x, y, size = MARGIN, top - 16, SIZE
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
        if any(self._lies(f.si) for f in self.drops.values()):
            signs.insert(2, ("in the ground or a conduit", lambda: self.line([(x, y), (x + 18, y)], **{**_FALLS, **_LAID})))
        for words, put in signs:
            put()
            room = self.measured(words, size)
            self.word(x + 22, y, words, room=room + 1, size=size)
            x += 22 + room + 14

    def _ruler(self) -> None:
        x, size = MARGIN + self.own - 12, SIZE
        shown = [HEAD.shown(h, self.system) for h in (self.bottom, self.top)]
        unit, steps = self.metre * HEAD.from_shown(1.0, self.system), (0.05, 0.1, 0.2, 0.25, 0.5, 1, 2, 5, 10, 20, 50)
        step = next((s for s in steps if s * unit >= 13), 100)
        self.word(x - 5, self.high - 4, f"height [{HEAD.unit(self.system)}]", room=80, align="right", size=size)
        self.line([(x, self._y(self.bottom)), (x, self._y(self.top))], width=0.7)
        for k in range(math.ceil(shown[0] / step - 1e-6), math.floor(shown[1] / step + 1e-6) + 1):
            y = self._y(HEAD.from_shown(k * step, self.system))
            self.line([(x - 3, y), (x, y)], width=0.7)
            self.line([(x, y), (self.width - MARGIN, y)], colour="faint" if k == 0 else "grid", width=1.0 if k == 0 else 0.5, order=1)
            self.word(x - 5, y, f"{k * step:g}".replace("-", "\u2212"), room=40, align="right", size=size)
            for part in range(1, 5):
                small = y + part * step / 5 * HEAD.from_shown(1.0, self.system) * self.metre
                if small < self._y(self.top):
                    self.line([(x - 1.5, small), (x, small)], width=0.5)

    def _shape(self, v, depth: float) -> list[tuple[float, float]]:
        place = self.places[v.name]
        return [(place.left + x * (place.right - place.left), self._y(y)) for x, y in outline(v, depth)]

    def _vessel(self, vessel) -> None:
        v, place, at = vessel.si, self.places[vessel.si.name], self.drawn[vessel.si.name]
        self.area(self._shape(v, v.height), "white", order=3)
        if at.high > v.floor:
            self.area(self._shape(v, at.high - v.floor), _WATER, order=3.2)
        if v.media_depth:
            self.area(self._shape(v, v.media_depth), "none", order=3.4, hatch="...", edge="#C9D3DA")
        for stroke in strokes(vessel, at.high):
            self.line([(place.left + x * (place.right - place.left), self._y(y)) for x, y in stroke], colour="faint", width=0.7, order=3.6)
        self.line(self._shape(v, v.height), width=1.5, order=8)
        x = place.words
        for word, level in (("run", at.high), ("rest", at.rest), ("cut", at.cut)):
            style, width = _LOOKS[word]
            y = self._y(level)
            self.line([(end, y) for end in self._sides(v, level)], width=width, style=style, order=7)
            if word == "run" and at.high - at.low > SWINGS:
                self.line([(end, self._y(at.low)) for end in self._sides(v, at.low)], width=_LOOKS["low"][1], order=7)
            if v.name not in self.silent:
                room = self.measured(word, SIZE)
                self.word(x, y, word, room=room, paper=True)
                x += room + APART
        self._switches(v.name)

    def _sides(self, v, level: float) -> tuple[float, float]:
        place = self.places[v.name]
        left, right = sides(v, level - v.floor)
        return place.left + left * (place.right - place.left), place.left + right * (place.right - place.left)

    def _switches(self, name: str) -> None:
        """The depths at which switches act, beside the vessel, apart from each other."""
        labels = sorted(self.strips[name], key=lambda one: one[1])
        wall, dry = self.places[name].right, self.dry[name]
        for (words, height), y in zip(labels, spread([self._y(h) for _, h in labels], 8.6, self.low + 4, self.high - 4)):
            at = self._y(height)
            self.line([(wall - 5, at), (wall + 2, at), (wall + 8 + dry, y)], width=0.7, order=9)
            self.word(wall + 9 + dry, y, words, room=self.measured(words, SIZE) + 1, paper=True)

    def _fall(self, f, lane: float) -> None:
        """A falling pipe: from its lip down, across behind what stands between, and down to its outlet."""
        look = {**(_EMERGENCY if f.emergency else _FALLS), **(_LAID if self._lies(f) else {})}
        whole = self.build.line_of(f.name)
        start, end = self.across["start", whole], self.across["end", f.name]
        lip, outlet = self._y(f.lip), self._y(f.outlet)
        source, to = self.places[f.source], self.places[f.to]
        right = end >= start
        leaves, comes = (source.right, to.left) if right else (source.left, to.right)
        self.ways[f.name] = [(start, lip), (start, lane), (end, lane), (end, outlet)]
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
        self._number(start, over, own)

    def _number(self, x: float, y: float, own: list[str]) -> None:
        """The number of a falling line in its ring, or the first and last of one with branches."""
        self.tag(x, y, own[0] if len(own) == 1 else f"{own[0]}–{own[-1]}", radius=5.4 if len(own) == 1 else 8.6)

    def _stub(self, f) -> None:
        """A falling pipe to a vessel of another sheet: its lip and its number; where it goes, the table says."""
        start, lip = self.across["start", self.build.line_of(f.name)], self._y(f.lip)
        look = _EMERGENCY if f.emergency else _FALLS
        self.line([(start, lip), (start, lip - 12)], order=6, **look)
        self.sign(start, lip, "_", size=9, width=1.8, colour=look["colour"])
        self.sign(start, lip - 12, "v", colour=look["colour"], size=3.5)
        over = max(self._y(self.build.vessels[f.source].rim), lip) + 10
        self.line([(start, lip), (start, over)], width=0.5, colour="faint", style=DOTTED, order=5)
        self._number(start, over, [self.numbers[f.name]])

    def _pump_line(self, name: str, line) -> None:
        lane, ends = self.lanes[name], [m for m in self.mouths if m.line == name]
        here = line.si.source in self._order
        if not ends and not here:
            return
        elsewhere = len(ends) < sum(bool(p.si.to) and self._stands(p.si.to) for p in line.si.pipe)
        x = self.across["pump", name] if here else self.width - MARGIN
        xs = [m.x for m in ends] + [x] + ([self.edges[0]] if elsewhere and here and len(self.parts) > 1 else [])
        if here:
            y = self._y(self._pump_height(line))
            self._suction(name, line, y)
            self.line([(x, y), (x, lane)], order=6, **_PUMPED)
        self.line([(min(xs), lane), (max(xs), lane)], order=2, **_PUMPED)
        for m in ends:
            end = self._y(self._mouth(m.pipe))
            self.line([(m.x, lane), (m.x, end)], order=6, **_PUMPED)
            self.sign(m.x, end, "v", colour="water", size=5)
        self.tag(x if here else x - 8, y if here else lane, self.letters[name], colour="water", radius=5.4)

    def _stands(self, vessel: str) -> bool:
        """Whether a vessel is drawn by itself, on this sheet or another."""
        return vessel in self.alike

    def _suction(self, name: str, line, y: float) -> None:
        """The suction of a pump that stands dry, beside its vessel: out at the wall, or over the rim to a pump that stands higher."""
        if line.si.pump_height is None:
            return
        source, x, pump = self.build.vessels[line.si.source], self.across["inlet", name], self.across["pump", name]
        inlet = self._y(self._inlet(line))
        out = [(x, y), (pump, y)] if y > self._y(source.rim) else [(pump, inlet), (pump, y)]
        self.line([(x, inlet), *out], order=8.5, **_PUMPED)

    # --- the vessels' table

    def _vessel_table(self, rows: list, top: float) -> None:
        room = [self.places[v.si.name].room for v in self.shown]
        bare = any(self.measured(cell) > wide for *_, cells, _ in rows for cell, wide in zip(cells, room))  # then the unit stands in front
        unit = HEAD.unit(self.system)
        y = top - 6
        for v, wide in zip(self.shown, room):
            many = len(self.alike[v.si.name]) - 1
            name = tidy(v.si.name) + (f" and {many} more alike" if many else "")
            words = self.wrapped(name, wide, _NAMES, SIZE, "bold")
            for k, one in enumerate(words):
                self.word(self.places[v.si.name].left, y - (_NAMES - len(words) + k) * ROW, one, room=wide + 1, weight="bold")
        for k, (look, words, cells, colour) in enumerate(rows):
            row = y - (_NAMES + k) * ROW
            self.line([(MARGIN, row + ROW / 2), (self.width - MARGIN, row + ROW / 2)], colour="grid", width=0.5, order=1)
            if look:
                self.line([(MARGIN, row), (MARGIN + 14, row)], style=_LOOKS[look][0], width=_LOOKS[look][1])
            weight = "bold" if colour == "wrong" else "normal"
            self.word(MARGIN + 17, row, words, room=self.own - 21, colour=colour, weight=weight)
            for v, cell, wide in zip(self.shown, cells, room):
                said = cell.removesuffix(f" {unit}") if bare else cell
                self.word(self.places[v.si.name].left, row, said, room=wide + 1, colour=colour, weight=weight)
        if bare:
            self.word(MARGIN + 17, y - (_NAMES - 1) * ROW, f"in {unit}", room=self.own - 21)


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

"""The plan of a build from above, to scale: where each vessel stands, what runs between them, and the marks that holes count from."""

from __future__ import annotations

import functools
import math

from aquaplumb.build import Build
from aquaplumb.build.standing import Footprint, standing
from aquaplumb.units import HEAD, LENGTH
from aquaplumb.workshop.cut_list import high
from aquaplumb.workshop.paper import DASHED, HIGH, ROW, WIDE, Drawing, tidy

_MARGIN, _TOP, _FOOT, _KEY = 30.0, 34.0, 62.0, 170.0  # points; the last for the key of what is too small for its name
_ABREAST, _TALL = 527.0, 560.0  # points: what A4 and letter have upright, 12 mm kept free beside it, and the head of a chapter over it
_AS_LARGE = 1.25  # one step of the scales
_COLUMNS = 3  # of the key under an upright plan
_SMALL = 72.0  # points of width in which a name is legible
_SCALES = (10, 20, 25, 30, 40, 50, 60, 75, 100, 150, 200, 300, 500)  # of drawings that a ruler can be laid on
_POINT = 0.0254 / 72  # m


class PlanFromAbove(Drawing):
    """A build from above, for the wall: `svg`, `png`, and `alt`, the same in words.

    Parameters
    ----------
    build : Build
    system : str
        "metric" or "US"; the build's own by default.
    """

    def __init__(self, build: Build, *, system: str | None = None):
        super().__init__(build, system=system)
        self.plan = standing(build)

    def sheets(self) -> list[PlanFromAbove]:
        """Its one sheet."""
        return [self]

    def title(self) -> str:
        """Whose plan it is, and whether it is a proposal."""
        what = "Plan from above" if self.plan.told else "Plan from above, a proposal"
        return f"{what}: {tidy(self.build.title) or 'your build'}"

    @property
    def scale(self) -> int:
        """So many times smaller than the yard."""
        return self._scales[0 if self.upright else 1]

    @property
    def upright(self) -> bool:
        """Whether it stands on upright paper, with the rest of its chapter: where lying paper would not draw it much larger."""
        return self._scales[0] <= _AS_LARGE * self._scales[1]

    @functools.cached_property
    def _scales(self) -> tuple[int, int]:
        """The scale on upright paper, and on paper on its side."""
        along, across = self.plan.size
        rooms = (
            (_ABREAST - 2 * _MARGIN, _TALL - _TOP - _FOOT - self._rows(len(self.build.vessels)) * 2.2 * ROW),
            (WIDE - 2 * _MARGIN - _KEY, HIGH - _TOP - _FOOT),
        )
        needs = (max(along / (wide * _POINT), across / (tall * _POINT)) for wide, tall in rooms)
        upright, lying = (next((one for one in _SCALES if one >= need), math.ceil(need)) for need in needs)
        return upright, lying

    @staticmethod
    def _rows(keyed: int) -> int:
        """How many lines of the key stand under an upright plan."""
        return math.ceil(keyed / _COLUMNS)

    def alt(self) -> str:
        """All that it says, in words."""
        said = [
            f"{piece.name}: its middle {LENGTH.text(piece.middle[0], self.system)} along and {LENGTH.text(piece.middle[1], self.system)} across"
            for piece in self.plan.pieces
        ]
        return f"{self.title()}. {'; '.join(said)}."

    # --- what is drawn

    def draw(self) -> None:
        """The yard, what stands in it, what runs between, and a scale to read it by."""
        self.points = 1 / (self.scale * _POINT)  # for a metre
        along, across = self.plan.size
        first = [self.plan.of(name)[0] for name in self.build.vessels]
        self.keyed = [piece.name for piece in first if not self._told(piece)]
        tall = across * self.points
        self.left, self.low = _MARGIN, _FOOT
        if self.upright:
            self.width, self.low = _ABREAST, _FOOT + self._rows(len(self.keyed)) * 2.2 * ROW
        else:
            tall = max(tall, 2.2 * ROW * (len(self.build.vessels) + 1))
        self.height = min(_TALL if self.upright else HIGH, _TOP + self.low + tall)
        self.word(4, self.height - 10, self.title(), room=self.width - 8, size=10, weight="bold")
        style = "-" if self.plan.yard else DASHED
        self.line([self._at(*p) for p in ((0, 0), (along, 0), (along, across), (0, across), (0, 0))], colour="ink", width=1.4, style=style)
        for piece in sorted(self.plan.pieces, key=lambda one: not one.below):
            self._vessel(piece)
        self._pipes()
        self._marks()
        self._ruler(along)

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return self.left + x * self.points, self.low + y * self.points

    def _ring(self, piece: Footprint) -> list[tuple[float, float]]:
        """Its outline on paper."""
        x, y = self._at(*piece.middle)
        round_ = [2 * math.pi * k / 72 for k in range(72)] if piece.radius else []
        wide = piece.radius * self.points
        return [(x + wide * math.cos(a), y + wide * math.sin(a)) for a in round_] or [self._at(*corner) for corner in piece.corners]

    def _heights(self, piece: Footprint) -> tuple[str, str]:
        vessel = self.build.vessels[piece.name]
        return high(vessel.si.floor, self.system), high(vessel.rim, self.system)

    def _room(self, piece: Footprint) -> tuple[float, float]:
        """How wide and how tall it is on paper, for words in it."""
        (xs, ys) = ([p[k] * self.points for p in piece.corners] for k in (0, 1))
        return max(xs) - min(xs) - 8, max(ys) - min(ys)

    def _told(self, piece: Footprint) -> list[str]:
        """Its heights as they stand in it, in one line or two; none where it is too small for its name and goes by a number."""
        ends, (room, tall) = self._heights(piece), self._room(piece)
        whole = " to ".join(ends)
        told = [whole] if self.measured(whole) <= room else [f"{ends[0]} to", ends[1]]
        return [] if room < _SMALL or tall < (1.5 + len(told)) * ROW or any(self.measured(line) > room for line in told) else told

    def _vessel(self, piece: Footprint) -> None:
        (x, y), ring = self._at(*piece.middle), self._ring(piece)
        vessel = self.build.vessels[piece.name]
        self.area(ring, "#E3EEDD" if vessel.grows else "#DCE9F2", order=2 if piece.below else 3)
        self.line([*ring, ring[0]], width=0.8, style=DASHED if piece.below else "-", order=4)
        if piece is not self.plan.of(piece.name)[0]:
            return
        if piece.radius and vessel.si.kind != "tower":  # the mark that the ways round it count from
            self.sign(x + piece.radius * self.points, y, "<", size=4.5)
        many = len(self.plan.of(piece.name))
        name = tidy(piece.name) + (f" (1 of {many} alike)" if many > 1 else "")
        told = self._told(piece)
        if not told:
            self._key(self.keyed.index(piece.name), (x, y), name, " to ".join(self._heights(piece)))
            return
        room = self._room(piece)[0]
        lines = self.wrapped(name, room, 2, weight="bold")
        y += 0.5 * (len(lines) + len(told) - 1) * ROW + (0.9 * ROW if piece.below else 0.0)
        for k, one in enumerate([*lines, *told]):
            self.word(x, y - k * ROW, one, room=room, align="center", weight="bold" if k < len(lines) else "normal", paper=True)

    def _key(self, place: int, spot: tuple[float, float], name: str, heights: str) -> None:
        """A number on a vessel, and beside the plan or under its ruler what it stands for."""
        self.tag(*spot, str(place + 1))
        room = (self.width - 2 * self.left) / _COLUMNS if self.upright else _KEY
        at, top = self.width - _KEY, self.height - _TOP - place * 2.2 * ROW
        if self.upright:
            at, top = self.left + 6 + place % _COLUMNS * room, self.low - 36 - place // _COLUMNS * 2.2 * ROW
        self.tag(at, top, str(place + 1))
        self.word(at + 10, top, name, room=room - 18, weight="bold")
        self.word(at + 10, top - ROW, heights, room=room - 18)

    def _pipes(self) -> None:
        """The way of each line, square: along first, then across."""
        for line in self.build.pumped.values():
            for pipe in line.si.pipe:
                if pipe.si.to:
                    self._way(line.si.source, pipe.si.to, {"colour": "water", "width": 1.6})
        for drop in self.build.drops.values():
            look = {"colour": "faint", "width": 0.9, "style": DASHED} if drop.si.emergency else {"colour": "air", "width": 1.2}
            self._way(drop.si.source, drop.si.to, look)

    def _way(self, source: str, to: str, look: dict) -> None:
        (ax, ay), (bx, by) = self.plan[source].middle, self.plan[to].middle
        off = 0.04 if look["colour"] == "water" else -0.04 if look["colour"] == "air" else 0.0
        self.line(
            [self._at(ax + off, ay + off), self._at(bx + off, ay + off), self._at(bx + off, by + off)], order=1 if off == 0 else 1.5, **look
        )

    def _marks(self) -> None:
        for name, spot in (("door", self.build.site.si.door), ("socket", self.build.site.si.socket)):
            if spot:
                x, y = self._at(*spot)
                self.tag(x, y, name[0].upper())
                self.word(x + 8, y, name, room=40)

    def _ruler(self, along: float) -> None:
        unit = 1.0 if self.system != "US" else 0.3048
        word = "m" if self.system != "US" else "ft"
        many = max(1, min(5, int(along / unit)))
        y = self.low - 18.0
        for k in range(many + 1):
            x = self.left + k * unit * self.points
            self.line([(x, y), (x, y + 4)], width=0.7)
            self.word(x, y - 5, str(k) + (f" {word}" if k == many else ""), room=30, align="center")
        self.line([(self.left, y), (self.left + many * unit * self.points, y)], width=0.7)
        printed = "" if self.system == "US" else f"; printed at 100 % on A4 it is 1 : {self.scale}"
        said = (
            f"Go by the ruler{printed}. Along is to the right, across is up; the yard's corner is at the lower left.",
            "Heights from the zero mark: inside floor to rim. A mark ◂ is what the way round counts from, clockwise from above.",
            "Dark blue runs are pumped, light ones fall, dashed ones are for emergencies; each square way is a proposal.",
        )
        for k, one in enumerate(reversed(said)):
            self.word(self.left, 6 + k * ROW, one, room=self.width - 2 * self.left)
        if not self.plan.told:
            words = f"Your file does not say where all of it stands (at): this is one way to set it out, with paths of {HEAD.text(self.plan.path, self.system)}."
            self.word(4, self.height - 22, words, room=self.width - 8)

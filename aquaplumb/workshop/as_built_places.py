"""Where things stand on the drawing of a build as built: across by their pipes, up and down by the ruler. Part of `as_built`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from aquaplumb.units import Bare
from aquaplumb.workshop.as_built_words import AsBuiltWords, switches
from aquaplumb.workshop.paper import WIDE

SMALL, TINY = 6.4, 5.8  # points of letters
MARGIN, RULER, LABELS = 4.0, 36.0, 76.0  # points: paper's edge; beside the ruler; for the table's own words
_NARROW = 12.0  # of one without words
_WORDS, APART = 40.0, 4.9  # points of a vessel's width kept for the words at its levels; from one word to the next
_SLOT, _TAG, _GAP = 4.2, 11.5, 7.0  # points from one pipe to the next, from one ring to the next, between vessels


@dataclass(frozen=True, slots=True)
class Place:
    """Where a vessel stands across [points]."""

    left: float
    right: float
    words: float  # where the words at its levels begin
    inner: float  # what they have
    room: float  # for what stands under it


@dataclass(frozen=True, slots=True)
class Mouth:
    """Where a pumped line ends."""

    line: str
    pipe: Bare  # of its record
    x: float  # points across


class _Need(NamedTuple):
    """What a vessel asks for across [points]."""

    name: str
    before: float  # the words at its levels
    inner: float  # for those words
    wide: float  # for the vessel
    strip: float  # for its switches, beside it


class AsBuiltPlaces(AsBuiltWords):
    """The places that `aquaplumb.workshop.as_built.AsBuilt` draws at."""

    # --- where things stand across

    def _plan(self, narrow: bool = False) -> None:
        """Slots for every pipe across its vessels, then the vessels' own places; `narrow`: words at the first bed's levels only."""
        order = {v.si.name: i for i, v in enumerate(self.vessels)}
        falls = [line.si for line in self.build.drops.values()]
        self.strips = {name: self._strip(name) for name in order}
        pumped = list(self.build.pumped.values())
        beds = [v.si.name for v in self.vessels if v.grows]
        self.silent = set(beds[1:]) if narrow else set()
        left: dict[tuple[str, str], float] = {}  # slots from the left wall, by what stands there
        right: dict[tuple[str, str], float] = {}  # and from the right wall
        needs = []
        for name, here in order.items():
            # What leaves to the far side stands inmost, runs lowest and ends first: so no pipe crosses another.
            comes = [f for f in falls if f.to == name]
            goes = sorted((f for f in falls if f.source == name), key=lambda f: -abs(order[f.to] - here))
            x = 4.0
            for f in sorted((f for f in comes if order[f.source] <= here), key=lambda f: (order[f.source], self._rank(f, order))):
                left["end", f.name], x = x, x + _SLOT
            for whole in self._lines(f for f in reversed(goes) if order[f.to] < here):
                left["start", whole], x = x + 0.3 * _TAG, x + _TAG
            before, x = x, 4.0
            for f in sorted((f for f in comes if order[f.source] > here), key=lambda f: (-order[f.source], self._rank(f, order))):
                right["end", f.name], x = x, x + _SLOT
            for whole in self._lines(f for f in reversed(goes) if order[f.to] >= here):
                if ("start", whole) not in left:
                    right["start", whole], x = x + 0.3 * _TAG, x + _TAG
            for line in pumped:
                if line.si.source == name:
                    right["pump", line.si.name], x = x + 0.5 * _TAG, x + _TAG + 2
            strip = 12 + max((self.measured(words, SMALL) for words, _ in self.strips[name]), default=-12.0)
            inner = _NARROW if name in self.silent else _WORDS
            needs.append(_Need(name, before, inner, before + inner + x, strip))
        least = sum(n.wide + n.strip + _GAP for n in needs)
        self.width = max(WIDE, (least + 2 * MARGIN) / (1 - (LABELS + RULER) / WIDE))
        if self.width > WIDE and not narrow and len(beds) > 1:
            return self._plan(narrow=True)
        self.larger = self.width / WIDE  # a drawing of many vessels is printed smaller: its tables are set larger
        self.own = (LABELS + RULER) * self.larger
        first = MARGIN + self.own
        spare = (self.width - MARGIN - first - least) / len(needs)
        self.places: dict[str, Place] = {}
        x = first
        for n in needs:
            wide = n.wide + min(0.6 * spare, 44.0)
            self.places[n.name] = Place(x, x + wide, x + n.before + (wide - n.wide) / 2, n.inner, wide + n.strip + 2)
            x += n.wide + n.strip + _GAP + spare
        self.edges = [self.places[n.name].left - _GAP / 2 for n in needs] + [self.width - MARGIN]
        self.across: dict[tuple[str, str], float] = {}
        for slots, wall, sign in ((left, "left", 1), (right, "right", -1)):
            for (what, name), slot in slots.items():
                record = {**self.build.drops, **self.build.lines}[name].si
                place = self.places[record.to if what == "end" else record.source]
                self.across[what, name] = getattr(place, wall) + sign * slot
        ends = [(line.si.name, pipe.si) for line in pumped for pipe in line.si.pipe if pipe.si.to]
        self.mouths = []  # they come from above, over the words
        for end in ends:
            same = [one for one in ends if one[1].to == end[1].to]
            place = self.places[end[1].to]
            self.mouths.append(Mouth(*end, place.words + (same.index(end) + 0.5) * place.inner / len(same)))
        self._order = order

    def _lines(self, drops) -> list[str]:
        """The lines that falling pipes belong to: one with branches leaves its vessel once."""
        return list(dict.fromkeys(self.build.line_of(f.name) for f in drops))

    def _rank(self, f, order: dict) -> int:
        """Which of its vessel's ways out it is, the farthest first."""
        goes = sorted(
            (g.si for g in self.build.drops.values() if g.si.source == f.source), key=lambda g: -abs(order[g.to] - order[f.source])
        )
        return [g.name for g in goes].index(f.name)

    def _strip(self, vessel: str) -> list[tuple[str, float]]:
        """(words, elevation) of the switches beside a vessel."""
        found = switches(self.build, vessel)
        several = len({line for *_, line in found}) > 1
        floor = self.build.vessels[vessel].si.floor
        return [(f"{self.letters[line] + ' ' if several else ''}{word} {self._depth(depth)}", floor + depth) for word, depth, line in found]

    # --- where things stand up and down

    def _heights(self, low: float, high: float) -> None:
        """The scale: between the two [points] stand all vessels, lips and mouths, and the pumped lines' lanes over them."""
        b = self.build
        tops = [v.rim for v in b.vessels.values()]
        others = (
            [f.si.lip for f in b.drops.values()]
            + [f.si.outlet for f in b.drops.values()]
            + [self._mouth(m.pipe) for m in self.mouths]
            + [0.0]
        )
        bottoms = [v.si.floor for v in b.vessels.values()]
        self.top = max(tops + others)
        self.bottom = min(bottoms + others)
        head = 20.0 + 11.0 * len(b.pumped)
        self.low, self.high = low, high
        self.metre = (high - head - low - 6) / (self.top - self.bottom)
        self.lanes = {name: high - 6.0 - 11.0 * k for k, name in enumerate(b.pumped)}

    def _y(self, height: float) -> float:
        return self.low + 6 + (height - self.bottom) * self.metre

    def _levels_of_lanes(self) -> dict[str, float]:
        """How high each falling pipe runs across [points]: over the rim that it goes to, but never over its lip."""
        found = {}
        for name, vessel in self.build.vessels.items():
            here = self._order[name]
            comes = [line.si for line in self.build.drops.values() if line.si.to == name]
            for side in (1, -1):
                own = [f for f in comes if (self._order[f.source] <= here) == (side == 1)]
                own.sort(key=lambda f: side * self.across["end", f.name])
                base = self._y(vessel.rim) + 5.0
                over = [
                    self._y(v.si.floor)
                    for n, v in self.build.vessels.items()
                    if any(min(self._order[f.source], here) <= self._order[n] <= max(self._order[f.source], here) for f in own)
                    and n != name
                    and self._y(v.si.floor) > base
                ]
                step = min(6.0, max(2.4, (min(over, default=base + 60.0) - base - 4.0) / max(1, len(own))))
                for k, f in enumerate(own):
                    found[f.name] = min(max(base, self._y(f.outlet)) + step * k, self._y(f.lip))
        return found

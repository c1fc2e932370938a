"""Where everything stands on the elevation as built: across, vessel by vessel and pipe by pipe; and up and down.

A sheet has the width of A4 on its side, and words of 7 points. What has no room stands closer; then vessels that are alike are drawn once;
then the rest goes to further sheets, each with the vessel that most lines end in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from aquaplumb.units import Bare
from aquaplumb.workshop.as_built_words import SWINGS, AsBuiltWords, WaterLevels, switches
from aquaplumb.workshop.paper import SIZE, WIDE

MARGIN, RULER, LABELS = 4.0, 36.0, 76.0  # points: paper's edge; beside the ruler; for the table's own words
NARROW = 12.0  # of one without words
WORDS, APART = 46.0, 4.9  # points of a vessel's width kept for the words at its levels; from one word to the next
SLOT, TAG, GAP = 4.2, 13.5, 7.0  # points from one pipe to the next, from one ring to the next, between vessels
DRY = 16.0  # points beside a vessel for a pump that stands dry
_LEAST = 34.0  # points that a number in the table under a vessel takes


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
    strip: float  # for its switches, and pumps that stand dry, beside it


class AsBuiltPlaces(AsBuiltWords):
    """All that `aquaplumb.workshop.as_built.AsBuilt` measures; what it draws is there.

    part: Which of its sheets, from 0 on.
    """

    def __init__(self, build, *, system: str | None = None, part: int = 0):
        super().__init__(build, system=system)
        self.alike = {v.si.name: [v.si.name] for v in self.vessels}
        self.parts = self._parts()
        self.part = min(part, len(self.parts) - 1)
        self._plan(*self.parts[self.part])

    # --- which vessels stand on which sheet

    def _parts(self) -> list[tuple[list[str], bool]]:
        """(vessels, whether only the first growing vessel has words) of each sheet."""
        names = [v.si.name for v in self.vessels]
        for narrow in (False, True):
            if self._fits(names, narrow):
                return [(names, narrow)]
        self.alike = self._groups()
        names = [name for name in names if name in self.alike]
        self.drawn = {name: _together([self.levels[one] for one in many]) for name, many in self.alike.items()}
        for narrow in (False, True):
            if self._fits(names, narrow):
                return [(names, narrow)]
        hub = max(names, key=lambda name: sum(line.si.to == name for line in self.build.drops.values()))
        found, ahead = [], [name for name in names if name != hub]
        while ahead:
            many = max((n for n in range(1, len(ahead) + 1) if self._fits([*ahead[:n], hub], False)), default=1)
            found.append(([name for name in names if name in ahead[:many] or name == hub], False))
            ahead = ahead[many:]
        return found

    def _fits(self, names: list[str], narrow: bool) -> bool:
        self._plan(names, narrow)
        return self.least <= WIDE - 2 * MARGIN - LABELS - RULER

    def _groups(self) -> dict[str, list[str]]:
        """The vessels that are alike in all that is drawn, by the first of them: same measures, levels within a centimetre, lines of one kind."""
        found: dict[str, list[str]] = {}
        pumps = {line.si.source for line in self.build.pumped.values()}
        for vessel in self.vessels:
            name = vessel.si.name
            same = [first for first in found if name not in pumps and first not in pumps and self._same(first, name)]
            found.setdefault(same[0] if same else name, []).append(name)
        return found

    def _same(self, one: str, other: str) -> bool:
        a, b = self.levels[one], self.levels[other]
        near = all(abs(getattr(a, key) - getattr(b, key)) <= SWINGS for key in ("low", "high", "rest", "cut"))
        return near and self._looks(one) == self._looks(other)

    def _looks(self, name: str) -> str:
        """All of a vessel and of its lines that a drawing shows, without their names."""
        v = {key: value for key, value in vars(self.build.vessels[name].si).items() if key not in ("name", "crop", "at", "turned")}
        falls = [
            (
                f.source == name,
                f.to if f.source == name else f.source,
                f.lip,
                f.outlet,
                f.emergency,
                f.intake,
                f.siphon and f.siphon.si.vent,
            )
            for f in (line.si for line in self.build.drops.values())
            if name in (f.source, f.to)
        ]
        ends = [(line.si.name, p.si.outlet) for line in self.build.pumped.values() for p in line.si.pipe if p.si.to == name]
        return repr((v, sorted(map(repr, falls)), sorted(map(repr, ends))))

    # --- where things stand across

    def _plan(self, names: list[str], narrow: bool) -> None:
        """Slots for every pipe across its vessels, then the vessels' own places; `narrow`: words at the first growing vessel's levels only."""
        self.shown = [v for v in self.vessels if v.si.name in names]
        order = {v.si.name: i for i, v in enumerate(self.shown)}
        far = len(order)  # what goes to another sheet goes far to the right
        falls = [line.si for line in self.build.drops.values() if line.si.source in order]
        self.drops = {f.name: self.build.drops[f.name] for f in falls if f.to in order}
        kept = {self.build.line_of(name) for name in self.drops}
        there = {one for many in self.alike.values() for one in many if many[0] in order}
        self.stubs = {f.name: self.build.drops[f.name] for f in falls if f.to not in there and self.build.line_of(f.name) not in kept}
        self.drawn_drops = {**self.drops, **self.stubs}
        falls = [line.si for line in self.drawn_drops.values()]
        self.strips = {name: self._strip(name) for name in order}
        pumped = list(self.build.pumped.values())
        beds = [v.si.name for v in self.shown if v.grows]
        self.silent = set(beds[1:]) if narrow else set()
        left: dict[tuple[str, str], float] = {}  # slots from the left wall, by what stands there
        right: dict[tuple[str, str], float] = {}  # and from the right wall
        needs = []
        for name, here in order.items():
            # What leaves to the far side stands inmost, runs lowest and ends first: so no pipe crosses another.
            comes = [f for f in falls if f.to == name]
            goes = sorted((f for f in falls if f.source == name), key=lambda f: -abs(order.get(f.to, far) - here))
            x = 4.0
            for f in sorted((f for f in comes if order[f.source] <= here), key=lambda f: (order[f.source], self._rank(f, order))):
                left["end", f.name], x = x, x + SLOT
            for whole in self._lines(f for f in reversed(goes) if order.get(f.to, far) < here):
                left["start", whole], x = x + 0.3 * TAG, x + TAG
            before, x = x, 4.0
            for f in sorted((f for f in comes if order[f.source] > here), key=lambda f: (-order[f.source], self._rank(f, order))):
                right["end", f.name], x = x, x + SLOT
            for whole in self._lines(f for f in reversed(goes) if order.get(f.to, far) >= here):
                if ("start", whole) not in left:
                    right["start", whole], x = x + 0.3 * TAG, x + TAG
            dry = 0.0
            for line in pumped:
                if line.si.source == name and line.si.pump_height is None:
                    right["pump", line.si.name], x = x + 0.5 * TAG, x + TAG + 2
                elif line.si.source == name:  # its suction goes out at the wall; the pump stands beside the vessel
                    right["inlet", line.si.name], x, dry = x + 0.5 * TAG, x + TAG, dry + DRY
                    right["pump", line.si.name] = 0.5 * DRY - dry
            self.dry = {**getattr(self, "dry", {}), name: dry}
            strip = dry + (12 + max((self.measured(words, SIZE) for words, _ in self.strips[name]), default=-12.0))
            inner = NARROW if name in self.silent else WORDS
            needs.append(_Need(name, before, inner, max(before + inner + x, _LEAST), strip))
        self.least = sum(n.wide + n.strip + GAP for n in needs)
        self.width, self.own = WIDE, LABELS + RULER
        first = MARGIN + self.own
        spare = max(0.0, self.width - MARGIN - first - self.least) / len(needs)
        self.places: dict[str, Place] = {}
        x = first
        for n in needs:
            wide = n.wide + min(0.6 * spare, 44.0)
            self.places[n.name] = Place(x, x + wide, x + n.before + (wide - n.wide) / 2, n.inner, wide + n.strip + 2)
            x += n.wide + n.strip + GAP + spare
        self.edges = [self.places[n.name].left - GAP / 2 for n in needs] + [self.width - MARGIN]
        self.across: dict[tuple[str, str], float] = {}
        for slots, wall, sign in ((left, "left", 1), (right, "right", -1)):
            for (what, name), slot in slots.items():
                record = {**self.build.drops, **self.build.lines}[name].si
                place = self.places[record.to if what == "end" else record.source]
                self.across[what, name] = getattr(place, wall) + sign * slot
        ends = [(line.si.name, pipe.si) for line in pumped for pipe in line.si.pipe if pipe.si.to in order]
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
        far = len(order)
        goes = sorted(
            (g.si for g in self.drawn_drops.values() if g.si.source == f.source),
            key=lambda g: -abs(order.get(g.to, far) - order[f.source]),
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
        tops = [v.rim for v in self.shown]
        dry = [line.si.pump_height for line in b.pumped.values() if line.si.pump_height is not None and line.si.source in self._order]
        others = (
            [f.si.lip for f in self.drawn_drops.values()]
            + [f.si.outlet for f in self.drops.values()]
            + [self._mouth(m.pipe) for m in self.mouths]
            + [0.0, *dry]
        )
        bottoms = [v.si.floor for v in self.shown]
        self.top = max(tops + others)
        self.bottom = min(bottoms + others)
        head = 22.0 + 11.0 * len(b.pumped)
        self.low, self.high = low, high
        self.metre = (high - head - low - 6) / (self.top - self.bottom)
        self.lanes = {name: high - 6.0 - 11.0 * k for k, name in enumerate(b.pumped)}

    def _y(self, height: float) -> float:
        return self.low + 6 + (height - self.bottom) * self.metre

    def _levels_of_lanes(self) -> dict[str, float]:
        """How high each falling pipe runs across [points]: over the rim that it goes to, but never over its lip."""
        found = {}
        for vessel in self.shown:
            name, here = vessel.si.name, self._order[vessel.si.name]
            comes = [line.si for line in self.drops.values() if line.si.to == name]
            for side in (1, -1):
                own = [f for f in comes if (self._order[f.source] <= here) == (side == 1)]
                own.sort(key=lambda f: side * self.across["end", f.name])
                base = self._y(vessel.rim) + 5.0
                over = [
                    self._y(v.si.floor)
                    for n, v in ((v.si.name, v) for v in self.shown)
                    if any(min(self._order[f.source], here) <= self._order[n] <= max(self._order[f.source], here) for f in own)
                    and n != name
                    and self._y(v.si.floor) > base
                ]
                step = min(6.0, max(2.4, (min(over, default=base + 60.0) - base - 4.0) / max(1, len(own))))
                for k, f in enumerate(own):
                    found[f.name] = min(max(base, self._y(f.outlet)) + step * k, self._y(f.lip))
        return found


def _together(levels: list[WaterLevels]) -> WaterLevels:
    """The levels of vessels that are alike, as one: the lowest of the low, the highest of the rest."""
    return WaterLevels(
        low=min(one.low for one in levels), high=max(one.high for one in levels), rest=max(one.rest for one in levels),
        cut=max(one.cut for one in levels), spilled=sum(one.spilled for one in levels), running_spill=sum(one.running_spill for one in levels),
        pump=levels[0].pump,
    )  # fmt: skip

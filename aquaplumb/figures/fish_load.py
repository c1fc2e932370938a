"""Pictures of the fish load: feed and waste as streams with their widths to scale, and what grows with the stocking density."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.patches import FancyBboxPatch, PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.ticker import MaxNLocator

from aquaplumb.figures.style import COLOURS, FONT, Picture
from aquaplumb.review.findings.stock import limit_words
from aquaplumb.units import BODY_MASS, MASS, MASS_RATE, OXYGEN_RATE, RATE, STOCKING, TEMPERATURE, rounded

_ACROSS = 150.0  # pixels that all the feed and oxygen of a day are wide


class FeedFlow(Picture):
    """What becomes of a day's feed: streams into the fish and out of them, as wide as their mass.

    It adds up: feed as it comes from the sack and the oxygen breathed are all that goes in. Out come carbon dioxide,
    dry solids, ammonia counted as its nitrogen, and the rest, which is growth and water. Its record is a
    `aquaplumb.whatif.fish_load.FishLoad`.
    """

    width, height = 640, 420

    def key(self, record):
        """All of it stands still, so that all of it is frame."""
        return record

    def frame(self, record) -> None:
        """The streams, from left to right."""
        r = record.si
        self.axes = self.figure.add_axes((0, 0, 1, (self.height - 34) / self.height))
        self.axes.set(xlim=(0, self.width), ylim=(0, self.height - 34))
        self.axes.axis("off")
        scale = _ACROSS / (r.feed + r.oxygen)
        high, left, right = 285.0, 196.0, 262.0
        top = high
        for name, amount, role, start in (("oxygen\nbreathed", r.oxygen, "air", 326.0), ("feed", r.feed, "warm", 196.0)):
            wide = amount * scale
            self._stream((104, start - wide / 2), (left, top - wide), wide, role)
            said = self._oxygen(amount, "\n") if role == "air" else self.text(MASS_RATE, amount)
            self._words(98, start, f"{name}\n{said}", align="right")
            top -= wide
        top = high
        for name, amount, role, end, where in self._outlets(r):
            wide = amount * scale
            self._stream((right, top - wide), (384, end - wide / 2), wide, role)
            if where:
                self._words(392, end, f"{name}: {self.text(MASS_RATE, amount)}\n{where}")
            top -= wide
        self._box(left, high - _ACROSS - 6, right - left, _ACROSS + 12, "the\nfish")
        wide = r.ammonia * scale
        self._words(304, 66, f"ammonia, as N:\n{self.text(MASS_RATE, r.ammonia)}", align="right")
        self._box(384, 24, 88, 44, f"bacteria on\n{r.bacteria}")
        self._stream((472, 46 - wide / 2), (562, 46 - wide / 2), wide, "plants")
        self._words(517, 68, "nitrate,\nthe same N", align="center")
        self._box(562, 26, 66, 40, "plants")
        self._words(8, 22, "Widths are to scale, mass a day.\nWhat goes in comes out.", quiet=True)

    @staticmethod
    def _outlets(r):
        """(name, amount, colour, height at its end, where it goes) of each stream that leaves the fish, from the top."""
        return (
            ("carbon dioxide", r.carbon_dioxide, "faint", 336.0, "to the air, where water falls"),
            ("growth and water", r.rest, "good", 240.0, "what is left of all that went in"),
            ("solids, dry", r.solids, "warm", 140.0, r.solids_go),
            ("ammonia", r.ammonia, "water", 46.0, ""),
        )

    def _stream(self, start, end, wide: float, role: str) -> None:
        (x0, y0), (x1, y1) = start, end
        middle = (x0 + x1) / 2
        points = [
            (x0, y0),
            (middle, y0),
            (middle, y1),
            (x1, y1),
            (x1, y1 + wide),
            (middle, y1 + wide),
            (middle, y0 + wide),
            (x0, y0 + wide),
            (x0, y0),
        ]
        codes = [Path.MOVETO, *[Path.CURVE4] * 3, Path.LINETO, *[Path.CURVE4] * 3, Path.CLOSEPOLY]
        alpha = 1.0 if role in ("water", "plants") else 0.6
        self.axes.add_patch(PathPatch(Path(points, codes), facecolor=COLOURS[role], linewidth=0, alpha=alpha, zorder=2))

    def _box(self, x: float, y: float, wide: float, high: float, text: str) -> None:
        box = FancyBboxPatch(
            (x, y), wide, high, boxstyle="round,pad=0,rounding_size=5", facecolor="white", edgecolor=COLOURS["ink"], linewidth=1.2, zorder=3
        )
        self.axes.add_patch(box)
        self._words(x + wide / 2, y + high / 2, text, align="center")

    def _words(self, x: float, y: float, text: str, *, align: str = "left", quiet: bool = False) -> None:
        self.axes.text(
            x,
            y,
            text,
            ha=align,
            va="center",
            fontsize=FONT - (0.8 if quiet else 0),
            color=COLOURS["ink"],
            linespacing=1.3,
            zorder=4,
            parse_math=False,
        )

    def move(self, record) -> None:
        """Nothing moves."""

    def _oxygen(self, amount: float, gap: str) -> str:
        """In the unit of the other streams and, where that is another, as it is told everywhere else."""
        same, told = self.text(MASS_RATE, amount), self.text(OXYGEN_RATE, amount)
        return same if same == told else f"{same}{gap}({told})"

    def title(self, record) -> str:
        """The finding, in a sentence."""
        r = record.si
        return f"Of {self.text(MASS_RATE, r.feed)} of feed, {self.text(MASS_RATE, r.ammonia)} leave as ammonia (as N), the stream that poisons."

    def alt(self, record) -> str:
        """The streams in words."""
        r = record.si

        breathed = self._oxygen(r.oxygen, " ")

        def text(amount):
            return self.text(MASS_RATE, amount)

        return (
            f"{self.title(record)} Into the fish go {text(r.feed)} of feed, as it comes from the sack, and {breathed} of oxygen that they breathe. "
            f"Out come {text(r.carbon_dioxide)} of carbon dioxide, which leaves to the air; {text(r.solids)} of dry solids, which {r.solids_go.partition(';')[0]}; "
            f"{text(r.ammonia)} of ammonia, counted as its nitrogen, which bacteria on {r.bacteria} turn to nitrate for the plants; and the rest, {text(r.rest)}, "
            "is growth and water. What goes in comes out."
        )


class StockPicture(Picture):
    """Fish, feed, used oxygen and ammonia against the stocking density: four small planes with one ruler below.

    Pale zones say what kind of aeration a density asks for. The rulers stand still until the point would leave them.
    Its record is a `aquaplumb.whatif.fish_load.FishLoad`.
    """

    width, height = 640, 430

    def key(self, record):
        """Where the rulers end."""
        return self._ends(record)

    @staticmethod
    def _ends(record) -> tuple:
        r, f = record.si, record.si.first
        density = 40.0 if max(r.density, f["density"]) <= 38 else 90.0 * math.ceil(r.density / 85)
        ends = []
        for name in ("biomass", "feed", "oxygen", "ammonia"):
            usual = f[name] / f["density"] * 40.0 * 1.2
            now = getattr(r, name) * 1.12
            ends.append(usual if now <= usual else usual * 2.0 ** math.ceil(math.log2(now / usual)))
        return density, *ends

    def frame(self, record) -> None:
        """Four planes, the zones of aeration and their words."""
        r = record.si
        x_end, *ends = self._ends(record)
        kinds = ((MASS, "fish"), (MASS_RATE, "feed"), (OXYGEN_RATE, "oxygen used"), (MASS_RATE, "ammonia, as N"))
        self.planes, self.lines, self.dots, self.numbers = [], [], [], []
        for place, ((kind, label), end) in enumerate(zip(kinds, ends)):
            box = (0.5 * (place % 2), 0.48 if place < 2 else 0.0, 0.5, 0.52 if place < 2 else 0.48)
            plane = self.plane(("stocking density", STOCKING, 0.0, x_end), (label, kind, 0.0, end), box=box)
            for ruler in (plane.axes.xaxis, plane.axes.yaxis):
                ruler.set_major_locator(MaxNLocator(4, steps=[1, 2, 2.5, 5, 10]))
            self._zones(plane, r, x_end)
            if place == 0:
                if x_end < r.most:  # else there is no room
                    plane.word("ink", still=True, align="right").put(r.limit - 0.012 * x_end, 0.015 * end, "air stones")
                plane.word("ink", still=True).put(r.limit + 0.012 * x_end, 0.015 * end, "blower, backup")
                if x_end > r.most:
                    plane.word("wrong", still=True).put(r.most + 0.012 * x_end, 0.015 * end, "too many")
            if place == 1:
                self.band, self.eaten = plane.band("warm"), plane.word("ink", align="right")
            self.planes.append(plane)
            self.lines.append(plane.curve("water"))
            self.dots.append(plane.dot("good"))
            number = plane.word("ink")
            number.artist.set(fontsize=FONT + 2.5, fontweight="bold")
            self.numbers.append(number)

    def _zones(self, plane, r, x_end: float) -> None:
        low, high = plane.axes.get_ylim()
        for start, stop, role in ((0.0, r.limit, "good"), (r.limit, r.most, "warm"), (r.most, x_end, "wrong")):
            if start < min(stop, x_end):
                wide = plane.x(min(stop, x_end)) - plane.x(start)
                zone = Rectangle(
                    (plane.x(start), low),
                    wide,
                    high - low,
                    facecolor=COLOURS[role],
                    alpha=0.10 if role != "wrong" else 0.2,
                    linewidth=0,
                    zorder=0.5,
                )
                plane.add(zone, still=True)

    def move(self, record) -> None:
        """The lines turn about their start; the points and numbers follow."""
        r = record.si
        x_end, *ends = self._ends(record)
        x = np.array([0.0, x_end])
        values = (r.biomass, r.feed, r.oxygen, r.ammonia)
        kinds = (MASS, MASS_RATE, OXYGEN_RATE, MASS_RATE)
        for line, dot, number, value, kind, end in zip(self.lines, self.dots, self.numbers, values, kinds, ends):
            line.put(x, value / r.density * x)
            dot.put(r.density, value, works=bool(r.works))
            number.put(0.03 * x_end, 0.85 * end, self.text(kind, value))
        self.band.put(x, r.eaten_low * r.volume * x, r.eaten_high * r.volume * x)
        self.eaten.put(0.985 * x_end, 0.015 * ends[1], self._eaten(r))

    def _eaten(self, r) -> str:
        size, warm = self.text(BODY_MASS, r.body_mass), self.text(TEMPERATURE, r.warm)
        if r.eaten_high <= 0:
            return f"at {warm} they eat nothing"
        return f"{size} at {warm}: {rounded(RATE.shown(r.eaten_low), 2)} to {rounded(RATE.shown(r.eaten_high), 2)} {RATE.unit()}"

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system)

    def alt(self, record) -> str:
        """What the four planes say."""
        r = record.si
        eats = (
            f"Print has fish of {self.text(BODY_MASS, r.body_mass)} at {self.text(TEMPERATURE, r.warm)} eat {self.text(RATE, r.eaten_low)} to {self.text(RATE, r.eaten_high)}."
            if r.eaten_high > 0
            else f"At {self.text(TEMPERATURE, r.warm)} they eat nothing."
        )
        return (
            f"{record.sentence(self.system)} Four straight lines that rise with the stocking density. At {self.text(STOCKING, r.density)}: "
            f"{self.text(MASS, r.biomass)} of fish, {self.text(MASS_RATE, r.feed)} of feed, {self.text(OXYGEN_RATE, r.oxygen)} of oxygen used, "
            f"{self.text(MASS_RATE, r.ammonia)} of ammonia (as N). Air stones serve to {limit_words(self.text, r.limit)}; a blower with a backup to "
            f"{limit_words(self.text, r.most)}; past that are too many fish. {eats}"
        )

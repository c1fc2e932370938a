"""Pictures of the beds: one cut open, to scale; and area, media and floor load against what is needed."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
from matplotlib.collections import EllipseCollection
from matplotlib.lines import Line2D
from matplotlib.patches import Ellipse, Rectangle

from aquaplumb.figures.style import COLOURS, FONT, WRITTEN, Picture
from aquaplumb.units import AREA, DEPTH, FLOOR_LOAD, MASS, NUMBER, VOLUME

_SOLIDS = 0.04  # m: the layer in which solids gather, 3 to 5 cm; FAO 589 (2014) §4.3, from memory
_GRAIN = 0.025  # m, where a medium's name has no size in it: balls, caps and plastic shapes
_BOARD = 0.03  # m: of foam, or a cover; common practice, no source
_LEFT, _RIGHT, _FLOOR = 82.0, 196.0, 62.0  # pixels for words at the sides, and from the lower edge up to the floor


class BedSection(Picture):
    """A bed cut open, all of it to one scale: media, flood level, drain, layers, plants and what it weighs.

    Its record is a `aquaplumb.whatif.beds_media.BedsMedia`.
    """

    width, height = 640, 306

    def key(self, record):
        """All of it stands still, so that all of it is frame."""
        return record

    def frame(self, record) -> None:
        """The bed, from the floor up."""
        r = record.si
        roof = self.height - 34
        self.axes = self.figure.add_axes((0, 0, 1, roof / self.height))
        self.axes.set(xlim=(0, self.width), ylim=(0, roof))
        self.axes.axis("off")
        beside = max(_LEFT, 30 + 7.0 * len(self.text(DEPTH, r.media_depth))) if r.medium else _LEFT  # a tape's sixteenths are long
        room = self.width - beside - _RIGHT
        self.scale_of = min(room / r.across, (roof - _FLOOR - 14) / (r.height + 0.22))  # pixels for a metre; plants on top
        self.wide = r.across * self.scale_of
        self.left = beside + (room - self.wide) / 2
        self.ground = r.media_depth if r.media_depth is not None else r.flood + _BOARD if r.kind == "raft" else r.height
        self._water(r)
        if r.medium:
            self._grains(r)
        else:
            self._cover(r)
        if r.kind in ("bed", "raft"):
            self._drain(r)
        self._plants(r)
        self._walls(r)
        self._layers(r)
        self._weight(r)

    def _y(self, height: float) -> float:
        return _FLOOR + height * self.scale_of

    def _water(self, r) -> None:
        look: dict[str, Any] = {"facecolor": COLOURS["air"], "alpha": 0.4, "linewidth": 0, "zorder": 1}
        self.axes.add_patch(Rectangle((self.left, _FLOOR), self.wide, r.flood * self.scale_of, **look))

    def _grains(self, r) -> None:
        """Grains of the medium at their own size, in rows with a little disorder."""
        grain = max(_grain(r.medium) * self.scale_of, 3.2)
        chance = np.random.default_rng(2)
        rows, columns = int(r.media_depth * self.scale_of / (0.9 * grain)), int(self.wide / grain)
        y, x = np.mgrid[0:rows, 0:columns].astype(float)
        x = (x + 0.5 * (y % 2) + chance.uniform(-0.13, 0.13, x.shape) + 0.25) * self.wide / (columns + 0.25)
        y = (y + 0.5 + chance.uniform(-0.12, 0.12, y.shape)) * r.media_depth * self.scale_of / max(rows, 1)
        at = np.column_stack([self.left + x.ravel(), _FLOOR + y.ravel()])
        at = at[at[:, 0] < self.left + self.wide - 0.4 * grain]
        size = grain * chance.uniform(0.74, 0.98, len(at))
        self.axes.add_collection(EllipseCollection(
            size, size * chance.uniform(0.8, 1.0, len(at)), chance.uniform(0, 180, len(at)), units="xy", offsets=at,
            transOffset=self.axes.transData, facecolor="#C9B8A4", edgecolor="white", linewidth=0.3, alpha=0.85, zorder=2,
        ))  # fmt: skip

    def _cover(self, r) -> None:
        """The boards of a raft on the water, or the lid of a channel or tower: what plants stand in."""
        high = _BOARD * self.scale_of
        self.axes.add_patch(
            Rectangle((self.left, self._y(self.ground) - high), self.wide, high, facecolor="#C9B8A4", linewidth=0, zorder=2)
        )

    def _drain(self, r) -> None:
        """The standpipe in its guard, down through the floor of the bed."""
        if r.lip is None:
            return
        bore = max(r.drain_bore * self.scale_of, 4.0)
        middle = self.left + 0.16 * self.wide
        guard = max(0.11 * self.scale_of, 4 * bore)
        self.axes.add_patch(
            Rectangle(
                (middle - guard / 2, _FLOOR),
                guard,
                (r.height + 0.02) * self.scale_of,
                facecolor="white",
                alpha=0.75,
                linewidth=0,
                zorder=2.5,
            )
        )
        water = min(r.flood, r.height) * self.scale_of
        self.axes.add_patch(
            Rectangle((middle - guard / 2, _FLOOR), guard, water, facecolor=COLOURS["air"], alpha=0.4, linewidth=0, zorder=2.6)
        )
        for side in (-0.5, 0.5):
            self._line([middle + side * guard] * 2, [_FLOOR, self._y(r.height + 0.02)], dashes=(2, 2))
        self.axes.add_patch(
            Rectangle(
                (middle - bore / 2, _FLOOR - 12),
                bore,
                12 + r.lip * self.scale_of,
                facecolor="white",
                edgecolor=COLOURS["ink"],
                linewidth=1.3,
                zorder=3,
            )
        )

    def _plants(self, r) -> None:
        count = max(1, round(r.across * math.sqrt(r.spacing)))
        for place in range(count):
            x = self.left + (place + 0.5) / count * self.wide
            if r.lip is not None and abs(x - self.left - 0.16 * self.wide) < 0.075 * self.scale_of:
                continue  # nothing grows in the drain's guard
            foot, size = self._y(self.ground), min(0.15, 0.75 * r.across / count) * self.scale_of
            for lean, tall in ((-32, 0.85), (32, 0.85), (0, 1.0)):
                turn = math.radians(lean)
                leaf = Ellipse(
                    (x + 0.42 * size * tall * math.sin(turn), foot + 0.42 * size * tall * math.cos(turn)),
                    0.34 * size,
                    0.9 * size * tall,
                    angle=-lean,
                )
                leaf.set(facecolor=COLOURS["good"], alpha=0.75, linewidth=0, zorder=3.2)
                self.axes.add_patch(leaf)
            for slant in (-0.35, -0.05, 0.3):
                self._line(
                    [x, x + slant * size],
                    [foot, foot - min(0.14, 0.6 * self.ground) * self.scale_of * (1 - 0.4 * abs(slant))],
                    thin=0.8,
                    role="good",
                )

    def _walls(self, r) -> None:
        top = self._y(r.height)
        self._line([self.left, self.left, self.left + self.wide, self.left + self.wide], [top, _FLOOR, _FLOOR, top], thin=2.4)
        self._line([20, self.left + self.wide + 20], [_FLOOR - 14, _FLOOR - 14], thin=1.0, role="faint")

    def _layers(self, r) -> None:
        """Words at the right for each layer, and the depth of the media at the left."""
        if not r.medium:
            return self._bare_layers(r)
        dry, wet = r.media_depth - r.flood, min(r.flood, r.media_depth)
        lip = "" if r.lip is None else ",\nthe drain's lip" if abs(r.lip - r.flood) < 0.01 else f";\ndrain's lip {self.text(DEPTH, r.lip)}"
        rows = [
            (
                r.media_depth - dry / 2 if dry > 0 else r.media_depth,
                f"dry top, {self.text(DEPTH, dry)}:\nno slime, no flies" if dry > 0.004 else "✖ no dry top:\nslime and flies",
            ),
            (r.flood, f"flood level {self.text(DEPTH, r.flood)}{lip}"),
            (0.5 * (wet + _SOLIDS), f"roots, {self.text(DEPTH, max(0.0, wet - _SOLIDS))}:\nwet, then full of air"),
            (0.5 * _SOLIDS, f"solids, {self.text(DEPTH, _SOLIDS)}:\nworms and bacteria"),
        ]
        edge = self.left + self.wide
        for (height, words), place in zip(rows, _apart([self._y(height) for height, _ in rows], 39.0)):
            self._line([edge + 3, edge + 12, edge + 20], [self._y(height), place, place], thin=0.9, role="faint")
            wrong = words.startswith("✖")
            self._words(edge + 24, place, words, role="wrong" if wrong else "ink")
        self._line([self.left - 4, edge], [self._y(_SOLIDS)] * 2, thin=0.8, role="ink", dashes=(4, 3))
        self._line([self.left - 4, edge], [self._y(r.flood)] * 2, thin=1.6, role="water")
        arrow = {"arrowstyle": "<->", "color": COLOURS["ink"], "linewidth": 1.0, "shrinkA": 0, "shrinkB": 0}
        self.axes.annotate("", (self.left - 12, _FLOOR), (self.left - 12, self._y(r.media_depth)), arrowprops=arrow)
        self._words(self.left - 18, self._y(r.media_depth / 2), f"media\n{self.text(DEPTH, r.media_depth)}", align="right")

    def _bare_layers(self, r) -> None:
        """The same where no media are: what plants stand in, and the water."""
        what = {"raft": "boards with plants"}.get(r.kind, "cover with plants")
        water = f"water {self.text(DEPTH, r.flood)}\n{'deep' if r.kind == 'raft' else 'at its foot'}"
        rows = [(self.ground, what), (r.flood, f"{water}: roots\n{'hang in it' if r.kind == 'raft' else 'stand in a film'}")]
        edge = self.left + self.wide
        for (height, words), place in zip(rows, _apart([self._y(height) for height, _ in rows], 39.0)):
            self._line([edge + 3, edge + 12, edge + 20], [self._y(height), place, place], thin=0.9, role="faint")
            self._words(edge + 24, place, words)
        self._line([self.left - 4, edge], [self._y(r.flood)] * 2, thin=1.6, role="water")

    def _weight(self, r) -> None:
        carries = f"the floor carries {self.text(FLOOR_LOAD, r.rating)}" if r.rating is not None else "what the floor carries is not known"
        self._words(
            min(self.left, 160.0), 22, f"full to the rim {self.text(MASS, r.mass)}: {f'media {self.text(MASS, r.mass_media)}, ' if r.medium else ''}"
            f"water {self.text(MASS, r.mass_water)}, box {self.text(MASS, r.mass_box)}\n{self.text(FLOOR_LOAD, r.load)} spread over its floor; {carries}",
        )  # fmt: skip

    def _line(self, x, y, *, thin: float = 1.2, role: str = "ink", dashes: tuple | None = None) -> None:
        line = Line2D(x, y, color=COLOURS[role], linewidth=thin, zorder=4, solid_capstyle="round")
        if dashes:
            line.set_linestyle((0, dashes))
        self.axes.add_line(line)

    def _words(self, x: float, y: float, text: str, *, align: str = "left", role: str = "ink") -> None:
        self.axes.text(x, y, text, ha=align, va="center", fontsize=FONT, color=WRITTEN[role], linespacing=1.3, zorder=5, parse_math=False,
                       bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5})  # fmt: skip

    def move(self, record) -> None:
        """Nothing moves."""

    def title(self, record) -> str:
        """The finding, in a sentence."""
        r = record.si
        mass = self.text(MASS, r.mass)
        start = f"{r.heavy[:1].upper()}{r.heavy[1:]} would weigh {mass} full to the rim"
        if r.rating is not None and r.load > r.rating:
            return f"{start}, which is too much for this floor."
        if not r.medium:
            return f"{start}; the water stands {self.text(DEPTH, r.flood)} deep."
        return f"{start}; it floods {self.text(DEPTH, min(r.flood, r.media_depth))} of its {self.text(DEPTH, r.media_depth)} of media."

    def alt(self, record) -> str:
        """The section in words."""
        r = record.si
        if not r.medium:
            held = "boards that float on it, roots hanging down" if r.kind == "raft" else "a cover over it, roots in a film"
            return (
                f"{self.title(record)} A cut through it, to scale: plants in {held}, in a box {self.text(DEPTH, r.height)} deep. "
                f"Full to the rim: water {self.text(MASS, r.mass_water)}, box {self.text(MASS, r.mass_box)}; {self.text(FLOOR_LOAD, r.load)} spread over its floor."
            )
        dry = r.media_depth - r.flood
        top = f"The top {self.text(DEPTH, dry)} stays dry" if dry > 0.004 else "No layer at the top stays dry"
        lip = f" The drain's lip is at {self.text(DEPTH, r.lip)}." if r.lip is not None else ""
        carries = f"; the floor carries {self.text(FLOOR_LOAD, r.rating)}" if r.rating is not None else ""
        return (
            f"{self.title(record)} A cut through it, to scale: {self.text(DEPTH, r.media_depth)} of {r.medium} in a box {self.text(DEPTH, r.height)} deep. "
            f"Water floods it to {self.text(DEPTH, r.flood)}.{lip} {top}; below are the roots, and in the lowest {self.text(DEPTH, _SOLIDS)} the solids with worms and bacteria. "
            f"Full to the rim: media {self.text(MASS, r.mass_media)}, water {self.text(MASS, r.mass_water)}, box {self.text(MASS, r.mass_box)}; "
            f"{self.text(FLOOR_LOAD, r.load)} spread over its floor{carries}."
        )


class MediaPicture(Picture):
    """Bars in three groups: growing area, media, floor load; what is needed above what is there.

    Thin lines over the bars are bands: of the crop, and of the bacteria's rate. The rulers stand still until a bar
    would leave them. Its record is a `aquaplumb.whatif.beds_media.BedsMedia`.
    """

    width, height = 640, 430

    def key(self, record):
        """Where the rulers end."""
        return self._ends(record)

    @staticmethod
    def _ends(record) -> tuple:
        r, f = record.si, record.si.first
        usual = (
            1.5 * max(f["area"], f["area_needed"]),
            1.3 * max(f["media"], f["rule"], 1.5 * f["minimum_high"]),
            1.9 * max(f["load"], r.rating or 0.0),
        )
        if not r.medium:
            usual = (usual[0], 1.3 * max(f["surface"], 1.5 * f["needed"]), usual[2])
            now = (1.35 * max(r.area, r.area_high), 1.3 * max(r.surface, r.needed), 1.4 * r.load)
            return tuple(end if need <= end else end * 2.0 ** math.ceil(math.log2(need / end)) for end, need in zip(usual, now))
        now = (1.35 * max(r.area, r.area_high), max(1.2 * r.media, 1.2 * r.rule, 1.75 * r.minimum_high), 1.4 * r.load)
        return tuple(end if need <= end else end * 2.0 ** math.ceil(math.log2(need / end)) for end, need in zip(usual, now))

    def frame(self, record) -> None:
        """Three planes with the words at their left."""
        ends = self._ends(record)
        left = 0.145
        groups = (
            ("growing area", AREA, 2, 0.655, 0.345),
            ("media", VOLUME, 3, 0.255, 0.40) if record.si.medium else ("surface for bacteria", AREA, 2, 0.255, 0.40),
            ("load on the floor", FLOOR_LOAD, 1, 0.0, 0.255),
        )
        r = record.si
        many = "beds" if r.medium else r.words if len(r.words) < 10 else "all"
        middle = ("calculated minimum", "rule with margin", "in the beds") if r.medium else ("ammonia needs", "there is")
        names = (("the feed supports", f"the {many} have"), middle, (f"heaviest {r.kind}",))
        self.bars = []
        for (label, kind, rows, low, high), end, words in zip(groups, ends, names):
            plane = self.plane((label, kind, 0.0, end), ("", NUMBER, 0.0, float(rows)), box=(left, low, 1 - left, high))
            plane.axes.grid(False, axis="y")
            plane.axes.set_yticks([rows - 0.5 - place for place in range(rows)], words)
            plane.axes.tick_params(axis="y", length=0)
            self.bars.append([_Bar(plane, rows - 0.5 - place, end) for place in range(rows)])
            self.last = plane
        self.limit = self.last.mark("needed")
        self.bars[2][0].word.artist.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 0.5})  # it may stand on that mark

    def move(self, record) -> None:
        """Each bar to its length."""
        r = record.si
        (supports, have), middle, (load,) = self.bars
        supports.put(r.area_needed, f"{self.text(AREA, r.area_needed)}", "plants", band=(r.area_low, r.area_high))
        short = r.area < 0.5 * r.area_low  # as the review has it
        have.put(
            r.area, f"{self.text(AREA, r.area)}: {'✖ too little' if short else f'{r.plants:.0f} plants'}", "wrong" if short else "good"
        )
        self._media(r, middle) if r.medium else self._surface(r, middle)
        heavy = r.rating is not None and r.load > r.rating
        load.put(r.load, self.text(FLOOR_LOAD, r.load) + (" ✖ too heavy" if heavy else ""), "wrong" if heavy else "good")
        if r.rating is None:
            self.limit.hide()
        else:
            self.limit.put(r.rating, f"the floor carries {self.text(FLOOR_LOAD, r.rating)}")
            self.limit.word.artist.set_y(0.76)

    def _surface(self, r, bars) -> None:
        needs, there = bars
        needs.put(r.needed, self.text(AREA, r.needed), "water")
        lack = r.surface < r.needed
        there.put(r.surface, self.text(AREA, r.surface) + (" ✖ too little" if lack else ""), "wrong" if lack else "good")

    def _media(self, r, bars) -> None:
        least, rule, media = bars
        least.put(
            r.minimum, f"{self.text(VOLUME, r.minimum)} ({self.text(VOLUME, r.minimum_low).split()[0]} to {self.text(VOLUME, r.minimum_high)})", "water",
            band=(r.minimum_low, r.minimum_high),
        )  # fmt: skip
        rule.put(r.rule, self.text(VOLUME, r.rule), "faint")
        lack = r.media < r.minimum
        media.put(r.media, self.text(VOLUME, r.media) + (" ✖ too little" if lack else ""), "wrong" if lack else "good")

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system)

    def alt(self, record) -> str:
        """The bars in words."""
        r = record.si
        floor = (
            f", the floor carries {self.text(FLOOR_LOAD, r.rating)}" if r.rating is not None else ", what the floor carries is not known"
        )
        if not r.medium:
            return (
                f"{record.sentence(self.system)} Growing area: the feed supports {self.text(AREA, r.area_needed)}, the {r.words} have {self.text(AREA, r.area)}, "
                f"room for {r.plants:.0f} plants. Surface for bacteria: {self.text(AREA, r.needed)} needed at a {r.rate} rate, {self.text(AREA, r.surface)} there. "
                f"The heaviest {r.kind} presses with {self.text(FLOOR_LOAD, r.load)}{floor}."
            )
        return (
            f"{record.sentence(self.system)} Growing area: the feed supports {self.text(AREA, r.area_needed)} ({self.text(AREA, r.area_low)} to {self.text(AREA, r.area_high)} "
            f"by the band of {r.crop}), the beds have {self.text(AREA, r.area)}, room for {r.plants:.0f} plants. Media: the calculated minimum is {self.text(VOLUME, r.minimum)} "
            f"at a {r.rate} rate ({self.text(VOLUME, r.minimum_low)} to {self.text(VOLUME, r.minimum_high)} over the band of rates), the rule with margin asks for "
            f"{self.text(VOLUME, r.rule)}, the beds hold {self.text(VOLUME, r.media)} of {r.medium}. The heaviest bed presses with {self.text(FLOOR_LOAD, r.load)}{floor}."
        )


class _Bar:
    """A bar with a number at its end and, where there is one, a band as a thin line across it."""

    def __init__(self, plane, y: float, end: float):
        self.plane, self.y, self.end = plane, y, end
        self.bar = plane.add(Rectangle((0, y - 0.3), 0, 0.6, linewidth=0, zorder=3))
        self.band = plane.add(Line2D([], [], color=COLOURS["ink"], linewidth=1.4, marker="|", markersize=8, zorder=4))
        self.word = plane.word("ink")
        self.word.artist.set_va("center")

    def put(self, value: float, text: str, role: str, band: tuple | None = None) -> None:
        """Run the bar to `value` and say `text` after it."""
        self.bar.set(
            width=float(self.plane.x(value)), facecolor=COLOURS[role], hatch="////" if role == "wrong" else None, edgecolor="white"
        )
        self.band.set_visible(band is not None)
        last = value
        if band is not None:
            self.band.set_data(self.plane.x(np.array(band)), [self.y, self.y])
            last = max(value, band[1])
        self.word.put(last + 0.012 * self.end, self.y, text)


def _grain(medium: str) -> float:
    """The size of a medium's grains [m], from its name."""
    sizes = [float(size) for size in re.findall(r"(\d+(?:\.\d+)?)(?=[-\d. ]*mm)", medium)]
    return sum(sizes) / len(sizes) / 1000 if sizes else _GRAIN


def _apart(heights: list[float], gap: float) -> list[float]:
    """The heights, from the top down, moved so that words there do not overlap."""
    placed = list(heights)
    for place in range(1, len(placed)):
        placed[place] = min(placed[place], placed[place - 1] - gap)
    rise = max(0.0, (_FLOOR - 8) - placed[-1])  # words do not sink below the floor
    return [height + rise for height in placed]

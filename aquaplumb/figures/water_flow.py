"""The picture of how much water has to move: what each need asks for, beside what comes."""

from __future__ import annotations

import math

from matplotlib.patches import Rectangle

from aquaplumb.figures.style import COLOURS, FONT, WRITTEN, Picture, round_up
from aquaplumb.units import CONCENTRATION, FLOW, NUMBER, in_percent

TANK = ("turnover", "oxygen", "carbon dioxide")  # the needs that are met through the fish tank
_BAR = 0.56  # of a row's height
_LETTER = 6.6  # pixels that a letter takes, on the wide side
_LEFT = 192  # pixels for names and numbers


class FlowPicture(Picture):
    """Bars for the flow that each need asks for, in three groups; an upright line in each for the flow that comes.

    Its record is a `aquaplumb.whatif.water_flow.WaterFlow`.
    """

    width, height = 640, 400

    def key(self, record):
        """The ruler and the rows: they stay as a slider moves."""
        return record.si.first, tuple(line.name for line in record.si.lines)

    def frame(self, record) -> None:
        """The ruler, and the words that name each bar."""
        lines = record.si.lines
        self.end = flow_end(1.7 * record.si.first)
        left = (_LEFT - 58) / self.width
        rows = 7.7 + len(lines)
        plane = self.plane(("flow", FLOW, 0.0, self.end), ("", NUMBER, 0.0, rows), box=(left, 0.0, 1.0 - left - 10 / self.width, 1.0))
        plane.axes.yaxis.set_visible(False)
        self.across = plane.axes.get_window_extent().width / self.scale  # pixels
        self.tank_come = _Head(self, plane, rows - 0.35, f"Through {record.si.tank} (upright line: what comes):")
        self.tank = {name: _Row(self, plane, rows - 1.15 - place, name) for place, name in enumerate(TANK)}
        self.bed_come = _Head(self, plane, rows - 4.1, f"Through the {record.si.beds} (upright line: what comes):")
        self.bed = _Row(self, plane, rows - 4.9, "ammonia")
        self.poison = _Head(self, plane, rows - 5.65, "", heavy=False)
        _Head(self, plane, rows - 6.7, "What the pump must bring while it runs (upright line: what it brings)")
        self.pumps = [_Row(self, plane, rows - 7.55 - place, _short(line.name)) for place, line in enumerate(lines)]

    def move(self, record) -> None:
        """The bars, the lines of what comes, and the words that say it."""
        r = record.si
        self.tank_come.put(self.text(FLOW, r.tank_flow))
        for name, row in self.tank.items():
            need = getattr(r, name.replace(" ", "_"))
            row.put(need, r.tank_flow, self._short_of(need, r.tank_flow), heavy=name == r.governs)
        self.bed_come.put(self.text(FLOW, r.bed_flow))
        self.bed.put(r.ammonia, r.bed_flow, self._short_of(r.ammonia, r.bed_flow))
        self.poison.put(self._poison(r), wrong=r.unionised > r.harm)
        for line, row in zip(r.lines, self.pumps):
            row.put(line.wanted, line.flow, f"brings {'' if line.flow >= line.wanted else 'only '}{self.text(FLOW, line.flow)}")

    def _short_of(self, need: float, comes: float) -> str:
        if need <= comes * (1 + 1e-9):
            return ""
        return f"✖ short by {self.text(FLOW, need - comes)}" if need < math.inf else "✖ no flow is enough"

    def _poison(self, r) -> str:
        poison = self.text(CONCENTRATION, float(f"{r.unionised:.2g}"))
        return f"{'✖ ' if r.unionised > r.harm else ''}of the ammonia allowed, {poison} is poison; gills are hurt above {self.text(CONCENTRATION, r.harm)}"

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        asked = ", ".join(f"{name} {self.flow(getattr(r, name.replace(' ', '_')))}" for name in TANK)
        lines = " ".join(
            f"While it runs ({in_percent(line.duty)} of the time), {line.name} must bring {self.flow(line.wanted)} {line.why}; it brings {self.flow(line.flow)}."
            for line in r.lines
        )
        return (
            f"{record.sentence(self.system, short=True)} Through {r.tank} come {self.flow(r.tank_flow)}; asked for are: {asked}. "
            f"Through the {r.beds} come {self.flow(r.bed_flow)}; ammonia asks for {self.flow(r.ammonia)}. {lines} "
            f"Of the {self.text(CONCENTRATION, r.limit)} of ammonia allowed (as N), {self.text(CONCENTRATION, r.unionised)} is poison at "
            f"pH {r.ph:.3g}; gills are hurt above {self.text(CONCENTRATION, r.harm)}."
        )

    def flow(self, flow: float) -> str:
        """A flow as it is read; one that no pump can bring is infinite."""
        return self.text(FLOW, flow) if math.isfinite(flow) else "no end"


class _Head:
    """A heading that stands still, if any, and the words after it that move."""

    def __init__(self, picture: FlowPicture, plane, middle: float, text: str, *, heavy: bool = True):
        still = plane.axes.text(
            (18 - _LEFT) / picture.across if heavy else 0.0, middle, text, transform=plane.axes.get_yaxis_transform(), va="center",
            fontsize=FONT + (0.5 if heavy else -0.5), weight="bold" if heavy else "normal", color=COLOURS["ink"], zorder=4,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
        )  # fmt: skip
        right = (still.get_window_extent().x1 - plane.axes.get_window_extent().x0) / picture.scale + 5 if text else 18 - _LEFT
        self.middle, self.place = middle, right / picture.across * picture.end
        self.word = plane.word("ink")
        self.word.artist.set(va="center", fontsize=still.get_fontsize(), weight=still.get_weight(), clip_on=False)
        self.word.artist.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 1.5})

    def put(self, text: str, *, wrong: bool = False) -> None:
        """Say the number."""
        self.word.put(self.place, self.middle, text)
        self.word.artist.set_color(WRITTEN["wrong" if wrong else "ink"])


class _Row:
    """One bar with its name and number at the left, the part that is short, and the line of what comes."""

    def __init__(self, picture: FlowPicture, plane, middle: float, name: str):
        self.picture, self.plane, self.middle = picture, plane, middle
        plane.axes.text(-82 / picture.across, middle, name, transform=plane.axes.get_yaxis_transform(), ha="right", va="center",
                        fontsize=FONT + 0.5, color=COLOURS["ink"], parse_math=False)  # fmt: skip
        self.bar, self.short = self._box("water"), self._box("wrong", hatch="////")
        self.line = plane.curve("pump")
        self.number, self.word = plane.word("ink", align="right"), plane.word("ink")
        self.number.artist.set(va="center", clip_on=False)
        self.word.artist.set_va("center")

    def _box(self, role: str, hatch: str = ""):
        box = Rectangle((0, self.middle - _BAR / 2), 0, _BAR, facecolor=COLOURS[role], edgecolor="white" if hatch else "none",
                        linewidth=0, hatch=hatch, zorder=2.5)  # fmt: skip
        return self.plane.add(box)

    def put(self, need: float, comes: float, said: str, *, heavy: bool = True) -> None:
        """The bar to `need`, hatched beyond what `comes`; `said` stands at its end."""
        plane, end = self.plane, self.picture.end
        shown = min(need, end)
        solid = min(shown, comes)
        self.bar.set(width=plane.x(solid), alpha=1.0 if heavy else 0.45)
        self.short.set(x=plane.x(solid), width=plane.x(shown - solid), visible=bool(shown > solid))
        high = 0.5 * _BAR + 0.14
        self.line.artist.set(data=([plane.x(comes)] * 2, [self.middle - high, self.middle + high]), visible=bool(comes <= end))
        self.number.put(-8 / self.picture.across * end, self.middle, self.picture.flow(need))
        self._say(said, max(shown, min(comes, end)))

    def _say(self, text: str, after: float) -> None:
        """The words right of the bar where there is room, else upon it."""
        end, pixel = self.picture.end, self.picture.end / self.picture.across
        inside = after + (8 + _LETTER * len(text)) * pixel > end
        self.word.put(end - 6 * pixel if inside else after + 8 * pixel, self.middle, text)
        self.word.artist.set_ha("right" if inside else "left")
        self.word.artist.set_bbox({"facecolor": "white", "edgecolor": "none", "alpha": 0.9, "pad": 1.5} if inside else None)
        self.word.artist.set_visible(bool(text))


def _short(name: str) -> str:
    return name if len(name) < 14 else f"{name[:12]}…"


def flow_end(flow: float) -> float:
    """Where a ruler of flows ends: the next round number in L/h."""
    return round_up(max(flow * 3.6e6, 10.0)) / 3.6e6

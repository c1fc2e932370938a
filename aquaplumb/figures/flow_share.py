"""How a line's flow is shared out: on the elevation drawing of a build, and as bars with the valves' handles beside them."""

from __future__ import annotations

import math

from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from aquaplumb.figures.elevation import Elevation
from aquaplumb.figures.style import COLOURS, FONT, Picture
from aquaplumb.units import FLOW, NUMBER, SHARE, in_percent

SHARE_OFF, STARVED = 0.10, 0.5  # of a share: as the finding "bed shares uneven" has it; common practice, no source


def verdict(flow: float, share: float, wanted: float) -> tuple[str, bool]:
    """What to say of an end that gets `share` and should get `wanted`, and whether that will do at all."""
    if flow <= 0:
        return "dry", False
    odds = share / wanted - 1 if wanted > 0 else 0.0
    if abs(odds) <= SHARE_OFF:
        return "✔", True
    return (f"▲ {in_percent(odds)} over", True) if odds > 0 else (f"▼ {in_percent(-odds)} short", share >= STARVED * wanted)


class SharesDrawing(Elevation):
    """The build from the side, with what one line brings to each vessel. Its record is a `aquaplumb.whatif.flow_share.FlowShare`."""

    height = 380

    def __init__(self, record, *, system: str | None = None):
        Picture.__init__(self, record, system=system or record.si.build.units)

    def drawn(self, record):
        """The build."""
        return record.si.build

    def key(self, record):
        """The drawing, and what is written on it."""
        return (super().key(record), tuple(self._brought(record).items()))

    def _brought(self, record) -> dict[str, tuple[str, str, str, bool]]:
        """For each vessel: its flow, its part of the line, what to say of that, and whether it will do."""
        r, told = record.si, {}
        for vessel in dict.fromkeys(r.to):
            at = [i for i, to in enumerate(r.to) if to == vessel]
            flow, share, wanted = (sum(float(values[i]) for i in at) for values in (r.flow, r.share, r.wanted))
            words, fine = verdict(flow, share, wanted)
            told[vessel] = (self.text(FLOW, flow), f"{100 * share:.1f}".removesuffix(".0") + " %", words, fine)
        return told

    def frame(self, record) -> None:
        """The drawing, then the flow in each vessel."""
        super().frame(record)
        for name, (flow, share, words, fine) in self._brought(record).items():
            v, place = self.build.vessels[name].si, self.places[name]
            self.axes.annotate(
                f"{flow}\n{share}  {words.replace('dry', '✖')[0]}", ((place.left + place.right) / 2, self._y(v.floor + 0.5 * v.height)), ha="center", va="center", fontsize=FONT - 0.5,
                color=COLOURS["ink" if fine else "wrong"], weight="bold", linespacing=1.2, zorder=12, parse_math=False,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.9},
            )  # fmt: skip

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system)

    def alt(self, record) -> str:
        """The shares in words, then the drawing."""
        brought = "; ".join(
            f"{name} {flow}, {share} of it, {words.replace('✔', 'within a tenth of its share').lstrip('▲▼ ')}"
            for name, (flow, share, words, _) in self._brought(record).items()
        )
        return f"{self.title(record)} Seen from the side, with what {record.si.line} brings: {brought}."


class SharesPicture(Picture):
    """A bar for each end of a line: its flow as a part of its share, and how its valve's handle stands.

    All bars have one aim, whether the tank gets ten times as much as a bed or not; the flow itself stands in each bar.
    Its record is a `aquaplumb.whatif.flow_share.FlowShare`; `count` is how many ends it has.
    """

    width, gutter = 640, 210
    end = 2.2  # of its share, where the ruler ends

    def __init__(self, count: int, *, system: str = "metric"):
        super().__init__(system=system)
        self.height = 62 + max(44, min(52, 420 // count)) * count

    def key(self, record):
        """The rows: they stay while a slider moves."""
        return (record.si.ends, record.si.kinds)

    def frame(self, record) -> None:
        """The rows' names, the ruler, the aim, and what is moved."""
        names = record.si.ends
        plane = self.plane(("flow to each end, of its share", SHARE, 0.0, self.end), ("", NUMBER, -0.5, len(names) - 0.5))
        place = plane.axes.get_position()
        left = self.gutter / self.width
        plane.axes.set_position((left, place.y0, place.x1 - left, place.height))
        plane.axes.invert_yaxis()
        plane.axes.grid(False, axis="y")
        plane.axes.set_yticks([])
        plane.axes.set(ylabel="", xlabel="flow to each end, of its share [%]; pale: ±10 %")
        plane.axes.axvspan(plane.x(1 - SHARE_OFF), plane.x(1 + SHARE_OFF), color=COLOURS["good"], alpha=0.2, linewidth=0, zorder=1)
        plane.axes.axvline(plane.x(1.0), color=COLOURS["needed"], linewidth=1.3, linestyle=(0, (5, 3)), zorder=4)
        self.rows, self.bars_plane = [], plane
        beside = plane.axes.get_yaxis_transform()  # x in parts of the axes, y in rows
        indent = -200 / self.width / (place.x1 - left)
        for row, name in enumerate(names):
            look = {"transform": beside, "ha": "left", "va": "center", "color": COLOURS["ink"], "parse_math": False}
            plane.axes.text(indent, row - 0.14, name if len(name) < 24 else f"{name[:23]}…", fontsize=FONT, weight="bold", **look)
            valve = self.moving(plane.axes.text(indent, row + 0.2, "", fontsize=FONT - 1, **look))
            bar = plane.add(Rectangle((0, row - 0.22), 0, 0.44, facecolor=COLOURS["water"], linewidth=0, zorder=3))
            word = plane.word("ink")
            word.artist.set_va("center")
            self.rows.append((valve, bar, word, self._handle(row, len(names), record)))

    def _handle(self, row: int, count: int, record):
        """A piece of pipe, seen along, and the lever over it (which moves); None where there is no quarter-turn valve."""
        if record.si.kinds[row] != "ball valve":
            return None
        box = self.bars_plane.axes.get_position()
        x, y = (self.gutter - 30) / self.width, box.y1 - (row + 0.5 + 0.14) / count * box.height
        reach = 15 / self.width
        pipe = Line2D([x - reach, x + reach], [y, y], color=COLOURS["faint"], linewidth=5, solid_capstyle="butt", alpha=0.6)
        self.figure.add_artist(pipe)
        lever = Line2D([], [], color=COLOURS["ink"], linewidth=2.6, solid_capstyle="round", marker="o", markevery=[0], markersize=4)
        self.figure.add_artist(lever)
        return self.moving(lever), x, y

    def move(self, record) -> None:
        """The bars, the numbers and the handles."""
        r, plane = record.si, self.bars_plane
        for i, (valve, bar, word, handle) in enumerate(self.rows):
            part = float(r.share[i] / r.wanted[i]) if r.wanted[i] > 0 else 0.0
            words, fine = verdict(r.flow[i], r.share[i], r.wanted[i])
            bar.set_width(plane.x(min(part, self.end)))
            bar.set(facecolor=COLOURS["water" if fine else "wrong"], hatch=None if fine else "///", edgecolor="white")
            inside = part > 0.8
            word.put(min(part, 1.0) - 0.03 if inside else 1.14, i, f"{self.text(FLOW, r.flow[i])}  {words}")
            word.artist.set(ha="right" if inside else "left", color="white" if inside else COLOURS["ink"])
            valve.set_text(self._valve(r, i))
            if handle:
                lever, x, y = handle
                turned = math.radians(90 * (1 - r.opening[i]))
                lever.set_data([x, x + 15 / self.width * math.cos(turned)], [y, y + 15 / self.height * math.sin(turned)])

    @staticmethod
    def _valve(r, i: int) -> str:
        """How far the valve of an end stands open, and where its handle is."""
        if not r.kinds[i]:
            return "no valve of its own"
        turned = f", handle at {90 * (1 - r.opening[i]):.0f}°" if r.kinds[i] == "ball valve" else f" ({r.kinds[i]})"
        return f"{SHARE.text(r.opening[i])} open{turned}"

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        rows = [
            f"{name} gets {self.text(FLOW, r.flow[i])} where its share is {self.text(FLOW, r.wanted[i] * r.total)} "
            f"({verdict(r.flow[i], r.share[i], r.wanted[i])[0].replace('✔', 'within a tenth').lstrip('▲▼ ')}); {self._valve(r, i)}"
            for i, name in enumerate(r.ends)
        ]
        return f"{r.line} brings {self.text(FLOW, r.total)}. " + ". ".join(rows) + "."

"""Where the head of a pumped line goes: a bar for each part, and below it what the line asks for by flow."""

from __future__ import annotations

import numpy as np
from matplotlib.patches import Rectangle

from aquaplumb.figures.style import COLOURS, FONT, Picture, round_up
from aquaplumb.units import FLOW, HEAD, NUMBER


def to_the_hundredth(head: float, system: str) -> str:
    """A head to the centimetre (or hundredth of a foot), all in one unit, so that a column of them adds up."""
    return f"{HEAD.shown(head, system):.2f} {HEAD.unit(system)}"


class HeadBars(Picture):
    """One bar for each part of the head, each starting where the one above it ends; the last one is all together.

    Its record is a `aquaplumb.whatif.line_head.LineHead`.
    """

    width, height = 640, 265
    box = (0.0, 0.0, 1.0, 1.0)  # of the figure, for the bars
    gutter = 204  # pixels at the left, for the names and numbers
    room = 1.2  # the ruler's end over what the build asks for

    def key(self, record):
        """The ruler and the rows: they stay while a slider moves."""
        return (self._bars_end(record), record.si.names)

    def _bars_end(self, record) -> float:
        """Where the ruler of the bars ends [m]."""
        return round_up(self.room * record.si.first_total)

    def frame(self, record) -> None:
        """The rows' names, the ruler, and the bars to be moved."""
        self._bars_frame(record)

    def _bars_frame(self, record) -> None:
        names, end = record.si.names, self._bars_end(record)
        count = len(names) + 1
        left, bottom, width, height = self.box
        plane = self.plane(("head", HEAD, 0.0, end), ("", NUMBER, -0.5, count - 0.5), box=(left, bottom, width, height))
        place = plane.axes.get_position()
        shift = (self.gutter - 58) / self.width
        plane.axes.set_position((place.x0 + shift, place.y0, place.width - shift, place.height))
        plane.axes.invert_yaxis()
        plane.axes.grid(False, axis="y")
        plane.axes.set_yticks([])
        plane.axes.set_ylabel("")
        plane.axes.set_xlabel(f"head [{HEAD.unit(self.system)}]; the thin line: as far as printed tables of fittings disagree")
        self.bars, self.numbers = [], []
        beside = plane.axes.get_yaxis_transform()  # x in parts of the axes, y in rows
        for row, name in enumerate([*names, "together"]):
            bold = "bold" if row == count - 1 else "normal"
            plane.axes.text(-78 / (place.width - shift) / self.width, row, name, transform=beside, ha="right", va="center",
                            fontsize=FONT, color=COLOURS["ink"], weight=bold)  # fmt: skip
            number = plane.axes.text(-0.012, row, "", transform=beside, ha="right", va="center", fontsize=FONT,
                                     color=COLOURS["ink"], weight=bold, parse_math=False)  # fmt: skip
            self.numbers.append(self.moving(number))
            colour = COLOURS["faint"] if row == 0 else COLOURS["ink"] if row == count - 1 else COLOURS["water"]
            bar = Rectangle((0, row - 0.33), 0, 0.66, facecolor=colour, linewidth=0, zorder=3)
            self.bars.append(plane.add(bar))
        self.reach = plane.curve("pump")  # how far print disagrees, on the last row
        self.reach.artist.set(linewidth=1.4, marker="|", markersize=9, color=COLOURS["faint"], zorder=4)
        self.plane_of_bars = plane

    def move(self, record) -> None:
        """Each bar from where the one above it ended."""
        self._move_bars(record)

    def _move_bars(self, record) -> None:
        r, plane = record.si, self.plane_of_bars
        start = 0.0
        for bar, number, head in zip(self.bars, self.numbers, [*r.parts, r.total]):
            begin = 0.0 if bar is self.bars[-1] else start
            bar.set_x(plane.x(begin))
            bar.set_width(plane.x(begin + head) - plane.x(begin))
            number.set_text(self._number(head))
            start += head
        last = len(self.bars) - 1
        self.reach.put([r.total_low, r.total_high], [last, last])

    def _number(self, head: float) -> str:
        return to_the_hundredth(head, self.system)

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        parts = ", ".join(f"{name} {self._number(head)}" for name, head in zip(r.names, r.parts))
        return (
            f"Where the head of {r.line} goes at {self.text(FLOW, r.flow)}, a bar for each part: {parts}; together {self._number(r.total)} "
            f"({self._number(r.total_low)} to {self._number(r.total_high)} by how much the fittings cost)."
        )


class LineHeadPicture(HeadBars):
    """The bars, and below them the line's curve (blue, with its band), the pump's (dark), and where they meet."""

    height = 455
    box = (0.0, 0.51, 1.0, 0.49)
    room = 2.0

    def key(self, record):
        """The rulers and the rows."""
        return (*super().key(record), self._head_end(record), self._flow_end(record))

    @staticmethod
    def _head_end(record) -> float:
        r = record.si
        return round_up(max(1.1 * float(r.pump_heads[0]), 1.3 * r.first_lift, 1.15 * r.first_total))

    @staticmethod
    def _flow_end(record) -> float:
        r = record.si
        return round_up(3.6e6 * max(1.05 * float(r.pump_flows[-1]), 1.2 * r.first_flow)) / 3.6e6

    def frame(self, record) -> None:
        """The rows of the bars, and the axes and the pump of the curves."""
        self._bars_frame(record)
        self.flow_end, self.head_end = self._flow_end(record), self._head_end(record)
        plane = self.plane(("flow", FLOW, 0.0, self.flow_end), ("head", HEAD, 0.0, self.head_end), box=(0.0, 0.0, 1.0, 0.51))
        self.band, self.asked, self.curve = plane.band("water"), plane.curve("water"), plane.curve("pump")
        self.asked_name, self.name = plane.word("water", align="right"), plane.word("ink")
        self.mark, self.point, self.here = plane.mark("needed"), plane.dot("good"), plane.dot("water")
        self.here.artist.set(marker="D", markersize=7)

    def move(self, record) -> None:
        """The bars; the line's curve with its band, the flow asked for, and the pump's crossing."""
        self._move_bars(record)
        r, end, high = record.si, self.flow_end, self.head_end
        self.band.put(r.flows, r.asked_low, r.asked_high)
        self.asked.put(r.flows, r.asked)
        seen = np.flatnonzero((r.asked <= 0.84 * high) & (r.flows <= 0.98 * end))
        if len(seen):
            self.asked_name.put(r.flows[seen[-1]], r.asked[seen[-1]] + 0.035 * high, "your line")
        else:
            self.asked_name.hide()
        self.curve.put(r.pump_flows, r.pump_heads)
        self.name.put(0.012 * end, min(float(r.pump_heads[0]) + 0.02 * high, 0.92 * high), r.pump)
        self.mark.put(min(r.flow, 0.999 * end), "the flow you ask for")
        left = r.flow > 0.35 * end  # below the line's curve there is always room at the left
        self.mark.word.artist.set(y=HEAD.shown(0.03 * high, self.system), ha="right" if left else "left")
        self.mark.word.artist.set_x(FLOW.shown(min(r.flow, end) + (-0.008 if left else 0.008) * end, self.system))
        self.here.artist.set_data(*self._shown(min(r.flow, end), min(r.total, high)))
        self.point.put(r.pump_flow, r.pump_head, works=bool(r.works))

    def _shown(self, flow: float, head: float):
        return [FLOW.shown(flow, self.system)], [HEAD.shown(head, self.system)]

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        meets = (
            f"The curve of {r.pump} crosses it at {self.text(FLOW, r.pump_flow)} and {self._number(r.pump_head)}."
            if r.pump_flow > 0
            else f"The curve of {r.pump} starts at {self._number(r.pump_heads[0])}, below that: they never meet."
        )
        return f"{super().alt(record)} Below, head against flow: the line's curve starts at {self._number(r.asked[0])} and rises. {meets}"

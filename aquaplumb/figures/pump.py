"""The picture of a pump choice: pump curves over what the line asks for, and where they meet."""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.figures.style import Picture, round_up
from aquaplumb.units import FLOW, HEAD

_PAPER = {"facecolor": "white", "alpha": 0.8, "linewidth": 0, "pad": 1.0}  # behind words, so that no curve crosses them


class PumpPicture(Picture):
    """The chosen pump's curve (dark), a few others (faint), what the line asks for (blue, with its band), and the point.

    Its record is a `aquaplumb.whatif.pump.PumpChoice`.
    """

    width, height = 640, 400

    def key(self, record):
        """The rulers and the faint curves: they change with the pump, never with a slider."""
        return (*self._ends(record), tuple(pump.si.name for pump in record.si.others))

    @staticmethod
    def _ends(record) -> tuple[float, float]:
        """Where the rulers end [m³/s, m]: room for the chosen pump, the others and the wanted flow."""
        r = record.si
        shown = [r.pump_full, *r.others]
        flow = max(1.05 * max(float(pump.si.flow[-1]) for pump in shown), 1.2 * r.first_wanted)
        head = max(1.1 * max(float(pump.si.head[0]) for pump in shown), 1.5 * r.first_lift)
        return round_up(flow * 3.6e6) / 3.6e6, round_up(head)

    def frame(self, record) -> None:
        """Axes and the faint curves."""
        flow, head = self._ends(record)
        plane = self.plane(("flow", FLOW, 0.0, flow), ("head", HEAD, 0.0, head))
        taken = [math.inf]
        for pump in sorted(record.si.others, key=lambda pump: -float(pump.si.head[0])):
            plane.curve("faint", still=True).put(pump.si.flow, pump.si.head)
            high = float(pump.si.head[0])
            below = taken[-1] - high < 0.09 * head  # too near to the one above: its name goes under its own curve
            taken.append(high)
            name = plane.word("ink")  # it stands still, but is drawn last: over the curves, on a piece of paper
            name.artist.set_bbox(_PAPER)
            name.put(0.012 * flow, high + (-0.075 if below else 0.012) * head, _short(pump.si.name))
        self.band, self.asked, self.curve = plane.band("water"), plane.curve("water"), plane.curve("pump")
        self.asked_name, self.name = plane.word("water", align="right"), plane.word("ink")
        for word in (self.asked_name, self.name):
            word.artist.set_bbox(_PAPER)
        self.mark, self.point = plane.mark("needed"), plane.dot("good")
        self.flow_end, self.head_end = flow, head

    def move(self, record) -> None:
        """The chosen curve, the line's curve with its band, the wanted flow and the point."""
        r = record.si
        self.band.put(r.flows, r.asked_low, r.asked_high)
        self.asked.put(r.flows, r.asked)
        seen = np.flatnonzero((r.asked <= 0.84 * self.head_end) & (r.flows <= 0.98 * self.flow_end))
        if len(seen):
            self.asked_name.put(r.flows[seen[-1]], r.asked[seen[-1]] + 0.035 * self.head_end, "your line")
        else:
            self.asked_name.hide()
        self.curve.put(r.pump_flows, r.pump_heads)
        along = 0.55 * float(r.pump_flows[-1])
        self.name.put(along + 0.01 * self.flow_end, np.interp(along, r.pump_flows, r.pump_heads) + 0.012 * self.head_end, _short(r.name))
        if math.isfinite(r.wanted):
            self.mark.put(r.wanted, f"wanted {self.text(FLOW, r.wanted)}")
        else:
            self.mark.hide()
        self.point.put(r.flow, r.head, works=bool(r.works))

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        lifts = f"Head against flow. What {r.line} asks for starts at {self.text(HEAD, r.asked[0])} and rises with the flow."
        meets = (
            f"The curve of {r.name} starts at {self.text(HEAD, r.pump_heads[0])} and falls to {self.text(FLOW, r.pump_flows[-1])}; "
            f"they meet at {self.text(FLOW, r.flow)} and {self.text(HEAD, r.head)} "
            f"(between {self.text(FLOW, r.flow_low)} and {self.text(FLOW, r.flow_high)}, depending on the fittings)."
            if r.flow > 0
            else f"The curve of {r.name} starts at {self.text(HEAD, r.pump_heads[0])}, below that: they never meet."
        )
        wanted = f"Wanted: {self.text(FLOW, r.wanted)}." if math.isfinite(r.wanted) else ""
        others = "; ".join(_short(pump.si.name) for pump in r.others)
        return " ".join(
            part for part in (record.sentence(self.system), lifts, meets, wanted, f"Faint: {others}." if others else "") if part
        )


def _short(name: str) -> str:
    return name.removeprefix("demo ").replace(" submersible", "").replace(" external", " (external)")

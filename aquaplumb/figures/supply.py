"""The picture of a pump on its wire: what it brings, and what the wire keeps, by the length of the wire."""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.figures.style import Picture, round_up
from aquaplumb.units import FLOW, LENGTH, SHARE, VOLTAGE

MOST_SHOWN = 0.15  # of the supply: where the ruler of the drop ends
AIM, LIMIT = 0.03, 0.10  # of the supply: as in `aquaplumb.review.findings.power`
_PAPER = {"facecolor": "white", "alpha": 0.8, "linewidth": 0, "pad": 1.0}


class SupplyPicture(Picture):
    """Above: flow by the length of the wire, the chosen one dark, a few others faint, the flow wanted dashed.

    Below: the share of the voltage that the chosen wire keeps. Its record is a `aquaplumb.whatif.supply.Wiring`.
    """

    width, height = 640, 450

    def key(self, record):
        """The rulers: they change with line and pump, never with wire or length."""
        r = record.si
        return r.line, r.pump, self._end(r), float(r.lengths[-1])

    @staticmethod
    def _end(r) -> float:
        wanted = r.wanted if math.isfinite(r.wanted) else 0.0
        most = max(r.flow_end, min(1.15 * wanted, 2 * r.flow_end)) or 1.15 * wanted or 1000 / 3.6e6  # no pump may bring any
        return round_up(most * 3.6e6) / 3.6e6

    def frame(self, record) -> None:
        """Axes; below them the aim of 3 % and the limit of 10 %."""
        r = record.si
        self.end, self.reach = self._end(r), float(r.lengths[-1])
        # names of wires stand to the right of the upper plane
        top = self.plane(("wire, one way", LENGTH, 0.0, self.reach), ("flow", FLOW, 0.0, self.end), box=(0.015, 0.385, 0.845, 0.615))
        low = self.plane(
            ("wire, one way", LENGTH, 0.0, self.reach), ("voltage lost", SHARE, 0.0, MOST_SHOWN), box=(0.015, 0.0, 0.845, 0.405)
        )
        top.axes.set_xlabel("")
        self.others = [(top.curve("faint"), self._beside(top, "ink")) for _ in range(4)]
        self.wanted, self.wanted_word = top.curve("needed", dashed=True), top.word("ink")
        self.mains, self.mains_word = top.curve("warm", dashed=True), top.word("ink")
        self.curve, self.name = top.curve("water"), self._beside(top, "water")
        self.point = top.dot("good")
        for level, word in ((AIM, "3 %, the aim"), (LIMIT, "far too much")):
            low.curve("needed", dashed=True, still=True).put([0.0, self.reach], [level, level])
            self._beside(low, "ink").put(1.012 * self.reach, level, word)
        self.drop, self.drop_point = low.curve("water"), low.dot("good")
        for said in (self.wanted_word, self.mains_word):
            said.artist.set_bbox(_PAPER)

    @staticmethod
    def _beside(plane, role: str):
        word = plane.word(role)
        word.artist.set(clip_on=False, va="center")
        return word

    def move(self, record) -> None:
        """The wires' curves, the point, and what is wanted."""
        r = record.si
        wanted = r.wanted if math.isfinite(r.wanted) else 0.0
        # each word on the side of its line where neither the other line nor the curves are
        self._level(
            self.wanted, self.wanted_word, wanted, f"wanted {self.text(FLOW, wanted)}", under=wanted < max(float(r.flows[0]), r.own_flow)
        )
        if r.tried or r.mains:
            self._level(
                self.mains, self.mains_word, r.own_flow, f"on mains {self.text(FLOW, r.own_flow)}", under=r.own_flow < wanted or r.mains
            )
        else:
            self.mains.hide()
            self.mains_word.hide()
        parts = [self.curve, self.name, self.point, self.drop, self.drop_point, *(part for pair in self.others for part in pair)]
        if r.mains:
            for part in parts:
                part.hide()
            return
        self.curve.put(r.lengths, r.flows)
        taken = [float(r.flows[-1])]
        self.name.put(1.012 * self.reach, taken[0], short_wire(r.wire))
        for curve, word in self.others:
            curve.hide()
            word.hide()
        for (curve, word), (name, flows) in zip(self.others, r.others):
            curve.put(r.lengths, flows)
            high = float(flows[-1])
            if all(abs(high - other) > 0.075 * self.end for other in taken):
                taken.append(high)
                word.put(1.012 * self.reach, high, short_wire(name))
        self.point.put(r.length, r.flow, works=bool(r.works))
        self.drop.put(r.lengths, np.where(r.flows > 0, r.drops, np.nan))
        over = not r.stands and r.drop_share <= LIMIT
        self.drop_point.put(r.length, MOST_SHOWN * 0.97 if r.stands else min(r.drop_share, MOST_SHOWN * 0.97), works=over)

    def _level(self, curve, word, flow: float, text: str, under: bool = False) -> None:
        if not 0 < flow < self.end:
            curve.hide()
            word.hide()
            return
        curve.put([0.0, self.reach], [flow, flow])
        word.artist.set_ha("left" if under else "right")  # curves fall along the wire: over them there is room at its far end
        word.put((0.012 if under else 0.988) * self.reach, flow + (-0.085 if under else 0.012) * self.end, text)

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r, said = record.si, [record.sentence(self.system)]
        if r.mains:
            said.append("A dashed line across: the flow on mains, whatever the wire.")
            return " ".join(said)
        at = np.interp([0.0, 0.5 * self._reach(r), self._reach(r)], r.lengths, r.flows)
        said.append(
            f"Flow by the length of the wire, falling: {r.wire} brings {self.text(FLOW, at[0])} right at the battery, {self.text(FLOW, at[1])} over "
            f"{self.text(LENGTH, 0.5 * self._reach(r))} and {self.text(FLOW, at[2])} over {self.text(LENGTH, self._reach(r))}."
        )
        for name, flows in r.others:
            said.append(f"{name}: {self.text(FLOW, flows[-1])} over {self.text(LENGTH, self._reach(r))}.")
        if math.isfinite(r.wanted):
            said.append(f"Wanted: {self.text(FLOW, r.wanted)}.")
        said.append(f"Below, the share of the {VOLTAGE.text(r.supply)} that the wire keeps, against the usual 3 % and a limit of 10 %.")
        return " ".join(said)

    @staticmethod
    def _reach(r) -> float:
        return float(r.lengths[-1])


def short_wire(name: str) -> str:
    """A wire's size as a picture names it."""
    return name.removesuffix(" flexible").removesuffix(" stranded").removesuffix(" solid").replace("mm2", "mm²")

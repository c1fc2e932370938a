"""The picture of a falling line: how a standpipe runs at each flow, or between which flows a siphon starts and stops."""

from __future__ import annotations

import numpy as np
from matplotlib.colors import to_rgb
from matplotlib.text import Text

from aquaplumb.figures.style import COLOURS, FONT, Picture
from aquaplumb.units import BORE, DEPTH, FLOW, NUMBER

DEEPEST = 0.2  # m over the lip, where the ruler ends
_ROWS = {"starts": 2.5, "stops": 1.5, "safe": 0.5}  # the middle of each row of a siphon's strips
_PALE = 0.32
_PAPER = {"facecolor": "white", "alpha": 0.8, "linewidth": 0, "pad": 1.2}  # behind words, so that no line crosses them


class DrainPicture(Picture):
    """A standpipe: the flow that it takes at each depth over its lip, with the zones in which it is quiet, gulps or fills.

    A siphon: the flows at which it starts, those at which it stops, and those that do both.
    Its record is a `aquaplumb.whatif.drain_siphon.Fall`.
    """

    width, height = 640, 390

    def key(self, record):
        """The line and its bore: rulers and zones hang on them, and on no slider."""
        r = record.si
        return r.line, r.bore, r.siphon, r.half_full is not None

    def frame(self, record) -> None:
        """Axes, and the zones that a bore has."""
        (self._siphon_frame if record.si.siphon else self._pipe_frame)(record.si)

    def move(self, record) -> None:
        """What the sliders move."""
        (self._siphon_move if record.si.siphon else self._pipe_move)(record.si)

    # --- a standpipe

    def _pipe_frame(self, r) -> None:
        self.end = max(1.5 * r.first_load, 1.3 * r.quiet, min(max(1.12 * r.may_fill, 1.25 * r.capacity), 6.0 * r.first_load))
        plane = self.plane(("depth of water over the lip", DEPTH, 0.0, DEEPEST), ("flow", FLOW, 0.0, self.end), box=(0.035, 0, 0.845, 1))
        low = 0.0
        zones = zip(("quiet", "gulps", "may fill", "runs full"), (r.quiet, r.may_fill, r.full, self.end), (0.05, 0.16, 0.27, 0.38))
        for name, high, shade in zones:
            top = min(high, self.end)
            if top > low:
                plane.axes.axhspan(float(plane.y(low)), float(plane.y(top)), color=COLOURS["air"], alpha=shade, linewidth=0)
                if top - low > 0.05 * self.end:
                    plane.axes.annotate(name, (1.015, 0.5 * (low + top) / self.end), xycoords="axes fraction", va="center",
                                        fontsize=FONT, color=COLOURS["ink"], annotation_clip=False)  # fmt: skip
            low = max(low, top)
        self.brim, self.curve, self.level = plane.mark("needed"), plane.curve("water"), plane.curve("needed", dashed=True)
        self.name, self.comes = plane.word("water"), plane.word("ink", align="right")
        self.half = (plane.curve("faint", dashed=True), plane.word("ink")) if r.half_full is not None else None
        self.point = plane.dot("good")
        for word in (self.comes, self.brim.word):
            word.artist.set_bbox(_PAPER)

    def _pipe_move(self, r) -> None:
        self.curve.put(r.depths, r.flows)
        self._name_the_curve(r)
        past = " (above this ruler)" if r.capacity > self.end else ""
        self.brim.put(r.room, f"brim: {self.text(FLOW, r.capacity)}{past}" if r.room > 0 else "brim, under the lip")
        off = r.load > 0.97 * self.end
        at = min(r.load, 0.97 * self.end)
        self.level.put([0.0, DEEPEST], [at, at])
        over = 0.012 if at < 0.88 * self.end else -0.075
        self.comes.put(0.985 * DEEPEST, at + over * self.end, f"{self.text(FLOW, r.load)} comes" + (" (above this ruler)" if off else ""))
        if self.half:
            line, word = self.half
            line.put([0.0, DEEPEST], [r.half_full, r.half_full])
            word.put(0.3 * DEEPEST, r.half_full + 0.012 * self.end, "half full: keep below")
        self.point.put(min(r.depth, 0.985 * DEEPEST), at, works=bool(r.works))

    def _name_the_curve(self, r) -> None:
        """Say what the curve is, to its right, where neither the dashed line of the load nor the edge is near."""
        for share in (0.72, 0.5, 0.3, 0.86):
            high = share * self.end
            if high < r.flows[-1] and abs(high - 0.045 * self.end - r.load) > 0.08 * self.end:
                along = float(np.interp(high, r.flows, r.depths))
                if along < 0.66 * DEEPEST and not -0.02 < r.room - along < 0.22 * DEEPEST:
                    self.name.put(along + 0.014 * DEEPEST, high - 0.075 * self.end, "what it takes in")
                    return
        self.name.put(0.4 * DEEPEST, max(0.0, float(np.interp(0.4 * DEEPEST, r.depths, r.flows)) - 0.12 * self.end), "what it takes in")

    # --- a siphon

    def _siphon_frame(self, r) -> None:
        self.end = max(1.5 * r.first_at_vent, 1.35 * r.sure, 1.25 * r.first_load)
        self.strip = plane = self.plane(("flow into the bed", FLOW, 0.0, self.end), ("", NUMBER, 0.0, 3.45))
        plane.axes.set_yticks(list(_ROWS.values()), list(_ROWS))
        plane.axes.tick_params(axis="y", length=0)
        plane.axes.grid(False, axis="y")
        # Hatching and words are slow to draw: as much as can be belongs to the frame, and what moves lies over it.
        begins = (
            ("wrong", 0.0, r.may_fill, "dribbles\nfor ever"),
            ("warm", r.may_fill, r.sure, "may start"),
            ("good", r.sure, self.end, "sure to start"),
        )
        for role, low, high, words in begins:
            self._bar("starts", role, still=True).put(*self._row("starts", low, high))
            Within(self, "starts", still=True).put(low, high, words)
        self._bar("stops", "wrong", still=True).put(*self._row("stops", 0.0, self.end))
        self.words = [Within(self, "stops") for _ in range(3)]
        for flow in (r.may_fill, r.sure):
            self._number(still=True).put(flow, _ROWS["starts"] + 0.42, self.text(FLOW, flow))
        self.stops = [self._bar("stops", role) for role in ("good", "warm")]
        self.numbers = [self._number(align) for align in ("right", "left")]
        self.safe = self._bar("safe", "good")
        self.window = self._number()
        self.inflow = plane.mark("needed")
        self.point, self.maybe = plane.dot("good"), plane.dot("warm")

    def _siphon_move(self, r) -> None:
        surely, limit = (min(flow, self.end) for flow in (r.sure_to_stop, r.at_vent))
        self.stops[0].put(*self._row("stops", 0.0, surely))
        self.stops[1].put(*self._row("stops", surely, limit))
        ends = ((0.0, surely), (surely, limit), (limit, self.end))
        for word, (low, high), text in zip(self.words, ends, ("sure to stop", "may\nstop", "never stops")):
            word.put(low, high, text)
        room = (r.sure_to_stop > 0.09 * self.end, r.at_vent < 0.75 * self.end)
        for number, flow, where, fits in zip(self.numbers, (r.sure_to_stop, r.at_vent), ("", " at its vent"), room):
            if fits and flow > 0:
                number.put(flow, _ROWS["stops"] + 0.42, self.text(FLOW, flow) + where)
                number.artist.set_ha(self._side(flow, r, right=bool(where)))
            else:
                number.hide()
        window = surely > r.sure
        self.safe.put(*self._row("safe", r.sure, surely if window else r.sure))
        if window:
            self.window.hide()
        else:
            self.window.put(0.5 * self.end, _ROWS["safe"] + 0.42, "no flow surely does both")
        at = min(r.load, 0.99 * self.end)
        self.inflow.put(at, f"{self.text(FLOW, r.load)} comes")
        shown, hidden = (self.point, self.maybe) if not r.works or r.surely else (self.maybe, self.point)
        shown.put(at, _ROWS["safe"], works=bool(r.works))
        hidden.hide()

    def _side(self, flow: float, r, *, right: bool) -> str:
        """On which side of its flow a number stands: the first of the two that the dashed line leaves free, and the other number."""
        wide = 0.12 * self.end
        crossed = {"left": 0 <= r.load - flow < wide, "right": 0 <= flow - r.load < wide}
        if right or (crossed["right"] and not crossed["left"] and r.at_vent - flow > 1.1 * wide):
            return "left"
        return "right"

    def _bar(self, row: str, role: str, *, still: bool = False):
        """A part of a strip, in an even pale colour; what will not work is hatched as well."""
        bar = self.strip.band(role, still=still)
        pale = 1 - _PALE * (1 - np.array(to_rgb(COLOURS[role])))
        bar.artist.set(alpha=1.0, facecolor=pale, zorder=1.5)
        if role == "wrong":
            bar.artist.set(hatch="///", edgecolor=1 - 1.6 * (1 - pale))
        return bar

    @staticmethod
    def _row(row: str, low: float, high: float) -> tuple:
        """Where a part of a strip lies: from one flow to another."""
        return [low, high], [_ROWS[row] - 0.36] * 2, [_ROWS[row] + 0.36] * 2

    def _number(self, align: str = "center", *, still: bool = False):
        word = self.strip.word("ink", still=still, align=align)
        word.artist.set_bbox(_PAPER)
        return word

    # --- words

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r, said = record.si, [record.sentence(self.system)]
        if r.siphon:
            said += [
                f"Three strips over the flow into the bed. A bore of {self.text(BORE, r.bore)} dribbles for ever below {self.text(FLOW, r.may_fill)}, "
                f"may start from there, and is sure to start from {self.text(FLOW, r.sure)}.",
                f"It is sure to stop up to {self.text(FLOW, r.sure_to_stop)} and never stops from {self.text(FLOW, r.at_vent)}, what it carries at its vent.",
                f"Between {self.text(FLOW, r.sure)} and {self.text(FLOW, r.sure_to_stop)} it does both."
                if r.sure_to_stop > r.sure
                else "No flow does both surely.",
            ]
        else:
            said += [
                f"Flow against depth over the lip: first steep, as over a weir, then flatter, through a drowned mouth. "
                f"A bore of {self.text(BORE, r.bore)} is quiet to {self.text(FLOW, r.quiet)}, gulps to {self.text(FLOW, r.may_fill)}, "
                f"may fill from there and runs full from {self.text(FLOW, r.full)}.",
                f"The brim is {self.text(DEPTH, r.room)} over the lip: there it takes {self.text(FLOW, r.capacity)}.",
            ]
            if r.half_full is not None:
                said.append(f"On its slope it runs half full at {self.text(FLOW, r.half_full)}.")
        return " ".join(said)


class Within:
    """Words in the middle of a part of a strip, where they fit."""

    def __init__(self, picture: DrainPicture, row: str, *, still: bool = False):
        self.plane, self.end, self.width = picture.strip, picture.end, picture.width - 74
        text = Text(
            0, _ROWS[row], "", color=COLOURS["ink"], fontsize=FONT, ha="center", va="center", zorder=6, parse_math=False, clip_on=True
        )
        text.set_bbox(_PAPER)
        self.artist = self.plane.add(text, still)

    def put(self, low: float, high: float, words: str) -> None:
        """Between two flows."""
        fits = 6.6 * max(map(len, words.split("\n"))) + 6 < (high - low) / self.end * self.width
        self.artist.set(x=float(self.plane.x(0.5 * (low + high))), text=words, visible=fits)

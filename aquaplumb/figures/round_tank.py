"""The picture of a round tank's turning: how fast its water goes round with each bore of nozzle, against what is wanted."""

from __future__ import annotations

import math

from aquaplumb.figures.style import Picture
from aquaplumb.units import ANGLE, BORE, FLOW, FORCE, LENGTH, SPEED

_PAPER = {"facecolor": "white", "alpha": 0.8, "linewidth": 0, "pad": 1.0}


class RoundTankPicture(Picture):
    """Speed at the wall against the nozzles' bore, with its band; the speeds wanted and borne; the bore chosen.

    Its record is a `aquaplumb.whatif.round_tank.RoundTank`.
    """

    width, height = 640, 340

    def key(self, record):
        """The inlet, and the rulers: they hang on no slider."""
        r = record.si
        return r.branch, float(r.bores[-1]), r.ruler

    def frame(self, record) -> None:
        """Axes, and the speeds that solids and fish set."""
        r = record.si
        self.widest, self.top = float(r.bores[-1]), r.ruler
        plane = self.plane(("bore of each nozzle", BORE, 0.0, self.widest), ("speed of the water at the wall", SPEED, 0.0, self.top))
        self.may, self.turns = plane.band("water"), plane.curve("water")
        self.clean, self.clean_word = plane.curve("needed", dashed=True), plane.word("ink")
        self.bear, self.bear_word = plane.curve("needed", dashed=True), plane.word("ink")
        self.slot = plane.mark("faint")
        self.point, self.word = plane.dot("good"), plane.word("ink")
        self.clean_word.artist.set_ha("right")  # under its line, where the curve is not
        for word in (self.clean_word, self.bear_word, self.word):
            word.artist.set_bbox(_PAPER)

    def move(self, record) -> None:
        """The curve of speed against bore, and the bore chosen."""
        r = record.si
        across = [0.0, self.widest]
        self.may.put(r.bores, r.slows.clip(0, self.top), r.fasts.clip(0, self.top))
        self.turns.put(r.bores, r.speeds)
        self.clean.put(across, [r.wanted, r.wanted])
        self.clean_word.put(
            0.988 * self.widest, r.wanted - 0.075 * self.top, f"carries solids to the middle from {self.text(SPEED, r.wanted)}"
        )
        if r.limit < 0.96 * self.top:
            self.bear.put(across, [r.limit, r.limit])
            self.bear_word.put(
                0.012 * self.widest, r.limit + 0.012 * self.top, f"fish of {self.text(LENGTH, r.length)} bear {self.text(SPEED, r.limit)}"
            )
        else:
            self.bear.hide()
            self.bear_word.put(  # under the word of the strainer, where there is one
                0.012 * self.widest,
                (0.84 if r.slot else 0.93) * self.top,
                f"above here: fish of {self.text(LENGTH, r.length)} bear {self.text(SPEED, r.limit)}",
            )
        if r.slot:
            self.slot.put(min(r.slot, self.widest), "strainer's openings")
        else:
            self.slot.hide()
        turn = r.bore > 0.7 * self.widest
        self.point.put(r.bore, min(r.speed, self.top), works=record.works)
        self.word.artist.set_ha("right" if turn else "left")
        over = r.speed + 0.035 * self.top if r.speed < 0.9 * self.top else 0.82 * self.top
        if abs(over - (r.wanted - 0.075 * self.top)) < 0.06 * self.top:  # where the word of the line below it stands
            over = r.speed - 0.085 * self.top
        self.word.put(
            r.bore + (-0.015 if turn else 0.015) * self.widest,
            over,
            self.text(SPEED, r.speed),
        )

    # --- words

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        best = int(r.speeds.argmax())
        angle = (
            "along the wall"
            if r.angle <= 0
            else "to the middle"
            if math.isclose(r.angle, math.pi / 2)
            else f"{self.text(ANGLE, r.angle)} off the wall"
        )
        return " ".join([
            record.sentence(self.system),
            f"{r.nozzles:g} × {self.text(BORE, r.bore)}, {angle}: {self.text(FLOW, r.flow)} leave at {self.text(SPEED, r.jet)} and push with {self.text(FORCE, r.push)}.",
            f"The speed at the wall against the bore of each nozzle: fastest, {self.text(SPEED, float(r.speeds[best]))}, at {self.text(BORE, float(r.bores[best]))}.",
            f"It may be {self.text(SPEED, r.slow)} with a crowd of fish, {self.text(SPEED, r.fast)} with smooth walls alone.",
        ])  # fmt: skip

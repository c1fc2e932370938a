"""What do its jets make of a round tank? The second what-if of notebook 05.

    build = my_build()
    round_tank.picture(build)      # as the build stands: the first inlet of a round fish tank
    round_tank.panel(build)        # with sliders

The whole system is solved anew at each move, and the inlet's line once more for all bores of the picture. An inlet that is
an open pipe gets a nozzle to try.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from aquaplumb.build import Build, Pipe
from aquaplumb.figures.line_head import to_the_hundredth
from aquaplumb.figures.round_tank import RoundTankPicture
from aquaplumb.figures.style import round_up
from aquaplumb.plumbing import jets
from aquaplumb.review.findings import found
from aquaplumb.sentences import pipe_in_words
from aquaplumb.system.steady import Steady
from aquaplumb.system.turning import CLEAN, by_bore
from aquaplumb.units import (
    ANGLE,
    BORE,
    FLOW,
    FORCE,
    LENGTH,
    SPEED,
    Angle,
    Bore,
    Flow,
    Force,
    Length,
    Number,
    Record,
    Speed,
)
from aquaplumb.whatif.base import Choice, Count, Slider, listed, named
from aquaplumb.whatif.head_tries import of_nozzles
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

_POINTS = 18  # bores of the picture's curve
_LEAST = 0.003  # m: the thinnest nozzle of the sliders
_TRIED = 0.8  # of its pipe's bore: the nozzle that an open end is tried with
_ABOUT = 0.9  # as the findings have it


class RoundTank(Record):
    """A round fish tank with a jet, and what comes of it. Arrays belong to the picture."""

    branch: str
    tank: str
    tried: bool  # the build has an open end there
    bore: Bore
    nozzles: Number
    angle: Angle
    slot: Bore | None
    flow: Flow  # of this inlet
    jet: Speed
    push: Force  # of all jets
    slow: Speed
    speed: Speed
    fast: Speed
    wanted: Speed
    limit: Speed
    length: Length  # of the fish
    swept: bool  # a way out takes its water from the floor
    ruler: Speed
    bores: Bore
    slows: Speed
    speeds: Speed
    fasts: Speed
    findings: tuple = ()

    @property
    def works(self) -> bool:
        """Whether it is neither too fast for the fish nor too slow for solids that a drain waits for."""
        r = self.si
        return r.flow > 0 and r.fast <= r.limit and (not r.swept or r.speed >= _ABOUT * r.wanted)

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in a sentence or two; `short` leaves out the band."""
        r = self.si
        told = f"A nozzle is tried at the end of {pipe_in_words(r.branch)}. " if r.tried else ""
        if r.flow <= 0:
            return f"{told}**No water:** {pipe_in_words(r.branch)} is dry."
        slow = "Slow" if r.swept else "Gentle"
        word = "Good" if r.speed >= _ABOUT * r.wanted else slow
        if r.fast > r.limit:
            word = "Too fast" if r.speed > r.limit else "Perhaps too fast"
        told += f"**{word}:** the water of {r.tank} turns at **{SPEED.text(r.speed, system)}** at the wall"
        if short:
            return told + "."
        told += f" ({SPEED.text(r.slow, system)} to {SPEED.text(r.fast, system)})."
        if word == slow:
            told += f" Solids move along the floor to the middle from {SPEED.text(r.wanted, system)} on"
            return told + ("." if r.swept else "; no drain of yours takes them from there.")
        if word == "Good":
            return told + f" Its jets push with {FORCE.text(abs(r.push), system)}."
        return told + f" Fish of {LENGTH.text(r.length, system)} bear {SPEED.text(r.limit, system)} for good."

    def notes(self, system: str = "metric") -> list[tuple[str, str]]:
        """What the jet itself costs, and how far it reaches."""
        r = self.si
        if r.flow <= 0:
            return []
        head = to_the_hundredth(float(jets.jet_head.si(r.jet)), system)  # as the line's is told
        told = f"{FLOW.text(r.flow, system)} leave at {SPEED.text(r.jet, system)}, which takes {head} of head."
        if r.jet > r.limit:
            reach = float(jets.jet_reach.si(r.jet, math.sqrt(jets.HOLE) * r.bore, r.limit))
            told += (
                f" Within {LENGTH.text(reach, system)} of the nozzle, under water, that is faster than the fish can stand: leave them room."
            )
        return [("note", told)]


class RoundTankWhatIf(WhatIf):
    """Bore, number and angle of the nozzles that turn a round tank, and keep them."""

    drawn, page, keep_label, pick = RoundTankPicture, "05", "Keep these nozzles in my build", "branch"
    lent = "tank"

    def __init__(self, build: Build, line: str | None = None):
        super().__init__(build)
        ends = _inlets(build)
        names = [end.si.name for _, end in ends]
        self.ends = {(end.si.name if names.count(end.si.name) == 1 else f"{end.si.name} ({name})"): (name, end) for name, end in ends}
        self.begin = named(
            line,
            self.ends,
            next((key for key, (_, end) in self.ends.items() if end.si.nozzle_bore), next(iter(self.ends))),
            "build's inlets",
        )
        self.rulers: dict[str, float] = {}

    @classmethod
    def lack(cls, build: Build) -> str:
        return "" if _inlets(build) else "no round fish tank that a pump sends water to"

    def own(self, branch: str | None = None) -> dict:
        branch = branch or self.begin
        line, p = self.ends[branch][0], self.ends[branch][1].si
        return {
            "branch": branch, "bore": p.nozzle_bore or self._to_try(p.bore), "nozzles": round(p.nozzles), "angle": p.nozzle_angle or 0.0,
            "slot": self.build.pumped[line].si.strainer_slot or 0.0,
        }  # fmt: skip

    def _to_try(self, bore: float) -> float:
        """The nozzle that an open end is tried with: a drill's size."""
        step = 1e-3 if self.build.units == "metric" else 0.0254 / 16
        return max(_LEAST, step * round(_TRIED * bore / step))

    def controls(self) -> list:
        widest = max(end.si.bore for _, end in self.ends.values())
        return [
            Choice("branch", "which inlet", list(self.ends)),
            Slider("bore", "bore of each nozzle", BORE, "3 mm", BORE.quantity(max(widest, 0.006)), "0.5 mm", us=("0.1 in", BORE.quantity(max(widest, 0.0254)), "0.05 in"), key="lines.*.pipe.nozzle_bore"),
            Count("nozzles", "nozzles", 1, 8, tip="drilled holes with sharp edges", key="lines.*.pipe.nozzles"),
            Slider("angle", "angle off the wall", ANGLE, "0 deg", "180 deg", "5 deg", tip="90: to the middle; 180: along the wall the other way round", key="lines.*.pipe.nozzle_angle"),
            Slider("slot", "strainer's openings", BORE, "0 mm", "15 mm", "0.5 mm", us=("0 in", "0.6 in", "0.05 in"), tip="their width; 0 if you do not know it", key="lines.*.strainer_slot"),
        ]  # fmt: skip

    def _tried(self, branch: str) -> bool:
        return self.ends[branch][1].si.nozzle_bore is None

    def changed(self, branch: str, bore: float, nozzles: int, angle: float, slot: float) -> Build:
        """The build with that inlet."""
        line, end = self.ends[branch]
        new: dict[str, Any] = {"nozzle_bore": bore, "nozzles": float(nozzles), "nozzle_angle": angle}
        pipes = tuple(pipe.with_si(**new) if pipe is end else pipe for pipe in self.build.pumped[line].si.pipe)
        return self.build.replaced(lines=[self.build.pumped[line].with_si(pipe=pipes, strainer_slot=slot or None)])

    def __call__(self, branch: str, bore: float, nozzles: int, angle: float, slot: float) -> RoundTank:
        line, end = self.ends[branch]
        system = Steady(self.changed(branch, bore, nozzles, angle, slot))
        t = system.turning[end.si.to]
        jet = next((jet for jet in t.jets if (jet.line, jet.name) == (line, end.si.name)), None)
        bores = np.linspace(_LEAST, max(end.si.bore, 2 * _LEAST), _POINTS)
        curves = {band: np.zeros(_POINTS) for band in jets.RESISTANCE}
        if jet:
            _, push, comes = by_bore(system, t, jet, bores)
            curves = {
                band: np.abs(jets.turning_speed.si(push, comes, t.diameter, t.depth, resistance=c)) for band, c in jets.RESISTANCE.items()
            }
        ruler = self.rulers.setdefault(branch, round_up(1.25 * max(2 * CLEAN, float(curves["low"].max()))))
        return RoundTank.from_si(
            branch=branch, tank=t.tank, tried=self._tried(branch), bore=bore, nozzles=nozzles, angle=angle, slot=slot or None,
            flow=jet.flow if jet else 0.0, jet=jet.speed if jet else 0.0, push=t.push, slow=t.slow, speed=t.speed, fast=t.fast, wanted=t.wanted,
            limit=t.limit, length=t.body_length, swept=t.swept, ruler=ruler, bores=bores, slows=curves["high"], speeds=curves["typical"], fasts=curves["low"],
            findings=tuple(found(system)),
        )  # fmt: skip

    def findings(self, record, system: str) -> list[tuple[str, str]]:
        return self.page_findings(record, count=3) + record.notes(system)

    def tries(self) -> list[Try]:
        return of_nozzles(self, self.begin)

    def about(self, values: Values) -> tuple:
        return (("lines", self.ends[values["branch"]][0]),)

    def changes(self, values: Values) -> dict[tuple, object]:
        branch = values["branch"]
        line, end = self.ends[branch]
        names = {"bore": "nozzle_bore", "nozzles": "nozzles", "angle": "nozzle_angle"}
        moved = [*names, *(["slot"] if "slot" in self.moved(values) else [])] if self._tried(branch) else self.moved(values)
        new: dict[tuple, object] = {
            ("lines", line, "pipe", end.si.name, key): values["nozzles"] if name == "nozzles" else values.text(name)
            for name, key in names.items()
            if name in moved
        }
        if "slot" in moved:
            new["lines", line, "strainer_slot"] = values.text("slot") if values["slot"] > 0 else None
        return new

    def told(self, new: dict, values: Values) -> str:
        return f"{values['branch']}: {listed(new, names=values.labels)}"


def _inlets(build: Build) -> list[tuple[str, Pipe]]:
    """Where pumps send water to a round fish tank: the line's name, and its stretch that ends there."""
    tanks = {tank.si.name for tank in build.of_kind("fish tank") if tank.si.shape in ("round", "cone-bottomed") and tank.si.count == 1}
    return [(name, end) for name, pumped in build.pumped.items() for end in pumped.si.pipe if end.si.to in tanks]


turned, picture, panel = RoundTankWhatIf.as_built, RoundTankWhatIf.picture, RoundTankWhatIf.panel

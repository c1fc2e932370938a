"""What if a drain, an overflow or a siphon were another? Notebook 06.

    build = my_build()
    drain_siphon.picture(build)      # as the build stands: its first siphon, else its first overflow
    drain_siphon.panel(build)        # with sliders

The whole system is solved anew at each move. An inflow that the pumps do not bring may be tried as well; it is not kept.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from aquaplumb.build import Build, FallingLine
from aquaplumb.figures.drain_siphon import DEEPEST, DrainPicture
from aquaplumb.plumbing import drains, full_pipe, pipe_sizes, siphons
from aquaplumb.review.findings import found
from aquaplumb.review.findings.falls import HOLES
from aquaplumb.system.steady import Steady, solved
from aquaplumb.units import BORE, DEPTH, FLOW, LENGTH, SPEED, Bore, DesignError, Flow, Head, Record, Speed
from aquaplumb.whatif.base import Choice, Slider, Switch, alike, listed, named, three_figures, written_length
from aquaplumb.whatif.drain_tries import of_fall
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

_DEPTHS = DEEPEST * np.linspace(0.0, 1.0, 70) ** 1.5  # close together where the curve is steep
_VENT = 0.2  # m under the lip: where the slider stands for a line without a siphon


NAMES = {"vented": "open at its top", "vent": "vent at"}  # what a Keep calls keys of a falling line: its vent is a height


class Fall(Record):
    """A falling line of a build, and what it does with the water that comes. Arrays belong to the picture."""

    line: str
    source: str
    siphon: bool
    works: bool
    surely: bool
    verdict: str
    bore: Bore
    load: Flow
    lip: Head
    outlet: Head
    room: Head
    depth: Head
    capacity: Flow
    quiet: Flow
    may_fill: Flow
    full: Flow
    half_full: Flow | None
    sure: Flow
    at_vent: Flow | None
    sure_to_stop: Flow | None
    screen: Speed | None
    depths: Head
    flows: Flow
    first_load: Flow
    first_at_vent: Flow | None
    findings: tuple = ()

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in two or three short sentences; `short` leaves out the screen."""
        r = self.si
        name = r.line[:1].upper() + r.line[1:]

        def flow(value):
            return FLOW.text(value, system)

        if r.verdict == "No fall.":
            return f"**No fall.** {name} ends at or above its lip, in height or under water: nothing runs."
        if r.siphon:
            told = f"**{r.verdict}** {flow(r.load)} comes in; {r.line} is sure to start from **{flow(r.sure)}**, and sure to stop up to **{flow(r.sure_to_stop)}**."
        elif r.room <= 0:
            told = f"**{r.verdict}** The lip of {r.line} is not below the brim; it has to carry {flow(r.load)}."
        else:
            told = f"**{r.verdict}** {name} takes **{flow(r.capacity)}** up to the brim, and has to carry {flow(r.load)}"
            told += f", which stands {DEPTH.text(r.depth, system)} over its lip." if r.depth <= r.room else "."
        if r.screen is not None and not short:
            told += f" It goes through the screen at {SPEED.text(r.screen, system)}."
        return told


# What a finding of a line is in two words (to stop for, or to fix); the first that is there is said.
_VERDICTS = {
    "drain has no fall": ("No fall.", "Too flat."),
    "drain short": ("It spills.", "Hardly enough."),
    "siphon never starts": ("", "It dribbles for ever."),
    "siphon never stops": ("", "It never stops."),
    "overflow can siphon": ("", "It can siphon."),
    "screen too fast": ("", "It pins fish."),
    "gravity line too full": ("", "Too full."),
}


class FallWhatIf(WhatIf):
    """Try each drain, overflow and siphon of a build, and keep what works."""

    drawn, page, keep_label, pick = DrainPicture, "06", "Keep this in my build", "line"
    case = {"size": "40 mm, PN16"}

    def __init__(self, build: Build, line: str | None = None):
        super().__init__(build)
        self.lines = {name: line for name, line in build.falling.items() if name in build.lines}  # one with branches has no single bore
        if not self.lines:
            raise DesignError("this build has no overflow, drain or gravity line; give its fish tank an overflow first.")
        steady = solved(build)
        self.start = steady.in_time  # as the review has it: what a line has to carry is read off the run
        self._comes = {  # what has to come into its vessel that a line carries as much as in the run, where that is not what is reckoned
            name: {fall.line.si.source: steady.vessels[fall.line.si.source].peak * self.start.falling[name].load / fall.load}
            for name, fall in steady.falling.items()
            if name in self.lines and fall.load > 0 and not alike(fall.load, self.start.falling[name].load)
        }
        self.sizes = self._sizes()
        # To begin with: a siphon if there is one, else an overflow, else any.
        ranked = sorted(self.lines.values(), key=lambda line: (line.si.siphon is None, line.si.emergency, line.si.kind != "overflow"))
        self.begin = named(line, self.lines, ranked[0].si.name, "build's falling lines")

    def _sizes(self) -> dict[str, tuple[str, str]]:
        """The sizes to choose from, by label: all of each standard that the falling lines use."""
        lines = [line.si for line in self.lines.values()]
        standards = dict.fromkeys(f.standard for f in lines if f.size) or {"PN10": None}
        sizes = {f"{size}, {standard}": (size, standard) for standard in standards for size in pipe_sizes.sizes(standard)}
        return {**{BORE.text(f.bore, self.build.units) + " bore": ("", "") for f in lines if not f.size}, **sizes}

    def size_of(self, name: str) -> str:
        """The label of a line's size."""
        f = self.lines[name].si
        own = pipe_sizes.pipe_size(f.size, f.standard).si if f.size else None
        return f"{own.size}, {own.standard}" if own else BORE.text(f.bore, self.build.units) + " bore"

    def own(self, line: str | None = None) -> dict:
        name = line or self.begin
        f, state = self.lines[name].si, self.start.falling[name]
        return {
            "line": name,
            "size": self.size_of(name),
            "lip": state.source.rim - f.lip,
            "inflow": three_figures(FLOW, self.start.vessels[f.source].peak, self.build.units),
            "outlet": f.outlet,
            "vent": f.lip - f.siphon.si.vent if f.siphon else _VENT,
            "screen": f.screen_open_area or 0.0,
            "vented": f.vented,
        }

    def __call__(self, line: str, inflow: float, **to) -> Fall:
        """All bare SI; `lip` counts down from the rim, `vent` down from the lip, `outlet` up from the build's zero."""
        new = self.changed(line, **to)
        as_it_is = alike(inflow, self.own(line)["inflow"])
        asked = self._comes.get(line, {}) if as_it_is else {new.si.source: inflow}
        system = Steady(self.build.replaced(lines=[new]), inflow=asked)
        return self._outcome(system, system.falling[line])

    def changed(self, name: str, **to):
        """The line's record with the sliders' choices in it. A steep pipe grows and shrinks with its fall."""
        old = self.lines[name]
        moved = {key: to[key] for key in self.moved({"line": name, **to})}
        f = old.si
        new: dict[str, Any] = {}
        if "size" in moved:
            new["size"], new["standard"] = self.sizes[moved["size"]]
            new["bore"] = pipe_sizes.bore.si(new["size"], new["standard"], wall=f.wall) if new["size"] else f.bore
        if "lip" in moved:
            new["lip"] = self.start.falling[name].source.rim - moved["lip"]
        if "outlet" in moved:
            new["outlet"] = moved["outlet"]
        if f.siphon and {"vent", "lip"} & set(moved):
            new["siphon"] = type(f.siphon).from_si(vent=new.get("lip", f.lip) - to["vent"])
        if f.kind != "gravity line" and {"lip", "outlet"} & set(moved):
            along = max(0.0, f.length - abs(f.lip - f.outlet))
            new["length"] = along + abs(new.get("lip", f.lip) - new.get("outlet", f.outlet))
        if "screen" in moved:
            new["screen_open_area"] = moved["screen"] or None
        if "vented" in moved:
            new["vented"] = moved["vented"]
        return old.with_si(**new)

    def controls(self) -> list:
        vents = {name: DEPTH.quantity(max(0.3, self.own(name)["vent"])) for name, falling in self.lines.items() if falling.si.siphon}
        return [
            Choice("line", "which one", list(self.lines)),
            Choice("size", "size", list(self.sizes)),
            Slider("lip", "lip, below the rim", DEPTH, "20 mm", "200 mm", "5 mm", tip="how far under the vessel's rim the water goes in"),
            Slider("inflow", "water that comes", FLOW, "50 L/h", "6000 L/h", "50 L/h", tip="into its vessel, at most; pumps bring it", kept=False),
            Slider("outlet", "height of its outlet", LENGTH, "-1 m", "1 m", "0.05 m", tip="the pipe grows and shrinks with its fall", key="lines.*.outlet"),
            *([Slider("vent", "siphon's vent, below lip", DEPTH, "20 mm", "300 mm", "10 mm", tip="where air comes in and stops a siphon", of="line", highs=vents)] if vents else []),
            Slider("screen", "holes of its screen", HOLES, "0 cm2", "400 cm2", "10 cm2", tip="open area, all holes together; 0: no screen", key="lines.*.screen_open_area"),
            Switch("vented", "open at its top", tip="a tee with an open end: it takes in air and cannot siphon"),
        ]  # fmt: skip

    def tries(self) -> list[Try]:
        return of_fall(self, self.begin)

    def look(self, record: Fall, system: str) -> str:
        r = record.si
        load = FLOW.text(r.load, system)
        if r.siphon:
            told = f"Three strips over the flow into the bed; the dashed line is the {load} that comes. Hatched are the two traps: too little, and it dribbles for ever; too much, and it never stops. "
            return told + ("At the dashed line all three are green." if r.surely else "At the dashed line not all three are green.")
        brim = f"; there it takes {FLOW.text(r.capacity, system)}" if r.room > 0 else ""
        return f"What {r.line} takes at each depth over its lip. The dashed lines are the {load} that it has to carry, and the brim{brim}. Paler is quieter."

    def against(self, record: Fall, demo: Fall, system: str) -> str:
        r, d = record.si, demo.si
        theirs = f"the wide pipe of the guess, with a bore of {BORE.text(d.bore, system)}, needs {FLOW.text(d.sure, system)} to start"
        if r.siphon:
            return f"Your {r.line} has a bore of {BORE.text(r.bore, system)}: it is sure to start from {FLOW.text(r.sure, system)}, where {theirs}."
        return f"Your {r.line} is no siphon: nothing has to start, and {theirs}. It has only to carry {FLOW.text(r.load, system)}."

    def changes(self, values: Values) -> dict[tuple, object]:
        return self.kept(self.lines[values["line"]], **values)

    def told(self, new: dict, values: Values) -> str:
        return f"{values['line']}: {listed(new, names=NAMES)}"

    def kept(self, had: FallingLine, line: str, **to) -> dict[tuple, object]:
        """What the sliders' choices change in the file of a build that had this line: keys and their texts."""
        old, name, units = had.si, line, self.build.units
        new = self.changed(name, **to).si
        told = {
            "size": new.size, "standard": new.standard, "lip": written_length(new.lip, units), "outlet": written_length(new.outlet, units),
            "length": written_length(new.length, units), "screen_open_area": new.screen_open_area and _holes(new.screen_open_area, units),
            "vented": new.vented,
        }  # fmt: skip
        changes: dict[tuple, object] = {
            ("lines", name, key): text for key, text in told.items() if not alike(vars(old)[key], vars(new)[key])
        }
        if new.size and not old.size:  # a bore of its own would go before the size
            changes["lines", name, "bore"] = None
        if new.siphon and not old.siphon:
            changes["lines", name, "siphon"] = {"vent": written_length(new.siphon.si.vent, units)}
        elif new.siphon and not alike(new.siphon.si.vent, old.siphon.si.vent):
            changes["lines", name, "siphon", "vent"] = written_length(new.siphon.si.vent, units)
        return changes

    def _outcome(self, system: Steady, fall) -> Fall:
        f, all_found = fall.line.si, found(system)
        mine = [one for one in all_found if one.where == fall.name]
        works = not any(one.severity in ("stop", "fix") for one in mine)
        pipe = {"length": f.length, "k": fall.k, "temperature": system.cold}
        clear = 1 - f.screen_blocked
        down = f.lip - fall.bottom
        flows = np.minimum(drains.standpipe_flow.si(_DEPTHS, f.bore), full_pipe.full_bore_flow.si(_DEPTHS + down, f.bore, **pipe)) * clear
        start = self.lines[fall.name].si
        at_vent = first_at_vent = None
        if f.siphon:
            at_vent = fall.siphon.si.flow_at_vent
            first_at_vent = siphons.siphon_flow.si(
                start.siphon.si.vent - self.start.falling[fall.name].bottom, f.bore, start.length, k=fall.k
            )
        band = [full_pipe.flow_at_froude.si(number, f.bore) for number in (full_pipe.GULPING, full_pipe.MAY_FILL, full_pipe.FULL)]
        sloping = f.kind == "gravity line" and 0 < fall.slope < 1
        return Fall.from_si(
            line=fall.name, source=f.source, siphon=f.siphon is not None, works=works,
            surely=bool(f.siphon) and fall.siphon.si.starts == fall.siphon.si.stops == "sure", verdict=self._verdict(fall, mine), bore=f.bore,
            load=fall.load, lip=f.lip, outlet=f.outlet, room=fall.room, depth=_depth(fall, down, pipe, clear), capacity=fall.capacity,
            quiet=band[0], may_fill=band[1], full=band[2], half_full=drains.gravity_flow.si(f.bore, fall.slope) if sloping else None,
            sure=band[2], at_vent=at_vent, sure_to_stop=None if at_vent is None else at_vent / siphons.MARGIN, screen=fall.screen_speed,
            depths=_DEPTHS, flows=flows, first_load=self.start.falling[fall.name].load, first_at_vent=first_at_vent,
            findings=tuple(sorted(all_found, key=lambda one: (("stop", "fix", "note").index(one.severity), one.where != fall.name))),
        )  # fmt: skip

    @staticmethod
    def _verdict(fall, mine) -> str:
        """The outcome in two or three words, from the line's own findings."""
        wrong = {(one.severity, one.name) for one in mine}
        if fall.drop <= 0 and {("stop", "drain has no fall"), ("fix", "drain has no fall")} & wrong:
            return "No fall."
        for place, severity in enumerate(("stop", "fix")):
            for name, words in _VERDICTS.items():
                if (severity, name) in wrong:  # a fix too where an emergency overflow takes the rest
                    return "Not enough." if name == "drain short" and place and fall.capacity < fall.load else words[place]
        if fall.siphon:
            c = fall.siphon.si
            return (
                "It starts and stops."
                if c.starts == c.stops == "sure"
                else "It may not start."
                if c.starts != "sure"
                else "It may not stop."
            )
        return {"quiet": "Quiet.", "gulping": "It gulps."}.get(fall.regime, "It fills, and its open top breaks the siphon.")


def _depth(fall, down: float, pipe: dict, clear: float) -> float:
    """The depth [m] over the lip at which the line takes its load."""
    if down <= 0 or fall.load <= 0:
        return math.inf if fall.load > 0 else 0.0
    return float(drains.standpipe_depth.si(fall.load / max(clear, 1e-6), fall.line.si.bore, fall=down, **pipe))


def _holes(si: float, system: str) -> str:
    return HOLES.text(si, system).replace("cm²", "cm2").replace("in²", "in2").replace(",", "")


fall, picture, panel, sight = FallWhatIf.as_built, FallWhatIf.picture, FallWhatIf.panel, FallWhatIf.sight

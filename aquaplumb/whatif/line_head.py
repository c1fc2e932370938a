"""What if the line had more lift, more elbows, another check valve? Notebook 05.

    build = my_build()
    line_head.sight(build)        # where the head goes, in the demo and in the build as it stands
    line_head.panel(build)        # with sliders

The whole system is solved anew at each move. Lift and strainer are there to try; what is kept are the fittings and
the length of the first stretch, the flow, and the head to ask of a pump.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from aquaplumb.build import Build, PumpedLine
from aquaplumb.figures.line_head import HeadBars, LineHeadPicture, to_the_hundredth
from aquaplumb.plumbing import fittings, lines, pumps
from aquaplumb.review.findings import found
from aquaplumb.system.steady import Steady, solved
from aquaplumb.units import FLOW, HEAD, LENGTH, SHARE, Flow, Head, Record, in_percent
from aquaplumb.whatif.base import Choice, Count, Slider, alike, listed, named, short, three_figures
from aquaplumb.whatif.head_tries import of_head
from aquaplumb.whatif.suction_side import SuctionSide, inline
from aquaplumb.whatif.suction_side import controls as suction_controls
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

_POINTS = 22  # of the line's curve: enough for a smooth one
_STEP = 0.05  # m, of the lift's slider
_ROWS = ("lift", "before the pump", "pipe friction", "elbows, bends", "tees", "check valve", "strainer", "valves and joints", "way out")
_TO_TRY = ("lift", "pipe friction", "elbows, bends", "check valve", "strainer")  # sliders bring them to a line that has none
_OF_GROUP = {"bend": "elbows, bends", "tee": "tees", "check valve": "check valve", "screen": "strainer", "valve": "valves and joints"}
_OWN = {"lift": "lift", "pipe friction": "pipe friction", "valve": "valves and joints", "exit": "way out", "nozzle": "way out"}


class LineHead(Record):
    """Where the head of a line goes at a flow, and where its pump settles. Arrays belong to the picture."""

    line: str
    flow: Flow
    names: tuple
    parts: Head
    total: Head
    total_low: Head
    total_high: Head
    lift: Head
    asked_lift: Head
    pump: str
    pump_flow: Flow
    pump_head: Head
    works: bool
    flows: Flow
    asked: Head
    asked_low: Head
    asked_high: Head
    pump_flows: Flow
    pump_heads: Head
    first_flow: Flow
    first_lift: Head
    first_total: Head
    findings: tuple = ()

    def costliest(self) -> tuple[str, float]:
        """The part that costs most besides the lift, and its head [m]."""
        return max(zip(self.si.names[1:], self.si.parts[1:]), key=lambda row: row[1])

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in a sentence or two; `short` leaves out the pump."""
        r = self.si

        def head(si):  # as the bars have them
            return to_the_hundredth(si, system)

        name, most = self.costliest()
        over = r.total - r.parts[0]
        told = f"At **{FLOW.text(r.flow, system)}** {r.line} asks for **{head(r.total)}** of head: {head(r.parts[0])} lift"
        told += f" and {head(over)} losses, the most in: {name} ({head(most)})." if over > 5e-4 else ", and hardly any losses."
        if short:
            return told
        if r.asked_lift < r.lift - 1e-3:
            told += f" The lift stays {head(r.lift)}: so high stands the water that the pipe ends in."
        if r.pump_flow <= 1e-9:
            return f"{told} **No water**: its pump lifts {head(r.pump_heads[0])} at most, before any flow."
        return f"{told} Its pump settles at {FLOW.text(r.pump_flow, system)} and {head(r.pump_head)}."


class _Asker:
    """Works out a `LineHead` for a build's line; what does not change between moves is kept."""

    def __init__(self, build: Build, line: str):
        self.build, self.name, self.line = build, line, build.pumped[line]
        self.state = solved(build).pumped[line]
        self.pump = self.state.pump
        self.first = next(pipe for pipe in self.line.si.pipe if not pipe.si.after)
        aim = next((f for f in (self.state.wanted, self.state.flow) if math.isfinite(f) and f > 0), 0.3 * float(self.pump.si.flow[-1]))
        self.flow = three_figures(FLOW, aim, build.units)
        self.grid = 1.3 * max(float(self.pump.si.flow[-1]), self.flow) * np.linspace(0.0, 1.0, _POINTS) ** 1.2
        self.shapes = np.linspace(0.0, float(self.pump.si.flow[-1]), 40)
        self.heads = pumps.curve(self.pump)(self.shapes)[0]
        self.total = float(lines.required_head.si(self.state.tree, self.flow))
        counts = self.first.si.fittings
        self.elbow = next((name for name in counts if fittings.fitting(name).name == "elbow 90"), "elbow 90")
        self.elbows = round(counts.get(self.elbow, 0))
        self.checks = [name for name, count in counts.items() if count and fittings.fitting(name).is_check_valve]
        self.check = " and ".join(fittings.fitting(name).name for name in self.checks)
        self.least_lift = least_lift(build, self.line, self.state.source.level)
        self.side = SuctionSide(self.line, self.pump.si.placement == "external", self.first, build.units)
        at_first = self._all_parts(lines.head_parts.si(self.state.tree, self.flow).si)
        self.rows = tuple(
            name for name in _ROWS if at_first[name] > 0 or name in _TO_TRY or (name == "before the pump" and self.side.asked)
        )

    def __call__(self, flow: float, lift: float, elbows: int, length: float, check: str, blocked: float, **side) -> LineHead:
        system = Steady(self.build.replaced(lines=[self.changed(flow, lift, elbows, length, check, blocked, **side)]))
        state = system.pumped[self.name]
        curve = lines.system_curve.si(state.tree, self.grid).si
        parts = self._grouped(lines.head_parts.si(state.tree, flow).si)
        total = float(parts.sum())
        return LineHead.from_si(
            line=self.name, flow=flow, names=self.rows, parts=parts, total=total,
            total_low=float(lines.required_head.si(state.tree, flow, band="low")),
            total_high=float(lines.required_head.si(state.tree, flow, band="high")),
            lift=state.lift, asked_lift=lift, pump=short(self.pump.si.name), pump_flow=state.flow, pump_head=state.head,
            works=bool(state.flow > 0 and state.flow >= 0.95 * flow), flows=self.grid, asked=curve.typical,
            asked_low=curve.low, asked_high=curve.high, pump_flows=self.shapes, pump_heads=self.heads,
            first_flow=self.flow, first_lift=self.state.lift, first_total=self.total, findings=tuple(found(system)),
        )  # fmt: skip

    def _grouped(self, parts) -> np.ndarray:
        """The head of each row that is shown."""
        sums = self._all_parts(parts)
        return np.array([sums[name] for name in self.rows])

    def _all_parts(self, parts) -> dict[str, float]:
        """The head of each row there can be: what a stretch before the pump costs, then the rest by kind."""
        before = {self.side.name, *(pipe.si.name for pipe in self.line.si.suction)}
        sums = dict.fromkeys(_ROWS, 0.0)
        for where, what, head in zip(parts.where, parts.what, parts.head):
            sums["before the pump" if where in before else _row(what)] += float(head)
        return sums

    def changed(self, flow: float, lift: float, elbows: int, length: float, check: str, blocked: float, **side):
        """The line's record with the sliders' choices in it."""
        new: dict[str, Any] = {"strainer_blocked": blocked, **self.side.changed(**side)}
        if not alike(flow, self.flow):
            new["wanted"] = flow
        first = self.first.with_si(length=length, fittings=self.fitted(elbows, check))
        pipes = tuple(first if pipe is self.first else pipe for pipe in self.line.si.pipe)
        return self.line.with_si(**new, pipe=lifted(self.build, pipes, lift - self.state.lift))

    def fitted(self, elbows: int, check: str) -> dict:
        """The first stretch's fittings with so many elbows and that check valve."""
        counts = dict(self.first.si.fittings)
        if elbows != self.elbows:
            counts[self.elbow] = elbows
        if check != self.check:
            counts = {name: count for name, count in counts.items() if name not in self.checks} | ({check: 1} if check else {})
        return {name: count for name, count in counts.items() if count}

    def own(self) -> dict:
        """The values that the build has."""
        return {
            "line": self.name, "flow": self.flow, "lift": self.state.lift, "elbows": self.elbows, "length": self.first.si.length,
            "check": self.check, "blocked": self.line.si.strainer_blocked, **self.side.own(),
        }  # fmt: skip

    def chosen_head(self, values: dict) -> str:
        """The head to ask of a pump. Lift and strainer were only tried: it is that of the build's own."""
        own = self.own()
        side = {name: values[name] for name in self.side.own() if name in values}
        line = self.changed(values["flow"], own["lift"], values["elbows"], values["length"], values["check"], own["blocked"], **side)
        tree = Steady(self.build.replaced(lines=[line])).pumped[self.name].tree
        head = HEAD.shown(float(lines.required_head.si(tree, values["flow"])), self.build.units)
        return f"{head:.2f} {HEAD.unit(self.build.units)}"


def least_lift(build: Build, line: PumpedLine, level: float) -> float:
    """The least lift [m] from a water level, to the slider's step: the water itself stands that high where the line ends."""
    least = max(build.vessels[pipe.si.to].level for pipe in line.si.pipe if pipe.si.to) - level
    return max(0.0, math.ceil(least / _STEP - 1e-9) * _STEP)


def lifted(build: Build, pipes: tuple, shift: float) -> tuple:
    """The stretches with all outlets moved up together."""

    def outlet(pipe) -> float:
        vessel = build.vessels[pipe.si.to]
        return vessel.rim if pipe.si.outlet is None else max(pipe.si.outlet, vessel.level)

    return pipes if abs(shift) <= 1e-9 else tuple(pipe.with_si(outlet=outlet(pipe) + shift) if pipe.si.to else pipe for pipe in pipes)


def _row(what: str) -> str:
    """The row of the picture that a part of the head belongs to."""
    if what in _OWN:
        return _OWN[what]
    if what == "other":
        return "valves and joints"
    return _OF_GROUP.get(fittings.fitting(what.split(" and ")[0]).group, "valves and joints")


class HeadWhatIf(WhatIf):
    """Change what a line's head is made of, and keep its fittings."""

    drawn, still, page, keep_label, pick = LineHeadPicture, HeadBars, "05", "Keep these fittings in my build", "line"

    def __init__(self, build: Build, line: str | None = None):
        super().__init__(build)
        self.begin = named(line, build.pumped, next(iter(build.pumped)))
        self.askers = {name: _Asker(build, name) for name in ([line] if line else build.pumped)}

    def own(self, line: str | None = None) -> dict:
        return self.askers[line or self.begin].own()

    def __call__(self, line: str | None = None, **values) -> LineHead:
        return self.askers[line or self.begin](**values)

    def controls(self) -> list:
        askers = self.askers.values()
        checks = dict.fromkeys(["swing check valve", "spring check valve", *(asker.check for asker in askers if asker.check)])
        least = min(asker.least_lift for asker in askers)
        return [
            *([Choice("line", "line", list(self.askers))] if len(self.askers) > 1 else []),
            Slider("flow", "flow you ask for", FLOW, "100 L/h", "10000 L/h", "50 L/h", tip="while the pump runs", key="lines.*.wanted"),
            Slider("lift", "lift", HEAD, HEAD.quantity(least), HEAD.quantity(max(5.0, least + 3.0)), f"{_STEP} m",
                   tip="water in the sump to the highest outlet; all outlets move together", kept=False),
            Count("elbows", "elbows, first stretch", 0, 12, tip="90° bends between the pump and the first tee"),
            Slider("length", "length, first stretch", LENGTH, "0 m", "20 m", "0.1 m", key="lines.*.length"),
            Choice("check", "check valve", {"none": "", **{check: check for check in checks}}, tip="in the first stretch"),
            Slider("blocked", "strainer clogged", SHARE, "0 %", "90 %", "5 %", tip="the part of its openings that is shut", kept=False, key="lines.*.strainer_blocked"),
            *suction_controls({name: asker.side for name, asker in self.askers.items()}),
        ]  # fmt: skip

    def tries(self) -> list[Try]:
        return of_head(self, self.begin)

    def look(self, record: LineHead, system: str) -> str:
        r = record.si
        low, high = (to_the_hundredth(si, system) for si in (r.total_low, r.total_high))
        name, most = record.costliest()
        return (
            f"Each bar starts where the one above it ends, so the last one is all of them. The first is the lift, {in_percent(r.parts[0] / r.total)} of it. "
            f"Of the losses {name} costs most, {to_the_hundredth(most, system)}. The thin line at the end says how far printed tables of "
            f"fittings disagree: {low} to {high}."
        )

    def against(self, record: LineHead, demo: LineHead, system: str) -> str:
        r, d = record.si, demo.si

        def shares(one) -> str:
            lift, rest = (to_the_hundredth(si, system) for si in (one.parts[0], one.total - one.parts[0]))
            return f"{in_percent(one.parts[0] / one.total)} of the head is lift: {lift}, with {rest} of losses"

        yours = "it is as much" if shares(r) == shares(d) else shares(r)
        return f"In the guess {shares(d)}. On your {r.line} {yours}."

    def _picture(self, record: LineHead, system: str, above: str = "") -> HeadBars:
        shown = _bars(record, system)
        shown.above, shown.look = above, self.look(record, system)
        return shown

    def changes(self, values: Values) -> dict[tuple, object]:
        asker, moved = self.askers[values.get("line", self.begin)], self.moved(values)
        key, old, new = ("lines", asker.name), asker.first.si.fittings, asker.fitted(values["elbows"], values["check"])
        stretch = (*key, "pipe", asker.first.si.name)
        changes: dict[tuple, object]
        if new and not old:
            changes = {(*stretch, "fittings"): inline(new)}
        else:
            changes = {(*stretch, "fittings", name): new.get(name) for name in [*old, *new] if old.get(name, 0) != new.get(name, 0)}
        if "length" in moved:
            changes[(*stretch, "length")] = values.text("length")
        if "flow" in moved:
            changes[(*key, "wanted")] = values.text("flow")
        return {**changes, **asker.side.written(moved, values), (*key, "chosen_head"): asker.chosen_head(values)}

    def told(self, new: dict, values: Values) -> str:
        asker = self.askers[values.get("line", self.begin)]
        counted = fittings_in_words(asker.fitted(values["elbows"], values["check"]))
        flow = FLOW.text(values["flow"], self.build.units)
        told = f"{asker.first.si.name} has {counted}; {asker.chosen_head(values)} is the head to ask of a pump at {flow}"
        also = [listed({keys: value}) for keys, value in new.items() if keys[-1] == "length"]
        return ", ".join([told, *also, *([asker.side.told(values)] if any(keys[-1] == "suction" and new[keys] for keys in new) else [])])


def fittings_in_words(counts: dict) -> str:
    """So many fittings as one says them: "1 strainer, 3 elbows of 90°"."""

    def said(name: str, count: float) -> str:
        what, _, rest = name.partition(",")
        words, _, angle = what.rpartition(" ")
        words, angle = (words, f" of {angle}°") if words and angle.isdigit() else (what, "")
        many = "" if count == 1 or words.endswith("s") else "es" if words.endswith("ch") else "s"
        return f"{count:g} {words}{many}{angle}{',' if rest else ''}{rest}"

    return ", ".join(said(name, count) for name, count in counts.items()) or "no fittings"


outcome, panel, sight = HeadWhatIf.as_built, HeadWhatIf.panel, HeadWhatIf.sight


def picture(build: Build, line: str | None = None) -> HeadBars:
    """The bars, part by part, as the build stands; display it in a notebook."""
    return _bars(outcome(build, line), build.units)


def _bars(record: LineHead, system: str) -> HeadBars:
    """The bars without parts that the line does not have."""
    has = [i for i, head in enumerate(record.si.parts) if head > 0 or i == 0]
    return HeadBars(record.with_si(names=tuple(record.si.names[i] for i in has), parts=record.si.parts[has]), system=system)

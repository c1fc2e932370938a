"""What if another pump? Notebook 08.

    build = my_build()
    pump.sight(build)        # the guess's pump on the demo's line, then the build as it stands
    pump.panel(build)        # with sliders

The whole system is solved anew at each move, so that a pump too strong for the drains shows there as well.
"""

from __future__ import annotations

import functools
import math
from pathlib import Path
from typing import Any

import numpy as np

from aquaplumb.build import Build
from aquaplumb.figures.pump import PumpPicture
from aquaplumb.plumbing import lines, pumps
from aquaplumb.review.findings import found
from aquaplumb.system.steady import Steady, solved
from aquaplumb.system.supplies import billed
from aquaplumb.units import FLOW, HEAD, NUMBER, POWER, SHARE, Flow, Head, Number, Power, Record, in_percent, rounded
from aquaplumb.whatif.base import Choice, Slider, alike, named, short, three_figures
from aquaplumb.whatif.line_head import least_lift, lifted
from aquaplumb.whatif.own_pump import beside, own_files
from aquaplumb.whatif.pump_tries import of_pump
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

_POINTS = 28  # of the line's curve: enough for a smooth one
_FAINT = 3  # other pumps shown behind the chosen one


class PumpChoice(Record):
    """A pump on a line of a build, and what comes of it. Arrays belong to the picture."""

    line: str
    name: str
    flow: Flow
    head: Head
    flow_low: Flow
    flow_high: Flow
    wanted: Flow
    why: str
    lift: Head
    asked_lift: Head
    power: Power | None
    cost: Number | None
    works: bool
    reason: str
    flows: Flow
    asked: Head
    asked_low: Head
    asked_high: Head
    pump_flows: Flow
    pump_heads: Head
    pump_full: object
    others: tuple
    first_wanted: Flow
    first_lift: Head
    findings: tuple = ()

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in a sentence or two; `short` leaves out what it costs."""
        r = self.si
        if r.flow <= 0:
            return (
                f"**No water.** {r.name} lifts {HEAD.text(r.pump_heads[0], system)} at most; "
                f"{r.line} needs {HEAD.text(r.asked[0], system)} before any water moves."
            )
        told = f"**{FLOW.text(r.flow, system)}** at **{HEAD.text(r.head, system)}**."
        if not math.isfinite(r.wanted) or r.wanted <= 0:
            return told
        over = r.flow / r.wanted - 1
        wanted = f"the {FLOW.text(r.wanted, system)} wanted {r.why}"
        if r.works and over < 0:
            told += f" Just about {wanted}, and nothing to spare."
        else:
            told += f" {'Enough' if r.works else 'Short'}: {in_percent(over, sign=True)} on {wanted}."
        if r.power is not None and not short:
            told += f" It draws {POWER.text(r.power)}" + (
                ", from sun and battery." if r.cost is None else f", which costs {rounded(r.cost)} a year."
            )
        if r.asked_lift < r.lift - 1e-3 and not short:
            told += f" The lift stays {HEAD.text(r.lift, system)}: so high stands the water that the pipe ends in, and a deeper end saves nothing."
        return told.replace("-", "\u2212")


@functools.cache
def _demo() -> dict[str, pumps.Pump]:
    return {name: pumps.pump(name) for name in pumps.names()}


class _Chooser:
    """Works out a `PumpChoice` for a line of a build; what does not change between moves is kept."""

    def __init__(self, build: Build, line: str):
        self.build, self.name, self.line = build, line, build.pumped[line]
        self.start = solved(build)
        self.state = self.start.in_time.pumped[line]  # a float's share of the time as the review has it
        file = self.line.si.pump_file
        self.chosen = Path(file).stem if file else self.line.si.pump  # as the menu has it
        self.files = own_files(build)
        self.pumps = {**{name: pumps.from_csv(beside(build) / path) for name, path in self.files.items()}, **_demo()}
        most = max(float(pump.si.flow[-1]) for pump in self.pumps.values())
        self.grid = most * np.linspace(0.0, 1.0, _POINTS) ** 1.3
        self.aim = self.state.wanted if math.isfinite(self.state.wanted) else self.state.flow
        curve = lines.system_curve.si(self.state.tree, self.grid)
        self.flows = {name: float(pumps.operating_point.si(pump, curve).si.flow) for name, pump in self.pumps.items()}
        self.others = self._others()
        self.least_lift = least_lift(build, self.line, self.state.source.level)

    def own(self) -> dict:
        """The values that the build has."""
        line = self.line.si
        return {
            "line": self.name, "pump": self.chosen, "wanted": three_figures(FLOW, self.aim, self.build.units), "lift": self.state.lift,
            "speed": line.speed, "blocked": line.strainer_blocked, "price": self.build.site.si.power_price,
        }  # fmt: skip

    def _others(self) -> tuple:
        """A few pumps of different strength around what is wanted, to show behind the chosen one."""
        flows, own = self.flows, self.chosen
        near = sorted((n for n, f in flows.items() if f > 0 and n != own), key=lambda n: abs(math.log(flows[n] / max(self.aim, 1e-9))))
        picked: list[str] = []
        for name in near:  # of two that bring much the same, one is enough
            if all(abs(flows[name] / flows[other] - 1) > 0.12 for other in [*picked, *([own] if flows.get(own, 0) > 0 else [])]):
                picked.append(name)
        return tuple(self.pumps[name] for name in picked[:_FAINT])

    def solved(self, **moved) -> Steady:
        """The system with the sliders' choices in it; unmoved, as the review has it."""
        own = self.own()
        if all(alike(value, own[name]) for name, value in moved.items()):
            return self.start.in_time
        wants = [self.name] if alike(moved["wanted"], own["wanted"]) else []
        return self.start.changed(self.build.replaced(lines=[self.changed(**moved)]), wants=wants)

    def strainer_head(self) -> float:
        """What the line's own strainer costs at the flow wanted [m]: a third of what half of it shut adds, as the slider does."""
        own = {name: value for name, value in self.own().items() if name not in ("line", "price")}
        half = self.solved(**{**own, "blocked": max(0.5, own["blocked"])}).pumped[self.name]
        flows = self.aim * np.linspace(0.0, 1.0, 3)
        clean, shut = (float(lines.system_curve.si(one.tree, flows).si.typical[-1]) for one in (self.state, half))
        return max(0.0, (shut - clean) / 3)

    def cost(self, pump: pumps.Pump, power: float | None, duty: float, price: float) -> float | None:
        """What the line's power costs in a year."""
        bill = billed(self.build, pump)
        return None if power is None or not bill else pumps.annual_cost.si(power * bill, price, duty=duty)

    def cost_of(self, pump: str, power: float | None) -> float | None:
        """The same with another pump, at this power; a strong one rests the longer by its float."""
        duty = self.state.duty
        if self.line.si.control.si.kind == "float":
            own = {name: value for name, value in self.own().items() if name not in ("line", "price")}
            duty = self.solved(**{**own, "pump": pump}).pumped[self.name].duty
        return self.cost(self.pumps[pump], power, duty, self.build.site.si.power_price)

    def __call__(self, pump: str, wanted: float, lift: float, speed: float, blocked: float, price: float) -> PumpChoice:
        system = self.solved(pump=pump, wanted=wanted, lift=lift, speed=speed, blocked=blocked)
        state = system.pumped[self.name]
        curve = lines.system_curve.si(state.tree, self.grid).si
        running = state.pump
        last = float(running.si.flow[-1])
        flows = np.linspace(0.0, last, 40)
        works = bool(state.flow > 0 and state.flow >= 0.95 * state.wanted and state.flow <= last)
        return PumpChoice.from_si(
            line=self.name, name=running.si.name, flow=state.flow, head=state.head, flow_low=state.low,
            flow_high=state.high, wanted=state.wanted, why=state.wanted_why, lift=state.lift, asked_lift=lift, power=state.power,
            cost=self.cost(running, state.power, state.duty, price), works=works, reason="",
            flows=self.grid, asked=curve.typical, asked_low=curve.low, asked_high=curve.high,
            pump_flows=flows, pump_heads=pumps.curve(running)(flows)[0], pump_full=self.pumps[pump], others=self.others,
            first_wanted=min(self.state.wanted, 2 * last), first_lift=self.state.lift,
            findings=tuple(found(system)),
        )  # fmt: skip

    def changed(self, pump: str, speed: float, wanted: float, lift: float, blocked: float):
        """The line's record with the sliders' choices in it."""
        new: dict[str, Any] = {"speed": speed, "strainer_blocked": blocked}
        if pump != self.chosen:
            file = self.files.get(pump, "")
            new |= {"pump": "" if file else pump, "pump_file": file, "voltage": None}
        if not alike(wanted, self.own()["wanted"]):
            new["wanted"] = wanted
        return self.line.with_si(**new, pipe=lifted(self.build, self.line.si.pipe, lift - self.state.lift))


class PumpWhatIf(WhatIf):
    """Try pumps on the lines of a build, and keep one for each."""

    drawn, page, keep_label, pick = PumpPicture, "08", "Keep this pump in my build", "line"
    case = {"pump": "demo mains 80 W submersible"}

    def __init__(self, build: Build, line: str | None = None):
        super().__init__(build)
        self.begin = named(line, build.pumped, next(iter(build.pumped)))
        self.choosers = {name: _Chooser(build, name) for name in ([line] if line else build.pumped)}

    def own(self, line: str | None = None) -> dict:
        return self.choosers[line or self.begin].own()

    def __call__(self, line: str | None = None, **values) -> PumpChoice:
        return self.choosers[line or self.begin](**values)

    def controls(self) -> list:
        choosers = self.choosers.values()
        names = dict.fromkeys(name for chooser in choosers for name in chooser.pumps)
        least = min(chooser.least_lift for chooser in choosers)
        return [
            *([Choice("line", "line", list(self.choosers))] if len(self.choosers) > 1 else []),
            Choice("pump", "pump", {short(name): name for name in names}, tip="demo pumps are invented"),
            Slider("wanted", "flow wanted", FLOW, "100 L/h", "10000 L/h", "50 L/h", tip="while the pump runs", key="lines.*.wanted"),
            Slider("lift", "lift", HEAD, HEAD.quantity(least), HEAD.quantity(max(5.0, least + 3.0)), "0.05 m", tip="water in the sump to the highest outlet", kept=False),
            Slider("speed", "pump speed", SHARE, "60 %", "110 %", "1 %", tip="a DC pump's follows its voltage; others need a speed control", key="lines.*.speed"),
            Slider("blocked", "strainer clogged", SHARE, "0 %", "90 %", "5 %", tip="the part of its openings that is shut", kept=False, key="lines.*.strainer_blocked"),
            Slider("price", "price of a kWh", NUMBER, 0.0, 1.0, 0.01, tip="in your own money", key="site.power_price"),
        ]  # fmt: skip

    def tries(self) -> list[Try]:
        return of_pump(self, self.begin)

    def look(self, record: PumpChoice, system: str) -> str:
        r = record.si
        settles = f"They cross at {FLOW.text(r.flow, system)}: there it settles." if r.flow > 0 else "They do not cross: no water comes."
        return (
            f"The line asks for {HEAD.text(r.asked[0], system)} before any water moves: the lift, and what a check valve needs to open. The pale band "
            f"says how far printed tables of fittings disagree. The pump's own curve falls. {settles} A cross instead of a dot: it falls short. "
            "Faint curves are other pumps; all demo pumps are invented: take your maker's curve before you buy."
        )

    def against(self, record: PumpChoice, demo: PumpChoice, system: str) -> str:
        r, d = record.si, demo.si
        told = f"Of the {FLOW.text(d.pump_flows[-1], system)} on its box the pump of the guess brings {FLOW.text(d.flow, system)}, {in_percent(d.flow / d.pump_flows[-1])}"
        name, box = short(r.name), FLOW.text(r.pump_flows[-1], system)
        if r.flow <= 0:
            return f"{told}. Your {name} has {box} on its box, and brings nothing: your line asks for more head than it has."

        def asks(one) -> str:
            return f"{HEAD.text(one.head, system)} of head, {HEAD.text(one.lift, system)} of it lift"

        return (
            f"{told}: its line asks for {asks(d)}. Your {name} brings {FLOW.text(r.flow, system)} of the {box} on its box, "
            f"{in_percent(r.flow / r.pump_flows[-1])}: your line asks for {asks(r)}."
        )

    def about(self, values: Values) -> tuple:
        return (*super().about(values), ("site",))

    def changes(self, values: Values) -> dict[tuple, object]:
        chooser, moved = self.choosers[values.get("line", self.begin)], self.moved(values)
        key, had = ("lines", chooser.name), chooser.line.si
        changes: dict[tuple, object] = {}
        if "pump" in moved:
            file = chooser.files.get(values["pump"])
            if not file or had.pump:
                changes[(*key, "pump")] = None if file else values["pump"]
            if file or had.pump_file:
                changes[(*key, "pump_file")] = file
            if had.voltage is not None:
                changes[(*key, "voltage")] = None  # that of the pump before
        if "speed" in moved:
            changes[(*key, "speed")] = round(values["speed"], 3)
        if "wanted" in moved:
            changes[(*key, "wanted")] = values.text("wanted")
        if "price" in moved:
            changes["site", "power_price"] = values.text("price")
        return changes

    def told(self, new: dict, values: Values) -> str:
        controls = {"speed": "speed", "wanted": "wanted", "power_price": "price"}
        also = [values.said(controls[keys[-1]]) for keys in new if keys[-1] in controls]
        return ", ".join([f"{values.get('line', self.begin)} has {values['pump']}", *also])


def ranking(build: Build, line: str | None = None, *, most: int | None = None):
    """All demo pumps (and your own) on a line, or the `most` best of them and the line's own, the best first, as a table to read.

    Returns
    -------
    pandas.DataFrame
    """
    import pandas as pd

    what_if = _Chooser(build, named(line, build.pumped, next(iter(build.pumped))))
    state, system = what_if.state, build.units
    curve = lines.system_curve.si(state.tree, what_if.grid)
    names = {pump.si.name: name for name, pump in what_if.pumps.items()}
    every = pumps.ranking.si(list(what_if.pumps.values()), curve, what_if.aim, duty=state.duty, strainer_head=what_if.strainer_head())
    mine = what_if.chosen
    ranked = [one for place, one in enumerate(every) if most is None or place < most or names[one.si.name] == mine]
    costs = {c.name: what_if.cost_of(names[c.name], c.power) for c in (candidate.si for candidate in ranked)}
    rows = [
        {
            f"pump on {what_if.name}": short(c.name),
            f"flow [{FLOW.unit(system)}]": FLOW.text(c.flow, system).split()[0],
            "margin": in_percent(c.margin, sign=True),
            f"half clogged [{FLOW.unit(system)}]": FLOW.text(c.clogged_flow, system).split()[0],
            "power [W]": "" if c.power is None else rounded(c.power),
            "cost a year": "" if (cost := costs[c.name]) is None else rounded(cost),
            "what to watch": "; ".join(filter(None, ["yours as it is" * (names[c.name] == mine), c.reason])),
        }
        for c in (candidate.si for candidate in ranked)
    ]
    return pd.DataFrame(rows).set_index(f"pump on {what_if.name}")


def rankings(build: Build) -> list:
    """The first of `ranking`, a table for each pumped line. Returns: pandas.DataFrame records."""
    most = 6 if len(build.pumped) == 1 else 4
    return [ranking(build, line, most=most) for line in build.pumped]


choice, picture, panel, sight = PumpWhatIf.as_built, PumpWhatIf.picture, PumpWhatIf.panel, PumpWhatIf.sight

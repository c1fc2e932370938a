"""What if another pump? Notebook 08.

    build = my_build()
    pump.picture(build)      # as the build stands, to read on the page
    pump.panel(build)        # with sliders

The whole system is solved anew at each move, so that a pump too strong for the drains shows there as well.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from aquaplumb.build import Build
from aquaplumb.figures.pump import PumpPicture
from aquaplumb.plumbing import lines, pumps
from aquaplumb.review.findings import found
from aquaplumb.system.steady import Steady, solved
from aquaplumb.system.supplies import billed
from aquaplumb.units import FLOW, HEAD, NUMBER, POWER, SHARE, Flow, Head, Number, Power, Record, rounded
from aquaplumb.whatif.base import Choice, Slider, alike, listed, named, short, three_figures
from aquaplumb.whatif.line_head import lifted
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
            told += f" {'Enough' if r.works else 'Short'}: {over:+.0%} on {wanted}."
        if r.power is not None and not short:
            told += f" It draws {POWER.text(r.power)}" + (
                ", from sun and battery." if r.cost is None else f", which costs {rounded(r.cost)} a year."
            )
        return told.replace("-", "\u2212")


class PumpWhatIf(WhatIf):
    """Try pumps on a line of a build, and keep one; what does not change between moves is kept."""

    drawn, page, keep_label = PumpPicture, "08", "Keep this pump in my build"

    def __init__(self, build: Build, line: str | None = None):
        super().__init__(build)
        self.name = named(line, build.pumped, next(iter(build.pumped)))
        self.line = build.pumped[self.name]
        start = solved(build)
        self.state = start.pumped[self.name]
        self.chosen = self.state.pump.si.name if self.line.si.pump_file else self.line.si.pump  # as the menu has it
        self.pumps = {name: pumps.pump(name) for name in pumps.names()}
        if self.line.si.pump_file:
            self.pumps = {self.chosen: start.pump_of(self.line.replace(voltage=None)), **self.pumps}
        most = max(float(pump.si.flow[-1]) for pump in self.pumps.values())
        self.grid = most * np.linspace(0.0, 1.0, _POINTS) ** 1.3
        self.others = self._others()

    def own(self) -> dict:
        state, line = self.state, self.line.si
        wanted = state.wanted if math.isfinite(state.wanted) else state.flow
        return {
            "pump": self.chosen, "wanted": three_figures(FLOW, wanted, self.build.units), "lift": state.lift, "speed": line.speed,
            "blocked": line.strainer_blocked, "price": self.build.site.si.power_price,
        }  # fmt: skip

    def controls(self) -> list:
        return [
            Choice("pump", "pump", {short(name): name for name in self.pumps}, tip="demo pumps are invented"),
            Slider("wanted", "flow wanted", FLOW, "100 L/h", "10000 L/h", "50 L/h", tip="while the pump runs"),
            Slider("lift", "lift", HEAD, "0 m", "5 m", "0.05 m", tip="water in the sump to the highest outlet", kept=False),
            Slider("speed", "pump speed", SHARE, "60 %", "110 %", "1 %", tip="a DC pump's follows its voltage; others need a speed control"),
            Slider("blocked", "strainer clogged", SHARE, "0 %", "90 %", "5 %", tip="the part of its openings that is shut", kept=False),
            Slider("price", "price of a kWh", NUMBER, 0.0, 1.0, 0.01, tip="in your own money"),
        ]  # fmt: skip

    def _others(self) -> tuple:
        """A few demo pumps of different strength around what is wanted, to show behind the chosen one."""
        curve = lines.system_curve.si(self.state.tree, self.grid)
        aim = self.state.wanted if math.isfinite(self.state.wanted) else self.state.flow
        flows = {name: float(pumps.operating_point.si(pump, curve).si.flow) for name, pump in self.pumps.items()}
        own = self.state.pump.si.name
        near = sorted((n for n, f in flows.items() if f > 0 and n != own), key=lambda n: abs(math.log(flows[n] / max(aim, 1e-9))))
        picked: list[str] = []
        for name in near:  # of two that bring much the same, one is enough
            if all(abs(flows[name] / flows[other] - 1) > 0.12 for other in [*picked, *([own] if flows.get(own, 0) > 0 else [])]):
                picked.append(name)
        return tuple(self.pumps[name] for name in picked[:_FAINT])

    def __call__(self, pump: str, wanted: float, lift: float, speed: float, blocked: float, price: float) -> PumpChoice:
        system = Steady(self.build.replaced(lines=[self._changed(pump, speed, wanted, lift, blocked)]))
        state = system.pumped[self.name]
        curve = lines.system_curve.si(state.tree, self.grid).si
        running = state.pump
        flows = np.linspace(0.0, float(running.si.flow[-1]), 40)
        last = float(running.si.flow[-1])
        needed = state.wanted
        works = bool(state.flow > 0 and state.flow >= 0.95 * needed and state.flow <= last)
        return PumpChoice.from_si(
            line=self.name, name=running.si.name, flow=state.flow, head=state.head, flow_low=state.low,
            flow_high=state.high, wanted=needed, why=state.wanted_why, lift=state.lift, power=state.power,
            cost=None if state.power is None or not (bill := billed(self.build, running)) else pumps.annual_cost.si(state.power * bill, price, duty=state.duty), works=works, reason="",
            flows=self.grid, asked=curve.typical, asked_low=curve.low, asked_high=curve.high,
            pump_flows=flows, pump_heads=pumps.curve(running)(flows)[0], pump_full=self.pumps[pump], others=self.others,
            first_wanted=min(self.state.wanted, 2 * last), first_lift=self.state.lift,
            findings=tuple(found(system)),
        )  # fmt: skip

    def _changed(self, pump: str, speed: float, wanted: float, lift: float, blocked: float):
        """The line's record with the sliders' choices in it."""
        new: dict[str, Any] = {"speed": speed, "strainer_blocked": blocked}
        if pump != self.chosen:
            new |= {"pump": pump, "pump_file": "", "voltage": None}
        if not alike(wanted, self.own()["wanted"]):
            new["wanted"] = wanted
        return self.line.with_si(**new, pipe=lifted(self.build, self.line.si.pipe, lift - self.state.lift))

    def changes(self, values: Values) -> dict[tuple, object]:
        key, moved = ("lines", self.name), self.moved(values)
        changes: dict[tuple, object] = {}
        if "pump" in moved:
            changes[(*key, "pump")] = values["pump"]
            if self.line.si.pump_file:
                changes[(*key, "pump_file")] = None
        if "speed" in moved:
            changes[(*key, "speed")] = round(values["speed"], 3)
        if "wanted" in moved:
            changes[(*key, "wanted")] = values.text("wanted")
        if "price" in moved:
            changes["site", "power_price"] = values.text("price")
        return changes

    def told(self, new: dict, values: Values) -> str:
        also = [listed({keys: value}) for keys, value in new.items() if keys[-1] in ("wanted", "speed", "power_price")]
        return " and ".join([f"{self.name} has {values['pump']}", *also])


def ranking(build: Build, line: str | None = None):
    """All demo pumps (and your own) on a line, the best first, as a table to read.

    Returns
    -------
    pandas.DataFrame
    """
    import pandas as pd

    what_if = PumpWhatIf(build, line)
    state, system = what_if.state, build.units
    wanted = state.wanted if math.isfinite(state.wanted) else state.flow
    curve = lines.system_curve.si(state.tree, what_if.grid)
    ranked = pumps.ranking.si(list(what_if.pumps.values()), curve, wanted, duty=state.duty, price=build.site.si.power_price)
    rows = [
        {
            "pump": c.name,
            f"flow [{FLOW.unit(system)}]": FLOW.text(c.flow, system).split()[0],
            "margin": f"{c.margin:+.0%}",
            f"half clogged [{FLOW.unit(system)}]": FLOW.text(c.clogged_flow, system).split()[0],
            "power [W]": "" if c.power is None else rounded(c.power),
            "cost a year": "" if c.cost is None else rounded(c.cost),
            "what to watch": c.reason,
        }
        for c in (candidate.si for candidate in ranked)
    ]
    return pd.DataFrame(rows).set_index("pump")


choice, picture, panel = PumpWhatIf.as_built, PumpWhatIf.picture, PumpWhatIf.panel

"""What if another pump? Notebook 08.

    build = my_build()
    pump.picture(build)      # as the build stands, to read on the page
    pump.panel(build)        # with sliders

The whole system is solved anew at each move, so that a pump too strong for the drains shows there as well.
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.build import Build
from aquaplumb.figures.pump import PumpPicture
from aquaplumb.plumbing import lines, pumps
from aquaplumb.review.findings import found
from aquaplumb.system.steady import Steady
from aquaplumb.units import FLOW, HEAD, NUMBER, POWER, SHARE, Flow, Head, Number, Power, Record, rounded
from aquaplumb.whatif.base import Choice, Keeper, Panel, Slider, listed, named, three_figures, worst, written

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
        enough = "Enough" if r.works else "Short"
        told += f" {enough}: {over:+.0%} on the {FLOW.text(r.wanted, system)} wanted {r.why}."
        if r.power is not None and not short:
            told += f" It draws {POWER.text(r.power)}, which costs {rounded(r.cost)} a year."
        return told.replace("-", "\u2212")


class _Chooser:
    """Works out a `PumpChoice` for a build's line; what does not change between moves is kept."""

    def __init__(self, build: Build, line: str | None):
        self.build, self.name = build, named(line, build.pumped, next(iter(build.pumped)))
        self.line = build.pumped[self.name]
        self.start = Steady(build)
        self.state = self.start.pumped[self.name]
        self.own = self.state.pump.si.name
        self.pumps = {name: pumps.pump(name) for name in pumps.names()}
        if self.line.si.pump_file:
            self.pumps = {self.own: self.start.pump_of(self.line.replace(voltage=None)), **self.pumps}
        most = max(float(pump.si.flow[-1]) for pump in self.pumps.values())
        self.grid = most * np.linspace(0.0, 1.0, _POINTS) ** 1.3
        self.others = self._others()

    def _others(self) -> tuple:
        """A few demo pumps of different strength around what is wanted, to show behind the chosen one."""
        curve = lines.system_curve.si(self.state.tree, self.grid)
        aim = self.state.wanted if math.isfinite(self.state.wanted) else self.state.flow
        flows = {name: float(pumps.operating_point.si(pump, curve).si.flow) for name, pump in self.pumps.items()}
        near = sorted((n for n, f in flows.items() if f > 0 and n != self.own), key=lambda n: abs(math.log(flows[n] / max(aim, 1e-9))))
        picked: list[str] = []
        for name in near:  # of two that bring much the same, one is enough
            if all(abs(flows[name] / flows[other] - 1) > 0.12 for other in [*picked, *([self.own] if flows.get(self.own, 0) > 0 else [])]):
                picked.append(name)
        return tuple(self.pumps[name] for name in picked[:_FAINT])

    def __call__(self, pump: str, wanted: float, lift: float, speed: float, blocked: float, price: float) -> PumpChoice:
        """All bare SI; `speed` is a share of the full one."""
        chosen = self.pumps[pump]
        shift = lift - self.state.lift
        line = self._changed(pump, speed, wanted, shift, blocked)
        build = self.build.replaced(lines=[line])
        system = Steady(build)
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
            cost=None if state.power is None else pumps.annual_cost.si(state.power, price, duty=state.duty), works=works, reason="",
            flows=self.grid, asked=curve.typical, asked_low=curve.low, asked_high=curve.high,
            pump_flows=flows, pump_heads=pumps.curve(running)(flows)[0], pump_full=chosen, others=self.others,
            first_wanted=min(self.state.wanted, 2 * last), first_lift=self.state.lift,
            findings=tuple(found(system)),
        )  # fmt: skip

    def _changed(self, pump: str, speed: float, wanted: float, shift: float, blocked: float):
        """The line's record with the sliders' choices in it."""
        old = self.line.si
        new = {"speed": speed, "strainer_blocked": blocked}
        if pump != _pump_name(self):
            new.update(pump=pump, pump_file="", voltage=None)
        if not abs(wanted / max(self.state.wanted, 1e-9) - 1) < 6e-3:  # as the panel starts it, rounded to three figures
            new["wanted"] = wanted
        if abs(shift) > 1e-9:
            new["pipe"] = tuple(self._lifted(pipe, shift) for pipe in old.pipe)
        if blocked > 0 and not any("strainer" in pipe.si.fittings for pipe in (*old.suction, *old.pipe)):
            first, *rest = new.get("pipe", old.pipe)  # a build that lists no strainer has one all the same
            fitted = first.with_si(fittings={**first.si.fittings, "strainer": 1})
            new["pipe"] = (fitted, *rest)
        return self.line.with_si(**new)

    def _lifted(self, pipe, shift: float):
        if not pipe.si.to:
            return pipe
        vessel = self.build.vessels[pipe.si.to]
        outlet = vessel.rim if pipe.si.outlet is None else max(pipe.si.outlet, vessel.level)
        return pipe.with_si(outlet=outlet + shift)


def choice(build: Build, line: str | None = None) -> PumpChoice:
    """The pump of a line as the build has it.

    Parameters
    ----------
    build : Build
    line : str, optional
        Its name; the first pumped line without it.

    Returns
    -------
    PumpChoice
    """
    chooser = _Chooser(build, line)
    state, own = chooser.state, chooser.line.si
    return chooser(_pump_name(chooser), state.wanted, state.lift, own.speed, own.strainer_blocked, build.site.si.power_price)


def _pump_name(chooser: _Chooser) -> str:
    """The name in the menu of the pump that the build has."""
    return chooser.own if chooser.line.si.pump_file else chooser.line.si.pump


def picture(build: Build, line: str | None = None) -> PumpPicture:
    """The picture of the pump as the build has it; display it in a notebook."""
    return PumpPicture(choice(build, line), system=build.units)


def ranking(build: Build, line: str | None = None):
    """All demo pumps (and your own) on a line, the best first, as a table to read.

    Returns
    -------
    pandas.DataFrame
    """
    import pandas as pd

    chooser = _Chooser(build, line)
    state, system = chooser.state, build.units
    wanted = state.wanted if math.isfinite(state.wanted) else state.flow
    curve = lines.system_curve.si(state.tree, chooser.grid)
    ranked = pumps.ranking.si(list(chooser.pumps.values()), curve, wanted, duty=state.duty, price=build.site.si.power_price)
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


def panel(build: Build, line: str | None = None) -> Panel:
    """The what-if: try pumps on a line of your build, and keep one.

    Parameters
    ----------
    build : Build
    line : str, optional
        Its name; the first pumped line without it.

    Returns
    -------
    Panel
    """
    chooser = _Chooser(build, line)
    state, own = chooser.state, chooser.line.si
    wanted = three_figures(FLOW, state.wanted if math.isfinite(state.wanted) else state.flow, build.units)
    keeper = Keeper(build)

    def keep(values: dict) -> str:
        key = ("lines", chooser.name)
        changes: dict[tuple, object] = {}
        if values["pump"] != _pump_name(chooser) or values["pump"] in pumps.names():
            changes[(*key, "pump")] = values["pump"]
            if chooser.line.si.pump_file:
                changes[(*key, "pump_file")] = None
        if abs(values["speed"].m_as("") - own.speed) > 1e-6:
            changes[(*key, "speed")] = round(values["speed"].m_as(""), 3)
        if abs(panel_.si["wanted"] / wanted - 1) > 1e-3:
            changes[(*key, "wanted")] = written(values["wanted"])
        if abs(values["price"] - build.site.si.power_price) > 1e-9:
            changes["site", "power_price"] = written(values["price"])

        def told(new: dict) -> str:
            also = [listed({keys: value}) for keys, value in new.items() if keys[-1] in ("wanted", "speed", "power_price")]
            return " and ".join([f"{chooser.name} has {values['pump']}", *also])

        return keeper.keep(changes, told)

    panel_ = Panel(
        [
            Choice("pump", "pump", {_label(name): name for name in chooser.pumps}, tip="demo pumps are invented"),
            Slider("wanted", "flow wanted", FLOW, "100 L/h", "10000 L/h", "50 L/h", tip="while the pump runs"),
            Slider("lift", "lift", HEAD, "0 m", "5 m", "0.05 m", tip="water in the sump to the highest outlet", kept=False),
            Slider(
                "speed", "pump speed", SHARE, "60 %", "110 %", "1 %", tip="a DC pump's follows its voltage; others need a speed control"
            ),
            Slider("blocked", "strainer clogged", SHARE, "0 %", "90 %", "5 %", tip="the part of its openings that is shut", kept=False),
            Slider("price", "price of a kWh", NUMBER, 0.0, 1.0, 0.01, tip="in your own money"),
        ],
        compute=chooser,
        picture=PumpPicture(system=build.units),
        sentence=lambda record, system: record.sentence(system),
        findings=worst("08"),
        keep=keep,
        keep_label="Keep this pump in my build",
        system=build.units,
        start={
            "pump": _pump_name(chooser),
            "wanted": FLOW.quantity(wanted),
            "lift": HEAD.quantity(state.lift),
            "speed": own.speed,
            "blocked": own.strainer_blocked,
            "price": build.site.si.power_price,
        },
    )
    return panel_


def _label(name: str) -> str:
    return name.removeprefix("demo ").replace(" submersible", "")

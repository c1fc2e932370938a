"""What if another wire, or a battery in place of the mains? The first what-if of notebook 11.

    build = my_build()
    supply.picture(build)      # as the build stands, to read on the page
    supply.panel(build)        # with sliders

The pipework stays as it is: the same line, another pump, another operating point. A build on mains gets the DC pump to
try that comes nearest to what its line wants.
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb import power
from aquaplumb.build import Build, Supply
from aquaplumb.figures.supply import SupplyPicture
from aquaplumb.plumbing import pumps
from aquaplumb.review.findings import found
from aquaplumb.review.findings.pumping import ENOUGH
from aquaplumb.system.power_plan import full_pump, line_curve, single
from aquaplumb.system.steady import Steady, solved
from aquaplumb.system.supplies import is_dc
from aquaplumb.units import (
    CURRENT,
    FLOW,
    LENGTH,
    POWER,
    SHARE,
    VOLTAGE,
    Current,
    DesignError,
    Flow,
    Length,
    Number,
    Power,
    Record,
    Voltage,
    rounded,
)
from aquaplumb.whatif.base import Choice, Slider, named, short
from aquaplumb.whatif.suction_side import Beside
from aquaplumb.whatif.supply_tries import of_wire, wire_differs, wire_look
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

USUAL_WIRE = {"metric": "2.5 mm2 flexible", "US": "AWG 12 stranded"}
USUAL_LENGTH = {"metric": 6.0, "US": 6.096}  # m
LONGEST = {"metric": 30.0, "US": 30.48}  # m, where the ruler ends
_SHOWN = {
    "metric": ("0.75 mm2 flexible", "1.5 mm2 flexible", "4 mm2 flexible"),
    "US": ("AWG 18 stranded", "AWG 14 stranded", "AWG 10 stranded"),
}
_POINTS = 61  # along the wire
# Findings of which the page's two other panels, just below, say the same of the build as it is kept.
BELOW = ("panel short in the dark weeks", "battery short", "heater short", "heaters need more than one socket")


class Wiring(Record):
    """A line's pump on its supply, and what comes of it. Arrays belong to the picture: flow and drop along the wire."""

    line: str
    pump: str
    mains: bool
    tried: bool  # the build's own pump runs on mains, and this one takes its place
    own: str
    own_flow: Flow
    own_power: Power | None
    energy: Power | None  # of a mains pump, the mean over the year
    cost: Number | None
    price: Number
    wanted: Flow
    supply: Voltage | None
    wire: str
    length: Length
    voltage: Voltage | None
    running_voltage: Voltage | None
    lowest: Voltage | None
    drop_share: Number | None
    current: Current | None
    flow: Flow
    lost: Flow
    power: Power | None
    fuse: Current | None
    rating: Current | None
    stands: bool
    works: bool
    reason: str
    lengths: Length
    flows: Flow
    drops: Number
    others: tuple  # (wire, flows) of a few more
    flow_end: Flow
    findings: tuple = ()

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in a sentence or two; `short` leaves out the old pump and the fuse."""
        r = self.si
        if r.mains:
            told = f"**On mains,** {r.pump} brings **{FLOW.text(r.flow, system)}**."
            if r.energy is not None and r.cost is not None and not short:
                told += (
                    f" It takes {POWER.text(r.power)}: {rounded(r.energy * 8.76)} kWh a year, which cost {rounded(r.cost)} at {rounded(r.price)} a kWh. "
                    "Its speed does not follow the wire."
                )
            return told
        old = f" On mains, {r.own} brings {FLOW.text(r.own_flow, system)}." if r.tried and not short else ""
        if r.stands:
            arrives, least = VOLTAGE.text(r.running_voltage), VOLTAGE.text(r.lowest) if r.lowest is not None else ""
            under, needs = "Just under " if arrives == least else "", f"; it needs {least}" if least else ""
            return f"**The pump stands.** {under}{arrives} of {VOLTAGE.text(r.supply)} would arrive{needs}.{old}"
        if r.flow <= 0:
            return f"**No water.** {VOLTAGE.text(r.voltage)} arrive, and the pump does not lift the water that high.{old}"
        told = (
            f"**{VOLTAGE.text(r.voltage)}** of {VOLTAGE.text(r.supply)} arrive ({SHARE.text(r.drop_share)} lost). It brings **{FLOW.text(r.flow, system)}**; "
            f"the wire takes {FLOW.text(r.lost, system)} of it."
        )
        if short:
            return told
        if r.fuse is not None:
            told += f" It draws {POWER.text(r.power)}, {CURRENT.text(r.current)}: "
            if r.rating is not None and r.fuse > r.rating:  # the finding says stop: no size is named that sets this wire on fire
                told += f"this wire may have a fuse of {CURRENT.text(r.rating)} at most, too small for it."
            else:
                told += f"a fuse of {CURRENT.text(r.fuse)}, at the battery."
        return told + old


class WireWhatIf(WhatIf):
    """Try a DC pump and its wire on a line of a build, and keep them; what does not change between moves is kept."""

    drawn, page, keep_label, pick = SupplyPicture, "11", "Keep this pump and wire", "line"
    guessed = "bell-wire-to-the-pump"
    case_us = {"wire": "AWG 18 stranded", "length": 16.764}  # 55 ft: such wire is sold by AWG there, and keeps as much

    def __init__(self, build: Build, line: str | None = None):
        super().__init__(build)
        self.start, self.lines = solved(build), list(build.pumped)
        if not self.lines:
            raise DesignError("this build has no pump to feed; give it a pumped line first (notebook 05).")
        self.full = {name: full_pump(self.start, line) for name, line in build.pumped.items()}
        self.demo = {name: pump for name in pumps.names() if is_dc(pump := pumps.pump(name))}
        self.dc = {**{pump.si.name: pump for pump in self.full.values() if is_dc(pump)}, **self.demo}
        self.mains = {pump.si.name for pump in self.full.values() if not is_dc(pump)}
        self.pumps = {**{pump.si.name: pump for pump in self.full.values()}, **self.demo}
        family = "AWG stranded" if build.units == "US" else "mm2 flexible"
        own = [build.power.si.wire] if build.power and build.power.si.wire else []
        self.wires = list(dict.fromkeys([*power.wire_names(family), *own]))
        self.shown = [name for name in (*_SHOWN[build.units],)]
        self.beside = {name: Beside(build, own) for name, own in build.pumped.items() if not own.si.suction}
        self._trees: dict = {}
        self._curves: dict = {}
        self._along: dict = {}
        self.reach = max(LONGEST[build.units], 1.2 * (build.power.si.wire_length if build.power else 0.0))
        # To begin with: the first line with a DC pump, else the first.
        self.begin = named(line, self.lines, next((name for name in self.lines if is_dc(self.full[name])), self.lines[0]))

    def own(self, line: str | None = None) -> dict:
        line = line or self.begin
        pump, given = self.full[line], self.build.power
        if not is_dc(pump):
            pump = self.nearest(line)
        known = pump.si.voltage or 12.0
        return {
            "line": line,
            "pump": pump.si.name,
            "voltage": given.si.voltage if given and is_dc(self.full[line]) else known,
            "wire": (given.si.wire if given else "") or USUAL_WIRE[self.build.units],
            "length": given.si.wire_length if given and given.si.wire_length > 0 else USUAL_LENGTH[self.build.units],
        }

    def follow(self) -> dict:
        def rated(values: dict) -> dict:
            pump = self.pumps[values["pump"]].si
            return {"voltage": pump.voltage} if pump.name in self.dc and pump.voltage else {}

        return {**super().follow(), "pump": rated}

    def nearest(self, line: str):
        """The weakest demo DC pump that brings what a line wants on its usual wire; the strongest where none does."""
        state, flows = self.start.pumped[line], {}
        aim = state.wanted if math.isfinite(state.wanted) and state.wanted > 0 else state.flow
        for name, pump in self.demo.items():
            flows[name] = power.wired_pump.si(
                pump, self.curve(line, pump), pump.si.voltage, wire=USUAL_WIRE[self.build.units], length=USUAL_LENGTH[self.build.units]
            ).si.flow
        enough = [name for name in flows if flows[name] >= aim]
        return self.demo[min(enough, key=lambda name: flows[name]) if enough else max(flows, key=lambda name: flows[name])]

    def curve(self, line: str, pump):
        """What the line asks for, up to what the pump could bring."""
        key = line, pump.si.name
        if key not in self._curves:
            self._curves[key] = line_curve(self._tree(line, pump), pump)
        return self._curves[key]

    def _stands_beside(self, line: str, pump) -> Beside | None:
        """How a pump would stand that is to take the place of one in the water; None where nothing of that changes."""
        return self.beside.get(line) if pump.si.placement == "external" and pump.si.name != self.full[line].si.name else None

    def _tree(self, line: str, pump):
        """The line, with the way into a pump that is to stand beside its water."""
        beside = self._stands_beside(line, pump)
        if not beside:
            return self.start.pumped[line].tree
        if line not in self._trees:
            changed = self.build.pumped[line].with_si(**beside.records())
            self._trees[line] = Steady(self.build.replaced(lines=[changed])).pumped[line].tree
        return self._trees[line]

    def along(self, line: str, pump, voltage: float) -> dict:
        """Flow and share lost along each wire, by its name: all wires and lengths in one go."""
        key = line, pump.si.name, voltage
        if key not in self._along:
            lengths = self.lengths()
            ohms = np.stack([power.wire_resistance.si(name, lengths) for name in self.wires])
            run = power.wired_pump.si(pump, self.curve(line, pump), voltage, resistance=ohms).si
            self._along = {key: {name: (run.flow[place], run.drop_share[place]) for place, name in enumerate(self.wires)}}
        return self._along[key]

    def lengths(self) -> np.ndarray:
        """Of the wire, to the end of the ruler [m]."""
        return np.linspace(0.0, self.reach, _POINTS)

    def controls(self) -> list:
        dc = [name for name in self.pumps if name in self.dc]
        given = self.build.power.si.voltage if self.build.power else 0.0
        highest = VOLTAGE.quantity(max(30.0, given, *(1.3 * (self.pumps[name].si.voltage or 0.0) for name in dc)))
        reach = LENGTH.quantity(self.reach)
        labels = {f"{short(name)}, as it is" if name in self.mains else short(name): name for name in self.pumps}
        return [
            *([Choice("line", "line", self.lines)] if len(self.lines) > 1 else []),
            Choice("pump", "pump", labels, tip="demo pumps are invented"),
            Slider("voltage", "at the battery", VOLTAGE, "9 V", highest, "0.1 V", tip="12 V at rest; 11 when nearly flat, 13.6 on charge; of a 24 V battery twice that",
                   of="pump", highs=dict.fromkeys(dc, highest), key="power.voltage"),
            Choice("wire", "wire", {name: self.wires if name in dc else [] for name in self.pumps}, tip="its size; the copper, not the coat", of="pump"),
            Slider("length", "length of the wire", LENGTH, "0.5 m", reach, "0.5 m", us=("1 ft", reach, "1 ft"),
                   tip="one way, from battery to pump", of="pump", highs=dict.fromkeys(dc, reach), key="power.wire_length"),
        ]  # fmt: skip

    def tries(self) -> list[Try]:
        return of_wire(self, self.begin)

    def look(self, record: Wiring, system: str) -> str:
        return wire_look(record, system)

    def against(self, record: Wiring, demo: Wiring, system: str) -> str:
        return wire_differs(record, demo, system)

    def findings(self, record, system: str) -> list[tuple[str, str]]:
        # Without a pump that runs the panels below have nothing to say.
        found = self.page_findings(record, count=3, below=() if record.si.stands else BELOW)
        beside = self._stands_beside(record.si.line, self.pumps[record.si.pump])
        return [*found, ("note", beside.said(system))] if beside else found

    def about(self, values: Values) -> tuple:
        key = ("lines", values.get("line", self.begin))
        return (key,) if values["pump"] in self.mains else (key, ("power",))  # of another line, a supply that was kept stays

    def changes(self, values: Values) -> dict[tuple, object]:
        record = self(**values).si
        key, from_file = ("lines", record.line), bool(self.build.pumped[record.line].si.pump_file)
        if record.stands:
            raise DesignError("on this wire the pump stands; take a thicker or a shorter one first.")
        if record.mains:  # the line's own pump
            return {} if from_file else {(*key, "pump"): record.pump, (*key, "voltage"): None}
        changes: dict[tuple, object] = {}
        if record.pump != self.full[record.line].si.name:
            beside = self._stands_beside(record.line, self.pumps[record.pump])
            changes = {
                (*key, "pump"): record.pump,
                **({(*key, "pump_file"): None} if from_file else {}),
                **(beside.keys() if beside else {}),
            }
        arrives = arriving(self.pumps[record.pump], record)
        return {
            **changes,
            (*key, "voltage"): None if arrives is None else f"{arrives:.4g} V",
            ("power", "voltage"): f"{record.supply:.4g} V",
            ("power", "wire"): record.wire,
            ("power", "wire_length"): values.text("length"),
        }  # fmt: skip

    def told(self, new: dict, values: Values) -> str:
        record = self(**values).si
        if record.mains:
            return f"{record.line} stays on mains"
        said = f"{record.line} has {record.pump} on {LENGTH.text(record.length, values.system)} of {record.wire}; {VOLTAGE.text(record.voltage)} arrive"
        beside = self._stands_beside(record.line, self.pumps[record.pump])
        return f"{said}. {beside.said(values.system).removesuffix('.')}" if beside else said

    def __call__(self, pump: str, voltage: float, wire: str, length: float, line: str | None = None) -> Wiring:
        """All bare SI; `length` is one way."""
        line = line or self.begin
        state, own = self.start.in_time.pumped[line], self.full[line]  # a float's share of the time as the review has it
        price = self.build.site.si.power_price
        told = {
            "line": line, "pump": pump, "own": own.si.name, "own_flow": state.flow, "own_power": state.power, "price": price,
            "energy": None if state.power is None else state.power * state.duty, "cost": state.cost, "wanted": state.wanted, "wire": wire, "length": length,
        }  # fmt: skip
        lengths = self.lengths()
        if pump not in self.dc:
            if pump != own.si.name:
                raise DesignError(f"{pump} is the mains pump of another line; choose {own.si.name} or a DC pump.")
            return Wiring.from_si(
                **told, mains=True, tried=False, supply=None, voltage=None, running_voltage=None, lowest=None, drop_share=None, current=None, flow=state.flow, lost=0.0,
                power=state.power, fuse=None, rating=None, stands=False, works=_works(state.flow, state.wanted), reason="", lengths=lengths,
                flows=np.full(_POINTS, state.flow), drops=np.zeros(_POINTS), others=(), flow_end=1.25 * state.flow, findings=tuple(found(self.start)),
            )  # fmt: skip
        chosen = self.pumps[pump]
        run = single(power.wired_pump.si(chosen, self.curve(line, chosen), voltage, wire=wire, length=length).si)
        along = self.along(line, chosen, voltage)
        stands = bool(run.current <= 0)
        system = Steady(self.changed(line, pump, voltage, wire, length, run), runs={line: run})
        plan = system.power
        own_wire = plan.lines[line] if plan else None  # the one plan, as review and sheet have it
        size = own_wire.fuse if own_wire and own_wire.fuse and math.isfinite(own_wire.fuse) else None
        tried = not is_dc(own)  # a pump that the page picked
        findings = [f for f in found(system) if not (stands and f.notebook != "11")]
        best = max(float(flows.max()) for flows, _ in along.values())
        return Wiring.from_si(
            **told, mains=False, tried=tried, supply=voltage, voltage=run.voltage, running_voltage=run.running_voltage, lowest=chosen.si.lowest_voltage,
            drop_share=run.drop_share, current=run.current, flow=run.flow, lost=run.lost, power=run.supply_power, fuse=size, rating=own_wire.rating if own_wire else None, stands=stands,
            works=_works(run.flow, state.wanted), reason=str(run.reason), lengths=lengths, flows=along[wire][0], drops=along[wire][1],
            others=tuple((name, along[name][0]) for name in self.shown if name != wire and name in along), flow_end=1.25 * max(best, state.flow), findings=tuple(findings),
        )  # fmt: skip

    def supply(self, voltage: float, wire: str, length: float) -> Supply:
        """The build's supply with these in it."""
        old = vars(self.build.power.si) if self.build.power else {}
        return Supply.from_si(**{**old, "voltage": voltage, "wire": wire, "wire_length": length})

    def changed(self, line: str, pump: str, voltage: float, wire: str, length: float, run) -> Build:
        """The build with a pump on this supply; the pump gets what arrives, where it runs on it."""
        beside = self._stands_beside(line, self.pumps[pump])
        other = {} if pump == self.full[line].si.name else {"pump": pump, "pump_file": "", **(beside.records() if beside else {})}
        changed = self.build.pumped[line].with_si(**other, voltage=arriving(self.pumps[pump], run))
        return self.build.replaced(lines=[changed], power=self.supply(voltage, wire, length))


def _works(flow: float, wanted: float) -> bool:
    return bool(flow > 0 and not (math.isfinite(wanted) and flow < ENOUGH * wanted))


def arriving(pump, run) -> float | None:
    """The voltage with which a review can reckon: what arrives, None where the pump does not run on it (bare SI)."""
    own = pump.si.voltage
    return run.voltage if run.current > 0 and 0.6 * own <= run.voltage <= 1.1 * own else None


wiring, picture, panel, sight = WireWhatIf.as_built, WireWhatIf.picture, WireWhatIf.panel, WireWhatIf.sight

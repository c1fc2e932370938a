"""How much water has to move? Notebook 03.

    build = my_build()
    water_flow.picture(build)      # as the build stands, to read on the page
    water_flow.panel(build)        # with sliders

Each move changes what the water has to be like and solves the whole build anew, so that no finding contradicts the
review.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from aquaplumb import water
from aquaplumb.build import Build, Control
from aquaplumb.figures.water_flow import TANK, FlowPicture
from aquaplumb.fish import waste_limits
from aquaplumb.review.findings import found
from aquaplumb.system.steady import solved
from aquaplumb.units import (
    CONCENTRATION,
    FLOW,
    HEAD,
    HOUR,
    NUMBER,
    SHARE,
    TEMPERATURE,
    TIME,
    TURNOVER,
    Concentration,
    Flow,
    Number,
    Record,
    Temperature,
    in_percent,
)
from aquaplumb.whatif.base import Slider, listed, named
from aquaplumb.whatif.flow_tries import of_flow
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

_WATER = ("turnovers", "outlet_oxygen", "ammonia_limit", "removal", "aerated_share", "ph")
_UNMOVED = 1.0  # s of each hour: rounding


class Brings(NamedTuple):
    """What a pumped line has to bring while its pump runs, and what it brings."""

    name: str
    wanted: float  # m³/s
    why: str  # the end of a sentence
    flow: float  # m³/s
    duty: float


class WaterFlow(Record):
    """The flow that each need asks for, what comes, and what each pump must bring. Ammonia is total ammonia as N.

    `most` is the largest of the tank's three needs, `governs` which one that is. `beds` is what they are, in the plural ("rafts and channels"). `lines` are plain groups of `name`, `wanted`, `why`, `flow` and `duty`, bare SI; a need that no flow meets is
    infinite.
    """

    turnover: Flow
    oxygen: Flow
    carbon_dioxide: Flow
    ammonia: Flow
    tank_flow: Flow
    bed_flow: Flow
    most: Flow
    governs: str
    inlet_oxygen: Concentration
    outlet_oxygen: Concentration
    limit: Concentration
    unionised: Concentration
    harm: Concentration
    ph: Number
    warm: Temperature
    aerated: Number
    line: str
    lines: tuple
    first: Flow
    beds: str = "beds"
    tank: str = "the tank"
    findings: tuple = ()

    @property
    def at(self) -> Brings:
        """The line whose pump the slider turns."""
        return next(line for line in self.si.lines if line.name == self.si.line)

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in a few sentences; `short` leaves out the pump."""
        r, line = self.si, self.at
        if not math.isfinite(r.most):
            return (
                f"**No flow can do it.** The water comes in with {CONCENTRATION.text(r.inlet_oxygen, system)} of oxygen; you want "
                f"{CONCENTRATION.text(r.outlet_oxygen, system)} left."
            )
        told = (
            f"**{r.governs.capitalize()} asks for the most of {r.tank}**: {_of(r.most, r.tank_flow, system)}. "
            f"Ammonia needs {_of(r.ammonia, r.bed_flow, system)} through the {r.beds}."
        )
        if short or not math.isfinite(line.wanted):
            return told
        runs = "day and night" if line.duty > 0.999 else f"{in_percent(line.duty)} of the time"
        return f"{told} Running {runs}, {r.line} must bring **{FLOW.text(line.wanted, system)}** {line.why}; it brings {FLOW.text(line.flow, system)}."


def _of(need: float, comes: float, system: str) -> str:
    """What is asked for, and what comes."""
    return f"**{FLOW.text(need, system)}**, and {'' if comes >= need else 'only '}{FLOW.text(comes, system)} come"


def _timed(build: Build) -> str:
    """The line to begin with: a float switch keeps its own time, so rather one that a timer could turn."""
    return next((n for n, p in build.pumped.items() if p.si.control.si.kind != "float"), next(iter(build.pumped)))


class FlowWhatIf(WhatIf):
    """What the water has to be like, and how long the pump of one line runs; what the build says stays unless a slider says otherwise."""

    drawn, page, keep_label = FlowPicture, "03", "Keep this water in my build"
    case = {"warmest": 273.15 + 32}

    def __init__(self, build: Build, line: str | None = None):
        super().__init__(build)
        self.name = named(line, build.pumped, _timed(build))
        self.start = start = solved(build)
        self.gills = min(waste_limits.si(s.si.species, body_mass=s.si.body_mass).si.unionised for s in build.stocks.values())
        self.minutes = HOUR * start.in_time.pumped[self.name].duty  # a float's as the review has it
        flows = [
            start.need.turnover,
            start.need.oxygen,
            start.need.ammonia,
            *(v for p in start.pumped.values() for v in (p.wanted, p.flow)),
        ]
        self.first = max(flow for flow in flows if math.isfinite(flow))

    def own(self) -> dict:
        w, site = self.build.water.si, self.build.site.si
        water = {name: getattr(w, name) for name in _WATER}
        return {**water, "minutes": self.minutes, "warmest": site.warmest_water, "altitude": site.altitude}

    def __call__(self, minutes: float, warmest: float, altitude: float, **asked: float) -> WaterFlow:
        """All bare SI; `minutes` [s] is how long the pump runs in each hour."""
        old = self.build
        system = self.start.changed(
            old.replaced(
                water=old.water.with_si(**asked),
                site=old.site.with_si(warmest_water=warmest, altitude=altitude),
                lines=[self._timed(minutes)],
            )
        )
        need = system.need
        tank = {"turnover": need.turnover, "oxygen": need.oxygen, "carbon dioxide": need.carbon_dioxide}
        governs, most = max(tank.items(), key=lambda item: item[1])
        return WaterFlow.from_si(
            turnover=need.turnover, oxygen=need.oxygen, carbon_dioxide=need.carbon_dioxide, ammonia=need.ammonia, most=most,
            tank_flow=sum(v.mean for v in system.vessels.values() if v.vessel.holds_fish),
            bed_flow=system.living_flow(), beds=system.living.words, governs=governs, warm=warmest, aerated=asked["aerated_share"],
            inlet_oxygen=need.inlet_oxygen, outlet_oxygen=asked["outlet_oxygen"], limit=asked["ammonia_limit"],
            unionised=water.unionised_ammonia.si(asked["ammonia_limit"], asked["ph"], warmest), harm=self.gills, ph=asked["ph"], line=self.name,
            lines=tuple(Brings(p.name, p.wanted, p.wanted_why, p.flow, p.duty) for p in system.pumped.values()),
            first=self.first, tank="the tank" if len(system.tanks) == 1 else "the tanks", findings=tuple(found(system)),
        )  # fmt: skip

    def _timed(self, minutes: float):
        """The line with a timer that gives it so many minutes of each hour; unmoved, as the build has it."""
        line = self.build.pumped[self.name]
        if abs(minutes - self.minutes) < _UNMOVED:
            return line
        return line.replace(control=Control.from_si(**_control(minutes)))

    @property
    def warmest(self) -> float:
        """Where the slider of the warmest water ends [K]."""
        return max(273.15 + 36, self.build.site.si.coldest_water + 4)

    def controls(self) -> list:
        coldest = TEMPERATURE.shown(self.build.site.si.coldest_water)
        return [
            Slider("turnovers", "tank volumes", TURNOVER, "0.2 1/h", "4 1/h", "0.1 1/h", tip="how often the tank is turned over", key="water.turnovers"),
            Slider("outlet_oxygen", "oxygen left in the tank", CONCENTRATION, "3 mg/L", "8 mg/L", "0.1 mg/L", tip="what the fish live in", key="water.outlet_oxygen"),
            Slider("aerated_share", "oxygen by air stones", SHARE, "0 %", "100 %", "5 %", tip="the part that the flow need not bring", key="water.aerated_share"),
            Slider("ammonia_limit", "ammonia limit (as N)", CONCENTRATION, "0.1 mg/L", "3 mg/L", "0.05 mg/L", tip="total ammonia in the tank", key="water.ammonia_limit"),
            Slider("ph", "pH", NUMBER, 6.0, 9.0, 0.1, tip="the higher, the more of the ammonia is poison", key="water.ph"),
            Slider("removal", "taken out in one pass", SHARE, "10 %", "90 %", "5 %", tip=f"of the ammonia, by the {solved(self.build).living.words}", rare=True, key="water.removal"),
            Slider("minutes", "pump on in each hour", TIME, "5 min", "60 min", "1 min", tip=f"for {self.name}"),
            Slider("warmest", self.warm_water, TEMPERATURE, f"{coldest:.4g} degC", f"{TEMPERATURE.shown(self.warmest):.4g} degC", "0.5 degC",
                   tip="in the hottest week", key="site.warmest_water"),
            Slider("altitude", "height above the sea", HEAD, "0 m", "3000 m", "20 m", us=("0 ft", "9800 ft", "50 ft"), tip="high up, water holds less oxygen",
                   rare=True, key="site.altitude"),
        ]  # fmt: skip

    def tries(self) -> list[Try]:
        return of_flow(self)

    def look(self, record: WaterFlow, system: str) -> str:
        r = record.si
        short = [name for name in TANK if getattr(r, name.replace(" ", "_")) > r.tank_flow]
        short += ["ammonia"] if r.ammonia > r.bed_flow else []
        short += [line.name for line in r.lines if line.wanted > line.flow * (1 + 1e-9)]
        ends = f"Too short here: {', '.join(short)}." if short else "Here none falls short."
        return (
            "Bars are what is needed, upright lines what comes: a line should stand to the right of its bars; orange with stripes is short. The strong bar asks "
            "for the most. The last bars are what to look for on a pump's curve: so much must leave the pump for each vessel to get its part. "
            + ends
        )

    def against(self, record: WaterFlow, demo: WaterFlow, system: str) -> str:
        r, d = record.si, demo.si
        if not math.isfinite(r.most):
            return record.sentence(system)
        yours, theirs = TEMPERATURE.text(r.warm, system), TEMPERATURE.text(d.warm, system)
        water = (
            f"your water is as warm, {yours}" if abs(r.warm - d.warm) < 0.25 else f"your water reaches {yours}, that of the guess {theirs}"
        )
        air = f"air stones have to bring {SHARE.text(r.aerated)} of your oxygen" if r.aerated > 0 else "you count on no air stones either"
        most, oxygen = FLOW.text(r.most, system), FLOW.text(r.oxygen, system)
        if r.governs == "oxygen":
            return f"Oxygen asks for the most of yours too: {most}, where it is {FLOW.text(d.oxygen, system)} in the guess: {water}, and {air}."
        return f"In yours {r.governs} asks for the most, {most}, and oxygen for {oxygen} only: {water}, and {air}."

    def changes(self, values: Values) -> dict[tuple, object]:
        keys = {**{name: ("water", name) for name in _WATER}, "warmest": ("site", "warmest_water"), "altitude": ("site", "altitude")}
        changes: dict[tuple, object] = {keys[name]: values.text(name) for name in self.moved(values) if name in keys}
        seconds = values["minutes"]
        if abs(seconds - self.minutes) >= 1.0:
            on, off = (f"{time / 60:.4g} min" for time in (seconds, HOUR - seconds))
            timer = _control(seconds)
            changes["lines", self.name, "control"] = {**timer, "on": on, "off": off} if "on" in timer else timer
        return changes

    def told(self, new: dict, values: Values) -> str:
        brings = FLOW.text(solved(self.keeper.build).pumped[self.name].wanted, self.build.units)
        own = listed({key: value for key, value in new.items() if key[0] in ("site", "water")}, "", names=values.labels)
        return "; ".join(words for words in ("" if new else "nothing new", own, f"{self.name} must bring {brings} while it runs") if words)


def _control(minutes: float) -> dict:
    """A pump's control, bare SI, for so many seconds of each hour."""
    return {"kind": "timer", "on": minutes, "off": HOUR - minutes} if minutes < HOUR - 1.0 else {"kind": "always"}


needs, picture, panel, sight = FlowWhatIf.as_built, FlowWhatIf.picture, FlowWhatIf.panel, FlowWhatIf.sight

"""What if pump or air fail at three in the morning? Notebook 10.

    build = my_build()
    night_air.picture(build)      # as the build stands, to read on the page
    night_air.sight(build)        # the guess's night, and the build's own
    night_air.panel(build)        # with sliders
    night_air.sources(build)      # what brings oxygen, as a table
    night_air.breathed(build)     # what the fish take, by their feed and by their size, in a sentence

It is the worst night that the build knows: its warmest water, its heaviest day, and the fish have eaten.
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb import air, water
from aquaplumb.air.air_pumps import air_pump
from aquaplumb.air.tank_oxygen import changed
from aquaplumb.build import Air, Build
from aquaplumb.build.vessels import water_volume
from aquaplumb.figures.night_air import BEGIN, END, NightPicture
from aquaplumb.review.findings import found
from aquaplumb.system.air_advice import most_stones
from aquaplumb.system.air_plan import AIR, ASSUMED, FAILS, FED, PUMP, AirPlan
from aquaplumb.system.blown import LEAST, TYPICAL
from aquaplumb.system.states import StockLoad
from aquaplumb.system.steady import Steady, solved
from aquaplumb.system.stock_loads import ALL_TANKS
from aquaplumb.system.supplies import BATTERY, MAINS, MAINS_FAIL, POWER_FAILS
from aquaplumb.units import (
    AIR_FLOW,
    BODY_MASS,
    CHARGE,
    CONCENTRATION,
    HEAD,
    LENGTH,
    NUMBER,
    OXYGEN_RATE,
    RESPIRATION,
    STOCKING,
    TEMPERATURE,
    TIME,
    AirFlow,
    Concentration,
    Number,
    Record,
    Time,
    roughly,
)
from aquaplumb.whatif.base import Choice, Slider, alike, listed, short
from aquaplumb.whatif.night_tries import differs, of_night, seen_in
from aquaplumb.whatif.stocks import many, spoken_of, which
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

_POINTS = 100  # of the night: enough for a smooth curve
_FAILS = {PUMP: "the water pump alone", AIR: "the air pump alone"}  # the supplies by their first words
_NONE = "none"
_STONES, _SPARE_STONES = 4, 2  # where the sliders stand for a build without air
_COMES = 3600.0  # s: … and where nobody has said how soon somebody comes
SILENT, HELP = "nobody has said", "somebody"
_KEPT = 8  # solved systems to keep
_LARGEST = 200 * 3600.0  # A s: the largest battery that the slider offers; more has to be typed


class Night(Record):
    """A tank's oxygen through a night in which something fails. Arrays belong to the picture.

    `left` is how long it takes from the failure to the critical level with nothing taking over, `lasts` with the spare
    (`least`: by stones that bring the least that print has, and `bare_least` by the same without it); infinite where it
    holds. `hourly` is what the fish take out of the water in an hour after a meal, and `ends` when the spare's battery is flat. Where nobody has said when somebody comes, nothing is in time.
    """

    fails: str
    has_spare: bool
    spare: bool
    idle: str
    in_time: bool
    left: Time
    lasts: Time
    least: Time
    bare_least: Time
    ends: Time
    response: Time | None
    until: Time
    start: Concentration
    settles: Concentration
    critical: Concentration
    minimum: Concentration
    saturation: Concentration
    most: Concentration
    hourly: Concentration
    air_flow: AirFlow
    spare_flow: AirFlow
    stones: Number
    spare_stones: Number
    times: Time
    low: Concentration
    typical: Concentration
    high: Concentration
    bare: Concentration
    findings: tuple = ()

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in two or three short sentences; `short` leaves out the air flows."""
        r = self.si
        if r.start <= r.critical:
            return f"**In danger with everything running:** the oxygen settles at {CONCENTRATION.text(r.start, system)} after a meal."
        told = f"When {r.fails}, " + ("the oxygen holds." if not math.isfinite(r.left) else f"danger comes in **{roughly(r.left)}**.")
        if r.spare:
            told += " With the spare " + ("it does not come" if not math.isfinite(r.lasts) else f"it comes in **{roughly(r.lasts)}**")
            if not short and r.least < 0.9 * min(r.lasts, 86400.0):
                bare = "" if roughly(r.bare_least) == roughly(r.left) else f" (without it in {roughly(r.bare_least)})"
                told += f"; with the poorest stones in print in {roughly(r.least)}{bare}"
            told += f"; its battery is flat after {roughly(r.ends)}." if not short and math.isfinite(r.ends) else "."
        elif r.has_spare and not short:
            told += f" The spare {r.idle}."
        if r.response is None:
            return f"{told} **Nobody has said how soon somebody comes: nothing is in time.**"
        when = "too late" if not r.in_time else "in time" if r.least >= r.response else "in time, or too late with poor stones"
        told += f" Somebody comes after {roughly(r.response)}: **{when}**."
        if short:
            return told
        gives = []
        if r.stones:
            gives.append(f"The air pump gives {AIR_FLOW.text(r.air_flow, system)}")
        if r.has_spare:
            gives.append(f"{'the spare' if gives else 'The spare gives'} {AIR_FLOW.text(r.spare_flow, system)}")
        return f"{told} {', '.join(gives)}." if gives else told


class NightWhatIf(WhatIf):
    """Air, stones, spare, fish and place through a night with a failure."""

    drawn, page, keep_label, pick = NightPicture, "10", "Keep this air in my build", "stock"
    case = {"spare": _NONE}

    def __init__(self, build: Build):
        super().__init__(build)
        self.section, self.supplies = (build.air or Air()).si, solved(build).air
        self.solved: dict[tuple, Steady] = {}
        site = build.site.si
        self.most = float(water.oxygen_saturation.si(site.coldest_water))
        self.depth = max(tank.si.working_depth for tank in build.of_kind("fish tank"))
        every = {name: air_pump(name).si.supply for name in build.choice("airpumps")}
        own = (self.section.pump, self.section.backup_pump)
        every |= {name: air_pump(name).si.supply for name in own if name}  # a file's, too
        self.pumps = [_NONE, *(n for n, supply in every.items() if supply == "mains" or n == own[0])]
        self.spares = [_NONE, *(n for n, supply in every.items() if supply != "mains" or n == own[1])]

    def own(self, stock: str | None = None) -> dict:
        s, site, build = self.section, self.build.site.si, spoken_of(self.build, stock or self._first)
        return {
            "stock": build.fish.si.name, "fails": solved(self.build).airs[build.fish.si.tank or ALL_TANKS].cut, "temperature": site.warmest_water, "altitude": site.altitude, "density": build.fish.si.density,
            "battery": s.backup_capacity or ASSUMED, "help": SILENT if s.response_time is None else HELP,
            "pump": s.pump or _NONE, "stones": round(s.stones) or _STONES, "depth": s.depth, "spare": s.backup_pump or _NONE,
            "spare_stones": round(s.backup_stones) or _SPARE_STONES, "delay": s.backup_delay, "response": _COMES if s.response_time is None else s.response_time,
        }  # fmt: skip

    @property
    def _first(self) -> str:
        """The stock to begin with: in the tank that comes into danger first."""
        return self.supplies.tank.stocks[0].name

    def aired(self, pump, stones, depth, spare, spare_stones, delay, battery, response) -> Air | None:
        """The section [air] with the sliders' choices in it; the build's own where nothing of it has moved."""
        new = {
            "pump": "" if pump == _NONE else pump, "stones": 0.0 if pump == _NONE else float(stones), "depth": depth,
            "backup_pump": "" if spare == _NONE else spare, "backup_stones": 0.0 if spare == _NONE else float(spare_stones),
            "backup_delay": delay, "response_time": response,
            "backup_capacity": None if spare == _NONE and not self.section.keeps_on else battery if self._new_battery(battery, spare) else self.section.backup_capacity,
        }  # fmt: skip
        if all(alike(value, getattr(self.section, name)) for name, value in new.items()):
            return self.build.air
        return Air.from_si(**{**vars(self.section), **new})

    def _new_battery(self, battery: float, spare: str) -> bool:
        """Whether a Keep writes the spare's battery: another one, or that of a spare which the build did not have."""
        fresh = not self.section.backup_pump and spare != _NONE and air_pump(spare).si.supply == "battery"
        return fresh or not alike(battery, self.own()["battery"])

    def system(self, temperature: float, altitude: float, density: float, stock: str = "") -> Steady:
        """The build solved for other fish in another place; a handful are kept."""
        key = (temperature, altitude, density, stock)
        if key not in self.solved:
            site, fish = self.build.site, spoken_of(self.build, stock).fish
            if not alike(density, fish.si.density):
                fish = fish.with_si(density=density, count=None)
            asked = {"warmest_water": temperature, "coldest_water": min(site.si.coldest_water, temperature), "altitude": altitude}
            changed = self.build.replaced(site=site.with_si(**asked), fish=fish)
            while len(self.solved) >= _KEPT:
                self.solved.pop(next(iter(self.solved)))
            self.solved[key] = Steady(changed)
        return self.solved[key]

    def __call__(
        self, fails, temperature, altitude, density, pump, spare, depth, help=SILENT, stones=_STONES, spare_stones=_SPARE_STONES,
        delay=0.0, battery=ASSUMED, response=_COMES, stock="",
    ) -> Night:  # fmt: skip
        """All bare SI."""
        aired = self.aired(pump, stones, depth, spare, spare_stones, delay, battery, response if help == HELP else None)
        system = self.system(temperature, altitude, density, stock).with_sections(air=aired)
        return _night(system, fails, self.most, spoken_of(self.build, stock).fish.si.tank or ALL_TANKS)

    def controls(self) -> list:
        fails = {_FAILS.get(what, " ".join(what.split()[:2])): what for what in self.supplies.failures}
        coldest, own = TEMPERATURE.shown(self.build.site.si.coldest_water), self.own()
        most = sum(most_stones(p) for p in solved(self.build).airs.values())  # what advice names, the sliders offer
        with_pump = {name: max(most, own["stones"]) for name in self.pumps if name != _NONE}
        with_spare = {name: max(most, own["spare_stones"]) for name in self.spares if name != _NONE}
        delays, batteries = (dict.fromkeys(with_spare, high) for high in ("120 min", CHARGE.quantity(max(_LARGEST, own["battery"]))))
        if not self.section.backup_inverter:  # what hangs on the mains has no battery
            batteries = {name: high for name, high in batteries.items() if air_pump(name).si.supply == "battery"}
        comes = {HELP: TIME.quantity(max(5 * 3600.0, own["response"]))}
        return [
            *which(self.build),
            Choice("fails", "what fails at 3:00", fails, kept=False),
            Slider("temperature", self.warm_water, TEMPERATURE, f"{coldest:.4g} degC", f"{max(36.0, coldest + 4):.4g} degC", "0.5 degC",
                   tip="in the hottest week", key="site.warmest_water"),
            Slider("altitude", "height above the sea", HEAD, "0 m", "3000 m", "20 m", us=("0 ft", "9800 ft", "50 ft"), tip="high up, water holds less oxygen",
                   rare=True, key="site.altitude"),
            Slider("density", "stocking density", STOCKING, "2 kg/m3", "60 kg/m3", "0.5 kg/m3", us=("0.02 lb/gal", "0.5 lb/gal", "0.005 lb/gal"),
                   tip="on the heaviest day", key="fish.density"),
            Choice("pump", "air pump", {short(name): name for name in self.pumps}, tip="demo pumps are invented"),
            Slider("stones", "its stones", NUMBER, 1, most, 1, tip="each on a tube of its own", whole=True, of="pump", highs=with_pump, key="air.stones"),
            Slider("depth", "stones under water", LENGTH, "0.1 m", f"{max(0.2, self.depth):.4g} m", "0.05 m", tip="the spare's too", key="air.depth"),
            Choice("spare", "spare air pump", {short(name): name for name in self.spares}, tip="starts when the mains fail"),
            Slider("spare_stones", "the spare's stones", NUMBER, 1, most, 1, whole=True, of="spare", highs=with_spare, rare=True, key="air.backup_stones"),
            Slider("delay", "spare starts after", TIME, "0 min", "120 min", "1 min", tip="0 or 1 by itself, longer by hand", of="spare", highs=delays, rare=True, key="air.backup_delay"),
            Slider("battery", "the spare's battery", CHARGE, "1 Ah", CHARGE.quantity(_LARGEST), "1 Ah", tip="its own, as its label says",
                   of="spare", highs=batteries, key="air.backup_capacity"),
            Choice("help", "who comes to the tank", [SILENT, HELP], tip="day or night, alarm or none"),
            Slider("response", "help comes after", TIME, "5 min", "300 min", "5 min", tip="day or night, alarm or none", of="help", highs=comes, key="air.response_time"),
        ]  # fmt: skip

    def changes(self, values: Values) -> dict[tuple, object]:
        build, own, moved = spoken_of(self.build, values.get("stock")), self.own(values.get("stock")), self.moved(values)
        keys = {"density": build.fish_key("density"), "temperature": ("site", "warmest_water"), "altitude": ("site", "altitude")}
        new: dict[tuple, object] = {key: values.text(name) for name, key in keys.items() if name in moved}
        if "density" in moved and build.fish.si.count is not None:
            tank = build.vessels[build.fish.si.tank]
            new.pop(build.fish_key("density"))
            new |= many(build, values["density"], water_volume.si(tank, tank.si.working_depth), build.fish.si.body_mass)
        for pump, stones, key, stones_key in (
            ("pump", "stones", "pump", "stones"),
            ("spare", "spare_stones", "backup_pump", "backup_stones"),
        ):
            if values[pump] == _NONE:
                if pump in moved:
                    new |= dict.fromkeys(
                        ("air", one) for one in (key, stones_key, f"{key}_file") if one != f"{key}_file" or self.build.value("air", one)
                    )
                continue
            if pump in moved:
                new["air", key] = values[pump]
                if self.build.value("air", f"{key}_file"):
                    new["air", f"{key}_file"] = None
            if own[pump] == _NONE or stones in moved:
                new["air", stones_key] = values[stones]
        if values["spare"] == _NONE:
            if self.section.backup_capacity is not None and not self.section.keeps_on:
                new["air", "backup_capacity"] = None  # a battery that drives nothing
        elif self._new_battery(values["battery"], values["spare"]):
            new["air", "backup_capacity"] = values.text("battery")
        if values["help"] == SILENT:
            if "help" in moved:
                new["air", "response_time"] = None
        elif {"help", "response"} & set(moved):
            new["air", "response_time"] = values.text("response")
        keys = {"depth": ("air", "depth"), "delay": ("air", "backup_delay")}
        return {**new, **{key: values.text(name) for name, key in keys.items() if name in moved}}

    def about(self, values: Values) -> tuple:
        return (("stocks", values["stock"]), ("site",), ("air",)) if "stock" in values else ((),)

    def told(self, new: dict, values: Values) -> str:
        return listed(new, "nothing new", gone=_NONE, names=values.labels)

    def tries(self) -> list[Try]:
        return of_night(self, _NONE, HELP)

    def look(self, record: Night, system: str) -> str:
        return seen_in(record.si, system)

    def against(self, record: Night, demo: Night, system: str) -> str:
        return differs(record.si, demo.si, system)


def _night(system: Steady, fails: str, most: float, tank: str) -> Night:
    p = system.airs[tank]
    failure = p.failures[fails]
    until = END if p.response is None else FAILS + p.response
    times, level = _levels(p, failure.stretches, until)
    _, bare = _levels(p, failure.alone, until, times)
    idle = "waits for the mains to fail: it does not start"
    if p.spare.fed == MAINS and fails in (POWER_FAILS, MAINS_FAIL):
        idle = "hangs on the same mains"
    elif p.spare.fed == BATTERY and failure.waits:
        idle = "hangs on the same battery"
    lasts = float(failure.lasts[TYPICAL])
    return Night.from_si(
        fails=fails, has_spare=bool(p.spare.name), spare=failure.spare, idle=idle, in_time=p.response is not None and lasts >= p.response,
        left=float(failure.bare[TYPICAL]), lasts=lasts, least=float(failure.lasts[LEAST]), bare_least=float(failure.bare[LEAST]), ends=failure.ends, response=p.response, until=until,
        start=float(p.start[TYPICAL]), settles=float(np.broadcast_to(failure.settles, 3)[TYPICAL]), critical=p.critical, minimum=p.minimum,
        saturation=p.saturation, most=most, hourly=3600.0 * (p.fed.si.use + float(np.max(p.fed.si.dirt))) / p.fed.si.volume, air_flow=p.usual.flow, spare_flow=p.spare.flow, stones=p.usual.stones, spare_stones=p.spare.stones,
        times=times, low=level[:, 0], typical=level[:, TYPICAL], high=level[:, 2], bare=bare[:, TYPICAL], findings=tuple(f for f in found(system) if f.severity != "note" or f.notebook == "10"),
    )  # fmt: skip


def _levels(p: AirPlan, stretches: list, until: float, times: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
    """The oxygen from evening on, in the bands, by times on the clock: a meal, a failure in stretches, and all runs again from `until`."""
    parts, at = [(FED - BEGIN, p.budget), (FAILS - FED, p.fed)], FAILS
    for length, tank in stretches:
        parts.append((min(length, until - at), tank))
        at += parts[-1][0]
    parts.append((math.inf, p.fed))
    begins = BEGIN + np.cumsum([0.0, *(length for length, _ in parts[:-1])])
    if times is None:
        times = np.unique(np.concatenate([np.linspace(BEGIN, max(END, until), _POINTS), begins]))
    level, levels = air.steady_oxygen.si(p.budget), np.empty((len(times), 3))
    for begin, (length, tank) in zip(begins, parts):
        now = (times >= begin) & (times <= begin + length)
        levels[now] = air.oxygen_after.si(tank, level, times[now][:, None] - begin)
        if math.isfinite(length):
            level = air.oxygen_after.si(tank, level, length)
    return times, levels


night, picture, panel, sight = NightWhatIf.as_built, NightWhatIf.picture, NightWhatIf.panel, NightWhatIf.sight


def sources(build: Build):
    """What brings the fish's oxygen after a meal: with everything running, and at the critical level with the mains off.

    Returns
    -------
    pandas.DataFrame
    """
    import pandas as pd

    solution, system = solved(build), build.units
    p = solution.air
    failure = p.failures[p.cut]
    dead = failure.dead
    saved = changed(dead, standard_transfer=dead.si.standard_transfer + p.spare.standard * failure.spare)
    cut = p.cut.removeprefix("the ")
    columns = {"everything runs": (p.fed, p.steady[TYPICAL]), cut: (dead, p.critical)}
    if failure.spare:
        columns[f"{cut}, spare runs"] = (saved, p.critical)
    table = {}
    for name, (budget, level) in columns.items():
        terms = air.oxygen_terms.si(budget, level).si
        ways = {
            "water flow": terms.inflow,
            "air stones": terms.air,
            "open surface": terms.surface,
            "fish take": -terms.use,
            **({"their dirt takes": -terms.dirt} if np.any(dead.si.dirt) else {}),
            "left over": terms.net,
        }
        numbers = {way: OXYGEN_RATE.shown(float(np.broadcast_to(value, 3)[TYPICAL]), system) for way, value in ways.items()}
        signed = {way: f"{n:+.3g}".replace("-", "\u2212") if abs(n) > 1e-6 else "0" for way, n in numbers.items()}
        told = {f"{way} [{OXYGEN_RATE.unit(system)}]": words for way, words in signed.items()}
        table[name] = {f"at an oxygen of [{CONCENTRATION.unit(system)}]": f"{CONCENTRATION.shown(level, system):.3g}", **told}
    if len(solution.tanks) > 1:
        table = {f"{p.tank.name}: {name}": column for name, column in table.items()}
    return pd.DataFrame(table)


def breathed(build: Build) -> str:
    """What a kilogram of the fish takes after a meal, by their feed and by the fit on their size, and which of them counts.

    Of several stocks those of the tank that comes into danger first, a paragraph each.
    """
    system = solved(build)
    tank = system.air.tank
    return "\n".join(_breathed(build, one, system.warm, tank.dirt_oxygen if place == 0 else 0.0) for place, one in enumerate(tank.stocks))


def _breathed(build: Build, one: StockLoad, warm: float, dirt: float) -> str:
    r, stock, units = one.respiration.si, one.stock, build.units
    peak = build.water.si.oxygen_peak

    def told(value):
        return RESPIRATION.text(float(value), units)

    fish = f"{stock.species} of {BODY_MASS.text(stock.body_mass, units)} at {TEMPERATURE.text(warm, units)}"
    fit = f"by {r.fit} they take {told(r.by_fit)}, fed or hungry" if r.fit else "no measurement of such fish is known here"
    more = f" Their dirt takes {OXYGEN_RATE.text(dirt, units)} more in the tank." if dirt > 0 else ""
    if not r.fit and one.respiration.governs() == one.respiration.governs(fed=True) == "by their feed":
        return f"{fish}: by their feed they take {told(r.by_feed)}, and {told(peak * r.by_feed)} after a meal; {fit}.{more}"
    usual, fed = one.respiration.governs(), one.respiration.governs(fed=True)
    each = f", {usual}," if usual != fed else ""
    both = f"{told(r.usual)} in a usual hour{each} and {told(r.fed)} after a meal, {fed}"
    counts = told(r.fed) if r.fit and told(r.usual) == told(r.fed) else both
    first = f"{fish}: by their feed they take {told(r.by_feed)}, and {told(peak * r.by_feed)} after a meal; {fit}."
    return f"{first}\nThe largest counts: {counts}.{more}"

"""The air of a build on its worst night: warmest water, heaviest day, and something fails after a meal.

    system.air.steady            # the oxygen with everything running, after a meal, bare [kg/m³]
    system.air.failures          # by what fails: how long until the critical level, without and with the spare

All fish tanks count as one. Where sources disagree on what a stone brings, an array holds low, typical and high, in
this order. What no air pump is named for counts for nothing: neither stones nor a spare, whatever share of the oxygen
[water] lets them bring. What fails are the supplies that the build has (`supplies`): what hangs on another goes on, water and
air. A spare runs until its battery is flat. All numbers are bare SI.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

import numpy as np

from aquaplumb import air, water
from aquaplumb.air.air_pumps import air_pump
from aquaplumb.air.stones import AirStone, air_stone
from aquaplumb.air.tank_oxygen import OxygenBudget, changed
from aquaplumb.build.sections import Air
from aquaplumb.build.vessels import open_area
from aquaplumb.power.battery import battery_time
from aquaplumb.power.battery_kinds import battery_kind
from aquaplumb.system.balance import Balance
from aquaplumb.system.states import FishLoad
from aquaplumb.system.supplies import BATTERY, FLAT, INVERTER, MAINS, MAINS_FAIL, OWN, POWER_FAILS, air_fed_by, fed_by, on_the_mains, stops
from aquaplumb.units import AIR_FLOW, CONCENTRATION, MASS_RATE, NUMBER, TIME, Bare

LEAST, TYPICAL = 0, 1  # the places of the low and the typical value in low, typical, high
BANDS = ("low", "typical", "high")
FED, FAILS = 21 * 3600.0, 27 * 3600.0  # s on the clock: the last meal, and three at night, while it still counts
ASSUMED = 7 * 3600.0  # A s: the alarm battery that such pumps are sold with, where the file says nothing; common practice, no source
MANY = 12.0  # stones in a tank, or in each m³ of a larger one: more than anybody hangs in; common practice, no source
POWER, PUMP, AIR = POWER_FAILS, "the pump stops", "the air stops"


@dataclass(frozen=True, slots=True)
class Blown:
    """What an air pump delivers at the depth, each stone on its own tube; all nothing without a pump."""

    name: str = ""
    supply: str = ""  #: that it is made for, "mains" or "battery"
    fed: str = ""  #: what it hangs on, of `supplies`
    stones: float = 0
    flow: float = 0.0  #: of air, before the pump squeezes it [m³/s]
    each: float = 0.0  #: through one stone [m³/s]
    pressure: float = 0.0  #: of the water alone at the depth [Pa]
    open_flow: float = 0.0  #: against nothing [m³/s]
    shut: float = 0.0  #: pressure at which the pump delivers nothing at this altitude [Pa]
    standard: np.ndarray = field(default_factory=lambda: np.zeros(3))  #: standard transfer [kg/s], in the bands
    power: float = 0.0  #: that it draws [W]
    voltage: float | None = None  #: of its battery [V]; None for a mains pump


@dataclass(frozen=True, slots=True)
class AirFailure:
    """What becomes of the oxygen after something fails."""

    pump_runs: bool  #: whether water comes in at first
    air_runs: bool  #: … and the usual air
    spare: bool  #: whether the spare starts
    waits: bool  #: whether it is what a spare waits for
    ends: float  #: until the spare's battery is flat, or the usual air pump's [s]; infinite without one
    bare: np.ndarray  #: until the critical level without the spare [s], in the bands
    lasts: np.ndarray  #: … with it [s]
    settles: np.ndarray  #: where the oxygen settles while it runs [kg/m³], in the bands
    dead: OxygenBudget  #: without what failed at once, the spare left out
    stretches: list[tuple[float, OxygenBudget]]  #: the tank from then on: how long [s] it is how, the last without end
    alone: list[tuple[float, OxygenBudget]]  #: … without the spare


@dataclass(frozen=True, slots=True)
class SpareBattery:
    """What the air runs on while the mains fail."""

    drives: str  #: the air pumps on it
    capacity: float | None  #: [A s]; None where it is the battery of [power]
    told: bool  #: whether the file says so
    kind: str
    voltage: float  #: [V]
    power: float  #: drawn from it, with the inverter's loss [W]
    lasts: float  #: [s]


@dataclass(frozen=True, slots=True)
class AirPlan:
    """The air of a build on its worst night."""

    section: Bare  #: [air], bare; as usual where the build has none
    told: bool  #: whether it has one
    temperature: float  #: the warmest water [K]
    altitude: float  #: [m]
    depth: float  #: of the stones [m]
    water_depth: float  #: of the deepest fish tank [m]
    meal_peak: float  #: what they use after a meal over the usual
    response: float | None  #: until somebody stands at the tank [s]; None where nobody has said
    critical: float  #: oxygen below which the fish are in danger [kg/m³]
    minimum: float  #: … and below which they do badly [kg/m³]
    saturation: float  #: [kg/m³]
    stone: AirStone
    choice: tuple[str, ...]  #: the air pumps to choose from: ours, and the build's own
    usual: Blown
    spare: Blown
    spare_runs: bool  #: whether it runs in a power cut
    battery: SpareBattery | None  #: what the air runs on then; None where it stops
    budget: OxygenBudget  #: of the day
    fed: OxygenBudget  #: after a meal
    steady: np.ndarray  #: oxygen with everything running, after a meal [kg/m³], in the bands
    start: np.ndarray  #: … when something fails [kg/m³]
    failures: dict[str, AirFailure]  #: by what fails

    @property
    def cut(self) -> str:
        """The supply whose failure brings the danger first: "the power fails" where all water pumps hang on the mains."""
        cuts = [what for what in self.failures if what not in (PUMP, AIR)]
        return min(cuts, key=lambda what: (*self.failures[what].lasts[[TYPICAL, LEAST]], self.failures[what].bare[TYPICAL]))


def air_plan(system: Balance, supply_lasts: float | None = None) -> AirPlan:
    """The air of a solved build; `Steady.air` keeps it.

    `supply_lasts` [s] is how long the battery of [power] lasts, from full; None without one.
    """
    build, fish, species, wanted = system.build, system.fish, system.species.si, system.build.water.si
    section = build.air.si if build.air else Air().si
    place = {"temperature": system.warm, "altitude": build.site.si.altitude}
    saturation, critical = float(water.oxygen_saturation.si(salinity=wanted.salinity, **place)), species.oxygen_critical or 3e-3
    stone = air_stone(section.stone)
    usual = _blown(section.pump, section.stones, section, stone, air_fed_by(build), **place)
    spare = _blown(section.backup_pump, section.backup_stones, section, stone, air_fed_by(build, spare=True), **place)
    peak = fish.fed_oxygen / fish.oxygen if fish.oxygen > 0 else 1.0  # 1 where a fit governs: it is of fed fish
    budget = OxygenBudget.from_si(
        volume=fish.tank_volume, use=fish.oxygen, dirt=fish.dirt_oxygen, inflow=into_tanks(system),
        inflow_oxygen=wanted.inlet_saturation * saturation, standard_transfer=usual.standard,
        surface=sum(open_area.si(tank) for tank in build.of_kind("fish tank")), salinity=wanted.salinity, **place,
    )  # fmt: skip
    fed = air.without.si(budget, pump_runs=True, air_runs=True, meal_peak=peak)
    start = air.oxygen_after.si(fed, air.steady_oxygen.si(budget), FAILS - FED)
    battery = _battery(section, usual, spare, supply_lasts)
    failures = {}
    for what, story in _stories(system, usual, spare, battery, section.backup_delay, supply_lasts).items():
        bare = _stretches(system, fed, story, usual)
        late = _stretches(system, fed, story, usual, spare) if story.starts else bare
        alone = _time_through(bare, start, critical)
        dead = bare[0][1]
        failures[what] = AirFailure(
            pump_runs=not story.lines or dead.si.inflow > 0, air_runs=story.air > 0, spare=story.starts, waits=story.waits,
            ends=story.spare[1] if story.starts else story.air if usual.fed in (OWN, BATTERY) and story.air > 0 else math.inf,
            bare=alone, lasts=_time_through(late, start, critical) if story.starts else alone, stretches=late, alone=bare,
            settles=air.steady_oxygen.si(changed(dead, standard_transfer=dead.si.standard_transfer + spare.standard) if story.starts else dead),
            dead=dead,
        )  # fmt: skip
    return AirPlan(
        choice=tuple(build.choice("airpumps")), section=section, told=build.air is not None, **place, depth=section.depth,
        water_depth=max(tank.si.working_depth for tank in build.of_kind("fish tank")),
        meal_peak=peak, response=section.response_time, critical=critical, minimum=species.oxygen_minimum or 4e-3,
        saturation=saturation, stone=stone, usual=usual, spare=spare, spare_runs=spare.fed in (OWN, BATTERY), battery=battery, budget=budget, fed=fed,
        steady=air.steady_oxygen.si(fed), start=start, failures=failures,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Story:
    """What stops when, after something fails [s]."""

    lines: Mapping[str, float]  # the water pumps, by line; what goes on is left out
    air: float  # the usual air pump; infinite where it goes on
    waits: bool = False  # whether it is what a spare waits for
    spare: tuple[float, float] = (0.0, 0.0)  # from when to when the spare blows

    @property
    def starts(self) -> bool:
        return self.spare[1] > 0


def _stories(
    system: Balance, usual: Blown, spare: Blown, battery: SpareBattery | None, delay: float, hours: float | None
) -> dict[str, _Story]:
    """What stops when, by what fails: each supply of the build, the water pumps alone, the air alone.

    A spare waits for the mains to fail, or where a build has none for the supply of its water pumps: it sees none of the rest.
    """
    build, feeds = system.build, {name: fed_by(system.build, line.pump) for name, line in system.pumped.items()}
    own, shared = battery.lasts if battery and battery.capacity is not None else 0.0, math.inf if hours is None else float(hours)
    every = {**feeds, AIR: usual.fed} if usual.fed in (MAINS, BATTERY) else feeds
    if set(feeds.values()) <= {MAINS}:
        held = stops({AIR: usual.fed}, build.power, hours).get(MAINS_FAIL, {}) if usual.fed == BATTERY else {AIR: 0.0}
        found = {POWER: {**dict.fromkeys(feeds, 0.0), **(held if AIR in every else {})}}
    else:
        found = {MAINS_FAIL: {}, **stops(every, build.power, hours)}
    grid = on_the_mains(build, every)
    stories = {}
    for what, ends in found.items():
        lines = {name: time for name, time in ends.items() if name != AIR}
        waits = what in (POWER, MAINS_FAIL) if grid else bool(ends)
        begin = 0.0 if grid else min(ends.values(), default=0.0)
        air_ends = ends.get(AIR, begin + own if usual.fed == OWN and waits else math.inf) if usual.name else 0.0
        blows = (0.0, 0.0)
        if waits and spare.fed == OWN:
            blows = (begin + delay, begin + own + (0.0 if usual.fed == OWN else delay))  # shared with the usual from the first
        elif waits and spare.fed == BATTERY and begin < (flat := 0.0 if what == FLAT else shared):
            blows = (begin + delay, flat)
        stories[what] = _Story(lines, air_ends, waits, blows if blows[1] > blows[0] else (0.0, 0.0))
    return {**stories, PUMP: _Story(dict.fromkeys(feeds, 0.0), math.inf if usual.name else 0.0), AIR: _Story({}, 0.0)}


def _stretches(
    system: Balance, fed: OxygenBudget, story: _Story, usual: Blown, spare: Blown | None = None
) -> list[tuple[float, OxygenBudget]]:
    """The tank after a failure, in stretches of (how long [s], as it then is), the last one without end; `spare` where it takes part."""
    begin, end = story.spare if spare else (0.0, 0.0)
    marks = sorted({0.0, begin, end, story.air, *story.lines.values()} - {math.inf})
    found = []
    for at, until in zip(marks, [*marks[1:], math.inf]):
        inflow = into_tanks(system, {name for name in system.pumped if story.lines.get(name, math.inf) > at})
        blown = usual.standard * (story.air > at) + (spare.standard * (begin <= at < end) if spare else 0.0)
        found.append((until - at, changed(fed, inflow=inflow, standard_transfer=blown)))
    return found


def _battery(section: Bare, usual: Blown, spare: Blown, supply_lasts: float | None) -> SpareBattery | None:
    """What drives the air while the mains fail: a battery of its own, said or assumed, else that of [power]; None where it stops."""
    own = [pump for pump in (spare, usual) if pump.fed == OWN]
    on = own or [pump for pump in (spare, usual) if pump.fed == BATTERY]
    if not on:
        return None
    kind, names = section.backup_battery, " and ".join(pump.name for pump in on)
    voltage = spare.voltage or usual.voltage or battery_kind(kind).si.nominal_voltage
    power = sum(pump.power / (INVERTER if pump.supply == "mains" else 1.0) for pump in on)
    if not own:
        return SpareBattery(names, None, True, kind, voltage, power, math.inf if supply_lasts is None else float(supply_lasts))
    told = section.backup_capacity is not None
    capacity = section.backup_capacity if told else ASSUMED
    return SpareBattery(names, capacity, told, kind, voltage, power, float(battery_time.si(capacity, power, voltage, kind=kind)))


def _time_through(stretches: list[tuple[float, OxygenBudget]], level, critical) -> np.ndarray:
    """Until the critical level [s], through stretches of (how long [s], the tank then), the last one without end."""
    found, before = np.full(np.shape(level), np.inf), 0.0
    for length, tank in stretches:
        time = air.time_to_oxygen.si(tank, level, critical)
        found = np.where(np.isinf(found) & (time <= length), before + time, found)
        if not math.isfinite(length):
            break
        level, before = air.oxygen_after.si(tank, level, length), before + length
    return found


def into_tanks(system: Balance, running: set[str] | None = None) -> float:
    """The water [m³/s] that comes into the fish tanks from elsewhere, over the hour; with the pumps of these lines alone.

    What falls out of a vessel is as much less as comes into that.
    """
    tanks = {tank.si.name for tank in system.build.of_kind("fish tank")}
    whole = running is None or running >= system.pumped.keys()

    def pumped(to: set[str], of: Collection[str], but: Collection[str] = ()) -> float:
        return sum(
            o.flow * line.duty
            for name, line in system.pumped.items()
            if name in of
            for o in line.outlets
            if o.to in to and line.line.si.source not in but
        )

    def left(vessel: str, above: frozenset[str] = frozenset()) -> float:
        """The part of what comes into a vessel that still does."""
        falls = [f for f in system.falling.values() if f.line.si.to == vessel and f.root.si.name not in above]
        usual = pumped({vessel}, system.pumped) + sum(f.mean for f in falls)
        now = pumped({vessel}, running or ()) + sum(f.mean * left(f.root.si.name, above | {vessel}) for f in falls if f.mean > 0)
        return now / usual if usual > 0 else 0.0

    falls = [f for f in system.falling.values() if f.line.si.to in tanks and f.root.si.name not in tanks]
    fallen = sum(f.mean * (1.0 if whole else left(f.root.si.name)) for f in falls)
    return pumped(tanks, system.pumped if whole else running or (), tanks) + fallen


def _blown(name: str, stones: float, section: Bare, stone: AirStone, fed: str, *, temperature: float, altitude: float) -> Blown:
    """What an air pump delivers at the depth, each stone on its own tube, and the standard transfer that it brings."""
    if not name:
        return Blown()
    pump, s, depth = air_pump(name).si, stone.si, section.depth
    flow = _delivered(
        pump.name, depth, s.loss_typical, s.air_flow_typical, stones, section.tube_bore, section.tube_length, temperature, altitude
    )
    useful = min(flow, stones * (s.air_flow_high or math.inf))  # more only makes big bubbles: it brings nothing here
    return Blown(
        name=pump.name, supply=pump.supply, fed=fed, stones=stones, flow=flow, each=flow / stones, open_flow=pump.open_flow,
        shut=pump.shut_pressure * float(water.atmospheric_pressure.si(altitude)) / water.ATMOSPHERE,
        pressure=float(air.air_pressure.si(depth, stone_loss=0.0, temperature=temperature)),
        standard=air.stone_transfer.si(useful, depth, per_depth=_shares(s), altitude=altitude),
        power=pump.power, voltage=pump.voltage if pump.supply == "battery" else None,
    )  # fmt: skip


def _shares(stone: Bare) -> np.ndarray:
    """What a stone brings in for each metre of depth [1/m]: low, typical, high."""
    return np.array([getattr(stone, f"transfer_{band}") for band in BANDS])


@functools.lru_cache(maxsize=256)
def _delivered(pump, depth, loss, each, stones, bore, length, temperature, altitude) -> float:
    """The air of a pump; kept, since a slider mostly moves something else."""
    more = {"stone_loss": loss, "each": each, "stones": stones, "bore": bore, "length": length}
    return float(air.air_delivered.si(pump, depth, **more, temperature=temperature, altitude=altitude))


def spare_needed(p: AirPlan, depth: float | None = None) -> Bare:
    """The spare that holds the critical level by itself for as long as it takes: a bare `BackupAir`, in the bands.

    Its stones hang where the build has them, or at another depth [m].
    """
    stone, depth = p.stone.si, p.depth if depth is None else depth
    return air.backup_air.si(
        p.budget, p.critical, depth=max(depth, 1e-3), per_depth=_shares(stone), each=stone.air_flow_typical, meal_peak=p.meal_peak
    ).si


def most_stones(p: AirPlan) -> float:
    """The stones that anybody would hang into these tanks."""
    return math.floor(MANY * max(1.0, p.budget.si.volume))


def pump_choice(p: AirPlan, need: Bare, depth: float, supply: str) -> Bare | None:
    """The smallest air pump of the list, on mains or a battery, that blows a need through its stones at a depth; None without one."""
    section, stones = Bare(**{**vars(p.section), "depth": depth}), need.stones[LEAST]
    place = {"temperature": p.temperature, "altitude": p.altitude}
    rows = [row for name in p.choice if (row := air_pump(name).si).supply == supply]
    for row in sorted(rows, key=lambda row: row.power):
        flow = _blown(row.name, stones, section, p.stone, "", **place).flow
        if min(flow, stones * (p.stone.si.air_flow_high or math.inf)) >= need.air_flow[LEAST]:
            return row
    return None


def held_by_stones(p: AirPlan, depth: float) -> float:
    """The part of the stock that as many stones as anybody hangs in hold at the critical level, at the least that they bring."""
    s = p.budget.si
    use = s.use * p.meal_peak + s.dirt
    air_flow = most_stones(p) * p.stone.si.air_flow_typical
    standard = air.stone_transfer.si(air_flow, depth, per_depth=_shares(p.stone.si)[LEAST], altitude=p.altitude)
    still = air.without.si(changed(p.budget, standard_transfer=standard), air_runs=True)
    terms = air.oxygen_terms.si(still, p.critical).si
    return float((terms.air + terms.surface) / use) if use > 0 else math.inf


def air_rows(p: AirPlan, fish: FishLoad, peak: float) -> list[tuple]:
    """What a review says of the air: (name, label, kind, bare value, formula, source) of each number."""
    failure, need, balance = p.failures[p.cut], spare_needed(p), "mass balance of the tank's oxygen"
    r, biomass, print_ = fish.respiration, fish.biomass, "Timmons & Ebeling, Recirculating Aquaculture"
    hungry = max(r.si.by_feed, r.si.least)
    by = "by their feed" if hungry == r.si.by_feed else "as hungry fish do"
    rows = [
        (
            "use by feed",
            f"oxygen that the fish use after a meal, {by}",
            MASS_RATE,
            biomass * peak * float(hungry),
            "feed / 4 × peak",
            print_,
        )
    ]
    if r.fit:
        rows.append(("use by fit", f"… by {r.fit}", MASS_RATE, biomass * float(r.si.by_fit), "biomass × the fit", r.fit))
    rows.append(("use", f"… what counts, {r.governs(fed=True)}", MASS_RATE, p.fed.si.use, "the larger", "`respiration`"))
    if p.fed.si.dirt > 0:
        rows.append(("dirt", "… and their dirt in the tank", MASS_RATE, p.fed.si.dirt, "(0.5 − 0.25) × feed × share that stays", print_))
    curve = "its curve meets depth, stones and tubes", "data/airpumps.csv, data/airstones.csv"
    for name, blown in (("flow", p.usual), ("spare flow", p.spare)):
        if blown.name:
            rows.append((name, f"air from {blown.name}", AIR_FLOW, blown.flow, *curve))
    steady, held = ("inflow + stones + surface = use", f"{balance}; ASCE/EWRI 2-06"), ("stones + surface = use", balance)
    rows.append(("level", "oxygen with everything running", CONCENTRATION, p.steady[TYPICAL], *steady))
    rows.append(("critical", "danger begins below", CONCENTRATION, p.critical, "by species", "data/species.csv"))
    for name, label, time in (
        ("left", "from power failure to danger" if p.cut == POWER else f"from when {p.cut} to danger", failure.bare[TYPICAL]),
        ("left spare", "… with the spare", failure.lasts[TYPICAL]),
    ):
        if math.isfinite(time) and (name == "left" or p.spare.name):
            rows.append((name, label, TIME, time, "−ln(1 − k D/f)/k", balance))
    if p.battery:
        lasts = "capacity × voltage × usable part / power", "data/batteries.csv"
        rows.append(("battery", f"… whose battery lasts{'' if p.battery.told else ', if it has 7 Ah'}", TIME, p.battery.lasts, *lasts))
    if failure.spare:
        rows.append(("spare level", "oxygen that the spare holds", CONCENTRATION, failure.settles[TYPICAL], *held))
    if p.response is not None:
        rows.append(("response", "until somebody comes", TIME, p.response, "the build file", "the build file"))
    if 0 < need.air_flow[LEAST] < math.inf:
        alone = "use / (field factor × least share × depth)", "ASCE/EWRI 2-06; data/airstones.csv"
        rows.append(("spare needed", "air of a spare that holds it alone, poor stones", AIR_FLOW, need.air_flow[LEAST], *alone))
        each = "air / usual air of a stone", "data/airstones.csv"
        rows.append(("spare stones", "stones for that air", NUMBER, need.stones[LEAST], *each))
    return rows

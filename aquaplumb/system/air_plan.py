"""The air of a build on its worst night: warmest water, heaviest day, and something fails after a meal.

    system.air.steady            # the oxygen with everything running, after a meal, bare [kg/m³]
    system.air.failures          # by what fails: how long until the critical level, without and with the spare

All fish tanks with one stock count as one; of several stocks each tank has its own plan (`air_plans`), and the one that comes into
danger first speaks (`first_in_danger`). Where sources disagree on what a stone brings, an array holds low, typical and high, in
this order. What no air pump is named for counts for nothing: neither stones nor a spare, whatever share of the oxygen
[water] lets them bring. What fails are the supplies that the build has (`supplies`): what hangs on another goes on, water and
air. A spare runs until its battery is flat. All numbers are bare SI.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from aquaplumb import air, water
from aquaplumb.air.stones import AirStone, air_stone
from aquaplumb.air.tank_oxygen import OxygenBudget, changed
from aquaplumb.build.sections import Air
from aquaplumb.build.vessels import open_area
from aquaplumb.power.battery import battery_time
from aquaplumb.power.battery_kinds import battery_kind
from aquaplumb.system.balance import Balance
from aquaplumb.system.blown import LEAST, TYPICAL, Blown, blown_at, hung, part_of, shares
from aquaplumb.system.inflow import downstream, into_tanks
from aquaplumb.system.states import TankLoad
from aquaplumb.system.stock_loads import strictest
from aquaplumb.system.supplies import BATTERY, FLAT, INVERTER, MAINS, MAINS_FAIL, OWN, POWER_FAILS, air_fed_by, fed_by, on_the_mains, stops
from aquaplumb.units import Bare

FED, FAILS = 21 * 3600.0, 27 * 3600.0  # s on the clock: the last meal, and three at night, while it still counts
ASSUMED = 7 * 3600.0  # A s: the alarm battery that such pumps are sold with, where the file says nothing; common practice, no source
POWER, PUMP, AIR = POWER_FAILS, "the pump stops", "the air stops"


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
    """The air of a fish tank on its worst night; `usual` and `spare` are that part of them which hangs in it."""

    tank: TankLoad
    section: Bare  #: [air], bare; as usual where the build has none
    told: bool  #: whether it has one
    temperature: float  #: the warmest water [K]
    altitude: float  #: [m]
    depth: float  #: of the stones [m]
    water_depth: float  #: of the deepest fish tank [m]
    meal_peak: float  #: what they use after a meal over the usual
    response: float | None  #: until somebody stands at the tank [s]; None where nobody has said
    critical: float  #: oxygen below which the first of its fish are in danger [kg/m³]
    minimum: float  #: … and below which some do badly [kg/m³]
    in_danger: str  #: whose level `critical` is
    badly: str  #: whose level `minimum` is
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


def air_plans(system: Balance, supply_lasts: float | None = None) -> dict[str, AirPlan]:
    """The air of each fish tank of a solved build that has fish, by its name; `Steady.airs` keeps them.

    `supply_lasts` [s] is how long the battery of [power] lasts, from full; None without one.
    """
    build = system.build
    section = build.air.si if build.air else Air().si
    place = {"temperature": system.warm, "altitude": build.site.si.altitude}
    tanks = {name: tank for name, tank in system.tanks.items() if tank.stocks}
    stone = air_stone(section.stone)
    usual = blown_at(section.pump, section.stones, section, stone, air_fed_by(build), **place)
    spare = blown_at(section.backup_pump, section.backup_stones, section, stone, air_fed_by(build, spare=True), **place)
    battery = _battery(section, usual, spare, supply_lasts)
    stories = _stories(system, usual, spare, battery, section.backup_delay, supply_lasts)
    needs = dict(build.air_asked) or (
        dict.fromkeys(tanks, 0.0)
        if len(tanks) == 1
        else {
            name: needed(_budget(system, tank), _critical(tank), _peak(tank), stone.si, section.depth).air_flow[LEAST]
            for name, tank in tanks.items()
        }
    )
    usual_in, spare_in = hung(usual.stones, needs), hung(spare.stones, needs)
    found: dict[str, AirPlan] = {}
    for name in downstream(system, tanks):
        found[name] = _air_plan(
            system, tanks[name], section, stone, part_of(usual, usual_in[name]), part_of(spare, spare_in[name]), battery, stories, found
        )
    return {name: found[name] for name in tanks}


def first_in_danger(plans: Mapping[str, AirPlan]) -> AirPlan:
    """The plan that speaks: of the tank whose oxygen is short with everything running, else of that whose oxygen is gone first."""

    def key(p: AirPlan) -> tuple:
        failures = [f for what, f in p.failures.items() if what != AIR or p.usual.flow > 0]
        return (
            p.start[TYPICAL] > p.critical,
            min(f.lasts[TYPICAL] for f in failures),
            min(f.lasts[LEAST] for f in failures),
            p.steady[TYPICAL] - p.minimum,
        )

    return min(plans.values(), key=key)


def _critical(tank: TankLoad) -> float:
    return strictest(tank.stocks, "oxygen_critical").oxygen_critical or 3e-3


def _peak(tank: TankLoad) -> float:
    return tank.fed_oxygen / tank.oxygen if tank.oxygen > 0 else 1.0  # 1 where a fit governs: it is of fed fish


def _budget(system: Balance, tank: TankLoad, standard=0.0, above: Mapping[str, AirPlan] | None = None) -> OxygenBudget:
    """A tank's oxygen on a usual day; what comes from fish tanks above brings what is left in them."""
    wanted, site = system.build.water.si, system.build.site.si
    saturation = float(water.oxygen_saturation.si(system.warm, salinity=wanted.salinity, altitude=site.altitude))
    budget = OxygenBudget.from_si(
        volume=tank.volume, use=tank.oxygen, dirt=tank.dirt_oxygen, inflow=into_tanks(system, tanks=tank.vessels),
        inflow_oxygen=wanted.inlet_saturation * saturation, standard_transfer=standard,
        surface=sum(open_area.si(system.build.vessels[name]) for name in tank.vessels), salinity=wanted.salinity,
        temperature=system.warm, altitude=site.altitude,
    )  # fmt: skip
    return _with_tanks_above(budget, system, tank, {name: p.budget for name, p in (above or {}).items()}, None)


def _with_tanks_above(
    budget: OxygenBudget, system: Balance, tank: TankLoad, above: Mapping[str, OxygenBudget], running: set[str] | None
) -> OxygenBudget:
    """A tank with what comes of other fish tanks too, each settled: the safe side of one whose oxygen still falls."""
    flows = {name: flow for name in above if (flow := into_tanks(system, running, tanks=tank.vessels, of=system.tanks[name].vessels)) > 0}
    if not flows:
        return budget
    s = budget.si
    brought = s.inflow * s.inflow_oxygen + sum(flow * np.maximum(air.steady_oxygen.si(above[name]), 0.0) for name, flow in flows.items())
    inflow = s.inflow + sum(flows.values())
    return changed(budget, inflow=inflow, inflow_oxygen=brought / inflow)


def _air_plan(
    system: Balance, tank: TankLoad, section: Bare, stone: AirStone, usual: Blown, spare: Blown, battery: SpareBattery | None,
    stories: Mapping[str, _Story], above: Mapping[str, AirPlan],
) -> AirPlan:  # fmt: skip
    """The plan of one tank; `above` are those of tanks whose water may come to it."""
    build, peak, critical = system.build, _peak(tank), _critical(tank)
    budget = _budget(system, tank, usual.standard, above)
    fed = air.without.si(budget, pump_runs=True, air_runs=True, meal_peak=peak)
    start = air.oxygen_after.si(fed, air.steady_oxygen.si(budget), FAILS - FED)
    failures = {}
    for what, story in stories.items():
        bare = _stretches(system, tank, fed, story, usual, above={name: p.failures[what].alone for name, p in above.items()})
        late = (
            _stretches(system, tank, fed, story, usual, spare, {name: p.failures[what].stretches for name, p in above.items()})
            if story.starts
            else bare
        )
        alone = _time_through(bare, start, critical)
        dead = bare[0][1]
        failures[what] = AirFailure(
            pump_runs=not story.lines or dead.si.inflow > 0, air_runs=story.air > 0, spare=story.starts, waits=story.waits,
            ends=story.spare[1] if story.starts else story.air if usual.fed in (OWN, BATTERY) and story.air > 0 else math.inf,
            bare=alone, lasts=_time_through(late, start, critical) if story.starts else alone, stretches=late, alone=bare,
            settles=air.steady_oxygen.si(changed(dead, standard_transfer=dead.si.standard_transfer + spare.standard) if story.starts else dead),
            dead=dead,
        )  # fmt: skip
    needy = strictest(tank.stocks, "oxygen_minimum")
    return AirPlan(
        tank=tank, choice=tuple(build.choice("airpumps")), section=section, told=build.air is not None, temperature=system.warm,
        altitude=build.site.si.altitude, depth=section.depth,
        water_depth=max(build.vessels[name].si.working_depth for name in tank.vessels),
        meal_peak=peak, response=section.response_time, critical=critical, minimum=needy.oxygen_minimum or 4e-3,
        in_danger=strictest(tank.stocks, "oxygen_critical").name, badly=needy.name, saturation=system.need.saturation,
        stone=stone, usual=usual, spare=spare, spare_runs=spare.fed in (OWN, BATTERY), battery=battery, budget=budget, fed=fed,
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
    system: Balance, tank: TankLoad, fed: OxygenBudget, story: _Story, usual: Blown, spare: Blown | None = None,
    above: Mapping[str, list[tuple[float, OxygenBudget]]] | None = None,
) -> list[tuple[float, OxygenBudget]]:  # fmt: skip
    """The tank after a failure, in stretches of (how long [s], as it then is), the last one without end; `spare` where it takes part.

    `above` has the same of the fish tanks above it.
    """
    begin, end = story.spare if spare else (0.0, 0.0)
    marks = sorted({0.0, begin, end, story.air, *story.lines.values()} - {math.inf})
    found, clean = [], system.build.water.si.inlet_saturation * system.need.saturation
    for i, (at, until) in enumerate(zip(marks, [*marks[1:], math.inf])):
        running = {name for name in system.pumped if story.lines.get(name, math.inf) > at}
        blown = usual.standard * (story.air > at) + (spare.standard * (begin <= at < end) if spare else 0.0)
        still = changed(fed, inflow=into_tanks(system, running, tanks=tank.vessels), inflow_oxygen=clean, standard_transfer=blown)
        found.append(
            (until - at, _with_tanks_above(still, system, tank, {name: there[i][1] for name, there in (above or {}).items()}, running))
        )
    return found


def _battery(section: Bare, usual: Blown, spare: Blown, supply_lasts: float | None) -> SpareBattery | None:
    """What drives the air while the mains fail: a battery of its own, said or assumed, else that of [power]; None where it stops."""
    own = [pump for pump in (spare, usual) if pump.fed == OWN]
    on = own or [pump for pump in (spare, usual) if pump.fed == BATTERY]
    if not on:
        return None
    kind, names = section.backup_battery, " and ".join(pump.name for pump in on)
    voltage = spare.voltage or section.backup_voltage or usual.voltage or battery_kind(kind).si.nominal_voltage
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


def needed(budget: OxygenBudget, critical: float, meal_peak: float, stone: Bare, depth: float) -> Bare:
    """The spare that holds a level in a tank by itself: a bare `BackupAir`, in the bands."""
    return air.backup_air.si(
        budget, critical, depth=max(depth, 1e-3), per_depth=shares(stone), each=stone.air_flow_typical, meal_peak=meal_peak
    ).si

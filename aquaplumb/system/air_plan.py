"""The air of a build on its worst night: warmest water, heaviest day, and something fails after a meal.

    system.air.steady            # the oxygen with everything running, after a meal, bare [kg/m³]
    system.air.failures          # by what fails: how long until the critical level, without and with the spare

All fish tanks count as one. Where sources disagree on what a stone brings, an array holds low, typical and high, in
this order. A build without a section [air] is taken to have no spare, and stones that bring the share of the oxygen
that its [water] says. All numbers are bare SI.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, field

import numpy as np

from aquaplumb import air, water
from aquaplumb.air.air_pumps import air_pump
from aquaplumb.air.stones import AirStone, air_stone
from aquaplumb.air.tank_oxygen import OxygenBudget, changed
from aquaplumb.build.sections import Air
from aquaplumb.build.vessels import plan_area
from aquaplumb.system.balance import Balance
from aquaplumb.units import AIR_FLOW, CONCENTRATION, MASS_RATE, NUMBER, TIME, Bare

LEAST, TYPICAL = 0, 1  # the places of the low and the typical value in low, typical, high
BANDS = ("low", "typical", "high")
FASTING = 100e-6 / 3600  # 1/s, 100 mg/kg/h: what fish breathe however little they eat; 50 to 189 in print, see respiration_by_feed
FED, FAILS = 21 * 3600.0, 27 * 3600.0  # s on the clock: the last meal, and three at night, while it still counts
MEAL = 14 * 3600.0  # s: it counts all night, the safe side
POWER, PUMP, AIR = "the power fails", "the pump stops", "the air stops"


@dataclass(frozen=True, slots=True)
class Blown:
    """What an air pump delivers at the depth, each stone on its own tube; all nothing without a pump."""

    name: str = ""
    supply: str = ""  #: "mains" or "battery"
    stones: float = 0
    flow: float = 0.0  #: of air, before the pump squeezes it [m³/s]
    each: float = 0.0  #: through one stone [m³/s]
    pressure: float = 0.0  #: of the water alone at the depth [Pa]
    open_flow: float = 0.0  #: against nothing [m³/s]
    shut: float = 0.0  #: pressure at which the pump delivers nothing at this altitude [Pa]
    standard: np.ndarray = field(default_factory=lambda: np.zeros(3))  #: standard transfer [kg/s], in the bands


@dataclass(frozen=True, slots=True)
class AirFailure:
    """What becomes of the oxygen after something fails."""

    pump_runs: bool
    air_runs: bool
    spare: bool  #: whether the spare starts
    bare: np.ndarray  #: until the critical level without the spare [s], in the bands
    lasts: np.ndarray  #: … with it [s]
    settles: np.ndarray  #: where the oxygen settles then [kg/m³], in the bands
    dead: OxygenBudget  #: without what failed, the spare left out


@dataclass(frozen=True, slots=True)
class AirPlan:
    """The air of a build on its worst night."""

    section: Bare  #: [air], bare; as usual where the build has none
    told: bool  #: whether it has one
    temperature: float  #: the warmest water [K]
    altitude: float  #: [m]
    depth: float  #: of the stones [m]
    water_depth: float  #: of the deepest fish tank [m]
    meal_peak: float
    critical: float  #: oxygen below which the fish are in danger [kg/m³]
    minimum: float  #: … and below which they do badly [kg/m³]
    saturation: float  #: [kg/m³]
    stone: AirStone
    usual: Blown
    spare: Blown
    spare_runs: bool  #: whether it runs in a power cut
    budget: OxygenBudget  #: of the day
    fed: OxygenBudget  #: after a meal
    steady: np.ndarray  #: oxygen with everything running, after a meal [kg/m³], in the bands
    start: np.ndarray  #: … when something fails [kg/m³]
    failures: dict[str, AirFailure]  #: by what fails


def air_plan(system: Balance, known_at: float | None = None) -> AirPlan:
    """The air of a solved build; `Steady.air` keeps it.

    `known_at` [K] is the temperature at which the fish's use of oxygen is known; the build's warmest when left out.
    """
    build, fish, species, wanted = system.build, system.fish, system.species.si, system.build.water.si
    section = build.air.si if build.air else Air().si
    place = {"temperature": system.warm, "altitude": build.site.si.altitude}
    use = max(fish.oxygen, FASTING * fish.biomass)
    use = air.respiration_at.si(use, system.warm, known_at=system.warm if known_at is None else known_at)
    saturation, critical = float(water.oxygen_saturation.si(**place)), species.oxygen_critical or 3e-3
    stone = air_stone(section.stone)
    usual = _blown(section.pump, section.stones, section, stone, **place)
    spare = _blown(section.backup_pump, section.backup_stones, section, stone, **place)
    spare_runs = bool(spare.name) and spare.supply != "mains"  # what hangs on the mains stops with them
    budget = OxygenBudget.from_si(
        volume=fish.tank_volume, use=use, inflow=into_tanks(system), inflow_oxygen=wanted.inlet_saturation * saturation,
        standard_transfer=usual.standard if build.air else _said(use, wanted, **place),
        surface=sum(plan_area.si(tank) for tank in build.of_kind("fish tank")), **place,
    )  # fmt: skip
    fed = air.without.si(budget, pump_runs=True, air_runs=True, meal_peak=wanted.oxygen_peak)
    start = air.oxygen_after.si(fed, air.steady_oxygen.si(budget), FAILS - FED)

    def without(*, pump_runs: bool, air_runs: bool, starts: bool = False) -> AirFailure:
        """How long until the critical level, without and with the spare, and where it settles then."""
        dead = air.without.si(budget, pump_runs=pump_runs, air_runs=air_runs, meal_peak=wanted.oxygen_peak)
        bare = lasts = air.time_to_oxygen.si(dead, start, critical)
        held = dead
        if starts:
            delay = section.backup_delay
            held = changed(dead, standard_transfer=dead.si.standard_transfer + spare.standard)
            later = delay + air.time_to_oxygen.si(held, air.oxygen_after.si(dead, start, delay), critical)
            lasts = np.where(bare <= delay, bare, later)
        return AirFailure(pump_runs, air_runs, starts, bare, lasts, air.steady_oxygen.si(held), dead)

    return AirPlan(
        section=section, told=build.air is not None, **place, depth=section.depth,
        water_depth=max(tank.si.working_depth for tank in build.of_kind("fish tank")),
        meal_peak=wanted.oxygen_peak, critical=critical, minimum=species.oxygen_minimum or 4e-3, saturation=saturation,
        stone=stone, usual=usual, spare=spare, spare_runs=spare_runs, budget=budget, fed=fed, steady=air.steady_oxygen.si(fed), start=start,
        failures={  # a spare that waits for the mains to fail sees neither of the others
            POWER: without(pump_runs=False, air_runs=section.keeps_on or usual.supply == "battery", starts=spare_runs),
            PUMP: without(pump_runs=False, air_runs=True),
            AIR: without(pump_runs=True, air_runs=False),
        },
    )  # fmt: skip


def into_tanks(system: Balance) -> float:
    """The water [m³/s] that comes into the fish tanks from elsewhere, over the hour."""
    tanks = {tank.si.name for tank in system.build.of_kind("fish tank")}
    pumped = sum(
        o.flow * line.duty for line in system.pumped.values() for o in line.outlets if o.to in tanks and line.line.si.source not in tanks
    )
    fallen = sum(f.mean for f in system.falling.values() if f.line.si.to in tanks and f.line.si.source not in tanks)
    return pumped + fallen


def _blown(name: str, stones: float, section: Bare, stone: AirStone, *, temperature: float, altitude: float) -> Blown:
    """What an air pump delivers at the depth, each stone on its own tube, and the standard transfer that it brings."""
    if not name:
        return Blown()
    pump, s, depth = air_pump(name).si, stone.si, section.depth
    flow = _delivered(
        pump.name, depth, s.loss_typical, s.air_flow_typical, stones, section.tube_bore, section.tube_length, temperature, altitude
    )
    useful = min(flow, stones * (s.air_flow_high or math.inf))  # more only makes big bubbles: it brings nothing here
    return Blown(
        name=pump.name, supply=pump.supply, stones=stones, flow=flow, each=flow / stones, open_flow=pump.open_flow,
        shut=pump.shut_pressure * float(water.atmospheric_pressure.si(altitude)) / water.ATMOSPHERE,
        pressure=float(air.air_pressure.si(depth, stone_loss=0.0, temperature=temperature)),
        standard=air.stone_transfer.si(useful, depth, per_depth=_shares(s), altitude=altitude),
    )  # fmt: skip


def _shares(stone: Bare) -> np.ndarray:
    """What a stone brings in for each metre of depth [1/m]: low, typical, high."""
    return np.array([getattr(stone, f"transfer_{band}") for band in BANDS])


@functools.lru_cache(maxsize=256)
def _delivered(pump, depth, loss, each, stones, bore, length, temperature, altitude) -> float:
    """The air of a pump; kept, since a slider mostly moves something else."""
    more = {"stone_loss": loss, "each": each, "stones": stones, "bore": bore, "length": length}
    return float(air.air_delivered.si(pump, depth, **more, temperature=temperature, altitude=altitude))


def _said(use: float, wanted: Bare, *, temperature: float, altitude: float) -> np.ndarray:
    """The standard transfer of the stones of a build that only says which share of the oxygen they bring."""
    factor = float(air.field_factor.si(wanted.outlet_oxygen, temperature=temperature, altitude=altitude))
    brought = wanted.aerated_share * use * wanted.oxygen_peak
    return np.full(3, brought / factor if factor > 0 else 0.0)


def spare_needed(p: AirPlan, depth: float | None = None) -> Bare:
    """The spare that holds the critical level by itself for as long as it takes: a bare `BackupAir`, in the bands.

    Its stones hang where the build has them, or at another depth [m].
    """
    stone, depth = p.stone.si, p.depth if depth is None else depth
    return air.backup_air.si(
        p.budget, p.critical, depth=max(depth, 1e-3), per_depth=_shares(stone), each=stone.air_flow_typical, meal_peak=p.meal_peak
    ).si


def air_rows(p: AirPlan) -> list[tuple]:
    """What a review says of the air: (name, label, kind, bare value, formula, source) of each number."""
    failure, need, balance = p.failures[POWER], spare_needed(p), "mass balance of the tank's oxygen"
    use = "oxygen of the day × peak after a meal"
    rows = [("use", "oxygen that the fish use after a meal", MASS_RATE, p.fed.si.use, use, "Timmons & Ebeling; common practice")]
    curve = "its curve meets depth, stones and tubes", "data/airpumps.csv, data/airstones.csv"
    for name, blown in (("flow", p.usual), ("spare flow", p.spare)):
        if blown.name:
            rows.append((name, f"air from {blown.name}", AIR_FLOW, blown.flow, *curve))
    steady, held = ("inflow + stones + surface = use", f"{balance}; ASCE/EWRI 2-06"), ("stones + surface = use", balance)
    rows.append(("level", "oxygen with everything running", CONCENTRATION, p.steady[TYPICAL], *steady))
    rows.append(("critical", "danger begins below", CONCENTRATION, p.critical, "by species", "data/species.csv"))
    for name, label, time in (
        ("left", "from power failure to danger", failure.bare[TYPICAL]),
        ("left spare", "… with the spare", failure.lasts[TYPICAL]),
    ):
        if math.isfinite(time) and (name == "left" or p.spare.name):
            rows.append((name, label, TIME, time, "−ln(1 − k D/f)/k", balance))
    if failure.spare:
        rows.append(("spare level", "oxygen that the spare holds", CONCENTRATION, failure.settles[TYPICAL], *held))
    if p.told:
        rows.append(("response", "until somebody comes", TIME, p.section.response_time, "the build file", "the build file"))
    if 0 < need.air_flow[LEAST] < math.inf:
        alone = "use / (field factor × least share × depth)", "ASCE/EWRI 2-06; data/airstones.csv"
        rows.append(("spare needed", "air of a spare that holds it alone, poor stones", AIR_FLOW, need.air_flow[LEAST], *alone))
        each = "air / usual air of a stone", "data/airstones.csv"
        rows.append(("spare stones", "stones for that air", NUMBER, need.stones[LEAST], *each))
    return rows

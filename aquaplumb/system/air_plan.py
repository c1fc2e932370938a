"""The air of a build on its worst night: warmest water, heaviest day, and something fails after a meal.

    plan(system).steady          # the oxygen with everything running, after a meal, bare [kg/m³]
    plan(system).failures        # by what fails: how long until the critical level, without and with the spare

All fish tanks count as one. Where sources disagree on what a stone brings, an array holds low, typical and high, in
this order. A build without a section [air] is taken to have no spare, and stones that bring the share of the oxygen
that its [water] says. All numbers are bare SI.
"""

from __future__ import annotations

import functools
import math
from types import SimpleNamespace

import numpy as np

from aquaplumb import air, water
from aquaplumb.air.air_pumps import air_pump
from aquaplumb.air.stones import air_stone
from aquaplumb.air.tank_oxygen import changed
from aquaplumb.build.sections import Air
from aquaplumb.build.vessels import plan_area
from aquaplumb.units import AIR_FLOW, CONCENTRATION, MASS_RATE, NUMBER, TIME

LEAST, TYPICAL = 0, 1  # the places of the low and the typical value in low, typical, high
BANDS = ("low", "typical", "high")
FASTING = 100e-6 / 3600  # 1/s, 100 mg/kg/h: what fish breathe however little they eat; 50 to 189 in print, see respiration_by_feed
FED, FAILS = 21 * 3600.0, 27 * 3600.0  # s on the clock: the last meal, and three at night, while it still counts
MEAL = 14 * 3600.0  # s: it counts all night, the safe side
POWER, PUMP, AIR = "the power fails", "the pump stops", "the air stops"


def plan(system, *, known_at: float | None = None) -> SimpleNamespace:
    """The air of a solved build, worked out once for each `known_at` and kept with it.

    `known_at` [K] is the temperature at which the fish's use of oxygen is known; the build's warmest when left out.
    """
    kept = vars(system).setdefault("_air_plans", {})
    known_at = system.warm if known_at is None else known_at
    if known_at not in kept:
        kept[known_at] = _plan(system, known_at)
    return kept[known_at]


def _plan(system, known_at: float) -> SimpleNamespace:
    build, fish = system.build, system.fish
    section = build.air.si if build.air else Air().si
    species = system.species.si
    place = {"temperature": system.warm, "altitude": build.site.si.altitude}
    use = max(fish.oxygen, FASTING * fish.biomass)
    use = air.respiration_at.si(use, system.warm, known_at=known_at)
    p = SimpleNamespace(
        section=section,
        told=build.air is not None,
        depth=section.depth,
        water_depth=max(tank.si.working_depth for tank in build.of_kind("fish tank")),
        meal_peak=build.water.si.oxygen_peak,
        critical=species.oxygen_critical or 3e-3,
        minimum=species.oxygen_minimum or 4e-3,
        saturation=float(water.oxygen_saturation.si(**place)),
        stone=air_stone(section.stone),
        respiration=use / fish.biomass if fish.biomass > 0 else 0.0,
        **place,
    )
    p.usual = _blown(p, section.pump, section.stones)
    p.spare = _blown(p, section.backup_pump, section.backup_stones)
    p.spare_runs = bool(p.spare.name) and p.spare.supply != "mains"  # what hangs on the mains stops with them
    p.keeps_on = section.keeps_on or p.usual.supply == "battery"
    p.budget = air.OxygenBudget.from_si(
        volume=fish.tank_volume, use=use, inflow=into_tanks(system), inflow_oxygen=build.water.si.inlet_saturation * p.saturation,
        standard_transfer=p.usual.standard if p.told else _said(p, use, build.water.si),
        surface=sum(plan_area.si(tank) for tank in build.of_kind("fish tank")), **place,
    )  # fmt: skip
    p.fed = air.without.si(p.budget, pump_runs=True, air_runs=True, meal_peak=p.meal_peak)
    p.steady = air.steady_oxygen.si(p.fed)
    p.start = air.oxygen_after.si(p.fed, air.steady_oxygen.si(p.budget), FAILS - FED)
    p.failures = {  # a spare that waits for the mains to fail sees neither of the others
        POWER: _failure(p, pump_runs=False, air_runs=p.keeps_on, spare=p.spare_runs),
        PUMP: _failure(p, pump_runs=False, air_runs=True, spare=False),
        AIR: _failure(p, pump_runs=True, air_runs=False, spare=False),
    }
    return p


def into_tanks(system) -> float:
    """The water [m³/s] that comes into the fish tanks from elsewhere, over the hour."""
    tanks = {tank.si.name for tank in system.build.of_kind("fish tank")}
    pumped = sum(
        o.flow * line.duty for line in system.pumped.values() for o in line.outlets if o.to in tanks and line.line.si.source not in tanks
    )
    fallen = sum(f.mean for f in system.falling.values() if f.line.si.to in tanks and f.line.si.source not in tanks)
    return pumped + fallen


def _blown(p, name: str, stones: float) -> SimpleNamespace:
    """What an air pump delivers at the depth, each stone on its own tube, and the standard transfer that it brings."""
    if not name:
        return SimpleNamespace(
            name="", supply="", stones=0, flow=0.0, each=0.0, pressure=0.0, open_flow=0.0, shut=0.0, standard=np.zeros(3)
        )
    pump, stone, s = air_pump(name), p.stone.si, p.section
    flow = _delivered(
        pump.si.name, p.depth, stone.loss_typical, stone.air_flow_typical, stones, s.tube_bore, s.tube_length, p.temperature, p.altitude
    )
    useful = min(flow, stones * (stone.air_flow_high or math.inf))  # more only makes big bubbles: it brings nothing here
    return SimpleNamespace(
        name=pump.si.name, supply=pump.si.supply, stones=stones, flow=flow, each=flow / stones, open_flow=pump.si.open_flow,
        shut=pump.si.shut_pressure * float(water.atmospheric_pressure.si(p.altitude)) / water.ATMOSPHERE,
        pressure=float(air.air_pressure.si(p.depth, stone_loss=0.0, temperature=p.temperature)),  # of the water alone
        standard=air.stone_transfer.si(useful, p.depth, per_depth=_shares(stone), altitude=p.altitude),
    )  # fmt: skip


def _shares(stone) -> np.ndarray:
    """What a stone brings in for each metre of depth [1/m]: low, typical, high."""
    return np.array([getattr(stone, f"transfer_{band}") for band in BANDS])


@functools.lru_cache(maxsize=256)
def _delivered(pump, depth, loss, each, stones, bore, length, temperature, altitude) -> float:
    """The air of a pump; kept, since a slider mostly moves something else."""
    more = {"stone_loss": loss, "each": each, "stones": stones, "bore": bore, "length": length}
    return float(air.air_delivered.si(pump, depth, **more, temperature=temperature, altitude=altitude))


def _said(p, use: float, wanted) -> np.ndarray:
    """The standard transfer of the stones of a build that only says which share of the oxygen they bring."""
    factor = float(air.field_factor.si(wanted.outlet_oxygen, temperature=p.temperature, altitude=p.altitude))
    brought = wanted.aerated_share * use * p.meal_peak
    return np.full(3, brought / factor if factor > 0 else 0.0)


def _failure(p, *, pump_runs: bool, air_runs: bool, spare: bool) -> SimpleNamespace:
    """How long until the critical level, without and with the spare, and where it settles then."""
    dead = air.without.si(p.budget, pump_runs=pump_runs, air_runs=air_runs, meal_peak=p.meal_peak)
    bare = air.time_to_oxygen.si(dead, p.start, p.critical)
    found = SimpleNamespace(
        pump_runs=pump_runs, air_runs=air_runs, spare=spare, bare=bare, lasts=bare, settles=air.steady_oxygen.si(dead), dead=dead
    )
    if spare:
        delay = p.section.backup_delay
        saved = changed(dead, standard_transfer=dead.si.standard_transfer + p.spare.standard)
        later = delay + air.time_to_oxygen.si(saved, air.oxygen_after.si(dead, p.start, delay), p.critical)
        found.lasts = np.where(bare <= delay, bare, later)
        found.settles = air.steady_oxygen.si(saved)
    return found


def spare_needed(p, depth: float | None = None) -> SimpleNamespace:
    """The spare that holds the critical level by itself for as long as it takes: air [m³/s] and stones, at low, typical and high.

    Its stones hang where the build has them, or at another depth [m].
    """
    stone, depth = p.stone.si, p.depth if depth is None else depth
    return air.backup_air.si(
        p.budget, p.critical, depth=max(depth, 1e-3), per_depth=_shares(stone), each=stone.air_flow_typical, meal_peak=p.meal_peak
    ).si


def air_rows(system) -> list[tuple]:
    """What a review says of the air: (name, label, kind, bare value, formula, source) of each number."""
    p = plan(system)
    failure, need, balance = p.failures[POWER], spare_needed(p), "mass balance of the tank's oxygen"
    rows = [
        (
            "use",
            "oxygen that the fish use after a meal",
            MASS_RATE,
            p.fed.si.use,
            "oxygen of the day × peak after a meal",
            "Timmons & Ebeling; common practice",
        )
    ]
    for name, blown in (("flow", p.usual), ("spare flow", p.spare)):
        if blown.name:
            rows.append(
                (
                    name,
                    f"air from {blown.name}",
                    AIR_FLOW,
                    blown.flow,
                    "its curve meets depth, stones and tubes",
                    "data/airpumps.csv, data/airstones.csv",
                )
            )
    rows += [
        (
            "level",
            "oxygen with everything running",
            CONCENTRATION,
            p.steady[TYPICAL],
            "inflow + stones + surface = use",
            f"{balance}; ASCE/EWRI 2-06",
        ),
        ("critical", "danger begins below", CONCENTRATION, p.critical, "by species", "data/species.csv"),
    ]
    for name, label, time in (
        ("left", "from power failure to danger", failure.bare[TYPICAL]),
        ("left spare", "… with the spare", failure.lasts[TYPICAL]),
    ):
        if math.isfinite(time) and (name == "left" or p.spare.name):
            rows.append((name, label, TIME, time, "−ln(1 − k D/f)/k", balance))
    if failure.spare:
        rows.append(
            ("spare level", "oxygen that the spare holds", CONCENTRATION, failure.settles[TYPICAL], "stones + surface = use", balance)
        )
    if p.told:
        rows.append(("response", "until somebody comes", TIME, p.section.response_time, "the build file", "the build file"))
    if 0 < need.air_flow[LEAST] < math.inf:
        air_flow, stones = "use / (field factor × least share × depth)", "air / usual air of a stone"
        rows.append(
            (
                "spare needed",
                "air of a spare that holds it alone, poor stones",
                AIR_FLOW,
                need.air_flow[LEAST],
                air_flow,
                "ASCE/EWRI 2-06; data/airstones.csv",
            )
        )
        rows.append(("spare stones", "stones for that air", NUMBER, need.stones[LEAST], stones, "data/airstones.csv"))
    return rows

"""The upkeep of a solved build: alkalinity and base, nitrite and chloride, tap water, the start, as bare SI numbers.

Worked out of a solved build and its [upkeep] section; `Steady.upkeep` keeps it.
Where the section is missing, usual values stand in; `assumed` says which.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from aquaplumb.build import Build, Upkeep
from aquaplumb.build.vessels import open_area
from aquaplumb.system.balance import Balance
from aquaplumb.units import DAY, Bare
from aquaplumb.water import startup
from aquaplumb.water.bases import base_row
from aquaplumb.water.make_up import dechlorinator_needed
from aquaplumb.water.start_alkalinity import FLOOR

BARE_ALKALINITY = 0.01  # kg/m³ as CaCO3: rain and water of reverse osmosis; common practice, no source
USUAL_ALKALINITY = 0.1  # kg/m³ as CaCO3: DeLong and Losordo, SRAC 4502, 100 to 150 mg/L at the start
SALT = "CaCl2·2H2O"  # flakes of calcium chloride: plants bear calcium better than sodium
_TRACE = 1e-3  # kg/m³ as CaCO3: water with none at all holds no pH, whatever the file says of it
MOST_LOTS = 6  # lots of base a day that anybody gives by hand: common practice, no source


@dataclass(frozen=True)
class BasePlan:
    """The base that a day's ammonia asks for, in lots that fish bear."""

    base: str  #: which one
    base_daily: float  #: [kg/s]
    largest_lot: float  #: that fish bear [kg]
    lots: int  #: a day; 0 where no lot is safe, or more are needed than anybody gives
    lot: float  #: one of them [kg]


@dataclass(frozen=True)
class ChloridePlan:
    """The chloride that a nitrite level asks for."""

    chloride_wanted: float  #: by the typical ratio [kg/m³]
    chloride_least: float  #: by the least [kg/m³]
    salt: float  #: that is missing [kg]


@dataclass(frozen=True)
class UpkeepPlan(BasePlan, ChloridePlan):
    """The upkeep of a system; ammonia and nitrite are as N, alkalinity as CaCO3, flows and rates of the heaviest day."""

    section: Bare  #: it, bare; as usual where there is none
    assumed: tuple[str, ...]  #: what stands in for what the file does not say
    water: float  #: of the whole system [m³]
    ammonia: float  #: [kg/s]
    alkalinity: float  #: of the water [kg/m³]
    alkalinity_fall: float  #: [kg/m³/s]
    alkalinity_time: float  #: until the pH swings [s]
    weeks: Bare  #: `startup.ph_weeks`, with nothing put back and with the base of the plan
    nitrate_rise: float  #: by all the ammonia turned, as N, with no plants [kg/m³/s]
    nitrogen: Bare  #: `startup.nitrogen_balance` of the heaviest day
    minerals: Bare  #: `startup.minerals` of the heaviest day
    sodium_year: float  #: of feed and base after a year, at the build's change of water [kg/m³]
    sodium_given: float  #: of feed and base, where that puts back what is eaten [kg/s]
    change_wanted: float | None  #: of water, that holds the nitrate which plants leave at the fish's limit; where that is known [m³/s]
    metal: str  #: that the base leaves behind
    metal_rise: float  #: of it, where the base puts back what is eaten [kg/m³/s]
    metal_month: float  #: of it after a month, at the build's change of water, before plants [kg/m³]
    metal_year: float  #: after a year [kg/m³]
    chloride_now: float  #: with the salt that the nitrite asks for [kg/m³]
    chloride_year: float  #: of it and feed's after a year, at the build's change of water [kg/m³]
    tap_ammonia: float  #: as N, after that tap water, if its chlorine is all bound (chloramine) and taken out [kg/m³]
    nitrite: float  #: [kg/m³]
    chloride: float | None  #: of the water [kg/m³]
    make_up: float  #: [m³/s]
    tap_water: float  #: of one day's make-up or of a change of water [m³]
    tap_chlorine: float  #: [kg/m³]
    chlorine: float  #: after that tap water [kg/m³]
    dechlorinator: float  #: for that tap water [kg]
    dose_mass: float  #: ammonia for one dose of the start [kg]
    dose_share: float  #: the dose over a day's ammonia of the full stock
    ammonia_rise: float  #: by the first fish, with no bacteria [kg/m³/s]


def upkeep_plan(system: Balance) -> UpkeepPlan:
    """The upkeep of a solved build."""
    build = system.build
    section = build.upkeep or Upkeep()
    s, water = section.si, system.water
    assumed = [] if build.upkeep else ["no [upkeep] section"]
    alkalinity = s.alkalinity
    if alkalinity is None:
        bare = build.water.si.origin in ("rain", "reverse osmosis")
        alkalinity = BARE_ALKALINITY if bare else USUAL_ALKALINITY
        assumed.append(f"alkalinity of {alkalinity * 1e3:.0f} mg/L")
    ammonia = system.fish.ammonia
    base = base_plan(ammonia, water, s.base, alkalinity=alkalinity, ph=build.water.si.ph, temperature=system.cold)
    shield = chloride_plan(s.nitrite, s.chloride or 0.0, water, species=needs_most_chloride(build))
    open_water = sum(open_area.si(v) for v in build.vessels.values() if not v.grows)
    make_up = startup.make_up.si(water, open_water=open_water, planted=system.beds.area).si
    tap_water = max(s.water_change, make_up.total * DAY)
    nitrogen = startup.nitrogen_balance.si(system.fish.feed, system.fish.protein, system.beds.area).si
    limit = system.strictest("nitrate_limit").nitrate_limit
    metal_rise = float(startup.left_behind.si(system.fish.alkalinity / water, s.base))
    changed = s.water_change / DAY
    metal = startup.gathered.si(np.array([30.0, 365.0]) * DAY, water, metal_rise * water, changed=changed)
    minerals = startup.minerals.si(ammonia, nitrogen.plants, water).si
    sodium = minerals.sodium + (metal_rise * water if base_row(s.base).adds == "sodium" else 0.0)
    chloride_now = max(s.chloride or 0.0, shield.chloride_wanted)
    return UpkeepPlan(
        section=s,
        assumed=tuple(assumed),
        water=water,
        ammonia=ammonia,
        alkalinity=alkalinity,
        alkalinity_fall=system.fish.alkalinity / water,
        alkalinity_time=startup.alkalinity_time.si(alkalinity, water, ammonia, floor=FLOOR),
        weeks=weeks_ahead(base, water, ammonia, alkalinity=alkalinity, ph=build.water.si.ph, temperature=system.cold),
        nitrate_rise=ammonia / water,
        nitrogen=nitrogen,
        minerals=minerals,
        sodium_year=float(startup.gathered.si(365 * DAY, water, sodium, changed=changed)),
        sodium_given=sodium,
        change_wanted=nitrogen.left / limit if limit else None,
        metal=base_row(s.base).adds,
        metal_rise=metal_rise,
        metal_month=float(metal[0]),
        metal_year=float(metal[1]),
        chloride_now=chloride_now,
        chloride_year=float(startup.gathered.si(365 * DAY, water, minerals.chloride, changed=changed, present=chloride_now)),
        tap_ammonia=startup.chloramine_ammonia.si(s.tap_chlorine, tap_water=min(tap_water, water), volume=water),
        **vars(base),
        nitrite=s.nitrite,
        chloride=s.chloride,
        **vars(shield),
        make_up=make_up.total,
        tap_water=tap_water,
        tap_chlorine=s.tap_chlorine,
        chlorine=startup.chlorine_after.si(s.tap_chlorine, min(tap_water, water), max(water - tap_water, 0.0)),
        dechlorinator=dechlorinator_needed.si(min(s.tap_chlorine, 0.01), tap_water),
        dose_mass=startup.ammonia_needed.si(s.dose, water),
        dose_share=s.dose * water / (ammonia * DAY) if ammonia > 0 else math.inf,
        ammonia_rise=s.first_share * ammonia / water,
    )


def base_plan(ammonia: float, water: float, base: str, *, alkalinity: float, ph: float, temperature: float) -> BasePlan:
    """The base that a day's ammonia asks for, in lots that fish bear."""
    daily = startup.base_a_day.si(ammonia, base)
    known = min(max(ph, 5.0), 9.0)
    most = float(startup.daily_lot.si(water, base, alkalinity=min(alkalinity, 1.0), ph=known, temperature=temperature))
    lots = math.ceil(daily * DAY / most - 1e-9) if most > 0 else 0
    lots = lots if lots <= MOST_LOTS else 0
    return BasePlan(base=base, base_daily=daily, largest_lot=most, lots=lots, lot=daily * DAY / lots if lots else most)


def weeks_ahead(plan: BasePlan, water: float, ammonia: float, *, alkalinity: float, ph: float, temperature: float) -> Bare:
    """pH and alkalinity of the coming weeks: with nothing put back, and with the lots of a plan; one a day where they are too small."""
    given = plan.lot * max(plan.lots, 1) / DAY * base_row(plan.base).alkalinity
    known, some = min(max(ph, 5.0), 9.0), min(max(alkalinity, _TRACE), 1.0)
    return startup.ph_weeks.si(water, ammonia, alkalinity=some, ph=known, temperature=temperature, given_back=given).si


def needs_most_chloride(build: Build) -> str:
    """The species of a build that asks for the most chloride against nitrite."""
    return max((stock.si.species for stock in build.stocks.values()), key=lambda name: startup.chloride_ratio.si(species=name).si.typical)


def chloride_plan(nitrite: float, chloride: float, water: float, *, species: str) -> ChloridePlan:
    """The chloride that a nitrite level asks for, and the salt that is missing."""
    ratio = startup.chloride_ratio.si(species=species).si
    typical, least = (float(startup.chloride_needed.si(nitrite, ratio=one)) for one in (ratio.typical, ratio.low))
    missing = startup.salt_needed.si(min(typical, 5.0), water, present=chloride, salt=SALT)
    return ChloridePlan(chloride_wanted=typical, chloride_least=least, salt=float(missing))

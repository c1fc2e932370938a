"""The upkeep of a solved build: alkalinity and base, nitrite and chloride, tap water, the start, as bare SI numbers.

Worked out of a `aquaplumb.system.steady.Steady` system and its build's [upkeep] section, once, and kept with the system.
Where the section is missing, usual values stand in; `assumed` says which.
"""

from __future__ import annotations

import copy
import math
from types import SimpleNamespace

from aquaplumb.build import Build, Upkeep
from aquaplumb.build.vessels import plan_area, water_volume
from aquaplumb.given import takes_things
from aquaplumb.units import DAY
from aquaplumb.water import startup
from aquaplumb.water.make_up import dechlorinator_needed

USUAL_ALKALINITY = 0.1  # kg/m³ as CaCO3: DeLong and Losordo, SRAC 4502, 100 to 150 mg/L at the start
FLOOR = 0.02  # kg/m³ as CaCO3: below it the pH swings by the hour (see `startup.alkalinity_time`)
SALT = "CaCl2·2H2O"  # flakes of calcium chloride: plants bear calcium better than sodium
_MOST_LOTS = 6  # lots of base a day that anybody gives by hand: common practice, no source


@takes_things
def system_water(build: Build) -> float:
    """The water of the whole system at its working depths, media allowed for, bare m³."""
    return float(sum(water_volume.si(v, v.si.working_depth) for v in build.vessels.values()))


def upkeep_of(system) -> SimpleNamespace:
    """The upkeep of a system, bare SI; worked out at the first asking.

    Ammonia and nitrite are as N, alkalinity as CaCO3, all flows and rates are of the heaviest day.
    """
    kept = vars(system).get("_upkeep")
    if kept is None or kept.build is not system.build:
        kept = vars(system)["_upkeep"] = _worked_out(system)
    return kept


def with_upkeep(system, **changes):
    """The same system with some of its [upkeep] said otherwise (bare SI, or text): for a what-if."""
    build, other = system.build, copy.copy(system)
    section = Upkeep.from_si(**{**vars((build.upkeep or Upkeep()).si), **changes})
    other.build = build.replaced(upkeep=section)
    return other


def _worked_out(system) -> SimpleNamespace:
    build = system.build
    section = build.upkeep or Upkeep()
    s, water = section.si, system_water(build)
    assumed = [] if build.upkeep else ["no [upkeep] section"]
    alkalinity = s.alkalinity
    if alkalinity is None:
        alkalinity = USUAL_ALKALINITY
        assumed.append("alkalinity of 100 mg/L")
    ammonia = system.fish.ammonia
    base = base_plan(ammonia, water, s.base, alkalinity=alkalinity, ph=build.water.si.ph, temperature=system.cold)
    shield = chloride_plan(s.nitrite, s.chloride or 0.0, water, species=build.fish.si.species)
    open_water = sum(plan_area.si(v) for kind in ("fish tank", "sump", "settling tank", "buffer tank") for v in build.of_kind(kind))
    make_up = startup.make_up.si(water, open_water=open_water, planted=system.beds.area).si
    tap_water = max(s.water_change, make_up.total * DAY)
    return SimpleNamespace(
        build=build,
        given=build.upkeep is not None,
        section=s,
        assumed=tuple(assumed),
        water=water,
        ammonia=ammonia,
        alkalinity=alkalinity,
        alkalinity_used=system.fish.alkalinity,
        alkalinity_fall=system.fish.alkalinity / water,
        alkalinity_time=startup.alkalinity_time.si(alkalinity, water, ammonia, floor=FLOOR),
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


def base_plan(ammonia: float, water: float, base: str, *, alkalinity: float, ph: float, temperature: float) -> SimpleNamespace:
    """The base that a day's ammonia asks for, in lots that fish bear: `base_daily` [kg/s], `lots` a day, `lot` [kg].

    `lots` is 0 where no lot is safe, or more are needed than anybody gives.
    """
    daily = startup.base_a_day.si(ammonia, base)
    known = min(max(ph, 5.0), 9.0)
    most = float(startup.daily_lot.si(water, base, alkalinity=min(alkalinity, 1.0), ph=known, temperature=temperature))
    lots = math.ceil(daily * DAY / most - 1e-9) if most > 0 else 0
    lots = lots if lots <= _MOST_LOTS else 0
    return SimpleNamespace(base=base, base_daily=daily, largest_lot=most, lots=lots, lot=daily * DAY / lots if lots else most)


def chloride_plan(nitrite: float, chloride: float, water: float, *, species: str) -> SimpleNamespace:
    """The chloride that a nitrite level asks for, typical and least [kg/m³], and the salt that is missing [kg]."""
    ratio = startup.chloride_ratio.si(species=species).si
    typical, least = nitrite * ratio.typical, nitrite * ratio.low
    missing = startup.salt_needed.si(min(typical, 5.0), water, present=chloride, salt=SALT)
    return SimpleNamespace(chloride_wanted=typical, chloride_least=least, salt=float(missing))

"""What the section [heat] of a build comes to on the coldest night, worked out of its solved system; bare SI numbers.

What is assumed where the file says nothing:

- all open water has the lid that `covered` tells of; a bed's dry top, a raft's boards, a channel's or tower's cover is a lid by itself; `insulation` is round all
  walls and floors, with the coldest air outside. A sunken sump loses less than that.
- in a power cut the fish tanks stand alone: no pump, no heater, the lid as it is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from aquaplumb.build import Heat
from aquaplumb.build.shapes import around
from aquaplumb.build.vessels import Vessel, open_area, plan_area, water_volume
from aquaplumb.power import heat
from aquaplumb.system.balance import Balance
from aquaplumb.units import NUMBER, POWER, VOLUME, Bare

WALL_TOP = 4.0  # W/m²/K: a single lid, or a bed's dry top, over an air gap; common practice (see `heat.surface_loss`)


@dataclass(frozen=True, slots=True)
class HeatPlan:
    """What a [heat] section comes to on the coldest night."""

    keep: float  #: the water [K]
    air: float  #: the coldest [K]
    ways: dict[str, float]  #: each way in which heat goes [W]
    loss: float  #: their sum [W]
    bare: float  #: the sum if nothing were covered [W]
    heater: float  #: the size to buy [W]
    own: float | None  #: the build's own heater [W]
    evaporation: float  #: of the whole surface [kg/s]
    bare_evaporation: float  #: … without lids [kg/s]
    alone: float  #: the fish tanks' own loss in a power cut [W]
    volume: float  #: of the fish tanks [m³]
    lowest: float | None  #: what the species bears [K]
    time: float  #: until then in a power cut [s]; infinite where that never comes
    cost: float  #: of such a day, in the build's money
    foam: float  #: round walls, up to the rim, and under floors of all vessels [m²]
    lids: float  #: over the open water that is covered [m²]


def wetted_wall(vessel: Vessel) -> float:
    """The wetted wall and floor of a vessel [m²]; a cone is counted as upright, which is a little too much."""
    v = vessel.si
    wet = v.height if v.kind == "tower" else v.working_depth  # a tower drips from its top
    return v.count * around(v) * wet + plan_area.si(vessel)


def heat_rows(plan: HeatPlan | None) -> list[tuple]:
    """The results of [heat] for a review, as `power_rows`."""
    if plan is None:
        return []
    balance, alone = "ASHRAE, ISO 6946", "tank alone, to what the species lives in"
    return [
        ("loss", "heat lost on the coldest night", POWER, plan.loss, "surface, lids and walls", balance),
        ("open loss", "… if nothing were covered", POWER, plan.bare, "surface and walls", balance),
        ("heater", "heater to buy, in two pieces", POWER, plan.heater, "1.2 × loss", "common practice"),
        ("evaporation", "evaporates on such a day", VOLUME, plan.evaporation * 86400 / 1000, "vapour pressures", "ASHRAE, natatoriums"),
        ("cooling", "hours of a power cut that the fish bear", NUMBER, plan.time / 3600, alone, "Newton's law of cooling"),
    ]


def heat_plan(system: Balance, section: Heat) -> HeatPlan:
    """What a section [heat] comes to; `Steady.heat` keeps that of the build's own."""
    h = section.si
    keep = system.build.all_year.si.coldest_water if h.keep_at is None else h.keep_at
    transfer = heat.wall_transfer.si(h.insulation)
    weather = {"air": h.coldest_air, "humidity": h.humidity, "lid_transfer": WALL_TOP}
    closed = sum(plan_area.si(v) - open_area.si(v) for v in system.build.vessels.values() if not v.grows)  # tops beside a cut-out
    tanks, beds = system.build.of_kind("fish tank"), system.build.growing
    others = [vessel for vessel in system.build.vessels.values() if vessel.si.kind != "fish tank" and not vessel.grows]

    def top(vessels: list[Vessel], covered: float, more: float = 0.0) -> Bare:
        area = sum(open_area.si(v) for v in vessels) + more
        return heat.surface_loss.si(area, keep, covered=covered, **weather).si

    def walls(vessels: list[Vessel]) -> float:
        return heat.wall_loss.si(sum(wetted_wall(v) for v in vessels), keep, outside=h.coldest_air, transfer=transfer)

    open_, bed_tops, bare = top([*tanks, *others], h.covered), top(beds, 1.0, closed), top([*tanks, *others], 0.0)
    ways = {
        "evaporation": open_.evaporation,
        "to the air": open_.convection + open_.radiation,
        "through lids": open_.lid,
        f"tops of {system.beds.words}": bed_tops.total,
        "walls and floors": walls([*tanks, *beds, *others]),
    }
    loss = sum(ways.values())
    area = sum(open_area.si(v) for v in (*tanks, *others))
    evaporates = {"air": h.coldest_air, "humidity": h.humidity}
    alone = max(0.0, top(tanks, h.covered).total + walls(tanks))
    volume = sum(water_volume.si(v, v.si.working_depth) for v in tanks)
    lowest = system.strictest("survive_low").survive_low
    colder = keep > h.coldest_air
    return HeatPlan(
        keep=keep, air=h.coldest_air, ways=ways, loss=loss, heater=heat.heater_size.si(loss), own=h.heater,
        bare=sum(ways.values()) - open_.total + bare.total,
        evaporation=max(0.0, heat.evaporation.si(area, keep, covered=h.covered, **evaporates)),
        bare_evaporation=max(0.0, heat.evaporation.si(area, keep, **evaporates)),
        alone=alone, volume=volume, lowest=lowest,
        time=heat.cooling_time.si(volume, keep, lowest=lowest, air=h.coldest_air, loss=alone) if colder and lowest is not None else math.inf,
        cost=max(0.0, loss) * 86400 / 3.6e6 * system.build.site.si.power_price,
        foam=sum(v.si.count * around(v.si) * v.si.height + plan_area.si(v) for v in (*tanks, *beds, *others)) if h.insulation > 0 else 0.0, lids=h.covered * area,
    )  # fmt: skip


def heat_through_year(system: Balance) -> list[HeatPlan]:
    """The same in the mean air of each month of a season, with the water as warm as it then is; none where it says nothing of air."""
    build = system.build
    if build.season is None or not build.season.si.air:
        return []
    section, year = build.heat or Heat.from_si(coldest_air=build.season.si.air[0]), build.season.si
    return [heat_plan(system, section.with_si(coldest_air=air, keep_at=water)) for air, water in zip(year.air, year.temperature)]


def cooled(plan: HeatPlan, time):
    """How warm the fish tanks still are some time after a power cut on the coldest night [K]."""
    if plan.keep <= plan.air:
        return plan.keep + 0.0 * np.asarray(time)
    return heat.cooled_temperature.si(plan.volume, plan.keep, air=plan.air, loss=plan.alone, time=time)

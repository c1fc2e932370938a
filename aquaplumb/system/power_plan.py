"""What the sections [power] and [heat] of a build come to, worked out of its solved system; bare SI numbers.

What is assumed where the file says nothing:

- each DC pump has a wire of its own, as long as `wire_length`; without `wire` nothing is lost on the way;
- the battery stands in the coldest air of [heat], else in a room; a lithium one is kept from freezing;
- pumps draw their mean all day long, as their control has it; the air pump of [air] counts only as `always` does;
- all open water has the lid that `covered` tells of; a bed's dry top is a lid by itself; `insulation` is round all
  walls and floors, with the coldest air outside. A sunken sump loses less than that.
- in a power cut the fish tanks stand alone: no pump, no heater, the lid as it is.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from aquaplumb import air, power
from aquaplumb.air.tank_oxygen import changed
from aquaplumb.build import Build, Heat, PumpedLine, Supply
from aquaplumb.build.vessels import Vessel, plan_area, water_volume
from aquaplumb.plumbing import lines, pumps
from aquaplumb.power import heat
from aquaplumb.system import air_plan
from aquaplumb.system.air_plan import AirPlan
from aquaplumb.system.balance import Balance
from aquaplumb.units import CURRENT, FLOW, INSOLATION, NUMBER, POWER, SHARE, VOLTAGE, VOLUME, Bare, DesignError

FROST, COLDEST = 273.15, 253.15  # K: lithium must not be charged below the first; nothing is known of batteries below the other
CURVE_POINTS = 30  # of a line's curve
WALL_TOP = 4.0  # W/m²/K: a single lid, or a bed's dry top, over an air gap; common practice (see `heat.surface_loss`)


# --- power ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Wired:
    """A pumped line's DC pump on the wire of a supply."""

    name: str  #: of the line
    pump: str
    voltage: float | None  #: that the pump is made for [V]
    lowest: float | None  #: on which it runs [V]
    duty: float
    rating: float | None  #: largest fuse of the wire [A]
    run: Bare | None = None  #: a bare `power.WiredPump`; None with the reason in `trouble`
    trouble: str = ""
    stands: bool = False  #: whether it draws nothing
    mean_power: float = 0.0  #: out of the battery over the hours [W]
    fuse: float | None = None  #: that its current asks for [A]


@dataclass(frozen=True, slots=True)
class PowerPlan:
    """What a [power] section comes to."""

    supply: Supply
    lines: dict[str, Wired]  #: each DC pump on its wire, by the line's name
    mean: float  #: out of the battery, all day [W]
    battery: str  #: its kind
    temperature: float  #: of the battery at its coldest [K]
    wanted: float  #: how long it has to last [s]
    hours: float | None  #: how long a full one lasts [s]; None without a battery
    capacity_wanted: float | None  #: of a battery that lasts as long as wanted [A s]


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


def full_pump(system: Balance, line: PumpedLine) -> pumps.Pump:
    """The pump of a pumped line with its points as its maker gives them, at its own voltage: what the wire does comes later."""
    return system.pump_of(line.replace(voltage=None))


def line_curve(tree: lines.Line, pump: pumps.Pump) -> pumps.SystemCurve:
    """What a line asks for, up to more than a pump could bring: one curve for all wires and voltages."""
    return lines.system_curve.si(tree, 1.35 * float(pump.si.flow[-1]) * np.linspace(0.0, 1.0, CURVE_POINTS) ** 1.3)


def single(run: Bare) -> Bare:
    """How one pump runs on one wire, with plain numbers in place of arrays of one."""
    return Bare(**{key: value.item() if isinstance(value, np.ndarray) and value.ndim == 0 else value for key, value in vars(run).items()})


def wired(system: Balance, name: str, supply: Supply, run: Bare | None = None) -> Wired:
    """A pumped line's DC pump on the wire of a supply; `run` where it is known already how it runs."""
    state, s = system.pumped[name], supply.si
    pump = full_pump(system, state.line)
    wire = power.wire(s.wire).si if s.wire else None
    own = Wired(name, pump.si.name, pump.si.voltage, pump.si.lowest_voltage, state.duty, wire.rating if wire else None)
    if run is None:
        try:
            run = single(power.wired_pump.si(pump, line_curve(state.tree, pump), s.voltage, wire=s.wire or None, length=s.wire_length).si)
        except DesignError as wrong:
            return replace(own, trouble=str(wrong))
    try:
        fuse = float(power.fuse.si(run.current))
    except DesignError:
        fuse = math.inf
    return replace(own, run=run, stands=run.current <= 0, mean_power=run.supply_power * own.duty, fuse=fuse)


def is_dc(pump) -> bool:
    """Whether a pump runs on DC."""
    return pump.si.supply == "DC"


def power_plan(system: Balance, supply: Supply, runs: Mapping[str, Bare]) -> PowerPlan:
    """What a supply comes to; `Steady.power` keeps that of the build's own.

    `runs` has how a line's pump runs on this supply, by line, where that is known already.
    """
    s = supply.si
    dc = [name for name, line in system.pumped.items() if is_dc(line.pump)]
    wires = {name: wired(system, name, supply, runs.get(name)) for name in dc}
    mean = s.always + sum(one.mean_power for one in wires.values())
    battery, temperature, has = s.battery or "lead-acid flooded", battery_place(system.build, s.battery), s.capacity is not None
    place = {"kind": battery, "temperature": temperature}
    return PowerPlan(
        supply=supply, lines=wires, mean=mean,
        battery=battery, temperature=temperature, wanted=s.autonomy,
        hours=power.battery_time.si(s.capacity, mean, s.voltage, **place) if has else None,
        capacity_wanted=power.battery_capacity.si(mean, s.autonomy, s.voltage, **place) if has else None,
    )  # fmt: skip


def battery_place(build: Build, battery: str) -> float:
    """How cold the battery gets [K]: as the coldest air of [heat], else a room; lithium is kept from freezing."""
    air = build.heat.si.coldest_air if build.heat else 293.15
    return min(max(air, FROST if battery == "LiFePO4" else COLDEST), 293.15)


def sunshine(supply: Supply):
    """The sunshine on a supply's panel, bare SI numbers inside."""
    s = supply.si
    return power.sunshine.si(s.latitude, tilt=s.tilt, sky_share=s.sky_share)


def power_year(plan: PowerPlan | None) -> Bare | None:
    """A year of invented weather on the build's panel and battery, a bare `SolarYear`; None without panel or battery."""
    if plan is None or plan.hours is None or plan.supply.si.panel is None:
        return None
    s = plan.supply.si
    place = {"sun": sunshine(plan.supply), "voltage": s.voltage, "kind": plan.battery, "temperature": plan.temperature}
    # as a mean, so that several pumps with duties of their own go into one load
    return power.solar_year.si(plan.mean, s.panel, s.capacity, **place).si


def power_rows(plan: PowerPlan | None, year: Bare | None) -> list[tuple]:
    """The results of [power] for a review: name, label, kind, bare value, formula, source; none without the section."""
    rows: list[tuple] = []
    if plan is None:
        return rows
    for one in plan.lines.values():
        if one.run is None:
            continue
        name, ohm = one.name, "pump, wire and line solved together"
        rows += [
            (f"{name} voltage", f"voltage at the pump of {name}", VOLTAGE, one.run.voltage, ohm, "Ohm's law; affinity laws"),
            (f"{name} drop", "… the wire keeps", SHARE, one.run.drop_share, "drop / supply", "3 % is usual: NEC notes, from memory"),
            (f"{name} flow", "… and it brings", FLOW, one.run.flow, ohm, "Ohm's law; affinity laws"),
            (f"{name} fuse", "… its fuse, at the battery", CURRENT, one.fuse, "next size over 1.25 × current", "NEC 210.20, from memory"),
        ]
    rows.append(("mean", "out of the battery, day and night", POWER, plan.mean, "power × duty, and what always runs", "arithmetic"))
    if plan.hours is not None and math.isfinite(plan.hours):
        lasts = "capacity × voltage × usable part / power", "data/batteries.csv"
        rows.append(("hours", "a full battery lasts, in hours", NUMBER, plan.hours / 3600, *lasts))
    if year is not None:
        by_hour, by_day = "energy balance by the hour, invented weather", "clear sky × sky share of each day"
        rows += [
            ("empty", "hours of a year in which it is flat", NUMBER, year.hours_empty, by_hour, "pvlib's clear sky"),
            ("dark sun", "sunshine of the darkest fortnight", INSOLATION, year.dark_insolation, by_day, "pvlib's clear sky"),
        ]
    return rows


# --- rests --------------------------------------------------------------------------------------------------


def oxygen_after_rest(system: Balance, p: AirPlan, name: str, rest: float, *, duty: float, stronger: float = 1.0) -> np.ndarray | None:
    """The oxygen in the fish tanks at the end of a rest of a line's pump [kg/m³], by stones that bring little, as usual and much.

    The fish have just eaten and the water is at its warmest, as the plan of its air has it; air stones run on. Before, the pump
    ran for a share `duty` of the time, and brought so much more (`stronger`) than the build's own while it ran. None
    where the tanks do not live on this line alone (another pumps into them as well, or no water comes from outside), and
    where the fish are in danger without any rest.
    """
    tanks = {tank.si.name for tank in system.build.of_kind("fish tank")}
    others = any(
        o.to in tanks for line in system.pumped.values() if line.name != name and line.line.si.source not in tanks for o in line.outlets
    )
    own = system.pumped[name]
    if others or p.budget.si.inflow <= 0 or own.duty <= 0 or p.steady[air_plan.TYPICAL] < p.critical:
        return None
    before = changed(p.fed, inflow=p.budget.si.inflow / own.duty * stronger * duty)
    return air.oxygen_after.si(p.failures[air_plan.PUMP].dead, air.steady_oxygen.si(before), rest)


# --- heat -------------------------------------------------------------------------------------------------


def wetted_wall(vessel: Vessel) -> float:
    """The wetted wall and floor of a vessel [m²]; a cone is counted as upright, which is a little too much."""
    v = vessel.si
    return _around(v) * v.working_depth + plan_area.si(vessel)


def _around(v: Bare) -> float:
    """How long it is round a vessel [m]."""
    return math.pi * v.diameter if v.diameter else 2 * (v.length + v.width)


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
    keep = system.cold if h.keep_at is None else h.keep_at
    transfer = heat.wall_transfer.si(h.insulation)
    around = {"air": h.coldest_air, "humidity": h.humidity, "lid_transfer": WALL_TOP}
    tanks, beds = system.build.of_kind("fish tank"), system.build.of_kind("bed")
    others = [vessel for vessel in system.build.vessels.values() if vessel.si.kind not in ("fish tank", "bed")]

    def top(vessels: list[Vessel], covered: float) -> Bare:
        area = sum(plan_area.si(v) for v in vessels)
        return heat.surface_loss.si(area, keep, covered=covered, **around).si

    def walls(vessels: list[Vessel]) -> float:
        return heat.wall_loss.si(sum(wetted_wall(v) for v in vessels), keep, outside=h.coldest_air, transfer=transfer)

    open_, bed_tops, bare = top([*tanks, *others], h.covered), top(beds, 1.0), top([*tanks, *others], 0.0)
    ways = {
        "evaporation": open_.evaporation,
        "to the air": open_.convection + open_.radiation,
        "through lids": open_.lid,
        "tops of beds": bed_tops.total,
        "walls and floors": walls([*tanks, *beds, *others]),
    }
    loss = sum(ways.values())
    area = sum(plan_area.si(v) for v in (*tanks, *others))
    evaporates = {"air": h.coldest_air, "humidity": h.humidity}
    alone = max(0.0, top(tanks, h.covered).total + walls(tanks))
    volume = sum(water_volume.si(v, v.si.working_depth) for v in tanks)
    lowest = system.species.si.survive_low
    colder = keep > h.coldest_air
    return HeatPlan(
        keep=keep, air=h.coldest_air, ways=ways, loss=loss, heater=heat.heater_size.si(loss), own=h.heater,
        bare=sum(ways.values()) - open_.total + bare.total,
        evaporation=max(0.0, heat.evaporation.si(area, keep, covered=h.covered, **evaporates)),
        bare_evaporation=max(0.0, heat.evaporation.si(area, keep, **evaporates)),
        alone=alone, volume=volume, lowest=lowest,
        time=heat.cooling_time.si(volume, keep, lowest=lowest, air=h.coldest_air, loss=alone) if colder and lowest is not None else math.inf,
        cost=max(0.0, loss) * 86400 / 3.6e6 * system.build.site.si.power_price,
        foam=sum(_around(v.si) * v.si.height + plan_area.si(v) for v in (*tanks, *beds, *others)) if h.insulation > 0 else 0.0, lids=h.covered * area,
    )  # fmt: skip


def cooled(plan: HeatPlan, time):
    """How warm the fish tanks still are some time after a power cut on the coldest night [K]."""
    if plan.keep <= plan.air:
        return plan.keep + 0.0 * np.asarray(time)
    return heat.cooled_temperature.si(plan.volume, plan.keep, air=plan.air, loss=plan.alone, time=time)

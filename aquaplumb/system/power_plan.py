"""What the sections [power] and [heat] of a build come to, worked out of its solved system; bare SI numbers, kept with it.

What is assumed where the file says nothing:

- each DC pump has a wire of its own, as long as `wire_length`; without `wire` nothing is lost on the way;
- the battery stands in the coldest air of [heat], else in a room; a lithium one is kept from freezing;
- pumps draw their mean all day long, as their control has it; the air pump of [air] counts only as `always` does;
- all open water has the lid that `covered` tells of; a bed's dry top is a lid by itself; `insulation` is round all
  walls and floors, with the coldest air outside. A sunken sump loses less than that.
- in a power cut the fish tanks stand alone: no pump, no heater, the lid as it is.
"""

from __future__ import annotations

import copy
import math
from types import SimpleNamespace

import numpy as np

from aquaplumb import air, power
from aquaplumb.air.tank_oxygen import changed
from aquaplumb.build import Build, Supply
from aquaplumb.build.vessels import plan_area, water_volume
from aquaplumb.plumbing import lines, pumps
from aquaplumb.power import heat
from aquaplumb.system import air_plan
from aquaplumb.units import CURRENT, FLOW, INSOLATION, NUMBER, POWER, SHARE, VOLTAGE, VOLUME, DesignError

FROST, COLDEST = 273.15, 253.15  # K: lithium must not be charged below the first; nothing is known of batteries below the other
CURVE_POINTS = 30  # of a line's curve
WALL_TOP = 4.0  # W/m²/K: a single lid, or a bed's dry top, over an air gap; common practice (see `heat.surface_loss`)


# --- power ------------------------------------------------------------------------------------------------


def full_pump(system, line) -> pumps.Pump:
    """The pump of a pumped line with its points as its maker gives them, at its own voltage: what the wire does comes later."""
    return system.pump_of(line.replace(voltage=None))


def line_curve(tree, pump: pumps.Pump):
    """What a line asks for, up to more than a pump could bring: one curve for all wires and voltages."""
    return lines.system_curve.si(tree, 1.35 * float(pump.si.flow[-1]) * np.linspace(0.0, 1.0, CURVE_POINTS) ** 1.3)


def wired(system, name: str, supply: Supply) -> SimpleNamespace:
    """A pumped line's DC pump on the wire of a supply.

    `run` is a bare `power.WiredPump`, or None with the reason in `trouble`; `fuse` what its current asks for [A],
    `rating` what the wire may have; `mean_power` what it takes out of the battery over the hours.
    """
    state = system.pumped[name]
    pump = full_pump(system, state.line)
    own = SimpleNamespace(name=name, pump=pump.si.name, voltage=pump.si.voltage, lowest=pump.si.lowest_voltage, duty=state.duty,
                          run=None, trouble="", fuse=None, rating=None, mean_power=0.0)  # fmt: skip
    wire = power.wire(supply.si.wire).si if supply.si.wire else None
    own.rating = wire.rating if wire else None
    own.run = vars(system).get("_runs", {}).get(name)
    if own.run is None:
        try:
            run = power.wired_pump.si(
                pump, line_curve(state.tree, pump), supply.si.voltage, wire=supply.si.wire or None, length=supply.si.wire_length
            ).si
        except DesignError as wrong:
            own.trouble = str(wrong)
            return own
        own.run = SimpleNamespace(**{key: value.item() if isinstance(value, np.ndarray) else value for key, value in vars(run).items()})
    own.stands = own.run.current <= 0
    own.mean_power = own.run.supply_power * own.duty
    try:
        own.fuse = float(power.fuse.si(own.run.current))
    except DesignError:
        own.fuse = math.inf
    return own


def known_run(system, name: str, run: SimpleNamespace) -> None:
    """Spare a system that is made for one moment the work: how a line's pump runs on the build's own supply is known already."""
    vars(system).setdefault("_runs", {})[name] = run


def is_dc(pump) -> bool:
    """Whether a pump runs on DC."""
    return pump.si.supply == "DC"


def power_plan(system) -> SimpleNamespace | None:
    """What the [power] section comes to; None where the build has none.

    `lines` has each DC pump on its wire (`wired`) by the line's name, `mains` the other pumped lines' names. `mean` is
    what all of it takes out of the battery [W], `hours` how long a full one lasts [s], None without a battery.
    """
    supply = system.build.power
    if supply is None:
        return None
    return _kept(system, "_power", lambda: _power(system, supply))


def _kept(system, key: str, make):
    """What was worked out of a system and its build, once; a copy of the system with another build works it out anew."""
    build, kept = vars(system).get(key, (None, None))
    if build is not system.build:
        kept = make()
        vars(system)[key] = system.build, kept
    return kept


def with_section(system, **sections):
    """The same solved system with another [power] or [heat], such as ``power=``: neither changes its water. For a what-if."""
    other = copy.copy(system)
    vars(other).pop("_runs", None)
    other.build = system.build.replaced(**sections)
    return other


def _power(system, supply: Supply) -> SimpleNamespace:
    s = supply.si
    dc = [name for name, line in system.pumped.items() if is_dc(line.pump)]
    wires = {name: wired(system, name, supply) for name in dc}
    mean = s.always + sum(one.mean_power for one in wires.values())
    plan = SimpleNamespace(
        supply=supply, lines=wires, mains=[name for name in system.pumped if name not in wires], mean=mean, hours=None,
        battery=s.battery or "lead-acid flooded", temperature=battery_place(system.build, s.battery), wanted=s.autonomy,
    )  # fmt: skip
    if s.capacity is not None:
        plan.hours = power.battery_time.si(s.capacity, mean, s.voltage, kind=plan.battery, temperature=plan.temperature)
        plan.capacity_wanted = power.battery_capacity.si(mean, s.autonomy, s.voltage, kind=plan.battery, temperature=plan.temperature)
    return plan


def battery_place(build: Build, battery: str) -> float:
    """How cold the battery gets [K]: as the coldest air of [heat], else a room; lithium is kept from freezing."""
    air = build.heat.si.coldest_air if build.heat else 293.15
    return min(max(air, FROST if battery == "LiFePO4" else COLDEST), 293.15)


def sunshine(supply: Supply):
    """The sunshine on a supply's panel, bare SI numbers inside."""
    s = supply.si
    return power.sunshine.si(s.latitude, tilt=s.tilt, sky_share=s.sky_share)


def power_year(system):
    """A year of invented weather on the build's panel and battery, kept with the system; None without panel or battery."""
    plan = power_plan(system)
    if plan is None or plan.hours is None or plan.supply.si.panel is None:
        return None
    s = plan.supply.si
    place = {"sun": sunshine(plan.supply), "voltage": s.voltage, "kind": plan.battery, "temperature": plan.temperature}
    # as a mean, so that several pumps with duties of their own go into one load
    return _kept(system, "_power_year", lambda: power.solar_year.si(plan.mean, s.panel, s.capacity, **place).si)


def power_rows(system) -> list[tuple]:
    """The results of [power] for a review: name, label, kind, bare value, formula, source; none without the section."""
    plan, rows = power_plan(system), []
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
        rows.append(
            (
                "hours",
                "a full battery lasts, in hours",
                NUMBER,
                plan.hours / 3600,
                "capacity × voltage × usable part / power",
                "data/batteries.csv",
            )
        )
    year = power_year(system)
    if year is not None:
        rows.append(
            (
                "empty",
                "hours of a year in which it is flat",
                NUMBER,
                year.hours_empty,
                "energy balance by the hour, invented weather",
                "pvlib's clear sky",
            )
        )
        rows.append(
            (
                "dark sun",
                "sunshine of the darkest fortnight",
                INSOLATION,
                year.dark_insolation,
                "clear sky × sky share of each day",
                "pvlib's clear sky",
            )
        )
    return rows


# --- rests --------------------------------------------------------------------------------------------------


def oxygen_after_rest(system, name: str, rest: float, *, duty: float, stronger: float = 1.0) -> np.ndarray | None:
    """The oxygen in the fish tanks at the end of a rest of a line's pump [kg/m³], by stones that bring little, as usual and much.

    The fish have just eaten and the water is at its warmest, as `airplan` has it; air stones run on. Before, the pump
    ran for a share `duty` of the time, and brought so much more (`stronger`) than the build's own while it ran. None
    where the tanks do not live on this line alone (another pumps into them as well, or no water comes from outside), and
    where the fish are in danger without any rest.
    """
    p, tanks = air_plan.plan(system), {tank.si.name for tank in system.build.of_kind("fish tank")}
    others = any(
        o.to in tanks for line in system.pumped.values() if line.name != name and line.line.si.source not in tanks for o in line.outlets
    )
    own = system.pumped[name]
    if others or p.budget.si.inflow <= 0 or own.duty <= 0 or p.steady[air_plan.TYPICAL] < p.critical:
        return None
    before = changed(p.fed, inflow=p.budget.si.inflow / own.duty * stronger * duty)
    return air.oxygen_after.si(p.failures[air_plan.PUMP].dead, air.steady_oxygen.si(before), rest)


# --- heat -------------------------------------------------------------------------------------------------


def wetted_wall(vessel) -> float:
    """The wetted wall and floor of a vessel [m²]; a cone is counted as upright, which is a little too much."""
    v = vessel.si
    around = math.pi * v.diameter if v.diameter else 2 * (v.length + v.width)
    return around * v.working_depth + plan_area.si(vessel)


def heat_plan(system) -> SimpleNamespace | None:
    """What the [heat] section comes to on the coldest night; None where the build has none.

    `ways` has each way in which heat goes [W], `loss` their sum, `heater` the size to buy. `evaporation` is of the whole
    surface [kg/s], `bare_evaporation` the same without lids. `alone` is the fish tanks' own loss in a power cut,
    `lowest` what the species bears, `time` how long until then [s].
    """
    if system.build.heat is None:
        return None
    return _kept(system, "_heat", lambda: _heat(system, system.build.heat.si))


def heat_rows(system) -> list[tuple]:
    """The results of [heat] for a review, as `power_rows`."""
    plan = heat_plan(system)
    if plan is None:
        return []
    balance = "ASHRAE, ISO 6946"
    return [
        ("loss", "heat lost on the coldest night", POWER, plan.loss, "surface, lids and walls", balance),
        ("open loss", "… if nothing were covered", POWER, plan.bare, "surface and walls", balance),
        ("heater", "heater to buy, in two pieces", POWER, plan.heater, "1.2 × loss", "common practice"),
        ("evaporation", "evaporates on such a day", VOLUME, plan.evaporation * 86400 / 1000, "vapour pressures", "ASHRAE, natatoriums"),
        (
            "cooling",
            "hours of a power cut that the fish bear",
            NUMBER,
            plan.time / 3600,
            "tank alone, to what the species lives in",
            "Newton's law of cooling",
        ),
    ]


def _heat(system, h) -> SimpleNamespace:
    keep = system.cold if h.keep_at is None else h.keep_at
    transfer = heat.wall_transfer.si(h.insulation)
    around = {"air": h.coldest_air, "humidity": h.humidity, "lid_transfer": WALL_TOP}
    tanks, beds, others = [], [], []
    for vessel in system.build.vessels.values():
        {"fish tank": tanks, "bed": beds}.get(vessel.si.kind, others).append(vessel)

    def top(vessels, covered):
        area = sum(plan_area.si(v) for v in vessels)
        return heat.surface_loss.si(area, keep, covered=covered, **around).si

    def walls(vessels):
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
    return SimpleNamespace(
        keep=keep, air=h.coldest_air, ways=ways, loss=loss, heater=heat.heater_size.si(loss), own=h.heater, area=area,
        bare=sum(ways.values()) - open_.total + bare.total,
        evaporation=max(0.0, heat.evaporation.si(area, keep, covered=h.covered, **evaporates)),
        bare_evaporation=max(0.0, heat.evaporation.si(area, keep, **evaporates)),
        alone=alone, volume=volume, lowest=lowest,
        time=heat.cooling_time.si(volume, keep, lowest=lowest, air=h.coldest_air, loss=alone) if colder and lowest is not None else math.inf,
        cost=max(0.0, loss) * 86400 / 3.6e6 * system.build.site.si.power_price,
    )  # fmt: skip


def cooled(plan: SimpleNamespace, time) -> float:
    """How warm the fish tanks still are some time after a power cut on the coldest night [K]."""
    if plan.keep <= plan.air:
        return plan.keep + 0.0 * np.asarray(time)
    return heat.cooled_temperature.si(plan.volume, plan.keep, air=plan.air, loss=plan.alone, time=time)

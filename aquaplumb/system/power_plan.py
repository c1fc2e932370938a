"""What the section [power] of a build comes to, worked out of its solved system: one plan for page, review and sheet. Bare SI.

What is assumed where the file says nothing:

- each DC pump has a wire of its own, as long as `wire_length`, and a fuse at the battery. Without `wire` nothing is lost on the
  way, and the thinnest that would do is bought;
- where there are several branches, a main fuse stands before them all, at the plus pole, on a wire that bears it;
- wires lie in the shade in air of 40 °C; the battery stands in the coldest air of [heat], else in a room; a lithium one is
  kept from freezing;
- pumps draw their mean all day long, as their control has it; an air pump of [air] that is made for a battery counts, whatever its voltage, and
  so does all that is made for mains where there is an inverter; a spare with no battery of its own counts while the mains fail.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from aquaplumb import air, power
from aquaplumb.air.air_pumps import air_pump
from aquaplumb.air.tank_oxygen import changed
from aquaplumb.build import Build, PumpedLine, Supply
from aquaplumb.plumbing import lines, pumps
from aquaplumb.power import years
from aquaplumb.system import air_plan
from aquaplumb.system.air_plan import AirPlan
from aquaplumb.system.balance import Balance
from aquaplumb.system.supplies import BATTERY, CHARGER, INVERTER, USUAL_BATTERY, air_fed_by, is_dc
from aquaplumb.units import CURRENT, FLOW, INSOLATION, NUMBER, POWER, SHARE, VOLTAGE, Bare, DesignError

CLOSE = 0.15  # of a voltage: what is made for 12 V hangs on 12.8, not on 24; common practice, no source
FROST, COLDEST = 273.15, 253.15  # K: lithium must not be charged below the first; nothing is known of batteries below the other
CURVE_POINTS = 30  # of a line's curve


BUS = 1.0  # m: of wire from the battery to the fuses of the branches, or to an inverter; common practice, no source
IDLE = 0.02  # of an inverter's label, that it draws day and night; common practice, no source
STEADY = 0.8  # of a generator's label, that it bears for hours; common practice, no source
# V a cell under load, at which a cut-off spares the battery: lead 1.85 to 1.95, a maker's advice to owners, the end that spares it;
# LiFePO4 11 to 11.5 V of four cells, from a glossary of the trade
CUT_OFF = {"lead": 1.95 / 2.0, "LiFePO4": 11.5 / 12.0}  # of the battery's 12, 24 or 48 V


# --- power ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Branch:
    """A wire from the battery to one load, and the fuse before it."""

    name: str  #: of the line, or of what else hangs on it
    current: float  #: that flows for hours on end [A]
    length: float  #: of the wire, one way [m]; 0 where the file does not say
    wire: str = ""  #: the file's, else the thinnest that would do
    told: bool = False  #: whether it is the file's
    rating: float | None = None  #: largest fuse of the wire where it lies [A]; None without a wire, or where nobody knows
    fuse: float | None = None  #: that the current asks for [A]; infinite where no fuse is large enough
    trouble: str = ""  #: why no wire is named

    @property
    def safe(self) -> bool:
        """Whether the wire bears the fuse that its load needs."""
        return bool(self.wire) and self.rating is not None and self.fuse is not None and self.fuse <= self.rating


@dataclass(frozen=True, slots=True)
class Load:
    """Something that draws from the battery."""

    name: str  #: in words
    power: float  #: out of the battery while it runs, with what wire or inverter keeps [W]
    duty: float = 1.0  #: part of the time that it runs
    in_a_cut: bool = False  #: whether it draws only while the mains fail

    @property
    def mean(self) -> float:
        """Out of the battery over the hours [W]."""
        return self.power * self.duty


@dataclass(frozen=True, slots=True)
class Wired:
    """A pumped line's DC pump on the wire of a supply."""

    name: str  #: of the line
    pump: str
    voltage: float | None  #: that the pump is made for [V]
    lowest: float | None  #: on which it runs [V]
    duty: float
    rating: float | None  #: largest fuse of the wire where it lies [A]
    run: Bare | None = None  #: a bare `power.WiredPump`; None with the reason in `trouble`
    trouble: str = ""
    stands: bool = False  #: whether it draws nothing
    mean_power: float = 0.0  #: out of the battery over the hours [W]
    fuse: float | None = None  #: that its current asks for [A]
    branch: Branch | None = None  #: its wire and fuse; None where nobody knows what it draws


@dataclass(frozen=True, slots=True)
class PowerPlan:
    """What a [power] section comes to."""

    supply: Supply
    lines: dict[str, Wired]  #: each DC pump on its wire, by the line's name
    loads: tuple[Load, ...]  #: all that draws from the battery, a spare that does so in a cut only too
    branches: tuple[Branch, ...]  #: a wire and a fuse each
    main: Branch | None  #: before them all, where there are several
    mean: float  #: out of the battery, all day [W]
    most: float  #: … while the mains fail, a spare's with it: what the battery's hours are reckoned by [W]
    battery: str  #: its kind
    temperature: float  #: of the battery at its coldest [K]
    wanted: float  #: how long it has to last [s]
    hours: float | None  #: how long a full one lasts [s]; None without a battery
    capacity_wanted: float | None  #: of a battery that lasts as long as wanted [A s]
    cut_off: float | None  #: voltage at which it is spared [V]; None without a battery
    through_inverter: float  #: that runs at once on the inverter [W]; 0 without one
    charging: float | None  #: into the battery from a charger [W]; None without one
    charger_hours: float | None  #: that the charger runs each day to make up for the load, by itself [s]


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
    rating = _rating(s.wire, s) if s.wire else None
    own = Wired(name, pump.si.name, pump.si.voltage, pump.si.lowest_voltage, state.duty, rating)
    if run is None:
        try:
            run = single(power.wired_pump.si(pump, line_curve(state.tree, pump), s.voltage, wire=s.wire or None, length=s.wire_length).si)
        except DesignError as wrong:
            return replace(own, trouble=str(wrong))
    lies = branch(name, run.current, supply, system.build.units) if run.current > 0 else None
    return replace(
        own, run=run, stands=run.current <= 0, mean_power=run.supply_power * own.duty, fuse=lies.fuse if lies else float(power.FUSES[0]),
        branch=lies,
    )  # fmt: skip


def _rating(wire: str, s: Bare) -> float | None:
    """The largest fuse of a wire where those of a supply lie [A]; None where nobody has written it down."""
    rating = float(power.wire_rating.si(wire, air=s.warmest_air, place=s.wire_place))
    return None if math.isnan(rating) else rating


def branch(name: str, current: float, supply: Supply, units: str, *, length: float | None = None) -> Branch:
    """The wire and the fuse of a load; the file's own wire, but for a short one of some `length` [m] beside the battery."""
    s, own = supply.si, supply.si.wire if length is None else ""
    length = s.wire_length if length is None else length
    try:
        fuse = float(power.fuse.si(current))
    except DesignError as wrong:
        return Branch(name, current, length, own, bool(own), _rating(own, s) if own else None, math.inf, str(wrong))
    wire, trouble = own, ""
    if not own:
        make = "AWG stranded" if units == "US" else "mm2 flexible"
        try:
            lies = {"air": s.warmest_air, "place": s.wire_place}
            wire = power.smallest_wire.si(length or BUS, current, s.voltage, make=make, **lies).name
        except DesignError as wrong:
            trouble = str(wrong)
    return Branch(name, current, length, wire, bool(own), _rating(wire, s) if wire else None, fuse, trouble)


def power_plan(system: Balance, supply: Supply, runs: Mapping[str, Bare]) -> PowerPlan:
    """What a supply comes to; `Steady.power` keeps that of the build's own.

    `runs` has how a line's pump runs on this supply, by line, where that is known already.
    """
    s, units = supply.si, system.build.units
    dc = [name for name, line in system.pumped.items() if is_dc(line.pump)]
    wires = {name: wired(system, name, supply, runs.get(name)) for name in dc}
    blowers, inverted = _battery_air(system.build), _on_inverter(system, supply)
    loads = [Load(f"pump of {name}", one.run.supply_power, one.duty) for name, one in wires.items() if one.run is not None]
    loads += blowers
    loads += [replace(one, power=one.power / INVERTER) for one in inverted]
    loads += [Load("the inverter itself", IDLE * s.inverter)] if s.inverter else []
    loads += [Load("what always runs", s.always)] if s.always > 0 else []
    mean, most = sum(one.mean for one in loads if not one.in_a_cut), sum(one.mean for one in loads)
    through = sum(one.power for one in inverted)
    branches = [one.branch for one in wires.values() if one.branch]
    branches += [branch("spare air pump" if one.in_a_cut else "air pump", one.power / s.voltage, supply, units) for one in blowers]
    branches += [branch("what always runs", s.always / s.voltage, supply, units)] if s.always > 0 else []
    branches += [branch("inverter", (s.inverter / INVERTER) / s.voltage, supply, units, length=BUS)] if s.inverter else []
    together = sum(one.current for one in branches)
    battery, temperature, has = s.battery or USUAL_BATTERY, battery_place(system.build, s.battery), s.capacity is not None
    place, charging = {"kind": battery, "temperature": temperature}, _charging(supply, battery)
    stored = power.battery_kind(battery).si.round_trip_typical
    return PowerPlan(
        supply=supply, lines=wires, loads=tuple(loads), branches=tuple(branches), mean=mean, most=most,
        main=branch("all branches", together, supply, units, length=BUS) if len(branches) > 1 else None,
        battery=battery, temperature=temperature, wanted=s.autonomy,
        hours=power.battery_time.si(s.capacity, most, s.voltage, **place) if has else None,
        capacity_wanted=power.battery_capacity.si(most, s.autonomy, s.voltage, **place) if has else None,
        cut_off=(s.cut_off or s.voltage * CUT_OFF["LiFePO4" if battery == "LiFePO4" else "lead"]) if has else None,
        through_inverter=through, charging=charging,
        charger_hours=86400.0 * mean / (charging * stored) if charging else None,
    )  # fmt: skip


def air_on_battery(build: Build, supply: str) -> list[tuple[Bare, bool]]:
    """The air pumps made for mains, or for a battery, that hang on that of [power], and whether each is the spare."""
    if build.air is None:
        return []
    fed = [
        (name, spare)
        for name, spare in ((build.air.si.pump, False), (build.air.si.backup_pump, True))
        if air_fed_by(build, spare=spare) == BATTERY
    ]
    return [(pump, spare) for pump, spare in ((air_pump(name).si, spare) for name, spare in fed) if pump.supply == supply]


def _battery_air(build: Build) -> list[Load]:
    """The air pumps that hang on the battery without an inverter."""
    return [Load(_spare(pump.name, spare), pump.power, in_a_cut=spare) for pump, spare in air_on_battery(build, "battery")]


def _spare(name: str, spare: bool) -> str:
    return f"{name}, the spare, in a power cut" if spare else name


def _on_inverter(system: Balance, supply: Supply) -> list[Load]:
    """What is made for mains and hangs on the inverter of a supply, with what it draws there; none without an inverter."""
    if not supply.si.inverter:
        return []
    found = []
    for name, line in system.pumped.items():
        if not is_dc(line.pump):
            drawn = line.power if line.power is not None else 0.0
            found.append(Load(f"pump of {name}, by the inverter", drawn, line.duty))
    air_pumps = air_on_battery(system.build, "mains")
    return found + [Load(f"{_spare(pump.name, spare)}, by the inverter", pump.power, in_a_cut=spare) for pump, spare in air_pumps]


def _charging(supply: Supply, battery: str) -> float | None:
    """What a charger, on the mains or on a generator, brings into the battery at most [W]; None without."""
    s = supply.si
    ways = [s.charger * s.voltage] if s.charger else []
    ways += [STEADY * s.generator * CHARGER] if s.generator else []
    if not ways or s.capacity is None:
        return None
    return min(*ways, s.capacity * power.battery_kind(battery).si.fastest_charge * s.voltage)


def battery_place(build: Build, battery: str) -> float:
    """How cold the battery gets [K]: as the coldest air of [heat], else a room; lithium is kept from freezing."""
    air = build.heat.si.coldest_air if build.heat else 293.15
    return min(max(air, FROST if battery == "LiFePO4" else COLDEST), 293.15)


def sunshine_of(supply: Supply):
    """The sunshine on a supply's panel, bare SI numbers inside."""
    s = supply.si
    return power.sunshine.si(s.latitude, tilt=s.tilt, sky_share=s.sky_share)


def power_year(plan: PowerPlan | None) -> Bare | None:
    """The worst of several years of invented weather on the build's panel and battery, a bare `SolarYear`; None without either."""
    if plan is None or plan.hours is None or plan.supply.si.panel is None:
        return None
    return years.worst_year(*_year_asked(plan)[0], **_year_asked(plan)[1])


def enough_sun(plan: PowerPlan) -> tuple[float | None, float | None, tuple[float, float] | None]:
    """The panel [W], the battery beside the panel that is there [A s], or both together, that never go flat in any of the years."""
    given, place = _year_asked(plan)
    return years.enough(*given, **place)


def _year_asked(plan: PowerPlan) -> tuple[tuple, dict]:
    """What the years are asked: the load as a mean, so that several pumps with duties of their own go into one."""
    s = plan.supply.si
    place = {"sun": sunshine_of(plan.supply), "voltage": s.voltage, "kind": plan.battery, "temperature": plan.temperature}
    return (plan.mean, s.panel, s.capacity), place


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
    if plan.main and plan.main.fuse is not None and math.isfinite(plan.main.fuse):
        over = "next size over 1.25 × all currents", "NEC 210.20, from memory"
        rows.append(("main fuse", "main fuse before all of them, at the plus pole", CURRENT, plan.main.fuse, *over))
    rows.append(("mean", "out of the battery, day and night", POWER, plan.mean, "power × duty, and what always runs", "arithmetic"))
    if plan.most > plan.mean:
        rows.append(("in a cut", "… and while the mains fail, with the spare air", POWER, plan.most, "that and the spare", "arithmetic"))
    if plan.cut_off is not None:
        rows.append(
            (
                "cut-off",
                "a low-voltage cut-off spares it from",
                VOLTAGE,
                plan.cut_off,
                "volts of a cell × cells",
                "a battery maker's advice",
            )
        )
    if plan.charger_hours is not None:
        makes_up = "load × day / (charging power × round trip)", "arithmetic; data/batteries.csv"
        rows.append(("charger hours", "hours a day that its charger runs, alone", NUMBER, plan.charger_hours / 3600, *makes_up))
    if plan.hours is not None and math.isfinite(plan.hours):
        lasts = "capacity × voltage × usable part / power", "data/batteries.csv"
        rows.append(("hours", "a full battery lasts, in hours", NUMBER, plan.hours / 3600, *lasts))
    if year is not None:
        by_hour, by_day = "energy balance by the hour, invented weather", "clear sky × sky share of each day"
        rows += [
            ("empty", "hours in which it is flat, worst of 5 invented years", NUMBER, year.hours_empty, by_hour, "pvlib's clear sky"),
            ("dark sun", "sunshine of the darkest fortnight", INSOLATION, year.dark_insolation, by_day, "pvlib's clear sky"),
        ]
        if plan.supply.si.sky_share is None:
            dull = "0.4 to 0.8 of a clear sky, the dull end", "common practice, no source"
            rows.append(("sky", "clouds assumed: of a clear sky's sun", SHARE, power.SKY["low"], *dull))
    return rows


# --- rests --------------------------------------------------------------------------------------------------


def oxygen_after_rest(system: Balance, p: AirPlan, name: str, rest: float, *, duty: float, stronger: float = 1.0) -> np.ndarray | None:
    """The oxygen in the fish tank of a plan at the end of a rest of a line's pump [kg/m³], by stones that bring little, as usual and much.

    The fish have just eaten and the water is at its warmest, as the plan of its air has it; air stones run on. Before, the pump
    ran for a share `duty` of the time, and brought so much more (`stronger`) than the build's own while it ran. None
    where the tank does not live on this line alone (another pumps into it as well, or no water comes from outside), and
    where the fish are in danger without any rest.
    """
    tanks = set(p.tank.vessels)
    others = any(
        o.to in tanks for line in system.pumped.values() if line.name != name and line.line.si.source not in tanks for o in line.outlets
    )
    own = system.pumped[name]
    if others or p.budget.si.inflow <= 0 or own.duty <= 0 or p.steady[air_plan.TYPICAL] < p.critical:
        return None
    before = changed(p.fed, inflow=p.budget.si.inflow / own.duty * stronger * duty)
    return air.oxygen_after.si(p.failures[air_plan.PUMP].dead, air.steady_oxygen.si(before), rest)

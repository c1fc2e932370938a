"""Findings about wire, fuse, battery, panel and heater, where the build has [power] or [heat], and about a timer's long rests."""

from __future__ import annotations

import math

from aquaplumb.power import MONTHS, battery_kind, charge_current, shock_protection, smallest_wire
from aquaplumb.power.solar import MONTH_OF_DAY, NO_SUN
from aquaplumb.review.findings.base import finding, fix, note, stop
from aquaplumb.system import air_plan
from aquaplumb.system.power_plan import FROST, oxygen_after_rest
from aquaplumb.units import (
    CHARGE,
    CONCENTRATION,
    CURRENT,
    FLOW,
    INSOLATION,
    LENGTH,
    POWER,
    SHARE,
    TEMPERATURE,
    VOLTAGE,
    DesignError,
    in_hours,
    lasting,
)

_MOST_DROP = 0.03  # of the supply: NEC informational notes to 210.19 and 215.2, from memory
_FAR_TOO_MUCH = 0.10  # of the supply: as much as a lead battery loses from full to flat; common practice, no source
_ON_CHARGE = 1.2  # of the label: 14.4 V of a 12 V lead battery on charge; common practice, no source
_ROUNDING = 1 + 1e-9  # 28.8 V is 1.2 times 24 V, and not a rounding error more
HALF = 0.5  # of the hours wanted: this far off it fails; common practice, no source
STANDS_LONG = 0.05  # of a year's hours that pumps may stand at the worst before it is no supply at all; common practice, no source
NIGHT, SHORT_NIGHT = 12 * 3600.0, 6 * 3600.0  # s until somebody sees to it: a night, half a night; common practice, no source
_AS_IT_IS = 0.02  # of a voltage: a file's own and the wire's agree so far; common practice, no source

# W that one household socket bears for hours. US: 80 % of 15 A at 120 V, NEC 210.20, from memory; 10 A at 230 V: common practice, no source
SOCKET = {"metric": 2300.0, "US": 1440.0}
REST_CURE = "Shorter rests, or more air stones on a supply of their own that run on (notebook 10)."


def day_of_year(number: int) -> str:
    """A day of the year, 1 to 365, as one says it."""
    month = int(MONTH_OF_DAY[(number - 1) % 365])
    first = int((month > MONTH_OF_DAY).sum())
    return f"{(number - 1) % 365 - first + 1} {MONTHS[month]}"


@finding("supply does not fit the pump", notebook="11")
def supply_off(system, say):
    """A battery whose voltage is not that of the pump."""
    plan = system.power
    if plan is None:
        return
    supply = plan.supply.si.voltage
    for one in plan.lines.values():
        if one.voltage and (supply < (one.lowest or 0) or (one.trouble and supply > one.voltage)):
            end = "It would burn out" if supply > one.voltage else "It does not run"
            yield stop(
                one.name,
                f"The supply has {say(VOLTAGE, supply)}, and {one.pump} is made for {say(VOLTAGE, one.voltage)}. {end}.",
                "Match the battery and the pump: both 12 V, or both 24 V.",
            )
        elif one.voltage and supply > _ON_CHARGE * one.voltage * _ROUNDING:
            yield fix(
                one.name,
                f"The supply has {say(VOLTAGE, supply)}; a battery for {one.pump} comes to {say(VOLTAGE, _ON_CHARGE * one.voltage)} on charge. Over that a pump runs hot and wears out, or burns.",
                "Ask its maker for the highest voltage it bears, or put a regulator before it.",
            )
    if not plan.lines and plan.mean <= 0:
        yield note(
            next(iter(system.build.lines), "fish tank"),
            f"The build has a supply of {say(VOLTAGE, supply)}, and nothing that draws from it: all pumps run on mains.",
            "Choose a DC pump in notebook 11, or say what else it feeds (always, under [power]).",
        )


@finding("wire drop", notebook="11")
def wire_drop(system, say):
    """A wire that keeps so much voltage that the pump slows down, or stands."""
    plan = system.power
    for one in plan.lines.values() if plan else ():
        run, s = one.run, plan.supply.si
        if run is None or s.voltage < (one.lowest or 0) or not s.wire:
            continue
        if one.stands or (run.flow <= 0 < run.lost):
            yield stop(
                one.name,
                f"{one.name}: through {say(LENGTH, s.wire_length)} of {s.wire} too little of the {say(VOLTAGE, s.voltage)} arrives"
                + (
                    f": {say(VOLTAGE, run.running_voltage)}; its pump needs {say(VOLTAGE, one.lowest)}. It stands."
                    if one.stands and one.lowest
                    else ". No water comes."
                ),
                "Take a thicker or a shorter wire.",
            )
        elif run.drop_share > _MOST_DROP:
            say_it = stop if run.drop_share > _FAR_TOO_MUCH else fix
            yield say_it(
                one.name,
                f"{say(LENGTH, s.wire_length)} of {s.wire} keep {say(SHARE, run.drop_share)} of the {say(VOLTAGE, s.voltage)}: {say(VOLTAGE, run.voltage)} arrive, "
                f"and {one.name} brings {say(FLOW, run.flow)}, {say(FLOW, run.lost)} less than without the loss.",
                _thicker(s, run, say),
            )
        elif one.run.flow > 0 and abs(run.voltage / (own := _voltage_told(system, one)) - 1) > _AS_IT_IS:
            yield note(
                one.name,
                f"The file lets {one.name} run at {say(VOLTAGE, own)}; with this supply and wire {say(VOLTAGE, run.voltage)} arrive.",
                "Keep the wire once more in notebook 11, so that the review reckons with what arrives.",
            )


def _voltage_told(system, one) -> float:
    """The voltage with which the review reckons."""
    told = system.pumped[one.name].line.si.voltage
    return one.voltage if told is None else told


def _thicker(s, run, say) -> str:
    make = "AWG stranded" if s.wire.startswith("AWG") else "mm2 flexible"
    try:
        name = smallest_wire.si(s.wire_length, run.supply_power / run.supply, s.voltage, make=make).name
    except DesignError:
        return "No wire of the list will do: bring the battery nearer, or take a pump of twice the voltage."
    return f"Take {name} or thicker, a shorter wire, or a pump of twice the voltage: that loses a quarter. Up to {say(SHARE, _MOST_DROP)} is usual."


@finding("wire without a fuse it can carry", notebook="11")
def fuse_short(system, say):
    """A wire so thin that the fuse which its load needs would not protect it."""
    plan = system.power
    for one in plan.lines.values() if plan else ():
        if one.run is None or one.rating is None or one.fuse is None:
            continue
        if one.fuse > one.rating:
            yield stop(
                one.name,
                f"The pump of {one.name} draws {say(CURRENT, one.run.current)} and needs a fuse of more than {say(CURRENT, one.rating)}, the most that {plan.supply.si.wire} may have. "
                "A short circuit would set the wire on fire before a larger fuse blows.",
                "Take a thicker wire, and put its fuse at the battery's plus pole.",
            )


@finding("battery short", notebook="11")
def battery_short(system, say):
    """A battery that does not last the hours wanted."""
    plan = system.power
    if plan is None or plan.hours is None or plan.mean <= 0:
        return
    if plan.hours < plan.wanted:
        say_it = stop if plan.hours < HALF * plan.wanted else fix
        yield say_it(
            "battery",
            f"A full battery of {say(CHARGE, plan.supply.si.capacity)} ({plan.battery}) lasts {in_hours(plan.hours)} at {say(POWER, plan.mean)}; it shall last {in_hours(plan.wanted)}.",
            f"Take {say(CHARGE, plan.capacity_wanted)} or more, or let the pump rest part of each hour.",
        )


@finding("panel short in the dark weeks", notebook="11")
def panel_short(system, say):
    """A panel and battery that let the pumps stand in a dull year's worst weeks."""
    year = system.year
    if year is None or year.hours_empty < 1:
        return
    say_it = stop if year.hours_empty > STANDS_LONG * 8760 else fix
    yield say_it(
        "battery",
        f"In a year of invented weather the battery is flat for {in_hours(year.hours_empty * 3600)}, up to {in_hours(year.longest_empty * 3600)} on end. "
        + (
            f"The darkest fortnight, from {day_of_year(year.dark_start)}, brings {say(INSOLATION, year.dark_insolation)}."
            if year.dark_insolation > NO_SUN
            else "In the polar night no sun comes at all: no panel is large enough."
        ),
        "A larger panel, fewer minutes of pumping at night, or a charger on mains for those weeks. Put air on a supply of its own.",
    )


@finding("panel charges the battery too fast", notebook="11")
def charged_too_fast(system, say):
    """A panel that pushes more current into its battery than that bears."""
    plan = system.power
    if plan and plan.supply.si.panel and plan.supply.si.capacity:
        s = plan.supply.si
        if told := too_fast(s.panel, s.voltage, s.capacity, plan.battery, say):
            yield fix("battery", *told)


def too_fast(panel: float, voltage: float, capacity: float, battery: str, say) -> tuple[str, str] | None:
    """What to say and do about a panel that is strong for its battery; None where the battery bears it. Bare SI."""
    current, most = charge_current.si(panel, voltage), capacity * battery_kind(battery).si.fastest_charge
    if current <= most:
        return None
    return (
        f"In full sun {say(POWER, panel)} of panel push {say(CURRENT, current)} into the battery; {say(CHARGE, capacity)} ({battery}) bear {say(CURRENT, most)}. More makes it hot: lead gives off gas that explodes, lithium cuts off or burns.",
        f"Set the charge controller to {say(CURRENT, most)} at most, or take {say(CHARGE, capacity * current / most)} of battery.",
    )


@finding("pump rests too long for the fish", notebook="11")
def rests_too_long(system, say):
    """A timer that rests a pump until the oxygen in the fish tank is gone."""
    for line in system.pumped.values():
        control = line.line.si.control.si
        if control.kind != "timer" or control.off <= 0:
            continue
        p = system.air
        left = oxygen_after_rest(system, p, line.name, control.off, duty=line.duty)
        if left is None or left[0] >= p.critical:
            continue
        say_it = stop if left[air_plan.TYPICAL] < p.critical else fix
        level = left[air_plan.TYPICAL] if say_it is stop else left[0]
        yield say_it(
            line.name,
            f"The timer rests {line.name} for {lasting(control.off)} on end. After a meal at {say(TEMPERATURE, p.temperature)} the oxygen is then down to {say(CONCENTRATION, level)}"
            + ("" if say_it is stop else ", should the stones bring the least that print has")
            + f"; {system.species.si.name} is in danger below {say(CONCENTRATION, p.critical)}.",
            REST_CURE,
        )


@finding("lithium battery in the frost", notebook="11")
def lithium_in_frost(system, say):
    """A lithium battery that is charged where it freezes."""
    plan, b = system.power, system.build
    if plan and plan.supply.si.battery == "LiFePO4" and b.heat and b.heat.si.coldest_air < FROST:
        yield note(
            "battery",
            f"The air falls to {say(TEMPERATURE, b.heat.si.coldest_air)}. A LiFePO4 battery that is charged below {say(TEMPERATURE, FROST)} is ruined, and later may fail in a dangerous way.",
            "Keep it where it does not freeze, with a cut-off that stops charging in the cold.",
        )


@finding("heater short", notebook="11")
def heater_short(system, say):
    """A heater that does not hold the water on the coldest night."""
    plan = system.heat
    if plan is None or plan.own is None or plan.own >= plan.loss:
        return
    yield fix(
        "heater",
        f"On the coldest night the water at {say(TEMPERATURE, plan.keep)} loses {say(POWER, plan.loss)} to air of {say(TEMPERATURE, plan.air)}; the heater gives {say(POWER, plan.own)}.",
        f"Cover the water and insulate first; then heaters of {say(POWER, plan.heater)} in two pieces, each with its own thermostat.",
    )


@finding("water cools too fast in a power cut", notebook="11")
def cools_too_fast(system, say):
    """A fish tank that is too cold for its fish before anybody notices that the power is off."""
    plan = system.heat
    if plan is None or plan.time >= NIGHT:
        return
    say_it = stop if plan.time < SHORT_NIGHT else fix
    yield say_it(
        "fish tank",
        f"When the power fails on the coldest night, {say(TEMPERATURE, plan.keep)} become {say(TEMPERATURE, plan.lowest)} in {in_hours(plan.time)}: colder than {system.species.si.name} can live in.",
        "Lid on, foam round the tank; a larger tank cools more slowly. Ask also for a species that bears your cold.",
    )


@finding("heaters need more than one socket", notebook="11")
def heaters_over_a_socket(system, say):
    """Heaters that would overload a household socket if they hung on one."""
    plan = system.heat
    if plan and (told := sockets(plan.heater if plan.own is None else plan.own, system.build.units, say)):
        yield note("heater", *told)


def sockets(power: float, units: str, say) -> tuple[str, str] | None:
    """What to say and do about heaters of some power where a socket bears less; None where one will do. Bare W."""
    if power <= (most := SOCKET[units]):
        return None
    return (
        f"Heaters of {say(POWER, power)} are more than one household socket bears for hours, about {say(POWER, most)}: it gets hot, or its breaker trips and the water cools.",
        f"Spread them over {math.ceil(power / most)} circuits, each with its own breaker and protection ({shock_protection(units, brief=True)}); a licensed electrician says what yours bear.",
    )

"""Findings about wire, fuse, battery, panel and heater, where the build has [power] or [heat], and about a timer's long rests."""

from __future__ import annotations

import math

from aquaplumb.power import MONTHS, battery_kind, charge_current, shock_protection, smallest_wire
from aquaplumb.power.battery_kinds import SERIES
from aquaplumb.power.solar import MONTH_OF_DAY, NO_SUN
from aquaplumb.power.years import SEEDS
from aquaplumb.review.findings.base import at_least, finding, fix, note, stop
from aquaplumb.system import air_plan
from aquaplumb.system.air_advice import most_stones, spare_needed
from aquaplumb.system.power_plan import CLOSE, FROST, air_on_battery, enough_sun, oxygen_after_rest
from aquaplumb.system.supplies import STARTING, filled_by, is_dc
from aquaplumb.units import (
    AIR_FLOW,
    CHARGE,
    CONCENTRATION,
    CURRENT,
    DAY,
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
                f"Match the battery and the pump: both 12 V, or both 24 V. {SERIES}",
            )
        elif one.voltage and supply > _ON_CHARGE * one.voltage * _ROUNDING:
            yield fix(
                one.name,
                f"The supply has {say(VOLTAGE, supply)}; a battery for {one.pump} comes to {say(VOLTAGE, _ON_CHARGE * one.voltage)} on charge. Over that a pump runs hot and wears out, or burns.",
                "Ask its maker for the highest voltage it bears, or put a regulator before it.",
            )
    for pump, spare in air_on_battery(system.build, "battery"):
        if pump.voltage is not None and not math.isclose(pump.voltage, supply, rel_tol=CLOSE):
            own = "backup_capacity" if spare else "keeps_on = true"
            yield (fix if spare else stop)(
                "battery",
                f"The supply has {say(VOLTAGE, supply)}, and {pump.name}, {'the spare that' if spare else 'which'} hangs on it, is made for {say(VOLTAGE, pump.voltage)}.",
                f"Give it a battery of its own ({own} in [air]), or take an air pump for {say(VOLTAGE, supply)}.",
            )
    if not plan.lines and plan.most <= 0:
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
            severity = stop if run.drop_share > _FAR_TOO_MUCH else fix
            yield severity(
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
    """A wire so thin, or lying so hot, that the fuse which its load needs would not protect it."""
    plan = system.power
    for one in (*plan.branches, *([plan.main] if plan.main else [])) if plan else ():
        where = one.name if one.name in system.pumped else "battery"
        what = f"The pump of {one.name}" if one.name in system.pumped else one.name[0].upper() + one.name[1:]
        if one.fuse is not None and one.rating is not None and one.fuse > one.rating:
            s = plan.supply.si
            lies = f"the most that {one.wire} may have {s.wire_place} in air of {say(TEMPERATURE, s.warmest_air)}"
            yield stop(
                where,
                f"{what} draws {say(CURRENT, one.current)} and needs a fuse of more than {say(CURRENT, one.rating)}, {lies}. "
                "A short circuit would set the wire on fire before a larger fuse blows.",
                f"Take a thicker wire{'' if s.wire_place == 'in the shade' else ', lay it in the shade'}, and put its fuse at the battery's plus pole.",
            )
        elif one.trouble:
            yield stop(
                where,
                f"{what} draws {say(CURRENT, one.current)}, and no wire of the list and its fuse will do for that.",
                "Take a battery and loads of twice the voltage, bring the battery nearer, or ask an electrician.",
            )


@finding("pump whose supply nobody has told", notebook="11")
def supply_untold(system, say):
    """A DC pump in a file without [power]: its wire, fuse, battery and panel were not looked at."""
    if system.build.power is not None:
        return
    for line in system.pumped.values():
        if is_dc(line.pump):
            volts = "" if line.pump.si.voltage is None else f" of {say(VOLTAGE, line.pump.si.voltage)}"
            yield fix(
                line.name,
                f"{line.pump.si.name} is a pump{volts} for direct current, and the file says nothing of what feeds {line.name}: no wire, no fuse and no battery was looked at.",
                "Write a section [power] with voltage, wire, wire_length, battery, capacity and what fills it (notebook 11 does it for you).",
            )


@finding("battery that nothing fills", notebook="11")
def nothing_fills(system, say):
    """A battery without panel, charger or generator, or with a charger that brings less than is drawn."""
    plan = system.power
    if plan is None or plan.most <= 0:
        return
    ways = filled_by(plan.supply)
    if plan.hours is None:
        if plan.supply.si.panel:
            yield stop(
                next(iter(plan.lines), "battery"),
                f"A panel of {say(POWER, plan.supply.si.panel)} and no battery: whatever hangs on it stands each night, and when clouds come.",
                'Put a battery beside it, such as battery = "lead-acid AGM" and capacity = "100 Ah" (notebook 11 sizes it).',
            )
    elif not ways:
        yield fix(
            "battery",
            f"The file does not say what fills the battery: it lasts {in_hours(plan.hours)} at {say(POWER, plan.most)}, and then all that hangs on it stands.",
            'Give it a panel (notebook 11), or a charger on the mains such as charger = "10 A", or a generator.',
        )
    elif plan.charger_hours is not None and plan.charger_hours > DAY and not plan.supply.si.panel:
        yield stop(
            "battery",
            f"{ways[-1][0].upper()}{ways[-1][1:]} brings {say(POWER, plan.charging)} at most; {say(POWER, plan.mean)} are drawn, day and night. The battery runs flat.",
            "Take a stronger charger (no more than the battery bears), or draw less.",
        )
    elif plan.supply.si.generator and plan.charger_hours is not None:
        yield note(
            "battery",
            f"By the generator alone, {in_hours(plan.charger_hours)} of running a day make up for {say(POWER, plan.mean)}. Somebody has to start it each day, and its fumes kill without a smell.",
            "Run it outdoors only, away from doors and windows; keep fuel away from it while it is hot; never join it to house wiring (a licensed electrician's work).",
        )


@finding("inverter too small", notebook="11")
def inverter_small(system, say):
    """An inverter under what hangs on it."""
    plan = system.power
    if plan is None or not plan.supply.si.inverter or plan.through_inverter <= plan.supply.si.inverter:
        return
    yield stop(
        "battery",
        f"The inverter gives {say(POWER, plan.supply.si.inverter)}; {say(POWER, plan.through_inverter)} hang on it. It switches off, and all of them stand.",
        f"Take one of {say(POWER, STARTING * plan.through_inverter)} or more, since motors draw more as they start, or DC pumps that need none.",
    )


@finding("pump stands before the battery is empty", notebook="11")
def cut_off_low(system, say):
    """A low-voltage cut-off below what a pump runs on."""
    plan = system.power
    for one in plan.lines.values() if plan and plan.cut_off is not None else ():
        if one.run is not None and one.lowest is not None and plan.cut_off - one.run.drop < one.lowest <= plan.supply.si.voltage:
            yield fix(
                one.name,
                f"The battery is let down to {say(VOLTAGE, plan.cut_off)}; {one.pump} needs {say(VOLTAGE, one.lowest)} behind its wire and stands before that.",
                f"Set the low-voltage cut-off (cut_off) to {say(VOLTAGE, one.lowest + one.run.drop)} or more, and count on fewer hours, or take a pump that runs on less.",
            )


@finding("battery short", notebook="11")
def battery_short(system, say):
    """A battery that does not last the hours wanted."""
    plan = system.power
    if plan is None or plan.hours is None or plan.most <= 0:
        return
    if plan.hours < plan.wanted:
        severity = stop if plan.hours < HALF * plan.wanted else fix
        yield severity(
            "battery",
            f"A full battery of {say(CHARGE, plan.supply.si.capacity)} ({plan.battery}) lasts {in_hours(plan.hours)} at {say(POWER, plan.most)}; it has to last {in_hours(plan.wanted)}.",
            f"Take {say(CHARGE, plan.capacity_wanted)} or more, or let the pump rest part of each hour.",
        )


@finding("panel short in the dark weeks", notebook="11")
def panel_short(system, say):
    """A panel and battery that let the pumps stand in a dull year's worst weeks."""
    year = system.year
    if year is None or year.hours_empty < 1:
        return
    severity = stop if year.hours_empty > STANDS_LONG * 8760 else fix
    clouds = "" if system.power.supply.si.sky_share is not None else " Clouds are assumed (dull), since sky_share is not told."
    yield severity(
        "battery",
        f"In the worst of {len(SEEDS)} years of invented weather the battery is flat for {in_hours(year.hours_empty * 3600)}, up to {in_hours(year.longest_empty * 3600)} on end."
        + (
            f" The darkest fortnight, from {day_of_year(year.dark_start)}, brings {say(INSOLATION, year.dark_insolation)}."
            if year.dark_insolation > NO_SUN
            else " In the polar night no sun comes at all: no panel is large enough."
        )
        + clouds,
        more_sun(*enough_sun(system.power), say),
    )


def more_sun(panel: float | None, capacity: float | None, both: tuple[float, float] | None, say) -> str:
    """What keeps a battery from going flat: the panel or the battery, bare SI, that stood all invented years when tried."""
    ways = [f"a panel of {say(POWER, panel)}"] if panel else []
    ways += [f"with this panel a battery of {say(CHARGE, capacity)}"] if capacity else []
    ways += [f"a panel of {say(POWER, both[0])} with a battery of {say(CHARGE, both[1])}"] if both else []
    sized = (
        f"{' or '.join(ways)} stood all {len(SEEDS)} of those years; "
        if ways
        else "no panel up to 10 kW would do, with eight such batteries; "
    )
    return f"{sized[0].upper()}{sized[1:]}else fewer minutes of pumping at night, or a charger on mains or a generator for those weeks. Put air on a supply of its own."


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
        rests = [(p, oxygen_after_rest(system, p, line.name, control.off, duty=line.duty)) for p in system.airs.values()]
        short = [(p, left) for p, left in rests if left is not None and left[0] < p.critical]
        if not short:
            continue
        p, left = min(short, key=lambda one: tuple(one[1][[air_plan.TYPICAL, 0]] - one[0].critical))
        severity = stop if left[air_plan.TYPICAL] < p.critical else fix
        level = left[air_plan.TYPICAL] if severity is stop else left[0]
        yield severity(
            line.name,
            f"The timer rests {line.name} for {lasting(control.off)} on end. After a meal at {say(TEMPERATURE, p.temperature)} the oxygen{'' if len(system.tanks) == 1 else f' in {p.tank.name}'} is then down to {say(CONCENTRATION, level)}"
            + ("" if severity is stop else ", should the stones bring the least that print has")
            + f"; {p.in_danger} is in danger below {say(CONCENTRATION, p.critical)}.",
            REST_CURE + _held_by(p, say),
        )


def _held_by(p, say) -> str:
    """How many stones hold the oxygen of a tank while no water flows; nothing where none do."""
    need = spare_needed(p)
    stones, flow = need.stones[air_plan.LEAST], need.air_flow[air_plan.LEAST]
    return (
        f" {stones:.0f} air stones like yours, with {at_least(say, AIR_FLOW, flow)}, hold it meanwhile." if stones <= most_stones(p) else ""
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
    severity = stop if plan.time < SHORT_NIGHT else fix
    yield severity(
        "fish tank",
        f"When the power fails on the coldest night, {say(TEMPERATURE, plan.keep)} become {say(TEMPERATURE, plan.lowest)} in {in_hours(plan.time)}: colder than {system.strictest('survive_low').name} can live in.",
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

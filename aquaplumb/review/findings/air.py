"""Findings about air and oxygen, on the worst night that the build knows: warmest water, after a meal."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from aquaplumb.air.transfer import OXYGEN_SHARE
from aquaplumb.power.battery import battery_capacity
from aquaplumb.power.battery_kinds import battery_kind
from aquaplumb.review.findings.base import at_least, finding, fix, note, stop
from aquaplumb.review.findings.stock import UNAIRED_LIMIT
from aquaplumb.system.air_advice import (
    LITTLE,
    all_needed,
    all_running,
    held_by_stones,
    larger_stone,
    most_stones,
    pump_choice,
    spare_needed,
)
from aquaplumb.system.air_plan import AIR, PUMP
from aquaplumb.system.blown import LEAST, TYPICAL, hung
from aquaplumb.system.supplies import BATTERY, INVERTER, MAINS_FAIL, POWER_FAILS, STARTING
from aquaplumb.units import (
    AIR_FLOW,
    CHARGE,
    CONCENTRATION,
    LENGTH,
    OXYGEN_RATE,
    POWER,
    PRESSURE,
    SHARE,
    STOCKING,
    TEMPERATURE,
    VOLTAGE,
    Bare,
    roughly,
)

MOST_GAS = 1.10  # of saturation, total dissolved gas: Washington Administrative Code 173-201A-200 (1)(f), for all fish waters
PURE = (
    MOST_GAS - (1 - OXYGEN_SHARE)
) / OXYGEN_SHARE  # of oxygen: from here on it brings the total over that with no nitrogen to help, 148 %
MOST_OXYGEN = 18e-3  # kg/m³: 18 to 20 mg/L killed half of a hatchery's rainbow trout in 20 days, Edsall and Smith, Aquaculture, abstract
_SAME = 1.001  # of a density: rounding
_HOT = " A blower is cooled by its own air, and overheats where so little passes."
_MOST_CURRENT = 125.0  # A on an inverter's label: 1.5 kW at 12 V, 3 kW at 24 V, 48 V above; common practice, no source
_BLOWER = 300 / 60e3  # m³/s open: more than pumps with a diaphragm have, so it has an impeller; common practice, no source


@finding("oxygen low at night", notebook="10")
def oxygen_low(system, say):
    """Less oxygen than the fish need, with everything running."""
    for p in system.airs.values():
        level = p.steady[TYPICAL]
        if not p.told or level >= p.minimum:
            continue
        severity = stop if level < p.critical else fix
        other = "is" if p.badly == p.in_danger else f"{p.in_danger} is"
        yield severity(
            p.tank.name,
            f"With everything running, the oxygen{_of(system, p)} settles at {say(CONCENTRATION, level)} after a meal at {say(TEMPERATURE, p.temperature)}; "
            f"{p.badly} needs {say(CONCENTRATION, p.minimum)}, and {other} in danger below {say(CONCENTRATION, p.critical)}.",
            f"More air through more stones{_so_much(system, say)}, more water through the tank, fewer fish, or less feed on hot days.",
        )


def _so_much(system, say, stones: str = "like yours") -> str:
    """How much air, through how many `stones`, holds what the fish of all tanks need after a meal; nothing where no stones do."""
    plans = list(system.airs.values())
    need = all_running(plans, system.build)
    if need is None:
        return ""
    pump = pump_choice(plans[0], need, plans[0].depth, "mains")
    such = f" from an air pump such as {pump.name}" if pump else ""
    return f" ({need.stones[LEAST]:.0f} {stones} with {at_least(say, AIR_FLOW, need.air_flow[LEAST])}{such})"


def _of(system, p) -> str:
    """Which tank is spoken of, where there are several."""
    return "" if len(system.tanks) == 1 else f" in {p.tank.name}"


@finding("oxygen time short", notebook="10")
def oxygentime_short(system, say):
    """When something fails, the oxygen is gone before anybody comes, or nobody has said when that is."""
    for p in system.airs.values() if system.air.told else [system.air]:
        yield from time_short(system, p, say)


def time_short(system, p, say):
    """What is to be told of one tank when something fails."""
    comes = p.response
    # the worst: what fails too soon at a usual stone first, then by the stones that bring the least
    failures = {what: failure for what, failure in p.failures.items() if what != AIR or p.usual.flow > 0}
    what, failure = min(failures.items(), key=lambda item: (item[1].lasts[TYPICAL] >= (comes or 0.0), item[1].lasts[LEAST]))
    usual, least = failure.lasts[TYPICAL], failure.lasts[LEAST]
    critical, warm = say(CONCENTRATION, p.critical), say(TEMPERATURE, p.temperature)
    oxygen = f"the oxygen{_of(system, p)}"
    if not p.told:
        short = p.steady[TYPICAL] < p.critical  # the flow alone does not do
        stones = f"of {p.stone.si.name}, {say(LENGTH, p.depth)} deep,"
        such = _so_much(system, say, stones) if p.steady[TYPICAL] < p.minimum else ""
        yield (fix if short else note)(p.tank.name, f"The file says nothing of air. {_alone(system, say)}", _TELL.format(such))
        return
    if p.start[TYPICAL] <= p.critical:  # it is in danger without any failure
        return
    if comes is None:
        poorest = "" if roughly(least) == roughly(usual) else f", with the poorest stones in print {_within(least)}"
        yield fix(
            p.tank.name,
            f"Nobody has said how soon somebody stands at the tank. When {what} after a meal at {warm}, {oxygen} is down to {critical} {_within(usual)}{poorest}: "
            "nothing is in time until that is known.",
            "Say it as response_time in [air]: by night too, with the alarm that you have or with none.",
        )
        return
    if least >= comes:
        return
    severity = stop if usual < comes else fix
    stones, told = (TYPICAL, "") if usual < comes else (LEAST, ", should the stones bring the least that print has")
    told = f"{_within(failure.lasts[stones])}{told}"
    if failure.spare:  # by the same stones: a spare never does harm
        told = f"{_within(failure.bare[stones])} without the spare, and with it {told}"
    yield severity(
        p.tank.name,
        f"When {what} after a meal at {warm}, {oxygen} is down to {critical} {told}; somebody comes after {roughly(comes)}.",
        _cure(p, list(system.airs.values()), system.build, what, failure, say),
    )


_TELL = "Write a section [air] with pump, stones{} and spare, the spare's battery, and how long it takes until somebody stands at the tank."


def _within(time: float) -> str:
    return f"in {roughly(time)}" if math.isfinite(time) else "never"


def _alone(system, say) -> str:
    """What comes of fish whose file names no air pump."""
    p, share = system.air, system.build.water.si.aerated_share
    critical, warm = say(CONCENTRATION, p.critical), say(TEMPERATURE, p.temperature)
    named = f" The air stones for {say(SHARE, share)} of it (aerated_share) have no air pump, and are not counted." if share > 0 else ""
    if p.steady[TYPICAL] < p.minimum:
        other = "is" if p.badly == p.in_danger else f"{p.in_danger} is"
        return (
            f"Water alone holds the oxygen{_of(system, p)} at {say(CONCENTRATION, max(0.0, p.steady[TYPICAL]))} after a meal at {warm}; "
            f"{p.badly} needs {say(CONCENTRATION, p.minimum)}, {other} in danger below {critical}.{named}"
        )
    bare = p.failures[p.cut].bare[TYPICAL]
    return f"When {p.cut} after a meal at {warm}, the oxygen{_of(system, p)} is down to {critical} {_within(bare)}; below that the fish are in danger.{named}"


def _cure(p, plans, build, what: str, failure, say) -> str:
    """What to do, in the order of what it saves."""
    inverter = build.power is not None and build.power.si.inverter
    sooner = "or let an alarm bring somebody in half the time that is left"
    if what == AIR:
        return f"Keep a spare air pump at hand, send more water through the tank, {sooner}."
    need, depth, deeper, most = spare_needed(p), p.depth, "", most_stones(p)
    if need.stones[LEAST] > most and p.depth < min(other.water_depth for other in plans):
        depth = min(other.water_depth for other in plans)
        need, deeper = spare_needed(p, depth), f", hung near the bottom at {say(LENGTH, depth)},"
    own, every = need.stones[LEAST], all_needed(plans, depth)
    share = build.air_asked or {other.tank.name: spare_needed(other, depth).air_flow[LEAST] for other in plans}
    if np.isfinite(every.air_flow[LEAST]) and own <= most:  # one pump blows in all tanks
        need, stones = every, every.stones[LEAST]
        while hung(stones, share)[p.tank.name] < own:  # in a season they hang by its heaviest days
            stones += 1
        need = (
            Bare(air_flow=every.air_flow * stones / every.stones[LEAST], stones=np.full(3, stones))
            if stones > every.stones[LEAST]
            else every
        )
    air_flow, stones = need.air_flow[LEAST], need.stones[LEAST]
    if not math.isfinite(air_flow):
        return "No air can hold that level here: keep fewer fish, or a fish for this water."
    # where no battery pump is strong enough, a mains one on an inverter
    supplies, few = ("battery", "mains") if failure.waits else ("mains",), p.tank.density <= _SAME * UNAIRED_LIMIT
    if own > most and few and (larger := larger_stone(plans, depth, build.choice("airstones"), *supplies)):
        plans = [replace(other, stone=larger) for other in plans]
        cure = _cure(replace(p, stone=larger), plans, build, what, failure, say)
        return f"Take larger stones, such as {larger.si.name} (stone in [air]). {cure}"
    if own > most:
        where = f"even at {say(LENGTH, depth)}" if deeper else "at that depth"
        fewer = say(STOCKING, 0.98 * p.tank.density * held_by_stones(p, depth))
        return f"These are too many fish for this tank: to hold them without water flow takes {say(AIR_FLOW, air_flow)} of air through {stones:.0f} stones {where}. Keep {fewer} or fewer, on a spare with {most:.0f} stones; {sooner}."
    first = "First hang the stones deeper. " if deeper else ""
    if len(share) > 1:
        deeper += f" ({', '.join(f'{count} in {name}' for name, count in hung(stones, share).items())})"
    pump = pump_choice(p, need, depth, *supplies)
    if not failure.waits:
        apart = (
            ""
            if what == PUMP
            else " that has a battery of its own (keeps_on = true in [air])"
            if p.usual.fed == BATTERY or inverter
            else ""
        )
        strong = f" on an air pump such as {pump.name}{apart}" if pump else ""
        return f"{first}Hang in {'more ' * bool(p.usual.flow)}stones{strong}: {say(AIR_FLOW, air_flow)} of air through {stones:.0f}{deeper} hold it with no water flow; {sooner}. A spare that waits for the mains to fail does not start."
    spare = f"{'a larger' if p.spare.name else 'a'} spare on a battery"
    such = f", such as {pump.name} with {_own_supply(p, pump, say)}" if pump else ""
    return f"{first}Hang in {spare}{such}: {say(AIR_FLOW, air_flow)} of air through {stones:.0f} such stones{deeper} hold it until that is flat, at the least that stones bring; {sooner}."


def _own_supply(p, pump, say) -> str:
    """The battery of a spare; for one that is made for mains its inverter too."""
    if pump.supply == "battery":
        return _battery(p, pump.power, pump.voltage, say)
    label, one = STARTING * pump.power, battery_kind(p.section.backup_battery).si.nominal_voltage
    voltage = p.section.backup_voltage or next(one * n for n in (1, 2, 4) if label <= _MOST_CURRENT * one * n or n == 4)
    inverter = f'an inverter of {say(POWER, label)} or more (backup_inverter = true, backup_voltage = "{say(VOLTAGE, voltage)}"), by an electrician; no battery pump is strong enough'
    return f"{_battery(p, pump.power / INVERTER, voltage, say)} and {inverter}"


def _battery(p, power: float, voltage: float, say) -> str:
    """The battery that drives an air pump until somebody comes: whole ampere hours, rounded up."""
    kind = p.section.backup_battery
    need = battery_capacity.si(power, p.response, voltage, kind=kind)
    return f"{_hours(need, say)} of {kind}"


def _hours(charge: float, say) -> str:
    """A battery's charge in whole ampere hours, rounded up."""
    return say(CHARGE, 3600.0 * math.ceil(charge / 3600 - 1e-9))


@finding("spare battery short", notebook="10")
def spare_battery_short(system, say):
    """A spare whose battery is flat before anybody comes, or of which the file does not say how large it is."""
    p, battery = system.air, system.air.battery
    what, failure = min(p.failures.items(), key=lambda item: (not item[1].waits, item[1].bare[LEAST]))
    if battery is None or not failure.waits or failure.bare[LEAST] >= (p.response or math.inf):  # nobody needs it
        return
    holds = f"{say(CHARGE, battery.capacity)} ({battery.kind})" if battery.capacity else "the battery of [power]"
    unsaid = "" if battery.told else f" The file does not say what battery it has: {holds} is taken, as such pumps are sold with."
    lasts = f"{'In a power cut' if what in (POWER_FAILS, MAINS_FAIL) else f'When {what},'} {battery.drives} blows for {roughly(battery.lasts)} on {holds}"
    if p.response is not None and failure.ends < p.response:
        need, plan = f"{_battery(p, battery.power, battery.voltage, say)} (backup_capacity in [air])", system.power
        if p.usual.fed == BATTERY and not failure.spare and plan:
            size = battery_capacity.si(plan.most, p.response, plan.supply.si.voltage, kind=plan.battery, temperature=plan.temperature)
            need = f"{_hours(size, say)} (capacity in [power])"
        cure = f"Give it {need}, or see that somebody comes sooner."
        yield fix("fish tank", f"{lasts}, then it stands; somebody comes after {roughly(p.response)}.{unsaid}", cure)
    elif not battery.told:
        yield note(
            "fish tank", f"{lasts}.{unsaid}", "Write the battery's capacity as backup_capacity in [air], and let it run flat once to see."
        )


@finding("dirt in the fish tank", notebook="10")
def dirt_in_the_tank(system, say):
    """Dirt that stays in the fish tank and takes oxygen there."""
    told = system.build.water.si.solids_stay
    for name, f in system.tanks.items():
        if f.dirt_oxygen <= 0:
            continue
        tank = name if system.build.several else "the fish tank"
        why = (
            f"No outlet draws near the floor of {tank}, so their dirt is taken to stay there"
            if told is None
            else f"Their dirt stays in {tank}"
        )
        yield note(
            name,
            f"{why}: rotting, it takes {say(OXYGEN_RATE, f.dirt_oxygen)} of oxygen beside the {say(OXYGEN_RATE, f.oxygen)} that the fish take.",
            'Draw the water from near the floor (intake of the overflow), or take the dirt out each day and say so: solids_stay = "0 %" in [water].',
        )


@finding("gas supersaturation", notebook="10")
def too_much_gas(system, say):
    """Water that comes with more gas than it can hold: bubbles in the fish's blood."""
    w, n = system.build.water.si, system.need
    if w.inlet_saturation <= MOST_GAS and n.inlet_oxygen <= MOST_OXYGEN:
        return
    severity = fix if n.inlet_oxygen > MOST_OXYGEN or w.inlet_saturation > PURE else note
    yield severity(
        "fish tank",
        f"The water is said to come with {say(SHARE, w.inlet_saturation)} of the oxygen that it can hold, {say(CONCENTRATION, n.inlet_oxygen)}. Gas over {say(SHARE, MOST_GAS)} in all "
        f"(nitrogen too, where tap water was warmed or a pump draws air), or oxygen over {say(CONCENTRATION, MOST_OXYGEN)}, comes out as bubbles in blood, eyes and fins.",
        "Let warmed tap water fall and splash before fish meet it, seal a pump's suction side, and give pure oxygen only with a meter in the water.",
    )


@finding("spare air on the mains", notebook="10")
def spare_on_the_mains(system, say):
    """A spare air pump that stops with the mains."""
    p = system.air
    if p.told and p.spare.name and not p.spare_runs:
        yield fix(
            "fish tank",
            f"The spare, {p.spare.name}, with {sum(one.spare.stones for one in system.airs.values()):.0f} stones, runs on the mains as well: it stops when they fail.",
            "Take one with a battery of its own, and test it every month by pulling the plug; a mains pump runs on a battery through an inverter only (backup_inverter = true).",
        )


@finding("air pump too weak for the depth", notebook="10")
def too_weak_for_the_depth(system, say):
    """An air pump that has little or no air left at the stones' depth."""
    p = system.air
    for blown, what in ((p.usual, p.usual.name), (p.spare, f"the spare ({p.spare.name})")):
        if not blown.name or blown.flow >= LITTLE * blown.open_flow:
            continue
        severity = stop if blown.flow <= 0 else fix
        gives = "no air" if blown.flow <= 0 else f"{say(AIR_FLOW, blown.flow)} of its {say(AIR_FLOW, blown.open_flow)}"
        yield severity(
            "fish tank",
            f"At {say(LENGTH, p.depth)} the water alone presses with {say(PRESSURE, blown.pressure)}; {what} brings {gives} "
            f"(it stalls at {say(PRESSURE, blown.shut)})." + (_HOT if blown.open_flow > _BLOWER else ""),
            "Hang the stones higher, clean or change them, use wider tubes, or take a pump made for that depth."
            + (" Hang in more stones, and let the rest out by a relief valve." if blown.open_flow > _BLOWER else ""),
        )


@finding("air off the stones' range", notebook="10")
def air_off_range(system, say):
    """More air through a stone than it can make small bubbles of, or so little that it starves."""
    p, plans = system.air, system.airs.values()
    low, high = p.stone.si.air_flow_low or 0.0, p.stone.si.air_flow_high or math.inf
    for blown, what, flow in (
        (p.usual, "Each stone", sum(one.usual.flow for one in plans)),
        (p.spare, "Each stone of the spare", sum(one.spare.flow for one in plans)),
    ):
        if not blown.name or low <= blown.each <= high or flow <= 0:
            continue
        if blown.each > high:
            yield note(
                "fish tank",
                f"{what} gets {say(AIR_FLOW, blown.each)} of air; one of its kind takes {say(AIR_FLOW, high)} at most. The rest makes big bubbles that bring little.",
                f"Hang in {math.ceil(flow / high)} or more.",
            )
        else:
            yield note(
                "fish tank",
                f"{what} gets {say(AIR_FLOW, blown.each)} of air; one of its kind wants {say(AIR_FLOW, low)} at least. Some will not bubble, and clog.",
                "Take out some of the stones, or take a stronger air pump.",
            )


@finding("stones deeper than the water", notebook="10")
def stones_too_deep(system, say):
    """Stones said to hang deeper than the fish tank is."""
    p = min(system.airs.values(), key=lambda one: one.water_depth)
    if p.told and (p.usual.name or p.spare.name) and round(p.depth, 6) > round(p.water_depth, 6):
        yield fix(
            p.tank.name,
            f"The stones are said to hang {say(LENGTH, p.depth)} deep; {p.tank.name if system.build.several else 'the tank'} has {say(LENGTH, p.water_depth)} of water. Their air is reckoned too well.",
            "Set depth to what is above the stones.",
        )

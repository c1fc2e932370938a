"""What a build asks for beside its pipework: pumps, air, power, heat, media, and what the water needs in its first month."""

from __future__ import annotations

import math

from aquaplumb import tables
from aquaplumb.air import air_pumps
from aquaplumb.power import battery, shock_protection
from aquaplumb.system.raft_air import stones_of
from aquaplumb.system.steady import Steady
from aquaplumb.system.supplies import OWN, STARTING
from aquaplumb.units import AIR_FLOW, AREA, BORE, CHARGE, DEPTH, LENGTH, MASS, POWER, TIME, VOLTAGE, rounded
from aquaplumb.water import dosing, make_up
from aquaplumb.water.bases import base_row
from aquaplumb.workshop.cut_list import shown_name, tape
from aquaplumb.workshop.parts.supply import supply
from aquaplumb.workshop.parts.tally import Tally, quoted, upward

_CUBIC_FOOT = 0.3048**3
_SETTLING = 0.1  # of media: it settles, and dust is washed out; common practice, no source
_MONTH = 30 * 86400.0  # s
_OFFCUTS = 1.1  # of foam; common practice, no source


def equipment(system: Steady, pumps_: dict, tally: Tally) -> None:
    """Count all that is not pipework."""
    _vessels(system, tally)
    _pumps(system, pumps_, tally)
    _air(system, tally)
    _blown(system, tally)
    _mains(system, pumps_, tally)
    supply(system, pumps_, tally)
    _heat(system, tally)
    _media(system, tally)
    _water(system, tally)


def _vessels(system: Steady, tally: Tally) -> None:
    units = system.build.units
    for name, vessel in system.build.vessels.items():
        v = vessel.si
        wide = f"{tape(v.diameter, units)} wide" if v.length is None else f"{tape(v.length, units)} × {tape(v.width or v.diameter, units)}"
        size = f"{v.shape}, {wide}, {tape(v.height, units)} high inside"
        tally.add(
            "Vessels", v.kind, size, int(v.count), quoted(name), why="food-safe; what carries it, and the floor under it, are not counted"
        )
        if v.count > 1:
            tally.note(
                f"The {v.count:.0f} {quoted(name)} stand at one level and are joined: the pipe from one to the next, and its tank fittings, are not counted."
            )
    tally.note("What water touches is plastic or stainless steel: copper, brass and zinc poison fish and plants (common practice).")


def _pumps(system: Steady, pumps_: dict, tally: Tally) -> None:
    group = "Pumps and controls"
    for name, line in system.build.pumped.items():
        where = f"for {quoted(name)}"
        tally.add(group, "pump", shown_name(pumps_[name].si.name), 1, where)
        control = line.si.control.si
        if control.kind == "timer":
            tally.add(group, "timer", f"{TIME.text(control.on)} on, {TIME.text(control.off)} off", 1, where)
        if control.kind == "float":
            tally.add(group, "float switch", f"{DEPTH.text(control.on_depth - control.off_depth, system.build.units)} of travel", 1, where)
        if control.cut_out_depth is not None:
            tally.add(group, "low-level switch", f"opens at {DEPTH.text(control.cut_out_depth, system.build.units)}", 1, where)
    tally.note("Fish die when a pump stops: a spare pump on the shelf is common practice; it is not counted.")


def _blown(system: Steady, tally: Tally) -> None:
    """What blows into filters and under rafts, beside the air of the fish."""
    units, group = system.build.units, "Air"
    for name, vessel in system.build.vessels.items():
        stones, blown = stones_of(vessel)
        if not blown:
            continue
        depth, where, count = DEPTH.text(system.running_depth(name), units), f"for {quoted(name)}", int(vessel.si.count)
        tally.add(group, "air pump", f"{AIR_FLOW.text(blown * count, units)} or more against {depth} of water", 1, where)
        if vessel.si.kind == "raft":
            tally.add(group, "small air stone 25 mm", "", int(stones) * count, f"{where}, under the boards, spread evenly")
            tally.add(group, "air manifold", f"{int(stones) * count} ways, each with a valve", 1, where, implied=True)
        tally.add(
            group, "air check valve", "at its air pump's outlet", 1, where, implied=True, why="so that no water runs back into the pump"
        )


def _air(system: Steady, tally: Tally) -> None:
    if system.build.air is None:
        return
    a, units, group = system.build.air.si, system.build.units, "Air"
    for pump, stones, use in ((a.pump, a.stones, "every day"), (a.backup_pump, a.backup_stones, "when the mains fail")):
        if not pump:
            continue
        row = air_pumps.air_pump(pump).si
        tally.add(group, "air pump", row.name, 1, f"for {use}")
        tally.add(group, a.stone, "", math.ceil(stones), f"for {use}")
        tally.add(
            group,
            "air check valve",
            f"for tube of {BORE.text(a.tube_bore, units)}",
            1,
            f"behind the air pump for {use}",
            implied=True,
            why="so that no water runs back into the pump",
        )
        if stones > 1:
            tally.add(
                group, "air manifold", f"{math.ceil(stones)} ways, each with a valve", 1, f"behind the air pump for {use}", implied=True
            )
        tube = a.tube_length * math.ceil(stones)
        tally.add(
            group, "air tube", BORE.text(a.tube_bore, units), upward(_long(tube, units)), "tube length × stones", unit=LENGTH.unit(units)
        )
    plan = system.air.battery
    if plan is None or plan.capacity is None:  # none in a power cut, or the one of [power]
        return
    name = plan.drives
    if plan.told:
        capacity, why = plan.capacity, f"it lasts {rounded(plan.lasts / 3600)} h in a power cut"
    elif a.response_time is not None:
        capacity = battery.battery_capacity.si(plan.power, a.response_time, plan.voltage, kind=plan.kind, band="low")
        why = f"it lasts the response time of {rounded(a.response_time / 3600)} h; a longer power cut needs more"
    else:
        capacity, why = plan.capacity, "the file says neither what it has nor how soon somebody comes"
    size = f"{plan.kind}, {VOLTAGE.text(plan.voltage)}, at least {CHARGE.text(math.ceil(capacity / 3600 - 1e-9) * 3600.0)}, with a charger and a fuse"
    tally.add(group, "battery", size, 1, f"for {name}", implied=not plan.told, why=why)
    inverted = [pump.power for pump in (system.air.usual, system.air.spare) if pump.fed == OWN and pump.supply == "mains"]
    if inverted:
        size = f"{POWER.text(math.ceil(STARTING * sum(inverted)))} or more, from {VOLTAGE.text(plan.voltage)}, sine wave"
        why = f"it makes mains voltage: behind it {shock_protection(system.build.units, brief=True)}, and an electrician to fit it"
        tally.add(group, "inverter", size, 1, f"for {name}", implied=True, why=why)


def _mains(system: Steady, pumps_: dict, tally: Tally) -> None:
    build = system.build
    loads = [f"the pump of {quoted(name)}" for name, pump in pumps_.items() if pump.si.supply == "mains"]
    if build.air is not None:
        loads += [
            "an air pump"
            for name in (build.air.si.pump, build.air.si.backup_pump)
            if name and air_pumps.air_pump(name).si.supply == "mains"
        ]
    loads += ["a heater"] if build.heat is not None and build.heat.si.heater else []
    loads += ["a battery charger"] if build.power is not None and build.power.si.charger and not build.power.si.generator else []
    if not loads:
        return
    tally.add(
        "Electricity",
        "protected outlet",
        shock_protection(build.units),
        1,
        "for what stands on the mains beside water",
        implied=True,
        why=", ".join(dict.fromkeys(loads)),
    )
    tally.note(
        "Mains power beside water kills. An electrician fits and tests the protected outlet, by your local code; cables hang in a loop below the socket so that they drip there."
    )


def _heat(system: Steady, tally: Tally) -> None:
    build, group = system.build, "Heat"
    if build.heat is None or (plan := system.heat) is None:
        return
    h, units = build.heat.si, build.units
    if h.heater:
        tally.add(
            group,
            "heater with a thermostat",
            POWER.text(h.heater / 2),
            2,
            "for the fish tanks",
            why=f"together {POWER.text(h.heater)}, so that one that sticks or fails is only half; each with a guard that keeps fish off",
        )
        tally.add(group, "thermometer", "", 1, "to watch the thermostats", implied=True)
    area = AREA.shown(1.0, units)
    tally.add(
        group,
        "insulation",
        f"{BORE.text(h.insulation, units)} foam",
        upward(plan.foam * _OFFCUTS * area),
        "round the walls and under the floors of all vessels, with a tenth for offcuts; under a full vessel only foam that is made to bear its weight",
        unit=AREA.unit(units),
    )
    tally.add(
        group,
        "lid",
        f"over {rounded(100 * h.covered)} % of all open water",
        upward(plan.lids * area),
        f"on every vessel but the {system.beds.words}, whose {'dry top is' if system.beds.words == 'beds' else 'tops are'} a lid by {'itself' if system.beds.words == 'beds' else 'themselves'}; keeps warmth and fish in; leave a way for air",
        unit=AREA.unit(units),
    )


def _media(system: Steady, tally: Tally) -> None:
    metric = system.build.units != "US"
    for medium in dict.fromkeys(bed.medium.name for bed in system.living.each.values() if bed.medium):
        beds = {name: bed.media for name, bed in system.living.each.items() if bed.medium and bed.medium.name == medium}
        volume = sum(beds.values())
        row = tables.row("media", medium).si
        heavy = volume * (1 + _SETTLING) * (row.bulk_density_high or row.bulk_density_typical)
        shown, unit = (1000 * volume, "L") if metric else (volume / _CUBIC_FOOT, "ft³")
        words = f"for {', '.join(map(quoted, beds))}; a tenth more for settling and washing; all of it up to {MASS.text(heavy, system.build.units)}; rinse it first"
        tally.add("Beds", medium, "", upward(shown, 4), words, unit=unit, spare=upward(shown * _SETTLING))


def _water(system: Steady, tally: Tally) -> None:
    build, group = system.build, "Water"
    if build.upkeep is None:
        return
    w, units = build.upkeep.si, build.units
    row = base_row(w.base)
    base = _MONTH * dosing.base_a_day.si(system.fish.ammonia, row.name)
    small, unit = (1.0, "kg") if units != "US" else (1 / 0.45359237, "lb")
    tally.add(
        group,
        row.name,
        "food or plant grade",
        upward(base * small),
        f"against the acid of the first month at full feed, at most; {row.hazards}",
        unit=unit,
    )
    volume = system.water
    tap = volume + w.water_change * 30  # a day's change, for the month
    if w.tap_chlorine > 0:
        grams = 1000 * make_up.dechlorinator_needed.si(w.tap_chlorine, tap)
        words = f"takes the chlorine out of the first fill and a month's changes ({_litres(tap, units)}); test before fish or plants go in"
        tally.add(
            group, "ascorbic acid", "", upward(grams if units != "US" else grams / 28.349523125), words, unit="g" if units != "US" else "oz"
        )
    tally.add(group, "test kit", "ammonia, nitrite, nitrate, pH, alkalinity", 1, "for the start and every week after", implied=True)
    if w.tap_chlorine > 0:
        tally.add(group, "test kit", "total chlorine", 1, "for tap water", implied=True)


def _litres(volume: float, units: str) -> str:
    return f"{rounded(1000 * volume)} L" if units != "US" else f"{rounded(volume / 0.003785411784)} gal"


def _long(length: float, units: str) -> float:
    return LENGTH.shown(length, units)

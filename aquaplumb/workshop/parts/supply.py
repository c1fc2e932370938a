"""What the battery supply of a build asks for: wires and fuses as its plan has them, battery, panel, charger, inverter."""

from __future__ import annotations

import math

from aquaplumb.system.power_plan import Branch, PowerPlan
from aquaplumb.system.steady import Steady
from aquaplumb.system.supplies import is_dc
from aquaplumb.units import CHARGE, CURRENT, LENGTH, POWER, VOLTAGE
from aquaplumb.workshop.parts.tally import Tally, quoted, upward

GROUP = "Electricity"
_CONTROLLER = 1.25  # of the panel's current: sun brighter than the test's; NEC 690.8
_IN_ROW = {2: "two", 3: "three", 4: "four"}
_OFFCUTS = 1.1  # of wire; common practice, no source


def supply(system: Steady, pumps_: dict, tally: Tally) -> None:
    """Count what the section [power] asks for; without it, say what is then not counted."""
    direct = [name for name, pump in pumps_.items() if is_dc(pump)]
    plan, section = system.power, system.build.power
    if plan is None or section is None:
        if direct:
            tally.note(
                f"{', '.join(map(quoted, direct))}: a pump on low voltage, and the file has no [power] section, so its wire, fuse, battery and panel are not counted."
            )
        return
    if unknown := [name for name, one in plan.lines.items() if one.run is None]:
        tally.note(
            f"What the pump of {', '.join(map(quoted, unknown))} draws on this supply is not known, so its wire and fuse are not counted: {plan.lines[unknown[0]].trouble}"
        )
    if not section.si.wire_length:
        tally.note("The file gives no wire_length, so no wire to the pumps is counted.")
    for one in plan.branches:
        _wire_and_fuse(one, plan, system.build.units, tally, "at the fuse block" if plan.main else "at the battery's plus pole")
    if plan.main:
        _wire_and_fuse(plan.main, plan, system.build.units, tally, "at the battery's plus pole, before all else")
        tally.add(GROUP, "fuse block", f"for {len(plan.branches)} branches", 1, "behind the main fuse", implied=True)
    _battery(plan, tally)


def _battery(plan: PowerPlan, tally: Tally) -> None:
    s = plan.supply.si
    if s.battery or s.capacity:
        capacity = CHARGE.text(s.capacity) if s.capacity else "capacity not in the file"
        in_row = round(s.voltage / 12)
        row = (
            f"; {_IN_ROW[in_row]} in series, of 12 V and {capacity} each, make it: equal in kind, size and age" if in_row in _IN_ROW else ""
        )
        why = f"in a dry, aired box, its poles covered{row}"
        tally.add(
            GROUP, "battery", f"{s.battery or 'kind not in the file'}, {VOLTAGE.text(s.voltage)}, {capacity}", 1, "for the pumps", why=why
        )
        tally.note(
            "A battery drives thousands of amperes into a short: the fuse goes first, at the plus pole; no rings or bracelets, goggles on."
        )
    if plan.cut_off is not None:
        drawn = CURRENT.text(math.ceil(1.25 * float(sum(one.current for one in plan.branches)) - 1e-9) or 1)
        size = f"{VOLTAGE.text(s.voltage)}, {drawn} or more"
        opens = f"opens at {VOLTAGE.text(plan.cut_off)}, so that the battery is not ruined; where the battery has its own, that one"
        tally.add(GROUP, "low-voltage cut-off", size, 1, "between main fuse and loads", implied=not s.cut_off, why=opens)
    if s.panel:
        tally.add(GROUP, "solar panel", POWER.text(s.panel), 1, "to fill the battery")
        current = CURRENT.text(math.ceil(_CONTROLLER * s.panel / s.voltage - 1e-9))
        made = "made for the battery's kind, with the fuses that its sheet asks for"
        tally.add(
            GROUP,
            "charge controller",
            f"{VOLTAGE.text(s.voltage)}, {current} or more",
            1,
            "between panel and battery",
            implied=True,
            why=made,
        )
    if plan.charging is not None:
        size = f"{VOLTAGE.text(s.voltage)}, {CURRENT.text(plan.charging / s.voltage)} at most"
        where = "on the generator" if s.generator else "on the mains, dry and away from splash"
        tally.add(GROUP, "battery charger", size, 1, where, implied=not s.charger, why="made for the battery's kind")
    if s.generator:
        fumes = "outdoors only, away from doors and windows: its fumes kill without a smell; an electrician joins it to anything fixed"
        tally.add(GROUP, "generator", POWER.text(s.generator), 1, "to charge the battery", why=fumes)
    if s.inverter:
        waves = f"{VOLTAGE.text(s.voltage)} in, your mains' voltage out, a true sine wave; what it gives kills like the mains, and wants the same protection"
        tally.add(GROUP, "inverter", POWER.text(s.inverter), 1, "for what is made for mains", why=waves)


def _wire_and_fuse(one: Branch, plan: PowerPlan, units: str, tally: Tally, where: str) -> None:
    volts, for_it = VOLTAGE.text(plan.supply.si.voltage), f"for {quoted(one.name)}"
    if not one.safe:
        why = (
            one.trouble
            or f"its load needs a {CURRENT.text(one.fuse)} fuse, and {one.wire} may have at most {CURRENT.text(one.rating or 0.0)} where it lies; take a thicker wire, never a fuse above the wire's rating."
        )
        tally.note(f"Wire and fuse {for_it} are not counted: {why}")
        return
    size, said = CURRENT.text(one.fuse), f"for {CURRENT.text(one.current)} at {volts}"
    tally.add(GROUP, "fuse", f"{size}, slow, for direct current", 1, f"{where}, {for_it}", spare=2, why=said)
    tally.add(
        GROUP, "fuse holder", f"for {size}", 1, "within a hand's breadth of the plus pole" if "pole" in where else where, implied=True
    )
    if one.length > 0:
        both = LENGTH.shown(2 * one.length * _OFFCUTS, units)
        words = f"{for_it}, there and back, and a tenth for ends, {said}"
        tally.add(GROUP, "wire", one.wire, upward(both), words, unit=LENGTH.unit(units), implied=not one.told)

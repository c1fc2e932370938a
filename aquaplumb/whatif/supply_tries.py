"""What to try on the three panels of notebook 11, and what to see in a build's own pump on its wire."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from aquaplumb.power import wire_resistance
from aquaplumb.units import CHARGE, FLOW, LENGTH, POWER, SHARE, TEMPERATURE, VOLTAGE, VOLUME, in_hours, rounded
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.supply import WireWhatIf, Wiring
    from aquaplumb.whatif.supply_year import SunYear, YearWhatIf
    from aquaplumb.whatif.warmth import ColdNight, WarmthWhatIf

_FLAT = 11 / 12  # of a lead battery's nominal voltage when it is nearly flat; common practice
_THIN, _LONG = 4.0, 3.0  # times the ohms, and the length, of the build's own
_NORTH = math.radians(70)


def of_wire(wires: WireWhatIf, line: str) -> list[Try]:
    """A thin wire, a long one, a battery nearly flat, too thin and too long at once; and the mains pump's year."""
    own = wires.own(line)
    first = wires(**own).si
    ohms = {name: float(wire_resistance.si(name, 1.0)) for name in wires.wires}
    by_size = sorted(ohms, key=lambda name: ohms[name])
    thin = next((name for name in by_size if ohms[name] > _THIN * ohms[own["wire"]]), by_size[-1])
    long = min(_LONG * own["length"], wires.reach)
    mains = wires.full[line].si.name

    def than(record: Wiring, system: str) -> str:
        r = record.si
        if r.stands or r.flow <= 0:
            return record.sentence(system, short=True)
        return f"{record.sentence(system, short=True)} It was {FLOW.text(first.flow, system)}, with {SHARE.text(first.drop_share)} lost."

    def flat(record: Wiring, system: str) -> str:
        r = record.si
        if r.stands or r.flow <= 0:
            return record.sentence(system, short=True)
        return f"{record.sentence(system, short=True)} It was {FLOW.text(first.flow, system)}: the battery took the rest."

    def year(record: Wiring, system: str) -> str:
        return record.sentence(system)

    tries = [Try("What a year on mains costs: set *{pump.label}* to **{pump}**.", {"pump": mains}, year)] if mains in wires.mains else []
    if first.flow > 0 and thin != own["wire"]:
        tries.append(Try("A thin wire: set *{wire.label}* to **{wire}**.", {"wire": thin}, than))
    if long > own["length"] + 1:
        tries.append(Try("A long one: set *{length.label}* to **{length}**.", {"length": long}, than))
    tries.append(Try("A battery nearly flat: set *{voltage.label}* to **{voltage}**.", {"voltage": _FLAT * own["voltage"]}, flat))
    worst = {"wire": by_size[-1], "length": wires.reach}
    tries.append(Try("Too thin and too long: *{wire.label}* **{wire}**, *{length.label}* **{length}**.", worst, than))
    return tries


def wire_look(record: Wiring, system: str) -> str:
    """What to see in the picture of a pump on its wire."""
    if record.si.mains:
        return "A mains pump does not feel its wire: the line is level."
    return "Above: the flow over the wire's length, yours in blue, what is wanted dashed. Below: what the wire keeps of the voltage; 3 % is usual. A red-orange cross will not do."


def _along(length: float, system: str) -> str:
    """A wire's length: nobody lays one to a sixteenth of an inch."""
    return f"{rounded(LENGTH.shown(length, system), 2)} {LENGTH.unit(system)}"


def wire_differs(record: Wiring, demo: Wiring, system: str) -> str:
    """Why a build's wire takes more or less than that of the guess."""
    r, d = record.si, demo.si
    theirs = f"{SHARE.text(d.flow / (d.flow + d.lost))} of the flow is left over {_along(d.length, system)} of that wire, which keeps {SHARE.text(d.drop_share)} of {VOLTAGE.text(d.supply)}"
    if r.mains:
        return f"In the guess {theirs}. Yours is on mains: its speed does not follow the wire."
    yours = f"Yours is on mains; {r.pump}, to try in its place," if r.tried else "Yours"
    if r.stands or r.flow <= 0:
        return f"In the guess {theirs}. {yours} does not lift the water on this supply."
    mine = f"{SHARE.text(r.flow / (r.flow + r.lost))} over {_along(r.length, system)} of {r.wire}, which keeps {SHARE.text(r.drop_share)} of {VOLTAGE.text(r.supply)}"
    return f"In the guess {theirs}. {yours} has **{mine}**."


def of_year(years: YearWhatIf) -> list[Try]:
    """Twice the panel, twice the battery, rests at night, and the far north."""
    own = years.own()
    first = years(**own).si

    def than(record: SunYear, system: str) -> str:
        r = record.si
        flat = f"**flat for {r.hours_empty:,.0f} hours**" if r.hours_empty >= 1 else "**never flat**"
        was = f"{first.hours_empty:,.0f} hours" if first.hours_empty >= 1 else "never"
        return f"With {POWER.text(r.panel)} of panel and {CHARGE.text(r.capacity)} it is {flat} in the worst year, where it was {was}. A full battery lasts {in_hours(r.hours)}."

    def north(record: SunYear, system: str) -> str:
        r = record.si
        if r.panel_wanted is None:
            return f"In {r.worst_month} there is no sun to speak of: no panel is large enough. It stands for up to {r.longest_empty:,.0f} hours on end."
        return than(record, system)

    tries = []
    if own["panel"] > 0:
        tries.append(Try("Twice the panel: set *{panel.label}* to **{panel}**.", {"panel": 2 * own["panel"]}, than))
    tries.append(Try("Twice the battery: set *{capacity.label}* to **{capacity}**.", {"capacity": 2 * own["capacity"]}, than))
    if own["night"] > 15:
        tries.append(Try("Rest at night: set *{night.label}* to **{night}**.", {"night": 15}, than))
    if own["latitude"] < _NORTH:
        tries.append(Try("Far north: set *{latitude.label}* to **{latitude}**.", {"latitude": _NORTH}, north))
    return tries


def of_warmth(warmth: WarmthWhatIf) -> list[Try]:
    """No lid (or one), no foam (or some), and warmer water."""
    own = warmth.own()
    first = warmth(**own).si

    def than(record: ColdNight, system: str) -> str:
        r = record.si
        cold = (
            f" In a power cut the fish are too cold after {r.time / 3600:.0f} hours, where it was {first.time / 3600:.0f}."
            if math.isfinite(r.time) and math.isfinite(first.time)
            else ""
        )
        wet = abs(r.evaporation / first.evaporation - 1) > 0.01 if first.evaporation > 0 else False
        water = (
            f" {VOLUME.text(r.evaporation, system)} evaporate on it, where it was {VOLUME.text(first.evaporation, system)}." if wet else ""
        )
        return f"**{POWER.text(r.loss)}** go on the coldest night, where it was {POWER.text(first.loss)}; such a day costs {rounded(r.cost)}, not {rounded(first.cost)}.{water}{cold}"

    lid, foam = (0.0 if own["covered"] > 0.2 else 0.8), (0.0 if own["insulation"] > 0.005 else 0.05)
    tries = [
        Try(("Take the lids off" if lid == 0 else "Put lids on") + ": set *{covered.label}* to **{covered}**.", {"covered": lid}, than),
        Try(("Take the foam off" if foam == 0 else "Put foam on") + ": set *{insulation.label}* to **{insulation}**.", {"insulation": foam}, than),
    ]  # fmt: skip
    warm = own["keep_at"] + 4
    if warm <= TEMPERATURE.from_shown(32.0):
        tries.append(Try("Warmer water: set *{keep_at.label}* to **{keep_at}**.", {"keep_at": warm}, than))
    return tries

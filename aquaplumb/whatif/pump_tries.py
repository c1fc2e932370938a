"""What to try on the panel of notebook 08: a weaker and a stronger pump, more lift, a dirty strainer, a tired battery."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aquaplumb.plumbing.pump_curve import Pump
from aquaplumb.units import FLOW, HEAD, POWER, in_percent
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.pump import PumpChoice, PumpWhatIf

_WEAK, _STRONG = 0.9, 2.0  # of the flow wanted: the next pump under, and the next one over
_HIGHER = {"metric": 0.5, "US": 1.6 * 0.3048}  # m of lift more
_SHUT, _HALF, _TIRED = 0.9, 0.5, 0.9  # of a strainer's openings; of a pump's speed


def _alike(one: Pump, other: Pump) -> bool:
    return (one.si.supply, one.si.placement) == (other.si.supply, other.si.placement)


def of_pump(what_if: PumpWhatIf, line: str) -> list[Try]:
    """Two other pumps, more lift, a strainer nearly shut, and a DC pump on a battery that runs flat, all on one line."""
    chooser, own = what_if.choosers[line], what_if.own(line)
    before = what_if(**own)
    known = {(f.name, f.where) for f in before.si.findings}
    flows = {name: flow for name, flow in chooser.flows.items() if flow > 0 and name != own["pump"]}
    ranked = sorted(flows, key=lambda name: flows[name])
    like = [name for name in ranked if _alike(chooser.pumps[name], chooser.pumps[own["pump"]])]
    weak = [name for name in (*ranked, *like) if flows[name] < _WEAK * chooser.aim and flows[name] < before.si.flow]
    strong = [name for name in (*like, *ranked) if flows[name] > _STRONG * chooser.aim and flows[name] > before.si.flow]
    weaker, stronger = weak[-1:] or ranked[:1], strong[:1] or ranked[-1:]  # of its own kind where there is one
    direct = [name for name in ranked if chooser.pumps[name].si.supply == "DC"]
    enough = [name for name in direct if flows[name] >= chooser.aim][:1] or direct[-1:]
    many = {"line": line} if len(what_if.choosers) > 1 else {}
    on = " on {line}" if many else ""

    def short_of(record: PumpChoice, system: str) -> str:
        return record.sentence(system, short=True)

    def too_much(record: PumpChoice, system: str) -> str:
        r = record.si
        told = record.sentence(system, short=True)
        if r.power and before.si.power:
            told += f" It draws {POWER.text(r.power)}, where it was {POWER.text(before.si.power)}, every hour of the year."
        new = [f for f in r.findings if f.severity != "note" and (f.name, f.where) not in known and f.name != "pump far too strong"]
        return told + (" And the findings say what so much water does elsewhere." if new else "")

    def higher(record: PumpChoice, system: str) -> str:
        r, b = record.si, before.si
        if r.flow <= 0 or b.flow <= 0:
            return record.sentence(system, short=True)
        return f"{FLOW.text(r.flow, system)}, where it was {FLOW.text(b.flow, system)}: {in_percent(1 - r.flow / b.flow)} less for {HEAD.text(r.lift - b.lift, system)} more of lift. It hurts a pump most that is near its greatest head, {HEAD.text(r.pump_heads[0], system)}."

    def dirty(record: PumpChoice, system: str) -> str:
        r, half = record.si, what_if(**{**own, "blocked": _HALF}).si
        was = before.si.flow
        if r.flow <= 0 or was <= 0:
            return record.sentence(system, short=True)
        return f"Half shut it brings {FLOW.text(half.flow, system)}, so nearly shut {FLOW.text(r.flow, system)}, where it was {FLOW.text(was, system)}: dirt costs little for long, and then a lot."

    def tired(record: PumpChoice, system: str) -> str:
        r, full = record.si, what_if(**{**own, "pump": enough[0], "speed": 1.0}).si
        if r.flow <= 0 or full.flow <= 0:
            return record.sentence(system, short=True)
        return f"{in_percent(1 - r.pump_flows[-1] / full.pump_flows[-1])} less speed, {in_percent(1 - r.flow / full.flow)} less water: {FLOW.text(r.flow, system)}, where it was {FLOW.text(full.flow, system)}. The lift stays, and the pump's greatest head falls with the square of its speed."

    tries = []
    for names, words, seen in ((weaker, "weaker", short_of), (stronger, "stronger", too_much)):
        if names:
            tries.append(Try(f"Choose a {words} pump{on}: **{{pump}}**.", {**many, "pump": names[0]}, seen))
    tries += [
        Try("The pipe ends higher: set *{lift.label}* to **{lift}**.", {"lift": own["lift"] + _HIGHER[what_if.build.units]}, higher),
        Try("Leaves on the strainer: *{blocked.label}* **{blocked}**.", {"blocked": _SHUT}, dirty),
    ]
    if enough:
        ask = f"A battery runs nearly flat: choose **{{pump}}**{on}, and set *{{speed.label}}* to **{{speed}}**."
        tries.append(Try(ask, {**many, "pump": enough[0], "speed": _TIRED}, tired))
    return tries

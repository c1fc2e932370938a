"""What to try on the panels of notebook 05: check valve, elbows, strainer and lift of a line; the nozzles of a round tank."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aquaplumb.figures.line_head import to_the_hundredth as head
from aquaplumb.units import FLOW, FORCE, SPEED
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.line_head import HeadWhatIf, LineHead
    from aquaplumb.whatif.round_tank import RoundTank, RoundTankWhatIf

_HIGHER = {"metric": 1.0, "US": 3.2 * 0.3048}  # m of lift more
_SHUT, _AWAY = 0.8, 1.0471975511965976  # of a strainer's openings; 60° off the wall


def of_head(what_if: HeadWhatIf, line: str) -> list[Try]:
    """Another check valve and none, twice the elbows, a strainer nearly shut, more lift, all on one line."""
    own = what_if.own(line)
    before = what_if(**own)
    many = {"line": line} if len(what_if.askers) > 1 else {}
    on = " on {line}" if many else ""

    def part(record: LineHead, name: str) -> float:
        return float(dict(zip(record.si.names, record.si.parts))[name])

    def brings(record: LineHead, system: str) -> str:
        now, was = record.si.pump_flow, before.si.pump_flow
        if now <= 1e-9:
            return f"Its pump brings nothing any more: it lifts {head(record.si.pump_heads[0], system)} at most."
        return f"Its pump settles at {FLOW.text(now, system)}, where it was {FLOW.text(was, system)}."

    def valve(record: LineHead, system: str) -> str:
        now, was = part(record, "check valve"), part(before, "check valve")
        if now <= 0:
            return f"Without a check valve there is none to push open: that saves **{head(was, system)}**. {brings(record, system)}"
        before_it = f", where it was {head(was, system)}" if was > 0 else ""
        slow = "However slow the water, its spring or flap has to be pushed open."
        return f"The check valve costs **{head(now, system)}**{before_it}. {slow} {brings(record, system)}"

    def bends(record: LineHead, system: str) -> str:
        now, was = part(record, "elbows, bends"), part(before, "elbows, bends")
        return f"All elbows and bends of the line cost **{head(now, system)}**, where it was {head(was, system)}. {brings(record, system)}"

    def leaves(record: LineHead, system: str) -> str:
        clean = part(what_if(**{**own, "blocked": 0.0}), "strainer")
        half = part(what_if(**{**own, "blocked": 0.5}), "strainer")
        return f"Clean the strainer costs {head(clean, system)}, half shut {head(half, system)}, so far shut **{head(part(record, 'strainer'), system)}**. {brings(record, system)}"

    def higher(record: LineHead, system: str) -> str:
        return f"The whole curve moves up by {head(record.si.lift - before.si.lift, system)}, at every flow. {brings(record, system)}"

    tries = []
    if own["check"] != "spring check valve":
        tries.append(Try(f"Another *{{check.label}}*{on}: **{{check}}**.", {**many, "check": "spring check valve"}, valve))
    if own["check"]:
        tries.append(Try(f"For the *{{check.label}}*{on} choose **{{check}}**.", {**many, "check": ""}, valve))
    elbows = min(12, max(2 * own["elbows"], own["elbows"] + 2))
    if elbows > own["elbows"]:
        tries.append(Try("More bends: set *{elbows.label}* to **{elbows}**.", {"elbows": elbows}, bends))
    return [
        *tries,
        Try("Leaves on the strainer: *{blocked.label}* **{blocked}**.", {"blocked": _SHUT}, leaves),
        Try("The pipe ends higher: set *{lift.label}* to **{lift}**.", {"lift": own["lift"] + _HIGHER[what_if.build.units]}, higher),
    ]


def of_nozzles(what_if: RoundTankWhatIf, branch: str) -> list[Try]:
    """Nozzles half as wide and as wide as the pipe, and turned off the wall (or along it)."""
    own = what_if.own(branch)
    before = what_if(**own)
    widest = what_if.ends[branch][1].si.bore

    def turns(record: RoundTank, system: str) -> str:
        r, b = record.si, before.si
        flow = f"{FLOW.text(r.flow, system)} come, where it was {FLOW.text(b.flow, system)}, and leave at {SPEED.text(r.jet, system)}, where it was {SPEED.text(b.jet, system)}"
        return f"{flow}. The water turns at **{SPEED.text(r.speed, system)}**, where it was {SPEED.text(b.speed, system)}."

    def points(record: RoundTank, system: str) -> str:
        r, b = record.si, before.si
        return f"Its jets push with {FORCE.text(abs(r.push), system)} along the wall, where it was {FORCE.text(abs(b.push), system)}: the water turns at **{SPEED.text(r.speed, system)}**."

    tries = [Try("Half as wide: set *{bore.label}* to **{bore}**.", {"bore": max(0.003, 0.5 * own["bore"])}, turns)]
    if widest > 1.15 * own["bore"]:
        tries.append(Try("Open it wide: **{bore}**.", {"bore": widest}, turns))
    away = _AWAY if own["angle"] < 0.5 * _AWAY else 0.0
    return [*tries, Try("Point it elsewhere: *{angle.label}* **{angle}**.", {"angle": away}, points)]

"""Why water stands higher or lower than reckoned: causes of levels, fitted one at a time. Bare SI.

Running and rest tell the lip from the drain: a lip that is lower than said shows both ways, a drain that is partly shut only while
water runs. A vessel without a way out stands as high as somebody filled the system.

Source: the mouth of a falling line as in `aquaplumb.plumbing.falls`.
"""

from __future__ import annotations

from dataclasses import dataclass

from aquaplumb.measured.bands import BesideBand
from aquaplumb.system.steady import Steady
from aquaplumb.units import FLOW, LENGTH, SHARE

_SIGMA = 0.01  # m: a tape in moving water, and the floor that it stands on (common practice, no source)
_PRICE = 4.0  # of a cause, as in `fitting`


@dataclass(frozen=True)
class LevelCause:
    """One cause of a vessel's level: what it is, in words, the score of its fit, and what tells it from the others."""

    vessel: str
    name: str
    words: str
    score: float
    look: str


def level_causes(system: Steady, rows: list[BesideBand]) -> list[LevelCause]:
    """The causes for each vessel whose depth lies outside its band, the best first of each."""
    found = []
    for vessel in dict.fromkeys(row.measured.si.of for row in rows if row.measured.si.what in ("running", "rest")):
        own = {row.measured.si.what: row for row in rows if row.measured.si.of == vessel and row.measured.si.what in ("running", "rest")}
        if any(row.outside for row in own.values()):
            found += sorted(_of(system, vessel, own), key=lambda one: one.score)
    return found


def _of(system: Steady, vessel: str, own: dict[str, BesideBand]):
    units = system.build.units
    off = {what: row.value - row.middle for what, row in own.items()}

    def left(**explained: float) -> float:
        return sum(((value - explained.get(what, 0.0)) / _SIGMA) ** 2 for what, value in off.items()) + _PRICE

    both = sum(off.values()) / len(off)
    higher = "higher" if both > 0 else "lower"
    ways = [f for f in system.falling.values() if f.line.si.source == vessel and not f.line.si.emergency and f.line.si.kind != "joint"]
    if not ways:
        yield LevelCause(
            vessel, "filled to another height", f"The system holds so much {'more' if both > 0 else 'less'} water that {vessel} stands {LENGTH.text(abs(both), units)} {higher}.",
            left(running=both, rest=both), f"Mark the level of {vessel}, and look for a leak if the mark is dry next day.",
        )  # fmt: skip
        return
    way = min(ways, key=lambda f: f.line.si.lip)
    yield LevelCause(
        vessel, f"the lip of {way.name} is {higher} than said", f"The lip of {way.name} lies {LENGTH.text(abs(both), units)} {higher} than the file says.",
        left(running=both, rest=both), f"Stop the pumps, wait until nothing runs over the lip of {way.name}, and measure the depth again: it is the lip's.",
    )  # fmt: skip
    if "running" not in off or way.siphon is not None or not way.load > 0:
        return
    over = max(0.0, system.vessels[vessel].level + off["running"] - way.line.si.lip)
    if off["running"] > 0 and over > 0:
        clear = _solved(lambda part: float(way.way.mouth(over, part)) - way.load, 0.01, 1.0)
        if clear is not None:
            yield LevelCause(
                vessel, f"the mouth of {way.name} is partly blocked", f"{SHARE.text(1 - clear)} of the mouth of {way.name} is blocked.",
                left(running=off["running"]), f"Clean the mouth and the screen of {way.name} and measure the depth again.",
            )  # fmt: skip
    comes = float(way.way.mouth(over, 1.0 - way.line.si.screen_blocked))
    yield LevelCause(
        vessel, "another flow comes in", f"{FLOW.text(comes, units)} run through {way.name}, not {FLOW.text(way.load, units)}.",
        left(running=off["running"]) + 1.0, f"Time a bucket at each pipe that ends in {vessel}.",
    )  # fmt: skip


def _solved(over, low: float, high: float) -> float | None:
    from scipy.optimize import brentq

    return float(brentq(over, low, high)) if over(low) * over(high) < 0 else None

"""What to try on the panel of notebook 03: warmer water, air stones, a timer, and ammonia in alkaline water."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from aquaplumb import water
from aquaplumb.units import CONCENTRATION, FLOW, rounded
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.water_flow import FlowWhatIf, WaterFlow

_WARMER, _HALF, _QUARTER = 4.0, 0.5, 900.0  # K; of the oxygen by air stones; s in each hour
_ALKALINE, _MORE_SO = 8.4, 9.0  # pH; where the water is nearly so already
_STEP = 0.05e-3  # kg/m³, of the slider


def of_flow(flow: FlowWhatIf) -> list[Try]:
    """Each need moved by what moves it; the last try mends what the one before it broke."""
    own, first = flow.own(), flow(**flow.own())
    f = first.si

    def warmed(record: WaterFlow, system: str) -> str:
        r = record.si
        if not math.isfinite(r.oxygen):
            return record.sentence(system)
        return f"Such water holds {'less' if r.warm > f.warm else 'more'}, and you still leave as much for the fish: oxygen asks for {FLOW.text(r.oxygen, system)}, where it was {_was(f.oxygen, system)}."

    def aired(record: WaterFlow, system: str) -> str:
        r = record.si
        return (
            f"Oxygen asks for {_was(r.oxygen, system)} through the tank, where it was {_was(f.oxygen, system)}. {'Still' if r.governs == f.governs else 'Now'} **{r.governs}** asks for the most: "
            f"{_was(r.most, system)}."
        )

    def timed(record: WaterFlow, system: str) -> str:
        r, line = record.si, record.at
        same = "No need grows smaller" if line.duty < first.at.duty else "No need grows larger"
        return (
            f"{same}: the hour's water has to pass while the pump is on. {r.line[:1].upper()}{r.line[1:]} must bring {_was(line.wanted, system)}, where it was "
            f"{_was(first.at.wanted, system)}."
        )

    def alkaline(record: WaterFlow, system: str) -> str:
        r = record.si
        return f"{_poison(r, system)} That is {rounded(r.unionised / f.unionised, 2)} times as much poison in the same ammonia."

    def safer(record: WaterFlow, system: str) -> str:
        r = record.si
        return f"{_poison(r, system)} To hold so little, {FLOW.text(r.ammonia, system)} has to pass the {r.beds}; {FLOW.text(r.bed_flow, system)} comes."

    warm = flow.warmest - own["warmest"] > 0.5
    ph = _ALKALINE if own["ph"] < _ALKALINE - 0.2 else _MORE_SO
    of_all = water.unionised_ammonia.si(1.0, ph, own["warmest"])
    safe = min(own["ammonia_limit"] - _STEP, max(2 * _STEP, math.floor(f.harm / of_all / _STEP) * _STEP))
    air, on = 0.0 if own["aerated_share"] >= _HALF - 0.01 else _HALF, 3600.0 if own["minutes"] < _QUARTER + 30 else _QUARTER
    return [
        Try(f"{'Warmer' if warm else 'Cooler'} water: set *{{warmest.label}}* to **{{warmest}}**.",
            {"warmest": min(own["warmest"] + _WARMER, flow.warmest) if warm else own["warmest"] - _WARMER}, warmed),
        Try(f"{'Air stones' if air else 'No air stones'}: set *{{aerated_share.label}}* to **{{aerated_share}}**.", {"aerated_share": air}, aired),
        Try("Set *{minutes.label}* to **{minutes}**.", {"minutes": on}, timed),
        Try("Set *{ph.label}* to **{ph}**.", {"ph": ph}, alkaline),
        Try("At {ph.label} **{ph}**, lower the *{ammonia_limit.label}* to **{ammonia_limit}**.", {"ph": ph, "ammonia_limit": safe}, safer),
    ]  # fmt: skip


def _was(flow: float, system: str) -> str:
    return FLOW.text(flow, system) if math.isfinite(flow) else "more than any flow"


def _poison(r, system: str) -> str:
    """What of the ammonia allowed is poison, and whether gills bear it."""
    bears = "More than gills bear" if r.unionised > r.harm else "Gills bear that"
    return (
        f"{CONCENTRATION.text(r.unionised, system)} of the {CONCENTRATION.text(r.limit, system)} that you allow is poison. {bears}: they are hurt above "
        f"{CONCENTRATION.text(r.harm, system)}."
    )

"""What to try on the panel of notebook 10, and what to see in a build's own night."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

from aquaplumb.air.air_pumps import air_pump
from aquaplumb.system.air_plan import PUMP
from aquaplumb.units import AIR_FLOW, CONCENTRATION, STOCKING, TEMPERATURE, roughly
from aquaplumb.whatif.base import alike
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.night_air import Night, NightWhatIf

_STEP, _LATER, _LATEST = 300.0, 1.5, 5 * 3600.0  # s, of the slider; times the minutes without a spare; where it ends
_STONES, _BATTERIES = (2, 4, 6, 8, 10, 12, 16, 20), (7 * 3600.0, 12 * 3600.0, 20 * 3600.0, 40 * 3600.0, 80 * 3600.0)  # of a spare; A s
_UNFIT = ("air off the stones' range", "spare battery short")  # findings on a spare
_BETTER = 0.3e-3  # kg/m³ more of oxygen
_WARMER, _SHARE = 6.0, 0.5  # K more; of the depth, and of the battery that lasts until somebody comes


def of_night(night: NightWhatIf, none: str, help: str) -> list[Try]:
    """No spare (or one that lasts until somebody comes), a first air pump, hotter water, more fish, a dead water pump, shallow stones, a small battery."""
    own = night.own()
    f = night(**own).si
    spares = [name for name in night.spares if name != none and air_pump(name).si.supply == "battery"]

    def told(record: Night, system: str) -> str:
        return record.sentence(system).partition(" The air pump gives")[0].partition(" The spare gives")[0]

    def danger(r) -> str:
        within = "it holds" if not math.isfinite(r.left) else f"danger comes in **{roughly(r.left)}**"
        before = "it held" if not math.isfinite(f.left) else f"it came in {roughly(f.left)}"
        return f"With no spare {within}, where {before}"

    def hotter(record: Night, system: str) -> str:
        r = record.si
        full = f"Full water holds {CONCENTRATION.text(r.saturation, system)}, not {CONCENTRATION.text(f.saturation, system)}"
        takes = f"the fish take {CONCENTRATION.text(r.hourly, system)} out of it each hour, not {CONCENTRATION.text(f.hourly, system)}"
        return f"{full}, and {takes}. {danger(r)}."

    def more(record: Night, system: str) -> str:
        r = record.si
        begins = f"The night begins at {CONCENTRATION.text(r.start, system)}, not {CONCENTRATION.text(f.start, system)}"
        return f"{begins}. {danger(r)}."

    def shallow(record: Night, system: str) -> str:
        r = record.si
        blows = f"The air pump blows {AIR_FLOW.text(r.air_flow, system)}, where it blew {AIR_FLOW.text(f.air_flow, system)}"
        level = f"the water holds {CONCENTRATION.text(r.start, system)}, where it held {CONCENTRATION.text(f.start, system)}"
        return f"{blows}; yet {level}: a bubble that rises a shorter way gives less."

    tries = [Try("Take the spare away: set *{spare.label}* to **{spare}**.", {"spare": none}, told)]
    if own["spare"] == none:
        tries = [Try("Give it a spare: set *{spare.label}* to **{spare}**.", {"spare": name}, told) for name in spares[1:2] or spares]
    if f.response is None and math.isfinite(f.left):
        comes = {"help": help, "response": min(_STEP * math.ceil(_LATER * f.left / _STEP), _LATEST)}
        tries.insert(0, Try("Say when somebody comes: *{help.label}* **{help}**, *{response.label}* **{response}**.", comes, told))
        if good := _lasting(night, {**own, **comes}, spares):
            ask = (
                "Then, without *Start again*, take a spare that lasts so long: *{spare.label}* **{spare}**, *{battery.label}* **{battery}**, and under *more …* "
                "*{spare_stones.label}* **{spare_stones}**."
            )
            tries[1:] = [Try(ask, {**comes, **good}, told)]
    if own["pump"] == none and (name := _first_air(night, own, none)):
        tries.append(Try("Air every day: set *{pump.label}* to **{pump}**.", {"pump": name}, more))
    hot = min(own["temperature"] + _WARMER, max(TEMPERATURE.from_shown(36.0), night.build.site.si.coldest_water + 4))
    crowded = min(2 * own["density"], STOCKING.from_shown(60.0))
    if hot > own["temperature"] + 1:
        tries.append(Try("A hot week: set *{temperature.label}* to **{temperature}**.", {"temperature": hot}, hotter))
    if crowded > 1.1 * own["density"]:
        tries.append(Try("More fish: set *{density.label}* to **{density}**.", {"density": crowded}, more))
    if PUMP in night.supplies.failures and own["fails"] != PUMP:
        tries.append(Try("Something else fails: **{fails}**.", {"fails": PUMP}, told))
    if f.stones and own["depth"] > 0.25:
        tries.append(Try("Hang the stones higher: set *{depth.label}* to **{depth}**.", {"depth": _SHARE * own["depth"]}, shallow))
    if math.isfinite(f.ends) and f.response and not alike(f.ends, 0.0):
        small = own["battery"] * _SHARE * f.response / f.ends
        if small >= 3600.0:
            tries.append(Try("A smaller battery: set *{battery.label}* to **{battery}**.", {"battery": small}, told))
    return tries


def _lasting(night: NightWhatIf, own: dict, spares: list[str]) -> dict:
    """The smallest spare, fewest stones and smallest battery with which the fish live until somebody comes, by poor stones too, and that suit each other."""
    for name, stones in itertools.product(spares, _STONES):
        spare = {"spare": name, "spare_stones": stones}
        if not _lives(night(**{**own, **spare, "battery": _BATTERIES[-1]}).si):
            continue
        battery = next(size for size in _BATTERIES if _lives(night(**{**own, **spare, "battery": size}).si))
        return {**spare, "battery": battery}
    return {}


def _lives(r) -> bool:
    return r.least >= r.response and not any(f.name in _UNFIT for f in r.findings)


def _first_air(night: NightWhatIf, own: dict, none: str) -> str:
    """The smallest air pump with which the night begins plainly better."""
    before = night(**own).si.start
    return next((name for name in night.pumps if name != none and night(**{**own, "pump": name}).si.start > before + _BETTER), "")


def seen_in(r, system: str) -> str:
    """What to see in the picture of one night."""
    lines = "Blue is the oxygen; its pale band is how far print disagrees on what air stones bring."
    if r.spare:
        lines = "Blue is the oxygen with the spare; its pale band is how far print disagrees on what air stones bring. Grey is without the spare."
    end = "A green dot: somebody comes in time." if r.in_time else "A red-orange cross: the danger comes first."
    return f"{lines} It stands level until the failure, and then falls. Below {CONCENTRATION.text(r.critical, system)} is danger. {end}"


def differs(r, d, system: str) -> str:
    """Why a build's minutes are others than those of the guess."""

    def part(one) -> str:
        return (
            f"{CONCENTRATION.text(one.start - one.critical, system)} over the danger, of which the fish take "
            f"{CONCENTRATION.text(one.hourly, system)} an hour"
        )

    if r.start <= r.critical:
        return f"Yours are in danger with everything running: the oxygen settles at {CONCENTRATION.text(r.start, system)} after a meal."
    lasts = "Yours hold" if not math.isfinite(r.left) else f"Yours have **{roughly(r.left)}**"
    spare = (
        f" With your spare they have {roughly(r.lasts)}."
        if r.spare and math.isfinite(r.lasts)
        else " With your spare they hold."
        if r.spare
        else ""
    )
    if alike(r.left, d.left):
        return f"{lasts} too, if nothing takes over: {part(r)}.{spare}"
    return f"{lasts} if nothing takes over: {part(r)}. Those of the guess have {roughly(d.left)}: {part(d)}.{spare}"

"""What to try on the panel of notebook 00: another layout, more beds, rock under them, cold water, a high place."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from aquaplumb.build.layouts import LAYOUTS
from aquaplumb.units import CONCENTRATION, LENGTH, MASS, TEMPERATURE, VOLUME
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.start import FirstBuild, FirstWhatIf

_MANY, _FEW = 6, 1
_COLD = 273.15 + 11, 273.15 + 16  # K: water for trout
_HIGH, _LOW = 2000.0, 0.0  # m


def of_first(first: FirstWhatIf) -> list[Try]:
    """Each choice by itself, so that what it brings along is seen."""
    own = first.own()

    def before() -> FirstBuild:
        return first(**own)

    def another(record: FirstBuild, system: str) -> str:
        now, was = ([re.sub(r" \d+$", "", name) for name in one.si.build.vessels] for one in (record, before()))
        new = [kind for kind in dict.fromkeys(now) if kind not in was]
        gone = [kind for kind in dict.fromkeys(was) if kind not in now]
        pumps, had = (len(one.si.build.pumped) for one in (record, before()))
        told = [f"new: {', '.join(new)}"] * bool(new) + [f"gone: {', '.join(gone)}"] * bool(gone)
        told.append(f"{pumps} pump{'s' * (pumps > 1)}, where there {'were' if had > 1 else 'was'} {had}")
        return f"{'; '.join(told)}.".capitalize()

    def grown(record: FirstBuild, system: str) -> str:
        (fish, _), (was, _) = record.si.numbers, before().si.numbers
        return (
            f"Fish grow with the plants, which eat what they leave: {VOLUME.text(fish.tank_volume, system)} in the fish tank and {MASS.text(fish.biomass, system)} "
            f"of fish, where it was {VOLUME.text(was.tank_volume, system)} and {MASS.text(was.biomass, system)}."
        )

    def dug(record: FirstBuild, system: str) -> str:
        pit = record.si.ground.pit
        deep = (
            f"Its lowest vessel stands {LENGTH.text(pit, system)} in the ground: it has to be the lowest. "
            if pit
            else "Nothing of it stands in the ground. "
        )
        return deep + (record.si.unsuited or "It suits the place.")

    def lives(record: FirstBuild, system: str) -> str:
        build = record.si.build
        site = build.site.si
        now, was = build.fish.species, before().si.build.fish.species
        water = f"{TEMPERATURE.text(site.coldest_water, system)} to {TEMPERATURE.text(site.warmest_water, system)}"
        return f"In water of {water} the choice is {now}" + ("." if now == was else f", where it was {was}: water decides the fish.")

    def held(record: FirstBuild, system: str) -> str:
        now, was = record.si.oxygen, before().si.oxygen
        more = "more has to come from air stones" if now < was else "less has to come from air stones"
        return f"Full water holds {CONCENTRATION.text(now, system)} of oxygen, where it was {CONCENTRATION.text(was, system)}: {more}."

    two, one = LAYOUTS[1], LAYOUTS[0]
    return [
        Try("Change the *{layout.label}* to **{layout}**.", {"layout": one if own["layout"] == two else two}, another),
        Try("Change *{beds.label}* to **{beds}**.", {"beds": _MANY if own["beds"] < _MANY - 1 else _FEW}, grown),
        Try("Rock, or a roof: untick *{may_dig.label}*.", {"may_dig": False}, dug),
        Try(
            "Cold water: *{coldest.label}* **{coldest}**, *{warmest.label}* **{warmest}**.", dict(zip(("coldest", "warmest"), _COLD)), lives
        ),
        Try("Set *{altitude.label}* to **{altitude}**.", {"altitude": _HIGH if own["altitude"] < 0.9 * _HIGH else _LOW}, held),
    ]

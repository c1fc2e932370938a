"""What to try on the panel of notebook 02: smaller beds, heavier and smoother media, cold water, another crop."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from aquaplumb import tables
from aquaplumb.units import AREA, FLOOR_LOAD, MASS, rounded
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.beds_media import BedsMedia, BedsWhatIf

_HEAVY, _LIGHT, _SMOOTH = "pea gravel 12 mm", "expanded clay 8-16 mm", "bottle caps"
_LEAF, _FRUIT = "lettuce", "tomato"
_COLD, _COLDEST, _COLDER = 273.15 + 14, 273.15 + 5, 4.0  # K: spring water; where the slider ends; less than now, at the least


def of_beds(beds: BedsWhatIf) -> list[Try]:
    """Another size; where there are media, heavier and smoother ones; a low rate in the cold; and another crop."""
    own, first = beds.own(), beds(**beds.own())
    f = first.si

    def sized(record: BedsMedia, system: str) -> str:
        r = record.si
        same = "As many sites as before, so as many plants. " if math.isclose(r.area, f.area, rel_tol=1e-6) else ""
        return f"{same}{AREA.text(r.area, system)} to plant in {r.words}; {record.feeds(system)}. {record.lives(system)}."

    def weighed(record: BedsMedia, system: str) -> str:
        r = record.si
        lead = f"**{r.trouble}** " if r.trouble else ""
        return (
            f"{lead}The media weigh {_times(r.mass_media, f.mass_media)}, the whole {r.kind} {_times(r.mass, f.mass)}: {MASS.text(r.mass, system)}, where it was "
            f"{MASS.text(f.mass, system)}. Its floor has to bear {FLOOR_LOAD.text(r.load, system)}."
        )

    def smooth(record: BedsMedia, system: str) -> str:
        r = record.si
        grown = f"Less surface, so the calculated minimum is {_times(r.minimum, f.minimum)}. " if f.minimum > 0 else ""
        return f"{grown}{record.lives(system)}."

    def cold(record: BedsMedia, system: str) -> str:
        r = record.si
        lead = f"**{r.trouble}** " if r.trouble else ""
        return f"{lead}The film turns less, so the bacteria need {_times(r.needed, f.needed)}. {record.lives(system)}."

    def grown(record: BedsMedia, system: str) -> str:
        r = record.si
        more = "more" if r.feed_per_area > f.feed_per_area else "less"
        stand = ""  # in towers and channels plants stand as wide as the crop wants, on the same sites
        if not math.isclose(r.area, f.area, rel_tol=1e-3):
            stand = f" On the same sites its plants take {AREA.text(r.area, system)}, where it was {AREA.text(f.area, system)}."
        return (
            f"{r.crop[:1].upper()}{r.crop[1:]} takes {more} feed on each piece of ground: your feed supports {AREA.text(r.area_needed, system)} of it, where it was "
            f"{AREA.text(f.area_needed, system)} of {f.crop}.{stand}"
        )

    size = beds.sizes[0]
    low = next(control for control in beds.controls() if control.name == size).ends()[0]
    smaller = 0.5 * own[size] >= low
    tries = [
        Try(
            f"{'Half' if smaller else 'Twice'} the {size}: set *{{{size}.label}}* to **{{{size}}}**.",
            {size: own[size] * (0.5 if smaller else 2)},
            sized,
        )
    ]
    if beds.media:
        media = beds.build.choice("media")
        heavy = _LIGHT if "gravel" in own["medium"] else _HEAVY
        tries += [Try("Another medium: choose **{medium}**.", {"medium": heavy}, weighed)] if heavy in media else []
        tries += [Try("And **{medium}**.", {"medium": _SMOOTH}, smooth)] if _SMOOTH in media and own["medium"] != _SMOOTH else []
    fruit = _LEAF if tables.row("crops", own["crop"]).si.group == "fruiting" else _FRUIT
    usual = tables.row("crops", fruit).si.feed_per_area_typical
    return [
        *tries,
        Try("Count on a **{rate}** rate, and let the *{cold.label}* be **{cold}**.",
            {"rate": "low", "cold": max(_COLDEST, min(_COLD, own["cold"] - _COLDER))}, cold),
        Try("Choose **{crop}**, and set *{feed_per_area.label}* to **{feed_per_area}**.", {"crop": fruit, "feed_per_area": usual}, grown),
    ]  # fmt: skip


def _times(now: float, was: float) -> str:
    return f"{rounded(now / was, 2)} times as much" if was > 0 else "as little"

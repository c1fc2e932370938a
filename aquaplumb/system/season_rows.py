"""What a review says of a year: (name, kind, bare value, formula, source) of each number of each month, and its nitrogen."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from aquaplumb.build.seasons import MONTHS
from aquaplumb.system.heat_plan import HeatPlan
from aquaplumb.system.season import MONTH_OF, SeasonRun
from aquaplumb.system.season_nitrogen import NitrogenYear
from aquaplumb.units import CONCENTRATION, DAYS, MASS, MASS_RATE, NUMBER, POWER, SHARE, TEMPERATURE, VOLUME

_STILL = 0.02  # of usual growth: under it nobody waits for a crop


def month_rows(run: SeasonRun, air: Sequence[HeatPlan] = ()) -> Iterator[tuple[str, list[tuple]]]:
    """Each month by its name, with its numbers: the most of each on any day of it; `air` has what goes to its mean air."""
    n, most = run.nitrogen, run.by_month
    grown, out = "Iwama and Tautz (1981); data/growth.csv, data/feeding.csv", dict[int, list]()
    for one in run.cohorts:
        if one.goes >= 0:
            out.setdefault(int(MONTH_OF[one.goes]), []).append(one)
    strain = {name: most(one) for name, one in run.strain.items()}
    for month, name in enumerate(MONTHS):
        yield name, [
            ("water", TEMPERATURE, float(run.water[month == MONTH_OF].mean()), "the build file", "the build file"),
            ("fish", MASS, most(run.biomass)[month], "(mass^⅓ + coefficient × °C × days)³ × count", grown),
            ("feed", MASS_RATE, most(run.feed)[month], "biomass × rate of their size × appetite", "data/feeding.csv"),
            ("ammonia", MASS_RATE, most(run.ammonia)[month], "0.092 × feed × protein", "Timmons & Ebeling, Recirculating Aquaculture"),
            *((f"asked of {what}", SHARE, each[month], "what is asked / what can be done", "mass balance") for what, each in strain.items()),
            ("nitrate at its end", CONCENTRATION, n.nitrate[month], "made − taken by plants − changed, from none in January", "mass balance"),
            ("fish to take out", NUMBER, sum(one.count for one in out.get(month, [])), "the build file", "the build file"),
            ("their mass", MASS, sum(one.count * one.last_mass for one in out.get(month, [])), "count × mass of one", grown),
            *_to_air(air[month] if air else None),
            *_of_plants(run, month),
            ("plants to cut", NUMBER, math.floor(run.plants_cut[month]), "plants × days / days of a crop", "definition"),
        ]  # fmt: skip


def _of_plants(run: SeasonRun, month: int) -> list[tuple]:
    """What a month's air and sun leave of the plants' growth."""
    if not run.by_weather:
        return []
    share, takes = run.mean_of(run.grows)[month], run.mean_of(run.takes)[month]
    stands = (
        [("a crop stands", DAYS, run.stands / share, "its usual time / that share", "definition")] if run.stands and share > _STILL else []
    )
    return [
        ("plants grow", SHARE, share, "air over its base, sun over enough: the least", "data/cropgrowth.csv"),
        ("feed they can take", MASS_RATE, takes, "area × feed per area × that share", "FAO 589 (2014) §2.1.4, §8.1; Rakocy 2007"),
        *stands,
    ]


def _to_air(plan: HeatPlan | None) -> list[tuple]:
    """What a month's mean air takes of the water, and of its heat."""
    if plan is None:
        return []
    return [
        ("air", TEMPERATURE, plan.air, "the build file", "the build file"),
        ("evaporates a day", VOLUME, plan.evaporation * 86400 / 1000, "vapour pressures, at the month's mean", "ASHRAE, natatoriums"),
        ("heat to keep that water warm", POWER, max(0.0, plan.loss), "surface, lids and walls, at the month's mean", "ASHRAE, ISO 6946"),
    ]


def nitrogen_rows(n: NitrogenYear) -> list[tuple]:
    """Where the year's nitrogen goes: (name, label, kind, bare value, formula, source)."""
    fao, rest = "FAO 589 (2014) app. 4", "mass balance"
    return [
        ("feed", "in the feed, all as N", MASS, n.feed.sum(), "0.16 × feed × protein", fao),
        ("fish", "kept by the fish", MASS, n.fish.sum(), "0.30 × that in the feed", fao),
        ("solids", "in the solids", MASS, n.solids.sum(), "feed − fish − ammonia", rest),
        ("plants", "taken by the plants", MASS, n.plants.sum(), "0.43 g/m²/d of grown ones, no more than there is", "Graber and Junge (2009)"),
        ("changed", "let out with changed water", MASS, n.changed.sum(), "mixed through", rest),
        ("left", "left in the water as nitrate", MASS, n.left[-1], "what is left", rest),
    ]  # fmt: skip

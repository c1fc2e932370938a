"""What if fish came at another time, or more of them? The second what-if of notebook 01: a year of growth, feed and harvest.

    season.panel(my_build())

A build without a season is shown one of its own fish: as many, a tenth as heavy in spring, taken out when they weigh what the file
says. A Keep then writes [season] in place of [fish].
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.build import Build
from aquaplumb.build.file_text import written
from aquaplumb.build.seasons import BEGINS, MONTHS, NEXT, YEAR, Cohort, Season, day_text
from aquaplumb.figures.season import SeasonPicture
from aquaplumb.review.findings import found
from aquaplumb.system.season import HARDLY, SeasonRun
from aquaplumb.system.steady import Steady, solved
from aquaplumb.units import (
    BODY_MASS,
    MASS,
    NUMBER,
    SHARE,
    TEMPERATURE,
    BodyMass,
    Concentration,
    Mass,
    Number,
    Record,
    Stocking,
)
from aquaplumb.whatif.base import Choice, Slider, listed
from aquaplumb.whatif.fish_tries import of_year
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

RIPE = "when they weigh enough"
_YOUNG, _LIGHTEST = 0.1, 0.001  # of the harvest mass, kg: how heavy fish come where the file has grown ones only
_SPRING = BEGINS[3]
_MOST_FISH = 500


class Year(Record):
    """A year of a build; arrays hold its days. `beds` and `air` are what is asked over what can be done, of
    what the bacteria live on (`living`, in words) and of the air; `asks` says in words what the worst month does."""

    stock: str
    biomass: Mass
    beds: Number
    air: Number
    month: str
    day: Number
    most: Number
    asks: str
    living: str
    last_mass: BodyMass
    goes: str
    ripe: bool
    density: Stocking
    nitrate: Concentration
    out: Mass
    plants: Number
    lean: str
    lean_share: Number
    works: bool
    ruler: Mass
    findings: tuple = ()

    def sentence(self, system: str = "metric") -> str:
        """The outcome: the worst month, and what is taken out."""
        r = self.si
        lead = "" if r.works else "**Too much.** "
        ripe = "" if r.ripe else ", short of their harvest mass"
        plants = f" and {r.plants:,.0f} plants" if r.plants else ""
        part = SHARE.text(r.lean_share) if r.lean_share >= HARDLY else "none"
        lean = f" In **{r.lean}** plants can take **{part}** of the feed, the least of the year." if r.lean else ""
        return (
            f"{lead}**{r.month}** asks the most: {r.asks}. "
            f"{r.stock} weigh {BODY_MASS.text(r.last_mass, system)} on {r.goes}{ripe}; a year brings {MASS.text(r.out, system)} of fish{plants}.{lean}"
        )


class SeasonWhatIf(WhatIf):
    """When fish come and leave, how many, and how warm the water is in winter and in summer."""

    drawn, page, keep_label, pick, through_year = SeasonPicture, "01", "Keep this year in my build", "stock", True

    def __init__(self, build: Build):
        super().__init__(build)
        self.season = _season(build)
        self.whole = build.with_season(self.season)
        self.named = {one.si.name: one for one in self.season.cohorts}
        self.ruler = 0.0
        self.ruler = float(self(**self.own()).si.biomass.max()) * 2 or 1.0

    def own(self, stock: str | None = None) -> dict:
        one = self.named[stock or next(iter(self.named))].si
        water = self.season.si.temperature
        return {
            "stock": one.name, "count": one.count, "body_mass": one.body_mass, "arrives": day_text(one.comes),
            "leaves": _leaves(one) if one.leaves else RIPE,
            "harvest": one.harvest_mass or max(self._last(one.name), 1.5 * one.body_mass), "cold": min(water), "warm": max(water),
        }  # fmt: skip

    def _last(self, stock: str) -> float:
        """What the fish of a stock weigh when they leave as the build has it, to ten grams."""
        run = solved(self.whole).season
        last = next(one.last_mass for one in run.cohorts if one.name == stock) if run else 0.0
        return round(last, 2)

    def _changed(self, count, body_mass, arrives, leaves, harvest, cold, warm, stock: str = "") -> Season:
        """The season with the sliders' values in it."""
        season, one = self.season, self.named[stock or next(iter(self.named))]
        comes = _day(arrives)
        if leaves == RIPE:
            goes, text, ripe = comes + 3 * YEAR, "", max(harvest, 1.01 * body_mass)
        else:
            goes, ripe = (
                _day(leaves.removesuffix(NEXT)) + YEAR * leaves.endswith(NEXT),
                None if one.si.harvest_mass is None or not one.si.leaves else one.si.harvest_mass,
            )
            text = leaves if goes > comes else f"{leaves}{NEXT}"
            goes += 0 if goes > comes else YEAR
        moved = one.with_si(
            count=float(count), body_mass=body_mass, arrives=day_text(comes), comes=comes, leaves=text, goes=goes, harvest_mass=ripe
        )
        water, old = np.array(season.si.temperature), season.si.temperature
        cold, warm = sorted((cold, warm))
        span = max(old) - min(old)
        water = cold + (water - min(old)) * (warm - cold) / span if span > 0 else np.linspace(cold, warm, 12)
        cohorts = tuple(moved if other.si.name == one.si.name else other for other in season.cohorts)
        return season.with_si(temperature=tuple(float(t) for t in water), cohorts=cohorts)

    def __call__(self, count, body_mass, arrives, leaves, harvest, cold, warm, stock: str = "") -> Year:
        stock = stock or next(iter(self.named))
        system = Steady(self.whole.with_season(self._changed(count, body_mass, arrives, leaves, harvest, cold, warm, stock)))
        run = system.season
        assert run is not None
        one = next(one for one in run.cohorts if one.name == stock)
        air = np.max([strain for what, strain in run.strain.items() if what != run.living], axis=0)
        month, part = run.lean or (0, 1.0)
        return Year.from_si(
            stock=one.species.name[:1].upper() + one.species.name[1:] + (f" ({stock})" if stock != "fish" else ""), biomass=run.biomass, beds=run.strain[run.living], air=air, month=MONTHS[run.month], day=float(run.day), most=run.most,
            asks=run.asks(f"**{SHARE.text(run.most)}**"), living=run.living, last_mass=one.last_mass, goes=_left(one), ripe=one.ripe, density=max(float(t.density.max()) for t in run.tanks.values()),
            nitrate=float(run.nitrogen.nitrate.max()), out=_taken_out(run), plants=float(run.plants_cut.sum()), lean=MONTHS[month] if run.lean else "", lean_share=part, works=run.most <= 1.0,
            ruler=self.ruler, findings=tuple(f for f in found(system) if f.notebook == "01" and f.name != "worst month of the year"),
        )  # fmt: skip

    def controls(self) -> list:
        site, own = self.whole.all_year.si, self.own()
        days = [day_text(begin + half) for begin in BEGINS for half in (0, 14)]
        arrives, leaves = list(days), [RIPE, *days]
        for one in self.named:
            mine = self.own(one)
            arrives += [mine["arrives"]] if mine["arrives"] not in arrives else []
            leaves += [mine["leaves"]] if mine["leaves"] not in leaves else []
        coldest, warmest = TEMPERATURE.shown(min(own["cold"], site.coldest_water)), TEMPERATURE.shown(max(own["warm"], site.warmest_water))
        water = (f"{min(4.0, math.floor(coldest)):g} degC", f"{max(34.0, math.ceil(warmest)):g} degC", "0.5 degC")
        return [
            *([Choice("stock", "which fish", list(self.named), kept=False)] if len(self.named) > 1 else []),
            Slider("count", "fish that come", NUMBER, 1, max(_MOST_FISH, *(2 * one.si.count for one in self.named.values())), 1, whole=True, tip="each year", key="fish.count"),
            Slider("body_mass", "each weighs then", BODY_MASS, "1 g", "500 g", "1 g", tip="weigh thirty of them", key="fish.body_mass"),
            Choice("arrives", "they come on", arrives),
            Choice("leaves", "they leave", leaves, tip="of the next year, where that comes first"),
            Slider("harvest", "weight at harvest", BODY_MASS, "20 g", "3000 g", "10 g", of="leaves", highs={RIPE: "3000 g"}, key="season.stocks.*.harvest_mass"),
            Slider("cold", "coldest month's water", TEMPERATURE, *water, tip="its mean", key="site.coldest_water"),
            Slider("warm", "warmest month's water", TEMPERATURE, *water, tip="its mean", key="site.warmest_water"),
        ]  # fmt: skip

    def tries(self) -> list[Try]:
        return of_year(self)

    def changes(self, values: Values) -> dict[tuple, object]:
        stock, moved = values.get("stock") or next(iter(self.named)), self.moved(values)
        names = ("count", "body_mass", "arrives", "leaves", "harvest", "cold", "warm")
        season = self._changed(**{name: values[name] if name in values else self.own(stock)[name] for name in names}, stock=stock)
        if not (self.build.season and self.build.season.cohorts):
            old: dict[tuple, object] = {(key,): None for key in ("fish", "stocks") if self.build.value(key) is not None}
            return {**old, ("season",): _section(season)}
        kept: dict[tuple, object] = {}
        if {"cold", "warm"} & set(moved):
            kept["season", "temperature"] = _water(season)
        if set(moved) - {"cold", "warm", "stock"}:
            told = _stock(next(one for one in season.cohorts if one.si.name == stock))
            had = _stock(self.named[stock])
            kept |= {("season", "stocks", stock, key): told.get(key) for key in {**had, **told} if told.get(key) != had.get(key)}
        return kept

    def about(self, values: Values) -> tuple:
        return (("season", "stocks", values["stock"]), ("season", "temperature")) if "stock" in values else ((),)

    def told(self, new: dict, values: Values) -> str:
        if any(key == ("season",) for key in new):
            return "the year, in place of the fish that were there all the time"
        return listed({key: value for key, value in new.items() if not isinstance(value, list)}, "the water of the year")


def _season(build: Build) -> Season:
    """The season of a build, its own fish growing up in it where it has none that come and leave."""
    site, season = build.site.si, build.season
    if season is not None and season.cohorts:
        return season
    system = solved(build)
    cohorts = []
    for name, one in system.stocks.items():
        s = one.stock
        cohorts.append(Cohort.from_si(
            name=name, tank=s.tank or build.of_kind("fish tank")[0].si.name, species=s.species, count=max(1.0, round(one.count)),
            body_mass=max(_LIGHTEST, round(_YOUNG * s.body_mass, 3)), protein=s.protein, arrives=day_text(_SPRING), comes=_SPRING, goes=_SPRING + 3 * YEAR,
            harvest_mass=s.body_mass,
        ))  # fmt: skip
    if season is not None:
        return season.with_si(cohorts=tuple(cohorts))
    cold, warm = site.coldest_water, site.warmest_water
    south = build.power is not None and (build.power.si.latitude or 0.0) < 0
    wave = (warm - cold) / 2 * np.cos(2 * np.pi * np.arange(12) / 12)
    return Season.from_si(temperature=tuple(float(t) for t in (warm + cold) / 2 + (wave if south else -wave)), cohorts=tuple(cohorts))


def _leaves(one) -> str:
    """The day on which a bare cohort leaves, and that it is in the next year where that day comes twice before."""
    return day_text(one.goes % YEAR) + (NEXT if one.goes >= YEAR and one.goes % YEAR > one.comes else "")


def _left(one) -> str:
    """The day on which fish of a solved year are taken out, with its year where that is not the one in which they came."""
    years = (one.day[0] + len(one.day)) // YEAR
    return day_text(one.goes) + (f" of the{NEXT}" if years == 1 else f", {years} years later" if years else "")


def _taken_out(run: SeasonRun) -> float:
    return sum(one.count * one.last_mass for one in run.cohorts if one.goes >= 0)


def _day(text: str) -> int:
    number, month = text.split()
    return BEGINS[MONTHS.index(month)] + int(number) - 1


def _water(season: Season) -> list[str]:
    return [f"{t - 273.15:.6g} degC" for t in season.si.temperature]


def _section(season: Season) -> dict[str, object]:
    """A whole [season] as a file has it."""
    return {"temperature": _water(season), "stocks": {one.si.name: _stock(one) for one in season.cohorts}}


def _stock(one: Cohort) -> dict[str, object]:
    c = one.si
    told = {
        "tank": c.tank, "species": c.species, "arrives": c.arrives, "leaves": c.leaves or None, "count": round(c.count),
        "body_mass": written(BODY_MASS.quantity(c.body_mass).to("g")),
        "harvest_mass": None if c.harvest_mass is None else written(BODY_MASS.quantity(c.harvest_mass).to("g")),
        "protein": c.protein, "growth": c.growth,
    }  # fmt: skip
    return {key: value for key, value in told.items() if value is not None}


year, picture, panel = SeasonWhatIf.as_built, SeasonWhatIf.picture, SeasonWhatIf.panel

"""What if more fish, bigger ones, or another kind? Notebook 01.

    build = my_build()
    fish_load.picture(build)      # what becomes of a day's feed, as streams to scale
    fish_load.panel(build)        # with sliders

The whole system is solved anew at each move, so that fish who need more water than the pump brings show at once.
"""

from __future__ import annotations

import math

from aquaplumb import fish
from aquaplumb.build import Build
from aquaplumb.build.shapes import SIZES
from aquaplumb.build.vessels import water_volume
from aquaplumb.figures.fish_load import FeedFlow, StockPicture
from aquaplumb.fish.feeding import WEIGHED
from aquaplumb.review.findings import found
from aquaplumb.review.findings.stock import AIRED_LIMIT, UNAIRED_LIMIT
from aquaplumb.system.steady import Steady
from aquaplumb.system.stock_loads import strictest
from aquaplumb.units import (
    BODY_MASS,
    LENGTH,
    MASS_RATE,
    RATE,
    SHARE,
    STOCKING,
    TEMPERATURE,
    TIME,
    BodyMass,
    Mass,
    MassRate,
    Number,
    Rate,
    Record,
    Stocking,
    Temperature,
    Time,
    Volume,
)
from aquaplumb.whatif.base import Choice, Slider, keys_of
from aquaplumb.whatif.fish_tries import of_stock
from aquaplumb.whatif.stocks import many, spoken_of, which
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

_DANGER = 3e-3  # kg/m³ of oxygen, where the species table has none; the commonest value in it
_STOCK = ("species", "density", "body_mass", "feeding_rate", "protein")


class FishLoad(Record):
    """The fish of the heaviest day, and what their feed becomes. Ammonia is as N, solids are dry.

    `rest` is growth and water: all that goes in (feed and oxygen) less all else that comes out. `minutes` is how long
    the oxygen of full, warmest water lasts after a meal when nothing moves. `eaten_low` and `eaten_high` are what
    print has such fish eat. `solids_go` is where the solids end, `bacteria` what those live on that turn ammonia. `limit` and `most` are the densities for simple and for strong aeration.
    """

    species: str
    density: Stocking
    body_mass: BodyMass
    feeding_rate: Rate
    protein: Number
    warm: Temperature
    volume: Volume
    biomass: Mass
    count: Number
    feed: MassRate
    oxygen: MassRate
    carbon_dioxide: MassRate
    solids: MassRate
    ammonia: MassRate
    rest: MassRate
    eaten_low: Rate
    eaten_high: Rate
    minutes: Time
    limit: Stocking
    most: Stocking
    works: bool
    trouble: str
    all_feed: MassRate = 0.0
    solids_go: str = "settle in the beds; worms eat them"
    bacteria: str = "the media"
    first: object = None
    findings: tuple = ()

    def sentence(self, system: str = "metric") -> str:
        """The outcome in two sentences."""
        r = self.si
        lead = f"**{r.trouble}** " if r.trouble else ""
        others = f"; all fish together eat {MASS_RATE.text(r.all_feed, system)}" if r.all_feed > 1.001 * r.feed else ""
        return (
            f"{lead}**{MASS_RATE.text(r.feed, system)} of feed** on the heaviest day, for {round(r.count):,} fish of {BODY_MASS.text(r.body_mass, system)}{others}. "
            f"Should pump and air stop after a meal, the fish have **{TIME.text(r.minutes, system)}** at best, from water full of oxygen."
        )


def _load(system: Steady, first: dict | None = None) -> FishLoad:
    """The fish load of a solved system: of the stock that its build speaks of."""
    several, site = system.build.several, system.build.site.si
    f = system.stocks[system.build.fish.si.name or "fish"]
    tank, stock, kind = system.tanks[f.tank], f.stock, f.species
    eaten = fish.feeding_rate.si(
        min(max(stock.body_mass, WEIGHED[0]), WEIGHED[1]), species=stock.species, temperature=site.warmest_water
    ).si
    danger = strictest(tank.stocks, "oxygen_critical").oxygen_critical or _DANGER
    breathed = tank.fed_oxygen + tank.dirt_oxygen
    spare = max(0.0, system.need.saturation - danger) * tank.volume
    seen = tuple(found(system))
    mine = [one for one in seen if not several or one.where in (f.name, f.tank) or kind.name in one.sentence]
    own = [one.name for one in mine if one.notebook == "01" and one.severity in ("stop", "fix")]
    density = tank.density if several else stock.density
    carbon_dioxide, solids = fish.carbon_dioxide_production.si(f.oxygen), fish.solids_production.si(f.feed)
    trouble = ""
    if "temperature out of range" in own:
        trouble = "Too warm." if site.warmest_water > kind.survive_high else "Too cold."
    elif "density over limit" in own:
        trouble = "Too many fish." if density > AIRED_LIMIT else "Crowded: needs strong air and a backup."
    elif "feed too heavy" in own:
        trouble = "Too much feed."
    record = {
        "species": stock.species, "density": density, "body_mass": stock.body_mass, "feeding_rate": stock.feeding_rate, "protein": stock.protein,
        "warm": site.warmest_water, "volume": tank.volume, "biomass": f.biomass, "count": f.count, "feed": f.feed, "oxygen": f.oxygen,
        "carbon_dioxide": carbon_dioxide, "solids": solids, "ammonia": f.ammonia,
        "rest": max(0.0, f.feed + f.oxygen - carbon_dioxide - solids - f.ammonia),  # under nothing they burn their own flesh
        "eaten_low": eaten.low, "eaten_high": eaten.high, "minutes": spare / breathed if breathed > 0 else math.inf,
        "limit": UNAIRED_LIMIT, "most": AIRED_LIMIT, "works": not trouble, "trouble": trouble, "findings": seen,
        "all_feed": system.fish.feed,
        "solids_go": _solids_go(system), "bacteria": "the media" if any(v.media for v in system.build.growing) else "all that is wet",
    }  # fmt: skip
    return FishLoad.from_si(**record, first=first or {k: record[k] for k in ("density", "biomass", "feed", "oxygen", "ammonia")})


def _solids_go(system: Steady) -> str:
    """Where the solids end, in a few words."""
    if any(v.media for v in system.build.growing):
        return "settle in the beds; worms eat them"
    return "are for the filter to take out" if any(f.solid for f in system.filters.values()) else "nothing takes out"


class FishWhatIf(WhatIf):
    """Another stock of fish, feed and tank. Of the tank the length or diameter changes: its volume follows, and no water level moves."""

    drawn, still, page, keep_label, pick = StockPicture, FeedFlow, "01", "Keep this fish load", "stock"
    case, case_us = {"density": 15.5}, {"density": 15.35}  # feed of 200 g a day, or of 7 oz

    def __init__(self, build: Build):
        super().__init__(build)
        self.first = {name: _load(Steady(build.speaking_of(name))).si.first for name in build.stocks}

    def _tank(self, build: Build):
        """The tank of the stock that is spoken of, and what of it a slider moves."""
        tank = build.vessels[build.fish.si.tank] if build.fish.si.tank else build.of_kind("fish tank")[0]
        return tank, SIZES[tank.si.shape][0]

    def own(self, stock: str | None = None) -> dict:
        build = spoken_of(self.build, stock)
        tank, size = self._tank(build)
        fish = {name: getattr(build.fish.si, name) for name in _STOCK}
        return {**fish, "stock": build.fish.si.name, "warm": build.site.si.warmest_water, "size": getattr(tank.si, size)}

    def __call__(self, warm: float, size: float, stock: str = "", **fish) -> FishLoad:
        build = spoken_of(self.build, stock)
        tank, side = self._tank(build)
        changed = build.replaced(
            fish=build.fish.with_si(**fish, count=None),
            site=build.site.with_si(warmest_water=warm),
            vessels=[tank.with_si(**{side: size})],
        )
        return _load(Steady(changed), self.first[build.fish.si.name or "fish"])

    def controls(self) -> list:
        coldest = math.ceil(2 * TEMPERATURE.shown(self.build.site.si.coldest_water)) / 2
        sides = dict.fromkeys(self._tank(self.build.speaking_of(name))[1] for name in self.build.stocks)
        told = not (self.build.season and self.build.season.cohorts)  # else they grow by themselves, and eat as their size asks
        return [
            *which(self.build),
            Choice("species", "fish", sorted(self.build.choice("species"))),
            Slider("density", "stocking density", STOCKING, "2 kg/m3", "80 kg/m3", "0.5 kg/m3", us=("0.02 lb/gal", "0.66 lb/gal", "0.005 lb/gal"), tip="on the heaviest day", key="fish.density"),
            Slider("body_mass", "mass of a fish", BODY_MASS, "20 g", "1500 g", "10 g", tip="at harvest", kept=told, key="fish.body_mass"),
            Slider("feeding_rate", "feeding rate", RATE, "0.2 %/d", "5 %/d", "0.1 %/d", tip="feed a day as a share of the fish's mass", kept=told, key="fish.feeding_rate"),
            Slider("protein", "protein in feed", SHARE, "20 %", "55 %", "1 %", tip="the sack says it", key="fish.protein"),
            Slider("warm", self.warm_water, TEMPERATURE, f"{coldest:g} degC", f"{max(36.0, coldest + 2):g} degC", "0.5 degC", tip="in the hottest week", key="site.warmest_water"),
            Slider("size", f"tank {' or '.join(sides)}", LENGTH, "0.5 m", "3 m", "0.05 m", tip="its water depth stays"),
        ]  # fmt: skip

    def tries(self) -> list[Try]:
        return of_stock(self)

    def look(self, record: FishLoad, system: str) -> str:
        r = record.si
        return (
            "Feed and oxygen go in; each stream is as wide as its mass. Carbon dioxide leaves where water splashes. **Solids**, which "
            f"{r.solids_go.partition(';')[0]}, are droppings and dust; what stays in the tank rots there, and that takes oxygen. The thinnest stream, "
            f"{MASS_RATE.text(r.ammonia, system)}, is ammonia: bacteria on {r.bacteria} turn it to **nitrate**, which plants eat. Feed is counted as it "
            "comes from the sack, solids dry, ammonia as its nitrogen (N)."
        )

    def against(self, record: FishLoad, demo: FishLoad, system: str) -> str:
        yours, theirs = (f"{100 * one.si.ammonia / one.si.feed:.1f} parts in 100" if one.si.feed > 0 else "" for one in (record, demo))
        sack, guessed = record.si.protein, demo.si.protein
        eat = f"Your fish eat {MASS_RATE.text(record.si.feed, system)} of feed with {SHARE.text(sack)} protein"
        if not yours:
            return "Your fish get no feed: what leaves them is their own flesh."
        if abs(sack - guessed) < 0.005:
            return f"{eat}, as in the guess: {yours} leave as ammonia here too. More feed makes more of it, in step."
        return f"{eat}, where the guess has {SHARE.text(guessed)}: {yours} leave as ammonia, where it was {theirs}."

    def changes(self, values: Values) -> dict[tuple, object]:
        build, moved = spoken_of(self.build, values.get("stock")), self.moved(values)
        tank, size = self._tank(build)
        keys = {
            **{name: build.fish_key(name) for name in _STOCK},
            "warm": ("site", "warmest_water"),
            "size": ("vessels", tank.si.name, size),
        }
        grow = bool(build.season and build.season.cohorts)
        for name in (*(["density"] if build.fish.si.count is not None else []), *(["body_mass", "feeding_rate"] if grow else [])):
            del keys[name]
        kept: dict[tuple, object] = {keys[name]: values.text(name) for name in moved if name in keys}
        if {"density", "size", *(() if grow else ("body_mass",))} & set(moved):
            wide = tank.with_si(**{size: values["size"]})
            kept |= many(
                build,
                values["density"],
                water_volume.si(wide, wide.si.working_depth),
                build.fish.si.body_mass if grow else values["body_mass"],
            )
        return kept

    def about(self, values: Values) -> tuple:
        return (("stocks", values["stock"]), ("site",), ("vessels",)) if "stock" in values else ((),)

    def told(self, new: dict, values: Values) -> str:
        return keys_of(new)


load_of, picture, panel, sight = FishWhatIf.as_built, FishWhatIf.picture, FishWhatIf.panel, FishWhatIf.sight

"""What if more fish, bigger ones, or another kind? Notebook 01.

    build = my_build()
    fish_load.picture(build)      # what becomes of a day's feed, as streams to scale
    fish_load.panel(build)        # with sliders

The whole system is solved anew at each move, so that fish who need more water than the pump brings show at once.
"""

from __future__ import annotations

import math

from aquaplumb import fish, tables
from aquaplumb.build import Build
from aquaplumb.figures.fish_load import FeedFlow, StockPicture
from aquaplumb.review.findings import found
from aquaplumb.review.findings.stock import AIRED_LIMIT, UNAIRED_LIMIT
from aquaplumb.system.steady import Steady
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
from aquaplumb.whatif.base import Choice, Keeper, Panel, Slider, keys_of, worst, written

_DANGER = 3e-3  # kg/m³ of oxygen, where the species table has none; the commonest value in it
_WEIGHED = (0.001, 3.0)  # kg: the fish that data/feeding.csv knows


class FishLoad(Record):
    """The fish of the heaviest day, and what their feed becomes. Ammonia is as N, solids are dry.

    `rest` is growth and water: all that goes in (feed and oxygen) less all else that comes out. `minutes` is how long
    the oxygen of full, warmest water lasts after a meal when nothing moves. `eaten_low` and `eaten_high` are what
    print has such fish eat. `limit` and `most` are the densities for simple and for strong aeration.
    """

    species: str
    density: Stocking
    body_mass: BodyMass
    feeding_rate: Rate
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
    first: object = None
    findings: tuple = ()

    def sentence(self, system: str = "metric") -> str:
        """The outcome in two sentences."""
        r = self.si
        lead = f"**{r.trouble}** " if r.trouble else ""
        return (
            f"{lead}**{MASS_RATE.text(r.feed, system)} of feed** on the heaviest day, for {round(r.count):,} fish of {BODY_MASS.text(r.body_mass, system)}. "
            f"Should pump and air stop after a meal, the fish have **{TIME.text(r.minutes, system)}** at best."
        )


def _load(system: Steady, first: dict | None = None) -> FishLoad:
    """The fish load of a solved system."""
    stock, f, site = system.build.fish.si, system.fish, system.build.site.si
    kind = system.species.si
    eaten = fish.feeding_rate.si(
        min(max(stock.body_mass, _WEIGHED[0]), _WEIGHED[1]), species=stock.species, temperature=site.warmest_water
    ).si
    danger = kind.oxygen_critical or _DANGER
    breathed = f.oxygen * system.build.water.si.oxygen_peak
    spare = max(0.0, system.need.saturation - danger) * f.tank_volume
    seen = tuple(found(system))
    own = [one.name for one in seen if one.notebook == "01" and one.severity in ("stop", "fix")]
    trouble = ""
    if "temperature out of range" in own:
        trouble = "Too warm." if site.warmest_water > kind.survive_high else "Too cold."
    elif "density over limit" in own:
        trouble = "Too many fish." if stock.density > AIRED_LIMIT else "Crowded: needs strong air and a backup."
    elif "feed too heavy" in own:
        trouble = "Too much feed."
    record = {
        "species": stock.species, "density": stock.density, "body_mass": stock.body_mass, "feeding_rate": stock.feeding_rate,
        "warm": site.warmest_water, "volume": f.tank_volume, "biomass": f.biomass, "count": f.count, "feed": f.feed, "oxygen": f.oxygen,
        "carbon_dioxide": f.carbon_dioxide, "solids": f.solids, "ammonia": f.ammonia,
        "rest": f.feed + f.oxygen - f.carbon_dioxide - f.solids - f.ammonia,
        "eaten_low": eaten.low, "eaten_high": eaten.high, "minutes": spare / breathed if breathed > 0 else math.inf,
        "limit": UNAIRED_LIMIT, "most": AIRED_LIMIT, "works": not trouble, "trouble": trouble, "findings": seen,
    }  # fmt: skip
    return FishLoad.from_si(**record, first=first or {k: record[k] for k in ("density", "biomass", "feed", "oxygen", "ammonia")})


def load_of(build: Build) -> FishLoad:
    """The fish load of a build as it stands.

    Parameters
    ----------
    build : Build

    Returns
    -------
    FishLoad

    Source
    ------
    `aquaplumb.fish`.
    """
    return _load(Steady(build))


def picture(build: Build) -> FeedFlow:
    """What becomes of a day's feed in the build as it stands; display it in a notebook."""
    return FeedFlow(load_of(build), system=build.units)


def _size_of(tank) -> str:
    """The size of a tank that the panel changes: its volume follows, and no water level moves."""
    return "length" if tank.si.shape == "rectangular" else "diameter"


def panel(build: Build) -> Panel:
    """The what-if: another stock of fish, feed and tank.

    Parameters
    ----------
    build : Build

    Returns
    -------
    Panel
    """
    tank = build.of_kind("fish tank")[0]
    size = _size_of(tank)
    first = load_of(build)
    stock, site = build.fish, build.site
    start = {
        "species": stock.species, "density": stock.density, "body_mass": stock.body_mass, "feeding_rate": stock.feeding_rate,
        "protein": stock.protein, "warm": site.warmest_water, "size": getattr(tank, size),
    }  # fmt: skip
    keys = {
        "species": ("fish", "species"), "density": ("fish", "density"), "body_mass": ("fish", "body_mass"), "feeding_rate": ("fish", "feeding_rate"),
        "protein": ("fish", "protein"), "warm": ("site", "warmest_water"), "size": ("vessels", tank.si.name, size),
    }  # fmt: skip
    keeper = Keeper(build)

    def compute(species, density, body_mass, feeding_rate, protein, warm, size):
        changed = build.replaced(
            fish=type(stock).from_si(species=species, density=density, body_mass=body_mass, feeding_rate=feeding_rate, protein=protein),
            site=site.with_si(warmest_water=warm),
            vessels=[tank.with_si(**{_size_of(tank): size})],
        )
        return _load(Steady(changed), first.si.first)

    def keep(values: dict) -> str:
        now = panel_.si
        return keeper.keep({keys[name]: written(values[name]) for name in keys if now[name] != before[name]}, keys_of)

    coldest = math.ceil(2 * TEMPERATURE.shown(site.si.coldest_water)) / 2
    panel_ = Panel(
        [
            Choice("species", "fish", sorted(tables.names("species"))),
            Slider(
                "density",
                "stocking density",
                STOCKING,
                "2 kg/m3",
                "80 kg/m3",
                "0.5 kg/m3",
                us=("0.02 lb/gal", "0.66 lb/gal", "0.005 lb/gal"),
                tip="on the heaviest day",
            ),
            Slider("body_mass", "mass of a fish", BODY_MASS, "20 g", "1500 g", "10 g", tip="at harvest"),
            Slider("feeding_rate", "feeding rate", RATE, "0.2 %/d", "5 %/d", "0.1 %/d", tip="feed a day as a share of the fish's mass"),
            Slider("protein", "protein in feed", SHARE, "20 %", "55 %", "1 %", tip="the sack says it"),
            Slider(
                "warm",
                "warmest water",
                TEMPERATURE,
                f"{coldest:g} degC",
                f"{max(36.0, coldest + 2):g} degC",
                "0.5 degC",
                tip="in the hottest week",
            ),
            Slider("size", f"tank {size}", LENGTH, "0.5 m", "3 m", "0.05 m", tip="its water depth stays"),
        ],
        compute=compute,
        picture=StockPicture(system=build.units),
        sentence=lambda record, system: record.sentence(system),
        findings=worst("01"),
        keep=keep,
        keep_label="Keep this fish load",
        system=build.units,
        start=start,
    )
    before = panel_.si
    return panel_

"""The fish of a build: each stock, each tank with its own oxygen and density, and all together; bare SI numbers.

One stock in all tanks counts as in one tank, called "fish tank". Of several each tank is its own, under its own name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from aquaplumb import fish, tables
from aquaplumb.air import breathing
from aquaplumb.air.breathing import FishRespiration
from aquaplumb.build import Build
from aquaplumb.build.vessels import water_volume
from aquaplumb.system.states import AllFish, StockLoad, TankLoad
from aquaplumb.units import Bare

ALL_TANKS = "fish tank"  # the one name of all tanks with one stock
_NEAR_THE_FLOOR = 0.15  # m: what sinks is drawn out with the water from there; common practice, no source
# of which the highest binds; of every other limit it is the lowest
_LEAST_OF = ("oxygen_minimum", "oxygen_critical", "survive_low", "best_low", "feeding_stops")


def tank_loads(build: Build, depth: Callable[[str], float], warm: float) -> dict[str, TankLoad]:
    """Each fish tank by its name, with the stocks in it; `depth(tank)` is how deep it stands [m], `warm` its warmest water [K]."""
    tanks = [tank.si.name for tank in build.of_kind("fish tank")]
    groups = {tank: (tank,) for tank in tanks} if build.several else {ALL_TANKS: tuple(tanks)}
    found = {}
    for name, vessels in groups.items():
        volume = sum(water_volume.si(build.vessels[tank], depth(tank)) for tank in vessels)
        own = {n: stock.si for n, stock in build.stocks.items() if not build.several or stock.si.tank == name}
        stocks = tuple(_stock_load(n, stock, name, volume, warm, build.water.si.oxygen_peak) for n, stock in own.items())
        stays, feed = _stays(build, vessels), sum(stock.feed for stock in stocks)
        found[name] = TankLoad(
            name=name, vessels=vessels, volume=volume, stocks=stocks, biomass=sum(s.biomass for s in stocks), feed=feed,
            respiration=_mixed(stocks), oxygen=sum(s.oxygen for s in stocks), fed_oxygen=sum(s.fed_oxygen for s in stocks), stays=stays,
            dirt_oxygen=fish.dirt_oxygen.si(feed, stays=stays),
        )  # fmt: skip
    return found


def all_fish(tanks: Iterable[TankLoad]) -> AllFish:
    """All fish of a build together: what beds, bacteria and plants see of them."""
    tanks = list(tanks)
    stocks = [stock for tank in tanks for stock in tank.stocks]
    feed, oxygen, ammonia = (sum(getattr(s, what) for s in stocks) for what in ("feed", "oxygen", "ammonia"))
    dirt = sum(tank.dirt_oxygen for tank in tanks)
    whole = fish.dirt_oxygen.si(feed, stays=1.0)
    return AllFish(
        tank_volume=sum(tank.volume for tank in tanks),
        biomass=sum(s.biomass for s in stocks),
        count=sum(s.count for s in stocks),
        feed=feed,
        protein=sum(s.feed * s.stock.protein for s in stocks) / feed if feed > 0 else stocks[0].stock.protein,
        ammonia=ammonia,
        respiration=_mixed(stocks),
        oxygen=oxygen,
        fed_oxygen=sum(s.fed_oxygen for s in stocks),
        stays=dirt / whole if whole > 0 else max(tank.stays for tank in tanks),
        dirt_oxygen=dirt,
        bed_oxygen=fish.nitrification_oxygen.si(ammonia),
        carbon_dioxide=fish.carbon_dioxide_production.si(oxygen),
        solids=fish.solids_production.si(feed),
        alkalinity=fish.alkalinity_use.si(ammonia),
    )


def strictest(stocks: Iterable[StockLoad], limit: str) -> Bare:
    """The species, a bare row, that bears the least of a limit such as "oxygen_minimum" or "tan_limit"; any where none is known."""
    stocks = list(stocks)
    known = [s.species for s in stocks if getattr(s.species, limit) is not None]
    most = max if limit in _LEAST_OF else min
    return most(known, key=lambda row: getattr(row, limit)) if known else stocks[0].species


def _stock_load(name: str, stock: Bare, tank: str, volume: float, warm: float, peak: float) -> StockLoad:
    biomass = fish.standing_biomass.si(volume * (1.0 if stock.share is None else stock.share), stock.density)
    if stock.count is not None:
        biomass = stock.count * stock.body_mass
    feed = fish.daily_feed.si(biomass, stock.feeding_rate)
    # what the beds use is brought to the beds, not through the tank
    respiration = breathing.fish_respiration.si(stock.feeding_rate, stock.body_mass, warm, species=stock.species, meal_peak=peak)
    return StockLoad(
        name=name, stock=stock, species=tables.row("species", stock.species).si, tank=tank, biomass=biomass, count=biomass / stock.body_mass,
        feed=feed, ammonia=fish.ammonia_production.si(feed, stock.protein), respiration=respiration,
        oxygen=biomass * float(respiration.si.usual), fed_oxygen=biomass * float(respiration.si.fed),
    )  # fmt: skip


def _mixed(stocks: Iterable[StockLoad]) -> FishRespiration:
    """What a kilogram of these fish breathes; of several stocks the mean by their mass, for which no one fit holds."""
    stocks = list(stocks)
    if len(stocks) == 1:
        return stocks[0].respiration
    whole = sum(s.biomass for s in stocks)
    names = ("by_feed", "by_fit", "least", "usual", "fed")
    return FishRespiration.from_si(
        **{n: sum(s.biomass * float(getattr(s.respiration.si, n)) for s in stocks) / whole if whole > 0 else 0.0 for n in names}
    )


def _stays(build: Build, tanks: tuple[str, ...]) -> float:
    """The share of the dirt that stays in some fish tanks: as told, else none where water is drawn near every tank's floor."""
    told = build.water.si.solids_stay
    if told is not None:
        return told
    low = {line.si.source for line in build.pumped.values()}  # a pump stands on the floor
    for line in build.drops.values():
        intake, floor = line.si.lip if line.si.intake is None else line.si.intake, build.vessels[line.si.source].si.floor
        if not line.si.emergency and intake <= floor + _NEAR_THE_FLOOR:
            low.add(line.si.source)
    return 0.0 if all(tank in low for tank in tanks) else 1.0

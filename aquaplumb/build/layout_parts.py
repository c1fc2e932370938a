"""What several layouts of first builds have in common: the fish that they bear, their vessels, and the lines between those.

Part of `aquaplumb.build.layouts`, which is the face of all this. All numbers are bare SI.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

from aquaplumb import fish, tables, water
from aquaplumb.air import breathing
from aquaplumb.build.layout_lines import fall, siphon
from aquaplumb.build.layout_plan import Kit, Plan, up
from aquaplumb.build.records import Site, Stock, Wanted
from aquaplumb.build.vessels import Vessel
from aquaplumb.fish import circulation, feeding
from aquaplumb.units import DAY, HOUR
from aquaplumb.water.filters import LEAST_AIR, RISE_LIMIT

# Common practice, no source: what makes an easy first system.
_WATER_PER_BED = 0.55  # m³ of tank for a bed
DENSITY = 15.0  # kg/m³ on the heaviest day; FAO 589 has 10 to 20 for small systems
BODY = 0.4  # kg, the heaviest fish reckoned with
_REMOVAL, _BED_FLOW = 0.4, 320 / 3.6e6  # of the ammonia in one pass; m³/s for a bed, at most: then fewer fish
SPARE = 1.12  # of each flow, for dirt and wear
_CALM = 1.1  # times the least plan area of a swirl filter
_THIN = 0.04  # m of water over the lip of a filter
_FILTER = 0.25  # m³ of water in the second filter for each raft, or row


def _stock(kit: Kit, site: Site, species: str, beds: float, volume: float, turnover: float) -> tuple[Stock, Wanted, float]:
    """The fish, as many as the water and the beds bear on the heaviest day; their water; the flow through the beds."""
    s = tables.row("species", species).si
    protein, limit = round(s.protein_typical, 2), min(1e-3, s.tan_limit)
    body = min(BODY, s.harvest_mass)
    body = round(body / 0.0453592) * 0.0453592 if kit.units == "US" else round(body, 2)  # to a tenth of a pound
    rate = round(min(feeding.feeding_rate.si(body, species=s.name).si.typical * DAY, 0.02), 3) / DAY

    def ammonia(density):
        made = fish.ammonia_production.si(fish.standing_biomass.si(volume, density) * rate, protein)
        return circulation.ammonia_flow.si(made, limit=limit, removal=_REMOVAL)

    most = min(DENSITY, 0.75 * s.stocking_high)
    density = most * min(1.0, beds * _BED_FLOW / ammonia(most))
    unit = 0.01 * 119.8264 if kit.units == "US" else 0.5
    density = max(1, math.floor(density / unit + 1e-9)) * unit
    stock = Stock.from_si(species=s.name, density=density, body_mass=body, feeding_rate=rate, protein=protein)
    breathed = breathing.fish_respiration.si(rate, body, site.si.warmest_water, species=s.name).si.fed
    demand = fish.standing_biomass.si(volume, density) * float(breathed)
    inlet = 0.9 * water.oxygen_saturation.si(site.si.warmest_water, altitude=site.si.altitude)
    for outlet, share in itertools.product((max(5e-3, s.oxygen_minimum), s.oxygen_minimum), (0.0, 0.25, 0.5, 0.75, 0.9)):  # from air stones
        if inlet > outlet and circulation.oxygen_flow.si(demand * (1 - share), inlet=inlet, outlet=outlet) <= turnover:
            break
    return stock, Wanted.from_si(outlet_oxygen=outlet, aerated_share=share, ammonia_limit=limit), ammonia(density)


def fish_tank(p: Plan, count: float, *, place: int = 0, floor: float | None = None) -> Vessel:
    """A round fish tank with the water for so many beds; `place` of its measures, and another floor where it stands elsewhere."""
    depth = p.kit.m("tank depth", place)
    return Vessel.from_si(
        name="fish tank", kind="fish tank", shape="round", diameter=up(math.sqrt(4 * count * _WATER_PER_BED / (math.pi * depth)), p.kit.step),
        height=p.kit.m("tank height", place), floor=p.kit.m("tank floor", place) if floor is None else floor, working_depth=depth, empty_mass=40.0,
    )  # fmt: skip


def sump_for(p: Plan, count: int) -> Vessel:
    """A sump in the ground with room for the flood water of so many beds."""
    area = 0.55 + 0.55 * count
    height, floor, depth = (p.kit.m("sump", i) for i in range(3))
    length = up(math.sqrt(1.5 * area), p.kit.step)
    return Vessel.from_si(
        name="sump", kind="sump", shape="rectangular", length=length, width=up(area / length, p.kit.step), height=height, floor=floor,
        working_depth=depth,
    )  # fmt: skip


def media_beds(p: Plan, count: int, *, floor: float | None = None) -> tuple[Vessel, ...]:
    """Beds of media, all at one height."""
    length, width, height = (p.kit.m("bed", i) for i in range(3))
    bed = Vessel.from_si(
        name="bed", kind="bed", shape="rectangular", length=length, width=width, height=height,
        floor=p.kit.m("bed floor") if floor is None else floor, working_depth=p.kit.m("bed depth"), medium="expanded clay 8-16 mm",
        media_depth=p.kit.m("media"), empty_mass=60.0,
    )  # fmt: skip
    return tuple(bed.with_si(name=f"bed {i}") for i in range(1, count + 1))


def stocked(p: Plan, tank: Vessel, beds: float) -> tuple[Plan, float, float]:
    """The plan with its fish and their water; the flow that turns the tank over once an hour; that through the beds for the ammonia."""
    volume = math.pi / 4 * tank.si.diameter**2 * tank.si.working_depth
    turnover = circulation.turnover_flow.si(volume, 1 / HOUR)
    stock, wanted, ammonia_flow = _stock(p.kit, p.site, p.stock.si.species, beds, volume, turnover)
    return replace(p, stock=stock, wanted=wanted), turnover, ammonia_flow


def reach(tank: Vessel) -> float:
    """Metres of pipe to or from the middle of a tank."""
    return 1.0 + tank.si.diameter / 2


def tank_falls(p: Plan, tank: Vessel, to: Vessel, flow: float, outlet: float, **usual):
    """A tank's overflow and its emergency overflow."""
    far, spare = reach(tank), tank.level + p.kit.m("emergency")
    yield fall(
        p, "tank overflow", tank, to, tank.level, outlet, flow=flow, least=0.05, screen=True, **{"length": far, "elbows": 2, **usual}
    )
    yield fall(p, "tank emergency overflow", tank, to, spare, outlet, far, flow, emergency=True, elbows=2)


def bed_falls(p: Plan, bed: Vessel, to: Vessel, flow: float, outlet: float, siphon_size: str = ""):
    """A bed's drain, or its siphon, and its emergency overflow."""
    name, spare = bed.si.name, bed.level + p.kit.m("bed emergency")
    if siphon_size:
        yield siphon(p, bed, to, siphon_size)
    else:
        yield fall(p, f"{name} drain", bed, to, bed.level, outlet, 1.4, flow, kind="bed drain", least=0.04, elbows=1)
    yield fall(p, f"{name} emergency overflow", bed, to, spare, outlet, 1.4, flow, emergency=True, least=0.04)


def filter_pair(p: Plan, flow: float, count: int, carries: str) -> tuple[Vessel, Vessel]:
    """A swirl filter for the fish's dirt, and behind it a filter for their ammonia: a "moving bed" or a tank of "media"."""
    step, near = p.kit.step, p.kit.near
    height, depth = (p.kit.m("swirl", i) for i in range(2))
    swirl = Vessel.from_si(
        name="swirl filter", kind="filter", shape="round", does=("swirl",), floor=0.0, height=height, working_depth=depth, empty_mass=20.0,
        diameter=max(up(math.sqrt(4 * _CALM * flow / (math.pi * RISE_LIMIT["swirl"])), step), 8 * step),
    )  # fmt: skip
    height, depth = (p.kit.m("second", i) for i in range(2))
    wide = max(up(math.sqrt(4 * count * _FILTER / (math.pi * depth)), step), 8 * step)
    holds = math.pi / 4 * wide**2 * depth
    common = {
        "kind": "filter",
        "shape": "round",
        "floor": 0.0,
        "height": height,
        "working_depth": depth,
        "diameter": wide,
        "empty_mass": 20.0,
    }
    if carries == "moving bed":
        second = Vessel.from_si(
            name="biofilter", does=("moving bed",), medium="moving-bed carrier 10 mm", media_volume=round(0.35 * holds, 2),
            air_flow=1.5 * LEAST_AIR * holds, **common,
        )  # fmt: skip
    else:
        second = Vessel.from_si(name="media filter", does=("media",), medium="bioballs", media_depth=near(0.7 * depth), **common)
    return swirl, second


def behind_filters(p: Plan, count: int):
    """(plan, tank, sump, flow that the tank wants): what rafts, channels and towers have in common."""
    tank, sump = fish_tank(p, count, place=1), sump_for(p, count)
    p, turnover, ammonia_flow = stocked(p, tank, count)
    return p, tank, sump, SPARE * max(turnover, ammonia_flow)


def filter_falls(p: Plan, tank: Vessel, filters: tuple[Vessel, Vessel], to: Vessel, sump: Vessel, flow: float, outlet: float):
    """From the tank through both filters and on, each with an emergency overflow to the sump."""
    m, step, (swirl, second) = p.kit.m, p.kit.step, filters
    yield fall(p, "tank overflow", tank, swirl, tank.level, swirl.level + step, 1.0, flow, least=0.05, elbows=1, screen=True)
    yield fall(p, "tank emergency overflow", tank, sump, tank.level + m("emergency"), m("low"), reach(tank), flow, emergency=True, elbows=2)
    yield fall(p, "swirl outlet", swirl, second, swirl.level, second.level + step / 2, 0.8, flow, least=0.05, over=_THIN)
    yield fall(p, "swirl emergency overflow", swirl, sump, swirl.level + m("emergency"), m("low"), 1.8, flow, emergency=True)
    yield fall(p, f"{second.si.name} outlet", second, to, second.level, outlet, 1.2, flow, least=0.05, elbows=1, over=_THIN)
    yield fall(p, f"{second.si.name} emergency overflow", second, sump, second.level + m("emergency"), m("low"), 1.8, flow, emergency=True)

"""What the layouts of first builds have in common: their fish, the vessels that several of them have, and how those run over.

Part of `aquaplumb.build.layouts`, which is the face of all this. All numbers are bare SI.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

from aquaplumb import fish, tables, water
from aquaplumb.air import breathing
from aquaplumb.build.falling_records import FallingLine
from aquaplumb.build.layout_lines import fall, screen_of, siphon
from aquaplumb.build.layout_plan import Kit, Plan, up
from aquaplumb.build.records import Site, Stock, Wanted
from aquaplumb.build.vessels import Vessel, water_volume
from aquaplumb.fish import circulation, feeding
from aquaplumb.plumbing import full_pipe, pipe_sizes, siphons
from aquaplumb.plumbing.fittings import ENTRANCE, EXIT
from aquaplumb.units import DAY, HOUR, Bare, DesignError
from aquaplumb.water.filters import LEAST_AIR, RISE_LIMIT

# Common practice, no source: what makes an easy first system.
WATER_PER_BED = 0.55  # m³ of tank for a bed
DENSITY = 15.0  # kg/m³ on the heaviest day; FAO 589 has 10 to 20 for small systems
BODY = 0.4  # kg, the heaviest fish reckoned with
_REMOVAL, _BED_FLOW = 0.4, 320 / 3.6e6  # of the ammonia in one pass; m³/s for a bed, at most: then fewer fish
SURE = 1.15  # times the flow that is sure to start a siphon
SPARE = 1.12  # of each flow, for dirt and wear
CALM = 1.1  # times the least plan area of a settling tank or swirl filter
_THIN = 0.04  # m of water over the lip of a filter
_FILTER = 0.25  # m³ of water in the second filter for each raft, or row
LARGE, _SMALL = (
    0.63,
    3 / 7,
)  # of the water for a bed, in the large one of two tanks, since young fish eat more; the small one's share of that
_YOUNG, _LOST = 0.3, 1.1  # of a grown fish's mass; young fish for each grown one, since some die
_MOST_FED = {"grown": 0.02, "young": 0.03}  # of its mass a day
_JOINT_HEAD = 0.005  # m between two tanks that are joined
_STONES = 0.75  # of the oxygen of two joined tanks, at most, from stones


def _stock(kit: Kit, site: Site, species: str, beds: float, volume: float, turnover: float) -> tuple[Stock, Wanted, float]:
    """The fish, as many as the water and the beds bear on the heaviest day; their water; the flow through the beds."""
    s = tables.row("species", species).si
    body, rate = _fed(kit, s, 1.0, "grown")
    most = _densest(s)
    density = most * min(1.0, beds * _BED_FLOW / _ammonia_flow(s, fish.standing_biomass.si(volume, most) * rate))
    unit = 0.01 * 119.8264 if kit.units == "US" else 0.5
    density = max(1, math.floor(density / unit + 1e-9)) * unit
    stock = Stock.from_si(species=s.name, density=density, body_mass=body, feeding_rate=rate, protein=_protein(s))
    mass = fish.standing_biomass.si(volume, density)
    return stock, _wanted(site, s, [(mass, body, rate, turnover)]), _ammonia_flow(s, mass * rate)


def _fed(kit: Kit, s: Bare, part: float, age: str) -> tuple[float, float]:
    """The mass of a fish that is so much of a grown one [kg], and its feed [1/s]."""
    body = part * min(BODY, s.harvest_mass)
    body = round(body / 0.0453592) * 0.0453592 if kit.units == "US" else round(body, 2)  # to a tenth of a pound
    return body, round(min(feeding.feeding_rate.si(body, species=s.name).si.typical * DAY, _MOST_FED[age]), 3) / DAY


def _densest(s: Bare) -> float:
    return min(DENSITY, 0.75 * s.stocking_high)


def _protein(s: Bare) -> float:
    return round(s.protein_typical, 2)


def _limit(s: Bare) -> float:
    return min(1e-3, s.tan_limit)


def _ammonia_flow(s: Bare, feed: float) -> float:
    """What has to go through the beds for the ammonia of a feed."""
    return circulation.ammonia_flow.si(fish.ammonia_production.si(feed, _protein(s)), limit=_limit(s), removal=_REMOVAL)


def _wanted(site: Site, s: Bare, tanks: Sequence[tuple[float, float, float, float]]) -> Wanted:
    """What the water is to be like, with as few air stones as do: of each tank the fish's mass, that of one, its feed, and the flow."""
    inlet = 0.9 * water.oxygen_saturation.si(site.si.warmest_water, altitude=site.si.altitude)
    demands = [
        (mass * float(breathing.fish_respiration.si(rate, body, site.si.warmest_water, species=s.name).si.fed), flow)
        for mass, body, rate, flow in tanks
    ]
    for outlet, share in itertools.product((max(5e-3, s.oxygen_minimum), s.oxygen_minimum), (0.0, 0.25, 0.5, 0.75, 0.9)):  # from air stones
        if inlet > outlet and all(
            circulation.oxygen_flow.si(use * (1 - share), inlet=inlet, outlet=outlet) <= flow for use, flow in demands
        ):
            break
    return Wanted.from_si(outlet_oxygen=outlet, aerated_share=share, ammonia_limit=_limit(s))


def fish_tank(p: Plan, count: float, *, place: int = 0, floor: float | None = None) -> Vessel:
    """A round fish tank with the water for so many beds; `place` of its measures, and another floor where it stands elsewhere."""
    depth, water = p.kit.m("tank depth", place), count * WATER_PER_BED * p.spacious
    return Vessel.from_si(
        name="fish tank", kind="fish tank", shape="round", diameter=up(math.sqrt(4 * water / (math.pi * depth)), p.kit.step),
        height=p.kit.m("tank height", place), floor=p.kit.m("tank floor", place) if floor is None else floor, working_depth=depth, empty_mass=40.0,
    )  # fmt: skip


def sump_of(p: Plan, count: int) -> Vessel:
    """A sump in the ground with room for the flood water of so many beds."""
    area = 0.55 + 0.55 * count
    height, floor, depth = (p.kit.m("sump", i) for i in range(3))
    length = up(math.sqrt(1.5 * area), p.kit.step)
    return Vessel.from_si(
        name="sump", kind="sump", shape="rectangular", length=length, width=up(area / length, p.kit.step), height=height, floor=floor,
        working_depth=depth,
    )  # fmt: skip


def beds_of(p: Plan, count: int, *, floor: float | None = None) -> tuple[Vessel, ...]:
    """Beds of media, all at one height."""
    length, width, height = (p.kit.m("bed", i) for i in range(3))
    bed = Vessel.from_si(
        name="bed", kind="bed", shape="rectangular", length=length, width=width, height=height,
        floor=p.kit.m("bed floor") if floor is None else floor, working_depth=p.kit.m("bed depth"), medium="expanded clay 8-16 mm",
        media_depth=p.kit.m("media"), empty_mass=60.0,
    )  # fmt: skip
    return tuple(bed.with_si(name=f"bed {i}") for i in range(1, count + 1))


def joined_tanks(p: Plan, count: float) -> tuple[Vessel, Vessel]:
    """A small and a large fish tank at one level, with the water for so many beds."""
    large = fish_tank(p, LARGE * count)
    small = fish_tank(p, _SMALL * water_volume.si(large, large.si.working_depth) / (WATER_PER_BED * p.spacious))
    return small.with_si(name="small tank", empty_mass=25.0), large.with_si(name="large tank")


def joint(p: Plan, small: Vessel, large: Vessel, flow: float) -> FallingLine:
    """The pipe under water between two tanks: so wide that they stand at one level, with a screen that keeps the young fish in."""
    height, screen = p.kit.m("joint"), screen_of(flow)
    for size in pipe_sizes.sizes(p.kit.drain_standard):
        bore = pipe_sizes.bore.si(size, p.kit.drain_standard)
        line = FallingLine.from_si(
            name="joint", kind="joint", source=small.si.name, to=large.si.name, lip=height, outlet=height, size=size, length=2 * p.kit.step,
            bore=bore, screen_open_area=screen, standard=p.kit.drain_standard,
        )  # fmt: skip
        if full_pipe.full_bore_head.si(flow, bore, line.si.length, k=ENTRANCE + EXIT) <= _JOINT_HEAD:
            return line
    raise DesignError("no pipe of the table is wide enough to join the tanks; plan fewer beds.")


def two_stocks(p: Plan, small: Vessel, large: Vessel, beds: float) -> tuple[Plan, tuple[float, float], float]:
    """The plan with grown fish in the large tank and young ones in the small; the flow that turns each over once an hour; that through the beds."""
    s = tables.row("species", p.stock.si.species).si
    volumes = [water_volume.si(tank, tank.si.working_depth) for tank in (small, large)]
    young, grown = _fed(p.kit, s, _YOUNG, "young"), _fed(p.kit, s, 1.0, "grown")

    def feed(count: float) -> float:
        return count * (grown[0] * grown[1] + _LOST * young[0] * young[1])

    count = _densest(s) * volumes[1] / grown[0]
    count = max(1, math.floor(count * min(1.0, beds * _BED_FLOW / _ammonia_flow(s, feed(count)))))
    turnovers = [circulation.turnover_flow.si(volume, 1 / HOUR) for volume in volumes]
    while True:  # fewer fish, where nearly all of their oxygen would have to come from stones: water alone shall keep them out of danger
        many = (round(_LOST * count), count)
        tanks = [(number * body, body, rate, flow) for number, (body, rate), flow in zip(many, (young, grown), turnovers)]
        wanted = _wanted(p.site, s, tanks)
        if wanted.si.aerated_share <= _STONES or count == 1:
            break
        count -= 1
    kept = tuple(
        Stock.from_si(
            name=name, tank=tank.si.name, count=float(number), species=s.name, body_mass=body, feeding_rate=rate, protein=_protein(s),
            density=number * body / volume,
        )
        for name, tank, number, (body, rate), volume in zip(("young fish", "grown fish"), (small, large), many, (young, grown), volumes)
    )  # fmt: skip
    ammonia_flow = _ammonia_flow(s, sum(mass * rate for mass, _, rate, _ in tanks))
    return replace(p, stocks=kept, wanted=wanted), (turnovers[0], turnovers[1]), ammonia_flow


def stocked(p: Plan, tank: Vessel, beds: float) -> tuple[Plan, float, float]:
    """The plan with its fish and their water; the flow that turns the tank over once an hour; that through the beds for the ammonia."""
    volume = water_volume.si(tank, tank.si.working_depth)
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


def with_siphons(p: Plan, flow: float, usual: str = "plain") -> tuple[float, str]:
    """The flow of a bed, and the size of its siphon: "" where it has a plain drain. A siphon wants enough to be sure to start."""
    if (p.drains or usual) != "siphon":
        return flow, ""
    size = pipe_sizes.sizes(p.kit.pipe_standard)[0]
    return max(flow, SURE * siphons.siphon_starting_band.si(pipe_sizes.bore.si(size, p.kit.pipe_standard)).si.sure), size


def bed_falls(p: Plan, bed: Vessel, to: Vessel, flow: float, outlet: float, siphon_size: str = ""):
    """A bed's drain, or its siphon, and its emergency overflow."""
    name, spare = bed.si.name, bed.level + p.kit.m("bed emergency")
    if siphon_size:
        yield siphon(p, bed, to, siphon_size)
    else:
        yield fall(p, f"{name} drain", bed, to, bed.level, outlet, 1.4, flow, kind="bed drain", least=0.04, elbows=1)
    yield fall(p, f"{name} emergency overflow", bed, to, spare, outlet, 1.4, flow, emergency=True, least=0.04)


# --- filters ------------------------------------------------------------------------------------------


def filters_for(p: Plan, flow: float, count: int, carries: str) -> tuple[Vessel, Vessel]:
    """A swirl filter for the fish's dirt, and behind it a filter for their ammonia: a "moving bed" or a tank of "media"."""
    step, near = p.kit.step, p.kit.near
    height, depth = (p.kit.m("swirl", i) for i in range(2))
    swirl = Vessel.from_si(
        name="swirl filter", kind="filter", shape="round", does=("swirl",), floor=0.0, height=height, working_depth=depth, empty_mass=20.0,
        diameter=max(up(math.sqrt(4 * CALM * flow / (math.pi * RISE_LIMIT["swirl"])), step), 8 * step),
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
    tank, sump = fish_tank(p, count, place=1), sump_of(p, count)
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

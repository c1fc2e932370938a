"""The layouts of first builds, each worked out from the number of what it grows in.

Part of `aquaplumb.build.layouts`, which is the face of all this. All numbers are bare SI.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from aquaplumb import fish, tables, water
from aquaplumb.air import breathing
from aquaplumb.build.falling_records import FallingLine, FallingTree
from aquaplumb.build.layout_lines import branching, fall, pump_line, siphon
from aquaplumb.build.layout_plan import End, Kit, Loop, Plan, up
from aquaplumb.build.records import Site, Stock, Wanted
from aquaplumb.build.vessels import Vessel
from aquaplumb.fish import circulation, feeding
from aquaplumb.plumbing import pipe_sizes, pumps, siphons
from aquaplumb.units import DAY, HOUR, DesignError
from aquaplumb.water.filters import LEAST_AIR, RISE_LIMIT

_SIPHONS_TO = 2  # beds: with more, giving each siphon enough to be sure to start takes a far stronger pump

# Common practice, no source: what makes an easy first system.
_WATER_PER_BED = 0.55  # m³ of tank for a bed
_DENSITY = 15.0  # kg/m³ on the heaviest day; FAO 589 has 10 to 20 for small systems
_BODY = 0.4  # kg, the heaviest fish reckoned with
_REMOVAL, _BED_FLOW = 0.4, 320 / 3.6e6  # of the ammonia in one pass; m³/s for a bed, at most: then fewer fish
_SPARE = 1.12  # of each flow, for dirt and wear
_CALM = 1.1  # times the least plan area of a swirl filter
_THIN = 0.04  # m of water over the lip of a filter
_FILTER = 0.25  # m³ of water in the second filter for each raft, or row
_CHANNEL_SLOPE, _CHANNEL_FLOW, _TOWER_FLOW = (
    0.025,
    75 / 3.6e6,
    40 / 3.6e6,
)  # FAO 589 has 1 to 2 L/min for a channel; a tower: common practice
_RISE = 2.1 / HOUR  # m/s at which water rises in the settling tank: SRAC 453 has 2.4 m/h at most (from memory), `water.filters`


@dataclass(frozen=True, slots=True)
class Layout:
    """A layout to begin from."""

    suits: str  #: whom it suits, a sentence
    about: str  #: how the water goes, as the file says it
    grows_in: str  #: what its number counts
    one: str  #: one of them
    draw: Callable[[Plan, int], Plan]  #: from the bare plan and that number to its vessels and lines
    each: int = 1  #: vessels to plant in one of them


def plan(layout: str, count: int, kit: Kit, site: Site, species: str, title: str) -> Plan:
    """The plan of a layout with so many of what it grows in."""
    kind = KINDS[layout]
    bare = Plan(
        layout=layout, about=kind.about, title=title or f"My system, {layout}", kit=kit, site=site, stock=Stock.from_si(
            species=species, density=_DENSITY, body_mass=_BODY, feeding_rate=0.0, protein=0.3), wanted=Wanted.from_si(),
    )  # fmt: skip
    return kind.draw(bare, count)


# --- the fish, and the vessels that several layouts have -------------------------------------------------


def _stock(kit: Kit, site: Site, species: str, beds: float, volume: float, turnover: float) -> tuple[Stock, Wanted, float]:
    """The fish, as many as the water and the beds bear on the heaviest day; their water; the flow through the beds."""
    s = tables.row("species", species).si
    protein, limit = round(s.protein_typical, 2), min(1e-3, s.tan_limit)
    body = min(_BODY, s.harvest_mass)
    body = round(body / 0.0453592) * 0.0453592 if kit.units == "US" else round(body, 2)  # to a tenth of a pound
    rate = round(min(feeding.feeding_rate.si(body, species=s.name).si.typical * DAY, 0.02), 3) / DAY

    def ammonia(density):
        made = fish.ammonia_production.si(fish.standing_biomass.si(volume, density) * rate, protein)
        return circulation.ammonia_flow.si(made, limit=limit, removal=_REMOVAL)

    most = min(_DENSITY, 0.75 * s.stocking_high)
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


def _tank(p: Plan, count: float, *, place: int = 0, floor: float | None = None) -> Vessel:
    """A round fish tank with the water for so many beds; `place` of its measures, and another floor where it stands elsewhere."""
    depth = p.kit.m("tank depth", place)
    return Vessel.from_si(
        name="fish tank", kind="fish tank", shape="round", diameter=up(math.sqrt(4 * count * _WATER_PER_BED / (math.pi * depth)), p.kit.step),
        height=p.kit.m("tank height", place), floor=p.kit.m("tank floor", place) if floor is None else floor, working_depth=depth, empty_mass=40.0,
    )  # fmt: skip


def _sump(p: Plan, count: int) -> Vessel:
    """A sump in the ground with room for the flood water of so many beds."""
    area = 0.55 + 0.55 * count
    height, floor, depth = (p.kit.m("sump", i) for i in range(3))
    length = up(math.sqrt(1.5 * area), p.kit.step)
    return Vessel.from_si(
        name="sump", kind="sump", shape="rectangular", length=length, width=up(area / length, p.kit.step), height=height, floor=floor,
        working_depth=depth,
    )  # fmt: skip


def _beds(p: Plan, count: int, *, floor: float | None = None) -> tuple[Vessel, ...]:
    """Beds of media, all at one height."""
    length, width, height = (p.kit.m("bed", i) for i in range(3))
    bed = Vessel.from_si(
        name="bed", kind="bed", shape="rectangular", length=length, width=width, height=height,
        floor=p.kit.m("bed floor") if floor is None else floor, working_depth=p.kit.m("bed depth"), medium="expanded clay 8-16 mm",
        media_depth=p.kit.m("media"), empty_mass=60.0,
    )  # fmt: skip
    return tuple(bed.with_si(name=f"bed {i}") for i in range(1, count + 1))


def _stocked(p: Plan, tank: Vessel, beds: float) -> tuple[Plan, float, float]:
    """The plan with its fish and their water; the flow that turns the tank over once an hour; that through the beds for the ammonia."""
    volume = math.pi / 4 * tank.si.diameter**2 * tank.si.working_depth
    turnover = circulation.turnover_flow.si(volume, 1 / HOUR)
    stock, wanted, ammonia_flow = _stock(p.kit, p.site, p.stock.si.species, beds, volume, turnover)
    return replace(p, stock=stock, wanted=wanted), turnover, ammonia_flow


def _reach(tank: Vessel) -> float:
    """Metres of pipe to or from the middle of a tank."""
    return 1.0 + tank.si.diameter / 2


def _tank_falls(p: Plan, tank: Vessel, to: Vessel, flow: float, outlet: float, **usual):
    """A tank's overflow and its emergency overflow."""
    reach, spare = _reach(tank), tank.level + p.kit.m("emergency")
    yield fall(
        p, "tank overflow", tank, to, tank.level, outlet, flow=flow, least=0.05, screen=True, **{"length": reach, "elbows": 2, **usual}
    )
    yield fall(p, "tank emergency overflow", tank, to, spare, outlet, reach, flow, emergency=True, elbows=2)


def _bed_falls(p: Plan, bed: Vessel, to: Vessel, flow: float, outlet: float, siphon_size: str = ""):
    """A bed's drain, or its siphon, and its emergency overflow."""
    name, spare = bed.si.name, bed.level + p.kit.m("bed emergency")
    if siphon_size:
        yield siphon(p, bed, to, siphon_size)
    else:
        yield fall(p, f"{name} drain", bed, to, bed.level, outlet, 1.4, flow, kind="bed drain", least=0.04, elbows=1)
    yield fall(p, f"{name} emergency overflow", bed, to, spare, outlet, 1.4, flow, emergency=True, least=0.04)


# --- the layouts -------------------------------------------------------------------------------------------


def _one_loop(p: Plan, count: int) -> Plan:
    tank, sump, beds = _tank(p, count), _sump(p, count), _beds(p, count)
    p, turnover, ammonia_flow = _stocked(p, tank, count)
    bed_flow, size = _SPARE * ammonia_flow / count, ""
    if count <= _SIPHONS_TO:
        size = pipe_sizes.sizes(p.kit.pipe_standard)[0]
        bed_flow = max(bed_flow, 1.15 * siphons.siphon_starting_band.si(pipe_sizes.bore.si(size, p.kit.pipe_standard)).si.sure)
    loop = pump_line(p, Loop(
        "riser", sump, "riser", "the pump and everything that it feeds", End(tank, _SPARE * turnover, p.kit.m("inlet", 0), _reach(tank)),
        tuple(End(bed, bed_flow, p.kit.m("bed outlet"), fixed=bool(size)) for bed in beds),
    ))  # fmt: skip
    falls = list(_tank_falls(p, tank, sump, loop.ends[0].flow, p.kit.m("sump in")))
    for bed, end in zip(beds, loop.rest):
        falls += _bed_falls(p, bed, sump, end.flow, p.kit.m("low"), size)
    return replace(p, vessels=(tank, *beds, sump), loops=(loop,), falls=tuple(falls))


def _two_loops(p: Plan, count: int) -> Plan:
    tank, sump, beds, m, step = _tank(p, count, place=1), _sump(p, count), _beds(p, count), p.kit.m, p.kit.step
    p, turnover, ammonia_flow = _stocked(p, tank, count)
    first = pump_line(p, Loop(
        "tank loop", sump, "riser", "loop 1: the sump's pump keeps the fish tank turning",
        End(tank, _SPARE * turnover, m("inlet", 1), _reach(tank)),
    ))  # fmt: skip
    flow = first.flow
    height, depth, cone = (m("settling", i) for i in range(3))
    settling = Vessel.from_si(
        name="settling tank", kind="settling tank", shape="cone-bottomed", floor=0.0, height=height, working_depth=depth, cone_height=cone,
        diameter=max(up(math.sqrt(4 * flow / (math.pi * _RISE)), step), 8 * step), empty_mass=25.0,
    )  # fmt: skip
    height, depth, on, off = (m("dosing", i) for i in range(4))
    dosing = Vessel.from_si(
        name="dosing tank", kind="buffer tank", shape="rectangular", floor=0.0, height=height, working_depth=depth, length=step, width=step,
        empty_mass=30.0,
    )  # fmt: skip
    for more in (1.3, 1.2, 1.1):  # times what comes in, so that the pump can rest
        bed_flow = max(more * flow, _SPARE * ammonia_flow) / count
        ends = tuple(End(bed, bed_flow, m("bed outlet")) for bed in beds)
        try:
            second = pump_line(p, Loop(
                "bed loop", dosing, "bed riser", "loop 2: the dosing tank's pump feeds the beds", rest=ends, on_float=True))  # fmt: skip
            break
        except DesignError:
            if more == 1.1:
                raise
    cycle = pumps.pump(second.pump).si.shortest_cycle or 600.0
    area = 1.3 * pumps.float_volume.si(cycle, second.flow) / (on - off)
    length = max(up(math.sqrt(1.4 * area), step), 12 * step)
    dosing = dosing.with_si(length=length, width=max(up(area / length, step), 10 * step))
    falls = [
        fall(p, "tank overflow", tank, settling, tank.level, settling.level + step, 1.0, flow, least=0.05, elbows=1, screen=True),
        fall(p, "tank emergency overflow", tank, sump, tank.level + m("emergency"), m("low"), _reach(tank), flow, emergency=True, elbows=2),
        fall(p, "settling outlet", settling, dosing, settling.level, on + step, 0.7, flow, least=0.05),
        fall(p, "settling emergency overflow", settling, sump, settling.level + m("emergency"), m("low"), 1.8, flow, emergency=True),
        fall(p, "dosing emergency overflow", dosing, sump, on + m("emergency"), m("low"), 1.5, flow, emergency=True),
    ]
    for bed, end in zip(beds, second.rest):
        falls += _bed_falls(p, bed, sump, end.flow, m("low"))
    second = replace(second, source=dosing)
    return replace(p, vessels=(tank, settling, dosing, *beds, sump), loops=(first, second), falls=tuple(falls))


def _bed_above(p: Plan, count: int) -> Plan:
    m = p.kit.m
    floor, outlet, back = (m("high bed", i) for i in range(3))
    tank, beds = _tank(p, count, place=2), _beds(p, count, floor=floor)
    p, turnover, ammonia_flow = _stocked(p, tank, count)
    flow = _SPARE * max(turnover, ammonia_flow) / count
    loop = pump_line(
        p, Loop("riser", tank, "riser", "the pump stands in the fish tank", rest=tuple(End(bed, flow, outlet) for bed in beds))
    )
    falls = [line for bed, end in zip(beds, loop.rest) for line in _bed_falls(p, bed, tank, end.flow, back)]
    return replace(p, vessels=(*beds, tank), loops=(loop,), falls=tuple(falls))


def _gravity(p: Plan, count: int) -> Plan:
    m = p.kit.m
    floor, outlet = (m("low bed", i) for i in range(2))
    tank, sump, beds = _tank(p, count, place=1), _sump(p, count), _beds(p, count, floor=floor)
    p, turnover, ammonia_flow = _stocked(p, tank, count)
    wanted = _SPARE * max(turnover, ammonia_flow)
    loop = pump_line(
        p, Loop("riser", sump, "riser", "the pump lifts all water to the fish tank", End(tank, wanted, m("inlet", 1), _reach(tank)))
    )
    tree, share = branching(p, "tank drain", tank, beds, outlet, loop.flow), loop.flow / count
    spare = tank.level + m("emergency")
    falls: list[FallingLine | FallingTree] = [tree]
    falls.append(fall(p, "tank emergency overflow", tank, sump, spare, m("sump in"), _reach(tank), loop.flow, emergency=True, elbows=2))
    for bed in beds:
        falls += _bed_falls(p, bed, sump, share, m("low"))
    return replace(p, vessels=(tank, *beds, sump), loops=(loop,), falls=tuple(falls))


def _flush_tank(p: Plan, count: int) -> Plan:
    m, kit = p.kit.m, p.kit
    length, width, height, media, stays = (m("barrel", i) for i in range(5))
    floor, outlet = (m("barrel at", i) for i in range(2))
    tank, sump = _tank(p, 0.45 * count), _sump(p, count)
    barrel = Vessel.from_si(
        name="barrels", kind="bed", shape="rectangular", count=float(count), length=length, width=width, height=height, floor=floor, working_depth=stays,
        medium="expanded clay 8-16 mm", media_depth=media, empty_mass=8.0,
    )  # fmt: skip
    barrels = tuple(barrel.with_si(name=f"{side} barrels") for side in ("left", "right"))  # joined, each side at one level
    p, turnover, ammonia_flow = _stocked(p, tank, 0.45 * count)
    size = pipe_sizes.sizes(kit.pipe_standard)[0 if count < 3 else 1]
    sure = siphons.siphon_starting_band.si(pipe_sizes.bore.si(size, kit.pipe_standard)).si.sure
    flow = max(1.15 * sure, _SPARE * ammonia_flow)
    high, low, lip, inlet = (m("flush", i) for i in range(4))
    side = up(math.sqrt(0.04 * count / lip), kit.step)
    flush = Vessel.from_si(
        name="flush tank", kind="buffer tank", shape="rectangular", length=side, width=side, height=high, floor=low, working_depth=lip, empty_mass=5.0,
    )  # fmt: skip
    loop = pump_line(p, Loop(
        "riser", sump, "riser", "the pump and everything that it feeds", End(tank, _SPARE * turnover, m("inlet", 0), _reach(tank)),
        (End(flush, flow, inlet, fixed=True),),
    ))  # fmt: skip
    bell = branching(p, "bell", flush, barrels, outlet, 2.5 * flow, siphon_size=size)
    falls = [*_tank_falls(p, tank, sump, loop.ends[0].flow, m("sump in")), bell]
    falls.append(
        fall(p, "flush emergency overflow", flush, sump, flush.level + m("emergency"), m("low"), 2.0, flow, emergency=True, elbows=1)
    )
    for one in barrels:
        falls += _bed_falls(p, one, sump, 1.25 * flow, m("low"))
    return replace(p, vessels=(flush, tank, *barrels, sump), loops=(loop,), falls=tuple(falls))


def _filters(p: Plan, flow: float, count: int, carries: str) -> tuple[Vessel, Vessel]:
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


def _behind_filters(p: Plan, count: int):
    """(plan, tank, sump, flow that the tank wants): what rafts, channels and towers have in common."""
    tank, sump = _tank(p, count, place=1), _sump(p, count)
    p, turnover, ammonia_flow = _stocked(p, tank, count)
    return p, tank, sump, _SPARE * max(turnover, ammonia_flow)


def _filter_falls(p: Plan, tank: Vessel, filters: tuple[Vessel, Vessel], to: Vessel, sump: Vessel, flow: float, outlet: float):
    """From the tank through both filters and on, each with an emergency overflow to the sump."""
    m, step, (swirl, second) = p.kit.m, p.kit.step, filters
    yield fall(p, "tank overflow", tank, swirl, tank.level, swirl.level + step, 1.0, flow, least=0.05, elbows=1, screen=True)
    yield fall(
        p, "tank emergency overflow", tank, sump, tank.level + m("emergency"), m("low"), _reach(tank), flow, emergency=True, elbows=2
    )
    yield fall(p, "swirl outlet", swirl, second, swirl.level, second.level + step / 2, 0.8, flow, least=0.05, over=_THIN)
    yield fall(p, "swirl emergency overflow", swirl, sump, swirl.level + m("emergency"), m("low"), 1.8, flow, emergency=True)
    yield fall(p, f"{second.si.name} outlet", second, to, second.level, outlet, 1.2, flow, least=0.05, elbows=1, over=_THIN)
    yield fall(p, f"{second.si.name} emergency overflow", second, sump, second.level + m("emergency"), m("low"), 1.8, flow, emergency=True)


def _rafts(p: Plan, count: int) -> Plan:
    m = p.kit.m
    p, tank, sump, wanted = _behind_filters(p, count)
    length, width, height, depth = (m("raft", i) for i in range(4))
    rafts = Vessel.from_si(
        name="rafts", kind="raft", shape="rectangular", count=float(count), length=length, width=width, height=height, floor=0.0,
        working_depth=depth, empty_mass=40.0,
    )  # fmt: skip
    loop = pump_line(
        p, Loop("riser", sump, "riser", "the pump lifts all water to the fish tank", End(tank, wanted, m("inlet", 1), _reach(tank)))
    )
    flow, filters = loop.flow, _filters(p, loop.flow, count, "moving bed")
    falls = [*_filter_falls(p, tank, filters, rafts, sump, flow, height + 0.5 * p.kit.step)]
    falls += _bed_falls(p, rafts, sump, flow, m("sump in"))
    return replace(p, vessels=(tank, *filters, rafts, sump), loops=(loop,), falls=tuple(falls))


def _channels(p: Plan, count: int) -> Plan:
    m = p.kit.m
    length, width, height, floor, outlet = (m("channel", i) for i in range(5))
    channels = Vessel.from_si(
        name="channels", kind="channel", shape="rectangular", count=4.0 * count, length=length, width=width, height=height, floor=floor,
        slope=_CHANNEL_SLOPE, empty_mass=4.0,
    )  # fmt: skip
    return _fed_from_the_sump(p, count, channels, 4 * count * _CHANNEL_FLOW, outlet)


def _towers(p: Plan, count: int) -> Plan:
    m = p.kit.m
    width, height, floor, outlet = (m("tower", i) for i in range(4))
    towers = Vessel.from_si(
        name="towers", kind="tower", shape="round", count=8.0 * count, diameter=width, height=height, floor=floor, sites=12.0, empty_mass=6.0,
    )  # fmt: skip
    return _fed_from_the_sump(p, count, towers, 8 * count * _TOWER_FLOW, outlet)


def _fed_from_the_sump(p: Plan, count: int, grows: Vessel, asks: float, outlet: float) -> Plan:
    """The fish tank behind its filters, and by the same pump, with filtered water, what plants grow in."""
    m = p.kit.m
    p, tank, sump, wanted = _behind_filters(p, count)
    loop = pump_line(p, Loop(
        "riser", sump, "riser", "the pump and everything that it feeds", End(tank, wanted, m("inlet", 1), _reach(tank)), (End(grows, asks, outlet, 2.0),),
    ))  # fmt: skip
    tank_flow, flow = (end.flow for end in loop.ends)
    filters = _filters(p, tank_flow, count, "media")
    falls = [*_filter_falls(p, tank, filters, sump, sump, tank_flow, m("low"))]
    name = grows.si.name
    falls.append(fall(p, f"{name} drain", grows, sump, grows.si.floor, m("low"), 1.5, flow, kind="bed drain", least=0.04, elbows=1))
    falls.append(
        fall(p, f"{name} emergency overflow", grows, sump, grows.si.floor + m("emergency"), m("low"), 1.5, flow, emergency=True, least=0.04)
    )
    return replace(p, vessels=(tank, *filters, grows, sump), loops=(loop,), falls=tuple(falls))


KINDS: dict[str, Layout] = {
    "one loop": Layout(
        "a yard where a hole can be dug, and somebody who wants one pump to look after.",
        "one pump in the lowest sump feeds the fish tank and the beds; everything falls back", "beds", "one bed", _one_loop,
    ),
    "two loops": Layout(
        "more fish, whose dirt is to be kept out of the beds.",
        "one pump keeps the fish tank turning, a second on a float switch feeds the beds", "beds", "one bed", _two_loops,
    ),
    "bed above the tank": Layout(
        "a place where no hole can be dug and room is short: the beds stand over the fish, on a strong frame.",
        "the pump in the fish tank feeds the beds above it, and they fall back into it", "beds", "one bed", _bed_above,
    ),
    "gravity from the tank": Layout(
        "a yard where a hole can be dug, and somebody who wants to share the water out by hand, with valves.",
        "one pump lifts all water to the fish tank; from there it falls through one pipe with branches to the beds, and on to the sump", "beds", "one bed", _gravity,
    ),
    "flush tank": Layout(
        "many small beds, such as halved barrels, watered in a rush and drained again by themselves.",
        "a flush tank fills slowly, and empties by a bell siphon onto halved barrels; a branch of the same pump keeps the fish tank turning",
        "pairs of barrels", "one pair of barrels", _flush_tank, 2,
    ),
    "rafts": Layout(
        "much lettuce and leaf on flat ground, and somebody who keeps air blowing day and night.",
        "one pump lifts all water to the fish tank; it falls through a swirl filter and a moving bed to rafts, and on to the sump",
        "rafts", "one raft", _rafts,
    ),
    "film channels": Layout(
        "leaf and herbs at the height of a table, with little water, where power hardly ever fails.",
        "the fish tank's water falls through a swirl filter and a tank of media to the sump; its pump feeds tank and channels",
        "rows of four channels", "one row of four channels", _channels, 4,
    ),
    "towers": Layout(
        "a narrow yard, a wall or a greenhouse: leaf and strawberries in columns, where power hardly ever fails.",
        "the fish tank's water falls through a swirl filter and a tank of media to the sump; its pump feeds tank and towers",
        "rows of eight towers", "one row of eight towers", _towers, 8,
    ),
}  # fmt: skip

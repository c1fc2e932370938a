"""The layouts of first builds, each worked out from the number of what it grows in.

Part of `aquaplumb.build.layouts`, which is the face of all this. All numbers are bare SI.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from aquaplumb.build.falling_records import FallingLine, FallingTree
from aquaplumb.build.layout_lines import branching, fall, pump_line
from aquaplumb.build.layout_plan import End, Kit, Loop, Plan, up
from aquaplumb.build.layout_vessels import (
    BODY,
    CALM,
    DENSITY,
    LARGE,
    SPARE,
    SURE,
    WATER_PER_BED,
    bed_falls,
    beds_of,
    behind_filters,
    filter_falls,
    filters_for,
    fish_tank,
    joined_tanks,
    joint,
    reach,
    stocked,
    sump_of,
    tank_falls,
    two_stocks,
    with_siphons,
)  # fmt: skip
from aquaplumb.build.records import Site, Stock, Wanted
from aquaplumb.build.vessels import Vessel
from aquaplumb.plumbing import pipe_sizes, pumps, siphons
from aquaplumb.units import DesignError
from aquaplumb.water.filters import RISE_LIMIT

_MOST, _LARGEST = 1.5, 6.0  # of the usual water in the fish tank: for as many beds, and for one: beyond it no demo pump turns it over
_BARRELS = 0.45  # of the water for a bed, for a pair of barrels
_TWO_CROPS = ("lettuce", "tomato")
_SIPHONS_TO = 2  # beds: with more, giving each siphon enough to be sure to start takes a far stronger pump
# Common practice, no source: what makes an easy first system.
_CHANNEL_SLOPE, _CHANNEL_FLOW, _TOWER_FLOW = (
    0.025,
    75 / 3.6e6,
    40 / 3.6e6,
)  # FAO 589 has 1 to 2 L/min for a channel; a tower: common practice


@dataclass(frozen=True, slots=True)
class Layout:
    """A layout to begin from."""

    suits: str  #: whom it suits, a sentence
    about: str  #: how the water goes, as the file says it
    grows_in: str  #: what its number counts
    one: str  #: one of them
    draw: Callable[[Plan, int], Plan]  #: from the bare plan and that number to its vessels and lines
    each: int = 1  #: vessels to plant in one of them
    siphons_to: int = 0  #: the most beds that a siphon each is offered for
    plain: str = ""  #: why its beds have plain drains, where no siphon is offered
    least: float = 0.7  #: of that water, that its tank can do with
    water: float = 1.0  #: that its (larger) fish tank has for one of them, times that for a bed


def plan(layout: str, count: int, kit: Kit, site: Site, species: str, title: str, *, drains: str = "", spacious: float = 1.0) -> Plan:
    """The plan of a layout with so many of what it grows in."""
    kind = KINDS[layout]
    bare = Plan(
        layout=layout, about=kind.about, title=title or f"My system, {layout}", kit=kit, site=site, stock=Stock.from_si(
            species=species, density=DENSITY, body_mass=BODY, feeding_rate=0.0, protein=0.3), wanted=Wanted.from_si(),
        drains=drains, spacious=spacious,
    )  # fmt: skip
    return kind.draw(bare, count)


def usual_water(layout: str, count: int) -> float:
    """The water [m³] of the (larger) fish tank for so many of what a layout grows in."""
    return KINDS[layout].water * count * WATER_PER_BED


def tank_water(layout: str, count: int) -> tuple[float, float]:
    """The least and the most water [m³] of the (larger) fish tank for so many."""
    usual = usual_water(layout, count)
    return KINDS[layout].least * usual, min(_MOST * usual, _LARGEST * usual_water(layout, 1))


def counted(layout: str, count: int) -> str:
    """So many of what a layout grows in, in words."""
    kind = KINDS[layout]
    return kind.one if count == 1 else f"{count:g} {kind.grows_in}"


def _one_loop(p: Plan, count: int) -> Plan:
    tank, sump, beds = fish_tank(p, count), sump_of(p, count), beds_of(p, count)
    p, turnover, ammonia_flow = stocked(p, tank, count)
    bed_flow, size = with_siphons(p, SPARE * ammonia_flow / count, "siphon" if count <= _SIPHONS_TO else "plain")
    loop = pump_line(p, Loop(
        "riser", sump, "riser", "the pump and everything that it feeds", End(tank, SPARE * turnover, p.kit.m("inlet", 0), reach(tank)),
        tuple(End(bed, bed_flow, p.kit.m("bed outlet"), fixed=bool(size)) for bed in beds),
    ))  # fmt: skip
    falls = list(tank_falls(p, tank, sump, loop.ends[0].flow, p.kit.m("sump in")))
    for bed, end in zip(beds, loop.rest):
        falls += bed_falls(p, bed, sump, end.flow, p.kit.m("low"), size)
    return replace(p, vessels=(tank, *beds, sump), loops=(loop,), falls=tuple(falls))


def _two_loops(p: Plan, count: int) -> Plan:
    tank, sump, beds, m, step = fish_tank(p, count, place=1), sump_of(p, count), beds_of(p, count), p.kit.m, p.kit.step
    p, turnover, ammonia_flow = stocked(p, tank, count)
    first = pump_line(p, Loop(
        "tank loop", sump, "riser", "loop 1: the sump's pump keeps the fish tank turning",
        End(tank, SPARE * turnover, m("inlet", 1), reach(tank)),
    ))  # fmt: skip
    flow = first.flow
    height, depth, cone = (m("settling", i) for i in range(3))
    settling = Vessel.from_si(
        name="settling tank", kind="settling tank", shape="cone-bottomed", floor=0.0, height=height, working_depth=depth, cone_height=cone,
        diameter=max(up(math.sqrt(4 * CALM * flow / (math.pi * RISE_LIMIT["settling"])), step), 8 * step), empty_mass=25.0,
    )  # fmt: skip
    height, depth, on, off = (m("dosing", i) for i in range(4))
    dosing = Vessel.from_si(
        name="dosing tank", kind="buffer tank", shape="rectangular", floor=0.0, height=height, working_depth=depth, length=step, width=step,
        empty_mass=30.0,
    )  # fmt: skip
    for more in (1.3, 1.2, 1.1):  # times what comes in, so that the pump can rest
        bed_flow = max(more * flow, SPARE * ammonia_flow) / count
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
        fall(p, "tank emergency overflow", tank, sump, tank.level + m("emergency"), m("low"), reach(tank), flow, emergency=True, elbows=2),
        fall(p, "settling outlet", settling, dosing, settling.level, on + step, 0.7, flow, least=0.05),
        fall(p, "settling emergency overflow", settling, sump, settling.level + m("emergency"), m("low"), 1.8, flow, emergency=True),
        fall(p, "dosing emergency overflow", dosing, sump, on + m("emergency"), m("low"), 1.5, flow, emergency=True),
    ]
    for bed, end in zip(beds, second.rest):
        falls += bed_falls(p, bed, sump, end.flow, m("low"))
    second = replace(second, source=dosing)
    return replace(p, vessels=(tank, settling, dosing, *beds, sump), loops=(first, second), falls=tuple(falls))


def _bed_above(p: Plan, count: int) -> Plan:
    m = p.kit.m
    floor, outlet, back = (m("high bed", i) for i in range(3))
    tank, beds = fish_tank(p, count, place=2), beds_of(p, count, floor=floor)
    p, turnover, ammonia_flow = stocked(p, tank, count)
    flow = SPARE * max(turnover, ammonia_flow) / count
    loop = pump_line(
        p, Loop("riser", tank, "riser", "the pump stands in the fish tank", rest=tuple(End(bed, flow, outlet) for bed in beds))
    )
    falls = [line for bed, end in zip(beds, loop.rest) for line in bed_falls(p, bed, tank, end.flow, back)]
    return replace(p, vessels=(*beds, tank), loops=(loop,), falls=tuple(falls))


def _gravity(p: Plan, count: int) -> Plan:
    m = p.kit.m
    floor, outlet = (m("low bed", i) for i in range(2))
    tank, sump, beds = fish_tank(p, count, place=1), sump_of(p, count), beds_of(p, count, floor=floor)
    p, turnover, ammonia_flow = stocked(p, tank, count)
    wanted = SPARE * max(turnover, ammonia_flow)
    loop = pump_line(
        p, Loop("riser", sump, "riser", "the pump lifts all water to the fish tank", End(tank, wanted, m("inlet", 1), reach(tank)))
    )
    tree, share = branching(p, "tank drain", tank, beds, outlet, loop.flow), loop.flow / count
    spare = tank.level + m("emergency")
    falls: list[FallingLine | FallingTree] = [tree]
    falls.append(fall(p, "tank emergency overflow", tank, sump, spare, m("sump in"), reach(tank), loop.flow, emergency=True, elbows=2))
    for bed in beds:
        falls += bed_falls(p, bed, sump, share, m("low"))
    return replace(p, vessels=(tank, *beds, sump), loops=(loop,), falls=tuple(falls))


def _flush_tank(p: Plan, count: int) -> Plan:
    m, kit = p.kit.m, p.kit
    length, width, height, media, stays = (m("barrel", i) for i in range(5))
    floor, outlet = (m("barrel at", i) for i in range(2))
    tank, sump = fish_tank(p, _BARRELS * count), sump_of(p, count)
    barrel = Vessel.from_si(
        name="barrels", kind="bed", shape="rectangular", count=float(count), length=length, width=width, height=height, floor=floor, working_depth=stays,
        medium="expanded clay 8-16 mm", media_depth=media, empty_mass=8.0,
    )  # fmt: skip
    barrels = tuple(barrel.with_si(name=f"{side} barrels") for side in ("left", "right"))  # joined, each side at one level
    p, turnover, ammonia_flow = stocked(p, tank, _BARRELS * count)
    size = pipe_sizes.sizes(kit.pipe_standard)[0 if count < 3 else 1]
    sure = siphons.siphon_starting_band.si(pipe_sizes.bore.si(size, kit.pipe_standard)).si.sure
    flow = max(SURE * sure, SPARE * ammonia_flow)
    high, low, lip, inlet = (m("flush", i) for i in range(4))
    side = up(math.sqrt(0.04 * count / lip), kit.step)
    flush = Vessel.from_si(
        name="flush tank", kind="buffer tank", shape="rectangular", length=side, width=side, height=high, floor=low, working_depth=lip, empty_mass=5.0,
    )  # fmt: skip
    loop = pump_line(p, Loop(
        "riser", sump, "riser", "the pump and everything that it feeds", End(tank, SPARE * turnover, m("inlet", 0), reach(tank)),
        (End(flush, flow, inlet, fixed=True),),
    ))  # fmt: skip
    bell = branching(p, "bell", flush, barrels, outlet, 2.5 * flow, siphon_size=size)
    falls = [*tank_falls(p, tank, sump, loop.ends[0].flow, m("sump in")), bell]
    falls.append(
        fall(p, "flush emergency overflow", flush, sump, flush.level + m("emergency"), m("low"), 2.0, flow, emergency=True, elbows=1)
    )
    for one in barrels:
        falls += bed_falls(p, one, sump, 1.5 * flow, m("low"))
    return replace(p, vessels=(flush, tank, *barrels, sump), loops=(loop,), falls=tuple(falls))


def _two_tanks(p: Plan, count: int) -> Plan:
    m = p.kit.m
    (small, large), sump, beds = joined_tanks(p, count), sump_of(p, count), beds_of(p, count)
    leaf = (count + 1) // 2  # beds of the first crop; one bed alone has both
    crops = [dict.fromkeys(_TWO_CROPS, 0.5)] if count == 1 else [{_TWO_CROPS[i >= leaf]: 1.0} for i in range(count)]
    beds = tuple(bed.with_si(crop=crop) for bed, crop in zip(beds, crops))
    p, turnovers, ammonia_flow = two_stocks(p, small, large, count)
    bed_flow, size = with_siphons(p, SPARE * ammonia_flow / count)
    to_small, to_large = (End(tank, SPARE * flow, m("inlet", 0), reach(tank)) for tank, flow in zip((small, large), turnovers))
    loop = pump_line(p, Loop(
        "riser", sump, "riser", "the pump and everything that it feeds", to_large,
        (to_small, *(End(bed, bed_flow, m("bed outlet"), fixed=bool(size)) for bed in beds)),
    ))  # fmt: skip
    large_flow, small_flow, *bed_flows = (end.flow for end in loop.ends)
    falls = [joint(p, small, large, small_flow), *tank_falls(p, large, sump, large_flow + small_flow, m("sump in"), over=0.04)]
    spare = small.level + m("emergency")
    falls.append(
        fall(p, "small tank emergency overflow", small, sump, spare, m("sump in"), reach(small), small_flow, emergency=True, elbows=2)
    )
    for bed, flow in zip(beds, bed_flows):
        falls += bed_falls(p, bed, sump, flow, m("low"), size)
    return replace(p, vessels=(small, large, *beds, sump), loops=(loop,), falls=tuple(falls))


def _rafts(p: Plan, count: int) -> Plan:
    m = p.kit.m
    p, tank, sump, wanted = behind_filters(p, count)
    length, width, height, depth = (m("raft", i) for i in range(4))
    rafts = Vessel.from_si(
        name="rafts", kind="raft", shape="rectangular", count=float(count), length=length, width=width, height=height, floor=0.0,
        working_depth=depth, empty_mass=40.0,
    )  # fmt: skip
    loop = pump_line(
        p, Loop("riser", sump, "riser", "the pump lifts all water to the fish tank", End(tank, wanted, m("inlet", 1), reach(tank)))
    )
    flow, filters = loop.flow, filters_for(p, loop.flow, count, "moving bed")
    falls = [*filter_falls(p, tank, filters, rafts, sump, flow, height + 0.5 * p.kit.step)]
    falls += bed_falls(p, rafts, sump, flow, m("sump in"))
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
    return _fed_from_the_sump(p, count, towers, 8 * count * _TOWER_FLOW, outlet, drippers=8 * count)


def _fed_from_the_sump(p: Plan, count: int, grows: Vessel, asks: float, outlet: float, drippers: int = 0) -> Plan:
    """The fish tank behind its filters, and by the same pump, with filtered water, what plants grow in."""
    m = p.kit.m
    p, tank, sump, wanted = behind_filters(p, count)
    loop = pump_line(p, Loop(
        "riser", sump, "riser", "the pump and everything that it feeds", End(tank, wanted, m("inlet", 1), reach(tank)), (End(grows, asks, outlet, 2.0, drippers=drippers),),
    ))  # fmt: skip
    tank_flow, flow = (end.flow for end in loop.ends)
    filters = filters_for(p, tank_flow, count, "media")
    falls = [*filter_falls(p, tank, filters, sump, sump, tank_flow, m("low"))]
    name = grows.si.name
    falls.append(fall(p, f"{name} drain", grows, sump, grows.si.floor, m("low"), 1.5, flow, kind="bed drain", least=0.04, elbows=1))
    falls.append(
        fall(p, f"{name} emergency overflow", grows, sump, grows.si.floor + m("emergency"), m("low"), 1.5, flow, emergency=True, least=0.04)
    )
    return replace(p, vessels=(tank, *filters, grows, sump), loops=(loop,), falls=tuple(falls))


KINDS: dict[str, Layout] = {
    "one loop": Layout(
        "a yard where a hole can be dug, and one pump to look after.",
        "one pump in the lowest sump feeds the fish tank and the beds; everything falls back", "beds", "one bed", _one_loop, siphons_to=4,
    ),
    "two loops": Layout(
        "more fish, whose dirt is kept out of the beds.",
        "one pump keeps the fish tank turning, a second on a float switch feeds the beds", "beds", "one bed", _two_loops,
        plain="their pump, on a float, can run too strong for a siphon to stop",
    ),
    "bed above the tank": Layout(
        "a place without a pit or much room: beds over the fish, on a strong frame.",
        "the pump in the fish tank feeds the beds above it, and they fall back into it", "beds", "one bed", _bed_above,
        least=1.0, plain="siphons would move the fish tank's water up and down",
    ),
    "gravity from the tank": Layout(
        "a yard where a hole can be dug, and water shared out by hand, with valves.",
        "one pump lifts all water to the fish tank; from there it falls through one pipe with branches to the beds, and on to the sump", "beds", "one bed", _gravity,
        plain="water is set by hand, and with too little a siphon does not start",
    ),
    "flush tank": Layout(
        "many small beds, such as halved barrels, watered in a rush.",
        "a flush tank fills slowly, and empties by a bell siphon onto halved barrels; a branch of the same pump keeps the fish tank turning",
        "pairs of barrels", "one pair of barrels", _flush_tank, 2, water=_BARRELS,
        plain="the siphon is in the flush tank",
    ),
    "two tanks": Layout(
        "fish to eat all the year: young ones grow up beside those that are harvested.",
        "one pump in the lowest sump feeds the beds and two fish tanks that are joined at one level; both tanks run over by one overflow",
        "beds", "one bed", _two_tanks, siphons_to=4, water=LARGE,
    ),
    "rafts": Layout(
        "much leaf on flat ground, where air blows into the water day and night.",
        "one pump lifts all water to the fish tank; it falls through a swirl filter and a moving bed to rafts, and on to the sump",
        "rafts", "one raft", _rafts,
    ),
    "film channels": Layout(
        "leaf and herbs at table height, with little water, where power hardly ever fails.",
        "the fish tank's water falls through a swirl filter and a tank of media to the sump; its pump feeds tank and channels",
        "rows of four channels", "one row of four channels", _channels, 4,
    ),
    "towers": Layout(
        "a narrow yard or a wall: leaf in columns, where power hardly ever fails.",
        "the fish tank's water falls through a swirl filter and a tank of media to the sump; its pump feeds tank and towers",
        "rows of eight towers", "one row of eight towers", _towers, 8,
    ),
}  # fmt: skip

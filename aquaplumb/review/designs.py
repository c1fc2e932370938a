"""A build solved many times side by side: the steady system with an array of designs in place of each single number.

The same functions give each number as in `aquaplumb.system.balance`, in the same order; only the choices (`if`) are made for all
designs at once. What is unknown comes by name from `aquaplumb.review.ranges`; what is not given stays as in the build file.
All numbers in here are bare SI. Part of `aquaplumb.review.sweep`, which is the face of all this.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace

import numpy as np

from aquaplumb import fish, water
from aquaplumb.air import breathing
from aquaplumb.fish import beds, circulation
from aquaplumb.plumbing import fittings, full_pipe, line_solver, lines, pipes, pumps, siphons
from aquaplumb.plumbing.line_records import net
from aquaplumb.review.drawn import Draw, SweptBuild, drawn_start, in_band, off_typical
from aquaplumb.review.findings.pipework import SHARE_OFF
from aquaplumb.review.findings.pumping import ENOUGH
from aquaplumb.review.power_cut import at_rest
from aquaplumb.review.ranges import (
    MEDIA,
    NITRIFICATION,
    OVERFLOWS,
    ROUGHNESS,
    SIPHONS,
    WARMTH,
    feeding_of,
)
from aquaplumb.review.waters import Waters, waters
from aquaplumb.system.supplies import billed
from aquaplumb.units import GRAVITY, Bare
from aquaplumb.water.filters import IN_AIR


@dataclass(frozen=True, slots=True)
class DesignResults:
    """What is told of some designs, a number of each for each."""

    size: int  #: how many designs
    results: dict[str, np.ndarray]  #: by name, as in a review
    holds: dict[str, np.ndarray]  #: whether a promise holds, by its name
    margins: dict[str, np.ndarray]  #: what there is over what is needed, by promise


@dataclass(frozen=True, slots=True)
class NeedOfDesigns:
    """What fish and bacteria ask for."""

    tanks: dict[tuple[str, ...], np.ndarray]  #: flow through each fish tank, or all with one stock in them [m³/s]
    bed: np.ndarray  #: flow through the beds [m³/s]
    surface: np.ndarray  #: of the media [m²]
    needed: np.ndarray  #: surface for the ammonia [m²]


@dataclass(frozen=True, slots=True)
class PumpedDesigns:
    """A pumped line while its pump runs."""

    name: str
    source: str  #: the vessel that it draws from
    floats: bool  #: whether a float switch turns its pump on
    flow: np.ndarray  #: [m³/s]
    head: np.ndarray  #: that the pump gives [m]
    lift: np.ndarray  #: from its lowest water to the highest outlet [m]
    into: dict[str, np.ndarray]  #: flow out of each end, by its stretch [m³/s]
    shares: dict[str, np.ndarray]  #: of the flow, by stretch
    power: np.ndarray | None  #: [W]; None where its maker says nothing


@dataclass(frozen=True, slots=True)
class FallingDesigns:
    """A falling line."""

    name: str
    si: Bare  #: its record
    capacity: np.ndarray  #: up to the freeboard [m³/s]
    siphon_flow: np.ndarray  #: of a siphon at a full bed [m³/s]; else 0
    at_vent: np.ndarray  #: … in a pipe that runs full with the level at the vent [m³/s]; else 0


def solved_designs(plan: SweptBuild, values: dict[str, np.ndarray], size: int) -> DesignResults:
    """All that a sweep tells of some designs."""
    d = Draw(plan, values, size)
    living = _living(plan, d)
    pumped = {name: _pumped(plan, name, d) for name in plan.trees}
    falling = _falling(plan, d)
    ends = {(name, end): flow for name, p in pumped.items() for end, flow in p.into.items()}
    water = waters(plan, d, {name: p.flow for name, p in pumped.items()}, ends)
    told = DesignResults(size, {}, {}, {})
    _tell_pumped(plan, d, living, pumped, falling, water, told)
    _tell_falling(d, falling, water.loads, told)
    for name, rest in at_rest(plan.build, d, water.loads).items():
        told.results[f"vessel {name}.after a power cut"] = rest.depth
        _chance(told, f"{name} holds a power cut", rest.volume <= rest.room, rest.room / np.maximum(rest.volume, 1e-12))
    told.results.update({"beds.surface": living.surface, "beds.surface needed": living.needed})
    _chance(told, "the media suffice", living.surface >= living.needed, living.surface / np.maximum(living.needed, 1e-12))
    for name, value in told.results.items():
        told.results[name] = d.full(value)
    return told


def _chance(told: DesignResults, name: str, holds, margin) -> None:
    """Whether something holds in each design, and by what margin."""
    told.holds[name] = np.array(np.broadcast_to(holds, (told.size,)), bool)
    told.margins[name] = np.array(np.broadcast_to(margin, (told.size,)), float)


# --- life ------------------------------------------------------------------------------------------


def _living(plan: SweptBuild, d: Draw) -> NeedOfDesigns:
    """The flows that fish and bacteria ask for, and the media's surface against what the ammonia needs."""
    b, w = plan.build, plan.build.water.si
    warm, through, ammonia = d(WARMTH, plan.warm), {}, 0.0
    inlet = w.inlet_saturation * water.oxygen_saturation.si(warm, salinity=w.salinity, altitude=b.site.si.altitude)
    brings = inlet > w.outlet_oxygen
    for tank in plan.tanks:
        dirt = fed = usual = 0.0
        for one in tank.stocks:
            stock = one.stock
            eats = d(feeding_of(b, one.name))
            feed = fish.daily_feed.si(one.biomass, eats)
            ammonia = ammonia + fish.ammonia_production.si(feed, stock.protein)
            breathed = breathing.fish_respiration.si(eats, stock.body_mass, warm, species=stock.species, meal_peak=w.oxygen_peak).si
            dirt = dirt + fish.dirt_oxygen.si(feed, stays=tank.stays)
            fed, usual = fed + one.biomass * breathed.fed, usual + one.biomass * breathed.usual
        demand = (fed + dirt) * (1 - w.aerated_share)
        flow = circulation.oxygen_flow.si(demand, inlet=np.where(brings, inlet, w.outlet_oxygen + 1.0), outlet=w.outlet_oxygen)
        for_oxygen = np.where(np.less_equal(demand, 0), 0.0, np.where(brings, flow, np.inf))
        made, blown = fish.carbon_dioxide_production.si(usual + dirt), plan.stripping[tank.name] * max(0.0, w.carbon_dioxide_limit - IN_AIR)
        airing = circulation.carbon_dioxide_flow.si(
            np.maximum(0.0, made - blown), inlet=w.inlet_carbon_dioxide, limit=w.carbon_dioxide_limit
        )
        through[tank.vessels] = np.maximum(np.maximum(circulation.turnover_flow.si(tank.volume, w.turnovers), for_oxygen), airing)
    rate = d(NITRIFICATION)
    if w.nitrification_rate is None:  # what print has at 20 °C, at the water's temperature
        known = beds.nitrification_rate.si
        rate = rate * (known(d(WARMTH, plan.cold)).si.typical / known(293.15).si.typical)
    return NeedOfDesigns(
        tanks=through, bed=circulation.ammonia_flow.si(ammonia, limit=w.ammonia_limit, removal=w.removal),
        surface=in_band(d(MEDIA, 0.0), *(plan.surface[band] for band in fittings.BANDS)), needed=beds.nitrifying_area.si(ammonia, rate),
    )  # fmt: skip


# --- pumped lines ------------------------------------------------------------------------------------


def _pumped(plan: SweptBuild, name: str, d: Draw) -> PumpedDesigns:
    """What flows in a pumped line, and the head of its pump."""
    p, given = plan.build.lines[name].si, plan.trees[name].si
    clogged = fittings.clogged_k.si(1.0, given.strainer_blocked)
    vessels, lift = plan.build.vessels, d(f"lift of {name}")
    mouths = {pipe.si.name: vessels[pipe.si.to].rim if pipe.si.outlet is None else pipe.si.outlet for pipe in p.pipe if pipe.si.to}

    def level(vessel: str):
        return vessels[vessel].level + d(f"water level in {vessel}", 0.0)

    print_left = 0.0 if p.measured_on else 1.0  # of the bands of print: what was measured has none

    def stretch(part):
        s, said = part.si, plan.said[name, part.si.name]
        extra = s.extra_k + print_left * (off_typical(s.fittings, d, ("k",)) + clogged * off_typical(s.fittings, d, ("strainer",)))
        costs = (
            {"loss_factor": s.loss_factor * d(f"losses of {name}"), "roughness": s.roughness}
            if p.measured_on
            else {"roughness": d(ROUGHNESS)}
        )
        outlet = np.maximum(level(s.to), mouths[s.name] + lift + d(f"outlet of {said}")) if s.to else s.outlet
        opening = d(f"valve of {said}", s.opening)
        return part.from_si(**{**vars(s), "extra_k": extra, "outlet": outlet, "opening": opening, **costs})

    source = given.source if p.control.si.kind == "float" else level(p.source)
    line = lines.Line.from_si(
        name=name, source=source, temperature=d(WARMTH, plan.cold), strainer_blocked=given.strainer_blocked,
        suction=tuple(map(stretch, given.suction)), stretches=tuple(map(stretch, given.stretches)),
    )  # fmt: skip
    made = net(line, "typical", 1)
    links = made.links
    for field in ("check_k", "opening_head"):
        if getattr(links, field) is not None:
            rows = [d.full(print_left * off_typical(part.fittings, d, (field,))) for part in made.parts]
            setattr(links, field, getattr(links, field) + np.stack(rows))
    by_flow, by_head = d(f"pump flow of {name}"), d(f"pump head of {name}")
    pump = plan.pumps[name]
    q, top = line_solver.end_flows(
        made.shape, links.counted_in(by_flow, by_head), np.broadcast_to(made.outlet / by_head, (len(made.ends), d.size)),
        pump=pumps.curve(pump), source=made.source / by_head,
    )  # fmt: skip
    q = q * by_flow
    flow = q.sum(axis=0)
    into = dict(zip(made.ends, q))
    with np.errstate(invalid="ignore", divide="ignore"):
        shares = {end: np.where(flow > 0, into[end] / flow, 0.0) for end, _ in plan.ends(name)}
    highest = functools.reduce(np.maximum, (s.si.outlet for s in line.si.stretches if s.si.to))
    power = pumps.power.si(pump, flow / by_flow) if pump.si.power is not None else None
    return PumpedDesigns(
        name=name, flow=flow, head=d.full(top * by_head - made.source), into=into, shares=shares, power=power,
        lift=highest - source, source=p.source, floats=p.control.si.kind == "float",
    )  # fmt: skip


# --- falling lines -----------------------------------------------------------


def _falling(plan: SweptBuild, d: Draw) -> dict[str, FallingDesigns]:
    """What each falling line can carry; a siphon's flow when its bed is full, and when the level is at its vent.

    A stretch of a tree carries what it does in the build, times what this stretch by itself would carry over what it would there.
    """
    found = _each(plan, d)
    if not plan.branches:
        return found
    built = _each(plan, Draw(plan, {}, 1))
    return found | {name: _of_a_tree(found[name], built[name], *plan.branches[name]) for name in plan.branches}


def _of_a_tree(own: FallingDesigns, built: FallingDesigns, capacity: float, full: float, at_vent: float) -> FallingDesigns:
    def times(much: float, mine, there) -> np.ndarray:
        return much * np.divide(mine, there, out=np.ones_like(mine), where=there > 0)

    return replace(
        own, capacity=times(capacity, own.capacity, built.capacity), siphon_flow=times(full, own.siphon_flow, built.siphon_flow),
        at_vent=times(at_vent, own.at_vent, built.at_vent),
    )  # fmt: skip


def _each(plan: SweptBuild, d: Draw) -> dict[str, FallingDesigns]:
    """Each falling line or stretch by itself."""
    rows, mouth = [], {}
    for name, line in plan.build.falling.items():
        f, way = line.si, plan.ways[name]
        source, to = plan.places[f.source], plan.places[f.to]
        clear = 1 - f.screen_blocked
        k = way.k + off_typical(f.fittings, d, ("k", "strainer"))
        screened = k + way.behind_screen(clear) * 2 * GRAVITY * (np.pi / 4 * f.bore**2) ** 2
        wide = way.check_k + off_typical(f.fittings, d, ("check_k",))
        room = max(0.0, source.rim - source.si.freeboard - f.lip)
        bottom = np.maximum(f.outlet, to.level + d(f"water level in {f.to}", 0.0))
        mouth[name] = way.mouth(room, clear) * d(OVERFLOWS)
        high = f.lip + room - bottom
        opens = way.opening_head + off_typical(f.fittings, d, ("opening_head",))
        rows += [(f, "carried", np.maximum(0.0, high), screened + wide), (f, "lifted", np.maximum(0.0, high - opens), screened)]
        if f.siphon:
            rows += [
                (f, "at full", np.maximum(0.0, f.lip - bottom), k + wide),
                (f, "at vent", np.maximum(0.0, f.siphon.si.vent - bottom), k + wide),
            ]
    if not rows:
        return {}
    columns = [np.array([[getattr(f, field)] for f, *_ in rows]) for field in ("bore", "length")]
    falls, ks = (np.stack([d.full(row[i]) for row in rows]) for i in (2, 3))
    flows = full_pipe.full_bore_flow.si(falls, *columns, k=ks, temperature=d(WARMTH, plan.cold), roughness=d(ROUGHNESS, pipes.ROUGHNESS))
    full = {(f.name, what): flow for (f, what, *_), flow in zip(rows, flows)}
    return {
        name: FallingDesigns(
            name=name,
            si=line.si,
            capacity=np.minimum(mouth[name], np.minimum(full[name, "carried"], full[name, "lifted"]) * _unscreened(line.si)),
            siphon_flow=full[name, "at full"] * d(SIPHONS) if line.si.siphon else d.full(0.0),
            at_vent=full[name, "at vent"] if line.si.siphon else d.full(0.0),
        )
        for name, line in plan.build.falling.items()
    }


def _unscreened(fall) -> float:
    """The open part of a line's bore, where it has no screen of its own to be blocked."""
    return 1.0 if fall.screen_open_area else 1.0 - fall.screen_blocked


# --- what is told ----------------------------------------------------------------------------------


def _tell_pumped(
    plan: SweptBuild,
    d: Draw,
    living: NeedOfDesigns,
    pumped: dict[str, PumpedDesigns],
    falling: dict[str, FallingDesigns],
    water: Waters,
    told: DesignResults,
) -> None:
    results, costs = told.results, []
    for name, p in pumped.items():
        wanted = _wanted(plan, d, living, p, falling, water)
        results |= {
            f"line {name}.wanted": wanted,
            f"line {name}.flow": p.flow,
            f"line {name}.head": p.head,
            f"line {name}.lift": p.lift,
        }
        if p.power is not None:
            results[f"line {name}.power"] = p.power
            if bill := billed(plan.build, plan.pumps[name]):
                one = pumps.annual_cost.si(p.power * bill, plan.build.site.si.power_price, duty=water.runs[name])
                results[f"line {name}.cost"] = one
                costs.append(one)
        with np.errstate(divide="ignore", invalid="ignore"):
            margin = np.where(wanted > 0, p.flow / np.where(wanted > 0, wanted, 1.0), np.inf)
        _chance(told, f"{name} brings what is wanted", np.isfinite(wanted) & (p.flow > 0) & (p.flow >= ENOUGH * wanted), margin)
        ends = [to for _, to in plan.ends(name)]
        for end, to in plan.ends(name):
            results |= {f"line {name} › {end}.flow": p.into[end], f"line {name} › {end}.share": p.shares[end]}
            aim = plan.shares[name][end]
            if aim > 0:
                alone = ends.count(to) == 1 and sum(to == other for line in pumped for _, other in plan.ends(line)) == 1
                said = f"{to} gets its share" + ("" if alone else f" by {plan.said[name, end]}")
                _chance(told, said, np.abs(p.shares[end] / aim - 1) <= SHARE_OFF, p.shares[end] / aim)
    if costs and len(pumped) > 1:
        results["all pumps.cost"] = sum(costs)


def _wanted(
    plan: SweptBuild, d: Draw, living: NeedOfDesigns, p: PumpedDesigns, falling: dict[str, FallingDesigns], water: Waters
) -> np.ndarray:
    """The flow that a line has to bring while its pump runs; as `Steady` works it out."""
    line = plan.build.lines[p.name].si
    if line.wanted is not None:
        return d.full(line.wanted)
    vessels = plan.build.vessels
    best = d.full(0.0)
    for (asks, serves), need in zip(plan.asks, (*living.tanks.values(), living.bed)):
        own = [end for end, to in plan.ends(p.name) if to in serves]
        share = sum(plan.shares[p.name][end] for end in own)
        if share <= 0:
            continue
        inflow = sum(water.comes[name] for name in vessels if name in asks)
        brought = sum(p.into[end] for end in own) * water.duty[p.name]
        comes = (inflow > 0) & (brought > 0)
        part = np.where(comes, brought / np.where(comes, inflow, 1.0), 1.0)
        best = np.maximum(best, need * part / share)
    if p.floats:
        back = np.zeros(d.size, bool)
        for end, to in plan.ends(p.name):
            if _reaches(falling, to, p.source):
                back |= p.into[end] > 0
        comes = water.comes[p.source]
        best = np.where((comes > best) & ~back, comes, best)
    duty = plan.duty[p.name]
    return best / duty if duty > 0 else d.full(np.inf)


def _reaches(falling: dict[str, FallingDesigns], start: str, goal: str) -> bool:
    """Whether water falls from one vessel to another."""
    seen, ahead = set(), [start]
    while ahead:
        name = ahead.pop()
        if name not in seen:
            seen.add(name)
            ahead += [f.si.to for f in falling.values() if f.si.source == name and not f.si.emergency]
    return goal in seen


def _tell_falling(d: Draw, falling: dict[str, FallingDesigns], loads: dict[str, np.ndarray], told: DesignResults) -> None:
    results = told.results
    for name, f in falling.items():
        load = loads[name]
        results |= {f"fall {name}.has to carry": load}
        ever = load > 0
        if not f.si.siphon:
            results[f"fall {name}.carries up to the brim"] = f.capacity
            if not f.si.emergency and ever.any() and f.si.source in d.plan.build.vessels:
                _chance(told, f"{name} carries what comes", ~ever | (f.capacity >= load), f.capacity / np.maximum(load, 1e-12))
            continue
        start = d.full(drawn_start(f.si, d))
        at_vent = f.at_vent * d(SIPHONS) if f.si.siphon.si.stops is None else d.full(f.si.siphon.si.stops)
        results |= {
            f"fall {name}.starts from": start,
            f"fall {name}.carries when full": f.siphon_flow,
            f"fall {name}.carries at its vent": at_vent,
        }
        starts, stops = load >= start, siphons.siphon_stops.si(load, at_vent, margin=1.0) == "sure"
        begins, ends = load / np.maximum(start, 1e-12), at_vent / np.maximum(load, 1e-12)
        _chance(told, f"{name} starts", starts, begins)
        _chance(told, f"{name} stops", stops, ends)

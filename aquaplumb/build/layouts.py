"""First builds: a sound build file to start from, for a layout, a number of beds and a site.

    text = first_build("one loop", beds=3, units="US", altitude="1900 ft")

*One loop*: one pump in the lowest sump feeds the fish tank and the beds, and all of it falls back. *Two loops*: one pump
keeps the fish tank turning, through a settling tank to a dosing tank; from there a second pump, on a float switch, feeds
the beds.

The tank and the fish follow from the beds, the flow from the fish, pipe from the flow, each pump from its curve on that
pipe, valves so that each branch gets its share, drains from what comes in. `aquaplumb.build.layout_text` writes the text.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

from aquaplumb import fish, tables, water
from aquaplumb.air import breathing
from aquaplumb.build import layout_lines, layout_text
from aquaplumb.build.layout_lines import up
from aquaplumb.build.layout_plan import Kit, Loop, Plan
from aquaplumb.build.records import Site, Stock, Wanted
from aquaplumb.build.vessels import Vessel
from aquaplumb.fish import circulation, feeding
from aquaplumb.plumbing import pipe_sizes, pumps, siphons
from aquaplumb.tables import unknown
from aquaplumb.units import DAY, HEAD, HOUR, SYSTEMS, TEMPERATURE, DesignError, Length, Temperature, check_range, takes_quantities

LAYOUTS = ("one loop", "two loops")
MOST_BEDS = 6
_SIPHONS_TO = 2  # beds: with more, giving each siphon enough to be sure to start takes a far stronger pump

# Common practice, no source: what makes an easy first system.
_WATER_PER_BED = 0.55  # m³ of tank for a bed
_DENSITY = 15.0  # kg/m³ on the heaviest day; FAO 589 has 10 to 20 for small systems
_BODY = 0.4  # kg, the heaviest fish reckoned with
_REMOVAL, _BED_FLOW = 0.4, 320 / 3.6e6  # of the ammonia in one pass; m³/s for a bed, at most: then fewer fish
_SPARE = 1.12  # of each flow, for dirt and wear
_NOT_FIRST = (  # no beginner's fish: they live by the floor and not by the volume, eat plants, are protected, or outgrow a small tank
    "redclaw", "yabby", "giant river prawn", "grass carp", "giant gourami", "European eel", "Siberian sturgeon", "sterlet", "pacu", "tambaqui",
    "striped catfish",
)  # fmt: skip
_SAFE, _NEARLY = 0.05, 6.0  # K: from a limit of life; as good a fish as another
_RISE = 2.1 / HOUR  # m/s at which water rises in the settling tank: SRAC 453 has 2.4 m/h at most (from memory), `water.filters`


@takes_quantities
def first_build(
    layout: str,
    *,
    beds: int = 2,
    units: str = "metric",
    altitude: Length = 0.0,
    coldest_water: Temperature = 295.15,
    warmest_water: Temperature = 301.15,
    title: str = "",
) -> str:
    """The text of a first build file: a whole small system that its review finds sound, to be changed at will.

    layout: "one loop" or "two loops".
    beds: 1 to 6.
    units: "metric" (metric PVC-U pipe) or "US" (Sch 40 pipe).
    altitude (one value):
    coldest_water (one value):
    warmest_water (one value): They choose the fish, see `fitting_species`.
    title: What the file calls it.
    raises: Where no fish of the table lives in such water, or no demo pump is strong enough.

    Source: sizes are common practice, no source; what follows from them is worked out as in a review. Pumps are
    invented for the demo.

    >>> print(first_build("one loop", beds=2).splitlines()[0])
    # Your build file: a first system, to change as you like. Any unit does (mm or in, L or gal).
    """
    if layout not in LAYOUTS:
        raise DesignError(unknown("list of layouts", layout, LAYOUTS))
    if units not in SYSTEMS:
        raise DesignError(unknown("list of unit systems", units, SYSTEMS))
    if beds not in range(1, MOST_BEDS + 1):
        raise DesignError(f"a first build has 1 to {MOST_BEDS} beds, not {beds}; add more to the file by hand.")
    species = fitting_species.si(coldest_water, warmest_water, altitude=altitude)
    site = Site.from_si(altitude=altitude, coldest_water=coldest_water, warmest_water=warmest_water)
    plan, loop = _plan(layout, int(beds), Kit(units), site, species, title)
    plan = replace(plan, loops=(layout_lines.pump_line(plan, loop),))
    if plan.two:
        plan = _second_loop(plan)
    return layout_text.text(replace(plan, falls=layout_lines.falls(plan)))


@takes_quantities
def fitting_species(coldest_water: Temperature, warmest_water: Temperature, *, altitude: Length = 0.0) -> str:
    """The fish of the species table that suits a water: it lives there all year, and not far from its best range.

    Prawns, crayfish and fish that eat plants, are protected or outgrow a small tank are left to those who know them. Of those that suit nearly as well it takes the one that stands first in the table, the most widely kept.

    coldest_water (one value):
    warmest_water (one value):
    altitude (one value): High up, warm water may hold too little oxygen for it.

    Source: the limits in ``data/species.csv``. Ask for your licence and local rules before you buy fish.

    >>> fitting_species("11 degC", "16 degC")
    'rainbow trout'
    """
    check_range(coldest_water, 273.15, 308.15, TEMPERATURE, "the coldest water", "what is known of fish and bacteria")
    if coldest_water > warmest_water:
        raise DesignError("the coldest water is warmer than the warmest; swap them.")
    check_range(warmest_water, 273.15, 308.15, TEMPERATURE, "the warmest water", "what is known of fish and bacteria")
    inlet = 0.9 * water.oxygen_saturation.si(warmest_water, altitude=altitude)
    alive = [
        s.si for s in tables.table("species").values()
        if s.si.survive_low + _SAFE <= coldest_water and warmest_water <= s.si.survive_high - _SAFE and inlet > s.si.oxygen_minimum + 0.2e-3
        and s.si.name not in _NOT_FIRST
    ]  # fmt: skip
    if not alive:
        span = f"{TEMPERATURE.text(coldest_water)} and {TEMPERATURE.text(warmest_water)}"
        raise DesignError(
            f"no fish of the species table lives in water between {span} at {HEAD.text(altitude)}; heat it, shade it, or keep it nearer to one temperature."
        )
    alive = [s for s in alive if (s.feeding_stops or 0.0) + _SAFE <= coldest_water] or alive  # best one that eats all year
    off = [max(0.0, s.best_low - coldest_water) + max(0.0, warmest_water - s.best_high) for s in alive]
    return next(s.name for s, away in zip(alive, off) if away <= min(off) + _NEARLY)


# --- the plan: every number of the file, bare SI ----------------------------------------------------


def _plan(layout: str, beds: int, kit: Kit, site: Site, species: str, title: str) -> tuple[Plan, Loop]:
    """The plan with its vessels and fish, and what its first loop has to bring."""
    two = layout == "two loops"
    tank_depth = kit.m("tank depth", two)
    diameter = up(math.sqrt(4 * beds * _WATER_PER_BED / (math.pi * tank_depth)), kit.step)
    volume = math.pi / 4 * diameter**2 * tank_depth
    tank = Vessel.from_si(
        name="fish tank", kind="fish tank", shape="round", diameter=diameter, height=kit.m("tank height", two),
        floor=kit.m("tank floor", two), working_depth=tank_depth, empty_mass=40.0,
    )  # fmt: skip
    area = 0.55 + 0.55 * beds  # of the sump: room for the beds' flood water
    height, floor, depth = (kit.m("sump", i) for i in range(3))
    length = up(math.sqrt(1.5 * area), kit.step)
    sump = Vessel.from_si(
        name="sump", kind="sump", shape="rectangular", length=length, width=up(area / length, kit.step), height=height,
        floor=floor, working_depth=depth,
    )  # fmt: skip
    length, width, height = (kit.m("bed", i) for i in range(3))
    bed = Vessel.from_si(
        name="bed", kind="bed", shape="rectangular", length=length, width=width, height=height, floor=kit.m("bed floor"),
        working_depth=kit.m("bed depth"), medium="expanded clay 8-16 mm", media_depth=kit.m("media"), empty_mass=60.0,
    )  # fmt: skip
    turnover = circulation.turnover_flow.si(volume, 1 / HOUR)
    stock, wanted, ammonia_flow = _stock(kit, site, species, beds, volume, turnover)
    bed_flow, siphon_size = _SPARE * ammonia_flow / beds, ""
    if not two and beds <= _SIPHONS_TO:
        siphon_size = pipe_sizes.sizes(kit.pipe_standard)[0]
        sure = siphons.siphon_starting_band.si(pipe_sizes.bore.si(siphon_size, kit.pipe_standard)).si.sure
        bed_flow = max(bed_flow, 1.15 * sure)
    plan = Plan(
        layout=layout, title=title or f"My system, {layout}", kit=kit, site=site, stock=stock, wanted=wanted, ammonia_flow=ammonia_flow,
        tank=tank, sump=sump, beds=tuple(bed.with_si(name=f"bed {i}") for i in range(1, beds + 1)), siphon_size=siphon_size,
    )  # fmt: skip
    return plan, Loop("tank loop" if two else "riser", "sump", sump.level, "riser", _SPARE * turnover, 0.0 if two else bed_flow)


def _stock(kit: Kit, site: Site, species: str, beds: int, volume: float, turnover: float) -> tuple[Stock, Wanted, float]:
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


def _second_loop(p: Plan) -> Plan:
    """The settling tank, the dosing tank, and the pump that takes more from it than comes in, so that it can rest."""
    flow, step = p.loops[0].flow, p.kit.step
    height, depth, cone = (p.kit.m("settling", i) for i in range(3))
    settling = Vessel.from_si(
        name="settling tank", kind="settling tank", shape="cone-bottomed", floor=0.0, height=height, working_depth=depth, cone_height=cone,
        diameter=max(up(math.sqrt(4 * flow / (math.pi * _RISE)), step), 8 * step), empty_mass=25.0,
    )  # fmt: skip
    height, depth, on, off = (p.kit.m("dosing", i) for i in range(4))
    for more in (1.3, 1.2, 1.1):  # times what comes in
        bed_flow = max(more * flow, _SPARE * p.ammonia_flow) / len(p.beds)
        try:
            loop = layout_lines.pump_line(p, Loop("bed loop", "dosing tank", depth, "bed riser", 0.0, bed_flow, on_float=True))
            break
        except DesignError:
            if more == 1.1:
                raise
    cycle = pumps.pump(loop.pump).si.shortest_cycle or 600.0
    area = 1.3 * pumps.float_volume.si(cycle, loop.flow) / (on - off)
    length = max(up(math.sqrt(1.4 * area), step), 12 * step)
    dosing = Vessel.from_si(
        name="dosing tank", kind="buffer tank", shape="rectangular", floor=0.0, height=height, working_depth=depth, length=length,
        width=max(up(area / length, step), 10 * step), empty_mass=30.0,
    )  # fmt: skip
    return replace(p, settling=settling, dosing=dosing, loops=(*p.loops, loop))

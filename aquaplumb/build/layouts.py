"""First builds: a sound build file to start from, for a layout, a number of beds and a site.

    text = first_build("one loop", beds=3, units="US", altitude="1900 ft")

*One loop*: one pump in the lowest sump feeds the fish tank and the beds, and all of it falls back. *Two loops*: one pump
keeps the fish tank turning, through a settling tank to a dosing tank; from there a second pump, on a float switch, feeds
the beds.

The tank and the fish follow from the beds, the flow from the fish, pipe from the flow, each pump from its curve on that
pipe, valves so that each branch gets its share, drains from what comes in. `aquaplumb.build.layout_text` writes the text.
"""

from __future__ import annotations

import math
from types import SimpleNamespace

from aquaplumb import fish, tables, water
from aquaplumb.build import layout_lines, layout_text
from aquaplumb.build.layout_lines import up
from aquaplumb.fish import circulation, feeding
from aquaplumb.plumbing import pipe_sizes, pumps, siphons
from aquaplumb.tables import unknown
from aquaplumb.units import HEAD, SYSTEMS, TEMPERATURE, DesignError, Length, Temperature, check_range, takes_quantities

LAYOUTS = ("one loop", "two loops")
MOST_BEDS = 6
_SIPHONS_TO = 2  # beds: with more, giving each siphon enough to be sure to start takes a far stronger pump

# Common practice, no source: what makes an easy first system.
_WATER_PER_BED = 0.55  # m³ of tank for a bed
_DENSITY = 15.0  # kg/m³ on the heaviest day; FAO 589 has 10 to 20 for small systems
_BODY = 0.4  # kg, the heaviest fish reckoned with
_REMOVAL, _BED_FLOW = 0.4, 320 / 3.6e6  # of the ammonia in one pass; m³/s for a bed, at most: then fewer fish
_SPARE = 1.12  # of each flow, for dirt and wear
_SAFE, _NEARLY = 0.05, 6.0  # K: from a limit of life; as good a fish as another
_RISE = 8 / 3600  # m/s at which water rises in the settling tank

_INCH = 0.0254
# Heights from the ground and sizes: metres, then inches.
_MEASURES = {
    "metric": (1.0, {
        "tank floor": (0.15, 0.25), "tank height": (0.85, 0.95), "tank depth": (0.70, 0.80), "inlet": (1.05, 1.30), "step": 0.05,
        "bed": (2.0, 1.1, 0.36), "bed floor": 0.62, "bed depth": 0.25, "media": 0.30, "bed outlet": 1.05, "vent": 0.05,
        "sump": (0.80, -0.70, 0.45), "emergency": 0.06, "bed emergency": 0.04, "settling": (1.0, 0.85, 0.35), "dosing": (0.80, 0.40, 0.62, 0.22),
        "inlet depth": 0.10, "low": 0.0, "sump in": -0.10, "siphon out": 0.20,
    }),
    "US": (_INCH, {
        "tank floor": (6, 10), "tank height": (34, 38), "tank depth": (28, 31), "inlet": (42, 51), "step": 2,
        "bed": (96, 36, 14), "bed floor": 24, "bed depth": 9, "media": 12, "bed outlet": 41, "vent": 2,
        "sump": (32, -28, 18), "emergency": 2.5, "bed emergency": 2, "settling": (40, 33, 14), "dosing": (32, 16, 25, 9),
        "inlet depth": 4, "low": 0, "sump in": -4, "siphon out": 8,
    }),
}  # fmt: skip


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
    if isinstance(beds, bool) or beds not in range(1, MOST_BEDS + 1):
        raise DesignError(f"a first build has 1 to {MOST_BEDS} beds, not {beds}; add more to the file by hand.")
    plan = _plan(layout, int(beds), units, altitude, coldest_water, warmest_water, title)
    layout_lines.pump_line(plan, plan.lines[0])
    if plan.two:
        _second_loop(plan)
    plan.falls = layout_lines.falls(plan)
    return layout_text.text(plan)


@takes_quantities
def fitting_species(coldest_water: Temperature, warmest_water: Temperature, *, altitude: Length = 0.0) -> str:
    """The fish of the species table that suits a water: it lives there all year, and not far from its best range.

    Of those that suit nearly as well it takes the one that stands first in the table, the most widely kept.

    coldest_water (one value):
    warmest_water (one value):
    altitude (one value): High up, warm water may hold too little oxygen for it.

    Source: the limits in ``data/species.csv``. Ask for your licence and local rules before you buy fish.

    >>> fitting_species("11 degC", "16 degC")
    'rainbow trout'
    """
    check_range(coldest_water, 278.15, 308.15, TEMPERATURE, "the coldest water", "what is known of fish and bacteria")
    if coldest_water > warmest_water:
        raise DesignError("the coldest water is warmer than the warmest; swap them.")
    check_range(warmest_water, 278.15, 308.15, TEMPERATURE, "the warmest water", "what is known of fish and bacteria")
    inlet = 0.9 * water.oxygen_saturation.si(warmest_water, altitude=altitude)
    alive = [
        s.si for s in tables.table("species").values()
        if s.si.survive_low + _SAFE <= coldest_water and warmest_water <= s.si.survive_high - _SAFE and inlet > s.si.oxygen_minimum + 0.2e-3
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


def _plan(layout, beds, units, altitude, cold, warm, title) -> SimpleNamespace:
    scale, own = _MEASURES[units]
    two = layout == "two loops"

    def m(name, place=None):
        value = own[name] if place is None else own[name][place]
        return value * scale

    step = m("step")
    p = SimpleNamespace(
        layout=layout, two=two, beds=beds, units=units, altitude=altitude, cold=cold, warm=warm, m=m, step=step,
        title=title or f"My system, {layout}", siphons=not two and beds <= _SIPHONS_TO,
        pipe_standard="Sch 40" if units == "US" else "PN16", drain_standard="Sch 40" if units == "US" else "PN10",
        names=[f"bed {i}" for i in range(1, beds + 1)], settling=None, dosing=None,
    )  # fmt: skip
    depth = m("tank depth", two)
    diameter = up(math.sqrt(4 * beds * _WATER_PER_BED / (math.pi * depth)), step)
    p.tank = SimpleNamespace(diameter=diameter, height=m("tank height", two), floor=m("tank floor", two), depth=depth)
    p.tank_volume = math.pi / 4 * diameter**2 * depth
    p.tank_level, p.bed_level = p.tank.floor + depth, m("bed floor") + m("bed depth")
    area = 0.55 + 0.55 * beds  # of the sump: room for the beds' flood water
    height, floor, level = (m("sump", i) for i in range(3))
    length = up(math.sqrt(1.5 * area), step)
    p.sump = SimpleNamespace(length=length, width=up(area / length, step), height=height, floor=floor, depth=level)
    _stock(p)
    tank_flow = _SPARE * p.turnover
    bed_flow = _SPARE * p.ammonia_flow / beds
    if p.siphons:
        p.siphon_size = pipe_sizes.sizes(p.pipe_standard)[0]
        sure = siphons.siphon_starting_band.si(pipe_sizes.bore.si(p.siphon_size, p.pipe_standard)).si.sure
        bed_flow = max(bed_flow, 1.15 * sure)
    if two:
        p.lines = [
            SimpleNamespace(name="tank loop", source="sump", level=floor + level, riser="riser", tank=tank_flow, bed=0.0, float=False)
        ]
    else:
        p.lines = [
            SimpleNamespace(name="riser", source="sump", level=floor + level, riser="riser", tank=tank_flow, bed=bed_flow, float=False)
        ]
    return p


def _stock(p) -> None:
    """The fish: as many as the water and the beds bear on the heaviest day."""
    s = tables.row("species", fitting_species.si(p.cold, p.warm, altitude=p.altitude)).si
    p.species, p.protein = s.name, round(s.protein_typical, 2)
    body = min(_BODY, s.harvest_mass)
    p.body = round(body / 0.0453592) * 0.0453592 if p.units == "US" else round(body, 2)
    p.feeding_rate = round(min(feeding.feeding_rate.si(p.body, species=s.name).si.typical * 86400, 0.02), 3) / 86400
    p.ammonia_limit = min(1e-3, s.tan_limit)

    def ammonia(density):
        made = fish.ammonia_production.si(fish.standing_biomass.si(p.tank_volume, density) * p.feeding_rate, p.protein)
        return circulation.ammonia_flow.si(made, limit=p.ammonia_limit, removal=_REMOVAL)

    most = min(_DENSITY, 0.75 * s.stocking_high)
    density = most * min(1.0, p.beds * _BED_FLOW / ammonia(most))
    unit = 0.01 * 119.8264 if p.units == "US" else 0.5
    p.density = max(1, math.floor(density / unit + 1e-9)) * unit
    p.ammonia_flow = ammonia(p.density)
    p.turnover = circulation.turnover_flow.si(p.tank_volume, 1 / 3600)
    biomass = fish.standing_biomass.si(p.tank_volume, p.density)
    demand = 1.4 * fish.fish_oxygen.si(biomass * p.feeding_rate)
    inlet = 0.9 * water.oxygen_saturation.si(p.warm, altitude=p.altitude)
    for outlet in (max(5e-3, s.oxygen_minimum), s.oxygen_minimum):
        for share in (0.0, 0.25, 0.5, 0.75, 0.9):  # of the oxygen, that air stones have to bring
            p.outlet_oxygen, p.aerated_share = outlet, share
            if inlet > outlet and circulation.oxygen_flow.si(demand * (1 - share), inlet=inlet, outlet=outlet) <= p.turnover:
                return


def _second_loop(p) -> None:
    """The settling tank, the dosing tank, and the pump that takes more from it than comes in, so that it can rest."""
    flow = p.lines[0].flow
    height, depth, cone = (p.m("settling", i) for i in range(3))
    diameter = max(up(math.sqrt(4 * flow / (math.pi * _RISE)), p.step), 8 * p.step)
    p.settling = SimpleNamespace(diameter=diameter, height=height, depth=depth, cone=cone)
    height, depth, on, off = (p.m("dosing", i) for i in range(4))
    for more in (1.3, 1.2, 1.1):  # times what comes in
        bed_flow = max(more * flow, _SPARE * p.ammonia_flow) / p.beds
        line = SimpleNamespace(name="bed loop", source="dosing tank", level=depth, riser="bed riser", tank=0.0, bed=bed_flow, float=True)
        try:
            layout_lines.pump_line(p, line)
            break
        except DesignError:
            if more == 1.1:
                raise
    p.lines.append(line)
    cycle = pumps.pump(line.pump).si.shortest_cycle or 600.0
    area = 1.3 * pumps.float_volume.si(cycle, line.flow) / (on - off)
    length = max(up(math.sqrt(1.4 * area), p.step), 12 * p.step)
    width = max(up(area / length, p.step), 10 * p.step)
    p.dosing = SimpleNamespace(length=length, width=width, height=height, depth=depth, on=on, off=off)

"""First builds: a sound build file to start from, for a layout, a number of beds and a site.

    text = first_build("one loop", beds=3, units="US", altitude="1900 ft")

`aquaplumb.build.layout_kinds` has the layouts. In each the tank and the fish follow from the beds, the flow from the fish,
pipe from the flow, each pump from its curve on that pipe, valves so that each branch gets its share, drains from what
comes in. `aquaplumb.build.layout_text` writes the text.
"""

from __future__ import annotations

from aquaplumb import tables, water
from aquaplumb.build import layout_kinds, layout_text
from aquaplumb.build.layout_plan import Kit, Plan
from aquaplumb.build.records import Site
from aquaplumb.tables import unknown
from aquaplumb.units import (
    LENGTH,
    SYSTEMS,
    TEMPERATURE,
    VOLUME,
    DesignError,
    Length,
    Number,
    Record,
    Temperature,
    Volume,
    check_range,
    takes_quantities,
)

DRAINS = ("plain", "siphon")
LAYOUTS = tuple(layout_kinds.KINDS)
MOST_BEDS = 6
_NOT_FIRST = (  # no beginner's fish: they live by the floor and not by the volume, eat plants, are protected, or outgrow a small tank
    "redclaw", "yabby", "giant river prawn", "grass carp", "giant gourami", "European eel", "Siberian sturgeon", "sterlet", "pacu", "tambaqui",
    "striped catfish",
)  # fmt: skip
_SAFE, _NEARLY = 0.05, 6.0  # K: from a limit of life; as good a fish as another


@takes_quantities
def first_build(
    layout: str,
    *,
    beds: int = 2,
    units: str = "metric",
    altitude: Length = 0.0,
    coldest_water: Temperature = 295.15,
    warmest_water: Temperature = 301.15,
    tank: Volume | None = None,
    drains: str = "",
    title: str = "",
) -> str:
    """The text of a first build file: a whole small system that its review finds sound, to be changed at will.

    layout: One of `LAYOUTS`.
    beds: 1 to 6 of what it grows in.
    units: "metric" (metric PVC-U pipe) or "US" (Sch 40 pipe).
    altitude (one value):
    coldest_water (one value):
    warmest_water (one value): They choose the fish, see `fitting_species`.
    tank (one value): Water that the fish tank holds at least, of two the larger; the usual for so many beds where left out.
    drains: "plain" or "siphon", for beds of media; the usual of the layout where left out.
    title: What the file calls it.
    raises: Where no fish of the table lives in such water, or no demo pump is strong enough.

    Source: sizes are common practice, no source; what follows from them is worked out as in a review. Pumps are
    invented for the demo.

    >>> print(first_build("one loop", beds=2).splitlines()[0])
    # Your build file: a first system, to change as you like. Any unit does (mm or in, L or gal).
    """
    return layout_text.text(planned(Wishes.from_si(**locals())))


class Wishes(Record):
    """What a first build is to be, as `first_build` takes it.

    Source: none; they are the builder's.
    """

    layout: str
    beds: Number
    units: str = "metric"
    altitude: Length = 0.0
    coldest_water: Temperature = 295.15
    warmest_water: Temperature = 301.15
    tank: Volume | None = None
    drains: str = ""
    title: str = ""


def planned(wishes: Wishes) -> Plan:
    """What `first_build` writes, as records; it raises as that does."""
    w = wishes.si
    if w.layout not in LAYOUTS:
        raise DesignError(unknown("list of layouts", w.layout, LAYOUTS))
    if w.units not in SYSTEMS:
        raise DesignError(unknown("list of unit systems", w.units, SYSTEMS))
    if w.beds not in range(1, MOST_BEDS + 1):
        raise DesignError(f"a first build has 1 to {MOST_BEDS} beds, not {w.beds:g}; add more to the file by hand.")
    species = fitting_species.si(w.coldest_water, w.warmest_water, altitude=w.altitude)
    site = Site.from_si(altitude=w.altitude, coldest_water=w.coldest_water, warmest_water=w.warmest_water)
    beds = int(w.beds)
    spacious = 1.0 if w.tank is None else _spacious(w.layout, beds, w.units, w.tank)
    if w.drains:
        _check_drains(w.layout, beds, w.drains)
    return layout_kinds.plan(w.layout, beds, Kit(w.units), site, species, w.title, drains=w.drains, spacious=spacious)


def _spacious(layout: str, beds: int, units: str, tank) -> float:
    """How many times the usual water a tank holds; one that is too small for the layout grows, one that is too large is refused."""
    least, most = layout_kinds.tank_water(layout, beds)
    if tank > most * (1 + 1e-9):
        raise DesignError(
            f"{layout_kinds.counted(layout, beds)} of {layout}: the fish tank holds {VOLUME.text(least, units)} to {VOLUME.text(most, units)} of water, "
            f"not {VOLUME.text(tank, units)}; more plants go with a larger tank."
        )
    return max(tank, least) / layout_kinds.usual_water(layout, beds)


def _check_drains(layout: str, beds: int, drains: str) -> None:
    """Refuse siphons where there is none to have, or not enough water for all of them."""
    most = layout_kinds.KINDS[layout].siphons_to
    if drains not in DRAINS:
        raise DesignError(unknown("list of drains", drains, DRAINS))
    if drains == "siphon" and not most:
        raise DesignError(f"a first build of {layout} has no siphons in its beds; choose plain drains.")
    if drains == "siphon" and beds > most:
        raise DesignError(
            f"{beds} siphons ask for more water than {layout} brings; choose plain drains, or at most {layout_kinds.counted(layout, most)}."
        )


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
            f"no fish of the species table lives in water between {span} at {LENGTH.text(altitude)}; heat it, shade it, or keep it nearer to one temperature."
        )
    alive = [s for s in alive if (s.feeding_stops or 0.0) + _SAFE <= coldest_water] or alive  # best one that eats all year
    off = [max(0.0, s.best_low - coldest_water) + max(0.0, warmest_water - s.best_high) for s in alive]
    return next(s.name for s, away in zip(alive, off) if away <= min(off) + _NEARLY)

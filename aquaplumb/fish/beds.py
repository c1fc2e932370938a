"""What plants grow in (beds, rafts, channels, towers): how much area the feed supports, how many plants stand on it, what it weighs.

What a bed does as a filter (surface for bacteria, media by calculation and by rule) is in `nitrification` and is
reached from here as well: ``beds.media_volume``.
"""

from __future__ import annotations

from aquaplumb import tables
from aquaplumb.fish.nitrification import (
    Medium,
    NitrificationRate,
    above_zero,
    media_volume,
    media_volume_by_rule,
    nitrification_rate,
    nitrifying_area,
    sphere_surface,
)
from aquaplumb.units import (
    GRAVITY,
    Area,
    AreaRate,
    DesignError,
    FloorLoad,
    Length,
    Mass,
    MassRate,
    Number,
    Planting,
    Record,
    Volume,
    takes_quantities,
)

__all__ = [
    "Crop", "FeedPerArea", "Medium", "NitrificationRate", "bed_volume", "feed_per_area", "floor_load", "growing_area",
    "media_volume", "media_volume_by_rule", "nitrification_rate", "nitrifying_area", "plant_count", "sphere_surface",
]  # fmt: skip

_RATIO = 1e-3 / 86400  # kg/m²/s: a gram on a square metre a day
_RAFT = (60 * _RATIO, 80 * _RATIO, 100 * _RATIO)  # Rakocy 2007, read; SRAC 454
_FILM = 0.25  # of a raft's: Rakocy 2007, read


@tables.table_type("crops")
class Crop(tables.Row):
    """A crop: the feed that a square metre of it uses, how close it stands, how deep it roots.

    Source: ``data/crops.csv``, row by row.
    """

    group: str
    feed_per_area_low: AreaRate
    feed_per_area_typical: AreaRate
    feed_per_area_high: AreaRate
    spacing_low: Planting
    spacing_typical: Planting
    spacing_high: Planting
    root_depth: Length | None


class FeedPerArea(Record):
    """The feed that a square metre of plants uses in a day, as a band.

    Source: `feed_per_area`.
    """

    low: AreaRate
    typical: AreaRate
    high: AreaRate


@takes_quantities
def feed_per_area(crop: str, *, grown_in: str = "bed") -> FeedPerArea:
    """The feed that a square metre of a crop uses in a day, by what it grows in.

    grown_in: A "bed" of media (the crop's own band), a "raft", a "channel" with a film of water, or a "tower", of which no print is
        known: from the film's low end to the bed's high end.

    Rafts take 60 to 100 g/m²/d: much of their feed leaves as solids. A film of water takes a quarter of that, of any crop. FAO 589
    gives all three the same 40 to 50 (leafy) or 50 to 80 (fruiting): so the high end of a film here is the crop's own.

    Source: Beds: ``data/crops.csv``. Rafts and film: Rakocy 2007, Ten guidelines for aquaponics (UVI system; read); SRAC 454. Water
    spinach in a film at 15 to 42 g/m²/d: Endut et al. 2010 (abstract read).

    >>> from aquaplumb.fish import beds
    >>> print(beds.feed_per_area("lettuce", grown_in="raft"))
    FeedPerArea(low=60 g/m²/d, typical=80 g/m²/d, high=100 g/m²/d)
    """
    row = tables.row(Crop, crop).si
    low, typical, high = (getattr(row, f"feed_per_area_{band}") or row.feed_per_area_typical for band in ("low", "typical", "high"))
    film = tuple(_FILM * ratio for ratio in _RAFT)
    bands = {"bed": (low, typical, high), "raft": _RAFT, "channel": (*film[:2], max(film[2], high)), "tower": (film[0], typical, high)}
    if grown_in not in bands:
        raise DesignError(tables.unknown("list of what plants grow in", grown_in, bands))
    return FeedPerArea.from_si(**dict(zip(("low", "typical", "high"), bands[grown_in])))


@takes_quantities
def growing_area(feed: MassRate, feed_per_area: AreaRate) -> Area:
    """The area of plants that a day's feed keeps in balance.

    Less area and nitrate piles up in the water; more and the plants go hungry.

    feed_per_area: The crop table has it: 40 to 50 g/m²/d for leaf crops, 50 to 80 for fruiting ones, in media beds.

    Source: FAO Technical Paper 589 §2.1.4 and §8.1; Rakocy 2007, Ten guidelines for aquaponics (60 to 100 g/m²/d on rafts).

    >>> from aquaplumb.fish import beds
    >>> from aquaplumb import u
    >>> print(beds.growing_area(200 * u.g / u.day, 50 * u.g / u.m**2 / u.day))
    4 m²
    """
    above_zero(feed_per_area, "growing_area: feed per area", "50 g/m2/d")
    return feed / feed_per_area


@takes_quantities
def plant_count(area: Area, spacing: Planting) -> Number:
    """The number of plants that stand on an area.

    spacing: Plants on a square metre; the crop table has it.
    returns: Not rounded.

    Source: Definition.

    >>> from aquaplumb.fish import beds
    >>> from aquaplumb import u
    >>> print(beds.plant_count(4 * u.m**2, 25 / u.m**2))
    100.0
    """
    return area * spacing


@takes_quantities
def bed_volume(area: Area, depth: Length) -> Volume:
    """The volume of a bed's media.

    depth: Of the media: 0.3 m is usual, 0.2 m the least for leaf crops.

    Source: Geometry; depths FAO Technical Paper 589 §4.3 (from memory).

    >>> from aquaplumb.fish import beds
    >>> from aquaplumb import u
    >>> print(round(beds.bed_volume(1.2 * u.m**2, 0.3 * u.m).to("L"), 0))
    360 L
    """
    return area * depth


@takes_quantities
def floor_load(weight: Mass, area: Area) -> FloorLoad:
    """The load that a mass puts on the floor under it.

    CAUTION: a living-room floor is made for about 1.9 kN/m² (40 psf), which is only 0.2 m of water. On a framed
    floor, a deck or a roof, ask a structural engineer before you fill anything. A square metre of gravel bed is more
    than half a tonne: build its stand for this and more, since a bed that falls kills. No one lifts a filled bed.

    area: On which it really stands: the feet press harder than the shade of the bed.

    p = m g/A, g = 9.80665 m/s².

    Source: Definition; 40 psf: International Residential Code, live load of living areas (read in a secondary source).

    >>> from aquaplumb.fish import beds
    >>> from aquaplumb import u
    >>> print(round(beds.floor_load(711 * u.kg, 1.2 * u.m**2).to("kN/m²"), 1))
    5.8 kN/m²
    """
    above_zero(area, "floor_load: area", "1.2 m2")
    return weight * GRAVITY / area

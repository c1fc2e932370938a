"""The surface that bacteria live on: of media, and where there are none, of boards, walls and roots.

A vessel's surface is a band (low, typical, high): print differs, and where it has nothing the assumption says so. What a square metre
of it turns in a day is `beds.nitrification_rate`.
"""

from __future__ import annotations

from aquaplumb.units import Area, Length, Number, Record, Surface, Volume, takes_quantities

_ROOTS = {"typical": 1.0, "high": 2.0}  # of the boards' area, under a full stand of plants: common practice, no source
_CHANNEL = (0.5, 1.0, 2.0)  # of a channel's floor: half wet; all of it; as much again on roots. Common practice, no source
_WETTED = (0.25, 0.5, 1.0)  # of the media that water trickles over from drippers: common practice, no source
_WALLS = (0.05, 0.1, 0.25)  # of the inside of a tower without media: common practice, no source


class LivingSurface(Record):
    """A surface for bacteria with its band.

    Source: the function that gives it.
    """

    low: Area
    typical: Area
    high: Area


def _banded(area, parts) -> LivingSurface:
    return LivingSurface.from_si(**{band: area * part for band, part in zip(("low", "typical", "high"), parts)})


@takes_quantities
def media_surface(volume: Volume, specific_surface: Surface, *, low: Surface | None = None, high: Surface | None = None) -> LivingSurface:
    """The surface of media that stand in water or are flooded and drained.

    specific_surface: The typical one of the media table, which has `low` and `high` too; without them the typical one is taken.

    Source: Definition; as SRAC 282 and FAO Technical Paper 589 App. 4 work it.

    >>> from aquaplumb.fish import living
    >>> print(living.media_surface("100 L", "300 m2/m3").typical)
    30 m²
    """
    return LivingSurface.from_si(
        low=volume * (low or specific_surface), typical=volume * specific_surface, high=volume * (high or specific_surface)
    )


@takes_quantities
def raft_surface(boards: Area, walls: Area) -> LivingSurface:
    """The surface under floating boards: at the poorest their underside alone; else floor, walls and roots too.

    boards: The area that floats.
    walls: Of the water under them, without the floor.

    Print disagrees by four times. FAO has rafts without a filter bear 1 to 1.5 kg of fish on a square metre, 0.35 to 0.5 g of ammonia N a
    day: the underside alone, at 28 °C. The UVI system feeds 60 to 100 g/m²/d, 1.8 to 2.9 g of ammonia N: underside, floor, walls and
    roots at the typical to high rate. Seedlings have few roots.

    Source: FAO Technical Paper 589 §4.5 (from memory); Rakocy 2007 (the feed, read); rates by SRAC 282.

    >>> from aquaplumb.fish import living
    >>> print(living.raft_surface("10 m2", "4 m2"))
    LivingSurface(low=10 m², typical=34 m², high=44 m²)
    """
    wet = 2 * boards + walls
    return LivingSurface.from_si(low=boards, **{band: wet + part * boards for band, part in _ROOTS.items()})


@takes_quantities
def channel_surface(floor: Area) -> LivingSurface:
    """The surface of a film channel: its floor; at the poorest half of it, at the best as much again on roots.

    Little: a film system needs a filter of its own (FAO Technical Paper 589 §4.4, from memory).

    Source: Common practice, no source.

    >>> from aquaplumb.fish import living
    >>> print(living.channel_surface("4 m2").typical)
    4 m²
    """
    return _banded(floor, _CHANNEL)


@takes_quantities
def tower_surface(around: Length, height: Length, *, count: Number = 1.0) -> LivingSurface:
    """The surface of hollow towers: a tenth of their inside, down which the water runs in streaks.

    around: Round the inside of one.

    Source: Common practice, no source.

    >>> from aquaplumb.fish import living
    >>> print(living.tower_surface("0.4 m", "1.5 m", count=10).typical)
    0.6 m²
    """
    return _banded(around * height * count, _WALLS)


@takes_quantities
def trickled_surface(surface: LivingSurface) -> LivingSurface:
    """The part of a tower's media that drippers wet: a quarter at the poorest, half, all of it at the best.

    Source: Common practice, no source.

    >>> from aquaplumb.fish import living
    >>> print(living.trickled_surface(living.media_surface("100 L", "300 m2/m3")).typical)
    15 m²
    """
    s = surface.si
    return LivingSurface.from_si(**{band: getattr(s, band) * part for band, part in zip(("low", "typical", "high"), _WETTED)})

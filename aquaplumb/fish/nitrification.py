"""The bed as a filter: the surface that the bacteria need, and the media that carries it.

The media is needed two ways that must not be mixed: a *calculated minimum* (ammonia over a removal rate, over the
surface of the media) and a *rule with margin* (a litre of media for each gram of feed a day), about five times as
much. Ammonia is always *as nitrogen* (N). All of it is reached through `beds`.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import tables
from aquaplumb.units import (
    NUMBER,
    TEMPERATURE,
    Area,
    AreaRate,
    BulkDensity,
    DesignError,
    Length,
    MassRate,
    Number,
    Record,
    Surface,
    Temperature,
    Volume,
    below,
    check_range,
    not_above,
    takes_quantities,
)

__all__ = [
    "Medium", "NitrificationRate", "media_volume", "media_volume_by_rule", "nitrification_rate", "nitrifying_area",
    "sphere_surface",
]  # fmt: skip

_ACTIVATION = 68e3 / 8.314462618  # K: the ammonia oxidisers' activation energy over the gas constant
_COLDEST_SEEN, _EASY, BEST, _DEAD = 274.15, 293.15, 302.15, 315.15  # K: see growth_at
_GAIN = 0.04275  # for a degree above 20 °C: see film_warmth
_BAND = tuple(grams * 1e-3 / 0.3048**2 / 86400 for grams in (0.02, 0.05, 0.10))  # kg/m²/s at 28 °C, grams on a square foot
_ANCHOR = 301.15  # K: tilapia's water, for which SRAC 282 prints the band


def above_zero(value, where: str, example: str) -> None:
    """Refuse what is not above zero, quickly for a single number. Source: the caller's; this only compares."""
    if not (isinstance(value, float) and value > 0) and not_above(value, 0):
        raise DesignError(f"{where} is 0 or less; it must be more than 0, such as {example}.")


def not_below_zero(value, where: str, example: str) -> None:
    """Refuse what is below zero. Source: the caller's; this only compares."""
    if below(value, 0):
        raise DesignError(f"{where} is below zero; give it as 0 or more, such as {example}.")


@tables.table_type("media")
class Medium(tables.Row):
    """A bed medium: its surface for bacteria, its voids, its weight.

    Source: ``data/media.csv``, row by row.
    """

    surface_low: Surface | None
    surface_typical: Surface
    surface_high: Surface | None
    void_low: Number | None
    void_typical: Number
    void_high: Number | None
    bulk_density_low: BulkDensity | None
    bulk_density_typical: BulkDensity
    bulk_density_high: BulkDensity | None


class NitrificationRate(Record):
    """A nitrification rate with its band.

    Source: `nitrification_rate`.
    """

    low: AreaRate
    typical: AreaRate
    high: AreaRate


def growth_at(temperature, activation=_ACTIVATION):
    """How fast nitrifying bacteria grow, against 20 °C, at a bare temperature [K] from 0 to 40 °C.

    exp(Ea/R (1/293.15 − 1/T)) to the best at 29 °C; below 1 °C held at its value there, the coldest that was measured.
    Above, a fall as the square of the distance, to nothing at 42 °C: 0.79 of the best at 35 °C.

    Source: Ea: Vannecke and Volcke 2015, supplement. Cold: Hoang et al. 2014, Water Research 49 (18 ± 5 % of the rate of
    20 °C after months at 1 °C; here 15 %). Best of a biofilter 28 to 29 °C: Water Science and Technology 30(11) 1994, 121. Hot: doubling
    times of 7 to 12 h at 30 °C and 8 to 15 h at 35 °C, most strains stop above 40 °C (asterbio.com 35769).
    """
    rise = np.exp(activation * (1 / _EASY - 1 / np.clip(temperature, _COLDEST_SEEN, BEST)))
    return rise * (1 - ((np.clip(temperature, BEST, _DEAD) - BEST) / (_DEAD - BEST)) ** 2)


def film_warmth(temperature):
    """How much a film of nitrifying bacteria turns, against 20 °C: as it grows (`growth_at`), but above 20 °C only 4.275 % more a degree.

    In warmth oxygen and ammonia reach a film too slowly for it to work as fast as it could.

    Source: Zhu and Chen 2002, The impact of temperature on nitrification rate in fixed film biofilters: 4.275 % for a degree at 20 °C
    with little ammonia, 1.1 % with little oxygen.
    """
    warm = np.clip(temperature, _EASY, BEST)
    return growth_at(temperature) * (1 + _GAIN * (warm - _EASY)) * np.exp(_ACTIVATION * (1 / warm - 1 / _EASY))


@takes_quantities
def nitrification_rate(temperature: Temperature = 293.15) -> NitrificationRate:
    """The ammonia that a square metre of living surface turns in a day, as N, as a band.

    A band of a factor of five, because print has no less: it hangs on oxygen, ammonia, dirt and age. Choose low for
    a design that must hold. It needs 2 mg/L of oxygen or more and a pH of 7 to 8; below pH 6.5 it slows.

    temperature: 0 to 40 °C; 20 °C when left out. Below 1 °C it stays at its value of 1 °C; it is best at 29 °C, and
        falls above.
    returns: low, typical, high [kg/m²/s]

    At 28 °C: low 0.22, typical 0.54, high 1.08 g/m²/d, by `film_warmth` at other temperatures; 0.16, 0.40 and 0.80
    at 20 °C.

    Source: Band: SRAC 282 (0.02 to 0.10 g/ft²/d for tilapia; 0.05 in its worked example, from memory). FAO Technical Paper 589
    App. 4 has 0.57 g of NH3, 0.47 g of N (from memory), which is the typical rate at 24 °C, the middle of its 18 to 30 °C;
    Quevedo and Álvarez 2005 measured 0.22 with trout. Florida A&M slides have more in warmth: 0.2 to 1.0 at 15 to 20 °C,
    1.0 to 2.0 above 25 °C.

    >>> from aquaplumb.fish import beds
    >>> from aquaplumb import u
    >>> print(beds.nitrification_rate(28 * u.degC))
    NitrificationRate(low=0.215 g/m²/d, typical=0.538 g/m²/d, high=1.08 g/m²/d)
    """
    check_range(temperature, 273.15, 313.15, TEMPERATURE, "nitrification_rate: temperature", "the nitrification rate")
    factor = film_warmth(temperature) / film_warmth(_ANCHOR)
    low, typical, high = (rate * factor for rate in _BAND)
    return NitrificationRate.from_si(low=low, typical=typical, high=high)


@takes_quantities
def nitrifying_area(ammonia: MassRate, removal_rate: AreaRate) -> Area:
    """The living surface that the bacteria need to turn the ammonia as fast as it comes.

    ammonia: As N, of the heaviest day.
    removal_rate: As N (`nitrification_rate`). The same basis as the ammonia: as N with as NH3 puts it 22 % off.

    Source: Definition; worked so in SRAC 282 and in FAO Technical Paper 589 App. 4.

    >>> from aquaplumb.fish import beds
    >>> from aquaplumb import u
    >>> print(round(beds.nitrifying_area(6 * u.g / u.day, 0.4 * u.g / u.m**2 / u.day), 1))
    15 m²
    """
    above_zero(removal_rate, "nitrifying_area: removal rate", "0.4 g/m2/d")
    return ammonia / removal_rate


@takes_quantities
def media_volume(area: Area, specific_surface: Surface) -> Volume:
    """The calculated minimum of media: the volume that carries a surface.

    It has no margin in it: no dead corners, no clogging, no cold week. `media_volume_by_rule` is the rule that has.

    specific_surface: Square metres in a cubic metre of media; the media table has it.

    Source: Definition; worked so in SRAC 282 and in FAO Technical Paper 589 App. 4.

    >>> from aquaplumb.fish import beds
    >>> from aquaplumb import u
    >>> print(round(beds.media_volume(15 * u.m**2, 300 * u.m**2 / u.m**3).to("L"), 1))
    50 L
    """
    above_zero(specific_surface, "media_volume: specific surface", "300 m2/m3")
    return area / specific_surface


@takes_quantities
def media_volume_by_rule(feed: MassRate, *, specific_surface: Surface = 300.0) -> Volume:
    """The media by the rule with margin: a litre of tuff for each gram of feed a day, less for a finer medium.

    It asks about five times the calculated minimum at a typical rate: the margin is for dirt, cold and fresh surfaces. Quote it as
    a rule, never as the same number as `media_volume`.

    specific_surface: The rule stands for 300 m²/m³ (tuff) and is scaled by the surface: half a litre at 600 m²/m³.

    V [L] = F [g/d] · 300/surface.

    Source: FAO Technical Paper 589 §8 quick-design table (1 L of tuff or 0.5 L of bioballs for a gram, from memory).

    >>> from aquaplumb.fish import beds
    >>> from aquaplumb import u
    >>> print(round(beds.media_volume_by_rule(200 * u.g / u.day).to("L"), 1))
    200 L
    """
    above_zero(specific_surface, "media_volume_by_rule: specific surface", "300 m2/m3")
    return feed * 86400.0 * 300.0 / specific_surface  # 1 m³ for each kg/d, and a day is 86,400 s


@takes_quantities
def sphere_surface(diameter: Length, void: Number) -> Surface:
    """The surface in a volume of round grains: for a gravel of which you know only its size.

    void: The share of the volume between the grains, about 0.4.
    returns: The outside only: a porous grain has more, of which bacteria reach little.

    a = 6 (1 − ε)/d.

    Source: Geometry; Timmons, Holder and Ebeling (3,936 m²/m³ for 1 mm beads with 0.344 void).

    >>> from aquaplumb.fish import beds
    >>> from aquaplumb import u
    >>> print(round(beds.sphere_surface(12 * u.mm, 0.4).to("m²/m³"), 0))
    300 1/m
    """
    above_zero(diameter, "sphere_surface: diameter", "12 mm")
    check_range(void, 0.0, 1.0, NUMBER, "sphere_surface: void", "a share")
    return 6 * (1 - void) / diameter

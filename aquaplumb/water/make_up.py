"""Make-up water: how much a system asks for, the chlorine it brings, and what takes the chlorine out.

Chlorine is *as Cl2*, free and bound together (a "total chlorine" kit); ammonia *as nitrogen* (N). All of it is
reached through `startup`.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.fish.nitrification import above_zero
from aquaplumb.tables import unknown
from aquaplumb.units import (
    CONCENTRATION,
    DEPTH_RATE,
    Area,
    Concentration,
    DepthRate,
    DesignError,
    Flow,
    Mass,
    Rate,
    Record,
    Volume,
    check_range,
    takes_quantities,
)

_CHLORINE = 70.906  # g/mol, Cl2
# Grams that take out one gram of chlorine: moles for a mole of Cl2, times molar mass.
_DECHLORINATORS = {"ascorbic acid": 176.124 / _CHLORINE, "sodium ascorbate": 198.106 / _CHLORINE,
                   "sodium thiosulfate": 2 * 248.184 / _CHLORINE}  # fmt: skip


class MakeUp(Record):
    """The make-up water of a day: where it goes, all of it, and its share of the system's water.

    Source: `make_up`.
    """

    evaporation: Flow
    plants: Flow
    flushed: Flow
    total: Flow
    share: Rate


@takes_quantities
def make_up(
    volume: Volume,
    *,
    open_water: Area = 0.0,
    evaporation: DepthRate = 0.005 / 86400,
    planted: Area = 0.0,
    plant_use: DepthRate = 0.002 / 86400,
    flushed: Flow = 0.0,
) -> MakeUp:
    """The water to bring each day for what evaporates, what the plants drink and what leaves with the solids.

    Salts stay behind when water evaporates; only flushed water takes them out. CAUTION: a float valve that stays open
    floods the system with chlorine and cold. Never join it to the drinking-water pipe without the backflow preventer
    that your code asks for; that is a plumber's work.

    volume: All the water of the system.
    open_water: Without a lid.
    evaporation: From open water: 2 to 8 mm/d, 5 when left out; next to nothing under a lid.
    plant_use: 1 to 4 mm/d (a litre on a square metre is a millimetre); 2 when left out, as leaf crops.
    flushed: With the solids.
    returns: Compare the share with 1 to 3 % a day, which is usual.

    Source: Sum. Plants: FAO Technical Paper 589 (1 to 4 L/m²/d, from memory). The usual share: UVI 1.5 %/d, Rakocy et al.;
    Quevedo and Álvarez 2005, 2.97 %/d. Evaporation: the ASHRAE pool form gives 6.9 mm/d over 26 °C water in a 20 °C
    room at half humidity.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> day = startup.make_up(1500 * u.L, open_water=1.5 * u.m**2, planted=4 * u.m**2, flushed=10 * u.L / u.day)
    >>> print(round(day.total.to("L/d"), 1), round(day.share.to("%/d"), 1))
    25.5 L/d 1.7 %/d
    """
    above_zero(volume, "make_up: volume", "1500 L")
    for word, rate in (("evaporation", evaporation), ("plant use", plant_use)):
        check_range(rate, 0.0, 0.02 / 86400, DEPTH_RATE, f"make_up: {word}", "what is likely")
    parts = open_water * evaporation, planted * plant_use, flushed
    return MakeUp.from_si(evaporation=parts[0], plants=parts[1], flushed=flushed, total=sum(parts), share=sum(parts) / volume)


@takes_quantities
def chlorine_after(chlorine: Concentration, added: Volume, volume: Volume) -> Concentration:
    """The chlorine in the system when tap water goes in untreated.

    CAUTION: chlorine burns gills and kills the bacteria of the beds. 0.011 mg/L harms fish in days, 0.019 in an hour;
    a home kit sees neither. Treat all tap water.

    chlorine: Of the tap water, free and bound: 0.2 to 4 mg/L.
    added: Tap water.
    volume: The system's water before.
    returns: Before dirt and light use some up: the worst.

    Source: Mixing; limits: US EPA 1984, freshwater criteria for chlorine (11 µg/L chronic, 19 µg/L acute).

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> print(round(startup.chlorine_after("1 mg/L", 30 * u.L, 1470 * u.L).to("mg/L"), 3))
    0.02 mg/L
    """
    above_zero(np.asarray(volume + added, float), "chlorine_after: volume", "1500 L")
    return chlorine * added / (volume + added)


@takes_quantities
def dechlorinator_needed(chlorine: Concentration, volume: Volume, agent: str = "ascorbic acid") -> Mass:
    """The mass of a dechlorinator that takes the chlorine out of tap water, before it meets fish or beds.

    Standing or bubbling for a day or two drives out free chlorine only; chloramine stays and needs this, and then
    leaves ammonia (`chloramine_ammonia`). A tenth more does no harm; much more lowers pH (ascorbic acid) or oxygen
    (thiosulfate). Test with a total chlorine kit.

    chlorine: As Cl2, free and bound. The utility's yearly report has the highest.
    volume: Of the tap water alone.
    agent: "ascorbic acid", "sodium ascorbate" or "sodium thiosulfate" (the crystals, with five waters).
    returns: Pure and dry.

    For a gram of Cl2: ascorbic acid 2.48 g and sodium ascorbate 2.79 g (a mole for a mole), thiosulfate 7.00 g (two
    moles, ending as tetrathionate). Print has less for thiosulfate, 0.9 to 3.5 g, where it ends as sulfate: 7 g is
    the sure side.

    Source: Stoichiometry; USDA Forest Service Tech Tip 0523-1301 (2.5 and 2.8); Hach note TE213 (7.0 mg of the crystals for a
    mg).

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> print(round(startup.dechlorinator_needed("1 mg/L", 1000 * u.L).to("g"), 2))
    2.48 g
    """
    if agent not in _DECHLORINATORS:
        raise DesignError(unknown("list of dechlorinators", agent, _DECHLORINATORS))
    check_range(chlorine, 0.0, 0.01, CONCENTRATION, "dechlorinator_needed: chlorine", "tap water")
    return chlorine * volume * _DECHLORINATORS[agent]


@takes_quantities
def chloramine_ammonia(chlorine: Concentration, *, tap_water: Volume = 1.0, volume: Volume = 1.0) -> Concentration:
    """The ammonia that chloramine leaves when it is dechlorinated, as N, after mixing into the system.

    The beds eat it like any other ammonia; in a new system, or in a big water change, count it.

    chlorine: Bound chlorine (chloramine) of the tap water, as Cl2: total less free.
    tap_water: With ``volume`` gives the mixture; leave both out for the tap water itself.
    volume: All the water of the system, with the tap water in it.
    returns: Up to a quarter more when the works add more ammonia than the chlorine binds.

    NH2Cl holds one N for each Cl2 that a kit counts: 14.007/70.906 = 0.198.

    Source: Stoichiometry; waterworks dose 4 to 5 parts of Cl2 on one of N (common practice), which is 0.25 to 0.20.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> print(round(startup.chloramine_ammonia("3 mg/L", tap_water=300 * u.L, volume=1500 * u.L).to("mg/L"), 3))
    0.119 mg/L
    """
    above_zero(volume, "chloramine_ammonia: volume", "1500 L")
    if np.any(np.greater(tap_water, volume)):
        raise DesignError(
            "chloramine_ammonia: the tap water is more than the volume; the volume is all the water, with the tap water in it."
        )
    return chlorine * 14.0067 / _CHLORINE * tap_water / volume

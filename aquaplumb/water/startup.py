"""Start-up and upkeep: the first weeks of the bacteria, poisons and their limits, bases, tap water, cleaning.

Its parts are in `twostep` and `cycling` (the bacteria through the weeks), `bases` and `dosing` (alkalinity), `makeup`
(tap water), `build_up` (what gathers) and `upkeep` (cleaning), and are all reached from here: ``startup.dosed_start``. Ammonia and nitrite are
always *as nitrogen* (N), alkalinity *as calcium carbonate* (CaCO3).
"""

from __future__ import annotations

import numpy as np

from aquaplumb import tables
from aquaplumb.fish.nitrification import above_zero
from aquaplumb.units import (
    CONCENTRATION,
    Concentration,
    DesignError,
    Mass,
    Number,
    Record,
    Temperature,
    Volume,
    check_range,
    takes_quantities,
)
from aquaplumb.water.bases import Base, BasePh, ph_after_base
from aquaplumb.water.build_up import Mineral, Minerals, NitrogenBalance, gathered, minerals, nitrogen_balance
from aquaplumb.water.chemistry import as_nitrogen, unionised_fraction
from aquaplumb.water.cycling import ammonia_needed, dosed_start, stocked_start
from aquaplumb.water.dosing import PhWeeks, alkalinity_time, base_a_day, daily_lot, left_behind, ph_drift, ph_weeks
from aquaplumb.water.make_up import MakeUp, chloramine_ammonia, chlorine_after, dechlorinator_needed, make_up
from aquaplumb.water.start_alkalinity import StartAlkalinity, start_alkalinity
from aquaplumb.water.two_step import AMMONIA_OXIDISERS, NITRITE_OXIDISERS, Nitrifiers, StartUp, Warmth, growth_warmth
from aquaplumb.water.upkeep import Task, UpkeepRow, upkeep_plan

__all__ = [
    "AMMONIA_OXIDISERS", "NITRITE_OXIDISERS", "Base", "BasePh", "ChlorideRatio", "MakeUp", "Mineral",
    "Minerals", "Nitrifiers", "NitrogenBalance", "PhWeeks", "StartAlkalinity", "StartUp", "Task", "UpkeepRow", "Warmth",
    "alkalinity_time", "ammonia_needed", "base_a_day", "chloramine_ammonia", "chloride_needed", "chloride_ratio",
    "chlorine_after", "daily_lot", "dechlorinator_needed", "dosed_start", "gathered", "growth_warmth",
    "left_behind", "make_up", "minerals", "nitrogen_balance", "ph_after_base", "ph_drift", "ph_weeks", "salt_needed",
    "start_alkalinity", "stocked_start", "tan_allowed", "upkeep_plan",
]  # fmt: skip

# Share of chloride in each salt, by mass (IUPAC standard atomic weights).
_SALTS = {"NaCl": 35.453 / 58.443, "KCl": 35.453 / 74.551, "CaCl2": 70.906 / 110.984, "CaCl2·2H2O": 70.906 / 147.014}
_AS_NITRITE = 1 / as_nitrogen.si(1.0, "NO2")  # NO2 for N, 3.28


class ChlorideRatio(Record):
    """Chloride for nitrite as N, by mass: low, typical and high.

    Source: `chloride_ratio`.
    """

    low: Number
    typical: Number
    high: Number


@takes_quantities
def tan_allowed(ph: Number, temperature: Temperature, *, limit: Concentration = 5e-5) -> Concentration:
    """The total ammonia, as N, at which the un-ionised part reaches its limit. High pH and warmth leave little room.

    temperature: 0 to 50 °C.
    limit: Of un-ionised ammonia, as N: 0.05 mg/L; 0.025 for cold-water fish and fry (`fish.waste_limits`).
    returns: As N.

    Source: `water.unionised_fraction` (Emerson et al. 1975); gills are harmed above 0.05 mg/L: UF/IFAS FA-16;
    Environment Agency, salmon and trout waters, for 0.025.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> print(round(startup.tan_allowed(8.0, 24 * u.degC).to("mg/L"), 2))
    1 mg/L
    """
    return limit / unionised_fraction.si(ph, temperature)


@takes_quantities
def chloride_ratio(*, species: str = "Nile tilapia") -> ChlorideRatio:
    """The chloride, for each part of nitrite as N, that keeps nitrite out of the gills.

    Print has "10 to 1" and often leaves open whether of nitrite or of its N, which is a factor of 3.3: here the low
    end reads it as N, the typical as NO2, which is the safe reading. Salmon and trout take in nitrite much more
    readily.

    species: A name in the species table: cold-water fish get the salmon's ratio, sunfishes the low end.
    returns: low, typical, high

    Source: 10:1 for channel catfish: SRAC 462. 21:1 (growth held back) and 104:1 (none enters): Gutiérrez et al. 2019,
    Aquaculture Research 50, 2687, Atlantic salmon parr, as N. Bass and other sunfishes hardly take nitrite in: from
    memory. Other species: assumed as catfish.

    >>> from aquaplumb.water import startup
    >>> print(round(startup.chloride_ratio(species="channel catfish").typical, 1))
    32.8
    """
    row = tables.row("species", species).si
    if row.feeding_curve == "cold":
        return ChlorideRatio.from_si(low=21.0, typical=104.0, high=104.0)
    typical = 10.0 if row.name == "largemouth bass" else 10 * _AS_NITRITE
    return ChlorideRatio.from_si(low=10.0, typical=typical, high=104.0 if typical > 10 else 10 * _AS_NITRITE)


@takes_quantities
def chloride_needed(nitrite: Concentration, *, ratio: Number = 10 * _AS_NITRITE) -> Concentration:
    """The chloride that shields fish from nitrite: first aid for the gills, while feed is cut and water changed.

    nitrite: As N (a kit that reads as NO2: see `water.as_nitrogen`).
    ratio: Chloride for nitrite as N (`chloride_ratio`); 32.8, ten for one of NO2, when left out.
    returns: Of chloride, not of salt. Catfish growers keep 100 mg/L always.

    Source: SRAC 462 (10:1, and 100 mg/L as insurance).

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> print(round(startup.chloride_needed(2 * u.mg / u.L).to("mg/L"), 1))
    65.7 mg/L
    """
    above_zero(ratio, "chloride_needed: ratio", "32.8")
    return nitrite * ratio


@takes_quantities
def salt_needed(chloride: Concentration, volume: Volume, *, present: Concentration = 0.0, salt: str = "NaCl") -> Mass:
    """The salt that brings the water of a system up to a chloride level.

    Dissolve it in a bucket (calcium chloride gets hot: goggles, salt into water) and give it over a few hours. Only a
    water change takes it out again, and sodium harms plants as it builds up: with plants prefer calcium or potassium
    chloride. Plain salt, without iodine or anti-caking agent.

    chloride: Wanted (`chloride_needed`).
    volume: All the water of the system.
    present: Chloride in it already; the utility's report has the tap water's.
    salt: "NaCl", "KCl", "CaCl2" or "CaCl2·2H2O".

    Lettuce grew well up to 500 mg/L of chloride as table salt and suffered above 2,000 in one trial; strawberries
    and beans bear far less (common practice).

    Source: Stoichiometry; lettuce: Salt level in a simulated aquaponic system, Int. J. Vegetable Science 2017.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> print(round(startup.salt_needed("65.7 mg/L", 1500 * u.L, present="20 mg/L").to("g"), 0))
    113 g
    """
    if salt not in _SALTS:
        raise DesignError(tables.unknown("list of salts", salt, _SALTS))
    check_range(chloride, 0.0, 5.0, CONCENTRATION, "salt_needed: chloride", "fresh water")
    return np.maximum(chloride - present, 0.0) * volume / _SALTS[salt]

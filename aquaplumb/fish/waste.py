"""What feed becomes in the water: ammonia, used oxygen, carbon dioxide, solids, lost alkalinity.

Ammonia is always *as nitrogen* (N), alkalinity always *as calcium carbonate* (CaCO3). All of it is reached through
`fish`.
"""

from __future__ import annotations

from aquaplumb.units import NUMBER, MassRate, Number, check_range, takes_quantities

NITROGEN_IN_PROTEIN = 0.16  # 6.25 g of protein hold 1 g of nitrogen, the feed trade's convention
OXYGEN_FOR_NITROGEN = 2 * 31.9988 / 14.0067  # NH4+ + 2 O2 -> NO3- + 2 H+ + H2O: 4.57 g/g
ALKALINITY_FOR_NITROGEN = 2 * 50.0435 / 14.0067  # two charges of acid for each N: 7.15 g CaCO3/g
FISH_ALONE, WHOLE_TANK = 0.25, 0.5  # kg of oxygen for a kg of feed: Timmons and Ebeling, from memory
CARBON_DIOXIDE_FOR_OXYGEN = 44.0095 / 31.9988  # a molecule for a molecule: 1.375 g/g


@takes_quantities
def ammonia_production(feed: MassRate, protein: Number) -> MassRate:
    """The ammonia that fish give off from their feed, as N: what the bed's bacteria have to turn.

    protein: The protein in the feed as a fraction, 0.32 or "32 %"; the sack says it.
    returns: As N. Kits that read NH3 show 1.22 times as much (`water.as_nitrogen`).

    P = F PC 0.092: protein is 16 % nitrogen, 80 % of it is used, 80 % of that leaves as ammonia, 90 % within the day.

    Source: Timmons and Ebeling, Recirculating Aquaculture (coefficient read in a secondary source, the factors from memory).

    >>> from aquaplumb import fish, u
    >>> print(round(fish.ammonia_production(200 * u.g / u.day, 0.32).to("g/d"), 2))
    5.89 g/d
    """
    _protein(protein, "ammonia_production")
    return feed * protein * 0.092


@takes_quantities
def ammonia_by_balance(feed: MassRate, protein: Number, *, released: Number = 0.61) -> MassRate:
    """The ammonia from the feed by a balance of its nitrogen, as N: a second opinion on `ammonia_production`.

    protein: As a fraction.
    released: The share of the feed's nitrogen that ends as ammonia: 55 % by the gills and 6 % out of the solids that
        stay in the water, when 60 % of the solids are taken out.
    returns: As N. The source prints it as NH3, which is 1.2 times as much: compare like with like.

    P = F PC 0.16 · 0.61.

    Source: FAO Technical Paper 589, App. 4 (30 % of the nitrogen stays in the fish, 15 % is solid, 55 % is excreted).

    >>> from aquaplumb import fish, u
    >>> print(round(fish.ammonia_by_balance(200 * u.g / u.day, 0.32).to("g/d"), 2))
    6.25 g/d
    """
    _protein(protein, "ammonia_by_balance")
    _share(released, "ammonia_by_balance: released")
    return feed * protein * NITROGEN_IN_PROTEIN * released


@takes_quantities
def fish_oxygen(feed: MassRate, *, per_feed: Number = FISH_ALONE) -> MassRate:
    """The oxygen that the fish themselves breathe to use their feed. By size and warmth it may be more: `air.fish_respiration`.

    per_feed: Mass of oxygen for a mass of feed: 0.2 to 0.5; 0.25 for fish alone in a lightly stocked tank.
    returns: The day's mean; after a meal it is about 1.4 times that, and can double.

    Source: Timmons and Ebeling, Recirculating Aquaculture (0.2 to 0.5, from memory).

    >>> from aquaplumb import fish, u
    >>> print(fish.fish_oxygen(200 * u.g / u.day).to("g/d"))
    50 g/d
    """
    _share(per_feed, "fish_oxygen: per feed")
    return feed * per_feed


@takes_quantities
def dirt_oxygen(feed: MassRate, *, stays: Number = 1.0) -> MassRate:
    """The oxygen that bacteria take in the fish tank itself, from dirt that rots there, beside what the fish breathe.

    stays: The share of the solids that stays in the tank: 0 where all is drawn out at the floor, 1 where none is.

    A tank with its solids in it takes 0.4 to 0.5 kg for a kg of feed; the fish alone 0.25 of it. The larger, since fish
    die of it: (0.5 − 0.25) · feed · share.

    Source: Timmons and Ebeling, Recirculating Aquaculture (0.4 to 0.5, from memory).

    >>> from aquaplumb import fish, u
    >>> print(fish.dirt_oxygen(200 * u.g / u.day).to("g/d"))
    50 g/d
    """
    _share(stays, "dirt_oxygen: stays")
    return feed * stays * (WHOLE_TANK - FISH_ALONE)


@takes_quantities
def nitrification_oxygen(ammonia: MassRate) -> MassRate:
    """The oxygen that the bacteria take to turn ammonia into nitrate.

    ammonia: As N.

    NH4+ + 2 O2 → NO3- + 2 H+ + H2O: 4.57 g O2 for a gram of N. With the bacteria's growth counted it is 4.18.

    Source: Stoichiometry; Ebeling, Timmons and Bisogni 2006, Aquaculture 257 (4.18, from memory).

    >>> from aquaplumb import fish, u
    >>> print(round(fish.nitrification_oxygen(6 * u.g / u.day).to("g/d"), 1))
    27.4 g/d
    """
    return ammonia * OXYGEN_FOR_NITROGEN


@takes_quantities
def carbon_dioxide_production(oxygen: MassRate) -> MassRate:
    """The carbon dioxide that fish breathe out for the oxygen they breathe in.

    oxygen: What the fish breathe (`fish_oxygen`), without the nitrifying bacteria's.

    A molecule for a molecule (a respiratory quotient of 1): 44.01/32.00 = 1.375 by mass.

    Source: Ratio of molar masses; quotient of 1, common practice.

    >>> from aquaplumb import fish, u
    >>> print(round(fish.carbon_dioxide_production(50 * u.g / u.day).to("g/d"), 1))
    68.8 g/d
    """
    return oxygen * CARBON_DIOXIDE_FOR_OXYGEN


@takes_quantities
def solids_production(feed: MassRate, *, share: Number = 0.27) -> MassRate:
    """The dry solids (faeces and feed dust) that the feed leaves: what clogs beds and screens.

    share: Dry solids for a mass of feed, 0.25 to 0.30.
    returns: Dry. As wet sludge it is ten to fifty times as much.

    Source: Timmons and Ebeling, Recirculating Aquaculture (25 to 30 %, from memory); the wet figure is common practice.

    >>> from aquaplumb import fish, u
    >>> print(round(fish.solids_production(200 * u.g / u.day).to("g/d"), 0))
    54 g/d
    """
    _share(share, "solids_production: share")
    return feed * share


@takes_quantities
def alkalinity_use(ammonia: MassRate) -> MassRate:
    """The alkalinity that nitrification eats, as CaCO3. When it runs out, the pH drops within days.

    ammonia: As N.
    returns: As CaCO3; `water.base_needed` turns it to a base. Plants and make-up water give some back: this is the
        most.

    Two charges of acid for each nitrogen: 7.15 g CaCO3 for a gram of N (7.14 in most books; 7.05 with growth).

    Source: Stoichiometry; Ebeling, Timmons and Bisogni 2006, Aquaculture 257 (7.05, from memory).

    >>> from aquaplumb import fish, u
    >>> print(round(fish.alkalinity_use(6 * u.g / u.day).to("g/d"), 1))
    42.9 g/d
    """
    return ammonia * ALKALINITY_FOR_NITROGEN


def _protein(value, where: str) -> None:
    if not (isinstance(value, float) and 0 <= value <= 0.7):
        check_range(value, 0.0, 0.7, NUMBER, f"{where}: protein", 'it is a fraction (write 0.32 or "32 %") and feed')


def _share(value, where: str) -> None:
    if not (isinstance(value, float) and 0 <= value <= 1):
        check_range(value, 0.0, 1.0, NUMBER, where, "a share")

"""What fish bear of their own waste: ammonia, its un-ionised part, nitrite and nitrate, by species and age.

All of it is *as nitrogen* (N), as a test kit's reading is once `water.as_nitrogen` has turned it. Reached through `fish`.
"""

from __future__ import annotations

from aquaplumb import tables
from aquaplumb.units import BodyMass, Concentration, Record, takes_quantities

GILL_DAMAGE = 0.05e-3  # kg/m³ of un-ionised ammonia as N, grown warm-water fish: see `waste_limits`
FRY_DAMAGE = 0.025e-3  # the same for cold-water fish and for fry
FRY = 1e-3  # kg: a fish under this is fry; common practice, no source
_DANGER_TAN, _DANGER_NITRITE = 3.0, 5.0  # times what a fish bears, past which it may die: common practice, no source
_DEADLY_NITRITE = 5e-3  # kg/m³ as N, at which tilapia begin to die: SRAC 282


class WasteLimits(Record):
    """The most that fish bear for good, as N: a blank in the species table leaves that one unknown (None).

    Past ``tan_danger`` and ``nitrite_danger`` they may die.

    Source: `waste_limits`.
    """

    tan: Concentration | None
    unionised: Concentration
    nitrite: Concentration | None
    nitrate: Concentration | None
    tan_danger: Concentration | None
    nitrite_danger: Concentration


@takes_quantities
def waste_limits(species: str = "Nile tilapia", *, body_mass: BodyMass | None = None) -> WasteLimits:
    """The most ammonia, un-ionised ammonia, nitrite and nitrate that a fish bears for good: edges, not targets.

    FAO 589 gives nitrite and nitrate as bare names. Nitrate is taken as NO3: 400 mg/L of it is 90 as N. Nitrite under
    1 mg/L for warm-water fish would be 0.30 as N if it is NO2 and 1 if it is N; a table that says its basis lies between,
    and stands here. For cold-water fish it is taken as NO2: 0.1 mg/L of it is 0.03 as N.

    species: A name in the species table.
    body_mass: Fish under 1 g are fry and bear half of the un-ionised ammonia; grown fish when left out.

    Source: ``data/species.csv``. FAO Technical Paper 589 table 3.1 (nitrate under 400 mg/L; nitrite under 1, for cold-water
    fish under 0.1). Nitrite: 0.55 mg/L as N does most fin-fish no harm (a table of no-effect limits, docest.com 688000);
    rainbow trout feel 0.1 to 1 mg/L of NO2 (fish-industry.ru 1730). Nitrate: 90 mg/L as N did warm-water fish no harm
    (Valdez et al. 1992, quoted by the Colorado Water Conservation Board), which agrees with NO3; a month's trial had
    tilapia well at 500 mg/L as N (Monsees et al. 2017). Trout: 75 mg/L as N, the low end of what harmed them (75 to
    100 mg/L: Davidson et al. at the Freshwater Institute). Un-ionised ammonia: gills are hurt above 0.05 mg/L (UF/IFAS FA-16); Environment
    Agency limits are 0.050 mg/L for carp waters and 0.025 mg/L for salmon and trout waters (quoted by Reynolds Bauhm).
    Danger: nitrite of 5 mg/L as N, SRAC 282 (tilapia begin to die), or five times what the fish bears where that is less, and
    three times the ammonia: common practice, no source.

    >>> from aquaplumb import fish
    >>> limits = fish.waste_limits("rainbow trout")
    >>> print(limits.unionised.to("mg/L"), limits.nitrate.to("mg/L"))
    0.025 mg/L 75 mg/L
    """
    row = tables.row("species", species).si
    fry = body_mass is not None and body_mass < FRY
    return WasteLimits.from_si(
        tan=row.tan_limit,
        unionised=min(row.unionised_limit or GILL_DAMAGE, FRY_DAMAGE) if fry else row.unionised_limit or GILL_DAMAGE,
        nitrite=row.nitrite_limit,
        nitrate=row.nitrate_limit,
        tan_danger=None if row.tan_limit is None else _DANGER_TAN * row.tan_limit,
        nitrite_danger=_DEADLY_NITRITE if row.nitrite_limit is None else min(_DANGER_NITRITE * row.nitrite_limit, _DEADLY_NITRITE),
    )

"""What gathers in the water over weeks and months: nitrate that plants leave, minerals, what bases and salt leave behind.

Nitrogen compounds are always *as nitrogen* (N). All of it is reached through `startup`.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.fish.nitrification import above_zero, not_below_zero
from aquaplumb.fish.waste import NITROGEN_IN_PROTEIN, ammonia_production
from aquaplumb.units import Area, AreaRate, Concentration, Flow, Mass, MassRate, Number, Record, Time, Volume, takes_quantities

KEPT = 0.30  # of the feed's nitrogen in the fish: FAO Technical Paper 589, App. 4
UPTAKE = 0.43e-3 / 86400  # kg/m²/s of N: Graber and Junge 2009, tomato's fruit in an aquaponic bed
POTASSIUM_UPTAKE = 0.40e-3 / 86400  # kg/m²/s: the same
SODIUM_MOST = 0.070  # kg/m³ for sensitive crops, 0.2 for tougher ones: see `gathered`
CHLORIDE_MOST = 0.142  # kg/m³: 4 meq/L, FAO Irrigation and Drainage Paper 29
SALT_MOST = 2.0  # g/kg: FAO Irrigation and Drainage Paper 29 table 1, severe over 2,000 mg/L dissolved
LETTUCE_CHLORIDE = 0.5  # kg/m³, in one trial: see `startup.salt_needed`
_RELEASED = 1.0 + 0.4 + 0.13  # mg/L of N a day, beside which the next ones were released: Yang and Kim 2020
_FEED_SODIUM, _FEED_CHLORIDE = 0.11 / _RELEASED, 0.5 / _RELEASED
# g for a gram of N: brought by feed, the same; taken by plants, Graber and Junge 2009; calcium and magnesium from memory
_MINERALS = (
    ("potassium", 0.8 / _RELEASED, POTASSIUM_UPTAKE / UPTAKE),
    ("calcium", 0.2 / _RELEASED, 0.35),
    ("magnesium", 0.02 / _RELEASED, 0.1),
)
_IRON = 2e-3  # kg/m³


class NitrogenBalance(Record):
    """Where a day's feed nitrogen goes: into fish, solids and ammonia; of the ammonia into plants, and what is left as nitrate.

    Source: `nitrogen_balance`.
    """

    feed: MassRate
    fish: MassRate
    solids: MassRate
    ammonia: MassRate
    plants: MassRate
    left: MassRate


@takes_quantities
def nitrogen_balance(feed: MassRate, protein: Number, planted: Area, *, uptake: AreaRate = UPTAKE) -> NitrogenBalance:
    """Where the feed's nitrogen goes in a day, as N: what no plant takes gathers as nitrate, or leaves with changed water.

    protein: In the feed, as a fraction.
    planted: Under plants that grow well.
    uptake: Of nitrogen by the plants: 0.43 g/m²/d when left out. Seedlings, winter and shade take far less.
    returns: feed = fish + solids + ammonia; ammonia = plants + left. Some of `left` goes into the air where mud lies: not
        counted. Solids that rot in the system end as ammonia and nitrate too: not counted.

    Fish keep 30 %; ammonia as `fish.ammonia_production` has it (57.5 %); the rest, 12.5 %, is solid (FAO: 55 and 15 %).

    Source: FAO Technical Paper 589, App. 4 (30, 15 and 55 %). Uptake: Graber and Junge 2009, Desalination 247, 148: fruit
    of tomato took 0.43 g/m²/d in an aquaponic bed, 0.52 in hydroponics; the whole bed took 0.62, with leaves and air.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> day = startup.nitrogen_balance(200 * u.g / u.day, 0.32, 4 * u.m**2)
    >>> print(round(day.ammonia.to("g/d"), 2), round(day.plants.to("g/d"), 2), round(day.left.to("g/d"), 2))
    5.89 g/d 1.72 g/d 4.17 g/d
    """
    ammonia = ammonia_production.si(feed, protein)
    brought = feed * protein * NITROGEN_IN_PROTEIN
    plants = np.minimum(planted * uptake, ammonia)
    return NitrogenBalance.from_si(
        feed=brought, fish=KEPT * brought, solids=(1 - KEPT) * brought - ammonia, ammonia=ammonia, plants=plants, left=ammonia - plants
    )


class Mineral(Record):
    """A mineral of a day: what feed brings, what plants take, and what is missing then.

    Source: `minerals`.
    """

    brought: MassRate
    taken: MassRate
    missing: MassRate


class Minerals(Record):
    """What plants ask for beside nitrogen, what feed leaves of salt, and the iron (as Fe) to give every three weeks.

    Source: `minerals`.
    """

    potassium: Mineral
    calcium: Mineral
    magnesium: Mineral
    sodium: MassRate
    chloride: MassRate
    iron: Mass


@takes_quantities
def minerals(ammonia: MassRate, plants: MassRate, volume: Volume) -> Minerals:
    """Potassium, calcium, magnesium and iron: what feed brings, what plants take, what has to be added.

    Feeds differ: look for yellow leaves, and count what tap water and base bring (hard water has calcium and magnesium enough).

    ammonia: As N, a day.
    plants: Nitrogen that they take (`nitrogen_balance`).
    volume: All the water of the system.
    returns: Iron as a chelate with DTPA, since feed's iron falls out; the bag says how much of it is iron.

    Feed gives to the water, for a gram of N: potassium 0.52, calcium 0.13, magnesium 0.013, sodium 0.072, chloride 0.33 g.
    Plants take with a gram of N: potassium 0.93, calcium 0.35, magnesium 0.1 g. Iron: 2 mg/L.

    Source: Yang and Kim 2020, Water 12, 1259: released a day, with feed of 41 % protein, K 0.8, Cl 0.5, Ca 0.2, Na 0.11, Mg 0.02 for
    1.53 mg/L of N. Graber and Junge 2009: 0.40 g of K for 0.43 of N. Calcium and magnesium in leaves: from memory. Iron:
    the UVI system's 2 mg/L every three weeks, as tilaponics.com repeats it; FAO Technical Paper 589: 1 to 2 mg/L.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> day = startup.minerals(6 * u.g / u.day, 2 * u.g / u.day, 2000 * u.L)
    >>> print(round(day.potassium.brought.to("g/d"), 1), round(day.magnesium.missing.to("g/d"), 2), day.iron.to("g"))
    3.1 g/d 0.12 g/d 4 g
    """
    parts = {
        name: Mineral.from_si(brought=part * ammonia, taken=with_n * plants, missing=np.maximum(with_n * plants - part * ammonia, 0.0))
        for name, part, with_n in _MINERALS
    }
    return Minerals.from_si(**parts, sodium=_FEED_SODIUM * ammonia, chloride=_FEED_CHLORIDE * ammonia, iron=_IRON * volume)


@takes_quantities
def gathered(
    time: Time, volume: Volume, given: MassRate, *, taken: MassRate = 0.0, changed: Flow = 0.0, present: Concentration = 0.0
) -> Concentration:
    """What a substance gathers to in the water after a time: given each day, taken by plants, thinned by changed water.

    Water that evaporates, or that plants drink, leaves salts behind: only changed water takes them out.

    time: From now.
    volume: All the water of the system.
    given: Each day.
    taken: By plants each day; no more than is given.
    changed: Water let out and replaced each day. The new water is counted as pure: the utility's report has what it brings.
    present: Now.

    Mixed through: C = C₀ e^(−qt/V) + (given − taken)/q · (1 − e^(−qt/V)); without change C₀ + (given − taken) t/V.

    Sensitive crops bear 70 mg/L of sodium and 105 of chloride on their leaves, tougher ones 200 and 350; at the root
    chloride is no problem under 142 mg/L and severe over 355. Many growers hold sodium under 50 mg/L.

    Source: Mass balance. Limits: Specific ion toxicity, amaglab.com (water on leaves); FAO Irrigation and Drainage Paper
    29 (1985) table 1, 4 and 10 meq/L of chloride; the 50 mg/L: UVI, from memory.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> print(round(startup.gathered("30 d", 2000 * u.L, 5 * u.g / u.day, changed=50 * u.L / u.day).to("mg/L"), 1))
    52.8 mg/L
    """
    above_zero(volume, "gathered: volume", "2000 L")
    not_below_zero(changed, "gathered: changed", "50 L/d")
    turns = np.asarray(changed * time / volume, float)
    net = np.maximum(given - taken, 0.0) * time / volume
    share = np.divide(-np.expm1(-turns), turns, out=np.ones_like(turns), where=turns > 1e-12)
    return (present * np.exp(-turns) + net * share)[()]

"""Alkalinity: what the bacteria eat in a day, what puts it back, and how much base is safe at once.

Alkalinity is always *as calcium carbonate* (CaCO3). `water.base_needed` has the mass for a rise, `fish.alkalinity_use`
what nitrification eats; here they are put to use. All of it is reached through `startup`.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.fish.nitrification import above_zero
from aquaplumb.fish.waste import alkalinity_use
from aquaplumb.units import (
    NUMBER,
    Concentration,
    Mass,
    MassRate,
    Number,
    Record,
    Temperature,
    Time,
    Volume,
    check_range,
    endless,
    takes_quantities,
)
from aquaplumb.water.bases import CHARGE, Carbonate, base_row
from aquaplumb.water.chemistry import base_needed
from aquaplumb.water.halving import last_below

_METALS = {"sodium": 22.98977e-3, "potassium": 39.0983e-3, "calcium": 40.078e-3 / 2}  # kg for a mole of charge


@takes_quantities
def daily_lot(
    volume: Volume, base: str, *, alkalinity: Concentration, ph: Number, temperature: Temperature = 298.15, ph_rise: Number = 0.3
) -> Mass:
    """The most of a base for one day: neither at once nor settled may it lift the pH by more than the limit.

    CAUTION: hydroxides burn skin and blind: goggles, gloves, base into water, never water onto base. Dissolve a lot
    in a bucket, pour it slowly into moving water far from the fish, and test the pH before the next. Calcium
    hydroxide overdosed has killed whole tanks.

    volume: All the water of the system.
    base: A name in the table of bases, or its formula.
    alkalinity: As CaCO3, now.
    ph: Now, 5 to 9.
    temperature: 0 to 40 °C.
    ph_rise: The limit.
    returns: Never more than the table's daily lot, whatever the sum says.

    With c the base's carbon for each charge and α at the limit: rise = (C α + Kw/h − h − A)/(1 − c α) at once;
    settled, the rise that multiplies the bicarbonate by 10^limit. More than one lot a day only to put back what the
    bacteria eat, hours apart.

    Source: As `ph_after_base`. The limit: FAO Technical Paper 589 (0.3 in 12 to 24 h already stresses fish). The cap: common
    practice, no source.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> lot = startup.daily_lot(1500 * u.L, "potassium hydroxide", alkalinity="50 mg/L", ph=7.2)
    >>> print(round(lot.to("g"), 1))
    5.6 g
    """
    check_range(ph_rise, 0.01, 1.0, NUMBER, "daily_lot: pH rise", "a limit for fish")
    row, water = base_row(base), Carbonate(ph, alkalinity, temperature, "daily_lot")
    end = ph + ph_rise
    share = water.charges(end) / water.total(end)
    room = water.carbon * share + water.water(end) - water.alkalinity
    slack = 1 - row.carbon * share
    at_once = np.where(slack > 1e-9, room / np.where(slack > 1e-9, slack, 1.0), np.inf)
    settled = water.dioxide * water.charges(end) + water.water(end) - water.alkalinity
    rise = np.minimum(np.minimum(at_once, settled) * CHARGE, row.daily_lot)
    return base_needed.si(np.maximum(rise, 0.0)[()], volume, row.formula)


@takes_quantities
def base_a_day(ammonia: MassRate, base: str, *, given_back: MassRate = 0.0) -> MassRate:
    """The base that puts back each day what nitrification eats.

    ammonia: As N, turned a day.
    base: A name in the table of bases, or its formula.
    given_back: Alkalinity as CaCO3 that comes with make-up water, or from plants that take nitrate. Nothing when left
        out: the most.
    returns: Growers' rules for sodium bicarbonate ask half of it or less: they count on make-up water. Test, and
        adjust.

    Source: Stoichiometry (`fish.alkalinity_use`, `water.base_needed`); the rule: Loyless and Malone 1997 (from memory).

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> print(round(startup.base_a_day(6 * u.g / u.day, "sodium bicarbonate").to("g/d"), 0))
    72 g/d
    """
    return base_needed.si(np.maximum(alkalinity_use.si(ammonia) - given_back, 0.0), 1.0, base_row(base).formula)


@takes_quantities
@endless
def alkalinity_time(
    alkalinity: Concentration, volume: Volume, ammonia: MassRate, *, floor: Concentration = 0.02, given_back: MassRate = 0.0
) -> Time:
    """How long the alkalinity lasts when nothing is added: then the pH falls within days and nitrification stops.

    alkalinity: As CaCO3, now.
    volume: All the water of the system.
    ammonia: As N, turned a day.
    floor: As CaCO3; below 20 mg/L the pH swings by the hour.
    given_back: Alkalinity as CaCO3 that comes with make-up water.
    returns: Infinite when at least as much comes back as is eaten.

    Source: Definition; the floor: Alabama Extension and The Fish Site on liming ponds (wide daily swings of pH below 20 mg/L).

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> print(round(startup.alkalinity_time("60 mg/L", 1500 * u.L, 6 * u.g / u.day).to("d"), 1))
    1.4 d
    """
    above_zero(volume, "alkalinity_time: volume", "1500 L")
    loss = np.asarray(alkalinity_use.si(ammonia) - given_back, float)
    left = np.maximum(alkalinity - floor, 0.0) * volume
    return np.divide(left, loss, out=np.full(np.broadcast_shapes(np.shape(left), loss.shape), np.inf), where=loss > 0)[()]


@takes_quantities
def left_behind(rise: Concentration, base: str) -> Concentration:
    """The sodium, potassium or calcium that a base leaves in the water for a rise of alkalinity. Only plants and changed water take it out.

    The acid of nitrification takes the alkalinity again, and the metal stays: potassium and calcium feed plants, sodium
    harms them as it builds up.

    rise: As CaCO3, of all the lots together.
    base: A name in the table of bases, or its formula.
    returns: Of the metal that the table says the base adds.

    Source: Stoichiometry: the metal's molar mass over its charge for each 50.04 g of CaCO3, IUPAC standard atomic weights.

    >>> from aquaplumb.water import startup
    >>> print(round(startup.left_behind("100 mg/L", "sodium bicarbonate").to("mg/L"), 1))
    45.9 mg/L
    """
    return rise / CHARGE * _METALS[base_row(base).adds]


@takes_quantities
def ph_drift(
    time: Time, volume: Volume, ammonia: MassRate, *, alkalinity: Concentration, ph: Number, temperature: Temperature = 298.15,
    given_back: MassRate = 0.0,
) -> Number:  # fmt: skip
    """The pH after a time, as the bacteria eat the alkalinity and fish and air keep the carbon dioxide where it is.

    It falls slowly at first and then all at once. In truth the bacteria slow below pH 6.5, so that the last of the fall
    takes longer.

    time: From now.
    volume: All the water of the system.
    ammonia: As N, turned a day.
    alkalinity: As CaCO3, now.
    ph: Now, 5 to 9.
    temperature: 0 to 40 °C.
    given_back: Alkalinity as CaCO3 that base, plants and make-up water put back.
    returns: That of water with no alkalinity once all is eaten.

    The carbonate sum of `ph_after_base`, settled, at the alkalinity less 7.15 times the ammonia.

    Source: `fish.alkalinity_use`; Plummer and Busenberg (1982) for the constants.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> drift = startup.ph_drift([0, 2, 4] * u.day, 2383 * u.L, 5.7 * u.g / u.day, alkalinity="90 mg/L", ph=7.0)
    >>> print([round(float(one), 1) for one in drift])
    [7.0, 6.8, 6.4]
    """
    above_zero(volume, "ph_drift: volume", "2000 L")
    water = Carbonate(ph, alkalinity, temperature, "ph_drift")
    loss = (alkalinity_use.si(ammonia) - given_back) * time / volume / CHARGE
    wanted = np.maximum(water.alkalinity - loss, 0.0)
    low, high = (np.full(np.shape(wanted * ph), end) for end in (4.0, 13.0))
    return last_below(low, high, lambda at: water.dioxide * water.charges(at) + water.water(at) < wanted)[()]


class PhWeeks(Record):
    """pH and alkalinity (as CaCO3) week by week: with nothing put back, and with what is given.

    Source: `ph_weeks`.
    """

    week: Number
    ph_alone: Number
    ph_given: Number
    alkalinity_alone: Concentration
    alkalinity_given: Concentration


@takes_quantities
def ph_weeks(
    volume: Volume, ammonia: MassRate, *, alkalinity: Concentration, ph: Number, given_back: MassRate, temperature: Temperature = 298.15,
    weeks: Number = 8,
) -> PhWeeks:  # fmt: skip
    """pH and alkalinity over the coming weeks, with nothing put back and with what is given; one value each.

    The bacteria are taken to work on as the pH falls: in truth they slow below 6.5, and ammonia rises instead.

    volume: All the water of the system.
    ammonia: As N, turned a day.
    alkalinity: As CaCO3, now.
    ph: Now, 5 to 9.
    given_back: Alkalinity as CaCO3 that base, plants and make-up water put back.
    temperature: 0 to 40 °C.
    weeks: 8 when left out.
    returns: From today on; `frame` makes a table of it.

    Source: `ph_drift`.

    >>> from aquaplumb.water import startup
    >>> weeks = startup.ph_weeks("2000 L", "2 g/d", alkalinity="100 mg/L", ph=7.0, given_back="7 g/d", weeks=2)
    >>> print([round(float(ph), 1) for ph in weeks.ph_alone], [round(float(ph), 1) for ph in weeks.ph_given])
    [7.0, 6.7, 4.8] [7.0, 6.9, 6.7]
    """
    above_zero(volume, "ph_weeks: volume", "2000 L")
    week = np.arange(int(weeks) + 1.0)
    time = week * 7 * 86400
    where = {"alkalinity": alkalinity, "ph": ph, "temperature": temperature}
    eaten = alkalinity_use.si(ammonia)
    left, held = (np.maximum(alkalinity - (eaten - back) * time / volume, 0.0) for back in (0.0, given_back))
    alone, given = (ph_drift.si(time, volume, ammonia, given_back=back, **where) for back in (0.0, given_back))
    return PhWeeks.from_si(week=week, ph_alone=alone, ph_given=given, alkalinity_alone=left, alkalinity_given=held)

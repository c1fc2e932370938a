"""Kinds of battery, and what depth, age and cold leave of the capacity on the label.

Part of `aquaplumb.power`, which is the face of all this. `battery` sizes one, and has the cautions.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import tables
from aquaplumb.tables import BANDS
from aquaplumb.units import (
    NUMBER,
    TEMPERATURE,
    DesignError,
    Number,
    Temperature,
    Turnover,
    Voltage,
    check_range,
    takes_quantities,
)

RATED_AT = 298.15  # K: batteries are rated at 20 or 25 °C; warmer is not counted as more
SERIES = "Two equal 12 V batteries in series, plus of one to minus of the other, make 24 V; the ampere-hours stay those of one."


@tables.table_type("batteries")
class BatteryKind(tables.Row):
    """A kind of battery, a row of ``data/batteries.csv``; all but voltages are plain shares of what is on the label.

    nominal_voltage: What a battery sold as "12 V" of this kind really gives while it empties.
    coldest_charge: Below it, do not charge.
    fastest_charge: The largest charging current over the capacity: 0.2 1/h is 20 A into 100 Ah.

    Source: Row by row; mostly vendors' figures, so the bands are wide.
    """

    nominal_voltage: Voltage
    usable_depth_low: Number
    usable_depth_typical: Number
    usable_depth_high: Number
    round_trip_low: Number
    round_trip_typical: Number
    round_trip_high: Number
    ageing_low: Number
    ageing_typical: Number
    ageing_high: Number
    at_freezing_low: Number
    at_freezing_typical: Number
    at_freezing_high: Number
    at_minus_20_low: Number
    at_minus_20_typical: Number
    at_minus_20_high: Number
    cycles_low: Number
    cycles_typical: Number
    cycles_high: Number
    coldest_charge: Temperature
    fastest_charge: Turnover


def battery_kind(name: str | BatteryKind) -> BatteryKind:
    """A kind of battery by its name, such as "LiFePO4" or "lead-acid flooded".

    Parameters
    ----------
    name : str
        One of ``tables.names("batteries")``.

    Returns
    -------
    BatteryKind

    Source
    ------
    ``data/batteries.csv``.

    Examples
    --------
    >>> battery_kind("LiFePO4").usable_depth_typical
    0.8
    """
    return name if isinstance(name, BatteryKind) else tables.row(BatteryKind, name, "list of batteries")


def battery_share(kind, word: str, band: str) -> float:
    """One share of the table, such as "round_trip", for a kind and a band.

    Source
    ------
    ``data/batteries.csv``.
    """
    if band not in BANDS:
        raise DesignError(f"the band is '{band}'; write low, typical or high.")
    return getattr(battery_kind(kind).si, f"{word}_{band}")


@takes_quantities
def cold_share(temperature: Temperature, *, kind: str | BatteryKind = "lead-acid flooded", band: str = "typical") -> Number:
    """The part of its capacity that a battery still gives in the cold.

    temperature: Of the battery, −20 to 45 °C.
    band: "low", "typical" or "high".
    returns: 1 at 25 °C and above. Heat gives no more; it ages the battery: common practice counts half the life for
        every 10 °C above 25 °C.

    Straight lines between the table's shares at −20, 0 and 25 °C, for a discharge over many hours.

    Source: ``data/batteries.csv``: vendors' figures.

    >>> print(cold_share("0 degC"))
    0.8
    """
    check_range(temperature, 253.15, 318.15, TEMPERATURE, "the battery's temperature", "what is known of its capacity")
    shares = [battery_share(kind, "at_minus_20", band), battery_share(kind, "at_freezing", band), 1.0]
    return np.interp(temperature, [253.15, 273.15, RATED_AT], shares)[()]


@takes_quantities
def usable_share(
    *,
    kind: str | BatteryKind = "lead-acid flooded",
    depth: Number | None = None,
    ageing: Number | None = None,
    temperature: Temperature = RATED_AT,
    band: str = "typical",
) -> Number:
    """The part of the label's capacity that you may plan with: depth, times age, times cold.

    depth: How far you let it down: 0.5 uses half. The table's for its kind when left out.
    ageing: What is left of the capacity on the day you replace it. The table's when left out; 1 for a new battery.
    temperature: Of the battery on the coldest day.
    band: Which of the table's values: "low", "typical" or "high".

    Source: The product as in battery sizing worksheets; 0.8 at the end of life is IEEE 485's 125 %, from memory.

    >>> print(round(usable_share(kind="LiFePO4"), 2))
    0.64
    """
    depth = battery_share(kind, "usable_depth", band) if depth is None else depth
    ageing = battery_share(kind, "ageing", band) if ageing is None else ageing
    check_range(depth, 0.01, 1.0, NUMBER, "the depth of discharge", "a part of the whole")
    check_range(ageing, 0.1, 1.0, NUMBER, "ageing, the part of the capacity left,", "a part of the whole")
    return depth * ageing * cold_share.si(temperature, kind=kind, band=band)

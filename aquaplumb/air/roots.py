"""Oxygen under floating boards: what roots take there, and the air stones that print hangs there.

All of it is reached through `air`. Boards keep the air off the water: only its flow and stones bring any.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.units import DAY, AirFlow, Area, AreaRate, Number, Record, takes_quantities

ROOTS_BEAR = 3e-3  # kg/m³: plants want more, FAO 589 (2014) §3.3, from memory; lettuce grew as well at 2.1 mg/L, Goto and others (1996, abstract read)
BACTERIA_BEAR = 4e-3  # kg/m³: they want 4 to 8 mg/L, FAO 589 (2014) §3.3, from memory
STONE_AIR = 4e-3 / 60  # m³/s through one stone under boards, FAO 589 (2014) §4.5, read in a copy
STONE_AREA = 3.0  # m² of boards for each: 2 to 4 m², the same


class RootOxygen(Record):
    """What the roots under a square metre of boards take in a day, with its band. Source: `root_oxygen`."""

    low: AreaRate
    typical: AreaRate
    high: AreaRate


@takes_quantities
def root_oxygen() -> RootOxygen:
    """The oxygen that the roots of a full stand of leafy plants take, for a square metre of boards.

    25 heads on a square metre, each with 25 g of fresh roots, at 0.1 to 0.4 mg of oxygen for a gram in an hour.

    Source: the spacing, FAO Technical Paper 589 §4.5; the roots and what they breathe, common practice, no source.

    >>> from aquaplumb import air
    >>> print(round(air.root_oxygen().typical.m_as("g/m²/d"), 3))
    3.0
    """
    roots = 25 * 25.0  # g on a square metre
    return RootOxygen.from_si(**{band: roots * rate * 1e-6 * 24 / DAY for band, rate in zip(("low", "typical", "high"), (0.1, 0.2, 0.4))})


@takes_quantities
def raft_stones(boards: Area, air_flow: AirFlow = 0.0) -> Number:
    """The small air stones that hang under boards: one for every 3 m², and so many that none blows more than 4 L/min.

    boards: Of one raft.
    air_flow: That all of them have to bring; none where they only follow the rule.

    Source: FAO Technical Paper 589 (2014) §4.5, read in a copy: about 4 L/min, one for 2 to 4 m².

    >>> from aquaplumb import air
    >>> print(air.raft_stones("8 m2"))
    3.0
    """
    return np.maximum(np.ceil(np.divide(boards, STONE_AREA) - 1e-9), np.ceil(np.divide(air_flow, STONE_AIR) - 1e-9))[()]

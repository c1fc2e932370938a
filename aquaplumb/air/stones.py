"""Air stones: the oxygen that they bring from an air flow, the air that a tank needs, and how many stones take it.

All of it is reached through `air`. Air flow is *free air*: the volume before the pump squeezes it.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import tables
from aquaplumb.air.air_pumps import air_pressure
from aquaplumb.air.tank_oxygen import OxygenBudget, over, oxygen_terms, standard_transfer_needed, without
from aquaplumb.air.transfer import oxygen_in_air
from aquaplumb.units import (
    LENGTH,
    NUMBER,
    AirFlow,
    Concentration,
    DepthShare,
    DesignError,
    Length,
    MassRate,
    Number,
    Pressure,
    Record,
    check_range,
    not_above,
    takes_quantities,
)


@tables.table_type("airstones")
class AirStone(tables.Row):
    """A stone or diffuser: the share of the air's oxygen that it brings in for each metre of depth, its air, its loss.

    Source: ``data/airstones.csv``, row by row.
    """

    transfer_low: DepthShare
    transfer_typical: DepthShare
    transfer_high: DepthShare
    air_flow_low: AirFlow | None
    air_flow_typical: AirFlow
    air_flow_high: AirFlow | None
    loss_low: Pressure | None
    loss_typical: Pressure
    loss_high: Pressure | None


class BackupAir(Record):
    """The air that holds a level with the pump off: its flow, the stones, the pressure at the air pump's outlet.

    Source: `backup_air`.
    """

    transfer: MassRate
    air_flow: AirFlow
    stones: Number
    pressure: Pressure


def air_stone(name: str | AirStone) -> AirStone:
    """The row of an air stone, by its name. Source: ``data/airstones.csv``."""
    return name if isinstance(name, AirStone) else tables.row(AirStone, name, "list of air stones")


@takes_quantities
def transfer_share(depth: Length, *, per_depth: DepthShare = 0.02) -> Number:
    """The share of the oxygen in the air that goes into the water on its way up.

    depth: Of water above the stone, 0 to 6 m.
    per_depth: The stone table has it, low, typical and high; 2 %/m, an air stone, when left out.
    returns: In clean water without oxygen at 20 °C (SOTE).

    In proportion to the depth, which holds for a few metres.

    Source: Wastewater practice: fine bubbles about 3 %/m (1 %/ft), coarse about half, from memory.

    >>> from aquaplumb import air, u
    >>> print(air.transfer_share(0.8 * u.m, per_depth="3 %/m"))
    0.024
    """
    check_range(depth, 0.0, 6.0, LENGTH, "transfer_share: depth", "the rule for a share at each metre")
    check_range(per_depth, 0.0, 0.1, NUMBER, "transfer_share: per depth (for 1 m)", "the rule for a share at each metre")
    return per_depth * depth


@takes_quantities
def stone_transfer(air_flow: AirFlow, depth: Length, *, per_depth: DepthShare = 0.02, altitude: Length = 0.0) -> MassRate:
    """The standard transfer of air stones, from the air that goes through them.

    air_flow: Free air at 20 °C, through all stones together.
    depth: Of water above the stones.
    per_depth: As in `transfer_share`.
    altitude: Where the air pump stands: thin air carries less oxygen.
    returns: In clean water without oxygen at 20 °C; times `field_factor` it is what your tank gets, about a third.

    SOTR = oxygen in air · air flow · share at a metre · depth. 1 L/min at 3 %/m and 1 m: 0.50 g/h.

    Source: Definition of SOTE; `transfer_share` for its size (from memory).

    >>> from aquaplumb import air, u
    >>> print(round(air.stone_transfer(20 * u.L / u.min, 0.8 * u.m).to("g/h"), 2))
    5.35 g/h
    """
    return oxygen_in_air.si(altitude=altitude) * air_flow * transfer_share.si(depth, per_depth=per_depth)


@takes_quantities
def stone_count(air_flow: AirFlow, each: AirFlow) -> Number:
    """The stones that an air flow needs, rounded up.

    each: Through one stone; the stone table has it. More than its maker says makes big bubbles that bring little.
    returns: Whole. Put in two at least, on two lines: one clogs.

    Source: Definition.

    >>> from aquaplumb import air, u
    >>> print(air.stone_count("44 L/min", "8 L/min"))
    6.0
    """
    if not_above(each, 0):
        raise DesignError("stone_count: the air through one stone is 0 or less; give what one passes, such as 8 L/min.")
    return np.ceil(air_flow / each - 1e-9)


@takes_quantities
def backup_air(
    budget: OxygenBudget,
    critical: Concentration,
    *,
    depth: Length,
    per_depth: DepthShare = 0.01,
    each: AirFlow = 8 / 60000,
    stone_loss: Pressure = 5e3,
    tube_loss: Pressure = 0.0,
    meal_peak: Number = 1.4,
) -> BackupAir:
    """The air and the stones that keep fish alive with the pump off and the usual air off: no water comes in.

    budget: The tank.
    critical: The level to hold (`oxygen_critical` in the species table); a margin of 1 mg/L above it is wise.
    depth: Of water above the stones.
    per_depth: As in `transfer_share`; 1 %/m, the low end of an air stone, when left out.
    each: Through one stone; 8 L/min when left out.
    tube_loss: These two as in `air_pressure`.
    meal_peak: As in `after_meal`: it has to hold when the fish have just eaten.
    returns: transfer [kg/s] in the field, air flow [m³/s], stones, pressure [Pa]

    Source: `standard_transfer_needed`, `stone_transfer` and `air_pressure`.

    >>> from aquaplumb import air, u
    >>> tank = air.OxygenBudget(volume="1000 L", use="3.2 g/h", temperature="25 degC")
    >>> print(air.backup_air(tank, "3 mg/L", depth="0.8 m").stones)
    9.0
    """
    s = budget.si
    dead = without.si(budget, meal_peak=meal_peak)
    standard = standard_transfer_needed.si(dead, critical)
    air_flow = over(standard, stone_transfer.si(1.0, depth, per_depth=per_depth, altitude=s.altitude))
    lack = np.maximum(-oxygen_terms.si(dead, critical).si.net, 0.0)
    return BackupAir.from_si(
        transfer=np.where(np.isfinite(standard), lack, np.inf)[()],
        air_flow=air_flow,
        stones=stone_count.si(air_flow, each),
        pressure=air_pressure.si(depth, stone_loss=stone_loss, tube_loss=tube_loss, temperature=s.temperature),
    )

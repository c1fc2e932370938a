"""Air and oxygen: what fish breathe, what stones, falls and the surface bring, and how long it lasts in a failure.

    air.fish_respiration, air.after_meal, air.oxygen_use           what the fish take
    air.stone_transfer, air.field_factor, air.stone_count          what air stones bring, and how much of it in your water
    air.stripping_flow                                                 the carbon dioxide that they drive out
    air.root_oxygen, air.raft_stones                              what roots take under boards, and the stones that hang there
    air.OxygenBudget, air.time_to_critical, air.oxygen_run         the oxygen of one tank, through a failure or a night

When pump and air stop, a stocked tank has minutes, not hours. Keep a battery air pump, and stop feeding at an alarm.
Electrics near water belong behind a residual-current device (RCD, 30 mA; in North America a class A GFCI, 5 mA) and to a licensed electrician; mount air pumps above the
water or fit check valves, so that water cannot siphon back into them.
"""

from __future__ import annotations

from aquaplumb.air.air_pumps import AirPump, air_delivered, air_pressure, air_pump_flow, air_tube_loss
from aquaplumb.air.breathing import (
    FishRespiration,
    after_meal,
    fish_respiration,
    oxygen_use,
    respiration,
    respiration_at,
    respiration_by_feed,
)
from aquaplumb.air.night import OxygenRun, oxygen_run
from aquaplumb.air.roots import RootOxygen, raft_stones, root_oxygen
from aquaplumb.air.stones import (
    AirStone,
    BackupAir,
    backup_air,
    stone_count,
    stone_transfer,
    transfer_share,
)
from aquaplumb.air.stripping import carbon_dioxide_in_air, stripping_flow
from aquaplumb.air.tank_oxygen import (
    OxygenBudget,
    OxygenTerms,
    oxygen_after,
    oxygen_terms,
    standard_transfer_needed,
    steady_oxygen,
    without,
)
from aquaplumb.air.time_left import time_to_critical, time_to_oxygen
from aquaplumb.air.transfer import (
    deficit_ratio,
    field_factor,
    oxygen_after_fall,
    oxygen_in_air,
    surface_transfer,
    transfer_coefficient,
)

__all__ = [
    "AirPump",
    "AirStone",
    "BackupAir",
    "FishRespiration",
    "OxygenBudget",
    "OxygenRun",
    "OxygenTerms",
    "RootOxygen",
    "after_meal",
    "air_delivered",
    "air_pressure",
    "air_pump_flow",
    "air_tube_loss",
    "backup_air",
    "carbon_dioxide_in_air",
    "deficit_ratio",
    "field_factor",
    "fish_respiration",
    "oxygen_after",
    "oxygen_after_fall",
    "oxygen_in_air",
    "oxygen_run",
    "oxygen_terms",
    "oxygen_use",
    "raft_stones",
    "respiration",
    "respiration_at",
    "respiration_by_feed",
    "root_oxygen",
    "standard_transfer_needed",
    "steady_oxygen",
    "stone_count",
    "stone_transfer",
    "stripping_flow",
    "surface_transfer",
    "time_to_critical",
    "time_to_oxygen",
    "transfer_coefficient",
    "transfer_share",
    "without",
]  # fmt: skip

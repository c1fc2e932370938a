"""The power supply: wire, fuse, battery, panel, and what the pump at the end of it all really moves.

    dc = pumps.pump("demo 12 V 18 W submersible")
    point = power.wired_pump(dc, line, "12 V", wire="1.5 mm2 flexible", length="6 m")
    power.fuse(point.current, wire="1.5 mm2 flexible")
    power.battery_capacity(point.supply_power, "2 d", "12 V", kind="LiFePO4")
    here = power.sunshine("40 deg", tilt="55 deg")
    power.panel_size(point.supply_power, here)
    power.solar_year(point.supply_power, "200 W", "150 Ah", sun=here, flow=point.flow)

On mains, what a pump takes and costs in a year is `annual_energy` and `annual_cost`, which are those of `pumps`.

CAUTION: mains near water kills. Use a residual-current device (RCD, 30 mA; in North America a class A GFCI, 5 mA)
and leave mains wiring to a licensed electrician. Low voltage starts fires: fuse it at the battery. Batteries give off hydrogen and drive thousands of
amperes into a short. Panels cannot be switched off by day. The cautions stand at `wiring`, `battery` and `solar`;
your local code comes before all of them.
"""

from __future__ import annotations

from aquaplumb.plumbing.pump_choice import annual_cost, annual_energy
from aquaplumb.power.battery import battery_capacity, battery_time, usable_energy
from aquaplumb.power.battery_kinds import BatteryKind, battery_kind, cold_share, usable_share
from aquaplumb.power.panels import PanelSize, charge_current, panel_losses, panel_power, panel_size
from aquaplumb.power.protection import shock_protection
from aquaplumb.power.pump_on_wire import WiredPump, wired_pump
from aquaplumb.power.solar import MONTHS, SKY, Sunshine, sunshine
from aquaplumb.power.weather import invented_skies
from aquaplumb.power.wire_choice import FUSES, drop_share, fuse, smallest_wire, voltage_drop
from aquaplumb.power.wire_sizes import PLACES, RATED_IN, Wire, wire, wire_names, wire_rating, wire_resistance
from aquaplumb.power.year import SolarYear, solar_year

__all__ = [
    "FUSES", "MONTHS", "PLACES", "RATED_IN", "SKY", "BatteryKind", "PanelSize", "SolarYear", "Sunshine", "Wire", "WiredPump", "annual_cost", "annual_energy",
    "battery_capacity", "battery_kind", "battery_time", "charge_current", "cold_share", "drop_share",
    "fuse", "invented_skies", "panel_losses", "panel_power", "panel_size", "shock_protection", "smallest_wire",
    "solar_year", "sunshine", "usable_energy", "usable_share", "voltage_drop", "wire", "wire_names",
    "wire_rating", "wire_resistance", "wired_pump",
]  # fmt: skip

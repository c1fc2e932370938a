"""The oxygen under the boards of each raft: what its water and its stones bring, what roots and bacteria take; bare SI numbers.

`Steady.rafts` keeps it, by the raft's name. Water that falls in is not counted as taking up air on its way, and boards let none in:
both on the safe side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from aquaplumb import air
from aquaplumb.air.roots import BACTERIA_BEAR, STONE_AIR
from aquaplumb.air.tank_oxygen import changed
from aquaplumb.build.vessels import TRICKLES, Vessel, plan_area, water_volume
from aquaplumb.system.balance import Balance

_AIRED = ("moving bed", *TRICKLES)  # filters out of which water comes full of air


@dataclass(frozen=True, slots=True)
class RaftAir:
    """A raft with all that are alike, in the warmest water."""

    name: str
    count: float  #: how many alike
    boards: float  #: of one [m²]
    depth: float  #: of its water [m]
    flow: float  #: through all, over the hour [m³/s]
    comes: float  #: oxygen in that water [kg/m³]
    roots: float  #: that roots take, in all [kg/s]
    bacteria: float  #: … and bacteria
    stones: float  #: under one
    blown: float  #: through all stones of all [m³/s]
    settles: float  #: oxygen under the boards; under nothing where more is taken than comes [kg/m³]
    unaired: float  #: … without its stones
    air_needed: float  #: that holds the bacteria's level with the flow as it is, in all [m³/s]; infinite where none does
    flow_needed: float  #: that holds it without stones [m³/s]; infinite where none does

    @property
    def use(self) -> float:
        """What roots and bacteria take [kg/s]."""
        return self.roots + self.bacteria


def rafts_air(system: Balance) -> dict[str, RaftAir]:
    """The oxygen under each raft of a solved build, by its name."""
    found: dict[str, RaftAir] = {}
    for vessel in system.build.of_kind("raft"):
        _raft(system, vessel, found, ())
    return {v.si.name: found[v.si.name] for v in system.build.of_kind("raft")}


def stones_of(vessel: Vessel) -> tuple[float, float]:
    """(stones, air [m³/s]) under one raft: each blows 4 L/min where the file does not say, and there are as many as the air asks for."""
    v = vessel.si
    blown = v.air_flow if v.air_flow is not None else v.air_stones * STONE_AIR
    return v.air_stones or math.ceil(blown / STONE_AIR - 1e-9), blown


def _raft(system: Balance, vessel: Vessel, found: dict[str, RaftAir], above: tuple[str, ...]) -> RaftAir:
    """One raft, those whose water comes to it first."""
    v, area = vessel.si, plan_area.si(vessel)
    if v.name in found:
        return found[v.name]
    depth, flow = system.running_depth(v.name), system.vessels[v.name].mean
    comes = _comes(system, v.name, found, (*above, v.name))
    roots, bacteria = area * float(air.root_oxygen.si().si.typical), _bacteria(system, v.name)
    stones, blown = stones_of(vessel)
    place = {"temperature": system.warm, "altitude": system.build.site.si.altitude}
    budget = air.OxygenBudget.from_si(
        volume=max(water_volume.si(vessel, depth), 1e-6), use=roots, dirt=bacteria, inflow=flow, inflow_oxygen=comes,
        salinity=system.build.water.si.salinity, **place,
    )  # fmt: skip
    each = float(air.stone_transfer.si(1.0, depth, altitude=place["altitude"]))
    aired = changed(budget, standard_transfer=each * blown * v.count)
    lack = float(air.standard_transfer_needed.si(budget, BACTERIA_BEAR))
    found[v.name] = RaftAir(
        name=v.name, count=v.count, boards=area / v.count, depth=depth, flow=flow, comes=comes, roots=roots, bacteria=bacteria, stones=stones,
        blown=blown * v.count, settles=float(air.steady_oxygen.si(aired)), unaired=float(air.steady_oxygen.si(budget)),
        air_needed=lack / each if each > 0 else math.inf,
        flow_needed=(roots + bacteria) / (comes - BACTERIA_BEAR) if comes > BACTERIA_BEAR else math.inf,
    )  # fmt: skip
    return found[v.name]


def _bacteria(system: Balance, name: str) -> float:
    """What the bacteria of a vessel take [kg/s]: of what all take its part of their surface."""
    live, every = system.living.each.get(name), system.living.surface["typical"]
    return system.fish.bed_oxygen * live.surface["typical"] / every if live and every > 0 else 0.0


def _comes(system: Balance, name: str, found: dict[str, RaftAir], above: tuple[str, ...]) -> float:
    """The oxygen in the water that comes into a vessel [kg/m³]: the mean of what its sources let go."""
    flows = [(f.root.si.name, f.mean) for f in system.falling.values() if f.line.si.to == name and f.mean > 0]
    flows += [
        (line.source.si.name, o.flow * line.duty) for line in system.pumped.values() for o in line.outlets if o.to == name and o.flow > 0
    ]
    every = sum(flow for _, flow in flows)
    return sum(flow * _leaves(system, source, found, above) for source, flow in flows) / every if every > 0 else 0.0


def _leaves(system: Balance, name: str, found: dict[str, RaftAir], above: tuple[str, ...]) -> float:
    """The oxygen in the water that leaves a vessel [kg/m³]: of a fish tank what [water] leaves the fish with; of a sump, and where it drips, what comes to them."""
    vessel, wanted = system.build.vessels[name], system.build.water.si
    full = float(wanted.inlet_saturation * system.need.saturation)
    if vessel.holds_fish:
        return min(wanted.outlet_oxygen, full)
    aired = set(vessel.si.does) & set(_AIRED)
    if vessel.si.kind in ("sump", "bed", "channel", "tower") or aired or name in above:
        return full
    if vessel.si.kind == "raft":
        return _raft(system, vessel, found, above).settles
    flow = system.vessels[name].mean
    return max(0.0, _comes(system, name, found, (*above, name)) - _bacteria(system, name) / flow) if flow > 0 else 0.0

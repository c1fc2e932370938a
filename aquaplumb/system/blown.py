"""What air pumps blow through stones at a depth, and in which tank the stones hang; bare SI numbers.

Of the build file and the water's warmth alone: `Balance` asks it for what stones drive out, `air_plans` for the oxygen that they bring.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from aquaplumb import air, water
from aquaplumb.air.air_pumps import air_pump
from aquaplumb.air.stones import AirStone, air_stone
from aquaplumb.build import Build
from aquaplumb.tables import BANDS
from aquaplumb.units import Bare

LEAST, TYPICAL = 0, 1  # the places of the low and the typical value in low, typical, high


@dataclass(frozen=True, slots=True)
class Blown:
    """What an air pump delivers at the depth, each stone on its own tube; all nothing without a pump."""

    name: str = ""
    supply: str = ""  #: that it is made for, "mains" or "battery"
    fed: str = ""  #: what it hangs on, of `supplies`
    stones: float = 0
    flow: float = 0.0  #: of air, before the pump squeezes it [m³/s]
    each: float = 0.0  #: through one stone [m³/s]
    pressure: float = 0.0  #: of the water alone at the depth [Pa]
    open_flow: float = 0.0  #: against nothing [m³/s]
    shut: float = 0.0  #: pressure at which the pump delivers nothing at this altitude [Pa]
    standard: np.ndarray = field(default_factory=lambda: np.zeros(3))  #: standard transfer [kg/s], in the bands
    power: float = 0.0  #: that it draws [W]
    voltage: float | None = None  #: of its battery [V]; None for a mains pump


def hung(stones: float, needs: Mapping[str, float]) -> dict[str, int]:
    """How many of some stones hang in each tank, by the air that each needs: the next one always where a stone has most to do.

    No other way leaves a stone less to do at the most, so that as many stones as the tanks need are enough for each.

    Source: Adams' rule of apportionment, any text on it; the tanks' needs as its counts.
    """
    found = dict.fromkeys(needs, 0)
    for _ in range(round(stones)):
        found[
            max(needs, key=lambda name: (needs[name] / found[name] if found[name] else math.inf if needs[name] > 0 else -1.0, needs[name]))
        ] += 1
    return found


def part_of(blown: Blown, stones: int) -> Blown:
    """The part of an air pump that blows through some of its stones; each gets as much."""
    if not blown.name or stones == blown.stones:
        return blown
    part = stones / blown.stones
    return replace(blown, stones=stones, flow=blown.flow * part, open_flow=blown.open_flow * part, standard=blown.standard * part)


def blown_at(name: str, stones: float, section: Bare, stone: AirStone, fed: str, *, temperature: float, altitude: float) -> Blown:
    """What an air pump delivers at the depth, each stone on its own tube, and the standard transfer that it brings."""
    if not name:
        return Blown()
    pump, s, depth = air_pump(name).si, stone.si, section.depth
    flow = _delivered(
        pump.name, depth, s.loss_typical, s.air_flow_typical, stones, section.tube_bore, section.tube_length, temperature, altitude
    )
    useful = min(flow, stones * (s.air_flow_high or math.inf))  # more only makes big bubbles: it brings nothing here
    return Blown(
        name=pump.name, supply=pump.supply, fed=fed, stones=stones, flow=flow, each=flow / stones, open_flow=pump.open_flow,
        shut=pump.shut_pressure * float(water.atmospheric_pressure.si(altitude)) / water.ATMOSPHERE,
        pressure=float(air.air_pressure.si(depth, stone_loss=0.0, temperature=temperature)),
        standard=air.stone_transfer.si(useful, depth, per_depth=shares(s), altitude=altitude),
        power=pump.power, voltage=pump.voltage if pump.supply == "battery" else None,
    )  # fmt: skip


def shares(stone: Bare) -> np.ndarray:
    """What a stone brings in for each metre of depth [1/m]: low, typical, high."""
    return np.array([getattr(stone, f"transfer_{band}") for band in BANDS])


@functools.lru_cache(maxsize=256)
def _delivered(pump, depth, loss, each, stones, bore, length, temperature, altitude) -> float:
    """The air of a pump; kept, since a slider mostly moves something else."""
    more = {"stone_loss": loss, "each": each, "stones": stones, "bore": bore, "length": length}
    return float(air.air_delivered.si(pump, depth, **more, temperature=temperature, altitude=altitude))


def stripping(build: Build, makes: Mapping[str, float], *, cold: float, warm: float) -> dict[str, float]:
    """The flow of water that the usual stones keep free of carbon dioxide in each tank [m³/s], by what its fish give off [kg/s].

    At the least that stones bring, in the coldest water; none where `aerated_share` has no stones take part.
    """
    none = dict.fromkeys(makes, 0.0)
    if build.air is None or not build.air.si.pump or build.water.si.aerated_share <= 0:
        return none
    a, altitude = build.air.si, build.site.si.altitude
    blown = blown_at(a.pump, a.stones, a, air_stone(a.stone), "", temperature=warm, altitude=altitude)
    parts = (
        {name: part_of(blown, count) for name, count in hung(a.stones, makes).items()} if len(makes) > 1 else dict.fromkeys(makes, blown)
    )
    return {name: float(air.stripping_flow.si(part.flow, part.standard[LEAST], temperature=cold)) for name, part in parts.items()}

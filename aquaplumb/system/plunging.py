"""Inlets that plunge: what pumped water that falls through air into a fish tank takes down with it.

It is told and counted nowhere: an end is moved, a level rises, and the jet is gone. All numbers are bare SI.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from aquaplumb.plumbing import jets
from aquaplumb.system.balance import Balance
from aquaplumb.system.turning import Turning, opening, turning_rows
from aquaplumb.units import GRAVITY, OXYGEN_RATE, SPEED

_COUNTED_NOWHERE = "Inlets that plunge into a fish tank, counted nowhere"


@dataclass(frozen=True, slots=True)
class Plunge:
    """One end of a pumped line over the water of a fish tank, while its pump runs."""

    name: str  #: of its stretch
    line: str
    tank: str
    fall: float  #: through air [m]
    speed: float  #: with which it strikes the water [m/s]
    low: float  #: oxygen that it brings at the level of oxygen that is wanted there, at the least [kg/s]
    high: float  #: … at the most


def plunges(system: Balance) -> list[Plunge]:
    """Each inlet that falls into a fish tank fast enough to take air down, in the warmest water."""
    lack = max(0.0, system.need.saturation - system.build.water.si.outlet_oxygen)
    found = []
    for line in system.pumped.values():
        for end in line.outlets:
            vessel, pipe = system.vessels[end.to], end.pipe.si
            mouth = vessel.vessel.rim if pipe.outlet is None else pipe.outlet
            if not vessel.vessel.holds_fish or end.flow <= 0 or mouth <= vessel.level:
                continue
            _, count, leaves = opening(pipe, end.flow)
            fall = mouth - vessel.level
            speed = math.sqrt(float(leaves) ** 2 + 2 * GRAVITY * fall)
            low, high = (lack * float(jets.plunging_transfer.si(end.flow, speed, nozzles=count, band=band)) for band in ("low", "high"))
            if high > 0:
                found.append(Plunge(end.name, line.name, end.to, fall, speed, low, high))
    return found


def inlet_cells(system: Balance, turning: Mapping[str, Turning]) -> Iterator[tuple[str, str, str, list[tuple]]]:
    """What jets do in each round tank, and what falls into any, for the review: section, name, thing and its columns."""
    for t in turning.values():
        yield "Round tanks, while the pumps run", f"tank {t.tank}", t.tank, turning_rows(t)
    for one in plunges(system):
        yield _COUNTED_NOWHERE, f"inlet {one.line} › {one.name}", f"{one.name} into {one.tank}", _plunging(one)


def _plunging(one: Plunge) -> list[tuple]:
    memory = "Bin and Smith (1982), from memory"
    return [
        ("strikes the water with", SPEED, one.speed, "√(v² + 2 g × fall)", "Torricelli"),
        ("oxygen it brings, at least", OXYGEN_RATE, one.low, "half of 9·10⁻⁵ × power^0.65 × lack", memory),
        ("at most", OXYGEN_RATE, one.high, "twice of 9·10⁻⁵ × power^0.65 × lack", memory),
    ]

"""How fast the water of each round fish tank turns: what its jets push, against what walls, floor and fish hold back.

    system.turning["fish tank"].speed      # at the wall, while the pumps run, bare m/s

Nozzles push along the wall unless their `nozzle_angle` says otherwise. An open end without one falls straight down: it
turns nothing, and has to be brought up to speed like all water that comes in. All numbers are bare SI.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from aquaplumb import fish
from aquaplumb.build.vessels import Vessel, plan_area, water_volume
from aquaplumb.plumbing import jets, lines
from aquaplumb.system.balance import Balance
from aquaplumb.system.states import Outlet, PumpedPipes
from aquaplumb.units import FORCE, SPEED, Bare

CLEAN = 0.15  # m/s at the wall carries solids to a drain in the middle: Timmons and Ebeling (0.15 to 0.30), from memory
_DEEP = 0.2  # of the water's depth: a way out that takes its water in no higher draws from the floor: common practice, no source
BAND = math.sqrt(jets.RESISTANCE["typical"] / jets.RESISTANCE["low"])  # of a speed: how much faster it may be than typical


@dataclass(frozen=True, slots=True)
class Jet:
    """One end of a pumped line that is pointed somewhere in a round tank."""

    name: str  #: of its stretch
    line: str
    flow: float  #: [m³/s]
    bore: float  #: of one hole, or of the open pipe [m]
    nozzles: float
    speed: float  #: [m/s]
    angle: float  #: off the wall [rad]
    push: float  #: along the wall on water at rest, less than nothing against it [N]


@dataclass(frozen=True, slots=True)
class Turning:
    """A round fish tank while its pumps run."""

    tank: str
    diameter: float  #: [m]
    depth: float  #: of the water, its mean [m]
    jets: tuple[Jet, ...]
    flow: float  #: all that comes in [m³/s]
    push: float  #: of all jets on water at rest [N]
    slow: float  #: speed at the wall with a crowd of fish [m/s]
    speed: float  #: … typical
    fast: float  #: … with smooth walls alone
    body_length: float  #: of its fish [m]
    limit: float  #: speed that they bear [m/s]
    swept: bool  #: whether a way out takes its water from the floor

    @property
    def wanted(self) -> float:
        """The typical speed from which solids are carried, as far as the fish bear it."""
        return min(CLEAN, self.limit / BAND)


def turning(system: Balance) -> dict[str, Turning]:
    """Each round fish tank of a solved build by its name; `Steady.turning` keeps it."""
    return {
        tank.si.name: _one(system, tank)
        for tank in system.build.of_kind("fish tank")
        if tank.si.shape in ("round", "cone-bottomed") and tank.si.count == 1
    }


def _one(system: Balance, tank: Vessel) -> Turning:
    t = tank.si
    ends = [(line, end) for line in system.pumped.values() for end in line.outlets if end.to == t.name]
    found = tuple(jet for line, end in ends if (jet := jet_of(line, end)))
    comes = max(system.vessels[t.name].peak, sum(end.flow for _, end in ends))
    depth = mean_depth(tank)
    push = sum(jet.push for jet in found)
    speeds = {
        band: float(np.abs(jets.turning_speed.si(push, comes, t.diameter, depth, resistance=c))) if depth > 0 else 0.0
        for band, c in jets.RESISTANCE.items()
    }
    length = smallest_length(system, t.name)
    return Turning(
        tank=t.name, diameter=t.diameter, depth=depth, jets=found, flow=comes, push=push, slow=speeds["high"], speed=speeds["typical"],
        fast=speeds["low"], body_length=length, limit=fish.swimming_limit.si(length),
        swept=any(
            f.line.si.source == t.name and not f.line.si.emergency and _intake(f.line.si) <= t.floor + _DEEP * t.working_depth
            for f in system.falling.values()
        ),
    )  # fmt: skip


def _intake(line) -> float:
    return line.lip if line.intake is None else line.intake


def mean_depth(tank: Vessel) -> float:
    """The water in a tank over its area [m]."""
    return water_volume.si(tank, tank.si.working_depth) / plan_area.si(tank)


def smallest_length(system: Balance, tank: str) -> float:
    """The length of the shortest fish of a tank [m], by their species' condition where it is known; of all, where it stands empty."""
    stocks = [s for load in system.tanks.values() if tank in load.vessels for s in load.stocks] or list(system.stocks.values())
    return min(float(fish.body_length.si(s.stock.body_mass, condition=s.species.condition or fish.swimming.PLUMP)) for s in stocks)


def jet_of(line: PumpedPipes, end: Outlet) -> Jet | None:
    """An end as a jet; None for one that falls straight down, or is dry."""
    p = end.pipe.si
    if end.flow <= 0 or (p.nozzle_bore is None and p.nozzle_angle is None):
        return None
    bore, count, speed = opening(p, end.flow)
    angle = p.nozzle_angle or 0.0
    return Jet(end.name, line.name, end.flow, bore, count, float(speed), angle, float(jets.jet_thrust.si(end.flow, speed, angle=angle)))


def opening(pipe: Bare, flow) -> tuple:
    """(bore, how many, speed of the water) of what a pipe ends in, nozzles or its own open end."""
    if pipe.nozzle_bore is None:
        return pipe.bore, 1.0, jets.jet_speed.si(flow, pipe.bore, coefficient=1.0)
    return pipe.nozzle_bore, pipe.nozzles, jets.jet_speed.si(flow, pipe.nozzle_bore, nozzles=pipe.nozzles)


def with_nozzles(line: PumpedPipes, end: str, bores: np.ndarray, nozzles: float) -> dict[str, np.ndarray]:
    """What each end of a pumped line brings with nozzles of each of these bores at one of them [m³/s], solved for all at once."""
    tree = line.tree
    changed = tuple(s.with_si(nozzle_bore=np.asarray(bores, float), nozzles=nozzles) if s.si.name == end else s for s in tree.si.stretches)
    solved = lines.flows.si(tree.with_si(stretches=changed), line.pump).si
    return dict(zip(solved.ends, solved.end_flow))


def by_bore(system: Balance, t: Turning, jet: Jet, bores: np.ndarray, *, along: bool = False) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(flow of the jet, push of all jets, all that comes in) with nozzles of each of these bores; `along` points all jets along the wall."""
    line = system.pumped[jet.line]
    ends = {end.name: end for end in line.outlets if end.to == t.tank}
    flows = with_nozzles(line, jet.name, bores, jet.nozzles)
    push, comes = np.zeros(len(bores)), np.full(len(bores), t.flow)
    for other in t.jets:
        flow, speed = np.full(len(bores), other.flow), other.speed
        if other.line == jet.line:
            flow = flows[other.name]
            speed = opening(ends[other.name].pipe.si, flow)[2]
        if other == jet:
            speed = jets.jet_speed.si(flow, bores, nozzles=jet.nozzles)
        push = push + jets.jet_thrust.si(flow, speed, angle=0.0 if along else other.angle)
    for name, end in ends.items():
        comes = comes + flows[name] - end.flow
    return flows[jet.name], push, comes


def turning_rows(t: Turning) -> list[tuple]:
    """A round tank's results for the review: column, kind, value, formula, source; none where no inlet points anywhere."""
    if not t.jets:
        return []
    momentum = "momentum, Oca and Masaló (2007); resistance, Prandtl (1927), Plew and others (2015)"
    return [
        ("push of its jets", FORCE, abs(t.push), "ρ Q v cos θ, on water at rest", "impulse"),
        ("turns at the wall", SPEED, t.speed, "push = what wall and floor hold back", momentum),
        ("at least", SPEED, t.slow, "with a crowd of fish", momentum),
        ("at most", SPEED, t.fast, "with smooth walls alone", momentum),
        ("its fish bear", SPEED, t.limit, "1.9 body lengths a second", "Primeswari and others; Parker and Barnes (2014)"),
    ]

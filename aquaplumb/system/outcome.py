"""What came of a run of `levels`: what spilled, ran dry, ran back, or was left too low. Bare SI numbers.

Findings and page 09 read a run by these, so that both have one idea of what is worth a word.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from aquaplumb.build.vessels import water_depth, water_volume
from aquaplumb.system.levels import Run, integral, longest_stretch
from aquaplumb.system.steady import solved
from aquaplumb.units import Bare

# All common practice, no source.
SPILL = 1e-3  # m³: a litre on the floor is worth a word
DRY = 60.0  # s of drawing air that a small pump bears
SAFE = 0.5  # of a fish tank's usual water: with less, the same fish stand twice as dense
STILL = 1e-6  # m³/s: less is no flow
GAP, WAIT = 1200.0, 7200.0  # s without new water that are worth a word: in a fish tank, in a bed
_DROP = 1e-6  # m³: where a spill begins
_PAUSE = 0.05  # of the usual flow: less is a pause
_LONGER = 1.2  # times the longest pause before it failed


@dataclass(frozen=True, slots=True)
class TankOutcome:
    """What came of one fish tank."""

    name: str
    lowest: float  #: depth [m]
    left: float  #: of its usual water, at the lowest
    gap: float  #: the longest time without new water [s]; 0 where it is not worth a word
    part: float  #: the flow after the failure over the usual


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a run, as far as it is worth a word."""

    stories: dict[str, Bare]  #: of all vessels, by name: bare `levels.VesselStory` records
    spills: list[Bare]  #: the stories of those that spill, first things first
    dry: dict[str, tuple[float, float]]  #: by pump: how long it draws air, from when on [s]
    tanks: list[TankOutcome]
    waits: dict[str, float]  #: by bed: the longest time without new water [s]


def spills(run: Run, since: float = 0.0) -> dict[str, tuple[float, float]]:
    """What goes over each rim after a moment [m³], and how long after it that begins [s]; only what is worth a word."""
    time, spilled = run.time, run.spilled
    found: dict[str, tuple[float, float]] = {}
    over = spilled - spilled[max(int(np.searchsorted(time, since)) - 1, 0)]
    for i in np.flatnonzero(over[-1] > SPILL):
        found[run.vessels[i]] = float(over[-1, i]), max(0.0, float(time[np.flatnonzero(over[:, i] > _DROP)[0]] - since))
    return found


def run_out(run: Run) -> float:
    """What ran out through a leak or a loose pipe [m³]; what went over a rim, or dries up everywhere, is none of it."""
    if not any(event.si.kind == "pipe comes off" or (event.si.kind == "evaporation" and event.si.where) for event in run.events):
        return 0.0
    held = run.volume.sum(axis=1) + run.pipes
    return float(held[0] - held[-1] - run.spilled[-1].sum())


def run_back(run: Run, line: str) -> dict[str, float]:
    """What runs back through one pumped line that stands still [m³], by the vessel that it leaves."""
    start = f"{line}, back from "
    return {
        name.removeprefix(start): -integral(run.time, np.minimum(run.flow[:, i], 0.0)) for i, name in enumerate(run.flows) if name.startswith(start)
    }  # fmt: skip


def harm(run: Run, vessel: str, fails: float, lasts: float | None) -> tuple[float, ...]:
    """How bad a failure is, to a litre spilled and to half a centimetre in a vessel; of equals that in which it rises furthest while it lasts."""
    highest, depth = run.vessel(vessel).si.highest, run.depth[:, run.vessels.index(vessel)]
    during = depth[(run.time >= fails) & (run.time <= (run.time[-1] if lasts is None else fails + lasts))]
    return (
        round(float(run.spilled[-1].sum()), 3),
        round(200 * highest),
        round(100 * float(during.max() - np.interp(fails, run.time, depth))),
    )


def harm_in_use(run: Run, vessel: str, fails: float, lasts: float | None) -> tuple[float, ...]:
    """The same of a failure in which pumps run on: after what spills come the minutes in which one draws air, and how little a fish tank keeps, to a twentieth."""
    spilled, *risen = harm(run, vessel, fails, lasts)
    came = outcome(run)
    return (
        spilled,
        sum(round(dry / 60) for dry, _ in came.dry.values()),
        -min((round(20 * tank.left) for tank in came.tanks), default=0),
        *risen,
    )


def safe_depth(tank, depth: float) -> float:
    """The depth [m] at which a fish tank holds as little as is safe; it stands at `depth` [m] while the system runs."""
    return water_depth.si(tank, SAFE * water_volume.si(tank, depth))


def outcome(run: Run, fails: float = 0.0, over: float | None = None) -> Outcome:
    """What spills, runs dry or falls short in a run, when something fails from one moment until another."""
    build, stories = run.build, {name: run.vessel(name).si for name in run.vessels}
    dry = {name: run.longest_dry(name) for name in run.pumps}
    tanks = []
    for tank in build.of_kind("fish tank"):
        name = tank.si.name
        working = water_volume.si(tank, solved(build).running_depth(name))
        gap, part = new_water(run, name, fails, over)
        left = water_volume.si(tank, stories[name].lowest) / max(working, 1e-9)
        tanks.append(TankOutcome(name=name, lowest=stories[name].lowest, left=left, gap=gap, part=part))
    waits = {bed.si.name: new_water(run, bed.si.name, fails, over)[0] for bed in build.growing}
    return Outcome(
        stories=stories, spills=sorted((s for s in stories.values() if s.spilled > SPILL), key=lambda s: s.first_spill),
        dry={name: told for name, told in dry.items() if told[0] > DRY}, tanks=tanks, waits={name: gap for name, gap in waits.items() if gap > WAIT},
    )  # fmt: skip


def without_water(run: Run, beds: list[str], fails: float) -> tuple[str, ...]:
    """Those of some beds to which no water comes for longer than is worth a word, after a failure."""
    usual = np.array([solved(run.build).vessels[name].mean for name in beds])
    brings = run.network.brings[:, [run.vessels.index(name) for name in beds]]
    least = (run.flow[run.time >= fails, : len(brings)] @ brings).min(axis=0)
    return tuple(name for name, low in zip(beds, least < _PAUSE * usual) if low and new_water(run, name, fails)[0] > WAIT)


def new_water(run: Run, vessel: str, fails: float = 0.0, over: float | None = None) -> tuple[float, float]:
    """(the longest time [s] in which no water comes into a vessel, what comes after the failure as a part of the usual)."""
    brings = run.network.brings[:, run.vessels.index(vessel)]
    flow = run.flow[:, : len(brings)] @ brings
    usual = solved(run.build).vessels[vessel].mean
    if usual < STILL:
        return 0.0, 1.0
    before, since = run.time < fails, run.time >= fails
    pause, gap = (longest_stretch(run.time[when], flow[when] < _PAUSE * usual)[0] for when in (before, since))
    after = since & (run.time <= (run.time[-1] if over is None else over))
    return (gap if gap > max(GAP, _LONGER * pause) else 0.0), _mean(run.time[after], flow[after]) / usual


def _mean(time, values) -> float:
    if len(time) > 1:
        return integral(time, values) / max(time[-1] - time[0], 1e-9)
    return float(values.mean() if len(values) else 0.0)

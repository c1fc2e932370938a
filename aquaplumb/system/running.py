"""What a build does while nothing fails: levels, flows, pumps and siphons over hours.

    seen = running(load("greenhouse"))
    seen.vessels["sump"].highest      # bare metres
    seen.pumps["bed loop"].starts     # in an hour

Where nothing switches (no float, timer or siphon) it is what the water settles to. Else it is read off the run of
`aquaplumb.system.drills` in which nothing fails, once its first hour is over; `early` is the same with siphons that
start as early as they may. Bare SI numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from aquaplumb.build import Build
from aquaplumb.system.drills import EARLY, drills
from aquaplumb.system.failures import NOTHING
from aquaplumb.system.flow_tables import FILM
from aquaplumb.system.levels import Run, integral
from aquaplumb.system.steady import solved
from aquaplumb.units import HOUR

_SETTLES = 1 * HOUR  # from there on a run goes round
_BLINK = 0.1  # s: what lasts shorter, as while a tee fills when a siphon starts, is no peak


@dataclass(frozen=True, slots=True)
class RunningVessel:
    """The depths of a vessel, and what goes over its rim."""

    lowest: float  #: [m]
    mean: float  #: [m]
    highest: float  #: [m]
    spilled: float  #: [m³/s]
    comes: float  #: into it at most [m³/s]


@dataclass(frozen=True, slots=True)
class RunningFlow:
    """The flow of a falling line, or out of an end of a pumped one."""

    mean: float  #: [m³/s]
    most: float  #: [m³/s]


@dataclass(frozen=True, slots=True)
class RunningSwitch:
    """A pump or a siphon at work."""

    share: float  #: part of the time that it runs, over whole rounds where the run has two starts
    starts: float  #: in a second, over the same [1/s]
    between: float = np.inf  #: two starts lie mostly so far apart [s]
    lowest: float = np.inf  #: depth of the vessel that it draws from, while it runs [m]
    dry: float = 0.0  #: the longest time that it draws air [s]


@dataclass(frozen=True, slots=True)
class Running:
    """What a build does while nothing fails."""

    vessels: dict[str, RunningVessel]  #: by name
    flows: dict[str, RunningFlow]  #: by name, a pumped end as "line › stretch"
    pumps: dict[str, RunningSwitch]  #: by the line's name
    siphons: dict[str, RunningSwitch]  #: by the line's name
    early: Running | None = None  #: with siphons that start as early as they may, where that is another thing

    @property
    def bands(self) -> tuple[Running, ...]:
        """It, and the same with siphons that start early."""
        return (self, self.early) if self.early else (self,)


def running(build: Build) -> Running:
    """A build while nothing fails; refused as `Endless` where its water cannot be followed.

    Source: balance of mass, see `aquaplumb.system.means` and `aquaplumb.system.levels`.
    """
    system = solved(build)
    if not len(system.network.siphons) and all(c.kind == "always" for c in system.network.controls):
        return _at_rest(system)
    every = drills(build)
    early = every.of(EARLY)
    return _read(every.of(NOTHING)[0].run, _read(early[0].run) if early else None)


def _at_rest(system) -> Running:
    floors = {name: vessel.si.floor for name, vessel in system.build.vessels.items()}
    depth = {name: min(v.level - floors[name], v.vessel.si.height) for name, v in system.vessels.items()}
    flows = {name: RunningFlow(f.mean, f.mean) for name, f in system.falling.items()}
    flows |= {f"{p.name} › {o.name}": RunningFlow(o.flow * p.duty, o.flow) for p in system.pumped.values() for o in p.outlets}
    dry = {name: math.inf if depth[p.source.si.name] < (p.line.si.inlet_depth or 0.0) + FILM else 0.0 for name, p in system.pumped.items()}
    return Running(
        vessels={name: RunningVessel(d, d, d, system.vessels[name].spilled, system.vessels[name].peak) for name, d in depth.items()}, flows=flows,
        pumps={name: RunningSwitch(p.duty, 0.0, lowest=depth[p.source.si.name], dry=dry[name]) for name, p in system.pumped.items()}, siphons={},
    )  # fmt: skip


def _read(run: Run, early: Running | None = None) -> Running:
    n, late = run.network, run.time >= _SETTLES
    time, depth, flow = run.time[late], run.depth[late], run.flow[late]
    lasts = np.diff(time)
    whole = float(lasts.sum())

    def mean(values) -> float:  # a step's flow and state hold until the next one
        return float((values[:-1] * lasts).sum() / whole)

    def switch(on, source: int | None = None, dry: float = 0.0) -> RunningSwitch:
        lowest = np.inf if source is None or not on.any() else float(depth[on, source].min())
        starts = np.flatnonzero(np.diff(on.astype(int)) > 0) + 1
        if len(starts) < 2:
            return RunningSwitch(mean(on), len(starts) / whole, np.inf, lowest, dry)
        rounds = slice(starts[0], starts[-1])  # whole ones, from start to start
        lasted = float(time[starts[-1]] - time[starts[0]])
        share, often = float((on[rounds] * lasts[rounds]).sum() / lasted), (len(starts) - 1) / lasted
        return RunningSwitch(share, often, float(np.median(np.diff(time[starts]))), lowest, dry)

    gone, on, runs = run.spilled[late], run.on[late], run.running[late]
    lasting = np.append(lasts >= _BLINK, True)
    every = np.eye(len(n.names))
    comes = np.maximum(flow, 0.0) @ every[np.concatenate([n.fall_to, n.end_to, n.way_to]).astype(int)]
    comes -= np.minimum(flow, 0.0) @ every[np.concatenate([n.fall_from, n.line_from[n.end_line], n.way_far]).astype(int)]
    return Running(
        vessels={
            name: RunningVessel(
                float(depth[:, i].min()), integral(time, depth[:, i]) / whole, float(depth[:, i].max()),
                float(gone[-1, i] - gone[0, i]) / whole, float(comes[lasting, i].max()),
            )
            for i, name in enumerate(run.vessels)
        },
        flows={name: RunningFlow(mean(flow[:, i]), float(flow[lasting, i].max())) for i, name in enumerate(run.flows)},
        pumps={name: switch(on[:, i], int(n.line_from[i]), run.longest_dry(name, after=_SETTLES)[0]) for i, name in enumerate(run.pumps)},
        siphons={name: switch(runs[:, i]) for i, name in enumerate(run.siphons)}, early=early,
    )  # fmt: skip

"""Water through time: every level, pump and siphon of a build for hours, and where water spills when something fails.

    run = simulate(my_build(), "12 h", events=[Event("power fails", at="1 h", until="9 h")])
    print(run)                       # what happened, vessel by vessel
    run.vessel("sump").highest       # a quantity
    run.frame()                      # the whole table: levels, flows, states

The lines are those of the steady notebooks: the same functions give each flow from the levels at its two ends.

What is counted, and how:

* A vessel's level is one level: no waves, no slope of the water in a bed. Above the rim water spills, at once.
* A pumped line's pipe fills before water comes out of it. With no check valve it empties when the pump stops, after
  it has siphoned back whatever vessel its open end is under water in, down to that end or to its break hole.
  A pump that stands still is taken to let water through freely.
* A siphon trickles over its lip as a weir until that flow is sure to fill it (Froude 2; ``starts="may"`` takes Froude
  1), then runs full, and stops where air gets in.
* A pump takes in air over the last 5 mm above its inlet depth: it then moves only what comes.
* A channel's film, and what is on its way down a tower or trickling media, is counted beside what stands at their foot
  (`aquaplumb.system.films`): it grows with the flow, and runs out when the pumps stop.
* Water that hangs in falling pipes is left out: a litre or two that fall in seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from aquaplumb.build import Build
from aquaplumb.system.events import KINDS, Event, changes_of
from aquaplumb.system.flow_tables import Network
from aquaplumb.system.line_flows import RUNS
from aquaplumb.system.record import Steps
from aquaplumb.system.steady import solved
from aquaplumb.system.stepping import Stepper
from aquaplumb.system.twins import Swap
from aquaplumb.tables import unknown
from aquaplumb.units import LENGTH, TIME, VOLUME, Columned, DesignError, Length, Number, Record, Time, si_value, takes_quantities

__all__ = ["KINDS", "Event", "Run", "VesselStory", "simulate"]

_MOST_STEPS, _LONGEST = 1_000_000, 366 * 86400.0


class VesselStory(Record):
    """What became of one vessel: its lowest and highest depth and when, and what went over its rim.

    lowest: Depths of water.
    highest: Depths of water.
    last: Depths of water.
    spilled (Volume):

    Source: see `simulate`.
    """

    name: str
    lowest: Length
    when_lowest: Time
    highest: Length
    when_highest: Time
    last: Length
    spilled: Number
    first_spill: Time | None = None


@dataclass(frozen=True, slots=True)
class Moment:
    """What is so at one moment of a run."""

    on: dict[str, bool]  #: whether each pump has power, by its line
    dry: dict[str, bool]  #: … and draws air
    running: dict[str, bool]  #: whether each siphon runs
    flow: dict[str, float]  #: of each line [m³/s], as `Run.flows` names them
    spilled: dict[str, float]  #: over each vessel's rim until then [m³]


def integral(time: np.ndarray, values: np.ndarray) -> float:
    """The area under some values over their times, by trapezoids."""
    return float(np.sum(np.diff(time) * (values[1:] + values[:-1])) / 2)


def longest_stretch(time, when) -> tuple[float, float]:
    """(the longest stretch of time [s] for which something is so, when it begins [s]). Source: none, it only counts."""
    best, began = (0.0, 0.0), None
    for moment, so in zip(time, when):
        if so and began is None:
            began = moment
        if began is not None:
            best = max(best, (float(moment - began), float(began)))
        if not so:
            began = None
    return best


def _column(name: str, *, of_vessels: bool = False) -> property:
    """A part of the record, a row a step; `of_vessels` without the tees of falling trees."""
    return property(lambda run: run._found.whole(name)[:, : run.network.count] if of_vessels else run._found.whole(name))


class Run(Columned):
    """A build's water through time. All arrays are bare SI, a row a step; `frame` shows them in a builder's units.

    `time` [s] has the moments; `depth` and `level` [m], `volume` and `spilled` [m³] a column a vessel; `flow` [m³/s] a
    column a line or pumped end, as `flows` names them; `on` and `dry` a column a pumped line; `running` a column a siphon.
    `balance` [m³] is the water that the arithmetic has lost or found.
    """

    def __init__(self, network: Network, events: tuple, found: Steps):
        n, own = network, slice(0, network.count)
        self.network, self.build, self.events = network, network.build, events
        self._found, self.balance = found, found.balance
        self.vessels, self.pumps, self.siphons = n.names[own], list(n.lines), [n.falls[i] for i in n.siphons]
        ways = [
            f"{n.lines[p]}, from {n.names[v]} over to {n.names[far]}" if across else f"{n.lines[p]}, back from {n.names[v]}"
            for p, v, far, across in zip(n.way_line, n.way_to, n.way_far, n.way_across)
        ]
        self.flows = [*n.falls, *[f"{n.lines[p]} › {name}" for p, name in zip(n.end_line, n.ends)], *ways]

    def at_twin(self, swap: Swap, events: list) -> Run:
        """The run in which the same happens to a vessel's twin."""
        return Run(self.network, tuple(events), swap.told(self._found))

    time, flow, on, dry, added, evaporated = (_column(name) for name in ("time", "flow", "on", "dry", "added", "air"))
    level, volume, spilled = (_column(name, of_vessels=True) for name in ("level", "volume", "spilled"))

    @property
    def pipes(self) -> np.ndarray:
        """The water in pumped pipes, siphons and tees [m³]."""
        return self._found.whole("pipes") + self._found.whole("volume")[:, self.network.count :].sum(axis=1)

    @property
    def depth(self) -> np.ndarray:
        """Of each vessel's water [m]."""
        return self.level - self.network.floor[: self.network.count]

    @property
    def running(self) -> np.ndarray:
        """Which siphons run."""
        return self._found.whole("siphon") == RUNS

    # --- one thing of it

    def _column(self, names: list, name: str, what: str) -> int:
        if name not in names:
            raise DesignError(unknown(f"list of {what}", name, names))
        return names.index(name)

    def vessel(self, name: str) -> VesselStory:
        """What became of a vessel."""
        i = self._column(self.vessels, name, "vessels")
        depth, spilled = self.depth[:, i], self.spilled[:, i]
        low, high = int(depth.argmin()), int(depth.argmax())
        spills = np.flatnonzero(spilled > 1e-6)
        return VesselStory.from_si(
            name=name, lowest=depth[low], when_lowest=self.time[low], highest=depth[high], when_highest=self.time[high], last=depth[-1],
            spilled=float(spilled[-1]), first_spill=float(self.time[spills[0]]) if len(spills) else None,
        )  # fmt: skip

    def depth_at(self, time: float) -> dict:
        """The depth of every vessel [m] at a moment [s], by name."""
        return {name: float(np.interp(time, self.time, self.depth[:, i])) for i, name in enumerate(self.vessels)}

    def state_at(self, time: float) -> Moment:
        """What is so at a moment [s]."""
        k = max(0, int(np.searchsorted(self.time, time + 1e-9, side="right")) - 1)
        return Moment(
            on=dict(zip(self.pumps, self.on[k])), dry=dict(zip(self.pumps, self.dry[k])), running=dict(zip(self.siphons, self.running[k])),
            flow=dict(zip(self.flows, self.flow[k])), spilled=dict(zip(self.vessels, self.spilled[k])),
        )  # fmt: skip

    def starts(self, name: str, *, after: float = 0.0) -> int:
        """How often a pump (by its line) or a siphon starts, after a moment [s]."""
        runs = self.on if name in self.pumps else self.running
        i = self._column(self.pumps if name in self.pumps else self.siphons, name, "pumps and siphons")
        return int(((np.diff(runs[:, i].astype(int)) > 0) & (self.time[1:] > after)).sum())

    def starts_per_hour(self, name: str) -> float:
        """Starts of a pump or siphon, over the whole run [1/h]."""
        return self.starts(name) / (self.time[-1] / 3600.0)

    def longest_dry(self, name: str, *, after: float = 0.0) -> tuple[float, float]:
        """(longest stretch of time [s] for which a pump draws air, when it begins [s]), after a moment [s]."""
        after_it = self.time >= after
        return longest_stretch(self.time, self.dry[:, self._column(self.pumps, name, "pumps")] & after_it)

    @property
    def litres_spilled(self):
        """All that went over rims, as a quantity."""
        return VOLUME.quantity(float(self.spilled[-1].sum()))

    # --- all of it

    def frame(self):
        """The whole table as a pandas DataFrame, in the build's units."""
        import pandas as pd

        from aquaplumb.units import FLOW

        units = self.build.units
        columns = {f"time [{TIME.unit(units)}]": TIME.shown(self.time, units)}
        columns |= {f"{v}: depth [{LENGTH.unit(units)}]": LENGTH.shown(self.depth[:, i], units) for i, v in enumerate(self.vessels)}
        columns |= {f"{f}: flow [{FLOW.unit(units)}]": FLOW.shown(self.flow[:, i], units) for i, f in enumerate(self.flows)}
        columns |= {f"{p}: pump on": self.on[:, i] for i, p in enumerate(self.pumps)}
        columns |= {f"{p}: draws air": self.dry[:, i] for i, p in enumerate(self.pumps)}
        columns |= {f"{s}: siphon runs": self.running[:, i] for i, s in enumerate(self.siphons)}
        columns |= {f"{v}: spilled [{VOLUME.unit(units)}]": VOLUME.shown(self.spilled[:, i], units) for i, v in enumerate(self.vessels)}
        return pd.DataFrame(columns)

    def __str__(self) -> str:
        units = self.build.units
        lines = [f"{TIME.text(self.time[-1], units)} of {self.build.title or self.build.name}" + "".join(f"; {e}" for e in self.events)]
        wide = max(map(len, self.vessels))
        told_of = [self.vessel(name).si for name in self.vessels]
        spans = [(LENGTH.text(v.lowest, units), LENGTH.text(v.highest, units)) for v in told_of]
        room = max(8, *(len(text) for span in spans for text in span))
        for name, v, (low, high) in zip(self.vessels, told_of, spans, strict=True):
            told = f"  {name:<{wide}}  {low:>{room}} to {high:<{room}} deep"
            if v.first_spill is not None:
                told += f"  SPILLS {VOLUME.text(v.spilled, units)}, from {TIME.text(v.first_spill, units)}"
            lines.append(told)
        for name in self.pumps:
            dry, when = self.longest_dry(name)
            told = f"  {name}: {self.starts(name)} start{'s' * (self.starts(name) != 1)}"
            lines.append(told + (f", DRAWS AIR for {TIME.text(dry, units)} from {TIME.text(when, units)}" if dry > 1 else ""))
        lines += [f"  {name}: runs {self.starts(name)} time{'s' * (self.starts(name) != 1)}" for name in self.siphons]
        return "\n".join(lines)

    __repr__ = __str__


@takes_quantities
def simulate(
    build: Build | Any,
    duration: Time,
    *,
    events: Sequence[Event] = (),
    step: Time | None = None,
    start: dict | None = None,
    starts: str = "sure",
    quick: bool = False,
) -> Run:
    """A build's water through time, from its levels while it runs.

    A vessel with an overflow starts where it pushes its water over the lip; all others, the sump too, at their working
    depths, which are what its owner sees while the pump runs; a bed with a siphon at its lip at most.

    build: A build, or a path or demo name as `load` takes it.
    duration (one value): Such as "12 h".
    events: What happens meanwhile.
    step (one value): The longest step. Steps follow the accuracy by themselves: halving them moves no level by more than 1 mm.
    start: Depths to start from by vessel, such as ``{"sump": "30 cm"}``, in place of these.
    starts: Siphons start at the flow at which they are "sure" to, or at that from which they "may".
    quick: Ten times as coarse, for a slider: a few millimetres in half a day.
    raises: Where an event names something that the build does not have, or a level cannot be.

    dV/dt of each vessel = what its lines bring − what they take; lines as in `lines`, `drains` and `pumps`.

    Source: balance of mass; each flow as its own function says; see `aquaplumb.system.stepping` for the method.

    >>> from aquaplumb.build import load
    >>> run = simulate(load("courtyard"), "3 h", events=[Event("power fails", at="1 h")])
    >>> run.starts("riser"), round(run.litres_spilled.m_as("L"), 3)
    (0, 0.0)
    """
    longest = None if step is None else TIME.quantity(step)
    return runs(build, TIME.quantity(duration), [tuple(events)], step=longest, start=start, starts=starts, quick=quick)[0]


def runs(
    build: Build,
    duration,
    stories: list,
    *,
    step=None,
    start: dict | list | None = None,
    starts: str | list[str] = "sure",
    quick: bool = False,
    rounds: list[bool] | None = None,
) -> list[Run]:
    """Several stories (lists of events) of one build side by side; as `simulate`, and much faster than one by one.

    `duration`, `start` and `starts` may be lists, one for each story. Of `rounds` a story says that it may end a little earlier: with
    the last whole round of what it does again and again.
    """
    times = duration if isinstance(duration, (list, tuple)) else [duration] * len(stories)
    seconds = [si_value(time, TIME, "the duration") for time in times]
    longest = None if step is None else si_value(step, TIME, "the step")
    for time in seconds:
        if not time > 0 or (longest is not None and not longest > 0):
            raise DesignError(
                f"the duration is {TIME.text(time)}"
                + (f", the step {TIME.text(longest)}" if longest is not None else "")
                + "; both have to be more than 0."
            )
        if time > _LONGEST or (longest is not None and time / longest > _MOST_STEPS):
            raise DesignError(
                f"{TIME.text(time)} are too many steps; take a run of up to a year, and a step that parts it in less than a million."
            )
    bands = list(starts) if isinstance(starts, (list, tuple)) else [starts] * len(stories)
    for band in bands:
        if band not in ("sure", "may"):
            raise DesignError(unknown("list of starts", band, ("sure", "may")))
    net = network(build)
    starting = start if isinstance(start, (list, tuple)) else [start] * len(stories)
    changes = [changes_of(net, tuple(events), time) for events, time in zip(stories, seconds)]
    usual = solved(build).means.start()
    first = [_start(net, usual, one or {}) for one in starting]
    stepper = Stepper(net, changes, seconds, starts=bands, start=first, longest=longest, quick=quick, rounds=rounds)
    return [Run(net, tuple(events), found) for events, found in zip(stories, stepper.run())]


def network(build: Build) -> Network:
    """The arrays of a build; made once."""
    return solved(build).network


def _start(net: Network, usual: np.ndarray, depths: dict) -> np.ndarray:
    volume = usual.copy()
    for name, depth in depths.items():
        if name not in net.build.vessels:
            raise DesignError(unknown("list of vessels", name, net.build.vessels))
        bare, vessel = si_value(depth, LENGTH, f"the depth of {name}"), net.build.vessels[name]
        if not 0 <= bare <= vessel.si.height:
            raise DesignError(f"{name} starts {LENGTH.text(bare)} deep; it lies between 0 and its height, {LENGTH.text(vessel.si.height)}.")
        volume[net.place(name)] = net.holds(net.place(name), bare)
    return volume

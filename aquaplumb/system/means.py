"""The water of a build over the hour: the levels at which as much leaves each vessel as comes into it.

The falling lines are those of `aquaplumb.system.line_flows`, so a line carries what the levels at its two ends drive
through it, whatever its kind or name. What switches is taken by its mean: a timer's pump brings its share of the hour;
a float's pump brings what comes, up to all that it can; a siphon lets go over its crest what it gets. The same with
single pumps on or off gives the most that a line has to carry. Bare SI numbers.

Each loop of vessels has one whose level its owner keeps up: one that a pump draws from which no float stops, where there
is one, a sump first, the lowest first. It is held at its working depth. Elsewhere water that goes over a rim is told as spilled.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from aquaplumb.fish import circulation
from aquaplumb.system.flow_tables import Network
from aquaplumb.system.settling import DesignLinks, Settled, Solver
from aquaplumb.system.states import FallingPipe, PumpedPipes

if TYPE_CHECKING:
    from aquaplumb.system.running import Running

_OFF, _TRICKLE = 0.05, 1e-6  # of a flow, m³/s: what balance and run may differ by
_APART, _OVER = 0.005, 1e-3  # m: … in a level; how far a spill stands over a rim


def off_as(flow, reckoned, shown):
    """A flow as many times what it is as the one shown is of the one reckoned; where that is next to nothing, as much more."""
    known = np.abs(reckoned) > _TRICKLE
    return flow * np.where(known, shown / np.where(known, reckoned, 1.0), 1.0) + np.where(known, 0.0, shown - reckoned)


@dataclass(frozen=True)
class Means:
    """A build's water when nothing changes but what switches by itself."""

    network: Network
    pumped: Mapping[str, PumpedPipes]  #: by name, in the network's order
    falling: Mapping[str, FallingPipe]  #: by name, in the network's order
    asked: Mapping[str, float] = field(default_factory=dict)  #: what comes into a vessel at most, whatever its lines bring [m³/s]
    usual: Settled = field(init=False)  #: over the hour
    comes_most: np.ndarray = field(init=False)  #: into each vessel, siphons running [m³/s]
    fall_most: np.ndarray = field(init=False)  #: of each falling line, as what it has to carry; its own siphon left out [m³/s]
    highest: np.ndarray = field(init=False)  #: level of each vessel [m]
    spilled_most: np.ndarray = field(init=False)  #: over each rim [m³/s]
    _solver: Solver = field(init=False, repr=False)

    def __post_init__(self):
        known, n = vars(self), self.network
        timers = np.array([circulation.duty.si(c.on, c.off) if c.kind == "timer" else 1.0 for c in n.controls])
        known["_solver"] = solver = Solver(n, self._links())
        usual, most = solver.reckoned(timers, dict(self.asked))
        known["usual"] = usual.of(0)
        known["comes_most"], known["fall_most"], known["highest"], known["spilled_most"] = (
            most.comes[0], most.fall[0], most.level[0], most.spilled[0],
        )  # fmt: skip

    @property
    def levels(self) -> dict[tuple, np.ndarray]:
        """The levels of each go at it, for others like it to begin from."""
        return self._solver.found

    def _links(self) -> DesignLinks:
        n, pipes = self.network, list(self.falling.values())

        def full(fall: int, level: np.ndarray) -> np.ndarray:
            if pipes[fall].whole:
                return np.array([pipes[fall].siphon_flow or 0.0])
            down = np.maximum(1e-3, n.lip[fall] - np.maximum(n.outlet[fall], level))
            return np.asarray(n.fallen.ways[fall].full(down, n.clear[fall]))

        ends = {(name, o.name): o.flow for name, p in self.pumped.items() for o in p.outlets}
        return DesignLinks(
            line_flow=np.array([[p.flow for p in self.pumped.values()]], float),
            end_flow=np.array([[ends[n.lines[line], end] for line, end in zip(n.end_line, n.ends)]], float),
            kept=(n.floor + np.array([v.si.working_depth for v in n.vessels]))[None], full=full,
            **{band: np.array([n.starts[band]], float) for band in ("sure", "may")},
        )  # fmt: skip

    def shown(self, seen: Running) -> Means:
        """The same with what a run shows in place of the most that was reckoned, where the two differ by more than they may.

        With one thing that switches, a run shows all that can come together; with several it shows some of it, and what the
        balance adds may come together on another day. No peak is below the mean of the hour: what runs dry is judged as it ran before.
        """
        n, bands = self.network, seen.bands
        alone = sum(c.kind != "always" for c in n.controls) + len(n.siphons) <= 1

        def of(reckoned, run, off) -> np.ndarray:
            found, own = reckoned.copy(), slice(0, len(run))  # a tee's level is its pipe's own matter
            differs = np.abs(run - reckoned[own]) > (off if np.isscalar(off) else off[own])
            found[own] = np.where(differs & (alone | (run > reckoned[own])), run, reckoned[own])
            return found

        def most(kind: str, names, value: str) -> np.ndarray:
            return np.array([max(getattr(getattr(one, kind)[name], value) for one in bands) for name in names])

        own = n.names[: n.count]
        spilled = most("vessels", own, "spilled")
        highest = n.floor[: n.count] + most("vessels", own, "highest") + np.where(spilled > 0, _OVER, 0.0)
        fall = of(self.fall_most, most("flows", n.falls, "most"), _OFF * np.abs(self.fall_most) + _TRICKLE)
        fall[n.siphons] = self.fall_most[n.siphons]  # what a siphon has to carry is what comes, not what it lets go
        comes = of(self.comes_most, most("vessels", own, "comes"), _OFF * self.comes_most + _TRICKLE)
        known = dict(
            comes_most=np.maximum(comes, self.usual.comes),
            highest=of(self.highest, highest, _APART), spilled_most=of(self.spilled_most, spilled, _TRICKLE), fall_most=np.maximum(fall, self.usual.fall),
        )  # fmt: skip
        other = object.__new__(Means)
        vars(other).update(vars(self) | known)
        return other

    def off_as(self, reckoned: Means, shown: Means) -> Means:
        """The same, its peaks off as much as those that a run has `shown` are off those `reckoned` of a build much like it."""
        known = {
            name: off_as(getattr(self, name), getattr(reckoned, name), getattr(shown, name))
            for name in ("comes_most", "fall_most", "spilled_most")
        } | {"highest": self.highest + shown.highest - reckoned.highest}
        other = object.__new__(Means)
        vars(other).update(vars(self) | known)
        return other

    def comes_without(self, pump: str, vessel: str) -> float:
        """What still comes into a vessel in the end when one pumped line stands still [m³/s]."""
        share = self.usual.share[None].copy()
        share[0, self.network.lines.index(pump)] = 0.0
        return float(self._solver.settled(share, self.usual.level[None], {}).comes[0, self.network.place(vessel)])

    def start(self) -> np.ndarray:
        """The water in each vessel from which a run sets out [m³]: all as while it runs.

        What runs over stands as high as that takes, all else at its working depth, a bed with a siphon at its lip at most.
        """
        n, solver = self.network, self._solver
        siphons = n.fall_from[n.siphons[n.meant]]
        runs_over = np.zeros(len(n.names), bool)
        runs_over[np.setdiff1d(n.fall_from, np.concatenate([n.line_from, siphons]))] = True
        runs_over &= ~solver.goes_round
        tee = float(n.area[-1])  # as the run has them
        settled = solver.volume(np.minimum(self.usual.level, n.rim)[None], tee)[0]
        full = solver.volume(np.minimum(solver.lowest_lip, n.rim)[None], tee)[0]
        beds = np.isin(np.arange(len(full)), siphons)
        return np.where(runs_over, np.maximum(solver.working, settled), np.where(beds, np.minimum(solver.working, full), solver.working))

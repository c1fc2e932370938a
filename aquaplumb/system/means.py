"""The water of a build over the hour: the levels at which as much leaves each vessel as comes into it.

The falling lines are those of `aquaplumb.system.line_flows`, so a line carries what the levels at its two ends drive
through it, whatever its kind or name. What switches is taken by its mean: a timer's pump brings its share of the hour;
a float's pump brings what comes, up to all that it can; a siphon lets go over its crest what it gets. The same with
single pumps on or off gives the most that a line has to carry. Bare SI numbers.

Each loop of vessels has one whose level its owner keeps up: one that a pump draws from which no float stops, where there
is one, a sump first, the lowest first. It is held at its working depth. Elsewhere water that goes over a rim is told as spilled.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from aquaplumb.build.vessels import water_volume
from aquaplumb.fish import circulation
from aquaplumb.plumbing.drains import WEIR
from aquaplumb.system.flow_tables import FILM, Network
from aquaplumb.system.line_flows import RUNS, TRICKLES, LineFlows
from aquaplumb.system.states import FallingPipe, PumpedPipes

if TYPE_CHECKING:
    from aquaplumb.system.running import Running

_ROUNDS = 400  # of Newton's steps; a build at rest takes some twenty
_NEAR, _STILL = 1e-12, 1e-15  # of the flows, and m³/s: what may be left over
_FIRST, _LEAST, _LONGEST, _FASTER = 30.0, 0.1, 1e9, 4.0  # s: the time that a step stands for at first, at least and at last; its growth
_LEAP, _WORSE = 0.05, 1.2  # m: the most that a level moves in a step; how much more may be left over after it
_FADES = 0.08  # m over which a pump's flow fades above the level that stops it: more than a step moves it; in the end it moves what comes
_TEE = 0.02  # m²: the area that a tee counts as having, so that its level moves no faster than its vessels'; where it settles does not depend on it
_OFF, _TRICKLE = 0.05, 1e-6  # of a flow, m³/s: what balance and run may differ by
_APART, _OVER = 0.005, 1e-3  # m: … in a level; how far a spill stands over a rim
_MANY = 4  # pumps that switch: up to so many are tried in every combination


@dataclass(slots=True)
class _Still:
    """No siphon runs or fills."""

    siphon: np.ndarray
    filling: bool = False


@dataclass(slots=True)
class _Places:
    """Where the rows of the falling lines stand, as `LineFlows` reads them."""

    fall_places: np.ndarray


@dataclass(frozen=True, slots=True)
class Settled:
    """Where the water settles with each pump on for a part of the time."""

    level: np.ndarray  #: of each vessel; over its rim as if its walls went on [m]
    fall: np.ndarray  #: flow of each falling line, below 0 where it runs the other way [m³/s]
    share: np.ndarray  #: part of the time that each pump runs
    comes: np.ndarray  #: into each vessel [m³/s]
    spilled: np.ndarray  #: over each rim [m³/s]
    left: np.ndarray  #: what each vessel still gains [m³/s]: nothing where the water settles


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
    _solver: _Solver = field(init=False, repr=False)

    def __post_init__(self):
        known, n = vars(self), self.network
        known["_solver"] = solver = _Solver(n, self.pumped, self.falling)
        timers = [circulation.duty.si(c.on, c.off) if c.kind == "timer" else 1.0 for c in n.controls]
        usual = solver.settled(np.array(timers), solver.start(), {})
        if n.meant.any() and solver.let_go(usual, self._most(solver, usual, {})[1]):
            usual = solver.settled(np.array(timers), usual.level, {})
        if self.asked:
            most = self._most(solver, usual, {})
            part = {v: usual.comes[n.place(v)] / most[0][n.place(v)] if most[0][n.place(v)] > 0 else 1.0 for v in self.asked}
            usual = solver.settled(np.array(timers), usual.level, {v: flow * part[v] for v, flow in self.asked.items()})
        known["usual"] = usual
        known["comes_most"], known["fall_most"], known["highest"], known["spilled_most"] = self._most(solver, usual, dict(self.asked))

    def _most(self, solver: _Solver, usual: Settled, asked: dict) -> list[np.ndarray]:
        """Into each vessel, through each falling line, highest levels, over each rim: the most of all that pumps and siphons may do together."""
        n = self.network
        switched = [p for p, c in enumerate(n.controls) if c.kind != "always" and (usual.share[p] < 1 or c.kind == "timer")]
        tried = []
        for on in _combinations(len(switched)):
            share, level = usual.share.copy(), usual.level.copy()
            share[switched] = on
            for p in np.flatnonzero(solver.floats & (share < 1)):  # its vessel fills up to where the float starts the pump
                level[n.line_from[p]] = max(level[n.line_from[p]], n.line_floor[p] + n.controls[p].on_depth)
            one = solver.settled(share, level, asked, floats=False)
            if (burst := solver.siphon_burst(one)).any():
                one = solver.settled(share, one.level, asked, burst=burst, floats=False)
            tried.append(one)
        every = [usual, *tried] if not asked else tried
        return [np.max([getattr(one, name) for one in every], axis=0) for name in ("comes", "fall", "level", "spilled")]

    def shown(self, seen: Running) -> Means:
        """The same with what a run shows in place of the most that was reckoned, where the two differ by more than they may.

        With one thing that switches, a run shows all that can come together; with several it shows some of it, and what the
        balance adds may come together on another day.
        """
        n, bands = self.network, [one for one in (seen, seen.early) if one]
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
        known = dict(
            comes_most=of(self.comes_most, most("vessels", own, "comes"), _OFF * self.comes_most + _TRICKLE),
            highest=of(self.highest, highest, _APART), spilled_most=of(self.spilled_most, spilled, _TRICKLE), fall_most=fall,
        )  # fmt: skip
        other = object.__new__(Means)
        vars(other).update(vars(self) | known)
        return other

    def comes_without(self, pump: str, vessel: str) -> float:
        """What still comes into a vessel in the end when one pumped line stands still [m³/s]."""
        share = self.usual.share.copy()
        share[self.network.lines.index(pump)] = 0.0
        return float(self._solver.settled(share, self.usual.level, {}).comes[self.network.place(vessel)])

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
        settled = solver.volume(np.minimum(self.usual.level, n.rim), tee)
        full = solver.volume(np.minimum(solver.lowest_lip, n.rim), tee)
        beds = np.isin(np.arange(len(full)), siphons)
        return np.where(runs_over, np.maximum(solver.working, settled), np.where(beds, np.minimum(solver.working, full), solver.working))


def _combinations(count: int):
    if count <= _MANY:
        return itertools.product((1.0, 0.0), repeat=count)
    alone = np.eye(count)
    return [*np.ones((1, count)), *np.zeros((1, count)), *alone, *(1.0 - alone)]


@dataclass(frozen=True, slots=True)
class _Now:
    """The balance of all vessels at some levels."""

    level: np.ndarray  #: [m]
    give: np.ndarray  #: 1 / area of the water; 0 where the level is held
    net: np.ndarray  #: what each vessel gains [m³/s]; 0 where it is held
    slopes: np.ndarray  #: of that against each level
    fall: np.ndarray  #: flow of each falling line [m³/s]
    part: np.ndarray  #: of the time that each pump runs
    spilled: np.ndarray  #: over each rim [m³/s]
    busy: float  #: the largest flows [m³/s]


class _Solver:
    """Newton's method on the levels, made calm by the time that the water takes (pseudo-transient continuation)."""

    def __init__(self, network: Network, pumped: Mapping[str, PumpedPipes], falling: Mapping[str, FallingPipe]):
        n, self.net, self.falling = network, network, list(falling.values())
        self.still = _Still(np.full((1, len(n.siphons)), TRICKLES))
        self.flows = LineFlows(n, self.still, 1)
        self.places = _Places(n.fallen.places(n.clear[None]) if n.falls else np.zeros((1, 0), int))
        self.flows.inputs = self.places
        self.vessels, self.tees = n.vessels, np.arange(len(n.names)) >= n.count
        self.volume_at = water_volume.si
        self.working = np.array([water_volume.si(v, v.si.working_depth) for v in self.vessels])
        ends = {(name, o.name): o.flow for name, p in pumped.items() for o in p.outlets}
        self.end_flow = np.array([ends[n.lines[line], end] for line, end in zip(n.end_line, n.ends)], float)
        self.line_flow = np.array([p.flow for p in pumped.values()], float)
        self.floats = np.array([c.kind == "float" for c in n.controls], bool)
        # A pump's flow fades above the level at which it stops.
        self.stop = n.line_floor + np.array([c.off_depth if c.kind == "float" else 0.0 for c in n.controls])
        self.stop = np.where(self.floats, self.stop, n.inlet)
        self.goes_round = np.zeros(len(n.names), bool)  # vessels of a loop in which every pump waits for its float
        self.held = self._held()
        self.edge = 4.0 * np.sqrt(n.area) * WEIR
        self.round_places = self.rounds = np.zeros(0, int)  # siphons that are sure to start, so that they fill and empty their beds
        every = np.eye(len(n.names))
        self.starts_at, self.ends_in, self.drawn_from = every[:, n.fall_from], every[:, n.fall_to], every[:, n.line_from]
        self.lifts_from = self.drawn_from * self.line_flow
        by_line = np.eye(len(n.lines))[n.end_line] if n.lines else np.zeros((0, 0))
        self.lifts_to = every[:, n.end_to] @ (by_line * self.end_flow[:, None]) if n.lines else np.zeros((len(every), 0))
        self.lowest_lip = np.full(len(n.names), np.inf)
        np.minimum.at(self.lowest_lip, n.fall_from, n.lip)

    def _held(self) -> np.ndarray:
        """One vessel of each loop: one that a pump draws from which no float stops, if there is one."""
        n = self.net
        links = [*zip(n.fall_from, n.fall_to), *zip(n.line_from[n.end_line], n.end_to)]
        loop = np.arange(len(n.names))
        for _ in n.names:
            for a, b in links:
                loop[[a, b]] = min(loop[a], loop[b])
        held = np.zeros(len(n.names), bool)
        free = set(n.line_from[~self.floats].tolist())
        rank = {v: (v not in free, self.vessels[v].si.kind != "sump", n.floor[v]) for v in n.line_from.tolist()}
        for one in set(loop[list(rank)].tolist()) if rank else ():
            base = min((v for v in rank if loop[v] == one), key=rank.__getitem__)
            held[base] = True
            self.goes_round |= (loop == one) & (base not in free)
        return held

    def volume(self, level: np.ndarray, tee: float = _TEE) -> np.ndarray:
        """The water in each vessel at a level, and in each tee, of this area [m²]."""
        depths, count = level - self.net.floor, self.net.count
        own = [self.volume_at(v, depth) for v, depth in zip(self.vessels[:count], depths)]
        return np.array([*own, *(depths[count:] * tee)])

    def start(self) -> np.ndarray:
        """Levels to begin from: what is held at its working depth, what runs over at its lip, all else at its working depth."""
        n = self.net
        working = n.floor + np.array([v.si.working_depth for v in self.vessels])
        return np.where(self.held | ~np.isfinite(self.lowest_lip), working, np.clip(self.lowest_lip, n.floor, n.rim))

    def let_go(self, usual: Settled, most: np.ndarray) -> bool:
        """Take siphons that get enough at most to start as going round: on the mean they carry the more, the higher between vent and lip."""
        n = self.net
        starts = [(f, i) for i, f in enumerate(n.siphons) if n.meant[i] and most[f] >= n.starts["sure"][i]]
        if not starts:
            return False
        self.rounds, self.round_places = (np.array(column) for column in zip(*starts))
        self.round_vent = n.vent[[i for _, i in starts]]
        self.round_depth = np.maximum(n.lip[self.rounds] - self.round_vent, 1e-3)
        self.round_flow = np.array([self.full_flow(f, usual) for f in self.rounds])
        return True

    def full_flow(self, fall: int, usual: Settled) -> float:
        """What a siphon carries with its bed full [m³/s]."""
        n, pipe = self.net, self.falling[fall]
        if pipe.whole:
            return pipe.siphon_flow or 0.0
        bottom = max(n.outlet[fall], usual.level[n.fall_to[fall]])
        return float(n.fallen.ways[fall].full(max(1e-3, n.lip[fall] - bottom), n.clear[fall]))

    def siphon_burst(self, found: Settled) -> np.ndarray:
        """What siphons that let go bring to each vessel beyond what they get [m³/s]."""
        n = self.net
        burst = np.zeros(len(n.names))
        for i, f in enumerate(n.siphons):
            if n.meant[i] and found.fall[f] >= n.starts["may"][i]:
                burst[n.fall_to[f]] += max(0.0, self.full_flow(f, found) - found.fall[f])
        return burst

    def settled(self, share: np.ndarray, level: np.ndarray, asked: dict, *, burst=None, floats: bool = True) -> Settled:
        """Where the water settles, from these levels on. Without `floats` their vessels keep their levels, and `share` is what it is."""
        n = self.net
        given = np.zeros(len(n.names)) if burst is None else burst.copy()
        takes = np.ones(len(n.names))  # of what its lines bring
        for name, flow in asked.items():
            takes[n.place(name)], given[n.place(name)] = 0.0, flow
        fixed = self.held.copy()
        if not floats:
            fixed[n.line_from[self.floats]] = True
        volume = self.volume(level) + np.maximum(level - n.rim, 0.0) * n.area
        whole = np.eye(len(volume))
        step, now = _FIRST, self._balance(*self._levels(volume, fixed), share, fixed, given, takes)
        for _ in range(_ROUNDS):
            left = np.abs(now.net).max(initial=0.0)
            if left <= _NEAR * now.busy + _STILL:
                break
            change = np.linalg.solve(whole / step - now.slopes * now.give, now.net)
            moved = np.abs(change * now.give).max(initial=0.0)
            change = change * min(1.0, _LEAP / moved) if moved > 0 else change
            ahead = np.maximum(volume + change, 0.0)  # none is emptier than dry
            then = self._balance(*self._levels(ahead, fixed), share, fixed, given, takes)
            worse = np.abs(then.net).max(initial=0.0) / left
            if worse > _WORSE and step > _LEAST:
                step = max(step / _FASTER**2, _LEAST)
                continue
            if worse > 0.5 and now.net @ then.net < 0:  # it swings to and fro, as the root law of a joint does about no difference
                step = max(step / _FASTER**2, _LEAST)
            elif worse <= 1.01 and moved <= _LEAP:
                step = min(step * _FASTER, _LONGEST)
            volume, now = ahead, then
        level, flow, part, spilled = now.level, now.fall, now.part, now.spilled
        comes = self._comes(flow, part, given, takes)
        return Settled(level=level, fall=flow, share=part, comes=comes, spilled=spilled, left=now.net)

    def _levels(self, volume: np.ndarray, fixed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        n = self.net
        depth, give = n.depths(volume)
        over = np.maximum(volume - n.full, 0.0) / n.area
        if n.count < len(n.names):
            depth[n.count :], over[n.count :], give = volume[n.count :] / _TEE, 0.0, np.where(self.tees, 1 / _TEE, give)
        return n.floor + depth + over, np.where(fixed, 0.0, give)

    def _balance(self, level, give, share, fixed, given, takes) -> _Now:
        n, falls = self.net, len(self.net.falls)
        flow, rise, drop = (np.zeros((1, len(self.flows.start_of))) for _ in range(3))
        full = level[n.fall_from[self.rounds]] > n.lip[self.rounds]
        self.still.siphon[0, self.round_places] = np.where(full, RUNS, TRICKLES)
        if falls:
            wet = (level[None] - n.floor) * (1 / FILM)
            self.flows.fallen(level[None], flow, rise, drop, wet if wet.min() < 1.0 else None)
        flow, rise, drop = flow[0, :falls], rise[0, :falls], drop[0, :falls]
        if len(self.rounds):
            slope = self.round_flow / self.round_depth
            mean = slope * np.maximum(level[n.fall_from[self.rounds]] - self.round_vent, 0.0)
            flow[self.rounds] = np.where(full, flow[self.rounds], mean)
            rise[self.rounds] = np.where(full, rise[self.rounds], np.where(mean > 0, slope, 0.0))
            drop[self.rounds] = np.where(full, drop[self.rounds], 0.0)
        # What a line does to the vessels at its two ends; into some nothing comes but what is asked for.
        forth = flow > 0
        moves = self.ends_in * np.where(forth, takes[n.fall_to], 1.0) - self.starts_at * np.where(forth, 1.0, takes[n.fall_from])
        net = given + moves @ flow
        slopes = (moves * rise) @ self.starts_at.T + (moves * drop) @ self.ends_in.T
        part = share
        if n.lines:
            fade = np.where(fixed[n.line_from], 1.0, np.minimum(np.maximum((level[n.line_from] - self.stop) / _FADES, 0.0), 1.0))
            part = share * fade
            lifts = self.lifts_to * takes[:, None] - self.lifts_from
            net += lifts @ part
            if fade.min() < 1.0:
                tilt = np.where(fade > 0, share / _FADES, 0.0) * (fade < 1)
                slopes += (lifts * tilt) @ self.drawn_from.T
        over = np.maximum(level - n.rim, 0.0)
        spilled = self.edge * over**1.5
        net -= spilled
        if over.any():
            slopes -= np.diag(1.5 * self.edge * np.sqrt(over))
        slopes[fixed] = 0.0
        busy = np.abs(flow).max(initial=0.0) + (part * self.line_flow).max(initial=0.0) + np.abs(given).max(initial=0.0)
        return _Now(level, give, np.where(fixed, 0.0, net), slopes, flow, part, spilled, float(busy))

    def _comes(self, flow, part, given, takes) -> np.ndarray:
        into = self.ends_in @ np.maximum(flow, 0.0) + self.starts_at @ np.maximum(-flow, 0.0)
        return given + takes * (into + (self.lifts_to @ part if self.net.lines else 0.0))

"""The levels at which as much leaves each vessel as comes into it, for one design or for thousands side by side.

Newton's method on the levels, made calm by the time that the water takes (pseudo-transient continuation); each design
has a step of its own and is left alone once it has settled. Arrays are [designs, vessels], [designs, lines] and so on.
The links are those of `aquaplumb.system.line_flows`, with what each design makes of them in `DesignLinks`. Bare SI numbers.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np

from aquaplumb.build.vessels import water_volume
from aquaplumb.plumbing.drains import WEIR
from aquaplumb.system.flow_tables import FILM, Network
from aquaplumb.system.line_flows import RUNS, TRICKLES, LineFlows

_ROUNDS = 400  # of Newton's steps; a build at rest takes some twenty
_NEAR, _NEAR_MANY, _STILL = 1e-12, 1e-10, 1e-15  # of the flows, of those of many designs, and m³/s: what may be left over
_FIRST, _LEAST, _LONGEST, _FASTER = 30.0, 0.1, 1e9, 4.0  # s: the time that a step stands for at first, at least and at last; its growth
_KNOWN = 1e6  # s: the first step where the levels to begin from are nearly right
_LEAP, _WORSE = 0.05, 1.2  # m: the most that a level moves in a step; how much more may be left over after it
_FADES = 0.08  # m over which a pump's flow fades above the level that stops it: more than a step moves it; in the end it moves what comes
_TEE = 0.02  # m²: the area that a tee counts as having, so that its level moves no faster than its vessels'; where it settles does not depend on it
_MANY = 4  # pumps that switch: up to so many are tried in every combination
_BESIDE = 5e-3  # m: emergency overflows whose lips differ by no more run together; common practice, no source


@dataclass(frozen=True, slots=True)
class DesignLinks:
    """What each design makes of the lines: [designs, …]."""

    line_flow: np.ndarray  #: of each pumped line while its pump runs [m³/s]
    end_flow: np.ndarray  #: … out of each of its ends [m³/s]
    kept: np.ndarray  #: level of each vessel at its working depth [m]
    sure: np.ndarray  #: flow at which each siphon is taken to start [m³/s]
    may: np.ndarray  #: … from which its burst is reckoned with [m³/s]
    full: Callable[[int, np.ndarray], np.ndarray]  #: what a falling line carries with its bed full, against the level that it ends in
    over: np.ndarray | None = None  #: what each falling line's mouth carries, then its full pipe, over what the tables say


@dataclass(slots=True)
class _Still:
    """The siphons: those that go round run while their beds are full."""

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

    def of(self, row: int) -> Settled:
        """One design's."""
        return Settled(**{f.name: getattr(self, f.name)[row] for f in fields(self)})


@dataclass(frozen=True, slots=True)
class Most:
    """The most of all that pumps and siphons may do together."""

    comes: np.ndarray  #: into each vessel [m³/s]
    fall: np.ndarray  #: of each falling line, its own siphon left out [m³/s]
    level: np.ndarray  #: highest of each vessel [m]
    spilled: np.ndarray  #: over each rim [m³/s]


def _combinations(count: int):
    if count <= _MANY:
        return itertools.product((1.0, 0.0), repeat=count)
    alone = np.eye(count)
    return [*np.ones((1, count)), *np.zeros((1, count)), *alone, *(1.0 - alone)]


@dataclass(slots=True)
class _Now:
    """The balance of all vessels at some levels."""

    level: np.ndarray  #: [m]
    give: np.ndarray  #: 1 / area of the water; 0 where the level is held
    net: np.ndarray  #: what each vessel gains [m³/s]; 0 where it is held
    slopes: np.ndarray  #: of that against each level
    fall: np.ndarray  #: flow of each falling line [m³/s]
    part: np.ndarray  #: of the time that each pump runs
    lifted: np.ndarray  #: what pumps bring to each vessel [m³/s]
    spilled: np.ndarray  #: over each rim [m³/s]
    busy: np.ndarray  #: the largest flows [m³/s]

    def put(self, rows, other: _Now, mine) -> None:
        """Take in some designs of another."""
        for field in fields(self):
            getattr(self, field.name)[rows] = getattr(other, field.name)[mine]


def loads(network: Network, emergency: np.ndarray, comes, fall, spilled) -> np.ndarray:
    """What each falling line has to carry [..., lines], of the most that comes, falls and spills: an emergency overflow all that
    comes, or its part of that where several lie side by side (a full pipe's flow goes by the power 2.5 of its bore); any other what would keep those above it dry, a stretch of a tree what it gets."""
    n = network
    found = np.array(fall, float)
    for i in range(len(n.falls)):
        mine = n.fall_from == n.fall_from[i]
        if n.fall_from[i] >= n.count:
            continue
        if emergency[i]:
            beside = mine & emergency & (abs(n.lip - n.lip[i]) <= _BESIDE)
            found[..., i] = comes[..., n.fall_from[i]] * n.bore[i] ** 2.5 / (n.bore[beside] ** 2.5).sum()
            continue
        usual = mine & ~emergency
        rest = fall[..., mine & emergency & (n.lip > n.lip[i])].sum(axis=-1) + spilled[..., n.fall_from[i]]
        whole = fall[..., usual].sum(axis=-1)
        part = np.where(whole > 0, fall[..., i] / np.where(whole > 0, whole, 1.0), 1.0 / usual.sum())
        found[..., i] = fall[..., i] + rest * part
    return found


class Solver:
    """The balance of a network, for the designs of some `DesignLinks`."""

    def __init__(self, network: Network, links: DesignLinks):
        n, self.net, self.links = network, network, links
        self.size = len(links.kept)
        self.still, self.siphons = _Still(np.full((self.size, len(n.siphons)), TRICKLES)), np.zeros((self.size, len(n.siphons)), bool)
        self.flows = LineFlows(n, self.still, 1)
        self.flows.inputs = _Places(n.fallen.places(n.clear[None]) if n.falls else np.zeros((1, 0), int))
        if links.over is not None:
            self.flows.tables = self._other_tables
        self.vessels, self.tees = n.vessels, np.arange(len(n.names)) >= n.count
        self.working = np.array([water_volume.si(v, v.si.working_depth) for v in self.vessels])
        self.floats = np.array([c.kind == "float" for c in n.controls], bool)
        # A pump's flow fades above the level at which it stops.
        self.stop = n.line_floor + np.array([c.off_depth if c.kind == "float" else 0.0 for c in n.controls])
        self.stop = np.where(self.floats, self.stop, n.inlet)
        self.goes_round = np.zeros(len(n.names), bool)  # vessels of a loop in which every pump waits for its float
        self.held = self._held()
        self.edge = 4.0 * np.sqrt(n.area) * WEIR
        every = np.eye(len(n.names))
        self.starts_at, self.ends_in, self.drawn_from = every[n.fall_from], every[n.fall_to], every[n.line_from]
        self.lifts_to = every[n.end_to]
        self.moves = self.ends_in - self.starts_at
        # How the gain of each vessel answers to each level, by what each line's flow does to its start's level and to its end's.
        self.by_rise, self.by_drop = (
            np.einsum("fv,fw->fvw", self.moves, at).reshape(len(n.falls), len(every) ** 2) for at in (self.starts_at, self.ends_in)
        )
        self.lowest_lip = np.full(len(n.names), np.inf)
        np.minimum.at(self.lowest_lip, n.fall_from, n.lip)
        depth = n.lip[n.siphons] - n.vent if n.falls else np.zeros(0)
        self.found: dict[tuple, np.ndarray] = {}  # the levels of each go, by its name: for others like it to begin from
        self.near: dict[tuple, np.ndarray] = {}
        self.round_depth, self.round_flow = np.maximum(depth, 1e-3), np.zeros((self.size, len(n.siphons)))

    def _other_tables(self, head, places):
        flow, slope = self.net.fallen(head, places)
        return flow * self._over, slope * self._over

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
        """The water in each vessel at levels [designs, vessels], and in each tee, of this area [m²]."""
        depths, count = level - self.net.floor, self.net.count
        own = [self.net.holds(i, depths[:, i]) for i in range(count)]
        return np.column_stack([*own, *(depths[:, count:] * tee).T])

    def start(self) -> np.ndarray:
        """Levels to begin from: what is held at its working depth, what runs over at its lip, all else at its working depth."""
        n = self.net
        return np.where(self.held | ~np.isfinite(self.lowest_lip), self.links.kept, np.clip(self.lowest_lip, n.floor, n.rim))

    # --- the hour, and the most

    def reckoned(self, timers: np.ndarray, asked: dict, near: dict | None = None) -> tuple[Settled, Most]:
        """(the usual hour, the most at any time), with timers' pumps on for their shares; `near` has levels `found` for a build much like it."""
        n, share, self.near = self.net, np.tile(timers, (self.size, 1)), near or {}
        usual = self.settled(share, self.start(), {}, go=("usual",))
        if n.meant.any() and self._let_go(usual, self._most(usual, {}, "at first").fall):
            usual = self.settled(share, usual.level, {}, go=("let go",))
        if asked:
            most, comes = self._most(usual, {}, "asked").comes, usual.comes
            part = {v: comes[:, n.place(v)] / most[:, n.place(v)] if most[:, n.place(v)] > 0 else 1.0 for v in asked}
            usual = self.settled(share, usual.level, {v: flow * part[v] for v, flow in asked.items()})
        return usual, self._most(usual, dict(asked), "most")

    def _most(self, usual: Settled, asked: dict, go: str) -> Most:
        n = self.net
        kinds = np.array([c.kind for c in n.controls])
        goes = (kinds != "always") & ((usual.share < 1) | (kinds == "timer"))
        switched = np.flatnonzero(goes.any(axis=0))
        tried = []
        for on in _combinations(len(switched)):
            share, level = usual.share.copy(), usual.level.copy()
            share[:, switched] = np.where(goes[:, switched], on, share[:, switched])
            for p in np.flatnonzero(self.floats):  # its vessel fills up to where the float starts the pump
                high, at = n.line_floor[p] + n.controls[p].on_depth, n.line_from[p]
                level[:, at] = np.where(share[:, p] < 1, np.maximum(level[:, at], high), level[:, at])
            this = (go, *switched.tolist(), *on)
            one = self.settled(share, level, asked, floats=False, go=this)
            if (burst := self._burst(one)).any():
                one = self.settled(share, one.level, asked, burst=burst, floats=False, go=(*this, "burst"))
            tried.append(one)
        every = [usual, *tried] if not asked else tried
        return Most(**{field.name: np.max([getattr(one, field.name) for one in every], axis=0) for field in fields(Most)})

    def _let_go(self, usual: Settled, most: np.ndarray) -> bool:
        """Take siphons that get enough at most to start as going round: on the mean they carry the more, the higher between vent and lip."""
        n = self.net
        self.siphons = n.meant & (most[:, n.siphons] >= self.links.sure)
        for i, f in enumerate(n.siphons.tolist()):
            if self.siphons[:, i].any():
                self.round_flow[:, i] = self.links.full(f, usual.level[:, n.fall_to[f]])
        return bool(self.siphons.any())

    def _burst(self, found: Settled) -> np.ndarray:
        """What siphons that let go bring to each vessel beyond what they get [m³/s]."""
        n = self.net
        burst = np.zeros_like(found.level)
        for i, f in enumerate(n.siphons.tolist()):
            if n.meant[i] and (lets := found.fall[:, f] >= self.links.may[:, i]).any():
                more = np.maximum(0.0, self.links.full(f, found.level[:, n.fall_to[f]]) - found.fall[:, f])
                burst[:, n.fall_to[f]] += np.where(lets, more, 0.0)
        return burst

    # --- Newton

    def settled(self, share: np.ndarray, level: np.ndarray, asked: dict, *, burst=None, floats: bool = True, go: tuple = ()) -> Settled:
        """Where the water settles, from these levels on. Without `floats` their vessels keep their levels, and `share` is what it is."""
        n = self.net
        given = np.zeros(level.shape) if burst is None else burst.copy()
        takes = np.ones(len(n.names))  # of what its lines bring
        for name, flow in asked.items():
            takes[n.place(name)], given[:, n.place(name)] = 0.0, flow
        fixed = self.held.copy()
        if not floats:
            fixed[n.line_from[self.floats]] = True
        known = go in self.near
        if known:
            level = np.where(fixed, level, self.near[go])
        volume = self.volume(level) + np.maximum(level - n.rim, 0.0) * n.area
        every, whole, near = np.arange(self.size), np.eye(level.shape[1]), _NEAR if self.size == 1 else _NEAR_MANY
        step, now = np.full(self.size, _KNOWN if known else _FIRST), self._balance(every, volume, share, fixed, given, takes)
        for _ in range(_ROUNDS):
            left = np.abs(now.net).max(axis=1, initial=0.0)
            rows = np.flatnonzero(left > near * now.busy + _STILL)
            if not len(rows):
                break
            left, own, give, net = left[rows], step[rows], now.give[rows], now.net[rows]
            change = np.linalg.solve(whole / own[:, None, None] - now.slopes[rows] * give[:, None, :], net[:, :, None])[:, :, 0]
            moved = np.abs(change * give).max(axis=1, initial=0.0)
            change *= np.minimum(1.0, _LEAP / np.maximum(moved, 1e-300))[:, None]
            ahead = np.maximum(volume[rows] + change, 0.0)  # none is emptier than dry
            then = self._balance(rows, ahead, share, fixed, given, takes)
            worse = np.abs(then.net).max(axis=1, initial=0.0) / left
            back = (worse > _WORSE) & (own > _LEAST)
            # Others swing to and fro, as the root law of a joint does about no difference.
            shorter = back | ((worse > 0.5) & ((net * then.net).sum(axis=1) < 0))
            longer = (worse <= 1.01) & (moved <= _LEAP)
            step[rows] = np.where(shorter, np.maximum(own / _FASTER**2, _LEAST), np.where(longer, np.minimum(own * _FASTER, _LONGEST), own))
            good = rows[~back]
            volume[good] = ahead[~back]
            now.put(good, then, ~back)
        into = np.maximum(now.fall, 0.0) @ self.ends_in + np.maximum(-now.fall, 0.0) @ self.starts_at
        comes = given + takes * (into + now.lifted)
        self.found[go] = now.level
        return Settled(level=now.level, fall=now.fall, share=now.part, comes=comes, spilled=now.spilled, left=now.net)

    def _levels(self, volume: np.ndarray, fixed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        n = self.net
        depth, give = n.depths(volume)
        over = np.maximum(volume - n.full, 0.0) / n.area
        if n.count < len(n.names):
            depth[:, n.count :], over[:, n.count :], give = volume[:, n.count :] / _TEE, 0.0, np.where(self.tees, 1 / _TEE, give)
        return n.floor + depth + over, np.where(fixed, 0.0, give)

    def _balance(self, rows, volume, share, fixed, given, takes) -> _Now:
        """Of some designs; `share` and `given` are of all."""
        n, falls = self.net, len(self.net.falls)
        level, give = self._levels(volume, fixed)
        fall, rise, drop = self._fallen(rows, level)
        net = given[rows] + fall @ self.moves
        slopes = (rise @ self.by_rise + drop @ self.by_drop).reshape(len(rows), *[len(n.names)] * 2)
        if takes.min() < 1.0:  # into some nothing comes but what is asked for
            forth = (fall > 0)[:, :, None]
            moves = self.ends_in * np.where(forth, takes, 1.0) - self.starts_at * np.where(forth, 1.0, takes)
            net = given[rows] + np.einsum("rfv,rf->rv", moves, fall)
            slopes = np.einsum("rfv,rf,fw->rvw", moves, rise, self.starts_at) + np.einsum("rfv,rf,fw->rvw", moves, drop, self.ends_in)
        part, lifted, busy = share[rows], np.zeros_like(level), np.abs(fall).max(axis=1, initial=0.0) if falls else np.zeros(len(rows))
        if n.lines:
            height = (level[:, n.line_from] - self.stop) / _FADES
            fade = np.where(fixed[n.line_from], 1.0, np.minimum(np.maximum(height, 0.0), 1.0))
            ends, drawn = self.links.end_flow[rows], self.links.line_flow[rows]
            tilt = np.where(fade > 0, part / _FADES, 0.0) * (fade < 1)
            part = part * fade
            lifted = (part[:, n.end_line] * ends) @ self.lifts_to
            net = net + lifted * takes - (part * drawn) @ self.drawn_from
            if fade.min() < 1.0:
                from_ = self.drawn_from[n.end_line]
                slopes += np.einsum("re,ev,ew->rvw", tilt[:, n.end_line] * ends, self.lifts_to * takes, from_)
                slopes -= np.einsum("rp,pv,pw->rvw", tilt * drawn, self.drawn_from, self.drawn_from)
            busy = busy + (part * drawn).max(axis=1, initial=0.0)
        over = np.maximum(level - n.rim, 0.0)
        spilled = self.edge * over**1.5
        net = net - spilled
        if over.any():
            place = np.arange(len(n.names))
            slopes[:, place, place] -= 1.5 * self.edge * np.sqrt(over)
        slopes[:, fixed] = 0.0
        busy = busy + np.abs(given[rows]).max(axis=1, initial=0.0)
        return _Now(level, give, np.where(fixed, 0.0, net), slopes, fall, part, lifted, spilled, busy)

    def _fallen(self, rows, level) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(flow of each falling line, its slope against its start's level, against its end's)."""
        n, falls = self.net, len(self.net.falls)
        flow, rise, drop = (np.zeros((len(rows), len(self.flows.start_of))) for _ in range(3))
        if not falls:
            return flow[:, :0], rise[:, :0], drop[:, :0]
        s = n.siphons
        goes = self.siphons[rows]
        full = goes & (level[:, n.fall_from[s]] > n.lip[s])
        self.still.siphon = np.where(full, RUNS, TRICKLES)
        self._over = None if self.links.over is None else self.links.over[rows]
        wet = (level - n.floor) * (1 / FILM)
        self.flows.fallen(level, flow, rise, drop, wet if wet.min() < 1.0 else None)
        flow, rise, drop = flow[:, :falls], rise[:, :falls], drop[:, :falls]
        if goes.any():
            slope, means = self.round_flow[rows] / self.round_depth, goes & ~full
            mean = slope * np.maximum(level[:, n.fall_from[s]] - n.vent, 0.0)
            flow[:, s] = np.where(means, mean, flow[:, s])
            rise[:, s] = np.where(means, np.where(mean > 0, slope, 0.0), rise[:, s])
            drop[:, s] = np.where(means, 0.0, drop[:, s])
        return flow, rise, drop

"""The clockwork behind `levels`: volumes of water through time, many stories of one build side by side.

Bare SI numbers only. A *story* is what happens to the build (its events); each is a row of every array, with a clock
and a step of its own, so that a set of failures costs little more than one.

How it steps: a Rosenbrock method of the second order (Verwer's ROS2), L-stable, so that a small sump and a big pump
do not make it ring. It moves water along lines only, each flow taken from one vessel and given to another, so water
is conserved to rounding whatever the step. The step follows an estimate of the error of the levels. Whatever switches
(a float, a siphon, a siphon that draws air) is a level that is watched: a step that passes one is cut to end there.
Source: Verwer, Spee, Blom & Hundsdorfer, SIAM J. Sci. Comput. 20 (1999) 1456.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from aquaplumb.flowtables import FILM, SOURCE, Network

_GAMMA = 1.0 - 1.0 / np.sqrt(2.0)
_ERROR = 1e-4  # m: what one step may be off, by its own estimate (of the first order; the step is of the second)
_NEAR = 1e-6  # m: how closely a watched level is met
_QUICK = 3.0  # how much more a step may be off when quick: 1 mm in 12 h still
_LEAST, _FIRST, _MOST = 1e-3, 1.0, 600.0  # s: the shortest step, that after a switch, the longest
_DENSE = 24  # vessels up to which the Jacobian is multiplied out whole
_TOP_UP = 0.01  # m under its level at which a float valve opens
_NEVER = 1e9
TRICKLES, FILLS, RUNS = 0, 1, 2  # a siphon's states


class Story:
    """What is true of one row from one time on: inputs that events and timers change."""

    def __init__(self, network: Network):
        self.network, self.timer = network, np.ones(len(network.lines), bool)
        self.reset()

    def reset(self) -> None:
        """As it is when nothing happens; timers stay as they are."""
        network = self.network
        lines, falls, vessels = len(network.lines), len(network.falls), len(network.names)
        self.power = True
        self.failed, self.stuck = np.zeros(lines, bool), np.zeros(lines, bool)
        self.shut: list[tuple] = [()] * lines
        self.blocked: list[float | None] = [None] * lines
        self.clear = network.clear.copy() if falls else np.zeros(0)
        self.cannot_start, self.cannot_stop = np.zeros(len(network.siphons), bool), np.zeros(len(network.siphons), bool)
        self.rain, self.evaporation = np.zeros(vessels), np.zeros(vessels)  # m³/s
        self.tap, self.tap_level = np.zeros(vessels), np.full(vessels, -_NEVER)  # m³/s; elevation of a float valve


class Stepper:
    """Runs stories. `changes` gives, for each story, a rising list of (time, function that changes its `Story`).

    `duration` [s] is one for all or one for each.
    """

    def __init__(self, network: Network, changes: list[list], duration, *, starts: str, start=None, longest: float | None = None, quick: bool = False):
        self.net, self.changes, self.duration = network, changes, np.broadcast_to(np.asarray(duration, float), (len(changes),))
        self.longest = min(longest or _MOST, _MOST)
        self.error, self.near = (_ERROR, _NEAR) if not quick else (_QUICK * _ERROR, 10 * _NEAR)
        n, rows = network, len(changes)
        self.stories = [Story(network) for _ in range(rows)]
        self.next_change, self.next_time = np.zeros(rows, int), np.full(rows, np.inf)
        self.time, self.step = np.zeros(rows), np.full(rows, min(_FIRST, self.longest))
        self.volume = np.tile(n.start if start is None else start, (rows, 1))
        self.spilled, self.added, self.air = np.zeros_like(self.volume), np.zeros(rows), np.zeros(rows)
        lines, siphons = len(n.lines), len(n.siphons)
        self.float_on, self.cut = np.zeros((rows, lines), bool), np.zeros((rows, lines), bool)
        self.on_since = np.full((rows, lines), -_NEVER)
        self.on, self.pumping = np.zeros((rows, lines), bool), np.zeros((rows, lines), bool)
        self.line_water = np.zeros((rows, lines))  # in the pipe of each pumped line
        self.state = np.zeros((rows, siphons), int)
        self.siphon_water = np.zeros((rows, siphons))
        self.primed = np.zeros((rows, len(n.way_line)), bool)
        self.tap_on = np.zeros_like(self.volume, bool)
        self.waiting = False
        self.start_flow = n.starts[starts]
        self.taps = any(getattr(change, "tap", False) for story in changes for _, change in story)
        self._controls()
        self._watches()
        self._scatter()
        self._begin()

    # --- what does not change

    def _controls(self) -> None:
        n = self.net
        controls = [line.si.control.si for line in n.build.pumped.values()]
        floor = n.floor[n.line_from] if controls else np.zeros(0)
        self.is_float = np.array([c.kind == "float" for c in controls], bool)
        self.float_high = floor + np.array([c.on_depth or 0.0 for c in controls])
        self.float_low = floor + np.array([c.off_depth or 0.0 for c in controls])
        self.least_run = np.array([c.least_run for c in controls])
        cut = [c.cut_out_depth for c in controls]
        self.has_cut = np.array([c is not None for c in cut], bool)
        self.cut_low = floor + np.array([-_NEVER if c is None else c for c in cut])
        self.cut_high = floor + np.array([-_NEVER if c is None else control.cut_in_depth or c + 0.05 for c, control in zip(cut, controls)])

    def _watches(self) -> None:
        """The levels that are watched: the vessel of each, and whether it is met from below (1) or from above (−1)."""
        n = self.net
        floats, cuts, every = np.flatnonzero(self.is_float), np.flatnonzero(self.has_cut), np.arange(len(n.names))
        self.floats, self.cuts = floats, cuts
        groups = [
            ("float on", 1, n.line_from[floats], self.float_high[floats]), ("float off", -1, n.line_from[floats], self.float_low[floats]),
            ("cut", -1, n.line_from[cuts], self.cut_low[cuts]), ("uncut", 1, n.line_from[cuts], self.cut_high[cuts]),
            ("start", 1, n.fall_from[n.siphons], np.zeros(len(n.siphons))), ("break", -1, n.fall_from[n.siphons], n.vent),
            ("air", -1, n.way_to, n.way_air), ("tap on", -1, every, np.zeros(len(every))), ("tap off", 1, every, np.zeros(len(every))),
        ]  # fmt: skip
        if not self.taps:
            groups = groups[:-2]
        self.parts, first = {}, 0
        for name, _, where, _ in groups:
            self.parts[name] = slice(first, first + len(where))
            first += len(where)
        self.watched = np.concatenate([where for _, _, where, _ in groups]).astype(int)
        self.signs = np.concatenate([np.full(len(where), float(sign)) for _, sign, where, _ in groups])
        self.bar = np.tile(np.concatenate([level for *_, level in groups]).astype(float), (len(self.changes), 1))

    def _scatter(self) -> None:
        """How flows become changes of volume, and their slopes the Jacobian: falls, then pumped ends, then ways back."""
        n = self.net
        self.start_of = np.concatenate([n.fall_from, n.line_from[n.end_line], n.line_from[n.way_line]]).astype(int)
        self.end_of = np.concatenate([n.fall_to, n.end_to, n.way_to]).astype(int)
        count, vessels = len(self.start_of), len(n.names)
        lines = np.arange(count)
        self.spread = np.zeros((count, vessels))
        self.spread[lines, self.start_of] -= 1.0
        self.spread[lines, self.end_of] += 1.0
        cells = [(lines, self.start_of, self.start_of, -1.0), (lines, self.end_of, self.start_of, 1.0),
                 (count + lines, self.start_of, self.end_of, -1.0), (count + lines, self.end_of, self.end_of, 1.0)]  # fmt: skip
        if vessels <= _DENSE:
            self.jacobian = np.zeros((2 * count, vessels * vessels))
            for line, row, column, sign in cells:
                self.jacobian[line, row * vessels + column] += sign
        else:  # too large to multiply out: most of it is zero
            from scipy.sparse import coo_array

            line, row, column = (np.concatenate([c[i] for c in cells]) for i in range(3))
            sign = np.concatenate([np.full(count, c[3]) for c in cells])
            self.jacobian = coo_array((sign, (row * vessels + column, line)), shape=(vessels * vessels, 2 * count)).tocsr()
        self.eye = np.eye(vessels)
        self.rows, self.ends = np.arange(len(self.changes))[:, None], np.arange(len(n.ends))
        self.falls = slice(0, len(n.falls))
        self.pumped = slice(len(n.falls), len(n.falls) + len(n.ends))
        self.ways = slice(len(n.falls) + len(n.ends), count)

    def _begin(self) -> None:
        for row in range(len(self.changes)):
            self._change(row)
        self.gathered = self._gather()
        level, _ = self._levels(self.volume)
        for p in self.floats:
            self.float_on[:, p] = level[:, self.net.line_from[p]] >= self.float_high[p]
        self._settle(level)
        self.line_water = np.where(self.on | self.net.checked, self.net.line_held, 0.0)
        self._settle(level)
        self.active, self.unsettled = self._active_now(), True
        self.whole = self._whole()
        self.fresh = np.ones(len(self.changes), bool)

    # --- events and timers

    def _change(self, row: int) -> None:
        """Take in everything that changes for a story at its present time, and gather its inputs."""
        changes, story = self.changes[row], self.stories[row]
        while self.next_change[row] < len(changes) and changes[self.next_change[row]][0] <= self.time[row] + 1e-9:
            changes[self.next_change[row]][1](story)
            self.next_change[row] += 1
        n = self.net
        starting = self.parts["start"]
        self.bar[row, starting] = [
            n.lip[f] + n.fallen.head(f, flow / clear) if clear > 0 and not never else _NEVER
            for f, flow, clear, never in zip(n.siphons, self.start_flow, story.clear[n.siphons] if len(n.siphons) else (), story.cannot_start)
        ]
        if self.taps:
            self.bar[row, self.parts["tap on"]] = story.tap_level - _TOP_UP
            self.bar[row, self.parts["tap off"]] = story.tap_level
        self.next_time[row] = changes[self.next_change[row]][0] if self.next_change[row] < len(changes) else np.inf
        self.gathered = None

    def _gather(self) -> SimpleNamespace:
        """The inputs of all stories as arrays; made anew when one has changed."""
        s, n = self.stories, self.net
        g = SimpleNamespace()
        for name in ("failed", "stuck", "timer", "clear", "cannot_stop", "rain", "evaporation", "tap", "tap_level"):
            setattr(g, name, np.array([getattr(one, name) for one in s]))
        g.power = np.array([one.power for one in s])[:, None]
        g.runnable = g.power & ~g.failed & g.timer
        g.weather = bool(g.rain.any() or g.evaporation.any() or g.tap.any())
        g.constant_tap = g.tap * (g.tap_level <= -_NEVER)
        base = np.zeros((len(s), len(n.ends), SOURCE))
        g.drowned = []
        for p in range(len(n.lines)):
            mine = np.flatnonzero(n.end_line == p)
            found = [n.base(p, one.shut[p], one.blocked[p]) for one in s]
            base[:, mine] = np.array([f.flow for f in found])
            for i, (vessel, low, high, _) in enumerate(found[0].drowned):
                g.drowned.append((p, mine, vessel, low, high, np.array([f.drowned[i][3] for f in found])))
        # Flows out of each end by level over the floor of the pump's vessel, as straight pieces: start + slope × level.
        g.base_slope = np.diff(base, axis=2) / n.grid[n.end_line][:, None]
        g.base_start = base[:, :, :-1] - g.base_slope * (n.grid[n.end_line][:, None] * np.arange(SOURCE - 1))
        # A way is shut where each of its ends has a valve shut between it and the pump's vessel.
        g.open = ~np.array([[all(path & set(one.shut[p]) for path in paths) for p, paths in zip(n.way_line, n.way_paths)] for one in s], bool)
        g.open = g.open.reshape(len(s), len(n.way_line))
        g.back = (~n.way_checked | g.stuck[:, n.way_line]) & g.open
        g.ways = bool(g.back.any() or n.way_forth.any())
        g.drains = ~n.checked | g.stuck
        g.clogged = bool((g.clear != 1).any())
        return g

    # --- flows

    def _levels(self, volume):
        depth, give = self.net.depths(volume)
        return self.net.floor + depth, give

    def _flows(self, level):
        """(flow of each line, slope against its start's level, against its end's); [rows, lines]."""
        n = self.net
        flow = np.zeros((len(level), len(self.start_of)))
        rise, drop = np.zeros_like(flow), np.zeros_like(flow)
        wet = (level - n.floor) * (1 / FILM)
        wet = wet if wet.min() < 1.0 else None  # the last film of water, where a vessel runs dry
        if n.fallen is not None:
            self._fallen(level, flow, rise, drop, wet)
        if n.lines:
            self._lifted(level, flow, rise, drop)
            if self.gathered.ways:
                self._backwards(level, flow, rise, drop, wet)
        return flow, rise, drop

    def _fallen(self, level, flow, rise, drop, wet) -> None:
        n, g, part, count = self.net, self.gathered, self.falls, len(self.net.falls)
        high, low = level[:, n.fall_from], level[:, n.fall_to]
        mouth, back = n.outlet, None
        over_lip = low > n.lip
        if over_lip.any() and (back := over_lip & (low > high)).any():  # a drowned line that runs the other way
            high, low, mouth = np.where(back, low, high), np.where(back, np.maximum(high, n.lip), low), np.where(back, n.lip, mouth)
        else:
            back = None
        drowned = low > mouth
        low = np.where(drowned, low, mouth)
        q, slope = n.fallen(np.concatenate([high - n.lip, high - low], axis=1))
        over, down = q[:, :count], q[:, count:]
        full = down < over
        if len(n.siphons):
            runs = self.state == RUNS
            full[:, n.siphons] |= runs if back is None else runs & ~back[:, n.siphons]
        q, up = np.where(full, down, over), np.where(full, slope[:, count:], slope[:, :count])
        if g.clogged:
            q, up = q * g.clear, up * g.clear
        held = np.where(full & drowned, -up, 0.0)
        if wet is not None:
            source = wet[:, n.fall_from] if back is None else np.where(back, wet[:, n.fall_to], wet[:, n.fall_from])
            share = np.minimum(np.maximum(source, 0.0), 1.0)
            up, held, q = up * share + q * ((share < 1) / FILM), held * share, q * share
        if self.filling and len(n.siphons):  # one that fills takes its water as it was at the start of the step
            fills = np.zeros(full.shape, bool)
            fills[:, n.siphons] = self.state == FILLS
            q, up, held = np.where(fills, 0.0, q), np.where(fills, 0.0, up), np.where(fills, 0.0, held)
        if back is not None:
            q, up, held = np.where(back, -q, q), np.where(back, -held, up), np.where(back, -up, held)
        flow[:, part], rise[:, part], drop[:, part] = q, up, held

    def _lifted(self, level, flow, rise, drop) -> None:
        n, g, part, to_end = self.net, self.gathered, self.pumped, self.net.end_line
        over = level[:, n.line_from] - n.floor[n.line_from]
        place = np.minimum(over * (1 / n.grid), SOURCE - 1.5).astype(np.intp)
        j = place[:, to_end]
        up = g.base_slope[self.rows, self.ends, j]
        q = g.base_start[self.rows, self.ends, j] + up * over[:, to_end]
        held = None
        if g.drowned:
            held = np.zeros_like(q)
            for one in g.drowned:
                self._drown(one, level, over, place, q, held)
            q = np.maximum(q, 0.0)
        share = np.minimum((over - n.inlet_depth) * (1 / FILM), 1.0)
        fades = share.min() < 1.0
        share = np.maximum(share, 0.0) if fades else share
        runs = np.where(self.pumping, share, 0.0)
        self.line_flow, self.line_share = q, share  # what a filling line takes
        runs = runs[:, to_end]
        flow[:, part], rise[:, part] = q * runs, up * runs
        if fades:
            rise[:, part] += q * np.where(self.pumping & (share < 1) & (share > 0), 1 / FILM, 0.0)[:, to_end]
        if held is not None:
            drop[:, part] = held * runs

    def _drown(self, one, level, over, place, q, held) -> None:
        """Add what it changes that a vessel stands over its pipes' ends."""
        p, mine, vessel, low, high, change = one
        rises = level[:, vessel] > low
        if not rises.any():
            return
        steps = change.shape[3] - 1
        y = np.minimum(np.maximum(level[:, vessel] - low, 0.0) * (steps / (high - low)), steps - 1e-6)
        k, j, r = y.astype(np.intp), place[:, p], np.arange(len(level))
        along, across = (over[:, p] / self.net.grid[p] - j)[:, None], (y - k)[:, None]
        near, far = (change[r, :, j, k + b] + along * (change[r, :, j + 1, k + b] - change[r, :, j, k + b]) for b in (0, 1))
        q[:, mine] += near + across * (far - near)
        own = (self.net.end_to[mine] == vessel) & rises[:, None]
        held[:, mine] += np.where(own, (far - near) * (steps / (high - low)), 0.0)

    def _backwards(self, level, flow, rise, drop, wet) -> None:
        n, g, part = self.net, self.gathered, self.ways
        low, high = level[:, n.line_from[n.way_line]], level[:, n.way_to]
        still = ~self.on[:, n.way_line]
        if not still.any():
            return
        back = still & self.primed & g.back & (high > low) & (high > n.way_air)
        end = np.maximum(high, n.way_mouth)
        forth = still & g.open & (low > end)  # downhill, water finds its way with or without a pump
        head = np.where(back, high - low, np.where(forth, low - end, 0.0))
        q, slope = n.back(head)
        if wet is not None:
            share = np.clip(np.where(back, wet[:, n.way_to], wet[:, n.line_from[n.way_line]]), 0.0, 1.0)
            q, slope = q * share, slope * share
        moves = back | forth
        slope = np.where(moves, slope, 0.0)
        flow[:, part] = np.where(back, -q, q)
        rise[:, part], drop[:, part] = slope, np.where(back | (high > n.way_mouth), -slope, 0.0)

    # --- one step of all stories

    def run(self) -> list[SimpleNamespace]:
        """Step every story to its end; the record of each, a row a step."""
        kept = []
        level, give = self._levels(self.volume)
        while True:
            flow, rise, drop = self._flows(level)
            if self.fresh.any():
                kept.append((self.fresh, self._snapshot(level, flow)))
            live = self.time < self.duration - 1e-9
            if not live.any():
                return self._sorted(kept)
            level, give = self._advance(live, level, give, flow, rise, drop)

    def _advance(self, live, level, give, flow, rise, drop):
        """One step of each story that is not over; (levels, 1 / areas) after it."""
        n = self.net
        still, fill, fill_siphon, limit = self._constant(level)
        room = np.minimum(self.next_time, self.duration) - self.time
        h = np.minimum(np.minimum(self.step, self.longest), np.minimum(room, limit))
        h = np.where(live, np.maximum(h, np.minimum(_LEAST, room)), 0.0)
        wide = h[:, None]
        force = flow @ self.spread + still
        slopes = np.concatenate([rise * give[:, self.start_of], drop * give[:, self.end_of]], axis=1)
        vessels = len(n.names)
        jacobian = (slopes @ self.jacobian if vessels <= _DENSE else (self.jacobian @ slopes.T).T).reshape(-1, vessels, vessels)
        solve = np.linalg.inv(self.eye - (_GAMMA * h)[:, None, None] * jacobian)
        one = (solve @ force[:, :, None])[:, :, 0]
        middle, _ = self._levels(self.volume + wide * one)
        later = self._flows(middle)[0] @ self.spread + still
        two = (solve @ (later - 2 * one)[:, :, None])[:, :, 0]
        new = self.volume + wide * (1.5 * one + 0.5 * two)
        error = np.abs((0.5 * wide) * (one + two) * give).max(axis=1)
        spilled = np.maximum(new - n.full, 0.0)
        after, gives = self._levels(new)
        following, good, crossed = self._judged(h, level, new, after, error)
        self.step = np.where(live, following, self.step)
        move = good & live
        self.fresh = move
        if not move.all():
            column = move[:, None]
            new, after, gives = np.where(column, new, self.volume), np.where(column, after, level), np.where(column, gives, give)
            h, spilled = np.where(move, h, 0.0), spilled * column
        self.volume = new - spilled
        self.spilled = self.spilled + spilled
        self.time = self.time + h
        if self.filling:
            self.line_water += fill * h[:, None]
            self.siphon_water += fill_siphon * h[:, None]
        if self.gathered.weather:
            self.added = self.added + self.inflow * h
            self.air = self.air + self.outflow * h
        due = move & (self.time >= self.next_time - 1e-9)
        if self.filling or self.unsettled or self.waiting or due.any() or (crossed & move).any():
            self._switch(move, due, after)
            return self._levels(self.volume)
        return after, gives

    def _constant(self, level):
        """(change of each vessel that is held through the step, water into filling pipes, into filling siphons, longest step)."""
        n, g = self.net, self.gathered
        still = np.zeros((len(level), len(n.names)))
        fill = fill_siphon = None
        limit = np.full(len(level), np.inf)
        if self.filling:
            fill, fill_siphon = self._filled(level, still)
            with np.errstate(divide="ignore", invalid="ignore"):
                for flow, left in ((fill, n.line_held - self.line_water), (fill_siphon, n.siphon_held - self.siphon_water)):
                    if flow.size:
                        limit = np.minimum(limit, np.where(flow > 0, left / flow, np.inf).min(axis=1))
        if self.least_run.any():
            left = self.on_since + self.least_run - self.time[:, None]
            waits = self.float_on & self.on & (left > 0)
            self.waiting = bool(waits.any())  # a float that is already low lets go when the least run is over
            limit = np.minimum(limit, np.where(waits, left, np.inf).min(axis=1))
        if g.weather:
            wet = np.clip((level - n.floor) / FILM, 0.0, 1.0)
            gone = np.minimum(g.evaporation * wet, np.maximum(self.volume, 0.0) / (2 * _MOST))
            come = g.rain + np.where(self.tap_on, g.tap, g.constant_tap)
            still += come - gone
            self.inflow, self.outflow = come.sum(axis=1), gone.sum(axis=1)
        return still, fill, fill_siphon, limit

    def _filled(self, level, still):
        """The flows into pipes and siphons that fill; what they take from each vessel goes into `still`."""
        n, g = self.net, self.gathered
        whole = np.zeros_like(self.line_water)
        fill_siphon = np.zeros_like(self.siphon_water)
        if n.lines:
            np.add.at(whole, (slice(None), n.end_line), self.line_flow)
            whole = np.where(self.on & ~self.pumping, whole * np.maximum(self.line_share, 0.0), 0.0)
            np.subtract.at(still, (slice(None), n.line_from), whole)
        if len(n.siphons):
            q, _ = n.fallen(np.tile(level[:, n.fall_from] - n.lip, 2))
            fill_siphon = np.where(self.state == FILLS, (q[:, : len(n.falls)] * g.clear)[:, n.siphons], 0.0)
            np.subtract.at(still, (slice(None), n.fall_from[n.siphons]), fill_siphon)
        return whole, fill_siphon

    def _judged(self, h, level, new, after, error):
        """(the next step of each story, whether this one is taken, whether it met a watched level)."""
        tiny = h <= _LEAST * 1.000001
        following = h * np.minimum(np.maximum(0.8 * np.sqrt(self.error / np.maximum(error, 1e-12)), 0.2), 4.0)
        good = (error <= self.error) | tiny
        if new.min() < -1e-12:
            dry = (new < -1e-12).any(axis=1)
            following = np.where(dry, 0.5 * h, following)
            good &= ~dry | tiny
        before = self.signs * (level[:, self.watched] - self.bar)
        passed = self.signs * (after[:, self.watched] - self.bar)
        crossing = self.active & (passed >= 0.0) & (before < 0.0)
        crossed = crossing.any(axis=1)
        if crossed.any():
            late = crossing & (passed > self.near)
            if late.any():
                with np.errstate(divide="ignore", invalid="ignore"):
                    part = np.where(late, (0.5 * self.near - before) / (passed - before), 1.0).min(axis=1)
                cut = late.any(axis=1) & ~tiny & good
                following = np.where(cut, h * np.clip(part, 0.02, 0.98), following)
                good &= ~cut
        return np.maximum(following, _LEAST), good, crossed

    def _active_now(self):
        """Which watched levels matter just now."""
        n, g, p = self.net, self.gathered, self.parts
        active = np.zeros(self.bar.shape, bool)
        active[:, p["float on"]] = ~self.float_on[:, self.floats]
        active[:, p["float off"]] = self.float_on[:, self.floats]
        active[:, p["cut"]] = ~self.cut[:, self.cuts]
        active[:, p["uncut"]] = self.cut[:, self.cuts]
        active[:, p["start"]] = self.state == TRICKLES
        active[:, p["break"]] = (self.state == RUNS) & ~g.cannot_stop
        active[:, p["air"]] = self.primed & ~self.on[:, n.way_line] & g.back
        if self.taps:
            ball = g.tap_level > -_NEVER
            active[:, p["tap on"]] = ball & ~self.tap_on
            active[:, p["tap off"]] = ball & self.tap_on
        return active

    # --- what switches

    def _switch(self, moved, due, level) -> None:
        """Bring every switch into line with the levels at which the stories have arrived."""
        for row in np.flatnonzero(due):
            self._change(row)
        if self.gathered is None:
            self.gathered = self._gather()
            self.active = self._active_now()
        reached = self.active & (self.signs * (level[:, self.watched] - self.bar) >= 0.0) & moved[:, None]
        n = self.net
        before = self.state.copy(), self.on.copy(), self.tap_on.copy(), self.pumping.copy()
        if reached.any():
            self._reached(reached)
        if len(n.siphons):
            self.state[(self.state == FILLS) & (self.siphon_water >= n.siphon_held * (1 - 1e-9))] = RUNS
        self._settle(level)
        switched = due.copy()
        for was, now in zip(before, (self.state, self.on, self.tap_on, self.pumping)):
            switched |= (was != now).any(axis=1)
        self.unsettled = bool(switched.any())
        self.step = np.where(switched, np.minimum(self.step, _FIRST), self.step)
        over = np.maximum(self.volume - n.full, 0.0)
        self.spilled, self.volume = self.spilled + over, self.volume - over
        low = np.minimum(self.volume, 0.0)  # a dry vessel after the shortest step: kept in the books as a spill
        self.spilled, self.volume = self.spilled + low, self.volume - low
        self.active = self._active_now()

    def _reached(self, reached) -> None:
        """Turn what has met its level."""
        n, p = self.net, self.parts
        long_enough = (self.time[:, None] - self.on_since >= self.least_run - 1e-9)[:, self.floats]
        self.float_on[:, self.floats] |= reached[:, p["float on"]]
        self.float_on[:, self.floats] &= ~(reached[:, p["float off"]] & long_enough)
        self.cut[:, self.cuts] |= reached[:, p["cut"]]
        self.cut[:, self.cuts] &= ~reached[:, p["uncut"]]
        self.state[reached[:, p["start"]]] = FILLS
        broken = reached[:, p["break"]]
        if broken.any():
            self.state[broken] = TRICKLES
            freed = np.where(broken, self.siphon_water, 0.0)
            self.siphon_water = self.siphon_water - freed
            np.add.at(self.volume, (slice(None), n.fall_to[n.siphons]), freed)
        self.primed &= ~reached[:, p["air"]]
        if self.taps:
            self.tap_on |= reached[:, p["tap on"]]
            self.tap_on &= ~reached[:, p["tap off"]]

    def _settle(self, level) -> None:
        """Which pumps run now; what that does to the water in their pipes."""
        n, g = self.net, self.gathered
        on = g.runnable & (self.float_on | ~self.is_float) & ~self.cut
        self.on_since = np.where(on & ~self.on, self.time[:, None], self.on_since)
        self.on = on
        if not n.lines:
            self.filling = bool((self.state == FILLS).any())
            return
        self.pumping = on & (self.line_water >= n.line_held * (1 - 1e-9))
        if len(n.way_line):
            self.primed |= self.pumping[:, n.way_line]
            self.primed &= on[:, n.way_line] | (level[:, n.way_to] > n.way_air) | ~g.back
        empties = ~on & g.drains & (self.line_water > 0)
        if empties.any():
            held = np.zeros_like(on)
            np.logical_or.at(held, (slice(None), n.way_line), self.primed & g.back)
            empties &= ~held
            freed = np.where(empties, self.line_water, 0.0)
            self.line_water = self.line_water - freed
            np.add.at(self.volume, (slice(None), n.line_from), freed)
        self.filling = bool((on & ~self.pumping).any() or (self.state == FILLS).any())

    # --- the record

    def _whole(self):
        """All the water there is or was, less what was added: it must not change."""
        return (
            self.volume.sum(axis=1) + self.line_water.sum(axis=1) + self.siphon_water.sum(axis=1)
            + self.spilled.sum(axis=1) + self.air - self.added
        )  # fmt: skip

    def _snapshot(self, level, flow) -> dict:
        n = self.net
        short = self.on & (level[:, n.line_from] < n.inlet + 0.98 * FILM)
        return {
            "time": self.time.copy(), "level": level, "volume": self.volume.copy(), "flow": flow, "on": self.on.copy(), "dry": short,
            "siphon": self.state.copy(), "spilled": self.spilled.copy(), "added": self.added.copy(), "air": self.air.copy(),
            "pipes": self.line_water.sum(axis=1) + self.siphon_water.sum(axis=1),
        }  # fmt: skip

    def _sorted(self, kept: list) -> list[SimpleNamespace]:
        taken = np.array([fresh for fresh, _ in kept])
        stacked = {name: np.array([one[name] for _, one in kept]) for name in kept[0][1]}
        whole = self._whole()
        return [
            SimpleNamespace(balance=float(whole[row] - self.whole[row]), **{name: values[taken[:, row], row] for name, values in stacked.items()})
            for row in range(len(self.changes))
        ]

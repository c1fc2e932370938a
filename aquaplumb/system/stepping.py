"""The clockwork behind `levels`: volumes of water through time, many stories of one build side by side.

Bare SI numbers only. Each story is a row of every array, with a clock and a step of its own, so that a set of failures
costs little more than one. `stories` has what happens to them, `switches` what turns on and off, `lineflows` the flows.

How it steps: the linearly implicit Euler method in one, two and three parts of a step, extrapolated to the third order
(Deuflhard). It damps what is stiff, so that a small sump and a big pump do not make it ring. It moves water along
lines only, each flow taken from one vessel and given to another, so water is conserved to rounding whatever the step.
The step follows an estimate of the error of the levels; a step that passes a watched level is cut to end there.
Source: Hairer & Wanner, Solving Ordinary Differential Equations II, section IV.9 (SEULEX).
"""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from aquaplumb.system.flow_tables import FILM, Network
from aquaplumb.system.line_flows import FILLS, RUNS, LineFlows
from aquaplumb.system.record import Again, Records, Steps
from aquaplumb.system.repeats import SKIPPED, Start, clear_of, skip
from aquaplumb.system.stories import Endless, Story, gathered
from aquaplumb.system.switches import Switches, Water, part_to
from aquaplumb.units import AREA, DEPTH, LENGTH, TIME

_ERROR = 1e-5  # m: what one step may be off, by its own estimate (of the second order; the step is of the third)
_NEAR = 1e-6  # m: how closely a watched level is met
_STRAIGHT = 3e-4  # m: how far the true level may be from the straight line between two steps
_TEE = 0.01  # how much less a tee's level has to be right
_QUICK = 10.0  # how much coarser these three are when quick: some millimetres in half a day
_LEAST, _FIRST, _MOST = 1e-3, 2.0, 600.0  # s: the shortest step, that after a switch, the longest
_KEPT = 25e6  # numbers that a run may keep, 200 MB: with one story some 400,000 steps
_TOLD = 3e6  # numbers that one story may tell, what happened again and again counted as often
_TRIES, _PACE = 3000, 1.5  # when quick: the most steps, and as many more for each second of simulated time
_LIVE = 0.75  # of the rows: where no more are under way, those that are over are left behind
_ROUND = 50  # steps: what goes round in fewer than these, all in all, is what holds a run up
_GROWS, _SHRINKS, _TWICE = 10.0, 0.02, 0.3  # of a step, the next: at most; after too large an error at least; after a second at most
_PARTS = np.array([1.0, 0.5, 1.0 / 3.0])[:, None, None, None]  # of a step, for the three goes at it


def _ever(what: str, changes: list[list]) -> bool:
    """Whether any story ever has a tap, or a pipe that comes loose."""
    return any(getattr(change, what, False) for story in changes for _, change in story)


class Stepper:
    """Runs stories. `changes` gives, for each story, a rising list of (time, function that changes its `Story`).

    `duration` [s] is one for all or one for each; `start` the volumes [m³] of each story's vessels; `starts` whether its siphons
    start when they "may", or when they are "sure" to; `rounds` whether it may end with its last whole round.
    """

    def __init__(self, network: Network, changes: list[list], duration, *, starts: list[str], start,
                 longest: float | None = None, quick: bool = False, rounds: list[bool] | None = None):  # fmt: skip
        n, rows = network, len(changes)
        self.net, self.changes, self.duration, self.rounds = network, changes, np.zeros(rows) + duration, np.array(rounds or [False] * rows)
        self.longest = min(longest or _MOST, _MOST)
        self.quick, self.tries, self.stepped = quick, 0, 0
        self.error, self.near, self.straight, self.skipped = (_QUICK if quick else 1.0) * np.array([_ERROR, _NEAR, _STRAIGHT, SKIPPED])
        self.stories = [Story(network) for _ in range(rows)]
        self.next_change, self.next_time = np.zeros(rows, int), np.full(rows, np.inf)
        self.time, self.step = np.zeros(rows), np.full(rows, min(_FIRST, self.longest))
        vessels = np.array(start, float)
        self.water = Water(
            vessels=vessels, lines=np.zeros((rows, len(n.lines))), siphons=np.zeros((rows, len(n.siphons))), spilled=np.zeros_like(vessels),
            added=np.zeros(rows), air=np.zeros(rows),
        )  # fmt: skip
        self.start_flow = [n.starts[band] for band in starts]
        self.now = Switches(n, rows, _ever("tap", changes))
        self.flows = LineFlows(n, self.now, rows, loose=_ever("loose", changes))
        self.waits = bool(self.now.least_run.any())
        tee = _TEE * (_QUICK if quick else 1.0)  # it holds no water worth a word; coarser, one with no way out swings and never settles
        self.strict = np.where(np.arange(len(n.names)) < n.count, 1.0, tee)
        self.bad = np.zeros(rows, bool)  # whose last step was off by too much
        self.held_up = np.zeros((rows, len(n.names)), int)  # how often each vessel set the step
        self.record = Records(rows)
        self.rows = self.record.go_on(np.arange(rows))  # the stories that are stepped
        self.starts: list[list[Start]] = [[] for _ in range(rows)]  # since something else happened to it
        self._begin()

    def _begin(self) -> None:
        now, water, n = self.now, self.water, self.net
        for row in range(len(self.changes)):
            self._change(row)
        self.inputs = gathered(self.stories, n)
        level, _ = self._levels(water.vessels)
        now.float_on[:, now.floats] = level[:, n.line_from[now.floats]] >= now.float_high[now.floats]
        now.settle(level, self.time, self.inputs, water)
        water.lines = np.where(now.on | n.checked, n.line_held, 0.0)
        now.settle(level, self.time, self.inputs, water)
        self.active, self.unsettled = now.active(self.inputs), True
        self.whole = self._whole()
        self.fresh = np.ones(len(self.changes), bool)

    def _change(self, row: int) -> None:
        """Take in everything that changes for a story at its present time."""
        changes, story = self.changes[row], self.stories[row]
        while self.next_change[row] < len(changes) and changes[self.next_change[row]][0] <= self.time[row] + 1e-9:
            changes[self.next_change[row]][1](story)
            self.next_change[row] += 1
        self.now.told(row, story, self.start_flow[row])
        self.next_time[row] = changes[self.next_change[row]][0] if self.next_change[row] < len(changes) else np.inf

    def _levels(self, volume):
        depth, give = self.net.depths(volume)
        return self.net.floor + depth, give

    def _flows_at(self, volume):
        """The flow of each line with so much in each vessel."""
        return self.flows(self.net.floor + self.net.depths(volume, give=False)[0], self.inputs, slopes=False)[0]

    # --- one step of all stories

    def run(self) -> list[Steps]:
        """Step every story to its end; the record of each, a row a step."""
        level, give = self._levels(self.water.vessels)
        while True:
            flow, rise, drop = self.flows(level, self.inputs)
            if np.count_nonzero(self.fresh):
                self.record.keep(self.fresh, self._snapshot(level, flow))
            live = self.time < self.duration - 1e-9
            left = np.count_nonzero(live)
            if left <= _LIVE * len(live):
                self.record.balance[self.rows] = self._whole() - self.whole
                if not left:
                    return self.record.steps()
                self._only(live)
                level, give, live = level[live], give[live], live[live]
                flow, rise, drop = self.flows(level, self.inputs)
            self._bounded(live)
            level, give = self._advance(live, level, give, flow, rise, drop)

    def _only(self, live) -> None:
        """Go on with the stories that are not over."""
        water = self.water
        self.rows = self.record.go_on(self.rows[live])
        for name in ("duration", "rounds", "next_change", "next_time", "time", "step", "bad", "held_up", "whole", "active", "fresh"):
            setattr(self, name, getattr(self, name)[live])
        for name in ("changes", "stories", "start_flow", "starts"):
            setattr(self, name, [each for each, lives in zip(getattr(self, name), live) if lives])
        self.water = Water(**{field.name: getattr(water, field.name)[live] for field in fields(Water)})
        self.now.only(live)
        self.flows.side_by_side(len(self.rows))
        self.inputs = gathered(self.stories, self.net)

    def _advance(self, live, level, give, flow, rise, drop):
        """One step of each story that is not over; (levels, 1 / areas) after it."""
        water, now = self.water, self.now
        still, fill, limit = self._constant(level)
        room = np.minimum(self.next_time, self.duration) - self.time
        h = np.minimum(np.minimum(self.step, self.longest), np.minimum(room, limit))
        h = np.where(live, np.maximum(h, np.minimum(_LEAST, room)), 0.0)
        force = flow @ self.flows.spread + still
        rising = give
        if np.count_nonzero(brimful := (level >= self.net.rim - self.near) & (force > 0)):  # what comes to a full vessel spills
            rising = np.where(brimful, 0.0, give)
        new, error = self._extrapolated(force, still, self.flows.solver(_PARTS * h[:, None, None], rise, drop, rising))
        after, gives = self._levels(new)
        speed = force * rising
        straight = level + speed * h[:, None]
        bow = np.abs(after - straight) / 4  # how far a straight line between the two is off
        off = np.maximum(error * rising, bow * (self.error / self.straight)) * self.strict
        most = np.maximum.reduce(off, axis=1)
        self.held_up += off >= most[:, None]
        following, good, crossed = self._judged(h, level, new, after, most, speed)
        self.step = np.where(live, following, self.step)
        self.fresh = move = good & live
        if np.count_nonzero(move) < len(move):
            column = move[:, None]
            new, after, gives = np.where(column, new, water.vessels), np.where(column, after, level), np.where(column, gives, give)
            h = np.where(move, h, 0.0)
        if np.count_nonzero(self.inputs.loose):  # lines bring what they take: what is gone is on the floor
            gone = still.sum(axis=1) * h - (new - water.vessels).sum(axis=1)
            water.air = water.air + np.where(self.inputs.loose.any(axis=1), gone, 0.0)
        water.vessels = new
        self._over_the_rim()
        self.time = self.time + h
        if now.filling:
            water.lines = water.lines + fill[0] * h[:, None]
            water.siphons = water.siphons + fill[1] * h[:, None]
        if self.inputs.weather:
            water.added, water.air = water.added + self.inflow * h, water.air + self.outflow * h
        due = move & (self.time >= self.next_time - 1e-9)
        if now.filling or now.waiting or self.unsettled or np.count_nonzero(due) or np.count_nonzero(crossed & move):
            self._switch(move, due, after)
            return self._levels(water.vessels)
        return after, gives

    def _extrapolated(self, force, still, solve):
        """(volumes after a step, estimate of their error): three goes in 1, 2 and 3 parts, extrapolated."""
        volume, spread = self.water.vessels, self.flows.spread
        first = solve(slice(None), force)  # the first part of each go
        second = solve(slice(1, None), self._flows_at(volume + first[1:]) @ spread + still)
        third = solve(2, self._flows_at(volume + first[2] + second[1]) @ spread + still)
        one, two, three = first[0], first[1] + second[0], first[2] + second[1] + third
        two_more, three_more = 2 * two - one, 3 * three - 2 * two
        half = 0.5 * (three_more - two_more)
        return volume + three_more + half, np.abs(half)

    def _constant(self, level):
        """(change of each vessel that is held through the step, water into filling pipes and siphons, the longest step)."""
        n, g, now, water = self.net, self.inputs, self.now, self.water
        still, fill = np.zeros_like(level), None
        limit = np.full(len(level), np.inf)
        if now.filling:
            fill = self._filled(level, still)
            with np.errstate(divide="ignore", invalid="ignore"):
                for flow, left in zip(fill, (n.line_held - water.lines, n.siphon_held - water.siphons)):
                    if flow.size:
                        limit = np.minimum(limit, np.where(flow > 0, left / flow, np.inf).min(axis=1))
        if self.waits:
            limit = np.minimum(limit, now.waits(self.time))
        if g.weather:
            wet = np.clip((level - n.floor) / FILM, 0.0, 1.0)
            gone = np.minimum(g.evaporation * wet, np.maximum(water.vessels, 0.0) / (2 * _MOST))
            come = g.rain + np.where(now.tap_on, g.tap, g.constant_tap)
            still += come - gone
            self.inflow, self.outflow = come.sum(axis=1), gone.sum(axis=1)
        return still, fill, limit

    def _filled(self, level, still):
        """The flows into pipes and into siphons that fill; what they take from each vessel goes into `still`."""
        n, now = self.net, self.now
        whole, sip = np.zeros_like(self.water.lines), np.zeros_like(self.water.siphons)
        if n.lines:
            np.add.at(whole, (slice(None), n.end_line), self.flows.line_flow)
            whole = np.where(now.on & ~now.pumping, whole * np.maximum(self.flows.line_share, 0.0), 0.0)
            np.subtract.at(still, (slice(None), n.line_from), whole)
        if len(n.siphons):
            q, _ = n.fallen(np.tile(level[:, n.fall_from] - n.lip, 2), self.inputs.fall_places)
            sip = np.where(now.siphon == FILLS, q[:, n.siphons], 0.0)
            np.subtract.at(still, (slice(None), n.fall_from[n.siphons]), sip)
        return whole, sip

    def _judged(self, h, level, new, after, error, speed):
        """(the next step of each story, whether this one is taken, whether it met a watched level)."""
        now, tiny = self.now, h <= _LEAST * 1.000001
        following = h * np.minimum(np.maximum(0.85 * np.cbrt(self.error / np.maximum(error, 1e-15)), _SHRINKS), _GROWS)
        good = (error <= self.error) | tiny
        if np.minimum.reduce(new, axis=None) < -1e-12:
            dry = (new < -1e-12).any(axis=1)
            following = np.where(dry, np.minimum(following, 0.5 * h), following)
            good &= ~dry | tiny
        bad = ~good
        if np.count_nonzero(bad):  # refused twice: its error does not go by the third power of the step
            following = np.where(bad & self.bad, np.minimum(following, _TWICE * h), following)
        self.bad = bad
        before, passed = now.past(level), now.past(after)
        crossing = self.active & (passed >= 0.0) & (before < 0.0)
        crossed = np.logical_or.reduce(crossing, axis=1)
        if np.count_nonzero(crossed):
            late = crossing & (passed > self.near)
            if np.count_nonzero(late):
                met, rise = late.any(axis=1) & ~tiny, now.signs * speed[:, now.watched] * h[:, None]
                cut = met & good
                if np.count_nonzero(cut):
                    part = part_to(before, passed, rise, 0.5 * self.near)
                    following = np.where(cut, h * np.clip(np.where(late, part, 1.0).min(axis=1), 0.01, 0.99), following)
                    good &= ~cut
                if np.count_nonzero(met & bad):  # too long, and past a level: no further than the way that it sets out leads to
                    ahead = late & (rise > -before)
                    part = np.where(ahead, -before / np.where(ahead, rise, 1.0), 1.0).min(axis=1)
                    following = np.where(met & bad, np.minimum(following, h * np.maximum(part, _SHRINKS)), following)
        return np.maximum(following, _LEAST), good, crossed

    # --- what switches

    def _switch(self, moved, due, level) -> None:
        """Bring every switch into line with the levels at which the stories have arrived."""
        now, water = self.now, self.water
        if due.any():
            for row in np.flatnonzero(due):
                self._change(int(row))
            self.inputs = gathered(self.stories, self.net)
            self.active = now.active(self.inputs)
        reached = self.active & (now.past(level) >= 0.0) & moved[:, None]
        before = now.state()
        if reached.any():
            now.reached(reached, self.time, water)
        now.settle(level, self.time, self.inputs, water)
        switched, after = due.copy(), now.state()
        for was, is_ in zip(before, after):
            switched |= (was != is_).any(axis=1)
        self.unsettled = bool(switched.any())
        self.step = np.where(switched, np.minimum(self.step, _FIRST), self.step)
        self._over_the_rim()
        self.active = now.active(self.inputs)
        self._move_on(due, ((after[0] == RUNS) & (before[0] != RUNS)).any(axis=1) | (after[1] & ~before[1]).any(axis=1))

    def _move_on(self, due, started) -> None:
        """Move each story on by many cycles at once that has just started what it starts again and again."""
        now, water = self.now, self.water
        for row in np.flatnonzero(due).tolist():
            self.starts[row].clear()
        for row in np.flatnonzero(started & ~due).tolist():
            level, give = self._levels(water.vessels[row])
            goes_on = {"time": self.time, "volume": water.vessels, "spilled": water.spilled, "added": water.added, "air": water.air}
            self.starts[row].append(
                Start(
                    int(self.record.count[self.rows[row]]), float(self.time[row]), now.told_of(row), np.concatenate([water.lines[row], water.siphons[row]]),
                    {name: np.array(values[row]) for name, values in goes_on.items()} | {"level": level},
                )
            )  # fmt: skip
            room = min(self.next_time[row], self.duration[row]) - self.time[row]
            found = skip(self.starts[row], give, room, self.skipped)
            if found is None:
                continue
            story = int(self.rows[row])
            seen = self.record.column("level", story, found.since)
            times = clear_of(found, seen, now.watched, now.bar[row], self.skipped)
            self.starts[row].clear()
            if times <= 0:
                continue
            found.moved["level"][now.turns_in(row, seen.min(axis=0), seen.max(axis=0), self.near)] = 0.0
            self.record.tell_again(story, Again(found.since, int(self.record.count[story]), times, found.period, found.moved))
            self.time[row] += times * found.period
            now.on_since[row] += times * found.period
            if self.rounds[row] and self.duration[row] - self.time[row] < found.period and not np.isfinite(self.next_time[row]):
                self.duration[row] = self.time[row]
            for name, where in (("volume", "vessels"), ("spilled", "spilled"), ("added", "added"), ("air", "air")):
                held = getattr(water, where).copy()  # the record has the old one
                held[row] += times * found.moved[name]
                setattr(water, where, held)

    def _over_the_rim(self) -> None:
        """What stands over a rim is spilled. A dry vessel after the shortest step is made good from the same book: rounding."""
        water = self.water
        over = np.maximum(water.vessels - self.net.full, 0.0) + np.minimum(water.vessels, 0.0)
        if np.count_nonzero(over):
            water.spilled, water.vessels = water.spilled + over, water.vessels - over

    # --- the bound

    def _bounded(self, live) -> None:
        """Refuse a run that would not end: by its steps, never by the clock, so that it is the same on each machine."""
        self.tries, self.stepped = self.tries + 1, self.stepped + len(self.rows)
        slowest, numbers = int(np.where(live, self.time, np.inf).argmin()), self.record.numbers
        told = self.record.told[self.rows]
        if told.max() * numbers > _TOLD:
            raise self._endless(int(told.argmax()))
        if numbers * self.stepped > _KEPT or (self.quick and self.tries > _TRIES + _PACE * self.time[slowest]):
            raise self._endless(slowest)

    def _endless(self, row: int) -> Endless:
        """What holds a story up, from its record: a pump, a siphon, or a vessel whose level will not keep still."""
        n, units, story = self.net, self.net.build.units, int(self.rows[row])
        took = TIME.text(self.time[row], units)
        on, runs = self.record.column("on", story), self.record.column("siphon", story) == RUNS
        often = np.ones(len(on), int)
        for one in self.record.again[story]:
            often[one.first : one.end] += one.times
        turns = often[1:] @ (np.diff(np.concatenate([on, runs], axis=1).astype(int), axis=0) > 0)
        most = int(turns.argmax())
        if turns[most] * _ROUND > self.tries and most < len(n.lines):
            name, source, c = n.lines[most], n.names[n.line_from[most]], n.controls[most]
            depths = {"float": ("on_depth", "off_depth")}.get(c.kind, ("cut_out_depth", "cut_in_depth"))
            told = {key: LENGTH.text(depth, units) for key in depths if (depth := getattr(c, key)) is not None}
            given = " and ".join(f"{key} of {depth}" for key, depth in told.items())
            if len(told) > len(set(told.values())):
                given = f"{depths[0]} only {DEPTH.text(abs(getattr(c, depths[0]) - getattr(c, depths[1])), units)} off {depths[1]}"
            sentence = f"The pump of {name} starts {turns[most]:,} times in {took}, too often to follow."
            return Endless(
                name,
                sentence,
                f"Is {given} right? Set the two further apart, or give {source} more room." if given else f"Is the size of {source} right?",
            )
        if turns[most] * _ROUND > self.tries:
            place = n.fall_from[n.siphons[most - len(n.lines)]]
            sentence = f"{n.names[place]} fills and empties {turns[most]:,} times in {took}, too often to follow."
        else:
            place = int(self.held_up[row].argmax())
            sentence = f"The water in {n.names[place]} moves too fast to follow: {self.tries:,} steps took it only to {took}."
        return Endless(
            n.names[place],
            sentence,
            f"Is its floor of {LENGTH.text(n.floor[place], units)} right, and its size, {AREA.text(n.area[place], units)}?",
        )

    # --- the record

    def _whole(self):
        """All the water there is or was, less what was added: it must not change."""
        w = self.water
        return w.vessels.sum(axis=1) + w.lines.sum(axis=1) + w.siphons.sum(axis=1) + w.spilled.sum(axis=1) + w.air - w.added

    def _snapshot(self, level, flow) -> dict:
        n, now, w = self.net, self.now, self.water
        short = now.on & (level[:, n.line_from] < n.inlet + 0.98 * FILM)
        return {
            "time": self.time, "level": level, "volume": w.vessels, "flow": flow[:, : self.flows.ways.stop], "on": now.on, "dry": short, "siphon": now.siphon.copy(),
            "spilled": w.spilled, "added": w.added, "air": w.air, "pipes": w.lines.sum(axis=1) + w.siphons.sum(axis=1),
        }  # fmt: skip

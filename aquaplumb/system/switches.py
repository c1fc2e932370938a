"""What switches in a build: floats, low-level switches, pumps, siphons, float valves, and air that gets into a pipe.

Whatever switches does so at a level of water that is *watched*. Bare SI numbers only; a row a story.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from aquaplumb.system.flow_tables import FILM, Network
from aquaplumb.system.line_flows import FILLS, RUNS, TRICKLES
from aquaplumb.system.stories import NEVER, Inputs, Story

_TOP_UP = 0.01  # m under its level at which a float valve opens
_CUT_IN = 0.05  # m over its level at which a low-level switch lets a pump start again, unless told


@dataclass(slots=True)
class Water:
    """Where the water of all stories is, a row a story: moved on by each step."""

    vessels: np.ndarray  #: [m³]
    lines: np.ndarray  #: in each pumped pipe [m³]
    siphons: np.ndarray  #: in each siphon's pipe [m³]
    spilled: np.ndarray  #: over each vessel's rim [m³]
    added: np.ndarray  #: by rain and top-up [m³]
    air: np.ndarray  #: evaporated [m³]


class Switches:
    """The state of everything that switches, and the levels that are watched for it."""

    def __init__(self, network: Network, rows: int, taps: bool):
        n, self.net, self.taps = network, network, taps
        lines = (rows, len(n.lines))
        self.float_on, self.cut = np.zeros(lines, bool), np.zeros(lines, bool)
        self.on, self.pumping = np.zeros(lines, bool), np.zeros(lines, bool)  # has power; its pipe is full as well
        self.on_since = np.full(lines, -NEVER)
        self.siphon = np.zeros((rows, len(n.siphons)), int)
        self.primed = np.zeros((rows, len(n.way_line)), bool)  # water stands in the pipe over the crest
        self.tap_on = np.zeros((rows, len(n.names)), bool)
        self.filling = self.waiting = False
        self._controls()
        self._watches(rows)

    def _controls(self) -> None:
        n = self.net
        controls = n.controls
        self.is_float = np.array([c.kind == "float" for c in controls], bool)
        self.floats = np.flatnonzero(self.is_float)
        self.float_high = n.line_floor + np.array([c.on_depth or 0.0 for c in controls])
        self.float_low = n.line_floor + np.array([c.off_depth or 0.0 for c in controls])
        self.least_run = np.array([c.least_run for c in controls])
        cut = [c.cut_out_depth for c in controls]
        self.cuts = np.flatnonzero([c is not None for c in cut])
        self.cut_low = n.line_floor + np.array([0.0 if c is None else c for c in cut])
        self.cut_high = n.line_floor + np.array(
            [0.0 if c is None else control.cut_in_depth or c + _CUT_IN for c, control in zip(cut, controls)]
        )

    def _watches(self, rows: int) -> None:
        """The levels that are watched: the vessel of each, and whether it is met from below (1) or from above (−1)."""
        n, floats, cuts, every = self.net, self.floats, self.cuts, np.arange(len(self.net.names))
        media = np.flatnonzero((n.bend > 0) & (n.bend < n.rim - n.floor))
        top = (n.floor + n.bend)[media]
        groups = [
            ("float on", 1, n.line_from[floats], self.float_high[floats]), ("float off", -1, n.line_from[floats], self.float_low[floats]),
            ("cut", -1, n.line_from[cuts], self.cut_low[cuts]), ("uncut", 1, n.line_from[cuts], self.cut_high[cuts]),
            ("start", 1, n.fall_from[n.siphons], np.zeros(len(n.siphons))), ("break", -1, n.fall_from[n.siphons], n.vent),
            ("air", -1, n.way_to, n.way_air),
            # Nothing switches at these, but a flow begins or ends there, or a level changes its pace: a long step might not see it.
            ("lip", 1, n.fall_from, n.lip), ("film", -1, n.line_from, n.inlet + FILM), ("rim", 1, every, n.rim),
            ("media up", 1, media, top), ("media down", -1, media, top), ("tap on", -1, every, np.zeros(len(every))), ("tap off", 1, every, np.zeros(len(every))),
        ]  # fmt: skip
        if not self.taps:
            groups = groups[:-2]
        self.parts, first = {}, 0
        for name, _, where, _ in groups:
            self.parts[name] = slice(first, first + len(where))
            first += len(where)
        self.watched = np.concatenate([where for _, _, where, _ in groups]).astype(int)
        self.signs = np.concatenate([np.full(len(where), float(sign)) for _, sign, where, _ in groups])
        self.bar = np.tile(np.concatenate([level for *_, level in groups]).astype(float), (rows, 1))

    def told(self, row: int, story: Story, start_flow) -> None:
        """Set the levels of one story that its events have changed."""
        n = self.net
        self.bar[row, self.parts["start"]] = [
            n.lip[f] + n.fallen.head(f, clear, flow) if clear > 0 and not never else NEVER
            for f, flow, clear, never in zip(n.siphons, start_flow, story.clear[n.siphons] if len(n.siphons) else (), story.cannot_start)
        ]
        if self.taps:
            self.bar[row, self.parts["tap on"]] = story.tap_level - _TOP_UP
            self.bar[row, self.parts["tap off"]] = story.tap_level

    def turns_in(self, row: int, lowest, highest, near: float):
        """The vessels of one story whose floats or siphons turn between these levels: they go up and down between the same two."""
        turn = np.concatenate([np.arange(len(self.signs))[self.parts[part]] for part in ("float on", "float off", "start", "break")])
        where, bar = self.watched[turn], self.bar[row, turn]
        return where[(lowest[where] <= bar + near) & (highest[where] >= bar - near)]

    def past(self, level):
        """How far each watched level is passed [m]; below 0 not yet."""
        return self.signs * (level[:, self.watched] - self.bar)

    def active(self, inputs: Inputs):
        """Which watched levels matter just now."""
        n, p = self.net, self.parts
        active = np.zeros(self.bar.shape, bool)
        active[:, p["float on"]] = ~self.float_on[:, self.floats]
        active[:, p["float off"]] = self.float_on[:, self.floats]
        active[:, p["cut"]] = ~self.cut[:, self.cuts]
        active[:, p["uncut"]] = self.cut[:, self.cuts]
        active[:, p["start"]] = self.siphon == TRICKLES
        active[:, p["break"]] = (self.siphon == RUNS) & ~inputs.cannot_stop
        for always in ("lip", "film", "rim", "media up", "media down"):
            active[:, p[always]] = True
        active[:, p["air"]] = self.primed & ~self.on[:, n.way_line] & inputs.back
        if self.taps:
            ball = inputs.tap_level > -NEVER
            active[:, p["tap on"]] = ball & ~self.tap_on
            active[:, p["tap off"]] = ball & self.tap_on
        return active

    def only(self, live) -> None:
        """Leave the other stories behind."""
        for name in ("float_on", "cut", "on", "pumping", "on_since", "siphon", "primed", "tap_on", "bar"):
            setattr(self, name, getattr(self, name)[live])

    def waits(self, time):
        """How long floats that are low already must still let their pumps run [s], by story; infinite where none does."""
        left = self.on_since + self.least_run - time[:, None]
        waits = self.float_on & self.on & (left > 0)
        self.waiting = bool(waits.any())
        return np.where(waits, left, np.inf).min(axis=1)

    def reached(self, reached, time, water: Water) -> None:
        """Turn what has met its level."""
        n, p = self.net, self.parts
        long_enough = (time[:, None] - self.on_since >= self.least_run - 1e-9)[:, self.floats]
        self.float_on[:, self.floats] |= reached[:, p["float on"]]
        self.float_on[:, self.floats] &= ~(reached[:, p["float off"]] & long_enough)
        self.cut[:, self.cuts] |= reached[:, p["cut"]]
        self.cut[:, self.cuts] &= ~reached[:, p["uncut"]]
        self.siphon[reached[:, p["start"]]] = FILLS
        broken = reached[:, p["break"]]
        if broken.any():
            self.siphon[broken] = TRICKLES
            freed = np.where(broken, water.siphons, 0.0)
            water.siphons = water.siphons - freed
            np.add.at(water.vessels.T, n.siphon_into, freed.T)
        self.primed &= ~reached[:, p["air"]]
        if self.taps:
            self.tap_on |= reached[:, p["tap on"]]
            self.tap_on &= ~reached[:, p["tap off"]]

    def settle(self, level, time, inputs: Inputs, water: Water) -> None:
        """Which pumps run now, which siphons; what that does to the water in their pipes."""
        n, g = self.net, inputs
        self.siphon[(self.siphon == FILLS) & (water.siphons >= n.siphon_held * (1 - 1e-9))] = RUNS
        on = g.runnable & (self.float_on | ~self.is_float) & ~self.cut
        self.on_since = np.where(on & ~self.on, time[:, None], self.on_since)
        self.on = on
        self.pumping = on & (water.lines >= n.line_held * (1 - 1e-9))
        if len(n.way_line):
            self.primed |= self.pumping[:, n.way_line]
            self.primed &= on[:, n.way_line] | (level[:, n.way_to] > n.way_air) | ~g.back
        empties = ~on & g.drains & (water.lines > 0)
        if empties.any():
            held = np.zeros_like(on)
            np.logical_or.at(held.T, n.way_line, (self.primed & g.back).T)
            freed = np.where(empties & ~held, water.lines, 0.0)
            water.lines = water.lines - freed
            np.add.at(water.vessels.T, n.line_from, freed.T)
        self.filling = bool((on & ~self.pumping).any() or (self.siphon == FILLS).any())

    def state(self):
        """A copy of all that, if it changes, asks for a short step."""
        return [part.copy() for part in (self.siphon, self.on, self.pumping, self.tap_on)]

    def told_of(self, row: int) -> bytes:
        """All that switches in one story, as one thing to compare."""
        parts = (self.float_on, self.cut, self.on, self.pumping, self.siphon, self.primed, self.tap_on)
        return b"".join(part[row].tobytes() for part in parts)


def part_to(before, passed, rise, aim):
    """Where, as a part of a step, what goes from `before` to `passed` and sets out at `rise` is just at `aim`: a parabola's root."""
    with np.errstate(divide="ignore", invalid="ignore"):  # a level that is never watched is infinitely far
        bend = passed - before - rise
        inside = np.maximum(rise * rise + 4 * bend * (aim - before), 0.0)
        bent = 2 * (aim - before) / (rise + np.sqrt(inside))
        straight = (aim - before) / (passed - before)
    return np.where((bent > 0) & (bent < 1), bent, straight)

"""What happens to a build from one time on, for many stories side by side: the inputs of `aquaplumb.system.stepping`.

A *story* is what happens to the build (its events and timers). Bare SI numbers only.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from aquaplumb.system.flow_tables import SOURCE, Network
from aquaplumb.units import DesignError

NEVER = 1e9  # m: a level that is never reached


class Endless(DesignError):
    """A run that would not end in any useful time: `where` it is held up, in a `sentence`, and the `cure`."""

    def __init__(self, where: str, sentence: str, cure: str):
        super().__init__(f"{sentence} {cure}")
        self.where, self.sentence, self.cure = where, sentence, cure


class Story:
    """What is true of one story from one time on: inputs that events and timers change."""

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
        self.tap, self.tap_level = np.zeros(vessels), np.full(vessels, -NEVER)  # m³/s; elevation of a float valve


def gathered(stories: list[Story], network: Network) -> SimpleNamespace:
    """The inputs of all stories as arrays, a row a story; made anew when one of them has changed."""
    s, n, g = stories, network, SimpleNamespace()
    for name in ("failed", "stuck", "timer", "clear", "cannot_stop", "rain", "evaporation", "tap", "tap_level"):
        setattr(g, name, np.array([getattr(one, name) for one in s]))
    g.power = np.array([one.power for one in s])[:, None]
    g.runnable = g.power & ~g.failed & g.timer
    g.weather = bool(g.rain.any() or g.evaporation.any() or g.tap.any())
    g.constant_tap = g.tap * (g.tap_level <= -NEVER)
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

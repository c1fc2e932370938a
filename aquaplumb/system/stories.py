"""What happens to a build from one time on, for many stories side by side: the inputs of `aquaplumb.system.stepping`.

A *story* is what happens to the build (its events and timers). Bare SI numbers only.
"""

from __future__ import annotations

from dataclasses import dataclass

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
        self.loose = np.zeros(lines, bool)  # its pipe has come off the pump
        self.blocked: list[float | None] = [None] * lines
        self.clear = network.clear.copy() if falls else np.zeros(0)
        self.cannot_start, self.cannot_stop = np.zeros(len(network.siphons), bool), np.zeros(len(network.siphons), bool)
        self.rain, self.evaporation = np.zeros(vessels), np.zeros(vessels)  # m³/s
        self.tap, self.tap_level = np.zeros(vessels), np.full(vessels, -NEVER)  # m³/s; elevation of a float valve


@dataclass(frozen=True, slots=True)
class Inputs:
    """The inputs of all stories as arrays, a row a story."""

    runnable: np.ndarray  #: pumps that could run
    fall_places: np.ndarray  #: of each falling line's flows, with the part of it that is open; see `flow_tables.FallTables`
    cannot_stop: np.ndarray  #: siphons
    rain: np.ndarray  #: into each vessel [m³/s]
    evaporation: np.ndarray  #: [m³/s]
    tap: np.ndarray  #: top-up of each vessel [m³/s]
    tap_level: np.ndarray  #: elevation of its float valve [m]
    constant_tap: np.ndarray  #: top-ups without a float valve [m³/s]
    weather: bool  #: whether there is any rain, evaporation or top-up
    base_start: np.ndarray  #: flows out of each end by level over the floor of the pump's vessel, as straight pieces:
    base_slope: np.ndarray  #: start + slope × level
    drowned: list[tuple]  #: (line, its ends, vessel, its lowest and highest level, change of the flows); see `flow_tables`
    open: np.ndarray  #: ways that no valve shuts
    back: np.ndarray  #: ways that let water back through a pump that stands
    ways: bool  #: whether water may find any way through a pump that stands
    loose: np.ndarray  #: what a pump throws out whose pipe has come off [m³/s]
    drains: np.ndarray  #: pumped pipes that empty when the pump stands


def gathered(stories: list[Story], network: Network) -> Inputs:
    """The inputs of all stories; made anew when one of them has changed."""
    n = network
    each = {name: np.array([getattr(one, name) for one in stories]) for name in ("cannot_stop", "rain", "evaporation", "tap", "tap_level")}
    places = n.fallen.places(np.array([one.clear for one in stories])) if n.falls else np.zeros((len(stories), 0), int)
    runnable = np.array([one.power & ~one.failed & one.timer for one in stories])
    stuck = np.array([one.stuck for one in stories])
    base = np.zeros((len(stories), len(n.ends), SOURCE))
    drowned = []
    for p in range(len(n.lines)):
        mine = np.flatnonzero(n.end_line == p)
        found = [n.base(p, one.shut[p], one.blocked[p]) for one in stories]
        base[:, mine] = np.array([f.flow for f in found])
        for i, (vessel, low, high, _) in enumerate(found[0].drowned):
            drowned.append((p, mine, vessel, low, high, np.array([f.drowned[i][3] for f in found])))
    slope = np.diff(base, axis=2) / n.grid[n.end_line][:, None]
    # A way is shut where each of its ends has a valve shut between it and the pump's vessel.
    shut = [[all(path & set(one.shut[p]) for path in paths) for p, paths in zip(n.way_line, n.way_paths)] for one in stories]
    open_ = ~np.array(shut, bool).reshape(len(stories), len(n.way_line))
    stuck_ways = stuck[:, n.way_line]
    back = np.where(n.way_across, ~stuck_ways, ~n.way_checked | stuck_ways) & open_
    return Inputs(
        **each, runnable=runnable, fall_places=places,
        weather=bool(each["rain"].any() or each["evaporation"].any() or each["tap"].any()),
        constant_tap=each["tap"] * (each["tap_level"] <= -NEVER), drowned=drowned,
        base_slope=slope, base_start=base[:, :, :-1] - slope * (n.grid[n.end_line][:, None] * np.arange(SOURCE - 1)),
        loose=np.array([one.loose for one in stories]) * n.free_flow, open=open_, back=back, ways=bool(back.any() or n.way_forth.any()), drains=~n.checked | stuck,
    )  # fmt: skip

"""What a falling line carries at a level: its mouth, its screen and its pipe in a row, and the least of mouth and full pipe.

    way = Way(bore=0.05, length=1.2, k=2.4, temperature=293.15, screen=8e-3)
    way.mouth(0.02), way.full(0.9)     # m³/s; the line carries the lesser

Bare SI numbers only; `aquaplumb.plumbing.drains` has the parts of it as public functions.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from aquaplumb.plumbing import fittings, full_pipe
from aquaplumb.plumbing.drains import ORIFICE, crest_flow, side_outlet_flow, standpipe_flow
from aquaplumb.plumbing.fittings import ENTRANCE, EXIT
from aquaplumb.units import GRAVITY

ENTRIES = ("upright", "side", "bottom")  # a standpipe's mouth, a hole in a wall, a hole in a floor, which takes water as a standpipe does
_CALM = (
    5e-4  # m: under so small a difference of levels a drowned pipe's flow is taken as a straight line, so that it settles and does not ring
)
_GRID = (np.arange(401) / 400.0) ** 2  # heads of a table, as parts of the highest


@dataclass(frozen=True, slots=True)
class Way:
    """A falling line as its water meets it: mouth and screen, then the pipe."""

    bore: float  #: [m]
    length: float  #: [m]
    k: float  #: of its fittings and valve with entrance and exit, infinite where it is shut; its check valves apart
    temperature: float  #: [K]
    opening_head: float = 0.0  #: that its check valves need to open [m]
    check_k: float = 0.0  #: of them wide open
    screen: float | None = None  #: open area of its screen, clean [m²]; None without one
    entry: str = "upright"  #: one of `ENTRIES`, or "tee" for a branch of a pipe
    fills: bool = False  #: whether it becomes a siphon as it fills: to its crest a weir

    def behind_screen(self, clear: float) -> float:
        """The head [m] that a unit flow squared loses in the screen, with this part of it open. An orifice: v²/2g over 0.6²."""
        if self.screen is None:
            return 0.0
        return 1.0 / (2.0 * GRAVITY * np.square(ORIFICE * self.screen * np.maximum(clear, 1e-9)))

    def full(self, down, clear: float = 1.0):
        """The flow of the full pipe at a difference of levels; with no screen, `clear` is the open part of its bore."""
        if np.isinf(self.k):
            return np.zeros_like(np.asarray(down, float))[()]
        area = np.pi / 4.0 * self.bore**2
        k = self.k + self.behind_screen(clear) * 2.0 * GRAVITY * area**2
        pipe = {"bore": self.bore, "length": self.length, "temperature": self.temperature}
        flow = full_pipe.full_bore_flow.si(down, k=k, **pipe)
        if self.opening_head or self.check_k:  # whichever costs more: lifting the flap, or passing it wide open
            lifted = full_pipe.full_bore_flow.si(np.subtract(down, self.opening_head), k=k, **pipe)
            flow = np.minimum(lifted, full_pipe.full_bore_flow.si(down, k=k + self.check_k, **pipe))
        return flow if self.screen is not None else flow * clear

    def mouth(self, over, clear: float = 1.0):
        """The flow over its lip at a depth of water over it, before its screen."""
        over = np.asarray(over, float)
        if self.screen is None:
            return self._open(over)[()] * clear
        most = float(np.max(over, initial=0.0))
        if most <= 0:
            return np.zeros_like(over)[()]
        flow = self._open(most * _GRID)  # in a row with the screen: the heads add up at each flow
        return np.interp(over, most * _GRID + self.behind_screen(clear) * flow**2, flow)[()]

    def _open(self, over):
        if self.fills:
            return crest_flow.si(over, self.bore)
        if self.entry == "tee":
            return tee_flow(over, self.bore)
        return (side_outlet_flow if self.entry == "side" else standpipe_flow).si(over, self.bore)


def tee_flow(over, bore: float):
    """What can go into a branch at most, at a depth of water over its start: no faster than water falls, so that nothing is sucked in."""
    over = np.maximum(over, 0.0)
    return np.pi / 4 * bore**2 * np.sqrt(2 * GRAVITY * over) * np.minimum(over / bore, 1.0)


@functools.lru_cache(maxsize=4096)
def tables(way: Way, over: float, down: float, clear: float) -> tuple[np.ndarray, np.ndarray]:
    """(flow of its mouth, flow of its full pipe), each at heads that rise to the highest by the square of their number."""
    if clear <= 0:
        return np.zeros(len(_GRID)), np.zeros(len(_GRID))
    heads = down * _GRID
    full, calm = np.asarray(way.full(heads, clear)), float(way.full(_CALM, clear))
    found = np.asarray(way.mouth(over * _GRID, clear)), np.where(heads < _CALM, calm / _CALM * heads, full)
    for flow in found:
        flow[0] = 0.0
        flow.flags.writeable = False
    return found


def way_of(line, temperature: float, *, exits: bool = True) -> Way:
    """The way of a bare falling line of a build; one that goes on in more pipe keeps its speed (`exits` False)."""
    found = fittings.losses(line.fittings)
    valve = fittings.valve_k.si(line.valve, line.opening) if line.valve else 0.0
    ends = (ENTRANCE if line.entry != "tee" else 0.0) + (EXIT if exits else 0.0)  # a tee's loss is its fitting's
    return Way(
        bore=line.bore, length=line.length, k=found.si.k + ends + valve, temperature=temperature, opening_head=found.si.opening_head,
        check_k=found.si.check_k, screen=line.screen_open_area or None, entry=line.entry,
    )  # fmt: skip

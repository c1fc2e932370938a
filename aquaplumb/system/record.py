"""What a run of `aquaplumb.system.stepping` leaves behind: a row a step, and which rows happened again and again. Bare SI numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Again:
    """Rows of a record that happened again and again, right after they did."""

    first: int  #: the first of these rows
    end: int  #: the row after the last
    times: int  #: how often again
    period: float  #: [s]
    moved: dict[str, np.ndarray]  #: what a cycle adds to each number that goes on, by its name in `Steps`


@dataclass(frozen=True, slots=True)
class Steps:
    """The record of one story, a row a step."""

    time: np.ndarray  #: [s]
    level: np.ndarray  #: elevation of each vessel's water [m]
    volume: np.ndarray  #: in each vessel [m³]
    flow: np.ndarray  #: of each line [m³/s], in the order of `line_flows`
    on: np.ndarray  #: pumps that have power
    dry: np.ndarray  #: … and draw air
    siphon: np.ndarray  #: the state of each siphon
    spilled: np.ndarray  #: over each rim until then [m³]
    added: np.ndarray  #: by rain and top-up until then [m³]
    air: np.ndarray  #: evaporated until then [m³]
    pipes: np.ndarray  #: in pumped pipes and siphons [m³]
    balance: float  #: water that the arithmetic has lost or found [m³]
    again: list[Again]  #: rows that happened again and again

    def whole(self, name: str) -> np.ndarray:
        """A column of it, with the rows that happened again as often as they did."""
        kept = getattr(self, name)
        if not self.again:
            return kept
        parts, begun = [], 0
        for one in self.again:
            cycles = np.broadcast_to(kept[one.first : one.end], (one.times, one.end - one.first, *kept.shape[1:]))
            if name in one.moved:
                cycles = cycles + np.multiply.outer(np.arange(1, one.times + 1), one.moved[name])[:, None]
            parts += [kept[begun : one.end], cycles.reshape(one.times * (one.end - one.first), *kept.shape[1:])]
            begun = one.end
        return np.concatenate([*parts, kept[begun:]])

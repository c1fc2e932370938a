"""A falling tree of pipe at one level of its vessel: what goes through each stretch. Bare SI numbers.

The tree is the one of `aquaplumb.plumbing.line_solver`, with the vessel's water in place of a pump; each stretch is a `falls.Way`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aquaplumb import water
from aquaplumb.plumbing import line_solver
from aquaplumb.plumbing.falls import Way
from aquaplumb.plumbing.line_records import FAR
from aquaplumb.plumbing.pipes import ROUGHNESS, friction_head
from aquaplumb.units import GRAVITY

_LEAST = 1e-3  # m: a fall under which nothing is asked of a tree


@dataclass(frozen=True)
class Branches:
    """Stretches in any order, each with the one that it follows (-1 for the first), and what each has to rise over."""

    ways: Sequence[Way]
    parents: tuple[int, ...]
    over: Sequence[
        float
    ]  #: elevation down to which each can run full: its outlet or crown; of an end, the water there if that is higher [m]

    @property
    def lowest(self) -> float:
        """The lowest end, or what the way to it has to rise over [m]."""
        return float(min(self._ends()))

    def _ends(self) -> np.ndarray:
        """What each end's water has to rise over, its whole way along, in the order of the topology's ends."""
        shape, found = line_solver.topology(self.parents), []
        for end in shape.end_links.tolist():
            high, here, open_ = self.over[end], end, True
            while here >= 0:
                open_ &= not np.isinf(self.ways[here].k)
                if here != end:
                    high = max(high, self.over[here])
                here = self.parents[here]
            found.append(high if open_ else FAR)
        return np.array(found)

    def flows(self, level: float, most: float = np.inf) -> np.ndarray:
        """The flow of each stretch with the vessel's water at a level, and no more than `most` let in by its mouth [m³/s]."""
        shape, ways = line_solver.topology(self.parents), self.ways

        def column(values):
            return np.array(list(values), float)[:, None]

        links = line_solver.Links(
            bore=column(w.bore for w in ways), length=column(w.length for w in ways), roughness=np.full((len(ways), 1), ROUGHNESS),
            k=column((0.0 if np.isinf(w.k) else w.k) + w.behind_screen(1.0) * 2 * GRAVITY * (np.pi / 4 * w.bore**2) ** 2 for w in ways),
            viscosity=water.kinematic_viscosity.si(ways[0].temperature),
            opening_head=column(w.opening_head for w in ways), check_k=column(w.check_k for w in ways),
        )  # fmt: skip
        ends = self._ends()
        if level <= ends.min() or most <= 0:
            return np.zeros(len(ways))
        found, _ = line_solver.end_flows(shape, links, ends[:, None], source=np.array([level]))
        if found.sum() > most:
            found, _ = line_solver.end_flows(shape, links, ends[:, None], flow=np.array([most]))
        return shape.link_flow(found)[:, 0]

    def as_one(self, level: float, first: int) -> float:
        """The loss [speed heads in the first stretch] with which a single pipe of its bore and length, down to the lowest end, carries as much."""
        fall, way = level - self.lowest, self.ways[first]
        flow = float(self.flows(level)[first]) if fall > _LEAST else 0.0
        if flow <= 0:
            return np.inf
        speed_head = (flow / (np.pi / 4 * way.bore**2)) ** 2 / (2 * GRAVITY)
        friction = float(friction_head.si(flow, way.bore, way.length, temperature=way.temperature))
        return max(0.0, (fall - friction) / speed_head)

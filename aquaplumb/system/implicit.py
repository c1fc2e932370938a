"""The linear part of a step of `aquaplumb.system.stepping`: volumes x with (1 − h J) x = h f, for several stories and parts of a step.

J is how the change of each vessel's volume answers to each volume. Of few vessels it is inverted whole. Of many, most hang
on the same few: beds on a tank and a sump. Those of which no two are joined by a line (`leaves`) are taken out first, each by
one division, and only what is left (`core`) is inverted: the Schur complement (any text on linear algebra). Bare SI numbers.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

DENSE = 24  # vessels up to which the whole is inverted

Solve = Callable[[int | slice, np.ndarray], np.ndarray]  # (which parts of a step, f) to x


def whole(parts, jacobian) -> Solve:
    """By the inverse. `parts` [parts, stories, 1, 1] are steps in s, `jacobian` is [stories, vessels, vessels]."""
    solve = np.linalg.inv(np.eye(jacobian.shape[-1]) - parts * jacobian) * parts
    return lambda which, force: (solve[which] @ force[..., None])[..., 0]


def leaves(start: np.ndarray, end: np.ndarray, vessels: int) -> tuple[np.ndarray, np.ndarray]:
    """(vessels of which no two are joined by a line, the others): those with the fewest neighbours first."""
    beside: list[set[int]] = [set() for _ in range(vessels)]
    for one, other in zip(start.tolist(), end.tolist()):
        if one != other:
            beside[one].add(other)
            beside[other].add(one)
    taken, shut = [], set()
    for one in sorted(range(vessels), key=lambda v: len(beside[v])):
        if one not in shut:
            taken.append(one)
            shut |= {one, *beside[one]}
    rest = sorted(set(range(vessels)) - set(taken))
    return np.array(sorted(taken), int), np.array(rest, int)


class Parted:
    """Solves by leaves and core. `scatter` maps slopes to the cells of J, row by row, as `LineFlows` has it (a sparse matrix)."""

    def __init__(self, start, end, vessels: int, scatter):
        self.leaf, self.core = leaf, core = leaves(start, end, vessels)
        blocks = (leaf * (vessels + 1), *(np.add.outer(row * vessels, column).ravel() for row, column in ((leaf, core), (core, leaf), (core, core))))  # fmt: skip
        self.scatter = scatter[np.concatenate(blocks)]
        self.ends = np.cumsum([len(block) for block in blocks])[:-1]
        self.place = np.argsort(np.concatenate([leaf, core]))

    def __call__(self, parts, slopes) -> Solve:
        """`slopes` [stories, lines' starts and ends] in 1/s; `parts` as in `whole`."""
        own, to_core, to_leaf, among = np.split(np.asarray((self.scatter @ slopes.T).T), self.ends, axis=1)
        leaf, core, step = len(self.leaf), len(self.core), parts[..., 0]
        pull = parts * to_core.reshape(-1, leaf, core)
        push = parts * to_leaf.reshape(-1, core, leaf)
        each = 1.0 / (1.0 - step * own)
        share = push * each[..., None, :]  # what of a leaf's force comes to the core
        inner = np.linalg.inv(np.eye(core) - parts * among.reshape(-1, core, core) - share @ pull)

        def solve(which, force):
            on_leaf, on_core = step[which] * force[..., self.leaf], step[which] * force[..., self.core]
            moved = (inner[which] @ (on_core[..., None] + share[which] @ on_leaf[..., None]))[..., 0]
            hung = each[which] * (on_leaf + (pull[which] @ moved[..., None])[..., 0])
            return np.concatenate([hung, moved], axis=-1)[..., self.place]

        return solve

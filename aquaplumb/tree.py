"""The numbers behind a branched line: the flow in every link of a tree of pipe, solved as a whole.

Bare SI numbers only; `aquaplumb.lines` is the face. A tree is a list of links, each following another. Water
enters at the first link and leaves where nothing follows. Every array has the links along its first axis; any
further axes are designs, solved side by side.

How it is solved: every link's head loss is replaced by its tangent, h ≈ h₀ + s (q − q₀). Seen from its upper
end a whole branch then behaves as one straight line, q = (H − C)/S. Branches are added up from the far ends
to the pump (side by side 1/S adds, in a row S adds), the pump's own tangent closes the sum, and the flows
follow on the way back. Repeating this is Newton's method; four to eight rounds are usual.
"""

from __future__ import annotations

import functools
from dataclasses import InitVar, dataclass

import numpy as np

from aquaplumb.pipes import GRAVITY, factor_and_slope

_ROUNDS = 500  # far more than any tree tried has needed
_CALM = 10  # rounds of full steps; after these, flows that swing take half steps and dry ends wake one by one
_SHUT = 1e12  # resistance of a dry end: 1 m of head leaks 1e-12 m/s
_STIRS = 1e-8  # m: head to spare from which a dry end wakes
_SETTLED = 1e-7  # m/s over the ends: the last change of a flow; Newton's next would be its square
_TRICKLE = 1.0  # Reynolds number under which a loss is taken as a straight line
_BLOCK = 2048  # designs solved at a time, so that the arrays stay in the processor's cache


class Topology:
    """Which link follows which, sorted once, so that the solver loops over depth and never over links.

    Links in a row without a branch carry one flow and make up one *run*. Runs are kept level by level, those
    that leave one junction side by side. ``ends`` are the runs that feed no other, ``end_links`` their last links.
    """

    def __init__(self, parents: tuple[int, ...]):
        children: list[list[int]] = [[] for _ in parents]
        for link, parent in enumerate(parents):
            if parent >= 0:
                children[parent].append(link)
        runs, above, level = [], [], [(parents.index(-1), -1)]
        self.levels = []  # below the first: its runs, where each junction's begin, the runs above, the junction of each
        while level:
            first, below = len(runs), []
            for link, over in level:
                run = [link]
                while len(children[run[-1]]) == 1:
                    run.append(children[run[-1]][0])
                below += [(child, len(runs)) for child in children[run[-1]]]
                runs.append(run)
                above.append(over)
            if first:
                feeders, starts, junction = np.unique(above[first:], return_index=True, return_inverse=True)
                self.levels.append((slice(first, len(runs)), starts, feeders, junction))
            level = below
        self.order = np.array([link for run in runs for link in run])
        self.place = np.argsort(self.order)
        self.starts = np.cumsum([0] + [len(run) for run in runs[:-1]])
        self.run_of = np.repeat(np.arange(len(runs)), [len(run) for run in runs])
        self.joined = len(runs) < len(parents)
        self.ends = np.array([i for i, run in enumerate(runs) if not children[run[-1]]])
        self.end_links = np.array([runs[i][-1] for i in self.ends])
        self.size, self.count = len(parents), len(runs)

    def summed(self, end_flow: np.ndarray) -> np.ndarray:
        """The flow of every run when the ends carry these flows: mass balance at every junction."""
        q = np.zeros((self.count, *end_flow.shape[1:]))
        q[self.ends] = end_flow
        for runs, starts, feeders, _ in reversed(self.levels):
            q[feeders] = np.add.reduceat(q[runs], starts, axis=0)
        return q

    def link_flow(self, end_flow: np.ndarray) -> np.ndarray:
        """The flow of every link, in the caller's order, when the ends carry these flows."""
        return self.summed(end_flow)[self.run_of][self.place]


topology = functools.lru_cache(maxsize=256)(Topology)


@dataclass
class Links:
    """The links of a tree: bare SI arrays, links first, then designs (as many axes in each array).

    `k` is everything that costs speed heads of the link's own bore (fittings, valve, nozzle, exit).
    A check valve costs its `opening_head`, or ``check_k`` speed heads once those are more.
    """

    bore: np.ndarray
    length: np.ndarray
    roughness: np.ndarray
    k: np.ndarray
    viscosity: InitVar[float | np.ndarray]
    opening_head: np.ndarray | None = None
    check_k: np.ndarray | None = None

    def __post_init__(self, viscosity):
        self.area = np.pi / 4 * self.bore**2
        self.slender = self.length / self.bore
        self.relative = self.roughness / self.bore
        self.reynolds = self.bore / (self.area * viscosity)  # for a unit flow
        self.least = _TRICKLE / self.reynolds
        self.speed_head = 1 / (2 * GRAVITY * self.area**2)  # for a unit flow

    def picked(self, pick) -> Links:
        """The same links with every array passed through `pick`: sorted, or cut to some designs."""
        new = object.__new__(Links)
        vars(new).update({name: pick(value) if isinstance(value, np.ndarray) else value for name, value in vars(self).items()})
        return new

    def loss(self, q: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Head loss of every link at its flow, and its slope: (h, dh/dq)."""
        size = np.abs(q)
        trickle = size <= self.least
        size = np.maximum(size, self.least)
        factor, bend = factor_and_slope(self.reynolds * size, self.relative)
        pipe = factor * self.slender
        unit = self.speed_head * size
        both = pipe + self.k
        h = unit * both * q
        slope = unit * (2 * both + pipe * bend)
        if trickle.any():
            slope = np.where(trickle, unit * both, slope)
        if self.opening_head is not None:
            open_ = unit * self.check_k * q
            wide = open_ > self.opening_head
            h = h + np.where(wide, open_, self.opening_head)
            slope = slope + np.where(wide, 2 * unit * self.check_k, 0.0)
        return h, np.maximum(slope, 1e-6 * unit)


def end_flows(shape: Topology, links: Links, outlet: np.ndarray, *, pump=None, source=0.0, flow=None):
    """The flow out of every end and the head that the supply gives, the whole tree at once.

    Parameters
    ----------
    shape : Topology
    links : Links, in the order of the topology's parents
    outlet : array, elevation of the water at each end, in the order of ``shape.ends`` [m]
    pump : callable, flow -> (head, slope), added to `source`; without it the supply stands at `source`
    source : scalar or array of designs, level of the water that the line draws from [m]
    flow : scalar or array of designs, a fixed flow into the line in place of a pump [m³/s]

    Returns
    -------
    tuple
        Flow of every end [m³/s], exactly 0 where it is dry; head at the top of the tree [m].

    Raises
    ------
    RuntimeError
        When the flows do not settle: a fault in the program, not in the design.
    """
    links = links.picked(lambda value: value[shape.order])
    extent = [links.k, links.reynolds, links.speed_head, links.slender, outlet]
    batch = np.broadcast_shapes(*(a.shape[1:] for a in extent), np.shape(source), np.shape(0.0 if flow is None else flow))
    if len(batch) != 1 or batch[0] <= _BLOCK:
        return _solved(shape, links, outlet, pump, source, flow, batch)
    flows, heads = [], []
    for first in range(0, batch[0], _BLOCK):
        part = slice(first, min(first + _BLOCK, batch[0]))

        def cut(value, part=part):
            return value[..., part] if np.ndim(value) and np.shape(value)[-1] == batch[0] else value

        count = (part.stop - part.start,)
        block = links.picked(cut), cut(outlet), pump, cut(source), None if flow is None else cut(flow)
        q, head = _solved(shape, *block, count)
        flows.append(q)
        heads.append(np.broadcast_to(head, count))
    return np.concatenate(flows, axis=-1), np.concatenate(heads)


def _solved(shape, links, outlet, pump, source, flow, batch):
    """Newton's rounds on links that are sorted already."""
    ends, run_of = shape.ends, shape.run_of
    area = links.area[np.searchsorted(run_of, ends, side="right") - 1]
    still, shut = _SETTLED * area.sum(axis=0), _SHUT / area
    guess = area if flow is None else area / area.sum(axis=0) * flow  # 1 m/s at every end, or the flow shared by area
    q = shape.summed(np.broadcast_to(guess, (len(ends), *batch)))
    past = 0.0
    for turn in range(_ROUNDS):
        h, s = links.loss(q[run_of] if shape.joined else q)
        if shape.joined:
            h, s = np.add.reduceat(h, shape.starts, axis=0), np.add.reduceat(s, shape.starts, axis=0)
        at_end = q[ends]
        some_dry = at_end.min() <= 0
        if some_dry:
            dry = at_end <= 0
            s[ends] = np.where(dry, shut, s[ends])
        new, head = _step(shape, h - s * q, s, q[0], outlet, pump, source, flow)
        flowing = new[ends]
        woken = False
        if some_dry or flowing.min() < 0:
            flowing = np.maximum(flowing, 0.0)
            if some_dry:
                wakes = dry & (flowing > _STIRS / shut)
                flowing = np.where(dry, 0.0, flowing)
                woken = bool(wakes.any())
                if woken:
                    if turn >= _CALM:
                        wakes = _foremost(wakes, new[ends] * shut, np.abs(flowing - at_end) <= still)
                    flowing = np.where(wakes, area * max(0.5 ** (turn + 1), 0.05), flowing)  # a modest speed to start from
            new = shape.summed(flowing)
        step = new - q
        if not woken and (np.abs(step) <= still).all() and (np.abs(step[ends]) <= 1e-4 * flowing + 1e-9 * area).all():
            return flowing, head
        if turn >= _CALM:
            step = np.where(step * past < 0, 0.5 * step, step)
        q, past = q + step, step
    raise RuntimeError(f"the flows of a tree of {shape.size} stretches did not settle in {_ROUNDS} rounds")


def _foremost(wakes, excess, at_rest):
    """Of the ends that would wake, the one with most head to spare, and that only once the others are at rest.

    When ends wake and fall dry by turns, this takes them in one by one, each time from a settled state.
    """
    excess = np.where(wakes, excess, 0.0)
    return wakes & (excess == excess.max(axis=0)) & at_rest.all(axis=0)


def _step(shape, rest, s, q0, outlet, pump, source, flow):
    """One Newton step: the flow of every run, and the head at the top, where each loss is ``rest + s q``."""
    c, kept = rest, []
    c[shape.ends] += outlet
    for runs, starts, feeders, junction in reversed(shape.levels):  # from the far ends to the pump
        give = 1.0 / s[runs]
        joint = 1.0 / np.add.reduceat(give, starts, axis=0)
        level = np.add.reduceat(c[runs] * give, starts, axis=0) * joint
        s[feeders] += joint
        c[feeders] += level
        kept.append((runs, feeders, junction, give, joint, level))
    q = np.empty_like(s)
    if flow is not None:
        q[0] = flow
        head = c[0] + s[0] * flow
    elif pump is None:
        q[0] = (source - c[0]) / s[0]
        head = source
    else:
        lift, tilt = pump(np.maximum(q0, 0.0))
        top = source + lift - tilt * q0
        q[0] = (top - c[0]) / (s[0] - tilt)
        head = top + tilt * q[0]
    for runs, feeders, junction, give, joint, level in reversed(kept):  # and back
        q[runs] = ((level + joint * q[feeders])[junction] - c[runs]) * give
    return q, head

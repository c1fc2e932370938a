"""The numbers behind a branched line: the flow in every link of a tree of pipe, solved as a whole.

Bare SI numbers only; `aquaplumb.plumbing.lines` is the face. A tree is a list of links, each following another. Water
enters at the first link and leaves where nothing follows. Every array has the links along its first axis; any
further axes are designs, solved side by side.

How it is solved: every link's head loss is replaced by its tangent, h ≈ h₀ + s (q − q₀). Seen from its upper
end a whole branch then behaves as one straight line, q = (H − C)/S. Branches are added up from the far ends
to the pump (side by side 1/S adds, in a row S adds), the pump's own tangent closes the sum, and the flows
follow on the way back. Repeating this is Newton's method; four to seven rounds are usual.
"""

from __future__ import annotations

import functools
from dataclasses import InitVar, dataclass

import numpy as np

from aquaplumb.plumbing.pipes import factor_and_slope
from aquaplumb.units import GRAVITY

_CALM = 12  # rounds of full steps, enough for all but one in a hundred odd designs
_ROUNDS = 300  # of careful steps: far more than any tree tried has needed
_SHUT = 1e12  # resistance of a dry end: 1 m of head leaks 1e-12 m/s
_STIRS = 1e-8  # m: head to spare from which a dry end wakes
_SETTLED = 1e-4  # the last change of an end's flow, as a part of it; Newton's next would be its square
_LEAST = 1e-9  # m/s: a change of flow too small to matter
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
        runs, level, first = [], [[parents.index(-1)]], 0
        self.levels = []  # below the first: its runs, where each junction's begin, the runs above, the junction of each
        while level:
            for run in level:
                while len(children[run[-1]]) == 1:
                    run.append(children[run[-1]][0])
            feeders = [first + i for i, run in enumerate(level) if children[run[-1]]]
            first += len(level)
            runs += level
            level = [[child] for run in level for child in children[run[-1]]]
            if level:
                counts = np.array([len(children[runs[i][-1]]) for i in feeders])
                junction = np.repeat(np.arange(len(feeders)), counts)
                self.levels.append((slice(first, first + len(level)), np.cumsum(counts) - counts, np.array(feeders), junction))
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

    @classmethod
    def beside(cls, sets: list[Links]) -> Links:
        """Several sets of links as designs side by side, with room for one more axis at the end."""
        new = object.__new__(cls)
        for name, value in vars(sets[0]).items():
            vars(new)[name] = None if value is None else np.stack([getattr(one, name) for one in sets], axis=1)[..., None]
        return new

    def counted_in(self, flow, head) -> Links:
        """The same links with flows and heads counted in other units, one for each design.

        So each design may have its own pump, so much stronger or weaker, and all the same curve.
        """
        new = self.picked(lambda value: value)
        new.area, new.least = self.area / flow, self.least / flow
        new.reynolds, new.speed_head = self.reynolds * flow, self.speed_head * (flow**2 / head)
        if self.opening_head is not None:
            new.opening_head = self.opening_head / head
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
    """Newton's rounds on links that are sorted already; the few designs that do not settle go on to `_careful`."""
    ends, expand = shape.ends, _expander(shape)
    area = links.area[np.searchsorted(shape.run_of, ends, side="right") - 1]
    least, shut = _LEAST * area, _SHUT / area
    guess = area if flow is None else area / area.sum(axis=0) * flow  # 1 m/s at every end, or the flow shared by area
    q = shape.summed(np.broadcast_to(guess, (len(ends), *batch)))
    for turn in range(_CALM):
        h, s = expand(links, q)
        at_end = q[ends]
        some_dry = at_end.min() <= 0
        if some_dry:
            dry = at_end <= 0
            s[ends] = np.where(dry, shut, s[ends])
        new, head = _step(shape, h - s * q, s, q[0], outlet, pump, source, flow)
        flowing = new[ends]
        if some_dry or flowing.min() < 0:
            flowing = np.maximum(flowing, 0.0)
            if some_dry:  # an end that wakes starts from a modest speed
                flowing = np.where(dry, np.where(flowing > _STIRS / shut, area * 0.5 ** (turn + 1), 0.0), flowing)
            new = shape.summed(flowing)
        settled = np.abs(flowing - at_end) <= _SETTLED * flowing + least
        if settled.all():
            return flowing, head
        q = new
    given = links, flowing, outlet, source, flow
    if len(batch) != 1:
        return _careful(shape, pump, *given)
    rest = ~settled.all(axis=0)

    def cut(value):
        if isinstance(value, Links):
            return value.picked(cut)
        return value[..., rest] if np.ndim(value) and np.shape(value)[-1] == batch[0] else value

    flowing, head = np.array(flowing), np.array(np.broadcast_to(head, batch))
    flowing[:, rest], head[rest] = _careful(shape, pump, *map(cut, given))
    return flowing, head


def _expander(shape):
    """The function that gives loss and slope of every run at the flow of every run."""
    if not shape.joined:
        return lambda links, q: links.loss(q)

    def expand(links, q):
        h, s = links.loss(q[shape.run_of])
        return np.add.reduceat(h, shape.starts, axis=0), np.add.reduceat(s, shape.starts, axis=0)

    return expand


def _careful(shape, pump, links, x, outlet, source, flow):
    """Newton's rounds that cannot miss: each goes downhill in energy, and an end falls dry only where a step meets zero.

    The flows are where the energy spent less the energy given is least, with no end below zero: a bowl with
    one bottom. A step is cut where it would pass an end's zero or the bottom of its own line.
    """
    ends, expand = shape.ends, _expander(shape)
    area = links.area[np.searchsorted(shape.run_of, ends, side="right") - 1]
    least, shut = _LEAST * area, _SHUT / area
    first = 10 * 0.3 / (GRAVITY * area)  # slope for an end that wakes: as of ten speed heads at 0.3 m/s
    if flow is not None:
        x = x * (flow / np.maximum(x.sum(axis=0), 1e-300))
    awake = np.zeros(x.shape, bool)
    for _ in range(_ROUNDS):
        q = shape.summed(x)
        h, s = expand(links, q)
        dry = (x <= 0) & ~awake
        s[ends] = np.where(dry, shut, np.where(x <= 0, first, s[ends]))
        new, head = _step(shape, h - s * q, s, q[0], outlet, pump, source, flow)
        spare = new[ends] * shut
        wakes = dry & (spare > _STIRS)
        d = np.where(dry | (x <= 0) & (new[ends] < 0), 0.0, new[ends] - x)
        at_rest = (np.abs(d) <= _SETTLED * x + least).all(axis=0)
        if at_rest.all() and not wakes.any():
            return np.maximum(x + d, 0.0), head
        with np.errstate(divide="ignore", invalid="ignore"):
            room = np.where(d < 0, -x / d, np.inf).min(axis=0)
        supply = pump if pump and flow is None else None
        tilt = functools.partial(_tilt, shape, links, q, d, outlet, source if supply or flow is None else head, supply)
        part = _bottom(tilt, np.minimum(room, 1.0), 1e-6 * np.abs(d).sum(axis=0))  # a micrometre uphill is no hill
        x = np.where((d < 0) & (part * -d >= x * (1 - 1e-12)), 0.0, np.maximum(x + part * d, 0.0))
        spare = np.where(wakes, spare, 0.0)
        awake = wakes & at_rest & (spare == spare.max(axis=0))  # one at a time, from a settled state
    raise RuntimeError(f"the flows of a tree of {shape.size} stretches did not settle in {_ROUNDS} rounds")


def _tilt(shape, links, q, d, outlet, top, pump, part):
    """The slope of the energy along a step, with this part of it taken."""
    line = shape.summed(d)
    at = q + part * line
    if pump:
        top = top + pump(np.maximum(at[0], 0.0))[0]
    return (_expander(shape)(links, at)[0] * line).sum(axis=0) + (outlet * d).sum(axis=0) - top * line[0]


def _bottom(tilt, far, level):
    """How much of a step to take: all of it, or up to where it would go uphill."""
    uphill = tilt(far) > level
    if not uphill.any():
        return far
    low, high = np.zeros_like(far), far
    for _ in range(30):
        middle = (low + high) / 2
        up = tilt(middle) > level
        low, high = np.where(up, low, middle), np.where(up, middle, high)
    return np.where(uphill, low, far)


def _step(shape, rest, s, q0, outlet, pump, source, flow):
    """One Newton step: the flow of every run, and the head at the top, where each loss is ``rest + s q``."""
    c, kept = rest, []
    c[shape.ends] += outlet
    conductance = 1.0 / s  # a branch seen from its upper end: q = conductance H − held
    held = c * conductance
    for runs, starts, feeders, junction in reversed(shape.levels):  # from the far ends to the pump
        joint = 1.0 / np.add.reduceat(conductance[runs], starts, axis=0)
        level = np.add.reduceat(held[runs], starts, axis=0) * joint
        conductance[feeders] = above = 1.0 / (s[feeders] + joint)
        held[feeders] = (c[feeders] + level) * above
        kept.append((runs, feeders, junction, joint, level))
    q = np.empty_like(s)
    if flow is not None:
        q[0] = flow
        head = (flow + held[0]) / conductance[0]
    elif pump is None:
        q[0] = source * conductance[0] - held[0]
        head = source
    else:
        lift, tilt = pump(np.maximum(q0, 0.0))
        top = source + lift - tilt * q0
        q[0] = (top * conductance[0] - held[0]) / (1.0 - tilt * conductance[0])
        head = top + tilt * q[0]
    for runs, feeders, junction, joint, level in reversed(kept):  # and back
        q[runs] = (level + joint * q[feeders])[junction] * conductance[runs] - held[runs]
    return q, head

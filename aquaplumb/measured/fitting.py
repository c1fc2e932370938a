"""Which causes explain what was measured on a line: each fitted by itself, then in pairs, ranked by how well and how simply.

The score of an explanation is the sum of squares of (measured − modelled)/σ, and 4 for each cause in it, as much as two
standard deviations; what is rare or large costs a little more. σ is of the bucket, the watch and the meter, and of 2 % by
which a typical line is off all the same (common practice, no source). The lowest score leads.

Two causes whose fits differ by less than σ can tell make one *group*: no fitting tells them apart by these readings. Bare SI.

Source: weighted least squares by `scipy.optimize`; the price of a cause is Akaike's (2 for each, doubled since few readings
speak), from memory.
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass

import numpy as np

from aquaplumb.build import MeasuredDay
from aquaplumb.measured.causes import Cause, causes
from aquaplumb.measured.model import LineModel, Try

PRICE = 4.0  # of a cause: two standard deviations
TYPICAL = {"flow": 0.02, "power": 0.05}  # part by which a typical line or motor is off all the same: common practice, no source
_SIZES = 17  # of each cause that are solved; between them its effect is read off a smooth curve
_ALIKE = 4.0  # squares of σ: two fits nearer than this are one group
_WORSE = 4.0  # a score by which one of a group may be worse than its first
_BETTER, _FAR = 1.0, 10.0  # a score by which a pair has to be better; by which a group may be worse to be told
_PAIRS, _SOUGHT = 8, 4  # causes of which pairs are looked at; pairs that are fitted to the end


@dataclass(frozen=True)
class Seen:
    """One reading: what it is of, with which valves shut, its value and its σ."""

    key: tuple[str, str]
    shut: tuple[str, ...]
    value: float
    sigma: float


@dataclass(frozen=True)
class Explanation:
    """One or two causes, fitted: their sizes, what would be read then, the sum of squares and the score."""

    causes: tuple[Cause, ...]
    sizes: tuple[float, ...]
    modelled: np.ndarray
    misfit: float
    score: float

    @property
    def name(self) -> str:
        """Its causes in short."""
        return " and ".join(cause.name for cause in self.causes)

    def words(self, system: str = "metric") -> str:
        """What would be so, with its numbers."""
        return " ".join(cause.words(size, system) for cause, size in zip(self.causes, self.sizes))

    @property
    def tried(self) -> Try:
        """What of the line is different."""
        return joined([cause.tried(np.array(size)) for cause, size in zip(self.causes, self.sizes)])


def seen_on(model: LineModel, days: list[MeasuredDay], said) -> list[Seen]:
    """What was read on a line, by the names that the model has; `said` gives (line, stretch) of an outlet's name."""
    found = []
    for day in days:
        shut = tuple(name for line, name in map(said, day.si.shut) if line == model.name)
        for one in day.of("flow", "power", "voltage"):
            line, name = said(one.si.of) if one.si.what == "flow" else (one.si.of, one.si.of)
            if line == model.name:
                sigma = float(np.hypot(one.sure, TYPICAL.get(one.si.what, 0.0) * one.value)) or 1e-9
                found.append(Seen((one.si.what, name), shut, one.value, sigma))
    return found


def _times(key) -> bool:
    """Whether what is different there multiplies; else it is added."""
    return key in ("fittings", "pump", "speed", "losses") or key[0] == "losses"


def joined(tries: list[Try]) -> Try:
    """Several causes at once: what adds is added, factors multiply."""
    found: Try = {}
    for one in tries:
        for key, value in one.items():
            times = _times(key)
            found[key] = (found[key] * value if times else found[key] + value) if key in found else value
    return found


def stacked(tries: list[Try], sizes: list[int]) -> Try:
    """Several tries side by side, each of so many sizes; what one does not change is as in the build file there."""
    found = {}
    for key in dict.fromkeys(key for one in tries for key in one):
        nothing = 1.0 if _times(key) else 0.0
        found[key] = np.concatenate([np.broadcast_to(one.get(key, nothing), (size,)) for one, size in zip(tries, sizes)])
    return found


class Fit:
    """What was read on a line against its model: `singles` and `pairs`, each an `Explanation`, and their `groups`, the best first."""

    def __init__(self, model: LineModel, seen: list[Seen], system: str = "metric"):
        self.model, self.system = model, system
        known = model.measured({}).keys()
        self.seen = [one for one in seen if one.key in known]
        self.value = np.array([one.value for one in self.seen])
        self.sigma = np.array([one.sigma for one in self.seen])
        self.causes = causes(model, system)

    def modelled(self, tries: Try, size: int = 1) -> np.ndarray:
        """What would be read in each try: readings first, then tries."""
        by_shut = {shut: self.model.measured(tries, shut, size) for shut in dict.fromkeys(one.shut for one in self.seen)}
        return np.stack([by_shut[one.shut][one.key] for one in self.seen])

    @functools.cached_property
    def reckoned(self) -> np.ndarray:
        """What would be read if all were as in the build file."""
        return self.modelled({})[:, 0]

    def misfit(self, modelled: np.ndarray) -> float:
        """The sum of squares of what is left, over σ."""
        return float((((self.value - modelled) / self.sigma) ** 2).sum())

    @functools.cached_property
    def nothing(self) -> float:
        """The score of "all is as reckoned"."""
        return self.misfit(self.reckoned)

    @functools.cached_property
    def _curves(self) -> list[tuple[np.ndarray, np.ndarray]]:
        """The sizes of each cause that were solved, and what would be read at each."""
        grids = []
        for cause in self.causes:
            place = np.linspace(cause.least, 1.0, _SIZES if cause.least == 0 else 2 * _SIZES - 1)
            grids.append(np.sign(place) * np.abs(place) ** 1.5)  # closer together where they are small
        tries = [cause.tried(grid) for cause, grid in zip(self.causes, grids)]
        sizes = [len(grid) for grid in grids]
        found = np.split(self.modelled(stacked(tries, sizes), sum(sizes)), np.cumsum(sizes)[:-1], axis=1)
        return list(zip(grids, found))

    @functools.cached_property
    def singles(self) -> list[Explanation]:
        """Each cause by itself, at the size that fits best; the best first."""
        from scipy.interpolate import PchipInterpolator
        from scipy.optimize import minimize_scalar

        sizes = []
        for grid, read in self._curves:
            curve = PchipInterpolator(grid, read, axis=1)
            at = [self.misfit(read[:, i]) + grid[i] ** 2 for i in range(len(grid))]
            best = int(np.argmin(at))
            ends = grid[max(0, best - 1)], grid[min(len(grid) - 1, best + 1)]
            found = minimize_scalar(lambda size, curve=curve: self.misfit(curve(size)) + size**2, bounds=ends, method="bounded")
            sizes.append(float(found.x if found.fun < at[best] else grid[best]))
        read = self.modelled(stacked([c.tried(np.array([s])) for c, s in zip(self.causes, sizes)], [1] * len(sizes)), len(sizes))
        return sorted(
            (self._explanation((c,), (s,), read[:, i]) for i, (c, s) in enumerate(zip(self.causes, sizes))), key=lambda one: one.score
        )

    def _explanation(self, found: tuple, sizes: tuple, modelled: np.ndarray) -> Explanation:
        misfit = self.misfit(modelled)
        score = misfit + sum(PRICE + cause.rare + size**2 for cause, size in zip(found, sizes))
        return Explanation(found, sizes, modelled, misfit, score)

    @functools.cached_property
    def pairs(self) -> list[Explanation]:
        """The best pairs of causes; none where one cause alone leaves no more than a second one costs."""
        if self.singles[0].misfit <= PRICE or len(self.seen) < 3:
            return []
        place = {id(cause): i for i, cause in enumerate(self.causes)}
        first = [place[id(one.causes[0])] for one in self._leaders[:_PAIRS]]
        rough = []
        for a, b in itertools.product(first, range(len(self.causes))):
            if a == b or (b in first and b < a) or self.causes[a].where == self.causes[b].where != "":
                continue
            (_, one), (_, other) = self._curves[a], self._curves[b]
            both = one[:, ::2, None] + other[:, None, ::2] - self.reckoned[:, None, None]  # as if their effects added up
            left = (((self.value[:, None, None] - both) / self.sigma[:, None, None]) ** 2).sum(axis=0)
            at = np.unravel_index(np.argmin(left), left.shape)
            price = self.causes[a].rare + self.causes[b].rare
            rough.append((left[at] + price, a, b, self._curves[a][0][::2][at[0]], self._curves[b][0][::2][at[1]]))
        rough.sort(key=lambda one: one[0])
        return sorted((self._fitted(*one[1:]) for one in rough[:_SOUGHT]), key=lambda one: one.score)

    def _fitted(self, a: int, b: int, x: float, y: float) -> Explanation:
        """Two causes at once, fitted to the end."""
        from scipy.optimize import least_squares

        both = self.causes[a], self.causes[b]

        def left(sizes):
            read = self.modelled(joined([cause.tried(np.array([size])) for cause, size in zip(both, sizes)]))[:, 0]
            return np.concatenate([(self.value - read) / self.sigma, sizes])

        def slope(sizes):
            step = 1e-4
            at = np.array([sizes, *(sizes + step * np.eye(2))])
            read = self.modelled(joined([cause.tried(at[:, i]) for i, cause in enumerate(both)]), 3)
            return np.vstack([-(read[:, 1:] - read[:, :1]) / step / self.sigma[:, None], np.eye(2)])

        low = np.array([cause.least for cause in both])
        start = np.clip([x, y], low + 1e-3, 1 - 2e-3)
        found = least_squares(left, start, slope, bounds=(low, np.ones(2)), xtol=1e-6, ftol=1e-6, max_nfev=25)
        sizes = tuple(map(float, found.x))
        read = self.modelled(joined([cause.tried(np.array([size])) for cause, size in zip(both, sizes)]))[:, 0]
        return self._explanation(both, sizes, read)

    def alike(self, one: Explanation, other: Explanation) -> bool:
        """Whether these readings cannot tell two explanations apart."""
        return float((((one.modelled - other.modelled) / self.sigma) ** 2).sum()) < _ALIKE

    def cosine(self, one: Explanation, other: Explanation) -> float:
        """How near to proportional the effects of two explanations on these readings are: 1 where they are."""
        a, b = ((each.modelled - self.reckoned) / self.sigma for each in (one, other))
        size = float(np.linalg.norm(a) * np.linalg.norm(b))
        return float(a @ b) / size if size > 0 else 0.0

    @property
    def _leaders(self) -> list[Explanation]:
        return [group[0] for group in self._grouped(self.singles)]

    def _grouped(self, ranked: list[Explanation]) -> list[list[Explanation]]:
        groups: list[list[Explanation]] = []
        for one in ranked:
            for group in groups:
                if one.score - group[0].score <= _WORSE + one.causes[0].rare and self.alike(one, group[0]):
                    group.append(one)
                    break
            else:
                groups.append([one])
        return groups

    @functools.cached_property
    def groups(self) -> list[list[Explanation]]:
        """All explanations, those together that these readings cannot tell apart; the best first.

        A pair is among them only where it does better than every cause by itself, what it costs counted in.
        """
        better = [one for one in self.pairs if one.score < self.singles[0].score - _BETTER]
        return sorted([*self._grouped(self.singles), *self._grouped(better)], key=lambda group: group[0].score)

    @property
    def told(self) -> list[list[Explanation]]:
        """Those of the groups that are worth telling: not much worse than the first, and better than that all is as reckoned."""
        limit = min(self.groups[0][0].score + _FAR, self.nothing)
        return [group for group in self.groups if group[0].score < limit]

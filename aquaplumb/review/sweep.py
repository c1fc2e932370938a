"""How sure: a build solved some thousand times, each time with every unknown drawn anew between its low and its high.

    sure = sweep(my_build(), None, 10_000, seed=1)
    print(sure)                                        # readable at a glance
    sure.chance("riser brings what is wanted")         # 0 to 1
    sure.percentiles("line riser.flow")                # {5: …, 25: …, 50: …, 75: …, 95: …}, quantities
    sure.matters("line riser.flow")                    # which unknown it hangs on most, and how strongly

What is drawn, and how:

* Each unknown by itself, from a triangle with its top at the typical value (`ranges.default_ranges` has them all,
  with their sources); 2,048 designs at a time fill each unknown's range evenly (a Latin hypercube).
* One water temperature for a whole design, somewhere between the coldest and the warmest: a day of the year, not the
  worst day. For the worst day give it as ("22 degC", "22 degC", "22 degC").
* Water settles in each design as in its balance; how long floats let pumps run, and what each line has to carry, is off that as
  much as the build's own run is (`aquaplumb.review.waters`), so that with nothing drawn it is what the review says.
* Fittings of one kind are off together; pumps, outlets and valves each by itself.
* A chance counts designs. It is as good as the ranges are: what nobody thought of is not in it. A bucket and a watch
  on the real thing are worth more.

The same seed gives the same answer, however the work is done: here, or by any `concurrent.futures` executor (processes
on this machine, or ``distributed.Client(…).get_executor()`` on many).
"""

from __future__ import annotations

import concurrent.futures
import functools
import html
import operator
from dataclasses import dataclass
from typing import Any

import numpy as np

from aquaplumb.build import Build
from aquaplumb.given import takes_things
from aquaplumb.review.designs import SweptBuild, solved_designs
from aquaplumb.review.ranges import Ranges, Unknown, checked, default_ranges, latin_hypercube, unknowns
from aquaplumb.tables import unknown
from aquaplumb.units import AREA, FLOW, HEAD, LENGTH, NUMBER, POWER, SHARE, DesignError, Kind, folded, html_table

__all__ = ["BLOCK", "EVERYTHING", "Ranges", "Sure", "Swing", "Swings", "default_ranges", "sweep"]

BLOCK = 2048  # designs drawn and solved at a time, whoever does it; part of what a seed means
EVERYTHING = "everything at once"
_MOST = 1_000_000  # designs: some 1 kB each are kept
_POLL = 0.2  # s between two looks at the executor
_MANY, _NINE = "In how many of them", "In nine of ten designs"
_ONLY = "A chance is as good as its ranges. Measure the first on each list, and give a narrower range for it."
AT = (5, 25, 50, 75, 95)

# What the last part of a result's name is: its kind, and how it reads.
_RESULTS = {
    "flow": (FLOW, "flow"), "wanted": (FLOW, "flow wanted"), "head": (HEAD, "head of the pump"), "lift": (HEAD, "lift"),
    "power": (POWER, "power drawn"), "cost": (NUMBER, "cost of a year"), "share": (SHARE, "share"), "has to carry": (FLOW, "has to carry"),
    "carries up to the brim": (FLOW, "carries up to the brim"), "starts from": (FLOW, "starts from"),
    "carries when full": (FLOW, "carries when full"), "carries at its vent": (FLOW, "carries at its vent"),
    "after a power cut": (LENGTH, "depth after a power cut"), "surface": (AREA, "surface for bacteria"), "surface needed": (AREA, "surface needed"),
}  # fmt: skip


@dataclass(frozen=True)
class Swing:
    """One unknown alone, at its `low` and its `high`, and what a result is then; bare SI."""

    unknown: Unknown
    low: float
    high: float
    at_low: float
    at_high: float
    width: float  # of its bar: from the least to the most of these two and the middle

    @property
    def name(self) -> str:
        """The unknown's plain name."""
        return self.unknown.name

    def ends(self, system: str = "metric") -> tuple[str, str]:
        """Its low and its high as a person reads them."""
        return self.unknown.text(self.low, system), self.unknown.text(self.high, system)


@dataclass(frozen=True)
class Swings:
    """How far a result moves when one unknown alone goes from its low to its high, all others typical; the widest first.

    `middle` is the result with all of them typical, `low` and `high` where nine of ten designs lie, all in SI units;
    `rows` has a `Swing` for each unknown that moves it at all.
    """

    name: str
    label: str
    kind: Kind
    middle: float
    low: float
    high: float
    rows: tuple
    units: str
    n: int

    def sentence(self, system: str | None = None) -> str:
        """The finding, in a sentence."""
        units, label = system or self.units, (self.label[:1].upper() + self.label[1:]).replace(": ", ", ")
        if not self.rows:
            return f"{label} is {self.kind.text(self.middle, units)}; no unknown moves it."
        span = f"nine of ten designs have {self.kind.text(self.low, units)} to {self.kind.text(self.high, units)}"
        return f"{label}: {span}. It hangs most on {self.rows[0].name}."


class Sure:
    """What a sweep found, on `n` designs: chances, the spread of each number, and which unknown matters most.

    `unknowns`, `results` (as a review names them) and `holds` are arrays by name, one value a design, in SI units;
    `whole` says whether every design asked for is in it.
    """

    def __init__(self, plan: SweptBuild, ranges: dict, found: list, asked: int, seed: int):
        self.plan, self.build, self.ranges, self.asked, self.seed = plan, plan.build, ranges, asked, seed
        self.unknowns, self.results, self.holds, self.margins = (
            _joined([getattr(part, field) for part in found]) for field in ("values", "results", "holds", "margins")
        )
        self.n = sum(part.size for part in found)
        self.whole = self.n == asked
        self.holds[EVERYTHING] = functools.reduce(operator.and_, self.holds.values(), np.ones(self.n, bool))

    # --- one thing of it

    def chance(self, name: str) -> float:
        """The part of the designs in which something holds, such as "bed 1 gets its share"; `chances` has the names."""
        if name not in self.holds:
            raise DesignError(unknown("list of chances", name, self.holds))
        return float(self.holds[name].mean())

    @property
    def chances(self) -> dict[str, float]:
        """Every chance by its name, 0 to 1."""
        return {name: self.chance(name) for name in self.holds}

    def percentiles(self, name: str, at: tuple = AT) -> dict:
        """A result below which so many per cent of the designs lie: quantities (plain numbers where there is no unit) by per cent."""
        values, kind = self._values(name), self.kind(name)
        if not all(0 <= one <= 100 for one in at):
            raise DesignError("percentiles go from 0 (the least of all designs) to 100 (the most), such as at=(5, 50, 95).")
        found = np.percentile(values, at, method="linear" if np.isfinite(values).all() else "inverted_cdf")
        return {one: kind.quantity(float(value)) if kind.si else float(value) for one, value in zip(at, found)}

    def kind(self, name: str) -> Kind:
        """What sort of quantity a result is."""
        self._values(name)
        return _RESULTS[name.rpartition(".")[2]][0]

    def label(self, name: str) -> str:
        """How a result reads: "line riser.flow" is "riser: flow"."""
        thing, _, what = name.rpartition(".")
        for start in ("line ", "fall ", "vessel "):
            thing = thing.removeprefix(start)
        return f"{thing.rpartition(' › ')[2]}: {_RESULTS[what][1]}"

    def matters(self, name: str) -> dict[str, float]:
        """Which unknown a result or a chance hangs on: their rank correlations, the strongest first.

        Near 1: more of the one, more of the other; near −1: less. Near 0: it does not matter. With few designs a value
        within 2/√n of 0 is chance. For a chance it is the margin by which it holds.

        Source: Spearman's rank correlation.
        """
        if name == EVERYTHING:
            raise DesignError(
                f"'{EVERYTHING}' has no margin of its own; ask for one of {', '.join(n for n in self.holds if n != EVERYTHING)}."
            )
        values = self.margins[name] if name in self.margins else self._values(name)
        found = dict(zip(self.unknowns, map(float, self._ranked @ _ranks(values))))
        return dict(sorted(found.items(), key=lambda item: -abs(item[1])))

    def swings(self, name: str) -> Swings:
        """How far each unknown alone moves a result, from its low to its high with all others typical: what `figures.tornado` draws."""
        values, kind = self._values(name), self.kind(name)
        names = list(self.unknowns)
        size = 1 + 2 * len(names)
        given = {one: np.full(size, self.ranges[one][1]) for one in names}
        for i, one in enumerate(names):
            given[one][1 + 2 * i : 3 + 2 * i] = self.ranges[one][0], self.ranges[one][2]
        found = solved_designs(self.plan, given, size).results[name]
        middle, known = float(found[0]), unknowns(self.build)
        rows = []
        for i, one in enumerate(names):
            ends = float(found[1 + 2 * i]), float(found[2 + 2 * i])
            width = max(middle, *ends) - min(middle, *ends)
            if np.isfinite(width) and width > 1e-6 * max(abs(middle), 1e-9):  # under this it is rounding
                rows.append(Swing(known[one], self.ranges[one][0], self.ranges[one][2], *ends, width))
        rows.sort(key=lambda row: -row.width)
        low, high = np.percentile(values, (5, 95), method="inverted_cdf")
        return Swings(name, self.label(name), kind, middle, float(low), float(high), tuple(rows), self.build.units, self.n)

    def _values(self, name: str) -> np.ndarray:
        if name not in self.results:
            raise DesignError(unknown("list of results", name, self.results))
        return self.results[name]

    @functools.cached_property
    def _ranked(self) -> np.ndarray:
        """The ranks of every unknown, a row each."""
        return np.array([_ranks(values) for values in self.unknowns.values()]).reshape(-1, self.n)

    # --- all of it

    def frame(self):
        """The spread of every result in the build's units, and what it hangs on most, as a pandas DataFrame."""
        import pandas as pd

        rows = []
        for name, values in self.results.items():
            kind = self.kind(name)
            unit = kind.unit(self.build.units)
            method = "linear" if np.isfinite(values).all() else "inverted_cdf"
            shown = (
                kind.shown(np.percentile(values, AT, method=method), self.build.units)
                if kind.si or unit
                else np.percentile(values, AT, method=method)
            )
            rows.append((self.label(name), unit, *shown, self._most(name)))
        return pd.DataFrame(rows, columns=["what", "unit", *(f"{one} %" for one in AT), "hangs most on"], index=list(self.results))

    def designs(self):
        """Every design, its unknowns and its results in SI units and whether each thing holds, as a pandas DataFrame."""
        import pandas as pd

        return pd.DataFrame({**self.unknowns, **self.results, **self.holds})

    def _most(self, name: str) -> str:
        """The unknown that a result hangs on most, where it is more than luck."""
        best = next(iter(self.matters(name).items()), ("", 0.0))
        return best[0] if abs(best[1]) > 3 / np.sqrt(self.n) else ""

    def said(self, name: str) -> str:
        """A chance in words: "93 %", "under 1 %", "all"."""
        return said(self.chance(name), self.n)

    def _headline(self) -> str:
        many = f"{self.n:,} design{'s' * (self.n != 1)}" if self.whole else f"{self.n:,} of {self.asked:,} designs (stopped early)"
        return f"{self.build.title or self.build.name}: how sure? {many}, {len(self.unknowns)} unknown{'s' * (len(self.unknowns) != 1)} drawn at once"

    def _chances(self) -> list[tuple[str, str, str]]:
        """What holds, in how many designs, and what that hangs on."""
        found = []
        for name in sorted(self.holds, key=lambda name: (name == EVERYTHING, self.chance(name))):
            sure = name == EVERYTHING or not 0 < self.chance(name) < 1
            found.append((name, self.said(name), "" if sure else self._most(name)))
        return found

    def _spans(self) -> list[tuple[str, str, str, str]]:
        """Each result: between what nine of ten designs lie, under what half of them do, and what that hangs on."""
        rows = []
        for name in self.results:
            if name.rpartition(".")[2] not in ("flow", "head", "wanted", "cost", "after a power cut") or "›" in name:
                continue
            low, middle, high = (self._text(name, value) for value in np.percentile(self.results[name], (5, 50, 95), method="inverted_cdf"))
            rows.append(
                (self.label(name), f"{low} to {high}", middle, self._most(name)) if low != high else (self.label(name), low, "", "")
            )
        return rows

    def __str__(self) -> str:
        lines, chances, spans = [self._headline(), "", _MANY], self._chances(), self._spans()
        wide = max((len(name) for name, *_ in chances), default=0)
        lines += [f"  {name:<{wide}}  {told:>11}{f'   hangs most on: {on}' if on else ''}".rstrip() for name, told, on in chances]
        wide, broad = (max((len(row[i]) for row in spans), default=0) for i in (0, 1))
        lines += ["", _NINE]
        for label, span, middle, on in spans:
            more = f"half under {middle}{f'; hangs most on: {on}' if on else ''}" if middle else ""
            lines.append(f"  {label:<{wide}}  {span:<{broad}}  {more}".rstrip())
        return "\n".join([*lines, "", _ONLY])

    def _repr_mimebundle_(self, include=None, exclude=None):
        """In a notebook the two tables are folded; how often everything holds is told over them."""
        chances = html_table(f"{_MANY}:", self._chances(), ("", "", "hangs most on"))
        spans = html_table(f"{_NINE}:", self._spans(), ("", "between", "half under", "hangs most on"))
        head = f"{self._headline()}. Everything at once holds in: {self.said(EVERYTHING)}."
        tables = folded("What holds in how many of them", chances) + folded("Flows, heads and levels in nine of ten", spans)
        return {"text/plain": str(self), "text/html": f"<p>{html.escape(head)}</p>{tables}<p>{_ONLY}</p>"}

    __repr__ = __str__

    def _text(self, name: str, si: float) -> str:
        return self.kind(name).text(float(si), self.build.units) if np.isfinite(si) else "no flow is enough"


def said(chance: float, n: int) -> str:
    """A chance found on so many designs, in words that promise no more than they show."""
    if chance >= 1:
        return "all" if n > 1 else "yes"
    if chance <= 0:
        return "none" if n > 1 else "no"
    if chance < 0.01:
        return "under 1 %"
    return "over 99 %" if chance > 0.99 else f"{100 * chance:.0f} %"


def _joined(parts: list[dict]) -> dict[str, np.ndarray]:
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _ranks(values: np.ndarray) -> np.ndarray:
    """Ranks, the mean rank where values are equal; centred and of length 1, so that a product of two is their correlation."""
    _, place, counts = np.unique(values, return_inverse=True, return_counts=True)
    ranks = (np.cumsum(counts) - 0.5 * counts)[place]
    ranks -= ranks.mean()
    size = np.sqrt(ranks @ ranks)
    return ranks / size if size > 0 else np.zeros(len(values))


# --- the sweep ---------------------------------------------------------------------------------------


@dataclass
class SolvedBlock:
    """One block of designs, solved: what a worker hands back."""

    values: dict
    results: dict
    holds: dict
    margins: dict
    size: int


def block(plan: SweptBuild, ranges: dict, seed: np.random.SeedSequence, size: int) -> SolvedBlock:
    """Draw and solve one block of designs: what a worker does."""
    values = latin_hypercube(ranges, size, np.random.default_rng(seed))
    found = solved_designs(plan, values, size)
    return SolvedBlock(values, found.results, found.holds, found.margins, size)


@takes_things
def sweep(build: Build | Any, ranges: dict | None = None, n: int = 10_000, *, seed: int, executor=None, progress=None, stop=None) -> Sure:
    """A build solved `n` times with its unknowns drawn anew each time: how sure its numbers are.

    build: A build, or a path or demo name as `load` takes it.
    ranges: By the plain name of the unknown, (low, typical, high). What is left out stays as in the build file; without
        any, `default_ranges` of the build.
    n: How many designs: 1 to 1,000,000. With 10,000 a chance is good to a per cent.
    seed: Any whole number from 0 up: the same one gives the same answer.
    executor: Who does the work; without one it is done here.
    progress: Called with (designs done, designs in all) after each block.
    stop: Asked after each block; when it says yes, what is done is kept. So it is when you interrupt.
    raises: Where a range, the number or the build cannot be.

    Standard error of a chance p: √(p (1 − p)/n), a little less by the Latin hypercube.

    Source: each result as in `review`; each range names its own.

    >>> sure = sweep("courtyard", {"lift of riser": ("-5 cm", "0 cm", "5 cm")}, 200, seed=1)
    >>> list(sure.matters("line riser.flow"))
    ['lift of riser']
    """
    if not 1 <= n <= _MOST:
        raise DesignError(f"the number of designs is {n!r}; give a whole number from 1 to {_MOST:,}, such as 10000.")
    if seed < 0:
        raise DesignError(f"the seed is {seed!r}; give a whole number from 0 up, such as 1. The same seed gives the same answer.")
    if executor is not None and not hasattr(executor, "submit"):
        raise DesignError("executor is who does the work, such as concurrent.futures.ProcessPoolExecutor(); leave it out to do it here.")
    bands = checked(build, default_ranges(build) if ranges is None else ranges)
    plan = SweptBuild(build)
    sizes = [min(BLOCK, n - first) for first in range(0, n, BLOCK)]
    jobs = [(plan, bands, one, size) for one, size in zip(np.random.SeedSequence(seed).spawn(len(sizes)), sizes)]
    work = _here(jobs) if executor is None else _elsewhere(executor, jobs)
    found: dict[int, SolvedBlock] = {}
    try:
        for place, part in work:
            found[place] = part
            if progress is not None:
                progress(sum(part.size for part in found.values()), n)
            if stop is not None and stop():
                break
    except KeyboardInterrupt:
        if not found:
            raise
    finally:
        work.close()
    return Sure(plan, bands, [found[place] for place in sorted(found)], n, seed)


def _here(jobs):
    for place, job in enumerate(jobs):
        yield place, block(*job)


def _elsewhere(executor, jobs):
    """(place, part) as the executor's workers bring them; what is still waiting is called off at the end."""
    places = {executor.submit(block, *job): place for place, job in enumerate(jobs)}
    waiting = set(places)
    try:
        while waiting:
            done, waiting = concurrent.futures.wait(waiting, timeout=_POLL, return_when=concurrent.futures.FIRST_COMPLETED)
            for one in done:
                yield places[one], one.result()
    finally:
        for one in waiting:
            one.cancel()

"""Two builds side by side: what changed in the file, and what that did to the water, the costs and the findings.

    print(comparison(load("courtyard"), my_build()))      # readable at a glance
    comparison("before.toml", "after.toml").frame()       # every number of both, as a table

Numbers are quoted in the units of the second build. Names and texts of the files are text, whatever they hold.
"""

from __future__ import annotations

import copy
import math
import textwrap
from dataclasses import dataclass
from typing import Any

from aquaplumb.build import Build
from aquaplumb.given import takes_things
from aquaplumb.review import Review, review
from aquaplumb.review.file_changes import changes, quoted
from aquaplumb.review.findings import Finding
from aquaplumb.system.drills import OFF, drills
from aquaplumb.system.outcome import SPILL
from aquaplumb.units import DEPTH, LENGTH, SHARE, VOLUME, Kind, Lines, rounded

SAME = 1e-6  # of a number: under this it is rounding
_WIDE = 112  # letters of a line
_MOST = 25  # changes of a file that are printed
_LINES = {
    "flow": "flow",
    "wanted": "flow wanted",
    "margin": "flow over the flow wanted",
    "head": "head of the pump",
    "duty": "part of the time that it runs",
    "starts": "starts in an hour",
    "cost": "cost of a year",
}


@dataclass(frozen=True)
class Number:
    """One number of both builds in SI units; None where a build has no such number."""

    name: str
    label: str
    kind: Kind
    old: float | None
    new: float | None

    @property
    def moved(self) -> bool:
        """Whether it differs by more than rounding."""
        if self.old is None or self.new is None or not (math.isfinite(self.old) and math.isfinite(self.new)):
            return self.old != self.new and not (self.old != self.old and self.new != self.new)
        return abs(self.new - self.old) > SAME * max(abs(self.old), abs(self.new))

    def texts(self, units: str) -> tuple[str, str, str]:
        """The old one, the new one, and by how much it moved, as a person reads them."""
        return self._text(self.old, units), self._text(self.new, units), self._by(units)

    def _text(self, value: float | None, units: str) -> str:
        if value is None:
            return "–"
        if not math.isfinite(value):
            return "not possible"
        shown = self.kind.text(value, units)
        return (f"+{shown}" if self.name.endswith(".margin") and value > 0 else shown).replace("-", "−")

    def _by(self, units: str) -> str:
        if not self.moved or self.old is None or self.new is None or not (math.isfinite(self.old) and math.isfinite(self.new)):
            return ""
        if self.kind is SHARE or self.kind is LENGTH or self.old <= 0:
            step = (DEPTH if self.kind is LENGTH else self.kind).text(self.new - self.old, units)
            return f"+{step}" if self.new > self.old else step.replace("-", "−")
        return (
            f"{'+' * (self.new > self.old)}{rounded(100 * (self.new / self.old - 1), 2)} %".replace("-", "−")
            if abs(self.new / self.old - 1) < 10
            else f"× {self.new / self.old:.2g}"
        )


@dataclass(frozen=True)
class Kept:
    """A finding that both builds have: as it is said now, and its severity before."""

    finding: Finding
    before: str


class Comparison:
    """What differs between an old and a new build.

    `file` has what changed in the file, `numbers` every number of both, `went`, `came` and `stayed` the findings.
    """

    def __init__(self, old: Build, new: Build):
        self.units = new.units
        before = copy.copy(old)
        vars(before)["units"] = new.units  # so that its findings are said in the same units
        self.old, self.new = review(before), review(new)
        self.file = changes(old, new)
        self.numbers = {n.name: n for n in _numbers(self.old, self.new)}
        self.went, self.came, self.stayed = _findings(self.old.findings, self.new.findings)

    @property
    def moved(self) -> list[Number]:
        """The numbers that differ."""
        return [n for n in self.numbers.values() if n.moved]

    @property
    def nothing(self) -> bool:
        """Whether nothing differs: neither in the files nor in what comes of them."""
        return not (self.file or self.moved or self.went or self.came or any(k.before != k.finding.severity for k in self.stayed))

    def frame(self):
        """Every number of both builds in the units of the second, as a pandas DataFrame."""
        import pandas as pd

        rows = [(n.label, *n.texts(self.units)) for n in self.numbers.values()]
        return pd.DataFrame(rows, columns=["what", "before", "now", "change"], index=list(self.numbers))

    def as_dict(self) -> dict:
        """All of it as plain data; numbers in SI units and as they are shown."""
        return {
            "old": _title(self.old.build),
            "new": _title(self.new.build),
            "units": self.units,
            "nothing changed": self.nothing,
            "file": [vars(change) for change in self.file],
            "numbers": [
                {"name": n.name, "label": n.label, "unit": n.kind.si, "old": _plain(n.old), "new": _plain(n.new), "moved": n.moved,
                 **dict(zip(("shown old", "shown new", "change"), n.texts(self.units)))}
                for n in self.numbers.values()
            ],
            "findings": {
                "went": [vars(f) for f in self.went],
                "came": [vars(f) for f in self.came],
                "stayed": [{**vars(k.finding), "severity before": k.before} for k in self.stayed],
            },
        }  # fmt: skip

    def __str__(self) -> str:
        return self.text(_MOST)

    __repr__ = __str__

    def text(self, most: int | None = None, *, findings: bool = True, everything: bool = False) -> Lines:
        """All of it to read; with `most`, only so many changes of the file; without the findings, what they hang on alone.

        With `everything` each number that moved is quoted, not the main ones alone.
        """
        old, new = _title(self.old.build), _title(self.new.build)
        lines = [f"{old} → {new}" if old != new else f"{new}: before → now"]
        if self.nothing:
            return Lines("\n".join([*lines, "", f"Nothing changed. Findings: {self.new.verdict}."]))
        lines += ["", "What changed in the file", *[f"  {change}" for change in self.file[:most]]]
        if most is not None and len(self.file) > most:
            lines.append(f"  and {len(self.file) - most} more")
        if not self.file:
            lines.append("  Nothing: what moved comes from outside it, such as a pump file.")
        return Lines("\n".join([*lines, *self._did(everything), *(self._found() if findings else [])]))

    def _did(self, everything: bool = False) -> list[str]:
        shown = [n for n in self.moved if everything or _is_main(n)]
        if not self.moved:
            return ["", "What it did", "  No number moved."]
        rows = [(n.label, *n.texts(self.units)) for n in shown]
        wide = [max((len(row[i]) for row in rows), default=0) for i in range(3)]
        lines = [f"  {label:<{wide[0]}}  {old:>{wide[1]}} → {new:<{wide[2]}}  {by}".rstrip() for label, old, new, by in rows]
        if not shown:
            lines.append("  Only lesser numbers moved: see them in the reviews of the two.")
        return ["", "What it did", *lines]

    def _found(self) -> list[str]:
        lines = ["", f"Findings: {self.old.verdict} → {self.new.verdict}"]
        for word, ones in (("gone", self.went), ("new", self.came)):
            for f in ones:
                lines += [f"  {word:<6} {f.severity:<4}  {quoted(f.name)} · {quoted(f.where)}", _wrapped(f.sentence)]
                lines += [_wrapped(f"→ {f.then}")] if word == "new" else []
        for k in self.stayed:
            was = f" (was: {k.before})" if k.before != k.finding.severity else ""
            lines.append(f"  stays  {k.finding.severity:<4}  {quoted(k.finding.name)} · {quoted(k.finding.where)}{was}")
        return lines


@takes_things
def comparison(old: Build | Any, new: Build | Any) -> Comparison:
    """Two builds side by side.

    old: The build before, or a path or demo name as `load` takes it.
    new: The build after, likewise.
    raises: Where a build cannot be read or solved.

    Source: each number as in `review`; levels in a power cut as in `drills`.

    >>> print(comparison("courtyard", "courtyard"))
    Courtyard, one pump: before → now
    <BLANKLINE>
    Nothing changed. Findings: 1 note.
    """
    return Comparison(old, new)


def _title(build: Build) -> str:
    return quoted(build.title or build.name)


def _wrapped(sentence: str) -> str:
    """A sentence of a finding on lines that are not too long, below its name."""
    return textwrap.fill(quoted(sentence, 1000), _WIDE, initial_indent=" " * 15, subsequent_indent=" " * 15, break_on_hyphens=False)


def _plain(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


# --- what it did -----------------------------------------------------------------------------------


def _numbers(old: Review, new: Review):
    """Every number that either build has: the lines first, then levels in a power cut, then the rest of the review."""
    every = [_of(one) for one in (old, new)]
    names = [*every[1], *(name for name in every[0] if name not in every[1])]
    for name in sorted(names, key=_rank):
        label, kind, _ = every[1].get(name) or every[0][name]
        values = (float(side[name][2]) if name in side else None for side in every)
        yield Number(name, quoted(label), kind, *values)


def _of(seen: Review) -> dict[str, tuple[str, Kind, float]]:
    """(label, kind, SI value) of every number of a build, by name."""
    found = {}
    for name, line in seen.system.pumped.items():
        for what, word in _LINES.items():
            if what == "margin" and 0 < line.wanted < math.inf:
                found[f"line {name}.margin"] = (f"{name}: {word}", SHARE, line.flow / line.wanted - 1)
            elif (one := seen.results.get(f"line {name}.{what}")) is not None:
                found[one.name] = (f"{name}: {word}", one.kind, one.value)
    if len(costs := [line.cost for line in seen.system.pumped.values() if line.cost is not None]) > 1:
        found["all pumps.cost"] = (
            "all pumps: cost of a year",
            seen.results[next(n for n in seen.results if n.endswith(".cost"))].kind,
            sum(costs),
        )
    for name, (depth, spilled) in power_cut(seen.build).items():
        found[f"vessel {name}.power cut"] = (f"{name}: deepest in a power cut", LENGTH, depth)
        if spilled >= SPILL:
            found[f"vessel {name}.power cut spill"] = (f"{name}: over its rim in a power cut", VOLUME, spilled)
    for one in seen.results.values():
        thing = one.name.rpartition(".")[0].removeprefix("line ") if one.name.startswith("line ") and not one.column else ""
        label = f"{one.label}: {one.column}" if one.column else f"{thing}: {one.label}" if thing else one.label
        found.setdefault(one.name, (label, one.kind, one.value))
    return found


@takes_things
def power_cut(build: Build) -> dict[str, tuple[float, float]]:
    """The greatest depth [m] of each vessel in a power cut of 8 h, whichever moment it comes, and what goes over its rim [m³].

    Source: `aquaplumb.system.drills`.
    """
    found: dict[str, tuple[float, float]] = {}
    for one in drills(build).cuts():
        run = one.run
        off = (run.time >= one.at) & (run.time <= one.at + OFF)
        for i, name in enumerate(run.vessels):
            before, spilled = found.get(name, (0.0, 0.0))
            over = run.spilled[off, i]
            found[name] = max(before, float(run.depth[off, i].max())), max(spilled, float(over[-1] - over[0]))
    return found


def _rank(name: str) -> int:
    """Where a number stands: lines, costs, levels in a power cut, all others."""
    thing, _, what = name.rpartition(".")
    if thing.startswith("line ") and "›" not in thing and what in _LINES:
        return 0
    return 1 if name == "all pumps.cost" else 2 if what.startswith("power cut") else 3


def _is_main(n: Number) -> bool:
    """Whether a number is quoted in the text: the lines, the levels in a power cut, fish, feed and their minutes, the rounds of siphons.

    All else, such as the speed in each pipe and the level in each vessel, follows from these; the frame has it.
    """
    return _rank(n.name) < 3 or n.name in ("fish.biomass", "fish.feed", "air.left") or n.name.endswith(".rounds an hour")


def _findings(old: list[Finding], new: list[Finding]) -> tuple[list[Finding], list[Finding], list[Kept]]:
    """The findings that went, came and stayed; one and the same has the same name and place."""
    left, came, stayed = list(old), [], []
    for f in new:
        twins = [one for one in left if (one.name, one.where) == (f.name, f.where)]
        if not twins:
            came.append(f)
            continue
        left.remove(twins[0])
        stayed.append(Kept(f, twins[0].severity))
    return left, came, stayed

"""Months later: what was measured again set beside what it was, what has come since, and when to clean.

The first day's values are taken as the build's own, in memory; what has changed since is then fitted by what comes with time:
slime, a strainer that fills, a pump that wears, air, a valve that somebody turned.

Source: weighted least squares as in `aquaplumb.measured.fitting`; a straight line through the days for when to clean (common
practice, no source: slime slows as it grows, a strainer hurries).
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from aquaplumb.build import Build
from aquaplumb.given import takes_things
from aquaplumb.measured import NOTHING, Bucket, bucket, days_of
from aquaplumb.measured.causes import AIR, PUMP, SLIME, STRAINER, VALVE, WIRE
from aquaplumb.measured.fitting import Explanation, Fit
from aquaplumb.review.findings.pumping import ENOUGH
from aquaplumb.system.steady import solved
from aquaplumb.units import FLOW, SHARE, DesignError

COMES_WITH_TIME = (SLIME, STRAINER, PUMP, AIR, VALVE, WIRE)
_SEEN = 2.0  # σ of both readings together, from which one counts as changed
_AHEAD = 2 * 365.0  # days: further ahead nobody says when to clean


@dataclass(frozen=True)
class Changed:
    """One thing that was measured again: `what` and `of`, bare SI `values` by date, and by how many σ the last is off the first."""

    what: str
    of: str
    shut: tuple[str, ...]
    values: dict[str, float]
    off: float

    @property
    def share(self) -> float:
        """The last over the first, less one."""
        first, *_, last = self.values.values()
        return last / first - 1 if first else 0.0


@dataclass(frozen=True)
class Fading:
    """A line that brings less and less: its flow by date, the day from which it is under what is wanted, why."""

    line: str
    flows: dict[str, float]
    wanted: float
    clean_by: datetime.date | None
    why: tuple[tuple[Explanation, ...], ...]


class Later:
    """What was measured again: `changes`, and `lines` that fade."""

    def __init__(self, build: Build):
        self.build, self.days = build, days_of(build)
        if not self.days:
            raise DesignError(NOTHING)
        if len(self.days) < 2:
            raise DesignError(f"all was measured on one day, {self.days[0]}; measure the same again in a month or two, and set it beside.")
        self.seen = {day: bucket(build, day) for day in self.days}
        self.changes = self._changes()
        self.lines = [one for line in build.pumped if (one := self._line(line))]

    def _changes(self) -> list[Changed]:
        found: dict[tuple, dict[str, tuple[float, float]]] = {}
        for date, seen in self.seen.items():
            for row in seen.rows:
                m = row.measured.si
                found.setdefault((m.what, m.of, row.day.si.shut), {})[date] = (row.value, row.measured.sure)
        again = []
        for (what, of, shut), values in found.items():
            if len(values) > 1:
                (first, a), *_, (last, b) = values.values()
                again.append(
                    Changed(what, of, shut, {date: value for date, (value, _) in values.items()}, (last - first) / float(np.hypot(a, b)))
                )
        return again

    def _line(self, line: str) -> Fading | None:
        ends = [f"{one.of}" for one in self.changes if one.what == "flow" and not one.shut and self._of(one.of) == line]
        flows = {}
        for date, seen in self.seen.items():
            read = {row.measured.si.of: row.value for row in seen.rows if row.measured.si.what == "flow" and not row.day.si.shut}
            if ends and all(end in read for end in ends):
                flows[date] = sum(read[end] for end in ends)
        if len(flows) < 2:
            return None
        state = self.seen[self.days[-1]].system.pumped[line]
        wanted = state.wanted * sum(o.flow for o in state.outlets if o.name in {self._stretch(end) for end in ends}) / state.flow
        return Fading(line, flows, wanted, clean_by(flows, ENOUGH * wanted), self._why(line, flows))

    def _of(self, name: str) -> str:
        return self.seen[self.days[0]].bands.said(name)[0]

    def _stretch(self, name: str) -> str:
        return self.seen[self.days[0]].bands.said(name)[1]

    def _why(self, line: str, flows: dict[str, float]) -> tuple[tuple[Explanation, ...], ...]:
        """What has come since the first day, once that day's values are the build's own."""
        first, last = min(flows), max(flows)
        before = Bucket(self.seen[first].system, first, self.seen[first].days)
        started = self.build.changed(before.own())
        fit = Bucket(solved(started), last, self.seen[last].days).fits[line]
        aged = Fit(fit.model, fit.seen, self.build.units)
        aged.causes = [cause for cause in aged.causes if cause.kind in COMES_WITH_TIME]
        return tuple(tuple(group) for group in aged.told[:2])

    def __str__(self) -> str:
        units, lines = self.build.units, [f"Measured on {', '.join(self.days)}"]
        for one in self.changes:
            kind = next(row.kind for seen in self.seen.values() for row in seen.rows if row.measured.si.what == one.what)
            values = " → ".join(kind.text(value, units) for value in one.values.values())
            told = (
                f"{'more' if one.share > 0 else 'less'} by {SHARE.text(abs(one.share))}"
                if abs(one.off) > _SEEN
                else "no change that a hand can see"
            )
            shut = f" (shut: {', '.join(one.shut)})" if one.shut else ""
            lines.append(f"  {one.what} of {one.of}{shut}: {values}, {told}")  # fmt: skip
        for fading in self.lines:
            first, *_, last = fading.flows.values()
            lines += [
                "",
                f"{fading.line}: {FLOW.text(first, units)}, now {FLOW.text(last, units)}; {FLOW.text(fading.wanted, units)} are wanted.",
            ]
            if fading.clean_by:
                lines.append(f"  At that pace it is too little from {fading.clean_by}: clean before.")
            for group in fading.why if last < first else ():
                lines += [f"  {'or ' if i else ''}{one.words(units)} → {one.causes[0].look}" for i, one in enumerate(group)]
        return "\n".join(lines)

    __repr__ = __str__


def clean_by(flows: dict[str, float], least: float) -> datetime.date | None:
    """The day from which a flow is too little, on a straight line through what was measured; None where it does not fall, or is far ahead.

    Source: a straight line by least squares.
    """
    dates = [datetime.date.fromisoformat(one) for one in flows]
    days = np.array([(one - dates[0]).days for one in dates], float)
    slope, start = np.polyfit(days, list(flows.values()), 1)
    if slope >= 0:
        return None
    when = max((least - start) / slope, float(days[-1]))
    return dates[0] + datetime.timedelta(days=round(when)) if when - days[-1] <= _AHEAD else None


@takes_things
def later(build: Build) -> Later:
    """What was measured again on later days, beside what it was: slime, wear, a strainer that fills, and when to clean.

    build: A build with at least two days in its [measured] section.
    raises: Where there are fewer.

    Source: see the module.
    """
    return Later(build)

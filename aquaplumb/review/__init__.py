"""The review of a build: every number of it, with its formula and source, and what is wrong with it.

seen = review(load("my-build.toml"))
print(seen)                          # readable at a glance
seen["fish.feed"].quantity           # one number, as a quantity
seen.findings                        # what to mend, worst first
"""

from __future__ import annotations

import functools
import html
import json
import math
from dataclasses import fields
from typing import Any

from aquaplumb.build import Build
from aquaplumb.build.sections import OPTIONAL
from aquaplumb.given import takes_things
from aquaplumb.review import findings as _findings
from aquaplumb.review import yours
from aquaplumb.review.accepted import DOT, AcceptedFinding, acceptance, looked_at
from aquaplumb.review.findings import Finding
from aquaplumb.review.numbers import Result
from aquaplumb.system.steady import Steady, solved
from aquaplumb.tables import unknown
from aquaplumb.units import AREA, FLOW, MASS, MASS_RATE, VOLUME, DesignError, Lines, folded, html_table

__all__ = ["Result", "Review", "copy_of", "not_seen", "review"]


@takes_things
def copy_of(build: Build) -> str:
    """What a build that is not a file yet was copied from, in words. Source: none."""
    return f"the demo “{build.title}”" if build.title else "a build without a title"


@takes_things
def not_seen(build: Build) -> list[str]:
    """What the three words of a finding mean, and what no review looks at. Source: none."""
    left_out = [name for name in OPTIONAL if getattr(build, name) is None]
    told = f" Your file says nothing of {', '.join(left_out)}: little of that was looked at." if left_out else ""
    return [
        "stop: do not run it so; fix: it will disappoint; note: worth knowing.",
        "Power cuts and failures were run through by computer, not with your pipes. Not looked at: leaks, what holds pipe and",
        f"tanks up, dirt that gathers for months, disease.{told}",
        "Try each failure with real water before fish go in.",
        *(
            [f"Numbers marked “yours” stand on what you wrote in {', '.join(own)}: they are as right as that is."]
            if (own := yours.files(build))
            else []
        ),
    ]


class Review:
    """What a review found: `results` by name, `findings` worst first, and the solved `system` behind them.

    Both come of what its run shows (`Steady.in_time`). `findings` has all that counts; what the file accepts is in `accepted`, with its reason, and counts only where it has to.
    """

    def __init__(self, system: Steady):
        self._solved, self.build = system, system.build

    @functools.cached_property
    def system(self) -> Steady:
        """The build, solved, with what its run shows while nothing fails."""
        return self._solved.in_time

    @functools.cached_property
    def results(self) -> dict[str, Result]:
        """Every number, by its name."""
        return yours.marked(self.system)

    @functools.cached_property
    def findings(self) -> list[Finding]:
        """What is wrong, worst first; the first look runs the standard failures (`aquaplumb.system.drills`)."""
        quiet = [one.finding for one in self.accepted if not one.back]
        return [f for f in self._every if not any(f is one for one in quiet)]

    @functools.cached_property
    def _every(self) -> list[Finding]:
        return _findings.found(self._solved, through_time=True)

    @functools.cached_property
    def _looked_at(self) -> tuple[list[AcceptedFinding], list[str]]:
        return looked_at(self.build, self._every)

    @property
    def accepted(self) -> list[AcceptedFinding]:
        """The findings that the file accepts, with their reasons; those that count all the same say why."""
        return self._looked_at[0]

    def accept(self, name: str, where: str = "", *, reason: str) -> Build:
        """Save to the build file that a finding is accepted, and why; returns the build as it now stands."""
        of_name = [f for f in self._every if f.name == name and where in ("", f.where)]
        if len(of_name) != 1:
            known = [f"{f.name}{DOT}{f.where}" for f in self._every]
            if of_name:
                raise DesignError(f"'{name}' is found {len(of_name)} times; say which, such as where='{of_name[0].where}'.")
            raise DesignError(
                f"{unknown('review', f'{name}{DOT}{where}'.removesuffix(DOT), known) if known else 'this review found nothing to accept.'}"
            )
        if not reason.strip():
            raise DesignError('say why it is accepted, such as reason="bell proven with the bucket".')
        return self.build.keep(acceptance(of_name[0], reason.strip()))

    def __getitem__(self, name: str) -> Result:
        if name not in self.results:
            raise DesignError(unknown("review", name, self.results))
        return self.results[name]

    def finding(self, name: str) -> Finding:
        """The first finding of a name."""
        for one in self.findings:
            if one.name == name:
                return one
        raise DesignError(
            f"this review has no finding '{name}'; it has {', '.join(dict.fromkeys(f.name for f in self.findings)) or 'none'}."
        )

    @property
    def sound(self) -> bool:
        """Whether nothing is there to stop for or to fix."""
        return not any(f.severity in ("stop", "fix") for f in self.findings)

    @property
    def verdict(self) -> str:
        """The findings counted, in a few words."""
        count = {s: sum(f.severity == s for f in self.findings) for s in _findings.SEVERITIES}
        words = [f"{count['stop']} to stop for"] * bool(count["stop"]) + [f"{count['fix']} to fix"] * bool(count["fix"])
        notes = f"{count['note']} note{'s' * (count['note'] != 1)}" if count["note"] else ""
        quiet = sum(not one.back for one in self.accepted)
        return ", ".join([*words, *([notes] if notes else []), *([f"{quiet} accepted"] if quiet else [])]) or "nothing found"

    @property
    def so_far(self) -> str:
        """The system in one line, as each notebook begins with it."""
        return self.in_a_line()

    def in_a_line(self, *, pumped: bool = True) -> str:
        """The system in one line; what its lines bring only where it is `pumped`: page 00 has no word for a riser yet."""
        f, b, units = self.system.fish, self.system.beds, self.build.units
        lines = "; ".join(f"{p.name} brings {FLOW.text(p.flow, units)}" for p in self.system.pumped.values())
        path = self.build.path
        borrowed = (
            f" There is no {path.name} here: this is {copy_of(self.build)}, and the first Keep copies it."
            if path and not path.exists()
            else ""
        )
        tank = f"fish tank{'s' * (len(self.build.of_kind('fish tank')) > 1)}"
        return (
            f"{self.build.title or 'Your system'}{f', in {month}' if (month := self.system.build.month) else ''}: "
            f"{VOLUME.text(f.tank_volume, units)} in the {tank}, {MASS.text(f.biomass, units)} of fish, "
            f"{MASS_RATE.text(f.feed, units)} of feed, {AREA.text(b.area, units)} of {b.words}{f'; {lines}' if pumped else ''}. Its review: {self.verdict}.{borrowed}"
        )

    def as_dict(self) -> dict:
        """All of it as plain data: results in SI units and in the build's, findings as they are said."""
        return {
            "build": self.build.title,
            "units": self.build.units,
            "sound": self.sound,
            "results": [
                {
                    "name": r.name, "label": r.what, "section": r.section,
                    "value": r.value if math.isfinite(r.value) else None, "unit": r.kind.si,
                    "shown": r.text(self.build.units), "formula": r.formula, "source": r.source,
                }
                for r in self.results.values()
            ],
            "findings": [vars(f) for f in self.findings],
            **({"accepted": [{**vars(a.finding), "reason": a.reason, "back": a.back} for a in self.accepted]} if self.accepted else {}),
        }  # fmt: skip

    def as_json(self) -> str:
        """`as_dict` as JSON text."""
        return json.dumps(self.as_dict(), indent=2, ensure_ascii=False)

    def frame(self):
        """The results as a pandas DataFrame, a row each: its key, what it is, its number and unit, and how it is shown."""
        import pandas as pd

        units = self.build.units
        rows = [
            (key, r.section, r.what, float(r.kind.shown(r.value, units)), r.kind.unit(units), r.text(units), r.formula, r.source)
            for key, r in self.results.items()
        ]
        return pd.DataFrame(rows, columns=["key", "part", "what", "number", "unit", "shown", "formula", "source"])

    def findings_frame(self):
        """The findings as a pandas DataFrame, a row each, worst first."""
        import pandas as pd

        return pd.DataFrame([vars(f) for f in self.findings], columns=[field.name for field in fields(Finding)])

    def _repr_html_(self) -> str:
        parts = dict.fromkeys(r.section for r in self.results.values())
        tables = [
            html_table(part, [(r.what, r.shown(self.build.units)) for r in self.results.values() if r.section == part]) for part in parts
        ]
        found = [(f.severity, f"{f.name} · {f.where}", f.sentence, f.then) for f in self.findings]
        wrong = html_table("Findings", found, ("", "what", "how", "cure")) if found else ""
        quiet = [(a.finding.severity, f"{a.finding.name} · {a.finding.where}", a.finding.sentence, a.said) for a in self.accepted]
        wrong += html_table("Accepted", quiet, ("", "what", "how", "why")) if quiet else ""
        head, *about = (f"<p>{html.escape(line)}</p>" for line in self._headline())
        numbers = folded("The numbers", "".join(tables))
        return f"<div>{head}{''.join(about)}{wrong}{numbers}<p>{html.escape(' '.join(not_seen(self.build)))}</p></div>"

    def __str__(self) -> str:
        return "\n".join([*self._headline(), *self._numbers(), *self._said()])

    __repr__ = __str__

    @property
    def advice(self) -> str:
        """The verdict and the findings, without the numbers."""
        return "\n".join([*self._headline()[:1], *self._said()])

    def part(self, start: str, *, under: str = "") -> Lines:
        """The numbers of the sections whose heading starts so, such as "Pumped line"; where there are none, that in a sentence.

        under: In a notebook they are folded under a line of these words, if any.
        """
        told = "\n".join(self._numbers(start)).strip("\n")
        lines = Lines(told or f"{start}: no numbers yet. The panels of this page set them.")
        lines.table = "".join(self._tables(start)) if told else f"<p>{lines}</p>"
        return lines.under(under) if told and under else lines

    def _tables(self, start: str):
        """The same as tables of HTML."""
        units = self.build.units
        for section in dict.fromkeys(r.section for r in self.results.values() if r.section.startswith(start)):
            rows = [r for r in self.results.values() if r.section == section]
            if alone := [(r.label, r.shown(units)) for r in rows if not r.column]:
                yield html_table(section, alone)
            if columns := list(dict.fromkeys(r.column for r in rows if r.column)):
                cells = {(r.label, r.column): r.shown(units) for r in rows}
                things = dict.fromkeys(r.label for r in rows if r.column)
                yield html_table("" if alone else section, [(t, *(cells.get((t, c), "") for c in columns)) for t in things], ("", *columns))

    def _headline(self) -> list[str]:
        b = self.build
        return [f"{b.title or b.name}: {self.verdict}", *([b.about] if b.about else [])]

    def _numbers(self, start: str = "") -> list[str]:
        """The results: one a line where they stand alone, one a column where several things have the same."""
        lines = []
        alone = [r for r in self.results.values() if r.column == ""]
        wide = max(len(r.label) for r in alone)
        for section in dict.fromkeys(r.section for r in self.results.values() if r.section.startswith(start)):
            rows = [r for r in self.results.values() if r.section == section]
            lines += ["", section]
            lines += [f"  {r.label:<{wide}}  {r.shown(self.build.units)}" for r in rows if not r.column]
            lines += self._table([r for r in rows if r.column])
        return lines

    def _table(self, rows: list[Result]) -> list[str]:
        if not rows:
            return []
        columns = list(dict.fromkeys(r.column for r in rows))
        cells = {(r.label, r.column): r.shown(self.build.units) for r in rows}
        things = list(dict.fromkeys(r.label for r in rows))
        first = max(len(t) for t in things)
        wide = {c: max(len(c), *(len(cells.get((t, c), "")) for t in things)) for c in columns}
        table = ["  " + " " * first + "".join(f"  {c:>{wide[c]}}" for c in columns)]
        table += [f"  {t:<{first}}" + "".join(f"  {cells.get((t, c), ''):>{wide[c]}}" for c in columns) for t in things]
        return [line.rstrip() for line in table]

    def _said(self) -> list[str]:
        lines = ["", f"Findings: {self.verdict}"]
        for f in self.findings:
            lines += [f"  {f.severity:<4}  {f.name} · {f.where}", f"        {f.sentence}", f"        → {f.then}"]
            lines += [f"        {one.said}" for one in self.accepted if one.finding is f]
        for one in self.accepted:
            if not one.back:
                lines += [
                    f"  accepted ({one.finding.severity})  {one.finding.name} · {one.finding.where}",
                    f"        {one.finding.sentence}",
                    f"        {one.said}",
                ]
        lines += [f"  The file accepts “{key}”, which is not found: take it out." for key in self._looked_at[1]]
        return [*lines, "", *not_seen(self.build)]


@takes_things
def review(build: Build | Any) -> Review:
    """Every number of a build at work, computed once, and what is wrong with it.

    build: A build, or a path or demo name as `load` takes it.
    raises: Where the build cannot be read or solved.

    Source: each result names its own.

    >>> review("courtyard").sound
    True
    """
    return Review(solved(build))

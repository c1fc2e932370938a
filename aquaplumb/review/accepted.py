"""Findings that a builder has looked at and accepted, with the reason, and when they come back.

    [accepted."drain short · tank overflow"]        # as the review prints it: its name, and what it is about
    reason = "filled with the bucket, it holds"
    kind = "fix"
    said = "tank overflow carries 2,900 L/h …"      # its sentence, from the review

`review(…).accept("drain short", "tank overflow", reason="…")` writes it. One comes back when it grows worse: a worse
severity, other words, or numbers further apart than they were; in doubt it comes back. A stop stays a stop: it is shown as accepted, and counts.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from aquaplumb.build import Build
from aquaplumb.review import findings as _findings
from aquaplumb.review.findings import SEVERITIES, Finding
from aquaplumb.tables import unknown
from aquaplumb.units import DesignError, rounded

DOT = " · "
_RENAMED = {"bed load over floor rating": "load over floor rating"}  # as older files have it
_GREW = 0.01  # of a gap between two numbers of a sentence, or of a number that stands alone: under this it is rounding
_NUMBER = re.compile(r"(?<![\w.])[-−]?\d[\d,]*(?:\.\d+)?")


class AcceptedFinding(NamedTuple):
    """A finding of this build that its file accepts; `back` says why it counts all the same, or is empty."""

    finding: Finding
    reason: str
    back: str

    @property
    def said(self) -> str:
        """Its reason, and why it counts all the same, in a sentence."""
        return f"Accepted: {self.reason}" + (f". It counts all the same: {self.back}." if self.back else "")


def looked_at(build: Build, found: list[Finding]) -> tuple[list[AcceptedFinding], list[str]]:
    """What of the findings the build's file accepts, and what it accepts that is no longer there."""
    here, gone = [], []
    for (said, where), record in build.accepted.items():
        name = _RENAMED.get(said, said)
        if name not in (known := [*_findings.names(), *_findings.names(through_time=True)]):
            raise DesignError(f"accepted › {name}{DOT}{where}: " + unknown("review", name, known))
        alike = [f for f in found if (f.name, f.where) == (name, where)]
        finding = next((f for f in alike if _words(f.sentence) == _words(record.si.said)), next(iter(alike), None))
        if finding is None:
            gone.append(f"{name}{DOT}{where}")
        else:
            here.append(AcceptedFinding(finding, record.si.reason, _back(finding, record.si)))
    return here, gone


def acceptance(finding: Finding, reason: str) -> dict[tuple, object]:
    """What the build file says of an accepted finding: changes for `Build.keep`."""
    key = ("accepted", f"{finding.name}{DOT}{finding.where}")
    return {(*key, "reason"): reason, (*key, "kind"): finding.severity, (*key, "said"): finding.sentence}


def _back(finding: Finding, was) -> str:
    """Why an accepted finding counts all the same; "" where it does not."""
    if finding.severity == "stop":
        return "a stop kills fish, floods the floor or leaves no water, whoever accepts it"
    if SEVERITIES.index(finding.severity) < SEVERITIES.index(was.kind):
        return f"it was a {was.kind} and is a {finding.severity} now"
    old, new = _NUMBER.findall(was.said), _NUMBER.findall(finding.sentence)
    if _words(was.said) != _words(finding.sentence) or len(old) != len(new):
        return "it says something else now than when it was accepted"
    grown = _grown([_read(n) for n in old], [_read(n) for n in new])
    return f"its numbers have grown worse since ({' and '.join(grown)})" if grown else ""


def _grown(old: list[float], new: list[float]) -> list[str]:
    """The numbers that moved away from another of their sentence; one with nothing beside it that moved at all."""
    moved = [i for i, (a, b) in enumerate(zip(old, new)) if abs(a - b) > _GREW * max(abs(a), abs(b))]
    still = [i for i in range(len(old)) if i not in moved]
    worse = []
    for i in moved:
        near = min(still, key=lambda j: abs(old[i] - old[j]), default=None)  # what it is held against
        if near is None or abs(new[i] - new[near]) > abs(old[i] - old[near]) * (1 + _GREW):
            worse.append(f"{rounded(old[i])} is {rounded(new[i])}")
    return worse


def _words(sentence: str) -> str:
    return _NUMBER.sub("#", sentence)


def _read(number: str) -> float:
    return float(number.replace(",", "").replace("−", "-"))

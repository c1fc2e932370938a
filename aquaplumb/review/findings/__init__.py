"""Findings: what a builder would get wrong, said in one sentence with the numbers in it and the cure.

Each finding is one small function beside its topic (`stock`, `flows`, `pipework`, `falls`, `pumping`, `through_time`). It reads the
solved system (`aquaplumb.system.steady.Steady`, bare SI numbers) and yields what it sees::

    @finding("drain short", notebook="06")
    def drain_short(system, say):
        for fall in system.falling.values():
            if fall.peak > fall.capacity:
                yield stop(fall.name, f"…it carries {say(FLOW, fall.capacity)} …", "Make it …")

The name is for good: tests, notebooks and faulty builds call a finding by it.
"""

from __future__ import annotations

import functools
import importlib
from collections.abc import Callable
from dataclasses import dataclass

from aquaplumb.given import takes_things
from aquaplumb.plumbing.pipe_sizes import next_size
from aquaplumb.system.stories import Endless
from aquaplumb.units import BORE

SEVERITIES = ("stop", "fix", "note")
_TOPICS = ("stock", "flows", "pipework", "falls", "pumping", "through_time", "air", "power", "upkeep")
_CHECKS: list[tuple[str, str, Callable, bool]] = []


@dataclass(frozen=True)
class Finding:
    """One thing found.

    `severity` is "stop" (it will fail: fish, floor or pump), "fix" (it will disappoint) or "note" (worth knowing);
    `where` is the vessel or line; `sentence` says what is wrong with its numbers, `cure` what to change, `notebook`
    which page of the walk explains it.
    """

    name: str
    severity: str
    where: str
    sentence: str
    cure: str
    notebook: str

    def __str__(self) -> str:
        return f"{self.severity}: {self.sentence} {self.cure} (notebook {self.notebook})"


def finding(name: str, *, notebook: str, through_time: bool = False):
    """Register a check under its plain name; one `through_time` needs hours of simulated time, and is left out of a slider's move."""

    def register(check):
        _CHECKS.append((name, notebook, check, through_time))
        return check

    return register


def stop(where: str, sentence: str, cure: str) -> tuple:
    """It will fail."""
    return "stop", where, sentence, cure


def fix(where: str, sentence: str, cure: str) -> tuple:
    """It will disappoint."""
    return "fix", where, sentence, cure


def note(where: str, sentence: str, cure: str) -> tuple:
    """Worth knowing."""
    return "note", where, sentence, cure


def wide_enough(say, bore: float, pipe) -> str:
    """How to ask for a bore: the next size that the shop has of the same pipe, and the bore itself."""
    size = next_size.si(bore, pipe.standard) if pipe.standard else None
    return f"{size} {pipe.standard} or wider (a bore of {say(BORE, bore)})" if size else f"a bore of {say(BORE, bore)} or more"


@takes_things
def names(*, through_time: bool = False) -> list[str]:
    """The plain names of all findings, or only of those through time. A name may be found both ways."""
    _load()
    return list(dict.fromkeys(name for name, *_, needs_time in _CHECKS if needs_time or not through_time))


def found(system, *, through_time: bool = False) -> list[Finding]:
    """All findings of a solved system, worst first, else in the order of the walk.

    Those that need simulated time only where asked for; what the steady system has shown is not said again.
    """
    _load()

    def say(kind, value) -> str:
        return kind.text(value, system.build.units)

    seen: dict[tuple, list[Finding]] = {}
    for name, notebook, check, needs_time in _CHECKS:
        if needs_time and not through_time:
            continue
        try:
            new = [Finding(name, severity, where, sentence, cure, notebook) for severity, where, sentence, cure in check(system, say)]
        except Endless:  # "failures not run through" says it
            continue
        for one in new:
            if not needs_time or (name, one.where) not in seen:
                seen.setdefault((name, one.where), []).append(one)
    return sorted((one for ones in seen.values() for one in ones), key=lambda f: (SEVERITIES.index(f.severity), f.notebook))


@functools.cache
def _load() -> None:
    """Import every topic once, whichever of them was imported before for its limits; in the order of the walk."""
    for topic in _TOPICS:
        importlib.import_module(f"aquaplumb.review.findings.{topic}")
    _CHECKS.sort(key=lambda entry: _TOPICS.index(entry[2].__module__.rpartition(".")[2]))

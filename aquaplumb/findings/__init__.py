"""Findings: what a builder would get wrong, said in one sentence with the numbers in it and the cure.

Each finding is one small function beside its topic (`stock`, `flows`, `pipework`, `falls`, `pumping`). It reads the
solved system (`aquaplumb.steady.Steady`, bare SI numbers) and yields what it sees::

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

from aquaplumb.pipesizes import next_size
from aquaplumb.units import BORE

SEVERITIES = ("stop", "fix", "note")
_TOPICS = ("stock", "flows", "pipework", "falls", "pumping", "air", "power", "upkeep")
_CHECKS: list[tuple[str, str, Callable]] = []


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


def finding(name: str, *, notebook: str):
    """Register a check under its plain name."""

    def register(check):
        _CHECKS.append((name, notebook, check))
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


def names() -> list[str]:
    """The plain names of all findings."""
    _load()
    return [name for name, _, _ in _CHECKS]


def found(system) -> list[Finding]:
    """All findings of a solved system, worst first, else in the order of the walk."""
    _load()

    def say(kind, value) -> str:
        return kind.text(value, system.build.units)

    seen = [
        Finding(name, severity, where, sentence, cure, notebook)
        for name, notebook, check in _CHECKS
        for severity, where, sentence, cure in check(system, say)
    ]
    return sorted(seen, key=lambda f: (SEVERITIES.index(f.severity), f.notebook))


@functools.cache
def _load() -> None:
    """Import every topic once, whichever of them was imported before for its limits; in the order of the walk."""
    for topic in _TOPICS:
        importlib.import_module(f"aquaplumb.findings.{topic}")
    _CHECKS.sort(key=lambda entry: _TOPICS.index(entry[2].__module__.rpartition(".")[2]))

"""What a finding is, and how a topic enters its own; see `aquaplumb.review.findings`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from aquaplumb.plumbing.pipe_sizes import next_size
from aquaplumb.units import BORE, quantity, si_value

SEVERITIES = ("stop", "fix", "note")
_LEAST = 1e-3  # SI: about nothing, for the steps of `_rounded`


class Check(NamedTuple):
    """A finding before it is looked for."""

    name: str
    notebook: str  # the page of the walk that explains it
    look: Callable  # of a solved system and of how numbers are said; gives what `stop`, `fix` and `note` give
    through_time: bool  # whether it needs hours of simulated time


CHECKS: list[Check] = []


@dataclass(frozen=True)
class Finding:
    """One thing found."""

    name: str
    severity: str  # "stop" (it will fail: fish, floor or pump), "fix" (it will disappoint) or "note" (worth knowing)
    where: str  # the vessel or line
    sentence: str  # what is wrong, with its numbers
    cure: str  # what to change
    notebook: str  # the page of the walk that explains it

    def __str__(self) -> str:
        return f"{self.severity}: {self.sentence} {self.cure} (notebook {self.notebook})"


def finding(name: str, *, notebook: str, through_time: bool = False):
    """Register a check under its plain name; one `through_time` needs hours of simulated time, and is left out of a slider's move."""

    def register(look: Callable) -> Callable:
        CHECKS.append(Check(name, notebook, look, through_time))
        return look

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


def at_least(say, kind, value: float) -> str:
    """A bare SI value as `say` writes it, never rounded down: what is so large is enough."""
    return _rounded(say, kind, value, 1.0)


def at_most(say, kind, value: float) -> str:
    """The same, never rounded up: what is so small is small enough."""
    return _rounded(say, kind, value, -1.0)


def _rounded(say, kind, value: float, way: float) -> str:
    """The nearest text of three figures that lies on the right side of the value."""
    step = max(abs(value), _LEAST) * 2e-3
    for turn in range(12):
        text = say(kind, value + way * turn * step)
        if way * (si_value(quantity(text.replace(",", ""), kind), kind, "it") - value) >= 0.0:
            return text
    return text


def wide_enough(say, bore: float, pipe) -> str:
    """How to ask for a bore: the next size that the shop has of the same pipe, and the bore itself."""
    size = next_size.si(bore, pipe.standard) if pipe.standard else None
    return f"{size} {pipe.standard} or wider (a bore of {say(BORE, bore)})" if size else f"a bore of {say(BORE, bore)} or more"

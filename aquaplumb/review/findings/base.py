"""What a finding is, and how a topic enters its own; see `aquaplumb.review.findings`."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from aquaplumb.plumbing.pipe_sizes import bore as size_bore
from aquaplumb.plumbing.pipe_sizes import next_size, sizes
from aquaplumb.units import BORE, quantity, si_value

SEVERITIES = ("stop", "fix", "note")


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
    notebook: str  # the page of the walk that explains it; "" where none does

    @property
    def then(self) -> str:
        """The cure, and the page."""
        return f"{self.cure} (notebook {self.notebook})" if self.notebook else self.cure

    def __str__(self) -> str:
        return f"{self.severity}: {self.sentence} {self.then}"


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


def note(where: str, sentence: str, cure: str, *page: str) -> tuple:
    """Worth knowing; with a page of its own where it is not that of the check."""
    return "note", where, sentence, cure, *page


def among(names: Sequence[str], most: int = 4) -> str:
    """Names in words, "bed 1, bed 2 and bed 3"; of very many the first, and how many more."""
    shown = [*names] if len(names) <= most else [*names[: most - 1], f"{len(names) - most + 1} more"]
    return " and ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)


def at_least(say, kind, value: float) -> str:
    """A bare SI value as `say` writes it, never rounded down: what is so large is enough."""
    return _rounded(say, kind, value, 1.0)


def at_most(say, kind, value: float) -> str:
    """The same, never rounded up: what is so small is small enough."""
    return _rounded(say, kind, value, -1.0)


def _rounded(say, kind, value: float, way: float) -> str:
    """The nearest text of three figures, or sixteenth of an inch, that lies on the right side of the value."""
    step = max(2e-3 * abs(value), 0.0254 / 32 if kind.tape and say(kind, 1.0).endswith("in") else 0.0)
    for turn in range(12):
        text = say(kind, value + way * turn * step)
        if way * (si_value(quantity(text.replace(",", ""), kind), kind, "it") - value) >= 0.0:
            return text
    return text


def wide_enough(say, bore: float, pipe, power: float = 2.5) -> str:
    """How to ask for a bore: the next size that the shop has of the same pipe; where it has none so wide, how many of the widest.

    What a pipe carries goes by that power of its bore: 2.5 for drains, 2 for a speed.
    """
    standard, offered = shop(say, pipe)
    if size := next_size.si(bore, standard):
        return f"{size} {standard} or wider (a bore of {at_least(say, BORE, bore)})"
    size, widest = offered[-1]
    return f"{max(2, math.ceil((bore / widest) ** power))} pipes of {size} {standard} side by side"


def narrow_enough(say, bore: float, pipe) -> str:
    """How to ask for a bore that is not wider: the widest size of the table that does, or tube where none is so thin."""
    standard, offered = shop(say, pipe)
    fits = [size for size, wide in offered if wide <= bore]
    thin = f"a bore of {at_most(say, BORE, bore)}"
    return f"{fits[-1]} {standard} or narrower ({thin} at most)" if fits else f"tube with {thin} or less: no {standard} is so thin"


def shop(say, pipe) -> tuple[str, list[tuple[str, float]]]:
    """The standard of a pipe and all its (size, bore [m]); where only a bore is known, what shops have in the builder's units."""
    standard = pipe.standard or ("Sch 40" if say(BORE, 0.1).endswith("in") else "PN10")
    return standard, [(size, size_bore.si(size, standard)) for size in sizes(standard)]

"""A line of a parts list, and the counting that fills one: what, what size, how many, and why."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from aquaplumb.units import rounded
from aquaplumb.workshop.cut_list import shown_name

GROUPS = (
    "Vessels", "Pumps and controls", "Pipe", "Fittings", "Valves", "Screens, nozzles and siphons", "Joining and hanging",
    "Trench and conduit", "Air", "Electricity", "Heat", "Beds", "Water",
)  # fmt: skip
SPARE = 0.1  # of fittings and brackets, rounded up: common practice, no source


@dataclass(frozen=True)
class Part:
    """A line of the parts list: `amount` and `spare` are in `unit`, `price` is for one of that unit (None: unknown).

    `reason` says in words where each is needed. `implied` is the part of the amount that the build file does not name
    but that its drawing asks for.
    """

    group: str
    what: str
    size: str
    amount: float
    unit: str
    reason: str
    spare: float = 0.0
    implied: float = 0.0
    price: float | None = None

    @property
    def key(self) -> tuple[str, str]:
        """What a price goes by: what it is, and its size."""
        return self.what, self.size

    @property
    def cost(self) -> float | None:
        """Of the amount and its spare, or None where the price is unknown."""
        return None if self.price is None else (self.amount + self.spare) * self.price

    @property
    def text(self) -> str:
        """The amount as a person reads it, such as "4 + 1 pieces"."""
        spare = f" + {rounded(self.spare)}" if self.spare else ""
        return f"{rounded(self.amount, 4)}{spare} {self._counted(self.amount + self.spare)}"

    @property
    def needed(self) -> str:
        """The amount without its spare, such as "4 pieces"."""
        return f"{rounded(self.amount)} {self._counted(self.amount)}".strip()

    def _counted(self, amount: float) -> str:
        first, *rest = self.unit.split(" ", 1)
        return " ".join([first + "s" if amount != 1 and first in ("piece", "length", "can", "roll", "pack") else first, *rest])


@dataclass
class _Line:
    amount: float = 0.0
    spare: float = 0.0
    implied: float = 0.0
    counted: dict = field(default_factory=dict)  # (whether implied, where): how many
    said: list = field(default_factory=list)  # in words, once each


def quoted(name: str) -> str:
    """A person's own name for a thing, in quotes, to stand in a sentence."""
    return f"“{shown_name(name)}”"


class Tally:
    """Counts parts up: the same thing in the same size becomes one line, with all its reasons."""

    def __init__(self) -> None:
        self.joints: dict[str, int] = {}
        self.threads = 0
        self.notes: list[str] = []
        self._lines: dict[tuple, _Line] = {}

    def add(
        self,
        group: str,
        what: str,
        size: str,
        amount: float,
        where: str,
        *,
        unit: str = "piece",
        implied: bool = False,
        spare: float = 0.0,
        why: str = "",
    ) -> None:
        """So many more, needed `where` ("in “riser”"); `why` is what else there is to say of them, said once."""
        if amount <= 0:
            return
        line = self._lines.setdefault((group, what, size, unit), _Line())
        line.amount += amount
        line.spare += spare
        line.implied += amount if implied else 0.0
        if unit == "piece":
            line.counted[implied, where] = line.counted.get((implied, where), 0) + amount
        for words in (why, "" if unit == "piece" else where):
            if words and words not in line.said:
                line.said.append(words)

    def join(self, size: str, count: int) -> None:
        """So many more joints to cement in a size."""
        if count > 0:
            self.joints[size] = self.joints.get(size, 0) + count

    def note(self, sentence: str) -> None:
        """Something to know that is no part."""
        if sentence not in self.notes:
            self.notes.append(sentence)

    def parts(self) -> list[Part]:
        """The lines, group by group, in the order in which things were first counted."""
        made = [
            Part(
                group,
                what,
                size,
                line.amount,
                unit,
                _reason(line),
                line.spare or _usual_spare(group, what, line.amount, unit),
                line.implied,
            )
            for (group, what, size, unit), line in self._lines.items()
        ]
        return sorted(made, key=lambda part: GROUPS.index(part.group))


def _usual_spare(group: str, what: str, amount: float, unit: str) -> float:
    return float(math.ceil(SPARE * amount - 1e-9)) if unit == "piece" and (group == "Fittings" or what == "bracket") else 0.0


def _reason(line: _Line) -> str:
    own = [f"{count:g} {where}" for (implied, where), count in line.counted.items() if not implied]
    forgotten = [f"{count:g} {where}" for (implied, where), count in line.counted.items() if implied]
    counted = [*([", ".join(own)] if own else []), *(["not in your file: " + ", ".join(forgotten)] if forgotten else [])]
    return "; ".join([*counted, *line.said])


def upward(number: float, digits: int = 3) -> float:
    """A number rounded up to so many figures, so that the shop sells enough: 1231 becomes 1240."""
    if number <= 0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(number)) - digits + 1)
    return float(f"{math.ceil(number / step - 1e-9) * step:.12g}")

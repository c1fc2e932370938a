"""What a panel asks to be tried, one at a time, and what there was to see once it was.

A what-if's `tries` makes them from the build that is open::

    Try("Make {line} **{size}**.", {"line": "bed 1 siphon", "size": "25 mm, PN16"}, lambda record, system: record.sentence(system))

In what is asked, ``{size}`` stands for the value as the panel offers and prints it, and ``{size.label}`` for the name of
its control; so the words follow the units shown, and nothing is asked for that no slider can reach.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from aquaplumb.figures.style import rich
from aquaplumb.whatif import widgets
from aquaplumb.whatif.rows import ChoiceRow, ControlRow, SliderRow

STYLE = """<style>
.ap-tries ul { list-style: none; margin: 2px 0; padding: 0; }
.ap-tries li { margin: 3px 0; padding-left: 20px; text-indent: -20px; }
.ap-tries details > div { text-indent: 0; border-left: 4px solid #009e73; padding-left: 8px; margin: 2px 0 4px; }
.ap-tries summary { list-style: none; cursor: pointer; }
</style>"""


def slanted(markup: str) -> str:
    """Markup with its ``*slanted*`` marks made so."""
    return re.sub(r"\*(.+?)\*", r"<i>\1</i>", markup)


@dataclass(frozen=True)
class Try:
    """One thing to try.

    Parameters
    ----------
    ask : str
        What to do, in words, with ``{name}`` where the value of that control belongs.
    to : dict
        What it asks for, by control name: bare SI for a slider, one of its options for a choice, True or False for a
        switch. It is done when all of these stand so, whatever the others say.
    seen : callable
        ``seen(record, system)``: one sentence on what there was to see, of the record that came out.
    """

    ask: str
    to: dict[str, Any]
    seen: Callable[[Any, str], str]


class Printed(str):
    """A value as a panel prints it, with the `label` of its control."""

    label: str

    def __new__(cls, text: str, label: str):
        printed = super().__new__(cls, text)
        printed.label = label
        return printed


class Tries:
    """The tries of one panel, and which of them are done."""

    def __init__(self, rows: dict[str, ControlRow], start_again: Callable[[], None]):
        self.tries: list[Try] = []
        self.done: dict[int, Any] = {}  # the record of each that was done, by its place
        self._told: dict[int, Try] = {}  # … and the try as it was then: it speaks of the build of its moment
        self._earlier: set[int] = set()  # of the done those of the build before a Keep: they can be done again
        self._standing: set[int] = set()  # those that a Keep has left standing: no move has done them yet
        self._asked: list[str] = []
        self._rows, self.system = rows, "metric"
        self._goals: list[list[tuple]] = []  # of each try: control, place in the unit shown, how near counts
        self._list = widgets.HTML()
        self._again = widgets.Button(description="Start again", tooltip="put every control back to where it stood", icon="undo")
        self._again.on_click(lambda _button: start_again())
        self.widget = widgets.VBox()
        self.widget.add_class("ap-tries")

    def begin(self, tries, system: str) -> None:
        """List what is to be tried, once the panel stands where it starts, or goes on from another build.

        What asks for the same as before stays done, in the words that were said then; any other starts anew.
        """
        first, seen = not self.tries, {self._asked[place]: (self._told[place], record) for place, record in self.done.items()}
        self.tries = list(tries)
        self._turn_to(system)
        before = {place: seen[ask] for place, ask in enumerate(self._asked) if ask in seen}
        self._told, self.done = {place: one for place, (one, _) in before.items()}, {place: record for place, (_, record) in before.items()}
        self._earlier, self._standing = set(before), set() if first else set(self._reached())
        self._list.value, self.widget.children = self._html(), [self._list, self._again] if self.tries else []

    def printed(self, one: Try) -> dict[str, Printed]:
        """What a try asks for, as the panel prints it now."""
        return {name: Printed(self._printed(name, value), self._rows[name].spec.label) for name, value in one.to.items()}

    def reached(self, one: Try) -> dict[str, Any]:
        """What a try asks for, bare SI for a slider, as the panel can reach it in the unit shown."""
        rows = {name: self._rows[name] for name in one.to}
        return {
            name: row._whole(row.spec.kind.from_shown(self._reach(row, one.to[name]), row.system))
            if isinstance(row, SliderRow)
            else one.to[name]
            for name, row in rows.items()
        }

    def asks(self) -> list[str]:
        """What to do, in words, in the units shown."""
        return [one.ask.format(**self.printed(one)) for one in self.tries]

    def heard(self, record, system: str) -> None:
        """A move has come to this record: mark what it did, once."""
        if not self.tries:
            return
        if turned := system != self.system:
            self._turn_to(system)
        reached = self._reached()
        new = [place for place in reached if place not in self._standing and (place not in self.done or place in self._earlier)]
        self._standing &= set(reached)
        self._earlier -= set(new)
        self.done |= dict.fromkeys(new, record)
        self._told |= {place: self.tries[place] for place in new}
        if new or turned:
            self._list.value = self._html()

    def said(self) -> dict[int, str]:
        """What there was to see, by the place of the try."""
        return {place: self._told[place].seen(record, self.system) for place, record in self.done.items()}

    def _reached(self) -> list[int]:
        """The places of the tries whose controls all stand where they have to."""
        return [place for place, goals in enumerate(self._goals) if all(map(self._stands, goals))]

    def _reach(self, row: SliderRow, si: float) -> float:
        """The nearest place of the slider, in the unit shown."""
        return row._snapped(row.spec.kind.shown(si, row.system))

    def _printed(self, name: str, value) -> str:
        row = self._rows[name]
        if isinstance(row, SliderRow):
            return row.spec.kind.text(row.spec.kind.from_shown(self._reach(row, value), row.system), row.system)
        if isinstance(row, ChoiceRow):
            return next(label for label, option in row.all.items() if option == value)
        return "yes" if value else "no"

    def _turn_to(self, system: str) -> None:
        """Work out once for a unit system where each control has to stand."""
        self.system = system
        self._goals = [[self._goal(self._rows[name], value) for name, value in one.to.items()] for one in self.tries]
        self._asked = self.asks()

    def _goal(self, row: ControlRow, value) -> tuple:
        if not isinstance(row, SliderRow):
            return row, value, 0.0
        _low, _high, step = row.spec.marks(row.system, row.low, row.high)
        return row, self._reach(row, value), 0.501 * step

    @staticmethod
    def _stands(goal: tuple) -> bool:
        """Whether a control stands where it has to: of a slider, to its nearest step."""
        row, wanted, near = goal
        return abs(row.spec.kind.shown(row.value, row.system) - wanted) <= near if near else row.value == wanted

    def _html(self) -> str:
        said = self.said()
        lines = "".join(
            f"<li><details open><summary>✔ {slanted(rich(ask))}</summary><div>{rich(said[place])}</div></details></li>"
            if place in said
            else f"<li>○ {slanted(rich(ask))}</li>"
            for place, ask in enumerate(self.asks())
        )
        return f"{STYLE}<b>Try, one at a time:</b><ul>{lines}</ul>"

    def __repr__(self):
        asks = "".join(f"\n{place}. {ask.replace('*', '')}" for place, ask in enumerate(self.asks(), 1))
        return f"Try, one at a time:{asks}" if asks else ""

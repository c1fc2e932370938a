"""The panel that every what-if shows: controls on the left; one result sentence, one picture and the findings on the right.

It is made of a list of controls, one compute function (bare SI numbers in, a record out), one `Picture` and one sentence;
`aquaplumb.whatif.whatif` makes it for the what-ifs of a build::

    panel = Panel(
        [Slider("flow", "flow needed", FLOW, "100 L/h", "6000 L/h", "50 L/h", value="1500 L/h"),
         Choice("pump", "pump", tables.names("pumps"))],
        compute=lambda flow, pump: ...,                  # or a function with `.si`
        picture=PumpPicture(),
        sentence=lambda record, system: f"**{FLOW.text(record.si.flow, system)}** reaches the beds.",
        findings=lambda record: [("fix", "The pump is short of 200 L/h; take the next size.")],
        keep=lambda values: keeper.keep(...),            # a `Keeper` of the build; returns what it did, in a sentence
    )

`panel.set(flow="900 L/h")` and `print(panel.said)` do in code what a hand does on the screen.
"""

from __future__ import annotations

import base64
import html
import os
from typing import Any

from aquaplumb.figures.style import Picture, plain, rich
from aquaplumb.tables import unknown
from aquaplumb.units import SYSTEMS, DesignError, folded
from aquaplumb.whatif import widgets
from aquaplumb.whatif.controls import Choice, Count, Slider, Switch, alike, form, named, short, three_figures
from aquaplumb.whatif.found import SIGNS, as_list, parted, plain_finding
from aquaplumb.whatif.keeping import Keeper, keys_of, listed, written, written_length
from aquaplumb.whatif.pressed import pressed
from aquaplumb.whatif.rows import NOT_KEPT, ControlRow, SliderRow
from aquaplumb.whatif.screen import Fold, beside
from aquaplumb.whatif.tries import Tries

__all__ = [
    "Choice", "Count", "Keeper", "Panel", "Slider", "Switch", "alike", "keys_of", "listed", "named", "rich", "short", "three_figures", "written",
    "written_length",
]  # fmt: skip


class Panel:
    """Controls, one sentence of result, one picture, findings, and the keep button.

    Parameters
    ----------
    controls : list
        `Slider`, `Count`, `Choice` and `Switch`.
    compute : callable
        Takes the controls' values by name as bare SI numbers, returns a record. Of a function with a door, its
        ``.si`` is used.
    picture : Picture
        Drawn from the record.
    sentence : callable, optional
        ``sentence(record, system)`` returns the result in a sentence, ``**bold**`` allowed; without it the
        picture's title serves.
    findings : callable, optional
        ``findings(record)`` returns what is wrong: pairs of a severity ("stop", "fix", "note") and a sentence, or
        records with `severity` and `text`.
    keep : callable, optional
        ``keep(values)`` writes the choice (quantities by name) to the learner's build and says so in a sentence.
    keep_label : str
        What the keep button says.
    system : str
        "metric" or "US".
    start : dict, optional
        Values to start from, by name, such as a build's, bare SI; a slider's range widens to hold them.
    follow : dict, optional
        For a control by name, ``function(values)`` of all values (bare SI) that returns what others take when it
        changes: choosing another line of a build moves the sliders to that line's own values.
    slow : callable, optional
        ``slow(**values)`` says whether these values take a while to compute; the panel then says that it is computing.
    above : str
        A sentence that stands over the result, such as on whose bed one practises.
    tries : list, optional
        What to try, one at a time: `aquaplumb.whatif.tries.Try`.
    pick : str
        The control that says whose values the others are: "Start again" goes back to the values of the one that is shown.
    units_first : bool
        Whether the menu of units stands over the controls, not at their foot.
    shut : str
        The words of a button behind which all of it stays until it is pressed: of a panel that asks about what the build does not have.
    """

    def __init__(self, controls, compute, picture: Picture, sentence=None, *, findings=None, keep=None,
                 keep_label: str = "Keep this in my build", system: str = "metric", start: dict | None = None,
                 follow: dict | None = None, slow=None, above: str = "", tries=(), pick: str = "", units_first: bool = False, shut: str = ""):  # fmt: skip
        self._rows: dict[str, ControlRow] = {spec.name: spec.row() for spec in controls}
        self._follow: dict = {}
        self._slow, self.above, self._pick = slow, above, pick
        self.tries = Tries(self._rows, lambda: self._take(self._begun))
        self._compute = getattr(compute, "si", compute)
        self._sentence, self._findings, self._keep = sentence, findings, keep
        self.picture = picture
        picture.titled = False  # the result line says it
        self.record: Any = None
        self.fault: Exception | None = None
        self.found: list[tuple[str, str]] = []
        self.stale, self.said, self.kept = True, "", ""
        self.widget: Any = None
        self.reviewed: list[tuple[str, str]] | None = None  # what the review says of what was kept last; None before
        self._png, self._system = b"", _checked_system(system)
        self._keep_label, self._units_first, self.shut = keep_label, units_first, Fold([], shut)
        self._lay_out(keep_label)
        for row in self._rows.values():
            row.heard = self._heard
        self._opened: dict = {}
        self._begun: dict = {}  # where "Start again" goes back to
        self._take({name: self.control(name).of_build(value) for name, value in (start or {}).items()})
        self._opened, self._begun, self._follow = self.si, self.si, follow or {}
        self.tries.begin(tries, self._system)
        for name in self._follow:
            self._rows[name].heard = self._led_by(name)

    # --- for code ---

    @property
    def values(self) -> dict:
        """The controls' values by name: quantities, in the unit shown."""
        return {name: row.quantity(self._system) for name, row in self._rows.items()}

    @property
    def si(self) -> dict:
        """The controls' values by name: bare SI numbers, as the compute function takes them."""
        return {name: row.value for name, row in self._rows.items()}

    def set(self, **changes) -> None:
        """Set some controls and draw once; ``panel.set(flow="900 L/h", pump="demo 45 W")``."""
        if strange := [name for name in changes if name not in self._rows]:
            raise DesignError(unknown("panel", strange[0], self._rows))
        self._take({name: self._rows[name].checked(value) for name, value in changes.items()})  # all or nothing

    def _take(self, checked: dict) -> None:
        """Set some controls to bare SI values, others to what follows from them, and draw once."""
        for name in [name for name in self._follow if name in checked and checked[name] != self._rows[name].value]:
            checked = {**self._led(name, checked), **checked}
        for name, value in checked.items():
            self._rows[name].take(value)
        self._offer()
        self._show_rows()
        self._heard("")

    def worked(self) -> list[tuple[str, str]]:
        """Each try, with what there is then to see: computed from where the controls stand, which stay there, and not drawn."""
        found = []
        for one, ask in zip(self.tries.tries, self.tries.asks(), strict=True):
            to = self.tries.reached(one)
            for name in [name for name in self._follow if name in to and to[name] != self._rows[name].value]:
                to = {**{other: self._rows[other].of_build(taken) for other, taken in self._follow[name]({**self.si, **to}).items()}, **to}
            found.append((ask, one.seen(self._compute(**{**self.si, **to}), self._system)))
        return found

    @property
    def system(self) -> str:
        """The unit system, "metric" or "US"; set it to change what is shown. The values stay what they are."""
        return self._system

    @system.setter
    def system(self, system: str) -> None:
        self._system = _checked_system(system)
        self._units.value = system
        self._show_rows()
        self._heard("")

    def control(self, name: str) -> Any:
        """The row of one control, with its widgets: ``panel.control("flow").slider.value = 900``."""
        if name not in self._rows:
            raise DesignError(unknown("panel", name, self._rows))
        return self._rows[name]

    def _led(self, name: str, to: dict) -> dict:
        """What others take when a control changes: from there on they count as not moved."""
        others = {other: self._rows[other].of_build(taken) for other, taken in self._follow[name]({**self.si, **to}).items()}
        self._opened |= others
        if name == self._pick:
            self._begun |= {**others, name: to[name]}
        return others

    def _tried(self) -> str:
        """The controls that were moved and are not kept, in a sentence; nothing where there are none."""
        moved = [
            row.spec.label
            for name, row in self._rows.items()
            if not row.spec.kept and row.offered and not alike(row.value, self._opened[name])
        ]
        return f" Only tried, {NOT_KEPT}: {', '.join(moved)}." if moved else ""

    def read_anew(self, controls: list, own: dict, follow: dict, tries=(), *, here: bool) -> None:
        """Go on from a build with these values, bare SI; what was moved stays, if it was kept `here` only what is to try."""
        moved = {name for name, row in self._rows.items() if name not in self._opened or not alike(row.value, self._opened[name])}
        values = self.si
        if [form(spec) for spec in controls] != [form(row.spec) for row in self._rows.values()]:
            self._lay_anew(controls)
        now = {name: self._rows[name].of_build(value) for name, value in own.items()}
        for name, row in self._rows.items():
            if name in now and not (name in moved and not (here and row.spec.kept)):
                row.take(now[name])
            elif name in values:
                row.take(values[name])
        self._follow = follow
        self._offer()
        self._opened = {**self.si, **{name: value for name, value in self._opened.items() if name in self._rows}, **now}
        self._begun = dict(self._opened)
        self._show_rows()
        self.tries.begin(tries, self._system)
        self._heard("" if here else "The build was kept in another panel of this page; this one goes on from it.")

    def _lay_anew(self, controls: list) -> None:
        """Other controls in the place of those that are there."""
        shown = self.widget
        self._rows.clear()
        self._rows.update({spec.name: spec.row() for spec in controls})
        for name, row in self._rows.items():
            row.heard = self._led_by(name) if name in self._follow else self._heard
        self._lay_out(self._keep_label)
        shown.children, self.widget = self.widget.children, shown

    def _led_by(self, name: str):
        def led(note: str) -> None:
            value, before = self._rows[name].value, {other: row.text(self._system) for other, row in self._rows.items() if row.offered}
            self._take({**self._led(name, {name: value}), name: value})
            if name != self._pick and (went := self._went(name, before)):
                self._say(f"{note} {went}".lstrip())
            elif note:
                self._say(note)

        return led

    def _went(self, name: str, before: dict[str, str]) -> str:
        """What else has changed with a control, in a sentence, from what the controls said before; nothing where nothing has."""
        rows = {other: row for other, row in self._rows.items() if other != name}
        texts = {other: row.text(self._system) for other, row in rows.items() if row.offered}
        now = [text for other, text in texts.items() if before.get(other, text) != text]
        gone = [row.spec.label for other, row in rows.items() if other in before and not row.offered]
        said = [f"Changed with it: {'; '.join(text.replace(': ', ' ', 1) for text in now)}."] * bool(now) + [
            f"Not to choose with it: {', '.join(gone)}."
        ] * bool(gone)
        return " ".join(said)

    def _offer(self) -> list:
        """Bring the choices that depend on another one in line with it; returns their rows."""
        dependent = [row for row in self._rows.values() if getattr(row.spec, "of", "")]
        for row in dependent:
            row.offer(self._rows[row.spec.of].value)
        return dependent

    # --- one guarded recompute ---

    def _heard(self, note: str) -> None:
        """A control has moved: compute, and show either the new answer or why there is none."""
        for row in self._offer():
            row.show(self._system)
        if self._more and any(
            row.spec.rare and not alike(row.value, self._opened.get(name, row.value)) for name, row in self._rows.items()
        ):
            self._more.open()  # nothing that differs from the build may be out of sight
        self._say(note)
        self.picture.system = self._system
        self.record, self.fault = None, None
        values = self.si
        try:
            if self._slow and self._slow(**values):
                self._busy(True)
            record = self._compute(**values)
            png = self.picture.png(record, self._system)
            words = plain(self.picture.alt(record))
            said = self._sentence(record, self._system) if self._sentence else self.picture.title(record)
            found = sorted(map(plain_finding, self._findings(record)), key=lambda one: list(SIGNS).index(one[0])) if self._findings else []
            self.tries.heard(record, self._system)
        except DesignError as wrong:
            self._show_stale(str(wrong))
        except Exception as fault:
            self.fault = fault
            self._show_stale(f"this is a fault in aquaplumb: {type(fault).__name__}: {fault}")
            if os.environ.get("AQUAPLUMB_STRICT"):
                raise
        else:
            self.record, self.stale, self._png, self.found = record, False, png, found
            self._show_answer(said, words)
        finally:
            self._busy(False)

    def _say(self, note: str) -> None:
        """Tell a person what a move did besides, or nothing."""
        self._note.value = f'<div role="status" aria-live="polite">{rich(note)}</div>' if note else ""

    def _busy(self, busy: bool) -> None:
        """Grey out what was said for the values before, while those of now are computed."""
        for shown in (self._result, self._picture, self._found):
            (shown.add_class if busy else shown.remove_class)("ap-busy")

    def _show_answer(self, said: str, words: str) -> None:
        self.said = plain(said)
        self._show_picture(words)
        self._result.value = f'<div class="ap-result" role="status" aria-live="polite">{rich(said)}</div>'
        self._found.value = self._found_html()
        settings = "".join(f"<li>{rich(text)}</li>" for text in self._row_texts())
        self._words.value = f"<p>{rich(words)}</p><ul>{settings}</ul>"
        for row in self._rows.values():
            if isinstance(row, SliderRow) and row.play:
                row.play_through(getattr(self.record.si, "stops", ()))

    def _show_stale(self, message: str) -> None:
        """Say what is wrong where the result stood; nothing old may stand as if it were new."""
        self.stale, self.said, self.found = True, message, []
        self._result.value = f'<div class="ap-result" role="status" aria-live="polite"><div class="ap-bad">✖ {rich(message)}</div></div>'
        self._show_picture(f"Out of date, since there is no result: {message}")
        self._found.value = ""
        self._notes.offer("")
        self.shut.open()
        self._words.value = f"<p>{rich(message)}</p>"

    def _show_picture(self, words: str) -> None:
        wide, high = self.picture.width, self.picture.height
        source = f' src="data:image/png;base64,{base64.b64encode(self._png).decode()}"' if self._png else ""
        image = f'<img alt="{html.escape(words)}" width="{wide}" height="{high}" decoding="sync"{source}>'
        self._picture.value = f'<div class="ap-frame{" ap-old" if self.stale else ""}">{image}</div>'

    def _found_html(self) -> str:
        shown, notes = parted(self.found, self.reviewed, looked=self._findings is not None)
        self._quiet.value = as_list(notes, "") if notes else ""
        self._notes.offer(f"{len(notes)} notes" if notes else "")
        return shown

    def _press_keep(self, _button=None) -> None:
        self._say("Keeping …")
        if self.stale:
            outcome = "✖ Not kept, since there is no result to keep."
        else:
            outcome, fault = pressed(lambda: f"{self._keep(self.values) or 'Kept.'}{self._tried()}", otherwise="Not kept")
            self.fault = fault or self.fault
        self.kept = plain(outcome)
        if not self.stale:
            self._found.value = self._found_html()
        self._say(outcome)

    # --- laying out ---

    def _lay_out(self, keep_label: str) -> None:
        rows = self._rows.values()
        rare = [row.line for row in rows if row.spec.rare]
        self._more = Fold(rare) if rare else None
        self._units = widgets.Dropdown(options=list(SYSTEMS), value=self._system, description="units")
        self._units.observe(self._switched, "value")
        self._note = widgets.HTML()
        head, foot = ([self._units], []) if self._units_first else ([], [self._units])  # where they are chosen for good
        self.keep_button: Any = None  # none where there is nothing to keep
        if self._keep:
            self.keep_button = widgets.Button(description=keep_label, icon="check")
            self.keep_button.on_click(self._press_keep)
            foot.append(self.keep_button)
            if to_try := [row.line for row in rows if not row.spec.kept]:
                for line in to_try:
                    line.add_class("ap-try")
                foot.append(widgets.HTML(f"<i>Slanted</i>: only to try, {NOT_KEPT}"))
        self._result, self._picture, self._found, self._quiet, self._words = (widgets.HTML() for _ in range(5))
        self._notes = Fold([self._quiet], "")
        twin = widgets.HTML(folded("The same in words and numbers", ""))
        twin.add_class("ap-twin")
        self._words.add_class("ap-words")
        above = [widgets.HTML(f'<div class="ap-above">{rich(self.above)}</div>')] if self.above else []
        usual = [row.line for row in rows if not row.spec.rare]
        self.widget = beside(
            [*head, *usual, *(self._more.parts if self._more else []), self.tries.widget, *foot, self._note],
            [*above, self._result, self._picture],
            [self._found, *self._notes.parts, twin, self._words],
            self.picture.width,
        )
        self.shut = self.shut.over(self.widget)

    def _switched(self, change) -> None:
        if change["new"] != self._system:
            self.system = change["new"]

    def _row_texts(self) -> list[str]:
        return [row.text(self._system) for row in self._rows.values() if row.offered]

    def _show_rows(self) -> None:
        for row in self._rows.values():
            row.show(self._system)

    # --- display ---

    def __repr__(self):
        return "\n".join(filter(None, [f"What if? {', '.join(self._row_texts())}.", self.above, self.said, repr(self.tries)]))

    def _repr_mimebundle_(self, include=None, exclude=None):
        bundle = self.widget._repr_mimebundle_()
        saved = {"image/png": self._png} if self._png else {}  # what a page without a kernel shows
        words = f"{self!r}\n(Run this cell to move the sliders.)"
        return {**bundle, **saved, "text/plain": words}, {"image/png": {"alt": words}} if saved else {}


def _checked_system(system: str) -> str:
    if system not in SYSTEMS:
        raise DesignError(unknown("list of unit systems", system, SYSTEMS))
    return system

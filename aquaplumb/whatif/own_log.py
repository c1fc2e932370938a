"""Your own log on the page: begin it, add today's readings, and hear at once what they ask for. Notebook 12.

build = my_build()
own_log.form(build)       # a form, a picture and advice: yours if the build names a log, else a demo's
"""

from __future__ import annotations

import base64
import html
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from aquaplumb.build import Build, load
from aquaplumb.figures.own_log import LogPicture
from aquaplumb.figures.style import plain
from aquaplumb.review.readings import own_log, summary
from aquaplumb.review.readings.latest import OLD
from aquaplumb.review.readings.log import Log
from aquaplumb.review.readings.logbook import NEW, Logbook, add, begin
from aquaplumb.review.readings.own import CALM, FORMS, NextSteps, log_path, steps
from aquaplumb.tables import unknown
from aquaplumb.units import DesignError, folded
from aquaplumb.whatif import widgets
from aquaplumb.whatif.base import rich
from aquaplumb.whatif.pressed import pressed
from aquaplumb.whatif.screen import beside

_CLASS = {"now": "ap-stop", "today": "ap-fix", "this week": "ap-fix", "watch": "ap-note"}
_OPEN = 4  # pieces of advice that are shown unfolded
_WAITING = "There is a line for each day. Write what you measured, leave the rest blank, and press the button."
_BEGINS = f"No log of yours yet. It is a file, {NEW}, beside your build; say how your kit reads."


class LogForm:
    """The form and what the log says. `said` is that in words, `kept` what the last press did."""

    def __init__(self, build: Build, clock: Callable[[], datetime] = datetime.now):
        self.build, self._clock = build, clock
        self.log: Log | None = None
        self.fields: dict[str, widgets.Text] = {}
        self.said, self.kept = "", ""
        self._png = b""
        self.forms = {name: widgets.Dropdown(options=[(f"as {form}" if form != "dKH" else form, form) for form in choices], description=name)
                      for name, choices in FORMS.items()}  # fmt: skip
        self.begin_button = self._button("Start my log", "file", self._begin)
        self.add_button = self._button("Add today's readings", "plus", self._add)
        self.again_button = self._button("Read my log again", "refresh", lambda: "")
        self._note, self._top, self._found, self._picture, self._unread = (widgets.HTML() for _ in range(5))
        self._left = widgets.VBox()
        self._left.add_class("ap-form")
        self.widget = beside([self._left], [self._top], [self._found, self._picture, self._unread], 700)
        self._guarded(lambda: "")

    # --- for code ---

    def type(self, cells: Mapping[str, str]) -> None:
        """Write into fields by name, as a hand does: ``form.type({"pH": "7.1"})``."""
        for name, text in cells.items():
            if name not in self.fields:
                raise DesignError(unknown("log's form", name, self.fields))
            self.fields[name].value = text

    @property
    def typed(self) -> dict[str, str]:
        """What stands in the fields, by name."""
        return {name: field.value for name, field in self.fields.items()}

    # --- what the buttons do ---

    def _button(self, label: str, icon: str, action: Callable[[], str]) -> widgets.Button:
        button = widgets.Button(description=label, icon=icon)
        button.on_click(lambda _: self._guarded(action))
        return button

    def _begin(self) -> str:
        self.build, said = begin(self.build, {name: menu.value for name, menu in self.forms.items()})
        return said

    def _add(self) -> str:
        path = log_path(self.build)
        assert path is not None  # the button is there only where the build names a log
        said = add(path, self.typed, now=self._clock())
        for field in self.fields.values():
            field.value = ""
        return said

    def _guarded(self, action: Callable[[], str]) -> None:
        """Do something, then read the log as it is now on disk and let it speak; what is wrong is said in place."""
        self.kept = pressed(action, file=NEW).said
        bad = self.kept.startswith("✖")
        self._note.value = (
            f'<div role="status" aria-live="polite"{" class=ap-bad" if bad else ""}>{rich(self.kept)}</div>' if self.kept else ""
        )
        self._show()

    # --- what is shown ---

    def _show(self) -> None:
        if self.build.path is not None and self.build.path.exists():
            try:
                self.build = load(self.build.path)  # another panel, or a hand, may have changed it
            except DesignError as wrong:
                self._show_nothing(str(wrong))
                return
        path = log_path(self.build)
        if path is None or not path.exists():
            self._show_begin("" if path is None else f"Your build names {path.name} as its log, and there is no such file beside it.")
            return
        try:
            book = Logbook(path)
        except DesignError as wrong:
            self._show_nothing(str(wrong))
            return
        self._show_fields(book)
        self._speak(book.log, path)

    def _show_nothing(self, why: str) -> None:
        self._left.children = [self.again_button, self._note]
        self._say(None, why)

    def _show_begin(self, lost: str) -> None:
        self._left.children = [widgets.HTML(rich(lost or _BEGINS)), *self.forms.values(), self.begin_button, self._note]
        if lost:
            self._say(None, lost)
        else:
            self._speak(own_log(self.build), Path(NEW))

    def _show_fields(self, book: Logbook) -> None:
        """A field for each column of the file, headed as there; what was typed stays."""
        typed, were = self.typed, {name: field.description for name, field in self.fields.items()}
        if were != book.fields:
            self.fields = {}
        for name, heading in book.fields.items() if were != book.fields else ():
            field = widgets.Text(value=typed.get(name, ""), description=heading)
            self.fields[name] = field
        if not self.fields["date"].value:
            self.fields["date"].value = self._today(book.log)
        self._left.children = [widgets.HTML(_WAITING), *self.fields.values(), self.add_button, self.again_button, self._note]

    def _today(self, log: Log | None) -> str:
        """Today, with the time (a minute that is free) where the day is in the log already."""
        now = self._clock()
        if log is None or np.datetime64(now, "D") not in log.dates.astype("datetime64[D]"):
            return f"{now:%Y-%m-%d}"
        while np.datetime64(now, "m") in log.dates:
            now += timedelta(minutes=1)
        return f"{now:%Y-%m-%d %H:%M}"

    def _speak(self, log: Log | None, path: Path) -> None:
        if log is None:
            self._say(None, f"{path.name} has no readings yet.")
            return
        try:
            self._say(log, "")
        except DesignError as wrong:
            self._say(None, str(wrong))

    def _say(self, log: Log | None, why: str) -> None:
        """The log's own words and picture, or why there are none; nothing old stands as if it were new."""
        self.log = log
        if log is None:
            self.said, self._png = why, b""
            self._top.value = f'<div class="ap-result" role="status" aria-live="polite">{rich(why)}</div>'
            self._picture.value = self._found.value = self._unread.value = ""
            return
        picture, told = LogPicture(log, self.build), steps(log, self.build)
        self._png = picture.png()
        stale = "" if log.demo else self._stale(log)
        self.said = f"{summary(log)}{plain(stale) and chr(10) + plain(stale)}\n\n{told.text(_OPEN)}"
        first, *problems = str(log).split("\n")
        listed = "".join(f"<li>{rich(problem.strip())}</li>" for problem in problems)
        top = f'<div class="ap-result" role="status" aria-live="polite"><b>{rich(first)}</b> {rich(told.whose or stale)}</div>'
        about = _folded("The biofilter, as these readings have it", f"<p>{rich(told.about)}</p>")
        cells = f'<p style="margin: 4px 12px"><b>Of its cells and rows.</b></p><ul>{listed}</ul>' if problems else ""
        words = html.escape(plain(picture.alt(log)))
        source = base64.b64encode(self._png).decode()
        drawn = f'<div class="ap-frame"><img alt="{words}" width="{picture.width}" height="{picture.height}" src="data:image/png;base64,{source}"></div>'
        parts = top, drawn, _advice(told), about + cells
        if log.demo:  # nobody's water: one looks at it to see what one's own will tell
            parts = "", "", _folded("A demo's log, and what it asks for", "".join(parts)), ""
        self._top.value, self._picture.value, self._found.value, self._unread.value = parts

    def _stale(self, log: Log) -> str:
        """That the log's end is too old to say anything of today's water, if so."""
        days = int((np.datetime64(self._clock(), "D") - log.dates[-1].astype("datetime64[D]")) / np.timedelta64(1, "D"))
        return f"**Its last reading is {days} days old and says nothing of today's water: test now.**" if days > OLD else ""

    # --- display ---

    def __repr__(self) -> str:
        return self.said

    def _repr_mimebundle_(self, include=None, exclude=None):
        saved = {"image/png": self._png} if self._png else {}  # what a page without a kernel shows
        words = f"{self.said}\n(Run this cell to keep a log.)"
        return {**self.widget._repr_mimebundle_(), **saved, "text/plain": words}, {"image/png": {"alt": words}} if saved else {}


def _folded(title: str, words: str) -> str:
    """As far from the edge as the rest of the form."""
    return f'<div style="margin: 4px 12px">{folded(title, words)}</div>'


def _advice(told: NextSteps) -> str:
    """The advice as a list, the most urgent first; what does not press is folded."""
    if not told.asked:
        return f'<ul class="ap-list"><li class="ap-none">{CALM}</li></ul>'
    items = [
        f'<li class="{_CLASS[a.urgency]}"><b>{a.urgency}: {a.name}.</b> {rich(f"{a.sentence} {a.reason}")}<br>→ {rich(a.do)}</li>'
        for a in told.asked
    ]
    count = len(told.shown(_OPEN))
    rest = "".join(items[count:])
    more = _folded(f"{len(items) - count} more", f'<ul class="ap-list">{rest}</ul>') if rest else ""
    return f'<ul class="ap-list">{"".join(items[:count])}</ul>{more}'


form = LogForm

"""What every what-if is made from: a record, a class of `WhatIf`, and its words. `pump` is one to read.

A module ends with ``picture, panel = PumpWhatIf.picture, PumpWhatIf.panel``; the rest comes from the class.
"""

from __future__ import annotations

import functools
import os
from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any

import ipywidgets

from aquaplumb.build import MINE, Build, load
from aquaplumb.build.file_text import as_said
from aquaplumb.figures.style import Picture
from aquaplumb.system.season import in_worst_month
from aquaplumb.units import DesignError
from aquaplumb.whatif.base import Panel, alike
from aquaplumb.whatif.found import on_page
from aquaplumb.whatif.keeping import Keeper, listed, written
from aquaplumb.whatif.opened import Opened
from aquaplumb.whatif.sight import Sight
from aquaplumb.whatif.tries import Try

_WARMTHS = ("site", "coldest_water"), ("site", "warmest_water")  # of all year: what a season's month has is not to be written there
_DRAWN: dict[type[Picture], Picture] = {}  # those of the demo's panels, where a kernel is begun from a process that has drawn them
LENDER = "courtyard"  # the demo that lends what a build has not: to a US build too, where its pipes do not matter


class Values(dict):
    """What the controls of a panel say: bare SI by control name; `text` has one as it stands in a build file."""

    def __init__(self, panel: Panel):
        super().__init__(panel.si)
        self.system, self._shown, self._panel = panel.system, panel.values, panel

    def text(self, name: str):
        """A value in the unit shown, as a build file has it."""
        return written(self._shown[name])

    def said(self, name: str) -> str:
        """The same with the control's name before it."""
        return f"{self._panel.control(name).spec.label} {as_said(str(self.text(name)))}"

    @property
    def labels(self) -> dict[str, str]:
        """What the panel calls a key of the file that a slider of it moves, up to a comma: "stocking density" for "density"."""
        specs = [self._panel.control(name).spec for name in self]
        return {spec.key.rpartition(".")[-1]: spec.label.partition(",")[0] for spec in specs if getattr(spec, "key", "")}


class WhatIf:
    """One question of a build: what the controls start from, what comes of their values, and what a Keep writes.

    `own`, `__call__` and `controls` are always filled in. A what-if that can be kept says its `changes`; most say
    `told`, too. The rest is there for those who need it.
    """

    drawn: type[Picture]  # what the panel shows of the record that comes back
    still: type[Picture] | None = None  # what shows a build as it stands, where that is another picture
    page = ""  # its notebook, such as "08": findings of that one come first
    keep_label = "Keep this in my build"
    makes_file = False  # and with it chooses the units of all pages
    lent = ""  # what a build that lacks what is asked for practises on, such as "bed"
    lender_us, lent_us = LENDER, ""  # … and the demo that lends it to a US build, or another thing
    through_year = False  # whether it looks at a season's year, and not at its worst month
    guessed = LENDER  # the build that the page's guess is of
    case: dict[str, Any] = {}  # what the controls say, on the demo, of the case that the page's guess asks about
    case_us: dict[str, Any] = {}  # … and what else to a US build, so that the picture has the round numbers of its guess
    shut = ""  # the words of a button behind which the panel waits, where it tries what the build does not have: nothing of that is to mend
    pick = ""  # the control, if any, that says whose values the others are, such as "line": `own` then takes its value

    def __init__(self, build: Build, line: str | None = None):
        if lack := self.lack(build):
            raise DesignError(f"this build has {lack}, so there is nothing to try here; its panel practises on {self._borrowed(build)}.")
        self.build, self.keeper = build, Keeper(build)
        self.before: set[tuple[str, str]] | None = None  # the findings of the build as it stands, from the first record on
        self.began: WhatIf = self  # as the panel was opened: what is turned back to that is as it was in the file

    # --- what a new what-if fills in ---

    def own(self, *args: Any, **kwargs: Any) -> dict[str, Any]:
        """The values that the build has, bare SI by control name; names without a control of this build do no harm."""
        raise NotImplementedError

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        """The record for some values of the controls, bare SI by name."""
        raise NotImplementedError

    def controls(self) -> list:
        """The controls, in the order in which they are shown."""
        raise NotImplementedError

    def changes(self, values: Values) -> dict[tuple, object]:
        """What a Keep writes: for each key of the build file its new text, or None for one that goes."""
        raise NotImplementedError

    def told(self, new: dict[tuple, object], values: Values) -> str:
        """What was kept, in words; `new` are the changes since the last time."""
        return listed(new, names=values.labels)

    # --- what it teaches ---

    def tries(self) -> list[Try]:
        """What to try on this build, one at a time: made of what the build has and the panel offers."""
        return []

    def to_try(self) -> list[Try]:
        """The tries of a build that can be solved as it stands; none of another, whose panel says what is wrong."""
        try:
            return self.tries()
        except DesignError:
            return []

    def look(self, record, system: str) -> str:
        """What to see in the picture of a build as it stands, in a few sentences."""
        return ""

    def against(self, record, demo, system: str) -> str:
        """In a sentence, why a build's record is another than that of the demo's case."""
        return ""

    # --- what it may say otherwise ---

    @classmethod
    def lack(cls, build: Build) -> str:
        """What a build has instead of what this asks for, such as "rafts, and no bed of media"; nothing where it can be tried."""
        return ""

    def about(self, values: Values) -> tuple:
        """The beginnings of the keys that are shown now; of another line what was kept before stays."""
        return (("lines", values[self.pick]),) if self.pick in values else ((),)

    def follow(self) -> dict:
        """For a control by name, a function of all values to those that others take when it is changed."""
        return {self.pick: lambda values: self.own(values[self.pick])} if self.pick else {}

    def findings(self, record, system: str) -> list[tuple[str, str]]:
        """What is wrong, worst first: pairs of a severity and a sentence."""
        return self.page_findings(record)

    def page_findings(self, record, count: int = 4, *, below: Collection[str] = ()) -> list[tuple[str, str]]:
        """Of a record's findings what belongs to this page, what the controls have brought about, and how many more there are.

        below: Names of those that another panel of the page tells of the build as it stands.
        """
        if self.before is None:
            self.before = {(f.name, f.where) for f in record.si.findings}
        findings = [f for f in record.si.findings if f.name not in below or (f.name, f.where) not in self.before]
        return on_page(findings, self.page, known=self.before | {("", "")}, count=count, counted=False)

    def reviewed(self) -> list[tuple[str, str]]:
        """What the review says of the build as it was kept last, for this page; and what is to fix since the panel was opened."""
        seen = self.keeper.seen.findings if self.keeper.seen else ()
        notes = {(f.name, f.where) for f in seen if f.severity == "note"}
        known = self.began.before | notes | {("", "")} if self.began.before is not None else ()
        return on_page(seen, self.page, known=known)

    @property
    def warm_water(self) -> str:
        """What the water's highest warmth is called: by its month, where a season rules it."""
        return self._water_of_month() or "warmest water"

    @property
    def cold_water(self) -> str:
        """What the water's lowest warmth is called: by its month, too."""
        return self._water_of_month() or "coldest water"

    def _water_of_month(self) -> str:
        return f"water in {self.build.month.split()[0].strip(',')}" if self.build.month else ""

    def slow(self, **values) -> bool:
        """Whether these values take a while to compute."""
        return False

    def drawing(self) -> Picture:
        """The panel's picture: one that is drawn already, where it waits for its panel, or a new one."""
        return _DRAWN.pop(self.drawn, None) or self.drawn(system=self.build.units)

    def keep(self, panel: Panel) -> str:
        """Write what the panel shows to the build; returns what was done, in a sentence."""
        values, changes = Values(panel), self.changes(Values(panel))
        theirs = [key for key in changes if self.build.month and key in _WARMTHS]
        for key in theirs:
            del changes[key]
        still = None if self.began is self else self.began.changes(self.in_full(values))
        kept = self.keeper.keep(changes, lambda new: self.told(new, values), about=self.about(values), still=still)
        return f"{kept} The water's warmth is the season's, and stays." if theirs else kept

    def in_full(self, values: Values) -> Values:
        """The values, with what the build has now in the place of "as in my build"."""
        return values

    def kept_build(self) -> Build:
        """The build as it was kept last."""
        return self.keeper.build

    # --- what comes of it ---

    def moved(self, values: dict) -> list[str]:
        """The names of the values that are not the build's own."""
        own = self.own(values[self.pick]) if self.pick in values else self.own()
        return [name for name, value in values.items() if name in own and not alike(value, own[name])]

    @classmethod
    def _of(cls, build: Build, line: str | None) -> WhatIf:
        now = build if cls.through_year else in_worst_month(build)[0]
        return cls(now) if line is None else cls(now, line)

    @classmethod
    def _or_lent(cls, build: Build, line: str | None) -> tuple[WhatIf, str]:
        """The what-if of a build, or of the demo where it lacks what is asked for, with a sentence that says so."""
        lack = cls.lack(build)
        if not lack:
            return cls._of(build, line), ""
        return cls(load(cls._lender(build))), f"Your build has {lack}: practise on {cls._borrowed(build)}; nothing here is kept."

    @classmethod
    def _borrowed(cls, build: Build) -> str:
        """What a build that lacks it practises on, and whose it is."""
        return f"the {cls._lender(build).replace('-', ' ')}'s {(build.units == 'US' and cls.lent_us) or cls.lent}"

    @classmethod
    def _lender(cls, build: Build) -> str:
        return cls.lender_us if build.units == "US" else LENDER

    @classmethod
    def as_built(cls, build: Build, line: str | None = None):
        """The record of a build as it stands; of several lines, the one named or else the first to show."""
        what_if = cls._of(build, line)
        return what_if(**what_if.own())

    @classmethod
    def picture(cls, build: Build, line: str | None = None) -> Picture:
        """The picture of a build as it stands, or of what it practises on; display it in a notebook."""
        return cls._stands(build, line, _tables(build))[2]

    @classmethod
    @functools.lru_cache(maxsize=32)
    def _stands(cls, build: Build, line: str | None, _beside: tuple) -> tuple[WhatIf, Any, Picture]:
        """The what-if of a build as it stands, its record and its picture; the last few that were asked about are kept."""
        what_if, above = cls._or_lent(build, line)
        record = what_if(**what_if.own())
        return what_if, record, what_if._picture(record, build.units, above)

    @classmethod
    def sight(cls, build: Build, line: str | None = None) -> Sight:
        """The guess answered on the demo's case, and then the build's own picture, with a sentence on why they differ."""
        guessed, (what_if, own, picture) = cls.guess(build.units), cls._stands(build, line, _tables(build))
        return Sight(guessed, what_if.against(own, guessed.record, build.units), picture)

    @classmethod
    def guess(cls, system: str) -> Picture:
        """The picture of the case that the page's guess asks about: the same for everybody, and drawn once."""
        demo = load(cls.guessed, units=system)
        return cls._guess(demo, system, _tables(demo))

    @classmethod
    @functools.lru_cache(maxsize=32)
    def _guess(cls, build: Build, system: str, _beside: tuple) -> Picture:
        demo = cls(build)
        return demo._picture(demo(**{**demo.own(), **cls.case, **(cls.case_us if system == "US" else {})}), system)

    def _picture(self, record, system: str, above: str = "") -> Picture:
        picture = (self.still or self.drawn)(record, system=system)
        picture.above, picture.look = above, self.look(record, system)
        return picture

    @classmethod
    def panel(cls, build: Build, line: str | None = None) -> Panel:
        """The sliders, starting from a build; of several lines, the one named or else the first to show."""
        opened = Opened(cls, build, line)
        drawing = opened.now.drawing()
        drawing.system = build.units
        panel: Panel = Panel(
            opened.controls(),
            compute=opened,
            picture=drawing,
            sentence=lambda record, system: record.sentence(system),
            findings=lambda record: opened.now.findings(record, drawing.system),
            keep=None if opened.above else lambda _: opened.keep(),
            above=opened.above,
            keep_label=opened.now.keep_label,
            system=build.units,
            start=opened.own(),
            follow=opened.follow(),
            slow=lambda **values: opened.now.slow(**values),
            tries=opened.now.to_try(),
            pick=opened.now.pick,
            units_first=opened.now.makes_file,
            shut=opened.now.shut,
        )
        return opened.shown(panel)


def draw_ahead(build: Build, panel: Callable[[Build], Panel]) -> None:
    """Make a panel and put it away: the next of its kind finds its build solved, and the frame of its picture drawn if it would be the same."""
    try:
        picture = panel(build).picture
    finally:
        ipywidgets.Widget.close_all()
    if getattr(panel, "__self__", WhatIf).drawing is WhatIf.drawing:  # no picture of its own
        _DRAWN[type(picture)] = picture


def _tables(build: Build) -> tuple:
    """The tables that lie beside a build, with when they were written: what it is practised on may be in one."""
    try:
        with os.scandir(Path(build.path or MINE).absolute().parent) as found:
            return tuple(sorted((one.name, one.stat().st_mtime_ns) for one in found if one.name.endswith(".csv")))
    except OSError:
        return ()

"""The what-ifs that are open on a page: after a Keep in one of them, all of the same build file read it anew.

In Voilà nothing below a panel runs again, and in a notebook nobody runs again what stands above it: a panel that went on
from the build as it was would show a number that is no longer there, and its next Keep would write it back.
"""

from __future__ import annotations

import weakref
from pathlib import Path
from typing import TYPE_CHECKING, Any

from aquaplumb.build import MINE, Build
from aquaplumb.units import DesignError
from aquaplumb.whatif.base import Panel

if TYPE_CHECKING:
    from aquaplumb.whatif.whatif import WhatIf

_OPEN: weakref.WeakSet[Opened] = weakref.WeakSet()


class Opened:
    """One what-if on a page: `now` is that of the build as it was kept last, `above` what it says of a build that is lent."""

    panel: Panel

    def __init__(self, kind: type[WhatIf], build: Build, line: str | None):
        self.kind, self.line = kind, line
        self.file = Path(build.path or MINE).absolute()
        self.now, self.above = kind._or_lent(build, line)

    def __call__(self, **values: Any):
        """The record for some values of the controls."""
        return self.now(**values)

    @property
    def build(self) -> Build:
        """The build as it was kept last."""
        return self.now.build

    def shown(self, panel: Panel) -> Panel:
        """Remember the panel that shows it."""
        self.panel = panel
        vars(panel)["opened"] = self  # lives as long as its panel
        _OPEN.add(self)
        return panel

    def controls(self) -> list:
        """The controls as the build now asks for them."""
        return self.now.controls()

    def own(self, *pick: Any) -> dict[str, Any]:
        """What the build has, of the controls that there are."""
        names = {control.name for control in self.now.controls()}
        return {name: value for name, value in self.now.own(*pick).items() if name in names}

    def follow(self) -> dict:
        """As `WhatIf.follow`, of the controls that there are."""
        names = [control.name for control in self.now.controls()]

        def led(of):
            return lambda values: {name: value for name, value in of(values).items() if name in names}

        return {name: led(of) for name, of in self.now.follow().items() if name in names}

    def keep(self) -> str:
        """Write what the panel shows, let all panels of that file read it anew, and say what was done."""
        said = self.now.keep(self.panel)
        self.panel.reviewed = self.now.reviewed()
        build = self.now.kept_build()
        for other in [one for one in _OPEN if one.file == self.file and one is not self]:
            other.panel.reviewed = None  # of an older build
            other.read_anew(build, here=False)
        self.read_anew(build, here=True)
        return said

    def read_anew(self, build: Build, *, here: bool, anyway: bool = False) -> None:
        """Go on from a build as it is kept; `here` says whether this panel has kept it, `anyway` that a file beside it is new."""
        before = self.now
        if build.text == before.build.text and not anyway:
            return
        try:
            now, above = self.kind._or_lent(build, self.line)
            if bool(above) != bool(self.above):
                raise DesignError("your build is another one now.")
            if here or anyway:
                now.keeper, now.began = before.keeper, before.began
            self.now = now
            controls, pick = self.controls(), self.kind.pick
            at = self.panel.si.get(pick)
            chosen = [value for control in controls if control.name == pick for value in dict(_named(control.options)).values()]
            self.panel.read_anew(controls, self.own(at) if at in chosen else self.own(), self.follow(), now.to_try(), here=here)
            if not now.shut:
                self.panel.shut.open()  # the build has it now
        except DesignError as wrong:
            self.panel._show_stale(f"The build was kept in another panel, and this one cannot go on from it: {wrong} Run its cell anew.")


def look_again(build: Build) -> None:
    """Let the panels of a build offer what a file beside it has now."""
    file = Path(build.path or MINE).absolute()
    for one in [one for one in _OPEN if one.file == file]:
        one.read_anew(one.build, here=False, anyway=True)
        one.panel._note.value = ""  # nothing was kept


def _named(options) -> Any:
    return options if isinstance(options, dict) else ((one, one) for one in options)

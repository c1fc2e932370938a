"""Where a learner's own pump curve goes: an empty form beside the build, and what stands in it. Notebook 08.

build = my_build()
own_pump.form(build)      # two buttons; a curve that can be read joins the pumps of the panel
"""

from __future__ import annotations

from pathlib import Path

from aquaplumb.build import MINE, Build
from aquaplumb.figures.style import plain
from aquaplumb.files import alone, write
from aquaplumb.plumbing import pumps
from aquaplumb.units import FLOW, HEAD, DesignError
from aquaplumb.whatif import widgets
from aquaplumb.whatif.base import rich
from aquaplumb.whatif.opened import look_again
from aquaplumb.whatif.pressed import pressed

FILE = "my-pump.csv"
_FORM = {
    "metric": "supply,mains\nplacement,submersible\nflow [L/h],head [m],power [W]\n",
    "US": "supply,mains\nplacement,submersible\nflow [gal/h],head [ft],power [W]\n",
}
_HOW = (
    f"Your own pump: the first button makes an empty form, **{FILE}**, beside this page. Open it and write three points or more of your "
    "maker's curve, one a line, from no flow upwards (power may stay blank). Save it, and press the second."
)


def beside(build: Build) -> Path:
    """The folder in which a build's own files lie."""
    return (build.path or Path(MINE)).parent


def own_files(build: Build) -> dict[str, str]:
    """The pump files to choose from, by the name of the pump: those of the build's lines, and the form that was filled in."""
    named = dict.fromkeys(line.si.pump_file for line in build.pumped.values() if line.si.pump_file)
    files = {Path(file).stem: file for file in named}
    if Path(FILE).stem not in files:
        try:
            pumps.from_csv(beside(build) / FILE)
        except (DesignError, OSError):
            return files
        files[Path(FILE).stem] = FILE
    return files


class OwnPump:
    """Two buttons and a sentence: `make` an empty form, `read` what was written into it."""

    def __init__(self, build: Build):
        self.build, self.path, self.said = build, beside(build) / FILE, ""
        self.make_button = self._button("Make an empty form", "file", self.make)
        self.read_button = self._button("Read my pump", "refresh", self.read)
        self._note = widgets.HTML()
        self.widget = widgets.VBox([widgets.HTML(rich(_HOW)), widgets.HBox([self.make_button, self.read_button]), self._note])

    def make(self) -> str:
        """Write the empty form; one that is there stays."""
        with alone(self.path):
            if self.path.exists():
                return f"{FILE} is there already, and stays as it is."
            write(self.path, _FORM[self.build.units])
        return f"{FILE} is made. A DC pump says `supply,DC`, one beside the water `placement,external`."

    def read(self) -> str:
        """Say what curve the form holds, and let the panels offer it."""
        if not self.path.exists():
            raise DesignError(f"there is no {FILE} yet; the other button makes it.")
        mine = pumps.from_csv(self.path).si
        look_again(self.build)
        most, high = FLOW.text(mine.flow[-1], self.build.units), HEAD.text(mine.head[0], self.build.units)
        return f"Read: {len(mine.flow)} points, up to {most}, {high} at no flow. Choose **{Path(FILE).stem}** as the pump above."

    def _button(self, label: str, icon: str, action) -> widgets.Button:
        button = widgets.Button(description=label, icon=icon, layout=widgets.Layout(width="auto"))
        button.on_click(lambda _button: self._press(action))
        return button

    def _press(self, action) -> None:
        said = pressed(action, file=FILE).said
        self.said = plain(said)
        self._note.value = f'<div role="status" aria-live="polite">{rich(said)}</div>'

    def __repr__(self) -> str:
        return plain(_HOW)

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {**self.widget._repr_mimebundle_(), "text/plain": f"{self!r}\n(Run this cell to press them.)"}


form = OwnPump

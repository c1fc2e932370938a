"""Where a learner's own pump curve goes: a form on the page, and a file beside the build. Notebook 08.

build = my_build()
own_pump.form(build)      # a box and a button; a curve that can be read joins the pumps of the panel
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from aquaplumb.build import MINE, Build
from aquaplumb.figures.style import plain
from aquaplumb.files import alone, write
from aquaplumb.plumbing import pumps
from aquaplumb.plumbing.pump_file import plain_text
from aquaplumb.units import FLOW, HEAD, DesignError
from aquaplumb.whatif import widgets
from aquaplumb.whatif.base import rich
from aquaplumb.whatif.opened import look_again
from aquaplumb.whatif.pressed import pressed
from aquaplumb.whatif.screen import Fold

FILE = "my-pump.csv"
_FORM = {
    "metric": "supply,mains\nplacement,submersible\nflow [L/h],head [m],power [W]\n",
    "US": "supply,mains\nplacement,submersible\nflow [gal/h],head [ft],power [W]\n",
}
_HOW = (
    "Your own pump: write three points or more of your maker's curve into the box, one a line, from no flow upwards, such as **{0},45** "
    "(power not known: **{0},**). A DC pump says **supply,DC**, one beside the water **placement,external**. Then press the button."
)
_POINT = {"metric": "1200,1.6", "US": "300,5.2"}


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
    """A box with the form, or with the file that is there; a button that reads what was written into it; and a sentence.

    A phone in a room has no file to open: what it types goes into the file once it makes a curve.
    """

    def __init__(self, build: Build):
        self.build, self.path, self.said = build, beside(build) / FILE, ""
        self._how = _HOW.format(_POINT[build.units])
        self._seen = self._there()
        self.box = widgets.Textarea(
            value=self._seen or _FORM[build.units], rows=7, description="its curve", layout=widgets.Layout(width="98%", max_width="420px")
        )
        self.read_button = widgets.Button(description="Read my pump", icon="check", layout=widgets.Layout(width="auto"))
        self.read_button.on_click(lambda _button: self._press())
        self._note = widgets.HTML()
        self.fold = Fold([widgets.HTML(rich(self._how)), self.box, self.read_button, self._note], "If you have a pump of your own: its curve …",
                    layout=widgets.Layout(width="auto", max_width="100%"))  # fmt: skip
        if self._seen:
            self.fold.open()
        self.widget = widgets.VBox(self.fold.parts)

    def _there(self) -> str:
        """What the file holds; nothing where there is none, or none that can be read."""
        try:
            return plain_text(self.path, "pump file", "") if self.path.exists() else ""
        except DesignError:
            return ""

    def read(self) -> str:
        """Check what the box holds, write it to the file, and let the panels offer it."""
        text = self.box.value.strip() + "\n"
        with tempfile.TemporaryDirectory() as aside:
            write(Path(aside) / FILE, text)
            mine = pumps.from_csv(Path(aside) / FILE).si
        with alone(self.path):
            if self._there() != self._seen:  # by hand, or in another window
                self._seen = self._there()
                raise DesignError(
                    f"{FILE} was changed elsewhere meanwhile. Press once more to write this over it, or run this cell anew to see it."
                )
            write(self.path, text)
            self._seen = self._there()
        look_again(self.build)
        most, high = FLOW.text(mine.flow[-1], self.build.units), HEAD.text(mine.head[0], self.build.units)
        return f"Read, and written to {FILE}: {len(mine.flow)} points, up to {most}, {high} at no flow. Choose **{Path(FILE).stem}** as the pump above."

    def _press(self) -> None:
        said = pressed(self.read, file=FILE).said
        self.said = plain(said)
        self._note.value = f'<div role="status" aria-live="polite">{rich(said)}</div>'

    def __repr__(self) -> str:
        return plain(self._how)

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {**self.widget._repr_mimebundle_(), "text/plain": f"{self!r}\n(Run this cell to press them.)"}


form = OwnPump

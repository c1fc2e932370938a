"""What the tests of pages share: a notebook's prose, and what a kept build file has that its demo has not."""

import functools
import importlib
import os
import re
import signal

import nbformat

from aquaplumb import tables
from aquaplumb.build import load
from aquaplumb.teaching import sums as teaching_sums

WALKED = ["courtyard", "greenhouse"]  # the two that the pages' texts tell of; what takes long runs over these, and one layout more

# For a program that a test stops with Ctrl+C: one that was started in the background does not hear it.
HEARING = functools.partial(signal.signal, signal.SIGINT, signal.SIG_DFL) if os.name == "posix" else None


def prose(page: str) -> str:
    """All that a notebook says in its text cells and sums, by the beginning of its file's name, such as "06"."""
    [path] = tables.folder("notebooks").glob(f"{page}*.ipynb")
    said = [cell.source for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "markdown"]
    sums = [text for (of, _, _), text in teaching_sums.texts().items() if of == path.name[:2]]
    return "\n".join([*said, *sums])


def changed_lines(path, demo: str = "courtyard") -> list[tuple[str, str]]:
    """The lines of a kept file that differ from the demo's, each as (before, after); none was added or taken away, but for routes that a Keep makes untrue."""
    before, after = load(demo).text.split("\n"), path.read_text(encoding="utf-8").split("\n")
    gone = [line for line in before if line.startswith("route = ")]
    for line in (line for line in after if line.startswith("route = ")):
        gone.remove(line)  # one that was not there raises
    for line in gone:
        before.remove(line)
    return [(one, other) for one, other in zip(before, after, strict=True) if one != other]


def new_lines(path, demo: str = "courtyard") -> list[str]:
    """The lines of a kept file that the demo has not."""
    before, after = load(demo).text.split("\n"), path.read_text(encoding="utf-8").split("\n")
    return [line for line in after if line not in before]


def panel_of(name: str, demo: str):
    """The panel of a what-if by its module's name, on a demo build."""
    return importlib.import_module(f"aquaplumb.whatif.{name}").panel(load(demo))


def _ends(control):
    """What a control can be set to: both ends of a slider, all options, yes and no."""
    spec = control.spec
    if hasattr(control, "options"):
        return list(control.options.values())
    if not hasattr(spec, "kind"):
        return [False, True]
    low, high = spec.ends()
    return [spec.kind.quantity(low) if spec.kind.si else low, spec.kind.quantity(high) if spec.kind.si else high]


def every_end(panel):
    """Move each control of a panel to each of its ends, one after another, and then all back; gives its name and the end each time."""
    start, back = panel.values, {}
    for key, control in panel._rows.items():
        for end in _ends(control):
            panel.set(**{**back, key: end})
            back = {}
            assert panel.fault is None
            yield key, end
        back = {key: start[key]}  # a slider goes back with the next one's first end: one drawing less
        if hasattr(control, "options"):  # what others may depend on
            panel.set(**back)
    panel.set(**start)  # all at once: some follow others, and a menu says so when a slider is moved by hand
    assert {name: str(value) for name, value in panel.values.items()} == {name: str(value) for name, value in start.items()}


def foreign(question, units: str) -> list[str]:
    """What a question says in units that a build of these does not use."""
    other = r"\d (?:gal|in|ft|oz|lb|psi)\b(?:/\w+)?" if units == "metric" else r"\d (?:L|mm|cm|m|g|kg)\b(?:/\w+)?"
    said = [question.prompt, question._why, question._hint, *getattr(question, "options", [])]
    return [found for text in said for found in re.findall(other, text)]


_METRIC = r"""(?x) \d\ ?(?:L|mL|mm|cm|m|kg|kPa|kN|N|°C|m²|m³)(?![\w'’])(?:/\w+)? | \b[Ll]it(?:re|er)s?\b | \b(?:[Ss]quare|[Cc]ubic)\ metres?\b | \b[Kk]ilograms?\b"""
_AMERICAN = (
    r"\d ?(?:gal|in(?! \d)|ft|oz|lb|psi|psf|°F|ft²|ft³)(?![\w'’])(?:/\w+)?|\b(?:[Gg]allons?|[Ff]eet|[Ff]oot|[Pp]ounds?|[Oo]unces?)\b"
)


def one_sided(text: str, units: str) -> list[str]:
    """The paragraphs of a text that measure in what a build of these units does not use, and not in its own as well.

    Grams are in neither list: oxygen and doses are told in them everywhere, as in mg/L.
    """
    own, other = (_METRIC, _AMERICAN) if units == "metric" else (_AMERICAN, _METRIC)
    return [part for part in re.split(r"\n+", text) if re.search(other, part) and not re.search(own, part)]

"""Copies of the pages that need no kernel; and those on paper: each one HTML file to print, for a room in which laptops fail.

Text, pictures and what the cells printed come from the notebook as it is stored, or as it runs for a build of one's own.
A question stands with lines to write on, and without its answer. Markdown is set by nbconvert, formulas by matplotlib; a
file holds its pictures and asks nothing of any network. `aquaplumb.teaching.plain` makes pages to read on a screen of the same blocks.
"""

from __future__ import annotations

import base64
import importlib
import io
import json
import re
import shutil
import tempfile
from pathlib import Path
from typing import Any, NamedTuple

from aquaplumb import __version__, tables
from aquaplumb.build import Build, load
from aquaplumb.figures.formula import formula
from aquaplumb.figures.style import rich
from aquaplumb.questions.asked import Asked, tidy_name
from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.teaching.pages import Page, chosen, system
from aquaplumb.teaching.printing import ours, paper_for, template
from aquaplumb.units import SYSTEMS, DesignError

DEMO = "courtyard"  # the build of the stored pages, in metric units
_FORMULA = re.compile(r"\$\$(.+?)\$\$", re.DOTALL)
_KEEP = re.compile(r"^## Keep it\n.*?(?=^## |\Z)", re.DOTALL | re.MULTILINE)
_ON_SCREEN = re.compile(r'(?m)^<span class="ap-lab">.*</span>$\n?')  # what nobody can do on paper
_AT_A_PANEL = re.compile(  # what is said of boxes, buttons and sliders
    r"Press \*Start again\* between two tries(?:\.|; then set your own\.)|Then try; press \*Start again\* between two\.|Let a slider go, and wait a moment\."
    r"|Choose \*units\* first\. Drag a slider, or type a number and press Enter\.|Press ▶: it plays the minutes that matter\."
    r"|Your name in the box brings [a-z ]+ numbers\."
)
_PANEL = re.compile(r"\b(\w+)\.panel\((?:build|my_build\(\))\)")
_RUN_THIS = re.compile(r"\n?\(Run this cell to [a-z ]+\.\)")
_COPIED = re.compile(
    r" ?There is no \S+ here: this is (.+?), and (?:the first Keep copies it|this page makes the file)\."
)  # nothing is kept on paper
_COLOURS = 64  # of a picture: fifty shades stand in a curve's edges, and what is drawn has a dozen
_NOT_FOR_PAPER = re.compile(r"<(style|script)\b.*?</\1>", re.DOTALL | re.IGNORECASE)
_SAME_IN_WORDS = re.compile(r"<details>\s*<summary>The same in words</summary>.*?</details>", re.DOTALL)
_FOLD = re.compile(r"<details(?! open)\b")
_PATIENCE = 120  # s for a cell


class Block(NamedTuple):
    """A part of a page: "html" that is ours, "text" as printed, a "question" that is posed, what is "decided", "tries" that are worked, or
    "turn": what follows comes after a guess.
    """

    kind: str
    what: Any


class Posed(NamedTuple):
    """A question as it stands on paper, without its answer: choices to tick (`boxed`) or steps, and what to write on each line."""

    prompt: str
    options: list[str]
    boxed: bool
    lines: list[str]
    gate: bool
    asked: Asked | None = None


_DECIDED = Posed("For my own system", [], False, ["I decide", "because"], False)


def copies(
    numbers: list[str] | None = None, *, build: str | Path | Build | None = None, learner: str = "", units: str = "", paper: str = ""
) -> dict[str, str]:
    """Pages to print: file name and HTML of each.

    Parameters
    ----------
    numbers : list of str
        Of pages, such as "08"; all by default.
    build : str, Path or Build, optional
        Whose numbers the pages show; without one those of the demo. The pages are run anew for it.
    learner : str
        The name that draws the numbers of the questions.
    units : str
        "metric" or "US"; by default the build's.
    paper : str
        "A4" or "letter"; by default that of the units.

    Raises
    ------
    DesignError
        Where there is no such page, build, unit or paper, or what runs notebooks is not installed.

    Source: none; a layout.
    """
    wanted = chosen(numbers or [])
    shown = build if isinstance(build, Build) else load(build or DEMO)
    kind = system(units) if units else shown.units
    paper = paper_for(paper, kind)
    anew = build is not None or kind != shown.units
    if kind != shown.units:
        shown = shown.changed({("units",): kind})
    learner = tidy_name(learner)
    whose = f"“{shown.title}”" if anew else "the demo"
    return {
        copy_name(page): template("copy.html").render(
            page=page, blocks=blocks(page, shown, learner, anew=anew), paper=paper, version=__version__, whose=whose, learner=learner
        )
        for page in wanted
    }


def copy_name(page: Page) -> str:
    """The file of a page's copy."""
    return page.path.with_suffix(".html").name


def blocks(page: Page, build: Build, learner: str = "", *, anew: bool, worked: bool = False) -> list[Block]:
    """What a page shows of a build: as it is stored, or `anew`; with its tries `worked` out below the pictures of its panels."""
    _needs("nbconvert")
    book = _run(page, build) if anew else stored(page)
    return _Cells(page, learner, build.units, build if worked else None).all_blocks(book["cells"])


def stored(page: Page) -> dict:
    """The notebook with what it printed when it was stored."""
    return json.loads(page.path.read_text(encoding="utf-8"))


def _needs(library: str) -> None:
    try:
        __import__(library)
    except ImportError:
        raise DesignError(f'{library} is not installed here; run: pip install "aquaplumb[workshop]"') from None


def _run(page: Page, build: Build) -> dict:
    """The notebook as it runs beside a build, in a folder that is thrown away."""
    _needs("nbclient")
    _needs("ipykernel")
    import nbformat
    from nbclient import NotebookClient

    book = nbformat.read(page.path, as_version=4)
    with tempfile.TemporaryDirectory() as place:
        (Path(place) / "my-build.toml").write_text(build.text, encoding="utf-8")
        beside = [*([Path(build.path).parent] if build.path else []), tables.folder("data") / "builds"]
        for name in re.findall(r'"([^"/\\]+\.csv)"', build.text):  # its pump, its log, its own rows
            if found := next((folder / name for folder in beside if (folder / name).is_file()), None):
                shutil.copyfile(found, Path(place) / name)
        quiet = ["--IPKernelApp.log_level=ERROR"]
        where = {"metadata": {"path": place}}
        NotebookClient(book, timeout=_PATIENCE, kernel_name="python3", allow_errors=True, extra_arguments=quiet, resources=where).execute()
    return book


class _Cells:
    """Cells of one page as blocks; with a build, its tries are worked on it."""

    def __init__(self, page: Page, learner: str, units: str, build: Build | None = None):
        self.build = build
        self.asked = page.asked(learner, units)
        self.names = {_known_by(one): name for system in SYSTEMS for name, one in page.asked("", system).items()}

    def all_blocks(self, cells: list[dict]) -> list[Block]:
        """All of them; where the screen has a button that keeps a choice, paper has lines for it."""
        found: list[Block] = []
        keeping = False
        for cell in cells:
            if cell["cell_type"] != "markdown":
                found += [block for block in self.blocks(cell) if not keeping or block.kind == "html"]
                continue
            before, *after = _KEEP.split(_joined(cell["source"]))
            keeping = bool(after) and not after[-1].strip()  # then what the next cells print belongs to it; a drawing stays
            found += [Block("html", _markdown(before))] if before.strip() else []
            for rest in after:
                found += [Block("decided", _DECIDED), Block("html", _markdown(rest))]
        return found

    def blocks(self, cell: dict) -> list[Block]:
        """What came out of a code cell."""
        panel = _PANEL.search(_joined(cell["source"]))
        found = [block for output in cell.get("outputs", []) for block in self._output(output, panel[1] if panel else "")]
        return [*found, Block("turn", None)] if any(block.kind == "question" and block.what.gate for block in found) else found

    def _output(self, output: dict, panel: str) -> list[Block]:
        if output["output_type"] == "stream":
            return [Block("text", _COPIED.sub(r" This is \1.", _joined(output["text"])))]
        if output["output_type"] == "error":
            return [Block("text", f"✖ {output['evalue']}")]
        data, text = output.get("data", {}), _joined(output.get("data", {}).get("text/plain", ""))
        if (name := self.names.get(text.strip().split("\n")[0])) is not None:
            asked = self.asked[name]
            return [Block("question", _posed(one)) for one in (asked.questions if isinstance(asked, Quiz) else [asked])]
        if "image/png" in data:
            words = output.get("metadata", {}).get("image/png", {}).get("alt") or text
            words = _RUN_THIS.sub("", words)
            what_if, told = text.startswith("What if?"), _RUN_THIS.sub("", text).strip()
            if what_if and panel and self.build:
                told = words = told.split("\nTry, one at a time:")[0]
            blocks = [Block("html", _picture("png", _smaller(_joined(data["image/png"])), words))]
            blocks += [Block("text", told)] if what_if else []
            return blocks + (
                [Block("tries", tries)] if what_if and panel and self.build and (tries := worked_tries(panel, self.build)) else []
            )
        if "text/html" in data:
            shown = _SAME_IN_WORDS.sub("", _NOT_FOR_PAPER.sub("", _joined(data["text/html"])))
            return [Block("html", ours(_opened(shown)))] if shown.strip() else []
        if text.rstrip().endswith("(Run this cell to press them.)"):  # buttons that nobody can press here
            return []
        text = _COPIED.sub(r" This is \1.", _RUN_THIS.sub("", text))
        return [Block("text", text)] if text.strip() else []


def worked_tries(name: str, build: Build) -> list[tuple[Any, Any]]:
    """What the panel of a what-if asks to be tried, and what is then to be seen, as it comes of a build."""
    from aquaplumb.whatif.tries import slanted

    return [
        (ours(slanted(rich(ask))), ours(rich(seen)))
        for ask, seen in importlib.import_module(f"aquaplumb.whatif.{name}").panel(build).worked()
    ]


def _smaller(png: str) -> str:
    """A stored picture in few colours, a third as large."""
    from PIL import Image

    out = io.BytesIO()
    Image.open(io.BytesIO(base64.b64decode(png))).convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE).save(
        out, "PNG", optimize=True
    )
    return base64.b64encode(out.getvalue()).decode()


def _known_by(asked: Asked | Quiz) -> str:
    """The first line of a question as it stands in a notebook's outputs."""
    return repr(asked).strip().split("\n")[0]


def _joined(text) -> str:
    return text if isinstance(text, str) else "".join(text)


def _picture(kind: str, data: str, words: str, look: str = 'class="picture"'):
    from markupsafe import escape

    return ours(f'<img {look} alt="{escape(" ".join(words.split()))}" src="data:image/{kind};base64,{data}">')


def _markdown(source: str):
    """A text cell as HTML: formulas as pictures, folds open, links to the other pages' copies."""
    from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath

    tidy = _opened(_FORMULA.sub(lambda found: _set(found[1]), _AT_A_PANEL.sub("", _ON_SCREEN.sub("", source))))
    html = MarkdownWithMath(renderer=IPythonRenderer(escape=False, exclude_anchor_links=True)).render(tidy)
    return ours(html.replace('.ipynb"', '.html"'))


def _opened(shown: str) -> str:
    """With each fold open, a styled one too: nobody can press it on paper."""
    return _FOLD.sub(r"<details open", shown)


def _set(tex: str) -> str:
    drawn, width, height = formula(tex.replace(r"\frac", r"\dfrac"))  # on paper there is room
    look = f'class="formula" style="width: {width:.0f}pt; height: {height:.0f}pt"'
    return str(_picture("svg+xml", base64.b64encode(drawn).decode(), re.sub(r"\\(?:text|d?frac|sqrt)?|[{}]", " ", tex), look))


def _posed(asked: Asked) -> Posed:
    if isinstance(asked, Pick):
        lettered = [f"{'abcdefghij'[place]}) {option}" for place, option in enumerate(asked.options)]
        return Posed(asked.prompt, lettered, True, ["because"], asked.gate, asked)
    if isinstance(asked, Order):
        numbered = [f"{place}. {step}" for place, step in enumerate(asked.options, 1)]
        return Posed(asked.prompt, numbered, False, ["the numbers in order"], asked.gate, asked)
    plain = isinstance(asked, Question) and asked.plain
    return Posed(asked.prompt, [], False, ["how I worked it out", "a number" if plain else "a number and its unit"], asked.gate, asked)

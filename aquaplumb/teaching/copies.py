"""Paper copies: each page as one HTML file to print, for a room in which laptops fail.

Text, pictures and what the cells printed come from the notebook as it is stored, or as it runs for a build of one's own.
A question stands with lines to write on, and without its answer. Markdown is set by nbconvert, formulas by matplotlib; a
file holds its pictures and asks nothing of any network.
"""

from __future__ import annotations

import base64
import json
import re
import shutil
import tempfile
from pathlib import Path
from typing import Any, NamedTuple

from aquaplumb import __version__, tables
from aquaplumb.build import Build, load
from aquaplumb.figures.formula import formula
from aquaplumb.questions.asked import Asked, tidy_name
from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.teaching.pages import Page, chosen, system
from aquaplumb.teaching.printing import paper_for, template
from aquaplumb.units import SYSTEMS, DesignError

DEMO = "courtyard"  # the build of the stored pages, in metric units
_FORMULA = re.compile(r"\$\$(.+?)\$\$", re.DOTALL)
_KEEP = re.compile(r"^## Keep it\n.*?(?=^## |\Z)", re.DOTALL | re.MULTILINE)
_ON_SCREEN = re.compile(r'(?m)^<span class="ap-lab">.*</span>$\n?')  # what nobody can do on paper
_NOT_FOR_PAPER = re.compile(r"<(style|script)\b.*?</\1>", re.DOTALL | re.IGNORECASE)
_SAME_IN_WORDS = re.compile(r"<details>\s*<summary>The same in words</summary>.*?</details>", re.DOTALL)
_PATIENCE = 120  # s for a cell


class Block(NamedTuple):
    """A part of a page: "html" that is ours, "text" as printed, a "question" that is posed, what is "decided", or "turn": the end of a sheet."""

    kind: str
    what: Any


class Posed(NamedTuple):
    """A question as it stands on paper, without its answer: choices to tick (`boxed`) or steps, and what to write on each line."""

    prompt: str
    options: list[str]
    boxed: bool
    lines: list[str]
    gate: bool


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
    _needs("nbconvert")
    anew = build is not None or kind != shown.units
    if kind != shown.units:
        shown = shown.changed({("units",): kind})
    return {
        page.path.with_suffix(".html").name: _printed(page, shown if anew else None, tidy_name(learner), kind, paper) for page in wanted
    }


def _needs(library: str) -> None:
    try:
        __import__(library)
    except ImportError:
        raise DesignError(f'{library} is not installed here; run: pip install "aquaplumb[workshop]"') from None


def _printed(page: Page, build: Build | None, learner: str, units: str, paper: str) -> str:
    book = json.loads(page.path.read_text(encoding="utf-8")) if build is None else _run(page, build)
    blocks = _Cells(page, learner, units).all_blocks(book["cells"])
    return template("copy.html").render(
        page=page, blocks=blocks, paper=paper, version=__version__, whose=f"“{build.title}”" if build else "the demo", learner=learner
    )


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
    """Cells of one page as blocks for paper."""

    def __init__(self, page: Page, learner: str, units: str):
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
        found = [block for output in cell.get("outputs", []) for block in self._output(output)]
        return [*found, Block("turn", None)] if any(block.kind == "question" and block.what.gate for block in found) else found

    def _output(self, output: dict) -> list[Block]:
        if output["output_type"] == "stream":
            return [Block("text", _joined(output["text"]))]
        if output["output_type"] == "error":
            return [Block("text", f"✖ {output['evalue']}")]
        data, text = output.get("data", {}), _joined(output.get("data", {}).get("text/plain", ""))
        if (name := self.names.get(text.strip().split("\n")[0])) is not None:
            asked = self.asked[name]
            return [Block("question", _posed(one)) for one in (asked.questions if isinstance(asked, Quiz) else [asked])]
        if "image/png" in data:
            words = output.get("metadata", {}).get("image/png", {}).get("alt") or text
            picture = Block("html", _picture("png", "".join(_joined(data["image/png"]).split()), words))
            told = text.replace("(Run this cell to move the sliders.)", "").strip()
            return [picture, Block("text", told)] if text.startswith("What if?") else [picture]
        if "text/html" in data:
            shown = _SAME_IN_WORDS.sub("", _NOT_FOR_PAPER.sub("", _joined(data["text/html"])))
            return [Block("html", _ours(shown.replace("<details>", "<details open>")))] if shown.strip() else []
        return [Block("text", text)] if text.strip() else []


def _known_by(asked: Asked | Quiz) -> str:
    """The first line of a question as it stands in a notebook's outputs."""
    return repr(asked).strip().split("\n")[0]


def _joined(text) -> str:
    return text if isinstance(text, str) else "".join(text)


def _ours(html: str):
    from markupsafe import Markup

    return Markup(html)


def _picture(kind: str, data: str, words: str, look: str = 'class="picture"'):
    from markupsafe import escape

    return _ours(f'<img {look} alt="{escape(" ".join(words.split()))}" src="data:image/{kind};base64,{data}">')


def _markdown(source: str):
    """A text cell as HTML: formulas as pictures, folds open, links to the other pages' copies."""
    from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath

    tidy = _FORMULA.sub(lambda found: _set(found[1]), _ON_SCREEN.sub("", source)).replace("<details>", "<details open>")
    html = MarkdownWithMath(renderer=IPythonRenderer(escape=False, exclude_anchor_links=True)).render(tidy)
    return _ours(html.replace('.ipynb"', '.html"'))


def _set(tex: str) -> str:
    drawn, width, height = formula(tex.replace(r"\frac", r"\dfrac"))  # on paper there is room
    look = f'class="formula" style="width: {width:.0f}pt; height: {height:.0f}pt"'
    return str(_picture("svg+xml", base64.b64encode(drawn).decode(), re.sub(r"\\(?:text|d?frac|sqrt)?|[{}]", " ", tex), look))


def _posed(asked: Asked) -> Posed:
    if isinstance(asked, Pick):
        lettered = [f"{'abcdefghij'[place]}) {option}" for place, option in enumerate(asked.options)]
        return Posed(asked.prompt, lettered, True, ["because"], asked.gate)
    if isinstance(asked, Order):
        numbered = [f"{place}. {step}" for place, step in enumerate(asked.options, 1)]
        return Posed(asked.prompt, numbered, False, ["the numbers in order"], asked.gate)
    plain = isinstance(asked, Question) and asked.plain
    return Posed(asked.prompt, [], False, ["how I worked it out", "a number" if plain else "a number and its unit"], asked.gate)

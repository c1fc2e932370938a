"""The walk to read without a kernel: a folder of plain pages, each whole in one file; and all of it as one page for paper.

A page is made of the blocks of its copy (`aquaplumb.teaching.copies`), with its tries worked out. What comes after the
guess is folded away. Questions check themselves by a script of our own that stands in the page (`aquaplumb.teaching.sealed`);
nothing is asked of any network, and links lead from file to file, so that a folder on a stick works.
"""

from __future__ import annotations

import base64
import hashlib
import re
from itertools import count
from pathlib import Path
from typing import Any, NamedTuple

from aquaplumb import __version__
from aquaplumb.build import Build, load
from aquaplumb.questions.choices import Order
from aquaplumb.teaching.copies import DEMO, Block, blocks, copy_name, stored
from aquaplumb.teaching.key import key
from aquaplumb.teaching.pages import Page, pages, system
from aquaplumb.teaching.printing import ours, paper_for, template
from aquaplumb.teaching.sealed import script, sealed

TITLE = "Plan the water of a small fish-and-plant system"
INDEX, WALK_PDF = "index.html", "walk.pdf"
_EMPTY_HEAD = re.compile(r"<th\b[^>]*>\s*</th>")  # the corner of a table heads nothing
_FRAME = '<div class="wide" role="region" aria-label="{} {}" tabindex="0">'
_PICTURE = re.compile(r'<img class="picture"[^>]*>')
_DECIDES = re.compile(r"\*\*You decide\*\* (.+?\.) \*\*Time:\*\*", re.DOTALL)


class Checked(NamedTuple):
    """A question on a plain page: as posed, its steps where it has some, and what its script needs."""

    posed: Any
    steps: list[str]
    salt: str
    sealed: str


class Walk:
    """All pages of the walk for a build, as they are stored or run anew for it.

    Parameters
    ----------
    build : str, Path or Build, optional
        Whose numbers the pages show; without one those of the demo. The pages are run anew for it.
    units : str
        "metric" or "US"; by default the build's. In others than the build's the pages are run anew.

    Raises
    ------
    DesignError
        Where there is no such build or unit, or what runs notebooks is not installed.

    Source: none; a layout.
    """

    def __init__(self, build: str | Path | Build | None = None, units: str = ""):
        shown = build if isinstance(build, Build) else load(build or DEMO)
        self.units = system(units) if units else shown.units
        anew = build is not None or self.units != shown.units
        if self.units != shown.units:
            shown = shown.changed({("units",): self.units})
        self.whose = f"“{shown.title}”" if build is not None else "the demo"
        self.pages = [(page, blocks(page, shown, anew=anew, worked=True)) for page in pages()]

    def files(self) -> dict[str, str]:
        """The plain pages with an index: file name and HTML of each."""
        own = script()
        allowed = f"'sha256-{base64.b64encode(hashlib.sha256(own.encode()).digest()).decode()}'"
        beside = [None, *((copy_name(page), f"{page.number} {page.title}") for page, _ in self.pages), None]
        made = {INDEX: self._index()}
        for place, (page, found) in enumerate(self.pages):
            made[copy_name(page)] = template("plain.html").render(
                page=page, blocks=_on_screen(page, found), before=beside[place], after=beside[place + 2],
                script=ours(own), allowed=ours(allowed), version=__version__,
            )  # fmt: skip
        return made

    def _index(self) -> str:
        listed = [
            {"number": page.number, "title": page.title, "file": copy_name(page), "decides": _decides(page)} for page, _ in self.pages
        ]
        return template("plain-index.html").render(
            title=TITLE, pages=listed, whose=self.whose, units=self.units, allowed="'none'", version=__version__
        )

    def on_paper(self, paper: str = "") -> str:
        """All pages as one, to print: with lines to write on, and the answers at the end.

        Parameters
        ----------
        paper : str
            "A4" or "letter"; by default that of the units.
        """
        html = template("walk.html").render(
            title=TITLE,
            pages=self.pages,
            key=key(units=self.units),
            whose=self.whose,
            paper=paper_for(paper, self.units),
            version=__version__,
        )
        for page, _ in self.pages:
            html = html.replace(f'href="{copy_name(page)}', f'href="#page-{page.number}')
        return html


def _on_screen(page: Page, found: list[Block]) -> list[Block]:
    """A page's blocks for a screen: folds shut, tables and pictures in frames of their own, which scroll on a phone, questions with what their script needs."""
    made: list[Block] = []
    tables, pictures = count(1), count(1)  # regions are told apart by their names
    for block in found:
        if block.kind == "html":
            shown = str(block.what).replace("<details open", "<details")
            shown = _EMPTY_HEAD.sub("<td></td>", shown)
            shown = re.sub("<table", lambda _found: f"{_FRAME.format('table', next(tables))}<table", shown).replace(
                "</table>", "</table></div>"
            )
            shown = _PICTURE.sub(lambda found: f"{_FRAME.format('picture', next(pictures))}{found[0]}</div>", shown)
            made.append(Block("html", ours(shown)))
        elif block.kind == "question":
            asked, salt = block.what.asked, f"{page.number}-{len(made)}"
            steps = asked.options if isinstance(asked, Order) else []
            made.append(Block("question", Checked(block.what, steps, salt, sealed(asked, salt))))
        else:
            made.append(block)
    return made


def _decides(page: Page) -> str:
    """What a page decides, in its own words."""
    first = "".join(stored(page)["cells"][0]["source"])
    found = _DECIDES.search(first)
    return found[1] if found else ""

"""The pages of the walk as a teacher counts them: number, title, and all that each asks of a learner."""

from __future__ import annotations

import importlib
import inspect
import json
from pathlib import Path
from typing import NamedTuple

from aquaplumb import tables
from aquaplumb.build.cases import cases
from aquaplumb.questions.asked import Asked
from aquaplumb.questions.quiz import Quiz
from aquaplumb.units import SYSTEMS, DesignError
from aquaplumb.whatif import WALK

_KINDS = {"Pick", "Question", "Order", "Quiz"}


class Page(NamedTuple):
    """One page of the walk: its number, the file of its notebook, and the module that holds its questions."""

    number: str
    path: Path
    module: str

    @property
    def title(self) -> str:
        """What its notebook calls it, without the number."""
        first = json.loads(self.path.read_text(encoding="utf-8"))["cells"][0]["source"]
        return "".join(first).split("\n")[0].removeprefix("# ").removeprefix(self.number).strip()

    @property
    def _questions(self):
        return importlib.import_module(f"aquaplumb.questions.{self.module}")

    @property
    def case(self) -> tuple[str, str] | None:
        """The build of *What is wrong here?*: the name on the page and its file's; None where the page has none."""
        faulty = getattr(self._questions, "FAULTY", None)
        return next(((name, build) for name, build in cases().items() if build == faulty), None)

    def asked(self, learner: str = "", units: str = "metric") -> dict[str, Asked | Quiz]:
        """All that the page asks, by the names that the page calls: guesses, quiz, fault; with a learner's numbers.

        A page whose questions know one kind of units asks in those, as it does on the screen.
        """
        found = {}
        for name, ask in vars(self._questions).items():
            if inspect.isfunction(ask) and ask.__annotations__.get("return") in _KINDS:
                both = {"units": units} if "units" in inspect.signature(ask).parameters else {}
                found[name] = ask(learner, **both)
        return found


def pages() -> list[Page]:
    """All pages, in the walk's order."""
    files = sorted(tables.folder("notebooks").glob("[0-9][0-9]-*.ipynb"))
    return [Page(path.name[:2], path, module) for path, module in zip(files, WALK, strict=True)]


def chosen(numbers: list[str]) -> list[Page]:
    """The pages of some numbers, such as "8" or "08", in the walk's order; all where none is given.

    Raises
    ------
    DesignError
        Where there is no page of that number.
    """
    known = {page.number: page for page in pages()}
    wanted = {number.strip().zfill(2) for number in numbers}
    for number in sorted(wanted - known.keys()):
        raise DesignError(
            f"there is no page '{number.lstrip('0')[:40] or '0'}'; give numbers from {min(known)} to {max(known)}, such as 06 08."
        )
    return [page for number, page in known.items() if not wanted or number in wanted]


def system(units: str) -> str:
    """The system of units that was asked for, however it is spelled: "metric" or "US".

    Raises
    ------
    DesignError
        Where it is neither.
    """
    found = next((one for one in SYSTEMS if one.casefold() == units.strip().casefold()), None)
    if not found:
        raise DesignError(f"there are no units '{units[:40]}'; give metric or US.")
    return found

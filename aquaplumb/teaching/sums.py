"""What the pages work by hand and against print, in the learner's units: `data/sums.md` has the words, once for each unit system."""

from __future__ import annotations

import functools
import re

from aquaplumb import tables
from aquaplumb.figures.style import plain, rich
from aquaplumb.units import SYSTEMS, DesignError

HAND, PRINT = "by hand", "against print"


class Sum:
    """A sum in words; what the library makes of it is printed below."""

    def __init__(self, text: str):
        self.text = text

    def __repr__(self):
        return plain(self.text).replace("*", "")

    def _repr_html_(self) -> str:
        return "".join(_html(part) for part in self.text.split("\n\n"))


def by_hand(page: str, units: str) -> Sum:
    """The sum that a page, such as "04", works with a pencil, for a build of these units."""
    return _sum(page, HAND, units)


def against_print(page: str, units: str) -> Sum:
    """What print says of a page's sums, for a build of these units."""
    return _sum(page, PRINT, units)


def _sum(page: str, which: str, units: str) -> Sum:
    if units not in SYSTEMS:
        raise DesignError(tables.unknown("list of unit systems", units, SYSTEMS))
    return Sum(texts()[page, which, units])


@functools.cache
def texts() -> dict[tuple[str, str, str], str]:
    """All of them, by page, which of the two, and unit system."""
    told = (tables.folder("data") / "sums.md").read_text(encoding="utf-8")
    found = re.findall(rf"(?ms)^## (\d\d) ({HAND}|{PRINT}), (metric|US)\n(.+?)(?=^## |\Z)", told)
    return {(page, which, units): text.strip() for page, which, units, text in found}


def _html(part: str) -> str:
    """A paragraph or a list, with what is bold and slanted in it."""
    lines = [re.sub(r"\*(.+?)\*", r"<i>\1</i>", rich(line)) for line in part.split("\n")]
    if all(line.startswith("- ") for line in lines):
        return f"<ul>{''.join(f'<li>{line[2:]}</li>' for line in lines)}</ul>"
    return f"<p>{' '.join(lines)}</p>"

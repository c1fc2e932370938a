"""The builds with a mistake under neutral names, "case 01", so that a page does not give its answer away.

Their files keep names that tell the mistake, for tests and for whoever mends them; ``data/builds/cases.csv`` maps one
to the other, in an order that tells nothing.
"""

from __future__ import annotations

import csv
import functools
import re
from pathlib import Path

from aquaplumb import tables
from aquaplumb.units import DesignError


def case(name: str) -> str | None:
    """The file that a case stands for, such as "case 8" or "case 08"; None where the name is none of a case.

    raises: an error where there is no case of that number.
    """
    found = re.fullmatch(r"case\s*(\d{1,4})", str(name).strip().casefold())
    if not found:
        return None
    numbered = f"case {int(found[1]):02d}"
    if numbered not in cases():
        raise DesignError(f"there is no {numbered}; there are case 01 to {list(cases())[-1]}.")
    return cases()[numbered]


def cases() -> dict[str, str]:
    """All cases, each with the name of its file, in the table's order."""
    return dict(_read(tables.folder("data") / "builds" / "cases.csv"))


@functools.cache
def _read(path: Path) -> tuple[tuple[str, str], ...]:
    with path.open(encoding="utf-8", newline="") as file:
        rows = [(row["name"], row["build"]) for row in csv.DictReader(file)]
    for column in zip(*rows):
        if twice := {name for name in column if column.count(name) > 1}:
            raise DesignError(f"{path.name}: {', '.join(sorted(twice))} stands there twice; each case is one build.")
    return tuple(rows)

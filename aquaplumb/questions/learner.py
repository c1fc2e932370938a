"""The learner's name from page to page: a small file of their own beside the build, which nothing but the questions reads."""

from __future__ import annotations

from pathlib import Path

from aquaplumb.files import write
from aquaplumb.questions.asked import tidy_name
from aquaplumb.units import DesignError

FILE = "my-name.txt"


def remembered() -> str:
    """The name typed on an earlier page in this folder; blank where there is none."""
    try:
        with Path(FILE).open(encoding="utf-8") as file:
            return tidy_name(file.readline(200))
    except (OSError, UnicodeDecodeError):
        return ""


def remember(name: str) -> str:
    """Keep a name for the other pages, or forget it where it is blank; returns a sentence that says what was done."""
    name = tidy_name(name)
    try:
        if not name:
            Path(FILE).unlink(missing_ok=True)
            return ""
        write(Path(FILE), f"{name}\n")
    except (OSError, DesignError):
        return "Your name holds for this page only: no file can be written here."
    return f"Your name is kept in {FILE}, beside this page and nowhere else. Empty the box to forget it."

"""The learner's name from page to page, and the guesses of the pages' gates: small files of their own beside the build, which nothing
but the questions reads.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from pathlib import Path

from aquaplumb.files import write
from aquaplumb.questions.asked import tidy_name
from aquaplumb.units import DesignError

FILE = "my-name.txt"
GUESSES = "my-guesses.txt"  # so that a page that is run again does not shut its gate again
_LARGEST = 100_000  # bytes of such a file


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


def guessed(prompt: str) -> str | None:
    """What was answered to a gate on an earlier run of its page in this folder: "" where it was passed by, None where it is shut."""
    return _guesses().get(_key(prompt)) if _in_a_kernel() else None


def keep_guess(prompt: str, answer: str) -> None:
    """Keep a guess for the next run of its page; where no file can be written, it holds for this run only."""
    if not _in_a_kernel():
        return
    with contextlib.suppress(OSError, DesignError):
        write(Path(GUESSES), json.dumps({**_guesses(), _key(prompt): answer}, ensure_ascii=False, indent=0))


def _guesses() -> dict[str, str]:
    try:
        with Path(GUESSES).open(encoding="utf-8") as file:
            kept = json.loads(file.read(_LARGEST))
    except (OSError, ValueError, RecursionError):
        return {}
    return {key: answer for key, answer in kept.items() if isinstance(answer, str)} if isinstance(kept, dict) else {}


def _key(prompt: str) -> str:
    return hashlib.sha256(prompt.encode()).hexdigest()[:12]


def _in_a_kernel() -> bool:
    """Whether somebody may sit before it; what only asks questions in code leaves no file behind."""
    try:
        from IPython.core.getipython import get_ipython
    except ImportError:
        return False
    return hasattr(get_ipython(), "kernel")

"""What a learner's kernel tells the teacher's board: a guess, in a small file in the learner's folder, gone after the day."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import Any

from aquaplumb.files import write
from aquaplumb.questions import asked
from aquaplumb.units import DesignError

FILE = ".guesses.json"


def guesses(folder: Path) -> dict[str, str]:
    """The guess of each page that a learner has made one on, by the page's number."""
    try:
        found = json.loads((folder / FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return {str(page)[:2]: str(guess)[:200] for page, guess in found.items()} if isinstance(found, dict) else {}


def forget(folder: Path) -> None:
    """Take the guesses of a day away."""
    with contextlib.suppress(OSError):
        (folder / FILE).unlink(missing_ok=True)


def listen(folder: str | Path, page: str) -> None:
    """Note the first answer given at a gate of this page: later ones have seen the picture."""
    place = Path(folder)

    def heard(question: asked.Asked, given: Any) -> None:
        before = guesses(place)
        if question.gate and page not in before:
            with contextlib.suppress(DesignError):  # a full disk: the page goes on, the board lacks a vote
                write(
                    place / FILE,
                    json.dumps({**before, page: asked.cut(given) if len(asked.as_text(given)) > 200 else asked.as_text(given)}),
                )

    asked.LISTENERS.append(heard)

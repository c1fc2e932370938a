"""What the keep button of a panel does to a build file: one way for all of them, and how a choice stands in the file."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from pathlib import Path

from aquaplumb.build import MINE, Build, file_text
from aquaplumb.build.file_text import as_said, written
from aquaplumb.review import Review, copy_of, review
from aquaplumb.units import on_tape

__all__ = ["Keeper", "keys_of", "listed", "written", "written_length"]

_INCHES = re.compile(r"(-?\d+(?:\.\d+)?) in")  # of a foot and more a panel's box shows feet, so that a Keep says them too
_LONG = re.compile(r"\b\d+\.\d{5,}")  # a number of a file with many decimals, such as a tape's 1.83333333334 ft


class Keeper:
    """Saves what was changed in a panel, and says so in a sentence.

    `build` is the build as it was kept last. A key that this panel has kept and that is not among its changes any more
    was turned back by hand: it gets again what it had when the panel was opened.
    """

    def __init__(self, build: Build):
        self.build = self._opened = build
        self._kept: dict[tuple, object] = {}
        self.seen: Review | None = None  # the review of what was kept last

    def keep(
        self, changes: dict[tuple, object], told: str | Callable[[dict], str], *, about: tuple = ((),), still: Collection | None = None
    ) -> str:
        """Save changes to the build that the panel was opened with; returns what was kept, and the review's verdict.

        `told` is what was kept, or a function that says it of the changes that are new since the last time. `about` has
        the beginnings of the keys that are shown now: of another line or stretch, what was kept before stays. `still`, where the changes
        are those from what was kept last, has the keys that are not as they were when the panel was opened.
        """
        moved = changes if still is None else still
        turned = [keys for keys in self._kept if keys not in moved and any(keys[: len(begin)] == begin for begin in about)]
        changes = {keys: value for keys, value in changes.items() if keys not in turned}
        read = file_text.document if turned else file_text.values  # what goes back takes its comments along
        opened = read(self._opened.text, self._opened.name)

        def had(keys: tuple):
            return file_text.value_at(opened, keys)

        def whole(keys: tuple) -> tuple:
            """A key, or the outermost table around it that this panel made and that has nothing of its own left in it."""
            ours = (keys[:n] for n in range(1, len(keys)) if had(keys[:n]) is None and not any(other[:n] == keys[:n] for other in stay))
            return next(ours, keys)

        stay = {**{keys: value for keys, value in self._kept.items() if keys not in turned}, **changes}
        back = {whole(keys): had(keys) for keys in turned}
        new = {keys: value for keys, value in changes.items() if value != self._kept.get(keys, had(keys))}
        copied = "" if (self.build.path or Path(MINE)).exists() else f" The rest of it is {copy_of(self.build)}: make it yours."
        self.build, self._kept = self.build.keep({**back, **changes}), stay
        self.seen = review(self.build)
        words = told if isinstance(told, str) else told({**back, **new})
        return f"Kept in {self.build.name}: {words}.{copied} Its review: {self.seen.verdict}."


def listed(changes: dict[tuple, object], nothing: str = "unchanged", *, gone: str = "taken out", names: Mapping[str, str] = {}) -> str:
    """Changes in words, such as "size 25 mm, outlet 0.100 m"; `nothing` where there are none, `gone` for a key that goes, `names` of keys that a page calls otherwise."""
    flat: dict[tuple, object] = {}
    for keys, value in changes.items():
        flat |= {(*keys, key): part for key, part in value.items()} if isinstance(value, dict) else {keys: value}
    said = {names.get(keys[-1], keys[-1].replace("_", " ")): gone if value is None else _short(value) for keys, value in flat.items()}
    return (
        ", ".join(f"{'' if value else 'not '}{key}" if isinstance(value, bool) else f"{key} {value}" for key, value in said.items())
        or nothing
    )


def _short(value):
    """A value as it is told: what has more decimals than anybody measures is rounded, in the words alone."""
    if isinstance(value, str) and (inches := _INCHES.fullmatch(value)) and abs(float(inches[1])) >= 12:
        return on_tape(0.0254 * float(inches[1]))
    return as_said(_LONG.sub(lambda number: f"{float(number[0]):.4g}", value)) if isinstance(value, str) else value


def keys_of(changes: dict[tuple, object]) -> str:
    """What was changed, without the values: "crop, medium, length"."""
    return ", ".join(dict.fromkeys(keys[-1].replace("_", " ") for keys in changes)) or "nothing new"


def written_length(si: float, system: str) -> str:
    """A height or length as it stands in a build file, to a millimetre."""
    return f"{si:.3f} m" if system == "metric" else f"{si / 0.0254:.2f} in"

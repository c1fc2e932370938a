"""What all kinds of question share: whose it is, the misses, the hint, and the replies to anything typed.

Nothing here raises on what a learner types: an answer that cannot be read gets the sentence that says why.
"""

from __future__ import annotations

import hashlib
import os
import unicodedata
from collections.abc import Callable
from typing import Any, NamedTuple

from aquaplumb.units import DesignError, Quantity


class Verdict(NamedTuple):
    """What a reply came to: "blank", "unclear", "wrong" or "right", and the sentence that says so."""

    state: str
    text: str


class WorkedAnswer(NamedTuple):
    """What an answer key says of a question: the answer, how it is worked out, why it matters, and wrong answers with the reply to each."""

    answer: str
    worked: str
    why: str
    wrong: list[tuple[str, str]]


LISTENERS: list[Callable[[Asked, Any], None]] = []  # who is told of each answer that was judged


class Asked:
    """What all kinds of question share: whose it is, the misses, and what is said after them.

    One that is a `gate` holds back all that stands below it on its page until it is answered, right or wrong, or until
    *Show me* is pressed: guess first, then look.
    """

    blank = "○ Not answered yet."
    misses: list[str]
    solved: bool
    shown: bool
    _learner: str

    def __init__(self, prompt: str, *, hint: str = "", worked: str = "", why: str = "", learner: str = "", gate: bool = False):
        self._prompt, self._hint, self._worked, self._why, self.gate = prompt, hint, worked, why, gate
        self.opened = False
        self.when_opened: list = []  # what to call when the gate opens
        self.given: Any = None  # the last answer that was judged
        self.learner = learner

    @property
    def learner(self) -> str:
        """Whose question it is; another name draws other numbers, and what was answered stays as far as it stays true."""
        return self._learner

    @learner.setter
    def learner(self, name: str) -> None:
        before = None if self.given is None else (self.prompt, self._lasting(self.given), self.misses, self.solved, self.shown)
        self._learner = tidy_name(name)
        self.misses = []
        self.solved = self.shown = False
        self._deal()
        if before:
            prompt, lasting, misses, solved, shown = before
            self.given = self._anew(lasting)
            if prompt == self.prompt or self.verdict(self.given).state == "right":
                self.misses, self.solved, self.shown = misses, solved, shown
            else:
                self.given = None

    @property
    def prompt(self) -> str:
        """The question, with this learner's numbers."""
        return self._filled(self._prompt)

    def reply(self, given=None) -> str:
        """What a teacher would say to an answer.

        Parameters
        ----------
        given : str, number or quantity
            The answer; nothing or a blank is "not answered yet".

        Returns
        -------
        str
            One or a few plain sentences. A hint comes with the second miss, the worked answer with the third. The
            same wrong answer given again (when a notebook is run again) is not another miss.
        """
        verdict = self.verdict(given)
        if verdict.state in ("right", "wrong"):
            self.given = given
            self.open()
            for tell in LISTENERS:
                tell(self, given)
        if verdict.state == "right":
            self.solved = True
            return f"✔ Right: {verdict.text}" + (f" {self._filled(self._why)}" if self._why else "")
        if verdict.state == "wrong":
            key = " ".join(as_text(given).split())
            if key not in self.misses:
                self.misses.append(key)
            return f"✖ Not yet. {verdict.text}" + self._help()
        return self.blank if verdict.state == "blank" else f"○ {verdict.text}"

    def open(self) -> None:
        """Let what stands below be seen."""
        if not self.opened:
            self.opened = True
            for call in self.when_opened:
                call()

    def verdict(self, given) -> Verdict:
        """The judgement alone; it counts nothing."""
        if given is None or given is ... or (isinstance(given, str) and not given.strip()):
            return Verdict("blank", self.blank)
        try:
            return self._judged(given)
        except DesignError as wrong:
            return Verdict("unclear", _started(str(wrong)))
        except Exception as fault:
            if os.environ.get("AQUAPLUMB_STRICT"):
                raise
            return Verdict("unclear", f"this is a fault in aquaplumb: {type(fault).__name__}: {fault}")

    def _help(self) -> str:
        if len(self.misses) >= 3:
            self.shown = self.shown or not self.solved
        return self.helps[min(len(self.misses), 3) - 1] if self.misses else ""

    @property
    def helps(self) -> tuple[str, str, str]:
        """What is added to the reply at the first miss, the second and all later ones."""
        worked = f" Worked out: {self._filled(self._worked)} The answer is {self._answer_text()}.".replace(":  The", ": the")
        return "", f" Hint: {self._filled(self._hint)}" if self._hint else "", worked

    @property
    def standing(self) -> str:
        """How it went, for the results line."""
        if self.solved:
            if self.shown:
                return "right after the answer was shown"
            return f"right after {len(self.misses)} miss{'es' if len(self.misses) > 1 else ''}" if self.misses else "right at once"
        return "answer shown" if self.shown else "not yet right" if self.misses else "not answered yet"

    @property
    def solution(self) -> WorkedAnswer:
        """For whoever teaches, with this learner's numbers; it counts nothing."""
        return WorkedAnswer(self._answer_as_shown(), self._filled(self._worked), self._filled(self._why), self._wrong())

    # --- what a kind of question fills in ---

    def _deal(self) -> None:
        """Draw this learner's numbers or order."""

    def _lasting(self, given):
        """An answer in a form that holds for another learner's numbers or order as well."""
        return given

    def _anew(self, lasting):
        """Such an answer as this learner would give it."""
        return lasting

    def _filled(self, text: str) -> str:
        return text

    def _judged(self, given) -> Verdict:
        raise NotImplementedError

    def _answer_text(self) -> str:
        raise NotImplementedError

    def _answer_as_shown(self) -> str:
        """The answer, with its letter or its numbers where the learner sees some."""
        return self._answer_text()

    def _wrong(self) -> list[tuple[str, str]]:
        """Wrong answers that are foreseen, each with the reply to it."""
        return []

    def __repr__(self):
        return self.prompt

    def _repr_mimebundle_(self, include=None, exclude=None):
        return bundle([self], None, repr(self))


# --- small parts --------------------------------------------------------------------------------


def cut(given) -> str:
    """What was given, short enough to say back."""
    text = as_text(given)
    text = " ".join(text[:200].split())
    return text if len(text) <= 40 else f"{text[:40]}…"


def as_text(given) -> str:
    try:
        return f"{given:.6g~P}" if isinstance(given, Quantity) else str(given)
    except (TypeError, ValueError, OverflowError):  # such as a number of five thousand digits
        return "that"


def _started(text: str) -> str:
    return text[:1].upper() + text[1:]


def tidy_name(name) -> str:
    letters = "".join(sign for sign in unicodedata.normalize("NFC", str(name or "")[:200]) if sign.isprintable())
    return " ".join(letters.split())[:40]


def number_from(text: str) -> int:
    """A number that depends on the text alone: the same on every machine, in every version."""
    return int.from_bytes(hashlib.sha256(text.casefold().encode()).digest()[:8], "big")


def shuffled(items: list, seed: str) -> list:
    return sorted(items, key=lambda item: number_from(f"{seed}\x1f{item}"))


def bundle(questions: list, quiz, text: str) -> dict:
    """How questions show in a notebook: boxes where there are widgets, else as text."""
    try:
        from aquaplumb.questions.screen import view
    except ImportError:
        return {"text/plain": text}
    return {**view(questions, quiz)._repr_mimebundle_(), "text/plain": text}

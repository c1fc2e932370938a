"""What a person is told: one sentence, and the text of others cleaned of what would steer a terminal."""

from __future__ import annotations

import re

import numpy as np

# What a terminal obeys (escape codes whole, then single control signs), and the signs that turn the direction of writing (Unicode UAX 9).
_STEERS = re.compile(
    "\x1b\\[[0-?]*[ -/]*[@-~]|\x1b\\][^\x07\x1b]*(?:\x07|\x1b\\\\)?|[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)
_WORD = re.compile(r"(\w{60})\w{20,}")  # what no word is as long as
_LONGEST, _HEAD, _TAIL = 1000, 600, 300  # letters of a refusal; of a longer one its beginning, and its end, which says what to do


def plain(text: str) -> str:
    """A text of several lines for a terminal, without what would steer it."""
    return _STEERS.sub("", text)


def in_a_line(text: str) -> str:
    """A sentence for a person: one line, nothing that steers a terminal, and its middle left out where it runs on."""
    told = " ".join(plain(text.replace("\r", " ").replace("\t", " ")).splitlines()) if not text.isprintable() else text
    told = _WORD.sub(r"\1…", told)
    return told if len(told) <= _LONGEST else f"{told[:_HEAD]} … {told[-_TAIL:]}"


def escaped(text: str) -> str:
    """A JSON text with the same signs written as JSON writes them, so that no value is lost."""
    return _STEERS.sub(lambda found: "".join(f"\\u{ord(sign):04x}" for sign in found[0]), text)


class DesignError(ValueError):
    """Something a person gave cannot be: the message says what it is, what is possible and what to do."""

    def __init__(self, *said: object):
        super().__init__(*(in_a_line(part) if isinstance(part, str) else part for part in said))

    def _render_traceback_(self) -> list[str]:
        """What a notebook shows of it: the sentence, and no traceback."""
        return [f"✖ {self}"]


def pipe_in_words(name: str) -> str:
    """The name of a stretch of pipe in a sentence: one called "to bed 1" is the pipe to bed 1."""
    return f"the pipe {name}" if name.startswith("to ") else name


def an(word: str) -> str:
    """The word with its article."""
    return f"{'an' if word[0] in 'aeiouAEIOU' else 'a'} {word}"


def as_given(value) -> str:
    """What was given, in a sentence: a short value as it is typed, of anything else what it is."""
    if isinstance(held := getattr(value, "magnitude", value), int) and held.bit_length() > 200:
        return f"a number of about {int(held.bit_length() * 0.30103)} digits"
    if value is None or isinstance(value, (str, int, float, np.number)) or (hasattr(value, "units") and np.ndim(value) == 0):
        return f"{value!r:.60}" if isinstance(value, str) else f"{value!s:.60}"
    return f"the class {value.__name__}" if isinstance(value, type) else an(type(value).__name__.removeprefix("nd"))

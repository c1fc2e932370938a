"""Slips of a unit, made on purpose: each number of a demo times ten, a thousand …, in the text of its file; and which of them nobody is told of.

python tests/corpus --all slips                    every slip of every demo
python tests/corpus --silent courtyard greenhouse  those by ten and by a tenth that bring no refusal, no new finding and no note
"""

from __future__ import annotations

import functools
import itertools
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial

from aquaplumb.build import Build, demos, load
from aquaplumb.review import review
from aquaplumb.units import DesignError, quantity
from corpus import Case

FACTORS = (1000, 100, 10, 0.1, 0.01, 0.001, -1, 0)
_NAMES = {"size", "standard", "title", "about", "name"}  # text that may begin with a number and is none
_TOKEN = re.compile(r"""(?:(?P<key>[A-Za-z_"][\w " ]*?)\s*=\s*)?(?P<value>"[^"]*"|(?<![\w."])-?\d[\d.]*(?![\w."]))""")


@dataclass(frozen=True)
class Slip:
    """A number of a demo that is off by a factor."""

    demo: str
    line: int
    key: str
    was: str
    factor: float
    text: str

    @property
    def now(self) -> str:
        """The number as the file has it then."""
        return self.text.split("\n")[self.line - 1].strip()


def numbers(text: str):
    """(line, key, span in the text, value as written) of each number in a build file."""
    place = 0
    for line, said in enumerate(text.split("\n"), 1):
        bare = said.split(" #")[0]
        if "=" in bare and not bare.lstrip().startswith(("#", "[")):
            key = ""
            for found in _TOKEN.finditer(bare):
                key = (found["key"] or key).strip(' "')
                value = found["value"]
                if key not in _NAMES and scaled(value, 1.0):
                    yield line, key, (place + found.start("value"), place + found.end("value")), value
        place += len(said) + 1


@functools.cache  # the same few values stand in all demos
def scaled(value: str, factor: float) -> str:
    """A value as a file has it, times a factor; nothing where it is no number."""
    if not value.startswith('"'):
        return f"{float(value) * factor:.10g}" if re.fullmatch(r"-?\d+(\.\d+)?", value) else ""
    try:
        read = quantity(value.strip('"'))
    except DesignError:
        return ""
    unit = re.sub(r"^[-+\d./ ]+", "", value.strip('"')) if "ft " not in value else "ft"
    return f'"{read.m * factor:.10g} {unit}"'


def slips(demo: str, factors: Iterable[float] = FACTORS) -> list[Slip]:
    """Every number of a demo, off by each factor."""
    text = load(demo).text
    return [
        Slip(demo, line, key, value, factor, text[:start] + scaled(value, factor) + text[end:])
        for line, key, (start, end), value in numbers(text)
        for factor in factors
        if scaled(value, factor) != scaled(value, 1.0)
    ]


@functools.cache
def _sound(demo: str) -> frozenset:
    """What a demo's own review finds."""
    return _found(load(demo).text)


def _found(text: str) -> frozenset:
    return frozenset((one.severity, one.name, one.where) for one in review(Build(text)).findings)


def silent(demo: str, factors: Iterable[float] = (10, 0.1)) -> Iterable[Slip]:
    """The slips of a demo of which a person is told nothing."""
    for slip in slips(demo, factors):
        try:
            told = bool(_found(slip.text) - _sound(demo))
        except DesignError:
            told = True
        if not told:
            yield slip


def _reviewed(text: str, _folder=None):
    """The review of a text, told in full."""
    found = review(Build(text))
    str(found)
    return found


def cases() -> Iterable[Case]:
    """Each number of each demo off by each factor, and what its review says; a refusal says its line."""
    found = [
        Case(
            "slips",
            f"{slip.demo}, line {slip.line}: {slip.key} {slip.was} × {slip.factor:g}",
            partial(_reviewed, slip.text),
            says=", line ",
        )
        for demo in demos()
        for slip in slips(demo)
    ]
    return itertools.chain(found[3::7], *(found[n::7] for n in (0, 1, 2, 4, 5, 6)))  # so that an even choice has all factors

"""What a learner types, read kindly: "15/1.4", "2 × 9.81 m", "10 L / 300 L/h" and "1,500 L" as well as "900 L/h".

Only numbers, units, ``+ - * / × ÷ ( )``: nothing typed is ever run as code, and nothing can grow without bound.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pint

from aquaplumb.units import DesignError, Quantity, pint_unit

_MOST = 60  # signs that are read; a sum by hand is shorter
_NUMBER = r"(?:\d{1,15}(?:\.\d{0,15})?|\.\d{1,15})"
_UNIT = r"[A-Za-zµμΩ°%'\"][\w°²³]*(?:(?:\*\*|\^)-?\d)?(?:\s*[/·]\s*[A-Za-zµμΩ°][\w²³]*(?:(?:\*\*|\^)-?\d)?)*"
_PART = re.compile(rf"\s*(?:(?P<number>{_NUMBER})|(?P<unit>{_UNIT})|(?P<sign>[-+*/()]))")
_SUM = re.compile(r"[\d.)%°²³A-Za-z]\s*[-+*/]\s*[\d.(-]|[\d)]\s*\(")  # a sign between two numbers
_THOUSANDS = re.compile(r"(?<![\d.,])([1-9]\d{0,2}(?:,\d{3})+)(?![\d,])")


def readings(text: str) -> Iterator[Quantity]:
    """What a text may mean where it is no plain "number unit": its sum, and with its commas taken for thousands.

    A unit at the very end may belong to all of the sum or to the last number: both are given.
    """
    tidy = " ".join(text[:_MOST].replace("×", "*").replace("÷", "/").replace("−", "-").replace("∙", "*").split())
    if len(text) > _MOST:
        return
    plain = _THOUSANDS.sub(lambda found: found[1].replace(",", ""), tidy)
    if "," in plain or not (plain != tidy or _SUM.search(plain)):
        return
    parts = [(kind, found[kind]) for found in _PART.finditer(plain) for kind in ("number", "unit", "sign") if found[kind]]
    if "".join(part for _, part in parts).replace(" ", "") != plain.replace(" ", ""):
        return
    whole = [kind for kind, _ in parts].count("unit") == 1 and parts[-1][0] == "unit"
    for unit, rest in ((parts[-1][1], parts[:-1]), ("", parts)) if whole else (("", parts),):
        try:
            yield _Sum(rest).value() * Quantity(1.0, pint_unit(unit))
        except (DesignError, ArithmeticError, ValueError, pint.PintError):
            continue


class _Sum:
    """A sum read from the left: products before sums, brackets before both."""

    def __init__(self, parts: list[tuple[str, str]]):
        self.parts, self.place = parts, 0

    def value(self) -> Quantity:
        found = self._sum()
        if self.place != len(self.parts):
            raise ValueError("something is left over")
        return found

    def _next(self, *signs: str) -> str:
        kind, part = self.parts[self.place] if self.place < len(self.parts) else ("", "")
        if kind == "sign" and part in signs:
            self.place += 1
            return part
        return ""

    def _sum(self) -> Quantity:
        found = self._product()
        while sign := self._next("+", "-"):
            other = self._product()
            found = found + other if sign == "+" else found - other
        return found

    def _product(self) -> Quantity:
        found = self._one()
        while sign := self._next("*", "/"):
            other = self._one()
            found = found * other if sign == "*" else found / other
        return found

    def _one(self) -> Quantity:
        if self._next("-"):
            return -self._one()
        if self._next("("):
            found = self._sum()
            if not self._next(")"):
                raise ValueError("a bracket is open")
        else:
            kind, part = self.parts[self.place] if self.place < len(self.parts) else ("", "")
            if kind != "number":
                raise ValueError("a number is missing")
            self.place += 1
            found = Quantity(float(part), "")
        if self.place < len(self.parts) and self.parts[self.place][0] == "unit":
            found = found * Quantity(1.0, pint_unit(self.parts[self.place][1]))
            self.place += 1
        return found

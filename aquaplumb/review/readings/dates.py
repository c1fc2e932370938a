"""The dates of a log: ISO, as the header declares them, or in the order that all of them together show; else said why not."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, replace
from datetime import datetime

from aquaplumb.review.readings.cells import HEADER, Unsound
from aquaplumb.units import DesignError

_ISO = re.compile(r"(?P<year>[0-9]{4})(?P<mark>[-/.])(?P<month>[0-9]{1,2})(?P=mark)(?P<day>[0-9]{1,2})")
_TIME = r"(?:[T ]+(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})(?::[0-9]{2}(?:\.[0-9]*)?)?)?"
_ISO_EXAMPLE = "2026-12-31"
_DIGITS = {"d": "(?P<day>[0-9]{1,2})", "m": "(?P<month>[0-9]{1,2})", "y": "(?P<year>[0-9]{4}|[0-9]{2})"}
_WORDS = {"d": "day", "m": "month", "y": "year"}
DATE_WORDS = ("date", "datum")


@dataclass(frozen=True)
class DateStyle:
    """How a log writes its dates: ISO, or the `order` that its header declares, such as "day/month/year".

    `settled` is the order, "dm" or "md", in which dates such as 5/1/26 are read where the header says none: see `settled`.
    """

    order: str = ""
    pattern: re.Pattern = re.compile(_ISO.pattern + _TIME)
    settled: str = ""

    @property
    def example(self) -> str:
        """The last day of 2026 in this style."""
        return re.sub("[a-z]+", lambda m: {"d": "31", "m": "12", "y": "2026"}[m[0][0]], self.order) if self.order else _ISO_EXAMPLE


def date_style(cell: str) -> DateStyle | None:
    """The style that a header cell such as "date [day/month/year]" declares; None where it is not the date."""
    found = HEADER.match(cell)
    if found is None or found["name"].strip().casefold() not in DATE_WORDS:
        return None
    order = (found["unit"] or "").strip().casefold()
    parts = re.fullmatch(r"([dmy][a-z]*)([/.-])([dmy][a-z]*)([/.-])([dmy][a-z]*)", order)
    if order in ("", "iso") or (parts and [parts[i][0] for i in (1, 3, 5)] == ["y", "m", "d"] and parts[2] == parts[4] == "-"):
        return DateStyle()
    if not parts or sorted(parts[i][0] for i in (1, 3, 5)) != ["d", "m", "y"]:
        raise DesignError(
            f"the header '{cell}' does not say an order of dates; write date for dates such as {_ISO_EXAMPLE}, or date [day/month/year], date [month/day/year]."
        )
    letters, marks = [parts[i][0] for i in (1, 3, 5)], (parts[2], parts[4])
    pattern = _DIGITS[letters[0]] + re.escape(marks[0]) + _DIGITS[letters[1]] + re.escape(marks[1]) + _DIGITS[letters[2]] + _TIME
    return DateStyle(_WORDS[letters[0]] + marks[0] + _WORDS[letters[1]] + marks[1] + _WORDS[letters[2]], re.compile(pattern))


def date(text: str, style: DateStyle) -> datetime:
    """The date, and the time of day if there is one, of a cell."""
    patterns = [style.pattern, DateStyle.pattern, *([_either(style.settled)] if style.settled else [])]  # year first is clear in any log
    found = next((match for pattern in patterns if (match := pattern.fullmatch(text.strip()))), None)
    if not found:
        raise Unsound(_not_a_date(text.strip(), style))
    parts = {name: int(value) for name, value in found.groupdict().items() if value and name != "mark"}
    if len(found["year"]) == 2:
        parts["year"] += 2000
    if not 1990 <= parts["year"] <= 2100:
        raise Unsound(f"has the year {parts['year']}; write the year in full and look whether it is right.")
    try:
        return datetime(parts["year"], parts["month"], parts["day"], parts.get("hour", 0), parts.get("minute", 0))
    except ValueError:
        where = f" in the order {style.order}, as the header says" if style.order else ""
        raise Unsound(f"is no day of the calendar{where}; look it up and mend it.") from None


def _either(order: str) -> re.Pattern:
    """Dates such as 5/1/26 or 5.1.2026 with a time or without, read in the order "dm" or "md"."""
    first, second = (_DIGITS[letter] for letter in order)
    return re.compile(first + "(?P<mark>[/.-])" + second + "(?P=mark)" + _DIGITS["y"] + _TIME)


def settled(style: DateStyle, cells: list[str], us_units: bool) -> tuple[DateStyle, tuple[int, str] | None]:
    """The style in which a log's dates can be read, and (place, why) of the first that the header leaves open.

    Of day first and month first: the one in which all of them are days of the calendar; else the one in which the rows lie
    closer together, by half or more; else, with units of the United States in the header, month first, and day first without.
    """
    if style.order:
        return style, None
    open_ones = [i for i, cell in enumerate(cells) if _either("dm").fullmatch(cell.strip())]
    if not open_ones:
        return style, None
    ways = {order: replace(style, settled=order) for order in ("dm", "md")}
    read: dict[str, list] = {order: [_or_none(cell, way) for cell in cells] for order, way in ways.items()}
    sound = [order for order in ways if all(read[order][i] is not None for i in open_ones)]
    if not sound:
        return style, None  # some are day first and some month first: each is said
    if len(sound) == 1:
        order, why = sound[0], "the only order in which all such dates are days of the calendar"
    else:
        far = {order: _way(days, set(open_ones)) for order, days in read.items()}
        near, wide = sorted(far, key=lambda order: far[order])
        if far[near] * 2 <= far[wide] and far[wide] > 0:
            order, why = near, "for so the rows lie close together"
        elif us_units:
            order, why = "md", "as in the United States, whose units the header has"
        else:
            order, why = "dm", "as in most countries; nothing in the file says which"
    return ways[order], (open_ones[0], why)


def _way(days: list, open_ones: set[int]) -> float:
    """The seconds between each row that is open and its neighbours."""
    there = [(i in open_ones, day) for i, day in enumerate(days) if day is not None]
    return sum(abs((b - a).total_seconds()) for (left, a), (right, b) in itertools.pairwise(there) if left or right)


def _or_none(cell: str, style: DateStyle) -> datetime | None:
    try:
        return date(cell, style)
    except Unsound:
        return None


def _not_a_date(text: str, style: DateStyle) -> str:
    if not text:
        return "has no date, so nobody knows when it was; write one."
    write = f"write it {style.order or 'year-month-day'} (the last day of 2026 is {style.example})"
    if _ISO.match(text) or style.order:
        wanted = "as the header says" if style.order else "year, month and day in figures"
        return f"is not in this log's style of dates, {wanted}; {write}. One log, one style."
    if re.fullmatch(r"[0-9]{5}(?:\.[0-9]+)?", text):
        return f"is a spreadsheet's own number for a day; set the column to dates and {write}."
    if (found := re.match(r"[0-9]{1,2}([/.-])[0-9]{1,2}\1(?:[0-9]{4}|[0-9]{2})\b", text)) is not None:
        orders = " or ".join(f"date [{order.replace('/', found[1])}]" for order in ("day/month/year", "month/day/year"))
        return f"can be two days, day first or month first; {write}, or say the order in the header: {orders}."
    return f"is not a date that I can read; {write}."

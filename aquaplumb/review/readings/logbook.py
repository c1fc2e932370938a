"""A log kept from a page: a file begun, and a day's readings put at its end, without losing a letter of what is there."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

import numpy as np

from aquaplumb.build import MINE, Build
from aquaplumb.files import alone, write
from aquaplumb.review.readings.cells import Column
from aquaplumb.review.readings.log import Log
from aquaplumb.review.readings.logfile import LogReader, log_text, reader_of
from aquaplumb.review.readings.own import blank_log, log_path
from aquaplumb.units import DesignError

NEW = "my-log.csv"


class Logbook:
    """A log's file as it is now: its `fields` (name and heading), and the `log`, None where it holds no reading yet."""

    def __init__(self, path: Path):
        self.path = path
        reader = reader_of(path).head()
        self.fields = {_name(column): heading for column, heading in zip(reader.columns, reader.header) if _name(column)}
        self.log: Log | None = reader_of(path).log() if reader.body else None


def _name(column) -> str:
    return column.name if isinstance(column, Column) else column or ""


def begin(build: Build, forms: Mapping[str, str] | None = None) -> tuple[Build, str]:
    """Begin a log beside the build file, and let the build name it; returns the build, and what was done in a sentence.

    `forms` says what a kit reads as, such as ``{"nitrite": "NO2"}``. A file that is there already is left as it is.
    """
    home = build.path or Path(MINE)
    path = log_path(build) or home.parent / NEW
    with alone(path):
        there = path.exists()
        if there:
            Logbook(path)  # a file that is no log is refused, and stays as it is
        else:
            write(path, blank_log(system=build.units, forms=forms) + "\n")
    kept = build.keep({("upkeep", "log"): path.name}) if log_path(build) is None else build
    how = "was there already and is left as it is" if there else "is begun"
    return kept, f"{path.name} {how}; {home.name} names it as your log."


def add(path: Path, cells: Mapping[str, str], *, now: datetime) -> str:
    """Put one row at the end of a log; returns what was added, in a sentence.

    The file is read anew, so that what was written in it meanwhile stays; its letters, its order of columns and its line
    ends are kept. `cells` are as typed, by the field's name; `now` says which days are still to come.

    Raises
    ------
    DesignError
        Where a cell cannot be, the log has no such column any more, or the row would not be read; nothing is saved then.
    """
    typed = {name: text.strip() for name, text in cells.items() if text.strip()}
    with alone(path):
        (text, encoding), raw = log_text(path), path.read_bytes()
        before = LogReader(text, path.name, "").head()
        names = [_name(column) for column in before.columns]
        if not set(typed) - {"date"}:
            raise DesignError("there is nothing to add yet: write at least one reading.")
        if strange := [name for name in typed if name not in names]:
            raise DesignError(f"{path.name} has no column '{strange[0]}' any more; open this page again. Nothing was saved.")
        line = _line(typed, before)
        whole = raw.decode(encoding)
        newline = "\r\n" if "\r\n" in whole else "\r" if "\r" in whole and "\n" not in whole else "\n"
        longer = f"{text if text.endswith(chr(10)) else text + chr(10)}{line}\n"
        _checked(path, text if before.body else "", longer, typed, now)
        end = ("" if text.endswith("\n") else newline) + line + newline
        try:
            data = raw + end.encode(
                {"utf-16": "utf-16-be" if raw[:2] == b"\xfe\xff" else "utf-16-le", "utf-8-sig": "utf-8"}.get(encoding, encoding)
            )
        except UnicodeEncodeError as wrong:
            raise DesignError(
                f"'{wrong.object[wrong.start]}' is no letter of {path.name}, which is not UTF-8; write it otherwise."
            ) from None
        write(path, data)
    return f"Added to {path.name}: {', '.join(f'{name} {text}' if name != 'date' else text for name, text in typed.items())}."


def _line(typed: Mapping[str, str], reader: LogReader) -> str:
    """The row as the file has its cells; a decimal comma or point as the file's others are."""
    row = []
    for column in reader.columns:
        text = " ".join(typed.get(_name(column), "").split())
        if isinstance(column, Column):
            if reader.decimal == "," and text.count(".") == 1:
                text = text.replace(".", ",")
            elif reader.decimal == "." and re.fullmatch(r"[+-]?[0-9]*,[0-9]{1,2}", text):
                text = text.replace(",", ".")
        row.append(text)
    out = io.StringIO()
    csv.writer(out, delimiter=reader.separator, lineterminator="").writerow(row)
    return out.getvalue()


def _checked(path: Path, text: str, longer: str, typed: Mapping[str, str], now: datetime) -> None:
    """Refuse a row that would not be read as it was typed, or that would change how others are read."""
    last = longer.count("\n")
    reader = LogReader(longer, path.name, "")
    try:
        log = reader.log()
    except DesignError:
        log = None
    wrong = [p for p in reader.problems if p.row == last and not p.kept]
    if wrong:
        raise DesignError(" ".join(f"{p.column}: '{p.text}' {p.why}" for p in wrong))
    if log is None or last not in log.rows:
        raise DesignError("this row cannot be read where it would stand; look at the end of the file. Nothing was saved.")
    day = log.dates[log.rows == last][0]
    if day.astype("datetime64[D]") > np.datetime64(now, "D"):
        raise DesignError(f"date: {np.datetime_as_string(day, unit='D')} is still to come; is it right?")
    if twice := [int(row) for row, date in zip(log.rows, log.dates) if date == day and row != last]:
        raise DesignError(
            f"date: '{typed.get('date', '')}' is in the log already, in row {twice[0]}; write a time too, as in {np.datetime_as_string(day, unit='D')} 18:00."
        )
    if text:
        others = dict(zip(log.rows, log.dates))
        old = LogReader(text, path.name, "").log()
        if any(others.get(row) != date for row, date in zip(old.rows, old.dates)):
            raise DesignError(f"date: with '{typed.get('date', '')}' the other dates would be read otherwise; write it as 2026-12-31.")

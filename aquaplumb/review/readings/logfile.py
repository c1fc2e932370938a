"""Reading a log's file: into rows, each cell checked, what is sound into a `Log`, what is not into its `problems`."""

from __future__ import annotations

import csv
import itertools
import re
from datetime import datetime, timedelta
from pathlib import Path

from aquaplumb import tables
from aquaplumb.files import contents
from aquaplumb.given import as_given
from aquaplumb.review.readings.cells import COLUMNS, Column, Unsound, column, number, unknown_column
from aquaplumb.review.readings.dates import DateStyle, date, date_style, settled
from aquaplumb.review.readings.log import Log, Problem
from aquaplumb.units import DesignError

_LARGEST = 5_000_000  # bytes: a line a day for a century
_COMMA, _POINT = re.compile(r"[+-]?[0-9]*,[0-9]+"), re.compile(r"[+-]?[0-9]*\.[0-9]+")
_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+")
_FAR = timedelta(days=366)
_CONTROL = re.compile("[\x00-\x08\x0e-\x1f]")  # in no plain text of a file that says nothing of its letters
_ERROR = re.compile(r"#(?:REF!|N/A|VALUE!|NAME\?|DIV/0!|NUM!|NULL!|##)")  # a spreadsheet's, not a remark
HEADER_EXAMPLE = "date,temperature [degC],pH,ammonia [mg/L as N]"


def demos() -> list[str]:
    """The names of the demo logs, all invented for the demo."""
    return sorted(file.stem for file in (tables.folder("data") / "logs").glob("*.csv"))


def read(path, *, decimal: str = "") -> Log:
    """A grower's log, read from a CSV file; what cannot be read is in its `problems`, never guessed and never dropped.

    Parameters
    ----------
    path : str, Path or pandas.DataFrame
        A CSV file, or the name of a demo log such as "courtyard-spring"; or a table of the same columns, whose dates may
        be its index. Its rows are counted as in a file, from 2.
    decimal : str
        "." or ","; without it a file with semicolons or tabs between cells whose numbers have commas has decimal commas,
        and that is said.

    Returns
    -------
    Log

    Raises
    ------
    DesignError
        Where the file cannot be read at all, its header lacks a date, a unit or a basis, or no row has a date.

    Notes
    -----
    The first line that is neither blank nor a remark (#) is the header: ``date`` and any of temperature, pH, ammonia,
    nitrite, nitrate, oxygen, alkalinity, feed, top-up and note, in any order, with their units in square brackets.
    Ammonia, nitrite and nitrate say what they are measured as (N, NH3, NH4, NO2, NO3) and are kept as N, alkalinity as
    CaCO3; ppm is mg/L. Dates are ISO (2026-04-03 or 2026/04/03, with a time if you like) or in the order that the header
    declares: ``date [day/month/year]``; of others, such as 5/1/26, it is said how they were read. ``feed`` is what the fish
    got on that day, ``top-up`` the water added since the line before. Commas, semicolons or tabs between cells; UTF-8,
    UTF-16, or else Windows-1252 (which holds Latin-1), and that is said.

    Source: none; a log is what its grower says.

    Examples
    --------
    >>> read("courtyard-spring").latest("pH")[1]
    6.6
    """
    if not isinstance(decimal, str) or decimal not in ("", ".", ","):
        raise DesignError(f'decimal is {as_given(decimal)}; it is "." or ",".')
    if hasattr(path, "to_csv") and hasattr(path, "columns"):
        return LogReader(path.to_csv(index=path.index.name is not None), "the table", ".").log()
    if not isinstance(path, str | Path):
        raise DesignError(f"a log is read from a file or a DataFrame; give its name, not {as_given(path)}.")
    file, demo = Path(path), ""
    if file.suffix == "" and len(file.name) < 100 and not file.exists():
        demo, file = file.name, tables.folder("data") / "logs" / f"{file.name}.csv"
        if not file.exists():
            raise DesignError(tables.unknown("set of demo logs", demo, demos()) + " Your own file ends in .csv.")
    log = reader_of(file, decimal).log()
    log.demo = demo
    return log


def reader_of(file: Path, decimal: str = "") -> LogReader:
    """The reader of a file's text; it says where it had to take the file to be in another alphabet than UTF-8."""
    text, encoding = log_text(file)
    reader = LogReader(text, file.name, decimal)
    if encoding == "cp1252":
        why = "is not UTF-8 and is read as Windows-1252; look whether its signs, such as °, are right."
        reader.problems.append(Problem(1, "file", "", why, True))
    return reader


def log_text(path: Path) -> tuple[str, str]:
    """The file's text and its encoding, refused in plain words before anything big or odd is read."""
    try:
        if path.is_dir():
            raise DesignError(f"'{path.name}' is a folder; give the CSV file in it.")
        raw = contents(path, _LARGEST, "a log of a line a day has a thousandth of that")
    except FileNotFoundError:
        raise DesignError(f"there is no log '{path}'; look at its name and folder.") from None
    except (OSError, ValueError) as wrong:
        if isinstance(wrong, DesignError):
            raise
        raise DesignError(f"the log '{path.name}' cannot be read ({getattr(wrong, 'strerror', None) or wrong}).") from None
    if raw[:2] == b"PK" or raw[:4] == b"\xd0\xcf\x11\xe0":
        raise DesignError(f"{path.name} is a spreadsheet's own file; save the sheet as CSV (UTF-8) and read that.")
    encoding = encoding_of(raw)
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as wrong:
        raise DesignError(f"{path.name} is not plain text (byte {wrong.start}); save it as CSV (UTF-8).") from None
    if "\0" in text or (encoding == "cp1252" and _CONTROL.search(text)):
        raise DesignError(f"{path.name} is not plain text; from a spreadsheet, save it as CSV (UTF-8).")
    return text.replace("\r\n", "\n").replace("\r", "\n"), encoding


def encoding_of(raw: bytes) -> str:
    """How the text of a file is written: UTF-16 where it has the mark or every other byte is nil, UTF-8, or else Windows-1252."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    even, odd = raw[0:2000:2].count(0), raw[1:2000:2].count(0)
    if max(even, odd) > min(len(raw), 2000) / 4:
        return "utf-16-le" if odd > even else "utf-16-be"
    try:
        raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig"


class LogReader:
    """One pass over a log's text: `head` reads what stands above the readings, `log` all of it."""

    def __init__(self, text: str, name: str, decimal: str):
        self.name, self.decimal = name, decimal
        self.lines = text.split("\n")
        self.at = 0  # lines taken so far
        self.fresh = True  # whether a new row begins with the next line
        self.problems: list[Problem] = []
        self.remarks: list[str] = []

    def _feed(self):
        """Lines for the csv module; a line that begins with # between two rows is a remark."""
        while self.at < len(self.lines):
            line = self.lines[self.at]
            self.at += 1
            if self.fresh and line.lstrip().startswith("#") and not _ERROR.match(line.lstrip()):
                self.remarks.append(line.strip().rstrip(",;\t").lstrip("# "))
                continue
            if self.fresh:
                self.row, self.fresh = self.at, False
            yield line + "\n"

    def _rows(self, separator: str):
        """(row number, cells) of every row that is not blank."""
        reader = csv.reader(self._feed(), delimiter=separator, strict=True)
        while True:
            self.fresh = True
            try:
                cells = [cell.strip() for cell in next(reader)]
            except StopIteration:
                return
            except csv.Error as wrong:
                if "field larger" in str(wrong):
                    raise DesignError(
                        f"{self.name}, row {self.row}: a cell has over {csv.field_size_limit():,} letters; is a quotation mark left open, or is it the right file?"
                    ) from None
                raise DesignError(
                    f"{self.name}, row {self.row}: a quotation mark is opened and not closed as it should be; take it out."
                ) from None
            if not any(cells):
                continue
            if cells[0].startswith("#") and not any(cells[1:]):
                self.remarks.append(cells[0].lstrip("# "))
                continue
            yield self.row, cells

    def _separator(self) -> str:
        """What stands between cells: said by a spreadsheet's "sep=" line, or what the header has."""
        for place, line in enumerate(self.lines):
            bare = line.strip()
            if bare.casefold().startswith("sep=") and len(bare) <= 5:
                self.at = place + 1
                return bare[4:] or "\t"
            if bare.strip(',;\t "') and not bare.lstrip('"').startswith("#"):
                found = {mark: bare.count(mark) for mark in ",;\t"}
                return max(found, key=lambda mark: found[mark])
        raise DesignError(f"{self.name} holds no readings; it begins with a header such as {HEADER_EXAMPLE}.")

    def head(self) -> LogReader:
        """Read the header, and take the rows as they stand: `separator`, `header`, `columns`, `style` and `body`."""
        self.separator = self._separator()
        if self.separator == "," and self.decimal == ",":
            raise DesignError(
                f"{self.name} has commas between its cells, so its decimals must be points; save it with semicolons between cells."
            )
        rows = self._rows(self.separator)
        try:
            at, self.header = next(rows)
        except StopIteration:
            raise DesignError(f"{self.name} holds no readings; it begins with a header such as {HEADER_EXAMPLE}.") from None
        self.columns, style = self._header(self.header, at)
        self.body = list(rows)
        self.style = self._settled(style, self.columns, self.body)
        self.decimal = self.decimal or self._decimal()
        return self

    def log(self) -> Log:
        """All of it."""
        self.head()
        kept = [read for row, cells in self.body if (read := self._row(row, cells, self.columns, self.style)) is not None]
        if not kept:
            first = next((f" The first: {p}" for p in self.problems if p.column not in ("header", "file")), "")
            raise DesignError(f"{self.name} has no row that can be read.{first}")
        kept = self._in_order(self._near(kept))
        known = [c for c in self.columns if isinstance(c, Column)]
        return Log(self.name, kept, known, sorted(self.problems, key=lambda p: p.row), self.remarks)

    def _decimal(self) -> str:
        """A comma where all numbers that have a sign have one, and one of them at least can be no thousand; it is said."""
        if self.separator == ",":
            return "."
        numbers = [(row, known, cell) for row, cells in self.body for known, cell in zip(self.columns, cells) if isinstance(known, Column)]
        commas = [one for one in numbers if _COMMA.fullmatch(one[2]) and not _THOUSANDS.fullmatch(one[2])]
        if not commas or any(_POINT.fullmatch(cell) for *_, cell in numbers):
            return "."
        row, known, cell = commas[0]
        self._say(row, known.name, cell, "and all numbers of this file are read with decimal commas.", kept=True)
        return ","

    def _header(self, header: list[str], at: int):
        """What each column is: a Column, "date", "note", None (not one of ours) or "" (no heading)."""
        columns: list = []
        style = None
        for cell in header:
            try:
                declared = date_style(cell)
                if declared is not None:
                    if style is not None:
                        raise DesignError("the header has two columns of dates; leave one.")
                    style = declared
                    columns.append("date")
                elif cell.casefold() in ("note", "notes"):
                    columns.append("note")
                else:
                    columns.append(column(cell) if cell else "")
                    if columns[-1] is None:
                        self.problems.append(Problem(at, "header", cell, unknown_column(cell)))
            except DesignError as wrong:
                raise DesignError(f"{self.name}, row {at}: {wrong}") from None
        if style is None:
            shown = ", ".join(c for c in header if c)[:80]
            raise DesignError(
                f"{self.name}, row {at}: the header has no column 'date' (it reads: {shown}); the first row names the columns, such as {HEADER_EXAMPLE}."
            )
        names = [c.name if isinstance(c, Column) else c for c in columns if c]
        if twice := next((n for n in names if names.count(n) > 1), None):
            raise DesignError(f"{self.name}, row {at}: the column '{twice}' is there twice; leave one.")
        if not any(isinstance(c, Column) for c in columns):
            strange = [p.text for p in self.problems if p.column == "header"]
            seen = f" (it reads: {', '.join(strange)[:80]})" if strange else ""
            raise DesignError(
                f"{self.name}, row {at}: the header has a date and nothing that is measured{seen}; it may have {', '.join(COLUMNS)}."
            )
        return columns, style

    def _settled(self, style: DateStyle, columns: list, body: list) -> DateStyle:
        """The style of dates once all of them were seen; how an open one was read is said."""
        place = columns.index("date")
        there = [(row, cells[place]) for row, cells in body if len(cells) > place]
        us = any(isinstance(c, Column) and c.unit.casefold() in ("degf", "°f", "oz", "lb", "gal", "oz/d", "lb/d") for c in columns)
        style, first = settled(style, [cell for _, cell in there], us)
        if first is not None:
            (row, cell), why = there[first[0]], first[1]
            order, other = ("day", "month") if style.settled == "dm" else ("month", "day")
            mark = next(sign for sign in cell if sign in "/.-")
            self._say(row, "date", cell, f"is read as {date(cell, style):%Y-%m-%d}, {order} first, {why}. If it is {other} first, "
                f"write date [{other}{mark}{order}{mark}year] in the header.", kept=True)  # fmt: skip
        return style

    def _row(self, row: int, cells: list[str], columns: list, style: DateStyle) -> dict | None:
        extra = cells[len(columns) :]
        if len(cells) < len(columns) or any(extra):
            self.problems.append(Problem(row, "row", " | ".join(cells),
                f"has {len(cells)} cells where the header has {len(columns)}, so the whole row is kept out; a decimal comma makes two cells of one."))  # fmt: skip
            return None
        read: dict = {"row": row}
        others = [f"{header.name} {cell}" for header, cell in zip(columns, cells) if isinstance(header, Column) and cell]
        text = cells[columns.index("date")]
        try:
            read["date"] = date(text, style)
        except Unsound as why:
            self._say(row, "date", text, f"{why}{' With it the row is kept out: ' + ', '.join(others) + '.' if others else ''}")
            return None
        for known, cell in zip(columns, cells):
            if known == "note":
                read["note"] = cell
                if "\n" in cell:
                    self._say(
                        row,
                        "note",
                        cell,
                        "runs over several lines; if that is not meant, a quotation mark is missing and rows have gone into it.",
                        kept=True,
                    )
            elif known == "" and cell:
                self._say(row, "(no heading)", cell, "stands in a column without a heading and is kept out; name the column in the header.")
            elif isinstance(known, Column) and cell:
                try:
                    read[known.name] = number(cell, known, self.decimal)
                except Unsound as why:
                    self._say(row, known.name, cell, str(why))
        return read

    def _say(self, row: int, name: str, text: str, why: str, kept: bool = False) -> None:
        self.problems.append(Problem(row, name, text, why, kept))

    def _near(self, rows: list[dict]) -> list[dict]:
        """The rows without those whose date stands more than a year from every other: a slip in the year."""
        if len(rows) < 3:
            return rows
        days = sorted(r["date"] for r in rows)
        alone = {d for i, d in enumerate(days)
                 if (i == 0 or d - days[i - 1] > _FAR) and (i == len(days) - 1 or days[i + 1] - d > _FAR)}  # fmt: skip
        if len(alone) == len(rows):
            return rows
        for row in rows:
            if row["date"] in alone:
                self._say(
                    row["row"],
                    "date",
                    _shown(row["date"]),
                    "stands more than a year from every other row; is its year right? The row is kept out.",
                )
        return [r for r in rows if r["date"] not in alone]

    def _in_order(self, rows: list[dict]) -> list[dict]:
        """The rows by date; out of order and twice are said, and a row that is there word for word twice is kept once."""
        if len(rows) > 2 and all(b["date"] < a["date"] for a, b in itertools.pairwise(rows)):
            self._say(rows[0]["row"], "date", _shown(rows[0]["date"]), "comes first and is the newest; the log is turned round.", kept=True)
        else:
            late = None
            for row in rows:
                if late is not None and row["date"] < late["date"]:
                    self._say(
                        row["row"],
                        "date",
                        _shown(row["date"]),
                        f"stands after {_shown(late['date'])} (row {late['row']}); the rows are sorted by date. Is it right?",
                        kept=True,
                    )
                else:
                    late = row
        first: dict = {}  # the first row of each date, and of each row's very words
        kept = []
        for row in sorted(rows, key=lambda r: r["date"]):
            words = tuple((name, row[name]) for name in sorted(row) if name != "row")
            if words in first:
                self._say(row["row"], "date", _shown(row["date"]), f"is row {first[words]} again, word for word; it counts once.")
                continue
            if row["date"] in first:
                self._say(row["row"], "date", _shown(row["date"]),
                    f"is there already, in row {first[row['date']]}; both are kept. Mend a slip; for two readings in a day write the time, as in {_shown(row['date'])[:10]} 18:00.", kept=True)  # fmt: skip
            first.setdefault(row["date"], row["row"])
            first[words] = row["row"]
            kept.append(row)
        return kept


def _shown(day: datetime) -> str:
    return day.strftime("%Y-%m-%d" if (day.hour, day.minute) == (0, 0) else "%Y-%m-%d %H:%M")

"""A grower's log once it is read: readings by name beside their dates, and what was kept out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from aquaplumb import tables
from aquaplumb.review.readings.cells import COLUMNS, DERIVED, Column
from aquaplumb.units import NUMBER, DesignError
from aquaplumb.water import chemistry


@dataclass(frozen=True)
class Problem:
    """What is wrong with a cell or a row: its `row` (the line in the file), column and text, and what to do.

    `kept` says whether what it tells of is in the log nevertheless (rows out of order, a date twice).
    """

    row: int
    column: str
    text: str
    why: str
    kept: bool = False

    def __str__(self) -> str:
        shown = self.text if len(self.text) <= 40 else self.text[:37] + "…"
        return f"row {self.row}, {self.column}: '{shown}' {self.why}" if shown else f"row {self.row}, {self.column}: {self.why}"


class Log:
    """A grower's readings, sorted by date: `dates`, the readings by name, and the `problems` of what was kept out.

    ``log.values("ammonia")`` is a quantity (as N; blank is nan), ``log.si["ammonia"]`` the same as bare SI numbers,
    each beside ``log.dates``. "un-ionised ammonia" and "carbon dioxide" are there where what they need is.
    `remarks` are the file's own lines that begin with #, `notes` what stands in a column "note"; `demo` is the name of a
    demo log, else "".
    """

    demo = ""

    def __init__(self, name: str, rows: list[dict], columns: list[Column], problems: list[Problem], remarks: list[str]):
        self.name, self.problems, self.remarks = name, problems, remarks
        self.dates = np.array([row["date"] for row in rows], dtype="datetime64[m]")
        self.rows = np.array([row["row"] for row in rows], dtype=int)
        self.notes = [row.get("note", "") for row in rows]
        self.si = {c.name: np.array([row.get(c.name, np.nan) for row in rows], float) for c in columns}
        self._derive()
        for values in self.si.values():
            values.flags.writeable = False

    @classmethod
    def named(cls, name: str) -> Log:
        """The log of a file's or a demo's name: it serves wherever a log is meant."""
        from aquaplumb.review.readings.logfile import read

        return read(name)

    def _derive(self) -> None:
        if {"pH", "temperature", "ammonia"} <= set(self.si):
            ph, warmth = self._of_the_day("pH"), self._of_the_day("temperature")
            there = np.isfinite(ph) & np.isfinite(warmth)
            share = np.full(len(self.dates), np.nan)
            share[there] = chemistry.unionised_fraction.si(ph[there], warmth[there])
            self.si["un-ionised ammonia"] = share * self.si["ammonia"]
        if {"pH", "temperature", "alkalinity"} <= set(self.si):
            ph, warmth, alkalinity = (self.si[name] for name in ("pH", "temperature", "alkalinity"))
            there = (ph >= 5) & (ph <= 9) & (warmth <= 313.15) & np.isfinite(alkalinity)
            gas = np.full(len(self.dates), np.nan)
            gas[there] = chemistry.carbon_dioxide.si(ph[there], alkalinity[there], warmth[there])
            self.si["carbon dioxide"] = gas

    def _of_the_day(self, name: str) -> np.ndarray:
        """The readings of a name; where a row has none, the highest of that day's other rows, which may be what fish met."""
        values = self.si[name]
        days, day = np.unique(self.dates.astype("datetime64[D]"), return_inverse=True)
        highest = np.full(len(days), -np.inf)
        np.maximum.at(highest, day, np.where(np.isfinite(values), values, -np.inf))
        return np.where(np.isfinite(values), values, np.where(np.isfinite(highest), highest, np.nan)[day])

    @property
    def names(self) -> list[str]:
        """What the log has values of."""
        return list(self.si)

    @property
    def measured(self) -> list[str]:
        """The names of its own columns, without what is worked out of them."""
        return [name for name in self.si if name in COLUMNS]

    @property
    def days(self) -> np.ndarray:
        """The dates as days from the first reading."""
        return (self.dates - self.dates[0]) / np.timedelta64(1, "D")

    def column(self, name: str) -> Column:
        """The column of a name: its kind and heading."""
        if name not in self.si:
            raise DesignError(tables.unknown("log", name, self.si))
        return {**COLUMNS, **DERIVED}[name]

    def values(self, name: str):
        """The readings of a name beside `dates`, as a quantity; plain numbers for pH. A blank is nan."""
        kind = self.column(name).kind
        return self.si[name] if kind is NUMBER else kind.quantity(self.si[name])

    def latest(self, name: str) -> tuple[np.datetime64, float] | None:
        """(date, bare SI value) of the last reading of a name, or None."""
        at = np.flatnonzero(np.isfinite(self.si.get(name, np.nan)))
        return (self.dates[at[-1]], float(self.si[name][at[-1]])) if len(at) else None

    def table(self, system: str = "metric"):
        """All readings as a pandas DataFrame in the builder's units, the unit in each heading; "row" is the file's."""
        import pandas as pd

        data = {"date": pd.to_datetime(self.dates.astype("datetime64[s]"))}
        data |= {self.column(n).heading(system): self.column(n).kind.shown(values, system) for n, values in self.si.items()}
        return pd.DataFrame({**data, "note": self.notes, "row": self.rows})

    @property
    def frame(self):
        """`table` in metric units."""
        return self.table()

    def __len__(self) -> int:
        return len(self.dates)

    def __str__(self) -> str:
        out = sum(not p.kept for p in self.problems)
        first, last = (np.datetime_as_string(d, unit="D") for d in (self.dates[0], self.dates[-1]))
        days = (
            f"{len(self)} day{'s' * (len(self) != 1)} of readings"
            if len(set(self.dates.astype("datetime64[D]"))) == len(self)
            else f"{len(self)} readings"
        )
        lines = [f"{self.name}: {days}, {first if first == last else f'{first} to {last}'}; {out or 'nothing'} kept out."]
        return "\n".join([*lines, *(f"  {p}" for p in self.problems)])

    __repr__ = __str__

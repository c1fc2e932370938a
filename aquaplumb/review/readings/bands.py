"""What good water is for a build's fish, where a log left it, and which way it is going."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace

import numpy as np

from aquaplumb import tables
from aquaplumb.build import Build
from aquaplumb.fish import waste_limits
from aquaplumb.given import takes_things
from aquaplumb.review.readings.cells import COLUMNS, DERIVED
from aquaplumb.review.readings.log import Log
from aquaplumb.units import Bare, Kind

FEWEST = 4  # readings that a trend needs
# The most that fish bear well in a day (bare SI). pH: FAO Technical Paper 589 ch. 7, changes of 0.3 in 12 to 24 h can be
# problematic or even lethal. Temperature: fish are brought over in steps of 5 °F when they are moved (LSU AgCenter, stocking
# procedures); 3 °C (5 °F) in a day is common practice, no source.
A_DAY = {"temperature": 3.0, "pH": 0.3}
_WAIT = 3  # days' worth of change between two readings, however far apart, that may have come in an hour: ours
_MANY = 500  # readings looked at; more are thinned
_APART = 10  # days between readings after which nobody can say how it went
_AGREE = 0.75  # of the pairs of readings go the trend's way, else it is called steady: ours, no source


@dataclass(frozen=True)
class Band:
    """Where a reading should lie, and past which it is dangerous: bare SI numbers, infinite where there is no end.

    `low` and `high` bound what is good, `danger_low` and `danger_high` what fish survive; `source` says who says so.
    """

    name: str
    low: float
    high: float
    danger_low: float
    danger_high: float
    source: str
    whose: str = ""  # the species whose ends these are, of several the one that bears the least
    low_whose: str = ""  # … at the low end

    @property
    def kind(self) -> Kind:
        """The kind of its numbers."""
        return {**COLUMNS, **DERIVED}[self.name].kind

    def outside(self, values) -> np.ndarray:
        """−1 where a value lies below the good band, 1 above, 0 inside or unknown."""
        values = np.asarray(values, float)
        return np.where(values > self.high, 1, 0) - np.where(values < self.low, 1, 0)

    def dangerous(self, values) -> np.ndarray:
        """Whether each value is past the danger marks."""
        values = np.asarray(values, float)
        return (values > self.danger_high) | (values < self.danger_low)


@takes_things
def bands(build: Build) -> dict[str, Band]:
    """The bands of a build's species, with the general ones for pH, alkalinity and carbon dioxide.

    returns: By the reading's name; a blank in the species table leaves that end open.

    The temperature is good from where the species feeds to the top of its best range. Ammonia, nitrite and nitrate
    are as N, by species and age (`fish.waste_limits`). They are edges, not targets.

    Source: ``data/species.csv`` and `fish.waste_limits`; pH 6 to 8.5 FAO Technical Paper 589 table 3.1; nitrite 5 mg/L
    SRAC 282 (tilapia begin to die); carbon dioxide 15 to 20 mg/L and alkalinity from 60 mg/L common practice; pH 5.5 and 9,
    alkalinity 20 and carbon dioxide 40 mg/L as danger common practice, no source.

    >>> from aquaplumb.build import load
    >>> oxygen = bands(load("courtyard"))["oxygen"]
    >>> oxygen.kind.text(oxygen.low), oxygen.kind.text(oxygen.danger_low)
    ('4 mg/L', '3 mg/L')
    """
    each = [_bands(stock.si) for stock in build.stocks.values()]
    return {name: functools.reduce(_both, (bands[name] for bands in each)) for name in each[0]}


def _both(a: Band, b: Band) -> Band:
    """The band in which both do well."""
    low, high = max(a, b, key=lambda band: band.low), min(a, b, key=lambda band: band.high)
    return Band(
        a.name, low.low, high.high, max(a.danger_low, b.danger_low), min(a.danger_high, b.danger_high),
        a.source if a.source == b.source else f"{a.source}; {b.source}", high.whose, low.low_whose,
    )  # fmt: skip


def _bands(stock: Bare) -> dict[str, Band]:
    """The bands of one stock."""
    s = tables.row("species", stock.species).si
    table = f"data/species.csv, {s.name}"
    no, inf = -math.inf, math.inf

    def low(value):
        return no if value is None else value

    def high(value):
        return inf if value is None else value

    limits = waste_limits.si(s.name, body_mass=stock.body_mass).si
    gills = limits.unionised
    rows = (
        Band("temperature", low(s.feeding_stops), high(s.best_high), low(s.survive_low), high(s.survive_high), table),
        Band("pH", 6.0, 8.5, 5.5, 9.0, "FAO Technical Paper 589 table 3.1; danger: common practice"),
        Band("ammonia", no, high(limits.tan), no, high(limits.tan_danger), f"{table}; danger at three times that: common practice"),
        Band("un-ionised ammonia", no, gills, no, 10 * gills, f"{table}, fry half; danger at ten times that: common practice"),
        Band("nitrite", no, high(limits.nitrite), no, limits.nitrite_danger, f"{table}; danger: SRAC 282"),
        Band("nitrate", no, high(limits.nitrate), no, inf, table),
        Band("oxygen", low(s.oxygen_minimum), inf, low(s.oxygen_critical), inf, table),
        Band("alkalinity", 60e-3, inf, 20e-3, inf, "common practice, no source"),
        Band("carbon dioxide", no, 20e-3, no, 40e-3, "common practice, no source"),
    )
    return {band.name: replace(band, whose=s.name, low_whose=s.name) for band in rows}


@dataclass(frozen=True)
class Spell:
    """A time out of the good band: from its first to its last reading, and the worst of them (bare SI)."""

    name: str
    side: int
    start: np.datetime64
    end: np.datetime64
    count: int
    worst: float
    limit: float
    dangerous: bool

    def text(self, system: str = "metric") -> str:
        """It, in words."""
        kind = {**COLUMNS, **DERIVED}[self.name].kind
        first, last = (np.datetime_as_string(d, unit="D") for d in (self.start, self.end))
        when = first if first == last else f"{first} to {last}"
        word = "above" if self.side > 0 else "below"
        return f"{when}: {self.name} {word} {kind.text(self.limit, system)}, at worst {kind.text(self.worst, system)}" + (
            ", dangerous" if self.dangerous else ""
        )

    __str__ = text


@takes_things
def spells(log: Log, build: Build) -> list[Spell]:
    """Each time that a reading left its good band, by date.

    Source: `bands`.

    >>> from aquaplumb.build import load
    >>> from aquaplumb.review.readings import read
    >>> [s.name for s in spells(read("courtyard-spring"), load("courtyard"))]
    ['nitrite', 'oxygen', 'temperature', 'alkalinity']
    """
    found = []
    for name, band in bands(build).items():
        if name not in log.si:
            continue
        at = np.flatnonzero(np.isfinite(log.si[name]))
        side = band.outside(log.si[name][at])
        cuts = np.flatnonzero(np.diff(side)) + 1
        for run in np.split(np.arange(len(at)), cuts):
            if len(run) and side[run[0]]:
                values, way = log.si[name][at[run]], int(side[run[0]])
                worst = float(values.max() if way > 0 else values.min())
                found.append(Spell(name, way, log.dates[at[run[0]]], log.dates[at[run[-1]]], len(run), worst,
                                   band.high if way > 0 else band.low, bool(band.dangerous(worst))))  # fmt: skip
    return sorted(found, key=lambda s: (s.start, s.name))


@dataclass(frozen=True)
class Leap:
    """Two readings of one name that follow each other and lie too far apart for fish (bare SI); `times` is the change over what a day may bring."""

    name: str
    start: np.datetime64
    end: np.datetime64
    before: float
    after: float
    times: float

    def text(self, system: str = "metric") -> str:
        """It, in words."""
        kind = COLUMNS[self.name].kind
        first, last = (np.datetime_as_string(d, unit="D") for d in (self.start, self.end))
        when = f"on {last}" if first == last else f"{first} to {last}"
        before, after = (f"{v:.1f}" if self.name == "pH" else kind.text(v, system) for v in (self.before, self.after))
        return f"from {before} to {after} ({when})"

    __str__ = text


@takes_things
def leaps(log: Log, *, days: float = 10.0) -> list[Leap]:
    """The leaps of temperature and pH in a log's last days that are more than fish bear well, by date.

    days: How far back from the log's last date to look.

    Of readings of one day, or that follow each other: more than a day's limit within a day, as much more as days lie between them, but no
    more than three days' worth: nobody knows whether that came in an hour. Readings more than ten days apart say nothing.

    Source: FAO Technical Paper 589 (pH 0.3 in 12 to 24 h); 3 °C in a day common practice, no source.

    >>> from aquaplumb.review.readings import read
    >>> leaps(read("courtyard-spring"))
    []
    """
    found = []
    for name, limit in A_DAY.items():
        at = np.flatnonzero(np.isfinite(log.si.get(name, np.nan)) & (log.days >= log.days[-1] - days - _APART))
        at = at[:: -(-len(at) // _MANY) or 1]
        when, values = log.days[at], log.si.get(name, np.empty(0))[at]
        i, j = np.triu_indices(len(at), 1)
        apart, change = when[j] - when[i], np.abs(values[j] - values[i])
        times = change / (limit * np.clip(apart, 1.0, _WAIT))
        too_far = (times > 1 + 1e-6) & ((apart <= 1) | ((j == i + 1) & (apart <= _APART))) & (when[j] >= log.days[-1] - days)
        taken: list[Leap] = []
        for k in np.flatnonzero(too_far)[np.argsort(-times[too_far], kind="stable")]:
            start, end = log.dates[at[i[k]]], log.dates[at[j[k]]]
            if all(end <= other.start or other.end <= start for other in taken):
                taken.append(Leap(name, start, end, float(values[i[k]]), float(values[j[k]]), float(times[k])))
        found += taken
    return sorted(found, key=lambda s: (s.end, s.name))


@dataclass(frozen=True)
class Trend:
    """Which way a reading goes: its `slope` [SI unit/s], the `value` on its line at the last date, and of what.

    `clear` says whether three in four pairs of readings go its way; where they do not, call it steady.
    """

    name: str
    slope: float
    value: float
    count: int
    days: float
    clear: bool

    @property
    def a_day(self) -> float:
        """The change in a day, bare SI (kelvin for temperatures)."""
        return self.slope * 86400

    def days_to(self, limit: float) -> float:
        """Days until the line reaches a value; inf where it moves away from it (or is past it), or is not clear."""
        gap = limit - self.value
        if not self.clear or self.slope == 0:
            return math.inf
        return gap / self.a_day if gap * self.slope >= 0 else math.inf


@takes_things
def trend(log: Log, name: str, *, last: int = 7) -> Trend | None:
    """The trend of a reading over its last few values, by a method that one slip does not turn.

    last: How many of its last readings.
    returns: None where fewer than four readings are there, or all on one day.

    The slope is the median of the slopes of all pairs of readings (Theil–Sen); the value at the end is the median of
    the readings, each carried to the last date along it. Of seven readings two may be nonsense and the slope still stands.

    Source: Theil (1950); Sen (1968), J. Am. Stat. Assoc. 63, 1379-1389. Three in four pairs for "clear": ours.

    >>> from aquaplumb.review.readings import read
    >>> fall = trend(read("courtyard-spring"), "alkalinity")
    >>> fall.clear, fall.slope < 0
    (True, True)
    """
    log.column(name)
    at = np.flatnonzero(np.isfinite(log.si[name]))[-max(last, FEWEST) :]
    return line_through(name, log.days[at] * 86400, log.si[name][at])


def line_through(name: str, seconds: np.ndarray, values: np.ndarray) -> Trend | None:
    """The `trend` of values at times [s]; of more than 500, evenly thinned."""
    thin = -(-len(values) // 500) or 1
    seconds, values = seconds[::-1][::thin][::-1], values[::-1][::thin][::-1]
    i, j = np.triu_indices(len(values), 1)
    apart = seconds[j] - seconds[i]
    rises = (values[j] - values[i])[apart > 0]
    if len(values) < FEWEST or not len(rises):
        return None
    slopes = rises / apart[apart > 0]
    slope = float(np.median(slopes))
    end = float(np.median(values + slope * (seconds[-1] - seconds)))
    agree = float(np.mean(np.sign(slopes) == np.sign(slope))) if slope else 0.0
    return Trend(name, slope, end, len(values), float(seconds[-1] - seconds[0]) / 86400, agree >= _AGREE)

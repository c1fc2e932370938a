"""What nobody knows exactly about a build: each unknown by its plain name, with a low, a typical and a high value.

    ranges = default_ranges(load("courtyard"))
    ranges["water temperature"]
    ranges["lift of riser"] = "-2 cm", "0 cm", "6 cm"        # you know better
    del ranges["pump head of riser"]                         # and this one you have measured

Part of `aquaplumb.review.sweep`, which draws a value for each of them and solves the build so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from aquaplumb import fish, tables
from aquaplumb.build import Build
from aquaplumb.fish import beds
from aquaplumb.given import takes_things
from aquaplumb.plumbing import fittings, full_pipe, pipes
from aquaplumb.plumbing.siphon_rows import start_numbers
from aquaplumb.sentences import pipe_in_words
from aquaplumb.system.each_line import MEASURED_LOSS, MEASURED_PUMP
from aquaplumb.system.season import in_worst_month
from aquaplumb.tables import unknown
from aquaplumb.units import (
    AREA_RATE,
    BORE,
    DEPTH,
    NUMBER,
    RATE,
    SHARE,
    TEMPERATURE,
    DesignError,
    Kind,
    Quantity,
    quantity,
    rounded,
    si_value,
)

# The fittings of one kind come from one shop and one maker, so they are off together.
KINDS_OF_FITTING = {
    "bend": "K of bends", "tee": "K of tees", "joint": "K of joints", "valve": "K of valves", "check valve": "K of check valves",
    "end": "K of pipe ends", "screen": "K of strainers",
}  # fmt: skip
ROUGHNESS, WARMTH, NITRIFICATION, FEEDING = "pipe roughness", "water temperature", "nitrification rate", "feeding rate"
MEDIA, VOIDS = "media surface", "media voids"
OVERFLOWS, SIPHONS, SIPHON_START = "overflow capacity", "siphon flow", "flow that starts a siphon"
PRACTICE = "common practice, no source"

_SLIMED = 60e-6  # m: pipe with a film of slime; common practice, no source
_PUMP = 0.10  # ISO 9906 grade 3B lets a sold pump be 9 % off in flow and 7 % in head, from memory; worn or dirty a little more
_MEASURED_LIFT = 0.01  # m: what is left of it in a line whose flow was measured (common practice, no source)
_LIFT, _LEVEL, _OUTLET, _TURN = 0.05, 0.02, 0.005, 0.03  # m, m, m, part of a valve's turn: common practice, no source
_OVERFLOW, _SIPHON = 0.20, 0.15  # see `drains.standpipe_flow`; USBR Water Measurement Manual ch. 14
_OWN_RATE, _OWN_FEED = 0.25, 0.20  # of a value that the build file gives itself: common practice, no source


class Range(NamedTuple):
    """The low, typical and high value of one unknown, and where they are from."""

    low: object
    typical: object
    high: object
    source: str = ""


@dataclass(frozen=True)
class Unknown:
    """One unknown: its name, its kind, the value that the steady system takes for it, its usual range and its bounds; bare SI.

    `nominal` is None where the steady system has no one value for it: the water's temperature (the coldest for the
    pipes and bacteria, the warmest for the oxygen).
    """

    name: str
    kind: Kind
    nominal: float | None
    low: float
    typical: float
    high: float
    source: str
    least: float = -np.inf
    most: float = np.inf

    def text(self, si: float, system: str = "metric") -> str:
        """A value of it as a person reads it."""
        if (self.least, self.most) == (-1.0, 1.0):
            return {-1.0: "lowest", 0.0: "typical", 1.0: "highest"}.get(si, f"{si:+.2g}".replace("-", "−"))
        text = self.kind.text(si, system)
        return f"+{text}" if self.nominal == 0 and si > 0 else text.replace("-", "−")


class Ranges(dict):
    """Ranges by the name of the unknown. It prints as a table."""

    def __init__(self, given, units: str = "metric"):
        super().__init__(given)
        self.units = units

    def __str__(self) -> str:
        def text(value) -> str:
            if isinstance(value, Quantity):
                return f"{rounded(value.magnitude)} {value.units:~P}"
            return rounded(value) if isinstance(value, (int, float)) else str(value)

        wide = max(map(len, self), default=0)
        rows = [(name, *map(text, band[:3]), band[3] if len(band) > 3 else "yours") for name, band in self.items()]
        broad = max((len(cell) for _, *cells, _ in rows for cell in cells), default=0)
        return "\n".join(
            f"  {name:<{wide}}  {low:>{broad}}  {typical:>{broad}}  {high:>{broad}}  {source}" for name, low, typical, high, source in rows
        )

    __repr__ = __str__


def stretch_labels(build: Build) -> dict[tuple[str, str], str]:
    """The name of each stretch of each pumped line, with its line where another line has one of the same name."""
    every = [(line.si.name, p.si.name) for line in build.pumped.values() for p in (*line.si.suction, *line.si.pipe)]
    names = [name for _, name in every]
    return {(line, name): name if names.count(name) == 1 else f"{line} › {name}" for line, name in every}


def feeding_of(build: Build, stock: str) -> str:
    """The unknown of how much a stock eats: its own where there are several, since each eats by its own appetite."""
    return FEEDING if len(build.stocks) == 1 else f"{FEEDING} of {stock}"


def unknowns(build: Build) -> dict[str, Unknown]:
    """Every unknown of a build, by its name, in the order in which water meets them."""
    build = in_worst_month(build)[0]
    return {one.name: one for one in (*_pipework(build), *_falling(build), *_water_and_life(build))}


@takes_things
def default_ranges(build: Build) -> Ranges:
    """The usual range of everything uncertain in a build, each with its source.

    returns: By name, (low, typical, high, source). The K of a kind of fitting is its place in the table's band: −1 the
        lowest, 0 the typical, 1 the highest. "lift of …", "outlet of …" and "water level in …" say how much higher than
        in the build file; "pump …", "siphon flow", "overflow capacity" and "media voids" are factors.

    Source: each range names its own.

    >>> from aquaplumb.build import load
    >>> print(default_ranges(load("courtyard"))["water temperature"].high)
    28 °C
    """
    return Ranges({one.name: Range._make([*(_shown(one.kind, v, build.units) for v in (one.low, one.typical, one.high)), one.source]) for one in unknowns(build).values()}, build.units)  # fmt: skip


def _shown(kind: Kind, si: float, units: str):
    """A bare SI value as a quantity in the builder's unit, or as the plain number that it is."""
    unit = kind.unit(units)
    return kind.quantity(si).to(quantity(f"1 {unit}").units) if kind.si else si


# --- what is unknown -------------------------------------------------------------------------------


def _pipework(build: Build):
    labels = {key: pipe_in_words(label) for key, label in stretch_labels(build).items()}
    found = {fittings.fitting(name).si.group for counts in _all_fittings(build) for name, count in counts.items() if count}
    for group, name in KINDS_OF_FITTING.items():
        if group in found:
            yield Unknown(name, NUMBER, 0.0, -1.0, 0.0, 1.0, "data/fittings.csv: −1 lowest, 0 typical, 1 highest", -1.0, 1.0)
    yield Unknown(
        ROUGHNESS, BORE, pipes.ROUGHNESS, pipes.ROUGHNESS, pipes.ROUGHNESS, _SLIMED, f"new PVC, to a film of slime ({PRACTICE})", 0.0, 5e-3
    )
    for line in build.pumped.values():
        n, pump, lift = line.si.name, _PUMP, _LIFT
        pump_source, lift_source = f"{PRACTICE}; ISO 9906 grade 3B allows 9 % and 7 %, from memory", f"tape and spirit level ({PRACTICE})"
        if line.si.measured_on:
            pump, lift = MEASURED_PUMP, _MEASURED_LIFT
            pump_source = lift_source = bucket = f"measured on {line.si.measured_on}, by bucket ({PRACTICE})"
            yield Unknown(f"losses of {n}", SHARE, 1.0, 1 - MEASURED_LOSS, 1.0, 1 + MEASURED_LOSS, bucket, 0.05, 20.0)
        for what in ("flow", "head"):
            yield Unknown(f"pump {what} of {n}", SHARE, 1.0, 1 - pump, 1.0, 1 + pump, pump_source, 0.2, 5.0)
        yield Unknown(f"lift of {n}", DEPTH, 0.0, -lift, 0.0, lift, lift_source, -10.0, 10.0)
        for p in (*line.si.suction, *line.si.pipe):
            s = p.si
            if s.valve and 0 < s.opening < 1:
                low, high = max(0.02, s.opening - _TURN), min(1.0, s.opening + _TURN)
                yield Unknown(
                    f"valve of {labels[n, s.name]}", NUMBER, s.opening, low, s.opening, high, f"a handle set by eye ({PRACTICE})", 0.0, 1.0
                )
            if s.to:
                yield Unknown(
                    f"outlet of {labels[n, s.name]}", DEPTH, 0.0, -_OUTLET, 0.0, _OUTLET, f"tape and spirit level ({PRACTICE})", -10.0, 10.0
                )


def _all_fittings(build: Build):
    for line in build.pumped.values():
        yield from (p.si.fittings for p in (*line.si.suction, *line.si.pipe))
    yield from (fall.si.fittings for fall in build.falling.values())


def topped_up(build: Build) -> list[str]:
    """The vessels whose level is what the owner pours in: a pump draws from them, and no lip or float sets the level."""
    found = []
    for name, vessel in build.vessels.items():
        drawn = [line.si.control.si.kind for line in build.pumped.values() if line.si.source == name]
        lip = any(f.si.source == name and not f.si.emergency for f in build.falling.values())
        if drawn and "float" not in drawn and not lip and vessel.si.kind != "fish tank":
            found.append(name)
    return found


def _falling(build: Build):
    for name in topped_up(build):
        v = build.vessels[name].si
        low, high = max(-_LEVEL, -v.working_depth), min(_LEVEL, v.height - v.working_depth)
        yield Unknown(
            f"water level in {name}",
            DEPTH,
            0.0,
            low,
            0.0,
            high,
            f"topped up by eye ({PRACTICE})",
            -v.working_depth,
            v.height - v.working_depth,
        )
    if build.falling:
        yield Unknown(
            OVERFLOWS, SHARE, 1.0, 1 - _OVERFLOW, 1.0, 1 + _OVERFLOW, "± 20 %, between the weir and orifice numbers in print", 0.05, 20.0
        )
    if any(f.si.siphon for f in build.falling.values()):
        yield Unknown(SIPHONS, SHARE, 1.0, 1 - _SIPHON, 1.0, 1 + _SIPHON, "± 15 %, USBR Water Measurement Manual ch. 14", 0.05, 20.0)
        may, sure = start_numbers()
        said = "print says either; none measured" if (may, sure) == (full_pipe.MAY_FILL, full_pipe.FULL) else "data/measured/siphons.csv"
        source = f"Froude number {rounded(may)} to {rounded(sure)}: {said}"
        yield Unknown(SIPHON_START, NUMBER, (may + sure) / 2, may, (may + sure) / 2, sure, source, 0.01, 20.0)


def _water_and_life(build: Build):
    site = build.site.si
    cold, warm = site.coldest_water, site.warmest_water
    yield Unknown(
        WARMTH, TEMPERATURE, None, cold, (cold + warm) / 2, warm, "the build file: coldest to warmest, most often between", 273.15, 313.15
    )
    own = build.water.si.nitrification_rate
    if own is not None:
        band, source = ((1 - _OWN_RATE) * own, own, (1 + _OWN_RATE) * own), f"the build file ± 25 % ({PRACTICE})"
    else:
        usual = beds.nitrification_rate.si(293.15).si
        band, source = (usual.low, usual.typical, usual.high), "at 20 °C: SRAC 282, FAO 589; see `beds.nitrification_rate`"
    yield Unknown(NITRIFICATION, AREA_RATE, band[1], *band, source, 1e-12)
    for name, stock in build.stocks.items():
        rate = stock.si.feeding_rate
        try:
            usual = fish.feeding_rate.si(stock.si.body_mass, species=stock.si.species, temperature=warm).si
            band, source = (min(usual.low, rate), rate, max(usual.high, rate)), "data/feeding.csv, round your own"
        except DesignError:  # a fish that the table does not know
            band, source = ((1 - _OWN_FEED) * rate, rate, (1 + _OWN_FEED) * rate), f"the build file ± 20 % ({PRACTICE})"
        yield Unknown(feeding_of(build, name), RATE, rate, *band, source, 0.0)
    media = [tables.row("media", v.si.medium).si for v in build.vessels.values() if v.si.medium]
    if media or any(v.si.kind != "bed" for v in build.growing):
        yield Unknown(MEDIA, NUMBER, 0.0, -1.0, 0.0, 1.0, "data/media.csv: −1 lowest, 0 typical, 1 highest", -1.0, 1.0)
    if media:
        low = min((m.void_low or m.void_typical) / m.void_typical for m in media)
        high = max((m.void_high or m.void_typical) / m.void_typical for m in media)
        yield Unknown(VOIDS, SHARE, 1.0, low, 1.0, high, "data/media.csv", 0.05, 20.0)


# --- what a person gives, and what is drawn -------------------------------------------------------


def checked(build: Build, ranges) -> dict[str, tuple[float, float, float]]:
    """The ranges that a person gave as bare SI numbers, refused in plain words where they cannot be."""
    known = unknowns(build)
    if not hasattr(ranges, "items"):
        raise DesignError(
            'ranges are given by name, such as {"lift of riser": ("-5 cm", "0 cm", "5 cm")}; default_ranges(build) has the usual ones.'
        )
    found = {}
    for name, band in ranges.items():
        if name not in known:
            raise DesignError(unknown("list of what is uncertain in this build", str(name), known))
        one = known[name]
        if isinstance(band, (str, bytes, Quantity)) or not hasattr(band, "__len__") or len(band) not in (3, 4):
            raise DesignError(f"{name}: give three values, low, typical and high, such as {_example(one)}.")
        low, typical, high = (_value(one, value) for value in tuple(band)[:3])
        if not low <= typical <= high:
            raise DesignError(
                f"{name}: low is {one.kind.text(low)}, typical {one.kind.text(typical)}, high {one.kind.text(high)}; give them in rising order."
            )
        slack = 1e-9 * max(abs(low), abs(high))
        for value in (low, high):
            if not one.least - slack <= value <= one.most + slack:
                span = " to ".join(one.kind.text(v) for v in (one.least, one.most) if np.isfinite(v))
                raise DesignError(f"{name} is {one.kind.text(value)}; it can be {span if np.isfinite(one.most) else 'more than 0'}.")
        found[name] = low, typical, high
    return {name: found[name] for name in known if name in found}  # one order, so that one seed gives one answer


def _value(one: Unknown, value) -> float:
    number = si_value(value, one.kind, one.name)
    if number is None or np.ndim(number) or isinstance(value, bool):
        raise DesignError(f"{one.name}: {value!r} is not one value; give low, typical and high, such as {_example(one)}.")
    return float(number)


def _example(one: Unknown) -> str:
    return "(" + ", ".join(f'"{one.kind.text(v)}"' if one.kind.si else f"{v:g}" for v in (one.low, one.typical, one.high)) + ")"


def triangular(chance, low: float, typical: float, high: float):
    """The value under which a triangular distribution has this chance: its inverse; `chance` is a scalar or an array.

    Source: closed form, any text on probability.
    """
    span = high - low
    if span <= 0:
        return np.full(np.shape(chance), float(typical))
    rising = typical - low
    with np.errstate(invalid="ignore"):
        left = low + np.sqrt(chance * span * rising)
        right = high - np.sqrt((1.0 - chance) * span * (high - typical))
    return np.clip(np.where(chance * span < rising, left, right), low, high)


def latin_hypercube(ranges: dict[str, tuple[float, float, float]], size: int, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Values for `size` designs, a Latin hypercube: each unknown's values spread evenly over its chances, in random order.

    Source: McKay, Beckman and Conover, Technometrics 21 (1979) 239, from memory.
    """
    return {name: triangular((rng.permutation(size) + rng.random(size)) / size, *band) for name, band in ranges.items()}

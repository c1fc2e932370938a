"""What a builder measured once the water ran, as records: by bucket and watch, tape, plug meter and voltmeter.

[measured."2026-05-03"]
flow = { "to bed 1" = { volume = "10 L", time = "31 s" }, "to the tank" = "1650 L/h" }
running = { sump = "41 cm" }            # depth of its water, while all runs
rest = { sump = "55 cm" }               # … an hour after the pumps stopped
power = { riser = "104 W" }             # at the plug
starts = { "bed 1 siphon" = "310 L/h" } # the flow at which it first started; `stops` likewise
empties = { "bed 1" = "150 s" }         # from full down to where it stops
voltage = { riser = "11.4 V" }          # at the pump, while it runs

[measured."2026-05-03, bed 1 shut"]     # the same day again, with a valve shut
shut = ["to bed 1"]
flow = { "to bed 2" = { volume = "10 L", time = "26 s" } }
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable
from typing import Any, ClassVar

from aquaplumb import plausible, tables
from aquaplumb.build.falling_records import FallingLine
from aquaplumb.build.records import PumpedLine
from aquaplumb.kinds import FLOW, LENGTH, POWER, TIME, VOLTAGE, VOLUME
from aquaplumb.plumbing.siphon_rows import BY_TRIAL
from aquaplumb.sentences import as_given
from aquaplumb.units import DesignError, Flow, Kind, Length, Power, Quantity, Record, Time, Voltage, Volume, quantity, si_value

WHAT: dict[str, Kind] = {  # what can be measured, and its kind of quantity
    "flow": FLOW, "running": LENGTH, "rest": LENGTH, "power": POWER, "starts": FLOW, "stops": FLOW, "empties": TIME, "voltage": VOLTAGE,
}  # fmt: skip
_FIELD = {FLOW: "flow", LENGTH: "depth", POWER: "power", TIME: "time", VOLTAGE: "voltage"}

# How well a hand measures, as one standard deviation; all common practice, no source.
_MARK, _THUMB = 0.02, 0.7  # part of the bucket by which its mark is off; s by which the thumb on the watch is
_SURE = {FLOW: 0.04, POWER: 0.03, TIME: 0.03, VOLTAGE: 0.01}  # part of the value, where nothing more is said of it
_TAPE = 0.005  # m: a tape in moving water
BUCKETS = {"metric": "10 L", "US": "2 gal"}  # what a flow is timed with


class Measured(Record):
    """One measured value: `what` of `WHAT`, and what it is `of`: a stretch, a line or a vessel.

    `flow`, `depth`, `power`, `time` or `voltage` has it; of a flow by bucket and watch `volume` and `seconds` as well.
    """

    what: str
    of: str
    flow: Flow | None = None
    depth: Length | None = None
    power: Power | None = None
    time: Time | None = None
    voltage: Voltage | None = None
    volume: Volume | None = None
    seconds: Time | None = None

    choices: ClassVar[dict] = {"what": tuple(WHAT)}

    @property
    def kind(self) -> Kind:
        """What sort of quantity it is."""
        return WHAT[self.si.what]

    @property
    def value(self) -> float:
        """It, bare SI."""
        return getattr(self.si, _FIELD[self.kind])

    @property
    def sure(self) -> float:
        """By how much it may be off, as one standard deviation, bare SI: of a bucket its mark and the thumb on the watch."""
        if self.si.seconds is not None:
            return self.value * math.hypot(_MARK, _THUMB / self.si.seconds)
        if self.kind is LENGTH:
            return _TAPE
        return self.value * (BY_TRIAL if self.si.what in ("starts", "stops") else _SURE[self.kind])

    def text(self, system: str = "metric") -> str:
        """It as a person reads it."""
        return self.kind.text(self.value, system)


class MeasuredDay(Record):
    """What was measured at one go: the `date`, its `label` in the file, the stretches whose valves were `shut` meanwhile, the values."""

    date: str
    label: str
    shut: tuple = ()
    values: tuple = ()

    def of(self, *what: str) -> list[Measured]:
        """The values of some sorts, such as "flow"."""
        return [one for one in self.si.values if one.si.what in what]


class MeasuredReader:
    """The part of `aquaplumb.build.reader.Reader` that reads what was measured."""

    doc: dict
    unusual: dict
    refuse: Callable[..., Any]
    values: Callable[..., dict]

    def measured(self, vessels: dict, lines: dict) -> tuple[MeasuredDay, ...]:
        """What was measured, day by day, the oldest first; a file may have none."""
        found, given = [], self.doc.get("measured", {})
        if not isinstance(given, dict):
            self.refuse(("measured",), 'write a section for each day, such as [measured."2026-05-03"].')
        known = _names(vessels, lines)
        for label, day in given.items():
            keys = ("measured", label)
            try:
                date = datetime.date.fromisoformat(label[:10])
            except ValueError:
                self.refuse(keys, f'{label[:40]!r} does not begin with a day; write year, month and day, such as [measured."2026-05-03"].')
            self.values(keys, day, ("shut", *WHAT))
            values = [
                self.one_measured((*keys, what, of), what, of, value, known)
                for what in WHAT
                for of, value in self.several(keys, what, day).items()
            ]
            shut = self.shut((*keys, "shut"), day.get("shut", []), known)
            found.append(MeasuredDay.from_si(date=f"{date}", label=label, shut=shut, values=tuple(values)))
        return tuple(sorted(found, key=lambda one: (one.si.date, one.si.label)))

    def several(self, keys: tuple, what: str, day: dict) -> dict:
        """The values of one sort, by what they are of."""
        found = day.get(what, {})
        if not isinstance(found, dict):
            example = 'flow = { "to bed 1" = "300 L/h" }' if WHAT[what] is FLOW else f'{what} = {{ sump = "{WHAT[what].example}" }}'
            self.refuse((*keys, what), f"is {as_given(found)}; say of what, such as {example}.")
        return found

    def shut(self, keys: tuple, names, known: dict) -> tuple[str, ...]:
        """The stretches whose valves were shut."""
        if not isinstance(names, list):
            self.refuse(keys, f'is {as_given(names)}; it is a list of stretches, such as shut = ["to bed 1"].')
        for name in names:
            if name not in known["valve"]:
                self.refuse(
                    keys, tables.unknown("list of stretches with a valve", str(name), known["valve"]) if known["valve"]
                    else "no stretch of this build has a valve: say valve = \"ball valve\" of it first.",
                )  # fmt: skip
        return tuple(names)

    def one_measured(self, keys: tuple, what: str, of: str, value, known: dict) -> Measured:
        """One measured value, refused in a sentence where it cannot be."""
        if of not in known[what]:
            self.refuse(keys, tables.unknown(_WHERE[what], of, known[what]) if known[what] else f"this build has no {_NONE[what]}.")
        try:
            found = measured(what, of, value)
        except DesignError as wrong:
            self.refuse(keys, str(wrong))
            raise
        if odd := plausible.row(f"measured.{what}").unusual(found.value, found.kind, found.text() if isinstance(value, dict) else value):
            self.unusual[keys] = odd
        return found


_WHERE = {
    "flow": "list of outlets of pumped lines", "running": "list of vessels", "rest": "list of vessels", "power": "list of pumped lines",
    "starts": "list of siphons", "stops": "list of siphons", "empties": "list of vessels", "voltage": "list of pumped lines",
}  # fmt: skip
_NONE = {**_WHERE, "flow": "pumped line", "power": "pumped line", "voltage": "pumped line", "starts": "siphon", "stops": "siphon"}


def measured(what: str, of: str, value) -> Measured:
    """One value from what a person wrote: an amount, or `volume` and `time` of a bucket; refused in a sentence."""
    kind, more = WHAT[what], {}
    if isinstance(value, dict):
        if what not in ("flow", "starts", "stops") or set(value) != {"volume", "time"}:
            bucket = '{ volume = "10 L", time = "31 s" }'
            raise DesignError(f'is {_bits(value)}; a flow is {bucket}, or one amount such as "{FLOW.example}".' if kind is FLOW
                              else f'is {_bits(value)}; it is one amount, {kind.noun} such as "{kind.example}".')  # fmt: skip
        more = {"volume": _ranged("volume", value["volume"], VOLUME), "seconds": _ranged("time", value["time"], TIME)}
        number = more["volume"] / more["seconds"]
        if wrong := plausible.row(f"measured.{what}").refused(number, kind, kind.text(number)):
            raise DesignError(wrong)
    else:
        number = _ranged(what, value, kind)
    return Measured.from_si(what=what, of=of, **{_FIELD[kind]: number}, **more)


def _ranged(name: str, value, kind: Kind) -> float:
    """An amount that lies in its range of `data/plausible.csv`."""
    number = _amount(value, kind)
    if wrong := plausible.row(f"measured.{name}").refused(number, kind, value):
        raise DesignError(plausible.about(f"the bucket's {name}", wrong) if name in ("volume", "time") else wrong)
    return number


def _bits(value: dict) -> str:
    return f"{{ {', '.join(f'{key} = {one!r:.30}' for key, one in value.items())} }}"


def _amount(value, kind: Kind) -> float:
    if isinstance(value, bool) or not isinstance(value, (str, int, float, Quantity)):
        raise DesignError(f'is {as_given(value)}; it needs {kind.noun} such as "{kind.example}".')
    number = float(si_value(quantity(value, kind) if isinstance(value, str) else value, kind, "it"))
    if not math.isfinite(number):
        raise DesignError(f'is {as_given(value)}; it needs {kind.noun} such as "{kind.example}".')
    return number


def _names(vessels: dict, lines: dict) -> dict[str, list[str]]:
    """What can be measured of what, by the names that a file gives."""
    pumped = {name: line for name, line in lines.items() if isinstance(line, PumpedLine)}
    every = [(name, p) for name, line in pumped.items() for p in (*line.si.suction, *line.si.pipe)]
    alike = [p.si.name for _, p in every]

    def said(line: str, p) -> str:
        return p.si.name if alike.count(p.si.name) == 1 else f"{line} › {p.si.name}"

    siphons = [name for name, line in lines.items() if not isinstance(line, PumpedLine) and line.si.siphon]
    with_valve = [said(line, p) for line, p in every if p.si.valve]
    by = {
        "flow": [said(line, p) for line, p in every if p.si.to], "power": list(pumped), "voltage": list(pumped), "valve": with_valve,
        "starts": siphons, "stops": siphons, "running": list(vessels), "rest": list(vessels),
    }  # fmt: skip
    drained = {line.si.source for line in lines.values() if isinstance(line, FallingLine) and line.si.siphon}
    return {**by, "empties": [name for name in vessels if name in drained]}

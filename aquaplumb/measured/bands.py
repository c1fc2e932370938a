"""The band in which each measured value was to be expected, by a sweep of the build or by what print leaves open. Bare SI.

Source: of flows, power and the water at rest a sweep (`aquaplumb.review.sweep`), nine designs of ten; of a siphon's start the
band of print, or what was measured of such siphons (`data/measured`); of the rest as said beside it.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from aquaplumb.build import Measured, MeasuredDay
from aquaplumb.build.vessels import water_volume
from aquaplumb.measured.model import LineModel
from aquaplumb.review.ranges import stretch_labels
from aquaplumb.review.sweep import sweep
from aquaplumb.system.each_line import siphon_start
from aquaplumb.system.steady import Steady
from aquaplumb.units import Bare, DesignError, Kind

DESIGNS, SEED = 400, 16  # of the sweep: its 5 and 95 % are then good to a few per cent of the band's width
_LEVEL = 0.02  # m: a level in use, by tape and float (common practice, no source)
_SIPHON = 0.15  # part: USBR Water Measurement Manual ch. 14
_VOLTS = 0.03  # part: of the voltage that arrives, by contacts and a battery's day (common practice, no source)
_MOTOR = 0.10  # part of its power by which a sold motor is off (common practice, no source)
_STEPS = 40  # of level, in which a vessel is emptied


@dataclass(frozen=True)
class BesideBand:
    """One measured value beside its band."""

    measured: Measured
    day: MeasuredDay
    line: str  #: the pumped line that it speaks of; "" where it speaks of a vessel or a siphon
    low: float
    middle: float
    high: float
    source: str

    @property
    def kind(self) -> Kind:
        """What sort of quantity it is."""
        return self.measured.kind

    @property
    def value(self) -> float:
        """What was measured."""
        return self.measured.value

    @property
    def outside(self) -> int:
        """−1 below its band, 1 above it, 0 inside: twice what the hand may be off counts as inside."""
        off = 2 * self.measured.sure
        return -1 if self.value + off < self.low else 1 if self.value - off > self.high else 0

    def text(self, system: str = "metric") -> str:
        """It in a line."""
        m, show = self.measured.si, functools.partial(self.kind.text, system=system)
        of = f"{m.what} of {m.of}"
        if m.what == "flow":
            of = f"flow of “{m.of}”"
        elif m.what in ("running", "rest"):
            of = f"depth of {m.of}, {'running' if m.what == 'running' else 'at rest'}"
        shut = f" (shut: {', '.join(self.day.si.shut)})" if self.day.si.shut else ""
        where = {-1: "BELOW its band", 0: "inside its band", 1: "ABOVE its band"}[self.outside]
        return f"{of}{shut}: {show(self.value)}, {where} of {show(self.low)} to {show(self.high)}"


class Bands:
    """The bands of a build's measured values."""

    def __init__(self, system: Steady):
        self.system, self.build = system, system.build
        self._outlet = {said: key for key, said in stretch_labels(self.build).items()}

    def said(self, name: str) -> tuple[str, str]:
        """The (line, stretch) that a file names so."""
        return self._outlet[name]

    @functools.cached_property
    def _sweep(self):
        return sweep(self.build, None, DESIGNS, seed=SEED)

    @functools.lru_cache(maxsize=64)  # noqa: B019  one set of bands lives as long as its build is looked at
    def model(self, line: str, depth: float | None = None) -> LineModel:
        """The model of a pumped line."""
        return LineModel(self.system, line, depth)

    def _swept(self, name: str) -> tuple[float, float, float]:
        low, middle, high = np.percentile(self._sweep.results[name], (5, 50, 95), method="inverted_cdf")
        return float(low), float(middle), float(high)

    def of_end(self, line: str, stretch: str) -> tuple[float, float, float]:
        """The band of the flow out of an end of a line: low, middle, high [m³/s]."""
        return self._swept(f"line {line} › {stretch}.flow")

    def of(self, day: MeasuredDay, one: Measured) -> BesideBand:
        """A measured value beside its band."""
        line, low, middle, high, source = getattr(self, f"_{one.si.what}")(day, one.si.of)
        return BesideBand(one, day, line, low, middle, high, source)

    def _as_set(self, day: MeasuredDay, line: str, key: tuple) -> float:
        """What of a reading is left with the valves of that day shut, as a part."""
        shut = tuple(stretch for other, stretch in map(self.said, day.si.shut) if other == line)
        if not shut:
            return 1.0
        open_, closed = (float(self.model(line).measured({}, one)[key][0]) for one in ((), shut))
        return closed / open_ if open_ > 0 else 0.0

    def _flow(self, day: MeasuredDay, of: str):
        line, stretch = self.said(of)
        part = self._as_set(day, line, ("flow", stretch))
        return line, *(part * value for value in self._swept(f"line {line} › {stretch}.flow")), "sweep"

    def _power(self, day: MeasuredDay, of: str):
        name = f"line {of}.power"
        if name not in self._sweep.results:
            raise DesignError(f"the points of the pump of {of} say nothing of its power, so that there is nothing to set it beside.")
        part = self._as_set(day, of, ("power", of))
        low, middle, high = (part * value for value in self._swept(name))
        return of, (1 - _MOTOR) * low, middle, (1 + _MOTOR) * high, "sweep, and a motor that draws a tenth more or less"

    def _voltage(self, day: MeasuredDay, of: str):
        volts = self.model(of).voltage
        if volts is None:
            raise DesignError(f"the pump of {of} runs on mains, or nobody says its voltage: there is nothing to set a voltage beside.")
        return of, (1 - _VOLTS) * volts, volts, (1 + _VOLTS) * volts, "the wire's drop"

    def _running(self, day: MeasuredDay, of: str):
        seen = self.system.in_time.shown
        depth = self.system.vessels[of].level - self.build.vessels[of].si.floor
        low, high = depth, depth
        if seen:
            low, high = (f(getattr(one.vessels[of], end) for one in seen.bands) for f, end in ((min, "lowest"), (max, "highest")))
        return "", low - _LEVEL, depth, high + _LEVEL, "the run while nothing fails, and a tape"

    def _rest(self, day: MeasuredDay, of: str):
        name, vessel = f"vessel {of}.after a power cut", self.build.vessels[of].si
        if name in self._sweep.results:
            low, middle, high = self._swept(name)
            if any(f.si.siphon and f.si.to == of for f in self.build.falling.values()):  # the beds may be anywhere on their round
                low = min(low, self.system.vessels[of].level - vessel.floor)
            return "", low - _LEVEL, middle, high + _LEVEL, "sweep: a power cut at its worst moment"
        lips = [f for f in self.build.falling.values() if f.si.source == of and not f.si.emergency]
        least = min(lips, key=lambda f: f.least_lip)
        lip = least.least_lip - vessel.floor
        low = min(lip, least.si.siphon.si.vent - vessel.floor) if least.si.siphon else lip
        return "", low - _LEVEL, lip, lip + _LEVEL, "the lip of its way out, and a tape"

    def _starts(self, day: MeasuredDay, of: str):
        band = siphon_start(self.build.falling[of].si)
        return "", band.may, (band.may * band.sure) ** 0.5, band.sure, "Froude number 1 to 2: print says either"

    def _stops(self, day: MeasuredDay, of: str):
        flow = float(siphon_of(self.system.falling[of]).flow_at_vent)
        return "", (1 - _SIPHON) * flow, flow, (1 + _SIPHON) * flow, "what it carries at its vent, ± 15 %"

    def _empties(self, day: MeasuredDay, of: str):
        fall = next(f for f in self.system.falling.values() if f.line.si.source == of and f.siphon)
        times = [emptied(self.system, fall, part) for part in (1 + _SIPHON, 1.0, 1 - _SIPHON)]
        return "", *times, "its siphon's flow, ± 15 %, less what runs in"


def siphon_of(fall) -> Bare:
    """What a falling line with a siphon does, bare."""
    assert fall.siphon is not None  # the reader takes no other
    return fall.siphon.si


def emptied(system: Steady, fall, part: float = 1.0) -> float:
    """How long a siphon takes to bring its vessel from its lip down to its vent, with so much of its flow, while water runs in [s]; infinite where it never does."""
    vessel, f = fall.source, fall.line.si
    levels = np.linspace(f.siphon.si.vent, f.lip, _STEPS + 1)
    volume = np.array([water_volume.si(vessel, level - vessel.si.floor) for level in levels])
    head = np.maximum((levels[1:] + levels[:-1]) / 2 - fall.bottom, 0.0)
    full, at_full = f.lip - fall.bottom, float(siphon_of(fall).flow_at_full)
    flow = part * at_full * np.sqrt(head / full) - system.vessels[vessel.si.name].mean
    return float((np.diff(volume) / flow).sum()) if (flow > 0).all() else float("inf")

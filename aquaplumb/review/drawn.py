"""What the designs of a sweep have in common, and the values drawn for each. Part of `aquaplumb.review.designs`."""

from __future__ import annotations

import functools

import numpy as np

from aquaplumb.plumbing import full_pipe
from aquaplumb.plumbing.fittings import fitting
from aquaplumb.plumbing.siphon_rows import start_numbers
from aquaplumb.review.ranges import KINDS_OF_FITTING, SIPHON_START, stretch_labels, unknowns
from aquaplumb.sentences import pipe_in_words
from aquaplumb.system import each_line
from aquaplumb.system.flow_tables import Network
from aquaplumb.system.steady import Steady


class SweptBuild:
    """What of a build all its designs have in common; it can be sent to another process."""

    def __init__(self, build):
        system = Steady(build)  # refuses what cannot be solved at all
        self.build = build = system.build
        self.said = {key: pipe_in_words(label) for key, label in stretch_labels(build).items()}
        self.nominal = {one.name: one.nominal for one in unknowns(build).values()}
        self.trees = {name: line.tree for name, line in system.pumped.items()}
        self.pumps = {name: line.pump for name, line in system.pumped.items()}
        self.shares = {name: {o.name: o.wanted_share for o in line.outlets} for name, line in system.pumped.items()}
        self.duty = {name: line.duty if line.line.si.control.si.kind == "timer" else 1.0 for name, line in system.pumped.items()}
        self.cold, self.warm, self.tanks = system.cold, system.warm, tuple(system.tanks.values())
        # Who asks for water, and all vessels whose water gets there by itself, for each tank and for the bacteria.
        asking = [*(set(tank.vessels) for tank in self.tanks), set(system.living.first)]
        self.asks = [(asks, {name for name in build.vessels if system.reaches(name, asks)}) for asks in asking]
        self.surface = system.living.surface
        self.stripping = {name: need.stripping for name, need in system.needs.items()}
        self.places = each_line.places(build)
        self.ways = {name: fall.way for name, fall in system.falling.items()}
        self.level, self.near = system.means.usual.level, system.means.levels
        self.timers = np.array([self.duty[name] for name in system.network.lines])
        # What the build's run shows beside its balance, which each design is off by as much: peaks, and floats' shares of the time.
        seen = system.in_time
        self.peaks = {
            what: (getattr(system.means, f"{what}_most"), getattr(seen.means, f"{what}_most")) for what in ("comes", "fall", "spilled")
        }
        self.shares_shown = {name: (line.duty, seen.pumped[name].duty) for name, line in system.pumped.items()}
        self.branches = {  # of each stretch of a tree: what it carries, and as a siphon at a full bed and at its vent [m³/s]
            name: (fall.capacity, fall.siphon_flow or 0.0, fall.siphon.si.flow_at_vent if fall.siphon else 0.0)
            for name, fall in system.falling.items()
            if name not in build.lines
        }
        self.trees_let = {
            name: fall.siphon_flow or 0.0 for name, fall in system.falling.items() if fall.whole
        }  # siphons of trees, at a full bed

    @functools.cached_property
    def network(self) -> Network:
        """Its lines as tables, made by each process for itself, and whole before another thread sees them."""
        made = Network(self.build)
        if made.falls:
            made.fallen.places(made.clear[None])
        return made

    def __getstate__(self):
        return {name: value for name, value in vars(self).items() if name != "network"}

    def ends(self, line: str) -> list[tuple[str, str]]:
        """(stretch, vessel) of each end of a pumped line."""
        return [(p.si.name, p.si.to) for p in self.build.pumped[line].si.pipe if p.si.to]


class Draw:
    """The values drawn for some designs, by name; called with the name of an unknown, it gives them, or the build's own."""

    def __init__(self, plan: SweptBuild, values: dict[str, np.ndarray], size: int):
        self.plan, self.values, self.size = plan, values, size

    def __call__(self, name: str, otherwise=None):
        if name in self.values:
            return self.values[name]
        return self.plan.nominal.get(name) if otherwise is None else otherwise

    def full(self, value) -> np.ndarray:
        """A number, or an array, as one value for each design."""
        return np.array(np.broadcast_to(value, (self.size,)), float)


def drawn_start(f, d: Draw):
    """The flow that starts a siphon in each design: by its bore, or somewhere in the band that measuring left."""
    if f.siphon is None or f.siphon.start_band is None:
        return full_pipe.flow_at_froude.si(d(SIPHON_START), f.bore)
    may, sure = start_numbers()
    place = 2 * (d(SIPHON_START) - may) / (sure - may) - 1
    low, high = f.siphon.start_band
    return in_band(np.clip(place, -1.0, 1.0), low, f.siphon.si.starts, high)


def in_band(place, low: float, typical: float, high: float):
    """The value at a place in a band: −1 the low, 0 the typical, 1 the high one, straight between."""
    return typical + place * np.where(np.greater(place, 0), high - typical, typical - low)


@functools.lru_cache(maxsize=4096)
def _bands(counts: tuple) -> tuple:
    """(name of the unknown, what it is of, low, typical, high) for each kind of fitting among some; as `pipework.losses`."""
    found: dict[tuple, list] = {}
    for name, count in counts:
        row = fitting(name).si
        if row.name == "pipe exit":
            continue
        fields = ("check_k", "opening_head") if row.group == "check valve" else ("strainer",) if row.name == "strainer" else ("k",)
        for field in fields:
            column = "opening_head" if field == "opening_head" else "k"
            typical = getattr(row, f"{column}_typical") or 0.0
            ends = [getattr(row, f"{column}_{end}") for end in ("low", "high")]
            low, high = (typical if end is None else end for end in ends)
            values = found.setdefault((KINDS_OF_FITTING[row.group], field), [0.0, 0.0, 0.0])
            for i, one in enumerate((low, typical, high)):
                values[i] += count * one
    return tuple((*key, *values) for key, values in found.items())


def off_typical(counts: dict, d: Draw, fields: tuple):
    """How far the fittings' K, or another field of theirs, is off the typical."""
    return sum(
        (
            in_band(d(name), low, typical, high) - typical
            for name, field, low, typical, high in _bands(tuple(counts.items()))
            if field in fields and name in d.values
        ),
        0.0,
    )

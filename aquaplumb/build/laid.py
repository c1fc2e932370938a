"""Which pipes of a build lie in the ground or run in a conduit, and what lies in each conduit."""

from __future__ import annotations

import functools
from typing import NamedTuple

from aquaplumb.build import Build
from aquaplumb.plumbing import conduits, pipe_sizes
from aquaplumb.plumbing.fittings import fitting
from aquaplumb.units import Bare, Kind

COVER = Kind("a length", "m", "cm", "in", "60 cm", tape=True)  # of ground over a pipe
_REACHED = ("union", "hose barb")  # joints that come apart, or off; with them all that moves or clogs
_MOVES = ("valve", "check valve", "screen")  # groups of data/fittings.csv


class Laid(NamedTuple):
    """A stretch or a falling line that lies in the ground or runs in a conduit."""

    name: str
    pipe: Bare  # of its record
    outside: float  # m, its outside diameter
    conduit: Bare | None  # of its record; None where the pipe itself lies in the ground

    @property
    def cover(self) -> float | None:
        """How much ground is over it [m]; None where it hangs."""
        return self.conduit.buried if self.conduit else self.pipe.buried

    @property
    def frost(self) -> str:
        """What is done about frost: its own word, else its conduit's."""
        return self.pipe.frost or (self.conduit.frost if self.conduit else "")

    @property
    def boxes(self) -> float:
        """How many boxes let one reach it."""
        return self.pipe.boxes + (self.conduit.boxes if self.conduit else 0.0)

    @property
    def to_reach(self) -> list[str]:
        """What is in it that one has to get at some day: valves, check valves, screens, and joints that come apart."""
        own = [fitting(name).si for name, count in self.pipe.fittings.items() if count]
        found = [row.name for row in own if row.group in _MOVES or row.name in _REACHED]
        return list(dict.fromkeys([*([self.pipe.valve] if getattr(self.pipe, "valve", "") else []), *found]))

    @property
    def rigid(self) -> bool:
        """Whether it is pipe that goes round no bend; a bore alone is hose, and polyethylene bends."""
        return (
            bool(self.pipe.size and self.pipe.standard) and pipe_sizes.pipe_size(self.pipe.size, self.pipe.standard).si.joined_by != "clamp"
        )

    def where(self, units: str) -> str:
        """Where it lies, in a few words; `units` is "metric" or "US"."""
        lies = "hung" if self.cover is None else f"{COVER.text(self.cover, units)} of cover"
        return f"{lies}, in the conduit “{self.conduit.name}”" if self.conduit else f"buried, {lies}"


@functools.lru_cache(maxsize=4)  # each finding asks again on every move of a slider; a build does not change
def laid(build: Build) -> tuple[Laid, ...]:
    """All pipes of a build that lie in the ground or run in a conduit, in the file's order.

    Source: none; a build is what its owner says.

    >>> from aquaplumb.build import load
    >>> laid(load("courtyard"))
    ()
    """
    pipes = [p for line in build.pumped.values() for p in (*line.si.suction, *line.si.pipe)] + list(build.falling.values())
    return tuple(
        Laid(p.si.name, p.si, _outside(p.si), build.conduits[p.si.conduit].si if p.si.conduit else None)
        for p in pipes
        if p.si.conduit or p.si.buried is not None
    )


def _outside(pipe: Bare) -> float:
    return conduits.pipe_outside.si(pipe.bore, size=pipe.size, standard=pipe.standard)


class Filled(NamedTuple):
    """A conduit and what lies in it."""

    conduit: Bare  # of its record
    pipes: list[Laid]
    cables: list[Bare]  # rows of data/cables.csv, each as often as it is there

    @property
    def outsides(self) -> list[float]:
        """The outside diameter of all that lies in it [m]."""
        return [p.outside for p in self.pipes] + [c.outside_diameter for c in self.cables]

    @property
    def fill(self) -> float:
        """The part of its area that they take."""
        return conduits.conduit_fill.si(self.outsides, self.conduit.bore) if self.outsides else 0.0

    @property
    def limit(self) -> float:
        """The part that they may take."""
        return conduits.fill_limit(len(self.outsides))

    @property
    def make(self) -> str:
        """Its make; of one given by its bore the kind that goes with its pipes."""
        if self.conduit.size:
            return conduits.conduit_size(self.conduit.size).si.make
        return "PVC conduit" if any(p.pipe.size.endswith("in") for p in self.pipes) else "cable duct"

    def of(self, supply: str) -> list[str]:
        """The names of its cables of a supply, once each."""
        return list(dict.fromkeys(c.name for c in self.cables if c.supply == supply))


@functools.lru_cache(maxsize=4)
def filled(build: Build) -> tuple[Filled, ...]:
    """Each conduit of a build with what lies in it.

    Source: none; a build is what its owner says.

    >>> from aquaplumb.build import load
    >>> filled(load("courtyard"))
    ()
    """
    return tuple(
        Filled(
            conduit.si,
            [p for p in laid(build) if p.pipe.conduit == name],
            [conduits.cable(cable).si for cable, count in conduit.si.cables.items() for _ in range(int(count))],
        )
        for name, conduit in build.conduits.items()
    )

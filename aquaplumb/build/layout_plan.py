"""The plan of a first build: its vessels, loops and falling lines as records, and the measures that it starts from.

Part of `aquaplumb.build.layouts`, which is the face of all this.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from aquaplumb.build.falling_records import FallingLine, FallingTree
from aquaplumb.build.records import Pipe, Site, Stock, Wanted
from aquaplumb.build.vessels import Vessel

INCH = 0.0254  # m
# Heights from the ground and sizes: metres, then inches. Common practice, no source: what makes an easy first system.
_MEASURES: dict[str, tuple[float, dict[str, Any]]] = {
    "metric": (1.0, {
        "tank floor": (0.15, 0.25, 0.0), "tank height": (0.85, 0.95, 0.80), "tank depth": (0.70, 0.80, 0.60), "inlet": (1.05, 1.30), "step": 0.05,
        "bed": (2.0, 1.1, 0.36), "bed floor": 0.62, "bed depth": 0.25, "media": 0.30, "bed outlet": 1.05, "vent": 0.05,
        "sump": (0.80, -0.70, 0.45), "emergency": 0.06, "bed emergency": 0.04, "settling": (1.0, 0.85, 0.35), "dosing": (0.80, 0.40, 0.62, 0.22),
        "inlet depth": 0.10, "joint": 0.45, "low": 0.0, "sump in": -0.10, "siphon out": 0.20,
        "high bed": (1.00, 1.45, 0.68), "low bed": (0.10, 0.62), "barrel": (0.88, 0.58, 0.30, 0.24, 0.02), "barrel at": (0.45, 0.85), "flush": (0.50, 1.30, 0.30, 1.90),
        "swirl": (1.15, 0.95), "second": (1.05, 0.85), "raft": (2.4, 1.2, 0.40, 0.30), "channel": (3.0, 0.20, 0.14, 0.80, 1.20), "tower": (0.16, 1.20, 0.35, 1.65), "dripper": (0.004, 0.001),
    }),
    "US": (INCH, {
        "tank floor": (6, 10, 0), "tank height": (34, 38, 32), "tank depth": (28, 31, 24), "inlet": (42, 51), "step": 2,
        "bed": (96, 36, 14), "bed floor": 24, "bed depth": 9, "media": 12, "bed outlet": 41, "vent": 2,
        "sump": (32, -28, 18), "emergency": 2.5, "bed emergency": 2, "settling": (40, 33, 14), "dosing": (32, 16, 25, 9),
        "inlet depth": 4, "joint": 18, "low": 0, "sump in": -4, "siphon out": 8,
        "high bed": (40, 57, 27), "low bed": (4, 24), "barrel": (34, 23, 12, 9, 1), "barrel at": (18, 34), "flush": (20, 51, 12, 74),
        "swirl": (45, 37), "second": (41, 33), "raft": (96, 48, 16, 12), "channel": (120, 8, 6, 32, 48), "tower": (6, 48, 14, 65), "dripper": (0.16, 0.03),
    }),
}  # fmt: skip


def up(value: float, step: float) -> float:
    """The next multiple of a step, so that the file reads well."""
    return math.ceil(value / step - 1e-9) * step


@dataclass(frozen=True, slots=True)
class Kit:
    """What the units of a build bring with them: its measures, and the pipe that its shop sells."""

    units: str  # "metric" or "US"

    def m(self, name: str, place: int | None = None) -> float:
        """A measure [m]; of several under one name, the one at a place."""
        scale, own = _MEASURES[self.units]
        return scale * (own[name] if place is None else own[name][place])

    def near(self, metres: float) -> float:
        """A length as one reads it off a tape: to a centimetre, or to half an inch."""
        step = 0.5 * INCH if self.units == "US" else 0.01
        return round(metres / step) * step

    @property
    def step(self) -> float:
        """To which sizes are rounded [m]."""
        return self.m("step")

    @property
    def pipe_standard(self) -> str:
        """Of the pumped lines."""
        return "Sch 40" if self.units == "US" else "PN16"

    @property
    def drain_standard(self) -> str:
        """Of what falls."""
        return "Sch 40" if self.units == "US" else "PN10"


@dataclass(frozen=True, slots=True)
class End:
    """An end of a pump's line: where it ends and what it has to bring."""

    to: Vessel
    flow: float  # m³/s
    outlet: float  # m, elevation of its end
    reach: float = 1.0  # m of pipe from the header, or from the riser
    fixed: bool = False  # it takes just that, whatever the pump has to spare
    drippers: float = 0.0  # holes that it ends in; none for an open pipe


@dataclass(frozen=True, slots=True)
class Loop:
    """A pump and its tree of pipe, as far as they are chosen: a riser, a branch of its own for `main`, a header for the rest."""

    name: str
    source: Vessel  # that it draws from
    riser: str  # the name of its first pipe
    what: str  # what it does, as a heading of the file
    main: End | None = None
    rest: tuple[End, ...] = ()
    on_float: bool = False  # whether a float switch runs it
    pump: str = ""
    flow: float = 0.0  # m³/s of the whole, with that pump
    pipe: tuple[Pipe, ...] = ()

    @property
    def ends(self) -> tuple[End, ...]:
        """All its ends."""
        return (*([self.main] if self.main else []), *self.rest)

    @property
    def wanted(self) -> float:
        """What all its ends are to get [m³/s]."""
        return sum(end.flow for end in self.ends)


@dataclass(frozen=True, slots=True)
class Plan:
    """A first build, as far as it is worked out."""

    layout: str
    about: str
    title: str
    kit: Kit
    site: Site
    stock: Stock
    wanted: Wanted
    drains: str = ""  # "plain" or "siphon": how beds run off, where that was asked for
    spacious: float = 1.0  # the fish tank's water, times what the layout has for so many beds
    stocks: tuple[Stock, ...] = ()  # where there are several, in place of the one
    vessels: tuple[Vessel, ...] = ()  # in the order of the file
    loops: tuple[Loop, ...] = ()
    falls: tuple[FallingLine | FallingTree, ...] = ()

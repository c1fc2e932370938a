"""The plan of a first build: its vessels, loops and falling lines as records, and the measures that it starts from.

Part of `aquaplumb.build.layouts`, which is the face of all this.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from aquaplumb.build.falling_records import FallingLine
from aquaplumb.build.records import Pipe, Site, Stock, Wanted
from aquaplumb.build.vessels import Vessel

INCH = 0.0254  # m
# Heights from the ground and sizes: metres, then inches. Common practice, no source: what makes an easy first system.
_MEASURES: dict[str, tuple[float, dict[str, Any]]] = {
    "metric": (1.0, {
        "tank floor": (0.15, 0.25), "tank height": (0.85, 0.95), "tank depth": (0.70, 0.80), "inlet": (1.05, 1.30), "step": 0.05,
        "bed": (2.0, 1.1, 0.36), "bed floor": 0.62, "bed depth": 0.25, "media": 0.30, "bed outlet": 1.05, "vent": 0.05,
        "sump": (0.80, -0.70, 0.45), "emergency": 0.06, "bed emergency": 0.04, "settling": (1.0, 0.85, 0.35), "dosing": (0.80, 0.40, 0.62, 0.22),
        "inlet depth": 0.10, "low": 0.0, "sump in": -0.10, "siphon out": 0.20,
    }),
    "US": (INCH, {
        "tank floor": (6, 10), "tank height": (34, 38), "tank depth": (28, 31), "inlet": (42, 51), "step": 2,
        "bed": (96, 36, 14), "bed floor": 24, "bed depth": 9, "media": 12, "bed outlet": 41, "vent": 2,
        "sump": (32, -28, 18), "emergency": 2.5, "bed emergency": 2, "settling": (40, 33, 14), "dosing": (32, 16, 25, 9),
        "inlet depth": 4, "low": 0, "sump in": -4, "siphon out": 8,
    }),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Kit:
    """What the units of a build bring with them: its measures, and the pipe that its shop sells."""

    units: str  # "metric" or "US"

    def m(self, name: str, place: int | None = None) -> float:
        """A measure [m]; of several under one name, the one at a place."""
        scale, own = _MEASURES[self.units]
        return scale * (own[name] if place is None else own[name][place])

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
class Loop:
    """A pump and its tree of pipe, as far as they are chosen."""

    name: str
    source: str  # the vessel that it draws from
    level: float  # m, elevation of the water there
    riser: str  # the name of its first pipe
    tank: float  # m³/s into the fish tank
    bed: float  # m³/s into each bed
    on_float: bool = False  # whether a float switch runs it
    pump: str = ""
    flow: float = 0.0  # m³/s of the whole, with that pump
    pipe: tuple[Pipe, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """A first build, as far as it is worked out."""

    layout: str
    title: str
    kit: Kit
    site: Site
    stock: Stock
    wanted: Wanted
    ammonia_flow: float  # m³/s through the beds, that takes out the ammonia
    tank: Vessel
    sump: Vessel
    beds: tuple[Vessel, ...]
    siphon_size: str = ""  # of the pipe in each bed's siphon; nothing where beds have drains
    settling: Vessel | None = None
    dosing: Vessel | None = None
    loops: tuple[Loop, ...] = ()
    falls: tuple[FallingLine, ...] = ()

    @property
    def two(self) -> bool:
        """Whether it has two loops."""
        return self.layout == "two loops"

    @property
    def vessels(self) -> list[Vessel]:
        """All of them, in the order of the file."""
        return [v for v in (self.tank, self.settling, self.dosing, *self.beds, self.sump) if v]

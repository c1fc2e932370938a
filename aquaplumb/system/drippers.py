"""The drippers of towers: at each end of a pumped line that goes to towers, the head over its holes and what comes out; bare SI numbers.

    system.drippers[0].head      # over the holes of the first such end [m]

A dripper is a nozzle of the stretch that ends at a tower. `Steady.drippers` has one record an end, in the order of the file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from aquaplumb.plumbing import jets
from aquaplumb.system.balance import Balance
from aquaplumb.system.turning import opening


@dataclass(frozen=True, slots=True)
class Drippers:
    """One end at towers, while its pump runs."""

    name: str  #: of its stretch
    line: str
    tower: str  #: the vessel
    towers: float  #: of that vessel, how many hang on this end
    bored: bool  #: whether the file says how wide its holes are; else it is an open pipe
    holes: float
    bore: float  #: of one hole, or of the open pipe [m]
    flow: float  #: out of one hole [m³/s]
    head: float  #: over it [m]
    slot: float | None  #: width of the finest openings that its water passes [m]; None where the file says nothing

    @property
    def each(self) -> float:
        """What one tower gets of it [m³/s]."""
        return self.flow * self.holes / self.towers


def drippers(system: Balance) -> list[Drippers]:
    """Each end of a solved build's pumped lines that goes to towers."""
    ends = [(line, end) for line in system.pumped.values() for end in line.outlets if system.build.vessels[end.to].si.kind == "tower"]
    fed = {v.si.name: sum(end.to == v.si.name for _, end in ends) for v in system.build.of_kind("tower")}
    found = []
    for line, end in ends:
        bore, holes, speed = opening(end.pipe.si, end.flow)
        bored = end.pipe.si.nozzle_bore is not None
        found.append(
            Drippers(
                name=end.name, line=line.name, tower=end.to, towers=system.build.vessels[end.to].si.count / fed[end.to], bored=bored,
                holes=float(holes), bore=float(bore), flow=end.flow / float(holes), head=float(jets.jet_head.si(speed)),
                slot=_slot(system, line),
            )
        )  # fmt: skip
    return found


def _slot(system: Balance, line) -> float | None:
    """The finest openings that the water of a line passes [m]: its strainer's, or the mesh of a screen on the way to its pump."""
    meshes = [line.line.si.strainer_slot]
    for vessel in system.build.vessels.values():
        if vessel.si.mesh and system.reaches(vessel.si.name, {line.line.si.source}):
            meshes.append(vessel.si.mesh)
    return min((mesh for mesh in meshes if mesh is not None), default=None)


def driest(ends: Sequence[Drippers]) -> Drippers:
    """That of which each tower gets the least."""
    return min(ends, key=lambda one: one.each)

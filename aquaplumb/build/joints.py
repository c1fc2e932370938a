"""What a stretch of pipe is put together of: the joints, the pieces between them, and the whole as an assembly. Bare SI numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from aquaplumb.units import Bare

GAP = 0.005  # m of pipe to be seen between two sockets that stand close; common practice, no source
_HAIR = 1e-6  # m
ELBOW_UP, OPEN_TEE, THROUGH = "elbow 90 inside, looking up", "tee, its branch up and open", "tank fitting into"


class Joint(NamedTuple):
    """What two pieces meet in: its `name`, the take-offs and socket depths on the side `before` and `after` it [m]."""

    name: str
    before: float = 0.0
    after: float = 0.0
    into: float = 0.0  # socket depth of the side before
    out: float = 0.0  # of the side after
    known: bool = True  # whether a table has its take-off
    bend: bool = False


@dataclass(frozen=True, slots=True)
class Sawn:
    """One piece of pipe: the `number` in what it is `of`, its `length` from end to end, the `leg` from middle to middle, its sockets [m]."""

    of: str
    number: int
    length: float
    leg: float
    sockets: float
    up: float = 0.0

    @property
    def label(self) -> str:
        """What is written on it."""
        return f"{self.of}-{self.number}"

    @property
    def short(self) -> bool:
        """Whether its two sockets would meet before it is home."""
        return self.length < self.sockets - _HAIR


@dataclass(frozen=True, slots=True)
class Assembly:
    """A stretch as it is put together: `joints`, and between each two of them a piece.

    `told` says that the file has its route; else the legs are supposed. `whole` is pipe that no table has sockets for: one piece
    of the whole length. `missing` is what its fittings take up beyond its length [m], 0 where it is long enough.
    """

    name: str  # as shown
    stretch: Bare
    joints: tuple[Joint, ...]
    pieces: tuple[Sawn, ...]
    told: bool = False
    whole: bool = False
    missing: float = 0.0

    def joint(self, name: str) -> int | None:
        """The place of the first joint whose name begins so; None where there is none."""
        return next((k for k, joint in enumerate(self.joints) if joint.name.startswith(name)), None)

    @property
    def into(self) -> float | None:
        """How much lower than its first fitting a falling run goes through the wall of what it falls into [m]; None where it comes from above."""
        place = self.joint(THROUGH)
        return None if place is None else -sum(piece.leg * piece.up for piece in self.pieces[:place])

    @property
    def unknown(self) -> list[str]:
        """The fittings that no table has a take-off for."""
        return list(dict.fromkeys(j.name for j in self.joints if not j.known))


class Side(NamedTuple):
    """A pipe as its fittings know it."""

    size: str
    standard: str
    depth: float
    outside: float

"""Water that falls, as records: a siphon, a single pipe, and a tree of pipe with its stretches."""

from __future__ import annotations

from typing import ClassVar

from aquaplumb.build.records import PipePiece
from aquaplumb.plausible import Told
from aquaplumb.plumbing.falls import ENTRIES
from aquaplumb.plumbing.siphon_rows import BY_TRIAL
from aquaplumb.records import FieldError, said
from aquaplumb.units import LENGTH, Area, Bore, Flow, Head, Number


class Siphon(Told):
    """A siphon on a falling line: it trips over the line's lip and stops when air comes in at the vent.

    `starts` and `stops` are the least flow that started it and the largest at which it stopped, as measured on the day
    `measured_on`. `bell` is the bore of its bell, for whoever compares it with others.
    """

    sections = ("lines.*.siphon",)

    vent: Head
    starts: Flow | None = None
    stops: Flow | None = None
    measured_on: str = ""
    bell: Bore | None = None

    @property
    def start_band(self) -> tuple[float, float] | None:
        """The flows from which it may and from which it is sure to start [m³/s], where that was measured."""
        starts = self.si.starts
        return None if starts is None else ((1 - BY_TRIAL) * starts, (1 + BY_TRIAL) * starts)


class FallingLine(PipePiece):
    """Water that falls: an overflow, a bed drain or a sloping gravity line, from its lip to its outlet.

    `lip` is the elevation at which water goes in, `outlet` that of the lower end. `emergency` marks an overflow that
    is dry unless another way is blocked; `vented` one that takes in air at its top and so cannot siphon. `intake` is
    the elevation at which a pipe that rises to the lip takes its water in, where that is lower than the lip: once it
    runs full it can pull the vessel down to there. `entry` is how the water goes in: into an "upright" pipe, or by a
    hole in the "side", whose lowest point is the lip. A "joint" is a pipe under water between two vessels, either way.
    `crown` is the highest point between its ends, where it goes over a hump: air gathers there, so that water has to
    come over it, unless `vented` lets the air out.
    """

    kind: str
    source: str
    to: str
    lip: Head
    outlet: Head
    emergency: bool = False
    vented: bool = False
    intake: Head | None = None
    siphon: Siphon | None = None
    screen_open_area: Area | None = None
    screen_blocked: Number = 0.0
    entry: str = "upright"
    crown: Head | None = None

    choices: ClassVar[dict] = {
        **PipePiece.choices,
        "kind": ("overflow", "bed drain", "gravity line", "joint"),
        "entry": ENTRIES,
    }

    @property
    def least_lip(self) -> float:
        """The elevation [m] that water has to pass to get through: the lip, or a crown above it."""
        return self.si.lip if self.si.crown is None else max(self.si.lip, self.si.crown)

    @property
    def lower_end(self) -> float:
        """The elevation [m] down to which it runs full: its outlet, or a crown in which air stands."""
        return self.si.outlet if self.si.crown is None else max(self.si.outlet, self.si.crown)

    def check(self) -> None:
        """Refuse an intake above the lip, too."""
        super().check()
        if self.si.intake is not None and self.si.intake > self.si.lip:
            raise FieldError(
                "intake",
                f"the intake is at {said(self.si.intake, LENGTH)}, above the lip at {said(self.si.lip, LENGTH)}; leave it out if the water goes in over the lip.",
            )


class Leg(PipePiece):
    """A stretch of a falling tree of pipe. It follows the stretch named in `after`; the first begins at the line's lip.

    `outlet` is the elevation at which it ends: in the vessel `to`, or at the next tee. All else as in a `FallingLine`.
    """

    after: str = ""
    to: str = ""
    outlet: Head
    crown: Head | None = None
    vented: bool = False


class FallingTree(Told):
    """Water that falls through pipe with branches: from a vessel's lip to several ends, each in a vessel and at a height of its own.

    `pipe` holds its stretches (`Leg`); all else as in a `FallingLine`. `aquaplumb.build.trees` takes it apart.
    """

    sections = ("lines.*",)

    name: str
    kind: str
    source: str
    lip: Head
    pipe: tuple = ()
    emergency: bool = False
    vented: bool = False
    intake: Head | None = None
    siphon: Siphon | None = None
    screen_open_area: Area | None = None
    screen_blocked: Number = 0.0
    entry: str = "upright"

    choices: ClassVar[dict] = {"kind": FallingLine.choices["kind"], "entry": ENTRIES}

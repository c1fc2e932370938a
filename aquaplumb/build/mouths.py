"""How falling water leaves a vessel: through its floor, or through a hole in its wall, and how high the middle of that is. Bare SI numbers."""

from __future__ import annotations

from aquaplumb.build.own_rows import Own
from aquaplumb.build.vessels import Vessel
from aquaplumb.plumbing import takeoffs
from aquaplumb.plumbing.tank_fittings import CLEAR, tank_fitting
from aquaplumb.units import Bare

IN_FLOOR = "in the floor: an upright pipe in it has the lip at its top"
AT_FOOT = "in the floor or the end, as low as it goes"
LOWEST = "the lowest point of its bore is the lip"
_HAIR = 1e-6  # m
LOOKS_UP = "an elbow inside looks up: its mouth is the lip, turn it to trim"


def stands_in_floor(line: Bare, source) -> bool:
    """Whether a falling line goes in by an upright pipe through its vessel's floor: a bed's drain or siphon, a channel's foot.

    Source: common practice, no source.
    """
    return line.kind == "bed drain" and line.entry == "upright" and line.intake is None and line.lip > source.si.floor + 0.05


def begins(fall: Bare, source: Vessel, own: Own | None) -> float:
    """How high a falling pipe sets out: from its lip where that is over the rim or on an upright pipe in the floor, else from the middle of its hole."""
    return fall.lip if fall.lip > source.rim or stands_in_floor(fall, source) else mouth(fall, fall, source, own)[0]


def mouth(f: Bare, pipe: Bare, source: Vessel, own: Own | None) -> tuple[float, str]:
    """The elevation of a hole's centre, and how its water goes in; an elbow that looks up only where the pipe need not rise behind it."""
    row = takeoffs.socket_row(pipe.size, pipe.standard, own)
    off = takeoffs.taken("elbow 90", pipe.size, pipe.standard, own) if row else None
    inside = f.lip - (off + row.si.depth) if row and off is not None else f.lip
    tank = tank_fitting(pipe)
    least = source.si.floor + (tank.si.flange / 2 if tank else pipe.bore) + CLEAR
    if f.entry == "side" or f.kind == "joint" or f.intake is not None or inside == f.lip or inside < max(least, pipe.outlet - _HAIR):
        if f.kind == "bed drain" and f.lip + pipe.bore / 2 < least:
            return source.si.floor, AT_FOOT
        return f.lip + pipe.bore / 2, LOWEST
    return inside, LOOKS_UP

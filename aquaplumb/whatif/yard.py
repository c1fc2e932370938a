"""Whether a first build suits a yard: the room that it takes, the pit that it needs, and what would suit instead.

All numbers are bare SI.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

from aquaplumb.build import Build
from aquaplumb.build.falling_records import FallingLine
from aquaplumb.build.ground import GroundPlan
from aquaplumb.build.layout_kinds import KINDS, counted
from aquaplumb.build.layouts import LAYOUTS, Wishes, planned
from aquaplumb.build.placing import STEP, set_out, stood_over, takes
from aquaplumb.build.standing import FINGER, pipes_of, proposal
from aquaplumb.build.vessels import Vessel
from aquaplumb.units import LENGTH, DesignError, quantity

_PLACES = {
    "metric": (1.0, ((6, 5), (8, 6), (10, 8), (14, 10), (20, 15))),
    "US": (0.3048, ((20, 16), (26, 20), (32, 26), (46, 32), (65, 50))),
}


_ROUNDS = 6  # in which lines grow


@dataclass(frozen=True, slots=True)
class Yard:
    """Where a first build is to stand: its room, and whether a pit may be dug."""

    length: float
    width: float
    may_dig: bool

    def suits(self, ground: GroundPlan) -> bool:
        """Whether it has the room, and the ground may be dug for it."""
        return ground.fits and (self.may_dig or not ground.pit)


@functools.lru_cache(maxsize=128)
def set_up(build: Build, length: float, width: float) -> tuple[Build, Build, GroundPlan]:
    """A build with its lines as long as its yard takes, without and with the size of that yard; and where its vessels stand, as its sheet will have it."""
    yard: dict[tuple, object] = {
        ("site", "yard_length"): LENGTH.text(length, build.units),
        ("site", "yard_width"): LENGTH.text(width, build.units),
    }
    first = made = build.changed(yard)
    long: dict[tuple, object] = {}  # all of it changes the one text that was read: to read another is the dearest part
    for _ in range(_ROUNDS):  # longer pipe may be set out otherwise
        ground = proposal(made)
        longer = _longer(made, ground) if ground.fits else {}
        if not longer:
            break
        long |= longer
        made = build.changed(yard | long)
    ground = proposal(made)
    return (build.changed(long) if long else build, made, ground) if ground.fits else (build, first, proposal(first))


def _longer(build: Build, ground: GroundPlan) -> dict[tuple, str]:
    """The lengths of pipes that do not reach, as they have to be, by their keys."""
    found: dict[tuple, str] = {}
    keys = {pipe.si.name: ("lines", name, "pipe", pipe.si.name) for name, line in build.pumped.items() for pipe in line.si.pipe}
    step = STEP[build.units]
    for pipe in pipes_of(build):
        if (missing := pipe.missing(ground.pieces)) > FINGER / 2:
            line, _, leg = pipe.name.rpartition(" › ")
            key = ("lines", line, "pipe", leg) if line else keys.get(pipe.name, ("lines", pipe.name))
            long = quantity(build.value(*key, "length"), LENGTH).m_as("m") + missing
            steps = math.ceil(long / step - 1e-6)
            found[(*key, "length")] = f"{steps:g} in" if build.units == "US" else f"{step * steps:.2f} m"
    return found


@functools.lru_cache(maxsize=256)
def _vessels(layout: str, count: int, units: str, site: tuple[float, float, float]) -> tuple[tuple[Vessel, ...], tuple[str, ...]]:
    """The vessels of a layout with its usual tank, and those that others stand over; nothing where it cannot be had at all."""
    try:
        plan = planned(
            Wishes.from_si(layout=layout, beds=count, units=units, altitude=site[0], coldest_water=site[1], warmest_water=site[2])
        )
    except DesignError:
        return (), ()
    vessels = {vessel.si.name: vessel for vessel in plan.vessels}
    return plan.vessels, tuple(stood_over(vessels, [fall for fall in plan.falls if isinstance(fall, FallingLine)]))


def roomy(layout: str, count: int, units: str, site: tuple[float, float, float]) -> tuple[float, float]:
    """A usual place [m], length and width, in which a layout fits: where a panel starts."""
    vessels, below = _vessels(layout, count, units, site)
    places = [(metre * length, metre * width) for metre, sizes in [_PLACES[units]] for length, width in sizes]
    return next((place for place in places if vessels and set_out(vessels, *place, below=below, units=units).fits), places[-1])


@functools.lru_cache(maxsize=256)
def instead(layout: str, count: int, units: str, site: tuple[float, float, float], yard: Yard) -> str:
    """What suits a yard in place of a layout that does not, in words; it grows in the same if it may be, and is as large as can be."""

    def suits(other: str, many: int) -> bool:
        vessels, below = _vessels(other, many, units, site)
        return bool(vessels) and yard.suits(set_out(vessels, yard.length, yard.width, below=below, units=units))

    best, most = "", 0
    for other in sorted(LAYOUTS, key=lambda other: (KINDS[other].grows_in != KINDS[layout].grows_in, other != layout)):
        if best and KINDS[other].grows_in != KINDS[layout].grows_in == KINDS[best].grows_in:
            break
        if most < count and suits(other, most + 1):
            best, most = other, next(many for many in range(count, most, -1) if suits(other, many))
    return f"{best}, with {counted(best, most)}" if best else ""


def unsuited(layout: str, count: int, units: str, site: tuple[float, float, float], yard: Yard, ground: GroundPlan) -> str:
    """In a sentence what of a first build does not suit a yard, and what does; nothing where it suits."""
    if yard.suits(ground):
        return ""

    def size(length: float, width: float) -> str:
        return f"{takes(length, units)} by {takes(width, units)}"

    wrong = []
    if ground.pit and not yard.may_dig:
        wrong.append(f"it needs a pit {LENGTH.text(ground.pit, units)} deep")
    if not ground.fits:
        room = f"with paths of {LENGTH.text(ground.path, units)} it takes {size(ground.length, ground.width)}"
        wrong.append(f"{room}, and the place is {size(yard.length, yard.width)}")
    other = instead(layout, count, units, site, yard)
    cure = f"What would suit: {other}." if other else "No layout here would; find a larger place, or ground that may be dug."
    return f"This does not suit the place: {'; '.join(wrong)}. {cure}"

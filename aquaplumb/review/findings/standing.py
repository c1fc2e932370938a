"""Findings about where things stand, seen from above: what a file says of it (`at`, `yard_length`, `door`, `socket`), never a proposal."""

from __future__ import annotations

import itertools
import math

from aquaplumb.build.ground import PATH, TOWERS
from aquaplumb.build.placing import reaches
from aquaplumb.build.standing import Footprint, apart, from_point, overlap, told
from aquaplumb.power import shock_protection
from aquaplumb.review.findings.base import finding, fix, note
from aquaplumb.units import HEAD, LENGTH

_EDGE = 0.02  # m: nobody sets a tank down better; common practice, no source
_ARMS = 1.2  # m: a bed that is reached from both sides, two arms of 0.6 m; common practice, no source
_PASS = 0.45  # m: less lets nobody past with a bucket; common practice, no source
_TOUCH = 0.15  # m: what stands so near is meant to, with pipe between; common practice, no source
_SPLASH = (
    2.0  # m: the zone round a pool in which no ordinary socket may be, IEC 60364-7-702, zone 1 (from memory); for tanks common practice
)


def _told(system) -> list[Footprint]:
    return told(system.build)


def _number(pieces: list[Footprint], piece: Footprint) -> str:
    """A vessel's name, with its number where there are several."""
    alike = [one for one in pieces if one.name == piece.name]
    return piece.name if len(alike) == 1 else f"{piece.name}, number {alike.index(piece) + 1}"


@finding("vessel outside the yard", notebook="13")
def outside_the_yard(system, say):
    """A vessel that stands over the edge of the yard."""
    pieces, site = _told(system), system.build.site.si
    size = (site.yard_length, site.yard_width)
    for piece in pieces if None not in size else []:
        over = max(max(-value, value - size[k]) for corner in piece.corners for k, value in enumerate(corner))
        if over > _EDGE:
            yield fix(
                piece.name,
                f"{_number(pieces, piece)} stands {say(LENGTH, over)} over the edge of the yard, which is {say(LENGTH, size[0])} by {say(LENGTH, size[1])}.",
                "Measure at from the yard's corner to the middle of the vessel, along first, and turned as seen from above; or mend yard_length and yard_width.",
            )


@finding("two in one place", notebook="13")
def two_in_one_place(system, say):
    """Two vessels that take the same ground at the same height."""
    pieces = _told(system)
    for one, other in itertools.combinations(pieces, 2):
        if one.low < other.high and other.low < one.high and overlap(one, other):
            yield fix(
                one.name,
                f"{_number(pieces, one)} and {_number(pieces, other)} stand in one place: the ground under them overlaps, and so do their heights.",
                "Mend at or turned of one of them; each counts to the middle of the vessel.",
            )


@finding("pipe shorter than its way", notebook="13")
def pipe_too_short(system, say):
    """A pipe that cannot reach from where its vessel stands to the other, not even straight."""
    build, pieces = system.build, _told(system)
    for pipe in reaches(build.vessels, list(build.pumped.values()), list(build.drops.values())) if pieces else []:
        between = [apart(a, b) for a in pieces if a.name == pipe.source for b in pieces if b.name == pipe.to]
        if between and math.hypot(gap := min(between), pipe.height) > pipe.length + _EDGE:
            yield fix(
                pipe.name,
                f"{pipe.name} has {say(LENGTH, pipe.length)} of pipe, and from {pipe.source} to {pipe.to} it is {say(LENGTH, math.hypot(gap, pipe.height))} in a straight line ({say(LENGTH, gap)} of ground and {say(LENGTH, pipe.height)} of height).",
                f"Along walls and square corners it takes about {say(LENGTH, gap + pipe.height)}: mend length, or where they stand.",
            )


@finding("path too narrow", notebook="13")
def path_too_narrow(system, say):
    """Two vessels that stand so near that nobody passes, and too far apart to be meant so."""
    pieces = _told(system)
    for one, other in itertools.combinations(pieces, 2):
        towers = sum(system.build.vessels[piece.name].si.kind == "tower" for piece in (one, other))
        gap, near = apart(one, other), max(_TOUCH, towers * TOWERS / 2)  # half of that round each tower is for light
        if near + _EDGE < gap < _PASS and one.high > 0 and other.high > 0 and not _filled(pieces, one, other):
            yield note(
                one.name,
                f"Between {_number(pieces, one)} and {_number(pieces, other)} there are {say(LENGTH, gap)}: too little for a person with a bucket.",
                f"Leave {say(LENGTH, PATH[system.build.units])} for a path (common practice), or set them side by side.",
            )


def _filled(pieces: list[Footprint], one: Footprint, other: Footprint) -> bool:
    """Whether a third that both touch closes what is between them: a channel of a table or of the next, a bed over one, a wedge at a round tank."""
    for third in pieces:
        gaps = apart(one, third), apart(other, third)
        if third is not one and third is not other and max(gaps) <= _TOUCH + _EDGE:
            between = sum(gaps) + third.narrow <= apart(one, other) + _EDGE
            if between or min(gaps) == 0 or one.radius or other.radius or one.name == other.name == third.name:
                return True
    return False


@finding("bed out of reach", notebook="13")
def out_of_reach(system, say):
    """A bed whose middle no arm reaches from its edge."""
    pieces = _told(system)
    for piece in pieces:
        if system.build.vessels[piece.name].si.kind == "bed" and piece.narrow > _ARMS + _EDGE:
            yield note(
                piece.name,
                f"{_number(pieces, piece)} is {say(LENGTH, piece.narrow)} wide; from both its sides two arms reach over {say(LENGTH, _ARMS)} (common practice).",
                "Make it narrower, or lay a board across to kneel on. Against a wall it is half of that.",
            )


@finding("vessel before the door", notebook="13")
def before_the_door(system, say):
    """A vessel that stands in the way of the door."""
    door, pieces = system.build.site.si.door, _told(system)
    for piece in pieces if door else []:
        gap, path = from_point(door, piece), PATH[system.build.units]
        if gap < path - _EDGE and piece.high > 0:
            yield fix(
                piece.name,
                f"{_number(pieces, piece)} stands {say(LENGTH, gap)} from the middle of the door: nobody gets in with a bucket, or out in a hurry.",
                f"Keep {say(LENGTH, path)} free before the door (common practice), more where it opens inwards.",
            )


@finding("socket within splash", notebook="13")
def socket_in_splash(system, say):
    """A power socket so near to open water that it is splashed, or reached with a wet hand."""
    socket, pieces = system.build.site.si.socket, _told(system)
    near = min(((from_point(socket, piece), piece) for piece in pieces), key=lambda one: one[0], default=None) if socket else None
    if near and near[0] < _SPLASH:
        yield fix(
            near[1].name,
            f"The power socket is {say(LENGTH, near[0])} from {near[1].name}, near enough to be splashed, or touched with a hand in the water, which can kill.",
            f"Have a licensed electrician set it {say(HEAD, _SPLASH)} or more away, high and covered, behind a {shock_protection(system.build.units)}; every cable hangs in a loop lower than its plug. Local rules come first.",
        )

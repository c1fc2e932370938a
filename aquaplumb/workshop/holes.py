"""The holes of a build: in which vessel, how wide, how high, and where round it; to be drilled from the lowest up.

    for hole in holes(load("courtyard")): print(hole.vessel, hole.saw, hole.height)

A hole for an overflow is for a tank fitting with an elbow inside that looks up, its mouth the lip; one at the side has the lip as its lowest
point; a bed's drain goes through the floor. The way round is taken from the plan (`aquaplumb.build.standing`), a proposal where the file does
not say it. Bare SI numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from aquaplumb.build import Build
from aquaplumb.build.falling_records import FallingTree
from aquaplumb.build.mouths import AT_FOOT, IN_FLOOR, LOWEST, mouth, stands_in_floor
from aquaplumb.build.records import PumpedLine
from aquaplumb.build.sawn import sawn
from aquaplumb.build.standing import Footprint, apart, standing
from aquaplumb.plumbing.tank_fittings import CLEAR, tank_fitting
from aquaplumb.units import Bare

COMES_IN = "water comes in here, through the wall"
BENT = "the round wall bends away under its flange: a wider tank, a smaller pipe, or a rubber grommet there"
UNDER = "little room under this floor: raise the vessel, or lay the pipe in a trench before it stands"
_ROOM_UNDER = 0.15  # m over the zero mark, for a tank fitting's nut and an elbow; common practice, no source
IN = 1.5  # flanges from a wall to the middle of a hole in the floor, so that a hand with a wrench has room; common practice, no source
_BENT = 0.005  # m by which a round wall may bend away under a flange before its ring no longer seals; common practice, no source


@dataclass(frozen=True, slots=True)
class Hole:
    """One hole: the `saw` that it takes and its `flange`, the height of its centre over the inside floor and under the rim [m].

    `turn` is the way round a round vessel from its mark, clockwise from above [rad]; `wall` and `along` (from that wall's left end, seen
    from outside) of a square one. `floor` is in the floor, `towards` the vessel that its pipe goes to or comes from. `wrong` says what is too near.
    """

    vessel: str
    line: str
    size: str
    saw: float | None
    low: float | None
    high: float | None
    flange: float
    height: float
    under_rim: float
    floor: bool = False
    turn: float | None = None
    wall: str = ""
    along: float | None = None
    how: str = ""
    wrong: str = ""
    grommet: float | None = None
    towards: str = ""


def holes(build: Build) -> list[Hole]:
    """All holes, vessel by vessel in the file's order, each from the lowest up.

    Source: ``data/tankfittings.csv``; where each sits is common practice, no source.

    Examples
    --------
    >>> from aquaplumb.build import load
    >>> [hole.line for hole in holes(load("courtyard")) if hole.vessel == "fish tank"]
    ['tank overflow', 'tank emergency overflow']
    """
    found = sorted(_wanted(build), key=lambda one: (list(build.vessels).index(one[0].vessel), one[0].height))
    done: list[Hole] = []
    for hole, to in found:
        put = _placed(build, hole, to, [one for one in done if one.vessel == hole.vessel])
        done.append(replace(put, wrong=_near(build, put, [one for one in done if one.vessel == hole.vessel])))
    return done


def _wanted(build: Build) -> Iterator[tuple[Hole, str]]:
    """Each hole with the vessel that its pipe goes to."""
    made = {run.name: run for run in sawn(build)}
    for name, line in build.lines.items():
        if isinstance(line, PumpedLine):
            if line.si.suction:
                pipe, source = line.si.suction[0].si, build.vessels[line.si.source]
                depth = line.si.inlet_depth if line.si.inlet_depth is not None else 0.1 * source.si.height
                yield _hole(build, line.si.source, f"{name} (suction)", pipe, source.si.floor + depth, "the pump draws here"), ""
            continue
        tree = isinstance(line, FallingTree)
        f, pipe = line.si, (next(leg.si for leg in line.si.pipe if not leg.si.after) if tree else line.si)
        source = build.vessels[f.source]
        to = next((leg.si.to for leg in f.pipe if leg.si.to), "") if tree else f.to
        if f.lip > source.rim:
            continue  # over the rim, no hole
        if stands_in_floor(f, source) or f.entry == "bottom":
            centre = source.si.floor
            yield _hole(build, f.source, name, pipe, centre, IN_FLOOR, floor=True), to
        else:
            centre, how = mouth(f, pipe, source, build.own)
            yield _hole(build, f.source, name, pipe, centre, how, floor=how == AT_FOOT), to
        if f.kind == "joint" and not tree and f.to in build.vessels:
            end = build.vessels[f.to]
            yield _hole(build, f.to, name, pipe, max(f.outlet, end.si.floor) + pipe.bore / 2, LOWEST), f.source
        elif tree:
            for leg in (one.si for one in f.pipe):
                if made[whole := f"{name} › {leg.name}"].into is not None:
                    yield _hole(build, leg.to, whole, leg, leg.outlet, COMES_IN), f.source
        elif name in made and made[name].into is not None:
            first = f.lip if made[name].joints[0].name == "open end" else centre
            yield _hole(build, f.to, name, pipe, first - made[name].into, COMES_IN), f.source


def _hole(build: Build, vessel: str, line: str, pipe: Bare, centre: float, how: str, *, floor: bool = False) -> Hole:
    v, row = build.vessels[vessel], tank_fitting(pipe)
    s = row.si if row else None
    return Hole(
        vessel, line, pipe.size or "hose", s.hole_typical if s else None, s.hole_low if s else None, s.hole_high if s else None,
        s.flange if s else 2 * pipe.bore, centre - v.si.floor, v.rim - centre, floor=floor, how=how, grommet=s.grommet_hole if s else None,
    )  # fmt: skip


# --- where round the vessel ---------------------------------------------------------------------------


def _placed(build: Build, hole: Hole, to: str, before: list[Hole]) -> Hole:
    foot, other = _facing(build, hole.vessel, to)
    ahead = [(one.middle[0] - foot.middle[0], one.middle[1] - foot.middle[1]) for one in (other,) if one]
    towards = math.atan2(ahead[0][1], ahead[0][0]) if ahead else 0.0
    if foot.radius and hole.floor:
        return replace(hole, towards=to)
    if foot.radius:
        turn = -towards % (2 * math.pi)
        step = 1.02 * (hole.flange + CLEAR) / foot.radius
        for k in range(40):  # beside what is drilled already, first to one side, then to the other
            tried = (turn + (-1) ** k * ((k + 1) // 2) * step) % (2 * math.pi)
            if not _near(build, replace(hole, turn=tried), before, others=True):
                return replace(hole, turn=tried)
        return replace(hole, turn=turn)
    wall, length, along = _wall(foot, towards, other)
    edge = min(IN * hole.flange if hole.floor else hole.flange / 2 + CLEAR, length / 2)
    along = min(max(along, edge), length - edge)
    if hole.floor:
        return replace(hole, towards=to, wall=wall, along=along)
    for k in range(40):
        tried = along + (-1) ** k * ((k + 1) // 2) * (hole.flange / 2 + CLEAR)
        if edge <= tried <= length - edge and not _near(build, replace(hole, wall=wall, along=tried), before, others=True):
            return replace(hole, wall=wall, along=tried)
    return replace(hole, wall=wall, along=along)


def _facing(build: Build, vessel: str, to: str) -> tuple[Footprint, Footprint | None]:
    """A vessel's footprint and the other end's, of several alike the two that are nearest."""
    plan = standing(build)
    if to not in build.vessels or to == vessel:
        return plan[vessel], None
    return min(((a, b) for a in plan.of(vessel) for b in plan.of(to)), key=lambda two: apart(*two))


def _wall(foot: Footprint, towards: float, other: Footprint | None) -> tuple[str, float, float]:
    """(the side of a square vessel that looks a way, as the plan lies before you; its length; where a straight pipe crosses it, from its left end seen from outside)."""
    corners, sides = foot.corners, []
    for k, (start, end) in enumerate(zip(corners, (*corners[1:], corners[0]))):
        ex, ey = end[0] - start[0], end[1] - start[1]
        length = math.hypot(ex, ey)
        facing = (ey * math.cos(towards) - ex * math.sin(towards)) / length  # corners go anticlockwise, so this looks out
        sides.append((round(facing, 9), -k, length, (ex / length, ey / length)))
    _, k, length, (ex, ey) = max(sides)
    turned = round(math.atan2(corners[1][1] - corners[0][1], corners[1][0] - corners[0][0]) / (math.pi / 2))
    name = ("near", "right", "far", "left")[(turned - k) % 4]
    (sx, sy), low, high = corners[-k], 0.0, length
    if other:
        reach = [(x - sx) * ex + (y - sy) * ey for x, y in other.corners]
        low, high = max(min(reach), 0.0), min(max(reach), length)
    # the middle of what lies before the other, else the end that is nearest to it
    return name, length, min(max((low + high) / 2, 0.0), length)


def _near(build: Build, hole: Hole, before: list[Hole], *, others: bool = False) -> str:
    """What a hole is too near to, in words; "" where it sits well. With `others` only other holes are looked at."""
    v, half = build.vessels[hole.vessel], hole.flange / 2
    for one in before:
        if one.floor == hole.floor and not hole.floor:
            gap = _gap(build, hole, one)
            if gap is not None and gap < half + one.flange / 2 + CLEAR - 1e-9:
                return f"the hole of {one.line}"
    if hole.floor and not others:
        return UNDER if v.si.floor < _ROOM_UNDER else ""
    if others:
        return ""
    if hole.under_rim < half:
        return "the rim"
    if hole.height < half:
        return "the floor"
    wide = v.si.diameter if v.si.shape in ("round", "cone-bottomed") else None
    if wide and half**2 / wide > _BENT:
        return BENT
    return ""


def _gap(build: Build, one: Hole, other: Hole) -> float | None:
    """How far two holes in walls are apart [m]; None in different walls."""
    if one.turn is not None and other.turn is not None:
        radius = build.vessels[one.vessel].si.diameter / 2
        turn = abs(one.turn - other.turn) % (2 * math.pi)
        return math.hypot(radius * min(turn, 2 * math.pi - turn), one.height - other.height)
    if one.wall and one.wall == other.wall and one.along is not None and other.along is not None:
        return math.hypot(one.along - other.along, one.height - other.height)
    return None

"""The chapters of a build sheet for the ground and the drill: the plan from above, and the holes of each vessel."""

from __future__ import annotations

import math

from aquaplumb.build import Build
from aquaplumb.build.standing import standing, unreached
from aquaplumb.power import shock_protection
from aquaplumb.units import LENGTH, DesignError
from aquaplumb.workshop.cut_list import tape
from aquaplumb.workshop.ground_plan import PlanFromAbove
from aquaplumb.workshop.holes import BENT, CLEAR, IN, UNDER, Hole, holes
from aquaplumb.workshop.sheet.records import Caution, Chapter, Grid, NumberedSteps, Points, SheetDrawing, Words, amount, pen, words


def plan(build: Build) -> Chapter:
    """The plan from above, and where each vessel's middle stands."""
    units, found = build.units, standing(build)
    drawn = PlanFromAbove(build)
    rows = tuple(
        (piece.name, "as your file tells" if piece.told else "proposed", *(float(LENGTH.shown(one, units)) for one in piece.middle))
        for piece in found.pieces
    )
    said = (
        []
        if found.told
        else [
            "Your file does not say where all of it stands: this is one way to set it out, with paths. Write at = [along, across] into each vessel, and the review checks pipes, paths and sockets against it."
        ]
    )
    short = [f"{pipe.name} by {LENGTH.text(missing, units)}" for pipe, missing in unreached(build)]
    if short:
        said.append(
            f"As they stand here these pipes are too short along walls and square corners: {'; '.join(short)}. Set those vessels nearer before you saw, or buy as much more and write it into your file (length)."
        )
    columns = (
        words("vessel"),
        words("where"),
        amount("middle along", LENGTH, units, 2),
        amount("middle across", LENGTH, units, 2),
        pen("yours"),
    )
    try:
        picture: SheetDrawing | Words = SheetDrawing("Plan from above", drawn.svg(), drawn.alt(), drawn.upright)
    except DesignError as wrong:
        picture = Words(str(wrong))
    weighs = "100 gal weigh 834 lb" if units == "US" else "1,000 L weigh a tonne"
    places = Grid("places", "Where each stands: along and across from the yard's corner, to its middle", columns, rows)
    return Chapter(
        "plan",
        "Plan from above",
        (
            picture,
            places,
            *([Words(one) for one in said]),
            Points(tuple(one.format(weighs=weighs, guard=shock_protection(units)) for one in _MIND)),
        ),
    )


_MIND = (
    "Mark the middle of each vessel and its outline on the ground with string before anything is carried in; walk the paths with a bucket.",
    "A full tank is never moved: {weighs}. Set it level, on ground or a base that carries it, before a pipe touches it.",
    "Keep sockets high, covered and out of reach from the water, behind a {guard}; local rules and your electrician come first.",
)  # common practice, no source


def drilling(build: Build) -> Chapter:
    """The holes of each vessel, from the lowest up."""
    units, found = build.units, holes(build)
    if not found:
        return Chapter("holes", "Holes", (Words("Nothing in your file goes through a wall or a floor."),))
    rows = tuple(
        (
            hole.vessel, str(number), hole.line, hole.size, _saw(hole, units), tape(max(hole.height, 0.0), units) if not hole.floor else "floor",
            tape(hole.under_rim, units) if not hole.floor else "", _round(build, hole, units), hole.how + (f"; MIND: {'' if hole.wrong in (BENT, UNDER) else 'too near '}{hole.wrong}" if hole.wrong else ""),
        )
        for number, hole in enumerate(found, start=1)
    )  # fmt: skip
    columns = (
        words("vessel"), words("no."), words("for"), words("pipe"), words("hole saw"), words("centre over the inside floor"), words("centre under the rim"),
        words("where round it"), words("how the water goes in"), pen("drilled"),
    )  # fmt: skip
    flange = "; ".join(dict.fromkeys(f"{hole.size} {tape(hole.flange, units)}" for hole in found))
    said: tuple[str, ...] = (
        f"Between a flange and a rim, floor, corner, rib or the next flange leave {tape(CLEAR, units)} or more, so that its ring lies flat (common practice). Flanges taken: {flange}. A tank with ribs: move the hole along to a smooth place, at the same height.",
        "The way round is from the plan: clockwise from above, from the mark that looks along the yard; of a square one from the left end of its wall, seen from outside. Near, right, far and left are as the plan lies before you. It may move, the height may not.",
        "The hole in brackets is what makers differ by: measure over the thread of yours. A rubber grommet in place of a tank fitting is for pipe without pressure, low and thin walls; its hole is its maker’s"
        + _grommets(found, units)
        + ".",
    )
    several = [name for name in dict.fromkeys(hole.vessel for hole in found) if build.vessels[name].si.count > 1]
    said += tuple(
        f"Of the {build.vessels[name].si.count:.0f} {name} the one nearest the other end has these holes. The rest are joined to it low down, at one level: a hole for the joining pipe in each, as wide as the widest pipe here, is not on this list."
        for name in several
    )
    said += tuple(
        f"{end.si.name}: {end.si.nozzles:.0f} holes for its drippers, {tape(end.si.nozzle_bore, units)} wide or as their maker says, in the pipe itself, one over each of the {end.si.to}: drill them once the pipe hangs, pump off."
        for line in build.pumped.values()
        for end in line.si.pipe
        if end.si.to and end.si.nozzle_bore and build.vessels[end.si.to].si.kind == "tower"
    )
    steps = (
        "Dry: mark every centre on the outside with level and tape from the inside floor, and look at all of them together before you drill. Try hole saw and fitting on a scrap.",
        "Drill from the lowest up, while the tank is empty and lies so that you drill downwards: pilot hole first, slowly, without pressing, the far side backed with wood. Goggles; never hold the piece in your hand.",
        "Take the burr off, inside and out. The ring (gasket) goes on the side of the water, dry, no sealant; hold the inside, turn the nut by hand and then a quarter more.",
        "Fill to just over the lowest hole, wait an hour, wipe and look; then on to the next. What weeps is taken apart and wiped, not tightened more.",
        "A hole in the wrong place: never patch it with glue or silicone under water pressure. Put a tank fitting with a cap into it, or another part of the tank over it; a hole too wide takes a larger fitting with a bush. A crack ends a tank's life.",
    )  # common practice, no source
    caution = Caution(
        "Count twice: heights here are from the inside floor of the vessel. A hole lower than the lip empties the vessel down to it."
    )
    return Chapter(
        "holes",
        "Holes to drill",
        (
            caution,
            Grid("holes", "Every hole, vessel by vessel, from the lowest up", columns, rows, grouped=True),
            NumberedSteps(steps),
            Points(said),
        ),
    )


def _grommets(found: list[Hole], units: str) -> str:
    known = dict.fromkeys(f"{hole.size} {tape(hole.grommet, units)}" for hole in found if hole.grommet)
    return f" (from memory: {', '.join(known)})" if known else ""


def _saw(hole: Hole, units: str) -> str:
    if hole.saw is None or hole.low is None or hole.high is None:
        return "measure the fitting"
    band = "" if hole.high - hole.low < 0.0005 else f" ({tape(hole.low, units)} to {tape(hole.high, units)})"
    return f"{tape(hole.saw, units)}{band}"


def _in_a_round_floor(radius: float, flange: float) -> str:
    """Where a hole in a round floor goes: to one side, or in the middle where its flange would lie on the wall."""
    return "half-way from its middle to its wall" if radius / 2 >= flange / 2 + CLEAR else "in its middle"


def _round(build: Build, hole: Hole, units: str) -> str:
    if hole.floor:
        at = (
            f"{tape(IN * hole.flange, units)} from the {hole.wall} wall, {tape(hole.along or 0.0, units)} from that wall's left end"
            if hole.wall
            else _in_a_round_floor(build.vessels[hole.vessel].si.diameter / 2, hole.flange)
        )
        return f"{at}{f', on the side of {hole.towards}' if hole.towards else ''}; clear of ribs"
    if hole.turn is not None:
        round_ = hole.turn * build.vessels[hole.vessel].si.diameter / 2
        return f"{math.degrees(hole.turn):.0f}° from the mark, {tape(round_, units)} round the wall"
    return f"{hole.wall} wall, {tape(hole.along or 0.0, units)} from its left end"

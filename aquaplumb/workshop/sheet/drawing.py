"""The chapter of a build sheet with its drawings, and its table of every pipe."""

from __future__ import annotations

from aquaplumb.build.sawn import sawn
from aquaplumb.review import Review
from aquaplumb.units import FLOW, LENGTH, SPEED, DesignError
from aquaplumb.workshop.as_built import AsBuilt
from aquaplumb.workshop.cut_list import labelled, pipe_of, stretches
from aquaplumb.workshop.line_plan import LinePlan
from aquaplumb.workshop.sheet.records import Chapter, Grid, SheetDrawing, Words, amount, words


def drawing(seen: Review) -> Chapter:
    """The whole from the side, and each line's plan."""
    build = seen.build
    blocks: list = _pictures(AsBuilt, "The whole, from the side", build)
    for name in build.pumped:
        blocks += _pictures(LinePlan, f"Line plan: {name}", build, name)
    return Chapter("drawing", "Drawing", tuple(blocks))


def pipes(system) -> Grid:
    """Every stretch with its pieces, its pipe and what flows in it."""
    build, units, rows = system.build, system.build.units, []
    for (name, stretch), made in zip(stretches(build), sawn(build), strict=True):
        _, size, standard, _ = pipe_of(stretch, units)
        first, last = labelled(made.pieces[0]), labelled(made.pieces[-1])
        rows.append(
            (
                name,
                first if first == last else f"{first} to {made.pieces[-1].number}",
                size,
                standard or "by its bore",
                float(LENGTH.shown(stretch.si.length, units)),
                *_flowing(system, stretch),
            )
        )
    columns = (
        words("stretch"),
        words("pieces"),
        words("size"),
        words("kind"),
        amount("length", LENGTH, units, 2),
        amount("flow", FLOW, units),
        amount("speed", SPEED, units, 2),
    )
    return Grid("pipes", "Pipe by pipe", columns, tuple(rows))


def _flowing(system, stretch) -> tuple:
    units = system.build.units
    for p in system.pumped.values():
        if any(stretch is one for one in (*p.line.si.suction, *p.line.si.pipe)):
            return float(FLOW.shown(p.stretch_flow[stretch.si.name], units)), float(SPEED.shown(p.stretch_speed[stretch.si.name], units))
    fall = system.falling[stretch.si.name]
    return float(FLOW.shown(fall.load, units)), float(SPEED.shown(fall.speed, units))


def _pictures(drawing, title: str, *given) -> list[SheetDrawing | Words]:
    """A drawing on as many sheets as it takes, or a sentence where it cannot be made."""
    try:
        sheets = drawing(*given).sheets()
        names = [f"{title}, sheet {k + 1} of {len(sheets)}" if len(sheets) > 1 else title for k in range(len(sheets))]
        said = [sheets[0].alt(), *(f"{name}: what stands under sheet 1 says all of it in words." for name in names[1:])]
        return [SheetDrawing(*one) for one in zip(names, (drawn.svg() for drawn in sheets), said)]
    except DesignError as wrong:
        return [Words(f"{title}: {wrong}")]

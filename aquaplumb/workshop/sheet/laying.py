"""What a build sheet says of pipe in the ground and in conduits: where each lies, how full each conduit is, and the order of work."""

from __future__ import annotations

from aquaplumb.build import Build
from aquaplumb.build.laid import COVER, Filled, Laid, filled, laid
from aquaplumb.power import shock_protection
from aquaplumb.review.findings.buried import BEDDING, TRENCH
from aquaplumb.units import ANGLE, BORE, LENGTH
from aquaplumb.workshop.cut_list import shown_name
from aquaplumb.workshop.parts.laying import CAUTIONS
from aquaplumb.workshop.sheet.records import Block, Caution, Chapter, Grid, NumberedSteps, Words, amount, count, words


def laying(build: Build) -> list[Chapter]:
    """The chapter on it; none where nothing lies in the ground or in a conduit."""
    pipes, ducts = laid(build), filled(build)
    if not pipes and not ducts:
        return []
    digs = any(p.cover is not None for p in pipes) or any(f.conduit.buried is not None for f in ducts)
    blocks: list[Block] = [Caution(CAUTIONS[0])] if digs else []
    blocks += _mains(ducts, build.units)
    blocks += [_pipes(pipes, build.units)] if pipes else []
    blocks += [_ducts(ducts, build.units)] if ducts else []
    blocks += [Words("In this order:"), NumberedSteps(tuple(_steps(pipes, ducts, build.units, digs=digs)))]
    return [Chapter("laying", "In the ground and in conduits", tuple(blocks))]


def _mains(ducts: tuple[Filled, ...], units: str):
    if any(f.of("mains") for f in ducts):
        yield Caution(
            f"Mains cable is for a licensed electrician, by your local code: a conduit without water in it, deep enough, behind a {shock_protection(units)}."
        )


def _pipes(pipes: tuple[Laid, ...], units: str) -> Grid:
    rows = tuple((shown_name(p.name), p.where(units), float(LENGTH.shown(p.pipe.length, units)), float(p.boxes), p.frost) for p in pipes)
    columns = (words("pipe"), words("lies"), amount("length", LENGTH, units, 2), count("boxes"), words("against frost"))
    return Grid("laid", "What lies where", columns, rows)


def _ducts(ducts: tuple[Filled, ...], units: str) -> Grid:
    rows = tuple(
        (
            shown_name(f.conduit.name),
            f.conduit.size or "by its bore",
            float(BORE.shown(f.conduit.bore, units)),
            ", ".join([shown_name(p.name) for p in f.pipes] + [c.name for c in f.cables]),
            100 * f.fill,
            100 * f.limit,
            float(ANGLE.shown(f.conduit.bends, units)),
        )
        for f in ducts
    )
    columns = (
        words("conduit"),
        words("size"),
        amount("inside", BORE, units),
        words("in it"),
        count("filled", "%", 0),
        count("at most", "%", 0),
        count("turns, of 360", ANGLE.unit(units), 0),
    )
    return Grid("conduits", "How full each conduit is", columns, rows)


def _steps(pipes: tuple[Laid, ...], ducts: tuple[Filled, ...], units: str, *, digs: bool):
    """The order of work; common practice, no source, but for what `CAUTIONS` names."""
    if digs:
        deep = max(
            [p.cover + p.outside for p in pipes if p.cover is not None]
            + [f.conduit.buried + f.conduit.bore for f in ducts if f.conduit.buried is not None]
        )
        yield "Have what lies in the ground marked by its owners; mark your own trench between."
        yield f"Dig: {COVER.text(deep + BEDDING, units)} at the deepest, soil well away from the edge." + (
            f" That is over {COVER.text(TRENCH, units)}: not without shoring, or leave it to a firm." if deep + BEDDING >= TRENCH else ""
        )
        yield "Lay a hand’s breadth of sand without stones, level or with the fall of the drain."
    if ducts:
        yield "Lay or hang each conduit, with its draw cord and boxes; pull the pipes through before their ends are cemented, all that shares a conduit at once."
    yield f"Cement, and wait (the cure times stand under the leak test). {CAUTIONS[1].split('. ')[0]}."
    if digs:
        yield "Take a photograph with a rule in it, and write on the drawing how far from a wall each trench runs."
        yield "Cover with sand, fill half, lay the warning tape, fill the rest in layers. Seal the ends of conduits."

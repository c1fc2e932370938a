"""What pipe in the ground and in conduits asks for: conduit, bends, seals, boxes, warning tape, and the cautions that go with a spade."""

from __future__ import annotations

import math

from aquaplumb.build import Build
from aquaplumb.build.laid import Filled, filled, laid
from aquaplumb.plumbing import conduits
from aquaplumb.units import BORE, LENGTH
from aquaplumb.workshop import supports
from aquaplumb.workshop.parts.tally import Tally, quoted

GROUP, HANGING = "Trench and conduit", "Joining and hanging"
_TAPE = "halfway up, of a kind that a detector finds: plastic cannot be found again (common practice)"
CAUTIONS = (
    "Before you dig: have gas, power, water and telephone lines marked (in the US call 811 some days before), and dig by hand near the marks. "
    "Never stand alone in a trench; from 1.2 m (4 ft) deep do not go in unless it is sloped or shored.",
    "Let cemented joints cure, fill the pipe, run it at its full head and look at each joint before anything is covered. "
    "Bed it on a hand’s breadth of sand without stones, the same over it; nothing heavy drives over it unless it lies deep enough in a conduit that bears it.",
)  # both common practice, no source; 811 and 4 ft as in `aquaplumb.review.findings.buried`


def laying(build: Build, tally: Tally, *, warmest: float) -> None:
    """Count what lies in the ground and in conduits; `warmest` is in K."""
    pipes, unit = laid(build), LENGTH.unit(build.units)

    def run(what: str, size: str, length: float, where: str, why: str = "", *, implied: bool = False) -> None:
        tally.add(GROUP, what, size, round(float(LENGTH.shown(length, build.units)), 2), where, unit=unit, implied=implied, why=why)

    for f in filled(build):
        c, where = f.conduit, quoted(f.conduit.name)
        size = c.size or f"bore {BORE.text(c.bore, build.units)}"
        inside = ", ".join([quoted(p.name) for p in f.pipes] + list(dict.fromkeys(one.name for one in f.cables)))
        run("conduit", size, c.length, f"{where}, with {inside or 'nothing'} in it")
        if f.make == "PVC conduit":
            turns = math.ceil(c.bends / (math.pi / 2) - 0.01)
            tally.add(
                GROUP, "conduit bend", size, turns, f"in {where}", why="long sweeps; of its worst part only, so count the other turns"
            )
        tally.add(GROUP, "end seal", size, 2, f"at the ends of {where}", implied=True, why="against mice, gas and water")
        run("draw cord", "", c.length, f"in {where}", "left in, to pull the next one", implied=True)
        tally.add(GROUP, "box with a lid", "", math.ceil(c.boxes), f"on {where}")
        if c.buried is None:
            _brackets(f, size, where, tally, warmest)
        else:
            run("warning tape", "", c.length, f"over {where}", _TAPE, implied=True)
    for p in pipes:
        tally.add(GROUP, "box with a lid", "", math.ceil(p.pipe.boxes), f"over {quoted(p.name)}")
        if p.pipe.buried is not None:
            run("warning tape", "", p.pipe.length, f"over {quoted(p.name)}", _TAPE, implied=True)
        if p.frost == "insulated":
            tally.note(f"{quoted(p.name)} is to be insulated: the foam is not counted.")
    if any(c.si.cables for c in build.conduits.values()):
        tally.note("Cables in conduits are not counted; mains ones are your electrician’s.")
    if any(p.cover is not None for p in pipes) or any(c.si.buried is not None for c in build.conduits.values()):
        for words in CAUTIONS:
            tally.note(words)


def _brackets(f: Filled, size: str, where: str, tally: Tally, warmest: float) -> None:
    """Of a conduit that hangs, as of a pipe of its width that is full of water."""
    outside = conduits.conduit_size(f.conduit.size).si.outside_diameter if f.conduit.size else f.conduit.bore
    standard = "Sch 40" if f.make == "PVC conduit" else ""
    count = supports.bracket_count.si(f.conduit.length, supports.support_spacing.si(outside, warmest, standard=standard))
    tally.add(
        HANGING, "bracket", size, int(count), f"along {where}", why="both ends of each stretch, a spacing between, and one at each valve"
    )

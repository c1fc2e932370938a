"""The first page of a build sheet, which is enough by itself on the wall: verdict, drawing, heights, valves, and what kills fish here."""

from __future__ import annotations

import hashlib
import math

import numpy as np

from aquaplumb.figures.elevation import Elevation
from aquaplumb.review import Review
from aquaplumb.system.air_plan import TYPICAL
from aquaplumb.system.drills import drills
from aquaplumb.system.loose_pipes import loose_pipes
from aquaplumb.units import DesignError, roughly
from aquaplumb.workshop.cut_list import high, tape
from aquaplumb.workshop.paper import svg_text
from aquaplumb.workshop.sheet.adjusting import valves
from aquaplumb.workshop.sheet.records import Block, Caution, Chapter, Grid, Points, SheetDrawing, Words, words

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # without I and O, which are read as figures
_MARK = 6  # letters
_LOW = 0.5  # of a fish tank's usual depth; a tank that falls lower than that is told as lost: common practice, no source
_MOST_ROWS = 8  # of each table on a page that has room for no more


class _Side(Elevation):
    """The drawing of the wall's page: as on the pages, a little flatter and without its title."""

    height, titled = 330, False


def mark(chapters: tuple[Chapter, ...]) -> str:
    """Six letters that stand for all that a sheet says, so that two prints can be told apart."""
    number = int.from_bytes(hashlib.sha256(repr(chapters).encode()).digest()[:8], "big")
    found = ""
    for _ in range(_MARK):
        number, rest = divmod(number, len(_LETTERS))
        found += _LETTERS[rest]
    return found


def wall(seen: Review) -> Chapter:
    """The page for the wall."""
    build, units = seen.build, seen.build.units
    blocks: list[Block] = [] if seen.sound else [Caution("Not ready to build: mend every “stop” and “fix” on the next page first.")]
    try:
        drawn = _Side(build)
        drawn.png()
        title = "From the side, heights to scale"
        blocks.append(SheetDrawing(title, svg_text(drawn.figure, title, "wall"), drawn.alt(build), upright=True))
    except DesignError as wrong:
        blocks.append(Words(str(wrong)))
    found = list(build.vessels.values())
    rows = tuple(
        (v.si.name, high(v.si.floor, units), high(v.level, units), high(v.rim, units), tape(v.si.working_depth, units))
        for v in found[:_MOST_ROWS]
    )
    columns = (words("vessel"), words("inside floor"), words("fill to"), words("rim"), words("depth when filled"))
    more = f"; {len(found) - _MOST_ROWS} more under Heights" if len(found) > _MOST_ROWS else ""
    blocks.append(Grid("wall heights", f"Heights from the zero mark{more}", columns, rows))
    blocks += _valves(seen.system)
    blocks.append(
        Grid(
            "dangers",
            "What kills fish here first, and what to do",
            (words("what"), words("how soon"), words("do this first"), words("more under")),
            tuple(_dangers(seen.system)),
        )
    )
    return Chapter("wall", "On the wall", tuple(blocks))


def _valves(system) -> list[Block]:
    grid = next((block for block in valves(system).blocks if isinstance(block, Grid)), None)
    if grid is None:
        return [Points(("No valves to set.",))]
    rows = tuple((row[1], row[3], row[6]) for row in grid.rows[:_MOST_ROWS])
    more = f" ({len(grid.rows) - _MOST_ROWS} more under Valve settings)" if len(grid.rows) > _MOST_ROWS else ""
    return [
        Grid("wall valves", f"Valves to begin with, then by the bucket{more}", (words("branch"), words("valve"), words("handle")), rows)
    ]


def _dangers(system):
    """Three things that kill fish, the quickest first: air, water lost, and what water brings or bacteria leave."""
    found = [*_air(system), *_lost(system), _poison(system)]
    return [row for _, row in sorted(found, key=lambda one: one[0])][:3]


def _air(system):
    worst = None
    for plan in system.airs.values():
        for what, failure in plan.failures.items():
            time = float(failure.lasts[TYPICAL])
            if worst is None or time < worst[0]:
                worst = time, what, plan
    if worst is None:
        return
    time, what, plan = worst
    spare = (
        f"See that the spare ({plan.spare.name}) blows; if not, start it by hand"
        if plan.spare.name
        else "Lift water by the bucket and pour it back from chest height, all the time; there is no spare air in your file"
    )
    bare = float(plan.failures[what].bare[TYPICAL])
    soon = f"{roughly(time)} until danger" if math.isfinite(time) else "it holds with the spare"
    if plan.spare.name and math.isfinite(bare) and bare < time:
        soon += f" with the spare, {roughly(bare)} without"
    yield (
        time if math.isfinite(time) else 1e8,
        (f"No air: {what}", soon, f"{spare}. No feed. Then look for the plug, the fuse, the breaker.", "Set-up and test drills"),
    )


def _lost(system):
    """The failure that takes most water out of a fish tank; a pipe that comes off its pump is one."""
    build = system.build
    found = []  # part left, tank, what fails, seconds
    try:
        every = drills(build).every
    except DesignError:
        return
    for drill in every:
        for name in (v.si.name for v in build.of_kind("fish tank")):
            i = drill.run.vessels.index(name)
            after = drill.run.time >= drill.at
            depth = drill.run.depth[after, i]
            part = float(depth.min()) / build.vessels[name].si.working_depth
            found.append((part, name, drill.words, float(drill.run.time[after][int(np.argmin(depth))] - drill.at)))
    found += [
        (one.left / build.vessels[one.tank].si.working_depth, one.tank, f"the pipe of {one.line} comes off its pump", 60 * one.minutes)
        for one in loose_pipes(system)
    ]
    if not found:
        return
    part, name, fails, time = min(found, key=lambda one: one[0])
    deep = tape(part * build.vessels[name].si.working_depth, build.units)
    lost = part < _LOW
    what = f"{name} loses its water" + (f": {fails}" if lost else "")
    soon = f"down to {deep} in {roughly(time)}" if time > 0 and lost else f"no lower than {deep} in any failure tried"
    refill = (
        "fill from the sump, not from the tap"
        if build.of_kind("sump")
        else "fill with water that its chlorine is out of, as warm as theirs"
    )
    yield (
        (time if lost else 5e7),
        (
            what,
            soon,
            f"Pull the pump's plug. Shut the valve or lift the pipe that takes water out; then {refill}.",
            "Set-up and test drills",
        ),
    )


def _poison(system):
    water = system.build.water.si
    chlorine = water.disinfectant or (system.build.upkeep and system.build.upkeep.si.tap_chlorine > 0)
    if chlorine and not water.rested:
        return 6e7, (
            "Tap water: its chlorine burns gills",
            "minutes to hours after a top-up",
            "Take the chlorine out before it goes in, and drip it in slowly. After a slip: dechlorinator for the whole volume, full air.",
            "Upkeep calendar",
        )
    return 7e7, (
        "Ammonia and nitrite, before the bacteria have grown or after they have died",
        "days",
        "Stop feeding, test, change up to a third of the water with treated water of the same warmth, full air.",
        "Upkeep calendar",
    )

"""The chapter of a build sheet with the order of the work: what comes after what, with how many hands, and how long it may take.

Hours are bands of common practice, no source; cement waits by its own table, and bacteria by their own time.
"""

from __future__ import annotations

import datetime
import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

from aquaplumb.build.laid import laid
from aquaplumb.build.standing import standing
from aquaplumb.system.steady import Steady
from aquaplumb.units import LENGTH, DesignError, rounded
from aquaplumb.workshop import cement
from aquaplumb.workshop.cut_list import CutList
from aquaplumb.workshop.holes import holes
from aquaplumb.workshop.sheet.records import Caution, Chapter, Grid, Points, Words, pen, words

_DAY_OF_WORK = 6.0  # h that hands work in a day; common practice, no source
_CYCLING = (
    36.0,
    56.0,
)  # d until bacteria bear the full load: 5.2 weeks at 17 °C (Gallego-Alarcón and García-Pulido 2017) to 8 (Kentucky State University 2021)
_WATER_ALONE = 7.0  # d with water, pumps and drills before anything lives in it; common practice, no source
_SPAN = (255.3, 311.2)  # K, where the table of curing times ends


@dataclass(frozen=True, slots=True)
class WorkStep:
    """A step: what to do, how many hands, the least and most hours of work, and hours of waiting after it."""

    what: str
    done_when: str
    hands: int
    low: float
    high: float
    wait: float = 0.0


def order(system: Steady, cuts: CutList, start: datetime.date | None = None) -> Chapter:
    """The order of the work, with a calendar from a date, or from the first day where none is given."""
    build = system.build
    tasks = list(_tasks(system, cuts))
    rows, first, last, water = [], 0.0, 0.0, (0.0, 0.0)
    for number, task in enumerate(tasks, start=1):
        if task.what.startswith("Flush"):
            water = first, last
        begins, ends = _day(first, start), _day(last, start)
        when = begins if begins == ends else f"{begins} to {ends}"
        rows.append((str(number), task.what, task.done_when, str(task.hands), _hours(task), _waits(task.wait), when))
        for_low, for_high = (hours / _DAY_OF_WORK + task.wait / 24 for hours in (task.low, task.high))
        first, last = first + for_low, last + for_high
    columns = (
        words("no."), words("what"), words("done when"), words("hands"), words("hours of work"), words("then wait"), words("begins"), pen("done on"),
    )  # fmt: skip
    cycled = (first + _WATER_ALONE + _CYCLING[0], last + _WATER_ALONE + _CYCLING[1])
    said = (
        f"Reckoned with {_DAY_OF_WORK:g} hours of work a day; hours are for {'the hands named' if any(t.hands > 1 for t in tasks) else 'one person'}, from who has done it to who has not. Common practice, no source.",
        f"First water {_both(water, start)}; then a week with water alone: leaks, bucket, drills.",
        f"Fish not before {_both(cycled, start)}: bacteria take 5 to 8 weeks from the first ammonia, and only tests say when (see Upkeep).",
        "Rain, cold and a part that does not fit double it. Nothing on this list is hurried at the cost of a cured joint.",
    )
    cautions = [
        Caution(
            "What is fixed wiring, and any mains near water, is for a licensed electrician; a pit deeper than your knees, a deck or a floor that carries tanks is asked about first."
        )
    ]
    cautions += (
        [
            Caution(
                f"Pits and trenches: have gas, power and water lines marked before you dig; shore or slope what is deeper than {'4 ft' if build.units == 'US' else '1.2 m'}; cover and fence it each evening."
            )
        ]
        if _pit(build) > 0 or laid(build)
        else []
    )
    return Chapter(
        "order",
        "Order of work",
        (
            Words("From the ground up; a step begins when the one before is done."),
            *cautions,
            Grid("order", "What comes after what", columns, tuple(rows)),
            Points(said),
        ),
    )


def _tasks(system: Steady, cuts: CutList) -> Iterator[WorkStep]:
    build = system.build
    vessels = list(build.vessels.values())
    many = sum(v.si.count for v in vessels)
    area = math.prod(standing(build).size)
    yield WorkStep(
        "Mark the site: zero mark, string round every vessel, paths",
        "you have walked every path, and the level reads the same at each stand",
        1,
        1 + 0.05 * area,
        2 + 0.15 * area,
    )
    if pit := _pit(build):
        yield WorkStep(
            "Dig the pit, level and line it",
            "it is wider than its vessel by a spade all round, its floor level and firm",
            2,
            2 * pit,
            6 * pit,
        )
    runs = laid(build)
    if runs:
        metres = sum(p.pipe.length for p in runs)
        yield WorkStep(
            "Buried runs: trench, pipe or conduit, sand, tested before it is covered",
            f"{LENGTH.text(metres, build.units)} hold their test pressure, and are drawn on the plan",
            2,
            1 + 0.4 * metres,
            2 + 1.2 * metres,
        )
    yield WorkStep(
        "Stands and bases for every vessel, by the load on this sheet",
        "a level lies true both ways on each, and nothing rocks under your weight",
        2,
        0.5 * many,
        1.5 * many,
    )
    drilled = len(holes(build))
    if drilled:
        yield WorkStep(
            "Mark and drill the holes, lowest first; tank fittings in",
            "each vessel holds water to over its highest fitting for an hour",
            1,
            0.3 * drilled,
            0.8 * drilled,
        )
    heat = build.heat.si if build.heat else None
    if heat and heat.insulation > 0:
        yield WorkStep(
            "Foam under each vessel, only of a kind that is made to bear it full",
            "no edge of a vessel stands over it, and the level still lies true",
            1,
            0.1 * many,
            0.4 * many,
        )
    yield WorkStep("Set the vessels", "each stands on its mark, level, rim at its height", 2, 0.25 * many, 0.75 * many)
    pieces = sum(len(run.pieces) for run in cuts.runs)
    yield WorkStep(
        "Saw, label and bag the pieces; dry-fit every line",
        "every end is at its height, and a pencil line goes over each joint",
        1,
        0.1 * pieces,
        0.3 * pieces,
    )
    joints = sum(bool(a.out) + bool(b.into) for run in cuts.runs for a, b in itertools.pairwise(run.joints))
    if joints:
        yield WorkStep(
            "Cement, line by line; threads taped, unions dry",
            "no joint without its bead all round, and the hour is written on it",
            2,
            0.05 * joints,
            0.15 * joints,
            _cure(system, cuts),
        )
    brackets = sum(1 for run in cuts.runs for _ in range(max(1, round(run.stretch.length))))
    yield WorkStep(
        "Brackets, pumps, floats, air; mains by the electrician",
        "the device that cuts the mains trips when its button is pressed",
        2,
        2 + 0.05 * brackets,
        5 + 0.15 * brackets,
    )
    yield WorkStep("Flush: fill with tap water, pumps run without strainers only over clean water, throw it away", "it runs clear", 1, 2, 4)
    yield WorkStep("Leak test: fill, pumps off", "no level has fallen but by what the sun takes", 1, 0.5, 2, 24)
    if heat and (heat.insulation > 0 or heat.covered > 0):
        warm = [words for words, there in (("foam round the walls", heat.insulation > 0), ("lids on", heat.covered > 0)) if there]
        yield WorkStep(
            ", ".join(warm).capitalize(),
            "no joint is hidden that was not dry for a day, air finds a way in, and each lid lifts with one hand",
            1,
            0.2 * many,
            0.8 * many,
        )
    if media := system.living.media:
        yield WorkStep("Rinse and fill in the media", "the last rinse is clear", 2, 8 * media, 20 * media)
    yield WorkStep("Valves, bucket, drills, alarms", "every number on this sheet has yours beside it", 2, 3, 8)


def _pit(build) -> float:
    """What is dug out [m³]."""
    return sum(
        max(0.0, -v.si.floor) * (v.si.length or v.si.diameter) * (v.si.width or v.si.diameter) * v.si.count for v in build.vessels.values()
    )


def _cure(system: Steady, cuts: CutList) -> float:
    """How long the cement waits [h], in the coldest air or water that the file knows; the largest pipe decides."""
    build = system.build
    coldest = build.heat.si.coldest_air if build.heat else build.site.si.coldest_water
    kelvin = min(max(coldest, _SPAN[0]), _SPAN[1])
    found = [0.0]
    for size in {one.si.cement for one in cuts if one.si.cement}:
        try:
            found.append(float(cement.cure_time.si(size, kelvin)) / 3600)
        except DesignError:
            continue
    return max(found)


def _hours(task: WorkStep) -> str:
    low, high = (rounded(max(0.5, round(2 * h) / 2)) for h in (task.low, task.high))
    return low if low == high else f"{low} to {high}"


def _waits(hours: float) -> str:
    return "" if not hours else f"{rounded(hours)} h" if hours < 72 else f"{rounded(hours / 24)} days"


def _day(days: float, start: datetime.date | None) -> str:
    whole = int(days)
    return f"day {whole + 1}" if start is None else f"{start + datetime.timedelta(days=whole):%d %b %Y}"


def _both(days: tuple[float, float], start: datetime.date | None) -> str:
    low, high = (_day(one, start) for one in days)
    return f"from {low} on" if low == high else f"between {low} and {high}"

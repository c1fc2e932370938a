"""What to try on the panel of notebook 09, which minutes to play, and what to see in a build's own power cut."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from aquaplumb.build import Build
from aquaplumb.build.shapes import SIZES
from aquaplumb.build.vessels import kinds_in_words, plan_area
from aquaplumb.system.failures import CHECK, LEAK, LOOSE, NO_TOP_UP, OUTLET, RAINING
from aquaplumb.system.steady import solved
from aquaplumb.units import AREA, DAY, DEPTH, LENGTH, SHARE, VOLUME, lasting, si_value
from aquaplumb.whatif.keeping import listed
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.levels_time import Levels, LevelsWhatIf

_STEP, _BEFORE, _LONG, _BACK = 120.0, 240.0, 3600.0, 2400.0  # s: from moment to moment, before the failure, and at most after it
_STILL = 2e-3  # m, less than which nobody sees
_TOO_SMALL = 0.9  # of the area that just holds what comes down
_WEEKS = 28 * 86400.0
_OVER = 0.02  # m, the low switch over the depth at which its pump draws air


def minutes_that_matter(run, bands) -> tuple[float, ...]:
    """The moments to play: from just before a failure while levels move, and again when it is over; bare [s]."""
    end = float(run.time[-1])
    begin, until, _ = bands[0] if bands else (0.0, end, "")
    found = _moving(run, begin, min(begin + _LONG, until if until < end else end))
    if until < end:
        found += _moving(run, until, min(until + _BACK, end))
    return tuple(dict.fromkeys(found))


def _moving(run, at: float, until: float) -> list[float]:
    """From a little before a moment, in steps, as long as some level is on its way."""
    moments = np.arange(_STEP * math.floor(max(0.0, at - _BEFORE) / _STEP), until + 1.0, _STEP)
    depths = np.stack([np.interp(moments, run.time, run.depth[:, place]) for place in range(run.depth.shape[1])], axis=1)
    moves = np.abs(depths - depths[-1]).max(axis=1) > _STILL
    last = int(np.flatnonzero(moves)[-1]) + 2 if moves.any() else 4
    return [float(moment) for moment in moments[: last + 1]]


def of_levels(levels: LevelsWhatIf) -> list[Try]:
    """A sump too small, a way out blocked, rain, a pipe off, a leak, weeks without top-up, and the switch that saves the pump then."""
    own, build = levels.own(), levels.build
    first = levels(**own).si
    sump = build.vessels[levels.sump]
    before, after = _rise(first)
    height, area = sump.si.height, plan_area.si(sump)

    def told(record: Levels, system: str) -> str:
        return record.sentence(system, short=True)

    def spills(record: Levels, system: str) -> str:
        smaller = AREA.text(plan_area.si(record.si.build.vessels[levels.sump]), system)
        return f"Of {smaller}, where it has {AREA.text(area, system)}: {record.sentence(system, short=True)}"

    tries = []
    room = after > before and height > before
    part = _TOO_SMALL * (after - before) / (height - before) if room else 0.5
    across = own["across"] * (part if len(SIZES[sump.si.shape]) == 2 and sump.si.shape == "rectangular" else part**0.5)
    if 0.3 <= across < own["across"] - 0.05:
        tries.append(Try("A smaller sump: set *{across.label}* to **{across}**.", {"across": across}, spills))
    if OUTLET in levels.kinds:
        ways = levels.kinds[OUTLET]
        way = next((name for name in ways if not build.falling[name].si.emergency), ways[0])
        tries.append(Try("Now **{failure}**: **{where}**.", {"failure": OUTLET, "where": way}, told))
    tries.append(Try("Now **{failure}**.", {"failure": RAINING}, told))
    if CHECK in levels.kinds:
        tries.append(
            Try("Now **{failure}** while the power is off: **{where}**.", {"failure": CHECK, "where": levels.kinds[CHECK][0]}, told)
        )
    for kind in (LOOSE, LEAK):
        if kind in levels.kinds:
            tries.append(Try("Now **{failure}**: **{where}**.", {"failure": kind, "where": levels.kinds[kind][0]}, told))
    dry = {"failure": NO_TOP_UP, "days": _WEEKS}
    tries.append(Try("Nobody is there: **{failure}** for **{days}**.", dry, told))
    cut = _OVER + (build.pumped[levels.switched].si.inlet_depth or 0.1)
    if own["cut"] < cut:
        tries.append(Try("The same **{days}** of **{failure}**, with *{cut.label}* at **{cut}**.", {**dry, "cut": cut}, _saved))
    return tries


def _saved(record: Levels, system: str) -> str:
    o = record.si.outcome
    said = record.sentence(system, short=True)
    gap = next(
        (
            f" No new water reaches {tank.name} for {lasting(tank.gap)}: the switch saves the pump, not the fish."
            for tank in o.tanks
            if tank.gap
        ),
        "",
    )
    return f"{said}{gap}"


def _rise(r) -> tuple[float, float]:
    """The depth of the lowest vessel when it fails, and its highest after that [m]."""
    run, sump = r.run, r.watched[-1]
    begin, until, _ = r.bands[0] if r.bands else (0.0, float(run.time[-1]), "")
    depth = run.depth[:, run.vessels.index(sump)]
    then = (run.time >= begin) & (run.time <= until)
    return float(np.interp(begin, run.time, depth)), float(depth[then].max())


def seen_in(r, system: str) -> str:
    """What to see in the picture of one power cut."""
    said = "Above: how full each vessel is, hour by hour; at 100 % water goes over the rim. Below: the build at the moment of the dashed line. Blue pipes carry water; red-orange is a spill, or a pump that draws air."
    if not r.bands:
        return said
    before, after = _rise(r)
    begin = r.bands[0][0]
    when = " The cut comes at the worst moment of the beds' round." if any(line.si.siphon for line in r.build.falling.values()) else ""
    rise = f" {r.watched[-1].capitalize()} rises by {DEPTH.text(after - before, system)}" if after > before + _STILL else ""
    still = r.stories[r.watched[-1]]
    room = r.build.vessels[r.watched[-1]].si.height - still.highest
    left = f" and has {DEPTH.text(room, system)} left to its rim." if room > 0 else " and runs over."
    return f"{said}{when}{rise + left if rise else ''} It fails {lasting(begin)} into the picture."


def differs(r, d, system: str) -> str:
    """Why a build's sump rises more or less than that of the guess."""

    def came(one) -> tuple[str, str, str]:
        before, after = _rise(one)
        area = plan_area.si(one.build.vessels[one.watched[-1]])
        return DEPTH.text(after - before, system), VOLUME.text(area * (after - before), system), AREA.text(area, system)

    rise, volume, area = came(r)
    theirs, _, wide = came(d)
    if (rise, area) == (theirs, wide):
        return f"Your {r.watched[-1]} rises by **{rise}** too."
    ours = any(line.si.siphon for line in r.build.falling.values())
    kinds = kinds_in_words(r.build.growing) or "vessels"
    stay = (
        "run empty"
        if r.build.growing and all(v.si.kind in ("channel", "tower") for v in r.build.growing)
        else "keep their water, but for what stands over a lip"
    )
    why = "" if ours else f" Their beds empty by siphons; your {kinds} {stay}."
    return f"Your {r.watched[-1]} rises by **{rise}**: {volume} come down into {area}. In the guess {theirs}, where it has {wide}.{why}"


def risen(record: Levels, system: str) -> str:
    """How far the water of the lowest vessel rises when it fails, in words: the one number of picture, sentence and sum."""
    before, after = _rise(record.si)
    return f"from {LENGTH.text(before, system)} to {LENGTH.text(after, system)}: a rise of {DEPTH.text(after - before, system)}"


def topped_up(build: Build) -> str:
    """What a build is topped up by in a day, and of how much water, in words."""
    system = solved(build)
    plan, units = system.upkeep, build.units
    day = plan.make_up * DAY
    return f"{VOLUME.text(day, units)} a day, {SHARE.text(day / plan.water)} of {VOLUME.text(plan.water, units)}"


def kept_in_words(new: dict, system: str) -> str:
    """What a Keep has written, each length as its box has it: the file has 0.010 m for 10 mm."""
    kinds = {keys: DEPTH if keys[-1].endswith("_depth") else LENGTH for keys in new}
    said = {keys: value and kinds[keys].text(si_value(str(value), LENGTH, keys[-1]), system) for keys, value in new.items()}
    names = {"cut_out_depth": "low switch"}
    return ", ".join(f"{keys[1]}: {listed({keys: value}, names=names)}" for keys, value in said.items()) or "nothing changed"

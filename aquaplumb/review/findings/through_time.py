"""Findings from water through time: what spills, runs dry or drains away when something fails.

They read the standard failures of a build (`aquaplumb.system.drills`), and say nothing where a steady finding has said it.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.build.vessels import plan_area
from aquaplumb.plumbing import siphons
from aquaplumb.review.findings.base import among, at_least, at_most, finding, fix, note, stop
from aquaplumb.review.findings.siphon_cures import cure_for_a_dribble, cure_for_one_that_runs_on
from aquaplumb.system.drills import EARLY, FIRST_START, OFF, Drill, drills
from aquaplumb.system.failures import CHECK, DARK, FLAT, MAINS, NO_START, NO_STOP, NOTHING, OUTLET, POWER, PUMP
from aquaplumb.system.outcome import DRY, run_back, safe_depth, spills, without_water
from aquaplumb.units import FLOW, HEAD, HOUR, LENGTH, VOLUME, lasting

# All common practice, no source.
_BACK = 0.01  # m³ that run back through a pump's line unnoticed
_OVER = 0.02  # m: a hole for air this far over the usual water stays in the air
_ROUNDING = 1e-9  # m
_DROP = 1e-4  # m³ on the floor that nobody sees
_BEFORE = 0.02  # m over a pump's inlet at which a switch stops it
_MOIST = "media keep roots moist for about a day, in hot weather for less"
_BARE = "without a medium plants die within a few hours in hot weather"
_NAMED = 3  # blocked outlets that are told by name: the words would have no end
_LONGER = 1.5  # times as long dry as on any day, before a start is to blame
_BACK_AGAIN = {
    POWER: "the power comes back",
    MAINS: "the mains are back",
    FLAT: "the battery is charged again",
    DARK: "the panel has sun again",
}


# --- reading a drill -----------------------------------------------------------------------------


def _spills(drill: Drill) -> dict[str, tuple[float, float]]:
    """What goes over each rim after the failure [m³], and how long after it begins [s]."""
    return spills(drill.run, drill.at)


def _worst(found: list[Drill]) -> dict[str, tuple[float, float, Drill]]:
    """By vessel, the worst spill of several drills: (volume [m³], how long after [s], which)."""
    worst: dict[str, tuple[float, float, Drill]] = {}
    for drill in found:
        for name, (volume, after) in _spills(drill).items():
            if name not in worst or volume > worst[name][0]:
                worst[name] = volume, after, drill
    return worst


def _always(system) -> set[str]:
    """The vessels that spill when nothing fails at all: said once, elsewhere."""
    return set(_worst(_unbroken(system)))


def _unbroken(system) -> list[Drill]:
    """The runs in which nothing fails: siphons start late, and as early as they may."""
    return [drill for kind in (NOTHING, EARLY) for drill in drills(system.build).of(kind)]


def _after(seconds: float) -> str:
    """How long after a failure, in words."""
    return f"{lasting(seconds)} later" if seconds >= DRY else "at once"


def _more_room(system, name: str, volume: float, say) -> str:
    """How to give a vessel room for so much more."""
    vessel = system.build.vessels[name]
    higher = volume / plan_area.si(vessel)
    return f"It needs room for {say(VOLUME, volume)} more: walls {say(LENGTH, higher)} higher, or water {say(LENGTH, higher)} lower in daily use"


@finding("failures not run through", notebook="09", through_time=True)
def not_run_through(system, say):
    """A build whose water cannot be followed through time: none of the findings below could look."""
    if refused := drills(system.build).refused:
        yield stop(
            refused.where,
            f"{refused.sentence} So no power cut and no other failure was tried: what spills or runs dry then is not known.",
            refused.cure,
        )


# --- the power fails ------------------------------------------------------------------------------


@finding("sump overflows on power cut", notebook="09", through_time=True)
def overflows_on_power_cut(system, say):
    """More water comes down than the lowest vessel has room for."""
    for name, (volume, after, drill) in _worst(drills(system.build).cuts()).items():
        if name not in _always(system):
            yield stop(
                name,
                f"When {drill.kind}, {name} is at its rim {_after(after)}, and {say(VOLUME, volume)} go over it.",
                f"{_more_room(system, name, volume, say)}; or let less come down (a higher vent or lip).",
            )


@finding("pump runs dry on start", notebook="09", through_time=True)
def dry_on_start(system, say):
    """When the power is back, or at the very first start, a pump empties its vessel before any water has come round."""
    for line in system.pumped.values():
        usual, _ = drills(system.build).of(NOTHING)[0].run.longest_dry(line.name)
        worst = max(drills(system.build).cuts(), key=lambda d: d.run.longest_dry(line.name, after=d.at + OFF)[0])
        dry, when = worst.run.longest_dry(line.name, after=worst.at + OFF)
        first, beds = drills(system.build).of(FIRST_START)[0].run, system.beds.words
        if dry > max(DRY, _LONGER * usual):
            lost = sum(volume for volume, _ in _spills(worst).values())
            yield fix(
                line.name,
                f"When {_BACK_AGAIN[worst.kind]}, the pump of {line.name} has {line.source.name} down at its inlet {_after(when - worst.at - OFF)} and draws air {_so_long(worst.run, dry, when)}"
                + (f": {say(VOLUME, lost)} are on the floor." if lost else "."),
                _switch(line, say) + (" Mend the spill first: what is lost is missing at the start." if lost else ""),
            )
        elif (stretch := first.longest_dry(line.name))[0] > max(DRY, _LONGER * usual):
            yield note(
                line.name,
                f"Started with dry {beds}, the pump of {line.name} draws air {_so_long(first, *stretch)}: the {beds} take {say(VOLUME, _beds_take(first))} before any comes back.",
                f"Fill the {beds} with a hose until they run over, and only then switch on.",
            )


def _so_long(run, dry: float, when: float) -> str:
    """How long a pump draws air [s]; where it still does at the end of the run, that end says nothing of it."""
    return f"for {lasting(dry)}" if when + dry < float(run.time[-1]) - DRY else "until somebody stops it"


def _switch(line, say) -> str:
    """The low-level switch that stops a pump before it draws air."""
    deep = (line.line.si.inlet_depth or 0.0) + _BEFORE - _ROUNDING
    return f'A low-level switch in the control of {line.name} stops it in time: cut_out_depth = "{at_least(say, LENGTH, deep)}".'


def _beds_take(run) -> float:
    """The most water that the beds of a run gain on their start [m³]."""
    beds = [i for i, name in enumerate(run.vessels) if run.build.vessels[name].grows]
    return float((run.volume[:, beds] - run.volume[0, beds]).max(axis=0).sum())


@finding("tank drains back through the pump line", notebook="09", through_time=True)
def drains_back(system, say):
    """Water runs back through a pump that stands still."""
    for kind, drilled in ((POWER, drills(system.build).cuts()), (CHECK, drills(system.build).of(CHECK))):
        for line in system.pumped.values():
            found = [d for d in drilled if not d.where or d.where == line.name]
            for drill in sorted(found, key=lambda d: -sum(run_back(d.run, line.name).values()))[:1]:
                for name, volume in run_back(drill.run, line.name).items():
                    vessel = system.build.vessels[name]
                    lowest = drill.run.vessel(name).si.lowest
                    harm = bool(_spills(drill)) or (
                        vessel.si.kind == "fish tank" and lowest < safe_depth(vessel, system.running_depth(name))
                    )
                    if volume < _BACK or not (harm or kind == POWER):
                        continue
                    severity = stop if harm and kind == POWER else fix
                    spilt = sum(v for v, _ in _spills(drill).values())
                    over = f"; {say(VOLUME, spilt)} go over the rim of {' and '.join(_spills(drill))}" if spilt else ""
                    words = f"When {drill.kind}" if kind == POWER else f"If the check valve of {line.name} sticks open in a power cut"
                    yield severity(
                        name,
                        f"{words}, {say(VOLUME, volume)} run from {name} back through {line.name}, which ends under water; it is left {say(LENGTH, lowest)} deep{over}.",
                        f"End that pipe above the water, or drill a hole of {_hole(system, line, name)} in it at {_hole_at(system, name, say)}, just above the usual water and inside {name}, where it drips back and lets air in (break_hole).",
                    )


def _hole(system, line, name: str) -> str:
    """The drill for the hole that lets air into a line's pipe into a vessel."""
    return siphons.drill(max(o.pipe.si.bore for o in line.outlets if o.to == name), system.build.units)


def _hole_at(system, name: str, say) -> str:
    """Where that hole goes: just above the highest water of hours in which nothing fails, and under the rim."""
    vessel = system.build.vessels[name]
    water = vessel.si.floor + drills(system.build).of(NOTHING)[0].run.vessel(name).si.highest
    return at_most(say, HEAD, vessel.rim) if water + _OVER > vessel.rim else at_least(say, HEAD, water + _OVER)


# --- fish ---------------------------------------------------------------------------------------


@finding("fish tank falls below a safe depth", notebook="09", through_time=True)
def tank_falls(system, say):
    """A failure that leaves the fish with less than half of their water."""
    for tank in system.build.of_kind("fish tank"):
        name = tank.si.name
        safe = safe_depth(tank, system.running_depth(name))
        low = [d for d in drills(system.build).every if d.run.vessel(name).si.lowest < safe]
        low = [d for d in low if not any(run_back(d.run, line).get(name, 0.0) > _BACK for line in d.run.pumps)]  # said by "drains back"
        if low:
            worst = min(low, key=lambda d: round(d.run.vessel(name).si.lowest, 3))  # of equal ones the first
            v = worst.run.vessel(name).si
            i = worst.run.vessels.index(name)
            when = float(worst.run.time[np.flatnonzero(worst.run.depth[:, i] < safe)[0]])
            begins = f"When {worst.words}," if worst.kind != NOTHING else "With nothing broken,"
            yield stop(
                name,
                f"{begins} {name} is down to half of its water {_after(max(0.0, when - worst.at))}, and falls to {say(LENGTH, v.lowest)}.",
                f"Let nothing take water from {name} below {say(LENGTH, tank.si.floor + safe)}: raise that lip, intake or pump inlet, or give the pump a low-level switch.",
            )


# --- what else spills or runs dry -------------------------------------------------------------------


@finding("spills while running", notebook="09", through_time=True)
def spills_while_running(system, say):
    """Water on the floor with nothing broken."""
    for name, (volume, after, drill) in _worst(_unbroken(system)).items():
        state, begins = system.vessels[name], "With nothing broken,"
        if drill.kind == EARLY:
            begins += " but siphons that start as early as they may,"
        if (
            state.peak > 0
            and not any(f.line.si.source == name for f in system.falling.values())
            and not any(p.line.si.source == name for p in system.pumped.values())
        ):
            continue  # "no overflow path" has said it
        yield stop(
            name,
            f"{begins} {name} is over its rim {_after(after)}: {say(VOLUME, volume)} on the floor in {lasting(drill.run.time[-1])}.",
            "Let less come at once (a siphon with a higher vent, a smaller bed), or give it a wider way out or more room."
            + ("" if _goes_on(drill, name) else f" {_more_room(system, name, volume, say)}."),
        )


@finding("spills when a pump or siphon fails", notebook="09", through_time=True)
def spills_when_one_fails(system, say):
    """One pump of several stops, or one siphon sticks, and something runs over."""
    kinds = (PUMP, NO_START, NO_STOP) if len(system.pumped) > 1 else (NO_START, NO_STOP)
    for name, (volume, after, drill) in _worst([d for kind in kinds for d in drills(system.build).of(kind)]).items():
        if name in _always(system) or (drill.kind == NO_START and _ways_out(system, name) < 2):
            continue
        yield stop(
            name,
            f"When {drill.words}, {name} is over its rim {_after(after)}; {say(VOLUME, volume)} go over it in {lasting(drill.run.time[-1] - drill.at)}.",
            "Give it an emergency overflow that leads to a vessel with room, or stop the pumps that fill it by a switch.",
        )


def _goes_on(drill: Drill, name: str) -> bool:
    """Whether a vessel still spills in the last hour of a run."""
    over = drill.run.spilled[:, drill.run.vessels.index(name)]
    return bool(over[-1] > over[np.searchsorted(drill.run.time, drill.run.time[-1] - HOUR)] + _DROP)


def _ways_out(system, name: str) -> int:
    return sum(f.line.si.source == name for f in system.falling.values())


@finding("no overflow path", notebook="09", through_time=True)
def no_path_when_blocked(system, say):
    """An outlet is blocked, and its vessel goes over the rim although it has another way out."""
    for name, (volume, after, drill) in _worst(drills(system.build).of(OUTLET)).items():
        source = system.falling[drill.where].root.si.name
        if name in _always(system) or (name == source and _ways_out(system, name) < 2):
            continue
        state = system.vessels[name]
        room = (
            f"Its other ways have to carry {say(FLOW, state.peak)} below the rim"
            if name == source
            else f"{name} has to hold what then comes"
        )
        yield fix(
            name,
            f"When {drill.words}, {name} is over its rim {_after(after)}; {say(VOLUME, volume)} go over it in {lasting(drill.run.time[-1] - drill.at)}.",
            f"{room}: a wider emergency overflow, or one with a lower lip.",
        )


@finding("pump runs dry", notebook="09", through_time=True)
def runs_dry(system, say):
    """A failure elsewhere empties a pump's vessel, and nothing stops the pump."""
    for line in system.pumped.values():
        kinds = (NOTHING, PUMP, NO_START, NO_STOP, OUTLET)
        found = [
            (d, *d.run.longest_dry(line.name, after=HOUR if d.kind == NOTHING else d.at))
            for kind in kinds
            for d in drills(system.build).of(kind)
        ]
        found = [entry for entry in found if entry[1] > DRY and not (entry[0].kind in (OUTLET, NO_START) and _spills(entry[0]))]
        if not found or (line.line.si.inlet_depth or 0.0) > line.source.si.working_depth:
            continue  # nothing, or "pump draws air" has said it
        drill, dry, when = next((e for e in found if e[0].kind == NOTHING), max(found, key=lambda e: e[1]))
        if drill.kind == NOTHING:
            yield stop(
                line.name,
                f"With nothing broken, the pump of {line.name} has {line.source.name} down at its inlet after {lasting(when)} and draws air {_so_long(drill.run, dry, when)}.",
                f"Put in more water, or let more come back. {_switch(line, say)}",
            )
        else:
            yield fix(
                line.name,
                f"When {drill.words}, the pump of {line.name} has {line.source.name} down at its inlet {_after(max(0.0, when - drill.at))} and draws air {_so_long(drill.run, dry, when)}.",
                _switch(line, say),
            )


@finding("beds get no water", notebook="09", through_time=True)
def beds_get_none(system, say):
    """A blocked outlet sends the beds' water another way for as long as nobody looks, and nothing else shows it."""
    growing = [bed.si for bed in system.build.growing if bed.si.kind != "raft"]  # under boards the water stays
    without = {}
    for drill in drills(system.build).of(OUTLET):
        dry = without_water(drill.run, [bed.name for bed in growing], drill.at)
        if dry and not _spills(drill):
            without.setdefault(dry, []).append(drill)
    for dry, drilled in sorted(without.items(), key=lambda item: -len(item[0]))[:1]:  # a branch that feeds fewer is seen at its bed
        bare = any(bed.kind in ("channel", "tower") and not bed.medium for bed in growing if bed.name in dry)
        first = drilled[0].where
        source = system.falling[first].root.si.name
        aside = " › " not in first and _ways_out(system, source) > 1
        yield note(
            first,
            f"When {' or '.join(drill.words for drill in drilled[:_NAMED])}, no water comes to {among(dry)} until somebody sees it: {_BARE if bare else _MOIST}.",
            "Look at it each day."
            + (f" Or let the second way out of {source} end where {first} ends, so that the water goes on." if aside else ""),
        )


# --- floats and siphons -----------------------------------------------------------------------------


@finding("siphon never starts", notebook="09", through_time=True)
def never_starts_in_time(system, say):
    """A siphon that never runs in hours, though its bed gets water, not even where it starts as early as it may."""
    runs = [drill.run for drill in _unbroken(system)]
    run = runs[0]
    for name in run.siphons:
        fall = system.falling[name]
        if not fall.siphon or fall.mean <= 0 or any(one.running[:, one.siphons.index(name)].any() for one in runs):
            continue
        if fall.siphon.si.starts != "no" and fall.siphon.si.stops == "no":
            continue  # "siphon never stops" says what is to mend first
        source = fall.source.si.name
        yield fix(
            name,
            f"In {lasting(run.time[-1])} {name} never starts: {source} stands {say(LENGTH, run.vessel(source).si.last)} deep and the water leaves another way.",
            cure_for_a_dribble(fall, say)
            if fall.siphon.si.starts != "sure"
            else "Send it more water at a time, or lower its lip under the emergency overflow's.",
        )


@finding("siphon never stops", notebook="09", through_time=True)
def never_stops_in_time(system, say):
    """A siphon that runs all through the last hour."""
    run = drills(system.build).of(NOTHING)[0].run
    last = run.time > run.time[-1] - HOUR
    for name in run.siphons:
        fall = system.falling[name]
        if fall.siphon and fall.mean > 0 and run.running[last, run.siphons.index(name)].all():
            source = fall.source.si.name
            yield fix(
                name,
                f"Once started, {name} never stops: {source} stays {say(LENGTH, run.vessel(source).si.last)} deep.",
                cure_for_one_that_runs_on(fall, say),
            )

"""What can fail in a build: a menu of it, and each failure in words and as events of `levels`.

`drills` runs the standard ones for a review; page 09 lets anybody choose. Bare SI numbers.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from aquaplumb.build import Build
from aquaplumb.build.vessels import kinds_in_words, plan_area, water_depth, water_volume
from aquaplumb.system import levels, supplies
from aquaplumb.system.levels import Event
from aquaplumb.system.steady import solved
from aquaplumb.system.supplies import DARK, FLAT, fed_by
from aquaplumb.units import DAYS, HOUR, LENGTH, SHARE, in_hours, lasting

NOTHING, CHECK, PUMP = "nothing fails", "a check valve sticks open", "a pump stops"
POWER, MAINS = supplies.POWER_FAILS, supplies.MAINS_FAIL
NO_START, NO_STOP = "a siphon fails to start", "a siphon does not stop"
OUTLET, STRAINER, VALVE = "an outlet is blocked", "a strainer clogs", "a valve is shut"
LOOSE, LEAK = "a pipe comes off its pump", "a vessel leaks"
RAINING, NO_TOP_UP = "heavy rain", "no top-up"
SUPPLIES = (POWER, MAINS, FLAT, DARK)  # what all pumps on it stop with, for a time; then it comes back
CUTS = (*SUPPLIES, CHECK)

# All common practice, no source.
RAINS = 2 * HOUR  # how long heavy rain lasts
_APART, _MOMENTS = 420.0, 6  # s: a power cut is tried at so many moments of the beds' round, since they differ
LEAKS = 0.06 / HOUR  # m³/s: a litre a minute, as through a cracked fitting; common practice, no source
USUAL = {"power_off": 8 * HOUR, "blocked": 1.0, "rain": 0.030 / HOUR, "days": 7 * 86400.0}
HOW_MUCH = {"power_off": CUTS, "blocked": (OUTLET, STRAINER), "rain": (RAINING,), "days": (NO_TOP_UP,)}  # what each has to do with


@dataclass(frozen=True)
class Failure:
    """One failure: `words` end a sentence after "when", `brief` is for a picture; `events(at)` makes it happen.

    `lasts` is how long it goes on [s], None for good; `start` has the depths that it begins with, where they are not usual;
    `starts` says whether siphons start when they "may" or are "sure" to.
    """

    kind: str
    where: str
    words: str
    brief: str
    events: Callable[[float], list[Event]]
    lasts: float | None = None
    start: dict = field(default_factory=dict)
    starts: str = "sure"


def what_can_fail(build: Build) -> dict[str, list[str]]:
    """What can fail, and which ones of each; nothing where it needs no name. Only what the build has."""
    net = levels.network(build)
    every = {
        NOTHING: None,
        **dict.fromkeys(pump_stops(build)),
        CHECK: [name for p, name in enumerate(net.lines) if net.checked[p]],
        PUMP: list(build.pumped),
        NO_START: [net.falls[f] for i, f in enumerate(net.siphons) if net.meant[i]],
        NO_STOP: [net.falls[f] for f in net.siphons],
        OUTLET: list(build.falling),
        STRAINER: list(build.pumped),
        VALVE: [p.si.name for line in build.pumped.values() for p in (*line.si.suction, *line.si.pipe) if p.si.valve],
        LOOSE: list(build.pumped),
        LEAK: [vessel.si.name for vessel in build.growing] or list(build.vessels),
        RAINING: None,
        NO_TOP_UP: None,
    }
    return {kind: names or [] for kind, names in every.items() if names is None or names}


def moments(build: Build, at: float) -> list[float]:
    """The moments at which a power cut is tried, from `at` on: several where levels go up and down by themselves."""
    goes_round = len(levels.network(build).siphons) or any(line.si.control.si.kind != "always" for line in build.pumped.values())
    return [at + k * _APART for k in range(_MOMENTS if goes_round else 1)]


def siphons_start(build: Build) -> tuple[str, ...]:
    """How siphons start in the power cuts that are tried: where one may start and is not sure to, both ways, since full beds come down if they do."""
    unsure = any(fall.siphon and fall.siphon.si.starts == "may" for fall in solved(build).falling.values())
    return ("sure", "may") if unsure else ("sure",)


def failure(build: Build, kind: str, where: str = "", **how_much: float) -> Failure:
    """One failure of a build.

    Parameters
    ----------
    build : Build
    kind, where : str
        As in `things`.
    how_much : float
        `power_off` [s], `blocked`, `rain` [m/s] or `days` [s], in place of the usual.

    Returns
    -------
    Failure
    """
    much = {**USUAL, **how_much}
    by = "" if much["blocked"] > 0.995 else f" by {SHARE.text(much['blocked'])}"
    off = much["power_off"]

    def happens(event: str, words: str, brief: str, part: float = 1.0) -> Failure:
        return Failure(kind, where, words, brief, lambda at: [_event(event, where, at, part=part)])

    if kind == NOTHING:
        return Failure(kind, where, "nothing fails", "", lambda at: [])
    if kind in SUPPLIES:
        return Failure(kind, where, _off(build, kind, off), _BRIEF[kind], lambda at: _supply_off(build, kind, at, off), off)
    if kind == CHECK:
        cut = min((after[where], place, cut) for place, (cut, after) in enumerate(pump_stops(build).items()) if where in after)[
            -1
        ]  # the first to stop it
        words = f"{_off(build, cut, off)} while the check valve of {where} sticks open"
        both = lambda at: [_event("check valve sticks open", where, 0.0), *_supply_off(build, cut, at, off)]  # noqa: E731
        return Failure(kind, where, words, f"{_BRIEF[cut]}, check valve stuck", both, off)
    if kind == RAINING:
        beds = [bed.si.name for bed in build.growing] or list(build.vessels)
        words = f"heavy rain falls into the {kinds_in_words(build.growing) or 'vessels'} for {lasting(RAINS)}"
        return Failure(
            kind, where, words, "rain", lambda at: [_event("rain", bed, at, at + RAINS, rate=much["rain"]) for bed in beds], RAINS
        )
    if kind == LEAK:
        rate = LEAKS / plan_area.si(build.vessels[where])
        words = f"water leaks out of {where}, as through a cracked fitting"
        return Failure(kind, where, words, f"{where} leaks", lambda at: [_event("evaporation", where, at, rate=rate)])
    if kind == NO_TOP_UP:
        words = f"after {DAYS.text(much['days'])} without top-up"
        return Failure(
            kind,
            where,
            words,
            "",
            lambda at: [_event("evaporation", rate=_drunk(build) / sum(map(plan_area.si, build.vessels.values())))],
            start=after_days(build, much["days"]),
        )
    return {
        PUMP: lambda: happens("pump fails", f"the pump of {where} stops", "pump stopped"),
        NO_START: lambda: happens("siphon fails to start", f"{where} fails to start", "no start"),
        NO_STOP: lambda: happens("siphon sticks running", f"{where} does not stop", "does not stop"),
        OUTLET: lambda: happens("drain blocks", f"{where} is blocked{by}", f"{where} blocked{by}", much["blocked"]),
        STRAINER: lambda: happens("strainer blocks", f"the strainer of {where} clogs{by}", f"strainer clogged{by}", much["blocked"]),
        LOOSE: lambda: happens("pipe comes off", f"the pipe of {where} comes off its pump", "pipe off"),
        VALVE: lambda: happens("valve shuts", f'the valve in "{where}" is shut', "valve shut"),
    }[kind]()


_BRIEF = {POWER: "power off", MAINS: "mains off", FLAT: "battery flat", DARK: "panel dark"}


def pump_stops(build: Build) -> dict[str, dict[str, float]]:
    """Each supply that can fail, and after how long each pump stops that hangs on it [s], by its line: see `supplies.stops`."""
    system = solved(build)
    on = {name: fed_by(build, line.pump) for name, line in system.pumped.items()}
    return supplies.stops(on, build.power, system.power.hours if system.power else None)


def _off(build: Build, kind: str, off: float) -> str:
    """A supply that fails, as the end of a sentence after "when"."""
    told = f"{kind} for {lasting(off)}"
    held = [after for after in pump_stops(build).get(kind, {}).values() if 0 < after < math.inf]
    return f"{told} (the battery lasts {in_hours(held[0])})" if held else told


def _supply_off(build: Build, kind: str, at: float, off: float) -> list[Event]:
    """A supply fails for a time, and with it the pumps that hang on it: all of them at once where the power fails."""
    if kind == POWER:
        return [_event("power fails", "", at, at + off)]
    return [_event("pump fails", name, at + after, at + off) for name, after in pump_stops(build).get(kind, {}).items() if after < off]


def _event(kind: str, where: str = "", at: float = 0.0, until: float | None = None, *, part: float = 1.0, rate: float = 0.0) -> Event:
    return Event.from_si(kind=kind, where=where, at=at, until=until, part=part, rate=rate)


def sump_of(build: Build) -> str:
    """The vessel that stands lower when water is missing: the sump, else the one that the first pump draws from."""
    sumps = build.of_kind("sump")
    return sumps[0].si.name if sumps else next(iter(build.pumped.values())).si.source


def _drunk(build: Build) -> float:
    """What evaporates and what plants drink [m³/s]: the make-up water of page 12."""
    return solved(build).upkeep.make_up


def after_days(build: Build, days: float) -> dict:
    """Depths after some days [s] without make-up water: the sump stands lower, all else is kept full from it."""
    loss = _drunk(build) * days
    depths = {}
    for name in dict.fromkeys([sump_of(build), *(line.si.source for line in build.pumped.values()), *build.vessels]):
        vessel = build.vessels[name]
        volume = water_volume.si(vessel, vessel.si.working_depth)
        taken = min(loss, volume)
        loss -= taken
        depths[name] = LENGTH.quantity(water_depth.si(vessel, volume - taken))
        if loss <= 0:
            break
    return depths

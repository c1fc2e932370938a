"""What may happen to a build: events, and what each changes in the inputs of a story.

    Event("power fails", at="1 h", until="9 h")
    Event("drain blocks", "tank overflow", at="2 h", part=0.5)

All of it is reached through `levels`.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from aquaplumb.system.flow_tables import Network
from aquaplumb.system.stories import Endless, Story
from aquaplumb.tables import unknown
from aquaplumb.units import LENGTH, TIME, DepthRate, DesignError, Flow, Length, Number, Record, Time, lasting

# The most often that a timer may turn a pump on in a run: so many times, and once more in each so many seconds. No pump is meant for it.
_MOST_ROUNDS, _ROUND = 1000, 60.0

# What an event may be, and what its `where` has to name.
KINDS = {
    "power fails": "",
    "pump fails": "pumped line",
    "check valve sticks open": "pumped line",
    "strainer blocks": "pumped line",
    "valve shuts": "stretch of pipe",
    "pipe comes off": "pumped line",
    "siphon fails to start": "siphon",
    "siphon sticks running": "siphon",
    "drain blocks": "falling line",
    "rain": "vessel, or nothing for all that stand in the open",
    "evaporation": "vessel, or nothing for all",
    "top-up": "vessel",
}


class Event(Record):
    """Something that happens to a build, from a time on, and until another if one is given.

    kind: One of `KINDS`, such as "power fails".
    where: The line, stretch or vessel that it happens to.
    at: From when, and when it is over; for good if `until` is not given.
    until: From when, and when it is over; for good if `until` is not given.
    part: How much of a drain or strainer is blocked, 1 for all of it.
    rate: Of rain or evaporation.
    flow: Of a top-up.
    depth: Up to which a float valve tops up; without it the tap is open all the time.

    Source: a record.

    >>> print(Event("drain blocks", "tank overflow", at="2 h"))
    tank overflow: drain blocks, from 120 min
    """

    kind: str
    where: str = ""
    at: Time = 0.0
    until: Time | None = None
    part: Number = 1.0
    rate: DepthRate = 0.0
    flow: Flow = 0.0
    depth: Length | None = None

    def __init__(self, kind: str, where: str = "", **given):
        super().__init__(kind=kind, where=where, **given)

    def check(self) -> None:
        """Refuse what cannot happen."""
        e = self.si
        if e.kind not in KINDS:
            raise DesignError(unknown("list of events", e.kind, KINDS))
        if KINDS[e.kind] and not e.where and "nothing" not in KINDS[e.kind]:
            raise DesignError(f'"{e.kind}" needs the name of a {KINDS[e.kind]}: Event("{e.kind}", "…").')
        if e.kind == "power fails" and e.where:
            raise DesignError(f'"power fails" stops every pump; for {e.where} alone it is Event("pump fails", "{e.where}").')
        if e.at < 0 or (e.until is not None and e.until <= e.at):
            raise DesignError(
                f"{e.kind}: it begins at {TIME.text(e.at)} and ends at {TIME.text(e.until or 0.0)}; the end comes after the beginning, and both after 0."
            )
        if not 0 <= e.part <= 1:
            raise DesignError(f"{e.kind}: part is {e.part:g}; it goes from 0 (clean) to 1 (shut).")
        if e.kind == "top-up" and e.flow <= 0:
            raise DesignError('a top-up needs a flow, such as flow = "200 L/h".')
        if e.kind in ("rain", "evaporation") and e.rate <= 0:
            raise DesignError(f'{e.kind} needs a rate, such as rate = "{"20 mm/h" if e.kind == "rain" else "5 mm/d"}".')

    def __str__(self) -> str:
        e = self.si
        times = f"from {TIME.text(e.at)}" + (f" to {TIME.text(e.until)}" if e.until is not None else "")
        return f"{e.where + ': ' if e.where else ''}{e.kind}, {times}"

    __repr__ = __str__


# --- from events to what changes -----------------------------------------------------------------


def changes_of(net: Network, events: tuple, duration: float) -> list:
    """(time, what it does to a `Story`), in order of time: the events, and the timers of pumps."""
    changes: list[tuple[float, Callable[[Story], None]]] = []
    happens, kinds = [], set()
    for event in events:
        if not isinstance(event, Event):
            raise DesignError(f'{event!r} is not an event; write Event("power fails", at="1 h").')
        kinds.add(event.si.kind)
        happens.append((_what(net, event), event.si.at, np.inf if event.si.until is None else event.si.until))
    for moment in sorted({time for _, *times in happens for time in times if time < np.inf}):
        now = [what for what, begins, ends in happens if begins <= moment < ends]
        changes.append((moment, InForce(now, tap="top-up" in kinds, loose="pipe comes off" in kinds)))
    for p, line in enumerate(net.build.pumped.values()):
        c = line.si.control.si
        if c.kind == "timer" and c.off > 0:
            rounds = int(duration / (c.on + c.off)) + 1
            if rounds > _MOST_ROUNDS + duration / _ROUND:
                raise Endless(
                    line.si.name, f"The timer of {line.si.name} turns its pump on {rounds:,} times in {lasting(duration)}, too often to follow.",
                    f'Are on = "{c.on:g} s" and off = "{c.off:g} s" right? Minutes are usual, such as on = "15 min", off = "45 min".',
                )  # fmt: skip
            for k in range(rounds):
                changes.append((k * (c.on + c.off), functools.partial(_put, field="timer", place=p, value=True)))
                changes.append((k * (c.on + c.off) + c.on, functools.partial(_put, field="timer", place=p, value=False)))
    return sorted(changes, key=lambda change: change[0])


def _put(story, *, field: str, place, value) -> None:
    getattr(story, field)[place] = value


@dataclass(frozen=True, slots=True)
class InForce:
    """All that happens from a moment on, afresh: so an event that ends does not end another that goes on."""

    now: list[Callable[[Story], None]]
    tap: bool  #: whether the story ever tops up
    loose: bool  #: whether a pipe ever comes off its pump

    def __call__(self, story: Story) -> None:
        story.reset()
        for what in self.now:
            what(story)


def _named(names: list, name: str, what: str) -> int:
    if name not in names:
        raise DesignError(unknown(f"build's list of {what}", name, names) if names else f"this build has no {what}.")
    return names.index(name)


def _what(net: Network, event: Event):
    """What the event does to a story while it lasts."""
    e, kind = event.si, event.si.kind

    def put(field, place, value):
        return functools.partial(_put, field=field, place=place, value=value)

    if kind == "power fails":
        return lambda story: setattr(story, "power", False)
    if kind in ("pump fails", "check valve sticks open"):
        return put("failed" if kind == "pump fails" else "stuck", _named(net.lines, e.where, "pumped lines"), True)
    if kind == "strainer blocks":
        return put("blocked", _named(net.lines, e.where, "pumped lines"), min(e.part, 0.999))
    if kind == "pipe comes off":
        p = _named(net.lines, e.where, "pumped lines")
        first = next(pipe.si.name for pipe in net.build.pumped[e.where].si.pipe if not pipe.si.after)

        def come_off(story):
            story.loose[p] = True
            story.shut[p] = (*story.shut[p], first)

        return come_off
    if kind == "valve shuts":
        pipes = [(p, pipe.si.name) for p, line in enumerate(net.build.pumped.values()) for pipe in (*line.si.pipe, *line.si.suction)]
        _named([name for _, name in pipes], e.where, "stretches of pipe")
        found = [p for p, name in pipes if name == e.where]
        if len(found) > 1:
            raise DesignError(
                f"{' and '.join(net.lines[p] for p in found)} each have a stretch '{e.where}'; give one of them another name, so that it is clear which valve shuts."
            )
        p = found[0]

        def shut(story):
            story.shut[p] = (*story.shut[p], e.where)

        return shut
    if kind in ("siphon fails to start", "siphon sticks running"):
        i = _named([net.falls[f] for f in net.siphons], e.where, "siphons")
        return put("cannot_start" if kind == "siphon fails to start" else "cannot_stop", i, True)
    if kind == "drain blocks":
        f = _named(net.falls, e.where, "falling lines")
        return put("clear", f, net.clear[f] * (1.0 - e.part))
    if kind == "top-up":
        v = _named(net.names[: net.count], e.where, "vessels")
        vessel = net.build.vessels[e.where]
        if e.depth is not None and not 0 < e.depth <= vessel.si.height:
            raise DesignError(
                f"top-up: {e.where} is {LENGTH.text(vessel.si.height)} high; a float valve at {LENGTH.text(e.depth)} is outside it."
            )
        level = -1e9 if e.depth is None else net.floor[v] + e.depth

        def open_(story):
            story.tap[v], story.tap_level[v] = e.flow, level

        return open_
    where = [_named(net.names[: net.count], e.where, "vessels")] if e.where else list(range(net.count))
    field = "rain" if kind == "rain" else "evaporation"
    return put(field, where, e.rate * net.area[where])

"""The standard failures of a build, run side by side: what a review asks of `levels`.

Nothing failed; the first start with dry beds; the power off for 8 h and back (at several moments of the beds' round, since what falls into the sump
depends on it); each pump stopped; each check valve stuck open in a power cut; each siphon failed both ways; each
outlet in use blocked. `Drills` runs them once and keeps the runs by name.
"""

from __future__ import annotations

from dataclasses import dataclass

from aquaplumb import levels
from aquaplumb.build import Build
from aquaplumb.levels import Event, Run
from aquaplumb.units import Record

HOUR = 3600.0
FAILS, OFF, AFTER = 1 * HOUR, 8 * HOUR, 1 * HOUR  # when it happens; how long power is off; how long it is watched after it is back
WATCHED = 4 * HOUR  # how long every other failure is watched
_MOMENTS = 6  # of the beds' round at which the power is cut: minutes apart as below
_APART = 420.0  # s


@dataclass(frozen=True)
class Drill:
    """One failure: its `kind`, the line it happens to, what it is in words, from when on [s], and the run."""

    kind: str
    where: str
    words: str
    at: float
    run: Run


class Drills:
    """The standard failures of a build. `every` has them all, `of(kind)` those of a kind."""

    def __init__(self, build: Build):
        self.build = build
        stories = list(_stories(build))
        beds = {bed.si.name: "0 m" for bed in build.of_kind("bed")}
        times = [levels.TIME.quantity(at + (OFF + AFTER if kind in ("power", "check valve") else WATCHED)) for kind, _, _, at, _ in stories]
        found = levels.runs(build, times, [events for *_, events in stories], quick=True,
                            start=[beds if kind == "first start" else None for kind, *_ in stories])  # fmt: skip
        self.every = [Drill(kind, where, words, at, run) for (kind, where, words, at, _), run in zip(stories, found)]

    def of(self, kind: str) -> list[Drill]:
        """The drills of a kind: "nothing", "first start", "power", "pump", "check valve", "siphon starts", "siphon stops", "outlet"."""
        return [drill for drill in self.every if drill.kind == kind]


def drills(build: Build) -> Drills:
    """The standard failures of a build, run once; builds whose water is the same (other fish, other prices) share them."""
    kept = vars(build)
    if "_drills" not in kept or kept["_drills"].build.lines is not build.lines:  # `replaced` copies what is kept, too
        key = None if any(line.si.pump_file for line in build.pumped.values()) else _told((build.vessels, build.lines, build.site.si.coldest_water))
        kept["_drills"] = _SHARED.get(key) or Drills(build)
        if key is not None:
            _SHARED[key] = kept["_drills"]
            while len(_SHARED) > _MOST_SHARED:
                _SHARED.pop(next(iter(_SHARED)))
    return kept["_drills"]


_SHARED: dict[tuple, Drills] = {}
_MOST_SHARED = 12


def _told(value):
    """A build's part as something that can be compared: records by their bare values."""
    if isinstance(value, Record):
        return tuple((name, _told(one)) for name, one in vars(value.si).items())
    if isinstance(value, dict):
        return tuple((name, _told(one)) for name, one in value.items())
    return tuple(map(_told, value)) if isinstance(value, (tuple, list)) else value


def _stories(build: Build):
    """(kind, where, in words, when [s], events) of each standard failure."""
    net = levels.network(build)
    yield "nothing", "", "nothing fails", 0.0, ()
    yield "first start", "", "the pumps start with the beds still dry", 0.0, ()
    for k in range(_MOMENTS if len(net.siphons) or _switched(build) else 1):
        at = FAILS + k * _APART
        yield "power", "", "the power fails", at, (_event("power fails", "", at, at + OFF),)
    for p, name in enumerate(net.lines):
        yield "pump", name, f"the pump of {name} fails", FAILS, (_event("pump fails", name, FAILS),)
        if net.checked[p]:
            words = f"the power fails while the check valve of {name} sticks open"
            yield "check valve", name, words, FAILS, (_event("check valve sticks open", name, 0.0), _event("power fails", "", FAILS, FAILS + OFF))
    for i, f in enumerate(net.siphons):
        name = net.falls[f]
        if net.meant[i]:
            yield "siphon starts", name, f"{name} fails to start", FAILS, (_event("siphon fails to start", name, FAILS),)
            yield "siphon stops", name, f"{name} does not stop", FAILS, (_event("siphon sticks running", name, FAILS),)
    for name, line in build.falling.items():
        if not line.si.emergency:
            yield "outlet", name, f"{name} is blocked", FAILS, (_event("drain blocks", name, FAILS),)


def _switched(build: Build) -> bool:
    return any(line.si.control.si.kind != "always" for line in build.pumped.values())


def _event(kind: str, where: str, at: float, until: float | None = None) -> Event:
    return Event.from_si(kind=kind, where=where, at=at, until=until)

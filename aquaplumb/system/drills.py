"""The standard failures of a build, run side by side: what a review asks of `levels`.

Nothing failed; the first start with dry beds; the power off for 8 h and back (at several moments of the beds' round, since what falls into the sump
depends on it); each pump stopped; each check valve stuck open in a power cut; each siphon failed both ways; each
outlet in use blocked. `Drills` runs them once and keeps the runs by name.
"""

from __future__ import annotations

from dataclasses import dataclass

from aquaplumb.build import Build
from aquaplumb.system import failures, levels
from aquaplumb.system.failures import CHECK, NO_START, NO_STOP, NOTHING, OUTLET, POWER, PUMP, Failure
from aquaplumb.system.levels import Run
from aquaplumb.system.stories import Endless
from aquaplumb.units import HOUR, LENGTH, TIME, Record

FAILS, OFF, AFTER = 1 * HOUR, 8 * HOUR, 1 * HOUR  # when it happens; how long power is off; how long it is watched after it is back
WATCHED = 4 * HOUR  # how long every other failure is watched
FIRST_START = "the first start, with the beds still dry"


@dataclass(frozen=True)
class Drill:
    """One failure: its `kind`, the line it happens to, what it is in words, from when on [s], and the run."""

    kind: str
    where: str
    words: str
    at: float
    run: Run


class Drills:
    """The standard failures of a build. `every` has them all, `of(kind)` those of a kind of `failures`, or `FIRST_START`.

    `refused` says why they could not be run, where they would never end.
    """

    def __init__(self, build: Build):
        self.build = build
        stories = list(_standard(build))
        self._every, self.refused = [], None
        try:
            found = levels.runs(
                build, [TIME.quantity(at + (WATCHED if one.lasts is None else one.lasts + AFTER)) for one, at in stories],
                [one.events(at) for one, at in stories], start=[one.start for one, _ in stories], quick=True,
            )  # fmt: skip
        except Endless as endless:
            self.refused = endless.with_traceback(None)  # kept for long, without the steps that it holds
            return
        self._every = [Drill(one.kind, one.where, one.words, at, run) for (one, at), run in zip(stories, found)]

    @property
    def every(self) -> list[Drill]:
        """All of them; refused where they would never end."""
        if self.refused is not None:
            raise self.refused.with_traceback(None)
        return self._every

    def of(self, kind: str) -> list[Drill]:
        """The drills of a kind."""
        return [drill for drill in self.every if drill.kind == kind]


def drills(build: Build) -> Drills:
    """The standard failures of a build, run once; builds whose water is the same (other fish, other prices) share them."""
    kept = vars(build)
    if "_drills" not in kept or kept["_drills"].build.lines is not build.lines:  # `replaced` copies what is kept, too
        key = (
            None
            if any(line.si.pump_file for line in build.pumped.values())
            else _told((build.vessels, build.lines, build.site.si.coldest_water))
        )
        kept["_drills"] = _SHARED.pop(key, None) or Drills(build)
        if key is not None:
            _SHARED[key] = kept["_drills"]  # last: the one that nobody has asked for longest goes first
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


def _standard(build: Build):
    """(failure, when it happens [s]) of each standard failure."""
    can_fail = failures.things(build)
    yield failures.failure(build, NOTHING), 0.0
    dry_beds = {bed.si.name: LENGTH.quantity(0.0) for bed in build.of_kind("bed")}
    yield Failure(FIRST_START, "", "the pumps start with the beds still dry", "", lambda at: [], start=dry_beds), 0.0
    for at in failures.moments(build, FAILS):
        yield failures.failure(build, POWER, power_off=OFF), at
    meant = can_fail.get(NO_START, [])
    usual = [name for name, line in build.falling.items() if not line.si.emergency]
    for kind, names in ((PUMP, can_fail[PUMP]), (CHECK, can_fail.get(CHECK, [])), (NO_START, meant), (NO_STOP, meant), (OUTLET, usual)):
        for name in names:
            yield failures.failure(build, kind, name, power_off=OFF), FAILS

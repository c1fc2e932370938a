"""The standard failures of a build, run side by side: what a review asks of `levels`.

Nothing failed, siphons starting late and early; the first start with dry beds; the power, or each supply, off for 8 h and back (at several moments of the beds' round, and with siphons that start late and early where one may start,
since what falls into the sump depends on it); each pump stopped; each check valve stuck open in a power cut; each siphon failed both ways; each
outlet in use blocked. `Drills` runs them once and keeps the runs by name.

Not among them: a loose pipe and a valve left shut. Run for all demos and faulty builds they told nothing that the heights
(`loose_pipes`) or a stopped pump do not; page 09 runs them.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, field, replace

from aquaplumb.build import Build, FallingLine, FallingTree, PumpedLine
from aquaplumb.build.vessels import Vessel
from aquaplumb.plumbing.pump_curve import Pump
from aquaplumb.system import failures, levels
from aquaplumb.system.failures import CHECK, NO_START, NO_STOP, NOTHING, OUTLET, PUMP, SUPPLIES, Failure
from aquaplumb.system.levels import Run
from aquaplumb.system.steady import solved
from aquaplumb.system.stories import Endless
from aquaplumb.system.twins import twins
from aquaplumb.units import HOUR, LENGTH, TIME

FAILS, OFF, AFTER = 1 * HOUR, 8 * HOUR, 1 * HOUR  # when it happens; how long power is off; how long it is watched after it is back
WATCHED = 4 * HOUR  # how long every other failure is watched
_SHARED = 12  # sets of drills that are kept
EARLY = "siphons start as early as they may"
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

    @functools.cached_property
    def unbroken(self) -> list[Drill]:
        """Those in which nothing fails: siphons start late, and as early as they may. Run by themselves where nobody asked for all before."""
        if "_found" in vars(self):
            return [drill for drill in self.every if drill.kind in (NOTHING, EARLY)]
        return _run_through(self.build, _nothing_fails(self.build))

    @functools.cached_property
    def _found(self) -> list[Drill] | Endless:
        try:
            if "unbroken" in vars(self):
                return [*self.unbroken, *_run_through(self.build, _standard(self.build))]
            return _run_through(self.build, [*_nothing_fails(self.build), *_standard(self.build)])
        except Endless as endless:
            return endless.with_traceback(None)  # kept for long, without the steps that it holds

    @property
    def refused(self) -> Endless | None:
        """Why they could not be run."""
        return self._found if isinstance(self._found, Endless) else None

    @property
    def every(self) -> list[Drill]:
        """All of them; refused where they would never end."""
        if isinstance(self._found, Endless):
            raise self._found.with_traceback(None)
        return self._found

    def cuts(self) -> list[Drill]:
        """The drills in which a supply fails and pumps stop: the power, or mains, battery and panel each by itself."""
        return [drill for drill in self.every if drill.kind in SUPPLIES]

    def of(self, kind: str) -> list[Drill]:
        """The drills of a kind; those in which nothing fails are run by themselves, where nobody asks for the others."""
        return [drill for drill in (self.unbroken if kind in (NOTHING, EARLY) else self.every) if drill.kind == kind]


@functools.lru_cache(maxsize=_SHARED)
def drills(build: Build) -> Drills:
    """The standard failures of a build, run once; builds whose water is the same (other fish, other prices) share them."""
    filed = [name for name, line in build.pumped.items() if line.si.pump_file]
    pumps = tuple(solved(build).pumped[name].pump for name in filed)
    stops = tuple((kind, tuple(lines.items())) for kind, lines in failures.pump_stops(build).items())
    return _run(_Water(build, tuple(build.vessels.values()), tuple(build.lines.values()), build.site.si.coldest_water, pumps, stops))


@dataclass(frozen=True)
class _Water:
    """A build, compared by all that its water through time depends on."""

    build: Build = field(compare=False)
    vessels: tuple[Vessel, ...]
    lines: tuple[PumpedLine | FallingLine | FallingTree, ...]
    coldest: float  #: water [K]
    pumps: tuple[Pump, ...] = field(hash=False)  #: that files of their own tell of
    stops: tuple  #: each supply that can fail, and what stops with it


@functools.lru_cache(maxsize=_SHARED)
def _run(water: _Water) -> Drills:
    return Drills(water.build)


def _that_stop(build: Build) -> list[str]:
    """The supplies whose failure stops pumps within the time; of two that stop the same ones at once, the first."""
    found: dict[tuple, str] = {}
    for kind, lines in failures.pump_stops(build).items():
        stopped = tuple((name, after) for name, after in lines.items() if after < OFF)
        if stopped:
            found.setdefault(stopped, kind)
    return list(found.values())


def _run_through(build: Build, failing) -> list[Drill]:
    """The runs of some failures, side by side; of what happens to one of two twins, what happened to the first."""
    stories = list(failing)
    as_at = twins(levels.network(build)) if any(one.where for one, _ in stories) else {}
    own = [(one, at) for one, at in stories if one.where not in as_at]
    found = levels.runs(
        build, [TIME.quantity(at + (WATCHED if one.lasts is None else one.lasts + AFTER)) for one, at in own],
        [one.events(at) for one, at in own], start=[one.start for one, _ in own],
        starts=[one.starts for one, _ in own], quick=True, rounds=[one.kind in (NOTHING, EARLY) for one, _ in own],
    )  # fmt: skip
    runs = {(one.kind, one.where, one.starts, at): run for (one, at), run in zip(own, found)}
    for one, at in stories:
        if one.where in as_at:
            first, swap = as_at[one.where]
            runs[one.kind, one.where, one.starts, at] = runs[one.kind, first, one.starts, at].at_twin(swap, one.events(at))
    return [Drill(one.kind, one.where, one.words, at, runs[one.kind, one.where, one.starts, at]) for one, at in stories]


def _nothing_fails(build: Build):
    """(story, when it begins [s]) where nothing fails."""
    yield failures.failure(build, NOTHING), 0.0
    if failures.what_can_fail(build).get(NO_STOP):
        yield (
            replace(
                failures.failure(build, NOTHING), kind=EARLY, words="nothing fails, and siphons start as early as they may", starts="may"
            ),
            0.0,
        )


def _standard(build: Build):
    """(failure, when it happens [s]) of each other standard failure."""
    can_fail = failures.what_can_fail(build)
    dry_beds = {bed.si.name: LENGTH.quantity(0.0) for bed in build.growing}
    yield Failure(FIRST_START, "", "the pumps start with the beds still dry", "", lambda at: [], start=dry_beds), 0.0
    for kind in _that_stop(build):
        for starts in failures.siphons_start(build):
            for at in failures.moments(build, FAILS):
                yield replace(failures.failure(build, kind, power_off=OFF), starts=starts), at
    meant = can_fail.get(NO_START, [])
    usual = [name for name, line in build.falling.items() if not line.si.emergency]
    for kind, names in ((PUMP, can_fail[PUMP]), (CHECK, can_fail.get(CHECK, [])), (NO_START, meant), (NO_STOP, meant), (OUTLET, usual)):
        for name in names:
            yield failures.failure(build, kind, name, power_off=OFF), FAILS

"""The bucket talks back: what was measured beside its band, the causes that explain it, and the build set right by it.

seen = bucket(load("my-build.toml"))          # of the last day measured; its file has [measured."2026-05-03"]
print(seen)                                   # each value beside its band, causes, and the check that tells them apart
build = seen.keep()                           # yes: from here on every number stands on what was measured
print(later(build))                           # months after: what changed, why, and when to clean
"""

from __future__ import annotations

import functools
from typing import Any

from aquaplumb.build import Build, MeasuredDay
from aquaplumb.given import takes_things
from aquaplumb.measured.bands import Bands, BesideBand
from aquaplumb.measured.checks import TellingCheck, check, why_alike
from aquaplumb.measured.fitting import Explanation, Fit, seen_on
from aquaplumb.measured.own import line_changes, siphon_changes
from aquaplumb.measured.water_levels import LevelCause, level_causes
from aquaplumb.system.steady import Steady, solved
from aquaplumb.tables import unknown
from aquaplumb.units import DesignError

__all__ = ["Bucket", "bucket", "days_of"]

_TOLD = 2  # groups of causes that are told
NOTHING = (
    'nothing is measured in this build yet: write [measured."2026-05-03"] into its file, such as flow = { "to bed 1" = '
    '{ volume = "10 L", time = "31 s" } }.'
)


def days_of(build: Build) -> list[str]:
    """The days on which something was measured, the first before the last."""
    return list(dict.fromkeys(day.si.date for day in build.measured))


class Bucket:
    """What was measured on one day: `rows` beside their bands, `fits` by line, `levels`; `refused` what cannot be set beside anything."""

    def __init__(self, system: Steady, date: str, days: list[MeasuredDay]):
        self.system, self.build, self.date, self.days = system, system.build, date, days
        self.bands = Bands(system)
        self.rows: list[BesideBand] = []
        self.refused: list[str] = []
        for day in days:
            for one in day.si.values:
                try:
                    self.rows.append(self.bands.of(day, one))
                except DesignError as why:
                    self.refused.append(str(why))

    @functools.cached_property
    def fits(self) -> dict[str, Fit]:
        """The fit of causes of each line on which anything was read."""
        found = {}
        for line in dict.fromkeys(row.line for row in self.rows if row.line):
            source = self.system.pumped[line].source.si.name
            depth = next((one.value for day in self.days for one in day.of("running") if one.si.of == source), None)
            model = self.bands.model(line, depth)
            if seen := seen_on(model, self.days, self.bands.said):
                found[line] = Fit(model, seen, self.build.units)
        return found

    @functools.cached_property
    def levels(self) -> list[LevelCause]:
        """The causes of levels outside their bands."""
        return level_causes(self.system, self.rows)

    @property
    def outside(self) -> list[BesideBand]:
        """What lies outside its band."""
        return [row for row in self.rows if row.outside]

    def asks(self, line: str) -> bool:
        """Whether a line's readings ask for a cause: one is outside its band, or they do not fit together as they are."""
        fit = self.fits[line]
        return any(row.line == line for row in self.outside) or fit.nothing > fit.singles[0].score + _ODD

    def causes(self, line: str) -> list[list[Explanation]]:
        """What explains a line's readings, those together that they cannot tell apart; the best first."""
        if line not in self.fits:
            raise DesignError(unknown("list of lines that were measured", line, self.fits))
        return self.fits[line].told[:_TOLD]

    def check(self, line: str) -> TellingCheck | None:
        """What to do next to tell a line's causes apart."""
        groups = self.causes(line)
        return check(self.fits[line], groups[0] if len(groups[0]) > 1 else [group[0] for group in groups]) if groups else None

    def own(self, accepted: dict[str, str] | None = None) -> dict[tuple, object]:
        """The changes that make the measured values the build's own; `accepted` names the cause of a line that the builder found to be true."""
        changes: dict[tuple, object] = {}
        for line, fit in self.fits.items():
            if not any(one.key[0] == "flow" for one in fit.seen):
                continue
            name = (accepted or {}).get(line)
            every = {one.name: one for group in fit.groups for one in group}
            if name is not None and name not in every:
                raise DesignError(unknown(f"list of causes of {line}", name, every))
            as_filed = Fit(self.bands.model(line), fit.seen, self.build.units)  # the file's level, whatever it was on that day
            changes |= line_changes(as_filed, self.date, every[name] if name else None)
        return changes | siphon_changes(self.rows, self.date)

    def keep(self, accepted: dict[str, str] | None = None) -> Build:
        """The builder's yes: write the measured values into the build file as its own; returns the build as it then stands."""
        changes = self.own(accepted)
        if not changes:
            raise DesignError("no flow and no siphon was measured on that day: there is nothing to make the build's own.")
        return self.build.keep(changes)

    def __str__(self) -> str:
        units = self.build.units
        count = len(self.outside)
        lines = [f"Measured on {self.date}: {len(self.rows)} values, {'all inside their bands' if not count else f'{count} outside'}"]
        lines += [f"  {row.text(units)}" for row in self.rows] + [f"  not compared: {why}" for why in self.refused]
        for line, fit in self.fits.items():
            if self.asks(line):
                lines += ["", f"Why, of {line}", *self._told(line, fit)]
        for cause in self.levels:
            lines += ["", f"Why, of the level in {cause.vessel}: {cause.words}", f"  → {cause.look}"]
        if not count and not any(map(self.asks, self.fits)):
            lines += ["", "Nothing asks for a cause. Keep it as the build's own, and the bands grow narrower."]
        return "\n".join(lines)

    def _told(self, line: str, fit: Fit) -> list[str]:
        units, told = self.build.units, []
        groups = self.causes(line)
        if not groups:
            return ["  No cause that is known here explains it. Measure again, with a larger bucket."]
        if groups[0][0].misfit > _POOR * len(fit.seen):
            told.append(
                "  None of these fits well. Measure again before you believe one: with a larger bucket, and one thing changed at a time."
            )
        for place, group in enumerate(groups, 1):
            for mark, one in enumerate(group):
                told.append(f"  {f'{place}.' if not mark else '  or'} {one.words(units)}")
                told += [f"       → {cause.look}" for cause in one.causes]
            if why := why_alike(fit, group):
                told.append(f"     {why}")
        if (next_ := self.check(line)) and next_.tells:
            told.append(f"  What tells them apart: {next_.text()}")
        return told

    __repr__ = __str__


_POOR = 4.0  # squares of σ for each reading: two standard deviations off, all of them
_ODD = 5.0  # of a score: a cause has to explain so much more than it costs


@takes_things
def bucket(build: Build | Any, date: str = "") -> Bucket:
    """What was measured on a day, beside its bands, and why.

    build: A build with a [measured] section, or a path as `load` takes it.
    date: The day, such as "2026-05-03"; the last one when left out.
    raises: Where nothing was measured, or nothing on that day.

    Source: each band names its own; the fit is weighted least squares.

    >>> from aquaplumb.build import load
    >>> pour = {"volume": "10 L", "time": "42 s"}
    >>> seen = bucket(load("courtyard").changed({("measured", "2026-05-03", "flow", "to bed 1"): pour}))
    >>> len(seen.rows)
    1
    """
    days = days_of(build)
    if not days:
        raise DesignError(NOTHING)
    if date and date not in days:
        raise DesignError(unknown("list of days measured", date, days))
    chosen = date or days[-1]
    return Bucket(solved(build), chosen, [day for day in build.measured if day.si.date == chosen])

"""Your own log beside your build: reading it, a blank one to begin with, and what it asks for in words."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from aquaplumb import tables
from aquaplumb.build import Build, load
from aquaplumb.files import alone, write
from aquaplumb.given import takes_things
from aquaplumb.review import Review, review
from aquaplumb.review.readings.advice import URGENCIES, Action, actions
from aquaplumb.review.readings.biofilter import biofilter
from aquaplumb.review.readings.log import Log
from aquaplumb.review.readings.logfile import read
from aquaplumb.units import DesignError

DEMO = "courtyard-spring"  # invented for the demo
_DEMOS = {DEMO: "courtyard"}  # the build in which each demo log was kept
FORMS = {
    "ammonia": ("N", "NH3", "NH4"),
    "nitrite": ("N", "NO2"),
    "nitrate": ("N", "NO3"),
    "alkalinity": ("CaCO3", "dKH"),
}  # what kits read as
CALM = "Nothing in these readings asks for anything. Go on testing."
_WIDE = 110  # letters in a line


@takes_things
def own_log(build: Build) -> Log:
    """The log that a build's [upkeep] section names, looked for beside the build file; the demo log where it names none.

    raises: Where there is no such file, or it cannot be read; see `read`.

    Source: none; a log is what its grower says.

    >>> from aquaplumb.build import load
    >>> len(own_log(load("courtyard")))
    29
    """
    path = log_path(build)
    return read(DEMO if path is None else path)


def log_path(build: Build) -> Path | None:
    """Where the log is that a build names; None where it names none."""
    name = build.upkeep.si.log if build.upkeep is not None else ""
    folder = build.path.parent if build.path else Path()
    return folder / (name if Path(name).suffix else f"{name}.csv") if name else None


@takes_things
def judge(log: Log, build: Build) -> Build:
    """The build by which a log is judged: a demo's log by the demo's, whoever reads it; any other by yours.

    build: Yours; its units are kept.

    Source: none; fish are judged in the water in which they swim.

    >>> from aquaplumb.build import load
    >>> judge(own_log(load("greenhouse")), load("greenhouse")).title == load("courtyard").title
    True
    """
    if not log.demo or build.text == (demo := load(_DEMOS[log.demo])).text:
        return build
    return demo if demo.units == build.units else demo.changed({("units",): build.units})


@takes_things
def blank_log(path: str | Path | None = None, *, system: str = "metric", forms: Mapping[str, str] | None = None) -> str:
    """A log to begin with: the header with its units, and a line that tells how. With a path it is saved there.

    path: A CSV file; one that is there already is left alone.
    system: "metric" or "US".
    forms: What your kit reads as, such as ``{"nitrite": "NO2", "alkalinity": "dKH"}``; as in `FORMS`, the first where
        it is not said.
    returns: The lines themselves, or where they are saved.
    raises: Where the file is there already, or cannot be written.

    Source: none; the columns are those of `read`.

    >>> blank_log().splitlines()[-1].split(",")[:3]
    ['date', 'temperature [degC]', 'pH']
    """
    degrees, feed, water = ("degF", "oz", "gal") if system == "US" else ("degC", "g", "L")
    said = {name: choices[0] for name, choices in FORMS.items()} | dict(forms or {})
    for name, form in said.items():
        if form not in FORMS.get(name, ()):
            raise DesignError(tables.unknown(f"list of forms of {name}", form, FORMS.get(name, FORMS)))
    unit = {name: form if form == "dKH" else f"mg/L as {form}" for name, form in said.items()}
    header = (f"date,temperature [{degrees}],pH,ammonia [{unit['ammonia']}],nitrite [{unit['nitrite']}],nitrate [{unit['nitrate']}],oxygen [mg/L],"
              f"alkalinity [{unit['alkalinity']}],feed [{feed}],top-up [{water}],note")  # fmt: skip
    text = f"# One line a day, dates as 2026-12-31; leave blank what you did not measure. Does your kit read as NO2, NO3, NH3? Write that in place of N.\n{header}"
    if path is None:
        return text
    with alone(Path(path)):
        if Path(path).exists():
            raise DesignError(f"'{path}' is there already and is left as it is; choose another name.")
        write(Path(path), text + "\n")
    return f'{Path(path).name} is saved. Under [upkeep] in your build file write log = "{Path(path).name}".'


@takes_things
def summary(log: Log) -> str:
    """How many days a log has, and all that could not be read, in lines of a readable length.

    Source: the log's own `problems`.

    >>> print(summary(read("courtyard-spring")).splitlines()[0])
    courtyard-spring.csv: 29 days of readings, 2026-03-02 to 2026-04-27; 3 kept out.
    """
    first, *others = str(log).split("\n")
    return "\n".join(
        [first, *(line for text in others for line in textwrap.wrap(text.strip(), _WIDE, initial_indent="  ", subsequent_indent="    "))]
    )


@takes_things
def next_steps(log: Log, build: Build, *, most: int = 4) -> str:
    """What a log asks for, the most urgent first, and what it says of the biofilter; in words. See `judge` for a demo's log.

    most: How many actions to tell.

    Source: `actions` and `biofilter`.

    >>> from aquaplumb.build import load
    >>> next_steps(own_log(load("courtyard")), load("courtyard")).splitlines()[0][:16]
    'today: alkalinit'
    """
    return steps(log, build).text(most)


@dataclass(frozen=True)
class NextSteps:
    """What a log asks for: `whose` it is where it is not yours, the actions `asked` for, and words `about` the biofilter."""

    whose: str
    asked: list[Action]
    about: str

    @property
    def pressing(self) -> int:
        """How many of them are for now or today."""
        return sum(action.urgency in URGENCIES[:2] for action in self.asked)

    def shown(self, most: int) -> list[Action]:
        """The first few, and never fewer than all that presses."""
        return self.asked[: max(most, self.pressing)]

    def text(self, most: int) -> str:
        """It, in lines of a readable length."""
        lines = [self.whose] if self.whose else []
        shown = self.shown(most)
        for action in shown:
            lines += _wrapped(f"{action.urgency}: {action.name}", f"{action.sentence} {action.reason}", f"→ {action.do}")
        if more := self.asked[len(shown) :]:
            lines.append(f"… and {len(more)} more: {', '.join(action.name for action in more)}.")
        if not self.asked:
            lines.append(CALM)
        return "\n".join([*lines, *_wrapped("the biofilter", self.about)])


def steps(log: Log, build: Build) -> NextSteps:
    """What a log asks for by the build that judges it."""
    its = judge(log, build)
    whose = "" if its is build else f"An invented log of a demo ({its.title}), judged by the demo's build: none of it is of your fish."
    try:
        seen: Build | Review = review(its)
        found = biofilter(log, seen)
        about = "Too few readings of feed and ammonia to say anything of it." if found is None else found.text(build.units)
    except DesignError as wrong:  # the fish need their advice all the same
        seen, about = its, f"Your build cannot be reckoned: {wrong}"
    return NextSteps(whose, actions(log, seen), about)


def _wrapped(head: str, *texts: str) -> list[str]:
    return [head, *(line for text in texts for line in textwrap.wrap(text, _WIDE, initial_indent="  ", subsequent_indent="  "))]

"""What if you start with fish, or with ammonia, warmer, seeded? Notebook 12.

    build = my_build()
    start_up.picture(build)      # as the build says it will start, in its coldest water
    start_up.panel(build)        # with sliders

A run of `aquaplumb.water.cycling` through twelve weeks at each move: a shape with a band, never a promised date.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from aquaplumb.build import Build, Upkeep
from aquaplumb.figures.start_up import WEEKS, StartUpPicture
from aquaplumb.review.findings import found
from aquaplumb.review.findings.upkeep import FATES, start_findings, start_need, start_words, week_words
from aquaplumb.system.filtering import upkeep_tasks
from aquaplumb.system.first_fish import CHANGED, bears, change_above, first_fish, usual_warmth
from aquaplumb.system.steady import solved
from aquaplumb.units import (
    BODY_MASS,
    CONCENTRATION,
    DAY,
    DAYS,
    SHARE,
    TEMPERATURE,
    BodyMass,
    Concentration,
    Number,
    Record,
    Temperature,
    Time,
    in_percent,
    span,
)
from aquaplumb.water.start_alkalinity import dosed_run
from aquaplumb.water.two_step import FAST, PIECES, SLOW, TYPICAL
from aquaplumb.whatif.base import Choice, Slider, listed
from aquaplumb.whatif.found import in_words
from aquaplumb.whatif.sheet_tables import Table
from aquaplumb.whatif.start_up_tries import of_start, start_differs, start_look
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

WITH_FISH, WITH_AMMONIA = "with fish", "with ammonia"
_MORNINGS = slice(PIECES, None, PIECES + 1)  # the rows at each day's end: what a kit reads before the next dose or change


class StartUpWeeks(Record):
    """A start-up through twelve weeks. Arrays have slow, typical and fast bacteria, then mornings; they belong to the picture."""

    start: str
    species: str
    temperature: Temperature
    dose: Concentration
    dose_mass: BodyMass
    dose_share: Number  # of the heaviest day's ammonia
    first_share: Number
    tan_limit: Concentration
    nitrite_limit: Concentration
    time: Time
    tan: Concentration
    nitrite: Concentration
    nitrate: Concentration
    tan_peak: Concentration
    nitrite_peak: Concentration
    ready: Time
    severity: str = ""  # how bad it is for fish that are in it
    slow: Number = 0  # whether it is only where the bacteria are slow
    findings: tuple = ()
    put_back: tuple = ()  # how bad it is, and what to put back of the alkalinity that the start eats

    @property
    def with_fish(self) -> bool:
        """Whether fish live through it."""
        return self.si.start == WITH_FISH

    @property
    def works(self) -> bool:
        """Whether no fish is harmed as things usually go: none is there, or both peaks stay within what the species bears."""
        return self.si.severity not in ("stop", "fix")

    @property
    def deadly(self) -> bool:
        """Whether a peak goes past what fish survive."""
        return self.si.severity == "stop"

    @property
    def surely(self) -> bool:
        """Whether none is harmed with slow bacteria either."""
        return not self.si.severity

    @property
    def weeks(self) -> str:
        """How long until it is ready, in words."""
        words = _band(self.si.ready).rstrip(",")
        return words[:1].lower() + words[1:]

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in two or three short sentences; `short` leaves out what the species bears and what is weighed out."""
        r, weeks = self.si, _band(self.si.ready)
        if not self.with_fish:
            mass = "" if short else f", {BODY_MASS.text(r.dose_mass, system)} of ammonium chloride,"
            told = (
                f"**{weeks} until the first fish**: then a dose of {CONCENTRATION.text(r.dose, system)} (as N){mass} is gone within a day."
            )
            part = "all" if r.dose_share >= 0.995 else in_percent(r.dose_share)
            return told if short else f"{told} The bacteria then carry {part} of your fish. Your test kit says when."
        tan, nitrite = (CONCENTRATION.text(peak[SLOW if r.slow else TYPICAL], system) for peak in (r.tan_peak, r.nitrite_peak))
        begins = FATES.get(r.severity, "fish bear it").capitalize()
        told = f"**{begins}:** {'with slow bacteria ' * bool(r.slow)}ammonia comes to {tan}, nitrite to {nitrite} (as N)"
        if not short:
            told += f"; {r.species} bears {CONCENTRATION.text(r.tan_limit, system)} and {CONCENTRATION.text(r.nitrite_limit, system)}"
        return f"{told}. **{weeks} until the water is safe for all of them.**"


def _band(ready) -> str:
    """The band of weeks: "2 to 6 weeks, most likely 4,"."""
    fast, usual, slow = (_weeks(ready[pace]) for pace in (FAST, TYPICAL, SLOW))
    if fast == "more than 12":
        return "More than 12 weeks"
    if fast == slow:
        return f"About {fast} week{'s' * (fast != '1')}"
    middle = f", most likely {usual}," if usual not in (fast, slow) else ""
    return f"{fast} to {slow} weeks{middle}" if slow != "more than 12" else f"{fast} to more than 12 weeks{middle}"


def _weeks(time: float) -> str:
    """Days as weeks, rounded to the week; nobody knows it better."""
    if not math.isfinite(time):
        return f"more than {WEEKS}"
    return f"{max(1, round(time / DAY / 7))}"


_SHARES = {"seed": "old media", "first_share": "fish on the first day"}  # what a Keep says of the file's keys


class StartWhatIf(WhatIf):
    """Start with fish or with ammonia, warmer, seeded, slower; and keep how you will start.

    With fish, a quarter of the water is changed when it is needed, unless the slider says otherwise.
    """

    drawn, page, keep_label = StartUpPicture, "12", "Keep this start in my build"
    case = {"start": WITH_FISH, "temperature": 298.15, "first_share": 1.0, "ramp": 0.0, "water_change": 0.0}

    def __init__(self, build: Build):
        super().__init__(build)
        self.system = solved(build)
        self.plan, self.bears = self.system.upkeep, bears(self.system)
        self.change_above = change_above(*self.bears)

    def own(self) -> dict:
        s = self.plan.section
        return {"start": s.start, "temperature": usual_warmth(self.system.cold), "dose": s.dose, "first_share": s.first_share,
                "ramp": s.ramp, "seed": s.seed, "water_change": CHANGED}  # fmt: skip

    def __call__(
        self,
        start: str,
        temperature: float,
        seed: float,
        dose: float = 2e-3,
        first_share: float = 0.2,
        ramp: float = 42 * DAY,
        water_change: float = 0.0,
    ) -> StartUpWeeks:
        """All bare SI; `water_change` is the part changed on a morning with more ammonia or nitrite than the fish bear."""
        fish = start == WITH_FISH
        begun = first_fish(self.system, first_share=first_share, ramp=ramp, seed=seed, temperature=temperature, water_change=water_change)
        run = begun.run if fish else dosed_run(dose, temperature, seed).si
        worst = begun.worst if fish else None
        section = (self.build.upkeep or Upkeep()).with_si(start=start, seed=seed, dose=dose, first_share=first_share, ramp=ramp)
        system = self.system.with_sections(upkeep=section)
        plan, (tan, nitrite) = system.upkeep, self.bears
        findings = [one for one in found(system) if one.notebook == "12"] + (start_findings(begun, self._say) if fish else [])
        return StartUpWeeks.from_si(
            start=start, species=tan.whose if tan.whose == nitrite.whose else "the weakest of your fish", temperature=temperature, dose=dose, dose_mass=plan.dose_mass,
            dose_share=plan.dose_share, first_share=first_share, tan_limit=tan.limit, nitrite_limit=nitrite.limit, time=run.time[_MORNINGS],
            tan=run.tan[:, _MORNINGS], nitrite=run.nitrite[:, _MORNINGS], nitrate=run.nitrate[:, _MORNINGS], tan_peak=run.tan_peak, nitrite_peak=run.nitrite_peak, ready=run.ready,
            severity=worst.severity if worst else "", slow=int(worst.slow) if worst else 0, findings=tuple(findings), put_back=() if fish else self._put_back(plan, temperature),
        )  # fmt: skip

    def _say(self, kind, value) -> str:
        return kind.text(value, self.build.units)

    def _put_back(self, plan, temperature: float) -> tuple:
        """How bad it is that the start eats alkalinity, and the base for it, in words; nothing where it lasts."""
        held = plan.section.alkalinity_held
        need = start_need(plan, temperature, held)
        if np.isnan(need.runs_out).all():
            return ()
        if held is not None and need.test_every > 0:
            return "note", week_words(plan, need, held, self._say)
        return "fix", " ".join(start_words(plan, need, held, self._say))

    def controls(self) -> list:
        def only(start: str, high: str) -> dict[str, Any]:
            """What hangs on the way of starting, up to a high end; all are heard when they are let go."""
            return {"of": "start", "highs": {start: high}, "on_release": True}

        return [
            Choice("start", "how you start", [WITH_AMMONIA, WITH_FISH]),
            Slider("temperature", "water", TEMPERATURE, "5 degC", "35 degC", "0.5 degC", tip="your season decides", on_release=True, kept=False),
            Slider("dose", "ammonia of a dose, as N", CONCENTRATION, "1 mg/L", "5 mg/L", "0.5 mg/L", **only(WITH_AMMONIA, "5 mg/L"), key="upkeep.dose"),
            Slider("first_share", "fish on the first day", SHARE, "5 %", "100 %", "5 %", tip="of all that you will keep", **only(WITH_FISH, "100 %"), key="upkeep.first_share"),
            Slider("ramp", "until all fish are in", DAYS, "0 days", "84 days", "7 days", **only(WITH_FISH, "84 days"), key="upkeep.ramp"),
            Slider("water_change", "changed when needed", SHARE, "0 %", "50 %", "5 %", tip=f"of the water, each morning with over {CONCENTRATION.text(self.change_above)} of ammonia or nitrite", **only(WITH_FISH, "50 %"), kept=False),
            Slider("seed", "old media brought along", SHARE, "0 %", "100 %", "5 %", tip="the share of a finished, living biofilm", on_release=True, key="upkeep.seed"),
        ]  # fmt: skip

    def findings(self, record, system: str) -> list[tuple[str, str]]:
        put_back = [(word, in_words(text, "Keep writes it.")) for word, text in filter(None, [record.si.put_back])]
        return super().findings(record, system) + put_back

    def slow(self, **values) -> bool:
        return True

    def changes(self, values: Values) -> dict[tuple, object]:
        kept: dict[str, object] = {"start": values["start"], "seed": round(values["seed"], 4)}
        if values["start"] == WITH_FISH:
            kept |= {"first_share": round(values["first_share"], 4), "ramp": f"{values['ramp'] / DAY:.12g} days"}
        else:
            kept["dose"] = values.text("dose")
            kept["alkalinity_held"] = CONCENTRATION.text(self.plan.alkalinity)  # the plan that the page shows, week by week
        moved = self.moved(values)
        return {("upkeep", name): value for name, value in kept.items() if self.build.upkeep is None or name in moved}

    def told(self, new: dict, values: Values) -> str:
        shares = {key: SHARE.text(float(value)) for key, value in new.items() if key[-1] in _SHARES and value is not None}
        return listed(new | shares, names=_SHARES)

    def tries(self) -> list[Try]:
        return of_start(self, WITH_FISH, WITH_AMMONIA)

    def look(self, record: StartUpWeeks, system: str) -> str:
        return start_look(record, system)

    def against(self, record: StartUpWeeks, demo: StartUpWeeks, system: str) -> str:
        return start_differs(record, demo, system)


def _whole(time: float) -> float:
    """A time as whole days, never later: nobody empties a trap each 2.1 days. Within a day it stays."""
    return DAY * math.floor(time / DAY * (1 + 1e-9)) if time >= DAY else time


start, picture, panel, sight = StartWhatIf.as_built, StartWhatIf.picture, StartWhatIf.panel, StartWhatIf.sight


def tasks(build: Build):
    """What to do and how often at the build's heaviest feed, as a folded table; common practice, no source.

    Parameters
    ----------
    build : Build

    Returns
    -------
    Table
    """
    plan = sorted(upkeep_tasks(solved(build)), key=lambda task: task.every)
    rows = [(span(_whole(task.every)).removeprefix("a "), task.name, task.never.replace("; ", ", never ")) for task in plan]
    return Table(("every", "do", "never"), rows, title=f"Your care plan, {len(rows)} tasks (common practice, without a source)")

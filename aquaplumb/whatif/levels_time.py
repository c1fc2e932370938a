"""What if the power fails, a drain blocks, a siphon sticks? Notebook 09.

    build = my_build()
    levels_time.picture(build)      # the power off for 8 h, two hours in
    levels_time.sight(build)        # the guess's power cut, and the build's own
    levels_time.panel(build)        # choose what fails, play the hours, size the sump, set the floats

A failure is simulated once; moving the moment only looks at another time of the same run.
"""

from __future__ import annotations

from collections import OrderedDict
from typing import Any

import numpy as np

from aquaplumb.build import Build
from aquaplumb.build.shapes import SIZES
from aquaplumb.build.vessels import plan_area
from aquaplumb.figures.levels_time import LevelsPicture, over_rim, together
from aquaplumb.review.findings.contradictions import low_switch_too_low
from aquaplumb.system import levels
from aquaplumb.system.failures import (
    CUTS,
    HOUR,
    HOW_MUCH,
    NO_START,
    NO_STOP,
    NO_TOP_UP,
    NOTHING,
    OUTLET,
    RAINING,
    STRAINER,
    SUPPLIES,
    USUAL,
    failure,
    moments,
    siphons_start,
    sump_of,
    what_can_fail,
)
from aquaplumb.system.outcome import SAFE, STILL, harm, harm_in_use, outcome, run_out
from aquaplumb.units import DAYS, DEPTH, HOURS, LENGTH, RAIN, SHARE, TIME, VOLUME, DesignError, Record, Time, lasting
from aquaplumb.whatif.base import Choice, Slider, alike, written_length
from aquaplumb.whatif.levels_tries import differs, kept_in_words, minutes_that_matter, of_levels, risen, seen_in, topped_up
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

AT = HOUR  # when it fails
LONG, SHORT = 12 * HOUR, 6 * HOUR  # how long it is watched: a power cut, all else
_KEPT = 60  # runs kept
_PUDDLE = 0.01  # m³, less than which is no word worth
_EARLY = ", and the siphons do start, which is not sure"
_EMPTY = 0.02  # m of water, in which no pump draws


class Levels(Record):
    """A build through the hours of one failure, and how it stands at one moment of them.

    `run` has the whole story, `watched` the vessels that are told of, `depths`, `state`, `running` and `spilling` the moment; `stops` are the moments to play [s].
    """

    build: object
    run: object
    settings: tuple
    moment: Time
    words: str
    watched: tuple
    stories: dict
    bands: tuple
    stops: tuple
    switches: tuple
    outcome: object
    depths: dict
    state: object
    running: frozenset
    spilling: tuple
    now: str

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in two or three short sentences; `short` leaves out the fish."""
        return _sentence(self.si, system, short)


# --- the outcome, in words -------------------------------------------------------------------------------


def _sentence(r, system: str, short: bool) -> str:
    """The outcome: first the verdict, then how high the sump and how low the fish tank."""
    o = r.outcome
    low, lost = [t for t in o.tanks if t.left < SAFE], run_out(r.run)
    if o.spills:
        over = "; ".join(
            f"**{VOLUME.text(s.spilled, system)}** over the rim of {s.name}, from {lasting(s.first_spill)} on" for s in o.spills
        )
        told = f"**It spills:** {over}."
    elif low:
        told = f"**The fish run out of water:** {low[0].name} falls to **{LENGTH.text(low[0].lowest, system)}**."
    elif o.dry:
        told = (
            "**A pump runs dry:** "
            + "; ".join(f"{name} draws air **{_how_long(r, name, dry)}**, from {lasting(when)} on" for name, (dry, when) in o.dry.items())
            + "."
        )
    elif lost > _PUDDLE:
        told = f"**{VOLUME.text(lost, system)} run out on the ground** by the end; no pump runs dry."
    else:
        told = "**Nothing spills, no pump runs dry.**"
    *others, sump = [(o.stories[name], LENGTH.text(r.build.vessels[name].si.height, system)) for name in r.watched]
    rises = [f"{story.name} rises to **{LENGTH.text(story.highest, system)}** of its {height}; " for story, height in others]
    story, height = sump
    told += f" {_first(r.words)}: {''.join(rises)}{_stands(story, system)} of its {height}."
    if lost > _PUDDLE and (o.spills or low or o.dry):
        told += f" By the end **{VOLUME.text(lost, system)}** have run out on the ground."
    if not short:
        for tank in o.tanks:
            if tank.gap:
                told += f" **No new water** reaches {tank.name} for {lasting(tank.gap)}."
            elif tank.part < 0.8:
                told += f" {_first(tank.name)} gets {SHARE.text(tank.part)} of its usual water."
        if o.waits and not any(tank.gap for tank in o.tanks):
            told += f" No new water reaches {together(list(o.waits))} for {lasting(max(o.waits.values()))}."
    return told


def _stands(story, system: str) -> str:
    """How low and how high the water of a vessel stands; what is all but empty is told in small measures."""
    if story.highest < _EMPTY:
        return f"{story.name} is all but empty, with **{DEPTH.text(round(story.highest, 3), system)}** at most"
    return f"{story.name} stands between {LENGTH.text(story.lowest, system)} and **{LENGTH.text(story.highest, system)}**"


def _how_long(r, name: str, dry: float) -> str:
    """How long a pump draws air; where it still does at the end of the run, that end says nothing of it."""
    return "for as long as it lasts" if r.run.dry[-1, r.run.pumps.index(name)] else f"for {lasting(dry)}"


def _first(words: str) -> str:
    return words[:1].upper() + words[1:]


def _findings(r, system: str) -> list[tuple[str, str]]:
    """What is wrong with this one failure, each with its cure."""
    o, found = r.outcome, []
    for s in o.spills:
        higher = s.spilled / plan_area.si(r.build.vessels[s.name])
        found.append(
            (
                "stop",
                f"{VOLUME.text(s.spilled, system)} go over the rim of {s.name}. Give it room for that (walls {DEPTH.text(higher, system)} higher, or less water in daily use), or an overflow to where water does no harm.",
            )
        )
    for tank in o.tanks:
        if tank.left < SAFE:
            found.append(
                (
                    "stop",
                    f"{tank.name} is left with {SHARE.text(tank.left)} of its usual water. Let nothing take water from below half of its depth.",
                )
            )
    for name, (dry, _) in o.dry.items():
        found.append(
            (
                "fix",
                f"The pump of {name} draws air {_how_long(r, name, dry)}, and wears out or burns. A low-level switch stops it in time; more water in its vessel keeps it running.",
            )
        )
    found += [(word, f"{told} {cure}") for word, _, told, cure in low_switch_too_low(r, lambda kind, value: kind.text(value, system))]
    if (lost := run_out(r.run)) > _PUDDLE:  # common practice, no source
        gone = f"{VOLUME.text(lost, system)} are gone by then, and more each hour: nothing in the build stops it but who sees it. Walk round once a day, and hang an alarm for low water in {r.watched[-1]}."
        found.append(("note", gone))
    for tank in o.tanks:
        if tank.gap:
            if r.words.startswith(NOTHING):
                found.append(
                    (
                        "fix",
                        f"Nothing has failed, and yet no new water reaches {tank.name} for {lasting(tank.gap)}. A low switch or a float that stands too high keeps its pump off: set it lower.",
                    )
                )
            found.append(
                (
                    "note",
                    f"For {lasting(tank.gap)} {tank.name} gets no fresh oxygen from the water flow, and what it holds may last an hour or less: page 10 has your minutes. Fit air on a battery of its own before the fish.",
                )
            )
    return found


# --- from the controls to a run ----------------------------------------------------------------------------


class LevelsWhatIf(WhatIf):
    """Let things fail, play the hours, and find the sump, floats and low-level switch that stand it.

    The runs made last are kept, so that moving the moment is quick.
    """

    drawn, page = LevelsPicture, "09"

    def __init__(self, build: Build):
        super().__init__(build)
        if not build.pumped:
            raise DesignError("this build has no pumped line; give it a pump first (notebook 08).")
        self.sump = sump_of(build)
        self.across = SIZES[build.vessels[self.sump].si.shape][0]
        lines = list(build.pumped.values())
        self.switched = next((line for line in lines if line.si.source == self.sump), lines[0]).si.name
        self.floated = next((line.si.name for line in lines if line.si.control.si.kind == "float"), None)
        self.runs: OrderedDict = OrderedDict()
        self.kinds = what_can_fail(build)

    def sizes(self) -> dict:
        """What the controls that are kept stand at for the build, bare SI."""
        own = {
            "across": getattr(self.build.vessels[self.sump].si, self.across),
            "cut": self.build.pumped[self.switched].si.control.si.cut_out_depth or 0.0,
        }
        if self.floated:
            control = self.build.pumped[self.floated].si.control.si
            own |= {"on": control.on_depth, "off": control.off_depth}
        return own

    def own(self) -> dict:
        return {"failure": next(kind for kind in self.kinds if kind in SUPPLIES), "moment": 2 * HOUR, **USUAL, **self.sizes()}

    def follow(self) -> dict:
        return {"failure": lambda values: {"blocked": 0.5 if values["failure"] == STRAINER else 1.0}}

    def controls(self) -> list:
        hours = {kind: "720 min" if kind in CUTS else "360 min" for kind in self.kinds}
        high = {
            "power_off": dict.fromkeys(CUTS, "10 h"), "blocked": {OUTLET: "100 %", STRAINER: "95 %"}, "rain": {RAINING: "80 mm/h"}, "days": {NO_TOP_UP: "28 d"},
        }  # fmt: skip
        later: dict[str, Any] = {"on_release": True}
        return [
            Choice("failure", "what fails", list(self.kinds), kept=False),
            Choice("where", "which one", self.kinds, of="failure", kept=False),
            Slider("power_off", "power is off for", HOURS, "1 h", "10 h", "0.5 h", of="failure", highs=high["power_off"], tip="then it comes back", **later, kept=False),
            Slider("blocked", "how much of it", SHARE, "0 %", "100 %", "5 %", of="failure", highs=high["blocked"], tip="the part that is shut", **later, kept=False),
            Slider("rain", "rain, for 2 h", RAIN, "5 mm/h", "80 mm/h", "5 mm/h", of="failure", highs=high["rain"], us=("0.2 in/h", "3 in/h", "0.1 in/h"), **later, kept=False),
            Slider("days", "without top-up for", DAYS, "1 d", "28 d", "1 d", of="failure", highs=high["days"], tip="water evaporates, and plants drink", **later, kept=False),
            Slider("across", f"{self.across} of {self.sump}", LENGTH, "0.3 m", "3 m", "0.05 m", tip="its other sizes stay; so does the depth of its water", **later),
            *self._floats(),
            Slider("cut", f"low switch of {self.switched}", DEPTH, "0 mm", "500 mm", "10 mm", tip="stops the pump when its vessel is no deeper; 0: none", **later, key="lines.*.control.cut_out_depth"),
            Slider("moment", "look at", TIME, "0 min", "720 min", "2 min", of="failure", highs=hours, play=250, tip="the dashed line; ▶ plays the minutes that matter", kept=False),
        ]  # fmt: skip

    def _floats(self) -> list:
        if not self.floated:
            return []
        top = DEPTH.quantity(self.build.vessels[self.build.pumped[self.floated].si.source].si.height)
        tip = "depth of the water at the pump at which it"
        return [
            Slider(
                "on", "float: on at", DEPTH, "50 mm", top, "10 mm", tip=f"{tip} starts", on_release=True, key="lines.*.control.on_depth"
            ),
            Slider(
                "off", "float: off at", DEPTH, "20 mm", top, "10 mm", tip=f"{tip} stops", on_release=True, key="lines.*.control.off_depth"
            ),
        ]

    def findings(self, record, system: str) -> list[tuple[str, str]]:
        return _findings(record.si, system)

    def key(self, values: dict) -> tuple:
        """What a run depends on: all but the moment, and of the rest only what has to do with the failure."""
        failure = values["failure"]
        asked = [values["where"]] if self.kinds[failure] else []
        asked += [values[name] for name, kinds in HOW_MUCH.items() if failure in kinds]
        return failure, *asked, *(values[name] for name in self.sizes())

    def slow(self, **values) -> bool:
        """Whether these values need a run that is not there yet."""
        return self.key(values) not in self.runs

    def __call__(self, **values) -> Levels:
        """All bare SI; `where` may be left out of what needs none."""
        values = {"where": "", **values}
        key = self.key(values)
        if key not in self.runs:
            self.runs[key] = self._run(values)
            if len(self.runs) > _KEPT:
                self.runs.popitem(last=False)
        self.runs.move_to_end(key)
        build, run, bands, stops, words, switches, outcome = self.runs[key]
        moment = min(values["moment"], float(run.time[-1]))
        k = max(0, int(np.searchsorted(run.time, moment + 1e-9, side="right")) - 1)
        state = run.state_at(moment)
        return Levels.from_si(
            build=build, run=run, settings=key, moment=moment, words=words, watched=self._watched(values), stories=outcome.stories, bands=bands, stops=stops,
            switches=switches, outcome=outcome, depths=run.depth_at(moment), state=state, running=_running(build, state),
            spilling=tuple(name for name, rate in zip(run.vessels, over_rim(run)[k]) if rate > 0),
            now=next((said for begin, end, said in bands if begin <= moment < end), ""),
        )  # fmt: skip

    def _watched(self, values: dict) -> tuple:
        """The vessels to tell of: the one behind what fails, if it is one pipe out of a vessel, and the sump."""
        fall = self.build.falling.get(values["where"]) if self.kinds[values["failure"]] else None
        source = self.build.lines[self.build.line_of(values["where"])].si.source if fall else self.sump
        return (*([source] if source != self.sump else []), self.sump)

    def changed(self, values: dict) -> Build:
        """The build with the sliders' sump, floats and switch in it."""
        own = self.sizes()
        moved = {name for name in own if not alike(values[name], own[name])}
        if not moved:
            return self.build
        lines = {name: self.build.pumped[name] for name in (self.switched, self.floated) if name}

        def turned(name: str, **to) -> None:
            lines[name] = lines[name].with_si(control=lines[name].si.control.with_si(**to))

        if "cut" in moved:
            turned(self.switched, cut_out_depth=values["cut"] or None, cut_in_depth=None)
        if self.floated and {"on", "off"} & moved:
            turned(self.floated, on_depth=values["on"], off_depth=values["off"])
        sump = self.build.vessels[self.sump].with_si(**{self.across: values["across"]})
        return self.build.replaced(vessels=[sump], lines=list(lines.values()))

    def _run(self, values: dict):
        """(build, run, bands, moments to play, what fails in words, switches, outcome) of the controls' values."""
        build, kind = self.changed(values), values["failure"]
        fails = failure(build, kind, values["where"], **{name: values[name] for name in USUAL})
        cut = kind in CUTS
        tries = [(at, starts) for starts in siphons_start(build) for at in (moments(build, AT) if cut else [AT])]
        stories, starting = [fails.events(at) for at, _ in tries], [starts for _, starts in tries]
        tried = levels.runs(build, TIME.quantity(LONG if cut else SHORT), stories, start=fails.start, starts=starting, quick=True)
        worst, told = 0, harm if cut else harm_in_use
        if len(tries) > 1:
            worst = max(range(len(tries)), key=lambda k: told(tried[k], self.sump, tries[k][0], fails.lasts))  # of equals the first
        (at, starts), run = tries[worst], tried[worst]
        until = run.time[-1] if fails.lasts is None else at + fails.lasts
        bands = ((at, until, fails.brief),) if fails.brief else ()
        others = _EARLY.replace("the", "the other", 1) if kind in (NO_START, NO_STOP) else _EARLY
        words, came = fails.words + others * (starts == "may"), outcome(run, *(bands[0][:2] if bands else ()))
        return build, run, bands, minutes_that_matter(run, bands), words, self._switches(build), came

    def _switches(self, build: Build) -> tuple:
        """(vessel, depth, word) of each float and low-level switch."""
        marks = []
        for line in build.pumped.values():
            c = line.si.control.si
            marks += [(line.si.source, c.on_depth, "on"), (line.si.source, c.off_depth, "off")] if c.kind == "float" else []
            marks += [(line.si.source, c.cut_out_depth, "low")] if c.cut_out_depth else []
        return tuple(marks)

    def changes(self, values: Values) -> dict[tuple, object]:
        new, units = self.changed(values), self.build.units
        changes: dict[tuple, object] = {}
        if "across" in self.moved(values):
            changes["vessels", self.sump, self.across] = written_length(values["across"], units)
        for name, line in self.build.pumped.items():
            before, after = vars(line.si.control.si), vars(new.pumped[name].si.control.si)
            for field in ("on_depth", "off_depth", "cut_out_depth", "cut_in_depth"):
                if before[field] != after[field]:
                    changes["lines", name, "control", field] = None if after[field] is None else written_length(after[field], units)
        return changes

    def tries(self) -> list[Try]:
        return of_levels(self)

    def look(self, record: Levels, system: str) -> str:
        return seen_in(record.si, system)

    def against(self, record: Levels, demo: Levels, system: str) -> str:
        return differs(record.si, demo.si, system)

    def told(self, new: dict, values: Values) -> str:
        return kept_in_words(new, values.system)


def _running(build: Build, state) -> frozenset:
    """The names of the lines in which water moves; of a pumped one also its ends, as "line › end"."""
    running = {name for name, flow in state.flow.items() if abs(flow) > STILL}
    for line in build.pumped.values():
        name = line.si.name
        back = {to.removeprefix(f"{name}, back from ") for to in running if to.startswith(f"{name}, back from ")}
        running |= {f"{name} › {p.si.name}" for p in line.si.pipe if p.si.to in back}
        if any(other.startswith(f"{name} › ") for other in running):
            running.add(name)
    return frozenset(name for name in running if ", back from " not in name)


def story(build: Build, failure: str = "", where: str = "", **how_much) -> Levels:
    """A build as it is, through one failure.

    `failure` is as the menu says, such as "an outlet is blocked" (left out, the first supply to fail), and `where` which one. `how_much` may have `moment`,
    the one to look at [s], `power_off` [s], `blocked`, `rain` [m/s] and `days` [s], in place of the usual.
    """
    what_if = LevelsWhatIf(build)
    return what_if(**{**(own := what_if.own()), "failure": failure or own["failure"], "where": where, **how_much})


picture, panel, sight = LevelsWhatIf.picture, LevelsWhatIf.panel, LevelsWhatIf.sight
as_built, top_up, rise = LevelsWhatIf.as_built, topped_up, risen

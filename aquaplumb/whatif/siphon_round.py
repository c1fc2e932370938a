"""What does a siphon make of a bed's level, round by round? The second what-if of notebook 06.

    build = my_build()
    siphon_round.picture(build)      # as the build stands: its first siphon
    siphon_round.panel(build)        # with sliders

The bed is run alone through two hours by `aquaplumb.system.levels`: a constant inflow, its own falling lines, and whatever
these end in held at its working level. A build that has no siphon gets one to try on each of its bed drains.
"""

from __future__ import annotations

import copy

import numpy as np

from aquaplumb.build import Build, FallingLine, Siphon
from aquaplumb.build.stocks import ALONE
from aquaplumb.build.vessels import Vessel, kinds_in_words, water_volume
from aquaplumb.figures.siphon_round import HOURS, RoundPicture
from aquaplumb.plumbing import pipe_sizes, siphons
from aquaplumb.system import levels
from aquaplumb.system.steady import Steady, solved
from aquaplumb.units import (
    DEPTH,
    FLOW,
    HEAD,
    LENGTH,
    TIME,
    VOLUME,
    Bore,
    DesignError,
    Flow,
    Head,
    Length,
    Number,
    Record,
    Time,
    Volume,
    in_percent,
)
from aquaplumb.whatif.base import Choice, Panel, Slider, listed, named
from aquaplumb.whatif.drain_siphon import NAMES, FallWhatIf
from aquaplumb.whatif.drain_tries import of_round
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

_LONG = 12.0  # h: as far as a round is followed that takes more than the picture's two hours
_VENT_OVER_FLOOR = {
    "metric": 0.05,
    "US": 2 * 0.0254,
}  # m: so much water stays in a bed whose siphon is only tried: common practice, no source
_DRY_TOP = 0.02  # m that should stay dry under the media's top: FAO Fisheries Technical Paper 589 (2 to 5 cm), from memory
_MOST = 20 / 3600  # m³/s: where the picture's ruler of flows ends at most
_WIDE = 1000.0  # m: the sides of what stands for a sump whose level holds


class Round(Record):
    """A bed with a siphon through time. Depths count from the bed's floor. Arrays belong to the picture."""

    line: str
    source: str
    tried: bool  # the build has no siphon here
    outcome: str  # one of `OUTCOMES`
    doubtful: bool  # it goes round, but may not stop when it is dirty
    inflow: Flow
    bore: Bore
    lip: Head
    vent: Head
    rim: Length
    media: Length
    runs_share: Number  # of the hour that the build's pumps bring this water
    volume: Volume  # between vent and lip
    fill: Time | None
    empty: Time | None
    per_hour: Number | None
    over_half: Number | None  # share of time with the level over half way from vent to lip
    lowest: Length
    highest: Length
    last: Length
    biggest: Flow
    flow_at_vent: Flow
    ruler: Flow  # where the picture's ruler of flows ends
    helps: Flow  # most that the other falling lines of the bed take
    spills: Flow  # over the rim at the end
    times: Time
    depths: Length
    flows: Flow
    early_times: Time | None
    early_depths: Length | None

    @property
    def works(self) -> bool:
        """Whether the bed goes up and down."""
        return self.outcome in ("goes round", "may go round")

    @property
    def surely(self) -> bool:
        """Whether it does so with something to spare."""
        return self.outcome == "goes round" and not self.doubtful

    def sentence(self, system: str = "metric") -> str:
        """The outcome in two or three short sentences."""
        r = self.si
        comes, line = FLOW.text(r.inflow, system), r.line[:1].upper() + r.line[1:]
        told = f"A siphon is tried on {r.line}. " if r.tried else ""
        if r.outcome == "no fall":
            return f"{told}**No fall.** {line} ends at or above its lip, in height or under water: nothing runs."
        if r.outcome == "spills":
            return f"{told}**It spills.** {comes} comes in; {FLOW.text(r.spills, system)} of it goes over the rim."
        if r.outcome == "never starts":
            return f"{told}**It never starts:** {comes} dribbles over the lip, and the bed stays full."
        if r.outcome == "never stops":
            also = f" {FLOW.text(r.helps, system)} goes out by another way." if r.helps > 0.01 * r.inflow else ""
            return f"{told}**It never stops:** {comes} runs through for ever, and the bed stays {DEPTH.text(r.last, system)} deep.{also}"
        if r.fill is None or r.empty is None:
            return f"{told}**One round takes more than {_LONG:g} hours.** {comes} comes in."
        if r.outcome == "may go round":
            told += f"**It may not start:** {comes} is in the doubtful band. If it does, it "
        else:
            told += "**It "
        told += f"fills in {_minutes(r.fill)} and empties in {_minutes(r.empty)}: {r.per_hour:.1f} rounds an hour."
        told += "" if r.outcome == "may go round" else "**"
        return told + (" It may not stop when it is dirty." if r.doubtful else f" {comes} comes in." if self.surely else "")

    def notes(self, system: str = "metric") -> list[tuple[str, str]]:
        """What the round means for roots and sump, or what to change."""
        r, told = self.si, []
        if r.outcome in _CURES:
            severity, cure = _CURES[r.outcome]
            told.append(("note", f"Tried as a siphon. {cure}") if r.tried and severity == "fix" else (severity, cure))
        if self.works and r.fill is not None and r.empty is not None:
            swing = DEPTH.text(r.highest - r.lowest, system)
            told.append(
                ("note", f"The level swings by {swing}; it stands over half way from vent to lip {in_percent(r.over_half)} of the time.")
            )
            out = VOLUME.text(r.inflow * (r.fill + r.empty), system)
            told.append(
                ("note", f"It carries up to {FLOW.text(r.biggest, system)}, {r.biggest / r.inflow:.1f} times what comes in; {out} a round.")
            )
        if r.helps > 0.01 * r.inflow and r.outcome not in ("spills", "never stops"):
            told.append(("note", f"At its highest, {FLOW.text(r.helps, system)} goes out by another way."))
        if r.media > 0 and r.highest > r.media - _DRY_TOP and r.outcome not in ("no fall", "spills"):
            gap = (
                f"comes to within {DEPTH.text(r.media - r.highest, system)} of the media's top"
                if r.highest < r.media
                else "covers the media"
            )
            told.append(
                (
                    "note",
                    f"At its highest, water {gap}. Keep {'20 mm' if system == 'metric' else '3/4 in'} or more dry there: algae grow where it is wet.",
                )
            )
        if r.tried:
            told.append(("note", "As it stands, this drain keeps the water at one height. A siphon that you keep has to be built."))
        if r.runs_share < 0.98:
            told.append(("note", f"Your pumps bring this water {in_percent(r.runs_share)} of the time; here it comes all the time."))
        return told


_CURES = {  # of an outcome: how bad it is, and what to do
    "no fall": ("stop", "Set its outlet lower."),
    "spills": ("stop", "More water comes than all ways out of this bed carry. Send it less, or give it a wider emergency overflow."),
    "never starts": ("fix", "Roots stay under water all day, with little air. Send it more water, or use a narrower standpipe."),
    "never stops": ("fix", "Send it less water, use a wider standpipe, or give it more fall."),
    "may go round": ("note", "Try it twenty times with a bucket before you trust it. No measured starting flow is in print."),
}
OUTCOMES = ("goes round", "may go round", "never starts", "never stops", "spills", "no fall")


def _minutes(time: float) -> str:
    """A time as one says it: to a tenth under five minutes, whole minutes above."""
    return f"{time / 60:.1f} min" if time < 300 else f"{time / 60:.0f} min"


class RoundWhatIf(WhatIf):
    """See a bed's level go up and down, and keep the siphon's size, vent and outlet."""

    drawn, page, keep_label, pick, lent = RoundPicture, "06", "Keep this siphon in my build", "line", "siphon"
    lender_us, lent_us = "kitchen-garden", "bed drain, with a siphon tried on it"

    def __init__(self, build: Build, line: str | None = None):
        super().__init__(build)
        lines = _siphons(build)
        self.tried = not lines
        self.shut = "If you want a siphon: one on your bed …" if self.tried else ""
        steady = solved(build)
        self._pumps = steady.in_time.pumped  # of the build as it is, without a siphon that is only tried
        if self.tried:
            lines = [_with_siphon(falling, steady) for falling in build.falling.values() if _could(falling, build)]
            build = build.replaced(lines=lines)
        self.lines = [falling.si.name for falling in lines]
        self.begin = named(line, self.lines, self.lines[0], "build's siphons")
        self.falls = FallWhatIf(build)

    @classmethod
    def lack(cls, build: Build) -> str:
        if _siphons(build) or any(_could(falling, build) for falling in build.falling.values()):
            return ""
        return ", and ".join(filter(None, [kinds_in_words(build.growing), "no bed with a drain"]))

    def own(self, line: str | None = None) -> dict:
        own = self.falls.own(line or self.begin)
        return {name: own[name] for name in ("line", "size", "inflow", "vent", "outlet")}

    def controls(self) -> list:
        floors = {f.name: self.falls.build.vessels[f.source].si.floor for f in (line.si for line in self.falls.lines.values())}
        room = min(self.falls.lines[name].si.lip - floors[name] for name in self.lines)
        deepest = 0.01 * int(100 * room - 1)
        low, high, step = (0.02, deepest, 0.01) if deepest >= 0.03 else (0.4 * room, 0.8 * room, 1e-3)  # a halved barrel's lip is low
        return [
            Choice("line", "which one", self.lines),
            Choice("size", "size of standpipe", list(self.falls.sizes)),
            Slider("inflow", "water that comes", FLOW, "50 L/h", "6000 L/h", "50 L/h", tip="into the bed, all the time; pumps bring it", kept=False),
            Slider("vent", "vent, below lip", DEPTH, DEPTH.quantity(low), DEPTH.quantity(high), DEPTH.quantity(step), tip="where air comes in and stops the siphon"),
            Slider("outlet", "height of its outlet", LENGTH, "-1 m", "1 m", "0.05 m", tip="the pipe grows and shrinks with its fall", key="lines.*.outlet"),
        ]  # fmt: skip

    def __call__(self, line: str, size: str, inflow: float, vent: float, outlet: float) -> Round:
        """All bare SI; `vent` counts down from the lip, `outlet` up from the build's zero."""
        new = self.falls.changed(line, size=size, vent=vent, outlet=outlet)
        f, bed = new.si, self.build.vessels[new.si.source].si
        if f.siphon.si.vent <= bed.floor:
            room = DEPTH.text(f.lip - bed.floor, self.build.units)
            raise DesignError(
                f"the vent of {line} would lie under the floor of {f.source}; its lip is {room} over that floor, so keep the vent less than that below the lip."
            )
        alone = _alone(self.falls.build, new)
        state = self.falls.start.vessels[f.source]
        own, fall = self.falls.lines[line].si, self.falls.start.falling[line]
        usual = siphons.siphon_flow.si(max(0.05, own.lip - fall.bottom), f.bore, own.length, k=fall.k)
        pumps = [p for p in self._pumps.values() if any(end.si.to == f.source for end in p.line.si.pipe)]
        share = pumps[0].duty if len(pumps) == 1 else state.mean / state.peak if state.peak > 0 else 1.0
        return _outcome(alone, new, inflow, tried=self.tried, share=share, ruler=min(1.8 * usual, _MOST))

    def tries(self) -> list[Try]:
        return of_round(self, self.begin)

    def findings(self, record, system: str) -> list[tuple[str, str]]:
        return record.notes(system)

    def changes(self, values: Values) -> dict[tuple, object]:
        return self.falls.kept(self.build.falling[values["line"]], **values)

    def told(self, new: dict, values: Values) -> str:
        return f"{values['line']}: {listed(new, names=NAMES)}"

    def keep(self, panel: Panel) -> str:
        name = panel.si["line"]
        only_tried = not self.keeper.build.falling[name].si.siphon
        if only_tried:  # a sound drain does not give way to a siphon that cannot work; the water tried is not kept, so the pumps' own
            seen = self(**{**panel.si, "inflow": self.own(name)["inflow"]}).si
            if seen.outcome not in ("goes round", "may go round"):
                cure, does = _CURES[seen.outcome][1], "has no fall" if seen.outcome == "no fall" else seen.outcome
                raise DesignError(f"on the {FLOW.text(seen.inflow, panel.system)} that your pumps bring, a siphon on {name} {does}. {cure}")
        told = super().keep(panel)
        return f"{name} is a siphon now. {told}" if only_tried else told


def _outcome(alone: Build, line: FallingLine, inflow: float, *, tried: bool, share: float, ruler: float) -> Round:
    """Run the bed alone, and read off what its siphon does."""
    f, system = line.si, solved(alone)
    bed, fall = alone.vessels[f.source].si, system.falling[f.name]
    pipe = {"length": f.length, "k": fall.k, "temperature": system.cold}
    at_vent = siphons.siphon_flow.si(max(0.0, f.siphon.si.vent - fall.bottom), f.bore, **pipe)
    band, stops = siphons.siphon_starting_band.si(f.bore).si, siphons.siphon_stops.si(inflow, at_vent)
    volume = water_volume.si(alone.vessels[f.source], f.lip - bed.floor) - water_volume.si(
        alone.vessels[f.source], f.siphon.si.vent - bed.floor
    )
    # About as long as a round lasts, on the long side; as long as the picture where there will be none.
    guess = 1.3 * volume / inflow + 1.1 * volume / (at_vent - inflow) + 240 if inflow < at_vent else 3600 * HOURS
    falls = fall.bottom < f.lip
    sure = _Followed(alone, line, inflow, "sure", guess if falls and inflow >= band.sure else None, stops=inflow < at_vent)
    early = _Followed(alone, line, inflow, "may", guess, stops=inflow < at_vent) if falls and band.may <= inflow < band.sure else None
    told = early or sure
    if not falls:
        outcome = "no fall"
    elif sure.spills > 1e-3 * inflow:
        outcome = "spills"
    elif told.fill is None:
        outcome = "never starts"
    elif stops == "no":
        outcome = "never stops"
    else:
        outcome = "goes round" if early is None else "may go round"
    goes = outcome in ("goes round", "may go round")
    whole = goes and told.empty is not None
    vent, lip = f.siphon.si.vent - bed.floor, f.lip - bed.floor
    return Round.from_si(
        line=f.name, source=f.source, tried=tried, outcome=outcome, doubtful=goes and stops != "sure", inflow=inflow, bore=f.bore,
        lip=lip, vent=vent, rim=bed.height, media=bed.media_depth or 0.0, runs_share=share, volume=volume,
        fill=told.fill if goes else None, empty=told.empty if goes else None, per_hour=3600 / told.round if whole else None,
        over_half=told.share_over(0.5 * (vent + lip)) if whole else None,
        lowest=float(told.depth.min()), highest=float(told.depth.max()), last=float(sure.depth[-1]), biggest=float(told.flow.max()),
        flow_at_vent=at_vent, ruler=ruler, helps=told.helps, spills=sure.spills,
        times=sure.time, depths=sure.depth, flows=sure.flow, early_times=early and early.time, early_depths=early and early.depth,
    )  # fmt: skip


class _Followed:
    """A bed alone from its vent's level on: `time`, `depth` and `flow` through its siphon, at least for two hours.

    With a constant inflow each round is the first one over again: once that is over it is repeated, not run again.
    `guess` [s] is how long it takes about, None if it never starts. `round` is how long it took, infinite where none ended.
    """

    def __init__(self, alone: Build, line: FallingLine, inflow: float, band: str, guess: float | None, *, stops: bool):
        bed, name = line.si.source, line.si.name
        depth = HEAD.quantity(line.si.siphon.si.vent - alone.vessels[bed].si.floor)
        water = levels.Event("top-up", bed, flow=FLOW.quantity(inflow))
        for seconds in dict.fromkeys((min(guess or 3600 * HOURS, 3600 * _LONG), 3600 * HOURS, 3600 * _LONG)):
            run = levels.simulate(alone, TIME.quantity(seconds), events=[water], start={bed: depth}, starts=band, quick=True)
            self.fill, self.empty, last = _first(run, name)
            if last is not None or (seconds >= 3600 * HOURS and (guess is None or (self.fill is not None and not stops))):
                break
        i, s = run.vessels.index(bed), run.flows.index(name)
        others = [n for n, other in enumerate(run.flows) if other in alone.falling and other != name]
        self.spills = float(np.diff(run.spilled[-2:, i])[0] / (run.time[-1] - run.time[-2]))
        self.helps = float(run.flow[:last, others].sum(axis=1).max()) if others else 0.0
        self.round = np.inf if last is None else float(run.time[last])
        self.time, self.depth, self.flow = run.time, run.depth[:, i], run.flow[:, s]
        if last is not None:
            times = max(1, int(np.ceil(3600 * HOURS / self.round)))
            self.flow[last] = self.flow[last - 1]  # until air gets in; from the next moment on the bed fills again
            self.time = (np.arange(times)[:, None] * self.round + run.time[: last + 1]).ravel()
            self.depth, self.flow = (np.tile(values[: last + 1], times) for values in (self.depth, self.flow))

    def share_over(self, middle: float) -> float:
        """The share of a round with the depth over a middle, straight between moments."""
        fine = np.linspace(0.0, self.round, 2000)
        return float((np.interp(fine, self.time, self.depth) > middle).mean())


def _first(run, name: str) -> tuple[float | None, float | None, int | None]:
    """(time to fill from the vent until the siphon runs, time until it stops, the row where it stops), None where it does not."""
    runs = run.running[:, run.siphons.index(name)]
    begins = np.flatnonzero(runs)
    if not len(begins):
        return None, None, None
    fill, ends = float(run.time[begins[0]]), np.flatnonzero(~runs[begins[0] :])
    if not len(ends):
        return fill, None, None
    last = int(begins[0] + ends[0])
    return fill, float(run.time[last]) - fill, last


def _alone(build: Build, line: FallingLine) -> Build:
    """A build of one bed and its falling lines; what they end in is so wide that its level holds."""
    name, other = line.si.source, copy.copy(build)
    falls = {n: line if n == line.si.name else fall for n, fall in build.falling.items() if fall.si.source == name}
    vessels = {name: build.vessels[name]}
    for fall in falls.values():
        to = build.vessels[fall.si.to].si
        wide = {"kind": "sump", "shape": "rectangular", "length": _WIDE, "width": _WIDE, "diameter": None, "cone_height": None, "cut_out": None, "medium": "", "media_depth": None, "void": 1.0}  # fmt: skip
        vessels[to.name] = Vessel.from_si(**{**vars(to), **wide})
    vars(other).update(lines=falls, vessels=vessels, _stocks={}, fish=build.fish.with_si(**ALONE))  # no tank, so no stock is in one
    return other


# --- a siphon to try, where the build has none ----------------------------------------------------


def _siphons(build: Build) -> list[FallingLine]:
    return [falling for falling in build.falling.values() if falling.si.siphon and falling.si.name in build.lines]


def _could(line: FallingLine, build: Build) -> bool:
    """Whether a falling line is a bed's usual way out, so that a siphon could take its place."""
    f = line.si
    bed = build.vessels.get(f.source)
    return bed is not None and bed.si.kind == "bed" and f.name in build.lines and not f.emergency and f.kind != "gravity line"


def _with_siphon(line: FallingLine, system: Steady) -> FallingLine:
    """A bed drain with a siphon: the widest pipe of its standard that surely starts and stops on the bed's inflow."""
    f, fall = line.si, system.falling[line.si.name]
    floor, flow = fall.source.si.floor, system.vessels[f.source].peak
    vent = floor + min(_VENT_OVER_FLOOR[system.build.units], 0.5 * (f.lip - floor))
    standard = f.standard or "PN10"
    falls = {"fall_at_full": max(0.0, f.lip - fall.bottom), "fall_at_vent": max(0.0, vent - fall.bottom), "length": f.length, "k": fall.k}

    def rank(size: str) -> tuple:
        bore = pipe_sizes.bore.si(size, standard, wall=f.wall)
        found = siphons.siphon_conditions.si(flow, bore, **falls).si
        return found.starts == "sure", ("no", "doubtful", "sure").index(found.stops), bore if found.starts == "sure" else -bore

    best = max(pipe_sizes.sizes(standard), key=rank)
    new = {
        "size": best,
        "standard": standard,
        "bore": pipe_sizes.bore.si(best, standard, wall=f.wall),
        "vented": False,
        "siphon": Siphon.from_si(vent=vent),
    }
    return line.with_si(**new)


bed_round, picture, panel = RoundWhatIf.as_built, RoundWhatIf.picture, RoundWhatIf.panel

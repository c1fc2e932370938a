"""What if the pipe were wider? Notebook 04.

    build = my_build()
    pipe_size.sight(build)        # the guess's riser, then the speeds of all stretches as the build stands
    pipe_size.panel(build)        # with sliders, for one stretch

The map answers for the flow on the slider; the whole build is solved anew with the chosen pipe in it, to say what the
pump then brings.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from aquaplumb.build import Build
from aquaplumb.figures.pipe_size import LinePicture, PipeMap, good_speed
from aquaplumb.plumbing import pipe_sizes, pipes
from aquaplumb.review.findings import found
from aquaplumb.sentences import pipe_in_words
from aquaplumb.system.steady import solved
from aquaplumb.units import (
    BORE,
    FLOW,
    HEAD,
    LENGTH,
    SPEED,
    TEMPERATURE,
    Bore,
    DesignError,
    Flow,
    Head,
    Length,
    Number,
    Record,
    Speed,
    Temperature,
)
from aquaplumb.whatif.base import Choice, Slider, listed, named
from aquaplumb.whatif.pipe_tries import lost, of_stretch
from aquaplumb.whatif.sight import Sight
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

_OWN = "by its bore"  # the "standard" of a stretch whose bore the build file gives
_FAST = 2.4  # m/s: where too fast is to be mended


class SizedStretch(Record):
    """A size of pipe in a stretch of a build, and what comes of it.

    `slope` is the head lost in each metre; `sizes` are (size, bore [m]) pairs of the standard; `gets` is what runs through
    the stretch of all that its pump then brings.
    """

    line: str
    stretch: str
    standard: str
    size: str
    bore: Bore
    flow: Flow
    length: Length
    temperature: Temperature
    speed: Speed
    slope: Number
    loss: Head
    reynolds: Number
    brings: Flow
    brought: Flow
    gets: Flow
    sizes: tuple
    findings: tuple = ()

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in a sentence or two; `short` leaves out the pump."""
        r = self.si
        what = r.size if r.standard == _OWN else f"{r.size} {r.standard}"
        told = (
            f"With {FLOW.text(r.flow, system)} in it, {pipe_in_words(r.stretch)} ({what}) runs at **{SPEED.text(r.speed, system)}**: {self.verdict}. "
            f"It loses **{lost(r.loss, system)}** of head over {LENGTH.text(r.length, system)}."
        )
        if short:
            return told
        change = r.brings - r.brought
        part = r.gets < 0.995 * r.brings
        here = f"; {FLOW.text(r.gets, system)} of it run here." if part else "."
        brings = FLOW.text(r.brings, system) + (" in all" if part else "")
        if abs(change) < 0.005 * r.brought and abs(r.flow - r.gets) > 0.02 * r.gets:
            return f"{told} That flow is only tried: your pump brings {FLOW.text(r.gets, system)} here, as it does now."
        if abs(change) < 0.005 * r.brought:
            same = FLOW.text(r.brings, system) == FLOW.text(r.brought, system)
            return f"{told} The pump brings {brings}, {'as it does' if same else 'about as much as'} now{here}"
        return f"{told} The pump then brings {brings}, {FLOW.text(abs(change), system)} {'more' if change > 0 else 'less'} than now{here}"

    @property
    def verdict(self) -> str:
        """What the speed means, in a few words."""
        speed = self.si.speed
        if good_speed(speed):
            return "a good speed"
        for limit, words in (
            (1e-9, "no water moves"),
            (pipes.SPEED_LOW, "**too slow**: dirt settles"),
            (_FAST, "**fast**: noise and lost head"),
        ):
            if speed < limit:
                return words
        return "**far too fast**"


class StretchSpeed(NamedTuple):
    """A stretch of pipe with water in it."""

    name: str
    size: str
    flow: float  # m³/s
    speed: float  # m/s
    loss: float  # of head [m]


class LineSpeeds(Record):
    """All stretches of the pumped lines of a build: plain groups of `name`, `size`, `flow`, `speed` and `loss`, bare SI."""

    stretches: tuple


def _places(build: Build, line: str | None) -> dict:
    """A label for each stretch: (line, "pipe" or "suction", stretch)."""
    lines = build.pumped if line is None else {line: build.pumped[named(line, build.pumped, line)]}
    found_ = [(n, part, pipe.si.name) for n, own in lines.items() for part in ("suction", "pipe") for pipe in getattr(own.si, part)]
    names = [place[2] for place in found_]
    return {place[2] if names.count(place[2]) == 1 else f"{place[2]} ({place[0]})": place for place in found_}


def _sizes(build: Build) -> dict:
    """The sizes of each standard; a build whose file gives bores instead has those as well."""
    own = {
        f"bore {BORE.text(pipe.si.bore, build.units)}": None
        for one in build.pumped.values() for pipe in (*one.si.suction, *one.si.pipe) if not pipe.si.size
    }  # fmt: skip
    known = [*pipe_sizes.standards(), *build.own.get("pipes", {}).values()]
    return {name: pipe_sizes.sizes(name) for name in known} | ({_OWN: list(own)} if own else {})


def _nearest(wish: str, here: list) -> str:
    """The size in a list that is nearest outside to another standard's."""
    return min(here, key=lambda size: abs(_outside(size) - _outside(wish)))


def _outside(size: str) -> float:
    for standard in pipe_sizes.standards():
        if size in pipe_sizes.sizes(standard):
            return pipe_sizes.pipe_size(size, standard).si.outside_diameter
    return 0.03


class SizeWhatIf(WhatIf):
    """Another size of pipe for a stretch, a (line, part, stretch) place, of a build; or of one of its lines."""

    drawn, page, keep_label, pick = PipeMap, "04", "Keep this size in my build", "stretch"
    case = {"size": "25 mm"}
    case_us = {"size": "3/4 in", "standard": "Sch 40"}  # what a US shop sells nearest to it

    def __init__(self, build: Build, line: str | None = None):
        super().__init__(build)
        self.places, self.sizes = _places(build, line), _sizes(build)
        self.begin = next(place for place in self.places.values() if place[1] == "pipe")
        self.start = solved(build)

    def pipe(self, place: tuple):
        """The stretch of the build, bare SI."""
        name, part, stretch = place
        return next(pipe.si for pipe in getattr(self.build.pumped[name].si, part) if pipe.si.name == stretch)

    def own(self, stretch: tuple | None = None) -> dict:
        """What the build has in a stretch and what the review says of it."""
        stretch = stretch or self.begin
        pipe = self.pipe(stretch)
        size = pipe_sizes.pipe_size(pipe.size, pipe.standard).si if pipe.size else None
        return {
            "stretch": stretch,
            "flow": self.flow(stretch),
            "standard": size.standard if size else _OWN,
            "size": size.size if size else f"bore {BORE.text(pipe.bore, self.build.units)}",
            "length": pipe.length,
            "temperature": self.build.site.si.coldest_water,
        }

    def flow(self, stretch: tuple) -> float:
        """The flow in a stretch as the build stands."""
        return abs(float(self.start.pumped[stretch[0]].stretch_flow[stretch[2]]))

    def bore(self, place: tuple, size: str, standard: str) -> float:
        """The bore of a choice; of the stretch's own, exactly the build's."""
        own = self.own(place)
        if standard == _OWN or (size, standard) == (own["size"], own["standard"]):
            return self.pipe(place).bore
        return pipe_sizes.bore.si(size, standard, wall=self.pipe(place).wall)

    def __call__(self, stretch, flow, size, standard, length, temperature) -> SizedStretch:
        """All bare SI; `stretch` is a (line, part, stretch) place."""
        if stretch is None or size is None:
            raise DesignError("choose a stretch and a size.")
        bore = self.bore(stretch, size, standard)
        moved = self.moved({"stretch": stretch, "size": size, "standard": standard, "length": length, "temperature": temperature})
        system = self.start.changed(self.changed(stretch, bore, size, standard, length, temperature)) if moved else self.start.in_time
        state = system.pumped[stretch[0]]
        slope = float(pipes.friction_head.si(flow, bore, 1.0, temperature=temperature))
        sizes = [(name, pipe_sizes.bore.si(name, standard)) for name in self.sizes[standard]] if standard != _OWN else [(size, bore)]
        return SizedStretch.from_si(
            line=stretch[0], stretch=stretch[2], standard=standard, size=size, bore=bore, flow=flow, length=length,
            temperature=temperature, speed=float(pipes.speed.si(flow, bore)), slope=slope, loss=slope * length,
            reynolds=float(pipes.reynolds.si(flow, bore, temperature=temperature)),
            brings=float(state.flow), brought=float(self.start.pumped[stretch[0]].flow), gets=abs(float(state.stretch_flow[stretch[2]])),
            sizes=tuple(sizes), findings=tuple(found(system)),
        )  # fmt: skip

    def changed(self, place: tuple, bore: float, size: str, standard: str, length: float, temperature: float) -> Build:
        """The build with this pipe in it, and with water of this temperature in its pipes."""
        name, part, stretch = place
        line, site = self.build.pumped[name], self.build.site
        named = {} if standard == _OWN else {"size": size, "standard": standard}
        stretches = tuple(
            pipe.with_si(**named, bore=bore, length=length) if pipe.si.name == stretch else pipe for pipe in getattr(line.si, part)
        )
        new: dict[str, Any] = {"lines": [line.with_si(**{part: stretches})]}
        if abs(temperature - site.si.coldest_water) > 1e-6:
            warmest = max(site.si.warmest_water, temperature)
            new["site"] = site.with_si(coldest_water=temperature, warmest_water=warmest)
        return self.build.replaced(**new)

    def controls(self) -> list:
        return [
            Choice("stretch", "stretch of pipe", self.places),
            Slider("flow", "flow in it", FLOW, "100 L/h", "12000 L/h", "50 L/h", tip="it starts at what your build has there", kept=False),
            Choice("size", "size on the label", self.sizes, of="standard", near=_nearest),
            Choice("standard", "standard", list(self.sizes), tip="how thick the wall is"),
            Slider("length", "length", LENGTH, "0.5 m", "30 m", "0.1 m", us=("1 ft", "100 ft", "0.5 ft"), key="lines.*.length"),
            Slider("temperature", "water", TEMPERATURE, "2 degC", "38 degC", "1 degC", tip="it starts at your coldest", kept=False),
        ]

    def tries(self) -> list[Try]:
        return of_stretch(self, self.begin)

    def look(self, record: SizedStretch, system: str) -> str:
        r = record.si
        where = (
            "in the green band" if good_speed(r.speed) else "under the green band" if r.speed < pipes.SPEED_LOW else "over the green band"
        )
        return (
            f"A line for {r.size} and one for each of its neighbours: the more flow, the more head is lost. Both rulers go by tens. "
            f"At {FLOW.text(r.flow, system)} the point stands {where}, where the speed is good. In the grey corner water is so slow that it runs in smooth "
            "layers, **laminar**, or begins to swirl, **turbulent**: nobody can say exactly what it loses there."
        )

    def against(self, record: SizedStretch, demo: SizedStretch, system: str) -> str:
        r, d = record.si, demo.si
        said = BORE if min(r.loss, d.loss) < 0.5 else HEAD  # one unit for two that are compared
        narrow = f"The narrow riser of the guess, with a bore of {BORE.text(d.bore, system)}, loses {said.text(d.loss, system)} along {LENGTH.text(d.length, system)}"
        return (
            f"{narrow}. Your {r.stretch}, with a bore of {BORE.text(r.bore, system)}, loses {said.text(r.loss, system)} along {LENGTH.text(r.length, system)}: "
            f"its water runs at {SPEED.text(r.speed, system)}, not at {SPEED.text(d.speed, system)}."
        )

    @classmethod
    def sight(cls, build: Build, line: str | None = None) -> Sight:
        """The guess's riser on the map, then all stretches of the build."""
        seen, own = super().sight(build, line), picture(build, line)
        return Sight(seen.guessed, seen.why, own)

    def about(self, values: Values) -> tuple:
        return (("lines", *values["stretch"]),)

    def changes(self, values: Values) -> dict[tuple, object]:
        key, moved = ("lines", *values["stretch"]), self.moved(values)
        changes: dict[tuple, object] = {}
        if values["standard"] != _OWN:
            changes = {(*key, name): values[name] for name in ("size", "standard") if name in moved}
        if changes and self.own(values["stretch"])["standard"] == _OWN:
            changes[(*key, "bore")] = None
        if "length" in moved:
            changes[(*key, "length")] = values.text("length")
        return changes

    def told(self, new: dict, values: Values) -> str:
        standard = "" if values["standard"] == _OWN else f" {values['standard']}"
        lengths = [listed({keys: value}) for keys, value in new.items() if keys[-1] == "length"]
        return ", ".join([f"{values['stretch'][2]} is {values['size']}{standard}", *lengths])


panel, sight = SizeWhatIf.panel, SizeWhatIf.sight


def speeds(build: Build, line: str | None = None) -> LineSpeeds:
    """The speed and the head lost in the pipe of every pumped stretch, as the build stands.

    Parameters
    ----------
    build : Build
    line : str, optional
        One pumped line only.

    Returns
    -------
    LineSpeeds
    """
    work = SizeWhatIf(build, line)
    rows = []
    for label, place in work.places.items():
        pipe, flow = work.pipe(place), work.flow(place)
        loss = float(pipes.friction_head.si(flow, pipe.bore, pipe.length, temperature=work.start.build.site.si.coldest_water))
        size = pipe.size or f"bore {BORE.text(pipe.bore, build.units)}"
        rows.append(StretchSpeed(label, size, flow, float(pipes.speed.si(flow, pipe.bore)), loss))
    return LineSpeeds.from_si(stretches=tuple(rows))


def picture(build: Build, line: str | None = None) -> LinePicture:
    """The speeds of all stretches, as the build has them; display it in a notebook."""
    record = speeds(build, line)
    shown, rows = LinePicture(record, system=build.units), record.si.stretches
    most = max(rows, key=lambda s: s.loss)
    off = [s.name for s in rows if not good_speed(s.speed)]
    shown.look = (
        "A row for each stretch; the riser goes up from the pump. A dot in the green band is a good speed; a red-orange cross is too slow or too fast. "
        + (f"Outside it: {', '.join(off)}. " if off else "Here all stand in it. ")
        + f"The bars show where the pipe itself eats head, most in {most.name}: {lost(most.loss, build.units)}. What elbows, valves and tees eat comes on the next page."
    )
    return shown

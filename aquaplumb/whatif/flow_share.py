"""What if a valve, or a branch's pipe, were set otherwise? Notebook 07.

    build = my_build()
    flow_share.sight(build)       # the guess's valve in the demo, then what each vessel gets in the build
    flow_share.panel(build)       # a slider for each valve

The whole system is solved anew at each move. "Balanced" asks `aquaplumb.plumbing.lines.valve_settings` where each valve has to
stand, to the nearest hundredth: a hand sets it no finer.
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.build import Build
from aquaplumb.figures.flow_share import SHARE_OFF, SharesDrawing, SharesPicture
from aquaplumb.plumbing import fittings, lines, pipe_sizes
from aquaplumb.review.findings import found
from aquaplumb.review.findings.pipework import spoken
from aquaplumb.system.steady import Steady, solved
from aquaplumb.units import FLOW, SHARE, DesignError, Flow, Number, Record, in_percent
from aquaplumb.whatif.base import Choice, Slider, named
from aquaplumb.whatif.share_tries import of_shares
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

BUILT, BALANCED, HAND = "built", "balanced", "hand"


class FlowShare(Record):
    """What each end of a line gets, and how its valve stands. Arrays go with `ends`."""

    build: object
    line: str
    ends: tuple
    to: tuple
    total: Flow
    flow: Flow
    first: Flow  # to each end as the build stands
    share: Number
    wanted: Number
    kinds: tuple  # of the valve that is an end's own; blank where there is none
    opening: Number
    findings: tuple = ()

    def sentence(self, system: str = "metric") -> str:
        """The outcome in a sentence or two."""
        r = self.si
        told = f"{r.line} brings **{FLOW.text(r.total, system)}**."
        if r.total <= 0:
            return f"**No water** comes out of {r.line}."
        odds = np.array([share / wanted - 1 if wanted > 0 else 0.0 for share, wanted in zip(r.share, r.wanted)])
        worst, off = int(np.argmax(np.abs(odds))), int(np.sum(np.abs(odds) > SHARE_OFF))
        name = spoken(r.ends[worst], r.to[worst], r.to)
        if not off:
            return f"{told} " + (
                "It has one end." if len(odds) == 1 else f"**Every end is within {in_percent(max(0.01, abs(odds[worst])))}** of its share."
            )
        if r.flow[worst] <= 0:
            return f"{told} **{name} runs dry.**"
        more = "" if off == 1 else f"; {off} of {len(odds)} ends are off by more than {in_percent(SHARE_OFF)}"
        return f"{told} **{name} gets {in_percent(abs(odds[worst]))} {'more' if odds[worst] > 0 else 'less'}** than its share{more}."


class SharesWhatIf(WhatIf):
    """Set the valves of a line, or the size of a branch, and keep that; what does not change between moves is kept."""

    drawn, still, page, keep_label = SharesPicture, SharesDrawing, "07", "Keep these valves in my build"
    case = {"valve_3": 0.75}  # of the demo's bed 2

    def __init__(self, build: Build, line: str | None = None):
        super().__init__(build)
        self.name = named(line, build.pumped, max(build.pumped, key=lambda n: sum(bool(p.si.to) for p in build.pumped[n].si.pipe)))
        self.line = build.pumped[self.name]
        self.state = solved(build).pumped[self.name]
        self.ends = tuple(outlet.name for outlet in self.state.outlets)
        pipes = {pipe.si.name: pipe.si for pipe in self.line.si.pipe}
        self.valves = {f"valve_{i}": pipe for i, pipe in enumerate((p for p in pipes.values() if p.valve), 1)}
        self.last = {end: self._own_valve(pipes, end) for end in self.ends}
        self.sizes = {pipe.name: (pipe.size, pipe.standard) for pipe in pipes.values()}
        self._balanced: dict[tuple, dict] = {}

    @staticmethod
    def _own_valve(pipes: dict, end: str) -> str:
        """The last stretch with a valve that only this end's water passes, or blank."""
        while end:
            if pipes[end].valve:
                return end
            end = pipes[end].after
            if sum(pipe.after == end for pipe in pipes.values()) > 1:
                break
        return ""

    def __call__(self, set: str = BUILT, branch: str = "", size: str = "", **openings: float) -> FlowShare:
        """All bare SI; `openings` by the names of `valves`."""
        if set == BALANCED:
            self.balanced(branch, size)  # says why, where it cannot be
        build = self.build.replaced(lines=[self.changed(branch, size, openings)])
        system = solved(build)
        state = system.pumped[self.name]
        pipes = {pipe.si.name: pipe.si for pipe in state.line.si.pipe}
        own = [pipes.get(self.last[end]) for end in self.ends]
        return FlowShare.from_si(
            build=build, line=self.name, ends=self.ends, to=tuple(o.to for o in state.outlets), total=state.flow,
            flow=np.array([o.flow for o in state.outlets]), first=np.array([o.flow for o in self.state.outlets]), share=np.array([o.share for o in state.outlets]),
            wanted=np.array([o.wanted_share for o in state.outlets]),
            kinds=tuple(_kind(pipe.valve) if pipe else "" for pipe in own),
            opening=np.array([pipe.opening if pipe else math.nan for pipe in own]),
            findings=tuple(found(system)),
        )  # fmt: skip

    def changed(self, branch: str, size: str, openings: dict):
        """The line's record with the sliders' choices in it."""
        by_name = {self.valves[key].name: opening for key, opening in openings.items()}
        pipes = []
        for pipe in self.line.si.pipe:
            new = {"opening": by_name.get(pipe.si.name, pipe.si.opening)}
            if size and pipe.si.name == branch:
                standard = self.standard(branch)
                new.update(size=size, standard=standard, bore=pipe_sizes.bore.si(size, standard, wall=pipe.si.wall))
            pipes.append(pipe.with_si(**new))
        return self.line.with_si(pipe=tuple(pipes))

    def standard(self, branch: str) -> str:
        """The standard of a branch's pipe, or of the line's first that says one."""
        said = [standard for _, standard in self.sizes.values() if standard]
        return self.sizes[branch][1] or (said[0] if said else pipe_sizes.standards()[0])

    def balanced(self, branch: str = "", size: str = "") -> dict[str, float]:
        """Where each valve has to stand for every end to get its share, by the names of `valves`."""
        if (branch, size) not in self._balanced:
            line = self.changed(branch, size, {})
            tree = Steady(self.build.replaced(lines=[line])).pumped[self.name].tree
            shares = {outlet.name: outlet.wanted_share for outlet in self.state.outlets}
            settings = lines.valve_settings.si(tree, self.state.pump, shares=shares).si
            by_name = {valve: max(0.01, round(float(x), 2)) for valve, x in zip(settings.valves, settings.opening) if valve}
            self._balanced[branch, size] = {key: by_name[pipe.name] for key, pipe in self.valves.items() if pipe.name in by_name}
        return self._balanced[branch, size]

    def own(self) -> dict:
        return {"set": BUILT, "branch": self.ends[-1], "size": "", **self.openings({"set": BUILT})}

    def openings(self, values: dict) -> dict:
        """What the valves' sliders take for a choice of `set`; nothing where there is no balance to be had."""
        if values["set"] == HAND:
            return {}
        as_built = {key: pipe.opening for key, pipe in self.valves.items()}
        try:
            return {**as_built, **self.balanced(values["branch"], values["size"])} if values["set"] == BALANCED else as_built
        except DesignError:  # the panel says it in place of the result
            return {}

    def follow(self) -> dict:
        def again(values: dict) -> dict:
            return self.openings(values) if values["set"] == BALANCED else {}

        by_hand = {key: lambda _values: {"set": HAND} for key in self.valves}  # so that the others can be chosen again
        return {**by_hand, "set": self.openings, "size": again, "branch": lambda values: {"size": "", **again({**values, "size": ""})}}

    def drawing(self) -> SharesPicture:
        return SharesPicture(len(self.ends), system=self.build.units)

    def controls(self) -> list:
        sizes = {size: size for standard in {self.standard(end) for end in self.ends} for size in pipe_sizes.sizes(standard)}
        return [
            Choice("set", "set the valves", {"as in my build": BUILT, "balanced for the shares": BALANCED, "by hand": HAND},
                   tip="moves the sliders below; you can move them on"),
            *(Slider(key, f"valve, {pipe.name}", SHARE, "0 %", "100 %", "1 %", tip="how far open; 0 is shut") for key, pipe in self.valves.items()),
            Choice("branch", "try a branch", list(self.ends)),
            Choice("size", "in size", {"as in my build": "", **sizes}),
        ]  # fmt: skip

    def tries(self) -> list[Try]:
        return of_shares(self, BALANCED)

    def look(self, record: FlowShare, system: str) -> str:
        return (
            "In each vessel: the flow that this line brings, and its part of the whole. ✔ is within a tenth of its share, ▲ is over, ▼ is short; "
            f"red-orange is less than half, or dry. {record.sentence(system)}"
        )

    def against(self, record: FlowShare, demo: FlowShare, system: str) -> str:
        r, d = record.si, demo.si
        place = int(np.argmin(d.flow / d.first))
        told = (
            f"In the demo, {d.to[place]} with its valve a quarter shut gets {FLOW.text(d.flow[place], system)}, where it was {FLOW.text(d.first[place], system)}: "
            f"only {in_percent(1 - d.flow[place] / d.first[place])} less."
        )
        if len(r.ends) == 1:
            return f"Your {r.line} has one end: there is nothing to share, and its valve only holds all of it back. {told}"
        return f"Your {r.line} shares {FLOW.text(r.total, system)} among {len(r.ends)} ends, as its valves stand. {told}"

    def about(self, values: Values) -> tuple:
        key = ("lines", self.name, "pipe")  # of another branch the size stays
        return ((*key, values["branch"]), *((*key, pipe.name, "opening") for pipe in self.valves.values()))

    def changes(self, values: Values) -> dict[tuple, object]:
        key, moved, branch = ("lines", self.name, "pipe"), self.moved(values), values["branch"]
        changes: dict[tuple, object] = {
            (*key, pipe.name, "opening"): round(values[name], 4) for name, pipe in self.valves.items() if name in moved
        }
        old = self.sizes[branch][0]
        if values["size"] not in ("", old):
            changes[(*key, branch, "size")] = values["size"]
            if not old:  # it was given by its bore
                changes |= {(*key, branch, "standard"): self.standard(branch), (*key, branch, "bore"): None}
        return changes

    def in_full(self, values: Values) -> Values:
        values["size"] = values["size"] or self.sizes[values["branch"]][0]
        return values

    def told(self, new: dict, values: Values) -> str:
        valves = [f"{pipe.name} {SHARE.text(values[name])}" for name, pipe in self.valves.items()]
        branch, size = values["branch"], values["size"] or self.sizes[values["branch"]][0]
        piped = [f"{branch} is {f'{size} pipe' if size else 'as it was'}"] if ("lines", self.name, "pipe", branch, "size") in new else []
        return f"valves open {', '.join([*valves, *piped])}"


def _kind(valve: str) -> str:
    return fittings.fitting(valve).name


outcome, panel, sight = SharesWhatIf.as_built, SharesWhatIf.panel, SharesWhatIf.sight


def picture(build: Build, line: str | None = None) -> SharesDrawing:
    """What each vessel gets, on the drawing of the build as it stands; display it in a notebook."""
    return SharesDrawing(outcome(build, line))

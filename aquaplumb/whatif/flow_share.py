"""What if a valve, or a branch's pipe, were set otherwise? Notebook 07.

    build = my_build()
    flow_share.picture(build)     # what each vessel gets, on the drawing of the build
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
from aquaplumb.system.steady import Steady
from aquaplumb.units import FLOW, SHARE, DesignError, Flow, Number, Record
from aquaplumb.whatif.base import Choice, Keeper, Panel, Slider, named, worst

BUILT, BALANCED = "built", "balanced"


class FlowShare(Record):
    """What each end of a line gets, and how its valve stands. Arrays go with `ends`."""

    build: object
    line: str
    ends: tuple
    to: tuple
    total: Flow
    flow: Flow
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
                "It has one end." if len(odds) == 1 else f"**Every end is within {max(0.01, abs(odds[worst])):.0%}** of its share."
            )
        if r.flow[worst] <= 0:
            return f"{told} **{name} runs dry.**"
        more = "" if off == 1 else f"; {off} of {len(odds)} ends are off by more than {SHARE_OFF:.0%}"
        return f"{told} **{name} gets {abs(odds[worst]):.0%} {'more' if odds[worst] > 0 else 'less'}** than its share{more}."


class _Sharer:
    """Works out a `FlowShare` for a build's line; what does not change between moves is kept."""

    def __init__(self, build: Build, line: str | None):
        self.build = build
        self.name = named(line, build.pumped, max(build.pumped, key=lambda n: sum(bool(p.si.to) for p in build.pumped[n].si.pipe)))
        self.line = build.pumped[self.name]
        self.state = Steady(build).pumped[self.name]
        self.ends = tuple(outlet.name for outlet in self.state.outlets)
        pipes = {pipe.si.name: pipe.si for pipe in self.line.si.pipe}
        self.valves = {f"valve_{i}": pipe for i, pipe in enumerate((p for p in pipes.values() if p.valve), 1)}
        self.own = {end: self._own_valve(pipes, end) for end in self.ends}
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
        system = Steady(build)
        state = system.pumped[self.name]
        pipes = {pipe.si.name: pipe.si for pipe in state.line.si.pipe}
        own = [pipes.get(self.own[end]) for end in self.ends]
        return FlowShare.from_si(
            build=build, line=self.name, ends=self.ends, to=tuple(o.to for o in state.outlets), total=state.flow,
            flow=np.array([o.flow for o in state.outlets]), share=np.array([o.share for o in state.outlets]),
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

    def openings(self, set: str, branch: str, size: str) -> dict:
        """What the valves' sliders take for a choice of `set`; nothing where there is no balance to be had."""
        as_built = {key: pipe.opening for key, pipe in self.valves.items()}
        try:
            taken = {**as_built, **self.balanced(branch, size)} if set == BALANCED else as_built
        except DesignError:  # the panel says it in place of the result
            return {}
        return {key: SHARE.quantity(opening) for key, opening in taken.items()}


def _kind(valve: str) -> str:
    return fittings.fitting(valve).name


def outcome(build: Build, line: str | None = None) -> FlowShare:
    """What each end gets as the build stands.

    Parameters
    ----------
    build : Build
    line : str, optional
        Its name; without it the pumped line with the most ends.

    Returns
    -------
    FlowShare
    """
    return _Sharer(build, line)()


def picture(build: Build, line: str | None = None) -> SharesDrawing:
    """What each vessel gets, on the drawing of the build as it stands; display it in a notebook."""
    return SharesDrawing(outcome(build, line))


def panel(build: Build, line: str | None = None) -> Panel:
    """The what-if: set the valves of a line, or the size of a branch, and keep that.

    Parameters
    ----------
    build : Build
    line : str, optional
        Its name; without it the pumped line with the most ends.

    Returns
    -------
    Panel
    """
    sharer = _Sharer(build, line)
    keeper = Keeper(build)

    def now(name: str):
        return panel_.control(name).value

    def keep(values: dict) -> str:
        key, changes, told = ("lines", sharer.name, "pipe"), {}, []
        for control, pipe in sharer.valves.items():
            opening = round(now(control), 4)
            told.append(f"{pipe.name} {opening:.0%}")
            if abs(opening - pipe.opening) > 1e-6:
                changes[(*key, pipe.name, "opening")] = opening
        branch, size = now("branch"), now("size") or sharer.sizes[now("branch")][0]
        if size != sharer.sizes[branch][0]:
            changes[(*key, branch, "size")] = size
            if not sharer.sizes[branch][0]:  # it was given by its bore
                changes |= {(*key, branch, "standard"): sharer.standard(branch), (*key, branch, "bore"): None}
        shown = [(*key, branch), *((*key, pipe.name, "opening") for pipe in sharer.valves.values())]  # of another branch the size stays

        def said(new: dict) -> str:
            piped = [f"{branch} is {f'{size} pipe' if size else 'as it was'}"] if (*key, branch, "size") in new else []
            return f"valves open {', '.join([*told, *piped])}"

        return keeper.keep(changes, said, about=tuple(shown))

    sizes = {size: size for standard in {sharer.standard(end) for end in sharer.ends} for size in pipe_sizes.sizes(standard)}
    panel_ = Panel(
        [
            Choice("set", "set the valves", {"as in my build": BUILT, "balanced for the shares": BALANCED},
                   tip="moves the sliders below; you can move them on"),
            *(Slider(key, f"valve, {pipe.name}", SHARE, "0 %", "100 %", "1 %", tip="how far open; 0 is shut") for key, pipe in sharer.valves.items()),
            Choice("branch", "try a branch", list(sharer.ends)),
            Choice("size", "in size", {"as in my build": "", **sizes}),
        ],
        compute=sharer,
        picture=SharesPicture(len(sharer.ends), system=build.units),
        sentence=lambda record, system: record.sentence(system),
        findings=worst("07"),
        keep=keep,
        keep_label="Keep these valves in my build",
        system=build.units,
        start={"set": BUILT, **sharer.openings(BUILT, "", ""), "branch": sharer.ends[-1], "size": ""},
        follow={
            "set": lambda value: sharer.openings(value, now("branch"), now("size")),
            "size": lambda value: sharer.openings(BALANCED, now("branch"), value) if now("set") == BALANCED else {},
            "branch": lambda value: {"size": "", **(sharer.openings(BALANCED, value, "") if now("set") == BALANCED else {})},
        },
    )  # fmt: skip
    return panel_

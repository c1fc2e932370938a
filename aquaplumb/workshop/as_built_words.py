"""What the drawing of a build as built says: the levels that it shows, the rows of its tables, and all of it in words."""

from __future__ import annotations

from dataclasses import dataclass

from aquaplumb.build import Build
from aquaplumb.build.joints import Assembly
from aquaplumb.build.laid import COVER, Laid, laid
from aquaplumb.build.records import PumpedLine
from aquaplumb.build.sawn import sawn
from aquaplumb.build.vessels import KINDS
from aquaplumb.system.drills import OFF, drills
from aquaplumb.system.failures import NOTHING
from aquaplumb.system.outcome import SPILL
from aquaplumb.system.steady import solved
from aquaplumb.units import DEPTH, FLOW, HEAD, VOLUME, Bare
from aquaplumb.workshop.cut_list import labelled, pipe_of
from aquaplumb.workshop.paper import Drawing, tidy

_SAID = {"run": "running", "rest": "at rest, pumps off", "cut": "highest in a power cut"}
SWINGS = 0.01  # m: a running level that moves less than this is one level
_DRY = 1.0  # s: what is worth saying


@dataclass(frozen=True, slots=True)
class WaterLevels:
    """The levels of a vessel that a drawing shows, as elevations, and what is bad about them."""

    low: float  # m, while everything runs
    high: float  # m, while everything runs
    rest: float  # m, after hours with the pumps off
    cut: float  # m, the highest in a power cut, whenever it begins; never under `high`
    spilled: float  # m³ that then go over its rim
    running_spill: float  # m³ that do when nothing fails
    pump: str  # what then becomes of the pump in it, where that is bad


def water_levels(build: Build) -> dict[str, WaterLevels]:
    """The levels of each vessel, for a power cut of 8 h that begins at several moments."""
    found = drills(build)
    every: dict[str, WaterLevels] = {}
    [nothing] = found.of(NOTHING)
    power = found.cuts()
    run = nothing.run
    late = run.time >= run.time[-1] / 2
    for i, name in enumerate(run.vessels):
        floor = build.vessels[name].si.floor
        off = [(one.run.time >= one.at) & (one.run.time <= one.at + OFF) for one in power]
        every[name] = WaterLevels(
            low=floor + float(run.depth[late, i].min()),
            high=floor + float(run.depth[late, i].max()),
            rest=floor + power[0].run.depth_at(power[0].at + OFF)[name],
            cut=floor + max(float(run.depth[late, i].max()), *(float(one.run.depth[when, i].max()) for one, when in zip(power, off))),
            spilled=max(float(one.run.spilled[when, i][-1] - one.run.spilled[when, i][0]) for one, when in zip(power, off)),
            running_spill=float(run.spilled[-1, i]),
            pump=_pump_story(run, name),
        )
    return every


def _pump_story(run, vessel: str) -> str:
    """What becomes of the pump in a vessel while nothing fails, in words; nothing when it runs as it should."""
    words = []
    for p, name in enumerate(run.pumps):
        if run.build.pumped[name].si.source == vessel:
            if not run.on[:, p].any():
                words.append("never starts")
            elif run.longest_dry(name)[0] > _DRY:
                words.append("draws air")
    return ", ".join(dict.fromkeys(words))


def switches(build: Build, vessel: str) -> list[tuple[str, float, str]]:
    """(word, depth [m], pumped line) of each float and low-level switch in a vessel, and of the pumps' inlets."""
    found = []
    for name, line in build.pumped.items():
        if line.si.source == vessel:
            c = line.si.control.si
            if line.si.inlet_depth is not None:
                found.append(("draws air", line.si.inlet_depth, name))
            if c.kind == "float":
                found += [("float on", c.on_depth, name), ("float off", c.off_depth, name)]
            if c.cut_out_depth is not None:
                found.append(("cut-out", c.cut_out_depth, name))
                found.append(
                    ("cut-in", c.cut_in_depth if c.cut_in_depth is not None else c.cut_out_depth + 0.05, name)
                )  # as `aquaplumb.system.switches` has it
    return found


class AsBuiltWords(Drawing):
    """All that `aquaplumb.workshop.as_built.AsBuilt` says; what it draws is there."""

    def __init__(self, build: Build, *, system: str | None = None):
        super().__init__(build, system=system)
        self.steady = solved(build).in_time
        self.levels = water_levels(build)
        self.vessels = sorted(build.vessels.values(), key=lambda v: KINDS.index(v.si.kind))
        self.shown, self.drawn = self.vessels, self.levels  # what a sheet shows of them
        self.letters = {name: _letter(i) for i, name in enumerate(build.pumped)}
        self.numbers = {name: str(i + 1) for i, name in enumerate(build.drops)}
        fallen = {
            id(one.si) for line in build.lines.values() if not isinstance(line, PumpedLine) for one in getattr(line.si, "pipe", (line,))
        }
        self.made = {run.name: run for run in sawn(build) if id(run.stretch) in fallen}
        self.laid = {id(one.pipe): one for one in laid(build)}

    def title(self) -> str:
        """Whose drawing it is."""
        return f"Elevation as built: {tidy(self.build.title) or 'your build'}"

    def runs_of(self, name: str) -> list[Assembly]:
        """What is sawn for a falling line, from its lip to its end: of one with branches each stretch on the way."""
        whole = self.build.line_of(name)
        after = {f"{whole} › {leg.si.name}": leg.si.after for leg in getattr(self.build.lines[whole].si, "pipe", ())}
        way = [name]
        while before := after.get(way[0]):
            way.insert(0, f"{whole} › {before}")
        return [self.made[one] for one in way if one in self.made]

    # --- values as they are said

    def _running(self, name: str, above: float = 0.0) -> str:
        at = self.levels[name]
        return f"{self.at_first(at.low - above)} to {self.at(at.high - above)}" if at.high - at.low > SWINGS else self.at(at.high - above)

    def _deep(self, name: str) -> str:
        """How deep it is while running, over the vessel's inside bottom."""
        return self._running(name, self.build.vessels[name].si.floor)

    def _flow(self, flow: float) -> str:
        return FLOW.text(max(0.0, flow), self.system)

    def _depth(self, depth: float) -> str:
        return DEPTH.text(depth, self.system)

    def _size(self, record) -> str:
        return pipe_of(record, self.build.units)[0]

    def _lies(self, pipe: Bare) -> str:
        """Where a bare pipe lies, if in the ground or in a conduit."""
        return self.laid[id(pipe)].where(self.system) if id(pipe) in self.laid else ""

    def _under(self, one: Laid) -> str:
        return "hung" if one.cover is None else f"under {COVER.text(one.cover, self.system)}"

    def _mouth(self, pipe) -> float:
        return self.build.vessels[pipe.to].rim if pipe.outlet is None else pipe.outlet

    def _pump_height(self, line) -> float:
        """Where a pump is drawn: where it stands dry, else where it draws."""
        return line.si.pump_height if line.si.pump_height is not None else self._inlet(line)

    def _inlet(self, line) -> float:
        """Where a pump's water goes in: at its inlet depth, else a quarter deep."""
        source = self.build.vessels[line.si.source].si
        return source.floor + (line.si.inlet_depth if line.si.inlet_depth is not None else 0.25 * source.working_depth)

    # --- rows of the tables

    def _vessel_rows(self) -> list[tuple[str, str, list[str], str]]:
        """(look, words, a cell for each vessel, colour) of each row under the drawing."""
        at = [self.drawn[v.si.name] for v in self.shown]
        floors = [v.si.floor for v in self.shown]
        swings = any(a.high - a.low > SWINGS for a in at)
        lows = [self.at(a.low) if a.high - a.low > SWINGS else "" for a in at]
        deep = [self.at(a.low - floor) if a.high - a.low > SWINGS else "" for a, floor in zip(at, floors)]
        rows = [
            ("", "rim", [self.at(v.rim) for v in self.shown], "ink"),
            ("cut", "highest in a power cut", [self.at(a.cut) for a in at], "ink"),
            ("run", "running", [self.at(a.high) for a in at], "ink"),
            *([("low", "running, lowest", lows, "ink")] if swings else []),
            ("rest", "at rest, pumps off", [self.at(a.rest) for a in at], "ink"),
            ("", "inside bottom", [self.at(floor) for floor in floors], "ink"),
            ("", "deep, running", [self.at(a.high - floor) for a, floor in zip(at, floors)], "ink"),
            *([("", "deep, running, lowest", deep, "ink")] if swings else []),
        ]
        for words, spills in (("spills in a power cut", [a.spilled for a in at]), ("spills while running", [a.running_spill for a in at])):
            if max(spills) > SPILL:
                rows.append(("", words, [VOLUME.text(s, self.system) if s > SPILL else "" for s in spills], "wrong"))
        if any(a.pump for a in at):
            rows.append(("", "pump, nothing failed", [a.pump for a in at], "wrong"))
        return rows

    def _pumped_rows(self) -> list[list[str]]:
        rows = []
        for name, line in self.build.pumped.items():
            solved = self.steady.pumped[name]
            rows.append(
                [
                    self.letters[name],
                    tidy(name),
                    self._size(line.si.pipe[0]),
                    self._flow(solved.flow),
                    f"head {HEAD.text(solved.head, self.system)}",
                ]
            )
            rows.append(["", f"draws from {tidy(line.si.source)}", "", "", ""])
            rows.append(["", tidy(line.si.pump or solved.pump.si.name), "", "", ""])
            for o in solved.outlets:
                rows.append(["", f"to {tidy(o.to)}", self._size(o.pipe), self._flow(o.flow), f"at {self.at(self._mouth(o.pipe.si))}"])
                if o.pipe.si.break_hole is not None:
                    rows.append(["", "\u2013 a hole lets air in", "", "", f"at {self.at(o.pipe.si.break_hole)}"])
            for pipe in (*line.si.suction, *line.si.pipe):
                if one := self.laid.get(id(pipe.si)):
                    where = f"in {tidy(one.conduit.name)}" if one.conduit else "in the ground"
                    rows.append(["", f"\u2013 {tidy(one.name)}", where, self._under(one), ""])
        return rows

    def _falling_rows(self) -> list[list[str]]:
        rows = []
        for name, line in self.build.drops.items():
            f, solved = line.si, self.steady.falling[name]
            flow = f"({self._flow(solved.load)})" if f.emergency else self._flow(solved.load)
            vent = self.at(f.siphon.si.vent) if f.siphon else "open top" if f.vented else ""
            most = self._most(name)
            carries = self._flow(most) + (" !" if self._chokes(name) else "")
            lip, outlet = self.at(f.lip), self.at(f.outlet)
            rows.append([self.numbers[name], tidy(name), tidy(f.to), self._size(line), lip, outlet, vent, flow, carries])
            if f.intake is not None and f.intake < f.lip:
                rows.append(["", "\u2013 takes its water in lower", "", "", self.at(f.intake), "", "", "", ""])
            if one := self.laid.get(id(f)):
                rows.append(
                    ["", "\u2013 in the ground" if not one.conduit else f"\u2013 in {tidy(one.conduit.name)}", self._under(one), *[""] * 6]
                )
        return rows

    def _most(self, name: str) -> float:
        """What a falling line carries; each end of a siphon with branches its part of what the whole carries while it runs."""
        solved, whole = self.steady.falling[name], self.build.line_of(name)
        ends = [self.steady.falling[one].load for one in self.build.drops if self.build.line_of(one) == whole]
        flows = [fall.siphon_flow for one, fall in self.steady.falling.items() if self.build.line_of(one) == whole and fall.siphon_flow]
        return max(*(float(flow * solved.load / sum(ends)) for flow in flows if sum(ends)), solved.capacity, 0.0)

    def _chokes(self, name: str) -> bool:
        """Whether it carries less than comes, beyond what sums are apart."""
        return self._most(name) < 0.999 * self.steady.falling[name].load

    # --- in words

    def alt(self) -> str:
        """Every vessel, switch and line with its heights, sizes and flows."""
        b = self.build
        said = [f"{self.title()}. Seen from the side; heights are to scale and count from the zero mark, widths are not to scale."]
        for v in self.vessels:
            name, at = v.si.name, self.levels[v.si.name]
            words = f"{tidy(name)}: inside bottom at {self.at(v.si.floor)}, rim at {self.at(v.rim)}; {_SAID['run']} {self._running(name)} ({self._deep(name)} deep), "
            words += f"{_SAID['rest']} {self.at(at.rest)} ({self.at(at.rest - v.si.floor)} deep), {_SAID['cut']} {self.at(at.cut)} ({self.at(at.cut - v.si.floor)} deep)"
            words += f", spills {VOLUME.text(at.spilled, self.system)} in a power cut" if at.spilled > SPILL else ""
            words += f", spills {VOLUME.text(at.running_spill, self.system)} while running" if at.running_spill > SPILL else ""
            words += f", its pump {at.pump} though nothing fails" if at.pump else ""
            said.append(words + ".")
            for word, depth, pumped in switches(b, name):
                said.append(f"{tidy(name)}, pump of {tidy(pumped)}: {word} at {self._depth(depth)} deep.")
        for name, line in b.pumped.items():
            state = self.steady.pumped[name]
            ends = "; ".join(
                f"to {tidy(o.to)} {self._size(o.pipe)}, {self._flow(o.flow)}, at {self.at(self._mouth(o.pipe.si))}"
                + (f", a hole lets air in at {self.at(o.pipe.si.break_hole)}" if o.pipe.si.break_hole is not None else "")
                for o in state.outlets
            )
            ends += "".join(f"; {tidy(p.si.name)}: {tidy(lies)}" for p in (*line.si.suction, *line.si.pipe) if (lies := self._lies(p.si)))
            said.append(f"{self.letters[name]}, {tidy(name)}, pumped from {tidy(line.si.source)} by {tidy(line.si.pump or state.pump.si.name)}: {self._size(line.si.pipe[0])}, "
                        f"{self._flow(state.flow)} at a head of {self.at(state.head)} at the pump; {ends}.")  # fmt: skip
        for name, drain in b.drops.items():
            f, fall = drain.si, self.steady.falling[name]
            words = f"{self.numbers[name]}, {tidy(name)}, falls from {tidy(f.source)} to {tidy(f.to)}: {self._size(drain)}, lip at {self.at(f.lip)}, outlet at {self.at(f.outlet)}"
            words += f", takes its water in at {self.at(f.intake)}" if f.intake is not None and f.intake < f.lip else ""
            words += ", open at the top" if f.vented else ""
            words += f", vent at {self.at(f.siphon.si.vent)}" if f.siphon else ""
            words += f"; dry, would have to carry {self._flow(fall.load)}" if f.emergency else f"; carries {self._flow(fall.load)}"
            words += f", can carry {self._flow(self._most(name))}" + (": too little" if self._chokes(name) else "")
            words += f"; {tidy(lies)}" if (lies := self._lies(f)) else ""
            pieces = [piece for run in self.runs_of(name) for piece in run.pieces]
            words += f"; pieces {', '.join(map(labelled, pieces))}" if pieces else ""
            said.append(words + ".")
        return " ".join(said)


def _letter(place: int) -> str:
    return chr(ord("A") + place) if place < 26 else f"P{place + 1}"

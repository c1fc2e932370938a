"""A build as arrays for `levels`: what each line carries, as tables of flow against level.

Every number comes from the functions of the steady notebooks: `lines.flows` for pumped trees, `falls.Way` for falling
lines. They are looked up here, since a day has thousands of steps.
Bare SI numbers only. Levels are elevations. A *way* is a pumped line's pipe into one vessel, as water may run back
through it when the pump stands still.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace

import numpy as np

from aquaplumb.build import Build, FallingLine
from aquaplumb.build.records import way_to
from aquaplumb.build.shapes import bend, curved
from aquaplumb.build.vessels import Vessel, held_at_bend, plan_area, water_volume
from aquaplumb.plumbing import falls, fittings, line_records, line_solver, lines
from aquaplumb.system import each_line, films
from aquaplumb.system.curves import DepthCurve
from aquaplumb.system.each_line import checked_ends, line_way, pump_of, siphon_start

_POINTS = 400  # of a table against head, close together near 0 where the flow is steepest
SOURCE, _END = 25, 9  # of tables against the level of a pump's vessel, and of a vessel over a pipe's end
_TIP = 1e-6  # of a cone's water: below it the tip counts as a tube, or its level would jump at every drop
FILM = 0.005  # m of water over which a flow out fades as its vessel (or a pump's inlet) falls dry


class HeadTable:
    """Flows against a head above 0, a row a line: straight between points spaced by the square of their number."""

    def __init__(self, most: np.ndarray, flows: np.ndarray):
        """`flows` [rows, points] go with `heads_up_to(most)`, each row's highest head."""
        heads, slope = heads_up_to(most), np.diff(flows)
        slope /= np.diff(heads)
        dry = np.zeros((len(most), 1))  # the first column of each row: no head, no flow
        self.slope = np.hstack([dry, slope]).ravel()
        self.start = np.hstack([dry, flows[:, :-1] - slope * heads[:, :-1]]).ravel()
        self.scale = _POINTS / np.sqrt(most)
        self.first = np.arange(len(most)) * (_POINTS + 1) + 1

    def __call__(self, head, first=None):
        """(flow, its slope against head), for heads [..., rows]; nothing at or under 0. `first` names other rows' places."""
        root = self.scale * np.sqrt(np.maximum(head, 0.0))
        place = np.minimum(root, _POINTS - 0.5).astype(np.intp) + (self.first if first is None else first) - (head <= 0)
        slope = self.slope.take(place)
        return self.start.take(place) + slope * head, slope


def heads_up_to(most) -> np.ndarray:
    """The heads of a `HeadTable` [rows, points] [m]."""
    return np.asarray(most)[:, None] * (np.arange(_POINTS + 1) / _POINTS) ** 2


class FallTables:
    """Flows of falling lines against the depth over their lips, then down their full pipes: for each open part that is asked for."""

    def __init__(self, ways: list[falls.Way], over: np.ndarray, down: np.ndarray):
        self.ways, self.most = ways, np.stack([over, down])
        self._at: dict[tuple[int, float], int] = {}
        self._rows: list[tuple[np.ndarray, np.ndarray]] = []

    def __call__(self, head, places):
        """(flow, its slope), for heads [..., 2 × lines] and their places."""
        return self._table(head, places)

    def places(self, clear: np.ndarray) -> np.ndarray:
        """Where each line's rows stand with these parts open: [stories, 2 × lines]."""
        known, lines = len(self._rows), clear.shape[1]
        # Hundreds of stories differ in a few lines: each line and part is looked up once.
        _, first, which = np.unique(2.0 * np.arange(lines) + clear, return_index=True, return_inverse=True)
        at = np.array([self._row(one % lines, float(clear.flat[one])) for one in first.tolist()], int)[which].reshape(clear.shape)
        if len(self._rows) > known:
            most = np.concatenate([self.most[:, line] for line, _ in self._at])
            self._table = HeadTable(most, np.concatenate(self._rows))
            self._table.scale = _POINTS / np.sqrt(self.most.ravel())  # of the lines, in the order of the heads
        first = 2 * at * (_POINTS + 1) + 1
        return np.concatenate([first, first + _POINTS + 1], axis=1)

    def _row(self, line: int, clear: float) -> int:
        if (line, clear) not in self._at:
            self._at[line, clear] = len(self._rows)
            self._rows.append(falls.tables(self.ways[line], *map(float, self.most[:, line]), clear))
        return self._at[line, clear]

    def head(self, line: int, clear: float, flow: float) -> float:
        """The depth over its lip at which a line reaches a flow; infinite if it never does."""
        mouth, _ = falls.tables(self.ways[line], *map(float, self.most[:, line]), clear)
        return float(np.interp(flow, mouth, heads_up_to(self.most[:1, line])[0])) if flow <= mouth[-1] else np.inf


@dataclass(frozen=True, slots=True)
class LineTables:
    """What runs out of the ends of one pumped line."""

    flow: np.ndarray  #: [ends, source levels] while no end is under water [m³/s]
    drowned: list[tuple[int, float, float, np.ndarray]]
    """What it changes that a vessel stands over an end: (the vessel's place, its lowest and highest level there, change [ends, source levels,
    levels]). Where several are drowned at once their changes are added."""


class Network:
    """The vessels and lines of a build, as arrays; made once, run many times."""

    vessels: list[Vessel]  #: the vessels, then the junctions of falling trees
    count: int  #: of the vessels
    fallen: FallTables  #: over each lip, then down each pipe when it is full; only where something falls

    def __init__(self, build: Build):
        self.build, self.cold = build, build.site.si.coldest_water
        self._vessels()
        self._falling()
        self.filmed = films.curves(self)
        self._curves |= self.filmed
        for i, curve in self.filmed.items():
            self.full[i] = curve.volume[-1]
        self._pumped()
        self._ways()

    def place(self, name: str) -> int:
        """The column of a vessel."""
        return self.names.index(name)

    # --- vessels

    def _vessels(self) -> None:
        places = each_line.places(self.build)
        self.vessels, self.names, self.count = list(places.values()), list(places), len(self.build.vessels)
        vessels = self.vessels
        self.area = np.array([plan_area.si(v) for v in vessels])
        self.floor = np.array([v.si.floor for v in vessels])
        self.rim = np.array([v.rim for v in vessels])
        # Up to `bend` a vessel holds less than its area: the voids of media, a cone, a sloping channel's wedge.
        bends = [bend(v.si) for v in vessels]
        self.bend = np.array([low for low, _ in bends])
        self.held = np.array([held_at_bend(v) for v in vessels])
        self.power = np.array([1.0 / power for _, power in bends])
        self._give = 1.0 / self.area
        self._share = 1.0 / np.where(self.held > 0, self.held, 1.0)
        self._low_give = self.power * self.bend * self._share
        self._tip_give = self.bend * self._share * _TIP ** (self.power - 1)
        self._plain = not self.held.any()
        # Without cones and wedges it is two straight lines, of which the lower holds: voids of media, then the whole area.
        self._two_lines = not (self.power[self.held > 0] != 1.0).any()
        self._voids_give, self._offset = np.where(self.held > 0, self._low_give, self._give), self.bend - self.held * self._give
        self.full = np.array([water_volume.si(v, v.si.height) for v in vessels])
        self._curves = {i: DepthCurve.of(v) for i, v in enumerate(vessels) if curved(v.si)}

    def depths(self, volume: np.ndarray, *, give: bool = True):
        """(depth, 1 / area of the water or None) for volumes [..., vessels]; as `vessels.water_depth`, all vessels at once."""
        volume = np.minimum(np.maximum(volume, 0.0), self.full)
        depth = volume * self._give + self._offset
        if self._plain:
            return self._curved(volume, depth, np.broadcast_to(self._give, depth.shape))
        if self._two_lines:
            slope = np.where(volume < self.held, self._voids_give, self._give) if give else None
            return self._curved(volume, np.minimum(depth, volume * self._voids_give), slope)
        low = volume < self.held
        part = volume * self._share
        thick = np.maximum(part, _TIP)
        bent, tip = thick**self.power, part < _TIP
        depth = np.where(low, np.where(tip, volume * self._tip_give, self.bend * bent), depth)
        slope = np.where(low, np.where(tip, self._tip_give, self._low_give * bent / thick), self._give) if give else None
        return self._curved(volume, depth, slope)

    def _curved(self, volume: np.ndarray, depth: np.ndarray, give):
        """The same, with the columns of lying vessels by their tables."""
        if self._curves:
            give = None if give is None else give.copy()
            for i, curve in self._curves.items():
                depth[..., i], slope = curve(volume[..., i])
                if give is not None:
                    give[..., i] = slope
        return depth, give

    def holds(self, place: int, depth):
        """The water in a vessel at a depth [m³], with what is on its way while its drains carry as much as that depth drives into them."""
        if place in self.filmed:
            return np.interp(depth, self.filmed[place].depth, self.filmed[place].volume)
        return water_volume.si(self.vessels[place], depth)

    # --- what falls

    def _falling(self) -> None:
        lines = list(self.build.falling.values())
        records = [line.si for line in lines]
        self.falls = [r.name for r in records]
        self.fall_from = np.array([self.place(r.source) for r in records], int)
        self.fall_to = np.array([self.place(r.to) for r in records], int)
        self.lip = np.array([line.least_lip for line in lines])
        self.outlet = np.array([line.lower_end for line in lines])
        self.clear = np.array([1.0 - r.screen_blocked for r in records])
        self.bore = bore = np.array([r.bore for r in records])
        # A siphon stops at its vent; an overflow that draws from below its lip, or over a hump, is one, unless its top is open.
        stops = [_stops(line) for line in lines]
        self.siphons = np.array([i for i, s in enumerate(stops) if s is not None], int)
        self.vent = np.array([stops[i] for i in self.siphons])
        self.siphon_held = np.array([np.pi / 4 * bore[i] ** 2 * records[i].length for i in self.siphons])
        self.siphon_into = np.array([self._falls_into(self.fall_to[i]) for i in self.siphons], int)  # what it holds when air breaks it
        self.meant = np.array([records[i].siphon is not None for i in self.siphons], bool)
        bands = [siphon_start(records[i]) for i in self.siphons]
        may = np.array([band.may for band in bands])  # from here on one that nobody meant to have is reckoned with
        self.starts = {"may": may, "sure": np.where(self.meant, [band.sure for band in bands], may) if bands else may}
        if not records:
            return
        top = np.maximum(self.rim[self.fall_from], self.rim[self.fall_to])
        deep = np.minimum(np.minimum(self.outlet, self.lip), np.minimum(self.floor[self.fall_from], self.floor[self.fall_to]))
        siphons_ = set(self.siphons.tolist())
        ways = [
            replace(line_way(line, self.cold, self.fall_to[i] < self.count), fills=i in siphons_ and line.si.entry != "tee")
            for i, line in enumerate(lines)
        ]
        self.fallen = FallTables(ways, np.maximum(top - self.lip, 0.05), np.maximum(top - deep, 0.05))

    def _falls_into(self, place: int) -> int:
        """The vessel that water at a place comes to: that one, or below a tee the one at the lowest end."""
        while place >= self.count:
            on = np.flatnonzero(self.fall_from == place)
            place = int(self.fall_to[on[self.outlet[on].argmin()]])
        return place

    # --- what is pumped

    def _pumped(self) -> None:
        self.lines = list(self.build.pumped)
        records = [line.si for line in self.build.pumped.values()]
        self.controls = [r.control.si for r in records]
        self.line_from = np.array([self.place(r.source) for r in records], int)
        self.line_floor = self.floor[self.line_from] if records else np.zeros(0)
        self.inlet_depth = np.array([r.inlet_depth or 0.0 for r in records])
        self.inlet = self.line_floor + self.inlet_depth
        self.line_held = np.array([sum(np.pi / 4 * p.si.bore**2 * p.si.length for p in (*r.suction, *r.pipe)) for r in records])
        self.grid = np.array([(self.rim[i] - self.floor[i]) / (SOURCE - 1) for i in self.line_from])
        self.per_grid = 1.0 / self.grid
        self.ends = [end.si.name for r in records for end in r.pipe if end.si.to]
        self.end_line = np.array([p for p, r in enumerate(records) for end in r.pipe if end.si.to], int)
        self.end_to = np.array([self.place(end.si.to) for r in records for end in r.pipe if end.si.to], int)
        self.free_flow = np.array([float(pump_of(self.build, line).si.flow[-1]) for line in self.build.pumped.values()])
        self.checked = np.array([all(checked_ends(line).values()) for line in self.build.pumped.values()], bool)
        self._tables: dict[tuple, LineTables] = {}

    def base(self, line: int, shut: tuple = (), blocked: float | None = None) -> LineTables:
        """One line's tables with some of its stretches shut or its strainer blocked."""
        key = line, shut, blocked
        if key not in self._tables:
            self._tables[key] = self._tables_of(line, shut, blocked)
        return self._tables[key]

    def _tables_of(self, line: int, shut: tuple, blocked: float | None) -> LineTables:
        record = list(self.build.pumped.values())[line].si
        levels = np.linspace(self.floor[self.line_from[line]], self.rim[self.line_from[line]], SOURCE)
        pump = pump_of(self.build, list(self.build.pumped.values())[line])
        stretches = [_changed(p, self.build.vessels, shut, record.loss_factor) for p in record.pipe]
        outlets = {p.si.name: p.si.outlet for p in stretches if p.si.to}
        suction = [_changed(p, self.build.vessels, shut, record.loss_factor) for p in record.suction]
        clogged = record.strainer_blocked if blocked is None else blocked

        def solved(source, over: dict):
            raised = [p if p.si.to not in over else p.with_si(outlet=np.maximum(p.si.outlet, over[p.si.to])) for p in stretches]
            tree_ = lines.Line.from_si(
                name=record.name, source=source, temperature=self.cold, suction=tuple(suction), stretches=tuple(raised), strainer_blocked=clogged,
            )  # fmt: skip
            found = lines.flows.si(tree_, pump).si
            return np.array([np.broadcast_to(found.end_flow[found.ends.index(name)], np.shape(source)) for name in outlets])

        flow, drowned = solved(levels, {}), []
        for name in dict.fromkeys(p.si.to for p in stretches if p.si.to):
            vessel = self.place(name)
            low = min(p.si.outlet for p in stretches if p.si.to == name)
            if low < self.rim[vessel] - 1e-6:
                over = np.linspace(max(low, self.floor[vessel]), self.rim[vessel], _END)
                both = np.meshgrid(levels, over, indexing="ij")
                change = solved(both[0].ravel(), {name: both[1].ravel()}).reshape(len(outlets), SOURCE, _END) - flow[:, :, None]
                drowned.append((vessel, over[0], over[-1], change))
        return LineTables(flow, drowned)

    @functools.cached_property
    def brings(self) -> np.ndarray:
        """1 where a falling line or a pumped end leads into a vessel: [lines, vessels]."""
        return 1.0 * (np.concatenate([self.fall_to, self.end_to])[:, None] == np.arange(self.count))

    # --- ways back through a pump that stands still

    def _ways(self) -> None:
        """Every vessel that water may leave backwards through a pumped line, down to where air gets in.

        It runs back to the pump's vessel; where a check valve holds it, over to an end of the line that lies lower.
        """
        ways, self._back, self.way_paths = [], [], []
        for p, line in enumerate(self.build.pumped.values()):
            record = line.si
            source = self.line_from[p]
            for name in dict.fromkeys(end.si.to for end in record.pipe if end.si.to):
                vessel = self.place(name)
                ends = [_changed(end, self.build.vessels, ()) for end in record.pipe if end.si.to == name]
                mouths = [end.si.outlet for end in ends]
                holes = [max(m, e.si.break_hole) if e.si.break_hole is not None else m
                         for m, e in zip(mouths, (end for end in record.pipe if end.si.to == name))]  # fmt: skip
                air = min(holes)
                back, forth = air < self.rim[vessel] - 1e-6, self.rim[source] > min(mouths)
                if not (back or forth):
                    continue
                high = max(self.rim[vessel], self.rim[source]) - min(self.floor[source], self.floor[vessel], *mouths)
                checked = all(checked_ends(line)[end.si.name] for end in record.pipe if end.si.to == name)
                ways.append((p, vessel, air, min(mouths), forth, checked, source, -np.inf, False))
                self.way_paths.append([{p.si.name for p in way_to(record, end)} for end in record.pipe if end.si.to == name])
                self._back.append((functools.partial(self._still_line, record, name), high))
                for over, end, below in self._across(record, name) if back and checked else ():
                    ways.append((p, vessel, air, air, False, True, self.place(end.si.to), end.si.outlet, True))
                    self.way_paths.append([{q.si.name for q in (*over, *below)}])
                    self._back.append((functools.partial(self._over_line, record, over, below), self.rim[vessel] - min(end.si.outlet, air)))
        self.way_line, self.way_to = (np.array([w[i] for w in ways], int) for i in (0, 1))
        self.way_air, self.way_mouth = (np.array([w[i] for w in ways], float) for i in (2, 3))
        self.way_forth, self.way_checked = (np.array([w[i] for w in ways], bool) for i in (4, 5))
        self.way_far, self.way_end = np.array([w[6] for w in ways], int), np.array([w[7] for w in ways], float)
        self.way_across = np.array([w[8] for w in ways], bool)  # to another end of the line, not to the pump's vessel

    def _across(self, record, name: str):
        """From the lowest end in a vessel over to each end of the line that may lie lower: (stretches up, end, stretches down)."""
        ends = [_changed(pipe, self.build.vessels, ()) for pipe in record.pipe if pipe.si.to]
        own = min((end for end in ends if end.si.to == name), key=lambda end: end.si.outlet)
        pipes = {pipe.si.name: pipe for pipe in record.pipe}

        def up(end) -> list:
            found, here = [], pipes.get(end.si.name)
            while here is not None:
                found.append(here)
                here = pipes.get(here.si.after)
            return found

        for end in ends:
            shared = {pipe.si.name for pipe in up(own)} & {pipe.si.name for pipe in up(end)}
            over, below = ([pipe for pipe in up(one) if pipe.si.name not in shared] for one in (own, end))
            held = any(count and fittings.fitting(one).is_check_valve for pipe in over for one, count in pipe.si.fittings.items())
            if end.si.to != name and not held and end.si.outlet < self.rim[self.place(name)] - 1e-6:
                yield over, end, below

    @functools.cached_property
    def back(self) -> HeadTable:
        """Back through each way."""
        most = np.array([high for _, high in self._back])
        flows = [flow(heads) for (flow, _), heads in zip(self._back, heads_up_to(most))]
        return HeadTable(most, np.array(flows))

    def _still_line(self, record, name: str, heads: np.ndarray) -> np.ndarray:
        """The flow through the pipe into one vessel against the difference of levels, the pump off and turning freely."""
        stretches = [_changed(p, self.build.vessels, (), record.loss_factor) for p in record.pipe]
        bare = [p.with_si(fittings=_no_checks(p.si.fittings), outlet=None if p.si.outlet is None else 0.0) for p in stretches]
        line = lines.Line.from_si(
            name=record.name, source=0.0, temperature=self.cold, stretches=tuple(bare), strainer_blocked=record.strainer_blocked,
            suction=tuple(p.with_si(fittings=_no_checks(p.si.fittings)) for p in (_changed(q, self.build.vessels, (), record.loss_factor) for q in record.suction)),
        )  # fmt: skip
        made = line_records.net(line, "typical", 1)
        others = np.array([0.0 if made.parts[i].to == name else line_records.FAR for i in made.shape.end_links])[:, None]
        outlet = np.where(made.outlet >= line_records.FAR, line_records.FAR, others)
        return line_solver.end_flows(made.shape, made.links, outlet, source=heads)[0].sum(axis=0)

    def _over_line(self, record, over, below, heads: np.ndarray) -> np.ndarray:
        """The flow from one end of a line that stands still over to another, against the difference of levels."""
        chain, after = [], ""
        for pipe in (*over, *reversed(below)):
            stretch = _changed(pipe, self.build.vessels, (), record.loss_factor)
            chain.append(stretch.with_si(after=after, to="", outlet=None, nozzle_bore=None))
            after = pipe.si.name
        chain[-1] = _changed(below[0], self.build.vessels, (), record.loss_factor).with_si(after=chain[-1].si.after, outlet=0.0)
        line = lines.Line.from_si(name=record.name, source=0.0, temperature=self.cold, stretches=tuple(chain))
        made = line_records.net(line, "typical", 1)
        return line_solver.end_flows(made.shape, made.links, made.outlet, source=heads)[0].sum(axis=0)


def _stops(line: FallingLine) -> float | None:
    """The level at which air gets in again and breaks a siphon; None for a line that cannot be one."""
    f = line.si
    if f.siphon:
        return f.siphon.si.vent
    if f.vented:
        return None
    drawn = min(f.lip if f.intake is None else f.intake, line.least_lip)
    return drawn if drawn < line.least_lip else None


def _changed(pipe, vessels, shut: tuple, factor: float = 1.0):
    """A stretch for the solver, its end where the pipe ends (not the water), and shut where it is in `shut`."""
    s = pipe.si
    outlet = None if not s.to else vessels[s.to].rim if s.outlet is None else s.outlet
    costs = {"loss_factor": factor * s.loss_factor}
    return pipe.stretch(outlet, **costs, **({"valve": "ball valve", "opening": 0.0} if s.name in shut else {}))


def _no_checks(counts: dict) -> dict:
    return {name: count for name, count in counts.items() if not fittings.fitting(name).is_check_valve}

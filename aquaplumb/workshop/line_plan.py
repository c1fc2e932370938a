"""The plan of a pumped line as a tree: each stretch with its pipe, fittings and valve, what flows in it, and where it ends.

It is drawn from left to right, from the water that the pump draws to each open end. Nothing in it is to scale.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from aquaplumb.build import Build
from aquaplumb.build.laid import Laid, laid
from aquaplumb.build.records import Pipe
from aquaplumb.build.sawn import sawn
from aquaplumb.plumbing.fittings import valve_handle
from aquaplumb.system.steady import solved
from aquaplumb.tables import unknown
from aquaplumb.units import ANGLE, BORE, DEPTH, FLOW, HEAD, LENGTH, SPEED, TIME, VOLTAGE, DesignError
from aquaplumb.workshop.cut_list import pipe_of
from aquaplumb.workshop.paper import DASHED, HIGH, ROW, WIDE, Drawing, tidy

_MARGIN, _HEAD = 4.0, 34.0  # points
_SOURCE, _PUMP, _END = 78.0, 104.0, 104.0  # widths of the columns of the water, the pump and the open ends
_STRETCH = 96.0  # the least width of a stretch's column
_MOST_WIDE = 190.0  # the most
_INDENT = 12.0  # of what follows, in a tree too deep for columns


def opened(valve: str, opening: float) -> str:
    """A valve and how far it is open, as a hand sets it: degrees of a quarter turn, or a part of its turns."""
    if opening >= 1 or opening <= 0:
        return f"{valve}, {'fully open' if opening >= 1 else 'shut'}"
    return f"{valve}, open {valve_handle(valve, opening)}"


def fitted_with(fittings: dict) -> str:
    """Fittings in a few words: "2 × elbow 90, union"."""
    return ", ".join(f"{count:g} × {tidy(name)}" if count != 1 else tidy(name) for name, count in fittings.items() if count)


@dataclass(frozen=True, slots=True)
class Node:
    """A stretch on the plan, or the open end of one."""

    pipe: Pipe
    column: int  # of its stretch, from the pump on
    row: float  # of the plan; between two rows where it branches
    end: bool = False
    then: tuple[Node, ...] = ()  # what follows it

    def every(self) -> Iterator[Node]:
        """The node and all after it."""
        yield self
        for node in self.then:
            yield from node.every()


class LinePlan(Drawing):
    """The tree of a pumped line, for the wall: `svg`, `png`, and `alt`, the same in words.

    Parameters
    ----------
    build : Build
    line : str
        The name of a pumped line.
    system : str
        "metric" or "US"; the build's own by default.
    page : int
        Which sheet, from 0 on; `sheets` are all of them.
    """

    def __init__(self, build: Build, line: str, *, system: str | None = None, page: int = 0):
        super().__init__(build, system=system)
        if line not in build.pumped:
            raise DesignError(unknown("build's list of pumped lines", line, build.pumped))
        self.name = line
        self.solved = solved(build).pumped[line]
        self.shares = {o.name: o for o in self.solved.outlets}
        self.laid = {id(one.pipe): one for one in laid(build)}
        self.made = {id(one.stretch): one for one in sawn(build)}
        self.page = page
        self._measure()

    def sheets(self) -> list[LinePlan]:
        """All its sheets on A4."""
        return [LinePlan(self.build, self.name, system=self.system, page=k) for k in range(self.pages)]

    def title(self) -> str:
        """Whose line it is."""
        return f"Plan of the line “{tidy(self.name)}”: {tidy(self.build.title) or 'your build'}"

    # --- what is said

    def _pipe(self, stretch) -> str:
        return f"{pipe_of(stretch, self.build.units)[0]}, {LENGTH.text(stretch.si.length, self.system)}"

    def _flowing(self, name: str) -> str:
        flow, speed = (float(found[name]) for found in (self.solved.stretch_flow, self.solved.stretch_speed))
        return f"{FLOW.text(flow, self.system)}, {SPEED.text(speed, self.system)}"

    def _lies(self, stretch) -> Laid | None:
        """How a stretch lies in the ground or in a conduit, if it does."""
        return self.laid.get(id(stretch.si))

    def _fitted(self, stretch) -> list[str]:
        """Where it lies, fittings, then the valve, in words."""
        s, lies = stretch.si, self._lies(stretch)
        where = tidy(lies.where(self.system)) if lies else ""
        made = self.made.get(id(s))
        many = (f"pieces 1 to {len(made.pieces)}" if len(made.pieces) > 1 else "piece 1") if made else ""
        return [words for words in (where, many, fitted_with(s.fittings), opened(s.valve, s.opening) if s.valve else "") if words]

    def _control(self) -> list[str]:
        """How the pump runs, in words."""
        line = self.solved.line.si
        c = line.control.si
        said = []
        if c.kind == "timer":
            said.append(f"timer: {TIME.text(c.on, self.system)} on, {TIME.text(c.off, self.system)} off")
        if c.kind == "float":
            said.append(f"float switch: on at {DEPTH.text(c.on_depth, self.system)} deep, off at {DEPTH.text(c.off_depth, self.system)}")
        if c.cut_out_depth is not None:
            said.append(f"low-level switch: stops it at {DEPTH.text(c.cut_out_depth, self.system)} deep")
        if line.voltage is not None:
            said.append(f"at {VOLTAGE.text(line.voltage)}")
        if line.speed != 1:
            said.append(f"at {100 * line.speed:.0f} % speed")
        return said

    def _ending(self, pipe) -> list[str]:
        """An open end in words, after its vessel's name."""
        p, vessel = pipe.si, self.build.vessels[pipe.si.to]
        end, found = vessel.rim if p.outlet is None else p.outlet, self.shares[p.name]
        said = [f"end at {self.at(end)}" if p.outlet is not None else f"end at the rim, {self.at(end)}"]
        said += [f"{p.nozzles:g} × nozzle {BORE.text(p.nozzle_bore, self.system)}"] if p.nozzle_bore else []
        said += [f"{ANGLE.text(p.nozzle_angle)} off the wall"] if p.nozzle_angle is not None else []
        said += [f"hole at {self.at(p.break_hole)}"] if p.break_hole is not None else []
        return [
            *said,
            f"{FLOW.text(float(found.flow), self.system)}, {100 * found.share:.0f} %",
            f"wanted {100 * found.wanted_share:.0f} %",
        ]

    # --- the tree

    def _tree(self) -> list[Node]:
        """Every node in order from the pump on: a row for each end; in a deep tree, or one of several sheets, a parent beside its first child."""
        pipes = self.solved.line.si.pipe
        self.rows = 0

        def leaf(pipe: Pipe, column: int, *, end: bool) -> Node:
            self.rows += 1
            return Node(pipe, column, self.rows - 1, end=end)

        def grown(pipe: Pipe, column: int) -> Node:
            row = self.rows
            then = [leaf(pipe, column, end=True)] if pipe.si.to else []
            if self.deep and not then:
                self.rows += 1
            then += [grown(other, column + 1) for other in pipes if other.si.after == pipe.si.name]
            if not then:  # it ends nowhere
                return Node(pipe, column, row) if self.deep else leaf(pipe, column, end=False)
            if self.deep or self.pages > 1:
                return Node(pipe, column, row, then=tuple(then))
            return Node(pipe, column, sum(one.row for one in then) / len(then), then=tuple(then))

        self.first = [grown(pipe, 0) for pipe in pipes if not pipe.si.after]
        return [node for first in self.first for node in first.every()]

    def _measure(self) -> None:
        """The nodes, the sheets that they take, and how wide and high each stands."""
        suction = self.solved.line.si.suction
        self.deep, self.pages = False, 1
        nodes = self._tree()
        deepest = max(n.column for n in nodes) + 1
        fixed = 2 * _MARGIN + _SOURCE + _PUMP + _END
        self.deep = fixed + (deepest + len(suction)) * _STRETCH > WIDE  # then what follows stands under what it follows
        self.columns = 1 if self.deep else deepest
        room = WIDE - fixed - (deepest * _INDENT if self.deep else 0.0)
        self.wide = min(_MOST_WIDE, room / (self.columns + len(suction)))
        self.width = WIDE
        self.ends = _MARGIN + _SOURCE + _PUMP + (self.columns + len(suction)) * self.wide + (deepest * _INDENT if self.deep else 0.0)
        blocks = [self._block(n) for n in nodes]
        below = max(len(block) for block in [*blocks, *[self._under(s) for s in suction], self._pump_words()])
        self.step = (2.4 + below + 0.9) * ROW
        nodes = self._tree()
        self.rows_a_page = max(1, int((HIGH - _HEAD - 2 * ROW) / self.step))
        self.pages = -(-self.rows // self.rows_a_page)
        self.nodes = self._tree()

    # --- what is drawn

    def draw(self) -> None:
        """The tree from left to right; each column as wide as the paper allows."""
        suction = self.solved.line.si.suction
        rows = min(self.rows_a_page, self.rows - self.page * self.rows_a_page)
        self.height = _HEAD + rows * self.step + 2 * ROW
        middle = sum(map(self._y, self.first)) / len(self.first)
        name = self.title() + (f", sheet {self.page + 1} of {self.pages}" if self.pages > 1 else "")
        self.word(_MARGIN, self.height - 10, name, room=self.width - 2 * _MARGIN, size=10, weight="bold")
        x = _MARGIN + _SOURCE + _PUMP + len(suction) * self.wide
        if self.page == 0:
            self._feed(suction, middle)
        for n in self.nodes:
            self._node(n, self._block(n), x)
        self._fork(x, self.first, middle)
        every = (*suction, *self.solved.line.si.pipe)
        notes = ["Not to scale. Flow and speed at the pump's working point; heights count from the zero mark."]
        if any(s.si.valve for s in every):
            notes[0] += " Valves are open as your file has them; the sheet's valve settings are where to begin."
        if any(self._lies(s) for s in every):
            notes.append("Dashed: in the ground (under the hatched line) or in a conduit (between two thin lines).")
        for k, note in enumerate(reversed(notes)):
            self.word(_MARGIN, (0.7 + k) * ROW, note, room=self.width - 2 * _MARGIN)

    def _y(self, node: Node) -> float:
        """How high a node stands [points]; over or under the paper where it stands on another sheet."""
        return self.height - _HEAD - 2.4 * ROW - (node.row - self.page * self.rows_a_page) * self.step

    def _here(self, node: Node) -> bool:
        """Whether a node stands on this sheet."""
        return 0 <= node.row - self.page * self.rows_a_page <= self.rows_a_page - 1 + 1e-9

    def _under(self, stretch) -> list[str]:
        room = self.wide - 8 - (_INDENT if self.deep else 0.0)
        words = [line for said in self._fitted(stretch) for line in self.wrapped(said, room, 3)]
        return [*words, *self.wrapped(self._flowing(stretch.si.name), room, 2)]

    def _block(self, node: Node) -> list[str]:
        """The lines of words under a node."""
        if not node.end:
            return self._under(node.pipe)
        return [line for said in self._ending(node.pipe) for line in self.wrapped(said, _END - 10, 2)]

    def _pump_words(self) -> list[str]:
        said = [f"{FLOW.text(self.solved.flow, self.system)} at {HEAD.text(self.solved.head, self.system)}", *self._control()]
        return [line for one in said for line in self.wrapped(one, _PUMP - 10, 3)]

    def _lines(self, x: float, y: float, words: list[str], room: float) -> None:
        for k, one in enumerate(words):
            self.word(x, y - (k + 0.85) * ROW, one, room=room)

    def _feed(self, suction, y: float) -> None:
        """The water that the pump draws, suction pipe and pump."""
        x = _MARGIN
        source = self.solved.source
        left, right = x + 4, x + _SOURCE - 16
        self.area([(left, y + 5), (left, y - 12), (right, y - 12), (right, y + 5)], "#DCE9F2", order=2)
        self.line([(left, y + 12), (left, y - 12), (right, y - 12), (right, y + 12)], width=1.3)
        for k, one in enumerate(reversed(self.wrapped(source.si.name, _SOURCE - 10, 2, weight="bold"))):
            self.word(left, y + 19 + k * ROW, one, room=_SOURCE - 8, weight="bold")
        self.word(left, y - 20, "water at", room=_SOURCE - 8)
        self.word(left, y - 29, self.at(self.solved.tree.si.source), room=_SOURCE - 8)
        self.line([(right - 10, y), (x + _SOURCE, y)], colour="water", width=2)
        x += _SOURCE
        for stretch in suction:
            self._stretch(stretch, x, y, self._under(stretch), "suction: ")
            x += self.wide
        self.line([(x, y), (x + _PUMP, y)], colour="water", width=2)
        self.tag(x + 14, y, "P", colour="water", radius=6)
        pump = self.solved.line.si.pump or self.solved.pump.si.name
        for k, one in enumerate(reversed(self.wrapped(pump, _PUMP - 10, 2, weight="bold"))):
            self.word(x + 4, y + 14 + k * ROW, one, room=_PUMP - 8, weight="bold")
        self._lines(x + 4, y - 4, self._pump_words(), _PUMP - 8)

    def _stretch(self, stretch, x: float, y: float, under: list[str], first: str = "") -> None:
        s, lies = stretch.si, self._lies(stretch)
        style = DASHED if lies else "-"
        self.line([(x, y), (x + self.wide, y)], colour="water", width=min(3.2, 0.8 + 40 * s.bore), style=style)
        if lies and lies.cover is not None:
            self._ground(x, y + 2.45 * ROW)
        if lies and lies.conduit:
            for side in (-2.9, 2.9):
                self.line([(x + 2, y + side), (x + self.wide - 2, y + side)], width=0.6)
        if s.valve:
            self._valve(x + self.wide - 16, y)
        room = self.wide - 8 - (_INDENT if self.deep else 0.0)
        x += _INDENT if self.deep else 0.0  # what follows goes down at its left
        self.word(x + 4, y + 1.6 * ROW, first + tidy(s.name), room=room, weight="bold")
        self.word(x + 4, y + 0.7 * ROW, self._pipe(stretch), room=room + 1)
        self._lines(x + 4, y, under, room + 1)

    def _ground(self, x: float, y: float) -> None:
        """The top of the ground over a stretch."""
        self.line([(x + 2, y), (x + self.wide - 2, y)], width=0.9)
        for k in range(int((self.wide - 4) / 7)):
            self.line([(x + 5 + 7 * k, y), (x + 2 + 7 * k, y - 3)], width=0.5)

    def _valve(self, x: float, y: float) -> None:
        for side in (-1, 1):
            corner = [(x, y), (x + 5 * side, y + 3.2), (x + 5 * side, y - 3.2)]
            self.area(corner, "white", order=9)
            self.line([*corner, corner[0]], order=10, width=0.8)

    def _fork(self, x: float, after: Sequence[Node], y: float) -> None:
        """The upright pipe from which what follows branches off, as far as this sheet goes."""
        low, high = 2.2 * ROW, self.height - _HEAD + 0.4 * ROW
        heights = [min(max(one, low), high) for one in (*map(self._y, after), y)]
        if max(heights) > min(heights):
            self.line([(x, min(heights)), (x, max(heights))], colour="water", width=1.6)

    def _node(self, n: Node, block: list[str], first: float) -> None:
        y, ends = self._y(n), self.ends
        if n.end:
            if self._here(n):
                self.sign(ends + 2, y, ">", size=5, colour="water")
                self.word(ends + 8, y + 0.7 * ROW, n.pipe.si.to, room=_END - 10, weight="bold")
                self._lines(ends + 8, y, block, _END - 9)
            return
        x = first + n.column * (_INDENT if self.deep else self.wide)
        if self._here(n):
            self._stretch(n.pipe, x, y, block)
        over = x + (_INDENT if self.deep else self.wide)
        self._fork(over, [one for one in n.then if not (self.deep and one.end)], y)
        for other in n.then:
            if other.end and self._here(other):
                start = x + self.wide
                self.line([(start, self._y(other)), (ends, self._y(other))], colour="water", width=min(3.2, 0.8 + 40 * n.pipe.si.bore))

    # --- in words

    def alt(self) -> str:
        """Every stretch in order, with all that is written at it."""
        line, solved = self.solved.line.si, self.solved
        said = [f"{self.title()}. A tree, not to scale."]
        pump = tidy(line.pump or solved.pump.si.name)
        said.append(
            "; ".join(
                [
                    f"{pump} draws from {tidy(line.source)}, water at {self.at(solved.tree.si.source)}: {FLOW.text(solved.flow, self.system)} at a head of {HEAD.text(solved.head, self.system)}",
                    *self._control(),
                ]
            )
            + "."
        )
        for stretch in line.suction:
            said.append(
                "; ".join(
                    [f"suction, {tidy(stretch.si.name)}: {self._pipe(stretch)}", *self._fitted(stretch), self._flowing(stretch.si.name)]
                )
                + "."
            )
        for pipe in line.pipe:
            after = f"after {tidy(pipe.si.after)}" if pipe.si.after else "from the pump"
            words = [f"{tidy(pipe.si.name)}, {after}: {self._pipe(pipe)}", *self._fitted(pipe), self._flowing(pipe.si.name)]
            if pipe.si.to:
                words += [f"into {tidy(pipe.si.to)}", *self._ending(pipe)]
            said.append("; ".join(words) + ".")
        return " ".join(said)

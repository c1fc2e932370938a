"""Each stretch of a build as pieces to saw: what joins them, in order, and how long each piece is from end to end.

    for run in sawn(load("courtyard")):
        for piece in run.pieces: print(piece.label, piece.length)

A piece is as long as its leg, from the middle of one fitting to the middle of the next, less what the fittings take up, and what
goes into their two sockets (`aquaplumb.plumbing.takeoffs`). Where the file tells no `route` the legs are supposed: what shuts, holds
or parts stands close behind the start, and what is left is shared out between the bends. Bare SI numbers.
"""

from __future__ import annotations

import functools
import itertools

from aquaplumb.build import Build
from aquaplumb.build.falling_records import FallingTree
from aquaplumb.build.joints import ELBOW_UP, GAP, OPEN_TEE, THROUGH, Assembly, Joint, Sawn, Side
from aquaplumb.build.mouths import AT_FOOT, LOOKS_UP, begins, mouth, stands_in_floor
from aquaplumb.build.records import PumpedLine
from aquaplumb.build.routes import adds_up, legs_of
from aquaplumb.plumbing import fittings, pipe_sizes, takeoffs
from aquaplumb.units import Bare

_STEEP = 0.1  # of its length: what falls more goes down through a bend; common practice, no source
_SKIPPED = ("strainer", "hose bend")  # what is no joint in a run of pipe: it sits on an end


@functools.lru_cache(maxsize=16)
def sawn(build: Build) -> tuple[Assembly, ...]:
    """All stretches of a build as pieces, in the order of `workshop.cut_list.stretches`.

    Source: `aquaplumb.plumbing.takeoffs`; what the drawing implies at pumps, tees and vessels is common practice.

    >>> from aquaplumb.build import load
    >>> [piece.label for piece in sawn(load("courtyard"))[0].pieces][:2]
    ['riser-1', 'riser-2']
    """
    return tuple(_Planner(build).runs())


class _Planner:
    """Puts the joints of each stretch into their order."""

    def __init__(self, build: Build):
        self.build = build
        self.labels: set[str] = set()
        self._fitting = functools.cache(lambda name: fittings.fitting(name).si)  # each name is asked for several times

    def runs(self):
        for name, line in self.build.pumped.items():
            s = line.si
            for place, one in enumerate(s.suction):
                before = s.suction[place - 1].si if place else None
                start = self._meeting(before, one.si) if before else self._fitted("bulkhead fitting", one.si)
                end = self._at_pump(one.si) if one is s.suction[-1] else self._next(one.si)
                yield self._run(f"{one.si.name} (suction)", one.si, start, end, name, short=one.si.name)
            for one in s.pipe:
                before = next((p.si for p in s.pipe if p.si.name == one.si.after), None)
                start = self._branch(before, one.si, s.pipe) if before else self._pump_side(s, one.si)
                yield self._run(one.si.name, one.si, start, self._end(one.si, s.pipe), name)
        for line in self.build.lines.values():
            if isinstance(line, PumpedLine):
                continue
            if not isinstance(line, FallingTree):
                yield self._run(line.si.name, line.si, self._mouth(line.si, line.si), (), "", stand=self._stand(line.si))
                continue
            for leg in line.si.pipe:
                before = next((p.si for p in line.si.pipe if p.si.name == leg.si.after), None)
                start = self._branch(before, leg.si, line.si.pipe) if before else self._mouth(line.si, leg.si)
                high = before.outlet if before and leg.si.to in self.build.vessels and line.si.kind != "joint" else None
                name = f"{line.si.name} › {leg.si.name}"
                end, stand = self._end(leg.si, line.si.pipe), 0.0 if before else self._stand(line.si)
                yield self._run(name, leg.si, start, end, "", short=leg.si.name, high=high, stand=stand)

    # --- what a fitting takes up

    def _side(self, pipe: Bare) -> Side | None:
        row = takeoffs.socket_row(pipe.size, pipe.standard, self.build.own)
        if row is None:
            return None
        size = pipe_sizes.pipe_size(pipe.size, pipe.standard).si
        return Side(size.size, size.standard, row.si.depth, size.outside_diameter)

    def _taken(self, name: str, side: Side) -> tuple[float, bool]:
        found = takeoffs.taken(name, side.size, side.standard, self.build.own)
        return (0.0, False) if found is None else (found, True)

    def _joint(self, name: str, side: Side) -> Joint:
        row = self._fitting(name)
        off, known = self._taken(row.name, side)
        return Joint(row.name, off, off, side.depth, side.depth, known, bend=row.group == "bend")

    def _fitted(self, name: str, pipe: Bare) -> tuple[Joint, ...]:
        """A fitting at the start of a stretch, with nothing before it."""
        side = self._side(pipe)
        if side is None:
            return (Joint(name),)
        off, known = self._taken(name, side)
        return (Joint(name, 0.0, off, 0.0, side.depth, known),)

    # --- how a stretch begins and ends

    def _pump_side(self, line: Bare, pipe: Bare) -> tuple[Joint, ...]:
        """Adapter and union at a pump's outlet, where the stretch does not name them itself."""
        return (*self._fitted("adapter", pipe), *self._union(pipe))

    def _at_pump(self, pipe: Bare) -> tuple[Joint, ...]:
        side = self._side(pipe)
        if side is None:
            return (Joint("adapter"),)
        off, known = self._taken("adapter", side)
        return (*self._union(pipe), Joint("adapter", off, 0.0, side.depth, 0.0, known))

    def _union(self, pipe: Bare) -> tuple[Joint, ...]:
        side = self._side(pipe)
        named = any(self._fitting(name).name == "union" and count for name, count in pipe.fittings.items())
        return () if side is None or named else (self._joint("union", side),)

    def _meeting(self, before: Bare, pipe: Bare) -> tuple[Joint, ...]:
        """One stretch after another, without a branch."""
        one, other = self._side(before), self._side(pipe)
        if one is None or other is None:
            return (Joint("adapter between pipes", known=False),)
        if one.size == other.size and one.standard == other.standard:
            off, known = self._taken("coupling", other)
            return (Joint("coupling", 0.0, 2 * off, 0.0, other.depth, known),)
        wide = max(one, other, key=lambda side: side.outside)
        off, known = self._taken("reducer", wide)
        return (Joint("reducer", 0.0, 2 * off, 0.0, other.depth, known),)

    def _after(self, pipe: Bare, pipes) -> list[Bare]:
        return [p.si for p in pipes if getattr(p.si, "after", "") == pipe.name]

    def _tee(self, before: Bare, pipe: Bare, pipes) -> tuple[float, float, str, bool]:
        """(take-off, socket depth, name, known) of the tee at a stretch's end, on the side of one of its pipes."""
        sides = [side for p in (before, *self._after(before, pipes)) if (side := self._side(p))]
        own = self._side(pipe)
        if own is None or not sides:
            return 0.0, 0.0, "tee", False
        wide = max(sides, key=lambda side: side.outside)
        off, known = self._taken("tee", wide)
        if own.size == wide.size:
            return off, own.depth, "tee", known
        return off + max(0.0, wide.depth - own.depth), own.depth, f"tee {wide.size} with a bush to {own.size}", known

    def _branch(self, before: Bare, pipe: Bare, pipes) -> tuple[Joint, ...]:
        if len(self._after(before, pipes)) == 1 and not self._tees(pipe):
            return self._meeting(before, pipe)
        off, depth, name, known = self._tee(before, pipe, pipes)
        return (Joint(name, 0.0, off, 0.0, depth, known),)

    @staticmethod
    def _tees(pipe: Bare) -> int:
        return sum(int(count) for name, count in pipe.fittings.items() if fittings.fitting(name).si.group == "tee")

    def _end(self, pipe: Bare, pipes) -> tuple[Joint, ...]:
        """A tee or reducer at the end of a stretch, or nothing: an open end."""
        after = self._after(pipe, pipes)
        if not after:
            return ()
        if len(after) == 1 and not self._tees(after[0]):
            return self._next(pipe)
        off, depth, name, known = self._tee(pipe, pipe, pipes)
        return (Joint(name, off, 0.0, depth, 0.0, known),)

    def _next(self, pipe: Bare) -> tuple[Joint, ...]:
        """The end of a stretch in the coupling or reducer that the next one begins with."""
        side = self._side(pipe)
        return (Joint("next stretch", 0.0, 0.0, side.depth if side else 0.0, 0.0),)

    def _mouth(self, line: Bare, pipe: Bare) -> tuple[Joint, ...]:
        """Where falling water goes in: a tank fitting in the wall, or in the floor under an upright pipe; over the rim nothing."""
        source = self.build.vessels[line.source]
        if line.lip > source.rim:
            return (Joint("open end"),)
        if stands_in_floor(line, source):
            return (Joint("open end"), *self._through_floor(pipe))
        side, how = self._side(pipe), mouth(line, pipe, source, self.build.own)[1]
        if side is None:
            return self._fitted("bulkhead fitting", pipe)
        tee = [self._named(OPEN_TEE, "tee", side)] if line.vented and not self._tees(pipe) and how != AT_FOOT else []
        if how != LOOKS_UP:
            return (*self._fitted("bulkhead fitting", pipe), *tee)
        elbow = self._named(ELBOW_UP, "elbow 90", side)._replace(before=0.0, into=0.0)
        return (elbow, self._joint("bulkhead fitting", side), *tee)

    def _named(self, name: str, fitting: str, side: Side) -> Joint:
        """A fitting under a name that says how it stands."""
        off, known = self._taken(fitting, side)
        return Joint(name, off, off, side.depth, side.depth, known)

    def _stand(self, line: Bare) -> float:
        """How high the pipe of a falling line stands over its vessel's floor [m]; 0 where it goes in otherwise."""
        source = self.build.vessels[line.source]
        return line.lip - source.si.floor if line.lip <= source.rim and stands_in_floor(line, source) else 0.0

    def _through_floor(self, pipe: Bare) -> tuple[Joint, ...]:
        side = self._side(pipe)
        return () if side is None else (self._joint("bulkhead fitting", side),)

    # --- the run

    def _label(self, short: str, line: str) -> str:
        label = short if short not in self.labels else f"{line} {short}".strip()
        self.labels.add(label)
        return label

    def _run(
        self,
        name: str,
        pipe: Bare,
        start: tuple[Joint, ...],
        end: tuple[Joint, ...],
        line: str,
        *,
        short: str = "",
        high: float | None = None,
        stand: float = 0.0,
    ) -> Assembly:
        """A stretch put together; `high` is where the last leg of a falling line with branches begins, `stand` how high its pipe stands over a floor [m]."""
        label, side = self._label(short or name, line), self._side(pipe)
        end = end or (Joint("open end"),)
        if side is None:
            whole = (Sawn(label, 1, pipe.length, pipe.length, 0.0),)
            return Assembly(name, pipe, (start[0], end[-1]), whole, whole=True)
        told, missing = bool(pipe.route) and adds_up(pipe), 0.0
        if told:
            joints, legs = self._opened(pipe, side, *self._by_route(pipe, side, start, end, stand))
            known = True
        else:
            joints = [*start, *self._inline(pipe, side, start, high), *end]
            legs, missing, known = self._shared(pipe, joints, high, stand)
        if known and hasattr(pipe, "lip"):
            high = begins(pipe, self.build.vessels[pipe.source], self.build.own)
        if known and high is not None:
            joints, legs = self._into(pipe, side, joints, legs, high)
        pieces = tuple(
            Sawn(label, n, leg - a.after - b.before + a.out + b.into, leg, a.out + b.into, up)
            for n, ((leg, up), (a, b)) in enumerate(zip(legs, itertools.pairwise(joints)), start=1)
        )
        return Assembly(name, pipe, tuple(joints), pieces, told=told, missing=missing)

    def _inline(self, pipe: Bare, side: Side, start: tuple[Joint, ...], high: float | None = None) -> list[Joint]:
        """The fittings that stand between a stretch's ends, valves and unions first."""
        found: list[Joint] = []
        rest: list[Joint] = []
        at_start = {self._fitting("adapter").name, "bulkhead fitting"} & {j.name for j in start}
        teed = any(j.name.startswith("tee") for j in start)
        for name, count in pipe.fittings.items():
            row = self._fitting(name)
            many = int(count)
            if row.name in _SKIPPED or (row.group == "end" and row.name != "bulkhead fitting") or row.name == "reducer":
                continue
            if row.name in at_start or (row.group == "tee" and teed):
                many -= 1
            if row.name.startswith(("foot valve", "hose barb")):
                continue
            (rest if row.group == "bend" else found).extend([self._joint(name, side)] * max(0, many))
        if pipe_valve := getattr(pipe, "valve", ""):
            if not any(j.name == "union" for j in (*found, *start)):
                found.append(self._joint("union", side))
            found.append(self._joint(pipe_valve, side))
        if not rest and not pipe.route and (self._turns_down(pipe, start) or (high is not None and self._drops(pipe, high))):
            rest.append(self._joint("elbow 90", side))
        if rest and self._opens_below(pipe, start):
            rest.insert(1, self._named(OPEN_TEE, "tee", side))
        return [*sorted(found, key=lambda j: j.name != "union"), *rest]

    def _turns_down(self, pipe: Bare, start: tuple[Joint, ...]) -> bool:
        """Whether a falling pipe without a bend leaves through a wall and ends far lower: then it wants one, though nobody counts it."""
        if not hasattr(pipe, "lip") or pipe.kind == "joint" or not any(j.name == "bulkhead fitting" for j in start):
            return False
        centre, how = self._centre(pipe)
        return start[0].name != "open end" and how != AT_FOOT and centre - pipe.outlet > _STEEP * pipe.length

    def _drops(self, pipe: Bare, high: float) -> bool:
        """Whether the last leg of a falling line with branches ends under its vessel's rim, and far lower than it begins."""
        return pipe.outlet < self.build.vessels[pipe.to].rim and high - pipe.outlet > _STEEP * pipe.length

    def _centre(self, pipe: Bare) -> tuple[float, str]:
        return mouth(pipe, pipe, self.build.vessels[pipe.source], self.build.own)

    def _opens_below(self, pipe: Bare, start: tuple[Joint, ...]) -> bool:
        """Whether the tee that lets air into a pipe stands behind its first bend: of one that leaves through a floor."""
        return hasattr(pipe, "lip") and pipe.vented and not self._tees(pipe) and not any(j.name == OPEN_TEE for j in start)

    def _opened(self, pipe: Bare, side: Side, joints: list[Joint], legs: list) -> tuple[list[Joint], list]:
        """A told run with the tee that lets air in, where no fitting of its route is one."""
        bend = next((k for k, j in enumerate(joints) if j.bend), None)
        if bend is None or not self._opens_below(pipe, tuple(joints)):
            return joints, legs
        tee = self._named(OPEN_TEE, "tee", side)
        close = joints[bend].after + tee.before + GAP
        leg, up = legs[bend]
        return [*joints[: bend + 1], tee, *joints[bend + 1 :]], [*legs[:bend], (close, up), (leg - close, up), *legs[bend + 1 :]]

    def _into(self, pipe: Bare, side: Side, joints: list[Joint], legs: list, high: float) -> tuple[list[Joint], list]:
        """A run whose last level leg is lower than the rim of what it falls into, with the tank fitting that takes it through the wall."""
        to = self.build.vessels.get(pipe.to)
        if to is None:
            return joints, legs
        heights = list(itertools.accumulate((leg * up for leg, up in legs), initial=high))
        last = max((k for k, (_, up) in enumerate(legs) if up == 0.0), default=None)
        if last is None or heights[last] >= to.rim or heights[last] <= to.si.floor:
            return joints, legs
        tank = self._named(f"{THROUGH} {pipe.to}", "bulkhead fitting", side)
        if last == len(legs) - 1:
            return [*joints[:-1], tank._replace(after=0.0, out=0.0)], legs
        close, (leg, _) = tank.after + joints[last + 1].before + GAP, legs[last]
        if leg - close < joints[last].after + tank.before:
            return joints, legs
        return [*joints[: last + 1], tank, *joints[last + 1 :]], [*legs[:last], (leg - close, 0.0), (close, 0.0), *legs[last + 1 :]]

    def _shared(self, pipe: Bare, joints: list[Joint], high: float | None, stand: float) -> tuple[list[tuple[float, float]], float, bool]:
        """The legs of a stretch without a route: what shuts or parts stands close, the rest is shared out; what is missing [m]; whether heights say how they lie."""
        gaps = list(itertools.pairwise(joints))
        fixed: dict[int, tuple[float, float]] = {}
        for k, (a, b) in enumerate(gaps):
            stands = a.name == "open end" and b.name == "bulkhead fitting"
            if stands or (not b.bend and k < len(gaps) - 1):
                fixed[k] = (stand, -1.0) if stands else (a.after + b.before + GAP, 0.0)
        free = [k for k in range(len(gaps)) if k not in fixed]
        taken = sum(gaps[k][0].after + gaps[k][1].before for k in free)
        left = pipe.length - sum(leg for leg, _ in fixed.values()) - taken
        each = max(left, 0.0) / len(free)
        if high is None:
            upright = self._upright(pipe, joints, free, left, fixed)
            known = bool(upright)
        else:
            upright, known = self._last_leg(pipe, joints, free, left, fixed, high)
        fixed |= upright
        found = [fixed.get(k, (each + a.after + b.before, 0.0)) for k, (a, b) in enumerate(gaps)]
        return found, max(0.0, -left), known

    def _last_leg(self, pipe: Bare, joints: list[Joint], free: list[int], left: float, fixed: dict, high: float) -> tuple[dict, bool]:
        """The same of the last leg of a falling line with branches, where it ends under its vessel's rim: through the wall, or over the rim and down."""
        rim, drop = self.build.vessels[pipe.to].rim, high - pipe.outlet
        if pipe.outlet >= rim or left <= 0:
            return {}, False
        if not self._drops(pipe, high):
            return {}, True  # all of it level
        level = pipe.length - sum(leg for leg, _ in fixed.values()) - drop
        down, along, half = (drop, -1.0), (level, 0.0), (level / 2, 0.0)
        over = high > rim
        order = {2: (along, down) if over else (down, along), 3: (half, half, down) if over else (half, down, half)}.get(len(free), ())
        ends = [(joints[k].after, joints[k + 1].before) for k in free]
        if len(order) != len(free) or any(leg < a + b for (leg, _), (a, b) in zip(order, ends)):
            return {}, False
        return dict(zip(free, order)), True

    def _upright(self, pipe: Bare, joints: list[Joint], free: list[int], left: float, fixed: dict) -> dict[int, tuple[float, float]]:
        """The legs of a falling pipe with one or two bends, as its heights have them: what is upright, and what is left beside it."""
        if not hasattr(pipe, "lip") or pipe.crown is not None or len(free) > 3 or left <= 0:
            return {}
        stands = any(up < 0 for _, up in fixed.values())  # its standpipe is a leg already
        centre, how = self._centre(pipe)
        floor = stands or how == AT_FOOT
        low = self.build.vessels[pipe.source].si.floor if stands else pipe.lip if joints[0].name == "open end" else centre
        drop = low - pipe.outlet
        level = pipe.length - sum(leg for leg, _ in fixed.values()) - drop
        if len(free) == 1:
            straight = level + drop
            return {free[0]: (straight, -1.0 if floor else 0.0)} if floor or pipe.kind == "joint" or drop <= _STEEP * pipe.length else {}
        to = self.build.vessels.get(pipe.to)
        down = to is None or pipe.outlet < to.rim  # into it from above, not through its wall
        order = {(True, 2): ((drop, -1.0), (level, 0.0)), (False, 2): ((level, 0.0), (drop, -1.0))}.get(
            (floor, len(free)), ((level / 2, 0.0), *(((level / 2, 0.0), (drop, -1.0)) if down else ((drop, -1.0), (level / 2, 0.0))))
        )
        ends = [(joints[k].after, joints[k + 1].before) for k in free]
        if (floor and len(free) == 3) or any(leg < a + b for (leg, _), (a, b) in zip(order, ends)):
            return {}
        return dict(zip(free, order))

    def _by_route(self, pipe: Bare, side: Side, start, end, stand: float) -> tuple[list[Joint], list[tuple[float, float]]]:
        """The joints and legs as the file tells them; what it does not place stands close behind the start, within the first leg."""
        named = [step.fitting for step in pipe.route if step.fitting]
        unplaced = [joint for joint in self._inline(pipe, side, start) if joint.name != OPEN_TEE]
        for name in named:
            if placed := next((j for j in unplaced if j.name == name), None):
                unplaced.remove(placed)
        joints = [start[0], *(j for j in start[1:] if j.name not in named), *unplaced]
        legs = [(a.after + b.before + GAP, 0.0) for a, b in itertools.pairwise(joints)]
        if stand > 0 and [joint.name for joint in joints[1:2]] == ["bulkhead fitting"]:  # a standpipe, from the lip to the floor
            legs[0] = (stand, -1.0)
        spent = sum(leg for leg, _ in legs)
        steps = pipe.route[1:] if pipe.route[0].fitting == start[0].name else pipe.route
        for length, up, name in legs_of(steps):
            joint = self._joint(name, side) if name else end[0]
            close = joints[-1].after + joint.before + GAP
            legs.append((length - spent if length else close, up))
            joints.append(joint)
            spent = 0.0 if length else spent + close
        if len(joints) > 1 and joints[-1] is not end[0]:
            legs.append((joints[-1].after + end[0].before + GAP, 0.0))
            joints.append(end[0])
        for joint in end[1:]:
            legs.append((joints[-1].after + joint.before + GAP, 0.0))
            joints.append(joint)
        return joints, legs

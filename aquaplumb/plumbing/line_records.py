"""A pumped line as records a builder fills in, and as the arrays that the solver takes.

Part of `aquaplumb.plumbing.lines`, which is the face of all this and says how each part is counted.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np

from aquaplumb import tables, water
from aquaplumb.plumbing import fittings, line_solver
from aquaplumb.plumbing.pipes import ROUGHNESS
from aquaplumb.units import BORE, LENGTH, Bare, Bore, DesignError, Head, Length, Number, Record, Temperature, below, not_above, rounded

FAR = 1e4  # m: an end behind a shut valve is as good as this high


# --- the records --------------------------------------------------------------------------------


class Stretch(Record):
    """A stretch of pipe of one bore: what it follows, what is in it, and where it ends if it ends.

    name: `after` names the stretch it follows; left out for the one at the pump.
    after: `after` names the stretch it follows; left out for the one at the pump.
    fittings: Name and count, such as ``{"elbow 90": 2, "tee branch": 1}``; see `fittings`.
    extra_k: K of anything else in it, such as a lamp's housing or a meter, on the speed in this stretch.
    valve: The valve that throttles it: "ball valve" or "gate valve"; left out for none.
    opening: Of that valve, 1 fully open to 0 shut.
    to: The vessel it ends in, if it ends.
    outlet: Elevation that the water must be lifted to there: the higher of the pipe's end and the water's level.
    nozzle_bore: Of each hole or jet at its end.
    nozzles: How many of them.
    nozzle_coefficient: Discharge coefficient: 0.61 for sharp-edged drilled holes, 0.82 for a short tube, 0.98 for a
        smooth taper.
    share: The part of the line's flow that you want here.
    loss_factor: How many times as much head it costs as reckoned, its exit too; check valves' opening heads stay.

    Source: discharge coefficients, Encyclopaedia Britannica 11e "Hydraulics" (0.60 to 0.62) and fluidspad.com.

    >>> print(Stretch(name="riser", bore="26.1 mm", length="3 m", fittings={"elbow 90": 2}).bore.to("mm"))
    26.1 mm
    """

    name: str
    after: str = ""
    bore: Bore
    length: Length
    roughness: Bore = ROUGHNESS
    fittings: dict = {}
    extra_k: Number = 0.0
    valve: str = ""
    opening: Number = 1.0
    to: str = ""
    outlet: Head | None = None
    nozzle_bore: Bore | None = None
    nozzles: Number = 1.0
    nozzle_coefficient: Number = 0.61
    share: Number | None = None
    loss_factor: Number = 1.0

    def check(self) -> None:
        s = self.si
        if not s.name:
            raise DesignError('a stretch has no name; give it one, such as name = "riser".')
        above_zero = {"bore": BORE, "nozzle_bore": BORE} | (
            {"nozzles": None, "nozzle_coefficient": None} if s.nozzle_bore is not None else {}
        )
        for field, kind in above_zero.items():
            value = getattr(s, field)
            if value is not None and not_above(value, 0):
                raise DesignError(f"stretch '{s.name}': {_words(field)} is {_text(np.min(value), kind)}; it must be more than 0.")
        for field, kind in {"length": LENGTH, "roughness": BORE, "share": None}.items():
            value = getattr(s, field)
            if value is not None and below(value, 0):
                raise DesignError(f"stretch '{s.name}': {_words(field)} is {_text(np.min(value), kind)}; give 0 or more.")
        if s.outlet is None and (s.to or s.nozzle_bore is not None):
            raise DesignError(f"stretch '{s.name}' ends there; say how high, such as outlet = \"1.2 m\" "
                              "(the pipe's end, or the water's level where that is higher).")  # fmt: skip
        try:
            stretch_losses(tuple(s.fittings.items()), "typical")
            if s.valve:
                fittings.valve_k.si(s.valve, s.opening)
        except DesignError as wrong:
            raise DesignError(f"stretch '{s.name}': {wrong}") from None


class Line(Record):
    """A pump's whole line: the level it draws from, its suction if there is any, and the tree after it.

    source: Level of the water that the pump draws from, from the same zero mark as the outlets.
    suction (of Stretch): One after the other, from the water to the pump.
    stretches (of Stretch): The tree after the pump, in any order.
    temperature: Of the water; cold water is the thicker.
    strainer_blocked: The part of a strainer's openings that is clogged: of the fitting "strainer", anywhere in the
        line; where none is listed, of the one at the pump's inlet, see `strainer_k`.
    raises: When the stretches do not make one tree from the pump to vessels; it names the stretch and the cure.

    Source: a record; how each part is counted stands at the head of `lines`.

    >>> bed = Stretch(name="bed pipe", bore="26.1 mm", length="3 m", to="bed", outlet="1.2 m")
    >>> print(Line(name="main line", source="0.3 m", stretches=(bed,)).source)
    0.3 m
    """

    name: str
    source: Head
    suction: tuple = ()
    stretches: tuple[Stretch, ...]
    temperature: Temperature = 293.15
    strainer_blocked: Number = 0.0

    @functools.cached_property
    def nets(self) -> dict[tuple[str, int], Net]:
        """The line as the solver knows it, by band and axes, as far as `net` was asked."""
        return {}

    def check(self) -> None:
        s = self.si
        where = f"line '{s.name}'"
        if not s.stretches:
            raise DesignError(f"{where} has no pipe after its pump; give it at least one stretch.")
        names = [part.si.name for part in (*s.suction, *s.stretches)]
        for name in names:
            if names.count(name) > 1:
                raise DesignError(f"{where} has {names.count(name)} stretches named '{name}'; give each its own name.")
        for part in s.suction:
            if part.si.outlet is not None:
                raise DesignError(f"{where}: '{part.si.name}' is on the suction side and cannot end in a vessel; move it after the pump.")
        tree_names = [part.si.name for part in s.stretches]
        first = [part.si.name for part in s.stretches if not part.si.after]
        for part in s.stretches:
            if part.si.after and part.si.after not in tree_names:
                raise DesignError(f"{where}: '{part.si.name}' follows '{part.si.after}', which is not there; "
                                  + tables.unknown("line", part.si.after, tree_names))  # fmt: skip
        if len(first) > 1:
            raise DesignError(f"{where}: {' and '.join(repr(n) for n in first)} both start at the pump; only one stretch can. "
                              f"Let the others follow it (after = \"{first[0]}\").")  # fmt: skip
        reached, front = set(first), first
        while front:
            front = [part.si.name for part in s.stretches if part.si.after in front]
            reached.update(front)
        if lost := [name for name in tree_names if name not in reached]:
            raise DesignError(f"{where}: {' and '.join(repr(n) for n in lost)} follow each other in a loop and never meet the pump; "
                              "a stretch follows the one nearer to the pump, and the first of all has no 'after'.")  # fmt: skip
        feeding = {part.si.after for part in s.stretches}
        for part in s.stretches:
            name = part.si.name
            if name in feeding and part.si.outlet is not None:
                raise DesignError(f"{where}: '{name}' ends in {part.si.to or 'a vessel'} and yet another stretch follows it; "
                                  "part it in two at the tee.")  # fmt: skip
            if name not in feeding and part.si.outlet is None:
                raise DesignError(f"{where}: '{name}' neither feeds another stretch nor ends in a vessel; "
                                  'say where its water goes, such as to = "bed 1" and outlet = "1.2 m".')  # fmt: skip


# --- from records to the solver's arrays --------------------------------------------------------


def _words(field: str) -> str:
    return field.replace("_", " ")


def _text(value, kind) -> str:
    return kind.text(value) if kind else rounded(value)


@dataclass(frozen=True, slots=True)
class StretchLosses:
    """What the fittings of one stretch add up to."""

    k: float  # of all but the next two, and of its exit
    strainer_k: float  # of its strainers, clean
    check_k: float  # of its check valves, fully open
    opening_head: float  # m, what it takes to open them


@dataclass(frozen=True, slots=True)
class Net:
    """A line as the solver knows it: its stretches in a row, suction first, and the arrays that go with them."""

    parts: list[Bare]  # the stretches, bare
    names: tuple[str, ...]
    parents: tuple[int, ...]  # the place of the stretch that each follows; -1 at the water
    shape: line_solver.Topology
    links: line_solver.Links
    source: Any  # m, level of the water that the pump draws from; one, or one for each design
    outlet: np.ndarray  # m, of each end, `FAR` where it is shut
    shut: np.ndarray  # whether each end is
    ends: tuple[str, ...]  # the stretches that end in a vessel
    strainer_k: list  # by stretch, as far clogged as it is
    pump_from: int  # the place of the first stretch after the pump, in the order of the records
    pump_at: int  # the place of the stretch that starts at the pump


@functools.lru_cache(maxsize=4096)
def stretch_losses(counts: tuple, band: str) -> StretchLosses:
    """What a stretch's fittings add up to; the strainer's K and a listed exit kept apart."""
    found = fittings.losses(dict(counts), band=band).si
    named = [(fittings.fitting(name).si.name, count) for name, count in counts]
    exit_k = sum(count for name, count in named if name == "pipe exit")
    strainers = {name: count for name, count in named if name == "strainer"}
    strainer_k = fittings.k(strainers, band=band)
    return StretchLosses(found.k - strainer_k - exit_k, strainer_k, found.check_k, found.opening_head)


def strainer_k(found: list[StretchLosses], blocked, band: str, first: int) -> list:
    """The K of each stretch's strainers, a part of their openings blocked.

    A line that lists none has one all the same, where its water comes in: clean, it costs nothing more, since a pump's
    points are measured with it; clogged, it costs what a listed one costs more than clean.
    """
    clogged = fittings.clogged_k.si(1.0, blocked)
    if any(one.strainer_k for one in found):
        return [one.strainer_k * clogged for one in found]
    own = fittings.k({"strainer": 1}, band=band) * (clogged - 1.0)
    return [own if i == first else 0.0 for i in range(len(found))]


def _column(values: list, axes: int) -> np.ndarray:
    """One array, stretches first, then `axes` axes of designs."""
    if any(map(np.ndim, values)):
        column = np.stack(np.broadcast_arrays(*[np.asarray(v, float) for v in values]))
    else:
        column = np.array(values, float)
    return column.reshape(len(values), *(1,) * (axes + 1 - column.ndim), *column.shape[1:])


def end_k(s) -> float | np.ndarray:
    """The K, on the stretch's own bore, of its nozzle or its open end; 0 where it does not end.

    Holes wider than the pipe, all together, let out no more than the open pipe: the speed head in it is lost all the same.
    """
    if s.outlet is None:
        return 0.0
    if s.nozzle_bore is None:
        return 1.0
    return np.maximum(1.0, (s.bore**2 / (s.nozzle_coefficient * s.nozzles * s.nozzle_bore**2)) ** 2)


def net(line: Line, band: str, axes: int = 0) -> Net:
    """A line as the solver knows it; made once."""
    if (band, axes) not in line.nets:
        line.nets[band, axes] = _made(line, band, axes)
    return line.nets[band, axes]


def _made(line: Line, band: str, axes: int) -> Net:
    s = line.si
    parts = [part.si for part in (*s.suction, *s.stretches)]
    place = {part.name: i for i, part in enumerate(parts)}
    count = len(s.suction)  # the stretch at the pump follows the last of the suction, or nothing
    parents = (*range(-1, count - 1), *(place[p.after] if p.after else count - 1 for p in parts[count:]))
    shape = line_solver.topology(parents)
    found = [stretch_losses(tuple(part.fittings.items()), band) for part in parts]
    pump_at = next(i for i in range(count, len(parts)) if not parts[i].after)
    strainer = strainer_k(found, s.strainer_blocked, band, 0 if count else pump_at)
    valve = [fittings.valve_k.si(part.valve, part.opening) if part.valve else 0.0 for part in parts]
    k = [f.k + part.extra_k + clogged + v + end_k(part) for f, clogged, v, part in zip(found, strainer, valve, parts)]
    given = {name: [getattr(part, name) for part in parts] for name in ("bore", "length", "roughness")} | {"k": k}
    ends, factors = [parts[i].outlet for i in shape.end_links], [part.loss_factor for part in parts]
    axes = max(axes, *(np.ndim(v) for values in (*given.values(), ends, factors, (s.source, s.temperature)) for v in values))
    columns = {name: _column(values, axes) for name, values in given.items()}
    outlet = _column(ends, axes)
    shut = np.isinf(columns["k"])
    if shut.any():
        columns["k"] = np.where(shut, 1.0, columns["k"])
        for i in shape.order:
            if parents[i] >= 0:
                shut[i] |= shut[parents[i]]
        outlet = np.where(shut[shape.end_links], FAR, outlet)
    if any(f.check_k or f.opening_head for f in found):
        columns["opening_head"] = _column([f.opening_head for f in found], axes)
        columns["check_k"] = _column([f.check_k for f in found], axes)
    links = line_solver.Links(**columns, viscosity=water.kinematic_viscosity.si(s.temperature))
    if any(np.any(np.not_equal(factor, 1.0)) for factor in factors):
        links.speed_head = links.speed_head * _column(factors, axes)
    return Net(
        parts=parts, names=tuple(place), parents=parents, shape=shape, source=s.source, outlet=outlet, shut=shut[shape.end_links],
        links=links, ends=tuple(parts[i].name for i in shape.end_links),
        strainer_k=strainer, pump_from=count, pump_at=pump_at,
    )  # fmt: skip


def end_heads(net: Net, loss: np.ndarray, head) -> np.ndarray:
    """Elevation plus pressure head at the end of each stretch, when the pump adds `head`."""
    at = np.empty(np.broadcast_shapes(loss.shape, (1, *np.shape(net.source + head))))
    for i in net.shape.order:
        above = at[net.parents[i]] if net.parents[i] >= 0 else net.source
        at[i] = above - loss[i] + (head if i == net.pump_at else 0.0)
    return at


def path_to(parents, link: int) -> list[int]:
    """The links from the water to the end of one link."""
    path = [link]
    while parents[path[-1]] >= 0:
        path.append(parents[path[-1]])
    return path[::-1]

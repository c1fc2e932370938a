"""Why a line may bring another flow than reckoned: each cause as a try of `LineModel`, its words, and how to find it out.

A cause has a size from 0 (all as in the build file) to 1 (as much as is thinkable); some go down to −1. `tried(size)` is what
it changes, `words` say it with its number, `look` tells where to look, and `keeps` what the build file would say then.

The ranges are wide on purpose, and common practice, no source, but for what the functions that they change cite.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from aquaplumb.measured.model import LineModel, Try
from aquaplumb.plumbing.fittings import fitting, valve_k
from aquaplumb.units import BORE, HEAD, LENGTH, SHARE, VOLTAGE

FITTINGS, SLIME, STRAINER, VALVE, AIR, PUMP, LONGER, WIRE = (
    "fittings", "slime", "strainer", "valve", "air", "pump", "longer", "wire",
)  # fmt: skip

# All common practice, no source: the most that each cause is tried for.
DEAREST, CHEAPEST = 6.0, 0.5  # K of the fittings over the typical of print
ROUGHEST = 3e-3  # m: a thick, ragged film; the thin one of `ranges` has 60 µm
CLOGGED = 0.97  # part of a strainer
LEAST_OPEN = 0.10  # of a valve that somebody took for open
_WIDE = 0.98  # of a valve: from there on it opens no further
HUMP = 0.6  # m of air standing in a hump
WEAKEST, STRONGEST = 0.5, 1.25  # of a pump's points
LONGEST = 15.0  # m more of a stretch than said
SLOWEST = 0.5  # of a DC pump's voltage


@dataclass(frozen=True)
class Cause:
    """One cause. `name` is it in short, as "valve of to bed 1 not open"; `rare` how much less likely it is from the start (of a score)."""

    kind: str
    where: str  #: the stretch; "" where it is the whole line's
    name: str
    tried: Callable[[np.ndarray], Try]
    words: Callable[[float, str], str]  #: of its size and the unit system: what would be so, as a sentence
    look: str  #: what to do to find it out
    keeps: Callable[[float], dict]  #: of its size: what the build file would say, by path
    least: float = 0.0  #: its size at the least
    rare: float = 0.0
    cured: str = field(default="")  #: what to do that takes it away, for a reading before and after


def causes(model: LineModel, system: str = "metric") -> list[Cause]:
    """Every cause that a line can have, those that a hand finds first before the others."""
    found = [*_valves(model), *_strainer(model), *_air(model), *_whole(model), *_wire(model), *_longer(model)]
    return sorted(found, key=lambda one: one.rare)


def _valves(model: LineModel):
    for part in model.parts:
        counted = [name for name, n in part.fittings.items() if n and name in ("ball valve", "gate valve")]
        if part.valve and part.opening > 0:
            yield _valve(model, part.name, part.valve, part.opening, True)
        elif counted and not part.valve:
            yield _valve(model, part.name, counted[0], 1.0, False)


def _valve(model: LineModel, name: str, kind: str, said: float, in_file: bool) -> Cause:
    """A valve that stands otherwise than the file says, down to nearly shut or up to wide open."""
    base = valve_k.si(kind, said)

    def opening(size):
        up, down = said + np.abs(size) * (1 - said), said * (min(LEAST_OPEN, said) / said) ** np.maximum(size, 0.0)
        return np.where(np.less(size, 0), up, down)

    def keeps(size: float) -> dict:
        path = ("lines", model.name, _pipe(model, name), name, "opening")
        return {path: _short(float(opening(size)))} if in_file else {}

    return Cause(
        VALVE, name, f"the valve in “{name}” stands otherwise", lambda size: {("k", name): valve_k.si(kind, opening(size)) - base},
        lambda size, system: f"The valve in “{name}” stands {SHARE.text(float(opening(size)))} open, not {SHARE.text(said)}.",
        f"Look at the handle of the valve in “{name}”, and turn it.", keeps, -1.0 if said < _WIDE else 0.0, 0.0,
        f"open the valve in “{name}” as the file says",
    )  # fmt: skip


def _short(value: float) -> float:
    return float(f"{value:.3g}")


def _pipe(model: LineModel, stretch: str) -> str:
    return "suction" if any(p.si.name == stretch for p in model.line.suction) else "pipe"


def _strainer(model: LineModel):
    listed = [part.name for part in model.parts if any(fitting(name).si.name == "strainer" and n for name, n in part.fittings.items())]
    was = model.tree.strainer_blocked

    def words(size, system):
        return f"{SHARE.text(1 - (1 - was) * (1 - CLOGGED * float(size)))} of the strainer is shut."

    yield Cause(
        STRAINER, "", "the strainer is partly shut", lambda size: {"blocked": CLOGGED * np.asarray(size)}, words,
        f"Lift the pump's strainer{'' if listed else ' or basket'} out, stop the pump first, and brush it clean.",
        lambda size: {("lines", model.name, "strainer_blocked"): _short(1 - (1 - was) * (1 - CLOGGED * float(size)))},
        0.0, 0.0, "clean the strainer",
    )  # fmt: skip


def _air(model: LineModel):
    yield from map(_air_in, model.made.names[model.made.pump_from :])


def _air_in(name: str) -> Cause:
    return Cause(
        AIR, name, f"air stands in “{name}”", lambda size: {("raised", name): HUMP * np.asarray(size)},
        lambda size, system: f"Air in “{name}” costs {HEAD.text(HUMP * float(size), system)} of head, as if its end hung so much higher.",
        f"Look along “{name}” for a hump; stop and start the pump three times, or open a vent at its top, and listen.",
        lambda size: {}, 0.0, 1.0, f"let the air out of “{name}”",
    )  # fmt: skip


def _whole(model: LineModel):
    line = model.name

    def factor(size):
        return 1 + np.where(np.less(size, 0), (1 - CHEAPEST) * np.asarray(size), (DEAREST - 1) * np.asarray(size))

    def rough(size):
        return ROUGHEST * np.asarray(size) ** 2

    def weak(size):
        return 1 - np.where(np.less(size, 0), (STRONGEST - 1) * np.asarray(size), (1 - WEAKEST) * np.asarray(size))

    yield Cause(
        PUMP, "", "the pump is off its curve", lambda size: {"pump": weak(size)},
        lambda size, system: f"The pump gives {SHARE.text(float(weak(size)))} of its points' flow and head.",
        "Hold a hose from its outlet straight up and measure how high the water stands: that is its head at no flow.",
        lambda size: {("lines", line, "pump_factor"): _short(model.line.pump_factor * float(weak(size)))}, -1.0, 0.5, "try another pump",
    )  # fmt: skip
    yield Cause(
        FITTINGS, "", "the fittings cost more or less than print", lambda size: {"fittings": factor(size)},
        lambda size, system: f"All its fittings together cost {float(factor(size)):.2g} times what print has.",
        "Count the fittings again; look into a joint for burrs and beads of cement.",
        lambda size: {}, -1.0, 0.5,
    )  # fmt: skip
    yield Cause(
        SLIME, "", "slime or scale in the pipe", lambda size: {"roughness": rough(size)},
        lambda size, system: f"Its walls are as rough as {BORE.text(float(rough(size)), system)}.",
        "Open a union and feel the wall of the pipe.", lambda size: {}, 0.0, 1.0, "draw a brush or a rag through the pipe",
    )  # fmt: skip


def _wire(model: LineModel):
    volts = model.voltage
    if model.pump.si.supply != "DC" or volts is None:
        return

    def arrives(size):
        return volts * (1 - (1 - SLOWEST) * np.asarray(size))

    yield Cause(
        WIRE, "", "too little voltage at the pump", lambda size: {"speed": arrives(size) / volts},
        lambda size, system: f"Only {VOLTAGE.text(float(arrives(size)))} come to the pump, not {VOLTAGE.text(volts)}.",
        "Hold a voltmeter to the pump's own two wires while it runs.",
        lambda size: {("lines", model.name, "voltage"): f"{float(arrives(size)):.3g} V"}, 0.0, 0.5,
    )  # fmt: skip


def _longer(model: LineModel):
    for part in model.parts:
        yield _longer_than(model, part.name, float(np.max(part.length)))


def _longer_than(model: LineModel, name: str, length: float) -> Cause:
    return Cause(
        LONGER, name, f"“{name}” is longer than said", lambda size: {("length", name): LONGEST * np.asarray(size)},
        lambda size, system: f"“{name}” is {LENGTH.text(length + LONGEST * float(size), system)} long, not {LENGTH.text(length, system)}.",
        f"Lay a tape along “{name}”.",
        lambda size: {("lines", model.name, _pipe(model, name), name, "length"): f"{length + LONGEST * float(size):.3g} m"}, 0.0, 2.0,
    )  # fmt: skip

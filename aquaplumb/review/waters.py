"""The water of many designs: where it settles in each, by the balance of `aquaplumb.system.settling`. Part of `aquaplumb.review.designs`.

What each line has to carry, and how long floats let pumps run, is off that balance as much as the build's own run is off its own
(`Steady.changed`): where nothing is drawn, it is what the review says.

Each design has its own pumped flows, levels that its owner keeps up, mouths and pipes. A pipe's table is the build's own,
times what this design's pipe carries over it at the head at which the build runs: right there, and within a per cent or
two elsewhere, since fittings, roughness and warmth change the friction a little with the flow. Bare SI numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from aquaplumb.plumbing import full_pipe, pipes
from aquaplumb.review.drawn import Draw, SweptBuild, drawn_start, off_typical
from aquaplumb.review.ranges import OVERFLOWS, ROUGHNESS, SIPHON_START, SIPHONS, WARMTH
from aquaplumb.system.means import off_as
from aquaplumb.system.settling import DesignLinks, Solver, loads
from aquaplumb.system.steady import as_shown
from aquaplumb.units import GRAVITY

_MOUTH_RULES = 3.0  # a pipe that carries so many times what its mouth lets in does not matter
_LEAST = 5e-4  # m: the least head at which pipes are compared, as in `falls`


@dataclass(frozen=True, slots=True)
class Waters:
    """The water of each design, by name."""

    comes: dict[str, np.ndarray]  #: into each vessel and tee, over the hour [m³/s]
    duty: dict[str, np.ndarray]  #: part of the time that each pump runs, by the balance
    runs: dict[str, np.ndarray]  #: … as the run has it
    loads: dict[str, np.ndarray]  #: what each falling line has to carry [m³/s]


def waters(plan: SweptBuild, d: Draw, flows: dict[str, np.ndarray], ends: dict[tuple[str, str], np.ndarray]) -> Waters:
    """Where the water settles, with each pumped line's flow, and that out of each of its ends by (line, end)."""
    n = plan.network
    starts = {band: np.tile(n.starts[band], (d.size, 1)) for band in ("sure", "may")}
    if SIPHON_START in d.values:
        drawn = [d.full(drawn_start(plan.build.falling[n.falls[f]].si, d)) for f in n.siphons]
        starts = dict.fromkeys(starts, np.stack(drawn, axis=1) if drawn else np.zeros((d.size, 0)))
    kept = [d.full(v.level + d(f"water level in {name}", 0.0)) for name, v in plan.places.items()]
    links = DesignLinks(
        line_flow=np.stack([flows[name] for name in n.lines], axis=1) if n.lines else np.zeros((d.size, 0)),
        end_flow=np.stack([ends[n.lines[p], e] for p, e in zip(n.end_line, n.ends)], axis=1) if n.lines else np.zeros((d.size, 0)),
        kept=np.stack(kept, axis=1), full=lambda fall, level: _full(plan, d, fall, level), over=_over(plan, d) if n.falls else None, **starts,
    )  # fmt: skip
    usual, most = Solver(n, links).reckoned(plan.timers, {}, plan.near)
    emergency = np.array([plan.build.falling[name].si.emergency for name in n.falls], bool)
    carried = loads(n, emergency, *(off_as(getattr(most, what), *both) for what, both in plan.peaks.items()))
    duty = {name: usual.share[:, i] for i, name in enumerate(n.lines)}
    return Waters(
        comes={name: usual.comes[:, i] for i, name in enumerate(n.names)}, duty=duty,
        runs={name: as_shown(share, *plan.shares_shown[name]) for name, share in duty.items()},
        loads={name: carried[:, i] for i, name in enumerate(n.falls)},
    )  # fmt: skip


def _pipe(plan: SweptBuild, d: Draw, fall: int, down):
    """What the full pipe of a falling line carries in each design at a difference of levels; as `falls.Way.full`."""
    name = plan.network.falls[fall]
    way, f = plan.ways[name], plan.build.falling[name].si
    if np.isinf(way.k):
        return d.full(0.0)
    clear = 1 - f.screen_blocked
    k = way.k + off_typical(f.fittings, d, ("k", "strainer")) + way.behind_screen(clear) * 2 * GRAVITY * (np.pi / 4 * f.bore**2) ** 2
    pipe = {"temperature": d(WARMTH, plan.cold), "roughness": d(ROUGHNESS, pipes.ROUGHNESS)}
    wide = way.check_k + off_typical(f.fittings, d, ("check_k",))
    flow = full_pipe.full_bore_flow.si(down, f.bore, f.length, k=k + wide, **pipe)
    if way.opening_head:
        opens = way.opening_head + off_typical(f.fittings, d, ("opening_head",))
        flow = np.minimum(flow, full_pipe.full_bore_flow.si(np.maximum(0.0, down - opens), f.bore, f.length, k=k, **pipe))
    return flow * (1.0 if f.screen_open_area else clear)


def _full(plan: SweptBuild, d: Draw, fall: int, level: np.ndarray) -> np.ndarray:
    """What a siphon carries with its bed full, against the level that it ends in."""
    n, name = plan.network, plan.network.falls[fall]
    if name in plan.trees_let:
        return d.full(plan.trees_let[name] * d(SIPHONS))
    down = np.maximum(1e-3, n.lip[fall] - np.maximum(n.outlet[fall], level))
    return _pipe(plan, d, fall, down) * d(SIPHONS)


def _over(plan: SweptBuild, d: Draw) -> np.ndarray:
    """What each design's mouths, then its full pipes, carry over what the build's tables say: [designs, 2 × lines]."""
    n, level = plan.network, plan.level
    high, low = level[n.fall_from], level[n.fall_to]
    back = (low > n.lip) & (low > high)
    high, low, mouth = np.where(back, low, high), np.where(back, np.maximum(high, n.lip), low), np.where(back, n.lip, n.outlet)
    over, down = high - n.lip, np.maximum(high - np.maximum(low, mouth), _LEAST)
    found = np.ones((d.size, 2 * len(n.falls)))
    found[:, : len(n.falls)] = np.reshape(d(OVERFLOWS), (-1, 1))
    for i, way in enumerate(n.fallen.ways):
        clear = float(n.clear[i])
        own = float(way.full(down[i], clear))
        if over[i] > 0 and 0 < own < _MOUTH_RULES * float(way.mouth(over[i], clear)):
            found[:, len(n.falls) + i] = _pipe(plan, d, i, down[i]) / own
    return found

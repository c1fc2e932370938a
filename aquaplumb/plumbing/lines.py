"""Pumped lines: a pump, then a tree of pipe whose branches end at their own heights, solved as a whole.

    riser = Stretch(name="riser", bore="26.1 mm", length="3 m", fittings={"elbow 90": 2})
    tank = Stretch(name="tank", after="riser", bore="20.4 mm", length="2 m", valve="ball valve", to="fish tank", outlet="1.2 m")
    bed = Stretch(name="bed", after="riser", bore="20.4 mm", length="1 m", valve="ball valve", to="bed", outlet="0.9 m")
    line = Line(name="main line", source="0.3 m", stretches=(riser, tank, bed))
    flows(line, pumps.pump("demo mains 45 W submersible")).into

What is counted, and how:

* Pipe friction by Darcy–Weisbach with Colebrook's factor; fittings by K of the table, on the speed in their stretch.
* The speed head that leaves at an open end (K = 1) is added by itself: do not list a pipe exit. One that is listed
  stands for it and is not counted twice. A spray nozzle's loss holds its exit already, and
  is never less than the open pipe's.
* The way in is not added: a submersible pump's points were measured with it. List it where a suction pipe begins.
* The valve that shares out the flow is the stretch's `valve` with its `opening`, not one of its fittings.
* A tee is a fitting of the stretch that leaves it: "tee branch" at the side, "tee run" straight on.
* A check valve (a fitting of that group) costs its opening head, or K speed heads once those are more.
* Water only flows outwards. A branch whose outlet is too high is dry: its flow is exactly 0. If its end is under
  water and it has no check valve, water would flow back through it; that is not worked out here.

Records may hold arrays in place of single values: a sweep of designs, solved side by side.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np

from aquaplumb.plumbing import fittings, line_solver, pipes, pumps
from aquaplumb.plumbing.line_records import Line, Net, Stretch, end_heads, end_k, net, path_to, stretch_losses
from aquaplumb.plumbing.valve_settings import ValveSettings, valve_settings, with_openings
from aquaplumb.units import FLOW, HEAD, DesignError, Flow, Head, Record, Speed, below, takes_quantities

__all__ = [
    "HeadParts", "Line", "Solution", "Stretch", "ValveSettings", "flows", "head_parts", "required_head",
    "system_curve", "valve_settings", "with_openings",
]  # fmt: skip

# --- what comes out -----------------------------------------------------------------------------


class Solution(Record):
    """What flows in a line: the whole, every stretch, and every end.

    flow (scalar or array of designs): Of the whole line.
    head (scalar or array of designs): That the pump adds; at no flow, its shut-off head.
    names (of str): The stretches: suction, then the tree as given. The four arrays that follow go with them.
    stretch_flow (array):
    speed (array):
    loss (array): Of everything in the stretch, its nozzle or exit too.
    end_head (array): Elevation plus pressure head where the stretch ends; after its exit, where it ends in a vessel.
    ends (of str): The stretches that end in a vessel.
    end_flow (array): Out of each of these; exactly 0 where dry.
    dry (of str): Those that are dry (in a sweep: in any of the designs).

    Source: see `flows`.
    """

    flow: Flow
    head: Head
    names: tuple
    stretch_flow: Flow
    speed: Speed
    loss: Head
    end_head: Head
    ends: tuple
    end_flow: Flow
    dry: tuple = ()

    @property
    def into(self) -> dict:
        """The flow out of each end, by the name of its stretch, as quantities."""
        return dict(zip(self.si.ends, self.end_flow))


class HeadParts(Record):
    """Where the head goes, part by part, on the way to one end; the parts add up to the head.

    end: The stretch at whose end the way arrives.
    where (of str): The stretch of each part; blank for the lift.
    what (of str): "lift", "pipe friction", a fitting's name, "other", "valve", "nozzle", "exit".
    head (array):

    Source: see `head_parts`.
    """

    end: str
    where: tuple
    what: tuple
    head: Head

    @property
    def total(self):
        """The sum: the head that the pump has to add."""
        return HEAD.quantity(float(np.sum(self.si.head)))


# --- the whole line -----------------------------------------------------------------------------


@takes_quantities
def flows(line: Line, pump: pumps.Pump | Callable | None = None, *, flow: Flow | None = None, band: str = "typical") -> Solution:
    """What flows in every stretch of a line: with a pump, or with a flow that is given.

    pump: See `pumps`, or a function of the flow [m³/s] that gives (head [m], slope).
    flow: Of the whole line, in place of a pump; the answer's head is then what a pump must add.
    band: "low", "typical" or "high" fitting losses.

    Every junction passes on what it gets; on every way from the water to an end, the pump's head is spent
    on lift, friction and fittings; an end that this leaves nothing for is dry. A pump too weak to lift water
    to any end gives no flow at all, and all ends are dry. Solved by Newton's method on the whole tree.

    Source: balance of mass and energy (any hydraulics text); held against EPANET 2.2 on random trees.

    >>> from aquaplumb.plumbing import pumps
    >>> bed = Stretch(name="bed pipe", bore="26.1 mm", length="3 m", to="bed", outlet="1.2 m")
    >>> line = Line(name="main line", source="0.3 m", stretches=(bed,))
    >>> print(round(flows(line, flow="900 L/h").head.to("m"), 2))
    0.95 m
    """
    if (pump is None) == (flow is None):
        raise DesignError(f"flows in '{line.si.name}': give either a pump or a flow, one of the two.")
    made = net(line, band, np.ndim(flow) if flow is not None else 0)
    return _solution(made, *_solved(made, pump, flow))


def _solved(made: Net, pump=None, flow=None) -> tuple[np.ndarray, np.ndarray]:
    """(flow of every end, head at the top of the tree)."""
    if flow is not None:
        _not_negative(flow)
        if np.any(made.shut.all(axis=0) & np.greater(flow, 0)):
            raise DesignError("every branch of the line is shut; open a valve, or no flow can go through.")
    curve = None if pump is None else pumps.own_curve(pump)
    return line_solver.end_flows(made.shape, made.links, made.outlet, pump=curve, source=made.source, flow=flow)


def _not_negative(flow) -> None:
    if below(flow, 0):
        raise DesignError(f"the flow is {FLOW.text(np.min(flow))}; water is pumped outwards, so give 0 or more.")


def _solution(made: Net, end_flow, top) -> Solution:
    q = made.shape.link_flow(end_flow)
    loss = np.where(q > 0, made.links.loss(q)[0], 0.0)
    head = top - made.source
    dry = [name for name, flow in zip(made.ends, end_flow) if np.any(flow == 0)]
    return Solution.from_si(
        flow=q[made.pump_at], head=head, names=made.names, stretch_flow=q, speed=q / made.links.area, loss=loss,
        end_head=end_heads(made, loss, head), ends=made.ends, end_flow=end_flow, dry=tuple(dry),
    )  # fmt: skip


@takes_quantities
def required_head(line: Line, flow: Flow, *, band: str = "typical") -> Head:
    """The head that a pump must add to send this flow through the line.

    flow: Of the whole line; it shares itself out over the branches.
    band: "low", "typical" or "high" fitting losses.

    Source: see `flows`.

    >>> bed = Stretch(name="bed pipe", bore="26.1 mm", length="3 m", to="bed", outlet="1.2 m")
    >>> line = Line(name="main line", source="0.3 m", stretches=(bed,))
    >>> print(round(required_head(line, "1800 L/h").to("m"), 2))
    1.07 m
    """
    made = net(line, band, np.ndim(flow))
    return _solved(made, flow=flow)[1] - made.source


@takes_quantities
def system_curve(line: Line, flow: Flow) -> pumps.SystemCurve:
    """The head that a line asks for by flow, with the band that fitting losses leave open.

    line: Where it holds designs, the heads have them along the first axes and the flows along the last.
    flow (array): Rising from zero.

    Source: see `flows`; the band is that of ``data/fittings.csv``.

    >>> from aquaplumb import u
    >>> bed = Stretch(name="bed pipe", bore="26.1 mm", length="3 m", fittings={"elbow 90": 3}, to="bed", outlet="1.2 m")
    >>> line = Line(name="main line", source="0.3 m", stretches=(bed,))
    >>> print(system_curve(line, [0, 900, 1800] * u.L / u.h).high.round(2))
    [0.9 1 1.27] m
    """
    bands = [net(line, band) for band in fittings.BANDS]
    first = bands[0]
    made = dataclasses.replace(  # bands first, then designs, flows last: all solved at once
        first, links=line_solver.Links.beside([band.links for band in bands]), outlet=first.outlet[:, None, ..., None],
        shut=first.shut[:, None, ..., None], source=np.asarray(first.source)[..., None],
    )  # fmt: skip
    heads = _solved(made, flow=flow)[1] - made.source
    return pumps.SystemCurve.from_si(flow=flow, **dict(zip(fittings.BANDS, heads)))


# --- where the head goes ------------------------------------------------------------------------


@takes_quantities
def head_parts(line: Line, flow: Flow, *, band: str = "typical") -> HeadParts:
    """Where the head goes on the way to the end that needs most, part by part.

    flow (one value): Of the whole line; it shares itself out.
    band: "low", "typical" or "high" fitting losses.
    returns: Parts that add up to `required_head`.

    At a given flow the ways to all ends that run cost the same head. The one shown is the one with the least
    of it spent in throttling valves, and among equals the one that gets the least for its wanted share.

    Source: see `flows`.

    >>> bed = Stretch(name="bed pipe", bore="26.1 mm", length="3 m", to="bed", outlet="1.2 m")
    >>> parts = head_parts(Line(name="main line", source="0.3 m", stretches=(bed,)), "900 L/h")
    >>> parts.what
    ('lift', 'pipe friction', 'exit')
    """
    made = net(line, band)
    if made.links.k.ndim > 1 or np.ndim(flow):
        raise DesignError("head_parts shows one design at one flow; give single values, not lists.")
    end_flow, _ = _solved(made, flow=flow)
    q = made.shape.link_flow(end_flow)
    running = np.flatnonzero(end_flow > 0).tolist() or [int(np.argmin(made.outlet))]  # no flow: the lift to the lowest end
    ways = {made.shape.end_links[i]: path_to(made.parents, made.shape.end_links[i]) for i in running}
    split = {link: [_stretch_parts(line, made, i, q[i], band) for i in links] for link, links in ways.items()}
    throttled = {link: sum(h for parts in split[link] for what, h in parts if what == "valve") for link in split}
    got = {made.shape.end_links[i]: end_flow[i] / (made.parts[made.shape.end_links[i]].share or 1.0) for i in running}
    end = min(throttled, key=lambda link: (round(throttled[link], 6), got[link]))
    rows = [("", "lift", made.parts[end].outlet - made.source)]
    rows += [(made.names[i], what, h) for i, parts in zip(ways[end], split[end]) for what, h in parts]
    where, what, head = zip(*rows)
    return HeadParts.from_si(end=made.names[end], where=where, what=what, head=np.array(head, float))


def _stretch_parts(line: Line, made: Net, i: int, q: float, band: str) -> list[tuple[str, float]]:
    """Each part of one stretch with the head it costs."""
    s, speed_head = made.parts[i], q**2 * made.links.speed_head[i]
    parts = [("pipe friction", float(s.loss_factor * pipes.friction_head.si(
        q, s.bore, s.length, roughness=s.roughness, temperature=line.si.temperature)))]  # fmt: skip
    checks = {}
    for name, count in s.fittings.items():
        one = stretch_losses(((name, count),), band)
        if one.check_k or one.opening_head:
            checks[name] = one
        elif k := made.strainer_k[i] if one.strainer_k else one.k:
            parts.append((name, k * speed_head))
    if made.strainer_k[i] and not any(what == "strainer" for what, _ in parts):  # the one that nobody listed
        parts.append(("strainer", made.strainer_k[i] * speed_head))
    if s.extra_k:
        parts.append(("other", s.extra_k * speed_head))
    if s.valve:
        parts.append(("valve", fittings.valve_k.si(s.valve, s.opening) * speed_head))
    if checks:
        open_ = sum(one.check_k for one in checks.values()) * speed_head
        parts.append((" and ".join(checks), max(open_, sum(one.opening_head for one in checks.values()))))
    if s.outlet is not None:
        parts.append(("nozzle" if s.nozzle_bore is not None else "exit", end_k(s) * speed_head))
    return parts

"""Sharing out the flow of a branched line: how far each valve has to stand open.

Part of `aquaplumb.plumbing.lines`, which is the face of all this.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from aquaplumb import tables
from aquaplumb.given import takes_things
from aquaplumb.plumbing import fittings, pumps
from aquaplumb.plumbing.line_records import Line, Net, end_heads, net, path_to
from aquaplumb.units import FLOW, HEAD, DesignError, Flow, Head, Number, Record, rounded, takes_quantities

# K from which a valve counts as nearly shut: a ball valve a third open (35° of 90°), a gate valve an eighth.
# From there a degree of the handle moves the branch's flow by 7 % and grit lodges. Common practice, no source.
NEARLY_SHUT = 100.0


class ValveSettings(Record):
    """How far each valve has to stand open for the flows to come out as wanted.

    flow: Of the whole line, so set.
    head: That the pump then adds.
    ends (of str): The stretches that end in a vessel; the arrays go with them.
    end_flow (array):
    spare_head (array): What each way has to lose more than it does with its valve wide open; 0 on the way that needs
        most.
    valves (of str): The stretch whose valve does it; blank where there is none.
    valve_k (array): Of these valves, so set: 1 fully open, 0 shut; not a number where there is no valve.
    opening (array): Of these valves, so set: 1 fully open, 0 shut; not a number where there is no valve.
    neediest: The end that needs most: its valve stays wide open.
    nearly_shut (of str): Ends whose valve would have to cost 100 speed heads or more: pipe elsewhere is too small.
    no_valve (of str): Ends with head to lose and no valve to lose it in: they get more than their share.

    Source: see `valve_settings`.
    """

    flow: Flow
    head: Head
    ends: tuple
    end_flow: Flow
    spare_head: Head
    valves: tuple
    valve_k: Number
    opening: Number
    neediest: str
    nearly_shut: tuple
    no_valve: tuple


@takes_things
def with_openings(line: Line, openings: dict[str, float]) -> Line:
    """The same line with some valves set anew.

    openings: Name of the stretch and the opening of its valve, 1 fully open to 0 shut.

    Source: none needed.

    >>> from aquaplumb.plumbing.lines import Line, Stretch
    >>> bed = Stretch(name="bed pipe", bore="26.1 mm", length="3 m", valve="ball valve", to="bed", outlet="1.2 m")
    >>> line = Line(name="main line", source="0.3 m", stretches=(bed,))
    >>> print(with_openings(line, {"bed pipe": 0.5}).stretches[0].opening)
    0.5
    """
    known = {part.si.name: part.si.valve for part in (*line.si.suction, *line.si.stretches)}
    for name in openings:
        if name not in known:
            raise DesignError(tables.unknown("line", name, known))
        if not known[name]:
            raise DesignError(f"stretch '{name}' has no valve to set; give it one (valve = \"ball valve\") first.")
    new = {
        field: tuple(p.replace(opening=openings[p.si.name]) if p.si.name in openings else p for p in getattr(line.si, field))
        for field in ("suction", "stretches")
    }
    return line.replace(**new)


@takes_quantities
def valve_settings(
    line: Line,
    pump: pumps.Pump | Callable | None = None,
    *,
    flow: Flow | None = None,
    shares: dict[str, float] | None = None,
    band: str = "typical",
) -> ValveSettings:
    """How far each branch's valve has to stand open for every end to get its share.

    line: The openings it has now do not matter, save for valves that serve several ends: they stay.
    pump (Pump):
    flow (one value): Of the whole line, in place of a pump.
    shares (dict): Name of the end's stretch and its part of the flow, in any measure (1, 1, 2 serves as well as 25, 25,
        50 %). Without it, the `share` of each stretch; ends without one split evenly what is left.
    band: "low", "typical" or "high" fitting losses.

    With the shares given, all flows are known for a total. The way that needs most head keeps its valve wide
    open; each of the others has to lose the difference in its own valve, K = h 2g/v², and the valve's curve
    says how far open that is. With a pump, the total is where its head meets the neediest way.
    Set valves by bucket and stopwatch; the angle is only where to begin.

    Source: balance of energy, see `flows`; valve curves, see `fittings.valve_k`. 100 speed heads as "nearly
    shut": common practice, no source.

    >>> from aquaplumb.plumbing.lines import Line, Stretch
    >>> near = Stretch(name="near", after="riser", bore="20 mm", length="1 m", valve="ball valve", to="bed 1", outlet="1 m")
    >>> far = Stretch(name="far", after="riser", bore="20 mm", length="9 m", valve="ball valve", to="bed 2", outlet="1 m")
    >>> riser = Stretch(name="riser", bore="26 mm", length="2 m")
    >>> line = Line(name="main line", source="0 m", stretches=(riser, near, far))
    >>> settings = valve_settings(line, flow="1800 L/h")
    >>> settings.neediest
    'far'
    """
    if (pump is None) == (flow is None):
        raise DesignError(f"valve_settings of '{line.si.name}': give either a pump or a flow, one of the two.")
    where = {end: _own_valve(line, end) for end in net(line, band).ends}
    line = with_openings(line, {valve: 1.0 for valve in where.values() if valve})
    made = net(line, band)
    if made.links.k.ndim > 1 or (flow is not None and np.ndim(flow)):
        raise DesignError("valve_settings works on one design at one flow; give single values, not lists.")
    if made.shut.any():
        name = made.ends[int(np.argmax(made.shut))]
        raise DesignError(f"'{name}' cannot get its share: a valve that it shares with others is shut; open that one.")
    part = _shares(made, shares)
    unit = made.shape.link_flow(part)

    def needs(total):
        loss = made.links.loss(unit * total)[0]
        return made.outlet - end_heads(made, loss, 0.0)[made.shape.end_links]

    if flow is None:
        total = _balanced_flow(line, made, needs, pump)
    else:
        total = float(flow)
        if total <= 0:
            raise DesignError(f"valve_settings: the flow is {FLOW.text(total)}; there is nothing to share out. Give one such as 900 L/h.")
    need = needs(total)
    spare = need.max() - need
    opening, k, q = np.full(len(need), np.nan), np.full(len(need), np.nan), unit * total
    for i, end in enumerate(made.ends):
        if where[end]:
            link = made.names.index(where[end])
            kind = made.parts[link].valve
            k[i] = fittings.valve_k.si(kind, 1.0) + spare[i] / (made.links.speed_head[link] * q[link] ** 2)
            opening[i] = fittings.valve_opening.si(kind, k[i])
    return ValveSettings.from_si(
        flow=total, head=float(need.max()), ends=made.ends, end_flow=part * total, spare_head=spare,
        valves=tuple(where[end] for end in made.ends), valve_k=k, opening=opening, neediest=made.ends[int(np.argmax(need))],
        nearly_shut=tuple(end for end, x in zip(made.ends, k) if x >= NEARLY_SHUT),
        no_valve=tuple(end for end, h in zip(made.ends, spare) if not where[end] and h > 1e-3),
    )  # fmt: skip


def _own_valve(line: Line, end: str) -> str:
    """The last stretch with a valve that only this end's water passes, or blank."""
    made = net(line, "typical")
    feeds = [made.parents.count(i) for i in range(len(made.parents))]
    for i in reversed(path_to(made.parents, made.names.index(end))):
        if feeds[i] > 1:
            return ""
        if made.parts[i].valve and i >= made.pump_from:
            return made.names[i]
    return ""


def _shares(made: Net, shares: dict | None) -> np.ndarray:
    """The part of the flow that each end is to get."""
    if shares is None:
        given = {end: made.parts[link].share for end, link in zip(made.ends, made.shape.end_links)}
        without = [end for end, share in given.items() if share is None]
        left = 1.0 - sum(share for share in given.values() if share is not None)
        shares = {end: left / len(without) if share is None else share for end, share in given.items()}
    for end in shares:
        if end not in made.ends:
            raise DesignError(tables.unknown("list of the line's ends", end, made.ends))
    for end in made.ends:
        if not shares.get(end, 0) > 0:
            raise DesignError(f"the share of '{end}' is {rounded(shares.get(end, 0))}; each end needs one above 0, "
                              "and where only some are given they must leave something for the rest.")  # fmt: skip
    part = np.array([shares[end] for end in made.ends], float)
    return part / part.sum()


def _balanced_flow(line: Line, made: Net, needs, pump) -> float:
    """The flow at which the pump's head is what the neediest way asks for."""
    from scipy.optimize import brentq

    curve = pumps.own_curve(pump)
    low = 1e-9

    def surplus(total):
        return float(curve(total)[0] - needs(total).max())

    if surplus(low) <= 0:
        need = needs(low)
        raise DesignError(f"the pump of '{line.si.name}' gives {HEAD.text(curve(0.0)[0])} at no flow, and "
                          f"'{made.ends[int(np.argmax(need))]}' needs {HEAD.text(need.max())} before any water comes; "
                          "choose a pump with more head, or lower that end.")  # fmt: skip
    high = 1e-4
    while surplus(high) > 0:
        high *= 2
    return brentq(surplus, low, high, xtol=1e-12, rtol=1e-12)

"""A pump at work on a line: where its curve meets the system's, what it draws, and which pump to choose.

Part of `aquaplumb.plumbing.pumps`, which is the face of all this.
"""

from __future__ import annotations

from typing import ClassVar

import numpy as np

from aquaplumb.plumbing.pump_curve import Pump, curve, power_curve
from aquaplumb.plumbing.pump_file import WATER_WEIGHT, crossing
from aquaplumb.tables import BANDS
from aquaplumb.units import (
    FLOW,
    POWER,
    DesignError,
    Energy,
    EnergyPerVolume,
    Flow,
    Head,
    Number,
    Power,
    Record,
    below,
    check_range,
    in_percent,
    takes_quantities,
)
from aquaplumb.units import NUMBER as PLAIN

YEAR = 365 * 86400.0  # s


class SystemCurve(Record):
    """The head that a line asks for, by flow, with the band that fitting losses leave open.

    flow (array): Rising from zero, three points or more; 30 or more draw a good curve.
    low (array): With low fitting losses. The last axis runs along the flows; axes before it are different designs.
    typical (array): With typical ones.
    high (array): With high ones.

    Source: A sum of lift, friction and fitting losses, made by `lines.system_curve` or by hand.

    >>> from aquaplumb import u
    >>> heads = [1, 1.2, 1.8] * u.m
    >>> print(SystemCurve(flow=[0, 500, 1000] * u.L / u.h, low=heads, typical=heads, high=heads).typical[0])
    1 m
    """

    flow: Flow
    low: Head
    typical: Head
    high: Head

    made_with: ClassVar[str] = "lines.system_curve(line, flow)"

    def check(self) -> None:
        bare = self.si
        for field in ("flow", "low", "typical", "high"):
            self._tidied(field, np.asarray(getattr(bare, field), float))
        if bare.flow.ndim != 1 or bare.flow.size < 3:
            raise DesignError("a system curve needs a row of at least 3 flows, such as 0, 500 and 1000 L/h.")
        if bare.flow[0] != 0 or not np.all(bare.flow[1:] > bare.flow[:-1]):
            raise DesignError("the flows of a system curve start at zero and rise; sort them, and drop any that is there twice.")
        for field in BANDS:
            heads = getattr(bare, field)
            if heads.ndim < 1 or heads.shape[-1] != bare.flow.size:
                raise DesignError(
                    f"the system curve has {bare.flow.size} flows but {heads.shape[-1:]} heads in '{field}'; give one for each."
                )
            if not np.all(np.isfinite(heads)):
                raise DesignError(f"the system curve has a head in '{field}' that is not a number; leave that flow out.")
        if np.any(bare.low > bare.typical + 1e-9) or np.any(bare.typical > bare.high + 1e-9):
            raise DesignError("the system curve's band is out of order; low is at most typical, and typical at most high.")


class OperatingPoint(Record):
    """Where a pump settles on a line.

    name: The pump's.
    flow: With typical fitting losses.
    head: At that flow.
    flow_low: With high fitting losses.
    flow_high: With low fitting losses.
    efficiency: Wire to water: the power that the water takes up over the power drawn.
    energy_per_volume: Without end where no water moves.
    share_of_range: The flow over the flow of the pump's last point. Makers mostly advise the middle of the range.
    outside: The flow is beyond the pump's last point or the system curve's: a guess, not a reading.
    reason: Why it moves no water or cannot be trusted; empty when all is well.

    Source: See `operating_point`.

    >>> from aquaplumb.plumbing import pumps
    >>> from aquaplumb import u
    >>> heads = [1, 1.2, 1.8] * u.m
    >>> line = SystemCurve(flow=[0, 500, 1000] * u.L / u.h, low=heads, typical=heads, high=heads)
    >>> operating_point(pumps.pump("demo mains 8 W submersible"), line).reason
    ''
    """

    name: str
    flow: Flow
    head: Head
    flow_low: Flow
    flow_high: Flow
    power: Power | None
    efficiency: Number | None
    energy_per_volume: EnergyPerVolume | None
    share_of_range: Number
    outside: bool
    reason: str


_REASONS = np.array([
    "",
    "too weak: even with no flow it does not lift the water that high",
    "it runs beyond the last point of its curve, where its maker gives no figure",
    "more flow than the system curve was drawn for; draw that curve to higher flows",
], dtype=object)  # fmt: skip


@takes_quantities
def operating_point(pump: Pump, system: SystemCurve) -> OperatingPoint:
    """Where a pump settles on a line: the flow at which it gives just the head that the line asks for.

    system: Its heads may have axes in front, one design each; so then has the result.
    returns: A pump too weak for the lift gets no flow and a reason, not an error.

    Both curves are read with cubics that keep their shape. The first crossing is taken, the one that a pump
    reaches from rest. Beyond their last points both run straight on, and the result says so.

    Source: The crossing of the two curves, as in Munson et al., Fundamentals of Fluid Mechanics, example 12.4.

    >>> from aquaplumb.plumbing import pumps
    >>> from aquaplumb import u
    >>> heads = [1, 1.2, 1.8] * u.m
    >>> line = SystemCurve(flow=[0, 1000, 2000] * u.L / u.h, low=heads, typical=heads, high=heads)
    >>> print(round(operating_point(pumps.pump("demo mains 45 W submersible"), line).flow.to("L/h"), -2))
    1600 L/h
    """
    line, heads_by_flow = system.si, curve(pump)
    bands = np.stack(np.broadcast_arrays(line.typical, line.high, line.low))
    crossings = crossing(heads_by_flow, line.flow, bands)
    flow, low, high = (part[()] for part in crossings)
    head = heads_by_flow(flow)[0]
    beyond, undrawn = flow > heads_by_flow.last, flow > line.flow[-1]
    code = np.where(flow <= 0, 1, np.where(beyond, 2, np.where(undrawn, 3, 0)))
    drawn = efficiency = per_volume = None
    if pump.si.power is not None:
        drawn = power_curve(pump)(flow)[0]
        efficiency = WATER_WEIGHT * flow * head / drawn
        with np.errstate(divide="ignore"):
            per_volume = np.divide(drawn, flow)
    return OperatingPoint.from_si(
        name=pump.si.name, flow=flow, head=head, flow_low=low, flow_high=high, power=drawn, efficiency=efficiency,
        energy_per_volume=per_volume, share_of_range=flow / heads_by_flow.last, outside=beyond | undrawn,
        reason=_REASONS[code],
    )  # fmt: skip


# --- what it costs, and which to choose ---------------------------------------------------------------


@takes_quantities
def annual_energy(power: Power, *, duty: Number = 1.0) -> Energy:
    """The energy a pump takes in a year of 365 days.

    duty: The share of the time that it runs: 1 for always, 0.25 for 15 minutes of each hour.

    Source: Power times time.

    >>> print(round(annual_energy("45 W").to("kWh")))
    394 kWh
    """
    check_range(duty, 0, 1, PLAIN, "annual_energy: duty", "a share of the time")
    if below(power, 0):
        raise DesignError(f"annual_energy: power is {POWER.text(np.min(power))}, below zero; give what the pump draws.")
    return power * duty * YEAR


@takes_quantities
def annual_cost(power: Power, price: Number, *, duty: Number = 1.0) -> Number:
    """What a pump costs to run for a year of 365 days.

    price: Of one kilowatt-hour, in whatever money you pay with.
    duty: The share of the time that it runs.
    returns: In the same money.

    Source: Energy times price.

    >>> print(round(annual_cost("45 W", 0.30), 2))
    118.26
    """
    if below(price, 0):
        raise DesignError(f"annual_cost: price is {np.min(price):g}, below zero; give the price of one kWh.")
    return annual_energy.si(power, duty=duty) / 3.6e6 * price


class Candidate(Record):
    """One pump in a ranking.

    suitable: It moves the water needed, within its curve.
    flow: With typical fitting losses.
    flow_low: With high ones.
    margin: Flow over the flow needed, less one: 0.2 is a fifth to spare, -0.1 a tenth short.
    clogged_flow: With half of its strainer blocked.
    energy: In a year.
    cost: Of that energy, in the money of the price.
    reason: Why it is not suitable, or what to watch; empty when all is well.

    Source: See `ranking`.

    >>> from aquaplumb.plumbing import pumps
    >>> from aquaplumb import u
    >>> heads = [1, 1.2, 1.8] * u.m
    >>> line = SystemCurve(flow=[0, 1000, 2000] * u.L / u.h, low=heads, typical=heads, high=heads)
    >>> ranking([pumps.pump("demo mains 8 W submersible")], line, "800 L/h")[0].suitable
    False
    """

    name: str
    pump: Pump
    suitable: bool
    flow: Flow
    flow_low: Flow
    margin: Number
    clogged_flow: Flow
    power: Power | None
    energy_per_volume: EnergyPerVolume | None
    energy: Energy | None
    cost: Number | None
    reason: str


@takes_quantities
def ranking(
    pumps: list[Pump],
    system: SystemCurve,
    needed_flow: Flow,
    *,
    duty: Number = 1.0,
    price: Number | None = None,
    strainer_head: Head = 0.05,
) -> list:
    """Candidate pumps on one line, the one to look at first in front.

    pumps (of Pump):
    system: Of one design. Draw it to higher flows than the largest pump can pass.
    needed_flow (one value): While the pump runs.
    duty (one value): The share of the time that it runs.
    price (one value): Of one kilowatt-hour, in whatever money you pay with.
    strainer_head (one value): What the clean strainer costs at the flow needed, counted in the pump's own curve or in
        the line.
    returns (of Candidate): In order: enough water even with high fitting losses; enough with typical ones; more than
        twice the need; beyond the end of its curve; short. Within each, the least energy for a cubic metre.

    With half its area blocked, a strainer passes the same water twice as fast and costs four times the
    head: three strainer heads more, growing as the flow squared. The 5 cm assumed for a clean strainer is
    common practice, no source: measure yours.

    Source: The order is common practice, no source.

    >>> from aquaplumb.plumbing import pumps
    >>> from aquaplumb import u
    >>> heads = [1, 1.2, 1.8] * u.m
    >>> line = SystemCurve(flow=[0, 2000, 4000] * u.L / u.h, low=heads, typical=heads, high=heads)
    >>> mains = [pumps.pump(f"demo mains {size} W submersible") for size in (8, 20, 45, 80)]
    >>> [c.name for c in ranking(mains, line, "1500 L/h")][0]
    'demo mains 45 W submersible'
    """
    line = system.si
    if line.typical.ndim != 1:
        raise DesignError("ranking: the system curve holds several designs; rank the pumps on one at a time.")
    if not needed_flow > 0:
        raise DesignError(f"ranking: needed_flow is {FLOW.text(needed_flow)}; give a flow above zero, such as {FLOW.example}.")
    added = np.array([0.0, 3 * strainer_head])[:, None] * (line.flow / needed_flow) ** 2
    both = {band: getattr(line, band) + added for band in BANDS}
    clean_and_clogged = SystemCurve.from_si(flow=line.flow, **both)
    ranked = [_candidate(pump, operating_point.si(pump, clean_and_clogged).si, needed_flow, duty, price) for pump in pumps]
    return [candidate for _, candidate in sorted(ranked, key=lambda pair: pair[0])]


def _candidate(pump: Pump, point, needed: Flow, duty, price):
    """(sort key, Candidate) from an operating point on the clean and the half clogged line."""
    flow, low = float(point.flow[0]), float(point.flow_low[0])
    if flow < needed:
        group, reason = 4, point.reason[0] if flow <= 0 else f"only {in_percent(flow / needed)} of the flow needed"
    elif point.outside[0]:
        group, reason = 3, point.reason[0]
    elif flow > 2 * needed:
        group, reason = 2, "more than twice the flow needed"
    elif low < needed:
        group, reason = 1, "enough by typical fittings, short by poor ones"
    else:
        group, reason = 0, ""
    known = point.power is not None
    per_volume = float(point.energy_per_volume[0]) if known else None
    drawn = float(point.power[0]) if known else None
    candidate = Candidate.from_si(
        name=pump.si.name, pump=pump, suitable=group < 3, flow=flow, flow_low=low, margin=flow / needed - 1,
        clogged_flow=float(point.flow[1]), power=drawn, energy_per_volume=per_volume,
        energy=annual_energy.si(drawn, duty=duty) if known else None,
        cost=annual_cost.si(drawn, price, duty=duty) if known and price is not None else None, reason=reason,
    )  # fmt: skip
    return (group, per_volume if known else np.inf, -flow), candidate

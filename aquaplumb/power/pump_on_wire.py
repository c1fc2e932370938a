"""A DC pump at the end of a wire: voltage, speed, flow, power, current and drop, solved together.

Part of `aquaplumb.power`, which is the face of all this.

Less voltage turns the pump more slowly; slower, it moves less water and draws less current; less current loses less
in the wire. The point where all of that agrees is what the tank gets.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.plumbing import lines, pumps
from aquaplumb.plumbing.pump_curve import power_curve
from aquaplumb.power.wire_sizes import WARM, Wire, wire_resistance
from aquaplumb.units import (
    RESISTANCE,
    VOLTAGE,
    Current,
    DesignError,
    Flow,
    Head,
    Length,
    Number,
    Power,
    Record,
    Resistance,
    Temperature,
    Voltage,
    below,
    not_above,
    takes_quantities,
)
from aquaplumb.water.halving import last_below

LOWEST, HIGHEST, BURNT = 0.6, 1.1, 1.3  # of the points' voltage: the range of `pumps.at_voltage`; beyond the last, a wrong pump


class WiredPump(Record):
    """A DC pump as it runs at the end of its wire, on its line.

    name: The pump's.
    supply: At the battery.
    resistance: Of the whole way out and back.
    voltage: That arrives at the pump; the whole supply where it stands and draws nothing.
    running_voltage: That arrives while it runs: the one to hold against its lowest voltage.
    drop: That the wire keeps.
    drop_share: The drop over the supply.
    flow: With typical fitting losses.
    flow_low: With high fitting losses.
    flow_high: With low ones.
    head: That the pump gives at `flow`; what it holds, where no water moves.
    lost: What a wire without resistance would bring on top.
    power: At the pump.
    supply_power: Out of the battery: the pump's and the wire's heat.
    outside: A guess, not a reading: beyond the pump's last point, the system curve's end or the range of voltage.
    reason: Why it moves no water or cannot be trusted; empty when all is well.

    Source: See `wired_pump`.
    """

    name: str
    supply: Voltage
    resistance: Resistance
    voltage: Voltage
    running_voltage: Voltage
    drop: Voltage
    drop_share: Number
    current: Current
    flow: Flow
    flow_low: Flow
    flow_high: Flow
    head: Head
    lost: Flow
    power: Power
    supply_power: Power
    outside: bool
    reason: str


_REASONS = np.array([
    "",
    "too weak: on this voltage it does not lift the water that high",
    "it runs beyond the last point of its curve, where its maker gives no figure",
    "more flow than the system curve was drawn for; draw that curve to higher flows",
    "more voltage than its maker's points allow for; it moves more water and wears out sooner",
    "it stops: less voltage arrives while it runs than it needs; take a thicker or shorter wire",
    "under 60 % of its own voltage nobody can say whether it still turns; taken as standing",
    "it runs on under 60 % of its own voltage, where its speed is a guess",
], dtype=object)  # fmt: skip


@takes_quantities
def wired_pump(
    pump: pumps.Pump,
    system: pumps.SystemCurve | lines.Line,
    supply: Voltage,
    *,
    wire: str | Wire | None = None,
    length: Length = 0.0,
    temperature: Temperature = WARM,
    resistance: Resistance = 0.0,
) -> WiredPump:
    """What a DC pump really does at the end of a wire: voltage, current and flow, found together.

    To move from mains to DC on the same pipe, call it with the same line and the DC pump.

    pump: A DC pump with power points and a known voltage.
    system (SystemCurve or Line): The line it feeds. A system curve's designs, if any, stand in front of its flows.
    supply: At the battery: 12 V at rest, 11 when nearly flat, 13.6 on charge.
    wire: As in `wires.wire`; without one, only `resistance` stands in the way.
    length: Of the wire, one way.
    temperature: Of the copper; 75 °C when left out, which is on the safe side.
    resistance: Of anything else in the way: fuse holder, switch, connectors.
    returns: Arrays where any of these, or the system's heads, are arrays.
    raises: For a mains pump, one without power points, or a supply far above the pump's own voltage.

    Speed goes as the voltage that arrives, then the affinity laws (`pumps.at_voltage`). With n that speed over the
    one of the points, and x the flow over n, the current is P(x) n² / V₀ and the voltage V₀ n = V − R P(x) n² / V₀:
    for each x one n, a plain quadratic. The x that meets the line, n² H(x) = S(n x), is found by halving.

    What this does not know: a pump with its own speed control holds its speed, and draws *more* current as the
    voltage falls, until it cuts out. Starting takes several times the running current (common practice, no
    source), so near its lowest voltage a pump that still runs may not start again: leave a volt to spare. Below
    that voltage it is taken as standing; in truth it may stop, recover and try again, over and over.

    Source: Ohm's law; affinity laws as in Crane TP-410, example 7.33; speed as voltage: common practice, no source.

    >>> from aquaplumb import u
    >>> heads = [1, 1.1, 1.4] * u.m
    >>> line = pumps.SystemCurve(flow=[0, 600, 1200] * u.L / u.h, low=heads, typical=heads, high=heads)
    >>> dc = pumps.pump("demo 12 V 18 W submersible")
    >>> thin = wired_pump(dc, line, "12 V", wire="0.75 mm2 flexible", length="10 m")
    >>> print(round(thin.voltage, 2), round(thin.lost.to("L/h"), -1))
    11.3 V 100 L/h
    """
    points = pump.si
    if points.supply != "DC":
        raise DesignError(
            f"'{points.name}' is a mains pump, whose speed does not follow a wire's drop; choose a DC pump, "
            "and leave mains wiring to an electrician."
        )
    if points.voltage is None:
        raise DesignError(f"'{points.name}' does not say its voltage; give the one at which its points hold, such as 12 V.")
    powers, heads = power_curve(pump), pumps.curve(pump)
    if not_above(supply, 0):
        raise DesignError(f"the supply is {VOLTAGE.text(np.min(supply))}; give the battery's voltage, such as 12 V.")
    if np.any(np.greater(supply, BURNT * points.voltage)):
        raise DesignError(
            f"{VOLTAGE.text(np.max(supply))} is far above the {VOLTAGE.text(points.voltage)} of '{points.name}' and would burn it "
            "out; match the pump and the battery."
        )
    if below(resistance, 0):
        raise DesignError(f"the resistance is {RESISTANCE.text(np.min(resistance))}, below zero; give 0 or more, such as 0.05 ohm.")
    if isinstance(system, lines.Line):
        system = lines.system_curve.si(system, np.linspace(0.0, 1.3 * heads.last, 60))
    loop = resistance + (0.0 if wire is None else wire_resistance.si(wire, length, temperature=temperature))
    line = _System(system.si)
    supply, loop = np.broadcast_arrays(np.asarray(supply, float), loop, np.empty(line.shape[1:]))[:2]
    case = (3, 2, *supply.shape)  # fitting losses, then this wire and a perfect one, then designs
    ohms = np.broadcast_to(np.stack([loop, 0.0 * loop]), case)
    x = _reduced_flow(heads, powers, line, points.voltage, supply, ohms)
    n = _speed(powers(x)[0], points.voltage, supply, ohms)
    weak = x <= 0
    arrives = points.voltage * n
    lowest = points.lowest_voltage if points.lowest_voltage is not None else LOWEST * points.voltage
    stands = arrives < lowest * (1 - 1e-9)
    current = np.where(stands, 0.0, powers(x)[0] * n**2 / points.voltage)
    flow = np.where(stands | weak, 0.0, n * x)
    head = np.where(stands, 0.0, n**2 * heads(x)[0])[0, 0]
    current, arrives, n, x, stands, weak = (part[0, 0] for part in (current, arrives, n, x, stands, weak))
    drop = current * loop
    strange = ~stands & ((n > HIGHEST * (1 + 1e-9)) | (n < LOWEST * (1 - 1e-9)))
    code = np.select(
        [stands & (points.lowest_voltage is not None), stands, weak, strange & (n > 1), strange, x > heads.last, n * x > line.last],
        [5, 6, 1, 4, 7, 2, 3],
    )
    return WiredPump.from_si(
        name=points.name, supply=supply[()], resistance=loop[()], voltage=(supply - drop)[()],
        running_voltage=arrives[()], drop=drop[()], drop_share=(drop / supply)[()], current=current[()], flow=flow[0, 0][()], flow_low=flow[1, 0][()], flow_high=flow[2, 0][()], head=head[()],
        lost=np.maximum(flow[0, 1] - flow[0, 0], 0.0)[()], power=(current * (supply - drop))[()], supply_power=(current * supply)[()],
        outside=(strange | np.isin(code, (2, 3, 6)))[()], reason=_REASONS[code],
    )  # fmt: skip


def _speed(power, own, supply, ohms):
    """Speed over that of the points: the root above zero of V0 n + R P n² / V0 = V."""
    return 2 * supply / (own + np.sqrt(own**2 + 4 * ohms * power * supply / own))


def _reduced_flow(heads, powers, line, own, supply, ohms):
    """The flow over the speed at which the pump's head falls to the line's; 0 where it is too weak."""

    def gap(x):
        n = _speed(powers(x)[0], own, supply, ohms)
        return n**2 * heads(x)[0] - line(n * x)

    low, high = np.zeros(ohms.shape), np.full(ohms.shape, heads.last)
    weak = gap(low) <= 0
    for _ in range(40):  # far beyond its last point the pump's head ends below any line's
        short = gap(high) > 0
        if not short.any():
            break
        low, high = np.where(short, high, low), np.where(short, 2 * high, high)
    return np.where(weak, 0.0, last_below(low, high, lambda x: gap(x) > 0))


class _System:
    """A system curve's three bands, read at another flow for each design; straight on beyond the end."""

    def __init__(self, bare):
        from scipy.interpolate import PchipInterpolator

        bands = np.stack(np.broadcast_arrays(bare.typical, bare.high, bare.low))
        inner = PchipInterpolator(bare.flow, bands, axis=-1)
        designs = bands.shape[:-1]
        self.flow, self.last, self.shape = bare.flow, float(bare.flow[-1]), designs
        # (coefficient, piece, bands, designs), and a last piece that is a straight line
        slope = np.maximum(inner(self.last, 1), 0.0)
        end = np.stack([0 * slope, 0 * slope, slope, bands[..., -1]])[:, None]
        pieces = np.concatenate([inner.c, end], axis=1)
        self.pieces = pieces

    def __call__(self, flow):
        # flow: (bands, this wire and a perfect one, designs)
        at = np.clip(np.searchsorted(self.flow, flow, side="right") - 1, 0, self.flow.size - 1)
        designs = (1,) * (flow.ndim - 1 - len(self.shape)) + self.shape[1:]
        pieces = np.broadcast_to(self.pieces.reshape(4, self.flow.size, 3, 1, *designs), (4, self.flow.size, *flow.shape))
        a, b, c, d = (np.take_along_axis(part, at[None], axis=0)[0] for part in pieces)
        t = flow - self.flow[at]
        return ((a * t + b) * t + c) * t + d

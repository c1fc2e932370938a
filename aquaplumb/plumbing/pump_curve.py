"""One pump: its record, its curve, and the same pump at another speed or voltage.

Part of `aquaplumb.plumbing.pumps`, which is the face of all this.
"""

from __future__ import annotations

import functools
from pathlib import Path

import numpy as np

from aquaplumb.given import takes_things
from aquaplumb.plumbing.pump_file import Curve, fault
from aquaplumb.units import (
    FLOW,
    NUMBER,
    VOLTAGE,
    DesignError,
    Flow,
    Head,
    Number,
    Power,
    Record,
    Time,
    Voltage,
    below,
    check_range,
    rounded,
    takes_quantities,
)

SUPPLIES = ("mains", "DC")
PLACEMENTS = ("submersible", "external")
PRIMING = ("yes", "no", "")


class Pump(Record):
    """A pump: its points of flow and head, and what drives it.

    flow (array): Rising from zero.
    head (array): Falling all the way: a curve that rises first has two flows for one head.
    power (array): What it draws at each point, measured at the plug.
    supply: "mains" or "DC".
    placement: "submersible" (stands in the water) or "external" (dry, beside it).
    voltage: At which the points hold.
    lowest_voltage: The least on which it still runs.
    outlet: The size of its outlet, as printed on it.
    shortest_cycle: The least time from one start to the next.
    suction_head_needed: Net positive suction head it needs (external pumps).
    self_priming: "yes" where it can draw the air out of its own suction pipe, "no", or blank for unknown (taken as no).
    basis: Where its points come from, such as "maker's claim".

    Source: The form of a maker's curve sheet; common practice, no source.

    >>> from aquaplumb import u
    >>> Pump(name="mine", flow=[0, 500, 900] * u.L / u.h, head=[1.6, 1.1, 0] * u.m).name
    'mine'
    """

    name: str
    flow: Flow
    head: Head
    power: Power | None = None
    supply: str = "mains"
    placement: str = "submersible"
    voltage: Voltage | None = None
    lowest_voltage: Voltage | None = None
    outlet: str = ""
    shortest_cycle: Time | None = None
    suction_head_needed: Head | None = None
    self_priming: str = ""
    basis: str = ""

    @classmethod
    def named(cls, name: str | Path) -> Pump:
        """A demo pump by its name, or your own from a file of its maker's points that ends in .csv."""
        from aquaplumb.plumbing import pumps

        return pumps.from_csv(name) if str(name).endswith(".csv") else pumps.pump(str(name))

    def check(self) -> None:
        bare = self.si
        for field in ("flow", "head", "power"):
            value = getattr(bare, field)
            if value is not None:
                value = np.array(value, float, ndmin=1)
                value.flags.writeable = False  # the curve is kept, so the points must not change under it
                self._tidied(field, value)
        if wrong := fault(bare.flow, bare.head, bare.power):
            row, words = wrong
            raise DesignError(f"pump '{bare.name}'{f', point {row + 1}' if row is not None else ''}: {words}")
        for field, allowed in (("supply", SUPPLIES), ("placement", PLACEMENTS), ("self_priming", PRIMING)):
            if getattr(bare, field) not in allowed:
                asked = " or ".join(word for word in allowed if word)
                raise DesignError(f"pump '{bare.name}': {field.replace('_', ' ')} is '{getattr(bare, field)}'; write {asked}.")

    @functools.cached_property
    def head_curve(self) -> Curve:
        """What `curve` gives."""
        return Curve(self.si.flow, self.si.head)

    @functools.cached_property
    def power_curve(self) -> Curve:
        """What the function `power_curve` gives."""
        if self.si.power is None:
            raise DesignError(f"pump '{self.si.name}' has no power points; add a power column to read its power and cost.")
        return Curve(self.si.flow, self.si.power, held=True)


@takes_things
def curve(pump: Pump) -> Curve:
    """A pump's curve for solvers: bare numbers in and out, made once and kept with the pump.

    Called with a flow, scalar or array [m³/s], it gives (head [m], slope of head by flow [s/m²]). Beyond the last point
    and below zero flow it runs straight on; ``.last`` is the last point's flow [m³/s]. Cubics between the points keep
    their shape: no swing above or below them, so the head falls all the way, as the points do.

    Source: Fritsch & Butland (1984), SIAM J. Sci. Stat. Comput. 5(2) 300-304, as in `scipy.interpolate`.

    >>> from aquaplumb.plumbing import pumps
    >>> print(round(curve(pumps.pump("demo mains 45 W submersible"))(0.0)[0], 2))
    2.8
    """
    return pump.head_curve


def power_curve(pump: Pump) -> Curve:
    """A pump's input power by flow, for solvers: (power [W], slope), as `curve` but level beyond its points.

    Source: as `curve`.
    """
    return pump.power_curve


@takes_quantities
def head(pump: Pump, flow: Flow) -> Head:
    """The head a pump gives at a flow.

    flow: Zero or more.
    returns: Below zero where the flow is more than the pump can pass: then it is in the way.

    Source: Interpolation as in `curve`.

    >>> from aquaplumb.plumbing import pumps
    >>> print(round(head(pumps.pump("demo mains 45 W submersible"), "1200 L/h").to("m"), 2))
    2 m
    """
    _positive(flow, FLOW, "flow")
    return curve(pump)(flow)[0]


@takes_quantities
def power(pump: Pump, flow: Flow) -> Power:
    """The power a pump draws at a flow.

    returns: At the plug or the battery terminals. Beyond the last point it stays at the last.

    Source: Interpolation as in `curve`.

    >>> from aquaplumb.plumbing import pumps
    >>> print(round(power(pumps.pump("demo mains 45 W submersible"), "1200 L/h").to("W"), 1))
    38.5 W
    """
    _positive(flow, FLOW, "flow")
    return power_curve(pump)(flow)[0]


def _positive(value, kind, where: str) -> None:
    if below(value, 0):
        raise DesignError(f"{where} is {kind.text(np.min(value))}, below zero; give {kind.noun} of zero or more.")


# --- speed and voltage --------------------------------------------------------------------------


@takes_quantities
def at_speed(pump: Pump, ratio: Number) -> Pump:
    """The same pump turning slower or faster.

    ratio (one value): New speed over old, 0.4 to 1.6 (the range is common practice, no source).

    The affinity laws: flow goes as speed, head as speed squared, power as speed cubed. Far from the old
    speed, losses and the motor's own efficiency make the power law the first to fail.

    Source: Affinity laws as in Crane TP-410, example 7.33.

    >>> from aquaplumb.plumbing import pumps
    >>> print(round(at_speed(pumps.pump("demo mains 45 W submersible"), 0.5).head[0].to("m"), 2))
    0.7 m
    """
    if np.ndim(ratio):
        raise DesignError("at_speed: ratio is a list; give one number, such as 0.8, and call it for each speed.")
    check_range(ratio, 0.4, 1.6, NUMBER, "at_speed: ratio", "the affinity scaling")
    return _scaled(pump, float(ratio), f"{pump.si.name} at {rounded(100 * ratio)} % speed", pump.si.voltage)


@takes_quantities
def at_voltage(pump: Pump, voltage: Voltage) -> Pump:
    """The same DC pump on a lower or higher voltage: a battery that sags, or one on charge.

    pump: A DC pump whose points' voltage is known.
    voltage (one value): From 0.6 to 1.1 of the points' voltage, and not under the pump's lowest.

    A model: speed goes as voltage, then the affinity laws. It suits plain brushed motors and simple
    brushless ones. A pump with its own speed control holds its speed instead, until it cuts out.
    Two voltages are in use as "12 V": 12 V flat and 13.6 V on charge; the second moves a tenth more.

    Source: Common practice, no source; compare tests that find about 20 % less flow at battery voltage
    than at 13.6 V (BoatUS Foundation, Findings 14).

    >>> from aquaplumb.plumbing import pumps
    >>> weak = at_voltage(pumps.pump("demo 12 V 18 W submersible"), "10.8 V")
    >>> print(round(weak.flow[-1].to("L/h")))
    1350 L/h
    """
    bare = pump.si
    if bare.supply != "DC" or bare.voltage is None:
        cure = (
            'say at which its points hold: in its file, a line "voltage,12 V" above the points'
            if bare.supply == "DC"
            else 'a mains motor keeps its speed; use at_speed for one with a speed control. If it is a DC pump, its file needs a line "supply,DC"'
        )
        raise DesignError(f"at_voltage: pump '{bare.name}' is not a DC pump with a known voltage; {cure}.")
    if np.ndim(voltage):
        raise DesignError("at_voltage: voltage is a list; give one voltage, such as 11.5 V, and call it for each.")
    check_range(voltage, 0.6 * bare.voltage, 1.1 * bare.voltage, VOLTAGE, "at_voltage: voltage", f"speed as voltage for '{bare.name}'")
    if bare.lowest_voltage is not None and voltage < bare.lowest_voltage:
        raise DesignError(
            f"at_voltage: '{bare.name}' stops below {VOLTAGE.text(bare.lowest_voltage)}; it was given {VOLTAGE.text(voltage)}."
        )
    return _scaled(pump, voltage / bare.voltage, f"{bare.name} at {VOLTAGE.text(voltage)}", voltage)


def _scaled(pump: Pump, n: float, name: str, voltage) -> Pump:
    bare = pump.si
    scaled = {"flow": bare.flow * n, "head": bare.head * n**2, "power": None if bare.power is None else bare.power * n**3}
    return Pump.from_si(**{**vars(bare), **scaled, "name": name, "voltage": voltage})

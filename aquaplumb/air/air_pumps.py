"""Air pumps: the pressure that a stone at depth asks for, and the air that a pump then delivers.

All of it is reached through `air`. Air flow is *free air*: the volume before the pump squeezes it.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import tables, water
from aquaplumb.plumbing import pipes
from aquaplumb.units import (
    AirFlow,
    Bore,
    DesignError,
    Length,
    Number,
    Power,
    Pressure,
    Temperature,
    Voltage,
    below,
    not_above,
    takes_quantities,
)
from aquaplumb.water.halving import last_below

_AIR_GAS, _AIR_VISCOSITY, _AIR_TEMPERATURE = 287.05, 1.81e-5, 293.15  # J/kg/K, Pa s at 20 °C, K


@tables.table_type("airpumps")
class AirPump(tables.Row):
    """An air pump or side-channel blower by three points: open to the air, in the middle, and shut. All in the table are invented for the demo.

    One of a builder's own may have more: `flows` [m³/s] and `pressures` [Pa] of its maker's points, from a file (`air_pump_file`).

    Source: ``data/airpumps.csv``, row by row.
    """

    supply: str
    voltage: Voltage | None
    power: Power
    open_flow: AirFlow
    middle_flow: AirFlow
    middle_pressure: Pressure
    shut_pressure: Pressure
    flows: tuple = ()
    pressures: tuple = ()

    def check(self) -> None:
        """Refuse a curve that does not fall."""
        s = self.si
        if not (s.open_flow > s.middle_flow > 0 and s.shut_pressure > s.middle_pressure > 0):
            raise DesignError(f"{s.name}: an air pump's flow falls as the pressure rises; give open, middle and shut in that order.")


def air_pump(name: str | AirPump) -> AirPump:
    """The row of an air pump, by its name. Source: ``data/airpumps.csv``."""
    return name if isinstance(name, AirPump) else tables.row(AirPump, name, "list of air pumps")


@takes_quantities
def air_pressure(depth: Length, *, stone_loss: Pressure = 5e3, tube_loss: Pressure = 0.0, temperature: Temperature = 293.15) -> Pressure:
    """The pressure that an air pump needs at its outlet: the water above the stone, the stone, the tube.

    depth: Of water above the stone, at its highest.
    stone_loss: The stone table has it; 5 kPa, a stone that begins to clog, when left out.
    tube_loss: `air_tube_loss`, and about 1 kPa for a check valve; nothing when left out.
    temperature: Of the water, 0 to 40 °C.
    returns: Above the air's own. It is the same at any height above the sea; what a pump can give there is less
        (`air_pump_flow`).

    p = ρ g h + stone + tube: 9.8 kPa for each metre of water.

    Source: Hydrostatics; losses common practice, no source.

    >>> from aquaplumb import air, u
    >>> print(round(air.air_pressure(0.8 * u.m, stone_loss=3 * u.kPa).to("kPa"), 1))
    10.8 kPa
    """
    if below(depth, 0) or below(stone_loss, 0) or below(tube_loss, 0):
        raise DesignError("air_pressure: a depth or a loss is below 0; give 0 or more, such as 0.8 m and 3 kPa.")
    return water.density.si(temperature) * pipes.GRAVITY * depth + stone_loss + tube_loss


@takes_quantities
def air_tube_loss(air_flow: AirFlow, bore: Bore, length: Length, *, altitude: Length = 0.0) -> Pressure:
    """The pressure that air loses in its tube. Thin tube eats a small air pump: half the bore costs 25 times as much.

    air_flow: Free air through this one tube.

    Darcy-Weisbach in a smooth tube with air of 20 °C at the pressure of the place: f L/D ρ V²/2. The squeeze (about
    10 %) is left out, on the safe side; meant for losses up to about 10 kPa.

    Source: `pipes.friction_factor` (Colebrook); dry air's gas constant 287.05 J/kg/K and viscosity 1.81e-5 Pa s, US Standard
    Atmosphere 1976 (from memory).

    >>> from aquaplumb import air, u
    >>> print(round(air.air_tube_loss(20 * u.L / u.min, 6 * u.mm, 5 * u.m).to("kPa"), 1))
    2.7 kPa
    """
    if not_above(bore, 0) or below(length, 0) or below(air_flow, 0):
        raise DesignError("air_tube_loss: the bore has to be more than 0, flow and length 0 or more, such as 20 L/min, 6 mm and 5 m.")
    density = water.atmospheric_pressure.si(altitude) / (_AIR_GAS * _AIR_TEMPERATURE)
    speed = pipes.speed.si(air_flow, bore)
    factor = pipes.friction_factor.si(density * speed * bore / _AIR_VISCOSITY)
    return factor * length / bore * density * speed * speed / 2


@takes_quantities
def air_pump_flow(pump: str | AirPump, pressure: Pressure, *, altitude: Length = 0.0) -> AirFlow:
    """The free air that an air pump moves against a pressure.

    pump (str): A name in the air pump table, or an `AirPump` of your own from its maker's curve.
    pressure: At its outlet (`air_pressure`).
    returns: 0 at and above the pressure at which it stalls.

    Straight lines between open, middle and shut, or between the points of a file; past its last point, nothing. On a mountain the pressures shrink as the air's own, since a pump
    squeezes by a ratio: common practice, no source.

    Source: ``data/airpumps.csv``, invented for the demo.

    >>> from aquaplumb import air, u
    >>> print(round(air.air_pump_flow("demo mains 35 W air pump", 15 * u.kPa).to("L/min"), 1))
    45 L/min
    """
    s = air_pump(pump).si
    ratio = water.atmospheric_pressure.si(altitude) / water.ATMOSPHERE
    pressures, flows = (s.pressures, s.flows) if s.flows else ((0.0, s.middle_pressure, s.shut_pressure), (s.open_flow, s.middle_flow, 0.0))
    found = np.interp(np.asarray(pressure) / ratio, pressures, flows, right=0.0)
    return found[()]


@takes_quantities
def air_delivered(
    pump: str | AirPump,
    depth: Length,
    *,
    stone_loss: Pressure = 5e3,
    bore: Bore = 6e-3,
    length: Length = 0.0,
    temperature: Temperature = 293.15,
    altitude: Length = 0.0,
    stones: Number = 1.0,
    each: AirFlow | None = None,
) -> AirFlow:
    """The free air that an air pump delivers through tubes and stones at a depth: where its curve meets the need.

    pump (str): As in `air_pump_flow`.
    stone_loss: As in `air_pressure`.
    bore: Of the one tube that takes a stone's air; 6 mm when left out.
    length: Of each tube; none when left out.
    temperature: Of the water.
    stones: That share the air evenly, each on a tube of its own; 1, all the air through one tube, when left out.
    each: Through one stone, at which it loses `stone_loss`; the loss then goes with the flow, as through any fine
        pores. Left out: the loss is the same at any flow.
    returns: 0 where the pump cannot push air that deep.

    pump curve (p) = Q with p = ρ g h + stone + tube (Q/stones), by halving.

    Source: `air_pump_flow`, `air_pressure` and `air_tube_loss`. A stone's loss in proportion to its flow: Darcy's law.

    >>> from aquaplumb import air, u
    >>> print(round(air.air_delivered("demo mains 35 W air pump", 0.8 * u.m, bore=12 * u.mm, length=6 * u.m).to("L/min"), 0))
    48 L/min
    """
    pump = air_pump(pump)
    if not_above(stones, 0) or (each is not None and not_above(each, 0)):
        raise DesignError("air_delivered: stones, and the air through each of them, have to be more than 0; give such as 4 and 8 L/min.")
    still = air_pressure.si(depth, stone_loss=stone_loss if each is None else 0.0, temperature=temperature)
    pores = 0.0 if each is None else stone_loss / each
    ratio = water.atmospheric_pressure.si(altitude) / water.ATMOSPHERE

    def delivers(flow):
        own = flow / stones
        pressure = (still + pores * own + air_tube_loss.si(own, bore, length, altitude=altitude)) / ratio
        return air_pump_flow.si(pump, pressure) > flow

    none = np.zeros(np.broadcast(still, bore, length, ratio, stones, pores).shape)
    return last_below(none, none + pump.si.open_flow, delivers)[()]

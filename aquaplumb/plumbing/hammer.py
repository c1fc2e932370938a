"""Water hammer: the blow when moving water is stopped at once.

A check valve that slams, or a ball valve flicked shut, stops the column of water behind it. The blow
travels up the pipe and back; only a valve that closes more slowly than that softens it.

CAUTION: plastic pipe under pressure bursts with sharp pieces. Test with water, never with air.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.units import (
    GRAVITY,
    PRESSURE,
    TEMPERATURE,
    TIME,
    Bore,
    DesignError,
    Head,
    Length,
    Pressure,
    Speed,
    Temperature,
    Time,
    below,
    check_range,
    not_above,
    takes_quantities,
)

WATER_DENSITY = 998.2  # kg/m³ at 20 °C
WATER_STIFFNESS = 2.19e9  # Pa, bulk modulus at 20 °C; it moves under 10 % from 5 to 40 °C, and pipe gives way first
PSI = 6894.757  # Pa


@takes_quantities
def pvc_stiffness(temperature: Temperature = 293.15) -> Pressure:
    """How stiff PVC pipe is: its modulus of elasticity.

    temperature: Of the pipe, 0 to 60 °C. It softens as it warms.

    Straight lines through 400,000 psi at 73 °F, 352,000 at 100 °F and 280,000 at 140 °F. Below 73 °F the
    first value is held, as tables do, though cold pipe is a few percent stiffer.

    Source: Manufacturers' PVC pipe design tables.

    >>> print(round(pvc_stiffness("20 degC").to("GPa"), 2))
    2.76 GPa
    """
    # rounded, so that a converted end of the range (140 °F) is not outside it by a hair
    check_range(np.round(temperature, 9), 273.15, 333.15, TEMPERATURE, "pvc_stiffness: temperature", "the table of PVC's stiffness")
    fahrenheit = (np.asarray(temperature) - 273.15) * 1.8 + 32
    return np.interp(fahrenheit, [73.0, 100.0, 140.0], [400e3 * PSI, 352e3 * PSI, 280e3 * PSI])


@takes_quantities
def wave_speed(bore: Bore, wall: Bore, *, modulus: Pressure | None = None, temperature: Temperature = 293.15) -> Speed:
    """How fast a pressure wave runs along a pipe full of water.

    bore: Inside diameter.
    wall: Wall thickness.
    modulus: The pipe's stiffness; PVC's at its temperature when left out.
    temperature: Of the pipe.

    a = √(K/ρ) / √(1 + K D / (E e)), water's stiffness K, pipe's stiffness E, wall e. In PVC it is a third
    of the speed in steel, and so is the blow. Air bubbles slow it much further.

    Source: Korteweg's formula, as in any text on surges. The values by DR of AWWA C900 (from memory) agree.

    >>> print(round(wave_speed("1.049 in", "0.133 in").to("m/s")))
    550 m/s
    """
    for name, value in (("bore", bore), ("wall", wall)):
        if not_above(value, 0):
            raise DesignError(f"wave_speed: {name} is not above zero; give a length such as 25 mm.")
    if modulus is None:
        modulus = pvc_stiffness.si(temperature)
    elif not_above(modulus, 0):
        raise DesignError(f"wave_speed: modulus is {PRESSURE.text(np.min(modulus))}; PVC has about 2,760,000 kPa.")
    return np.sqrt(WATER_STIFFNESS / WATER_DENSITY / (1 + WATER_STIFFNESS * bore / (modulus * wall)))


@takes_quantities
def critical_closure_time(length: Length, wave: Speed) -> Time:
    """The time in which the blow runs to the far end and back: closing faster than this gives the full blow.

    length: Of pipe, from the valve to the next open water.
    wave: As from `wave_speed`.

    Source: 2 L / a, as in any text on surges.

    >>> print(round(critical_closure_time("10 m", "550 m/s").to("ms"), 1))
    36.4 ms
    """
    return 2 * length / wave


@takes_quantities
def hammer_head(speed_change: Speed, wave: Speed, *, length: Length | None = None, closure_time: Time | None = None) -> Head:
    """The rise in head when the water's speed changes.

    speed_change: The speed lost: all of it for a valve that shuts.
    wave: As from `wave_speed`.
    length: Of pipe; with `closure_time`, softens a slow closing.
    closure_time: Of the valve.
    returns: On top of the working head.

    h = a Δv / g when the valve closes within `critical_closure_time`; slower, h = 2 L Δv / (g t). The
    second takes an even slowing, yet a ball valve does most of its stopping in the last quarter of its
    turn: count only that part of the time.

    Source: Joukowsky's equation; for slow closing Michaud's, from memory.

    >>> print(round(hammer_head("2 m/s", "1200 m/s").to("m"), 1))
    244.7 m
    """
    full = wave * np.abs(speed_change) / GRAVITY
    if closure_time is None:
        return full
    if length is None:
        raise DesignError("hammer_head: closure_time needs the pipe's length too, such as 10 m.")
    if below(closure_time, 0):
        raise DesignError(f"hammer_head: closure_time is {TIME.text(np.min(closure_time))}, below zero; give a time such as 1 s.")
    quickest = critical_closure_time.si(length, wave)
    return full * quickest / np.maximum(np.maximum(closure_time, quickest), 1e-300)


@takes_quantities
def hammer_pressure(speed_change: Speed, wave: Speed, *, length: Length | None = None, closure_time: Time | None = None) -> Pressure:
    """The rise in pressure when the water's speed changes: `hammer_head` as a pressure.

    speed_change: The speed lost.
    wave: As from `wave_speed`.
    length: Of pipe; with `closure_time`, softens a slow closing.
    closure_time: Of the valve.
    returns: On top of the working pressure. Add both, and keep the sum under the pipe's rating at its temperature.

    Source: Joukowsky's equation, ρ a Δv.

    >>> wave = wave_speed("1.049 in", "0.133 in")
    >>> print(round(hammer_pressure("1.5 m/s", wave).to("bar"), 1))
    8.2 bar
    """
    return WATER_DENSITY * GRAVITY * hammer_head.si(speed_change, wave, length=length, closure_time=closure_time)

"""Jets: what comes out of a nozzle, how hard it pushes, how far it reaches, and how fast it keeps a round tank turning.

    speed = jets.jet_speed("900 L/h", "11 mm", nozzles=2)
    push = jets.jet_thrust("900 L/h", speed)
    print(jets.turning_speed(push, "2000 L/h", "1.7 m", "0.8 m"))

A round tank whose water turns carries its solids along the floor to the middle; one that turns too fast tires its fish.
A jet that plunges through air takes oxygen down with it (`plunging_transfer`); that is told, and no need or finding counts on it.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.plumbing.hammer import WATER_DENSITY
from aquaplumb.tables import unknown
from aquaplumb.units import (
    ANGLE,
    GRAVITY,
    LENGTH,
    NUMBER,
    Angle,
    Bore,
    DesignError,
    Flow,
    Force,
    Head,
    Length,
    Number,
    Speed,
    below,
    check_range,
    not_above,
    takes_quantities,
)

HOLE = 0.61  # discharge coefficient of a sharp-edged drilled hole, as `line_records.Stretch` has it
DECAY = 6.11  # of a round jet's middle: Abdel-Rahman and others (1996), at a Reynolds number of 19,400
# Drag of walls, floor and fish on turning water, as a part of its speed head. Low: a smooth wall alone, 0.074 Re^-0.2 at
# a million (Prandtl 1927). High: that of a crowd; at 79 kg/m³ fish slow the water by 57 %, so that the drag is 5.4 times
# as much (Plew and others, Journal of Hydraulic Research 53 (2015) 364; at 15 to 36 kg/m³ 15 %). Typical: between them.
RESISTANCE = {"low": 0.005, "typical": 0.012, "high": 0.027}

PLUNGES = 1.0  # m/s: a slower jet takes no air down: Cummings and Chanson (1997), about 1 m/s, from memory
# Of the typical transfer of a plunging jet: the band is assumed. Weirs of Gameson (1957), in clean water, lie within it.
PLUNGING = {"low": 0.5, "typical": 1.0, "high": 2.0}


# --- a nozzle -----------------------------------------------------------------------------------


@takes_quantities
def jet_speed(flow: Flow, bore: Bore, *, nozzles: Number = 1.0, coefficient: Number = HOLE) -> Speed:
    """How fast the water leaves nozzles, where the jet is narrowest.

    flow: Of all of them together.
    bore: Of each.
    coefficient: Discharge coefficient: 0.61 sharp-edged drilled hole, 0.82 short tube, 0.98 smooth taper, 1 open pipe.

    v = Q / (n Cd π D²/4).

    Source: continuity; Cd as `line_records.Stretch`.

    >>> from aquaplumb import jets
    >>> print(round(jets.jet_speed("900 L/h", "11 mm", nozzles=2), 2))
    2.16 m/s
    """
    for name, value in (("bore", bore), ("number of nozzles", nozzles), ("coefficient", coefficient)):
        if not_above(value, 0):
            raise DesignError(f"jet_speed: the {name} has to be more than 0, such as two nozzles of 11 mm.")
    return np.divide(flow, coefficient * nozzles * (np.pi / 4.0) * np.square(bore))[()]


@takes_quantities
def jet_head(speed: Speed) -> Head:
    """The head that a jet of a speed uses up: what the pipe must have left before the nozzle.

    h = v² / 2g.

    Source: Torricelli.

    >>> from aquaplumb import jets
    >>> print(round(jets.jet_head("2.16 m/s"), 3))
    0.238 m
    """
    return np.square(speed) / (2.0 * GRAVITY)


@takes_quantities
def jet_reach(speed: Speed, bore: Bore, slowed: Speed) -> Length:
    """How far a jet under water reaches until its middle has slowed down to a speed.

    bore: Of the jet: of a drilled hole 0.78 times the hole's.
    slowed: The speed that it shall still have there.

    x = 6.11 D v / v_x, for jets of a Reynolds number over some 10,000; slow thin jets reach less far. Along a wall a jet
    reaches further.

    Source: Abdel-Rahman, Al-Fahed and Chakroun, Mechanics Research Communications 23 (1996) 313: decay constant 6.11 at
    a Reynolds number of 19,400 (measured to 10 bores), 1.35 at 1,430.

    >>> from aquaplumb import jets
    >>> print(round(jets.jet_reach("2 m/s", "9 mm", "0.3 m/s"), 2))
    0.37 m
    """
    if not_above(slowed, 0):
        raise DesignError("jet_reach: no jet reaches on for ever; give a speed of more than 0 that it shall still have, such as 0.3 m/s.")
    return DECAY * np.asarray(bore) * speed / slowed


@takes_quantities
def plunging_transfer(flow: Flow, speed: Speed, *, nozzles: Number = 1.0, band: str = "typical") -> Flow:
    """What jets that plunge into a tank through air bring in oxygen, as the water that they as good as exchange for full water.

    flow: Of all of them together.
    speed: With which they strike the water: √(v² + 2 g h) after a fall from a nozzle's v.
    band: Of `PLUNGING`, "low", "typical" or "high".
    returns: Times the tank's lack of oxygen it is what they bring. Nothing under 1 m/s: such a jet takes no air down.

    K A = 9·10⁻⁵ n (P/n)^0.65 m³/s, P = ½ ρ Q v² in W, in clean water at 20 °C; half of it to twice as much.

    Source: Bin and Smith, Chemical Engineering Communications 15 (1982) 367, from memory: what we could look up names the paper (as
    Bin, Chemical Engineering Science 48 (1993) 3585, does), without its numbers. From 300 to 8000 L/h and 0.2 to 1 m of fall it is
    0.6 to 2 times what Gameson's weirs (1957) bring, `air.deficit_ratio`.

    >>> from aquaplumb import jets
    >>> print(round(jets.plunging_transfer("2000 L/h", "2.2 m/s").to("L/h"), 0))
    392 L/h
    """
    if not_above(nozzles, 0):
        raise DesignError("plunging_transfer: the number of nozzles has to be more than 0, such as 1 for an open pipe.")
    if band not in PLUNGING:
        raise DesignError(unknown("list of bands", band, PLUNGING))
    each = 0.5 * WATER_DENSITY * np.maximum(flow, 0.0) / nozzles * np.square(speed)
    return np.where(np.asarray(speed) < PLUNGES, 0.0, PLUNGING[band] * 9e-5 * nozzles * each**0.65)[()]


@takes_quantities
def jet_thrust(flow: Flow, speed: Speed, *, angle: Angle = 0.0, water_speed: Speed = 0.0) -> Force:
    """How hard a jet pushes the water of a round tank along its wall.

    angle: Between the jet and the wall's direction: 0 along the wall, 90 degrees to the middle, 180 against.
    water_speed: Of the tank's water at the wall; 0 for the push on water at rest.

    F = ρ Q (v cos θ − v_water).

    Source: the impulse force of Tvinnereim and Skybakmoen (1989) and Oca and Masaló (Aquacultural Engineering 36 (2007)
    36), quoted in Masaló and Oca, Distribution of velocities in aquaculture circular tanks; the angle by vectors.

    >>> from aquaplumb import jets
    >>> print(round(jets.jet_thrust("2000 L/h", "1.38 m/s", water_speed="0.15 m/s"), 2))
    0.68 N
    """
    return WATER_DENSITY * np.asarray(flow) * (np.asarray(speed) * np.cos(angle) - water_speed)


# --- a round tank -------------------------------------------------------------------------------


@takes_quantities
def turning_speed(thrust: Force, flow: Flow, diameter: Length, depth: Length, *, resistance: Number = RESISTANCE["typical"]) -> Speed:
    """The speed at the wall that jets keep up in a round tank.

    thrust: Of all jets together on water at rest, see `jet_thrust`; less than nothing turns it backward.
    flow: Of all water that comes in: it has to be brought up to speed.
    depth: Of the water, its mean one where the floor slopes.
    resistance: 0.005 for smooth walls alone, 0.012, 0.027 with a crowd of fish.
    returns: Nearer to the middle it is slower, in proportion.

    F − ρ Q v = ½ ρ C v² (π D h + 2/5 π D²/4): what jets push equals what wall and floor hold back. The water turns as
    one piece, about as it does in real tanks, so that the floor holds back 2/5 of what the wall would on its area.

    Source: momentum. Speed goes with the root of the impulse force (Roda, Masaló and Oca, UPC 2099.1/22363) and in line
    with the radius (Davidson and Summerfelt, Aquacultural Engineering 32 (2004) 245). Resistance: see `RESISTANCE`; no
    print that we have seen gives one for a small tank, so a speed holds to a half.

    >>> from aquaplumb import jets
    >>> print(round(jets.turning_speed("1.5 N", "2000 L/h", "1.7 m", "0.8 m"), 2))
    0.21 m/s
    """
    drag, flow = _drag(diameter, depth, resistance), np.asarray(flow)
    push = np.abs(thrust) / WATER_DENSITY
    return np.sign(thrust) * (np.sqrt(np.square(flow) + 4.0 * drag * push) - flow) / (2.0 * drag)


@takes_quantities
def turning_thrust(speed: Speed, flow: Flow, diameter: Length, depth: Length, *, resistance: Number = RESISTANCE["typical"]) -> Force:
    """The thrust on water at rest that keeps a round tank turning at a speed: the inverse of `turning_speed`.

    speed: At the wall.
    flow: Of all water that comes in.
    depth: Of the water.
    resistance: As `turning_speed`.

    Source: as `turning_speed`.

    >>> from aquaplumb import jets
    >>> print(round(jets.turning_thrust("0.2 m/s", "2000 L/h", "1.7 m", "0.8 m"), 2))
    1.35 N
    """
    drag, speed = _drag(diameter, depth, resistance), np.asarray(speed)
    return WATER_DENSITY * speed * (flow + drag * np.abs(speed))


def _drag(diameter, depth, resistance):
    """½ C A [m²], with the area of wall and floor weighed by how far from the middle and how fast each part is passed."""
    for name, value in (("diameter", diameter), ("depth", depth)):
        if not_above(value, 0):
            raise DesignError(f"the tank's {name} is {LENGTH.text(np.min(value))}; it must be more than 0.")
    check_range(resistance, 1e-3, 1.0, NUMBER, "the tank's resistance", "turning water (0.005 to 0.027)")
    return 0.5 * resistance * np.pi * np.asarray(diameter) * (depth + 0.1 * np.asarray(diameter))


@takes_quantities
def jet_angle(thrust: Force, wanted: Force) -> Angle:
    """How far to turn jets away from the wall, so that they push less.

    thrust: Of all of them together along the wall, on water at rest.
    wanted: That they shall have.

    θ = arccos(F / F₀).

    Source: vectors, as `jet_thrust`.

    >>> from aquaplumb import jets
    >>> print(round(jets.jet_angle("2 N", "1 N").to("deg")))
    60 deg
    """
    if below(wanted, 0) or np.any(np.less(thrust, wanted)):
        raise DesignError(
            f"jet_angle: turned away from the wall jets push less, never more; along the wall is {ANGLE.text(0.0)}. "
            "Ask for a thrust between 0 and what they have."
        )
    return np.arccos(np.divide(wanted, np.maximum(thrust, 1e-12)))

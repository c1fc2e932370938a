"""Drains: standpipes and overflows, gravity lines part full, screens; and, from `fullbore` and `siphons`, the rest.

A falling pipe that swallows air carries far less than a full one, and which of the two it does is not a choice:
it goes by the Froude number v/√(gD) of the flow in its bore. Under 0.3 the air can get out (quiet); from there on
the pipe gulps; somewhere from 1 to 2 it runs full, and may siphon.
"""

from __future__ import annotations

import functools

import numpy as np

from aquaplumb.plumbing.full_pipe import (
    FULL,
    GULPING,
    MAY_FILL,
    flow_at_froude,
    froude,
    full_bore_flow,
    full_bore_head,
    in_words,
    sound_bore,
)
from aquaplumb.plumbing.part_full import MANNING, SCOUR_SPEED, gravity_fill, gravity_flow, gravity_speed
from aquaplumb.plumbing.siphons import (
    SiphonConditions,
    SiphonStart,
    siphon_conditions,
    siphon_flow,
    siphon_starting_band,
    siphon_stops,
)
from aquaplumb.units import (
    BODY_MASS,
    GRAVITY,
    NUMBER,
    Area,
    BodyMass,
    Bore,
    DesignError,
    Flow,
    Head,
    Length,
    Number,
    Speed,
    Temperature,
    below,
    check_range,
    not_above,
    takes_quantities,
)

__all__ = [
    "FULL", "GULPING", "MANNING", "MAY_FILL", "SCOUR_SPEED", "SiphonConditions", "SiphonStart", "crest_flow", "flow_at_froude",
    "froude", "full_bore_flow", "full_bore_head", "gravity_fill", "gravity_flow", "gravity_speed", "leader_flow",
    "orifice_flow", "screen_slot_limit", "screen_speed", "screen_speed_limit", "side_outlet_flow", "siphon_conditions", 
    "siphon_flow", "siphon_starting_band", "siphon_stops", "standpipe_depth", "standpipe_flow", "standpipe_regime",
]  # fmt: skip

WEIR = 1.71  # m^½/s: 3.1 in feet, the lower of the two in print (3.33 is 1.84)
ORIFICE = 0.6  # print has 0.5 to 0.83

_SPOUT = np.sqrt(2.0 * GRAVITY)
_FRY = 2.3e-3  # kg
_DROWNS = 0.95  # bores over its lowest point from which a hole in a side may act as an orifice


# --- standpipes ---------------------------------------------------------------------------------


@takes_quantities
def orifice_flow(depth: Head, bore: Bore, *, discharge: Number = 0.61) -> Flow:
    """The flow out of a sharp-edged round hole under water.

    depth: Of water over the hole's middle; at or under 0 nothing flows.
    discharge: 0.61 sharp edge, 0.82 short tube, 0.51 tube standing inside, 0.98 well rounded.

    Q = Cd (π D²/4) √(2 g h).

    Source: Torricelli; Cd 0.603 to 0.620 for a ½ in hole, Encyclopaedia Britannica 11th ed., "Hydraulics".

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.orifice_flow("0.5 m", "25 mm").to("L/min"), 1))
    56.3 L/min
    """
    sound_bore(bore)
    return discharge * (np.pi / 4.0) * np.square(bore) * _SPOUT * np.sqrt(np.maximum(depth, 0.0))


@takes_quantities
def crest_flow(depth: Head, bore: Bore) -> Flow:
    """The flow over the round lip of a standpipe, or over the crest of a siphon that trickles, as over a weir.

    depth: Of the water over the lip; at or under 0 nothing flows.

    Q = Cw π D H^1.5, Cw = 1.71 m^½/s; print has up to 1.84. A standpipe's mouth drowns at some 0.4 bores.

    Source: as `standpipe_flow`.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.crest_flow("15 mm", "52 mm").to("L/min")))
    31 L/min
    """
    sound_bore(bore)
    over = np.maximum(depth, 0.0)
    return WEIR * np.pi * bore * over * np.sqrt(over)


@takes_quantities
def standpipe_flow(
    depth: Head,
    bore: Bore,
    *,
    fall: Head | None = None,
    length: Length | None = None,
    k: Number = 1.5,
    temperature: Temperature = 293.15,
) -> Flow:
    """The flow that an open standpipe takes at a depth of water over its lip.

    First the lip is a round weir; at a depth of some 0.4 bores it drowns and the mouth acts as an orifice. With
    `fall` given, the pipe below cannot take more than it carries full either. Between weir and full bore the real
    flow pulses; this is its lower side. It does not count on the suction of a pipe that runs full: a siphon does,
    see `siphon_flow`.

    depth: Of the water over the lip; at or under 0 nothing flows.
    fall: From the lip down to the outlet, or to the water that it ends in.
    length: Of the pipe; the fall unless given.
    k: Of the pipe's fittings with its entrance and exit, for the full-bore limit.

    Q = min(Cw π D H^1.5, Cd (π D²/4) √(2gH), full bore), Cw = 1.71 m^½/s, Cd = 0.6. Print has Cw 1.71 to 1.84 and
    Cd 0.5 to 0.83: take the answer as ± 20 %.

    Source: SCS Engineering Field Manual ch. 3 and 6, drop inlet; three regimes, Padulano et al., Water 2013, 5, 1380.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.standpipe_flow("15 mm", "52 mm").to("L/min")))
    31 L/min
    """
    over = np.maximum(depth, 0.0)
    flow = np.minimum(crest_flow.si(over, bore), ORIFICE * (np.pi / 4.0) * np.square(bore) * _SPOUT * np.sqrt(over))
    if fall is None:
        return flow
    full = full_bore_flow.si(over + fall, bore, fall if length is None else length, k=k, temperature=temperature)
    return np.minimum(flow, full)


@takes_quantities
def side_outlet_flow(depth: Head, bore: Bore) -> Flow:
    """The flow out of a vessel through a round hole in its side, into a pipe that leads down and away.

    Part full, the water passes its mouth at the critical depth; once the hole is under water it is an orifice. Half
    full it takes less than a third of what an upright standpipe of the bore does.

    depth: Of the water over the hole's lowest point; at or under 0 nothing flows.

    H = y + A/(2T) + ½ (4Q/πD²)²/(2g), Q² = g A³/T, for a water area A and width T at the depth y in the mouth; from
    where that is more, Q = 0.6 (π D²/4) √(2g (H − D/2)).

    Source: critical flow, any text on open channels; entrance loss of a square edge, Crane TP-410.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.side_outlet_flow("25 mm", "50 mm").to("L/min")))
    14 L/min
    """
    sound_bore(bore)
    over = np.maximum(depth, 0.0)
    heads, flows = _critical()
    part_full = np.interp(over / bore, heads, flows) * np.power(bore, 2.5)
    under_water = ORIFICE * (np.pi / 4.0) * np.square(bore) * _SPOUT * np.sqrt(np.maximum(over - bore / 2.0, 0.0))
    return np.where(over / bore < _DROWNS, part_full, np.minimum(part_full, under_water))


@functools.cache
def _critical():
    """(head over the bore, flow over the bore to the power 2.5) at rising depths in the mouth, up to 97 % full."""
    angle = np.linspace(0.0, 2.0 * np.arccos(1.0 - 2.0 * 0.97), 400)
    area, width = (angle - np.sin(angle)) / 8.0, np.maximum(np.sin(angle / 2.0), 1e-12)
    flow = np.sqrt(GRAVITY * area**3 / width)
    return (1.0 - np.cos(angle / 2.0)) / 2.0 + area / (2.0 * width) + 0.5 * (4.0 / np.pi * flow) ** 2 / (2.0 * GRAVITY), flow


@takes_quantities
def standpipe_depth(
    flow: Flow,
    bore: Bore,
    *,
    fall: Head | None = None,
    length: Length | None = None,
    k: Number = 1.5,
    temperature: Temperature = 293.15,
) -> Head:
    """The depth of water over the lip that an open standpipe needs for a flow: the inverse of `standpipe_flow`.

    fall: From the lip down to the outlet, or to the water that it ends in; sets the full-bore limit.
    length: Of the pipe; the fall unless given.
    k: Of the pipe's fittings with its entrance and exit.

    Source: as `standpipe_flow`.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.standpipe_depth("1800 L/h", "52 mm").to("mm"), 1))
    14.7 mm
    """
    sound_bore(bore)
    q = np.maximum(flow, 0.0)
    weir = (q / (WEIR * np.pi * bore)) ** (2.0 / 3.0)
    orifice = np.square(q / (ORIFICE * (np.pi / 4.0) * np.square(bore))) / (2.0 * GRAVITY)
    depth = np.maximum(weir, orifice)
    if fall is None:
        return depth
    full = full_bore_head.si(q, bore, fall if length is None else length, k=k, temperature=temperature)
    return np.maximum(depth, full - fall)


@takes_quantities
def standpipe_regime(flow: Flow, bore: Bore):
    """How a standpipe runs at a flow: "quiet", "gulping", "may fill" or "full".

    An overflow that must stay silent, and an emergency overflow that must never siphon the tank down, is sized to
    be quiet: Froude number under 0.3. The capacities in plumbing codes lie near Froude 1: they gulp.

    returns (str, scalar or array): "quiet" to Froude 0.3; "gulping" to 1; "may fill" to 2 (sources put the limit at 1
        or at 2); then "full".

    Source: 0.3, Hills, Chemical Engineering 1983 (quoted); 1, casualprocessengineer.com; 2, Simpson, Chemical
    Engineering 1968 (from memory).

    >>> from aquaplumb.plumbing import drains
    >>> drains.standpipe_regime("900 L/h", "52 mm")
    'quiet'
    """
    number = froude.si(flow, bore)
    return in_words(("quiet", "gulping", "may fill", "full"), number > GULPING, number >= MAY_FILL, number >= FULL)


@takes_quantities
def leader_flow(bore: Bore, *, filled: Number = 7 / 24) -> Flow:
    """The flow that plumbing codes allow a tall open vertical drain: a ring of water round a core of air.

    Not a quiet flow: it is near Froude 1, see `standpipe_regime`.

    filled: The share of the area that is water, 7/24 in the codes.

    Q = 27.8 r^(5/3) d^(8/3), in US gal/min with d in inches.

    Source: Wyly and Eaton (formula from memory); it gives the vertical leader table of the NSPC 2006 and UPC 2000.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.leader_flow("2 in").to("gal/min")))
    23 gal/min
    """
    sound_bore(bore)
    check_range(filled, 0.0, 1 / 3, NUMBER, "the filled share", "the formula for open vertical drains")
    return 27.8 * 6.30901964e-5 * np.power(filled, 5 / 3) * np.power(bore / 0.0254, 8 / 3)


# --- screens ------------------------------------------------------------------------------------


@takes_quantities
def screen_speed(flow: Flow, open_area: Area) -> Speed:
    """The speed of the water in a screen's open slots.

    open_area: Of the holes or slots alone, when clean. Size for half of it blocked.

    Source: continuity. Limits: `screen_speed_limit`.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.screen_speed("3000 L/h", "60 cm2"), 2))
    0.14 m/s
    """
    if not_above(open_area, 0):
        raise DesignError("the screen's open area has to be more than 0, such as 60 cm2.")
    return np.divide(flow, open_area)


@takes_quantities
def screen_speed_limit(body_mass: BodyMass) -> Speed:
    """The highest speed in a screen's slots that fish of a size can swim away from.

    body_mass: Of the smallest fish.
    returns: 0.3 m/s; 0.1 m/s for fry, taken here as under 2.3 g. A weak or sick fish needs less.

    Source: Timmons, Recirculating Aquaculture; NMFS fish screen criteria (fry 0.10 to 0.12 m/s): both from memory.

    >>> from aquaplumb.plumbing import drains
    >>> print(drains.screen_speed_limit("1 g"))
    0.1 m/s
    """
    _fish(body_mass)
    return np.where(np.less(body_mass, _FRY), 0.1, 0.3)[()]


@takes_quantities
def screen_slot_limit(body_mass: BodyMass) -> Length:
    """The widest slot that keeps fish of a size in.

    body_mass: Of the smallest fish; from 0.45 g. For smaller ones use mesh finer than 1.6 mm.
    returns: 1.6 mm from 0.45 g, 3.2 mm from 2.3 g, 6.4 mm from 15 g.

    Source: Timmons, Recirculating Aquaculture, from memory.

    >>> from aquaplumb.plumbing import drains
    >>> print(round(drains.screen_slot_limit("20 g").to("mm"), 1))
    6.4 mm
    """
    _fish(body_mass)
    if below(body_mass, 0.45e-3):
        raise DesignError(
            f"the fish's weight is {BODY_MASS.text(np.min(body_mass))}; the table of slots starts at 0.45 g. "
            "For smaller fish use mesh finer than 1.6 mm."
        )
    return np.where(np.less(body_mass, _FRY), 1.6e-3, np.where(np.less(body_mass, 15e-3), 3.2e-3, 6.4e-3))[()]


def _fish(body_mass) -> None:
    if not_above(body_mass, 0):
        raise DesignError("the fish's weight has to be more than 0, such as 20 g.")

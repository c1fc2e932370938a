"""Runs of low-voltage wire: what they take from the pump, how long they may be, which wire to buy, and its fuse.

Part of `aquaplumb.power`, which is the face of all this.

CAUTION: a thin wire behind a large battery is a heater. Put a fuse at the battery's plus pole, before anything else,
not above what the wire bears. Bundled, coiled or buried wire and hot places bear less than the table says. Mains
wiring, and any wiring that your local code covers, is for a licensed electrician.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.power.wire_sizes import RATED_IN, WARM, Wire, usable, wire_names, wire_rating, wire_resistance
from aquaplumb.power.wire_sizes import wire as _wire
from aquaplumb.units import (
    CURRENT,
    LENGTH,
    VOLTAGE,
    Current,
    DesignError,
    Length,
    Number,
    Temperature,
    Voltage,
    rounded,
    takes_quantities,
)

FUSES = (1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40, 50, 60, 70, 80, 100)  # A: blade fuses, and their large kin


@takes_quantities
def voltage_drop(wire: str | Wire, length: Length, current: Current, *, temperature: Temperature = WARM) -> Voltage:
    """The voltage that a run of wire keeps to itself.

    length: One way.
    current: Taken as given. A pump draws less when less arrives: `wired_pump` solves the two together.
    temperature: Of the copper; see `wire_resistance`.

    Source: Ohm's law.

    >>> print(round(voltage_drop("AWG 14 stranded", "5 m", "5 A"), 2))
    0.52 V
    """
    usable(current)
    return wire_resistance.si(wire, length, temperature=temperature) * current


@takes_quantities
def drop_share(wire: str | Wire, length: Length, current: Current, voltage: Voltage, *, temperature: Temperature = WARM) -> Number:
    """The voltage drop as a share of the supply: 0.03 is the usual aim for a pump.

    length: One way.
    voltage: Of the supply.
    temperature: Of the copper; see `wire_resistance`.
    returns: More than 1 means that this current cannot flow at all.

    For the same power, twice the voltage halves the current and quarters this share.

    Source: Ohm's law; the 3 % is common practice (NEC informational notes to 210.19 and 215.2, from memory).

    >>> print(round(drop_share("AWG 14 stranded", "5 m", "5 A", "12 V"), 3))
    0.043
    """
    usable(voltage=voltage)
    return voltage_drop.si(wire, length, current, temperature=temperature) / voltage


@takes_quantities
def smallest_wire(
    length: Length,
    current: Current,
    voltage: Voltage,
    *,
    make: str = "mm2 flexible",
    share: Number = 0.03,
    temperature: Temperature = WARM,
    air: Temperature = RATED_IN,
    place: str = "in the shade",
) -> Wire:
    """The thinnest wire that keeps the drop within a share of the supply and may carry the fuse that the load needs.

    length (one value): One way.
    current (one value): While the pump runs.
    voltage (one value): Of the supply.
    make: Which wires to choose from, as in `wire_names`: "AWG stranded", "mm2 flexible" …
    share (one value): Of the supply that may be lost.
    temperature (one value): Of the copper; see `wire_resistance`.
    air (one value): The warmest round it; see `wire_rating`.
    place: Where it lies; see `wire_rating`.

    Source: `drop_share`, `wire_rating` and `fuse`.

    >>> smallest_wire("5 m", "5 A", "12 V", make="AWG stranded").name
    'AWG 12 stranded'
    """
    usable(current, voltage, share)
    if np.ndim(share):
        raise DesignError("smallest_wire: share is a list; give one value, and call it for each.")
    rating = fuse.si(current)
    candidates = [_wire(name) for name in wire_names(make)]
    for one in candidates:
        if (
            wire_rating.si(one, air=air, place=place) >= rating
            and drop_share.si(one, length, current, voltage, temperature=temperature) <= share
        ):
            return one
    thickest = candidates[-1]
    drop = drop_share.si(thickest, length, current, voltage, temperature=temperature)
    raise DesignError(
        f"even the thickest wire in the list, {thickest.si.name}, loses {rounded(100 * drop)} % of {VOLTAGE.text(voltage)} over "
        f"{LENGTH.text(length)} at {CURRENT.text(current)}, or bears less than the {CURRENT.text(rating)} fuse where it lies; bring the battery nearer, "
        "take a pump of twice the voltage, or ask an electrician for thicker cable."
    )


@takes_quantities
def fuse(current: Current, *, wire: str | Wire | None = None) -> Current:
    """The fuse to put at the source: the next standard size at or above 125 % of the load.

    current: That flows for hours on end.
    wire: Behind the fuse; a fuse above the wire's rating is refused, for it is the wire that it protects.

    CAUTION: at the battery's plus pole, within a hand's breadth; a wire between battery and fuse is not protected.
    A battery drives thousands of amperes into a short: the fuse must be made to break that much (its breaking
    capacity) at DC. A motor draws several times its current as it starts: take a slow fuse, not a larger one.

    Source: 125 % of a continuous load: NEC 210.20 and 215.3, from memory; sizes of blade fuses: ISO 8820-3, from memory.

    >>> print(fuse("5 A", wire="AWG 14 stranded"))
    7.5 A
    """
    usable(current)
    sizes, needed = np.array(FUSES, float), 1.25 * np.asarray(current, float)
    if np.any(needed > sizes[-1]):
        raise DesignError(f"{CURRENT.text(np.max(current))} needs a fuse above {FUSES[-1]} A; that is work for an electrician.")
    chosen = sizes[np.searchsorted(sizes, needed * (1 - 1e-12))]
    if wire is not None:
        bare = _wire(wire).si
        if bare.rating is None:
            raise DesignError(f"nobody has written down what {bare.name} may carry; ask its maker, or choose another wire.")
        if np.any(chosen > bare.rating):
            raise DesignError(
                f"{CURRENT.text(np.max(current))} needs a {CURRENT.text(np.max(chosen))} fuse, and {bare.name} may have at most "
                f"{CURRENT.text(bare.rating)}; take a thicker wire, never a fuse above the wire's rating."
            )
    return chosen[()]

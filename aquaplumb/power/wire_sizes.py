"""Low-voltage wire itself: the table of sizes, the resistance of a run, and the heat that it gives off.

Part of `aquaplumb.power`, which is the face of all this. What a run takes from a pump, and its fuse, are in `wiring`.

CAUTION: a thin wire behind a large battery is a heater. Put a fuse at the battery's plus pole, before anything else,
not above what the wire bears. Bundled, coiled or buried wire and hot places bear less than the table says. Mains
wiring, and any wiring that your local code covers, is for a licensed electrician.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import tables
from aquaplumb.given import takes_things
from aquaplumb.units import (
    CURRENT,
    LENGTH,
    NUMBER,
    TEMPERATURE,
    VOLTAGE,
    Current,
    DesignError,
    Length,
    Resistance,
    Temperature,
    WireArea,
    WireResistance,
    check_range,
    takes_quantities,
)  # fmt: skip

COPPER = 0.00393  # 1/K: copper's resistance grows by this part of its value at 20 °C
ROOM = 293.15  # K
RATED_IN = 303.15  # K: 30 °C, the air in which ratings hold
COAT_US, COAT_IEC = 333.15, 343.15  # K: what the coat bears, 60 °C in the US table's first column, 70 °C for PVC by the IEC
PLACES = {"in the shade": 0.0, "in the sun": 17.0, "on a hot roof": 33.0}  # K over the air; see `wire_rating`
WARM = 348.15  # K: 75 °C, at which US tables are printed; on the safe side for a drop


@tables.table_type("wires")
class Wire(tables.Row):
    """A copper wire of ``data/wires.csv``: one conductor of it.

    make: "solid", "stranded" or "flexible".
    area: Of the copper.
    resistance: Of one conductor, not there and back.
    resistance_at: The temperature of the copper at which it has that resistance.
    rating: The largest fuse that it may have, in air at 30 °C, by itself.

    Source: NEC chapter 9 table 8 and IEC 60228, row by row.
    """

    standard: str
    make: str
    area: WireArea
    resistance: WireResistance
    resistance_at: Temperature
    rating: Current | None = None


def wire(name: str | Wire) -> Wire:
    """A wire by its name, such as "AWG 14 stranded" or "2.5 mm2 flexible".

    Parameters
    ----------
    name : str
        One of `wire_names`.

    Returns
    -------
    Wire

    Source
    ------
    ``data/wires.csv``.

    Examples
    --------
    >>> print(wire("2.5 mm2 flexible").resistance.to("ohm/km"))
    7.98 Ω/km
    """
    return name if isinstance(name, Wire) else tables.row(Wire, name, "list of wires")


@takes_things
def wire_names(make: str = "") -> list[str]:
    """The names of the wires, thinnest first.

    make: "AWG" or "mm2" for the sizes of one system, "solid", "stranded" or "flexible" for one make, or words for both,
        such as "AWG stranded"; all of them when left out.

    Source: ``data/wires.csv``.

    >>> wire_names("mm2 flexible")[:3]
    ['0.5 mm2 flexible', '0.75 mm2 flexible', '1 mm2 flexible']
    """
    words = str(make).casefold().split()
    known = {word for name in tables.names("wires") for word in name.casefold().split()[:3]}
    if odd := [word for word in words if word not in known]:
        raise DesignError(f"there is no wire called '{odd[0]}'; say AWG or mm2, and solid, stranded or flexible.")
    found = [name for name in tables.names("wires") if set(words) <= set(name.casefold().split())]
    if not found:
        raise DesignError(f"there is no wire called '{make}'; AWG comes solid or stranded, mm2 stranded or flexible.")
    return sorted(found, key=lambda name: wire(name).si.area)


def conductor_resistance(bare, temperature):
    """Of one metre of one conductor at a temperature: bare SI in and out.

    Source
    ------
    As `wire_resistance`.
    """
    check_range(temperature, 233.15, 378.15, TEMPERATURE, "the wire's temperature", "copper's even rise with temperature in a cable")
    at = 1 + COPPER * (bare.resistance_at - ROOM)
    return bare.resistance / at * (1 + COPPER * (np.asarray(temperature) - ROOM))[()]


@takes_quantities
def wire_resistance(wire: str | Wire, length: Length, *, temperature: Temperature = WARM) -> Resistance:
    """The resistance of a run of two-wire cable: out to the pump and back.

    wire: A name of `wire_names`, or a row of the table.
    length: Of the run one way, as you would measure it. The current passes it twice, and so it is counted.
    temperature: Of the copper, −40 to 105 °C; 75 °C when left out, which is on the safe side. A wire in the shade with
        little current is nearer 30 °C and has a seventh less.

    2 L r, with r = r₂₀ (1 + 0.00393 (t − 20 °C)). Lugs, a fuse holder and a switch come on top: a few hundredths of an
    ohm when clean (common practice, no source), far more when corroded.

    Source: NEC chapter 9 table 8 and IEC 60228; copper's coefficient at 20 °C as in IEC 60228's own correction.

    >>> print(round(wire_resistance("AWG 14 stranded", "5 m"), 3))
    0.103 Ω
    """
    if np.any(np.less(length, 0)):
        raise DesignError(f"wire_resistance: length is {LENGTH.text(np.min(length))}, below zero; give the run one way, such as 5 m.")
    return 2 * length * conductor_resistance(_wire(wire).si, temperature)


@takes_quantities
def wire_rating(wire: str | Wire, *, air: Temperature = RATED_IN, place: str = "in the shade") -> Current:
    """The largest fuse that a wire may have where it lies: what its table says, less where it is hot.

    wire: A name of `wire_names`, or a row of the table.
    air: The warmest air round it.
    place: "in the shade", "in the sun" (fixed clear of what gets hot) or "on a hot roof" (lying on it).
    returns: 0 where the coat would be as hot as it bears before any current flows: take cable made for more heat, or lay it in
        the shade. Not a number where nobody has written down what the wire may carry.

    I = I₃₀ √((T − t)/(T − 30 °C)) above 30 °C, with T what the coat bears: 60 °C for wire by the US table, 70 °C (PVC) by
    the IEC's; cooler air gives no more. The sun adds 17 K to the air, a hot roof 33 K. US sizes of 14 and under are held to their
    largest fuse anyway, which the code does not derate: taking it off all the same is on the safe side.

    Source: NEC 310.15(B)(1) and its equation; IEC 60364-5-52, table B.52.14 (formula as reprinted, its table from memory). The adders: NEC 2008, table
    310.15(B)(2)(c), conduit 3½ to 12 in over a roof; NEC 2020, 310.15(B)(2), for less than 7/8 in, both as reprinted.

    >>> print(round(wire_rating("AWG 14 stranded", air="40 degC"), 1))
    12.2 A
    """
    if place not in PLACES:
        raise DesignError(f"a wire lies {', '.join(PLACES)}; it was given as '{place}'.")
    check_range(air, 233.15, 343.15, TEMPERATURE, "the air round the wire", "what is known of wires")
    bare = _wire(wire).si
    bears = COAT_US if bare.name.startswith("AWG") else COAT_IEC
    hot = np.maximum(np.asarray(air, float) + PLACES[place], RATED_IN)
    share = np.sqrt(np.maximum(bears - hot, 0.0) / (bears - RATED_IN))
    return ((np.nan if bare.rating is None else bare.rating) * share)[()]


_wire = wire  # for functions that have an argument of that name


def usable(current=0.0, voltage=1.0, share=0.5) -> None:
    """Refuse a current, a supply or a share that cannot be: bare SI."""
    if np.any(np.less(current, 0)):
        raise DesignError(f"the current is {CURRENT.text(np.min(current))}, below zero; give what the pump draws, such as 4 A.")
    if not np.all(np.greater(voltage, 0)):
        raise DesignError(f"the voltage is {VOLTAGE.text(np.min(voltage))}; give the supply's, such as 12 V.")
    check_range(share, 1e-4, 1.0, NUMBER, "the share of the supply to lose", "a part of the whole")

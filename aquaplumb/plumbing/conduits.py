"""Conduits: the tube round pipe or cables under ground or along a wall, how full it may be, and what goes round its bends.

CAUTION: water and mains never share a conduit. Mains wiring in and above the ground is for a licensed electrician, by
your local code; codes differ on depth, kind of conduit and what may lie beside it.
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb import tables
from aquaplumb.given import takes_things
from aquaplumb.plumbing import pipe_sizes
from aquaplumb.units import Bore, Number, takes_quantities

MOST_BENDS = 2 * math.pi  # rad between two places to pull at: NEC 344.26, 352.26 (360 degrees; read in a trade forum and a trade page)
JAMS = (2.8, 3.2)  # bore over outside diameter at which three alike jam: NEC chapter 9 table 1, informational note 2
HOSE = 1.25  # outside over inside diameter of hose and of polyethylene pipe SDR 11 (11/9): from memory
_FILL = {1: 0.53, 2: 0.31}  # of the conduit's area; more than two: below
_FILL_MORE = 0.40


@tables.table_type("conduits")
class ConduitSize(tables.Row):
    """A size of conduit of ``data/conduits.csv``.

    make: "PVC conduit" (inch) or "cable duct" (metric, corrugated).

    Source: ``data/conduits.csv``, each row with its own.
    """

    make: str
    outside_diameter: Bore
    bore: Bore


@tables.table_type("cables")
class Cable(tables.Row):
    """A cable of ``data/cables.csv``, as what takes room in a conduit.

    supply: "mains", "low voltage", "data" or "cord" (a cord carries nothing).
    outside_diameter: Of a flat cable its wide side.

    Source: ``data/cables.csv``, each row with its own.
    """

    supply: str
    outside_diameter: Bore


@takes_things
def conduit_size(name: str) -> ConduitSize:
    """A size of conduit by its name, such as "2 in PVC conduit" or "63 mm cable duct".

    Source: ``data/conduits.csv``, each row with its own.

    >>> print(round(conduit_size("2 in PVC conduit").bore.to("mm"), 1))
    52 mm
    """
    return tables.row(ConduitSize, name, "list of conduits")


@takes_things
def cable(name: str) -> Cable:
    """A cable by its name, such as "mains flex 3 x 1.5 mm2".

    Source: ``data/cables.csv``, each row with its own.

    >>> cable("low voltage 2 x 2.5 mm2").supply
    'low voltage'
    """
    return tables.row(Cable, name, "list of cables")


@takes_quantities
def pipe_outside(bore: Bore, *, size: str = "", standard: str = "") -> Bore:
    """How wide a pipe is outside: by its size, or of hose by its bore.

    size: With a standard: as `pipe_size`.
    returns: Of hose 1.25 times its bore.

    Source: ``data/pipes.csv``; hose: 11/9 is polyethylene pipe of SDR 11, the rest common practice, from memory.

    >>> print(round(pipe_outside("26.1 mm", size="1 in", standard="Sch 40").to("mm"), 1))
    33.4 mm
    """
    return pipe_sizes.pipe_size(size, standard).si.outside_diameter if size and standard else HOSE * bore


@takes_quantities
def conduit_fill(outside_diameter: Bore, bore: Bore) -> Number:
    """The part of a conduit's area that pipes and cables take.

    outside_diameter (array): Of each pipe and cable in it; of a flat cable its wide side.
    bore (one value): Of the conduit.
    returns (one value): Over 1 where they cannot go in.

    Sum of d² over D².
    Source: the areas of NEC chapter 9 table 4 are π/4 D²; its note 9 counts a flat cable so (from memory).

    >>> print(round(conduit_fill(["33.4 mm", "12 mm"], "52 mm"), 2))
    0.47
    """
    return float(np.sum(np.square(outside_diameter)) / bore**2)


@takes_things
def fill_limit(count: int) -> float:
    """The part of a conduit's area that so many pipes and cables may take.

    Print has it for cables. For pipe none was seen: the same serves, and leaves room for the sockets of its joints
    (of one pipe the bore is then 1.37 times its outside; the trade's sleeve is two sizes wider).

    Source: NEC chapter 9 table 1: 53 % for one, 31 % for two, 40 % for more.

    >>> fill_limit(1), fill_limit(2), fill_limit(5)
    (0.53, 0.31, 0.4)
    """
    return _FILL.get(count, _FILL_MORE)


@takes_quantities
def wide_conduit(outside_diameter: Bore, make: str) -> str | None:
    """The smallest conduit of a make that is not too full of pipes and cables; None where the table has none.

    outside_diameter (array): Of each pipe and cable in it.
    make: "PVC conduit" or "cable duct".

    Source: `fill_limit`; ``data/conduits.csv``.

    >>> wide_conduit(["33.4 mm"], "PVC conduit")
    '2 in PVC conduit'
    """
    widths = np.atleast_1d(outside_diameter)
    limit = fill_limit(len(widths))
    rows = (row.si for row in tables.table(ConduitSize).values() if row.si.make == make)
    return next((row.name for row in rows if conduit_fill.si(widths, row.bore) <= limit), None)

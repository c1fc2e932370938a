"""The lengths in which pipe is sold."""

from __future__ import annotations

from aquaplumb import tables
from aquaplumb.units import DesignError, Length, takes_quantities

_OWN = 5.0  # m: of pipe that no table has; common practice, no source


@tables.table_type("stock")
class PipeStock(tables.Row):
    """One length in which pipe of a standard is sold.

    Source: ``data/stock.csv``, each row with its own.
    """

    standard: str
    length: Length


@takes_quantities
def stock_length(standard: str) -> Length:
    """The length in which a shop sells pipe of a standard; measure your own shop's.

    standard: Such as "Sch 40" or "PN16"; of pipe of your own nobody here knows it, and 5 m is taken.
    returns (one value): The first in the table.

    Source: ``data/stock.csv``, each row with its own.

    >>> print(stock_length("Sch 40").to("ft"))
    10 ft
    """
    found = next((row.si.length for row in tables.table("stock").values() if row.si.standard == standard), None)
    if found is None and isinstance(standard, tables.OwnName):
        return _OWN
    if found is None:
        known = dict.fromkeys(row.si.standard for row in tables.table("stock").values())
        raise DesignError(tables.unknown("table of stock lengths", standard, known))
    return found

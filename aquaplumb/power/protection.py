"""What cuts the mains when current strays, as through a person in the water: each country's own device by its own name.

Part of `aquaplumb.power`, which is the face of all this. The two are different things. A residual-current device (RCD) trips
at 30 mA, enough to keep a heart from fluttering; a North American ground-fault circuit interrupter (GFCI) of class A trips at
4 to 6 mA, where a hand can still let go. One is no other word for the other, and neither is sold with the other's plug.
"""

from __future__ import annotations

from aquaplumb.tables import unknown
from aquaplumb.units import DesignError

_NAMED = {  # by the unit system of a build: how its shops call the device, and in brackets behind another word
    "metric": ("residual-current device (RCD), 30 mA", "RCD, 30 mA"),
    "US": ("ground-fault circuit interrupter (GFCI), class A, 5 mA", "class A GFCI, 5 mA"),
}


def shock_protection(units: str, *, brief: bool = False) -> str:
    """The device that has to stand before whatever hangs on the mains beside water, by its name where a build stands.

    Parameters
    ----------
    units : str
        Of the build: "metric" or "US".
    brief : bool
        A few letters, to stand behind other words.

    Returns
    -------
    str

    Source
    ------
    30 mA: additional protection by RCD, IEC 60364-4-41 clause 415.1 (from memory). Class A: trips at 6 mA and not under 4 mA,
    UL 943 as the NEC's own note to its definition of a GFCI quotes it; 5 mA is the middle, as it is sold.

    Examples
    --------
    >>> shock_protection("US", brief=True)
    'class A GFCI, 5 mA'
    """
    if not isinstance(units, str) or units not in _NAMED:
        raise DesignError(unknown("list of unit systems", units if isinstance(units, str) else type(units).__name__, _NAMED))
    return _NAMED[units][brief]

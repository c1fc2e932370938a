"""The bases that raise alkalinity, and the pH that each leaves: a closed carbonate water.

Alkalinity is always *as calcium carbonate* (CaCO3). All of it is reached through `startup`.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import tables
from aquaplumb.units import (
    CONCENTRATION,
    NUMBER,
    TEMPERATURE,
    Concentration,
    Number,
    Record,
    Temperature,
    check_range,
    takes_quantities,
)
from aquaplumb.water.chemistry import ZERO_CELSIUS, carbonate_constants
from aquaplumb.water.halving import last_below

CHARGE = 0.0500435  # kg CaCO3 for a mole of charge


@tables.table_type("bases")
class Base(tables.Row):
    """A base: the alkalinity that a gram brings, the most for a day, what else it adds, and how it hurts.

    ``carbon`` is the moles of carbon it brings for each charge: 1 for a bicarbonate, ½ for a carbonate, 0 for a
    hydroxide.

    Source: ``data/bases.csv``, row by row.
    """

    formula: str
    alkalinity: Number
    carbon: Number
    daily_lot: Concentration | None
    adds: str
    hazards: str


class BasePh(Record):
    """The pH after a lot of base: at once, and settled, when fish and air have brought the carbon dioxide back.

    Source: `ph_after_base`.
    """

    at_once: Number
    settled: Number


def base_row(name: str):
    """The row of a base, by its name or its formula."""
    for row in tables.table("bases").values():
        if row.si.formula == name:
            return row.si
    return tables.row("bases", name, "table of bases").si


class Carbonate:
    """Closed carbonate water, in mol/m³: what it holds at a pH, with the constants of `carbonate_constants`."""

    def __init__(self, ph, alkalinity, temperature, where):
        check_range(ph, 5.0, 9.0, NUMBER, f"{where}: ph", "this carbonate sum")
        check_range(alkalinity, 0.0, 1.0, CONCENTRATION, f"{where}: alkalinity", "this carbonate sum")
        check_range(temperature, ZERO_CELSIUS, 313.15, TEMPERATURE, f"{where}: temperature", "this carbonate sum")
        log_k1, log_k2 = carbonate_constants(temperature)
        self.k1, self.k1k2 = 10.0**log_k1, 10.0 ** (log_k1 + log_k2)
        t = temperature
        self.kw = 10.0 ** (293.29227 + 0.1360833 * t - 10576.913 / t - 123.73158 * np.log10(t) - 6.996455e-5 * t * t)
        self.alkalinity = alkalinity / CHARGE
        self.dioxide = (self.alkalinity - self.water(ph)) / self.charges(ph)
        self.carbon = self.dioxide * self.total(ph)

    def charges(self, ph):
        """Charges of bicarbonate and carbonate for each mole of carbon dioxide."""
        return self.k1 * 10.0**ph + 2 * self.k1k2 * 10.0 ** (2 * ph)

    def total(self, ph):
        """All the carbon for each mole of carbon dioxide."""
        return 1 + self.k1 * 10.0**ph + self.k1k2 * 10.0 ** (2 * ph)

    def water(self, ph):
        """The alkalinity of the water itself: hydroxide less acid."""
        return 1e3 * (self.kw * 10.0**ph - 10.0**-ph)


@takes_quantities
def ph_after_base(rise: Concentration, base: str, *, alkalinity: Concentration, ph: Number, temperature: Temperature = 298.15) -> BasePh:
    """The pH after a base has raised the alkalinity: at once, and settled some hours later.

    At once no gas has moved: a hydroxide eats the carbon dioxide and the pH leaps; a bicarbonate hardly moves it.
    Later the fish and the air bring the carbon dioxide back to where it was, and every base ends at the same pH.

    rise: As CaCO3, all of it dissolved.
    base: A name in the table of bases, or its formula.
    alkalinity: As CaCO3, before.
    ph: Before, 5 to 9.
    temperature: 0 to 40 °C.
    returns: at_once, settled

    Alkalinity = C α(pH) + Kw/h − h, C all the dissolved carbon; the constants as in `water.carbon_dioxide`, activity
    taken as concentration. No chalk falls out; above pH 8.5 in hard water it does, and takes alkalinity along.

    Source: Plummer and Busenberg (1982) for K1 and K2; Kw as in PHREEQC's phreeqc.dat.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> after = startup.ph_after_base("10 mg/L", "potassium hydroxide", alkalinity="50 mg/L", ph=6.8)
    >>> print(round(after.at_once, 1), round(after.settled, 1))
    7.2 6.9
    """
    check_range(rise, 0.0, 1.0, CONCENTRATION, "ph_after_base: rise", "this carbonate sum")
    water = Carbonate(ph, alkalinity, temperature, "ph_after_base")
    wanted = water.alkalinity + rise / CHARGE
    carbon = water.carbon + base_row(base).carbon * rise / CHARGE
    low, high = (np.full(np.shape(wanted * carbon * ph), end) for end in (4.0, 13.0))
    at_once = last_below(low, high, lambda ph: carbon * water.charges(ph) / water.total(ph) + water.water(ph) < wanted)
    settled = last_below(low, high, lambda ph: water.dioxide * water.charges(ph) + water.water(ph) < wanted)
    return BasePh.from_si(at_once=at_once[()], settled=settled[()])

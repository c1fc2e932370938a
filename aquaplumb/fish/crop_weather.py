"""How air and sun slow plants down: the part of its usual growth that a crop has in a month's warmth and light. All of it is reached through `fish`."""

from __future__ import annotations

import numpy as np

from aquaplumb import tables
from aquaplumb.units import DesignError, Insolation, Number, Temperature, takes_quantities


@tables.table_type("cropgrowth")
class CropGrowth(tables.Row):
    """What air and sun a crop needs to grow as usual; a row of a group is for crops that have none.

    base: Of the air, at and below which it stands still.
    best: … from which its usual time to harvest holds.
    sun_typical: On the plants, each day, from which it holds; print has it from `sun_low` to `sun_high`.

    Source: ``data/cropgrowth.csv``, row by row.
    """

    base: Temperature
    best: Temperature
    sun_low: Insolation
    sun_typical: Insolation
    sun_high: Insolation


@takes_quantities
def crop_growth(crop: str, *, air: Temperature | None = None, sun: Insolation | None = None, band: str = "typical") -> Number:
    """The part of its usual growth that a crop has in some air and light, from 0 to 1; so much of the feed it takes up, too.

    air: The mean of a day or a month. Left out, it is warm enough.
    sun: That reaches the plants, on level ground. Left out, it is enough.
    band: Which of print's lights is enough, "low", "typical" or "high".

    min((air − base) / (best − base), sun / enough, 1): warmth by degree-days, light in proportion (a per cent less light is 0.8 to 1 %
    less of lettuce, 0.7 to 1 % of fruit), and what is shortest decides. Heat that harms a crop is left out, and so is light
    by lamps. A kilowatt-hour of sunshine has 7.06 mol of light that plants use.

    Source: ``data/cropgrowth.csv``, row by row; Marcelis and others, Acta Horticulturae 711 (2006) 97 (abstract read); Logan,
    Sams and Faust, AMS annual meeting (2016), paper 242 (abstract read): 7.058 mol/kWh.

    >>> from aquaplumb import fish
    >>> print(round(fish.crop_growth("lettuce", air="10 degC", sun="3 kWh/m2/d"), 2))
    0.52
    """
    if band not in tables.BANDS:
        raise DesignError(tables.unknown("list of bands", band, tables.BANDS))
    known, own = {one.si.name: one.si for one in tables.table("cropgrowth").values()}, tables.row("crops", crop).si
    row = known.get(own.name) or known.get(own.group) or known["leafy"]
    warmth = 1.0 if air is None else (np.asarray(air) - row.base) / (row.best - row.base)
    light = 1.0 if sun is None else np.asarray(sun) / getattr(row, f"sun_{band}")
    return np.clip(np.minimum(warmth, light), 0.0, 1.0)[()]

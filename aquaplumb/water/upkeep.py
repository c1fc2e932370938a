"""Upkeep: which parts to clean, how often for your load, and how to keep the bacteria alive while you do.

All of it is the trade's habit: *common practice, no source*. All of it is reached through `startup`.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import tables
from aquaplumb.fish.nitrification import above_zero
from aquaplumb.units import MassRate, Record, Time, Volume, takes_quantities

USUAL_FEED = 1.0 / 86400  # kg/m³/s: a gram of feed a day on a litre of media, FAO 589's rule


@tables.table_type("upkeep")
class UpkeepRow(tables.Row):
    """A task of upkeep: how often at the usual load, the span it may stretch to, how to do it and what never to do.

    Source: ``data/upkeep.csv``, row by row.
    """

    least: Time
    usual: Time
    most: Time
    goes_with: str
    of: str
    how: str
    never: str


class Task(Record):
    """A task with the days between two times, for a load; `of` is what has to be there for it: trap, mat, brushes, media, drippers, stones or siphons, spare air.

    Source: `upkeep_plan`.
    """

    name: str
    every: Time
    of: str
    how: str
    never: str
    note: str


@takes_quantities
def upkeep_plan(feed: MassRate, media: Volume, *, water: str = "") -> tuple[Task, ...]:
    """The tasks of upkeep with their intervals: what goes with solids comes sooner when a litre of media gets more feed.

    Common practice, no source, and no more than a first guess. Never wash media with chlorinated water, never more
    than a third at a time.

    feed (one value):
    media (one value): Of all beds and filters.
    water: Where it comes from, or what is in tap water: "chlorine", "chloramine", "well", "rain", "reverse osmosis"; "" where nobody has said.
    returns (tuple of Task):

    every = usual · (1 g/L/d)/(feed/media), kept between the table's least and most; other tasks keep their usual
    interval.

    Source: Common practice, no source; the usual load is the 1 g of feed on a litre of FAO Technical Paper 589 §8.

    >>> from aquaplumb.water import startup
    >>> from aquaplumb import u
    >>> plan = startup.upkeep_plan("400 g/d", "200 L")
    >>> print(next(round(task.every.to("d"), 0) for task in plan if task.name == "rinse a third of the media"))
    90 d
    """
    above_zero(feed, "upkeep_plan: feed", "200 g/d")
    above_zero(media, "upkeep_plan: media", "200 L")
    slower = USUAL_FEED * media / feed
    rows = [row.si for row in tables.table("upkeep").values() if row.si.goes_with in ("", "solids", water)]
    return tuple(
        Task.from_si(
            name=row.name,
            every=float(np.clip(row.usual * slower, row.least, row.most)) if row.goes_with == "solids" else row.usual,
            of=row.of,
            how=row.how,
            never=row.never,
            note=row.note,
        )
        for row in rows
    )

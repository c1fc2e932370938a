"""What plants grow in, worked out of a build: area, plants, crops and feed, vessel by vessel; bare SI numbers.

`Balance.beds` keeps it: beds, rafts, channels and towers alike.
"""

from __future__ import annotations

from aquaplumb import tables
from aquaplumb.build import Build
from aquaplumb.build.vessels import Vessel, kinds_in_words, plan_area
from aquaplumb.fish import beds
from aquaplumb.system.states import Growing, GrowingVessel
from aquaplumb.tables import BANDS


def growing(build: Build, feed: float) -> Growing:
    """All that plants grow in, and what a day's feed asks of it."""
    each = {v.si.name: growing_vessel(build, v) for v in build.growing}
    area = sum(g.area for g in each.values())
    ratio = {band: _mean(each, area, band) for band in BANDS} if area > 0 else None
    if ratio is None:
        printed = beds.feed_per_area.si(build.plants.si.crop).si
        ratio = {band: getattr(printed, band) for band in BANDS} | {
            "typical": printed.typical if (told := build.plants.si.feed_per_area) is None else told
        }
    return Growing(
        each=each,
        words=kinds_in_words(build.growing) or "beds",
        crops=tuple(dict.fromkeys(crop for g in each.values() for crop in g.crops)) or (build.plants.si.crop,),
        area=area,
        area_needed=beds.growing_area.si(feed, ratio["typical"]),
        area_band=(feed / ratio["high"], feed / ratio["low"]),
        feed_per_area=ratio["typical"],
        plants=sum(g.plants for g in each.values()),
    )


def growing_vessel(build: Build, vessel: Vessel) -> GrowingVessel:
    """What grows in one vessel."""
    v, plants = vessel.si, build.plants.si
    own = bool(v.crop)  # what [plants] says of area and spacing, it says of its own crop
    crops = dict(v.crop) or {plants.crop: 1.0}
    rows = {name: tables.row(beds.Crop, name).si for name in crops}
    spacing = {name: (None if own else plants.spacing) or row.spacing_typical for name, row in rows.items()}
    sites = v.sites * v.count if v.sites else None
    stand = v.kind in ("channel", "tower") and sites is not None  # their plants stand wider than they are
    area = sum(share * sites / spacing[name] for name, share in crops.items()) if stand else plan_area.si(vessel)
    many = sites or sum(share * beds.plant_count.si(area, spacing[name]) for name, share in crops.items())
    printed = {name: beds.feed_per_area.si(name, grown_in=v.kind).si for name in crops}
    ratio = {band: sum(share * getattr(printed[name], band) for name, share in crops.items()) for band in BANDS}
    told = v.feed_per_area if v.feed_per_area is not None or own else plants.feed_per_area
    return GrowingVessel(v.kind, area, many, crops, ratio | ({"typical": told} if told is not None else {}))


def _mean(each: dict[str, GrowingVessel], area: float, band: str) -> float:
    """The feed on a square metre of all of them; the one ratio where they have but one."""
    ratios = {g.feed_per_area[band] for g in each.values()}
    return ratios.pop() if len(ratios) == 1 else sum(g.area * g.feed_per_area[band] for g in each.values()) / area

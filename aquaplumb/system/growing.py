"""What plants grow in, worked out of a build: area, plants, crops, feed and the surface for bacteria, vessel by vessel; bare SI numbers.

`Balance.beds` keeps it: beds, rafts, channels and towers alike.
"""

from __future__ import annotations

import math

from aquaplumb import tables
from aquaplumb.build import Build
from aquaplumb.build.vessels import Vessel, around, kinds_in_words, plan_area
from aquaplumb.fish import beds, living
from aquaplumb.system.states import Growing, GrowingVessel

BANDS = ("low", "typical", "high")


def growing(build: Build, feed: float, ammonia: float, *, cold: float, warm: float) -> Growing:
    """All that plants grow in, and what a day's feed and its ammonia ask of it."""
    each = {v.si.name: growing_vessel(build, v) for v in build.growing}
    area = sum(g.area for g in each.values())
    ratio = {band: _mean(each, area, band) for band in BANDS} if area > 0 else None
    if ratio is None:
        printed = beds.feed_per_area.si(build.plants.si.crop).si
        ratio = {band: getattr(printed, band) for band in BANDS} | {"typical": build.plants.si.feed_per_area or printed.typical}
    needed, slowest = _surface_needed(build, ammonia, cold, warm)
    return Growing(
        each=each,
        words=kinds_in_words(build.growing) or "beds",
        crops=tuple(dict.fromkeys(crop for g in each.values() for crop in g.crops)) or (build.plants.si.crop,),
        area=area,
        media=sum(g.media for g in each.values()),
        surface={band: sum((g.surface[band] for g in each.values()), 0.0) for band in BANDS},
        area_needed=beds.growing_area.si(feed, ratio["typical"]),
        area_band=(feed / ratio["high"], feed / ratio["low"]),
        feed_per_area=ratio["typical"],
        surface_needed=needed,
        slowest=slowest,
        plants=sum(g.plants for g in each.values()),
    )


def growing_vessel(build: Build, vessel: Vessel) -> GrowingVessel:
    """What grows in one vessel, and on what its bacteria live."""
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
    told = v.feed_per_area or (None if own else plants.feed_per_area)
    media = plan_area.si(vessel) * (v.media_depth or 0.0) if v.medium else 0.0
    medium = tables.row("media", v.medium).si if v.medium else None
    return GrowingVessel(
        kind=v.kind, area=area, plants=many, crops=crops, feed_per_area=ratio | ({"typical": told} if told else {}),
        media=media, medium=medium, surface=living_surface(vessel),
    )  # fmt: skip


def living_surface(vessel: Vessel) -> dict[str, float]:
    """The surface of a growing vessel that bacteria live on [m²], by band."""
    v, area = vessel.si, plan_area.si(vessel)
    found = None
    if v.medium:
        row = tables.row("media", v.medium).si
        volume = area * (v.media_depth or 0.0)
        found = living.media_surface.si(volume, row.surface_typical, low=row.surface_low, high=row.surface_high)
        found = living.trickled_surface.si(found) if v.kind == "tower" else found
    elif v.kind == "raft":
        found = living.raft_surface.si(area, v.count * around(v) * v.working_depth)
    elif v.kind == "channel":
        found = living.channel_surface.si(area)
    elif v.kind == "tower":
        found = living.tower_surface.si(around(v), v.height, count=v.count)
    return {band: float(getattr(found.si, band)) if found else 0.0 for band in BANDS}


def _mean(each: dict[str, GrowingVessel], area: float, band: str) -> float:
    """The feed on a square metre of all of them; the one ratio where they have but one."""
    ratios = {g.feed_per_area[band] for g in each.values()}
    return ratios.pop() if len(ratios) == 1 else sum(g.area * g.feed_per_area[band] for g in each.values()) / area


def _surface_needed(build: Build, ammonia: float, cold: float, warm: float) -> tuple[dict[str, float], float]:
    """(the living surface that the ammonia asks for [m²], by band; the water in which it does [K])."""
    own, needed = build.water.si.nitrification_rate, dict.fromkeys(BANDS, math.inf)
    slowest = cold if own is not None else min(cold, warm, key=lambda t: beds.nitrification_rate.si(t).si.typical)
    if own is None:
        usual = beds.nitrification_rate.si(slowest).si
        needed = {band: beds.nitrifying_area.si(ammonia, getattr(usual, band)) for band in BANDS}
    elif own > 0:
        needed = dict.fromkeys(BANDS, beds.nitrifying_area.si(ammonia, own))
    return needed, slowest

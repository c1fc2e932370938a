"""Where bacteria live in a build and turn its ammonia: media, boards and walls, vessel by vessel; bare SI numbers.

`Balance.living` keeps it. What a trickling filter's media are worth hangs on the water that comes to it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from aquaplumb import tables
from aquaplumb.build import Build
from aquaplumb.build.shapes import around
from aquaplumb.build.vessels import TRICKLES, Vessel, kinds_in_words, plan_area
from aquaplumb.fish import beds, living
from aquaplumb.system.states import Living, LivingVessel
from aquaplumb.tables import BANDS
from aquaplumb.water import filters


def living_of(build: Build, flows: Mapping[str, float], ammonia: float, *, cold: float, warm: float) -> Living:
    """Where bacteria live, and what the ammonia asks of it; `flows` are what comes into each vessel over the hour [m³/s]."""
    each = {name: living_vessel(v, flows[name]) for name, v in build.vessels.items() if v.grows or v.media}
    needed, slowest = _surface_needed(build, ammonia, cold, warm)
    return Living(
        each=each,
        words=kinds_in_words(build.vessels[name] for name in each) or "beds",
        first=_first(build, set(each)),
        media=sum(one.media for one in each.values()),
        surface={band: sum((one.surface[band] for one in each.values()), 0.0) for band in BANDS},
        surface_needed=needed,
        slowest=slowest,
    )


def living_vessel(vessel: Vessel, flow: float) -> LivingVessel:
    """On what the bacteria of one vessel live, when so much water comes into it [m³/s]."""
    v, area = vessel.si, plan_area.si(vessel)
    found, medium = None, tables.row("media", v.medium).si if v.medium else None
    if medium:
        found = living.media_surface.si(vessel.media, medium.surface_typical, low=medium.surface_low, high=medium.surface_high)
        if v.kind == "tower":
            found = living.trickled_surface.si(found)
        elif set(v.does) & set(TRICKLES):
            found = filters.wetted_surface.si(found, flow / area)
        elif "moving bed" in v.does:
            found = filters.moving_surface.si(found)
    elif v.kind == "raft":
        found = living.raft_surface.si(area, v.count * around(v) * v.working_depth)
    elif v.kind == "channel":
        found = living.channel_surface.si(area)
    elif v.kind == "tower":
        found = living.tower_surface.si(around(v), v.height, count=v.count)
    return LivingVessel(v.kind, vessel.media, medium, {band: float(getattr(found.si, band)) if found else 0.0 for band in BANDS})


def _first(build: Build, lives: set[str]) -> tuple[str, ...]:
    """Of the vessels where bacteria live, those that get water from elsewhere: what falls from one to the next is counted once."""
    ways = [(line.si.source, pipe.si.to) for line in build.pumped.values() for pipe in line.si.pipe if pipe.si.to]
    ways += [(line.si.source, line.si.to) for line in build.drops.values() if not line.si.emergency]
    return tuple(name for name in build.vessels if name in lives and any(to == name and source not in lives for source, to in ways))


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

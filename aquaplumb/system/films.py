"""Water on its way through film channels, towers and trickling media: what is in them only while water comes, and runs out when the pumps stop.

Bare SI numbers. The vessel's own water stands at its foot; what is told here comes on top, and grows with the flow:

* a channel's film, at the depth of even flow: Manning with roots in it, or a laminar film where that is deeper;
* on the walls, mats and roots of a tower, and on trickling media, a film that falls by its own weight (Nusselt 1916).

What mats and roots soak up stays in them when the pumps stop, and is not in it.
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb import tables
from aquaplumb.build import shapes
from aquaplumb.build.vessels import TRICKLES, Vessel, plan_area, water_volume
from aquaplumb.plumbing import falls, part_full
from aquaplumb.system.curves import DepthCurve
from aquaplumb.units import GRAVITY
from aquaplumb.water import kinematic_viscosity

ROOTED = 0.08  # Manning's n among full-grown roots: dense weeds as high as the water, 0.05 to 0.12 (Chow 1959, table 5-6, from memory)
TOWER_SURFACE = (
    200.0  # m²/m³ of mat and roots in a tower that the file says no medium of: curled filter mat has 150 to 300; common practice, no source
)
_POINTS = 300  # of a curve, below its lip and above, close together at the lip


def flows_through(vessel: Vessel) -> bool:
    """Whether water is on its way in a vessel, beside what stands in it."""
    v = vessel.si
    return (v.kind == "channel" and v.slope > 0) or v.kind == "tower" or bool(set(v.does) & set(TRICKLES) and v.medium)


def film(vessel: Vessel, flow, temperature: float, depth=0.0):
    """The water on its way [m³] in all of a vessel's alike, at a flow through them together; under water up to a depth there is none.

    Source: Manning for a channel (wide film: h = (q n / (w √S))^0.6, its walls wetted too), h³ = 3 ν q / (w g S) where it is laminar;
    Nusselt 1916 for a falling film, h³ = 3 ν q / (P g) with the wetted perimeter P = surface over height.
    """
    v = vessel.si
    if not flows_through(vessel):
        return np.zeros(np.broadcast(flow, depth).shape)[()]
    each, viscosity = np.maximum(flow, 0.0) / v.count, float(kinematic_viscosity.si(temperature))
    if v.kind == "channel":
        dry = np.clip(1 - np.asarray(depth) / (v.slope * v.length), 0.0, 1.0)
        return v.count * v.length * dry * _across(v, each, viscosity)
    surface, high = _surface(vessel) / v.count, _height(vessel)
    thick = np.cbrt(3 * viscosity * each * high / (surface * GRAVITY))
    return v.count * surface * thick * np.clip(1 - np.asarray(depth) / v.height, 0.0, 1.0)


def _across(v, flow, viscosity: float):
    """The area of a channel's stream across it [m²], at the depth of even flow; no more than the channel has."""
    if v.shape == "lying":
        rooted = flow * ROOTED / part_full.MANNING  # by Manning a flow goes with 1 / n
        fill = part_full.gravity_fill.si(rooted, v.diameter, v.slope)
        return shapes.segment(np.minimum(fill * v.diameter, v.height), v.diameter)
    rough = (flow * ROOTED / (v.width * math.sqrt(v.slope))) ** 0.6
    deep = rough
    for _ in range(20):  # its walls are wetted too: R = w h / (w + 2 h)
        deep = rough * (1 + 2 * deep / v.width) ** 0.4
    laminar = np.cbrt(3 * viscosity * flow / (v.width * GRAVITY * v.slope))
    return v.width * np.minimum(np.maximum(deep, laminar), v.height)


def _surface(vessel: Vessel) -> float:
    """The surface that water falls over [m²], in all of them: of the medium, else of what hangs in a tower."""
    v = vessel.si
    if v.medium and vessel.media > 0:
        return vessel.media * tables.row("media", v.medium).si.surface_typical
    return TOWER_SURFACE * plan_area.si(vessel) * v.height


def _height(vessel: Vessel) -> float:
    """From where its water falls to its foot [m]."""
    if vessel.si.medium and vessel.media > 0:
        return vessel.media / plan_area.si(vessel)
    return vessel.si.height


def held(vessel: Vessel, ways: list[tuple[float, falls.Way, float]], temperature: float) -> tuple[np.ndarray, np.ndarray]:
    """(depths [m], the water at each [m³]) of a vessel, with what is on its way when its drains carry as much as that depth drives into them.

    `ways` are its drains: (lip over its floor [m], the way, the open part). Taken as steady at each depth, so that what comes in and
    what goes out meet in one store; how a film runs out when nothing comes any more then follows by itself.

    Source: a nonlinear store; kinematic flow, as in Chow, Maidment and Mays, Applied Hydrology (1988), chapter 8, from memory.
    """
    v = vessel.si
    lip = min(max(0.0, min(at for at, *_ in ways)), v.height)
    part = np.linspace(0.0, 1.0, _POINTS)
    depth = np.unique(np.concatenate([lip * (1 - part**2), lip + (v.height - lip) * part**2]))
    flow = sum(way.mouth(np.maximum(depth - at, 0.0), clear) for at, way, clear in ways)
    volume = np.maximum.accumulate(water_volume.si(vessel, depth) + film(vessel, flow, temperature, depth))
    return depth, volume + 1e-9 * plan_area.si(vessel) * depth  # it rises all the way


def curves(network) -> dict[int, DepthCurve]:
    """The curve of each vessel of a network that water is on its way through and down a drain that is no siphon, by its column."""
    n, found = network, {}
    lines = list(n.build.falling.values())
    for i, vessel in enumerate(n.vessels[: n.count]):
        drains = [f for f in np.flatnonzero(n.fall_from == i) if f not in n.siphons and not lines[f].si.emergency]
        if drains and flows_through(vessel):
            ways = [(float(n.lip[f] - n.floor[i]), n.fallen.ways[f], float(n.clear[f])) for f in drains]
            found[i] = DepthCurve(*held(vessel, ways, n.cold))
    return found

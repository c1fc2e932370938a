"""Vessels: tanks, sumps and beds as shapes that hold water.

A vessel is round, rectangular or cone-bottomed, stands with its inside bottom at a floor elevation, has a rim,
and is worked at a level. A bed is filled with media up to a depth: there water fills only the voids.
"""

from __future__ import annotations

import math
from typing import ClassVar

import numpy as np

from aquaplumb.units import PART, Area, Bore, DesignError, Head, Length, Mass, Number, Record, Volume, takes_quantities

KINDS = ("fish tank", "settling tank", "buffer tank", "bed", "sump")
JUNCTION = "junction"  # a tee of a falling tree of pipe (`aquaplumb.build.trees`): no vessel that anybody names
SHAPES = ("round", "rectangular", "cone-bottomed")


class Vessel(Record):
    """One vessel. Elevations count from the site's zero mark, which is yours to choose.

    Fields: `floor` is the elevation of the inside bottom, `height` from there to the rim, `working_depth` the
    usual water depth. `void` is the share of the media's volume that water can fill.
    """

    name: str
    kind: str
    shape: str
    height: Length
    floor: Head
    working_depth: Length
    diameter: Length | None = None
    length: Length | None = None
    width: Length | None = None
    cone_height: Length | None = None
    medium: str = ""
    media_depth: Length | None = None
    void: Number = 1.0
    empty_mass: Mass = 0.0
    freeboard: Bore = 0.03

    choices: ClassVar[dict] = {"kind": KINDS, "shape": SHAPES}
    limits: ClassVar[dict] = {"void": PART}

    def check(self) -> None:
        """Refuse a shape that cannot stand."""
        v = self.si
        needed: tuple[str, ...] = ("length", "width") if v.shape == "rectangular" else ("diameter",)
        needed += ("cone_height",) if v.shape == "cone-bottomed" else ()
        for name in needed:
            if getattr(v, name) is None:
                raise DesignError(f"{v.name} is {v.shape}; it needs {' and '.join(needed)}.")
        for name in ("height", *needed):
            if not getattr(v, name) > 0:
                raise DesignError(f"{v.name}: {name.replace('_', ' ')} is {getattr(v, name):g} m; it must be more than 0.")
        if not 0 <= v.working_depth <= v.height:
            raise DesignError(f"{v.name}: working depth is {v.working_depth:g} m; it lies between 0 and the height, {v.height:g} m.")
        if v.media_depth is not None and not 0 < v.media_depth <= v.height:
            raise DesignError(f"{v.name}: media depth is {v.media_depth:g} m; it lies between 0 and the height, {v.height:g} m.")
        if v.media_depth is not None and v.shape == "cone-bottomed":
            raise DesignError(f"{v.name} is cone-bottomed and holds media; give it a flat bottom, or leave the media out.")
        if v.cone_height is not None and v.cone_height >= v.height:
            raise DesignError(f"{v.name}: the cone is {v.cone_height:g} m high; the whole vessel only {v.height:g} m.")

    @property
    def rim(self) -> float:
        """Elevation of the rim, bare metres."""
        return self.si.floor + self.si.height

    @property
    def level(self) -> float:
        """Elevation of the water at its working depth, bare metres."""
        return self.si.floor + self.si.working_depth


@takes_quantities
def plan_area(vessel: Vessel) -> Area:
    """The area of a vessel seen from above, at its straight wall.

    Source: plane geometry.

    >>> bed = Vessel(name="bed", kind="bed", shape="rectangular", length="1.2 m", width="1 m", height="0.35 m",
    ...              floor="0.6 m", working_depth="0.28 m")
    >>> print(plan_area(bed))
    1.2 m²
    """
    v = vessel.si
    return v.length * v.width if v.shape == "rectangular" else math.pi * v.diameter**2 / 4


@takes_quantities
def water_volume(vessel: Vessel, depth: Length) -> Volume:
    """The water in a vessel that stands at a depth, media and cone allowed for.

    depth: From the inside bottom; beyond the rim it counts as the rim, below the bottom as empty.

    Source: plane geometry; a cone holds a third of its cylinder, and its radius grows with depth.

    >>> tank = Vessel(name="tank", kind="fish tank", shape="round", diameter="1.4 m", height="0.8 m", floor="0 m",
    ...               working_depth="0.7 m")
    >>> print(round(water_volume(tank, "0.65 m").to("L"), 0))
    1001 L
    """
    v = vessel.si
    depth = np.clip(depth, 0.0, v.height)
    area = plan_area.si(vessel)
    if v.shape == "cone-bottomed":
        in_cone = np.minimum(depth, v.cone_height)
        volume = area * v.cone_height / 3 * (in_cone / v.cone_height) ** 3 + area * np.maximum(depth - v.cone_height, 0)
    else:
        volume = area * depth
    if v.media_depth is not None:
        volume = volume - (1 - v.void) * area * np.minimum(depth, v.media_depth)
    return float(volume) if np.ndim(volume) == 0 else volume


@takes_quantities
def water_depth(vessel: Vessel, volume: Volume) -> Length:
    """How deep a volume of water stands in a vessel: the inverse of `water_volume`.

    volume: Less than nothing counts as empty, more than it holds as full to the rim.

    Source: plane geometry, as `water_volume`.

    >>> sump = Vessel(name="sump", kind="sump", shape="rectangular", length="1.5 m", width="1.2 m", height="0.7 m",
    ...               floor="-0.7 m", working_depth="0.4 m")
    >>> print(round(water_depth(sump, "900 L"), 2))
    0.5 m
    """
    v, area = vessel.si, plan_area.si(vessel)
    volume = np.clip(volume, 0.0, water_volume.si(vessel, v.height))
    low = {"cone-bottomed": v.cone_height}.get(v.shape, v.media_depth or 0.0)  # up to there it holds less than its area
    held = water_volume.si(vessel, low)
    with np.errstate(divide="ignore", invalid="ignore"):
        inside = low * (volume / held) ** (1 / 3 if v.shape == "cone-bottomed" else 1)
    depth = np.where(volume < held, inside, low + (volume - held) / area)
    return float(depth) if np.ndim(depth) == 0 else depth

"""Vessels: tanks, sumps and all that plants grow in, as shapes that hold water.

A vessel is round, rectangular, cone-bottomed or lying (a drum or pipe on its side), stands with its inside bottom at a floor elevation, has a rim,
and is worked at a level. Where media fill it up to a depth, water fills only the voids. Plants grow in beds of media, on
rafts that float over deep water, in channels that lie at a slope, and in towers, upright columns that drip.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

import numpy as np

from aquaplumb import tables
from aquaplumb.build import shapes
from aquaplumb.given import takes_things
from aquaplumb.plausible import Told
from aquaplumb.records import FieldError, said
from aquaplumb.units import (
    AREA,
    LENGTH,
    VOLUME,
    AirFlow,
    Angle,
    Area,
    AreaRate,
    Bore,
    DesignError,
    Head,
    Length,
    Mass,
    Number,
    Volume,
    takes_quantities,
)

GROWING = ("bed", "raft", "channel", "tower")  # what plants grow in
# What a filter does: first what takes out solids, then what turns ammonia on media, then what drives out carbon dioxide.
SETTLES = ("settling", "swirl", "radial flow")
SIEVES = ("screen", "mat", "brushes")
TRICKLES = ("trickling", "degassing")  # water falls through media in the air
FILTERS = (*SETTLES, *SIEVES, "media", "moving bed", *TRICKLES)
_MEDIA_IN = ("mat", "brushes", "media", "moving bed", *TRICKLES)  # what a filter may hold media for
KINDS = ("fish tank", "settling tank", "filter", "buffer tank", *GROWING, "sump")
JUNCTION = "junction"  # a tee of a falling tree of pipe (`aquaplumb.build.trees`): no vessel that anybody names
FOOT_WATER = 0.005  # m: how deep water stands at the foot of a channel or tower, where the file does not say; common practice, no source


class Vessel(Told):
    """One vessel. Elevations count from the site's zero mark, which is yours to choose.

    Fields: `floor` is the elevation of the inside bottom, `height` from there to the rim, `working_depth` the
    usual water depth (of a channel or tower, at its foot: 5 mm where nothing is said). `void` is the share of the media's
    volume that water can fill. `count` is how many alike stand at this level, joined: length, width and height are those of one.
    What plants grow in has a `crop`, by name and share of its places ([plants] says which where it is left out),
    if you like the `sites` for plants in one of them and its own `feed_per_area`; a channel has a `slope`. A filter says what it
    `does`: one or more of `FILTERS`. Media that do not lie in it up to a depth are a `media_volume` (of carriers, mats, brushes), in
    each. `cut_out` is the open part of a top that is closed beside it, `footprint` the floor under one that stands on `legs`, `foot` the
    area of one foot or of the plate under it. `face` is the area of a mat or screen that water passes, `mesh` the width of its openings, `air_flow` what is
    blown into one filter or raft, `air_stones` how many stones hang under one raft's boards. `at` is where its middle stands on the
    ground, along and across [m], a pair for each; `turned` by how much it is turned, seen from above.
    """

    sections = ("vessels.*",)

    name: str
    kind: str
    shape: str
    height: Length | None = None
    floor: Head
    working_depth: Length | None = None
    diameter: Length | None = None
    length: Length | None = None
    width: Length | None = None
    cone_height: Length | None = None
    medium: str = ""
    media_depth: Length | None = None
    void: Number = 1.0
    empty_mass: Mass = 0.0
    freeboard: Bore = 0.03
    count: Number = 1.0
    crop: dict = {}
    sites: Number | None = None
    feed_per_area: AreaRate | None = None
    slope: Number = 0.0
    does: tuple = ()
    media_volume: Volume | None = None
    face: Area | None = None
    mesh: Bore | None = None
    air_flow: AirFlow | None = None
    air_stones: Number = 0.0
    cut_out: Area | None = None
    footprint: Area | None = None
    legs: Number = 0.0
    foot: Area | None = None
    at: tuple = ()
    turned: Angle = 0.0

    choices: ClassVar[dict] = {"kind": KINDS, "shape": tuple(shapes.SIZES)}

    def check(self) -> None:
        """Refuse a shape that cannot stand."""
        v = self.si
        if v.shape == "lying" and v.height is None and v.diameter is not None:
            self._tidied("height", v.diameter)
        needed = shapes.SIZES[v.shape]
        for name in needed:
            if getattr(v, name) is None:
                raise DesignError(f"{v.name} is {v.shape}; it needs {' and '.join(needed)}.")
        for name in ("height", *needed):
            if getattr(v, name) is None:
                raise DesignError(f'{v.name}: height is missing, a length: height = "60 cm".')
        if v.shape == "lying" and v.height > v.diameter + 1e-9:
            raise FieldError(
                "height",
                f"{v.name} lies and is {said(v.diameter, LENGTH)} across; its height over the inside bottom is {said(v.height, LENGTH)}. Leave height out, or give where it is cut open.",
            )
        if v.working_depth is None:
            if v.kind not in ("channel", "tower"):
                raise DesignError(f'{v.name}: working_depth is missing, a length: working_depth = "60 cm".')
            self._tidied("working_depth", min(FOOT_WATER, v.height))
        if not 0 <= v.working_depth <= v.height:
            raise FieldError(
                "working_depth",
                f"{v.name}: working depth is {said(v.working_depth, LENGTH)}; it lies between 0 and the height, {said(v.height, LENGTH)}.",
            )
        if v.kind == "fish tank" and v.working_depth == 0:
            raise FieldError("working_depth", f"{v.name}: working depth is 0; fish need water to swim in.")
        if v.media_depth is not None and not 0 < v.media_depth <= v.height:
            raise FieldError(
                "media_depth",
                f"{v.name}: media depth is {said(v.media_depth, LENGTH)}; it lies between 0 and the height, {said(v.height, LENGTH)}.",
            )
        if v.media_depth is not None and v.shape == "cone-bottomed":
            raise DesignError(f"{v.name} is cone-bottomed and holds media; give it a flat bottom, or leave the media out.")
        if v.cone_height is not None and v.cone_height >= v.height:
            raise FieldError(
                "cone_height", f"{v.name}: the cone is {said(v.cone_height, LENGTH)} high; the whole vessel only {said(v.height, LENGTH)}."
            )
        if v.count != round(v.count):
            raise DesignError(f"{v.name}: count is {v.count:g}; it is how many alike there are, a whole number such as count = 4.")
        if v.cut_out is not None and v.cut_out > shapes.top_area(v) * (1 + 1e-9):
            raise FieldError(
                "cut_out", f"{v.name}: cut_out is {said(v.cut_out, AREA)}, more than its whole top, {shapes.top_area(v):.3g} m²."
            )
        if v.foot is not None and not v.legs:
            raise DesignError(f"{v.name} has the area of a foot and no legs; say how many, such as legs = 4.")
        if v.at and len(v.at) != v.count:
            raise DesignError(
                f"{v.name} says where {len(v.at)} stand{'s' * (len(v.at) == 1)}, and there are {v.count:g}; give at a pair for each, or leave it out."
            )
        self._check_growing()
        self._check_filter()
        self._check_air()

    def _check_growing(self) -> None:
        """Refuse plants where none grow, and a growing vessel that cannot be."""
        v = self.si
        if not self.grows:
            for name in ("crop", "sites", "feed_per_area"):
                if getattr(v, name):
                    raise DesignError(
                        f"{v.name} is a {v.kind}, where nothing grows; give {name} to a {', '.join(GROWING[:-1])} or {GROWING[-1]}, or leave it out."
                    )
        elif v.kind == "tower" and not v.sites:
            raise DesignError(f"{v.name} is a tower; say how many plants one column holds, such as sites = 8.")
        if v.slope and v.kind != "channel":
            raise DesignError(f"{v.name} is a {v.kind}; only a channel has a slope. Leave it out.")
        if v.slope and (v.shape not in ("rectangular", "lying") or v.media_depth is not None):
            raise DesignError(
                f"{v.name} is a channel with a slope; it is rectangular or lying (a pipe) and holds no media up to a depth. Leave the slope out, or those."
            )

    def _check_air(self) -> None:
        """Refuse air where nobody reckons with it, and less than nothing of it."""
        v = self.si
        if v.air_stones and v.kind != "raft":
            raise DesignError(
                f"{v.name} is a {v.kind}; air_stones are those under the boards of a raft. Stones in fish tanks stand in [air]; leave these out."
            )
        if v.air_flow is not None and v.kind not in ("filter", "raft"):
            raise DesignError(
                f"{v.name} is a {v.kind}; air_flow is what is blown into a filter or under a raft. Air for fish tanks stands in [air]; leave it out."
            )
        if v.air_stones != round(v.air_stones):
            raise DesignError(
                f"{v.name}: air_stones is {v.air_stones:g}; it is how many hang under one raft, a whole number such as air_stones = 2."
            )

    def _check_filter(self) -> None:
        """Refuse a filter that does nothing known, and media where none can be."""
        v = self.si
        if isinstance(v.does, str):
            self._tidied("does", (v.does,))
        for one in v.does:
            if one not in FILTERS:
                raise DesignError(f"{v.name}: {tables.unknown('list of what a filter does', one, FILTERS)}")
        if v.kind == "filter" and not v.does:
            raise DesignError(
                f'{v.name} is a filter; say what it does, such as does = "swirl" or does = ["mat", "media"]: {", ".join(FILTERS)}.'
            )
        if v.kind != "filter" and v.does:
            raise DesignError(f'{v.name} is a {v.kind}; only a filter says what it does. Make it kind = "filter", or leave does out.')
        if v.medium or v.media_depth is not None or v.media_volume is not None:
            if v.kind == "raft":
                raise DesignError(f"{v.name} is a raft, boards over open water, and holds no media; put them into a bed or a filter.")
            if v.kind == "fish tank":
                raise DesignError(f"{v.name} is a fish tank, and media in it would hold the fish's dirt; put them into a bed or a filter.")
            if v.kind == "filter" and not set(v.does) & set(_MEDIA_IN):
                raise DesignError(
                    f"{v.name} holds media and does only {' and '.join(v.does)}; say what they are for, such as does = {[*v.does, 'media']}.".replace(
                        "'", '"'
                    )
                )
            if v.media_depth is not None and v.media_volume is not None:
                raise DesignError(f"{v.name}: media_depth and media_volume say the same twice; give one of them.")
        if v.media_volume is not None and not 0 < v.media_volume <= shapes.held(v, v.height):
            raise FieldError(
                "media_volume",
                f"{v.name}: media_volume is {said(v.media_volume, VOLUME)}; it lies between 0 and what one of them holds, {VOLUME.text(shapes.held(v, v.height))}.",
            )

    @property
    def cleans(self) -> tuple[str, ...]:
        """What it does as a filter; a settling tank settles."""
        return ("settling",) if self.si.kind == "settling tank" else self.si.does

    @property
    def media(self) -> float:
        """The volume of its media, bare m³; of all where there are several alike."""
        v = self.si
        if not v.medium:
            return 0.0
        return v.count * v.media_volume if v.media_volume is not None else float(v.count * shapes.held(v, v.media_depth or 0.0))

    @property
    def grows(self) -> bool:
        """Whether plants grow in it."""
        return self.si.kind in GROWING

    @property
    def holds_fish(self) -> bool:
        """Whether it is a fish tank."""
        return self.si.kind == "fish tank"

    @property
    def rim(self) -> float:
        """Elevation of the rim, bare metres."""
        return self.si.floor + self.si.height

    @property
    def level(self) -> float:
        """Elevation of the water at its working depth, bare metres."""
        return self.si.floor + self.si.working_depth


@takes_things
def kinds_in_words(vessels: Iterable[Vessel]) -> str:
    """What vessels are, each kind once and in the plural: "beds", "rafts and channels"."""
    names = [f"{kind}s" for kind in dict.fromkeys(vessel.si.kind for vessel in vessels)]
    return " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))


@takes_quantities
def plan_area(vessel: Vessel) -> Area:
    """The area of a vessel seen from above, at its straight wall; of all where there are several alike.

    Source: plane geometry.

    >>> bed = Vessel(name="bed", kind="bed", shape="rectangular", length="1.2 m", width="1 m", height="0.35 m",
    ...              floor="0.6 m", working_depth="0.28 m")
    >>> print(plan_area(bed))
    1.2 m²
    """
    v = vessel.si
    return v.count * shapes.top_area(v)


@takes_quantities
def open_area(vessel: Vessel) -> Area:
    """The area of a vessel that is open to the air: its cut-out where the top is closed beside it, else all that is seen from above.

    Source: Definition.

    >>> cube = Vessel(name="cube", kind="fish tank", shape="rectangular", length="1.15 m", width="0.95 m", height="0.9 m", floor="0 m",
    ...               working_depth="0.8 m", cut_out="0.5 m2")
    >>> print(open_area(cube))
    0.5 m²
    """
    v = vessel.si
    return v.count * v.cut_out if v.cut_out is not None else plan_area.si(vessel)


@takes_quantities
def footprint(vessel: Vessel) -> Area:
    """The area of floor that a vessel stands over: as told, else as seen from above (a lying drum's whole shade).

    Source: Definition.

    >>> bed = Vessel(name="bed", kind="bed", shape="rectangular", length="1.2 m", width="1 m", height="0.35 m",
    ...              floor="0.6 m", working_depth="0.28 m", footprint="0.9 m2", legs=4, foot="40 cm2")
    >>> print(footprint(bed))
    0.9 m²
    """
    v = vessel.si
    if v.footprint is not None:
        return v.count * v.footprint
    return v.count * v.length * v.diameter if v.shape == "lying" else plan_area.si(vessel)


@takes_quantities
def water_volume(vessel: Vessel, depth: Length) -> Volume:
    """The water in a vessel that stands at a depth, media and cone allowed for.

    depth: From the inside bottom; beyond the rim it counts as the rim, below the bottom as empty.

    Source: plane geometry; a cone holds a third of its cylinder, and its radius grows with depth; a wedge holds a half.

    >>> tank = Vessel(name="tank", kind="fish tank", shape="round", diameter="1.4 m", height="0.8 m", floor="0 m",
    ...               working_depth="0.7 m")
    >>> print(round(water_volume(tank, "0.65 m").to("L"), 0))
    1001 L
    """
    v = vessel.si
    depth = np.clip(depth, 0.0, v.height)
    volume = v.count * shapes.held(v, depth)
    if v.media_depth is not None:
        volume = volume - (1 - v.void) * v.count * shapes.held(v, np.minimum(depth, v.media_depth))
    return float(volume) if np.ndim(volume) == 0 else volume


@takes_things
def held_at_bend(vessel: Vessel) -> float:
    """The water [m³] up to the `shapes.bend` of a vessel: of a long channel as if its walls went on."""
    low, power = shapes.bend(vessel.si)
    return plan_area.si(vessel) * low / power if power > 1 else water_volume.si(vessel, low)


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
    if shapes.curved(v):
        return _halved(vessel, volume)
    low, power = shapes.bend(v)  # up to there it holds less than its area
    held = held_at_bend(vessel)
    with np.errstate(divide="ignore", invalid="ignore"):
        inside = low * (volume / held) ** (1 / power)
    depth = np.where(volume < held, inside, low + (volume - held) / area)
    return float(depth) if np.ndim(depth) == 0 else depth


def _halved(vessel: Vessel, volume):
    """The depth at which a vessel holds a volume, by halving: for a shape that has no formula back."""
    low, high = np.zeros(np.shape(volume)), np.full(np.shape(volume), vessel.si.height)
    for _ in range(60):  # 2⁻⁶⁰ of the height: as fine as the numbers are
        middle = 0.5 * (low + high)
        over = water_volume.si(vessel, middle) > volume
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return float(high) if np.ndim(high) == 0 else high

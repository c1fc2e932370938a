"""What if other beds, another medium, colder water? Notebook 02.

    build = my_build()
    beds_media.picture(build)      # the heaviest bed cut open, to scale
    beds_media.panel(build)        # with sliders

The sliders change all beds that hold a medium alike. Their number is the build file's: each has a pipe, a drain and an
overflow of its own, which no slider can lay.
"""

from __future__ import annotations

import math

from aquaplumb import tables
from aquaplumb.build import Build
from aquaplumb.build.shapes import SIZES
from aquaplumb.figures.beds_media import BedSection, MediaPicture
from aquaplumb.fish import beds
from aquaplumb.review.findings import found
from aquaplumb.system.steady import Steady, solved
from aquaplumb.units import (
    AREA,
    AREA_RATE,
    DEPTH,
    FLOOR_LOAD,
    LENGTH,
    MASS,
    SHARE,
    TEMPERATURE,
    VOLUME,
    Area,
    AreaRate,
    Bore,
    DesignError,
    FloorLoad,
    Length,
    Mass,
    Number,
    Record,
    Temperature,
    Volume,
    in_percent,
    rounded,
)
from aquaplumb.whatif.base import Choice, Slider, listed
from aquaplumb.whatif.beds_tries import of_beds
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

RATES = ("low", "typical", "high")
_DRY = 0.004  # m: a dry top that is thinner is none
_TUFF = 300.0  # m²/m³: of volcanic tuff, data/media.csv, for what holds no medium


class BedsMedia(Record):
    """The beds (rafts, channels, towers) as a place to grow and as a filter, and what they weigh.

    `words` says what they are; where none of them holds a medium, `medium` is empty and `surface` tells of the bacteria, against `needed`.

    `minimum_…` is the calculated minimum of media at the high, typical and low nitrification rate, `minimum` at the
    one counted on; `rule` is the rule with margin. `heavy` is the heaviest bed: its masses, `mass` in all, are full to the rim, with the media's
    high bulk density; `lip` is the height of its drain's lip over its bottom.
    """

    crop: str
    medium: str
    rate: str
    feed_per_area: AreaRate
    crop_low: AreaRate
    crop_high: AreaRate
    cold: Temperature
    area: Area
    area_needed: Area
    area_low: Area
    area_high: Area
    plants: Number
    media: Volume
    minimum: Volume
    minimum_low: Volume
    minimum_high: Volume
    rule: Volume
    heavy: str
    across: Length
    height: Length
    media_depth: Bore | None
    flood: Bore
    lip: Bore | None
    drain_bore: Bore | None
    spacing: Number
    mass_media: Mass
    mass_water: Mass
    mass_box: Mass
    mass: Mass
    load: FloorLoad
    rating: FloorLoad | None
    works: bool
    trouble: str
    kind: str = "bed"
    words: str = "beds"
    surface: Area = 0.0
    needed: Area = 0.0
    first: object = None
    findings: tuple = ()

    def lives(self, system: str = "metric") -> str:
        """What the bacteria live on, against what they need."""
        r = self.si
        minimum = max(r.minimum, 1e-3 * r.media)  # filters may leave the beds nothing to do
        times = r.media / minimum if r.medium else r.surface / r.needed if r.needed > 0 else 0.0
        need = "the calculated minimum" if r.medium else "their need"
        many = f"**{rounded(times, 2)} times** {need}" if times >= 1 else f"only **{in_percent(times)}** of {need}"
        if r.medium:
            return f"**{VOLUME.text(r.media, system)}** of media, {many}"
        return f"Bacteria live on **{AREA.text(r.surface, system)}**, {many}"

    def feeds(self, system: str = "metric") -> str:
        """What the feed supports, the band that print has for it, and whether the area to plant lies in that."""
        r = self.si
        low, high = AREA.text(r.area_low, system), AREA.text(r.area_high, system)
        room = "more than it can feed" if r.area > r.area_high else "in that band" if r.area >= r.area_low else "too little"
        return f"the feed supports {AREA.text(r.area_needed, system)} of {r.crop}, by print {low} to {high}: {room}"

    def sentence(self, system: str = "metric") -> str:
        """The outcome in a few short sentences."""
        r = self.si
        lead = f"**{r.trouble}** " if r.trouble else ""
        said = (
            f"{lead}**{AREA.text(r.area, system)}** to plant in {r.words}; {self.feeds(system)}. {self.lives(system)}. "
            f"Full to the rim, {r.heavy} would weigh {MASS.text(r.mass, system)}."
        )
        if not r.crop_low * 0.999 <= r.feed_per_area <= r.crop_high * 1.001:
            said += f" Print gives {r.crop} in {r.words} {rounded(AREA_RATE.shown(r.crop_low, system))} to {AREA_RATE.text(r.crop_high, system)}."
        return said


def _beds(build: Build) -> list:
    """The beds that hold a medium; without one, all that plants grow in."""
    filled = [bed for bed in build.of_kind("bed") if bed.si.medium]
    if not filled:
        filled = [vessel for vessel in build.growing if vessel.si.kind != "bed"]
    if not filled:
        raise DesignError(
            'no bed of this build holds a medium; give one such as medium = "expanded clay 8-16 mm" and media_depth = "30 cm".'
        )
    return filled


def _outcome(system: Steady, rate: str, first: dict | None = None) -> BedsMedia:
    """The beds of a solved system."""
    b, live, crop, build = system.beds, system.living, system.crop.si, system.build
    filled = _beds(build)
    loads = system.floor_loads()
    heavy = max(filled, key=lambda bed: loads[bed.si.name])
    v = heavy.si
    drain = next((f.si for f in build.falling.values() if f.si.source == v.name and not f.si.emergency), None)
    holding = [live.each[bed.si.name] for bed in filled]
    held = sum(one.media for one in holding)
    specific = sum(one.surface["typical"] for one in holding) / held if held else _TUFF
    others = live.surface["typical"] - sum(one.surface["typical"] for one in holding)  # what lives in filters, on boards and walls
    minimum = {band: beds.media_volume.si(max(area - others, 0.0), specific) for band, area in live.surface_needed.items()}
    seen = tuple(found(system))
    feed, (least, most) = system.fish.feed, b.area_band  # of print, for what it grows in: rafts and channels have bands of their own
    low, high = (feed / most, feed / least) if least > 0 else (b.feed_per_area, b.feed_per_area)
    box, media, water = system.masses(heavy)
    record = {
        "crop": crop.name, "medium": v.medium, "rate": rate, "feed_per_area": b.feed_per_area, "crop_low": low, "crop_high": high,
        "cold": system.cold, "area": b.area, "area_needed": b.area_needed, "area_low": b.area_band[0],
        "area_high": b.area_band[1], "plants": float(int(b.plants)), "media": held, "minimum": minimum[rate],
        "minimum_low": minimum["high"], "minimum_high": minimum["low"],
        "rule": beds.media_volume_by_rule.si(system.fish.feed, specific_surface=specific), "heavy": v.name,
        "across": v.diameter or min(v.length, v.width), "height": v.height,
        "kind": v.kind, "words": b.words, "surface": live.surface["typical"], "needed": live.surface_needed[rate],
        "media_depth": v.media_depth, "flood": v.working_depth, "lip": drain.lip - v.floor if drain else None,
        "drain_bore": drain.bore if drain else None, "spacing": build.plants.si.spacing or crop.spacing_typical,
        "mass_media": media, "mass_water": water, "mass_box": box, "mass": media + water + box,
        "load": loads[v.name], "rating": build.site.si.floor_rating,
    }  # fmt: skip
    trouble = _trouble(seen, {b.words, live.words, *b.each}, not held)
    if not trouble and (held < minimum[rate] if held else live.surface["typical"] < live.surface_needed[rate]):
        trouble = f"Short at a {rate} rate."
    size = {name: record[name] for name in ("area", "area_needed", "media", "rule", "minimum_high", "load", "surface", "needed")}
    return BedsMedia.from_si(**record, works=not trouble, trouble=trouble, first=first or size, findings=seen)


def _trouble(seen: tuple, where: set, bare: bool) -> str:
    """What ails the beds, in a few words; the worst first."""
    own = {f.name for f in seen if f.notebook == "02" and f.severity in ("stop", "fix") and f.where in where}
    for name, words in (
        ("load over floor rating", "Too heavy for the floor."),
        ("biofilter short", "Too little for the bacteria to live on." if bare else "Too little media."),
        ("bed too shallow", "Too shallow."),
        ("growing area off the feed", "Too little area for this feed."),
    ):
        if name in own:
            return words
    return ""


class BedsWhatIf(WhatIf):
    """Other beds, another medium, another crop, colder water."""

    drawn, still, page, keep_label, lent = MediaPicture, BedSection, "02", "Keep these beds", "bed"
    case, case_us = {"medium": "pea gravel 12 mm"}, {"media_depth": 0.3048}  # 12 in

    def __init__(self, build: Build):
        super().__init__(build)
        filled = _beds(build)
        self.model = filled[0].si
        self.sizes = SIZES[self.model.shape]
        self.alike = [bed for bed in filled if (bed.si.shape, bed.si.kind) == (self.model.shape, self.model.kind)]
        self.media = ("medium", "media_depth") if self.model.medium else ()
        self.start = solved(build)
        self.first = _outcome(self.start, "typical").si.first

    def own(self) -> dict:
        build = self.build
        return {
            "crop": build.plants.si.crop, "feed_per_area": self.start.beds.feed_per_area, "rate": "typical", "cold": build.site.si.coldest_water,
            "rating": build.site.si.floor_rating or 0.0,
            **{name: getattr(self.model, name) for name in (*self.sizes, *self.media)},
        }  # fmt: skip

    def __call__(self, crop: str, feed_per_area: float, rate: str, cold: float, rating: float, **own) -> BedsMedia:
        moved = {name: own[name] for name in self.moved(own)}  # beds that differ stay so until a slider moves
        if "medium" in moved:
            moved["void"] = tables.row("media", moved["medium"]).si.void_typical
        grown = self.moved({"crop": crop, "feed_per_area": feed_per_area})
        plants = self.build.plants
        changed = self.build.replaced(
            plants=plants.with_si(crop=crop, feed_per_area=feed_per_area) if grown else plants,
            site=self.build.site.with_si(coldest_water=cold, floor_rating=rating or None),
            vessels=[bed.with_si(**moved) for bed in self.alike],
        )
        return _outcome(Steady(changed), rate, self.first)

    def controls(self) -> list:
        lowest = min(bed.si.height for bed in self.alike)
        warmest = min(35.0, math.floor(2 * TEMPERATURE.shown(self.build.site.si.warmest_water)) / 2)
        spans = {"length": ("0.5 m", "4 m"), "width": ("0.3 m", "1.5 m"), "diameter": ("0.4 m", "2.5 m")}
        return [
            Choice("crop", "crop", self.build.choice("crops")),
            Slider("feed_per_area", "feed per area", AREA_RATE, "40 g/m2/d", "80 g/m2/d", "1 g/m2/d", tip="print has a band for each crop", key="plants.feed_per_area"),
            *(Slider(size, f"{self.model.kind} {size}", LENGTH, *spans[size], "0.05 m", tip=f"of every {self.model.kind}") for size in self.sizes),
            *([Choice("medium", "medium", self.build.choice("media"))] if self.media else []),
            *([Slider("media_depth", "media depth", DEPTH, "100 mm", f"{lowest!r} m", "10 mm", tip="up to the rim of the bed", key="vessels.*.media_depth")] if self.media else []),
            Choice("rate", "bacteria's rate", RATES, tip="print has a band of a factor of five", kept=False),
            Slider("cold", self.cold_water, TEMPERATURE, "5 degC", f"{max(warmest, 6):g} degC", "0.5 degC", tip="bacteria slow down in the cold", key="site.coldest_water"),
            Slider("rating", "what the floor carries", FLOOR_LOAD, "0 kN/m2", "20 kN/m2", "0.1 kN/m2", us=("0 psf", "400 psf", "5 psf"), tip="0 if you do not know it"),
        ]  # fmt: skip

    def tries(self) -> list[Try]:
        return of_beds(self)

    def look(self, record: BedsMedia, system: str) -> str:
        r = record.si
        weight = "Underneath stands what it weighs full to the rim, and how hard that presses on its floor, spread over all of it."
        if not r.medium:
            roots = (
                "Boards float on the water, and roots hang in it"
                if r.kind == "raft"
                else "Plants stand in a cover, their roots in a film of water"
            )
            return f"{roots}. {weight}"
        lip = "; the drain's lip sets it" if r.lip is not None else ""
        top = (
            "Above it a dry top keeps light from the water"
            if r.media_depth - r.flood > _DRY
            else "No dry top keeps light from the water: slime and flies come"
        )
        return (
            f"The blue line is the **flood level**{lip}. {top}. Roots get water, then air, each time the bed drains. A guard, the dotted pipe round the drain, "
            f"keeps the medium out of it. {weight} The medium is taken at its heaviest."
        )

    def against(self, record: BedsMedia, demo: BedsMedia, system: str) -> str:
        r = record.si
        medium = f", with {DEPTH.text(r.media_depth, system)} of {r.medium} in it" if r.medium else ""
        return (
            f"In your build the most weight stands in {r.heavy}{medium}: {MASS.text(r.mass, system)} full to the rim, {SHARE.text(r.mass_water / r.mass)} of that "
            f"water. It presses on its floor with {FLOOR_LOAD.text(r.load, system)}, the gravel bed of the guess with {FLOOR_LOAD.text(demo.si.load, system)}."
        )

    def changes(self, values: Values) -> dict[tuple, object]:
        moved = self.moved(values)
        keys: dict[str, list[tuple]] = {
            "crop": [("plants", "crop")], "feed_per_area": [("plants", "feed_per_area")], "cold": [("site", "coldest_water")],
            **{name: [("vessels", bed.si.name, name) for bed in self.alike] for name in (*self.media, *self.sizes)},
        }  # fmt: skip
        changes: dict[tuple, object] = {key: values.text(name) for name in keys if name in moved for key in keys[name]}
        if "rating" in moved:
            changes["site", "floor_rating"] = values.text("rating") if values["rating"] > 0 else None
        return changes

    def told(self, new: dict, values: Values) -> str:
        return listed(new, "nothing new", names=values.labels)


outcome_of, picture, panel, sight = BedsWhatIf.as_built, BedsWhatIf.picture, BedsWhatIf.panel, BedsWhatIf.sight

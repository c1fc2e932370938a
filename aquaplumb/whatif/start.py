"""What if another layout? Notebook 00: choose a first system, and write the build file.

build = my_build()
start.sight(build)        # the guess answered, and then the build that you have
start.picture(build)      # the build that you have, or a demo, from the side
start.layouts(build)      # all layouts, small, each with whom it suits
start.panel(build)        # choose, look, keep
"""

from __future__ import annotations

import functools
from pathlib import Path

from aquaplumb import water
from aquaplumb.build import MINE, Build, load
from aquaplumb.build.file_text import text_of
from aquaplumb.build.layout_kinds import KINDS, tank_water, usual_water
from aquaplumb.build.layouts import DRAINS, LAYOUTS, MOST_BEDS, first_build
from aquaplumb.build.placing import stood_over, takes
from aquaplumb.build.vessels import water_volume
from aquaplumb.figures.elevation import Elevation
from aquaplumb.figures.start import StartPicture
from aquaplumb.files import alone, write
from aquaplumb.review import copy_of, review
from aquaplumb.units import (
    AREA,
    CONCENTRATION,
    HEAD,
    LENGTH,
    MASS,
    MASS_RATE,
    TEMPERATURE,
    VOLUME,
    Concentration,
    DesignError,
    Number,
    Record,
)
from aquaplumb.whatif.base import Choice, Count, Panel, Slider, Switch
from aquaplumb.whatif.found import SIGNS, on_page, told
from aquaplumb.whatif.gallery import Gallery
from aquaplumb.whatif.sight import Sight
from aquaplumb.whatif.start_tries import of_first
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import LENDER, WhatIf
from aquaplumb.whatif.yard import Yard, roomy, set_up, unsuited

_SMALLEST = "150 L"  # of a tank
_LEAST, _MOST = 6 * 0.3048, 20.0  # m, of a place
_COLDEST, _WARMEST = ("5 degC", "30 degC"), ("8 degC", "34 degC")


class FirstBuild(Record):
    """A first build: its `text`, the `build` that it makes, and what its review says."""

    text: str
    layout: str
    count: Number
    build: object
    verdict: str
    numbers: object
    oxygen: Concentration
    findings: tuple = ()
    ground: object = None
    unsuited: str = ""

    def sentence(self, system: str = "metric") -> str:
        """What it is and what the review says, in a few sentences."""
        r, (fish, beds) = self.si, self.si.numbers
        site = r.build.site.si
        loops = "One pump" if len(r.build.pumped) == 1 else "Two pumps"
        kind = KINDS[r.layout]
        many = f"{r.count:g} {kind.grows_in}" if r.count > 1 else kind.one
        plain = f" Beds with plain drains: {kind.plain}." if kind.plain else ""
        return (
            f"**{loops}, {many}**: {VOLUME.text(fish.tank_volume, system)} in the fish tank, {MASS.text(fish.biomass, system)} of {r.build.fish.species}, "
            f"{MASS_RATE.text(fish.feed, system)} of feed, {AREA.text(beds.area, system)} to plant.{plain} Its water, {TEMPERATURE.text(site.coldest_water, system)} "
            f"to {TEMPERATURE.text(site.warmest_water, system)} at {LENGTH.text(site.altitude, system)} up, holds {CONCENTRATION.text(r.oxygen)} "
            f"of oxygen at its warmest. With paths it takes {takes(r.ground.length, system)} by {takes(r.ground.width, system)}"
            f"{', and a pit ' + LENGTH.text(r.ground.pit, system) + ' deep' if r.ground.pit else ', and no pit'}. "
            f"First review: **{r.verdict}**."
        )


def _drains(layout: str, beds: int, siphon: bool) -> str:
    """Siphons where they are wished and to be had."""
    return DRAINS[siphon and beds <= KINDS[layout].siphons_to]


def _going_with(layout: str, beds: int, tank: float) -> int:
    """So many beds as go with a tank: these, if they do, else the nearest number."""
    bands = {many: tank_water(layout, many) for many in range(1, MOST_BEDS + 1)}
    enough = [many for many, (_, most) in bands.items() if tank <= most] or [MOST_BEDS]
    if beds not in enough:
        return min(enough)
    return max((many for many in enough if many <= beds and bands[many][0] <= tank), default=min(enough))


@functools.lru_cache(maxsize=256)
def _made(
    layout: str, beds: int, units: str, tank: float, drains: str, altitude: float, coldest: float, warmest: float, length: float, width: float
) -> FirstBuild:  # fmt: skip
    """The first build for some choices, bare SI; a choice made before comes back at once."""
    text = first_build.si(
        layout, beds=beds, units=units, altitude=altitude, coldest_water=coldest, warmest_water=warmest, tank=tank, drains=drains
    )
    anywhere, build, ground = set_up(_plain(text), length, width)
    seen = _reviewed(anywhere)
    site = build.site.si
    return FirstBuild.from_si(
        text=build.text, layout=layout, count=beds, build=build, ground=ground, verdict=seen.verdict, numbers=(seen.system.fish, seen.system.beds),
        oxygen=water.oxygen_saturation.si(site.warmest_water, altitude=site.altitude), findings=tuple(seen.findings),
    )  # fmt: skip


@functools.lru_cache(maxsize=64)
def _plain(text: str) -> Build:
    return Build(text, Path(MINE))


@functools.lru_cache(maxsize=64)
def _reviewed(build: Build):
    """The review of a first build, which a yard in which its pipes reach does not change."""
    return review(build)


class FirstWhatIf(WhatIf):
    """Choose a layout, the beds and your site, and keep it as your first build file; it starts at what is most like a build."""

    keep_label = "Keep this as my first build"
    makes_file = True

    def __init__(self, build: Build):
        super().__init__(build)
        self.shown = StartPicture(system=build.units)
        self.path = build.path or Path(MINE)
        self.made: set[tuple] = set()  # choices whose build is there already
        self.place: list[tuple[str, str]] = []  # what of the build kept last does not suit the place it was tried in

    def drawing(self) -> StartPicture:
        return self.shown

    def own(self) -> dict:
        site, beds = self.build.all_year.si, int(sum(v.si.count for v in self.build.growing))
        layout = next((name for name, kind in KINDS.items() if kind.about in self.build.about), LAYOUTS[len(self.build.pumped) > 1])
        beds = min(max(beds // KINDS[layout].each, 1), MOST_BEDS)
        altitude, coldest, warmest = max(site.altitude, 0.0), site.coldest_water, site.warmest_water
        length, width = roomy(layout, beds, self.build.units, (altitude, coldest, warmest))
        if site.yard_length is not None and site.yard_width is not None:
            length, width = (min(max(side, _LEAST), _MOST) for side in (site.yard_length, site.yard_width))
        least, most = tank_water(layout, beds)
        water = max([water_volume.si(v, v.si.working_depth) for v in self.build.of_kind("fish tank")], default=usual_water(layout, beds))
        siphons = any(line.si.siphon and self.build.vessels[line.si.source].si.kind == "bed" for line in self.build.falling.values())
        return {
            "layout": layout, "beds": beds, "tank": min(max(water, least), most), "drains": _drains(layout, beds, siphons),
            "altitude": altitude, "coldest": coldest, "warmest": warmest,
            "length": length, "width": width, "may_dig": True,
        }  # fmt: skip

    def __call__(
        self, layout: str, beds: int, tank: float, drains: str, altitude: float, coldest: float, warmest: float, length: float, width: float,
        may_dig: bool,
    ) -> FirstBuild:  # fmt: skip
        """All bare SI; the file is written in the units that the panel shows. It has the size of the place, and pipe as long as it takes there."""
        coldest, warmest = sorted((coldest, warmest))  # never a dead end while one of the two is being set
        system = self.shown.system
        choices = layout, beds, system, tank, drains, altitude, coldest, warmest, length, width
        made = _made(*choices)
        self.made.add(choices)
        yard = Yard(length, width, may_dig)
        return made.with_si(unsuited=unsuited(layout, beds, system, (altitude, coldest, warmest), yard, made.si.ground))

    def slow(self, **values) -> bool:
        """Whether these choices have to be made a build of first, which takes a second or more."""
        cold, warm = sorted((values["coldest"], values["warmest"]))
        rest = (values["layout"], values["beds"], self.shown.system, values["tank"], values["drains"], values["altitude"])
        return (*rest, cold, warm, values["length"], values["width"]) not in self.made

    def follow(self) -> dict:
        """The tank and the drains go with what it grows in, and the number with a tank that is too large or small for it."""

        def usual(values: dict) -> dict:
            layout, beds = values["layout"], values["beds"]
            return {"tank": usual_water(layout, beds), "drains": _drains(layout, beds, values["drains"] == "siphon")}

        def grown(values: dict) -> dict:
            layout, beds, tank = values["layout"], values["beds"], values["tank"]
            beds = _going_with(layout, beds, tank)
            return {"beds": beds, "drains": _drains(layout, beds, values["drains"] == "siphon")}

        return {"layout": usual, "beds": usual, "tank": grown}

    def controls(self) -> list:
        largest = {layout: f"{1000 * tank_water(layout, MOST_BEDS)[1]:.6g} L" for layout in LAYOUTS}
        drains = {layout: list(DRAINS) if kind.siphons_to else [] for layout, kind in KINDS.items()}
        return [
            Choice("layout", "layout", list(LAYOUTS), tip="where the pump stands, and what it feeds"),
            Count("beds", "number of beds, rafts or towers", 1, MOST_BEDS, tip="beds, or what else it grows in; a bed has about 2 m² (22 ft²)"),
            Slider("tank", "fish tank, at least", VOLUME, _SMALLEST, "3300 L", "100 L", us=("40 gal", "850 gal", "25 gal"), of="layout",
                   highs=largest, tip="of water; of two tanks the larger", on_release=True),
            Choice("drains", "beds drain by", drains, of="layout", tip="a plain drain is always open; a siphon empties the bed now and again"),
            Slider("length", "length of place", LENGTH, "2 m", "20 m", "0.5 m", us=("6 ft", "65 ft", "1 ft"), on_release=True),
            Slider("width", "width of place", LENGTH, "2 m", "20 m", "0.5 m", us=("6 ft", "65 ft", "1 ft"), on_release=True),
            Switch("may_dig", "a pit may be dug there", tip="not in rock, on a roof, or over pipes and cables", kept=False),
            Slider("altitude", "height above sea", HEAD, "0 m", "3000 m", "50 m", tip="high up, water holds less oxygen", key="site.altitude"),
            Slider("coldest", "coldest water", TEMPERATURE, *_COLDEST, "1 degC", tip="of the year, not of the air", key="site.coldest_water"),
            Slider("warmest", "warmest water", TEMPERATURE, *_WARMEST, "1 degC", tip="of the year", key="site.warmest_water"),
        ]  # fmt: skip

    def tries(self) -> list[Try]:
        return of_first(self)

    def findings(self, record, system: str) -> list[tuple[str, str]]:
        wrong = [("fix", record.si.unsuited)] if record.si.unsuited else []
        return wrong + on_page(record.si.findings, "00")

    def reviewed(self) -> list[tuple[str, str]]:
        """All of it, since this page teaches what a finding is."""
        found = sorted(review(load(self.path)).findings, key=lambda one: list(SIGNS).index(one.severity))
        return self.place + [(one.severity, self._with_page(one)) for one in found]

    @staticmethod
    def _with_page(one) -> str:
        """A finding, and the page that it belongs to where its cure does not name it."""
        said = told(one, "00")
        return said if not one.notebook or f"Page {one.notebook} " in said else f"{said} (Page {one.notebook}.)"

    def kept_build(self) -> Build:
        return self.build  # another first build may be kept over it: the panel stays what it is

    def keep(self, panel: Panel) -> str:
        with alone(self.path):
            if self.path.exists() and not untouched(self.path):
                raise DesignError(
                    f"{self.path.name} is there already and has choices of yours in it; nothing was changed. To start again, "
                    f"rename it (such as my-first-try.toml) in the list of files at the left, then press Keep once more."
                )
            write(self.path, panel.record.si.text)
        self.place = [
            ("fix", f"{panel.record.si.unsuited} The file has the size of your place, but no later page says this again.")
        ] * bool(panel.record.si.unsuited)
        return f"Kept in {self.path.name}: {panel.said.split(':')[0].lower()}. Its review: {review(load(self.path)).verdict}."


panel = FirstWhatIf.panel


@functools.lru_cache(maxsize=8)
def picture(build: Build) -> Elevation:
    """The build from the side, as it stands; display it in a notebook."""
    return Elevation(build)


def _borrowed(build: Build) -> bool:
    return build.path is not None and not build.path.exists()


def so_far(build: Build) -> str:
    """The build that you have, in a line; where there is none, that this page makes one."""
    if build.path is not None and _borrowed(build):
        return f"There is no {build.path.name} here: this is {copy_of(build)}, and this page makes the file."
    return review(build).in_a_line(pumped=False)


@functools.lru_cache(maxsize=2)
def guess(units: str) -> Elevation:
    """The build of the guess, one loop with two beds."""
    site = load(LENDER).site.si
    text = first_build.si(
        LAYOUTS[0], beds=2, units=units, altitude=site.altitude, coldest_water=site.coldest_water, warmest_water=site.warmest_water
    )
    return Elevation(Build(text, Path(MINE)).changed({("title",): "One loop, two beds"}))


@functools.lru_cache(maxsize=8)
def _stands(build: Build) -> Elevation:
    own = Elevation(build)
    own.look = (
        "Heights are true to the ruler at the left. Follow the strong line up from each pump (P), and the pale ones down: none climbs. Each pipe runs by itself, "
        "even where two are drawn on one line. The vessel that a pump draws from has room left on purpose: when the pump stops, water comes down into it."
    )
    return own


def sight(build: Build) -> Sight:
    """The build of the guess, and then the build as it stands, with a sentence on its pumps."""
    return Sight(guess(build.units), _draws(build), _stands(build))


def _draws(build: Build) -> str:
    """From where each pump of a build draws, in a sentence, and which vessel is the lowest."""
    lowest = min(build.vessels.values(), key=lambda vessel: vessel.si.floor).si.name
    single = len(build.pumped) == 1
    sources = {"the pump" if single else f"the pump of “{name}”": line.si.source for name, line in build.pumped.items()}
    where = f"You have no build yet; in {copy_of(build)}" if _borrowed(build) else "In your build"
    if set(sources.values()) == {lowest}:
        falls = list(build.falling.values())
        safe = lowest in stood_over(build.vessels, falls) and all(
            sum(line.si.source == v.si.name and line.si.to == lowest for line in falls) > 1 for v in build.growing
        )
        why = " The beds stand over it, and the second way out of each keeps a blocked drain from emptying it." if safe else ""
        return f"{where} {' and '.join(sources)} {'draws' if len(sources) == 1 else 'draw'} from the lowest vessel, {lowest}.{why}"
    each = " and ".join(f"{pump} draws from {source}" for pump, source in sources.items())
    others = " and ".join(dict.fromkeys(source for source in sources.values() if source != lowest))
    return f"{where} {each}. The lowest vessel is {lowest}; what falls to {others} is lifted from there once more."


def layouts(build: Build) -> Gallery:
    """The layouts to choose from, in the build's units; display it in a notebook."""
    return Gallery(build.units)


def untouched(path: Path) -> bool:
    """Whether a build file is, sign for sign, one that `first_build` wrote: then nothing of a person's is in it."""
    try:
        text = text_of(path)
        return FirstWhatIf.as_built(Build(text, path)).si.text == text
    except DesignError:
        return False

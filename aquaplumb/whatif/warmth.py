"""What does it take to keep the water warm? The third what-if of notebook 11.

    build = my_build()
    warmth.picture(build)      # as the build stands
    warmth.panel(build)        # with sliders

All is for the coldest night (`aquaplumb.system.power_plan` tells what is counted). A build without [heat] is tried with air of
5 °C, nothing covered and nothing insulated.
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.build import Build, Heat
from aquaplumb.figures.warmth import WarmthPicture
from aquaplumb.review.findings.power import NIGHT, SHORT_NIGHT, SOCKET, sockets
from aquaplumb.system.power_plan import cooled, heat_plan
from aquaplumb.system.steady import Steady
from aquaplumb.units import (
    BORE,
    POWER,
    SHARE,
    TEMPERATURE,
    VOLUME,
    Number,
    Power,
    Record,
    Temperature,
    Time,
    Volume,
    rounded,
)
from aquaplumb.whatif.base import Keeper, Panel, Slider, written

COLDEST_TRIED = 278.15  # K
HOURS = 48.0  # of a power cut, where the ruler ends
_DAY = 86400.0


class Warmth(Record):
    """A build's heat on the coldest night, and what comes of it. Arrays belong to the picture."""

    tried: bool
    ways: dict  # W by name
    loss: Power
    bare: Power  # with nothing covered
    heater: Power  # to buy
    own: Power
    evaporation: Volume  # in a day
    bare_evaporation: Volume
    cost: Number  # of a day as cold as that
    keep: Temperature
    air: Temperature
    lowest: Temperature
    species: str
    time: Time  # until then in a power cut
    hours: Time
    warm: Temperature
    ruler: Power
    socket: Power
    cold_end: Temperature
    warm_end: Temperature

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in a few sentences."""
        r = self.si
        if r.loss <= 0:
            return f"**No heat is lost:** air of {TEMPERATURE.text(r.air, system)} warms the water. The heater, {POWER.text(r.own)}, rests."
        told = f"**{POWER.text(r.loss)}** go on the coldest night. " + (
            f"The heater, {POWER.text(r.own)}, holds that."
            if r.own >= r.loss
            else f"**The heater, {POWER.text(r.own)}, is short:** take {POWER.text(r.heater)}, in two pieces."
        )
        if short:
            return told
        return (
            told
            + f" A day of it costs {rounded(r.cost)}. {VOLUME.text(r.evaporation, system)} evaporate a day"
            + (f"; with no lid {VOLUME.text(r.bare_evaporation, system)}." if r.bare_evaporation > 1.01 * r.evaporation else ".")
        )

    def notes(self, system: str = "metric") -> list[tuple[str, str]]:
        """What is short, and how long the fish bear a power cut."""
        r, told = self.si, []
        if r.tried:
            told.append(("note", "Your build has no [heat] section yet: keep this, and the review reckons with it."))
        if r.loss > 0 and r.own < r.loss:
            told.append(("fix", "Cover and insulate before you buy a larger heater: that costs once, heat costs every night."))
        if over := sockets(r.own, r.socket, lambda kind, value: kind.text(value, system)):
            told.append(("note", " ".join(over)))
        if not math.isfinite(r.time):
            told.append(("note", f"In a power cut the tank does not get colder than {r.species} can live in. Air is what they need first."))
        elif r.time <= 0:
            told.append(
                (
                    "stop",
                    f"{r.species[:1].upper()}{r.species[1:]} cannot live in water below {TEMPERATURE.text(r.lowest, system)}: keep it warmer, or keep other fish.",
                )
            )
        else:
            word = "stop" if r.time < SHORT_NIGHT else "fix" if r.time < NIGHT else "note"
            told.append(
                (
                    word,
                    f"In a power cut the tank is at {TEMPERATURE.text(r.lowest, system)}, the least that {r.species} lives in, after {r.time / 3600:.0f} hours. Air is what they need first.",
                )
            )
        return told


class _Warmer:
    """Works out a `Warmth` for a build."""

    def __init__(self, build: Build):
        self.build, self.system = build, Steady(build)
        given = build.heat
        self.first = given or Heat.from_si(coldest_air=COLDEST_TRIED)
        uncovered = heat_plan(self.system, self.first.with_si(covered=0.0))
        self.ruler = max(1.3 * max(uncovered.ways.values()), 50.0)
        lowest = self.system.species.si.survive_low
        self.ends = min(lowest, uncovered.air) - 2, uncovered.keep + 4

    def own(self) -> dict:
        """Where the sliders stand, bare SI."""
        f = self.first.si
        return {
            "keep_at": self.system.cold if f.keep_at is None else f.keep_at, "coldest_air": f.coldest_air, "covered": f.covered, "insulation": f.insulation, "heater": f.heater or 0.0,
        }  # fmt: skip

    def __call__(self, keep_at: float, coldest_air: float, covered: float, insulation: float, heater: float) -> Warmth:
        """All bare SI."""
        new = {"keep_at": keep_at, "coldest_air": coldest_air, "covered": covered, "insulation": insulation, "heater": heater}
        plan = heat_plan(self.system, self.first.with_si(**new))
        hours = np.linspace(0.0, HOURS * 3600, 97)
        return Warmth.from_si(
            tried=self.build.heat is None, ways={name: float(way) for name, way in plan.ways.items()}, loss=float(plan.loss), bare=float(plan.bare), heater=float(plan.heater), own=heater,
            evaporation=plan.evaporation * _DAY / 1000, bare_evaporation=plan.bare_evaporation * _DAY / 1000, cost=float(plan.cost), keep=keep_at, air=coldest_air,
            lowest=plan.lowest, species=self.build.fish.species, time=float(plan.time), hours=hours, warm=cooled(plan, hours), ruler=self.ruler, socket=SOCKET[self.build.units],
            cold_end=self.ends[0], warm_end=self.ends[1],
        )  # fmt: skip


def warmth(build: Build) -> Warmth:
    """A build's heat on the coldest night, as it stands.

    Parameters
    ----------
    build : Build

    Returns
    -------
    Warmth
    """
    warmer = _Warmer(build)
    return warmer(**warmer.own())


def picture(build: Build) -> WarmthPicture:
    """The picture of where the heat goes as the build stands; display it in a notebook."""
    return WarmthPicture(warmth(build), system=build.units)


def panel(build: Build) -> Panel:
    """The what-if: lid, foam and heater for the coldest night, and keep them.

    Parameters
    ----------
    build : Build

    Returns
    -------
    Panel
    """
    warmer, keeper, shown = _Warmer(build), Keeper(build), WarmthPicture(system=build.units)
    own = warmer.own()

    def keep(values: dict) -> str:
        now = panel_.si
        changes: dict[tuple, object] = {
            ("heat", "coldest_air"): written(values["coldest_air"]), ("heat", "keep_at"): written(values["keep_at"]),
            ("heat", "covered"): written(values["covered"]), ("heat", "insulation"): written(values["insulation"]), ("heat", "heater"): written(values["heater"]),
        }  # fmt: skip
        if now["heater"] <= 0:
            changes[("heat", "heater")] = None
        return keeper.keep(
            changes,
            f"{SHARE.text(now['covered'])} covered, {BORE.text(now['insulation'], panel_.system)} of foam, {POWER.text(now['heater'])} of heater",
        )

    panel_ = Panel(
        [
            Slider("keep_at", "water kept at", TEMPERATURE, "5 degC", "32 degC", "0.5 degC", us=("41 degF", "89 degF", "1 degF")),
            Slider("coldest_air", "coldest air", TEMPERATURE, "-20 degC", "30 degC", "0.5 degC", us=("-4 degF", "86 degF", "1 degF"), tip="round the vessels, on the coldest night"),
            Slider("covered", "covered by lids", SHARE, "0 %", "100 %", "5 %", tip="of all open water, at night"),
            Slider("insulation", "foam round it", BORE, "0 mm", "150 mm", "10 mm", us=("0 in", "6 in", "0.5 in"), tip="round all walls and floors; closed foam, which stays dry"),
            Slider("heater", "heater", POWER, "0 W", "4000 W", "50 W", tip="all of them together"),
        ],
        compute=warmer,
        picture=shown,
        sentence=lambda record, system: record.sentence(system),
        findings=lambda record: record.notes(shown.system),
        keep=keep,
        keep_label="Keep lid, foam and heater",
        system=build.units,
        start={
            "keep_at": TEMPERATURE.quantity(own["keep_at"]), "coldest_air": TEMPERATURE.quantity(own["coldest_air"]), "covered": own["covered"],
            "insulation": BORE.quantity(own["insulation"]), "heater": POWER.quantity(own["heater"]),
        },
    )  # fmt: skip
    return panel_

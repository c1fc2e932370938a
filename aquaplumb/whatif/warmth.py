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
from aquaplumb.review.findings.power import NIGHT, SHORT_NIGHT, sockets
from aquaplumb.system.heat_plan import HeatPlan, cooled, heat_plan
from aquaplumb.system.steady import solved
from aquaplumb.units import (
    BORE,
    DAY,
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
from aquaplumb.whatif.base import Slider
from aquaplumb.whatif.supply_tries import of_warmth
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

COLDEST_TRIED = 278.15  # K
HOURS = 48.0  # of a power cut, where the ruler ends


class ColdNight(Record):
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
    units: str
    cold_end: Temperature
    warm_end: Temperature

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in a few sentences."""
        r = self.si
        if r.loss <= 0:
            return f"**No heat is lost:** air of {TEMPERATURE.text(r.air, system)} warms the water. The heater, {POWER.text(r.own)}, rests."
        tried = f"Your build says nothing of heat; this is with air of {TEMPERATURE.text(r.air, system)}. " if r.tried and not short else ""
        told = f"{tried}**{POWER.text(r.loss)}** go on the coldest night. " + (
            f"The heater, {POWER.text(r.own)}, holds that."
            if r.own >= r.loss
            else f"**The heater, {POWER.text(r.own)}, is short:** take {POWER.text(r.heater)}, in two pieces."
        )
        if short:
            return told
        return (
            told
            + f" Such a day costs {rounded(r.cost)}, and {VOLUME.text(r.evaporation, system)} of warm water evaporate"
            + (f"; with no lid {VOLUME.text(r.bare_evaporation, system)}." if r.bare_evaporation > 1.01 * r.evaporation else ".")
        )

    def notes(self, system: str = "metric") -> list[tuple[str, str]]:
        """What is short, and how long the fish bear a power cut."""
        r, told = self.si, []
        if r.loss > 0 and r.own < r.loss:
            told.append(("fix", "Cover and insulate before you buy a larger heater: that costs once, heat costs every night."))
        if over := sockets(r.own, r.units, lambda kind, value: kind.text(value, system)):
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


class WarmthWhatIf(WhatIf):
    """Lid, foam and heater for the coldest night, and keep them."""

    drawn, page, keep_label = WarmthPicture, "11", "Keep lid, foam and heater"

    def __init__(self, build: Build):
        super().__init__(build)
        self.system = solved(build)
        self.shut = "" if build.heat else "If your water needs warmth: lid, foam, heater, more …"
        self.first = build.heat or Heat.from_si(coldest_air=COLDEST_TRIED)
        uncovered = self._plan(covered=0.0)
        self.ruler = max(1.3 * max(uncovered.ways.values()), 50.0)
        lowest = self.system.strictest("survive_low").survive_low
        self.ends = min(lowest, uncovered.air) - 2, uncovered.keep + 4

    def own(self) -> dict:
        f = self.first.si
        return {
            "coldest_air": f.coldest_air, "keep_at": self.build.all_year.si.coldest_water if f.keep_at is None else f.keep_at, "covered": f.covered, "insulation": f.insulation, "heater": f.heater or 0.0,
        }  # fmt: skip

    def controls(self) -> list:
        return [
            Slider("keep_at", "water kept at", TEMPERATURE, "5 degC", "32 degC", "0.5 degC", us=("41 degF", "89 degF", "1 degF"), key="heat.keep_at"),
            Slider("coldest_air", "coldest air", TEMPERATURE, "-20 degC", "30 degC", "0.5 degC", us=("-4 degF", "86 degF", "1 degF"), tip="round the vessels, on the coldest night", key="heat.coldest_air"),
            Slider("covered", "covered by lids", SHARE, "0 %", "100 %", "5 %", tip="of all open water, at night", key="heat.covered"),
            Slider("insulation", "foam round it", BORE, "0 mm", "150 mm", "10 mm", us=("0 in", "6 in", "0.5 in"), tip="round all walls and floors; closed foam, which stays dry", key="heat.insulation"),
            Slider("heater", "heater", POWER, "0 W", "4000 W", "50 W", tip="all of them together", key="heat.heater"),
        ]  # fmt: skip

    def __call__(self, keep_at: float, coldest_air: float, covered: float, insulation: float, heater: float) -> ColdNight:
        plan = self._plan(keep_at=keep_at, coldest_air=coldest_air, covered=covered, insulation=insulation, heater=heater)
        hours = np.linspace(0.0, HOURS * 3600, 97)
        return ColdNight.from_si(
            tried=self.build.heat is None, ways={name: float(way) for name, way in plan.ways.items()}, loss=float(plan.loss), bare=float(plan.bare), heater=float(plan.heater), own=heater,
            evaporation=plan.evaporation * DAY / 1000, bare_evaporation=plan.bare_evaporation * DAY / 1000, cost=float(plan.cost), keep=keep_at, air=coldest_air,
            lowest=plan.lowest, species=self.system.strictest("survive_low").name, time=float(plan.time), hours=hours, warm=cooled(plan, hours), ruler=self.ruler, units=self.build.units,
            cold_end=self.ends[0], warm_end=self.ends[1],
        )  # fmt: skip

    def _plan(self, **new) -> HeatPlan:
        return heat_plan(self.system, self.first.with_si(**new))

    def tries(self) -> list[Try]:
        return of_warmth(self)

    def findings(self, record, system: str) -> list[tuple[str, str]]:
        return record.notes(system)

    def changes(self, values: Values) -> dict[tuple, object]:
        return {("heat", name): None if name == "heater" and values[name] <= 0 else values.text(name) for name in self.own()}

    def told(self, new: dict, values: Values) -> str:
        foam = BORE.text(values["insulation"], values.system)
        return f"{SHARE.text(values['covered'])} covered, {foam} of foam, {POWER.text(values['heater'])} of heater"


warmth, picture, panel = WarmthWhatIf.as_built, WarmthWhatIf.picture, WarmthWhatIf.panel

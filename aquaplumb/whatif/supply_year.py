"""How large a battery and panel for how many hours and how dark a winter? The second what-if of notebook 11.

    build = my_build()
    supply_year.picture(build)      # as the build stands
    supply_year.panel(build)        # with sliders

The worst of several years of invented weather, hour by hour (`power.years.worst_year`). A build without [power] is tried with the DC pump of the
first what-if, and a battery and panel by the plain rules: one day of battery, and the panel of December or June.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from aquaplumb import power, tables
from aquaplumb.build import Build, Supply
from aquaplumb.build.file_text import as_said
from aquaplumb.figures.supply_year import YearPicture
from aquaplumb.power import years
from aquaplumb.power.years import LARGEST_BATTERY, LARGEST_PANEL
from aquaplumb.review.findings.power import HALF, REST_CURE, STANDS_LONG, day_of_year, more_sun, too_fast
from aquaplumb.system import air_plan
from aquaplumb.system.power_plan import battery_place, oxygen_after_rest, sunshine_of
from aquaplumb.units import (
    ANGLE,
    CHARGE,
    CONCENTRATION,
    FLOW,
    NUMBER,
    POWER,
    SHARE,
    Charge,
    Concentration,
    DesignError,
    Flow,
    Insolation,
    Number,
    Power,
    Record,
    Time,
    Voltage,
    in_hours,
)
from aquaplumb.whatif.base import Choice, Slider
from aquaplumb.whatif.found import in_words
from aquaplumb.whatif.supply import WireWhatIf
from aquaplumb.whatif.supply_tries import of_year
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

BEFORE, SHOWN = 7, 28  # days of the lower plane before the dark fortnight begins, and in all
_DAY_HOURS = np.arange(24)
_BY_DAY = (_DAY_HOURS >= 6) & (_DAY_HOURS < 18)  # solar time


class SunYear(Record):
    """Battery and panel through a year, and what comes of it. Arrays belong to the picture."""

    line: str
    pump: str
    tried: bool  # the build has no [power], or its pump runs on mains
    load: Power  # of the pump while it runs
    mean: Power
    voltage: Voltage
    battery: str
    capacity: Charge
    panel: Power
    latitude: Number
    hours: Time  # that a full battery lasts
    wanted: Time
    capacity_wanted: Charge
    panel_wanted: Power | None  # that the worst month just asks for; None where it has no sun
    panel_enough: Power | None  # that never lets the battery go flat; None where it never does, or none would do
    capacity_enough: Charge | None  # … beside the panel that is there
    both_enough: tuple | None  # panel and battery together, bare SI, where neither does by itself
    assumed: bool  # whether nobody has said how much sun the clouds let through
    worst_month: str
    hours_empty: Number
    longest_empty: Number
    lowest: Number
    lowest_day: int
    dark_start: int
    dark_insolation: Insolation
    mean_flow: Flow
    flow_wanted: Flow
    rests: bool
    rest_oxygen: Concentration | None  # array: in the fish tank after the longest rest, by stones that bring little, as usual, much
    critical: Concentration
    lows: Number  # array of 365: the least charge of each day
    flat: Number  # array of 365: the hours of each day in which pumps stand
    dark_charge: Number  # array: hour by hour around the dark fortnight
    dark_flat: Number

    def sentence(self, system: str = "metric", short: bool = False) -> str:
        """The outcome in two sentences."""
        r = self.si
        if r.hours_empty < 1:
            told = f"**Never flat.** The least charge of the year is **{SHARE.text(r.lowest)}**, on {day_of_year(r.lowest_day)}."
        else:
            told = f"**Flat for {r.hours_empty:,.0f} hours** in the worst of {len(years.SEEDS)} years, up to {r.longest_empty:,.0f} on end."
        lasts = (
            f"A full battery lasts **{in_hours(r.hours)}** without sun; you want {in_hours(r.wanted)}."
            if math.isfinite(r.hours)
            else "Nothing draws from the battery."
        )
        tried = f"Your build is on mains; this is with {r.pump}. " if r.tried and not short else ""
        return f"{tried}{told} {lasts}"

    def notes(self, system: str = "metric") -> list[tuple[str, str]]:
        """What is short, and what would do."""
        r, told = self.si, []
        if r.hours < r.wanted:
            word = "stop" if r.hours < HALF * r.wanted else "fix"
            told.append((word, f"The battery is to last {in_hours(r.wanted)}: that takes {CHARGE.text(r.capacity_wanted)}."))
        if r.hours_empty >= 1:
            word = "stop" if r.hours_empty > STANDS_LONG * 8760 else "fix"
            told.append(
                (
                    word,
                    f"Each flat hour the pump stands. {more_sun(r.panel_enough, r.capacity_enough, r.both_enough, lambda kind, value: kind.text(value, system))}",
                )
            )
        if r.assumed:
            told.append(("note", "Your build does not say how dull your climate is: 40 % of a clear sky's sun is assumed."))
        if r.battery == "car starting battery":
            told.append(
                ("fix", "A car battery is made to crank an engine for seconds; emptied like this it lasts some weeks (50 to 70 times).")
            )
        if over := too_fast(r.panel, r.voltage, r.capacity, r.battery, lambda kind, value: kind.text(value, system)):
            told.append(("fix", " ".join(over)))
        told += self._after_rests(system)
        if r.mean <= 0:
            return told
        if r.panel_wanted is None:
            told.append(
                ("note", f"In {r.worst_month} there is no sun to speak of: no panel is large enough, and no battery lasts that long.")
            )
        else:
            told.append(
                (
                    "note",
                    f"In {r.worst_month}, the worst month, {POWER.text(r.panel_wanted)} of panel just pay for the day: too little, since dull days come in runs.",
                )
            )
        if r.rests and math.isfinite(r.flow_wanted):
            told.append(
                (
                    "note",
                    f"Over the day it moves {FLOW.text(r.mean_flow, system)}, of {FLOW.text(r.flow_wanted, system)} wanted. See that air stones carry the fish through the rests, at night above all (page 10), and that the filter bears it (page 03).",
                )
            )
        return told

    def _after_rests(self, system: str) -> list[tuple[str, str]]:
        """Whether the fish get through the pump's rests."""
        r = self.si
        if r.rest_oxygen is None or r.rest_oxygen[0] >= r.critical:
            return []
        usual = r.rest_oxygen[air_plan.TYPICAL]
        word, level, stones = (
            ("stop", usual, "") if usual < r.critical else ("fix", r.rest_oxygen[0], ", should the stones bring the least that print has")
        )
        return [
            (
                word,
                f"In the pump's longest rest the oxygen falls to {CONCENTRATION.text(level, system)} after a meal{stones}; below {CONCENTRATION.text(r.critical, system)} the fish are in danger. {in_words(REST_CURE, '')}",
            )
        ]


class YearWhatIf(WhatIf):
    """Choose battery and panel for a pump, and keep them; what does not change between moves is kept."""

    drawn, page, keep_label = YearPicture, "11", "Keep battery and panel"

    def __init__(self, build: Build):
        super().__init__(build)
        self.wirer = WireWhatIf(build)
        system, self.line = self.wirer.start, self.wirer.begin
        own = self.wirer.own()
        self.state, self.pump, self.voltage = system.in_time.pumped[self.line], own["pump"], own["voltage"]
        plan = system.power
        known = plan.lines.get(self.line) if plan else None
        self.tried = known is None
        self.shut = "If you want sun: battery and panel, more …" if self.tried else ""
        run = known.run if known else None
        if run is None:
            pump = self.wirer.pumps[self.pump]
            run = power.wired_pump.si(pump, self.wirer.curve(self.line, pump), own["voltage"], wire=own["wire"], length=own["length"]).si
        self.load, self.flow = float(run.supply_power), float(run.flow)
        if self.load <= 0:
            raise DesignError(
                f"{self.pump} stands on this supply, so there is nothing to size a battery for; mend voltage or wire in the panel above, then run this cell anew."
            )
        self.beside = max(0.0, plan.mean - plan.supply.si.always - (known.mean_power if known else 0.0)) if plan else 0.0  # all else on it

    def rest_oxygen(self, day: float, night: float) -> np.ndarray | None:
        """The oxygen at the end of the longest rest of pumping so many minutes of each hour by day and by night, as `oxygen_after_rest`."""
        found = []
        for minutes, other in ((day, night), (night, day)):
            if minutes < 60:
                rest, before = (12 * 3600.0, other) if minutes <= 0 else (60.0 * (60 - minutes), minutes)
                stronger = self.flow / self.state.flow if self.state.flow > 0 else 1.0
                found.append(
                    oxygen_after_rest(self.wirer.start, self.wirer.start.air, self.line, rest, duty=before / 60, stronger=stronger)
                )
        rests = [one for one in found if one is not None]
        return np.min(rests, axis=0) if rests else None

    def own(self) -> dict:
        """What the build leaves out is sized by the plain rules."""
        given = self.build.power.si if self.build.power else None
        minutes = 60.0 * self.state.duty
        own: dict[str, Any] = {
            "battery": (given and given.battery) or "lead-acid AGM",
            "hours": given.autonomy / 3600 if given else 24.0,
            "day": minutes, "night": minutes, "always": given.always if given else 0.0,
            "latitude": given.latitude if given and given.latitude is not None else math.radians(45),
            "sky": given.sky_share if given and given.sky_share is not None else power.SKY["low"],
        }  # fmt: skip
        own["tilt"] = given.tilt if given and given.tilt is not None else abs(own["latitude"])
        mean = self.load * self.state.duty + own["always"] + self.beside
        capacity, panel = (given.capacity, given.panel) if given else (None, None)
        if capacity is None:
            asked = (
                power.battery_capacity.si(
                    mean, own["hours"] * 3600, self.voltage, kind=own["battery"], temperature=battery_place(self.build, own["battery"])
                )
                / 3600
            )
            capacity = 3600.0 * max(10.0, 10 * math.ceil(asked / 10))
        if panel is None:
            asked = self.worst(mean, own["battery"], self.sun(own["latitude"], own["tilt"], own["sky"]))[0]
            panel = 50.0 * math.ceil(min(asked or 1000.0, 5000.0) / 50)
        return {**own, "capacity": capacity, "panel": panel}

    def sun(self, latitude: float, tilt: float, sky: float):
        return sunshine_of(Supply.from_si(voltage=self.voltage, latitude=latitude, tilt=tilt, sky_share=sky))

    @staticmethod
    def worst(mean: float, battery: str, sun) -> tuple[float | None, str]:
        """The panel that the worst month asks for, and which that is; None where it has no sun."""
        if sun.si.dark_months:
            return None, sun.si.dark_months[0]
        size = power.panel_size.si(mean, sun, sky_band="typical", kind=battery).si
        return size.power, size.month

    def __call__(
        self,
        battery: str,
        capacity: float,
        hours: float,
        panel: float,
        latitude: float,
        tilt: float,
        sky: float,
        day: float,
        night: float,
        always: float,
    ) -> SunYear:
        """Bare SI; `hours` in hours, `day` and `night` in minutes of each hour."""
        sun, place = self.sun(latitude, tilt, sky), battery_place(self.build, battery)
        duty = np.where(_BY_DAY, day, night) / 60
        beside = always + self.beside
        mean = self.load * float(duty.mean()) + beside
        at = {"kind": battery, "temperature": place}
        asked: dict[str, Any] = {"sun": sun, "voltage": self.voltage, "always": beside, "duty": duty, **at}
        year = years.worst_year(self.load, panel, capacity, flow=self.flow, **asked)
        larger = years.enough(self.load, panel, capacity, **asked) if year.hours_empty >= 1 else (None, None, None)
        size, month = self.worst(mean, battery, sun)
        charge, flat = (
            year.charge.reshape(365, 24),
            np.where(year.wanted > 0, 1 - np.divide(year.delivered, year.wanted, out=np.ones(8760), where=year.wanted > 0), 0.0),
        )
        lows = charge.min(axis=1)
        first = (year.dark_start - 1 - BEFORE) * 24
        around = np.arange(first, first + SHOWN * 24) % 8760
        return SunYear.from_si(
            line=self.line, pump=self.pump, tried=self.tried, load=self.load, mean=mean, voltage=self.voltage, battery=battery, capacity=capacity, panel=panel, latitude=latitude,
            hours=float(power.battery_time.si(capacity, mean, self.voltage, **at)), wanted=hours * 3600,
            capacity_wanted=float(power.battery_capacity.si(mean, hours * 3600, self.voltage, **at)), panel_wanted=size, worst_month=month,
            panel_enough=larger[0], capacity_enough=larger[1], both_enough=larger[2], assumed=not self.build.power or self.build.power.si.sky_share is None,
            hours_empty=year.hours_empty, longest_empty=year.longest_empty, lowest=year.lowest, lowest_day=int(np.argmin(lows)) + 1,
            dark_start=year.dark_start, dark_insolation=year.dark_insolation, mean_flow=year.mean_flow, flow_wanted=self.state.wanted * self.state.duty,
            rests=bool(duty.mean() < self.state.duty - 1e-6), rest_oxygen=self.rest_oxygen(day, night), critical=self.wirer.start.air.critical, lows=lows, flat=flat.reshape(365, 24).sum(axis=1), dark_charge=year.charge[around], dark_flat=flat[around],
        )  # fmt: skip

    def controls(self) -> list:
        return [
            Choice("battery", "battery", tables.names("batteries"), tip="a car battery is made to crank an engine, not for this"),
            Slider(
                "capacity",
                "capacity",
                CHARGE,
                "10 Ah",
                CHARGE.quantity(LARGEST_BATTERY),
                "10 Ah",
                tip=f"on the label, at {self.voltage:g} V",
                key="power.capacity",
            ),
            Slider("hours", "hours to last", NUMBER, 2, 96, 1, tip="without any sun or charger", rare=True),
            Slider("panel", "panel", POWER, "0 W", POWER.quantity(LARGEST_PANEL), "50 W", tip="on its label, often Wp", key="power.panel"),
            Slider(
                "latitude", "latitude", ANGLE, "-75 deg", "75 deg", "1 deg", tip="south of the equator below zero", key="power.latitude"
            ),
            Slider(
                "tilt",
                "tilt of the panel",
                ANGLE,
                "0 deg",
                "90 deg",
                "5 deg",
                tip="0 lies flat, 90 stands upright; it faces the equator",
                rare=True,
                key="power.tilt",
            ),
            Slider(
                "sky",
                "of a clear sky's sun",
                SHARE,
                "30 %",
                "100 %",
                "5 %",
                tip="that clouds let through: 40 dull, 60 middling, 80 bright",
                rare=True,
                key="power.sky_share",
            ),
            Slider("day", "minutes an hour, day", NUMBER, 0, 60, 5, tip="of pumping, 6 in the morning to 6 in the evening", kept=False),
            Slider("night", "minutes an hour, night", NUMBER, 0, 60, 5, tip="of pumping", kept=False),
            Slider(
                "always",
                "runs always",
                POWER,
                "0 W",
                "60 W",
                "1 W",
                tip="beside the pump, such as an air pump",
                rare=True,
                key="power.always",
            ),
        ]

    def tries(self) -> list[Try]:
        return of_year(self)

    def findings(self, record, system: str) -> list[tuple[str, str]]:
        return record.notes(system)

    def changes(self, values: Values) -> dict[tuple, object]:
        if self.tried:
            raise DesignError("this build's pump is on mains; keep a DC pump in the panel above first.")
        texts = {name: values.text(name) for name in ("battery", "capacity", "hours", "always", "panel", "latitude", "tilt", "sky")}
        texts["hours"] = f"{values['hours']:g} h"
        keys = {"hours": "autonomy", "sky": "sky_share"}  # in the file
        return {("power", keys.get(name, name)): text for name, text in texts.items()}

    def told(self, new: dict, values: Values) -> str:
        timer = "; set your timer to the minutes (page 03)" if {"day", "night"} & {*self.moved(values)} else ""
        return f"{values['battery']} of {values.text('capacity')} and a panel of {as_said(values.text('panel'))}{timer}"


sun_year, picture, panel = YearWhatIf.as_built, YearWhatIf.picture, YearWhatIf.panel

"""What if the water read so today? The second what-if of notebook 12: ammonia by pH and warmth, base, nitrite and chloride.

build = my_build()
water_care.picture(build)      # at the build's ammonia limit and pH, in its warmest water
water_care.panel(build)        # with sliders
"""

from __future__ import annotations

import itertools

import numpy as np

from aquaplumb import tables
from aquaplumb.build import Build
from aquaplumb.figures.water_care import CarePicture
from aquaplumb.review.findings.upkeep import MILD, base_words
from aquaplumb.review.readings import bands
from aquaplumb.system.steady import solved
from aquaplumb.system.upkeep_plan import FLOOR, SALT, USUAL_ALKALINITY, base_plan, chloride_plan, needs_most_chloride, weeks_ahead
from aquaplumb.units import (
    BODY_MASS,
    CONCENTRATION,
    DAY,
    NUMBER,
    TEMPERATURE,
    BodyMass,
    Concentration,
    MassRate,
    Number,
    Record,
    Temperature,
    Time,
    Volume,
    span,
)
from aquaplumb.water import startup
from aquaplumb.water.bases import base_row
from aquaplumb.water.chemistry import unionised_fraction
from aquaplumb.whatif.base import Choice, Slider
from aquaplumb.whatif.start_up_tries import of_day
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

_STEP = 0.3  # of pH in a day, the most that fish bear well: FAO Technical Paper 589
_HIGH = 7.5  # pH: above it limestone hardly dissolves (data/bases.csv), and more pH makes more ammonia poisonous; common practice
_LOWEST = 5.0  # pH, told as "under": no nitrifier works there
_PLENTY = 0.15  # kg/m³ as CaCO3, the upper end of what is held: DeLong and Losordo, SRAC 4502, 100 to 150 mg/L
_WARMTHS = np.linspace(283.15, 308.15, 26)


class Day(Record):
    """The water on one day, and what it asks for. Ammonia and nitrite are as N, alkalinity as CaCO3. Arrays belong to the picture."""

    species: str
    brown: str  # the species that bears the least nitrite
    water: Volume
    tan: Concentration
    ph: Number
    temperature: Temperature
    unionised: Concentration
    unionised_later: Concentration  # with the pH higher by what a lot of base may do
    unionised_limit: Concentration  # for the species at its age
    tan_limit: Concentration
    tan_allowed: Concentration
    alkalinity: Concentration
    fall: Concentration  # of alkalinity, a day
    alkalinity_time: Time
    base: str
    hazards: str
    base_daily: MassRate
    lots: Number
    lot: BodyMass
    nitrite: Concentration
    nitrite_limit: Concentration
    chloride: Concentration
    chloride_wanted: Concentration
    chloride_least: Concentration
    ratio: Number
    salt: BodyMass
    weeks: startup.PhWeeks  # with nothing put back, and with the base
    warmths: Temperature
    edge: Number  # the pH, for each of the warmths, at which gills are harmed

    @property
    def gills_safe(self) -> bool:
        """Whether the un-ionised part stays within what gills bear, and the whole within what the species does."""
        r = self.si
        return r.unionised <= r.unionised_limit and r.tan <= r.tan_limit

    @property
    def shielded(self) -> bool:
        """Whether the chloride keeps the nitrite out."""
        r = self.si
        return r.chloride >= r.chloride_wanted or r.nitrite <= 0

    def sentence(self, system: str = "metric") -> str:
        """The outcome: ammonia, alkalinity and nitrite, a short sentence each."""
        r = self.si
        poison = f"{CONCENTRATION.text(r.unionised, system)} of un-ionised ammonia (as N)"
        if r.unionised > r.unionised_limit:
            told = f"**Gills are harmed:** {poison}, over {CONCENTRATION.text(r.unionised_limit, system)}."
        elif r.tan > r.tan_limit:
            told = f"**Too much ammonia:** {r.species} bears {CONCENTRATION.text(r.tan_limit, system)} in all, at any pH."
        else:
            told = f"**Gills are safe:** {poison}."
        lasts = f"Alkalinity lasts **{span(r.alkalinity_time)}**." if r.alkalinity > FLOOR else "Alkalinity is **used up**."
        if r.nitrite <= 0:
            return f"{told} {lasts}"
        shield = (
            "Nitrite has the chloride that it asks for."
            if self.shielded
            else f"Nitrite asks for **{CONCENTRATION.text(r.chloride_wanted, system)} of chloride**."
        )
        return f"{told} {lasts} {shield}"

    def notes(self, system: str = "metric") -> list[tuple[str, str]]:
        """What to do today, worst first."""
        r, told = self.si, []

        def say(kind, value):
            return kind.text(value, system)

        if not self.gills_safe:
            allowed = f"At this pH and warmth {say(CONCENTRATION, min(r.tan_allowed, r.tan_limit))} of ammonia is the most."
            told.append(
                (
                    "stop" if r.unionised > 10 * r.unionised_limit else "fix",
                    f"{allowed} Feed nothing, change a quarter of the water for water without chlorine, add no base, test tomorrow.",
                )
            )
        elif r.unionised_later > r.unionised_limit:
            told.append(
                ("fix", f"Wait with the base: a pH {_STEP} higher makes {say(CONCENTRATION, r.unionised_later)} of the ammonia poisonous.")
            )
        if not self.shielded:
            severity = "stop" if r.nitrite > r.nitrite_limit and r.chloride < r.chloride_least else "fix"
            told.append(
                (
                    severity,
                    f"Nitrite: feed nothing, change a quarter of the water, and give {say(BODY_MASS, r.salt)} of calcium chloride ({SALT}), dissolved, over some hours.",
                )
            )
        elif r.nitrite > r.nitrite_limit:
            told.append(
                (
                    "fix",
                    f"Nitrite is over the {say(CONCENTRATION, r.nitrite_limit)} that {r.brown} bears; chloride helps, yet feed nothing until it falls.",
                )
            )
        if r.alkalinity <= FLOOR + r.fall:
            told.append(
                (
                    "fix",
                    f"{'Tomorrow' if r.alkalinity > FLOOR else 'Already'} the alkalinity is below {say(CONCENTRATION, FLOOR)}: the pH falls, and the bacteria stop.",
                )
            )
        told.append(("note", self._base(say)))
        if r.alkalinity > FLOOR:
            told.append(("note", self._drift()))
        if base_row(r.base).formula not in MILD:
            told.append(("note", f"{r.base[:1].upper()}{r.base[1:]}: {r.hazards}."))
        return told

    def _drift(self) -> str:
        """Where the pH goes, by week."""
        w = self.si.weeks.si

        low = np.flatnonzero(w.ph_alone < _LOWEST)
        until = int(low[0]) if low.size else len(w.week) - 1
        runs = itertools.groupby(enumerate(w.ph_alone[1:until] if low.size else w.ph_alone[1:], 1), key=lambda week: f"{week[1]:.1f}")
        alike = [(ph, [n for n, _ in weeks]) for ph, weeks in runs]
        by_week = ", ".join(f"{ph} in week{f's {n[0]} to {n[-1]}' if len(n) > 1 else f' {n[0]}'}" for ph, n in alike)
        end = f"under {_LOWEST:g} by the end of week {until}" if low.size else ""
        told = f"With nothing put back, the pH is {', '.join(part for part in (by_week, end) if part)}"
        held = f"under {_LOWEST:g}" if w.ph_given[-1] < _LOWEST else f"{w.ph_given[-1]:.1f}"
        return f"{told}." if self.si.alkalinity > _PLENTY else f"{told}; with the base it is {held} in week {w.week[-1]:g}."

    def _base(self, say) -> str:
        """Which base, how much and when."""
        r = self.si
        if r.ph > _HIGH and base_row(r.base).carbon < 1:
            return f"Above pH {_HIGH} take a bicarbonate, which hardly moves the pH, and not {r.base}."
        words = base_words(r, say)
        if r.alkalinity > _PLENTY:
            words = f"Alkalinity is plenty: no base now. From {say(CONCENTRATION, USUAL_ALKALINITY)} on: {words[:1].lower()}{words[1:]}"
        calm = self.gills_safe and r.unionised_later <= r.unionised_limit
        return words if calm else f"Once the ammonia has fallen: {words[:1].lower()}{words[1:]}"


class CareWhatIf(WhatIf):
    """Put in what your kit reads; see what it asks for, and keep alkalinity, base, nitrite and chloride."""

    drawn, page = CarePicture, "12"

    def __init__(self, build: Build):
        super().__init__(build)
        self.system = solved(build)
        self.shut = "" if build.upkeep is not None else "What your kit reads: ammonia, pH, nitrite …"
        self.plan, self.bands = self.system.upkeep, bands(build)
        self.gills = self.bands["un-ionised ammonia"].high
        self.ratio = startup.chloride_ratio.si(species=needs_most_chloride(build)).si.typical
        share = unionised_fraction.si(7.0, _WARMTHS)
        self.middle = 7.0 + np.log10(1 / share - 1)  # the pH at which half of it is un-ionised

    def own(self) -> dict:
        w, p = self.build.water.si, self.plan
        return {"tan": w.ammonia_limit, "ph": min(max(w.ph, 6.0), 9.0), "temperature": min(max(self.system.warm, 283.15), 308.15), "alkalinity": p.alkalinity,
                "base": p.base, "nitrite": p.nitrite, "chloride": p.chloride or 0.0}  # fmt: skip

    def __call__(self, tan: float, ph: float, temperature: float, alkalinity: float, base: str, nitrite: float, chloride: float) -> Day:
        """All bare SI; ammonia and nitrite as N, alkalinity as CaCO3."""
        p, species = self.plan, needs_most_chloride(self.build)
        plan = base_plan(p.ammonia, p.water, base, alkalinity=alkalinity, ph=ph, temperature=temperature)
        shield = chloride_plan(nitrite, chloride, p.water, species=species)
        part = self.gills / tan if tan > self.gills else None
        return Day.from_si(
            species=self.bands["ammonia"].whose, brown=self.bands["nitrite"].whose, water=p.water, tan=tan, ph=ph, temperature=temperature, unionised=tan * unionised_fraction.si(ph, temperature),
            unionised_limit=self.gills, unionised_later=tan * unionised_fraction.si(ph + _STEP, temperature), tan_limit=self.bands["ammonia"].high,
            tan_allowed=startup.tan_allowed.si(ph, temperature, limit=self.gills), alkalinity=alkalinity, fall=p.alkalinity_fall * DAY,
            alkalinity_time=float(startup.alkalinity_time.si(alkalinity, p.water, p.ammonia, floor=FLOOR)), base=base, hazards=base_row(base).hazards,
            base_daily=plan.base_daily, lots=plan.lots, lot=plan.lot, nitrite=nitrite, nitrite_limit=self.bands["nitrite"].high, chloride=chloride,
            chloride_wanted=shield.chloride_wanted, chloride_least=shield.chloride_least, ratio=self.ratio, salt=shield.salt,
            weeks=startup.PhWeeks.from_si(**vars(weeks_ahead(plan, p.water, p.ammonia, alkalinity=alkalinity, ph=ph, temperature=temperature))),
            warmths=_WARMTHS, edge=np.full_like(_WARMTHS, 14.0) if part is None else self.middle + np.log10(part / (1 - part)),
        )  # fmt: skip

    def controls(self) -> list:
        return [
            Slider("tan", "ammonia, as N", CONCENTRATION, "0 mg/L", "5 mg/L", "0.1 mg/L", tip="all of it, as your kit reads it", kept=False),
            Slider("ph", "pH", NUMBER, 6.0, 9.0, 0.1, kept=False, key="water.ph"),
            Slider("temperature", "water", TEMPERATURE, "10 degC", "35 degC", "0.5 degC", kept=False),
            Slider("nitrite", "nitrite, as N", CONCENTRATION, "0 mg/L", "5 mg/L", "0.1 mg/L", key="upkeep.nitrite"),
            Slider("chloride", "chloride", CONCENTRATION, "0 mg/L", "300 mg/L", "5 mg/L", tip="the utility's report has your tap water's", key="upkeep.chloride"),
            Slider("alkalinity", "alkalinity, as CaCO3", CONCENTRATION, "0 mg/L", "300 mg/L", "5 mg/L", key="upkeep.alkalinity"),
            Choice("base", "base", tables.names("bases")),
        ]  # fmt: skip

    def findings(self, record, system: str) -> list[tuple[str, str]]:
        return record.notes(system)

    def changes(self, values: Values) -> dict[tuple, object]:
        kept, moved = ("alkalinity", "base", "nitrite", "chloride"), self.moved(values)
        return {("upkeep", name): values.text(name) for name in kept if self.build.upkeep is None or name in moved}

    def tries(self) -> list[Try]:
        return of_day(self)


day, picture, panel = CareWhatIf.as_built, CareWhatIf.picture, CareWhatIf.panel

"""What to do next by a log's last readings: the most urgent first, each with its numbers and its reason."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from aquaplumb import water
from aquaplumb.build import Build
from aquaplumb.fish.waste import ALKALINITY_FOR_NITROGEN
from aquaplumb.given import takes_things
from aquaplumb.review import Review
from aquaplumb.review.readings.bands import Band, Trend, bands, trend
from aquaplumb.review.readings.biofilter import Biofilter, biofilter, system_water
from aquaplumb.review.readings.cells import COLUMNS
from aquaplumb.review.readings.log import Log
from aquaplumb.system.upkeep_plan import FLOOR
from aquaplumb.units import BODY_MASS, CONCENTRATION, DAY, TEMPERATURE, VOLUME, DesignError, rounded, span
from aquaplumb.water import chemistry, startup

URGENCIES = ("now", "today", "this week", "watch")
OLD = 10  # days after which a reading says nothing of today's water: common practice, no source
_SOON = 14  # days ahead that a trend is worth acting on
_LEAKY = 0.05  # of the water a day: make-up is 1 to 3 % (UVI 1.5 %, Rakocy; a teaching system 3 %, Quevedo and Álvarez 2005)
_WEAK = 0.7  # of the assumed removal: below it the build's reckoning no longer holds; ours
_ALKALINITY = 100e-3  # kg/m³ as CaCO3 to bring it back to (DeLong and Losordo: 100 to 150 mg/L at the start)
_STEP, _LEAST_STEP = (
    20e-3,
    5e-3,
)  # kg/m³ of alkalinity a day, most and least: small lots, for a pH that moves by 0.3 a day stresses fish (FAO 589)


@dataclass(frozen=True)
class Action:
    """One thing to do: `urgency` ("now", "today", "this week", "watch"), what of, the numbers, the reason, what to do."""

    urgency: str
    name: str
    sentence: str
    reason: str
    do: str

    def __str__(self) -> str:
        return f"{self.urgency}: {self.sentence} {self.reason} → {self.do}"


@takes_things
def actions(log: Log, build: Build | Review) -> list[Action]:
    """What the log's last readings ask for, most urgent first.

    They are a second pair of eyes, not a vet: gasping, flashing or dying fish come before any number.

    Parameters
    ----------
    log : Log
    build : Build or Review

    Returns
    -------
    list[Action]

    Notes
    -----
    A reading counts as today's for ten days before the log's last date. Trends are of the last seven readings (`trend`).

    Source: `bands` and, in each rule of this module, beside its number.

    Examples
    --------
    >>> from aquaplumb.build import load
    >>> from aquaplumb.review.readings import read
    >>> actions(read("courtyard-spring"), load("courtyard"))[0].name
    'alkalinity'
    """
    found = list(_Advice(log, build).all())
    return sorted(found, key=lambda a: URGENCIES.index(a.urgency))


class _Advice:
    """The rules, one a reading; each yields an action or none."""

    def __init__(self, log: Log, build: Build | Review):
        self.log = log
        self.build = build.build if isinstance(build, Review) else build
        self.units, self.bands = self.build.units, bands(self.build)
        self.now: dict[str, float] = {}
        self.old: dict[str, int] = {}
        for name in log.si:
            if (last := log.latest(name)) is not None:
                age = float((log.dates[-1] - last[0]) / np.timedelta64(1, "D"))
                if age > OLD:
                    self.old[name] = round(age)
                else:
                    self.now[name] = last[1]
        self.trends: dict[str, Trend | None] = {name: trend(log, name) for name in self.now}
        self.water = system_water(self.build)
        try:
            self.filter: Biofilter | None = biofilter(log, build)
        except DesignError:  # a build that cannot be solved; the fish need their advice all the same
            self.filter = None

    def say(self, kind, value: float) -> str:
        return kind.text(value, self.units)

    def all(self) -> Iterator[Action]:
        for rule in (self._oxygen, self._temperature, self._ammonia, self._nitrite, self._alkalinity, self._ph, self._carbon_dioxide,
                     self._nitrate, self._beds, self._top_up, self._log):  # fmt: skip
            yield from rule()

    def _band(self, name: str) -> tuple[Band, float | None]:
        return self.bands[name], self.now.get(name)

    def _going(self, name: str, limit: float) -> float:
        """Days until a reading reaches a limit; inf where it does not go there."""
        line = self.trends.get(name)
        return line.days_to(limit) if line is not None and math.isfinite(limit) else math.inf

    def _change(self, name: str) -> str:
        line = self.trends[name]
        assert line is not None  # whoever asks has seen that it goes somewhere
        return self.say(COLUMNS[name].kind, abs(line.a_day)) + " a day"

    def _oxygen(self):
        band, value = self._band("oxygen")
        if value is None:
            return
        full = ""
        if "temperature" in self.now and self.now["temperature"] <= 313.15:
            most = water.oxygen_saturation.si(self.now["temperature"], altitude=self.build.site.si.altitude)
            full = f" Full water holds {self.say(CONCENTRATION, most)} at {self.say(TEMPERATURE, self.now['temperature'])}."
        if value < band.low:
            urgent = "now" if band.dangerous(value) else "today"
            yield Action(urgent, "oxygen", f"Oxygen is {self.say(CONCENTRATION, value)}; {self.build.fish.si.species} needs {self.say(CONCENTRATION, band.low)}.",
                (f"Below {self.say(CONCENTRATION, band.danger_low)} fish begin to die. " if math.isfinite(band.danger_low) else "") + f"It is lowest before dawn.{full}",
                "More air at once (a second stone, a stronger fall of water), no feed until it is back; test again at dawn.")  # fmt: skip
        elif (left := self._going("oxygen", band.low)) < _SOON:
            yield Action("this week", "oxygen", f"Oxygen is {self.say(CONCENTRATION, value)} and falls by {self._change('oxygen')}: {rounded(left, 2)} days to the least that is good.",
                f"More feed, warmer water or dirty stones.{full}", "Clean the air stones and the pump's screen; add air before you add feed.")  # fmt: skip

    def _temperature(self):
        band, value = self._band("temperature")
        if value is None or not band.outside(value):
            return
        warm = value > band.high
        edge = band.danger_high if warm else band.danger_low
        slow = "2 °F" if self.units == "US" else "1 °C"  # common practice, no source
        yield Action("now" if band.dangerous(value) else "this week", "temperature",
            f"The water is at {self.say(TEMPERATURE, value)}; {self.build.fish.si.species} "
            + (f"is well up to {self.say(TEMPERATURE, band.high)}." if warm else f"stops feeding at {self.say(TEMPERATURE, band.low)}."),
            (f"It lives to {self.say(TEMPERATURE, edge)}. " if math.isfinite(edge) else "")
            + ("Warm water holds less oxygen while fish use more." if warm else "Feed that is not eaten rots."),
            f"Shade it, feed less and add air; change it by {slow} an hour at most." if warm else f"Do not feed; warm it slowly, by {slow} an hour at most, and put a lid on.")  # fmt: skip

    def _ammonia(self):
        free, gills = self._band("un-ionised ammonia")
        band, value = self._band("ammonia")
        if value is None:
            return
        at = (
            f" at pH {self.now['pH']:.1f} and {self.say(TEMPERATURE, self.now['temperature'])}"
            if gills is not None and {"pH", "temperature"} <= set(self.now)
            else ""
        )
        mild = "Stop feeding; change a quarter of the water for water without chlorine of the same warmth; test again tomorrow. Do not raise the pH: that makes more of it poisonous."
        if gills is not None and gills > free.high:
            yield Action("now" if free.dangerous(gills) else "today", "un-ionised ammonia",
                f"Un-ionised ammonia is {self.say(CONCENTRATION, gills)} (as N){at}, of {self.say(CONCENTRATION, value)} in all.",
                f"Above {self.say(CONCENTRATION, free.high)} it harms gills; fish die as it nears 2 mg/L (UF/IFAS FA-16).", mild)  # fmt: skip
        elif value > band.high:
            yield Action("now" if band.dangerous(value) else "today", "ammonia",
                f"Ammonia is {self.say(CONCENTRATION, value)} (as N); {self.build.fish.si.species} bears {self.say(CONCENTRATION, band.high)}.",
                (f"{self.say(CONCENTRATION, gills)} of it is un-ionised{at}, and a rise of pH makes it more." if gills is not None
                 else "How much of it is poisonous hangs on pH and temperature; measure both."), mild)  # fmt: skip
        elif (left := self._going("ammonia", band.high)) < _SOON:
            yield Action("this week", "ammonia", f"Ammonia is {self.say(CONCENTRATION, value)} (as N) and rises by {self._change('ammonia')}: {rounded(left, 2)} days to the limit of {self.say(CONCENTRATION, band.high)}.",
                "More is made than the beds turn.", "Hold the feed where it is or lower; look for dead fish, clogged beds and a slow pump.")  # fmt: skip

    def _nitrite(self):
        band, value = self._band("nitrite")
        if value is None:
            return
        salt = startup.chloride_needed.si(value)  # ten of chloride for one of nitrite as NO2 (SRAC 462)
        if value > band.high:
            yield Action("now" if band.dangerous(value) else "today", "nitrite",
                f"Nitrite is {self.say(CONCENTRATION, value)} (as N); {self.build.fish.si.species} bears {self.say(CONCENTRATION, band.high)}.",
                "It turns the blood brown: fish suffocate in water that has oxygen. The second kind of bacteria lags, as after a cleaning or a cold spell.",
                f"Stop feeding, more air, change a quarter of the water for water without chlorine. Chloride of {self.say(CONCENTRATION, salt)} holds it off (ten to one, SRAC 462): "
                "calcium chloride in small lots, for table salt harms the plants.")  # fmt: skip
        elif (left := self._going("nitrite", band.high)) < _SOON:
            yield Action("this week", "nitrite", f"Nitrite is {self.say(CONCENTRATION, value)} (as N) and rises by {self._change('nitrite')}: {rounded(left, 2)} days to the limit of {self.say(CONCENTRATION, band.high)}.",
                "The second kind of bacteria does not keep up.", "Hold the feed; leave the media alone; test each day.")  # fmt: skip

    def _alkalinity(self):
        band, value = self._band("alkalinity")
        if value is None:
            return
        line = self.trends["alkalinity"]
        empty = self._going("alkalinity", FLOOR if value > FLOOR else 0.0)
        falling = line is not None and line.clear and line.slope < 0
        pace = f" and falls by {self._change('alkalinity')}" if falling else ""
        used = ""
        if falling and math.isfinite(empty):
            used = f": {span(empty * DAY)} until " + (
                f"{self.say(CONCENTRATION, FLOOR)}, where the pH begins to swing" if value > FLOOR else "none is left"
            )
        if value >= band.low and not (falling and empty < _SOON):
            return
        step = max(0.0, min(self._safe_rise(value), _ALKALINITY - value))
        need = self.say(BODY_MASS, chemistry.base_needed.si(step, self.water, "KHCO3"))
        reason = "Without alkalinity the pH drops and the bacteria stop."
        if self.filter is not None and self.filter.turned > 0:
            reason += (f" Turning your feed's ammonia uses up to {self.say(CONCENTRATION, ALKALINITY_FOR_NITROGEN * self.filter.turned * DAY / self.filter.volume)} a day; "
                       "nitrate that plants take up gives some of it back.")  # fmt: skip
        yield Action("now" if band.dangerous(value) and falling else "today" if (value < band.low and falling) or band.dangerous(value) else "this week", "alkalinity",
            f"Alkalinity is {self.say(CONCENTRATION, value)} (as CaCO3){pace}{used}.", reason,
            f"Dissolve {need} of potassium bicarbonate in a bucket and add it slowly, once a day, until it stands near {self.say(CONCENTRATION, _ALKALINITY)}: "
            f"that is {self.say(CONCENTRATION, step)} in {self.say(VOLUME, self.water)}. Not all at once: pH that jumps hurts fish, and turns ammonia poisonous.")  # fmt: skip

    def _safe_rise(self, alkalinity: float) -> float:
        """The rise of alkalinity for one day that moves the pH by 0.3 at most, kg/m³; a little even where there is none."""
        ph = self.now.get("pH")
        if ph is None or not 5 <= ph <= 9:
            return _STEP
        lot = startup.daily_lot.si(1.0, "potassium bicarbonate", alkalinity=alkalinity, ph=ph)
        return min(_STEP, max(_LEAST_STEP, lot / chemistry.base_needed.si(1.0, 1.0, "KHCO3")))

    def _ph(self):
        band, value = self._band("pH")
        if value is None:
            return
        side, line = int(band.outside(value)), self.trends["pH"]
        pace = f" and moves by {abs(line.a_day):.2f} a day" if line is not None and line.clear and line.slope * (value - 7) > 0 else ""
        low = side < 0 or (not side and value < 7)
        reason = "The bacteria slow below 6.5 and stop near 6." if low else "The higher the pH, the more of the ammonia is poisonous."
        do = (
            "See to the alkalinity first; the pH follows it. Move it by 0.3 in a day at most."
            if low
            else "Stop adding bases, look for limestone in the media; move it by 0.3 in a day at most."
        )
        if side:
            yield Action(
                "now" if band.dangerous(value) else "today",
                "pH",
                f"pH is {value:.1f}{pace}; good is {band.low:g} to {band.high:g}.",
                reason,
                do,
            )
        elif (left := min(self._going("pH", band.low), self._going("pH", band.high))) < _SOON:
            edge = band.low if line.slope < 0 else band.high
            yield Action(
                "this week",
                "pH",
                f"pH is {value:.1f} and moves by {abs(line.a_day):.2f} a day: {rounded(left, 2)} days to {edge:g}.",
                reason,
                do,
            )

    def _carbon_dioxide(self):
        band, value = self._band("carbon dioxide")
        if value is not None and value > band.high:
            yield Action("today" if band.dangerous(value) else "this week", "carbon dioxide",
                f"By pH {self.now['pH']:.1f} and alkalinity there is {self.say(CONCENTRATION, value)} of carbon dioxide; over {self.say(CONCENTRATION, band.high)} fish slow.",
                "It comes from breath and rotting solids, and leaves by splashing. A pH a little wrong shifts it much.",
                "Shake a glass of the water and test its pH again: if it rises, it is so. Then more splash and air, fewer solids.")  # fmt: skip

    def _nitrate(self):
        band, value = self._band("nitrate")
        if value is None:
            return
        if value > band.high:
            yield Action("this week", "nitrate", f"Nitrate is {self.say(CONCENTRATION, value)} (as N); {self.say(CONCENTRATION, band.high)} is the limit.",
                "It is not poisonous like nitrite, and yet wears fish down.", "More plants or less feed; change some of the water.")  # fmt: skip
        elif (line := self.trends["nitrate"]) is not None and line.clear and line.slope > 0 and value > 150e-3 * 14.0067 / 62.0049:
            yield Action("watch", "nitrate", f"Nitrate is {self.say(CONCENTRATION, value)} (as N) and rises by {self._change('nitrate')}.",
                "The feed brings more nitrogen than the plants take; plants do well on 1 to 34 mg/L as N (5 to 150 as NO3: FAO 589 table 3.2).", "More plants, or less feed.")  # fmt: skip

    def _beds(self):
        f = self.filter
        if f is not None and not f.at_least and f.share < _WEAK:
            yield Action("watch", "biofilter",
                f"Your readings say that the biofilter does {f.share:.0%} of what the build assumes: a pass takes out {f.removal:.0%} of the ammonia, not {f.assumed:.0%}.",
                f"{self.say(CONCENTRATION, f.ammonia)} stands in the water at {f.share_of_load:.0%} of the heaviest day's ammonia.",
                "Do not feed more yet. Look at the flow over the beds, at dirt in the media, at pH and oxygen; it may be young or cold.")  # fmt: skip

    def _top_up(self):
        if "top-up" not in self.now or self.water <= 0:
            return
        late = (self.log.days > self.log.days[-1] - 14) & np.isfinite(self.log.si["top-up"])
        span = min(14.0, float(self.log.days[-1]))
        if late.sum() < 3 or span < 3:
            return
        share = float(self.log.si["top-up"][late].sum()) / span / self.water
        if share > _LEAKY:
            yield Action("this week", "top-up", f"You add {self.say(VOLUME, share * self.water)} a day, {share:.1%} of the water.",
                "Plants and evaporation take 1 to 3 % (Rakocy; Quevedo and Álvarez 2005).", "Unless you change water on purpose, look for a leak: mark the level, pump off, overnight.")  # fmt: skip

    def _log(self):
        for name, age in self.old.items():
            if name in COLUMNS and name not in ("feed", "top-up"):
                yield Action("this week", name, f"{COLUMNS[name].name.capitalize() if name != 'pH' else 'pH'} was last measured {age} days before the log ends.",
                    "So old a reading says nothing of today's water.", "Measure it.")  # fmt: skip
        for name in ("temperature", "pH", "ammonia", "nitrite", "oxygen"):
            if name not in self.now and name not in self.old:
                yield Action(
                    "watch",
                    name,
                    f"The log has no {name}.",
                    "Without it nobody can say whether the fish are safe.",
                    "Measure it each week; ammonia, nitrite and oxygen each day after a change.",
                )
        out = [p for p in self.log.problems if not p.kept]
        if out:
            yield Action("watch", "log", f"{len(out)} of its cells or rows could not be read and are kept out, the first in row {out[0].row}, {out[0].column}.",
                "What is kept out is in none of this.", "Mend them in the file; the log's problems say how.")  # fmt: skip

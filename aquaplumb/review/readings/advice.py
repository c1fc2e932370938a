"""What to do next by a log's last readings: the most urgent first, each with its numbers and its reason."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from aquaplumb import water
from aquaplumb.build import Build
from aquaplumb.build.vessels import kinds_in_words
from aquaplumb.fish.waste import ALKALINITY_FOR_NITROGEN
from aquaplumb.given import takes_things
from aquaplumb.review import Review
from aquaplumb.review.readings.bands import Band, Trend, bands, leaps, trend
from aquaplumb.review.readings.biofilter import Biofilter, biofilter, system_water
from aquaplumb.review.readings.cells import COLUMNS
from aquaplumb.review.readings.latest import OLD, Latest
from aquaplumb.review.readings.log import Log
from aquaplumb.system.upkeep_plan import FLOOR, SALT, chloride_plan, needs_most_chloride
from aquaplumb.units import BODY_MASS, CONCENTRATION, DAY, TEMPERATURE, VOLUME, DesignError, in_percent, rounded, span
from aquaplumb.water import chemistry, startup

URGENCIES = ("now", "today", "this week", "watch")
_SOON = 14  # days ahead that a trend is worth acting on
_LEAKY = 0.05  # of the water a day: make-up is 1 to 3 % (UVI 1.5 %, Rakocy; a teaching system 3 %, Quevedo and Álvarez 2005)
_WEAK = 0.7  # of the assumed removal: below it the build's reckoning no longer holds; ours
_ALKALINITY = 100e-3  # kg/m³ as CaCO3 to bring it back to (DeLong and Losordo: 100 to 150 mg/L at the start)
_RISE = 0.3  # of pH in a day: FAO 589 ch. 7
_STEP, _LEAST_STEP = 20e-3, 5e-3  # kg/m³ of alkalinity a day, most and least: small lots, for a pH that moves by 0.3 a day stresses fish
_SOUR = 6.5  # pH below which new water lifts it much: common practice


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

    A reading counts as today's for ten days before the log's last date; one out of its band until it is measured again.
    Un-ionised ammonia is formed of the latest ammonia, pH and temperature, each with its age; where pH or temperature is
    older than a day, the highest of the last ten days, and where nobody knows it, the worse that may be. While ammonia is
    high no base is given. Trends are of the last seven readings (`trend`).

    Source: `bands` and, in each rule of this module, beside its number.

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
        self.latest = Latest(log, self.build, self.bands)
        self.now, self.old = self.latest.now, self.latest.old
        self.trends: dict[str, Trend | None] = {name: trend(log, name) for name in self.now if name in log.si}
        self.water = system_water(self.build)
        self.living = kinds_in_words(v for v in self.build.vessels.values() if v.grows or v.media) or "beds"
        self.dirty = "the media" if any(v.media for v in self.build.vessels.values()) else "them"
        try:
            self.filter: Biofilter | None = biofilter(log, build)
        except DesignError:  # a build that cannot be solved; the fish need their advice all the same
            self.filter = None

    def say(self, kind, value: float) -> str:
        return kind.text(value, self.units)

    def all(self) -> Iterator[Action]:
        for rule in (self._oxygen, self._temperature, self._ammonia, self._nitrite, self._alkalinity, self._ph, self._carbon_dioxide,
                     self._nitrate, self._leaps, self._beds, self._top_up, self._log):  # fmt: skip
            for action in rule():
                yield self._dated(action) if rule not in (self._leaps, self._log, self._top_up) else action

    def _dated(self, action: Action) -> Action:
        """An action with the age of its reading, where that is not the log's end; what is too old is to be measured anew."""
        age = self.latest.aged(action.name)
        if not age or action.name not in self.now:
            return action
        again = "Measure it now, and until then do so: " if self.latest.age(action.name) > OLD else ""
        return replace(
            action,
            sentence=f"{action.sentence} That was {age}.",
            do=again + (action.do[:1].lower() + action.do[1:] if again else action.do),
        )

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
            place = {"salinity": self.build.water.si.salinity, "altitude": self.build.site.si.altitude}
            most = water.oxygen_saturation.si(self.now["temperature"], **place)
            full = f" Full water holds {self.say(CONCENTRATION, most)} at {self.say(TEMPERATURE, self.now['temperature'])}."
        if value < band.low:
            urgent = "now" if band.dangerous(value) else "today"
            yield Action(urgent, "oxygen", f"Oxygen is {self.say(CONCENTRATION, value)}; {band.low_whose} needs {self.say(CONCENTRATION, band.low)}.",
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
        yield Action("now" if band.dangerous(value) else "this week", "temperature",
            f"The water is at {self.say(TEMPERATURE, value)}; {band.whose if warm else band.low_whose} "
            + (f"is well up to {self.say(TEMPERATURE, band.high)}." if warm else f"stops feeding at {self.say(TEMPERATURE, band.low)}."),
            (f"It lives to {self.say(TEMPERATURE, edge)}. " if math.isfinite(edge) else "")
            + ("Warm water holds less oxygen while fish use more." if warm else "Feed that is not eaten rots."),
            f"Shade it, feed less and add air; change it by {self._slow} at most." if warm else f"Do not feed; warm it slowly, by {self._slow} at most, and put a lid on.")  # fmt: skip

    @property
    def _slow(self) -> str:
        """How fast warmth may change: the hour common practice, no source; the day as `leaps` has it."""
        return "2 °F an hour and 5 °F a day" if self.units == "US" else "1 °C an hour and 3 °C a day"

    @property
    def _ammonia_first(self) -> float | None:
        """The ammonia down to which no base is safe, where there is more: with it, a pH higher by a day's lot harms gills."""
        value, safe = self.now.get("ammonia"), self._safe_ammonia()
        return safe if value is not None and value > safe else None

    def _safe_ammonia(self) -> float:
        ph, warmth = min(self.latest.ph().value + _RISE, 14.0), self.latest.temperature().value
        return min(self.bands["ammonia"].high, float(startup.tan_allowed.si(ph, warmth, limit=self.bands["un-ionised ammonia"].high)))

    def _ammonia(self):
        free, gills = self.bands["un-ionised ammonia"], self.latest.unionised()
        band, value = self._band("ammonia")
        last = self.log.latest("ammonia")
        if last is None or gills is None:
            return
        ph, warmth = self.latest.ph(), self.latest.temperature()
        at = f" at pH {ph.value:.1f} and {self.say(TEMPERATURE, warmth.value)}"
        worse = "".join(f" {name}: {mark.whence}." for name, mark in (("pH", ph), ("Temperature", warmth)) if mark.whence)
        do = f"{'Measure pH and temperature now. ' if worse else ''}Stop feeding; {self._new_water()} Do not raise the pH: that makes more of it poisonous."
        if gills > free.high:
            aged = f" The ammonia was {age}." if (age := self.latest.aged("ammonia")) else ""
            yield Action("now" if free.dangerous(gills) else "today", "un-ionised ammonia",
                f"Un-ionised ammonia is {self.say(CONCENTRATION, gills)} (as N){at}, of {self.say(CONCENTRATION, last[1])} in all.{worse}{aged}",
                f"Above {self.say(CONCENTRATION, free.high)} it harms gills; fish die as it nears 2 mg/L (UF/IFAS FA-16), cold-water fish and fry far sooner.", do)  # fmt: skip
        elif value is not None and value > band.high:
            yield Action("now" if band.dangerous(value) else "today", "ammonia",
                f"Ammonia is {self.say(CONCENTRATION, value)} (as N); {band.whose} bears {self.say(CONCENTRATION, band.high)}.",
                f"{self.say(CONCENTRATION, gills)} of it is un-ionised{at}, and a rise of pH makes it more.{worse}", do)  # fmt: skip
        elif value is None:
            return
        elif (left := self._going("ammonia", band.high)) < _SOON:
            yield Action("this week", "ammonia", f"Ammonia is {self.say(CONCENTRATION, value)} (as N) and rises by {self._change('ammonia')}: {rounded(left, 2)} days to the limit of {self.say(CONCENTRATION, band.high)}.",
                f"More is made than the {self.living} turn.", f"Hold the feed where it is or lower; look for dead fish, clogged {self.living} and a slow pump.")  # fmt: skip

    def _ph_to_stay_under(self) -> float | None:
        """In water so sour that new water lifts its pH much, the pH at which the ammonia in it would harm gills."""
        ammonia, ph, warmth = self.now.get("ammonia", 0.0), self.latest.ph().value, self.latest.temperature().value
        sour = ph < _SOUR or self.now.get("alkalinity", 1.0) < FLOOR
        even = 7.0 + math.log10(1.0 / float(chemistry.unionised_fraction.si(7.0, warmth)) - 1.0)  # the pH at which half is un-ionised
        part = min(self.bands["un-ionised ammonia"].high / ammonia, 0.5) if ammonia > 0 else 0.5
        most = even + math.log10(part / (1 - part))
        return most if sour and most > ph and self._ammonia_first is not None else None

    def _new_water(self) -> str:
        """How to change water: in small parts where new water lifts a pH that keeps much ammonia harmless."""
        most = self._ph_to_stay_under()
        if most is None:
            return "change a quarter of the water for water without chlorine of the same warmth; test again tomorrow."
        return (f"change a tenth of the water at a time, for water without chlorine of the same warmth: new water lifts the pH. "
                f"Test pH and ammonia before the next; with so much ammonia the pH has to stay under {math.floor(10 * most) / 10:g}.")  # fmt: skip

    def _nitrite(self):
        band, value = self._band("nitrite")
        if value is None:
            return
        species, upkeep = needs_most_chloride(self.build), self.build.upkeep
        there = (upkeep.si.chloride if upkeep is not None else None) or 0.0
        plan = chloride_plan(value, there, self.water, species=species)
        has = f"your build says that {self.say(CONCENTRATION, there)} is there" if there else "your build tells of none"
        give = (f"so it takes {self.say(BODY_MASS, plan.salt)} of calcium chloride ({SALT}), dissolved and in small lots; table salt harms the plants."
                if plan.salt > 0 else "which is enough if it is still so: test it.")  # fmt: skip
        if value > band.high:
            yield Action("now" if band.dangerous(value) else "today", "nitrite",
                f"Nitrite is {self.say(CONCENTRATION, value)} (as N); {band.whose} bears {self.say(CONCENTRATION, band.high)}.",
                "It turns the blood brown: fish suffocate in water that has oxygen. The second kind of bacteria lags, as after a cleaning or a cold spell.",
                f"Stop feeding, more air; {self._new_water()} Chloride of {self.say(CONCENTRATION, plan.chloride_wanted)} keeps it out of the gills of {species}; {has}, {give}")  # fmt: skip
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
        base = (f"issolve {need} of potassium bicarbonate in a bucket and add it slowly, once a day, until it stands near {self.say(CONCENTRATION, _ALKALINITY)}: "
                f"that is {self.say(CONCENTRATION, step)} in {self.say(VOLUME, self.water)}. Not all at once: pH that jumps hurts fish, and turns ammonia poisonous.")  # fmt: skip
        if (safe := self._ammonia_first) is not None:
            do = f"Ammonia first: no base before it is below {self.say(CONCENTRATION, safe)} (as N); new water brings some alkalinity as well. Then d{base}"
        elif "ammonia" not in self.now:
            do = f"Measure ammonia first: a base makes it poisonous. If it is below {self.say(CONCENTRATION, self._safe_ammonia())} (as N), d{base}"
        else:
            do = f"D{base}"
        yield Action("now" if band.dangerous(value) and falling else "today" if (value < band.low and falling) or band.dangerous(value) else "this week", "alkalinity",
            f"Alkalinity is {self.say(CONCENTRATION, value)} (as CaCO3){pace}{used}.", reason, do)  # fmt: skip

    def _safe_rise(self, alkalinity: float) -> float:
        """The rise of alkalinity for one day that moves the pH by 0.3 at most, kg/m³; a little even where there is none."""
        ph = np.clip([self.now["pH"]] if "pH" in self.now else [6.0, 7.0, 8.0], 5.0, 9.0)  # the least of them where nobody knows it
        lot = float(np.min(startup.daily_lot.si(1.0, "potassium bicarbonate", alkalinity=alkalinity, ph=ph)))
        return min(_STEP, max(_LEAST_STEP, lot / chemistry.base_needed.si(1.0, 1.0, "KHCO3")))

    def _ph(self):
        band, value = self._band("pH")
        if value is None:
            return
        side, line = int(band.outside(value)), self.trends["pH"]
        pace = f" and moves by {abs(line.a_day):.2f} a day" if line is not None and line.clear and line.slope * (value - 7) > 0 else ""
        low = side < 0 or (not side and value < 7)
        reason = "The bacteria slow below 6.5 and stop near 6." if low else "The higher the pH, the more of the ammonia is poisonous."
        before = "Ammonia first, then the alkalinity" if self._ammonia_first is not None else "See to the alkalinity first"
        do = (
            f"{before}; the pH follows it. Move it by 0.3 in a day at most."
            if low
            else "Add no base but a bicarbonate, which hardly moves so high a pH; look for limestone in the media; move it by 0.3 in a day at most."
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
                "Shake a glass of the water and test its pH again: if it rises, it is so. Then more splash and air, fewer solids"
                + ("; step by step, for air lifts the pH, and ammonia is high." if self._ammonia_first is not None else "."))  # fmt: skip

    def _leaps(self):
        every = leaps(self.log)
        for name in dict.fromkeys(leap.name for leap in every):
            mine = [leap for leap in every if leap.name == name]
            worst = max(mine, key=lambda leap: leap.times)
            most = self._slow if name == "temperature" else f"{_RISE} a day"
            yield Action("today" if worst.times > 3 else "this week", f"{name} leaps",
                f"{'pH' if name == 'pH' else 'The water'} leapt {', then '.join(leap.text(self.units) for leap in mine[-3:])}{f', the last of {len(mine)} leaps' if len(mine) > 3 else ''}; {most} is the most that fish bear well.",
                "Fish that are not hurt by a value are hurt by the leap; it weakens them against disease." if name == "temperature"
                else "FAO 589: leaps of pH trouble fish or kill them; little alkalinity, much base at once or sun on algae make them.",
                "Look for the cause: sun or frost on the tank, a heater, a big change of water. Lid, shade and foam; measure at dawn and in the afternoon." if name == "temperature"
                else "Test again, at dawn and in the afternoon, with the same kit. Give bases in smaller lots, see to the alkalinity, keep light off the water.")  # fmt: skip

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
                f"Your readings say that the biofilter does {in_percent(f.share)} of what the build assumes: a pass takes out {in_percent(f.removal)} of the ammonia, not {in_percent(f.assumed)}.",
                f"{self.say(CONCENTRATION, f.ammonia)} stands in the water at {in_percent(f.share_of_load)} of the heaviest day's ammonia.",
                f"Do not feed more yet. Look at the flow over the {self.living}, at dirt in {self.dirty}, at pH and oxygen; it may be young or cold.")  # fmt: skip

    def _top_up(self):
        if "top-up" not in self.now or self.water <= 0:
            return
        late = (self.log.days > self.log.days[-1] - 14) & np.isfinite(self.log.si["top-up"])
        span = min(14.0, float(self.log.days[-1]))
        if late.sum() < 3 or span < 3:
            return
        share = float(self.log.si["top-up"][late].sum()) / span / self.water
        if share > _LEAKY:
            yield Action("this week", "top-up", f"You add {self.say(VOLUME, share * self.water)} a day, {in_percent(share, 1)} of the water.",
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

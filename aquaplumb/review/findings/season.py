"""Findings about a year of the build: the months in which more is asked than beds, air and tanks can do."""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.build.seasons import MONTHS
from aquaplumb.review.findings.air import time_short
from aquaplumb.review.findings.base import among, finding, fix, note, stop
from aquaplumb.review.findings.flows import _STOP_OXYGEN
from aquaplumb.review.findings.stock import _CARRIERS, _HALF, AIRED_LIMIT, UNAIRED_LIMIT, limit_words
from aquaplumb.system.season import AIR, HARDLY, MONTH_OF, on_day
from aquaplumb.system.steady import Steady
from aquaplumb.units import (
    BODY_MASS,
    CONCENTRATION,
    INSOLATION,
    MASS_RATE,
    OXYGEN_RATE,
    POWER,
    SHARE,
    STOCKING,
    SURFACE,
    TEMPERATURE,
    VOLUME,
)

_SPARED = 0.98  # of what may come: so that rounding does not eat it
_LEAN = 1.0  # feed over gain: below, the growth coefficient promises more than the feed can carry; dry feed over wet fish, FAO 589 has 1.4 to 1.8


def in_months(days: np.ndarray) -> str:
    """The months in which something is so on some day, in words: "in June, July and August"."""
    found = [MONTHS[n] for n in range(12) if np.any(days[n == MONTH_OF])]
    if len(found) == 12:
        return "all year"
    return f"in {among(found, most=11)}"


@finding("worst month of the year", notebook="01")
def worst_month(system, say):
    """Which month of the season the review is about."""
    run = system.season
    if run is None:
        return
    yield note(
        "fish tank",
        f"This review is of {MONTHS[run.month]}, which asks the most of the year: {run.asks(say(SHARE, run.most))}.",
        "It has the fish, the feed and the water of that time; page 01 shows the other months.",
    )


def _fewer(ratio: float, say) -> str:
    return f"Let no more than {say(SHARE, math.floor(100 * _SPARED / ratio) / 100)} of these fish come, or let them come in two groups months apart"


@finding("season beyond the beds", notebook="01")
def beyond_beds(system, say):
    """Months in which the fish give off more ammonia than the bacteria turn."""
    run = system.season
    if run is None or system.living.surface["typical"] <= 0:
        return
    strain = run.strain[run.living]
    day = int(np.argmax(strain))
    if strain[day] > 1 and np.isfinite(strain[day]) and run.turned[day] > 0:
        yield (stop if strain[day] > 1 / _HALF else fix)(
            system.living.words,
            f"T{run.living[1:]} cannot turn all ammonia {in_months(strain > 1)}: at most {say(MASS_RATE, run.ammonia[day])} against {say(MASS_RATE, run.turned[day])}, in {MONTHS[MONTH_OF[day]]} at {say(TEMPERATURE, run.cold[day])}.",
            f"{_fewer(strain[day], say)}, or add {_more_surface(system.living, strain[day], say)}.",
        )


def _more_surface(living, strain: float, say) -> str:
    """What to add so that the bacteria turn all: of the media that are there, or carriers in a filter where there are none."""
    missing = 1.02 * living.surface["typical"] * (strain - 1)
    media = [one for one in living.each.values() if one.media]
    if media:
        each = sum(one.surface["typical"] for one in media) / sum(one.media for one in media)
        return f"{say(VOLUME, missing / each)} of the same media"
    return f"a filter with {say(VOLUME, missing / _CARRIERS)} of carriers with {say(SURFACE, _CARRIERS)}"


@finding("season beyond the air", notebook="01")
def beyond_air(system, say):
    """Months in which fish use more oxygen after a meal than water and air bring."""
    run = system.season
    if run is None:
        return
    for name, tank in run.tanks.items():
        strain = run.strain[AIR if len(run.tanks) == 1 else f"{AIR} of {name}"]
        day = int(np.argmax(strain))
        if strain[day] > 1:
            yield (stop if strain[day] > 1 / _STOP_OXYGEN else fix)(
                name,
                f"The oxygen in {name} is short after a meal {in_months(strain > 1)}: at most {say(OXYGEN_RATE, tank.asks[day])} is asked for, in {MONTHS[MONTH_OF[day]]} at {say(TEMPERATURE, run.warm[day])}, "
                f"and water and air bring {say(OXYGEN_RATE, tank.can[day])}.",
                f"{_fewer(strain[day], say)}; or more air through more stones, or more water through the tank.",
            )


@finding("oxygen time short in another month", notebook="10")
def other_nights(system, say):
    """A tank whose own worst night is in another month than the one that the review is about."""
    run = system.season
    if run is None or not system.air.told:
        return
    for name, tank in run.tanks.items():
        day = int(np.argmax(tank.asks / np.maximum(tank.can, 1e-15)))
        if tank.asks[day] <= 0 or MONTH_OF[day] == run.month:
            continue
        other = Steady(on_day(system.build, run, day))
        for severity, where, sentence, cure in time_short(other, other.airs[name], say):
            yield severity, where, f"In {MONTHS[MONTH_OF[day]]}: {sentence[:1].lower()}{sentence[1:]}", cure


@finding("season too dense", notebook="01")
def too_dense(system, say):
    """Months in which a tank holds more fish than its kind of aeration can carry."""
    run = system.season
    if run is None:
        return
    for name, tank in run.tanks.items():
        most = float(tank.density.max())
        if most > UNAIRED_LIMIT:
            yield (stop if most > AIRED_LIMIT else fix)(
                name,
                f"{name} holds more than {limit_words(say, UNAIRED_LIMIT)} of fish {in_months(tank.density > UNAIRED_LIMIT)}, {say(STOCKING, most)} at the most.",
                f"{_fewer(most / UNAIRED_LIMIT, say)}, or take some out sooner.",
            )


@finding("season out of its warmth", notebook="01")
def out_of_warmth(system, say):
    """Months in which a stock is in water that it does not live in, or does not eat in."""
    run = system.season
    if run is None:
        return
    for one in run.cohorts:
        s, there = one.species, np.zeros(len(run.water), bool)
        there[one.day] = True
        for edge, bad, water, words in (
            (s.survive_low, lambda t, e: t < e, run.cold, "falls to"),
            (s.survive_high, lambda t, e: t > e, run.warm, "rises to"),
        ):
            days = there & bad(water, edge) if edge is not None else there & False
            if days.any():
                worst = water[days].min() if words == "falls to" else water[days].max()
                yield stop(
                    one.tank,
                    f"{_of(one)} live from {say(TEMPERATURE, s.survive_low)} to {say(TEMPERATURE, s.survive_high)}; the water {words} {say(TEMPERATURE, worst)} {in_months(days)}, while they are there.",
                    "Take them out before, let them come later, or choose a species for that water.",
                )
        if s.feeding_stops is not None:
            days = there & (run.water < s.feeding_stops) & (run.cold >= (s.survive_low or 0.0))
            if days.any():
                yield note(
                    one.tank,
                    f"{_of(one)} do not eat below {say(TEMPERATURE, s.feeding_stops)}, which is so {in_months(days)} while they are there: they do not grow then.",
                    "Do not feed them then; the year counts no feed for those days.",
                )


def _of(one) -> str:
    """A stock at the beginning of a sentence."""
    name = one.species.name[:1].upper() + one.species.name[1:]
    return name if one.name == "fish" else f"{name} ({one.name})"


@finding("harvest not reached", notebook="01")
def not_ripe(system, say):
    """A stock that leaves, or has been there for years, before it has its harvest mass."""
    run = system.season
    for one in run.cohorts if run else ():
        if not one.ripe:
            yield fix(
                one.tank,
                f"{_of(one)} weigh {say(BODY_MASS, one.last_mass)} when they leave, and are to weigh {say(BODY_MASS, one.cohort.harvest_mass)}.",
                f"Let them come heavier or sooner, warm the water, or set harvest_mass to {say(BODY_MASS, math.floor(970 * one.last_mass) / 1000)}.",
            )
        if one.cohort is not None and len(one.day) > 60 and one.conversion < _LEAN:
            yield note(
                one.tank,
                f"{_of(one)} are reckoned to gain more than they eat, {one.conversion:.2g} of feed for one of fish: their growth is set too high.",
                "Weigh thirty fish twice, a month apart, and set growth to what they show (fish.measured_growth).",
            )


@finding("nitrate gathers through the year", notebook="01")
def nitrate_gathers(system, say):
    """More nitrate by the end of some month than the fish bear, from clean water in January."""
    run, limit = system.season, system.strictest("nitrate_limit").nitrate_limit
    if run is None or limit is None or run.nitrogen.nitrate.max() <= limit:
        return
    n = run.nitrogen
    over = [MONTHS[month] for month in range(12) if n.nitrate[month] > limit]
    month = int(np.argmax(n.ammonia - n.plants))
    net = (n.ammonia - n.plants)[month] / np.count_nonzero(month == MONTH_OF)
    yield fix(
        "fish tank",
        f"Nitrate (as N) passes the {say(CONCENTRATION, limit)} that {system.strictest('nitrate_limit').name} bears by the end of {over[0]}, and gathers to {say(CONCENTRATION, n.nitrate.max())}: the plants take {say(SHARE, n.plants.sum() / n.ammonia.sum())} of it.{_lean(system, say)}",
        f"Plant more, replant sooner, keep fewer fish, or change {say(VOLUME, 1.05 * net / limit)} of water a day (water_change in [upkeep]).",
    )


def _lean(system, say) -> str:
    """The month in which air and sun let plants take the least of the feed, as a sentence more."""
    run, season = system.season, system.build.season.si
    if run.lean is None:
        return ""
    month, part = run.lean
    weather = [f"air of {say(TEMPERATURE, season.air[month])}"] if season.air else []
    weather += [f"sun of {say(INSOLATION, season.light_share * season.sunshine[month])} on them"] if season.sunshine else []
    much = f"no more than {say(SHARE, part)}" if part >= HARDLY else "none"
    return f" In {MONTHS[month]} they can take {much} of the feed, in {' and '.join(weather)}."


@finding("heater short in a month", notebook="11")
def heater_short(system, say):
    """A heater that does not keep the season's water in the mean air of some month, or water kept warm without any."""
    heater = system.build.heat.si.heater if system.build.heat else None
    plans = system.heat_months
    short = [month for month, plan in enumerate(plans) if heater is not None and plan.loss > heater]
    if not short:
        return
    worst = max(short, key=lambda month: plans[month].loss)
    days = np.isin(MONTH_OF, short)
    yield fix(
        "fish tank",
        f"The heater of {say(POWER, heater)} does not keep the water of the season {in_months(days)}: in {MONTHS[worst]} it loses {say(POWER, plans[worst].loss)} "
        f"at {say(TEMPERATURE, plans[worst].keep)} to air of {say(TEMPERATURE, plans[worst].air)} on the mean, and more on a cold night.",
        f"Cover more of it (covered), wrap it (insulation), let it be colder then, or heat with {say(POWER, plans[worst].heater)} in two pieces.",
    )

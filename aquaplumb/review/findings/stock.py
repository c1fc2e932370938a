"""Findings about fish, feed and beds."""

from __future__ import annotations

import math

from aquaplumb import fish, water
from aquaplumb.fish import beds
from aquaplumb.fish.feeding import WEIGHED
from aquaplumb.fish.nitrification import film_warmth
from aquaplumb.review.findings.base import at_least, at_most, finding, fix, note, stop
from aquaplumb.review.findings.filters import RAFTS_BEAR
from aquaplumb.system.blown import LEAST, TYPICAL
from aquaplumb.units import (
    AREA,
    AREA_RATE,
    BODY_MASS,
    CONCENTRATION,
    FLOOR_LOAD,
    FORCE,
    LENGTH,
    MASS,
    MASS_RATE,
    RATE,
    SALINITY,
    SHARE,
    STOCKING,
    SURFACE,
    TEMPERATURE,
    VOLUME,
    quantity,
    si_value,
)

UNAIRED_LIMIT = 20.0  # kg/m³ for a home system on flow and simple air stones; FAO 589 (2014) ch. 4 and 8, from memory
AIRED_LIMIT = 60.0  # kg/m³, food fish with real aeration; Malone, SRAC 4503 (2013)
_IN_POUNDS = {STOCKING.text(limit, "US"): words for limit, words in ((UNAIRED_LIMIT, "1/6 lb/gal"), (AIRED_LIMIT, "1/2 lb/gal"))}
_FINGERLING, _MOST_EATEN = 0.1, 0.03 / 86400  # kg, 1/s: from 100 g on print has 1 to 3 % a day (data/feeding.csv)
_EATEN_AT_LEAST = 0.75  # of the low end of print's band: under it a rate is a mean, not a peak; common practice, no source
_LEAST_MEDIA, _USUAL_MEDIA = 0.20, 0.30  # m; FAO 589 (2014) §4.3, from memory
COLD = 278.15  # K: below it only Hoang et al. 2014 measured (`film_warmth`); FAO 589 has nitrifying bacteria live from 14 °C
_MARGIN = 1.001  # of a volume: rounding
_CARRIERS = 500.0  # m²/m³: of common moving carriers, data/media.csv
_UVI_FEED, _UVI_COLDEST = beds.feed_per_area.si("lettuce", grown_in="raft").si, 296.15  # Rakocy 2007, read; 23 to 29 °C, from memory
_ALIKE = 0.06  # K: closer temperatures are printed alike, to three figures
HEEL, HEEL_AREA = 2000.0, 0.05**2  # N on 50 × 50 mm: EN 1991-1-1 table 6.2, rooms (from memory)
_HALF, _DOUBLE = 0.5, 2.0  # of a need: this far off it fails or is wasted; common practice, no source


def limit_words(say, limit: float) -> str:
    """A limit of the stocking density as a grower says it: half a pound in a gallon, not 0.501."""
    text = say(STOCKING, limit)
    return _IN_POUNDS.get(text, text)


def _typed(say, limit: float) -> str:
    """A limit as one types it, never over it: 0.16 lb/gal for a sixth of a pound, not 0.166."""
    number, unit = at_most(say, STOCKING, limit).split()
    return f"{math.floor(100 * float(number)) / 100:g} {unit}"


def _bare(text: str) -> float:
    return si_value(quantity(text, STOCKING), STOCKING, "it")


@finding("density over limit", notebook="01")
def density_over_limit(system, say):
    """More fish than the tank's kind of aeration can carry."""
    several = system.build.several
    for name, tank in system.tanks.items():
        density, where = tank.density if several else system.build.fish.si.density, f" in {name}" if several else ""
        if density > AIRED_LIMIT:
            aired, plain = (_typed(say, limit) for limit in (AIRED_LIMIT, UNAIRED_LIMIT))
            yield stop(
                name,
                f"The stocking density{where} is {say(STOCKING, density)}; past {limit_words(say, AIRED_LIMIT)} a tank without pure oxygen loses its fish at the first fault.",
                f"With air and a spare that starts by itself, plan for {aired} or less: {_fits(say, tank, _bare(aired))} in its {say(VOLUME, tank.volume)}. "
                f"With simple air stones, for {plain} or less: {_fits(say, tank, _bare(plain))}.",
            )
        elif density > UNAIRED_LIMIT:
            aired = _well_aired(system, name)
            yield (note if aired else fix)(
                name,
                f"The stocking density{where} is {say(STOCKING, density)}; a home system with simple aeration holds about {limit_words(say, UNAIRED_LIMIT)}."
                + (" These live on their air from hour to hour." if aired else ""),
                "Test the spare and the alarm every week, and keep no more."
                if aired
                else f"Keep fewer fish, {_fits(say, tank, UNAIRED_LIMIT)} or less, or a bigger tank of {at_least(say, VOLUME, tank.biomass / UNAIRED_LIMIT)}, or write [air] with stones that hold the oxygen and with a spare that starts by itself before anybody has to come.",
            )


def _fits(say, tank, limit: float) -> str:
    """The fish that a tank holds at a density: their mass, and where they are all alike how many."""
    mass = limit * tank.volume
    if len(tank.stocks) > 1:
        return at_most(say, MASS, mass)
    body = tank.stocks[0].stock.body_mass
    return f"{at_most(say, MASS, mass)} ({math.floor(mass / body + 1e-9)} of {say(BODY_MASS, body)})"


def _well_aired(system, tank: str) -> bool:
    """Whether a tank's air holds what its fish need, and goes on through any failure until somebody comes, a spare with it."""
    p = system.airs.get(tank)
    if p is None or not p.told or p.response is None or not p.spare_runs or p.steady[TYPICAL] < p.minimum:
        return False
    return all(failure.lasts[LEAST] >= p.response for failure in p.failures.values())


def _home(system, species) -> str:
    """The tank of the first stock of a species."""
    return next(one.tank for one in system.stocks.values() if one.species.name == species.name)


@finding("water too salty", notebook="01")
def water_too_salty(system, say):
    """More salt in the water than the species lives in."""
    s, salinity = system.strictest("salinity_high"), system.build.water.si.salinity
    if s.salinity_high is not None and salinity > s.salinity_high:
        yield stop(
            _home(system, s),
            f"The water holds {say(SALINITY, salinity)} of salt; {s.name} lives in {say(SALINITY, s.salinity_high)} at the most.",
            f"Thin it with fresh water to {say(SALINITY, s.salinity_high)} or less, or keep a fish of brackish water where your law allows it.",
        )


@finding("temperature out of range", notebook="01")
def temperature_out_of_range(system, say):
    """The site's water gets colder or warmer than the species lives or grows in."""
    for s in {one.species.name: one.species for one in system.stocks.values()}.values():
        yield from _out_of_range(system, s, _home(system, s), say)


def _out_of_range(system, s, tank: str, say):
    name = s.name
    span = f"{say(TEMPERATURE, s.survive_low)} to {say(TEMPERATURE, s.survive_high)}"
    for what, value, bad in (
        ("falls to", system.cold, system.cold < s.survive_low),
        ("rises to", system.warm, system.warm > s.survive_high),
    ):
        if bad:
            yield stop(
                tank,
                f"The water {what} {say(TEMPERATURE, value)}; {name} can be kept from {span}.",
                "Choose a species for your water, or heat, shade or insulate it.",
            )
    best = f"it does best from {say(TEMPERATURE, s.best_low)} to {say(TEMPERATURE, s.best_high)}"
    stops = s.feeding_stops
    if s.survive_low <= system.cold and stops is not None and system.cold < stops:
        yield fix(
            tank,
            f"At {say(TEMPERATURE, system.cold)} {name} stops eating (below {say(TEMPERATURE, stops)}); {best}.",
            "Do not feed it then. Heat the water, or choose a species for colder water.",
        )
    elif s.survive_low <= system.cold < s.best_low - _ALIKE:
        yield note(
            tank,
            f"At {say(TEMPERATURE, system.cold)} {name} eats and grows less; {best}.",
            "Feed less on those days: what is not eaten turns to ammonia.",
        )
    if s.best_high + _ALIKE < system.warm <= s.survive_high:
        yield note(
            tank,
            f"At {say(TEMPERATURE, system.warm)} {name} needs more oxygen, and warm water holds less; {best}.",
            "Add air, shade the tank, and feed less on those days.",
        )


@finding("feed too heavy", notebook="01")
def feed_too_heavy(system, say):
    """A feeding rate that only fingerlings eat."""
    for name, one in system.stocks.items():
        rate, body = one.stock.feeding_rate, one.stock.body_mass
        if rate > _MOST_EATEN and body > _FINGERLING:
            yield fix(
                name if system.build.several else one.tank,
                f"The feeding rate{_of(system, name)} is {say(RATE, rate)}; fish of this size eat about 1 to 2 % of their mass a day.",
                "Lower it, or check the fish's mass. Uneaten feed is ammonia.",
            )


def _of(system, stock: str) -> str:
    """Which stock is spoken of, where there are several."""
    return f" of {stock}" if system.build.several else ""


@finding("feed below the peak", notebook="01")
def feed_below_peak(system, say):
    """A feeding rate that is a mean over seasons, where the heaviest day is what counts."""
    for name, one in system.stocks.items():
        f = one.stock
        if not WEIGHED[0] <= f.body_mass <= WEIGHED[1]:
            continue
        rate = fish.feeding_rate.si(f.body_mass, species=f.species, temperature=system.warm).si
        if f.feeding_rate < _EATEN_AT_LEAST * rate.low:
            yield note(
                name if system.build.several else one.tank,
                f"The feeding rate{_of(system, name)} is {say(RATE, f.feeding_rate)}; on their best day fish of {say(BODY_MASS, f.body_mass)} eat "
                f"{say(RATE, rate.low)} to {say(RATE, rate.high)}.",
                "If yours is a mean over the year, put the heaviest day's in its place: beds, air and pump must bear that one.",
            )


@finding("biofilter short", notebook="02")
def biofilter_short(system, say):
    """Less media surface than the bacteria need in the water in which they are slowest."""
    have, need = system.living.surface, system.living.surface_needed
    if have["typical"] <= 0:
        yield stop(
            system.living.words,
            "No bed holds media, so no bacteria turn the fish's ammonia.",
            "Give the beds a medium, or add a filter of media.",
        )
    elif not math.isfinite(need["typical"]):
        yield stop(
            system.living.words,
            f"With a nitrification_rate of {say(AREA_RATE, 0.0)} no surface turns the ammonia of {say(MASS_RATE, system.fish.feed)} of feed.",
            'Write the rate that you measured, such as nitrification_rate = "0.3 g/m2/d", or leave the line out: then print\'s is taken.',
        )
    elif have["typical"] < need["typical"]:
        ratio, short = have["typical"] / need["typical"], need["typical"] - have["typical"]
        media = [g for g in system.living.each.values() if g.media]
        severity = stop if ratio < _HALF else fix
        if media:
            surface = sum(g.surface["typical"] for g in media) / sum(g.media for g in media)
            more = f"Add {at_least(say, VOLUME, _MARGIN * short / surface)} of the same media, choose one with more surface than {say(SURFACE, surface)}, or feed less."
        else:
            more = f"Add a filter with media of {at_least(say, AREA, short)} or more ({at_least(say, VOLUME, _MARGIN * short / _CARRIERS)} of carriers with {say(SURFACE, _CARRIERS)}), or feed less."
        if ratio >= _HALF and (fed := _as_printed_rafts(system)):
            low, high = (say(AREA_RATE, getattr(_UVI_FEED, band)) for band in ("low", "high"))
            yield note(
                system.living.words,
                f"Two prints disagree on {system.living.words}. At the usual rate of SRAC 282 theirs is {say(AREA, have['typical'])} for bacteria where the ammonia of {say(MASS_RATE, system.fish.feed)} "
                f"of feed needs {say(AREA, need['typical'])} at {say(TEMPERATURE, system.living.slowest)}. Rakocy (2007) has such rafts bear {low} to {high} of feed with no other filter, all roots grown; yours get {say(AREA_RATE, fed)}.",
                f"Feed up slowly, and test ammonia weekly. If it stays over your limit: {more[0].lower()}{more[1:]}",
            )
            return
        yield severity(
            system.living.words,
            f"The {'media' if media and sum(g.surface['typical'] for g in media) == have['typical'] else system.living.words} give {say(AREA, have['typical'])} for bacteria; the ammonia of {say(MASS_RATE, system.fish.feed)} of feed "
            f"needs {say(AREA, need['typical'])} at {say(TEMPERATURE, system.living.slowest)}.",
            more,
        )
    elif have["low"] < need["high"]:
        yield note(
            system.living.words,
            f"{'The media are' if system.living.media else 'That is'} enough at typical rates, yet not at the poorest ones: {say(AREA, have['low'])} against {say(AREA, need['high'])}.",
            "Stock slowly and test ammonia weekly." + _rafts_alone(system, say),
        )


def _as_printed_rafts(system) -> float:
    """The feed on a square metre of rafts [kg/s/m²] where print bears it without a filter; 0 where it does not.

    Where they are most of what bacteria live on, have air stones, warm water, solids taken out before them, and no rate of the build's own.
    """
    build, rafts = system.build, [v.si for v in system.build.of_kind("raft")]
    surface = sum(system.living.each[v.name].surface["typical"] for v in rafts)
    area = sum(system.beds.each[v.name].area for v in rafts)
    fed = system.fish.feed / area if area else math.inf
    alike = all(v.air_stones for v in rafts) and system.living.slowest >= _UVI_COLDEST and any(f.solid for f in system.filters.values())
    most = 2 * surface >= system.living.surface["typical"]
    return fed if alike and most and fed <= _UVI_FEED.high and build.water.si.nitrification_rate is None else 0.0


def _rafts_alone(system, say) -> str:
    """What FAO lets rafts bear without a filter, where most of the bacteria live under them and the fish are more."""
    rafts = [g for g in system.living.each.values() if g.kind == "raft"]
    bear = RAFTS_BEAR * sum(g.area for g in system.beds.each.values() if g.kind == "raft")
    if 2 * sum(g.surface["typical"] for g in rafts) < system.living.surface["typical"] or system.fish.biomass <= bear:
        return ""
    return f" FAO lets these rafts bear {say(MASS, bear)} of fish without a filter and you keep {say(MASS, system.fish.biomass)}; others keep more, with all roots grown."


@finding("bacteria in the cold", notebook="02")
def bacteria_in_the_cold(system, say):
    """Water so cold that the bacteria's rate hangs on a single measurement."""
    if system.cold < COLD and system.build.water.si.nitrification_rate is None:
        part = film_warmth(system.cold)
        yield note(
            system.living.words,
            f"At {say(TEMPERATURE, system.cold)} the bacteria turn about {say(SHARE, part)} of what they turn at {say(TEMPERATURE, 293.15)} and hardly grow; "
            "so cold, that figure hangs on one laboratory's filter, and below "
            f"{say(TEMPERATURE, 274.15)} it is held at its value there.",
            "Begin in warm months, feed next to nothing in such water, and test ammonia each week. A rate that you measured goes under [water] as nitrification_rate.",
        )


@finding("growing area off the feed", notebook="02")
def growing_area_off(system, say):
    """Plants that cannot use the feed's nutrients, or starve."""
    b = system.beds
    have, need, crops = b.area, b.area_needed, " and ".join(b.crops)
    low, high = b.area_band
    if have < _HALF * low:
        yield fix(
            system.beds.words,
            f"The {b.words} are {say(AREA, have)}; the feed supports {say(AREA, need)} of {crops}, so nitrate will pile up.",
            f"Add {b.words}, keep fewer fish, or plan to change more water.",
        )
    elif have > _DOUBLE * high:
        yield note(
            system.beds.words,
            f"The {b.words} are {say(AREA, have)}; the feed supports only {say(AREA, need)} of {crops} at {say(AREA_RATE, b.feed_per_area)}.",
            "Plant part of them, or expect pale plants.",
        )


@finding("load over floor rating", notebook="02")
def floor_load(system, say):
    """A bed, tank or sump heavier than the floor is built for."""
    rating = system.build.site.si.floor_rating
    for name, load in system.floor_loads().items():
        if rating is not None and load > rating:
            yield stop(
                name,
                f"{name} full of water weighs {say(FLOOR_LOAD, load)} on its footprint; the floor is rated at {say(FLOOR_LOAD, rating)}.",
                "Spread the load, put it on the ground, or ask a structural engineer. Do not guess.",
            )
    if rating is None and system.floor_loads():
        heaviest, load = max(system.floor_loads().items(), key=lambda item: item[1])
        yield note(
            heaviest,
            f"{heaviest} weighs {say(FLOOR_LOAD, load)} on its footprint; the file does not say what the floor carries.",
            f'Ask what yours is built for. Then write it into [site], such as floor_rating = "{"40 psf" if system.build.units == "US" else "2 kN/m2"}". A framed floor needs an engineer.',
        )


@finding("leg presses like a heel", notebook="02")
def leg_load(system, say):
    """A leg that stands with more on a spot than floors of rooms are made for."""
    for name, (force, pressure) in system.leg_loads().items():
        if force > HEEL and (pressure is None or pressure > HEEL / HEEL_AREA):
            under = "the file does not say on how much floor" if pressure is None else f"{say(FLOOR_LOAD, pressure)} under its foot"
            yield note(
                name,
                f"Each leg of {name}, brimful, stands with {say(FORCE, force)}, {under}; floors of rooms are made for {say(FORCE, HEEL)} on a spot.",
                f"Give it more legs, or set each on a plate of {at_least(say, AREA, force * HEEL_AREA / HEEL)} or more and write that as foot. On tiles, decks and framed floors ask a structural engineer.",
            )


@finding("bed too shallow", notebook="02")
def bed_too_shallow(system, say):
    """Media less deep than roots and solids need."""
    for bed in system.build.of_kind("bed"):
        depth = bed.si.media_depth
        if depth is not None and depth < _LEAST_MEDIA:
            yield fix(
                bed.si.name,
                f"{bed.si.name} holds {say(LENGTH, depth)} of media; roots and solids need {say(LENGTH, _LEAST_MEDIA)} at the least.",
                f"Fill it to {say(LENGTH, _USUAL_MEDIA)}.",
            )


@finding("un-ionised ammonia high", notebook="03")
def unionised_high(system, say):
    """The ammonia limit, at this pH and warmest water, is poison."""
    w = system.build.water.si
    bears = {
        name: fish.waste_limits.si(one.stock.species, body_mass=one.stock.body_mass).si.unionised for name, one in system.stocks.items()
    }
    weakest = min(bears, key=lambda name: bears[name])
    limit = bears[weakest]
    share = water.unionised_fraction.si(w.ph, system.warm)
    if w.ammonia_limit * share > limit:
        yield fix(
            system.stocks[weakest].tank,
            f"At pH {w.ph:g} and {say(TEMPERATURE, system.warm)} your limit of {say(CONCENTRATION, w.ammonia_limit)} total ammonia (as N) holds "
            f"{say(CONCENTRATION, w.ammonia_limit * share)} of the poisonous kind; gills{_of(system, weakest)} are hurt above {say(CONCENTRATION, limit)}.",
            f"Set ammonia_limit to {say(CONCENTRATION, limit / share)} or less, or hold a lower pH.",
        )

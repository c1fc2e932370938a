"""What fish breathe: from their feed, and by published fits on their size and the water's temperature.

All of it is reached through `air`. Feed is the usual way: it holds for every fish and size. The fits hold for one
kind of fish inside the range in which it was measured, and refuse everything else.
"""

from __future__ import annotations

import numpy as np

from aquaplumb import tables
from aquaplumb.units import (
    BODY_MASS,
    NUMBER,
    TEMPERATURE,
    BodyMass,
    DesignError,
    Mass,
    MassRate,
    Number,
    Rate,
    Record,
    Respiration,
    Temperature,
    check_range,
    takes_quantities,
)
from aquaplumb.water.chemistry import ZERO_CELSIUS

_HOURLY = 1e-6 / 3600  # mg/kg/h in 1/s
_POUND = 453.59237  # g
_LEAST, _LEAST_TO = 100 * _HOURLY, 298.15  # 1/s, 100 mg/kg/h, up to 25 °C; 50 to 189 in print, see respiration_by_feed
_SIZE = -0.2  # a kilogram of smaller fish breathes more: Clarke and Johnston (1999), J. Anim. Ecol. 68, 0.80 for a whole fish, from memory


def _tilapia(grams, t):
    """mg/kg/h. Source: Sci. Rep. 11:24130, eq. 4."""
    return 2014.45 + 2.75 * grams - 165.2 * t + 0.007 * grams * grams + 3.93 * t * t - 0.21 * grams * t


def _trout(grams, t):
    """mg/kg/h. Source: Liao 1971; lb of oxygen for 100 lb of fish a day, by °F and lb."""
    fahrenheit = 1.8 * t + 32
    rate = np.where(fahrenheit <= 50, 1.90e-6 * fahrenheit**3.13, 3.05e-4 * fahrenheit**1.855)[()]
    return rate * (grams / _POUND) ** -0.138 * 1e4 / 24


def _catfish(grams, t):
    """mg/kg/h. Source: Boyd, Romaire and Johnston 1978; the logarithm of g/kg/h."""
    return 1e3 * 10 ** (-0.999 - 9.57e-4 * grams + 6e-7 * grams * grams + 0.0327 * t - 8.7e-6 * t * t + 3e-7 * grams * t)


# the fit, its body masses [kg] and temperatures [K], and its name
_FITS = {
    "Nile tilapia": (_tilapia, (3e-3, 0.21), (297.15, 305.15), "the tilapia fit (Scientific Reports 2021)"),
    "rainbow trout": (_trout, (5e-3, 0.5), (277.15, 291.15), "the trout fit (Liao 1971)"),
    "channel catfish": (_catfish, (20e-3, 0.5), (293.15, 305.15), "the catfish fit (Boyd and others 1978)"),
}


@takes_quantities
def respiration(body_mass: BodyMass, temperature: Temperature, *, species: str = "Nile tilapia") -> Respiration:
    """The oxygen that a kilogram of fish breathes in an hour, by the fish's size and the temperature.

    Small fish and warm water take more. A fit is a second opinion on `respiration_by_feed`: take the larger
    (`fish_respiration`).

    body_mass: Of one fish. Tilapia 3 to 210 g, trout 5 to 500 g, catfish 20 to 500 g.
    temperature: Tilapia 24 to 32 °C, trout 4 to 18 °C, catfish 20 to 32 °C.
    species: Nile tilapia, rainbow trout or channel catfish.
    raises: Outside the range of a fit, or for a fish that has none here.

    W in g, t in °C, mg of oxygen for a kg of fish in an hour:
    tilapia 2014.45 + 2.75 W − 165.2 t + 0.007 W² + 3.93 t² − 0.21 W t;
    trout K T^a W^-0.138 in °F and lb, K = 1.90e-6 and a = 3.130 up to 50 °F, 3.05e-4 and 1.855 above (lb for 100 lb
    a day; it steps up by a tenth at 50 °F);
    catfish 1000 · 10^(−0.999 − 9.57e-4 W + 6e-7 W² + 0.0327 t − 8.7e-6 t² + 3e-7 W t).
    The tilapia fit is not monotonic: below its range it *rises* on cooling (200 g: 124 at 28 °C, 272 at 20 °C), and
    above 110 g it already turns at its cool end (200 g: 135 at 24 °C). That is the fit, not the fish.

    Source: Tilapia: Scientific Reports 11:24130 (2021), eq. 4, tested on fish of 3 to 210 g at 24 to 32 °C. Trout: Liao
    (1971), Water requirements of salmonids. Catfish: Boyd, Romaire and Johnston (1978), J. Environ. Qual. 7(1). Trout
    and catfish, with their ranges, from memory: check before quoting.

    >>> from aquaplumb import air, u
    >>> print(round(air.respiration(200 * u.g, 28 * u.degC).to("mg/kg/h"), 0))
    124 mg/h/kg
    """
    known = {name.casefold(): fit for name, fit in _FITS.items()}
    if str(species).casefold() not in known:
        name = tables.row("species", species).si.name
        raise DesignError(
            f"respiration: no published fit for {name} is in here; there are {', '.join(_FITS)}. "
            "Work from the feed instead, which holds for every fish: respiration_by_feed."
        )
    fit, masses, temperatures, called = known[str(species).casefold()]
    check_range(body_mass, *masses, BODY_MASS, "respiration: body mass", called)
    check_range(temperature, *temperatures, TEMPERATURE, "respiration: temperature", called)
    return fit(1e3 * body_mass, temperature - ZERO_CELSIUS) * _HOURLY


@takes_quantities
def respiration_by_feed(feeding_rate: Rate, *, per_feed: Number = 0.25) -> Respiration:
    """The oxygen that a kilogram of fish breathes in an hour, from what it eats: the usual way.

    feeding_rate: Feed a day as a share of the fish's mass (`fish.feeding_rate`), such as 1.5 %/d.
    per_feed: Mass of oxygen for a mass of feed: 0.2 to 0.5; as in `fish.fish_oxygen`.
    returns: The day's mean. After a meal it is more: `after_meal`. Fish that fast breathe still, 50 to 200 mg/kg/h:
        below about 1 %/d of feed this says too little.

    r = feeding rate · oxygen for a mass of feed. 1.5 %/d and 0.25: 156 mg/kg/h.

    Source: Timmons and Ebeling, Recirculating Aquaculture (0.2 to 0.5, from memory). Measured on cutthroat trout at 1.3 %/d:
    0.274 and 149 mg/kg/h (a density trial in raceways, abstract). Fasting: southern catfish 50 (Comp. Biochem. Physiol.
    A 146, 2007), young tilapia 166 to 189 mg/kg/h (Mar. Freshw. Behav. Physiol. 2013), at rest, abstracts.

    >>> from aquaplumb import air, u
    >>> print(round(air.respiration_by_feed(1.5 * u.percent / u.day).to("mg/kg/h"), 0))
    156 mg/h/kg
    """
    check_range(per_feed, 0.0, 1.0, NUMBER, "respiration_by_feed: per feed", "the oxygen for a mass of feed")
    return feeding_rate * per_feed


class FishRespiration(Record):
    """What a kilogram of fish breathes in an hour by each way there is, and the larger of them: it counts.

    by_feed: As in `respiration_by_feed`.
    by_fit: By the fit of `respiration`; 0 for a fish that has none.
    least: However little they eat.
    usual: The largest of the three, in a usual hour.
    fed: The largest after a meal.
    fit: The fit's name; nothing without one.

    Source: `fish_respiration`.
    """

    by_feed: Respiration
    by_fit: Respiration
    least: Respiration
    usual: Respiration
    fed: Respiration
    fit: str = ""

    def governs(self, fed: bool = False) -> str:
        """Which way is the largest, in a usual hour or after a meal, in words."""
        r = self.si
        if r.by_fit >= (r.fed if fed else r.usual):
            return f"by {r.fit}"
        return "by their feed" if r.by_feed >= r.least else "by the least that any fish takes"


@takes_quantities
def fish_respiration(
    feeding_rate: Rate, body_mass: BodyMass, temperature: Temperature, *, species: str, meal_peak: Number = 1.4
) -> FishRespiration:
    """What a kilogram of fish breathes in an hour, by feed, by the fit and at least; the largest counts, fasting and fed.

    A fit is of fish that are fed as in a hatchery or a pond: no meal comes on top of it. It is held at the nearest end
    of its range and taken from there: to other temperatures by `respiration_at`, to smaller fish by W^-0.2; a larger
    fish counts as one of the largest that was measured, which is the safe side.

    feeding_rate: Feed a day as a share of the fish's mass.
    body_mass: Of one fish.
    species: Any of the list of species.
    meal_peak: As in `after_meal`.

    usual = max(by feed, at least, by fit); fed = max(peak · by feed, peak · at least, by fit).

    Source: `respiration_by_feed`, `respiration`, `after_meal`. At least 100 mg/kg/h up to 25 °C, twice for ten degrees more: in the
    midst of what `respiration_by_feed` has for fasting fish. W^-0.2: Clarke and Johnston (1999), J. Anim. Ecol. 68, from memory.
    That the fits are of fed fish: from memory.

    >>> from aquaplumb import air, u
    >>> tilapia = air.fish_respiration("1.2 %/d", "100 g", "28 degC", species="Nile tilapia")
    >>> print(round(tilapia.by_feed.to("mg/kg/h")), round(tilapia.fed.to("mg/kg/h")), tilapia.governs(fed=True))
    125 mg/h/kg 227 mg/h/kg by the tilapia fit (Scientific Reports 2021)
    """
    if np.any(np.asarray(body_mass) <= 0):
        raise DesignError(f"fish_respiration: body_mass is {BODY_MASS.text(np.min(body_mass))}; a fish has some, such as 350 g.")
    by_feed = respiration_by_feed.si(feeding_rate)
    least = respiration_at.si(_LEAST, np.maximum(temperature, _LEAST_TO), known_at=_LEAST_TO)
    fit, masses, temperatures, called = _FITS.get(tables.row("species", species).si.name, (None, (1, 1), (1, 1), ""))
    by_fit = 0.0 * least
    if fit:
        held = np.clip(temperature, *temperatures)
        known = fit(1e3 * np.clip(body_mass, *masses), held - ZERO_CELSIUS) * _HOURLY
        by_fit = respiration_at.si(known, temperature, known_at=held) * np.minimum(body_mass / masses[0], 1.0) ** _SIZE
    hungry = np.maximum(by_feed, least)
    usual, fed = np.maximum(hungry, by_fit)[()], np.maximum(after_meal.si(hungry, meal_peak=meal_peak), by_fit)[()]
    return FishRespiration.from_si(by_feed=by_feed, by_fit=by_fit, least=least, usual=usual, fed=fed, fit=called)


@takes_quantities
def after_meal(respiration: Respiration, *, meal_peak: Number = 1.4) -> Respiration:
    """What fish breathe in the hours after a meal. A failure comes then as well as at any other time: reckon with it.

    respiration: The day's mean.
    meal_peak: 1 to 4: 1.4 when fed several small meals, 2 for one or two big ones, 3 for gorged catfish.

    Source: 1.4 and 2: common practice, no source. 3: southern catfish fed to satiation, 148 against 50 mg/h fasting for a
    1 kg fish (Comp. Biochem. Physiol. A 146, 2007, abstract). It peaks 1 to 6 h after the meal (Aquaculture 148, 1997,
    sea bream, abstract).

    >>> from aquaplumb import air, u
    >>> print(air.after_meal(150 * u.mg / u.kg / u.h, meal_peak=2).to("mg/kg/h"))
    300 mg/h/kg
    """
    check_range(meal_peak, 1.0, 4.0, NUMBER, "after_meal: meal peak", "the rise after a meal")
    return respiration * meal_peak


@takes_quantities
def respiration_at(respiration: Respiration, temperature: Temperature, *, known_at: Temperature, ten_degrees: Number = 2.0) -> Respiration:
    """What fish breathe at another temperature than the one at which it is known: in warmer water more.

    temperature: Within what the fish lives in.
    ten_degrees: How many times as much for ten degrees more, 1 to 4; 2 when left out.

    r · 2^((t − known at)/10 K). At the top of what it bears a fish may breathe less than that: this is the safe side.

    Source: Common practice ("twice for ten degrees"); the catfish fit of `respiration` has 2.1. Clarke and Johnston (1999), J.
    Anim. Ecol. 68: 1.8 from species to species, 2.4 within one, from memory.

    >>> from aquaplumb import air, u
    >>> print(round(air.respiration_at(150 * u.mg / u.kg / u.h, 30 * u.degC, known_at=25 * u.degC).to("mg/kg/h"), 0))
    212 mg/h/kg
    """
    check_range(ten_degrees, 1.0, 4.0, NUMBER, "respiration_at: ten degrees", "the rise for ten degrees")
    return respiration * ten_degrees ** ((temperature - known_at) / 10.0)


@takes_quantities
def oxygen_use(biomass: Mass, respiration: Respiration) -> MassRate:
    """The oxygen that a mass of fish breathes.

    respiration: Oxygen for a mass of fish, such as 300 mg/kg/h after a meal.

    Source: Definition.

    >>> from aquaplumb import air, u
    >>> print(air.oxygen_use(20 * u.kg, 300 * u.mg / u.kg / u.h).to("g/h"))
    6 g/h
    """
    return biomass * respiration

"""A year in the build file: `[season]`, the water month by month, the stocks that come and leave, and when beds are replanted."""

from __future__ import annotations

import functools
import math
import re
from typing import TYPE_CHECKING

import numpy as np

from aquaplumb import tables
from aquaplumb.build.records import Site, Stock
from aquaplumb.build.vessels import Vessel, water_volume
from aquaplumb.fish.feeding import WEIGHED, feeding_rate
from aquaplumb.fish.growth import growth_coefficient
from aquaplumb.plausible import Told
from aquaplumb.power import solar
from aquaplumb.units import MONTH_DAYS, MONTHS, BodyMass, DesignError, Insolation, Number, Temperature, Time

if TYPE_CHECKING:
    from aquaplumb.build.reader import Reader
    from aquaplumb.build.sections import Supply

BEGINS = tuple(sum(MONTH_DAYS[:n]) for n in range(12))  # the day of the year on which each month begins, from 0
YEAR = 365
_MIDDLES = np.array([begin + (length - 1) / 2 for begin, length in zip(BEGINS, MONTH_DAYS)])
LONGEST = 3  # years that a stock stays at most
NEXT = " next year"
AGE = ", year "  # between a stock's name and how old it is, where it is kept for longer than a year
_WEATHER = ("air", "sunshine")  # what may be left out
_SAID = {  # what each twelve values are of, and two of them
    "temperature": ("the water", '{ January = "10 degC", July = "26 degC" }'),
    "air": ("the air, its mean", '{ January = "2 degC", July = "20 degC" }'),
    "sunshine": ("the sun on level ground", '{ January = "1 kWh/m2/d", July = "5.5 kWh/m2/d" }'),
}


class Cohort(Told):
    """A stock that comes on a day of each year and leaves on another, or when it has its harvest mass.

    `comes` and `goes` are days from the first of January; `goes` past a year is in the next. `growth` is its own
    thermal-unit growth coefficient (`fish.growth_coefficient`); left out, print's for its kind.
    """

    sections = ("season.stocks.*", "fish")

    name: str
    tank: str = ""
    species: str
    count: Number
    body_mass: BodyMass
    protein: Number
    arrives: str
    leaves: str = ""
    harvest_mass: BodyMass | None = None
    growth: Number | None = None
    comes: int = 0
    goes: int = 0

    def check(self) -> None:
        """Refuse a harvest of fish that did not grow."""
        c = self.si
        if c.harvest_mass is not None and c.harvest_mass <= c.body_mass:
            raise DesignError("harvest_mass is no more than body_mass; give what a fish weighs when it is taken out.")


class Season(Told):
    """A year: `temperature` of the water in the middle of each month [K], its cohorts, and when plants stand in the beds.

    `air` is the month's mean [K], `sunshine` what comes down on level ground on its mean day [W/m²]; both empty where nobody says.
    `light_share` of it reaches the plants: all in the open, less under glass or film.
    `replant` is how long a crop stands until it is harvested and planted anew, `together` whether all beds are planted on one
    day, and not a part of them each week; in the months of `bare` nothing grows.
    """

    sections = ("season",)

    temperature: tuple
    cohorts: tuple = ()
    replant: Time | None = None
    together: bool = False
    bare: tuple = ()
    air: tuple = ()
    sunshine: tuple = ()
    light_share: Number = 1.0


class _Weather(Told):
    """What is said of the air of a month."""

    sections = ("season",)

    air: Temperature
    sunshine: Insolation


def read(reader: Reader, vessels: dict[str, Vessel]) -> Season | None:
    """The season of a file, or None; each refusal names the key and its line."""
    if "season" not in reader.doc:
        return None
    given = reader.values(
        ("season",), reader.doc["season"], ("temperature", *_WEATHER, "light_share", "stocks", "replant", "together", "bare")
    )
    plain = {key: given[key] for key in ("replant", "together", "light_share") if key in given}
    same = reader.record(("season",), plain, Season, temperature=(), cohorts=(), bare=()).si
    bare = given.get("bare", [])
    if not isinstance(bare, list):
        reader.refuse(("season", "bare"), f'is {bare!r}; list the months in which nothing grows, such as ["December", "January"].')
    months = tuple(_month(reader, ("season", "bare"), name) for name in bare)
    stocks = given.get("stocks", {})
    if not isinstance(stocks, dict):
        reader.refuse(
            ("season", "stocks"), f'is {stocks!r}; name each stock in a section of its own, such as [season.stocks."spring fry"].'
        )
    for other in ("fish", "stocks"):
        if stocks and other in reader.doc:
            reader.refuse((other,), f"the season has stocks of its own, which come and leave; take [{other}] out, or theirs.")
    tanks = [name for name, vessel in vessels.items() if vessel.si.kind == "fish tank"]
    cohorts = tuple(_cohort(reader, name, found, tanks) for name, found in stocks.items())
    return Season.from_si(
        temperature=_monthly(reader, given, "temperature", Site, "coldest_water"),
        cohorts=cohorts,
        replant=same.replant,
        together=same.together,
        light_share=same.light_share,
        bare=months,
        **{key: _monthly(reader, given, key, _Weather, key) for key in _WEATHER if key in given},
    )


def clouded(season: Season, supply: Supply) -> Supply:
    """A supply whose file says where its panel stands and nothing of clouds: its `sky_share` by the season's sunshine.

    That of the month with the least sun, over a clear sky's on level ground: in the other months more may come, on the safe side.
    """
    own, s = np.array(season.si.sunshine), supply.si
    if not own.size or s.latitude is None or s.sky_share is not None:
        return supply
    clear = solar.sunshine.si(s.latitude, tilt=0.0, sky_share=1.0).si.clear
    darkest = int(np.argmin(own))
    return supply.with_si(sky_share=float(min(own[darkest] / clear[darkest], 1.0))) if clear[darkest] > 0 else supply


def stand_ins(season: Season, vessels: dict[str, Vessel]) -> dict[str, Stock]:
    """The cohorts as stocks on the day on which they come; `aquaplumb.system.season` puts those of the worst month in their place."""
    return {c.si.name: stock_of(c.si, c.si.name, c.si.body_mass, vessels) for c in season.cohorts}


def stock_of(cohort, name: str, body_mass: float, vessels: dict[str, Vessel], rate: float | None = None) -> Stock:
    """A bare cohort as a stock of fish of a mass [kg], fed at a rate [1/s]; at the usual one where none is given."""
    tank = vessels[cohort.tank]
    volume = water_volume.si(tank, tank.si.working_depth)
    if rate is None:
        rate = feeding_rate.si(min(max(body_mass, WEIGHED[0]), WEIGHED[1]), species=cohort.species).si.typical
    return Stock.from_si(
        species=cohort.species, density=cohort.count * body_mass / volume, body_mass=body_mass, feeding_rate=float(rate), protein=cohort.protein,
        name=name, tank=cohort.tank, count=cohort.count,
    )  # fmt: skip


# --- days and months ------------------------------------------------------------------------------


def by_day(months) -> np.ndarray:
    """What is said of the middle of each month, for each day of the year: straight from one to the next."""
    own = np.asarray(months)
    return np.interp(np.arange(YEAR), np.r_[_MIDDLES[-1] - YEAR, _MIDDLES, _MIDDLES[0] + YEAR], np.r_[own[-1], own, own[0]])


def day_text(day: int) -> str:
    """A day of the year, from 0, as a file has it: "15 April"."""
    month = max(n for n in range(12) if BEGINS[n] <= day)
    return f"{day - BEGINS[month] + 1} {MONTHS[month]}"


def _month(reader: Reader, keys: tuple, name) -> int:
    """The number of a month, from 0, by its name or the first three letters of it."""
    found = [
        n
        for n, month in enumerate(MONTHS)
        if isinstance(name, str) and len(name) >= 3 and month.casefold().startswith(name.strip(". ").casefold())
    ]
    if not found:
        reader.refuse(keys, tables.unknown("list of months", str(name), MONTHS))
    return found[0]


def _day(reader: Reader, keys: tuple, text) -> int:
    """The day of the year of "15 April", from 0."""
    found = isinstance(text, str) and re.fullmatch(r"\s*(?:(\d{1,2})\.?\s+([A-Za-z]+)\.?|([A-Za-z]+)\.?\s+(\d{1,2}))\s*", text)
    if not found:
        reader.refuse(keys, f'is {text!r}; it needs a day and a month, such as "15 April".')
    month = _month(reader, keys, found[2] or found[3])
    day = int(found[1] or found[4])
    if not 1 <= day <= MONTH_DAYS[month]:
        many = f"{MONTHS[month]} has {MONTH_DAYS[month]} days" + (", and every fourth year one more" if month == 1 else "")
        reader.refuse(keys, f"is {text!r}; {many}.")
    return BEGINS[month] + day - 1


def _cohort(reader: Reader, name: str, given, tanks: list[str]) -> Cohort:
    keys = ("season", "stocks", name)
    if not isinstance(given, dict):
        reader.refuse(keys, f'is {given!r}; write a section [season.stocks."{name}"].')
    given, fixed = dict(given), {"name": name, "comes": 0, "goes": 0}
    if "tank" not in given:
        if len(tanks) > 1:
            reader.refuse(keys, f'tank is missing, which holds these fish: tank = "{tanks[0]}" (there are {", ".join(tanks)}).')
        fixed["tank"] = tanks[0]
    elif given["tank"] not in tanks:
        reader.refuse((*keys, "tank"), tables.unknown("list of fish tanks", str(given["tank"]), tanks))
    cohort = reader.record(keys, given, Cohort, **fixed)
    reader.known((*keys, "species"), functools.partial(tables.row, "species", cohort.si.species))
    if cohort.si.growth is None:
        reader.known((*keys, "growth"), lambda: growth_coefficient.si(species=cohort.si.species))
    comes = _day(reader, (*keys, "arrives"), cohort.si.arrives)
    goes = comes + LONGEST * YEAR
    if cohort.si.leaves:
        leaves, later = cohort.si.leaves, cohort.si.leaves.endswith(NEXT)
        goes = _day(reader, (*keys, "leaves"), leaves.removesuffix(NEXT)) + YEAR * later
        if goes <= comes:
            reader.refuse(
                (*keys, "leaves"),
                f'{name} leaves on {leaves} before it comes on {cohort.si.arrives}; where it stays over the turn of the year, write leaves = "{leaves}{NEXT}".',
            )
    elif cohort.si.harvest_mass is None:
        reader.refuse(
            keys, 'leaves is missing: the day on which they are taken out, such as leaves = "30 September" (or harvest_mass = "500 g").'
        )
    return cohort.with_si(comes=comes, goes=goes)


def _monthly(reader: Reader, given: dict, key: str, cls, field: str) -> tuple[float, ...]:
    """What is said of the middle of each month, bare, from twelve values or from two months with a wave between."""
    keys, found = ("season", key), given.get(key)
    of, example = _SAID[key]
    if isinstance(found, list) and len(found) == 12:
        return tuple(reader.field(keys, one, cls, field) for one in found)
    if isinstance(found, dict) and len(found) in (2, 12):
        known = {_month(reader, (*keys, name), name): reader.field((*keys, name), one, cls, field) for name, one in found.items()}
        if len(known) == len(found):
            return tuple(known[n] for n in range(12)) if len(known) == 12 else _wave(*known.items())
    many = f"has {len(found)} values" if isinstance(found, (list, dict)) else f"is {found!r:.60}" if key in given else "is missing"
    reader.refuse(
        keys if key in given else keys[:1],
        f"{'' if key in given else f'{key} '}{many}; it needs that of {of} in each of the twelve months, from January on, "
        f"or of two months: {key} = {example}.",
    )


def _wave(first: tuple[int, float], second: tuple[int, float]) -> tuple[float, ...]:
    """The months between two, by half a wave from each to the other."""
    (a, warm), (b, other) = first, second
    values = []
    for month in range(12):
        on, way = (month - a) % 12, (b - a) % 12
        part = on / way if on <= way else 1 - (on - way) / (12 - way)
        values.append(warm + (other - warm) * (1 - math.cos(math.pi * part)) / 2)
    return tuple(values)

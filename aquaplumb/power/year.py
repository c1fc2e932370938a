"""A panel, a battery and a pump through a year, hour by hour: how full the battery is, and when it is empty.

Part of `aquaplumb.power`, which is the face of all this. The weather is invented (`skies`): it shows what a run of dull
days does to a design, and foretells nothing.

CAUTION: an empty battery at night is a pump that stands, and fish that run out of oxygen. Size for the dark fortnight,
keep an air pump on a battery of its own, and an alarm that does not need the one that is empty.
"""

from __future__ import annotations

import functools
from itertools import accumulate

import numpy as np

from aquaplumb.power.battery import usable_energy
from aquaplumb.power.battery_kinds import RATED_AT, BatteryKind, battery_kind, battery_share
from aquaplumb.power.charging import charges
from aquaplumb.power.panels import LOSSES, OFF_GRID, STANDARD_SUN, panel_yield
from aquaplumb.power.solar import MONTH_OF_DAY, Sunshine, clear_hours
from aquaplumb.power.weather import BRIGHTEST, invented_skies
from aquaplumb.tables import BANDS
from aquaplumb.units import (
    NUMBER,
    POWER,
    TEMPERATURE,
    Charge,
    DesignError,
    Energy,
    Flow,
    Insolation,
    Number,
    Power,
    Record,
    Temperature,
    Voltage,
    check_range,
    takes_quantities,
)

HOUR, FORTNIGHT = 3600.0, 14


class SolarYear(Record):
    """A year of 8760 hours, from the first of January, in solar time.

    charge (array of 8760): At the start of each hour, as a share of what may be used: 1 full, 0 cut off.
    sun (array of 8760): What the panel brings, after its losses.
    wanted (array of 8760): What pump and the rest ask for, after duty and saving.
    delivered (array of 8760): What they get.
    running (array of 8760): The part of each hour that the pump runs.
    flow (array of 8760): The hour's mean, where the pump's flow was given.
    sky_share (array of 365): Of each invented day.
    insolation (array of 365): On the panel, each day.
    usable: From full to cut off.
    spilled: Sun that found the battery full.
    short: Asked for and not there.
    hours_empty: Hours of the year in which pump and the rest stand, added up.
    longest_empty: Hours on end in which not all that is asked for is there.
    saving_hours: Hours in which the pump was held back to save the battery.
    lowest: The least charge of the year.
    dark_start: The day of the year on which the fortnight with the least sun begins, 1 to 365; it may run over New
        Year.
    dark_insolation: The mean of that fortnight.
    mean_flow: Of the whole year.
    dark_flow: The mean of the dark fortnight.

    Source: See `solar_year`.
    """

    charge: Number
    sun: Power
    wanted: Power
    delivered: Power
    running: Number
    flow: Flow | None
    sky_share: Number
    insolation: Insolation
    usable: Energy
    spilled: Energy
    short: Energy
    hours_empty: Number
    longest_empty: Number
    saving_hours: Number
    lowest: Number
    dark_start: int
    dark_insolation: Insolation
    mean_flow: Flow | None
    dark_flow: Flow | None


@takes_quantities
def solar_year(
    load: Power,
    panel: Power,
    capacity: Charge,
    *,
    sun: Sunshine,
    voltage: Voltage | None = None,
    always: Power = 0.0,
    flow: Flow | None = None,
    duty: Number = 1.0,
    saving_charge: Number = 0.0,
    saving_duty: Number = 1.0,
    seed: int = 1,
    persistence: Number = 0.5,
    sky_band: str = "low",
    kind: str | BatteryKind = "lead-acid flooded",
    depth: Number | None = None,
    ageing: Number | None = None,
    temperature: Temperature = RATED_AT,
    losses: Number = LOSSES,
    off_grid: Number = OFF_GRID,
    round_trip: Number | None = None,
) -> SolarYear:
    """A year of a panel, a battery and a pump, hour by hour, under invented skies.

    load (one value): Of the pump while it runs, out of the battery: `wired_pump`'s supply power.
    panel (one value): On its label.
    capacity (one value): On the battery's label.
    sun: As from `sunshine`.
    voltage (one value): Of the battery; that of one sold as 12 V when left out.
    always (one value): What runs all the time beside the pump, such as the air pump.
    flow (one value): Of the pump while it runs, to see what saving costs in water.
    duty (scalar or array of 24): The share of each hour in which the pump runs, by the hour of the day from midnight.
    saving_charge (one value): Below this charge the pump is held back; 0 for never.
    saving_duty (one value): To this part of its duty.
    seed: Of the invented skies.
    persistence (one value): As in `invented_skies`.
    sky_band: Which sunshine: "low", a dull climate, unless you know yours; your own sky share or insolation has one only.
    depth (one value): As in `usable_share`.
    ageing (one value): As in `usable_share`.
    temperature (one value): Of the battery in the cold season, taken for all the year.
    losses (one value): As from `panel_losses`.
    off_grid (one value): As in `panel_power`.
    round_trip (one value): As in `panel_power`; taken off on the way in. What the pump uses while the sun shines does
        not pay it.

    charge₊ = charge + (sun − wanted), times the round trip when it goes in, kept between cut off and full. The year
    before was the same one, so the first of January starts as full as that left it. Left out: that a nearly full
    battery takes its last tenth slowly, self-discharge, and a cut-off that waits for some charge before it comes back.

    Source: An energy balance by the hour, as in any simulation of an off-grid system; the skies are invented.

    >>> from aquaplumb.power.solar import sunshine
    >>> year = solar_year("20 W", "60 W", "100 Ah", sun=sunshine("40 deg"))
    >>> year.charge.shape, bool(year.hours_empty > 100)
    ((8760,), True)
    """
    for name, value in (("load", load), ("panel", panel), ("always", always)):
        if np.ndim(value):
            raise DesignError(f"solar_year: {name} is a list; give one value, and call it for each.")
        if value < 0:
            raise DesignError(f"solar_year: {name} is {POWER.text(value)}, below zero; give 0 or more.")
    for name, value in (("saving_charge", saving_charge), ("saving_duty", saving_duty)):
        if np.ndim(value):
            raise DesignError(f"solar_year: {name} is a list; give one value, and call it for each.")
    for name, value in (("duty", duty), ("saving_charge", saving_charge), ("saving_duty", saving_duty)):
        check_range(value, 0, 1, NUMBER, f"solar_year: {name}", "a part of the whole")
    if np.shape(duty) not in ((), (24,)):
        raise DesignError(f"solar_year: duty has {np.size(duty)} values; give one for each hour of the day, or a single one.")
    if sky_band not in BANDS:
        raise DesignError(f"the band is '{sky_band}'; write low, typical or high.")
    battery, bare = battery_kind(kind).si, sun.si
    if temperature < battery.coldest_charge:
        raise DesignError(
            f"a {battery.name} battery must not be charged below {TEMPERATURE.text(battery.coldest_charge)}, and it is at "
            f"{TEMPERATURE.text(temperature)}; keep it where it is warmer, or take another kind."
        )
    voltage = battery.nominal_voltage if voltage is None else voltage
    full = float(usable_energy.si(capacity, voltage, kind=kind, depth=depth, ageing=ageing, temperature=temperature))
    stored = battery_share(kind, "round_trip", "typical") if round_trip is None else float(round_trip)
    check_range(stored, 0.1, 1, NUMBER, "the battery's round trip", "a part of the whole")

    skies, light = year_of_light(bare, sky_band, seed, persistence)
    comes = light.ravel() * (panel * panel_yield(losses, off_grid) / STANDARD_SUN)

    share = np.tile(np.broadcast_to(np.asarray(duty, float), 24), 365)
    normal = (comes - always - load * share) * HOUR
    saved = (comes - always - load * share * saving_duty) * HOUR
    normal, saved = (np.where(net > 0, net * stored, net) for net in (normal, saved))
    limit = saving_charge * full
    level = charges(normal[None], full)[0] if limit <= 0 else np.array(_saved_levels(normal.tolist(), saved.tolist(), full, limit))

    saving = level < limit
    after = level + np.where(saving, saved, normal)
    part = share * np.where(saving, saving_duty, 1.0)
    wanted = always + load * part
    short = np.maximum(-after, 0.0)
    runs = 1 - np.divide(short, wanted * HOUR, out=np.zeros_like(short), where=wanted > 0)
    daily = light.mean(-1)
    fortnights = np.convolve(np.concatenate([daily, daily[: FORTNIGHT - 1]]), np.full(FORTNIGHT, 1 / FORTNIGHT), "valid")
    dark = int(np.argmin(fortnights))
    in_dark = np.isin(np.arange(365), np.arange(dark, dark + FORTNIGHT) % 365).repeat(24)
    running = part * runs
    moved = None if flow is None else flow * running
    return SolarYear.from_si(
        charge=level / full, sun=comes, wanted=wanted, delivered=wanted * runs, running=running, flow=moved, sky_share=skies, insolation=daily,
        usable=full, spilled=float(np.sum(np.maximum(after - full, 0.0)) / stored), short=float(np.sum(short)),
        hours_empty=float(np.sum(1 - runs)), longest_empty=_longest(short > 1e-9 * full), saving_hours=float(np.sum(saving)),
        lowest=float(level.min() / full), dark_start=dark + 1, dark_insolation=float(fortnights[dark]),
        mean_flow=None if moved is None else float(moved.mean()), dark_flow=None if moved is None else float(moved[in_dark].mean()),
    )  # fmt: skip


def _saved_levels(normal: list[float], saved: list[float], full: float, limit: float) -> list[float]:
    """As `charges`, of one year, with the pump held back below a charge."""
    pairs = list(zip(normal, saved))

    def next_charge(charge, nets):
        after = charge + (nets[1] if charge < limit else nets[0])
        return full if after > full else after if after > 0.0 else 0.0

    charges = [full]
    for _ in range(2):  # the year before, then this one
        charges = list(accumulate(pairs, next_charge, initial=charges[-1]))
    return charges[:-1]


def year_of_light(sun, sky_band: str, seed: int, persistence: float = 0.5) -> tuple[np.ndarray, np.ndarray]:
    """The share of a clear sky on each day of an invented year, and the light on the panel hour by hour: bare SI.

    Parameters
    ----------
    sun : bare Sunshine
    sky_band : str
    seed : int
    persistence : float

    Returns
    -------
    array of 365, array of 365 days by 24 hours [W/m²]

    Source
    ------
    `clear_hours` times `invented_skies`.
    """
    place = (round(float(value), digits) for value, digits in zip((sun.latitude, sun.tilt, sun.turbidity, sun.altitude), (6, 6, 3, 0)))
    wanted = getattr(sun, sky_band)
    mean = np.divide(wanted, sun.clear, out=np.zeros(12), where=sun.clear > 1e-6)
    return _light(tuple(place), tuple(mean.tolist()), seed, float(persistence))


@functools.lru_cache(maxsize=64)
def _light(place: tuple, mean: tuple, seed: int, persistence: float) -> tuple[np.ndarray, np.ndarray]:
    """Kept, since a slider mostly moves something else."""
    hours = clear_hours(*place)
    over = np.maximum(np.array(mean) / BRIGHTEST, 1.0)  # your own values may be above our clear sky: then no day is dull
    skies = invented_skies.si(np.array(mean) / over, seed=seed, persistence=persistence, weight=hours.mean(-1)) * over[MONTH_OF_DAY]
    light = hours * skies[:, None]
    skies.flags.writeable = light.flags.writeable = False
    return skies, light


def _longest(short: np.ndarray) -> float:
    """The longest run of hours that are short; the year is taken as a ring."""
    if short.all() or not short.any():
        return float(short.sum())
    ring = np.roll(short, -int(np.argmin(short)))  # start in an hour that is not short
    edges = np.flatnonzero(np.diff(np.concatenate([[0], ring.astype(int), [0]])))
    return float(np.max(edges[1::2] - edges[::2]))

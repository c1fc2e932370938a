"""Several invented years of a panel and a battery: the worst of them, and what would see the pumps through all of them.

Part of `aquaplumb.power`, which is the face of all this. One invented winter says little: another one is duller. Whoever
plans for fish plans for the worst of some, and knows that a real one may be worse still.
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.power.battery import usable_energy
from aquaplumb.power.battery_kinds import battery_share
from aquaplumb.power.charging import charges
from aquaplumb.power.panels import LOSSES, OFF_GRID, STANDARD_SUN, panel_yield
from aquaplumb.power.year import HOUR, solar_year, year_of_light
from aquaplumb.units import Bare

_ALL = slice(None)
SEEDS = (1, 2, 3, 4, 5)  # of the years that are looked at
PANEL_STEP, LARGEST_PANEL = 50.0, 10_000.0  # W: as sliders have it; more is no panel on a shed, common practice, no source
BATTERY_STEP, LARGEST_BATTERY = 36_000.0, 2_000 * 3600.0  # A s: 10 Ah; more is a room full of lead, common practice, no source


def worst_year(
    load: float, panel: float, capacity: float, *, sun, voltage: float, kind: str, temperature: float, always: float = 0.0,
    duty=1.0, sky_band: str = "low", flow: float | None = None, seeds: tuple[int, ...] = SEEDS,
) -> Bare:  # fmt: skip
    """The year of several in which the pumps stand longest; where they never do, the one in which the battery falls lowest.

    Parameters
    ----------
    load, panel, capacity, always, flow
        Bare SI, as `solar_year` takes them.
    sun, voltage, kind, temperature, duty, sky_band
        As there.
    seeds : tuple of int
        Of the invented skies, a year each.

    Returns
    -------
    Bare
        A bare `SolarYear`.

    Source
    ------
    `solar_year`.
    """
    place = {"sun": sun, "voltage": voltage, "kind": kind, "temperature": temperature, "always": always, "duty": duty, "sky_band": sky_band}
    years = _Years(load, sun, always, duty, sky_band, kind, seeds)
    full = usable_energy.si(capacity, voltage, kind=kind, temperature=temperature)
    net = years.net(panel)
    level = charges(net, full)
    flat = np.divide(np.maximum(-(level + net), 0.0), years.wanted, out=np.zeros(net.shape), where=years.wanted > 0)
    worst = max(range(len(seeds)), key=lambda year: (flat[year].sum(), -level[year].min()))
    return solar_year.si(load, panel, capacity, flow=flow, seed=seeds[worst], **place).si


class _Years:
    """Several years of a load under invented skies, hour by hour; `net` is what a panel adds to the battery [J]."""

    def __init__(self, load: float, sun, always: float, duty, sky_band: str, kind: str, seeds: tuple[int, ...]):
        self.light = np.stack([year_of_light(sun.si, sky_band, seed)[1].ravel() for seed in seeds])
        self.wanted = always + load * np.tile(np.broadcast_to(np.asarray(duty, float), 24), 365)
        self.stored = battery_share(kind, "round_trip", "typical")

    def net(self, panel: float, years: slice = _ALL) -> np.ndarray:
        net = self.light[years] * (panel * panel_yield(LOSSES, OFF_GRID) / STANDARD_SUN) - self.wanted
        return np.where(net > 0, net * (self.stored * HOUR), net * HOUR)

    def lack(self, panel: float, years: slice = _ALL) -> np.ndarray:
        """The most that the battery lacks of full in each year [J], each lived twice on end."""
        total = np.cumsum(self.net(panel, years), axis=1)
        gain = total[:, -1:]
        highest = np.maximum.accumulate(np.maximum(total, 0.0), axis=1)
        second = np.maximum(highest[:, -1:], gain + highest) - (gain + total)  # the same sums once more, on top of the first year's
        most = np.maximum((highest - total).max(axis=1), second.max(axis=1))
        return np.where(gain[:, 0] < 0, math.inf, most)  # one that gives out more in a year than it takes in


def enough(
    load: float, panel: float, capacity: float, *, sun, voltage: float, kind: str, temperature: float, always: float = 0.0,
    duty=1.0, sky_band: str = "low", seeds: tuple[int, ...] = SEEDS,
) -> tuple[float | None, float | None, tuple[float, float] | None]:  # fmt: skip
    """The smallest panel with which this battery, and the smallest battery with which this panel, never goes flat; else a pair of both.

    Parameters
    ----------
    load, panel, capacity, always
        Bare SI, as `solar_year` takes them.
    sun, voltage, kind, temperature, duty, sky_band
        As there.
    seeds : tuple of int
        Of the invented years, all of which it has to stand.

    Returns
    -------
    panel [W], capacity [A s]
        In steps that a shop has, or None where none up to 10 kW and 2,000 Ah would do.
    pair of panel [W] and capacity [A s]
        Where neither does by itself: a battery of 2, 4 or 8 times the capacity, and the smallest panel beside it; None for none.

    Notes
    -----
    What a battery lacks of full is d₊ = max(0, d − net), so it is the highest sum so far less the sum now. It never goes
    flat where the largest lack, over two such years on end, is no more than it holds.

    Source
    ------
    The same balance by the hour as `solar_year`; the lack as in Lindley (1952) for a queue, from memory.
    """
    years = _Years(load, sun, always, duty, sky_band, kind, seeds)
    one = usable_energy.si(1.0, voltage, kind=kind, temperature=temperature)
    asked, full = years.lack(panel), capacity * one
    steps = _steps(years, asked, panel, full)
    battery = BATTERY_STEP * math.ceil(float(asked.max()) / one / BATTERY_STEP - 1e-9) if asked.max() <= LARGEST_BATTERY * one else None
    pair = None
    for times in (2, 4, 8) if steps is None and battery is None else ():
        if times * capacity <= LARGEST_BATTERY and pair is None and (larger := _steps(years, asked, panel, times * full)):
            pair = larger * PANEL_STEP, times * capacity
    return None if steps is None else steps * PANEL_STEP, battery, pair


def _steps(years: _Years, asked: np.ndarray, panel: float, full: float) -> int | None:
    """The fewest steps of panel, more than one there, with which a battery of some energy stands all years; None where none do."""
    dullest = [int(np.argmin(years.light.sum(axis=1)))] if np.isinf(asked).any() else [int(np.argmax(asked))]
    last = round(LARGEST_PANEL / PANEL_STEP)

    def larger(low: int, which) -> int:
        """The fewest steps of panel, more than some, that stand the years; one more than the last where none do."""
        high = last + 1
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if (years.lack(middle * PANEL_STEP, which) <= full).all() else (middle, high)
        return high

    steps = larger(math.floor(panel / PANEL_STEP), dullest)  # first by the dullest year alone, then by all of them
    if steps <= last and (years.lack(steps * PANEL_STEP) > full).any():
        steps = larger(steps, slice(None))
    return steps if steps <= last else None

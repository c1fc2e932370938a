"""Invented skies and a year of panel, battery and pump: means kept, energy kept, and a plain loop beside it."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aquaplumb import u
from aquaplumb.power import battery, panels, solar, weather
from aquaplumb.power.year import solar_year
from aquaplumb.units import DesignError

FAST = settings(max_examples=25, deadline=None, derandomize=True)
HERE = solar.sunshine("45 deg", tilt="60 deg")
LH = 1 / 3.6e6


def year(load=20.0, panel=120.0, capacity=100 * 3600.0, *, sun=HERE, **more):
    return solar_year.si(load, panel, capacity, sun=sun, **more).si


# --- the skies ----------------------------------------------------------------------------------------------


@FAST
@given(st.integers(0, 10**6), st.lists(st.floats(0.08, 0.98), min_size=12, max_size=12), st.floats(0, 0.9), st.floats(0, 3))
def test_every_month_keeps_its_mean(seed, means, persistence, spread):
    weight = solar.clear_hours(np.radians(50.0), np.radians(50.0)).mean(-1)
    days = weather.invented_skies(np.array(means), seed=seed, persistence=persistence, spread=spread, weight=weight)
    months = pd.date_range("2023-01-01", periods=365).month
    kept = pd.Series(days * weight).groupby(months).sum() / pd.Series(weight).groupby(months).sum()
    assert kept.to_numpy() == pytest.approx(means, rel=1e-6)
    assert np.all(days >= weather.DULLEST - 1e-12) and np.all(days <= weather.BRIGHTEST + 1e-12)


def test_the_chain_is_of_the_first_order():
    # of the normal values behind the shares (logit undoes the S-shape), day to day they correlate as persistence, two days
    # apart as its square: the definition of a first-order chain. 40 years of one month's mean: ± 0.02 by chance.
    for persistence in (0.0, 0.3, 0.7):
        years = []
        for seed in range(40):
            share = (weather.invented_skies(0.6, seed=seed, persistence=persistence) - weather.DULLEST) / (
                weather.BRIGHTEST - weather.DULLEST
            )
            years.append(np.log(share / (1 - share))[181:212])  # July: within a month the shift is one number
        z = np.array(years)
        z = z - z.mean(1, keepdims=True)
        # taking off each month's own mean pulls a correlation down by about (1 + p) / (1 − p) / 31
        pull = (1 + persistence) / (1 - persistence) / 31
        one, two = (np.mean(z[:, lag:] * z[:, :-lag]) / np.mean(z**2) for lag in (1, 2))
        assert one == pytest.approx(persistence - pull * (1 - persistence), abs=0.06)
        assert two == pytest.approx(persistence**2 - pull * (1 - persistence**2), abs=0.06)


def test_seeds_and_limits():
    assert np.array_equal(weather.invented_skies(0.5, seed=7), weather.invented_skies(0.5, seed=7))
    assert not np.array_equal(weather.invented_skies(0.5, seed=7), weather.invented_skies(0.5, seed=8))
    assert weather.invented_skies(0.5, spread=0) == pytest.approx(np.full(365, 0.5))
    assert np.array_equal(weather.invented_skies(0.0), np.zeros(365)) and np.array_equal(weather.invented_skies(0.03), np.full(365, 0.03))
    assert weather.invented_skies(weather.BRIGHTEST) == pytest.approx(np.full(365, weather.BRIGHTEST))
    for words, more in (("sky_share is 60", {"sky_share": 60}), ("seed is 1.5", {"seed": 1.5}), ("seed is -1", {"seed": -1}),
                        ("persistence is 1", {"persistence": 1.0}), ("11 values", {"sky_share": [0.5] * 11}), ("weight has 3", {"weight": [1, 2, 3]})):  # fmt: skip
        with pytest.raises(DesignError, match=words):
            weather.invented_skies(**{"sky_share": 0.5, **more})


# --- the year against a plain loop ----------------------------------------------------------------------------


def by_loop(load, panel, capacity, *, duty, always, saving_charge, saving_duty, skies_of, round_trip):
    """The same year by a plain loop over hours, energies in Wh: charge at the start of each hour, what is short, what is spilled."""
    full = battery.usable_energy.si(capacity, 12.0) / 3600
    light = (solar.clear_hours(round(HERE.si.latitude, 6), round(HERE.si.tilt, 6)) * skies_of[:, None]).ravel()
    made = light / 1000 * panel * panels.panel_yield(panels.LOSSES, panels.OFF_GRID)
    charge = full
    for _ in range(2):
        levels, short, spilled = [], [], 0.0
        for hour in range(8760):
            levels.append(charge)
            pump = duty[hour % 24] * (saving_duty if charge < saving_charge * full else 1)
            net = made[hour] - always - load * pump
            charge += net * round_trip if net > 0 else net
            short.append(max(-charge, 0))
            spilled += max(charge - full, 0) / round_trip
            charge = min(max(charge, 0), full)
    return np.array(levels) / full, np.array(short), spilled


@pytest.mark.parametrize("panel", [40.0, 120.0, 400.0])
@pytest.mark.parametrize("saving_charge, saving_duty", [(0.0, 1.0), (0.5, 0.4)])
def test_the_year_is_that_of_a_plain_loop(panel, saving_charge, saving_duty):
    duty = np.where((np.arange(24) > 6) & (np.arange(24) < 20), 1.0, 0.5)
    found = year(panel=panel, duty=duty, always=3.0, saving_charge=saving_charge, saving_duty=saving_duty, seed=5, round_trip=0.85)
    levels, short, spilled = by_loop(
        20.0,
        panel,
        360e3,
        duty=duty,
        always=3.0,
        saving_charge=saving_charge,
        saving_duty=saving_duty,
        skies_of=found.sky_share,
        round_trip=0.85,
    )
    assert found.charge == pytest.approx(levels, abs=1e-9)
    assert found.short == pytest.approx(short.sum() * 3600, rel=1e-9, abs=1e-3)
    assert found.spilled == pytest.approx(spilled * 3600, rel=1e-9, abs=1e-3)
    assert found.lowest == pytest.approx(levels.min())
    assert found.saving_hours == (levels < saving_charge).sum()
    run = longest = 0
    for hour in [*range(8760), *range(8760)]:  # twice round, so that a run over New Year is found
        run = run + 1 if short[hour] > 1e-6 else 0
        longest = max(longest, run)
    assert found.longest_empty == longest


@FAST
@given(st.integers(0, 1000), st.floats(0, 300), st.floats(10, 300), st.floats(0, 40), st.floats(0.7, 1))
def test_energy_is_kept(seed, panel, amp_hours, load, round_trip):
    found = year(load, panel, amp_hours * 3600, seed=seed, round_trip=round_trip)
    net = (found.sun - found.wanted) * 3600
    into, out = np.maximum(net, 0).sum() - found.spilled, np.maximum(-net, 0).sum() - found.short
    kept = (found.charge[-1] - found.charge[0]) * found.usable
    last = net[-1] * (round_trip if net[-1] > 0 else 1)  # the charge after the last hour
    kept += np.clip(found.charge[-1] * found.usable + last, 0, found.usable) - found.charge[-1] * found.usable
    assert into * round_trip - out == pytest.approx(kept, abs=1e-6 * max(found.usable, 1e6))
    assert found.delivered.sum() * 3600 == pytest.approx(found.wanted.sum() * 3600 - found.short, abs=1e-3)
    assert np.all(found.charge >= 0) and np.all(found.charge <= 1) and np.all(found.running <= 1 + 1e-12)


@pytest.mark.parametrize("latitude", [-35, 0, 45, 64])
@pytest.mark.parametrize("band", ["low", "typical", "high"])
def test_the_months_sunshine_is_that_of_the_table(latitude, band):
    sun = solar.sunshine(latitude * u.deg)
    found = year(sun=sun, sky_band=band, seed=9)
    assert solar.monthly(found.insolation) == pytest.approx(getattr(sun.si, band), rel=1e-6, abs=1e-9)
    label = found.sun.mean() / (120.0 * 0.859243 * 0.87)  # PVWatts' losses and the off-grid share, by hand
    assert label == pytest.approx(found.insolation.mean() / 1000, rel=1e-4)


def test_own_values_above_our_clear_sky_are_kept_too():
    own = 1.2 * HERE.si.clear
    found = year(sun=solar.sunshine("45 deg", tilt="60 deg", insolation=own * u("W/m**2")))
    assert solar.monthly(found.insolation) == pytest.approx(own, rel=1e-6)


# --- limits and what a builder sees ---------------------------------------------------------------------------


def test_no_panel_and_more_than_enough():
    none = year(panel=0.0, flow=900 * LH)
    assert none.hours_empty == pytest.approx(8760) and none.longest_empty == 8760
    assert none.mean_flow == 0 and none.short == pytest.approx(20 * 8760 * 3600)
    plenty = year(panel=5000.0, capacity=2000 * 3600.0, flow=900 * LH)
    assert plenty.hours_empty == plenty.short == plenty.longest_empty == 0 and plenty.lowest > 0.9
    assert plenty.mean_flow == pytest.approx(900 * LH) and plenty.dark_flow == pytest.approx(900 * LH)
    idle = year(load=0.0)
    assert idle.hours_empty == 0 and idle.lowest == 1 and np.all(idle.running == 1)


def test_more_panel_or_battery_is_never_worse():
    for field in ("hours_empty", "short"):
        assert np.all(np.diff([getattr(year(panel=p), field) for p in (0, 30, 60, 120, 240, 480)]) <= 1e-6)
        assert np.all(np.diff([getattr(year(capacity=c * 3600.0), field) for c in (20, 50, 100, 200, 400)]) <= 1e-6)


def test_half_the_duty_is_half_the_water_and_saving_spends_less_in_the_dark():
    plenty = {"panel": 5000.0, "capacity": 2000 * 3600.0, "flow": 900 * LH}
    assert year(duty=0.5, **plenty).mean_flow == pytest.approx(450 * LH)
    by_day = np.where(np.arange(24) < 6, 0.0, 1.0)
    assert year(duty=by_day, **plenty).mean_flow == pytest.approx(900 * LH * 18 / 24)
    short = {"panel": 150.0, "flow": 900 * LH}
    plain, saving = year(**short), year(saving_charge=0.5, saving_duty=0.5, **short)
    assert saving.hours_empty < plain.hours_empty and saving.wanted.sum() < plain.wanted.sum()
    assert saving.saving_hours > 0 and np.all(saving.flow <= 900 * LH * (1 + 1e-12))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("sun", [HERE, solar.sunshine("-35 deg")], ids=["north", "south"])
def test_the_dark_fortnight_is_the_darkest_of_all(sun, seed):
    found = year(sun=sun, seed=seed)
    ring = np.concatenate([found.insolation, found.insolation])
    means = [ring[d : d + 14].mean() for d in range(365)]
    assert found.dark_insolation == pytest.approx(min(means)) and found.dark_start == int(np.argmin(means)) + 1


def test_the_polar_night_empties_the_battery_and_does_not_crash():
    far = solar_year("20 W", "500 W", "300 Ah", sun=solar.sunshine("75 deg"), flow="900 L/h")
    assert far.dark_insolation.magnitude == 0 and far.longest_empty > 40 * 24 and far.dark_flow.magnitude == 0
    assert far.charge[172 * 24] > 0.5  # and the midnight sun fills it again


def test_lithium_is_not_charged_in_frost():
    with pytest.raises(DesignError, match="^a LiFePO4 battery must not be charged below 0 °C, and it is at -5 °C"):
        solar_year("20 W", "100 W", "100 Ah", sun=HERE, kind="LiFePO4", temperature="-5 degC")
    assert solar_year("20 W", "100 W", "100 Ah", sun=HERE, temperature="-5 degC").usable.magnitude > 0
    # 100 Ah × 12.8 V × 0.8 deep, new: 1024 Wh, by hand
    assert solar_year("20 W", "100 W", "100 Ah", sun=HERE, kind="LiFePO4", ageing=1).usable.m_as("Wh") == pytest.approx(1024)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"load": "-1 W"}, "load is -1 W, below zero"),
        ({"panel": [100, 200] * u.W}, "panel is a list"),
        ({"capacity": "0 Ah"}, "the battery has 0 Ah"),
        ({"duty": 1.5}, "duty is 1.5"),
        ({"duty": [0.5] * 12}, "duty has 12 values; give one for each hour"),
        ({"saving_charge": -0.1}, "saving_charge is -0.1"),
        ({"sky_band": "best"}, "write low, typical or high"),
        ({"round_trip": 0}, "round trip is 0"),
        ({"kind": "potato"}, "list of batteries has no 'potato'"),
    ],
)
def test_what_cannot_be_is_refused_in_plain_words(more, words):
    with pytest.raises(DesignError, match=words):
        solar_year(**{"load": "20 W", "panel": "100 W", "capacity": "100 Ah", "sun": HERE, **more})

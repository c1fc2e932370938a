"""A year of a build: growth against print, nitrogen that closes, one constant stock as the steady review has it, and what is told.

Sources stand beside each check.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

import stocks_builds as several
from aquaplumb import fish, tables
from aquaplumb.build import Build, load
from aquaplumb.build.seasons import BEGINS, MONTH_DAYS, MONTHS
from aquaplumb.review import review
from aquaplumb.system.balance import Balance
from aquaplumb.system.season import AIR, MONTH_OF, on_day, season_run
from aquaplumb.system.steady import Steady
from aquaplumb.units import DesignError

pytestmark = pytest.mark.usefixtures("strict")
DAY = 86400.0


def text(*stocks, temperature='{ January = "20 degC", July = "28 degC" }', more="", keep=False):
    """The courtyard with a season; its own fish stay where `keep` says so."""
    file = load("courtyard").text
    begin, end = file.index("[fish]"), file.index("[plants]")
    own = file[begin:end] if keep else ""
    return file[:begin] + own + f"[season]\ntemperature = {temperature}\n{more}\n" + "".join(stocks) + file[end:]


def stock(name="spring", *, arrives="1 April", leaves='leaves = "31 October"', count=40, mass="40 g", species="Nile tilapia", more=""):
    return f'[season.stocks."{name}"]\nspecies = "{species}"\narrives = "{arrives}"\n{leaves}\ncount = {count}\nbody_mass = "{mass}"\nprotein = "32 %"\n{more}\n\n'


def run_of(*stocks, **more):
    return season_run(Balance(Build(text(*(stocks or (stock(),)), **more))))


def found(build, name):
    return [f for f in review(build).findings if f.name == name]


# --- growth ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "end", "celsius", "days", "coefficient", "slack"),
    [
        # AquaSearch, growth in fish, worked example: 10 to 350 g at 11 °C in 200 days is 0.222 for 100 degree-days (printed to three digits)
        pytest.param(10, 350, 11, 200, 2.22, 0.005, id="AquaSearch worked example"),
        # Iwama and Tautz (1981), abstract: the cube root rises by T/1000 a day, so a salmonid of their model has a coefficient of 1
        pytest.param(1, (1 + 10 * 100 / 1000) ** 3, 10, 100, 1.0, 1e-9, id="Iwama and Tautz 1981"),
        # recomputed by hand: 50 to 500 g in 180 days at 27 °C is 0.875, in 240 days 0.656
        pytest.param(50, 500, 27, 180, 0.875, 0.001, id="by hand, 180 days"),
        pytest.param(50, 500, 27, 240, 0.656, 0.001, id="by hand, 240 days"),
    ],
)
def test_growth_is_as_in_print(start, end, celsius, days, coefficient, slack):
    measured = fish.measured_growth.si(start / 1e3, end / 1e3, celsius + 273.15, days * DAY)
    assert measured == pytest.approx(coefficient, abs=slack)
    assert fish.grown_mass.si(start / 1e3, celsius + 273.15, days * DAY, growth=measured) == pytest.approx(end / 1e3, rel=1e-9)


def test_a_hatchery_manuals_degree_months_lie_in_the_trouts_band():
    """Dwyer et al. 1981 (in a hatchery manual, table 2.2): 5.8 degree-months for a centimetre at 13 °C, 7.1 from 7 to 19 °C.

    W = K L³ / 100 with Piper's condition of 1.11 (4.06e-4 in inches and pounds, from memory): W^⅓ = 0.223 L.
    """
    band = fish.growth_coefficient(species="rainbow trout")
    for needed in (5.8, 7.1):
        coefficient = 1000 * (1.11 / 100) ** (1 / 3) / (needed * 365.25 / 12)
        assert band.low <= coefficient <= band.high


@given(st.floats(1, 500), st.floats(5, 30), st.floats(1, 300), st.floats(0.1, 3))
def test_growth_is_the_solution_of_its_rate_and_two_stretches_are_one(grams, celsius, days, growth):
    """dW/dt = 3 c T W^⅔, the cube-root law's own rate (calculus); and continuity in time."""
    mass = fish.grown_mass.si(grams / 1e3, celsius + 273.15, days * DAY, growth=growth) * 1e3
    half = fish.grown_mass.si(grams / 1e3, celsius + 273.15, days / 2 * DAY, growth=growth)
    assert fish.grown_mass.si(half, celsius + 273.15, days / 2 * DAY, growth=growth) * 1e3 == pytest.approx(mass, rel=1e-9)
    solved = solve_ivp(lambda t, w: 3 * growth / 1000 * celsius * w ** (2 / 3), (0, days), [grams], rtol=1e-8)
    assert solved.y[0, -1] == pytest.approx(mass, rel=1e-5)


@pytest.mark.parametrize("species", tables.names("species"))
def test_every_fish_grows_to_harvest_about_as_fast_as_the_species_table_says(species):
    """From 10 g, in its best water, inside print's growing time, doubled either way (`data/species.csv`, FAO 589 ch. 7, from memory)."""
    s, band = tables.row("species", species).si, fish.growth_coefficient(species=species)
    assert band.low <= band.typical <= band.high
    if s.growing_time_low is None:
        return
    middle = (s.best_low + s.best_high) / 2
    weighs = fish.grown_mass.si(0.01, middle, (s.growing_time_low + s.growing_time_high) / 2, growth=band.typical)
    assert s.harvest_mass / 2.2 < weighs < 2.2 * s.harvest_mass


def test_fish_that_do_not_eat_do_not_grow():
    degrees = fish.growing_degrees.si
    assert degrees(273.15 + 28, species="Nile tilapia") == pytest.approx(28)
    assert degrees(273.15 + 16.9, species="Nile tilapia") == 0  # FAO 589 ch. 7: no feeding below 17 °C
    assert degrees(273.15 + 35.9, species="Nile tilapia") < degrees(
        273.15 + 30, species="Nile tilapia"
    )  # Jobling 2003: it falls past the best
    with pytest.raises(DesignError, match="temperature in °C"):
        fish.measured_growth("10 g", "20 g", "0 degC", "10 d")


# --- the year --------------------------------------------------------------------------------------


def test_months_and_days():
    assert sum(MONTH_DAYS) == 365 and len(MONTH_OF) == 365 and BEGINS[11] == 334
    season = Build(text(stock(arrives="Oct 15", leaves='leaves = "15 April next year"'))).season.si
    assert season.cohorts[0].si.comes == 287 and season.cohorts[0].si.goes == 365 + 104


def test_two_months_make_a_wave_and_twelve_values_are_taken_as_they_are():
    wave = np.array(Build(text(stock())).season.si.temperature) - 273.15
    assert wave[0] == pytest.approx(20) and wave[6] == pytest.approx(28) and wave[3] == pytest.approx(24)
    assert wave[1] == pytest.approx(wave[11])  # as far on either side of January
    twelve = ", ".join(f'"{20 + n} degC"' for n in range(12))
    run = run_of(temperature=f"[{twelve}]")
    assert run.water[15] - 273.15 == pytest.approx(20, abs=0.1) and run.water[349] - 273.15 == pytest.approx(31, abs=0.1)


def test_one_constant_stock_is_as_the_steady_review_has_it():
    """A season that never changes, with the file's own fish, asks for what the steady system asks for, and reviews alike."""
    steady = Steady(load("courtyard"))
    run = run_of("", temperature="[" + ", ".join(['"28 degC"'] * 12) + "]", keep=True)
    assert run.biomass == pytest.approx(np.full(365, steady.fish.biomass))
    assert run.feed == pytest.approx(np.full(365, steady.fish.feed))
    assert run.ammonia == pytest.approx(np.full(365, steady.fish.ammonia))
    assert run.tanks["fish tank"].asks == pytest.approx(np.full(365, steady.fish.fed_oxygen + steady.fish.dirt_oxygen))
    surface = steady.living.surface["typical"] / steady.living.surface_needed["typical"]
    assert 1 / run.strain[run.living].max() == pytest.approx(surface, rel=1e-9)
    build = Build(text("", temperature="[" + ", ".join(['"28 degC"'] * 12) + "]", keep=True))
    same = Steady(build)
    assert same.fish.feed == pytest.approx(steady.fish.feed) and same.cold == steady.cold and same.warm == steady.warm
    told = {f.name for f in review(build).findings} - {"worst month of the year", "nitrate gathers through the year"}
    assert told == {f.name for f in review(load("courtyard")).findings}


def test_air_that_is_just_enough_holds_the_fishs_own_level():
    """Where what is asked is what can be brought, the settled oxygen is the least that the fish need: mass balance, both ways round."""
    build = Build(text("", temperature="[" + ", ".join(['"28 degC"'] * 12) + "]", keep=True))
    strain = season_run(Balance(build)).strain[AIR].max()
    full = load("courtyard").changed({"fish.density": f"{15 / strain:.6f} kg/m3"})
    assert Steady(full).air.steady[1] == pytest.approx(4e-3, rel=1e-3)  # tilapia: FAO 589, over 4 mg/L


@settings(max_examples=25, deadline=None)
@given(
    count=st.integers(1, 200), mass=st.floats(1, 300), arrives=st.integers(0, 11), months=st.integers(1, 20), cold=st.floats(2, 20),
    weeks=st.sampled_from(["", "3", "5", "11.5"]), together=st.booleans(), change=st.floats(0, 200),
)  # fmt: skip
def test_nitrogen_closes(count, mass, arrives, months, cold, weeks, together, change):
    """Feed = fish + solids + ammonia; ammonia = plants + changed + what gathers, month by month (mass balance)."""
    last = arrives + months
    leaves = f'leaves = "15 {MONTHS[last % 12]}{" next year" if last >= 12 else ""}"'
    if last >= 24:
        return
    more = (f'replant = "{weeks} weeks"\ntogether = {str(together).lower()}\n' if weeks else "") + 'bare = ["January", "Dec"]'
    file = text(
        stock(arrives=f"15 {MONTHS[arrives]}", leaves=leaves, count=count, mass=f"{mass:.3f} g"), more=more,
        temperature=f'{{ January = "{cold:.2f} degC", July = "28 degC" }}',
    )  # fmt: skip
    run = season_run(Balance(Build(file.replace("[upkeep]", f'[upkeep]\nwater_change = "{change:.3f} L"'))))
    n = run.nitrogen
    assert n.feed == pytest.approx(n.fish + n.solids + n.ammonia, abs=1e-12)
    assert np.diff(np.r_[0.0, n.left]) == pytest.approx(n.ammonia - n.plants - n.changed, abs=1e-12)
    assert np.all(n.plants >= 0) and np.all(n.left >= 0) and n.plants[0] == n.plants[11] == 0  # bare in December and January
    assert n.feed.sum() == pytest.approx(0.16 * 0.32 * run.feed.sum() * DAY)  # 16 % of protein is nitrogen: FAO 589 app. 4
    assert run.biomass.min() >= 0 and len(run.cohorts[0].day) == pytest.approx(months * 365 / 12, abs=3)


def test_feed_is_that_of_size_and_temperature():
    one = run_of().cohorts[0]
    for at in (0, 50, 150):
        rate = fish.feeding_rate.si(one.mass[at], species="Nile tilapia", temperature=run_of().water[one.day[at]]).si.typical
        assert one.rate[at] == pytest.approx(rate)
    assert 1.2 < one.conversion < 2.2  # pellets: 1.4 to 1.8 (trade, FAO 589, from memory)


def test_a_stock_that_stays_for_longer_stands_beside_the_next_of_its_kind():
    """Every year is like the one before: on a day in spring both the new and last year's fish are there."""
    build = Build(text(stock(arrives="1 March", leaves='leaves = "1 June next year"', count=10)))
    run = season_run(Balance(build))
    april = int(np.flatnonzero(MONTH_OF == 3)[0])
    ages = np.flatnonzero(run.cohorts[0].day == april)
    assert len(ages) == 2
    assert run.biomass[april] == pytest.approx(10 * run.cohorts[0].mass[ages].sum())
    assert run.biomass[200] == pytest.approx(10 * run.cohorts[0].mass[run.cohorts[0].day == 200].sum())
    worst = Steady(build)
    if len(worst.build.stocks) == 2:
        assert set(worst.build.stocks) == {"spring", "spring, year 2"}


def test_staggered_stocks_ask_for_less_at_once_than_one_of_all():
    one = run_of(stock(count=80))
    two = run_of(stock("a", count=40), stock("b", count=40, arrives="15 July", leaves='leaves = "15 February next year"'))
    assert two.biomass.max() < 0.75 * one.biomass.max()


def test_plants_are_cut_by_month():
    """96 plants, each after five weeks: 96 × 30 / 35 in a month of 30 days (definition)."""
    run = run_of(more='replant = "5 weeks"\nbare = ["January"]')
    plants = Balance(load("courtyard")).beds.plants
    assert run.plants_cut[3] == pytest.approx(plants * 30 / 35) and run.plants_cut[0] == 0
    together = run_of(more='replant = "5 weeks"\ntogether = true')
    assert together.plants_cut.sum() == pytest.approx(plants * (365 // 35))


# --- the review ------------------------------------------------------------------------------------

CROWD = stock(count=400, mass="100 g")


def test_the_review_is_of_the_worst_month_and_says_so():
    build = Build(text(CROWD))
    system = Steady(build)
    run = system.season
    assert run.day == int(np.argmax(run.strain[run.living if run.what == run.living else AIR]))
    assert system.build.month == MONTHS[run.month] and MONTHS[run.month] in review(build).so_far
    assert system.fish.biomass == pytest.approx(run.biomass[run.day]) and system.fish.feed == pytest.approx(run.feed[run.day])
    assert system.fish.ammonia == pytest.approx(run.ammonia[run.day])
    assert f"This review is of {MONTHS[run.month]}" in found(build, "worst month of the year")[0].sentence
    assert not found(load("courtyard"), "worst month of the year")


@pytest.mark.parametrize(
    ("name", "more"),
    [("season beyond the air", ""), ("season too dense", ""), ("season beyond the beds", 'nitrification_rate = "0.02 g/m2/d"')],
)
def test_what_is_over_clears_with_as_few_fish_as_the_cure_says(name, more):
    def build(count):
        return Build(text(stock(count=count, mass="100 g")).replace("[water]", f"[water]\n{more}"))

    told = found(build(400), name)
    assert told and " in " in told[0].sentence
    share = float(told[0].cure.split("no more than ")[1].split(" %")[0].rstrip("%").split("%")[0]) / 100
    assert not found(build(math.floor(400 * share)), name)


def test_a_night_in_another_month_is_told_as_well():
    """Beds that turn little in the cold make March the review's month; a night in April, warmer and with heavier fish, is told all the same."""
    winter = stock("winter", arrives="1 November", leaves='leaves = "15 April next year"', count=60, mass="250 g", species="rainbow trout")
    summer = stock("summer", arrives="15 June", leaves='leaves = "15 September"', count=25, mass="300 g")
    file = text(winter, summer, temperature='{ January = "9 degC", July = "29 degC" }')
    build = Build(file.replace('media_depth = "0.30 m"', 'media_depth = "0.015 m"'))
    system = Steady(build)
    assert system.season.what == "the beds" and system.build.month == "March"  # the heaviest while it is still cold
    month = MONTHS[MONTH_OF[int(np.argmax(system.season.strain[AIR]))]]
    told = found(build, "oxygen time short in another month")
    assert month == "April" and told[0].sentence.startswith("In April: when the power fails")
    assert not found(Build(text(stock())), "oxygen time short in another month")  # there the air itself is the worst


def test_a_month_that_the_fish_do_not_live_in_is_named():
    cold = Build(text(stock(arrives="1 February"), temperature='{ January = "10 degC", July = "28 degC" }'))
    told = found(cold, "season out of its warmth")
    stops = [f for f in told if f.severity == "stop"]
    assert len(stops) == 1 and "in February" in stops[0].sentence and "14 °C to 36 °C" in stops[0].sentence  # FAO 589: 14 to 36 °C
    assert not [f for f in found(Build(text(stock())), "season out of its warmth") if f.severity == "stop"]


def test_fish_that_never_get_there_are_told_and_the_cure_clears():
    def build(mass):
        return Build(text(stock(leaves=f'leaves = "30 June"\nharvest_mass = "{mass}"')))

    told = found(build("900 g"), "harvest not reached")
    assert told and "900 g" in told[0].sentence
    assert not found(build(told[0].cure.split("harvest_mass to ")[1].rstrip(".")), "harvest not reached")


def test_nitrate_that_gathers_clears_with_the_water_that_is_named():
    build = Build(text(stock(count=70)))
    told = found(build, "nitrate gathers through the year")
    litres = told[0].cure.split("change ")[1].split(" of water")[0]
    assert not found(build.changed({"upkeep.water_change": litres}), "nitrate gathers through the year")


# --- bad input: one clear sentence each ------------------------------------------------------------

BAD = {
    "a day that is none": (lambda: text(stock(arrives="31 April")), "April has 30 days"),
    "no day at all": (lambda: text(stock(arrives="in spring")), "a day and a month"),
    "29 February": (lambda: text(stock(arrives="29 February")), "every fourth year"),
    "leaves before it comes": (lambda: text(stock(leaves='leaves = "1 March"')), "leaves on 1 March before it comes on 1 April"),
    "a month misspelt": (lambda: text(stock(arrives="1 Apirl")), "Apirl"),
    "a month misspelt in the water": (lambda: text(stock(), temperature='{ Janury = "10 degC", July = "20 degC" }'), "January"),
    "eleven values": (lambda: text(stock(), temperature="[" + ", ".join(['"20 degC"'] * 11) + "]"), "has 11 values"),
    "the same month twice": (lambda: text(stock(), temperature='{ Jan = "10 degC", January = "20 degC" }'), "twelve months"),
    "no temperature": (lambda: text(stock()).replace("temperature = {", "bare = []\n#"), "temperature is missing"),
    "nobody takes them out": (lambda: text(stock(leaves="")), "leaves is missing"),
    "harvest under what comes": (lambda: text(stock(leaves='harvest_mass = "10 g"')), "harvest_mass is no more"),
    "no fish": (lambda: text(stock(count=0)), "count: 0 is below 1"),
    "fish of their own too": (lambda: text(stock(), keep=True), "the season has stocks of its own"),
    "no such tank": (lambda: text(stock(more='tank = "pond"')), "pond"),
    "a growth that is none": (lambda: text(stock(more="growth = 0")), "growth: 0 is below 0.01"),
    "an unknown word": (lambda: text(stock(), more='planted = "x"'), "planted"),
    "a crop of no time": (lambda: text(stock(), more='replant = "0 weeks"'), "replant"),
    "a bare month that is none": (lambda: text(stock(), more='bare = ["Winter"]'), "Winter"),
}


@pytest.mark.parametrize("what", BAD)
def test_what_cannot_be_is_said_in_one_sentence_with_its_line(what):
    make, said = BAD[what]
    with pytest.raises(DesignError) as wrong:
        Build(make())
    assert said in str(wrong.value) and ", line " in str(wrong.value) and "\n" not in str(wrong.value)


# --- several tanks ---------------------------------------------------------------------------------


def two_tanks():
    file = several.text()
    begin, end = file.index('[stocks."grown"]'), file.index("[plants]")
    fry = stock("fry", count=100, mass="5 g", leaves='leaves = "1 August"', more='tank = "small tank"')
    grown = stock("grown", arrives="1 August", count=60, mass="100 g", leaves='leaves = "1 July next year"', more='tank = "fish tank"')
    return Build(file[:begin] + '[season]\ntemperature = { January = "18 degC", July = "27 degC" }\n\n' + fry + grown + file[end:])


def test_stones_hang_all_year_where_the_year_needs_them():
    """In July only the small tank has fish; nobody carries the stones of the other one over."""
    build = two_tanks()
    system = Steady(build)
    assert system.build.month == "July" and list(system.airs) == ["small tank"]
    assert system.airs["small tank"].usual.stones == 2 and system.season.tank == "small tank"
    assert "in small tank" in found(build, "oxygen time short")[0].sentence
    april = Steady(on_day(build, system.season, 100))
    assert {name: p.usual.stones for name, p in april.airs.items()} == {"fish tank": 2, "small tank": 2}


def test_each_tank_has_its_own_worst_night():
    told = found(two_tanks(), "oxygen time short in another month")
    assert [f.where for f in told] == ["fish tank"] and told[0].sentence.startswith("In June: when the power fails")

"""Plants by air and sun: against print's own weights and lights, and what a season makes of them.

Sources stand beside each check.
"""

import numpy as np
import pytest

from aquaplumb import fish, tables, u
from aquaplumb.build import Build
from aquaplumb.build.seasons import MONTH_DAYS, MONTHS
from aquaplumb.review import review
from aquaplumb.system.balance import Balance
from aquaplumb.system.season import season_run
from aquaplumb.units import INSOLATION, SHARE, DesignError
from aquaplumb.whatif import season as what_if
from test_season import found, stock, text

pytestmark = pytest.mark.usefixtures("strict")
PER_KWH = 7.058  # mol of light that plants use in a kilowatt-hour of sunshine: Logan, Sams and Faust (2016), AMS annual meeting, paper 242
MILD = 'air = { January = "6 degC", July = "20 degC" }'
DIM = 'sunshine = { January = "0.6 kWh/m2/d", July = "5.4 kWh/m2/d" }'
DAY = 86400.0


# --- one crop --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("crop", "low", "high", "heavier"),
    [
        # Mortensen, American Journal of Plant Sciences 5 (2014), abstract: fresh weight, the warmer over the cooler
        ("basil", 18, 27, 2.06),
        ("rocket", 18, 27, 1.62),
        ("lemon balm", 18, 24, 1.78),
        ("coriander", 18, 24, 1.41),
        ("oregano", 18, 24, 1.40),
    ],
)
def test_warmth_is_worth_what_was_weighed(crop, low, high, heavier):
    cool, warm = (fish.crop_growth(crop, air=t * u.degC) for t in (low, high))
    assert warm / cool == pytest.approx(heavier, rel=0.01)


@pytest.mark.parametrize("crop", ["lemon balm", "coriander", "oregano"])
def test_what_was_no_heavier_still_warmer_grows_no_faster(crop):
    """The same abstract: from 24 to 27 °C these three gained nothing."""
    assert fish.crop_growth(crop, air="27 degC") == fish.crop_growth(crop, air="24 degC") == 1


@pytest.mark.parametrize(
    ("crop", "fahrenheit"),
    [
        # Knott's Handbook for Vegetable Growers (1997), mean temperature of a month for best growth and its minimum; °F
        *((crop, (60, 45)) for crop in ("lettuce", "endive", "celery", "parsley", "pea", "cauliflower")),
        *((crop, (60, 40)) for crop in ("spinach", "kale", "Swiss chard", "cabbage", "broccoli")),
        *((crop, (70, 65)) for crop in ("tomato", "pepper", "aubergine", "okra", "chilli")),
        *((crop, (65, 60)) for crop in ("cucumber", "melon")),
        ("courgette", (65, 50)),
        ("bush bean", (60, 50)),
    ],
)
def test_a_crop_grows_as_usual_from_its_best_month_on_and_slower_at_its_coldest(crop, fahrenheit):
    best, coldest = ((f - 32) / 1.8 for f in fahrenheit)
    assert fish.crop_growth(crop, air=(best + 0.05) * u.degC) == 1
    assert fish.crop_growth(crop, air=coldest * u.degC) < 0.95


@pytest.mark.parametrize(("crop", "celsius"), [("bush bean", 10), ("cabbage", 4.4), ("pea", 4.4)])
def test_a_crop_stands_still_at_its_base(crop, celsius):
    """Base temperatures of 50, 40 and 40 °F: Peet, Sustainable Practices for Vegetable Production in the South (NCSU), appendix 2."""
    assert fish.crop_growth(crop, air=celsius * u.degC) == pytest.approx(0, abs=1e-9)
    assert fish.crop_growth(crop, air=(celsius + 1) * u.degC) > 0


def test_lettuce_grows_with_its_light_as_it_was_weighed():
    """29 and 27 g of fresh lettuce a mole of light, at 200 and 400 µmol/m²/s for 16 h: Carotti and others, Frontiers in Plant Science 11 (2021).

    So 11.5 mol a day give what 17 would (Cornell's, from memory) times 11.5 × 29 / (17 × 28): with "high" ours, to a twentieth.
    """
    mol = 200e-6 * 16 * 3600
    weighed = mol * 29 / (17 * 28)
    assert fish.crop_growth("lettuce", sun=mol / PER_KWH * u("kWh/m²/d"), band="high") == pytest.approx(weighed, rel=0.05)


def test_a_per_cent_less_light_is_a_per_cent_less_growth():
    """Marcelis and others (2006), abstract: 0.8 to 1 % of soil-grown vegetables, 0.7 to 1 % of fruit; ours is the end that takes up the least."""
    for crop, low in (("lettuce", 0.8), ("tomato", 0.7), ("cucumber", 0.7)):
        one, less = (fish.crop_growth(crop, sun=s * u("kWh/m²/d")) for s in (1.5, 1.5 * 0.99))
        assert low <= (one - less) / one * 100 <= 1 + 1e-9


@pytest.mark.parametrize(
    ("crop", "moles"),
    [
        ("lettuce", (12, 14)),  # Runkle, Lighting greenhouse vegetables: 12 to 14 at least
        ("tomato", (15, 20)),  # the same, of vine crops: at least 15, preferably more than 20
        ("strawberry", (10, 25)),  # Ohio State University, indoor berry: 10 to 12 at least, 20 to 25 at best
    ],
)
def test_enough_light_is_that_of_print(crop, moles):
    row = tables.row("cropgrowth", crop).si
    low, typical, high = (INSOLATION.shown(getattr(row, f"sun_{band}")) * PER_KWH for band in tables.BANDS)
    assert moles[0] - 0.1 <= low <= typical <= moles[1] + 0.1 and high >= typical


def test_every_crop_has_its_row_and_one_of_yours_goes_by_its_group(tmp_path):
    assert set(tables.names("crops")) <= set(tables.names("cropgrowth"))
    for row in tables.table("cropgrowth").values():
        r = row.si
        assert r.base < r.best and r.sun_low <= r.sun_typical <= r.sun_high
    header = (tables.folder("data") / "crops.csv").read_text(encoding="utf-8").splitlines()[0]
    (tmp_path / "mine.csv").write_text(f"{header}\nsorrel,leafy,40,45,50,20,22,25,20,measured,my own,\n", encoding="utf-8")
    file = text(keep=True).replace('crop = "lettuce"', 'crop = "sorrel"').replace("[site]", '[own]\ncrops = "mine.csv"\n\n[site]')
    build = Build(file, tmp_path / "my-build.toml")
    share = fish.crop_growth(build.plants.si.crop, air="10 degC")
    assert share == fish.crop_growth("cabbage", air="10 degC")  # whose numbers stand for leafy crops


def test_growth_is_within_0_and_1_and_the_shorter_of_the_two_decides():
    air, sun = np.linspace(240, 320, 41) * u.K, np.linspace(0, 10, 41) * u("kWh/m²/d")
    for crop in tables.names("crops"):
        warm, light, both = fish.crop_growth(crop, air=air), fish.crop_growth(crop, sun=sun), fish.crop_growth(crop, air=air, sun=sun)
        assert both == pytest.approx(np.minimum(warm, light)) and both.min() == 0 and both.max() == 1
        assert np.all(np.diff(warm) >= 0) and np.all(np.diff(light) >= 0)
    with pytest.raises(DesignError, match="middling"):
        fish.crop_growth("lettuce", sun="2 kWh/m2/d", band="middling")
    with pytest.raises(DesignError, match="letuce"):
        fish.crop_growth("letuce", air="10 degC")


# --- a season --------------------------------------------------------------------------------------


def run_of(more, **stocks):
    return season_run(Balance(Build(text(stock(**stocks), more=more))))


def test_where_nobody_says_the_air_or_the_sun_nothing_changes():
    """And where both are plenty the numbers are the same."""
    plain = run_of('replant = "5 weeks"')
    plenty = run_of(
        'replant = "5 weeks"\nair = { January = "20 degC", July = "26 degC" }\nsunshine = { January = "5 kWh/m2/d", July = "7 kWh/m2/d" }'
    )
    assert plain.lean is None and plain.grows.min() == 1
    for one in ("plants", "left"):
        assert getattr(plenty.nitrogen, one) == pytest.approx(getattr(plain.nitrogen, one))
    assert plenty.plants_cut == pytest.approx(plain.plants_cut)
    assert "plants grow" not in str(review(Build(text(stock())))) and "plants grow" in str(review(Build(text(stock(), more=MILD))))


def test_a_month_by_hand():
    """Lettuce in April, half way between 6 and 20 °C: 13 °C, (13 − 4) / (15.6 − 4) of its usual growth."""
    build = Build(text(stock(), more=MILD))
    balance = Balance(build)
    run, april = season_run(balance), 104  # the middle of the month
    share = (13 - 4) / (15.6 - 4)
    assert run.grows[april] == pytest.approx(share, abs=0.01)
    assert run.takes[april] == pytest.approx(share * balance.beds.area * balance.beds.feed_per_area, rel=0.02)
    row = next(line for line in str(review(build)).splitlines() if line.strip().startswith("April"))
    assert SHARE.text(run.mean_of(run.grows)[3]) in row


@pytest.mark.parametrize("together", [False, True])
def test_slower_plants_stand_longer_and_take_less(together):
    weeks = f'replant = "5 weeks"\ntogether = {str(together).lower()}\n'
    usual, slow = run_of(weeks, count=300), run_of(weeks + MILD + "\n" + DIM, count=300)
    # half the sun is half the growth, and so twice the time; sunshine enough for lettuce is 1.98 kWh/m²/d
    half = run_of(weeks + 'sunshine = { January = "0.99 kWh/m2/d", July = "0.99 kWh/m2/d" }', count=300)
    told = review(Build(text(stock(), more=weeks + 'sunshine = { January = "0.99 kWh/m2/d", July = "0.99 kWh/m2/d" }')))
    assert told["season April.a crop stands"].value == pytest.approx(70 * DAY)
    many = Balance(Build(text(stock()))).beds.plants
    cut = half.plants_cut.sum() / many
    assert cut == pytest.approx(365 // 70 if together else 365 / 70)
    assert slow.plants_cut.sum() < usual.plants_cut.sum() and slow.nitrogen.plants.sum() < usual.nitrogen.plants.sum()
    assert slow.nitrogen.nitrate[11] > usual.nitrogen.nitrate[11]
    n = slow.nitrogen
    assert np.diff(np.r_[0.0, n.left]) == pytest.approx(n.ammonia - n.plants - n.changed, abs=1e-12)  # mass balance


def test_glass_lets_less_light_through():
    open_, glass = run_of(DIM), run_of(DIM + '\nlight_share = "60 %"')
    assert glass.grows[15] == pytest.approx(0.6 * open_.grows[15])
    with pytest.raises(DesignError, match="light_share"):
        run_of(DIM + "\nlight_share = 60")


def test_two_crops_grow_by_their_areas():
    """Half the bed basil, half lettuce, each by its own base: the mean of the two (definition)."""
    both = text(stock(), more=MILD).replace('[vessels."bed 1"]', '[vessels."bed 1"]\ncrop = { basil = 0.5, lettuce = 0.5 }')
    run = season_run(Balance(Build(both)))
    beds = Balance(Build(both)).beds.each
    lettuce, basil = (fish.crop_growth(crop, air="13 degC") for crop in ("lettuce", "basil"))
    parts = [one.area * (0.5 * lettuce + 0.5 * basil if len(one.crops) == 2 else lettuce) for one in beds.values()]
    assert run.grows[104] == pytest.approx(sum(parts) / sum(one.area for one in beds.values()), abs=0.01)


@pytest.mark.usefixtures("drawn")
def test_the_month_in_which_plants_take_the_least_is_named():
    build = Build(text(stock(leaves='leaves = "31 March next year"', count=120), more=MILD + "\n" + DIM))
    run = season_run(Balance(build))
    month, part = run.lean
    months = [run.mean_of(run.takes)[n] / run.mean_of(run.feed)[n] for n in range(12) if run.mean_of(run.feed)[n] > 0]
    assert part == pytest.approx(min(months)) and part < 0.5
    assert (
        f"In {MONTHS[month]} they can take no more than {SHARE.text(part)} of the feed"
        in found(build, "nitrate gathers through the year")[0].sentence
    )
    year = what_if.year(build)
    assert f"In **{MONTHS[month]}** plants can take **{SHARE.text(part)}** of the feed" in year.sentence()
    seen = what_if.picture(build)
    seen.png()
    assert seen.lean.artist.get_visible() and seen.lean.artist.get_text() == "plants take least"
    assert sum(MONTH_DAYS[:month]) <= seen.lean.artist.get_position()[0] <= sum(MONTH_DAYS[: month + 1])
    assert MONTHS[month] in seen.alt(year)
    plain = Build(text(stock(leaves='leaves = "31 March next year"', count=120)))
    assert "plants can take" not in what_if.year(plain).sentence()
    assert "of the feed" not in found(plain, "nitrate gathers through the year")[0].sentence


def test_where_it_is_too_cold_all_year_the_month_of_the_most_feed_is_named():
    run = run_of('air = { January = "-20 degC", July = "-5 degC" }')
    assert run.lean == (int(np.argmax(run.mean_of(run.feed))), 0.0)
    assert (
        "of the feed, in air of"
        in found(Build(text(stock(count=70), more='air = { January = "-20 degC", July = "-5 degC" }')), "nitrate gathers through the year")[
            0
        ].sentence
    )


def test_nitrate_of_a_dark_year_clears_with_the_water_that_is_named():
    build = Build(text(stock(count=70), more=MILD + "\n" + DIM))
    litres = found(build, "nitrate gathers through the year")[0].cure.split("change ")[1].split(" of water")[0]
    assert not found(build.changed({"upkeep.water_change": litres}), "nitrate gathers through the year")

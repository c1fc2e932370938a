"""The second what-if of notebook 01: a year of fish. Its record, its keep and what it says."""

import numpy as np
import pytest

from aquaplumb.build import Build, load
from aquaplumb.build.seasons import MONTHS
from aquaplumb.figures.season import SeasonPicture
from aquaplumb.review import review
from aquaplumb.system.season import AIR, season_run
from aquaplumb.system.steady import Steady
from aquaplumb.units import MASS_RATE
from aquaplumb.whatif import beds_media, fish_load, night_air, season, start, start_up, warmth, water_care, water_flow
from test_season import stock, text

pytestmark = pytest.mark.usefixtures("strict")


@pytest.fixture
def mine(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(
        text(stock(), stock("autumn", arrives="15 August", leaves='harvest_mass = "400 g"', count=30, mass="20 g")), encoding="utf-8"
    )
    return path


def test_a_build_without_a_season_is_shown_its_own_fish_growing_up(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(load("courtyard").text, encoding="utf-8")
    panel = season.panel(load(path))
    assert panel.values["count"] == round(Steady(load("courtyard")).fish.count)
    assert panel.record.si.last_mass >= 0.4 and panel.record.si.ripe
    panel._press_keep()
    assert panel.kept.startswith("✔"), panel.kept
    kept = load(path)
    assert kept.value("fish") is None and kept.season.si.cohorts[0].si.harvest_mass == pytest.approx(0.4)
    shown, run = panel.record.si, Steady(kept).season
    assert shown.month == Steady(kept).build.month and shown.biomass == pytest.approx(run.biomass, rel=1e-3)


def test_what_is_kept_of_one_stock_leaves_the_others(mine):
    panel = season.panel(load(mine))
    panel.set(stock="autumn", count=50, harvest="350 g")
    panel._press_keep()
    kept = load(mine).season.si.cohorts
    assert [one.si.count for one in kept] == [40, 50] and kept[1].si.harvest_mass == pytest.approx(0.35)
    assert load(mine).value("season.temperature") == {"January": "20 degC", "July": "28 degC"}  # nobody moved it
    panel.set(cold="16 degC")
    panel._press_keep()
    assert min(load(mine).season.si.temperature) == pytest.approx(289.15, abs=0.01)


@pytest.mark.parametrize("leaves", ["31 October", "20 February next year", "30 June next year"])
def test_it_opens_as_the_file_has_it(leaves):
    """Also a stock that stays over a whole year."""
    build = Build(text(stock(leaves=f'leaves = "{leaves}"')))
    panel = season.panel(build)
    assert panel.record.si.biomass == pytest.approx(season_run(Steady(build)).biomass, rel=1e-6)
    assert panel.record.si.month == Steady(build).build.month


def test_twice_the_fish_ask_for_twice_as_much():
    """As the page says: what is asked is proportional to how many there are."""
    panel = season.panel(Build(text(stock())))
    first = panel.record.si
    panel.set(count=80)
    assert panel.record.si.beds == pytest.approx(2 * first.beds) and panel.record.si.air == pytest.approx(2 * first.air)
    panel.set(count=400)
    assert not panel.record.si.works and panel.said.startswith("Too much")
    assert panel.found[0][0] == "stop"


def test_fish_that_leave_after_the_turn_of_the_year_are_told_so():
    """Of fish that come on 1 April it said "weigh 401 g on 27 April", and meant a year later."""
    assert "on 31 October;" in season.panel(Build(text(stock()))).said
    assert "on 27 April of the next year" in season.panel(Build(text(stock(leaves='leaves = "27 April next year"')))).said


def test_feed_of_one_of_several_stocks_is_not_told_as_all_of_it():
    """In April last year's fish and this year's are there together: the panel speaks of one, and says what all eat."""
    build = Build(text(stock(leaves='leaves = "27 April next year"')))
    system, panel = Steady(build), fish_load.panel(build)
    assert len(system.build.stocks) == 2 and panel.record.si.feed < 0.99 * system.fish.feed
    assert f"all fish together eat {MASS_RATE.text(system.fish.feed)}." in panel.said
    assert "all fish" not in fish_load.panel(load("courtyard")).said


def test_which_month_is_the_heaviest_is_said_once():
    panel = season.panel(Build(text(stock())))
    assert "asks the most" in panel.said and not [said for _, said in panel.found if "asks the most" in said]


def test_fish_that_leave_after_the_heaviest_month_do_not_change_it():
    """The try said "at the most 27.3 %, where it was 27.3 %"."""
    panel = season.panel(load("courtyard"))
    [one] = [one for one in panel.tries.tries if "sooner" in one.ask]
    first = panel.record.si
    panel.set(harvest="390 g")
    r = panel.record.si
    assert r.most == pytest.approx(first.most, rel=1e-3) and r.month == first.month
    said = one.seen(panel.record, "metric")
    assert "as before" in said and f"for {r.month}, the heaviest month, is over by then" in said


@pytest.mark.usefixtures("drawn")
def test_the_picture_says_in_words_what_it_shows():
    record = season.year(Build(text(stock())))
    words = SeasonPicture(record).alt(record)
    assert record.si.month in words and "The most fish of each month: January" in words
    assert np.max(record.si.air) == pytest.approx(max(record.si.air)) and SeasonPicture(record).png().startswith(b"\x89PNG")


def test_other_pages_open_in_the_worst_month_and_leave_the_seasons_water(mine):
    build = load(mine)
    worst = Steady(build)
    panel = fish_load.panel(build)
    assert list(panel.control("stock").options.values()) == list(worst.build.stocks)
    assert panel.record.si.biomass == pytest.approx(next(iter(worst.stocks.values())).biomass)
    name = next(iter(worst.build.stocks))
    panel.set(body_mass="200 g", feeding_rate="2 %/d")  # they grow by themselves: tried, and not kept
    before = load(mine).text
    panel._press_keep()
    assert load(mine).text == before and "Only tried" in panel.kept
    panel.set(protein="40 %", warm="30 degC")
    panel._press_keep()
    assert "the season's" in panel.kept
    assert load(mine).site == build.site
    assert next(one for one in load(mine).season.si.cohorts if one.si.name == name).si.protein == pytest.approx(0.4)
    month = worst.build.month.split()[0].strip(",")
    for one, control, usual in (
        (fish_load, "warm", "warmest water"), (night_air, "temperature", "warmest water"), (water_flow, "warmest", "warmest water"),
        (beds_media, "cold", "coldest water"),
    ):  # fmt: skip
        assert one.panel(load(mine)).control(control).spec.label == f"water in {month}" in [f"water in {name}" for name in MONTHS]
        assert one.panel(load("courtyard")).control(control).spec.label == usual
    beds = beds_media.panel(load(mine))
    row = beds.control("cold")
    assert row.box.value == pytest.approx(row.value - 273.15, abs=0.06) and row.box.value == round(
        row.box.value, 1
    )  # the day's is no round one
    beds.set(cold="12 degC", media_depth="200 mm")
    beds._press_keep()
    assert "the season's" in beds.kept and load(mine).site == build.site
    for one in (night_air, water_flow, water_care, start_up, warmth):
        assert one.panel(load(mine)).record is not None
    assert warmth.panel(load(mine)).values["keep_at"].to("K").m == pytest.approx(build.site.si.coldest_water) or load(mine).heat.si.keep_at


def test_the_review_tells_the_year_as_a_table(mine):
    seen = review(load(mine))
    assert seen["season July.fish"].value == pytest.approx(seen.system.season.by_month(seen.system.season.biomass)[6])
    assert seen[f"season {seen.system.build.month}.asked of {AIR}"].value == pytest.approx(seen.system.season.most)
    assert sum(seen[f"season {month}.fish to take out"].value for month in ("July", "October")) == 70


@pytest.mark.sweep(3)
@pytest.mark.parametrize("count", [20, 60, 150])
@pytest.mark.parametrize("comes", ["1 January", "1 April", "1 September"])
@pytest.mark.usefixtures("drawn")
def test_a_name_lies_on_no_curve_and_not_on_the_worst_day(comes, count):
    """Each name's box, as drawn, holds no point of a curve nor of the dot."""
    picture = SeasonPicture(season.year(Build(text(stock(arrives=comes, count=count)))))
    picture.png()
    canvas = picture.figure.canvas.get_renderer()
    named = 0
    for word in (picture.beds_word, picture.air_word):
        if not word.artist.get_visible():
            continue
        named += 1
        box = word.artist.get_window_extent(canvas)
        for curve in (picture.beds, picture.air, picture.worst):
            axes = word.artist.axes
            points = axes.transData.transform(np.column_stack(curve.artist.get_data()))
            assert not any(box.contains(*point) for point in points), word.artist.get_text()
    assert named


def test_page_00_shows_the_years_water_and_not_that_of_its_heaviest_month():
    """Run again after a Keep of the year it showed April's water as coldest and warmest, and the next Keep would have written that."""
    build = load("courtyard")
    own, year = (start.panel(one).values for one in (build, Build(text(stock()))))
    assert [year[key] for key in ("coldest", "warmest", "altitude")] == [own[key] for key in ("coldest", "warmest", "altitude")]

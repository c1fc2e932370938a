"""Notebook 01: its what-if agrees with the review, and every number it says is worked out here again."""

import math
import re

import pytest
from matplotlib.patches import PathPatch

from aquaplumb import fish, tables
from aquaplumb.build import demos, load, my_build
from aquaplumb.questions import fish_load as questions
from aquaplumb.review import review
from aquaplumb.review.findings import found
from aquaplumb.units import MASS_RATE, OXYGEN_RATE, SYSTEMS, u
from aquaplumb.whatif import fish_load
from pages import changed_lines

DEMOS = ("courtyard", "greenhouse")
HOSTILE = ["", None, "  ", "9**9**9 kg", "a\x00b", "<script>", "1,5 kg", "inf g/d", "-3 kg/m3", "5 L/h", 7, [1], "ü" * 500]


pytestmark = pytest.mark.usefixtures("strict")


@pytest.mark.parametrize("name", DEMOS)
def test_the_panel_starts_as_the_review_has_it(name):
    build = load(name)
    seen, panel = review(build), fish_load.panel(build)
    record = panel.record.si
    for field in ("biomass", "feed", "ammonia", "oxygen", "solids"):
        assert getattr(record, field) == pytest.approx(seen[f"fish.{field}"].value, rel=1e-9)
    assert record.carbon_dioxide == pytest.approx(seen["fish.carbon dioxide"].value, rel=1e-9)
    assert round(record.count) == seen["fish.count"].value
    assert [f.name for f in record.findings] == [f.name for f in found(seen.system)]
    assert MASS_RATE.text(record.feed, build.units) in panel.said
    assert record.works


@pytest.mark.parametrize("name", DEMOS)
@pytest.mark.usefixtures("drawn")
def test_the_streams_add_up(name):
    """In: feed and oxygen. Out: carbon dioxide, solids, ammonia (as N), and a rest that has room for growth and water.

    A fish lays on about 0.19 of its feed as dry mass (1.5 of feed for 1 of growth, 28 % of it dry: common practice, no
    source), and burning with a gram of oxygen leaves 18/32 g of water (stoichiometry of carbohydrate).
    """
    record = fish_load.load_of(load(name)).si
    out = record.carbon_dioxide + record.solids + record.ammonia + record.rest
    assert out == pytest.approx(record.feed + record.oxygen, rel=1e-12)
    growth = 0.19 * record.feed if name == "courtyard" else 0.0  # the greenhouse's catfish breathe by the fit: on 1.2 %/d they hardly grow
    assert record.rest > growth + 18 / 32 * record.oxygen
    picture = fish_load.picture(load(name))
    picture.png()
    streams = [patch.get_path().vertices for patch in picture.axes.patches if type(patch) is PathPatch]
    wide = [points[7][1] - points[0][1] for points in streams]
    amounts = [record.oxygen, record.feed, record.carbon_dioxide, record.rest, record.solids, record.ammonia, record.ammonia]
    assert wide == pytest.approx([wide[0] / record.oxygen * amount for amount in amounts])  # all to one scale
    shown = MASS_RATE.text(record.ammonia, load(name).units)
    assert shown in picture.title(picture.record)


def test_the_minutes_are_those_of_the_published_chain():
    """(C0 − Ccrit) V / (use · biomass): 20 kg in 1,000 L at 300 mg/kg/h, from 7 to 3 mg/L, is 40 min (shared reference §8, CALC).

    300 mg/kg/h is what fish breathe after a meal at a feeding rate of 0.3 g/kg/h · 24 h / (0.25 · 1.4) = 2.057 %/d.
    """
    panel = fish_load.panel(load("courtyard"))
    panel.set(density="20 kg/m3", feeding_rate=f"{0.03 * 24 / (0.25 * 1.4)} %/d")
    full = review(load("courtyard"))["need.saturation"].value * 1000  # mg/L, at 28 °C
    assert panel.record.minutes.to("min").magnitude * (7 - 3) / (full - 3) == pytest.approx(40, rel=1e-6)
    assert 7.54 * 0.98 < full < 8.24  # Boyd: 8.24 mg/L at 25 °C and 7.54 at 30, at the sea; a little less at 120 m


def test_one_number_by_hand_and_against_print():
    """1 m³ · 15 kg/m³ · 1.2 % and 32 % protein; then Losordo and DeLong 2015: 50 m³ · 80 kg/m³ · 1.5 %, 40 % (SEEN; 0.092 T&E)."""
    assert pytest.approx(180) == 15_000 * 0.012
    assert round(180 * 0.32 * 0.092, 1) == 5.3
    assert fish.ammonia_production(fish.daily_feed("15 kg", "1.2 %/d"), 0.32).to("g/d").magnitude == pytest.approx(5.3, abs=0.05)
    feed = fish.daily_feed(fish.standing_biomass("50 m3", "80 kg/m3"), "1.5 %/d")
    assert feed.to("kg/d").magnitude == pytest.approx(60)
    assert fish.ammonia_production(feed, 0.40).to("kg/d").magnitude == pytest.approx(2.208)
    assert (20 * u.kg / u.m**3).to("lb/gal").magnitude == pytest.approx(0.17, abs=0.005)


def test_the_guess_and_three_in_a_hundred():
    """200 g at 32 %: 5.89 g by Timmons and Ebeling, 6.25 by FAO 589 App. 4, 6.0 by the rule of 3 % (reference §3)."""
    for made in (200 * 0.32 * 0.092, 200 * 0.32 * 0.16 * 0.61, 6.0):
        assert made == pytest.approx(6, abs=0.3)
        assert made / 200 == pytest.approx(0.03, abs=0.002)
    for units in SYSTEMS:
        guess = questions.guess(units=units)
        assert guess.reply("3 parts in 100").startswith("✔")
        for wrong in ("50 parts in 100", "15 parts in 100"):
            assert "picture" in guess.reply(wrong)
    assert (7 * u.oz).to("g").magnitude == pytest.approx(200, rel=0.01)  # the guess says 7 oz to a US build


@pytest.mark.parametrize("name", demos())
def test_the_guess_is_answered_on_the_demo_and_then_yours(name):
    build = load(name)
    sight = fish_load.sight(build)
    told = "7 oz/d" if build.units == "US" else "200 g/d"
    assert (
        MASS_RATE.text(sight.guessed.record.si.feed, build.units) == told
        and told.removesuffix("/d") in questions.guess(units=build.units).prompt
    )
    assert sight.guessed.record.si.protein == pytest.approx(0.32)
    own = sight.own.record.si
    assert f"{100 * own.ammonia / own.feed:.1f} parts in 100" in sight.why and MASS_RATE.text(own.feed, build.units) in sight.why
    assert ("where the guess has" in sight.why) == (abs(own.protein - 0.32) > 0.005)
    assert MASS_RATE.text(own.ammonia, build.units) in sight.own.look
    assert ("on the media" in sight.own.look) == any(vessel.media for vessel in build.growing)


def done(panel):
    """Each try of a panel done alone, as it starts: what was said of it."""
    start, said = panel.values, []
    for place, one in enumerate(panel.tries.tries):
        panel.set(**{n: v if isinstance(v, str) else panel.control(n).spec.kind.quantity(v) for n, v in one.to.items()})
        said.append(panel.tries.said()[place])
        panel.set(**start)
    return said


@pytest.mark.parametrize("name", ["courtyard", "kitchen-garden", "side-alley"])
def test_the_tries_go_past_both_limits_and_choose_fish_for_other_water(name):
    more, most, feed, size, other = done(fish_load.panel(load(name)))
    assert more.startswith("**Crowded") and most.startswith("**Too many fish.**")
    assert feed.startswith("Only the ammonia moves") and "wedge" in size
    assert other.startswith("**Too warm.**")  # trout, in water for tilapia


def test_trout_are_to_try_tilapia():
    cold = load("courtyard").changed(
        {("fish", "species"): "rainbow trout", ("site", "coldest_water"): "5 degC", ("site", "warmest_water"): "16 degC"}
    )
    assert done(fish_load.panel(cold))[-1].startswith("**Too cold.**")


def test_us_questions_are_in_pounds_gallons_and_ounces():
    quiz = questions.quiz("Dewi", units="US")
    volume, mass = quiz[1].numbers["volume"].to("gal").magnitude, quiz[1].numbers["mass"].to("lb").magnitude
    assert quiz[1].reply(f"{mass / volume} lb/gal").startswith("✔")
    feed = quiz[3].numbers["feed"].to("oz/d").magnitude * quiz[3].numbers["protein"].magnitude / 100
    assert quiz[3].reply(f"{feed * 0.092} oz/d").startswith("✔")
    for question in quiz.questions:
        words = " ".join([repr(question), question.reply("1 lb/gal"), question.reply("6 gal"), question.reply("7 oz/d")])
        assert not re.search(r"\d (L|g|kg|g/d|kg/m³)\b", words), words


def test_what_the_tries_say_of_density_protein_size_and_water():
    panel = fish_load.panel(load("courtyard"))
    four = ("biomass", "feed", "oxygen", "ammonia")

    def values(**changes):
        panel.set(**changes)
        record = panel.record.si
        return {name: getattr(record, name) for name in (*four, "minutes", "eaten_low", "eaten_high")}

    first = values()
    double = values(density="30 kg/m3")
    assert all(double[name] == pytest.approx(2 * first[name]) for name in four)  # density moves all four together
    assert double["minutes"] == pytest.approx(first["minutes"] / 2)  # twice the fish, half the minutes
    assert not panel.record.si.works
    assert panel.said.startswith("Crowded")
    panel.set(density="61 kg/m3")
    assert panel.said.startswith("Too many fish.")
    assert panel.found[0][0] == "stop"
    rich = values(density="15 kg/m3", protein=0.45)
    assert [name for name in four if rich[name] != pytest.approx(first[name])] == ["ammonia"]  # protein moves only ammonia
    small = values(protein=0.32, body_mass="50 g")
    assert small["eaten_low"] > 1.5 * first["eaten_low"]  # the wedge rises
    panel.set(body_mass="400 g", species="rainbow trout")
    assert panel.said.startswith("Too warm.")
    assert "36 °C" not in panel.said
    panel.set(warm="22 degC", species="Nile tilapia")
    assert panel.record.si.eaten_high < first["eaten_high"]  # cold fish eat less


def test_a_rate_for_the_mean_is_noted():
    panel = fish_load.panel(load("courtyard"))
    panel.set(feeding_rate="0.5 %/d")
    assert any("mean over the year" in text for _, text in panel.found)


def test_the_ruler_stands_still_until_the_point_would_leave_it():
    panel = fish_load.panel(load("courtyard"))
    keys = set()
    for density in range(2, 39):
        panel.set(density=f"{density} kg/m3")
        keys.add(panel.picture.key(panel.record))
    assert len(keys) == 1
    for density in (40, 60, 80):
        panel.set(density=f"{density} kg/m3", feeding_rate="5 %/d", protein=0.55, size="3 m")
        x_end, *ends = panel.picture.key(panel.record)
        record = panel.record.si
        assert record.density < x_end
        assert all(value < end for value, end in zip((record.biomass, record.feed, record.oxygen, record.ammonia), ends))


@pytest.mark.parametrize("name", DEMOS)
def test_units_change_what_is_shown_and_nothing_else(name):
    panel = fish_load.panel(load(name))
    before = panel.record
    panel.system = "US" if panel.system == "metric" else "metric"
    for field in ("feed", "ammonia", "minutes", "volume"):
        assert getattr(panel.record.si, field) == pytest.approx(getattr(before.si, field), rel=1e-9)


def test_keep_writes_what_was_changed_and_nothing_else(tmp_path):
    panel = fish_load.panel(my_build())
    panel.set(species="common carp", density="12 kg/m3", size="1.5 m", warm="29 degC")
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: species, density, warmest water, diameter.")
    assert [after.split("#")[0].rstrip() for _, after in changed_lines(tmp_path / "my-build.toml")] == [
        'warmest_water = "29 degC"', 'species = "common carp"', 'density = "12 kg/m3"', 'diameter = "1.5 m"',
    ]  # fmt: skip
    again = fish_load.panel(my_build())
    assert again.values["species"] == "common carp"
    assert again.record.si.density == pytest.approx(12)
    assert again.said == panel.said
    panel._press_keep()
    assert "nothing new" in panel.kept
    panel.set(protein=0.36)
    panel._press_keep()
    assert "✔ Kept in my-build.toml: protein." in panel.kept
    assert my_build().fish.protein == pytest.approx(0.36)


def test_a_square_tank_has_a_length(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(
        load("courtyard").text.replace('shape = "round"\ndiameter = "1.4 m"', 'shape = "rectangular"\nlength = "1.5 m"\nwidth = "1 m"'),
        encoding="utf-8",
    )
    panel = fish_load.panel(load(path))
    panel.set(size="2 m")
    assert panel.record.volume.to("L").magnitude == pytest.approx(2 * 1 * 0.7 * 1000)
    panel._press_keep()
    assert load(path).vessels["fish tank"].length.to("m").magnitude == pytest.approx(2)


@pytest.mark.parametrize("name", ["", "Ama", "Ben"])
@pytest.mark.parametrize("place", [1, 2, 3, 4, 5])
def test_each_question_takes_its_own_answer_and_bears_any_other(place, name):
    question = questions.quiz(name)[place]
    for given in HOSTILE:
        assert not question.reply(given).startswith("✔")
    right = [question.options.index(step) + 1 for step in question._steps] if place == 5 else question.answer
    assert question.reply(right).startswith("✔")


@pytest.mark.parametrize("place", [1, 2, 3])
def test_neighbours_get_numbers_of_their_own(place):
    assert len({questions.quiz(name)[place].prompt for name in ("Ama", "Ben", "Chika", "Dewi", "Elif")}) > 1


def test_the_answers_by_hand():
    def numbers(question, **units):
        return [question.numbers[name].to(unit).magnitude if unit else question.numbers[name] for name, unit in units.items()]

    quiz = questions.quiz("Dewi")
    volume, mass = numbers(quiz[1], volume="m³", mass="kg")
    assert quiz[1].answer.to("kg/m³").magnitude == pytest.approx(mass / volume)
    count, body, rate = numbers(quiz[2], count=None, body="g", rate="1/d")
    assert quiz[2].answer.to("g/d").magnitude == pytest.approx(count * body * rate)
    feed, protein = numbers(quiz[3], feed="g/d", protein="dimensionless")
    assert quiz[3].answer.to("g/d").magnitude == pytest.approx(feed * protein * 0.092)
    assert "stays in the fish" in quiz[3].reply(f"{feed * protein * 0.16} g/d")


def test_the_faulty_build_has_the_numbers_that_the_question_quotes():
    seen = review(load(questions.FAULTY))
    part = seen.part("Fish")
    assert all(number in part for number in ("628 L", "22 kg", "176 g/d", "6.47 g/d"))
    assert pytest.approx(35, abs=0.1) == 22 / 0.628
    assert pytest.approx(0.008) == 176 / 22_000
    assert pytest.approx(0.40, abs=0.005) == 6.47 / 176 / 0.092
    assert seen.findings[0].name == "density over limit"
    assert questions.fault().reply("too many fish for that much water").startswith("✔")
    assert not re.search("too many", part)  # the numbers do not give it away


def test_the_panel_bears_a_stock_that_the_feeding_table_does_not_know(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(load("courtyard").text.replace('body_mass = "400 g"', 'body_mass = "5 kg"'), encoding="utf-8")
    panel = fish_load.panel(load(path))
    assert not panel.stale
    assert math.isfinite(panel.record.si.eaten_low)


@pytest.mark.parametrize(("under", "told"), [(0.04, 0), (0.3, 1)])
def test_water_that_prints_as_the_best_is_not_told_as_too_cold(under, told):
    """ "At 27 °C it eats less; it does best from 27 °C" says nothing that a reader can see."""
    build = load("courtyard")
    best = 27.0  # degC, tilapia: the low end that the species table has
    assert tables.row("species", build.fish.species).si.best_low == pytest.approx(best + 273.15)
    seen = review(build.changed({("site", "coldest_water"): f"{best - under} degC"}))
    assert len([f for f in seen.findings if "eats and grows less" in f.sentence]) == told


def test_oxygen_in_the_flow_picture_is_told_in_grams_as_elsewhere():
    build = load("greenhouse")
    seen, shown = fish_load.sight(build), fish_load.panel(build).record
    grams = OXYGEN_RATE.text(shown.si.oxygen, "US")
    assert grams.endswith(" g/d") and f"({grams}) of oxygen" in seen.own.alt(seen.own.record)
    assert MASS_RATE.text(seen.guessed.record.si.feed, "US") == "7 oz/d"  # as the guess asks


def test_a_limit_is_told_as_a_grower_says_it():
    """20 and 60 kg/m³ (FAO 589, from memory; SRAC 4503) times 3.785 L/gal over 453.6 g/lb: 0.167 and 0.501 lb/gal, a sixth and a half."""
    panel = fish_load.panel(load("courtyard", units="US"))
    for density, limit in (("0.3 lb/gal", "1/6 lb/gal"), ("0.54 lb/gal", "1/2 lb/gal")):
        panel.set(density=density)
        [text] = [text for _, text in panel.found if text.startswith("The stocking density")]
        assert limit in text and "0.167" not in text and "0.501" not in text
    assert "holds about 20 kg/m³" in " ".join(
        text for _, text in fish_load.panel(load("courtyard").changed({("fish", "density"): "25 kg/m3"})).found
    )

"""Notebook 02: its what-if agrees with the review, and every number it says is worked out here again."""

import re
from itertools import pairwise

import pytest

from aquaplumb import tables
from aquaplumb.build import Build, demos, load, my_build
from aquaplumb.build.layouts import first_build
from aquaplumb.figures.beds_media import BedSection, _grain
from aquaplumb.fish import beds
from aquaplumb.questions import beds_media as questions
from aquaplumb.review import review
from aquaplumb.review.findings import found
from aquaplumb.units import AREA, FLOOR_LOAD, MASS, SYSTEMS, DesignError, u
from aquaplumb.whatif import beds_media
from pages import changed_lines

DEMOS = ("courtyard", "greenhouse")
HOSTILE = ["", None, "  ", "9**9**9 L", "a\x00b", "<script>", "1,5 m2", "inf L", "-3 m2", "5 L/h", 7, [1], "ü" * 500]


pytestmark = pytest.mark.usefixtures("strict")


@pytest.mark.parametrize("name", DEMOS)
def test_the_panel_starts_as_the_review_has_it(name):
    build = load(name)
    seen, panel = review(build), beds_media.panel(build)
    record = panel.record.si
    for field, there in (
        ("area", "area"),
        ("area_needed", "area needed"),
        ("media", "media"),
        ("plants", "plants"),
        ("load", f"load {record.heavy}"),
    ):
        assert getattr(record, field) == pytest.approx(seen[f"beds.{there}"].value, rel=1e-9)
    assert record.minimum / record.media == pytest.approx(seen["beds.surface needed"].value / seen["beds.surface"].value, rel=1e-9)
    assert record.minimum_low < record.minimum < record.minimum_high
    assert [f.name for f in record.findings] == [f.name for f in found(seen.system)]
    assert AREA.text(record.area, build.units) in panel.said
    assert record.works


def test_what_the_bed_of_the_guess_weighs():
    """2.2 m² · 0.3 m of pea gravel at 1,700 kg/m³ (the heaviest in print, media.csv) is 1,122 kg; water to 36 cm less the grains' 61 % of
    660 L is 792 − 403 = 389 kg; the demo's box 60 kg. Of clay at 510 kg/m³ and 55 %: 337, 429 and 60 kg. All by pencil."""
    sight = beds_media.sight(load("courtyard"))
    for record, by_pencil in ((sight.guessed.record.si, [1122, 389, 60]), (sight.own.record.si, [337, 429, 60])):
        assert [record.mass_media, record.mass_water, record.mass_box] == pytest.approx(by_pencil, abs=0.6)
        assert record.mass == pytest.approx(sum(by_pencil), abs=1)
        assert record.load == pytest.approx(record.mass * 9.80665 / 2.2)
    gravel = sight.guessed.record.mass
    for units, said, wrong in (("metric", "about 1,600 kg", "about 400 kg"), ("US", "about 3,500 lb", "about 900 lb")):
        assert questions.guess(units=units).reply(said).startswith("✔")
        number, unit = said.removeprefix("about ").replace(",", "").split()
        assert gravel.to(unit).magnitude == pytest.approx(float(number), rel=0.03)
        number, unit = wrong.removeprefix("about ").split()
        assert (792 * u.kg).to(unit).magnitude > 1.5 * float(number)  # "water alone would weigh more"
    feet = [(6 * u.ft + 7 * u.inch, 2.0), (3 * u.ft + 7 * u.inch, 1.1), (14 * u.inch, 0.36), (12 * u.inch, 0.3)]
    assert [one.m_as("m") for one, _ in feet] == pytest.approx([metres for _, metres in feet], rel=0.02)


@pytest.mark.parametrize("name", demos())
def test_the_guess_is_answered_on_the_demo_and_then_yours(name):
    build = load(name)
    sight = beds_media.sight(build)
    assert sight.guessed.record.medium == "pea gravel 12 mm"
    own = sight.own.record.si
    assert f"in {own.heavy}" in sight.why and MASS.text(own.mass, build.units) in sight.why
    assert FLOOR_LOAD.text(sight.guessed.record.si.load, build.units) in sight.why
    assert ("flood level" in sight.own.look) == bool(own.medium) == (own.medium in sight.why and own.medium != "")


def done(panel):
    """Each try of a panel done alone, as it starts: what was said of it."""
    start, said = panel.values, []
    for place, one in enumerate(panel.tries.tries):
        panel.set(**{n: v if isinstance(v, str) else panel.control(n).spec.kind.quantity(v) for n, v in one.to.items()})
        said.append(panel.tries.said()[place])
        panel.set(**start)
    return said


def test_the_tries_speak_from_the_state():
    """Gravel of 1,700 over clay of 510 kg/m³ is 3.3; 1,571 over 826 kg is 1.9; caps have a quarter of the surface (media.csv)."""
    half, gravel, caps, cold, tomato = done(beds_media.panel(load("courtyard")))
    assert ": too little." in half and "15 times" in half
    assert "3.3 times as much, the whole bed 1.9 times" in gravel
    assert "4 times as much" in caps and "4.9 times as much" in cold
    assert "less area" not in tomato and "2.98 m² of it, where it was 4.31 m²" in tomato


@pytest.mark.parametrize("name", ["raft-hall", "lean-to", "side-alley"])
def test_builds_without_media_try_no_medium(name):
    panel = beds_media.panel(load(name))
    assert not any("medium" in one.to for one in panel.tries.tries) and len(panel.tries.tries) == 3
    assert all("media" not in said for said in done(panel))


def test_us_questions_are_in_pounds_feet_and_gallons():
    quiz = questions.quiz("Dewi", units="US")
    mass, area = quiz[3].numbers["mass"].to("lb").magnitude, quiz[3].numbers["area"].to("ft²").magnitude
    for unit in ("psf", "lb/ft2"):
        assert quiz[3].reply(f"{mass / area} {unit}").startswith(f"✔ Right: {mass / area:.3g} psf.")
    surface, each = (quiz[2].numbers[name].to("ft²").magnitude for name in ("area", "surface"))
    assert quiz[2].reply(f"{surface / each} gal").startswith("✔")
    for question in quiz.questions:
        words = " ".join([repr(question), *(question.reply("1 lb") for _ in range(3))])
        assert not re.search(r"\d (L|g|kg|m²|cm|kN/m²)(\b|$)", words), words


def test_one_number_by_hand():
    """180 g/d of feed, 5.3 g/d of ammonia N; 0.47 g/m²/d at 24 °C (FAO 589 App. 4's 0.57 g of NH3, from memory, in the middle of its 18 to 30 °C)."""
    assert beds.nitrification_rate("24 degC").typical.to("g/m²/d").magnitude == pytest.approx(0.57 * 14.007 / 17.031, abs=0.005)
    assert beds.growing_area("180 g/d", "45 g/m2/d").to("m²").magnitude == pytest.approx(4)
    film = beds.nitrifying_area("5.3 g/d", "0.47 g/m2/d")
    assert film.to("m²").magnitude == pytest.approx(11.3, abs=0.05)
    assert beds.media_volume(film, "300 m2/m3").to("L").magnitude == pytest.approx(38, abs=0.5)
    assert beds.media_volume_by_rule("180 g/d").to("L").magnitude == pytest.approx(180)
    assert 180 / 38 == pytest.approx(5, abs=0.3)  # noqa: SIM300  "about five times apart"
    assert beds.bed_volume("4 m2", "30 cm").to("L").magnitude == pytest.approx(1200)


def test_against_print():
    """Timmons, Holder and Ebeling: 3,936 m²/m³ (SEEN); SRAC 282: 0.02 to 0.10 g/ft²/d, 0.215 to 1.08 g/m²/d (SEEN, CALC)."""
    assert beds.sphere_surface("1 mm", 0.344).to("m²/m³").magnitude == pytest.approx(3936, abs=0.5)
    rate = beds.nitrification_rate("28 degC")
    assert rate.low.to("g/ft²/d").magnitude == pytest.approx(0.02)
    assert rate.high.to("g/ft²/d").magnitude == pytest.approx(0.10)
    assert rate.high / rate.low == pytest.approx(5)  # "a band of a factor of five"


def test_a_living_room_floor_bears_twenty_centimetres_of_water():
    """1.9 kN/m² and 40 psf (International Residential Code), over 9.81 kN/m³ of water."""
    assert (40 * u.lbf / u.ft**2).to("kN/m²").magnitude == pytest.approx(1.9, abs=0.02)
    assert pytest.approx(0.20, abs=0.01) == 1.9 / 9.81


def test_what_the_tries_show():
    panel = beds_media.panel(load("courtyard"))
    first = panel.record.si

    def now(**changes):
        panel.set(**changes)
        return panel.record.si

    half = now(length="1 m")
    assert half.area == pytest.approx(first.area / 2)
    assert half.area < half.area_low  # no room for the plants
    assert half.media > 10 * half.minimum  # yet film enough
    assert now(length="0.5 m").trouble == "Too little area for this feed."
    panel.set(length="2 m")
    for gravel in ("pea gravel 12 mm", "limestone gravel 20-25 mm"):
        assert now(medium=gravel).mass_media > 3 * first.mass_media
    assert now(medium="bottle caps").minimum == pytest.approx(4 * first.minimum)  # a quarter of the surface
    cold = now(medium="expanded clay 8-16 mm", rate="low", cold="14 degC")
    assert cold.minimum / first.minimum == pytest.approx(5, abs=0.2)
    assert cold.media > 5 * cold.minimum
    tomato = now(rate="typical", cold="22 degC", crop="tomato")
    assert "Print gives tomato in beds 50 to 80 g/m²/d." in panel.said
    tomato = now(feed_per_area="65 g/m2/d")
    assert "Print gives" not in panel.said
    assert tomato.area_needed < first.area_needed


def test_a_rate_that_is_not_counted_on_changes_no_finding():
    panel = beds_media.panel(load("courtyard"))
    before = panel.found
    panel.set(rate="low")
    assert panel.found == before


@pytest.mark.usefixtures("drawn")
def test_too_little_media_is_said_and_hatched():
    panel = beds_media.panel(load("courtyard"))
    panel.set(medium="bottle caps", media_depth="100 mm", length="0.5 m", rate="low")
    record = panel.record.si
    assert record.media < record.minimum
    assert not record.works
    bar = panel.picture.bars[1][2]
    assert bar.bar.get_hatch()
    assert "too little" in bar.word.artist.get_text()


def test_beds_that_differ_stay_so_until_a_slider_moves():
    build = load("courtyard").changed({("vessels", "bed 2", "length"): "1.5 m", ("vessels", "bed 2", "medium"): "pumice 8-20 mm"})
    panel = beds_media.panel(build)
    assert panel.record.area.to("m²").magnitude == pytest.approx(2.2 + 1.65)
    assert panel.record.si.media * 300 != pytest.approx(review(build)["beds.surface"].value)
    panel.set(media_depth="250 mm")
    assert panel.record.media.to("L").magnitude == pytest.approx(0.25 * 3850)
    panel.set(length="1.9 m")
    assert panel.record.area.to("m²").magnitude == pytest.approx(2 * 1.9 * 1.1)


def test_round_beds_have_a_diameter(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(
        load("courtyard").text.replace('shape = "rectangular"\nlength = "2.0 m"\nwidth = "1.1 m"', 'shape = "round"\ndiameter = "1.6 m"'),
        encoding="utf-8",
    )
    panel = beds_media.panel(load(path))
    panel.set(diameter="1.2 m")
    assert panel.record.area.to("m²").magnitude == pytest.approx(2 * 3.14159 * 0.36, rel=1e-4)
    panel._press_keep()
    assert load(path).vessels["bed 2"].diameter.to("m").magnitude == pytest.approx(1.2)


def test_a_build_without_media_is_told_so():
    bare = load("courtyard").changed({("vessels", b, k): None for b in ("bed 1", "bed 2") for k in ("medium", "media_depth")})
    for make in (beds_media.panel, beds_media.picture):
        with pytest.raises(DesignError, match="no bed of this build holds a medium"):
            make(bare)


@pytest.mark.parametrize("name", [*DEMOS, "gravel-bed-on-a-deck", "too-little-media"])
@pytest.mark.usefixtures("drawn")
def test_the_section_is_to_scale_and_says_what_it_weighs(name):
    picture = beds_media.picture(load(name))
    picture.png()
    record = picture.record.si
    across = picture.wide / picture.scale_of
    assert across == pytest.approx(record.across)
    assert picture._y(record.height) - picture._y(0) == pytest.approx(record.height * picture.scale_of)
    words = [text.get_text() for text in picture.axes.texts]
    assert any("full to the rim" in text for text in words)
    assert any("flood level" in text for text in words)
    places = sorted((t.get_position()[1] for t in picture.axes.texts if t.get_position()[0] > picture.left + picture.wide), reverse=True)
    assert len(places) == 4
    assert all(one - other >= 34 for one, other in pairwise(places))  # two lines of words are 28 high
    assert record.heavy in picture.alt(picture.record).replace(record.heavy.capitalize(), record.heavy)


@pytest.mark.usefixtures("drawn")
def test_a_flooded_top_is_shown_as_wrong():
    build = load("courtyard").changed({("vessels", "bed 1", "media_depth"): "22 cm"})
    picture = BedSection(beds_media.outcome_of(build.changed({("vessels", "bed 2", "media_depth"): "21 cm"})))
    picture.png()
    assert any(text.get_text().startswith("✖ no dry top") for text in picture.axes.texts)
    assert "No layer at the top stays dry" in picture.alt(picture.record)


def test_grains_are_read_from_the_medium_s_name():
    sizes = {name: _grain(name) * 1000 for name in tables.names("media")}
    assert sizes["expanded clay 8-16 mm"] == pytest.approx(12)
    assert sizes["pea gravel 12 mm"] == pytest.approx(12)
    assert sizes["coarse sand 0.8 mm"] == pytest.approx(0.8)
    assert sizes["bottle caps"] == pytest.approx(25)


def test_the_rulers_stand_still_for_ordinary_moves():
    panel = beds_media.panel(load("courtyard"))
    keys = set()
    for length in range(5, 22, 2):
        panel.set(length=f"{length / 10} m")
        keys.add(panel.picture.key(panel.record))
    assert len(keys) == 1
    panel.set(length="4 m", width="1.5 m", media_depth="360 mm", medium="limestone gravel 20-25 mm", cold="5 degC", rate="low")
    record, ends = panel.record.si, panel.picture.key(panel.record)
    assert all(value < end for value, end in zip((record.area, record.media, record.load), ends))


@pytest.mark.parametrize("name", DEMOS)
def test_units_change_what_is_shown_and_nothing_else(name):
    panel = beds_media.panel(load(name))
    before = panel.record
    panel.system = "US" if panel.system == "metric" else "metric"
    for field in ("area", "media", "minimum", "load"):
        assert getattr(panel.record.si, field) == pytest.approx(getattr(before.si, field), rel=1e-9)


def test_keep_writes_what_was_changed_and_nothing_else(tmp_path):
    panel = beds_media.panel(my_build())
    panel.set(length="1.8 m", medium="pumice 8-20 mm", crop="basil", rate="low")
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: crop basil, medium pumice 8-20 mm, length 1.8 m.")
    assert [after for _, after in changed_lines(tmp_path / "my-build.toml")] == [
        'crop = "basil"', *['length = "1.8 m"', 'medium = "pumice 8-20 mm"'] * 2,
    ]  # fmt: skip
    again = beds_media.panel(my_build())
    assert again.values["medium"] == "pumice 8-20 mm"
    assert again.record.area.to("m²").magnitude == pytest.approx(2 * 1.8 * 1.1)
    panel._press_keep()
    assert "nothing new" in panel.kept
    panel.set(media_depth="280 mm", cold="21 degC", feed_per_area="48 g/m2/d")
    panel._press_keep()
    kept = my_build()
    assert kept.vessels["bed 2"].media_depth.to("mm").magnitude == pytest.approx(280)
    assert kept.plants.feed_per_area.to("g/m²/d").magnitude == pytest.approx(48)
    assert kept.site.coldest_water.to("degC").magnitude == pytest.approx(21)
    assert 'feed_per_area = "48 g/m2/d"' in kept.text and "feed per area 48 g/m²/d" in panel.kept  # as the demo has "45 g/m2/d"


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
    quiz = questions.quiz("Dewi")
    feed, each = (quiz[1].numbers[k].to("g").magnitude for k in ("feed", "each"))
    assert quiz[1].answer.to("m²").magnitude == pytest.approx(feed / each)
    area, surface = (quiz[2].numbers[k].to("m²").magnitude for k in ("area", "surface"))
    assert quiz[2].answer.to("L").magnitude == pytest.approx(area / surface)
    mass, floor = quiz[3].numbers["mass"].to("kg").magnitude, quiz[3].numbers["area"].to("m²").magnitude
    assert quiz[3].answer.to("kN/m²").magnitude == pytest.approx(mass * 9.81 / floor / 1000)
    assert "9.81 is missing" in quiz[3].reply(f"{mass / floor / 1000} kN/m2")


def test_the_faulty_build_has_the_numbers_that_the_question_quotes():
    seen = review(load(questions.FAULTY))
    part = seen.part("Beds")
    assert all(number in part for number in ("1.2 m²", "1.22 m²", "45 m²", "9.39 m²", "5.84 kN/m²"))
    assert seen.build.site.floor_rating.to("kN/m²").magnitude == pytest.approx(3.5)
    assert seen.findings[0].name == "load over floor rating"
    assert questions.fault().reply("the bed is too heavy for where it stands").startswith("✔")
    light = load(questions.FAULTY).changed({("vessels", "berry bed", "medium"): "expanded clay 8-16 mm"})
    assert "load over floor rating" not in {f.name for f in review(light).findings}  # "expanded clay would be lighter"


def test_what_print_gives_is_of_what_plants_grow_in():
    """Rafts 60 to 100 g/m²/d (Rakocy 2007, Ten guidelines for aquaponics), of which a bed's 40 to 50 for lettuce (FAO 589) are no part."""
    panel = beds_media.panel(load("raft-hall"))
    assert "Print gives" not in panel.said and panel.record.si.area > panel.record.si.area_high
    assert "more than it can feed" in panel.said and "more than it can feed" not in beds_media.panel(load("courtyard")).said
    panel.set(feed_per_area="45 g/m2/d")
    assert "Print gives lettuce in rafts 60 to 100 g/m²/d." in panel.said


def test_towers_are_tried_by_their_sites():
    """A wider tower has no more sites; 4 tomatoes stand on a square metre where 22 heads of lettuce do (`data/crops.csv`)."""
    panel = beds_media.panel(Build(first_build("towers", beds=2)))
    one, *_, last = panel.tries.tries
    panel._take(dict(one.to))
    assert "As many sites as before" in panel.tries.said()[0]
    panel._take(dict(panel.tries.reached(last)))
    assert "On the same sites its plants take" in panel.tries.said()[len(panel.tries.tries) - 1]


def test_a_length_of_a_us_build_is_kept_in_whole_inches(tmp_path):
    (tmp_path / "my-build.toml").write_text(first_build("rafts", beds=2, units="US"), encoding="utf-8")
    panel = beds_media.panel(my_build())
    row = panel.control("length")
    for steps in (1, 3):
        row._slid(row._snapped(8 + steps / 6))
        panel._press_keep()
        assert f"length 8 ft {2 * steps} in" in panel.kept
        assert my_build().vessels["rafts"].si.length == pytest.approx((96 + 2 * steps) * 0.0254)


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_the_feed_supports_stands_in_the_band_of_print(system):
    panel = beds_media.panel(load("courtyard"))
    panel.system = system
    r = panel.record.si
    low, high = AREA.text(r.area_low, system), AREA.text(r.area_high, system)
    assert r.area_low <= r.area_needed <= r.area_high and f"by print {low} to {high}" in panel.said
    one = panel.tries.tries[0]
    panel._take(dict(one.to))
    r = panel.record.si
    room = "in that band" if r.area_low <= r.area <= r.area_high else "more than" if r.area > r.area_high else "too little"
    assert room in panel.tries.said()[0] and "by print" in panel.tries.said()[0]


def test_the_guess_of_a_us_build_is_drawn_with_its_own_round_number():
    """12 in of gravel, as its guess says; in metric the demo's 30 cm."""
    us, metric = (beds_media.sight(load("greenhouse").changed({("units",): units})).guessed for units in ("US", "metric"))
    assert us.record.si.media_depth == pytest.approx(12 * 0.0254) and metric.record.si.media_depth == pytest.approx(0.3)
    assert "1 ft of pea gravel" in us.alt(us.record) and MASS.text(us.record.si.mass, "US") == "3,490 lb"  # "about 3,500"


@pytest.mark.parametrize("depth", ["11 13/16 in", "300 mm", "22 9/16 in"])
@pytest.mark.usefixtures("drawn")
def test_no_label_of_the_bed_runs_over_the_edge(depth):
    build = load("courtyard").changed(
        {("units",): "US", ("vessels", "bed 1", "height"): "0.6 m", ("vessels", "bed 1", "media_depth"): depth}
    )
    picture = beds_media.picture(build)
    picture.png(picture.record, "US")
    edges = [text.get_window_extent().x0 for text in picture.axes.texts if text.get_text()]
    assert min(edges) >= 0

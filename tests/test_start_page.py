"""Notebook 00: its panel, its keep button, its numbers, its questions and its glossary."""

import functools
import html
import re
from itertools import pairwise

import nbformat
import pytest

from aquaplumb import tables
from aquaplumb.build import Build, demos, load, my_build
from aquaplumb.build.layout_kinds import KINDS
from aquaplumb.build.layouts import LAYOUTS, first_build
from aquaplumb.build.standing import standing, unreached
from aquaplumb.build.vessels import water_volume
from aquaplumb.figures.elevation import Elevation
from aquaplumb.fish import beds
from aquaplumb.questions import start as questions
from aquaplumb.review import review
from aquaplumb.teaching.glossary import glossary
from aquaplumb.teaching.sums import texts
from aquaplumb.units import SYSTEMS, DesignError, quantity, u
from aquaplumb.whatif import found, gallery, start
from pages import panel_of

PAGES = sorted(tables.folder("notebooks").glob("[0-9][0-9]-*.ipynb"))


pytestmark = pytest.mark.usefixtures("strict")


def prose(path):
    sums = [text for (page, _, _), text in texts().items() if page == path.name[:2]]
    return "\n".join([*(cell.source for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "markdown"), *sums])


def shown(path):
    """What a page's cells print, and say under their pictures."""
    cells = [cell for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "code" and cell.source != "glossary()"]
    outputs = [out for cell in cells for out in cell.outputs]
    return "\n".join(
        str(out.get("text", "")) + str(out.get("data", {}).get("text/html", "")) + str(out.get("data", {}).get("text/plain", ""))
        for out in outputs
    )


# --- the panel --------------------------------------------------------------------------------------------


@pytest.mark.sweep(5)
@pytest.mark.parametrize("demo", demos())
def test_the_panel_starts_from_the_builds_own_choices(demo):
    build, panel = load(demo), start.panel(load(demo))
    made = panel.record.si.build
    assert len(made.pumped) == len(build.pumped)
    assert len(made.of_kind("bed")) == len(build.of_kind("bed"))
    assert made.units == build.units
    for name in ("altitude", "coldest_water", "warmest_water"):
        assert getattr(made.site.si, name) == pytest.approx(getattr(build.site.si, name), abs=0.2), name


@pytest.mark.sweep(1)
@pytest.mark.parametrize("units", SYSTEMS)
def test_no_first_build_is_unsound_and_the_panel_says_what_its_review_says(units):
    panel = start.panel(load("courtyard"))
    panel.system = units
    panel.set(length="20 m", width="15 m")  # room for any of them
    for changes in (
        {"beds": 1},
        {"layout": "two loops"},
        {"coldest": "11 degC", "warmest": "16 degC"},
        {"altitude": "3000 m"},
        {"beds": 6},
    ):
        panel.set(**changes)
        seen = review(panel.record.si.build)
        assert seen.sound
        assert f"First review: {seen.verdict}." in panel.said
        assert panel.found == found.on_page(seen.findings, "00")


def test_coldest_above_warmest_is_taken_the_other_way_round():
    panel = start.panel(load("courtyard"))
    panel.set(coldest="28 degC", warmest="22 degC")
    site = panel.record.si.build.site
    assert site.si.coldest_water < site.si.warmest_water
    assert not panel.stale


def test_water_that_no_fish_bears_gets_a_sentence():
    panel = start.panel(load("courtyard"))
    panel.set(coldest="5 degC", warmest="34 degC", altitude="3000 m")  # goldfish bear the warmth, but not on 4.8 mg/L of oxygen
    assert panel.stale
    assert "no fish" in panel.said


@pytest.mark.parametrize("layout", LAYOUTS)
def test_where_no_siphon_is_to_be_had_the_panel_says_why(layout):
    """The menu was gone without a word; rafts, channels and towers have no drains to choose."""
    panel = start.panel(Build(first_build(layout)))
    beds = any(vessel.si.kind == "bed" for vessel in panel.record.si.build.growing)
    assert ("Beds with plain drains: " in panel.said) == (beds and not panel.control("drains").offered)


def test_what_a_layout_beds_height_and_cold_water_bring():
    panel = start.panel(load("courtyard"))
    names = set(panel.record.si.build.vessels)
    panel.set(layout="two loops")
    assert set(panel.record.si.build.vessels) - names == {"settling tank", "dosing tank"}
    assert len(panel.record.si.build.pumped) == 2
    seen = []
    for count in (1, 6):
        panel.set(beds=count)
        seen.append(review(panel.record.si.build))
    assert seen[1]["fish.tank volume"].value > 4 * seen[0]["fish.tank volume"].value
    assert seen[1]["fish.biomass"].value > 4 * seen[0]["fish.biomass"].value
    panel.set(altitude="0 m")
    sea, aired = panel.record.si.oxygen, panel.record.si.build.water.si.aerated_share
    panel.set(altitude="2000 m")
    assert panel.record.si.oxygen / sea == pytest.approx(0.78, abs=0.02)  # biology.md §6: 0.7846 atm at 2,000 m
    assert panel.record.si.build.water.si.aerated_share > aired
    panel.set(coldest="11 degC", warmest="16 degC")
    assert panel.record.si.build.fish.species == "rainbow trout"


@pytest.mark.sweep(1)
@pytest.mark.parametrize("name", ["courtyard", "greenhouse", "lean-to"])
def test_the_tries_say_what_each_choice_brings(name):
    panel = start.panel(load(name))
    before, said = panel.values, []
    for place, one in enumerate(panel.tries.tries):
        panel.set(**{n: v if isinstance(v, (str, int)) else panel.control(n).spec.kind.quantity(v) for n, v in one.to.items()})
        said.append(panel.tries.said()[place])
        panel.set(**before)
    layout, beds_, dug, cold, high = said
    assert "in the ground" in dug and "What would suit: bed above the tank" in dug
    assert ("New: settling tank" in layout) == (name != "greenhouse") and "dosing tank" in layout
    assert "Fish grow with the plants" in beds_ and "rainbow trout" in cold and "more has to come from air stones" in high


@pytest.mark.parametrize("name", demos())
def test_the_guess_is_answered_on_one_loop_and_then_yours(name):
    build = load(name)
    sight = start.sight(build)
    case = sight.guessed.record
    [pump] = case.pumped.values()
    assert pump.si.source == min(case.vessels.values(), key=lambda vessel: vessel.si.floor).si.name  # "in the lowest vessel of all"
    assert len(case.of_kind("bed")) == 2 and case.units == build.units
    # a line's name only where there are several: "riser" is a word of a later page
    assert all((line in sight.why) == (len(build.pumped) > 1) for line in build.pumped) and all(
        line.si.source in sight.why for line in build.pumped.values()
    )


def test_a_build_that_has_to_be_made_first_says_that_it_computes():
    """Six rafts took four seconds on the machine it was written on, and nothing on the screen said so; what was made is back at once."""
    panel, busy = start.panel(load("courtyard")), []
    compute = panel._compute
    panel._compute = lambda **values: busy.append("ap-busy" in panel._picture._dom_classes) or compute(**values)
    panel.set(beds=3)
    panel.set(length="9 m")  # set out anew, and its pipe as long as it takes there
    panel.set(may_dig=False)
    panel.set(beds=2)
    panel.set(beds=3)
    assert busy[:3] == [True, True, False] and not busy[-1]


# --- keeping ----------------------------------------------------------------------------------------------


def test_keep_writes_the_first_build_and_the_next_page_reads_it(tmp_path):
    panel = start.panel(my_build())
    panel.set(layout="two loops", beds=3, coldest="18 degC")
    panel.system = "US"
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: two pumps, 3 beds.")
    kept = my_build()
    assert (tmp_path / "my-build.toml").read_text(encoding="utf-8") == panel.record.si.text
    assert kept.units == "US"
    assert len(kept.of_kind("bed")) == 3
    assert review(kept).sound
    again = start.panel(kept)
    assert again.values["layout"] == "two loops"
    assert again.values["beds"] == 3
    assert again.values["coldest"].to("degC").magnitude == pytest.approx(18, abs=0.06)
    assert again.system == "US"


@pytest.mark.sweep(1)
@pytest.mark.parametrize("units", SYSTEMS)
def test_an_untouched_first_build_may_be_replaced(units):
    panel = start.panel(my_build())
    panel.system = units
    for changes in ({}, {"beds": 4, "altitude": "450 m"}, {"layout": "two loops", "warmest": "27 degC"}):
        panel.set(**changes)
        panel._press_keep()
        assert panel.kept.startswith("✔"), panel.kept
    assert len(my_build().of_kind("bed")) == 4


@pytest.mark.parametrize("touched", [
    lambda text: text.replace("ph = 6.9", "ph = 7.1"),
    lambda text: text + "\n# my own note\n",
    lambda text: load("courtyard").text,
    lambda text: "this is not TOML",
    lambda text: "",
], ids=["a value", "a note", "another build", "broken", "empty"])  # fmt: skip
def test_choices_of_a_persons_are_never_written_over(tmp_path, touched):
    path = tmp_path / "my-build.toml"
    path.write_text(touched(first_build("one loop")), encoding="utf-8")
    before = path.read_bytes()
    panel = start.panel(load("greenhouse"))
    panel._press_keep()
    assert panel.kept.startswith("✖ Not kept: my-build.toml is there already")
    assert "rename it" in panel.kept
    assert path.read_bytes() == before


def test_a_choice_kept_on_a_later_page_is_a_persons(tmp_path):
    start.panel(my_build())._press_keep()
    assert start.untouched(tmp_path / "my-build.toml")
    my_build().keep({("fish", "density"): "10 kg/m3"})
    assert not start.untouched(tmp_path / "my-build.toml")


# --- the page's own numbers -------------------------------------------------------------------------------


def test_the_sum_by_hand():
    """1,080 L on a circle 1.4 m across; 1,080 kg × 9.81 / 1.54 m² is 6,880 N/m²: worked with pencil."""
    seen = review("courtyard")
    assert seen["fish.tank volume"].value == pytest.approx(1.080, abs=0.005)
    assert seen.build.vessels["fish tank"].si.diameter == 1.4
    pressure = beds.floor_load("1080 kg", "1.54 m2").to("N/m**2").magnitude
    assert pressure == pytest.approx(1080 * 9.81 / (3.14 * 0.7**2), rel=2e-3)
    assert pressure == pytest.approx(6880, abs=5)
    text = prose(PAGES[0])
    assert "1.54 m²" in text
    assert "6.9 kN/m²" in text
    brimming = (3.14159 / 4 * 1.4**2 * 0.85 * 1000 + 40) * 9.81 / (3.14159 / 4 * 1.4**2)  # pencil: all of its 0.85 m, and the tank
    assert brimming == pytest.approx(8600, abs=50)
    assert seen["beds.load fish tank"].value == pytest.approx(brimming, rel=2e-3)
    assert "with the tank itself, 8.6" in text


def test_the_sump_has_room_for_the_beds_water():
    """Pencil: 1.5 m · 1.2 m · (0.75 − 0.45) m is 540 L; two beds hold at most 2.2 m² · 0.25 m · 45 % of void each, 495 L."""
    sump, beds_ = load("courtyard").vessels["sump"].si, load("courtyard").of_kind("bed")
    room = sump.length * sump.width * (sump.height - sump.working_depth)
    assert room == pytest.approx(0.540)
    assert room > sum(water_volume.si(bed, bed.si.working_depth) for bed in beds_)


@pytest.mark.usefixtures("drawn")
def test_each_falling_pipe_has_a_lane_of_its_own_where_there_is_room():
    picture = Elevation(load("courtyard"))
    picture.png()
    falls = picture.build.falling
    assert set(picture.lanes) == set(falls)
    heights = sorted(picture.lanes.values())
    assert all((high - low) * picture.metre > 4.5 for low, high in pairwise(heights))
    assert all(falls[name].si.outlet < lane < falls[name].si.lip for name, lane in picture.lanes.items())


@pytest.mark.sweep(6)
@pytest.mark.parametrize("name", ["one-way-out", *demos()])
@pytest.mark.usefixtures("drawn")
def test_no_name_stands_on_a_pipe_that_runs_level(name):
    picture = Elevation(load(name))
    picture.png()
    drawn = picture.figure.canvas.get_renderer()
    names = [text.get_window_extent(drawn) for text in picture.axes.texts if "\n" in text.get_text()]
    assert len(names) == len(picture.build.vessels)
    for left, right, height in picture.runs:
        (x, y), (end, _) = picture.axes.transData.transform([(left, picture._y(height)), (right, picture._y(height))])
        assert not any(box.x0 < end and box.x1 > x and box.y0 < y < box.y1 for box in names)


@pytest.mark.sweep(6)
@pytest.mark.parametrize("name", [*demos(), *LAYOUTS])
@pytest.mark.usefixtures("drawn")
def test_the_rulers_name_stands_off_the_edge(name):
    picture = Elevation(Build(first_build(name)) if name in LAYOUTS else load(name), system="metric")
    picture.png()
    assert picture.axes.yaxis.label.get_window_extent(picture.figure.canvas.get_renderer()).x0 > 8  # pixels


def test_against_print():
    """hydraulics.md §9: 62.4 lb/ft³, 8.34 lb/gal (62.4/7.48052); 40 psf is 1.92 kPa, 7.7 in or 196 mm of water."""
    assert (62.4 * u.lb / u.ft**3).to("lb/gal").magnitude == pytest.approx(62.4 / 7.48052, rel=1e-4)
    assert quantity("40 psf").to("kPa").magnitude == pytest.approx(1.92, abs=0.005)
    assert (quantity("40 psf") / (1000 * u.kg / u.m**3 * 9.81 * u.m / u.s**2)).to("inch").magnitude == pytest.approx(7.7, abs=0.05)
    printed = "".join(
        out.get("text", "") for cell in nbformat.read(PAGES[0], as_version=4).cells if cell.cell_type == "code" for out in cell.outputs
    )
    assert "1,000 kg/m³, 1.92 kN/m²: 0.195 m" in printed  # for a US reader: tests/test_sums.py


def test_the_faulty_drawing_shows_what_the_question_asks():
    build = load("one-way-out")
    assert {f.name for f in review(build).findings if f.severity in ("stop", "fix")} == {"no overflow path"}
    tank = build.of_kind("fish tank")[0].si.name
    assert not [line for line in build.falling.values() if line.si.source == tank and line.si.emergency]
    bed = build.of_kind("bed")[0].si.name
    assert [line for line in build.falling.values() if line.si.source == bed and line.si.emergency]


@pytest.mark.sweep(3)
@pytest.mark.parametrize("count", [1, 3, 6])
@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.usefixtures("drawn")
def test_no_names_overlap_in_the_drawing(layout, count):
    panel = start.panel(load("courtyard"))
    panel.set(layout=layout, beds=count)
    for units in SYSTEMS:
        picture = Elevation(panel.record.si.build, system=units)
        picture.png()
        drawn = picture.figure.canvas.get_renderer()
        boxes = [text.get_window_extent(drawn) for text in picture.axes.texts if len(text.get_text()) > 1]
        for place, one in enumerate(boxes):
            assert one.x0 > 0
            assert one.x1 < picture.width
            assert not any(one.overlaps(other) for other in boxes[:place])


# --- questions --------------------------------------------------------------------------------------------


def test_the_guess_the_fault_and_the_quiz_take_their_own_answers():
    for question in (questions.guess(), questions.fault(), *questions.quiz().questions[:2], questions.quiz()[4]):
        assert question.reply("").startswith("○")
        assert question.reply(question.answer).startswith("✔")
    order = questions.quiz()[3]
    steps = ["fish tank", "settling tank", "dosing tank", "bed", "sump"]
    assert order.reply([order.options.index(step) + 1 for step in steps]).startswith("✔")


def test_the_waters_way_is_the_demos():
    """From the sump's pump on, by pump and by fall, as the greenhouse demo is piped."""
    build, here, way = load("greenhouse"), "sump", []
    for _ in range(5):
        pumped = [p.si.to for line in build.pumped.values() if line.si.source == here for p in line.si.pipe if p.si.to]
        falls = [line.si.to for line in build.falling.values() if line.si.source == here and not line.si.emergency]
        here = (pumped or falls)[0]
        way.append(here)
    assert way == ["fish tank", "settling tank", "dosing tank", "bed 1", "sump"]


def test_the_answers_by_hand():
    """A litre is a kilogram; a metre of water is 9.81 kN/m²."""
    quiz = questions.quiz()
    assert quiz[1].answer.to("kg").magnitude == pytest.approx(quiz[1].numbers["water"].to("L").magnitude)
    assert quiz[2].answer.to("kN/m**2").magnitude == pytest.approx(9.81 * quiz[2].numbers["depth"].to("m").magnitude)
    assert "60 times" not in quiz[1].reply("1 kg")
    assert quiz[1].reply(f"{quiz[1].numbers['water'].magnitude} L").startswith("✖ Not yet. The number is right")


def test_us_questions_are_in_pounds_and_gallons():
    quiz = questions.quiz("Dewi", units="US")
    assert quiz[1].reply(f"{quiz[1].numbers['water'].to('gal').magnitude * 8.34} lb").startswith("✔")
    assert quiz[2].reply(f"{quiz[2].numbers['depth'].to('ft').magnitude * 62.4} psf").startswith("✔")
    for question in quiz.questions:
        words = " ".join([repr(question), *(question.reply("1 gal") for _ in range(3))])
        assert not re.search(r"\d (L|kg|cm|kN/m²)\b|litre", words), words


@pytest.mark.parametrize("hostile", ["9**9**9 kg", "__import__('os')", "<b>", "1e400 kg", "kg", "-", "1,5 kg", "nan kg", "x" * 9999, "🐟"])
def test_hostile_answers_get_a_sentence(hostile):
    for question in questions.quiz().questions:
        assert question.reply(hostile)[0] in "○✖"


def test_names_draw_numbers_of_their_own():
    for place in (1, 2):
        assert len({questions.quiz(name)[place].prompt for name in ("Ama", "Ben", "Chika", "Dewi", "Elif")}) > 1


# --- the glossary -----------------------------------------------------------------------------------------

GLOSSARY = list(glossary().terms.items())


def test_the_glossary_is_in_order_and_each_entry_is_a_sentence():
    terms = [term for term, _ in GLOSSARY]
    assert len(terms) > 50
    assert terms == sorted(terms, key=str.lower)
    assert len(set(terms)) == len(terms)
    for term, meaning in GLOSSARY:
        assert meaning.endswith("."), term
        assert len(meaning.split()) <= 30, term


@pytest.mark.parametrize("term", [term for term, _ in GLOSSARY])
def test_each_term_is_used_on_some_page(term):
    assert re.search(rf"\b{re.escape(term.casefold())}(?:s|es)?\b", whole_text())


@functools.cache
def whole_text():
    return "\n".join(prose(page) + shown(page) for page in PAGES).casefold()


@pytest.mark.parametrize("page", PAGES, ids=[page.stem for page in PAGES])
def test_what_a_page_explains_in_bold_is_in_the_glossary(page):
    """A term in bold inside a sentence is one that the page explains: one or two plain words, no number, no full stop."""
    known = {term.casefold() for term, _ in GLOSSARY}
    idea = prose(page).partition("## The idea")[2].partition("by hand")[0]
    for term in re.findall(r"\*\*([A-Za-z][A-Za-z -]+)\*\*", idea):
        word = term.casefold()
        assert (
            word.startswith("too ") or {word, word.rstrip("s"), word.removeprefix("one "), word.removeprefix("two ").rstrip("s")} & known
        ), f"{page.stem} explains '{term}'"


def test_the_page_leads_to_all_others():
    text = prose(PAGES[0])
    for page in PAGES[1:9]:
        assert page.name in text


def test_a_folder_is_no_build_file(tmp_path):
    (tmp_path / "my-build.toml").mkdir()
    assert not start.untouched(tmp_path / "my-build.toml")
    with pytest.raises(DesignError):
        load(tmp_path / "my-build.toml")


# --- the layouts to choose from ----------------------------------------------------------------------------


@pytest.mark.parametrize("demo", ["courtyard", "greenhouse"])
@pytest.mark.usefixtures("drawn")
def test_each_layout_is_shown_with_its_name_and_whom_it_suits(demo):
    """A picture of its own with words for who cannot see it, in the build's units, and nothing fetched from anywhere."""
    build = load(demo)
    shown = start.layouts(build)
    page = shown.html
    names = re.findall(r"<b>(.+?)</b>", page)
    assert names == list(KINDS)
    assert all(html.escape(f"For {kind.suits}") in page for kind in KINDS.values())
    images = re.findall(r'<img alt="([^"]+)"[^>]*src="data:image/png;base64,([^"]+)"', page)
    assert len({png for _, png in images}) == len(KINDS)
    assert all(html.escape(kind.about) in alt for kind, (alt, _) in zip(KINDS.values(), images, strict=True))
    assert "http" not in page
    assert shown.units == build.units
    data = shown._repr_mimebundle_()
    assert all(f"{name}: For {kind.suits}" in data["text/plain"] for name, kind in KINDS.items())


@pytest.mark.usefixtures("drawn")
def test_the_layouts_are_drawn_once():
    """A second look costs nothing: the page is opened again and again."""
    assert gallery.pictures("metric") is gallery.pictures("metric")
    assert gallery.pictures("metric") != gallery.pictures("US")


# --- the yard ----------------------------------------------------------------------------------------------


def yard(**changes):
    panel = start.panel(load("courtyard"))
    panel.set(**changes)
    assert not panel.stale, panel.said
    return panel


def suggested(panel):
    """(layout, number) of what the panel says would suit."""
    layout, many = re.search(r"What would suit: ([^,]+), with (\w+)", panel.found[0][1]).groups()
    return layout, 1 if many == "one" else int(many)


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("where", [{"may_dig": False}, {"width": "2.5 m"}, {"length": "3 m", "width": "3.5 m"}])
def test_a_layout_that_does_not_suit_says_so_and_names_one_that_does(units, where):
    panel = yard(layout="two loops", beds=4)
    panel.system = units
    panel.set(**where)
    severity, said = panel.found[0]
    assert severity == "fix"
    assert said.startswith("This does not suit the place: ")
    assert ("it needs a pit" in said) == ("may_dig" in where)
    assert not re.search(r"\d m\b" if units == "US" else r"\d ft\b", said)
    layout, many = suggested(panel)
    panel.set(layout=layout, beds=many)
    assert not panel.record.si.unsuited
    assert panel.record.si.ground.fits


def test_a_place_for_nothing_is_said():
    assert "No layout here would" in yard(length="2 m", width="2 m", beds=6).found[0][1]


@pytest.mark.sweep(3)
@pytest.mark.parametrize("layout", KINDS)
def test_of_a_place_for_all_nothing_is_said(layout):
    assert not yard(layout=layout, beds=6, length="20 m", width="15 m").record.si.unsuited


def test_the_tank_and_the_number_go_together():
    """0.55 m³ a bed is the layouts' own; a tank may have 0.7 to 1.5 times that."""
    panel = yard(beds=6)
    assert panel.values["tank"].m_as("L") == pytest.approx(3300)
    panel.set(tank="1000 L")
    assert panel.values["beds"] == 2
    assert panel.record.si.build.of_kind("fish tank")[0].si.diameter == pytest.approx(1.35)  # pencil: 1.0 m³ over 0.7 m is 1.349 m across
    panel.set(tank="1600 L")
    assert panel.values["beds"] == 2
    panel.set(layout="rafts", beds=3)
    assert panel.values["tank"].m_as("L") == pytest.approx(1650)
    assert not panel.stale


def test_siphons_give_way_where_there_are_none_to_have():
    panel = yard(drains="siphon", beds=4)
    assert panel.values["drains"] == "siphon"
    panel.set(beds=5)
    assert panel.values["drains"] == "plain"
    panel.set(layout="rafts")
    assert not panel.control("drains").offered
    assert not panel.stale


def test_start_again_goes_back_to_where_it_all_stood():
    panel = start.panel(load("courtyard"))
    before = panel.si
    panel.set(beds=6)
    panel.set(layout="towers", may_dig=False)
    panel.tries._again.click()
    assert panel.si == pytest.approx(before)
    assert not panel.stale


WISHES = [{"drains": "plain"}, {"tank": "1600 L"}, {"tank": "800 L"}, {"layout": "two tanks", "drains": "siphon"}, {"layout": "two tanks", "tank": "900 L"}]  # fmt: skip


@pytest.mark.sweep(2)
@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("wish", WISHES)
def test_what_is_kept_is_what_the_file_says_and_may_be_replaced(tmp_path, units, wish):
    panel = start.panel(my_build())
    panel.system = units
    panel.set(**wish, length="4 m", may_dig=False)
    panel._press_keep()
    assert panel.kept.startswith("✔"), panel.kept
    assert "not kept" in panel.kept or "not in the file" in panel.kept
    kept = tmp_path / "my-build.toml"
    assert kept.read_text(encoding="utf-8") == panel.record.si.text
    assert start.untouched(kept)


@pytest.mark.sweep(1)
@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.usefixtures("drawn")
def test_the_plan_from_above_is_to_scale_and_says_what_it_shows(units):
    panel = start.panel(load("courtyard"))
    panel.system = units
    for layout in KINDS:
        panel.set(layout=layout, beds=2)
        words = panel.picture.alt(panel.record)
        assert "From above, to scale" in words
        for name in panel.record.si.build.vessels:
            assert f"{name}, " in words.partition("From above")[2]
        panel.picture.png(panel.record)
        side, above = panel.picture.figure.axes
        box, (low, high), (foot, top) = above.get_window_extent(), above.get_xlim(), above.get_ylim()
        assert box.width / (high - low) == pytest.approx(box.height / (top - foot), rel=1e-6)
        assert box.y1 < side.get_window_extent().y0
        drawn = panel.picture.figure.canvas.get_renderer()
        for text in panel.picture.figure.texts:
            assert text.get_window_extent(drawn).x1 <= panel.picture.width
            assert not text.get_text() or text.get_window_extent(drawn).x0 >= box.x1 or text.get_window_extent(drawn).y0 >= box.y1


def test_a_tank_that_is_typed_stays_and_what_goes_with_it_is_told():
    """Three beds do not go with 300 gal: two do, and the tank stays what was typed (it became the usual one of two beds)."""
    panel = start.panel(my_build())
    panel.system = "US"
    panel.set(beds=3)
    panel.control("tank").box.value = 300.0
    assert panel.si["beds"] == 2 and panel.values["tank"].m_as("gal") == pytest.approx(300)
    assert panel.control("tank").box.value == 300.0
    assert "Changed with it: number of beds, rafts or towers 2" in panel._note.value
    panel.control("beds").box.value = 3
    assert "fish tank, at least" in panel._note.value
    panel.control("layout").menu.value = LAYOUTS[1]
    assert "Not to choose with it: beds drain by." in panel._note.value
    panel.control("altitude").box.value = 1000.0
    assert panel._note.value == ""


def test_the_review_of_a_first_build_names_each_finding_and_its_page(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    panel = start.panel(my_build())
    panel._press_keep()
    findings = review(load("my-build.toml")).findings
    assert findings and len(panel.reviewed) == len(findings)
    told = [text for _, text in panel.reviewed]
    assert all(sum(text.startswith(found.told(one, "00")) and text.count(f"Page {one.notebook}") == 1 for text in told) for one in findings)


def test_what_is_kept_stands_on_its_sheet_as_on_the_page(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    panel = start.panel(my_build())
    panel.set(beds=4, length="12 m", width="4 m")
    panel._press_keep()
    kept, ground = load("my-build.toml"), panel.record.si.ground
    assert [(p.name, p.middle) for p in standing(kept).pieces] == [(p.name, p.middle) for p in ground.pieces]
    assert standing(kept).size == pytest.approx((12.0, 4.0)) and not unreached(kept)
    again = start.panel(kept)  # opened anew it begins with the same place, and its file is still one that this page may write over
    assert again.record.si.ground == ground and start.untouched(kept.path)


def test_a_build_kept_where_it_does_not_suit_still_says_so(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    panel = start.panel(my_build())
    panel.set(may_dig=False)
    panel._press_keep()
    assert panel.kept.startswith("✔")
    severity, text = panel.reviewed[0]
    assert severity == "fix" and "it needs a pit" in text and "no later page says this again" in text
    panel.set(may_dig=True)
    panel._press_keep()
    assert not any("it needs a pit" in text for _, text in panel.reviewed)


def test_the_units_of_the_file_are_chosen_first():
    """On the page that makes the file they are a choice for all pages; elsewhere they stand at the foot of the controls."""
    first, later = (panel_of(name, "courtyard") for name in ("start", "pump"))
    for panel, at_top in ((first, True), (later, False)):
        assert (panel.widget.children[1].children[0].children[0] is panel._units) is at_top

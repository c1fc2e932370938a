"""Notebook 04: what its prose, guess and questions claim, and a panel that never speaks against the review."""

import math
import re

import fluids
import pytest

from aquaplumb.build import Build, demos, load, my_build
from aquaplumb.build.layouts import first_build
from aquaplumb.figures.pipe_size import GOOD, good_speed
from aquaplumb.plumbing import drains, pipes
from aquaplumb.questions import pipe_size as questions
from aquaplumb.review import review
from aquaplumb.review.findings import found
from aquaplumb.units import FLOW, SYSTEMS
from aquaplumb.whatif import pipe_size
from aquaplumb.whatif.keeping import listed
from pages import changed_lines, foreign, prose

CASES = [(name, label) for name in ("courtyard", "greenhouse") for label in pipe_size._places(load(name), None)]


pytestmark = pytest.mark.usefixtures("strict")


@pytest.mark.parametrize(("name", "label"), CASES)
def test_each_stretch_starts_as_the_review_has_it(name, label):
    build = load(name)
    seen, panel = review(build), pipe_size.panel(build)
    panel.set(stretch=label)
    r = panel.record.si
    assert r.flow == pytest.approx(seen[f"line {r.line} › {r.stretch}.flow"].value, rel=1e-9)
    assert r.speed == pytest.approx(seen[f"line {r.line} › {r.stretch}.speed"].value, rel=1e-9)
    assert r.brings == pytest.approx(seen[f"line {r.line}.flow"].value, rel=1e-9)
    assert [str(f) for f in r.findings] == [str(f) for f in found(seen.system)]
    assert "as it does now" in panel.said


def test_as_it_does_now_is_said_of_the_same_figure_only():
    """A wall a little thinner: 6,480 L/h are not what was 6,460."""
    panel = pipe_size.panel(Build(first_build("one loop", beds=4, drains="siphon")))
    now = FLOW.text(panel.record.si.brought)
    assert f"brings {now}, as it does now" in panel.said
    panel.set(standard="PN10")
    r = panel.record.si
    assert FLOW.text(r.brings) != now and abs(r.brings / r.brought - 1) < 0.005
    assert f"brings {FLOW.text(r.brings)}, about as much as now" in panel.said


def test_friction_agrees_with_another_library():
    """`fluids`: Colebrook and Darcy–Weisbach at 20 °C, ν 1.0034 mm²/s (IAPWS-97); half a per cent for the viscosity."""
    for flow, bore in ((1900, 0.0272), (1000, 0.0212), (3600, 0.034)):
        q = flow / 3.6e6
        speed = q / (math.pi * bore**2 / 4)
        factor = fluids.friction_factor(Re=speed * bore / 1.0034e-6, eD=1.5e-6 / bore)
        lost = factor * 10 / bore * speed**2 / (2 * 9.80665)
        assert pipes.friction_head(f"{flow} L/h", f"{bore} m", "10 m").m_as("m") == pytest.approx(lost, rel=0.005)


def test_print_agrees_with_the_page():
    """Crane TP-410 example 7.1: Re 100,600 (older viscosity, hence 0.5 %) and f 0.0179 (read off a chart)."""
    swirl = pipes.reynolds("200 L/min", "52.48 mm", temperature="30 degC")
    assert swirl == pytest.approx(100_600, rel=0.005)
    assert pipes.friction_factor(swirl) == pytest.approx(0.0179, rel=0.005)


def test_hazen_williams_is_a_tenth_low_at_small_flows():
    """fluids 1.3.1 (CALC): 1 in Sch 40, thinnest wall, 5 gal/min: 0.664 against 0.740 psi in 100 ft; at 5 °C 10.5 % over 20 °C."""
    bore = pipes.bore("1 in", "Sch 40", wall="minimum")
    psi = 0.4335 * 0.9982  # in a foot of water at 20 °C
    right = pipes.friction_head("5 gpm", bore, "100 ft").m_as("ft") * psi
    older = 0.2083 * (100 / 150) ** 1.852 * 5**1.852 / bore.m_as("in") ** 4.8655 * psi  # as the PPFA prints it, C 150
    assert right == pytest.approx(0.740, rel=0.005)
    assert older == pytest.approx(0.664, rel=0.005)
    assert older / right == pytest.approx(0.9, abs=0.01)


def test_the_idea_in_numbers():
    lost = pipes.friction_head.si
    q = 1900 / 3.6e6
    assert lost(q, 0.0136, 1.0) / lost(q, 0.0272, 1.0) == pytest.approx(27, rel=0.05)
    assert 3.2 < lost(2 * q, 0.0272, 1.0) / lost(q, 0.0272, 1.0) < 3.6
    assert pipes.bore("32 mm", "PN16").m_as("mm") == pytest.approx(27.2)  # DIN 8062: wall 2.4 mm
    assert pipes.pipe_size("1 in", "Sch 40").outside_diameter.m_as("mm") == pytest.approx(33.4, abs=0.01)  # ASTM D1785: 1.315 in
    made, thinnest = (pipes.bore("1 in", "Sch 40", wall=wall).m_as("mm") for wall in ("average", "minimum"))
    assert made == pytest.approx(1.029 * 25.4, abs=0.01)  # ASTM D1785, average of makers' tables
    assert thinnest == pytest.approx(1.049 * 25.4, abs=0.01)
    assert lost(q, made / 1e3, 1.0) / lost(q, thinnest / 1e3, 1.0) == pytest.approx(1.1, abs=0.01)


def test_the_sum_by_hand():
    area = math.pi / 4 * 27.2**2
    assert round(area) == 581
    assert round(1900 / 3600, 3) == 0.528
    assert round(528_000 / 581) == 909
    assert pipes.speed("1900 L/h", "27.2 mm").m_as("m/s") == pytest.approx(0.91, abs=0.005)
    assert pipes.speed("1900 L/h", "32 mm").m_as("m/s") == pytest.approx(0.66, abs=0.005)


def done(panel):
    """Each try of a panel done alone, as it starts: what was said of it."""
    start, said = panel.values, []
    for place, one in enumerate(panel.tries.tries):
        panel.set(**{n: v if isinstance(v, str | tuple) else panel.control(n).spec.kind.quantity(v) for n, v in one.to.items()})
        said.append(panel.tries.said()[place])
        panel.set(**start)
    return said


def test_the_tries_say_what_a_size_a_wall_a_flow_and_the_water_do():
    panel = pipe_size.panel(load("courtyard"))
    narrow, wide, wall, twice, cold = done(panel)
    assert narrow.startswith("**Fast**") and "brings 3,350 L/h, not 3,630 L/h" in narrow
    assert wide.startswith("A good speed.")
    assert "36.2 mm, where it was 34 mm" in wall  # DIN 8062, PN10: 40 − 2 × 1.9
    assert twice.endswith("3.4 times as much.")  # 2 to the 1.75
    assert cold.startswith("Cold water is thicker: at 5 °C")
    first = panel.record.si
    panel.set(temperature="30 degC")
    warm = panel.record.si.loss
    panel.set(temperature="5 degC")
    assert panel.record.si.loss / warm == pytest.approx(1.165, abs=0.03)
    assert first.gets == pytest.approx(first.brings)


def test_a_branch_says_its_own_flow_and_that_of_the_whole_line():
    """ "557 L/h, too slow" beside 1,190 L/h: each says what it is of."""
    panel = pipe_size.panel(load("side-alley"))
    panel.set(stretch="to towers")
    r = panel.record.si
    assert "too slow" in panel.said
    assert f"brings {FLOW.text(r.brings)} in all, as it does now; {FLOW.text(r.gets)} of it run here." in panel.said
    assert r.gets == pytest.approx(r.flow, rel=1e-6) and r.gets < 0.5 * r.brings


@pytest.mark.parametrize("name", demos())
def test_the_guess_is_answered_on_the_demo_and_then_yours(name):
    build = load(name)
    seen = pipe_size.sight(build)
    asked, now = seen.guessed.record.si, pipe_size.SizeWhatIf(load("courtyard")).own()
    before = pipes.friction_head.si(now["flow"], 0.034, now["length"], temperature=now["temperature"])
    us = build.units == "US"
    assert asked.loss / before == pytest.approx(11 if us else 10, rel=0.05)  # "about ten times as much"
    times, words = (2.8, "nearly three times as fast") if us else (2.5, "two and a half times as fast")
    assert asked.speed / (now["flow"] / (math.pi / 4 * 0.034**2)) == pytest.approx(times, abs=0.1)
    assert words in questions.guess(units=build.units).reply("about ten times as much")
    assert (FLOW.text(asked.flow), FLOW.text(asked.flow, "US")) == ("3,630 L/h", "959 gal/h")
    assert asked.bore == pytest.approx(0.804 * 0.0254 if us else 0.0212, abs=1e-5)  # the hole of the question
    assert [size for size, _ in asked.sizes if size == asked.size] and ("mm" in asked.size) != us  # the sizes of a learner's own shop
    assert "959 gal/h" in questions.guess(units="US").prompt and "3,630 L/h" in questions.guess().prompt
    own = pipe_size.SizeWhatIf(build)
    assert FLOW.text(asked.flow, build.units) in seen.guessed.look
    assert f"Your {own.begin[2]}" in seen.why
    assert questions.guess().reply("about ten times as much").startswith("✔")


def test_a_flow_that_is_only_tried_is_told_apart_from_the_pumps():
    """ "With 1,260 gal/h in it … The pump brings 631 gal/h, as it does now", in one breath."""
    panel = pipe_size.panel(load("courtyard"))
    assert panel.said.endswith("The pump brings 3,630 L/h, as it does now.")
    panel.set(flow="6000 L/h")
    assert panel.said.endswith("That flow is only tried: your pump brings 3,630 L/h here, as it does now.")


def test_a_us_keep_says_a_length_as_its_box_does(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(first_build("two loops", units="US"), encoding="utf-8")
    panel = pipe_size.panel(load(path))
    panel.set(length="8 ft")
    panel._press_keep()
    assert "length 8 ft" in panel.kept, panel.kept
    assert listed({("length",): "102 in", ("vent",): "9.5 in"}) == "length 8 ft 6 in, vent 9.5 in"


def test_the_band_is_the_one_in_print():
    """2 ft/s (ASPE) and 5 ft/s (UF/IFAS AE066): 0.61 and 1.5 m/s."""
    assert (pipes.SPEED_LOW, pipes.SPEED_HIGH) == (0.61, 1.5)
    assert pipes.SPEED_LOW == drains.SCOUR_SPEED == pytest.approx(2 * 0.3048, abs=1e-3)  # one limit for all pipe
    assert not good_speed(0.55)
    assert good_speed(1.0)
    assert not good_speed(1.6)
    assert "between 0.6 and 1.5 m/s (2 and 5 ft/s)" in prose("04")


def test_another_standard_and_back_keeps_the_size():
    panel = pipe_size.panel(load("courtyard"))
    for standard in ("SDR 26", "Sch 80", "PN10", "PN16"):
        panel.set(standard=standard)
        assert panel.values["size"] in pipes.sizes(standard)
    assert panel.values["size"] == "40 mm"


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.usefixtures("drawn")
def test_far_ends_stay_on_the_map(system):
    panel = pipe_size.panel(load("courtyard"))
    panel.system = system
    for flow, size in (("100 L/h", "110 mm"), ("12000 L/h", "20 mm")):
        panel.set(flow=flow, size=size)
        assert not panel.stale
        assert panel.picture.alt(panel.record)
        x, y = panel.picture.point.artist.get_data()
        (left, right), (low, high) = panel.picture.point.plane.axes.get_xlim(), panel.picture.point.plane.axes.get_ylim()
        assert left * 0.999 <= x[0] <= right * 1.001
        assert low * 0.999 <= y[0] <= high * 1.001


def test_keep_writes_size_and_length_of_that_stretch_and_nothing_else(tmp_path):
    panel = pipe_size.panel(my_build())
    panel.set(size="50 mm", flow="5000 L/h", length="9 m", temperature="5 degC")
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: riser is 50 mm PN16, length 9 m.")
    assert panel.kept.endswith("Only tried, not kept: flow in it, water.")
    assert changed_lines(tmp_path / "my-build.toml") == [('size = "40 mm"', 'size = "50 mm"'), ('length = "2.2 m"', 'length = "9 m"')]
    again = pipe_size.panel(my_build())
    assert again.values["size"] == "50 mm"
    assert again.values["length"].m_as("m") == pytest.approx(9)
    again.set(stretch="header")
    again.set(standard="Sch 40")
    again._press_keep()
    header = next(pipe.si for pipe in my_build().lines["riser"].si.pipe if pipe.si.name == "header")
    assert (header.size, header.standard) == ("1 in", "Sch 40")


def test_a_stretch_given_by_its_bore(tmp_path):
    text = load("courtyard").text.replace('name = "riser"\nsize = "40 mm"', 'name = "riser"\nbore = "1.3 in"')
    (tmp_path / "my-build.toml").write_text(text, encoding="utf-8")
    panel = pipe_size.panel(my_build())
    assert panel.record.si.bore == pytest.approx(1.3 * 0.0254)
    assert panel.record.si.flow == pytest.approx(review(my_build())["line riser.flow"].value)
    panel._press_keep()
    assert (tmp_path / "my-build.toml").read_text(encoding="utf-8") == text
    panel.set(standard="PN16", size="40 mm")
    panel._press_keep()
    assert panel.kept.startswith("✔")
    riser = my_build().lines["riser"].si.pipe[0].si
    assert (riser.size, riser.standard, riser.bore) == ("40 mm", "PN16", pytest.approx(0.034))


def test_the_faulty_build_is_what_the_page_makes_of_it():
    seen = review(questions.FAULTY)
    assert any(f.name == "pipe too fast" and f.where == "riser" and f.severity == "fix" for f in seen.findings)
    riser, tank, bed = (seen[f"line riser › {name}.speed"].value for name in ("riser", "to the tank", "to the bed"))
    assert not good_speed(riser)
    assert good_speed(tank)
    assert good_speed(bed)
    assert 2 * tank < riser
    assert (round(riser, 2), round(seen["line riser.head"].value, 2)) == (3.66, 4.06)
    assert round(seen["line riser.lift"].value, 2) == 1.25
    assert seen["line riser.flow"].value > 3 * seen["line riser.wanted"].value
    fault = questions.fault()
    assert fault.reply(fault.answer).startswith("✔")
    wider = pipe_size.panel(load(questions.FAULTY))  # the cure that is promised: wider, and a far smaller pump
    line = wider._compute.build.pumped["riser"].replace(pump="demo mains 45 W submersible")
    smaller = pipe_size.panel(wider._compute.build.replaced(lines=[line]))
    smaller.set(size="40 mm")
    assert smaller.record.si.brings > 0.95 * seen["line riser.wanted"].value


@pytest.mark.parametrize("units", SYSTEMS)
def test_questions_ask_in_the_units_of_the_build(units):
    assert not [
        words for question in (questions.guess(units=units), *questions.quiz(units=units).questions) for words in foreign(question, units)
    ]


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("learner", ["", "Ama", "Ben", "Chika", "Dewi"])
def test_the_answers_by_hand(learner, units):
    quiz = questions.quiz(learner, units)
    outside, wall = (quiz[1].numbers[k].m_as("mm") for k in ("outside", "wall"))
    assert quiz[1].answer.m_as("mm") == pytest.approx(outside - wall - wall)
    flow, bore = quiz[2].numbers["flow"].m_as("L/h"), quiz[2].numbers["bore"].m_as("m")
    assert quiz[2].answer.m_as("m/s") == pytest.approx(flow / 3.6e6 / (math.pi / 4 * bore * bore), rel=1e-6)
    assert quiz[3].answer.m_as("cm") == pytest.approx(3.4 * quiz[3].numbers["loss"].m_as("cm"))
    for question in quiz.questions[:3]:
        for slip, _ in question._slips:
            assert question.verdict(slip(**question.numbers)).state == "wrong"
        assert question.reply(question.answer).startswith("✔")


def test_the_facts_in_the_questions():
    assert round(2**1.75, 1) == 3.4
    lost = pipes.friction_head.si
    assert lost(1800 / 3.6e6, 0.0272, 10) / lost(900 / 3.6e6, 0.0272, 10) == pytest.approx(3.4, abs=0.15)
    for units, flow, length, wall, unit in (("metric", "1700 L/h", "12 m", "PN16", "m"), ("US", "450 gal/h", "40 ft", "Sch 40", "ft")):
        for option in questions.quiz(units=units)[4].options:  # "25 mm: 1.3 m/s, loses 1.2 m"
            size, rest = option.split(": ")
            bore = pipes.bore(size, wall)
            said_speed, said_loss = float(rest.split(f" {unit}/s")[0]), float(rest.split("loses ")[1].split(f" {unit}")[0])
            assert round(pipes.speed(flow, bore).m_as(f"{unit}/s"), 1) == said_speed
            assert pipes.friction_head(flow, bore, length).m_as(unit) == pytest.approx(said_loss, rel=0.12)


@pytest.mark.parametrize("typed", ["", "0.9", "27 kg", "-5 m/s", "nan m", "9**9**9", "<script>", "1e300 m/s", "3 1 2", "b)"])
def test_whatever_is_typed_gets_a_sentence(typed):
    for question in questions.quiz().questions:
        assert question.reply(typed)[0] in "✔✖○"


def test_flows_are_said_as_the_review_says_them():
    build = load("greenhouse")
    panel = pipe_size.panel(build)
    assert FLOW.text(review(build)["line tank loop.flow"].value, "US") in panel.said


@pytest.mark.parametrize(
    ("build", "much", "times"), [("courtyard", "Twice the water", "Twice the flow"), ("four beds", "More water", "1.8 times the flow")]
)
def test_as_many_times_the_flow_as_the_slider_lets_one_try(build, much, times):
    """The slider ends at 12,000 L/h: of the 6,530 L/h of four beds that is 1.8 times, of the courtyard's 3,630 L/h twice is there."""
    panel = pipe_size.panel(Build(first_build("one loop", beds=4, drains="plain")) if build == "four beds" else load(build))
    place = next(place for place, one in enumerate(panel.tries.tries) if "flow" in one.to)
    assert panel.tries.asks()[place].startswith(much)
    assert times in done(panel)[place]


COHORT = {
    "tank": "fish tank",
    "species": "Nile tilapia",
    "arrives": "1 May",
    "count": 40,
    "body_mass": "40 g",
    "harvest_mass": "400 g",
    "protein": "32 %",
}


def test_one_loss_for_one_stretch_in_a_build_with_a_year():
    """The panel and the picture over it reckon with the water of the same month."""
    year = {"temperature": ["22 degC"] * 6 + ["28 degC"] * 6, "stocks": {"fish": COHORT}}
    build = load("courtyard").changed({("fish",): None, ("season",): year})
    rows, record = pipe_size.speeds(build).si.stretches, pipe_size.panel(build).record.si
    assert record.temperature > 273.15 + 27
    assert next(row.loss for row in rows if row.name == record.stretch) == pytest.approx(record.loss)


@pytest.mark.parametrize("system, unit", [("metric", 1.0), ("US", 0.3048)])
def test_the_good_speeds_in_round_numbers_are_those_that_judge(system, unit):
    low, high = (unit * float(number) for number in re.findall(r"[\d.]+(?= )", GOOD[system]))
    assert (low, high) == pytest.approx((pipes.SPEED_LOW, pipes.SPEED_HIGH), rel=0.02)

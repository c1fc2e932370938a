"""Notebook 07 and its what-if: what is said there is so, and the panel agrees with the review."""

import numpy as np
import pytest

from aquaplumb.build import demos, load, my_build
from aquaplumb.figures.flow_share import verdict
from aquaplumb.plumbing import fittings, lines
from aquaplumb.questions import flow_share as questions
from aquaplumb.review import review
from aquaplumb.review.findings import found
from aquaplumb.system.steady import Steady
from aquaplumb.units import FLOW, SYSTEMS, u
from aquaplumb.whatif import flow_share
from pages import changed_lines, foreign

CASES = [
    ("courtyard", "riser"),
    ("greenhouse", "tank loop"),
    ("greenhouse", "bed loop"),
    ("far-bed-starved", "main"),
    ("valve-nearly-shut", "main"),
]


pytestmark = pytest.mark.usefixtures("strict")


@pytest.mark.parametrize(("name", "line"), CASES)
def test_the_panel_starts_as_the_review_has_it(name, line):
    build = load(name)
    seen, panel = review(build), flow_share.panel(build, line)
    record = panel.record.si
    for end, flow, share, wanted in zip(record.ends, record.flow, record.share, record.wanted):
        assert flow == pytest.approx(seen[f"line {line} › {end}.flow"].value, rel=1e-9)
        assert share == pytest.approx(seen[f"line {line} › {end}.share"].value, rel=1e-9)
        assert wanted == pytest.approx(seen[f"line {line} › {end}.wanted share"].value, rel=1e-9)
    assert record.flow.sum() == pytest.approx(record.total)
    assert {f.name for f in record.findings} == {f.name for f in found(seen.system)}
    assert FLOW.text(record.total, build.units) in panel.said


@pytest.mark.parametrize(("name", "line"), [case for case in CASES if case[0] != "far-bed-starved"])
def test_balanced_brings_every_end_its_share(name, line):
    """The equal heads of `valve_settings`, put back through the whole build, to the hundredth that a hand can set."""
    panel = flow_share.panel(load(name), line)
    panel.set(set=flow_share.BALANCED)
    record = panel.record.si
    assert record.share == pytest.approx(record.wanted, rel=0.06)  # near shut, a hundredth of a turn moves the flow by 4 %
    assert np.nanmax(record.opening) == 1.0 or name == "valve-nearly-shut"  # there the neediest end has no valve
    assert "bed shares uneven" not in {f.name for f in record.findings}


def test_balanced_moves_the_sliders_and_back():
    panel = flow_share.panel(load("courtyard"))
    start = panel.values
    panel.set(valve_2="40 %")
    assert "bed shares uneven" in {f.name for f in panel.record.si.findings}
    panel.set(set=flow_share.BALANCED)
    tree, pump = (lambda s: (s.tree, s.pump))(Steady(load("courtyard")).pumped["riser"])
    exact = lines.valve_settings.si(tree, pump).si.opening
    assert [panel.values[f"valve_{i}"].m_as("") for i in (1, 2, 3)] == pytest.approx(exact, abs=0.0051)
    panel.set(size="20 mm")  # the sliders follow
    assert panel.record.si.share == pytest.approx(panel.record.si.wanted, rel=0.05)
    panel.set(branch="to bed 1")
    assert panel.values["size"] == ""
    panel.set(branch="to bed 2", set=flow_share.BUILT)
    assert {n: str(v) for n, v in panel.values.items()} == {n: str(v) for n, v in start.items()}


def test_balance_that_is_not_to_be_had_says_why():
    """A pump too weak for the lift: the panel says so in place of a result, with no traceback."""
    build = load("courtyard").changed({("lines", "riser", "pump"): "demo 12 V 5 W submersible"})
    panel = flow_share.panel(build)
    assert panel.said.startswith("No water")
    panel.set(set=flow_share.BALANCED)
    assert panel.stale
    assert "before any water comes" in panel.said
    panel.set(set=flow_share.BUILT)
    assert not panel.stale


def done(panel):
    """Each try of a panel done alone, as it starts: the record and what was said of it."""
    start, said = {name: str(value) for name, value in panel.values.items()}, []
    for place, one in enumerate(panel.tries.tries):
        panel.set(**{n: v if isinstance(v, str) else panel.control(n).spec.kind.quantity(v) for n, v in one.to.items()})
        said.append((panel.record.si, panel.tries.said()[place]))
        panel.tries._again.click()
        assert {name: str(value) for name, value in panel.values.items()} == start
    return said


def test_the_tries_say_what_they_show():
    panel = flow_share.panel(load("courtyard"))
    assert panel.values["valve_3"].m_as("") == 1.0  # "the ball valve of bed 2 stands wide open"
    full = panel.record.si
    assert full.to[2] == "bed 2"
    (quarter, _), (half, _), (three, three_said), (tank, _), (_, even_said), (thin, thin_said) = done(panel)
    assert 1 - quarter.flow[2] / full.flow[2] < 0.1  # the guess: "less than a tenth"
    assert 1 - half.flow[2] / full.flow[2] == pytest.approx(0.5, abs=0.06)
    assert 1 - three.flow[2] / full.flow[2] == pytest.approx(0.9, abs=0.02)
    assert (three.flow[:2] > full.flow[:2]).all() and three.total > 0.97 * full.total and "89 % less" in three_said
    assert tank.flow[0] < 0.5 * full.flow[0]
    assert "Every end is within 1 %" in even_said
    assert (thin.opening[:2] < full.opening[:2]).all()  # the others are throttled more
    assert (thin.flow < full.flow).all() and thin.total > 0.9 * full.total
    assert "Before, it was 3,630 L/h" in thin_said


def test_balanced_can_be_chosen_again():
    panel = flow_share.panel(load("courtyard"))
    panel.set(set=flow_share.BALANCED)
    panel.set(valve_2="40 %")
    assert panel.values["set"] == flow_share.HAND  # the menu no longer stands on "balanced"
    panel.set(set=flow_share.BALANCED)
    assert panel.values["valve_2"].m_as("percent") == pytest.approx(75, abs=1)
    panel.set(valve_1="40 %", set=flow_share.BUILT)
    panel.control("valve_1").slider.value = 50
    assert panel.values["set"] == flow_share.HAND and panel.values["valve_1"].m_as("percent") == pytest.approx(50)


@pytest.mark.parametrize("name", demos())
def test_the_guess_is_answered_on_the_demo_and_then_yours(name):
    build = load(name)
    seen = flow_share.sight(build)
    asked = seen.guessed.record.si
    assert asked.to[2] == "bed 2" and 0 < 1 - asked.flow[2] / asked.first[2] < 0.1 and asked.opening[2] == 0.75
    assert FLOW.text(asked.flow[2], build.units) in seen.why and f"Your {seen.own.record.line}" in seen.why
    assert ("one end" in seen.why) == (len(seen.own.record.ends) == 1)


@pytest.mark.parametrize("units", SYSTEMS)
def test_questions_ask_in_the_units_of_the_build(units):
    quiz = questions.quiz(units=units)
    assert not [words for question in (questions.guess(units=units), *quiz.questions) for words in foreign(question, units)]
    for place in (1, 2, 3):
        assert quiz[place].reply(quiz[place].answer).startswith("✔")
    total, share = (questions.quiz(units="US")[1].numbers[key] for key in ("total", "share"))
    assert questions.quiz(units="US")[1].answer.m_as("s") == pytest.approx(5 * 3600 / (total.m_as("gal/h") * share.m_as("")))


def test_a_valve_at_half_a_per_cent_is_one_number(tmp_path):
    """69 and 68 %: the slider, the picture and what is kept say the same of 0.685."""
    panel = flow_share.panel(my_build())
    panel.set(valve_1="68.5 %")
    assert "68.5 % open" in panel.picture.alt(panel.record) and "68.5 %" in repr(panel)
    panel._press_keep()
    assert "to the tank 68.5 %" in panel.kept


def test_the_number_by_hand():
    """23.5 % of 3,630 L/h is 853 L/h; 36,000 / 853 = 42.2 s."""
    record = flow_share.outcome(load("courtyard")).si
    assert FLOW.text(record.total) == "3,630 L/h"
    assert record.wanted[1] == pytest.approx(0.235)
    assert round(0.235 * 3630) == 853
    assert (10 * u.L / (853 * u.L / u.h)).m_as("s") == pytest.approx(42, abs=0.5)


def test_the_header_in_print():
    """EPANET 2.2, three branches with their valves at K = 10: 66.97 in, 24.14, 21.77, 21.06 L/min out (0.3 %, as the reference recommends).

    The branch's K of 2.5 + 10 counts the way out, which our lines add by themselves: 11.5 is left.
    """
    wide, branch = {"bore": "26.6446 mm"}, {"bore": "20.9296 mm", "length": "1 m", "extra_k": 11.5, "outlet": "1.2 m"}
    header = lines.Line(name="header", source="0 m", stretches=(
        lines.Stretch(name="riser", length="3 m", extra_k=4, **wide),
        lines.Stretch(name="near", after="riser", to="bed 1", **branch),
        lines.Stretch(name="header 1", after="riser", length="2 m", extra_k=0.4, **wide),
        lines.Stretch(name="middle", after="header 1", to="bed 2", **branch),
        lines.Stretch(name="header 2", after="header 1", length="2 m", extra_k=0.4, **wide),
        lines.Stretch(name="far", after="header 2", to="bed 3", **branch),
    ))  # fmt: skip
    assert lines.flows(header, flow="66.97 L/min").end_flow.m_as("L/min") == pytest.approx([24.14, 21.77, 21.06], rel=3e-3)


def test_keep_writes_the_openings_and_nothing_else(tmp_path):
    panel = flow_share.panel(my_build())
    panel.set(valve_1="66 %", valve_2="80 %")
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: valves open to the tank 66 %, to bed 1 80 %, to bed 2 100 %.")
    assert changed_lines(tmp_path / "my-build.toml") == [("opening = 0.75", "opening = 0.66"), ("opening = 0.75", "opening = 0.8")]
    again = flow_share.panel(my_build())
    assert again.values["valve_1"].m_as("") == pytest.approx(0.66)
    again.set(branch="to bed 2", size="32 mm", valve_1="75 %")
    again._press_keep()
    kept = {pipe.si.name: pipe.si for pipe in my_build().pumped["riser"].si.pipe}
    assert kept["to bed 2"].size == "32 mm"
    assert kept["to the tank"].opening == 0.75
    again.set(size="25 mm", valve_1="66 %")  # and back, in the same panel, where "as in my build" is now the 32 mm
    again._press_keep()
    assert my_build().pumped["riser"].si.pipe[4].si.size == "25 mm"
    assert my_build().pumped["riser"].si.pipe[1].si.opening == 0.66


def test_keep_where_a_valve_had_no_opening_and_a_pipe_only_a_bore(tmp_path):
    text = (
        load("courtyard")
        .text.replace("opening = 1.0\n", "")
        .replace('after = "header"\nsize = "25 mm"\nlength = "2.2 m"', 'after = "header"\nbore = "20 mm"\nlength = "2.2 m"')
    )
    (tmp_path / "my-build.toml").write_text(text, encoding="utf-8")
    panel = flow_share.panel(my_build())
    panel.set(valve_3="90 %", branch="to bed 2", size="32 mm")
    flow = panel.record.si.flow
    panel._press_keep()
    assert panel.kept.startswith("✔"), panel.kept
    assert flow_share.outcome(my_build()).si.flow == pytest.approx(flow, rel=1e-9)


def test_a_shut_valve_a_starved_end_and_no_valve_are_told_apart_in_words():
    panel = flow_share.panel(load("courtyard"))
    panel.set(valve_2=0.0)
    assert "Bed 1 runs dry" in panel.said
    assert "dry" in panel.picture.alt(panel.record)
    panel.set(valve_1=0.0, valve_3=0.0)
    assert panel.said == "No water comes out of riser."
    assert "no valve of its own" in flow_share.panel(load("far-bed-starved")).picture.alt(flow_share.outcome(load("far-bed-starved")))
    assert verdict(0.0, 0.0, 0.5) == ("dry", False)
    assert verdict(1.0, 0.549, 0.5) == ("✔", True)
    assert verdict(1.0, 0.56, 0.5) == ("▲ 12 % over", True)
    assert verdict(1.0, 0.2, 0.5) == ("▼ 60 % short", False)


def test_the_handle_turns_a_quarter():
    panel = flow_share.panel(load("courtyard"))
    for opening, degrees in ((1.0, 0), (0.5, 45), (0.0, 90)):
        panel.set(valve_2=opening)
        assert f"handle at {degrees}°" in panel.picture.alt(panel.record)


def test_the_drawing_says_what_each_vessel_gets():
    words = flow_share.picture(load("far-bed-starved"))
    alt = words.alt(words.record)
    assert "far bed 136 L/h, 3.6 % of it, 76 % short" in alt
    two_into_one = flow_share.picture(load("greenhouse"), "tank loop")
    assert "fish tank" in two_into_one.alt(two_into_one.record)
    assert "100 % of it, within a tenth of its share" in two_into_one.alt(two_into_one.record)


def test_the_guess_and_the_faulty_build():
    assert questions.guess().reply("less than a tenth").startswith("✔")
    seen = review(load("far-bed-starved"))
    assert "bed shares uneven" in {f.name for f in seen.findings}
    record = flow_share.outcome(load("far-bed-starved")).si
    near, far = record.ends.index("near spout"), record.ends.index("header 3")
    assert record.share[near] == pytest.approx(1 / 3, abs=0.03)  # "takes a third of all"
    assert record.wanted[far] == pytest.approx(0.15)
    assert record.total > 2 * seen["line main.wanted"].value  # "twice what is wanted"
    pipes = {p.si.name: p.si for p in load("far-bed-starved").pumped["main"].si.pipe}
    assert sum(pipes[name].length for name in ("header 1", "header 2", "header 3")) == pytest.approx(15)
    assert not any(pipes[name].valve for name in ("near spout", "middle spout", "header 3"))
    assert questions.fault().reply(questions.fault().answer).startswith("✔")


@pytest.mark.parametrize("place", [1, 2, 3, 4, 5])
def test_each_question_takes_its_own_answer_and_no_nonsense(place):
    question = questions.quiz()[place]
    steps = getattr(question, "_steps", None)
    answer = [question.options.index(step) + 1 for step in steps] if steps else question.answer
    for nonsense in ("", "  ", "9**9**9", "<b>1 m</b>", "nan", "1e999 s", "-1", "3 1", "Ω" * 500):
        assert question.reply(nonsense)[0] in "○✖"
    assert question.reply(answer).startswith("✔")


def test_the_answers_by_hand():
    quiz = questions.quiz()
    total, share = quiz[1].numbers["total"].m_as("L/h"), quiz[1].numbers["share"].m_as("")
    assert quiz[1].answer.m_as("s") == pytest.approx(36_000 / (total * share))
    assert quiz[2].answer.m_as("percent") == pytest.approx(100 - quiz[2].numbers["angle"] / 0.9)
    assert quiz[2].reply(f"{100 - quiz[2].numbers['angle'] / 0.9:.0f} %").startswith("✔")
    head, speed = quiz[3].numbers["head"].m_as("m"), quiz[3].numbers["speed"].m_as("m/s")
    assert quiz[3].answer.m_as("") == pytest.approx(19.62 * head / speed**2)
    # Munson 6e Table 8.2, ball valve a third and two thirds closed: 5.5 and 210
    assert fittings.valve_k("ball valve", 2 / 3) == pytest.approx(5.5)
    assert fittings.valve_k("ball valve", 1 / 3) == pytest.approx(210)


def test_numbers_differ_by_name():
    for place in (1, 2, 3):
        assert len({questions.quiz(name)[place].prompt for name in ("Ama", "Ben", "Chika", "Dewi", "Elif")}) > 1

"""Questions: every reply, hostile answers, each learner's own numbers, and the view."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.units import DesignError, u


@pytest.fixture(autouse=True)
def strict(monkeypatch):
    monkeypatch.setenv("AQUAPLUMB_STRICT", "1")


@pytest.fixture
def flow():
    return Question("How much?", "1.5 m3/h", hint="Mind the unit.", worked="Twice 750 L/h.", why="It fits the pipe.")


# Conversions by the definitions of the units: 1 m³ = 1000 L, 1 h = 60 min = 3600 s, 1 US gal = 3.785411784 L.
@pytest.mark.parametrize(
    ("said", "told"),
    [
        pytest.param("1.5 m3/h", "✔ Right", id="as said"),
        pytest.param("1500 L/h", "✔ Right", id="in another unit"),
        pytest.param("25 L/min", "✔ Right", id="by the minute"),
        pytest.param("396.26 gal/h", "✔ Right", id="US gallons"),
        pytest.param("1.52 m3/h", "✔ Right", id="inside two percent"),
        pytest.param("1 1/2 m3/h", "✔ Right", id="a vulgar fraction"),
        pytest.param(1500 * u.L / u.h, "✔ Right", id="a quantity"),
        pytest.param("1.54 m3/h", "too high", id="just outside"),
        pytest.param("1.46 m3/h", "too low", id="just outside below"),
        pytest.param("15 m3/h", "ten times too high", id="ten"),
        pytest.param("0.15 m3/h", "ten times too low", id="a tenth"),
        pytest.param("0.015 m3/h", "a hundred times too low", id="a hundredth"),
        pytest.param("1500 m3/h", "a thousand times too high", id="litres for cubic metres"),
        pytest.param("1500 L/min", "60 times too high", id="minutes for hours"),
        pytest.param("5.4 m3/h", "3.6 times too high", id="3.6"),
        pytest.param("0.4167 m3/h", "3.6 times too low", id="1 over 3.6"),
        pytest.param("5400 m3/h", "3,600 times", id="seconds for hours"),
        pytest.param("0.6667 m3/h", "upside down", id="the inverse"),
        pytest.param("-1.5 m3/h", "wrong sign", id="sign"),
        pytest.param("1.5 L/h", "The number is right, but not with the unit", id="wrong unit"),
        pytest.param("1.5 m3", "The number is right, but 1.5 m3 is a volume; the answer is a flow", id="wrong dimension"),
        pytest.param("7 m3", "7 m3 is a volume; the answer is a flow", id="wrong in both"),
        pytest.param("1.5", "○ The number is right. Now give it its unit", id="unit forgotten"),
        pytest.param(1.5, "○ The number is right. Now give it its unit", id="a bare number"),
        pytest.param("77", "○ 77 has no unit", id="no unit and wrong"),
        pytest.param("1,5 m3/h", "comma", id="decimal comma"),
        pytest.param("frogs", "does not start with a number", id="no number"),
        pytest.param("3 frogs", "I do not know the unit 'frogs'", id="unknown unit"),
        pytest.param("", "○ Not answered yet.", id="blank"),
        pytest.param(None, "○ Not answered yet.", id="nothing"),
        pytest.param(..., "○ Not answered yet.", id="dots"),
    ],
)
def test_replies(flow, said, told):
    assert told in flow.reply(said)


def test_right_says_why(flow):
    assert flow.reply("1500 L/h") == "✔ Right: 1.5 m³/h. It fits the pipe."


def test_hint_then_worked_answer(flow):
    first, second, third = flow.reply("3 m3/h"), flow.reply("4 m3/h"), flow.reply("5 m3/h")
    assert "Hint" not in first and "Hint: Mind the unit." in second and "Worked" not in second
    assert "Worked out: Twice 750 L/h. The answer is 1.5 m³/h." in third
    assert flow.standing == "answer shown"
    flow.reply("1.5 m3/h")
    assert flow.standing == "right after the answer was shown"


def test_the_answer_is_not_given_away_before(flow):
    for said in ("3 m3/h", "77", "7 m3", "frogs", "", "1,7 m3/h"):
        assert "1.5" not in flow.reply(said) and "1500" not in flow.reply(said)


def test_running_again_is_not_another_miss(flow):
    for _ in range(5):
        flow.reply("3  m3/h ")
    assert len(flow.misses) == 1
    flow.reply("frogs")
    flow.reply("77")
    assert len(flow.misses) == 1


def test_plain_number():
    question = Question("Which share is left?", 0.25)
    assert question.reply("25 %").startswith("✔") and question.reply(0.25).startswith("✔") and question.reply("1/4").startswith("✔")
    assert "a hundred times too high" in question.reply("25")
    assert "upside down" in Question("Which share?", 0.3).reply("3.3333")
    assert "0.25 L" in question.reply("0.25 L")


def test_temperature_is_judged_in_degrees_not_kelvin():
    question = Question("How warm?", "24 degC")
    assert question.reply("24.4 degC").startswith("✔") and question.reply("75.2 °F").startswith("✔")
    assert "too low" in question.reply("23 degC") and "too high" in question.reply("26 degC")
    close = Question("How warm?", "24 degC", within="0.1 degC")
    assert close.reply("24.1 degC").startswith("✔") and "too high" in close.reply("24.2 degC")


def test_a_named_slip_is_recognised():
    question = Question(
        "Head for {lift} of lift and {loss} of friction?", lambda lift, loss: lift + loss,
        draw={"lift": ["1 m", "1.2 m"], "loss": ["0.45 m", "0.7 m"]}, slips=[(lambda lift, loss: loss, "You left out the lift of {lift}.")],
    )  # fmt: skip
    assert "You left out the lift of" in question.reply(question.numbers["loss"])
    assert question.reply(question.answer).startswith("✔")


def test_zero_answer():
    assert Question("Fall of a level line?", "0 m").reply("0 m").startswith("✔")
    assert "too high" in Question("Fall of a level line?", "0 m").reply("1 m")


DRAWN = {"tank": ("600 L", "1400 L", "100 L"), "bore": ["20 mm", "25 mm"], "count": (2, 5, 1)}


def drawn(learner=""):
    return Question("{tank} {bore} {count}", lambda tank, bore, count: tank / (count * u.h), draw=DRAWN, learner=learner)


def test_numbers_are_the_learners_own_and_stay():
    names = [f"learner {place}" for place in range(40)]
    prompts = {name: drawn(name).prompt for name in names}
    assert len(set(prompts.values())) > 20
    assert all(drawn(name).prompt == prompts[name] for name in names)
    assert drawn("  Learner   7").prompt == prompts["learner 7"]  # capitals and blanks do not matter
    assert drawn().prompt == drawn("").prompt == drawn("   ").prompt
    for name in names:
        numbers = drawn(name).numbers
        assert 600 <= numbers["tank"].m_as("L") <= 1400 and numbers["tank"].m_as("L") % 100 == 0 and 2 <= numbers["count"] <= 5


def test_numbers_do_not_depend_on_the_process():
    """Python's own hash() differs from one process to the next; a learner's numbers must not."""
    code = ("from aquaplumb.questions.quiz import Question\n"
            f"print(Question('{{tank}} {{count}}', 1, draw={ {k: DRAWN[k] for k in ('tank', 'count')} }, learner='Ada').prompt)")  # fmt: skip
    shown = {
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=Path(__file__).parents[1]).stdout
        for _ in range(2)
    }
    assert len(shown) == 1


def test_a_long_answer_is_known_by_its_whole_text():
    """A list on the screen hands over the whole answer, however long."""
    long = "air stones in the tank, on an air pump with a battery (kept charged)"
    question = Pick("Which?", {long: "", f"{long[:50]} or none at all": "No."}, long)
    assert question.reply(long).startswith("✔")
    assert question.reply(f"{long[:50]} or none at all").startswith("✖ Not yet. No.")


def test_pick():
    question = Pick("Which pipe?", {"25 mm": "", "20 mm": "Too fast: 2 m/s."}, "25 mm", why="It is quiet.")
    assert question.reply("25 MM.") == "✔ Right: 25 mm. It is quiet."
    assert "Too fast" in question.reply("20 mm")
    letter = "ab"[question.options.index("25 mm")]
    assert question.reply(letter).startswith("✔") and question.reply(f"{letter.upper()})").startswith("✔")
    assert "give the letter" in question.reply("32 mm") and question.reply(" ") == "○ Not answered yet."
    with pytest.raises(DesignError):
        Pick("Which?", ["a", "b"], "c")


def test_order():
    steps = ["close the valve", "prime the pump", "switch on", "open slowly"]
    question = Order("In which order?", steps)
    assert question.options != steps and sorted(question.options) == sorted(steps)
    right = [question.options.index(step) + 1 for step in steps]
    assert question.reply(" ".join(map(str, right))).startswith("✔") and question.reply(right).startswith("✔")
    swapped = [right[0], right[1], right[3], right[2]]
    assert "The first 2 are right" in question.reply(", ".join(map(str, swapped)))
    for unclear in ("1 2", "1 1 2 3", "1 2 3 5", "one two", "1 2 3 4 and so on"):
        assert "each once" in question.reply(unclear)


ALL = [
    lambda: Question("How much?", "900 L/h"),
    lambda: Question("Which share?", 0.3),
    lambda: Pick("Which?", ["one", "two"], "one"),
    lambda: Order("Order?", ["first", "second", "third"]),
]
HOSTILE = ["9**9**9", "9**9**9 L/h", "1e999 L/h", "nan L/h", "inf", "🐟" * 50, "<script>alert(1)</script>", "x" * 1_000_000, "1" * 5000,
           "1 " * 5000, "{answer}", "{0.__class__}", "%s%n", "1/0 L/h", "\x00\x1b[31m", "٣ L/h", "1 2 3 " + "9" * 400,
           "1 m**99/h", "L/h", "-", "'; drop", [], {}, object, float("nan"), float("inf"), True, 10**400, 10**5000, [1, 2] * u.m, b"900 L/h", 3j]  # fmt: skip


@pytest.mark.parametrize("question", ALL, ids=["number", "plain", "pick", "order"])
@pytest.mark.parametrize("said", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_answers_get_a_short_sentence(question, said):
    reply = question().reply(said)
    assert reply[0] in "○✖" and len(reply) < 400 and "aquaplumb" not in reply


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.text(max_size=80))
def test_any_text_gets_a_reply(text):
    for question in ALL:
        assert len(question().reply(text)) < 400


def test_a_fault_of_ours_is_told_to_learners_and_raised_in_tests(monkeypatch):
    question = Question("How much?", "900 L/h", slips=[(lambda: 1 / 0, "never")])
    with pytest.raises(ZeroDivisionError):
        question.reply("1 L/h")
    monkeypatch.delenv("AQUAPLUMB_STRICT")
    assert "this is a fault in aquaplumb" in question.reply("1 L/h")


def test_results_line():
    quiz = Quiz("pump choice", [ALL[0](), ALL[2](), ALL[3]()], learner="Ada")
    assert quiz.results_line() == "Ada · pump choice · 0 of 3 right (1: not answered yet; 2: not answered yet; 3: not answered yet)"
    quiz[1].reply("9 m3/h")
    quiz[1].reply("900 L/h")
    quiz[2].reply("one")
    assert quiz.results_line() == "Ada · pump choice · 2 of 3 right (1: right after 1 miss; 2: right at once; 3: not answered yet)"
    quiz.learner = "Bo"
    assert "0 of 3" in quiz.results_line()
    quiz.learner = "<b>\n" + "x" * 500
    assert "\n" not in quiz.results_line() and len(quiz.results_line()) < 200
    with pytest.raises(DesignError, match="1 to 3"):
        quiz[4]


def test_view_answers_and_escapes():
    from aquaplumb.questions.screen import view

    questions = [ALL[0](), Pick("<i>Which?</i>", ["one", "<u>two</u>"], "one"), ALL[3]()]
    quiz = Quiz("<script>", questions)
    box = view(questions, quiz)
    _title, name, _style, *shown, line = box.children
    assert "&lt;script&gt;" in _title.value
    first, second, _third = shown
    first.children[1].children[0].value = "900 L/h"  # the Enter key
    assert "✔ Right" in first.children[2].value and "1 of 3" in line.value
    second.children[1].children[1].click()
    assert "Not answered yet" in second.children[2].value
    second.children[1].children[0].value = "<u>two</u>"
    second.children[1].children[1].click()
    everything = "".join(part.value for one in shown for part in (one.children[0], one.children[2]))
    assert not re.search(r"<[iu]>", everything) and "✖ Not yet" in second.children[2].value
    name.value = "<img src=x>"
    assert "<img" not in line.value and "Not answered yet" in first.children[2].value
    assert first.children[1].children[0].value == ""


def test_shows_in_a_notebook_and_in_print():
    question = drawn()
    assert question._repr_mimebundle_()["text/plain"] == question.prompt == repr(question)
    assert "widget-view" in "".join(question._repr_mimebundle_())


def test_logic_needs_no_widgets():
    code = (
        "import sys; from aquaplumb.questions.quiz import Question; Question('?', '1 m').reply('1 m'); print('ipywidgets' in sys.modules)"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=Path(__file__).parents[1])
    assert shown.stdout.strip() == "False"

"""Questions: every reply, hostile answers, each learner's own numbers, and the view."""

import asyncio
import importlib
import inspect
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aquaplumb.figures.style import rich
from aquaplumb.questions import asked, learner, screen
from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.questions.screen import view
from aquaplumb.units import FLOW, SYSTEMS, DesignError, u
from pages import one_sided


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
        pytest.param("1.52 m3/h", "✔ Right", id="inside"),
        pytest.param("1 1/2 m3/h", "✔ Right", id="a vulgar fraction"),
        pytest.param(1500 * u.L / u.h, "✔ Right", id="a quantity"),
        pytest.param("1.54 m3/h", "✔ Right", id="inside three percent"),
        pytest.param("1.55 m3/h", "too high", id="just outside"),
        pytest.param("1.45 m3/h", "too low", id="just outside below"),
        pytest.param("1,500 L/h", "✔ Right", id="a comma for thousands, as our pages print it"),
        pytest.param("1,400 L/h", "comma", id="a comma, and wrong either way"),
        pytest.param("3000/2 L/h", "✔ Right", id="a sum, its unit behind it"),
        pytest.param("3000 L / 2 h", "✔ Right", id="a sum with units in it"),
        pytest.param("2 × 750 L/h", "✔ Right", id="a sum as one writes it"),
        pytest.param("(1000 + 500) L/h", "✔ Right", id="a sum in brackets"),
        pytest.param("3000/2", "○ 3000/2 has no unit", id="a sum without a unit"),
        pytest.param("3/2", "○ The number is right. Now give it its unit: 3/2 of what?", id="a sum, the unit forgotten"),
        pytest.param("1000 L/h + 500 kg", "○", id="a sum of apples and pears"),
        pytest.param("1500 L/h / 0", "○", id="a sum that divides by nothing"),
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
        pytest.param("frogs", "○ frogs has no number in it; write a number and its unit, such as m³/h.", id="no number"),
        pytest.param("3 frogs", "I do not know the unit 'frogs'", id="unknown unit"),
        pytest.param("", "○ Not answered yet.", id="blank"),
        pytest.param(None, "○ Not answered yet.", id="nothing"),
        pytest.param(..., "○ Not answered yet.", id="dots"),
    ],
)
def test_replies(flow, said, told):
    assert told in flow.reply(said)


def test_a_right_number_with_our_comma_lacks_only_its_unit():
    """Pages write 1,500 L/h: who types 1,500 was told of a decimal point."""
    assert "The number is right. Now give it its unit: 1,500 of what?" in Question("How much?", answer="1500 L/h").reply("1,500")
    assert "comma" in Question("How much?", answer="1.5 L/h").reply("1,5")


def test_an_answer_is_said_as_pages_say_a_number_and_typed_back_is_right():
    tank = Question(
        "{tank} an hour?", answer=lambda tank: tank / u.h, draw={"tank": ["1600 L"]}, slips=[("2500 L/h", "That is the other tank.")]
    )
    assert tank.prompt == "1,600 L an hour?" and FLOW.text(1.6 / 3600) == "1,600 L/h"
    assert tank.solution.answer == "1,600 L/h" and tank.reply(tank.solution.answer) == "✔ Right: 1,600 L/h."
    assert tank.solution.wrong == [("2,500 L/h", "That is the other tank.")]
    assert tank.verdict("2,500 L/h").text == "That is the other tank." == tank.verdict("2500 L/h").text


@pytest.mark.parametrize("ask", ["In how many seconds is it full?", "How long does it take, in s?"])
def test_a_question_that_names_the_unit_takes_the_bare_number(ask):
    asked = Question(ask, 42 * u.s)
    assert asked.reply("42").startswith("✔") and asked.reply("42 min").startswith("✖")
    assert asked.reply("77").startswith("✖ Not yet. 77 is too high")


@pytest.mark.parametrize("said", ["12 gal", "banana", "0.9 ft"])
def test_a_reply_to_what_is_no_plain_number_shows_no_number_of_its_own(said):
    """The example in the door's own sentence was once the right answer, 0.4."""
    reply = Question("How far is it open?", 40 * u.percent).reply(said)
    assert reply[0] in "○✖" and not re.search(r"\d", reply.replace(said, ""))


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


def asked_on_pages(units):
    """Each question of each page, by where it stands."""
    for path in sorted(Path(asked.__file__).parent.glob("*.py")):
        module = importlib.import_module(f"aquaplumb.questions.{path.stem}")
        for name in ("guess", "round_guess", "sun_guess", "turn_guess", "quiz", "fault") if hasattr(module, "fault") else ():
            if make := getattr(module, name, None):
                made = make(units=units) if "units" in inspect.signature(make).parameters else make()
                yield from ((f"{path.stem} {name}", one) for one in getattr(made, "questions", [made]))


def told(question):
    """All that a question may say: its prompt, hint, worked answer, reason, each wrong answer and the reply to it."""
    yield from (question.prompt, *map(question._filled, (question._hint, question._worked, question._why)), question._answer_text())
    yield from (words for pair in question._wrong() for words in pair)


@pytest.mark.parametrize("units", SYSTEMS)
def test_no_question_reply_or_hint_of_a_page_speaks_the_other_units_alone(units):
    asked = list(asked_on_pages(units))
    assert len({where.split()[0] for where, _ in asked}) == 14
    assert not [(where, part) for where, question in asked for text in told(question) for part in one_sided(text, units)]


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
    assert question.reply("".join(map(str, right))).startswith("✔"), "without anything between them"
    for unclear in ("1 2", "1 1 2 3", "1 2 3 5", "one two", "1 2 3 4 and so on", "1123", "12345"):
        assert "each once" in question.reply(unclear)
    assert not re.search(r"\d \d", question.reply("1 2")), "no order is shown, the right one least of all"


def said(question, steps):
    return question.reply([question.options.index(step) + 1 for step in steps])


def test_steps_that_may_stand_in_either_order():
    question = Order("In which order?", ["dig", ("lay pipe", "lay cable"), "fill in"])
    assert said(question, ["dig", "lay pipe", "lay cable", "fill in"]).startswith("✔")
    assert said(question, ["dig", "lay cable", "lay pipe", "fill in"]).startswith("✔")
    assert "The first 2 are right" in said(question, ["dig", "lay cable", "fill in", "lay pipe"])
    assert "in any order: lay pipe; and lay cable" in said(question, ["dig", "lay pipe", "lay cable", "fill in"])
    for place in range(40):
        other = Order("?", ["one", ("two", "three")], learner=f"learner {place}")
        assert said(other, other.options).startswith("✖"), "never shown already solved"


def test_a_circle_may_be_told_from_another_place():
    question = Order("Round and round:", ["tank", "bed", "sump"], also=["sump", "tank", "bed"])
    assert said(question, ["tank", "bed", "sump"]).startswith("✔") and said(question, ["sump", "tank", "bed"]).startswith("✔")
    assert said(question, ["bed", "sump", "tank"]).startswith("✖")
    with pytest.raises(DesignError, match="the same steps"):
        Order("?", ["a", "b"], also=["a", "c"])


# What the words of a question suggest: a day's feed in grams, a weight on an area in kilograms. 9.81 m/s², standard gravity.
@pytest.mark.parametrize(
    ("prompt", "answer", "given", "told"),
    [
        ("How much feed is that, when each fish eats 6 g a day?", "240 g/d", "240 g", "✔ Right: 240 g/d."),
        ("How much feed is that, when each fish eats 6 g a day?", "240 g/d", "0.24 kg", "✔ Right: 240 g/d."),
        ("How much feed is that, when each fish eats 6 g a day?", "240 g/d", "10 g", "✖ Not yet"),
        ("How much feed is that?", "240 g/d", "240 g", "is a mass"),
        ("How much does each day's water need?", "87 mg", "87 mg/d", "✔ Right: 87 mg."),
        ("Which flow is that, in an hour?", "900 L/h", "900 L", "is a volume"),
        ("What load is that?", "5.4 kN/m2", "550 kg/m2", "✔ Right: 550 kg/m²; times 9.81 that is 5.4 kN/m²."),
        ("What load is that?", "5.4 kN/m2", "55 kg/m2", "✖ Not yet"),
        ("What load is that?", "5.4 kN/m2", "113 psf", "✔ Right"),
        ("What does it weigh?", "900 kg", "8.83 kN", "✔ Right: 8.83 kN; over 9.81 that is 900 kg."),
        ("What is the density?", "10.7 kg/m3", "15/1.4 kg/m3", "✔ Right"),
        ("What is the density?", "10.7 kg/m3", "15 kg / 1.4 m3", "✔ Right"),
        ("What is the density?", "10.7 kg/m3", "15 kg / 1400 L", "✔ Right"),
        ("What is the density?", "10.7 kg/m3", "15/1.4", "○ The number is right. Now give it its unit"),
        ("How hard does it press?", "3.92 kN/m2", "4 kN/m2", "✔ Right"),
        ("How long?", "1.16 h", "1.2 h", "✔ Right"),
        ("How long?", "1.16 h", "70 min", "✔ Right"),
        ("How much?", "1.16 kg", "1.1 kg", "✖ Not yet"),
        ("How far is it open?", "50 %", "50", "✔ Right"),
        ("How far is it open?", "50 %", "0.5", "✔ Right"),
        ("How far is it open?", "50 %", "1/2", "✔ Right"),
        ("How far is it open?", "50 %", "45/90", "✔ Right"),
        ("How many lengths?", "4", "8/2", "✔ Right"),
    ],
)
def test_a_careful_answer_is_not_refused(prompt, answer, given, told):
    if answer.endswith("%"):
        answer = float(answer[:-2]) * u.percent
    elif answer.isdigit():
        answer = float(answer)
    assert told in Question(prompt, answer).reply(given)


@pytest.mark.sweep(6)
@pytest.mark.parametrize("name", [path.stem for path in (Path(asked.__file__).parent).glob("*.py") if "def quiz(" in path.read_text()])
def test_no_slip_of_a_page_passes_for_its_answer(name):
    module = importlib.import_module(f"aquaplumb.questions.{name}")
    for place in range(30):
        for question in module.quiz(f"learner {place}").questions:
            for slip, _words in getattr(question, "_slips", ()):
                reply = question.reply(question._worth(slip))
                assert reply.startswith("✖"), f"{question.prompt}: {reply}"
            if isinstance(question, Question):
                assert question.reply(question.answer).startswith("✔")
                shown = f"{float(question.answer.magnitude):.2g} {question.answer.units:~P}"
                assert question.reply(shown).startswith("✔") or "e" in shown, shown


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
    assert quiz.results_line() == "Ada · pump choice · 0 of 3 right"
    quiz[1].reply("9 m3/h")
    quiz[1].reply("900 L/h")
    quiz[2].reply("one")
    assert quiz.results_line() == "Ada · pump choice · 2 of 3 right (1: right after 1 miss; 2: right at once)"
    quiz.learner = "Bo"
    assert quiz.results_line() == "Bo · pump choice · 2 of 3 right (1: right after 1 miss; 2: right at once)"
    quiz.learner = "<b>\n" + "x" * 500
    assert "\n" not in quiz.results_line() and len(quiz.results_line()) < 200
    with pytest.raises(DesignError, match="1 to 3"):
        quiz[4]


def test_a_name_keeps_what_stays_true():
    quiz = Quiz("?", [drawn(), ALL[0](), ALL[2](), ALL[3]()])
    first = quiz[1].answer
    quiz[1].reply(first)
    quiz[2].reply("7 m3/h")
    quiz[3].reply("two")
    steps = ["first", "second", "third"]
    said(quiz[4], steps)
    quiz.learner = next(name for name in ("Ada", "Bo", "Cy", "Di") if drawn(name).answer != first)
    assert [question.standing for question in quiz.questions] == ["not answered yet", "not yet right", "not yet right", "right at once"]
    assert quiz[4].given == " ".join(str(quiz[4].options.index(step) + 1) for step in steps), "told in the order that is shown now"
    assert quiz[1].given is None and quiz[2].given == "7 m3/h" and quiz[3].given == "two"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def name_box(quiz):
    return view(quiz.questions, quiz).children[0]


def test_a_name_is_remembered_from_page_to_page(folder):
    name_box(Quiz("One page", [drawn()])).value = "  Ada "
    assert (folder / learner.FILE).read_text() == "Ada\n"
    other = Quiz("Another page", [drawn()])
    box = name_box(other)
    assert box.value == other.learner == "Ada" and other[1].prompt == drawn("Ada").prompt
    box.value = ""
    assert not (folder / learner.FILE).exists() and other[1].prompt == drawn().prompt
    assert name_box(Quiz("A teacher's", [drawn()], learner="Bo")).value == "Bo" and not (folder / learner.FILE).exists()


def test_what_is_asked_on_the_screen_is_what_is_graded(folder):
    """The numbers of a name from an earlier page stand in the question at once, not those of no name."""
    learner.remember("Ada")
    assert drawn("Ada").prompt != drawn().prompt
    steps = ["first", "second", "third", "fourth"]
    quiz = Quiz("Another page", [drawn(), Order("Order?", steps)])
    shown = [box.children[0].value for box in view(quiz.questions, quiz).children[3:5]]
    assert rich(quiz[1].prompt) in shown[0]
    assert [shown[1].index(rich(step)) for step in quiz[2].options] == sorted(shown[1].index(rich(step)) for step in steps)


def test_a_name_says_where_it_is_kept(folder):
    quiz = Quiz("One page", [drawn()])
    box = view(quiz.questions, quiz)
    assert box.children[1].value == ""
    box.children[0].value = "Ada"
    assert "my-name.txt, beside this page and nowhere else" in box.children[1].value
    (folder / learner.FILE).unlink()
    (folder / learner.FILE).mkdir()
    box.children[0].value = "Bo"
    assert "for this page only" in box.children[1].value and quiz.learner == "Bo"
    assert learner.remembered() == ""


def test_one_question_is_shown_after_another(folder):
    quiz = Quiz("One page", [drawn(), Pick("Which?", ["a", "b"], "a"), Pick("And?", ["c", "d"], "d")])
    *_, one, two, three, following, _line = view(quiz.questions, quiz).children

    def seen():
        return [part.layout.display is None for part in (one, two, three, following)]

    def check(part, answer):
        part.children[1].children[0].value = answer
        part.children[1].children[1].click()

    assert seen() == [True, False, False, True] and following.description == "Question 2 of 3"
    check(one, "1 frog")
    assert seen() == [True, False, False, True]  # one may try again
    following.click()  # or go on
    assert seen() == [True, True, False, True]
    check(two, "a")
    assert seen() == [True, True, False, True]  # the first is not answered yet
    check(one, str(quiz[1].answer))
    assert seen() == [True, True, True, False]
    again = view(quiz.questions, quiz).children  # a page that is opened again: what is answered stands there
    assert [part.layout.display is None for part in again[-5:-1]] == [True, True, True, False]


def press_enter(box, text):
    """What the front end does: it says that Enter was pressed, and then what is new in the box."""
    box._handle_custom_msg({"event": "submit"}, [])
    box.value = text


def test_leaving_a_box_does_not_check_it():
    question = ALL[0]()
    shown = view([question], None).children[1]
    entry, button = shown.children[1].children
    entry.value = "7 m3/h"  # typed, and left
    assert "Not answered yet" in shown.children[2].value and not question.misses
    button.click()
    assert "✖ Not yet" in shown.children[2].value and question.misses == ["7 m3/h"]
    entry.value = "8"
    press_enter(entry, "900 L/h")
    assert "✔ Right" in shown.children[2].value and question.misses == ["7 m3/h"], "what was only passed through is no miss"
    entry.value = "9 L/h"
    assert "✔ Right" in shown.children[2].value


def test_enter_on_what_stands_there_checks_it():
    async def pressed():
        question = ALL[0]()
        shown = view([question], None).children[1]
        entry = shown.children[1].children[0]
        entry.value = "900 L/h"
        entry._handle_custom_msg({"event": "submit"}, [])
        await asyncio.sleep(2 * screen._SOON)
        assert question.solved
        entry.value = "1 L/h"
        assert not question.misses

    with ThreadPoolExecutor(1) as elsewhere:  # a browser's test in this process may have a loop of its own running
        elsewhere.submit(asyncio.run, pressed()).result()


def test_view_answers_and_escapes(folder):
    questions = [ALL[0](), Pick("<i>Which?</i>", ["one", "<u>two</u>"], "one"), ALL[3]()]
    quiz = Quiz("<script>", questions)
    box = view(questions, quiz)
    name, _kept, _style, *shown, _following, line = box.children
    assert line.value.endswith("></div>"), "nothing is told before there is something to tell"
    first, second, _third = shown
    press_enter(first.children[1].children[0], "900 L/h")
    assert "✔ Right" in first.children[2].value and "1 of 3" in line.value and "&lt;script&gt;" in line.value
    second.children[1].children[1].click()
    assert "Not answered yet" in second.children[2].value
    second.children[1].children[0].value = "<u>two</u>"
    second.children[1].children[1].click()
    everything = "".join(part.value for one in shown for part in (one.children[0], one.children[2]))
    assert not re.search(r"<[iu]>", everything) and "✖ Not yet" in second.children[2].value
    name.value = "<img src=x>"
    assert "<img" not in line.value and "✔ Right" in first.children[2].value, "the same for every name"
    assert first.children[1].children[0].value == "900 L/h" and second.children[1].children[0].value == "<u>two</u>"


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


def test_an_answered_gate_stays_open_when_its_page_is_run_again(tmp_path, monkeypatch):
    from aquaplumb.questions import drain_siphon, learner
    from aquaplumb.questions.screen import view

    monkeypatch.chdir(tmp_path)
    view([drain_siphon.guess()], None)
    drain_siphon.guess().reply("it never starts again")
    assert not (tmp_path / learner.GUESSES).exists()  # nobody sits before it: no file

    monkeypatch.setattr(learner, "_in_a_kernel", lambda: True)
    first, passed_by = drain_siphon.guess(), drain_siphon.guess(units="US")
    view([first], None), view([passed_by], None)
    assert not first.opened and not passed_by.opened
    first.reply("nothing changes")
    passed_by.open()  # "Show me"
    again, other, unseen = drain_siphon.guess(), drain_siphon.guess(units="US"), drain_siphon.round_guess()
    shown = view([again], None)
    view([other], None)
    assert again.opened and again.given == "nothing changes" and "ap-shut" not in shown.children[1]._dom_classes
    assert other.opened and other.given is None and not unseen.opened
    entry, check = shown.children[1].children[1].children[:2]
    entry.value = "it never starts again"  # changed once the page is open
    check.click()
    changed = drain_siphon.guess()
    view([changed], None)
    assert changed.given == "it never starts again" and "Right" in shown.children[1].children[2].value
    (tmp_path / learner.GUESSES).write_text("[not what we wrote", encoding="utf-8")
    spoilt = drain_siphon.guess()
    view([spoilt], None)
    assert not spoilt.opened

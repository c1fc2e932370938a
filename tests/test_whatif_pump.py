"""The pump what-if: every end of every slider, both unit systems, and no word against the review."""

import math

import pytest

from aquaplumb.build import load, my_build
from aquaplumb.questions import pump as questions
from aquaplumb.review import review
from aquaplumb.review.findings import found
from aquaplumb.units import FLOW, si_value, u
from aquaplumb.whatif import pump
from pages import changed_lines

CASES = [("courtyard", "riser"), ("greenhouse", "tank loop"), ("greenhouse", "bed loop")]


pytestmark = pytest.mark.usefixtures("strict")


@pytest.mark.parametrize(("name", "line"), CASES)
def test_the_panel_starts_as_the_review_has_it(name, line):
    build = load(name)
    seen, panel = review(build), pump.panel(build, line)
    record = panel.record.si
    assert record.flow == pytest.approx(seen[f"line {line}.flow"].value, rel=1e-9)
    assert record.head == pytest.approx(seen[f"line {line}.head"].value, rel=1e-9)
    assert [f.name for f in record.findings] == [f.name for f in found(seen.system)]
    assert FLOW.text(record.flow, build.units) in panel.said


def test_what_the_page_says_you_should_have_seen():
    """Notebook 08's own words: lift hurts a weak pump most; half clogged costs little, nearly shut a lot; a sagging battery takes more than its share."""
    panel = pump.panel(load("courtyard"))

    def flow(**changes):
        panel.set(**changes)
        return panel.record.si.flow

    def lost_by_lift(name):
        return 1 - flow(pump=name, lift="1.8 m") / flow(pump=name, lift="1.3 m")

    assert lost_by_lift("demo mains 45 W submersible") > 1.5 * lost_by_lift("demo mains 180 W external")
    panel.set(lift="1.3 m", pump="demo mains 120 W submersible")
    clean = flow(blocked=0.0)
    assert flow(blocked=0.5) > 0.95 * clean
    assert flow(blocked=0.9) < 0.75 * clean
    panel.set(blocked=0.0, pump="demo 24 V 100 W external")
    full = panel.record.si
    panel.set(speed=0.9)
    sagged = panel.record.si
    assert 1 - sagged.flow / full.flow == pytest.approx(0.15, abs=0.01)  # "a tenth less speed, 15 % less water"
    assert sagged.lift == full.lift  # "the lift stays"
    assert sagged.pump_heads[0] / full.pump_heads[0] == pytest.approx(0.9**2)  # "with the square of its speed"
    assert sagged.pump_heads[0] / full.pump_heads[0] < sagged.pump_flows[-1] / full.pump_flows[-1] < 1
    assert sagged.works
    panel.set(speed=1.0, pump="demo mains 280 W external")
    assert {"siphon never stops", "pump far too strong"} <= {f.name for f in panel.record.si.findings}


def test_the_guess_is_right_for_the_pump_it_speaks_of():
    """ "3,600 L/h in large print … about seven tenths": the 80 W demo pump on the demo's line."""
    panel = pump.panel(load("courtyard"))
    panel.set(pump="demo mains 80 W submersible")
    record = panel.record.si
    assert FLOW.text(record.pump_flows[-1]) == "3,600 L/h"
    assert record.flow / record.pump_flows[-1] == pytest.approx(0.7, abs=0.03)
    assert questions.guess().reply("about seven tenths").startswith("✔")


def test_keep_writes_the_pump_and_nothing_else(tmp_path):
    panel = pump.panel(my_build())
    panel.set(pump="demo 24 V 100 W external")
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: riser has demo 24 V 100 W external.")
    assert changed_lines(tmp_path / "my-build.toml") == [('pump = "demo mains 120 W submersible"', 'pump = "demo 24 V 100 W external"')]
    again = pump.panel(my_build())
    assert again.values["pump"] == "demo 24 V 100 W external"
    again.set(wanted="3000 L/h")
    again._press_keep()
    assert my_build().lines["riser"].wanted.to("L/h").magnitude == pytest.approx(3000)


def test_your_own_pump_from_a_makers_file(tmp_path):
    (tmp_path / "mine.csv").write_text("flow [gal/h],head [ft],power [W]\n0,14,70\n500,11,85\n900,6,95\n1200,0,100\n", encoding="utf-8")
    path = tmp_path / "my-build.toml"
    path.write_text(load("courtyard").text.replace('pump = "demo mains 120 W submersible"', 'pump_file = "mine.csv"'), encoding="utf-8")
    panel = pump.panel(load(path))
    assert panel.values["pump"] == "mine"
    assert panel.record.si.pump_heads[0] == pytest.approx((14 * u.ft).to("m").magnitude)
    panel.set(pump="demo mains 180 W external")
    panel._press_keep()
    kept = load(path)
    assert kept.lines["riser"].si.pump == "demo mains 180 W external"
    assert kept.lines["riser"].si.pump_file == ""


def test_a_pump_too_weak_shows_no_water_and_a_cross():
    panel = pump.panel(load("courtyard"))
    panel.set(pump="demo 12 V 5 W submersible")
    assert panel.said.startswith("No water.")
    assert panel.record.si.flow == 0
    assert not panel.record.si.works
    assert panel.found[0][0] == "stop"


def test_the_ranking_puts_what_works_first():
    table = pump.ranking(load("courtyard"))
    margins = [int(m.rstrip("%")) for m in table["margin"]]
    assert margins[0] >= 0
    assert margins[-1] == -100
    assert len(table) == len(pump.pumps.names())


@pytest.mark.parametrize("place", [1, 2, 3])
def test_each_question_takes_its_own_answer_and_differs_by_name(place):
    one, other = questions.quiz(), questions.quiz("Ama")
    question = one[place]
    assert question.reply(question.answer).startswith("✔")
    assert question.reply("").startswith("○")
    texts = {questions.quiz(name)[place].prompt for name in ("Ama", "Ben", "Chika", "Dewi", "Elif")}
    assert len(texts) > 1
    assert other[place].prompt == questions.quiz("Ama")[place].prompt


def test_the_answers_by_hand():
    """45 cm below and 110 cm above; 110 W for 8,760 h; 2 m at nine tenths of the speed: worked with pencil."""
    quiz = questions.quiz()
    below, above = (quiz[1].numbers[k].to("cm").magnitude for k in ("below", "above"))
    assert quiz[1].answer.to("cm").magnitude == pytest.approx(below + above)
    assert quiz[2].answer.to("kWh").magnitude == pytest.approx(quiz[2].numbers["power"].to("kW").magnitude * 8760)
    assert math.isclose(quiz[3].answer.to("m").magnitude, 0.81 * quiz[3].numbers["head"].to("m").magnitude)


@pytest.mark.parametrize("flow", ["9950 L/h", "10000 L/h", "12345 L/h"])
def test_a_large_flow_is_kept_as_it_was_wanted(tmp_path, flow):
    panel = pump.panel(my_build())
    panel.set(wanted=flow)
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept"), panel.kept
    assert load(tmp_path / "my-build.toml").lines["riser"].si.wanted == pytest.approx(si_value(flow, FLOW, ""))


def test_what_is_just_short_is_not_called_enough_with_a_minus():
    panel = pump.panel(load("courtyard"))
    flow = panel.record.si.flow
    panel.set(wanted=f"{flow * 3.6e6 * 1.01} L/h")
    assert panel.record.si.works and "and nothing to spare" in panel.said and "\u2212" not in panel.said
    panel.set(wanted=f"{flow * 3.6e6 * 0.9} L/h")
    assert "Enough: +11% on" in panel.said
    panel.set(wanted=f"{flow * 3.6e6 * 1.2} L/h")
    assert "Short: \u221217% on" in panel.said

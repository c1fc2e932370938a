"""Notebook 05 and its what-if: what is said there is so, and the panel agrees with the review."""

import re

import numpy as np
import pytest

from aquaplumb.build import demos, load, my_build
from aquaplumb.plumbing import fittings, lines
from aquaplumb.questions import line_head as questions
from aquaplumb.review import review
from aquaplumb.review.findings import found
from aquaplumb.system.steady import Steady
from aquaplumb.units import FLOW, HEAD, SYSTEMS, u
from aquaplumb.whatif import line_head
from pages import foreign, new_lines

CASES = [("courtyard", "riser"), ("greenhouse", "tank loop"), ("greenhouse", "bed loop"), ("suction-throttled", "main")]


pytestmark = pytest.mark.usefixtures("strict")


@pytest.mark.parametrize(("name", "line"), CASES)
def test_the_panel_starts_as_the_review_has_it(name, line):
    build = load(name)
    seen, panel = review(build), line_head.panel(build, line)
    record = panel.record.si
    assert record.pump_flow == pytest.approx(seen[f"line {line}.flow"].value, rel=1e-9)
    assert record.pump_head == pytest.approx(seen[f"line {line}.head"].value, rel=1e-9)
    assert record.lift == pytest.approx(seen[f"line {line}.lift"].value, rel=1e-9)
    assert FLOW.text(record.flow, build.units) == FLOW.text(seen[f"line {line}.wanted"].value, build.units)
    assert {f.name for f in record.findings} == {f.name for f in found(seen.system)}
    assert FLOW.text(record.pump_flow, build.units) in panel.said


@pytest.mark.parametrize(("name", "line"), CASES)
def test_the_bars_add_up_to_the_head_asked_for(name, line):
    record = line_head.outcome(load(name), line).si
    tree = Steady(load(name)).pumped[line].tree
    assert record.parts.sum() == pytest.approx(float(lines.required_head.si(tree, record.flow)), abs=2e-6)
    assert (record.parts >= 0).all()
    assert record.total_low < record.total < record.total_high


def test_another_line_of_the_build_brings_its_own_values():
    panel = line_head.panel(load("greenhouse"))
    panel.set(line="bed loop")
    alone = line_head.panel(load("greenhouse"), "bed loop")
    assert panel.record.si.total == pytest.approx(alone.record.si.total, rel=1e-9)
    assert np.allclose(panel.record.si.parts, alone.record.si.parts)


def done(panel):
    """Each try of a panel done alone, as it starts: the record and what was said of it."""
    start, said = panel.values, []
    for place, one in enumerate(panel.tries.tries):
        panel.set(**{n: v if isinstance(v, str | int) else panel.control(n).spec.kind.quantity(v) for n, v in one.to.items()})
        said.append((panel.record.si, panel.tries.said()[place]))
        panel.set(**start)
    return said


def test_the_tries_say_what_they_show():
    panel = line_head.panel(load("courtyard"))
    start = panel.record.si

    def part(record, name):
        return record.parts[record.names.index(name)]

    (spring, spring_said), (none, _), (bends, _), (dirty, dirty_said), (raised, _) = done(panel)
    assert part(start, "check valve") > part(start, "elbows, bends")  # "costs more than all the elbows"
    assert part(spring, "check valve") == pytest.approx(0.5)  # the table's opening head
    assert "**0.50 m**, where it was 0.17 m" in spring_said
    assert part(none, "check valve") == 0 and none.pump_flow > start.pump_flow
    assert bends.total - start.total < 0.1 * start.lift  # doubling them matters little
    clean = part(start, "strainer")
    assert part(dirty, "strainer") == pytest.approx(25 * clean)
    assert "Clean the strainer costs 0.03 m, half shut 0.10 m" in dirty_said
    assert raised.asked == pytest.approx(start.asked + 1.0, abs=0.02)  # the whole curve, up by the metre
    assert raised.pump_flow < start.pump_flow


def test_a_lift_under_the_water_says_why_it_stays():
    what_if = line_head.HeadWhatIf(load("courtyard"))
    record = what_if(**{**what_if.own(), "lift": 0.0})
    assert record.si.lift > 0.0 and "The lift stays" in record.sentence()
    assert "The lift stays" not in what_if(**what_if.own()).sentence()


@pytest.mark.parametrize("name", demos())
def test_the_guess_is_answered_on_the_demo_and_then_yours(name):
    build = load(name)
    seen, mine = line_head.sight(build), line_head.outcome(build)
    asked = seen.guessed.record.si
    assert asked.lift / asked.total == pytest.approx(0.75, abs=0.03) and HEAD.text(asked.lift, "US") == "4.27 ft"
    assert f"On your {mine.line}" in seen.why and f"{100 * mine.si.parts[0] / mine.si.total:.0f} %" in seen.own.look
    assert set(seen.own.record.si.names) <= set(mine.si.names) and (seen.own.record.si.parts[1:] > 0).all()


@pytest.mark.parametrize("units", SYSTEMS)
def test_questions_ask_in_the_units_of_the_build(units):
    quiz = questions.quiz(units=units)
    assert not [words for question in (questions.guess(units=units), *quiz.questions) for words in foreign(question, units)]
    assert questions.quiz(units="US")[1].answer.units == u.inch
    for place in (1, 2, 3):
        assert quiz[place].reply(quiz[place].answer).startswith("✔")


def test_raising_the_lift_over_the_head_that_was_kept_is_found():
    build = load("courtyard").changed({("lines", "riser", "chosen_head"): "1.75 m"})
    panel = line_head.panel(build)
    assert "lift left out" not in {f.name for f in panel.record.si.findings}
    panel.set(lift="1.8 m")
    assert "lift left out" in {f.name for f in panel.record.si.findings}
    panel.set(lift="1.3 m", check="spring check valve")
    assert "check valve costly" in {f.name for f in panel.record.si.findings}
    assert panel.found[0][1].startswith("The spring check valve in riser costs 0.5 m")


def test_the_guess_is_right_for_the_line_it_speaks_of():
    """ "1.3 m below the ends … about three quarters": the demo's line at the flow wanted."""
    record = line_head.outcome(load("courtyard")).si
    assert HEAD.text(record.lift) == "1.3 m"
    assert record.lift / record.total == pytest.approx(0.75, abs=0.03)
    assert questions.guess().reply("about three quarters").startswith("✔")


def test_the_number_by_hand():
    """2,400 L/h in a bore of 34 mm: pencil and paper, with π/4 × 34² mm² = 907.9 mm²."""
    speed = 2.4 / 3600 / 907.9e-6
    assert speed == pytest.approx(0.734, abs=5e-4)
    assert speed**2 / 19.62 == pytest.approx(0.0275, abs=5e-5)
    assert fittings.fitting_head("2400 L/h", "34 mm", 3.5).m_as("m") == pytest.approx(0.096, abs=5e-4)


def test_crane_7_15_against_print():
    """421 ft in print (Crane TP-410, ex. 7.15); K of its fittings from its own rules, as the fluids library has them."""
    from fluids.fittings import K_gate_valve_Crane, K_lift_check_valve_Crane, bend_rounded

    inch = 0.0254
    bore = 3.068 * inch
    lift_valve = K_lift_check_valve_Crane(D1=2.469 * inch, D2=bore, angled=False)
    gate = K_gate_valve_Crane(D1=bore, D2=bore, angle=0.0)
    elbow = bend_rounded(Di=bore, angle=90, Re=1e5, method="Crane standard")
    assert lift_valve == pytest.approx(25.2, abs=0.05)
    assert gate == pytest.approx(0.14, abs=0.005)
    assert elbow == pytest.approx(0.54, rel=0.05)  # the printed friction factor is 5 % above the library's; 30 × 0.018 = 0.54
    steel = lines.Stretch(name="steel", bore="3.068 in", roughness="0.0022 in", length="500 ft",
                          extra_k=4 * 0.54 + 0.14 + 25.2, to="top", outlet="400 ft")  # fmt: skip
    line = lines.Line(name="Crane 7.15", source="0 ft", stretches=(steel,), temperature="70 degF")
    assert lines.required_head(line, "100 gpm").m_as("ft") == pytest.approx(421, rel=5e-3)


def test_one_elbow_in_print_lies_about_our_band():
    """Munson 6e Table 8.2: 0.3 flanged, 1.5 threaded; Crane TP-410 at 1 in: 30 × 0.023 = 0.69 (the 30 from memory)."""
    elbow = fittings.fitting("elbow 90")
    assert 0.3 < elbow.k_low < elbow.k_typical < elbow.k_high == 1.5
    assert elbow.k_typical == pytest.approx(0.69, rel=0.02)


@pytest.mark.parametrize("system, speed", [("metric", "(1.1 m/s)²"), ("US", "(2.5 ft/s)²")])
def test_a_speed_is_squared_with_its_unit(system, speed):
    """By hand: 7 × 0.7 × 1.1² / (2 × 9.81) = 0.302 m; "1.1 m/s²" would be an acceleration."""
    question = questions.quiz(units=system).questions[0]
    said = [question.reply(f"{wrong} ft") for wrong in (7, 8, 9)]
    assert speed in said[-1]


@pytest.mark.parametrize("counts, words", [
    ({"strainer": 1, "elbow 90": 3}, "1 strainer, 3 elbows of 90°"), ({"sweep elbow 90": 1, "union": 2}, "1 sweep elbow of 90°, 2 unions"),
    ({"tee branch": 2, "foot valve, hinged": 1}, "2 tee branches, 1 foot valve, hinged"), ({}, "no fittings"),
])  # fmt: skip
def test_fittings_are_counted_in_words(counts, words):
    assert line_head.fittings_in_words(counts) == words


def test_keep_writes_the_fittings_and_the_head_and_nothing_else(tmp_path):
    panel = line_head.panel(my_build())
    panel.set(check="spring check valve", elbows=3, lift="3 m", length="9 m", blocked=0.5)
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: riser has 1 strainer, 3 elbows of 90°, 1 union, 1 spring check valve; ")
    new = new_lines(tmp_path / "my-build.toml")
    assert len(new) == 3
    assert "chosen_head" in new[0]
    assert new[1] == 'length = "9 m"'
    assert new[2].startswith('fittings = { "strainer" = 1, "elbow 90" = 3, "union" = 1,')
    assert my_build().pumped["riser"].si.pipe[0].si.fittings == {"strainer": 1, "elbow 90": 3, "union": 1, "spring check valve": 1}
    again = line_head.panel(my_build())
    assert again.values["check"] == "spring check valve"
    assert again.values["elbows"] == 3
    assert again.values["lift"].m_as("m") == pytest.approx(1.3)  # what was only tried is not kept
    kept = my_build().lines["riser"].chosen_head.m_as("m")
    assert kept == pytest.approx(again.record.si.total, abs=6e-3)
    # what is kept can be taken back in the same panel
    panel.set(check="swing check valve", elbows=2)
    panel._press_keep()
    assert line_head.panel(my_build()).values["check"] == "swing check valve"
    panel.set(check="none", elbows=0)
    panel._press_keep()
    assert my_build().pumped["riser"].si.pipe[0].si.fittings == {"strainer": 1, "union": 1}


def test_keep_where_no_fittings_were_listed(tmp_path):
    fittings = 'fittings = { "strainer" = 1, "elbow 90" = 2, "union" = 1, "swing check valve" = 1 }\n'
    text = re.sub(r"(?m)^route = .*\n", "", load("courtyard").text.replace(fittings, "", 1))
    (tmp_path / "my-build.toml").write_text(text, encoding="utf-8")
    panel = line_head.panel(my_build())
    panel.set(check="swing check valve")
    panel._press_keep()
    assert panel.kept.startswith("✔")
    assert my_build().pumped["riser"].si.pipe[0].si.fittings == {"swing check valve": 1}
    assert 'fittings = {"swing check valve" = 1}' in (tmp_path / "my-build.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("units, longer, words", [("metric", "2 m", "2 m long"), ("US", "6 ft", "6 ft long")])
def test_a_pump_beside_its_water_gets_its_suction_pipe_here(tmp_path, units, longer, words):
    """A finding says that this page sets it; a Keep writes all of it, moves it, and takes it out again."""
    text = load("courtyard", units=units).changed({("lines", "riser", "pump"): "demo mains 180 W external"}).text
    (tmp_path / "my-build.toml").write_text(text, encoding="utf-8")
    panel = line_head.panel(my_build())
    [told] = [said for severity, said in panel.found if severity == "fix" and "stands dry" in said]
    assert "The controls of this page set it. Or take a submersible pump." in told
    assert not panel.control("pump_height").offered  # asked once it is said what the pipe begins with
    before = panel.record.si.total
    panel.set(begins="with a foot valve")
    assert panel.control("pump_height").offered and not any("stands dry" in said for _, said in panel.found)
    assert panel.record.si.total > before  # its pipe and its fittings cost head, before the pump
    panel._press_keep()
    panel.set(suction_length=longer)
    panel._press_keep()
    assert f"suction pipe with a foot valve, {words}, the pump's inlet at {'0.1 m' if units == 'metric' else '6 in'}" in panel.kept
    panel.set(elbows=4)
    panel._press_keep()
    riser = my_build().pumped["riser"].si
    [pipe] = riser.suction
    assert pipe.si.fittings == {"foot valve, hinged": 1, "elbow 90": 1} and pipe.length.m_as(longer.split()[1]) == pytest.approx(
        float(longer.split()[0])
    )
    assert (
        pipe.si.size == riser.pipe[0].si.size
        and riser.pump_height > 0
        and "suction not described" not in {f.name for f in review(my_build()).findings}
    )
    panel.set(begins="not yet said")
    panel._press_keep()
    assert not my_build().pumped["riser"].si.suction and my_build().pumped["riser"].si.pump_height is None


def test_only_a_pump_beside_its_water_is_asked_for_a_suction_pipe(tmp_path):
    assert "begins" not in line_head.panel(load("courtyard")).values
    build = load("greenhouse")
    one, other = build.pumped
    (tmp_path / "my-build.toml").write_text(build.changed({("lines", other, "pump"): "demo mains 180 W external"}).text, encoding="utf-8")
    panel = line_head.panel(my_build())
    offered = []
    for line in (one, other):
        panel.set(line=line)
        offered.append(panel.control("begins").offered)
    assert offered == [False, True]
    panel.set(begins="with a strainer")
    panel.set(line=one)
    assert not panel.control("pump_height").offered


def test_a_lift_beyond_the_pump_says_so():
    panel = line_head.panel(load("courtyard"))
    panel.set(lift="5 m")
    assert "No water" in panel.said
    assert not panel.record.si.works
    assert panel.found[0][0] == "stop"
    assert "they never meet" in panel.picture.alt(panel.record)


def test_the_faulty_build_shows_what_the_question_says():
    """ "More head is lost before the pump than in all of the pipe after it"; its bar is the longest besides the lift."""
    record = line_head.outcome(load("suction-throttled"))
    assert record.costliest()[0] == "before the pump"
    r = record.si
    assert 2 * r.parts[1] > r.parts[1:].sum()
    assert HEAD.shown(r.lift, "US") == pytest.approx(3.5)
    assert HEAD.shown(r.parts[r.names.index("elbows, bends")], "US") == pytest.approx(0.04, abs=0.005)  # "They cost 0.04 ft"
    assert questions.fault().reply("the pump is starved: too much is lost before it").startswith("✔")
    assert {f.name for f in review(load("suction-throttled")).findings} >= {"suction throttled"}


@pytest.mark.parametrize("place", [1, 2, 3, 4, 5])
def test_each_question_takes_its_own_answer_and_no_nonsense(place):
    question = questions.quiz()[place]
    steps = getattr(question, "_steps", None)
    answer = [question.options.index(step) + 1 for step in steps] if steps else question.answer
    for nonsense in ("", "  ", "9**9**9", "<b>1 m</b>", "nan", "1e999 m", "-1", "3 1", "Ω" * 500):
        assert question.reply(nonsense)[0] in "○✖"
    assert question.reply(answer).startswith("✔")


def test_numbers_differ_by_name():
    for place in (1, 2, 3):
        assert len({questions.quiz(name)[place].prompt for name in ("Ama", "Ben", "Chika", "Dewi", "Elif")}) > 1


def test_the_answers_by_hand():
    quiz = questions.quiz()
    speed, count = quiz[1].numbers["speed"].m_as("m/s"), quiz[1].numbers["count"]
    assert quiz[1].answer.m_as("m") == pytest.approx(count * 0.7 * speed**2 / 19.62, rel=1e-3)
    lift, loss = (quiz[2].numbers[k].m_as("m") for k in ("lift", "loss"))
    assert quiz[2].answer.m_as("m") == pytest.approx(lift + 4 * loss)
    assert quiz[3].answer.m_as("cm") == pytest.approx(float(fittings.clogged_k(quiz[3].numbers["clean"].m_as("cm"), 0.5)))
    assert quiz[2].reply(f"{4 * (lift + loss)} m").startswith("✖ Not yet. The lift stays")


def test_the_order_of_costs_is_what_the_library_says():
    """At 0.8 m/s in the demo's riser, bore 34 mm; the middle values of the table."""
    flow, bore = 0.8 * u.m / u.s * np.pi / 4 * (34 * u.mm) ** 2, "34 mm"
    heads = [1.0]
    for name in ("spring check valve", "swing check valve"):
        row = fittings.fitting(name)
        heads.append(fittings.check_valve_head(flow, bore, row.k_typical, row.opening_head_typical).m_as("m"))
    heads += [fittings.fitting_head(flow, bore, fittings.fitting(name).k_typical).m_as("m") for name in ("elbow 90", "ball valve")]
    assert heads == sorted(heads, reverse=True)
    assert heads[1:] == pytest.approx([0.5, 0.17, 0.02, 0.002], rel=0.2)
    assert heads[1] / heads[3] == pytest.approx(20, rel=0.15)  # "as much as twenty elbows"

"""The pump what-if: every end of every slider, both unit systems, and no word against the review."""

import math

import pytest

from aquaplumb.build import Build, demos, load, my_build
from aquaplumb.build.layouts import first_build
from aquaplumb.figures.elevation import Elevation
from aquaplumb.questions import pump as questions
from aquaplumb.review import review
from aquaplumb.review.findings import found
from aquaplumb.units import FLOW, HEAD, SYSTEMS, in_percent, si_value, u
from aquaplumb.whatif import own_pump, pump
from aquaplumb.whatif.base import short
from pages import changed_lines, foreign

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


def done(panel):
    """Each try of a panel done alone, as it starts: what was said of it."""
    start, said = panel.values, []
    for place, one in enumerate(panel.tries.tries):
        panel.set(**{n: v if isinstance(v, str) else panel.control(n).spec.kind.quantity(v) for n, v in one.to.items()})
        said.append((panel.record.si, panel.tries.said()[place]))
        panel.set(**start)
    return said


def test_the_tries_say_what_they_show():
    """Weak, strong, lift, strainer (little, then a lot), battery: a tenth less speed takes more than a tenth of the water."""
    panel = pump.panel(load("courtyard"))
    first = panel.record.si
    (weak, weak_said), (strong, strong_said), (higher, _), (dirty, dirty_said), (tired, tired_said) = done(panel)
    assert weak.flow < 0.95 * first.wanted and "Short" in weak_said
    assert strong.flow > 2 * first.wanted and "findings say" in strong_said
    assert {"siphon never stops", "pump far too strong"} & {f.name for f in strong.findings}
    assert higher.lift == pytest.approx(first.lift + 0.5) and higher.flow < first.flow
    assert dirty.flow < 0.75 * first.flow and "3,550 L/h" in dirty_said
    panel.set(pump="24 V 100 W external")
    full = panel.record.si
    assert 1 - tired.flow / full.flow == pytest.approx(0.15, abs=0.01) and "15 % less water" in tired_said
    assert tired.lift == full.lift
    assert tired.pump_heads[0] / full.pump_heads[0] == pytest.approx(0.9**2)  # "with the square of its speed"


def test_each_line_has_its_own_pump_and_keeps_it(tmp_path):
    (tmp_path / "my-build.toml").write_text(load("greenhouse").text, encoding="utf-8")
    panel, alone = pump.panel(my_build()), pump.panel(my_build(), "bed loop")
    panel.set(line="bed loop")
    assert panel.said == alone.said and panel.values["pump"] == alone.values["pump"]
    panel.set(pump="demo mains 180 W external", price=0.25)
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: bed loop has demo mains 180 W external, price of a kWh 0.25")
    panel.set(line="tank loop")
    tank = panel.values["pump"]
    panel._press_keep()
    kept = my_build()
    assert (kept.lines["bed loop"].si.pump, kept.lines["tank loop"].si.pump) == ("demo mains 180 W external", tank)
    assert kept.site.si.power_price == 0.25
    assert "bed loop" in pump.ranking(kept, "bed loop").index.name


def test_a_pipe_that_ends_deeper_than_the_water_says_why_the_lift_stays():
    build = load("courtyard").changed({("lines", "riser", "pipe", "to the tank", "outlet"): None})
    panel = pump.panel(build)
    least = panel.control("lift").low
    assert least == pump.PumpWhatIf(build).choosers["riser"].least_lift > 0
    record = pump.PumpWhatIf(build)(**{**pump.PumpWhatIf(build).own(), "lift": 0.0})
    assert record.si.lift > 0 and "The lift stays" in record.sentence() and "The lift stays" not in panel.said


def test_a_form_for_ones_own_pump_joins_the_menu(tmp_path):
    panel, form = pump.panel(my_build()), own_pump.form(my_build())
    assert "1200,1.6,45" in repr(form)
    form.read_button.click()
    assert form.said.startswith("✖") and not (tmp_path / "my-pump.csv").exists()  # no points yet: nothing is written
    panel.set(wanted="3000 L/h")
    form.box.value += "0, 4, 60\n2000, 3, 70\n4000, 0.5, 90\n"
    form.read_button.click()
    assert form.said == "✔ Read, and written to my-pump.csv: 3 points, up to 4,000 L/h, 4 m at no flow. Choose my-pump as the pump above."
    assert form.fold.closed, "who has no pump of his own need not read how its file is written"
    again = own_pump.form(my_build())
    assert again.box.value == (tmp_path / "my-pump.csv").read_text(encoding="utf-8") and not again.fold.closed
    assert panel.values["wanted"].m_as("L/h") == pytest.approx(3000)  # what was tried stays
    panel.set(pump="my-pump")
    panel._press_keep()
    kept = my_build().lines["riser"].si
    assert (kept.pump, kept.pump_file) == ("", "my-pump.csv")
    assert panel.kept.startswith("✔ Kept in my-build.toml: riser has my-pump")
    panel.set(pump="demo mains 120 W submersible")
    panel._press_keep()
    assert (my_build().lines["riser"].si.pump, my_build().lines["riser"].si.pump_file) == ("demo mains 120 W submersible", "")


def test_a_pump_s_file_that_was_changed_elsewhere_is_not_written_over_at_once(tmp_path):
    form, file = own_pump.form(my_build()), tmp_path / "my-pump.csv"
    form.box.value += "0,4,\n2000,3,\n4000,0.5,\n"
    file.write_text("flow [L/h],head [m]\n0,3\n500,2\n900,1\n", encoding="utf-8")
    form.read_button.click()
    assert "was changed elsewhere" in form.said and "900,1" in file.read_text(encoding="utf-8")
    form.read_button.click()
    assert form.said.startswith("✔ Read") and "4000,0.5" in file.read_text(encoding="utf-8")
    form.box.value = "supply,steam\n"
    form.read_button.click()
    assert form.said.startswith("✖ pump file my-pump.csv, line 1") and "4000,0.5" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", demos())
def test_the_guess_is_answered_on_the_demo_and_then_yours(name):
    build = load(name)
    seen = pump.sight(build)
    asked, mine = seen.guessed.record.si, seen.own.record.si
    assert asked.flow / asked.pump_flows[-1] == pytest.approx(0.7, abs=0.03)
    assert HEAD.text(asked.lift) == "1.3 m" and HEAD.text(asked.pump_heads[0]) == "3.8 m"
    assert FLOW.text(mine.flow, build.units) in seen.why and FLOW.text(mine.flow, build.units) in seen.own.look


@pytest.mark.parametrize("units", SYSTEMS)
def test_questions_ask_in_the_units_of_the_build(units):
    quiz = questions.quiz(units=units)
    assert not [words for question in (questions.guess(units=units), *quiz.questions) for words in foreign(question, units)]
    for place in (1, 2, 3):
        assert quiz[place].reply(quiz[place].answer).startswith("✔")


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


def test_the_voltage_of_the_pump_before_goes_with_it(tmp_path):
    """A 12 V pump's 12.5 V written on its line reach no pump for mains: what is kept is what was shown."""
    old = load("courtyard").changed({("lines", "riser", "pump"): "demo 12 V 40 W submersible", ("lines", "riser", "voltage"): "12.5 V"})
    (tmp_path / "my-build.toml").write_text(old.text, encoding="utf-8")
    panel = pump.panel(my_build(tmp_path / "my-build.toml"))
    panel.set(pump="mains 80 W")
    shown = panel.record.si.flow
    panel._press_keep()
    kept = my_build(tmp_path / "my-build.toml")
    assert kept.pumped["riser"].si.voltage is None and "voltage" not in kept.text.partition("[lines.riser]")[2].partition("[[")[0]
    assert review(kept)["line riser.flow"].value == pytest.approx(shown, rel=1e-6)


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
    margins = [int(m.rstrip("%").replace("−", "-")) for m in table["margin"]]
    assert margins[0] >= 0
    assert margins[-1] == -100
    assert len(table) == len(pump.pumps.names())


@pytest.mark.parametrize("layout, units", [("film channels", "metric"), ("two loops", "US")])
def test_the_table_and_the_slider_mean_the_same_half_clogged_strainer(layout, units):
    """Page 08 prints both: the column, and what the try on the strainer says of half shut."""
    build = Build(first_build(layout, beds=3, units=units))
    what_if = pump.PumpWhatIf(build)
    for name, line in build.pumped.items():
        half = what_if(**{**what_if.own(name), "blocked": 0.5})
        column = pump.ranking(build, name).filter(like="half clogged").loc[short(line.si.pump)].item()
        assert float(column.replace(",", "")) == pytest.approx(half.flow.m_as("gal/h" if units == "US" else "L/h"), rel=0.005)


def test_the_tables_show_the_pump_that_a_line_has():
    """Also where it is not among the best: "which of these is mine?"."""
    build = Build(first_build("two loops", beds=3, units="US", altitude="1200 ft"))
    for table, line in zip(pump.rankings(build), build.pumped.values()):
        assert list(table.index[table["what to watch"].str.startswith("yours")]) == [short(line.si.pump)]
    assert len(pump.rankings(build)[1]) == 5  # the best four, and the bed loop's own


def test_a_minus_is_a_minus_in_a_table_as_in_a_sentence():
    """Page 08 said "−46 %" over a table that said "-8 %"; page 00 has its sump's floor at −0.7 m."""
    assert in_percent(-0.08, sign=True) == "−8 %" and in_percent(0.08, sign=True) == "+8 %"
    [table] = pump.rankings(load("courtyard"))
    assert any(margin.startswith("−") for margin in table["margin"]) and not any("-" in margin for margin in table["margin"])
    assert "sump: bottom at −0.7 m" in Elevation(load("courtyard")).alt(load("courtyard"))


def test_the_flow_wanted_is_one_number_whichever_pump_is_tried(tmp_path):
    """A pump of three times the flow fills the tank higher; the page once said 459 gal/h wanted beside 499, and its table another margin."""
    file = tmp_path / "my-build.toml"
    file.write_text(first_build("two loops", beds=3, units="US", altitude="1200 ft"), encoding="utf-8")
    build = load(file)
    what_if = pump.PumpWhatIf(build)
    for table, line in zip(pump.rankings(build), build.pumped):
        own = what_if.own(line)
        before = what_if(**own).si
        for name in ("demo mains 45 W submersible", "demo mains 120 W submersible", "demo mains 250 W submersible"):
            r = what_if(**{**own, "pump": name}).si
            assert (r.wanted, r.why) == (before.wanted, before.why)
            assert f"{FLOW.text(r.wanted, 'US')} wanted" in what_if(**{**own, "pump": name}).sentence("US")
            assert pump.ranking(build, line).loc[short(name), "margin"] == f"{100 * (r.flow / r.wanted - 1):+.0f} %".replace("-", "−")
            assert not [
                f for f in r.findings if f.where == line and "is needed" in f.sentence and FLOW.text(r.wanted, "US") not in f.sentence
            ]
        assert line in table.index.name and 4 <= len(table) <= 6


def test_a_try_takes_a_pump_of_the_same_kind_where_there_is_one():
    weaker, stronger = (one.to["pump"] for one in pump.PumpWhatIf(load("courtyard")).tries()[:2])
    assert "mains" in weaker and "submersible" in weaker and "mains" in stronger and "submersible" in stronger


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
    assert "Enough: +11 % on" in panel.said
    panel.set(wanted=f"{flow * 3.6e6 * 1.2} L/h")
    assert "Short: \u221217 % on" in panel.said


@pytest.mark.usefixtures("drawn")
def test_what_a_page_shows_is_drawn_once_and_anew_with_another_table_beside_it(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    build = my_build()
    assert my_build() is build and pump.picture(build) is pump.picture(build)
    assert pump.sight(build).guessed is pump.sight(load("courtyard")).guessed
    shown = pump.picture(build)
    image = shown._repr_mimebundle_()[0]["image/png"]
    assert shown._repr_mimebundle_()[0]["image/png"] is image
    own = own_pump.form(build)
    own.box.value += "0,4,\n2000,3,\n4000,0.5,\n"
    own.read_button.click()
    assert pump.picture(build) is not shown
    shown.record = pump.choice(load("greenhouse"), "bed loop")
    assert shown._repr_mimebundle_()[0]["image/png"] != image


def test_of_a_ranking_as_many_rows_come_as_are_asked_for():
    build = load("courtyard")
    assert pump.ranking(build, most=6).equals(pump.ranking(build).head(6))

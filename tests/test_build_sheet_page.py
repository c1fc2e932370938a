"""Notebook 13: its panel against the sweep, what it hands over, and every number and claim of its prose."""

import html
import re
from pathlib import Path

import numpy as np
import pytest

from aquaplumb import u
from aquaplumb.build import Build, demos, load, my_build
from aquaplumb.figures.build_sheet import SurePicture
from aquaplumb.figures.tornado import TornadoPicture
from aquaplumb.questions import build_sheet as questions
from aquaplumb.review import review
from aquaplumb.review.compare import comparison
from aquaplumb.review.sweep import EVERYTHING, sweep
from aquaplumb.system.steady import Steady
from aquaplumb.units import SYSTEMS, rounded
from aquaplumb.whatif import build_sheet, sheet_tables
from aquaplumb.workshop import cement, cutting, supports
from aquaplumb.workshop import sheet as sheets
from aquaplumb.workshop.cut_list import cut_list
from aquaplumb.workshop.parts import parts_list
from pages import prose

PROSE = prose("13")
pytestmark = pytest.mark.usefixtures("strict")


@pytest.fixture(scope="module")
def yard():
    return load("courtyard")


@pytest.fixture
def courtyard(yard):
    return build_sheet.panel(yard)


@pytest.fixture
def few(monkeypatch):
    """A sheet that is written draws fewer designs than a person's."""
    sure = sheets._sure
    monkeypatch.setattr(sheets, "_sure", lambda build, designs, seed: sure(build, 60, seed))


def row(panel, name):
    """(chance, low, high) of a promise."""
    r = panel.record.si
    place = r.names.index(name)
    return r.chance[place], r.low[place], r.high[place]


# --- the sums ---------------------------------------------------------------------------------------------


def test_the_number_by_hand():
    """8 × 5 ft is 40 ft, four lengths of 10 ft; 5 ft + 5 ft + 1/8 in is more than 10 ft, so one piece from each: eight, half of it left."""
    plan = cutting.cutting_plan([5.0] * 8 * u.ft, "10 ft")
    assert 12 * 5 + 12 * 5 + 1 / 8 > 12 * 10
    assert len(plan.bars) == 8 and sum(plan.offcut.m_as("ft")) == pytest.approx(8 * (5 - 0.003 / 0.3048))
    assert len(cutting.cutting_plan([5.0] * 8 * u.ft, "10 ft", kerf="0 mm").bars) == 4
    assert "**Eight** lengths, half of it left over; or four" in PROSE


def test_against_print():
    """125 joints of 1 in from a US quart, 15 min (another manual: 2): a pipe maker's technical manual, manualshelf.com; 24 h: a maker's sheet, see data/cement.csv;
    5 ft for 1 in Sch 40 at 80 °F: engineersedge.com page 15715, as Harvel; 3 ft to 1 in: Charlotte Pipe's manual on plumbing codes."""
    assert cement.cement_need("1 in", 125).cement.m_as("quart") == pytest.approx(1, rel=1e-3)
    one = cement.cement_row("1 in")
    assert (one.set_low.m_as("min"), one.set_high.m_as("min")) == (2, 15)
    assert cement.cure_time("1 in", "20 degC").m_as("h") == pytest.approx(24)
    assert supports.support_spacing("1.315 in", "80 degF", standard="Sch 40", code=False).m_as("ft") == pytest.approx(5, abs=0.01)
    assert supports.support_spacing("1.315 in", "80 degF", standard="Sch 40").m_as("ft") == pytest.approx(3)


# --- the promises -----------------------------------------------------------------------------------------


@pytest.mark.sweep(5)
@pytest.mark.parametrize(
    "name", [*demos(), "siphon-that-never-stops", "too-little-media", "valve-nearly-shut", "timer-too-short", "sump-with-nothing-to-spare"]
)
def test_a_promise_holds_in_just_those_designs_in_which_the_sweep_says_so(name):
    sure = sweep(load(name), None, 500, seed=3)
    ratios = build_sheet.promises(sure.margins)
    everything = np.logical_and.reduce([ratio >= 1 for ratio in ratios.values()])
    assert np.array_equal(everything, sure.holds[EVERYTHING])
    for promise, ratio in ratios.items():
        if promise in sure.holds:
            assert np.array_equal(ratio >= 1, sure.holds[promise]), promise
        assert not np.isnan(ratio).any()


def test_a_share_is_good_within_a_tenth():
    """By hand: 0.9 and 1.1 of the share just hold, 1 is 1.1 times what is needed, 0.8 and 1.2 do not hold."""
    [ratio] = build_sheet.promises({"bed gets its share": np.array([0.9, 1.1, 1.0, 0.8, 1.2, 0.0])}).values()
    assert ratio == pytest.approx([1, 1, 1.1, 0.8 / 0.9, 1.1 / 1.2, 0])


def test_alike_promises_share_a_row_by_the_least_of_them():
    many = {f"bed {i} gets its share": np.array([1.0, 0.9 + 0.01 * i]) for i in range(7)}
    [(name, ratio)] = build_sheet.promises(many).items()
    assert name == "every end gets its share"
    assert ratio == pytest.approx([1.1, 1.0])
    both = build_sheet.promises({"a siphon starts": np.array([2.0]), "b siphon starts": np.array([1.5])})
    assert both == {"siphons start": np.array([1.5])}


def test_with_the_usual_bands_it_is_the_sweep_itself(yard):
    """The same seed, the same designs: chances of the panel's engine against those of `sweep`."""
    engine = build_sheet.SureWhatIf(yard)
    usual = {name: (one.low, one.typical, one.high) for name, one in engine.known.items()}
    sure, direct = engine.sure(usual), sweep(yard, None, build_sheet.DESIGNS, seed=build_sheet.SEED)
    assert np.allclose(sure.results["line riser.flow"], direct.results["line riser.flow"], rtol=1e-9)  # quantities there and back
    assert sure.chance(EVERYTHING) == direct.chance(EVERYTHING)


def test_the_sliders_are_the_bands(yard):
    bands = build_sheet.SureWhatIf(yard).bands(pump=0.3, lift=0.1, fittings=0.5, feeding=0.4, bacteria=0.6)
    assert bands["pump flow of riser"] == (0.7, 1.0, 1.3) and bands["pump head of riser"] == (0.7, 1.0, 1.3)
    assert bands["lift of riser"] == (-0.1, 0.0, 0.1)
    assert bands["K of bends"] == (-0.5, 0.0, 0.5)
    low, typical, high = bands["feeding rate"]
    assert (low / typical, high / typical) == pytest.approx((0.6, 1.4)) and typical == yard.fish.si.feeding_rate
    low, typical, high = bands["nitrification rate"]
    assert (low / typical, high / typical) == pytest.approx((0.4, 1.6))


def test_what_you_should_have_seen(courtyard, yard):
    start = {name: row(courtyard, name) for name in courtyard.record.si.names}
    assert all(chance == 1 for chance, *_ in start.values())
    courtyard.set(pump=0.4)
    wide = {name: row(courtyard, name) for name in start}
    for name in ("riser brings what is wanted", "siphons start", "siphons stop"):  # "its own bar and both of the siphons'"
        assert wide[name][1] < start[name][1] - 0.05, name
    assert "siphons start" in courtyard.said
    courtyard.set(pump=0.0)
    narrow = {name: row(courtyard, name) for name in start}
    for name in ("riser brings what is wanted", "siphons start", "siphons stop"):
        assert narrow[name][1] > start[name][1], name
    courtyard.set(pump=0.2, lift="300 mm")
    assert row(courtyard, "riser brings what is wanted")[1] > start["riser brings what is wanted"][1] - 0.05  # "heights move little"
    courtyard.set(lift="50 mm", feeding=0.6)
    assert row(courtyard, "riser brings what is wanted")[1] < start["riser brings what is wanted"][1] - 0.1
    assert row(courtyard, "siphons stop") == start["siphons stop"]  # feed moves what is wanted, not what flows
    courtyard.set(feeding=0.2, bacteria=0.8)
    assert row(courtyard, "the media suffice")[1] > 10  # "many times what is needed"
    assert {n: row(courtyard, n) for n in start if n != "the media suffice"} == {n: v for n, v in start.items() if n != "the media suffice"}
    courtyard.set(bacteria=0.2, fittings=0.0)
    assert row(courtyard, "bed 2 gets its share")[1] > start["bed 2 gets its share"][1]  # "bed 2 comes less close"


@pytest.mark.sweep(3)
@pytest.mark.parametrize("name", demos())
def test_the_guess_is_answered_on_the_demo_and_then_yours(name):
    build = load(name)
    sight = build_sheet.sight(build)
    case, own = sight.guessed.record.si, sight.own.record.si
    assert case.everything == 1, "in all of them"
    assert own.weakest in sight.why and ("in **all**" in sight.why) == (own.everything >= 1)
    assert ("ends at 1.1" in sight.own.look) == any(" its share" in promise for promise in own.names)


def test_the_tries_say_which_bar_moves(courtyard):
    start, said = courtyard.values, []
    for place, one in enumerate(courtyard.tries.tries):
        courtyard.set(**{n: courtyard.control(n).spec.kind.quantity(v) for n, v in one.to.items()})
        said.append(courtyard.tries.said()[place])
        courtyard.set(**start)
    unknown, measured, heights, feed, bacteria = said
    assert "riser brings what is wanted" in unknown and "measure that first" in unknown
    assert " designs hold" in measured and "Hardly a bar moves" in heights  # "heights move little"
    assert "riser brings what is wanted" in feed and "the media suffice" in bacteria


def test_300_mm_are_less_than_a_tenth_of_the_flow(yard):
    """The outlets of the demo 300 mm higher, all else as it is, by the review."""
    ends = ("to the tank", "to bed 1", "to bed 2")
    higher = yard.changed({("lines", "riser", "pipe", end, "outlet"): "1.35 m" for end in ends})
    flows = [Steady(build).pumped["riser"].flow for build in (yard, higher)]
    assert 0.9 < flows[1] / flows[0] < 1


def test_no_one_is_off_there_is_one_design(yard):
    """All bands shut: every design is the review's."""
    engine = build_sheet.SureWhatIf(yard)
    shut = {name: (one.nominal,) * 3 for name, one in engine.known.items() if one.nominal is not None}
    sure = engine.sure(shut)
    flow = sure.results["line riser.flow"]
    assert np.ptp(flow) < 1e-12
    assert flow[0] == pytest.approx(review(yard)["line riser.flow"].value, rel=1e-6)


@pytest.mark.parametrize("key", build_sheet.OFF)
@pytest.mark.usefixtures("drawn")
def test_further_off_than_can_be_gets_a_sentence_and_a_step_shows(courtyard, key):
    before, start = courtyard._png, courtyard.values[key]
    courtyard.set(**{key: "60 mm" if key == "lift" else build_sheet.OFF[key] - 0.05})
    assert courtyard._png != before
    courtyard.set(**{key: "30 m" if key == "lift" else 21.0})
    assert courtyard.stale and courtyard.fault is None
    assert "another system" in courtyard.said
    courtyard.set(**{key: start})
    assert courtyard._png == before


def test_notes_tell_what_to_mend(yard):
    panel = build_sheet.panel(load("siphon-that-never-stops"))
    assert ("note", "siphons stop: none. Mend the build before you buy.") in panel.found
    assert "In none" in panel.said
    assert panel.said.startswith("Mend first: the review has 1 to fix;")
    assert build_sheet.panel(yard).found == []


@pytest.mark.parametrize("name", ["bell-wire-to-the-pump", "second-pump-in-the-fish-tank"])
def test_a_build_with_something_to_stop_for_is_never_told_to_be_ready(name):
    """Every promise here holds, and yet the review has something to stop for: wires, a pump in the fish tank."""
    seen = review(load(name))
    count = sum(f.severity == "stop" for f in seen.findings)
    record = build_sheet.sureness(load(name))
    assert count and record.everything == 1
    assert record.sentence().startswith(f"**Mend first:** the review has {count} to stop for")
    assert f"{count} to stop for" in SurePicture(record).alt(record)


# --- the picture ------------------------------------------------------------------------------------------


@pytest.mark.sweep(3)
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", [*demos(), "siphon-that-never-stops", "pipe-end-under-water"])
@pytest.mark.usefixtures("drawn")
def test_no_words_overlap_and_none_is_cut_off(name, system):
    panel = build_sheet.panel(load(name))
    panel.system = system
    for off in ({}, {"pump": 0.4, "lift": "300 mm", "feeding": 0.6, "bacteria": 0.8}, {"pump": 0.0, "fittings": 0.0}):
        panel.set(**off)
        picture = panel.picture
        drawn = picture.figure.canvas.get_renderer()
        words = [
            *picture.words,
            *(word.artist for word in (*picture.chances, *picture.ends) if word.artist.get_visible() and word.artist.get_text()),
        ]
        boxes = [word.get_window_extent(drawn) for word in words]
        for place, one in enumerate(boxes):
            assert one.x0 >= 0 and one.x1 <= picture.width + 1, words[place].get_text()
            assert not any(one.overlaps(other) for other in boxes[:place]), words[place].get_text()


@pytest.mark.usefixtures("drawn")
def test_what_does_not_hold_is_red_orange_and_left_of_the_line():
    picture = SurePicture(build_sheet.sureness(load("siphon-that-never-stops")))
    picture.png()
    r = picture.record.si
    for place, name in enumerate(r.names):
        short = picture.short[place]
        assert short.get_visible() == (r.low[place] < 1), name
        if short.get_visible():
            assert short.get_x() + short.get_width() <= 1 + 1e-9
    place = r.names.index("siphons stop")
    assert not picture.bars[place].get_visible()
    assert "siphons stop: holds in none" in picture.alt(picture.record)


def test_a_name_may_be_anything():
    text = load("courtyard").text.replace('"bed 1"', '"$\\\\frac{1}{0}$ <b>bed</b>"')
    panel = build_sheet.panel(Build(text))
    assert panel.fault is None and not panel.stale
    assert "<b>bed</b>" not in panel._result.value.replace("&lt;b&gt;", "")
    assert sheet_tables.settings(Build(text))


# --- what is handed over ----------------------------------------------------------------------------------


def test_the_shopping_names_every_part(yard):
    """A table with a row for each part of the list, in words and on the page."""
    table = sheet_tables.shopping(yard)
    assert len(table.rows) == len(parts_list(yard))
    for row, part in zip(table.rows, parts_list(yard)):
        assert row[:3] == (part.group, part.what, part.size) and row[3].startswith(rounded(part.amount))
    page = table._repr_html_()
    assert page.count("<tr>") == 1 + len(table.rows) and repr(table).count("\n") == len(table.rows)
    assert all(html.escape(part.size) in page for part in parts_list(yard))


def test_a_table_shows_what_a_name_has_in_it():
    table = sheet_tables.Table(("a", "b"), [("<b>x</b>", "1"), ("<b>x</b>", "2"), ("y", "<script>")])
    assert "<b>" not in table._repr_html_() and "<script>" not in table._repr_html_()
    assert repr(table).splitlines()[2].strip() == "2"  # what repeats is told once


def test_a_build_is_compared_with_the_copy_of_its_last_sheet(tmp_path, few):
    """Keep leaves a copy; what another page then keeps is told against it, with what it did."""
    before = sheet_tables.since_then(my_build())
    assert before.startswith("When this page was run there was no older copy")  # it stands there after the Keep, too
    panel = build_sheet.panel(my_build())
    panel._press_keep()
    assert "A copy to compare with is my-build.before.toml" in panel.kept
    assert (tmp_path / "my-build.before.toml").read_text(encoding="utf-8") == my_build().text
    assert "Nothing changed" in sheet_tables.since_then(my_build())
    my_build().keep({("lines", "riser", "pump"): "demo mains 180 W external"})
    told = sheet_tables.since_then(my_build())
    assert "riser › pump: demo mains 120 W submersible → demo mains 180 W external" in told and "riser: flow" in told
    (tmp_path / "my-build.before.toml").write_text("no build", encoding="utf-8")
    assert "The older copy, my-build.before.toml, cannot be compared:" in sheet_tables.since_then(my_build())


def test_a_valve_that_shares_with_none_stands_as_the_build_has_it():
    """The page reckons with it: a line of one end has no shares, and wide open would be another flow than that of page and review."""
    build = load("terrace")
    changed = build.changed({("lines", "riser", "pipe", "inlet", "opening"): 0.6})
    ((_, _, valve, seconds),) = sheet_tables.settings(changed).rows
    assert valve == "60 % open" and seconds == f"{10e-3 / Steady(changed).pumped['riser'].outlets[0].flow:.0f} s"


@pytest.mark.parametrize("name", demos())
def test_valves_set_as_told_bring_each_end_its_share(name):
    """An identity: the openings put into the file, and the review solved anew; and the bucket's time is its volume over the flow."""
    build = load(name)
    table = sheet_tables.settings(build)
    changes, times = {}, {}
    for line, end, valve, time in table.rows:
        if opening := re.match(r"(\d+) % open", valve):
            changes[("lines", line, "pipe", end, "opening")] = int(opening[1]) / 100
            times[line, end] = int(time.removesuffix(" s"))
    assert times
    system = Steady(build.changed(changes))
    bucket = 10e-3 if build.units == "metric" else 2 * 3.785411784e-3
    for (line, end), seconds in times.items():
        outlet = next(o for o in system.pumped[line].outlets if o.name == end)
        assert outlet.share == pytest.approx(outlet.wanted_share, rel=0.03)
        assert bucket / (outlet.share * system.pumped[line].flow) == pytest.approx(seconds, rel=0.05)


def test_what_is_bought_by_measure_has_its_spare_with_a_unit(yard):
    rows = sheet_tables.shopping(yard).rows
    clay = next(row for row in rows if "clay" in row[1])
    assert clay[3].split()[1] == clay[4].split()[1]  # "990 L", "99 L"
    assert all(row[4].isdigit() for row in rows if "piece" in row[3] and row[4])


def test_the_cut_list_breaks_between_words(yard):
    told = cut_list(yard)._repr_mimebundle_()
    assert (
        "<pre" not in told["text/html"] and told["text/html"].count("<p ") == len(told["text/plain"].splitlines()) - 1
    )  # the first is the fold's


@pytest.mark.usefixtures("drawn")
def test_what_it_hangs_on_most_is_the_pump(yard):
    sure = build_sheet.how_sure(yard)
    assert sure.n == 4000
    swings = sure.swings(build_sheet.first_flow(yard))
    assert swings.rows[0].name == "pump flow of riser"
    assert TornadoPicture(swings).png().startswith(b"\x89PNG")
    told = sure._repr_mimebundle_()
    assert "<pre" not in told["text/html"]  # in columns a narrow page cut off what it hangs on
    for words in ("pump flow of riser", "siphon starts", "everything at once", "half under"):
        assert words in told["text/html"] and words in told["text/plain"]


def test_the_commands_are_ones_that_there_are(yard):
    """The first words after the program are commands of `aquaplumb.__main__`."""
    from aquaplumb import __main__ as command

    lines = build_sheet.commands(my_build()).splitlines()
    assert all(line.startswith("python -m aquaplumb ") and "my-build.toml" in line for line in lines)
    known = Path(command.__file__).read_text(encoding="utf-8")
    assert all(f'add_parser("{line.split()[3]}"' in known for line in lines)


def test_keep_writes_the_build_as_it_stands(tmp_path, yard, few):
    panel = build_sheet.panel(my_build())
    panel.set(pump=0.35)
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: your build as it stands")
    assert (tmp_path / "my-build.toml").read_text(encoding="utf-8") == yard.text
    assert comparison("courtyard", my_build()).nothing  # what the last cell then prints
    assert "Written: sheet.html" in panel.kept
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "Courtyard, one pump" in page and "<script" not in page
    (tmp_path / "sheet.html").write_text("my own notes", encoding="utf-8")
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml") and "No new sheet:" in panel.kept
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8") == "my own notes"


def test_the_drawing_is_of_the_build(yard):
    data, about = build_sheet.drawing(yard)._repr_mimebundle_()
    assert data["image/png"].startswith(b"\x89PNG")
    assert all(name in data["text/plain"] for name in (*yard.vessels, *yard.lines))
    assert about["image/png"]["alt"] == data["text/plain"]


# --- questions --------------------------------------------------------------------------------------------


def test_the_guess_is_right_for_the_demo(yard):
    record = build_sheet.sureness(yard).si
    assert record.everything == 1
    line = Steady(yard).pumped["riser"]
    assert line.flow / line.wanted - 1 == pytest.approx(1 / 3, abs=0.03)  # "a third more flow than it needs"
    assert questions.guess().reply("in all of them").startswith("✔")
    assert not [f for f in review(yard).findings if f.severity != "note"]  # "the demo's review finds nothing to mend"


@pytest.mark.parametrize("learner", ["", "Ama", "Bo", "Chika"])
def test_the_answers_by_hand(learner):
    quiz = questions.quiz(learner)
    count, piece = quiz[1].numbers["count"], quiz[1].numbers["piece"].m_as("mm")
    each = {2500: 1, 1250: 3}[round(piece)]  # 2 × 2500 + 3 is over 5000; 4 × 1250 + 9 too, 3 × 1250 + 6 is not
    assert quiz[1].answer.magnitude == -(-count // each)
    assert quiz[2].answer.m_as("s") == pytest.approx(10 / quiz[2].numbers["flow"].m_as("L/h") * 3600)
    assert quiz[3].answer.m_as("percent") == pytest.approx(100 - quiz[3].numbers["held"] / 2000 * 100)
    assert quiz[4].answer.m_as("mL") == pytest.approx(quiz[4].numbers["joints"] * 946 / 125, rel=1e-3)
    for place in (1, 2, 3, 4, 6, 7):
        assert quiz[place].reply(quiz[place].answer).startswith("✔"), place
    assert quiz[5].reply([quiz[5].options.index(step) + 1 for step in quiz[5]._steps]).startswith("✔")
    assert quiz.results_line().count("right at once") == 7


def test_the_saw_question_is_the_cut_lists():
    """The same sum by the solver: pieces of equal length from 5 m with a saw of 3 mm."""
    from aquaplumb.workshop.cutting import cutting_plan

    for count in (4, 6, 8):
        for piece in (2.5, 1.25):
            bars = cutting_plan.si(np.full(count, piece), 5.0, kerf=0.003).si.bars
            assert len(bars) == questions._lengths(count, piece * questions.u.m)


def test_slips_are_told_apart():
    quiz = questions.quiz()
    flow = quiz[2].numbers["flow"]
    assert "Minutes and seconds" in quiz[2].reply(f"{(600 / flow.m_as('L/h')):.4f} s")
    held = quiz[3].numbers["held"]
    assert "chance that all of it holds" in quiz[3].reply(f"{held / 20} %")


def test_the_stronger_pump_breaks_what_the_answer_says(yard):
    seen = comparison(yard, questions.stronger())
    assert [f.name for f in seen.came].count("siphon never stops") == 2
    sump = seen.numbers["vessel sump.power cut"]
    assert 0 < sump.new - sump.old < 0.01  # "it rises by some millimetres"
    assert sump.new < yard.vessels["sump"].si.height - 0.05 and yard.vessels["sump"].si.height == 0.75
    cost = seen.numbers["line riser.cost"]
    assert cost.new / cost.old == pytest.approx(1.5, abs=0.1)  # "half as much again each year"
    assert questions.fault().reply("the siphons, which never stop any more").startswith("✔")


@pytest.mark.parametrize("given", ["", "  ", "9**9**9 L", "<b>x</b>", "-5", "1e99 L/h", "nan", "5 6 7", "\x00", "a" * 5000, "12 parsec"])
def test_no_answer_breaks_a_question(given):
    for question in [*questions.quiz().questions, questions.guess(), questions.fault()]:
        assert question.reply(given)[0] in "○✖"


def test_93_per_cent_is_one_in_fourteen():
    assert round(1 / 0.07) == 14


@pytest.mark.parametrize("name", ["courtyard", "bell-wire-to-the-pump"])
def test_the_last_review_sends_nobody_into_the_file(name):
    """Each finding is there, in the words of the pages: no section in brackets, no key of the file; and what no review sees."""
    build = load(name)
    seen, table = review(build), sheet_tables.reviewed(build)
    assert seen.verdict in table.heads[2]
    assert [row[1] for row in table.rows[: len(seen.findings)]] == [f.where for f in seen.findings]
    for *_, words in table.rows:
        assert not re.search(r"\[[a-z]|\b[a-z]+_[a-z]+\b", words), words
    assert table.rows[-1][0] == "not seen" and "leaks" in table.rows[-1][2]


@pytest.mark.parametrize("name", ["courtyard", "bell-wire-to-the-pump", "sump-with-nothing-to-spare"])
def test_only_notes_are_folded(name):
    """What says stop or fix stands open, also where it is accepted: nobody has to look for a danger."""
    build = load(name)
    page = sheet_tables.reviewed(build)._repr_html_()
    open_part, _, folded = page.partition("<details>")
    assert review(build).verdict in page.partition("</summary>")[0]
    for f in review(build).findings:
        first = html.escape(sheet_tables.told(f, "13"))
        assert first in (folded if f.severity == "note" else open_part) and first not in (open_part if f.severity == "note" else folded)
    assert "leaks" in folded
    worst = [f for f in review(build).findings if f.severity != "note"]
    if worst:
        again = sheet_tables.reviewed(review(build).accept(worst[0].name, worst[0].where, reason="looked at on the day"))._repr_html_()
        assert worst[0].sentence in html.unescape(again.partition("<details>")[0])


@pytest.mark.parametrize("name", ["courtyard", "greenhouse"])
@pytest.mark.usefixtures("drawn")
def test_on_a_phone_each_bar_has_its_name_over_it(name):
    """A phone of 400 pixels shows the left 376 of the picture: the names stood in a column of their own, far from their bars."""
    picture = SurePicture(build_sheet.sureness(load(name)))
    picture.png()
    renderer = picture.figure.canvas.get_renderer()
    names = [word for word in picture.words if word.get_text() not in ("just enough", "holds in")]
    assert len(names) == len(picture.bars)
    for word, bar, under in zip(names, picture.bars, [*names[1:], None]):
        box, row = word.get_window_extent(renderer), bar.get_window_extent(renderer)
        assert box.x1 < 376 + 30 and 0 <= box.y0 - row.y1 + 1 < 9  # just over its bar; in the greenhouse the longest name ends a word later
        assert under is None or under.get_window_extent(renderer).y1 < row.y0  # name, bar, name, bar

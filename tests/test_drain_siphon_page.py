"""Notebook 06: its panel against the review, what it keeps, and every number and claim of its prose."""

import math
import re

import pytest

from aquaplumb.build import Build, demos, load, my_build
from aquaplumb.build.layouts import first_build
from aquaplumb.figures.drain_siphon import DEEPEST
from aquaplumb.plumbing import drains, pipes
from aquaplumb.questions import drain_siphon as questions
from aquaplumb.review import review
from aquaplumb.system.steady import Steady
from aquaplumb.units import FLOW, SYSTEMS, DesignError, u
from aquaplumb.whatif import drain_siphon, drain_tries, siphon_round
from pages import changed_lines

DEMOS = ("courtyard", "greenhouse")
LINES = [(name, line) for name in DEMOS for line in load(name).falling]


pytestmark = pytest.mark.usefixtures("strict")


@pytest.fixture
def courtyard():
    return drain_siphon.panel(load("courtyard"))


# --- the panel ------------------------------------------------------------------------------------------


@pytest.mark.sweep(5)
@pytest.mark.parametrize(("name", "line"), LINES)
def test_the_panel_starts_as_the_review_has_it(name, line):
    build = load(name)
    seen, panel = review(build), drain_siphon.panel(build, line)
    record = panel.record.si
    assert record.load == pytest.approx(seen[f"fall {line}.has to carry"].value, rel=1e-12)
    if record.siphon:
        assert record.at_vent == pytest.approx(seen[f"fall {line}.carries at its vent"].value, rel=1e-12)
        assert record.sure == pytest.approx(seen[f"fall {line}.sure to start from"].value, rel=1e-12)
    else:
        assert record.capacity == pytest.approx(seen[f"fall {line}.carries up to the brim"].value, rel=1e-12)
    told, known = set(map(str, record.findings)), {str(f): f.notebook for f in seen.findings}
    assert told <= set(known)
    assert {notebook for text, notebook in known.items() if text not in told} <= {"09"}  # what only time shows
    assert FLOW.text(record.load, build.units) in panel.said


@pytest.mark.sweep(3)
@pytest.mark.parametrize(("name", "line", "system"), [(*case, SYSTEMS[place % 2]) for place, case in enumerate(LINES[:10])])
@pytest.mark.usefixtures("drawn")
def test_choosing_a_line_is_the_same_as_starting_with_it(name, line, system):
    panel, other = drain_siphon.panel(load(name)), drain_siphon.panel(load(name), line)
    panel.system = other.system = system
    panel.set(line=line)
    assert {n: str(v) for n, v in panel.values.items()} == {n: str(v) for n, v in other.values.items()}
    assert panel.said == other.said
    assert panel._png == other._png


def test_the_first_line_is_a_siphon_if_there_is_one():
    assert drain_siphon.fall(load("courtyard")).si.line == "bed 1 siphon"
    assert drain_siphon.fall(load("greenhouse")).si.line == "tank overflow"
    assert "vent" not in drain_siphon.panel(load("greenhouse")).values
    with pytest.raises(DesignError, match="bed 3 siphon"):
        drain_siphon.fall(load("courtyard"), "bed 3 siphon")


def test_more_water_passes_down_to_the_vessels_below():
    """What comes into a settling tank is what its fish tank lets go: continuity, whatever the pumps bring."""
    build = load("greenhouse")
    asked = FLOW.from_shown(900.0, "US")
    system = Steady(build, inflow={"fish tank": asked})
    assert system.vessels["fish tank"].peak == asked
    assert system.falling["tank overflow"].load == pytest.approx(asked)
    assert system.vessels["settling tank"].peak == pytest.approx(asked)
    assert system.vessels["bed 1"].peak == Steady(build).vessels["bed 1"].peak


def test_the_dot_lies_on_the_curve():
    """The depth that the load needs, asked of the inverse function, is where the drawn curve has that flow."""
    panel = drain_siphon.panel(load("courtyard"), "tank overflow")
    for size in ("32 mm, PN10", "50 mm, PN10", "90 mm, PN10"):
        panel.set(size=size)
        r = panel.record.si
        below, above = (r.flows[r.depths <= r.depth], r.flows[r.depths >= r.depth])
        assert r.depth < DEEPEST
        assert below[-1] <= r.load * (1 + 1e-9) and above[0] >= r.load * (1 - 1e-9)


def test_a_verdict_and_a_cross_go_with_the_findings_of_that_line():
    told = {
        "siphon-that-dribbles": "It dribbles for ever.",
        "siphon-that-never-stops": "It never stops.",
        "drain-no-wider-than-the-riser": "Not enough.",
        "overflow-that-sucks-the-tank-down": "It can siphon.",
        "screen-that-pins-fish": "It pins fish.",
    }
    for name, words in told.items():
        record = drain_siphon.fall(load(name))
        assert record.sentence().startswith(f"**{words}**"), name
        assert not record.si.works
        assert any(f.where == record.si.line and f.severity != "note" for f in record.si.findings)
    flat = load("flat-drain")
    slope = next(name for name, line in flat.falling.items() if line.si.kind == "gravity line")
    assert drain_siphon.fall(flat, slope).sentence().startswith("**Too flat.**")
    assert "half full" in drain_siphon.picture(flat, slope).alt(drain_siphon.fall(flat, slope))


def test_no_fall_is_said(courtyard):
    courtyard.set(outlet="1 m")
    assert courtyard.said.startswith("No fall.")
    assert courtyard.found[0][0] == "fix"  # the bed's emergency overflow takes it all
    assert not courtyard.record.si.works


# --- what the page says -----------------------------------------------------------------------------------


def done(panel):
    """Each try of a panel done alone, as it starts: what was said of it."""
    start, said = panel.values, []
    for place, one in enumerate(panel.tries.tries):
        panel.set(**{n: v if isinstance(v, (str, bool)) else panel.control(n).spec.kind.quantity(v) for n, v in one.to.items()})
        said.append(panel.tries.said()[place])
        panel.set(**start)
    return said


def test_the_tries_show_both_traps_and_what_fall_is_for(courtyard):
    wide, little, much, raised = done(courtyard)
    assert wide.startswith("**It dribbles for ever.**") and "5.7 times" in wide  # twice the bore: 2 to the power 2.5
    assert little.startswith("**It dribbles for ever.**")
    assert much.startswith("**It never stops.**")
    assert raised.endswith("no flow surely does both.")


@pytest.mark.parametrize("name", ["greenhouse", "raft-hall", "lean-to", "terrace"])
def test_a_build_without_siphons_tries_its_overflow(name):
    panel = drain_siphon.panel(load(name))
    narrow, _, shut = done(panel)
    assert not re.search("siphon", narrow.split("**")[2]) and "up to the brim" in narrow
    assert "pulls its vessel down" in shut


@pytest.mark.parametrize("name", demos())
def test_the_guess_is_answered_on_the_demo_and_then_yours(name, monkeypatch):
    published = []
    monkeypatch.setattr("IPython.display.publish_display_data", lambda data, *_: published.append(data))
    build = load(name)
    sight = drain_siphon.sight(build)
    assert sight.guessed.record.line == "bed 1 siphon" and sight.guessed.record.verdict == "It dribbles for ever."
    assert FLOW.text(sight.guessed.record.si.sure, build.units) in sight.why  # in the learner's units
    assert sight.own.record.si.line in sight.why
    assert ("no siphon" in sight.why) != sight.own.record.siphon
    assert FLOW.text(sight.own.record.si.load, build.units) in sight.own.look
    sight._ipython_display_()
    assert sum("image/png" in data for data in published) == 2
    assert "What to see" in published[-1]["text/html"] and "And yours?" in "".join(data.get("text/plain", "") for data in published)


def test_the_number_by_hand():
    """With a pencil: 2 √(9.81 × 0.017) × 0.785 × 0.017² in L/h; the page says 0.817 m/s, 0.000227 m², 667 L/h."""
    speed, area = 2 * math.sqrt(9.81 * 0.017), 0.785 * 0.017**2
    assert speed == pytest.approx(0.817, abs=5e-4)
    assert area == pytest.approx(0.000227, abs=5e-7)
    assert speed * area * 3.6e6 == pytest.approx(667, abs=1)
    assert pipes.bore("20 mm", "PN16").to("mm").magnitude == pytest.approx(17.0)  # 20 − 2 × 1.5 (DIN 8062)
    assert drains.siphon_starting_band("17 mm").sure.to("L/h").magnitude == pytest.approx(speed * area * 3.6e6, rel=1e-3)


def test_what_you_should_have_seen_round_by_round():
    """Shorter rounds, stays full, may, stands still, cured by a wider pipe, nearly twice."""
    panel = siphon_round.panel(load("courtyard"))
    usual = panel.record.si
    assert 1.7 < usual.biggest / usual.inflow < 2.0
    panel.set(vent="100 mm")
    nearer = panel.record.si
    assert 1.8 < nearer.per_hour / usual.per_hour < 2.2  # the guess: about twice as often
    assert nearer.highest - nearer.lowest < usual.highest - usual.lowest
    assert 35 * 60 < usual.fill + usual.empty < 45 * 60  # the guess: once in about 40 minutes
    panel.set(vent="200 mm", inflow="300 L/h")
    assert panel.record.si.outcome == "never starts"
    assert panel.record.si.last > panel.record.si.lip
    panel.set(inflow="500 L/h")
    assert panel.record.si.outcome == "may go round"
    panel.set(inflow="1400 L/h")
    r = panel.record.si
    assert r.outcome == "never stops"
    assert r.vent + 0.05 < r.last < r.lip - 0.05
    assert r.flows[-1] == pytest.approx(r.inflow, rel=0.05)
    panel.set(size="25 mm, PN16")
    assert panel.record.si.outcome == "goes round"
    assert questions.round_guess().reply("it goes round about twice as often").startswith("✔")


def test_twice_the_bore_nearly_six_times_the_flow():
    ratio = drains.siphon_starting_band("34 mm").sure / drains.siphon_starting_band("17 mm").sure
    assert ratio.magnitude == pytest.approx(5.66, abs=0.01)


@pytest.mark.parametrize(("size", "printed"), [("2 in", 23), ("3 in", 67), ("4 in", 144)], ids=["2 in", "3 in", "4 in"])
def test_the_vertical_leader_table(size, printed):
    """Vertical leaders, UPC 2000 (in Texas A&M B-6240) and NSPC 2006, whole gal/min; and near Froude 1, so "not quiet"."""
    assert round(drains.leader_flow(size).to("gal/min").magnitude) == printed
    number = drains.froude(printed * u.gal / u.min, pipes.bore(size, "Sch 40"))
    assert 0.85 < number < 1.2


def test_the_guess_is_right_for_the_bed_that_it_speaks_of():
    """850 L/h surely starts a siphon in 20 mm pipe, and is far from starting one in 40 mm."""
    assert drains.siphon_starting_band(pipes.bore("20 mm", "PN16")).sure < 850 * u.L / u.h
    for standard in ("PN10", "PN16"):
        assert drains.siphon_starting_band(pipes.bore("40 mm", standard)).may > 850 * u.L / u.h
    assert questions.guess().reply("it never starts again").startswith("✔")


def test_the_faulty_build_shows_what_the_answer_says():
    seen = review(load("overflow-that-sucks-the-tank-down"))
    numbers = seen.part("Overflows")
    assert "can siphon" not in numbers
    falling = seen.system.falling
    assert falling["overflow"].froude == pytest.approx(1.2, abs=0.05)
    assert falling["overflow"].capacity > 1.5 * falling["overflow"].load
    assert falling["emergency overflow"].froude < 0.3
    bores = {name: line.si.bore for name, line in seen.build.falling.items()}
    assert max(bores, key=bores.get) == "emergency overflow"
    assert questions.fault().reply("the overflow fills, and then pulls like a siphon").startswith("✔")


# --- questions --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("learner", ["", "Ama", "Bo"])
def test_the_answers_by_hand(learner):
    quiz = questions.quiz(learner)
    carries = quiz[1].numbers["carries"].m_as("L/h")
    assert quiz[1].answer.m_as("L/h") == pytest.approx(carries / 1.3)
    flow = quiz[2].numbers["flow"].m_as("L/h")
    assert quiz[2].answer.m_as("cm**2") == pytest.approx(2 * flow / 3.6e6 / 0.1 * 1e4)
    assert quiz[3].answer.m_as("L/h") == pytest.approx(4 * math.sqrt(2) * quiz[3].numbers["flow"].m_as("L/h"))
    area, flow = quiz[4].numbers["area"].m_as("m**2"), quiz[4].numbers["flow"].m_as("L/h")
    assert quiz[4].answer.m_as("min") == pytest.approx(area * 0.2 * 0.45 * 1000 / flow * 60)
    for place in (1, 2, 3, 4, 6, 7):
        assert quiz[place].reply(quiz[place].answer).startswith("✔")
    order = [quiz[5].options.index(step) + 1 for step in quiz[5]._steps]
    assert quiz[5].reply(order).startswith("✔")
    assert quiz.results_line().count("right at once") == 7


def test_the_limit_for_fry_is_the_librarys():
    """0.1 m/s: Timmons and the NMFS fry criteria (0.10 to 0.12 m/s), both from memory; the page must not say another."""
    assert drains.screen_speed_limit("1 g").m_as("m/s") == pytest.approx(0.1)


def test_slips_are_told_apart():
    quiz = questions.quiz()
    carries, flow = quiz[1].numbers["carries"], quiz[2].numbers["flow"]
    assert "would never stop" in quiz[1].reply(f"{carries.m_as('L/h') * 1.3} L/h")
    assert "half" in quiz[2].reply(f"{flow.m_as('L/h') / 3.6e6 / 0.1 * 1e4} cm2").lower()
    area, flow = quiz[4].numbers["area"], quiz[4].numbers["flow"]
    assert "empty box" in quiz[4].reply(f"{(area * 0.2 * u.m / flow).m_as('min')} min")
    assert "area is four times" in quiz[3].reply(f"{4 * quiz[3].numbers['flow'].m_as('L/h')} L/h")


@pytest.mark.parametrize("given", ["", "  ", "9**9**9 L", "<b>x</b>", "-5", "1e99 L/h", "nan", "5 6 7", "\x00", "a" * 5000, "12 parsec"])
def test_no_answer_breaks_a_question(given):
    for question in [*questions.quiz().questions, questions.guess(), questions.round_guess(), questions.fault()]:
        assert question.reply(given)[0] in "○✖"


# --- keeping ----------------------------------------------------------------------------------------------


def test_keep_writes_size_lip_outlet_and_vent_and_nothing_else(tmp_path):
    panel = drain_siphon.panel(my_build())
    panel.set(size="25 mm, PN16", lip="120 mm", outlet="0.1 m", vent="180 mm", inflow="1000 L/h")
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: bed 1 siphon:")
    assert changed_lines(tmp_path / "my-build.toml") == [
        ('lip = "0.87 m"', 'lip = "0.860 m"'),
        ('outlet = "0.20 m"', 'outlet = "0.100 m"'),
        ('size = "20 mm"', 'size = "25 mm"'),
        ('length = "1.1 m"', 'length = "1.190 m"'),  # the pipe is longer by what it falls deeper
        (
            'siphon = { vent = "0.67 m" }   # air comes in here and stops it',
            'siphon = { vent = "0.680 m" }   # air comes in here and stops it',
        ),
    ]
    again = drain_siphon.panel(my_build())
    assert again.values["size"] == "25 mm, PN16"
    assert again.values["vent"].m_as("mm") == pytest.approx(180)
    assert again.values["inflow"].m_as("L/h") == pytest.approx(854, abs=1)
    panel.set(inflow="854 L/h")
    assert panel.said == again.said


def test_keep_of_another_line_with_its_top_and_screen(tmp_path):
    panel = drain_siphon.panel(my_build())
    panel.set(line="tank overflow", size="75 mm, PN16", vented=False, screen="210 cm2")
    shown = [text for severity, text in panel.found if severity != "note"]
    panel._press_keep()
    line = my_build().falling["tank overflow"].si
    assert (line.size, line.standard, line.vented) == ("75 mm", "PN16", False)
    assert line.screen_open_area == pytest.approx(0.021)
    assert line.length == 2.5
    kept = [f"{f.sentence} {f.cure}" for f in review(my_build()).findings if f.severity != "note"]
    assert shown == kept


def test_keep_unchanged_changes_nothing(tmp_path):
    panel = drain_siphon.panel(my_build())
    panel._press_keep()
    assert panel.kept.startswith("✔")
    assert changed_lines(tmp_path / "my-build.toml") == []


def test_keep_in_us_units(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(load("greenhouse").text, encoding="utf-8")
    panel = drain_siphon.panel(load(path), "tank emergency overflow")
    panel.set(size="4 in, Sch 40", lip="3 in")
    panel._press_keep()
    line = load(path).falling["tank emergency overflow"].si
    assert line.size == "4 in"
    assert line.lip == pytest.approx((48 - 3) * 0.0254)  # the rim is 10 + 38 in up
    assert 'lip = "45.00 in"' in path.read_text(encoding="utf-8")


def test_a_line_known_by_its_bore_alone(tmp_path):
    path = tmp_path / "my-build.toml"
    own = 'size = "63 mm"\nstandard = "PN10"\nlength = "2.5 m"\nfittings = { "elbow 90" = 2 }\nvented'
    text = load("courtyard").text
    assert own in text
    path.write_text(text.replace(own, own.replace('size = "63 mm"\nstandard = "PN10"', 'bore = "60 mm"')), encoding="utf-8")
    panel = drain_siphon.panel(load(path), "tank overflow")
    assert panel.values["size"] == "60 mm bore"
    panel.set(size="63 mm, PN10")
    panel._press_keep()
    line = load(path).falling["tank overflow"].si
    assert (line.size, line.bore) == ("63 mm", pytest.approx(0.057))


def test_more_water_is_tried_where_the_slider_does_not_reach_twice():
    """ "Twice the water: 6,000 L/h" where 4,300 comes is 1.4 times."""
    fall = drain_siphon.FallWhatIf(load("courtyard"))
    own = fall.own("tank overflow")
    for comes, word in ((4300.0 / 3.6e6, "More water"), (1000.0 / 3.6e6, "Twice the water")):
        fall.own = lambda line=None, comes=comes: {**own, "inflow": comes}
        one = next(one for one in drain_tries.of_fall(fall, "tank overflow") if list(one.to) == ["inflow"])
        assert one.ask.startswith(word) and one.to["inflow"] == pytest.approx(min(2 * comes, 6000 / 3.6e6))


@pytest.mark.usefixtures("drawn")
def test_the_flow_axis_keeps_its_name_on_the_picture():
    """Four beds' overflow takes 10,000 L/h: the ruler's numbers are wide, and pushed "flow" off the left edge."""
    picture = drain_siphon.picture(Build(first_build("one loop", beds=4, drains="plain")))
    picture.png()
    named = [axes.yaxis.label for axes in picture.figure.axes if axes.yaxis.label.get_text()]
    assert named and all(label.get_window_extent().x0 >= 0 for label in named)

"""The round tank of page 05: its panel agrees with the review, what the page says is so, what it keeps, and its picture."""

import importlib
from itertools import combinations

import numpy as np
import pytest
from matplotlib.text import Text

from aquaplumb.build import Build, demos, load, my_build
from aquaplumb.build.layouts import first_build
from aquaplumb.figures.round_tank import RoundTankPicture
from aquaplumb.plumbing import jets
from aquaplumb.questions import line_head as questions
from aquaplumb.review import review
from aquaplumb.review.findings import found
from aquaplumb.system.steady import Steady
from aquaplumb.units import ANGLE, SPEED, SYSTEMS, DesignError
from aquaplumb.whatif import round_tank
from pages import WALKED, every_end, new_lines, prose

pytestmark = pytest.mark.usefixtures("strict")


@pytest.fixture
def greenhouse():
    return round_tank.panel(load("greenhouse"))


def test_the_panel_starts_as_the_review_has_it(greenhouse):
    seen, r = review("greenhouse"), greenhouse.record.si
    assert r.speed == pytest.approx(seen["tank fish tank.turns at the wall"].value, rel=1e-9)
    assert r.push == pytest.approx(seen["tank fish tank.push of its jets"].value, rel=1e-9)
    assert SPEED.text(r.speed, "US") in greenhouse.said
    assert {f.name for f in r.findings} == {f.name for f in found(seen.system)}


@pytest.mark.parametrize("angle", ["0 deg", "40 deg", "150 deg"])
def test_the_curve_goes_through_the_point(greenhouse, angle):
    """Identity: the bores solved all at once say at the bore chosen what the build solved alone says (0.5 %, between 18 points)."""
    for bore in ("0.25 in", "0.45 in", "0.8 in"):
        greenhouse.set(bore=bore, angle=angle)
        r = greenhouse.record.si
        for curve, point in ((r.speeds, r.speed), (r.slows, r.slow), (r.fasts, r.fast)):
            assert np.interp(r.bore, r.bores, curve) == pytest.approx(point, rel=0.005)


def test_the_jet_by_hand(greenhouse):
    """939 L/h through 2 × 0.61 × 102.6 mm² (0.45 in) leave at 2.084 m/s: 2.084²/19.61 = 0.2214 m of head, 998.2 Q v = 0.543 N."""
    r = greenhouse.record.si
    assert (r.flow * 3.6e6, r.jet, r.push) == (pytest.approx(939, abs=1), pytest.approx(2.084, abs=2e-3), pytest.approx(0.543, abs=1e-3))
    assert "0.73 ft of head" in greenhouse.found[-1][1]  # 0.2214 m, in feet as the line's own


@pytest.mark.parametrize("demo", WALKED)
def test_the_tries_narrow_widen_and_turn_the_nozzles(demo):
    """Too narrow a nozzle leaves little water, too wide a one no speed; pointed 60° away, it pushes half as hard. On both demos."""
    panel = round_tank.panel(load(demo))
    start, values, seen = panel.record.si, panel.values, []
    for place, one in enumerate(panel.tries.tries):
        panel.set(**{name: panel.control(name).spec.kind.quantity(si) for name, si in one.to.items()})
        seen.append((panel.record.si, panel.tries.said()[place]))
        panel.set(**values)
    (narrow, narrow_said), (wide, _), (away, _) = seen
    assert narrow.flow < 0.75 * start.flow and narrow.speed < start.speed
    assert SPEED.text(narrow.speed, panel.system) in narrow_said and SPEED.text(start.speed, panel.system) in narrow_said
    assert wide.jet < start.jet and wide.speed < start.speed
    assert away.push == pytest.approx(0.5 * start.push, rel=0.01)
    assert away.speed < start.speed


def test_the_guess_is_right_for_the_demo_it_speaks_of(greenhouse):
    """ "Nozzles half as wide … slower"."""
    start = greenhouse.record.si.speed
    greenhouse.set(bore="0.225 in")
    assert greenhouse.record.si.speed < 0.8 * start
    assert questions.turn_guess().reply("slower").startswith("✔")
    wrong = questions.turn_guess().reply("twice as fast")
    assert wrong[0] in "○✖" and "in the panel" not in wrong, "a learner's own line may do otherwise than the demo"


def test_the_page_says_how_far_a_speed_holds():
    """ "Speeds hold to a half": the band over the typical speed."""
    assert "Speeds hold to a half" in prose("05")
    slow, typical, fast = sorted(jets.turning_speed.si(0.5, 6e-4, 1.7, 0.8, resistance=c) for c in jets.RESISTANCE.values())
    assert fast / typical == pytest.approx(1.5, abs=0.1)
    assert slow / typical == pytest.approx(0.68, abs=0.05)


@pytest.mark.sweep(4)
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("demo", [*WALKED, "balcony"])
def test_every_end_of_every_control(demo, system):
    panel = round_tank.panel(load(demo))
    panel.system = system
    for _key, _end in every_end(panel):
        assert not panel.stale, panel.said
        assert panel.picture.alt(panel.record)


def test_another_inlet_brings_its_own_values(greenhouse):
    greenhouse.set(branch="inlet")
    alone = round_tank.panel(load("greenhouse"), "inlet")
    assert greenhouse.said == alone.said
    assert greenhouse.said.startswith("A nozzle is tried at the end of inlet.")
    with pytest.raises(DesignError, match="stirring jets"):
        round_tank.panel(load("greenhouse"), "bed riser")


def test_what_is_wrong_is_said_where_it_is(greenhouse):
    greenhouse.set(slot="0.5 in")
    assert any(text.startswith("The strainer of tank loop lets through") for _, text in greenhouse.found)
    greenhouse.set(slot="0 in")
    assert not any("strainer" in text for _, text in greenhouse.found)
    floor = load("greenhouse").changed({("lines", "tank overflow", "intake"): "12 in"})
    assert round_tank.panel(floor).said.startswith("Slow:")
    assert not round_tank.panel(floor).record.works
    small = round_tank.panel(load("greenhouse").changed({("fish", "body_mass"): "2.5 g"}))
    assert small.said.startswith("Too fast:")
    assert not small.record.works
    assert greenhouse.said.startswith("Gentle:")
    assert greenhouse.record.works


def test_a_dry_inlet_says_so():
    panel = round_tank.panel(load("greenhouse").changed({("lines", "tank loop", "pipe", "stirring jets", "opening"): 0}))
    assert panel.said.startswith("No water:")
    assert not panel.record.works


def test_a_build_without_a_round_tank_practises_on_the_demos():
    square = {("vessels", "fish tank", key): value for key, value in (("shape", "rectangular"), ("diameter", None), ("length", "1.4 m"), ("width", "1.1 m"))}  # fmt: skip
    bare = load("courtyard").changed(square)
    with pytest.raises(DesignError, match="no round fish tank"):
        round_tank.turned(bare)
    panel = round_tank.panel(bare)
    assert panel.above.startswith("Your build has no round fish tank that a pump sends water to: practise on the courtyard's tank;")
    assert panel.record.tank in load("courtyard").vessels


def test_keep_writes_what_changed_and_back_again(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(load("greenhouse").text, encoding="utf-8")
    panel = round_tank.panel(my_build())
    panel.set(bore="0.4 in", angle="20 deg", slot="0.1 in")
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: stirring jets:"), panel.kept
    new = new_lines(path, "greenhouse")
    assert sorted(line.split(" =")[0] for line in new) == ["nozzle_angle", "nozzle_bore", "strainer_slot"]
    pipe = next(pipe.si for pipe in my_build().pumped["tank loop"].si.pipe if pipe.si.name == "stirring jets")
    assert ANGLE.text(pipe.nozzle_angle) == "20 deg"
    assert round_tank.panel(my_build()).said == panel.said
    panel.set(bore="0.45 in", angle="0 deg", slot="0 in")
    panel._press_keep()
    assert not new_lines(path, "greenhouse")


def test_keep_of_a_nozzle_that_was_tried(tmp_path):
    panel = round_tank.panel(my_build())  # the courtyard's inlet is an open pipe
    panel._press_keep()
    assert panel.kept.startswith("✔"), panel.kept
    assert {line.split(" =")[0] for line in new_lines(tmp_path / "my-build.toml")} == {"nozzle_bore", "nozzles", "nozzle_angle"}
    again = round_tank.panel(my_build())
    assert not again.record.si.tried
    assert panel.said.endswith(again.said)
    assert Steady(my_build()).turning["fish tank"].speed == pytest.approx(panel.record.si.speed, rel=1e-3)


@pytest.mark.parametrize("demo", demos())
def test_the_picture_has_a_title_and_words(demo):
    picture = round_tank.picture(load(demo))
    data, about = picture._repr_mimebundle_()
    assert about["image/png"]["alt"] == data["text/plain"]
    assert "fastest" in data["text/plain"]
    assert picture.title(picture.record).startswith(("**Gentle", "A nozzle is tried"))


@pytest.mark.usefixtures("drawn")
def test_rulers_stay_while_sliders_move(greenhouse):
    plane = next(axes for axes in greenhouse.picture.figure.axes if axes.get_xlabel().startswith("bore"))
    before = plane.get_xlim(), plane.get_ylim()
    for changes in ({"bore": "0.1 in"}, {"nozzles": 8}, {"angle": "170 deg"}):
        greenhouse.set(**changes)
        assert (plane.get_xlim(), plane.get_ylim()) == before
        assert greenhouse.record.si.fasts.max() <= greenhouse.record.si.ruler


def test_it_is_reached_from_the_what_ifs():
    assert importlib.import_module("aquaplumb.whatif").round_tank is round_tank


@pytest.mark.usefixtures("drawn")
def test_no_word_lies_over_another():
    """A strainer's openings beside what fish bear; a speed just under that which carries solids."""
    panel = round_tank.panel(Build(first_build("two loops", beds=3)))
    panel.set(slot="1.5 mm", nozzles=4, bore="23.5 mm", angle="15 deg")
    picture = RoundTankPicture(panel.record)
    picture.png()
    assert 0.5 < panel.record.si.speed / panel.record.si.wanted < 0.8
    canvas = picture.figure.canvas.get_renderer()
    words = [picture.clean_word.artist, picture.bear_word.artist, picture.word.artist]
    words += [one for one in picture.figure.findobj(Text) if one.get_text() == "strainer's openings"]
    places = [word.get_window_extent(canvas) for word in words]
    assert len(places) == 4
    assert not [(one, other) for one, other in combinations(places, 2) if one.overlaps(other)]

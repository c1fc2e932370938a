"""The what-if base in code: values, units, ranges, failures, one redraw a move. The browser tests see it on a screen."""

import importlib.util
import re
import subprocess
import sys
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from matplotlib.colors import to_rgb

import aquaplumb
from aquaplumb.build import Build, load
from aquaplumb.figures.style import COLOURS, WRITTEN, Picture
from aquaplumb.review import review
from aquaplumb.units import BORE, DEPTH, FLOW, KINDS, LENGTH, STOCKING, SYSTEMS, TEMPERATURE, DesignError, pint_unit, si_value, u
from aquaplumb.whatif import screen
from aquaplumb.whatif.base import Choice, Keeper, Panel, Slider, keys_of, listed, named, rich, written

_spec = importlib.util.spec_from_file_location("toy_what_if", Path(__file__).parent / "browser" / "toy.py")
toy = importlib.util.module_from_spec(_spec)
sys.modules["toy_what_if"] = toy
_spec.loader.exec_module(toy)


@pytest.fixture(autouse=True)
def not_strict(monkeypatch):
    monkeypatch.delenv("AQUAPLUMB_STRICT", raising=False)


@pytest.fixture
def panel():
    return toy.panel(keep=lambda values: f"Kept {values['flow']:g~P}.")


def test_slider_in_code_changes_what_is_said(panel):
    before = panel.said
    panel.control("flow").slider.value = 3000
    assert panel.said != before and panel.values["flow"].m_as("L/h") == pytest.approx(3000)
    assert panel.control("flow").box.value == 3000


def test_answer_is_the_closed_form(panel):
    """Free fall: a level jet at speed v from height h lands at v·sqrt(2h/g) (Torricelli's parabola)."""
    panel.set(flow="1800 L/h", bore="20 mm", height="0.5 m")
    speed = (1.8 / 3600) / (np.pi * 0.01**2)
    assert panel.record.si.landing == pytest.approx(speed * (2 * 0.5 / 9.80665) ** 0.5, rel=1e-12)


def test_preset_draws_once(panel, monkeypatch):
    draws = []
    plain_png = panel.picture.png
    monkeypatch.setattr(panel.picture, "png", lambda *a, **k: draws.append(1) or plain_png(*a, **k))
    panel.set(flow="900 L/h", bore="25 mm", height="1 m", pipes=3, wall="near", wind=True)
    assert len(draws) == 1
    panel.control("flow").slider.value = 1000
    panel.control("flow").box.value = 1234
    panel.system = "US"
    assert len(draws) == 4


def test_a_build_gives_bare_si_and_a_person_gives_units():
    panel = toy.panel(start={"flow": 0.5e-3, "bore": "30 mm"}, follow={"wall": lambda values: {"flow": 2 * values["flow"]}})
    assert panel.si["flow"] == 0.5e-3 and panel.values["flow"].m_as("L/s") == pytest.approx(0.5)
    panel.set(wall="near")
    assert panel.si["flow"] == 1e-3
    with pytest.raises(DesignError, match="with no unit"):
        panel.set(flow=0.5e-3)
    with pytest.raises(DesignError, match="not a finite number"):
        toy.panel(start={"flow": float("inf")})


def test_what_follows_a_choice_moves_with_it_in_one_draw(monkeypatch):
    """Choosing another thing of a build brings that thing's own values, by hand or in code; said values win."""
    own = {"near": {"flow": "900 L/h", "bore": "20 mm"}, "far": {"flow": "1500 L/h", "bore": "30 mm"}}
    panel = toy.panel(follow={"wall": lambda values: own[values["wall"]]})
    draws = []
    plain_png = panel.picture.png
    monkeypatch.setattr(panel.picture, "png", lambda *a, **k: draws.append(1) or plain_png(*a, **k))
    panel.control("wall").menu.value = "near"
    assert (panel.values["flow"].m_as("L/h"), panel.values["bore"].m_as("mm")) == (pytest.approx(900), pytest.approx(20))
    assert len(draws) == 1
    panel.set(flow="1000 L/h")
    panel.set(wall="near")  # no change: nothing follows
    assert panel.values["flow"].m_as("L/h") == pytest.approx(1000)
    panel.set(wall="far", bore="25 mm")
    assert (panel.values["flow"].m_as("L/h"), panel.values["bore"].m_as("mm")) == (pytest.approx(1500), pytest.approx(25))
    assert len(draws) == 4


def test_a_choice_that_depends_on_another_offers_its_own_and_remembers_the_wish():
    sizes = {"inch": ["1 in", "2 in"], "metric": ["25 mm", "50 mm", "63 mm"]}
    metres = {"1 in": 25, "2 in": 51, "25 mm": 25, "50 mm": 50, "63 mm": 63}
    near = lambda wish, here: min(here, key=lambda size: abs(metres[size] - metres[wish]))  # noqa: E731
    panel = Panel(
        [Choice("standard", "standard", list(sizes)), Choice("size", "size", sizes, of="standard", near=near),
         Slider("flow", "flow", FLOW, "100 L/h", "900 L/h", "100 L/h")],
        compute=lambda standard, size, flow: toy.jet(flow, 0.02, 0.5, 1, False, "near"),
        picture=toy.JetPicture(),
        start={"standard": "metric", "size": "63 mm"},
    )  # fmt: skip
    menu = panel.control("size").menu
    assert [label for label, _ in menu.options] == sizes["metric"]
    panel.control("standard").menu.value = "inch"
    assert (panel.values["size"], menu.value, [label for label, _ in menu.options]) == ("2 in", "2 in", sizes["inch"])
    panel.set(standard="metric")
    assert menu.value == "63 mm"  # and not 50 mm, which is nearer to 2 in
    menu.value = "25 mm"
    panel.control("standard").menu.value = "inch"
    assert panel.values["size"] == "1 in"
    with pytest.raises(DesignError, match="choice of size"):
        panel.set(size="3 in")


def dependent(**options):
    """A panel whose second slider has to do with two walls of three, and can be played."""
    highs = {"near": "1 m", "far": "2 m"}
    return Panel(
        [Choice("wall", "wall", ["near", "far", "none"]),
         Slider("height", "height", LENGTH, "0 m", "2 m", "0.1 m", value="0.5 m", of="wall", highs=highs, play=50, on_release=True)],
        compute=lambda wall, height: toy.jet(1e-4, 0.02, height + 0.1, 1, False, "far"),
        picture=toy.JetPicture(),
        **options,
    )  # fmt: skip


def test_a_slider_that_depends_on_a_choice_is_shown_only_for_its_values_and_ends_where_they_say():
    panel = dependent()
    row = panel.control("height")
    assert (row.offered, row.slider.max) == (True, 1)
    panel.set(wall="far", height="1.8 m")
    assert row.slider.max == 2
    panel.control("wall").menu.value = "near"
    assert (row.slider.max, row.slider.value, panel.values["height"].m_as("m")) == (1, 1, pytest.approx(1))
    panel.control("wall").menu.value = "none"
    assert not row.offered and row.slider not in row._pair.children and row.line.layout.display == "none"
    assert "height" not in repr(panel) and "height" not in panel._words.value
    panel.set(wall="near")
    assert row.slider in row._pair.children and row.line.layout.display is None


def test_a_menu_with_nothing_to_offer_is_not_shown():
    things = {"a": [], "b": ["b 1", "b 2"]}
    panel = Panel([Choice("kind", "kind", list(things)), Choice("thing", "thing", things, of="kind"), Slider("flow", "flow", FLOW, "0 L/h", "9 L/h", "1 L/h")],
                  compute=lambda kind, thing, flow: toy.jet(flow, 0.02, 0.5, 1, False, "far"), picture=toy.JetPicture())  # fmt: skip
    assert panel.control("thing").menu.layout.display == "none" and "thing" not in repr(panel)
    panel.set(kind="b", thing="b 2")
    assert panel.control("thing").menu.layout.display is None and panel.values["thing"] == "b 2"
    panel.set(kind="a")
    panel.set(kind="b")
    assert panel.values["thing"] == "b 2"


def test_play_moves_slider_box_and_value_one_step_at_a_time(monkeypatch):
    panel = dependent()
    row, draws = panel.control("height"), []
    assert (row.play.value, row.play.max, row.play.interval) == (5, 10, 50)
    plain_png = panel.picture.png
    monkeypatch.setattr(panel.picture, "png", lambda *a, **k: draws.append(1) or plain_png(*a, **k))
    row.play.value = 6
    assert (row.value, row.slider.value, row.box.value, len(draws)) == (pytest.approx(0.6), 0.6, 0.6, 1)
    row.slider.value = 0.9  # by hand: play goes on from there, and that is one draw
    assert (row.play.value, len(draws)) == (9, 2)
    panel.set(wall="far")
    assert (row.play.max, row.play.value) == (20, 9)
    panel.system = "US"
    row.play.value = row.play.max
    assert row.value == pytest.approx(row.slider.max * 0.3048)


def test_what_takes_long_is_heard_when_let_go_and_says_that_it_computes():
    seen = []
    panel = dependent(slow=lambda wall, height: height > 0.7)
    assert not panel.control("height").slider.continuous_update
    panel._compute = lambda **values: seen.append("ap-busy" in panel._picture._dom_classes) or toy.jet(1e-4, 0.02, 0.5, 1, False, "far")
    panel.set(height="0.8 m")
    panel.set(height="0.6 m")
    assert seen == [True, False]
    assert "ap-busy" not in panel._picture._dom_classes
    panel._slow, panel._compute = (lambda **values: True), (lambda **values: (_ for _ in ()).throw(DesignError("no.")))
    panel.set(height="0.8 m")
    assert panel.stale and "ap-busy" not in panel._picture._dom_classes


def test_only_what_moves_is_drawn_again(panel, monkeypatch):
    frames = []
    monkeypatch.setattr(panel.picture, "frame", lambda record: frames.append(1) or toy.JetPicture.frame(panel.picture, record))
    panel.set(flow="900 L/h")
    panel.set(flow="950 L/h")
    assert frames == []
    panel.system = "US"
    panel.set(flow="950 L/h")
    assert len(frames) == 1


def test_moved_picture_is_the_same_as_one_drawn_afresh(panel):
    for flow in ("900 L/h", "3000 L/h", "1500 L/h"):
        panel.set(flow=flow)
    fresh = toy.JetPicture()
    fresh.titled = False
    assert fresh.png(panel.record) == panel.picture.png(panel.record)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.floats(0.0, 6000.0, allow_subnormal=False), st.integers(1, 4))
def test_units_there_and_back_keep_the_value(litres, times):
    row = Slider("flow", "flow", FLOW, "0 L/h", "6000 L/h", "50 L/h").row()
    row.take(row.checked(litres * u.L / u.h))
    kept = row.value
    for system in ("US", "metric") * times:
        row.show(system)
        row.slider.value = row.slider.value + 1e-13 * litres  # the echo of a slider that was told its place
    assert row.value == kept


def test_switching_the_panel_there_and_back_keeps_every_value(panel):
    panel.set(flow="1234.5 L/h", bore="1 in", height="3 ft")
    before = {name: panel.control(name).value for name in panel.values}
    panel.system = "US"
    panel.system = "metric"
    assert {name: panel.control(name).value for name in panel.values} == before


def test_us_units_are_said(panel):
    panel.set(flow="378.5411784 L/h")  # 100 US gallons of 231 in³
    panel.system = "US"
    assert panel.control("flow").box.value == pytest.approx(100)
    assert re.search(r"\d (ft|in) away", panel.said) and panel.control("flow").box.description == "flow [gal/h]"
    assert panel.values["flow"].m_as("gal/h") == pytest.approx(100)


def test_a_build_outside_the_range_widens_it():
    panel = toy.panel(start={"flow": "7000 L/h"})
    assert panel.values["flow"].m_as("L/h") == pytest.approx(7000)
    assert panel.control("flow").slider.max == 7000 and panel.control("flow").slider.value == 7000


def test_a_typed_value_outside_is_limited_and_said(panel):
    panel.control("flow").box.value = 99999
    assert panel.values["flow"].m_as("L/h") == pytest.approx(6000)
    assert "6,000 L/h is used" in panel._note.value
    panel.control("flow").box.value = float("nan")
    assert panel.values["flow"].m_as("L/h") == pytest.approx(6000)
    panel.control("flow").slider.value = 500
    assert panel._note.value == ""


def test_drift_of_steps_is_not_shown(panel):
    panel.control("height").slider.value = 0.1 + 0.05 * 3 + 1e-16
    assert panel.control("height").box.value == 0.25
    panel.control("pipes").slider.value = 2.9999999999999996
    assert panel.control("pipes").value == 3 and isinstance(panel.control("pipes").value, int)


@pytest.mark.parametrize("typed", ["11 3/4", "11¾", "11.75", '11 3/4"', "11 3/4 in"])
def test_a_box_of_feet_and_inches_reads_a_tape(typed):
    row = Slider("depth", "media depth", DEPTH, "5 cm", "60 cm", "1 cm").row()
    row.show("US")
    told = []
    row.heard = told.append
    row.box.value = typed
    assert row.value == pytest.approx(11.75 * 0.0254) and told == [""]
    row.box.value = "deep"
    assert "such as 1 ft 6 1/2 in." in told[-1] and "mm" not in told[-1] and row.value == pytest.approx(11.75 * 0.0254)


def test_a_slider_that_snaps_to_its_step_does_not_change_the_value(panel):
    """JupyterLab's slider answers a value between its steps with the nearest step; nobody's hand did that."""
    panel.set(flow="2345 L/h")
    panel.control("flow").slider.value = 2350.0000000000005
    assert panel.values["flow"].m_as("L/h") == pytest.approx(2345)
    panel.control("flow").slider.value = 2400
    assert panel.values["flow"].m_as("L/h") == pytest.approx(2400)


@pytest.mark.parametrize(
    ("kind", "low", "high", "step"),
    [
        pytest.param(TEMPERATURE, "0 degC", "40 degC", "0.5 degC", id="an offset unit"),
        pytest.param(FLOW, "100 L/h", "6000 L/h", "50 L/h", id="low end not zero"),
        pytest.param(BORE, "10 mm", "60 mm", "1 mm", id="inches from millimetres"),
        pytest.param(LENGTH, "0.1 m", "30 m", "0.1 m", id="feet from metres"),
    ],
)
@pytest.mark.parametrize("system", ["metric", "US"])
def test_slider_ends_stay_inside_and_on_whole_steps(kind, low, high, step, system):
    slider = Slider("x", "x", kind, low, high, step)
    ends = slider.ends()
    first, last, jump = slider.marks(system, *ends)
    assert kind.shown(ends[0], system) - 1e-9 <= first < last <= kind.shown(ends[1], system) + 1e-9
    assert last - first > 0.9 * (kind.shown(ends[1], system) - kind.shown(ends[0], system))
    assert (last - first) / jump == pytest.approx(round((last - first) / jump), abs=1e-6)
    assert 5 <= (last - first) / jump <= 1000


def test_half_a_degree_is_half_a_degree():
    """A step of 0.5 °C is 0.9 °F, and 40 °C is 104 °F (the definition: F = 1.8 C + 32)."""
    slider = Slider("t", "water", TEMPERATURE, "0 degC", "40 degC", "0.5 degC")
    assert slider.marks("metric", *slider.ends()) == (0, 40, 0.5)
    assert slider.marks("US", *slider.ends()) == (32, 104, 1)


@pytest.mark.parametrize(
    ("kind", "low", "high", "step", "us"),
    [
        pytest.param(STOCKING, "2 kg/m3", "60 kg/m3", "0.5 kg/m3", ("0.02 lb/gal", "0.5 lb/gal", "0.005 lb/gal"), id="density"),
        pytest.param(TEMPERATURE, "5 degC", "32 degC", "0.5 degC", ("41 degF", "89 degF", "1 degF"), id="warmth"),
    ],
)
def test_a_us_slider_stands_on_round_numbers(kind, low, high, step, us):
    """A press of an arrow went from 0.12 to 0.126690808904 lb/gal, and from 70 to 71.0000000001 °F: the range began at 2 kg/m³."""
    slider = Slider("x", "x", kind, low, high, step, us=us)
    assert slider.marks("US", *slider.ends()) == tuple(float(end.split()[0]) for end in us)
    least, most, _ = slider.marks("US", 0.5 * slider.ends()[0], 2 * slider.ends()[1])
    assert least < float(us[0].split()[0]) and most > float(us[1].split()[0]), "a build with less or more widens it"


def test_findings_stand_worst_first(panel):
    panel._findings = lambda record: [("note", "c"), ("fix", "b"), ("stop", "a"), ("note", "d")]
    panel.set(flow="900 L/h")
    assert [text for _, text in panel.found] == ["a", "b", "c", "d"]


def test_what_is_kept_is_told_in_few_figures():
    assert listed({("air", "depth"): "1.83333333334 ft", ("fish", "density"): "0.125 lb/gal"}) == "depth 1.833 ft, density 0.125 lb/gal"


def test_impossible_design_is_said_and_nothing_old_stands(panel):
    panel.set(flow="6000 L/h", bore="10 mm")
    assert panel.stale and panel.record is None and panel.found == [] and panel.fault is None
    assert "too narrow" in panel.said
    assert "ap-old" in panel._picture.value and 'alt="Out of date' in panel._picture.value
    assert "lands" not in panel._result.value + panel._found.value + panel._words.value
    panel._press_keep()
    assert panel.kept.startswith("✖ Not kept")
    panel.set(bore="40 mm")
    assert not panel.stale and "ap-old" not in panel._picture.value


def test_a_fault_of_ours_is_seen(panel, monkeypatch):
    panel.set(wall="fault")
    assert panel.said == "this is a fault in aquaplumb: ZeroDivisionError: made to fail"
    assert isinstance(panel.fault, ZeroDivisionError) and panel.stale
    monkeypatch.setenv("AQUAPLUMB_STRICT", "1")
    with pytest.raises(ZeroDivisionError):
        panel.control("flow").slider.value = 2000
    panel.set(wall="near")
    assert panel.fault is None


def test_a_fault_in_the_findings_does_not_show_half_an_answer(panel):
    panel._findings = lambda record: [("grave", "no such severity")]
    panel.set(flow="900 L/h")
    assert panel.stale and "ap-old" in panel._picture.value


def test_findings_say_their_severity_in_a_word(panel):
    panel.set(flow="4000 L/h", bore="15 mm", wall="near")
    assert panel.found[0][0] == "stop" and "✖ Stop" in panel._found.value
    panel.set(flow="100 L/h")
    assert panel.found == [] and "This panel finds no fault" in panel._found.value


def test_several_notes_stand_behind_a_button_and_nothing_worse_does(panel):
    panel._findings = lambda record: [
        ("note", "one"),
        ("stop", "a flood"),
        ("note", "two"),
        ("fix", "slow"),
        ("note", "And 2 more, 1 for later pages."),
    ]
    panel.set(flow="900 L/h")
    button, box = panel._notes.parts
    assert [words in panel._found.value for words in ("a flood", "slow", "And 2 more", "one", "two")] == [True, True, True, False, False]
    assert button.description == "2 notes" and button.layout.display is None and box.layout.display == "none"
    assert "one" in panel._quiet.value and "two" in panel._quiet.value
    button.value = True
    panel.set(flow="1000 L/h")
    assert box.layout.display is None, "opened, it stays open when a slider moves"
    panel.reviewed = [("note", "three"), ("note", "two")]
    panel.set(flow="1100 L/h")
    assert (
        button.value and "three" in panel._quiet.value and panel._quiet.value.count("two") == 1 and "Nothing to mend." in panel._found.value
    )
    panel.reviewed = None
    panel._findings = lambda record: [("note", "one")]
    panel.set(flow="900 L/h")
    assert "one" in panel._found.value and button.layout.display == box.layout.display == "none"


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        pytest.param(DesignError("the pump is not in your build."), "Not kept: the pump is not in your build.", id="design"),
        pytest.param(PermissionError(13, "Permission denied", "my-build.toml"), "Not kept: Permission denied (my-build.toml).", id="file"),
        pytest.param(KeyError("pump"), "this is a fault in aquaplumb: KeyError", id="fault"),
    ],
)
def test_keep_tells_its_outcome(wrong, told):
    def keep(values):
        raise wrong

    panel = toy.panel(keep=keep)
    panel.keep_button.click()
    assert told in panel.kept


def test_keep_gets_quantities(panel):
    panel.set(flow="1234 L/h")
    panel.keep_button.click()
    assert panel.kept == "✔ Kept 1234 L/h."


# --- what is kept -------------------------------------------------------------------------------------------


@pytest.mark.sweep(50)
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("kind", KINDS, ids=[f"{kind.noun} [{kind.unit()}]" for kind in KINDS])
@given(number=st.floats(-1e12, 1e12, allow_subnormal=False).filter(lambda number: number == 0 or abs(number) > 1e-12))
@settings(max_examples=20, deadline=None)
@example(number=10000.0)
@example(number=123456.0)
def test_what_is_written_reads_back_as_it_was(kind, system, number):
    """Identity, to the eleven figures of a binary number that are past any rounding; nothing that only print has, such as ×10⁴."""
    value = u.Quantity(number, pint_unit(kind.unit(system)))
    text = written(value)
    assert "×" not in str(text)
    absolute = 1e-9 if kind is TEMPERATURE else 0  # near 0 °C a kelvin has few figures left
    assert si_value(text, kind, "") == pytest.approx(si_value(value, kind, ""), rel=1e-11, abs=absolute)


def test_a_whole_number_is_written_out():
    assert [written(n * u.L / u.h) for n in (50.0, 9950.0, 10000.0, 123456.0)] == ["50 L/h", "9950 L/h", "10000 L/h", "123456 L/h"]


DENSITY, STONES = ("fish", "density"), ("air", "stones")


COPIED = "The rest of it is the demo “Courtyard, one pump”: make it yours. "


def keeper(tmp_path, demo="courtyard"):
    """A keeper of a build file that is not there yet."""
    return Keeper(Build(load(demo).text, tmp_path / "mine.toml"))


def test_kept_says_the_file_what_is_new_and_the_verdict(tmp_path):
    own = keeper(tmp_path)
    told = own.keep({DENSITY: "12 kg/m3", STONES: 6}, listed)
    assert (
        told == "Kept in mine.toml: density 12 kg/m³, stones 6. " + COPIED + f"Its review: {review(load(tmp_path / 'mine.toml')).verdict}."
    )
    assert own.build.fish.si.density == pytest.approx(12)
    assert "mine.toml: stones 7." in own.keep({DENSITY: "12 kg/m3", STONES: 7}, listed)
    assert "mine.toml: unchanged." in own.keep({DENSITY: "12 kg/m3", STONES: 7}, listed)
    assert "mine.toml: as told." in own.keep({DENSITY: "12 kg/m3", STONES: 7}, "as told")


def test_what_is_no_longer_changed_gets_what_it_had(tmp_path):
    own = keeper(tmp_path)
    own.keep({DENSITY: "12 kg/m3", STONES: 6}, listed)
    assert "stones 4" in own.keep({DENSITY: "12 kg/m3"}, listed)
    assert load(tmp_path / "mine.toml").air.si.stones == load("courtyard").air.si.stones == 4
    own.keep({}, listed)
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == load("courtyard").text


def test_of_another_line_what_was_kept_stays(tmp_path):
    own, first, other = keeper(tmp_path), ("lines", "bed 1 siphon"), ("lines", "bed 2 siphon")
    own.keep({(*first, "size"): "25 mm"}, listed, about=(first,))
    own.keep({(*other, "size"): "32 mm"}, listed, about=(other,))
    assert [own.build.falling[name].si.size for _, name in (first, other)] == ["25 mm", "32 mm"]
    own.keep({}, listed, about=(first,))
    assert [load(tmp_path / "mine.toml").falling[name].si.size for _, name in (first, other)] == ["20 mm", "32 mm"]


def test_a_section_that_was_made_goes_with_its_last_key(tmp_path):
    (tmp_path / "mine.toml").write_text(load("riser-too-thin").text, encoding="utf-8")
    own = Keeper(load(tmp_path / "mine.toml"))
    assert own.build.air is None
    own.keep({("air", "response_time"): "45 min", ("air", "backup_delay"): "2 min"}, listed)
    own.keep({("air", "response_time"): "45 min"}, listed)
    assert load(tmp_path / "mine.toml").air.si.response_time == pytest.approx(45 * 60)
    assert "air taken out" in own.keep({}, listed)
    assert load(tmp_path / "mine.toml").air is None


def test_what_another_page_kept_meanwhile_is_not_overwritten(tmp_path):
    own, other = keeper(tmp_path), keeper(tmp_path)
    own.keep({DENSITY: "12 kg/m3"}, listed)
    other.keep({STONES: 6}, listed)
    own.keep({DENSITY: "13 kg/m3"}, listed)
    assert load(tmp_path / "mine.toml").air.si.stones == 6
    load(tmp_path / "mine.toml").keep({DENSITY: "9 kg/m3"})
    with pytest.raises(DesignError, match="was changed in mine.toml meanwhile"):
        own.keep({}, listed)
    assert load(tmp_path / "mine.toml").fish.si.density == pytest.approx(9)


def test_changes_in_words():
    changes = {("air", "backup_pump"): None, ("lines", "bed 2 drain", "siphon"): {"vent": "0.70 m"}, ("water", "ph"): 7.2}
    assert listed(changes) == "backup pump taken out, vent 0.70 m, ph 7.2"
    assert listed(changes, gone="none").startswith("backup pump none")
    assert (listed({}), listed({}, "nothing new")) == ("unchanged", "nothing new")
    assert keys_of({("vessels", "bed 1", "media_depth"): "1 m", ("vessels", "bed 2", "media_depth"): "1 m"}) == "media depth"


def test_a_page_begins_with_the_name_it_is_given():
    assert named(None, ["riser", "roof"], "riser") == "riser"
    assert named("roof", ["riser", "roof"], "riser") == "roof"
    with pytest.raises(DesignError, match="the build's pumped lines has no 'rof'; did you mean roof"):
        named("rof", ["riser", "roof"], "riser")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        pytest.param({"flow": "900 L"}, "a flow", id="wrong dimension"),
        pytest.param({"flow": 900}, "no unit", id="no unit"),
        pytest.param({"flow": "9**9**9 L/h"}, "not a unit", id="arithmetic"),
        pytest.param({"pipes": 2.5}, "whole number", id="half a pipe"),
        pytest.param({"wall": "nearr"}, "did you mean near", id="no such option"),
        pytest.param({"wind": "yes"}, "True or False", id="not a switch"),
        pytest.param({"flux": "900 L/h"}, "flow", id="no such control"),
    ],
)
def test_bad_values_change_nothing(panel, change, told):
    before = panel.values
    with pytest.raises(DesignError, match=re.escape(told)):
        panel.set(**{"height": "1 m", **change})
    assert panel.values == before


@given(st.text(max_size=200))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_no_text_becomes_markup(text):
    assert not re.search(r"<(?!/?b>)", rich(text))


def test_names_from_a_build_are_escaped_and_drawn_as_they_are():
    class Named(toy.JetPicture):
        def title(self, record):
            return "<script>alert(1)</script> $\\frac$ 🐟"

        def alt(self, record):
            return '"><img src=x onerror=alert(1)>'

    picture = Named()
    panel = Panel([Slider("flow", "<b>flow</b>", FLOW, "0 L/h", "100 L/h", "1 L/h")],
                  lambda flow: toy.jet(flow, 0.02, 0.5, 1, False, "far"), picture)  # fmt: skip
    assert "<script" not in panel._result.value and "<img src=x" not in panel._picture.value + panel._words.value
    picture.titled = True
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        picture.png(panel.record)


def test_text_twins_are_stable(panel):
    texts = {repr(toy.panel()), toy.panel()._repr_mimebundle_()[0]["text/plain"].split("\n(")[0], repr(panel)}
    assert len(texts) == 1 and "0x" not in texts.pop()
    data, about = toy.JetPicture(panel.record)._repr_mimebundle_()
    assert data["text/plain"] == about["image/png"]["alt"] == panel.picture.alt(panel.record)
    assert data["image/png"] == toy.JetPicture(panel.record)._repr_mimebundle_()[0]["image/png"]


def test_a_frame_that_fails_is_not_kept_half_drawn(panel):
    class Broken(Picture):
        sound = False

        def frame(self, record):
            self.plane(("x", FLOW, "0 L/h", "1 L/h"), ("y", LENGTH, 0.0, 1.0))
            if not self.sound:
                raise DesignError("no frame")

        def move(self, record):
            pass

    picture = Broken()
    with pytest.raises(DesignError):
        picture.png(1)
    picture.sound = True
    assert picture.png(1).startswith(b"\x89PNG") and len(picture.figure.axes) == 1


def test_planes_side_by_side_do_not_overlap():
    class Two(Picture):
        def frame(self, record):
            ends = ("flow", FLOW, "0 L/h", "100 L/h"), ("height", LENGTH, "0 m", "1 m")
            self.planes = [self.plane(*ends, box=(left, 0, 0.5, 1)) for left in (0, 0.5)]
            self.planes += [self.plane(*ends, box=(0.5, low, 0.5, 0.5)) for low in (0, 0.5)]

        def move(self, record):
            pass

    picture = Two()
    picture.png(1)
    tight = [plane.axes.get_tightbbox(picture.figure.canvas.get_renderer()) for plane in picture.planes]
    left, _, low, high = tight
    assert left.x1 < low.x0 and low.y1 < high.y0
    for box in tight:
        assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= picture.width and box.y1 <= picture.height - 30


def test_colours_differ_in_grey():
    """The roles that meet in one picture differ in lightness too (Rec. 709 luma), for print and for colour-blind readers."""

    def luma(role):
        red, green, blue = (int(COLOURS[role][i : i + 2], 16) for i in (1, 3, 5))
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    for one, other in [("water", "pump"), ("pump", "faint"), ("water", "faint"), ("good", "pump"), ("faint", "grid")]:
        assert abs(luma(one) - luma(other)) > 30, (one, other)


@pytest.mark.parametrize("turned", [False, True], ids=["light", "dark"])
def test_words_of_every_role_can_be_read(turned):
    """At least 4.5 to 1 on white and on the role's own pale band, as drawn and as a dark theme turns it.

    Contrast: WCAG 2.2, success criterion 1.4.3 and its definition of relative luminance. What the browser does to a
    picture, invert(.9) and hue-rotate(180deg): W3C Filter Effects Module Level 1, feColorMatrix of type hueRotate.
    """
    hue = np.array([[0.213, 0.715, 0.072]] * 3) - np.array([[0.787, -0.715, -0.072], [-0.213, 0.285, -0.072], [-0.213, -0.715, 0.928]])

    def seen(colour):
        return np.clip(hue @ (0.9 - 0.8 * colour), 0.0, 1.0) if turned else colour

    def luminance(colour):
        return np.where(colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4) @ (0.2126, 0.7152, 0.0722)

    for role in WRITTEN.keys() - {"grid"}:
        white, word, role_colour = np.ones(3), np.array(to_rgb(WRITTEN[role])), np.array(to_rgb(COLOURS[role]))
        for ground in (white, 0.85 * white + 0.15 * role_colour):
            low, high = sorted(float(luminance(seen(colour))) for colour in (word, ground))
            assert (high + 0.05) / (low + 0.05) >= 4.5, role


def test_the_library_loads_without_widgets_or_figures():
    code = "import sys, aquaplumb; print([m for m in ('ipywidgets', 'matplotlib', 'pandas') if m in sys.modules])"
    checkout = Path(aquaplumb.__file__).parents[1]
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=checkout, check=True)
    assert shown.stdout.strip() == "[]"


def test_pyplot_is_not_used():
    code = "import sys, aquaplumb.whatif.base; print('matplotlib.pyplot' in sys.modules)"
    checkout = Path(aquaplumb.__file__).parents[1]
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=checkout, check=True)
    assert shown.stdout.strip() == "False"


def test_only_a_dark_theme_turns_a_picture():
    """A rule that turns colours over, or changes a menu's arrow, is for a dark page: none on a light one."""
    rules = [rule.strip() for style in (screen._PAGE, screen._STYLE) for rule in re.sub(r"/\*.*?\*/", "", style).split("}")]
    turning = [rule for rule in rules if "invert(" in rule or "dropdown-arrow" in rule]
    assert len(turning) >= 3
    assert all(re.match(r"DARK (?!DARK)", part.strip()) for rule in turning for part in rule.partition("{")[0].split(",\n"))

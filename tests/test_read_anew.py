"""After a Keep every panel of a page goes on from the build as it is kept, and its review stands under the panel."""

import importlib
import re

import pytest

from aquaplumb.build import Build, load, my_build
from aquaplumb.build.layouts import first_build
from aquaplumb.review import review
from aquaplumb.whatif import build_sheet, fish_load, season, start

pytestmark = pytest.mark.usefixtures("strict")

# A change of a control of each page that its Keep writes; the sheet's page writes none.
MOVES = {
    "fish_load": {"density": "12 kg/m3"},
    "season": {"count": 30},
    "beds_media": {"media_depth": "280 mm"},
    "water_flow": {"outlet_oxygen": "6 mg/L"},
    "pipe_size": {"size": "50 mm"},
    "line_head": {"elbows": 4},
    "round_tank": {"bore": "18 mm"},
    "drain_siphon": {"outlet": "0.1 m"},
    "siphon_round": {"vent": "150 mm"},
    "flow_share": {"valve_1": "66 %"},
    "pump": {"pump": "demo mains 180 W external"},
    "levels_time": {"across": "1.8 m"},
    "night_air": {"stones": 6},
    "supply": {"length": "4 m"},
    "warmth": {"covered": "60 %"},
    "start_up": {"seed": 0.2},
    "water_care": {"alkalinity": "70 mg/L"},
}


def opened(name):
    return importlib.import_module(f"aquaplumb.whatif.{name}").panel(my_build())


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(build_sheet, "_sheet", lambda build: "")
    return tmp_path


def keep(panel):
    panel._press_keep()
    assert panel.kept.startswith("✔"), panel.kept


def as_one_opened_now(panel, name):
    """What a panel opened on the file as it stands would say."""
    fresh = opened(name)
    return fresh.si, fresh.said


@pytest.mark.sweep(5)
@pytest.mark.parametrize("name", MOVES)
def test_what_is_kept_is_what_the_panel_and_another_of_the_page_show(name):
    panel, beside = opened(name), opened(name)
    wanted = {key: value for key, value in MOVES[name].items() if key in panel.si}
    assert wanted, f"{name} has {sorted(panel.si)}"
    panel.set(**wanted)
    keep(panel)
    values, said = as_one_opened_now(panel, name)
    assert _same(beside.si, values)
    assert beside.said == said and "goes on from it" in beside._note.value
    assert panel.said == said
    assert _same(panel.si, values)


def _same(one, other):
    return one.keys() == other.keys() and all(
        one[key] == pytest.approx(other[key], rel=1e-6) if isinstance(one[key], float) else one[key] == other[key] for key in one
    )


def test_a_stretch_kept_and_come_back_to_shows_what_is_kept():
    """The lost choice: riser 40 mm kept, another stretch kept, back to the riser, and the second Keep wrote 50 over it."""
    panel = opened("pipe_size")
    [first, second, *_] = panel.control("stretch").all.values()
    was = panel.si["size"]
    panel.set(size="50 mm" if was != "50 mm" else "40 mm")
    now = panel.si["size"]
    keep(panel)
    panel.set(stretch=second)
    panel.set(length="3 m")
    keep(panel)
    panel.set(stretch=first)
    assert panel.si["size"] == now != was
    keep(panel)
    line, part, stretch = first
    assert next(p.si.size for p in getattr(load("my-build.toml").pumped[line].si, part) if p.si.name == stretch) == now
    panel.set(size=was)
    keep(panel)
    assert next(p.si.size for p in getattr(load("my-build.toml").pumped[line].si, part) if p.si.name == stretch) == was


def test_a_control_that_was_moved_and_not_kept_stays():
    panel, beside = opened("line_head"), opened("round_tank")
    beside.set(angle="30 deg")
    angle = beside.si["angle"]
    panel.set(elbows=4)
    keep(panel)
    assert beside.si["angle"] == angle
    panel.set(blocked="50 %")
    panel.set(elbows=5)
    keep(panel)
    assert panel.values["blocked"].m_as("percent") == pytest.approx(50), "only tried, and still tried"
    assert "Only tried" in panel.kept


def test_the_review_of_what_is_kept_stands_under_the_panel():
    panel = opened("fish_load")
    assert "review of what is kept" not in panel._found.value
    panel.set(density="70 kg/m3")
    keep(panel)
    seen = review(load("my-build.toml"))
    assert "The review of what is kept" in panel._found.value
    own = [f for f in seen.findings if f.notebook == "01" and f.severity != "note"]
    assert own and all(any(f.sentence in text for _, text in panel.reviewed) for f in own[:3])
    assert panel._found.value.count(own[0].sentence) == 1, "not once for the sliders and once for the file"
    panel.set(density="10 kg/m3")
    assert "The review of what is kept" in panel._found.value, "it is of the file, not of the slider"
    keep(panel)
    assert not [text for severity, text in panel.reviewed if severity == "stop"]


def test_a_page_without_a_file_says_whose_build_it_copies():
    told = review(my_build()).so_far
    assert "There is no my-build.toml here: this is the demo “Courtyard, one pump”, and the first Keep copies it." in told
    panel = opened("pump")
    panel.set(wanted="3000 L/h")
    keep(panel)
    assert "The rest of it is the demo “Courtyard, one pump”: make it yours." in panel.kept
    panel.set(wanted="3100 L/h")
    keep(panel)
    assert "the demo" not in panel.kept and "the demo" not in review(my_build()).so_far
    assert "the demo" not in review(load("courtyard")).so_far


def test_other_controls_come_where_the_build_has_others(folder):
    """A year that is kept changes which fish there are: the panel above it has to ask for them."""
    year, load_ = opened("season"), opened("fish_load")
    shown = load_.widget
    year.set(count=30)
    keep(year)
    fresh = opened("fish_load")
    assert list(load_.si) == list(fresh.si) and load_.said == fresh.said and load_.widget is shown
    assert [row.spec.label for row in load_._rows.values()] == [row.spec.label for row in fresh._rows.values()]


def test_panels_of_another_file_are_left_alone(folder):
    (folder / "other.toml").write_text(load("courtyard").text, encoding="utf-8")
    from aquaplumb.whatif import pump

    other, mine = pump.panel(load("other.toml")), opened("pump")
    before = other._result.value
    mine.set(pump="demo mains 180 W external")
    keep(mine)
    assert other._result.value == before and not other._note.value


def test_the_first_page_says_that_it_makes_the_file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert (
        start.so_far(my_build()) == "There is no my-build.toml here: this is the demo “Courtyard, one pump”, and this page makes the file."
    )
    assert start._draws(my_build()).startswith("You have no build yet; in the demo “Courtyard, one pump” the pump draws from")
    start.panel(my_build())._press_keep()
    mine = review(my_build()).so_far
    assert " riser brings " in mine and start.so_far(my_build()) == re.sub(
        "; riser brings [^.]+", "", mine
    )  # the word comes on a later page
    assert start._draws(my_build()).startswith("In your build the pump draws from the lowest")
    assert "the pump of “bed loop” draws" in start._draws(load("greenhouse"))
    # A pump in the fish tank is what the guess calls wrong: here it is said why it may stand there
    over = Build(first_build("bed above the tank", beds=3))
    assert start._draws(over).endswith(
        "fish tank. The beds stand over it, and the second way out of each keeps a blocked drain from emptying it."
    )
    spare = {("lines", name): None for name, line in over.falling.items() if line.si.emergency}
    assert start._draws(over.changed(spare)).endswith("fish tank.")


def test_the_review_of_what_was_kept_goes_when_another_panel_keeps(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    first, second = fish_load.panel(my_build()), season.panel(my_build())
    first.set(density="12 kg/m3")
    first._press_keep()
    assert first.reviewed
    second._press_keep()
    assert second.reviewed and first.reviewed is None

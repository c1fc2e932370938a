"""Every what-if as it opens: no word against the review, labels, sliders that matter, and what is kept and turned back."""

import importlib

import pytest

from aquaplumb import whatif
from aquaplumb.build import demos, load, my_build
from aquaplumb.review import review
from aquaplumb.whatif import WALK, found
from aquaplumb.whatif.whatif import draw_ahead
from pages import panel_of

pytestmark = pytest.mark.usefixtures("strict")


@pytest.mark.sweep(14)
@pytest.mark.parametrize("demo", demos())
@pytest.mark.parametrize("name", [name for name in WALK if name != "start"])
def test_as_it_opens_no_finding_is_against_the_review(name, demo):
    panel = panel_of(name, demo)
    known = {
        found.told(f, panel.opened.now.page) for f in review(load(panel.opened.kind._lender(load(demo)) if panel.above else demo)).findings
    }
    assert not panel.stale
    told = {text for severity, text in panel.found if severity in ("stop", "fix")}
    assert told <= known


@pytest.mark.sweep(5)
@pytest.mark.parametrize("name", WALK)
def test_every_control_has_a_label_and_every_slider_a_box_with_its_unit(name):
    panel = panel_of(name, "courtyard")
    for control in panel._rows.values():
        assert control.spec.label
        if hasattr(control, "slider"):
            unit = control.spec.kind.unit("metric")
            assert control.box.description == (f"{control.spec.label} [{unit}]" if unit else control.spec.label)
    assert panel.keep_button.description.startswith("Keep")


@pytest.mark.sweep(4)
@pytest.mark.parametrize("name", WALK)
@pytest.mark.usefixtures("drawn")
def test_each_slider_matters_where_it_starts(name):
    """One press of a key changes the picture or the words (the browser test does it with a real key)."""
    panel = panel_of(name, "courtyard")
    for key, control in panel._rows.items():
        if not hasattr(control, "slider") or not control.offered:
            continue
        before, start = (panel._png, panel.said), panel.values[key]
        _low, high, step = control.spec.marks(panel.system, control.low, control.high)
        at = control.spec.kind.shown(control.value, panel.system)
        to = at + step if at + step <= high else at - step
        step_on = control.spec.kind.from_shown(to, panel.system)  # 21 % is 0.21
        panel.set(**{key: control.spec.kind.quantity(step_on) if control.spec.kind.si else step_on})
        assert control.spec.kind.shown(control.value, panel.system) == pytest.approx(to)
        assert (panel._png, panel.said) != before, f"{name}: {key} does nothing at its start"
        panel.set(**{key: start})


TURNED = {
    "fish_load": {"density": "12 kg/m3", "species": "common carp"},
    "beds_media": {"crop": "basil", "media_depth": "280 mm"},
    "water_flow": {"outlet_oxygen": "6 mg/L", "ph": 7.2, "minutes": "30 min"},
    "pipe_size": {"size": "50 mm"},
    "drain_siphon": {"size": "25 mm, PN16", "outlet": "0.1 m", "vent": "150 mm"},
    "flow_share": {"valve_1": "66 %", "branch": "to bed 2", "size": "32 mm"},
    "pump": {"pump": "demo mains 180 W external", "wanted": "3000 L/h"},
    "levels_time": {"across": "1.8 m", "cut": "150 mm"},
    "night_air": {"stones": 6, "spare": "none", "response": "45 min"},
    "start_up": {"start": "with fish", "first_share": 0.1, "seed": 0.2},
}  # a few controls of each panel that keeps only what was moved


BACK = {"flow_share": {"size": "25 mm"}}  # "as in my build" is what was kept


def sorted_keys(text):
    """The lines of a build file without their remarks; a key that was away comes back in another place."""
    return sorted(line.split("#")[0].rstrip() for line in text.split("\n"))


@pytest.mark.sweep(3)
@pytest.mark.parametrize("name", TURNED)
def test_what_is_kept_and_turned_back_is_as_it_was(name, tmp_path):
    """The file has what the panel shows: moved and kept, then back and kept, it says what the demo's file says."""
    panel = importlib.import_module(f"aquaplumb.whatif.{name}").panel(my_build())
    start, file = panel.values, tmp_path / "my-build.toml"
    panel.set(**TURNED[name])
    panel._press_keep()
    moved = file.read_text(encoding="utf-8")
    assert sorted_keys(moved) != sorted_keys(load("courtyard").text)
    panel._press_keep()
    assert file.read_text(encoding="utf-8") == moved
    panel.set(**{**start, **BACK.get(name, {})})
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: "), panel.kept
    assert "unchanged" not in panel.kept and "nothing new" not in panel.kept
    assert sorted_keys(file.read_text(encoding="utf-8")) == sorted_keys(load("courtyard").text)


@pytest.mark.sweep(7)
@pytest.mark.parametrize("name", WALK)
@pytest.mark.usefixtures("drawn")
def test_the_picture_at_the_build_has_a_title_and_words(name):
    picture = importlib.import_module(f"aquaplumb.whatif.{name}").picture(load("greenhouse"))
    data, about = picture._repr_mimebundle_()
    assert data["image/png"].startswith(b"\x89PNG")
    assert about["image/png"]["alt"] == data["text/plain"]
    assert len(data["text/plain"]) > 80
    assert picture.title(picture.record).strip()
    assert picture.width <= 720


@pytest.mark.usefixtures("drawn")
@pytest.mark.sweep(3)
@pytest.mark.parametrize("name", WALK)
def test_a_picture_that_is_drawn_ahead_shows_what_a_new_one_does(name):
    """Of the demo that it was drawn for, of another build, and of what is tried then."""
    panel = getattr(whatif, name).panel
    for build in (load("courtyard"), load("kitchen-garden", units="US")):
        draw_ahead(load("courtyard"), panel)
        ahead, new = panel(build), panel(build)
        assert ahead.picture is not new.picture and ahead._png == new._png
        row = next((one for one, made in new._rows.items() if made.offered and hasattr(made, "slider")), None)
        for one in (ahead, new) if row else ():
            one.control(row).slider.value = one.control(row).slider.min
        assert ahead._png == new._png

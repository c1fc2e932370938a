"""Every what-if: both ends of every slider, every option, both unit systems, with no exception and no word against the review."""

import importlib

import pytest

from aquaplumb.build import demos, load
from aquaplumb.review import review
from aquaplumb.units import SYSTEMS
from aquaplumb.whatif import WALK


@pytest.fixture(autouse=True)
def strict(monkeypatch, tmp_path):
    """A fault in a callback is an error here, not a line in the panel; nothing is kept in the checkout."""
    monkeypatch.setenv("AQUAPLUMB_STRICT", "1")
    monkeypatch.chdir(tmp_path)


def made(name: str, demo: str):
    return importlib.import_module(f"aquaplumb.whatif.{name}").panel(load(demo))


def ends(control):
    """What a control can be set to: both ends of a slider, all options, yes and no."""
    spec = control.spec
    if hasattr(control, "options"):
        return list(control.options.values())
    if not hasattr(spec, "kind"):
        return [False, True]
    low, high = spec.ends()
    return [spec.kind.quantity(low) if spec.kind.si else low, spec.kind.quantity(high) if spec.kind.si else high]


@pytest.mark.parametrize("demo", demos())
@pytest.mark.parametrize("name", WALK)
def test_every_end_of_every_control_in_both_systems(name, demo):
    panel = made(name, demo)
    for system in SYSTEMS:
        panel.system = system
        start = panel.values
        for key, control in panel._rows.items():
            for end in ends(control):
                panel.set(**{key: end})
                assert panel.fault is None
                assert panel.said
                if not panel.stale:
                    assert panel.picture.alt(panel.record)
            panel.set(**{key: start[key]})
        assert {n: str(v) for n, v in panel.values.items()} == {n: str(v) for n, v in start.items()}


@pytest.mark.parametrize("demo", demos())
@pytest.mark.parametrize("name", [name for name in WALK if name != "start"])  # 00 makes a build of its own
def test_as_it_opens_no_finding_is_against_the_review(name, demo):
    panel = made(name, demo)
    known = {f"{f.sentence} {f.cure}" for f in review(load(demo)).findings}
    assert not panel.stale
    told = {text for severity, text in panel.found if severity in ("stop", "fix")}
    assert told <= known


@pytest.mark.parametrize("name", WALK)
def test_every_control_has_a_label_and_every_slider_a_box_with_its_unit(name):
    panel = made(name, "courtyard")
    for control in panel._rows.values():
        assert control.spec.label
        if hasattr(control, "slider"):
            unit = control.spec.kind.unit("metric")
            assert control.box.description == (f"{control.spec.label} [{unit}]" if unit else control.spec.label)
    assert panel.keep_button.description.startswith("Keep")


@pytest.mark.parametrize("name", WALK)
def test_each_slider_matters_where_it_starts(name):
    """One press of a key changes the picture or the words (the browser test does it with a real key)."""
    panel = made(name, "courtyard")
    for key, control in panel._rows.items():
        if not hasattr(control, "slider") or not control.offered:
            continue
        before, start = (panel._png, panel.said), panel.values[key]
        _low, high, step = control.spec.marks(panel.system, control.low, control.high)
        at = control.spec.kind.shown(control.value, panel.system)
        to = at + step if at + step <= high else at - step
        panel.set(**{key: control.spec.kind.quantity(control.spec.kind.from_shown(to, panel.system)) if control.spec.kind.si else to})
        assert (panel._png, panel.said) != before, f"{name}: {key} does nothing at its start"
        panel.set(**{key: start})


@pytest.mark.parametrize("name", WALK)
def test_the_picture_at_the_build_has_a_title_and_words(name):
    picture = importlib.import_module(f"aquaplumb.whatif.{name}").picture(load("greenhouse"))
    data, about = picture._repr_mimebundle_()
    assert data["image/png"].startswith(b"\x89PNG")
    assert about["image/png"]["alt"] == data["text/plain"]
    assert len(data["text/plain"]) > 80
    assert picture.title(picture.record).strip()
    assert picture.width <= 720

"""The form of page 13 in which a builder writes down what was measured, and what the page says after each press."""

import re
from datetime import datetime
from pathlib import Path

import ipywidgets as widgets
import pytest

from aquaplumb.build import load, my_build
from aquaplumb.figures.bucket import BandsPicture
from aquaplumb.system.steady import Steady
from aquaplumb.units import DesignError
from aquaplumb.whatif import bucket

pytestmark = pytest.mark.usefixtures("strict")

NOW = datetime(2026, 5, 3, 9, 30)


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def form():
    return bucket.form(my_build(), clock=lambda: NOW)


def written(form, **cells):
    form.type({(what, of): text for what, named in cells.items() for of, text in named.items()})
    form.write_button.click()
    return form


@pytest.mark.usefixtures("drawn")
def test_before_anything_is_measured_it_tells_what_to_expect(form, home):
    assert "Nothing is measured yet" in form.said and form.seen is None and form._png
    assert {key for key in form.fields if key[0] == "flow"} == {("flow", "to the tank"), ("flow", "to bed 1"), ("flow", "to bed 2")}
    assert ("voltage", "riser") not in form.fields and ("starts", "bed 1 siphon") in form.fields
    left = [*form.widget.children[1].children[0].children[0].children]
    assert {form.fields[key] for key in form.fields if key[0] == "flow"} <= set(left), "what a bucket tells stands open, the rest in a fold"
    assert not {form.fields[key] for key in form.fields if key[0] != "flow"} & set(left)
    assert not list(home.iterdir())
    form.keep_button.click()
    assert "nothing is measured yet" in form.kept and not list(home.iterdir())


def inside(one):
    """A widget and all in it."""
    return [one, *(part for child in getattr(one, "children", ()) for part in inside(child))]


def test_the_form_asks_in_the_learner_s_units_and_for_the_yes_only_once_there_is_something_to_say_yes_to(form):
    us = bucket.form(my_build("mine.toml", demo="greenhouse"), clock=lambda: NOW)
    said = " ".join(one.value for one in inside(us.widget) if isinstance(one, widgets.HTML))
    assert "5 gal in 41 s" in said and "20 L" not in said
    shown = " ".join(field.placeholder for field in us.fields.values())
    assert "in" in shown and not re.search(r"\d (cm|L/h)\b", shown)
    assert us._value("power", "104") == form._value("power", "104") == "104 W"  # a bare number is in the unit that its box shows
    assert (
        us._value("rest", "17 1/2") == "17 1/2 in" and form._value("rest", "45.5") == "45.5 cm" and form._value("stops", "300") == "300 L/h"
    )
    assert us._value("flow", "5 gal in 41 s") == {"volume": "5 gal", "time": "41 s"}
    assert form.true.layout.display == form.keep_button.layout.display == "none"
    written(form, flow={"to bed 2": "43"})
    assert form.true.layout.display is None and form.keep_button.layout.display is None


def test_written_down_it_stands_in_the_file_and_speaks(form):
    written(form, flow={"to the tank": "20 L in 34 s", "to bed 1": "90", "to bed 2": "1080 L/h"}, power={"riser": "104 W"})
    assert form.kept.startswith("✔ 4 values written into my-build.toml") and not any(field.value for field in form.fields.values())
    day = load("my-build.toml").measured[0]
    read = {one.of: one for one in day.of("flow")}
    assert {of: round(one.value * 3.6e6) for of, one in read.items()} == {"to the tank": 2118, "to bed 1": 400, "to bed 2": 1080}
    assert read["to bed 1"].seconds.to("s").m == pytest.approx(90) and day.date == "2026-05-03"
    assert "flow of “to bed 1”: 400 L/h, BELOW its band" in form.said and "The valve in “to bed 1”" in form.said
    assert any("the valve in “to bed 1”" in one for one in form.true.options)


@pytest.mark.parametrize(
    "text, said", [("12 V", "it needs a flow"), ("10 L in 0 s", "more than nothing"), ("ten", "to bed 1"), ("-4 L/h", "less than")]
)
def test_bad_input_is_one_sentence_and_loses_nothing(form, text, said):
    written(form, flow={"to bed 2": "43"})
    before = Path("my-build.toml").read_text(encoding="utf-8")
    written(form, flow={"to bed 1": text}, power={"riser": "104 W"})
    assert form.kept.startswith("✖") and (said in form.kept or "cannot have been" in form.kept) and "fault" not in form.kept
    assert form.fields["flow", "to bed 1"].value == text and form.fields["power", "riser"].value == "104 W"
    assert Path("my-build.toml").read_text(encoding="utf-8") == before
    with pytest.raises(DesignError, match="flow of to bed 9"):
        form.type({("flow", "to bed 9"): "1"})


def test_a_valve_shut_meanwhile_is_told_with_it(form):
    form.shut.value = "to bed 1"
    written(form, flow={"to bed 2": "30"})
    (day,) = load("my-build.toml").measured
    assert day.shut == ("to bed 1",) and day.label == "2026-05-03, to bed 1 shut"


def test_the_yes_is_kept_and_the_bands_grow_narrower(form):
    written(form, flow={"to the tank": "20 L in 34 s", "to bed 1": "90", "to bed 2": "33.5"})
    rows = form._rows()
    assert all(row.after[1] - row.after[0] < row.before[1] - row.before[0] for row in rows)
    form.true.value = next(one for one in form.true.options if "valve" in one)
    form.keep_button.click()
    assert "Kept in my-build.toml, measured on 2026-05-03" in form.kept and "all inside their bands" in form.said
    kept = load("my-build.toml")
    assert kept.pumped["riser"].si.measured_on == "2026-05-03"
    assert {o.name: o.flow for o in Steady(kept).pumped["riser"].outlets}["to bed 1"] * 3.6e6 == pytest.approx(400, rel=0.04)


@pytest.mark.parametrize("demo", ["kitchen-garden", "balcony", "greenhouse"])
@pytest.mark.usefixtures("drawn")
def test_the_picture_of_each_build_keeps_its_words_apart(demo):
    """Rulers and words: no name runs into the plane, no number off the picture."""
    form = bucket.form(my_build("mine.toml", demo=demo), clock=lambda: NOW)
    picture = BandsPicture(form._rows(), form.build.units)
    picture.png()
    axes = picture.figure.axes[0]
    for word in axes.texts:
        box = word.get_window_extent()
        assert box.x0 >= 0 and box.x1 <= picture.figure.bbox.width, word.get_text()
    assert form.bucket in ("10 L", "2 gal") and picture.alt(picture.record).count("not measured") == len(picture.record)

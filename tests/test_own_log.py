"""The form of notebook 12 in which a log is begun and kept, and what the page says after each press."""

import html
from datetime import datetime
from pathlib import Path

import ipywidgets as widgets
import pytest

from aquaplumb.build import load, my_build
from aquaplumb.review.readings import actions
from aquaplumb.units import SYSTEMS, DesignError
from aquaplumb.whatif import own_log

pytestmark = pytest.mark.usefixtures("strict")

NOW = datetime(2026, 5, 10, 9, 30)
SAFE = {"temperature": "28", "pH": "7.1", "ammonia": "0.2", "nitrite": "0.05", "oxygen": "6.5", "alkalinity": "100"}


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def opened():
    return own_log.form(my_build(), clock=lambda: NOW)


def begun():
    form = opened()
    form.begin_button.click()
    return form


def added(form, **cells):
    form.type({name.replace("_", "-"): text for name, text in cells.items()})
    form.add_button.click()
    return form


def shown(form):
    return html.unescape(" ".join(w.value for w in (form._top, form._found, form._unread)))


@pytest.mark.usefixtures("drawn")
def test_without_a_log_a_demos_stands_there_judged_by_the_demos_build(home):
    (home / "my-build.toml").write_text(load("courtyard").changed({"fish.species": "rainbow trout"}).text, encoding="utf-8")
    form = opened()
    assert "judged by the demo's build: none of it is of your fish" in shown(form) and "trout" not in shown(form) + form.said
    assert form.begin_button in form._left.children and form.add_button not in form._left.children
    assert form.log.demo and form._png.startswith(b"\x89PNG")
    assert "courtyard-spring" in form._repr_mimebundle_()[0]["text/plain"]


def test_a_log_is_begun_and_the_page_says_so(home):
    form = opened()
    form.forms["nitrite"].value = "NO2"
    form.begin_button.click()
    assert form.kept == "✔ my-log.csv is begun; my-build.toml names it as your log."
    assert form.said == "my-log.csv has no readings yet." and form.log is None and not form._picture.value
    assert form.fields["nitrite"].description == "nitrite [mg/L as NO2]" and form.fields["date"].value == "2026-05-10"
    assert form.add_button in form._left.children and form.begin_button not in form._left.children


@pytest.mark.parametrize("units", SYSTEMS)
def test_the_fields_are_in_the_learners_units(home, units):
    (home / "my-build.toml").write_text(load("courtyard").changed({"units": units}).text, encoding="utf-8")
    form = begun()
    assert form.fields["temperature"].description == f"temperature [{'degF' if units == 'US' else 'degC'}]"
    added(form, temperature="82.4" if units == "US" else "28", pH="7.1")
    assert form.log.si["temperature"][0] == pytest.approx(301.15)  # 82.4 °F is 28 °C


def test_after_adding_the_advice_speaks_anew(home):
    form = added(begun(), **SAFE)
    assert form.kept.startswith("✔ Added to my-log.csv: 2026-05-10, temperature 28, pH 7.1")
    assert "Go on testing" in form.said and "ap-none" in form._found.value
    assert form.typed == {**dict.fromkeys(form.fields, ""), "date": "2026-05-10 09:30"}  # the day is there: the next row has its time
    added(form, nitrite="6")
    assert "now: nitrite" in form.said and "now: nitrite." in form._found.value and "ap-stop" in form._found.value
    assert "6 mg/L" in form.log.column("nitrite").kind.text(form.log.latest("nitrite")[1])


def test_what_cannot_be_is_refused_in_a_sentence_and_stays_typed(home):
    form = added(begun(), **SAFE)
    before = Path("my-log.csv").read_text(encoding="utf-8")
    added(form, date="2026-05-10 10:00", pH="74", oxygen="6.1", note="windy")
    assert form.kept.startswith("✖ pH: '74' cannot be: pH in water with living fish lies from 3 to 11")
    assert form.typed["pH"] == "74" and form.typed["oxygen"] == "6.1" and form.typed["note"] == "windy"
    assert Path("my-log.csv").read_text(encoding="utf-8") == before and "Go on testing" in form.said
    added(form, pH="7.4")
    assert form.kept.startswith("✔") and form.log.latest("pH")[1] == 7.4


def test_a_page_opened_anew_has_what_was_kept(home):
    added(begun(), **SAFE)
    again = opened()
    assert len(again.log) == 1 and again.fields["pH"].value == "" and again.kept == ""
    added(again, oxygen="5.9")
    assert len(opened().log) == 2


def test_a_file_written_by_hand_meanwhile_is_not_lost(home):
    form = added(begun(), **SAFE)
    with Path("my-log.csv").open("a", encoding="utf-8") as file:
        file.write("2026-05-09,,,,7,,,,,,by hand\n")
    form.again_button.click()
    assert len(form.log) == 2 and form.log.notes[0] == "by hand"
    added(form, oxygen="6")
    text = Path("my-log.csv").read_text(encoding="utf-8")
    assert "by hand" in text and text.count("2026-05-") == 3
    Path("my-log.csv").write_text(text.replace("oxygen [mg/L]", "weather"), encoding="utf-8")
    added(form, pH="7.3")
    assert form.kept.startswith("✔") and "oxygen" not in form.fields and "'weather' is not a column that I know" in form.said


def test_a_column_that_went_meanwhile_keeps_what_was_typed(home):
    form = added(begun(), **SAFE)
    text = Path("my-log.csv").read_text(encoding="utf-8")
    Path("my-log.csv").write_text(text.replace("oxygen [mg/L]", "weather"), encoding="utf-8")
    added(form, oxygen="6", pH="7.3")
    assert "no column 'oxygen' any more" in form.kept and form.typed["pH"] == "7.3" and "weather" not in form.fields


def test_a_log_that_cannot_be_read_is_said_in_place_and_left_alone(home):
    form = added(begun(), **SAFE)
    Path("my-log.csv").write_text("nothing that has a header\n", encoding="utf-8")
    form.again_button.click()
    assert "no column 'date'" in form.said and form.log is None and not form._found.value
    assert form.add_button not in form._left.children and form.again_button in form._left.children
    assert Path("my-log.csv").read_text(encoding="utf-8") == "nothing that has a header\n"


def test_a_log_that_is_lost_is_said_and_can_be_begun_anew(home):
    (home / "my-build.toml").write_text(load("courtyard").changed({("upkeep", "log"): "lost.csv"}).text, encoding="utf-8")
    form = opened()
    assert "there is no such file" in form.said and form.log is None
    form.begin_button.click()
    assert form.said == "lost.csv has no readings yet."


def test_the_build_of_the_day_judges(home):
    """Trout bear less nitrite than tilapia (FAO 589 table 3.1): what another panel kept is heeded at the next press."""
    form = added(begun(), **{**SAFE, "nitrite": "0.3"})
    assert "today: nitrite" not in form.said
    my_build().keep({"fish.species": "rainbow trout"})
    form.again_button.click()
    assert "rainbow trout bears" in form.said


def test_a_log_that_nobody_went_on_with_is_not_called_calm(home):
    """Ten days: common practice, no source. The words of the readings are of their last day, and somebody may open the page weeks later."""
    added(begun(), **SAFE)
    later = own_log.form(my_build(), clock=lambda: datetime(2026, 5, 24, 8))
    assert "Its last reading is 14 days old and says nothing of today's water: test now." in later.said
    assert "14 days old" in shown(later) and "days old" not in opened().said
    assert "days old" not in own_log.form(load("courtyard"), clock=lambda: NOW).said  # a demo's log is nobody's water


def test_what_a_person_typed_is_never_read_as_html(home):
    form = added(begun(), **{**SAFE, "note": "<b>x</b>"})
    added(form, pH="<img src=x>")
    assert "<img" not in form._note.value and "&lt;img" in form._note.value


def test_names_that_the_form_has_not_are_refused(home):
    with pytest.raises(DesignError, match="did you mean oxygen"):
        begun().type({"oxigen": "6"})


def test_every_field_has_its_label(home):
    form = begun()
    assert all(isinstance(field, widgets.Text) and field.description for field in form.fields.values())


def test_a_demo_s_advice_is_folded(home):
    """With its picture: it is of other fish than the reader's. What an own log asks for is not folded (below)."""
    form = own_log.form(my_build())
    assert (
        form.log.demo
        and form._found.value.startswith('<div style="margin: 4px 12px"><details>')
        and "A demo's log, and what it asks for" in form._found.value
        and "<img" in form._found.value
        and not any(part.value for part in (form._top, form._picture, form._unread))
    )


def test_all_advice_that_presses_is_unfolded(home):
    form = added(begun(), temperature="40", pH="5.2", ammonia="20", nitrite="9", oxygen="1", alkalinity="3")
    unfolded = form._found.value.partition("<details")[0]
    for action in actions(form.log, form.build):
        if action.urgency in ("now", "today"):
            assert f"{action.urgency}: {action.name}." in unfolded

"""The walk's notebooks as a learner meets them: run all, move every slider by keyboard, keep, and see it in the file."""

from pathlib import Path

import pytest

from aquaplumb.build import load

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"


@pytest.fixture
def page(lab, open_notebook):
    """Notebook 08, run, in a folder without a build file."""
    (lab.root / "my-build.toml").unlink(missing_ok=True)
    lab.add(NOTEBOOKS / "08-pump-choice.ipynb")
    page = open_notebook("08-pump-choice.ipynb", height=7000)
    page.hide_files()
    page.run_all()
    return page


def test_pump_choice_runs_and_every_slider_moves_its_picture(page):
    assert page.errors() == []
    page.picture().scroll_into_view_if_needed()
    page.see("08-pump-choice")
    page.see("08-panel", ".ap-panel:has(.ap-frame)")
    handles = page.sliders()
    assert handles.count() == 5
    page.page.get_by_label("pump", exact=True).select_option(label="24 V 100 W external")  # so that voltage has a meaning
    page.page.wait_for_function("() => /3,690|3,7/.test(document.querySelector('.ap-result').innerText)")
    for place, key in enumerate(["ArrowRight", "ArrowRight", "ArrowLeft", "ArrowRight"]):
        page.changed(lambda place=place, key=key: page.press(handles.nth(place), key))
    before = page.result()  # the price of a kWh moves the words, not the curves
    page.press(handles.nth(4), "PageUp")
    page.page.wait_for_function("before => document.querySelector('.ap-result').innerText !== before", arg=before)
    assert page.errors() == []


def test_pump_choice_keeps_the_pump_in_the_build_file(page, lab, open_notebook):
    page.page.get_by_label("pump", exact=True).select_option(label="mains 180 W external")
    page.page.wait_for_function("() => /180|5,\\d\\d\\d L/.test(document.querySelector('.ap-result').innerText)")
    page.page.get_by_role("button", name="Keep this pump in my build").click()
    page.page.wait_for_function("() => document.body.innerText.includes('Kept in my-build.toml')")
    kept = load(lab.root / "my-build.toml")
    assert kept.lines["riser"].si.pump == "demo mains 180 W external"
    assert kept.text.count("\n") == load("courtyard").text.count("\n")
    again = open_notebook("08-pump-choice.ipynb", height=7000)
    again.hide_files()
    again.run_all()
    assert again.page.get_by_label("pump", exact=True).evaluate("menu => menu.options[menu.selectedIndex].text").replace("\xa0", " ") == "mains 180 W external"
    assert again.errors() == []


def test_pump_choice_in_us_units_and_back(page):
    lift = page.box("lift [m]").input_value()
    page.changed(lambda: page.page.get_by_label("units", exact=True).select_option("US"))
    assert "gal/h" in page.result()
    assert page.box("lift [ft]").input_value() == f"{float(lift) / 0.3048:.5g}"
    page.changed(lambda: page.page.get_by_label("units", exact=True).select_option("metric"))
    assert page.box("lift [m]").input_value() == lift


def test_a_question_answers_back(page):
    page.box("answer 1").last.fill("1 parsec <b>")
    page.page.get_by_role("button", name="Check").nth(1).click()
    page.page.wait_for_function("() => document.body.innerText.includes('parsec')")
    assert page.errors() == []

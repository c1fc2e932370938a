"""The walk's notebooks as a learner meets them: run all, guess, move every slider by keyboard, keep, and see it in the file."""

from pathlib import Path

import pytest

from aquaplumb.build import load

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
BOOKS = sorted(path.name for path in NOTEBOOKS.glob("*.ipynb"))


@pytest.fixture
def opened(lab, open_notebook):
    """Open a notebook of the walk in a folder without a build file, and run it."""

    def run(name, fresh=True):
        if fresh:
            (lab.root / "my-build.toml").unlink(missing_ok=True)
        lab.add(NOTEBOOKS / name)
        page = open_notebook(name, height=7500)
        page.hide_files()
        page.run_all()
        return page

    return run


@pytest.mark.parametrize("name", BOOKS)
def test_a_page_from_top_to_bottom(opened, lab, name):
    page = opened(name)
    assert page.errors() == []
    waiting = page.page.get_by_role("button", name="Show it without a guess")
    assert waiting.count() == 1  # the picture waits for a guess
    page.page.get_by_role("button", name="Check").first.scroll_into_view_if_needed()
    page.page.locator(".ap-quiz input[type=radio]").first.check()
    page.page.get_by_role("button", name="Check").first.click()
    page.page.wait_for_function("() => [...document.querySelectorAll('.ap-quiz img')].some(i => i.naturalWidth > 300)")
    waiting.wait_for(state="hidden")  # in a message of its own, after the picture
    page.see(name.removesuffix(".ipynb"))
    page.picture().scroll_into_view_if_needed()
    page.see(f"{name[:2]}-panel", ".ap-panel:has(.ap-frame)")

    handles = page.sliders()
    assert handles.count() >= 2
    for place in range(handles.count()):
        handle = handles.nth(place)
        state = ("() => [...document.querySelectorAll('.ap-panel:has(.ap-frame)')].map(p =>"
                 " p.querySelector('.ap-frame img').src + p.querySelector('.ap-result').innerText).join()")  # fmt: skip
        before = page.page.evaluate(state)
        at_end = handle.get_attribute("aria-valuenow") == handle.get_attribute("aria-valuemax")
        page.press(handle, "ArrowLeft" if at_end else "ArrowRight")
        page.page.wait_for_function(f"before => ({state})() !== before", arg=before, timeout=15_000)
    assert page.errors() == []

    page.page.get_by_role("button", name="Keep").first.click()
    page.page.wait_for_function("() => /✔|✖/.test([...document.querySelectorAll('.ap-panel [role=status]')].map(e => e.innerText).join(' '))")
    kept = load(lab.root / "my-build.toml")
    assert kept.vessels
    assert page.errors() == []


def test_a_kept_pump_is_there_when_the_page_is_opened_again(opened, lab):
    page = opened("08-pump-choice.ipynb")
    page.page.get_by_label("pump", exact=True).select_option(label="mains 180 W external")
    page.page.wait_for_function("() => /5,\\d\\d\\d L/.test(document.querySelector('.ap-result').innerText)")
    page.page.get_by_role("button", name="Keep this pump in my build").click()
    page.page.wait_for_function("() => document.body.innerText.includes('Kept in my-build.toml')")
    kept = load(lab.root / "my-build.toml")
    assert kept.lines["riser"].si.pump == "demo mains 180 W external"
    assert kept.text.count("\n") == load("courtyard").text.count("\n")
    again = opened("08-pump-choice.ipynb", fresh=False)
    chosen = again.page.get_by_label("pump", exact=True).evaluate("menu => menu.options[menu.selectedIndex].text")
    assert chosen.replace("\xa0", " ") == "mains 180 W external"
    assert again.errors() == []


def test_us_units_and_back(opened):
    page = opened("08-pump-choice.ipynb")
    lift = page.box("lift [m]").input_value()
    page.changed(lambda: page.page.get_by_label("units", exact=True).select_option("US"))
    page.page.wait_for_function("() => document.querySelector('.ap-result').innerText.includes('gal/h')")
    assert page.box("lift [ft]").input_value() == f"{float(lift) / 0.3048:.5g}"
    page.changed(lambda: page.page.get_by_label("units", exact=True).select_option("metric"))
    assert page.box("lift [m]").input_value() == lift


def test_a_question_answers_back_whatever_is_typed(opened):
    page = opened("08-pump-choice.ipynb")
    page.box("answer 2").first.fill("1 parsec <b>")
    page.page.get_by_role("button", name="Check").nth(2).click()
    page.page.wait_for_function("() => document.body.innerText.includes('parsec')")
    assert page.errors() == []

"""The walk as a learner plays it, from 00 to 13 in one folder: run all, guess, choose, keep, see it in the file, move sliders."""

import sys
from pathlib import Path

import pytest

from aquaplumb.build import load
from aquaplumb.questions.learner import GUESSES
from aquaplumb.review import review

OFTEN, untidy = sys.modules["browser_lab"].OFTEN, sys.modules["browser_lab"].untidy
NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
BOOKS = sorted(path.stem for path in NOTEBOOKS.glob("*.ipynb"))
PANEL = ".ap-panel:has(.ap-frame)"
# What the panels show: their pictures and sentences; some choices move only one of them.
STATE = (
    f"() => [...document.querySelectorAll('{PANEL}')].map(p =>"
    " p.querySelector('.ap-frame img').getAttribute('src') + p.querySelector('.ap-result').innerText).join()"
)


def choose(label, option):
    return lambda page: page.choose(page.page.locator(PANEL).first.get_by_label(label, exact=True), option)


def enter(label, text):
    return lambda page: page.type(label, text)


def press(number, key="ArrowRight"):
    return lambda page: page.press(page.sliders().nth(number), key)


# A way through the pages with choices that are not the defaults; it has to end in a sound build.
CHOICES = {
    "00-start-here": [choose("layout", "two loops"), press(0)],  # three beds
    "01-fish-load": [enter("stocking density [kg/m³]", "12")],
    "02-beds-and-media": [choose("crop", "basil")],
    "03-how-much-water": [enter("tank volumes [1/h]", "0.9")],
    "04-pipe-size": [choose("size on the label", "40 mm")],
    "05-fittings-and-lift": [enter("elbows, first stretch", "3")],
    "06-drains-and-siphons": [enter("holes of its screen [cm²]", "200")],
    "07-sharing-the-flow": [press(0, "ArrowLeft"), choose("set the valves", "balanced for the shares")],
    "08-pump-choice": [enter("flow wanted [L/h]", "1500")],
}
# How low its outlet is matters to a siphon, and how deep stones hang to an air pump: this build has neither.
NOTHING_TO_SEE = {
    ("00-start-here", "fish tank, at least [L]"),
    ("06-drains-and-siphons", "height of its outlet [m]"),
    ("10-air-and-oxygen", "stones under water [m]"),
}

PUSHED = 4  # sliders of a page, about, that are moved with each push; all of them in the week


@pytest.fixture
def opened(lab, open_notebook):
    """Open a notebook of the walk and run it."""

    def run(name, *, gate_shut=True):
        if gate_shut:
            (lab.root / GUESSES).unlink(missing_ok=True)  # else a gate that was answered stays open
        lab.add(NOTEBOOKS / f"{name}.ipynb")
        page = open_notebook(f"{name}.ipynb", height=2400)
        page.hide_files()
        page.run_all()
        return page

    return run


@pytest.fixture(scope="module")
def file(lab):
    """The learner's build file, which goes on from page to page; there is none at first."""
    path = lab.root / "my-build.toml"
    path.unlink(missing_ok=True)
    return path


def moved(page, action):
    """Do something, and wait until a panel shows something else."""
    page.page.evaluate(f"() => {{ window.before = ({STATE})(); }}")  # long: it stays in the page
    action(page)
    page.page.wait_for_function(f"() => ({STATE})() !== window.before", timeout=15_000, polling=OFTEN)


def show(page):
    """Open the gate without a guess."""
    page.page.get_by_role("button", name="Show me").click()
    page.page.locator(".ap-shut").wait_for(state="detached")


@pytest.mark.parametrize("name", BOOKS)
def test_a_page_from_top_to_bottom(request, opened, file, name):
    page = opened(name)
    assert page.errors() == []
    shut = page.page.locator(".ap-shut")
    assert shut.count() == 1  # nothing below shows before a guess
    assert not page.page.locator(PANEL).first.is_visible()
    page.page.get_by_role("button", name="Check").first.scroll_into_view_if_needed()
    page.page.locator(".ap-quiz input[type=radio]").first.check()
    page.page.get_by_role("button", name="Check").first.click()
    shut.wait_for(state="detached")
    page.see(name)
    for width in (520, 1366):
        page.page.set_viewport_size({"width": width, "height": 2400})
        page.page.wait_for_timeout(300)
        assert untidy(page.page) == [], width
    page.picture().scroll_into_view_if_needed()

    for action in CHOICES.get(name, []):
        moved(page, action)
    page.see(f"{name[:2]}-panel", PANEL)
    page.page.get_by_role("button", name="Keep").first.click()
    page.page.wait_for_function("() => [...document.querySelectorAll('.ap-panel [role=status]')].some(e => /✔ Kept/.test(e.innerText))")
    assert page.errors() == []
    assert review(load(file)).sound, review(load(file)).advice

    folded = page.page.get_by_role("button", name="more …")
    while folded.count():  # its name turns to "less"
        button = folded.first.element_handle()
        button.click()  # of a whole panel, perhaps, in which another one waits
        page.page.wait_for_function("button => !button.innerText.includes('more …')", arg=button)
    handles = page.sliders().filter(visible=True)
    assert handles.count() >= 2
    each = handles.count() // PUSHED if request.config.getoption("markexpr") else 1
    for place in range(0, handles.count(), max(each, 1)):
        handle = handles.nth(place)
        if (name, handle.evaluate("h => h.closest('.ap-row').querySelector('label').textContent")) in NOTHING_TO_SEE:
            continue
        at_end = handle.get_attribute("aria-valuenow") == handle.get_attribute("aria-valuemax")
        moved(page, lambda page, handle=handle, at_end=at_end: page.press(handle, "ArrowLeft" if at_end else "ArrowRight"))
    assert page.errors() == []


def test_the_walk_ends_with_what_was_chosen(request, file):
    if sum("top_to_bottom" in item.name for item in request.session.items) < len(BOOKS):
        pytest.skip("only some of the pages were played")
    build = load(file)
    assert len(build.of_kind("bed")) == 3
    assert len(build.pumped) == 2
    assert build.value("fish", "density") == "12 kg/m3"
    assert build.value("plants", "crop") == "basil"
    assert build.pumped["tank loop"].si.pipe[0].si.size == "40 mm"
    assert build.pumped["tank loop"].si.pipe[0].si.fittings["elbow 90"] == 3
    assert build.pumped["tank loop"].wanted.to("L/h").magnitude == pytest.approx(1500)


def test_a_kept_pump_is_there_when_the_page_is_opened_again(opened, file):
    file.unlink(missing_ok=True)
    page = opened("08-pump-choice")
    show(page)
    page.choose(page.box("pump"), "mains 180 W external")
    page.page.wait_for_function("() => /5,\\d\\d\\d L/.test(document.querySelector('.ap-result').innerText)")
    page.page.get_by_role("button", name="Keep this pump in my build").click()
    page.page.wait_for_function("() => document.body.innerText.includes('Kept in my-build.toml')")
    kept = load(file)
    assert kept.lines["riser"].si.pump == "demo mains 180 W external"
    assert kept.text.count("\n") == load("courtyard").text.count("\n")
    again = opened("08-pump-choice", gate_shut=False)
    assert again.page.locator(".ap-shut").count() == 0 and again.page.locator(PANEL).first.is_visible()
    chosen = again.page.get_by_label("pump", exact=True).evaluate("menu => menu.options[menu.selectedIndex].text")
    assert chosen.replace("\xa0", " ") == "mains 180 W external"
    assert again.errors() == []


def test_us_units_and_back_and_a_question_answers_whatever_is_typed(opened, file):
    file.unlink(missing_ok=True)
    page = opened("08-pump-choice")
    show(page)
    lift = page.box("lift [m]").input_value()
    page.changed(lambda: page.page.get_by_label("units", exact=True).select_option("US"))
    page.page.wait_for_function("() => document.querySelector('.ap-result').innerText.includes('gal/h')")
    assert page.box("lift [ft]").input_value() == f"{float(lift) / 0.3048:.3g}"  # three figures, where the slider has no such step
    page.changed(lambda: page.page.get_by_label("units", exact=True).select_option("metric"))
    assert page.box("lift [m]").input_value() == lift
    page.page.get_by_role("button", name="Question 2 of 4").press("Enter")
    page.page.wait_for_function("() => document.activeElement.closest('.widget-text')?.innerText.includes('answer 2')")
    page.box("answer 2").first.fill("1 parsec <b>")
    page.page.get_by_role("button", name="Check").nth(2).click()
    page.page.wait_for_function("() => document.body.innerText.includes('parsec')")
    assert page.errors() == []

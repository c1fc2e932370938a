"""The what-if base in a real JupyterLab: keyboard, typed values, units, failures, the keep button, names for readers."""

import json
import os
from pathlib import Path

import pytest

TOY = Path(__file__).parent / "toy.py"


@pytest.fixture(scope="module")
def page(lab, open_notebook, written_notebook):
    lab.add(TOY)
    written_notebook(
        lab.root / "panel.ipynb",
        "import pathlib, toy\n"
        "def keep(values):\n"
        "    pathlib.Path('kept.txt').write_text(f\"{values['flow']:g~P}\")\n"
        "    return f\"The flow in your build is now **{values['flow']:g~P}**.\"\n"
        "panel = toy.panel(keep=keep)",
        "panel",
    )
    notebook = open_notebook("panel.ipynb")
    notebook.run_all()
    notebook.page.wait_for_selector(".ap-frame img")
    return notebook


def test_runs_without_error(page):
    assert page.errors() == []
    assert page.result().startswith("The water lands 0.536 m away")
    page.see("panel")


def test_nothing_cut_off_on_a_small_laptop(page):
    """Every label is shown in full and controls stand beside the picture at 1366 pixels, the file list open."""
    cut = page.page.evaluate(
        "() => [...document.querySelectorAll('.ap-panel .widget-label, .ap-panel button')]"
        ".filter(l => l.offsetParent && l.scrollWidth > l.clientWidth + 1).map(l => l.textContent)"
    )
    assert cut == []
    picture, slider = page.picture().bounding_box(), page.sliders().first.bounding_box()
    assert slider["x"] + slider["width"] < picture["x"] and abs(slider["y"] - picture["y"]) < 100
    assert picture["width"] > 500
    assert picture["x"] + picture["width"] <= 1366
    assert page.page.locator(".ap-panel").evaluate("p => p.scrollWidth - p.clientWidth") <= 1


def test_every_slider_moves_the_picture_from_the_keyboard(page):
    assert page.sliders().count() == 4
    for place in range(4):
        handle = page.sliders().nth(place)
        before = page.result()
        page.changed(lambda handle=handle: page.press(handle))
        # the picture may be new while the line of words is still on its way
        page.page.wait_for_function("before => document.querySelector('.ap-result').innerText !== before", arg=before)
    assert page.errors() == []


def test_typed_value(page):
    page.changed(lambda: page.type("flow [L/h]", "2345"))
    page.page.wait_for_timeout(300)  # long enough for a slider that snaps to a step to answer
    assert page.sliders().first.get_attribute("aria-valuenow") == "2350.0"  # the nearest step
    assert page.box("flow [L/h]").input_value() == "2345"


def test_value_outside_the_range_is_said(page):
    page.changed(lambda: page.type("flow [L/h]", "90000"))
    page.page.wait_for_selector(".ap-panel >> text=6,000 L/h is used")
    page.page.wait_for_function("() => [...document.querySelectorAll('.ap-panel input')][0].value === '6000'")


def test_units_there_and_back(page):
    page.changed(lambda: page.type("flow [L/h]", "1234"))
    page.changed(lambda: page.page.get_by_label("units", exact=True).select_option("US"))
    page.page.wait_for_function("() => document.querySelector('.ap-result').innerText.match(/\\d (ft|in) away/)")
    shown = float(page.box("flow [gal/h]").input_value())
    assert shown == pytest.approx(1234 / 3.785411784, rel=1e-4)  # the US gallon is 231 in³ = 3.785411784 L exactly
    page.see("panel-US")
    page.changed(lambda: page.page.get_by_label("units", exact=True).select_option("metric"))
    page.page.wait_for_function("() => document.querySelector('.ap-result').innerText.includes(' m ')")
    assert page.box("flow [L/h]").input_value() == "1234"


def test_choice_and_switch(page):
    page.changed(lambda: page.page.get_by_label("wall of the tank").select_option("near"))
    page.changed(lambda: page.page.get_by_label("wind against it").click())
    page.changed(lambda: page.page.get_by_label("wall of the tank").select_option("far"))


def test_failure_is_said_and_the_old_picture_marked(page):
    page.type("pipe bore [mm]", "10")
    page.type("flow [L/h]", "6000")
    page.page.wait_for_selector(".ap-old img")
    assert "is too narrow for <b>6,000 L/h</b>; take a wider pipe." in page.result()  # shown as typed, not as markup
    assert page.picture().get_attribute("alt").startswith("Out of date")
    page.see("panel-impossible")
    page.page.get_by_label("wall of the tank").select_option("fault")
    page.type("flow [L/h]", "1500")
    page.page.wait_for_selector(".ap-panel >> text=this is a fault in aquaplumb: ZeroDivisionError")
    page.page.get_by_label("wall of the tank").select_option("far")
    page.page.wait_for_selector(".ap-old", state="detached")
    assert page.errors() == []


# Every sentence that comes into the panel under its buttons, also one that another has replaced before anybody could ask.
WATCH_NOTES = """() => {
  window.notes = [];
  new MutationObserver(found => found.forEach(one => one.addedNodes.forEach(node => {
    if (node.getAttribute?.('role') === 'status' && !node.classList.contains('ap-result')) window.notes.push(node.textContent);
  }))).observe(document.querySelector('.ap-panel'), {childList: true, subtree: true});
}"""


def test_keep_writes_the_file(page, lab):
    page.changed(lambda: page.type("flow [L/h]", "1750"))
    page.page.evaluate(WATCH_NOTES)
    page.page.get_by_role("button", name="Keep this in my build").click()
    page.page.wait_for_selector(".ap-panel >> text=The flow in your build is now")
    notes = page.page.evaluate("() => window.notes")
    assert notes[0] == "Keeping …" and "The flow in your build is now" in notes[-1]  # on a busy machine a review takes seconds
    assert (lab.root / "kept.txt").read_text() == "1750 L/h"
    page.page.locator(".ap-panel summary").click()
    page.page.wait_for_selector(".ap-words p:visible")
    page.see("panel-kept")


def test_words_stay_open_while_sliding(page):
    """The text twin is not folded away by the next move."""
    if not page.page.locator(".ap-words p:visible").count():
        page.page.locator(".ap-panel summary").click()
    page.changed(lambda: page.press(page.sliders().first))
    page.page.wait_for_timeout(300)
    assert page.page.locator(".ap-words p").is_visible()


def test_accessible_names(page):
    """Each entry, choice, switch and button is found by its name, and the picture has its text.

    The slider's own handle has no name in ipywidgets 8; the labelled box beside it is the way in.
    """
    for label in ("flow [L/h]", "pipe bore [mm]", "height over water [m]", "pipe ends", "wall of the tank", "wind against it", "units"):
        assert page.box(label).count() == 1, label
    assert len(page.picture().get_attribute("alt")) > 20
    script = os.environ.get("AXE_CORE")  # the path of axe.min.js, for who has it
    if script:
        page.page.add_script_tag(path=script)
        found = page.page.evaluate("async () => (await axe.run('.ap-panel')).violations")
        page.see("axe")
        known = [v for v in found if v["impact"] in ("critical", "serious")]
        others = [(v["id"], n["html"][:120]) for v in known for n in v["nodes"] if "noUi-handle" not in n["html"]]
        print(json.dumps([v["id"] for v in found]))
        assert others == []

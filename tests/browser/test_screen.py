"""How a page lies on a small laptop's screen with the list of files open, and narrower: nothing over anything else, in light and dark."""

import io
import sys

import pytest

untidy = sys.modules["browser_lab"].untidy
PANEL = ".ap-panel:has(.ap-frame)"
ACTIVE = "() => window.jupyterapp.shell.currentWidget.content.activeCellIndex"
LAID_OUT = """([panel, most]) => {
    const [whole, frame] = [panel, panel + ' .ap-frame'].map(one => document.querySelector(one)?.getBoundingClientRect());
    return frame && frame.height > 0 && whole.width < most;
}"""  # JupyterLab takes a page apart when its width changes, and puts it together again
CELLS = "() => window.jupyterapp.shell.currentWidget.content.widgets.map(cell => cell.model.type)"


@pytest.fixture(scope="module")
def page(open_notebook, written_notebook, lab):
    written_notebook(
        lab.root / "screen.ipynb",
        "from aquaplumb import load\nfrom aquaplumb.questions import start as questions\nfrom aquaplumb.whatif import night_air",
        "panel = night_air.panel(load('lean-to'))\npanel",
        "questions.quiz()",
        "night_air.picture(load('courtyard'))",
    )
    notebook = open_notebook("screen.ipynb", width=1280, height=2400)
    if not notebook.page.locator("#jp-left-stack:visible").count():
        notebook.page.keyboard.press("Control+b")
    notebook.run_all()
    notebook.page.wait_for_selector(".ap-frame img")
    for place in (2, 3, 4):
        notebook.page.get_by_role("button", name=f"Question {place} of 4").click()
    yield notebook
    notebook.page.evaluate(
        "() => window.jupyterapp.commands.execute('apputils:change-theme', {theme: 'JupyterLab Light'}).then(() => null)"
    )


def test_controls_beside_the_picture(page):
    assert page.page.locator("#jp-left-stack").is_visible()
    slider, picture = page.sliders().first.bounding_box(), page.picture().bounding_box()
    assert slider["x"] < picture["x"] and picture["width"] > 400
    assert picture["x"] + picture["width"] <= 1280
    assert untidy(page.page) == []
    page.see("screen-1280")


def test_rarer_controls_fold_until_they_are_asked_for(page):
    delay = page.box("spare starts after [min]")
    assert not delay.is_visible()
    page.page.get_by_role("button", name="more …").click()
    delay.wait_for(state="visible")
    assert untidy(page.page) == []
    page.page.get_by_role("button", name="less").click()
    delay.wait_for(state="hidden")


def test_keys_stay_in_the_control(page):
    cells = page.page.evaluate(CELLS)
    page.sliders().first.focus()
    for key in "mxabdd":
        page.page.keyboard.press(key)
    page.page.get_by_label("units", exact=True).focus()
    for key in "mxb":
        page.page.keyboard.press(key)
    radio = page.page.locator(".ap-quiz input[type=radio]").first
    radio.focus()
    page.page.keyboard.press("ArrowDown")
    page.page.wait_for_timeout(200)
    assert page.page.evaluate(CELLS) == cells
    assert page.page.evaluate("() => document.activeElement.type") == "radio"
    assert page.page.locator(".ap-quiz input[type=radio]").nth(1).is_checked()


def test_a_narrow_page(page):
    page.page.set_viewport_size({"width": 760, "height": 3000})
    page.page.wait_for_function(LAID_OUT, arg=[PANEL, 450])
    panel, frame = page.page.locator(PANEL).bounding_box(), page.page.locator(f"{PANEL} .ap-frame").bounding_box()
    assert panel["x"] <= frame["x"] and frame["x"] + frame["width"] <= panel["x"] + panel["width"] + 1
    assert page.sliders().first.bounding_box()["y"] > frame["y"] + frame["height"] - 1
    size = page.picture().evaluate("e => [e.getBoundingClientRect().width, Number(e.getAttribute('width'))]")
    assert size[0] == size[1] > panel["width"], "a picture keeps its size, or its words cannot be read"
    assert (
        page.page.locator(f"{PANEL} .ap-frame").evaluate("e => { e.scrollLeft = 9999; return e.scrollLeft + e.clientWidth; }")
        >= size[0] - 1
    )
    assert untidy(page.page) == []
    page.see("screen-narrow")
    page.page.set_viewport_size({"width": 1280, "height": 2400})
    page.page.wait_for_function("panel => document.querySelector(panel)?.getBoundingClientRect().width > 700", arg=PANEL)
    page.page.wait_for_timeout(500)  # until what was taken apart is whole again: a picture that goes away cannot be looked at


def brightness(target) -> float:
    """That of a picture's ground, as shown: 0 black, 255 white."""
    image = pytest.importorskip("PIL.Image")
    shown = image.open(io.BytesIO(target.screenshot())).convert("L")
    return max(range(256), key=shown.histogram().__getitem__)


def test_pictures_follow_a_dark_theme(page):
    still = page.page.locator(".jp-RenderedImage img")
    assert brightness(page.picture()) > 240 and brightness(still) > 240
    page.page.evaluate("() => window.jupyterapp.commands.execute('apputils:change-theme', {theme: 'JupyterLab Dark'}).then(() => null)")
    page.page.wait_for_function("() => document.body.dataset.jpThemeLight === 'false'")
    page.page.wait_for_timeout(500)
    assert brightness(page.picture()) < 40 and brightness(still) < 40
    page.see("screen-dark")

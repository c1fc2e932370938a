"""A what-if on a projector: Voilà shows notebook 08 without its code, and the sliders move."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

lab_tools = sys.modules["browser_lab"]
CHECKOUT = Path(__file__).resolve().parents[2]
BOOK = "08-pump-choice.ipynb"
PANEL = ".ap-panel:has(.ap-frame)"
TIDY = f"document.querySelector('{PANEL}').querySelector('.ap-result').innerText + document.querySelector('{PANEL} .ap-frame img').getAttribute('src')"


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """(address, folder): a Voilà on 127.0.0.1 with a copy of the notebook in a folder of its own; ended with its kernels."""
    pytest.importorskip("voila")
    folder = tmp_path_factory.mktemp("voila")
    shutil.copy(CHECKOUT / "notebooks" / BOOK, folder)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    env = {key: value for key, value in os.environ.items() if not key.startswith(("JUPYTER", "JPY_"))}
    env |= {f"JUPYTER_{name}_DIR": str(folder / name.lower()) for name in ("CONFIG", "DATA", "RUNTIME")}
    env |= {"IPYTHONDIR": str(folder / "ipython"), "PYTHONPATH": os.pathsep.join(filter(None, [str(CHECKOUT), env.get("PYTHONPATH")]))}
    command = [sys.executable, "-m", "voila", BOOK, "--no-browser", f"--port={port}", "--Voila.ip=127.0.0.1"]
    with (folder / "server.log").open("w") as log:
        server = subprocess.Popen(command, env=env, stdout=log, stderr=log, cwd=folder, start_new_session=True)
    end = time.monotonic() + 90
    while time.monotonic() < end and server.poll() is None:
        try:
            with socket.create_connection(("127.0.0.1", port), 1):
                break
        except OSError:
            time.sleep(0.2)
    yield f"http://127.0.0.1:{port}/", folder
    for sign in (signal.SIGTERM, signal.SIGKILL):
        try:
            os.killpg(server.pid, sign)
            server.wait(10)
        except (ProcessLookupError, subprocess.TimeoutExpired):
            continue


@pytest.fixture(scope="module")
def page(shown, browser):
    address, _ = shown
    page = browser.new_page(viewport={"width": 1366, "height": 6000})
    page.set_default_timeout(90_000)
    page.faults = []
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    page.cut_off = []

    def elsewhere(route):  # a room without a network
        page.cut_off.append(route.request.url)
        route.abort()

    page.route(lambda url: not url.startswith((address, "data:", "blob:")), elsewhere)
    page.goto(address)
    page.wait_for_selector(".ap-panel .ap-frame img", state="attached")
    yield page
    page.close()


def test_a_guess_opens_the_page(page):
    assert not page.locator(PANEL).is_visible() and "Three things to remember" not in page.inner_text("body")
    page.locator(".ap-quiz input[type=radio]").first.check()
    page.get_by_role("button", name="Check").first.click()
    page.locator(PANEL).wait_for()


def test_the_page_is_there_without_its_code(page):
    text = page.inner_text("body")
    assert "Which pump brings the water up?" in text
    assert "Three things to remember" in text
    for code in ("from aquaplumb", "my_build()", "panel(build)", "print("):
        assert code not in text, code
    assert page.locator(".jp-InputArea-editor:visible, .input_area:visible").count() == 0
    assert "Traceback" not in text and not page.faults


def test_a_slider_moves_the_picture(page):
    place = page.locator(PANEL)
    for number in (0, 1):
        page.evaluate(f"() => {{ window.before = {TIDY}; }}")
        place.locator(".noUi-handle").nth(number).focus()
        page.keyboard.press("ArrowRight")
        page.wait_for_function(f"() => {TIDY} !== window.before", polling=lab_tools.OFTEN)
    lab_tools.seen(place, "voila-08-panel")
    lab_tools.seen(page, "voila-08")
    assert not page.faults


def test_keep_writes_beside_the_notebook(page, shown):
    page.get_by_role("button", name="Keep").click()
    page.wait_for_function("() => document.body.innerText.includes('Kept in my-build.toml')")
    assert (shown[1] / "my-build.toml").exists()


def test_on_a_phone_the_picture_stays_in_view_over_its_controls(page):
    page.set_viewport_size({"width": 400, "height": 800})
    last = page.locator(f"{PANEL} .ap-controls button").last
    last.evaluate("e => e.scrollIntoView({block: 'end'})")
    page.wait_for_timeout(300)
    frame, button = page.locator(f"{PANEL} .ap-frame").bounding_box(), last.bounding_box()
    assert frame["y"] >= 0 and frame["y"] + frame["height"] < button["y"] < 800
    assert frame["x"] >= 0 and frame["x"] + frame["width"] <= 400, "the frame scrolls, not the page"
    assert page.evaluate("[window.scrollTo(9999, window.scrollY), window.scrollX][1]") == 0
    lab_tools.seen(page, "voila-08-phone")
    page.locator(PANEL).first.evaluate("e => e.scrollIntoView({block: 'start'})")  # further down controls pass under the picture
    page.wait_for_timeout(300)
    assert lab_tools.untidy(page) == []


@pytest.mark.weekly
def test_only_icons_are_missed_without_a_network(page):
    """All of the above ran cut off from the net; Voilà asks for nothing there but a style sheet of icons."""
    assert [url for url in page.cut_off if "fontawesome" not in url] == []

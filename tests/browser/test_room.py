"""A room on this machine: joined by clients and by a phone's browser, a page opened, kept, reloaded, and its kernel killed."""

import asyncio
import gzip
import os
import re
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

pytest.importorskip("voila")
pytest.importorskip("segno")

from tornado.httpclient import HTTPClientError

from aquaplumb.build import load
from room_browser import RoomBrowser

lab_tools = sys.modules["browser_lab"]
CHECKOUT = Path(__file__).resolve().parents[2]
BOOK = "08-pump-choice.ipynb"
PANEL = ".ap-panel:has(.ap-frame)"


class Served:
    """A room that is being served: its address, its code, the teacher's link and its folder."""

    def __init__(self, folder):
        self.folder, said = folder / "room", folder / "said.txt"
        env = {key: value for key, value in os.environ.items() if not key.startswith(("JUPYTER", "JPY_"))}
        env["PYTHONPATH"] = os.pathsep.join(filter(None, [str(CHECKOUT), env.get("PYTHONPATH")]))
        command = [
            sys.executable,
            "-u",
            "-m",
            "aquaplumb",
            "room",
            str(self.folder),
            "--no-browser",
            "--address",
            "127.0.0.1",
            "--port",
            "0",
        ]
        with said.open("w") as out:
            self.server = subprocess.Popen(command, cwd=folder, stdout=out, stderr=out, env=env, start_new_session=True)
        end = time.monotonic() + 300
        while "The board" not in said.read_text() and self.server.poll() is None and time.monotonic() < end:
            time.sleep(0.1)
        self.said = said.read_text()
        if "The board" not in self.said:
            self.server.kill()
            raise AssertionError(f"the room did not start: {self.said}")
        self.teacher = re.search(r"http\S+/teacher/\S+", self.said)[0].replace("localhost", "127.0.0.1")
        self.address = self.teacher.split("/teacher")[0]
        self.code = re.search(r"C O D E([\d ]+)", self.said)[1].replace(" ", "")

    def close(self):
        self.server.send_signal(signal.SIGINT)
        try:
            return self.server.wait(30)
        finally:
            if self.server.poll() is None:
                self.server.kill()


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    if not hasattr(os, "fork"):
        pytest.skip("nothing forks here; a room takes a minute to be ready")
    served = Served(tmp_path_factory.mktemp("room"))
    yield served
    served.close()


class Aside:
    """An event loop in a thread of its own: Playwright keeps this one's."""

    def __init__(self):
        self.loop = asyncio.new_event_loop()
        self.thread = threading.Thread(target=self.loop.run_forever, daemon=True)
        self.thread.start()

    def run(self, work):
        return asyncio.run_coroutine_threadsafe(work, self.loop).result(180)


@pytest.fixture(scope="module")
def loop():
    aside = Aside()
    yield aside
    aside.loop.call_soon_threadsafe(aside.loop.stop)
    aside.thread.join(10)
    aside.loop.close()


@pytest.fixture(scope="module")
def ama(room, loop):
    """A learner with a page open and its websocket connected."""

    async def opened():
        browser = RoomBrowser(room.address)
        assert (await browser.join(room.code, "Ama <i>K</i>")).code == 302
        await browser.page(BOOK)
        await browser.connect()
        await browser.widgets()
        return browser

    browser = loop.run(opened())
    yield browser
    loop.loop.call_soon_threadsafe(browser.close)


@pytest.fixture(scope="module")
def ben(room, loop):
    async def joined():
        browser = RoomBrowser(room.address)
        assert (await browser.join(room.code, "Ben")).code == 302
        return browser

    browser = loop.run(joined())
    yield browser
    loop.loop.call_soon_threadsafe(browser.close)


def test_it_says_in_large_print_how_to_come_in(room):
    assert f"    {' '.join(room.address)} /" in room.said and len(room.code) == 6


def test_who_comes_without_the_code_sees_no_page(room, loop):
    async def tried():
        stranger = RoomBrowser(room.address)
        first = await stranger.fetch(f"/voila/render/{BOOK}")
        wrong = await stranger.join("000000", "Eve")
        board = await stranger.fetch("/board")
        guessed = await stranger.fetch("/teacher/guessed")
        unsigned = await stranger.fetch("/join", method="POST", body=f"code={room.code}&name=Eve", headers={"Cookie": ""})
        stranger.close()
        return first, wrong, board, guessed, unsigned

    first, wrong, board, guessed, unsigned = loop.run(tried())
    assert first.code == 302 and first.headers["Location"].startswith("/?next=")
    assert wrong.code == 403 and b"That is not the code on the wall. It has six digits." in wrong.body
    assert board.code == guessed.code == 404
    assert unsigned.code == 403  # a form that was not ours


def test_a_name_is_text_wherever_it_is_shown(ama, loop):
    body = loop.run(ama.fetch("/")).body.decode()
    assert "Ama &lt;i&gt;K&lt;/i&gt;" in body and "<i>K" not in body


def test_a_taken_name_and_a_long_one_get_a_sentence(room, ben, loop):
    async def tried():
        other = RoomBrowser(room.address)
        taken, long = await other.join(room.code, "ben"), await other.join(room.code, "x" * 300)
        other.close()
        return taken, long

    taken, long = loop.run(tried())
    assert taken.code == 403 and b"There is a Ben in the room already" in taken.body and b'name="number"' in taken.body
    assert long.code == 403 and b"300 letters; 40 at most" in long.body


def test_a_slider_moves_the_picture(ama, loop):
    slider = ama.find("FloatSliderModel")
    state = ama.states[slider]["state"]
    _, changed = loop.run(ama.move(slider, value=(state["min"] + state["max"]) / 2))
    assert any("<img" in str(one.get("value")) for one in changed)


@pytest.mark.parametrize("channel", ["shell", "control"])
@pytest.mark.parametrize("kind", ["execute_request", "debug_request", "shutdown_request"])
def test_no_code_runs_that_the_page_does_not_hold(ama, room, loop, kind, channel):
    """Asked on the very websocket that moves sliders; a move afterwards shows that the kernel has heard nothing of it."""

    async def tried():
        code = "open('ran.txt', 'w').close()"
        asked = await ama.say(kind, {"code": code, "silent": False, "command": "evaluate", "arguments": {"expression": code}}, channel)
        slider = ama.find("FloatSliderModel")
        move = await ama.say("comm_msg", {"comm_id": slider, "data": {"method": "update", "state": {}, "buffer_paths": []}})
        parents = set()
        while told := await ama.hear(30):
            parents.add(told[2].get("msg_id"))
            if told[1]["msg_type"] == "status" and told[3]["execution_state"] == "idle" and told[2].get("msg_id") == move:
                return asked, parents
        raise AssertionError("the kernel is gone")

    asked, parents = loop.run(tried())
    assert asked not in parents
    assert not list(room.folder.rglob("ran.txt"))


def test_a_page_that_is_left_before_it_is_there_leaves_no_kernel_behind(room, loop):
    """Who is impatient loads a page anew; what was begun for them would hold up the others."""

    async def tried():
        hasty = RoomBrowser(room.address)
        assert (await hasty.join(room.code, "Hasty")).code == 302
        folder = next(room.folder.glob("hasty-*"))
        _, line = await asyncio.open_connection(*room.address.removeprefix("http://").split(":"))
        line.write(f"GET /voila/render/{BOOK} HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {hasty.headers['Cookie']}\r\n\r\n".encode())
        while not kernels_of(folder):
            await asyncio.sleep(0.01)
        line.close()
        hasty.close()
        end = time.monotonic() + 60
        while kernels_of(folder) and time.monotonic() < end:
            await asyncio.sleep(0.05)
        return kernels_of(folder)

    assert loop.run(tried()) == []


def test_a_kernel_is_its_learners_alone(ama, ben, loop):
    async def tried():
        with pytest.raises(HTTPClientError, match="404"):
            await ben.connect(ama.kernel)
        return [
            (await ben.fetch(f"/api/kernels/{ama.kernel}")).code,
            (await ben.fetch(f"/voila/api/shutdown/{ama.kernel}", method="POST", body="")).code,
            (await ama.fetch(f"/api/kernels/{ama.kernel}", method="DELETE")).code in (403, 405),
            (await ama.fetch(f"/api/kernels/{ama.kernel}")).code,
        ]

    assert loop.run(tried()) == [404, 404, True, 200]


def test_a_page_elsewhere_cannot_use_a_learners_browser(ama, loop):
    async def tried():
        with pytest.raises(HTTPClientError, match="403"):
            await ama.connect(ama.kernel, Origin="http://elsewhere.example")
        return (await ama.fetch("/", headers={"Host": "elsewhere.example"})).code

    assert loop.run(tried()) == 404


@pytest.mark.parametrize(
    "path",
    ["/voila/files/08-pump-choice.ipynb", "/voila/tree", "/voila/api/contents", "/api/contents", "/api/kernels", "/api/kernelspecs", "/api/terminals",
     "/voila/render/..%2F..%2Fpyproject.toml", "/voila/render/../.room.json", "/voila/static/..%2F..%2F..%2F..%2F..%2Fetc%2Fpasswd", "/mine/..%2F.room.json",
     "/mine/.guesses.json", "/voila/render/99-none.ipynb", "/room/static/..%2Fserving.py", "/login", "/metrics"],
)  # fmt: skip
def test_nothing_else_is_served(ama, loop, path):
    answer = loop.run(ama.fetch(path))
    assert answer.code in (400, 403, 404) and b"root:" not in answer.body and b"secret" not in answer.body


def test_scripts_come_squeezed_and_are_kept_for_the_day(ama, loop):
    """Thirty phones load megabytes each; what is on the disk is what arrives."""
    script = re.search(r'src="([^"]+/voila\.js)"', ama.html)[1]
    answer = loop.run(ama.fetch(script, decompress_response=False, headers={"Accept-Encoding": "gzip"}))
    assert answer.code == 200 and answer.headers["Content-Encoding"] == "gzip" and "max-age" in answer.headers["Cache-Control"]
    plain = loop.run(ama.fetch(script, decompress_response=False, headers={"Accept-Encoding": "identity"}))
    assert gzip.decompress(answer.body) == plain.body and len(answer.body) < len(plain.body)


def test_a_phone_keeps_reloads_and_survives_its_kernel(room, browser, loop):
    phone = browser.new_context(viewport={"width": 400, "height": 800}, is_mobile=True, has_touch=True)
    page = phone.new_page()
    page.set_default_timeout(90_000)
    faults, elsewhere = [], []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on(
        "request", lambda request: elsewhere.append(request.url) if not request.url.startswith((room.address, "data:", "blob:")) else None
    )
    page.goto(f"{room.address}/?code={room.code}")
    page.get_by_label("Your name").fill("Chipo")
    page.get_by_role("button", name="Join").click()
    page.get_by_role("button", name="Yes, show it").click()
    page.get_by_role("link", name="Which pump brings").click()
    page.wait_for_selector(".ap-quiz input[type=radio]", state="attached")
    page.locator(".ap-quiz input[type=radio]").first.check()
    page.get_by_role("button", name="Check").first.click()
    page.locator(PANEL).wait_for()
    page.get_by_role("button", name="Keep").click()
    page.wait_for_function("() => document.body.innerText.includes('Kept in my-build.toml')")
    folder = next(room.folder.glob("chipo-*"))
    kept = (folder / "my-build.toml").read_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= 400
    lab_tools.seen(page, "room-phone")
    page.get_by_role("button", name="If you have a pump of your own").click()
    page.get_by_role("textbox", name="its curve").fill(
        "flow [L/h],head [m],power [W]\n0,4,60\n2000,3,70\n4000,0.5,90"
    )  # a phone has no file to open
    page.get_by_role("button", name="Read my pump").click()
    page.get_by_text("Read, and written to my-pump.csv: 3 points").wait_for()
    assert "4000,0.5,90" in (folder / "my-pump.csv").read_text()
    page.locator(PANEL).first.get_by_label("pump", exact=True).select_option("my-pump")
    assert page.evaluate("document.documentElement.scrollWidth") <= 400
    lab_tools.seen(page, "room-phone-own-pump")

    page.evaluate("window.before = true")
    os.kill(kernels_of(folder)[0], signal.SIGKILL)
    page.wait_for_function("() => !window.before && document.querySelector('.ap-quiz input[type=radio]')")  # it has loaded anew by itself
    page.wait_for_function("() => !document.querySelector('#ap-link')?.textContent")
    assert (folder / "my-build.toml").read_text() == kept
    assert "demo" not in page.locator(".jp-OutputArea-output").first.inner_text().split("\n")[0].casefold()
    page.goto(room.address)
    assert page.get_by_role("heading", name="Chipo").is_visible()  # known by its cookie
    with page.expect_download() as got:
        page.get_by_role("link", name="my-build.toml").click()
    assert Path(got.value.path()).read_text() == kept
    assert not faults and not elsewhere

    board = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
    board.set_default_timeout(60_000)
    board.goto(room.teacher)
    board.get_by_text("1 guess").wait_for()
    assert "hardly anything" not in board.inner_text("body") and board.locator("meter").count() == 0
    board.get_by_role("button", name="Uncover").click()
    board.locator("meter").wait_for()
    board.get_by_text("Chipo").wait_for()
    assert "trusted" not in (room.folder.parent / "said.txt").read_text()  # our own pages: it would alarm who teaches
    assert "no stop" in board.inner_text("#shown") and room.teacher.split("/")[-1] not in board.content()
    lab_tools.seen(board, "room-board")
    phone.close()
    board.context.close()


def kernels_of(folder):
    """The processes of a learner's kernels, by the folder in which they stand."""
    return [int(place.parent.name) for place in Path("/proc").glob("[0-9]*/cwd") if _leads_to(place, folder)]


def _leads_to(link, folder):
    try:
        return os.readlink(link) == str(folder)
    except OSError:
        return False


def test_the_next_page_comes_though_the_one_before_has_ended(room, browser):
    """A new page ends the kernel of the one before, which is still on the screen while the new one is slow: once it loaded itself anew, and the next page never came."""
    phone = browser.new_context(viewport={"width": 400, "height": 800})
    page = phone.new_page()
    page.set_default_timeout(90_000)
    page.goto(f"{room.address}/?code={room.code}")
    page.get_by_label("Your name").fill("Dalia")
    page.get_by_role("button", name="Join").click()
    page.get_by_role("link", name="Does each bed get its share").click()
    page.wait_for_selector(".ap-quiz input[type=radio]", state="attached")
    page.wait_for_function("() => document.querySelector('#ap-link')?.textContent === ''")  # its line to the room stands
    asked = []
    page.on("request", lambda request: asked.append(request.url) if request.is_navigation_request() else None)
    page.route("**/voila/render/08-*", lambda route: route.fulfill(response=route.fetch(timeout=90_000)))  # nothing of it before all of it
    page.evaluate("() => { location.href = '/voila/render/08-pump-choice.ipynb'; }")
    page.get_by_role("heading", name="08 Which pump").wait_for()
    assert [url.rpartition("/")[2] for url in asked] == ["08-pump-choice.ipynb"]
    phone.close()


FIVE = {  # three phones and two laptops: how wide, and which layout its learner takes
    "Efua": (360, "one loop"),
    "Farah": (400, "two loops"),
    "Goro": (430, "rafts"),
    "Hana": (1280, "film channels"),
    "Ivan": (1366, "towers"),
}
PICTURE = f"{PANEL} .ap-frame img"
SHOWS = "() => { const i = document.querySelector(%r); return i && i.complete && i.naturalWidth > 0 && i.getAttribute('src') !== window.before; }"


@pytest.mark.weekly
def test_three_phones_and_two_laptops_at_once(room, browser):
    """Pages 00, 06 and 09, opened by all five at the same time, each with a build of its own."""
    pages, faults = {}, []
    for name, (width, _) in FIVE.items():
        phone = width < 500
        context = browser.new_context(viewport={"width": width, "height": 800}, is_mobile=phone, has_touch=phone)
        pages[name] = page = context.new_page()
        page.set_default_timeout(120_000)
        page.on("pageerror", lambda error, name=name: faults.append(f"{name}: {error}"))
        page.goto(f"{room.address}/?code={room.code}")
        page.get_by_label("Your name").fill(name)
        page.get_by_role("button", name="Join").click()
        page.get_by_role("heading", name=name).wait_for()

    def opened(book):
        """The page in all five browsers, asked for before any of them has it, past its guess and with its first picture."""
        for page in pages.values():
            page.goto(f"{room.address}/voila/render/{book}.ipynb", wait_until="commit")
        for name, page in pages.items():
            page.get_by_role("button", name="Show me").click()
            page.wait_for_function(SHOWS % PICTURE)
            assert lab_tools.untidy(page) == [], (name, book)
            assert page.evaluate("document.documentElement.scrollWidth") <= FIVE[name][0], (name, book)

    opened("00-start-here")
    for name, page in pages.items():
        menu = page.locator(PANEL).first.get_by_label("layout", exact=True)
        words = [text.replace("\xa0", " ") for text in menu.locator("option").all_text_contents()]
        menu.select_option(index=words.index(FIVE[name][1]))
    for page in pages.values():
        page.locator(PANEL).first.get_by_role("button", name="Keep").click()
        page.wait_for_function("() => document.body.innerText.includes('✔ Kept')")
    titles = {name: load(next(room.folder.glob(f"{name.lower()}-*")) / "my-build.toml").title for name in FIVE}
    assert [FIVE[name][1] in title for name, title in titles.items()] == [True] * 5, titles
    for book in ("06-drains-and-siphons", "09-levels-and-power-cuts"):
        opened(book)
        for name, page in pages.items():
            assert titles[name] in page.locator("body").inner_text(), (name, book)
            page.evaluate("picture => { window.before = document.querySelector(picture).getAttribute('src'); }", PICTURE)
            handle = page.locator(PANEL).first.locator(".noUi-handle").filter(visible=True).first
            at_end = handle.get_attribute("aria-valuenow") == handle.get_attribute("aria-valuemax")
            handle.focus()
            page.keyboard.press("ArrowLeft" if at_end else "ArrowRight")
        for page in pages.values():
            page.wait_for_function(SHOWS % PICTURE)
    assert not faults
    for page in pages.values():
        page.context.close()

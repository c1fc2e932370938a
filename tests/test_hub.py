"""A hub for a school, as `.hub/` sets it up, with its proxy: three pupils come in, work, and are found again after a restart."""

import importlib.util
import json
import os
import re
import shlex
import shutil
import signal
import socket
import subprocess
import sys
import time
import tomllib
import uuid
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import nbformat
import pytest

from aquaplumb.build import load

ROOT = Path(__file__).resolve().parents[1]
CONFIGURATION = ROOT / ".hub" / "jupyterhub_config.py"
PASSWORD = "fish and plants"
PAGE = "00-start-here.ipynb"
CHANGED, MINE = "08-pump-choice.ipynb", "\n\nAsk at the shop."
LONGEST = 120  # s for any one step, on a machine with much else to do


def missing():
    """Why a hub cannot be started here, in a sentence, or ""."""
    if sys.platform != "linux":
        return "the hub is for Linux"
    for module in ("jupyterhub", "jupyterhub_idle_culler", "jupyterlab"):
        if importlib.util.find_spec(module) is None:
            return f"{module} is not installed (pip install 'aquaplumb[hub]')"
    if shutil.which("configurable-http-proxy") is None or shutil.which("node") is None:
        return "the hub's proxy is not installed (npm install -g configurable-http-proxy@5.1)"
    return ""


def until(done, what):
    """What `done` answers, once that is something."""
    end = time.monotonic() + LONGEST
    while time.monotonic() < end:
        if answer := done():
            return answer
        time.sleep(0.3)
    raise AssertionError(f"{what}: not within {LONGEST} s")


def free_ports(number):
    doors = [socket.create_server(("127.0.0.1", 0)) for _ in range(number)]
    ports = [door.getsockname()[1] for door in doors]
    for door in doors:
        door.close()
    return ports


class Hub:
    """A hub that runs in a folder; `close` ends it and all that it began."""

    def __init__(self, folder):
        self.folder, self.log = folder, folder / "hub.log"
        port, inner, proxy = free_ports(3)
        self.address = f"http://127.0.0.1:{port}"
        command = [sys.executable, "-m", "jupyterhub", "-f", CONFIGURATION, f"--url={self.address}",
                   f"--JupyterHub.hub_bind_url=http://127.0.0.1:{inner}", f"--ConfigurableHTTPProxy.api_url=http://127.0.0.1:{proxy}"]  # fmt: skip
        env = {key: value for key, value in os.environ.items() if not key.startswith(("JUPYTER", "JPY_", "CONFIGPROXY"))}
        env |= {"AQUAPLUMB_HUB_TRY": PASSWORD, "PYTHONPATH": str(ROOT)}
        with self.log.open("a") as said:
            # A shell's background job ignores SIGINT, by which the hub ends what it began, and so would all below it.
            self.process = subprocess.Popen(
                command, cwd=folder, env=env, stdout=said, stderr=said, start_new_session=True,
                preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
            )  # fmt: skip
        try:
            until(self._answers, "the hub's first page")
        except BaseException:
            self.close()
            raise

    def _answers(self):
        import requests

        assert self.process.poll() is None, self.log.read_text()
        try:
            return requests.get(f"{self.address}/hub/login", timeout=LONGEST).ok
        except requests.ConnectionError:
            return False

    def home(self, name):
        return self.folder / "my-hub" / "pupils" / name / "my-aquaplumb"

    def below(self):
        """The proxy, the service and the pupils' servers, each in a session of its own."""
        import psutil

        try:
            return psutil.Process(self.process.pid).children(recursive=True)
        except psutil.NoSuchProcess:
            return []

    def close(self):
        """As the system stops a service; what is left after a while is killed. Returns its code, and what was left."""
        import psutil

        began = self.below()
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGTERM)
        try:
            self.process.wait(60)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        _, left = psutil.wait_procs(began, 30)
        for one in left:
            one.kill()
        return self.process.returncode, left


class Pupil:
    """A pupil's browser: the hub's pages, their own server, and a kernel of it."""

    def __init__(self, address, name):
        import requests

        self.address, self.name, self.browser, self.shown = address, name, requests.Session(), []

    def ask(self, path, method="GET", **options):
        """An answer of the hub or of a server behind it."""
        marks = [one.value for one in self.browser.cookies if one.name == "_xsrf" and path.startswith(one.path)]
        headers = {"X-XSRFToken": marks[-1]} if marks else {}
        return self.browser.request(method, self.address + path, headers=headers, timeout=LONGEST, **options)

    def log_in(self, password=PASSWORD):
        self.ask("/hub/login")
        return self.ask("/hub/login", "POST", data={"username": self.name, "password": password}, allow_redirects=False)

    def open(self):
        """Go to the hub's address, until one's own server answers with a page."""

        def answers():
            answer = self.ask(f"/user/{self.name}/")
            return answer if answer.ok and "/user/" in answer.url and "/hub/" not in answer.url else None

        self.ask("/")
        return until(answers, f"the server of {self.name}")

    def contents(self, name, **options):
        return self.ask(f"/user/{self.name}/api/contents/{name}", **options)

    def connect(self, kernel):
        import websocket

        cookies = {one.name: one.value for one in self.browser.cookies if f"/user/{self.name}/".startswith(one.path)}
        said = "; ".join(f"{name}={value}" for name, value in cookies.items())
        address = self.address.replace("http", "ws") + kernel + "/channels"
        return websocket.create_connection(address, cookie=said, origin=self.address, timeout=LONGEST)

    def start(self, page):
        """A kernel for a page."""
        wanted = {"path": page, "name": page, "type": "notebook", "kernel": {"name": "python3"}}
        answer = self.ask(f"/user/{self.name}/api/sessions", "POST", json=wanted)
        assert answer.ok, answer.text
        self.kernel = f"/user/{self.name}/api/kernels/{answer.json()['kernel']['id']}"
        self.line = self.connect(self.kernel)

    def say(self, kind, content):
        """One message to the kernel; what it sent until it was done with it."""
        ident, heard = uuid.uuid4().hex, []
        header = {
            "msg_id": ident,
            "msg_type": kind,
            "session": self.name,
            "username": self.name,
            "version": "5.4",
            "date": "2026-01-01T00:00:00Z",
        }
        self.line.send(json.dumps({"header": header, "parent_header": {}, "metadata": {}, "content": content, "channel": "shell"}))
        while True:
            told = json.loads(self.line.recv())
            if told["parent_header"].get("msg_id") == ident:
                heard.append(told)
                if told["msg_type"] == "status" and told["content"]["execution_state"] == "idle":
                    self.shown += heard
                    return heard

    def run(self, code):
        heard = self.say("execute_request", {"code": code, "silent": False, "store_history": True, "stop_on_error": True})
        assert not (wrong := [told["content"] for told in heard if told["msg_type"] == "error"]), wrong
        return "".join(told["content"]["text"] for told in heard if told["msg_type"] == "stream")

    def press(self, button):
        """Press the first button of that name which a page has shown."""
        opened = [told["content"] for told in self.shown if told["msg_type"] == "comm_open"]
        ident = next(one["comm_id"] for one in opened if one["data"]["state"].get("description") == button)
        return self.say("comm_msg", {"comm_id": ident, "data": {"method": "custom", "content": {"event": "click"}}})


@pytest.fixture(scope="module")
def hub(tmp_path_factory):
    if reason := missing():
        pytest.skip(reason)
    running = Hub(tmp_path_factory.mktemp("school"))
    yield running
    running.close()


@pytest.fixture(scope="module")
def pupils(hub):
    """Three pupils with their servers open, all at once as in a lesson; into the folder of one nothing can be copied."""
    (hub.home("cleo") / ".aquaplumb-copied.json").mkdir(parents=True)
    three = {name: Pupil(hub.address, name) for name in ("ama", "ben", "cleo")}
    with ThreadPoolExecutor() as at_once:
        list(at_once.map(Pupil.log_in, three.values()))
        for pupil, page in zip(three.values(), at_once.map(Pupil.open, three.values())):
            pupil.page = page
    return three


@pytest.fixture(scope="module")
def ama(pupils):
    """A pupil who has run the first page's cells up to its panel, kept a build there, and changed another page."""
    ama = pupils["ama"]
    ama.start(PAGE)
    ama.said = [ama.run(cell) for cell in cells(PAGE)[:5]]
    ama.press("Keep this as my first build")
    changed = ama.contents(CHANGED).json()["content"]
    changed["cells"][0]["source"] += MINE
    assert ama.contents(CHANGED, method="PUT", json={"type": "notebook", "content": changed}).ok
    return ama


@pytest.fixture(scope="module")
def again(hub, ama):
    """The hub, ended and started once more in its folder, and that pupil's browser as it was left."""
    ended = hub.close()
    after = Hub(hub.folder)
    ama.address = after.address
    yield after, ended
    after.close()


def cells(page):
    return [cell.source for cell in nbformat.read(ROOT / "notebooks" / page, 4).cells if cell.cell_type == "code"]


def test_each_pupil_comes_in_to_the_first_page_in_a_folder_of_their_own(hub, pupils):
    for name in ("ama", "ben"):
        pupil = pupils[name]
        assert pupil.page.url.split("?")[0] == f"{hub.address}/user/{name}/doc/tree/{PAGE}"
        assert "@jupyterlab/apputils-extension:announcements" in pupil.page.text  # among what is switched off
        copied = [hub.home(name) / page.name for page in (ROOT / "notebooks").glob("*.ipynb")]
        assert len(copied) == 14 and all(page.exists() for page in copied)
        assert hub.home(name).stat().st_mode & 0o077 == 0  # for who owns it alone
    assert (hub.folder / "my-hub").stat().st_mode & 0o077 == 0


def test_a_pupil_whose_pages_cannot_be_copied_comes_in_all_the_same(hub, pupils):
    assert pupils["cleo"].page.url.startswith(f"{hub.address}/user/cleo/doc/tree/") and not (hub.home("cleo") / PAGE).exists()
    assert "cleo: .aquaplumb-copied.json cannot be saved: Is a directory" in hub.log.read_text()


def test_nobody_comes_in_with_another_password(hub):
    stranger = Pupil(hub.address, "dora")
    assert stranger.log_in("fish").status_code == 403
    assert "/hub/login" in stranger.ask("/user/ama/").url and not hub.home("dora").exists()


def test_the_hub_listens_to_its_own_machine_only(hub, pupils):
    import psutil

    doors = [
        door for one in [psutil.Process(hub.process.pid), *hub.below()] for door in one.net_connections("tcp") if door.status == "LISTEN"
    ]
    assert len(doors) >= 6  # the proxy's two, the hub's, and each pupil's
    assert {door.laddr.ip for door in doors} == {"127.0.0.1"}


def test_a_page_runs_and_keeps_a_build_for_its_pupil_alone(hub, ama):
    assert "There is no my-build.toml here" in ama.said[0] and "kN/m²" in ama.said[2]
    assert load(hub.home("ama") / "my-build.toml").pumped
    assert not (hub.home("ben") / "my-build.toml").exists()


def test_a_pupil_cannot_reach_anothers_server(ama, pupils):
    import websocket

    ben = pupils["ben"]
    for path in (
        "/user/ama/",
        "/user/ama/api/contents/my-build.toml",
        "/user/ama/files/my-build.toml",
        "/user/ama/api/kernels",
        ama.kernel,
    ):
        assert ama.ask(path).ok and ben.ask(path).status_code == 403, path
    with pytest.raises(websocket.WebSocketBadStatusException, match="403"):
        ben.connect(ama.kernel)
    other = {"type": "file", "format": "text", "content": "# Ben's"}
    assert ben.ask("/user/ama/api/contents/my-build.toml", "PUT", json=other).status_code == 403
    assert ama.contents("my-build.toml").json()["content"] != other["content"]
    assert ben.ask("/hub/api/users/ama").status_code == 404
    assert ben.ask("/hub/api/users/ama/server", "DELETE").status_code == 404
    assert ama.run("print(build.units)").strip() == "metric"


def test_the_hub_ends_soon_and_with_all_that_it_began(again):
    _, (code, left) = again
    assert (code, left) == (0, [])


def test_after_a_restart_a_pupil_finds_page_and_build_again(again, ama):
    kept = (again[0].home("ama") / "my-build.toml").read_text()
    assert ama.ask("/hub/home").url.endswith("/hub/home")  # known, and not asked for the password
    assert PAGE in ama.open().url
    assert ama.contents("my-build.toml").json()["content"] == kept
    assert ama.contents(CHANGED).json()["content"]["cells"][0]["source"].endswith(MINE)
    ama.start(PAGE)
    assert "There is no my-build.toml here" not in ama.run(cells(PAGE)[0])


def test_a_server_that_nobody_uses_is_ended_and_its_folder_stays(again, ama):
    """By the service's own command and rights, but for the hour that it waits."""
    import psutil

    after, _ = again
    ama.open()
    began = {one: one.cmdline() for one in after.below()}
    (service,) = (one for one, said in began.items() if "jupyterhub_idle_culler" in said)
    servers = [one for one, said in began.items() if str(CONFIGURATION.with_name("pupil.py")) in said]
    hasty = [*began[service][:3], "--timeout=1", "--cull-every=1"]
    culler = subprocess.Popen(hasty, env=service.environ(), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        ended, left = psutil.wait_procs(servers, LONGEST)
    finally:
        culler.kill()
        culler.wait()
    assert ended and not left
    assert ama.contents("").status_code == 424  # not running: the browser gets a button there that starts it
    assert (after.home("ama") / "my-build.toml").exists()


# --- what a school gets, where the test has a word of its own -----------------------------------------------------


def configured(folder, monkeypatch):
    config = pytest.importorskip("traitlets.config")
    monkeypatch.chdir(folder)
    return config.PyFileConfigLoader(str(CONFIGURATION)).load_config()


def test_without_the_word_only_accounts_of_pupils_come_in_and_each_is_apart(tmp_path, monkeypatch):
    """Seen with accounts of a machine by hand; here the classes and what decides in them, as JupyterHub names it."""
    auth, spawner = pytest.importorskip("jupyterhub.auth"), pytest.importorskip("jupyterhub.spawner")
    monkeypatch.delenv("AQUAPLUMB_HUB_TRY", raising=False)
    said = configured(tmp_path, monkeypatch)
    assert said.JupyterHub.authenticator_class == "pam" and issubclass(auth.PAMAuthenticator, auth.LocalAuthenticator)
    assert said.JupyterHub.spawner_class == f"jupyterhub.spawner.{spawner.LocalProcessSpawner.__name__}"
    door = auth.PAMAuthenticator(config=said)
    assert door.allowed_groups == {"pupils"} and not door.allow_all and not door.allowed_users and not door.admin_users
    monkeypatch.setenv("AQUAPLUMB_HUB_TRY", "")  # no password is no word
    assert configured(tmp_path, monkeypatch).JupyterHub.authenticator_class == "pam"


def test_the_teachers_commands_set_up_this_hub():
    part = (ROOT / "notebooks" / "teachers.md").read_text(encoding="utf-8").split("\n## A hub for a school\n")[1].split("\n## ")[0]
    install, account, start, enable = re.findall(r"```sh\n *(.+?)\n *```", part)
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    assert shlex.split(install)[-1] == ".[hub]" and {re.split(r"\W", one)[0] for one in extras["hub"]} == {"aquaplumb", "jupyterhub"}
    assert "--groups pupils" in account
    command = shlex.split(start)
    assert command[:4] == ["sudo", ".venv/bin/python", "-m", "jupyterhub"] and ROOT / command[-1] == CONFIGURATION
    service = (ROOT / shlex.split(enable)[2]).read_text(encoding="utf-8")
    (place,) = re.findall(r"Put a copy of this project into the folder `(.+?)`", part)
    assert f"\nWorkingDirectory={place}\nExecStart={place}/{' '.join(command[1:])}\n" in service


def test_what_is_added_for_pupils_machines_is_what_jupyterhub_takes():
    app = pytest.importorskip("jupyterhub.app")
    part = (ROOT / "notebooks" / "teachers.md").read_text(encoding="utf-8").split("\n## A hub for a school\n")[1]
    added = re.search(r"```text\n *(.+?)\n *```", part)[1].split()
    hub = app.JupyterHub()
    hub.parse_command_line(added)
    assert (hub.bind_url, hub.ssl_cert, hub.ssl_key) == tuple(one.split("=")[1] for one in added)

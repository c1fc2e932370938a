"""Drive a real JupyterLab in a real browser: a server of its own, and one notebook page with plain helpers.

Everything lives in a folder of the test's own (settings, kernels' files, the browser's profile, copies of the
notebooks) and listens on 127.0.0.1 only.
"""

from __future__ import annotations

import json
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
SEEN = Path(__file__).parent / "seen"
FLAGS = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
         "--disable-background-networking", "--disable-component-update"]  # fmt: skip
# What stands beside each code cell, asked of the page's model: a folded cell shows no prompt.
PROMPTS = (
    "[...jupyterapp.shell.currentWidget.content.model.cells].filter(cell => cell.type === 'code')"
    ".map(cell => `[${cell.executionState === 'running' ? '*' : cell.executionCount ?? ' '}]`)"
)
OFTEN = 50  # ms: how often the page is asked what it shows; at each of its frames would keep it from drawing


def chromium() -> str | None:
    """Where a Chromium is on this machine, if there is one."""
    found = (shutil.which(name) for name in ("chromium", "chromium-browser", "google-chrome"))
    return next((path for path in found if path), None)


def missing() -> str | None:
    """Why the browser tests cannot run here, in a sentence, or None."""
    if not chromium():
        return "no Chromium on this machine (Debian: apt install chromium)"
    for module in ("playwright", "jupyterlab"):
        try:
            __import__(module)
        except ImportError:
            return f"{module} is not installed (pip install 'aquaplumb[test]')"
    return None


class Lab:
    """A JupyterLab server on a free port with its own folders; `close` ends it and its kernels."""

    def __init__(self, folder: Path, environment: dict | None = None):
        self.folder, self.root = Path(folder), Path(folder) / "notebooks"
        self.root.mkdir(parents=True, exist_ok=True)
        settings = self.folder / "settings" / "@jupyterlab" / "apputils-extension"
        settings.mkdir(parents=True)
        news_off = {"fetchNews": "false", "checkForUpdates": False, "doNotDisturbMode": True}
        (settings / "notification.jupyterlab-settings").write_text(json.dumps(news_off))
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.token = secrets.token_hex(16)
        env = {key: value for key, value in os.environ.items() if not key.startswith(("JUPYTER", "JPY_"))}
        for name in ("CONFIG", "DATA", "RUNTIME"):
            env[f"JUPYTER_{name}_DIR"] = str(self.folder / name.lower())
        env |= {
            "JUPYTER_PATH": env["JUPYTER_DATA_DIR"],  # before those of the Python that runs this
            "IPYTHONDIR": str(self.folder / "ipython"),
            "JUPYTERLAB_SETTINGS_DIR": str(self.folder / "settings"),
            "JUPYTERLAB_WORKSPACES_DIR": str(self.folder / "workspaces"),
            "PYTHONPATH": os.pathsep.join(filter(None, [str(CHECKOUT), os.environ.get("PYTHONPATH")])),
            **(environment or {}),
        }
        command = [sys.executable, "-m", "jupyterlab", "--no-browser", "--ip=127.0.0.1", f"--port={self.port}",
                   f"--IdentityProvider.token={self.token}", f"--ServerApp.root_dir={self.root}", "--allow-root",
                   "--ServerApp.port_retries=0", "--LabApp.news_url=None", "--expose-app-in-browser"]  # fmt: skip
        with (self.folder / "server.log").open("w") as log:
            # Where it is not Linux, a process that has loaded so much does not fork safely.
            commands = [command, self._warm()] if sys.platform == "linux" else [command]
            self._begun = [
                subprocess.Popen(one, env=env, stdout=log, stderr=log, cwd=self.root, start_new_session=True) for one in commands
            ]
        self._wait()

    def _warm(self) -> list[str]:
        """Have every kernel come from `warm.py`; returns the command that serves them."""
        warm, door = str(Path(__file__).with_name("warm.py")), str(self.folder / "warm")
        place = self.folder / "data" / "kernels" / "python3"
        place.mkdir(parents=True)
        spec = {"argv": [sys.executable, warm, door, "{connection_file}"], "display_name": "Python 3", "language": "python"}
        (place / "kernel.json").write_text(json.dumps(spec))
        return [sys.executable, warm, "--serve", door]

    def _wait(self, seconds: float = 90) -> None:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if self._begun[0].poll() is not None:
                break
            try:
                request = urllib.request.Request(self.url("/api/status"))
                with urllib.request.urlopen(request, timeout=2):
                    return
            except OSError:
                time.sleep(0.2)
        log = (self.folder / "server.log").read_text()[-2000:]
        self.close()
        raise RuntimeError(f"JupyterLab did not start:\n{log}")

    def url(self, path: str) -> str:
        """The address of a path on this server."""
        return f"http://127.0.0.1:{self.port}{path}?token={self.token}"

    def close(self) -> None:
        """End the server with its kernels, and what they come from: their own process groups, nothing else."""
        for begun in self._begun:
            for sign in (signal.SIGTERM, signal.SIGKILL):
                try:
                    os.killpg(begun.pid, sign)
                    begun.wait(10)
                except (ProcessLookupError, subprocess.TimeoutExpired):
                    continue

    def add(self, *paths: Path) -> None:
        """Copy notebooks (or files they need) to the server's folder."""
        for path in paths:
            if Path(path).is_dir():
                shutil.copytree(path, self.root / Path(path).name, dirs_exist_ok=True)
            else:
                shutil.copy(path, self.root)


def desk(browser, lab: Lab):
    """A page with JupyterLab open, where notebooks are opened one after another as a learner does."""
    page = browser.new_page(viewport={"width": 1366, "height": 2400})
    page.goto(lab.url("/lab"))
    page.wait_for_selector("#jp-main-dock-panel")
    return page


class Notebook:
    """One notebook open in a page that shows JupyterLab, with plain helpers."""

    def __init__(self, page, name: str, *, width: int = 1366, height: int = 2400):
        self.page, self.name = page, name
        self.page.set_viewport_size({"width": width, "height": height})
        self.page.set_default_timeout(60_000)
        self.faults: list[str] = []
        self._hear = lambda error: self.faults.append(str(error))
        self.page.on("pageerror", self._hear)
        self.page.evaluate("path => window.jupyterapp.commands.execute('docmanager:open', {path}).then(() => null)", name)
        self.page.wait_for_selector(".jp-NotebookPanel .jp-Cell", state="attached")  # a long page may open scrolled
        self._accept_kernel()
        # The indicator rests before there is a kernel too; the status bar names the kernel once it answers.
        self.page.wait_for_function("() => /\\| Idle/.test(document.querySelector('#jp-bottom-panel')?.textContent ?? '')", polling=OFTEN)

    def _accept_kernel(self) -> None:
        """Say yes to the "Select Kernel" question, which may or may not come."""
        self.page.wait_for_selector(".jp-Dialog .jp-mod-accept, .jp-Notebook-ExecutionIndicator[data-status=idle]", state="attached")
        while self.page.locator(".jp-Dialog .jp-mod-accept").count():
            self.page.locator(".jp-Dialog .jp-mod-accept").first.click()
            self.page.wait_for_timeout(300)

    def hide_files(self) -> None:
        """Fold the file list away, as a learner on a small screen does."""
        if self.page.locator("#jp-left-stack:visible").count():
            self.page.keyboard.press("Control+b")
            self.page.locator("#jp-left-stack").wait_for(state="hidden")

    def run_all(self, timeout: float = 180_000) -> None:
        """Run all cells and wait until the kernel rests and no cell is still to run."""
        self.page.get_by_role("menuitem", name="Run", exact=True).first.click()
        self.page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
        self.page.wait_for_function(
            f"() => document.querySelector('.jp-Dialog .jp-mod-accept') || ({PROMPTS}).some(p => /\\[.+\\]/.test(p))"
        )
        self._accept_kernel()
        self.page.wait_for_function(
            f"""() => {{ const prompts = {PROMPTS};
                return document.querySelector('.jp-Notebook-ExecutionIndicator[data-status=idle]')
                  && !prompts.some(p => p.includes('[*]')) && prompts.some(p => /\\[\\d+\\]/.test(p)); }}""",
            timeout=timeout,
            polling=OFTEN,
        )

    def errors(self) -> list[str]:
        """The text of every traceback, error stream and page fault; none is right."""
        shown = self.page.locator('.jp-RenderedText[data-mime-type="application/vnd.jupyter.stderr"], .jp-OutputArea-error,'
                                  ' [data-mime-type="application/vnd.jupyter.error"]')  # fmt: skip
        return [text.strip() for text in shown.all_inner_texts()] + self.faults

    def sliders(self):
        """Every slider handle."""
        return self.page.locator(".ap-panel .noUi-handle")

    def picture(self, panel: int = 0):
        """The panel's picture."""
        return self.page.locator(".ap-panel:has(.ap-frame)").nth(panel).locator(".ap-frame img")

    def result(self, panel: int = 0) -> str:
        """The panel's result line as read on the screen."""
        return self.page.locator(".ap-panel:has(.ap-frame)").nth(panel).locator(".ap-result").inner_text()

    def changed(self, action, panel: int = 0, timeout: float = 15_000) -> None:
        """Do something and wait until the panel's picture is another one."""
        image = "document.querySelectorAll('.ap-panel:has(.ap-frame)')[panel].querySelector('.ap-frame img')"
        self.page.evaluate(f"panel => {{ window.pictureBefore = {image}.getAttribute('src'); }}", panel)  # long: it stays in the page
        action()
        self.page.wait_for_function(
            f"panel => {{ const i = {image};"
            " return i && i.getAttribute('src') !== window.pictureBefore && i.complete && i.naturalWidth > 0; }",
            arg=panel,
            timeout=timeout,
            polling=OFTEN,
        )

    def press(self, handle, key: str = "ArrowRight") -> None:
        """Move a slider from the keyboard."""
        handle.focus()
        self.page.keyboard.press(key)

    def box(self, label: str):
        """The entry box that carries this label, found as a screen reader finds it."""
        return self.page.get_by_label(label, exact=True)

    def choose(self, box, option: str) -> None:
        """Choose an option of a menu by its words, which ipywidgets joins by spaces that do not break."""
        words = [text.replace("\xa0", " ") for text in box.locator("option").all_text_contents()]
        box.select_option(index=words.index(option))

    def type(self, label: str, text: str) -> None:
        """Type a value into a labelled box."""
        self.box(label).fill(text)
        self.box(label).press("Enter")

    def see(self, name: str, selector: str | None = None) -> None:
        """Keep a screenshot in tests/browser/seen (not in git), for who asks for them: nothing is judged by it."""
        seen(self.page.locator(selector).first if selector else self.page, name)

    def close(self) -> None:
        """Close the notebook without saving it, and end its kernel."""
        self.page.remove_listener("pageerror", self._hear)
        self.page.evaluate(
            """async () => {
                for (const tab of [...jupyterapp.shell.widgets('main')]) {
                    if (tab.context) { tab.context.model.dirty = false; tab.close(); }
                }
                await jupyterapp.serviceManager.sessions.shutdownAll();
            }"""
        )


# What is not as it should be in panels and questions: a thing over another, words that do not fit, a lost button, a short slider.
_UNTIDY = """() => {
  const faults = [], shown = e => e.offsetParent && e.getClientRects().length, words = e => e.textContent.trim().slice(0, 40);
  const scrolls = e => ['auto', 'scroll'].includes(getComputedStyle(e).overflowX);
  const place = e => { const r = document.createRange(); r.selectNodeContents(e);
    if (e.matches('.ap-frame img')) { // what can be seen of it in its frame
      const a = e.getBoundingClientRect(), b = e.closest('.ap-frame').getBoundingClientRect();
      return scrolls(e.closest('.ap-frame')) ? {left: Math.max(a.left, b.left), right: Math.min(a.right, b.right),
        top: Math.max(a.top, b.top), bottom: Math.min(a.bottom, b.bottom)} : a; }
    return e.matches('label, .widget-label') && words(e) ? r.getBoundingClientRect() : e.getBoundingClientRect(); };
  for (const box of document.querySelectorAll('.ap-panel, .ap-quiz')) {
    const all = [...box.querySelectorAll('label, .widget-label, select, input, button, .noUi-target, img')]
      .filter(e => shown(e) && !e.querySelector('input, label, select'));
    const places = all.map(place);
    all.forEach((one, i) => all.slice(0, i).forEach((other, j) => {
      const a = places[i], b = places[j];
      if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2)
        faults.push(`${words(one) || one.tagName} lies over ${words(other) || other.tagName}`);
    }));
    for (const e of box.querySelectorAll('.widget-html-content, .widget-label, label, button, p, li, .ap-result, .ap-frame, .widget-radio-box'))
      if (shown(e) && e.clientWidth && e.scrollWidth > e.clientWidth + 1 && !(e.matches('.ap-frame') && scrolls(e))) faults.push(`${words(e)}: ${e.scrollWidth} in ${e.clientWidth}`);
    for (const e of box.querySelectorAll('input[type=radio]'))
      if (shown(e) && e.getBoundingClientRect().width < 10) faults.push(`no button: ${words(e.closest('label'))}`);
    for (const e of box.querySelectorAll('.noUi-target'))
      if (shown(e) && e.getBoundingClientRect().width < 180) faults.push(`a slider of ${e.getBoundingClientRect().width} pixels`);
  }
  for (const e of document.querySelectorAll('.jp-OutputArea-output pre, .ap-panel *, .ap-quiz *'))
    if (shown(e) && getComputedStyle(e).wordBreak === 'break-all') faults.push(`breaks words: ${words(e)}`);
  for (const e of document.querySelectorAll('.ap-gallery'))
    if (shown(e) && e.getBoundingClientRect().right > e.closest('.jp-OutputArea-output').getBoundingClientRect().right + 1) faults.push('the gallery is cut');
  for (const e of document.querySelectorAll('.ap-panel .ap-frame')) {
    const a = e.getBoundingClientRect(), b = e.closest('.ap-panel').getBoundingClientRect();
    if (shown(e) && (a.right > b.right + 1 || a.left < b.left - 1)) faults.push(`a frame of ${a.width} in a panel of ${b.width}`);
  }
  const page = document.querySelector('.jp-WindowedPanel-outer') ?? document.documentElement;
  if (page.scrollWidth > page.clientWidth + 1) faults.push(`the page is ${page.scrollWidth} wide in ${page.clientWidth}`);
  return [...new Set(faults)]; }"""


def untidy(page) -> list[str]:
    """What lies over something else, does not fit or is lost in the panels and questions of a page, each in a few words."""
    return page.evaluate(_UNTIDY)


def seen(target, name: str) -> None:
    """A screenshot of a page or a part of it in tests/browser/seen, where the environment has AQUAPLUMB_SEEN."""
    if os.environ.get("AQUAPLUMB_SEEN"):
        SEEN.mkdir(exist_ok=True)
        target.screenshot(path=str(SEEN / f"{name}.png"))


def written_notebook(path: Path, *cells: str) -> Path:
    """A notebook file made of these code cells."""
    import nbformat

    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in cells], metadata=kernel)
    for place, cell in enumerate(notebook.cells):
        cell["id"] = f"cell-{place}"
    nbformat.write(notebook, path)
    return path


def launched(playwright):
    """A Chromium with an empty profile of its own (playwright makes and removes the folder); close what comes back."""
    return playwright.chromium.launch(executable_path=chromium(), args=FLAGS, ignore_default_args=["--headless"])

"""What tests share: a fault in a panel is an error, nothing is kept in the checkout, and what is dear is worked out once."""

import functools
import gc
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from types import SimpleNamespace

import ipykernel.kernelspec
import pytest

from aquaplumb.__main__ import main
from aquaplumb.figures.style import Picture
from aquaplumb.system import drills

IN_JUPYTERLAB = (
    "browser/test_asked.py",
    "browser/test_own_log.py",
    "browser/test_panel.py",
    "browser/test_screen.py",
    "browser/test_walk.py",
)


def pytest_xdist_auto_num_workers():
    """One worker more than there are cores: that of the browser waits for it nearly half of its time."""
    return (os.cpu_count() or 1) + 1


def pytest_configure(config):
    """The notebooks' kernels come from a process that has loaded what they load first, as those of the browser tests do."""
    if sys.platform == "linux":  # elsewhere a process that has loaded so much does not fork safely
        plain = ipykernel.kernelspec.get_kernel_dict
        ipykernel.kernelspec.get_kernel_dict = lambda: plain() | {"argv": [*_warm(config), "{connection_file}"]}
    import nbval.kernel

    nbval.kernel.start_new_kernel = _begun(nbval.kernel.start_new_kernel)


def _begun(start):
    """A notebook's kernel; one that does not answer in half a minute, which was seen once, is begun once more."""

    def twice(*arguments, **words):
        try:
            return start(*arguments, **words | {"startup_timeout": 30})
        except RuntimeError:
            return start(*arguments, **words)

    return twice


@functools.cache
def _warm(config) -> list[str]:
    """Start the process at the first notebook, let it end with the tests; the command that asks it for a kernel."""
    folder = tempfile.TemporaryDirectory()
    command, door = [sys.executable, str(Path(__file__).parent / "browser" / "warm.py")], f"{folder.name}/door"
    served = subprocess.Popen([*command, "--serve", door], start_new_session=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    config.add_cleanup(folder.cleanup)
    config.add_cleanup(lambda: (os.killpg(served.pid, signal.SIGKILL), served.wait()))
    while not os.path.exists(door) and served.poll() is None:
        time.sleep(0.02)
    return [*command, door]


@pytest.hookimpl(tryfirst=True)  # before pytest leaves out what is marked `weekly`
def pytest_collection_modifyitems(items):
    """Of a test that is marked `sweep(many)` so many cases run with each push, spread over all of them; the others are the week's."""
    sweeps: dict[str, list] = {}
    for item in items:
        if item.get_closest_marker("sweep"):
            sweeps.setdefault(item.nodeid.split("[")[0], []).append(item)
    for cases in sweeps.values():
        many = min(cases[0].get_closest_marker("sweep").args[0], len(cases))
        # One of each stretch of the list, now near its start and now near its end: of crossed lists not always the same of the inner one.
        pushed = {int((turn + turn * 0.618 % 1) * len(cases) / many) for turn in range(many)}
        for place, case in enumerate(cases):
            if place not in pushed:
                case.add_marker("weekly")


def pytest_collection_finish():
    """A tenth of the time went into looking for garbage among what is there to stay: collected tests, and later what is kept of builds."""
    gc.freeze()
    gc.set_threshold(100_000, 10, 1_000_000)  # all of it only after a file


@pytest.fixture(scope="module", autouse=True)
def _garbage_is_looked_for_after_a_file():
    yield
    gc.collect()
    gc.freeze()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Files are handed out one by one, but those that need a JupyterLab as one: it and its browser start once, not in each worker."""
    if config.getvalue("dist") != "loadfile":
        return None
    from xdist.scheduler import LoadFileScheduling

    class Together(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = super()._split_scope(nodeid)
            return "JupyterLab" if file.endswith(IN_JUPYTERLAB) else file

    return Together(config, log)


@pytest.fixture(scope="session", autouse=True)
def _the_same_water_runs_once():
    """A worker keeps the failures of all builds of a file (drills by the hundred are a few MB), not of the last dozen."""
    drills._run = functools.lru_cache(maxsize=500)(drills._run.__wrapped__)


@pytest.fixture
def here(monkeypatch, capsys):
    """``here(*arguments, cwd=…)``: as ``python -m aquaplumb …`` in a folder, but in this process, which is much quicker."""

    def ran(*arguments, cwd):
        monkeypatch.chdir(cwd)
        capsys.readouterr()
        try:
            code = main([str(a) for a in arguments])
        except SystemExit as wrong:  # argparse
            code = wrong.code
        said = capsys.readouterr()
        return SimpleNamespace(returncode=code, stdout=said.out, stderr=said.err)

    return ran


@pytest.fixture
def strict(request, monkeypatch, tmp_path):
    """A fault in a callback is an error here, not a line in the panel; what is kept lands in a folder of the test's own.

    Panels draw nothing of themselves, a third of their time, but for a test that looks: it asks for `drawn`.
    """
    monkeypatch.setenv("AQUAPLUMB_STRICT", "1")
    monkeypatch.chdir(tmp_path)
    if "drawn" not in request.fixturenames:
        request.getfixturevalue("unseen")


@pytest.fixture
def drawn():
    """For a test that looks at what a panel draws."""


class _NotDrawn(bytes):
    """No picture: nobody may take two of them for one and the same."""

    __hash__ = bytes.__hash__

    def __eq__(self, other):
        raise AssertionError("this test looks at a picture that is not drawn: have it use the fixture `drawn`")

    __ne__ = startswith = __eq__


@pytest.fixture
def unseen(monkeypatch):
    """Panels draw nothing of themselves: for tests of what they compute, say and keep. Gives the function that draws all the same."""
    draws = Picture.png
    monkeypatch.setattr(Picture, "png", lambda *_, **__: _NotDrawn())
    return lambda panel: draws(panel.picture, panel.record, panel.system)

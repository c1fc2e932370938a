"""What tests share: a fault in a panel is an error, nothing is kept in the checkout, and what is dear is worked out once."""

import functools
import gc

import pytest

from aquaplumb.figures.style import Picture
from aquaplumb.system import drills

IN_JUPYTERLAB = (
    "browser/test_asked.py",
    "browser/test_own_log.py",
    "browser/test_panel.py",
    "browser/test_screen.py",
    "browser/test_walk.py",
)


def pytest_collection_finish():
    """Thousands of collected tests are there to stay: a tenth of the time went into looking for garbage among what is none."""
    gc.freeze()
    gc.set_threshold(100_000, 10, 10)


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
def strict(monkeypatch, tmp_path):
    """A fault in a callback is an error here, not a line in the panel; what is kept lands in a folder of the test's own."""
    monkeypatch.setenv("AQUAPLUMB_STRICT", "1")
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def unseen(monkeypatch):
    """Panels draw nothing of themselves: for tests of what they compute, say and keep. Gives the function that draws all the same."""
    drawn = Picture.png
    monkeypatch.setattr(Picture, "png", lambda *_, **__: b"")
    return lambda panel: drawn(panel.picture, panel.record, panel.system)

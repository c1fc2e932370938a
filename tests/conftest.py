"""What tests share: a fault in a panel is an error, nothing is kept in the checkout, and what is dear is worked out once."""

import functools
import gc

import pytest

from aquaplumb.system import drills


def pytest_collection_finish():
    """Thousands of collected tests are there to stay: a twentieth of the time went into looking through them for garbage."""
    gc.freeze()


@pytest.fixture(scope="session", autouse=True)
def _the_same_water_runs_once():
    """A worker keeps the failures of every demo build (drills by the hundred are a few MB), not of the last dozen."""
    drills._run = functools.lru_cache(maxsize=150)(drills._run.__wrapped__)


@pytest.fixture
def strict(monkeypatch, tmp_path):
    """A fault in a callback is an error here, not a line in the panel; what is kept lands in a folder of the test's own."""
    monkeypatch.setenv("AQUAPLUMB_STRICT", "1")
    monkeypatch.chdir(tmp_path)

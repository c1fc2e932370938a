"""What tests of pages share: a fault in a panel is an error, and nothing is kept in the checkout."""

import pytest


@pytest.fixture
def strict(monkeypatch, tmp_path):
    """A fault in a callback is an error here, not a line in the panel; what is kept lands in a folder of the test's own."""
    monkeypatch.setenv("AQUAPLUMB_STRICT", "1")
    monkeypatch.chdir(tmp_path)

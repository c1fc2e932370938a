"""A JupyterLab and a browser for all the tests in this folder; without a Chromium they are skipped, and say why."""

import importlib.util
import sys
from pathlib import Path

import pytest

_here = Path(__file__).parent
if "browser_lab" not in sys.modules:
    _spec = importlib.util.spec_from_file_location("browser_lab", _here / "lab.py")
    sys.modules["browser_lab"] = importlib.util.module_from_spec(_spec)
    _spec.loader.exec_module(sys.modules["browser_lab"])
lab_tools = sys.modules["browser_lab"]


@pytest.fixture(scope="session")
def lab(tmp_path_factory):
    """A running JupyterLab; `lab.add(path)` copies a notebook to it."""
    if reason := lab_tools.missing():
        pytest.skip(reason)
    server = lab_tools.Lab(tmp_path_factory.mktemp("lab"))
    yield server
    server.close()


@pytest.fixture(scope="session")
def browser():
    """A running Chromium."""
    if reason := lab_tools.missing():
        pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        window = lab_tools.launched(playwright)
        yield window
        window.close()


@pytest.fixture(scope="session")
def desk(lab, browser):
    """A page with JupyterLab open."""
    page = lab_tools.desk(browser, lab)
    yield page
    page.close()


@pytest.fixture(scope="module")
def open_notebook(desk):
    """``open_notebook(name)``: a `Notebook` on the desk; it is closed before the next one, and after the last test of a file."""
    pages = []

    def opened(name: str, **options):
        if pages:
            pages.pop().close()
        pages.append(lab_tools.Notebook(desk, name, **options))
        return pages[-1]

    yield opened
    if pages:
        pages.pop().close()


@pytest.fixture(scope="session")
def written_notebook():
    """``written_notebook(path, *cells)`` writes a notebook of code cells."""
    return lab_tools.written_notebook

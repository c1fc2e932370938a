"""The wheel carries the tables, the demo builds and the notebooks, and finds them when installed elsewhere."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("hatchling")
ROOT = Path(__file__).resolve().parents[1]


def run(*command, **options):
    done = subprocess.run(command, capture_output=True, text=True, timeout=240, check=False, **options)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """A folder with the library installed from its wheel, without its dependencies."""
    place = tmp_path_factory.mktemp("wheel")
    pip = [sys.executable, "-m", "pip", "-q", "--disable-pip-version-check"]
    run(*pip, "wheel", "--no-deps", "--no-build-isolation", "-w", str(place), str(ROOT))
    run(*pip, "install", "--no-deps", "--no-index", "--target", str(place / "lib"), str(next(place.glob("*.whl"))))
    return place


def test_an_installed_wheel_reviews_and_copies_the_walk(installed):
    elsewhere = installed / "elsewhere"
    elsewhere.mkdir()
    env = {**os.environ, "PYTHONPATH": str(installed / "lib")}
    where = run(sys.executable, "-c", "import aquaplumb; print(aquaplumb.__file__)", cwd=elsewhere, env=env)
    assert str(installed) in where
    assert "Courtyard" in run(sys.executable, "-m", "aquaplumb", "review", "courtyard", cwd=elsewhere, env=env)
    said = run(sys.executable, "-m", "aquaplumb", "open", "--only-copy", "walk", cwd=elsewhere, env=env)
    assert "Copied" in said
    assert (elsewhere / "walk" / "08-pump-choice.ipynb").exists()

"""The wheel carries the tables, the demo builds, the notebooks and its licence, and finds them when installed elsewhere."""

import os
import subprocess
import sys
from importlib.metadata import distributions
from pathlib import Path

import pytest

import aquaplumb
from aquaplumb.__main__ import command as typed

pytest.importorskip("hatchling")
pytestmark = pytest.mark.weekly  # each push builds and tries the wheel on three systems (`.github/workflows/tests.yml`)
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
    run(sys.executable, "-m", "aquaplumb", "key", "8", "-o", "key.html", cwd=elsewhere, env=env)
    assert "about seven tenths" in (elsewhere / "key.html").read_text(encoding="utf-8")
    run(sys.executable, "-m", "aquaplumb", "paper", "8", cwd=elsewhere, env=env)
    assert (elsewhere / "paper" / "08-pump-choice.html").exists()
    said = run(sys.executable, "-m", "aquaplumb", "open", "--only-copy", "walk", cwd=elsewhere, env=env)
    assert "Copied" in said
    assert (elsewhere / "walk" / "08-pump-choice.ipynb").exists()


def test_a_wheel_carries_its_licence_version_and_command(installed):
    (info,) = (installed / "lib").glob("aquaplumb-*.dist-info")
    licence = (info / "licenses" / "aquaplumb" / "LICENSE").read_text(encoding="utf-8")
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert " ".join(readme.split("\n## Licence\n")[1].split()).removeprefix("MIT. ") == " ".join(licence.split()).removeprefix(
        "MIT License "
    )
    (own,) = distributions(path=[str(installed / "lib")])
    assert own.version == aquaplumb.__version__
    (command,) = own.entry_points
    assert (command.name, command.group) == ("aquaplumb", "console_scripts")
    assert command.load() is typed

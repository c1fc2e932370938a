"""The teachers' page: its commands, links, quoted answers and times; and the set-up in a browser service.

What the stick's test does: it runs the page's two commands with no package index, on aquaplumb's own wheel. The other
hundred wheels (140 MB) are not fetched here; what is installed beside the tests stands in for them.
"""

import importlib
import os
import re
import shlex
import subprocess
import sys
import sysconfig
import tomllib
import venv
from pathlib import Path

import nbformat
import pytest

from aquaplumb.questions.asked import Asked
from aquaplumb.whatif import WALK

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "notebooks" / "teachers.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"```sh\n(.+?)\n```", PAGE)
MAKE, USE, SHOW = COMMANDS
BOOKS = sorted(path.name for path in (ROOT / "notebooks").glob("0*.ipynb"))
NO_INDEX = {"PIP_INDEX_URL": "http://127.0.0.1:9/simple", "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_NO_INPUT": "1"}


def run(*command, wrong=False, **options):
    env = {**{k: v for k, v in os.environ.items() if not k.startswith(("PIP_", "PYTHONPATH"))}, **NO_INDEX}
    done = subprocess.run(command, capture_output=True, encoding="utf-8", timeout=300, check=False, env=env, **options)
    assert (done.returncode != 0) == wrong, done.stdout + done.stderr
    return done.stdout + done.stderr


@pytest.fixture(scope="module")
def stick(tmp_path_factory):
    """The folder that the page's first command makes; only our own wheel is built."""
    pytest.importorskip("hatchling")
    place = tmp_path_factory.mktemp("room")
    python, *rest = shlex.split(MAKE)
    assert (python, rest[:3]) == ("python3", ["-m", "pip", "wheel"])
    folder = rest[rest.index("--wheel-dir") + 1]
    rest[rest.index("--wheel-dir") + 1] = str(place / folder)
    run(sys.executable, *rest, "--no-deps", "--no-build-isolation", cwd=ROOT)
    assert [path.name.split("-")[0] for path in (place / folder).glob("*.whl")] == ["aquaplumb"]
    return place


@pytest.mark.skipif(os.name == "nt", reason="the page has other commands for Windows")
def test_the_two_commands_without_a_network(stick):
    first, second = USE.split(" && ")
    assert first == "python3 -m venv .venv"
    venv.create(stick / ".venv", with_pip=True)
    python, *rest = shlex.split(second)
    assert python == ".venv/bin/python"
    python = str(stick / python)
    assert "--no-index" in rest

    bare = run(python, *rest, cwd=stick, wrong=True)  # nothing is fetched from anywhere: the others' wheels are missing
    assert "No matching distribution" in bare

    run(python, *rest, "--no-deps", cwd=stick)
    beside = next((stick / ".venv" / "lib").glob("python3.*/site-packages")) / "beside.pth"
    beside.write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")  # what stands in for the other wheels
    run(python, *rest, cwd=stick)  # word for word
    where = run(python, "-c", "import aquaplumb; print(aquaplumb.__file__)", cwd=stick)
    assert str(stick / ".venv") in where
    assert "Copied" in run(python, "-m", "aquaplumb", "open", "--only-copy", cwd=stick)
    assert {path.name for path in (stick / "my-aquaplumb").glob("0*.ipynb")} == set(BOOKS)


def test_windows_gets_the_same_commands():
    windows = re.search(r"```powershell\n(.+?)\n(.+?)\n```", PAGE)
    same = [line.replace("py -3", "python3").replace("; ", " && ").replace("\\Scripts\\", "/bin/") for line in windows.groups()]
    assert same == [MAKE, USE]


def test_the_projector_command_names_a_notebook_and_a_program_that_come_with_the_workshop():
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    module, book = re.search(r"-m (\w+) (\S+\.ipynb)", SHOW).groups()
    assert any(requirement.startswith(module) for requirement in extras["workshop"])
    assert book in BOOKS  # tests/browser/test_voila.py shows it


def test_links_lead_somewhere_and_reach_every_notebook():
    links = set(re.findall(r"\]\(([^)]+)\)", PAGE))
    assert all((ROOT / "notebooks" / link).exists() for link in links)
    assert links >= set(BOOKS)


def test_the_times_are_those_of_the_notebooks_and_fit_the_day():
    minutes = {}
    for name in BOOKS:
        text = "\n".join(cell.source for cell in nbformat.read(ROOT / "notebooks" / name, 4).cells[:1])
        minutes[name[:2]] = int(re.search(r"\*\*Time:\*\* (\d+) minutes", text)[1])
    said = re.search(r"takes 20 minutes alone \((.+?)\)", PAGE)[1]  # "06 and 09: 25; 11: 30"
    longer = {
        number: int(time) for part in said.split(";") for numbers, time in [part.split(":")] for number in re.findall(r"\d\d", numbers)
    }
    assert {number: time for number, time in minutes.items() if time != 20} == {
        number: time for number, time in longer.items() if number in minutes
    }
    rows = re.findall(r"^\| (?:start|fish and beds|water and pipe|falling water|pump|end|breaks) \|(.+?)\|(.+?)\|", PAGE, re.M)
    assert len(rows) == 7
    for column, hours in ((0, 3.5), (1, 7)):
        taken = sum(int(re.search(r"(\d+) min", row[column])[1]) for row in rows)
        assert taken == hours * 60


@pytest.mark.parametrize("place", range(len(WALK)), ids=WALK)
def test_each_wrong_answer_quoted_is_one_that_a_learner_can_give(place):
    number, said = re.findall(r'^\| (\d\d) \| "(.+?)" \|', PAGE, re.M)[place]
    assert int(number) == place
    guess = importlib.import_module(f"aquaplumb.questions.{WALK[place]}").guess()
    assert isinstance(guess, Asked)
    assert said in guess.options
    assert guess.reply(said).startswith("✖")


def test_numbers_shown_are_the_demos():
    from aquaplumb.review import review

    seen = review("courtyard")
    assert seen["fish.feed"].text() == "194 g/d"
    assert seen["fish.ammonia"].value * 86400e3 == pytest.approx(6, abs=0.5)


def test_the_browser_service_gets_the_workshop():
    folder = ROOT / ".binder"
    assert (folder / "requirements.txt").read_text(encoding="utf-8").split() == [".[workshop]"]
    assert os.access(folder / "postBuild", os.X_OK)
    needed = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["requires-python"]
    offered = re.match(r"python-3\.(\d+)", (folder / "runtime.txt").read_text(encoding="utf-8"))
    assert int(offered[1]) >= int(re.search(r">=3\.(\d+)", needed)[1])
    run("bash", "-n", str(folder / "postBuild"))

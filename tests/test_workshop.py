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
from itertools import pairwise
from pathlib import Path

import nbformat
import pytest

from aquaplumb.build import load
from aquaplumb.questions.asked import Asked
from aquaplumb.whatif import WALK

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "notebooks" / "teachers.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"```sh\n *(.+?)\n *```", PAGE)
KEY, PAPER, PLAIN, MAKE, USE, ROOM, *_HUB, SHOW = COMMANDS  # tests/test_hub.py has those of the hub
BOOKS = sorted(path.name for path in (ROOT / "notebooks").glob("[01]*.ipynb"))
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
    assert {path.name for path in (stick / "my-aquaplumb").glob("[01]*.ipynb")} == set(BOOKS)


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


def section(title):
    return PAGE.split(f"\n## {title}\n")[1].split("\n## ")[0]


def numbers(text):
    """Pages named in a sentence: "05, 06 and 09" or "11 to 13"."""
    return [
        f"{number:02d}"
        for first, last in re.findall(r"\b(\d\d)(?: to (\d\d))?", text)
        for number in range(int(first), int(last or first) + 1)
    ]


def longer(sentence):
    """Pages that take longer: "06 and 09: 25; 11: 30"."""
    return {number: int(time) for part in sentence.split(";") for named, time in [part.split(":")] for number in numbers(named)}


def room_minutes():
    """What each page takes in a room, as the page says it."""
    usual, named, more = re.search(r"In a room each takes (\d+), but (.+?), whose demonstrations are longer, take (\d+)", PAGE).groups()
    return {book[:2]: int(more) if book[:2] in numbers(named) else int(usual) for book in BOOKS}


def test_the_times_alone_are_those_of_the_notebooks():
    minutes = {}
    for name in BOOKS:
        text = nbformat.read(ROOT / "notebooks" / name, 4).cells[0].source
        minutes[name[:2]] = int(re.search(r"\*\*Time:\*\* (\d+) minutes", text)[1])
    usual, said = re.search(r"takes (\d+) minutes alone \((.+?)\)", PAGE).groups()
    assert minutes == {**dict.fromkeys(minutes, int(usual)), **longer(said)}
    assert all(room_minutes()[page] >= alone for page, alone in minutes.items())


def test_the_minutes_of_one_page_follow_each_other_to_the_end():
    steps = [tuple(map(int, row)) for row in re.findall(r"(?m)^\| (\d+)–(\d+) \|", section("The minutes of one page"))]
    assert len(steps) >= 5 and steps[0][0] == 0 and steps[-1][1] == min(room_minutes().values())
    assert all(before[1] == after[0] and after[1] > after[0] for before, after in pairwise(steps))
    assert set(room_minutes().values()) == {steps[-1][1], steps[-1][1] + 10} and "the other ten" in PAGE


PLANS = dict(re.findall(r"(?s)\n\*\*([^*\n]+)\.\*\* [^\n]*\n\n\| clock \| min \| what \|\n\|[-|]+\|\n(.+?)\n(?=\n)", section("Plans")))


@pytest.mark.parametrize(("plan", "hours"), [("Half a day", 3.5), ("A day", 7), ("A solar workshop", 3.5)])
def test_a_plan_adds_up_by_the_clock(plan, hours):
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in PLANS[plan].splitlines()]
    clock = [60 * int(at.split(":")[0]) + int(at.split(":")[1]) for at, _, _ in rows]
    assert rows[-1][1:] == ["", "end"] and clock[-1] - clock[0] == hours * 60
    for place, (_, minutes, what) in enumerate(rows[:-1]):
        assert clock[place] + int(minutes) == clock[place + 1], what
        if (page := re.match(r"\[(\d\d)\]\(\S+\)(?! again)", what)) is not None:
            assert int(minutes) == room_minutes()[page[1]], what
    since = 0  # nobody sits longer than this without a break
    for _, minutes, what in rows[:-1]:
        since = 0 if re.match("break|lunch", what) else since + int(minutes)
        assert since <= 120, what


def test_each_evening_is_full_and_no_longer():
    rows = re.findall(r"(?m)^\| (\d) \| (\d+) \| (.+) \|$", section("Plans"))
    assert [row[0] for row in rows] == list("123456")
    for evening, minutes, what in rows:
        assert int(minutes) == 90 == sum(map(int, re.findall(r"(?<=[a-z)]) (\d+)(?=[,:]| *$)", what))), evening
        for page, time in re.findall(r"\[(\d\d)\]\(\S+\) (\d+)", what):
            assert int(time) == room_minutes()[page]
        assert "break" in what


@pytest.mark.parametrize("start", ["**Half a day.**", "**A day.**", "**Six evenings"])
def test_a_plan_has_each_page_or_leaves_it_for_home(start):
    plan = section("Plans").split(start)[1].split("\n**")[0]
    home = numbers(re.search(r"Left for home: (.+?)\.", plan)[1]) if "Left for home" in plan else []
    taken = re.findall(r"\[(\d\d)\]", plan)
    assert sorted([*taken, *home]) == [book[:2] for book in BOOKS]


def test_the_kit_serves_every_demonstration_and_no_other():
    shown = re.findall(r"(?m)^- \*\*(\d\d)\*\*", section("What to demonstrate"))
    kit = re.findall(r"(?m)^\| .+ \| ([\d, ]+) \|$", section("What to pack"))
    assert {page for row in kit for page in numbers(row)} == set(shown)


AWG = re.compile(r"([\d.]+) mm² \((\d+) AWG\)")


def test_us_quantities_are_as_large_as_the_metric_ones():
    """A shopper's size, so within a tenth; wire by ASTM B258, d = 0.127 mm × 92^((36 − n)/39), to the next usual size."""
    from aquaplumb.units import quantity

    told = section("What to pack") + section("What to demonstrate")
    tidy = told.replace("2½", "2.5").replace("¾", "0.75").replace("3 ft 3 in", "39 in").replace("one metre (3", "1 m (3")
    pairs = re.findall(r"([\d.]+ (?:m|mm|L|g))(?: of feed or rice)?(?: \(|, )([\d.]+ (?:ft|in|gal|qt|oz))", tidy)
    assert len(pairs) >= 9
    for metric, us in pairs:
        ratio = (quantity(us.replace("qt", "quart") if "qt" not in us else f"{float(us[:-3]) / 4} gal") / quantity(metric)).to("")
        assert 0.9 <= ratio.magnitude <= 1.1 or us == "0.2 oz", (metric, us)
    wires = AWG.findall(told)
    assert len(wires) == 2
    for area, number in wires:
        assert 0.8 <= 3.14159 / 4 * (0.127 * 92 ** ((36 - int(number)) / 39)) ** 2 / float(area) <= 1.2


def test_mains_near_water_is_told_in_both_worlds_words():
    for words in ("RCD, 30 mA", "class A GFCI, 5 mA", "test button", "12 V"):
        assert words in section("What to pack")


@pytest.mark.weekly
def test_the_letters_check_of_python_works(tmp_path):
    first, second = re.search(r"```text\n> (.+?)\n> (.+?)\n", PAGE).groups()
    assert second == first.replace("python3", "py -3").replace(" &&", ";")
    needed = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["requires-python"]
    assert f"Python {needed.removeprefix('>=')}" in section("A week before: the letter")
    for command in first.split(" && "):
        python, *rest = shlex.split(command)
        assert python == "python3"
        said = run(sys.executable, *rest, cwd=tmp_path)
        assert said.startswith("Python 3.") or not said
    assert (tmp_path / rest[-1] / "pyvenv.cfg").exists()


@pytest.mark.parametrize("command", [KEY, PAPER], ids=["key", "paper"])
def test_the_teachers_commands_are_ones_that_we_have(command, tmp_path, here):
    python, flag, module, *rest = command.split()
    assert (python, flag, module) == (".venv/bin/python", "-m", "aquaplumb")
    done = here(rest[0], "08", *rest[1:], cwd=tmp_path)  # one page stands for all
    assert done.returncode == 0 and (tmp_path / rest[2]).exists()


def test_the_command_for_plain_pages_writes_what_the_page_says(tmp_path, here, monkeypatch):
    """The whole walk takes minutes: tests of plain pages make it. Here one page stands for all, and goes to paper as the page says."""
    pdf = importlib.import_module("aquaplumb.workshop.sheet.pdf")
    plain = importlib.import_module("aquaplumb.teaching.plain")
    every = plain.pages
    monkeypatch.setattr(plain, "pages", lambda: every()[8:9])
    monkeypatch.setattr(pdf, "browser", lambda: "one")
    monkeypatch.setattr(pdf, "printed", lambda html: html.encode())
    *_, module, command, folder, flag = PLAIN.split()
    assert (module, command, flag) == ("aquaplumb", "pages", "--pdf")
    done = here(command, folder, flag, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    made = {path.name for path in (tmp_path / folder).iterdir()}
    assert made == {"index.html", "walk.pdf", "08-pump-choice.html"}
    assert "folder `pages`: open `index.html`" in PAGE and "`walk.pdf`" in PAGE


@pytest.mark.parametrize("command", [ROOM, ".venv/bin/python -m aquaplumb open"], ids=["room", "open"])
def test_the_commands_that_serve_are_ones_that_we_have(command, tmp_path, here):
    *_, module, name = command.removesuffix(" my-class").split()
    assert module == "aquaplumb" and command in PAGE
    assert here(name, "--help", cwd=tmp_path).returncode == 0


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
    american = review(load("courtyard").changed({("units",): "US"}))
    assert f"194 g, {american['fish.feed'].text('US').removesuffix('/d')}" in PAGE
    assert seen["fish.ammonia"].value * 86400e3 == pytest.approx(6, abs=0.5)


def test_the_browser_service_gets_the_workshop():
    folder = ROOT / ".binder"
    assert (folder / "requirements.txt").read_text(encoding="utf-8").split() == [".[workshop]"]
    assert os.access(folder / "postBuild", os.X_OK)
    needed = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["requires-python"]
    offered = re.match(r"python-3\.(\d+)", (folder / "runtime.txt").read_text(encoding="utf-8"))
    assert int(offered[1]) >= int(re.search(r">=3\.(\d+)", needed)[1])
    run("bash", "-n", str(folder / "postBuild"))

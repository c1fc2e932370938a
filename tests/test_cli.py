"""The command line, run as a person runs it: exit codes, one plain line on an error, never a traceback."""

import json
import os
import re
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

import aquaplumb
from aquaplumb.build import load
from aquaplumb.tables import folder
from aquaplumb.walk import copy_walk
from pages import HEARING

HOUSE = Path(aquaplumb.__file__).parents[1]


def run(*arguments, cwd, **environment):
    """Run ``python -m aquaplumb …`` in a folder."""
    return subprocess.run(
        [sys.executable, "-m", "aquaplumb", *map(str, arguments)],
        cwd=cwd, capture_output=True, encoding="utf-8", errors="replace", timeout=120, check=False,
        env={**os.environ, "PYTHONPATH": str(HOUSE), "PYTHONIOENCODING": "utf-8", "PYTHONUTF8": "0", **environment},
    )  # fmt: skip


def refused(done):
    """Exit code 2 and one line on stderr, with nothing half said."""
    assert done.returncode == 2, done.stderr
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1, done.stderr
    return done.stderr


def test_a_sound_build(tmp_path, here):
    done = here("review", "courtyard", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Findings" in done.stdout and "L/h" in done.stdout


def test_a_build_to_mend(tmp_path, here):
    done = here("review", "flat-drain", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (1, "")
    assert "drain has no fall" in done.stdout


def test_a_file_of_ones_own(tmp_path, here):
    (tmp_path / "mine.toml").write_text(load("courtyard").text.replace("Courtyard, one pump", "Søren's yard"), encoding="utf-8")
    done = here("review", "mine.toml", cwd=tmp_path)
    assert done.returncode == 0
    assert done.stdout.startswith("Søren's yard")


def test_a_pump_file_is_found_beside_the_build(tmp_path, here):
    own = tmp_path / "deep" / "down"
    own.mkdir(parents=True)
    (own / "mine.toml").write_text(
        load("courtyard").text.replace('pump = "demo mains 120 W submersible"', 'pump_file = "mine.csv"'), encoding="utf-8"
    )
    refused(here("review", own / "mine.toml", cwd=tmp_path))
    (own / "mine.csv").write_text("flow [L/h],head [m],power [W]\n0,4.5,88\n2500,3.2,105\n5000,0,120\n", encoding="utf-8")
    assert here("review", own / "mine.toml", cwd=tmp_path).returncode == 0
    (own / "mine.csv").write_text("flow [L/h],head [m],power [W]\n0,4.5,88\n2500,5.2,105\n5000,0,120\n", encoding="utf-8")
    assert "mine" in refused(here("review", own / "mine.toml", cwd=tmp_path))  # heads that rise


LOGS = {  # rows, exit code, and a word of what is said
    "sound": ("2026-05-01,28,7.1,0.2,0.05,6.5\n", 0, "Go on testing"),
    "nitrite": ("2026-05-01,28,7.1,0.2,6,6.5\n", 1, "now: nitrite"),
}


@pytest.mark.parametrize("rows, code, words", LOGS.values(), ids=LOGS)
def test_a_log_says_what_to_do_next(tmp_path, here, rows, code, words):
    """From 5 mg/L of nitrite, as N, tilapia begin to die (SRAC 282)."""
    (tmp_path / "mine.csv").write_text(
        "date,temperature [degC],pH,ammonia [mg/L as N],nitrite [mg/L as N],oxygen [mg/L]\n" + rows, encoding="utf-8"
    )
    (tmp_path / "my-build.toml").write_text(load("courtyard").changed({("upkeep", "log"): "mine.csv"}).text, encoding="utf-8")
    done = here("log", "my-build.toml", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (code, "") and words in done.stdout and "1 day of readings, 2026-05-01;" in done.stdout
    assert here("log", "courtyard", "mine.csv", cwd=tmp_path).stdout == done.stdout


def test_a_log_that_cannot_be_read_or_is_a_demos(tmp_path, here):
    assert "no column 'date'" in refused(here("log", "courtyard", folder("data") / "pipes.csv", cwd=tmp_path))
    assert "there is no log" in refused(here("log", "courtyard", "lost.csv", cwd=tmp_path))
    assert "invented log of a demo" in here("log", "greenhouse", cwd=tmp_path).stdout


def test_for_machines(tmp_path, here):
    done = here("review", "too-many-fish", "--json", cwd=tmp_path)
    assert done.returncode == 1
    told = json.loads(done.stdout)
    assert told["sound"] is False
    assert "density over limit" in [f["name"] for f in told["findings"]]


def _broken(path):
    path.write_text("[fish\n", encoding="utf-8")


def _big(path):
    with path.open("wb") as file:
        file.truncate(50_000_000)


def _binary(path):
    path.write_bytes(b"\x89PNG\r\n\x1a\n\x00\xff")


def _arithmetic(path):
    path.write_text(load("courtyard").text.replace('"2.2 m"', '"9**9**9 m"', 1), encoding="utf-8")


def _empty(path):
    path.write_text("", encoding="utf-8")


@pytest.mark.parametrize(
    ("make", "says"),
    [
        pytest.param(None, "there is no file", id="missing"),
        pytest.param(_broken, "not TOML", id="broken TOML"),
        pytest.param(_big, "50.0 MB", id="50 MB"),
        pytest.param(Path.mkdir, "folder", id="a folder"),
        pytest.param(_binary, "not plain text", id="binary"),
        pytest.param(_arithmetic, "not a unit", id="9**9**9"),
        pytest.param(_empty, "missing", id="empty"),
    ],
)
def test_what_cannot_be_read(tmp_path, make, says, here):
    path = tmp_path / "mine.toml"
    if make:
        make(path)
    for extra in ([], ["--json"]):
        assert says in refused(here("review", path.name, *extra, cwd=tmp_path))


def test_an_unknown_demo(tmp_path, here):
    assert "courtyard" in refused(here("review", "courtyrad", cwd=tmp_path))


@pytest.mark.sweep(1)
@pytest.mark.parametrize("name", ["courtyard", "drain-no-wider-than-the-riser"])
@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "cp437"])
def test_a_narrow_console_does_not_stop_it(tmp_path, encoding, name):
    done = run("review", name, cwd=tmp_path, PYTHONIOENCODING=encoding)
    assert done.returncode == (0 if name == "courtyard" else 1)
    assert done.stderr == ""
    assert "Findings" in done.stdout


def test_a_narrow_console_can_print_an_error(tmp_path):
    (tmp_path / "møl.toml").write_text("x = 1\n", encoding="utf-8")
    refused(run("review", "møl.toml", cwd=tmp_path, PYTHONIOENCODING="ascii"))


def test_without_a_command_it_helps(tmp_path, here):
    done = here(cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "review" in done.stdout and "open" in done.stdout and "usage" in done.stdout


@pytest.mark.parametrize("arguments", [["reveiw", "courtyard"], ["review"], ["review", "courtyard", "--xml"]])
def test_a_slip_in_the_command(tmp_path, arguments, here):
    done = here(*arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr and "usage" in done.stderr


def test_its_version(tmp_path, here):
    assert here("--version", cwd=tmp_path).stdout.strip() == aquaplumb.__version__


# --- open -------------------------------------------------------------------------------------------------

NOTEBOOKS = sorted(p.name for p in folder("notebooks").glob("*.ipynb"))


def test_open_copies_the_walk_and_keeps_what_was_changed(tmp_path, here):
    done = here("open", "--only-copy", "walk", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    walk = tmp_path / "walk"
    assert NOTEBOOKS and sorted(p.name for p in walk.glob("*.ipynb")) == NOTEBOOKS
    for name in NOTEBOOKS:
        assert (walk / name).read_bytes() == (folder("notebooks") / name).read_bytes()

    mine = walk / NOTEBOOKS[0]
    mine.write_text("my own words", encoding="utf-8")
    (walk / "my-build.toml").write_text("# mine\n", encoding="utf-8")
    again = here("open", "--only-copy", "walk", cwd=tmp_path)
    assert (again.returncode, again.stderr) == (0, "")
    assert "Left alone" in again.stdout and NOTEBOOKS[0] in again.stdout
    assert mine.read_text(encoding="utf-8") == "my own words"
    assert (walk / "my-build.toml").read_text(encoding="utf-8") == "# mine\n"


def test_open_brings_back_what_was_deleted_and_says_when_there_is_nothing_to_do(tmp_path, here):
    here("open", "--only-copy", "walk", cwd=tmp_path)
    assert "up to date" in here("open", "--only-copy", "walk", cwd=tmp_path).stdout
    (tmp_path / "walk" / NOTEBOOKS[0]).unlink()
    assert "Copied 1 file " in here("open", "--only-copy", "walk", cwd=tmp_path).stdout
    assert (tmp_path / "walk" / NOTEBOOKS[0]).exists()


def test_a_newer_notebook_replaces_only_the_untouched(tmp_path, monkeypatch):
    """An update of the toolkit reaches files that the learner never touched, and leaves the others."""
    source = tmp_path / "source"
    source.mkdir()
    for name in ("a.ipynb", "b.ipynb"):
        (source / name).write_text("first", encoding="utf-8")
    monkeypatch.setattr("aquaplumb.walk.packaged", lambda _: source)
    copy_walk(tmp_path / "walk")
    (tmp_path / "walk" / "b.ipynb").write_text("mine", encoding="utf-8")
    for name in ("a.ipynb", "b.ipynb"):
        (source / name).write_text("second", encoding="utf-8")
    said = " ".join(copy_walk(tmp_path / "walk"))
    assert (tmp_path / "walk" / "a.ipynb").read_text(encoding="utf-8") == "second"
    assert (tmp_path / "walk" / "b.ipynb").read_text(encoding="utf-8") == "mine"
    assert "b.ipynb" in said and "Copied 1 file " in said


def test_a_file_that_was_there_before_is_never_overwritten(tmp_path, here):
    walk = tmp_path / "walk"
    walk.mkdir()
    (walk / NOTEBOOKS[0]).write_text("older than the toolkit", encoding="utf-8")
    done = here("open", "--only-copy", "walk", cwd=tmp_path)
    assert done.returncode == 0 and NOTEBOOKS[0] in done.stdout
    assert (walk / NOTEBOOKS[0]).read_text(encoding="utf-8") == "older than the toolkit"


def test_a_record_of_copies_that_is_broken_overwrites_nothing(tmp_path, here):
    here("open", "--only-copy", "walk", cwd=tmp_path)
    walk = tmp_path / "walk"
    (walk / NOTEBOOKS[0]).write_text("mine", encoding="utf-8")
    (walk / ".aquaplumb-copied.json").write_text("{ half", encoding="utf-8")
    assert here("open", "--only-copy", "walk", cwd=tmp_path).returncode == 0
    assert (walk / NOTEBOOKS[0]).read_text(encoding="utf-8") == "mine"


def test_a_folder_that_is_a_file(tmp_path, here):
    (tmp_path / "walk").write_text("not a folder", encoding="utf-8")
    told = refused(here("open", "--only-copy", "walk", cwd=tmp_path))
    assert "walk is a file" in told and "another folder" in told
    assert (tmp_path / "walk").read_text(encoding="utf-8") == "not a folder"


@pytest.mark.skipif(os.name == "nt" or not hasattr(os, "geteuid") or os.geteuid() == 0, reason="a superuser may write anywhere")
def test_a_folder_that_cannot_be_written(tmp_path, here):
    (tmp_path / "locked").mkdir(mode=0o500)
    refused(here("open", "--only-copy", "locked/walk", cwd=tmp_path))


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl+C cannot be sent to a process of its own there")
def test_open_says_two_lines_and_serves_page_00_until_ctrl_c(tmp_path):
    pytest.importorskip("jupyterlab")
    folders = {f"JUPYTER_{name}_DIR": str(tmp_path / name) for name in ("CONFIG", "DATA", "RUNTIME")}
    env = {**os.environ, **folders, "PYTHONPATH": str(HOUSE), "BROWSER": "true"}  # the program `true` opens nothing
    opened = subprocess.Popen(
        [sys.executable, "-m", "aquaplumb", "open", "walk"], cwd=tmp_path, env=env, stdout=subprocess.PIPE, text=True, preexec_fn=HEARING
    )
    try:
        copied, address = opened.stdout.readline(), opened.stdout.readline()
        assert copied.startswith("Copied ")
        found = re.search(r"http://localhost:(\d+)/doc/tree/00-start-here.ipynb\?token=\w+", address)
        with urllib.request.urlopen(found[0].replace("localhost", "127.0.0.1"), timeout=60) as page:
            shown = page.read().decode()
        assert "00-start-here.ipynb" in shown and "announcements" in shown  # the last among what is switched off
    finally:
        opened.send_signal(signal.SIGINT)
        rest = opened.communicate(timeout=60)[0]
    assert (opened.returncode, rest) == (0, "")
    assert "ServerApp" in (tmp_path / "walk" / ".aquaplumb-server.log").read_text(encoding="utf-8")


def test_open_tells_what_jupyterlab_said_when_it_stops(tmp_path):
    broken = tmp_path / "broken" / "jupyterlab"
    broken.mkdir(parents=True)
    (broken / "__init__.py").write_text("", encoding="utf-8")
    (broken / "__main__.py").write_text("raise SystemExit('no server on a Tuesday')", encoding="utf-8")
    done = run("open", "walk", cwd=tmp_path, PYTHONPATH=os.pathsep.join([str(broken.parent), str(HOUSE)]))
    assert done.returncode == 2
    assert "JupyterLab stopped: no server on a Tuesday." in done.stderr and "Traceback" not in done.stderr

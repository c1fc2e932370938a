"""What is written is whole or not there: kills, full disks, a second person, line ends, and nothing hidden left behind."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from aquaplumb import files, walk
from aquaplumb.build import load
from aquaplumb.units import DesignError
from aquaplumb.workshop.parts import own_prices
from aquaplumb.workshop.sheet import saving

YARD = load("courtyard").text


class Killed(BaseException):
    """In place of a kill: nothing after it runs but what a `finally` holds."""


@pytest.fixture
def dies(monkeypatch):
    """``dies(at)``: the process is killed instead of replacing its file number `at`, and leaves the unfinished one."""

    def at(number):
        plain, seen = os.replace, []

        def replace(old, new):
            seen.append(new)
            if len(seen) == number:
                monkeypatch.setattr(os.path, "exists", lambda _: False)  # a kill clears nothing away
                raise Killed
            plain(old, new)

        monkeypatch.setattr(os, "replace", replace)

    return at


@pytest.fixture
def pages(tmp_path, monkeypatch):
    """A walk of three files; ``pages(version)`` is what the package brings."""
    source = tmp_path / "package"
    source.mkdir()
    monkeypatch.setattr(walk, "packaged", lambda _: source)

    def bring(version):
        for name in ("00.ipynb", "01.ipynb", "notes.csv"):
            (source / name).write_text(f'{{"cells": "{version}"}}\n' * 50, encoding="utf-8")

    bring("one")
    return bring


@pytest.mark.parametrize("at", range(1, 6))
def test_a_copying_that_is_killed_is_taken_up_again(at, tmp_path, pages, dies, monkeypatch):
    home = tmp_path / "home"
    walk.copy_walk(home)
    pages("two")
    with monkeypatch.context():
        dies(at)
        with pytest.raises(Killed):
            walk.copy_walk(home)
    monkeypatch.undo()
    monkeypatch.setattr(walk, "packaged", lambda _: tmp_path / "package")
    assert all(p.read_text(encoding="utf-8") in ('{"cells": "one"}\n' * 50, '{"cells": "two"}\n' * 50) for p in home.glob("[!.]*"))
    pages("three")  # a newer package still, before the next try
    assert not any("Left alone" in line for line in walk.copy_walk(home))
    assert all("three" in p.read_text(encoding="utf-8") for p in home.glob("[!.]*"))


def test_a_notebook_that_an_earlier_copying_cut_off_is_made_whole(tmp_path, pages):
    home = tmp_path / "home"
    home.mkdir()
    (home / "00.ipynb").write_text('{"cells": "one"}\n{"ce', encoding="utf-8")
    (home / "01.ipynb").write_text("my own\n", encoding="utf-8")
    told = walk.copy_walk(home)
    assert told[1:] == ["Left alone, since you changed them: 01.ipynb."]
    assert (home / "00.ipynb").read_text(encoding="utf-8").count("one") == 50


@pytest.mark.parametrize("at", range(1, 5))
def test_tables_that_were_killed_while_written_are_still_ours(at, tmp_path, dies, monkeypatch):
    folder = tmp_path / "tables"
    saving.save_folder(folder, {"cuts.csv": b"old", "gone.csv": b"old"})
    dies(at)
    with pytest.raises(Killed):
        saving.save_folder(folder, {"cuts.csv": b"new", "parts.csv": b"new"})
    monkeypatch.undo()
    saving.save_folder(folder, {"cuts.csv": b"newer", "parts.csv": b"newer"})
    assert {p.name: p.read_bytes() for p in folder.glob("[!.]*.csv")} == {"cuts.csv": b"newer", "parts.csv": b"newer"}
    (folder / "cuts.csv").write_bytes(b"somebody's")
    with pytest.raises(DesignError, match="--force"):
        saving.save_folder(folder, {"cuts.csv": b"new"})


def test_a_price_form_is_whole_or_not_there(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    path = tmp_path / "prices.csv"
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DesignError, match="No space left"):
        own_prices.save_form(path, "what,size,price\n")
    assert list(tmp_path.iterdir()) == []
    monkeypatch.undo()
    own_prices.save_form(path, "what,size,price\n")
    with pytest.raises(DesignError, match="already a file"):
        own_prices.save_form(path, "other\n")
    assert path.read_text(encoding="utf-8") == "what,size,price\n"


def test_what_a_killed_writer_left_is_cleared_and_nothing_else(tmp_path):
    path = tmp_path / "my-build.toml"
    dead, fresh = (tmp_path / f".my-build.toml.{name}.unfinished" for name in ("abcd1234", "abcd1235"))
    theirs = [tmp_path / name for name in (".my-build.toml.backup12", ".my-build.toml.old", ".other.toml.abcd1234.unfinished")]
    for left in (dead, fresh, *theirs):
        left.write_text("half", encoding="utf-8")
        if left != fresh:
            os.utime(left, (0, 0))
    files.write(path, "whole")
    assert not dead.exists() and fresh.exists() and all(one.exists() for one in theirs)


@pytest.mark.parametrize(
    "raw", [YARD.replace("\n", "\r\n").encode(), b"\xef\xbb\xbf" + YARD.encode(), YARD.encode()], ids=["CRLF", "mark", "plain"]
)
def test_a_keep_leaves_line_ends_and_mark_as_they_are(raw, tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_bytes(raw)
    load(path).keep({"fish.density": "11 kg/m3"}).keep({"fish.density": load("courtyard").value("fish.density")})
    assert path.read_bytes() == raw
    assert [p.name for p in tmp_path.iterdir()] == ["my-build.toml"]


HOLD = "import sys, time\nfrom aquaplumb.files import alone\nfrom pathlib import Path\nwith alone(Path(sys.argv[1])):\n    print('held', flush=True)\n    time.sleep(60)"


@pytest.mark.skipif(os.name == "nt", reason="Windows lets nobody be killed so")
def test_a_file_that_is_held_waits_and_a_kill_lets_it_go(tmp_path, monkeypatch):
    path = tmp_path / "my-build.toml"
    house = str(Path(files.__file__).parents[1])
    other = subprocess.Popen([sys.executable, "-c", HOLD, path], stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": house})
    try:
        assert other.stdout.readline() == "held\n"
        monkeypatch.setattr(files, "_PATIENCE", 0.2)
        with pytest.raises(DesignError, match="another notebook"), files.alone(path):
            pass
    finally:
        other.kill()
        other.communicate()
    with files.alone(path):
        assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name == "nt" or os.geteuid() != 0, reason="only a superuser can be somebody else")
def test_a_second_person_of_the_machine_can_keep():
    """Each in a file of a folder that both may write in, one after the other."""
    with tempfile.TemporaryDirectory() as shared:
        os.chmod(shared, 0o777)
        path = Path(shared) / "my-build.toml"
        with files.alone(path):
            files.write(path, "mine")
        path.chmod(0o666)
        if (child := os.fork()) == 0:
            try:
                os.setuid(65534)
                with files.alone(path):
                    files.write(path, "theirs")
                os._exit(0)
            except BaseException:
                os._exit(1)
        assert os.waitpid(child, 0)[1] == 0 and path.read_text(encoding="utf-8") == "theirs"

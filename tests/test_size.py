"""What is too large, too deep, or no file at all is refused before it takes the memory or hours; what is large but can be is worked out."""

import os
import sys
import threading
import time

import numpy as np
import pytest

import aquaplumb.__main__ as command_line
import many_vessels
from aquaplumb.build import Build, load
from aquaplumb.review.findings import falls
from aquaplumb.system import implicit, steady
from aquaplumb.system.flow_tables import Network
from aquaplumb.system.line_flows import LineFlows
from aquaplumb.units import DesignError

COURTYARD = load("courtyard").text
HUGE = {
    "a key of 50,000 names": "a." * 50_000 + "b = 1\n",
    "in quotes": '"a".' * 50_000 + "b = 1\n",
    "a section of 50,000 names": "[" + "a." * 50_000 + "b]\n",
    "inside a value": "a = {" + "b." * 50_000 + "c = 1}\n",
    "a key of 900,000 letters": "a" * 900_000 + " = 1\n",
    "30,000 keys": "".join(f"a{n} = 1\n" for n in range(30_000)),
    "20,000 keys and a slip": "".join(f"a{n} = 1\n" for n in range(20_000)) + "=",
    "lists in lists": "a = " + "[" * 100_000 + "]" * 100_000,
    "tables in tables": "a = " + "{a = " * 50_000,
    "a list of 40,000 tables": "[[a]]\n" * 40_000,
    "quotation marks": '"' * 990_000,
    "1 MB": "#" * 1_000_001,
    "300 vessels": COURTYARD + "".join(f'[vessels.v{n}]\nlike = "bed 1"\n' for n in range(300)),
    "700 lines": COURTYARD + "".join(f'[lines.v{n}]\nlike = "tank overflow"\n' for n in range(700)),
}


@pytest.mark.parametrize("text", HUGE.values(), ids=HUGE)
def test_a_text_that_would_fill_the_memory_is_refused_in_a_line(text, tmp_path):
    """Unbounded, a key of 100 kB took 5.9 GB, 500 vessels 200 s, and 1 MB of quotation marks a minute."""
    began = time.process_time()
    (tmp_path / "mine.toml").write_text(text + "\n= 1", encoding="utf-8")
    (tmp_path / "whole.toml").write_text(text, encoding="utf-8")
    for name in ("mine.toml", "whole.toml"):
        with pytest.raises(DesignError) as wrong:
            load(tmp_path / name)
        assert len(str(wrong.value)) <= 300 and str(wrong.value).isprintable()
    assert time.process_time() - began < 30


def test_names_with_dots_and_long_texts_are_still_read():
    text = COURTYARD.replace('title = "', 'title = "www.a.b.c. And so on... 1.2.3.4.5.6.7.8.9 ', 1).replace("bed 2", "bed.2.of.two")
    assert "bed.2.of.two" in Build(text).vessels


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="Windows has no such files")
@pytest.mark.parametrize("made", ["a pipe", "nothing without end", "a folder"])
def test_what_is_no_plain_file_is_refused_and_not_waited_for(made, tmp_path, here):
    """As a build, a log, prices, a pump's and an air pump's points and rows of one's own: in each place where a file is read."""
    odd = tmp_path / "odd.toml"
    if made == "a pipe":
        os.mkfifo(odd)
    elif made == "a folder":
        odd.mkdir()
    else:
        odd.symlink_to("/dev/zero")
    riser = COURTYARD.replace('pump = "', 'pump_file = "odd.toml" #', 1)
    assert riser != COURTYARD
    (tmp_path / "pump.toml").write_text(riser, encoding="utf-8")
    (tmp_path / "air.toml").write_text(COURTYARD.split("[air]")[0] + '[air]\npump_file = "odd.toml"\nstones = 4\n', encoding="utf-8")
    (tmp_path / "rows.toml").write_text(COURTYARD + '\n[own]\nspecies = "odd.toml"\n', encoding="utf-8")
    for command in (
        ["review", "odd.toml"], ["compare", "courtyard", "odd.toml"], ["log", "courtyard", "odd.toml"], ["review", "pump.toml"],
        ["review", "air.toml"], ["review", "rows.toml"], ["sheet", "courtyard", "--prices", "odd.toml", "-o", "sheet.html"],
    ):  # fmt: skip
        done = here(*command, cwd=tmp_path)
        assert done.returncode == 2 and done.stdout == "", command
        assert done.stderr.count("\n") == 1 and len(done.stderr) <= 300, done.stderr
        assert "folder" in done.stderr or "device or a pipe" in done.stderr, done.stderr


def test_the_leaves_of_a_network_are_joined_by_no_line():
    start, end = np.array([0, 1, 2, 3, 4, 4]), np.array([1, 2, 3, 4, 0, 4])
    leaf, core = implicit.leaves(start, end, 6)
    assert sorted([*leaf, *core]) == list(range(6)) and 5 in leaf
    assert not any(one != other and one in leaf and other in leaf for one, other in zip(start, end))


@pytest.mark.parametrize("joined", ["a star", "a ring", "anyhow"])
def test_parting_a_network_solves_what_its_inverse_solves(joined):
    """(1 − h J) x = h f, of 30 vessels with slopes at random (numpy's own inverse)."""
    from scipy.sparse import coo_array

    chance, vessels, stories = np.random.default_rng(1), 30, 3
    start = np.arange(1, vessels) if joined == "a star" else np.arange(vessels) if joined == "a ring" else chance.integers(0, vessels, 60)
    end = 0 * start if joined == "a star" else (start + 1) % vessels if joined == "a ring" else chance.integers(0, vessels, 60)
    count = len(start)
    slopes = chance.uniform(0, 1, (stories, 2 * count))
    lines = np.arange(count)
    rows, columns = np.concatenate([start, end, start, end]), np.concatenate([start, start, end, end])
    sign = np.repeat([-1.0, 1.0, -1.0, 1.0], count)
    scatter = coo_array((sign, (rows * vessels + columns, np.concatenate([lines, lines, lines + count, lines + count]))), shape=(vessels**2, 2 * count)).tocsr()  # fmt: skip
    parts = np.array([1.0, 0.5, 1 / 3])[:, None, None, None] * chance.uniform(0.1, 1, (stories, 1, 1))
    whole = implicit.whole(parts, np.asarray((scatter @ slopes.T).T).reshape(stories, vessels, vessels))
    parted = implicit.Parted(start, end, vessels, scatter)(parts, slopes)
    force = chance.normal(size=(stories, vessels))
    for which, given in ((slice(None), force), (slice(1, None), np.stack([force, -force])), (2, force)):
        assert parted(which, given) == pytest.approx(whole(which, given), rel=1e-9, abs=1e-12)


def test_a_slope_looked_for_in_a_row_is_that_found_one_by_one():
    system = steady.solved(load("greenhouse"))
    for fall in system.falling.values():
        for slope in (-0.1, 0.0, 0.004, 0.02, 0.5, 1.0, 2.0):
            assert falls._speed(fall, np.array([slope, 0.01]))[0] == pytest.approx(float(falls._speed(fall, slope)))


class _Terminal:
    """What is said on a terminal."""

    def __init__(self):
        self.said = ""

    def isatty(self):
        return True

    def write(self, text):
        self.said += text

    def flush(self):
        pass


@pytest.mark.parametrize("tty", [True, False])
def test_long_work_is_told_at_a_terminal_alone(tty, monkeypatch):
    """After `_SOON` seconds; here at once."""
    screen, told = _Terminal(), threading.Event()
    screen.isatty = lambda: tty
    screen.flush = told.set
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setattr(command_line, "_SOON", 0.0)
    with command_line._told_to_wait():
        assert told.wait(5) if tty else not told.wait(0.01)
    assert screen.said.startswith("Working it out") if tty else screen.said == ""


def test_a_hundred_beds_hang_on_few_vessels():
    """A review of them takes 2 s of processor on a quiet machine (12 where each step inverted a matrix of 104 vessels for each failure)."""
    text = load("greenhouse").text
    for k in range(5, 101):
        name = f"bed {k}"
        text += many_vessels._PIPE.format(name=name, to=name, after="right header", outlet=42)
        text += many_vessels._BED.format(name=name, floor=24, lip=33, spare=35)
    network = Network(Build(text))
    flows = LineFlows(network, None, 1)
    leaf, core = implicit.leaves(flows.start_of, flows.end_of, len(network.names))
    assert len(leaf) >= 100 and len(core) <= 4

"""What a type checker sees: no fault in the library, and a quantity out of every door."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("mypy")
ROOT = Path(__file__).resolve().parents[1]

# What somebody who uses the library may write, and what mypy has to say of it.
SEEN = {
    'reveal_type(pipes.speed("900 L/h", "27 mm"))': "aquaplumb.kinds.Quantity",
    'wrong: str = pipes.speed("900 L/h", "27 mm")': "Incompatible types in assignment",
    'number: float = pipes.speed("900 L/h", "27 mm")': "Incompatible types in assignment",
    'pipes.speed("900 L/h")': 'Missing positional argument "bore"',
    'pipes.speed("900 L/h", "27 mm", colour="blue")': 'Unexpected keyword argument "colour"',
    'reveal_type(pumps.pump("x"))': "aquaplumb.plumbing.pump_curve.Pump",
    'reveal_type(pumps.pump("x").flow)': "aquaplumb.kinds.Quantity",
    'reveal_type(pumps.pump("x").name)': '"builtins.str"|"str"',
    'reveal_type(pumps.pump("x").replace(name="y"))': "aquaplumb.plumbing.pump_curve.Pump",
    'reveal_type(tables.row(Medium, "x"))': "aquaplumb.fish.nitrification.Medium",
    'reveal_type(tables.row(Medium, "x").void_typical)': "float",
    "reveal_type(tables.table(Medium))": r"dict\[.*str, aquaplumb.fish.nitrification.Medium\]",
    'reveal_type(tables.row("media", "x"))': "aquaplumb.tables.Row",
}


@pytest.fixture(scope="module")
def said(tmp_path_factory):
    """What mypy says of the package and of the lines above: one run, since each takes half a minute."""
    folder = tmp_path_factory.mktemp("seen")
    lines = [
        "from aquaplumb import tables",
        "from aquaplumb.fish.nitrification import Medium",
        "from aquaplumb.plumbing import pipes, pumps",
    ]
    (folder / "seen.py").write_text("\n".join([*lines, *SEEN]) + "\n", encoding="utf-8")
    asked = [
        "--config-file",
        "pyproject.toml",
        "--no-pretty",
        "--no-error-summary",
        "--cache-dir",
        os.devnull,
        "-p",
        "aquaplumb",
        "-m",
        "seen",
    ]
    env = os.environ | {"MYPYPATH": os.pathsep.join([str(ROOT), str(folder)])}
    done = subprocess.run([sys.executable, "-m", "mypy", *asked], cwd=ROOT, env=env, capture_output=True, encoding="utf-8", check=False)
    out, fault = done.stdout, done.stderr
    assert not fault, fault
    found = {line: "" for line in SEEN}
    others = []
    for one in out.splitlines():
        if at := re.search(r"seen\.py:(\d+): (.*)", one):
            found[[*SEEN][int(at[1]) - 1 - len(lines)]] += at[2] + "\n"
        else:
            others.append(one)
    return found, others


def test_a_checker_finds_no_fault_in_the_library(said):
    assert not said[1], "\n".join(said[1])


@pytest.mark.parametrize("line, words", SEEN.items(), ids=SEEN)
def test_a_checker_sees_what_a_door_and_a_record_give(said, line, words):
    assert re.search(words, said[0][line]), f"{line}: {said[0][line] or 'nothing said'}"

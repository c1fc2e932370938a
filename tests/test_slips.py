"""What is typed, sent or stopped by mistake ends in one clear sentence, and nothing is lost: odd values, odd files, Ctrl+C."""

import csv
import datetime
import json
import os
import pickle
import re
import signal
import subprocess
import sys
import time
import tomllib
import zipfile
from pathlib import Path
from types import SimpleNamespace

import pytest
import tomlkit
from filelock import FileLock

from aquaplumb.build import Build, load
from aquaplumb.review import review
from aquaplumb.review.readings import read
from aquaplumb.system.steady import solved
from aquaplumb.units import DesignError, quantity
from aquaplumb.workshop.sheet import pdf, saving, web_page
from aquaplumb.workshop.sheet.records import SheetDrawing
from pages import HEARING

HOUSE = Path(__file__).resolve().parents[1]
ODD = {
    "a list": [1, 2],
    "an empty list": [],
    "a table": {"a": 1},
    "a date": datetime.date(2026, 1, 1),
    "400 digits": int("9" * 400),
    "no number": float("nan"),
    "steering signs": "\x1b[31mred\u202e" * 3,
    "a long text": "long " * 100_000,
}
PLACES = [
    ("title",), ("units",), ("site", "power_price"), ("fish", "protein"), ("fish", "density"), ("water", "aerated_share"),
    ("vessels", "bed 1", "medium"), ("vessels", "bed 1", "kind"), ("vessels", "bed 1", "media_depth"), ("lines", "riser", "pump"),
]  # fmt: skip


def said(wrong) -> str:
    """A refusal that a person can read: a line, of at most a thousand letters, with nothing that steers a terminal."""
    text = str(wrong.value)
    assert text and len(text) <= 1000 and text.isprintable(), text[:200]
    return text


@pytest.mark.parametrize("value", ODD.values(), ids=ODD)
def test_an_odd_value_of_a_key_is_refused_by_its_name(value):
    for keys in PLACES:
        doc = tomllib.loads(load("courtyard").text)
        *outer, last = keys
        here = doc
        for key in outer:
            here = here[key]
        here[last] = value
        if keys == ("title",) and isinstance(value, str):
            continue  # any text is a title
        with pytest.raises(DesignError) as wrong:
            Build(tomlkit.dumps(doc))
        assert last in said(wrong)


def test_a_number_of_thousands_of_digits_is_refused():
    """More digits than Python turns into a number, 4,300."""
    with pytest.raises(DesignError, match="line 6: .*Invalid number") as wrong:
        Build(load("courtyard").text.replace('units = "metric"', f"units = {'9' * 5000}"))
    said(wrong)


def test_a_valve_that_is_all_but_shut_is_refused():
    text = load("courtyard").text
    assert "opening = 0.75" in text
    with pytest.raises(DesignError, match="all but shut"):
        Build(text.replace("opening = 0.75", "opening = 0.0001", 1))


@pytest.mark.parametrize(
    "name", ["x" * 300 + ".toml", "a\0b.toml", "", "loop.toml", "d/" * 3000 + "x.toml"], ids=["long", "null", "blank", "ring", "deep"]
)
def test_what_no_file_can_be_called_is_refused_in_a_line(name, tmp_path, here):
    os.symlink(tmp_path / "loop.toml", tmp_path / "loop.toml")
    for command in (
        ["review", name],
        ["compare", "courtyard", name],
        ["log", "courtyard", name],
        ["sheet", "courtyard", "-o", name],
        ["open", name],
    ):
        done = here(*command, cwd=tmp_path)
        assert done.returncode == 2 and done.stdout == ""
        assert done.stderr.count("\n") == 1 and len(done.stderr) < 300
    with pytest.raises(DesignError):
        load(name)


def test_a_cell_beyond_the_limit_is_not_taken_for_a_quotation_mark(tmp_path):
    file = tmp_path / "log.csv"
    file.write_text(f"date,pH,note\n2026-05-01,7,{'x' * (csv.field_size_limit() + 1)}\n", encoding="utf-8")
    with pytest.raises(DesignError, match="a cell has over 131,072 letters"):
        read(file)


def test_an_air_pump_file_with_a_cell_beyond_the_limit_is_refused(tmp_path):
    (tmp_path / "blower.csv").write_text(f"flow [L/min],pressure [kPa]\n0,{'x' * 140_000}\n", encoding="utf-8")
    (tmp_path / "mine.toml").write_text(
        load("courtyard").text.split("[air]")[0] + '[air]\npump_file = "blower.csv"\nstones = 4\n', encoding="utf-8"
    )
    with pytest.raises(DesignError, match="air pump file"):
        load(tmp_path / "mine.toml")


def test_an_old_workbook_that_cannot_be_read_is_not_taken_for_ours(tmp_path):
    book = tmp_path / "sheet.xlsx"
    with zipfile.ZipFile(book, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("docProps/core.xml", "<x/>" * 1000)
        made.writestr("xl/worksheets/sheet1.xml", "<y/>" * 1000)
    whole = book.read_bytes()
    locked = whole.replace(b"PK\x03\x04\x14\x00\x00\x00", b"PK\x03\x04\x14\x00\x01\x00").replace(
        b"PK\x01\x02\x14\x03\x14\x00\x00\x00", b"PK\x01\x02\x14\x03\x14\x00\x01\x00"
    )
    assert locked != whole
    damaged = bytearray(whole)
    damaged[45:60] = b"\xff" * 15
    for data in (locked, bytes(damaged), whole[: len(whole) // 2], b"", b"PK"):
        book.write_bytes(data)
        assert not saving.is_ours(book)
        with pytest.raises(DesignError, match="is there already"):
            saving.save(book, b"new")
        assert book.read_bytes() == data


def test_an_old_workbook_that_would_fill_the_memory_is_left_alone(tmp_path, monkeypatch):
    book = tmp_path / "sheet.xlsx"
    with zipfile.ZipFile(book, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("docProps/core.xml", saving.MARK)
        made.writestr("xl/worksheets/sheet1.xml", b"0" * 100_000)
    monkeypatch.setattr(saving, "_LARGEST", 50_000)
    monkeypatch.setattr(saving, "cells_fingerprint", lambda data: pytest.fail("it was unpacked"))
    assert book.stat().st_size < 50_000 and not saving.is_ours(book)


@pytest.mark.parametrize("place", [".", "./", "/", "..", "../"])
def test_tables_are_not_strewn_into_a_folder_that_is_not_their_own(place):
    with pytest.raises(DesignError, match="a folder of their own"):
        saving.target(place)


def test_a_title_with_an_equals_sign_stands_on_the_sheet():
    for title in ("Season one = trial", "onset = trial", "javascript: a joke"):
        drawn = web_page._Drawn()(
            SheetDrawing("a", f'<svg role="img" aria-label="{title}"><title>{title}</title><text x="1">{title}</text></svg>', "b")
        )
        assert drawn.count(title) == 3
    for bad in (
        '<svg onload="x">',
        "<svg><g\nonclick = 'x'/>",
        '<svg x="1"onload=x>',
        "<a href='javascript:x'>",
        '<svg x="a > b" onload=x>',
    ):
        with pytest.raises(ValueError, match="no place"):
            web_page._Drawn()(SheetDrawing("a", bad, "b"))


def test_a_quantity_of_many_letters_is_told_in_few():
    for value in ("9" * 1_000_000, 10**10_000, ["1 m"] * 100_000, b"1 m" * 100_000):
        with pytest.raises(DesignError) as wrong:
            quantity(value)
        assert len(said(wrong)) < 300


def started(*arguments, cwd, **more):
    return subprocess.Popen(
        [sys.executable, "-m", "aquaplumb", *arguments], cwd=cwd, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(HOUSE)}, preexec_fn=HEARING, **more,
    )  # fmt: skip


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such signal to send")
@pytest.mark.parametrize("wait", [0.0, 1.0])
def test_ctrl_c_says_one_word(wait, tmp_path):
    """While it loads, and while it works: exit code 130, as a shell has it for SIGINT (128 + 2)."""
    run = started("sheet", "courtyard", "-o", "sheet.html", cwd=tmp_path, stdout=subprocess.DEVNULL)
    maps = Path(f"/proc/{run.pid}/maps")
    while maps.exists() and run.poll() is None and "numpy" not in maps.read_text():  # else Python itself is still beginning
        time.sleep(0.02)
    time.sleep(wait if maps.exists() else wait + 0.4)
    run.send_signal(signal.SIGINT)
    _, told = run.communicate(timeout=60)
    assert told == "Stopped.\n"
    assert run.returncode in (130, -signal.SIGINT)  # ended by itself or, late in C code, by the signal: a shell says 130 of both
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a device that is always full")
def test_a_full_device_is_told_in_a_line(tmp_path):
    with open("/dev/full", "w") as full:
        run = started("review", "courtyard", cwd=tmp_path, stdout=full)
        _, told = run.communicate(timeout=120)
    assert run.returncode == 2 and told.count("\n") == 1 and "No space left" in told


def test_escape_codes_do_not_reach_the_terminal(tmp_path, here):
    text = load("courtyard").text.replace("Courtyard, one pump", r"Yard \u001b[2J\u202e one\u0007").replace("bed 1", r"bed \u009b31m1")
    (tmp_path / "mine.toml").write_text(text.replace('[vessels."bed', '[vessels."bed'), encoding="utf-8")
    for command in (["review", "mine.toml"], ["review", "mine.toml", "--json"], ["compare", "courtyard", "mine.toml"]):
        done = here(*command, cwd=tmp_path)
        assert "Yard" in done.stdout, done.stderr
        assert not set("\x1b\x07\x9b\u202e") & set(done.stdout + done.stderr)


def chromium(path, body):
    """A browser of the test's own: it does what `body` says with the file in "$out" and the folder in "$profile"."""
    found = 'for one; do case $one in --print-to-pdf=*) out=${one#*=};; --user-data-dir=*) profile=${one#*=};; esac; done\nmkdir -p "$profile"\n'
    path.write_text(f"#!/bin/sh\n{found}{body}\n", encoding="utf-8")
    path.chmod(0o755)
    return path


@pytest.fixture
def printing(monkeypatch, tmp_path):
    """Print a page of one line by a browser of the test's own; what is left behind stands in the folder ``left``."""
    (tmp_path / "left").mkdir()
    monkeypatch.setattr(pdf, "html", lambda sheet, paper: "<p>page</p>")
    monkeypatch.setattr(pdf.tempfile, "tempdir", str(tmp_path / "left"))

    def done(body):
        monkeypatch.setattr(pdf, "browser", lambda: str(chromium(tmp_path / "chromium", body)))
        return pdf.pdf(SimpleNamespace(units="metric"))

    return done


WHOLE = r"%%PDF-1.4\n1 0 obj\nendobj\ntrailer\n<<>>\nstartxref\n9\n%%%%EOF\n"


@pytest.mark.skipif(os.name == "nt", reason="the browser of this test is a shell script")
def test_only_a_whole_pdf_is_taken(printing, tmp_path):
    assert printing(f'printf "{WHOLE}" > "$out"').endswith(b"%%EOF\n")
    for part in (WHOLE.split("startxref")[0], WHOLE.split("%%%%EOF")[0], ""):
        with pytest.raises(DesignError, match=r"sheet\.html"):
            printing(f'printf "{part}" > "$out"')
    assert list((tmp_path / "left").iterdir()) == []


@pytest.mark.skipif(os.name == "nt", reason="the browser of this test is a shell script")
def test_what_a_killed_run_left_is_cleared_and_what_is_held_stays(printing, tmp_path):
    left = {name: tmp_path / "left" / f"aquaplumb-pdf-{name}" for name in ("killed", "held", "fresh")}
    for folder in left.values():
        (folder / "profile").mkdir(parents=True)
    for name in ("killed", "held"):
        os.utime(left[name], (0, 0))
    with FileLock(left["held"] / "held.lock"):
        os.utime(left["held"], (0, 0))
        printing(f'printf "{WHOLE}" > "$out"')
        assert not left["killed"].exists() and left["held"].exists() and left["fresh"].exists()


@pytest.mark.skipif(os.name == "nt", reason="the browser of this test is a shell script")
def test_the_browser_is_told_to_ask_nobody(printing, tmp_path):
    printing(f'printf "%s\\n" "$@" > "{tmp_path}/asked"; printf "{WHOLE}" > "$out"')
    asked = (tmp_path / "asked").read_text(encoding="utf-8").splitlines()
    assert "--host-resolver-rules=MAP * ~NOTFOUND" in asked and "--disable-component-update" in asked


@pytest.mark.parametrize(
    "demo, given, span",
    [("courtyard", "95 degC", "0 to 40 °C"), ("greenhouse", "203 degF", "32 to 104 °F"), ("courtyard", "203 degF", "32 to 104 °F")],
)
def test_a_refusal_from_deep_inside_names_the_line_and_speaks_the_files_unit(demo, given, span):
    """A sum that does not hold for a value of the file says where it stands, as it is written there."""
    text = re.sub(r'(?m)^warmest_water = "[^"]*"', f'warmest_water = "{given}"', load(demo).text)
    line = next(n for n, one in enumerate(text.split("\n"), 1) if one.startswith("warmest_water"))
    with pytest.raises(DesignError) as wrong:
        review(Build(text))
    told = said(wrong)
    assert f"line {line}: site › warmest_water" in told and given in told and span in told


def test_a_value_that_knows_its_place_is_a_number_like_any_other():
    heat = load("courtyard").site.si.warmest_water
    again = pickle.loads(pickle.dumps(heat))
    assert (again, again.said, again.place()) == (heat, heat.said, heat.place())
    assert type(heat + 1.0) is float and json.dumps(heat) == json.dumps(float(heat)) and f"{heat:g}" == f"{float(heat):g}"


# --- slips that the weekly corpus brought -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "demo, keys, value, said",
    [
        ("courtyard", "water.ammonia_limit", "0 mg/L", "water › ammonia_limit: 0 mg/L is below"),
        ("kitchen-garden", "water.removal", "0 %", "water › removal: 0 % is below"),
        ("kitchen-garden", "vessels.small tank.working_depth", "0 in", "small tank: working depth is 0"),
    ],
)
def test_a_nought_that_nothing_can_be_is_refused_where_it_stands(demo, keys, value, said):
    with pytest.raises(DesignError, match=said):
        load(demo).changed({keys: value})


def test_a_stretch_without_fittings_between_two_tees_is_a_pipe_like_any():
    build = load("terrace").changed({("lines", "tank drain", "pipe", 1, "fittings"): {"tee run": 0}})
    assert not [one for one in review(build).findings if one.severity == "stop"]


def test_water_that_never_gets_to_the_beds_asks_for_no_pump_without_end():
    build = load("terrace").changed({"vessels.fish tank.floor": "2.5 mm"})
    (line,) = solved(build).pumped.values()
    assert line.wanted < 1e-3
    assert "flow short of ammonia need" in str(review(build))


def test_a_section_that_stands_twice_with_others_between_is_refused_in_a_sentence():
    sections = (
        "[vessels.a]\nkind = 1",
        "[lines.b]\nkind = 1",
        "[vessels.c]\nkind = 1",
        "[lines.b.siphon]\nvent = 1",
        "[lines.b]\nkind = 2",
    )
    with pytest.raises(DesignError, match=r"^the build: this is not TOML \(.*twice"):
        Build("\n".join(sections))

"""Every table in data/: its headers, bases and bands, and that it loads into records."""

import csv
import importlib
import re
import subprocess
import sys
from pathlib import Path

import pytest

import aquaplumb
from aquaplumb import tables
from aquaplumb.plumbing import pumps
from aquaplumb.power import wire, wire_names
from aquaplumb.units import DesignError, pint_unit

DATA = tables.folder("data")
ALL = sorted(p for p in DATA.rglob("*.csv") if p.parent.name != "logs")  # a log is a person's own file: see test_readings.py
TABLES = sorted(DATA.glob("*.csv"))
POINTS = sorted((DATA / "pumps").glob("*.csv"))

# Records are registered by the trade modules that own them: load the ones that own a table.
_PACKAGE = Path(aquaplumb.__path__[0])
for _source in _PACKAGE.rglob("*.py"):
    if "@tables.table_type(" in _source.read_text(encoding="utf-8"):
        importlib.import_module(".".join(["aquaplumb", *_source.relative_to(_PACKAGE).with_suffix("").parts]))


def cells_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    return rows[0], rows[1:]


def named(path):
    return path.relative_to(DATA).as_posix()


def test_data_is_found_beside_the_package_or_in_it():
    assert (DATA / "pumps.csv").is_file() and len(TABLES) >= 5
    with pytest.raises(DesignError, match="install"):
        tables.folder("no-such-folder")


@pytest.mark.parametrize("path", ALL, ids=named)
def test_header_says_word_and_unit(path):
    header, rows = cells_of(path)
    assert len(set(header)) == len(header), "a column is there twice"
    assert rows
    for cell in header:
        found = re.fullmatch(r"([a-z][a-z0-9 -]*)(?: \[([^\]]+)\])?", cell)
        assert found, f"'{cell}' is not of the form: word [unit]"
        if found[2]:
            pint_unit(found[2])  # a unit that people's text may use
    for row in rows:
        assert len(row) == len(header), row
        assert all(cell == cell.strip() for cell in row), row


@pytest.mark.parametrize("path", ALL, ids=named)
def test_numbers_are_plain(path):
    header, rows = cells_of(path)
    for row in rows:
        for column, cell in zip(header, row):
            if column.endswith("]") and cell:
                assert re.fullmatch(r"-?\d+(\.\d+)?(e-?\d+)?", cell), f"{column} of {row[0]}: {cell}"


@pytest.mark.parametrize("path", TABLES, ids=named)
def test_rows_say_where_they_come_from(path):
    header, rows = cells_of(path)
    assert header[0] == "name" and header[-3:] == ["basis", "source", "note"]
    names = [row[0].casefold() for row in rows]
    assert len(set(names)) == len(names), "a name is there twice"
    for row in rows:
        name, (basis, source, _) = row[0], row[-3:]
        assert name, row
        assert basis in tables.BASES, f"{name}: basis '{basis}'"
        assert source or basis in ("common practice",), f"{name} has no source"


@pytest.mark.parametrize("path", TABLES, ids=named)
def test_bands_are_in_order(path):
    header, rows = cells_of(path)
    words = [re.sub(r" \[.*", "", cell) for cell in header]
    for row in rows:
        cells = dict(zip(words, row))
        for word in words:
            if word == "low" or word.endswith(" low"):
                stem = word[: -len("low")]
                band = [cells.get(stem + end, "") for end in ("low", "typical", "high")]
                numbers = [float(cell) for cell in band if cell]
                assert numbers == sorted(numbers), f"{row[0]}: {stem or path.stem} {band}"


@pytest.mark.parametrize("path", TABLES, ids=named)
def test_every_table_loads_into_its_records(path):
    header, rows = cells_of(path)
    records = tables.table(path.stem)
    assert list(records) == [row[0] for row in rows]
    for row, record in zip(rows, records.values()):
        assert (record.basis, record.source, record.note) == tuple(row[-3:])
        for column, cell in zip(header, row):  # a blank cell is unknown, never zero
            field = re.sub(r" \[.*", "", column).replace(" ", "_").replace("-", "_")
            if column.endswith("]"):
                assert (getattr(record.si, field) is None) == (cell == ""), (row[0], column)


def test_every_registered_record_has_its_table():
    assert {path.stem for path in TABLES} == set(tables._TYPES)


def test_pump_points_belong_to_a_pump_each():
    header, rows = cells_of(DATA / "pumps.csv")
    wanted = [dict(zip(header, row))["points"] for row in rows]
    assert sorted(wanted) == [path.stem for path in POINTS]
    assert all(row[-3] == "invented for the demo" for row in rows)


def test_the_data_readme_has_a_paragraph_for_each_file():
    text = (DATA / "README.md").read_text(encoding="utf-8")
    for path in TABLES:
        assert f"`{path.name}`" in text, f"data/README.md says nothing of {path.name}"


def test_a_look_at_a_table():
    frame = tables.frame("pumps")
    assert list(frame.columns) == cells_of(DATA / "pumps.csv")[0]


@pytest.mark.parametrize("path", ALL, ids=named)
def test_tables_are_plain_utf8_with_plain_line_ends(path):
    raw = path.read_bytes()
    raw.decode("utf-8")
    assert b"\r" not in raw and not raw.startswith(b"\xef\xbb\xbf") and raw.endswith(b"\n")


# --- the reader's door ------------------------------------------------------------------------------


def test_unknown_names_are_refused_with_the_near_ones():
    with pytest.raises(DesignError, match="there is no table 'fish'"):
        tables.table("fish")
    with pytest.raises(DesignError, match="did you mean demo mains 45 W submersible"):
        tables.row("pumps", "demo mains 45 W submersble")
    assert tables.row("pumps", "Demo Mains 45 w Submersible").name == "demo mains 45 W submersible"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name,voltage [V],basis,source,note\na,12,measured,,\n", None),
        ("name,voltage [V],basis,source,note\na,12,measured,\n", "line 2: 4 cells where the header has 5"),
        ("name,voltage [V],basis,source,note\na,12 A,measured,,\n", "line 2: voltage"),
        ("name,colour,basis,source,note\na,red,measured,,\n", "the column 'colour'"),
    ],
)
def test_the_reader_names_the_line(tmp_path, monkeypatch, text, words):
    (tmp_path / "trial.csv").write_text(text, encoding="utf-8")
    monkeypatch.setattr(tables, "folder", lambda name: tmp_path)
    monkeypatch.setitem(tables._TYPES, "trial", tables._TYPES["pumps"])
    tables._read.cache_clear()
    try:
        if words is None:
            assert tables.table("trial")["a"].si.voltage == 12
        else:
            with pytest.raises(DesignError, match=words):
                tables.table("trial")
    finally:
        tables._read.cache_clear()


def test_what_there_is_can_be_asked_for(tmp_path):
    code = "from aquaplumb import tables; print(len(tables.names('pumps')), *tables.names())"
    done = subprocess.run([sys.executable, "-c", code], cwd=DATA.parent, capture_output=True, encoding="utf-8", check=True)
    count, *names = done.stdout.split()
    assert int(count) == len(cells_of(DATA / "pumps.csv")[1]), "a table is there before anything else is imported"
    assert names == sorted(path.stem for path in TABLES)
    assert pumps.names() == tables.names("pumps") and wire_names() == sorted(tables.names("wires"), key=lambda n: wire(n).si.area)
    assert {found: tables.table(found) for found in names}.keys() == tables._TYPES.keys()
    with pytest.raises(DesignError, match="there is no table 'pump'; there are airpumps"):
        tables.names("pump")


def test_a_rows_name_serves_where_the_row_is_meant():
    for name in tables.names():
        assert tables._TYPES[name].named(tables.names(name)[0]).name == tables.names(name)[0]

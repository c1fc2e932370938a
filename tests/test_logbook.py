"""A log kept from a page: a file begun and added to, with all that was in it kept."""

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from aquaplumb.build import load, my_build
from aquaplumb.review import readings
from aquaplumb.review.readings.cells import COLUMNS
from aquaplumb.review.readings.logbook import Logbook, add, begin
from aquaplumb.units import SYSTEMS, DesignError

NOW = datetime(2026, 5, 10, 9, 30)
OLD = "# mine\ndate,pH,ammonia [mg/L as N],note\n2026-05-01,7.1,0.2,first\n\n# a word between\n2026-05-03,7.2,,\n"


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "my-log.csv"
    path.write_text(OLD, encoding="utf-8")
    return path


# --- a log begun ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("units", SYSTEMS)
def test_a_log_is_begun_beside_the_build_and_the_build_names_it(tmp_path, units):
    path = tmp_path / "yard" / "my-build.toml"
    path.parent.mkdir()
    path.write_text(load("courtyard").changed({"units": units}).text, encoding="utf-8")
    build, said = begin(load(path), {"nitrite": "NO2", "alkalinity": "dKH"})
    assert said == "my-log.csv is begun; my-build.toml names it as your log."
    assert load(path).upkeep.si.log == "my-log.csv" == build.upkeep.si.log
    book = Logbook(path.parent / "my-log.csv")
    assert book.log is None and book.fields["nitrite"] == "nitrite [mg/L as NO2]" and book.fields["alkalinity"] == "alkalinity [dKH]"
    assert book.fields["temperature"] == ("temperature [degF]" if units == "US" else "temperature [degC]")
    assert set(book.fields) == {"date", *COLUMNS, "note"}
    add(book.path, {"date": "2026-05-09", "nitrite": "0.5", "alkalinity": "5"}, now=NOW)
    kept = readings.own_log(load(path))
    assert kept.si["nitrite"][0] == pytest.approx(0.5e-3 * 14.007 / 46.006, rel=1e-3)  # molar masses, IUPAC
    assert kept.si["alkalinity"][0] == pytest.approx(5 * 17.85e-3, rel=1e-3)  # a German degree: 10 mg/L of CaO (DIN)


def test_a_first_log_makes_the_build_file_a_demo_becomes(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    build, _ = begin(my_build())
    assert Path("my-build.toml").exists() and my_build().upkeep.si.log == "my-log.csv" and build.title == load("courtyard").title


def test_a_log_that_is_there_is_never_written_over(log):
    home = log.parent / "my-build.toml"
    home.write_text(load("courtyard").text, encoding="utf-8")
    build, said = begin(load(home))
    assert "was there already and is left as it is" in said and log.read_text(encoding="utf-8") == OLD
    assert len(readings.own_log(build)) == 2
    again, _ = begin(build)
    assert again.text == build.text
    log.write_text("a shopping list\n", encoding="utf-8")
    home.write_text(load("courtyard").text, encoding="utf-8")
    with pytest.raises(DesignError, match="no column 'date'"):
        begin(load(home))
    assert log.read_text(encoding="utf-8") == "a shopping list\n" and load(home).upkeep.si.log == ""


def test_a_log_that_the_build_names_and_that_is_lost_is_begun_by_its_name(tmp_path):
    home = tmp_path / "my-build.toml"
    home.write_text(load("courtyard").changed({("upkeep", "log"): "lost.csv"}).text, encoding="utf-8")
    begin(load(home))
    assert Logbook(tmp_path / "lost.csv").log is None and not (tmp_path / "my-log.csv").exists()


def test_forms_that_nobody_knows_are_refused():
    with pytest.raises(DesignError, match="NO3"):
        readings.blank_log(forms={"nitrite": "NO3"})
    with pytest.raises(DesignError, match="oxygen"):
        readings.blank_log(forms={"oxygen": "%"})


# --- a day added -----------------------------------------------------------------------------------------------


def test_a_day_is_put_at_the_end_and_not_a_letter_is_lost(log):
    said = add(log, {"date": "2026-05-10", "pH": "6.9", "ammonia": " 0.5 ", "note": 'fed, "little"'}, now=NOW)
    assert said == 'Added to my-log.csv: 2026-05-10, pH 6.9, ammonia 0.5, note fed, "little".'
    assert log.read_text(encoding="utf-8") == OLD + '2026-05-10,6.9,0.5,"fed, ""little"""\n'
    assert Logbook(log).log.latest("ammonia")[1] == pytest.approx(0.5e-3)


WAYS = {  # how a file may be written, and how its end must be
    "no last line end": (OLD.rstrip("\n").encode(), OLD.encode() + b"2026-05-10,6.9,,\n"),
    "Windows": (OLD.replace("\n", "\r\n").encode(), OLD.replace("\n", "\r\n").encode() + b"2026-05-10,6.9,,\r\n"),
    "old Mac": (OLD.replace("\n", "\r").encode(), OLD.replace("\n", "\r").encode() + b"2026-05-10,6.9,,\r"),
    "BOM": (b"\xef\xbb\xbf" + OLD.encode(), b"\xef\xbb\xbf" + OLD.encode() + b"2026-05-10,6.9,,\n"),
    "Latin-1": (OLD.replace("mine", "Fütterung").encode("latin-1"), OLD.replace("mine", "Fütterung").encode("latin-1") + b"2026-05-10,6.9,,\n"),
    "UTF-16": (OLD.encode("utf-16"), (OLD + "2026-05-10,6.9,,\n").encode("utf-16")),
    "UTF-16 without mark": (OLD.encode("utf-16-be"), (OLD + "2026-05-10,6.9,,\n").encode("utf-16-be")),
    "semicolons": (OLD.replace(",", ";").encode(), OLD.replace(",", ";").encode() + b"2026-05-10;6.9;;\n"),
    "decimal commas": (b"date;pH;note\n2026-05-01;7,1;\n", b"date;pH;note\n2026-05-01;7,1;\n2026-05-10;6,9;\n"),
    "other columns": (b"note,weather,pH,date\n,sun,7,2026-05-01\n", b"note,weather,pH,date\n,sun,7,2026-05-01\n,,6.9,2026-05-10\n"),
    "a header alone": (b"date,pH\n", b"date,pH\n2026-05-10,6.9\n"),
}  # fmt: skip


@pytest.mark.parametrize("before, after", WAYS.values(), ids=WAYS)
def test_the_files_own_way_of_writing_is_kept(log, before, after):
    log.write_bytes(before)
    add(log, {"date": "2026-05-10", "pH": "6.9", "note": ""}, now=NOW)
    assert log.read_bytes() == after
    assert Logbook(log).log.latest("pH")[1] == 6.9


def test_what_was_written_by_hand_meanwhile_stays(log):
    book = Logbook(log)
    with log.open("a", encoding="utf-8") as file:
        file.write("2026-05-05,7.4,0.3,by hand\n")
    add(book.path, {"date": "2026-05-10", "pH": "6.9"}, now=NOW)
    assert "by hand" in log.read_text(encoding="utf-8") and len(Logbook(log).log) == 4
    log.write_text(OLD.replace("pH,", "temperature [degC],"), encoding="utf-8")
    with pytest.raises(DesignError, match="no column 'pH' any more"):
        add(book.path, {"date": "2026-05-10", "pH": "6.9"}, now=NOW)


@pytest.mark.parametrize("text, read_as", [("7,2", 7.2), ("7.25", 7.25), ("7", 7.0)])
def test_a_decimal_comma_that_is_typed_is_one(log, text, read_as):
    add(log, {"date": "2026-05-10", "pH": text}, now=NOW)
    assert Logbook(log).log.latest("pH")[1] == read_as


REFUSED = [
    ({"date": "2026-05-10"}, "nothing to add yet"), ({"date": "2026-05-10", "pH": "74"}, "pH: '74' cannot be"), ({"date": "", "pH": "7"}, "date: '' has no date"),
    ({"date": "2026-05-10", "pH": "x", "ammonia": "900"}, "pH: 'x' is not a number.*ammonia: '900' cannot be"), ({"date": "2026-05-11", "pH": "7"}, "still to come"),
    ({"date": "2026-05-03", "pH": "7.3"}, "in the log already, in row 6; write a time too, as in 2026-05-03 18:00"), ({"date": "2026-05-03", "pH": "7.2"}, "word for word"),
    ({"date": "2020-05-10", "pH": "7"}, "more than a year"), ({"date": "10 May", "pH": "7"}, "not a date"), ({"date": "2026-05-10", "oxygen": "7"}, "no column 'oxygen'"),
    ({"date": "2026-05-10", "ammonia": "1,200"}, "may mean 1200 or 1.2"),
]  # fmt: skip


@pytest.mark.parametrize("cells, words", REFUSED, ids=[str(c) for c, _ in REFUSED])
def test_what_cannot_be_is_refused_in_a_sentence_and_nothing_is_saved(log, cells, words):
    with pytest.raises(DesignError, match=words):
        add(log, cells, now=NOW)
    assert log.read_text(encoding="utf-8") == OLD


def test_no_day_changes_how_the_others_are_read(log):
    """5/1 and 5/2 lie close together as months first; 13/5 can only be day first, and would turn January into May."""
    log.write_text("date,pH\n5/1/26,7\n5/2/26,7.1\n", encoding="utf-8")
    with pytest.raises(DesignError, match="would be read otherwise"):
        add(log, {"date": "13/1/26", "pH": "7"}, now=NOW)
    add(log, {"date": "2026-05-10", "pH": "7"}, now=NOW)
    assert [str(d)[:10] for d in Logbook(log).log.dates] == ["2026-05-01", "2026-05-02", "2026-05-10"]


def test_a_letter_that_the_file_has_not_is_refused(log):
    log.write_bytes(OLD.replace("mine", "Fütterung").encode("latin-1"))
    with pytest.raises(DesignError, match="no letter of my-log.csv"):
        add(log, {"date": "2026-05-10", "pH": "7", "note": "水"}, now=NOW)


def test_a_file_that_broke_is_refused_as_it_is(log):
    log.write_text(OLD + '2026-05-04,"7\n', encoding="utf-8")
    with pytest.raises(DesignError, match="quotation mark"):
        add(log, {"date": "2026-05-10", "pH": "7"}, now=NOW)
    log.unlink()
    with pytest.raises(DesignError, match="there is no log"):
        add(log, {"date": "2026-05-10", "pH": "7"}, now=NOW)


def test_two_readings_of_a_day_with_their_times(log):
    add(log, {"date": "2026-05-10 08:00", "pH": "7.0"}, now=NOW)
    add(log, {"date": "2026-05-10 18:00", "ammonia": "1.9"}, now=NOW)
    kept = Logbook(log).log
    assert len(kept) == 4 and np.isnan(kept.si["pH"][-1])

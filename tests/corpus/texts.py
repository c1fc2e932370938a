"""Files and texts that are read: build files, points of pumps, prices, logs, and quantities as people type them."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from pathlib import Path

from aquaplumb import readings
from aquaplumb.air.air_pump_file import air_pump_of
from aquaplumb.build import load
from aquaplumb.plumbing import pumps
from aquaplumb.units import quantity
from aquaplumb.workshop.parts import own_prices
from corpus import RIGHT, SENTENCE, Case

YARD = load("courtyard").text
REFUSED, TAKEN, EITHER = (SENTENCE,), (RIGHT,), (RIGHT, SENTENCE)

# What any file can hold that is no table and no build.
_ODD = {
    "nothing": b"", "blanks": b" \n\t\n ", "a mark alone": b"\xef\xbb\xbf", "nulls": b"\0" * 2000, "UTF-16": "title = 1".encode("utf-16"),
    "Latin": b"title = \"K\xe4ltest\"\n", "a PDF": b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n1 0 obj\n", "a zip": b"PK\x03\x04\x14\0\0\0\x08\0",
    "an old spreadsheet": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 500, "a picture": b"\x89PNG\r\n\x1a\n" + b"\0\x01" * 200,
    "JSON": b'{"a": [1, 2], "b": {"c": null}}', "a page": b"<!DOCTYPE html><html><body><p>404</p></body></html>",
    "a program": b"#!/bin/sh\nrm -rf /\n", "all bytes": bytes(range(256)) * 8, "one long line": b"x" * 200_000, "only commas": b",,,,,\n" * 500,
    "only quotes": b'"' * 5001, "escape codes": b"\x1b[2J\x1b]0;x\x07\n", "turned text": "\u202eabc = 1\n".encode(), "a sum": b"=1+2\n=HYPERLINK(1)\n",
    "a bad mark": b"\xff\xfe\xff", "a cut letter": "title = \"ä".encode()[:-1], "merge marks": b"<<<<<<< mine\ntitle = 1\n=======\n>>>>>>> yours\n",
    "YAML": b"title: yard\nsite:\n  warmest: 30\n", "ini": b"; yard\n[site]\nwarmest_water: 30\n",
}  # fmt: skip


def _written(read, data: bytes, name: str, folder: Path):
    (folder / name).write_bytes(data)
    return read(folder / name)


def files() -> Iterable[Case]:
    """As a build file: each is refused in a sentence, and the good ones with other line ends are read."""
    whole = YARD.encode()
    for name, data in _ODD.items():
        yield Case("files", name, partial(_written, load, data, "mine.toml"), REFUSED)
    good = {"Windows": whole.replace(b"\n", b"\r\n"), "with a mark": b"\xef\xbb\xbf" + whole, "no last line end": whole.rstrip(), "tabs": whole.replace(b" = ", b"\t=\t")}  # fmt: skip
    for name, data in good.items():
        yield Case("files", name, partial(_written, load, data, "mine.toml"), TAKEN)
    for name, data in {"cut off": whole[: len(whole) // 2], "twice": whole * 2, "old Macintosh": whole.replace(b"\n", b"\r"), "a null in it": whole.replace(b"bed 1", b"bed\0", 1)}.items():  # fmt: skip
        yield Case("files", name, partial(_written, load, data, "mine.toml"), REFUSED)
    for place in range(0, len(YARD), 97):
        yield Case("files", f"cut at {place}", partial(_written, load, whole[:place], "mine.toml"), EITHER)
        yield Case("files", f"a letter less at {place}", partial(_written, load, whole[:place] + whole[place + 1 :], "mine.toml"), EITHER)


_POINTS = "flow [L/h],head [m],power [W]\n0,2.8,45\n600,2.2,44\n1200,1.4,42\n1800,0.2,40\n"
_TABLES = {
    "good": (_POINTS, TAKEN), "no power": (_POINTS.replace(",power [W]", "").replace(",45", "").replace(",44", "").replace(",42", "").replace(",40", ""), TAKEN),
    "no unit": (_POINTS.replace(" [L/h]", ""), REFUSED), "strange unit": (_POINTS.replace("L/h", "parsec"), REFUSED), "no header": (_POINTS.split("\n", 1)[1], REFUSED),
    "head rises": (_POINTS.replace("1.4", "5.4"), REFUSED), "flow falls": (_POINTS.replace("1200", "100"), REFUSED), "below zero": (_POINTS.replace("600", "-600"), REFUSED),
    "one point": (_POINTS.split("600")[0], REFUSED), "header alone": (_POINTS.split("\n")[0], REFUSED), "words": (_POINTS.replace("2.2", "much"), REFUSED),
    "a comma": (_POINTS.replace("2.2", '"2,2"'), REFUSED), "semicolons": (_POINTS.replace(",", ";"), REFUSED), "nan": (_POINTS.replace("2.2", "nan"), REFUSED),
    "no end": (_POINTS.replace("2.2", "inf"), REFUSED), "1e400": (_POINTS.replace("2.2", "1e400"), REFUSED), "a sum": (_POINTS.replace("2.2", "9**9**9"), REFUSED),
    "a cell more": (_POINTS.replace("44", "44,1"), REFUSED), "a blank cell": (_POINTS.replace("2.2", ""), REFUSED), "twice": (_POINTS + _POINTS, REFUSED),
    "2,000 points": ("flow [L/h],head [m]\n" + "".join(f"{n},{2 - n / 1e4}\n" for n in range(2_000)), (RIGHT, SENTENCE)),
    "an open quote": (_POINTS.replace("600", '"600'), REFUSED), "column twice": (_POINTS.replace("power [W]", "head [m]"), REFUSED),
    "Windows": (_POINTS.replace("\n", "\r\n"), TAKEN), "blank lines": (_POINTS.replace("\n", "\n\n"), TAKEN), "escape codes": (_POINTS.replace("2.2", "\x1b[31m"), REFUSED),
}  # fmt: skip


def pump_points() -> Iterable[Case]:
    """As the points of a pump, and as rows of an air pump."""
    for name, (text, ends) in _TABLES.items():
        yield Case("pump points", name, partial(_written, pumps.from_csv, text.encode(), "mine.csv"), ends)
        air = text.replace("flow [L/h]", "flow [L/min]").replace("head [m]", "pressure [kPa]")
        yield Case("pump points", f"air: {name}", partial(_written, air_pump_of, air.encode(), "mine.csv"), EITHER)
    for name, data in _ODD.items():
        yield Case("pump points", f"file: {name}", partial(_written, pumps.from_csv, data, "mine.csv"), REFUSED)
        yield Case("pump points", f"air, file: {name}", partial(_written, air_pump_of, data, "mine.csv"), REFUSED)


def _priced(path: Path):
    return own_prices.prices(path)


def prices() -> Iterable[Case]:
    """As a price list."""
    rows = {
        "below zero": "-3", "words": "dear", "a sum": "=1+1", "nan": "nan", "no end": "inf", "1e400": "1e400", "a comma": '"3,5"', "money": "€ 3",
        "400 digits": "9" * 400, "blank": "", "good": "3.5",
    }  # fmt: skip
    for name, price in rows.items():
        text = f"{','.join(own_prices.COLUMNS)}\nball valve,1 in,{price}\n"
        yield Case("prices", name, partial(_written, _priced, text.encode(), "prices.csv"), EITHER)
    for name, data in _ODD.items():
        yield Case("prices", f"file: {name}", partial(_written, _priced, data, "prices.csv"), EITHER)


def logs() -> Iterable[Case]:
    """As a log."""
    cells = {
        "good": "7.1", "words": "fine", "below zero": "-7", "400 digits": "9" * 400, "nan": "nan", "a sum": "=7+1", "a comma": '"7,1"', "unit": "7 mg/L", "1e400": "1e400",
        "an open quote": '"7', "escape codes": "\x1b[2J", "null": "\0", "under": "<7", "a range": "6-7", "50,000 letters": "7" * 50_000,
    }  # fmt: skip
    for name, cell in cells.items():
        yield Case(
            "logs",
            name,
            partial(_written, readings.read, f"date,pH,note\n2026-05-01,{cell},a\n2026-05-02,7,b\n".encode(), "log.csv"),
            EITHER,
        )
    dates = {
        "none": "", "no day": "2026-02-30", "year 0": "0000-01-01", "year 99999": "99999-01-01", "words": "Tuesday", "American": "13/25/2026", "a number": "46000",
        "a time": "2026-05-01T25:00",
    }  # fmt: skip
    for name, date in dates.items():
        yield Case("logs", f"date: {name}", partial(_written, readings.read, f"date,pH\n{date},7\n".encode(), "log.csv"), EITHER)
    for name, data in _ODD.items():
        yield Case("logs", f"file: {name}", partial(_written, readings.read, data, "log.csv"), EITHER)


_TYPED = {
    "3 m": TAKEN, "1 1/2 in": TAKEN, "5 ft 6 in": TAKEN, "½ in": TAKEN, "-4 °C": TAKEN, "1e3 L": TAKEN, "20 kg/m³": TAKEN, "900l/h": TAKEN, "  3   m ": TAKEN, ".5 m": TAKEN,
    "3": REFUSED, "m": REFUSED, "": REFUSED, "3 4 m": REFUSED, "1,5 m": REFUSED, "1.500,5 m": REFUSED, "3 parsecs": REFUSED, "3 m 4": REFUSED, "9**9**9 m": REFUSED,
    "__import__('os')": REFUSED, "3 m; rm": REFUSED, "1/0 m": REFUSED, "1e999 m": REFUSED, "1e99 m": EITHER, "nan m": REFUSED, "inf m": REFUSED, "3 m/": REFUSED, "3 /": REFUSED,
    "3 m^9": REFUSED, "3 m**99": REFUSED, "0x10 m": REFUSED, "1_000 L": REFUSED, "٣ m": EITHER, "３ m": EITHER, "3\0m": REFUSED, "3\nm": TAKEN, "\x1b[2J3 m": REFUSED,
    "3 \u202em": REFUSED, "9" * 400 + " m": REFUSED, "3 " + "m" * 400: REFUSED, "3 m" + " " * 400: REFUSED, "+-3 m": REFUSED, "--3 m": REFUSED, "3 m 4 ft": REFUSED,
    "5 ft 13 in": REFUSED, "5.5 ft 6 in": REFUSED, "three m": REFUSED, "~3 m": REFUSED, "3..5 m": REFUSED, "3 %": TAKEN, "3 gallons per hour": REFUSED, "3 ppm": REFUSED,
}  # fmt: skip


def parser() -> Iterable[Case]:
    """As a quantity that is typed."""
    for text, ends in _TYPED.items():
        yield Case("parser", ascii(text)[:40], partial(lambda text, _: quantity(text), text), ends)
    for odd in (None, True, 3, 3.0, b"3 m", ["3 m"], {"a": 1}, object(), 10**400, float("nan"), 1j):
        yield Case("parser", type(odd).__name__, partial(lambda odd, _: quantity(odd), odd), REFUSED)


GROUPS = {"files": (files, 90), "pump points": (pump_points, 60), "prices": (prices, 25), "logs": (logs, 40), "parser": (parser, 70)}

"""The sums that the pages work by hand and against print, in both unit systems."""

import contextlib
import io
import re

import nbformat
import pytest

from aquaplumb import load, tables
from aquaplumb.questions import build_sheet, drain_siphon, levels_time, night_air, start_up, supply
from aquaplumb.teaching import sums

# By hand, from the US words in data/sums.md; conversions by NIST SP 811, page 06 and 11 by the tables of pipe and wire.
IN_US = {
    "00": ["143 psf", "8.34 lb/gal, 40 psf: 7 11/16 in"],  # 40 / 62.4 ft is 7.69 in
    "01": ["31.8 lb, 6.11 oz/d, 0.18 oz/d", "8,820 lb, 132.3 lb/d, 4.868 lb/d"],
    "02": ["plants 41.6 ft² · film 117 ft²", "least 9.57 gal · by the rule 45.8 gal · in the beds 311 gal", "here 0.02 to 0.10 g/ft²/d"],
    "03": ["220 gal/h, after a meal 308 gal/h"],
    "04": ["bore 1.03 in, speed 3.21 ft/s"],
    "05": ["3.5 in", "420 ft"],
    "06": ["sure to start from 279 gal/h", "67 gal/min, 23 gal/min"],
    "07": ["225 gal/h; the bucket fills in 32 s", "6.38 5.75 5.56"],
    "08": ["head 6.3 ft, power in the water 12.5 W, 17 %", "194.3 gal/min at 29.7 ft"],
    "10": ["40 min"],
    "11": ["0.48 V, 228 Ah", "3.14 Ω, 14.08 %"],
    "12": ["17.1 mg/L a day", "0.94 g"],
    "13": ["8 lengths; 4 if", "1 qt, 15 min, 24 h", "5 ft, 3 ft"],
}


def test_each_page_has_both_sums_in_both_systems():
    pages = {path.name[:2] for path in tables.folder("notebooks").glob("[0-9][0-9]-*.ipynb")}
    assert set(sums.texts()) == {(page, which, units) for page in pages for which in (sums.HAND, sums.PRINT) for units in ("metric", "US")}


@pytest.mark.parametrize("place", sums.texts(), ids=" ".join)
def test_a_sum_speaks_one_system(place):
    text = sums.texts()[place]
    assert not re.findall(r"\d (?:gal|lb|oz|psi)\b" if place[2] == "metric" else r"\d (?:L|mm|cm|m|kg)\b(?!/L)", text)
    shown = sums._sum(*place)._repr_html_()
    assert "*" not in shown and shown.count("<b>") == shown.count("</b>")


@pytest.mark.parametrize("page", IN_US)
def test_the_library_comes_to_the_us_sums(page):
    """The cells of the page that show a sum, run for a build in US units."""
    [path] = tables.folder("notebooks").glob(f"{page}-*.ipynb")
    cells = [cell.source for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "code"]
    names = {"display": lambda *_: None}
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        exec("\n".join(line for line in cells[0].splitlines() if line.startswith(("from", "import"))), names)
        names["build"] = load("greenhouse")
        for cell in cells[1:]:
            if "sums." in cell:
                exec(cell, names)
    assert not [text for text in IN_US[page] if text not in said.getvalue()], said.getvalue()


@pytest.mark.parametrize(
    "module", [drain_siphon, levels_time, night_air, supply, start_up, build_sheet], ids=lambda m: m.__name__.rpartition(".")[2]
)
def test_a_us_learner_is_asked_in_us_units(module):
    """No litres, metres or °C in what a US build is asked; a metric one gets no gallons. Grams of oxygen and salt are grams everywhere."""
    for units, foreign in (("US", r"\d (?:L|mm|cm|m|kg|m²|kPa)\b(?:/\w+)?|\d °C"), ("metric", r"\d (?:gal|ft|oz|lb|psi)\b|\d °F")):
        for question in module.quiz(units=units).questions:
            said = [
                question.prompt,
                question._filled(question._hint),
                question._filled(question._worked),
                *getattr(question, "options", []),
            ]
            assert not [found for text in said for found in re.findall(foreign, text) if not found.endswith("mg/L")], question.prompt
            if hasattr(question, "answer") and not isinstance(question.answer, str):
                assert question.verdict(question.answer).state == "right"

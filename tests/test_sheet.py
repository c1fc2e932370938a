"""The build sheet: what stands on it against the build file itself, geometry and the review; hostile words; files; the command.

The build files are read here with `tomllib`, not with the library, so that nothing can be left off both.
"""

import csv
import dataclasses
import datetime
import html.parser
import io
import itertools
import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import openpyxl
import pytest

import aquaplumb
from aquaplumb.__main__ import main
from aquaplumb.build import Build, load
from aquaplumb.build.sawn import sawn
from aquaplumb.review import review
from aquaplumb.tables import folder
from aquaplumb.units import DesignError
from aquaplumb.workshop import sheet as sheets
from aquaplumb.workshop.parts import parts_list
from aquaplumb.workshop.sheet import pdf, saving, web_page, workbook
from aquaplumb.workshop.sheet.drawing import _pictures
from aquaplumb.workshop.sheet.records import OPEN, SHUT, Grid, GridColumn, Names, SheetDrawing, Words, bare

HOUSE = Path(aquaplumb.__file__).parents[1]
DEMOS = ("courtyard", "greenhouse")
FAULTY = ("flat-drain", "sump-with-nothing-to-spare", "valve-nearly-shut", "timer-too-short")
DESIGNS = 60


@pytest.fixture(scope="module")
def made():
    """``made(name)``: the sheet of a demo, made once."""
    kept = {}

    def of(name):
        if name not in kept:
            kept[name] = sheets.sheet(load(name), designs=DESIGNS)
        return kept[name]

    return of


@pytest.fixture(scope="module", autouse=True)
def _a_command_draws_as_few_designs():
    sure = sheets._sure
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sheets, "_sure", lambda build, designs, seed: sure(build, min(designs, DESIGNS), seed))
        yield


def raw(name):
    return tomllib.loads((folder("data") / "builds" / f"{name}.toml").read_text(encoding="utf-8"))


def said(sheet):
    """All the words of a sheet, as text."""
    return bare("\n".join(_texts(sheet.chapters)))


def _texts(thing):
    if isinstance(thing, str):
        yield thing
    elif isinstance(thing, tuple):
        for one in thing:
            yield from _texts(one)
    elif isinstance(thing, SheetDrawing):
        yield from (thing.title, thing.alt)
    elif hasattr(thing, "__dataclass_fields__"):
        for name in thing.__dataclass_fields__:
            yield from _texts(getattr(thing, name))


def column(grid, name):
    """A column's cells by the header's beginning."""
    place = next(i for i, c in enumerate(grid.columns) if c.header.startswith(name))
    return [row[place] for row in grid.rows]


# --- what stands on it ---------------------------------------------------------------------------------------


def test_the_chapters_stand_in_the_order_in_which_they_are_needed(made):
    keys = [c.key for c in made("courtyard").chapters]
    assert keys == [
        "wall", "decisions", "cautions", "order", "drawing", "plan", "parts", "cuts", "holes", "heights", "valves", "drills", "upkeep",
        "sure", "sources",
    ]  # fmt: skip


def test_what_lies_on_its_side_is_the_drawing_and_no_more(made):
    page = web_page.html(made("courtyard"))
    assert re.findall(r'<section class="(\w+) lying"', page) == ["drawing"] and page.count('<figure class="upright">') == 2


@pytest.mark.sweep(4)
@pytest.mark.parametrize("name", [*DEMOS, *FAULTY])
def test_every_finding_of_the_review_is_on_it_with_its_cure(made, name):
    sheet, seen = made(name), review(load(name))
    rows = sheet.grid("findings").rows
    assert [(r[0], bare(r[2]), bare(r[3])) for r in rows] == [(f.severity, f.sentence, f.cure) for f in seen.findings]
    assert sheet.sound == (not any(f.severity in ("stop", "fix") for f in seen.findings))
    page = re.sub(r"\s+", " ", _text_of(web_page.html(sheet)))
    for f in seen.findings:
        assert f.sentence in page and f.cure in page


@pytest.mark.parametrize("name", DEMOS)
def test_every_pipe_size_of_the_file_is_in_drawing_parts_and_cuts(made, name):
    file, sheet = raw(name), made(name)
    lines = file["lines"].values()
    stretches = [p for line in lines for p in (*line.get("suction", []), *line.get("pipe", []))] + [
        line for line in lines if "size" in line
    ]
    assert len(sheet.grid("pipes").rows) == len(stretches)
    standard = file["pipe"]["standard"]
    wanted = {(s["size"], s.get("standard", standard)) for s in stretches}
    assert {(r[2], r[3]) for r in sheet.grid("pipes").rows} == wanted
    for size, kind in wanted:
        assert any(row[0] == "Pipe" and row[2] == f"{size} {kind}" for row in sheet.grid("parts").rows)
        assert any(row[0].startswith(f"{size} {kind}:") for row in sheet.grid("cuts").rows)


@pytest.mark.parametrize("name", DEMOS)
def test_the_cut_list_has_every_piece_and_a_bag_for_every_stretch(made, name):
    grid, packs = made(name).grid("cuts"), made(name).grid("packs")
    pieces = {p.label: p.length / (0.0254 if name == "greenhouse" else 0.001) for run in sawn(load(name)) for p in run.pieces}
    cut = dict(zip(column(grid, "piece"), column(grid, "cut [")))
    assert cut == pytest.approx(pieces, abs=0.001)
    lines = raw(name)["lines"].values()
    assert len(packs.rows) == sum(len(line.get("pipe") or [line]) for line in lines)
    said = " ".join(row[1] for row in packs.rows)
    assert all(f"{label}: " in said for label in pieces)


@pytest.mark.parametrize(("name", "volume", "hour"), [("courtyard", 10, "L/h"), ("greenhouse", 2, "gal/h")])
def test_every_branch_has_its_seconds_in_the_bucket(made, name, volume, hour):
    """Seconds = bucket / flow, the flow being that of the review."""
    grid, seen = made(name).grid("bucket"), review(load(name))
    branches = {(n, p["name"]): p["to"] for n, line in raw(name)["lines"].items() for p in line.get("pipe", []) if "to" in p}
    assert {(r[0], r[1]): r[2] for r in grid.rows} == branches
    for line, branch, _, flow, seconds, least, most, aim in grid.rows:
        result = seen[f"line {line} › {branch}.flow"].quantity.m_as("L/h" if hour == "L/h" else "gallon/hour")
        assert flow == pytest.approx(result)
        assert seconds == pytest.approx(volume / result * 3600)
        assert least <= seconds <= most
        assert 0.5 * seconds < aim < 2 * seconds
    assert f"flow expected [{hour}]" in [c.header for c in grid.columns]


def test_two_branches_with_equal_shares_have_the_same_seconds_to_aim_at(made):
    aims = dict(zip(column(made("courtyard").grid("bucket"), "branch"), column(made("courtyard").grid("bucket"), "aim")))
    assert aims["to bed 1"] == pytest.approx(aims["to bed 2"])
    assert aims["to the tank"] / aims["to bed 1"] == pytest.approx(0.235 / 0.53, rel=1e-3)  # shares of the file


def test_a_ball_valves_opening_is_told_in_degrees_of_its_quarter_turn(made):
    for row in made("greenhouse").grid("valves").rows:
        if row[6] != "wide open":
            assert float(row[6].split("°")[0]) == pytest.approx(0.9 * row[5], abs=0.51)
    assert {(r[0], r[2]) for r in made("greenhouse").grid("valves").rows} == {
        (n, p["name"]) for n, line in raw("greenhouse")["lines"].items() for p in line.get("pipe", []) if "valve" in p
    }


def test_heights_are_those_of_the_file_and_count_from_each_inside_floor(made):
    """By hand from courtyard.toml: bed 1 stands at 0.62 m, its lip at 0.87, vent 0.67, emergency lip 0.91 m."""
    rows = {(r[0], r[1], r[2]): r[3:5] for r in made("courtyard").grid("heights").rows}
    assert rows["bed 1", "lip: water goes in", "bed 1 siphon"] == pytest.approx((870, 250))
    assert rows["bed 1", "siphon's air inlet, 6 mm or wider: it stops here", "bed 1 siphon"] == pytest.approx((670, 50))
    assert rows["bed 1", "lip: water goes in (emergency)", "bed 1 emergency overflow"] == pytest.approx((910, 290))
    assert rows["sump", "least water over its floor for the pump", "riser"] == pytest.approx((-600, 100))
    us = {(r[0], r[1], r[2]): r[3:5] for r in made("greenhouse").grid("heights").rows}
    assert us["dosing tank", "float: pump on", "bed loop"] == pytest.approx((22, 22))  # greenhouse.toml
    assert us["dosing tank", "float: pump off", "bed loop"] == pytest.approx((9, 9))


def test_a_low_level_switch_is_told_or_missed(made):
    assert "riser: your file has no low-level switch" in said(made("courtyard"))
    build = load("courtyard").changed({("lines", "riser", "control"): {"cut_out_depth": "12 cm"}})
    rows = {r[1]: r[4] for r in sheets.heights(review(build).system).blocks[2].rows}
    assert rows["low-level switch: pump stops"] == pytest.approx(120)
    assert rows["low-level switch: may start again"] == pytest.approx(170)  # 0.05 m higher: data/builds/README.md


def test_a_build_that_is_not_sound_is_told_to_wait(made):
    assert "Not yet" in said(made("flat-drain")) and "Not ready to build" in said(made("flat-drain"))
    assert "Not yet" not in said(made("courtyard")) and "Not ready" not in said(made("courtyard"))


def test_after_a_power_cut_each_vessel_stands_at_its_lowest_way_out(made):
    """Geometry: a tank drains to its lip, a bed that just let go to its siphon's vent; the quick run is good to some mm."""
    rows = {r[0]: r for r in made("courtyard").grid("power cut").rows}
    assert rows["fish tank"][3] == pytest.approx(700, abs=5)  # lip 0.85 − floor 0.15 m
    assert rows["bed 1"][3] == pytest.approx(50, abs=5)  # vent 0.67 − floor 0.62 m
    for name, vessel in raw("courtyard")["vessels"].items():
        rim = 1000 * float(vessel["height"].split()[0])
        assert rows[name][5] + rows[name][6] == pytest.approx(rim)  # highest + left = depth to the rim


def test_a_vessel_that_goes_over_its_rim_in_a_power_cut_says_so(made):
    assert "OVER THE RIM" in column(made("sump-with-nothing-to-spare").grid("power cut"), "left to the rim")
    assert "OVER THE RIM" not in column(made("courtyard").grid("power cut"), "left to the rim")


@pytest.mark.parametrize("name", DEMOS)
def test_a_blocked_outlet_lifts_its_vessel_over_the_emergency_lip_and_not_to_the_rim(made, name):
    lines = raw(name)["lines"]
    usual = {n: line for n, line in lines.items() if line["kind"] != "pumped" and not line.get("emergency")}
    rows = {r[0]: r for r in made(name).grid("blocked").rows}
    assert set(rows) == set(usual)
    heights = {(r[0], r[1]): r[4] for r in made(name).grid("heights").rows}
    for row in rows.values():
        assert heights[row[1], "lip: water goes in (emergency)"] < row[3] < row[4]
        assert lines[row[6]]["emergency"] and lines[row[6]]["from"] == row[1]


def test_the_siphon_drill_is_there_only_where_there_are_siphons(made):
    grid = made("courtyard").grid("siphons")
    assert column(grid, "siphon") == ["bed 1 siphon", "bed 2 siphon"]
    assert all(stops == pytest.approx(50, abs=5) for stops in column(grid, "stops at"))  # its vent, geometry
    assert all(gets > sure for gets, sure in zip(column(grid, "gets"), column(grid, "sure to start")))
    assert "siphons" not in [g.key for g in made("greenhouse").grids]


def test_no_joint_gets_water_before_a_day(made):
    """24 h before any test with water, up to 8 in: a pipe maker's PVC-U sheet (data/cement.csv); colder is never shorter."""
    for name in DEMOS:
        for _, moved, *hours in made(name).grid("cure").rows:
            assert moved > 0 and 24 <= hours[0] <= hours[1] <= hours[2]


def test_the_spare_air_is_drilled(made):
    words = said(made("courtyard"))
    assert "demo battery 18 W air pump" in words and "within 1 min" in words
    minutes = {r[0]: r for r in made("courtyard").grid("air").rows}
    assert minutes["the power fails"][1] == pytest.approx(review(load("courtyard"))["air.left"].quantity.m_as("min"), rel=1e-6)
    bare_build = re.sub(r"(?ms)^\[air\].*?(?=^\[)", "", load("courtyard").text)
    assert "Have one before the fish" in said(sheets.sheet(Build(bare_build), designs=20))


@pytest.mark.parametrize(("name", "other"), [("courtyard", "GFCI"), ("greenhouse", "RCD|residual-current")])
def test_sockets_are_protected_by_what_the_country_calls_it(made, name, other):
    assert not re.search(other, said(made(name)))


@pytest.mark.parametrize(
    "word",
    [
        "residual-current device (RCD), 30 mA",
        "licensed electrician",
        "Drowning",
        "Lifting",
        "Floor load",
        "Solvent cement",
        "Food",
        "Batteries",
        "Fish.",
        "local",
        "structural engineer",
    ],
)
def test_the_cautions_name_what_can_hurt(made, word):
    assert word in "\n".join(_texts(made("courtyard").chapter("cautions")))


def test_each_country_has_its_own_device_against_shock(made):
    """UL 943's class A trips at 4 to 6 mA, IEC's additional protection at 30 mA: two devices, each sold under its own name."""
    for name, own, other in (("courtyard", "RCD), 30 mA", "GFCI"), ("greenhouse", "GFCI), class A, 5 mA", "RCD")):
        words = said(made(name))
        assert own in words and other not in words, name


def test_every_number_of_the_review_is_there_with_its_source(made):
    for name in DEMOS:
        seen, rows = review(load(name)), made(name).grid("sources").rows
        assert len(rows) == len(seen.results)
        assert all(row[4] and row[5] for row in rows)
        for row, result in zip(rows, seen.results.values()):
            kind = result.kind
            assert row[2] == pytest.approx(kind.shown(result.value, load(name).units))


def test_the_upkeep_calendar_goes_from_often_to_seldom(made):
    days = column(made("courtyard").grid("upkeep"), "every")
    assert days == sorted(days) and days[0] == 1.0
    assert all(row[3] and row[4] for row in made("courtyard").grid("upkeep").rows)


def test_a_drawing_that_cannot_be_made_is_a_sentence():
    def drawing(build):
        raise DesignError("two words would stand on each other")

    assert _pictures(drawing, "The whole", None) == [Words("The whole: two words would stand on each other")]


@pytest.mark.parametrize("name", DEMOS)
def test_the_drawings_are_there_with_their_words(made, name):
    drawings = [b for b in made(name).chapter("drawing").blocks if isinstance(b, SheetDrawing)]
    first = [d for d in drawings if "sheet" not in d.title or "sheet 1 of" in d.title]
    assert len(first) == 1 + sum(line["kind"] == "pumped" for line in raw(name)["lines"].values())
    assert all(d.svg.startswith("<svg") and len(d.alt) > 80 for d in drawings)


# --- the page ------------------------------------------------------------------------------------------------


class Reader(html.parser.HTMLParser):
    """Elements with their attributes, and the text outside of style."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.elements, self.text, self._open = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag == "style":
            self._open.append(tag)

    def handle_endtag(self, tag):
        if tag == "style":
            self._open.pop()

    def handle_data(self, data):
        if not self._open:
            self.text.append(data)


def _text_of(page):
    return "".join(Reader(page).text)


@pytest.mark.parametrize("name", DEMOS)
def test_the_page_is_sound_for_who_cannot_see_it(made, name):
    page = Reader(web_page.html(made(name)))
    tags = [tag for tag, _ in page.elements]
    assert dict(page.elements)["html"]["lang"] == "en"
    assert tags.count("title") >= 1 and tags.count("h1") == 1 and tags.count("main") == 1
    depth = [int(tag[1]) for tag in tags if re.fullmatch("h[1-6]", tag)]
    assert depth[0] == 1 and all(b <= a + 1 for a, b in itertools.pairwise(depth)), "no level of heading is left out"
    assert all(attrs.get("scope") in ("col", "row", "rowgroup") for tag, attrs in page.elements if tag == "th")
    assert tags.count("caption") == tags.count("table") == len(made(name).grids)
    assert all(attrs.get("role") == "img" and attrs.get("aria-label") for tag, attrs in page.elements if tag == "svg")
    ids = [attrs["id"] for _, attrs in page.elements if "id" in attrs]
    assert len(ids) == len(set(ids))
    links = [attrs["href"][1:] for tag, attrs in page.elements if tag == "a"]
    assert links and set(links) <= set(ids)


@pytest.mark.parametrize("name", DEMOS)
def test_the_page_needs_nothing_else_and_runs_nothing(made, name):
    text = web_page.html(made(name))
    page = Reader(text)
    assert {"script", "link", "img", "iframe", "object", "embed", "base", "form"}.isdisjoint(tag for tag, _ in page.elements)
    for tag, attrs in page.elements:
        assert "src" not in attrs and not any(key.startswith("on") for key in attrs)
        for key in ("href", "xlink:href"):
            assert attrs.get(key, "#").startswith("#"), tag
    assert "@import" not in text and not re.search(r"url\((?!#)", text)
    assert "default-src 'none'" in text


def test_a_drawing_that_would_run_something_is_not_put_in():
    drawn = web_page._Drawn()
    for bad in ("<svg><script>x</script></svg>", '<svg onload="x"></svg>', "<svg><foreignObject/></svg>"):
        with pytest.raises(ValueError, match="no place"):
            drawn(SheetDrawing("a", bad, "b"))


def test_a_film_of_water_is_as_deep_under_heights_as_on_the_wall(made):
    # lean-to's channels hold 5 mm: 3/16 in on a tape, and not 0.197
    sheet = made("lean-to")
    grids = {grid.key: grid for chapter in sheet.chapters for grid in chapter.blocks if hasattr(grid, "rows")}
    wall = {row[0]: row[-1] for row in grids["wall heights"].rows}["channels"]
    grid = grids["vessels"]
    place = next(k for k, one in enumerate(grid.columns) if one.name == "depth when filled")
    row = next(row for row in grid.rows if row[0] == "channels")
    assert grid.columns[place].text(row[place]) == wall == "3/16 in"


def test_a_head_is_in_decimals_on_every_page(made):
    # a loss is on no tape (`kinds.Kind`): greenhouse, in feet
    said_in_words = " ".join(block.alt for c in made("greenhouse").chapters if c.key == "drawing" for block in c.blocks)
    assert re.search(r"head (of )?[\d.]+ ft\b", said_in_words) and not re.search(r"head (of )?\d+ ft \d", said_in_words)


def test_paper_has_a_length_in_feet_and_inches_once(made):
    text = web_page.html(made("greenhouse"))
    table = text[text.index('id="table-cuts"') :]
    heads = re.findall(r"<th scope=\"col\"([^>]*)>([^<]*)<", table[: table.index("</thead>")])
    hidden = [head for looks, head in heads if "twice" in looks]
    assert hidden == ["cut [in]", "left over [in]"] and {"on the tape", "left, on the tape"} <= {
        head for looks, head in heads if "twice" not in looks
    }
    assert ".twice { display: none; }" in text[text.index("@media print") :]
    assert not re.search(r'class="[^"]*twice', web_page.html(made("courtyard")))  # millimetres are told once


def test_a_piece_is_as_long_in_its_bag_as_in_the_cut_list(made):
    chapter = next(c for c in made("courtyard").chapters if c.key == "cuts")
    cuts, packs = (next(b for b in chapter.blocks if getattr(b, "key", "") == key) for key in ("cuts", "packs"))
    text = " · ".join(row[1] for row in packs.rows) + " ·"
    assert all(f"{row[2]}: {cuts.columns[3].text(row[3])} mm ·" in text for row in cuts.rows)


def test_a_pieces_number_stays_on_the_line_of_its_name_and_nothing_else_is_taken_for_one(made):
    text = web_page.html(made("courtyard"))
    assert 'tank emergency <span class="whole">overflow-4</span>' in text and ".whole { white-space: nowrap; }" in text
    assert (
        str(web_page._marked("on 2026-05-03 by IEC 60364-7-702, <a-1>"))
        == 'on 2026-05-03 by IEC 60364-7-702, &lt;<span class="whole">a-1</span>&gt;'
    )


def test_a_table_of_long_rows_may_go_on_over_the_page(made):
    page = web_page.html(made("courtyard"))
    assert '<table id="table-valves" class="small">' in page
    assert '<table id="table-packs">' in page  # 11 rows of up to three lines each: kept whole they left half a page white


def test_a_long_narrow_table_goes_into_two_columns_and_a_wide_one_does_not(made):
    text = web_page.html(made("courtyard"))
    assert re.search(r'<div class="two">\s*<table id="table-cuts"', text)
    assert not re.search(r'<div class="two">\s*<table id="table-(parts|packs|bucket)"', text)


def test_sources_are_printed_where_they_are_asked_for(made):
    left_out = "section.sources > :not(h2, .instead) { display: none; }"
    page = made("courtyard")
    assert left_out in web_page.html(page) and left_out not in web_page.html(dataclasses.replace(page, whole=True))
    assert 'id="table-sources"' in web_page.html(page), "a screen has it all the same"


def test_the_paper_of_a_page(made):
    assert "size: A4;" in web_page.html(made("courtyard"), paper="A4")
    assert "size: A4" not in web_page.html(made("courtyard"))
    with pytest.raises(DesignError, match="no paper 'A3'"):
        web_page.html(made("courtyard"), paper="A3")


# --- hostile words --------------------------------------------------------------------------------------------

SCRIPT = "<script>alert(1)</script>"
FORMULA = "=cmd|' /C calc'!A0"
FROM_THE_RIGHT = "\u05de\u05d9\u05db\u05dc \u202e\u05d3\u05d2\u05d9\u05dd"
LONG = "x" * 10_000


def hostile():
    """The courtyard with a title and names that nobody means well with."""
    text = load("courtyard").text
    renamed = {"sump": "+SUM(A1:A9)", "fish tank": SCRIPT, "bed 1": FROM_THE_RIGHT, "bed 2": LONG}
    for old, new in renamed.items():
        quoted = json.dumps(new, ensure_ascii=True)
        text = text.replace(f'[vessels."{old}"]', f"[vessels.{quoted}]").replace(f"[vessels.{old}]", f"[vessels.{quoted}]")
        text = re.sub(rf'(?m)^(from|to) = "{old}"', lambda found, quoted=quoted: f"{found[1]} = {quoted}", text)
    text = text.replace('[lines."tank overflow"]', f"[lines.{json.dumps(FORMULA)}]")
    text = text.replace('name = "to bed 1"', 'name = "@here & <b>there</b>"')
    return Build(text.replace('"Courtyard, one pump"', json.dumps(f"{SCRIPT} {FROM_THE_RIGHT} {LONG}")))


@pytest.fixture(scope="module")
def nasty():
    return sheets.sheet(hostile(), designs=20)


def test_hostile_words_stay_words_on_the_page(nasty):
    text = web_page.html(nasty)
    page = Reader(text)
    assert "script" not in [tag for tag, _ in page.elements] and "b" not in [tag for tag, _ in page.elements]
    assert SCRIPT in "".join(page.text) and FORMULA in "".join(page.text) and "@here & <b>there</b>" in "".join(page.text)
    assert LONG[:500] not in text, "a long name is shortened"
    assert "\u202e" not in text and OPEN not in text and SHUT not in text
    assert f"<bdi>{FROM_THE_RIGHT.replace(chr(0x202E), '')}</bdi>" in text
    assert text.count("<bdi>") == text.count("</bdi>")
    assert len(nasty.title) <= 82


def test_hostile_words_stay_words_in_a_workbook(nasty):
    book = openpyxl.load_workbook(io.BytesIO(workbook.workbook(nasty)))
    cells = [cell for page in book for row in page.iter_rows() for cell in row]
    assert not any(cell.data_type == "f" or cell.hyperlink for cell in cells)
    assert {FORMULA, "+SUM(A1:A9)", SCRIPT} <= {cell.value for cell in cells}
    assert not any("\u202e" in str(cell.value) or OPEN in str(cell.value) for cell in cells)


def test_hostile_words_stay_words_in_table_files(nasty):
    for name, data in workbook.tables(nasty).items():
        for row in csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")):
            for cell in row:
                assert not cell.startswith(("=", "+", "@")), name
                if cell.startswith("-"):
                    float(cell)
    cells = b"".join(workbook.tables(nasty).values()).decode("utf-8")
    assert f'"\'{FORMULA}"' in cells and '"\'+SUM(A1:A9)"' in cells


def test_names_are_made_safe_once_and_for_all():
    names = Names(hostile())
    for text in (f"water in {FROM_THE_RIGHT} falls", SCRIPT, LONG, "a\nb\x00c\u2066d", "plain"):
        once = names(text)
        assert names(once) == once
        assert all(letter.isprintable() or letter in (OPEN, SHUT) for letter in once)


def test_numbers_as_a_person_reads_them():
    assert GridColumn("a", "mm", 0).text(1234.4) == "1,234"
    assert GridColumn("a", "in", 2).text(0.5) == "0.5"
    assert GridColumn("a", "in", 2).text(-0.001) == "0"
    assert GridColumn("a").text(float("inf")) == "not possible"
    assert GridColumn("a").text(None) == ""


# --- workbook and tables ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", DEMOS)
def test_a_workbook_read_back_by_another_library(made, name):
    sheet = made(name)
    book = openpyxl.load_workbook(io.BytesIO(workbook.workbook(sheet)))
    assert book.sheetnames == ["Read first", *[g.key.capitalize() for g in sheet.grids]]
    assert book.properties.created == datetime.datetime(2000, 1, 1)
    for grid in sheet.grids:
        page = book[grid.key.capitalize()]
        assert page.freeze_panes == "A2"
        assert [cell.value for cell in page[1]] == [c.header for c in grid.columns]
        assert page.max_row == 1 + len(grid.rows)
        for number, row in enumerate(grid.rows, start=2):
            for place, cell in enumerate(row, start=1):
                read = page.cell(number, place)
                if isinstance(cell, float):
                    assert read.data_type == "n" and read.value == pytest.approx(cell, rel=1e-8)
                else:
                    assert read.value == (bare(cell) if cell else None)


@pytest.mark.parametrize("name", DEMOS)
def test_table_files_read_back(made, name):
    sheet, files = made(name), workbook.tables(made(name))
    assert len(files) == len(sheet.grids)
    for grid, data in zip(sheet.grids, files.values()):
        assert data.startswith(b"\xef\xbb\xbf")  # a spreadsheet needs it to know UTF-8
        header, *rows = csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""))
        assert header == [c.header for c in grid.columns] and len(rows) == len(grid.rows)
        for row, wanted in zip(rows, grid.rows):
            for cell, value in zip(row, wanted):
                if isinstance(value, float):
                    assert float(cell) == pytest.approx(value, rel=1e-8)


def test_a_column_of_numbers_has_its_unit_in_the_header(made):
    for name in DEMOS:
        for grid in made(name).grids:
            for c in grid.columns:
                if c.number and (grid.key, c.name) not in {
                    ("parts", "amount"),
                    ("parts", "spare"),
                    ("sources", "value"),
                }:  # their unit is in a column
                    assert re.search(r"\[.+\]$", c.header), f"{grid.key}: {c.header}"


@pytest.mark.weekly
def test_the_same_build_gives_the_same_bytes_in_another_process(made, tmp_path):
    code = (
        "import hashlib, sys; from aquaplumb import sheet; from aquaplumb.workshop.sheet import web_page, workbook;"
        f"s = sheet.sheet('courtyard', designs={DESIGNS});"
        "print(*[hashlib.sha256(d).hexdigest() for d in (web_page.html(s).encode(), workbook.workbook(s), *workbook.tables(s).values())])"
    )
    ran = [
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(HOUSE), "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert ran[0] == ran[1] and len(ran[0].split()) == 2 + len(made("courtyard").grids)


# --- saving ------------------------------------------------------------------------------------------------------


def test_only_a_sheet_as_it_was_saved_is_replaced(made, tmp_path):
    book, page = workbook.workbook(made("courtyard")), saving.stamped(web_page.html(made("courtyard")).encode())
    other_book, other_page = workbook.workbook(made("greenhouse")), saving.stamped(web_page.html(made("greenhouse")).encode())
    for name, data, other in (("a.xlsx", book, other_book), ("a.html", page, other_page)):
        path = tmp_path / name
        saving.save(path, data)
        saving.save(path, other)
        assert path.read_bytes() == other
    (tmp_path / "a.html").write_bytes(other_page.replace(b"bed loop", b"my loop", 1))
    edited = openpyxl.load_workbook(tmp_path / "a.xlsx")
    edited["Bucket"]["I2"] = 21.5  # what a builder measured
    edited.save(tmp_path / "a.xlsx")
    for name, data in (("a.xlsx", book), ("a.html", page)):
        before = (tmp_path / name).read_bytes()
        with pytest.raises(DesignError, match="--force"):
            saving.save(tmp_path / name, data)
        assert (tmp_path / name).read_bytes() == before
        saving.save(tmp_path / name, data, force=True)
        assert (tmp_path / name).read_bytes() == data
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.html", "a.xlsx"], "nothing is left lying about"


def test_a_folder_of_tables_keeps_what_a_person_wrote(made, tmp_path):
    first, second = workbook.tables(made("courtyard")), workbook.tables(made("greenhouse"))
    place = tmp_path / "tables"
    saving.save_folder(place, first)
    (place / "notes.txt").write_text("mine", encoding="utf-8")
    saving.save_folder(place, second)
    assert {p.name for p in place.iterdir()} == {*second, "notes.txt", saving.LIST}, "tables of the sheet before are gone"
    name = next(iter(second))
    (place / name).write_text("mine", encoding="utf-8")
    with pytest.raises(DesignError, match="--force"):
        saving.save_folder(place, first)
    assert (place / name).read_text(encoding="utf-8") == "mine"
    saving.save_folder(place, first, force=True)
    assert (place / name).read_bytes() == first[name]


def test_a_list_of_tables_that_names_other_files_deletes_none(made, tmp_path):
    (tmp_path / "mine.toml").write_text("mine", encoding="utf-8")
    place = tmp_path / "tables"
    place.mkdir()
    print_ = saving.fingerprint(b"mine")
    (place / saving.LIST).write_text(f"{print_} ../mine.toml\n{print_} ../mine.csv\n", encoding="utf-8")
    saving.save_folder(place, workbook.tables(made("courtyard")))
    assert (tmp_path / "mine.toml").read_text(encoding="utf-8") == "mine"


# --- the command ------------------------------------------------------------------------------------------------


def run(*arguments, cwd, **environment):
    return subprocess.run(
        [sys.executable, "-m", "aquaplumb", "sheet", *map(str, arguments)],
        cwd=cwd, capture_output=True, encoding="utf-8", errors="replace", timeout=240, check=False,
        env={**os.environ, "PYTHONPATH": str(HOUSE), "PYTHONIOENCODING": "utf-8", **environment},
    )  # fmt: skip


def refused(done):
    assert done.returncode == 2, done.stderr
    assert done.stdout == "" and "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1, done.stderr
    return done.stderr


def test_the_command_writes_a_page_and_says_so(tmp_path, here):
    done = run("courtyard", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Written: sheet.html" in done.stdout and "1 note" in done.stdout
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    (tmp_path / "sheet.html").write_text("mine", encoding="utf-8")
    assert "--force" in refused(here("sheet", "courtyard", cwd=tmp_path))
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8") == "mine"


def test_the_command_asks_for_prices_and_reckons_with_them(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["sheet", "courtyard", "--prices", "mine.csv"]) == 0
    assert "Saved: mine.csv, an empty form" in capsys.readouterr().out
    assert "At your own prices" not in (tmp_path / "sheet.html").read_text(encoding="utf-8")
    form = (tmp_path / "mine.csv").read_text(encoding="utf-8").splitlines()
    first, second = form[1], form[2]
    (tmp_path / "mine.csv").write_text("\n".join([form[0], f"{first}2.50", f"{second}4", "a gold pipe,,9"]), encoding="utf-8")
    assert main(["sheet", "courtyard", "--prices", "mine.csv"]) == 0
    lines = parts_list("courtyard").parts
    of_each = {key: sum(p.amount + p.spare for p in lines if p.key == key) for key in (lines[0].key, lines[1].key)}
    total = 2.5 * of_each[lines[0].key] + 4 * of_each[lines[1].key]
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert f"At your own prices: {total:,.2f}, spares with it" in page and "a gold pipe" in page
    (tmp_path / "mine.csv").write_text("what,size,price\ntee,,1,50\n", encoding="utf-8")
    capsys.readouterr()
    assert main(["sheet", "courtyard", "--prices", "mine.csv"]) == 2
    assert "line 2" in capsys.readouterr().err
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8") == page


def test_the_command_on_a_build_to_mend_writes_it_and_ends_with_one(tmp_path, here):
    done = here("sheet", "flat-drain", "-o", "my.xlsx", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (1, "")
    assert (tmp_path / "my.xlsx").exists()


@pytest.mark.sweep(1)
@pytest.mark.parametrize("out", ["tables/", "tables.csv"])
def test_the_command_writes_a_folder_of_tables(tmp_path, here, out):
    done = here("sheet", "courtyard", "-o", out, cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "tables" / "04-findings.csv").exists() and "in the folder tables" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        pytest.param(["courtyard", "-o", "sheet.txt"], ".html, .pdf or .xlsx", id="another ending"),
        pytest.param(["courtyard", "-o", "nowhere/sheet.html"], "no folder nowhere", id="no such folder"),
        pytest.param(["courtyrad"], "courtyard", id="no such build"),
        pytest.param(["mine.toml"], "no file", id="no such file"),
    ],
)
def test_what_the_command_refuses(tmp_path, here, arguments, says):
    assert says in refused(here("sheet", *arguments, cwd=tmp_path))
    assert list(tmp_path.iterdir()) == []


def test_without_a_browser_a_pdf_is_refused_with_a_way_out(tmp_path, here, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    told = refused(here("sheet", "courtyard", "-o", "sheet.pdf", cwd=tmp_path))
    assert "Chromium" in told and "sheet.html" in told


def test_a_browser_that_fails_is_told(made, tmp_path, monkeypatch):
    broken = tmp_path / "chromium"
    broken.write_text("#!/bin/sh\nexit 3\n", encoding="utf-8")
    broken.chmod(0o755)
    monkeypatch.setattr(pdf, "browser", lambda: str(broken))
    with pytest.raises(DesignError, match=r"did not make a PDF.*sheet\.html"):
        pdf.pdf(made("courtyard"))


def test_a_grid_is_found_by_its_key(made):
    assert isinstance(made("courtyard").grid("parts"), Grid)

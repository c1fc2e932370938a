"""The drawings for paper: true to scale, no word on another, nothing of a person's words read as markup."""

import functools
import io
import itertools
import math
import re
import xml.etree.ElementTree as ET
from pathlib import Path
from types import SimpleNamespace

import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from PIL import Image

from aquaplumb.build import Build, demos, load
from aquaplumb.review import review
from aquaplumb.units import DesignError
from aquaplumb.workshop import as_built, as_built_words, paper
from aquaplumb.workshop.as_built import AsBuilt, spread
from aquaplumb.workshop.as_built_words import water_levels
from aquaplumb.workshop.cut_list import labelled
from aquaplumb.workshop.line_plan import LinePlan, fitted_with, opened
from aquaplumb.workshop.paper import SIZE, WIDE
from aquaplumb.workshop.sheet import web_page

SPILLING = [
    "pipe-end-under-water",
    "siphon-into-a-small-bucket",
    "upper-sump-with-one-way-out",
]  # whose runs are quick, and have something to show
HOSTILE = {
    "markup": "<script>alert(1)</script>&amp;<!--",
    "long": "x" * 200,
    "long words": "the very long name of a tank " * 7,
    "right to left": "\u05de\u05d9\u05db\u05dc \u05d3\u05d2\u05d9\u05dd \u202e123",
    "maths": r"$x$ $\frac{1}{2}$ $",
    "not in the font": "\u9c7c\u7f38 \U0001f41f",
    "comment": "a --> b -- c",
    "lines": "two\\nlines\\ttab",
}


@functools.cache
def built(name):
    return load(name)


def many_beds(count=8):
    """The greenhouse with more beds."""
    text = built("greenhouse").text
    bed = re.search(r'\[vessels\."bed 4"\].*?(?=\n\[)', text, re.DOTALL)[0]
    pipe = re.search(r'\[\[lines\."bed loop"\.pipe\]\]\nname = "to bed 4".*?(?=\n\n)', text, re.DOTALL)[0]
    falls = text[text.index('[lines."bed 4 drain"]') :]
    more = "\n".join(part.replace("bed 4", f"bed {k}") for k in range(5, count + 1) for part in (bed, pipe, falls))
    return Build(text + "\n" + more)


def named(name):
    """The courtyard with hostile names for a vessel, a stretch, a line and the whole."""
    text = built("courtyard").text
    quoted = '"' + name.replace("\\", "\\\\").replace('"', '\\"').replace("\\\\n", "\\n").replace("\\\\t", "\\t") + '"'
    for old, new in (
        ('"bed 1 siphon"', f'{quoted[:-1]} siphon"'),
        ('"bed 1"', quoted),
        ('"to bed 1"', f'{quoted[:-1]} pipe"'),
        ("lines.riser", f"lines.{quoted}"),
        ('"Courtyard, one pump"', quoted),
    ):
        text = text.replace(old, new)
    return Build(text)


def working_levels(build):
    """Levels without a run, for builds of which only the layout counts here."""
    return {
        name: SimpleNamespace(
            low=v.level - 0.1,
            high=v.level,
            rest=v.level - 0.05,
            cut=v.rim,
            spilled=0.02,
            running_spill=0.02,
            pump="draws air" if v.si.kind == "sump" else "",
        )
        for name, v in build.vessels.items()
    }


@pytest.fixture
def quick(monkeypatch):
    monkeypatch.setattr(as_built_words, "water_levels", working_levels)


def words_of(made):
    return [text for text in made.figure().findobj(Text) if text.get_text() and text.get_visible()]


def assert_apart(made):
    """No word stands on another or leaves the paper, on a screen and in print."""
    figure = made.figure()
    with paper._settings():  # as `svg` and `png` set matplotlib
        _assert_apart(made, figure)


def _assert_apart(made, figure):
    for scale in (1.0, 3.0):
        figure.set_dpi(72 * scale)
        pen = FigureCanvasAgg(figure).get_renderer()
        texts = words_of(made)
        boxes = np.array([text.get_window_extent(pen).extents for text in texts])
        assert len(boxes) > 10
        assert (boxes[:, :2] >= 0).all() and (boxes[:, 2] <= made.width * scale).all() and (boxes[:, 3] <= made.height * scale).all()
        left, low, right, high = (boxes[:, i] for i in range(4))
        wide = np.minimum(right[:, None], right) - np.maximum(left[:, None], left)
        tall = np.minimum(high[:, None], high) - np.maximum(low[:, None], low)
        hit = np.triu((wide > 0) & (tall > 0), 1)
        assert not hit.any(), [(texts[i].get_text(), texts[j].get_text(), scale) for i, j in zip(*np.nonzero(hit))][:5]


def drawings(build, system=None):
    yield AsBuilt(build, system=system)
    for line in build.pumped:
        yield LinePlan(build, line, system=system)


# --- nothing on anything else -----------------------------------------------------------------------------


@pytest.mark.sweep(4)
@pytest.mark.parametrize("system", ["metric", "US"])
@pytest.mark.parametrize("name", [*demos(), *SPILLING])
def test_no_word_stands_on_another(name, system):
    for made in drawings(built(name), system):
        assert_apart(made)


@pytest.mark.sweep(4)
@pytest.mark.parametrize("name", demos(faulty=True))
def test_no_word_stands_on_another_in_a_faulty_build(name, quick):
    for made in drawings(built(name)):
        assert_apart(made)


@pytest.mark.sweep(1)
@pytest.mark.parametrize("system", ["metric", "US"])
@pytest.mark.parametrize("count", [8, 12])
def test_no_word_stands_on_another_with_many_beds(count, system, quick):
    build = many_beds(count)
    assert len(build.of_kind("bed")) == count
    for made in drawings(build, system):
        assert_apart(made)


@pytest.mark.sweep(2)
@pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE)
def test_hostile_names_are_plain_words(name, quick):
    build = named(name)
    shown = paper.tidy(next(v.si.name for v in build.of_kind("bed")))
    for made in drawings(build):
        assert_apart(made)
        assert all(not text.get_parse_math() for text in words_of(made))
        begins = [text.get_text() for text in words_of(made) if text.get_text()[:2] == shown[:2]]
        assert begins, "the name is there, or its beginning"
        assert all(text.endswith("…") or len(text) <= 80 + len(": plan of the line “”") + 80 for text in begins)
        page = made.svg()
        root = ET.fromstring(page)
        assert not [e.tag for e in root.iter() if e.tag.split("}")[-1] in ("script", "a", "image", "foreignObject")]
        assert "<script" not in page
        assert shown[:20] in made.alt()
        assert "\u202e" not in made.alt() and "\n" not in made.alt()


# --- true ---------------------------------------------------------------------------------------------------


@pytest.mark.sweep(3)
@pytest.mark.parametrize("name", demos())
def test_heights_are_to_scale(name):  # identity: a straight line through (height, place on the paper)
    build, made = built(name), AsBuilt(built(name))
    made.figure()
    places = {line: (made.across["start", build.line_of(line)], made.across["end", line]) for line in made.drops}
    heights, on_paper = [], []
    drawn = [np.array(line.get_xydata()) for line in made.axes.lines if line.get_linewidth() == 1.5]
    for v in made.shown:
        place = made.places[v.si.name]
        [outline] = [d for d in drawn if d[0, 0] == place.left]
        heights += [v.rim, v.si.floor]
        on_paper += [outline[:, 1].max(), outline[:, 1].min()]
    for line in made.drops.values():  # each lip and outlet has its sign
        f, (start, end) = line.si, places[line.si.name]
        signs = [tuple(one.get_xydata()[0]) for one in made.axes.lines if len(one.get_xydata()) == 1]
        for x, height in ((start, f.lip), (end, f.outlet), *([(start, f.siphon.si.vent)] if f.siphon else [])):
            heights.append(height)
            on_paper.append(min((y for sx, y in signs if abs(sx - x) < 1e-6), key=lambda y: abs(y - made._y(height))))
    slope, start = np.polyfit(heights, on_paper, 1)
    assert np.abs(np.polyval((slope, start), heights) - on_paper).max() < 1e-6
    assert slope > 50  # points to a metre: large enough to be read


def test_levels_at_rest_are_where_overflows_end():  # identity: what stands over a lip runs off
    at = water_levels(built("courtyard"))
    assert at["fish tank"].rest == pytest.approx(0.85, abs=0.005)
    for bed in ("bed 1", "bed 2"):
        assert 0.67 - 0.005 <= at[bed].rest <= 0.87 + 0.005  # between vent and lip
        assert at[bed].high > 0.87 - 0.005 and at[bed].low < 0.67 + 0.01  # the siphon starts over the lip, stops at the vent
    at = water_levels(built("greenhouse"))
    for name in ("bed 1", "bed 4"):
        assert at[name].rest == pytest.approx(33 * 0.0254, abs=0.005)
        assert at[name].low <= at[name].high <= at[name].cut + 0.01


@pytest.mark.parametrize("name", demos())
def test_a_power_cut_fills_what_lies_lowest(name):  # identity: water that is no longer pumped up has come down
    at = water_levels(built(name))
    low = next(iter(built(name).pumped.values())).si.source if "sump" not in at else "sump"
    assert at[low].cut >= at[low].rest and at[low].cut > at[low].low
    for level in at.values():
        assert level.rest <= level.cut + 1e-9 and level.spilled == 0


def test_what_spills_is_said_in_words():
    made = AsBuilt(built("siphon-into-a-small-bucket"))
    assert "spills" in made.alt()
    assert any("spills" in text.get_text() for text in words_of(made))


def test_a_pump_that_does_not_do_its_work_is_said_in_words():
    for name, vessel, words in (
        ("pump-that-draws-air", "sump", "never starts|draws air"),
        ("overflow-that-sucks-the-tank-down", "sump", "draws air"),
    ):
        made = AsBuilt(built(name))
        assert re.search(words, made.levels[vessel].pump)
        assert f"its pump {made.levels[vessel].pump}" in made.alt()
    assert not any(level.pump for level in water_levels(built("courtyard")).values())


def test_switches_close_together_are_told_apart(quick):
    build = built("courtyard")
    control = build.lines["riser"].si.control.from_si(kind="float", on_depth=0.16, off_depth=0.13, cut_out_depth=0.12, cut_in_depth=0.14)
    made = AsBuilt(build.replaced(lines=[build.lines["riser"].from_si(**{**vars(build.lines["riser"].si), "control": control})]))
    assert_apart(made)
    said = [text.get_text() for text in words_of(made)]
    for words in ("draws air 100 mm", "cut-out 120 mm", "float off 130 mm", "cut-in 140 mm", "float on 160 mm"):
        assert words in said
        assert words.replace(" 1", " at 1") + " deep" in made.alt()


@pytest.mark.parametrize("name", ["courtyard", "greenhouse", "raft-hall", "terrace", "barrel-yard"])  # the last two have branches
def test_a_piece_of_a_falling_line_has_its_label_once_beside_its_pipe(name):  # identity: the cut list, and the places of pipes
    made = AsBuilt(built(name))
    said = [text for text in words_of(made) if re.fullmatch(r".+-\d+", text.get_text())]
    assert len(said) >= 5 and len({text.get_text() for text in said}) == len(said)
    whole = {labelled(piece): line for line in made.ways for run in made.runs_of(line) for piece in run.pieces}
    short = {f"{made.numbers[line]}-{piece.number}": line for line in made.ways for piece in made.runs_of(line)[-1].pieces}
    for text in said:
        way = made.ways[{**short, **whole}[text.get_text()]]
        (x, y), wide = text.get_position(), made.measured(text.get_text())
        gaps = [
            math.hypot(max(min(a[0], b[0]) - x - wide, x - max(a[0], b[0]), 0), max(min(a[1], b[1]) - y, y - max(a[1], b[1]), 0))
            for a, b in itertools.pairwise(way)
        ]
        assert min(gaps) < 8
    assert all(label in made.alt() for label in whole)
    for tree in (line for line in made.build.lines.values() if hasattr(line.si, "pipe") and line.si.name not in made.build.pumped):
        assert any(text.get_text().startswith(tuple(leg.si.name for leg in tree.si.pipe)) for text in said)


@pytest.mark.parametrize("name", demos())
def test_a_sound_build_shows_no_line_that_carries_too_little(
    name,
):  # identity: the review says that every demo is sound, and one drawing says no other thing
    assert review(name).sound
    assert not [row for row in AsBuilt(built(name))._falling_rows() if row[-1].endswith("!")]


def test_print_on_letter_paper_is_seven_points_or_more():
    """Letter on its side is 11 in wide, less the 10 mm margins of the page; no word on a drawing is smaller than `SIZE` (the page's own style)."""
    margins = re.search(r"@page wide \{ size: landscape; margin: 10mm (\d+)mm", (Path(web_page.__file__).parent / "sheet.html").read_text())
    assert SIZE * (11 * 72 - 2 * int(margins[1]) / 25.4 * 72) / WIDE >= 7
    for made in drawings(built("kitchen-garden"), "US"):
        assert min(text.get_fontsize() for text in words_of(made)) >= SIZE


@pytest.mark.sweep(3)
@pytest.mark.parametrize("name", demos())
def test_the_words_of_levels_that_are_alike_are_words(name):
    """Where the three levels lie within a centimetre their words stand on one row: two word spaces apart, or they read as one."""
    made = AsBuilt(built(name))
    texts = [text for text in words_of(made) if text.get_text() in ("run", "rest", "cut")]
    assert len(texts) == 3 * (len(made.shown) - len(made.silent))
    pen = FigureCanvasAgg(made.figure()).get_renderer()
    boxes = sorted((text.get_window_extent(pen).extents * 72 / made.figure().dpi).tolist() for text in texts)
    space = made.measured("n n", texts[0].get_size()) - made.measured("nn", texts[0].get_size())
    one_row = [(a, b) for a, b in itertools.pairwise(boxes) if min(a[3], b[3]) > max(a[1], b[1])]
    assert one_row and all(b[0] - a[2] >= 2 * space for a, b in one_row)


def test_the_three_levels_differ_in_more_than_colour():
    assert len({repr(as_built._LOOKS[level][0]) for level in ("run", "rest", "cut")}) == 3
    said = {text.get_text() for text in words_of(AsBuilt(built("courtyard")))}
    assert {"run", "rest", "cut", "running", "at rest, pumps off", "highest in a power cut"} <= said


@pytest.mark.parametrize("name", demos())
def test_the_words_have_everything(name):
    build = built(name)
    made = AsBuilt(build)
    words = made.alt()
    for v in build.vessels.values():
        assert f"{v.si.name}: inside bottom at {made.at(v.si.floor)}, rim at {made.at(v.rim)}" in words
    for n, line in build.drops.items():
        [said] = re.findall(rf"\d, {re.escape(n)}, falls from [^;]*", words)
        assert f"lip at {made.at(line.si.lip)}, outlet at {made.at(line.si.outlet)}" in said
        assert (f"vent at {made.at(line.si.siphon.si.vent)}" in said) if line.si.siphon else "vent at" not in said
    for n in build.pumped:
        plan = LinePlan(build, n).alt()
        assert f"{n}, pumped from" in words
        for pipe in build.pumped[n].si.pipe:
            assert pipe.si.name in plan
    if name == "greenhouse":
        assert "float on at 1 ft 10 in deep" in words and "float off at 9 in deep" in words


def test_every_number_of_a_table_is_whole(quick):
    """No number is shortened, only names."""
    for build in (built("courtyard"), built("greenhouse"), many_beds(8)):
        for system in ("metric", "US"):
            cut = [text.get_text() for made in drawings(build, system) for text in words_of(made) if text.get_text().endswith("…")]
            assert not cut


def test_heights_are_read_off_the_ruler_or_a_tape():  # 0.3048 m to a foot
    metric, us = (AsBuilt(built("courtyard"), system=system) for system in ("metric", "US"))
    assert metric.at(-0.7) == "\u22120.7 m"
    assert us.at(0.1524) == "6 in" and us.at(-2 * 0.3048) == "\u22122 ft"


# --- the plan of a line ---------------------------------------------------------------------------------------


def test_valves_as_a_hand_sets_them():  # a ball valve's handle makes a quarter turn: common practice, no source
    assert opened("ball valve", 2 / 3) == "ball valve, open 60° of 90°"
    assert opened("ball valve", 1.0) == "ball valve, fully open"
    assert opened("ball valve", 0.0) == "ball valve, shut"
    assert opened("Ball valves", 2 / 3) == "Ball valves, open 60° of 90°", "as `fittings` reads it"
    assert opened("gate valve", 0.35) == "gate valve, open 35 % of its turns"
    assert opened("ball valve", 0.999).endswith("90° of 90°")


def test_fittings_in_short_words():
    assert fitted_with({"elbow 90": 2, "union": 1, "tee run": 0}) == "2 × elbow 90, union"
    assert fitted_with({}) == ""


@pytest.mark.parametrize("name", [*demos(), "suction-throttled", "timer-too-short"])
def test_a_plan_shows_every_stretch_and_end(name):
    build = built(name)
    for line in build.pumped:
        made = LinePlan(build, line)
        said = " ".join(text.get_text() for one in made.sheets() for text in words_of(one))
        for pipe in (*build.pumped[line].si.suction, *build.pumped[line].si.pipe):
            assert pipe.si.name in said
        shares = [int(s) for s in re.findall(r", (\d+) %;", made.alt())]
        ends = [p for p in build.pumped[line].si.pipe if p.si.to]
        assert len(shares) == len(ends)
        assert sum(shares) == pytest.approx(100, abs=0.51 * len(ends))  # continuity


def test_a_suction_pipe_and_its_control_are_said():
    assert "suction, suction pipe" in LinePlan(built("suction-throttled"), "main").alt()
    [line] = built("timer-too-short").pumped
    assert "timer: " in LinePlan(built("timer-too-short"), line).alt()


def test_a_line_that_is_not_there():
    with pytest.raises(DesignError, match="pond"):
        LinePlan(built("courtyard"), "pond")
    with pytest.raises(DesignError, match="tank overflow"):
        LinePlan(built("courtyard"), "tank overflow")


# --- copies -----------------------------------------------------------------------------------------------------


def test_the_same_each_time_and_needing_nothing_else():
    for make in (AsBuilt, lambda build: LinePlan(build, "riser")):
        made = make(built("courtyard"))
        page = made.svg()
        assert page == made.svg() == make(built("courtyard")).svg()
        assert page.startswith("<svg ") and page.rstrip().endswith("</svg>")
        root = ET.fromstring(page)
        assert root.get("role") == "img" and root.get("aria-label") == made.title()
        links = [value for e in root.iter() for key, value in e.attrib.items() if key.endswith("href")]
        assert links and all(value.startswith("#") for value in links)
        assert not re.search(r"url\((?!#)|@import|dc:date|<text", page)
        assert made.png() == make(built("courtyard")).png()


def test_png_at_a_scale():
    made = LinePlan(built("courtyard"), "riser")
    for scale in (1.0, 2.0):
        image = Image.open(io.BytesIO(made.png(scale)))
        assert image.width == pytest.approx(made.width * scale, abs=1) and image.height == pytest.approx(made.height * scale, abs=1)


def test_the_readers_settings_stay_and_do_not_matter():
    before = dict(matplotlib.rcParams)
    page = LinePlan(built("courtyard"), "riser").svg()
    assert dict(matplotlib.rcParams) == before
    with matplotlib.rc_context(
        {
            "font.size": 30,
            "font.family": "serif",
            "lines.linewidth": 9,
            "svg.fonttype": "none",
            "axes.facecolor": "red",
            "hatch.linewidth": 5,
            "savefig.bbox": "tight",
        }
    ):
        assert LinePlan(built("courtyard"), "riser").svg() == page


def test_a_notebook_shows_it_with_its_words():
    made = LinePlan(built("courtyard"), "riser")
    data, metadata = made._repr_mimebundle_()
    assert data["image/png"][:4] == b"\x89PNG" and data["text/plain"] == metadata["image/png"]["alt"] == repr(made) == made.alt()


# --- spreading ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("places", [[], [5], [1, 50], [10, 10, 10], [0, 1, 2, 99, 99.5], [95, 96, 97]], ids=str)
def test_spread_keeps_order_and_distance(places):  # identity
    moved = spread(places, 8, 0, 100)
    assert all(b - a >= 8 - 1e-9 for a, b in itertools.pairwise(moved))
    assert all(0 <= y <= 100 for y in moved)
    if all(b - a >= 8 for a, b in itertools.pairwise(places)):
        assert moved == places


def test_words_are_fitted_to_their_room():
    made = paper.Drawing(built("courtyard"))
    assert made.fitted("short", 100) == "short"
    long = made.fitted("a name that is far too long for this", 60)
    assert long.endswith("…") and made.measured(long) <= 60
    assert made.fitted("anything", 1) == ""
    lines = made.wrapped("a name that is far too long for this", 60, 2)
    assert len(lines) == 2 and all(made.measured(line) <= 60 for line in lines) and lines[1].endswith("…")
    assert made.wrapped("one two", 100, 3) == ["one two"]
    assert made.wrapped("", 100, 2) == [] or made.wrapped("", 100, 2) == [""]

"""Drawings of twenty vessels: letters of 7 points and more on A4, no word on another, each kind by its own shape, a dry pump where it stands."""

import functools

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from aquaplumb.build import load
from aquaplumb.build.vessels import FILTERS, KINDS, Vessel
from aquaplumb.figures.elevation import Elevation
from aquaplumb.figures.vessel_signs import outline, strokes
from aquaplumb.workshop import as_built_words, paper
from aquaplumb.workshop.as_built import AsBuilt
from aquaplumb.workshop.line_plan import LinePlan
from many_vessels import chained, many_beds
from test_drawings import assert_apart, words_of, working_levels

A4 = (297 - 20) / 25.4 * 72, (210 - 22 - 20) / 25.4 * 72  # points inside margins of 10 and 12 mm, 20 mm for what stands over a drawing


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr(as_built_words, "water_levels", working_levels)


@functools.cache
def built(alike):
    return many_beds(alike=alike)


def sheets(build, system=None):
    yield from AsBuilt(build, system=system).sheets()
    for line in build.pumped:
        yield from LinePlan(build, line, system=system).sheets()


BUILDS = {
    "alike": lambda: built(True),
    "all different": lambda: built(False),
    "a chain of ten": chained,
    "four beds": lambda: load("greenhouse"),
}


@pytest.mark.sweep(1)
@pytest.mark.parametrize("system", ["metric", "US"])
@pytest.mark.parametrize("made", BUILDS.values())
def test_letters_are_seven_points_on_a4_and_none_stands_on_another(made, system):
    for drawing in sheets(made(), system):
        figure = drawing.figure()
        wide, high = figure.get_size_inches() * 72
        printed = min(1.0, A4[0] / wide, A4[1] / high)
        smallest = min(text.get_size() for text in words_of(drawing))
        assert smallest * printed >= 7.0 - 0.02, (drawing.title(), smallest, wide, high)
        assert_apart(drawing)


@pytest.mark.sweep(2)
@pytest.mark.parametrize("made", BUILDS.values(), ids=BUILDS)
def test_every_vessel_and_line_is_on_some_sheet(made):
    build = made()
    said = " ".join(text.get_text() for drawing in sheets(build) for text in words_of(drawing))
    first = AsBuilt(build)
    for name in build.vessels:
        group = next(many for many in first.alike.values() if name in many)
        assert group[0] in said and (len(group) == 1 or f"{len(group) - 1} more alike" in said)
        assert f"{name}: inside bottom at" in first.alt()
    for line in build.drops:
        assert line in said
    for line in build.pumped.values():
        for pipe in line.si.pipe:
            assert pipe.si.name in said


def test_only_what_is_alike_is_drawn_once():
    assert len(AsBuilt(built(False)).alike) == 20 - 3  # the greenhouse's own four beds are alike; each of twelve others has its height
    [one] = [many for many in AsBuilt(built(True)).alike.values() if len(many) > 1]
    assert one[0] == "bed 1" and len(one) == 16


def test_ten_branches_are_on_the_plan_in_order():
    seen = [text.get_text() for drawing in LinePlan(built(True), "bed loop").sheets() for text in words_of(drawing)]
    assert [name for name in seen if name.startswith("to bed")] == [f"to bed {k}" for k in range(1, 17)]


@pytest.mark.parametrize("alike", [True, False])
def test_names_on_the_screen_stand_apart(alike):
    picture = Elevation(built(alike))
    picture.png()
    pen = FigureCanvasAgg(picture.figure).get_renderer()
    texts = [*picture.names.values()]
    assert len(texts) == 20 and all(text.get_size() >= 7 for text in picture.figure.findobj(Text) if text.get_text())
    boxes = np.array([text.get_window_extent(pen).extents for text in texts])
    left, low, right, high = (boxes[:, i] for i in range(4))
    wide = np.minimum(right[:, None], right) - np.maximum(left[:, None], left)
    tall = np.minimum(high[:, None], high) - np.maximum(low[:, None], low)
    hit = np.triu((wide > 1) & (tall > 1), 1)  # pixels
    assert not hit.any(), [(texts[i].get_text(), texts[j].get_text()) for i, j in zip(*np.nonzero(hit))]


# --- each kind by its own shape -----------------------------------------------------------------------


def vessel(kind, **more):
    usual = {"shape": "round", "diameter": "1 m", "height": "1 m", "floor": "0 m", "working_depth": "0.8 m"}
    return Vessel(name="v", kind=kind, **{**usual, **({"sites": 6, "count": 3} if kind == "tower" else {}), **more})


def looks(v):
    level = v.si.floor + v.si.working_depth
    return repr((np.round(outline(v.si, v.si.height), 4).tolist(), [np.round(one, 4).tolist() for one in strokes(v, level)]))


def test_each_kind_and_each_filter_has_a_shape_of_its_own():
    made = {kind: looks(vessel(kind)) for kind in KINDS if kind != "filter"} | {
        f"filter {does}": looks(vessel("filter", does=does))
        for does in FILTERS
        if does != "settling"  # as a settling tank, which it is
    }
    assert len(set(made.values())) == len(made)
    assert looks(vessel("filter", does="settling")) == made["settling tank"]


def test_shapes_are_true():
    level = 0.5
    cone = vessel("fish tank", shape="cone-bottomed", cone_height="0.4 m").si
    assert ((0.5, 0.0)) in outline(cone, 1.0)
    drum = vessel("bed", shape="lying", length="2 m", diameter="1 m", height=None).si
    half = {round(y, 6): abs(right - left) for (left, y), (right, _) in zip(outline(drum, level), reversed(outline(drum, level)))}
    assert half[0.5] == pytest.approx(1.0) and half[0.0] == pytest.approx(0.0)  # as wide as it is in its middle; a point at its bottom
    y = sorted(half)[4]
    assert half[y] == pytest.approx(2 * np.sqrt(0.25 - (0.5 - y) ** 2))  # Pythagoras
    sloping = vessel("channel", shape="rectangular", length="4 m", width="0.1 m", height="0.3 m", slope="3 %", working_depth="5 mm").si
    assert (0.0, pytest.approx(0.12)) in outline(sloping, 0.3) and (1.0, 0.0) in outline(sloping, 0.3)  # 3 % of 4 m
    stands = vessel("bed", floor="0.6 m", legs=4)
    assert sum(one[-1][1] == 0.0 and one[0][1] == 0.6 for one in strokes(stands, 1.0)) == 2


@pytest.mark.parametrize("height, over", [("-0.3 m", False), ("0.4 m", True)])
def test_a_dry_pump_stands_where_it_stands(height, over):
    build = load("courtyard").changed({("lines", "riser", "pump_height"): height, ("lines", "riser", "suction"): None})
    made = AsBuilt(build)
    made.figure()
    rim = made.places["sump"].right
    assert made.across["pump", "riser"] > rim > made.across["inlet", "riser"]
    [ring] = [text for text in words_of(made) if text.get_text() == made.letters["riser"] and text.get_position()[0] > rim]
    assert ring.get_position()[1] == pytest.approx(made._y(build.pumped["riser"].si.pump_height))
    assert_apart(made)
    picture = Elevation(build)
    picture.png()
    disc, _ = picture.pumps["riser"]
    assert disc.get_xdata()[0] > picture.places["sump"].right
    assert disc.get_ydata()[0] == pytest.approx(build.pumped["riser"].si.pump_height)
    assert (build.pumped["riser"].si.pump_height > build.vessels["sump"].rim) == over
    assert made.width == paper.WIDE

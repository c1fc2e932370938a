"""Texts of pictures are drawn as matplotlib draws them: cross-checks against its own canvas."""

import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from packaging.version import Version

from aquaplumb.figures import canvas

TURNED = 1.0 if Version(matplotlib.__version__) >= Version("3.11") else 3.5  # pixels: until then matplotlib put turned texts off by so much
TEXTS = ["1,140 L/h", "Ångström, ½ m³/h", "two\nlines", "bed 2"]


def inked(kind, words, angle, dpi=100.0):
    """Where a canvas of this kind puts ink: darkness by row and column, from 0 to 1."""
    figure = Figure(figsize=(3, 2), dpi=dpi, facecolor="white")
    drawn = kind(figure)
    figure.text(0.5, 0.5, words, rotation=angle, ha="center", va="center", size=10, color="black", parse_math=False)
    drawn.draw()
    return 1 - np.asarray(drawn.buffer_rgba())[:, :, 0] / 255.0


def middle(ink):
    """Row and column of the middle of the ink."""
    rows, columns = np.indices(ink.shape)
    return np.array([(rows * ink).sum(), (columns * ink).sum()]) / ink.sum()


@pytest.mark.parametrize("dpi", [100.0, 200.0])
@pytest.mark.parametrize("angle", [0, 90, 30])
@pytest.mark.parametrize("words", TEXTS)
def test_a_text_stands_where_matplotlib_puts_it(words, angle, dpi):
    """On whole pixels, so half a pixel off at most in each of two places. As much ink, but for its edges."""
    ours, theirs = inked(canvas.Canvas, words, angle, dpi), inked(FigureCanvasAgg, words, angle, dpi)
    assert np.abs(middle(ours) - middle(theirs)).max() < (TURNED if angle else 1.001)  # pixels: matplotlib 3.8 sets whole ones
    assert ours.sum() == pytest.approx(theirs.sum(), rel=0.06)


@pytest.mark.parametrize("words", TEXTS[:2])
def test_a_text_has_matplotlibs_size_however_often_it_is_asked(words):
    sizes = []
    for kind in (FigureCanvasAgg, canvas.Canvas, canvas.Canvas):
        figure = Figure(figsize=(3, 2))
        pen, said = kind(figure).get_renderer(), figure.text(0.1, 0.1, words, size=10, parse_math=False)
        sizes.append(said.get_window_extent(pen).bounds)
    assert sizes[0] == sizes[1] == sizes[2]


def test_a_kept_text_is_drawn_the_same_again():
    assert (inked(canvas.Canvas, "12.5 cm", 0) == inked(canvas.Canvas, "12.5 cm", 0)).all()


def test_what_is_kept_has_a_bound(monkeypatch):
    monkeypatch.setattr(canvas, "_KEPT", 5)
    monkeypatch.setattr(canvas, "_images", {})
    for number in range(12):
        inked(canvas.Canvas, f"{number} m", 0)
    assert 0 < len(canvas._images) <= 5

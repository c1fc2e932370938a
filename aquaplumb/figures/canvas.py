"""Words on pictures, quickly: matplotlib's own canvas, on which the image and the size of a text are worked out once.

From matplotlib 3.11 on each letter is placed by itself, and a move of a picture took twice its time. A text is set whole
here, on whole pixels, as matplotlib did before.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib import rcParams
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg, get_hinting_flag

_KEPT = 3000  # texts, some hundred pixels to some thousand each
_images: dict[tuple, tuple] = {}
_sizes: dict[tuple, tuple] = {}


def _kept(known: dict, key: tuple, value: tuple) -> tuple:
    if len(known) >= _KEPT:
        known.clear()
    known[key] = value
    return value


class Pen(RendererAgg):
    """Draws texts from their kept images; all else is matplotlib's."""

    def draw_text(self, gc, x, y, s, prop, angle, ismath: Any = False, mtext=None) -> None:
        """A text with the left end of its baseline at (x, y), turned by an angle in degrees."""
        if ismath:
            super().draw_text(gc, x, y, s, prop, angle, ismath, mtext)
            return
        key = self._key(s, prop)
        image, right, descent = _images.get(key) or _kept(_images, key, self._imaged(s, prop))
        cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        corner = round(x + right * cos + (descent + 1) * sin), round(y - right * sin + (descent + 1) * cos)  # the row under it
        self._renderer.draw_text_image(image, *corner, angle, gc)

    def _key(self, s: str, prop) -> tuple:
        return s, hash(prop), self.dpi, rcParams["text.hinting"]

    def _imaged(self, s: str, prop) -> tuple[np.ndarray, float, float]:
        """(the image of a text, how far from its start it begins, how deep it reaches below its baseline), in pixels."""
        font = self._prepare_font(prop)
        font.set_text(s, 0.0, flags=get_hinting_flag())
        font.draw_glyphs_to_bitmap(antialiased=True)
        right, _ = font.get_bitmap_offset()
        return np.array(font.get_image()), right / 64, font.get_descent() / 64

    def get_text_width_height_descent(self, s, prop, ismath):
        """Its size in pixels: width, height, and how deep below its baseline."""
        if ismath:
            return super().get_text_width_height_descent(s, prop, ismath)
        key = self._key(s, prop)
        return _sizes.get(key) or _kept(_sizes, key, super().get_text_width_height_descent(s, prop, ismath))


class Canvas(FigureCanvasAgg):
    """A figure's canvas whose texts are drawn by a `Pen`."""

    _wanted: tuple = ()

    def get_renderer(self) -> Pen:
        """The pen for the figure's size, a new one where it has changed."""
        wanted = (*self.get_width_height(physical=True), self.figure.dpi)
        if self._wanted != wanted:
            self.renderer, self._wanted = Pen(*wanted), wanted
        return self.renderer

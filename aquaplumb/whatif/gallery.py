"""The layouts of first builds side by side: a small drawing of each, its name, and whom it suits."""

from __future__ import annotations

import base64
import functools
import html
from pathlib import Path

from aquaplumb.build import MINE, Build
from aquaplumb.build.layout_kinds import KINDS
from aquaplumb.build.layouts import first_build
from aquaplumb.figures.elevation import Elevation
from aquaplumb.whatif import widgets

_STYLE = """<style>
.widget-html-content:has(> .ap-gallery) { width: 100%; min-width: 0; }
.ap-gallery { display: grid; grid-template-columns: repeat(auto-fill, minmax(min(100%, 165px), 1fr)); gap: 14px 16px;
  list-style: none; margin: 4px 0; padding: 0; color: var(--jp-ui-font-color1, #26323c); line-height: 1.35; }
.ap-gallery li { margin: 0; }
.ap-gallery img { display: block; width: 100%; height: auto; background: white; border: 1px solid #e6e9ec; }
.ap-gallery b { display: block; margin: 3px 0 1px; }
</style>"""


class SmallElevation(Elevation):
    """A build from the side without words and ruler, to be told from others at a glance."""

    width, height, scale, titled = 300, 168, 2.0, False

    def place(self) -> tuple[float, float, float, float]:
        return 0.01, 0.03, 0.98, 0.94

    def frame(self, record) -> None:
        super().frame(record)
        self.axes.axis("off")
        for words in self.names.values():
            words.set_visible(False)

    def _legend(self) -> None:
        """The large drawings have it."""


@functools.lru_cache(maxsize=4)
def pictures(units: str) -> dict[str, bytes]:
    """The small drawing of each layout with two of what it grows in, as PNG, by the layout's name."""
    builds = {layout: Build(first_build.si(layout, beds=2, units=units), Path(MINE)) for layout in KINDS}
    return {layout: SmallElevation(build, system=units).png(compression=6) for layout, build in builds.items()}


class Gallery:
    """All layouts to choose from; display it in a notebook.

    A widget, not bare HTML: what a page prints is compared when it is run again, and no two machines draw alike.
    """

    def __init__(self, units: str = "metric"):
        self.units = units

    @property
    def html(self) -> str:
        """The drawings with their words, as many side by side as there is room for."""
        shown = []
        for layout, png in pictures(self.units).items():
            words = html.escape(f"{layout.capitalize()}, from the side: {KINDS[layout].about}.")
            source = base64.b64encode(png).decode()
            image = (
                f'<img alt="{words}" width="{SmallElevation.width}" height="{SmallElevation.height}" src="data:image/png;base64,{source}">'
            )
            shown.append(f"<li>{image}<b>{html.escape(layout)}</b>{html.escape(_suits(layout))}</li>")
        return f'{_STYLE}<ul class="ap-gallery">{"".join(shown)}</ul>'

    def __repr__(self):
        return "\n".join(f"{layout}: {_suits(layout)}" for layout in KINDS)

    def _repr_mimebundle_(self, include=None, exclude=None):
        shown = widgets.HTML(self.html, layout=widgets.Layout(width="auto", max_width="860px", min_width="0"))
        return {**shown._repr_mimebundle_(), "text/plain": repr(self)}


def _suits(layout: str) -> str:
    return f"For {KINDS[layout].suits}"

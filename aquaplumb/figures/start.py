"""The picture of a first build: from the side, to scale in height, and under it from above, to scale both ways."""

from __future__ import annotations

import textwrap
from typing import Any

from matplotlib.patches import Ellipse, Rectangle

from aquaplumb.build.ground import GroundPlan, Placed
from aquaplumb.build.placing import takes
from aquaplumb.figures.elevation import Elevation
from aquaplumb.figures.style import COLOURS, FONT, WRITTEN
from aquaplumb.units import LENGTH

_ABOVE, _SIDE = 290, 360  # pixels of height: of the plan, of the view from the side
_WIDE, _HIGH = 450, 236  # pixels that the place may take
_LETTER, _LINE = 5.4, 11.5  # pixels of a letter, and of a line, of a small name
_BARS = {"metric": (1.0, "1 m"), "US": (0.9144, "3 ft")}


class StartPicture(Elevation):
    """A first build from the side and from above. Its record is a `aquaplumb.whatif.start.FirstBuild`."""

    height = _SIDE + _ABOVE

    def __init__(self, record=None, *, system: str = "metric"):
        super().__init__(record, system=system)
        self._seen: dict[tuple, bytes] = {}

    def png(self, record=None, system: str | None = None, *, compression: int = 1) -> bytes:
        """The drawing as PNG; nothing in it moves, so one drawn before is kept."""
        record = self.record if record is None else record
        self.system = system or self.system
        mark = (self.system, self.titled, self.scale, compression, self.key(record), self.title(record))
        if mark not in self._seen:
            if len(self._seen) > 60:
                self._seen.clear()
            self._seen[mark] = super().png(record, compression=compression)
        return self._seen[mark]

    def drawn(self, record):
        """The build in the record."""
        return record.si.build

    def key(self, record):
        """What the drawing depends on: the build, and where it stands."""
        return super().key(record) + repr(record.si.ground)

    def place(self) -> tuple[float, float, float, float]:
        """Where the view from the side stands: above the plan."""
        left, bottom, roof = 62 / self.width, (_ABOVE + 14) / self.height, (48 if self.titled else 8) / self.height
        return left, bottom, 1 - left - 12 / self.width, 1 - bottom - roof

    def alt(self, record) -> str:
        """Both drawings in words."""
        ground = record.si.ground
        pieces = "; ".join(f"{piece.name}, {self._size(piece.length, piece.width)}" for piece in ground.pieces)
        fits = "the place has room for it" if ground.fits else "that is more than the place has"
        return (
            f"{super().alt(record)} From above, to scale: {pieces}. With paths of {self.text(LENGTH, ground.path)} it takes "
            f"{self._size(ground.length, ground.width)} of a place of {self._size(*ground.place)}: {fits}."
        )

    def frame(self, record) -> None:
        """Draw everything; nothing moves."""
        super().frame(record)
        self._from_above(record.si.ground)

    def _size(self, length: float, width: float) -> str:
        return f"{takes(length, self.system)} by {takes(width, self.system)}"

    # --- from above

    def _from_above(self, ground: GroundPlan) -> None:
        """The place, the vessels on it, a bar to measure by, and what goes with them in words."""
        long, wide = (max(own, place) for own, place in zip((ground.length, ground.width), ground.place))
        metre = min(_WIDE / long, _HIGH / wide)
        axes = self.figure.add_axes((14 / self.width, 30 / self.height, long * metre / self.width, wide * metre / self.height))
        axes.set(xlim=(0, long), ylim=(0, wide))
        axes.axis("off")
        axes.add_patch(Rectangle((0, 0), *ground.place, facecolor=COLOURS["grid"], edgecolor=COLOURS["ink"], linewidth=1.2, clip_on=False))
        named: dict[str, str] = {}
        for piece in sorted(ground.pieces, key=lambda piece: not piece.below):
            out = piece.x + piece.length > ground.place[0] + 1e-9 or piece.y + piece.width > ground.place[1] + 1e-9
            axes.add_patch(_shape(piece, out))
            number = named.get(piece.name) or str(len([mark for mark in named.values() if mark]) + 1)
            mark = self._name(axes, piece, metre, number)
            named.setdefault(piece.name, mark)
        numbered = [f"{mark} {name}" for name, mark in named.items() if mark]
        self._bar(axes, metre)
        self._beside(ground, long * metre, numbered)

    def _name(self, axes, piece: Placed, metre: float, number: str) -> str:
        """A vessel's name on it, where it has room; else a number, which is handed back."""
        lines = textwrap.wrap(piece.name, max(1, int(piece.length * metre / _LETTER)), break_long_words=False)
        fits = len(lines) * _LINE <= piece.width * metre and max(map(len, lines)) * _LETTER <= piece.length * metre
        mark = "" if fits and not piece.below else number
        x, y = piece.middle
        if piece.below:  # under what stands over it: at its edge
            y = piece.y + 6 / metre
        elif piece.width * metre < _LINE:  # too small for a number: over it
            y = piece.y + piece.width + 7 / metre
        axes.text(
            x, y, mark or "\n".join(lines), ha="center", va="center", fontsize=FONT - 1.5, color=COLOURS["ink"], linespacing=1.1, zorder=8,
            parse_math=False, bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8} if piece.floor < 0 else None,
        )  # fmt: skip
        return mark

    def _bar(self, axes, metre: float) -> None:
        """A bar to measure by, under the place."""
        length, words = _BARS[self.system]
        y = -10 / metre
        axes.plot(
            [0, length], [y, y], color=COLOURS["ink"], linewidth=2.0, marker="|", markersize=7, clip_on=False, scalex=False, scaley=False
        )
        axes.text(length + 6 / metre, y, words, va="center", fontsize=FONT - 1, color=COLOURS["ink"])

    def _beside(self, ground: GroundPlan, taken: float, numbered: list[str]) -> None:
        """What the drawing from above says, in words, at its right."""
        words = [
            "From above, to scale.",
            f"Your place: {self._size(*ground.place)}.",
            f"It takes {self._size(ground.length, ground.width)}, with paths of {self.text(LENGTH, ground.path)}"
            + ("." if ground.fits else ": more than there is."),
        ]
        if ground.pit:
            words.append(f"Hatched: in a pit {self.text(LENGTH, ground.pit)} deep.")
        if any(piece.below for piece in ground.pieces):
            words.append("Dashed: under what stands over it, on a frame.")
        words += [", ".join(numbered) + "."] if numbered else []
        lines = [line for sentence in words for line in textwrap.wrap(sentence, int((self.width - taken - 44) / 6.0))]
        self.figure.text(
            (taken + 32) / self.width, (_ABOVE - 14) / self.height, "\n".join(lines), va="top", fontsize=FONT - 0.5, linespacing=1.35,
            color=COLOURS["ink"] if ground.fits else WRITTEN["wrong"], parse_math=False,
        )  # fmt: skip


def _shape(piece: Placed, out: bool):
    """The outline of a vessel from above; one that stands outside the place is red-orange."""
    look: dict[str, Any] = {
        "facecolor": "none" if piece.below else "white", "edgecolor": COLOURS["wrong"] if out else COLOURS["ink"], "linewidth": 1.3,
        "linestyle": (0, (4, 2)) if piece.below else "-", "hatch": "////" if piece.floor < 0 else None, "zorder": 7 if piece.below else 5, "clip_on": False,
    }  # fmt: skip
    if piece.round:
        return Ellipse(piece.middle, piece.length, piece.width, **look)
    return Rectangle((piece.x, piece.y), piece.length, piece.width, **look)

"""The picture of the water on one day: where ammonia harms gills, whether nitrite has its chloride, how long alkalinity lasts."""

from __future__ import annotations

import numpy as np
from matplotlib.colors import to_rgb

from aquaplumb.figures.style import COLOURS, Picture
from aquaplumb.system.upkeep_plan import FLOOR
from aquaplumb.units import CONCENTRATION, DAY, DAYS, NUMBER, TEMPERATURE, span

_COLD, _WARM = 283.15, 308.15  # K: ends of the rulers
_ACID, _BASIC = 6.0, 9.0
_NITRITE, _CHLORIDE, _ALKALINITY = 5e-3, 300e-3, 300e-3  # kg/m³
_AHEAD = 14 * DAY
_PALE = 0.14


class CarePicture(Picture):
    """Left, pH against warmth with the region where this ammonia harms gills; right, nitrite against chloride, and the alkalinity of the coming days.

    Its record is a `aquaplumb.whatif.water_care.Day`.
    """

    width, height = 700, 420

    def frame(self, record) -> None:
        """Three rulers."""
        self.field = field = self.plane(("pH", NUMBER, _ACID, _BASIC), ("water", TEMPERATURE, _COLD, _WARM), box=(0.0, 0.0, 0.51, 1.0))
        self.harm, self.edge = self._wrong(field), field.curve("water")
        self.harm_word = field.word(align="right")
        self.now = field.dot("good")
        self.salt = salt = self.plane(
            ("nitrite, as N", CONCENTRATION, 0.0, _NITRITE), ("chloride", CONCENTRATION, 0.0, _CHLORIDE), box=(0.5, 0.5, 0.5, 0.5)
        )
        self.short, self.line = self._wrong(salt), salt.curve("water")
        self.salt_word, self.shield = salt.word(align="right"), salt.dot("good")
        self.ahead = ahead = self.plane(
            ("days from today", DAYS, 0.0, _AHEAD), ("alkalinity", CONCENTRATION, 0.0, _ALKALINITY), box=(0.5, 0.0, 0.5, 0.5)
        )
        ahead.axes.set(xlabel="days from today")
        ahead.word(still=True, align="right").put(0.98 * _AHEAD, 0.86 * _ALKALINITY, "as CaCO3, with nothing added")
        low = self._wrong(ahead, still=True)
        low.put(np.array([0.0, _AHEAD]), np.zeros(2), np.full(2, FLOOR))
        self.level, self.left = ahead.curve("water"), ahead.dot("good")
        self.left_word = ahead.word()
        for dot in (self.now, self.shield, self.left):
            dot.artist.set_clip_on(False)

    def _wrong(self, plane, *, still: bool = False):
        """A region that will not do: pale and hatched."""
        region = plane.band("wrong", still=still)
        pale = 1 - _PALE * (1 - np.array(to_rgb(COLOURS["wrong"])))
        region.artist.set(alpha=1.0, facecolor=pale, edgecolor=1 - 1.6 * (1 - pale), hatch="///", zorder=0.6)
        return region

    def move(self, record) -> None:
        """What the sliders move."""
        r = record.si
        everywhere = r.tan > r.tan_limit
        edge = np.full_like(r.edge, _ACID) if everywhere else np.clip(r.edge, _ACID, _BASIC)
        self.harm.artist.set_xy(np.column_stack([
            np.concatenate([self.field.x(edge), np.full(len(edge), _BASIC)]), np.concatenate([self.field.y(r.warmths), self.field.y(r.warmths[::-1])]),
        ]))  # fmt: skip
        self.edge.put(r.edge, r.warmths)
        word = f"over {self.text(CONCENTRATION, r.tan_limit)}:\ntoo much at any pH" if everywhere else "gills are harmed"
        if everywhere or edge[-1] < _BASIC - 0.05:
            self.harm_word.put(_BASIC - 0.05, _WARM - (3.4 if everywhere else 1.7), word)
        else:
            self.harm_word.hide()
        self.now.put(np.clip(r.ph, _ACID, _BASIC), np.clip(r.temperature, _COLD, _WARM), works=record.gills_safe)
        ends = np.array([0.0, _NITRITE])
        self.short.put(ends, np.zeros(2), r.ratio * ends)
        self.line.put(ends, r.ratio * ends)
        self.salt_word.put(0.98 * _NITRITE, 0.04 * _CHLORIDE, "too little chloride")
        self.shield.put(min(r.nitrite, _NITRITE), min(r.chloride, _CHLORIDE), works=record.shielded)
        days = np.array([0.0, min(r.alkalinity_time, _AHEAD)])
        level = r.alkalinity - r.fall / DAY * days
        self.level.put(days, np.maximum(level, 0.0))
        ok = r.alkalinity > FLOOR + r.fall
        self.left.put(days[-1], min(max(level[-1], 0.0), _ALKALINITY), works=bool(ok))
        late = days[-1] > 0.55 * _AHEAD
        self.left_word.artist.set_ha("right" if late else "left")
        self.left_word.put(days[-1] + (-0.02 if late else 0.03) * _AHEAD, min(max(level[-1], FLOOR) + 0.05 * _ALKALINITY, 0.9 * _ALKALINITY) if not late else 0.55 * _ALKALINITY,
                           span(r.alkalinity_time) if r.alkalinity > FLOOR else "used up")  # fmt: skip

    # --- words

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        said = [record.sentence(self.system)]
        at = float(np.interp(r.temperature, r.warmths, r.edge))
        where = f"right of a line; at {self.text(TEMPERATURE, r.temperature)} it is at pH {at:.1f}" if at < _BASIC else "nowhere on it"
        said.append(
            f"Left: pH against the water's warmth. With {self.text(CONCENTRATION, r.tan)} of ammonia (as N) gills are harmed {where}. The water is at pH {r.ph:.1f}."
        )
        said.append(
            f"Upper right: nitrite of {self.text(CONCENTRATION, r.nitrite)} (as N) beside chloride of {self.text(CONCENTRATION, r.chloride)}; it asks for {self.text(CONCENTRATION, r.chloride_wanted)}."
        )
        said.append(
            f"Lower right: alkalinity of {self.text(CONCENTRATION, r.alkalinity)} (as CaCO3) falls by {self.text(CONCENTRATION, r.fall)} a day to {self.text(CONCENTRATION, FLOOR)}."
        )
        return " ".join(said)

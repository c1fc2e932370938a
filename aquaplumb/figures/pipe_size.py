"""The pictures of pipe size: a map of speed and friction, and the speeds of a whole line."""

from __future__ import annotations

import numpy as np
from matplotlib.patches import Polygon, Rectangle
from matplotlib.ticker import FixedLocator, NullFormatter, NullLocator

from aquaplumb import water
from aquaplumb.figures.style import COLOURS, FONT, Picture
from aquaplumb.plumbing import pipes
from aquaplumb.units import BORE, FLOW, NUMBER, SHARE, SPEED

_FLOWS = (100 / 3.6e6, 16000 / 3.6e6)  # m³/s: the map's ruler
_LOSSES = (0.0002, 0.5)  # m in a metre
_LABEL = 0.4  # m/s: where on its curve a size is named
_STEPS = [lead * 10.0**power for power in range(-3, 6) for lead in (1, 2, 5)]
_BORES = np.geomspace(0.004, 0.2, 30)  # for the edges of the bands
# The good speeds as the page says them: `pipes.SPEED_LOW` and `SPEED_HIGH` in round numbers.
GOOD = {"metric": "0.6 to 1.5 m/s", "US": "2 to 5 ft/s"}


class PipeMap(Picture):
    """Head lost in pipe against flow: the chosen size dark, the next smaller and larger faint, both rulers by tens.

    The band is where the speed is good; the point is the stretch. Its record is a `aquaplumb.whatif.pipe_size.SizedStretch`.
    """

    width, height = 640, 400

    def key(self, record):
        """The rulers never change; the bands belong to the water."""
        return round(record.si.temperature, 1)

    def frame(self, record) -> None:
        """Rulers and bands; all curves move, and the words lie over them."""
        r = record.si
        plane = self.plane(("flow", FLOW, *_FLOWS), ("head lost, part of the pipe's length", SHARE, *_LOSSES))
        axes = plane.axes
        axes.set(xscale="log", yscale="log")
        for ruler in (axes.xaxis, axes.yaxis):
            low, high = ruler.get_view_interval()
            ruler.set_major_locator(FixedLocator([step for step in _STEPS if low * 0.999 <= step <= high * 1.001]))
            ruler.set_minor_locator(NullLocator())
            ruler.set_minor_formatter(NullFormatter())
            ruler.set_major_formatter(lambda number, _place: f"{number:,.10g}")
        area = np.pi * _BORES**2 / 4
        self._band(plane, [(v * area, self._loss(r, v * area, _BORES)) for v in (pipes.SPEED_LOW, pipes.SPEED_HIGH)], "good", 0.15)
        viscosity = water.kinematic_viscosity.si(r.temperature)
        turning = [re * np.pi * _BORES * viscosity / 4 for re in (pipes.LAMINAR, pipes.TURBULENT)]
        self._band(plane, [(flow, self._loss(r, flow, _BORES)) for flow in turning], "faint", 0.3)
        self.neighbours = [(plane.curve("faint"), plane.word("ink", align="center")) for _ in range(2)]
        self._says(plane, r)
        self.curve, self.point = plane.curve("pump"), plane.dot("good")
        self.own, self.off = plane.word("ink", align="center"), plane.word("ink")
        self.own.artist.set_weight("bold")

    def _name(self, word, r, size: str, bore: float) -> None:
        """A size's name upon its curve, along it."""
        flow = _LABEL * np.pi * bore**2 / 4
        word.put(flow, self._loss(r, flow, bore), size)
        axes = word.plane.axes
        ends = axes.transData.transform([[word.plane.x(q), word.plane.y(self._loss(r, q, bore))] for q in (flow, 1.2 * flow)])
        word.artist.set(va="center", rotation=np.degrees(np.arctan2(*(ends[1] - ends[0])[::-1])), rotation_mode="anchor")
        word.artist.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 1})
        word.artist.set_visible(bool(flow < 0.75 * _FLOWS[1]))

    def _says(self, plane, r) -> None:
        """What the places of the map mean, in words on it."""
        for x, y, text, align in (
            (0.03, 0.93, "too fast: noise, hammer, lost head", "left"),
            (0.97, 0.04, "too slow: dirt settles", "right"),
        ):
            self.moving(plane.axes.text(x, y, text, transform=plane.axes.transAxes, ha=align, fontsize=FONT + 0.5, color=COLOURS["ink"], style="italic",
                                        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1}, zorder=6))  # fmt: skip
        middle = 2 * _FLOWS[0]  # where no size's curve runs through the band
        bore = np.sqrt(4 * middle / np.pi / np.sqrt(pipes.SPEED_LOW * pipes.SPEED_HIGH))
        word = plane.word("ink")
        word.put(_FLOWS[0] * 1.2, self._loss(r, middle, bore), f"good: {GOOD[self.system]}")
        word.artist.set(va="center", weight="bold")
        word.artist.set_bbox({"facecolor": "#D9F0E9", "edgecolor": "none", "pad": 1})
        word = plane.word("ink")
        word.put(_FLOWS[0] * 1.05, _LOSSES[0] * 1.15, "laminar to turbulent")
        word.artist.set_bbox({"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1})

    @staticmethod
    def _loss(r, flow, bore):
        return pipes.friction_head.si(flow, bore, 1.0, temperature=r.temperature)

    @staticmethod
    def _band(plane, edges, role: str, alpha: float) -> None:
        (x, y), (x2, y2) = edges
        corners = np.column_stack([np.concatenate([plane.x(x), plane.x(x2)[::-1]]), np.concatenate([plane.y(y), plane.y(y2)[::-1]])])
        plane.add(Polygon(corners, closed=True, facecolor=COLOURS[role], alpha=alpha, linewidth=0, zorder=1.5), still=True)

    def move(self, record) -> None:
        """The curves of the chosen size and of its neighbours, and the point."""
        r = record.si
        flows = np.geomspace(*_FLOWS, 60)
        beside = _neighbours(r)
        for (curve, word), (size, bore) in zip(self.neighbours, beside):
            curve.put(flows, self._loss(r, flows, bore))
            self._name(word, r, size, bore)
        for curve, word in self.neighbours[len(beside) :]:  # the smallest and the largest size have one
            curve.hide()
            word.hide()
        self.curve.put(flows, self._loss(r, flows, r.bore))
        self._name(self.own, r, r.size, r.bore)
        loss = max(r.slope, 1e-12)
        x, y = np.clip(r.flow, *_FLOWS), np.clip(loss, *_LOSSES)
        self.point.put(x, y, works=good_speed(r.speed))
        if (x, y) != (r.flow, loss):
            self.off.put(x, y * 1.3 if y < 0.1 else y / 1.6, f"{r.size}: off the map")
            self.off.artist.set_ha("right" if x > 0.01 * _FLOWS[1] ** 0.5 else "left")
        else:
            self.off.hide()

    def title(self, record) -> str:
        """The finding, in a sentence."""
        return record.sentence(self.system, short=True)

    def alt(self, record) -> str:
        """What the picture says, in words."""
        r = record.si
        sizes = "; ".join(
            f"{size} {self.text(SPEED, pipes.speed.si(r.flow, bore))}, {_hundred(self._loss(r, r.flow, bore))} of its length"
            for size, bore in [(r.size, r.bore), *_neighbours(r)]
        )
        regime = (
            "laminar" if r.reynolds < pipes.LAMINAR else "turbulent" if r.reynolds > pipes.TURBULENT else "between laminar and turbulent"
        )
        return (
            f"{record.sentence(self.system)} A map of head lost against flow, with rising curves for this size and the next ones of {r.standard}. "
            f"The bore of {r.size} is {self.text(BORE, r.bore)}; the flow is {regime} (Reynolds number {r.reynolds:,.0f}). Good speed is {GOOD[self.system]}. "
            f"At {self.text(FLOW, r.flow)} the sizes have: {sizes}."
        )


class LinePicture(Picture):
    """All stretches of the pumped lines of a build: the speed of the water in each, and the head lost in its pipe.

    Its record is a `aquaplumb.whatif.pipe_size.LineSpeeds`.
    """

    width = 680

    def __init__(self, record=None, *, system: str = "metric"):
        super().__init__(record, system=system)
        self.height = 130 + 26 * (len(record.si.stretches) if record is not None else 6)

    def key(self, record):
        """One frame a build."""
        return record.si.stretches

    def frame(self, record) -> None:
        """All of it stands still."""
        rows = record.si.stretches
        fastest = max(1.2 * pipes.SPEED_HIGH, *(1.1 * s.speed for s in rows))
        most = 1.6 * max(s.loss for s in rows) or 1e-3
        left = (238 - 58) / self.width
        speeds = self.plane(("speed", SPEED, 0.0, fastest), ("", NUMBER, 0.0, len(rows) + 0.2), box=(left, 0.0, 0.40, 1.0))
        heads = self.plane(
            ("head lost in the pipe", BORE, 0.0, most), ("", NUMBER, 0.0, len(rows) + 0.2), box=(left + 0.345, 0.0, 0.39, 1.0)
        )
        for plane in (speeds, heads):
            plane.axes.yaxis.set_visible(False)
        band = Rectangle((speeds.x(pipes.SPEED_LOW), 0), speeds.x(pipes.SPEED_HIGH - pipes.SPEED_LOW), len(rows) + 0.2,
                         facecolor=COLOURS["good"], alpha=0.15, linewidth=0, zorder=1)  # fmt: skip
        speeds.add(band, still=True)
        across = speeds.axes.get_window_extent().width / self.scale
        for place, s in enumerate(rows):
            middle = len(rows) - 0.4 - place
            for x, text, align in (
                (-206, s.name if len(s.name) < 19 else f"{s.name[:17]}…", "left"),
                (-76, s.size, "right"),
                (-10, self.text(FLOW, s.flow), "right"),
            ):
                shift = x if align == "right" else x - 24
                speeds.axes.text(shift / across, middle, text, transform=speeds.axes.get_yaxis_transform(), ha=align, va="center",
                                 fontsize=FONT, color=COLOURS["ink"], parse_math=False)  # fmt: skip
            speeds.dot("good", still=True).put(s.speed, middle, works=good_speed(s.speed))
            word = speeds.word("ink", still=True, align="right" if s.speed > 0.75 * fastest else "left")
            word.put(s.speed + (-0.05 if s.speed > 0.75 * fastest else 0.05) * fastest, middle, self.text(SPEED, s.speed))
            word.artist.set_va("center")
            bar = Rectangle((0, middle - 0.27), heads.x(s.loss), 0.54, facecolor=COLOURS["water"], linewidth=0, zorder=2.5)
            heads.add(bar, still=True)
            word = heads.word("ink", still=True)
            word.put(s.loss + 0.02 * most, middle, self.text(BORE, s.loss))
            word.artist.set_va("center")

    def move(self, record) -> None:
        """Nothing moves."""

    def title(self, record) -> str:
        """The finding, in a sentence."""
        rows = record.si.stretches
        fast, good = max(rows, key=lambda s: s.speed), sum(good_speed(s.speed) for s in rows)
        return f"**{good} of {len(rows)}** stretches run at a good speed; the fastest is {fast.name}, **{self.text(SPEED, fast.speed)}**."

    def alt(self, record) -> str:
        """What the picture says, in words."""
        each = "; ".join(
            f"{s.name}, {s.size}: {self.text(FLOW, s.flow)} at {self.text(SPEED, s.speed)}, {self.text(BORE, s.loss)} lost"
            for s in record.si.stretches
        )
        return f"{self.title(record)} A dot for the speed in each stretch (good: {GOOD[self.system]}) and a bar for the head lost in its pipe. {each}."


def _neighbours(r) -> list[tuple[str, float]]:
    """The next smaller and the next larger size of the standard, each with its bore."""
    smaller = [one for one in r.sizes if one[1] < 0.999 * r.bore]
    larger = [one for one in r.sizes if one[1] > 1.001 * r.bore]
    return sorted(smaller, key=lambda one: one[1])[-1:] + sorted(larger, key=lambda one: one[1])[:1]


def good_speed(speed: float) -> bool:
    """Whether water of this speed [m/s] carries its dirt and makes no noise."""
    return bool(pipes.SPEED_LOW * (1 - pipes.NEAR) <= speed <= pipes.SPEED_HIGH * (1 + pipes.NEAR))


def _hundred(slope: float) -> str:
    return SHARE.text(float(slope))

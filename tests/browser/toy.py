"""A small what-if to test the base with: water leaves a level pipe end and falls in a parabola into a tank."""

from __future__ import annotations

import numpy as np

from aquaplumb.figures.style import Picture
from aquaplumb.units import BORE, FLOW, LENGTH, DesignError, Length, Record
from aquaplumb.whatif.base import Choice, Count, Panel, Slider, Switch

GRAVITY = 9.80665


class Jet(Record):
    along: object
    up: object
    low: object
    landing: Length
    wall: Length


def jet(flow, bore, height, pipes, wind, wall):
    speed = flow / pipes / (np.pi * bore**2 / 4)
    if speed > 9:
        raise DesignError(f"{pipes} x {BORE.text(bore)} is too narrow for <b>{FLOW.text(flow)}</b>; take a wider pipe.")
    if wall == "fault":
        raise ZeroDivisionError("made to fail")
    landing = speed * np.sqrt(2 * height / GRAVITY) * (0.9 if wind else 1.0)
    along = np.linspace(0, landing, 200) if landing else np.zeros(200)
    up = height * (1 - (along / max(landing, 1e-9)) ** 2)
    return Jet.from_si(along=along, up=up, low=0.8 * up, landing=landing, wall={"near": 0.8, "far": 1.6}[wall])


class JetPicture(Picture):
    def frame(self, record):
        plane = self.plane(("distance", LENGTH, "0 m", "2 m"), ("height", LENGTH, "0 m", "1.2 m"))
        self.faint = plane.curve("faint", still=True)
        self.faint.put(np.linspace(0, 2, 50), np.linspace(1.0, 0.6, 50))
        plane.word(still=True).put(0.1, 1.0, "rim $")
        self.band, self.path = plane.band("water"), plane.curve("water")
        self.wall, self.point = plane.mark("needed"), plane.dot("good")

    def move(self, record):
        self.path.put(record.si.along, record.si.up)
        self.band.put(record.si.along, record.si.low, record.si.up)
        self.wall.put(record.si.wall, "wall")
        self.point.put(record.si.landing, 0.02, works=record.si.landing < record.si.wall)

    def title(self, record):
        if record.si.landing < record.si.wall:
            return f"The water lands **{self.text(LENGTH, record.si.landing)}** away, inside the tank."
        return f"The water lands **{self.text(LENGTH, record.si.landing)}** away, over the wall."

    def alt(self, record):
        return f"A falling curve of water that lands at {self.text(LENGTH, record.si.landing)}; the wall is at {self.text(LENGTH, record.si.wall)}."


def found(record):
    if record.si.landing >= record.si.wall:
        return [("stop", f"The floor gets wet at {LENGTH.text(record.si.landing)}; slow the water down.")]
    return [("note", "Little room to the wall.")] if record.si.landing > 0.8 * record.si.wall else []


def panel(keep=None, **options):
    return Panel(
        [
            Slider("flow", "flow", FLOW, "0 L/h", "6000 L/h", "50 L/h", value="1500 L/h", tip="all pipe ends together"),
            Slider("bore", "pipe bore", BORE, "10 mm", "60 mm", "1 mm", value="20 mm"),
            Slider("height", "height over water", LENGTH, "0.1 m", "1.2 m", "0.05 m", value="0.8 m"),
            Count("pipes", "pipe ends", 1, 6, 1),
            Choice("wall", "wall of the tank", ["near", "far", "fault"], value="far"),
            Switch("wind", "wind against it"),
        ],
        compute=jet,
        picture=JetPicture(),
        findings=found,
        keep=keep,
        **options,
    )

"""The labels of the pieces of falling lines on the elevation as built: beside their pipe, where nothing else stands."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.text import Text

from aquaplumb.build.joints import Assembly, Sawn
from aquaplumb.workshop.cut_list import labelled
from aquaplumb.workshop.paper import ROW, SIZE, Drawing

_OFF, _STEP, _STEPS = 2.5, 6.0, 12  # points from the pipe; from one place that is tried to the next, and how many each way
_OTHER = 3.0  # points to what else stands beside a label, so that it is read at its own pipe
_BACKGROUND = 1.0  # z-order of what words may stand on: the ruler's lines


class Labels:
    """Puts labels on a drawing that has all else on it, none on another or on a line.

    drawn: Whose words and lines are kept clear.
    low, high: The part of its height that is free for labels [points].
    """

    def __init__(self, drawn: Drawing, low: float, high: float):
        self.drawn, self.low, self.high = drawn, low, high
        self.taken = np.array([*_boxes(drawn)]).reshape(-1, 4)
        self.told: set[str] = set()
        self.others = self.taken[:0]

    def along(
        self,
        way: list[tuple[float, float]],
        runs: Sequence[Assembly],
        number: str,
        behind: Sequence[tuple[float, float, float, float]],
        others: Sequence[list[tuple[float, float]]] = (),
    ) -> None:
        """Each piece of the stretches from lip to end beside its part of the way: its label, else, on the last stretch, the line's `number` and its own, else nothing.

        A stretch that several ways share is told on the first of them.

        behind: Boxes (left, low, right, high) behind which the way is not seen.
        others: The ways of other lines, which a label keeps away from.
        """
        legs = [np.array(ends) for other in others for ends in itertools.pairwise(other)]
        self.others = np.array([[*leg.min(axis=0), *leg.max(axis=0)] for leg in legs]).reshape(-1, 4)
        for piece, start, end in _places(way, runs):
            if piece.label not in self.told:
                self.told.add(piece.label)
                short = [f"{number}-{piece.number}"] if piece in runs[-1].pieces else []
                any(self._put(words, start, end, behind) for words in (labelled(piece), *short))

    def _put(self, words: str, at: np.ndarray, leg: np.ndarray, behind: Sequence[tuple[float, float, float, float]]) -> bool:
        """Words beside a place on a leg, moved along it where need be; whether there was room."""
        wide, tall, upright = self.drawn.measured(words), ROW - 1.0, leg[0][0] == leg[1][0]
        low, high = leg.min(axis=0), leg.max(axis=0)
        for step in sorted(range(-_STEPS, _STEPS + 1), key=abs):
            x, y = at + (np.array([0.0, 1.0]) if upright else np.array([1.0, 0.0])) * step * _STEP
            within = low[1] + tall / 2 <= y <= high[1] - tall / 2 if upright else low[0] <= x <= high[0]
            if not within or any(b[0] < x < b[2] and b[1] < y < b[3] for b in behind):
                continue
            for side in (1, -1):
                left = x + (_OFF if side == 1 else -_OFF - wide) if upright else x - wide / 2
                middle = y if upright else y + side * (_OFF + tall / 2)
                box = np.array([left, middle - tall / 2, left + wide, middle + tall / 2])
                if self._free(box) and not _crossed(self.others, box + np.array([-_OTHER, 0.0, _OTHER, 0.0])):
                    self.taken = np.vstack([self.taken, box + np.array([-_OTHER, 0.0, _OTHER, 0.0])])
                    self.drawn.word(left, middle, words, room=wide + 1)
                    return True
        return False

    def _free(self, box: np.ndarray) -> bool:
        if box[0] < 0 or box[2] > self.drawn.width or box[1] < self.low or box[3] > self.high:
            return False
        return not _crossed(self.taken, box)


def _crossed(boxes: np.ndarray, box: np.ndarray) -> bool:
    """Whether a box lies on any of others."""
    return bool(((boxes[:, 0] < box[2]) & (boxes[:, 2] > box[0]) & (boxes[:, 1] < box[3]) & (boxes[:, 3] > box[1])).any())


def _places(way: list[tuple[float, float]], runs: Sequence[Assembly]) -> Iterator[tuple[Sawn, np.ndarray, np.ndarray]]:
    """Each piece with the place of its middle and the leg that it is on: upright ones on what is upright, where a run says how they lie."""
    pieces = [piece for run in runs for piece in run.pieces]
    legs = list(itertools.pairwise(way))
    upright = [leg for leg in legs if leg[0][0] == leg[1][0]]
    level = [leg for leg in legs if leg not in upright]
    lies = len(runs) == 1 and upright and level and any(piece.up for piece in pieces)
    for kind in (True, False) if lies else (None,):
        own = [piece for piece in pieces if kind is None or bool(piece.up) == kind]
        whole, before = sum(piece.leg for piece in own), 0.0
        for piece in own:
            part, before = (before + piece.leg / 2) / whole, before + piece.leg
            yield piece, *_leg_at(legs if kind is None else upright if kind else level, part)


def _leg_at(ways: Sequence[tuple], part: float) -> tuple[np.ndarray, np.ndarray]:
    """The place at a part of a way of square turns, and the two ends of the leg that it is on."""
    legs = [np.array(ends) for ends in ways]
    ends = np.cumsum([float(np.abs(leg[1] - leg[0]).sum()) for leg in legs])
    k = min(int(np.searchsorted(ends, part * ends[-1])), len(legs) - 1)
    leg, long = legs[k], float(np.abs(legs[k][1] - legs[k][0]).sum())
    return leg[1] + (leg[0] - leg[1]) * ((ends[k] - part * ends[-1]) / long if long else 0.0), leg


def _boxes(drawn: Drawing) -> Iterator[tuple[float, float, float, float]]:
    """(left, low, right, high) of all that words may not stand on [points]."""
    for one in drawn.axes.get_children():
        if isinstance(one, Text) and one.get_text():
            x, y = one.get_position()
            wide = drawn.measured(one.get_text(), float(one.get_fontsize()))
            left = x - {"left": 0.0, "center": wide / 2, "right": wide}[one.get_horizontalalignment()]
            yield left - 1, y - SIZE / 2 - 1, left + wide + 1, y + SIZE / 2 + 1
        elif isinstance(one, Line2D) and one.get_zorder() > _BACKGROUND:
            points = np.asarray(one.get_xydata(), float)
            mark = one.get_markersize() / 2 if len(points) == 1 else 0.6
            for a, b in itertools.pairwise(points) if len(points) > 1 else [(points[0], points[0])]:
                (left, low), (right, high) = np.minimum(a, b), np.maximum(a, b)
                yield left - mark, low - mark, right + mark, high + mark

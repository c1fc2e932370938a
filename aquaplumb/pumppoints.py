"""A pump's points: the check that they make a curve, the curve through them, and the file they come in.

Part of `aquaplumb.pumps`, which is the face of all this.
"""

from __future__ import annotations

import csv
from bisect import bisect_right
from pathlib import Path

import numpy as np

from aquaplumb import tables
from aquaplumb.units import FLOW, HEAD, POWER, DesignError, quantity, si_value

WATER_WEIGHT = 998.2 * 9.80665  # N/m³, water at 20 °C; 0.5 % less at 35 °C


def fault(flow, head, power):
    """What is wrong with a pump's points, as (index of the point or None, words), or None."""
    if flow.ndim != 1 or head.shape != flow.shape or (power is not None and power.shape != flow.shape):
        counts = f"{flow.size} flows, {head.size} heads" + ("" if power is None else f", {power.size} powers")
        return None, f"the points do not pair up ({counts}); give one head, and one power if any, for each flow."
    if flow.size < 3:
        return None, f"{flow.size} points are too few for a curve; read at least 3 from the maker's curve (5 to 8 is good)."
    if not (np.all(np.isfinite(flow)) and np.all(np.isfinite(head))):
        return None, "a flow or a head is not a number; leave that point out."
    if flow[0] != 0:
        return 0, (f"the first flow is {FLOW.text(flow[0])}; start with the point at zero flow, whose head is the "
                   "one at which water just stops (often printed as maximum head).")  # fmt: skip
    for i in range(1, flow.size):
        if flow[i] == flow[i - 1]:
            return i, f"the flow {FLOW.text(flow[i])} is there twice; keep one of the two points."
        if flow[i] < flow[i - 1]:
            return i, f"the flow falls from {FLOW.text(flow[i - 1])} to {FLOW.text(flow[i])}; sort the points by rising flow."
        if head[i] >= head[i - 1]:
            return i, (f"the head does not fall: {HEAD.text(head[i - 1])} and then {HEAD.text(head[i])}. More flow needs "
                       "less head; read this point again, or leave out the humped part near zero flow.")  # fmt: skip
        if head[i] < 0:
            return i, f"the head is {HEAD.text(head[i])}, below zero; end the curve at zero head or above."
    if power is not None:
        for i in range(flow.size):
            water = WATER_WEIGHT * flow[i] * head[i]
            if not power[i] > 0:
                return i, f"the power is {POWER.text(power[i])}; a running pump draws some. Leave the column blank if unknown."
            if power[i] < water:
                return i, (f"the power is {POWER.text(power[i])}, less than the {POWER.text(water)} that the water takes up "
                           "there; check the units of flow, head and power.")  # fmt: skip
    return None


# --- the curve ----------------------------------------------------------------------------------


class Curve:
    """Piecewise cubics through points, quick on a float and on an array: value and slope.

    Straight on beyond both ends. Knot i opens piece i + 1; piece 0 lies before the first knot.
    """

    def __init__(self, x, y, *, held: bool = False):
        from scipy.interpolate import PchipInterpolator

        inner = PchipInterpolator(x, y)
        slopes = inner.derivative()(x[[0, -1]])
        if held:
            slopes = np.zeros(2)
        else:  # a cubic may end level; straight on must not stay level, so take the outermost chord there
            slopes = np.minimum(slopes, [(y[1] - y[0]) / (x[1] - x[0]), (y[-1] - y[-2]) / (x[-1] - x[-2])])
        ends = np.array([[0.0, 0.0], [0.0, 0.0], slopes, y[[0, -1]]])
        self.knots = x
        self.starts = np.concatenate([x[:1], x])
        self.pieces = np.concatenate([ends[:, :1], inner.c, ends[:, 1:]], axis=1)
        self.last = float(x[-1])
        self._knots, self._starts, self._pieces = x.tolist(), self.starts.tolist(), self.pieces.T.tolist()

    def __call__(self, x):
        if isinstance(x, (float, int)):
            i = bisect_right(self._knots, x)
            a, b, c, d = self._pieces[i]
            t = x - self._starts[i]
            return ((a * t + b) * t + c) * t + d, (3 * a * t + 2 * b) * t + c
        i = np.searchsorted(self.knots, x, side="right")
        a, b, c, d = self.pieces[:, i]
        t = x - self.starts[i]
        return ((a * t + b) * t + c) * t + d, (3 * a * t + 2 * b) * t + c


def crossing(pump_curve, flow, heads):
    """The first flow at which the pump's head falls to the line's, for each curve along the last axis."""
    gaps = pump_curve(flow)[0] - heads
    short = gaps <= 0
    place, found = short.argmax(-1), short.any(-1)
    weak = short[..., 0]
    right = np.where(found & ~weak, place, flow.size - 1)
    start, piece = _piece(flow, heads, right)
    low, high = start, flow[right]
    if not np.all(found):  # the line's curve ends first: both run straight on
        end, last = heads[..., -1], max(pump_curve.last, flow[-1])
        top, slope = pump_curve(float(last))
        reach = last + np.maximum(top - end, 0) / -slope
        slope_end = np.maximum((3 * piece[0] * (high - start) + 2 * piece[1]) * (high - start) + piece[2], 0)
        straight = [np.zeros_like(end), np.zeros_like(end), slope_end, end]
        piece = [np.where(found, inner, on) for inner, on in zip(piece, straight)]
        start = np.where(found, start, flow[-1])
        low, high = start, np.where(found, high, reach)
    x = (low + high) / 2
    a, b, c, d = piece
    for _ in range(60):
        head, slope = pump_curve(x)
        t = x - start
        gap = head - (((a * t + b) * t + c) * t + d)
        low, high = np.where(gap > 0, x, low), np.where(gap > 0, high, x)
        fall = np.minimum(slope - ((3 * a * t + 2 * b) * t + c), -1e-300)
        new = x - gap / fall
        new = np.where((new >= low) & (new <= high), new, (low + high) / 2)
        done = np.all(np.abs(new - x) <= 1e-12 * flow[-1])
        x = new
        if done:
            break
    return np.where(weak, 0.0, x)


def _piece(flow, heads, right):
    """The shape-keeping cubic of each line's curve on the stretch that ends at index `right`: start, coefficients."""

    def chord(i):  # slope from point i to i + 1, and the stretch's width
        i = np.clip(i, 0, flow.size - 2)
        width = flow[i + 1] - flow[i]
        ends = np.take_along_axis(heads, np.stack([i, i + 1], -1), -1)
        return (ends[..., 1] - ends[..., 0]) / width, width

    (before, w0), (here, w1), (after, w2) = (chord(right - k) for k in (2, 1, 0))

    def inner(d1, d2, h1, h2):  # weighted harmonic mean; level where the curve turns
        same = d1 * d2 > 0
        d1, d2 = np.where(same, d1, 1.0), np.where(same, d2, 1.0)
        p, q = 2 * h2 + h1, h2 + 2 * h1
        return np.where(same, (p + q) / (p / d1 + q / d2), 0.0)

    def outer(d0, d1, h0, h1):  # three-point slope at an end, kept from swinging over
        slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
        slope = np.where((d0 * d1 < 0) & (np.abs(slope) > 3 * np.abs(d0)), 3 * d0, slope)
        return np.where(slope * d0 <= 0, 0.0, slope)

    first = np.where(right > 1, inner(before, here, w0, w1), outer(here, after, w1, w2))
    second = np.where(right < flow.size - 1, inner(here, after, w1, w2), outer(here, before, w1, w0))
    base = np.take_along_axis(heads, (right - 1)[..., None], -1)[..., 0]
    cubic = (first + second - 2 * here) / w1**2
    return flow[right - 1], [cubic, (here - first) / w1 - cubic * w1, first, base]


# --- the file -----------------------------------------------------------------------------------

_COLUMNS = {"flow": FLOW, "head": HEAD, "power": POWER}
_EXAMPLE = "flow [L/h],head [m],power [W]"
_LARGEST = 1_000_000  # bytes; a curve takes a few hundred


def points(path: Path) -> dict:
    """Bare SI arrays of flow, head and power (None where blank) from a CSV of points."""
    where = f"pump file {path.name}"
    try:
        lines = list(csv.reader(_text(path).splitlines()))
    except csv.Error:
        raise DesignError(f"{where} is not a table of points; write the header {_EXAMPLE}, then one point a line.") from None
    header = [tables._HEADER.match(cell.strip()) for cell in lines[0]] if lines else []
    columns = [(found["field"].strip().lower(), found["unit"] or "") for found in header if found]
    if lines and len(lines[0]) == 1 and ";" in lines[0][0]:
        raise DesignError(f"{where}: its columns are parted by semicolons; save it with commas, and decimals with a point.")
    for wanted in ("flow", "head"):
        if wanted not in [name for name, _ in columns]:
            raise DesignError(f"{where}: the first line has no column '{wanted}'; write it as {_EXAMPLE}.")
    for name, _ in columns:
        if name not in _COLUMNS:
            raise DesignError(f"{where}: " + tables.unknown("form of a pump file", name, _COLUMNS))
    if len(header) != len(columns) or len(dict(columns)) != len(columns):
        raise DesignError(f"{where}: a column is unnamed or named twice in the first line; write it as {_EXAMPLE}.")
    for name, unit in columns:
        if not unit:
            raise DesignError(f"{where}: the column '{name}' has no unit; write it in brackets, as in {_EXAMPLE}.")
    numbers, places = {name: [] for name, _ in columns}, []
    for place, cells in enumerate(lines[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(columns):
            raise DesignError(f"{where}, line {place}: {len(cells)} cells where the header has {len(columns)}; "
                              "one number a cell, with a decimal point and no thousands comma.")  # fmt: skip
        places.append(place)
        for (name, unit), cell in zip(columns, cells):
            numbers[name].append(_number(cell.strip(), unit, name, f"{where}, line {place}"))
    power = numbers.get("power", [])
    blank = [value is None for value in power]
    if any(blank) and not all(blank):
        raise DesignError(f"{where}, line {places[blank.index(True)]}: power is blank here but not elsewhere; fill all its cells or none.")
    flow, heads = np.array(numbers["flow"]), np.array(numbers["head"])
    power = np.array(power) if power and not any(blank) else None
    if wrong := fault(flow, heads, power):
        row, words = wrong
        raise DesignError(f"{where}{'' if row is None else f', line {places[row]}'}: {words}")
    return {"flow": flow, "head": heads, "power": power}


def _text(path: Path) -> str:
    """The file's text, refused in plain words before anything big or odd is read."""
    shown = str(path) if len(str(path)) < 80 else f"…{str(path)[-60:]}"
    try:
        if path.is_dir():
            raise DesignError(f"'{path.name}' is a folder; give the CSV file of points inside it.")
        if not path.exists():
            raise DesignError(f"there is no pump file '{shown}'; check its name and folder.")
        if not path.is_file():
            raise DesignError(f"'{path.name}' is not a plain file; give a CSV file of points.")
        size = path.stat().st_size
        if size > _LARGEST:
            raise DesignError(f"pump file {path.name} is {size / 1e6:.0f} MB; a curve of a few points takes under 1 kB. "
                              f"Save only the points, with the header {_EXAMPLE}.")  # fmt: skip
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        text = "\0"
    except (OSError, ValueError) as wrong:
        if isinstance(wrong, DesignError):
            raise
        raise DesignError(f"pump file '{shown}' cannot be read ({getattr(wrong, 'strerror', None) or wrong}).") from None
    if "\0" in text:
        raise DesignError(f"pump file {path.name} is not plain text; from a spreadsheet, save it as CSV (UTF-8).")
    return text


def _number(cell: str, unit: str, name: str, where: str):
    if not cell:
        if name == "power":
            return None
        raise DesignError(f"{where}: {name} is blank; fill it, or take the whole line out.")
    try:
        return si_value(quantity(f"{cell} {unit}", _COLUMNS[name]), _COLUMNS[name], name)
    except DesignError as wrong:
        raise DesignError(f"{where}: {name}: {wrong}") from None

"""A pump's points: the check that they make a curve, the curve through them, and the file they come in.

Part of `aquaplumb.plumbing.pumps`, which is the face of all this.
"""

from __future__ import annotations

import csv
from bisect import bisect_right
from pathlib import Path

import numpy as np

from aquaplumb import plausible, tables
from aquaplumb.files import contents
from aquaplumb.plumbing.hammer import WATER_DENSITY
from aquaplumb.units import FLOW, GRAVITY, HEAD, POWER, TIME, VOLTAGE, DesignError, quantity, si_value

WATER_WEIGHT = WATER_DENSITY * GRAVITY  # N/m³, water at 20 °C; 0.5 % less at 35 °C


def fault(flow, head, power):
    """What is wrong with a pump's points, if anything.

    Parameters
    ----------
    flow : array [m³/s]
    head : array [m]
    power : array, optional [W]

    Returns
    -------
    tuple or None
        The index of the faulty point (None when it is all of them), and words that say the fault and its cure.

    Source
    ------
    Conservation of energy for the power; the rest is what `Curve` and a steady operating point need.
    """
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
    """Piecewise cubics through points that keep their shape, quick on a float and on an array.

    Called with x it gives (value, slope). It runs straight on beyond both ends, or level if `held`.
    Knot i opens piece i + 1; piece 0 lies before the first knot.

    Source
    ------
    Fritsch & Butland (1984), SIAM J. Sci. Stat. Comput. 5(2) 300-304, as in `scipy.interpolate`.
    """

    def __init__(self, x, y, *, held: bool = False):
        from scipy.interpolate import PchipInterpolator

        inner = PchipInterpolator(x, y)
        slopes = inner.derivative()(x[[0, -1]])
        # a cubic may end level; straight on must not stay level, so take the outermost chord there
        slopes = np.zeros(2) if held else np.minimum(slopes, [(y[1] - y[0]) / (x[1] - x[0]), (y[-1] - y[-2]) / (x[-1] - x[-2])])
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


def crossing(pump_curve: Curve, flow, heads):
    """The flows at which a pump's head first falls to a line's head.

    Parameters
    ----------
    pump_curve : Curve
    flow : array [m³/s]
        Rising from zero.
    heads : array [m]
        The line's; the last axis runs along the flows, the others are different designs.

    Returns
    -------
    array [m³/s]
        One for each design; zero where the pump is too weak to lift the water at all.

    Source
    ------
    Newton's method, kept inside the stretch where the two curves cross by halving it.
    """
    curves = heads.reshape(-1, flow.size)
    short = pump_curve(flow)[0] <= curves
    weak, found = short[:, 0], short.any(1)
    right = np.where(found & ~weak, short.argmax(1), flow.size - 1)
    start, piece = _piece(flow, curves, right)
    low, high = start, flow[right]
    if not found.all():  # the line's curve ends first: both run straight on
        end, last = curves[:, -1], max(pump_curve.last, float(flow[-1]))
        top, slope = pump_curve(last)
        run = high - start
        rise = np.maximum((3 * piece[0] * run + 2 * piece[1]) * run + piece[2], 0)
        piece = [np.where(found, *both) for both in zip(piece, (0.0, 0.0, rise, end))]
        low = start = np.where(found, start, flow[-1])
        high = np.where(found, high, last + np.maximum(top - end, 0) / -slope)
    x = (low + high) / 2
    a, b, c, d = piece
    for _ in range(60):
        head, slope = pump_curve(x)
        t = x - start
        gap = head - (((a * t + b) * t + c) * t + d)
        low, high = np.where(gap > 0, x, low), np.where(gap > 0, high, x)
        new = x - gap / np.minimum(slope - ((3 * a * t + 2 * b) * t + c), -1e-300)
        new = np.where((new >= low) & (new <= high), new, (low + high) / 2)
        done = np.abs(new - x).max() <= 1e-12 * flow[-1]
        x = new
        if done:
            break
    return np.where(weak, 0.0, x).reshape(heads.shape[:-1])


def _piece(flow, curves, right):
    """The shape-keeping cubic of each row on the stretch that ends at index `right`: its start, its coefficients."""
    places = right[:, None] + np.arange(-2, 2)
    inside = np.clip(places, 0, flow.size - 1)
    x, h = flow[inside], curves[np.arange(right.size)[:, None], inside]
    widths = np.diff(x)
    chords = np.diff(h) / np.where(widths > 0, widths, 1.0)
    w0, w1, w2 = widths.T
    before, here, after = chords.T
    first = np.where(w0 > 0, _slope_inside(before, here, w0, w1), _slope_at_end(here, after, w1, w2))
    second = np.where(w2 > 0, _slope_inside(here, after, w1, w2), _slope_at_end(here, before, w1, w0))
    cubic = (first + second - 2 * here) / w1**2
    return x[:, 1], [cubic, (here - first) / w1 - cubic * w1, first, h[:, 1]]


def _slope_inside(d1, d2, w1, w2):
    """The slope at a point between two chords: their weighted harmonic mean, level where the curve turns."""
    same = d1 * d2 > 0
    p, q = 2 * w2 + w1, w2 + 2 * w1
    return np.where(same, (p + q) / (p / np.where(same, d1, 1.0) + q / np.where(same, d2, 1.0)), 0.0)


def _slope_at_end(d0, d1, w0, w1):
    """The slope at an end of the curve, from its first two chords, kept from swinging over."""
    slope = ((2 * w0 + w1) * d0 - w0 * d1) / (w0 + w1)
    slope = np.where((d0 * d1 < 0) & (np.abs(slope) > 3 * np.abs(d0)), 3 * d0, slope)
    return np.where(slope * d0 <= 0, 0.0, slope)


# --- the file -----------------------------------------------------------------------------------

_COLUMNS = {"flow": FLOW, "head": HEAD, "power": POWER}
_SAYS = {  # what may stand above the header, by the words for it
    "supply": None, "placement": None, "self-priming": None, "outlet": None, "voltage": VOLTAGE, "lowest voltage": VOLTAGE,
    "suction head needed": HEAD, "shortest cycle": TIME,
}  # fmt: skip
_WORDS = {"supply": ("mains", "DC"), "placement": ("submersible", "external"), "self-priming": ("yes", "no")}
_SAID_SO = {
    "supply": "supply,DC", "placement": "placement,external", "self-priming": "self-priming,yes", "outlet": "outlet,1 in", "voltage": "voltage,12 V",
    "lowest voltage": "lowest voltage,9 V", "suction head needed": "suction head needed,1.5 m", "shortest cycle": "shortest cycle,5 min",
}  # fmt: skip
_EXAMPLE = "flow [L/h],head [m],power [W]"
_SMALL = f"a curve of a few points takes under 1 kB. Save only the points, with the header {_EXAMPLE}."
_LARGEST = 1_000_000  # bytes; a curve takes a few hundred


def points(path: Path) -> dict:
    """The points in a file, checked.

    Parameters
    ----------
    path : Path

    Returns
    -------
    dict
        Bare SI arrays "flow", "head" and "power" (None where the file has none), and what it says above its header.

    Source
    ------
    The form that `pumps.from_csv` describes.
    """
    where = f"pump file {path.name}"
    try:
        lines = list(csv.reader(plain_text(path, "pump file", _SMALL).splitlines()))
    except csv.Error:
        raise DesignError(f"{where} is not a table of points; write the header {_EXAMPLE}, then one point a line.") from None
    says, lines = _said(lines, where)
    above = len(says)
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
    numbers: dict[str, list] = {name: [] for name, _ in columns}
    places = []
    for place, cells in enumerate(lines[1:], start=above + 2):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(columns):
            raise DesignError(f"{where}, line {place}: {len(cells)} cells where the header has {len(columns)}; "
                              "one number a cell, with a decimal point and no thousands comma.")  # fmt: skip
        places.append(place)
        for (name, unit), cell in zip(columns, cells):
            numbers[name].append(_number(cell.strip(), unit, name, f"{where}, line {place}"))
    blank = [value is None for value in numbers.get("power", [])]
    if any(blank) and not all(blank):
        raise DesignError(f"{where}, line {places[blank.index(True)]}: power is blank here but not elsewhere; fill all its cells or none.")
    flow, heads = np.array(numbers["flow"]), np.array(numbers["head"])
    power = np.array(numbers["power"]) if blank and not any(blank) else None
    if wrong := fault(flow, heads, power):
        row, words = wrong
        raise DesignError(f"{where}{'' if row is None else f', line {places[row]}'}: {words}")
    return {
        "flow": flow,
        "head": heads,
        "power": power,
        **{name.replace(" ", "_").replace("-", "_"): value for name, value in says.items()},
    }


def _said(lines: list[list[str]], where: str) -> tuple[dict, list[list[str]]]:
    """What stands above the header, one thing a line such as "voltage,12 V", and the lines from the header on."""
    says: dict = {}
    for place, cells in enumerate(lines):
        name, *rest = (cell.strip() for cell in cells) if cells else ("",)
        if name.lower() not in _SAYS:
            return says, lines[place:]
        name, at = name.lower(), f"{where}, line {place + 1}"
        if len(rest) != 1 or not rest[0]:
            raise DesignError(f"{at}: after '{name}' it needs one value, such as {_SAID_SO[name]}.")
        if name in says:
            raise DesignError(f"{at}: '{name}' is there twice; keep one of the two.")
        kind = _SAYS[name]
        try:
            says[name] = rest[0] if kind is None else si_value(quantity(rest[0], kind), kind, name)
        except DesignError as wrong:
            raise DesignError(f"{at}: {wrong}") from None
        if (allowed := _WORDS.get(name)) and rest[0] not in allowed:
            raise DesignError(f"{at}: {name} is '{rest[0]}'; write {' or '.join(allowed)}.")
        if kind is not None and (odd := plausible.row(f"pump file.{name}").refused(says[name], kind, rest[0])):
            raise DesignError(f"{at}: {plausible.about(name, odd)}")
    return says, []


def plain_text(path: Path, what: str, small: str) -> str:
    """The text of a file beside a build, refused in plain words before anything big or odd is read.

    `what` is what it is ("pump file"), `small` how little of it is enough.
    """
    shown = str(path) if len(str(path)) < 80 else f"…{str(path)[-60:]}"
    try:
        if path.is_dir():
            raise DesignError(f"'{path.name}' is a folder; give the CSV file inside it.")
        if not path.exists():
            raise DesignError(f"there is no {what} '{shown}'; check its name and folder.")
        text = contents(path, _LARGEST, small.rstrip(".")).decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError:
        text = "\0"
    except (OSError, ValueError) as wrong:
        if isinstance(wrong, DesignError):
            raise
        raise DesignError(f"{what} '{shown}' cannot be read ({getattr(wrong, 'strerror', None) or wrong}).") from None
    if "\0" in text:
        raise DesignError(f"{what} {path.name} is not plain text; from a spreadsheet, save it as CSV (UTF-8).")
    return text


def _number(cell: str, unit: str, name: str, where: str):
    if not cell:
        if name == "power":
            return None
        raise DesignError(f"{where}: {name} is blank; fill it, or take the whole line out.")
    kind = _COLUMNS[name]
    try:
        value = si_value(quantity(f"{cell} {unit}", kind), kind, name)
    except DesignError as wrong:
        raise DesignError(f"{where}: {name}: {wrong}") from None
    if odd := plausible.row(f"pump file.{name}").refused(value, kind, f"{cell} {unit}"):
        raise DesignError(f"{where}: {plausible.about(name, odd)}")
    return value

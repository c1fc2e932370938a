"""Valves: what one costs part open, and a check valve at a flow too small to hold it open.

All of it is reached through `fittings`: ``fittings.valve_k("ball valve", 0.5)``.
"""

from __future__ import annotations

import functools

import numpy as np

from aquaplumb.given import takes_things
from aquaplumb.plumbing.pipes import speed
from aquaplumb.units import GRAVITY, NUMBER, Bore, DesignError, Flow, Head, Number, check_range, endless, takes_quantities

__all__ = ["check_valve_head", "valve_handle", "valve_k", "valve_opening"]


@takes_quantities
def check_valve_head(flow: Flow, bore: Bore, k: Number, opening_head: Head) -> Head:
    """The head that a check valve costs, also at a flow too small to hold it open.

    While the flow is too small the valve stands part open and K rises just so that the head stays at the
    opening head. A flow the wrong way shuts it: no finite head drives it, and the result is −∞.

    flow: In the valve's direction.
    k: Of the valve fully open.
    opening_head: Also the head that the pump must reach before anything flows.

    h = max(opening head, K v²/2g).

    Source: the smallest speed for a fully open valve, as Crane TP-410 and makers' catalogues give it, turned into a
    head. Opening heads of spring valves: from memory, no measured value seen; ask the maker.

    >>> from aquaplumb.plumbing import fittings
    >>> print(round(fittings.check_valve_head("500 L/h", "26.14 mm", 2, "0.17 m"), 2))
    0.17 m
    """
    v = speed.si(flow, bore)
    return np.where(v < 0, -np.inf, np.maximum(opening_head, k * v * v / (2.0 * GRAVITY)))[()]


# Opening (1 = fully open) and K, Munson, Young, Okiishi and Huebsch 6e, Table 8.2: gate ¾, ½ and ¼ open; ball ⅔ and ⅓.
_CURVES = {
    "ball valve": ((1 / 3, 2 / 3, 1.0), (210.0, 5.5, 0.05)),
    "gate valve": ((0.25, 0.5, 0.75, 1.0), (17.0, 2.1, 0.26, 0.15)),
}
_NEARLY_SHUT = 1e-12


def _known(kind: str) -> str | None:
    plain = str(kind).casefold().strip().removesuffix("s")
    return next((n for n in _CURVES if plain in (n, n.removesuffix(" valve"))), None)


@functools.cache
def _curve(kind: str):
    name = _known(kind)
    if name is None:
        raise DesignError(f"there is no opening curve for '{kind}'; there is one for {' and '.join(_CURVES)}.")
    x, y = (np.log(values) for values in _CURVES[name])
    return x, y, (y[1] - y[0]) / (x[1] - x[0])


@takes_quantities
@endless
def valve_k(kind: str, opening: Number) -> Number:
    """The K of a valve part open.

    kind: "ball valve" or "gate valve".
    opening: The share of the handle's quarter turn, or of the stem's travel: 1 fully open, 0 shut.
    returns: Infinite when shut.

    Straight lines in ln K over ln opening between the printed points; under the last one (ball ⅓, gate ¼ open)
    the last line carried on, where nothing is in print. Real valves differ: trust the bucket, not the angle.

    Source: Munson, Young, Okiishi and Huebsch 6e, Table 8.2.

    >>> from aquaplumb.plumbing import fittings
    >>> print(round(fittings.valve_k("ball valve", 2 / 3), 1))
    5.5
    """
    check_range(opening, 0.0, 1.0, NUMBER, "the valve's opening", "a share")
    x, y, tail = _curve(kind)
    log = np.log(np.maximum(opening, _NEARLY_SHUT))
    value = np.exp(np.interp(log, x, y) + tail * np.minimum(log - x[0], 0.0))
    return np.where(np.less_equal(opening, 0), np.inf, value)[()]


@takes_quantities
def valve_opening(kind: str, k: Number) -> Number:
    """How far a valve must be open for a K: the inverse of `valve_k`.

    kind: "ball valve" or "gate valve".
    k: At or under the K of the fully open valve the answer is 1: it opens no further.
    returns: 1 fully open, 0 shut.

    Source: Munson, Young, Okiishi and Huebsch 6e, Table 8.2; see `valve_k`.

    >>> from aquaplumb.plumbing import fittings
    >>> print(round(fittings.valve_opening("gate valve", 2.1), 2))
    0.5
    """
    x, y, tail = _curve(kind)
    log = np.log(np.maximum(k, np.exp(y[-1])))
    return np.exp(np.interp(-log, -y, x) + np.maximum(log - y[0], 0.0) / tail)


@takes_things
def valve_handle(kind: str, opening: float) -> str:
    """How far a hand turns a valve from shut, in words.

    kind: Such as "ball valve", whose handle makes a quarter turn; all others make several.
    opening: 1 fully open, 0 shut.

    Source: common practice.

    >>> from aquaplumb.plumbing import fittings
    >>> fittings.valve_handle("ball valve", 2 / 3)
    '60° of 90°'
    """
    return f"{90 * opening:.0f}° of 90°" if _known(kind) == "ball valve" else f"{100 * opening:.0f} % of its turns"

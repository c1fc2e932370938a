"""Cutting pieces from bars of one length with the fewest bars: the cutting-stock problem, solved and proven where it can be.

First a quick packing, longest piece first. Where that meets the lower bound nothing better exists. Else all sensible
ways to fill a bar are listed, or grown as they are needed where they are too many, and the best mix of them is found by
whole-number programming with a limit of time; what could not be proven the best says so.
"""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.units import LENGTH, TIME, DesignError, Length, Number, Record, Time, check_range, takes_quantities

KERF = 0.003  # m, what a hacksaw or a mitre saw takes away
MOST_PIECES = 2000  # of one size; no home system has more
_FINE = 1e-9  # m; what a sum of lengths may miss by rounding
_LOOKS = 20_000  # steps in listing all ways to fill a bar, before they are grown as needed instead
_WORK = 2e8  # grid steps to spend on growing them, a few seconds
_GRID = 5e-4  # m, for finding the bar that is worth most


class CuttingPlan(Record):
    """How pieces are cut from bars: `bars` holds, bar by bar, the numbers of the pieces in the list that was given.

    `bound` is a number of bars below which nobody can get; `proven` says that no plan has fewer bars.

    Source: `cutting_plan`.
    """

    bars: tuple
    offcut: Length  # of each bar
    bound: Number
    proven: bool


@takes_quantities
def cutting_plan(lengths: Length, stock: Length, *, kerf: Length = KERF, time_limit: Time = 5.0) -> CuttingPlan:
    """The fewest bars that give all pieces.

    lengths (array): Of the pieces, none longer than a bar.
    stock (one value): Of a bar.
    kerf (one value): What each cut takes away: 3 mm for a saw, 0 for shears.
    time_limit (one value): For the proof; when it runs out the best plan so far is given and `proven` is False.
    raises: Where a piece is longer than a bar, or no length at all.

    A bar gives pieces l with Σ(l + kerf) ≤ stock + kerf: the last cut is not needed when it comes out even. No plan
    has fewer bars than Σ(l + kerf) / (stock + kerf), rounded up; the linear problem over patterns gives a higher bound
    where all patterns cannot be listed.

    Source: Gilmore and Gomory, "A linear programming approach to the cutting-stock problem" (Operations Research 9, 1961):
    patterns, grown by shadow prices; the packing is first-fit decreasing; the bound while growing is Farley's. From memory.

    >>> from aquaplumb import u
    >>> plan = cutting_plan([2.4, 2.4, 2.0] * u.m, "5 m")
    >>> len(plan.bars), plan.proven
    (2, True)
    """
    pieces = np.atleast_1d(np.asarray(lengths, float))
    check_range(stock, 1e-3, 1e4, LENGTH, "the bar", "a bar's length")
    check_range(kerf, 0.0, 0.1, LENGTH, "the saw's cut (kerf)", "a saw's cut")
    check_range(time_limit, 0.0, 3600.0, TIME, "the time limit", "a wait")
    if pieces.size > MOST_PIECES:
        raise DesignError(
            f"there are {pieces.size:,} pieces to cut; up to {MOST_PIECES:,} of one size can be planned. Take longer bars, or plan in parts."
        )
    if np.any(pieces <= 0):
        raise DesignError(f"a piece to cut is {LENGTH.text(pieces.min())} long; it needs more than 0.")
    if np.any(pieces > stock + _FINE):
        raise DesignError(
            f"a piece of {LENGTH.text(pieces.max())} is longer than a bar of {LENGTH.text(stock)}; join it from two, or take longer bars."
        )
    room, sizes = stock + kerf, pieces + kerf
    bound = max(1, math.ceil(sizes.sum() / room - 1e-9)) if pieces.size else 0
    bars, proven = _first_fit(sizes, room), False
    if len(bars) > bound and time_limit > 0:
        bars, bound, proven = _by_patterns(sizes, room, bound, bars, time_limit)
    bars.sort(key=lambda bar: (-float(sizes[bar].sum()), bar))
    return CuttingPlan.from_si(
        bars=tuple(tuple(sorted(bar, key=lambda i: (-sizes[i], i))) for bar in bars),
        offcut=np.array([max(0.0, stock - float(sizes[bar].sum())) for bar in bars]),
        bound=float(bound),
        proven=proven or len(bars) <= bound,
    )


def _first_fit(sizes, room: float) -> list[list[int]]:
    """Longest piece first, each into the first bar that has room."""
    bars: list[list[int]] = []
    left: list[float] = []
    for piece in np.argsort(-sizes, kind="stable"):
        for place, free in enumerate(left):
            if sizes[piece] <= free + _FINE:
                bars[place].append(int(piece))
                left[place] -= sizes[piece]
                break
        else:
            bars.append([int(piece)])
            left.append(room - sizes[piece])
    return bars


def _all_patterns(values, demand, room: float) -> list[tuple[int, ...]] | None:
    """All ways to fill a bar to which no further piece can be added; None where there are too many to list."""
    found: list[tuple[int, ...]] = []
    stack: list[tuple[tuple[int, ...], float]] = [((), room)]
    for _ in range(_LOOKS):
        if not stack:
            return found
        taken, free = stack.pop()
        place = len(taken)
        if place == len(values):
            spare = [v for v, n, d in zip(values, taken, demand) if n < d]
            if not spare or min(spare) > free + _FINE:
                found.append(taken)
            continue
        most = min(demand[place], int((free + _FINE) / values[place]))
        least = most if place == len(values) - 1 else 0
        stack.extend(((*taken, n), free - n * values[place]) for n in range(least, most + 1))
    return None


def _grown_patterns(values, demand, room: float, start: list[tuple[int, ...]]) -> tuple[list[tuple[int, ...]], int]:
    """Ways to fill a bar grown one by one where they help the linear problem, and the bound on the bars that it gives.

    Each round prices the pieces by the linear problem's shadow prices and looks for the bar worth most (a knapsack, on
    a grid of half a millimetre). Pieces are rounded up for a bar that surely fits, and down for the bound: the value of the
    problem over the worth of the best bar is one at any time (Farley).
    """
    from scipy.optimize import linprog

    sizes, wanted = np.array(values), np.array(demand, float)
    up, down = np.ceil((sizes - _FINE) / _GRID).astype(int), np.floor((sizes + _FINE) / _GRID).astype(int)
    patterns = list(dict.fromkeys(start))
    for _ in range(max(1, int(_WORK / (room / _GRID * sum(1 + math.log2(d) for d in demand))))):
        solved = linprog(np.ones(len(patterns)), A_ub=-np.array(patterns, float).T, b_ub=-wanted, method="highs")
        if solved.x is None:  # never seen; the quick packing then has to do
            return patterns, 0
        prices = np.maximum(0.0, -solved.ineqlin.marginals)
        new, most = _fullest(up, prices, demand, int(room / _GRID))
        if most <= 1 + 1e-9 or new in patterns:
            break
        patterns.append(new)
    _, most = _fullest(down, prices, demand, math.ceil(room / _GRID))
    return patterns, math.ceil(solved.fun / max(1.0, most) - 1e-6)


def _fullest(steps, prices, demand, room: int) -> tuple[tuple[int, ...], float]:
    """The bar worth most, and its worth: a knapsack with so many of each piece, on a grid."""
    best = np.zeros(room + 1)
    taken = []
    for item, (step, each, most) in enumerate(zip(steps, prices, demand)):
        left, pack = min(most, room // step), 1
        while left > 0 and each > 0:
            pack = min(pack, left)
            better = best[: room + 1 - pack * step] + pack * each > best[pack * step :] + 1e-12
            tried = best.copy()
            tried[pack * step :][better] = (best[: room + 1 - pack * step] + pack * each)[better]
            taken.append((item, pack, pack * step, better))
            best, left, pack = tried, left - pack, pack * 2
    counts, at = [0] * len(steps), room
    for item, pack, width, better in reversed(taken):
        if at >= width and better[at - width]:
            counts[item] += pack
            at -= width
    return tuple(counts), float(best[room])


def _by_patterns(sizes, room: float, bound: int, quick: list[list[int]], time_limit: Time) -> tuple[list[list[int]], int, bool]:
    """(bars, bound, whether proven the fewest) by whole-number programming over ways to fill a bar."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    alike = np.round(sizes, 6)
    values = sorted({float(v) for v in alike}, reverse=True)
    waiting = {v: [int(i) for i in np.flatnonzero(alike == v)] for v in values}
    demand = [len(waiting[v]) for v in values]
    patterns = _all_patterns(values, demand, room)
    complete = patterns is not None
    if patterns is None:
        start = [tuple(int(np.sum(alike[bar] == v)) for v in values) for bar in quick]
        patterns, low = _grown_patterns(values, demand, room, start)
        bound = max(bound, low)
    count = len(patterns)
    rows = [LinearConstraint(np.array(patterns, float).T, lb=demand), LinearConstraint(np.ones((1, count)), lb=bound)]
    best = milp(np.ones(count), constraints=rows, integrality=np.ones(count), bounds=Bounds(0, np.inf), options={"time_limit": time_limit})
    if best.x is None:
        return quick, bound, False
    bars = []
    for pattern, times in zip(patterns, np.round(best.x).astype(int)):
        for _ in range(times):
            bar = [waiting[v].pop() for v, n in zip(values, pattern) for _ in range(min(n, len(waiting[v])))]
            if bar:
                bars.append(bar)
    return (bars if len(bars) <= len(quick) else quick), bound, complete and best.status == 0

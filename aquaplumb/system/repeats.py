"""A story that goes round and round: once it has shown how, it is moved on by many cycles at once.

A *cycle* runs from one start of a pump or siphon to a later one at which everything that switches is as it was. Of two
cycles in a row, the second says how far each level drifts in a cycle, and the difference of the two how steady that is.
The story is moved on by as many cycles as leave every level where stepping would have it, within the accuracy of the
run: a level that hardly moves may be off by its whole drift, one that moves steadily by half the change of its drift
times the square of the cycles (Taylor). No watched level is passed on the way, and nothing that happens later.
After a few starts only a story whose next cycles end it, or bring it to what happens next, is moved on, and only where
its clock is right as well: off by half the change of the cycle's time, times the square of the cycles, at most.
Water is conserved, since what a cycle moves adds up to nothing. Bare SI numbers.

Source: projective integration, Gear & Kevrekidis, SIAM J. Sci. Comput. 24 (2003) 1091, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SKIPPED = 1e-4  # m: how far moving on may put a level from where stepping would
_WORTH = 24  # starts: fewer are stepped
_SAME_TIME, _SAME_FILL = 0.1, 1e-12  # of a cycle's time; m³ in a pipe: two cycles as one
_LOOKS = (9, 17, 33, 65)  # so many starts after the last thing that happened, cycles are looked for
_EARLY = range(3, 9)  # … and so many for those that bring a story to its end
_LATE = 1e4  # s for each metre that moving on may put a level off: what it may put the clock off


@dataclass(frozen=True, slots=True)
class Start:
    """All there is at one start of a pump or siphon."""

    row: int  #: of the record
    time: float
    switches: bytes  #: the state of all that switches
    pipes: np.ndarray  #: water in pipes and siphons [m³]
    goes_on: dict[str, np.ndarray]  #: what a cycle may add to

    def cycle_to(self, later: Start) -> bool:
        """Whether a cycle lies between this start and a later one."""
        return self.switches == later.switches and bool((np.abs(self.pipes - later.pipes) <= _SAME_FILL).all())


@dataclass(frozen=True, slots=True)
class Skip:
    """So many cycles that may be moved on at once."""

    times: int
    starts: int  #: of which each has so many
    period: float
    moved: dict[str, np.ndarray]
    since: int  #: the row at which the last cycle begins
    shift: np.ndarray  #: what each level moves in a cycle [m]


def skip(starts: list[Start], give: np.ndarray, room: float, off: float) -> Skip | None:
    """The most that may be skipped after the last of these starts.

    `give` is 1 / area of each vessel's water, `room` the time until something happens [s], `off` how far a level may be put off [m].
    """
    early = len(starts) in _EARLY
    if not early and len(starts) not in _LOOKS:
        return None
    best, last = None, starts[-1]
    for many in range(1, (len(starts) - 1) // 2 + 1):
        middle, first = starts[-1 - many], starts[-1 - 2 * many]
        if not (middle.cycle_to(last) and first.cycle_to(middle)):
            continue
        period = last.time - middle.time
        longer = abs(period - (middle.time - first.time))
        if period <= 0 or longer > _SAME_TIME * period:
            continue
        moved = {name: value - middle.goes_on[name] for name, value in last.goes_on.items()}
        shift, change = moved["volume"] * give, (moved["volume"] - middle.goes_on["volume"] + first.goes_on["volume"]) * give
        with np.errstate(divide="ignore"):
            each = np.maximum(off / np.abs(shift), np.sqrt(2.0 * off / np.abs(change)))
        times = min(float(each.min()), room / period, float(_until_dry(last.goes_on["volume"], moved["volume"])))
        found = int(times)
        ends = early and 0 < found == int(room / period) and 0.5 * longer * found**2 <= _LATE * off
        if (ends or (not early and found * many >= _WORTH)) and (best is None or found * many > best.times * best.starts):
            best = Skip(found, many, period, moved, middle.row, shift)
    if len(starts) == _LOOKS[-1]:
        del starts[: -_LOOKS[-2]]
    return best


def _until_dry(volume: np.ndarray, moved: np.ndarray) -> float:
    falls = moved < 0
    return float((volume[falls] / -moved[falls]).min(initial=np.inf))


def clear_of(found: Skip, levels: np.ndarray, watched: np.ndarray, bar: np.ndarray, off: float) -> int:
    """How many cycles pass no watched level that the cycle shown does not; `levels` has a row a step of it.

    What hardly moves passes none: within `off` it may stand on either side.
    """
    times = found.times
    for v in np.flatnonzero(np.abs(found.shift) * times > off):
        bars, shift = bar[watched == v], found.shift[v]
        ahead = bars[bars > levels[:, v].max()] - levels[:, v].max() if shift > 0 else levels[:, v].min() - bars[bars < levels[:, v].min()]
        times = min(times, int(ahead.min(initial=np.inf) / abs(shift)) if len(ahead) else times)
    return times

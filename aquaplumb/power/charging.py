"""How full a battery is, hour by hour, through years of what comes in less what goes out: bare SI, for many years at once.

Part of `aquaplumb.power`, which is the face of all this.
"""

from __future__ import annotations

import numpy as np

DAY = 24  # hours


def charges(nets, full: float) -> np.ndarray:
    """The charge at the start of each hour of years that each follow on one like them.

    Parameters
    ----------
    nets : array of years by 8760
        What each hour adds, below zero what it takes [J].
    full : float
        What the battery holds [J].

    Returns
    -------
    array of years by 8760 [J]

    Notes
    -----
    An hour makes of a charge x the charge min(max(x + net, 0), full). Hours after one another make min(max(x + a, b), c) of
    it: so a whole day is three numbers, for all days at once, and only the days have to be gone through one by one.

    Source
    ------
    An energy balance by the hour.
    """
    days = np.asarray(nets, float).reshape(len(nets), -1, DAY)
    add, low, high = np.zeros(days.shape[:2]), np.full(days.shape[:2], -np.inf), np.full(days.shape[:2], np.inf)
    for hour in range(DAY):
        net = days[:, :, hour]
        add, low, high = add + net, np.clip(low + net, 0.0, full), np.clip(high + net, 0.0, full)
    level = np.empty(days.shape)
    level[:, :, 0] = [_mornings(*year, full) for year in zip(add.tolist(), low.tolist(), high.tolist())]
    for hour in range(1, DAY):
        level[:, :, hour] = np.clip(level[:, :, hour - 1] + days[:, :, hour - 1], 0.0, full)
    return level.reshape(len(nets), -1)


def _mornings(add: list[float], low: list[float], high: list[float], full: float) -> list[float]:
    """The charge at the start of each day: the year before first, which began full, then this one."""
    for _ in range(2):
        charge, found = full, []
        for a, b, c in zip(add, low, high):
            found.append(charge)
            charge = min(max(charge + a, b), c)
        full = charge
    return found

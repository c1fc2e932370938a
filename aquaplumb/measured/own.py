"""The builder's yes: what was measured becomes the build's own, as changes of its file that a Keep writes. Bare SI inside.

Of a line: a factor on its losses, one on those of each end that was timed, and one on its pump's curve, so that the model reads
what was read. Where the builder says which cause it was, that is written first, and the factors take up what is left. Of a siphon
the flows at which it started and stopped. All is marked with the day.

Source: weighted least squares by `scipy.optimize`; the factors are held near 1 by what is thinkable (common practice, no source).
"""

from __future__ import annotations

import numpy as np

from aquaplumb.measured.fitting import Explanation, Fit, joined
from aquaplumb.units import FLOW

# How far from 1 the factors may be thought to lie, as one standard deviation; common practice, no source.
_LOSSES, _OF_AN_END, _PUMP = 0.5, 1.0, 0.07  # logarithms of factors on losses; part of a pump's curve


def own_factors(fit: Fit, accepted: Explanation | None = None) -> dict[str | tuple, float]:
    """The factors of a line by which the model reads what was read: "losses", ("losses", end) and "pump"."""
    from scipy.optimize import least_squares

    model = fit.model
    ends = list(dict.fromkeys(one.key[1] for one in fit.seen if one.key[0] == "flow"))
    several = len(model.ends) > 1
    keys = ["losses", "pump", *([("losses", end) for end in ends] if several else [])]
    spread = np.array([_LOSSES, _PUMP, *([_OF_AN_END] * (len(keys) - 2))])

    def factors(x: np.ndarray) -> dict:
        return {key: (1 + x[i] if key == "pump" else np.exp(x[i])) for i, key in enumerate(keys)}

    already = accepted.tried if accepted else {}

    def left(x: np.ndarray) -> np.ndarray:
        read = fit.modelled(joined([already, {key: np.array([value]) for key, value in factors(x).items()}]))[:, 0]
        return np.concatenate([(fit.value - read) / fit.sigma, x / spread])

    low = np.array([-0.5 if key == "pump" else np.log(0.1) for key in keys])
    high = np.array([0.5 if key == "pump" else np.log(200.0) for key in keys])
    found = least_squares(left, np.zeros(len(keys)), bounds=(low, high), diff_step=1e-4, xtol=1e-7, ftol=1e-7, max_nfev=60)
    return {key: float(f"{value:.4g}") for key, value in factors(found.x).items()}


def line_changes(fit: Fit, date: str, accepted: Explanation | None = None) -> dict[tuple, object]:
    """What a Keep writes of a line."""
    model, line = fit.model, fit.model.line
    changes: dict[tuple, object] = {}
    for cause, size in zip(accepted.causes, accepted.sizes) if accepted else ():
        changes |= cause.keeps(size)
    kept = accepted if accepted and all(cause.keeps(size) for cause, size in zip(accepted.causes, accepted.sizes)) else None
    if accepted and kept is None:
        changes = {}  # what no key of the file says (air, slime) goes into the factors
    path = ("lines", model.name)
    was = {part.si.name: part.si.loss_factor for part in line.pipe}
    for key, factor in own_factors(fit, kept).items():
        if key == "losses":
            changes[*path, "loss_factor"] = _rounded(line.loss_factor * factor)
        elif key == "pump":
            said = changes.get((*path, "pump_factor"), line.pump_factor)
            changes[*path, "pump_factor"] = _rounded(float(said) * factor)  # type: ignore[arg-type]
        else:
            changes[*path, "pipe", key[1], "loss_factor"] = _rounded(was[key[1]] * factor)
    return changes | {(*path, "measured_on"): date}


def siphon_changes(rows, date: str) -> dict[tuple, object]:
    """What a Keep writes of siphons: the flows that started and stopped them."""
    changes: dict[tuple, object] = {}
    for row in rows:
        m = row.measured.si
        if m.what in ("starts", "stops"):
            changes[("lines", m.of, "siphon", m.what)] = FLOW.quantity(m.flow).to("L/h")
            changes[("lines", m.of, "siphon", "measured_on")] = date
    return changes


def _rounded(value: float) -> float:
    return float(f"{value:.4g}")

"""What to do next where readings cannot tell causes apart: the check whose outcome differs most, by what the model says. Bare SI.

Two sorts of check: another reading with nothing changed but a valve shut (or a meter that nobody has read yet), and the cure of
one cause, after which the readings either come right or stay. The first is preferred where it tells enough.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from aquaplumb.measured.causes import VALVE, Cause
from aquaplumb.measured.fitting import Explanation, Fit
from aquaplumb.units import FLOW, POWER, SHARE, TIME, VOLTAGE, VOLUME

_ENOUGH = 3.0  # σ: what tells two causes apart
_GOOD = 0.035  # part of a flow by a 10 L bucket in half a minute: see `Measured.sure`, and 2 % of the model
_POWER, _VOLTAGE = 0.03, 0.01  # part, of a meter: as in `build.measured`


@dataclass(frozen=True)
class TellingCheck:
    """One check: what to do, as an order; what would be read by each explanation; how far apart they are, over σ."""

    do: str
    expected: tuple[tuple[Explanation, str], ...]
    values: tuple[float, ...]
    apart: tuple[float, ...]  #: of the first explanation from each of the others
    sigma: float
    key: tuple[str, str]  #: what is read
    shut: tuple[str, ...]  #: with these valves shut
    cure: Cause | None  #: the cause that is taken away first; None where nothing is changed but a valve

    @property
    def tells(self) -> bool:
        """Whether it tells the first from any of the others."""
        return max(self.apart, default=0.0) >= _ENOUGH

    def text(self) -> str:
        """It in a sentence or two."""
        grouped: dict[str, list[str]] = {}
        for one, text in self.expected:
            grouped.setdefault(text, []).append(one.name)
        return f"{self.do} " + "; ".join(f"{text}: {' or '.join(names)}" for text, names in grouped.items()) + "."


def bucket_time(flow: float, system: str) -> str:
    """A flow as a hand reads it: the seconds of a bucket."""
    volume = 0.01 if system == "metric" else 2 * 3.785411784e-3
    if flow <= 1e-7:
        return "no water"
    return f"{TIME.text(volume / flow, system) if volume / flow > 600 else f'{volume / flow:.0f} s'} for {VOLUME.text(volume, system)} ({FLOW.text(flow, system)})"


def check(fit: Fit, group: list[Explanation]) -> TellingCheck | None:
    """The check that tells the explanations of a group apart best; None where there is but one."""
    if len(group) < 2:
        return None
    every = [*_readings(fit, group), *_cures(fit, group)]
    return max(every, key=_worth, default=None)


def _worth(one: TellingCheck) -> tuple[float, bool, float]:
    """How well it tells the first from the others; among equals a reading before a cure."""
    return sum(min(apart, _ENOUGH) for apart in one.apart), one.cure is None, max(one.apart)


def _readings(fit: Fit, group: list[Explanation]) -> Iterator[TellingCheck]:
    """Another reading: of any end or meter, all valves as they are, or one of them shut."""
    model, had = fit.model, {(one.key, one.shut) for one in fit.seen}
    valves = [part.name for part in model.parts if part.valve and len(model.below[part.name]) < len(model.ends)]
    for shut in ((), *((name,) for name in valves)):
        found = [model.measured(one.tried, shut) for one in group]
        for key in found[0]:
            if (key, shut) in had:
                continue
            values = [float(np.ravel(one[key])[0]) for one in found]
            if max(values) <= 1e-7:
                continue
            sigma = {"flow": _GOOD, "power": _POWER, "voltage": _VOLTAGE}[key[0]] * max(values)
            apart = tuple(abs(value - values[0]) / sigma for value in values[1:])
            closed = f"Shut the valve in “{shut[0]}” and " if shut else ""
            verb, read = {
                "flow": (f"time the bucket at “{key[1]}”", lambda value: bucket_time(value, fit.system)),
                "power": ("read the power at the plug", lambda value: POWER.text(value, fit.system)),
                "voltage": ("read the voltage at the pump while it runs", lambda value: VOLTAGE.text(value, fit.system)),
            }[key[0]]
            again = " again" if any(one.key == key for one in fit.seen) else ""
            do = f"{closed}{verb}{again}."
            expected = tuple((one, read(value)) for one, value in zip(group, values))
            yield TellingCheck(do[:1].upper() + do[1:], expected, tuple(values), apart, sigma, key, shut, None)


def _cures(fit: Fit, group: list[Explanation]) -> Iterator[TellingCheck]:
    """The cure of one cause, and the reading that it moves most: it comes right, or stays."""
    for cured in group:
        cause = cured.causes[0]
        if not cause.cured or len(cured.causes) > 1:
            continue
        moves = np.abs(cured.modelled - fit.reckoned) / fit.sigma
        at = int(np.argmax(moves))
        values = [float(fit.reckoned[at] if one is cured else fit.value[at]) for one in group]
        if cause.kind == VALVE and cured.sizes[0] < 0:
            continue
        apart = [abs(value - values[0]) / fit.sigma[at] for value in values[1:]]
        kind, name = fit.seen[at].key
        read = {
            "flow": lambda value: bucket_time(value, fit.system), "power": lambda value: POWER.text(value, fit.system),
            "voltage": lambda value: VOLTAGE.text(value, fit.system),
        }[kind]  # fmt: skip
        shut = f" (with the valve in {' and '.join(f'“{one}”' for one in fit.seen[at].shut)} shut)" if fit.seen[at].shut else ""
        of = f"the {kind} at “{name}”" if kind != "power" else "the power"
        do = f"{cause.cured[:1].upper()}{cause.cured[1:]}, and read {of} again{shut}."
        yield TellingCheck(
            do,
            tuple((one, read(value)) for one, value in zip(group, values)),
            tuple(values),
            tuple(apart),
            float(fit.sigma[at]),
            fit.seen[at].key,
            fit.seen[at].shut,
            cause,
        )


def why_alike(fit: Fit, group: list[Explanation]) -> str:
    """Why a group cannot be told apart, in a sentence; "" for one cause."""
    if len(group) < 2:
        return ""
    least = min(fit.cosine(group[0], one) for one in group[1:])
    how = "their effects on what was measured are proportional" if least > 0.99 else (
        f"what they do to the readings differs by less than bucket and watch can tell (they go {SHARE.text(least)} the same way)"
    )  # fmt: skip
    return f"These readings cannot tell {len(group)} causes apart: {how}."

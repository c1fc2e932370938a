"""Simulated built systems, each with one hidden fault, and whether the fit of causes finds it: ``python tests/hidden_faults.py 200``.

A system is a line of a demo build with one random cause of random size in it, read by a hand that is off as hands are: a bucket
by its mark (2 %) and the thumb on the watch (0.7 s), a plug meter by 3 %. It is read with all valves as in the file, and once more
with one valve shut. A fault too small for that hand to see (less than four standard deviations in all) is drawn anew, and counted.
"""

import functools
import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np

from aquaplumb.build import load
from aquaplumb.measured.causes import causes
from aquaplumb.measured.checks import check
from aquaplumb.measured.fitting import TYPICAL, Fit, Seen, joined
from aquaplumb.measured.model import LineModel
from aquaplumb.system.steady import Steady

LINES = [
    ("courtyard", "riser", ""), ("kitchen-garden", "riser", ""), ("greenhouse", "bed loop", ""), ("barrel-yard", "riser", ""),
    ("side-alley", "riser", ""), ("lean-to", "riser", ""), ("courtyard", "riser", "demo 24 V 100 W external"),
]  # fmt: skip
BUCKET, MARK, THUMB, METER = 0.01, 0.02, 0.7, 0.03
SEEN = 16.0  # squares of σ: a fault under this cannot be seen


@functools.cache
def model(demo, line, pump):
    build = load(demo)
    if pump:
        build = build.changed({("lines", line, "pump"): pump})
    return LineModel(Steady(build), line)


def holds(name, one) -> bool:
    """Whether an explanation has a cause of that name in it."""
    return any(cause.name == name for cause in one.causes)


@dataclass
class Case:
    """One hidden fault and what the fit said."""

    line: tuple
    cause: object
    size: float
    fit: Fit
    place: int | None  #: of the group that holds the true cause, from 0
    alone: int | None  #: of the cause among all, members of a group one by one, once the check has been done
    members: int  #: of that group
    flat: int | None  #: of the cause among all, members of a group one by one, before any check


def readings(m, tries, shut, rng):
    """What a hand reads, with its σ."""
    found = []
    for state in shut:
        for key, value in m.measured(tries, state).items():
            true = float(value[0])
            if key[0] == "flow":
                if true < 1e-6:
                    continue
                volume = max(BUCKET, 15 * true)  # a small bucket is no use under a strong flow: 15 s at least
                sigma = np.hypot(MARK, THUMB * true / volume)
            elif key[0] == "power" and not state:
                sigma = METER
            else:
                continue
            got = true * (1 + sigma * rng.standard_normal())
            found.append(Seen(key, state, got, float(np.hypot(sigma, TYPICAL[key[0]])) * got))
    return found


def case(rng, dropped: Counter) -> Case:
    while True:
        where = LINES[rng.integers(len(LINES))]
        m = model(*where)
        every = causes(m)
        kinds = sorted({one.kind for one in every})
        kind = kinds[rng.integers(len(kinds))]  # each kind as often, then one of it
        of_kind = [one for one in every if one.kind == kind]
        cause = of_kind[rng.integers(len(of_kind))]
        size = float(rng.uniform(0.05, 0.95)) * (-1.0 if cause.least < 0 and rng.random() < 0.25 else 1.0)
        valves = [part.name for part in m.parts if part.valve and len(m.below[part.name]) < len(m.ends)]
        shut = [(), (valves[rng.integers(len(valves))],)] if valves else [()]
        seen = readings(m, cause.tried(np.array(size)), shut, rng)
        if not seen:
            dropped["no water at all"] += 1
            continue
        fit = Fit(m, seen)
        true = fit.modelled(cause.tried(np.array([size])))[:, 0]
        if float((((true - fit.reckoned) / fit.sigma) ** 2).sum()) < SEEN:
            dropped[kind] += 1
            continue
        same = functools.partial(holds, cause.name)
        place = next((i for i, group in enumerate(fit.groups) if any(map(same, group))), None)
        group = fit.groups[place] if place is not None else []
        flat = next((i for i, one in enumerate(one for group in fit.groups for one in group) if same(one)), None)
        return Case(where, cause, size, fit, place, after_checks(fit, cause, size, rng), len(group), flat)


def after_checks(fit, cause, size, rng) -> int | None:
    """The place of the true cause once the checks that are named have been done: each outcome, read by the same hand, drops what it contradicts."""
    left = [one for group in fit.groups[:2] for one in group]
    true = joined([cause.tried(np.array([size]))])
    for _ in range(4):
        asked = check(fit, left) if len(left) > 1 else None
        if asked is None or not asked.tells:
            break
        gone = asked.cure is not None and asked.cure.name == cause.name
        outcome = float(fit.model.measured({} if gone else true, asked.shut)[asked.key][0]) * (1 + METER * rng.standard_normal())
        left = [one for one, value in zip(left, asked.values) if abs(value - outcome) < 3 * max(asked.sigma, 1e-9)] or left[:1]
    return next((i for i, one in enumerate(left) if any(c.name == cause.name for c in one.causes)), None)


def tried(n: int, seed: int) -> tuple[list[Case], Counter]:
    """So many cases, and what was dropped because no hand could see it."""
    dropped: Counter = Counter()
    return [case(np.random.default_rng((seed, i)), dropped) for i in range(n)], dropped


def main(n: int) -> None:
    cases, dropped = tried(n, 16)
    first = sum(one.place == 0 for one in cases)
    two = sum(one.place is not None and one.place < 2 for one in cases)
    alone = sum(one.alone is not None and one.alone < 2 for one in cases)
    print(f"{n} hidden faults: in the first group {first}, in the first two {two} ({100 * two / n:.1f} %)")
    print(
        f"mean size of the group that holds it {np.mean([one.members for one in cases]):.1f}; told in one cause alone {sum(one.members == 1 for one in cases)}"
    )
    flat = sum(one.flat is not None and one.flat < 2 for one in cases)
    print(f"before any check, among the first two causes taken one by one: {flat} ({100 * flat / n:.1f} %)")
    print(f"after the checks that are named, among the first two causes taken one by one: {alone} ({100 * alone / n:.1f} %)")
    for kind in sorted({one.cause.kind for one in cases}):
        own = [one for one in cases if one.cause.kind == kind]
        print(f"  {kind:9} {len(own):3}: first two groups {sum(one.place is not None and one.place < 2 for one in own):3}, after checks {sum(one.alone is not None and one.alone < 2 for one in own):3}, mean group {np.mean([one.members for one in own]):.1f}")  # fmt: skip
    print("too small to be seen, drawn anew:", dict(dropped))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)

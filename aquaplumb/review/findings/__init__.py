"""Findings: what a builder would get wrong, said in one sentence with the numbers in it and the cure.

Each finding is one small function beside its topic (`stock`, `season`, `flows`, `growing`, `drippers`, `filters`, `pipework`, `turning`, `falls`, `branches`, `outlets`, `pumping`, `suction`, `through_time`, `buried` …). It reads the
solved system (`aquaplumb.system.steady.Steady`, bare SI numbers) and yields what it sees::

    @finding("drain short", notebook="06")
    def drain_short(system, say):
        for fall in system.falling.values():
            if fall.peak > fall.capacity:
                yield stop(fall.name, f"…it carries {say(FLOW, fall.capacity)} …", "Make it …")

The name is for good: tests, notebooks and faulty builds call a finding by it.
"""

from __future__ import annotations

from aquaplumb.given import takes_things
from aquaplumb.review.findings import (
    air,
    branches,
    buried,
    contradictions,
    cutting,
    drippers,
    falls,
    filters,
    flows,
    growing,
    origin,
    outlets,
    pipework,
    power,
    pumping,
    season,
    standing,
    stock,
    suction,
    through_time,
    turning,
    unusual,
    upkeep,
)
from aquaplumb.review.findings.base import CHECKS, SEVERITIES, Finding
from aquaplumb.system.drills import drills
from aquaplumb.system.stories import Endless

_WALK = [
    topic.__name__
    for topic in (
        standing,
        stock,
        season,
        flows,
        growing,
        drippers,
        filters,
        pipework,
        turning,
        falls,
        branches,
        outlets,
        contradictions,
        cutting,
        pumping,
        suction,
        through_time,
        air,
        power,
        upkeep,
        origin,
        buried,
        unusual,
    )
]  # in its order
_CHECKS = sorted(CHECKS, key=lambda check: _WALK.index(check.look.__module__))


@takes_things
def names(*, through_time: bool = False) -> list[str]:
    """The plain names of all findings, or only of those through time. A name may be found both ways."""
    return list(dict.fromkeys(name for name, *_, needs_time in _CHECKS if needs_time or not through_time))


def found(system, *, through_time: bool = False) -> list[Finding]:
    """All findings of a solved system, worst first, else in the order of the walk.

    Those that need simulated time only where asked for; what the steady system has shown is not said again, unless time shows
    it worse: then the worse stays. Where simulated time is asked for, all of them read what the run shows (`Steady.in_time`).
    """

    def say(kind, value) -> str:
        return kind.text(value, system.build.units)

    if through_time:
        drills(system.build).refused  # noqa: B018  all of them are run side by side, those in which nothing fails among them
        system = system.in_time
    seen: dict[tuple, list[Finding]] = {}
    for name, notebook, check, needs_time in _CHECKS:
        if needs_time and not through_time:
            continue
        try:
            new = [
                Finding(name, severity, where, sentence, cure, *(page or [notebook]))
                for severity, where, sentence, cure, *page in check(system, say)
            ]
        except Endless:  # "failures not run through" says it
            continue
        for one in new:
            said = seen.setdefault((name, one.where), [])
            if needs_time and said and _rank(one) < min(map(_rank, said)):
                said.clear()
            if not needs_time or not said:
                said.append(one)
    return sorted((one for ones in seen.values() for one in ones), key=lambda f: (_rank(f), f.notebook))


def _rank(one: Finding) -> int:
    return SEVERITIES.index(one.severity)

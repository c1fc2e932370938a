"""The water that comes into fish tanks, whichever pumps run, and which tank lies above which."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from aquaplumb.system.balance import Balance
from aquaplumb.system.states import TankLoad


def into_tanks(
    system: Balance, running: set[str] | None = None, *, tanks: Collection[str] | None = None, of: Collection[str] | None = None
) -> float:
    """The water [m³/s] that comes into some fish tanks, or all, over the hour; with the pumps of these lines alone.

    It is that which comes from elsewhere, or `of` some other fish tanks. What falls out of a vessel is as much less as comes into that.
    """
    every = {tank.si.name for tank in system.build.of_kind("fish tank")}
    tanks = every if tanks is None else set(tanks)
    sources = set(system.build.vessels) - every if of is None else set(of)
    whole = running is None or running >= system.pumped.keys()

    def pumped(to: Collection[str], by: Collection[str], source: Collection[str] | None = None) -> float:
        return sum(
            o.flow * line.duty
            for name, line in system.pumped.items()
            if name in by
            for o in line.outlets
            if o.to in to and (source is None or line.line.si.source in source)
        )

    def left(vessel: str, above: frozenset[str] = frozenset()) -> float:
        """The part of what comes into a vessel that still does."""
        falls = [f for f in system.falling.values() if f.line.si.to == vessel and f.root.si.name not in above]
        usual = pumped({vessel}, system.pumped) + sum(f.mean for f in falls)
        now = pumped({vessel}, running or ()) + sum(f.mean * left(f.root.si.name, above | {vessel}) for f in falls if f.mean > 0)
        return now / usual if usual > 0 else 0.0

    falls = [f for f in system.falling.values() if f.line.si.to in tanks and f.root.si.name in sources]
    fallen = sum(f.mean * (1.0 if whole else left(f.root.si.name)) for f in falls)
    if of is not None:  # a joint goes either way
        back = [f for f in system.falling.values() if f.line.si.source in tanks and f.line.si.to in sources and f.mean < 0]
        fallen = sum(f.mean * (1.0 if whole else left(f.root.si.name)) for f in falls if f.mean > 0)
        fallen -= sum(f.mean * (1.0 if whole else left(f.line.si.to)) for f in back)
    return pumped(tanks, system.pumped if whole else running or (), sources) + fallen


def downstream(system: Balance, tanks: Mapping[str, TankLoad]) -> list[str]:
    """The tanks, each after those whose water comes to it; where water goes round between two, as in the file."""
    order: list[str] = []

    def add(name: str, below: tuple[str, ...]) -> None:
        for other in tanks:
            if other not in (*order, *below, name) and into_tanks(system, tanks=tanks[name].vessels, of=tanks[other].vessels) > 0:
                add(other, (*below, name))
        if name not in order:
            order.append(name)

    for name in tanks:
        add(name, ())
    return order

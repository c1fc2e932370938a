"""How quick water through time is: simulated hours a second, cost against the number of beds, and against solve_ivp.

    python tests/bench/bench_levels.py

Processor time, the least of several rounds. "solve_ivp" is scipy's solver with events on the two-vessel siphon system
of ``tests/test_levels_outside.py``, its flows from the same public functions, at tolerances that give the same
accuracy (levels within 2 mm, switches within 3 s over four hours, as that test holds).
"""

import sys
import time
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]
import test_levels_outside as outside  # noqa: E402
from levels_builds import fall, made, pumped, vessel  # noqa: E402

from aquaplumb import lines, pumps  # noqa: E402
from aquaplumb.build import demos, load  # noqa: E402
from aquaplumb.drills import Drills  # noqa: E402
from aquaplumb.levels import simulate  # noqa: E402
from aquaplumb.steady import Steady  # noqa: E402

AIM_RATIO, AIM_DRILLS, AIM_MOVE = 10, 1.0, 0.15


def least(call, rounds: int = 3) -> float:
    """Processor seconds of one call, after one go that does not count."""
    call()
    taken = []
    for _ in range(rounds):
        start = time.process_time()
        call()
        taken.append(time.process_time() - start)
    return min(taken)


def beds(count: int):
    """A pump that feeds so many beds, each with a standpipe back to the sump."""
    names = [f"bed {i}" for i in range(count)]
    parts = [vessel(name, "bed", area=1.0, height=0.4, floor=0.5, depth=0.2) for name in names]
    parts += [fall(f"drain {i}", name, "sump", lip=0.7, outlet=0.2, bore=0.04, length=0.6, vented=True) for i, name in enumerate(names)]
    parts += [vessel("sump", "sump", area=0.4 * count, height=0.8, floor=-0.8, depth=0.5)]
    parts += [pumped("riser", "sump", {name: 1.0 for name in names}, bore=0.05, control={"kind": "timer", "on": "15 min", "off": "15 min"})]
    return made(*parts)


def main() -> None:
    for name in demos():
        build = load(name)
        seconds = least(lambda build=build: simulate(build, "24 h"))
        print(f"  {name + ', a day':<58} {24 / seconds:8.0f} simulated hours a second")
        quick = least(lambda build=build: simulate(build, "6 h", quick=True))
        print(f"  {name + ', 6 h as a slider asks for':<58} {1000 * quick:8.0f} ms   aim {1000 * AIM_MOVE:g}: {quick / AIM_MOVE:.2f} of it")
        failures = least(lambda build=build: Drills(build))
        print(f"  {name + ', the standard failures':<58} {failures:8.2f} s    aim {AIM_DRILLS:g}: {failures / AIM_DRILLS:.2f} of it")
    first = None
    for count in (8, 32, 128):
        build = beds(count)
        made_in = least(lambda build=build: (vars(build).pop("_network", None), simulate(build, "1 s")), 1)
        seconds = least(lambda build=build: simulate(build, "6 h"), 1)
        first = first or seconds
        print(f"  {count:>3} beds on a timer, 6 h: {seconds:6.2f} s ({seconds / first:4.1f} times 8 beds); its tables {made_in:5.2f} s")
    build = outside.siphoning(pumped("lift", "sump", {"bed": 0.6}, pump="demo mains 80 W submersible", fittings={"swing check valve": 1}, bore=0.0266))
    system, line, machine = Steady(build), build.pumped["lift"], pumps.pump("demo mains 80 W submersible")
    tree, levels = system.tree(line), np.linspace(-1.5, -0.6, 181)
    brought = np.array([lines.flows.si(tree.replace(source=f"{z} m"), machine).si.flow for z in levels])
    theirs = least(lambda: outside.two_tanks(build, lambda z: float(np.interp(z, levels, brought)), 4), 1)
    ours = least(lambda: simulate(build, "4 h"))
    print(f"  {'a bed siphon for 4 h: solve_ivp over ours':<58} {theirs / ours:8.1f} times (aim {AIM_RATIO}); ours {1000 * ours:.0f} ms")


if __name__ == "__main__":
    main()

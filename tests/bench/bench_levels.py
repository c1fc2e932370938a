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
from scipy.integrate import solve_ivp  # noqa: E402

import test_levels_outside as outside  # noqa: E402
from aquaplumb.build import demos, load  # noqa: E402
from aquaplumb.plumbing import drains, full_pipe, lines, pumps  # noqa: E402
from aquaplumb.system.drills import Drills  # noqa: E402
from aquaplumb.system.levels import Event, network, simulate  # noqa: E402
from aquaplumb.system.steady import Steady, solved  # noqa: E402
from levels_builds import fall, made, pumped, vessel  # noqa: E402

AIM_RATIO, AIM_DRILLS, AIM_MOVE = 5, 1.0, 0.15


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


def ordinary(build, hours: float = 6.0, off: tuple = (1.0, 3.0)):
    """The same by scipy's solver, each flow from the library's own functions as anyone would write it; no siphons, no floats."""
    system = Steady(build)
    net = network(build)
    falls, lifts = list(system.falling.values()), list(system.pumped.values())
    pipes = [{"length": f.line.si.length, "k": f.k, "temperature": system.cold} for f in falls]

    def change(t, volume, power):
        level = net.floor + net.depths(volume)[0]
        out = np.zeros(len(volume))
        for f, pipe, a, b in zip(falls, pipes, net.fall_from, net.fall_to):
            r = f.line.si
            q = min(
                drains.standpipe_flow.si(level[a] - r.lip, r.bore),
                full_pipe.full_bore_flow.si(level[a] - max(r.outlet, level[b]), r.bore, **pipe),
            )
            out[a] -= q
            out[b] += q
        for lift, a in zip(lifts, net.line_from) if power else ():
            found = lines.flows.si(lift.tree.from_si(**{**vars(lift.tree.si), "source": level[a]}), lift.pump).si
            out[a] -= found.flow
            for end, q in zip(found.ends, found.end_flow):
                out[net.end_to[net.ends.index(end)]] += q
        return out

    volume, pieces = system.means.start(), ((0, off[0], True), (off[0], off[1], False), (off[1], hours, True))
    for begin, end, power in pieces:
        found = solve_ivp(change, (begin * 3600, end * 3600), volume, args=(power,), method="LSODA", rtol=1e-4, atol=1e-5)
        volume = found.y[:, -1]
    return volume


def main() -> None:
    for name in demos():
        build = load(name)
        seconds = least(lambda build=build: simulate(build, "24 h"))
        print(f"  {name + ', a day':<58} {24 / seconds:8.0f} simulated hours a second")
        quick = least(lambda build=build: simulate(build, "6 h", quick=True))
        print(f"  {name + ', 6 h as a slider asks for':<58} {1000 * quick:8.0f} ms   aim {1000 * AIM_MOVE:g}: {quick / AIM_MOVE:.2f} of it")
        failures = least(lambda build=build: Drills(build).every)
        print(f"  {name + ', the standard failures':<58} {failures:8.2f} s    aim {AIM_DRILLS:g}: {failures / AIM_DRILLS:.2f} of it")
    first = None
    for count in (8, 32, 128):
        build = beds(count)
        made_in = least(lambda build=build: (solved.cache_clear(), simulate(build, "1 s")), 1)
        seconds = least(lambda build=build: simulate(build, "6 h"), 1)
        first = first or seconds
        print(f"  {count:>3} beds on a timer, 6 h: {seconds:6.2f} s ({seconds / first:4.1f} times 8 beds); its tables {made_in:5.2f} s")
    build = outside.siphoning(
        pumped("lift", "sump", {"bed": 0.6}, pump="demo mains 80 W submersible", fittings={"swing check valve": 1}, bore=0.0266)
    )
    system, line, machine = Steady(build), build.pumped["lift"], pumps.pump("demo mains 80 W submersible")
    tree, levels = system.tree(line), np.linspace(-1.5, -0.6, 181)
    brought = np.array([lines.flows.si(tree.replace(source=f"{z} m"), machine).si.flow for z in levels])
    theirs = least(lambda: outside.two_tanks(build, lambda z: float(np.interp(z, levels, brought)), 4), 1)
    ours = least(lambda: simulate(build, "4 h"))
    print(
        f"  {'a bed siphon for 4 h: solve_ivp, its flows in tables too':<58} {theirs / ours:8.1f} times (aim {AIM_RATIO}); ours {1000 * ours:.0f} ms"
    )
    build = load("one-way-out")
    cut = [Event("power fails", at="1 h", until="3 h")]
    theirs, ours = least(lambda: ordinary(build), 1), least(lambda: simulate(build, "6 h", events=cut))
    apart = np.abs(ordinary(build) - simulate(build, "6 h", events=cut).volume[-1]).max()
    print(
        f"  {'a power cut in 6 h: solve_ivp on the same functions':<58} {theirs / ours:8.1f} times (aim {AIM_RATIO}); at the end {1000 * apart:.2f} L apart"
    )


if __name__ == "__main__":
    main()

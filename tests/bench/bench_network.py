"""How quick the water of a build is found and followed: its means, what it does while nothing fails, a review, twenty vessels, a chattering float.

    python tests/bench/bench_network.py

Processor time, the least of several rounds. A sweep's 100,000 designs are in `bench_sweep`, a run against scipy's
`solve_ivp` in `bench_levels`.
"""

import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]
from aquaplumb.build import demos, load  # noqa: E402
from aquaplumb.review import review  # noqa: E402
from aquaplumb.system import drills  # noqa: E402
from aquaplumb.system.means import Means  # noqa: E402
from aquaplumb.system.running import running  # noqa: E402
from aquaplumb.system.steady import Steady, solved  # noqa: E402
from levels_builds import fall, made, pumped, vessel  # noqa: E402
from many_vessels import many_beds  # noqa: E402
from test_repeats import bucket  # noqa: E402

AIMS = {"still": 10e-3, "goes round": 60e-3, "means": 10e-3, "review": 0.5, "twenty": 3.0, "hundred": 3.0}


def least(call, rounds: int = 5) -> float:
    """Processor seconds of one call, the least of some."""
    taken = []
    for _ in range(rounds):
        start = time.process_time()
        call()
        taken.append(time.process_time() - start)
    return min(taken)


def forgotten() -> None:
    """Nothing is kept from one round to the next."""
    drills.drills.cache_clear()
    drills._run.cache_clear()
    solved.cache_clear()


def told(what: str, seconds: float, aim: float) -> None:
    print(f"  {what:<58} {1000 * seconds:8.1f} ms   aim {1000 * aim:g}: {seconds / aim:.2f} of it")


def ring(count: int, *, floats: bool):
    """A pump feeds so many vessels beside each other, each over into the next but one, all back to the sump; a float lifts a pit dry."""
    names = [f"bed {i}" for i in range(count)]
    parts = [
        vessel(name, "bed" if name != "bed 0" else "fish tank", area=1.0, height=0.4, floor=1.5 - 0.03 * i, depth=0.2)
        for i, name in enumerate(names)
    ]
    for i, name in enumerate(names):
        to = names[i + 2] if i + 2 < count else "pit"
        parts.append(
            fall(
                f"over {i}",
                name,
                to,
                lip=1.75 - 0.03 * i,
                outlet=1.5 if to != "pit" else 0.0,
                bore=0.06,
                length=0.6 if to != "pit" else 2.0,
                vented=True,
            )
        )
    control = {"kind": "float", "on_depth": "0.2 m", "off_depth": "0.19 m"} if floats else None
    parts += [
        vessel("pit", "sump", area=0.05, height=0.8, floor=-0.4, depth=0.3),
        vessel("sump", "sump", area=0.4 * count, height=0.8, floor=-0.8, depth=0.5),
    ]
    parts += [pumped("riser", "sump", {name: 2.2 for name in names[:2]}, bore=0.05, inlet_depth=0.1)]
    parts += [pumped("back", "pit", {"sump": 0.2}, control=control, inlet_depth=0.05, fittings={"swing check valve": 1})]
    return made(*parts)


def main() -> None:
    still = ring(4, floats=False)
    told("running, nothing that switches", least(lambda: (forgotten(), running(still))), AIMS["still"])
    for name in demos():
        build, system = load(name), Steady(load(name))
        str(review(build))
        told(f"{name}, means alone", least(lambda s=system: Means(s.network, s.means.pumped, s.means.falling)), AIMS["means"])
        every = least(lambda b=build: (forgotten(), running(b)), 3)
        told(f"{name}, running", every, AIMS["goes round"])
        told(f"{name}, a review with all failures", least(lambda b=build: (forgotten(), str(review(b))), 3), AIMS["review"])
    for floats in (False, True):
        build = ring(18, floats=floats)
        what = "a review of 20 vessels" + (", a chattering float among them" if floats else "")
        told(what, least(lambda b=build: (forgotten(), str(review(b))), 1), AIMS["twenty"])
    for check in (True, False):
        build = bucket(check=check)
        what = "a review of a bucket with a band of 1 cm" + ("" if check else ", no check valve")
        told(what, least(lambda b=build: (forgotten(), str(review(b))), 1), AIMS["twenty"])
    for alike in (True, False):
        build = many_beds(alike=alike, vessels=104, step=0.1)
        what = "a review of a hundred beds, " + ("all alike" if alike else "each 0.1 in higher")
        told(what, least(lambda b=build: (forgotten(), str(review(b))), 1), AIMS["hundred"])


if __name__ == "__main__":
    main()

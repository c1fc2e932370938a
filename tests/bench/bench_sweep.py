"""How quick a sweep is, as ratios: 100,000 designs of the greenhouse (two loops) against the aim, and against one by one.

    python tests/bench/bench_sweep.py

Wall clock, since it is about two processors at once; on a machine that does something else too, it shows.
"""

import concurrent.futures
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
from aquaplumb.build import demos, load
from aquaplumb.figures.tornado import TornadoPicture
from aquaplumb.review.sweep import BLOCK, sweep
from aquaplumb.system.steady import Steady

DESIGNS, AIM, PROCESSES = 100_000, 10.0, 2


def taken(action) -> float:
    """Seconds on the wall."""
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def main() -> None:
    for name in demos():
        build = load(name)
        sweep(build, None, 10, seed=1)
        one = min(taken(lambda: Steady(build)) for _ in range(5))  # noqa: B023
        start = time.process_time()
        sweep(build, None, 4 * BLOCK, seed=1)
        each = (time.process_time() - start) / (4 * BLOCK)
        print(f"  {name}: each design {1e6 * each:.0f} µs of a processor, {one / each:.0f} times quicker than alone")
    greenhouse = load("greenhouse")
    here = taken(lambda: sweep(greenhouse, None, DESIGNS, seed=1))
    print(f"  {DESIGNS:,} designs of the greenhouse, in one process        {here:6.1f} s: {here / AIM:.2f} of the aim for two")
    with concurrent.futures.ProcessPoolExecutor(PROCESSES) as pool:
        sweep(greenhouse, None, PROCESSES * BLOCK, seed=1, executor=pool)  # the processes are up
        kept = []
        beside = taken(lambda: kept.append(sweep(greenhouse, None, DESIGNS, seed=1, executor=pool)))
    print(
        f"  … in {PROCESSES} processes                                         {beside:6.1f} s: {beside / AIM:.2f} of the aim of {AIM:g} s, {here / beside:.1f} times quicker"
    )
    asked = taken(lambda: (kept[0].matters("line bed loop.flow"), str(kept[0])))
    bars = taken(lambda: TornadoPicture(kept[0].swings("line bed loop.flow")).png())
    print(f"  reading the answer of {DESIGNS:,} {asked:.1f} s; a picture of what matters {bars:.2f} s")


if __name__ == "__main__":
    main()

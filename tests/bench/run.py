"""All benchmarks: ``python tests/bench/run.py``. Each prints what was measured, its aim, and a ratio; none is a test.

Times are of the processor, so that another program on the machine does not count.

``python tests/bench/run.py --browser`` adds the slow one: key press to changed pixels in a real JupyterLab.
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).parent


def median(action, times: int = 30) -> float:
    """The median time of an action [ms], after one go that does not count."""
    action()
    taken = []
    for _ in range(times):
        start = time.process_time()
        action()
        taken.append((time.process_time() - start) * 1000)
    return statistics.median(taken)


def tell(what: str, found: float, aim: float, unit: str = "ms") -> None:
    """One line: the value, the aim and their ratio."""
    print(f"  {what:<58} {found:8.1f} {unit:<4} aim {aim:g}: {found / aim:.2f} of it")


def importing() -> None:
    """How long ``import aquaplumb`` takes beside a bare Python, and that it stays light."""

    def run(code: str) -> float:
        return min(_timed(code) for _ in range(5))

    bare = run("pass")
    ours = run("import aquaplumb")
    pint = run("import pint; pint.UnitRegistry()")
    tell("import aquaplumb (a bare Python taken off)", ours - bare, 500)
    print(f"  {'… against pint and its registry alone':<58} {(ours - bare) / (pint - bare):8.2f} times")


def _timed(code: str) -> float:
    told = subprocess.run(
        [sys.executable, "-c", f"import time\n{code}\nprint(time.process_time())"], check=True, capture_output=True, text=True
    )
    return float(told.stdout) * 1000


def reviewing() -> None:
    """The whole review of a build, and reading its file."""
    from aquaplumb.build import demos, load
    from aquaplumb.review import review

    for name in demos():
        build = load(name)
        tell(f"review of {name}", median(lambda build=build: review(build)), 20)
        tell(f"reading the file of {name}", median(lambda name=name: load(name), 10), 100)


def panels() -> None:
    """Compute and draw at each move of a slider, for every what-if."""
    import importlib

    from aquaplumb.build import load
    from aquaplumb.whatif import WALK

    build = load("courtyard")
    for name in WALK:
        panel = importlib.import_module(f"aquaplumb.whatif.{name}").panel(build)
        row = next(r for r in panel._rows.values() if hasattr(r, "slider"))
        steps = iter(range(10_000))

        def move(panel=panel, row=row, steps=steps):
            low, high = row.low, row.high
            row.take(low + (high - low) * (0.3 + 0.01 * (next(steps) % 40)))
            panel._heard("")

        tell(f"a move of “{row.spec.label}” in {name}", median(move), 30)


_MOVES = """
import importlib, sys
from aquaplumb.build import load
from aquaplumb.whatif import {name}
panel = {name}.panel(load("courtyard"))
row = next(r for r in panel._rows.values() if hasattr(r, "slider"))
def held():
    return int(next(line for line in open("/proc/self/status") if line.startswith("VmRSS")).split()[1]) / 1024
for move in range(500):
    row.take(row.low + (row.high - row.low) * (0.3 + 0.01 * (move % 40)))
    panel._heard("")
    if move == 99:
        early = held()
print(early, held())
"""


def remembering() -> None:
    """What a Python with a what-if open holds after 500 moves, and how much of it came after the first 100."""
    if not Path("/proc/self/status").exists():
        print("  (only measured on Linux)")
        return
    for name in ("pump", "fish_load"):
        told = subprocess.run([sys.executable, "-c", _MOVES.format(name=name)], check=True, capture_output=True, text=True)
        early, late = map(float, told.stdout.split())
        tell(f"memory with {name} open, after 500 moves", late, 250, "MB")
        print(f"  {'… grown since the first 100':<58} {late - early:8.1f} MB")


def notebooks() -> None:
    """The whole walk run and compared by nbval, in one process."""
    start = time.perf_counter()
    books = sorted((HERE.parents[1] / "notebooks").glob("*.ipynb"))
    subprocess.run([sys.executable, "-m", "pytest", "-q", *map(str, books)], check=False, stdout=subprocess.DEVNULL)
    tell(f"nbval on {len(books)} notebooks (wall clock)", time.perf_counter() - start, 180, "s")


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("--browser", action="store_true")
    browser = asked.parse_args().browser
    for part in (importing, reviewing, panels, remembering, notebooks):
        print(part.__doc__)
        part()
    for script in ("bench_tree.py", "bench_levels.py", "bench_network.py", "bench_sweep.py", *(["bench_panel.py"] if browser else [])):
        print(f"\n{script}")
        subprocess.run([sys.executable, str(HERE / script)], check=False)

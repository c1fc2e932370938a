"""How quick the tree solver is, as ratios: against EPANET (through wntr) on the same trees, and against itself in a sweep.

    python tests/bench/bench_tree.py

Processor time, the least of several rounds. "the solve" is the bare kernel; "with records" makes the whole
`Solution`; EPANET's run is wntr's `run_sim`, which writes and reads files, as anyone would call it. Its engine alone
(hydraulics of an open project, no files) is shown too, since that is the fairer rival of the bare kernel.
"""

import os
import sys
import tempfile
import time
import warnings
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]
import epanet_trees  # noqa: E402
from aquaplumb.plumbing import line_solver, lines  # noqa: E402
from aquaplumb.plumbing.line_records import net  # noqa: E402

AIM_SECONDS, AIM_RATIO, SWEEP = 0.6e-3, 20, 100_000


def least(call, seconds: float = 1.0, rounds: int = 7) -> float:
    """Processor seconds of one call: the least of some rounds."""
    start = time.process_time()
    call()
    once = max(time.process_time() - start, 1e-6)
    repeat = max(1, int(seconds / rounds / once))
    best = np.inf
    for _ in range(rounds):
        start = time.process_time()
        for _ in range(repeat):
            call()
        best = min(best, (time.process_time() - start) / repeat)
    return best


def engine(made) -> float:
    """Processor seconds of EPANET's engine for one solve of an open project."""
    from wntr.epanet.toolkit import ENepanet

    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "tree.inp")
        Path(path).write_text(epanet_trees.inp([made]))
        project = ENepanet()
        project.ENopen(path, path + ".rpt", path + ".bin")
        project.ENopenH()

        def solve():
            project.ENinitH(10)  # from its own first guess, as ours
            project.ENrunH()

        taken = least(solve)
        project.ENcloseH()
        project.ENclose()
    return taken


def main() -> None:
    warnings.filterwarnings("ignore", message="Changing the headloss formula")
    rng = np.random.default_rng(1)
    print(f"{'stretches':>9}  {'the solve: times quicker than':>34}   {'with records: times quicker than':>34}")
    print(f"{'':>9}  {'wntr run':>17}{'its engine':>17}   {'wntr run':>17}{'its engine':>17}")
    for count in (7, 21, 61, 200):
        made = epanet_trees.random_tree(rng, count)
        line = made.line()
        kept = net(line, "typical")
        bare = least(lambda: line_solver.end_flows(kept.shape, kept.links, kept.outlet, pump=made.pump, source=made.source))  # noqa: B023
        full = least(lambda: lines.flows.si(line, made.pump))  # noqa: B023
        network = epanet_trees.model([made])
        run, alone = least(lambda: epanet_trees.epanet(network)), engine(made)  # noqa: B023
        print(f"{count:>9}  {run / bare:>17.0f}{alone / bare:>17.2f}   {run / full:>17.0f}{alone / full:>17.2f}")
        if count == 7:
            print(f"{'':>9}  (one solve takes {bare / AIM_SECONDS:.2f} of the aim of 0.6 ms; the aim against a run is {AIM_RATIO})")
            seven, one, seven_run = made, bare, run
    parts = [vars(part.si) for part in seven.line().si.stretches]
    swept = [part | {"extra_k": part["extra_k"] * rng.uniform(0.3, 3, SWEEP)} for part in parts]
    designs = lines.Line.from_si(name="sweep", source=seven.source, stretches=tuple(lines.Stretch.from_si(**part) for part in swept))
    many = least(lambda: lines.flows.si(designs, seven.pump), rounds=2) / SWEEP
    print(f"\nin a sweep of {SWEEP:,} designs of 7 stretches, each is {one / many:.0f} times quicker than alone, "
          f"and {seven_run / many:.0f} times quicker than a wntr run")  # fmt: skip


if __name__ == "__main__":
    main()

"""``python tests/corpus``: run the corpus, or all of it, and count how it ended."""

import collections
import sys
import tempfile
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import corpus  # noqa: E402  (its folder has to be on the path first)


def main(arguments: list[str]) -> int:
    """Prints a line a group, and each case that ended wrongly."""
    if "--silent" in arguments:
        return silent([one for one in arguments if not one.startswith("-")])
    every, wanted = "--all" in arguments, [one for one in arguments if not one.startswith("-")]
    if strange := sorted(set(wanted) - corpus.groups().keys()):
        print(f"there is no group {strange[0]}; there are {', '.join(corpus.groups())}.")
        return 2
    counts: dict[str, collections.Counter] = {}
    wrong = 0
    for case in corpus.cases(every, wanted):
        count, began = counts.setdefault(case.group, collections.Counter()), time.process_time()
        with tempfile.TemporaryDirectory() as folder:
            try:
                count[corpus.ended(case, Path(folder))] += 1
            except corpus.Wrong as why:
                wrong += 1
                count["WRONG"] += 1
                print(f"✖ {case.group} · {case.name}: {why}", flush=True)
        count["ms"] += round(1000 * (time.process_time() - began))
    for group, count in counts.items():
        spent = count.pop("ms")
        print(f"{group:20} {sum(count.values()):6} cases  {dict(count)}  {spent / 1000:.1f} s")
    return int(wrong > 0)


def silent(demos: list[str]) -> int:
    """Prints each slip by ten or by a tenth of which a person is told nothing."""
    from corpus import slips

    for demo in demos:
        several = list(slips.silent(demo))
        for slip in several:
            print(f"{demo}, line {slip.line}: {slip.now}")
        print(f"{demo}: {len(several)} of {len(slips.slips(demo, (10, 0.1)))} in silence", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

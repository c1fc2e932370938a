"""Slips of a unit, made on purpose: each number of a demo times ten, a thousand …, and what becomes of the build.

    python tests/slips.py                  every slip of every demo, as a table (a quarter of an hour)
    python tests/slips.py courtyard -v     those of one demo, a line each
    python tests/slips.py --every 8        each eighth of them

Each case runs in a process of its own, which is ended where it takes too long.
"""

import argparse
import collections
import functools
import math
import os
import pickle
import re
import select
import signal
import time
from dataclasses import dataclass

from aquaplumb.build import Build, demos, load
from aquaplumb.review import review
from aquaplumb.units import DesignError, quantity

FACTORS = (1000, 100, 10, 0.1, 0.01, 0.001, -1)
OUTCOMES = ("refused with its place", "refused, vague", "finding", "note", "nothing new", "hang", "fault")
PATIENCE = 10  # s of computing for one case; as many times longer by the clock where the machine is busy
_BUSY = 12
_NAMES = {"size", "standard", "title", "about", "name"}  # text that may begin with a number and is none
_TOKEN = re.compile(r"""(?:(?P<key>[A-Za-z_"][\w " ]*?)\s*=\s*)?(?P<value>"[^"]*"|(?<![\w."])-?\d[\d.]*(?![\w."]))""")


@dataclass(frozen=True)
class Slip:
    """A number of a demo that is off by a factor."""

    demo: str
    line: int
    key: str
    was: str
    factor: float
    text: str

    @property
    def now(self) -> str:
        """The number as the file has it then."""
        return self.text.split("\n")[self.line - 1].strip()


def numbers(text: str):
    """(line, key, span in the text, value as written) of each number in a build file."""
    place = 0
    for line, said in enumerate(text.split("\n"), 1):
        bare = said.split(" #")[0]
        if "=" in bare and not bare.lstrip().startswith(("#", "[")):
            key = ""
            for found in _TOKEN.finditer(bare):
                key = (found["key"] or key).strip(' "')
                value = found["value"]
                if key not in _NAMES and _scaled(value, 1.0):
                    yield line, key, (place + found.start("value"), place + found.end("value")), value
        place += len(said) + 1


def _scaled(value: str, factor: float) -> str:
    """A value as a file has it, times a factor; nothing where it is no number."""
    if not value.startswith('"'):
        number = float(value) * factor
        return f"{number:.10g}"
    try:
        read = quantity(value.strip('"'))
    except DesignError:
        return ""
    unit = re.sub(r"^[-+\d./ ]+", "", value.strip('"')) if "ft " not in value else "ft"
    return f'"{read.m * factor:.10g} {unit}"'


def slips(demo: str, factors=FACTORS) -> list[Slip]:
    """Every number of a demo, off by each factor."""
    text = load(demo).text
    return [
        Slip(demo, line, key, value, factor, text[:start] + _scaled(value, factor) + text[end:])
        for line, key, (start, end), value in numbers(text)
        for factor in factors
        if _scaled(value, factor) != _scaled(value, 1.0)
    ]


@functools.cache
def sound(demo: str) -> frozenset:
    """What a demo's own review finds."""
    return frozenset((one.severity, one.name, one.where) for one in review(Build(load(demo).text)).findings)


def outcome(slip: Slip) -> tuple[str, str]:
    """What becomes of a slip, in this process: one of `OUTCOMES`, and the sentence."""
    try:
        found = review(Build(slip.text)).findings
    except DesignError as wrong:
        return OUTCOMES[0 if re.search(r"\bline \d+", str(wrong)) else 1], str(wrong)
    except Exception as fault:
        return "fault", f"{type(fault).__name__}: {fault}"
    new = [one for one in found if (one.severity, one.name, one.where) not in sound(slip.demo)]
    if not new:
        return "nothing new", ""
    return "note" if all(one.severity == "note" for one in new) else "finding", f"{new[0].name} · {new[0].where}: {new[0].sentence}"


def bounded(slip: Slip, patience: float = PATIENCE) -> tuple[str, str]:
    """As `outcome`, in a process of its own that is ended after a time."""
    sound(slip.demo)  # once, and not in each of them
    inside, outside = os.pipe()
    child = os.fork()
    if not child:
        import resource  # not on Windows, which has no fork either

        os.close(inside)
        resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(sum(os.times()[:2]) + patience), resource.RLIM_INFINITY))
        try:
            with os.fdopen(outside, "wb") as pipe:
                pickle.dump(outcome(slip), pipe)
        finally:
            os._exit(0)
    os.close(outside)
    told, until = b"", time.monotonic() + _BUSY * patience
    with os.fdopen(inside, "rb", buffering=0) as pipe:
        while (left := until - time.monotonic()) > 0 and select.select([pipe], [], [], left)[0]:
            if not (part := pipe.read(65536)):
                break
            told += part
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return pickle.loads(told) if told else ("hang", "")


def table(found: dict[Slip, tuple[str, str]]) -> str:
    """How many slips of each factor end how."""
    count = collections.Counter((slip.factor, how) for slip, (how, _) in found.items())
    factors = list(dict.fromkeys(slip.factor for slip in found))
    rows = [
        f"{how:<24}" + "".join(f"{count[f, how]:>7}" for f in factors) + f"{sum(count[f, how] for f in factors):>8}" for how in OUTCOMES
    ]
    return "\n".join([f"{'':<24}" + "".join(f"{'×' + f'{f:g}':>7}" for f in factors) + f"{'all':>8}", *rows])


if __name__ == "__main__":
    told = argparse.ArgumentParser()
    told.add_argument("demos", nargs="*")
    told.add_argument("-v", action="store_true")
    told.add_argument("--every", type=int, default=1)
    given = told.parse_args()
    results = {}
    for name in given.demos or demos():
        for slip in slips(name)[:: given.every]:
            results[slip] = bounded(slip)
            if given.v:
                print(f"{name}\t{slip.line}\t{slip.key}\t{slip.was}\t×{slip.factor:g}\t{results[slip][0]}\t{results[slip][1]}", flush=True)
    print(table(results))

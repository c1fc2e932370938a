"""A corpus of what is typed, sent and unplugged by mistake. Each case says how it may end, and none ends otherwise.

    python tests/corpus                    what the suite runs, and how each group ended
    python tests/corpus --all              every case: all factors, all keys, all odd values (an hour, most of it slips)
    python tests/corpus --all slips keep   those groups alone

Groups are in `texts` (files, parser, pump points, air pump points, prices, logs), `builds` (structure, values, nonsense, names, the
panels' boxes), `slips` (of a unit) and `saving` (keep, paths, kills and full disks, surroundings, another user); keys come from the
records and from the demos, so that new ones fall under it by themselves. The doors of the library have a file of their own, `test_doors.py`.
"""

from __future__ import annotations

import contextlib
import signal
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from aquaplumb.units import DesignError

RIGHT, SENTENCE, FINDING = "right", "one sentence", "finding"
ANY = (RIGHT, SENTENCE, FINDING)
LONGEST = 300  # letters of a sentence
PATIENCE = 10.0  # s of processor for one case


@dataclass(frozen=True)
class Case:
    """One slip: what is done in a folder of its own, and the outcomes that are right for it."""

    group: str
    name: str
    run: Callable[[Path], object]  # a `Review`-like answer with findings, anything else for right, or a DesignError
    ends: tuple[str, ...] = ANY
    says: str = ""  # what a sentence has to hold


class Wrong(AssertionError):
    """A case that ended as it must not."""


class _TooLong(BaseException):
    pass


def ended(case: Case, folder: Path) -> str:
    """How a case ends; raises `Wrong` with why, where that is not among its ends."""
    try:
        with _bounded():
            answer = case.run(folder)
    except DesignError as refused:
        said = str(refused)
        if not said.strip() or len(said) > LONGEST or not said.isprintable():
            raise Wrong(f"a sentence of {len(said)} letters: {said[:400]!r}") from None
        if case.says not in said:
            raise Wrong(f"it does not say '{case.says}': {said}") from None
        outcome = SENTENCE
    except _TooLong:
        raise Wrong(f"not done in {PATIENCE:g} s of processor") from None
    except Exception as fault:
        raise Wrong(f"{type(fault).__name__}: {fault!s:.300}") from fault
    else:
        outcome = FINDING if getattr(answer, "findings", None) else RIGHT
    if outcome not in case.ends:
        raise Wrong(f"it ended as {outcome}, and not as {' or '.join(case.ends)}")
    return outcome


@contextlib.contextmanager
def _bounded():
    """Stop what takes more than its time of processor; where there is no such clock, measure it."""
    if not hasattr(signal, "setitimer") or threading.current_thread() is not threading.main_thread():
        began = time.process_time()
        yield
        if time.process_time() - began > PATIENCE:
            raise _TooLong
        return

    def stop(*_):
        raise _TooLong

    before = signal.signal(signal.SIGVTALRM, stop)
    signal.setitimer(signal.ITIMER_VIRTUAL, PATIENCE)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def groups() -> dict[str, tuple[Callable[[], Iterable[Case]], int]]:
    """Each group: what makes its cases, and how many of them the suite runs."""
    from corpus import builds, saving, texts

    return {**texts.GROUPS, **builds.GROUPS, **saving.GROUPS}


def cases(every: bool = False, wanted: Iterable[str] = ()) -> list[Case]:
    """The cases of the suite, spread evenly over each group, or every one."""
    found = []
    for name, (made, most) in groups().items():
        if wanted and name not in wanted:
            continue
        whole = list(made())
        step = 1 if every else max(1, len(whole) // most)
        found += whole[::step] if every else whole[::step][:most]
    return found

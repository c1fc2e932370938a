"""Cases that run once a week: what others say with each push, said of one more build, size or unit system.

`python -m pytest` leaves them out, `python -m pytest -m ""` runs them too.
"""

import itertools

import pytest


def weekly(*cases):
    """Cases for the week: each a value, or a tuple of the values of one case."""
    return [pytest.param(*(case if isinstance(case, tuple) else (case,)), marks=pytest.mark.weekly) for case in cases]


def thinned(cases, each=3):
    """One case of every few with each push, the others in the week."""
    return [case if place % each == 0 else weekly(case)[0] for place, case in enumerate(cases)]


def crossed(some, others, each=3):
    """All pairs of two lists, the week's marked: with each push every one of `some` meets another of `others`, all of which have their turn."""
    assert each <= len(others), "some would meet none"
    pairs = itertools.product(enumerate(some), enumerate(others))
    return [(a, b) if (i + j) % each == 0 else weekly((a, b))[0] for (i, a), (j, b) in pairs]

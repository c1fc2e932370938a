"""Water through time, held against closed forms, an ordinary differential equation solver and a network solver."""

import numpy as np
import pytest

from aquaplumb.build import demos, load
from aquaplumb.levels import Event, simulate


@pytest.mark.parametrize("name", demos())
def test_water_is_conserved_for_a_day(name):
    """Identity: sum of vessels + pipes + spills = start + added, relative 1e-12."""
    run = simulate(load(name), "24 h", events=[Event("power fails", at="5 h", until="9 h")])
    whole = run.volume[0].sum() + run.pipes[0]
    assert abs(run.balance) < 1e-12 * whole
    at_end = run.volume[-1].sum() + run.pipes[-1] + run.spilled[-1].sum() + run.evaporated[-1] - run.added[-1]
    assert at_end == pytest.approx(whole, rel=1e-12)
    assert run.volume.min() >= 0


@pytest.mark.parametrize("name", demos())
def test_halving_the_step_moves_no_level_by_a_millimetre(name):
    events = [Event("power fails", at="1 h", until="3 h")]
    coarse, fine = (simulate(load(name), "6 h", events=events, step=step) for step in ("20 s", "10 s"))
    times = np.linspace(0, 6 * 3600, 2000)
    for i in range(len(coarse.vessels)):
        one, other = (np.interp(times, run.time, run.depth[:, i]) for run in (coarse, fine))
        assert np.abs(one - other).max() < 1e-3

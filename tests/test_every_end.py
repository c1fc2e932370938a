"""Both ends of every slider and every option of every what-if, in both unit systems."""

import itertools

import pytest

from aquaplumb.whatif import WALK
from pages import every_end, panel_of

pytestmark = pytest.mark.usefixtures("strict")

BUILDS = [*itertools.product(("courtyard", "greenhouse"), ("metric", "US")), ("raft-hall", "metric")]


@pytest.mark.sweep(5)
@pytest.mark.parametrize("of", BUILDS, ids=str)
@pytest.mark.parametrize("name", WALK)
@pytest.mark.usefixtures("drawn")
def test_every_end_of_every_control_in_both_systems(name, of):
    demo, system = of
    panel = panel_of(name, demo)
    panel.system = system
    for _key, _end in every_end(panel):
        assert panel.said
        if not panel.stale:
            assert panel.picture.alt(panel.record)

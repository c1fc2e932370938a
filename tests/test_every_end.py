"""Both ends of every slider and every option of every what-if, in both unit systems."""

import pytest

from aquaplumb.whatif import WALK
from pages import every_end, panel_of
from weekly import crossed, weekly

pytestmark = pytest.mark.usefixtures("strict")


CASES = [
    *crossed(WALK, [("courtyard", "metric"), ("greenhouse", "US")], each=2),
    *weekly(*((name, of) for name in WALK for of in (("courtyard", "US"), ("greenhouse", "metric"), ("raft-hall", "metric")))),
]


@pytest.mark.parametrize(("name", "of"), CASES, ids=str)
@pytest.mark.usefixtures("drawn")
def test_every_end_of_every_control_in_both_systems(name, of):
    demo, system = of
    panel = panel_of(name, demo)
    panel.system = system
    for _key, _end in every_end(panel):
        assert panel.said
        if not panel.stale:
            assert panel.picture.alt(panel.record)

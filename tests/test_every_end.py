"""Both ends of every slider and every option of every what-if, in both unit systems.

A file of its own, since it takes long: files are handed out one by one, in the order of their names.
"""

import pytest

from aquaplumb.units import SYSTEMS
from aquaplumb.whatif import WALK
from pages import WALKED, panel_of

pytestmark = pytest.mark.usefixtures("strict")


def ends(control):
    """What a control can be set to: both ends of a slider, all options, yes and no."""
    spec = control.spec
    if hasattr(control, "options"):
        return list(control.options.values())
    if not hasattr(spec, "kind"):
        return [False, True]
    low, high = spec.ends()
    return [spec.kind.quantity(low) if spec.kind.si else low, spec.kind.quantity(high) if spec.kind.si else high]


@pytest.mark.parametrize("demo", [*WALKED, "raft-hall"])
@pytest.mark.parametrize("name", WALK)
def test_every_end_of_every_control_in_both_systems(name, demo):
    panel = panel_of(name, demo)
    for system in SYSTEMS if demo in WALKED else (panel.system,):
        panel.system = system
        start, back = panel.values, {}
        for key, control in panel._rows.items():
            for end in ends(control):
                panel.set(**{**back, key: end})
                back = {}
                assert panel.fault is None
                assert panel.said
                if not panel.stale:
                    assert panel.picture.alt(panel.record)
            back = {key: start[key]}  # a slider goes back with the next one's first end: one drawing less
            if hasattr(control, "options"):  # what others may depend on
                panel.set(**back)
        panel.set(**start)  # all at once: some follow others, and a menu says so when a slider is moved by hand
        assert {n: str(v) for n, v in panel.values.items()} == {n: str(v) for n, v in start.items()}

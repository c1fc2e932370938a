"""The drippers of towers: head and flow of each by hand, which drips least, what clogs, and both sides of their findings."""

import math
import re

import pytest

from aquaplumb import u
from aquaplumb.review import review
from aquaplumb.system.drippers import driest
from aquaplumb.system.filtering import upkeep_tasks
from aquaplumb.system.steady import Steady
from growing_builds import BEDS, TOWERS, courtyard, filtered

PIPE = ("lines", "riser", "pipe")


def towers(bore="4 mm", holes=8, *, slot="0.8 mm", **more):
    """The courtyard's towers on drippers, eight an end; `more` are further changes by stretch, such as to_bed_2."""
    changes = {(*PIPE, f"to {bed}", key): value for bed in BEDS for key, value in (("nozzle_bore", bore), ("nozzles", holes))}
    return courtyard({**TOWERS, **changes, ("lines", "riser", "strainer_slot"): slot, **more})


def named(build, name):
    return [f for f in review(build).findings if f.name == name]


# --- by hand --------------------------------------------------------------------------------------


def test_flow_and_head_of_a_dripper_by_torricelli():
    for d in Steady(towers()).drippers:
        # Q = Cd A √(2 g h), Cd 0.61 of a sharp drilled hole (Encyclopaedia Britannica 11e: 0.60 to 0.62)
        assert d.flow == pytest.approx(0.61 * math.pi / 4 * 0.004**2 * math.sqrt(2 * 9.80665 * d.head), rel=1e-6)
        assert d.each == pytest.approx(d.flow) and d.holes == 8 == d.towers


def test_what_drips_is_what_the_line_brings():
    system = Steady(towers())
    assert sum(d.flow * d.holes for d in system.drippers) == pytest.approx(
        sum(o.flow for o in system.pumped["riser"].outlets if o.to in BEDS), rel=1e-9
    )


def test_narrower_holes_have_more_head_and_drip_less():
    seen = [Steady(towers(f"{bore} mm")).drippers[0] for bore in (3, 4, 6)]
    heads, flows = [d.head for d in seen], [d.flow for d in seen]
    assert heads == sorted(heads, reverse=True) and flows == sorted(flows)


# --- both sides -------------------------------------------------------------------------------------


def test_towers_on_an_open_end_are_told_and_drippers_cure_it():
    build = courtyard(TOWERS)
    found = named(build, "towers without drippers")
    assert {f.where for f in found} == set(BEDS) and all(f.severity == "note" for f in found)
    changes = {}
    for f in found:
        count, bore, stretch = re.search(r"nozzles = (\d+) and nozzle_bore, such as (.+?), in the stretch (.+)\.$", f.cure).groups()
        changes |= {(*PIPE, stretch, "nozzles"): int(count), (*PIPE, stretch, "nozzle_bore"): bore}
    assert not named(build.changed(changes), "towers without drippers")
    assert named(towers(holes=5), "towers without drippers")  # fewer holes than towers


def test_the_driest_is_named_and_its_cure_evens_it_out():
    uneven = towers(**{}).changed({(*PIPE, f"to {BEDS[1]}", "nozzle_bore"): "6 mm", (*PIPE, f"to {BEDS[0]}", "nozzle_bore"): "4 mm"})
    assert driest(Steady(uneven).drippers).tower == BEDS[0]
    [f] = named(uneven, "drippers uneven")
    assert f.where == f"to {BEDS[0]}" and f.severity == "fix"
    stretch, bore = re.search(r"nozzle_bore: (.+?) ([\d.]+ mm)\)", f.cure).groups()
    assert not named(uneven.changed({(*PIPE, stretch, "nozzle_bore"): bore}), "drippers uneven")
    assert not named(towers(), "drippers uneven")


def test_a_dripper_that_hangs_higher_drips_less():
    build = towers("6 mm").changed({(*PIPE, f"to {BEDS[1]}", "outlet"): "1.3 m"})
    low, high = Steady(build).drippers
    assert high.head < low.head and high.flow < low.flow


def test_holes_with_next_to_no_head_are_told():
    [f, *_] = named(towers("9 mm", slot="2 mm"), "dripper has next to no head")
    assert f.severity == "note" and "20 mm lower" in f.sentence
    bore = re.search(r"holes of ([\d.]+ mm)", f.cure)[1]
    assert not named(towers(bore), "dripper has next to no head")
    assert not named(towers(), "dripper has next to no head")


@pytest.mark.parametrize("slot, severity", [("0.9 mm", None), ("1.2 mm", "fix"), (None, "note")])
def test_a_dripper_clogs_by_what_the_strainer_lets_through(slot, severity):
    # holes of 4 mm: a quarter is 1 mm (print has a quarter to a tenth for trickle irrigation, from memory)
    found = named(towers("4 mm", slot=slot), "dripper clogs")
    assert {f.severity for f in found} == ({severity} if severity else set())
    if severity == "fix":
        finest = re.search(r"finer than ([\d.]+ mm)", found[0].cure)[1]
        assert not named(towers("4 mm", slot=finest), "dripper clogs")


def test_a_screen_before_the_pump_counts_as_a_strainer():
    build = towers(slot=None).changed(filtered("screen", face="0.3 m2", mesh="0.5 mm"))
    assert [d.slot for d in Steady(build).drippers] == pytest.approx([0.5e-3, 0.5e-3])


def test_towers_with_a_trickle_are_told():
    # 2 US gal/h are 7.57 L/h by hand
    assert (2 * u.gallon / u.hour).m_as("L/h") == pytest.approx(7.57, abs=0.01)
    assert not named(towers(), "tower gets little water")
    assert named(towers("1 mm", slot="0.2 mm"), "tower gets little water")


def test_review_shows_head_and_flow_of_each_dripper():
    text = str(review(towers()))
    assert "Drippers of towers" in text and "head over them" in text
    tasks = [t.name for t in upkeep_tasks(Steady(towers()))]
    assert "look that each dripper drips" in tasks

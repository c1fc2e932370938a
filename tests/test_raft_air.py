"""The oxygen under the boards of rafts: against print, by hand, and both sides of its finding."""

import re

import pytest

from aquaplumb import DesignError, air, u
from aquaplumb.build import load
from aquaplumb.review import review
from aquaplumb.system.steady import Steady
from aquaplumb.workshop.parts import parts_list
from growing_builds import BEDS, RAFTS, courtyard

# The pumped water goes to the rafts through a valve that is nearly shut: little comes, and stands there for hours.
STARVED = {("lines", "riser", "pipe", f"to {bed}", "opening"): 0.12 for bed in BEDS}


def short(build):
    return [f for f in review(build).findings if f.name == "roots short of oxygen"]


# --- published ----------------------------------------------------------------------------------


def test_stones_as_fao_hangs_them():
    # FAO 589 (2014) §4.5 (read in a copy): "about 4 litres of air per minute", one for every 2 to 4 m² of canal
    assert air.raft_stones("12 m2") * 2 <= 12 <= air.raft_stones("12 m2") * 4
    assert air.raft_stones("1 m2") == 1 and air.raft_stones("1 m2", "12 L/min") == 3


def test_roots_want_what_print_says():
    # FAO 589 (2014) §3.3 (from memory): plants over 3 mg/L, bacteria 4 to 8; lettuce at 24 °C grew as well at 2.1 mg/L as in full
    # water (Goto and others, Acta Horticulturae 440 (1996) 205, abstract read), so that roots' 3 mg/L is on the safe side
    assert 2.1e-3 < air.roots.ROOTS_BEAR == 3e-3 < air.roots.BACTERIA_BEAR == 4e-3


# --- by hand --------------------------------------------------------------------------------------


def test_what_settles_is_what_comes_less_what_is_taken():
    [one, _] = Steady(courtyard(RAFTS)).rafts.values()
    # nothing is blown in: flow × (comes − settles) = roots + bacteria
    assert one.flow * (one.comes - one.settles) == pytest.approx(one.use, rel=1e-9)
    # 2 m × 1.1 m of boards at 3 g/m²/d, by hand 6.6 g/d
    assert (one.roots * u.kg / u.s).m_as("g/d") == pytest.approx(one.boards * 3.0) and one.boards == pytest.approx(2.2)


def test_bacteria_take_their_part_of_all_that_turn_ammonia():
    system = Steady(courtyard(RAFTS))
    assert sum(r.bacteria for r in system.rafts.values()) == pytest.approx(system.fish.bed_oxygen)  # nothing else turns any there
    hall = Steady(load("raft-hall"))
    assert sum(r.bacteria for r in hall.rafts.values()) < 0.5 * hall.fish.bed_oxygen  # the moving bed turns the rest


def test_water_straight_from_the_fish_comes_with_what_they_leave():
    build = load("raft-hall").changed({("vessels", "biofilter", "does"): "settling", ("vessels", "biofilter", "air_flow"): None,
                                       ("vessels", "biofilter", "medium"): None, ("vessels", "biofilter", "media_volume"): None})  # fmt: skip
    [raft] = Steady(build).rafts.values()
    assert (raft.comes * u.kg / u.m**3).m_as("mg/L") == pytest.approx(5.0)  # outlet_oxygen of the file
    [aired] = Steady(load("raft-hall")).rafts.values()
    assert aired.comes > raft.comes


# --- in a build -------------------------------------------------------------------------------------


def test_a_raft_with_enough_water_is_not_told():
    assert not short(courtyard(RAFTS)) and not short(load("raft-hall"))


def test_a_starved_raft_is_told_and_each_cure_helps():
    build = courtyard({**RAFTS, **STARVED})
    found = short(build)
    assert {f.where for f in found} == set(BEDS) and all(f.severity == "fix" for f in found), found
    changes = {}
    for f in found:
        stones, flow = re.search(r'\(air_stones = (\d+), air_flow = "([^"]+)"\)', f.cure).groups()
        changes |= {("vessels", f.where, "air_stones"): int(stones), ("vessels", f.where, "air_flow"): flow}
    assert not short(build.changed(changes))
    assert not short(build.changed({key: None for key in STARVED}))  # more water does it too


def test_few_stones_bring_less_than_many():
    levels = [
        Steady(courtyard({**RAFTS, **STARVED, **{("vessels", bed, "air_stones"): n for bed in BEDS}})).rafts[BEDS[0]].settles
        for n in (0, 1, 2, 4)
    ]
    assert levels == sorted(levels) and levels[0] < levels[-1]


def test_stale_water_is_told_until_stones_hang_there():
    build = courtyard({**RAFTS, **{("vessels", bed, "working_depth"): "30 cm" for bed in BEDS}, **{key: 0.05 for key in STARVED}})
    stale = [f for f in review(build).findings if f.name == "water stale under rafts"]
    assert stale
    stones = int(re.search(r"air_stones = (\d+)", stale[0].cure)[1])
    stirred = build.changed({("vessels", bed, "air_stones"): stones for bed in BEDS})
    assert not [f for f in review(stirred).findings if f.name == "water stale under rafts"]


def test_the_review_says_what_settles_under_the_boards():
    text = str(review(courtyard({**RAFTS, ("vessels", BEDS[0], "air_stones"): 2})))
    assert "Oxygen under rafts" in text and "8 L/min" in text  # two stones of 4 L/min


def test_stones_and_their_air_pump_stand_in_the_parts_list():
    build = courtyard({**RAFTS, ("vessels", BEDS[0], "air_stones"): 2})
    rows = [str(part) for part in parts_list(build).parts]
    assert any("small air stone" in row and BEDS[0] in row for row in rows), rows
    assert any("air pump" in row and "8 L/min" in row for row in rows)


# --- bad input ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("changes, said", [
    ({("vessels", "sump", "air_stones"): 2}, "sump is a sump; air_stones are those under the boards of a raft"),
    ({("vessels", "sump", "air_flow"): "8 L/min"}, "sump is a sump; air_flow is what is blown into a filter or under a raft"),
    ({("vessels", "bed 1", "air_stones"): 1.5}, "whole number"),
    ({("vessels", "bed 1", "air_flow"): "-8 L/min"}, "an air flow of less than nothing cannot be"),
], ids=lambda v: str(v)[:30])  # fmt: skip
def test_air_where_nobody_reckons_with_it(changes, said):
    with pytest.raises(DesignError, match=re.escape(said)):
        courtyard({**RAFTS, **changes})

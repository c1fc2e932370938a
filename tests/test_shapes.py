"""Shapes beside the plain ones: a drum that lies, a cube with a cut-out, twins, legs; against geometry and another library."""

import re

import fluids.geometry
import numpy as np
import pytest
from scipy.integrate import quad

from aquaplumb import DesignError
from aquaplumb.build import load
from aquaplumb.build.vessels import Vessel, footprint, open_area, plan_area, water_depth, water_volume
from aquaplumb.review import review
from aquaplumb.system.flow_tables import Network
from aquaplumb.system.steady import Steady
from aquaplumb.units import VOLUME

LYING = {"shape": "lying", "diameter": "58 cm", "length": "0.88 m", "height": None, "width": None}
DRUM = Vessel(name="drum", kind="buffer tank", shape="lying", diameter="58 cm", length="88 cm", floor="0 m", working_depth="40 cm")
HALF = DRUM.replace(height="29 cm", working_depth="20 cm", kind="bed", medium="bioballs", media_depth="25 cm", void=0.9)
PIPE = Vessel(name="film", kind="channel", shape="lying", diameter="10.4 cm", length="4 m", floor="0.9 m", slope=0.02, count=3)


def tub(**keys):
    """The courtyard whose sump is a lying drum or what else is asked for."""
    return load("courtyard").changed({("vessels", "sump", key): value for key, value in keys.items()})


# --- geometry, and another library ---------------------------------------------------------------------


@pytest.mark.parametrize("depth", [0.0, 0.02, 0.145, 0.29, 0.4, 0.57, 0.58])
def test_what_a_lying_drum_holds_agrees_with_another_library(depth):
    theirs = fluids.geometry.V_horiz_conical(D=0.58, L=0.88, a=0.0, h=depth)  # flat ends
    assert water_volume.si(DRUM, depth) == pytest.approx(theirs, abs=1e-9)


def test_a_half_full_drum_by_hand():
    # half of π/4 · 0.58² m² · 0.88 m is 116.25 L; a full one is twice that: a 230 L drum, as sold
    assert water_volume(DRUM, "29 cm").m_as("L") == pytest.approx(116.25, abs=0.01)
    assert plan_area(DRUM).m_as("m²") == pytest.approx(0.58 * 0.88)
    assert plan_area(DRUM.replace(height="14.5 cm", working_depth="10 cm")).m_as("m²") == pytest.approx(0.88 * 0.58 * np.sqrt(0.75))


def test_a_sloping_pipe_is_the_sum_of_its_slices():
    def slice_(x, depth):
        d = min(max(depth - 0.02 * x, 0.0), 0.104)
        return 0.052**2 * np.arccos(1 - d / 0.052) - (0.052 - d) * np.sqrt(max(0.104 * d - d**2, 0.0))

    for depth in (0.01, 0.05, 0.09):
        by_hand = 3 * quad(slice_, 0, min(4.0, depth / 0.02), args=(depth,), limit=200)[0]
        assert water_volume.si(PIPE, depth) == pytest.approx(by_hand, rel=2e-3)


@pytest.mark.parametrize("vessel", [DRUM, HALF, PIPE, DRUM.replace(count=2)], ids=["drum", "half drum", "pipe", "twins"])
def test_depth_and_volume_are_inverse(vessel):
    depths = np.linspace(0.0, vessel.si.height, 29)
    assert water_depth.si(vessel, water_volume.si(vessel, depths)) == pytest.approx(depths, abs=1e-7)
    assert water_depth.si(vessel, 1e9) == pytest.approx(vessel.si.height)


def test_the_network_knows_the_same_depths_and_their_slopes():
    build = tub(**{**LYING, "diameter": "1.1 m", "length": "1.4 m", "working_depth": "0.6 m"})
    net = Network(build)
    i = net.place("sump")
    volume = np.repeat(net.full[None, :] * 0.5, 60, axis=0)
    volume[:, i] = net.full[i] * np.linspace(0.001, 0.999, 60)
    depth, give = net.depths(volume)
    assert depth[:, i] == pytest.approx(water_depth.si(build.vessels["sump"], volume[:, i]), abs=2e-5)
    step = 1e-7 * net.full[i]
    up = volume + np.where(np.arange(volume.shape[1]) == i, step, 0.0)
    rise = (net.depths(up)[0][:, i] - depth[:, i]) / step
    assert np.median(np.abs(rise / give[:, i] - 1)) < 1e-6  # a step may pass a point of the table
    lone, _ = net.depths(volume, give=False)
    assert lone == pytest.approx(depth)


def test_water_is_kept_when_a_drum_is_the_sump():
    from aquaplumb.system.drills import drills
    from aquaplumb.system.failures import NOTHING

    run = drills(tub(**{**LYING, "diameter": "1.1 m", "length": "1.6 m", "working_depth": "0.7 m", "floor": "-1 m"})).of(NOTHING)[0].run
    held = run.volume.sum(axis=1) + run.spilled.sum(axis=1)
    assert held == pytest.approx(held[0], rel=1e-3)


# --- in a build ---------------------------------------------------------------------------------------


def test_twins_hold_twice_as_much():
    one, two = (Steady(load("courtyard").changed({("vessels", "fish tank", "count"): n})) for n in (1, 2))
    assert two.fish.tank_volume == pytest.approx(2 * one.fish.tank_volume)
    assert "fish tank" in one.turning and "fish tank" not in two.turning  # how two of them turn nobody has reckoned


def test_a_closed_top_evaporates_less():
    whole, cut = (load("courtyard").changed({("vessels", "sump", "cut_out"): area}) for area in (None, "0.3 m2"))
    assert open_area(cut.vessels["sump"]).m_as("m²") == 0.3
    # the sump is 1.5 by 1.2 m: 1.5 m² less are open to the air; both lose by the same laws, the closed part as under a lid
    assert Steady(cut).heat.evaporation < Steady(whole).heat.evaporation
    assert Steady(cut).upkeep.make_up < Steady(whole).upkeep.make_up


def test_the_floor_bears_what_stands_on_its_footprint():
    legs = {("vessels", "bed 1", key): value for key, value in (("footprint", "1.1 m2"), ("legs", 6), ("foot", "100 cm2"))}
    system = Steady(load("courtyard").changed(legs))
    before = Steady(load("courtyard"))
    assert system.floor_loads()["bed 1"] == pytest.approx(2 * before.floor_loads()["bed 1"])  # half of its 2.2 m²
    force, pressure = system.leg_loads()["bed 1"]
    assert force == pytest.approx(system.full_mass(system.build.vessels["bed 1"]) * 9.80665 / 6)
    assert pressure == pytest.approx(force / 0.01)
    assert footprint(DRUM).m_as("m²") == pytest.approx(0.58 * 0.88)


def test_the_plate_that_the_cure_names_is_enough():
    legs = {("vessels", "bed 1", "legs"): 3, ("vessels", "bed 1", "foot"): "10 cm2"}
    found = next(f for f in review(load("courtyard").changed(legs)).findings if f.name == "leg presses like a heel")
    plate = re.search(r"plate of ([\d.]+ \S+) or more", found.cure)[1]
    mended = review(load("courtyard").changed({**legs, ("vessels", "bed 1", "foot"): plate}))
    assert "leg presses like a heel" not in {f.name for f in mended.findings}


def test_a_lying_drum_in_the_parts_list_and_the_review():
    build = tub(**{**LYING, "diameter": "1.1 m", "length": "1.6 m", "working_depth": "0.7 m", "floor": "-1 m"})
    assert Steady(build).network.full[list(build.vessels).index("sump")] == pytest.approx(np.pi / 4 * 1.1**2 * 1.6)
    assert VOLUME.text(Steady(build).upkeep.water) in str(review(build))


# --- door -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({**LYING, "height": "70 cm"}, "give where it is cut open"),
        ({**LYING, "length": None}, "it needs length and diameter"),
        ({"height": None}, "height is missing"),
        ({"cut_out": "3 m2"}, "more than its whole top"),
        ({"cut_out": "0 m2"}, "cut_out: 0 m2 is below"),
        ({"foot": "20 cm2"}, "legs = 4"),
        ({"shape": "cube"}, "lying"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(keys, said):
    with pytest.raises(DesignError, match=re.escape(said)) as refused:
        tub(**keys)
    assert "\n" not in str(refused.value)

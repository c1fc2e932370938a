"""Fittings and valves against print and the fluids library."""

import math

import fluids
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aquaplumb import DesignError, tables, u
from aquaplumb.plumbing import fittings, pipes

FAST = settings(max_examples=80, deadline=None, derandomize=True)
GPM, FT, IN = 6.30901964e-5, 0.3048, 0.0254
V2_2G = 2 * 9.80665

flows = st.floats(-0.01, 0.01)
bores = st.floats(0.012, 0.11)
openings = st.floats(1e-3, 1)


# --- published ----------------------------------------------------------------------------------


def test_white_example_6_16_pump_head():
    """White, example 6.16: 0.2 cfs, 400 ft of 2 in, ε/D 0.001, ΣK 12.2, lift 100 ft, ν 1.05e-5: 183 ft (from memory)."""
    speed = 0.2 / (math.pi / 4 * (2 / 12) ** 2)
    f = pipes.friction_factor.si(speed * (2 / 12) / 1.05e-5, 0.001)
    friction = f * 400 / (2 / 12) * speed**2 / (2 * 32.174)
    minor = fittings.fitting_head.si(0.2 * FT**3, 2 * IN, 12.2) / FT
    assert 100 + friction + minor == pytest.approx(183.4, rel=0.005)


# A K in print and the fitting that it belongs to: each lies in the row's band.
IN_PRINT = [
    ("elbow 90", 1.5, "Munson Table 8.2, threaded"), ("elbow 90", 0.69, "Crane 30 fT, 1 in"), ("elbow 90", 0.57, "Crane 30 fT, 2 in"),
    ("elbow 45", 0.4, "Munson Table 8.2, threaded"), ("elbow 45", 0.37, "Crane 16 fT, 1 in"),
    ("sweep elbow 90", 0.7, "Munson, long radius threaded"), ("sweep elbow 90", 0.2, "Munson, long radius flanged"),
    ("tee run", 0.9, "Munson, threaded line flow"), ("tee run", 0.46, "Crane 20 fT, 1 in"),
    ("tee branch", 2.0, "Munson, threaded"), ("tee branch", 1.0, "Munson, flanged"), ("tee branch", 1.90, "HVAC Pump Handbook, 1 in"),
    ("tee branch", 2.40, "HVAC Pump Handbook, 1/2 in"), ("tee branch", 1.38, "Crane 60 fT, 1 in"),
    ("coupling", 0.04, "Perry-type list"), ("union", 0.08, "Munson"), ("union", 0.04, "Perry-type list"),
    ("ball valve", 0.05, "Munson"), ("ball valve", 0.069, "Crane 3 fT, 1 in"),
    ("gate valve", 0.15, "Munson"), ("gate valve", 0.184, "Crane 8 fT, 1 in"), ("gate valve", 0.32, "HVAC Pump Handbook, 1/2 in"),
    ("globe valve", 10, "Munson"), ("angle valve", 2, "Munson"),
    ("swing check valve", 2, "Munson"), ("swing check valve", 2.30, "Crane 100 fT, 1 in"), ("swing check valve", 1.32, "Apollo Cv, 1 in"),
    ("foot valve, hinged", 1.72, "Crane 75 fT, 1 in"), ("foot valve, poppet", 9.7, "Crane 420 fT, 1 in"), ("foot valve, poppet", 15, "Perry-type list"),
    ("pipe entrance", 0.5, "pe-calc.com"), ("pipe entrance, rounded", 0.09, "Crane r/D 0.1"), ("pipe exit", 1.0, "pe-calc.com"),
]  # fmt: skip


@pytest.mark.parametrize("name, k, source", IN_PRINT, ids=[f"{name}: {source}" for name, _, source in IN_PRINT])
def test_k_in_print_lies_in_the_band(name, k, source):
    low, high = (fittings.k([name], band=band) for band in ("low", "high"))
    assert low <= k * 1.005 and k * 0.995 <= high  # print rounds to two figures


@pytest.mark.parametrize("name, feet", [
    ("elbow 90", (1.5, 2.5, 5.7)), ("tee run", (1.0, 1.7, 4.3)), ("tee branch", (4.0, 6.0, 12.0)), ("adapter", (1.0, 2.0, 4.5)),
])  # fmt: skip
def test_pvc_equivalent_lengths_lie_in_the_band(name, feet):
    """ "PVC Equivalent Length", as the Engineering ToolBox prints it, for ½, 1 and 2 in, turned to K at 5 ft/s."""
    for size, length in zip(("1/2 in", "1 in", "2 in"), feet):
        bore = pipes.bore.si(size, "Sch 40", wall="minimum")
        flow = 5 * FT * math.pi / 4 * bore**2
        k = pipes.friction_head.si(flow, bore, length * FT) * V2_2G / (5 * FT) ** 2
        assert fittings.k([name], band="low") * 0.93 <= k <= fittings.k([name], band="high") * 1.05, size


@pytest.mark.parametrize("kind, opening, k", [
    ("gate valve", 1, 0.15), ("gate valve", 3 / 4, 0.26), ("gate valve", 1 / 2, 2.1), ("gate valve", 1 / 4, 17),
    ("ball valve", 1, 0.05), ("ball valve", 2 / 3, 5.5), ("ball valve", 1 / 3, 210),
], ids=lambda v: f"Munson Table 8.2 {v}" if isinstance(v, str) else None)  # fmt: skip
def test_valve_opening_curve(kind, opening, k):
    assert fittings.valve_k.si(kind, opening) == pytest.approx(k, rel=1e-9)
    assert fittings.valve_opening.si(kind, k) == pytest.approx(opening, rel=1e-9)


def test_swing_check_opening_head_comes_from_the_catalogue():
    """Apollo bronze swing checks need 4.0 to 4.5 ft/s to stand fully open; at K 2 (Munson) that is 0.15 to 0.19 m."""
    row = fittings.fitting("swing check valve").si
    at = [2.0 * (v * FT) ** 2 / V2_2G for v in (4.0, 4.5)]
    assert at[0] <= row.opening_head_typical <= at[1]
    # the same catalogue's Cv: 2 in 152, ¾ in 12.03, by K = 890 d⁴/Cv²
    for k, nps, cv in ((row.k_low, 2.067, 152), (row.k_high, 0.824, 12.03)):
        assert k == pytest.approx(890 * nps**4 / cv**2, rel=0.01)


# --- cross-check --------------------------------------------------------------------------------


def test_steps_in_print():
    """2 to 1 in Schedule 40: Rennels's contraction lies in the row's band."""
    rennels = fluids.contraction_sharp(2.067, 1.049)
    assert fittings.k(["reducer"], band="high") == pytest.approx(rennels, abs=0.005)
    assert fittings.k(["reducer"]) == pytest.approx(fluids.contraction_sharp(1.049, 0.824), abs=0.005)
    assert fittings.k(["pipe entrance"]) == fluids.entrance_sharp(method="Crane")
    assert fittings.k(["pipe entrance"], band="high") == fluids.entrance_sharp(method="Rennels")
    assert fittings.k(["pipe entrance, projecting"]) == fluids.entrance_distance(Di=0.05, t=0.01, method="Crane")


# --- identities ---------------------------------------------------------------------------------


@FAST
@given(flows, bores, st.floats(-1, 50), st.floats(-1, 50))
def test_heads_of_fittings_add_up(flow, bore, one, other):
    head = fittings.fitting_head.si
    assert head(flow, bore, one + other) == pytest.approx(head(flow, bore, one) + head(flow, bore, other), rel=1e-9, abs=1e-15)
    assert head(-flow, bore, one) == -head(flow, bore, one)
    assert head(0.0, bore, one) == 0


@FAST
@given(st.sampled_from(["ball valve", "gate valve"]), openings, openings)
def test_a_valve_further_open_costs_less(kind, one, other):
    low, high = sorted((one, other))
    assert fittings.valve_k.si(kind, high) <= fittings.valve_k.si(kind, low)
    assert fittings.valve_opening.si(kind, fittings.valve_k.si(kind, one)) == pytest.approx(one, rel=1e-9)


def test_ends_of_a_valve():
    for kind in ("ball valve", "gate valve"):
        assert fittings.valve_k.si(kind, 0.0) == np.inf
        assert fittings.valve_opening.si(kind, np.inf) == 0
        assert fittings.valve_opening.si(kind, 0.0) == 1


@FAST
@given(st.floats(0, 0.01), bores, st.floats(0.5, 10), st.floats(0.01, 0.7))
def test_check_valve_head(flow, bore, k, opening):
    head = fittings.check_valve_head.si(flow, bore, k, opening)
    assert head >= opening
    assert head == max(opening, fittings.fitting_head.si(flow, bore, k))
    assert fittings.check_valve_head.si(-1e-6 - flow, bore, k, opening) == -np.inf


@FAST
@given(st.floats(0.1, 5), st.floats(0, 0.99))
def test_clogging_acts_as_less_area(k, blocked):
    """The same flow through the share left open: K on the pipe's speed goes with one over that area squared."""
    left = 1 - blocked
    assert fittings.clogged_k.si(k, blocked) * left * left == pytest.approx(k, rel=1e-9)


def test_counts_add_up():
    some = {"elbow 90": 3, "ball valve": 2, "swing check valve": 1}
    found = fittings.losses(some)
    assert found.k == pytest.approx(3 * fittings.k(["elbow 90"]) + 2 * fittings.k(["ball valve"]))
    assert found.check_k == fittings.fitting("swing check valve").k_typical
    assert found.opening_head == fittings.fitting("swing check valve").opening_head_typical
    assert fittings.k(some) == pytest.approx(found.k + found.check_k)
    assert fittings.k(["elbow 90"] * 3) == pytest.approx(fittings.k({"elbow 90": 3}))
    assert fittings.k({}) == 0


@pytest.mark.parametrize("name", tables.names("fittings"))
def test_every_band_is_in_order(name):
    low, typical, high = (fittings.k([name], band=band) for band in fittings.BANDS)
    assert 0 < low <= typical <= high
    heads = [fittings.losses([name], band=band).si.opening_head for band in fittings.BANDS]
    assert heads == sorted(heads)
    row = fittings.fitting(name)
    assert row.source and (row.source != "no source" or row.basis == "common practice")


def test_arrays_give_what_scalars_give():
    opening, k = np.linspace(0, 1, 21), np.geomspace(0.01, 1e5, 21)
    for kind in ("ball valve", "gate valve"):
        assert np.array_equal(fittings.valve_k.si(kind, opening), [fittings.valve_k.si(kind, x) for x in opening])
        assert np.array_equal(fittings.valve_opening.si(kind, k), [fittings.valve_opening.si(kind, x) for x in k])
    flow = np.linspace(-0.001, 0.001, 5)
    assert np.array_equal(
        fittings.check_valve_head.si(flow, 0.026, 2.0, 0.1),
        [fittings.check_valve_head.si(q, 0.026, 2.0, 0.1) for q in flow],
    )


# --- door ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["elbow 90", "90° elbow", "Elbows 90", "90 deg elbow"])
def test_a_fitting_however_it_is_written(name):
    assert fittings.fitting(name).name == "elbow 90"


@pytest.mark.parametrize("call, says", [
    (lambda: fittings.k(["elbow 91"]), "did you mean elbow 90"),
    (lambda: fittings.k({"elbow 90": -1}), "0 or more"),
    (lambda: fittings.k({"elbow 90": "two"}), "0 or more"),
    (lambda: fittings.k(["elbow 90"], band="worst"), "low, typical, high"),
    (lambda: fittings.valve_k("globe valve", 0.5), "ball valve and gate valve"),
    (lambda: fittings.valve_k("ball valve", 1.2), "0 to 1"),
    (lambda: fittings.clogged_k(1, 1), "nothing flows"),
    (lambda: fittings.fitting_head("900 L", "26 mm", 1), "a volume"),
    (lambda: fittings.fitting_head("900 L/h", "0 mm", 1), "more than 0"),
])  # fmt: skip
def test_the_door_refuses_in_plain_words(call, says):
    with pytest.raises(DesignError, match=says):
        call()


def test_percent_serves_as_a_number():
    assert fittings.valve_k("gate valve", 50 * u.percent) == pytest.approx(2.1)  # Munson Table 8.2, half open

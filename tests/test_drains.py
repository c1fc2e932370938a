"""Drains, gravity lines, screens and siphons against print, closed forms and other libraries."""

import math
from fractions import Fraction

import fluids
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from aquaplumb import DesignError
from aquaplumb.plumbing import drains, pipes, siphons

FAST = settings(max_examples=80, deadline=None, derandomize=True)
GPM, IN, LPM = 6.30901964e-5, 0.0254, 1e-3 / 60
G = 9.80665

bores = st.floats(0.012, 0.11)
flows = st.floats(1e-7, 0.02)
depths = st.floats(1e-4, 0.5)
fills = st.floats(0.001, 0.93)


def thin(size):
    return pipes.bore.si(size, "Sch 40", wall="minimum")


# --- published: holes and standpipes ------------------------------------------------------------


def test_an_air_hole_lets_in_as_much_air_as_the_pipe_carries_water():
    """Half of its area, the other half grown shut, at the pipe's own speed head: whatever the speed, the two flows are the same.

    By hand, 1 m/s in 26.6 mm: 0.557 L/s of water, 499 Pa; air leaves a hole at √(2 · 499/1.204) = 28.8 m/s, times 0.61.
    """
    for bore, speed in ((0.0266, 1.0), (0.0266, 0.4), (0.054, 2.0)):
        hole, area = siphons.air_hole.si(bore), math.pi / 4 * bore**2
        air = 0.5 * 0.61 * math.pi / 4 * hole**2 * math.sqrt(2 * 0.5 * 998.2 * speed**2 / 1.204)
        assert air == pytest.approx(area * speed, rel=1e-3)
    assert siphons.air_hole.si(0.0266) == pytest.approx(0.0266 / 3, rel=0.02)  # what the pages say: a third
    assert siphons.air_hole.si(0.010) == 0.006  # never thinner than what clogs


def test_a_drill_is_never_too_thin():
    for bore in (0.0158, 0.0204, 0.0266, 0.034, 0.0525, 0.1):
        hole = siphons.air_hole.si(bore)
        metric, inches = siphons.drill(bore), siphons.drill(bore, "US")
        assert hole <= int(metric.removesuffix(" mm")) / 1000 + 1e-9 < hole + 0.001
        sixteenths = sum(Fraction(part) for part in inches.removesuffix(" in").split()) * 16
        assert sixteenths == int(sixteenths) and hole <= sixteenths / 16 * 0.0254 + 1e-9 < hole + 0.0254 / 16


def test_orifice():
    """25 mm under 0.5 m, Cd 0.61: 56.26 L/min; ½ in under 1 ft has Cd 0.620 (Encyclopaedia Britannica 11th ed.)."""
    assert drains.orifice_flow.si(0.5, 0.025) / LPM == pytest.approx(56.26, abs=0.005)
    cd = 0.620
    assert drains.orifice_flow.si(0.3048, 0.5 * IN, discharge=cd) == pytest.approx(
        cd * math.pi / 4 * (0.5 * IN) ** 2 * math.sqrt(2 * G * 0.3048), rel=1e-12
    )


@pytest.mark.parametrize("inflow, seconds", [(0.0, 589.5), (20 * LPM, 1328.6)], ids=["no inflow", "20 L/min in"])
def test_time_to_drain_a_tank(inflow, seconds):
    """1 m² from 0.5 to 0.1 m through 25 mm, Cd 0.61: closed forms 2A(√h₁ − √h₂)/(Cd a √2g), with a log term for an inflow."""
    c = 0.61 * math.pi / 4 * 0.025**2 * math.sqrt(2 * G)
    rest = inflow / c
    closed = 2 / c * (math.sqrt(0.5) - math.sqrt(0.1) + (rest * math.log((math.sqrt(0.5) - rest) / (math.sqrt(0.1) - rest))))
    time, _ = quad(lambda h: 1.0 / (drains.orifice_flow.si(h, 0.025) - inflow), 0.1, 0.5)
    assert time == pytest.approx(seconds, abs=0.06)
    assert time == pytest.approx(closed, rel=1e-8)


@pytest.mark.parametrize(
    "inches, gpm", [(2, 23), (3, 67), (4, 144), (5, 261), (6, 424), (8, 913)], ids=lambda v: f"NSPC 2006, UPC 2000: {v}"
)
def test_vertical_leaders(inches, gpm):
    assert round(drains.leader_flow.si(inches * IN) / GPM) == gpm


def test_hills_froude_example():
    """36 m³/h in 180 mm: 0.296, just self-venting (Hills 1983, quoted by industrialmonitordirect.com)."""
    assert drains.froude.si(0.01, 0.180) == pytest.approx(0.296, rel=2e-3)
    assert drains.standpipe_regime.si(0.01, 0.180) == "quiet"


# Schedule 40, minimum wall, L/min at Froude 0.3, 1 and 2, and 7/24 full: v/√(gD) and Wyly–Eaton worked out elsewhere
FROUDE = [
    ("1/2 in", 1.4, 4.6, 9.3, 3.8), ("3/4 in", 2.8, 9.4, 18.7, 8.1), ("1 in", 5.1, 17.1, 34.2, 15.3),
    ("1 1/4 in", 10.2, 33.9, 67.9, 31.9), ("1 1/2 in", 15.0, 49.9, 99.8, 48.1), ("2 in", 28.0, 93.2, 186, 93.6),
    ("3 in", 75, 250, 500, 268), ("4 in", 148, 494, 987, 554),
]  # fmt: skip


@pytest.mark.parametrize("size, quiet, may, sure, code", FROUDE)
def test_froude_table(size, quiet, may, sure, code):
    bore = thin(size)
    for number, flow in ((0.3, quiet), (1, may), (2, sure)):
        assert drains.flow_at_froude.si(number, bore) / LPM == pytest.approx(flow, rel=0.005, abs=0.06)
    assert drains.leader_flow.si(bore) / LPM == pytest.approx(code, rel=0.005, abs=0.06)
    band = drains.siphon_starting_band.si(bore).si
    assert [band.never_below / LPM, band.may / LPM, band.sure / LPM] == pytest.approx([quiet, may, sure], rel=0.005, abs=0.06)
    assert 0.8 < drains.froude.si(drains.leader_flow.si(bore), bore) < 1.15  # code sizing gulps


@pytest.mark.parametrize("size, low, high", [("1 in", 8.7, 9.1), ("1 1/2 in", 25, 27), ("2 in", 47, 49), ("3 in", 128, 133)])
def test_weir_drowns_where_the_closed_form_says(size, low, high):
    """H* = Cd D √2g/(4 Cw), 0.36 to 0.39 bores (SCS drop inlet, Cw 1.84 to 1.70, Cd 0.6), and the flow there."""
    bore = thin(size)
    change = 0.6 * bore * math.sqrt(2 * G) / (4 * drains.WEIR)
    assert 0.36 <= change / bore <= 0.391
    assert low * 0.99 <= drains.standpipe_flow.si(change, bore) / LPM <= high * 1.01
    powers = [  # flow goes with depth^1.5 below and depth^0.5 above
        math.log2(drains.standpipe_flow.si(2 * h, bore) / drains.standpipe_flow.si(h, bore)) for h in (change / 4, change * 2)
    ]
    assert powers == pytest.approx([1.5, 0.5], rel=1e-9)


# --- published: gravity lines -------------------------------------------------------------------

MANNING = [  # L/min half full and full: slope 1/96 and 1/48, n 0.009 and 0.011; Schedule 40, minimum wall
    ("1 1/2 in", (21.0, 42.1), (17.2, 34.5), (29.8, 59.6), (24.4, 48.7)),
    ("2 in", (41.0, 82.0), (33.5, 67.1), (58.0, 116), (47.4, 94.9)),
    ("3 in", (117, 235), (96, 192), (166, 332), (136, 272)),
    ("4 in", (242, 485), (198, 397), (343, 686), (281, 561)),
]


@pytest.mark.parametrize("size, a, b, c, d", MANNING)
def test_manning_capacities(size, a, b, c, d):
    cases = zip((1 / 96, 1 / 96, 1 / 48, 1 / 48), (0.009, 0.011, 0.009, 0.011), (a, b, c, d))
    for slope, n, (half, full) in cases:
        for fill, flow in ((0.5, half), (1.0, full)):
            assert drains.gravity_flow.si(thin(size), slope, manning_n=n, fill=fill) / LPM == pytest.approx(flow, rel=0.005, abs=0.06)


def test_part_full_shape():
    """Q over full Q: 0.500 at half, 0.137 at a quarter, 0.977 at 0.8; most, 1.0757, at 0.938."""
    full = drains.gravity_flow.si(0.05, 0.02, fill=1.0)
    for fill, share in ((0.5, 0.500), (0.25, 0.137), (0.8, 0.977), (0.938, 1.0757)):
        assert drains.gravity_flow.si(0.05, 0.02, fill=fill) / full == pytest.approx(share, abs=0.0006)
    fill = np.linspace(0, 1, 2001)
    assert fill[np.argmax(drains.gravity_flow.si(0.05, 0.02, fill=fill))] == pytest.approx(0.938, abs=0.001)


@pytest.mark.parametrize("fill, radius", [(1.0, 1 / 4), (0.5, 1 / 4)])
def test_gravity_speed_against_fluids(fill, radius):
    """Full and half full have the hydraulic radius D/4."""
    assert drains.gravity_speed.si(0.1, 0.01, fill=fill) == pytest.approx(fluids.V_Manning(radius * 0.1, 0.01, 0.011), rel=1e-9)


# --- published: siphons -------------------------------------------------------------------------


@pytest.mark.parametrize("fall, flow", [(0.2, 32.0), (0.4, 45.9), (0.6, 56.6), (0.8, 65.6)])
def test_siphon_flow(fall, flow):
    """1 in Schedule 40, 1.5 m, ΣK 2.9, 20 °C, computed with the fluids library."""
    assert drains.siphon_flow.si(fall, thin("1 in"), 1.5, k=2.9) / LPM == pytest.approx(flow, rel=0.003)


def test_siphon_rating_of_bos():
    """Bos, Discharge Measurement Structures 3e: Q = A √(2g Δh/(1.9 + f L/D)), f near 0.019 in small pipe; ± 15 % (USBR)."""
    bore, length, fall = thin("2 in"), 3.0, 0.5
    bos = math.pi / 4 * bore**2 * math.sqrt(2 * G * fall / (1.9 + 0.019 * length / bore))
    assert drains.siphon_flow.si(fall, bore, length) == pytest.approx(bos, rel=0.03)


# --- full bore ----------------------------------------------------------------------------------


@FAST
@given(st.floats(1e-4, 3), bores, st.floats(0, 20), st.floats(0.5, 10))
def test_full_bore_flow_against_a_root_finder(fall, bore, length, k):
    def short(flow):
        v = flow / (math.pi / 4 * bore**2)
        return pipes.friction_head.si(flow, bore, length) + k * v * v / (2 * G) - fall

    root = brentq(short, 0.0, 1.01 * math.pi / 4 * bore**2 * math.sqrt(2 * G * fall / k), xtol=1e-18, rtol=1e-13)
    assert drains.full_bore_flow.si(fall, bore, length, k=k) == pytest.approx(root, rel=1e-9)


@FAST
@given(flows, bores, st.floats(0, 20), st.floats(0.5, 10))
def test_full_bore_round_trip(flow, bore, length, k):
    head = drains.full_bore_head.si(flow, bore, length, k=k)
    if head > 1e-9:
        assert drains.full_bore_flow.si(head, bore, length, k=k) == pytest.approx(flow, rel=1e-9)


def test_no_fall_no_flow():
    assert drains.full_bore_flow.si(0.0, 0.026, 1.0) == 0
    assert drains.full_bore_flow.si(-0.5, 0.026, 1.0) == 0
    assert list(drains.siphon_flow.si(np.array([-0.1, 0.0]), 0.026, 1.0)) == [0, 0]


# --- identities ---------------------------------------------------------------------------------


@FAST
@given(flows, bores)
def test_standpipe_round_trip(flow, bore):
    depth = drains.standpipe_depth.si(flow, bore)
    assert drains.standpipe_flow.si(depth, bore) == pytest.approx(flow, rel=1e-9)


@FAST
@given(flows, bores, st.floats(0.05, 2), st.floats(1, 5))
def test_standpipe_round_trip_with_a_full_bore_limit(flow, bore, fall, k):
    depth = drains.standpipe_depth.si(flow, bore, fall=fall, k=k)
    assert drains.standpipe_flow.si(depth, bore, fall=fall, k=k) == pytest.approx(flow, rel=1e-8)
    assert depth >= drains.standpipe_depth.si(flow, bore)


@FAST
@given(depths, depths, bores)
def test_a_deeper_standpipe_takes_more(one, other, bore):
    low, high = sorted((one, other))
    if high > low * (1 + 1e-9):
        assert drains.standpipe_flow.si(high, bore) > drains.standpipe_flow.si(low, bore)
    assert drains.standpipe_flow.si(-one, bore) == 0


@FAST
@given(fills, bores, st.floats(1e-3, 0.2))
def test_gravity_round_trip(fill, bore, slope):
    flow = drains.gravity_flow.si(bore, slope, fill=fill)
    assert drains.gravity_fill.si(flow, bore, slope) == pytest.approx(fill, rel=1e-6)


@FAST
@given(fills, bores, st.floats(1e-3, 0.2))
def test_gravity_flow_is_area_times_speed(fill, bore, slope):
    """Area of a circle's segment by its chord, worked out another way: an integral over the depth."""
    area, _ = quad(lambda y: 2 * math.sqrt(max(y * (bore - y), 0.0)), 0.0, fill * bore)
    speed = drains.gravity_speed.si(bore, slope, fill=fill)
    assert drains.gravity_flow.si(bore, slope, fill=fill) == pytest.approx(area * speed, rel=1e-5)


def test_gravity_ends():
    assert drains.gravity_flow.si(0.05, 0.02, fill=0.0) == 0
    assert drains.gravity_speed.si(0.05, 0.02, fill=0.0) == 0
    assert drains.gravity_fill.si(0.0, 0.05, 0.02) == 0
    assert drains.gravity_flow.si(0.05, 0.0) == 0
    most = drains.gravity_flow.si(0.05, 0.02, fill=0.938)
    assert drains.gravity_fill.si(1.001 * most, 0.05, 0.02) == 1  # more than it carries: backs up
    assert drains.gravity_fill.si(0.999 * most, 0.05, 0.02) < 0.938


@FAST
@given(st.floats(0, 5), bores)
def test_froude_round_trip(number, bore):
    assert drains.froude.si(drains.flow_at_froude.si(number, bore), bore) == pytest.approx(number, rel=1e-12)


def test_regimes_from_both_sides():
    at = lambda number: drains.standpipe_regime.si(drains.flow_at_froude.si(number, 0.05), 0.05)  # noqa: E731
    assert [at(n) for n in (0.0, 0.29, 0.31, 0.99, 1.01, 1.99, 2.01)] == [
        "quiet", "quiet", "gulping", "gulping", "may fill", "may fill", "full",
    ]  # fmt: skip
    assert list(at(np.array([0.1, 0.5, 3.0]))) == ["quiet", "gulping", "full"]


def test_arrays_give_what_scalars_give():
    q = np.linspace(0, 3e-3, 13)
    for function, rest in (
        (drains.standpipe_depth, (0.05,)),
        (drains.gravity_fill, (0.05, 0.02)),
        (drains.full_bore_head, (0.05, 2.0)),
        (drains.full_bore_flow, (0.05, 2.0)),
        (drains.siphon_flow, (0.05, 2.0)),
        (drains.standpipe_flow, (0.05,)),
    ):
        assert function.si(q, *rest) == pytest.approx([function.si(x, *rest) for x in q], rel=1e-10, abs=1e-15)
    assert drains.gravity_flow.si(np.array([[0.05], [0.1]]), np.array([0.01, 0.02, 0.03])).shape == (2, 3)


# --- siphon conditions: every side --------------------------------------------------------------


def conditions(inflow, **changes):
    case = {"fall_at_full": 0.6, "fall_at_vent": 0.4, "length": 1.5, "k": 2.9, **changes}
    return drains.siphon_conditions.si(inflow * LPM, thin("1 in"), **case).si


@pytest.mark.parametrize("inflow, starts, stops", [
    (4, "no", "sure"),  # under Froude 0.3 (5.1 L/min)
    (16.9, "no", "sure"), (17.4, "may", "sure"),  # Froude 1 is 17.1 L/min
    (33.9, "may", "sure"), (34.5, "sure", "sure"),  # Froude 2 is 34.2 L/min
    (35.0, "sure", "sure"), (35.6, "sure", "doubtful"),  # at the vent it carries 45.9 L/min, over 1.3 is 35.3
    (45.5, "sure", "doubtful"), (46.3, "sure", "no"),
])  # fmt: skip
def test_whether_a_siphon_starts_and_stops(inflow, starts, stops):
    """1 in Schedule 40, 1.5 m, ΣK 2.9: limits from the Froude table and the siphon flows above."""
    found = conditions(inflow)
    assert (found.starts, found.stops) == (starts, stops)
    assert found.flow_at_full / LPM == pytest.approx(56.6, rel=0.003)
    assert found.flow_at_vent / LPM == pytest.approx(45.9, rel=0.003)


def test_siphon_conditions_broadcast():
    found = conditions(np.array([4.0, 20.0, 40.0, 50.0]))
    assert list(found.starts) == ["no", "may", "sure", "sure"]
    assert list(found.stops) == ["sure", "sure", "doubtful", "no"]


# --- screens ------------------------------------------------------------------------------------


def test_screens_by_size_of_fish():
    """Timmons; NMFS: from memory, so only the limits' order and edges are checked against what is remembered."""
    assert drains.screen_speed.si(0.001, 0.005) == pytest.approx(0.2)  # continuity
    assert list(drains.screen_speed_limit.si(np.array([0.001, 0.05]))) == [0.1, 0.3]
    assert list(drains.screen_slot_limit.si(np.array([0.0005, 0.003, 0.02]))) == [0.0016, 0.0032, 0.0064]


# --- door ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("call, says", [
    (lambda: drains.standpipe_flow("15 mm", "0 mm"), "more than 0"),
    (lambda: drains.standpipe_flow("15 L", "50 mm"), "a volume"),
    (lambda: drains.gravity_flow("50 mm", -0.02), "slope is negative"),
    (lambda: drains.gravity_flow("50 mm", 0.02, fill=1.2), "0 to 1"),
    (lambda: drains.gravity_flow("50 mm", 0.02, manning_n=1), "0.007 to 0.03"),
    (lambda: drains.full_bore_flow("1 m", "50 mm", "0 m", k=0), "more than 0"),
    (lambda: drains.full_bore_flow("1 m", "50 mm", "1 m", k=-0.1), "more than 0"),
    (lambda: drains.full_bore_flow("1 m", "50 mm", "-1 m"), "cannot be negative"),
    (lambda: drains.siphon_conditions("10 L/min", "26 mm", fall_at_full="0.3 m", fall_at_vent="0.5 m", length="1 m"), "below it"),
    (lambda: drains.siphon_stops("10 L/min", "20 L/min", margin=0.5), "under 1"),
    (lambda: drains.screen_speed("10 L/min", "0 cm2"), "more than 0"),
    (lambda: drains.screen_slot_limit("0.1 g"), "starts at 0.45 g"),
    (lambda: drains.screen_speed_limit("0 g"), "more than 0"),
    (lambda: drains.leader_flow("50 mm", filled=0.6), "0.333"),
])  # fmt: skip
def test_the_door_refuses_in_plain_words(call, says):
    with pytest.raises(DesignError, match=says):
        call()


def test_the_door_gives_quantities():
    assert drains.standpipe_flow("15 mm", "52 mm", fall="1 m", length="1.2 m").to("L/min").m > 0
    assert drains.standpipe_depth("1800 L/h", "52 mm").check("[length]")
    assert drains.siphon_conditions("20 L/min", "26 mm", fall_at_full="0.6 m", fall_at_vent="0.4 m", length="1.5 m").starting.sure.check(
        "[volume]/[time]"
    )

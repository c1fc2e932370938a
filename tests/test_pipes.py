"""Pipe sizes and friction against print, the fluids library and closed forms."""

import math
from fractions import Fraction

import fluids
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aquaplumb import DesignError, tables, u, water
from aquaplumb.plumbing import pipes

FAST = settings(max_examples=80, deadline=None, derandomize=True)
GPM, FT, IN, PSI = 6.30901964e-5, 0.3048, 0.0254, 6894.757
INCH = ["1/2 in", "3/4 in", "1 in", "1 1/4 in", "1 1/2 in", "2 in", "2 1/2 in", "3 in", "4 in", "6 in"]

numbers = st.floats(1e-3, 1e8)
roughnesses = st.floats(0, 0.05)
flows = st.floats(1e-7, 0.02)
bores = st.floats(0.01, 0.12)


def psi_per_100_ft(head, density=998.206):
    """A head [m] over 100 ft as the pressure that tables print; density at 20 °C."""
    return head * density * 9.80665 / PSI


def hazen_williams(flow, bore, length, c=150.0):
    """The head by the rule behind most printed tables, as the PPFA prints it (ft per 100 ft, gpm, inches): it tells their bores."""
    return 0.2083 * (100.0 / c) ** 1.852 * (flow / GPM) ** 1.852 / (bore / IN) ** 4.8655 * length / 100.0


# --- published: friction ------------------------------------------------------------------------


def test_crane_plastic_pipe():
    """Crane TP-410, example 7-1: 200 L/min at 30 °C in 2 in Schedule 40 (52.48 mm): Re 100 600, f 0.0179."""
    flow, bore = 0.2 / 60, 0.05248
    re = pipes.reynolds.si(flow, bore, temperature=303.15)
    assert re == pytest.approx(100_600, rel=0.015)  # Crane reads viscosity from a chart
    assert pipes.friction_factor.si(re, 0.0) == pytest.approx(0.0179, rel=0.015)


def test_white_example_6_6_head_loss():
    """White, Fluid Mechanics, example 6.6: 200 ft, 6 in, ε 0.0004 ft, 6 ft/s, ν 1.1e-5 ft²/s: 4.5 ft lost."""
    f = pipes.friction_factor.si(6 * 0.5 / 1.1e-5, 0.0004 / 0.5)
    assert f * 200 / 0.5 * 6**2 / (2 * 32.174) == pytest.approx(4.5, rel=0.02)  # the book rounds to two figures


def test_white_example_6_7_oil():
    """White, example 6.7: 0.2 m³/s of oil in 0.2 m pipe, ν 1e-5, ε 0.26 mm: f 0.0225 (the book rounds v to 6.4)."""
    re = 0.2 / (math.pi / 4 * 0.2**2) * 0.2 / 1e-5
    assert pipes.friction_factor.si(re, 0.26e-3 / 0.2) == pytest.approx(0.0225, rel=0.02)


# f by Colebrook, from the fluids library (Reynolds number, relative roughness, f)
COLEBROOK = [
    (1e4, 0, 0.030883), (5e4, 0, 0.020891), (1e5, 0, 0.017990), (1e6, 0, 0.011645), (1e5, 1e-4, 0.018514),
    (1e5, 1e-3, 0.022175), (1e6, 1e-3, 0.019943), (1e5, 1e-2, 0.038504), (1e8, 1e-3, 0.019639),
    (1e3, 0.01, 0.064), (2e3, 0.0, 0.032),
]  # fmt: skip


@pytest.mark.parametrize("re, rough, f", COLEBROOK)
def test_friction_factor_table(re, rough, f):
    assert pipes.friction_factor.si(re, rough) == pytest.approx(f, abs=6e-7)  # printed to six decimals


# DW at 20 °C, ε 1.5 µm, minimum wall, and Hazen–Williams C 150: both psi/100 ft, computed with the fluids library
WORKING = [
    ("1/2 in", 2, 2.11, 1.548, 1.789), ("1/2 in", 4, 4.22, 5.588, 6.019), ("3/4 in", 4, 2.41, 1.422, 1.577),
    ("3/4 in", 8, 4.81, 5.135, 5.348), ("1 in", 5, 1.86, 0.664, 0.740), ("1 in", 10, 3.71, 2.398, 2.505),
    ("1 in", 16, 5.94, 5.727, 5.774), ("1 1/4 in", 20, 4.29, 2.280, 2.310), ("1 1/2 in", 10, 1.58, 0.298, 0.325),
    ("1 1/2 in", 20, 3.15, 1.077, 1.105), ("1 1/2 in", 35, 5.52, 3.036, 2.997), ("2 in", 20, 1.91, 0.319, 0.335),
    ("2 in", 40, 3.82, 1.153, 1.148), ("2 in", 55, 5.26, 2.079, 2.030), ("3 in", 100, 4.34, 0.921, 0.891),
    ("4 in", 200, 5.04, 0.886, 0.841),
]  # fmt: skip


@pytest.mark.parametrize("size, gpm, speed, hazen, darcy", WORKING)
def test_sch_40_working_values(size, gpm, speed, hazen, darcy):
    bore = pipes.bore.si(size, "Sch 40", wall="minimum")
    assert pipes.speed.si(gpm * GPM, bore) / FT == pytest.approx(speed, abs=0.006)
    assert pipes.speed.si(gpm * GPM, bore) / FT == pytest.approx(0.4085 * gpm / (bore / IN) ** 2, rel=5e-4)  # in print
    # three figures, and two sets of water properties: 0.3 %
    assert psi_per_100_ft(pipes.friction_head.si(gpm * GPM, bore, 100 * FT)) == pytest.approx(darcy, rel=3e-3)
    # print's forms of Hazen–Williams differ by 1 % among themselves
    assert psi_per_100_ft(hazen_williams(gpm * GPM, bore, 100 * FT)) == pytest.approx(hazen, rel=3e-3)


ILLINOIS = [
    ("1 in", 5, 1.52), ("1 1/4 in", 10, 1.46), ("1 1/4 in", 20, 5.23), ("1 1/2 in", 20, 2.46), ("2 in", 20, 0.74),
    ("2 in", 50, 3.98), ("3 in", 50, 0.58), ("4 in", 100, 0.55),
]  # fmt: skip


@pytest.mark.parametrize("size, gpm, feet", ILLINOIS, ids=[f"Illinois Adm. Code 77-906 {s} {q} gpm" for s, q, _ in ILLINOIS])
def test_illinois_table_uses_the_minimum_wall(size, gpm, feet):
    """ft per 100 ft, Schedule 40, C 150; 3 % and half the last decimal."""
    bore = pipes.bore.si(size, "Sch 40", wall="minimum")
    assert hazen_williams(gpm * GPM, bore, 100 * FT) / FT == pytest.approx(feet, abs=0.03 * feet + 0.005)


CLASS_160 = [
    ("1 in", 10, 1.27),
    ("1 in", 20, 4.59),
    ("2 in", 40, 0.86),
    ("2 in", 100, 4.72),
    ("3 in", 100, 0.72),
    ("4 in", 200, 0.76),
]


@pytest.mark.parametrize("size, gpm, psi", CLASS_160, ids=[f"class 160 table {s} {q} gpm" for s, q, _ in CLASS_160])
def test_class_160_table(size, gpm, psi):
    """psi per 100 ft, SDR 26, C 150, minimum wall; two decimals."""
    bore = pipes.bore.si(size, "SDR 26", wall="minimum")
    found = psi_per_100_ft(hazen_williams(gpm * GPM, bore, 100 * FT))
    assert found == pytest.approx(psi, rel=0.01, abs=0.005)


SDR_21 = [("3/4 in", 4.77), ("1 in", 1.41), ("1 1/4 in", 0.445), ("1 1/2 in", 0.228), ("2 in", 0.076)]


@pytest.mark.parametrize("size, psi", SDR_21, ids=[f"irrigationdirect.com SDR 21 {s}" for s, _ in SDR_21])
def test_sdr_21_table_uses_the_average_bore(size, psi):
    """10 gpm, C 150: this table fits the average bore and misses the minimum-wall bore by 4 to 10 %."""
    average, thin = (
        psi_per_100_ft(hazen_williams(10 * GPM, pipes.bore.si(size, "SDR 21", wall=w), 100 * FT)) for w in ("average", "minimum")
    )
    assert average == pytest.approx(psi, rel=0.012)
    assert abs(thin / psi - 1) > 0.03


@pytest.mark.parametrize("size, more", [("1/2 in", 0.17), ("3/4 in", 0.13), ("1 in", 0.10), ("1 1/4 in", 0.07), ("2 in", 0.05)])
def test_average_bore_costs_more_head(size, more):
    """How much the choice of bore moves friction, computed with the fluids library; to the nearest percent."""
    average, thin = (pipes.friction_head.si(10 * GPM, pipes.bore.si(size, "Sch 40", wall=wall), 1.0) for wall in ("average", "minimum"))
    assert average / thin - 1 == pytest.approx(more, abs=0.008)


def test_temperature_and_roughness_move_friction():
    """1 in at 10 gpm: pressure +10.5 % at 5 °C, −2.8 % at 25 °C; 1.5 µm +0.7 %, 7 µm +3 % (fluids library)."""
    case = (10 * GPM, 0.0266446, 1.0)
    base = pipes.friction_head.si(*case)
    for warm, change in ((278.15, 1.105), (298.15, 0.972)):
        thick = water.density.si(warm) / water.density.si(293.15)  # a pressure, so the density counts as well
        assert pipes.friction_head.si(*case, temperature=warm) / base * thick == pytest.approx(change, abs=0.001)
    smooth = pipes.friction_head.si(*case, roughness=0.0)
    assert base / smooth == pytest.approx(1.007, abs=0.001)
    assert pipes.friction_head.si(*case, roughness=7e-6) / smooth == pytest.approx(1.03, abs=0.005)


# --- published: sizes ---------------------------------------------------------------------------


@pytest.mark.parametrize("size", INCH)
@pytest.mark.parametrize("standard", ["Sch 40", "Sch 80"])
def test_d1785_rating_follows_its_formula(size, standard):
    """Ratings in print are 2 S t/(OD − t), S = 2000 psi, rounded: within 1.5 %."""
    row = pipes.pipe_size(size, standard).si
    formula = 2 * 2000 * PSI * row.wall_min / (row.outside_diameter - row.wall_min)
    assert row.pressure_rating == pytest.approx(formula, rel=0.015)


@pytest.mark.parametrize("size", INCH)
@pytest.mark.parametrize("standard", ["Sch 40", "Sch 80"])
def test_average_bore_follows_the_wall_tolerance(size, standard):
    """Makers' average bores are OD − 2 (t + ½ max(0.020 in, 12 % t)), the tolerance of ASTM D1785, to 0.001 in."""
    row = pipes.pipe_size(size, standard).si
    rule = row.outside_diameter - 2 * (row.wall_min + 0.5 * max(0.020 * IN, 0.12 * row.wall_min))
    assert row.bore_average == pytest.approx(rule, abs=0.00105 * IN)


@pytest.mark.parametrize(
    "standard, schedule",
    [("Sch 40", "40D1785"), ("Sch 80", "80D1785"), ("SDR 21", "DR21D2241"), ("SDR 26", "DR26D2241")],
)
def test_minimum_wall_bore_against_fluids(standard, schedule):
    for size in pipes.sizes(standard):
        nps = float(sum(Fraction(part) for part in size.removesuffix(" in").split()))
        _, inside, outside, wall = fluids.nearest_pipe(NPS=nps, schedule=schedule)
        row = pipes.pipe_size(size, standard).si
        assert row.bore_minimum_wall == pytest.approx(inside, abs=0.02e-3), size
        assert row.outside_diameter == pytest.approx(outside, abs=0.02e-3), size
        assert row.wall_min == pytest.approx(wall, abs=0.02e-3), size


@pytest.mark.parametrize("standard, size, series", [
    *[("PN10", d, 10.0) for d in (25, 32, 40, 50, 63, 75, 90)], ("PN10", 110, 12.589),
    *[("PN16", d, 6.3096) for d in (20, 25, 32, 40, 50, 63, 75, 90)], ("PN16", 110, 7.943),
])  # fmt: skip
def test_metric_walls_follow_the_iso_rule(standard, size, series):
    """ISO 4065: e = d/(2S + 1), to 0.01 mm, then up to 0.1 mm, at least 1.5 mm, with the exact R10 series number."""
    row = pipes.pipe_size(f"{size} mm", standard).si
    rule = max(1.5, math.ceil(round(size / (2 * series + 1), 2) * 10 - 1e-9) / 10)
    assert row.wall_min * 1e3 == pytest.approx(rule, abs=1e-9)
    assert row.bore_minimum_wall * 1e3 == pytest.approx(size - 2 * rule, abs=1e-9)


def test_every_size_is_sound():
    for row in tables.table("pipes").values():
        r = row.si
        assert r.name == f"{r.standard} {r.size}"
        assert r.bore_minimum_wall == pytest.approx(r.outside_diameter - 2 * r.wall_min, abs=2e-7)
        assert r.bore_average is None or 0.95 < r.bore_average / r.bore_minimum_wall < 1
        assert r.basis == "published" and r.source


@pytest.mark.parametrize("standard, size, outside, wall, bore", [
    pytest.param("PN6", "40 mm", 40, 1.8, None, id="DIN 8062, chart of all series"),
    pytest.param("PN6", "110 mm", 110, 3.2, None, id="DIN 8062, chart of all series"),
    pytest.param("PN6", "160 mm", 160, 4.7, None, id="DIN 8062, chart of all series"),
    pytest.param("PN10", "160 mm", 160, 7.7, None, id="DIN 8062, chart of all series"),
    pytest.param("BS class E", "1 in", 33.55, 2.2, None, id="BS 3505, bengalgroup.com"),
    pytest.param("BS class C", "4 in", 114.3, 4.5, None, id="BS 3505, bengalgroup.com"),
    pytest.param("JIS VP", "50 mm", 60, 4.1, 51, id="JIS K 6741, asahi-yukizai"),
    pytest.param("JIS VP", "13 mm", 18, 2.2, 13, id="JIS K 6741, asahi-yukizai"),
    pytest.param("JIS VU", "100 mm", 114, 3.1, 107, id="JIS K 6741, guccitech"),
    pytest.param("PE SDR 11", "32 mm", 32, 3.0, None, id="EN 12201, vesbo.com"),
    pytest.param("PE SDR 17", "63 mm", 63, 3.8, None, id="EN 12201, vesbo.com"),
    pytest.param("PE SIDR 15", "1 in", (1.049 + 0.14) * 25.4, 0.07 * 25.4, 1.049 * 25.4, id="ASTM D2239, from memory"),
    pytest.param("EN 1401", "160 mm", 160, 4.0, None, id="EN 1401 SN 4, plastmec.it"),
])  # fmt: skip
def test_sizes_against_print(standard, size, outside, wall, bore):
    """Outside diameters are the mean of print's two, so up to a half per cent over the label of metric pipe."""
    row = pipes.pipe_size(size, standard)
    assert row.outside_diameter.m_as("mm") == pytest.approx(outside, rel=0.006)
    assert row.wall_min.m_as("mm") == pytest.approx(wall, rel=1e-4)
    if bore:
        assert pipes.bore(size, standard).m_as("mm") == pytest.approx(bore, rel=1e-4)


@pytest.mark.parametrize(
    "standard, stress",
    [("AS PN9", 11.0), ("AS PN12", 11.0), ("AS PN18", 11.0), ("BS class D", 11.0), ("PE SDR 11", 8.0), ("PE SDR 17", 8.0)],
)
def test_walls_bear_their_rating_by_the_pressure_formula(standard, stress):
    """Barlow: t = P D/(2 S + P), S = 11 MPa for PVC-U (AS/NZS 1477, from memory) and 8 MPa for PE 100 (MRS 10 over 1.25, piping-world.com)."""
    for size in pipes.sizes(standard):
        row = pipes.pipe_size(size, standard).si
        needed = row.pressure_rating * row.outside_diameter / (2 * stress * 1e6 + row.pressure_rating)
        assert needed * 0.97 <= row.wall_min <= needed + 0.6e-3, size


def test_drain_pipe_has_no_rating_and_pressure_pipe_has():
    for row in (row.si for row in tables.table("pipes").values()):
        assert row.joined_by in ("cement", "push", "clamp") and row.made_for in ("pressure", "drain")
        assert (row.pressure_rating is None) == (row.made_for == "drain")
    with pytest.raises(DesignError, match="no pressure rating"):
        pipes.pressure_rating("110 mm", "EN 1451")


def test_polyethylene_bears_less_when_warm():
    """EN 12201 to 40 °C, from memory: 0.87 at 30 °C, 0.74 at 40 °C."""
    bars = [pipes.pressure_rating("32 mm", "PE SDR 11", temperature=f"{t} degC").m_as("bar") for t in (20, 30, 40)]
    assert bars == pytest.approx([16, 16 * 0.87, 16 * 0.74])


def test_pressure_rating_in_warm_pipe():
    # harvel.com: ½ in Schedule 40 at 100 °F keeps 0.62 of 600 psi; at 120 °F pipe keeps 0.40 (230 -> 92 psi)
    assert pipes.pressure_rating("1/2 in", "Sch 40", temperature="100 degF").to("psi").m == pytest.approx(372, rel=2e-3)
    cold = pipes.pressure_rating("2 in", "Sch 80").m
    assert pipes.pressure_rating("2 in", "Sch 80", temperature="120 degF").m / cold == pytest.approx(92 / 230, rel=2e-3)
    # DIN 8062: PN10 at 40 °C carries 6 bar, PN16 10 bar; at 60 °C 1 and 2.5 bar
    for standard, at_40, at_60 in (("PN10", 6, 1), ("PN16", 10, 2.5)):
        bars = [pipes.pressure_rating("50 mm", standard, temperature=f"{t} degC").to("bar").m for t in (20, 40, 60)]
        assert bars == pytest.approx([float(standard[2:]), at_40, at_60])
    with pytest.raises(DesignError, match="0 to 60 °C"):
        pipes.pressure_rating("50 mm", "PN10", temperature="70 degC")


# --- cross-check --------------------------------------------------------------------------------


@FAST
@given(st.floats(4000, 1e8), roughnesses)
def test_factor_against_fluids_colebrook(re, rough):
    assert pipes.friction_factor.si(re, rough) == pytest.approx(fluids.friction_factor(re, rough, Method="Colebrook"), rel=1e-9)


@pytest.mark.parametrize("method", ["Churchill_1977", "Swamee_Jain_1976", "Haaland"])
@pytest.mark.parametrize("re, rough, f", [row for row in COLEBROOK if row[0] > 4000])
def test_explicit_formulas_lie_within_one_and_a_half_percent(re, rough, f, method):
    assert pipes.friction_factor.si(re, rough) == pytest.approx(fluids.friction_factor(re, rough, Method=method), rel=0.015)


@FAST
@given(st.floats(1e-8, 3e-5), st.floats(0.015, 0.1), st.floats(0.1, 50))
def test_laminar_head_is_poiseuille(flow, bore, length):
    """Closed form: h = 128 ν L Q / (π g D⁴)."""
    if pipes.reynolds.si(flow, bore) < 2000:
        nu = water.kinematic_viscosity.si(293.15)
        closed = 128 * nu * length * flow / (math.pi * pipes.GRAVITY * bore**4)
        assert pipes.friction_head.si(flow, bore, length) == pytest.approx(closed, rel=1e-12)


# --- identities ---------------------------------------------------------------------------------


@FAST
@given(st.floats(4000, 1e8), roughnesses)
def test_factor_satisfies_colebrook(re, rough):
    f = pipes.friction_factor.si(re, rough)
    assert 1 / math.sqrt(f) == pytest.approx(-2 * math.log10(rough / 3.7 + 2.51 / (re * math.sqrt(f))), rel=1e-9)


@FAST
@given(numbers, roughnesses)
def test_slope_is_the_slope(re, rough):
    _, slope = pipes.factor_and_slope(re, rough)
    above, _ = pipes.factor_and_slope(re * (1 + 1e-5), rough)
    below, _ = pipes.factor_and_slope(re * (1 - 1e-5), rough)
    assert (math.log(above) - math.log(below)) / 2e-5 == pytest.approx(slope, abs=1e-4)
    assert slope > -2  # so that head always rises with flow


@pytest.mark.parametrize("rough", [0.0, 1e-4, 1e-2, 0.05])
def test_factor_has_no_step(rough):
    for edge in (2000.0, 4000.0):
        below, above = (pipes.factor_and_slope(edge * (1 + d), rough) for d in (-1e-9, 1e-9))
        assert below[0] == pytest.approx(above[0], rel=1e-7)
        assert below[1] == pytest.approx(above[1], rel=1e-5)


@FAST
@given(flows, flows, bores)
def test_head_rises_with_flow(one, other, bore):
    low, high = sorted((one, other))
    if high > low * (1 + 1e-9):
        assert pipes.friction_head.si(high, bore, 1.0) > pipes.friction_head.si(low, bore, 1.0)


@FAST
@given(flows, bores, st.floats(0, 50), st.floats(0, 50))
def test_runs_in_series_add_up_and_backward_is_minus(flow, bore, one, other):
    head = pipes.friction_head.si
    assert head(flow, bore, one + other) == pytest.approx(head(flow, bore, one) + head(flow, bore, other), rel=1e-12)
    assert head(-flow, bore, one) == -head(flow, bore, one)


def test_still_water_costs_nothing():
    assert pipes.friction_head.si(0.0, 0.026, 10.0) == 0
    f, slope = pipes.factor_and_slope(np.array([0.0, 1e5]), 0.0)
    assert np.all(np.isfinite(f)) and slope[0] == -1


def test_arrays_give_what_scalars_give():
    flow, bore = np.geomspace(1e-6, 1e-2, 40), np.array([[0.02], [0.05]])
    grid = pipes.friction_head.si(flow, bore, 3.0)
    assert grid.shape == (2, 40)
    assert np.array_equal(grid, [[pipes.friction_head.si(q, b, 3.0) for q in flow] for b in bore[:, 0]])


# --- door ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["1 1/2 in", "1-1/2 in", "1½ in", '1 1/2"', "1 1/2″", "1.5 in", "1.5in", "1 1/2 inch", ' 1-1/2" '])
def test_a_size_however_it_is_written(text):
    assert pipes.pipe_size(text, "Sch 40").size == "1 1/2 in"
    assert pipes.pipe_size(text, "schedule 40") is pipes.pipe_size(1.5 * u.inch, "SCH. 40")


def test_bores_of_one_inch():
    assert pipes.bore("1 in", "Sch 40").to("inch").m == pytest.approx(1.029)  # ix23.com, average
    assert pipes.bore("1 in", "Sch 40", wall="minimum").to("inch").m == pytest.approx(1.049)  # ASTM D1785
    assert pipes.bore("32 mm", "PN16", wall="average").to("mm").m == pytest.approx(27.2)  # DIN 8062, thin wall only


@pytest.mark.parametrize("size, standard, says", [
    ("33 mm", "PN16", "PN16 has 20 mm, 25 mm, 32 mm"),
    ("1 in", "PN10", "PN10 has 25 mm"),
    ("one inch", "Sch 40", "Sch 40 has 1/2 in"),
    ("", "Sch 40", "Sch 40 has 1/2 in"),
    ("9**9**9 in", "Sch 40", "Sch 40 has 1/2 in"),
    ("1 in", "Sch 41", "did you mean Sch 40"),
    ("1 in", "", "it has Sch 40, Sch 80, SDR 21"),
])  # fmt: skip
def test_unknown_sizes_say_what_there_is(size, standard, says):
    with pytest.raises(DesignError, match=says):
        pipes.bore(size, standard)


@pytest.mark.parametrize("call, says", [
    (lambda: pipes.friction_head("900 L", "26 mm", "1 m"), "flow is 900 L, a volume"),
    (lambda: pipes.friction_head("900 L/h", 26, "1 m"), "no unit"),
    (lambda: pipes.friction_head("900 L/h", "0 mm", "1 m"), "more than 0"),
    (lambda: pipes.friction_head("900 L/h", "26 mm", "-1 m"), "cannot be negative"),
    (lambda: pipes.friction_head("900 L/h", "26 mm", "1 m", temperature="60 degC"), "40 °C"),
    (lambda: pipes.friction_factor(-1, 0), "negative"),
    (lambda: pipes.friction_factor(1e5, 0.2), "0 to 0.05"),
    (lambda: pipes.bore("1 in", "Sch 40", wall="mean"), "'average'"),
    (lambda: pipes.speed("1 L/s", "-1 mm"), "more than 0"),
])  # fmt: skip
def test_the_door_refuses_in_plain_words(call, says):
    with pytest.raises(DesignError, match=says):
        call()


def test_the_door_gives_quantities():
    assert pipes.friction_head("2000 L/h", "26.14 mm", "10 m").check("[length]")
    assert isinstance(pipes.friction_factor(1e5, 0), float)
    assert "Sch 40" in pipes.standards() and pipes.sizes("sdr-21")[0] == "3/4 in"

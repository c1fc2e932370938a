"""Pumps against print, closed forms and SciPy; curves, files of points, ranking, starts and suction."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from aquaplumb import u
from aquaplumb.plumbing import pumps
from aquaplumb.units import DesignError

GPM = u.gallon / u.minute
ONE_GPM = 6.30902e-5  # m³/s
LH = 1 / 3.6e6  # m³/s in one L/h


def pump_of(flow, head, power=None, *, per="L/h", lift="m", **about):
    """A pump from plain lists."""
    power = None if power is None else np.array(power) * u.W
    return pumps.Pump(name="test pump", flow=np.array(flow) * u(per), head=np.array(head) * u(lift), power=power, **about)


def line_of(head_of_flow, last, points=60, spread=0.0):
    """A system curve from a closed form in SI, with a band of `spread` on what depends on flow."""
    flow = np.linspace(0, last, points)
    heads = head_of_flow(flow)
    extra = spread * (heads - heads[..., :1])
    return pumps.SystemCurve.from_si(flow=flow, low=heads - extra, typical=heads, high=heads + extra)


def near(quantity, expected, unit, tolerance):
    assert quantity.m_as(unit) == pytest.approx(expected, rel=tolerance)


def published(source):
    """Put the source of a printed value into the test's name."""
    return pytest.mark.parametrize("source", [pytest.param(source, id=source)])


# --- published ----------------------------------------------------------------------------------


@published("Crane TP-410 ex. 7.33 affinity")
def test_affinity_crane(source):
    # 400 gpm, 126 ft, 17.5 hp at 3500 rpm -> 194.3 gpm, 29.7 ft, 2.0 hp at 1700 (2.0 is printed to two digits)
    fast = pumps.Pump(name="Crane", flow=[0, 200, 400] * GPM, head=[150, 140, 126] * u.ft, power=[10, 14, 17.5] * u.hp)
    slow = pumps.at_speed(fast, 1700 / 3500)
    near(slow.flow[2], 194.3, GPM, 5e-4)
    near(slow.head[2], 29.7, "ft", 2e-3)
    near(slow.power[2], 2.0, "hp", 0.01)


@published("Fox, affinity at specific speed 2000; answers from memory")
def test_affinity_fox(source):
    # Ns = 2000 at 300 gpm and 1170 rpm fixes the head (closed form, 21.93 ft); efficiency 0.80 fixes the power
    first = (1170 * 300**0.5 / 2000) ** (4 / 3)
    shaft = (998.2 * 9.80665) * 300 * ONE_GPM * (first * u.ft).m_as("m") / 0.80
    slow = pumps.Pump(name="Fox", flow=[0, 150, 300] * GPM, head=[first + 9, first + 5, first] * u.ft,
                      power=[0.5 * shaft, 0.8 * shaft, shaft] * u.W)  # fmt: skip
    fast = pumps.at_speed(slow, 1750 / 1170)
    near(fast.flow[2], 449, GPM, 2e-3)
    near(fast.head[2], 49, "ft", 5e-3)
    near(fast.power[2], 6.9, "hp", 0.01)


@published("Crane TP-410 ex. 7.15 pump power")
def test_efficiency_crane(source):
    # 100 gpm against 421 ft at efficiency 0.70 takes 15.2 hp
    pump = pumps.Pump(name="Crane", flow=[0, 100, 200] * GPM, head=[480, 421, 300] * u.ft, power=[9, 15.2, 20] * u.hp)
    k = (421 - 400) / 100**2
    line = line_of(lambda q: (400 + k * (q / ONE_GPM) ** 2) * 0.3048, 200 * ONE_GPM)
    point = pumps.operating_point(pump, line)
    near(point.flow, 100, GPM, 5e-4)
    assert point.efficiency == pytest.approx(0.70, rel=5e-3)


@published("Crane TP-410 ex. 7.34 yearly cost")
def test_cost_crane(source):
    # 428 ft, 700 gpm, efficiencies .707 .95 .96, 8000 h at $0.12: $83 970; exact arithmetic gives 84 033
    wire = 998.2 * 9.80665 * 700 * ONE_GPM * 428 * 0.3048 / (0.707 * 0.95 * 0.96)
    assert pumps.annual_cost(wire * u.W, 0.12, duty=8000 / 8760) == pytest.approx(83_970, rel=2e-3)


@published("Munson ex. 12.4 system curve; answers from memory")
def test_operating_point_munson(source):
    # 6 in, 200 ft, f .02, K .5+1.5+1, lift 10 ft -> h = 10 + 4.43 Q² (cfs): 66.5 ft at 1600 gpm
    bore, g = 0.5, 32.174
    coefficient = (0.02 * 200 / bore + 3.0) / (2 * g * (np.pi / 4 * bore**2) ** 2)
    assert coefficient == pytest.approx(4.43, rel=1e-3)
    line = line_of(lambda q: (10 + coefficient * (q / 0.3048**3) ** 2) * 0.3048, 2400 * ONE_GPM)
    pump = pumps.Pump(name="Munson", flow=[0, 800, 1600, 2400] * GPM, head=[88, 82, 66.5, 40] * u.ft)
    point = pumps.operating_point(pump, line)
    near(point.flow, 1600, GPM, 5e-3)
    near(point.head, 66.5, "ft", 5e-3)


@published("White 7e ex. 11.6; answers from memory, and in closed form")
def test_operating_point_white(source):
    # H = 490 - 0.26 Q² (ft, thousand gpm) on 120 ft of lift and 1500 ft of 16 in pipe, f .030: 15.2 kgpm, 430 ft
    flow = np.linspace(0, 40, 21)
    pump = pumps.Pump(name="White", flow=1000 * flow * GPM, head=(490 - 0.26 * flow**2) * u.ft)
    area = np.pi / 4 * (16 / 12) ** 2
    c = 0.030 * 1500 / (16 / 12) / (2 * 32.174 * area**2) * (1000 * ONE_GPM / 0.3048**3) ** 2
    line = line_of(lambda q: (120 + c * (q / ONE_GPM / 1000) ** 2) * 0.3048, 40_000 * ONE_GPM)
    point = pumps.operating_point(pump, line)
    near(point.flow, 15_200, GPM, 3e-3)  # printed to three digits
    near(point.head, 430, "ft", 2e-3)
    exact = ((490 - 120) / (0.26 + c)) ** 0.5  # our curve runs through points, so a little off the parabola
    near(point.flow, 1000 * exact, GPM, 1e-3)


def _suction(**given):
    return pumps.suction_head_available(given.pop("lift"), given.pop("loss"), **given)


@pytest.mark.parametrize(
    ("given", "unit", "expected", "tolerance"),
    [
        # 60 °F, 5 psi over the air, 25 ft lift, 6 ft loss: 13.9 ft
        pytest.param({"lift": 25 * u.ft, "loss": 6 * u.ft, "temperature": u.Quantity(60, "degF"), "pressure": 5 * u.psi},
                     "ft", 13.9, 3e-3, id="Crane TP-410 ex. 7.32"),
        # 7000 ft, lift 8 ft, vapour pressure .411 ft (water at 50 °F), losses 1 and 2 ft: 14.8 ft
        pytest.param({"lift": 8 * u.ft, "loss": 3 * u.ft, "temperature": u.Quantity(50, "degF"), "altitude": 7000 * u.ft},
                     "ft", 14.8, 5e-3, id="textbook sum at 7000 ft, air head 26.2 ft from its table"),
        # 101.325 kPa and 2.3392 kPa (IAPWS-97) over 9.789 kN/m³, less 3.5 m
        pytest.param({"lift": 3 * u.m, "loss": 0.5 * u.m}, "m", 6.61, 1e-3, id="closed form with IAPWS-97 vapour pressure"),
    ],
)  # fmt: skip
def test_suction_head(given, unit, expected, tolerance):
    near(_suction(**given), expected, unit, tolerance)


@pytest.mark.parametrize(
    ("altitude", "metres"),
    [(0, 10.33), (500, 9.74), (1000, 9.17), (1500, 8.66), (2000, 8.11)],
    ids=lambda value: f"Davis, Table 3-7: {value}",
)
def test_suction_head_is_air_pressure_when_nothing_takes_from_it(altitude, metres):
    # the table is of air pressure as cold water; at 5 °C vapour takes 0.089 m (IAPWS-97); the table steps by weather's 1 %
    available = _suction(lift=0 * u.m, loss=0 * u.m, altitude=altitude * u.m, temperature=u.Quantity(5, "degC"))
    near(available, metres - 0.089, "m", 7e-3)


@published("MIL-HDBK-1005/9A and EI 11C201, V = tQ/4")
def test_float_volume(source):
    near(pumps.float_volume(6 * u.min, 100 * GPM), 150, "gal", 1e-9)


@pytest.mark.parametrize("ratio", [0.1, 0.25, 0.5, 0.75, 0.9])
def test_starts_follow_the_handbook_cycle(ratio):
    # EI 11C201: t = (V/D) [1/(1 - Q/D) + 1/(Q/D)]
    volume, out = 0.15, 0.002
    cycle = volume / out * (1 / (1 - ratio) + 1 / ratio)
    assert pumps.starts_per_hour.si(volume, ratio * out, out) == pytest.approx(1 / cycle, rel=1e-12)


def test_starts_at_both_ends_and_worst_at_half():
    inflow = np.linspace(0, 2, 41) * 1e-4
    starts = pumps.starts_per_hour.si(0.02, inflow, 1e-4)
    assert starts[0] == 0 and np.all(starts[inflow >= 1e-4] == 0)
    assert inflow[np.argmax(starts)] == pytest.approx(0.5e-4)
    assert pumps.float_volume.si(1 / starts.max(), 1e-4) == pytest.approx(0.02)


# --- identities ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", pumps.names())
def test_curve_passes_its_points_and_falls_all_the_way(name):
    pump = pumps.pump(name)
    curve = pumps.curve(pump)
    np.testing.assert_allclose(curve(pump.si.flow)[0], pump.si.head, atol=1e-12)
    wide = np.linspace(-0.2, 1.4, 400) * pump.si.flow[-1]
    assert np.all(np.diff(curve(wide)[0]) < 0)


def test_curve_on_a_float_equals_curve_on_an_array():
    curve = pumps.curve(pumps.pump("demo mains 180 W external"))
    flows = np.linspace(-0.1, 1.3, 57) * curve.last
    one_by_one = np.array([curve(float(q)) for q in flows]).T
    np.testing.assert_allclose(curve(flows), one_by_one, rtol=1e-14)


def test_slope_of_the_curve_is_its_derivative():
    curve = pumps.curve(pumps.pump("demo 24 V 100 W external"))
    flows = (np.linspace(-0.1, 1.3, 57) + 0.003) * curve.last
    step = 1e-6 * curve.last
    by_difference = (curve(flows + step)[0] - curve(flows - step)[0]) / (2 * step)
    np.testing.assert_allclose(curve(flows)[1], by_difference, rtol=1e-5, atol=1)


falling = st.integers(3, 9).flatmap(
    lambda n: st.tuples(
        st.lists(st.floats(1.0, 900.0), min_size=n - 1, max_size=n - 1),
        st.lists(st.floats(0.01, 2.0), min_size=n - 1, max_size=n - 1),
        st.floats(0, 1.5),
    )
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(falling)
def test_any_falling_points_give_a_falling_curve(parts):
    steps, drops, end = parts
    flow = np.concatenate([[0], np.cumsum(steps)])
    head = end + np.concatenate([np.cumsum(drops[::-1])[::-1], [0]])
    curve = pumps.curve(pump_of(flow, head))
    value, slope = curve(np.linspace(-0.3, 1.5, 301) * curve.last)
    assert np.all(np.diff(value) <= 1e-12) and np.all(slope <= 1e-9)
    assert curve(-0.1 * curve.last)[1] < 0 and curve(1.1 * curve.last)[1] < 0


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.sampled_from(pumps.names()), st.floats(0, 0.95), st.floats(0.05, 3), st.floats(1.0, 2.0))
def test_operating_point_lies_on_both_curves(name, lift_share, friction_share, exponent):
    pump = pumps.pump(name)
    top, last = pump.si.head[0], pump.si.flow[-1]
    line = line_of(lambda q: top * (lift_share + friction_share * (q / last) ** exponent), 1.6 * last)
    point = pumps.operating_point(pump, line).si
    assert point.head == pytest.approx(pumps.curve(pump)(point.flow)[0])
    if point.flow <= line.si.flow[-1]:  # SciPy reads the line's curve independently
        assert point.head == pytest.approx(float(PchipInterpolator(line.si.flow, line.si.typical)(point.flow)), abs=1e-8)
    exact = brentq(lambda q: float(pumps.curve(pump)(q)[0]) - top * (lift_share + friction_share * (q / last) ** exponent),
                   0, 40 * last, xtol=1e-16)  # fmt: skip
    if exact <= line.si.flow[-1]:  # 60 points draw a power law to better than 0.1 % of the range
        assert point.flow == pytest.approx(exact, abs=1e-3 * last)
    assert bool(point.outside) == (point.flow > last)
    assert point.share_of_range == pytest.approx(point.flow / last)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.25, 0.5, 0.7, 0.85, 0.97])
def test_a_line_of_few_uneven_points_is_read_as_scipy_reads_it(share):
    flow = np.array([0, 0.05, 0.2, 0.32, 0.75, 1.0]) * 5000 * LH
    heads = np.array([0.3, 0.5, 0.6, 1.9, 2.0, 4.0])  # with a step, as a check valve makes
    scipy_line = PchipInterpolator(flow, heads)
    target = share * flow[-1]  # a pump that crosses there, in each stretch in turn
    middle = float(scipy_line(target))
    pump = pumps.Pump.from_si(name="steep", flow=np.array([0, target, 1.1 * flow[-1]]), head=np.array([middle + 3, middle, 0.0]))
    point = pumps.operating_point(pump, pumps.SystemCurve.from_si(flow=flow, low=heads, typical=heads, high=heads))
    assert point.si.flow == pytest.approx(target, rel=1e-9)
    assert point.si.head == pytest.approx(middle, rel=1e-9)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.sampled_from(pumps.names()), st.floats(0.4, 1.6), st.floats(0.1, 3))
def test_speed_moves_the_operating_point_along_the_square_law(name, ratio, k):
    pump = pumps.pump(name)
    last, top = pump.si.flow[-1], pump.si.head[0]
    point = pumps.operating_point(pump, line_of(lambda q: k * top * (q / last) ** 2, 2 * last)).si
    turned = pumps.operating_point(pumps.at_speed(pump, ratio), line_of(lambda q: k * top * (q / last) ** 2, 2 * last * ratio)).si
    assert turned.flow == pytest.approx(ratio * point.flow, rel=1e-9)
    assert turned.head == pytest.approx(ratio**2 * point.head, rel=1e-9)
    assert turned.power == pytest.approx(ratio**3 * point.power, rel=1e-9)
    assert turned.efficiency == pytest.approx(point.efficiency, rel=1e-9)


def test_speed_and_back_is_the_same_pump():
    pump = pumps.pump("demo mains 120 W submersible").si
    back = pumps.at_speed(pumps.at_speed(pumps.pump("demo mains 120 W submersible"), 0.8), 1.25).si
    for field in ("flow", "head", "power"):
        np.testing.assert_allclose(getattr(back, field), getattr(pump, field))


def test_voltage_is_speed():
    pump = pumps.pump("demo 24 V 60 W external")
    by_voltage, by_speed = pumps.at_voltage(pump, 21.6 * u.V).si, pumps.at_speed(pump, 0.9).si
    for field in ("flow", "head", "power"):
        np.testing.assert_allclose(getattr(by_voltage, field), getattr(by_speed, field))
    assert by_voltage.voltage == pytest.approx(21.6)


def test_many_designs_at_once_equal_one_by_one():
    pump = pumps.pump("demo mains 45 W submersible")
    lift = np.array([[0.0, 0.4, 1.2], [2.0, 2.8, 3.5]])[..., None]
    k = np.array([[0.2, 1.0, 3.0], [0.1, 0.5, 2.0]])[..., None]
    both = line_of(lambda q: lift + k * (q / pump.si.flow[-1]) ** 1.8, 1.2 * pump.si.flow[-1], spread=0.3)
    many = pumps.operating_point(pump, both).si
    assert many.flow.shape == (2, 3)
    for place in np.ndindex(2, 3):
        bands = {band: getattr(both.si, band)[place] for band in ("low", "typical", "high")}
        one = pumps.operating_point(pump, pumps.SystemCurve.from_si(flow=both.si.flow, **bands)).si
        for field in ("flow", "head", "flow_low", "flow_high", "power", "efficiency", "energy_per_volume", "share_of_range"):
            assert getattr(many, field)[place] == pytest.approx(getattr(one, field), rel=1e-9), field
        assert many.outside[place] == one.outside and many.reason[place] == one.reason
    assert np.all(many.flow_low <= many.flow) and np.all(many.flow <= many.flow_high)
    assert np.array_equal(many.flow == 0, lift[..., 0] >= 2.8)  # its shut-off head is 2.8 m


def test_more_lift_and_more_loss_never_give_more_water():
    pump = pumps.pump("demo 12 V 40 W submersible")
    lift, k = np.meshgrid(np.linspace(0, 3.5, 36), np.linspace(0, 4, 21))
    flow = pumps.operating_point(pump, line_of(lambda q: lift[..., None] + k[..., None] * (q / 6e-4) ** 2, 8e-4)).si.flow
    assert np.all(np.diff(flow, axis=1) <= 1e-12) and np.all(np.diff(flow[:, :-6], axis=0) <= 1e-12)


def test_a_pump_too_weak_moves_nothing_and_says_so():
    pump = pumps.pump("demo mains 8 W submersible")  # 1.3 m at no flow
    for lift, runs in ((1.29, True), (1.3, False), (1.6, False)):
        point = pumps.operating_point(pump, line_of(lambda q, lift=lift: lift + q * 0, 2e-4))
        assert (point.flow.m > 0) == runs and ("too weak" in point.reason) != runs
    assert np.isinf(point.si.energy_per_volume) and point.efficiency == 0
    assert point.head.m_as("m") == pytest.approx(1.3)


def test_a_flow_beyond_either_curve_is_flagged():
    pump = pumps.pump("demo mains 180 W external")  # its points end at 6500 L/h, 1.3 m
    long = pumps.operating_point(pump, line_of(lambda q: 0.2 + 0 * q, 9000 * LH))
    assert long.outside and long.flow.m_as("L/h") > 6500 and "last point" in long.reason
    short = pumps.operating_point(pump, line_of(lambda q: 2.0 + 0 * q, 3000 * LH))
    assert short.outside and 3000 < short.flow.m_as("L/h") < 6500 and "system curve" in short.reason
    inside = pumps.operating_point(pump, line_of(lambda q: 2.0 + 0 * q, 9000 * LH))
    assert not inside.outside and inside.reason == "" and inside.si.flow == pytest.approx(short.si.flow)


def test_energy_and_cost_of_a_year():
    assert pumps.annual_energy("45 W").m_as("kWh") == pytest.approx(45 * 8.760)  # W times thousand hours
    assert pumps.annual_cost("45 W", 0.30, duty=0.25) == pytest.approx(45 * 8.760 * 0.30 / 4)
    point = pumps.operating_point(pumps.pump("demo mains 45 W submersible"), line_of(lambda q: 1 + 0 * q, 2500 * LH))
    assert point.energy_per_volume.m_as("W*h/m³") == pytest.approx((point.power / point.flow).m_as("W*h/m³"))


# --- ranking ------------------------------------------------------------------------------------


def ranked(line, needed="1500 L/h", **more):
    return pumps.ranking([pumps.pump(name) for name in pumps.names()], line, needed, **more)


def test_ranking_puts_pumps_that_do_the_job_first():
    line = line_of(lambda q: 1.0 + 0.8 * (q / (1500 * LH)) ** 1.8, 12000 * LH, spread=0.3)
    order = ranked(line, price=0.3)
    sure = [c.suitable and c.si.flow_low >= 1500 * LH and c.margin <= 1 for c in order]
    assert any(sure) and sure == sorted(sure, reverse=True)
    suitable = [c.suitable for c in order]
    assert not all(suitable) and suitable == sorted(suitable, reverse=True)
    best = [c.si.energy_per_volume for c, good in zip(order, sure) if good]
    assert best == sorted(best)
    for c in order:
        assert c.margin == pytest.approx(c.si.flow / (1500 * LH) - 1)
        assert c.suitable or c.reason
        assert c.suitable == (c.margin >= 0 and "last point" not in c.reason)
        assert c.si.clogged_flow <= c.si.flow
        assert c.cost == pytest.approx(c.si.power * 8.760 * 0.3)
    assert [c.name for c in pumps.ranking([c.pump for c in order][::-1], line, "1500 L/h")] == [c.name for c in order]


def test_ranking_groups_before_energy():
    # each pump passes `end` at no head; the cheaper its water, the worse its group
    def steep(name, end, watts, heads=(3, 2, 0)):
        return pump_of([0, end / 2, end], heads, [watts, watts, watts]).replace(name=name)

    line = line_of(lambda q: 0.2 + 1.2 * (q / (1500 * LH)) ** 2, 12000 * LH, spread=0.4)
    candidates = [steep("short", 1600, 8), steep("far beyond", 1700, 12, (3, 2, 1.9)), steep("tight", 2200, 130),
                  steep("far too strong", 9000, 250, (12, 8, 0)), steep("sure", 3000, 200)]  # fmt: skip
    order = pumps.ranking(candidates, line, "1500 L/h")
    assert [c.name for c in order] == ["sure", "tight", "far too strong", "far beyond", "short"]
    energies = [c.si.energy_per_volume for c in order]
    assert energies == sorted(energies, reverse=True)
    assert [c.suitable for c in order] == [True, True, True, False, False]
    words = ["", "short by poor ones", "more than twice", "last point", "of the flow needed"]
    assert all(word in c.reason for word, c in zip(words, order)) and order[0].reason == ""
    assert order[0].si.flow_low >= 1500 * LH > order[1].si.flow_low


def test_ranking_without_power_price_or_strainer():
    line = line_of(lambda q: 1.0 + 0.8 * (q / (1500 * LH)) ** 1.8, 12000 * LH)
    silent = pump_of([0, 1500, 3000], [3, 2.4, 0.5])
    order = pumps.ranking([silent, pumps.pump("demo mains 80 W submersible")], line, "1500 L/h", strainer_head="0 m")
    assert [c.name for c in order] == ["demo mains 80 W submersible", "test pump"]  # unknown power comes last
    assert order[1].power is None and order[1].cost is None and order[1].energy is None
    assert all(c.si.clogged_flow == pytest.approx(c.si.flow) for c in order)


def test_half_clogged_strainer_is_three_strainer_heads_more():
    pump = pumps.pump("demo mains 45 W submersible")
    clean = lambda q: 1.0 + 0.8 * (q / (1500 * LH)) ** 1.8  # noqa: E731
    (only,) = pumps.ranking([pump], line_of(clean, 3000 * LH), "1500 L/h", strainer_head="0.1 m")
    exact = brentq(lambda q: float(pumps.curve(pump)(q)[0]) - clean(q) - 0.3 * (q / (1500 * LH)) ** 2, 1e-9, 2500 * LH)
    assert only.si.clogged_flow == pytest.approx(exact, rel=1e-3)


def test_ranking_refuses_several_designs_and_no_need():
    many = line_of(lambda q: np.array([[1.0], [2.0]]) + 0 * q, 1e-3)
    with pytest.raises(DesignError, match="one at a time"):
        ranked(many)
    with pytest.raises(DesignError, match="above zero"):
        ranked(line_of(lambda q: 1 + 0 * q, 1e-3), "0 L/h")


# --- the demo pumps ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", pumps.names())
def test_demo_pumps_are_believable_and_marked_invented(name):
    pump = pumps.pump(name)
    assert pump.basis == "invented for the demo" and name.startswith("demo ")
    best = (998.2 * 9.80665 * pump.si.flow * pump.si.head / pump.si.power).max()
    # small DC submersible measured at 2.7 to 18.4 % wire to water (Ardiansyah et al., IEEE ICIRD 2019); small mains
    # pumps 5 to 40 % (from memory)
    assert 0.05 < best < (0.185 if (pump.supply, pump.placement) == ("DC", "submersible") else 0.40)
    assert f" {pump.si.power[-1]:.0f} W " in name
    assert (pump.voltage is None) == (pump.supply == "mains")
    assert (pump.suction_head_needed is None) == (pump.placement == "submersible")


def test_demo_pumps_span_the_job():
    every = [pumps.pump(name) for name in pumps.names()]
    assert len(every) >= 10
    assert {(p.supply, p.placement) for p in every} == {(s, p) for s in ("mains", "DC") for p in ("submersible", "external")}
    assert {12.0, 24.0} <= {p.si.voltage for p in every}


# --- door ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("flow", "head", "words"),
    [
        ([0, 500, 400], [2, 1, 0], "point 3: the flow falls.*sort the points"),
        ([0, 500, 500], [2, 1, 0], "point 3: .*twice"),
        ([0, 500, 900], [2, 2, 0], "point 2: the head does not fall"),
        ([0, 500, 900], [2, 2.1, 0], "point 2: the head does not fall"),
        ([0, 900], [2, 0], "too few"),
        ([100, 500, 900], [2, 1, 0], "point 1: .*zero flow"),
        ([0, 500, 900], [2, 1, -0.1], "below zero"),
        ([0, 500, 900], [2, 1], "do not pair up"),
    ],
)
def test_points_that_make_no_curve_are_refused(flow, head, words):
    with pytest.raises(DesignError, match=words):
        pump_of(flow, head)


def test_power_that_cannot_be_is_refused():
    with pytest.raises(DesignError, match=r"less than the .* that the water takes up"):
        pump_of([0, 3000, 6000], [4, 3, 0], [20, 20, 20])
    with pytest.raises(DesignError, match="draws some"):
        pump_of([0, 3000, 6000], [4, 3, 0], [0, 60, 60])


def test_points_cannot_change_under_the_curve():
    flow = np.array([0, 500, 900]) * u.L / u.h
    pump = pumps.Pump(name="mine", flow=flow, head=[2, 1, 0] * u.m)
    flow[1] = 100 * u.L / u.h
    assert pump.flow[1].m_as("L/h") == pytest.approx(500)
    with pytest.raises(ValueError):
        pump.si.flow[1] = 1e-9
    mine = np.array([0, 1e-4, 2e-4])
    kept = pumps.Pump.from_si(name="mine", flow=mine, head=np.array([2.0, 1.0, 0.0]))
    mine[1] = 0.5e-4  # the caller's own array stays theirs
    assert kept.si.flow[1] == 1e-4


def test_a_curve_is_made_once_and_a_changed_copy_has_its_own():
    """Identity: a curve belongs to one pump's points and to no other's."""
    pump = pumps.pump("demo mains 45 W submersible")
    assert pumps.curve(pump) is pumps.curve(pump)
    taller = pump.with_si(head=2 * pump.si.head)
    assert pumps.curve(taller)(0.0)[0] == pytest.approx(2 * pumps.curve(pump)(0.0)[0])


def test_other_words_are_refused():
    with pytest.raises(DesignError, match="mains or DC"):
        pump_of([0, 500, 900], [2, 1, 0], supply="battery")
    with pytest.raises(DesignError, match="did you mean demo mains 45 W submersible"):
        pumps.pump("demo mains 45 W submersable")
    with pytest.raises(DesignError, match="no power points"):
        pumps.power(pump_of([0, 500, 900], [2, 1, 0]), "300 L/h")
    with pytest.raises(DesignError, match="a volume; it needs a flow"):
        pumps.head(pumps.pump("demo mains 45 W submersible"), "900 L")
    with pytest.raises(DesignError, match="below zero"):
        pumps.head(pumps.pump("demo mains 45 W submersible"), "-900 L/h")
    with pytest.raises(DesignError, match=r"0\.4 to 1\.6"):
        pumps.at_speed(pumps.pump("demo mains 45 W submersible"), 0.2)
    with pytest.raises(DesignError, match="mains motor keeps its speed"):
        pumps.at_voltage(pumps.pump("demo mains 45 W submersible"), "200 V")
    with pytest.raises(DesignError, match=r"7\.2 to 13\.2 V"):
        pumps.at_voltage(pumps.pump("demo 12 V 18 W submersible"), "24 V")
    with pytest.raises(DesignError, match="stops below 9 V"):
        pumps.at_voltage(pumps.pump("demo 12 V 18 W submersible"), "8 V")
    with pytest.raises(DesignError, match="duty"):
        pumps.annual_energy("45 W", duty=15)
    with pytest.raises(DesignError, match="above zero"):
        pumps.starts_per_hour("0 L", "600 L/h", "1200 L/h")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"flow": np.array([0.0, 1e-4])}, "at least 3 flows"),
        ({"flow": np.array([0.0, 2e-4, 1e-4])}, "start at zero and rise"),
        ({"flow": np.array([1e-5, 1e-4, 2e-4])}, "start at zero and rise"),
        ({"high": np.array([1.0, 2.0])}, "give one for each"),
        ({"high": np.array([1.0, np.nan, 3.0])}, "not a number"),
        ({"high": np.array([1.0, 1.5, 3.0])}, "out of order"),
    ],
)
def test_system_curves_that_cannot_be_are_refused(changes, words):
    heads = np.array([1.0, 2.0, 3.0])
    with pytest.raises(DesignError, match=words):
        pumps.SystemCurve.from_si(**{"flow": np.array([0.0, 1e-4, 2e-4]), "low": heads, "typical": heads, "high": heads, **changes})


# --- files of points --------------------------------------------------------------------------------

GOOD = "flow [L/h],head [m],power [W]\n0,2,30\n500,1.5,34\n900,0,38\n"


def written(tmp_path, text, encoding="utf-8"):
    file = tmp_path / "my pump.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return file


@pytest.mark.parametrize(
    "text",
    [
        GOOD,
        GOOD.replace("\n", "\r\n"),
        GOOD + "\n , , \n",
        "head [ft], Flow [gal/h] ,power[W]\n6.56168,0,30\n4.92126,132.086,34\n0,237.755,38\n",
        "power [W],flow [gpm],head [cm]\n30,0,200\n34,2.201433,150\n38,3.962580,0\n",
    ],
    ids=["metric", "line ends of Windows", "blank lines", "US units in another order", "other units"],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_good_files_read_alike(tmp_path, text, encoding):
    pump = pumps.from_csv(written(tmp_path, text, encoding), supply="DC", voltage="12 V")
    np.testing.assert_allclose(pump.flow.m_as("L/h"), [0, 500, 900], rtol=1e-5)
    np.testing.assert_allclose(pump.head.m_as("m"), [2, 1.5, 0], rtol=1e-5, atol=1e-12)
    np.testing.assert_allclose(pump.power.m_as("W"), [30, 34, 38])
    assert pump.name == "my pump" and pump.voltage.m_as("V") == 12 and pump.basis == "maker's claim"


@pytest.mark.parametrize("text", ["flow [L/h],head [m]\n0,2\n500,1.5\n900,0\n", "flow [L/h],head [m],power [W]\n0,2,\n500,1.5,\n900,0,\n"])
def test_power_may_be_left_out(tmp_path, text):
    assert pumps.from_csv(written(tmp_path, text)).power is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no column 'flow'"),
        ("\n\n", "no column 'flow'"),
        ("flow [L/h],head [m]\n", "0 points are too few"),
        ("flow [L/h]\n0\n500\n900\n", "no column 'head'"),
        ("0,2\n500,1.5\n900,0\n", "no column 'flow'; write it as flow"),
        ("flow,head [m]\n0,2\n500,1\n900,0\n", "column 'flow' has no unit"),
        ("flow [furlong/h],head [m]\n0,2\n500,1\n900,0\n", "line 2: flow: .*do not know the unit 'furlong'"),
        ("flow [L],head [m]\n0,2\n500,1\n900,0\n", "line 2: flow: .*a volume; it needs a flow"),
        ("flow [L/h],head [m],powr [W]\n0,2,3\n500,1,3\n900,0,3\n", "no 'powr'; did you mean power"),
        ("flow [L/h],head [m],\n0,2,3\n500,1,3\n900,0,3\n", "unnamed or named twice"),
        ("flow [L/h],head [m],head [ft]\n0,2,3\n500,1,3\n900,0,3\n", "unnamed or named twice"),
        ("flow [L/h];head [m]\n0;2\n500;1\n900;0\n", "semicolons"),
        ("flow [L/h],head [m]\n0,2\n500,1,5\n900,0\n", "line 3: 3 cells where the header has 2"),
        ("flow [L/h],head [m]\n0,2\n500,lots\n900,0\n", "line 3: head: .*does not start with a number"),
        ("flow [L/h],head [m]\n0,2\n500,\n900,0\n", "line 3: head is blank"),
        ("flow [L/h],head [m]\n0,2\n500,nan\n900,0\n", "line 3: head"),
        ('flow [L/h],head [m]\n0,2\n500,"1,5"\n900,0\n', "line 3: head: .*comma"),
        ("flow [L/h],head [m]\n0,2\n9**9**9,1\n900,0\n", "line 3: flow"),
        ("flow [L/h],head [m]\n0,2\n" + "9" * 5000 + ",1\n900,0\n", "line 3: flow"),
        ("flow [L/h],head [m]\n0,2\n" + "9" * 200_000 + ",1\n900,0\n", "not a table of points"),
        ("flow [L/h],head [m],power [W]\n0,2,30\n500,1,\n900,0,40\n", "line 3: power is blank here but not elsewhere"),
        ("flow [L/h],head [m]\n0,2\n\n500,2.2\n900,0\n", "line 4: the head does not fall"),
        ("flow [L/h],head [m]\n0,2\n500,1\n500,0.5\n", "line 4: .*twice"),
        ("flow [L/h],head [m]\n0,2\n500,1\n400,0.5\n", "line 4: .*sort the points"),
        ("flow [L/h],head [m]\n100,2\n500,1\n900,0.5\n", "line 2: .*zero flow"),
        ("flow [L/h],head [m],power [W]\n0,2,30\n500,1,-4\n900,0,40\n", "line 3: power is -4 W"),
        (b"flow [L/h],head [m]\n0,\xff\xfe\n", "not plain text"),
        ("flow [L/h],head [m]\n0,2\n".encode("utf-16"), "not plain text"),
        (b"PK\x03\x04\x00\x00\x00spreadsheet", "not plain text"),
    ],
)  # fmt: skip
def test_bad_files_are_refused_with_the_line_and_the_cure(tmp_path, text, words):
    with pytest.raises(DesignError, match=words) as refused:
        pumps.from_csv(written(tmp_path, text))
    assert "my pump.csv" in str(refused.value) and len(str(refused.value)) < 300 and "\n" not in str(refused.value)


def test_files_that_are_none_are_refused(tmp_path):
    with pytest.raises(DesignError, match="there is no pump file"):
        pumps.from_csv(tmp_path / "gone.csv")
    with pytest.raises(DesignError, match="is a folder"):
        pumps.from_csv(tmp_path)
    with pytest.raises(DesignError):
        pumps.from_csv("a\0b.csv")
    with pytest.raises(DesignError, match="has 5004 letters") as refused:
        pumps.from_csv("x" * 5000 + ".csv")
    assert len(str(refused.value)) < 200


def test_a_huge_file_is_refused_before_it_is_read(tmp_path, monkeypatch):
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as file:
        file.write(GOOD.encode())
        file.truncate(50_000_000)  # sparse
    monkeypatch.setattr("pathlib.Path.read_text", lambda *a, **k: pytest.fail("it was read"))
    with pytest.raises(DesignError, match="has 50.0 MB; a curve of a few points"):
        pumps.from_csv(huge)

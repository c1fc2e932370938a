"""A pump at the end of a wire: against SciPy's root finder, closed forms and the affinity laws."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from aquaplumb import u
from aquaplumb.plumbing import lines, pumps
from aquaplumb.power import wire_sizes
from aquaplumb.power.pump_on_wire import wired_pump
from aquaplumb.units import DesignError

FAST = settings(max_examples=30, deadline=None, derandomize=True)
LH = 1 / 3.6e6
DC = [name for name in pumps.names() if pumps.pump(name).si.supply == "DC"]


def line_of(lift, loss, *, last, spread=0.0):
    """A line of a lift and a loss at the flow `last`, growing as the square; arrays are designs."""
    flow = np.linspace(0, 1.5 * last, 80)
    lift, loss = np.asarray(lift)[..., None], np.asarray(loss)[..., None]
    heads = [lift + loss * (1 + s) * (flow / last) ** 2 for s in (-spread, 0, spread)]
    return pumps.SystemCurve.from_si(flow=flow, low=heads[0], typical=heads[1], high=heads[2])


def usual_line(pump, spread=0.0):
    return line_of(0.35 * pump.si.head[0], 0.3 * pump.si.head[0], last=pump.si.flow[-1], spread=spread)


# --- cross-check: the voltage found by another way, with the pump made anew at each ----------------------


def by_brentq(pump, system, supply, ohms):
    """The voltage at the pump by SciPy, on `pumps.at_voltage` and `pumps.operating_point`; then flow, power."""

    def point(volt):
        return pumps.operating_point(pumps.at_voltage(pump, volt * u.V), system).si

    def gap(volt):
        return volt + ohms * point(volt).power / volt - supply

    volt = brentq(gap, 0.76 * pump.si.voltage, min(supply, 1.1 * pump.si.voltage), xtol=1e-12)
    return volt, point(volt)


@pytest.mark.parametrize("name", DC)
@pytest.mark.parametrize("share", [0.02, 0.08, 0.15], ids=lambda s: f"scipy.optimize.brentq, {s:.0%} lost at the label's power")
@pytest.mark.parametrize("supply", [0.95, 1.0, 1.08])
def test_the_coupling_matches_scipy(name, share, supply):
    pump = pumps.pump(name)
    own, system = pump.si.voltage, usual_line(pump, spread=0.3)
    ohms = share * own**2 / pump.si.power[-1]
    volt, point = by_brentq(pump, system, supply * own, ohms)
    found = wired_pump.si(pump, system, supply * own, resistance=ohms).si
    assert found.voltage == pytest.approx(volt, rel=1e-9)
    assert found.power == pytest.approx(float(point.power), rel=1e-8)
    for field in ("flow", "head"):
        assert getattr(found, field) == pytest.approx(float(getattr(point, field)), rel=1e-7)
    assert found.current == pytest.approx(float(point.power) / volt, rel=1e-8)


@pytest.mark.parametrize("name", DC)
def test_the_band_is_that_of_each_fitting_loss_by_itself(name):
    pump = pumps.pump(name)
    system, ohms = usual_line(pump, spread=0.4), 0.1 * pump.si.voltage**2 / pump.si.power[-1]
    found = wired_pump.si(pump, system, pump.si.voltage, resistance=ohms).si
    for field, band in (("flow_low", "high"), ("flow_high", "low")):
        alone = pumps.SystemCurve.from_si(flow=system.si.flow, **dict.fromkeys(("low", "typical", "high"), getattr(system.si, band)))
        assert getattr(found, field) == pytest.approx(wired_pump.si(pump, alone, pump.si.voltage, resistance=ohms).si.flow, rel=1e-12)
    assert found.flow_low < found.flow < found.flow_high


# --- closed forms -------------------------------------------------------------------------------------------


def test_closed_form_of_a_pump_of_steady_power():
    # H = 3 − 3 (Q/1000 L/h)², no lift, losses 1.5 m at 1000 L/h: at its own voltage Q = 1000 √(3/4.5) L/h at any speed but
    # scaled by it. Its power is 36 W at 12 V throughout, so i = 3 n² A, and 12 n + R 3 n² = 12 gives n; all by hand.
    x = np.linspace(0, 1000, 60)
    pump = pumps.Pump.from_si(
        name="parabola", flow=x * LH, head=3 - 3 * (x / 1000) ** 2, power=np.full(60, 36.0), supply="DC", voltage=12.0, lowest_voltage=6.0
    )
    system = line_of(0.0, 1.5, last=1000 * LH)
    for ohms in (0.0, 0.2, 0.5, 1.0):
        n = 1.0 if ohms == 0 else (-12 + np.sqrt(144 + 4 * 3 * ohms * 12)) / (2 * 3 * ohms)
        found = wired_pump.si(pump, system, 12.0, resistance=ohms).si
        assert found.running_voltage == pytest.approx(12 * n, rel=1e-9)
        assert found.current == pytest.approx(3 * n**2, rel=1e-9)
        assert found.flow == pytest.approx(n * 1000 * LH * np.sqrt(3 / 4.5), rel=2e-4)  # cubics through points of a parabola
        assert found.lost == pytest.approx((1 - n) * 1000 * LH * np.sqrt(3 / 4.5), rel=2e-4, abs=1e-12)


@pytest.mark.parametrize("name", DC)
def test_a_perfect_wire_is_the_pump_on_the_battery(name):
    pump = pumps.pump(name)
    system = usual_line(pump)
    for part in (0.9, 1.0, 1.1):
        supply = part * pump.si.voltage
        plain = pumps.operating_point(pumps.at_voltage(pump, supply * u.V), system).si
        found = wired_pump.si(pump, system, supply).si
        assert (found.voltage, found.drop, found.lost) == (supply, 0, 0)
        assert found.flow == pytest.approx(float(plain.flow), rel=1e-9)
        assert found.power == pytest.approx(float(plain.power), rel=1e-9)


@FAST
@given(st.sampled_from(DC), st.floats(0, 20), st.sampled_from(wire_sizes.wire_names("mm2 flexible")), st.floats(0.95, 1.1))
def test_ohm_joule_and_what_is_lost(name, length, wire, part):
    pump = pumps.pump(name)
    system, supply = usual_line(pump), part * pump.si.voltage
    found = wired_pump.si(pump, system, supply, wire=wire, length=length).si
    ohms = wire_sizes.wire_resistance.si(wire, length)
    assert found.resistance == pytest.approx(ohms)
    assert found.drop == pytest.approx(found.current * ohms)
    assert found.voltage + found.drop == pytest.approx(supply)
    assert found.supply_power == pytest.approx(found.power + found.current**2 * ohms)
    perfect = wired_pump.si(pump, system, supply).si
    assert found.flow + found.lost == pytest.approx(perfect.flow)


@pytest.mark.parametrize("name", DC)
def test_more_wire_brings_less_water_until_it_stops(name):
    pump = pumps.pump(name)
    lengths = np.linspace(0, 40, 60)
    found = wired_pump.si(pump, usual_line(pump), pump.si.voltage, wire="0.75 mm2 flexible", length=lengths).si
    assert np.all(np.diff(found.running_voltage) < 0) and np.all(np.diff(found.flow) <= 0)
    stands = found.running_voltage < pump.si.lowest_voltage
    assert np.array_equal(found.flow == 0, stands) and np.array_equal(found.current == 0, stands)


# --- what it says when it will not do --------------------------------------------------------------------------


def test_a_pump_starved_of_voltage_stands_and_says_so():
    pump = pumps.pump("demo 12 V 40 W submersible")
    found = wired_pump(pump, usual_line(pump), "12 V", wire="0.5 mm2 flexible", length="30 m")
    assert "it stops: less voltage arrives" in found.reason and not found.outside
    assert found.flow.magnitude == 0 and found.current.magnitude == 0 and found.lost.magnitude > 0
    assert found.running_voltage < pump.lowest_voltage
    assert found.voltage.m_as("V") == 12  # nothing flows, so nothing is lost on the way
    unknown = pump.replace(lowest_voltage=None)
    nobody = wired_pump(unknown, usual_line(pump), "6 V")
    assert "nobody can say" in nobody.reason and nobody.outside and nobody.flow.magnitude == 0
    assert wired_pump(unknown, usual_line(pump), "7.3 V").flow.magnitude > 0


def test_a_pump_too_weak_for_the_lift_still_draws_current():
    pump = pumps.pump("demo 12 V 5 W submersible")
    found = wired_pump(pump, line_of(1.5, 0.2, last=600 * LH), "12 V", wire="1 mm2 flexible", length="5 m")
    assert found.reason.startswith("too weak") and found.flow.magnitude == 0
    assert found.power.m_as("W") == pytest.approx(3.4 * (found.voltage.m_as("V") / 12) ** 3)  # its shut-off point, by the affinity laws
    # on a sagging battery a lift that it just made is too much: head goes as the square of the voltage, 0.85² × 1.2 m = 0.867 m
    high = line_of(0.9, 0.2, last=600 * LH)
    assert wired_pump(pump, high, "12 V").flow.magnitude > 0
    assert wired_pump(pump, high, "10.2 V").flow.magnitude == 0


def test_guesses_are_marked():
    pump = pumps.pump("demo 12 V 18 W submersible")
    downhill = line_of(-1.0, 0.4, last=1500 * LH)
    assert "beyond the last point" in wired_pump(pump, downhill, "12 V").reason
    short = line_of(0.2, 0.05, last=300 * LH)
    assert "drawn for" in wired_pump(pump, short, "12 V").reason
    charging = wired_pump(pump, usual_line(pump), "14.4 V")
    assert "more voltage" in charging.reason and charging.outside
    assert wired_pump(pump, usual_line(pump), "13.2 V").reason == ""
    frugal = wired_pump(pump.replace(lowest_voltage="5 V"), line_of(0.2, 0.6, last=1500 * LH), "7 V")
    assert "under 60 %" in frugal.reason and frugal.outside and frugal.flow.magnitude > 0
    weak = wired_pump(pump.replace(lowest_voltage="5 V"), line_of(1.5, 0.6, last=1500 * LH), "7 V")
    assert "too weak" in weak.reason and weak.outside


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (
            lambda pump, line: wired_pump(pumps.pump("demo mains 45 W submersible"), line, "12 V"),
            "^'demo mains 45 W submersible' is a mains pump, whose speed does not follow",
        ),
        (lambda pump, line: wired_pump(pump.replace(voltage=None), line, "12 V"), "does not say its voltage"),
        (lambda pump, line: wired_pump(pump.replace(power=None), line, "12 V"), "has no power points"),
        (lambda pump, line: wired_pump(pump, line, "24 V"), "^24 V is far above the 12 V .* burn it"),
        (lambda pump, line: wired_pump(pump, line, "0 V"), "^the supply is 0 V"),
        (lambda pump, line: wired_pump(pump, line, "12 V", resistance="-1 ohm"), "^the resistance is -1 ohm, below zero"),
        (lambda pump, line: wired_pump(pump, line, "12 V", wire="bell wire", length="1 m"), "list of wires has no 'bell wire'"),
        (lambda pump, line: wired_pump(pump, line, "12 V", wire="1 mm2 flexible", length="-1 m"), "length is -1 m"),
    ],
)
def test_what_cannot_be_is_refused_in_plain_words(call, words):
    pump = pumps.pump("demo 12 V 18 W submersible")
    with pytest.raises(DesignError, match=words):
        call(pump, usual_line(pump))


# --- arrays and lines --------------------------------------------------------------------------------------


def test_arrays_are_the_same_as_one_by_one():
    pump = pumps.pump("demo 12 V 18 W submersible")
    lifts = np.array([0.3, 0.8, 1.3, 2.5])
    system, supplies = line_of(lifts, 0.4, last=1500 * LH, spread=0.2), np.array([11.0, 12.0, 12.8])[:, None]
    swept = wired_pump.si(pump, system, supplies, wire="1 mm2 flexible", length=8.0).si
    assert swept.flow.shape == swept.reason.shape == (3, 4)
    for i, volt in enumerate(supplies[:, 0]):
        for j, lift in enumerate(lifts):
            one = wired_pump.si(pump, line_of(lift, 0.4, last=1500 * LH, spread=0.2), float(volt), wire="1 mm2 flexible", length=8.0).si
            for field in ("flow", "flow_low", "flow_high", "voltage", "current", "head", "lost", "supply_power"):
                assert getattr(swept, field)[i, j] == pytest.approx(getattr(one, field), rel=1e-12, abs=1e-15), field
            assert swept.reason[i, j] == one.reason and np.ndim(one.flow) == 0


def test_a_line_serves_as_its_system_curve_and_other_pumps_go_on_it():
    bed = lines.Stretch(name="bed pipe", bore="20.4 mm", length="6 m", fittings={"elbow 90": 3}, to="bed", outlet="1.2 m")
    line = lines.Line(name="main line", source="0.3 m", stretches=(bed,))
    for name in ("demo 12 V 18 W submersible", "demo 24 V 60 W external"):
        pump = pumps.pump(name)
        own = pump.si.voltage
        found = wired_pump(pump, line, own * u.V, wire="0.75 mm2 flexible", length="10 m")
        weaker = pumps.at_voltage(pump, found.voltage)
        assert found.flow.m_as("L/h") == pytest.approx(lines.flows(line, weaker).flow.m_as("L/h"), rel=2e-3)  # a curve of 60 points
        assert found.reason == ""

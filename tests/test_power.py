"""The power supply as a whole: its face, mains, and the way from battery to fish tank."""

import pytest

from aquaplumb import power
from aquaplumb.plumbing import pumps
from aquaplumb.units import Record


def test_every_name_of_the_face_opens_and_says_what_it_is():
    for name in power.__all__:
        thing = getattr(power, name)
        assert name.isupper() or thing.__doc__, name


def test_mains_cost_is_that_of_pumps_and_not_a_second_one():
    assert power.annual_cost is pumps.annual_cost and power.annual_energy is pumps.annual_energy
    # 45 W × 8760 h = 394.2 kWh; at 0.30 a kWh 118.26: by hand
    assert power.annual_energy("45 W").m_as("kWh") == pytest.approx(394.2)
    assert power.annual_cost("45 W", 0.30) == pytest.approx(118.26)


def test_from_battery_to_tank_by_the_pieces():
    heads = [0.8, 0.9, 1.2]
    line = pumps.SystemCurve.from_si(flow=[0, 800 / 3.6e6, 1600 / 3.6e6], low=heads, typical=heads, high=heads)
    point = power.wired_pump(pumps.pump("demo 12 V 18 W submersible"), line, "12 V", wire="1.5 mm2 flexible", length="6 m")
    assert isinstance(point, Record) and point.reason == ""
    # the same drop by the simple function at the current found
    drop = power.voltage_drop("1.5 mm2 flexible", "6 m", point.current)
    assert drop.m_as("V") == pytest.approx(point.drop.m_as("V"))
    assert power.fuse(point.current, wire="1.5 mm2 flexible") >= 1.25 * point.current
    capacity = power.battery_capacity(point.supply_power, "2 d", "12 V")
    here = power.sunshine("40 deg", tilt="55 deg")
    panel = power.panel_size(point.supply_power, here)
    year = power.solar_year(point.supply_power, panel.power, capacity, sun=here, flow=point.flow)
    # the worst month was sized for the dull climate: in a middling one it is short for few hours, if any
    assert year.hours_empty < 0.02 * 8760
    assert year.mean_flow > 0.98 * point.flow

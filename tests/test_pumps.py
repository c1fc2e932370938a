"""Pumps: curves from points, affinity scaling, and files of a maker's points."""

import numpy as np
import pytest

from aquaplumb import pumps, u
from aquaplumb.units import DesignError


def pump_of(flow, head, power=None, **about):
    return pumps.Pump(name="test pump", flow=np.array(flow) * u.L / u.h, head=np.array(head) * u.m,
                      power=None if power is None else np.array(power) * u.W, **about)  # fmt: skip


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


@pytest.mark.parametrize(
    ("flow", "head", "words"),
    [
        ([0, 500, 400], [2, 1, 0], "sort the points"),
        ([0, 500, 500], [2, 1, 0], "twice"),
        ([0, 500, 900], [2, 2, 0], "point 2: the head does not fall"),
        ([0, 500, 900], [2, 2.1, 0], "point 2: the head does not fall"),
        ([0, 900], [2, 0], "too few"),
        ([100, 500, 900], [2, 1, 0], "zero flow"),
        ([0, 500, 900], [2, 1, -0.1], "below zero"),
    ],
)
def test_points_that_make_no_curve_are_refused(flow, head, words):
    with pytest.raises(DesignError, match=words):
        pump_of(flow, head)

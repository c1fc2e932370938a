"""Water hammer against print, the speed of sound in water, and its own limits."""

import numpy as np
import pytest

from aquaplumb import u
from aquaplumb.plumbing import hammer
from aquaplumb.units import DesignError


@pytest.mark.parametrize(
    ("speed", "wave", "metres"),
    [pytest.param(2, 1200, 244.6, id="textbook Joukowsky, a 1200 m/s and 2 m/s lost")],  # printed with g = 9.81
)
def test_hammer_head_in_print(speed, wave, metres):
    assert hammer.hammer_head.si(speed, wave) == pytest.approx(metres, rel=1e-3)


# The handbook's form a = 4660 / sqrt(1 + 300000 (DR - 2) / 400000) ft/s, and AWWA C900's surge for each ft/s lost, are
# both from memory. The handbook takes 300 000 psi for water, we take 318 000 (2.19 GPa at 20 °C): 1.6 % on the speed.
@pytest.mark.parametrize(
    ("dr", "wave", "surge"), [(14, 1474, 19.8), (18, 1292, 17.4), (25, 1091, 14.7)], ids=lambda v: f"AWWA C900, from memory: {v}"
)
def test_wave_speed_by_the_handbook(dr, wave, surge):
    ours = hammer.wave_speed((dr - 2) * u.inch, 1 * u.inch)
    assert ours.m_as("ft/s") == pytest.approx(wave, rel=0.02)
    assert hammer.hammer_pressure(1 * u.ft / u.s, ours).m_as("psi") == pytest.approx(surge, rel=0.02)


@pytest.mark.parametrize(
    ("od", "wall", "wave"),
    [(0.840, 0.109, 630), (1.050, 0.113, 568), (1.315, 0.133, 550), (1.900, 0.145, 473), (2.375, 0.154, 434),
     (3.500, 0.216, 423), (4.500, 0.237, 389)],
    ids=lambda v: f"ASTM D1785 Sch 40, worked separately: {v}",
)  # fmt: skip
def test_wave_speed_of_schedule_40(od, wall, wave):
    assert hammer.wave_speed((od - 2 * wall) * u.inch, wall * u.inch).m_as("m/s") == pytest.approx(wave, rel=2e-3)


def test_a_pipe_that_does_not_give_carries_sound_as_water_does():
    # IAPWS-95, 20 °C: 1482.3 m/s; our fixed stiffness and density of water give it to 0.2 %
    assert hammer.wave_speed.si(0.02, 0.02, modulus=1e18) == pytest.approx(1482.3, rel=2e-3)


@pytest.mark.parametrize(("fahrenheit", "psi"), [(73, 400_000), (100, 352_000), (140, 280_000)], ids=lambda v: f"maker's design table: {v}")
def test_stiffness_of_pvc(fahrenheit, psi):
    assert hammer.pvc_stiffness(u.Quantity(fahrenheit, "degF")).m_as("psi") == pytest.approx(psi, rel=1e-4)


def test_warm_pipe_softens_the_blow():
    waves = hammer.wave_speed.si(0.0266, 0.0034, temperature=np.linspace(280, 330, 11))
    assert np.all(np.diff(waves) <= 0) and waves[-1] < waves[0]


def test_slow_closing():
    wave, length = 550.0, 10.0
    critical = hammer.critical_closure_time.si(length, wave)
    assert critical == pytest.approx(0.03636, rel=1e-3)  # 2 L / a
    times = np.array([0, 0.5, 1, 2, 10]) * critical
    heads = hammer.hammer_head.si(1.5, wave, length=length, closure_time=times)
    full = hammer.hammer_head.si(1.5, wave)
    np.testing.assert_allclose(heads, full / np.array([1, 1, 1, 2, 10]))
    # newton's law on the column of water, slowed evenly: m dv/dt = dp A -> h = L dv / (g t), half of Michaud's
    assert heads[-1] == pytest.approx(2 * length * 1.5 / (9.80665 * times[-1]))
    assert hammer.hammer_head.si(0.0, wave) == 0


def test_pressure_is_head_as_weight_of_water():
    head, pressure = (f("1.5 m/s", "550 m/s") for f in (hammer.hammer_head, hammer.hammer_pressure))
    assert pressure.m_as("kPa") == pytest.approx(head.m_as("m") * 9.789, rel=1e-4)  # 998.2 kg/m³ at 20 °C (IAPWS-97)


def test_refusals():
    with pytest.raises(DesignError, match="wall is not above zero"):
        hammer.wave_speed("25 mm", "0 mm")
    with pytest.raises(DesignError, match="0 to 60 °C"):
        hammer.pvc_stiffness("90 degC")
    with pytest.raises(DesignError, match="needs the pipe's length"):
        hammer.hammer_head("1 m/s", "500 m/s", closure_time="1 s")
    with pytest.raises(DesignError, match="modulus"):
        hammer.wave_speed("25 mm", "2 mm", modulus="0 kPa")

"""The flow that each need asks for, against worked chains and mass balances."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from aquaplumb import DesignError, fish, u, water
from aquaplumb.fish import circulation

FAST = settings(max_examples=60, deadline=None, derandomize=True)
MG = 1e-3  # kg/m³
some = st.floats(1e-8, 1e-2)


# --- published and recomputed -------------------------------------------------------------------

# The worked chain for 20 kg of fish on 200 g/d at 25 °C, recomputed by others: printed to the litre


@pytest.mark.parametrize("peak, litres", [(1.0, 833), (1.4, 1167)])
def test_oxygen_flow_of_the_worked_chain(peak, litres):
    demand = peak * fish.fish_oxygen.si(0.2 / 86400)
    found = circulation.oxygen_flow.si(demand, inlet=7.5 * MG, outlet=5 * MG) * 3.6e6
    assert found == pytest.approx(litres, abs=0.6)


@pytest.mark.parametrize("removal, litres", [(0.5, 500), (0.3, 833)])
def test_ammonia_flow_of_the_worked_chain(removal, litres):
    found = circulation.ammonia_flow(6 * u.g / u.day, limit=1 * u.mg / u.L, removal=removal)
    assert found.m_as("L/h") == pytest.approx(litres, abs=0.6)


def test_carbon_dioxide_flow_of_the_worked_chain():
    production = fish.carbon_dioxide_production(50 * u.g / u.day)
    found = circulation.carbon_dioxide_flow(production, inlet=5 * u.mg / u.L, limit=15 * u.mg / u.L)
    assert found.m_as("L/h") == pytest.approx(286, abs=1)


def test_timer_flood_of_a_bed():
    # 135 L of flood water in 15 minutes of each hour needs 540 L/h while it runs (recomputed by others)
    assert 135 / circulation.duty("15 min", "45 min") == pytest.approx(540)


@pytest.mark.parametrize("litres, pump", [(500, 1200), (1000, 2000), (1500, 2500), (2000, 3200), (3000, 4500)])
def test_fao_quick_table_pumps_turn_the_tank_one_to_four_times(litres, pump):
    # FAO 589 quick-design table (from memory): its pumps are 1.5 to 2.4 tank volumes an hour from 500 L up
    low, high = (circulation.turnover_flow.si(litres / 1000, n / 3600) * 3.6e6 for n in (1.5, 2.4))
    assert low <= pump <= high


def test_large_systems_flow_for_a_kilogram_of_feed():
    # FAO's 2,000 L/h for 200 g/d is 240 m³ for a kilogram of feed (recomputed by others): the mean over a day
    per_feed = circulation.turnover_flow(1000 * u.L, 2 / u.hour) / (200 * u.g / u.day)
    assert per_feed.m_as("m³/kg") == pytest.approx(240)


def test_rakocy_uvi_volumes_and_make_up():
    # Rakocy et al., UVI commercial-scale system: parts of 110.9 m³ in all, 1.5 % a day of make-up is 1.65 to 1.66 m³/d
    volume = 4 * 7.8 + 2 * 3.8 + 4 * 0.7 + 0.7 + 6 * 11.3 + 0.6 + 0.2
    found = circulation.turnover_flow(volume * u.m**3, 1.5 * u.percent / u.day)
    assert 1.65 <= found.m_as("m³/d") <= 1.665


# --- identities and cross-checks ----------------------------------------------------------------


@FAST
@given(some, st.floats(0.1, 5), st.floats(0.05, 1))
def test_a_mixed_tank_settles_at_the_ammonia_limit(production, limit, removal):
    # the balance solved through time: V dC/dt = P − η Q C, from clean water
    flow = circulation.ammonia_flow.si(production, limit=limit * MG, removal=removal)
    volume = removal * flow * 3600.0  # a time constant of an hour
    end = solve_ivp(
        lambda t, c: (production - removal * flow * c) / volume, (0, 20 * 3600), [0.0], rtol=1e-8, atol=1e-15, method="LSODA"
    ).y[0, -1]
    assert end == pytest.approx(limit * MG, rel=1e-5)


@FAST
@given(some, st.floats(0.5, 4), st.floats(4.1, 9))
def test_oxygen_balance_closes(demand, outlet, inlet):
    flow = circulation.oxygen_flow.si(demand, inlet=inlet * MG, outlet=outlet * MG)
    assert flow * inlet * MG == pytest.approx(demand + flow * outlet * MG)


@FAST
@given(some, st.floats(0, 10), st.floats(10.5, 40))
def test_carbon_dioxide_balance_closes(production, inlet, limit):
    flow = circulation.carbon_dioxide_flow.si(production, inlet=inlet * MG, limit=limit * MG)
    assert flow * inlet * MG + production == pytest.approx(flow * limit * MG)


def test_warm_high_water_asks_for_more_flow():
    demand = 50 * u.g / u.day
    sea = water.oxygen_saturation(20 * u.degC)
    hill = water.oxygen_saturation(28 * u.degC, altitude=1500 * u.m)
    outlet = 5 * u.mg / u.L
    flows = [circulation.oxygen_flow(demand, inlet=inlet, outlet=outlet).m for inlet in (sea, hill)]
    assert flows[1] > 2 * flows[0]  # 9.09 − 5 against 6.5 − 5 mg/L, by the Benson and Krause table


# --- the door -----------------------------------------------------------------------------------

REFUSED = [
    (lambda: circulation.oxygen_flow("50 g/d", inlet="5 mg/L", outlet="5 mg/L"), "aerate"),
    (lambda: circulation.oxygen_flow("50 g/d", inlet="4 mg/L", outlet="5 mg/L"), "4 mg/L"),
    (lambda: circulation.carbon_dioxide_flow("50 g/d", inlet="20 mg/L", limit="15 mg/L"), "splash"),
    (lambda: circulation.ammonia_flow("6 g/d", limit="1 mg/L", removal=50), "0 to 1"),
    (lambda: circulation.ammonia_flow("6 g/d", limit="1 mg/L", removal=0), "no flow can reach"),
    (lambda: circulation.ammonia_flow("6 g/d", limit="0 mg/L", removal=0.5), "no flow can reach"),
    (lambda: circulation.duty("0 min", "45 min"), "15 on"),
    (lambda: circulation.duty("15 min", "-5 min"), "0 or more"),
    (lambda: circulation.turnover_flow("1000 L", "2 L/h"), "turnovers"),
    (lambda: circulation.ammonia_flow(6, limit="1 mg/L", removal=0.5), "production"),
]


@pytest.mark.parametrize("ask, says", REFUSED, ids=[str(n) for n in range(len(REFUSED))])
def test_what_cannot_be_is_refused_in_words(ask, says):
    with pytest.raises(DesignError, match=says):
        ask()


def test_no_need_no_flow_and_no_pause_no_change():
    assert circulation.oxygen_flow("0 g/d", inlet="8 mg/L", outlet="5 mg/L").m == 0
    assert circulation.duty("15 min", "0 min") == 1


def test_arguments_broadcast():
    demand = np.linspace(0, 1e-6, 4)[:, None]
    flow = circulation.oxygen_flow.si(demand, inlet=8 * MG, outlet=np.array([4, 5, 6]) * MG)
    assert flow.shape == (4, 3)
    with pytest.raises(DesignError, match="4 to 9 mg/L"):
        circulation.oxygen_flow.si(1e-6, inlet=8 * MG, outlet=np.array([4, 9]) * MG)

"""The outside values that hold the library, in one table: number, source, tolerance; and where the rest is checked.

A row is a value that somebody outside the project printed or reckoned. What a whole reference library checks over its
range (gsw, IAPWS, PHREEQC, pvlib, scipy) has a test of its own; `ELSEWHERE` names it and sees that it is still there.
"""

import ast
from pathlib import Path

import numpy as np
import pytest

from aquaplumb import fish, tables, water
from aquaplumb.fish import beds
from aquaplumb.units import DAY
from aquaplumb.water import startup

ZERO = 273.15


def of_20_degrees(celsius):
    """The nitrification rate over that of 20 °C."""
    return beds.nitrification_rate.si(celsius + ZERO).si.typical / beds.nitrification_rate.si(20 + ZERO).si.typical


def ohms_a_thousand_feet(name):
    return tables.row("wires", name).resistance.m_as("ohm/m") * 304.8


TABLE = [
    ("oxygen, 20 °C", lambda: water.oxygen_saturation("20 degC").m_as("mg/L"), 9.092, 0.002, "Benson and Krause 1984; APHA 4500-O"),
    ("oxygen, 32 °C", lambda: water.oxygen_saturation("32 degC").m_as("mg/L"), 7.305, 0.002, "APHA 4500-O, textbook cell"),
    ("oxygen, sea water", lambda: water.oxygen_saturation("20 degC", salinity="3.5 %").m_as("mg/L"), 7.396, 0.005, "Benson and Krause 1984, 35 g/kg"),
    ("density, 25 °C", lambda: water.density("25 degC").m_as("kg/m³"), 997.05, 0.01, "IAPWS-95, one atmosphere"),
    ("viscosity, 20 °C", lambda: water.dynamic_viscosity("20 degC").m_as("mPa s"), 1.0016, 0.0005, "IAPWS R12-08"),
    ("ammonia share, pH 8, 24 °C", lambda: water.unionised_fraction(8.0, "24 degC"), 0.0502, 5e-5, "UF/IFAS FA-16, worked example"),
    ("ammonia share, pH 8.6, 28 °C", lambda: water.unionised_fraction(8.6, "28 degC"), 0.2178, 6e-5, "UF/IFAS FA-16, table"),
    ("sodium bicarbonate for 10 mg/L in 1 m³", lambda: water.base_needed("10 mg/L", "1 m3", "NaHCO3").m_as("g"), 16.8, 0.05, "PHREEQC: 167.9 mg/L gives 2.00 meq/L"),
    ("surface, tilapia", lambda: beds.nitrifying_area("100 g/d", beds.nitrification_rate("28 degC").typical).m_as("m²"), 185.8, 1.0, "SRAC 282, 0.05 g/ft²/d"),
    ("bacteria at 1 °C", lambda: of_20_degrees(1), 0.18, 0.051, "Hoang et al. 2014, Water Research 49, 215"),
    ("bacteria, 15 to 25 °C, growth", lambda: startup.growth_warmth("25 degC").first / startup.growth_warmth("15 degC").first, 2.59, 0.005, "Vannecke and Volcke 2015"),
    ("bacteria, a degree at 20 °C, film", lambda: of_20_degrees(21), 1.04275, 1e-4, "Zhu and Chen 2002"),
    ("bacteria, 35 over 30 °C", lambda: of_20_degrees(35) / of_20_degrees(30), 9.5 / 11.5, 0.06, "asterbio.com 35769, doubling times"),
    ("nitrate, warm-water fish, as N", lambda: fish.waste_limits("common carp").nitrate.m_as("mg/L"), 90, 0.5, "Valdez et al. 1992; FAO 589, 400 mg/L as NO3"),
    ("un-ionised ammonia, trout", lambda: fish.waste_limits("rainbow trout").unionised.m_as("mg/L"), 0.025, 1e-6, "Environment Agency, salmonid waters"),
    ("un-ionised ammonia, carp", lambda: fish.waste_limits("common carp").unionised.m_as("mg/L"), 0.050, 1e-6, "Environment Agency, cyprinid waters"),
    ("wire, AWG 14", lambda: ohms_a_thousand_feet("AWG 14 stranded"), 3.14, 0.005, "NEC chapter 9 table 8, 75 °C"),
    ("wire, AWG 10", lambda: ohms_a_thousand_feet("AWG 10 stranded"), 1.24, 0.005, "NEC chapter 9 table 8, 75 °C"),
    ("wire, 2.5 mm²", lambda: tables.row("wires", "2.5 mm2 stranded").resistance.m_as("ohm/km"), 7.41, 0.005, "IEC 60228 class 2, 20 °C"),
]  # fmt: skip


@pytest.mark.parametrize("ours, printed, tolerance", [pytest.param(*row[1:4], id=f"{row[0]}: {row[4]}") for row in TABLE])
def test_the_table_of_outside_values(ours, printed, tolerance):
    assert float(ours()) == pytest.approx(printed, abs=tolerance)


@pytest.mark.parametrize("celsius", [3, 24, 33])
def test_a_start_by_scipys_lsoda(celsius):
    """The equations of `dosed_start`'s docstring written out again, in the cold, in warmth and past the best temperature."""
    from scipy.integrate import solve_ivp

    t, best = celsius + ZERO, 29 + ZERO
    fall = 1 - (max(t - best, 0) / 13) ** 2
    warm = [fall * np.exp(energy / 8.314462618 * (1 / 293.15 - 1 / min(t, best))) for energy in (68e3, 44e3)]
    fade = 0.11 * 1.08 ** (min(t, best) - 293.15)

    def rates(_, y):
        first, second = 0.76 * warm[0] * y[0] / (1 + y[0]) * y[3], 0.81 * warm[1] * y[1] / (1.3 + y[1]) * y[4]
        a, b = first / 0.33, second / 0.083
        return [1.0 - a, a - b, b, first - fade * y[3], second - fade * y[4]]

    days = np.arange(31)
    other = solve_ivp(rates, (0, 30), [0, 0, 0, 0.02, 0.005], method="LSODA", rtol=1e-9, atol=1e-11, t_eval=days).y
    run = startup.stocked_start.si(1e-3 / DAY, 1.0, first_share=1.0, ramp=0.0, temperature=t, days=30 * DAY, pace=1.0).si
    for ours, theirs in ((run.tan, other[0]), (run.nitrite, other[1]), (run.nitrate, other[2])):
        assert np.interp(days * DAY, run.time, ours) * 1e3 == pytest.approx(theirs, abs=2e-3 * max(theirs))


ELSEWHERE = {
    "oxygen, gsw": "test_water.py::test_oxygen_matches_gsw",
    "density, viscosity, vapour pressure, IAPWS": "test_water.py::test_properties_match_the_iapws_library",
    "ammonia share, UF/IFAS FA-16": "test_water.py::test_unionised_fraction_matches_uf_ifas_fa_16",
    "ammonia share, PHREEQC": "test_water.py::test_unionised_fraction_matches_phreeqc_in_pure_water",
    "carbon dioxide, PHREEQC": "test_water.py::test_carbon_dioxide_matches_phreeqc",
    "bases, PHREEQC": "test_dosing.py::test_ph_at_once_matches_phreeqc",
    "start, scipy's stiff solver": "test_startup.py::test_fish_load_matches_scipys_stiff_solver",
    "start, LSODA by others": "test_startup.py::test_two_step_regression_at_20_degrees_recomputed_by_others",
    "clear sky, pvlib": "test_solar.py::test_clear_days_match_pvlib_with_its_own_sun",
    "heat of evaporation, IAPWS-97": "test_heat.py::test_heat_of_evaporation_is_that_of_iapws_97",
}


@pytest.mark.parametrize("place", ELSEWHERE.values(), ids=ELSEWHERE)
def test_what_is_checked_elsewhere_still_is(place):
    file, name = place.split("::")
    there = ast.parse((Path(__file__).parent / file).read_text(encoding="utf-8"))
    assert name in {one.name for one in there.body if isinstance(one, ast.FunctionDef)}

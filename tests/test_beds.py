"""Beds, media and their weight, against print and geometry."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aquaplumb import DesignError, fish, tables, u, water
from aquaplumb.fish import beds

FAST = settings(max_examples=60, deadline=None, derandomize=True)
GRAMS_A_DAY = 1e-3 / 86400


# --- published ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "feed, ratio, area",
    [
        pytest.param("1000 g/d", "60 g/m2/d", 16.7, id="Rakocy 2007, Ten guidelines"),
        pytest.param("200 g/d", "50 g/m2/d", 4.0, id="FAO 589 §8.1 worked example (from memory)"),
        pytest.param("23.3 kg/d", "109 g/m2/d", 214, id="UVI system, 214 m² of rafts"),
    ],
)
def test_growing_area_of_worked_examples(feed, ratio, area):
    assert beds.growing_area(feed, ratio).m_as("m²") == pytest.approx(area, rel=0.003)  # printed rounding


def test_a_week_of_lettuce_turned_back_to_fish():
    # FAO 589 §8.1 (from memory, the sum recomputed): 25 heads a week for 4 weeks at 25 a square metre -> 4 m² ->
    # 200 g/d at 50 g/m²/d -> 10 to 20 kg of fish at 2 to 1 %/d
    area = 100 / 25 * u.m**2
    assert beds.plant_count(area, 25 / u.m**2) == pytest.approx(100)
    for kilograms, rate in ((10, 2), (20, 1)):
        feed = fish.daily_feed(kilograms * u.kg, rate * u.percent / u.day)
        assert beds.growing_area(feed, 50 * u.g / u.m**2 / u.day).m_as("m²") == pytest.approx(area.m)


def test_srac_282_biofilter_example():
    # SRAC 282 (the method and rates read, 66 ft²/ft³ and the results from memory): 1,000 lb of tilapia give 100 g
    # NH3-N a day; at 0.05 g/ft²/d that is 2,000 ft² (185.8 m²), in pall rings of 66 ft²/ft³ 30 ft³
    area = beds.nitrifying_area("100 g/d", "0.05 g/ft2/d")
    assert area.m_as("ft²") == pytest.approx(2000)
    assert area.m_as("m²") == pytest.approx(185.8, rel=1e-3)
    assert beds.media_volume(area, "66 ft2/ft3").m_as("ft³") == pytest.approx(30, rel=0.02)
    rings = tables.row("media", "pall rings 25 mm").surface_typical
    assert rings.m_as("ft²/ft³") == pytest.approx(66, rel=0.01)


def test_fao_589_appendix_4_example():
    # FAO 589 App. 4 (from memory, the sum recomputed), all of it as NH3: 7.5 g/d at 0.57 g/m²/d -> 13.2 m² ->
    # 44 L of tuff at 300, 22 L of bioballs at 600 m²/m³. On the N basis the area is the same.
    area = beds.nitrifying_area("7.5 g/d", "0.57 g/m2/d")
    assert area.m_as("m²") == pytest.approx(13.2, abs=0.05)
    assert beds.media_volume(area, "300 m2/m3").m_as("L") == pytest.approx(44, rel=0.01)
    assert beds.media_volume(area, "600 m2/m3").m_as("L") == pytest.approx(22, rel=0.01)
    to_n = water.as_nitrogen.si(1.0, "NH3")
    both_as_n = beds.nitrifying_area(7.5 * to_n * u.g / u.day, 0.57 * to_n * u.g / u.m**2 / u.day)
    assert both_as_n.m == pytest.approx(area.m)


def test_the_nitrogen_basis_trap():
    # Ammonia as N over a rate as NH3 comes out a fifth short (14.007/17.031): the typical rate here is as N.
    typical = beds.nitrification_rate(24 * u.degC).typical.m_as("g/m²/d")  # the middle of FAO 589's 18 to 30 °C
    assert typical == pytest.approx(0.57 * 14.007 / 17.031, abs=0.005)


@pytest.mark.parametrize("feed, tuff, balls", [(50, 50, 25), (100, 100, 50), (200, 200, 100), (400, 400, 200), (600, 600, 300)])
def test_media_by_rule_matches_the_fao_quick_table(feed, tuff, balls):
    # FAO 589 quick-design table (from memory; each row agrees with 1 L of tuff or 0.5 L of bioballs for a gram)
    assert beds.media_volume_by_rule(feed * u.g / u.day).m_as("L") == pytest.approx(tuff)
    assert beds.media_volume_by_rule(feed * u.g / u.day, specific_surface="600 m2/m3").m_as("L") == pytest.approx(balls)


def test_the_rule_is_several_times_the_calculated_minimum():
    # Recomputed by others: 1 L of tuff for a gram implies 0.10 g TAN/m²/d, about five times under a typical rate
    feed = 200 * GRAMS_A_DAY
    rule = beds.media_volume_by_rule.si(feed)
    tan = fish.ammonia_production.si(feed, 0.32)
    assert tan / (rule * 300) / GRAMS_A_DAY == pytest.approx(0.10, abs=0.005)
    least = beds.media_volume.si(beds.nitrifying_area.si(tan, beds.nitrification_rate.si(293.15).si.typical), 300.0)
    assert 4 < rule / least < 6


@pytest.mark.parametrize(
    "millimetres, void, surface",
    [
        pytest.param(1, 0.344, 3936, id="Timmons, Holder and Ebeling, 1 mm beads"),
        pytest.param(8, 0.40, 450, id="expanded clay 8 mm"),
        pytest.param(16, 0.40, 225, id="expanded clay 16 mm"),
        pytest.param(12, 0.40, 300, id="12 mm, FAO's 300"),
        pytest.param(20, 0.40, 180, id="gravel 20 mm"),
        pytest.param(0.8, 0.40, 4500, id="sand 0.8 mm"),
    ],
)
def test_surface_of_spheres(millimetres, void, surface):
    assert beds.sphere_surface(millimetres * u.mm, void).m_as("m²/m³") == pytest.approx(surface, rel=1e-6)


def test_nitrification_band_against_srac_282():
    # SRAC 282, tank culture of tilapia (28 °C): 0.02 to 0.10 g/ft²/d = 0.215 to 1.08 g/m²/d (seen)
    band = beds.nitrification_rate(28 * u.degC)
    assert band.low.m_as("g/ft²/d") == pytest.approx(0.02)
    assert band.high.m_as("g/ft²/d") == pytest.approx(0.10)
    # its worked example: 1,000 lb of tilapia, 10 g of ammonia for 100 lb a day, 0.05 g/ft²/d: 2,000 ft² (from memory)
    assert beds.nitrifying_area("100 g/d", band.typical).m_as("ft²") == pytest.approx(2000, rel=0.01)


def test_nitrification_band_against_the_florida_slides():
    # Florida A&M slides, trickling filters: 0.2 to 1.0 g/m²/d at 15 to 20 °C, 1.0 to 2.0 above 25 °C
    cool = beds.nitrification_rate(15 * u.degC).high.m_as("g/m²/d")
    warm = beds.nitrification_rate(27 * u.degC).high.m_as("g/m²/d")
    assert 0.2 < cool < 1.0 < warm < 2.0


def _typical(celsius):
    return beds.nitrification_rate.si(celsius + 273.15).si.typical


def test_nitrification_and_temperature_of_vannecke_and_volcke_2015():
    # Ea 68 kJ/mol: 1.100 for a degree near 20 °C, so 2.69 from 10 to 20 °C; here up to 20 °C
    assert _typical(19.8) / _typical(18.8) == pytest.approx(1.101, abs=1e-3)
    assert _typical(20) / _typical(10) == pytest.approx(np.exp(68e3 / 8.314 * (1 / 283.15 - 1 / 293.15)), rel=1e-4)


def test_nitrification_in_the_cold():
    # Hoang et al. 2014, Water Research 49, 215: 18 ± 5.1 % of the rate of 20 °C after long exposure to 1 °C
    assert _typical(1) / _typical(20) == pytest.approx(0.18, abs=0.051)
    assert _typical(0) == _typical(1)  # held: nobody measured colder
    # Speece 1973, from 5 to 22.5 °C: 0.05368 t − 0.0859 g/m²/d (quoted in an Aqua-L letter of 1998); its shape, to a quarter
    for t in (5, 10, 15):
        assert _typical(t) / _typical(20) == pytest.approx((0.05368 * t - 0.0859) / (0.05368 * 20 - 0.0859), rel=0.25)


def test_nitrification_in_warm_water():
    # Zhu and Chen 2002: 4.275 % for a degree at 20 °C with little ammonia; 1.1 % with little oxygen
    assert 1.011 < _typical(21) / _typical(20) == pytest.approx(1.04275)
    # the most at 28 to 29 °C in a biofilter (Water Science and Technology 30(11) 1994, 121)
    warmest = max(range(41), key=_typical)
    assert warmest in (28, 29)
    # doubling times of 7 to 12 h at 30 °C and 8 to 15 h at 35 °C, a sharp fall from 40 °C (asterbio.com)
    assert _typical(35) / _typical(30) == pytest.approx(9.5 / 11.5, abs=0.06)
    assert _typical(40) < 0.5 * _typical(35)


@pytest.mark.parametrize(
    "weight, area, load, unit",
    [
        pytest.param(1000, 1.0, 9.80665, "kN/m²", id="1 m³ of water on 1 m²: 9.807 kPa for a metre"),
        pytest.param(196, 1.0, 40, "psf", id="40 psf is 196 mm of water"),
        pytest.param(25.4, 1.0, 5.2, "psf", id="5.2 psf for an inch of water"),
    ],
)
def test_floor_load_of_water(weight, area, load, unit):
    unit = {"psf": "pound_force/foot**2"}.get(unit, unit)
    assert beds.floor_load(weight * u.kg, area * u.m**2).m_as(unit) == pytest.approx(load, rel=5e-3)


# --- identities ---------------------------------------------------------------------------------


@FAST
@given(st.floats(0, 1e-3), st.floats(1e-9, 1e-5), st.floats(50, 5000))
def test_area_and_media_give_back_the_load(ammonia, rate, surface):
    area = beds.nitrifying_area.si(ammonia, rate)
    assert beds.media_volume.si(area, surface) * surface * rate == pytest.approx(ammonia)


# --- the tables ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", tables.names("media"))
def test_each_medium_is_in_order(name):
    row = tables.row("media", name).si
    assert 0 < row.surface_low <= row.surface_typical <= row.surface_high
    assert 0 < row.void_low <= row.void_typical <= row.void_high < 1
    assert 0 < row.bulk_density_low <= row.bulk_density_typical <= row.bulk_density_high
    # no heap of grains weighs more than rock less its voids
    assert row.bulk_density_high <= 2800 * (1 - row.void_low)
    assert row.basis in tables.BASES and row.source


@pytest.mark.parametrize(
    "name, millimetres",
    [("expanded clay 8-16 mm", (16, 8)), ("limestone gravel 20-25 mm", (25, 20)), ("coarse sand 0.8 mm", (0.8, 0.8))],
)
def test_surface_of_grains_lies_near_the_sphere_formula(name, millimetres):
    row = tables.row("media", name).si
    coarse, fine = (beds.sphere_surface.si(d / 1000, row.void_typical) for d in millimetres)
    assert coarse * 0.9 <= row.surface_typical <= fine * 1.1


@pytest.mark.parametrize("name", tables.names("crops"))
def test_each_crop_is_in_order_and_in_its_groups_band(name):
    row = tables.row("crops", name).si
    low, high = {"leafy": (40, 50), "fruiting": (50, 80)}[row.group]  # FAO 589 §2.1.4 and §8.1, g/m²/d
    assert row.feed_per_area_low == pytest.approx(low * GRAMS_A_DAY)
    assert row.feed_per_area_high == pytest.approx(high * GRAMS_A_DAY)
    assert row.feed_per_area_low <= row.feed_per_area_typical <= row.feed_per_area_high
    assert row.spacing_low <= row.spacing_typical <= row.spacing_high
    assert 0.1 < row.root_depth <= 0.3
    assert row.basis in tables.BASES and row.source


# --- the door -----------------------------------------------------------------------------------

REFUSED = [
    (lambda: beds.growing_area("200 g/d", "0 g/m2/d"), "50 g/m2/d"),
    (lambda: beds.growing_area("200 g", "50 g/m2/d"), "feed"),
    (lambda: beds.nitrifying_area("6 g/d", "0 g/m2/d"), "0.4 g/m2/d"),
    (lambda: beds.media_volume("15 m2", "0 m2/m3"), "300 m2/m3"),
    (lambda: beds.media_volume("15 m2", "300 L"), "specific_surface"),
    (lambda: beds.nitrification_rate("-3 degC"), "0 to 40 °C"),
    (lambda: beds.nitrification_rate("50 degC"), "0 to 40 °C"),
    (lambda: beds.floor_load("700 kg", "0 m2"), "area"),
    (lambda: tables.row("media", "expanded clay"), "expanded clay 8-16 mm"),
    (lambda: tables.row("crops", "letuce"), "lettuce"),
]


@pytest.mark.parametrize("ask, says", REFUSED, ids=[str(n) for n in range(len(REFUSED))])
def test_what_cannot_be_is_refused_in_words(ask, says):
    with pytest.raises(DesignError, match=says):
        ask()


def test_no_feed_needs_no_bed():
    assert beds.growing_area("0 g/d", "50 g/m2/d").m == 0
    assert beds.media_volume_by_rule("0 g/d").m == 0


def test_arguments_broadcast():
    band = beds.nitrification_rate.si(np.linspace(280, 305, 5)[:, None])
    area = beds.nitrifying_area.si(np.array([1e-7, 2e-7, 0.0]), band.si.typical)
    assert beds.media_volume.si(area, 300.0).shape == (5, 3)
    assert np.all(area[:, 2] == 0)


# --- what was added to the tables, against print --------------------------------------------------------


@pytest.mark.parametrize(
    "name, field, printed, tolerance",
    [
        pytest.param("moving-bed carrier 10 mm", "surface_low", 350, 1, id="Ødegaard et al. 2000: 350 m²/m³ of reactor at 70 % filling"),
        pytest.param("moving-bed carrier 10 mm", "surface_typical", 350 / 0.7, 1, id="Ødegaard et al. 2000, heaped"),
        pytest.param("moving-bed carrier 25 mm", "surface_typical", 150 / 0.3048, 10, id="a maker's page: 150 ft²/ft³"),
        pytest.param("perlite 3-6 mm", "bulk_density_typical", 105, 1, id="Front. Plant Sci. 5:625 (2014), Table 4"),
    ],
)
def test_media_against_print(name, field, printed, tolerance):
    assert getattr(tables.row("media", name).si, field) == pytest.approx(printed, abs=tolerance)


@pytest.mark.parametrize("name", ["lava 8-16 mm", "lava 16-32 mm", "perlite 3-6 mm", "expanded shale 10-20 mm", "zeolite 8-16 mm", "crushed brick 10-20 mm",
                                  "river pebbles 20-40 mm"])  # fmt: skip
def test_the_band_of_grains_is_that_of_spheres_of_both_ends(name):
    row = tables.row("media", name).si
    fine, coarse = (float(d) / 1000 for d in name.split()[-2].split("-"))
    void = {"lava": 0.5, "perlite": 0.5, "river": 0.4}.get(name.split()[0], 0.45)
    assert row.surface_low == pytest.approx(6 * (1 - void) / coarse, rel=0.02) and row.surface_high == pytest.approx(
        6 * (1 - void) / fine, rel=0.02
    )


def test_balls_are_counted_by_their_largest_kind_at_the_low_end():
    # large balls of 38 mm have 160 to 200 m²/m³ on trade sheets, from memory
    assert tables.row("media", "bioballs").surface_low.m_as("m²/m³") <= 200

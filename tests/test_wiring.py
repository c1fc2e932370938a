"""Low-voltage wire against the printed tables of two standards, closed forms and the rules for fuses."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aquaplumb import tables, u
from aquaplumb.power import wire_choice, wire_sizes
from aquaplumb.units import DesignError

FAST = settings(max_examples=40, deadline=None, derandomize=True)
ROOM, HOT = 293.15, 348.15
FOOT = 0.3048
AWG, MM2 = wire_sizes.wire_names("AWG"), wire_sizes.wire_names("mm2")

# --- published: the tables ----------------------------------------------------------------------------

# NEC chapter 9, table 8: uncoated copper at 75 °C, ohm per 1000 ft (read in a reprint)
NEC_STRANDED = {18: 7.95, 16: 4.99, 14: 3.14, 12: 1.98, 10: 1.24, 8: 0.778, 6: 0.491, 4: 0.308}
NEC_SOLID = {18: 7.77, 16: 4.89, 14: 3.07, 12: 1.93, 10: 1.21, 8: 0.764}
# IEC 60228: plain copper at 20 °C, ohm/km (read in two cable makers' reprints)
CLASS_5 = {"0.5": 39.0, "0.75": 26.0, "1": 19.5, "1.5": 13.3, "2.5": 7.98, "4": 4.95, "6": 3.30, "10": 1.91, "16": 1.21}
CLASS_2 = {"1": 18.1, "1.5": 12.1, "2.5": 7.41, "4": 4.61, "6": 3.08, "10": 1.83, "16": 1.15}


@pytest.mark.parametrize(
    "name, per_1000_ft",
    [(f"AWG {g} stranded", r) for g, r in NEC_STRANDED.items()] + [(f"AWG {g} solid", r) for g, r in NEC_SOLID.items()],
    ids=lambda value: f"NEC chapter 9 table 8, {value}" if isinstance(value, str) else "",
)
def test_american_sizes_match_nec_table_8(name, per_1000_ft):
    # 1000 ft of one conductor is a run of 500 ft; the table keeps five digits of the converted value
    assert wire_sizes.wire_resistance.si(name, 500 * FOOT, temperature=HOT) == pytest.approx(per_1000_ft, rel=5e-5)


@pytest.mark.parametrize(
    "name, per_km",
    [(f"{a} mm2 flexible", r) for a, r in CLASS_5.items()] + [(f"{a} mm2 stranded", r) for a, r in CLASS_2.items()],
    ids=lambda value: f"IEC 60228, {value}" if isinstance(value, str) else "",
)
def test_metric_sizes_match_iec_60228(name, per_km):
    assert wire_sizes.wire_resistance.si(name, 500.0, temperature=ROOM) == pytest.approx(per_km, rel=1e-12)


@pytest.mark.parametrize("name", AWG)
def test_american_areas_match_astm_b258(name):
    gauge = int(name.split()[1])  # ASTM B258: d = 0.127 mm × 92^((36 − n) / 39); from memory, a closed form
    assert wire_sizes.wire(name).area.m_as("mm**2") == pytest.approx(np.pi / 4 * (0.127 * 92 ** ((36 - gauge) / 39)) ** 2, rel=0.005)


@pytest.mark.parametrize("name", AWG + MM2)
def test_resistance_fits_the_area_of_copper(name):
    # IEC 60028: standard annealed copper has 1/58 ohm mm²/m at 20 °C. Twist, and the standards' allowance, add up to 18 %
    # (thin flexible sizes most). A solid wire is printed right on it.
    ohm = wire_sizes.wire_resistance.si(name, 0.5, temperature=ROOM) * wire_sizes.wire(name).area.m_as("mm**2")
    assert 0.985 < ohm * 58 < (1.02 if "solid" in name else 1.18)


def test_nec_note_to_table_8_for_other_temperatures():
    # NEC chapter 9 table 8, note 2: R2 = R1 (1 + 0.00323 (t − 75)), for copper
    for t in (20, 30, 60, 90):
        found = wire_sizes.wire_resistance.si("AWG 12 stranded", 500 * FOOT, temperature=t + 273.15)
        assert found == pytest.approx(1.98 * (1 + 0.00323 * (t - 75)), rel=2e-4)


# IEC 60228's factors that turn a value at t into one at 20 °C, as a cable maker reprints them
KT = {5: 1.064, 10: 1.042, 15: 1.020, 20: 1.000, 25: 0.980, 30: 0.962, 40: 0.926, 50: 0.893, 60: 0.862, 70: 0.833, 80: 0.806, 90: 0.781}


@pytest.mark.parametrize("t", KT, ids=lambda t: f"IEC 60228 correction at {t} °C")
def test_temperature_matches_iec_60228_factors(t):
    # that list rounds copper's coefficient to 0.004 (1 / (1 + 0.004 (t − 20))): 0.4 % off at 90 °C
    ratio = wire_sizes.wire_resistance.si("2.5 mm2 flexible", 1.0, temperature=ROOM) / wire_sizes.wire_resistance.si(
        "2.5 mm2 flexible", 1.0, temperature=t + 273.15
    )
    assert ratio == pytest.approx(KT[t], rel=0.005)


# NEC table 310.15(B)(1), 60 °C column, at the top of each band; IEC 60364-5-52 table B.52.14, PVC: the formula as reprinted, its values from memory
NEC_AMBIENT = {30: 1.00, 35: 0.91, 40: 0.82, 45: 0.71, 50: 0.58, 55: 0.41, 60: 0.0}
IEC_AMBIENT = {30: 1.00, 35: 0.94, 40: 0.87, 45: 0.79, 50: 0.71, 55: 0.61, 60: 0.50}


@pytest.mark.parametrize("t", NEC_AMBIENT, ids=lambda t: f"NEC 310.15(B)(1), IEC 60364-5-52 B.52.14, {t} °C")
def test_a_wire_bears_less_where_it_is_hot(t):
    # both tables are rounded to two figures
    for name, table in (("AWG 14 stranded", NEC_AMBIENT), ("2.5 mm2 stranded", IEC_AMBIENT)):
        share = wire_sizes.wire_rating.si(name, air=t + 273.15) / wire_sizes.wire(name).si.rating
        assert share == pytest.approx(table[t], abs=0.006)
    assert wire_sizes.wire_rating.si("AWG 14 stranded", air=263.15) == 15  # cooler gives no more than the largest fuse


def test_a_wire_in_the_sun_is_a_wire_in_hotter_air():
    # NEC 2020, 310.15(B)(2): + 33 K (60 °F) for what lies on a roof; its worked reprint: 90 °F become 150 °F, nothing left for 60 °C wire
    fahrenheit = lambda f: (f - 32) / 1.8 + 273.15  # noqa: E731
    on_roof = wire_sizes.wire_rating.si("2.5 mm2 stranded", air=300.0, place="on a hot roof")
    assert on_roof == pytest.approx(wire_sizes.wire_rating.si("2.5 mm2 stranded", air=300.0 + 60 / 1.8), rel=0.02)
    assert wire_sizes.wire_rating.si("AWG 8 stranded", air=fahrenheit(90), place="on a hot roof") == 0
    # NEC 2008, table 310.15(B)(2)(c): + 17 K, 3½ to 12 in over it
    assert wire_sizes.wire_rating.si("AWG 8 stranded", air=303.15, place="in the sun") == wire_sizes.wire_rating.si(
        "AWG 8 stranded", air=320.15
    )
    with pytest.raises(DesignError, match="in the shade, in the sun, on a hot roof; it was given as 'outside'"):
        wire_sizes.wire_rating("AWG 8 stranded", place="outside")
    # 10 A ask for a 15 A fuse: AWG 14 bears that in 30 °C, in 45 only 10.6
    assert wire_choice.smallest_wire("1 m", "10 A", "24 V", make="AWG stranded").name == "AWG 14 stranded"
    assert wire_choice.smallest_wire("1 m", "10 A", "24 V", make="AWG stranded", air="45 degC").name == "AWG 10 stranded"


# --- published: drops, recomputed from those tables --------------------------------------------------------

# 12 V, 5 A, 5 m one way, 75 °C, by hand from NEC table 8: gauge: drop V, %, longest run for 3 % in m
TWELVE_VOLT = {
    18: (1.304, 10.9, 1.38),
    16: (0.819, 6.8, 2.20),
    14: (0.515, 4.3, 3.49),
    12: (0.325, 2.7, 5.54),
    10: (0.203, 1.7, 8.85),
    8: (0.128, 1.1, 14.1),
}


@pytest.mark.parametrize("gauge", TWELVE_VOLT, ids=lambda g: f"by hand from NEC table 8, AWG {g}")
def test_drop_share_by_hand(gauge):
    name = f"AWG {gauge} stranded"
    drop, percent, run = TWELVE_VOLT[gauge]
    assert wire_choice.voltage_drop(name, "5 m", "5 A").m_as("V") == pytest.approx(drop, abs=6e-4)
    assert 100 * wire_choice.drop_share(name, "5 m", "5 A", "12 V") == pytest.approx(percent, abs=0.06)
    assert wire_choice.drop_share(name, run * u.m, "5 A", "12 V") == pytest.approx(0.03, rel=0.004)


@pytest.mark.parametrize(
    "area, percent",
    [("0.75", 10.8), ("1.5", 5.5), ("2.5", 3.3), ("4", 2.1), ("6", 1.4)],
    ids=lambda v: f"by hand from IEC 60228 class 5: {v}",
)
def test_drop_share_of_flexible_wire_by_hand(area, percent):
    assert 100 * wire_choice.drop_share(f"{area} mm2 flexible", "5 m", "5 A", "12 V", temperature="20 degC") == pytest.approx(
        percent, abs=0.06
    )


def test_twice_the_voltage_quarters_the_share():
    # the same 60 W at 24 V draws 2.5 A: 0.83 % in 2.5 mm², by hand
    assert 100 * wire_choice.drop_share("2.5 mm2 flexible", "5 m", "2.5 A", "24 V", temperature="20 degC") == pytest.approx(0.83, abs=0.005)


def test_a_slip_found_in_print():
    # 25 A over 50 ft of AWG 10: 2 × 50 ft × 1.24 ohm/1000 ft × 25 A = 3.1 V; one published tool says 1.5 V (it forgets the way back)
    assert wire_choice.voltage_drop("AWG 10 stranded", "50 ft", "25 A").m_as("V") == pytest.approx(3.1, rel=1e-3)


# --- identities -------------------------------------------------------------------------------------------


@FAST
@given(
    st.floats(0, 12),
    st.floats(0, 15),
    st.sampled_from(["AWG stranded", "AWG solid", "mm2 flexible", "mm2 stranded"]),
    st.sampled_from([12.0, 24.0]),
)
def test_smallest_wire_is_the_first_that_will_do(length, current, make, volt):
    def will_do(name):
        return (
            wire_sizes.wire(name).si.rating >= wire_choice.fuse.si(current)
            and wire_choice.drop_share.si(name, length, current, volt) <= 0.03
        )

    able = [name for name in wire_sizes.wire_names(make) if will_do(name)]
    if not able:
        with pytest.raises(DesignError, match="even the thickest"):
            wire_choice.smallest_wire.si(length, current, volt, make=make)
    else:
        assert wire_choice.smallest_wire.si(length, current, volt, make=make).name == able[0]


@pytest.mark.parametrize("make", ["AWG stranded", "AWG solid", "mm2 flexible", "mm2 stranded"])
def test_thicker_wire_resists_less_and_bears_no_less(make):
    rows = [wire_sizes.wire(name).si for name in wire_sizes.wire_names(make)]
    at20 = [wire_sizes.wire_resistance.si(row.name, 1.0, temperature=ROOM) for row in rows]
    assert np.all(np.diff([row.area for row in rows]) > 0) and np.all(np.diff(at20) < 0)
    assert np.all(np.diff([row.rating for row in rows]) >= 0)


# --- the fuse ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "load, size", [(0, 1), (0.8, 1), (0.81, 2), (4, 5), (4.01, 7.5), (5, 7.5), (6, 7.5), (8, 10), (16, 20), (24, 30), (80, 100)]
)
def test_the_next_blade_fuse_above_125_percent(load, size):
    # ISO 8820-3 sizes and 125 % of a continuous load (NEC 210.20), both from memory
    assert wire_choice.fuse.si(float(load)) == size


# NEC 240.4(D), read in reprints: the largest fuse for small copper sizes
@pytest.mark.parametrize("gauge, limit", [(18, 7), (16, 10), (14, 15), (12, 20), (10, 30)], ids=lambda v: f"NEC 240.4(D): {v}")
def test_ratings_match_nec_240_4_d(gauge, limit):
    for make in ("solid", "stranded"):
        assert wire_sizes.wire(f"AWG {gauge} {make}").rating.m_as("A") == limit


# BS 7671 table 4F3A, flexible cords, single-phase or DC, read in a supplier's reprint
@pytest.mark.parametrize(
    "area, limit", [("0.5", 3), ("0.75", 6), ("1", 10), ("1.5", 16), ("2.5", 25), ("4", 32)], ids=lambda v: f"BS 7671 table 4F3A: {v}"
)
def test_ratings_match_bs_7671_4f3a(area, limit):
    assert wire_sizes.wire(f"{area} mm2 flexible").rating.m_as("A") == limit


@pytest.mark.parametrize("name", AWG + MM2)
def test_no_fuse_above_the_wires_rating(name):
    rating = wire_sizes.wire(name).si.rating
    fitting = max(size for size in wire_choice.FUSES if size <= rating)
    assert wire_choice.fuse.si(fitting / 1.25, wire=name) == fitting
    with pytest.raises(DesignError, match="take a thicker wire, never a fuse above"):
        wire_choice.fuse.si(1.02 * fitting / 1.25, wire=name) if fitting < 100 else wire_choice.fuse(101 * u.A, wire=name)


# --- the door ---------------------------------------------------------------------------------------------


def test_arrays_broadcast_and_zero_is_fine():
    lengths, currents = np.array([0.0, 2, 5])[:, None], np.array([0.0, 1, 5, 10])
    drops = wire_choice.voltage_drop("AWG 14 solid", lengths * u.m, currents * u.A)
    assert drops.shape == (3, 4) and np.all(drops.magnitude[0] == 0) and np.all(drops.magnitude[:, 0] == 0)
    assert drops.magnitude[2, 3] == pytest.approx(wire_choice.voltage_drop.si("AWG 14 solid", 5.0, 10.0))
    assert wire_choice.fuse(currents * u.A).magnitude.tolist() == [1, 2, 7.5, 15]
    assert wire_sizes.wire_resistance("1 mm2 flexible", 3 * u.m, temperature=[20, 75] * u.degC).shape == (2,)
    assert wire_choice.drop_share.si(tables.row("wires", "1 mm2 flexible"), 3.0, 2.0, 12.0) > 0  # a row serves as well as a name


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: wire_sizes.wire("AWG 15 stranded"), "did you mean AWG 1"),
        (lambda: wire_sizes.wire_names("aluminium"), "no wire called 'aluminium'; say AWG or mm2"),
        (lambda: wire_sizes.wire_names("AWG flexible"), "no wire called 'AWG flexible'; AWG comes solid"),
        (lambda: wire_sizes.wire_resistance("AWG 14 solid", "-1 m"), "length is -1 m, below zero"),
        (lambda: wire_sizes.wire_resistance("AWG 14 solid", "1 m", temperature="200 degC"), "temperature is 200 °C"),
        (lambda: wire_choice.voltage_drop("AWG 14 solid", "1 m", "-1 A"), "current is -1 A, below zero"),
        (lambda: wire_choice.drop_share("AWG 14 solid", "1 m", "1 A", "0 V"), "voltage is 0 V"),
        (lambda: wire_choice.smallest_wire("1 m", "1 A", "12 V", share=3), "share of the supply to lose is 3"),
        (lambda: wire_choice.voltage_drop("AWG 14 solid", "1 m", "5 W"), "a power; it needs a current such as 4 A"),
        (lambda: wire_choice.fuse("90 A"), "^90 A needs a fuse above 100 A; that is work for an electrician"),
        (lambda: wire_choice.smallest_wire("100 m", "20 A", "12 V"), "even the thickest wire in the list, 16 mm2 flexible"),
        (lambda: wire_choice.fuse("2 A", wire=wire_sizes.wire("1 mm2 flexible").replace(rating=None)), "^nobody has written down"),
    ],
)
def test_what_cannot_be_is_refused_in_plain_words(call, words):
    with pytest.raises(DesignError, match=words):
        call()

"""Units: the parser against known conversions, the door, and records."""

import inspect
import pickle
import subprocess
import sys
from pathlib import Path

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aquaplumb import kinds, load
from aquaplumb.plumbing import pipes as _pipes
from aquaplumb.units import (
    BORE,
    DEPTH,
    FLOW,
    KINDS,
    LENGTH,
    NUMBER,
    TEMPERATURE,
    Bore,
    DesignError,
    Flow,
    Head,
    Length,
    Number,
    Record,
    Temperature,
    quantity,
    rounded,
    show,
    takes_quantities,
    u,
)
from aquaplumb.workshop.cut_list import tape


@pytest.mark.parametrize(
    ("text", "si", "unit"),
    [
        pytest.param("1000 L", 1.0, "m³", id="SI brochure: 1 L = 1 dm³"),
        pytest.param("1 1/2 in", 0.0381, "m", id="NIST SP 811: 1 in = 25.4 mm"),
        pytest.param("1½ in", 0.0381, "m", id="NIST SP 811, vulgar fraction"),
        pytest.param('3/4"', 0.01905, "m", id="NIST SP 811, inch mark"),
        pytest.param("1 gal", 3.785411784e-3, "m³", id="NIST SP 811: US gallon"),
        pytest.param("1 impgal", 4.54609e-3, "m³", id="NIST SP 811: imperial gallon"),
        pytest.param("1 gpm", 6.30902e-5, "m³/s", id="NIST SP 811: US gal/min"),
        pytest.param("20 kg/m3", 20.0, "kg/m³", id="definition"),
        pytest.param("1 lb/gal", 119.8264, "kg/m³", id="NIST SP 811: lb/gal"),
        pytest.param("24 degC", 297.15, "K", id="definition of °C"),
        pytest.param("75 °F", 297.0388889, "K", id="NIST SP 811: °F"),
        pytest.param("1 psi", 6894.757, "Pa", id="NIST SP 811: psi"),
        pytest.param("40 psf", 1915.2104, "Pa", id="NIST SP 811: lbf/ft²"),
        pytest.param("1.5 %/d", 0.015 / 86400, "1/s", id="definition"),
        pytest.param("50 g/m2/d", 0.05 / 86400, "kg/m²/s", id="definition"),
        pytest.param("-0.7 m", -0.7, "m", id="below the zero mark"),
        pytest.param("\u22120.7 m", -0.7, "m", id="a typeset minus"),
        pytest.param(".5 m", 0.5, "m", id="no leading nought"),
        pytest.param("5e3 l/h", 5 / 3600, "m³/s", id="small l, exponent"),
    ],
)
def test_text_is_read(text, si, unit):
    assert quantity(text).to(unit).magnitude == pytest.approx(si, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1,5 L", "1.5 L"),
        ("1,000 L", "leave it out"),
        ("9**9**9 L", "not a unit"),
        ("__import__('os') L", "number"),
        ("1 L; import os", "not a unit"),
        ("L", "number"),
        ("3", "no unit"),
        ("", "number"),
        ("3 frogs", "frogs"),
        ("3 ppm", "mg/L"),
        ("3 m**99", "not a unit"),
        ("3 L/", "no unit after"),
        ("1/0 in", "zero"),
        ("nan m", "number"),
        ("inf m", "number"),
        ("1e99 m m", "m"),
        ("1" * 50 + " m", "unit"),
        ("1 m" + " " * 100 + "x", "characters"),
        (5, "no unit"),
        (None, "no unit"),
        (True, "no unit"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(text, says):
    with pytest.raises(DesignError) as told:
        quantity(text, BORE)
    assert says in str(told.value)
    assert "\n" not in str(told.value)
    assert len(str(told.value)) < 250


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.text(max_size=80))
def test_no_text_at_all_breaks_the_parser(text):
    try:
        found = quantity(text)
    except DesignError:
        return
    assert np.isfinite(found.to_base_units().magnitude)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.floats(1e-6, 1e6), st.sampled_from([k for k in KINDS]), st.sampled_from(["metric", "US"]))
def test_what_is_shown_comes_back(value, kind, system):
    assert kind.from_shown(kind.shown(value, system), system) == pytest.approx(value, rel=1e-9)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.floats(1e-3, 1e5), st.sampled_from([k for k in KINDS if k is not TEMPERATURE]), st.sampled_from(["metric", "US"]))
def test_what_a_person_reads_can_be_typed_again(value, kind, system):
    """Within the three figures that are shown (scale the value to the kind's own unit first)."""
    si = kind.from_shown(value, system)
    again = quantity(kind.text(si, system).replace(",", ""), kind)
    near = 0.0254 / 32 if kind.tape and system == "US" else 0.0  # half a sixteenth of an inch, as a tape is read
    assert (again.m_as(kind.quantity(1.0).units) if kind is not NUMBER else again.m_as("")) == pytest.approx(si, rel=6e-3, abs=1.01 * near)


@pytest.mark.parametrize(
    ("kind", "inches", "text"),
    [
        (LENGTH, 38.3125, "3 ft 2 5/16 in"),
        (DEPTH, 1.75, "1 3/4 in"),
        (DEPTH, 0.3125, "5/16 in"),
        (DEPTH, 0.02, "0.02 in"),  # no tape shows it
        (LENGTH, -6.0, "-6 in"),
        (LENGTH, 12.0 * 1900, "1,900 ft"),  # no tape is so long
        (LENGTH, 11.99, "1 ft"),
        (LENGTH, 0.0, "0 ft"),
        (BORE, 1.049, "1.05 in"),  # print has bores in decimals
    ],
)
def test_a_length_in_us_units_is_written_as_on_a_tape(kind, inches, text):
    assert kind.text(0.0254 * inches, "US") == text  # by hand; 1 in = 25.4 mm, NIST SP 811


@pytest.mark.parametrize(
    ("number", "text"),
    [(1511.3, "1,510"), (2.374, "2.37"), (0.0, "0"), (-0.25, "-0.25"), (3.0, "3"), (12345, "12,300"), (0.00001234, "1.23e-05")],
)
def test_rounding_is_to_three_figures(number, text):
    assert rounded(number) == text


@takes_quantities
def speed_head(flow: Flow, bore: Bore, *, k: Number = 1.0, temperature: Temperature | None = None, length: Length = 2.0) -> Head:
    return k * flow / bore + (0.0 if temperature is None else temperature) + length


def test_the_door_converts_and_wraps():
    head = speed_head(900 * u.L / u.h, "25 mm")
    assert head.to("m").magnitude == pytest.approx(900 / 3.6e6 / 0.025 + 2)
    assert speed_head.si(900 / 3.6e6, 0.025) == pytest.approx(head.to("m").magnitude)
    assert speed_head(900 * u.L / u.h, 25 * u.mm, k="50 %").magnitude == pytest.approx(2.005)
    assert speed_head(np.array([900, 1800]) * u.L / u.h, 25 * u.mm).magnitude == pytest.approx([2.01, 2.02])


@pytest.mark.parametrize(
    ("given_flow", "says"),
    [
        (900 * u.L, "speed_head: flow is 900 L, a volume; it needs a flow such as 900 L/h."),
        (900, "speed_head: flow is 900, with no unit; it needs a flow such as 900 L/h."),
        (float("nan") * u.L / u.h, "speed_head: flow is not a finite number; it needs a flow such as 900 L/h."),
        ("900 frogs", "frogs"),
    ],
)
def test_the_door_refuses_in_the_builders_words(given_flow, says):
    with pytest.raises(DesignError, match=None) as told:
        speed_head(given_flow, 25 * u.mm)
    assert says in str(told.value)


def test_a_wrong_call_says_how_it_is_used():
    with pytest.raises(TypeError, match=r"speed_head\(flow, bore, \*, k=…, temperature=…, length=…\), with a name before each"):
        speed_head(1 * u.L / u.h)


class Spot(Record):
    flow: Flow
    head: Head = 1.0
    name: str = ""


def test_a_record_holds_quantities_outside_and_numbers_inside():
    spot = Spot(flow="900 L/h", name="here")
    assert spot.flow.to("L/h").magnitude == pytest.approx(900)
    assert (spot.si.head, spot.si.name) == (1.0, "here")
    assert spot.replace(head="2 ft").si.head == pytest.approx(0.6096)
    assert pickle.loads(pickle.dumps(spot)) == spot
    assert hash(spot) == hash(Spot(flow="900 L/h", name="here"))
    assert "900 L/h" in repr(spot)


def test_a_record_refuses_what_it_does_not_have():
    with pytest.raises(DesignError, match="has no 'bore'"):
        Spot(flow="900 L/h", bore="1 in")
    with pytest.raises(DesignError, match="needs flow"):
        Spot(head="1 m")
    with pytest.raises(DesignError, match="a volume"):
        Spot(flow="900 L")
    with pytest.raises(AttributeError, match="does not change"):
        Spot(flow="900 L/h").flow = 3
    with pytest.raises(AttributeError, match="has no 'colour'"):
        _ = Spot(flow="900 L/h").colour


def test_kinds_read_well():
    assert FLOW.text(0.00042) == "1,510 L/h"
    assert FLOW.text(0.00042, "US") == "399 gal/h"
    assert TEMPERATURE.text(297.15, "US") == "75.2 °F"


def test_a_notebook_shows_a_mistake_as_one_sentence():
    nbformat, nbclient = pytest.importorskip("nbformat"), pytest.importorskip("nbclient")
    cell = nbformat.v4.new_code_cell("from aquaplumb import fish, u\nfish.daily_feed(900 * u.L, '1 %/d')")
    book = nbformat.v4.new_notebook(cells=[cell])
    nbclient.NotebookClient(book, allow_errors=True, kernel_name="python3").execute()
    [output] = book.cells[0].outputs
    assert output.traceback == ["✖ daily_feed: biomass is 900 L, a volume; it needs a mass such as 20 kg."]


# --- records: equality, display, tables -------------------------------------------------------------------


class Curve(Record):
    """Points of a curve."""

    flow: Flow
    head: Head
    name: str = "mine"
    fittings: dict = {}


def curve(*flow, **more):
    return Curve.from_si(flow=np.array(flow), head=np.linspace(1.0, 0.0, len(flow)), **more)


def test_records_are_equal_by_every_number_in_them():
    many = np.linspace(0.0, 1.0, 2000)
    other = many.copy()
    other[1000] += 1e-6  # where a printed array shows three dots
    assert Curve.from_si(flow=many, head=0.0) != Curve.from_si(flow=other, head=0.0)
    assert curve(0.1) != curve(0.1 + 1e-10)
    assert curve(0.1, 0.2) != curve(0.1, 0.2, 0.3)
    assert curve(0.1, 0.2) == curve(0.1, 0.2)
    assert curve(0.1, fittings={"elbow": 1, "tee": 2}) == curve(0.1, fittings={"tee": 2, "elbow": 1})
    assert curve(np.nan, 0.1) == curve(np.nan, 0.1)
    assert curve(0.1) != "curve"


def test_a_record_with_an_array_has_no_hash():
    with pytest.raises(TypeError, match="unhashable"):
        hash(curve(0.1, 0.2))
    one, two = (Curve.from_si(flow=0.1, head=1.0, fittings={"elbow": 2}) for _ in range(2))
    assert len({one, two}) == 1


def test_a_records_bare_numbers_are_as_frozen_as_the_record():
    with pytest.raises(AttributeError, match=r"with_si\(flow=…\)"):
        curve(0.1).si.flow = 0.2
    with pytest.raises(AttributeError, match="does not change"):
        del curve(0.1).si.flow
    assert curve(0.1).with_si(name="yours").si.name == "yours"


def test_numbers_and_arrays_are_shown_alike():
    record = curve(0.0, 1140 / 3.6e6, 2270 / 3.6e6)
    assert "flow=[0 1,140 2,270] L/h" in repr(record) and "head=[1 0.5 0] m" in repr(record)
    assert "flow=[0 301 600] gal/h" in show(record, "US")  # 1140 L / 3.785411784 L
    assert FLOW.text(np.linspace(0, 1, 50)).startswith("[0 ") and "50 in all" in FLOW.text(np.linspace(0, 1, 50))
    assert "<td>[0 1,140 2,270] L/h</td>" in record._repr_html_()
    assert "&lt;b&gt;" in curve(0.1, name="<b>")._repr_html_()


def test_a_record_becomes_a_table_with_units_in_its_heads():
    frame = curve(0.0, 1140 / 3.6e6).frame()
    assert list(frame.columns) == ["flow [L/h]", "head [m]", "name", "fittings"]
    assert frame["flow [L/h]"].tolist() == pytest.approx([0, 1140]) and frame["name"].tolist() == ["mine", "mine"]
    assert curve(0.0, 1140 / 3.6e6).frame("US")["flow [gal/h]"].iloc[1] == pytest.approx(301.16, abs=0.01)
    assert len(Curve.from_si(flow=0.1, head=1.0).frame()) == 1


def test_show_speaks_in_either_system():
    assert show(quantity("900 L/h")) == "900 L/h" and show(quantity("900 L/h"), "US") == "238 gal/h"
    assert show(quantity("3 %")) == "3 %" and show(quantity("45 deg")) == "45 deg"
    with pytest.raises(DesignError, match="metric and US"):
        show(quantity("900 L/h"), "imperial")


def test_the_signature_and_the_docstring_say_what_a_record_holds():
    assert list(inspect.signature(Curve).parameters) == ["flow", "head", "name", "fittings"]
    assert "flow : a flow [m³/s]" in inspect.getdoc(Curve)


# --- beside other libraries -------------------------------------------------------------------------------


def test_nobody_elses_registry_is_touched():
    code = (
        "import pint; before = pint.get_application_registry().get(); import aquaplumb;"
        "assert pint.get_application_registry().get() is before and before is not aquaplumb.u"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(__file__).parents[1])


def test_quantities_of_another_registry_are_converted():
    other = pint.UnitRegistry()
    assert speed_head("900 L/h", 25 * other.mm).m_as("m") == pytest.approx(speed_head("900 L/h", "25 mm").m_as("m"), rel=1e-12)
    assert speed_head(other.Quantity(15.0, "liter/minute"), "25 mm").m_as("m") == pytest.approx(
        speed_head("900 L/h", "25 mm").m_as("m"), rel=1e-12
    )
    with pytest.raises(DesignError, match="flow is 3 kilogram.*a mass; it needs a flow|flow is 3 kg, a mass"):
        speed_head(3 * other.kg, "25 mm")
    other.define("bucketful = 9.5 liter")
    with pytest.raises(DesignError, match="bucketful.*in a unit that I do not know"):
        speed_head(other("1 bucketful/minute"), "25 mm")


def test_lists_of_texts_are_lists():
    assert speed_head(["900 L/h", 1800 * u.L / u.h], "25 mm").m.shape == (2,)


@pytest.mark.parametrize("unit", ["m3/h", "gph", "gpm", "lpm", "kWh/m2/d", "ft3/min", "psf", "mg/L", "%", "m²/m³", "degC"])
def test_what_is_read_can_be_asked_for(unit):
    read = quantity(f"2 {unit}")
    assert read.to(unit).magnitude == pytest.approx(2.0)


def test_a_quantity_comes_back_to_our_registry_and_a_kernel_to_itself():
    assert isinstance(pickle.loads(pickle.dumps(900 * u.L / u.h)), type(u.m * 1))
    assert pickle.loads(pickle.dumps(_pipes.speed.si)) is _pipes.speed.si


def test_a_part_of_a_hundred_is_no_angle():
    with pytest.raises(DesignError, match="1.5 %, a plain number"):
        speed_head("1.5 %", "25 mm")


def test_every_kind_and_its_annotation_can_be_reached():
    made = {n for n, v in vars(kinds).items() if isinstance(v, kinds.Kind) or kinds.Kind in map(type, getattr(v, "__metadata__", ()))}
    assert made <= set(kinds.__all__)


# --- feet and inches, as a tape is read -------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("3 ft 2 in", 965.2),
        ("3' 2\"", 965.2),
        ("3′ 2″", 965.2),
        ("3' 2''", 965.2),
        ("3ft2in", 965.2),
        ("3 feet 2 inches", 965.2),
        ("5 ft 6 1/2 in", 1689.1),
        ("5'6½\"", 1689.1),
        ("1 ft 2.5 in", 368.3),
        ("-1 ft 6 in", -457.2),
        ("20 ft 0 in", 6096.0),
    ],
)
def test_feet_and_inches_are_read_as_a_tape_says_them(text, millimetres):
    # NIST SP 811: 1 ft = 304.8 mm, 1 in = 25.4 mm; by hand
    assert quantity(text, LENGTH).m_as("mm") == pytest.approx(millimetres, rel=1e-12)


def test_what_the_sheet_prints_for_a_tape_can_be_typed_again():
    for sixteenths in range(1, 16 * 12 * 9, 7):
        length = sixteenths * 25.4e-3 / 16
        assert quantity(tape(length, "US"), LENGTH).m_as("m") == pytest.approx(length, rel=1e-9)


def test_a_build_file_takes_feet_and_inches():
    build = load("courtyard").changed({("vessels", "fish tank", "diameter"): "4 ft 7 1/8 in", ("air", "depth"): "1' 11 5/8\""})
    assert build.vessels["fish tank"].si.diameter == pytest.approx(55.125 * 0.0254)
    assert build.air.si.depth == pytest.approx(23.625 * 0.0254)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("3 ft 14 in", "12 inches or more beside its feet; .*such as 5 ft 6 in"),
        ("3 ft 2", "2 what\\? Write 3 ft 2 in"),
        ("3.5 ft 2 in", "write whole feet, then inches, such as 5 ft 6 1/2 in"),
        ("1/2 ft 2 in", "write whole feet"),
        ("3 ft 2 cm", "write whole feet"),
        ("3 ft 1/0 in", "divides by zero"),
        ("3 m 20 cm", "two amounts, in m and in cm; write one number and one unit"),
        ("12 in 3 ft", "two amounts, in in and in ft"),
    ],
)
def test_a_wrong_mixture_gets_one_sentence(text, words):
    with pytest.raises(DesignError, match=words) as refused:
        quantity(text, LENGTH)
    assert "\n" not in str(refused.value)
    with pytest.raises(DesignError, match="it needs a flow"):
        quantity("3 ft 2 in", FLOW)

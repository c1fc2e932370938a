"""Every public function, given whatever a program or a person can give: a right answer in finite numbers, or one sentence.

The functions come from the front door's table and what is odd of a quantity from its kind, so that new ones fall under this
by themselves.
"""

import inspect

import numpy as np
import pytest

import aquaplumb
from aquaplumb import air, lines, power, u
from aquaplumb.build import load
from aquaplumb.kinds import NEVER_NEGATIVE
from aquaplumb.units import DesignError, Flow, Length, Number, endless, pint_unit, quantity, takes_quantities

PUMP, WIRE = "demo mains 45 W submersible", "2.5 mm2 flexible"
BED = lines.Stretch(name="bed", bore="26 mm", length="3 m", valve="ball valve", to="bed", outlet="1.2 m")
LINE = lines.Line(name="main line", source="0.3 m", stretches=[BED])
CURVE = lines.system_curve(LINE, np.linspace(0, 2000, 30) * u.L / u.h)
YARD = load("courtyard")
SOUND = {
    "line": LINE, "pump": PUMP, "system": CURVE, "pumps": [PUMP], "build": YARD, "old": YARD, "new": YARD, "size": "25 mm", "standard": "PN16",
    "kind": "ball valve", "name": "elbow 90", "fittings": ["elbow 90"], "wire": WIRE, "base": "baking soda", "form": "NO3", "species": "Nile tilapia",
    "end": "bed", "openings": {"bed": 0.5}, "supply": "12 V", "path": "none.csv", "sun": power.sunshine("45 deg"), "reynolds": 1000.0, "seed": 1,
    "budget": air.OxygenBudget(volume="1000 L", use="3 g/h", inflow="1000 L/h", inflow_oxygen="8 mg/L"),
    "vessel": YARD.vessels["sump"], "temperature": "24 degC", "air": "10 degC", "lowest": "12 degC", "outside": "10 degC", "log": "courtyard-spring",
}  # fmt: skip
ODD = {
    "text": "demo…", "nothing": None, "a dict": {"a": 1}, "a list": [1, 2], "three": [1, 2, 3] * u.L / u.h, "a number": 7.5, "an object": object(),
    "bytes": b"x", "empty": [], "blank": "", "a class": dict, "true": True, "false": False, "rows": np.ones((2, 3)), "mixed": (1, "a"),
    "a build": YARD, "nan": np.nan, "no end": np.inf, "minus no end": -np.inf, "complex": 1 + 2j, "400 digits": 10**400, "400 letters": "9" * 400,
    "objects": np.array([object(), None]), "mixed objects": np.array([1, "a"], object), "empty array": np.array([]), "empty lengths": [] * u.m,
    "no length": np.nan * u.m, "complex length": (1 + 2j) * u.m, "400 digits long": 10**400 * u.m, "truths": [True, False],
    "array of truths": np.array([True]), "largest": 1e308, "array of bytes": np.array([b"a"]), "negative": -5.0, "zero": 0, "least": 1e-320,
    "days": np.array(["2026-01-01"], "datetime64[D]"), "a set": {1, 2}, "a function": lambda flow: flow, "rows of two lengths": [[1], [1, 2]],
}  # fmt: skip
OF_ITS_KIND = [
    True, np.nan, np.inf, 1 + 1j, np.ones((2, 3)), np.array([]), 0.0, -1.0, 1e300, 1e-300, np.array([None, 1], object), np.array([True, False]),
    10**400, np.array([1.0, 2.0]),
]  # fmt: skip
LONG = {"simulate", "comparison", "sweep", "sheet", "parts_list", "review"}  # each call is a whole run; their doors are the same
FOR_AUTHORS = {"units", "findings", "figures", "whatif", "quiz"}  # kinds, doors and bare kernels, called by code
BARE = {"factor_and_slope"}  # bare numbers in and out, for solvers


def public():
    """(name, function) of every function of the public face."""
    for room in aquaplumb._MODULES.keys() - FOR_AUTHORS:
        module = getattr(aquaplumb, room)
        for name in getattr(module, "__all__", vars(module)):
            one = getattr(module, name)
            ours = getattr(one, "__module__", "").startswith("aquaplumb.") and (
                hasattr(module, "__all__") or one.__module__ == module.__name__
            )
            if (
                ours
                and inspect.isfunction(one)
                and not name.startswith("_")
                and name not in LONG | BARE | {"table_type", "unknown", "folder"}
            ):
                yield f"{room}.{name}", one


PUBLIC = dict(sorted(public()))


def test_the_public_face_is_there():
    assert len(PUBLIC) > 150


def odd(kind):
    """What is given: of no kind, and where a quantity is meant odd ones of its kind."""
    yield from ODD.values()
    if kind is not None and kind.si:
        yield from (u.Quantity(np.asarray(one) if one is True else one, pint_unit(kind.si)) for one in OF_ITS_KIND)


def finite(answer, function) -> bool:
    """A number, quantity or array holds finite numbers only; one without end is right where the function says so."""
    number = getattr(answer, "magnitude", answer)
    if not isinstance(number, (float, complex, np.ndarray, np.number)):
        return True
    array = np.asarray(number)
    if array.dtype.kind in "cO":
        return False
    without_end = getattr(getattr(function, "si", None), "endless", False)
    return array.dtype.kind != "f" or bool(np.all(~np.isnan(array) if without_end else np.isfinite(array)))


def is_truth(value) -> bool:
    """True, False, or several of them, with a unit or without."""
    held = getattr(value, "magnitude", value)
    return not isinstance(held, (str, bytes, dict, set)) and np.ndim(held) <= 1 and held is not None and is_bool(held)


def is_bool(held) -> bool:
    if isinstance(held, (list, tuple)):
        return bool(held) and all(isinstance(one, bool) for one in held)
    return isinstance(held, bool) or getattr(getattr(held, "dtype", None), "kind", "") == "b"


@pytest.mark.sweep(125)
@pytest.mark.parametrize("name", PUBLIC)
def test_whatever_is_given_ends_as_right_or_as_one_sentence(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    function, kinds = PUBLIC[name], getattr(PUBLIC[name], "kinds", {})
    parameters = inspect.signature(function).parameters
    base = {
        p: SOUND.get(p, kinds[p].example if p in kinds and kinds[p].si else 0.4)
        for p, one in parameters.items()
        if one.default is one.empty
    }
    for parameter in parameters:
        for given in odd(kinds.get(parameter)):
            case = f"{parameter} = {as_text(given)}"
            try:
                answer = function(**{**base, parameter: given})
            except DesignError as refused:
                said = str(refused)
                assert said.strip() and said.isprintable() and len(said) <= 300, (case, said)
            except Exception as raw:
                pytest.fail(f"{case}: {type(raw).__name__}: {raw}")
            else:
                assert finite(answer, function), (case, answer)
                assert parameter not in kinds or not is_truth(given), (case, answer)


@pytest.mark.parametrize("name", PUBLIC)
def test_less_than_nothing_of_what_cannot_be_less_is_refused(name):
    """A time, a mass, an area or an amount in water; `dose_days` of -3 was taken for a run without a dose."""
    function = PUBLIC[name]
    parameters, kinds = inspect.signature(function).parameters, getattr(function, "kinds", {})
    base = {
        p: SOUND.get(p, kinds[p].example if p in kinds and kinds[p].si else 0.4)
        for p, one in parameters.items()
        if one.default is one.empty
    }
    base |= (
        {"end": "400 g"}
        if name == "fish.measured_growth"
        else {"pump": "demo mains 4 W air pump"}
        if name.startswith("air.") and "pump" in base
        else {}
    )
    for parameter, kind in kinds.items():
        if kind in NEVER_NEGATIVE:
            for given in (-quantity(kind.example, kind), quantity(kind.example, kind) * np.array([1.0, -1.0])):
                with pytest.raises(DesignError, match=rf"{function.__name__}: {parameter} is -.*, below zero"):
                    function(**{**base, parameter: given})


def as_text(given) -> str:
    """A value for a message: 400 digits of a quantity cannot be shown."""
    return f"{type(given).__name__} {str(getattr(given, 'magnitude', given))[:40]}"


@takes_quantities
def shared(flow: Flow, bore: Length) -> Number:
    """One over the other.

    flow: Any.
    bore: Any.
    """
    return flow / bore


def test_what_has_no_finite_answer_is_refused_with_the_values():
    for zero in (u.Quantity(0.0, "m"), np.array([1.0, 0.0]) * u.m):
        with pytest.raises(DesignError, match=r"^shared: there is no answer in finite numbers for flow 1.* bore .*; give other values\."), np.errstate(all="ignore"):  # fmt: skip
            shared("1 m3/s", zero)
    assert shared("1 m3/s", "2 m") == 0.5


@takes_quantities
@endless
def lasting(amount: Number, use: Number) -> Number:
    """How long it lasts.

    amount: Any.
    use: Any.
    """
    return np.divide(amount, use)


def test_an_answer_without_end_is_said_to_be_one_and_what_is_no_number_is_none():
    with np.errstate(all="ignore"):
        assert lasting(1.0, np.array([0.0, 2.0])).tolist() == [np.inf, 0.5]
        with pytest.raises(DesignError, match="no answer in finite numbers"):
            lasting(0.0, np.array([0.0, 2.0]))


@pytest.mark.parametrize("text", ["10**10**10", "9^9^9", "(9**9)", "m**(9**9)", "((m**99)**99)**99", "m**9**9**9", "5 m + 3 m", "5-3", "9" * 400, "m**999999"])  # fmt: skip
def test_the_registry_works_nothing_out(text):
    """pint's own reader works out what it is given: the first of these for hours."""
    for reader in (u.Quantity, u.Unit, u, u.parse_expression, (3 * u.m).to, lambda text: quantity(text)):
        with pytest.raises(DesignError) as refused:
            reader(text)
        assert len(str(refused.value)) < 200


def test_the_registry_reads_units_as_before():
    assert (
        u("1e-3 m3/h").m_as("L/h") == pytest.approx(u.Quantity(1, "liter ** 1 / hour").magnitude) and (3 * u.m).to("mm").magnitude == 3000
    )
    assert u.Unit("kg m**-1 s ** -2").is_compatible_with("Pa") and u.Quantity("-4 degC").m_as("K") == pytest.approx(269.15)

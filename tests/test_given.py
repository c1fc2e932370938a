"""What people give where something else is meant: it is right, or it is refused in one sentence that names it."""

import copy
import inspect
import pickle
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from aquaplumb import air, compare, findings, fish, fittings, levels, lines, pipes, power, pumps, readings, tables, u
from aquaplumb.build import Build, load
from aquaplumb.given import Thing, as_given, takes_things, thing
from aquaplumb.records import Fixed
from aquaplumb.review import review
from aquaplumb.units import DesignError, kind_of, quantity, show

PUMP, WIRE = "demo mains 45 W submersible", "2.5 mm2 flexible"
LINE = lines.Line(
    name="main line", source="0.3 m", stretches=[lines.Stretch(name="bed", bore="26 mm", length="3 m", valve="ball valve", to="bed", outlet="1.2 m")]
)  # fmt: skip
CURVE = lines.system_curve(LINE, np.linspace(0, 2000, 30) * u.L / u.h)
YARD = load("courtyard")


# --- one converter ----------------------------------------------------------------------------------------


class Named:
    """A thing that can be called by its name."""

    def __init__(self, name: str):
        self.name = name

    @classmethod
    def named(cls, name):
        if name == "nobody":
            raise DesignError("there is no 'nobody'.")
        return cls(name)


@pytest.mark.parametrize(
    ("hint", "given", "meant"),
    [
        pytest.param(str, "a", "a", id="text"),
        pytest.param(str, tables.row("species", "Nile tilapia"), "Nile tilapia", id="a row where its name is meant"),
        pytest.param(list[str], "elbow 90", ["elbow 90"], id="text is never walked letter by letter"),
        pytest.param(Iterable[str], ("a", "b"), ["a", "b"], id="several"),
        pytest.param(tuple[str, ...], ["a", "b"], ("a", "b"), id="a list where a tuple is meant"),
        pytest.param(Mapping[str, float] | Iterable[str], "a", ["a"], id="text where names are meant"),
        pytest.param(Mapping[str, float] | Iterable[str], {"a": 1}, {"a": 1}, id="names and counts"),
        pytest.param(dict[str, float] | None, {"a": np.float32(0.5)}, {"a": 0.5}, id="numpy's numbers"),
        pytest.param(int, 3.0, 3, id="a whole number"),
        pytest.param(float, np.int64(3), 3.0, id="a number"),
        pytest.param(bool, np.True_, True, id="numpy's true"),
        pytest.param(str | None, None, None, id="left out"),
        pytest.param(list[Named], [], [], id="none of them"),
    ],
)
def test_things_are_read_as_they_are_meant(hint, given, meant):
    read = thing(hint).read(given, "it")
    assert read == meant and type(read) is type(meant)


def test_a_name_serves_where_a_thing_is_meant():
    assert thing(Named).read("you", "it").name == "you"
    assert [one.name for one in thing(list[Named]).read(["you", Named("me")], "it")] == ["you", "me"]
    assert [one.name for one in thing(list[Named]).read("you", "it")] == ["you"]
    assert thing(Named | Any).read("you", "it").name == "you"
    assert thing(str | Named).read("you", "it").name == "you"
    with pytest.raises(DesignError, match=r"^it: there is no 'nobody'\.$"):
        thing(Named | None).read("nobody", "it")


@pytest.mark.parametrize(
    ("hint", "given", "says"),
    [
        pytest.param(str, 5, "it is 5; it needs text in quotes.", id="a number for text"),
        pytest.param(str, None, "it is None; it needs text in quotes.", id="nothing for text"),
        pytest.param(int, 2.5, "it is 2.5; it needs a whole number.", id="a part of a whole number"),
        pytest.param(int, float("nan"), "it is nan; it needs a whole number.", id="no number"),
        pytest.param(int, True, "it is True; it needs a whole number.", id="true for a number"),
        pytest.param(float, "0.4", "it is '0.4'; it needs a plain number", id="text for a number"),
        pytest.param(bool, 1, "it is 1; it needs True or False.", id="a number for true"),
        pytest.param(dict, ["a"], "it is a list; it needs names with a value each", id="a list for a dict"),
        pytest.param(list[str], {"a": 1}, "it is a dict; it needs a list.", id="a dict for a list"),
        pytest.param(list[str], 4, "it is 4; it needs a list.", id="a number for a list"),
        pytest.param(dict[str, float], {"a": "b"}, "it: a is 'b'; it needs a plain number", id="text in a dict of numbers"),
        pytest.param(Named, {}, "it is a dict; it needs a Named, or the name of one in quotes.", id="a dict for a thing"),
        pytest.param(Named, Named, "it is the class Named; it needs a Named", id="a class for a thing"),
        pytest.param(Thing, "x", "it is 'x'; it needs a Thing, made with Thing(…).", id="text for what has no name"),
        pytest.param(Named | Thing, u.m * 2, "it is 2 m; it needs a Named, or the name of one in quotes or a Thing", id="a quantity"),
    ],
)
def test_what_cannot_be_is_refused_in_words(hint, given, says):
    with pytest.raises(DesignError) as refused:
        thing(hint).read(given, "it")
    assert says in str(refused.value)


def test_what_says_nothing_is_not_looked_at():
    assert thing(Any) is thing(inspect.Parameter.empty) is thing(object) is None
    assert as_given(np.zeros(3)) == "an array" and as_given("x" * 100) == repr("x" * 100)[:60]


def test_the_door_of_things():
    @takes_things
    def both(one: Named, *, other: str = "") -> str:
        return one.name + other

    assert both("a", other="b") == "ab"
    with pytest.raises(TypeError, match=r"used as both\(one, \*, other=…\), with a name before each"):
        both("a", "b")
    with pytest.raises(DesignError, match=r"^both: other is None; it needs text"):
        both("a", other=None)


# --- what strangers tried, and the like -------------------------------------------------------------------


@pytest.mark.parametrize(
    "call",
    [
        pytest.param(lambda: lines.flows(LINE, PUMP) == lines.flows(LINE, pumps.pump(PUMP)), id="a pump's name"),
        pytest.param(lambda: pumps.operating_point(PUMP, CURVE) == pumps.operating_point(pumps.pump(PUMP), CURVE), id="on a curve"),
        pytest.param(lambda: len(pumps.ranking(pumps.names(), CURVE, "500 L/h")) == len(pumps.names()), id="a list of names"),
        pytest.param(lambda: [one.name for one in pumps.ranking(PUMP, CURVE, "500 L/h")] == [PUMP], id="one name"),
        pytest.param(lambda: power.drop_share(WIRE, "9 m", "4 A", "12 V") == power.drop_share(power.wire(WIRE), "9 m", "4 A", "12 V"), id="a wire"),
        pytest.param(lambda: fish.feeding_rate("90 g", species=tables.row("species", "Nile tilapia")) == fish.feeding_rate("90 g"), id="a species"),
        pytest.param(lambda: fittings.k("elbow 90") == fittings.k({"elbow 90": 1}) == fittings.fitting("elbow 90").k_typical, id="a fitting"),
        pytest.param(lambda: review("courtyard").build.title == YARD.title, id="a demo build"),
        pytest.param(lambda: levels.simulate("courtyard", "1 min").build.title == YARD.title, id="a demo build through time"),
        pytest.param(lambda: not compare.comparison("courtyard", YARD).moved, id="a build beside itself"),
        pytest.param(lambda: len(readings.actions("courtyard-spring", "courtyard")) == len(readings.actions(readings.read("courtyard-spring"), YARD)), id="a log"),
        pytest.param(lambda: pipes.bore(25 * u.mm, "PN16") == pipes.bore("25 mm", "PN16"), id="a size as a quantity"),
    ],
)  # fmt: skip
def test_names_serve(call):
    assert call()


@pytest.mark.parametrize(
    ("call", "says"),
    [
        pytest.param(lambda: lines.flows(LINE, "demo mains 44 W"), "flows: pump: the list of pumps has no 'demo mains 44 W'; did you mean", id="a pump's name"),
        pytest.param(lambda: lines.flows("main line", PUMP), "flows: line is 'main line'; it needs a Line, made with Line(…).", id="a line's name"),
        pytest.param(lambda: lines.flows(LINE, {}), "flows: pump is a dict; it needs a Pump, or the name of one in quotes", id="a dict for a pump"),
        pytest.param(lambda: levels.simulate("curtyard", "1 h"), "simulate: build: the set of demo builds has no 'curtyard'; did you mean courtyard or barrel-yard?", id="a build's name"),
        pytest.param(lambda: levels.simulate(YARD, None), "simulate: duration is None; it needs a time", id="no duration"),
        pytest.param(lambda: levels.simulate(YARD, 10), "simulate: duration is 10, with no unit", id="a bare duration"),
        pytest.param(lambda: levels.simulate(YARD, ["1 h", "2 h"]), "simulate: duration has 2 values; it takes one of each at a time.", id="two durations"),
        pytest.param(lambda: levels.simulate(YARD, "1 h", events="power fails"), "simulate: events is 'power fails'; it needs an Event", id="an event's name"),
        pytest.param(lambda: power.panel_size("60 W", "45 deg"), "panel_size: sun is '45 deg'; it needs a Sunshine, made with power.sunshine(latitude).", id="a latitude for sunshine"),
        pytest.param(lambda: pumps.operating_point(PUMP, LINE), "operating_point: system is a Line; it needs a SystemCurve, made with lines.system_curve(line, flow).", id="a line for its curve"),
        pytest.param(lambda: pumps.ranking({PUMP: 1}, CURVE, "1 L/h"), "ranking: pumps is a dict; it needs a list", id="a dict of pumps"),
        pytest.param(lambda: air.steady_oxygen("courtyard"), "steady_oxygen: budget is 'courtyard'; it needs an OxygenBudget", id="a build for a budget"),
        pytest.param(lambda: power.wire_resistance(None, "1 m"), "wire_resistance: wire is None; it needs a Wire, or the name of one", id="no wire"),
        pytest.param(lambda: pipes.friction_head([1, 2, 3] * u.L / u.h, [1, 2, 3, 4] * u.mm, "3 m"), "friction_head: flow has 3 and bore has 4 values; give as many to each, or one.", id="3 and 4"),
        pytest.param(lambda: pipes.friction_head(None, "25 mm", "3 m"), "friction_head: flow is None; it needs a flow such as 900 L/h.", id="no flow"),
        pytest.param(lambda: pipes.friction_factor(10**400), "reynolds is", id="a number past all numbers"),
        pytest.param(lambda: pipes.bore(25, "PN16"), "bore: size is 25; it needs text in quotes or a quantity with its unit.", id="a bare size"),
        pytest.param(lambda: fittings.k({"elbow 90": "two"}), "the count of 'elbow 90' is 'two'", id="a count in words"),
        pytest.param(lambda: fittings.k(None), "k: fittings is None; it needs names", id="no fittings"),
        pytest.param(lambda: lines.with_openings(LINE, {"bed": "half"}), "with_openings: openings: bed is 'half'; it needs a plain number", id="an opening in words"),
        pytest.param(lambda: lines.Line(name=3, source="1 m", stretches=()), "Line: name is 3; it needs text", id="a number for a record's name"),
        pytest.param(lambda: lines.Line(name="a", source="1 m", stretches="riser"), "Line: stretches is 'riser'; it needs a Stretch", id="a record's list"),
        pytest.param(lambda: lines.Stretch(name="a", bore=None, length="1 m"), "Stretch: bore is None; it needs a length", id="a record's quantity"),
        pytest.param(lambda: review({}), "review: build is a dict; it needs a Build, or the name of one in quotes.", id="a dict for a build"),
        pytest.param(lambda: compare.comparison("courtyard", None), "comparison: new is None; it needs a Build", id="no second build"),
        pytest.param(lambda: YARD.replaced(fish="Nile tilapia"), "replaced: fish is 'Nile tilapia'; it needs a Stock", id="text for a section"),
        pytest.param(lambda: YARD.replaced(vessels="sump"), "replaced: vessels is 'sump'; it needs a Vessel", id="a vessel's name"),
        pytest.param(lambda: tables.row("species", None), "row: wanted is None; it needs text", id="no name for a row"),
        pytest.param(lambda: tables.frame("pump"), "there is no table 'pump'; there are airpumps, airstones,", id="a table that is none"),
        pytest.param(lambda: tables.table({}), "table: name is a dict; it needs text", id="a dict for a table's name"),
        pytest.param(lambda: quantity("3 m", "flow"), "kind is 'flow'; it is one of aquaplumb.units, such as FLOW.", id="a kind's name"),
        pytest.param(lambda: kind_of("3 m"), "this is '3 m'; give a quantity", id="text for a quantity"),
        pytest.param(lambda: show(3 * u.m, ["US"]), "there is no unit system", id="a list of systems"),
        pytest.param(lambda: readings.read("courtyard-spring", decimal=[","]), 'it is "." or ","', id="a list of decimal signs"),
        pytest.param(lambda: readings.read(5), "a log is read from a file or a DataFrame; give its name, not 5.", id="a number for a log"),
        pytest.param(lambda: findings.names(through_time=np.zeros(3)), "through_time is an array; it needs True or False.", id="an array for true"),
    ],
)  # fmt: skip
def test_one_sentence_in_the_users_words(call, says):
    with pytest.raises(DesignError) as refused:
        call()
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


# --- frozen -----------------------------------------------------------------------------------------------


def test_a_fixed_dict_reads_as_any_and_does_not_change():
    fixed = Fixed(a=1)
    assert fixed == {"a": 1} and {**fixed, "b": 2} == {"a": 1, "b": 2} and isinstance(fixed, dict)
    for change in ("__setitem__", "setdefault", "update", "pop", "popitem", "clear", "__delitem__", "__ior__"):
        with pytest.raises(TypeError, match="does not change"):
            getattr(fixed, change)("a", 2)
    for same in (pickle.loads(pickle.dumps(fixed)), copy.copy(fixed), copy.deepcopy(fixed)):
        assert same == fixed and type(same) is Fixed


def test_what_a_record_holds_does_not_change():
    mine = {"elbow 90": 2}
    stretch = lines.Stretch(name="riser", bore="26.1 mm", length="3 m", fittings=mine)
    mine["elbow 90"] = 3
    assert stretch.fittings == {"elbow 90": 2}
    with pytest.raises(TypeError, match=r"\.replace"):
        stretch.fittings["elbow 90"] = 4
    assert isinstance(lines.Line(name="a", source="0 m", stretches=[stretch.replace(to="bed", outlet="1 m")]).stretches, tuple)


def test_a_function_and_a_file_serve_as_pumps(tmp_path):
    assert lines.flows(LINE, lambda flow: (2.0 - 0 * flow, 0 * flow)).head.m_as("m") == pytest.approx(2.0)
    assert isinstance(lambda: 0, Callable)
    mine = tmp_path / "mine.csv"
    mine.write_bytes(Path(tables.folder("data") / "pumps" / "mains-45-w-submersible.csv").read_bytes())
    assert lines.flows(LINE, mine).flow == lines.flows(LINE, str(mine)).flow == lines.flows(LINE, PUMP).flow


def test_a_build_is_a_build():
    assert Build.named("courtyard").lines == YARD.lines

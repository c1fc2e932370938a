"""Files that cannot be meant so: each is told in one sentence with its line and its cure, and what the cure says clears it.

All builds are invented for the tests.
"""

import re

import pytest

from aquaplumb.build import load
from aquaplumb.review import review
from aquaplumb.units import SYSTEMS, DesignError
from levels_builds import PUMP, fall, made, metres, pumped, section, vessel

TANK = vessel("tank", area=1.5, height=0.8, floor=0.3, depth=0.5)
SUMP = vessel("sump", "sump", area=1.5, height=0.8, floor=-0.9, depth=0.5)
FILTER = vessel("filter", "settling tank", area=0.5, height=0.8, floor=0.3, depth=0.5)
LIFT, OVER = (
    pumped("riser", "sump", {"tank": 1.3}, inlet_depth=0.1),
    fall("over", "tank", "sump", lip=0.8, outlet=-0.2, bore=0.08, vented=True),
)
BY_FILTER = pumped("riser", "filter", {"tank": 1.3}, inlet_depth=0.1)


def joint(**more):
    return fall("joint", "tank", "filter", lip=0.4, outlet=0.4, bore=0.08, kind="joint", **more)


def loop(**pump):
    text = section('[lines."riser"]', metres({"kind": "pumped", "from": "sump", "pump": PUMP}))
    for name, after in (("up", "down"), ("down", "up")):
        end = {"to": "tank", "outlet": 1.3} if name == "down" else {}
        text += section('[[lines."riser".pipe]]', metres({"name": name, "after": after, "bore": 0.03, "length": 1.0, **end}))
    return text


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ((TANK, SUMP, loop(), OVER), r"riser › pipe › after: '(up|down)' follows itself in a loop; water must have one way from the pump"),
        ((TANK, SUMP, LIFT, OVER, fall("round", "tank", "tank", lip=0.7, outlet=0.5)), "round › to: the line comes from and goes to tank"),
        ((TANK, SUMP, LIFT, OVER, fall("sip", "tank", "sump", lip=0.8, outlet=-0.2, vent=0.9)), "sip › siphon › vent: its vent at 0.9 m is not below its lip at 0.8 m"),
        ((TANK, SUMP, LIFT, fall("over", "tank", "sump", lip=0.8, outlet=-0.2, intake=0.9)), "over › intake: the intake is at 0.9 m, above the lip at 0.8 m"),
        ((TANK, SUMP, LIFT, fall("over", "tank", "sump", lip=1.5, outlet=-0.2)), r"over › lip: 1.5 m is over the rim of tank, which has a height of 0.8 m \(.*tank › height\) on a floor at 0.3 m"),
        ((TANK, SUMP, pumped("riser", "sump", {"tank": 1.3}, inlet_depth=0.9), OVER), "riser › inlet_depth: sump is 0.8 m high"),
        ((vessel("tank", area=1.5, height=0.8, floor=0.3, depth=0.9), SUMP, LIFT, OVER), "tank: working depth is 0.9 m; it lies between 0 and the height"),
    ],
)  # fmt: skip
def test_what_cannot_be_drawn_is_refused_with_its_place(parts, says):
    with pytest.raises(DesignError, match=says):
        made(*parts)


def found(build, name):
    return [f for f in review(build).findings if f.name == name]


@pytest.mark.parametrize(
    ("name", "severity", "where", "parts", "cured"),
    [
        ("drain has no fall", "stop", "over", (TANK, SUMP, LIFT, fall("over", "tank", "sump", lip=0.8, outlet=1.5, bore=0.08, vented=True)), OVER),
        ("drain shut", "stop", "over", (TANK, SUMP, LIFT, fall("over", "tank", "sump", lip=0.8, outlet=-0.2, bore=0.08, valve="ball valve", opening=0.0)),
         fall("over", "tank", "sump", lip=0.8, outlet=-0.2, bore=0.08, valve="ball valve", opening=1.0)),
        ("drain shut", "stop", "joint", (TANK, FILTER, BY_FILTER, joint(valve="ball valve", opening=0.0)), joint(valve="ball valve", opening=1.0)),
        ("height outside its vessel", "fix", "over", (TANK, SUMP, LIFT, fall("over", "tank", "sump", lip=0.1, outlet=-0.2, bore=0.08)), OVER),
        ("height outside its vessel", "fix", "joint", (TANK, FILTER, BY_FILTER, joint().replace("0.4 m", "0.1 m")), joint()),
        ("height outside its vessel", "fix", "sip", (TANK, SUMP, LIFT, OVER, fall("sip", "tank", "sump", lip=0.75, outlet=-0.2, bore=0.03, vent=0.2)),
         fall("sip", "tank", "sump", lip=0.75, outlet=-0.2, bore=0.03, vent=0.5)),
        ("height outside its vessel", "fix", "riser to tank", (TANK, SUMP, OVER, pumped("riser", "sump", {"tank": 0.1})), LIFT),
        ("drain short", "stop", "over", (TANK, SUMP, LIFT, fall("over", "tank", "sump", lip=1.3, outlet=-0.2, bore=0.08)), OVER),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_told_and_its_cure_clears_it(name, severity, where, parts, cured):
    told = [f for f in found(made(*parts), name) if f.where == where]
    assert [f.severity for f in told][:1] == [severity]
    assert where in told[0].sentence and told[0].cure.endswith(".")
    line = cured.splitlines()[0]
    assert not found(made(*(part for part in parts if part.splitlines()[0] != line), cured), name)


def test_a_shut_valve_is_told_once_and_not_as_a_pipe_too_thin():
    build = made(TANK, SUMP, LIFT, fall("over", "tank", "sump", lip=0.8, outlet=-0.2, bore=0.08, valve="ball valve", opening=0.0))
    assert not found(build, "drain short")


def test_a_float_that_no_water_reaches_is_told_with_the_depth_that_does():
    """An overflow keeps the pit 0.4 m deep at most; the float stands at 0.6 m, within the pit's walls."""

    def build(on):
        return made(
            TANK, SUMP, LIFT, fall("over", "tank", "pit", lip=0.8, outlet=0.0, bore=0.08, vented=True),
            vessel("pit", "sump", area=0.6, height=0.9, floor=-0.6, depth=0.3),
            pumped("back", "pit", {"sump": 0.1}, inlet_depth=0.05, control={"kind": "float", "on_depth": f"{on} m", "off_depth": "0.1 m"}),
            fall("spare", "pit", "sump", lip=-0.25, outlet=-0.4, bore=0.1, vented=True),
        )  # fmt: skip

    told = found(build(0.6), "float never turns on")[0]
    assert told.where == "back" and told.severity in ("stop", "note")
    enough = float(re.search(r"on_depth to ([\d.]+) m or less", told.cure).group(1))
    assert enough < 0.45 and not found(build(enough), "float never turns on")


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("more", [{}, {"cut_in_depth": "5 cm"}])
def test_a_low_switch_that_stops_nothing_is_cured_by_what_is_named(units, more):
    build = load("courtyard", units=units).changed({("lines", "riser", "control"): {"kind": "always", "cut_out_depth": "2 cm", **more}})
    told = found(build, "low switch stops nothing")[0]
    done = dict(re.findall(r"(cut_\w+_depth) to (.+?) or more", told.cure))
    assert set(done) == {"cut_out_depth", *more}
    assert not found(build.changed({("lines", "riser", "control", key): value for key, value in done.items()}), "low switch stops nothing")

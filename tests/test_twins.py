"""What happens to one of two vessels alike is told by the run of the other: the same as its own run, and only where they are alike."""

import numpy as np
import pytest

from aquaplumb.build import Build, load
from aquaplumb.build.layouts import first_build
from aquaplumb.review import review
from aquaplumb.system import levels
from aquaplumb.system.drills import drills
from aquaplumb.system.failures import failure
from aquaplumb.system.twins import twins
from aquaplumb.units import TIME
from levels_builds import fall, made, pumped, vessel
from many_vessels import many_beds


def beds(second: dict | None = None, drain: dict | None = None, feed: dict | None = None, *, lower: float = -0.2) -> Build:
    """Two beds with siphons on one pump, alike but for what is said of the second, its drain or its feed. Invented for the tests."""
    usual = {"area": 0.6, "height": 0.35, "floor": 0.4, "depth": 0.2}
    parts = [vessel("sump", "sump", area=1.2, floor=-0.6, height=0.6, depth=0.45)]
    for k, (own, falls) in enumerate([({}, {}), (second or {}, drain or {})], 1):
        parts.append(vessel(f"bed {k}", "bed", **{**usual, **own}))
        parts.append(
            fall(f"drain {k}", f"bed {k}", "sump", **{"lip": 0.65, "outlet": lower, "bore": 0.04, "length": 1.1, "vent": 0.45, **falls})
        )
    ends = {"bed 1": {"outlet": 0.9}, "bed 2": {"outlet": 0.9, **(feed or {})}}
    return made(*parts, pumped("feed", "sump", ends, inlet_depth=0.05))


def first_of(build: Build) -> dict[str, str]:
    """Of each falling line that is told by another's run, that one."""
    return {name: one for name, (one, _) in twins(levels.network(build)).items()}


def flush_tank() -> Build:
    return Build(first_build("flush tank", beds=3, units="metric", coldest_water="22 degC", warmest_water="28 degC"))


BUILDS = {
    "two beds with siphons": beds,
    "beds in pairs": lambda: load("greenhouse"),
    "barrels joined": lambda: load("barrel-yard"),
    "beds filled at once": flush_tank,
    "sixteen beds": lambda: many_beds(alike=True),
}


@pytest.mark.parametrize("made_of", BUILDS.values(), ids=BUILDS)
def test_a_twins_run_is_its_own(made_of):
    build = made_of()
    told = [drill for drill in drills(build).every if drill.where in first_of(build)]
    assert told
    told = told[:: max(1, len(told) // 6)]
    stories = [failure(build, drill.kind, drill.where, power_off=8 * 3600) for drill in told]
    own = levels.runs(
        build,
        [TIME.quantity(drill.run.time[-1]) for drill in told],
        [one.events(drill.at) for one, drill in zip(stories, told)],
        quick=True,
    )
    near = 5e-4 if len(levels.network(build).siphons) else 1e-6  # m: after dozens of rounds rounding shows, as far as a quick run is good
    for drill, run in zip(told, own, strict=True):
        assert (drill.run.flows, [str(event) for event in drill.run.events]) == (run.flows, [str(event) for event in run.events])
        for name in run.vessels:
            told_of, its_own = drill.run.vessel(name).si, run.vessel(name).si
            assert told_of.lowest == pytest.approx(its_own.lowest, abs=near)
            assert told_of.highest == pytest.approx(its_own.highest, abs=near)
            assert told_of.last == pytest.approx(its_own.last, abs=5 * near)
            assert told_of.spilled == pytest.approx(its_own.spilled, abs=near)
        brought = [np.trapezoid(each.flow, each.time, axis=0) for each in (drill.run, run)]
        assert np.allclose(
            *brought, rtol=200 * near, atol=100 * near
        )  # in siphons by few steps of short flushes: it tells the columns apart
        assert [drill.run.starts(name) for name in run.siphons] == pytest.approx([run.starts(name) for name in run.siphons], abs=1)


def test_sixteen_beds_are_told_by_few():
    assert len(set(first_of(many_beds(alike=True)).values())) <= 8  # the drains and emergency overflows of the few that differ
    assert not {name for name in first_of(many_beds(alike=False)) if name.startswith(("bed 5", "bed 6"))}


OTHER = {
    "area": {"second": {"area": 0.601}},
    "rim": {"second": {"height": 0.351}},
    "floor": {"second": {"floor": 0.401}},
    "working depth": {"second": {"depth": 0.201}},
    "medium": {"second": {"medium": "expanded clay 8-16 mm", "media_depth": 0.3}},
    "lip": {"drain": {"lip": 0.651}},
    "vent": {"drain": {"vent": 0.451}},
    "drain's end": {"drain": {"outlet": -0.21}},
    "drain's bore": {"drain": {"bore": 0.041}},
    "drain's length": {"drain": {"length": 1.11}},
    "drain's fittings": {"drain": {"fittings": {"elbow 90": 1}}},
    "no siphon": {"drain": {"vent": None}},
    "feed's bore": {"feed": {"bore": 0.033}},
    "feed's length": {"feed": {"length": 0.51}},
    "feed's end": {"feed": {"outlet": 0.91}},
    "feed's end under water": {"feed": {"outlet": 0.6}},
    "feed's hole": {"feed": {"break_hole": 0.95}},
    "feed's valve": {"feed": {"valve": "ball valve", "opening": 0.5}},
}


@pytest.mark.parametrize("other", OTHER.values(), ids=OTHER)
def test_what_differs_is_no_twin(other):
    assert first_of(beds()) == {"drain 2": "drain 1"}
    assert not first_of(beds(**other))


def test_where_it_stands_and_what_it_is_called_do_not_matter():
    assert first_of(beds({"at": ["3 m", "1 m"], "turned": "90 deg"}, {}, {"name": "the long way round"})) == {"drain 2": "drain 1"}


def test_a_pipe_in_common_is_not_one_for_each_end():
    """Two ends on each bed: one bed has a pipe of its own for each, the other one pipe for both."""
    build = beds()
    leg = '[[lines."feed".pipe]]\nname = "{}"\nafter = "{}"\nbore = "0.02 m"\nlength = "0.5 m"\n'
    end = 'to = "bed {}"\noutlet = "0.9 m"\n'
    text = build.text[: build.text.index('[[lines."feed".pipe]]\nname = "feed to bed 1"')]
    text += "".join(leg.format(f"own {k}", "feed riser") + leg.format(f"spout {k}", f"own {k}") + end.format(1) for k in (1, 2))
    rest = build.text[build.text.index('[vessels."spare fish tank"]') :]

    def with_second(pipes: int) -> Build:
        more = "".join(leg.format(f"shared {k}", "feed riser") for k in range(pipes))
        spouts = "".join(leg.format(f"out {k}", f"shared {k % pipes}") + end.format(2) for k in (0, 1))
        return Build(text + more + spouts + rest, None)

    assert first_of(with_second(2)) == {"drain 2": "drain 1"}
    assert not first_of(with_second(1))


def test_what_hangs_on_one_alone_is_no_twin():
    build = beds()
    spare = fall("spare", "bed 2", "sump", lip=0.70, outlet=-0.2)
    assert not first_of(Build(build.text + "\n" + spare, None))
    both = spare + "\n" + fall("spare of the first", "bed 1", "sump", lip=0.70, outlet=-0.2)
    assert first_of(Build(build.text + "\n" + both, None)) == {"drain 2": "drain 1", "spare": "spare of the first"}


def test_a_hundred_beds_are_told_in_a_few_words():
    build = many_beds(alike=True, vessels=104)
    seen = review(build)
    assert max(len(f.sentence) for f in seen.findings) <= 259  # as those of every other build
    [told] = [f for f in seen.findings if f.name == "beds get no water"]
    assert "more until somebody sees it" in told.sentence

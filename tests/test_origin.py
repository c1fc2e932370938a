"""Where the water comes from, and what that means for start, make-up and upkeep."""

import pytest

from aquaplumb import load
from aquaplumb.review import review
from aquaplumb.units import DesignError
from aquaplumb.water import startup
from aquaplumb.workshop.sheet import sheet

ORIGIN, PUT_IN, CHLORINE = ("water", "origin"), ("water", "disinfectant"), ("upkeep", "tap_chlorine")


def told(**water):
    """The findings of the courtyard with that water, and with much chlorine in it."""
    changes = {("water", key): value for key, value in water.items()}
    return review(load("courtyard").changed({**changes, CHLORINE: "2 mg/L", ("upkeep", "water_change"): "200 L"}))


def test_air_is_a_cure_for_chlorine_and_never_for_chloramine():
    # free chlorine is gone from standing water in 12 to 72 h, chloramine in one to two weeks (aquariumadvice.com 357786); chloramine cannot be
    # removed by letting it stand (City of San Bruno, what is chloramine)
    chlorine, chloramine = (told(origin="tap", disinfectant=d).finding("chlorine in tap water") for d in ("chlorine", "chloramine"))
    assert "bubble" in chlorine.cure and "chloramine" not in chlorine.cure
    assert (
        "standing and air do not take it out" in chloramine.cure and "bubble" not in chloramine.cure and "ammonia (as N)" in chloramine.cure
    )
    unsaid = told().finding("chlorine in tap water")
    assert "If your works use chloramine" in unsaid.cure


def test_rested_water_is_trusted_for_chlorine_and_not_for_chloramine():
    assert told(origin="tap", disinfectant="chlorine", rested=True).finding("chlorine in tap water").severity == "note"
    assert told(origin="tap", disinfectant="chloramine", rested=True).finding("chlorine in tap water").severity == "stop"


@pytest.mark.parametrize("origin", ["rain", "reverse osmosis"])
def test_what_nobody_has_said_of_rain_is_not_taken_to_be_tap_water(origin):
    build = load("courtyard").changed({ORIGIN: origin, ("upkeep", "alkalinity"): None})
    seen = review(build)
    assert seen.system.upkeep.alkalinity == pytest.approx(0.01) and "alkalinity of 10 mg/L" in seen.system.upkeep.assumed
    assert seen.finding("alkalinity running out").severity in ("stop", "fix")
    assert not [
        f for f in review(load("courtyard").changed({("upkeep", "alkalinity"): None})).findings if f.name == "alkalinity running out"
    ]


@pytest.fixture(scope="module")
def usual():
    return [row[1] for row in sheet("courtyard", designs=20).grid("upkeep").rows]


@pytest.mark.sweep(2)
@pytest.mark.parametrize(("water", "task"), [
    ({ORIGIN: "tap", PUT_IN: "chlorine"}, "treat the make-up water"), ({ORIGIN: "tap", PUT_IN: "chloramine"}, "take the chloramine out of the make-up water"),
    ({ORIGIN: "well"}, "air the well water"), ({ORIGIN: "rain"}, "look after the rain water"), ({ORIGIN: "reverse osmosis"}, "give minerals to the make-up water"),
])  # fmt: skip
def test_the_calendar_has_the_task_of_that_water_and_of_no_other(usual, water, task):
    rows = [row[1] for row in sheet(load("courtyard").changed(water), designs=20).grid("upkeep").rows]
    assert task not in usual and set(rows) == {*usual, task}


def test_a_calendar_of_no_water_is_as_it_was():
    assert [t.name for t in startup.upkeep_plan("200 g/d", "200 L")] == [
        t.name for t in startup.upkeep_plan("200 g/d", "200 L", water="spring")
    ]


def test_a_build_that_says_nothing_is_reviewed_as_before():
    seen = review("courtyard")
    assert not {"tap water of unknown treatment", "well water without air", "water without minerals", "metals of the roof"} & {
        f.name for f in seen.findings
    }


def test_wrong_water_gets_one_sentence():
    with pytest.raises(DesignError, match="list of origins has no 'sea'; it has tap, well, rain, reverse osmosis"):
        load("courtyard").changed({ORIGIN: "sea"})
    with pytest.raises(DesignError, match='goes with origin = "tap"'):
        load("courtyard").changed({ORIGIN: "well", PUT_IN: "chlorine"})
    with pytest.raises(DesignError, match="true or false"):
        load("courtyard").changed({ORIGIN: "well", ("water", "rested"): "yes"})

"""First builds: every layout, number of beds, unit system and kind of site gives a sound review."""

import functools
import math

import pytest

from aquaplumb import tables
from aquaplumb.build import Build, layouts
from aquaplumb.build.layout_kinds import KINDS, tank_water
from aquaplumb.build.layouts import DRAINS, LAYOUTS, MOST_BEDS, first_build, fitting_species
from aquaplumb.build.vessels import water_volume
from aquaplumb.review import review
from aquaplumb.system.levels import Event, simulate
from aquaplumb.units import SYSTEMS, DesignError, u

SITES = {
    "warm, at the sea": ("0 m", "22 degC", "28 degC"),
    "warm, high": ("1500 m", "24 degC", "30 degC"),
    "cool, high": ("1500 m", "11 degC", "16 degC"),
    "cold winters": ("300 m", "9 degC", "25 degC"),
}


def made(layout, beds, units, site="warm, at the sea"):
    altitude, cold, warm = SITES[site]
    return first_build(layout, beds=beds, units=units, altitude=altitude, coldest_water=cold, warmest_water=warm)


USUAL = "warm, at the sea"
KNOWN = {
    "temperature out of range",
    "load over floor rating",
    "growing area off the feed",
    "oxygen time short",
    "pump runs dry on start",
    "pipe too slow",  # a bed's own branch, behind a strainer: under the 0.61 m/s of drains
}
OF_LAYOUT = {  # what the file cannot know: when somebody comes, or sees that a pipe to all beds is blocked
    "two loops": {"beds get no water"},
    "gravity from the tank": {"beds get no water"},
    "flush tank": {"beds get no water"},
    "film channels": {"roots hang dry"},
    "towers": {"roots hang dry"},
}


@functools.cache
def reviewed(layout, beds, units, site=USUAL):
    return review(Build(made(layout, beds, units, site)))


# Each number of beds at the usual site, in both unit systems; elsewhere the least, the most, and one between that goes round with the sites.
NUMBERS = [
    *((beds, units, USUAL) for units in SYSTEMS for beds in range(1, MOST_BEDS + 1)),
    *((beds, units, site) for place, site in enumerate(SITES) if site != USUAL for units in SYSTEMS for beds in (1, 2 + place, MOST_BEDS)),
]


@pytest.mark.sweep(12)
@pytest.mark.parametrize(("beds", "units", "site"), NUMBERS)
@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_number_of_beds_is_sound(layout, beds, units, site):
    seen = reviewed(layout, beds, units, site)
    assert seen.sound, seen.advice
    assert sum(v.si.count for v in seen.build.vessels.values() if v.grows) == beds * KINDS[layout].each
    assert len(seen.build.pumped) == (2 if layout == "two loops" else 1)
    # No note either that says a pump, a pipe, a valve or a drain is doubtful: only the site's and the floor's.
    # Then: how long fish last with no air section in the file, and beds to be filled before the first start.
    known = KNOWN | OF_LAYOUT.get(layout, set())
    if layout == "flush tank" and beds == 1:
        known |= {"pump far too strong"}  # a bell asks for more than two small barrels need
    assert {f.name for f in seen.findings} <= known, seen.advice


def wished(layout, beds, units, **wish):
    """The review of a first build with a wish; a siphon's least flow, or a small tank, may leave its pump more than its fish need."""
    seen = review(Build(first_build(layout, beds=beds, units=units, **wish)))
    assert seen.sound, f"{beds} beds, {wish}: {seen.advice}"
    assert {f.name for f in seen.findings} <= KNOWN | OF_LAYOUT.get(layout, set()) | {"pump far too strong"}, (
        f"{beds} beds, {wish}: {seen.advice}"
    )
    return seen


@pytest.mark.sweep(3)
@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_tank_holds_what_was_wished_and_the_system_is_sound(layout, units):
    """At both ends of what is offered; rounding a round tank up to a whole step (5 cm or 2 in across) adds up to a fifth to a small one."""
    for beds, end in ((1, 0), (1, 1), (5, 1), (MOST_BEDS, 0)):
        wish = tank_water(layout, beds)[end]
        build = wished(layout, beds, units, tank=f"{1000 * wish} L").build
        water = max(water_volume.si(v, v.si.working_depth) for v in build.of_kind("fish tank"))
        assert wish * (1 - 1e-9) <= water <= 1.2 * wish, f"{beds} beds"


@pytest.mark.sweep(1)
@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("layout", [name for name, kind in KINDS.items() if kind.siphons_to])
def test_beds_drain_as_was_wished_and_the_system_is_sound(layout, units):
    most = KINDS[layout].siphons_to
    for beds in (1, most // 2, most):
        for drains in DRAINS:
            build = wished(layout, beds, units, drains=drains).build
            lines = [line.si for line in build.falling.values() if line.si.kind == "bed drain"]
            assert len(lines) == beds
            assert all((line.siphon is not None) == (drains == "siphon") for line in lines)
    for beds, end in ((most, 0), (most - 1, 1)):
        wished(layout, beds, units, drains="siphon", tank=f"{1000 * tank_water(layout, beds)[end]} L")


def test_a_smaller_tank_than_there_is_becomes_the_smallest():
    """It holds at least what was wished."""
    least = tank_water("one loop", 2)[0]
    assert first_build("one loop", tank="50 L") == first_build("one loop", tank=f"{1000 * least} L")


@pytest.mark.sweep(6)
@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("layout", LAYOUTS)
def test_sizes_grow_with_the_beds(layout, units):
    """Twice the beds: about twice the water, the fish and the feed; each within what rounding to whole steps allows."""
    one, two = (reviewed(layout, beds, units) for beds in (3, 6))
    for name in ("fish.tank volume", "fish.biomass", "fish.feed", "beds.area"):
        assert two[name].value / one[name].value == pytest.approx(2, rel=0.12), name
    assert one["fish.tank volume"].value < two["fish.tank volume"].value


@pytest.mark.parametrize("layout", LAYOUTS)
def test_both_unit_systems_make_much_the_same_system(layout):
    metric, us = (reviewed(layout, 3, units) for units in SYSTEMS)
    assert us["fish.tank volume"].value == pytest.approx(metric["fish.tank volume"].value, rel=0.2)
    assert us["fish.feed"].value == pytest.approx(metric["fish.feed"].value, rel=0.25)
    assert {line.si.standard for line in us.build.falling.values()} == {"Sch 40"}
    assert {line.si.standard for line in metric.build.falling.values()} <= {"PN10", "PN16"}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_all_water_comes_back_to_where_a_pump_draws_it(layout):
    """From each vessel, by the usual ways down, to a vessel with a pump; nothing is only pumped away or only filled."""
    build = reviewed(layout, 4, "metric").build
    drawn = {line.si.source for line in build.pumped.values()}
    for name in build.vessels:
        here = name
        for _ in range(len(build.vessels)):
            if here in drawn:
                break
            here = next(line.si.to for line in build.drops.values() if line.si.source == here and not line.si.emergency)
        assert here in drawn, name
    for name in build.vessels:
        ways = [line.si for line in build.falling.values() if line.si.source == name]
        assert name in drawn or any(way.emergency for way in ways), name


# --- two tanks -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("beds", [1, 4])
def test_two_tanks_have_two_stocks_and_two_crops(beds, units):
    seen = reviewed("two tanks", beds, units)
    young, grown = (stock.si for stock in seen.build.stocks.values())
    assert young.body_mass < grown.body_mass and young.count > grown.count and {young.tank, grown.tank} == set(seen.system.tanks)
    assert len(seen.system.beds.crops) == 2
    assert math.isclose(*(seen.build.vessels[name].level for name in (young.tank, grown.tank)))
    small, large = (seen.system.vessels[name].level for name in (young.tank, grown.tank))
    assert 0 < small - large < 0.02  # what the joint and its screen cost


@pytest.mark.parametrize("units", SYSTEMS)
def test_a_blocked_joint_spills_nothing_and_leaves_each_tank_its_water(units):
    """Each tank has a branch of the pump: what comes into the small one goes by its emergency overflow, the large one has its own flow on."""
    build = reviewed("two tanks", 3, units).build
    run = simulate(build, "3 h", events=[Event("drain blocks", "joint", at="1 h", part=1.0)])
    flow = {name: run.flow[-1, run.flows.index(name)] for name in run.flows}
    comes = {outlet.to: outlet.flow for outlet in reviewed("two tanks", 3, units).system.pumped["riser"].outlets}
    assert run.litres_spilled.m_as("L") == pytest.approx(0.0, abs=1e-6)
    assert flow["joint"] == 0.0
    assert flow["small tank emergency overflow"] == pytest.approx(comes["small tank"], rel=0.01)  # the sump is a little lower now
    assert flow["tank overflow"] == pytest.approx(comes["large tank"], rel=0.01)
    for tank in ("small tank", "large tank"):
        assert run.vessel(tank).si.lowest > 0.97 * build.vessels[tank].si.working_depth
    # the pump stopped and the joint open: both stand at one level, at the overflow's lip
    still = simulate(build, "9 h", events=[Event("power fails", at="1 h")])
    levels = [still.vessel(tank).si.last + build.vessels[tank].si.floor for tank in ("small tank", "large tank")]
    assert levels[0] == pytest.approx(levels[1], abs=1e-3)
    assert levels[0] == pytest.approx(build.falling["tank overflow"].si.lip, abs=5e-3)


# --- towers ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("units", SYSTEMS)
@pytest.mark.parametrize("rows", range(1, MOST_BEDS + 1))
def test_each_tower_has_a_dripper_that_the_pump_fills(rows, units):
    """A hole for each, of a size that is a drill's; what comes out by hand: Q = 0.61 A √(2 g h), a sharp-edged hole (USBR Water Measurement Manual)."""
    (d,) = reviewed("towers", rows, units).system.drippers
    assert d.holes == d.towers == 8 * rows
    assert d.flow == pytest.approx(0.61 * math.pi / 4 * d.bore**2 * math.sqrt(2 * 9.80665 * d.head), rel=0.02)
    assert d.each >= 40 / 3.6e6 * 0.999  # m³/s: common practice, no source
    assert d.head >= 0.1  # m: 2 cm of height are then a tenth of the flow; common practice, no source
    assert d.slot <= d.bore / 4  # trickle irrigation: openings of a quarter to a tenth of the hole; from memory


def test_the_file_explains_itself_and_holds_literal_values():
    text = made("one loop", 2, "metric")
    assert text.count("#") > 40
    assert "invented for the demo" in text
    for line in text.splitlines():
        assert len(line) < 130
        assert line == line.rstrip()
    assert [line.split(" = ")[0] for line in text.splitlines()[4:7]] == ["title", "about", "units"]
    assert made("one loop", 2, "metric") == text


def test_the_title_is_the_learners_and_cannot_break_the_file():
    for title in ("Ama's yard", 'say "hi"', "a\\b", "new\nline", "=[x]#", "鱼", "x" * 500):
        assert Build(first_build("one loop", title=title)).title
    assert Build(first_build("one loop", title="Ama's yard")).title == "Ama's yard"


# --- the fish ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("cold", "warm", "fish"), [
    pytest.param("27 degC", "30 degC", "Nile tilapia", id="FAO 589 ch. 7: best 27 to 30 °C"),
    pytest.param("14 degC", "16 degC", "rainbow trout", id="FAO 589 ch. 7 (from memory): best 14 to 16 °C"),
])  # fmt: skip
def test_the_fish_that_suits_the_water(cold, warm, fish):
    assert fitting_species(cold, warm) == fish


def test_no_beginner_is_sent_to_crayfish_or_to_fish_that_eat_the_plants():
    for name in layouts._NOT_FIRST:
        s = tables.row("species", name).si
        assert fitting_species.si(s.best_low, s.best_high) not in layouts._NOT_FIRST


def test_the_fish_lives_in_the_water_wherever_one_does():
    for cold in range(5, 32, 3):
        for warm in range(cold, 34, 3):
            for altitude in (0, 2000):
                s = tables.row("species", fitting_species(cold * u.degC, warm * u.degC, altitude=altitude * u.m)).si
                assert s.survive_low - 273.15 <= cold
                assert warm <= s.survive_high - 273.15


def test_a_winter_in_which_no_fish_eats_is_said_and_nothing_else_is_wrong():
    """5 to 25 °C: some fish live through it (FAO 589 ch. 7, from memory), none of the table feeds at its coldest."""
    for layout in LAYOUTS:
        seen = review(Build(first_build(layout, coldest_water="5 degC", warmest_water="25 degC")))
        assert [f.name for f in seen.findings if f.severity != "note"] == ["temperature out of range"]


# --- the door ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("wrong", "words"), [
    ({"layout": "three loops"}, "one loop"),
    ({"beds": 0}, "1 to 6"),
    ({"beds": 7}, "1 to 6"),
    ({"beds": 2.5}, "beds is 2.5; it needs a whole number"),
    ({"beds": True}, "beds is True; it needs a whole number"),
    ({"beds": "two"}, "beds is 'two'; it needs a whole number"),
    ({"units": "imperial"}, "metric"),
    ({"coldest_water": "30 degC", "warmest_water": "20 degC"}, "swap"),
    ({"coldest_water": "-2 degC"}, "holds from 0"),
    ({"warmest_water": "50 degC"}, "35"),
    ({"coldest_water": "0 degC", "warmest_water": "34.9 degC"}, "no fish"),
    ({"tank": "2000 L"}, "770 L to 1,650 L"),
    ({"tank": "2000 kg"}, "volume"),
    ({"drains": "bell"}, "plain"),
    ({"drains": "siphon", "beds": 5}, "at most 4 beds"),
    ({"drains": "siphon", "layout": "rafts"}, "no siphons"),
    ({"altitude": "20 kg"}, "length"),
    ({"coldest_water": 22}, "unit"),
    ({"altitude": math.inf * u.m}, "finite"),
    ({"altitude": "9000 m"}, ""),
    ({"altitude": "-20 km"}, ""),
])  # fmt: skip
def test_what_cannot_be_is_refused_in_a_sentence(wrong, words):
    with pytest.raises(DesignError) as refused:
        first_build(**{"layout": "one loop", **wrong})
    assert words in str(refused.value)

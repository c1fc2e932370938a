"""One plan of the supply for page, review and sheet; what each pump hangs on, and what becomes of it when that fails."""

import pytest

from aquaplumb.build import load
from aquaplumb.plumbing import pumps
from aquaplumb.review import review
from aquaplumb.review.designs import SweptBuild
from aquaplumb.system import drills, failures, levels, power_plan
from aquaplumb.system.steady import Steady
from aquaplumb.units import DesignError
from aquaplumb.whatif import levels_time, supply
from aquaplumb.whatif.pump import PumpWhatIf
from aquaplumb.workshop import parts

pytestmark = pytest.mark.usefixtures("strict")
HOUR = 3600.0
DC = "demo 24 V 60 W external"
BOTH = {("lines", name, "pump"): DC for name in ("tank loop", "bed loop")}
TWO = {**BOTH, ("power", "voltage"): "24 V", ("power", "wire_length"): "20 ft", ("power", "battery"): "lead-acid AGM", ("power", "capacity"): "200 Ah", ("power", "charger"): "20 A"}  # fmt: skip
ONE = {("lines", "riser", "pump"): "demo 24 V 100 W external", ("power", "voltage"): "24 V", ("power", "wire"): "2.5 mm2 flexible", ("power", "wire_length"): "6 m",
       ("power", "battery"): "lead-acid AGM", ("power", "capacity"): "280 Ah"}  # fmt: skip
SUN = {**ONE, ("power", "panel"): "4000 W", ("power", "latitude"): "35 deg"}


def changed(name, changes):
    return load(name).changed(changes)


def electric(build):
    return [part for part in parts.parts_list(build) if part.group == "Electricity"]


# --- one plan ----------------------------------------------------------------------------------------------


def test_two_pumps_have_a_wire_and_a_fuse_each_and_a_main_fuse_before_both():
    """By hand: 54.4 W and 56.4 W at 24 V are 2.27 and 2.35 A; × 1.25 are 2.8 and 2.9: 3 A each. Together 4.6 A, 5.8: 7.5 A (ISO 8820-3)."""
    build = changed("greenhouse", TWO)
    plan, seen, found = Steady(build).power, review(build), electric(build)
    assert [one.name for one in plan.branches] == ["tank loop", "bed loop"]
    for one in plan.branches:
        watts = plan.lines[one.name].run.supply_power
        assert one.current == pytest.approx(watts / 24) and 1 < 1.25 * watts / 24 / 2 < 1.5
        assert one.fuse == seen[f"power.{one.name} fuse"].value == 3
        assert supply.WireWhatIf(build, one.name)(**supply.WireWhatIf(build, one.name).own()).si.fuse == 3  # the page
    assert plan.main.fuse == seen["power.main fuse"].value == 7.5
    assert {part.size.split(",")[0]: part.amount for part in found if part.what == "fuse"} == {"3 A": 2, "7.5 A": 1}
    wires = [part for part in found if part.what == "wire"]
    feet = sum(part.amount for part in wires)
    # 20 ft there and back, twice, and 1 m (3.28 ft) there and back to the fuse block; a tenth more
    assert feet == pytest.approx(1.1 * (2 * 2 * 20 + 2 * 1 / 0.3048), rel=0.01)
    assert [part.size for part in found if part.what == "fuse block"] == ["for 2 branches"]


def test_one_pump_needs_no_second_fuse():
    plan, found = Steady(changed("courtyard", SUN)).power, electric(changed("courtyard", SUN))
    assert plan.main is None and [part.amount for part in found if part.what == "fuse"] == [1]
    assert "power.main fuse" not in review(changed("courtyard", SUN)).results


def test_what_hangs_on_the_battery_adds_up():
    """35 W of air pump through an inverter of 85 % are 41.2 W, and 2 % of 150 W idle; 10 W that always run; the pump as wired."""
    build = changed("courtyard", {**SUN, ("power", "inverter"): "150 W", ("power", "always"): "10 W"})
    plan = Steady(build).power
    loads = {load_.name: load_ for load_ in plan.loads}
    assert loads["demo mains 35 W air pump, by the inverter"].mean == pytest.approx(35 / 0.85)
    assert loads["the inverter itself"].mean == pytest.approx(3)
    assert plan.mean == pytest.approx(35 / 0.85 + 3 + 10 + plan.lines["riser"].run.supply_power)
    assert {one.name for one in plan.branches} == {"riser", "what always runs", "inverter"}
    assert [part.size for part in electric(build) if part.what == "inverter"] == ["150 W"]


def test_an_air_pump_on_the_same_battery_is_a_load_whatever_its_voltage_and_one_that_does_not_fit_is_told():
    """The worse speaks: a file that gives a 12 V air pump no other battery is taken at its word, and told that 24 V do not fit."""
    own = {("air", "pump"): "demo battery 18 W air pump"}  # 12 V
    twelve = {
        **{key: value for key, value in ONE.items() if key[0] == "power"},
        ("power", "voltage"): "12 V",
        ("lines", "riser", "pump"): "demo 12 V 40 W submersible",
    }
    with_air = Steady(changed("courtyard", {**twelve, **own})).power
    assert with_air.mean - Steady(changed("courtyard", twelve)).power.mean == pytest.approx(18)
    build = changed("courtyard", {**SUN, **own})
    assert Steady(build).power.mean - Steady(changed("courtyard", SUN)).power.mean == pytest.approx(18)
    told = review(build).finding("supply does not fit the pump")
    assert told.severity == "stop" and "24 V" in told.sentence and "made for 12 V" in told.sentence
    cured = build.changed({("air", "keeps_on"): True})  # the cure, literally
    assert "supply does not fit the pump" not in {f.name for f in review(cured).findings}
    assert Steady(cured).power.mean == Steady(changed("courtyard", SUN)).power.mean


def test_a_spare_off_the_systems_battery_is_a_load_of_its_name_with_wire_and_fuse():
    """By hand: 18 W at 12 V are 1.5 A, × 1.25 are 1.9: 2 A (ISO 8820-3); it draws in a cut only, and the hours are reckoned with it."""
    twelve = {
        **{key: value for key, value in ONE.items() if key[0] == "power"},
        ("power", "voltage"): "12 V",
        ("lines", "riser", "pump"): "demo 12 V 40 W submersible",
    }
    own, shared = (Steady(changed("courtyard", {**twelve, ("air", "backup_capacity"): size})).power for size in ("20 Ah", None))
    [load_] = [one for one in shared.loads if one.in_a_cut]
    assert load_.name == "demo battery 18 W air pump, the spare, in a power cut" and load_.power == 18
    assert not [one for one in own.loads if one.in_a_cut] and own.most == own.mean == shared.mean
    assert shared.most == pytest.approx(shared.mean + 18)
    assert shared.hours / own.hours == pytest.approx(own.most / shared.most)
    [branch] = [one for one in shared.branches if one.name == "spare air pump"]
    assert branch.current == pytest.approx(1.5) and branch.fuse == 2
    seen = review(changed("courtyard", {**twelve, ("air", "backup_capacity"): None}))
    assert seen["power.in a cut"].value == pytest.approx(shared.most)


def test_a_generator_makes_up_for_the_day_by_hand():
    """80 % of 1,000 W through a charger of 85 % are 680 W; 280 Ah of AGM take 0.3 of that in amperes, 84 A × 24 V: more. 91.3 W × 24 h/(680 × 0.85)."""
    plan = Steady(changed("courtyard", {**ONE, ("power", "generator"): "1000 W"})).power
    assert plan.charging == pytest.approx(680)
    assert plan.charger_hours / HOUR == pytest.approx(plan.mean * 24 / (680 * 0.85))
    told = review(changed("courtyard", {**ONE, ("power", "generator"): "1000 W"})).finding("battery that nothing fills")
    assert told.severity == "note" and "outdoors only" in told.cure


def test_a_charger_on_the_mains_hangs_on_the_protected_outlet_too():
    [outlet] = [part for part in electric(changed("lamp-cord-on-the-battery", {})) if part.what == "protected outlet"]
    assert "a battery charger" in outlet.reason  # all that stands on the mains beside water


def test_the_battery_bears_no_stronger_charger():
    """0.3 1/h × 280 Ah × 24 V = 2,016 W, whatever the charger's label says (data/batteries.csv)."""
    assert Steady(changed("courtyard", {**ONE, ("power", "charger"): "200 A"})).power.charging == pytest.approx(2016)


# --- what each pump hangs on ---------------------------------------------------------------------------------


def test_a_pump_is_billed_for_what_the_mains_give():
    """By hand: what sun and generator give costs nothing a kWh; through a charger and an AGM battery of 85 % each a kWh takes 1.38."""
    mains, by_sun = Steady(load("courtyard")).pumped["riser"], Steady(changed("courtyard", SUN)).pumped["riser"]
    assert mains.cost == pytest.approx(mains.power * 8.76 * 0.30)
    assert by_sun.power and by_sun.cost is None and "line riser.cost" not in review(changed("courtyard", SUN)).results
    charged = Steady(changed("courtyard", {**ONE, ("power", "charger"): "20 A"})).pumped["riser"]
    assert charged.cost == pytest.approx(charged.power * 8.76 * 0.30 / 0.85**2)
    untold = Steady(changed("courtyard", {("lines", "riser", "pump"): "demo 24 V 100 W external"})).pumped["riser"]
    assert untold.cost is not None  # nobody has said what feeds it: a power unit on the mains, the dearer
    what_if = PumpWhatIf(changed("courtyard", SUN))
    assert "from sun and battery" in what_if(**what_if.own()).sentence()
    assert SweptBuild(changed("courtyard", SUN)).pumps["riser"].si.supply == "DC"


def test_each_supply_stops_what_hangs_on_it():
    hours = Steady(changed("courtyard", SUN)).power.hours
    assert failures.pump_stops(load("courtyard")) == {failures.POWER: {"riser": 0.0}}  # all on the mains: as it always was
    assert failures.pump_stops(changed("courtyard", SUN)) == {failures.FLAT: {"riser": 0.0}, failures.DARK: {"riser": hours}}
    charger = changed("courtyard", {**ONE, ("power", "charger"): "20 A"})
    assert failures.pump_stops(charger) == {failures.MAINS: {"riser": hours}, failures.FLAT: {"riser": 0.0}}
    generator = changed("courtyard", {**ONE, ("power", "generator"): "1000 W"})
    assert failures.pump_stops(generator) == {failures.FLAT: {"riser": 0.0}}
    mixed = changed(
        "greenhouse",
        {
            ("lines", "tank loop", "pump"): DC,
            ("power", "voltage"): "24 V",
            ("power", "capacity"): "200 Ah",
            ("power", "generator"): "800 W",
        },
    )
    assert failures.pump_stops(mixed) == {failures.MAINS: {"bed loop": 0.0}, failures.FLAT: {"tank loop": 0.0}}
    alone = changed("courtyard", {**SUN, ("power", "capacity"): None})
    assert failures.pump_stops(alone) == {failures.DARK: {"riser": 0.0}}


def test_the_mains_may_fail_and_a_pump_by_sun_goes_on():
    """Conservation of the obvious: its flow in the cut is its flow before; flat, it brings nothing."""
    mixed = changed(
        "greenhouse",
        {
            ("lines", "tank loop", "pump"): DC,
            ("power", "voltage"): "24 V",
            ("power", "capacity"): "200 Ah",
            ("power", "generator"): "800 W",
        },
    )
    for kind, runs in ((failures.MAINS, True), (failures.FLAT, False)):
        fails = failures.failure(mixed, kind)
        assert fails.words == f"{kind} for 8 h"
        run = levels.simulate(mixed, "4 h", events=fails.events(HOUR), quick=True)
        place = run.pumps.index("tank loop")
        late = run.time > 2 * HOUR
        assert run.on[late, place].any() == runs
        if kind == failures.MAINS:
            assert not run.on[late, run.pumps.index("bed loop")].any()
    assert {one.kind for one in drills.drills(mixed).cuts()} == {failures.MAINS, failures.FLAT}


def test_old_names_go_on():
    """ "the power fails" stops every pump, whatever feeds it, for who has it in a notebook."""
    build = changed("courtyard", SUN)
    told = failures.failure(build, failures.POWER)
    assert told.words == "the power fails for 8 h" and [str(event) for event in told.events(0.0)] == ["power fails, from 0 min to 480 min"]
    assert failures.POWER in failures.what_can_fail(load("courtyard")) and failures.POWER not in failures.what_can_fail(build)
    panel = levels_time.panel(build)
    assert panel.record.si.words == "the battery is flat for 8 h"
    panel.set(failure=failures.DARK)
    assert "the battery lasts" in panel.record.si.words and not panel.fault
    assert levels_time.story(build).si.words == "the battery is flat for 8 h"


def test_a_check_valve_is_tried_with_the_supply_that_stops_its_pump_first():
    build = changed("courtyard", {**ONE, ("power", "charger"): "20 A"})
    assert (
        failures.failure(build, failures.CHECK, "riser").words == "the battery is flat for 8 h while the check valve of riser sticks open"
    )


# --- what was not looked at --------------------------------------------------------------------------------------


def test_no_dc_pump_passes_as_sound_without_its_supply():
    """The search that an earlier silence let them win: the cheapest pump of the list with which the build is sound."""
    sound = {}
    for name in pumps.names():
        seen = review(changed("courtyard", {("lines", "riser", "pump"): name}))
        if seen.sound:
            sound[name] = seen
    assert sound and all(pumps.pump(name).si.supply == "mains" for name in sound)
    assert all(pumps.pump(name).si.placement == "submersible" for name in sound)  # the file has no suction pipe


def test_a_dry_pump_with_its_suction_told_is_looked_at():
    bare = changed("suction-throttled", {("lines", "main", "suction", "suction pipe", "opening"): 1.0})
    assert not [f for f in review(bare).findings if f.name == "suction not described"]


# --- bad input -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({("power", "voltage"): "230 V"}, "230 V is above 60 V.*12 or 24 V are usual.*kills near water"),
        ({("power", "voltage"): "1.5 V"}, "1.5 V is below 5 V"),
        ({("power", "charger"): "0 A"}, "charger: 0 A is below 0.01 A"),
        ({("power", "capacity"): None, ("power", "inverter"): "300 W"}, "an inverter needs a battery"),
        ({("power", "cut_off"): "25 V"}, "it has to be under the 24 V of the battery"),
        ({("power", "wire_place"): "in a ditch"}, "in a ditch"),
    ],
)
def test_what_cannot_be_is_one_sentence(changes, words):
    with pytest.raises(DesignError, match=words) as told:
        changed("courtyard", {**ONE, **changes})
    assert "\n" not in str(told.value)


def test_two_small_batteries_make_a_large_voltage():
    told = review(load("twelve-volt-pump-on-two-batteries")).finding("supply does not fit the pump")
    assert "Two equal 12 V batteries in series" in told.cure and "make 24 V" in told.cure
    assert power_plan.CUT_OFF["lead"] * 12 == pytest.approx(11.7)  # 1.95 V × 6 cells: Rolls' advice to owners, 1.85 to 1.95 V a cell

"""What stands behind the air of a build: which use of oxygen counts, how long a spare blows, dirt in the tank, too much gas."""

import math
import re

import numpy as np
import pytest

from aquaplumb import air, fish
from aquaplumb.build import DesignError, demos, load
from aquaplumb.review import review
from aquaplumb.review.findings import air as air_findings
from aquaplumb.system import air_advice, air_plan
from aquaplumb.system.steady import Steady
from aquaplumb.units import u
from aquaplumb.whatif import night_air
from aquaplumb.workshop import parts

MGKGH, MINUTE, AH, DAY = 1e-6 / 3600, 60.0, 3600.0, 86400.0
SPARE, CAPACITY, BATTERY = ("air", "backup_pump"), ("air", "backup_capacity"), ("air", "backup_battery")


def yard(**changes):
    """The courtyard with other fish in it: species, body mass, warmest and coldest water."""
    keys = {
        "species": ("fish", "species"),
        "mass": ("fish", "body_mass"),
        "warm": ("site", "warmest_water"),
        "cold": ("site", "coldest_water"),
    }
    return load("courtyard").changed({keys.get(name, name): value for name, value in changes.items()})


# --- which use counts ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("species", "grams", "celsius", "by_hand"),
    [
        # Boyd, Romaire and Johnston (1978), from memory: 10^(−0.999 − 0.2393 + 0.0375 + 0.981 − 0.0078 + 0.0023) g/kg/h
        ("channel catfish", 250, 30, 595),
        ("Nile tilapia", 100, 28, 227),  # Scientific Reports 11:24130, eq. 4: 2014.45 + 275 − 4625.6 + 70 + 3081.1 − 588
        ("rainbow trout", 250, 15, 266),  # Liao (1971), from memory: 3.05e-4 × 59^1.855 × (250/453.6)^−0.138 lb for 100 lb a day
    ],
)
def test_the_larger_of_feed_and_fit_counts_fasting_and_fed(species, grams, celsius, by_hand):
    """`respiration` has always said: take the larger. A fit is of fed fish: no meal comes on top of it."""
    lightly = air.fish_respiration("1.2 %/d", f"{grams} g", f"{celsius} degC", species=species)
    feed = 0.25 * 0.012 / DAY / MGKGH  # a quarter of the feed: Timmons and Ebeling, from memory
    assert lightly.si.by_feed / MGKGH == pytest.approx(feed)
    assert lightly.si.by_fit / MGKGH == pytest.approx(by_hand, rel=0.005)
    assert lightly.si.usual / MGKGH == lightly.si.fed / MGKGH == pytest.approx(by_hand, rel=0.005)
    assert "fit" in lightly.governs() and "fit" in lightly.governs(fed=True)
    heavily = air.fish_respiration("8 %/d", f"{grams} g", f"{celsius} degC", species=species)
    assert heavily.si.usual / MGKGH == pytest.approx(8 / 1.2 * feed) and heavily.si.fed == pytest.approx(1.4 * heavily.si.usual)
    assert heavily.governs() == "by their feed"


def test_outside_its_range_a_fit_is_carried_on_by_what_print_has():
    """Twice for ten degrees (common practice); W^-0.2 for small fish (Clarke and Johnston 1999, from memory); large ones count as the largest measured."""

    def by_fit(grams, celsius, species="channel catfish"):
        return air.fish_respiration("1 %/d", grams * u.g, f"{celsius} degC", species=species).si.by_fit

    assert by_fit(100, 42) == pytest.approx(2 * by_fit(100, 32))
    assert by_fit(100, 10) == pytest.approx(by_fit(100, 20) / 2)
    assert by_fit(900, 25) == by_fit(500, 25)
    assert by_fit(20 / 32, 25) == pytest.approx(2 * by_fit(20, 25))
    assert by_fit(100, 25, "common carp") == 0


def test_fish_of_no_fit_take_what_fasting_fish_take_in_print():
    """Fasting southern catfish 50, young tilapia 166 to 189 mg/kg/h (abstracts, see `respiration_by_feed`): 100 lies between, up to 25 °C."""
    for celsius, least in ((10, 100), (25, 100), (35, 200)):
        hungry = air.fish_respiration("0.1 %/d", "500 g", f"{celsius} degC", species="koi carp")
        assert hungry.si.usual / MGKGH == pytest.approx(least)
        assert hungry.governs() == "by the least that any fish takes"


@pytest.mark.parametrize(
    ("changes", "left", "spare"),
    [
        ({"species": "channel catfish", "mass": "250 g", "warm": "30 degC", "cold": "24 degC"}, 12, 17),
        ({"species": "Nile tilapia", "mass": "100 g"}, 52, None),
        ({"species": "rainbow trout", "mass": "250 g", "warm": "15 degC", "cold": "12 degC"}, 55, None),
    ],
)
def test_fish_that_breathe_more_than_their_feed_says_have_minutes_and_are_told_so(changes, left, spare):
    """Issue 11, by another hand: 12 minutes, and 17 with the spare, where the feed alone gave 70 and a spare for ever; tilapia 52, trout 55."""
    build = yard(**changes)
    seen = review(build)
    assert seen["air.left"].value / MINUTE == pytest.approx(left, abs=0.5)
    if spare:
        assert seen["air.left spare"].value / MINUTE == pytest.approx(spare, abs=0.5)
    told = {f.name for f in seen.findings if f.severity in ("stop", "fix")}
    assert told & {"oxygen time short", "oxygen low at night"}
    assert "fit" in seen.part("Air") and "what counts, by the" in seen.part("Air")


@pytest.mark.parametrize("name", demos())
def test_one_use_of_oxygen_wherever_it_stands(name):
    """One number, one meaning: fish, tank flow, air and page have the same, and their feed's is the least of it."""
    system = Steady(load(name))
    f, w = system.fish, load(name).water.si
    assert f.oxygen >= 0.25 * f.feed * (1 - 1e-12)
    plans = system.airs.values()  # one for each tank with fish
    assert sum(plan.budget.si.use for plan in plans) == pytest.approx(f.oxygen)
    assert sum(plan.fed.si.use for plan in plans) == pytest.approx(f.fed_oxygen)
    brought = system.need.oxygen * (system.need.inlet_oxygen - w.outlet_oxygen)
    assert brought == pytest.approx(f.fed_oxygen * (1 - w.aerated_share))
    assert f.carbon_dioxide == pytest.approx(1.375 * f.oxygen, rel=1e-3)  # 44.01/32.00
    for plan in plans:
        need = air_advice.spare_needed(plan)
        assert need.transfer == pytest.approx(plan.fed.si.use - surface(plan))


def surface(p):
    s = p.budget.si
    return s.film * s.surface * (p.saturation - p.critical)


# --- the spare's battery ------------------------------------------------------------------------------------


def test_a_spare_blows_until_its_battery_is_flat():
    """18 W on 7 Ah of 12 V run two hours: 84 Wh, half of it let out and 0.8 of that when old (data/batteries.csv), 112 min."""
    p = Steady(load("courtyard").changed({CAPACITY: "7 Ah"})).air
    assert p.battery.lasts == pytest.approx(7 * 12 * 3600 * 0.5 * 0.8 / 18)
    power = p.failures[air_plan.POWER]
    assert power.ends == pytest.approx(p.battery.lasts + MINUTE)
    # by the usual stones it held the level up to then; from there it falls as without a spare
    level = air.oxygen_after.si(power.dead, p.start, MINUTE)
    held = air.OxygenBudget.from_si(**{**vars(power.dead.si), "standard_transfer": p.spare.standard})
    level = air.oxygen_after.si(held, level, p.battery.lasts)
    assert power.lasts[1] == pytest.approx(power.ends + air.time_to_oxygen.si(power.dead, level, p.critical)[1])
    larger = Steady(load("courtyard").changed({CAPACITY: "14 Ah"})).air.failures[air_plan.POWER]
    assert power.lasts[1] < larger.lasts[1] < math.inf
    assert power.lasts[0] == larger.lasts[0]  # by poor stones the danger comes while it still blows


def test_the_drawn_night_ends_its_spare_where_the_plan_does():
    """Two ways: the closed forms of the plan, and where the run that is drawn crosses the critical level."""
    p = Steady(load("courtyard").changed({CAPACITY: "7 Ah"})).air
    more = {"meals": (21 * 3600.0,), "meal_length": 14 * 3600.0, "meal_peak": p.meal_peak, "begin": 20 * 3600.0, "end": 40 * 3600.0}
    off = (27 * 3600.0, 40 * 3600.0)
    spare = {"backup_transfer": p.spare.standard, "backup_delay": MINUTE, "backup_lasts": p.battery.lasts}
    run = air.oxygen_run.si(p.budget, p.critical, pump_off=off, air_off=off, **more, **spare).si
    assert run.first_below - 27 * 3600.0 == pytest.approx(p.failures[air_plan.POWER].lasts, rel=1e-6)


def test_a_battery_of_another_kind_and_a_mains_pump_on_an_inverter():
    """LiFePO4: 0.8 of the label let out, 12.8 V (data/batteries.csv); an inverter gives 0.85 of what it takes, common practice."""
    kind = Steady(load("courtyard").changed({BATTERY: "LiFePO4"})).air.battery
    assert kind.lasts == pytest.approx(20 * AH * 12 * 0.8 * 0.8 / 18)
    mains = {SPARE: "demo mains 35 W air pump"}
    still = Steady(load("courtyard").changed(mains)).air
    assert not still.spare_runs and still.battery is None
    inverted = load("courtyard").changed({**mains, ("air", "backup_inverter"): True})
    p = Steady(inverted).air
    assert p.spare_runs and p.battery.power == pytest.approx(35 / 0.85)
    assert p.battery.lasts == pytest.approx(20 * AH * 12 * 0.5 * 0.8 / (35 / 0.85))
    bought = {row.what: row.size for row in parts.parts_list(inverted) if row.group == "Air"}
    assert bought["inverter"].startswith("70 W or more") and "at least 20 Ah" in bought["battery"]  # twice 35 W: its motor has to start
    twice = Steady(inverted.changed({("air", "backup_voltage"): "24 V"})).air  # two in a row: the same label, twice the energy
    assert twice.battery.lasts == pytest.approx(2 * p.battery.lasts)
    assert twice.failures[air_plan.POWER].ends - p.failures[air_plan.POWER].ends == pytest.approx(p.battery.lasts)
    with pytest.raises(DesignError, match="backup_voltage.*backup_inverter = true"):
        load("courtyard").changed({("air", "backup_voltage"): "24 V"})
    with pytest.raises(DesignError, match="backup_voltage: 230 V is above 60 V, the most for the batteries of the spare's inverter"):
        load("courtyard").changed({("air", "backup_inverter"): True, ("air", "backup_voltage"): "230 V"})


def test_what_the_file_does_not_say_of_its_battery_is_said_and_taken_small():
    build = load("courtyard").changed({CAPACITY: None})
    p = Steady(build).air
    assert not p.battery.told and p.battery.capacity == 7 * AH
    [told] = [f for f in review(build).findings if f.name == "spare battery short"]
    assert "does not say what battery it has" in told.sentence and "7 Ah" in told.sentence
    with pytest.raises(DesignError, match="backup_capacity: .* is below 0.1 Ah"):
        load("courtyard").changed({CAPACITY: "0 Ah"})


def test_a_battery_air_pump_counts_in_the_load_of_the_builds_battery():
    """Arithmetic: 18 W beside the 18 W that `always` runs, and twice the load is half the time."""
    base = {
        ("power", "voltage"): "12 V",
        ("power", "battery"): "lead-acid AGM",
        ("power", "capacity"): "100 Ah",
        ("power", "always"): "18 W",
    }
    own, shared = (Steady(load("courtyard").changed({**base, CAPACITY: capacity})) for capacity in ("20 Ah", None))
    assert shared.power.mean == own.power.mean == pytest.approx(18)  # a spare draws only while the mains fail
    assert shared.power.hours == pytest.approx(own.power.hours / 2)
    assert shared.air.battery.capacity is None and shared.air.battery.lasts == shared.power.hours
    assert own.air.battery.capacity == 20 * AH
    usual = Steady(load("courtyard").changed({**base, ("air", "pump"): "demo battery 18 W air pump"}))
    assert usual.power.mean == pytest.approx(36)


def test_an_everyday_pump_that_keeps_on_ends_with_its_battery_too():
    """7 Ah of 12 V at 35 W through an inverter: 7 × 12 × 0.4 / 41.2 h, 49 min; then the tank is still."""
    build = load("courtyard").changed({("air", "keeps_on"): True, SPARE: None, ("air", "backup_stones"): None, CAPACITY: None})
    power = Steady(build).air.failures[air_plan.POWER]
    assert power.ends == pytest.approx(7 * 12 * 3600 * 0.4 / (35 / 0.85))
    still = Steady(load("courtyard").changed({SPARE: None, ("air", "backup_stones"): None})).air.failures[air_plan.POWER]
    assert np.all(still.bare < power.bare) and np.all(np.isfinite(power.bare))


# --- what each supply carries -------------------------------------------------------------------------------

DC = {("lines", "riser", "pump"): "demo 24 V 100 W external", ("power", "voltage"): "24 V", ("power", "wire"): "2.5 mm2 flexible",
      ("power", "wire_length"): "6 m", ("power", "battery"): "lead-acid AGM", ("power", "capacity"): "280 Ah"}  # fmt: skip
PANEL = {**DC, ("power", "panel"): "4000 W", ("power", "latitude"): "35 deg"}
CHARGED = {**DC, ("power", "charger"): "20 A"}
INVERTED = {**PANEL, ("power", "inverter"): "150 W"}
NO_SPARE = {SPARE: None, ("air", "backup_stones"): None, CAPACITY: None}
MAINS, FLAT, DARK = "the mains fail", "the battery is flat", "the panel is dark"


def failures_of(*changes):
    return Steady(load("courtyard").changed({key: value for some in changes for key, value in some.items()})).air.failures


def test_on_the_mains_all_stops_with_them_as_it_always_did():
    """The volume's oxygen above the danger over 1.4 × what the fish use (the surface, at most 6 % of it, left out)."""
    system = Steady(load("courtyard").changed(NO_SPARE))
    p = system.air
    assert p.cut == air_plan.POWER and list(p.failures) == [air_plan.POWER, air_plan.PUMP, air_plan.AIR]
    failed = p.failures[air_plan.POWER]
    by_hand = (p.start[1] - p.critical) * system.fish.tank_volume / system.fish.fed_oxygen
    assert not failed.pump_runs and not failed.air_runs and by_hand < failed.bare[1] < 1.06 * by_hand


def test_a_pump_on_battery_and_sun_brings_oxygen_while_the_mains_fail_and_stops_when_the_battery_is_flat():
    found = failures_of(PANEL, NO_SPARE)
    assert list(found) == [MAINS, FLAT, DARK, air_plan.PUMP, air_plan.AIR]
    mains, flat, alone = found[MAINS], found[FLAT], found[air_plan.PUMP]
    assert mains.pump_runs and not mains.air_runs  # the water goes on, the 35 W mains air pump does not
    assert mains.bare == pytest.approx(found[air_plan.AIR].bare) and np.all(np.isinf(mains.bare))
    assert not flat.pump_runs and flat.air_runs and flat.bare == pytest.approx(alone.bare)


def test_a_battery_that_the_mains_alone_fill_carries_the_water_for_its_hours():
    """280 Ah × 24 V × 0.5 × 0.8 / what the pump draws; then the time of still water from the level that the inflow held."""
    build = load("courtyard").changed({**CHARGED, **NO_SPARE})
    system = Steady(build)
    hours = system.power.hours
    assert 0.8 < hours / (280 * AH * 24 * 0.4 / system.power.mean) < 1  # the cold takes the rest
    failed = system.air.failures[MAINS]
    held = air.steady_oxygen.si(system.air.failures[air_plan.AIR].dead)  # water alone, settled after a day
    still = air.time_to_oxygen.si(air.without.si(system.air.fed), held, system.air.critical)
    assert failed.bare[1] == pytest.approx(hours + np.max(still), rel=1e-3)
    assert DARK not in system.air.failures


def test_an_air_pump_on_the_inverter_keeps_on_and_ends_with_the_battery():
    found = failures_of(INVERTED, NO_SPARE)
    assert found[MAINS].pump_runs and found[MAINS].air_runs and np.all(np.isinf(found[MAINS].bare))
    flat, power = found[FLAT], failures_of(NO_SPARE)[air_plan.POWER]
    assert not flat.pump_runs and not flat.air_runs and flat.bare == pytest.approx(power.bare, rel=0.01)  # all still, by either name
    build = load("courtyard").changed({**INVERTED, **NO_SPARE})
    seen = review(build)
    told = seen.finding("oxygen time short")
    assert told.severity == "stop" and told.sentence.startswith("When the battery is flat after a meal")
    assert "from when the battery is flat to danger" in seen.part("Air")
    # the cure, literally: off the grid a spare on a battery of its own waits for the pumps' supply
    cured = build.changed({SPARE: "demo battery 40 W air pump", ("air", "backup_stones"): 8, CAPACITY: "13 Ah"})
    assert "demo battery 40 W air pump with 13 Ah" in told.cure and "through 8 such stones" in told.cure
    assert Steady(cured).air.failures[FLAT].spare
    assert "oxygen time short" not in {f.name for f in review(cured).findings}


def test_on_one_charged_battery_air_with_a_battery_of_its_own_is_the_cure_and_a_spare_that_waits_for_the_mains_is_not():
    """Pump and air on an inverter, filled from the mains: a flat battery stops both, and no spare sees it."""
    build = load("courtyard").changed({**CHARGED, ("power", "inverter"): "150 W"})
    found = Steady(build).air.failures[FLAT]
    assert not found.pump_runs and not found.air_runs and not found.spare
    told = review(build).finding("oxygen time short")
    assert told.sentence.startswith("When the battery is flat") and "keeps_on = true" in told.cure
    assert "does not start" in told.cure
    pump, stones = re.search(r"such as (.+?) that has .+? through (\d+)", told.cure).groups()
    cured = build.changed({("air", "pump"): pump, ("air", "stones"): int(stones), ("air", "keeps_on"): True})
    assert Steady(cured).air.failures[FLAT].air_runs
    assert "When the battery is flat" not in " ".join(f.sentence for f in review(cured).findings if f.notebook == "10")


def test_a_spare_on_the_systems_battery_does_not_see_that_go_flat():
    twelve = {**PANEL, ("power", "voltage"): "12 V", ("lines", "riser", "pump"): "demo 12 V 40 W submersible", CAPACITY: None}
    found = failures_of(twelve, {("air", "pump"): "demo battery 18 W air pump"})
    assert not found[FLAT].spare and not found[FLAT].air_runs and found[MAINS].air_runs


def test_what_falls_into_the_tank_is_as_much_less_as_is_pumped():
    """Conservation: two pumps, one on the mains and one on a battery; each alone brings its own part, and both the whole."""
    system = Steady(load("greenhouse"))
    whole = air_plan.into_tanks(system)
    parts_ = [air_plan.into_tanks(system, {name}) for name in system.pumped]
    assert len(parts_) == 2 and sum(parts_) == pytest.approx(whole) and air_plan.into_tanks(system, set()) == 0
    mixed = Steady(load("greenhouse").changed({**{key: value for key, value in DC.items() if key[0] == "power"}, ("lines", "tank loop", "pump"): "demo 24 V 60 W external"}))  # fmt: skip
    assert mixed.air.failures[MAINS].dead.si.inflow == pytest.approx(air_plan.into_tanks(mixed, {"tank loop"}))
    assert mixed.air.failures[FLAT].dead.si.inflow == pytest.approx(air_plan.into_tanks(mixed, {"bed loop"}))


def test_page_ten_offers_and_says_the_failures_of_the_builds_supply():
    panel = night_air.panel(load("courtyard").changed(INVERTED | NO_SPARE))
    assert panel.control("fails").spec.options == {
        "the mains": MAINS, "the battery": FLAT, "the panel": DARK, "the water pump alone": air_plan.PUMP, "the air pump alone": air_plan.AIR,
    }  # fmt: skip
    assert panel.said.startswith("When the battery is flat, danger comes in") and not panel.record.si.in_time
    panel.set(fails=MAINS)
    assert panel.said.startswith("When the mains fail, the oxygen holds.") and panel.record.si.in_time
    after = panel.record.si.typical[panel.record.si.times > air_plan.FAILS]
    assert after.min() == pytest.approx(panel.record.si.start, rel=1e-3)  # the drawn night too
    table = night_air.sources(load("courtyard").changed(INVERTED | NO_SPARE))
    assert list(table.columns) == ["everything runs", "battery is flat"]


# --- dirt and gas -------------------------------------------------------------------------------------------


def test_a_tank_with_its_dirt_in_it_takes_half_a_kilogram_for_one_of_feed():
    """Timmons and Ebeling, from memory: 0.4 to 0.5 for a whole tank with solids in it, 0.25 for the fish alone."""
    feed = 200 * u.g / u.day
    whole = (fish.fish_oxygen(feed) + fish.dirt_oxygen(feed)).to("g/d").magnitude
    assert 0.4 * 200 <= whole <= 0.5 * 200 + 1e-9
    assert fish.dirt_oxygen(feed, stays=0.5) == fish.dirt_oxygen(feed) / 2


def test_dirt_shortens_the_minutes_and_asks_for_more_of_everything():
    clean, foul = (Steady(load("courtyard").changed({("water", "solids_stay"): share})) for share in ("0 %", "100 %"))
    assert foul.fish.dirt_oxygen == pytest.approx(0.25 * foul.fish.feed) and clean.fish.dirt_oxygen == 0
    left = [s.air.failures[air_plan.POWER].bare[1] for s in (clean, foul)]
    # by hand, the surface left out: the volume's oxygen over 1.4 × 0.25 and over 1.4 × 0.25 + 0.25 of the feed
    for s, share, time in zip((clean, foul), (0.35, 0.60), left):
        by_hand = (s.air.start[1] - s.air.critical) * s.fish.tank_volume / (share * s.fish.feed)
        assert by_hand < time < 1.07 * by_hand
    assert foul.need.oxygen == pytest.approx(clean.need.oxygen * 0.60 / 0.35)
    assert air_advice.spare_needed(foul.air).air_flow[0] > 1.6 * air_advice.spare_needed(clean.air).air_flow[0]
    assert "their dirt in the tank" in review(foul.build).part("Air")


def test_whether_dirt_leaves_is_told_or_seen_by_where_the_water_is_drawn():
    """Definition: what sinks leaves with water from the floor; at the surface it stays, as far as anybody knows."""
    stays, intake = ("water", "solids_stay"), ("lines", "tank overflow", "intake")
    for changes, share in (
        ({}, 0.0),
        ({stays: "40 %"}, 0.4),
        ({stays: None}, 1.0),
        ({stays: None, intake: "0.25 m"}, 0.0),  # 10 cm above the floor
        ({stays: None, intake: "0.5 m"}, 1.0),
    ):
        assert Steady(load("courtyard").changed(changes)).fish.stays == share


def test_the_limits_of_gas_are_those_of_print():
    """Total gas 110 %: Washington Administrative Code 173-201A-200 (1)(f). Oxygen to 200 % made 120 % in all at 18 to 20 mg/L: Edsall and Smith, abstract."""
    assert air_findings.MOST_GAS == 1.10
    share = 0.20946  # of oxygen in air
    assert 1 + share * (2.0 - 1) == pytest.approx(1.20, abs=0.015)  # the abstract's total
    assert 1 + share * (air_findings.PURE - 1) == pytest.approx(1.10)
    assert 18e-3 <= air_findings.MOST_OXYGEN <= 20e-3

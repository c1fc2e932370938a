"""Nine systems that others have built and printed, each written as it is: its print's own figures, what the review finds, and its cures.

The builds lie in `published/`; each says at its top what was looked up in print, what is from memory, and what had to be chosen because
print leaves it open. No print has the barrels on a flush tank; that layout is the demo `barrel-yard`.
"""

import functools
import importlib
import math
import pkgutil
import re
from pathlib import Path

import pytest

import cures
from aquaplumb import whatif
from aquaplumb.build import load
from aquaplumb.build.vessels import plan_area, water_volume
from aquaplumb.review import findings, review
from aquaplumb.system.steady import Steady
from aquaplumb.units import HEAD, STOCKING

HERE = Path(__file__).parent / "published"
NAMES = sorted(path.stem for path in HERE.glob("*.toml"))
DAY, HOUR = 86400.0, 3600.0
PANELS = [name for _, name, _ in pkgutil.iter_modules(whatif.__path__) if hasattr(importlib.import_module(f"aquaplumb.whatif.{name}"), "panel")]  # fmt: skip


@functools.cache
def build(name):
    return load(HERE / f"{name}.toml")


@functools.cache
def told(name):
    return review(build(name))


def number(name, key):
    return told(name)[key].value


def water(name, vessel):
    """The water of a vessel, all alike together, at the depth that the file says [m³]."""
    v = build(name).vessels[vessel]
    return water_volume.si(v, v.si.working_depth)


def test_there_are_nine_and_they_use_every_kind_of_vessel_and_filter_but_few():
    vessels = [v for name in NAMES for v in build(name).vessels.values()]
    assert len(NAMES) == 9
    assert {v.si.kind for v in vessels} >= {"fish tank", "settling tank", "filter", "sump", "bed", "raft", "channel", "tower"}
    assert {one for v in vessels for one in v.si.does} >= {
        "settling", "swirl", "radial flow", "mat", "brushes", "media", "moving bed", "trickling", "degassing",
    }  # fmt: skip
    assert {line.si.kind for name in NAMES for line in build(name).falling.values()} >= {"overflow", "bed drain", "joint"}
    assert all(build(name).text.count("ooked up") and build(name).text.count("hosen here") for name in NAMES)


# --- print's own figures --------------------------------------------------------------------------

FAO = "FAO 589 (2014) ch. 8 quick table, from memory"
FAO_FEED = "FAO 589 (2014) §8.1, looked up"
UVI = "Rakocy et al., a commercial-scale aquaponic system, looked up"
UVI_MEMORY = "Rakocy, Masser and Losordo 2006, SRAC 454, from memory"
# system: (what, our value in print's unit, print's value, part that it may differ by, source); a volume that is said with two
# figures is met to 1 %, a rule of thumb to 10 %.
PRINT = {
    "media-beds": [
        ("tank [L]", lambda n: 1e3 * number(n, "fish.tank volume"), 1000, 0.01, FAO),
        ("fish [kg]", lambda n: number(n, "fish.biomass"), 20, 0.01, FAO),
        ("feed [g/d]", lambda n: 1e3 * DAY * number(n, "fish.feed"), 200, 0.01, FAO),
        ("area [m²]", lambda n: number(n, "beds.area"), 4, 0.11, FAO),
        ("flow [L/h]", lambda n: 3.6e6 * number(n, "line riser.flow"), 2000, 0.2, FAO),
    ],
    "film": [
        ("tank [L]", lambda n: 1e3 * number(n, "fish.tank volume"), 1000, 0.01, FAO),
        ("feed [g/d]", lambda n: 1e3 * DAY * number(n, "fish.feed"), 200, 0.01, FAO),
        ("bioballs [L]", lambda n: 1e3 * build(n).vessels["biofilter"].media, 100, 0.001, FAO),
        ("plants, at 25 a square metre, on [m²]", lambda n: number(n, "beds.plants") / 25, 4, 0.05, FAO),
    ],
    "rafts": [
        ("tank [L]", lambda n: 1e3 * number(n, "fish.tank volume"), 1000, 0.01, FAO),
        ("feed [g/d]", lambda n: 1e3 * DAY * number(n, "fish.feed"), 200, 0.01, FAO),
        ("area [m²]", lambda n: number(n, "beds.area"), 4, 0.11, FAO),
        ("bioballs [L]", lambda n: 1e3 * build(n).vessels["biofilter"].media, 100, 0.001, FAO),
    ],
    "few-fish": [
        ("fish [kg]", lambda n: number(n, "fish.biomass"), 5, 0.01, "FAO 589 (2014) ch. 4, from memory"),
        ("fish on a square metre [kg]", lambda n: number(n, "fish.biomass") / number(n, "beds.area"), 1.25, 0.2, "FAO 589: 1 to 1.5, from memory"),
    ],
    "sand-beds": [
        ("sand over tank", lambda n: number(n, "beds.media") / number(n, "fish.tank volume"), 1.5, 0.01, "McMurtry et al. 1997, looked up"),
        ("density [kg/m³]", lambda n: number(n, "fish.biomass") / number(n, "fish.tank volume"), 13.3, 0.01, "McMurtry et al. 1997, looked up"),
    ],
    "four-tanks": [
        ("a tank [m³]", lambda n: water(n, "tank 1"), 7.8, 0.01, UVI),
        ("a clarifier [m³]", lambda n: water(n, "clarifier 1"), 3.8, 0.03, UVI),
        ("a filter tank [m³]", lambda n: water(n, "nets 1") / 2, 0.7, 0.01, UVI),
        ("the degasser [m³]", lambda n: water(n, "degasser"), 0.7, 0.01, UVI),
        ("a raft tank [m³]", lambda n: water(n, "rafts") / 6, 11.3, 0.01, UVI),
        ("rafts [m²]", lambda n: number(n, "beds.area"), 214, 0.01, UVI),
        ("sump [m³]", lambda n: water(n, "sump"), 0.6, 0.01, UVI),
        ("all water but that of the base tank [m³]", lambda n: sum(water(n, v) for v in build(n).vessels), 110.9 - 0.2, 0.01, UVI),
        ("flow [L/min]", lambda n: 6e4 * number(n, "line riser.flow"), 378, 0.08, UVI_MEMORY),
        ("density of the oldest [kg/m³]", lambda n: number(n, "tank tank 1.density"), 61.5, 0.03, UVI_MEMORY),
    ],
    "catfish": [
        ("large fish [kg]", lambda n: number(n, "stock large.fish"), 50, 0.01, "Goddek et al. 2019 §7.4, looked up"),
        ("fish for a cubic metre", lambda n: 35 / number(n, "tank large tank.water"), 35, 0.01, "Goddek et al. 2019 §7.4, looked up"),
    ],
    "trout": [
        ("density [kg/m³]", lambda n: number(n, "fish.biomass") / number(n, "fish.tank volume"), 24.5, 0.01, "Quevedo and Alvarez 2005, looked up"),
        ("grown from 205 fish of 188 g [kg]", lambda n: 205 * 0.188, 38.5, 0.01, "Quevedo and Alvarez 2005, looked up"),
    ],
    "towers": [
        ("places", lambda n: number(n, "beds.plants"), 8 * 24, 0.001, "Domenghini et al. 2022, looked up"),
        ("height [m]", lambda n: build(n).vessels["towers"].si.height, 1.2, 0.001, "Domenghini et al. 2022, looked up"),
    ],
}  # fmt: skip
FIGURES = [(name, *figure) for name, figures in PRINT.items() for figure in figures]


@pytest.mark.parametrize(("name", "what", "ours", "printed", "part", "source"), FIGURES, ids=[f"{f[0]}: {f[1]} ({f[5]})" for f in FIGURES])
def test_the_review_has_the_figures_of_print(name, what, ours, printed, part, source):
    assert ours(name) == pytest.approx(printed, rel=part)


# g of feed a day on a square metre: FAO 589 §8.1, leafy 40 to 50 and fruiting 50 to 80; UVI rafts 60 to 100 (Rakocy 2007); all looked up.
# FAO's own table has 4 m² for 200 g, and three beds or canals of cube tanks have 3.6: so 55 is met where 50 is meant.
@pytest.mark.parametrize(("name", "low", "high"), [("media-beds", 50, 80), ("rafts", 40, 56), ("film", 40, 56), ("four-tanks", 60, 100)])
def test_feed_on_a_square_metre_is_as_in_print(name, low, high):
    area = number(name, "beds.plants") / 25 if name == "film" else number(name, "beds.area")
    assert low <= 1e3 * DAY * number(name, "fish.feed") / area <= high


def test_water_under_rafts_is_new_as_often_as_in_print():
    """1 to 4 h, FAO 589 chapter 4 (looked up); 3 h in the rafts, 1.37 h in a tank, 20 min in a clarifier: SRAC 454 (from memory)."""
    for name in ("rafts", "few-fish"):
        assert 1 <= water(name, "canals") / told(name).system.vessels["canals"].mean / HOUR <= 4
    flow = 378e-3 / 60
    assert water("four-tanks", "rafts") / flow / HOUR == pytest.approx(3.0, rel=0.02)
    assert water("four-tanks", "tank 1") / (flow / 4) / HOUR == pytest.approx(1.37, rel=0.02)
    assert 2 * water("four-tanks", "clarifier 1") / flow / 60 == pytest.approx(20, rel=0.05)


def test_each_film_pipe_gets_what_print_sends_it():
    """1 to 2 L/min, FAO 589 §4.4 (looked up)."""
    assert 1 <= 6e4 * told("film").system.vessels["pipes"].mean / 8 <= 2


def test_media_and_filters_are_as_in_print():
    """At least 200 L of tuff for 200 g of feed (FAO 589 ch. 8, from memory); carriers fill half to 70 % (Timmons and Ebeling, from memory)."""
    assert 1e3 * number("media-beds", "beds.media") >= 200
    bed = build("trout").vessels["moving bed"]
    assert 0.5 <= bed.media / water("trout", "moving bed") <= 0.7


# --- hand calculation ------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_fish_feed_ammonia_and_flow_by_hand(name):
    """Geometry; TAN = 0.092 F PC (Timmons & Ebeling, in Losordo and DeLong 2015: 60 kg/d of 40 % give 2.208 kg/d); Q = P/(C η) as there."""
    b = build(name)
    stocks = list(b.stocks.values())
    if b.several:
        mass = [s.si.count * s.si.body_mass for s in stocks]
    else:
        v = b.of_kind("fish tank")[0].si
        mass = [stocks[0].si.density * v.working_depth * (math.pi / 4 * v.diameter**2 if v.shape == "round" else v.length * v.width)]
    feed = [m * s.si.feeding_rate for m, s in zip(mass, stocks)]
    ammonia = sum(0.092 * f * s.si.protein for f, s in zip(feed, stocks))
    w = b.water.si
    assert number(name, "fish.biomass") == pytest.approx(sum(mass), rel=1e-3)
    assert number(name, "fish.feed") == pytest.approx(sum(feed), rel=1e-3)
    assert number(name, "fish.ammonia") == pytest.approx(ammonia, rel=1e-3)
    assert number(name, "need.ammonia") == pytest.approx(ammonia / (w.ammonia_limit * w.removal), rel=1e-3)


@pytest.mark.parametrize(
    ("name", "vessel", "area"),
    [
        ("film", "separator", math.pi / 4 * 0.57**2),
        ("trout", "settling tank", 2.5 * 1.0),
        ("four-tanks", "clarifier 1", math.pi / 4 * 1.83**2),
        ("catfish", "settler", math.pi / 4 * 0.75**2),
    ],
)
def test_water_rises_in_a_filter_by_its_flow_over_its_area(name, vessel, area):
    """Hazen 1904: v = Q/A."""
    state = told(name).system.vessels[vessel]
    assert plan_area.si(state.vessel) == pytest.approx(area, rel=1e-6)
    assert number(name, f"filter {vessel}.rises at") == pytest.approx(state.peak / area, rel=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_what_is_pumped_comes_back(name):
    """Continuity: over the hour as much comes into each vessel as leaves it, within a hundredth of the pumps' flow."""
    system = told(name).system
    lifted = sum(line.flow * line.duty for line in system.pumped.values())
    for vessel in system.vessels:
        comes = system.vessels[vessel].mean
        leaves = sum(f.mean for f in system.falling.values() if f.line.si.source == vessel and f.leaves_vessel)
        leaves += sum(line.flow * line.duty for line in system.pumped.values() if line.line.si.source == vessel)
        assert comes == pytest.approx(leaves, abs=0.01 * lifted)


# --- what the review finds, and its cures ------------------------------------------------------------

SAME = {"flow short of oxygen need", "no overflow path", "outlet without a screen"}
# What is to mend in each, as print has it: one pump, one way out of each vessel, and no air or too little of it.
FOUND = {
    "media-beds": SAME | {"drain has no fall", "pump short at real head"},
    "film": SAME | {"pump short at real head", "pump runs dry"},
    "rafts": SAME | {"sump overflows on power cut", "pump short at real head", "pump runs dry", "oxygen time short"},
    "few-fish": SAME | {"oxygen time short", "pump short at real head", "pump runs dry"},
    "sand-beds": (SAME - {"outlet without a screen"}) | {"fish tank falls below a safe depth", "timer too short", "oxygen time short"},
    "four-tanks": (SAME - {"flow short of oxygen need"}) | {"density over limit", "solids rise with the water", "pump runs dry", "oxygen low at night", "oxygen time short"},
    "catfish": SAME | {"density over limit", "trickling filter badly wetted", "pump short at real head", "oxygen time short"},
    "trout": SAME | {"oxygen time short", "density over limit", "pump short at real head"},
    "towers": SAME | {"solids rise with the water", "pump short at real head"},
}  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_the_review_finds_what_print_leaves_open(name):
    assert {f.name for f in told(name).findings if f.severity != "note"} == FOUND[name]


@functools.cache
def mended(name):
    return cures.mended(build(name), at_once=name == "four-tanks")


@pytest.mark.sweep(3)
@pytest.mark.parametrize("name", NAMES)
def test_its_own_cures_make_it_sound(name):
    """Each cure is done as it says, and its finding goes; `cures.mended` looks after each. In the end nothing is left to stop for or fix."""
    steps = mended(name)
    assert frozenset().union(*(step.names for step in steps)) >= FOUND[name] - {
        "pump short at real head", "pump runs dry", "timer too short", "oxygen time short", "oxygen low at night", "density over limit",
    }  # fmt: skip  # these may go with others: with air the water has less to bring
    assert review(steps[-1].build).sound


def test_where_no_battery_pump_is_strong_enough_a_mains_one_on_an_inverter_holds_the_fish_until_somebody_comes():
    """Three times the fish that live without air, in tanks as printed; 1,500 W of blower draw 1,500/0.85 W at 24 V (common practice)."""
    build = mended("four-tanks")[-1].build
    system, a = Steady(build), build.air.si
    assert system.tanks["tank 1"].density > 45 and a.response_time > 600
    assert (a.backup_inverter, a.backup_voltage) == (True, 24.0)
    battery = system.air.battery
    assert battery.power == pytest.approx(1500 / 0.85) and battery.lasts >= a.response_time
    assert battery.lasts == pytest.approx(
        a.backup_capacity * 24 * 0.5 * 0.8 / (1500 / 0.85)
    )  # data/batteries.csv: half of it, a fifth aged
    for plan in system.airs.values():
        assert plan.failures[plan.cut].spare and plan.failures[plan.cut].lasts.min() >= a.response_time
    bare = Steady(build.changed({("air", "backup_inverter"): None, ("air", "backup_voltage"): None})).airs
    assert min(plan.failures[plan.cut].lasts.min() for plan in bare.values()) < a.response_time


@pytest.mark.sweep(14)
@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("page", PANELS)
@pytest.mark.usefixtures("strict")
@pytest.mark.usefixtures("drawn")
def test_each_panel_opens_draws_and_speaks(page, name):
    panel = importlib.import_module(f"aquaplumb.whatif.{page}").panel(build(name))
    assert not panel.stale, panel.said
    assert panel._png.startswith(b"\x89PNG")
    assert panel.said.strip().endswith((".", "!", "?")), panel.said


@pytest.mark.sweep(1)
@pytest.mark.parametrize("name", ["rafts", "few-fish", "four-tanks", "film", "towers"])
@pytest.mark.usefixtures("strict")
def test_without_beds_nobody_speaks_of_beds(name):
    names = {f.name for f in told(name).findings}

    def of_beds(text):
        """The lines that speak of beds, but for the names of findings and of a moving bed, a filter."""
        for one in (*names, "moving bed"):
            text = text.replace(one, "")
        return [line for line in text.split("\n") if re.search(r"\b[Bb]eds?\b", line)]

    assert of_beds(str(told(name))) == []
    for page in ("fish_load", "beds_media", "water_flow", "drain_siphon", "flow_share", "night_air", "build_sheet"):
        panel = importlib.import_module(f"aquaplumb.whatif.{page}").panel(build(name))
        assert of_beds(panel.said) == [], page


# --- both sides of what these systems changed in the findings ---------------------------------------


def said(changed, name):
    return [f for f in review(changed).findings if f.name == name]


@pytest.mark.parametrize(
    ("changes", "severity"),
    [
        ({}, "note"),
        ({("stocks", "youngest", "feeding_rate"): "11 %/d"}, "fix"),  # 7.65 kg more: 22.05 kg/d on 214 m² are 103 g
        ({("stocks", "youngest", "feeding_rate"): "10 %/d"}, "note"),  # 21.15 kg/d: 98.8 g
        ({("site", "coldest_water"): "22 degC"}, "fix"),  # the printed system stands in the tropics
        ({("vessels", "rafts", "air_stones"): None}, "fix"),
    ],
)
def test_rafts_as_printed_bear_what_print_has_them_bear_and_others_do_not(changes, severity):
    """60 to 100 g of feed on a square metre of rafts a day with no other filter, Rakocy 2007 (looked up); 23 to 29 °C, from memory.

    SRAC 282's typical rate (from memory), 0.05 g on a square foot at 28 °C, gives 84 % of the surface: so the worse print is told in the note.
    """
    [finding] = [f for f in findings.found(Steady(build("four-tanks").changed(changes))) if f.name == "biofilter short"]
    assert finding.severity == severity
    assert (severity == "note") == ("Rakocy" in finding.sentence)
    assert "filter with media" in finding.cure


def test_few_fish_on_rafts_do_without_a_filter_and_more_do_not():
    """1 to 1.5 kg on a square metre, FAO 589 (from memory); that such rafts need no filter was looked up. 4 m² here: 6 kg."""
    for density, severity in (("5 kg/m3", "note"), ("6.5 kg/m3", "fix")):
        [finding] = said(build("few-fish").changed({("fish", "density"): density}), "nothing takes out solids")
        assert finding.severity == severity
    assert not said(build("rafts"), "nothing takes out solids")


def test_emergency_overflows_side_by_side_share_what_comes_and_others_do_not():
    """Two pipes alike carry half each; one that takes its water in higher is there when the first is blocked, and has to carry all."""
    one = "tank emergency overflow"
    yard = load("terrace")
    whole = Steady(yard).falling[one].load
    twins = Steady(yard.changed({("lines", "second"): {"like": one}})).falling
    assert [twins[name].load for name in (one, "second")] == pytest.approx([whole / 2] * 2, rel=1e-6)
    higher = Steady(yard.changed({("lines", "second"): {"like": one, "lip": "1.14 m"}})).falling
    assert [higher[name].load for name in (one, "second")] == pytest.approx([whole] * 2, rel=1e-6)


def test_many_fish_on_air_with_a_spare_are_a_note_and_without_it_to_fix():
    dense = load("terrace").changed({("fish", "density"): "22 kg/m3"})
    aired = dense.changed({("air", "backup_pump"): "demo battery 90 W air pump", ("air", "backup_stones"): 12, ("air", "backup_delay"): "0 min",
        ("air", "backup_capacity"): "60 Ah", ("air", "pump"): "demo mains 80 W air pump", ("air", "stones"): 14, ("air", "response_time"): "20 min"})  # fmt: skip
    [finding] = said(aired, "density over limit")
    assert finding.severity == "note"
    alone = {("air", key): None for key in ("backup_pump", "backup_stones", "backup_delay", "backup_capacity", "backup_battery")}
    [finding] = said(aired.changed(alone), "density over limit")
    assert finding.severity == "fix"


def test_a_stronger_pump_is_asked_for_at_the_head_of_the_flow_that_is_wanted():
    """What a pipe asks for rises with the flow: the head at today's flow would send a builder to a pump that is too weak."""
    system = Steady(build("trout"))
    line = system.pumped["riser"]
    [finding] = said(build("trout"), "pump short at real head")
    head = cures.bare(cures.read(finding.cure, r"at (\d[\d.]* m), which")[0], HEAD)
    lift, rest = line.start, (line.head - line.start) * (line.wanted / line.flow) ** 2
    assert head == pytest.approx(lift + rest, rel=0.05)  # losses go by the square of the flow, or a little less
    assert head > line.head


def test_too_many_fish_are_only_told_of_where_they_are():
    """With several tanks one pump blows in all; a tank with few fish is not said to hold too many because the others do."""
    for finding in review(mended("four-tanks")[-2].build if len(mended("four-tanks")) > 1 else build("four-tanks")).findings:
        if finding.name == "oxygen time short" and "too many fish" in finding.cure:
            density = review(build("four-tanks")).system.tanks[finding.where].density
            assert cures.bare(cures.read(finding.cure, r"Keep ([\d.]+ kg/m³) or fewer")[0], STOCKING) < density


def test_without_air_the_cure_names_stones_that_hold_the_oxygen():
    [finding] = [f for f in told("sand-beds").findings if f.name == "oxygen time short"]
    aired = build("sand-beds").changed(cures.first_air(build("sand-beds"), told("sand-beds"), finding))
    assert finding.severity == "fix" and "Water alone holds" in finding.sentence
    assert not said(aired, "oxygen low at night")

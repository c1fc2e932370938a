"""Several stocks of fish: each in its tank, and whichever tank or species is worst off speaks.

Sources stand beside each check. Species limits: FAO Technical Paper 589 (2014) ch. 7, from memory, as `data/species.csv` has them.
"""

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import stocks_builds as several
from aquaplumb.build import Build, load
from aquaplumb.review import review
from aquaplumb.review.designs import solved_designs
from aquaplumb.review.drawn import SweptBuild
from aquaplumb.review.readings import bands
from aquaplumb.review.sweep import sweep
from aquaplumb.system.air_plan import POWER
from aquaplumb.system.blown import LEAST, TYPICAL, hung
from aquaplumb.system.inflow import downstream, into_tanks
from aquaplumb.system.steady import Steady
from aquaplumb.units import DesignError
from aquaplumb.whatif import fish_load, night_air, start_up, warmth, water_care, water_flow

pytestmark = pytest.mark.usefixtures("strict")


def names(build, *which):
    return [(f.name, f.where) for f in review(build).findings if not which or f.name in which]


# --- identity: one stock said in the new way is what it was in the old ---------------------------


@pytest.mark.parametrize("how", ['density = "15 kg/m3"', "count = COUNT", 'density = "30 kg/m3"\nshare = "50 %"'])
def test_one_stock_said_either_way_gives_the_same_numbers(how):
    old = Steady(load("courtyard"))
    one = several.build(several.stock("all of them", "", how.replace("COUNT", f"{old.fish.count!r}")), second=False)
    new = Steady(one)
    for field in (
        "tank_volume",
        "biomass",
        "count",
        "feed",
        "ammonia",
        "oxygen",
        "fed_oxygen",
        "dirt_oxygen",
        "carbon_dioxide",
        "alkalinity",
    ):
        assert getattr(new.fish, field) == pytest.approx(getattr(old.fish, field), rel=1e-9), field
    assert new.need.oxygen == pytest.approx(old.need.oxygen) and new.pumped["riser"].wanted == pytest.approx(old.pumped["riser"].wanted)
    assert new.air.failures[POWER].lasts == pytest.approx(old.air.failures[POWER].lasts)
    assert {name for name, _ in names(one)} == {name for name, _ in names(load("courtyard"))}


def test_two_stocks_in_one_tank_are_as_much_as_both():
    """Mass is mass: half of the fish twice are all of them, by count or by share."""
    old = Steady(load("courtyard")).fish
    for how in (f"count = {old.count / 2!r}", 'density = "15 kg/m3"\nshare = "50 %"'):
        new = Steady(several.build(several.stock("a", "", how), several.stock("b", "", how), second=False))
        tank = new.tanks["fish tank"]
        assert len(tank.stocks) == 2 and tank.density == pytest.approx(15)
        assert new.fish.oxygen == pytest.approx(old.oxygen) and new.fish.feed == pytest.approx(old.feed)
        assert new.air.budget.si.use == pytest.approx(Steady(load("courtyard")).air.budget.si.use)


def test_the_sum_of_the_stocks_is_what_the_beds_see():
    s = Steady(several.build())
    for field in ("biomass", "count", "feed", "ammonia", "oxygen", "fed_oxygen"):
        assert getattr(s.fish, field) == pytest.approx(sum(getattr(one, field) for one in s.stocks.values())), field
    assert s.fish.biomass == pytest.approx(36 * 0.4 + 60 * 0.06)  # counted fish: count × mass
    assert s.need.tank == pytest.approx(sum(need.tank for need in s.needs.values()))
    assert s.fish.tank_volume == pytest.approx(math.pi / 4 * (1.4**2 + 0.8**2) * 0.7)


# --- each tank is its own --------------------------------------------------------------------------


def test_the_tank_that_runs_out_of_air_first_is_the_one_that_is_told():
    few, many = several.stock("few", "fish tank", "count = 10"), several.stock("many", "small tank", "count = 40")
    for stocks in ((few, many), (many, few)):
        s = Steady(several.build(*stocks))
        assert s.air.tank.name == "small tank"
        assert s.air.failures[POWER].bare[TYPICAL] == min(p.failures[POWER].bare[TYPICAL] for p in s.airs.values())
    turned = Steady(several.build(several.stock("few", "small tank", "count = 3"), several.stock("many", "fish tank", "count = 120")))
    assert turned.air.tank.name == "fish tank"
    assert ("oxygen time short", "fish tank") in names(turned.build)


def test_a_tank_alone_is_as_if_the_other_were_not_there():
    """Its own volume, fish and inflow: −ln(…)/k of the tank's own balance (closed form, `air.time_to_oxygen`, tested in test_air)."""
    s = Steady(several.build())
    p = s.airs["small tank"]
    assert p.budget.si.volume == pytest.approx(math.pi / 4 * 0.8**2 * 0.7)
    assert p.budget.si.inflow == pytest.approx(s.vessels["small tank"].mean)
    assert p.budget.si.use == pytest.approx(s.stocks["young"].oxygen)
    assert sum(one.usual.stones for one in s.airs.values()) == 4
    assert sum(one.usual.flow for one in s.airs.values()) == pytest.approx(Steady(load("courtyard")).air.usual.flow)


def test_water_from_another_fish_tank_brings_what_is_left_in_it():
    """All that the small tank gets falls out of the large one: it comes with that tank's oxygen, not with the sump's."""
    text = several.text()
    text = text.replace('to = "small tank"\noutlet = "1.05 m"\nshare = 0.14', 'to = "fish tank"\noutlet = "1.05 m"\nshare = 0.14')
    text = text.replace(
        'from = "fish tank"\nto = "sump"\nlip = "0.85 m"\noutlet = "-0.10 m"',
        'from = "fish tank"\nto = "small tank"\nlip = "0.95 m"\noutlet = "0.90 m"',
        1,
    )
    text = text.replace('height = "0.85 m"\nfloor = "0.15 m"               # stands on blocks', 'height = "0.95 m"\nfloor = "0.15 m"')
    text = text.replace('lip = "0.91 m"', 'lip = "1.03 m"', 1)  # its emergency overflow
    s = Steady(Build(text))
    above, below = s.airs["fish tank"], s.airs["small tank"]
    assert s.vessels["small tank"].mean > 0
    settled = np.asarray(above.fed.si.inflow_oxygen)
    assert np.all(below.fed.si.inflow_oxygen < settled)
    assert np.all(below.fed.si.inflow_oxygen <= np.maximum(above.start, above.steady) + 2e-3)
    # the power fails: no pump runs, so nothing falls from tank to tank either
    assert below.failures[POWER].dead.si.inflow == pytest.approx(0.0, abs=1e-9)


def test_an_overflow_with_branches_feeds_the_other_tank_too():
    """One pipe goes from the large tank to the small one and the sump: the small tank's water, and what its branch carries, are one."""
    text = several.text()
    text = text.replace('to = "small tank"\noutlet = "1.05 m"\nshare = 0.14', 'to = "fish tank"\noutlet = "1.05 m"\nshare = 0.14')
    text = text.replace('height = "0.85 m"\nfloor = "0.15 m"               # stands on blocks', 'height = "0.95 m"\nfloor = "0.15 m"')
    text = text.replace('lip = "0.91 m"', 'lip = "1.03 m"', 1)  # its emergency overflow
    begin, end = text.index('[lines."tank overflow"]'), text.index('[lines."tank emergency overflow"]')
    legs = (("down", "", "0.92 m", ""), ("across", "down", "0.90 m", "small tank"), ("home", "down", "-0.10 m", "sump"))
    size = 'standard = "PN10"\nlength = "1 m"\nsize = '
    pipe = "".join(
        f'\n[[lines."tank overflow".pipe]]\nname = "{name}"\n{f"after = {after!r}" if after else ""}\noutlet = "{outlet}"\n{f"to = {to!r}" if to else ""}\n'
        f'{size}"{"63 mm" if name == "down" else "50 mm"}"\n'
        for name, after, outlet, to in legs
    )
    head = '[lines."tank overflow"]\nkind = "overflow"\nfrom = "fish tank"\nlip = "0.95 m"\nscreen_open_area = "150 cm2"\n'
    s = Steady(Build(text[:begin] + head + pipe + "\n" + text[end:]))
    across = s.falling["tank overflow › across"].mean
    assert 0 < across == pytest.approx(s.vessels["small tank"].mean)
    assert into_tanks(s, tanks=["small tank"], of=["fish tank"]) == pytest.approx(across)
    assert into_tanks(s, tanks=["small tank"]) == 0 and downstream(s, s.tanks) == ["fish tank", "small tank"]
    below = s.airs["small tank"]
    assert below.fed.si.inflow == pytest.approx(across)
    assert below.failures[POWER].dead.si.inflow == pytest.approx(0.0, abs=1e-9)


def test_density_is_each_tanks_own():
    crowded = several.build(several.GROWN, several.stock("young", "small tank", 'density = "65 kg/m3"', mass="60 g", rate="3 %/d"))
    assert ("density over limit", "small tank") in names(crowded) and ("density over limit", "fish tank") not in names(crowded)
    both = several.build(several.stock("a", "fish tank", "count = 30"), several.stock("b", "fish tank", "count = 30"))
    assert [where for name, where in names(both) if name == "density over limit"] == ["fish tank"]  # 11 and 11 are 22 kg/m³, over 20
    assert any("22.3 kg/m³" in f.sentence for f in review(both).findings)


# --- the worst species speaks -----------------------------------------------------------------------

TROUT = several.stock("trout", "small tank", "count = 10", species="rainbow trout", mass="250 g")


def test_the_right_species_is_told():
    build = several.build(several.GROWN, TROUT)  # water of 22 to 28 °C: no trout lives in it (10 to 18 °C, FAO 589)
    told = [f for f in review(build).findings if f.name == "temperature out of range"]
    assert any(f.severity == "stop" and "rainbow trout" in f.sentence and f.where == "small tank" for f in told)
    assert not any(f.severity == "stop" and "tilapia" in f.sentence for f in told)
    s = Steady(build)
    assert s.strictest("oxygen_minimum").name == "rainbow trout" and s.strictest("survive_low").name == "Nile tilapia"
    assert s.airs["small tank"].minimum == pytest.approx(6e-3) and s.airs["fish tank"].minimum == pytest.approx(4e-3)  # FAO 589
    low = next(f for f in review(build).findings if f.name == "outlet oxygen low")
    assert "rainbow trout needs 6 mg/L" in low.sentence


def test_bands_of_a_log_are_those_in_which_all_do_well():
    found = bands(several.build(several.GROWN, TROUT))
    assert found["oxygen"].low == pytest.approx(6e-3) and found["oxygen"].low_whose == "rainbow trout"
    assert found["temperature"].danger_high == pytest.approx(273.15 + 18, abs=8) and found["temperature"].whose == "rainbow trout"
    assert found["temperature"].low_whose == "Nile tilapia"  # it stops feeding at 17 °C, SEEN in FAO 589 ch. 7
    one, two = bands(load("courtyard")), bands(several.build())
    for name in one:
        if name != "un-ionised ammonia":  # the young are younger
            assert (one[name].low, one[name].high) == (two[name].low, two[name].high), name


def test_small_fish_are_kept_from_the_screen_of_their_own_tank_only():
    tiny = several.stock("fry", "small tank", "count = 100", mass="2 g", rate="5 %/d")
    where = [w for n, w in names(several.build(several.GROWN, tiny), "screen too fast")]
    assert "tank overflow" not in where


# --- stones -----------------------------------------------------------------------------------------


@given(
    st.dictionaries(st.sampled_from("abcdef"), st.floats(0.01, 100), min_size=1),
    st.integers(0, 40),
)
def test_stones_are_hung_where_they_have_most_to_do(needs, stones):
    """Adams' method: it leaves the least most to do (Balinski and Young, Fair Representation, from memory), so that enough is enough."""
    found = hung(stones, needs)
    assert sum(found.values()) == stones
    enough = hung(sum(math.ceil(need) for need in needs.values()), needs)
    assert all(enough[name] >= need for name, need in needs.items())


def test_the_air_that_a_review_names_is_enough_for_every_tank():
    build = several.build()
    cure = next(f for f in review(build).findings if f.name == "oxygen time short").cure
    assert "demo battery 90 W air pump with 29 Ah" in cure and "12 such stones (7 in fish tank, 5 in small tank)" in cure
    done = build.changed({"air.backup_pump": "demo battery 90 W air pump", "air.backup_stones": 12, "air.backup_capacity": "29 Ah"})
    s = Steady(done)
    assert {p.tank.name: p.spare.stones for p in s.airs.values()} == {"fish tank": 7, "small tank": 5}
    assert all(p.failures[POWER].lasts[LEAST] >= p.response for p in s.airs.values())
    again = next(f for f in review(done).findings if f.name == "oxygen time short")  # what a dead pump asks for comes next
    assert "When the pump stops" in again.sentence and "demo mains 80 W air pump" in again.cure and "through 12 (7 in fish" in again.cure
    assert "oxygen time short" not in [name for name, _ in names(done.changed({"air.pump": "demo mains 80 W air pump", "air.stones": 12}))]


# --- bad input: one clear sentence each ------------------------------------------------------------

BAD = {
    "no tank named": (lambda: several.text(several.stock("a", "", "count = 9")), "tank is missing, which holds these fish"),
    "no such tank": (lambda: several.text(several.stock("a", "smal tank", "count = 9")), "small tank"),
    "a bed is no tank": (lambda: several.text(several.stock("a", "bed 1", "count = 9")), "list of fish tanks"),
    "neither count nor density": (lambda: several.text(several.stock("a", "fish tank")), "count is missing"),
    "both": (lambda: several.text(several.stock("a", "fish tank", "count = 9", 'density = "9 kg/m3"')), "give one of the two"),
    "none of them": (lambda: several.text(several.stock("a", "fish tank", "count = 0")), "leave the section"),
    "two in one tank, nothing said": (
        lambda: several.text(several.stock("a", "fish tank", 'density = "9 kg/m3"'), several.stock("b", "fish tank", "count = 4")),
        "fish tank holds a and b; say of each how many there are",
    ),
    "shares over the whole": (
        lambda: several.text(*(several.stock(n, "fish tank", 'density = "9 kg/m3"', 'share = "60 %"') for n in "ab")),
        "the shares of fish tank come to 120 %",
    ),
    "both ways": (
        lambda: several.text().replace("[plants]", '[fish]\nspecies = "Nile tilapia"\n\n[plants]'),
        "the file has [stocks] as well",
    ),
    "no section": (lambda: several.text().replace('[stocks."grown"]', "[stocks]\nx = 3\n[stocks.y]"), 'write a section [stocks."x"]'),
    "unknown species": (lambda: several.text(several.stock("a", "fish tank", "count = 9", species="dragon")), "dragon"),
    "a share in [fish]": (lambda: load("courtyard").text.replace("[fish]", '[fish]\nshare = "50 %"', 1), "share"),
}


@pytest.mark.parametrize("what", BAD)
def test_what_cannot_be_is_said_in_one_sentence_with_its_line(what):
    make, said = BAD[what]
    with pytest.raises(DesignError) as wrong:
        Build(make())
    assert said in str(wrong.value) and ", line " in str(wrong.value) and "\n" not in str(wrong.value)


# --- what reads a build ---------------------------------------------------------------------------


def test_pages_speak_of_one_stock_and_offer_the_others(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(several.text(), encoding="utf-8")
    panel = fish_load.panel(load(path))
    assert list(panel.control("stock").options.values()) == ["grown", "young"]
    panel.set(stock="young")
    assert panel.si["body_mass"] == pytest.approx(0.06) and panel.record.si.count == pytest.approx(60)
    assert panel.record.si.volume == pytest.approx(math.pi / 4 * 0.8**2 * 0.7)
    panel.set(density="5 kg/m3")
    panel._press_keep()
    assert load(path).stocks["young"].si.count == round(5 * math.pi / 4 * 0.8**2 * 0.7 / 0.06)  # counted fish stay counted
    assert load(path).stocks["grown"].si.count == 36
    night = night_air.panel(several.build())
    assert night.control("stock").value == "young"  # whose tank is in danger first
    first = night.record.si.left
    night.set(stock="grown")
    assert night.record.si.left > first
    for one in (water_flow, water_care, start_up, warmth):
        assert one.panel(load(path)).record is not None
    assert not hasattr(fish_load.panel(load("courtyard")), "stock") and "stock" not in fish_load.panel(load("courtyard")).values


def test_a_design_asks_for_each_tank_what_the_steady_review_does():
    """With nothing drawn a design is the build: tank by tank, and the large tank's overflow serves the small one."""
    head, rest = several.text().split('from = "fish tank"\nto = "sump"', 1)
    fed_below = head + 'from = "fish tank"\nto = "small tank"' + rest.replace('outlet = "-0.10 m"', 'outlet = "0.30 m"', 1)
    for text in (several.text(), fed_below):
        build = Build(text)
        told = solved_designs(SweptBuild(build), {}, 1)
        assert told.results["line riser.wanted"][0] == pytest.approx(Steady(build).pumped["riser"].wanted, rel=1e-9)


def test_a_sweep_takes_several_stocks():
    """Its middle is the steady need of each tank."""
    build = several.build()
    seen = sweep(build, n=400, seed=1)
    low, middle, high = (one.to("L/h").m for one in seen.percentiles("line riser.wanted", (5, 50, 95)).values())
    assert 0 < low < middle < high and low < 3.6e6 * Steady(build).pumped["riser"].wanted < 1.3 * high  # the review is in the warmest water


@pytest.mark.parametrize(("density", "limits"), [("30 kg/m3", (20,)), ("70 kg/m3", (60, 20))])
def test_too_many_fish_are_told_how_many_fit(density, limits):
    """By hand: a round tank 1.4 m across and 0.70 m deep holds π/4 · 1.4² · 0.70 = 1.078 m³; at 20 kg/m³ 21.6 kg, 53 of 400 g."""
    crowded = load("courtyard").changed({("fish", "density"): density})
    [found] = [f for f in review(crowded).findings if f.name == "density over limit"]
    volume = math.pi / 4 * 1.4**2 * 0.70
    told = [(float(mass), int(count)) for mass, count in re.findall(r"([\d.]+) kg \((\d+) of 400 g\)", found.cure)]
    assert [count for _, count in told] == [math.floor(limit * volume / 0.4) for limit in limits]
    for (mass, count), limit in zip(told, limits):
        assert limit * volume * 0.99 < mass <= limit * volume
        fits = crowded.changed({("fish", "density"): f"{count * 0.4 / volume:.3f} kg/m3"})
        left = [f.severity for f in review(fits).findings if f.name == "density over limit"]
        assert left == [] if limit == 20 else "stop" not in left  # at 60 the air is judged

"""Notebook 09: its panel against `levels`, what it keeps, its picture, and every number and claim of its prose."""

import re
from fractions import Fraction

import numpy as np
import pytest

from aquaplumb.build import Build, demos, load, my_build
from aquaplumb.build.layouts import first_build
from aquaplumb.build.vessels import plan_area, water_volume
from aquaplumb.figures.levels_time import over_rim
from aquaplumb.questions import levels_time as questions
from aquaplumb.review import review
from aquaplumb.review.compare import power_cut
from aquaplumb.review.sweep import sweep
from aquaplumb.system import levels
from aquaplumb.system.failures import (
    CHECK,
    HOUR,
    LEAK,
    LOOSE,
    NO_TOP_UP,
    OUTLET,
    POWER,
    RAINING,
    STRAINER,
    USUAL,
    after_days,
    failure,
    siphons_start,
    what_can_fail,
)
from aquaplumb.system.levels import Event, simulate
from aquaplumb.units import VOLUME, DesignError, lasting, u
from aquaplumb.whatif import levels_time
from aquaplumb.whatif.levels_time import story
from pages import WALKED, changed_lines, prose

PROSE = prose("09")
pytestmark = pytest.mark.usefixtures("strict")


@pytest.fixture
def courtyard():
    return levels_time.panel(load("courtyard"))


def stories_of(demo):
    """Every failure of every thing of a demo, as the menus offer them."""
    kinds = what_can_fail(load(demo))
    return [(demo, kind, name) for kind, names in kinds.items() for name in (names or [""])]


EVERY = [row for demo in [*WALKED, "terrace"] for row in stories_of(demo)]


# --- what can fail ------------------------------------------------------------------------------------------


def test_all_that_the_tool_promises_can_be_chosen():
    """Power fails and returns, a pump, a check valve, a siphon both ways, a drain or screen by a part, a valve, a loose pipe, a leak, rain, no top-up."""
    kinds = what_can_fail(load("courtyard"))
    assert list(kinds) == [
        "nothing fails", POWER, CHECK, "a pump stops", "a siphon fails to start", "a siphon does not stop", OUTLET, STRAINER,
        "a valve is shut", LOOSE, LEAK, RAINING, NO_TOP_UP,
    ]  # fmt: skip
    assert set(kinds[OUTLET]) == set(load("courtyard").falling)
    assert kinds[LOOSE] == ["riser"] and kinds[LEAK] == ["bed 1", "bed 2"]
    assert kinds["a valve is shut"] == ["to the tank", "to bed 1", "to bed 2"]
    assert "a siphon fails to start" not in what_can_fail(load("greenhouse"))


@pytest.mark.sweep(10)
@pytest.mark.parametrize(("demo", "kind", "where"), EVERY, ids=[" · ".join(row) for row in EVERY])
def test_each_failure_is_said_and_drawn_and_no_water_is_lost(demo, kind, where):
    record = story(load(demo), kind, where)
    run, said = record.si.run, record.sentence()
    assert re.match(
        r"\*\*(It spills|The fish run out of water|A pump runs dry|[0-9.,]+ (L|gal) run out on the ground|Nothing spills, no pump runs dry)",
        said,
    )
    assert (run.litres_spilled.m_as("L") > 1) == said.startswith("**It spills")
    assert np.abs(run.balance).max() < 1e-9  # m³
    assert run.time[-1] == pytest.approx((12 if kind in (POWER, CHECK) else 6) * HOUR)
    words = levels_time.LevelsPicture(record).alt(record)
    assert all(name in words for name in run.vessels)
    assert where in record.si.words


@pytest.mark.sweep(4)
@pytest.mark.parametrize("demo", demos())
def test_a_power_cut_is_the_simulations_own_and_its_worst_moment(demo):
    build = load(demo)
    record = story(build).si
    begin, end, _ = record.bands[0]
    mine = simulate(build, "12 h", events=[Event.from_si(kind="power fails", at=begin, until=end)], quick=True)
    for name in record.run.vessels:
        assert record.run.vessel(name).si.highest == pytest.approx(mine.vessel(name).si.highest, abs=1e-3)
    others = [
        simulate(build, "12 h", events=[Event.from_si(kind="power fails", at=at, until=at + 8 * HOUR)], quick=True)
        for at in (3600.0, 4200.0, 4800.0)
    ]
    low = "sump" if "sump" in build.vessels else next(iter(build.pumped.values())).si.source
    highest = max(other.vessel(low).si.highest for other in others)
    assert record.run.vessel(low).si.highest >= highest - 6e-3


def test_days_without_top_up_take_what_evaporates_out_of_the_sump():
    """A day's make-up water goes out of the sump; in a real run that takes 5 mm from all vessels it falls by that, to its own ripples."""
    build = load("greenhouse")
    area, sump = sum(plan_area.si(v) for v in build.vessels.values()), build.vessels["sump"]
    drunk = review(build)["upkeep.make-up"].value / plan_area.si(sump)
    depth = after_days(build, 86400.0)
    assert depth["sump"].m_as("m") == pytest.approx(sump.si.working_depth - drunk)
    fall = 0.005 * area / plan_area.si(sump)
    real = simulate(build, "24 h", events=[Event("evaporation", rate="5 mm/d")], quick=True)
    late, early = real.time > 18 * HOUR, real.time < 6 * HOUR
    place = real.vessels.index("sump")
    ripple = real.depth[early, place].min() - real.depth[late, place].min()
    assert ripple == pytest.approx(0.75 * fall, rel=0.25)  # 18 of 24 hours lie between


def test_more_days_than_the_sump_bears_take_from_the_next_vessel_and_never_below_empty():
    build = load("courtyard")
    depths = after_days(build, 60 * 86400.0)
    assert depths["sump"].m_as("m") == 0
    gone = 60 * review(build)["upkeep.make-up"].value
    left = sum(water_volume.si(build.vessels[n], d.m_as("m")) for n, d in depths.items())
    assert sum(water_volume.si(build.vessels[n], build.vessels[n].si.working_depth) for n in depths) - left == pytest.approx(gone)


def test_rain_falls_into_the_beds_and_onto_the_ground():
    """A millimetre of rain on a square metre is a litre: 30 mm/h for 2 h on 4.4 m² are 264 L."""
    rained = story(load("courtyard"), RAINING).si
    assert rained.run.added[-1] == pytest.approx(0.264, rel=1e-6)


def test_a_gap_without_new_water_is_told():
    told = {POWER: "8 h", "a pump stops": "5 h", "a valve is shut": "5 h"}
    for kind, hours in told.items():
        where = {"a pump stops": "riser", "a valve is shut": "to the tank"}.get(kind, "")
        assert f"No new water** reaches fish tank for {hours}" in story(load("courtyard"), kind, where).sentence()
    assert "No new water" not in story(load("courtyard"), "nothing fails").sentence()
    assert "No new water reaches bed 1 to 4 for 5 h" in story(load("greenhouse"), OUTLET, "settling outlet").sentence().replace(
        "4 h 58 min", "5 h"
    )
    assert "No new water reaches bed 1 for" in story(load("courtyard"), "a valve is shut", "to bed 1").sentence()
    assert "of its usual water" in story(load("courtyard"), STRAINER, "riser", blocked=0.95).sentence()


def test_a_switch_that_saves_the_pump_does_not_promise_that_the_fish_are_well(courtyard):
    courtyard.set(failure=NO_TOP_UP, days="28 d")
    assert courtyard.said.startswith("A pump runs dry")
    courtyard.set(cut="120 mm")
    assert courtyard.said.startswith("Nothing spills, no pump runs dry")
    assert "No new water reaches fish tank" in courtyard.said
    assert [severity for severity, _ in courtyard.found] == ["note"]


def test_a_low_switch_above_the_usual_level_is_a_fault_of_its_own(courtyard):
    """The water never comes back to it: the pump stays off, though nothing has failed."""
    courtyard.set(failure="nothing fails", cut="500 mm")
    assert any(severity == "fix" and "Nothing has failed" in text for severity, text in courtyard.found)
    courtyard.set(cut="0 mm")
    assert not courtyard.found


def test_a_faulty_sump_is_found_as_the_review_finds_it():
    build = load("sump-with-nothing-to-spare")
    panel = levels_time.panel(build)
    assert panel.said.startswith("It spills")
    spilt = VOLUME.text(float(panel.record.si.run.spilled[-1].sum()))
    assert spilt in review(build).finding("sump overflows on power cut").sentence
    assert panel.found[0][0] == "stop"


def test_a_build_without_a_pump_gets_a_sentence():
    build = load("courtyard").replaced()
    vars(build)["lines"] = dict(build.falling)
    with pytest.raises(DesignError, match="no pumped line"):
        levels_time.panel(build)


# --- moving through the hours --------------------------------------------------------------------------------


@pytest.mark.usefixtures("drawn")
def test_moving_the_moment_does_not_simulate_again(courtyard, monkeypatch):
    monkeypatch.setattr(levels, "runs", lambda *a, **k: pytest.fail("it simulates"))
    monkeypatch.setattr(levels, "simulate", lambda *a, **k: pytest.fail("it simulates"))
    frames = []
    monkeypatch.setattr(courtyard.picture, "frame", lambda record: frames.append(1))
    before = courtyard._png
    courtyard.control("moment").slider.value = 300
    courtyard.control("moment").play.value = 5
    assert courtyard.values["moment"].m_as("s") == pytest.approx(courtyard.record.si.stops[5])
    assert courtyard._png != before
    assert frames == []


def test_a_failure_seen_before_comes_back_without_a_run(courtyard, monkeypatch):
    courtyard.set(failure=OUTLET)
    courtyard.set(failure=POWER)
    monkeypatch.setattr(levels, "runs", lambda *a, **k: pytest.fail("it simulates"))
    monkeypatch.setattr(levels, "simulate", lambda *a, **k: pytest.fail("it simulates"))
    courtyard.set(failure=OUTLET)
    assert not courtyard.stale


def test_only_sliders_that_have_to_do_with_the_failure_are_shown(courtyard):
    shown = {
        POWER: {"power_off"}, CHECK: {"power_off", "where"}, OUTLET: {"blocked", "where"}, STRAINER: {"blocked", "where"}, RAINING: {"rain"}, NO_TOP_UP: {"days"},
        "nothing fails": set(), "a pump stops": {"where"},
    }  # fmt: skip
    for kind, names in shown.items():
        courtyard.set(failure=kind)
        assert {n for n, row in courtyard._rows.items() if row.offered} - {"failure", "across", "cut", "moment"} == names, kind
        assert courtyard.control("moment").slider.max == (720 if kind in (POWER, CHECK) else 360)
    for name in ("power_off", "blocked", "rain", "days", "across", "cut"):
        assert courtyard.control(name).spec.on_release
    assert not courtyard.control("moment").spec.on_release


@pytest.mark.usefixtures("drawn")
def test_the_picture_at_a_moment_is_the_simulations(courtyard):
    r = courtyard.record.si
    assert r.depths == r.run.depth_at(2 * HOUR)
    assert not r.running
    assert "riser stands still" in courtyard.picture.alt(courtyard.record)
    courtyard.set(moment="30 min")
    r = courtyard.record.si
    assert {"riser", "riser › to bed 1", "tank overflow"} <= r.running
    assert "riser runs" in courtyard.picture.alt(courtyard.record)
    for name, water in courtyard.picture.water_of.items():
        vessel = courtyard.record.si.build.vessels[name].si
        assert max(y for _, y in water.get_xy()) == pytest.approx(vessel.floor + r.depths[name])


@pytest.mark.usefixtures("drawn")
def test_moved_picture_is_the_same_as_one_drawn_afresh(courtyard):
    for moment in ("90 min", "600 min", "100 min"):
        courtyard.set(moment=moment)
    fresh = levels_time.LevelsPicture(system="metric")
    fresh.titled = False
    assert fresh.png(courtyard.record) == courtyard.picture.png(courtyard.record)


@pytest.mark.usefixtures("drawn")
def test_a_spill_is_drawn_while_it_runs_and_told_after_it():
    build = load("courtyard")
    record = story(build, RAINING)
    begins = record.si.stories["sump"].first_spill
    during, after, before = (story(build, RAINING, moment=begins + d) for d in (60.0, 3 * HOUR, -HOUR))
    picture = levels_time.LevelsPicture(during)
    for one, drops, words in ((during, True, True), (before, False, False), (after, bool(after.si.spilling), True)):
        picture.png(one)
        assert picture.over["sump"].get_visible() == drops
        assert picture.told["sump"].get_visible() == words
    assert over_rim(record.si.run).max() > 0


@pytest.mark.sweep(5)
@pytest.mark.parametrize("demo", [*demos(), *demos(faulty=True)])
@pytest.mark.usefixtures("drawn")
def test_no_names_overlap_and_none_is_cut_off(demo):
    build = load(demo)
    picture = levels_time.picture(build)
    picture.png()
    drawn = picture.figure.canvas.get_renderer()
    names = [text.get_window_extent(drawn) for text in picture.hours.texts if getattr(text, "xycoords", "") == "axes fraction"]
    assert 2 <= len(names) <= 9
    for place, one in enumerate(names):
        assert one.x1 <= picture.width + 1
        assert one.y0 > picture.hours.get_window_extent().y0 - 8
        assert not any(one.y0 + 2 < other.y1 - 2 and other.y0 + 2 < one.y1 - 2 for other in names[:place])


@pytest.mark.usefixtures("drawn")
def test_beds_that_keep_together_are_one_line():
    record = story(load("greenhouse"))
    picture = levels_time.LevelsPicture(record, system="US")
    picture.png()
    assert [name for name, _ in picture.shown(record.si)] == ["fish tank", "settling tank", "dosing tank", "sump", "bed 1 to 4"]
    blocked = story(load("greenhouse"), OUTLET, "bed 1 drain")
    assert {"bed 1", "bed 2 to 4"} <= {name for name, _ in picture.shown(blocked.si)}


@pytest.mark.parametrize(("seconds", "said"), [(0, "0 min"), (2400, "40 min"), (4200, "1 h 10 min"), (28800, "8 h"), (3599, "1 h")])
def test_how_a_time_is_said(seconds, said):
    assert lasting(seconds) == said


# --- keeping ------------------------------------------------------------------------------------------------


def test_keep_writes_the_sump_and_not_the_failure(tmp_path):
    panel = levels_time.panel(my_build())
    panel.set(failure=OUTLET, across="1.8 m")
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: sump: length 1.8 m.")
    assert changed_lines(tmp_path / "my-build.toml") == [('length = "1.5 m"', 'length = "1.800 m"')]
    again = levels_time.panel(my_build())
    panel.set(failure=POWER)
    assert again.said == panel.said


def test_keep_writes_a_low_level_switch_and_takes_it_out_again(tmp_path):
    panel = levels_time.panel(my_build())
    panel.set(cut="150 mm")
    panel._press_keep()
    assert panel.kept.startswith("✔"), panel.kept
    assert "low switch 150 mm" in panel.kept, "in the panel's words, not those of the file"
    control = my_build().pumped["riser"].si.control.si
    assert (control.kind, control.cut_out_depth) == ("always", pytest.approx(0.15))
    assert [p.si.name for p in my_build().pumped["riser"].si.pipe] == [p.si.name for p in load("courtyard").pumped["riser"].si.pipe]
    again = levels_time.panel(my_build())
    assert again.values["cut"].m_as("mm") == pytest.approx(150)
    again.set(cut="0 mm")
    again._press_keep()
    assert my_build().pumped["riser"].si.control.si.cut_out_depth is None


def test_keep_of_floats_in_us_units(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(load("greenhouse").text, encoding="utf-8")
    panel = levels_time.panel(my_build())
    panel.set(on="24 in", off="10 in")
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept"), panel.kept
    control = my_build().pumped["bed loop"].si.control.si
    assert (control.on_depth, control.off_depth) == (pytest.approx(24 * 0.0254), pytest.approx(10 * 0.0254))
    assert len(changed_lines(path, "greenhouse")) == 1


def test_keep_unchanged_changes_nothing(tmp_path):
    panel = levels_time.panel(my_build())
    panel._press_keep()
    assert panel.kept.startswith("✔")
    assert changed_lines(tmp_path / "my-build.toml") == []


def test_a_float_the_wrong_way_round_is_said():
    panel = levels_time.panel(load("greenhouse"))
    panel.set(off="25 in")
    assert panel.stale
    assert "float switch" in panel.said


# --- what the page says -----------------------------------------------------------------------------------------


def test_the_number_by_hand():
    """Pencil: 2 × 2.2 × 0.215 × 0.45 = 0.426 m³; 1.54 × 0.015 = 0.023; 0.449 / 1.8 = 0.249 m. The simulated rise agrees to 5 mm."""
    beds, tank = 2 * 2.2 * 0.215 * 0.45, 1.54 * 0.015
    assert beds == pytest.approx(0.426, abs=5e-4)
    assert tank == pytest.approx(0.023, abs=5e-4)
    assert beds + tank == pytest.approx(0.449, abs=5e-4)
    build = load("courtyard")
    bed, tank_, sump = (build.vessels[name] for name in ("bed 1", "fish tank", "sump"))
    assert (plan_area.si(bed), plan_area.si(tank_), plan_area.si(sump)) == (
        pytest.approx(2.2),
        pytest.approx(1.54, abs=0.005),
        pytest.approx(1.8),
    )
    assert bed.si.void == pytest.approx(0.45)
    line = build.falling["bed 1 siphon"].si
    assert line.lip - line.siphon.si.vent == pytest.approx(0.20)  # and 1.5 cm over the lip before it pulls: 21.5 cm
    run = simulate(build, "12 h", events=[Event("power fails", at="1 h", until="9 h")])
    story_ = run.vessel("sump").si
    assert story_.highest - story_.lowest == pytest.approx((beds + tank) / 1.8, abs=0.005)
    assert run.vessel("bed 1").si.highest - bed.si.working_depth == pytest.approx(0.015, abs=0.003)
    assert run.vessel("fish tank").si.highest - run.vessel("fish tank").si.lowest == pytest.approx(0.015, abs=0.002)


def test_what_the_failures_of_the_demo_come_to(courtyard):
    run, begin = courtyard.record.si.run, courtyard.record.si.bands[0][0]
    place = run.vessels.index("bed 1")
    down = run.time[np.flatnonzero((run.time > begin) & (run.depth[:, place] < 0.055))[0]] - begin
    assert down < 15 * 60  # "within a quarter of an hour"
    still = (run.time > begin + HOUR) & (run.time < begin + 8 * HOUR)
    assert np.ptp(run.depth[still], axis=0).max() < 0.002  # "then nothing moves all night"
    assert "No new water" in courtyard.said

    courtyard.set(across="1.2 m")
    assert courtyard.said.startswith("Nothing spills")
    assert courtyard.record.si.stories["sump"].highest == pytest.approx(0.74, abs=0.003)  # "a centimetre to spare" under 0.75 m
    courtyard.set(across="1 m")
    assert courtyard.said.startswith("It spills")
    courtyard.set(failure="nothing fails")
    assert courtyard.said.startswith("It spills")  # "now and then even with the power on"

    courtyard.set(across="1.5 m", failure=OUTLET, where="tank overflow")
    tank = courtyard.record.si.stories["fish tank"]
    usual = courtyard.record.si.run.depth[0, courtyard.record.si.run.vessels.index("fish tank")]
    assert tank.highest - usual == pytest.approx(0.057, abs=0.002)  # "rises 5.7 cm"
    assert courtyard.said.startswith("Nothing spills")
    courtyard.set(failure=RAINING)
    assert "116 L" in courtyard.said
    courtyard.set(failure=NO_TOP_UP, days="28 d")
    assert courtyard.said.startswith("A pump runs dry")


def test_against_print():
    """Rakocy et al., UVI commercial-scale system: 1.5 % of its water a day is made up (seen). 5 mm from 3.34 m², 2 mm from 4.4 m²: 25.5 L."""
    build = load("courtyard")
    open_water = sum(plan_area.si(v) for v in build.vessels.values() if not v.grows)
    assert open_water == pytest.approx(1.54 + 1.8, abs=0.005)
    by_hand = 0.005 * open_water + 0.002 * 2 * 2.2
    assert review(build)["upkeep.make-up"].value == pytest.approx(by_hand, rel=1e-3)
    assert levels_time.top_up(build) == "25.5 L a day, 1.07 % of 2,380 L"
    assert "5 mm a day evaporate from open water and plants drink 2 mm" in PROSE and "**1.5 % a day**" in PROSE


def test_a_siphon_that_may_start_comes_down_in_the_power_cut():
    """Wider siphons may start and are not sure to: then full beds stand over the sump until the cut, and came down on the floor alone.

    Cross-check: at rest all that stands over lips and vents is down, whoever started (`review.power_cut`)."""
    wide = load("courtyard").changed({("lines", f"bed {n} siphon", "size"): "25 mm" for n in (1, 2)})
    assert siphons_start(wide) == ("sure", "may") and siphons_start(load("courtyard")) == ("sure",)
    record = story(wide)
    assert "and the siphons do start, which is not sure" in record.sentence()
    [at_rest] = sweep(wide, {}, 1, seed=0).results["vessel sump.after a power cut"]
    assert record.si.run.vessel("sump").si.highest == pytest.approx(at_rest, abs=0.005)
    assert power_cut(wide)["sump"][0] == pytest.approx(at_rest, abs=0.005)  # the review's drills, the sheet and the comparison


def test_what_siphons_that_may_start_do_is_told_where_it_is_the_worse():
    """Heavy rain and a stopped pump were looked at with full beds alone, and the page said that nothing spills: as in the runs one by one."""
    wide = load("courtyard").changed({("lines", f"bed {n} siphon", "size"): "25 mm" for n in (1, 2)})
    for kind, where in ((RAINING, ""), ("a pump stops", "riser"), ("a siphon fails to start", "bed 1 siphon")):
        fails = failure(wide, kind, where, **USUAL)
        late, early = (
            simulate(wide, "6 h", events=fails.events(levels_time.AT), start=fails.start, starts=starts) for starts in ("sure", "may")
        )
        shown = story(wide, kind, where)
        assert early.vessel("sump").si.highest > late.vessel("sump").si.highest + 0.1
        assert shown.si.run.vessel("sump").si.highest == pytest.approx(early.vessel("sump").si.highest, abs=0.01)
        assert "siphons do start, which is not sure" in shown.sentence()
        assert "fails to start, and the other siphons do" in shown.sentence() or kind != "a siphon fails to start"
    assert "It spills" in story(wide, RAINING).sentence()
    assert "which is not sure" not in story(load("courtyard"), RAINING).sentence()


@pytest.mark.sweep(3)
@pytest.mark.parametrize("name", demos())
def test_the_guess_is_answered_on_the_demo_and_then_yours(name):
    """The demo's rise is that of the sum by hand, 25 cm; a build's own is the volume that came down, over its sump's area."""
    build = load(name)
    sight = levels_time.sight(build)
    case, own = sight.guessed.record.si, sight.own.record.si
    begin = case.bands[0][0]
    rise = case.run.vessel("sump").si.highest - case.run.depth_at(begin)["sump"]
    assert rise == pytest.approx(0.25, abs=0.01)
    low = own.watched[-1]
    came = (own.run.vessel(low).si.highest - own.run.depth_at(own.bands[0][0])[low]) * plan_area.si(build.vessels[low])
    assert (VOLUME.text(came, build.units) in sight.why) == (name != "courtyard")  # there the sum by hand has said it
    assert (" too." in sight.why) == (name == "courtyard")
    dry = all(vessel.si.kind in ("channel", "tower") for vessel in build.growing)
    told = "run empty" if dry else "keep their water"
    assert (told in sight.why) == (not any(line.si.siphon for line in build.falling.values()))
    assert not re.search(r"\d (gal|in|ft|oz|lb)\b" if build.units == "metric" else r"\d (L|mm|cm|m|g|kg)\b", sight.why + sight.own.look)


@pytest.mark.parametrize("name", ["courtyard", "greenhouse", "raft-hall"])
def test_play_begins_just_before_the_cut_and_skips_what_stands_still(name):
    panel = levels_time.panel(load(name))
    r, row = panel.record.si, panel.control("moment")
    begin, until, _ = r.bands[0]
    assert row.play.value == 0 and row.play.max == len(r.stops) - 1
    assert 120 <= begin - r.stops[0] <= 360
    played = [moment for moment in r.stops if moment < until - 400]
    depth = r.run.depth[:, [i for i in range(len(r.run.vessels))]]
    rest = (r.run.time > played[-1] + 1) & (r.run.time < min(begin + HOUR, until))
    assert np.ptp(depth[rest], axis=0).max() < 0.005 if rest.any() else True  # what is skipped stands still
    assert any(abs(moment - until) <= 120 for moment in r.stops) and r.stops[-1] > until  # and its return is played
    assert len(r.stops) <= 60
    row.play.value = 1
    assert panel.values["moment"].m_as("s") == pytest.approx(r.stops[1])


def test_each_tried_failure_is_played_from_just_before_it(courtyard):
    before = courtyard.record.si.stops
    courtyard.control("moment").play.value = 7
    courtyard.set(failure=OUTLET)
    r = courtyard.record.si
    assert r.stops != before and courtyard.control("moment").play.value == 0
    assert r.stops[0] < r.bands[0][0] < r.stops[4]


def test_the_tries_show_a_spill_and_what_a_switch_saves(courtyard):
    said, start = [], courtyard.values
    for place, one in enumerate(courtyard.tries.tries):
        courtyard.set(**{n: v if isinstance(v, str) else courtyard.control(n).spec.kind.quantity(v) for n, v in one.to.items()})
        said.append(courtyard.tries.said()[place])
        courtyard.set(**start)
    small, blocked, rain, stuck, loose, leak, dry, saved = said
    assert loose.startswith("**A pump runs dry:** riser") and "have run out on the ground" in loose
    assert leak.startswith("**300 L run out on the ground**")  # 60 L/h, from 1 h to 6 h
    courtyard.set(failure=LEAK)
    assert courtyard.found[0][0] == "note" and "300 L are gone by then" in courtyard.found[0][1]
    courtyard.set(**start)
    assert "**It spills:**" in small and "**It spills:**" in rain
    assert blocked.startswith("**Nothing spills") and "fish tank rises to" in blocked
    assert stuck.startswith("**Nothing spills")
    assert dry.startswith("**A pump runs dry:**")
    assert saved.startswith("**Nothing spills, no pump runs dry.**") and saved.endswith("the switch saves the pump, not the fish.")


@pytest.mark.parametrize("system", ["metric", "US"])
def test_the_sum_by_hand_the_cell_and_the_picture_tell_one_rise(system):
    """25 cm by hand (the demo's beds full, 1.5 cm over the lip); the cell's number stands in the picture's words, to the last figure."""
    record = levels_time.as_built(load("courtyard"))
    told = levels_time.rise(record, system).partition("a rise of ")[2]
    assert f"Sump rises by {told} and has" in levels_time.sight(load("courtyard", units=system)).guessed.look
    begin = record.si.bands[0][0]
    before = record.si.run.depth_at(begin)
    assert all(before[bed] == pytest.approx(0.265, abs=2e-3) for bed in ("bed 1", "bed 2"))
    assert record.si.run.vessel("sump").si.highest - before["sump"] == pytest.approx(0.25, abs=0.005)


def test_a_sump_that_is_all_but_empty_is_told_in_small_measures():
    panel = levels_time.panel(Build(first_build("one loop", beds=3, drains="plain")))
    panel.set(failure="no top-up", days="28 d")
    told = panel.record.sentence("metric")
    assert "sump is all but empty, with **" in told and not re.search(r"\b0 m\b|0\.00\d", told)


def test_the_faulty_build_shows_what_the_answer_says():
    """Room 0.5 × 0.35 × 0.07 = 12 L; over the lips 1.98 m² × 1.3 cm and 1.12 m² × 0.9 cm × 45 %: 30 L (pencil)."""
    build = load("sump-with-nothing-to-spare")
    run = simulate(build, "6 h")
    assert run.litres_spilled.m_as("L") == 0
    assert np.ptp(run.depth[:, run.vessels.index("tub")]) < 0.005  # "as calm as can be"
    assert pytest.approx(12, abs=0.5) == 0.5 * 0.35 * (0.45 - 0.38) * 1000
    assert pytest.approx(30, abs=1) == (1.98 * 0.013 + 1.12 * 0.009 * 0.45) * 1000
    cut = simulate(build, "12 h", events=[Event("power fails", at="1 h", until="9 h")])
    assert cut.litres_spilled.m_as("L") == pytest.approx(30 - 12, abs=2)
    assert any("check" in name for pipe in build.pumped["riser"].si.pipe for name in pipe.si.fittings)
    assert questions.fault().reply("the tub is too small for what comes down").startswith("✔")


# --- questions ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("learner", ["", "Ama", "Bo"])
def test_the_answers_by_hand(learner):
    quiz = questions.quiz(learner)
    n = [None, *(q.numbers if hasattr(q, "numbers") else {} for q in quiz.questions)]
    assert quiz[1].answer.m_as("L") == pytest.approx(2 * n[1]["area"].m_as("m**2") * n[1]["fall"].m_as("m") * 0.4 * 1000)
    assert quiz[2].answer.m_as("cm") == pytest.approx(n[2]["water"].m_as("L") / 1000 / (n[2]["length"].m_as("m") * 0.8) * 100)
    assert quiz[3].answer.m_as("min") == pytest.approx(0.8 * n[3]["apart"].m_as("m") * 1000 / 2000 * 60)
    for place in (1, 2, 3, 5):
        assert quiz[place].reply(quiz[place].answer).startswith("✔")
    order = [quiz[4].options.index(step) + 1 for step in quiz[4]._steps]
    assert quiz[4].reply(order).startswith("✔")
    assert quiz.results_line().count("right at once") == 5


def test_slips_are_told_apart():
    quiz = questions.quiz()
    area, fall = (quiz[1].numbers[name] for name in ("area", "fall"))
    assert "stones as water" in quiz[1].reply(f"{2 * (area * fall).m_as('L')} L")
    assert "two beds" in quiz[1].reply(f"{0.4 * (area * fall).m_as('L')} L")
    assert "goes on coming in" in quiz[3].reply(f"{(0.8 * u.m**2 * quiz[3].numbers['apart'] / (3000 * u.L / u.h)).m_as('min')} min")


def test_a_float_runs_as_long_as_the_question_says():
    """The question's sum, as the greenhouse's float runs it: (volume between the depths) / (out − in)."""
    build = load("greenhouse")
    run = simulate(build, "6 h")
    on, tank = run.on[:, run.pumps.index("bed loop")], build.vessels["dosing tank"]
    starts = np.flatnonzero(np.diff(on.astype(int)) > 0)
    stops = [np.flatnonzero(~on[start + 1 :])[0] + start + 1 for start in starts[1:-1]]
    lasts = [run.time[stop] - run.time[start + 1] for start, stop in zip(starts[1:-1], stops)]
    mean = build.pumped["bed loop"].si.control.si
    between = plan_area.si(tank) * (mean.on_depth - mean.off_depth)
    out = [
        run.flow[(run.time > run.time[start + 1]) & (run.time < run.time[stop])][
            :, [i for i, f in enumerate(run.flows) if f.startswith("bed loop ›")]
        ]
        .sum(axis=1)
        .mean()
        for start, stop in zip(starts[1:-1], stops)
    ]
    comes = run.flow[len(run.time) // 2, run.flows.index("settling outlet")]
    assert np.mean(lasts) == pytest.approx(between / (np.mean(out) - comes), rel=0.06)


def test_the_beds_are_down_before_the_oxygen_is_gone(courtyard):
    """15 kg/m³ of tilapia at 0.3 g/kg/h (SRAC 452: 0.2 to 0.5, from memory) take 4 mg/L in more than 40 minutes; the beds take a quarter of an hour at most."""
    run, begin = courtyard.record.si.run, courtyard.record.si.bands[0][0]
    highest = run.time[np.flatnonzero(run.depth[:, run.vessels.index("sump")] > run.vessel("sump").si.highest - 0.005)[0]] - begin
    assert highest < 15 * 60 < 4.0 / (15 * 0.3) * HOUR


@pytest.mark.parametrize("given", ["", "  ", "9**9**9 L", "<b>x</b>", "-5", "1e99 L", "nan", "5 6 7", "\x00", "a" * 5000, "12 parsec"])
def test_no_answer_breaks_a_question(given):
    for question in [*questions.quiz().questions, questions.guess(), questions.fault()]:
        assert question.reply(given)[0] in "○✖"


def test_air_drawn_to_the_end_of_the_run_is_told_without_hours():
    """The run ends after some hours of watching; the pump would draw air for as long as nobody brings water."""
    panel = levels_time.panel(load("courtyard"))
    panel.set(failure=NO_TOP_UP, days="28 d")
    assert "riser draws air for as long as it lasts, from" in panel.said and "for as long as it lasts" in panel.found[0][1]


def test_channels_run_empty_in_a_power_cut():
    """Page 09 said that they keep their water, and its review that they are dry within minutes."""
    build = Build(first_build("film channels", beds=3))
    assert "your channels run empty" in levels_time.sight(build).why
    assert "roots hang dry" in [f.name for f in review(build).findings]


def with_siphons(beds: int = 2) -> Build:
    """Two loops whose beds have siphons that may start; their float's pump lifts the sump's level far on a usual day."""
    text = first_build("two loops", beds=beds, units="US")
    drain = re.compile(r'(\nkind = "bed drain".*?)outlet = "0 in"(.*?)size = "[^"]*"(.*?)vented = true', re.DOTALL)
    return Build(drain.sub(r'\1outlet = "8 in"\2size = "1 in"\3siphon = { vent = "26 in" }', text))


def test_the_worst_moment_of_a_cut_is_told_by_what_the_cut_does():
    """The highest level of a usual day is the same whenever the power fails; the picture took a moment at which nothing came down."""
    build = with_siphons(4)
    what_if = levels_time.LevelsWhatIf(build)
    sump = build.vessels[what_if.sump].si
    bed = build.vessels["bed 1"].si
    one = plan_area.si(build.vessels["bed 1"]) * (bed.working_depth - 0.0508) * 0.4  # to the vent, 2 in over its floor; 0.4 of it is water
    rise = re.search(r"rises by \*\*(.*?)\*\*", levels_time.sight(build).why)[1]
    inches = float(sum(map(Fraction, rise.removesuffix(" in").split())))
    assert 0.0254 * inches > one / (sump.length * sump.width)  # one bed of the four at the least


def test_a_low_switch_under_the_depth_of_air_is_told():
    """It was kept without a word: the pump draws air before the switch turns."""
    what_if = levels_time.LevelsWhatIf(Build(first_build("one loop", beds=2)))
    line = what_if.build.pumped[what_if.switched].si
    for low in (line.inlet_depth - 0.03, line.inlet_depth + 0.03):
        told = what_if.findings(what_if(**{**what_if.own(), "cut": low}), "metric")
        assert any("runs dry before" in words for _, words in told) == (low < line.inlet_depth)

"""Where things stand, the holes to drill, the order of the work and the wall's page: against geometry, the file and the tables."""

import datetime
import math
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.text import Text

from aquaplumb import DesignError, tables
from aquaplumb.build import Build, demos, load
from aquaplumb.build.layouts import first_build
from aquaplumb.build.placing import set_out
from aquaplumb.build.routes import untold
from aquaplumb.build.standing import Footprint, apart, from_point, overlap, proposal, standing, unreached
from aquaplumb.build.vessels import Vessel
from aquaplumb.plumbing.tank_fittings import CLEAR, TankFitting
from aquaplumb.review import review
from aquaplumb.workshop import cement
from aquaplumb.workshop.cut_list import cut_list, high, tape
from aquaplumb.workshop.ground_plan import PlanFromAbove
from aquaplumb.workshop.holes import holes
from aquaplumb.workshop.parts import parts_list
from aquaplumb.workshop.sheet.placing import drilling, plan
from aquaplumb.workshop.sheet.records import SheetDrawing
from aquaplumb.workshop.sheet.wall import mark, wall
from aquaplumb.workshop.sheet.working import order

FAST = settings(max_examples=60, deadline=None, derandomize=True)


def square(name, x, y, long, wide):
    corners = tuple((x + a * long / 2, y + b * wide / 2) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)))
    return Footprint(name, corners, (x, y))


# --- geometry ------------------------------------------------------------------------------------------


def test_ground_between_two_squares_by_hand():
    one, other = square("a", 0, 0, 2, 1), square("b", 3, 0, 2, 1)  # edges at 1 and 2
    assert apart(one, other) == pytest.approx(1.0) and not overlap(one, other)
    corner = square("c", 4, 3.5, 2, 1)  # 2 along and 2.5 across from corner to corner: √(4 + 6.25)
    assert apart(one, corner) == pytest.approx(math.hypot(2, 2.5))
    assert apart(one, square("d", 1.5, 0, 2, 1)) == 0.0
    assert from_point((3, 0), one) == pytest.approx(2.0) and from_point((0.5, 0.2), one) == 0.0


@FAST
@given(st.lists(st.tuples(st.floats(0.3, 2.5), st.floats(0.3, 1.4)), min_size=1, max_size=9), st.floats(3, 12), st.floats(3, 12))
def test_a_proposal_never_sets_two_vessels_on_one_another(sizes, length, width):
    vessels = [
        Vessel.from_si(name=f"v{k}", kind="sump", shape="rectangular", length=a, width=b, height=0.5, floor=0.0, working_depth=0.3)
        for k, (a, b) in enumerate(sizes)
    ]
    pieces = [square(p.name, *p.middle, p.length, p.width) for p in set_out(vessels, length, width).pieces]
    assert len(pieces) == len(sizes)
    assert not any(overlap(a, b) for k, a in enumerate(pieces) for b in pieces[k + 1 :])


def unplaced(name):
    """A demo as it would be if its file did not say where its vessels stand."""
    build = load(name)
    return build.changed({("vessels", vessel, "at"): None for vessel in build.vessels})


@pytest.mark.sweep(6)
@pytest.mark.parametrize("told", [True, False])
@pytest.mark.parametrize("name", demos())
def test_a_demos_plan_is_without_overlap_and_to_scale_as_told_and_as_proposed(name, told):
    build = load(name) if told else unplaced(name)
    plan = standing(build)
    assert plan.told == told
    on_the_ground = [p for p in plan.pieces if not p.below]
    assert not any(overlap(a, b) for k, a in enumerate(on_the_ground) for b in on_the_ground[k + 1 :])
    drawn = PlanFromAbove(build)
    assert ("a proposal" in drawn.title()) != plan.told and all(v in drawn.alt() for v in build.vessels)
    drawn.figure()
    assert plan.size[0] * drawn.points <= drawn.width and plan.size[1] * drawn.points <= drawn.height
    assert drawn.points * 0.0254 / 72 * drawn.scale == pytest.approx(1.0)


@pytest.mark.parametrize("units", ["metric", "US"])
def test_the_plan_cuts_no_height_short_and_names_a_scale_only_for_its_paper(units):
    drawn = PlanFromAbove(load("courtyard", units=units))
    said = [text.get_text() for text in drawn.figure().findobj(Text)]
    assert not any("…" in one for one in said) and any("on A4" in one for one in said) == (units == "metric")


@pytest.mark.parametrize("name", demos())
def test_a_demos_plan_stands_upright_beside_its_places(name):
    # A4 is 210 mm wide, 12 kept free on each side: what is drawn as large on it, to one step of the scales, needs no page of its own
    build = load(name)
    drawn = PlanFromAbove(build)
    said = [text.get_text() for text in drawn.figure().findobj(Text)]
    assert drawn.upright and drawn.width / 72 * 25.4 <= 210 - 2 * 12 + 0.5
    assert next(block for block in plan(build).blocks if isinstance(block, SheetDrawing)).upright
    assert all(any(word.startswith(vessel.split()[0]) for word in said) for vessel in build.vessels)  # in it, or under its number


def test_a_long_plan_lies_on_its_side():
    # 13 m over 165 mm of paper are 1 : 79, so 1 : 100; over 196 mm 1 : 67, so 1 : 75
    yard = load("courtyard").changed({("site", "yard_length"): "13 m", ("site", "yard_width"): "6 m"})
    assert not PlanFromAbove(yard).upright and PlanFromAbove(yard).scale == 75
    assert not next(block for block in plan(yard).blocks if isinstance(block, SheetDrawing)).upright


def told(**places):
    build = load("courtyard")
    return build.changed({("vessels", name.replace("_", " "), "at"): value for name, value in places.items()})


def test_a_file_says_where_its_vessels_stand_and_how_they_are_turned():
    build = told(fish_tank=["1 m", "1 m"], bed_1=["3 m", "1 m"], bed_2=["3 m", "3 m"], sump=["6 m", "2 m"])
    plan = standing(build.changed({("vessels", "bed 1", "turned"): "90 deg"}))
    assert plan.told and plan["fish tank"].radius == pytest.approx(0.7)
    xs, ys = zip(*plan["bed 1"].corners)  # 2.0 by 1.1 m, turned by a quarter
    assert max(xs) - min(xs) == pytest.approx(1.1) and max(ys) - min(ys) == pytest.approx(2.0)
    assert "proposal" not in PlanFromAbove(build).title()


@pytest.mark.parametrize(
    "value, says",
    [(["1 m"], "two lengths"), ("1 m", "two lengths"), (["1 m", "3 L"], "a volume"), ([["1 m", "1 m"], ["2 m", "1 m"]], "where 2 stand")],
)
def test_a_place_that_is_none_is_refused_in_one_sentence(value, says):
    with pytest.raises(DesignError, match=says):
        told(sump=value)


# --- holes -----------------------------------------------------------------------------------------------


def test_the_courtyards_holes_by_hand():
    found = {hole.line: hole for hole in holes(load("courtyard"))}
    # 63 mm overflow, lip 0.85, the tank's floor 0.15 and rim 1.00 m: an elbow of 63 mm looks up, from its centre to its mouth 32.5 (ISO 264)
    # and 37.5 (ISO 727): 700 − 70 = 630 over the floor, 220 under the rim. G 2 1/2 is 75.18 mm over its thread (ISO 228-1), 77 a hole for it.
    tank = found["tank overflow"]
    assert (tank.height, tank.under_rim, tank.saw) == pytest.approx((0.630, 0.220, 0.077), abs=1e-6)
    # the bed's siphon: through the floor, 20 mm, G 3/4 is 26.44 mm
    assert found["bed 1 siphon"].floor and found["bed 1 siphon"].saw == pytest.approx(0.028)
    assert len(found) == 6


def test_holes_of_turned_vessels_are_in_the_walls_that_the_plan_shows():
    # kitchen-garden by hand, in: the sump is turned, 125 to 179 along and 125 to 205 across. Bed 1, right of it, begins at 184 and goes from 192 to 228 across:
    # what lies before both is 192 to 205, its middle 198.5: 73.5 from the sump's right wall's left end, seen from outside (125), 29.5 from that of the bed's left wall (228).
    # Bed 4, turned, near of it, 154 to 190 along: 154 to 179 before both, middle 166.5: 41.5 from 125, 23.5 from 190.
    found = {(hole.vessel, hole.line): (hole.wall, hole.along / 0.0254) for hole in holes(load("kitchen-garden")) if hole.along is not None}
    assert found["sump", "bed 1 drain"] == ("right", pytest.approx(73.5)) and found["bed 1", "bed 1 drain"] == ("left", pytest.approx(29.5))
    assert found["sump", "bed 4 drain"] == ("near", pytest.approx(41.5)) and found["bed 4", "bed 4 drain"] == ("far", pytest.approx(23.5))


def test_a_hole_in_a_narrow_floor_is_in_its_middle():
    # a flange of 90 mm: side-alley's towers are 160 mm wide, 80 / 2 is less than 45 + 20; lean-to's channels 8 in: 3 3/4 in of flange, 5 5/8 from a wall
    # is over the middle of 8 in, so 4
    assert "in its middle, on the side of sump" in str(drilling(load("side-alley")))
    channel = next(hole for hole in holes(load("lean-to")) if hole.line == "channels drain" and hole.vessel == "channels")
    assert channel.floor and channel.along / 0.0254 == pytest.approx(4.0)


def test_a_drain_under_a_vessel_on_the_ground_is_said():
    # raft-hall's rafts stand on the ground, and their drain goes out through the floor; courtyard's beds stand 0.62 m over it
    wrong = {hole.vessel: hole.wrong for hole in holes(load("raft-hall")) if hole.line == "rafts drain"}
    assert "trench" in wrong["rafts"] and not any(hole.wrong for hole in holes(load("courtyard")))


def test_where_a_hole_in_a_floor_is_what_drips_and_what_is_joined_are_told():
    # side-alley: 16 towers of a drain in the floor, and 16 drippers of 4 mm; courtyard: a flange of 40 mm (the table), once and a half of it is 60
    alley, yard = str(drilling(load("side-alley"))), str(drilling(load("courtyard")))
    assert "Of the 16 towers" in alley and "16 holes for its drippers, 4 mm wide" in alley and "joined" not in yard
    assert "60 mm from the right wall, 550 mm from that wall's left end, on the side of sump" in yard
    note = next(n for n in parts_list("side-alley").notes if "are joined" in n)
    assert "16 “towers”" in note and not any("are joined" in n for n in parts_list("courtyard").notes)


@pytest.mark.parametrize("name", demos())
def test_holes_go_from_low_to_high_and_keep_apart(name):
    build = load(name)
    found = holes(build)
    for vessel in build.vessels:
        own = [hole for hole in found if hole.vessel == vessel]
        assert [hole.height for hole in own] == sorted(hole.height for hole in own)
    for hole in found:
        v = build.vessels[hole.vessel]
        assert hole.height + hole.under_rim == pytest.approx(v.rim - v.si.floor)
        assert hole.floor or hole.wall or hole.turn is not None
        assert hole.wrong not in ("the rim", "the floor")  # nobody can drill there, and a demo is built from its sheet
        round_ = [o for o in found if o.vessel == hole.vessel and o.turn is not None and hole.turn is not None and o is not hole]
        for other in round_ if not hole.wrong else []:
            if not other.wrong:
                turn = abs(hole.turn - other.turn) % (2 * math.pi)
                gap = math.hypot(v.si.diameter / 2 * min(turn, 2 * math.pi - turn), hole.height - other.height)
                assert gap >= hole.flange / 2 + other.flange / 2 + CLEAR - 1e-6


def test_a_hole_too_near_the_rim_is_said():
    build = load("courtyard").changed(
        {("lines", "tank emergency overflow", "entry"): "side", ("lines", "tank emergency overflow", "lip"): "0.95 m"}
    )
    assert next(h for h in holes(build) if h.line == "tank emergency overflow").wrong == "the rim"  # flange 150 mm across, 95 mm of bore
    assert not next(h for h in holes(load("courtyard")) if h.line == "tank emergency overflow").wrong


# ISO 228-1, major diameters of G threads [mm]; from memory
G = {
    "20 mm": 26.441,
    "25 mm": 33.249,
    "32 mm": 41.910,
    "40 mm": 47.803,
    "50 mm": 59.614,
    "63 mm": 75.184,
    "75 mm": 87.884,
    "110 mm": 113.030,
}


def test_a_hole_lets_its_thread_through_and_its_flange_covers_it():
    for name, row in tables.table(TankFitting).items():
        r = row.si
        assert r.hole_low <= r.hole_typical <= r.hole_high < r.flange
        assert r.hole_low > r.outside_diameter
        if name in G:
            assert 0 < 1000 * r.hole_low - G[name] < 4


# --- the order of work --------------------------------------------------------------------------------------


def test_the_cement_waits_as_long_as_its_table_says_and_the_calendar_counts_it():
    system, cuts = review(load("courtyard")).system, cut_list("courtyard")
    days = order(system, cuts).blocks
    dated = order(system, cuts, datetime.date(2027, 3, 1)).blocks
    grid, same = (next(b for b in blocks if hasattr(b, "rows")) for blocks in (days, dated))
    rows = {row[1].split(",")[0].split(":")[0]: row for row in grid.rows}
    cold = max(float(cement.cure_time(size, "4 degC").m_as("h")) for size in ("2 in", "90 mm"))  # courtyard.toml: the coldest air is 4 °C
    wait = rows["Cement"][5]
    assert (float(wait.split()[0]) * (24 if "day" in wait else 1)) == pytest.approx(cold, rel=0.02)
    assert grid.rows[0][6] == "day 1" and same.rows[0][6] == "01 Mar 2027"
    whats = [row[1] for row in grid.rows]
    first = [
        next(k for k, what in enumerate(whats) if what.startswith(word))
        for word in ("Mark the site", "Dig", "Mark and drill", "Saw", "Cement", "Flush", "Leak", "Valves")
    ]
    assert first == sorted(first)


def test_foam_goes_under_vessels_before_they_are_set_and_round_them_after_the_leak_test():
    def whats(build):
        system = review(build).system
        return [row[1] for b in order(system, cut_list(build)).blocks if hasattr(b, "rows") for row in b.rows]

    yard = load("courtyard")  # 30 mm of foam, lids over 80 %
    found = [
        next(k for k, what in enumerate(whats(yard)) if what.startswith(word)) for word in ("Foam under", "Set the", "Leak", "Foam round")
    ]
    assert found == sorted(found)
    bare = whats(yard.changed({("heat", "insulation"): None}))
    assert "Lids on" in bare and not any("oam" in what for what in bare)
    assert not any("oam" in what or "ids on" in what for what in whats(load("terrace")))


def test_what_is_not_there_is_no_work():
    system = review(load("terrace")).system
    whats = " ".join(row[1] for b in order(system, cut_list("terrace")).blocks if hasattr(b, "rows") for row in b.rows)
    assert "Buried" not in whats and ("Dig" in whats) == any(v.si.floor < 0 for v in load("terrace").vessels.values())


# --- the wall -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["courtyard", "kitchen-garden"])
def test_the_wall_has_heights_valves_and_three_dangers(name):
    seen = review(load(name))
    page = wall(seen)
    grids = {b.key: b for b in page.blocks if hasattr(b, "rows")}
    assert len(grids["dangers"].rows) == 3 and all(all(row) for row in grids["dangers"].rows)
    v = next(iter(load(name).vessels.values()))
    assert grids["wall heights"].rows[0] == (
        v.si.name,
        high(v.si.floor, seen.build.units),
        high(v.level, seen.build.units),
        high(v.rim, seen.build.units),
        tape(v.si.working_depth, seen.build.units),
    )


def test_the_wall_tells_of_a_pipe_that_comes_off_where_that_takes_most_water():
    # balcony: the pump stands in the fish tank, 0.10 m over its floor, and throws 0.5 m of a round tank 1.1 m wide out of a loose pipe
    rows = {
        name: next(b for b in wall(review(load(name))).blocks if getattr(b, "key", "") == "dangers").rows
        for name in ("balcony", "courtyard")
    }
    lost = next(row for row in rows["balcony"] if "loses its water" in row[0])
    assert "comes off its pump" in lost[0] and "down to 100 mm" in lost[1] and "sump" not in lost[2]  # it has none
    lost = next(row for row in rows["courtyard"] if "loses its water" in row[0])
    assert "no lower than 700 mm" in lost[1] and "from the sump" in lost[2]


def test_a_mark_tells_two_sheets_apart():
    seen = review(load("courtyard"))
    one, other = wall(seen), wall(review(load("balcony")))
    assert mark((one,)) == mark((wall(seen),)) != mark((other,))
    assert len(mark((one,))) == 6 and mark((one,)).isalpha() and mark((one,)).isupper()


# --- the proposal, and what pipe there is -------------------------------------------------------------------


@pytest.mark.parametrize(
    "name, left", [("courtyard", 0), ("barrel-yard", 0), ("terrace", 0), ("raft-hall", 2), ("side-alley", 1), ("kitchen-garden", 5)]
)
def test_a_proposal_stands_what_short_pipes_join_side_by_side(name, left):
    # identity: what a pipe reaches are the legs of its route that go along, else its length less its fall, and no farther apart do its vessels stand; in rows
    # with paths not all can be neighbours, and the sheet names those that are too short
    build = unplaced(name)
    found = unreached(build)
    assert len(found) <= left
    said = str(plan(build))
    assert all(pipe.name in said for pipe, _ in found) and ("too short along walls" in said) == bool(found)
    for line in build.drops.values():
        f = line.si
        gap = min(apart(a, b) for a in standing(build).of(f.source) for b in standing(build).of(f.to))
        if f.name not in {pipe.name for pipe, _ in found}:
            along = f.length - (f.lip - f.outlet) if untold(f) else sum(step.length for step in f.route if not step.up)
            assert gap <= max(along, 0.1) + 0.02 + 1e-9


@pytest.mark.parametrize("name", demos())
def test_a_demo_stands_where_every_pipe_reaches_and_a_bucket_passes(name):
    build = load(name)
    assert standing(build).told and not unreached(build)
    told = (
        "vessel outside the yard",
        "two in one place",
        "pipe shorter than its way",
        "path too narrow",
        "bed out of reach",
        "route misses its heights",
    )
    assert not [f for f in review(build).findings if f.name in told]


def test_a_path_is_asked_for_between_neighbours_and_not_across_what_stands_between():
    # lean-to: four channels of 8 in side by side, 2 in apart; from the first to the third it is 12 in, and the second stands there
    def narrow(build):
        return [f for f in review(build).findings if f.name == "path too narrow"]

    alike = load("lean-to")
    places = [list(map(str, place)) for place in tomllib.loads(alike.text)["vessels"]["channels"]["at"]]
    assert not narrow(alike)
    places[1] = ["207 in", "60 in"]  # the second taken out of the row: 12 in are open
    assert narrow(alike.changed({("vessels", "channels", "at"): places}))


def test_towers_in_a_row_stand_apart_for_light_and_nobody_has_to_pass():
    build = Build(first_build("towers", beds=4, units="metric"))
    places = {name: [] for name in build.vessels}
    for piece in proposal(build).pieces:
        places[piece.name].append([f"{where:.3f} m" for where in piece.middle])
    told = build.changed({("vessels", name, "at"): spots if len(spots) > 1 else spots[0] for name, spots in places.items()})
    rows = {name: spots for name, spots in places.items() if build.vessels[name].si.kind == "tower"}
    assert standing(told).told and all(len(spots) > 1 for spots in rows.values()) and rows
    assert not [f for f in review(told).findings if f.name == "path too narrow"]


def test_nobody_has_to_pass_beside_a_tank_under_a_bed_where_the_next_bed_touches_it():
    # 2 m beds 4 in apart end to end, a tank of 1.55 m under the first: 0.325 m from it to the next bed, and the first bed hangs over that
    def narrow(apart):
        places = {"fish tank": ["1.0 m", "1.4 m"], "bed 1": ["1.0 m", "1.4 m"], "bed 2": [f"{3.0 + apart} m", "1.4 m"]}
        build = Build(first_build("bed above the tank", beds=2)).changed({("vessels", name, "at"): at for name, at in places.items()})
        return [f.sentence for f in review(build).findings if f.name == "path too narrow"]

    assert not narrow(0.1)
    assert any("bed 1" in told and "bed 2" in told for told in narrow(0.3))


def test_as_many_more_as_a_page_keeps_take_the_places_out_of_the_file():
    hall = load("raft-hall")  # its file says where three stand
    more = hall.changed({("vessels", "rafts", "count"): 4})
    assert len(hall.vessels["rafts"].si.at) == 3 and not more.vessels["rafts"].si.at and more.vessels["sump"].si.at
    assert hall.changed({("vessels", "rafts", "count"): 3}).vessels["rafts"].si.at  # nothing changed


def test_ground_between_round_ones_is_exact():
    # 3-4-5: middles 5 m apart, radii 1 and 1.5 m; and a circle of 1 m beside a square's corner, 3 along and 4 across from it
    def disc(x, y, r):
        ring = tuple((x + r * math.cos(a), y + r * math.sin(a)) for a in (k * math.pi / 12 for k in range(24)))
        return Footprint("disc", ring, (x, y), r)

    assert apart(disc(0, 0, 1), disc(3, 4, 1.5)) == pytest.approx(2.5)
    assert apart(square("s", 0, 0, 2, 1), disc(4, 4.5, 1)) == pytest.approx(4.0)
    assert overlap(disc(0, 0, 1), disc(0, 1.9, 1)) and not overlap(disc(0, 0, 1), disc(0, 2.0, 1))
    assert overlap(square("s", 0, 0, 2, 1), disc(0, 0, 0.1)) and apart(square("s", 0, 0, 2, 1), disc(0, 0, 0.1)) == 0.0

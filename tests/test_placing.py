"""Vessels set out on the ground: nothing on another, a path beside each row, what it takes, and what stands over what."""

import itertools
import math

import numpy as np
import pytest

from aquaplumb.build import Build, demos, load
from aquaplumb.build.ground import PATH
from aquaplumb.build.layouts import LAYOUTS, MOST_BEDS, first_build
from aquaplumb.build.placing import set_out, stood_over, takes
from aquaplumb.build.standing import standing, unreached
from aquaplumb.build.vessels import Vessel
from aquaplumb.review import findings
from aquaplumb.system.steady import Steady
from aquaplumb.units import SYSTEMS
from aquaplumb.whatif import start
from aquaplumb.whatif.yard import roomy, set_up

BUILDS = [(layout, beds, units) for layout in LAYOUTS for beds in (1, 3, MOST_BEDS) for units in SYSTEMS]


def ground_of(build, length, width):
    vessels = build.vessels
    return set_out(list(vessels.values()), length, width, below=stood_over(vessels, list(build.drops.values())), units=build.units)


def check(build, ground):
    """Each vessel as often and as large as the file says; none on another at the same height; all within what it is said to take."""
    for name, vessel in build.vessels.items():
        v, mine = vessel.si, [piece for piece in ground.pieces if piece.name == name]
        assert len(mine) == v.count, name
        sides = sorted((v.length or v.diameter, v.width or v.diameter))
        assert all(sorted((piece.length, piece.width)) == pytest.approx(sides) for piece in mine), name
    for one, other in itertools.combinations(ground.pieces, 2):
        apart = (
            one.x + one.length <= other.x + 1e-9 or other.x + other.length <= one.x + 1e-9
            or one.y + one.width <= other.y + 1e-9 or other.y + other.width <= one.y + 1e-9
        )  # fmt: skip
        assert apart or one.below != other.below, f"{one} lies on {other}"
    assert all(piece.x >= 0 and piece.y >= 0 for piece in ground.pieces)
    assert max(piece.x + piece.length for piece in ground.pieces) <= ground.length + 1e-9
    assert max(piece.y + piece.width for piece in ground.pieces) <= ground.width + 1e-9


@pytest.mark.sweep(18)
@pytest.mark.parametrize(("layout", "beds", "units"), BUILDS)
def test_first_builds_are_set_out_whole(layout, beds, units):
    build = Build(first_build(layout, beds=beds, units=units))
    for place in ((6.0, 5.0), (20.0, 3.0), (2.0, 2.0)):
        check(build, ground_of(build, *place))


@pytest.mark.parametrize("demo", demos())
def test_demos_are_set_out_whole(demo):
    build = load(demo)
    check(build, ground_of(build, 8.0, 6.0))


def bed(name, length, width, **more):
    return Vessel.from_si(
        name=name, kind="bed", shape="rectangular", length=length, width=width, height=0.3, floor=0.5, working_depth=0.2, **more
    )


def test_what_two_beds_take_by_hand():
    """Pencil: two beds of 2 by 1 m in a row: 2 + 0.1 + 2 m and a path of 0.6 m round its end; 1 m and a path on each side. Under one another: two rows, three paths."""
    beds = [bed("a", 2.0, 1.0), bed("b", 2.0, 1.0)]
    row = set_out(beds, 6.0, 2.2)
    assert (row.length, row.width) == pytest.approx((4.7, 2.2))
    assert row.fits
    rows = set_out(beds, 3.0, 4.0)
    assert (rows.length, rows.width) == pytest.approx((2.6, 3.8))
    assert rows.fits
    assert rows.pit == 0
    assert not set_out(beds, 3.0, 3.7).fits
    assert set_out(beds, 2.2, 6.0).fits  # along its width


@pytest.mark.parametrize("units", SYSTEMS)
def test_there_is_a_path_on_both_sides_of_each_row(units):
    ground = set_out([bed(str(i), 2.0, 1.0) for i in range(5)], 5.0, 8.0, units=units)
    lows = sorted({round(piece.y, 6) for piece in ground.pieces})
    assert lows[0] == pytest.approx(PATH[units])
    assert all(high - low == pytest.approx(1.0 + PATH[units]) for low, high in itertools.pairwise(lows))
    assert ground.width == pytest.approx(lows[-1] + 1.0 + PATH[units])


def test_channels_stand_side_by_side_no_farther_than_an_arm_reaches():
    """Common practice, no source: 1.2 m reached from both sides. Of six of 0.2 m, 5 cm apart, five make 1.2 m; the sixth stands by itself."""
    channels = Vessel.from_si(
        name="c", kind="channel", shape="rectangular", count=6.0, length=3.0, width=0.2, height=0.1, floor=0.8, slope=0.02
    )
    ground = set_out([channels], 8.0, 6.0)
    across = sorted({round(piece.y, 6) for piece in ground.pieces if piece.x == 0})
    assert len(across) == 5
    assert across[-1] + 0.2 - across[0] == pytest.approx(1.2)


def test_only_the_tank_under_its_beds_is_stood_over():
    over = {layout: stood_over(b.vessels, list(b.drops.values())) for layout in LAYOUTS for b in [Build(first_build(layout, beds=2))]}
    assert over == {layout: ["fish tank"] if layout == "bed above the tank" else [] for layout in LAYOUTS}


def test_the_pit_is_as_deep_as_the_lowest_floor():
    build = Build(first_build("one loop"))
    assert ground_of(build, 6.0, 5.0).pit == pytest.approx(-build.vessels["sump"].si.floor)
    assert math.isclose(ground_of(Build(first_build("bed above the tank")), 6.0, 5.0).pit, 0.0)


def test_beds_stand_in_two_rows_past_a_wide_tank():
    """Pencil: a tank of 2.05 m with its paths is 3.25 m; past it two rows of two beds of 2 by 1.1 m, 2 + 0.1 + 2 + 0.6 m long and 3 × 0.6 + 2 × 1.1 m wide.

    In one row behind the tank they would take 2.05 + 0.1 + 8.4 - 0.1 + 0.6 m and more.
    """
    tank = Vessel.from_si(name="tank", kind="fish tank", shape="round", diameter=2.05, height=0.85, floor=0.0, working_depth=0.7)
    beds = [bed(f"bed {place}", 2.0, 1.1) for place in range(1, 5)]
    for place in ((8.0, 4.0), (4.0, 8.0)):
        ground = set_out([tank, *beds], *place)
        assert ground.fits and sorted((ground.length, ground.width)) == pytest.approx([4.0, 7.95])
    assert not set_out([tank, *beds], 7.9, 4.0).fits


def test_narrow_places_keep_each_vessel_whole():
    for layout, beds in itertools.product(LAYOUTS, (2, 5)):
        build = Build(first_build(layout, beds=beds))
        for place in ((10.0, 4.0), (4.5, 9.0)):
            check(build, ground_of(build, *place))


def test_room_is_told_as_one_paces_it_out():
    assert takes(5.76, "metric") == "5.8 m" and takes(5.75, "metric") == "5.75 m"
    assert takes(11.99 * 0.3048, "US") == "12 ft"


# --- page 00's yard, and the sheet's plan ---------------------------------------------------------------

YARDS = [None, (12.0, 4.0), (5.0, 9.0), (20.0, 15.0)]  # a usual one first
CHOICES = [(layout, beds, yard) for layout in LAYOUTS for beds in range(1, MOST_BEDS + 1) for yard in YARDS]
SITE = (100.0, 295.15, 301.15)


def told(build, ground):
    """The build as if its file said where each vessel stands in a plan."""
    changes = {}
    for name, vessel in build.vessels.items():
        own = [piece for piece in ground.pieces if piece.name == name]
        places = [[f"{side:.4f} m" for side in piece.middle] for piece in own]
        changes["vessels", name, "at"] = places[0] if len(own) == 1 else places
        if vessel.si.length and abs(own[0].length - vessel.si.length) > 1e-6:
            changes["vessels", name, "turned"] = "90 deg"
    return build.changed(changes)


def off(points, piece):
    """How far points [m, …, 2] are from a footprint [m]; 0 and less inside it."""
    x, y = (points - piece.middle).T
    if piece.radius:
        return np.hypot(x, y).T - piece.radius
    (ax, ay), (bx, by), (cx, cy) = piece.corners[:3]
    long, wide, turned = math.dist((ax, ay), (bx, by)), math.dist((bx, by), (cx, cy)), math.atan2(by - ay, bx - ax)
    along, across = x * math.cos(turned) + y * math.sin(turned), y * math.cos(turned) - x * math.sin(turned)
    return np.hypot(np.maximum(np.abs(along) - long / 2, 0), np.maximum(np.abs(across) - wide / 2, 0)).T


def walked(plan, size):
    """Which vessels somebody reaches who walks where half of the least passage (0.45 m, common practice) is free to both sides."""
    step = 0.15
    rims = [piece for piece in plan.pieces if piece.high > 0]
    across = np.stack(np.meshgrid(*(np.arange(-2, int(side / step) + 3) for side in size), indexing="ij"), axis=-1)
    far = {piece: off(across * step, piece) for piece in rims}
    free = {tuple(cell) for cell in across[np.min([*far.values()], axis=0) >= 0.225].tolist()}
    reached, todo = set(), [(-2, -2)]  # the yard's corner, from outside
    while todo:
        here = todo.pop()
        if here in free and here not in reached:
            reached.add(here)
            todo += [(here[0] + a, here[1] + b) for a, b in ((1, 0), (-1, 0), (0, 1), (0, -1))]
    near = {piece.name for piece in rims if any(far[piece][i + 2, j + 2] <= 0.6 for i, j in reached)}
    return near, {piece.name for piece in rims}


@pytest.mark.sweep(24)
@pytest.mark.parametrize(("layout", "beds", "yard"), CHOICES)
def test_page_00s_yard_is_the_sheets_plan_and_all_its_pipe_reaches(layout, beds, yard):
    # identities: one plan, whoever draws it; no pipe shorter than its way along walls; nothing on another; a path to each vessel. As if the file told it, the
    # review finds nothing wrong with the places.
    units = SYSTEMS[beds % 2]
    length, width = yard or roomy(layout, beds, units, SITE)
    _, made, ground = set_up(Build(first_build(layout, beds=beds, units=units)), length, width)
    plan = standing(made)
    assert not plan.told and plan.yard and [(p.name, p.middle) for p in plan.pieces] == [(p.name, p.middle) for p in ground.pieces]
    check(made, ground)
    if not ground.fits:
        return  # the page says so; the file has the lines as they were
    assert plan.size == pytest.approx((length, width), abs=0.01) and not unreached(made)
    reached, all_of_them = walked(plan, plan.size)
    assert reached == all_of_them
    wrong = {"vessel outside the yard", "two in one place", "pipe shorter than its way", "path too narrow"}
    assert not [f for f in findings.found(Steady(told(made, ground))) if f.name in wrong]


def test_digging_changes_what_suits_and_not_where_things_stand():
    panel = start.panel(load("courtyard"))
    dug = panel.record.si
    panel.set(may_dig=False)
    assert panel.record.si.ground == dug.ground and panel.record.si.text == dug.text and panel.record.si.unsuited and not dug.unsuited


def test_lines_grow_where_a_narrow_yard_sets_vessels_far_apart():
    plain = Build(first_build("one loop", beds=4))
    _, made, ground = set_up(plain, 12.0, 4.0)
    longer = {name: fall.si.length - plain.falling[name].si.length for name, fall in made.falling.items()}
    assert ground.fits and max(longer.values()) > 0.5 and min(longer.values()) >= 0
    assert all(more * 20 == pytest.approx(round(more * 20)) for more in longer.values())  # by 5 cm
    assert unreached(plain.changed({("site", "yard_length"): "12 m", ("site", "yard_width"): "4 m"}))


def test_more_rafts_than_were_planned_are_set_out_anew():
    _, made, _ = set_up(Build(first_build("rafts", beds=2)), 10.0, 8.0)
    more = made.changed(
        {("vessels", "rafts", "count"): 4}
    )  # the file says where none stands: nothing to be dropped, and nothing beside the rest
    assert len(standing(more).of("rafts")) == 4 and max(x for piece in standing(more).pieces for x, _ in piece.corners) <= 10.0

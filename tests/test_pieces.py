"""Pieces of pipe between fittings: sockets and take-offs against the standards, stretches by hand, and routes that a file tells."""

import itertools
import re

import pytest

from aquaplumb import DesignError, tables
from aquaplumb.build import Build, demos, file_text, load
from aquaplumb.build.joints import ELBOW_UP, GAP, OPEN_TEE, THROUGH
from aquaplumb.build.mouths import mouth
from aquaplumb.build.records import way_to
from aquaplumb.build.routes import rise
from aquaplumb.build.sawn import sawn
from aquaplumb.build.standing import from_point, standing
from aquaplumb.plumbing import takeoffs
from aquaplumb.review import review
from aquaplumb.workshop.cut_list import cut_list
from aquaplumb.workshop.holes import holes
from aquaplumb.workshop.parts import parts_list
from aquaplumb.workshop.sheet.records import Grid
from aquaplumb.workshop.sheet.sawing import cuts
from walks import walked

# ASTM D2466 (Schedule 40) and D2467 (Schedule 80), least socket length [in]: as printed in the table of socket dimensions of a pipe
# maker's installation guide, page 15. To a hundredth of a millimetre, as the table here is written.
SOCKETS = {
    "1/2 in": (0.688, 0.875), "3/4 in": (0.719, 1.000), "1 in": (0.875, 1.125), "1 1/4 in": (0.938, 1.250), "1 1/2 in": (1.094, 1.375),
    "2 in": (1.156, 1.500), "2 1/2 in": (1.750, 1.750), "3 in": (1.875, 1.875), "4 in": (2.000, 2.250), "6 in": (3.000, 3.000),
}  # fmt: skip
# ISO 727-1 and EN 1452-3, socket lengths [mm] as in their tables; from memory
METRIC = {20: 16, 25: 18.5, 32: 22, 40: 26, 50: 31, 63: 37.5, 75: 43.5, 90: 51, 110: 61}
# ISO 264, laying lengths of 90° and 45° elbows [mm]; from memory
LAYING = {
    20: (11, 5),
    25: (13.5, 6),
    32: (17, 7.5),
    40: (21, 9.5),
    50: (26, 11.5),
    63: (32.5, 14),
    75: (38.5, 16.5),
    90: (46, 19.5),
    110: (56, 23.5),
}


@pytest.mark.parametrize("size", SOCKETS)
def test_inch_sockets_are_as_deep_as_in_print(size):
    for standard, inches in zip(("Sch 40", "Sch 80"), SOCKETS[size]):
        assert takeoffs.socket_depth(size, standard).m_as("mm") == pytest.approx(25.4 * inches, abs=0.01)


@pytest.mark.parametrize("outside", METRIC)
def test_metric_sockets_and_elbows_are_as_in_print(outside):
    for standard in ("PN10", "PN16"):
        if f"{outside} mm" not in tables_of(standard):
            continue
        size = f"{outside} mm"
        assert takeoffs.socket_depth(size, standard).m_as("mm") == pytest.approx(METRIC[outside], abs=0.01)
        right, half = (takeoffs.take_off(name, size, standard).m_as("mm") for name in ("elbow 90", "elbow 45"))
        assert (right, half) == pytest.approx(LAYING[outside], abs=0.01)


def tables_of(standard):
    from aquaplumb.plumbing import pipe_sizes

    return pipe_sizes.sizes(standard)


def test_take_offs_are_what_the_geometry_of_a_bend_allows():
    # The pipe stops before the middle of the other leg's bore, so a right-angled fitting takes up half a pipe's bore at least; one of 45°
    # tan(22.5°) of that. None of these rows may say less than six tenths of the outside radius.
    for row in tables.table(takeoffs.TakeOff).values():
        r, outside = row.si, next(s.si.outside_diameter for s in tables.table(takeoffs.SocketSize).values() if s.si.size == row.si.size)
        least = {"elbow 90": 0.5, "tee": 0.5, "sweep elbow 90": 1.0, "elbow 45": 0.5 * 0.414}.get(r.fitting, 0.0)
        assert r.take_off >= 0.9 * least * outside, r.name
        assert r.take_off <= 2.5 * outside + 0.06


def test_wider_pipe_never_has_a_shallower_socket():
    for system in ("Sch 40", "Sch 80", "metric"):
        rows = [row.si for row in tables.table(takeoffs.SocketSize).values() if row.si.system == system]
        assert all(a.outside_diameter < b.outside_diameter and a.depth <= b.depth for a, b in itertools.pairwise(rows))


@pytest.mark.parametrize("size, standard", [("50 mm", "EN 1451"), ("32 mm", "PE SDR 11")])
def test_what_is_not_cemented_has_no_socket_here(size, standard):
    with pytest.raises(DesignError, match="nobody here knows"):
        takeoffs.socket_depth(size, standard)


# --- three stretches by hand ------------------------------------------------------------------------


def run(build, name):
    return next(one for one in sawn(build) if one.name == name)


def lengths(one):
    return [round(1000 * piece.length, 2) for piece in one.pieces]


RISER = (
    'size = "40 mm"\nlength = "2.2 m"\nfittings = { "strainer" = 1, "elbow 90" = 2, "union" = 1, "swing check valve" = 1 }\n'
    'route = ["up 0.25 m", "union", "up 0.2 m", "swing check valve", "up 1.3 m", "elbow 90", "0.35 m", "elbow 90", "0.1 m"]'
)
TOLD = (
    'size = "40 mm"\nfittings = { "strainer" = 1, "elbow 90" = 2, "union" = 1, "swing check valve" = 1 }\n'
    'route = ["up 0.25 m", "union", "up 0.2 m", "swing check valve", "up 1.0 m", "elbow 90", "0.35 m", "elbow 90", "0.4 m"]'
)


def untold(name, *lines):
    """A demo as it would be if its file did not tell how its pipes go, and these lines counted no bend."""
    bare = Build(re.sub(r"(?m)^route = .*\n", "", load(name).text))
    return bare.changed({("lines", line, "fittings"): None for line in lines})


def told_riser(text=TOLD):
    assert RISER in load("courtyard").text
    return Build(load("courtyard").text.replace(RISER, text))


def test_a_riser_with_its_route_by_hand():
    # 40 mm: socket 26 (ISO 727); 90° elbow and tee 21 (ISO 264); by common practice union 10, check valve 55, adapter 20, halves each.
    # Adapter to union: 250 − 20 − 10 + 26 + 26 = 272. Union to check valve: 200 − 10 − 55 + 52 = 187. To the elbow: 1000 − 55 − 21 + 52
    # = 976. Elbow to elbow: 350 − 42 + 52 = 360. Elbow to tee (both 21): 400 − 42 + 52 = 410.
    riser = run(told_riser(), "riser")
    assert riser.told and riser.stretch.length == pytest.approx(2.2)
    assert [j.name for j in riser.joints] == ["adapter", "union", "swing check valve", "elbow 90", "elbow 90", "tee"]
    assert lengths(riser) == [272.0, 187.0, 976.0, 360.0, 410.0]
    assert [piece.label for piece in riser.pieces] == [f"riser-{n}" for n in range(1, 6)]


def test_a_branch_in_inches_from_a_wider_tee_by_hand():
    # greenhouse without its routes, to bed 1: 3 ft of 3/4 in from a tee of 1 in with a bush, union and ball valve close, an elbow, an open end.
    # 1 in: tee 11/16, socket 7/8. 3/4 in: socket 23/32, elbow 9/16. The bush sits in the tee's socket, so the pipe stops 7/8 − 0.719 = 0.156 in
    # further out. Union 10 and valve 45 mm, halves (common practice).
    gap, inch = 1000 * GAP, 25.4
    tee, socket, elbow, union, valve = (11 / 16 + 0.875 - 0.719) * inch, 0.719 * inch, 9 / 16 * inch, 10.0, 45.0
    first, second = tee + union + gap, union + valve + gap  # legs of what stands close
    left = (36 * inch - first - second - valve - 2 * elbow) / 2
    branch = run(untold("greenhouse"), "to bed 1")
    assert [j.name for j in branch.joints] == ["tee 1 in with a bush to 3/4 in", "union", "ball valve", "elbow 90", "open end"]
    assert not branch.told
    assert lengths(branch) == pytest.approx([2 * socket + gap, 2 * socket + gap, left + 2 * socket, left + socket], abs=0.02)


def test_a_siphons_pipe_by_hand():
    # courtyard without its routes, bed 1 siphon, 20 mm: lip at 0.87 m, the bed's floor at 0.62, outlet at 0.20, 1.1 m in all, one elbow. Socket 16, elbow 11, tank
    # fitting 5 on each side (common practice). The standpipe: 250 − 5 + 16 = 261. Below, upright: 420 − 5 − 11 + 32 = 436. Then what is left
    # of 1100: 430, level: 430 − 11 + 16 = 435.
    siphon = run(untold("courtyard"), "bed 1 siphon")
    assert not siphon.told and [j.name for j in siphon.joints] == ["open end", "bulkhead fitting", "elbow 90", "open end"]
    assert lengths(siphon) == [261.0, 436.0, 435.0]


def test_a_drain_through_the_floor_with_its_route_by_hand():
    # balcony, bed 1 drain, 50 mm: lip 1.25, the bed's floor 1.00 m, so a standpipe of 250 − 10 + 31 = 271 (tank fitting 10, socket 31); then
    # 570 − 250 = 320 down: − 10 − 26 + 62 = 346; then level 830: the tee that lets
    # air in (take-off 26) stands close behind the elbow, 26 + 26 + 5 from middle to middle, a piece of 5 + 62 = 67; the rest, 830 − 57 = 773, ends
    # 0.68 m high, under the tank's rim at 0.80, so in a tank fitting in its wall: 773 − 26 − 10 + 62 = 799.
    drain = run(load("balcony"), "bed 1 drain")
    assert drain.told and [j.name for j in drain.joints] == ["open end", "bulkhead fitting", "elbow 90", OPEN_TEE, f"{THROUGH} fish tank"]
    assert lengths(drain) == [271.0, 346.0, 67.0, 799.0]


def test_an_emergency_overflow_that_names_no_bend_by_hand():
    # courtyard, bed 1 emergency overflow, 50 mm, as if its file told no route and counted no bend: lip 0.91 m; the elbow inside that looks up takes 26 + 31 = 57, so the hole is at 0.853 m, and the
    # pipe's 1.2 m end at 0. From elbow to tank fitting 26 + 10 + 5 = 41, a piece of 5 + 62 = 67. It cannot go down without a bend: 853 upright,
    # a piece of 853 − 26 + 31 = 858; level 1200 − 41 − 853 = 306, a piece of 306 − 10 − 26 + 62 = 332.
    build = untold("courtyard", "bed 1 emergency overflow", "bed 2 emergency overflow")
    emergency = run(build, "bed 1 emergency overflow")
    assert [j.name for j in emergency.joints] == [ELBOW_UP, "bulkhead fitting", "elbow 90", "open end"]
    assert lengths(emergency) == [67.0, 332.0, 858.0]
    found = {(p.what, p.size): p for p in parts_list(build)}
    assert found["elbow 90", "50 mm"].amount == 4 == found["elbow 90", "50 mm"].implied  # two beds: one inside, one where it turns down


@pytest.mark.sweep(3)
@pytest.mark.parametrize("name", demos())
def test_what_falls_can_be_put_together(name):
    # identities: the legs of a run are its pipe; those that are upright bring it from its hole or lip to its end; and no level leg that ends under
    # the rim of what it falls into lacks its hole there
    # (told on a tape, to half of a sixteenth of an inch; supposed, exactly)
    build = load(name)
    drilled = {(hole.line, hole.vessel) for hole in holes(build)}
    made = {one.name: one for one in sawn(build)}
    for line, fall in build.falling.items():
        one, f = made[line], fall.si
        if f.kind == "joint":
            continue
        assert sum(piece.leg for piece in one.pieces) == pytest.approx(f.length), one.name
        if any(piece.up for piece in one.pieces):
            source = build.vessels.get(f.source)  # none where it follows a tee
            start = f.lip if source is None or one.joints[0].name == "open end" else mouth(f, f, source, build.own)[0]
            near = 0.0009 if one.told else 1e-6
            assert start + sum(piece.leg * piece.up for piece in one.pieces) == pytest.approx(f.outlet, abs=near), one.name
        to = build.vessels.get(f.to)
        if to is None:
            continue
        assert (one.joint(THROUGH) is not None) == ((one.name, f.to) in drilled), one.name
        if one.pieces[-1].up == 0 and f.outlet < to.rim:
            assert one.joint(THROUGH) is not None, one.name


@pytest.mark.parametrize("name", demos())
def test_a_demo_tells_the_way_of_all_its_pipe(name):
    # who holds a demo's sheet has nothing left to suppose; and all ends of a pump, taken down along their legs, begin at one height in its water
    build = load(name)
    assert all(one.told for one in sawn(build))
    sheet = str(cuts(cut_list(build), Grid("pipes", "", (), ())))
    assert "supposed" not in sheet and "as your file tells" in sheet
    for line in (pumped.si for pumped in build.pumped.values()):
        low = [end.si.outlet - sum(rise(pipe.si.route) for pipe in way_to(line, end)) for end in line.pipe if end.si.to]
        source = build.vessels[line.source]
        assert low == pytest.approx([low[0]] * len(low), abs=0.001) and source.si.floor < low[0] < source.level, line.name


@pytest.mark.parametrize("name", demos())
def test_a_demos_pumped_pipe_can_be_walked_from_its_pump_to_each_vessel(name):
    # along square ways, with the legs and turns that its file tells, every end over the vessel that it serves
    build, plan = load(name), standing(load(name))
    for line in (pumped.si for pumped in build.pumped.values()):
        found = walked(build, line)
        assert found, line.name
        for end in (pipe.si for pipe in line.pipe if pipe.si.to):
            assert min(from_point(found[end.name], foot) for foot in plan.of(end.to)) == 0.0, end.name


def test_what_cannot_be_walked_is_found():
    # greenhouse: its header's two ends are 96 in apart, and beds that are 95 in apart cannot both lie under them; a leg that lies where its pipe stands
    house = load("greenhouse")
    beds = {("vessels", name, "at"): [f"{155 + way * (47.5 + 48)} in", "170 in"] for name, way in (("bed 1", -1), ("bed 4", 1))}
    assert walked(house.changed(beds), house.pumped["bed loop"].si) is None
    lying = house.changed({("lines", "bed loop", "pipe", "to bed 1", "route"): ["34 in", "down 2 in", "elbow 90"]})
    assert walked(lying, lying.pumped["bed loop"].si) is None


def test_a_bells_stem_stands_in_its_tank_by_hand():
    # barrel-yard, 1/2 in: lip 63 in, the flush tank's floor 51, so a standpipe of 12; down to 34 in, 17 more; level 41 to a tee of 1 1/4 in with a bush.
    # Socket 11/16, elbow 1/2; 1 1/4 in: socket 15/16, tee 27/32; tank fitting 5 mm (common practice). 12 − 0.197 + 0.688; 17 − 0.197 − 0.5 + 2 × 0.688;
    # the bush in the tee's socket stops the pipe 0.938 − 0.688 further out: 41 − 0.5 − 1.094 + 2 × 0.688.
    for build in (load("barrel-yard"), untold("barrel-yard")):  # its standpipe stands in both
        stem = run(build, "bell › stem")
        assert [j.name for j in stem.joints] == ["open end", "bulkhead fitting", "elbow 90", "tee 1 1/4 in with a bush to 1/2 in"]
        assert stem.pieces[0].length / 0.0254 == pytest.approx(12.491, abs=0.005) and stem.pieces[0].up == -1.0
    stem = run(load("barrel-yard"), "bell › stem")
    assert [piece.length / 0.0254 for piece in stem.pieces] == pytest.approx([12.491, 17.679, 40.782], abs=0.005)


def test_a_pipe_that_goes_up_again_by_hand():
    # side-alley, to towers, 25 mm (socket 18.5, elbow 13.5) from a tee of 40 mm (26, 21) with a bush: 21 + 26 − 18.5 = 28.5; union 10, valve 40 and 5 between
    # two that stand close (common practice): 28.5 + 10 + 5 − 38.5 + 37 = 42, and 42 again. The first leg of 1,500 keeps 1,500 − 43.5 − 55 = 1,401.5, less
    # 40 and 13.5, and 37 = 1,385. Up 300 − 27 + 37 = 310. Over the towers 1,400 − 13.5 + 18.5 = 1,405.
    towers = run(load("side-alley"), "to towers")
    assert [j.name for j in towers.joints][3:] == ["elbow 90", "elbow 90", "open end"]
    assert lengths(towers) == [42.0, 42.0, 1385.0, 310.0, 1405.0] and [piece.up for piece in towers.pieces][2:] == [0.0, 1.0, 0.0]


def test_a_stem_comes_down_between_two_elbows_by_hand():
    # terrace, 40 mm (socket 26, elbow and tee 21, tank fitting 10): lip at 1.00 m, so the elbow inside at 0.953; 36 from there to the tank fitting and 36 to
    # the open tee, pieces of 36 − 31 + 52 = 57. Of the first metre 928 are left: − 42 + 52. Down 333 to 0.62 m, and 117 to the tee, each − 42 + 52.
    stem = run(load("terrace"), "tank drain › stem")
    assert [j.name for j in stem.joints] == [ELBOW_UP, "bulkhead fitting", OPEN_TEE, "elbow 90", "elbow 90", "tee"]
    assert lengths(stem) == [57.0, 57.0, 938.0, 343.0, 127.0]


def lowered():
    """The terrace with its tank's tree under the beds' rims, at 0.46 m; one end names no bend."""
    pipe = ("lines", "tank drain", "pipe")
    ends = {"stem": "0.42 m", "header 1": "0.42 m", "to bed 1": "0.40 m", "to bed 2": "0.20 m", "to bed 3": "0.42 m"}
    changes = {(*pipe, name, "outlet"): height for name, height in ends.items()}
    return load("terrace").changed({**changes, (*pipe, "to bed 2", "fittings"): {"tee branch": 1}})


def test_an_end_of_a_branched_line_goes_through_the_wall_by_hand():
    # 32 mm: tee and elbow 17, socket 22; union 10, valve 45, tank fitting 10, and 5 between two that stand close. From the tee at 0.42 m down to
    # 0.20: the bend that nobody counts. Legs 17 + 10 + 5 = 32 and 10 + 45 + 5 = 60, down 220, and of 1,000 mm 688 are left, level, to the wall.
    # Pieces: 32 − 27 + 44, 60 − 55 + 44, 220 − 45 − 17 + 44, 688 − 17 − 10 + 44.
    build = lowered()
    end = run(build, "tank drain › to bed 2")
    assert [j.name for j in end.joints] == ["tee", "union", "ball valve", "elbow 90", f"{THROUGH} bed 2"]
    assert lengths(end) == [49.0, 49.0, 202.0, 705.0]
    found = {hole.line: hole for hole in holes(build)}
    assert found["tank drain › to bed 2"].vessel == "bed 2"
    assert [found[f"tank drain › to bed {k}"].height for k in (1, 2, 3)] == pytest.approx(
        [0.30, 0.10, 0.32]
    )  # the beds' floor is at 0.10 m
    parts = {(p.what, p.size): p for p in parts_list(build)}
    assert parts["bulkhead fitting", "32 mm"].amount == 3 and "“tank drain › to bed 2” turns down" in parts["elbow 90", "32 mm"].reason
    assert not any("neither is counted" in note for note in parts_list(build).notes)


def test_an_end_of_a_branched_line_comes_from_above_where_it_begins_over_the_rim():
    # its tee at 0.62 m is over the bed's rim at 0.46: along, and down 0.22 m into it; as the file has it, over the rim, it stays as it was
    over = run(load("terrace").changed({("lines", "tank drain", "pipe", "to bed 1", "outlet"): "0.40 m"}), "tank drain › to bed 1")
    assert over.joint(THROUGH) is None and over.pieces[-1].up == -1.0 and over.pieces[-1].leg == pytest.approx(0.22)
    assert all(one.joint(THROUGH) is None for one in sawn(load("terrace")) if one.name.startswith("tank drain"))
    assert not any(hole.line.startswith("tank drain ›") for hole in holes(load("terrace")))


@pytest.mark.parametrize("name", [*demos(), *demos(faulty=True)])
def test_no_demo_has_a_piece_too_short(name):
    assert all(one.missing == 0 and (one.whole or all(p.length > 0 for p in one.pieces)) for one in sawn(load(name)))


# --- what a file tells ---------------------------------------------------------------------------------


def test_a_route_gives_length_and_fittings_where_they_are_left_out():
    bare = told_riser(TOLD.split("\n")[0] + "\n" + TOLD.split("\n")[2])
    s = bare.lines["riser"].si.pipe[0].si
    assert s.length == pytest.approx(2.2) and s.fittings == {"union": 1, "swing check valve": 1, "elbow 90": 2}
    assert rise(s.route) == pytest.approx(1.45) and (s.route[0].up, s.route[0].length) == (1.0, pytest.approx(0.25))


@pytest.mark.parametrize(
    "old, new, says",
    [
        ('size = "40 mm"\n', 'size = "40 mm"\nlength = "3 m"\n', "its legs add up to 2.2 m, and length says 3 m"),
        ('"elbow 90", "0.35 m", ', "", "it has 1 × \"elbow 90\", and fittings says 2"),
        ('"up 0.25 m"', '"up"', "cannot read the leg"),
        ('"up 0.25 m"', '"up -0.25 m"', "has no length"),
        ('"up 0.25 m"', '"up 3 kg"', "a mass"),
        ('"up 0.25 m"', '"ball joint"', "fittings table"),
        ('"up 0.25 m"', "0.25", "list of legs"),
        (TOLD.split("\n")[2], "route = []", "list of legs"),
    ],
)  # fmt: skip
def test_a_route_that_cannot_be_is_refused_in_one_sentence(old, new, says):
    with pytest.raises(DesignError) as wrong:
        told_riser(TOLD.replace(old, new))
    assert says in str(wrong.value) and "\n" not in str(wrong.value) and "route" in str(wrong.value)


def test_a_length_that_a_page_keeps_takes_the_route_out_of_the_file():
    build = told_riser()
    kept = build.changed({("lines", "riser", "pipe", "riser", "length"): "2.6 m"})
    assert kept.lines["riser"].si.pipe[0].si.route == () and '"swing check valve", "up 1.0 m"' not in kept.text
    elbows = ("lines", "riser", "pipe", "riser", "fittings", "elbow 90")  # one fitting's count, as page 05 keeps it
    bent, as_before = (load("courtyard").changed({elbows: many}).lines["riser"].si.pipe[0].si for many in (4, 2))
    assert bent.route == () and bent.fittings["elbow 90"] == 4 and as_before.route
    lower = load("balcony").changed({("lines", "bed 1 drain", "lip"): "1.24 m"})  # its legs told 1.25 down to 0.68 m
    assert lower.lines["bed 1 drain"].si.route == () and load("balcony").lines["bed 1 drain"].si.route
    same = build.changed({("lines", "riser", "pipe", "riser", "size"): "50 mm"})
    assert len(same.lines["riser"].si.pipe[0].si.route) == 9


def test_a_maker_s_own_take_off_goes_before_ours(tmp_path):
    text = load("courtyard").text
    (tmp_path / "mine.csv").write_text(
        "name,fitting,system,size,take-off [mm],basis,source,note\nmy ball valve,ball valve,metric,32 mm,38,,its sheet,\n", encoding="utf-8"
    )
    path = tmp_path / "build.toml"
    path.write_text(text.replace("[site]", '[own]\ntakeoffs = "mine.csv"\n\n[site]', 1), encoding="utf-8")
    ours, theirs = run(load("courtyard"), "to the tank"), run(load(path), "to the tank")
    assert [j.before for j in ours.joints if j.name == "ball valve"] == [0.045]
    assert [j.before for j in theirs.joints if j.name == "ball valve"] == [0.038]
    assert sum(p.leg for p in theirs.pieces) == pytest.approx(1.5) and sum(p.length for p in theirs.pieces) == pytest.approx(
        sum(p.length for p in ours.pieces) + 2 * 0.007
    )


@pytest.mark.parametrize(("demo", "at", "change"), [
    ("courtyard", ("lines", "riser", "pipe", "riser"), {("fittings", "elbow 90"): 4}),
    ("courtyard", ("lines", "riser", "pipe", "riser"), {("fittings",): {"elbow 45": 1}}),
    ("greenhouse", ("lines", "bed loop", "pipe", "bed riser"), {("length",): "9 ft"}),
    ("balcony", ("lines", "bed 1 drain"), {("lip",): "1.24 m"}),
])  # fmt: skip
def test_what_only_a_route_told_stays_when_the_route_goes(demo, at, change):
    def stretch(build):
        line = build.lines[at[1]].si
        return next(one.si for one in line.pipe if one.si.name == at[-1]) if len(at) > 2 else line

    route = file_text.value_at(file_text.values(load(demo).text, demo), (*at, "route"))
    alone = load(demo).changed({(*at, "length"): None, (*at, "fittings"): None, (*at, "route"): route})
    kept, before = stretch(alone.changed({(*at, *key): value for key, value in change.items()})), stretch(alone)
    [(key, value)] = change.items()
    fittings = value if key == ("fittings",) else {**before.fittings, key[1]: value} if len(key) > 1 else before.fittings
    assert before.route and before.fittings and not kept.route
    assert (kept.fittings, kept.valve) == (fittings, before.valve)
    assert kept.length == pytest.approx(2.7432 if key == ("length",) else before.length)  # 9 ft


def test_routes_change_no_finding_of_a_sound_build():
    # the same pipes, only told: what the water does is the same
    assert [(f.name, f.where) for f in review(told_riser()).findings] == [(f.name, f.where) for f in review(load("courtyard")).findings]

"""Cures, each typed as it stands: sizes that shops have, rounded to the side that helps, and the valve that is shut."""

import re

import pytest

from aquaplumb.build import load
from aquaplumb.plumbing import pipe_sizes
from aquaplumb.review import findings
from aquaplumb.review.findings.base import at_least, at_most, narrow_enough, wide_enough
from aquaplumb.system import levels
from aquaplumb.system.steady import Steady
from aquaplumb.units import BORE, FLOW, HEAD, LENGTH, Bare, quantity, si_value

TANK, RESERVE, SIPHON = "tank overflow", "tank emergency overflow", "bed 1 siphon"


def told(name, changes, base="courtyard", where=None):
    """Of one finding: those that a build with changes shows."""
    found = findings.found(Steady(load(base).changed(changes)))
    return [f for f in found if f.name == name and where in (None, f.where)]


def metric(kind, value):
    return kind.text(value, "metric")


def us(kind, value):
    return kind.text(value, "US")


@pytest.mark.parametrize("say", [metric, us])
@pytest.mark.parametrize("kind", [BORE, FLOW, HEAD, LENGTH])
def test_a_bound_in_words_is_on_the_right_side(say, kind):
    for value in (2.4683e-4, 1.2344e-2, 0.3333, 0.30479, 0.9996, 1.0049, 7.9123, 123.45):
        above, below = (si_value(quantity(text(say, kind, value).replace(",", ""), kind), kind, "it") for text in (at_least, at_most))
        assert below <= value <= above
        sixteenths = 0.0254 / 8 if kind.tape and say is us else 0.0  # one either way
        assert above - below <= max(0.013 * value, sixteenths)
    assert at_most(say, HEAD, -0.3333).startswith("-")


@pytest.mark.parametrize("say", [metric, us])
@pytest.mark.parametrize("standard", ["", "Sch 40", "PN16"])
def test_a_size_that_is_named_stands_in_the_table(say, standard):
    pipe = Bare(standard=standard)
    for bore in (0.010, 0.0155, 0.0267, 0.05, 0.0999, 0.201):  # the last is 7.91 in
        wide, narrow = wide_enough(say, bore, pipe), narrow_enough(say, bore, pipe)
        of = standard or ("Sch 40" if say is us else "PN10")
        sizes = pipe_sizes.sizes(of)
        if " or wider" in wide:
            size = wide.split(f" {of}")[0]
            assert pipe_sizes.bore.si(size, of) >= bore * 0.9999
        else:
            count, size = re.match(rf"(\d+) pipes of (.+) {of} side by side", wide).groups()
            assert size == sizes[-1] and int(count) * pipe_sizes.bore.si(size, of) ** 2.5 >= bore**2.5
        if " or narrower" in narrow:
            assert pipe_sizes.bore.si(narrow.split(f" {of}")[0], of) <= bore
        else:
            assert pipe_sizes.bore.si(sizes[0], of) > bore


SHORT = {
    "too thin, hardly": ("courtyard", TANK, {"size": "32 mm"}),
    "too thin by far": ("courtyard", TANK, {"size": "25 mm"}),
    "its lip too high": ("courtyard", TANK, {"lip": "0.98 m"}),
    "its lip a little too high": ("courtyard", TANK, {"lip": "0.962 m"}),
    "an emergency overflow": ("courtyard", RESERVE, {"lip": "0.96 m"}),
    "its lip far too high and its pipe thin": ("courtyard", TANK, {"lip": "0.98 m", "size": "20 mm", "standard": "PN16"}),
    "no wider pipe in the shop": ("valve-nearly-shut", TANK, {"size": "4 in", "lip": "44.6 in"}),
    "only its bore is known": ("courtyard", TANK, {"size": None, "bore": "28 mm"}),
}


@pytest.mark.parametrize(("base", "line", "changes"), SHORT.values(), ids=SHORT)
def test_a_short_drain_is_cured_by_what_is_named(base, line, changes):
    changes = {("lines", line, key): value for key, value in changes.items()}
    if line == TANK:  # nothing else takes the rest
        changes |= {
            ("lines", name): None
            for name, other in load(base).falling.items()
            if other.si.emergency and other.si.source == load(base).falling[line].si.source
        }
    [finding] = told("drain short", changes, base, line)
    lip = re.search(r"lip at (-?\d[\w./ ]*?) or lower", finding.cure)  # metric, or on a tape
    together = ", and use" in finding.cure
    size = re.search(r"[Uu]se ([\d/ ]+ \w+) (Sch 40|PN\d+) or wider", finding.cure)
    assert lip or size, finding.cure
    if lip and together:
        changes[("lines", line, "lip")] = lip.group(1)
    elif lip:
        assert not told("drain short", {**changes, ("lines", line, "lip"): lip.group(1)}, base, line)
    if size:
        named, standard = size.groups()
        wider = {("lines", line, "bore"): None, ("lines", line, "size"): named, ("lines", line, "standard"): standard}
        assert not told("drain short", {**changes, **wider}, base, line)


def test_a_lip_is_not_sent_below_the_usual_one_to_make_an_emergency_overflow_do():
    """Below the usual lip and the water over it the emergency overflow would run every day."""
    [finding] = told("drain short", {("lines", RESERVE, "size"): "25 mm"}, where=RESERVE)
    assert "lip at" not in finding.cure and "PN10 or wider" in finding.cure


def test_a_drain_that_nothing_in_the_shop_makes_wide_enough_becomes_several():
    """The lip may not go lower, since the water below stands just under it: so many pipes as the load asks for."""
    held = {("lines", RESERVE, "size"): "160 mm", ("lines", RESERVE, "lip"): "0.967 m", ("lines", TANK, "lip"): "0.95 m"}
    [finding] = told("drain short", held, where=RESERVE)
    count = int(re.match(r"Use (\d+) pipes of 160 mm PN10 side by side\.$", finding.cure).group(1))
    carries = Steady(load("courtyard").changed(held)).falling[RESERVE]
    assert (count - 1) * carries.capacity < 1.301 * carries.load <= count * carries.capacity


@pytest.mark.parametrize("bore", ["12 mm", "14 mm", "17 mm"])
def test_two_tanks_joined_by_too_thin_a_pipe_are_cured_by_the_size_that_is_named(bore):
    """Neither tank's lip is to be moved: the joint holds the small one up."""
    thin = {("lines", "joint", "size"): None, ("lines", "joint", "bore"): bore}
    found = [f for name in ("drain short", "emergency overflow in use") for f in told(name, thin, "kitchen-garden")]
    assert found and not any("lip at" in f.cure for f in found)
    for f in found:
        size = re.search(r"Use ([\d/ ]+ in) Sch 40 or wider", f.cure).group(1)
        wider = {**thin, ("lines", "joint", "bore"): None, ("lines", "joint", "size"): size, ("lines", "joint", "standard"): "Sch 40"}
        assert not told(f.name, wider, "kitchen-garden")


def test_a_joint_under_water_is_no_overflow_that_could_siphon():
    """Full to the bore on both sides it sucks nothing; with its far end in the air over the other tank's water it would."""
    thin = {("lines", "joint", "size"): "1 in"}
    assert not told("overflow can siphon", {}, "kitchen-garden", "joint") and not told(
        "overflow can siphon", thin, "kitchen-garden", "joint"
    )
    in_air = {
        ("lines", "joint", "lip"): "36 in",
        ("lines", "joint", "outlet"): "35.5 in",
        ("vessels", "small tank", "floor"): "9 in",
        ("lines", "joint", "size"): "1 in",
    }
    assert told("overflow can siphon", in_air, "kitchen-garden", "joint")


def test_a_siphon_too_wide_is_cured_by_the_size_that_is_named():
    wide = {("lines", SIPHON, "size"): "40 mm"}
    [finding] = told("siphon never starts", wide, where=SIPHON)
    size = re.search(r"standpipe of ([\d]+ mm) PN16 or narrower", finding.cure).group(1)
    assert not told("siphon never starts", {("lines", SIPHON, "size"): size}, where=SIPHON)


@pytest.mark.sweep(3)
@pytest.mark.parametrize("outlet", ["0.52 m", "0.66 m", "0.85 m"])
@pytest.mark.parametrize("bore", ["17 mm", "26 mm", "40 mm"])
def test_a_siphon_with_a_small_fall_is_told_one_thing_and_its_cure_lets_it_start_and_stop(bore, outlet):
    """Typed as it stands, by each way that it names, and run: the bed fills and empties round after round."""
    changes = {("lines", SIPHON, key): None for key in ("size", "standard")} | {
        ("lines", SIPHON, "bore"): bore,
        ("lines", SIPHON, "outlet"): outlet,
    }
    build = load("courtyard").changed(changes)
    own = [f for f in findings.found(Steady(build)) if f.where == SIPHON and f.name.startswith("siphon never")]
    assert len(own) == 1
    [one] = own
    cured = []
    if lower := re.search(r"come out at ([\d.]+ m) or lower \(outlet\)", one.cure):
        tube = re.search(r"tube with a bore of ([\d.]+ mm)", one.cure)
        assert bool(tube) == (one.name == "siphon never starts")
        cured.append({("lines", SIPHON, "outlet"): lower.group(1)} | ({("lines", SIPHON, "bore"): tube.group(1)} if tube else {}))
    if size := re.search(r"[Uu]se a standpipe of (\d+ mm) (PN\d+)(?:,|\.)", one.cure):
        changed = {("lines", SIPHON, "bore"): None, ("lines", SIPHON, "size"): size.group(1), ("lines", SIPHON, "standard"): size.group(2)}
        cured.append(changed if ", and let it" not in one.cure else {**cured.pop(), **changed})
    assert cured and one.severity == "fix" and (one.name == "siphon never starts") == (bore != "17 mm")
    for mend in cured:
        changed = build.changed(mend)
        assert not [
            f for f in findings.found(Steady(changed)) if f.where == SIPHON and f.name.startswith("siphon never") and f.severity != "note"
        ]
        starts = Steady(changed).falling[SIPHON].siphon.si.starts
        assert starts != "no" and levels.simulate(changed, "4 h", starts=starts).starts(SIPHON) >= 3


def test_pipe_too_fast_is_cured_by_the_size_that_is_named():
    [finding, *_] = told("pipe too fast", {}, "riser-too-thin", "riser")
    size = re.search(r"Choose ([\d]+ mm) PN16 or wider", finding.cure).group(1)
    assert not told("pipe too fast", {("lines", "riser", "pipe", "riser", "size"): size}, "riser-too-thin", "riser")


def test_one_shut_valve_of_several_is_told_to_be_opened():
    shut = {("lines", "riser", "pipe", "to bed 2", "opening"): 0}
    [finding] = told("bed shares uneven", shut)
    assert finding.severity == "stop" and "the valve of the pipe to bed 2 is shut" in finding.sentence
    assert finding.cure.startswith("Open the valve of the pipe to bed 2") and "pump" not in finding.cure
    assert not [f for f in told("bed shares uneven", {("lines", "riser", "pipe", "to bed 2", "opening"): 1.0}) if f.severity == "stop"]


def test_a_branch_that_is_dry_for_its_height_is_not_told_of_valves():
    [finding] = told("bed shares uneven", {("lines", "riser", "pipe", "to bed 2", "outlet"): "2.5 m"})
    assert "higher than" in finding.sentence and "Open" not in finding.cure


def test_a_sloping_line_too_full_is_cured_by_the_size_that_is_named():
    steep = {("lines", "tank to settler", "outlet"): "41 in", ("lines", "tank to settler", "size"): "1 in"}
    [finding] = told("gravity line too full", steep, "flat-drain")
    size = re.search(r"Choose ([\d/ ]+ in) Sch 40 or wider", finding.cure).group(1)
    assert not told("gravity line too full", {**steep, ("lines", "tank to settler", "size"): size}, "flat-drain")


def test_the_speed_below_which_dirt_settles_is_one():
    """2 ft/s (ASPE Data Book vol. 2), less 2 %: half of the beds' 1,710 L/h is 0.67 m/s in 21.2 mm (25 mm PN16), 0.41 m/s in 27.2 mm."""
    [finding] = told("pipe too slow", {("lines", "riser", "pipe", "to bed 1", "size"): "32 mm"})
    assert "0.61 m/s" in finding.sentence and finding.severity == "note"
    assert not told("pipe too slow", {})
    assert told("pipe too slow", {("lines", "riser", "pipe", "to bed 2", "length"): "8 m"}, where="to bed 2")[0].severity == "note"

"""Builds with one mistake of rafts, channels, towers, filters, joined tanks, branching pipe, several stocks and a season.

Each review names the mistake first; what its cure names, typed as it stands, clears it. Each base is a first layout, sound before the mistake.
"""

import re

import pytest

from aquaplumb.build import load
from aquaplumb.review import review


def last_branch(build):
    return ("lines", "upper tank drain", "pipe", len(build.value("lines", "upper tank drain", "pipe")) - 1)


# A build -> its finding, what of the cure (or of the sentence, where that has the number) is read, and what is typed.
CURES = {
    "carriers-that-lie-still": ("moving bed does not move", r"Blow ([\d.]+ L/min)", lambda _, air: {("vessels", "blue drum", "air_flow"): air}),
    "swirl-filter-overrun": ("solids rise with the water", r"round, ([\d /]+ ft [\d /]+ in) across", lambda _, wide: {("vessels", "cone", "diameter"): wide}),
    "dirt-between-the-roots": (
        "nothing takes out solids", r'kind = "(\w+)", does = "(\w+)"',
        lambda _, kind, does: {("vessels", "first barrel", "kind"): kind, ("vessels", "first barrel", "does"): does},
    ),
    "channels-laid-level": ("channel badly laid", r"Lay it at ([\d.]+ %)", lambda _, slope: {("vessels", "gutters", "slope"): slope}),
    "too-many-channels-for-the-pump": (
        "channel flow off", r"no more than (\d+) channels", lambda _, count: {("vessels", "troughs", "count"): int(count)},
    ),
    "pipe-that-climbs-over-the-door": (
        "branch without water", r"Lay it without that (rise)", lambda build, _: {(*last_branch(build), "crown"): None},
    ),
    "tanks-joined-by-a-hose": ("drain short", r"Use (\d+ mm) (PN10) or wider", lambda _, size, standard: {
        ("lines", "link", "bore"): None, ("lines", "link", "size"): size, ("lines", "link", "standard"): standard,
    }),
    "bell-wider-than-its-water": ("siphon never starts", r"standpipe of (\d+ mm) (PN16) or narrower", lambda _, size, standard: {
        ("lines", "rush", "pipe", 0, "size"): size, ("lines", "rush", "pipe", 0, "standard"): standard,
    }),
    "trout-beside-tilapia": ("temperature out of range", r"Choose (a species) for your water", lambda build, _: {
        ("stocks", "second kind", "species"): build.stocks["first kind"].si.species,
    }),
    "two-groups-at-once": ("season too dense", r"no more than (\d+) % of these fish", lambda build, part: {
        ("season", "stocks", "spring", "count"): int(build.value("season", "stocks", "spring", "count") * int(part) / 100),
    }),
    "lettuce-that-cannot-breathe": (
        "roots short of oxygen", r'air_stones = (\d+), air_flow = "([^"]+)"',
        lambda _, stones, air: {("vessels", "long boards", "air_stones"): int(stones), ("vessels", "long boards", "air_flow"): air},
    ),
    "brackish-well": ("water too salty", r"to ([\d.]+ g/kg) or less", lambda _, salt: {("water", "salinity"): salt}),
    "chloramine-aired-away": ("chlorine in tap water", r"tap_chlorine is (0 mg/L)", lambda _, left: {("upkeep", "tap_chlorine"): left}),
}  # fmt: skip


def doubtful(build):
    return [f for f in review(build).findings if f.severity in ("stop", "fix")]


@pytest.mark.parametrize("name", CURES)
def test_the_mistake_is_named_first_and_its_cure_typed_as_it_stands_clears_it(name):
    finding, read, typed = CURES[name]
    build = load(name)
    first = doubtful(build)[0]
    assert first.name == finding
    found = re.search(read, first.cure)
    assert found, first.cure
    assert doubtful(build.changed(typed(build, *found.groups()))) == []


def test_a_case_that_aired_its_water_is_told_that_air_does_not_help():
    """Chloramine does not leave standing water: the file says that it is rested, and the review stops all the same."""
    build = load("chloramine-aired-away")
    assert build.water.si.rested and "standing and air do not take it out" in doubtful(build)[0].cure

"""Findings about air and oxygen, on the worst night that the build knows: warmest water, after a meal."""

from __future__ import annotations

import math

from aquaplumb.review.findings.base import finding, fix, note, stop
from aquaplumb.system.air_plan import AIR, LEAST, POWER, TYPICAL, spare_needed
from aquaplumb.units import AIR_FLOW, CONCENTRATION, LENGTH, PRESSURE, TEMPERATURE, roughly

_MANY = 12.0  # stones in a tank, or in each m³ of a larger one: more than anybody hangs in; common practice, no source
_LITTLE = 0.3  # of the air that an air pump gives with no depth: the rest is heat and wear; common practice, no source


@finding("oxygen low at night", notebook="10")
def oxygen_low(system, say):
    """Less oxygen than the fish need, with everything running."""
    p = system.air
    level = p.steady[TYPICAL]
    if not p.told or level >= p.minimum:
        return
    say_it = stop if level < p.critical else fix
    yield say_it(
        "fish tank",
        f"With everything running, the oxygen settles at {say(CONCENTRATION, level)} after a meal at {say(TEMPERATURE, p.temperature)}; "
        f"{system.species.si.name} needs {say(CONCENTRATION, p.minimum)}, and is in danger below {say(CONCENTRATION, p.critical)}.",
        "More air through more stones, more water through the tank, fewer fish, or less feed on hot days.",
    )


@finding("oxygen time short", notebook="10")
def oxygen_time_short(system, say):
    """When something fails, the oxygen is gone before anybody comes."""
    p = system.air
    if not p.told:
        bare = p.failures[POWER].bare[TYPICAL]
        yield note(
            "fish tank",
            f"The file says nothing of air. When the mains fail after a meal at {say(TEMPERATURE, p.temperature)}, the oxygen is down to "
            f"{say(CONCENTRATION, p.critical)} {f'in {roughly(bare)}' if math.isfinite(bare) else 'never'}; below that the fish are in danger.",
            "Write a section [air] with pump, stones and spare, and how long it takes until somebody stands at the tank.",
        )
        return
    comes = p.section.response_time
    # the worst: what fails too soon at a usual stone first, then by the stones that bring the least
    failures = {what: failure for what, failure in p.failures.items() if what != AIR or p.usual.flow > 0}
    what, failure = min(failures.items(), key=lambda item: (item[1].lasts[TYPICAL] >= comes, item[1].lasts[LEAST]))
    usual, least = failure.lasts[TYPICAL], failure.lasts[LEAST]
    if least >= comes or p.start[TYPICAL] <= p.critical:  # the last: it is in danger without any failure
        return
    say_it = stop if usual < comes else fix
    stones, told = (TYPICAL, "") if usual < comes else (LEAST, ", should the stones bring the least that print has")
    told = f"in {roughly(failure.lasts[stones])}{told}"
    if failure.spare:  # by the same stones: a spare never does harm
        told = f"in {roughly(failure.bare[stones])} without the spare, and with it {told}"
    yield say_it(
        "fish tank",
        f"When {what} after a meal at {say(TEMPERATURE, p.temperature)}, the oxygen is down to {say(CONCENTRATION, p.critical)} {told}; "
        f"somebody comes after {roughly(comes)}.",
        _cure(p, what, failure, say),
    )


def _cure(p, what: str, failure, say) -> str:
    """What to do, in the order of what it saves."""
    sooner = "or let an alarm bring somebody in half the time that is left"
    if what == AIR:
        return f"Keep a spare air pump at hand, send more water through the tank, {sooner}."
    need, deeper, most = spare_needed(p), "", _MANY * max(1.0, p.budget.si.volume)
    if need.stones[LEAST] > most and p.depth < p.water_depth:
        need, deeper = spare_needed(p, p.water_depth), f", hung near the bottom at {say(LENGTH, p.water_depth)},"
    air_flow, stones = need.air_flow[LEAST], need.stones[LEAST]
    if not math.isfinite(air_flow):
        return "No air can hold that level here: keep fewer fish, or a fish for this water."
    if stones > most:
        deeper = f"even at {say(LENGTH, p.water_depth)}" if deeper else "at that depth"
        return f"These are too many fish for this tank: to hold them without water flow takes {say(AIR_FLOW, air_flow)} of air through {stones:.0f} stones {deeper}. Keep fewer; {sooner}."
    first = "First hang the stones deeper. " if deeper else ""
    if what == POWER:
        spare = f"{'a larger' if p.spare.name else 'a'} spare on a battery"
        return f"{first}Hang in {spare}: {say(AIR_FLOW, air_flow)} of air through {stones:.0f} such stones{deeper} hold it for good, at the least that stones bring; {sooner}."
    return f"{first}Hang in more stones: {say(AIR_FLOW, air_flow)} of air through {stones:.0f}{deeper} hold it with no water flow; {sooner}. A spare that waits for the mains to fail does not start."


@finding("spare air on the mains", notebook="10")
def spare_on_the_mains(system, say):
    """A spare air pump that stops with the mains."""
    p = system.air
    if p.told and p.spare.name and not p.spare_runs:
        yield fix(
            "fish tank",
            f"The spare, {p.spare.name}, with {p.spare.stones:.0f} stones, runs on the mains as well: it stops when they fail.",
            "Take one with a battery of its own, and test it every month by pulling the plug.",
        )


@finding("air pump too weak for the depth", notebook="10")
def too_weak_for_the_depth(system, say):
    """An air pump that has little or no air left at the stones' depth."""
    p = system.air
    for blown, what in ((p.usual, p.usual.name), (p.spare, f"the spare ({p.spare.name})")):
        if not blown.name or blown.flow >= _LITTLE * blown.open_flow:
            continue
        say_it = stop if blown.flow <= 0 else fix
        gives = "no air" if blown.flow <= 0 else f"{say(AIR_FLOW, blown.flow)} of its {say(AIR_FLOW, blown.open_flow)}"
        yield say_it(
            "fish tank",
            f"At {say(LENGTH, p.depth)} the water alone presses with {say(PRESSURE, blown.pressure)}; {what} brings {gives} "
            f"(it stalls at {say(PRESSURE, blown.shut)}).",
            "Hang the stones higher, clean or change them, use wider tubes, or take a pump made for that depth.",
        )


@finding("air off the stones' range", notebook="10")
def air_off_range(system, say):
    """More air through a stone than it can make small bubbles of, or so little that it starves."""
    p = system.air
    low, high = p.stone.si.air_flow_low or 0.0, p.stone.si.air_flow_high or math.inf
    for blown, what in ((p.usual, "Each stone"), (p.spare, "Each stone of the spare")):
        if not blown.name or low <= blown.each <= high or blown.flow <= 0:
            continue
        if blown.each > high:
            yield note(
                "fish tank",
                f"{what} gets {say(AIR_FLOW, blown.each)} of air; one of its kind takes {say(AIR_FLOW, high)} at most. The rest makes big bubbles that bring little.",
                f"Hang in {math.ceil(blown.flow / high)} or more.",
            )
        else:
            yield note(
                "fish tank",
                f"{what} gets {say(AIR_FLOW, blown.each)} of air; one of its kind wants {say(AIR_FLOW, low)} at least. Some will not bubble, and clog.",
                "Take out some of the stones, or take a stronger air pump.",
            )


@finding("stones deeper than the water", notebook="10")
def stones_too_deep(system, say):
    """Stones said to hang deeper than the fish tank is."""
    p = system.air
    if p.told and (p.usual.name or p.spare.name) and round(p.depth, 6) > round(p.water_depth, 6):
        yield fix(
            "fish tank",
            f"The stones are said to hang {say(LENGTH, p.depth)} deep; the tank has {say(LENGTH, p.water_depth)} of water. Their air is reckoned too well.",
            "Set depth to what is above the stones.",
        )

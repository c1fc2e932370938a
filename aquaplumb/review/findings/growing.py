"""Findings about rafts, film channels and towers: water that stands too long, a film too thin, roots that hang dry."""

from __future__ import annotations

import math

from aquaplumb.air.roots import BACTERIA_BEAR, ROOTS_BEAR, STONE_AIR, STONE_AREA, raft_stones
from aquaplumb.build.vessels import water_volume
from aquaplumb.review.findings.base import at_least, finding, fix, note
from aquaplumb.units import AIR_FLOW, AREA, CONCENTRATION, FLOW, LENGTH, OXYGEN_RATE, SHARE, in_hours

_LITRE_A_MINUTE = 1e-3 / 60  # m³/s
# m³/s through one channel: 1 to 2 L/min FAO 589 (2014) §4.4 (read in a copy), 1/4 to 1/2 US gal/min a growers' page (read)
LEAST_FILM, MOST_FILM = 0.9 * _LITRE_A_MINUTE, 3.0 * _LITRE_A_MINUTE
LEAST_SLOPE, GOOD_SLOPE = 0.01, 0.025  # 1:100 is recommended, and needs a base so true that 1:30 to 1:40 are built (encyclopaedia, read)
LONGEST_CHANNEL = 12.0  # m: FAO 589 (2014) §4.4, from memory
STALE = 4 * 3600.0  # s: rafts are turned over in 1 to 4 h, FAO 589 (2014) §4.5, from memory; the UVI system has about 3 h
_MOST_STONES = 4.0  # on a square metre of boards: more than anybody hangs there; common practice, no source
_NEARLY = 0.98  # of a need: rounding
ROOTS_DRY = 2 * 3600.0  # s: without water plants in a film die within a few hours in hot weather (growers' page, read)


@finding("channel flow off", notebook="03")
def channel_flow_off(system, say):
    """A film too thin for the last plant, or a stream that drowns roots."""
    for name, state in system.vessels.items():
        v = state.vessel.si
        each = state.mean / v.count
        if v.kind != "channel" or state.mean <= 0:
            continue
        if each < LEAST_FILM:
            yield fix(
                name,
                f"Each channel of {name} gets {say(FLOW, each)}; with less than {say(FLOW, LEAST_FILM)} the last plants go short.",
                f"Send {at_least(say, FLOW, LEAST_FILM * v.count)} to them, or let no more than {max(1, math.floor(state.mean / LEAST_FILM))} channels share it.",
            )
        elif each > MOST_FILM:
            yield note(
                name,
                f"Each channel of {name} gets {say(FLOW, each)}; over {say(FLOW, MOST_FILM)} it is no film any more, and roots want air.",
                "Throttle it, or let more channels share it.",
            )


@finding("channel badly laid", notebook="06")
def channel_badly_laid(system, say):
    """A channel so flat that water stands in it, or so long that its end goes short."""
    for v in (vessel.si for vessel in system.build.of_kind("channel")):
        if v.slope < LEAST_SLOPE:
            yield fix(
                v.name,
                f"{v.name} falls by {say(SHARE, v.slope)}; flatter than {say(SHARE, LEAST_SLOPE)} water stands in pools between the roots.",
                f"Lay it at {say(SHARE, GOOD_SLOPE)}, and write it as slope.",
            )
        length = v.length or v.diameter
        if length > LONGEST_CHANNEL:
            yield note(
                v.name,
                f"{v.name} is {say(LENGTH, length)} long; past {say(LENGTH, LONGEST_CHANNEL)} the water is spent before it comes to the end.",
                "Feed it in two places, or cut it in two.",
            )


@finding("roots short of oxygen", notebook="10")
def roots_short(system, say):
    """A raft whose water and stones bring less oxygen than roots and bacteria want under the boards."""
    for r in system.rafts.values():
        if r.settles >= BACTERIA_BEAR * _NEARLY:
            continue
        rot = r.settles < ROOTS_BEAR
        wants = f"roots want {say(CONCENTRATION, ROOTS_BEAR)}" if rot else f"bacteria want {say(CONCENTRATION, BACTERIA_BEAR)}"
        brings = f"{say(FLOW, r.flow)} of water with {say(CONCENTRATION, r.comes)}" if r.flow > 0 else "no water"
        stones = f"{say(AIR_FLOW, r.blown)} of air" if r.blown > 0 else "no air stones"
        yield (fix if rot else note)(
            r.name,
            f"Under the boards of {r.name} the oxygen settles at {say(CONCENTRATION, r.settles)}: {brings} and {stones} come there, and roots and bacteria take "
            f"{say(OXYGEN_RATE, r.use)}; {wants} or more.",
            _aired(r, say),
        )


def _aired(r, say) -> str:
    """What holds the oxygen under the boards of a raft: stones, where so many can hang there, or water."""
    ways, air = [], r.air_needed / r.count
    stones = float(raft_stones.si(r.boards, air)) if math.isfinite(air) else math.inf
    if stones <= _MOST_STONES * r.boards:
        flow = max(air, stones * STONE_AIR)
        ways.append(
            f"hang {stones:.0f} small air stones under {'the boards of each' if r.count > 1 else 'its boards'}, on an air pump of their own "
            f'(air_stones = {stones:.0f}, air_flow = "{at_least(say, AIR_FLOW, flow)}")'
        )
    if math.isfinite(r.flow_needed) and r.flow_needed > r.flow:
        ways.append(f"send {at_least(say, FLOW, r.flow_needed)} through {r.name}")
    text = ", or ".join(ways) or "take out plants, or lead water to it that has been aired"
    return f"{text[0].upper()}{text[1:]}."


@finding("water stale under rafts", notebook="03")
def stale_under_rafts(system, say):
    """Water that stands so long under the boards that nothing new comes to the roots, and no stones stir it."""
    for vessel in system.build.of_kind("raft"):
        v, comes = vessel.si, system.vessels[vessel.si.name].mean
        held = water_volume.si(vessel, system.running_depth(v.name))
        if comes > 0 and held / comes > STALE and not system.rafts[v.name].blown:
            stones = float(raft_stones.si(system.rafts[v.name].boards))
            yield note(
                v.name,
                f"The water of {v.name} is new only every {in_hours(held / comes)}; roots want that in {in_hours(STALE)}.",
                f"Send {at_least(say, FLOW, held / STALE)} through it; else hang air stones under the boards, one every {say(AREA, STONE_AREA)} (air_stones = {stones:.0f}).",
            )


@finding("roots hang dry", notebook="09")
def roots_hang_dry(system, say):
    """Channels and towers hold no water: whether somebody comes before the plants die when the pump stops."""
    comes = system.build.air.si.response_time if system.build.air else None
    for v in (vessel.si for vessel in system.build.growing):
        if v.kind not in ("channel", "tower") or system.vessels[v.name].mean <= 0 or v.medium:
            continue
        if comes is None or comes > ROOTS_DRY:
            when = "and the file does not say when somebody comes" if comes is None else f"and somebody comes after {in_hours(comes)}"
            yield note(
                v.name,
                f"When its pump stops, {v.name} is empty within minutes, {when}; in hot weather the plants die within a few hours.",
                f"Keep an alarm and a spare pump, so that you stand there within {in_hours(ROOTS_DRY)}, and write it as response_time in [air].",
            )

"""Findings about rafts, film channels and towers: water that stands too long, a film too thin, roots that hang dry."""

from __future__ import annotations

from aquaplumb.build.vessels import water_volume
from aquaplumb.review.findings.base import finding, fix, note
from aquaplumb.units import FLOW, LENGTH, SHARE, in_hours

_LITRE_A_MINUTE = 1e-3 / 60  # m³/s
# m³/s through one channel: 1 to 2 L/min FAO 589 (2014) §4.4 (read in a copy), 1/4 to 1/2 US gal/min a growers' page (read)
LEAST_FILM, MOST_FILM = 0.9 * _LITRE_A_MINUTE, 3.0 * _LITRE_A_MINUTE
LEAST_SLOPE, GOOD_SLOPE = 0.01, 0.025  # 1:100 is recommended, and needs a base so true that 1:30 to 1:40 are built (encyclopaedia, read)
LONGEST_CHANNEL = 12.0  # m: FAO 589 (2014) §4.4, from memory
STALE = 4 * 3600.0  # s: rafts are turned over in 1 to 4 h, FAO 589 (2014) §4.5, from memory; the UVI system has about 3 h
_STONES_APART = 2.0  # m, of air stones under boards: common practice, no source
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
                "Send more water to them, or feed fewer channels.",
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


@finding("water stale under rafts", notebook="03")
def stale_under_rafts(system, say):
    """Water that stands so long under the boards that roots have used up its oxygen."""
    for vessel in system.build.of_kind("raft"):
        v, comes = vessel.si, system.vessels[vessel.si.name].mean
        held = water_volume.si(vessel, system.running_depth(v.name))
        if comes > 0 and held / comes > STALE:
            yield note(
                v.name,
                f"The water of {v.name} is new only every {in_hours(held / comes)}; roots want that in {in_hours(STALE)}.",
                f"Send {say(FLOW, held / STALE)} through it; else hang air stones under the boards, one every {say(LENGTH, _STONES_APART)}.",
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

"""Findings about filters: solids that are not taken out, media that do not turn what they could, air that is missing."""

from __future__ import annotations

from aquaplumb.review.findings.base import at_least, at_most, finding, fix, note
from aquaplumb.units import AIR_FLOW, AREA, BORE, CONCENTRATION, FLOW, LENGTH, MASS, RISE, SHARE, TIME, VOLUME
from aquaplumb.water import filters

_FAR = 2.0  # times a limit: so far over it a filter does nothing; common practice, no source
# kg of fish on a square metre of rafts without a filter: FAO 589 (2014) §4.5, 1 to 1.5 (from memory; that few fish need none, read)
RAFTS_BEAR = 1.5
_NEARLY = 0.98  # of a need: rounding
_ROUND = 1.13  # metres across for a square metre, as a circle: 2/√π


def _open(system) -> list:
    """What plants grow in without media: dirt that no filter takes out ends between its roots."""
    return [v for v in system.build.growing if v.si.kind != "bed" and not v.media]


@finding("filter gets no water", notebook="03")
def filter_gets_no_water(system, say):
    """A filter that nothing leads to."""
    for f in system.filters.values():
        if f.peak <= 0:
            yield fix(f.name, f"No water comes to {f.name}: it filters nothing.", "Lead a line to it.")


@finding("solids rise with the water", notebook="03")
def solids_rise(system, say):
    """A settling, swirl or radial-flow filter too small for its flow: what should sink goes on with the water."""
    for f in system.filters.values():
        if f.rise and f.rise_limit and f.rise > f.rise_limit:
            need = f.peak / f.rise_limit
            severity = fix if f.rise > _FAR * f.rise_limit and _open(system) else note  # beds of media take out what goes on
            yield severity(
                f.name,
                f"In {f.name} water rises at {say(RISE, f.rise)}; {' and '.join(f.does)} needs {say(RISE, f.rise_limit)} or less. Grains under {say(BORE, f.caught)} go on with it.",
                f"Give it a plan area of {at_least(say, AREA, need)} (round, {at_least(say, LENGTH, _ROUND * need**0.5)} across), send it less water, or put a second one beside it.",
            )


@finding("water hurries through the settling tank", notebook="03")
def settles_too_short(system, say):
    """Water that is gone from a settling tank before its dirt has sunk."""
    for f in system.filters.values():
        slow = not f.rise or not f.rise_limit or f.rise <= f.rise_limit  # else it is told as rising too fast
        if slow and "settling" in f.does and f.stay is not None and f.stay < filters.LEAST_STAY:
            yield note(
                f.name,
                f"Water stays in {f.name} for {say(TIME, f.stay)}; dirt wants {say(TIME, filters.LEAST_STAY)} or more to sink.",
                f"Let it hold {at_least(say, VOLUME, filters.LEAST_STAY * f.flow)}, or send it less water.",
            )


@finding("mat or screen too small", notebook="03")
def face_too_small(system, say):
    """Water so fast through a mat, brushes or a screen that dirt is pressed through or clogs it within days."""
    for f in system.filters.values():
        if f.speed and f.speed > filters.FACE_LIMIT:
            severity = fix if f.speed > _FAR * filters.FACE_LIMIT and _open(system) else note
            yield severity(
                f.name,
                f"Water goes through the face of {f.name} at {say(RISE, f.speed)}; past {say(RISE, filters.FACE_LIMIT)} dirt is pressed in and through.",
                f"Give it a face of {at_least(say, AREA, f.peak / filters.FACE_LIMIT)} and write it as face, or send it less water.",
            )


@finding("nothing takes out solids", notebook="03")
def nothing_takes_out_solids(system, say):
    """Rafts, channels or towers that get the fish's dirt: it clogs roots, pipes and drippers, and rots there."""
    open_ = _open(system)
    if open_ and not any(f.solid and f.peak > 0 for f in system.filters.values()):
        words, few = system.beds.words, _few_fish(system, open_)
        yield (note if few else fix)(
            words,
            f"No filter takes out the solids, and {open_[0].si.name} holds no media that could: dirt settles on roots and in pipes, takes their oxygen and rots."
            + (f" Print has rafts do without for so few fish, {say(MASS, RAFTS_BEAR)} or less on a square metre." if few else ""),
            'Let the water of the fish tank pass a filter first, such as kind = "filter", does = "swirl", and a mat after it.',
        )


def _few_fish(system, open_) -> bool:
    """Whether only rafts get the dirt, and so many square metres of them as do without a filter."""
    boards = sum(system.beds.each[v.si.name].area for v in open_)
    return all(v.si.kind == "raft" for v in open_) and system.fish.biomass <= RAFTS_BEAR * boards


@finding("moving bed does not move", notebook="02")
def moving_bed(system, say):
    """A moving bed with too many carriers to turn, few, or too little air."""
    for f in system.filters.values():
        if f.fill is not None and f.fill > filters.MOST_FILL:
            yield fix(
                f.name,
                f"Carriers fill {say(SHARE, f.fill)} of the water of {f.name}; past {say(SHARE, filters.MOST_FILL)} they hardly turn.",
                "Take some out, or let it hold more water.",
            )
        elif f.fill is not None and f.fill < filters.LEAST_FILL:
            yield note(
                f.name,
                f"Carriers fill {say(SHARE, f.fill)} of the water of {f.name}; there is room for {say(SHARE, filters.MOST_FILL)}.",
                "More carriers turn more ammonia in the same vessel.",
            )
        if f.air is not None and f.air < _NEARLY * filters.LEAST_AIR:
            yield fix(
                f.name,
                f"{f.name} gets {say(AIR_FLOW, f.air * f.water)} of air; to turn its carriers and feed their bacteria it wants {say(AIR_FLOW, filters.LEAST_AIR * f.water)}.",
                f"Blow {at_least(say, AIR_FLOW, filters.LEAST_AIR * f.water / f.count)} into each, in coarse bubbles from below, by an air pump of its own, and write that as air_flow.",
            )


@finding("trickling filter badly wetted", notebook="02")
def badly_wetted(system, say):
    """A trickling filter with dry corners, with films washed off, or too low to work."""
    for f in system.filters.values():
        if "trickling" not in f.does or f.peak <= 0 or f.wetting is None:
            continue
        if f.wetting < _NEARLY * filters.LEAST_WETTING:
            yield fix(
                f.name,
                f"{f.name} gets {say(RISE, f.wetting)} of water on its media; with less than {say(RISE, filters.LEAST_WETTING)} part of them stays dry, and only {say(SHARE, f.wetting / filters.LEAST_WETTING)} of them is counted.",
                f"Send it {at_least(say, FLOW, filters.LEAST_WETTING * f.area)}, or make it narrower ({at_most(say, AREA, f.flow / filters.LEAST_WETTING)} or less, seen from above) and as much higher.",
            )
        elif f.wetting > filters.MOST_WETTING:
            yield note(
                f.name,
                f"{f.name} gets {say(RISE, f.wetting)} of water on its media; past {say(RISE, filters.MOST_WETTING)} films are washed off.",
                f"Make it {at_least(say, AREA, f.flow / filters.MOST_WETTING)} wide, seen from above, or send it less.",
            )
        if f.fall is not None and f.fall < filters.LEAST_FALL:
            yield note(
                f.name,
                f"Water falls through only {say(LENGTH, f.fall)} of media in {f.name}; print has a metre and more, and under {say(LENGTH, filters.LEAST_FALL)} most of it runs past them.",
                "Make it higher and narrower.",
            )


@finding("degasser short of air", notebook="03")
def degasser_short(system, say):
    """A degasser that cannot bring the water down to the carbon dioxide that the build reckons with."""
    w = system.build.water.si
    for f in system.filters.values():
        if f.stripped is None or f.peak <= 0:
            continue
        left = filters.IN_AIR + (w.carbon_dioxide_limit - filters.IN_AIR) * (1 - f.stripped)
        if left > w.inlet_carbon_dioxide / _NEARLY:
            blown = system.build.vessels[f.name].si.air_flow
            air = "no air blown in" if blown is None else f"{say(AIR_FLOW, blown * f.count)} of air"
            yield note(
                f.name,
                f"With {air} and {say(LENGTH, f.fall)} of fall {f.name} drives out {say(SHARE, f.stripped)} of the carbon dioxide: {say(CONCENTRATION, left)} stay of "
                f"{say(CONCENTRATION, w.carbon_dioxide_limit)}, and [water] reckons with {say(CONCENTRATION, w.inlet_carbon_dioxide)}.",
                f"Blow {at_least(say, AIR_FLOW, filters.AIR_TO_WATER * f.flow / f.count)} into each and write it as air_flow, let the water fall further, "
                f'or write inlet_carbon_dioxide = "{at_least(say, CONCENTRATION, left)}".',
            )

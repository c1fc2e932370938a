"""Findings about the drippers of towers: some that get less than others, holes with next to no head, holes that clog, towers without any."""

from __future__ import annotations

import math

from aquaplumb.plumbing import jets
from aquaplumb.review.findings.base import at_most, finding, fix, note
from aquaplumb.system.drippers import driest
from aquaplumb.units import BORE, DEPTH, FLOW, GRAVITY, HEAD, SHARE

_EVEN = 0.8  # of the mean, what the driest gets: even to 85 or 90 % is good in the fields, under 80 poor (ASAE EP405, from memory)
_LEAST_HEAD = 0.10  # m over a hole: then 2 cm of height make a tenth of the flow, by √h; common practice, no source
_HANGS_OFF = 0.02  # m that towers hang higher or lower than each other: common practice, no source
_GRAINS = 4.0  # times the strainer's openings, of a hole: grains side by side bridge a narrower one; print has 4 to 10 (trickle irrigation, from memory)
_LEAST_HOLE = 2e-3  # m: a finer one furs up within days in water that fish live in; common practice, no source
_LEAST_TOWER = (
    2 * 3.785411784e-3 / 3600
)  # m³/s for one tower: 2 US gal/h with strong nutrients (a maker's page, read); fish water is weaker


@finding("towers without drippers", notebook="07")
def no_drippers(system, say):
    """Several towers on one open end, or on fewer holes than there are towers: the water goes where it likes."""
    for d in system.drippers:
        towers = round(d.towers)
        if d.flow <= 0 or towers <= d.holes:
            continue
        has = f"{d.holes:.0f} hole{'s' * (d.holes > 1)}" if d.bored else "one open end"
        yield note(
            d.tower,
            f"{towers} towers hang on {has} of {d.name}; the file does not say how the {say(FLOW, d.flow * d.holes)} come to each of them.",
            f"Give each a dripper: nozzles = {towers} and nozzle_bore, such as {say(BORE, _bore(d.flow * d.holes / towers))}, in the stretch {d.name}.",
        )


def _bore(flow: float, head: float = 1.5 * _LEAST_HEAD) -> float:
    """The hole that lets out a flow at a head [m]."""
    return math.sqrt(flow / (jets.HOLE * math.pi / 4 * math.sqrt(2 * GRAVITY * head)))


@finding("drippers uneven", notebook="07")
def uneven(system, say):
    """A tower that gets far less than the others, with the dripper that gives it."""
    ends = [d for d in system.drippers if d.bored]
    if len(ends) < 2 or sum(d.each for d in ends) <= 0:
        return
    mean = sum(d.each * d.towers for d in ends) / sum(d.towers for d in ends)
    least = driest(ends)
    if least.each >= _EVEN * mean:
        return
    others = [d for d in ends if d.each > mean]
    bores = " and ".join(f"{d.name} {at_most(say, BORE, d.bore * math.sqrt(max(least.each, 0.5 * mean) / d.each))}" for d in others)
    yield fix(
        least.name,
        f"Drippers of {least.name} drip least: with {say(HEAD, least.head)} over them each tower of {least.tower} gets {say(FLOW, least.each)}, "
        f"{say(SHARE, least.each / mean)} of what a tower gets on the mean; {driest_head(ends)} has {say(HEAD, max(d.head for d in ends))}.",
        f"Give the others narrower holes (nozzle_bore: {bores}), or throttle their valves until all drip alike: a cup and a watch tell.",
    )


def driest_head(ends) -> str:
    """The end with the most head."""
    return max(ends, key=lambda d: d.head).name


@finding("dripper has next to no head", notebook="07")
def little_head(system, say):
    """Holes so wide for their flow that a few centimetres of height, or a little dirt, decide which tower gets water."""
    for d in system.drippers:
        if not d.bored or d.flow <= 0 or d.towers <= 1 or d.head >= _LEAST_HEAD:
            continue
        bore, more = _bore(d.flow), math.sqrt(1 + _HANGS_OFF / d.head) - 1
        cure = (
            f"Take holes of {at_most(say, BORE, bore)} (nozzle_bore)"
            if bore >= _LEAST_HOLE
            else "Send more water to them, or hang fewer towers on it: finer holes would clog"
        )
        yield note(
            d.name,
            f"Over the drippers of {d.name} stand {say(DEPTH, d.head)} of water: one that hangs {say(DEPTH, _HANGS_OFF)} lower than the rest drips {say(SHARE, more)} more.",
            f"{cure}, and hang them all at one height.",
        )


@finding("dripper clogs", notebook="07")
def clogs(system, say):
    """Holes that grains bridge which the strainer lets through; or nobody knows what it lets through."""
    for d in system.drippers:
        if not d.bored or d.flow <= 0:
            continue
        limit = d.bore / _GRAINS
        finest = f'a strainer or screen finer than {at_most(say, BORE, limit)} (strainer_slot of {d.line}, or mesh of a filter with does = "screen")'
        if d.slot is None:
            yield note(
                d.name,
                f"The drippers of {d.name} are {say(BORE, d.bore)} wide, and the file does not say what the strainer of {d.line} holds back.",
                f"They want {finest}; look at each every week.",
            )
        elif limit < d.slot < d.bore:  # one as wide as the hole is told as any nozzle's
            yield fix(
                d.name,
                f"What goes to {d.name} passes openings of {say(BORE, d.slot)}, and its drippers are {say(BORE, d.bore)} wide: two or three such grains side by side stop one.",
                f"Take {finest}, or drippers of {say(BORE, _GRAINS * d.slot)} or more, fewer or on a stronger pump.",
            )


@finding("tower gets little water", notebook="07")
def little_water(system, say):
    """A tower with less water than its plants drink and its roots stay wet with."""
    for name, state in system.vessels.items():
        v = state.vessel.si
        each = state.mean / v.count
        if v.kind == "tower" and 0 < each < _LEAST_TOWER:
            yield fix(
                name,
                f"Each tower of {name} gets {say(FLOW, each)}; with less than {say(FLOW, _LEAST_TOWER)} the lowest plants dry out.",
                "Send more water to them, or feed fewer towers.",
            )

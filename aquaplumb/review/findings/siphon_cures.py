"""What makes a siphon start and stop again: a cure that does away with one of the two must not bring the other."""

from __future__ import annotations

from aquaplumb.plumbing import siphons
from aquaplumb.review.findings.base import at_most, narrow_enough, shop
from aquaplumb.units import FLOW, HEAD, LENGTH

_CLOGS = 0.015  # m: roots and slime shut a thinner standpipe; common practice, no source
_ROUNDING = 1.001
_POWER = 2.5  # of the bore, by which the starting flow goes: a Froude number, as `siphon_starting_band`
_RAISE = "raise"
_NEAR = 1e-4  # m: to which a height is sought, on the safe side
_HIGHEST = 10.0  # m: no siphon lifts water over more


def cure_for_a_dribble(fall, say) -> str:
    """What lets a siphon start that only dribbles, and stop again: more water, or a standpipe thin enough, with the fall that it needs."""
    bore = bore_that_starts(fall)
    if bore < _CLOGS:
        return "Send it more water, or fill the bed by a timer or a float; a standpipe thin enough to start on so little would clog."
    thin = f"use a standpipe of {narrow_enough(say, bore, fall.line.si)}"
    lower = lower_end(fall, named_bore(say, bore, fall.line.si), say)
    return f"{lower[:1].upper()}{lower[1:]}, and {thin}." if lower else f"Send it more water, or {thin}."


def cure_for_one_that_runs_on(fall, say) -> str:
    """What lets a siphon stop that runs for ever, and still start or let it be tried: less water, a wider standpipe, more fall; only those that do it."""
    s, f = fall.siphon.si, fall.line.si
    standard, offered = shop(say, f)
    wider = [one for one in offered if f.bore < one[1] and fall.load * f.bore**_POWER >= s.starting.si.may * one[1] ** _POWER]
    ways = []
    if s.flow_at_vent / siphons.MARGIN >= s.starting.si.may:
        ways.append(f"send it {at_most(say, FLOW, s.flow_at_vent / siphons.MARGIN)} or less")
    if enough := next((size for size, bore in wider if not lower_end(fall, bore, say)), ""):
        ways.append(f"use a standpipe of {enough} {standard}")
    lower = lower_end(fall, f.bore, say) or "give it more fall"
    if lower.startswith(_RAISE) and wider and not enough:
        lower = f"use a standpipe of {wider[-1][0]} {standard}, and {lower_end(fall, wider[-1][1], say)}"
    told = ", or ".join([*ways, lower] if not (ways and lower.startswith(_RAISE)) else ways)
    return f"{told[:1].upper()}{told[1:]}."


def fits_no_flow(fall, say) -> bool:
    """Whether a siphon that dribbles would, in the bore that starts it, run for ever."""
    bore = bore_that_starts(fall)
    return bore >= _CLOGS and bool(lower_end(fall, named_bore(say, bore, fall.line.si), say))


def bore_that_starts(fall) -> float:
    """The bore in which the flow is sure to start a siphon (the starting flow goes by the power 2.5 of the bore)."""
    return fall.line.si.bore * (fall.load / fall.siphon.si.starting.si.sure) ** (1 / _POWER)


def named_bore(say, bore: float, pipe) -> float:
    """The bore of the pipe that `narrow_enough` names."""
    return max((wide for _, wide in shop(say, pipe)[1] if wide <= bore), default=bore)


def lower_end(fall, bore: float, say) -> str:
    """How much lower a siphon of a bore has to end, so that it is sure to stop; nothing where it ends low enough."""
    from scipy.optimize import brentq

    f = fall.line.si
    if fall.whole is not None:  # what its branches cost hangs on its bore: only a new look can tell
        return ""
    vent, wanted = f.siphon.si.vent, siphons.MARGIN * fall.load * _ROUNDING

    def carries(drop: float) -> float:
        return siphons.siphon_flow.si(drop, bore, f.length, k=fall.k)

    if carries(max(0.0, vent - fall.bottom)) >= wanted:
        return ""
    if carries(_HIGHEST) < wanted:
        return "send it less water"
    high = brentq(lambda drop: carries(drop) - wanted, 0.0, _HIGHEST, xtol=_NEAR / 2) + _NEAR / 2
    end = vent - high
    if end >= fall.to.level and end > fall.to.si.floor:
        return f"let it come out at {at_most(say, HEAD, end)} or lower (outlet)"
    return f"{_RAISE} {fall.source.si.name}, so that its vent is {say(LENGTH, high * _ROUNDING)} or more over where it comes out and over the water there"

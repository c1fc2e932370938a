"""Findings about the side of a pump that draws: where it stands, what fills it, how high it sucks, how deep its inlet is.

ANSI/HI 9.8's depth of water holds for an open mouth, so it is asked of suction pipes only, and not of those that begin
with a strainer or a foot valve; for a submersible the least depth of its maker stands in `inlet_depth`.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.plumbing import fittings, pipe_sizes, pumps
from aquaplumb.review.findings.base import at_least, at_most, finding, fix, note, stop
from aquaplumb.system.loose_pipes import loose_pipes
from aquaplumb.system.outcome import SAFE, safe_depth
from aquaplumb.units import DEPTH, HEAD, LENGTH, TIME, in_percent

_WIDE_OPEN, _SUCTION_LOSS, _MARGIN = 0.95, 0.5, 0.5  # part open, m, m: common practice, no source
_PLAIN, _PLAIN_MOST = 2.0, 4.0  # m: a plain pump of unknown NPSH lifts "2 to 4 m" (BPMA, suction lift with non self-priming pumps)
_BELL = 1.2  # times the bore: the mouth of an inlet rounded with a tenth of the bore ("pipe entrance, rounded")
_AS_TOLD = 0.005  # m: the run's lowest water is the control's
_SLACK = 1.05  # over the depth that is needed: deeper water or a wider mouth also brings a little more flow; common practice, no source


def _dry(line) -> bool:
    """Whether a pump stands dry, beside its water."""
    return line.pump.si.placement == "external" or line.line.si.pump_height is not None


def _lowest(system, line) -> float:
    """The lowest water of a pump while it runs [m], over the floor: as its run shows, else by its control."""
    seen = [one.pumps[line.name].lowest for one in (system.shown.bands if system.shown else ())]
    return min(seen) if seen and np.isfinite(seen).all() else line.tree.si.source - line.source.si.floor


def _lift(system, line) -> float:
    """From the lowest water up to a dry pump [m]; 0 where nobody said how high it stands."""
    height = line.line.si.pump_height
    return 0.0 if height is None else height - line.source.si.floor - _lowest(system, line)


def _left(system, line) -> float:
    """The suction head that is left at a pump [m], at the site's altitude and in the warmest water."""
    site = system.build.site.si
    return float(pumps.suction_head_available.si(_lift(system, line), line.suction_loss, altitude=site.altitude, temperature=system.warm))


@finding("suction not described", notebook="05")
def not_described(system, say):
    """A pump that stands dry, and nothing is known of how its water gets to it."""
    for line in system.pumped.values():
        record = line.line.si
        if not _dry(line) or (record.suction and record.pump_height is not None):
            continue
        missing = "no suction pipe" if not record.suction else "no height"
        also = " and no height" if not record.suction and record.pump_height is None else ""
        yield fix(
            line.name,
            f"The pump of {line.name} stands dry, and your file has {missing}{also} for it: whether it fills, how high it sucks and what its pipe costs were not looked at.",
            f'Say what its suction pipe is, and how high its inlet stands: [[lines."{line.name}".suction]] and pump_height. Or take a submersible pump.',
        )


@finding("pump not primed", notebook="08")
def not_primed(system, say):
    """A pump above its water, and nothing that keeps water in it while it rests."""
    for line in system.pumped.values():
        record = line.line.si
        if record.pump_height is None:
            continue
        control = record.control.si
        starts = line.source.si.floor + (control.on_depth if control.kind == "float" else line.source.si.working_depth)
        above = record.pump_height - starts
        if above <= 0 or line.pump.si.self_priming == "yes":
            continue
        over = f"The pump of {line.name} stands {say(LENGTH, above)} above the water in {line.source.si.name}"
        if line.pump.si.placement == "submersible" and not record.suction:
            yield stop(
                line.name,
                f"{over}, and it is one that has to stand in it. No water comes.",
                f"Set it in the water and take pump_height out, or set it at {at_most(say, HEAD, starts)} or lower.",
            )
        elif not record.suction:
            continue  # "suction not described" has said that nothing is known
        elif not any(count > 0 and fittings.fitting(name).is_check_valve for p in record.suction for name, count in p.si.fittings.items()):
            yield stop(
                line.name,
                f"{over}, and nothing holds the water in its suction pipe while it rests: it then spins in air and no water comes.",
                f'Put a "foot valve, hinged" at the pipe\'s lower end and fill pipe and pump by hand, or set the pump at {at_most(say, HEAD, starts)} or lower, or take a self-priming pump.',
            )
        else:
            yield note(
                line.name,
                f"{over}; its foot valve or check valve has to hold the water in the suction pipe whenever it rests.",
                "Fill pipe and pump by hand before the first start, and look after each stop: dirt in the valve lets the water go, and the pump runs dry.",
            )


@finding("suction lift beyond the pump", notebook="08")
def lift_beyond(system, say):
    """A pump that sucks higher than it can."""
    for line in system.pumped.values():
        lift, loss, need = _lift(system, line), line.suction_loss, line.pump.si.suction_head_needed
        if lift <= 0 or line.flow <= 0:
            continue
        limit = float(pumps.suction_limit.si(system.build.site.si.altitude))
        have = _left(system, line)
        room, why = limit - lift - loss, f"no centrifugal pump sucks more than {say(HEAD, limit)} there"
        if need is not None and have - need - _MARGIN < room:
            room = have - need - _MARGIN
            why = f"that leaves {say(HEAD, have)} of suction head, and it needs {say(HEAD, need)} and a margin of {say(HEAD, _MARGIN)}"
        elif need is None and line.pump.si.self_priming != "yes" and _PLAIN_MOST - lift - loss < room:
            room, why = _PLAIN_MOST - lift - loss, f"a plain pump sucks {say(HEAD, _PLAIN_MOST)} at most"
        said = f"The pump of {line.name} sucks {say(HEAD, lift + loss)}, {say(HEAD, lift)} of it height"
        if room < 0:
            lower = line.line.si.pump_height + room
            yield stop(
                line.name,
                f"{said}; {why}. The water boils in it, little comes, and it wears out.",
                f"Set the pump at {at_most(say, HEAD, lower)} or lower, use a wider and shorter suction pipe, or take a submersible pump.",
            )
        elif need is None and line.pump.si.self_priming != "yes" and lift + loss > _PLAIN:
            yield fix(
                line.name,
                f"{said}; a plain pump sucks {say(HEAD, _PLAIN)} to {say(HEAD, _PLAIN_MOST)}, and what yours needs is not given.",
                'Ask its maker for the NPSH and write it into the pump\'s file ("suction head needed,…"), or set the pump lower.',
            )


@finding("suction throttled", notebook="05")
def suction_throttled(system, say):
    """So much loss on the pump's suction side that it draws air or tears the water."""
    for line in system.pumped.values():
        if not line.line.si.suction:
            continue
        loss, need, have = line.suction_loss, line.pump.si.suction_head_needed, _left(system, line)
        throttled = [p.si for p in line.line.si.suction if p.si.valve and p.si.opening < _WIDE_OPEN]
        if need is not None and have < need + _MARGIN and _lift(system, line) <= 0:  # else "suction lift beyond the pump" says so
            yield stop(
                line.name,
                f"The pump of {line.name} has {say(HEAD, have)} of suction head left; it needs {say(HEAD, need)} and a margin of {say(HEAD, _MARGIN)}.",
                "Use a bigger and shorter suction pipe, lower the pump, or take out fittings before it.",
            )
        if throttled:
            yield fix(
                throttled[0].name,
                f"The valve of {throttled[0].name} stands {in_percent(throttled[0].opening)} open before the pump, and the suction side costs {say(HEAD, loss)}; a pump starved there is noisy and wears.",
                "Keep valves before the pump wide open; throttle after it.",
            )
        elif loss > _SUCTION_LOSS:
            yield fix(
                line.line.si.suction[0].si.name,
                f"The suction side of {line.name} costs {say(HEAD, loss)}, more than {say(HEAD, _SUCTION_LOSS)}; a pump starved there is noisy and wears.",
                "Use a bigger and shorter pipe before the pump, with fewer bends.",
            )


@finding("inlet depth not given", notebook="09")
def depth_not_given(system, say):
    """A pump of which nobody knows when it draws air."""
    for line in system.pumped.values():
        if line.line.si.inlet_depth is None:
            what = (
                "how high the open end of its suction pipe is over the floor"
                if line.line.si.suction
                else "the least depth of water that its maker asks for; without one, measure where it begins to draw air"
            )
            yield fix(
                line.name,
                f"Your file does not say how deep {line.source.si.name} has to be for the pump of {line.name}: when it draws air was not looked at.",
                f"Write inlet_depth: {what}.",
            )


# --- water over an open mouth -----------------------------------------------------------------------


def _mouth(line) -> float | None:
    """The bore of the open mouth that a line sucks through [m]; None where there is none, or a strainer stands before it."""
    if not line.line.si.suction:
        return None
    first = line.line.si.suction[0].si
    rows = [fittings.fitting(name).si for name, count in first.fittings.items() if count > 0]
    if any(row.group == "screen" or row.name.startswith("foot valve") for row in rows):
        return None
    return first.bore * (_BELL if any(row.name == "pipe entrance, rounded" for row in rows) else 1.0)


def _shallow(line, depth: float, say, when: str):
    """What to say where the water over a mouth is too little, with its vessel so deep."""
    mouth, least = _mouth(line), line.line.si.inlet_depth
    if mouth is None or least is None or line.flow <= 0 or depth < least:
        return
    need, over = float(pumps.submergence.si(line.high, mouth)), depth - least
    if over >= need:
        return
    enough = _SLACK * need
    first = line.line.si.suction[0].si
    wider = next(
        (
            size
            for size in (pipe_sizes.sizes(first.standard) if first.standard else [])
            if (bore := pipe_sizes.bore.si(size, first.standard)) > mouth and _SLACK * pumps.submergence.si(line.high, bore) <= over
        ),
        None,
    )
    cures = [f"Keep {line.source.si.name} {at_least(say, LENGTH, least + enough)} deep or deeper while it runs"]
    if depth - enough > mouth / 2:  # as HI 9.8 keeps a mouth off the floor: half of its bore
        cures.append(f"lower the mouth to {at_most(say, LENGTH, depth - enough)} over the floor or less (inlet_depth)")
    if wider:
        cures.append(f"begin the suction pipe with a mouth of {wider} {first.standard} or wider")
    yield fix(
        line.name,
        f"{when}, the suction pipe of {line.name} has {say(DEPTH, over)} of water over its mouth; with less than {say(DEPTH, need)} a vortex can draw air into the pump.",
        ", or ".join([", ".join(cures[:-1]), cures[-1]] if len(cures) > 1 else cures) + ".",
    )


@finding("inlet too near the surface", notebook="08")
def near_surface(system, say):
    """An open suction mouth with too little water over it."""
    for line in system.pumped.values():
        usual = line.tree.si.source - line.source.si.floor
        when = "When the float stops it" if line.line.si.control.si.kind == "float" else "At the usual level"
        lowest = _lowest(system, line)
        yield from _shallow(line, lowest, say, when if lowest > usual - _AS_TOLD else "At its lowest while it runs")


@finding("loose pipe empties the fish tank", notebook="09")
def loose_pipe(system, say):
    """A pump that, once its pipe comes off, brings a fish tank under half of its water."""
    for one in loose_pipes(system):
        if one.share >= SAFE:
            continue
        tank = system.build.vessels[one.tank]
        safe = safe_depth(tank, one.usual)
        own = one.source == one.tank
        fast = f" in {say(TIME, 60 * one.minutes)}" if own else ""
        yield note(
            one.tank,
            f"If the pipe of {one.line} comes off its pump, {one.tank} is left {say(LENGTH, one.left)} deep{fast}, of {say(LENGTH, one.usual)}: {one.why}.",
            f"Secure that joint with a clamp, and give {one.line} a low-level switch: cut_out_depth = \"{at_least(say, LENGTH, safe)}\"; or raise the pump."
            if own
            else f"Secure that joint with a clamp, and let air into the pipe in {one.tank} just above the water (break_hole), or set a check valve.",
        )  # fmt: skip

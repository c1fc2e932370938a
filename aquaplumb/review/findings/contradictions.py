"""Findings about a file that says two things which cannot both be: a way down that is shut, a height outside its vessel, a switch that no water reaches."""

from __future__ import annotations

from aquaplumb.review.findings.base import at_least, at_most, finding, fix, note, stop
from aquaplumb.units import FLOW, LENGTH

_OVER = 0.02  # m of water over a pump's inlet when its low switch turns; common practice, no source
_APART = 0.05  # m from where a low switch stops its pump to where it lets it start, as records.py has it
_ROUNDED = 0.005  # m: heights that are said so near are the same; common practice, no source


@finding("drain shut", notebook="06")
def drain_shut(system, say):
    """A valve that stands shut on a way down, of a tree on one of its stretches."""
    for fall in system.falling.values():
        f = fall.line.si
        if not f.valve or f.opening > 0:
            continue
        vessel = system.vessels[fall.root.si.name]
        spills = vessel.highest > fall.root.rim - fall.root.si.freeboard
        yield (stop if spills or f.emergency else fix)(
            fall.name,
            f"The {f.valve} of {fall.name} is shut, so no water goes through it"
            + (f"; {say(FLOW, vessel.peak)} comes into {vessel.name}, and it goes over its rim." if spills else "."),
            "Open it (opening = 1), or take the line out of the file where it is not used.",
        )


@finding("height outside its vessel", notebook="05")
def outside_its_vessel(system, say):
    """A pipe that begins, ends or, of a siphon, lets air in under the floor of its vessel: of the two heights one is another."""
    vessels = system.build.vessels
    heights = [
        (name, what, where, height)
        for name, f in system.falling.items()
        for what, where, height in (("takes water in", f.line.si.source, f.line.si.lip), ("comes out", f.line.si.to, f.line.si.outlet))
    ]
    heights += [(name, "lets air in", f.line.si.source, f.line.si.siphon.si.vent) for name, f in system.falling.items() if f.siphon]
    heights += [
        (o.name, "comes out", o.to, o.pipe.si.outlet) for p in system.pumped.values() for o in p.outlets if o.pipe.si.outlet is not None
    ]
    for name, what, where, height in heights:
        if where in vessels and height < (floor := vessels[where].si.floor) - _ROUNDED:
            yield fix(
                name,
                f"{name} {what} at {say(LENGTH, height)}, {say(LENGTH, floor - height)} below the floor of {where} at {say(LENGTH, floor)}: one of the two is another.",
                f"Measure both from the same mark. A pipe through the floor of {where} is at {say(LENGTH, floor)}.",
            )


@finding("float never turns on", notebook="09")
def never_on(system, say):
    """A float switch that stands higher than the water ever does: its pump never runs."""
    for line in system.pumped.values():
        c, source = line.line.si.control.si, line.source
        if c.kind != "float":
            continue
        seen = system.shown.bands if system.shown else ()
        highest = max((one.vessels[source.si.name].highest for one in seen), default=source.si.height)
        if c.on_depth <= source.si.height - _ROUNDED and (not seen or any(one.pumps[line.name].share > 0 for one in seen)):
            continue
        # Between its two depths a float may just as well be on: then it is the next start that fails.
        yield (note if c.on_depth <= source.si.height - _ROUNDED and line.duty >= 1 else stop)(
            line.name,
            f"The float switch of {line.name} turns its pump on with {source.si.name} {say(LENGTH, c.on_depth)} deep; its water stands {say(LENGTH, highest)} deep at most. Once it stands still, as after a power cut, the pump does not start again.",
            f"Set on_depth to {at_most(say, LENGTH, highest - _ROUNDED)} or less, above off_depth."
            if highest - _ROUNDED > c.off_depth
            else f"Set off_depth under {say(LENGTH, highest)} and on_depth between the two, or put in more water.",
        )


@finding("low switch stops nothing", notebook="09")
def low_switch_too_low(system, say):
    """A low-level switch that stands lower than the depth at which its pump draws air."""
    for line in (one.si for one in system.build.pumped.values()):
        low, again, air = line.control.si.cut_out_depth, line.control.si.cut_in_depth, line.inlet_depth
        if low and air and low <= air - _ROUNDED:
            on = (
                f", and cut_in_depth to {at_least(say, LENGTH, air + _OVER + _APART)} or more"
                if again and again <= air + _OVER + _APART
                else ""
            )
            yield fix(
                line.name,
                f"The low-level switch of {line.name} turns it off with {line.source} {say(LENGTH, low)} deep; its inlet draws air from {say(LENGTH, air)} on, so the pump runs dry before.",
                f"Set cut_out_depth to {at_least(say, LENGTH, air + _OVER)} or more{on}.",
            )

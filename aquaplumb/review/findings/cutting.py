"""Findings about pipe as it is sawn: a piece too short for its two sockets, and a route that misses its heights."""

from __future__ import annotations

from aquaplumb.build.mouths import begins
from aquaplumb.build.routes import level, rise, untold
from aquaplumb.build.sawn import sawn
from aquaplumb.review.findings.base import finding, fix
from aquaplumb.units import BORE, HEAD, LENGTH

_MISSED = 0.02  # m: nobody sets a pipe's end better over a whole line; common practice, no source
_SLOPE = 0.05  # of a level leg, that a falling pipe may drop along it; common practice, no source


@finding("piece too short", notebook="13")
def piece_too_short(system, say):
    """A piece of pipe whose two sockets would meet before it is home, or a stretch shorter than what its fittings take up."""
    for run in sawn(system.build):
        if run.missing > 0:
            yield fix(
                run.name,
                f"{run.name} is {say(LENGTH, run.stretch.length)} long, and its fittings and sockets alone take up {say(LENGTH, run.stretch.length + run.missing)}.",
                f"Measure it again from end to end, give it {say(LENGTH, run.stretch.length + run.missing)} or more, or leave out a fitting.",
            )
        for piece, a, b in zip(run.pieces, run.joints, run.joints[1:]):
            if run.told and piece.short:
                least = piece.leg + piece.sockets - piece.length
                yield fix(
                    run.name,
                    f"{run.name}: the leg of {say(BORE, piece.leg)} between {a.name} and {b.name} is too short: the two take up {say(BORE, least)} before their sockets meet.",
                    f"Make that leg {say(BORE, least)} or more, or take a fitting that joins without pipe (a spigot in a socket).",
                )


@finding("route misses its heights", notebook="05")
def route_misses(system, say):
    """Legs that go up or down by something else than the heights of the stretch's two ends."""
    build = system.build
    for name, fall in build.falling.items():
        f = fall.si
        if untold(f) or f.intake is not None or f.crown is not None:
            continue
        drop, wanted = -rise(f.route), f.lip - f.outlet
        source = build.vessels.get(f.source)  # none where it follows a tee
        inside = (
            f.lip - begins(f, source, build.own) if source else 0.0
        )  # an elbow there lifts the water to the lip, or the lip is the hole's lowest point
        if not min(inside, 0.0) - _MISSED <= wanted - drop <= max(inside, 0.0) + _MISSED + _SLOPE * level(f.route):
            yield _missed(name, "go down", drop, f"from {'its lip' if source else 'the tee before it'} to its outlet", wanted, say)
    for line in build.pumped.values():
        pipes = {p.si.name: p.si for p in line.si.pipe}
        for end in (p for p in pipes.values() if p.to):
            way = [end]
            while way[-1].after:
                way.append(pipes[way[-1].after])
            if any(untold(p) for p in way):
                continue
            climb, outlet = sum(rise(p.route) for p in way), build.vessels[end.to].rim if end.outlet is None else end.outlet
            source, dry = build.vessels[line.si.source], line.si.pump_height
            low, high = (source.si.floor, source.level) if dry is None else (dry, dry)
            if not low - _MISSED <= outlet - climb <= high + _MISSED:
                wanted = outlet - (low if outlet - climb < low else high)
                start = (
                    "from the pump" if dry is not None else f"from the {'floor' if outlet - climb < low else 'water'} of {source.si.name}"
                )
                yield _missed(end.name, "go up", climb, f"{start} to its end at {say(HEAD, outlet)}", wanted, say)


def _missed(name: str, goes: str, legs: float, between: str, wanted: float, say) -> tuple:
    return fix(
        name,
        f"The route of {name} does not add up to its heights: its upright legs {goes} {say(LENGTH, legs)}, and {between} it is {say(LENGTH, wanted)}.",
        "Measure the upright legs again, or the heights: both from the same mark.",
    )

"""Findings about round tanks and the jets that turn them, and about nozzles that clog."""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.plumbing import jets
from aquaplumb.review.findings.base import finding, fix, note
from aquaplumb.system.turning import BAND, CLEAN, Jet, Turning, by_bore, opening
from aquaplumb.units import ANGLE, BORE, FLOW, LENGTH, SPEED, in_percent

_ABOUT = 0.9  # of a speed that holds to a half anyway: common practice, no source
_ALONG = 0.98  # of all its push: 11 degrees off the wall; common practice, no source
_PUSHES = 0.05  # of all the push: less does not fight; common practice, no source
_LEAST = 4e-3  # m: a smaller hole clogs with what any strainer lets through; common practice, no source
_DRILLS = {"metric": 1e-3, "US": 0.0254 / 16}  # m: steps of bore that a box of drills has


@finding("tank turns too slowly", notebook="05")
def turns_too_slowly(system, say):
    """A round tank meant to turn, with a way out at its floor, whose water is too slow to carry solids there."""
    for t in system.turning.values():
        if not (t.swept and t.jets and t.speed < _ABOUT * t.wanted):
            continue
        fish_first = " (more would be too much for fish this small)" if t.wanted < CLEAN else ""
        severity = fix if t.fast < _ABOUT * t.wanted else note
        yield severity(
            t.tank,
            f"The jets of {t.tank} turn its water at {say(SPEED, t.speed)} at the wall (it may be {say(SPEED, t.slow)} to {say(SPEED, t.fast)}); "
            f"it takes {say(SPEED, t.wanted)} or more{fish_first} to carry solids along the floor to its drain.",
            _faster(system, t, say),
        )


def _faster(system, t: Turning, say) -> str:
    """What brings the speed wanted: inlets turned along the wall, else other nozzles too, else more water."""
    way = -1.0 if t.push < 0 else 1.0
    most = {jet.name: _most(jet.flow, jet.speed) for jet in t.jets}
    away = [jet.name for jet in t.jets if way * jet.push < _ALONG * most[jet.name]]
    falls = {
        end.name: _most(end.flow, opening(end.pipe.si, end.flow)[2])
        for line in system.pumped.values()
        for end in line.outlets
        if end.to == t.tank and end.flow > 0 and end.name not in most
    }
    for turned, ends in ((away, most), ([*away, *falls], most | falls)):
        turns = float(jets.turning_speed.si(sum(ends.values()), t.flow, t.diameter, t.depth))
        if turned and turns >= t.wanted and BAND * turns <= t.limit:
            return f"Point {_along(turned, way)}."
        if turned and turns >= t.wanted:  # straight along it would be too much for the fish
            need = jets.turning_thrust.si(0.5 * (t.wanted + t.limit / BAND), t.flow, t.diameter, t.depth)
            return f'Turn {" and ".join(ends)} to nozzle_angle = "{ANGLE.text(_off(sum(ends.values()), need, way))}".'
    for jet in sorted(t.jets, key=lambda jet: -jet.flow):
        if bore := _bore(system, t, jet):
            first = f"Point {_along(away, way)}, and give {jet.name}" if away else f"Give {jet.name}"
            return f"{first} {jet.nozzles:g} nozzle{'s' * (jet.nozzles != 1)} of {say(BORE, bore)}; the line shares its water out anew."
    return "Send more water through the jets: a stronger pump, or a bigger share of it. With this pump no bore of nozzle does it."


def _off(push: float, need: float, way: float) -> float:
    """The angle, up to a whole degree, at which jets that push so much along the wall push no more than they need to."""
    off = math.radians(math.ceil(math.degrees(float(jets.jet_angle.si(push, min(need, push)))) - 1e-6))
    return off if way > 0 else math.pi - off


def _most(flow, speed):
    """What a jet pushes along the wall."""
    return jets.jet_thrust.si(flow, speed)


def _along(names: list[str], way: float) -> str:
    return f'{" and ".join(names)} along the wall, the same way round as all others (nozzle_angle = "{ANGLE.text(0.0 if way > 0 else math.pi)}")'


def _bore(system, t: Turning, jet: Jet) -> float | None:
    """The widest bore a drill has with which a jet brings the speed wanted, when all are along the wall; None without one."""
    line, step = system.pumped[jet.line], _DRILLS[system.build.units]
    pipe = next(end.pipe.si.bore for end in line.outlets if end.name == jet.name)
    least = max(_LEAST, 1.001 * (line.line.si.strainer_slot or 0.0))
    bores = step * np.arange(math.ceil(least / step), math.floor(pipe / step) + 1)
    if not len(bores):
        return None
    _, push, comes = by_bore(system, t, jet, bores, along=True)
    turns = jets.turning_speed.si(push, comes, t.diameter, t.depth)
    fits = bores[(turns >= t.wanted) & (BAND * turns <= t.limit)]
    return float(fits[-1]) if len(fits) else None


@finding("tank turns too fast", notebook="05")
def turns_too_fast(system, say):
    """A round tank whose water is faster than its fish can swim against for good."""
    for t in system.turning.values():
        if t.fast <= t.limit:
            continue
        sure = t.speed > t.limit
        need = float(jets.turning_thrust.si(t.limit, t.flow, t.diameter, t.depth, resistance=jets.RESISTANCE["low"]))
        all_along = float(sum(_most(jet.flow, jet.speed) for jet in t.jets))
        angle = _off(all_along, need, 1.0)
        names, off = " and ".join(jet.name for jet in t.jets), ANGLE.text(angle)
        severity = fix if sure else note
        yield severity(
            t.tank,
            f"The water of {t.tank} {'turns' if sure else 'may turn'} at {say(SPEED, t.speed if sure else t.fast)} at the wall; fish of "
            f"{say(LENGTH, t.body_length)} bear {say(SPEED, t.limit)} for good, and smaller ones less.",
            f'Turn {names} off the wall towards the middle (nozzle_angle = "{off}"), or use wider nozzles.',
        )


@finding("jets against each other", notebook="05")
def jets_against(system, say):
    """Jets of one round tank that turn it opposite ways."""
    for t in system.turning.values():
        against = [jet for jet in t.jets if jet.push * t.push < 0 or (t.push == 0 and jet.push < 0)]
        lost, all_push = sum(abs(jet.push) for jet in against), sum(abs(jet.push) for jet in t.jets)
        if lost > _PUSHES * all_push:
            turned = " and ".join(f'{jet.name} to nozzle_angle = "{ANGLE.text(math.pi - jet.angle)}"' for jet in against)
            names = " and ".join(jet.name for jet in against)
            yield fix(
                t.tank,
                f"{names[:1].upper()}{names[1:]} push{'es' if len(against) == 1 else ''} against the other jets of {t.tank}: {in_percent(lost / all_push)} of the push is spent on "
                f"undoing the rest, and the water turns at {say(SPEED, t.speed)}.",
                f"Turn {turned}.",
            )


@finding("nozzle clogs before the strainer", notebook="05")
def nozzle_clogs(system, say):
    """A nozzle narrower than the openings of the strainer before it."""
    for line in system.pumped.values():
        slot = line.line.si.strainer_slot
        for end in line.outlets:
            bore = end.pipe.si.nozzle_bore
            if slot is None or bore is None or bore > slot:
                continue
            yield fix(
                end.name,
                f"The strainer of {line.name} lets through what is up to {say(BORE, slot)} thick; a nozzle of {end.name} is {say(BORE, bore)} wide: it "
                f"clogs where nobody sees it, and its {say(FLOW, end.flow)} stop.",
                f"Take a strainer with openings finer than {say(BORE, bore)}, or wider nozzles.",
            )

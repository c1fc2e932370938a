"""Findings about how much water moves."""

from __future__ import annotations

import math

from aquaplumb.review.findings.base import finding, fix, note, stop
from aquaplumb.units import CONCENTRATION, FLOW, TEMPERATURE, in_percent

# Common practice, no source: _NEARLY and _ABOUT are rounding and what a bucket and a watch can tell.
_NEARLY, _ABOUT = 0.98, 0.95
_SAME = 1.001  # of a flow: equal, but for rounding
_UNSETTLED, _TRICKLE = 0.01, 1e-6  # of the largest flow; m³/s
_STOP_OXYGEN, _STOP_AMMONIA = 0.7, 0.5  # fish die of the first within the hour, of the second within days


def _tank_inflow(system, tank) -> float:
    return sum(system.vessels[name].mean for name in tank.vessels)


@finding("flow short of oxygen need", notebook="03")
def short_of_oxygen(system, say):
    """The water that reaches the fish brings less oxygen than they use."""
    if not math.isfinite(system.need.oxygen):
        need = system.need
        yield stop(
            "fish tank",
            f"Water comes in with {say(CONCENTRATION, need.inlet_oxygen)} of oxygen at {say(TEMPERATURE, system.warm)}, no more than the "
            f"{say(CONCENTRATION, system.build.water.si.outlet_oxygen)} you want to leave: no flow can feed the fish.",
            'Lower outlet_oxygen as far as the species allows, or let air stones bring it all and write aerated_share = "100 %".',
        )
        return
    for name, tank in system.tanks.items():
        need, flow = system.needs[name], _tank_inflow(system, tank)
        if flow < _NEARLY * need.oxygen:
            severity = stop if flow < _STOP_OXYGEN * need.oxygen else fix
            yield severity(
                name,
                f"{_the(system, name)} gets {say(FLOW, flow)}; the fish's oxygen on the heaviest day asks for {say(FLOW, need.oxygen)} at {say(TEMPERATURE, system.warm)}.",
                f"Send more water through the tank, keep fewer fish, or let air stones bring more of it{_by_stones(system, flow / need.oxygen)}, and their pump in [air].",
            )


def _by_stones(system, brought: float) -> str:
    """How to write that air stones bring what the water does not, by the part of its oxygen that it brings."""
    share = math.ceil(100 * (1 - (1 - system.build.water.si.aerated_share) * min(brought, 1.0)) - 1e-6)
    return f': aerated_share = "{share} %" in [water]'


def _the(system, tank: str) -> str:
    return tank if system.build.several else f"The {tank}"


@finding("flow short of ammonia need", notebook="03")
def short_of_ammonia(system, say):
    """The water that reaches the beds carries too little ammonia to the bacteria."""
    need, flow = system.need.ammonia, system.living_flow()
    if flow < _NEARLY * need:
        severity = stop if flow < _STOP_AMMONIA * need else fix
        yield severity(
            system.living.words,
            f"The {system.living.words} get {say(FLOW, flow)}; to hold {say(CONCENTRATION, system.build.water.si.ammonia_limit)} of ammonia (as N) they need {say(FLOW, need)}.",
            f"Send more water {'over' if system.living.words == 'beds' else 'through'} the {system.living.words}, or feed less.",
        )


@finding("flow short of turnover", notebook="03")
def short_of_turnover(system, say):
    """The tank is not swept often enough, or its carbon dioxide stays."""
    for tank, load in system.tanks.items():
        flow, need = _tank_inflow(system, load), system.needs[tank]
        for name, wanted in (("turnovers you ask for", need.turnover), ("carbon dioxide", need.carbon_dioxide)):
            if flow < _ABOUT * wanted:
                yield fix(
                    tank,
                    f"{_the(system, tank)} gets {say(FLOW, flow)}; the {name} needs {say(FLOW, wanted)}.".replace("for needs", "for need"),
                    "Send more water through the tank: a bigger pump or pipe, or a bigger share.",
                )


@finding("timer too short", notebook="03")
def timer_too_short(system, say):
    """A pump on a timer that must move the hour's water in its minutes, and does not."""
    for line in system.pumped.values():
        all_day = line.wanted * line.duty  # what it would have to bring if it ran all the time; short of that, it is the pump
        if line.line.si.control.si.kind == "timer" and _ABOUT * all_day <= line.flow < _NEARLY * line.wanted:
            slack = max((o.wanted_share / o.share for o in line.outlets if o.share > 0), default=1.0)  # the one that gets least
            minutes = min(60, math.ceil(60.0 * all_day * slack / line.flow))
            yield fix(
                line.name,
                f"{line.name} runs {in_percent(line.duty)} of the time; to move the hour's water it must bring {say(FLOW, line.wanted)} while it runs, and it brings {say(FLOW, line.flow)}.",
                f"Run it for {minutes} minutes of each hour or more, or choose a stronger pump.",
            )


@finding("outlet oxygen low", notebook="03")
def outlet_oxygen_low(system, say):
    """The oxygen you mean to leave in the tank is below what the species needs."""
    species, wanted = system.strictest("oxygen_minimum"), system.build.water.si.outlet_oxygen
    least = species.oxygen_minimum
    if least is not None and wanted < least:
        yield fix(
            "fish tank",
            f"You plan to leave {say(CONCENTRATION, wanted)} of oxygen in the tank; {species.name} needs {say(CONCENTRATION, least)}.",
            f"Set outlet_oxygen to {say(CONCENTRATION, least)} or more.",
        )


@finding("float pump always on", notebook="03")
def float_always_on(system, say):
    """A pump on a float switch that is weaker than the water that comes to it."""
    for line in system.pumped.values():
        inflow = system.vessels[line.line.si.source].mean
        if line.line.si.control.si.kind == "float" and 0 < line.flow <= inflow * _SAME and inflow > 0:
            others = [p for p in system.pumped.values() if p is not line and p.line.si.source == line.line.si.source]
            if system.feeds_itself(line) or (inflow <= line.flow * _SAME and not system.vessels[line.line.si.source].spilled):
                yield note(
                    line.name,
                    f"What {line.name} pumps, {say(FLOW, line.flow)}, falls back to {line.source.si.name}: its float switch never turns it off, and only guards it from running dry.",
                    "Leave it running: the fish need it. The float guards the pump only if its off depth is above the pump's inlet.",
                )
            elif not others:
                ways = [f.name for f in system.falling.values() if f.line.si.source == line.source.si.name]
                rest = f"the rest leaves by {' and '.join(ways)}" if ways else "the rest has no way out"
                severity = note if ways else stop
                yield severity(
                    line.name,
                    f"{line.name} brings {say(FLOW, line.flow)} and {say(FLOW, inflow)} comes to {line.source.si.name}: its float switch never turns it off, and {rest}.",
                    "Choose a stronger pump, unless that overflow may run day and night."
                    if ways
                    else "Choose a stronger pump, or give the vessel an overflow.",
                )


@finding("water does not settle", notebook="09")
def does_not_settle(system, say):
    """Levels at which as much leaves each vessel as comes into it were not found: what is reckoned on the hour's flows is rough."""
    left = system.means.usual.left
    place = int(abs(left).argmax())
    if abs(left[place]) > _TRICKLE + _UNSETTLED * max(v.peak for v in system.vessels.values()):
        name = system.network.names[place]
        yield note(
            name,
            f"No level was found at which as much leaves {name} as comes into it: {say(FLOW, abs(left[place]))} {'more' if left[place] > 0 else 'less'} comes than goes. The flows of the hour, and what hangs on them, are rough.",
            "Trust its levels through time, in notebook 09, before these numbers, and look whether the heights of its lips and lines are as you mean.",
        )

"""Findings about pumped pipe: speeds, shares, valves and hammer."""

from __future__ import annotations

from aquaplumb.build.records import way_to
from aquaplumb.plumbing import fittings, hammer, pipe_sizes, pipes, valves
from aquaplumb.review.findings.base import finding, fix, note, stop, wide_enough
from aquaplumb.sentences import pipe_in_words
from aquaplumb.units import FLOW, HEAD, LENGTH, PRESSURE, SPEED, in_percent

_FAST, _TOO_FAST = pipes.SPEED_HIGH, 2.4  # m/s: PVC at most 1.5 (UF/IFAS AE066); where it is to be mended, common practice, no source
_CHOSEN = 1.2  # m/s that a wider pipe is chosen for: common practice, no source
_SHORT = 0.5  # m of pipe in which little settles: common practice, no source
SHARE_OFF = 0.10  # common practice, no source
_SLACK = 0.005  # of the whole: what rounding to a half per cent leaves; common practice, no source
_STARVED = 0.5  # of its share; below, the plants there go short: common practice, no source
_COSTLY = 0.2  # of the pump's head, in a check valve alone: common practice, no source
_SEALED = 5.0  # m: joints of drain pipe are tested tight at 0.5 bar (EN 1329, EN 1451, from memory)
_NEARLY_SHUT = 0.25  # of a valve's turn; below, a hair's turn doubles the flow: common practice, no source


def _stretches(system):
    """(line, stretch of the build, flow) for each stretch that carries water."""
    for line in system.pumped.values():
        for pipe in (*line.line.si.suction, *line.line.si.pipe):
            flow = line.stretch_flow[pipe.si.name]
            if flow > 0:
                yield line, pipe.si, flow


@finding("pipe too slow", notebook="04")
def pipe_too_slow(system, say):
    """Water so slow that solids settle and slime grows."""
    slow = [
        (pipe.name, speed)
        for _, pipe, flow in _stretches(system)
        if (speed := pipes.speed.si(flow, pipe.bore)) < pipes.SPEED_LOW * (1 - pipes.NEAR) and pipe.length > _SHORT
    ]
    if slow:
        name, speed = min(slow, key=lambda item: item[1])
        more = len(slow) - 1
        others = f" (and in {more} more stretch{'es' * (more > 1)})" if more else ""
        yield note(
            name,
            f"Water moves at {say(SPEED, speed)} in {name}{others}; solids settle in pipe slower than {say(SPEED, pipes.SPEED_LOW)}.",
            "Choose a smaller size there, or fit a cap to flush it.",
        )


@finding("pipe too fast", notebook="04")
def pipe_too_fast(system, say):
    """Water so fast that it is loud, wears and hammers."""
    for _, pipe, flow in _stretches(system):
        speed = pipes.speed.si(flow, pipe.bore)
        if speed > _FAST:
            bore = pipe.bore * (speed / _CHOSEN) ** 0.5
            severity = fix if speed > _TOO_FAST else note
            yield severity(
                pipe.name,
                f"Water moves at {say(SPEED, speed)} in {pipe.name}; past {say(SPEED, _FAST)} it is noisy, costs head and hammers.",
                f"Choose {wide_enough(say, bore, pipe, 2.0)} there.",
            )


def spoken(end: str, vessel: str, vessels) -> str:
    """An end of a line at the start of a sentence: by its vessel, and by its own name too where the vessel has more of them."""
    name = vessel[:1].upper() + vessel[1:]
    return name if list(vessels).count(vessel) == 1 else f"{name}, by '{end}',"


@finding("bed shares uneven", notebook="07")
def shares_uneven(system, say):
    """A branch that gets more or less than its share."""
    for line in system.pumped.values():
        if line.flow <= 0:
            continue
        off = [o for o in line.outlets if o.wanted_share > 0 and abs(o.share / o.wanted_share - 1) > SHARE_OFF]
        if not off:
            continue
        ends = [o.to for o in line.outlets]
        least = min(off, key=lambda o: o.share / o.wanted_share)
        if least.flow <= 0:
            shut = [p.si.name for p in way_to(line.line.si, least.pipe) if p.si.valve and p.si.opening <= 0]
            if shut:
                yield stop(
                    least.to,
                    f"{spoken(least.name, least.to, ends)} runs dry: the valve of {pipe_in_words(shut[0])} is shut.",
                    f"Open the valve of {' and of '.join(map(pipe_in_words, shut))}, then set it as notebook 07 shows.",
                )
                continue
            height = next(s.si.outlet for s in line.tree.si.stretches if s.si.name == least.name)
            yield stop(
                least.to,
                f"{spoken(least.name, least.to, ends)} runs dry: its pipe's end at {say(LENGTH, height)} is higher than '{line.name}' lifts water while the other branches take it.",
                "Lower that outlet, throttle the other branches, or choose a pump with more head.",
            )
            continue
        starved = least.share < _STARVED * least.wanted_share
        worst = least if starved else max(off, key=lambda o: abs(o.share / o.wanted_share - 1))
        odds = worst.share / worst.wanted_share - 1
        severity = fix if starved else note
        yield severity(
            worst.to,
            f"{spoken(worst.name, worst.to, ends)} gets {say(FLOW, worst.flow)}, {in_percent(abs(odds))} {'more' if odds > 0 else 'less'} than its share of '{line.name}'.",
            "Set the valves as notebook 07 shows, or change the size of that branch.",
        )


@finding("shares off the whole", notebook="07")
def shares_off(system, say):
    """Wanted shares that do not add up to the whole flow."""
    for line in system.pumped.values():
        said = [o.pipe.si.share for o in line.outlets if o.pipe.si.share is not None]
        whole = sum(said)
        if said and (whole > 1 + _SLACK or (len(said) == len(line.outlets) and whole < 1 - _SLACK)):
            yield note(
                line.name,
                f"The shares of {line.name} add up to {in_percent(whole)}; they are read in proportion.",
                "Make them add up to 100 %, or leave one out: it gets the rest.",
            )


@finding("valve nearly shut", notebook="07")
def valve_nearly_shut(system, say):
    """A valve so far shut that it cannot be set, and clogs."""
    for _, pipe, _ in _stretches(system):
        if pipe.valve and 0 < pipe.opening < _NEARLY_SHUT:
            yield fix(
                pipe.name,
                f"The valve of {pipe_in_words(pipe.name)} is {in_percent(pipe.opening)} open; so near shut a hair's turn doubles the flow and solids block it.",
                "Open it, and use a smaller pipe there or a bigger one on the other branches.",
            )


@finding("lift left out", notebook="05")
def lift_left_out(system, say):
    """The head that the pump was chosen for is less than the bare lift."""
    for line in system.pumped.values():
        chosen = line.line.si.chosen_head
        if chosen is not None and chosen < line.lift:
            yield fix(
                line.name,
                f"You chose the pump of {line.name} for {say(HEAD, chosen)} of head; the lift alone, from the water in {line.source.si.name} to the highest outlet, is {say(HEAD, line.lift)}.",
                f"Reckon with {say(HEAD, line.head)}: lift, pipe and fittings together.",
            )


@finding("check valve costly", notebook="05")
def check_valve_costly(system, say):
    """A check valve whose opening head eats much of what the pump gives."""
    for line, pipe, flow in _stretches(system):
        for name, count in pipe.fittings.items():
            row = fittings.fitting(name).si
            if not row.opening_head_typical or not count:
                continue
            loss = valves.check_valve_head.si(flow, pipe.bore, row.k_typical, row.opening_head_typical)
            if line.head > 0 and loss > _COSTLY * line.head:
                yield note(
                    pipe.name,
                    f"The {name} in {pipe.name} costs {say(HEAD, loss)}, {in_percent(loss / line.head)} of the pump's head, since the flow hardly holds it open.",
                    "A swing check costs less; so does no check valve, with the pipe's end (or a hole in it for air) above the tank's usual water.",
                )


@finding("hammer pressure over rating", notebook="08")
def hammer_over_rating(system, say):
    """Stopped at once, the water would strike harder than the pipe is rated."""
    for _, pipe, flow in _stretches(system):
        if not pipe.size:
            continue
        speed = pipes.speed.si(flow, pipe.bore)
        row = pipe_sizes.pipe_size(pipe.size, pipe.standard).si
        if row.pressure_rating is None:
            continue
        rating = pipe_sizes.pressure_rating.si(pipe.size, pipe.standard, temperature=system.warm)
        wave = hammer.wave_speed.si(pipe.bore, row.wall_min, temperature=system.warm)
        blow = hammer.hammer_pressure.si(speed, wave)
        if blow > rating:
            yield fix(
                pipe.name,
                f"If a valve or a check valve stops {pipe.name} at once, the blow is {say(PRESSURE, blow)}; the pipe is rated {say(PRESSURE, rating)} at that temperature.",
                "Slow the water down with a bigger pipe, and close valves slowly.",
            )


@finding("drain pipe under pressure", notebook="08")
def drain_pipe_under_pressure(system, say):
    """Pipe that is made to run without pressure, behind a pump."""
    for line in system.pumped.values():
        for pipe in (p.si for p in line.line.si.pipe if p.si.size):
            row = pipe_sizes.pipe_size(pipe.size, pipe.standard).si
            if row.made_for != "drain":
                continue
            head = float(line.pump.si.head[0])
            pushed = row.joined_by == "push"
            severity = stop if pushed or head > _SEALED else fix
            yield severity(
                pipe.name,
                f"{pipe.name} is {row.standard}, made to run without pressure; with its outlet shut or blocked the pump puts {say(HEAD, head)} on it"
                + (", and pipe that is pushed into ring seals comes apart." if pushed else "."),
                "Use pressure pipe wherever a pump pushes; drain pipe is for what falls.",
            )

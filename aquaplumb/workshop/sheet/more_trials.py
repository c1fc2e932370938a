"""Three drills more of a build sheet: a pipe comes off its pump, a vessel leaks, a valve is left shut.

They are reckoned, not run: what a loose pipe empties goes by heights alone (`aquaplumb.system.loose_pipes`), what a shut
valve does by the line's own flows.
"""

from __future__ import annotations

from aquaplumb.plumbing import lines
from aquaplumb.system.failures import LEAKS
from aquaplumb.system.loose_pipes import loose_pipes, spare_water
from aquaplumb.units import DEPTH, FLOW, SHARE, VOLUME
from aquaplumb.workshop.sheet.records import Block, Grid, NumberedSteps, Words, amount, count, pen, words


def loose(system) -> list[Block]:
    """How far down each pump can bring each fish tank, once its pipe is off."""
    units = system.build.units
    deep = 1 if units == "US" else 0
    rows = [
        (one.line, one.source, float(VOLUME.shown(one.lost, units)), one.minutes, one.tank, _depth(one.usual, units), _depth(one.left, units),
         f"{SHARE.text(one.share)} of its water; {one.why}")
        for one in loose_pipes(system)
    ]  # fmt: skip
    columns = (
        words("pump of"), words("draws from"), amount("throws out of it", VOLUME, units), count("in", "min", 1), words("fish tank"),
        amount("depth in use", DEPTH, units, deep), amount("left", DEPTH, units, deep), words("what decides"), pen(),
    )  # fmt: skip
    return [
        NumberedSteps((
            "Pump unplugged: pull at every joint of the first stretch after it. What comes off in the hand comes off at night; a clamp or a union holds it.",
            "Before there are fish, with a helper at the plug: take the pipe off over a bucket, switch on for five seconds and see how fast it throws. Unplug before you reach in.",
            "Pump off and the pipe off: watch each fish tank for ten minutes. Water that runs back shows where a hole for air, or a check valve, is missing.",
        )),
        Grid("loose pipe", "A pipe comes off its pump: how far down it empties each fish tank", columns, tuple(rows)),
    ]  # fmt: skip


def _depth(si: float, units: str) -> float:
    return round(float(DEPTH.shown(si, units)), 6)


def leak(system) -> list[Block]:
    """How long a leak may go unseen before a pump draws air."""
    units = system.build.units
    rows = []
    for name, line in system.pumped.items():
        spare = spare_water(system, name)
        rows.append((name, line.source.si.name, float(VOLUME.shown(spare, units)), spare / LEAKS / 3600))
    columns = (
        words("pump of"), words("draws from"), amount("water to spare", VOLUME, units),
        count(f"at {FLOW.text(LEAKS, units)} it draws air after", "h", 1), pen("level sinks in a day"),
    )  # fmt: skip
    return [
        NumberedSteps((
            "Mark the level where each pump draws, on tape, at the same time of the day for a week: what it sinks by more than on the other days is a leak.",
            f"Let {FLOW.text(LEAKS, units)} out of each of the {system.beds.words} by a hose, before there are fish, until the pump's vessel is a hand lower: does anything tell you?",
            "A leak empties the vessel that the pump draws from, not the one that leaks. Look above it.",
        )),
        Grid("leak", "A vessel leaks: how long until a pump draws air, without top-up", columns, tuple(rows)),
    ]  # fmt: skip


def left_shut(system) -> list[Block]:
    """What each valve does that somebody left shut."""
    units, rows = system.build.units, []
    for line in system.pumped.values():
        for pipe in (*line.line.si.suction, *line.line.si.pipe):
            if not pipe.si.valve or pipe.si.opening <= 0:
                continue
            shut = lines.flows.si(lines.with_openings(line.tree, {pipe.si.name: 0.0}), line.pump).si
            into = dict(zip(shut.ends, shut.end_flow))
            dry = " and ".join(o.to for o in line.outlets if o.flow > 0 and into[o.name] <= 0)
            more = max((into[o.name] / o.flow - 1 for o in line.outlets if o.flow > 0), default=0.0)
            rows.append(
                (pipe.si.name, dry, *(float(FLOW.shown(flow, units)) for flow in (line.flow, shut.flow)), SHARE.text(max(0.0, more)))
            )
    if not rows:
        return [Words("Your file has no valve to leave shut.")]
    columns = (
        words("shut the valve in"), words("then dry"), amount("the pump brings, of", FLOW, units), amount("only", FLOW, units),
        words("the others get more, up to"), pen(),
    )  # fmt: skip
    return [
        NumberedSteps((
            "One at a time, for ten minutes: shut it, watch the vessel that gets more, and open it to its mark again.",
            "Mark each handle's place with paint or a file stroke. After any work in the system, one person reads the marks aloud.",
        )),
        Grid("left shut", "A valve is left shut", columns, tuple(rows)),
    ]  # fmt: skip

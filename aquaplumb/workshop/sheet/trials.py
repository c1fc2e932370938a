"""What a build sheet says of setting up and of drills: flush, leak test, buckets, and each failure tried on purpose.

The expected levels and minutes are those of the standard failures (`aquaplumb.system.drills`), as the review ran them.
"""

from __future__ import annotations

import numpy as np

from aquaplumb.system.blown import TYPICAL
from aquaplumb.system.drills import FIRST_START, OFF, drills
from aquaplumb.system.failures import NOTHING, OUTLET
from aquaplumb.units import CONCENTRATION, DEPTH, FLOW, HOUR, TEMPERATURE, TIME, DesignError, roughly
from aquaplumb.workshop import cement
from aquaplumb.workshop.sheet import more_trials
from aquaplumb.workshop.sheet.adjusting import bucket
from aquaplumb.workshop.sheet.records import (
    Block,
    Caution,
    Chapter,
    Grid,
    Heading,
    NumberedSteps,
    Points,
    Words,
    amount,
    count,
    pen,
    words,
)

_NEAR = 0.005  # m: a level this near to its last one is at rest; the quick runs are good to a few millimetres
_RUNS = 1e-7  # m³/s: less is a drip
_WARMTHS = (288.7, 277.6, 255.4)  # K, where the table of curing times changes: 60 and 40 °F, and its end at 0 °F
_WHOLE = 1e-6  # m³


def setup(system, cuts, *, sound: bool = True) -> Chapter:
    """How to set the system up, and every drill with what to expect; a build that is not sound is told to wait."""
    blocks: list[Block] = (
        []
        if sound
        else [
            Caution(
                "Not yet: this build has findings to stop for or to fix. Mend them first. What stands below is what would happen as it is."
            )
        ]
    )
    blocks += [
        Words("In this order, with tap water that is thrown away, before any fish or plants. Write beside each number what you found."),
        Caution(
            "Unplug every pump and heater before you put a hand into the water. Stand by through every drill: never leave a system alone that has not passed them all."
        ),
        *_flush(system),
        *_leak_test(system, cuts),
        Heading("Step 3: start, and the bucket"),
        *_start(system),
        *bucket(system),
        Heading("Step 4: power-cut drill"),
        *_power_cut(system),
        Heading("Step 5: blocked-drain drill"),
        *_blocked(system),
    ]
    number = 6
    every = (
        ("siphon drill", _siphons(system)),
        ("air and backup drill", _air(system)),
        ("loose-pipe drill", more_trials.loose(system)),
        ("leak drill", more_trials.leak(system)),
        ("shut-valve drill", more_trials.left_shut(system)),
    )
    for title, more in every:
        if more:
            blocks += [Heading(f"Step {number}: {title}"), *more]
            number += 1
    return Chapter("drills", "Set-up and test drills", tuple(blocks))


def _flush(system):
    media = system.living.media > 0
    yield Heading("Step 1: flush")
    lines = ["Only when every joint has cured (below). Blow or brush out saw dust; rinse pipes, tanks and screens."]
    lines += (
        [
            f"Rinse the media until the water runs clear, outside of the system: dust clogs {'pump and siphons' if any(f.siphon for f in system.falling.values()) else 'the pump'}."
        ]
        if media
        else []
    )
    lines += [
        "Fill with tap water, run every pump for an hour, and throw all of it away where no fish, pond or plant meets it: it holds what cement, primer and factory left.",
        "Clean the strainers. Fill again.",
    ]
    yield NumberedSteps(tuple(lines))


# --- joints ----------------------------------------------------------------------------------------------


def _leak_test(system, cuts):
    units = system.build.units
    rows, missing = [], []
    for size in dict.fromkeys(one.si.cement for one in cuts if one.si.cement):
        try:
            rows.append((size, cement.set_time.si(size) / 60, *(float(cement.cure_time.si(size, kelvin)) / 3600 for kelvin in _WARMTHS)))
        except DesignError:
            missing.append(size)
    warm, cool, least = (f"{TEMPERATURE.shown(kelvin, units):.0f} {TEMPERATURE.unit(units)}" for kelvin in _WARMTHS)
    columns = (
        words("pipe"),
        count("do not move for", "min"),
        count(f"no water for, from {warm}", "h"),
        count(f"from {cool} to {warm}", "h"),
        count(f"from {least} to {cool}", "h"),
        pen("cemented on"),
    )
    yield Heading("Step 2: leak test")
    yield Words(
        "The largest pipe and the coldest hour of the wait decide. For cemented joints in damp air; makers differ by far, and the longest time in print stands here. A longer time on your tin wins."
    )
    if rows:
        yield Grid("cure", "How long a cemented joint waits", columns, tuple(rows))
    if missing:
        yield Words(f"No curing time is known for {', '.join(missing)}: go by the tin.")
    yield NumberedSteps((
        "Lay dry paper or cardboard under every joint. Pumps off: fill each vessel until water stands just under its lowest way out, and mark the level on tape. Wait 24 hours. Open water loses some millimetres a day to the air by itself.",
        "Pumps on for an hour, valves as on this sheet: feel and look at every joint. Shut one valve at a time for a minute, never all at once: the pressure on the rest rises.",
        "A joint that weeps is cut out and made anew: cement over the outside holds nothing.",
    ))  # fmt: skip


def _start(system):
    lines = ["Fill to the working levels, prime what has to be primed, then switch on one pump after the other."]
    first = drills(system.build).of(FIRST_START)[0].run
    dry = {name: first.longest_dry(name)[0] for name in first.pumps}
    usual = drills(system.build).of(NOTHING)[0].run
    if any(time > 60 and time > 1.5 * usual.longest_dry(name)[0] for name, time in dry.items()):
        lines.append(
            f"Fill the {system.beds.words} with a hose until they run over before you switch on: started dry, they take more water than the pump's vessel has, and the pump draws air."
        )
    lines.append(
        "Wait until the levels have come to rest. Then the bucket, branch by branch, while another person watches the vessel that the pump draws from."
    )
    yield NumberedSteps(tuple(lines))


# --- the power fails -------------------------------------------------------------------------------------


def _power_cut(system):
    build, units = system.build, system.build.units
    found = drills(build).cuts()
    decimals = 1 if units == "US" else 0

    def shown(depth):
        return round(float(DEPTH.shown(depth, units)), 6)

    rows, again = [], []
    for i, name in enumerate(found[0].run.vessels):
        before, still, highest, rest, over = [], [], [], [], 0.0
        for drill in found:
            time, depth = drill.run.time, drill.run.depth[:, i]
            off = (time >= drill.at) & (time <= drill.at + OFF)
            before.append(float(np.interp(drill.at, time, depth)))
            last = float(np.interp(drill.at + OFF - 1.0, time, depth))
            away = np.flatnonzero(off & (np.abs(depth - last) > _NEAR) & (time < drill.at + OFF - 1.0))
            rest.append((float(time[away[-1]]) - drill.at) / 60 if len(away) else 0.0)
            still.append(last)
            highest.append(float(depth[off].max()))
            over = max(over, float(drill.run.spilled[off, i][-1] - drill.run.spilled[off, i][0]))
        rim = build.vessels[name].si.height
        left = "OVER THE RIM" if over > _WHOLE else shown(rim - max(highest))
        rows.append((name, *_span(before, shown, decimals), *_span(still, shown, decimals), shown(max(highest)), left, max(rest)))
    for line in found[0].run.pumps:
        source = build.pumped[line].si.source
        i = found[0].run.vessels.index(source)
        least, dry = [], []
        for drill in found:
            after = drill.run.time >= drill.at + OFF
            least.append(float(drill.run.depth[after, i].min()))
            dry.append(drill.run.longest_dry(line, after=drill.at + OFF)[0] / 60)
        inlet = build.pumped[line].si.inlet_depth
        again.append((line, source, shown(min(least)), None if inlet is None else shown(inlet), max(dry)))

    def deep(name):
        return amount(name, DEPTH, units, decimals)

    columns = (
        words("vessel"),
        deep("depth running, from"),
        deep("to"),
        deep("when still, from"),
        deep("still, to"),
        deep("highest"),
        deep("left to the rim"),
        count("at rest after", "min", 0),
        pen(),
    )
    yield NumberedSteps((
        "Mark every level on tape while all runs. Put towels down and have a second person watch the lowest vessel.",
        "Switch everything off at one socket. Note the time, and each level when nothing moves any more.",
        "After that, switch on again and watch the vessel that the pump draws from until the levels are as they were.",
    ))  # fmt: skip
    yield Grid("power cut", "The power is off for 8 hours: depths to expect above each inside floor", columns, tuple(rows))
    yield Grid(
        "power back",
        "The power is back: how low the pump's vessel falls",
        (words("line"), words("vessel"), deep("lowest depth"), deep("pump needs"), count("draws air for", "min", 0), pen()),
        tuple(again),
    )
    many = len(found)
    if many > 1:
        yield Words(
            f"From and to: it depends on the moment. {many} moments of the beds' round were tried. Do the drill once just after a bed is full and once just after it has emptied."
        )
    yield Words(
        "A level that goes well above its “highest”: find out where the water came from before you go on. A check valve may not hold, a pipe may end lower than the file says, or a vent may be blocked."
    )


def _span(values: list, shown, decimals: int):
    low, high = shown(min(values)), shown(max(values))
    return low, high if round(high, decimals) != round(low, decimals) else None


# --- an outlet is blocked -----------------------------------------------------------------------------------


def _blocked(system):
    build, units = system.build, system.build.units
    decimals = 1 if units == "US" else 0
    rows = []
    for drill in drills(build).of(OUTLET):
        name = system.falling[drill.where].root.si.name
        run = drill.run
        i = run.vessels.index(name)
        depth, time = run.depth[:, i], run.time
        earlier, later = (time >= drill.at - HOUR) & (time <= drill.at), time >= drill.at
        top = float(depth[later].max())
        minutes = (float(time[later][np.flatnonzero(depth[later] >= top - _NEAR)[0]]) - drill.at) / 60
        at_end = time >= time[-1] - HOUR
        ways = [
            f
            for f, line in build.falling.items()
            if line.si.source == name and f != drill.where and run.flow[at_end, run.flows.index(f)].max() > _RUNS
        ]
        spilled = [
            v for j, v in enumerate(run.vessels) if run.spilled[-1, j] - float(np.interp(drill.at, time, run.spilled[:, j])) > _WHOLE
        ]
        says = " and ".join(ways) if ways else "nothing" if not spilled else ""
        says = f"OVER THE RIM of {' and '.join(spilled)}" if spilled else says
        shown = [round(float(DEPTH.shown(d, units)), 6) for d in (float(depth[earlier].max()), top, build.vessels[name].si.height)]
        rows.append((drill.where, name, *shown, minutes, says))
    if not rows:
        yield Words("Your file has no outlet to block.")
        return
    columns = (
        words("block"),
        words("vessel"),
        *(amount(n, DEPTH, units, decimals) for n in ("depth, usual", "rises to", "rim at")),
        count("within", "min", 0),
        words("then leaves by"),
        pen(),
    )
    yield NumberedSteps((
        "Pumps running. Block one outlet at a time with a plug or a wet cloth on a string. Keep the string in your hand.",
        "Watch the level. The emergency overflow has to run before the level is at the rim, and hold it there.",
        "Pull the plug once the level stands still, or at once if it nears the rim or water shows anywhere else. Let the levels settle before the next.",
    ))  # fmt: skip
    yield Grid("blocked", "One outlet blocked: where the water goes", columns, tuple(rows))


# --- siphons ---------------------------------------------------------------------------------------------


def _siphons(system) -> list:
    build, units = system.build, system.build.units
    run = drills(build).of(NOTHING)[0].run
    decimals = 1 if units == "US" else 0
    rows = []
    for name in run.siphons:
        fall = system.falling[name]
        if not fall.siphon:
            continue
        i, v = run.siphons.index(name), run.vessels.index(fall.source.si.name)
        runs, time = run.running[:, i].astype(int), run.time
        on, off = time[1:][np.diff(runs) > 0], time[1:][np.diff(runs) < 0]
        round_ = float(np.median(np.diff(on))) / 60 if len(on) > 1 else None
        drains = [float(off[off > start][0] - start) for start in on if (off > start).any()]
        drain = float(np.median(drains)) / 60 if drains else None
        late = time > HOUR
        depths = [round(float(DEPTH.shown(d, units)), 6) for d in (run.depth[late, v].max(), run.depth[late, v].min())]
        flows = [float(FLOW.shown(q, units)) for q in (fall.load, fall.siphon.si.starting.si.sure)]
        floods = round_ - drain if round_ is not None and drain is not None else None
        never = "does not start" if not len(on) else "does not stop"
        rows.append((name, fall.source.si.name, *flows, *depths, never if floods is None else floods, never if drain is None else drain))
    if not rows:
        return []
    columns = (
        words("siphon"), words("vessel"), amount("gets", FLOW, units), amount("sure to start from", FLOW, units), amount("starts at a depth of", DEPTH, units, decimals),
        amount("stops at", DEPTH, units, decimals), count("floods for", "min", 1), count("drains for", "min", 1), pen(),
    )  # fmt: skip
    return [
        NumberedSteps((
            "Valves set, pumps running: time three rounds of each, from start to start.",
            "It has to start by itself every time, and to stop by itself with a gulp of air every time. Ten rounds in a row, then once more with the flow a fifth less and a fifth more.",
            "It dribbles and never starts: more water to that bed, or a narrower standpipe. It never stops: less water, a bigger air inlet, or a free lower end.",
            "Block its air inlet for one round: see what then happens, and that the level in the vessel below stays under its rim.",
        )),
        Grid("siphons", "What each siphon should do", columns, tuple(rows)),
    ]  # fmt: skip


# --- air -------------------------------------------------------------------------------------------------


def _air(system) -> list:
    build, units = system.build, system.build.units
    p = system.air
    rows = []
    for of, what, failure in ((plan, what, failure) for plan in system.airs.values() for what, failure in plan.failures.items()):
        rows.append(
            (
                what if len(system.tanks) == 1 else f"{of.tank.name}: {what}",
                _minutes(failure.bare[TYPICAL]),
                _minutes(failure.lasts[TYPICAL]),
                None if p.response is None else float(p.response / 60),
            )
        )
    columns = (
        words("what fails"),
        count("to danger, no spare", "min", 0),
        count("to danger, with the spare", "min", 0),
        count("until somebody comes", "min", 0),
        pen(),
    )
    stop_at = CONCENTRATION.text(max(build.water.si.outlet_oxygen, p.minimum), units)
    lines = [
        "First without fish. By day, two people, an oxygen meter or test kit in the tank: pull the plug of everything that hangs on the mains.",
        _spare(p),
        "Once the fish are in: again by day, with few fish and before they are fed. Read the oxygen each 10 minutes and fish by their breath. "
        f"Plug in again at {stop_at} or at the first gasp, whatever the table says.",
        ("Let the spare run until its battery is flat, once: write down the hours. " if p.spare.name and p.spare_runs else "")
        + "Try the alarm, also by night and from where you sleep. Repeat each month.",
    ]
    told = (
        []
        if p.told
        else ["Your file says nothing of air: no air pump, no spare. The times are those of still water with your heaviest stock."]
    )
    danger = " and ".join(
        dict.fromkeys(f"{CONCENTRATION.text(one.critical, units)} of oxygen for {one.in_danger}" for one in system.airs.values())
    )
    told.append(f"Danger is {danger}, warmest water, after a meal, on the heaviest day. Where no time stands it holds by itself.")
    return [NumberedSteps(tuple(lines)), Grid("air", "How long the fish have", columns, tuple(rows)), Points(tuple(told))]


def _spare(p) -> str:
    if not p.spare.name:
        return "Your file has no spare air. Have one before the fish: one that does not hang on the mains, and starts by itself."
    wait = f"within {TIME.text(p.section.backup_delay)}" if p.section.backup_delay > 0 else "at once"
    hangs = "" if p.spare_runs else " It hangs on the mains: it stops with them, and is no spare in a power cut."
    lasts = (
        f" Its battery has to last {roughly(p.battery.lasts)}{'' if p.battery.told else ', if it has 7 Ah: your file does not say'}."
        if p.spare_runs
        else ""
    )
    return f"The spare ({p.spare.name}) has to blow {wait}, from all {p.spare.stones:g} stones.{hangs}{lasts}"


def _minutes(seconds: float):
    return float(seconds) / 60 if np.isfinite(seconds) else "holds"

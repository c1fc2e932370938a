"""What a build sheet says of settings: how far each valve stands open, every height to mark, and the bucket of each branch."""

from __future__ import annotations

import numpy as np

from aquaplumb.build.measured import BUCKETS
from aquaplumb.plumbing import fittings, lines, siphons
from aquaplumb.tables import BANDS
from aquaplumb.units import DEPTH, FLOW, TIME, VOLUME, DesignError, si_value
from aquaplumb.workshop.as_built_words import water_levels
from aquaplumb.workshop.sheet.records import Chapter, Grid, Points, Words, amount, count, pen, words

_QUICK = 5.0  # s: nobody times a bucket better than to half a second; common practice, no source


def settings(system) -> dict:
    """The valve settings of each pumped line that bring every end its share, or the sentence that says why there are none.

    A line with one end has nothing to share out: its valve stays as the build has it."""
    found = {}
    for name, state in system.pumped.items():
        try:
            settings = lines.valve_settings.si(state.tree, state.pump)
            if len(state.outlets) == 1 and (at := settings.si.valves[0]):
                flow = state.outlets[0].flow
                opening = next(pipe.si.opening for pipe in (*state.line.si.suction, *state.line.si.pipe) if pipe.si.name == at)
                settings = settings.with_si(flow=flow, end_flow=np.array([flow]), opening=np.array([opening]))
            found[name] = settings.si
        except DesignError as wrong:
            found[name] = str(wrong)
    return found


def valves(system) -> Chapter:
    """How far each valve stands open: as the file has it, and as the shares wanted ask for."""
    rows, said = [], []
    for name, found in settings(system).items():
        state = system.pumped[name]
        pipes = {pipe.si.name: pipe.si for pipe in (*state.line.si.suction, *state.line.si.pipe)}
        told = set()
        if isinstance(found, str):
            said.append(found)
        else:
            for end, at, opening in zip(found.ends, found.valves, found.opening):
                if at:
                    told.add(at)
                    rows.append(
                        (
                            name,
                            end,
                            at,
                            _kind(pipes[at]),
                            100 * pipes[at].opening,
                            100 * float(opening),
                            _handle(_kind(pipes[at]), float(opening)),
                        )
                    )
            said += _of_settings(name, found)
        for pipe in pipes.values():
            if pipe.valve and pipe.name not in told:
                rows.append(
                    (
                        name,
                        "all that follow" if not pipe.to else pipe.name,
                        pipe.name,
                        _kind(pipe),
                        100 * pipe.opening,
                        100 * pipe.opening,
                        _handle(_kind(pipe), pipe.opening),
                    )
                )
    columns = (
        words("line"),
        words("branch"),
        words("valve in"),
        words("kind"),
        count("open in your file", "%", 0),
        count("open to begin with", "%", 0),
        words("handle"),
        pen("set on"),
    )
    if not rows:
        return Chapter("valves", "Valve settings", (Words("Your file names no valve."), *([Points(tuple(said))] if said else [])))
    intro = (
        "Begin with these settings, all pumps running and every level at rest. Then trust the bucket below and not the angle: valves of one kind differ. "
        "Turn one valve a little, wait for the levels, and time every branch again, since each moves the others. Mark the handle when it is right."
    )
    return Chapter(
        "valves",
        "Valve settings",
        (Words(intro), Grid("valves", "How far each valve stands open", columns, tuple(rows)), *([Points(tuple(said))] if said else [])),
    )


def _of_settings(name: str, found) -> list[str]:
    said = [f"{name}: the valve of {found.neediest} stays wide open, since that way needs the most head."] if len(found.ends) > 1 else []
    said += [
        f"{end} would have to be nearly shut: a degree of its handle moves much water, and grit lodges. Narrower pipe there, or wider pipe to the others, is better."
        for end in found.nearly_shut
    ]
    return said + [f"{end} has no valve of its own and gets more than its share." for end in found.no_valve]


def _kind(pipe) -> str:
    return fittings.fitting(pipe.valve).si.name


def _handle(kind: str, opening: float) -> str:
    """How far to turn, from shut, in words."""
    if opening >= 0.995:
        return "wide open"
    if opening <= 0.0:
        return "shut"
    return f"{fittings.valve_handle(kind, opening)} from shut"


# --- the bucket ------------------------------------------------------------------------------------------


def bucket(system) -> tuple:
    """The blocks of the bucket test: how many seconds each branch takes."""
    units = system.build.units
    volume = si_value(BUCKETS[units], VOLUME, "bucket")
    size, rows, quick = VOLUME.text(volume, units), [], []
    for name, found in settings(system).items():
        state = system.pumped[name]
        wanted = {} if isinstance(found, str) else dict(zip(found.ends, found.end_flow))
        bands = [lines.flows.si(state.tree, state.pump, band=band).si for band in BANDS]
        flows = np.array([[one.end_flow[one.ends.index(o.name)] for one in bands] for o in state.outlets], float)
        for outlet, three in zip(state.outlets, flows):
            flow, aim = float(three[1]), float(wanted.get(outlet.name, 0.0))
            seconds = [_seconds(volume, q) for q in (flow, three.max(), three.min(), aim)]
            rows.append((name, outlet.name, outlet.to, FLOW.shown(flow, units), *seconds))
            if isinstance(seconds[0], float) and seconds[0] < _QUICK:
                quick.append(f"{outlet.name} ({name})")
    columns = (
        words("line"), words("branch"), words("into"), amount("flow expected", FLOW, units), count("fills it in", "s", 1), count("at least", "s", 1),
        count("at most", "s", 1), count("aim, valves set", "s", 1), pen("yours [s]"),
    )  # fmt: skip
    big = "100 L tub" if units != "US" else "20 gal barrel"
    said = [
        f"A bucket of {size}: weigh it full to be sure ({'10 kg' if units != 'US' else '16.7 lb'} of water). Hold it at the height of the open end; time it three times and take the middle.",
        "“At least” and “at most” are what print leaves open for the fittings; a tenth beyond is the pump's own and your watch's. Further off something is wrong: the pump, a blockage, a valve, a height, or the file.",
        "A branch that ends under water or in several jets: catch all of it. Where no bucket fits, shut its vessel's way out and time how fast the level rises.",
    ]
    if quick:
        said.append(f"Too quick for a bucket: {', '.join(quick)}. Use a {big} that stands safely, ten times as long.")
    return (
        Words(f"Bucket and stopwatch: seconds to fill {size}, with all pumps of the line running and every branch open."),
        Grid("bucket", f"Each branch into a bucket of {size}", columns, tuple(rows)),
        Points(tuple(said)),
    )


def _seconds(volume: float, flow: float):
    return float(volume / flow) if flow > 1e-9 else "no water"


# --- heights ---------------------------------------------------------------------------------------------


def heights(system) -> Chapter:
    """Every height to mark: rims and levels, lips, vents and open ends, floats and low-level switches."""
    build, units = system.build, system.build.units
    decimals = 2 if units == "US" else 0

    def high(name):
        return amount(name, DEPTH, units, decimals)

    def shown(value):
        return None if value is None else round(float(DEPTH.shown(value, units)), 6) + 0.0

    try:
        runs = water_levels(build)
    except DesignError:  # nothing that ends could be run
        runs = {}
    vessels = tuple(
        (
            v.si.name, shown(v.si.floor), shown(v.level), shown(v.rim), shown(v.si.working_depth),
            shown(runs[v.si.name].high - v.si.floor) if v.si.name in runs else None, shown(v.si.height),
        )
        for v in build.vessels.values()
    )  # fmt: skip
    first = Grid(
        "vessels",
        "Vessels",
        (
            words("vessel"),
            high("inside floor"),
            high("fill to"),
            high("rim"),
            high("depth when filled"),
            high("depth when it runs"),
            high("depth to the rim"),
            pen("yours"),
        ),
        vessels,
    )

    rows = []

    def row(vessel: str, what: str, whose: str, height):
        if height is not None and vessel in build.vessels:  # what begins or ends at a tee has its heights on the drawing
            floor = build.vessels[vessel].si.floor
            rows.append((vessel, what, whose, shown(height), shown(height - floor)))

    for name, line in build.falling.items():
        f = line.si
        row(f.source, "lip: water goes in" + (" (emergency)" if f.emergency else ""), name, f.lip)
        row(
            f.source,
            f"siphon's air inlet, {siphons.drill(f.bore, units)} or wider: it stops here",
            name,
            f.siphon.si.vent if f.siphon else None,
        )
        row(f.source, "intake, lower than the lip", name, f.intake)
        row(f.to, "lower end", name, f.outlet)
    for name, line in build.pumped.items():
        p, floor = line.si, build.vessels[line.si.source].si.floor
        c = p.control.si
        for what, depth in (("float: pump on", c.on_depth), ("float: pump off", c.off_depth), ("low-level switch: pump stops", c.cut_out_depth),
                            ("low-level switch: may start again", _cut_in(c)), ("least water over its floor for the pump", p.inlet_depth)):  # fmt: skip
            row(p.source, what, name, None if depth is None else floor + depth)
        row(p.source, "inlet of the dry-standing pump", name, p.pump_height)
        for pipe in p.pipe:
            if pipe.si.to:
                row(
                    pipe.si.to,
                    "open end of the pipe",
                    pipe.si.name,
                    build.vessels[pipe.si.to].rim if pipe.si.outlet is None else pipe.si.outlet,
                )
                row(pipe.si.to, f"hole that lets air in, {siphons.drill(pipe.si.bore, units)}", pipe.si.name, pipe.si.break_hole)
    order = list(build.vessels)
    rows.sort(key=lambda r: (order.index(r[0]), -r[3]))
    columns = (words("vessel"), words("what"), words("of"), high("height"), high("above its inside floor"), pen("yours"))
    second = Grid("heights", "Lips, vents, ends, floats and switches", columns, tuple(rows), grouped=True)
    intro = "Heights count from the zero mark of your build file; below it they are negative. Mark each on the vessel itself, from its inside floor, with a level and tape."
    return Chapter("heights", "Float, low-level and vent heights", (Words(intro), first, second, Points(tuple(_controls(build)))))


def _cut_in(control):
    if control.cut_out_depth is None:
        return None
    return control.cut_in_depth if control.cut_in_depth is not None else control.cut_out_depth + 0.05


def _controls(build):
    for name, line in build.pumped.items():
        c = line.si.control.si
        if c.kind == "timer":
            yield f"{name}: timer, {TIME.text(c.on)} on and {TIME.text(c.off)} off."
        elif c.kind == "float":
            yield f"{name}: float switch in {line.si.source}; try it by hand before you trust it."
        else:
            yield f"{name}: runs all the time."
        if c.cut_out_depth is None:
            yield f"{name}: your file has no low-level switch. Without one the pump runs dry when {line.si.source} runs low."

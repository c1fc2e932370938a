"""What a review tells to do, done: each cure is read for what it names, and typed into the build as it stands.

`mended(build)` does one cure after the other, the worst first, until nothing is left to stop for or to fix, and gives the way there.
Where a cure says what has to be, and leaves it to the builder with what (a pump, a pipe, where an overflow ends), the least that does
it is taken out of the tables, or the vessel that the build's pumps draw from.
"""

import re
from dataclasses import dataclass, replace

from aquaplumb.air import air_delivered
from aquaplumb.air.air_pumps import air_pump
from aquaplumb.air.stones import air_stone
from aquaplumb.build import Build, file_text
from aquaplumb.plumbing import pump_curve
from aquaplumb.plumbing.pumps import pump
from aquaplumb.review import review
from aquaplumb.tables import names
from aquaplumb.units import AREA, FLOW, HEAD, LENGTH, STOCKING, quantity, si_value

NUMBER = r"-?[\d,.]+"
LONG = r"(?:-?\d+ ft [\d/ ]+ in|-?\d+(?: \d+/|/)\d+ in|-?[\d,.]+ [a-z]+)"  # a length, in US units as on a tape
MOST = 60  # cures


@dataclass(frozen=True)
class Step:
    """Cures that were done together: what they said, and the build that came of it."""

    names: frozenset[str]
    where: tuple[str, ...]
    cures: tuple[str, ...]
    build: Build


def read(cure: str, pattern: str) -> tuple[str, ...]:
    """What a cure names; a cure that names nothing of the kind cannot be done as it stands."""
    found = re.search(pattern, cure)
    assert found, f"{cure!r} does not say {pattern!r}"
    return found.groups()


def bare(text: str, kind) -> float:
    return si_value(quantity(text.replace(",", ""), kind), kind, "it")


def source(build: Build):
    """The vessel that a build's first pump draws from."""
    return build.vessels[next(iter(build.pumped.values())).si.source].si


def mended(build: Build, *, at_once: bool = False) -> list[Step]:
    """Cure after cure until a build is sound; each has to do away with what it was for, or to leave less of it.

    `at_once` does those of all findings of a review together, where a review takes long: but for those that others bring along.
    """
    steps: list[Step] = []
    told = review(build)
    while not told.sound:
        mend = worst(told, at_once)
        assert len(steps) < MOST, [(s.names, s.where) for s in steps]
        changes: dict = {}
        for finding in mend:
            changes |= CURES[finding.name](build, told, finding)
        build = build.changed(changes)
        told = review(build)
        steps.append(Step(frozenset(f.name for f in mend), tuple(f.where for f in mend), tuple(f.cure for f in mend), build))
        left = {(f.name, f.where): f.sentence for f in told.findings if f.severity != "note"}
        for finding in mend:
            assert left.get((finding.name, finding.where)) != finding.sentence, f"{finding} is as it was after {changes}"
    return steps


def worst(told, at_once: bool = False):
    """The findings of the name that comes first: stops before fixes, and last what other cures bring along."""
    mend = [f for f in told.findings if f.severity != "note"]
    first = min(mend, key=lambda f: (f.severity != "stop", f.name in LAST))
    if at_once:
        return [f for f in mend if f.name not in LAST] or mend
    return [f for f in mend if (f.name, f.severity) == (first.name, first.severity)]


# --- each cure ---------------------------------------------------------------------------------


def more_by_stones(build, told, f):
    """The stones' share as named; where the file has no [air] yet, a first pump with two stones, which other findings then judge."""
    share = read(f.cure, r'aerated_share = "(\d+ %)" in \[water\], and their pump in \[air\]')[0]
    first = {} if build.air else air(build, pump="demo mains 12 W air pump", stones=2)
    return {("water", "aerated_share"): share, **first}


def second_overflow(build, told, f):
    at = re.search(rf"its lip at ({LONG}) or higher", f.cure)
    higher = None if at else bare(read(f.cure, rf"its lip ({LONG}) higher or more")[0], LENGTH)
    system, to = told.system, source(build)
    alone = [f.where]
    if "each" in f.cure:
        alone = [v.si.name for v in build.growing if sum(fall.line.si.source == v.si.name for fall in system.falling.values()) == 1]
    changes = {}
    for name in alone:
        first = next((fall for fall in system.falling.values() if fall.line.si.source == name and fall.line.si.kind != "joint"), None)
        lip = bare(at.group(1), HEAD) if at else first.line.si.lip + higher
        bore = max(60e-3, first.line.si.bore if first else 0.0)
        vessel = build.vessels[to.name]
        changes["lines", f"{name} emergency overflow"] = {
            "kind": "overflow", "from": name, "to": to.name, "lip": f"{lip:.4f} m", "outlet": f"{min(lip - 0.02, vessel.rim + 0.02):.4f} m",
            "bore": f"{1e3 * bore:.1f} mm", "length": "2 m", "emergency": True,
        }  # fmt: skip
    return changes


def screen(build, told, f):
    return {
        ("lines", build.line_of(f.where), "screen_open_area"): " ".join(read(f.cure, rf"with ({NUMBER}) (cm²|in²) of holes")).replace(
            "²", "2"
        )
    }


def stronger_pump(build, told, f):
    flow, head = read(f.cure, rf"that brings ({NUMBER} [\w/]+) at ({NUMBER} \w+), which")
    line = build.pumped[f.where].si
    now = told.system.pumped[f.where].pump.si
    rows = [pump(name).si for name in names("pumps")]
    rows = [row for row in rows if (row.supply, row.placement) == (now.supply, now.placement)]
    for row in sorted(rows, key=lambda row: row.power[-1]):
        if row.flow[-1] >= bare(flow, FLOW) and pump_curve.head.si(row.name, bare(flow, FLOW)) >= bare(head, HEAD):
            return {("lines", line.name, "pump"): row.name, ("lines", line.name, "pump_file"): None}
    raise AssertionError(f"no pump of the table brings {flow} at {head}")


def control_of(build: Build, line: str) -> dict:
    """What the file says of a pump's control."""
    return file_text.values(build.text, build.name)["lines"][line].get("control", {"kind": "always"})


def low_level_switch(build, told, f):
    line, depth = read(f.cure, rf'control of (.+) stops it in time: cut_out_depth = "({LONG})"')
    control = control_of(build, line)
    return {("lines", line, "control"): {**control, "cut_out_depth": depth}}


def more_room(build, told, f):
    higher = read(f.cure, rf"walls ({LONG}) higher")[0]
    return {("vessels", f.where, "height"): f"{build.vessels[f.where].si.height + bare(higher, LENGTH):.4f} m"}


def air(build, **keys):
    return {("air", key): value for key, value in keys.items()}


def first_air(build, told, f):
    """A section [air] as the cure has it: so many stones, so deep, on such a pump."""
    count, stone, depth, name = read(f.cure, rf"\((\d+) of (.+), ({LONG}) deep, with .* from an air pump such as (.+)\) and spare")
    return air(build, pump=name, stone=stone, stones=int(count), depth=depth)


def more_air(build, told, f):
    count = int(read(f.cure, r"\((\d+) like yours with")[0])
    if named := re.search(r"from an air pump such as (.+)\), more water", f.cure):
        return air(build, pump=named.group(1), stones=count)
    return blown_through(build, count)


def in_time(build, told, f):
    """How soon somebody comes, and what then holds the fish until that."""
    if "Nobody has said" in f.sentence:
        read(f.cure, r"(Say it as response_time in \[air\])")
        return air(build, response_time="30 min")
    if "says nothing of air" in f.sentence:
        return first_air(build, told, f)
    changes = {}
    if larger := re.search(r"Take larger stones, such as (.+) \(stone in \[air\]\)", f.cure):
        changes |= air(build, stone=larger.group(1))
    if deeper := re.search(rf"hung near the bottom at ({LONG})", f.cure):
        changes |= air(build, depth=deeper.group(1))
    if spare := re.search(r"spare on a battery, such as (.+) with ([\d,]+ Ah) of (.+?): .* of air through (\d+) such stones", f.cure):
        name, charge, battery, stones = spare.groups()
        inverter = {}
        if named := re.search(rf'and an inverter of {NUMBER} W or more \(backup_inverter = true, backup_voltage = "([^"]+)"\)', f.cure):
            inverter, battery = {"backup_inverter": True, "backup_voltage": named.group(1)}, battery.partition(" and an inverter")[0]
        return changes | air(build, backup_pump=name, backup_capacity=charge, backup_battery=battery, backup_stones=int(stones), **inverter)
    if more := re.search(r"Hang in (?:more )?stones on an air pump such as (.+?)(?: that has .*)?: .* of air through (\d+)", f.cure):
        return changes | air(build, pump=more.group(1), stones=int(more.group(2)))
    if fewer := re.search(rf"Keep ({NUMBER} [^ ]+) or fewer", f.cure):
        return fewer_fish(build, f.where, bare(fewer.group(1), STOCKING))
    read(f.cure, r"(let an alarm bring somebody in half the time that is left)")
    left, unit = re.findall(rf"({NUMBER}) (min|h)\b", f.sentence.split("; somebody")[0])[-1]
    return air(build, response_time=f"{float(left) / 2:g} {unit}")


def fewer_fish(build, tank: str, density: float):
    """All stocks of a tank so much fewer that they come to a density [kg/m³]."""
    if not build.several:
        return {("fish", "density"): f"{density:.4g} kg/m3"}
    now = review(build).system.tanks[tank].density
    return {("stocks", name, "count"): int(one.si.count * density / now) for name, one in build.stocks.items() if one.si.tank == tank}


def dense(build, told, f):
    if f.severity == "stop":
        return fewer_fish(build, f.where, bare(read(f.cure, rf"plan for ({NUMBER} [^ ]+) or less")[0], STOCKING))
    return fewer_fish(build, f.where, bare(re.findall(rf"({NUMBER} [^ ]+)\.", f.sentence)[-1], STOCKING))


def more_media(build, told, f):
    volume = read(f.cure, rf"\(({NUMBER} \w+) of carriers")[0].replace(",", "")
    vessel = next(v.si for v in build.vessels.values() if v.si.kind == "filter" and not v.si.medium and "settling" not in v.si.does)
    return {
        ("vessels", vessel.name, "does"): [*vessel.does, "media"], ("vessels", vessel.name, "medium"): "moving-bed carrier 10 mm",
        ("vessels", vessel.name, "media_volume"): volume,
    }  # fmt: skip


def wider(build, told, f):
    across = read(f.cure, rf"\(round, ({LONG}) across\)")[0]
    area = read(f.cure, rf"plan area of ({NUMBER} [^ ]+) ")[0]
    vessel = build.vessels[f.where].si
    if vessel.shape == "rectangular":
        return {("vessels", f.where, "width"): f"{bare(area, AREA) / vessel.length / vessel.count:.4f} m"}
    return {("vessels", f.where, "diameter"): across}


def narrower(build, told, f):
    area = bare(read(f.cure, rf"narrower \(({NUMBER} [^ ]+) or less")[0], AREA)
    vessel = build.vessels[f.where].si
    times = vessel.length * vessel.width * vessel.count / area
    return {
        ("vessels", f.where, "width"): f"{vessel.width / times:.4f} m",
        ("vessels", f.where, "height"): f"{vessel.height * times:.4f} m",
        ("vessels", f.where, "media_depth"): f"{vessel.media_depth * times:.4f} m",
    }


def longer_timer(build, told, f):
    minutes = int(read(f.cure, r"Run it for (\d+) minutes of each hour")[0])
    line = build.pumped[f.where].si.name
    control = control_of(build, line)
    return {("lines", line, "control"): {**control, "on": f"{minutes} min", "off": f"{60 - minutes} min"}}


def higher_inlet(build, told, f):
    height = bare(read(f.cure, rf"below ({LONG}): raise that lip, intake or pump inlet")[0], HEAD)
    tank = build.vessels[f.where].si
    return {
        ("lines", line.si.name, "inlet_depth"): f"{height - tank.floor:.4f} m"
        for line in build.pumped.values()
        if line.si.source == tank.name
    }


def more_fall(build, told, f):
    fall = bare(read(f.cure, rf"Let it fall ({LONG}) from end to end")[0], LENGTH)
    line = build.line_of(f.where)
    leg = build.falling[f.where].si
    if line == f.where:
        return {("lines", line, "outlet"): f"{leg.lip - fall:.4f} m"}
    return {("lines", line, "pipe", f.where.split(" › ")[1], "outlet"): f"{leg.lip - fall:.4f} m"}


def open_top(build, told, f):
    read(f.cure, r"(give it an open top \(vented = true\))")
    return {("lines", build.line_of(f.where), "vented"): True}


def air_while_it_rests(build, told, f):
    count = int(read(f.cure, r"(\d+) air stones like yours, with .* hold it meanwhile")[0])
    return blown_through(build, count)


def blown_through(build, count: int):
    """So many stones, on the weakest mains air pump of the table that gives each its usual air."""
    a = build.air.si
    each = air_stone(a.stone).si.air_flow_typical
    for row in sorted((air_pump(name).si for name in names("airpumps")), key=lambda row: row.power):
        blown = air_delivered.si(row.name, a.depth, stones=count, each=each)
        if row.supply == "mains" and blown >= count * each:
            return air(build, pump=row.name, stones=count)
    raise AssertionError(f"no air pump of the table blows through {count} of {a.stone}")


def larger_drain(build, told, f):
    line = build.line_of(f.where)
    if several := re.search(r"Use (\d+) pipes of (.+ \w+) ([\w ]+?) side by side", f.cure):
        count, size, standard = several.groups()
        changes = {("lines", line, "bore"): None, ("lines", line, "size"): size, ("lines", line, "standard"): standard}
        return changes | {("lines", f"{line}, pipe {n}"): {"like": line} for n in range(2, int(count) + 1)}
    lower = re.search(rf"set its lip at ({LONG}) or lower", f.cure, re.IGNORECASE)
    wider_ = re.search(r"[Uu]se ([\d/ ]+ \w+) ([\w ]+?) or wider", f.cure)
    assert lower or wider_, f.cure
    changes = {}
    if lower:
        changes["lines", line, "lip"] = lower.group(1)
    if wider_ and (not lower or ", and" in f.cure):
        changes |= {("lines", line, "bore"): None, ("lines", line, "size"): wider_.group(1), ("lines", line, "standard"): wider_.group(2)}
    return changes


def narrower_standpipe(build, told, f):
    line = build.line_of(f.where)
    if lower := re.search(rf"et it come out at ({NUMBER} \w+) or lower \(outlet\), and (use .*)", f.cure):
        rest = narrower_standpipe(build, told, replace(f, cure=lower.group(2)))
        return {**rest, ("lines", line, "outlet"): lower.group(1)}
    if tube := re.search(rf"tube with a bore of ({NUMBER} \w+)", f.cure):
        return {("lines", line, "size"): None, ("lines", line, "standard"): None, ("lines", line, "bore"): tube.group(1)}
    size, standard = read(f.cure, r"standpipe of (.+?) ((?:PN|Sch )\w+) or narrower")
    return {("lines", line, "size"): size, ("lines", line, "standard"): standard}


def stones_under_boards(build, told, f):
    stones, flow = read(f.cure, r'air_stones = (\d+), air_flow = "([^"]+)"')
    return {("vessels", f.where, "air_stones"): int(stones), ("vessels", f.where, "air_flow"): flow}


def lip_at(build, told, f):
    return {("lines", build.line_of(f.where), "lip"): read(f.cure, rf"Set its lip at ({LONG})")[0]}


LAST = ("density over limit", "pump short at real head")  # cured by air, which other cures bring
CURES = {
    "flow short of oxygen need": more_by_stones,
    "no overflow path": second_overflow,
    "outlet without a screen": screen,
    "pump short at real head": stronger_pump,
    "pump runs dry": low_level_switch,
    "pump runs dry on start": low_level_switch,
    "sump overflows on power cut": more_room,
    "spills while running": more_room,
    "oxygen time short": in_time,
    "oxygen low at night": more_air,
    "density over limit": dense,
    "biofilter short": more_media,
    "solids rise with the water": wider,
    "trickling filter badly wetted": narrower,
    "timer too short": longer_timer,
    "fish tank falls below a safe depth": higher_inlet,
    "drain has no fall": more_fall,
    "overflow can siphon": open_top,
    "drain short": larger_drain,
    "emergency overflow in use": lip_at,
    "siphon never starts": narrower_standpipe,
    "roots short of oxygen": stones_under_boards,
    "pump rests too long for the fish": air_while_it_rests,
}

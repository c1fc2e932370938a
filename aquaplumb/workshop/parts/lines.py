"""What the pipework of a build asks for: fittings, valves, screens, and what the drawing implies but the file forgot."""

from __future__ import annotations

from dataclasses import dataclass

from aquaplumb.build import Build
from aquaplumb.build.falling_records import FallingLine, FallingTree, Leg
from aquaplumb.build.joints import ELBOW_UP, OPEN_TEE, THROUGH, Assembly
from aquaplumb.build.records import Pipe, PumpedLine
from aquaplumb.build.sawn import sawn
from aquaplumb.build.trees import pieces
from aquaplumb.plumbing import fittings
from aquaplumb.units import BORE, Bare, rounded
from aquaplumb.workshop import supports
from aquaplumb.workshop.cut_list import cement_of, pipe_of, stretches
from aquaplumb.workshop.parts.tally import Tally, quoted

FITTINGS, VALVES, ENDS, HANGING = "Fittings", "Valves", "Screens, nozzles and siphons", "Joining and hanging"
# Joints to cement on each; all that is not named here has two. A bulkhead fitting and an adapter have a thread besides.
_SOCKETS = {"tee": 3, "adapter": 1, "bulkhead fitting": 1, "hose barb": 0, "strainer": 0, "foot valve, hinged": 1, "foot valve, poppet": 1}
_ODD = "or a tee with an end of that size"
_THREADS = {"adapter": 1, "bulkhead fitting": 1, "hose barb": 1}
_TEES = ("tee run", "tee branch")


def piping(build: Build, pumps_: dict, tally: Tally, *, warmest: float) -> None:
    """Count everything on the lines of a build; `pumps_` holds each pumped line's pump, `warmest` is in K."""
    shown = {id(stretch): f"“{name}”" for name, stretch in stretches(build)}
    made = {id(run.stretch): run for run in sawn(build)}
    for name, line in build.pumped.items():
        pipes = [_piece(s, shown[id(s)], build) for s in line.si.pipe]
        suction = [_piece(s, shown[id(s)], build) for s in line.si.suction]
        for piece in (*suction, *pipes):
            _listed(piece, tally)
            _union_at_valve(piece, tally)
            _brackets(piece, tally, warmest)
        _branches(pipes, tally)
        _in_a_row(suction, tally)
        _at_the_pump(pumps_[name], quoted(name), suction, pipes, tally)
    _ends(build, shown, made, tally)
    for fallen in build.lines.values():
        if isinstance(fallen, PumpedLine):
            continue
        falls = list(pieces(fallen).values()) if isinstance(fallen, FallingTree) else [fallen]
        records = fallen.si.pipe if isinstance(fallen, FallingTree) else falls
        whole = [_piece(record, shown[id(fall)], build) for record, fall in zip(records, falls)]
        for piece in whole:
            _listed(piece, tally)
            _union_at_valve(piece, tally)
            _brackets(piece, tally, warmest)
        if isinstance(fallen, FallingTree):
            _branches(whole, tally)
        else:
            _own_tees(whole[0], whole[0].tees, tally)
            _reducers_left(whole[0], 0, tally)
        first = next(fall for fall in falls if fall.si.source == fallen.si.source)
        _falls(_piece(first, shown[id(first)], build), build, tally, made.get(id(first.si)))
        for record, fall in zip(records, falls):
            _turned(_piece(fall, shown[id(fall)], build), made[id(record.si)], tally)


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch or a falling line, with what this module asks of it."""

    si: Bare  # of its record
    where: str  # its name in quotes
    size: str
    standard: str
    outside: float  # m, its outside diameter
    cement: str  # the size of the cement table that its joints go by; "" where they take none
    fittings: dict[str, int]  # by the table's own names
    valve: str
    tees: int
    units: str  # "metric" or "US"


def _piece(stretch: Pipe | Leg | FallingLine, where: str, build: Build) -> Piece:
    _, size, standard, outside = pipe_of(stretch, build.units)
    own: dict[str, int] = {}
    for name, count in stretch.si.fittings.items():
        kind = fittings.fitting(name).si.name
        own[kind] = own.get(kind, 0) + int(count)
    valve = getattr(stretch.si, "valve", "")
    valve = fittings.fitting(valve).si.name if valve else ""
    return Piece(
        si=stretch.si, where=where, size=size, standard=standard, outside=outside, cement=cement_of(stretch), fittings=own, valve=valve,
        tees=sum(own.get(tee, 0) for tee in _TEES), units=build.units,
    )  # fmt: skip


def _add(
    tally: Tally,
    piece: Piece,
    group: str,
    what: str,
    count: int,
    where: str,
    *,
    size: str = "",
    implied: bool = False,
    other: Piece | None = None,
    why: str = "",
) -> None:
    """So many pieces, and the joints and threads that go with them; `other` is the second pipe of a reducer."""
    tally.add(group, what, size or piece.size, count, where, implied=implied, why=why)
    if piece.cement:
        sockets = _SOCKETS.get(what, 2)
        tally.join(piece.cement, count * (sockets - 1 if other else sockets))
    if other and other.cement:
        tally.join(other.cement, count)
    tally.threads += count * _THREADS.get(what, 0)


def _listed(piece: Piece, tally: Tally) -> None:
    """What the file names on a stretch: fittings (but tees), the valve, nozzles."""
    for name, count in piece.fittings.items():
        group = fittings.fitting(name).si.group
        if name in _TEES or name == "hose bend" or (group == "end" and name != "bulkhead fitting") or name == "reducer":
            continue
        room = VALVES if group in ("valve", "check valve") else ENDS if group == "screen" else FITTINGS
        _add(tally, piece, room, name, count, f"in {piece.where}")
    if piece.valve:
        _add(tally, piece, VALVES, piece.valve, 1, f"in {piece.where}")
    if getattr(piece.si, "nozzle_bore", None):
        tally.add(ENDS, "nozzle", BORE.text(piece.si.nozzle_bore, piece.units), int(piece.si.nozzles), f"at the end of {piece.where}")


def _valves(piece: Piece) -> int:
    """Valves and check valves on a stretch: heavy things."""
    return bool(piece.valve) + sum(n for name, n in piece.fittings.items() if "valve" in fittings.fitting(name).si.group)


def _union_at_valve(piece: Piece, tally: Tally) -> None:
    shutting = piece.valve or any(fittings.fitting(name).si.group == "valve" and n for name, n in piece.fittings.items())
    if shutting and not piece.fittings.get("union"):
        _add(tally, piece, FITTINGS, "union", 1, f"at the valve of {piece.where}", implied=True, why="or a valve that has unions")


def _kin(standard: str, size: str) -> str:
    """What pipe takes the same fittings: metric PVC, inch PVC, and the rest by their own standard; drain pipe has its own, too."""
    usual = standard.startswith(("Sch", "SDR", "PN"))
    return ("mm" if size.endswith("mm") else "in") if usual else standard.split(" PN")[0].split(" class")[0].split(" SDR")[0]


# --- where pipes meet -----------------------------------------------------------------------------


def _step(large: Piece, small: Piece, count: int, where: str, tally: Tally, *, implied: bool, why: str = "") -> None:
    """A change of size, or of system: a reducer, or an adapter where inch meets metric or a bore alone."""
    if large.outside < small.outside:
        large, small = small, large
    alike = bool(large.standard and small.standard) and _kin(large.standard, large.size) == _kin(small.standard, small.size)
    what = "reducer" if alike else "adapter between pipes"
    why, size = why if alike else "", f"{large.size} to {small.size}"
    _add(tally, large, FITTINGS, what, count, where, size=size, implied=implied, other=small, why=why)
    if not alike:
        tally.note(
            f"{large.size} meets {small.size} ({where}): inch and metric pipe and hose do not cement to each other; ask the shop for a threaded or barbed adapter."
        )


def _meeting(before: Piece, after: Piece, where: str, tally: Tally) -> int:
    """The reducer where two pipes meet, if any; how many of the reducers that the file lists on `after` it used up."""
    if before.size == after.size:
        if before.cement and not after.tees and not (before.fittings.get("coupling") or after.fittings.get("coupling")):
            _add(tally, after, FITTINGS, "coupling", 1, where, implied=True, why="or one pipe right through")
        return 0
    given = min(1, after.fittings.get("reducer", 0))
    _step(before, after, 1, f"in {after.where}" if given else where, tally, implied=not given)
    return given


def _reducers_left(piece: Piece, used: int, tally: Tally) -> None:
    left = piece.fittings.get("reducer", 0) - used
    _add(tally, piece, FITTINGS, "reducer", left, f"in {piece.where}", size=f"{piece.size} to a size that the file does not say")


def _in_a_row(suction: list[Piece], tally: Tally) -> None:
    """Pipes one after the other, without branches."""
    for place, piece in enumerate(suction):
        used = _meeting(suction[place - 1], piece, f"between {suction[place - 1].where} and {piece.where}", tally) if place else 0
        _reducers_left(piece, used, tally)
        _own_tees(piece, piece.tees, tally)


def _own_tees(piece: Piece, count: int, tally: Tally) -> None:
    """Tees that the file names away from any branch of its own, plugged or open."""
    _add(tally, piece, FITTINGS, "tee", count, f"in {piece.where}")


def _branches(pipes: list[Piece], tally: Tally) -> None:
    """Tees and reducers where stretches follow each other; n ways out of one pipe are n − 1 tees."""
    for piece in pipes:
        after = [p for p in pipes if p.si.after == piece.si.name]
        if not piece.si.after:
            _own_tees(piece, piece.tees, tally)
            _reducers_left(piece, 0, tally)
        if len(after) == 1:
            _own_tees(after[0], after[0].tees, tally)
            _reducers_left(after[0], _meeting(piece, after[0], f"between {piece.where} and {after[0].where}", tally), tally)
        elif after:
            _tees(piece, after, tally)


def _tees(before: Piece, after: list[Piece], tally: Tally) -> None:
    largest = max((before, *after), key=lambda p: p.outside)
    needed = len(after) - 1
    named = any(p.tees for p in after)
    _add(tally, largest, FITTINGS, "tee", needed, f"at the end of {before.where}", implied=not named)
    if before.size != largest.size:
        _step(largest, before, 1, f"from the tee to {before.where}", tally, implied=True, why=_ODD)
    for piece in after:
        given = piece.fittings.get("reducer", 0)
        if piece.size != largest.size:
            _step(largest, piece, 1, f"in {piece.where}" if given else f"from the tee to {piece.where}", tally, implied=not given, why=_ODD)
        _reducers_left(piece, int(piece.size != largest.size and given > 0), tally)
        _own_tees(piece, max(0, piece.tees - needed), tally)


# --- at pumps, vessels and ends ---------------------------------------------------------------------


def _at_the_pump(pump, line: str, suction: list[Piece], pipes: list[Piece], tally: Tally) -> None:
    """Adapter and union on each side of a pump, and the tank fitting of a suction."""
    first = next(p for p in pipes if not p.si.after)
    sides = [(first, [first], pump.si.outlet, "outlet")]
    if suction:
        sides.append((suction[-1], suction, "", "inlet"))
        if not any(name.startswith(("bulkhead", "foot valve")) and n for p in suction for name, n in p.fittings.items()):
            _add(tally, suction[0], FITTINGS, "bulkhead fitting", 1, f"where {suction[0].where} leaves its vessel", implied=True)
    elif pump.si.placement == "external":
        tally.note(
            f"The pump of {line} stands dry, and the file has no suction pipe for it: its pipe, tank fitting, union and adapter are not counted."
        )
    for piece, run, thread, side in sides:
        if not any(p.fittings.get("adapter") for p in run):
            size = f"{thread or 'pump'} thread to {piece.size}"
            also = "" if thread else "read the thread on your pump"
            _add(tally, piece, FITTINGS, "adapter", 1, f"at the {side} of the pump of {line}", size=size, implied=True, why=also)
        if not any(p.fittings.get("union") for p in run):
            _add(tally, piece, FITTINGS, "union", 1, f"at the {side} of the pump of {line}", implied=True)


def _falls(piece: Piece, build: Build, tally: Tally, run: Assembly | None) -> None:
    """What a falling line needs at its upper end: a tank fitting, a vent, a screen, a siphon's bell."""
    f, source = piece.si, build.vessels[piece.si.source]

    def end(what: str, fits: str, why: str, where: str = "over") -> None:
        tally.add(ENDS, what, f"{fits} {piece.size}", 1, f"{where} {piece.where}", implied=True, why=why)

    vessel = quoted(f.source)
    if f.lip <= source.rim and not piece.fittings.get("bulkhead fitting"):
        _add(tally, piece, FITTINGS, "bulkhead fitting", 1, f"where {piece.where} leaves {vessel}", implied=True)
    if f.vented and not piece.tees and (run is None or run.whole or run.joint(OPEN_TEE) is not None):
        _add(tally, piece, FITTINGS, "tee", 1, f"open at the top of {piece.where}, to let air in", implied=True)
    if f.screen_open_area:
        tally.add(ENDS, "screen", f"{_small_area(f.screen_open_area, piece.units)} open, on {piece.size}", 1, f"over {piece.where}")
    elif source.si.kind == "fish tank" and f.kind == "overflow":
        end("screen", "on", "so that no fish goes down; the file gives no open area")
    if f.siphon:
        end("siphon bell with a cap", "over", "about twice as wide as the pipe in it (common practice)")
    if source.si.medium:
        end("media guard", "round", "a wide pipe with slots, to keep media out", where="round the upper end of")


def _turned(piece: Piece, run: Assembly, tally: Tally) -> None:
    """The elbows and the tank fitting that a falling pipe asks for by its heights (`build.sawn`), and the file does not count."""
    f = piece.si
    if run.joint(ELBOW_UP) is not None:
        where = f"inside {quoted(f.source)}, looking up, on {piece.where}"
        tally.add(FITTINGS, "elbow 90", piece.size, 1, where, implied=True)
        tally.join(piece.cement, 2)  # its own, and that of the tank fitting inside
    if sum(joint.bend for joint in run.joints) > sum(n for name, n in piece.fittings.items() if fittings.fitting(name).si.group == "bend"):
        _add(tally, piece, FITTINGS, "elbow 90", 1, f"where {piece.where} turns down", implied=True)
    through = run.joint(THROUGH)
    if through is not None and piece.fittings.get("bulkhead fitting", 0) < 2:
        _add(tally, piece, FITTINGS, "bulkhead fitting", 1, f"where {piece.where} goes into {quoted(f.to)}", implied=True)
        tally.join(piece.cement, int(through < len(run.joints) - 1))  # a bend inside hangs on it


def _ends(build: Build, shown: dict, made: dict, tally: Tally) -> None:
    """A note on the pipes that end below the rim of what they feed; into a sump, water falls from above."""
    ends = [pipe for line in build.pumped.values() for pipe in line.si.pipe if pipe.si.to]
    ends += [
        fall
        for line in build.lines.values()
        if isinstance(line, FallingTree)
        for record, fall in zip(line.si.pipe, pieces(line).values())
        if fall.si.to in build.vessels and made[id(record.si)].whole
    ]
    low = [
        shown[id(e)]
        for e in ends
        if e.si.outlet is not None and e.si.outlet < build.vessels[e.si.to].rim and build.vessels[e.si.to].si.kind != "sump"
    ]
    if low:
        tally.note(
            f"{', '.join(low)} end{'s' * (len(low) == 1)} below the rim of what {'it feeds' if len(low) == 1 else 'they feed'}: over the rim that wants elbows, through the wall a tank fitting; neither is counted."
        )


def _small_area(area: float, units: str) -> str:
    return f"{rounded(area / 0.0254**2)} in²" if units == "US" else f"{rounded(1e4 * area)} cm²"


def _brackets(piece: Piece, tally: Tally, warmest: float) -> None:
    """Brackets by the table, and one more for each valve; none in the ground, and a conduit has its own."""
    if piece.si.buried is not None or piece.si.conduit:
        return
    spacing = supports.support_spacing.si(piece.outside, warmest, standard=piece.standard)
    count = int(supports.bracket_count.si(piece.si.length, spacing))
    heavy = _valves(piece)
    why = "both ends of each stretch, a spacing between, and one at each valve"
    tally.add(HANGING, "bracket", piece.size, count + heavy, f"along {piece.where}", why=why)

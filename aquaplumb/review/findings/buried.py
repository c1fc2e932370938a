"""Findings about pipe in the ground and in conduits: frost, what shares a conduit, what goes through it, what can be reached."""

from __future__ import annotations

import math

from aquaplumb.build.laid import COVER, filled, laid
from aquaplumb.plumbing import conduits
from aquaplumb.power import shock_protection
from aquaplumb.review.findings.base import finding, fix, note, stop
from aquaplumb.units import ANGLE, BORE, LENGTH, in_percent

UNDER_FROST = 0.3048  # m: 12 in under the local frost depth, California Plumbing Code 609.1 (quoted at greenyplace.com)
SPADE = 0.3048  # m: the least cover of a water pipe, 12 in, the same
_MAINS_COVER, _MAINS_LEAST = 0.4572, 0.3048  # m: NEC table 300.5, in plastic conduit 18 in, 12 in behind a GFCI (columns 3 and 4; up.codes)
_NEAR = 0.98  # of a cover: the same table in metric has 450 and 300 mm
_NO_FROST = 283.15  # K: where the air never gets colder, ground does not freeze; common practice, no source
_STRAIGHT = math.radians(10)  # that rigid pipe gives: common practice, no source
TRENCH = 1.2  # m: a ladder from 4 ft, shoring from 5 ft, OSHA 1926.651 and .652 (ishn.com, indianaconstructors.org)
BEDDING = 0.1  # m of sand under the pipe: common practice, no source
_ALIKE = 0.1  # of the widest, by which three of a kind may differ: common practice, no source
_HAIR = 1e-3  # rad: what rounding leaves
_ALONE = "Give the cables a conduit of their own"


def _listed(names) -> str:
    names = [f"“{n}”" for n in names]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


@finding("mains beside water", notebook="13")
def mains_beside_water(system, say):
    """A conduit that holds a mains cable and a water pipe."""
    for f in filled(system.build):
        if f.pipes and (mains := f.of("mains")):
            yield stop(
                f.conduit.name,
                f"{f.conduit.name} holds {_listed(mains)} beside the water of {_listed(p.name for p in f.pipes)}: where a cable chafes or a joint leaks, the water is live and can kill.",
                f"{_ALONE}, at the depth that your local code asks for, put in by a licensed electrician and behind a {shock_protection(system.build.units)}; the US code allows no water pipe beside conductors (NEC 300.8).",
            )


@finding("cables beside water", notebook="13")
def cables_beside_water(system, say):
    """A conduit that holds a low-voltage or data cable and a water pipe."""
    for f in filled(system.build):
        if f.pipes and (cables := [*f.of("low voltage"), *f.of("data")]):
            yield fix(
                f.conduit.name,
                f"{f.conduit.name} holds {_listed(cables)} beside the water of {_listed(p.name for p in f.pipes)}: a leak fills it and finds every joint of the cable, and no pipe can be drawn without tearing at the cable.",
                f"{_ALONE}, in the same trench if your local code lets you: low voltage does not kill but a battery behind it burns, so fuse it; the US code allows no water pipe beside conductors (NEC 300.8).",
            )


@finding("mains cable shallow", notebook="13")
def mains_cable_shallow(system, say):
    """A mains cable in the ground where a spade meets it."""
    for f in filled(system.build):
        cover = f.conduit.buried
        if cover is not None and cover < _NEAR * _MAINS_COVER and (mains := f.of("mains")):
            severity = stop if cover < _NEAR * _MAINS_LEAST else fix
            yield severity(
                f.conduit.name,
                f"{f.conduit.name} holds {_listed(mains)} under {say(COVER, cover)} of ground; a spade or a stake goes through it and can kill who holds it.",
                f"Bury it under {say(COVER, _MAINS_COVER)} or more (NEC table 300.5, in plastic conduit; under a drive and in many countries deeper), by your local code and a licensed electrician.",
            )


@finding("conduit too full", notebook="13")
def conduit_too_full(system, say):
    """More pipe and cable than can be pulled through a conduit."""
    for f in filled(system.build):
        if f.fill > f.limit:
            wide = conduits.wide_conduit.si(f.outsides, f.make)
            least = 1.005 * (sum(d * d for d in f.outsides) / f.limit) ** 0.5  # what rounding leaves
            count = len(f.outsides)
            yield fix(
                f.conduit.name,
                f"What lies in “{f.conduit.name}” fills {in_percent(f.fill)} of it; {count} thing{'s' * (count > 1)} may fill {in_percent(f.limit)} (NEC chapter 9, for cables; for pipe, whose sockets are wider, the same is taken).",
                (f"Use a {wide}, {say(BORE, least)} or more inside" if wide else f"Use a bore of {say(BORE, least)} or more")
                + (", or part what lies in it over two conduits." if count > 1 else "."),
            )


@finding("conduit may jam", notebook="13")
def conduit_may_jam(system, say):
    """Three alike that lock side by side in a bend."""
    for f in filled(system.build):
        if len(f.outsides) == 3 and max(f.outsides) - min(f.outsides) < _ALIKE * max(f.outsides):
            ratio = f.conduit.bore / (sum(f.outsides) / 3)
            if conduits.JAMS[0] <= ratio <= conduits.JAMS[1]:
                wide = conduits.JAMS[1] * sum(f.outsides) / 3
                yield note(
                    f.conduit.name,
                    f"{f.conduit.name} is {ratio:.1f} times as wide as each of the three that lie in it; between {conduits.JAMS[0]:g} and {conduits.JAMS[1]:g} three of a kind can lock side by side as they are pulled.",
                    f"Use a bore of more than {say(BORE, 1.005 * wide)}, or pull them one by one.",
                )


@finding("conduit bends too far", notebook="13")
def conduit_bends(system, say):
    """More turns between two places to pull at than anything can be pulled round."""
    for f in filled(system.build):
        if f.conduit.bends > conduits.MOST_BENDS + _HAIR:
            yield fix(
                f.conduit.name,
                f"{f.conduit.name} turns {say(ANGLE, f.conduit.bends)} between two places to pull at; past {say(ANGLE, conduits.MOST_BENDS)}, four quarter turns, nothing can be pulled through (NEC 352.26).",
                "Put a box where one can pull in between, so that no part turns further, and give the turns of the worst part as its bends; fewer is better.",
            )


@finding("rigid pipe in a bent conduit", notebook="13")
def rigid_in_bend(system, say):
    """Cemented pipe that would have to go round a bend."""
    for p in laid(system.build):
        if p.conduit and p.rigid and p.conduit.bends > _STRAIGHT:
            yield fix(
                p.name,
                f"{p.name} is rigid pipe, {p.pipe.size} {p.pipe.standard}, in “{p.conduit.name}”, which turns {say(ANGLE, p.conduit.bends)}; it does not go round a bend.",
                "Lay the conduit straight and turn outside of it, or run hose or polyethylene pipe in it: give the bore in place of size and standard.",
            )


@finding("buried above the frost", notebook="13")
def above_frost(system, say):
    """Pipe in ground, or in the air, that freezes."""
    depth = system.build.site.si.frost_depth
    if not depth:
        return
    for p in laid(system.build):
        if p.frost or (p.cover is not None and p.cover >= _NEAR * (depth + UNDER_FROST)):
            continue
        ways = 'let it drain empty before frost and say frost = "drained"; or insulate it'
        if p.cover is None:
            yield note(
                p.name,
                f"{p.name} hangs in “{p.conduit.name}”, and the ground freezes {say(COVER, depth)} deep here: outdoors it freezes before anything else as soon as the water stands.",
                f'If it never leaves the warm house say frost = "indoors"; else {ways} and say frost = "insulated".',
            )
            continue
        severity = fix if p.cover < depth else note
        yield severity(
            p.name,
            f"{p.name} lies under {say(COVER, p.cover)} of ground, which freezes {say(COVER, depth)} deep here; "
            + ("when the water stands it freezes and splits the pipe." if p.cover < depth else "a hard winter goes deeper."),
            f'Bury it under {say(COVER, depth + UNDER_FROST)} or more; or {ways} with foam boards over it, wide to both sides, and say frost = "insulated". Ask your building office.',
        )


@finding("frost depth not given", notebook="13")
def frost_unknown(system, say):
    """Buried pipe, and nobody has said how deep the ground freezes."""
    b = system.build
    if b.site.si.frost_depth is not None or (b.heat and b.heat.si.coldest_air >= _NO_FROST):
        return
    open_ = [p.name for p in laid(b) if p.cover is not None and not p.frost]
    if open_:
        yield note(
            open_[0],
            f"{open_[0]}{f' (and {len(open_) - 1} more)' if open_[1:] else ''} lies in the ground, and the file does not say how deep that freezes where you live.",
            f'Ask your building office or water works, and write it under [site], such as frost_depth = "{say(COVER, 0.762)}"; "{say(COVER, 0)}" where it never freezes.',
        )


@finding("joint out of reach", notebook="13")
def out_of_reach(system, say):
    """A valve, union or the like where nobody can get at it."""
    for p in laid(system.build):
        if p.to_reach and not p.boxes:
            inside = f"in “{p.conduit.name}”" if p.conduit else "in the ground"
            yield fix(
                p.name,
                f"{p.name} runs {inside} and has {_listed(p.to_reach)} in it: what leaks, sticks or clogs there can only be dug out.",
                "Part the stretch in two, so that it stands in the part above ground; or set a box with a lid over it and say boxes = 1.",
            )


@finding("buried shallow", notebook="13")
def buried_shallow(system, say):
    """Pipe that a spade meets."""
    for p in laid(system.build):
        if p.cover is not None and p.cover < _NEAR * SPADE:
            yield note(
                p.name,
                f"{p.name} lies under {say(COVER, p.cover)} of ground; a spade or a wheel goes through it.",
                f"Bury it under {say(COVER, SPADE)} or more, deeper under a drive, with warning tape halfway up.",
            )


@finding("deep trench", notebook="13")
def deep_trench(system, say):
    """A trench that buries who stands in it."""
    covers = [(p.cover + p.outside + BEDDING, p.name) for p in laid(system.build) if p.cover is not None]
    covers += [(f.conduit.buried + f.conduit.bore + BEDDING, f.conduit.name) for f in filled(system.build) if f.conduit.buried is not None]
    if covers and max(covers)[0] >= TRENCH:
        depth, name = max(covers)
        yield note(
            name,
            f"The trench for “{name}” is {say(LENGTH, depth)} deep; from {say(LENGTH, TRENCH)} on its walls cave in without warning, and a cubic metre of soil weighs as much as a car.",
            "Do not go in: slope or shore it by your local rules, keep the soil away from its edge, never alone; or leave the digging to a firm.",
        )

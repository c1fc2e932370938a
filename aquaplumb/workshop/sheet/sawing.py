"""The chapters of a build sheet for the shop and the saw: the parts, the pieces of pipe, and how each stretch goes together."""

from __future__ import annotations

import itertools

from aquaplumb.build.joints import Assembly, Joint
from aquaplumb.units import BORE
from aquaplumb.workshop.cut_list import CutList, labelled, shown_name, tape
from aquaplumb.workshop.parts import PartsList
from aquaplumb.workshop.sheet.records import Chapter, Grid, Points, Words, amount, count, pen, words

# What a shop calls it, and how it is joined: slip is a socket to cement, spigot goes into one. Common practice, no source.
_SHOP = {
    "adapter": "adapter (threaded × slip)",
    "bulkhead fitting": "tank fitting (gasket inside, nut outside; slip)",
    "union": "union (slip × slip)",
    "next stretch": "the next stretch",
    "reducer": "reducer (slip × slip, or a bush: spigot × slip)",
}
_THREADED = ("adapter", "adapter between pipes", "hose barb")


def shopping(found: PartsList) -> Chapter:
    """What to buy, with reasons."""
    priced = found.cost is not None
    columns = (
        words("group"),
        words("what"),
        words("size"),
        count("amount"),
        count("spare"),
        words("of"),
        *([count("cost", "", 2)] if priced else []),
        words("why, and where"),
        pen("have"),
    )
    rows = tuple(
        (
            p.group,
            p.what,
            p.size,
            float(p.amount),
            float(p.spare) or None,
            p.unit,
            *([None if p.cost is None else round(p.cost, 2)] if priced else []),
            p.reason,
        )
        for p in found
    )
    intro = "What the build needs, and what to have over. Read it against your own system before you pay."
    notes = [*_costs(found), *found.notes] if priced else found.notes
    return Chapter(
        "parts", "Parts list, with reasons", (Words(intro), Grid("parts", "Parts", columns, rows, grouped=True), Points(tuple(notes)))
    )


def _costs(found: PartsList):
    """What all costs at the person's own prices, and what has none."""
    without = len(found.unpriced)
    yield f"At your own prices: {found.cost:,.2f}, spares with it" + (
        f", and {without} of {len(found)} lines still without a price." if without else "."
    )
    groups = "; ".join(f"{total['group']} {total['cost']:,.2f}" for total in found.totals() if total["cost"] is not None)
    yield f"By group: {groups}."
    if found.cost_band:
        low, high = found.cost_band
        yield f"As a band: {low:,.2f} for what is needed alone, {high:,.2f} with spares and a tenth for what no list has (common practice). What has no price comes on top."
    for one in found.wider():
        more = f"{one['more']:,.2f} more" if one["more"] >= 0 else f"{-one['more']:,.2f} less"
        yield f"{one['size']} as {one['wider']}, the next size up: {more} for the {one['priced']} of its {one['lines']} lines that your file prices in both."
    if not found.wider():
        yield "Write the prices of the next size up of a pipe and its fittings into the same file, and this says what it would cost."
    if found.unmatched:
        yield f"Your price file names what this list does not have: {', '.join(found.unmatched)}."


def cuts(cuts: CutList, pipes: Grid) -> Chapter:
    """Every pipe, what to saw from which length, and how each stretch goes together."""
    units, rows = cuts.units, []
    us = units == "US"

    def shown(length):
        return round(float(BORE.shown(length, units)), 4)

    for one in cuts:
        if one.loose:
            head = f"{one.pipe}: {tape(one.total, units)} in all; {one.verdict}"
        else:
            many = "length" if len(one.bars) == 1 else "lengths"
            head = f"{one.pipe}: {len(one.bars)} {many} of {tape(one.si.stock, units)}; {one.verdict}"
        for number, bar in enumerate(one.bars, start=1):
            for cut in bar.si.cuts:
                last = cut is bar.si.cuts[-1] and not one.loose
                rows.append((
                    head, "" if one.loose else str(number), cut.si.name, shown(cut.si.length), *([tape(cut.si.length, units)] if us else []),
                    shown(bar.si.offcut) if last else None, *([tape(bar.si.offcut, units) if last else ""] if us else []),
                ))  # fmt: skip
    decimals = 2 if us else 0
    columns = (
        words("pipe"), words("from length"), words("piece: write this on it"), amount("cut", BORE, units, decimals), *([words("on the tape")] if us else []),
        amount("left over", BORE, units, decimals), *([words("left, on the tape")] if us else []), pen("sawn"),
    )  # fmt: skip
    hints = [f"{one.pipe}: {hint}" for one in cuts if (hint := one.hint(tape(cuts.kerf, units)))]
    return Chapter(
        "cuts",
        "Cut list",
        (
            pipes,
            Grid("cuts", "What to saw from which length", columns, tuple(rows), grouped=True),
            Points((*cuts.remarks, *hints)),
            *_packs(cuts),
        ),
    )


def _packs(cuts: CutList):
    """For each stretch: its fittings and pieces in order, and how they are joined; to be put into one bag."""
    rows = tuple(
        (
            shown_name(run.name),
            _order(run, cuts.units),
            _joins(run),
            "as your file tells" if run.told else "supposed" if len(run.pieces) > 1 else "",
        )
        for run in cuts.runs
    )
    columns = (words("stretch"), words("in this order, from where its water comes"), words("joined with"), words("legs"), pen("packed"))
    yield Grid("packs", "One bag for each stretch, and how it goes together", columns, rows)
    said = [
        "Write its label on each piece and lay each stretch into a bag of its own with its fittings. A line goes along every dry joint with a pencil, over fitting and pipe, so that it comes together again as it was.",
        "Slip is a socket that takes pipe and cement; spigot is an end that goes into one; threaded takes tape, on the male thread only, three turns clockwise, and no cement.",
        "Unions stay dry: their rubber ring seals. Keep cement off it.",
    ]  # common practice, no source
    if any(run.unknown for run in cuts.runs):
        said.append("A fitting marked ? is in no table of take-offs: measure it, and mark the pieces beside it in place.")
    if cuts.supposed:
        said.append(
            "Legs that are supposed share out what pipe there is: their sum is right, each is not. Dry-fit from the start, hold the next fitting where it has to be, and mark the pipe there; or write the legs into your file (route), and make this sheet anew."
        )
    yield Points(tuple(said))


def _order(run: Assembly, units: str) -> str:
    """Fittings and pieces in order, each piece with its length."""
    if run.whole:
        return f"{labelled(run.pieces[0])} {tape(run.pieces[0].length, units)} whole, cut at the place; for its ends ask the shop"
    said = [_called(run.joints[0])]
    for piece, joint in zip(run.pieces, run.joints[1:]):
        said += [f"{labelled(piece)}: {tape(max(piece.length, piece.sockets), units)}", _called(joint)]
    return " · ".join(said)


def _called(joint: Joint) -> str:
    return _SHOP.get(joint.name, joint.name.replace("tee run", "tee")) + ("" if joint.known else " ?")


def _joins(run: Assembly) -> str:
    """How many joints are cemented, and how many threads taped."""
    if run.whole:
        return "clamps, or the maker's own fittings"
    slips = sum(bool(a.out) + bool(b.into) for a, b in itertools.pairwise(run.joints))
    threads = sum(joint.name in _THREADED for joint in run.joints)
    return f"cement: {slips}" + (f"; tape: {threads}" if threads else "")

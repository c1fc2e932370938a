"""What to try on the two panels of notebook 06: on a siphon, on another falling line, and on a bed's rounds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aquaplumb.plumbing import full_pipe, pipe_sizes, siphons
from aquaplumb.units import BORE, DEPTH, FLOW
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.drain_siphon import Fall, FallWhatIf
    from aquaplumb.whatif.siphon_round import Round, RoundWhatIf

_LITTLE, _MUCH = 0.85, 1.15  # of the least flow that may start a siphon; of the most that one carries at its vent
_HALF_WAY = 0.65  # up from its outlet to its vent: a siphon with so little fall left


def like_sizes(sizes: dict[str, tuple[str, str]], own: str) -> list[str]:
    """The sizes that a panel offers of the same standard as its line's own, narrow to wide."""
    standard = sizes.get(own, ("", ""))[1] or next(standard for _, standard in sizes.values() if standard)
    return sorted((label for label, size in sizes.items() if size[1] == standard), key=lambda label: pipe_sizes.bore.si(*sizes[label]))


def of_fall(fall: FallWhatIf, line: str) -> list[Try]:
    """A siphon: a wider one, too little and too much water, less fall. Another line: narrower, and then with its top shut."""
    own, record = fall.own(line), fall(**fall.own(line))
    return _of_siphon(fall, record, own) if record.siphon else _of_pipe(fall, record, own)


def _of_siphon(fall: FallWhatIf, first: Fall, own: dict) -> list[Try]:
    f, line, sizes = first.si, first.line, like_sizes(fall.sizes, own["size"])

    def may(size: str) -> float:
        return full_pipe.flow_at_froude.si(full_pipe.MAY_FILL, pipe_sizes.bore.si(*fall.sizes[size]))

    guessed = fall.case["size"]
    wide = guessed if guessed in sizes and may(guessed) > f.load else next((size for size in sizes if may(size) > f.load), sizes[-1])

    def wider(record: Fall, system: str) -> str:
        r = record.si
        return f"**{r.verdict}** {FLOW.text(r.load, system)} comes; with a bore of {BORE.text(r.bore, system)} it takes {FLOW.text(r.sure, system)} to start surely, {r.sure / f.sure:.1f} times as much as with {BORE.text(f.bore, system)}."

    def water(record: Fall, system: str) -> str:
        r = record.si
        return f"**{r.verdict}** {FLOW.text(r.load, system)} comes. It may start from {FLOW.text(r.may_fill, system)}; at its vent it carries {FLOW.text(r.at_vent, system)}."

    def raised(record: Fall, system: str) -> str:
        r = record.si
        safe = (
            f"it starts and stops surely only from {FLOW.text(r.sure, system)} to {FLOW.text(r.sure_to_stop, system)}"
            if r.sure_to_stop > r.sure
            else "no flow surely does both"
        )
        return f"Less fall, less pull: {FLOW.text(r.at_vent, system)} at its vent, where it was {FLOW.text(f.at_vent, system)}; {safe}."

    low = {"inflow": _LITTLE * f.may_fill}
    high = {"inflow": _MUCH * f.at_vent}
    outlet = own["outlet"] + _HALF_WAY * (f.lip - own["vent"] - own["outlet"])
    return [
        Try("Make {line} wider, to be on the safe side: **{size}**.", {"line": line, "size": wide}, wider),
        Try("Less water: set *{inflow.label}* to **{inflow}**.", low, water),
        Try("Much water: *{inflow.label}* **{inflow}**.", high, water),
        Try("Less fall: raise the *{outlet.label}* to **{outlet}**.", {"outlet": outlet}, raised),
    ]  # fmt: skip


def _of_pipe(fall: FallWhatIf, first: Fall, own: dict) -> list[Try]:
    f, line, sizes = first.si, first.line, like_sizes(fall.sizes, own["size"])
    under = [size for size in sizes if pipe_sizes.bore.si(*fall.sizes[size]) < f.bore - 1e-6]
    gulps = [size for size in under if full_pipe.flow_at_froude.si(full_pipe.MAY_FILL, pipe_sizes.bore.si(*fall.sizes[size])) < f.load]
    narrow = (gulps or under or sizes)[-1 if under else 0]

    def takes(record: Fall, system: str) -> str:
        r = record.si
        if r.room <= 0 or r.load <= 0:
            return f"**{r.verdict}** {FLOW.text(r.load, system)} comes."
        was = "as before" if r.capacity == f.capacity else f"where it was {FLOW.text(f.capacity, system)}"
        brim = f"It takes {FLOW.text(r.capacity, system)} up to the brim, {was}"
        return f"**{r.verdict}** {brim}; {FLOW.text(r.load, system)} comes."

    def shut(record: Fall, system: str) -> str:
        r = record.si
        filled = FLOW.text(r.may_fill, system)
        if r.load < r.may_fill:
            return f"**{r.verdict}** {FLOW.text(r.load, system)} comes: under {filled} this bore does not fill, and pulls nothing down."
        return f"**{r.verdict}** {FLOW.text(r.load, system)} comes: from {filled} it may fill, and with no air at its top it then pulls its vessel down."

    most = next(control for control in fall.controls() if control.name == "inflow").ends()[1]
    tries = [
        Try("Make {line} narrower: **{size}**.", {"line": line, "size": narrow}, takes),
        Try(
            f"{'Twice the' if 2 * own['inflow'] <= most else 'More'} water: set *{{inflow.label}}* to **{{inflow}}**.",
            {"inflow": min(2 * own["inflow"], most)},
            takes,
        ),
    ]
    if own["vented"]:
        tries.append(Try("Make {line} **{size}**, and untick *{vented.label}*.", {"line": line, "size": narrow, "vented": False}, shut))
    return tries


def of_round(rounds: RoundWhatIf, line: str) -> list[Try]:
    """A higher vent; too little water, a doubtful flow, too much; and the wider pipe that cures the last."""
    own, falls = rounds.own(line), rounds.falls
    sizes = like_sizes(falls.sizes, own["size"])
    place = sizes.index(own["size"]) if own["size"] in sizes else 0
    bore = pipe_sizes.bore.si(*falls.sizes[own["size"]]) if own["size"] in sizes else falls.lines[line].si.bore
    band, at_vent = siphons.siphon_starting_band.si(bore).si, falls(**falls.own(line)).si.at_vent

    def half(record: Round, system: str) -> str:
        r = record.si
        first = rounds(**{**own, "inflow": r.inflow}).si
        if not (r.per_hour and first.per_hour):
            return record.sentence(system)
        swing = f"the level swings by {DEPTH.text(r.highest - r.lowest, system)}, not {DEPTH.text(first.highest - first.lowest, system)}"
        return f"**{r.per_hour:.1f} rounds an hour**, where it was {first.per_hour:.1f}: less to fill, less to empty; {swing}."

    def said(record: Round, system: str) -> str:
        cure = next((text for severity, text in record.notes(system) if severity != "note" or text.startswith("Tried")), "")
        return f"{record.sentence(system)} {cure}".strip()

    much = _MUCH * at_vent
    enough = (band.sure * at_vent / siphons.MARGIN) ** 0.5
    if rounds(**own).works:
        tries = [
            Try("Halve the height between vent and lip: set *{vent.label}* to **{vent}**.", {"vent": 0.5 * own["vent"]}, half),
            Try("Little water: set *{inflow.label}* to **{inflow}**.", {"inflow": _LITTLE * band.may}, said),
        ]
    else:
        tries = [
            Try("As much water as it likes: set *{inflow.label}* to **{inflow}**.", {"inflow": enough}, said),
            Try("With that, **{inflow}**, halve the height between vent and lip: *{vent.label}* **{vent}**.",
                {"inflow": enough, "vent": 0.5 * own["vent"]}, half),
        ]  # fmt: skip
    tries += [
        Try("Hardly enough: *{inflow.label}* **{inflow}**.", {"inflow": (band.may * band.sure) ** 0.5}, said),
        Try("Much water: *{inflow.label}* **{inflow}**.", {"inflow": much}, said),
    ]
    if place + 1 < len(sizes):
        tries.append(
            Try("With that much, **{inflow}**, a wider pipe: *{size.label}* **{size}**.", {"inflow": much, "size": sizes[place + 1]}, said)
        )
    return tries

"""The parts list of a build: what to buy, how much of each, and why.

    parts = parts_list(load("courtyard"))
    print(parts)                                # group by group, each line with its reason
    parts.priced("my-prices.csv").totals()      # with the prices of your own shop

Counted from the build file, and from what its drawing implies: a tee where a pipe parts, a reducer where sizes meet, a
tank fitting where a pipe leaves a vessel, an adapter and a union at each pump, a union at each valve. What the file
does not name says so. Read it against your own system before you pay: nobody's file holds everything.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from aquaplumb.build import Build
from aquaplumb.plumbing import pipe_sizes
from aquaplumb.system.steady import Steady
from aquaplumb.units import LENGTH, TEMPERATURE, Temperature, check_range, rounded, takes_quantities
from aquaplumb.workshop import cement
from aquaplumb.workshop.cut_list import CutList, cut_list
from aquaplumb.workshop.parts import equipment, laying, lines, own_prices
from aquaplumb.workshop.parts.tally import GROUPS, SPARE, Part, Tally

__all__ = ["GROUPS", "HOTTEST_PIPE", "SPARE", "Part", "PartsList", "parts_list"]

HOTTEST_PIPE = 311.15  # K, 38 °C: pipe under glass or in the sun on a hot day; common practice, no source
_HELD = {
    "push": "Push it into its ring seals with the maker's grease, and hold each joint by brackets: nothing else keeps it together.",
    "clamp": "Join it with compression fittings made for its size, or with barbs and two clamps each.",
    "cement": "",
}
_CAN, _US_CAN = 0.25e-3, 0.236588e-3  # m³: small tins, 250 mL and 8 fl oz; cement skins over in a large one
_REST = 0.1  # of the cost, for what no list has; common practice, no source
_ROLL = 20  # threads from a roll of tape; common practice, no source


class PartsList:
    """What to buy: `parts` in groups, `notes` on what is not in them, and the `cuts` of the pipe."""

    def __init__(
        self,
        build: Build,
        parts: list[Part],
        notes: list[str],
        cuts: CutList,
        unmatched: tuple[str, ...] = (),
        prices: Mapping[tuple[str, str], float] | None = None,
    ):
        self.prices = dict(prices or {})
        self.build, self.units, self.cuts = build, build.units, cuts
        self.title = build.title or build.name
        self.parts, self.notes, self.unmatched = tuple(parts), tuple(notes), unmatched

    def __iter__(self):
        return iter(self.parts)

    def __len__(self) -> int:
        return len(self.parts)

    @property
    def groups(self) -> dict[str, list[Part]]:
        """The parts by group, in the order of the list."""
        return {group: found for group in GROUPS if (found := [p for p in self.parts if p.group == group])}

    @property
    def unpriced(self) -> list[Part]:
        """The parts without a price."""
        return [p for p in self.parts if p.price is None]

    def totals(self) -> list[dict]:
        """For each group: its lines, what those with a price cost together, and how many have none.

        A group in which nothing has a price costs None, never 0.
        """
        return [
            {
                "group": group,
                "lines": len(found),
                "cost": sum(costs) if (costs := [p.cost for p in found if p.cost is not None]) else None,
                "unpriced": len(found) - len(costs),
            }
            for group, found in self.groups.items()
        ]

    @property
    def cost(self) -> float | None:
        """All lines with a price together, spares with them, or None where none has."""
        costs = [p.cost for p in self.parts if p.cost is not None]
        return sum(costs) if costs else None

    @property
    def cost_band(self) -> tuple[float, float] | None:
        """From what the build needs alone, to that with its spares and a tenth for what no list has; None where nothing has a price.

        The tenth is common practice, no source. What has no price is in neither.
        """
        if self.cost is None:
            return None
        return sum(p.amount * p.price for p in self.parts if p.price is not None), (1 + _REST) * self.cost

    def wider(self) -> list[dict]:
        """What the next size up of each pipe would cost more, at the prices of your file, where it has those of the wider size.

        Each has its `size`, the `wider` one, the `more` that what is priced in both costs, and how many of its lines those are (`priced`, `lines`).
        """
        found = []
        for cut in self.cuts:
            if not cut.si.standard or not (wider := _wider(cut.si.size, cut.si.standard)):
                continue
            names = {cut.si.size: wider, cut.si.pipe: f"{wider} {cut.si.standard}"}
            lines = [p for p in self.parts if p.size in names and p.group in ("Pipe", "Fittings", "Valves", "Joining and hanging")]
            both = [
                (p, self.prices[key])
                for p in lines
                if p.price is not None and (key := own_prices.price_key(p.what, names[p.size])) in self.prices
            ]
            more = sum((p.amount + p.spare) * (price - p.price) for p, price in both if p.price is not None)
            if both:
                found.append(
                    {"size": cut.si.pipe, "wider": f"{wider} {cut.si.standard}", "more": more, "priced": len(both), "lines": len(lines)}
                )
        return found

    def priced(self, path: str | Path) -> PartsList:
        """This list with the prices of your own file; see `partprices`. What it does not name stays without a price."""
        prices = own_prices.prices(path)
        keys = {own_prices.price_key(*p.key) for p in self.parts}
        for cut in self.cuts:
            if cut.si.standard and (wider := _wider(cut.si.size, cut.si.standard)):
                sizes = {cut.si.size: wider, cut.si.pipe: f"{wider} {cut.si.standard}"}
                keys |= {own_prices.price_key(p.what, sizes[p.size]) for p in self.parts if p.size in sizes}
        strange = tuple(" ".join(key).strip() for key in prices if key not in keys)
        parts = [replace(p, price=prices.get(own_prices.price_key(*p.key))) for p in self.parts]
        return PartsList(self.build, parts, list(self.notes), self.cuts, strange, prices)

    def price_form(self, path: str | Path | None = None) -> str:
        """The empty form to fill in prices, as text; saved as a new file where a path is given."""
        text = own_prices.price_form([p.key for p in self.parts])
        if path is not None:
            own_prices.save_form(path, text)
        return text

    def records(self) -> list[dict]:
        """One plain record for each line."""
        return [
            {
                "group": p.group, "what": p.what, "size": p.size, "amount": p.amount, "spare": p.spare, "unit": p.unit,
                "not in file": p.implied, "reason": p.reason, "price": p.price, "cost": p.cost,
            }
            for p in self.parts
        ]  # fmt: skip

    def frame(self):
        """The list as a pandas DataFrame."""
        import pandas as pd

        columns = ["group", "what", "size", "amount", "spare", "unit", "not in file", "reason", "price", "cost"]
        return pd.DataFrame(self.records(), columns=columns)

    def __str__(self) -> str:
        lines = [f"{self.title}: parts list", "Amounts: what the build needs + spare. Check it against your own system before you pay."]
        for total in self.totals():
            cost = "" if total["cost"] is None else f"   (priced so far: {total['cost']:,.2f}; {total['unpriced']} without a price)"
            lines += ["", total["group"] + cost]
            for p in self.groups[total["group"]]:
                price = "" if p.cost is None else f" = {p.cost:,.2f}"
                lines += [f"  {p.what}{', ' + p.size if p.size else ''}: {p.text}{price}", f"      {p.reason}"]
        lines += ["", *[f"- {note}" for note in self.notes]]
        lines += [f"- Your price file names what this list does not have: {', '.join(self.unmatched)}."] if self.unmatched else []
        return "\n".join(lines)

    __repr__ = __str__


def _wider(size: str, standard: str) -> str:
    """The next size up of a standard, as on the label; "" after the widest."""
    known = pipe_sizes.sizes(standard)
    place = known.index(size) if size in known else len(known)
    return known[place + 1] if place + 1 < len(known) else ""


@takes_quantities
def parts_list(
    build: Build | Any, *, warmest_pipe: Temperature = HOTTEST_PIPE, cuts: CutList | None = None, system: Steady | None = None
) -> PartsList:
    """Everything that a build asks for.

    build: A build, or a path or demo name as `load` takes it.
    warmest_pipe (one value): The hottest that the pipe gets, for the brackets: 38 °C unless given, and never less than
        the warmest water.
    cuts: From `cut_list`, where you chose other stock lengths or another saw.
    system: This build, solved already, such as ``review(build).system``.
    raises: Where the build cannot be read or solved.

    Spare: a tenth of the fittings and brackets, rounded up, and one length of each size of pipe of which no offcut gives its longest piece; two fuses; a tenth of
    the media for settling (all common practice, no source). Valves, pumps and tanks have none.

    Source: Counting; ``data/supports.csv``, ``data/cement.csv``, ``data/stock.csv``, each row with its own.

    >>> [p.amount for p in parts_list("courtyard") if p.what == "ball valve" and p.size == "25 mm"]
    [2.0]
    """
    check_range(warmest_pipe, 273.15, 333.15, TEMPERATURE, "the warmest pipe", "the table of supports")
    system = system or Steady(build)
    tally = Tally()
    chosen = {name: line.pump for name, line in system.pumped.items()}
    cuts = cuts or cut_list(build)
    equipment.equipment(system, chosen, tally)
    _pipe(cuts, tally)
    warmest = max(warmest_pipe, build.site.si.warmest_water)
    lines.piping(build, chosen, tally, warmest=warmest)
    laying.laying(build, tally, warmest=warmest)
    _joining(build, tally)
    hottest = f"{round(TEMPERATURE.shown(warmest, build.units))} {TEMPERATURE.unit(build.units)}"
    tally.note(f"Brackets are for level pipe as warm as {hottest}, no further apart than most plumbing codes allow; ask your own code.")
    return PartsList(build, tally.parts(), tally.notes, cuts)


def _pipe(cuts: CutList, tally: Tally) -> None:
    """Pipe in whole lengths, from the cut list, and the couplings that long stretches need."""
    for one in cuts:
        names = ", ".join(dict.fromkeys(f"“{cut.si.stretch}”" for cut in one.cuts))
        if one.loose:
            unit = LENGTH.unit(cuts.units)
            tally.add(
                "Pipe",
                "pipe or hose",
                one.si.size,
                round(LENGTH.shown(one.total, cuts.units), 2),
                f"for {names}; ask the shop for this bore, and for what joins it",
                unit=unit,
            )
            tally.note(f"Pipe with a {one.si.size}: joints and fittings hang on its kind, so no cement is counted for it.")
            continue
        saved = one.hint("a saw's cut").rstrip(".")
        longest = max(cut.si.length for cut in one.cuts)
        serves = any(bar.si.offcut >= longest for bar in one.bars)  # then a piece sawn wrong is sawn again from what is left
        spare = "no spare: what is left over serves for any piece" if serves else "one length spare"
        words = f"{LENGTH.text(one.total, cuts.units)} for {names}; {spare}" + (f"; {saved[0].lower()}{saved[1:]}" if saved else "")
        tally.add(
            "Pipe",
            "pipe",
            one.si.pipe,
            len(one.bars),
            words,
            unit=f"length of {LENGTH.text(one.si.stock, cuts.units)}",
            spare=0 if serves else 1,
        )
        for name in one.si.couplings:
            tally.add(
                "Fittings", "coupling", one.si.size, 1, f"in “{name}”", implied=True, why="the stretch is longer than a length of pipe"
            )
            if one.si.cement:
                tally.join(one.si.cement, 2)
        if not one.si.cement:
            tally.note(
                f"{one.si.pipe} is not cemented: cement does not hold on it. {_HELD[pipe_sizes.pipe_size(one.si.size, one.si.standard).si.joined_by]}"
            )
    tally.note(cuts.remarks[0])


def _joining(build: Build, tally: Tally) -> None:
    """Cement, primer and thread tape, by the joints counted so far."""
    group = "Joining and hanging"
    if tally.joints:
        needs = [cement.cement_need.si(size, count).si for size, count in tally.joints.items()]
        each = ", ".join(f"{count} of {size}" for size, count in tally.joints.items())
        largest = max(tally.joints, key=lambda size: cement.cement_row(size).si.outside_diameter)
        can, unit = (_CAN, "can of 250 mL") if build.units != "US" else (_US_CAN, "can of 8 fl oz")
        for what, volume, words in (
            (
                "solvent cement",
                sum(n.cement for n in needs),
                f"{sum(tally.joints.values())} joints: {each}; for the pipe's own kind and size",
            ),
            ("primer or cleaner", sum(n.primer for n in needs), "the kind that the cement's maker names"),
        ):
            tally.add(
                group,
                what,
                "for PVC pressure pipe",
                math.ceil(volume * (1 + SPARE) / can - 1e-9),
                words + "; a tenth more for spare joints",
                unit=unit,
            )
        tally.note(_waiting(largest, build.units))
        tally.note(
            "Cement and primer burn and make you dizzy: open air, no flame, gloves. Rinse the cured pipes and throw that water away before fish meet it."
        )
    if tally.threads:
        rolls = math.ceil(tally.threads / _ROLL)
        tally.add(group, "thread tape", "PTFE", rolls, f"{tally.threads} threads", unit="roll")


def _waiting(size: str, units: str) -> str:
    """How long to leave the joints alone, for the largest pipe that is cemented."""
    hours = [cement.cure_time.si(size, kelvin) / 3600 for kelvin in (293.15, 283.15, 273.15)]
    waits = [f"{rounded(h)} h" if h < 72 else f"{rounded(h / 24)} days" for h in hours]
    warm, cool = (f"{round(TEMPERATURE.shown(kelvin, units))} {TEMPERATURE.unit(units)}" for kelvin in (288.71, 277.59))
    return (
        f"Cement: hold each joint, then do not move it for {rounded(cement.set_time.si(size) / 60)} min. No water for {waits[0]} from {warm} up, "
        f"{waits[1]} from {cool} up, {waits[2]} below (the largest pipe, {size}, in damp air). Makers differ by far; the longest in print is taken."
    )

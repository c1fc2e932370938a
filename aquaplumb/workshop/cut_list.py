"""The cut list of a build: every piece of pipe between two fittings, fitted to the lengths that a shop sells, with the least waste.

    cuts = cut_list(load("courtyard"))
    print(cuts)                     # what to saw from which length
    cuts.frame()                    # the same as a table

A piece is what lies between two fittings, from end to end (`aquaplumb.build.sawn`). Where the file tells no route its legs are
supposed: together they are right, each by itself is marked in place before it is sawn.
"""

from __future__ import annotations

import html
import math
import re

import numpy as np

from aquaplumb.build import Build, load
from aquaplumb.build.joints import Assembly, Sawn
from aquaplumb.build.sawn import sawn
from aquaplumb.plumbing import pipe_sizes
from aquaplumb.units import (
    BORE,
    LENGTH,
    Bore,
    DesignError,
    Length,
    Number,
    Record,
    Time,
    folded,
    on_tape,
    quantity,
    rounded,
    takes_quantities,
)
from aquaplumb.workshop import cutting, pipe_stock
from aquaplumb.workshop.cement import cement_size

SHORTEST_PIECE = 0.3  # m: a shorter end piece hardly holds two sockets; common practice, no source
_LONGEST_NAME = 80  # characters of a name that are shown
_TURNS = re.compile("[\u202a-\u202e\u2066-\u2069\u200e\u200f]")  # signs that turn the direction of writing


class Cut(Record):
    """One piece to saw: its name (what is written on it), its length, and the `stretch` that it is for.

    Source: `aquaplumb.build.sawn`.
    """

    name: str
    length: Length
    stretch: str


class Bar(Record):
    """One length from the shop: what is sawn from it, in order, and what is left.

    Source: `aquaplumb.workshop.cutting`.
    """

    cuts: tuple
    offcut: Length


class SizeCuts(Record):
    """All cuts of one size of pipe: `bars`, the fewest that could be (`bound`), whether it is `proven` the best.

    `couplings` join stretches longer than a bar, each named. `trimmed` is the number of bars that would do if each
    piece might be a saw's cut shorter, where that is fewer. `loose` marks pipe or hose that is known by its bore alone:
    its cuts are listed, and it is bought by the metre.

    Source: `cut_list`.
    """

    pipe: str
    size: str
    standard: str
    cement: str = ""  # the size of the cement table that its joints go by
    outside_diameter: Bore
    stock: Length | None
    bars: tuple
    bound: Number
    proven: bool
    couplings: tuple = ()
    trimmed: Number | None = None
    loose: bool = False

    @property
    def cuts(self) -> list[Cut]:
        """All its cuts, bar by bar."""
        return [cut for bar in self.bars for cut in bar.si.cuts]

    @property
    def total(self) -> float:
        """All its cuts together, bare metres."""
        return float(sum(cut.si.length for cut in self.cuts))

    @property
    def waste(self) -> float:
        """The part of the bought pipe that no stretch needs."""
        bought = (self.si.stock or 0.0) * len(self.bars)
        return 1.0 - self.total / bought if bought > 0 else 0.0

    @property
    def verdict(self) -> str:
        """How good the plan is, in words."""
        if self.loose:
            return "known by its bore alone: ask the shop, and buy it by the metre"
        if len(self.bars) == self.bound:
            return "fewer cannot do"
        fewest = f"the sum of the cuts alone would ask for {self.bound:.0f}"
        return f"fewer cannot do, which is proven ({fewest})" if self.proven else f"not proven best ({fewest})"

    def hint(self, saw: str) -> str:
        """What pieces a little shorter would save, or nothing."""
        if self.si.trimmed is None:
            return ""
        return f"If each piece may be {saw} shorter, {self.trimmed:.0f} do: see whether the fittings leave you that much."


class CutList:
    """What to saw from what: `sizes`, one `SizeCuts` for each kind of pipe, in the build's units."""

    def __init__(self, title: str, units: str, kerf: float, sizes: list[SizeCuts], runs: tuple[Assembly, ...] = ()):
        self.title, self.units, self.kerf, self.sizes, self.runs = title, units, kerf, tuple(sizes), runs

    def __iter__(self):
        return iter(self.sizes)

    def __len__(self) -> int:
        return len(self.sizes)

    def __getitem__(self, pipe: str) -> SizeCuts:
        for one in self.sizes:
            if one.si.pipe == pipe:
                return one
        raise DesignError(f"this cut list has no '{pipe}'; it has {', '.join(one.si.pipe for one in self.sizes) or 'nothing'}.")

    @property
    def supposed(self) -> bool:
        """Whether the legs of a stretch are supposed, since the file tells no route for it."""
        return any(not run.told and not run.whole and len(run.pieces) > 1 for run in self.runs)

    @property
    def remarks(self) -> tuple[str, ...]:
        """What to mind when sawing."""
        saw = "no width for the saw" if self.kerf == 0 else f"{tape(self.kerf, self.units)} for each cut"
        supposed = (
            "Where your file does not say how a pipe goes its pieces are guessed: saw those last, each marked in place. "
            if self.supposed
            else ""
        )
        return (
            f"Lengths are of each piece from end to end: from middle to middle of its fittings, less what they take up, and what goes into their sockets; {saw}.",
            f"{supposed}Measure each length from the shop first, and your own fittings against the table: makers differ. Put the pieces together dry, trim, and only then cement.",
        )

    def records(self) -> list[dict]:
        """One plain record for each cut, lengths in the build's words."""
        return [
            {
                "pipe": one.si.pipe, "bar": "" if one.loose else number, "of": "" if one.loose else tape(one.si.stock, self.units),
                "cut": cut.si.name, "length": tape(cut.si.length, self.units),
                "offcut": "" if one.loose else tape(bar.si.offcut, self.units),
            }
            for one in self.sizes
            for number, bar in enumerate(one.bars, start=1)
            for cut in bar.si.cuts
        ]  # fmt: skip

    def frame(self):
        """The cuts as a pandas DataFrame."""
        import pandas as pd

        return pd.DataFrame(self.records(), columns=["pipe", "bar", "of", "cut", "length", "offcut"])

    def __str__(self) -> str:
        lines = [f"{self.title}: cut list".lstrip(": "), *self.remarks]
        for one in self.sizes:
            if one.loose:
                lines += ["", f"{one.pipe}: {tape(one.total, self.units)} in all; {one.verdict}."]
            else:
                many = "length" if len(one.bars) == 1 else "lengths"
                lines += [
                    "",
                    f"{one.pipe}: {len(one.bars)} {many} of {tape(one.si.stock, self.units)}; {one.verdict}; {rounded(100 * one.waste)} % left over.",
                ]
                lines += [f"  {hint}"] if (hint := one.hint(tape(self.kerf, self.units))) else []
            for number, bar in enumerate(one.bars, start=1):
                cuts = " + ".join(f"{tape(cut.si.length, self.units)} ({cut.si.name})" for cut in bar.si.cuts)
                lines.append(f"  {cuts}" if one.loose else f"  {number}: {cuts}; left {tape(bar.si.offcut, self.units)}")
        return "\n".join(lines)

    def _repr_mimebundle_(self, include=None, exclude=None):
        """Folded under its title; sentences and lines that a narrow page breaks between words."""
        title, *rest = str(self).split("\n")
        lines = [(line.strip(), 1.5 if line.startswith(" ") else 0) for line in rest]
        shown = "".join(f'<p style="margin:0 0 0 {left}em">{html.escape(line) or "&nbsp;"}</p>' for line, left in lines)
        return {"text/plain": str(self), "text/html": folded(title, shown)}

    __repr__ = __str__


def tape(length: float, system: str = "metric") -> str:
    """Bare metres as a person reads them off a tape: whole millimetres, or feet and inches to a sixteenth.

    Source: common practice, no source.

    Examples
    --------
    >>> tape(2.345), tape(2.345, "US")
    ('2,345 mm', '7 ft 8 5/16 in')
    """
    if system != "US":
        return f"{round(1000 * length, 4):,.0f} mm"  # as a column of millimetres rounds a half
    return on_tape(length)


def high(height: float, units: str) -> str:
    """A height over or under the zero mark, as on a tape.

    Source: common practice, no source.

    Examples
    --------
    >>> high(-0.7, "metric")
    '−700 mm'
    """
    return ("−" if height < -1e-6 else "") + tape(abs(height), units)


def shown_name(name: str) -> str:
    """A person's own name for a thing, on one line and not too long; nothing in it is read as anything but text."""
    text = " ".join(_TURNS.sub("", str(name)).split())
    text = "".join(letter if letter.isprintable() else " " for letter in text)
    return text if len(text) <= _LONGEST_NAME else text[: _LONGEST_NAME - 1] + "…"


def labelled(piece: Sawn) -> str:
    """What is written on a piece: the name of its stretch and its number."""
    return f"{shown_name(piece.of)}-{piece.number}"


def stretches(build: Build) -> list[tuple[str, Record]]:
    """(name to show, record) of every stretch of pipe: suctions and pipes of the pumped lines, then what falls.

    A stretch of a pumped line is named with its line where there is more than one such line.
    """
    several = len(build.pumped) > 1
    found: list[tuple[str, Record]] = []
    for name, line in build.pumped.items():
        first = f"{shown_name(name)} › " if several else ""
        for part, ending in ((line.si.suction, " (suction)"), (line.si.pipe, "")):
            found += [(f"{first}{shown_name(s.si.name)}{ending}", s) for s in part]
    return found + [(shown_name(name), line) for name, line in build.falling.items()]


def cement_of(stretch: Record) -> str:
    """The size of the cement table that a stretch's joints go by; "" where no cement holds on it, or where its kind is not known."""
    s = stretch.si
    if not (s.size and s.standard):
        return ""
    row = pipe_sizes.pipe_size(s.size, s.standard).si
    return cement_size.si(row.size, row.outside_diameter) if row.joined_by == "cement" else ""


def pipe_of(stretch: Record, units: str) -> tuple[str, str, str, float]:
    """(whole name, size, standard, outside diameter [m]) of a stretch; a bore alone has no standard."""
    s = stretch.si
    if s.size and s.standard:
        row = pipe_sizes.pipe_size(s.size, s.standard).si
        return f"{row.size} {row.standard}", row.size, row.standard, row.outside_diameter
    size = f"bore {BORE.text(s.bore, units)}"
    return size, size, "", s.bore


@takes_quantities
def cut_list(build: Build | str, *, kerf: Length = cutting.KERF, stock: dict | None = None, time_limit: Time = 5.0) -> CutList:
    """Every stretch of a build, cut from as few lengths of pipe as can be.

    build: A build, or a path or demo name as `load` takes it.
    kerf (one value): What each cut takes away: 3 mm for a saw.
    stock: The lengths that your shop has, by standard: ``{"PN16": "6 m"}``. The usual ones when left out.
    time_limit (one value): For the proof that no plan is better, for each size.
    raises: Where a stock length cannot be read, or a size has too many pieces.

    A piece longer than a bar is cut in whole bars and the rest, joined by couplings; a rest under 0.3 m is shared
    with the bar before it.

    Source: `aquaplumb.workshop.cutting`; `aquaplumb.build.sawn`; ``data/stock.csv``.

    >>> cut_list("courtyard")["40 mm PN16"].bars[0].cuts[0].name
    'riser-3'
    """
    build = build if isinstance(build, Build) else load(build)
    lengths = _stock(stock, build)
    groups: dict[str, list] = {}
    runs = sawn(build)
    for (name, stretch), run in zip(stretches(build), runs, strict=True):
        if stretch.si.length > 0:
            groups.setdefault(pipe_of(stretch, build.units)[0], []).append((name, stretch, run))
    sizes = [_of_one_size(found, build.units, lengths, kerf, time_limit) for found in groups.values()]
    return CutList(build.title or build.name, build.units, float(kerf), sizes, runs)


def _stock(given: dict | None, build: Build) -> dict[str, float]:
    """Bare metres by standard, of what a person gave."""
    found = {}
    for name, length in (given or {}).items():
        standard = build.own.get("pipes", {}).get(name, name)
        number = quantity(length, LENGTH).m_as("m")
        if not 0.3 <= number <= 30:
            raise DesignError(f"stock: {standard} in lengths of {LENGTH.text(number)}; pipe is sold in lengths of 0.3 to 30 m.")
        found[pipe_sizes.pipe_size(pipe_sizes.sizes(standard)[0], standard).si.standard] = number
    return found


def _of_one_size(found: list, units: str, lengths: dict, kerf: Length, time_limit: Time) -> SizeCuts:
    pipe, size, standard, outside = pipe_of(found[0][1], units)
    fixed = {"pipe": pipe, "size": size, "standard": standard, "outside_diameter": outside, "cement": cement_of(found[0][1])}
    if not standard:
        whole = tuple(Cut.from_si(name=name, length=s.si.length, stretch=name) for name, s, _ in found)
        return SizeCuts.from_si(**fixed, stock=None, bars=(Bar.from_si(cuts=whole, offcut=0.0),), bound=1.0, proven=False, loose=True)
    stock = lengths.get(standard) or pipe_stock.stock_length.si(standard)
    cuts: list[Cut] = []
    couplings: list[str] = []
    for name, _, run in found:
        for piece in run.pieces:
            parts, label = _pieces(max(piece.length, piece.sockets), stock, name), labelled(piece)
            many = len(parts) > 1
            cuts += [
                Cut.from_si(name=f"{label}, part {n} of {len(parts)}" if many else label, length=p, stretch=name)
                for n, p in enumerate(parts, start=1)
            ]
            couplings += [name] * (len(parts) - 1)
    wanted = np.array([c.si.length for c in cuts])
    plan = cutting.cutting_plan.si(wanted, stock, kerf=kerf, time_limit=time_limit)
    trimmed = None
    if kerf > 0 and len(plan.si.bars) > math.ceil(wanted.sum() / stock - 1e-9):
        closer = len(cutting.cutting_plan.si(wanted, stock, kerf=0.0, time_limit=time_limit).si.bars)
        trimmed = float(closer) if closer < len(plan.si.bars) else None
    bars = tuple(Bar.from_si(cuts=tuple(cuts[i] for i in bar), offcut=float(left)) for bar, left in zip(plan.si.bars, plan.si.offcut))
    return SizeCuts.from_si(
        **fixed, stock=stock, bars=bars, bound=plan.si.bound, proven=plan.si.proven, couplings=tuple(couplings), trimmed=trimmed
    )


def _pieces(length: float, stock: float, name: str) -> list[float]:
    """A stretch in pieces that a bar can give."""
    count = math.ceil(length / stock - 1e-9)
    if count > cutting.MOST_PIECES:
        raise DesignError(
            f"{name} is {LENGTH.text(length)} long, {count:,} lengths of {LENGTH.text(stock)}; that is no home system. Check its length."
        )
    rest = length - (count - 1) * stock
    if count > 1 and rest < SHORTEST_PIECE:
        return [stock] * (count - 2) + [(stock + rest) / 2] * 2
    return [stock] * (count - 1) + [min(rest, stock)]

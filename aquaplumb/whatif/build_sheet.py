"""What if you are off? Notebook 13.

    build = my_build()
    build_sheet.picture(build)      # as the build stands, with every number 20 % off at the most
    build_sheet.panel(build)        # with sliders for how far off

Two thousand designs for each move, each with its own pump, heights, fittings, feed and bacteria (`aquaplumb.review.sweep`).
Every promise of the build is told as what there is over what is needed: from 1 on it holds. Besides, what the page hands
over: `shopping`, `settings`, `drawing`, `how_sure` and `commands`.
"""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np

from aquaplumb.build import Build
from aquaplumb.figures.build_sheet import SurePicture
from aquaplumb.review import review
from aquaplumb.review.designs import ENOUGH, SHARE_OFF, SweptBuild
from aquaplumb.review.ranges import FEEDING, KINDS_OF_FITTING, NITRIFICATION, unknowns
from aquaplumb.review.sweep import EVERYTHING, SolvedBlock, Sure, block, said, sweep
from aquaplumb.units import DEPTH, SHARE, DesignError, Kind, Length, Number, Record, rounded
from aquaplumb.whatif.base import Panel, Slider
from aquaplumb.whatif.found import told as told_on_page
from aquaplumb.whatif.sheet_tables import copied
from aquaplumb.whatif.tries import Try
from aquaplumb.whatif.whatif import Values, WhatIf

DESIGNS, SEED, SHEET = 2000, 1, "sheet.html"
OFF = {"pump": 0.20, "lift": 0.05, "fittings": 1.0, "feeding": 0.20, "bacteria": 0.20}  # where the sliders start
_FURTHEST = {"pump": 0.8, "lift": 2.0, "fittings": 1.0, "feeding": 1.0, "bacteria": 0.95}  # beyond, nothing is left of it
_LABELS = {
    "pump": "pump off by",
    "lift": "heights off by",
    "fittings": "fittings, of range in print",
    "feeding": "feed off by",
    "bacteria": "bacteria off by",
}
_SHARES, _REST = 6, 3  # more ends, or vessels, than this share one row
_LOW, _HIGH = 5, 95  # per cent: nine of ten designs lie between
_MEASURED = (
    "pump ",
    "lift ",
    "outlet ",
    "valve ",
    "water level ",
    "siphon ",
    "flow that starts a siphon",
    "overflow ",
    FEEDING,
)  # with a bucket, a tape, a watch or a scale
_SURE = 0.90  # chance under which a note says what to measure


class Sureness(Record):
    """What a build promises, in how many designs each promise holds, and what there is over what is needed.

    `names` has the promises; `chance`, `low`, `middle` and `high` are arrays, one value for each: the part of the designs,
    and the ratio under which 5, 50 and 95 of a hundred lie. `weakest` is the promise that fails most often, or comes closest
    to failing, `hangs_on` the unknown that it hangs on most. `unmended` says what the review has to stop for or to fix: much
    of that, such as wires, air or heat, no promise here knows of.
    """

    names: tuple
    chance: Number
    low: Number
    middle: Number
    high: Number
    everything: Number
    weakest: str
    hangs_on: str
    designs: int
    lift: Length
    unmended: str = ""

    def sentence(self, system: str = "metric") -> str:
        """The outcome in two or three sentences."""
        first = f"**Mend first:** the review has {self.si.unmended}; not all of it is seen here. " if self.si.unmended else ""
        return first + self._outcome()

    def _outcome(self) -> str:
        r = self.si
        place = r.names.index(r.weakest)
        measure = (
            f" It hangs most on {_named(r.hangs_on)}{': measure that first' if r.hangs_on.startswith(_MEASURED) else ''}."
            if r.hangs_on
            else ""
        )
        if r.everything >= 1:
            least = r.low[place]
            ratio = f"{rounded(least)} times what is needed, or more" if math.isfinite(least) else "far more than is needed"
            return f"**All {r.designs:,} designs hold.** Closest: {r.weakest}; 19 of 20 have {ratio}.{measure}"
        many = said(r.everything, r.designs)
        first = (
            f"**In {many}** of {r.designs:,} designs all of it holds."
            if r.everything > 0
            else f"**In none** of {r.designs:,} designs all of it holds."
        )
        return f"{first} Weakest: {r.weakest} ({said(r.chance[place], r.designs)}).{measure}"

    def moved_from(self, first: Sureness) -> str:
        """Which bar moved most against another run, and how far down it reaches now."""
        r, before = self.si, first.si
        with np.errstate(divide="ignore", invalid="ignore"):
            by = [abs(math.log(now / then)) if 0 < then < math.inf and 0 < now < math.inf else 0.0 for now, then in zip(r.low, before.low)]
        place = int(np.argmax(by))
        if by[place] < 0.02:
            return "Hardly a bar moves."
        return f"The bar “**{r.names[place]}**” moves most: it begins at {rounded(r.low[place])} times what is needed, where it was {rounded(before.low[place])}."

    def notes(self) -> list[tuple[str, str]]:
        """The promises that fail too often to buy on."""
        r = self.si
        order = sorted(range(len(r.names)), key=lambda i: r.chance[i])
        return [
            ("note", f"{r.names[i]}: {said(r.chance[i], r.designs)}. " + ("Mend the build before you buy." if r.chance[i] < 0.5 else "Measure, or leave it more to spare."))
            for i in order if r.chance[i] < _SURE
        ][:4]  # fmt: skip


def _named(unknown: str) -> str:
    """An unknown in a sentence."""
    return re.sub(r"^valve of ", "the valve of ", unknown)


def promises(margins: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """What a build promises, as what there is over what is needed, one value a design; it holds from 1 on.

    Shares hold within a tenth, flows from 95 % of what is wanted on, as in the findings. Of many alike the least counts.

    Source: `aquaplumb.review.designs`.
    """
    found: dict[str, list] = {}
    shares = sum(" gets its share" in name for name in margins)
    rests = sum(name.endswith(" holds a power cut") for name in margins)
    with np.errstate(divide="ignore"):
        for name, margin in margins.items():
            ratio, told = margin, name
            if " gets its share" in name:
                ratio = np.minimum(margin / (1 - SHARE_OFF), (1 + SHARE_OFF) / margin)
                told = "every end gets its share" if shares > _SHARES else name
            elif name.endswith(" brings what is wanted"):
                ratio = margin / ENOUGH
            elif name.endswith(" carries what comes"):
                told = "drains and overflows carry what comes"
            elif name.endswith((" starts", " stops")):
                told = f"siphons {name.rpartition(' ')[2][:-1]}"
            elif name.endswith(" holds a power cut") and rests > _REST:
                told = "every vessel holds a power cut"
            found.setdefault(told, []).append(ratio)
    return {name: np.min(ratios, axis=0) for name, ratios in found.items()}


class SureWhatIf(WhatIf):
    """Be further off, or closer, and see which promise breaks; what does not change between moves is kept."""

    drawn, page, keep_label = SurePicture, "13", "Keep it, and write the sheet"

    def __init__(self, build: Build):
        super().__init__(build)
        self.plan = SweptBuild(build)
        self.known = unknowns(build)
        self.unmended = ", ".join(part for part in review(build).verdict.split(", ") if part.endswith(("to stop for", "to fix")))
        self.seed = np.random.SeedSequence(SEED).spawn(1)[0]  # as `sweep` does: the same designs

    def bands(self, pump: float, lift: float, fittings: float, feeding: float, bacteria: float) -> dict:
        """(low, typical, high) of every unknown: those of the sliders as wide as they say, the others as usual; bare SI."""
        found = {}
        for name, one in self.known.items():
            band = one.low, one.typical, one.high
            if name in KINDS_OF_FITTING.values():
                band = -fittings, 0.0, fittings
            elif name.startswith(("pump flow of ", "pump head of ")):
                band = 1 - pump, 1.0, 1 + pump
            elif name.startswith("lift of "):
                band = -lift, 0.0, lift
            elif name == NITRIFICATION or name.startswith(FEEDING):
                off = bacteria if name == NITRIFICATION else feeding
                band = (1 - off) * one.typical, one.typical, (1 + off) * one.typical
            found[name] = band
        return found

    def sure(self, bands: dict) -> Sure:
        """The sweep, its chances those of the promises."""
        part = block(self.plan, bands, self.seed, DESIGNS)
        ratios = promises(part.margins)
        holds = {name: ratio >= 1 for name, ratio in ratios.items()}
        return Sure(self.plan, bands, [SolvedBlock(part.values, part.results, holds, ratios, part.size)], DESIGNS, SEED)

    def __call__(self, pump: float, lift: float, fittings: float, feeding: float, bacteria: float) -> Sureness:
        """All bare SI."""
        given = {"pump": pump, "lift": lift, "fittings": fittings, "feeding": feeding, "bacteria": bacteria}
        for name, off in given.items():
            if not 0 <= off <= _FURTHEST[name]:
                kind = DEPTH if name == "lift" else SHARE
                raise DesignError(
                    f"{_LABELS[name]} {kind.text(off, self.build.units)}: give from 0 to {kind.text(_FURTHEST[name], self.build.units)}; further off it is another system."
                )
        sure = self.sure(self.bands(pump, lift, fittings, feeding, bacteria))
        names = [name for name in sure.holds if name != EVERYTHING]
        chance = np.array([sure.chance(name) for name in names])
        low, middle, high = (
            np.array([np.percentile(sure.margins[name], at, method="inverted_cdf") for name in names]) for at in (_LOW, 50, _HIGH)
        )
        weakest = min(zip(chance, low, names))[2]
        hangs, strength = next(iter(sure.matters(weakest).items()), ("", 0.0))
        return Sureness.from_si(
            names=tuple(names), chance=chance, low=low, middle=middle, high=high, everything=sure.chance(EVERYTHING), weakest=weakest,
            hangs_on=hangs if abs(strength) > 3 / math.sqrt(DESIGNS) else "", designs=sure.n, lift=lift, unmended=self.unmended,
        )  # fmt: skip

    def own(self) -> dict:
        return {**OFF, "lift": 0.0508} if self.build.units == "US" else OFF  # 2 in, as the guess says

    def controls(self) -> list:
        def off(name: str, kind: Kind, high: str, step: str, tip: str) -> Slider:
            return Slider(name, _LABELS[name], kind, f"0 {step.split()[1]}", high, step, tip=tip, on_release=True, kept=False)

        return [
            off("pump", SHARE, "40 %", "1 %", "either way, in flow and in head; a new one may be 10 % off"),
            off("lift", DEPTH, "300 mm", "10 mm", "outlets against the sump's water, up or down"),
            off("fittings", SHARE, "100 %", "5 %", "0 %: every bend as typical; 100 %: from the least to the most that print has"),
            off("feeding", SHARE, "60 %", "2 %", "more or less than you planned"),
            off("bacteria", SHARE, "80 %", "2 %", "slower or faster than in print"),
        ]

    def findings(self, record, system: str) -> list[tuple[str, str]]:
        return record.notes()

    def slow(self, **values) -> bool:
        return True

    def changes(self, values: Values) -> dict[tuple, object]:
        return {}

    def told(self, new: dict, values: Values) -> str:
        return "your build as it stands; the sliders of this page are no part of it"

    def reviewed(self) -> list[tuple[str, str]]:
        """The last page tells all of them."""
        return [(f.severity, told_on_page(f, self.page)) for f in self.keeper.seen.findings] if self.keeper.seen else []

    def keep(self, panel: Panel) -> str:
        told = super().keep(panel)
        return f"{told} {_sheet(self.keeper.build)} {copied(self.keeper.build)}".strip()

    def tries(self) -> list[Try]:
        first = self(**self.own())

        def than(record: Sureness, system: str) -> str:
            return f"{record.moved_from(first)} {record._outcome()}"

        return [
            Try("A pump that nobody knows: set *{pump.label}* to **{pump}**.", {"pump": 0.40}, than),
            Try("A pump that was measured: **{pump}**.", {"pump": 0.0}, than),
            Try("Heights by eye: set *{lift.label}* to **{lift}**.", {"lift": 0.25}, than),
            Try("Feed by the handful: set *{feeding.label}* to **{feeding}**.", {"feeding": 0.60}, than),
            Try("Lazy bacteria: set *{bacteria.label}* to **{bacteria}**.", {"bacteria": 0.80}, than),
        ]  # fmt: skip

    def look(self, record: Sureness, system: str) -> str:
        share = " A share is good within a tenth, so its bar ends at 1.1." if any(" its share" in name for name in record.si.names) else ""
        return f"A bar for each promise: nine of ten designs lie in it. At the dashed line there is just enough; what reaches into the grey, red-orange, does not hold.{share}"

    def against(self, record: Sureness, demo: Sureness, system: str) -> str:
        r, d = record.si, demo.si
        theirs = f"the demo's holds in {said(d.everything, d.designs)}"
        if r.everything >= 1:
            return f"Yours holds in **all** designs too, as the demo's does; closest: {r.weakest}."
        hangs = f", and that hangs most on {_named(r.hangs_on)}" if r.hangs_on else ""
        place = r.names.index(r.weakest)
        return f"Yours holds in **{said(r.everything, r.designs)}**; {theirs}. What fails most often in yours: {r.weakest} ({said(r.chance[place], r.designs)} hold){hangs}."


sureness, picture, panel, sight = SureWhatIf.as_built, SureWhatIf.picture, SureWhatIf.panel, SureWhatIf.sight


# --- what the page hands over ------------------------------------------------------------------------------


def how_sure(build: Build, n: int = 4000) -> Sure:
    """The sweep of a build with every unknown in its usual range; always the same designs."""
    return sweep(build, None, n, seed=SEED)


def first_flow(build: Build) -> str:
    """The name of the flow of a build's first pumped line, as `how_sure` has it."""
    return f"line {next(iter(build.pumped))}.flow"


def drawing(build: Build):
    """The drawing of a build as built, with its levels; display it in a notebook."""
    from aquaplumb.workshop.as_built import AsBuilt

    return AsBuilt(build)


def commands(build: Build) -> str:
    """What to type in a terminal, in the folder of the build, for the whole sheet and for a comparison."""
    file = build.path.name if build.path else "my-build.toml"
    return "\n".join([
        f"python -m aquaplumb sheet {file} -o {SHEET}",
        f"python -m aquaplumb compare {Path(file).with_suffix('.before.toml')} {file}",
    ])  # fmt: skip


def _sheet(build: Build) -> str:
    """Write the sheet of a build beside its file; returns what was done, in a sentence."""
    from aquaplumb.workshop.sheet import sheet
    from aquaplumb.workshop.sheet.saving import saved

    assert build.path  # it was kept just now
    try:
        return saved(sheet(build), str(build.path.parent / SHEET))
    except DesignError as wrong:  # somebody has written in the one that is there
        return f"No new sheet: {wrong}"

"""The build sheet: everything that a builder takes to the workshop, as plain records in the order in which it is needed.

    made = sheet(load("courtyard"))
    made.grid("bucket").rows          # one table of it
    made.chapter("drills")            # one chapter

`aquaplumb.workshop.sheet.web_page` makes a page of it, `aquaplumb.workshop.sheet.workbook` a workbook or table files, `aquaplumb.workshop.sheet.pdf` a PDF.
"""

from __future__ import annotations

import datetime
import math
from pathlib import Path
from typing import Any

from aquaplumb.build import Build
from aquaplumb.given import takes_things
from aquaplumb.review import Review, not_seen, review
from aquaplumb.review.sweep import EVERYTHING, sweep
from aquaplumb.system.filtering import upkeep_tasks
from aquaplumb.units import (
    BODY_MASS,
    DAY,
    FLOW,
    HEAD,
    LENGTH,
    MASS_RATE,
    NUMBER,
    POWER,
    STOCKING,
    TEMPERATURE,
    VOLUME,
    DesignError,
    rounded,
    span,
)
from aquaplumb.workshop.cut_list import CutList, cut_list, pipe_of, stretches
from aquaplumb.workshop.parts import parts_list
from aquaplumb.workshop.sheet import placing, sawing
from aquaplumb.workshop.sheet.adjusting import heights, valves
from aquaplumb.workshop.sheet.cautions import cautions
from aquaplumb.workshop.sheet.drawing import drawing, pipes
from aquaplumb.workshop.sheet.laying import laying
from aquaplumb.workshop.sheet.records import (
    Block,
    Caution,
    Chapter,
    Grid,
    Names,
    Points,
    Sheet,
    Words,
    amount,
    count,
    words,
)
from aquaplumb.workshop.sheet.trials import setup
from aquaplumb.workshop.sheet.wall import mark, wall
from aquaplumb.workshop.sheet.working import order

DESIGNS, SEED = 2000, 1  # of the chapter on how sure it is
_UNSURE = 12  # chances that are shown, the least sure first


@takes_things
def sheet(
    build: Build | Any,
    *,
    designs: int = DESIGNS,
    seed: int = SEED,
    cuts: CutList | None = None,
    prices: str | Path | None = None,
    dated: str = "",
    start: str = "",
    whole: bool = False,
) -> Sheet:
    """The sheet of a build.

    build: A build, or a path or demo name as `load` takes it.
    designs: For the chapter on how sure it is, with `seed`: as `sweep`.
    cuts: From `cut_list`, where you chose other stock lengths or another saw.
    prices: Your own price file, as `PartsList.priced` takes it.
    dated: The day of the print, to stand on it.
    start: The day on which the work begins, "2027-03-01"; without it the calendar counts days.
    whole: Print the last chapter too, which has every number with its source.
    raises: Where the build cannot be read or solved, or a day is none.

    Source: each number names its own in the last chapter.

    >>> sheet("courtyard", designs=50).sound
    True
    """
    first = _day(start)
    seen, names = review(build), Names(build)
    system = seen.system
    cuts = cuts or cut_list(build)
    parts = parts_list(build, cuts=cuts)
    chapters = (
        wall(seen),
        _decisions(seen),
        Chapter("cautions", "Cautions", (Points(cautions(build.units)),)),
        order(system, cuts, first),
        drawing(seen),
        placing.plan(build),
        sawing.shopping(parts if prices is None else parts.priced(prices)),
        sawing.cuts(cuts, pipes(system)),
        *laying(build),
        placing.drilling(build),
        heights(system),
        valves(system),
        setup(system, cuts, sound=seen.sound),
        _upkeep(system),
        _sure(build, designs, seed),
        _sources(seen),
    )
    title = build.title or (build.path.stem if build.path else "") or "Build sheet"
    tidied = names.tidied(chapters)
    return Sheet(
        names(title, longest=80), names(build.about or "", longest=600), build.units, seen.verdict, seen.sound, tidied,
        file=names(build.path.name, longest=60) if build.path else "", dated=dated, mark=mark(tidied), whole=whole,
    )  # fmt: skip


def _day(text: str) -> datetime.date | None:
    """A day as a person writes it."""
    if not text:
        return None
    try:
        return datetime.date.fromisoformat(text.strip().replace("/", "-"))
    except ValueError:
        raise DesignError(f"'{text:.40}' is no day; write the year first, such as 2027-03-01.") from None


# --- decisions ------------------------------------------------------------------------------------------


def _decisions(seen: Review) -> Chapter:
    rows = tuple((f.severity, f.where, f.sentence, f.cure, f.notebook) for f in seen.findings)
    columns = (words("how bad"), words("where"), words("what is wrong"), words("what to do"), words("notebook"))
    lead = {
        True: "Nothing to stop for and nothing to fix.",
        False: "Not ready to build: mend every “stop” and “fix” first, in the file, and make the sheet anew.",
    }[seen.sound]
    blocks: list[Block] = [Words(lead) if seen.sound else Caution(lead)]
    blocks.append(Grid("findings", f"Open findings: {seen.verdict}", columns, rows) if rows else Words("Nothing found."))
    if seen.accepted:
        quiet = tuple((a.finding.severity, a.finding.where, a.finding.sentence, a.said) for a in seen.accepted)
        blocks.append(Grid("accepted", "Looked at and accepted", (*columns[:3], words("why")), quiet))
    blocks.append(Words(" ".join(not_seen(seen.build))))
    blocks.append(Grid("decisions", "What is decided", (words("what"), words("decided")), tuple(_decided(seen))))
    return Chapter("decisions", "Decisions and open findings", tuple(blocks))


def _decided(seen: Review):
    b, s = seen.build, seen.system
    units = b.units
    if s.build.month:
        yield "month", f"these are the numbers of {s.build.month}, in which most is asked of {s.living.words} or air"
    for name, one in s.stocks.items():
        f, tank = one.stock, s.tanks[one.tank]
        of, where = (f" ({name})", f"{one.tank}, ") if b.several else ("", "")
        yield (
            f"fish{of}, on the heaviest day",
            f"{round(one.count)} {f.species} of {BODY_MASS.text(f.body_mass, units)}, {STOCKING.text(f.density, units)} in {where}{VOLUME.text(tank.volume, units)}",
        )
        yield f"feed{of}, on that day", f"{MASS_RATE.text(one.feed, units)} with {rounded(100 * f.protein)} % protein"
    yield "water", f"{TEMPERATURE.text(s.cold, units)} to {TEMPERATURE.text(s.warm, units)}, pH {rounded(b.water.si.ph)}"
    growing = [bed.si for bed in b.growing]
    media = ", ".join(dict.fromkeys(bed.medium for bed in growing if bed.medium))
    yield (
        s.beds.words,
        f"{sum(bed.count for bed in growing):.0f} of {' and '.join(s.beds.crops)}, {seen['beds.area'].text(units)} together"
        + (f", filled with {media}" if media else ""),
    )
    for name, p in s.pumped.items():
        c = p.line.si.control.si
        runs = {
            "always": "all the time",
            "timer": f"{rounded(100 * p.duty)} % of the time, by a timer",
            "float": f"{rounded(100 * p.duty)} % of the time, by a float",
        }[c.kind]
        yield (
            f"pump of {name}",
            f"{p.pump.si.name}: {FLOW.text(p.flow, units)} at {HEAD.text(p.head, units)}; {FLOW.text(p.wanted, units) if math.isfinite(p.wanted) else 'more than any'} wanted; runs {runs}",
        )
    if b.air:
        a = b.air.si
        spare = f"; spare {a.backup_pump} on {a.backup_stones:g} stones" if a.backup_pump else "; no spare"
        yield "air", f"{a.pump or 'no pump'}, {a.stones:g} × {a.stone} at {LENGTH.text(a.depth, units)}{spare}"
        for plan in s.airs.values() if len(s.tanks) > 1 else []:
            yield (
                f"stones in {plan.tank.name}",
                f"{plan.usual.stones:g} of them" + (f", and {plan.spare.stones:g} of the spare's" if plan.spare.name else ""),
            )
    if b.power:
        yield (
            "battery supply",
            f"{b.power.si.voltage:g} V, {b.power.si.battery or 'no battery named'}"
            + (f", panel of {POWER.text(b.power.si.panel, units)}" if b.power.si.panel else ""),
        )
    if b.heat and b.heat.si.heater:
        yield "heater", POWER.text(b.heat.si.heater, units)
    sizes = dict.fromkeys(pipe_of(stretch, units)[0] for _, stretch in stretches(b))
    yield "pipe", ", ".join(sizes)


# --- upkeep -------------------------------------------------------------------------------------------------


def _upkeep(system) -> Chapter:
    units = system.build.units
    tasks = sorted(upkeep_tasks(system), key=lambda t: t.every)
    said = [] if tasks else ["Without feed there is nothing to go by."]
    rows = tuple((_each(t.every), t.name, float(t.every / DAY), t.how, t.never) for t in tasks)
    columns = (words("how often"), words("task"), count("every", "d", 0), words("how"), words("never"))
    said += ["For the heaviest day's feed; common practice, no source. More often is right whenever you see it is needed."]
    if system.build.upkeep is not None:
        p = system.upkeep
        if p.lots:
            lots = f"in {p.lots} lots" if p.lots > 1 else "in one lot"
            said.append(
                f"Base: up to {BODY_MASS.text(p.base_daily * DAY, units)} of {p.base} a day {lots}, dissolved in a bucket, and only as far as alkalinity and pH have fallen: test first."
            )
        said.append(
            f"Make-up water: about {VOLUME.text(p.make_up * DAY, units)} a day" + (", without its chlorine." if p.tap_chlorine > 0 else ".")
        )
        how = "with ammonia, before any fish" if p.section.start == "with ammonia" else "with a few fish and little feed"
        said.append(
            f"Start: {how}. Full stocking only when ammonia and nitrite have gone to nothing within a day of a full dose or a full feed."
        )
    return Chapter(
        "upkeep", "Upkeep calendar", (*([Grid("upkeep", "What to do, and how often", columns, rows)] if rows else []), Points(tuple(said)))
    )


def _each(seconds: float) -> str:
    said = span(seconds)
    return {"1 day": "each day", "7 days": "each week", "a year": "once a year"}.get(said, f"each {said}")


# --- how sure, and where from ---------------------------------------------------------------------------------


def _sure(build: Build, designs: int, seed: int) -> Chapter:
    try:
        found = sweep(build, None, designs, seed=seed)
    except DesignError as wrong:
        return Chapter("sure", "How sure", (Words(str(wrong)),))
    chances = {name: chance for name, chance in found.chances.items() if name != EVERYTHING}
    doubtful = sorted((name for name, chance in chances.items() if chance < 1), key=chances.__getitem__)[:_UNSURE]
    lines = [
        f"{found.n:,} designs like yours were solved, each with {len(found.unknowns)} unknowns drawn anew between a low and a high: what fittings cost, what pumps bring, heights, water, feed.",
        f"All of it holds in {found.said(EVERYTHING)} of them." if chances else "There is nothing to hold.",
    ]
    if chances and not doubtful:
        lines.append(f"Each of the {len(chances)} things asked (pumps, shares, drains, siphons, sump, media) holds in every one.")
    blocks: list[Block] = [Words(" ".join(lines))]
    if doubtful:
        rows = tuple((name, found.said(name), next(iter(found.matters(name)), "")) for name in doubtful)
        blocks.append(Grid("sure", "What may not hold", (words("what"), words("holds in"), words("hangs most on")), rows))
    shown = [name for name in found.results if name.startswith("line ") and name.endswith(".flow") and "›" not in name]
    spans = []
    for name in shown:
        low, high = (float(FLOW.shown(q.m_as("m³/s"), build.units)) for q in found.percentiles(name, (5, 95)).values())
        spans.append((found.label(name), low, high, next(iter(found.matters(name)), "")))
    if spans:
        columns = (words("what"), amount("from", FLOW, build.units), amount("to", FLOW, build.units), words("hangs most on"))
        blocks.append(Grid("spans", "Where nine of ten designs lie", columns, tuple(spans)))
    blocks.append(Words("A chance is as good as its ranges. The bucket tells more."))
    return Chapter("sure", "How sure", tuple(blocks))


def _sources(seen: Review) -> Chapter:
    units, rows = seen.build.units, []
    for r in seen.results.values():
        finite = math.isfinite(r.value)
        shown = float(r.kind.shown(r.value, units)) if finite else "not possible"
        rows.append(
            (
                r.section,
                f"{r.label}: {r.column}" if r.column else r.label,
                shown,
                r.kind.unit(units) if r.kind is not NUMBER else "",
                r.formula,
                r.source,
            )
        )
    columns = (words("part"), words("what"), count("value"), words("unit"), words("formula"), words("source"))
    intro = "Every number of the review. Sources are told in full in the help of each function and beside each row of the tables in the folder data. Demo pumps, prices and builds are invented."
    return Chapter(
        "sources",
        "Every number and its source",
        (Words(intro), Grid("sources", "Numbers, formulas, sources", columns, tuple(rows), grouped=True)),
    )

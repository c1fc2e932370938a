"""What to do about the air of a build, and what a review says of it, from its plan (`aquaplumb.system.air_plan`); bare SI numbers."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import replace

import numpy as np

from aquaplumb import air
from aquaplumb.air.air_pumps import air_pump
from aquaplumb.air.stones import AirStone, air_stone
from aquaplumb.air.tank_oxygen import changed
from aquaplumb.system.air_plan import POWER, AirPlan, needed
from aquaplumb.system.blown import LEAST, TYPICAL, blown_at, hung, shares
from aquaplumb.units import AIR_FLOW, CONCENTRATION, NUMBER, OXYGEN_RATE, TIME, Bare

LITTLE = 0.3  # of the air that an air pump gives with no depth: the rest is heat and wear; common practice, no source
MANY = 12.0  # stones in a tank, or in each m³ of a larger one: more than anybody hangs in; common practice, no source


def spare_needed(p: AirPlan, depth: float | None = None) -> Bare:
    """The spare that holds the critical level by itself for as long as it takes: a bare `BackupAir`, in the bands.

    Its stones hang where the build has them, or at another depth [m].
    """
    return needed(p.budget, p.critical, p.meal_peak, p.stone.si, p.depth if depth is None else depth)


def all_needed(plans: Collection[AirPlan], depth: float) -> Bare:
    """As `spare_needed`, of all tanks together: so much that each of them, with its part of the stones, holds its own level."""
    needs = [spare_needed(p, depth) for p in plans]
    if len(needs) == 1:
        return needs[0]
    stones = sum(np.asarray(need.stones, float) for need in needs)
    with np.errstate(invalid="ignore", divide="ignore"):
        each = np.max([np.nan_to_num(need.air_flow / need.stones, nan=0.0, posinf=np.inf) for need in needs], axis=0)
        return Bare(air_flow=np.where(stones > 0, each * stones, 0.0), stones=stones)


def all_running(plans: list[AirPlan], build) -> Bare | None:
    """The air and stones, in all, with which every tank holds what its fish need after a meal while all runs; None where stones cannot.

    As `all_needed` says it, and at the typical transfer of print: with everything running somebody can hang in more.
    """
    counts, each = {}, plans[0].stone.si.air_flow_typical
    for p in plans:
        one = air.stone_transfer.si(each, p.depth, per_depth=shares(p.stone.si)[TYPICAL], altitude=p.altitude)
        need = float(np.broadcast_to(air.standard_transfer_needed.si(p.fed, p.minimum), 3)[TYPICAL] / one)
        if not math.isfinite(need):
            return None
        counts[p.tank.name] = math.ceil(need)
    total = sum(counts.values())
    share = build.air_asked or {p.tank.name: spare_needed(p).air_flow[LEAST] for p in plans}
    while len(plans) > 1 and any(hung(total, share)[name] < count for name, count in counts.items()):
        total += 1
    return Bare(air_flow=np.full(3, total * each), stones=np.full(3, float(total)))


def larger_stone(plans: Collection[AirPlan], depth: float, names: Collection[str], *supplies: str) -> AirStone | None:
    """The smallest stone of the list of which no more than anybody hangs in hold the critical level of every tank by themselves.

    None where no stone does it, or no air pump of the list on those supplies blows them all.
    """
    now = max(p.stone.si.air_flow_typical for p in plans)
    rows = sorted((air_stone(name) for name in names), key=lambda row: row.si.air_flow_typical)
    for row in rows:
        swapped = [replace(p, stone=row) for p in plans]
        if row.si.air_flow_typical <= now or any(spare_needed(p, depth).stones[LEAST] > most_stones(p) for p in swapped):
            continue
        if pump_choice(swapped[0], all_needed(swapped, depth), depth, *supplies):
            return row
    return None


def most_stones(p: AirPlan) -> float:
    """The stones that anybody would hang into these tanks."""
    return math.floor(MANY * max(1.0, p.budget.si.volume))


def pump_choice(p: AirPlan, need: Bare, depth: float, *supplies: str) -> Bare | None:
    """The smallest air pump of the list that blows a need through its stones at a depth, of the first supply that has one; else None."""
    section, stones = Bare(**{**vars(p.section), "depth": depth}), need.stones[LEAST]
    place = {"temperature": p.temperature, "altitude": p.altitude}
    rows = [row for name in p.choice if (row := air_pump(name).si).supply in supplies]
    for row in sorted(rows, key=lambda row: (supplies.index(row.supply), row.power)):
        flow = blown_at(row.name, stones, section, p.stone, "", **place).flow
        if flow < LITTLE * row.open_flow:
            continue
        if min(flow, stones * (p.stone.si.air_flow_high or math.inf)) >= need.air_flow[LEAST]:
            return row
    return None


def held_by_stones(p: AirPlan, depth: float) -> float:
    """The part of the stock that as many stones as anybody hangs in hold at the critical level, at the least that they bring."""
    s = p.budget.si
    use = s.use * p.meal_peak + s.dirt
    air_flow = most_stones(p) * p.stone.si.air_flow_typical
    standard = air.stone_transfer.si(air_flow, depth, per_depth=shares(p.stone.si)[LEAST], altitude=p.altitude)
    still = air.without.si(changed(p.budget, standard_transfer=standard), air_runs=True)
    terms = air.oxygen_terms.si(still, p.critical).si
    return float((terms.air + terms.surface) / use) if use > 0 else math.inf


def air_rows(p: AirPlan, peak: float, *, part: bool = False) -> list[tuple]:
    """What a review says of the air: (name, label, kind, bare value, formula, source) of each number; `part` of one tank of several."""
    failure, need, balance = p.failures[p.cut], spare_needed(p), "mass balance of the tank's oxygen"
    r, biomass, print_ = p.tank.respiration, p.tank.biomass, "Timmons & Ebeling, Recirculating Aquaculture"
    hungry = max(r.si.by_feed, r.si.least)
    by = "by their feed" if hungry == r.si.by_feed else "by the least that any fish takes"
    rows = [
        (
            "use by feed",
            f"oxygen that the fish use after a meal, {by}",
            OXYGEN_RATE,
            biomass * peak * float(hungry),
            "feed / 4 × peak",
            print_,
        )
    ]
    if r.fit:
        rows.append(("use by fit", f"… by {r.fit}", OXYGEN_RATE, biomass * float(r.si.by_fit), "biomass × the fit", r.fit))
    rows.append(("use", f"… what counts, {r.governs(fed=True)}", OXYGEN_RATE, p.fed.si.use, "the larger", "`respiration`"))
    if p.fed.si.dirt > 0:
        rows.append(("dirt", "… and their dirt in the tank", OXYGEN_RATE, p.fed.si.dirt, "(0.5 − 0.25) × feed × share that stays", print_))
    curve = "its curve meets depth, stones and tubes", "data/airpumps.csv, data/airstones.csv"
    for name, blown in (("flow", p.usual), ("spare flow", p.spare)):
        if blown.name:
            rows.append((name, f"air from {blown.name}", AIR_FLOW, blown.flow, *curve))
            if part:
                rows.append(
                    (
                        name.replace("flow", "stones hung"),
                        f"… through so many of its stones, hung in {p.tank.name}",
                        NUMBER,
                        blown.stones,
                        "by the air that each tank needs",
                        "Adams' rule",
                    )
                )
    steady, held = ("inflow + stones + surface = use", f"{balance}; ASCE/EWRI 2-06"), ("stones + surface = use", balance)
    rows.append(("level", "oxygen with everything running", CONCENTRATION, p.steady[TYPICAL], *steady))
    rows.append(("critical", "danger begins below", CONCENTRATION, p.critical, "by species", "data/species.csv"))
    for name, label, time in (
        ("left", "from power failure to danger" if p.cut == POWER else f"from when {p.cut} to danger", failure.bare[TYPICAL]),
        ("left spare", "… with the spare", failure.lasts[TYPICAL]),
    ):
        if math.isfinite(time) and (name == "left" or p.spare.name):
            rows.append((name, label, TIME, time, "−ln(1 − k D/f)/k", balance))
    if p.battery:
        lasts = "capacity × voltage × usable part / power", "data/batteries.csv"
        rows.append(("battery", f"… whose battery lasts{'' if p.battery.told else ', if it has 7 Ah'}", TIME, p.battery.lasts, *lasts))
    if failure.spare:
        rows.append(("spare level", "oxygen that the spare holds", CONCENTRATION, failure.settles[TYPICAL], *held))
    if p.response is not None:
        rows.append(("response", "until somebody comes", TIME, p.response, "the build file", "the build file"))
    if 0 < need.air_flow[LEAST] < math.inf:
        alone = "use / (field factor × least share × depth)", "ASCE/EWRI 2-06; data/airstones.csv"
        rows.append(("spare needed", "air of a spare that holds it alone, poor stones", AIR_FLOW, need.air_flow[LEAST], *alone))
        each = "air / usual air of a stone", "data/airstones.csv"
        rows.append(("spare stones", "stones for that air", NUMBER, need.stones[LEAST], *each))
    return rows

"""Findings about looking after the water: alkalinity, nitrite and chloride, tap water, the start. Only where a build tells of its upkeep."""

from __future__ import annotations

import math

import numpy as np

from aquaplumb.review.findings.base import Finding, finding, fix, note, stop
from aquaplumb.system.first_fish import FirstFish, first_fish
from aquaplumb.system.upkeep_plan import FLOOR, MOST_LOTS, SALT, USUAL_ALKALINITY
from aquaplumb.units import BODY_MASS, CONCENTRATION, DAY, SALINITY, SHARE, VOLUME, span
from aquaplumb.water.bases import base_row
from aquaplumb.water.build_up import CHLORIDE_MOST, LETTUCE_CHLORIDE, SALT_MOST, SODIUM_MOST
from aquaplumb.water.chemistry import base_needed
from aquaplumb.water.cycling import PAUSE_ABOVE
from aquaplumb.water.start_alkalinity import RUN, start_alkalinity

RESERVE, LAST = 3 * DAY, DAY  # of alkalinity: over a weekend that nobody tests; until tomorrow. Common practice, no source
CHRONIC, ACUTE = 11e-6, 19e-6  # kg/m³ of chlorine: harms fish in days; in an hour. US EPA 1984, freshwater criteria
LEAST_RISE = 5e-3  # kg/m³ of alkalinity: a lot for water that has none; common practice, no source
MILD = ("NaHCO3", "KHCO3", "CaCO3")
_MILDEST = "potassium bicarbonate"
_WEEKS = 6  # told one by one
_LESS = 0.8  # of the week before: one asks why
_SOME = 5e-3  # of a finished biofilm: worth a word
TOO_MANY = "start with too many fish"
FATES = {"stop": "fish may die", "fix": "fish are harmed", "note": "fish may be harmed"}


def _upkeep(system):
    """The upkeep of a build that has the section, else None."""
    return system.upkeep if system.build.upkeep is not None else None


@finding("alkalinity running out", notebook="12")
def alkalinity_running_out(system, say):
    """The bacteria will have eaten the alkalinity within days."""
    p = _upkeep(system)
    if p is None or not p.alkalinity_time < RESERVE:
        return
    severity = stop if p.alkalinity_time < LAST else fix
    lasts = (
        f"{say(CONCENTRATION, p.alkalinity)} lasts {span(p.alkalinity_time)}"
        if p.alkalinity > FLOOR
        else f"{say(CONCENTRATION, p.alkalinity)} is too little already"
    )
    yield severity(
        "fish tank",
        f"At full load the bacteria eat {say(CONCENTRATION, p.alkalinity_fall * DAY)} of alkalinity (as CaCO3) a day: {lasts}. "
        f"Below {say(CONCENTRATION, FLOOR)} the pH falls and they stop.",
        f"{base_words(p, say)} Hold 100 mg/L or so, and test it each week.",
    )


@finding("alkalinity of the start", notebook="12", through_time=True)
def alkalinity_of_the_start(system, say):
    """A start with ammonia that eats its alkalinity up, with nobody who puts it back."""
    p = _upkeep(system)
    if p is None or p.section.start != "with ammonia" or p.section.dose <= 0:
        return
    held = p.section.alkalinity_held
    need = start_need(p, system.cold, held)
    if np.isnan(need.runs_out).all() or (held is not None and need.test_every > 0):
        return
    yield fix("fish tank", *start_words(p, need, held, say))


def start_need(p, temperature: float, held: float | None):
    """What a build's start eats of alkalinity, bare."""
    s = p.section
    usual = max(p.alkalinity, USUAL_ALKALINITY) if held is None else held
    return start_alkalinity.si(s.dose, p.water, p.base, alkalinity=p.alkalinity, held=usual, temperature=temperature, seed=s.seed).si


def start_words(p, need, held: float | None, say) -> tuple[str, str]:
    """What the start eats of alkalinity, and how to put it back, week by week."""
    days = sorted({round(day / DAY) for day in need.runs_out[~np.isnan(need.runs_out)]})
    until = "until the beds are ready" if len(need.base) * 7 * DAY < RUN else "in twelve weeks"
    on = f"on day {days[0]} to {days[-1]}" if len(days) > 1 else f"on day {days[0]}"
    told = (
        f"The start's doses eat {say(CONCENTRATION, need.eaten)} of alkalinity (as CaCO3) {until}. "
        f"With nothing put back, {say(CONCENTRATION, p.alkalinity)} is down to {say(CONCENTRATION, FLOOR)} {on}: the pH falls and the bacteria stop."
    )
    if not need.test_every:
        return told, "Dose less ammonia, or hold more alkalinity: the bacteria can eat this up within a day."
    target = max(p.alkalinity, USUAL_ALKALINITY) if held is None else held
    return told, f'{week_words(p, need, target, say)} Then write alkalinity_held = "{target * 1e3:.3g} mg/L" under [upkeep].'


def week_words(p, need, target: float, say) -> str:
    """The base of a start, week by week, and how often to test; of a base that makes the pH leap, in lots that add up to its weeks."""
    row, most = base_row(p.base), max(*need.base, need.after) / 7  # of a day
    test = f"Test the alkalinity every {span(need.test_every)} or oftener, and bring it back to {say(CONCENTRATION, target)} each time: of"
    if row.formula in MILD:
        return f"{test} {p.base} about {_weeks(need, 1.0, say)}."
    times = row.alkalinity / base_row(_MILDEST).alkalinity
    if most > MOST_LOTS * p.largest_lot:
        small = f"{p.base[:1].upper()}{p.base[1:]} cannot keep up, in lots that move the pH little."
        return f"{test} {_MILDEST} about {_weeks(need, times, say)}. {small}"
    lots = math.ceil(most / p.largest_lot - 1e-9)
    daily = "one a day" if lots == 1 else f"up to {lots} a day, hours apart"
    return (
        f"Give {p.base} day by day, in lots of {say(BODY_MASS, p.largest_lot)} at most, {daily}: about {_weeks(need, 1.0, say)}. "
        f"Test the alkalinity every {span(need.test_every)} or oftener; it should stand near {say(CONCENTRATION, target)}. "
        f"{times:.2g} times as much {_MILDEST} is easier: after each test, at once."
    )


def _weeks(need, times: float, say) -> str:
    """So many times the base of a start, week by week."""
    *rest, last = (say(BODY_MASS, times * mass) for mass in need.base[:_WEEKS])
    masses = f"{', '.join(mass.split()[0] for mass in rest)} and {last} in weeks 1 to {len(rest) + 1}" if rest else f"{last} in week 1"
    after = f", then about {say(BODY_MASS, times * need.after)} a week" if len(need.base) <= _WEEKS else ", and so on"
    return f"{masses}{after}, until the fish come{_fallen(need, say)}"


def _fallen(need, say) -> str:
    """Why a week of these asks for less base than the one before; nothing where none does."""
    shown = need.base[:_WEEKS]
    less = [week for week in range(1, len(shown)) if shown[week] < _LESS * shown[week - 1] and need.no_dose[week]]
    over = f"nitrite is over {say(CONCENTRATION, PAUSE_ABOVE)} on"
    return "".join(f". Less in week {week + 1}: {over} {need.no_dose[week]:.0f} mornings, so no dose goes in" for week in less)


def base_words(p, say) -> str:
    """How much base to give a day, in lots that fish bear."""
    daily = say(BODY_MASS, p.base_daily * DAY)
    if p.lots == 1:
        return f"Give {daily} of {p.base} a day, in one lot."
    if p.lots:
        return f"Give {daily} of {p.base} a day, in {p.lots} lots of {say(BODY_MASS, p.lot)}, hours apart."
    if (formula := base_row(p.base).formula) in MILD:
        lot = say(BODY_MASS, base_needed.si(LEAST_RISE, p.water, formula))
        return f"With so little alkalinity the pH jumps. Dissolve {lot} of {p.base}, add it slowly, and test the pH an hour later, before the next such lot; feed nothing until there is some."
    return f"No lot of {p.base} is safe here: take a bicarbonate, in small lots."


@finding("nitrite with too little chloride", notebook="12")
def nitrite_without_chloride(system, say):
    """Nitrite that the water's chloride does not keep out of the gills."""
    p = _upkeep(system)
    have = 0.0 if p is None else p.chloride or 0.0
    if p is None or p.nitrite <= 0 or have >= p.chloride_wanted:
        return
    limit = system.strictest("nitrite_limit").nitrite_limit
    severity = stop if have < p.chloride_least and limit is not None and p.nitrite > limit else fix
    there = f"the water has {say(CONCENTRATION, have)}" if p.chloride is not None else "the file tells of none"
    yield severity(
        "fish tank",
        f"Nitrite of {say(CONCENTRATION, p.nitrite)} (as N) asks for {say(CONCENTRATION, p.chloride_wanted)} of chloride to keep it out of the gills; {there}.",
        f"Feed nothing, change a quarter of the water, and give {say(BODY_MASS, p.salt)} of calcium chloride ({SALT}), dissolved, over some hours.",
    )


@finding("salt builds up", notebook="12")
def salt_builds_up(system, say):
    """Salt in the water, sodium of the base, or chloride, that passes what plants bear within a year."""
    if (salinity := system.build.water.si.salinity) > SALT_MOST:
        yield note(
            system.beds.words,
            f"The water holds {say(SALINITY, salinity)} of salt; most crops do badly over {say(SALINITY, SALT_MOST)}.",
            "Use fresher water, or grow what bears salt.",
        )
    p = _upkeep(system)
    if p is None:
        return
    changed = f"with {say(VOLUME, p.section.water_change)} of water changed a day" if p.section.water_change else "with no water changed"
    if p.sodium_year > SODIUM_MOST:
        of_base = p.metal == "sodium"
        yield note(
            system.beds.words,
            f"{f'With {p.base} to put back all the alkalinity that is eaten, s' if of_base else 'S'}odium rises to {say(CONCENTRATION, p.sodium_year)} in a year, "
            f"{changed}; sensitive crops are harmed over {say(CONCENTRATION, SODIUM_MOST)}.",
            "Take potassium bicarbonate instead: its potassium feeds the plants."
            if of_base
            else f"It comes with the feed. Change {say(VOLUME, p.sodium_given * DAY / SODIUM_MOST)} of water a day, and write it as water_change under [upkeep].",
        )
    crops = system.beds.crops
    most = LETTUCE_CHLORIDE if "lettuce" in crops else CHLORIDE_MOST
    if p.chloride_now > most:
        still = "and no water change thins it" if p.section.water_change <= 0 else f"in a year {say(CONCENTRATION, p.chloride_year)}"
        yield note(
            system.beds.words,
            f"Chloride stands at {say(CONCENTRATION, p.chloride_now)}, what the nitrite asks for counted, {still}; "
            f"{'lettuce' if 'lettuce' in crops else ' and '.join(crops)} may be harmed over {say(CONCENTRATION, most)}.",
            "Fish come first: keep it while there is nitrite. Then change some water each day, and write the lower chloride under [upkeep].",
        )


@finding("chlorine in tap water", notebook="12")
def chlorine_in_tap_water(system, say):
    """A day's tap water brings more chlorine than gills bear."""
    p = _upkeep(system)
    if p is None or p.chlorine <= CHRONIC:
        return
    severity, harm = (stop, "within the hour") if p.chlorine > ACUTE else (fix, "within days")
    what = "A change of" if p.section.water_change >= p.tap_water else "A day's make-up of"
    species = system.strictest("tan_limit")
    limit = species.tan_limit
    much = (
        f", over the {say(CONCENTRATION, limit)} that {species.name} bears: change less at once"
        if limit is not None and p.tap_ammonia > limit
        else ""
    )
    put_in = system.build.water.si.disinfectant
    if put_in == "chlorine" and system.build.water.si.rested:
        severity, harm = note, f"{harm} if it is still in it"
    acid = f"{say(BODY_MASS, p.dechlorinator)} of ascorbic acid (a tenth more does no harm)"
    stays = f"standing and air do not take it out, and treated it leaves up to {say(CONCENTRATION, p.tap_ammonia)} of ammonia (as N) in the system{much}."
    cure = {
        "": f"Treat it before it goes in: {acid}; then tap_chlorine is 0 mg/L. If your works use chloramine, {stays}",
        "chlorine": f"Treat it before it goes in: {acid}, or let it bubble in an open vessel for two or three days and test for total chlorine; then tap_chlorine is 0 mg/L.",
        "chloramine": f"Treat it before it goes in: {acid}; then tap_chlorine is 0 mg/L. It is chloramine: {stays}",
    }[put_in]
    yield severity(
        "fish tank",
        f"{what} {say(VOLUME, p.tap_water)} of tap water with {say(CONCENTRATION, p.tap_chlorine)} of chlorine brings the system to {say(CONCENTRATION, p.chlorine)}; "
        f"over {say(CONCENTRATION, ACUTE if p.chlorine > ACUTE else CHRONIC)} fish are harmed {harm}, and the beds' bacteria too.",
        cure,
    )


@finding(TOO_MANY, notebook="12", through_time=True)
def too_many_fish_at_first(system, say):
    """A start with fish whose weeks come to more ammonia or nitrite than they bear."""
    p = _upkeep(system)
    if p is None or p.section.start != "with fish":
        return
    s = p.section
    yield from first_fish_words(first_fish(system, first_share=s.first_share, ramp=s.ramp, seed=s.seed), say)


def start_findings(start: FirstFish, say) -> list[Finding]:
    """The same of a start that no build file has yet: that of a panel."""
    return [Finding(TOO_MANY, *told, "12") for told in first_fish_words(start, say)]


def first_fish_words(start: FirstFish, say) -> list[tuple[str, str, str, str]]:
    """How bad a start with fish is: severity, where, what its weeks come to, and a start that the fish bear; nothing where they bear this one."""
    worst = start.worst
    if worst is None:
        return []
    if start.first_share >= 1 or start.ramp < DAY:
        fish = "All the fish on the first day"
    else:
        fish = f"{say(SHARE, start.first_share)} of the fish on the first day, all after {span(start.ramp)}"
    media = "new media" if start.seed < _SOME else f"media with {say(SHARE, start.seed)} of a finished biofilm"
    changed = (
        f"even with {say(SHARE, start.water_change)} of the water changed when needed"
        if start.water_change > 0
        else "with no water changed"
    )
    whose, dies = worst.bears.whose, f", and may die past {say(CONCENTRATION, worst.bears.danger)}" * (worst.severity == "stop")
    return [
        (
            worst.severity,
            "fish tank",
            f"{fish}, on {media}: {FATES[worst.severity]}. {worst.what.capitalize()} comes to {say(CONCENTRATION, worst.value)} (as N)"
            f"{' with slow bacteria' * worst.slow}, {changed}; {whose} bears {say(CONCENTRATION, worst.bears.limit)}{dies}.",
            f"Start with ammonia and no fish.{_borne_words(start, say)}",
        )
    ]


def _borne_words(start: FirstFish, say) -> str:
    """What to do for a start with fish that they bear; nothing where none is known."""
    borne = start.borne
    if borne is None:
        return ""
    do = []
    if borne.seed > start.seed:
        in_all = " in all" * (start.seed >= _SOME)
        do.append(f"bring old, living media of a healthy system along, {say(SHARE, borne.seed)} of a finished biofilm{in_all}")
    if (borne.first_share, borne.ramp) != (start.first_share, start.ramp):
        do.append(f"begin with {say(SHARE, borne.first_share)} of the fish and bring in the rest over {span(borne.ramp)}")
    change = f", and change {say(SHARE, start.water_change)} of the water when there is over {say(CONCENTRATION, start.change_above)} of ammonia or nitrite"
    return f" Or {', '.join(do)}: the fish then bear it. Test each morning{change * (start.water_change > 0)}."

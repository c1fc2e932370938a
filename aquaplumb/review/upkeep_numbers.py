"""What a review says of the upkeep of a build, its nitrogen and its minerals: (name, label, kind, bare value, formula, source) of each number."""

from __future__ import annotations

import math

from aquaplumb.review.findings.upkeep import start_need
from aquaplumb.system import films
from aquaplumb.system.steady import Steady
from aquaplumb.units import BODY_MASS, CONCENTRATION, DAY, DAYS, MASS_RATE, NUMBER, VOLUME


def upkeep_rows(s: Steady) -> list[tuple]:
    """How the water is looked after; only where the build tells of it."""
    if s.build.upkeep is None:
        return []
    p, mixing, charge = s.upkeep, "mass balance", "one charge for each of alkalinity"
    dioxide, carbonate = "carbonate sum; the carbon dioxide stays", "Plummer and Busenberg (1982)"
    filmed = any(films.flows_through(v) for v in s.build.vessels.values())
    changed = f"at {VOLUME.text(p.section.water_change, s.build.units)} of water changed a day"
    rows = [
        (
            "water",
            "water in the whole system",
            VOLUME,
            p.water,
            "area × working depth, less the media" + ("; and films on their way" if filmed else ""),
            "geometry; Manning, Nusselt 1916" if filmed else "geometry",
        ),
        (
            "alkalinity fall",
            "alkalinity eaten in a day (as CaCO3)",
            CONCENTRATION,
            p.alkalinity_fall * DAY,
            "7.15 × ammonia N / water",
            "stoichiometry",
        ),
        (
            "alkalinity lasts",
            "alkalinity lasts, with nothing added",
            DAYS,
            p.alkalinity_time,
            "(alkalinity − 20 mg/L) / fall",
            "definition",
        ),
        ("ph later", "pH in a week, with nothing put back", NUMBER, p.weeks.ph_alone[1], dioxide, carbonate),
        ("ph given", f"pH in {p.weeks.week[-1]:g} weeks, with the base below", NUMBER, p.weeks.ph_given[-1], dioxide, carbonate),
        ("nitrate rise", "nitrate made in a day, before plants (as N)", CONCENTRATION, p.nitrate_rise * DAY, "ammonia N / water", mixing),
        ("metal rise", f"{p.metal} that its base leaves in a month, before plants", CONCENTRATION, p.metal_month, charge, "stoichiometry"),
        ("metal year", f"{p.metal} that its base leaves in a year, before plants", CONCENTRATION, p.metal_year, changed, mixing),
        ("base", f"{p.base} a day", MASS_RATE, p.base_daily, "puts back what is eaten", "stoichiometry"),
        (
            "largest lot",
            "largest lot of it for one day's pH",
            BODY_MASS,
            p.largest_lot,
            "pH rises by 0.3 at most",
            "FAO 589; closed carbonate water",
        ),
        ("make-up", "make-up water a day", VOLUME, p.make_up * DAY, "evaporation + plants", "FAO 589; 5 mm/d and 2 mm/d assumed"),
        ("chlorine", "chlorine from a day's tap water, untreated", CONCENTRATION, p.chlorine, "tap water's × its part", mixing),
    ]
    rows.append(("sodium year", "sodium in a year, of feed and base", CONCENTRATION, p.sodium_year, changed, mixing))
    if p.chloride_now > 0:
        rows.append(
            ("chloride year", "chloride in a year, with feed's and salt for nitrite", CONCENTRATION, p.chloride_year, changed, mixing)
        )
    if p.nitrite > 0:
        rows.append(
            (
                "chloride wanted",
                "chloride that the nitrite asks for",
                CONCENTRATION,
                p.chloride_wanted,
                f"{p.chloride_wanted / p.nitrite:.3g} for one of nitrite as N",
                "SRAC 462; for trout Gutiérrez et al. 2019",
            )
        )
    if p.section.start == "with ammonia":
        rows.append(
            ("dose", "ammonium chloride for a dose of the start", BODY_MASS, p.dose_mass, "dose × water × 53.49 / 14.01", "molar masses")
        )
        if p.section.dose > 0:
            need = start_need(p, s.cold, p.section.alkalinity_held)
            rows.append(
                (
                    "start alkalinity",
                    "alkalinity that the start eats (as CaCO3)",
                    CONCENTRATION,
                    need.eaten,
                    "7.15 × ammonia N turned until ready",
                    "stoichiometry",
                )
            )
    else:
        rows.append(
            (
                "first ammonia",
                "ammonia a day of the first fish (as N)",
                CONCENTRATION,
                p.ammonia_rise * DAY,
                "first share × ammonia / water",
                mixing,
            )
        )
    return rows


def daily_nitrogen_rows(s: Steady) -> list[tuple]:
    """Where the feed's nitrogen goes; only where the build tells of its upkeep."""
    if s.build.upkeep is None:
        return []
    n, fao, rest = s.upkeep.nitrogen, "FAO 589 (2014) app. 4", "mass balance"
    rows = [
        ("feed", "in the feed, all as N", MASS_RATE, n.feed, "0.16 × feed × protein", fao),
        ("fish", "kept by the fish", MASS_RATE, n.fish, "0.30 × that in the feed", fao),
        ("solids", "in the solids", MASS_RATE, n.solids, "feed − fish − ammonia", rest),
        ("ammonia", "in the ammonia, then nitrate", MASS_RATE, n.ammonia, "0.092 × feed × protein", "Timmons & Ebeling, Recirculating Aquaculture"),
        ("plants", f"taken by the plants, all {s.beds.words} full", MASS_RATE, n.plants, "0.43 g/m²/d, as tomato's fruit", "Graber and Junge (2009)"),
        ("left", "left as nitrate", MASS_RATE, n.left, "ammonia − plants", rest),
    ]  # fmt: skip
    if s.upkeep.change_wanted is not None:
        rows.append(
            ("change", "water to change a day, for the fish's nitrate limit", VOLUME, s.upkeep.change_wanted * DAY, "left / limit", rest)
        )
        room = s.strictest("nitrate_limit").nitrate_limit * s.upkeep.water
        rows.append(
            (
                "limit in",
                "until nitrate reaches that limit, with none changed",
                DAYS,
                room / n.left if n.left > 0 else math.inf,
                "limit × water / left",
                rest,
            )
        )
    return rows


def mineral_rows(s: Steady) -> list[tuple]:
    """What plants ask for beside nitrogen; only where the build tells of its upkeep."""
    if s.build.upkeep is None:
        return []
    m, rows = s.upkeep.minerals, []
    for name in ("potassium", "calcium", "magnesium"):
        one, memory = getattr(m, name).si, "Graber and Junge (2009)" if name == "potassium" else "from memory"
        rows += [
            (f"{name} brought", f"{name} that feed brings", MASS_RATE, one.brought, "a part of the ammonia N", "Yang and Kim (2020)"),
            (f"{name} missing", f"{name} that plants take beyond it", MASS_RATE, one.missing, "a part of their N − feed's", memory),
        ]
    given = (
        "iron",
        "iron every three weeks, as Fe, of a DTPA chelate",
        BODY_MASS,
        m.iron,
        "2 mg/L",
        "UVI system; FAO 589 (2014): 1 to 2 mg/L",
    )
    return [*rows, given]

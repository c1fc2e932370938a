"""The numbers of a build, one `Result` each with its formula and source, in the order in which a review tells them.

A review gives them the system that its run has shown (`Steady.in_time`). Then the most that comes into a vessel or that a
falling line has to carry, the lowest and highest water, a float pump's share of the time, starts and rounds are those of
the run. What flows over the hour, and all that follows from it, is of the balance, which tests hold to the run.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from aquaplumb.review.upkeep_numbers import daily_nitrogen_rows, mineral_rows, upkeep_rows
from aquaplumb.system.air_advice import air_rows
from aquaplumb.system.heat_plan import heat_rows
from aquaplumb.system.plunging import inlet_cells
from aquaplumb.system.power_plan import power_rows
from aquaplumb.system.season_rows import month_rows, nitrogen_rows
from aquaplumb.system.steady import Steady
from aquaplumb.units import (
    AIR_FLOW,
    AREA,
    BORE,
    CONCENTRATION,
    ENERGY,
    FLOOR_LOAD,
    FLOW,
    FORCE,
    HEAD,
    HOUR,
    LENGTH,
    MASS,
    MASS_RATE,
    NUMBER,
    OXYGEN_RATE,
    POWER,
    RISE,
    SHARE,
    SPEED,
    STOCKING,
    TIME,
    VOLUME,
    Kind,
    rounded,
)

RUN = "balance of mass through time"  # the source of what is read off the run
_ROUNDS = 0.01  # an hour: what starts late and early may differ by as one


@dataclass(frozen=True)
class Result:
    """One number of a build: its name, what it is, its bare SI `value`, the formula and the source.

    Where several things have the same numbers (stretches, falling lines) `label` is the thing, `column` the number.
    """

    name: str
    label: str
    kind: Kind
    value: float
    formula: str
    source: str
    section: str
    column: str = ""
    yours: bool = False  #: whether it stands on a row or a file of the builder's own

    @property
    def what(self) -> str:
        """What it is, in words."""
        return f"{self.label}: {self.column}" if self.column else self.label

    @property
    def quantity(self):
        """The value with its SI unit."""
        return self.kind.quantity(self.value)

    def text(self, system: str = "metric") -> str:
        """The value as a builder reads it."""
        if not math.isfinite(self.value):
            return "not possible"
        return self.kind.text(self.value, system)

    def shown(self, system: str = "metric") -> str:
        """The same, with a word where it stands on what is the builder's own."""
        return f"{self.text(system)}, yours" if self.yours else self.text(system)


def results(s: Steady):
    """Every number of a build."""
    yield from _fish(s)
    yield from _season(s)
    yield from _beds(s)
    yield from _filters(s)
    yield from _need(s)
    for name, p in s.airs.items():
        of, prefix = ("", "air") if len(s.tanks) == 1 else (f" in {name}", f"air {name}")
        yield from _rows(
            f"Air and oxygen{of}, warmest water, after a meal", prefix, air_rows(p, s.build.water.si.oxygen_peak, part=len(s.tanks) > 1)
        )
    yield from _rafts(s)
    for line in s.pumped.values():
        yield from _pumped(line, s)
    yield from _drippers(s)
    for section, name, thing, cells in inlet_cells(s, s.turning):
        yield from _cells(section, name, thing, cells)
    yield from _vessels(s)
    for fall in sorted(s.falling.values(), key=lambda f: f.siphon is not None):
        yield from _falling(fall, s)
    yield from _rows("Power", "power", power_rows(s.power, s.year))
    yield from _rows("Warmth, on the coldest night", "heat", heat_rows(s.heat))
    yield from _rows("Upkeep", "upkeep", upkeep_rows(s))
    yield from _rows("Nitrogen, on the heaviest day", "nitrogen", daily_nitrogen_rows(s))
    yield from _rows("Minerals for the plants, before tap water and base", "minerals", mineral_rows(s))


def _rows(section: str, prefix: str, rows):
    for name, label, kind, value, formula, source in rows:
        yield Result(f"{prefix}.{name}", label, kind, float(value), formula, source, section)


def _cells(section: str, name: str, thing: str, rows):
    for column, kind, value, formula, source in rows:
        yield Result(f"{name}.{column}", thing, kind, float(value), formula, source, section, column)


def _fish(s: Steady):
    f, stocks = s.fish, list(s.stocks.values())
    print_ = "Timmons & Ebeling, Recirculating Aquaculture"
    by = f"what counts: {f.respiration.governs()}" if len(stocks) == 1 else "of all stocks"
    for one in stocks if s.build.several else []:
        yield from _cells("Stocks of fish", f"stock {one.name}", f"{one.name}: {one.stock.species} in {one.tank}", [
            ("fish", MASS, one.biomass, "count × body mass, or its share of the water × density", "definition"),
            ("number", NUMBER, round(one.count), "biomass / body mass", "definition"),
            ("feed", MASS_RATE, one.feed, "biomass × feeding rate", "definition"),
            ("oxygen after a meal", OXYGEN_RATE, one.fed_oxygen, f"what counts: {one.respiration.governs(fed=True)}", print_),
        ])  # fmt: skip
    for tank in s.tanks.values() if s.build.several else []:
        yield from _cells("Fish tanks", f"tank {tank.name}", tank.name, [
            ("water", VOLUME, tank.volume, "area × working depth", "geometry"),
            ("fish", MASS, tank.biomass, "all stocks in it", "definition"),
            ("density", STOCKING, tank.density, "fish / water", "definition"),
        ])  # fmt: skip
    title = " and ".join(dict.fromkeys(one.species.name for one in stocks))
    yield from _rows(f"Fish: {title}", "fish", [
        ("tank volume", "water in the fish tanks", VOLUME, f.tank_volume, "area × working depth", "geometry"),
        ("biomass", "fish on the heaviest day", MASS, f.biomass, "volume × density", "definition"),
        ("count", "number of fish", NUMBER, round(f.count), "biomass / body mass", "definition"),
        ("feed", "feed on the heaviest day", MASS_RATE, f.feed, "biomass × feeding rate", "definition"),
        ("ammonia", "ammonia made (as N)", MASS_RATE, f.ammonia, "0.092 × feed × protein", print_),
        ("oxygen", "oxygen that the fish use", OXYGEN_RATE, f.oxygen, by, print_),
        ("bed oxygen", f"oxygen that the {s.living.words}' bacteria use", OXYGEN_RATE, f.bed_oxygen, "4.57 × ammonia N", "stoichiometry"),
        ("carbon dioxide", "carbon dioxide made", MASS_RATE, f.carbon_dioxide, "1.375 × the fish's oxygen", "stoichiometry"),
        ("solids", "solids made (dry)", MASS_RATE, f.solids, "a share of the feed", print_),
        ("alkalinity", "alkalinity used (as CaCO3)", MASS_RATE, f.alkalinity, "7.15 × ammonia N", "stoichiometry"),
    ])  # fmt: skip


def _season(s: Steady):
    """A year, month by month; only where the build has a season."""
    if s.season is None:
        return
    for month, cells in month_rows(s.season, s.heat_months):
        yield from _cells("A year, the most of each month", f"season {month}", month, cells)
    yield from _rows("Nitrogen of the year", "year nitrogen", nitrogen_rows(s.season.nitrogen))


def _beds(s: Steady):
    b, live, only = s.beds, s.living, s.beds.words == "beds"
    feeds = "FAO 589 (2014) §8.1" if only else "FAO 589 (2014) §8.1; Rakocy (2007); SRAC 454"
    rows = [
        ("area", "growing area", AREA, b.area, f"length × width of the {b.words}{'' if only else ', or sites / spacing'}", "geometry"),
        ("area needed", f"area that the feed supports ({', '.join(b.crops)})", AREA, b.area_needed, "feed / feed per area", feeds),
        ("plants", "plants it holds", NUMBER, int(b.plants), "area × spacing" if only else "sites, or area × spacing", "FAO 589 (2014) §8.1"),
        *([("media", "media", VOLUME, live.media, "area × media depth", "geometry")] if only or live.media else []),
        ("surface", "surface for bacteria", AREA, live.surface["typical"], "media × specific surface" if only else "media × specific surface; boards; walls",
         "data/media.csv" if only else "data/media.csv; see `fish.living`"),
        ("surface needed", f"surface needed, {'coldest' if live.slowest == s.cold else 'warmest'} water", AREA, live.surface_needed["typical"], "ammonia / removal rate", "SRAC 282; FAO 589 (2014) app. 4"),
    ]  # fmt: skip
    if not only or len(b.crops) > 1:
        rows += [
            (f"plants {name}", f"plants in {name} ({', '.join(g.crops)})", NUMBER, int(g.plants), "sites, or area × spacing", feeds)
            for name, g in b.each.items()
        ]
    loads = s.floor_loads()
    rows += [
        (f"load {n}", f"load of {n} on the floor", FLOOR_LOAD, load, "mass brimful × g / area", "statics") for n, load in loads.items()
    ]
    for n, (force, pressure) in s.leg_loads().items():
        rows.append((f"leg {n}", f"each leg of {n} stands on the floor with", FORCE, force, "mass brimful × g / legs", "statics"))
        if pressure is not None:
            rows.append((f"foot {n}", f"load under a foot of {n}", FLOOR_LOAD, pressure, "force / foot", "statics"))
    return _rows(b.words[0].upper() + b.words[1:], "beds", rows)


def _filters(s: Steady):
    """How each filter works, and what each pump's loop does; only where there is more than beds."""
    hazen, memory = "Hazen (1904)", "Timmons & Ebeling, from memory"
    for f in s.filters.values():
        cells = [
            ("gets", FLOW, f.flow, "all lines that end in it", "mass balance"),
            ("rises at", RISE, f.rise, "flow at most / plan area", hazen),
            ("bears", RISE, f.rise_limit, "the strictest that it does", "SRAC 453, from memory; Davidson & Summerfelt (2005)"),
            ("catches grains from", BORE, f.caught, "sinks as fast as the water rises, or the mesh", "Ferguson & Church (2004)"),
            ("takes out of the solids, at what it bears", SHARE, f.catches, "as measured", "Davidson & Summerfelt (2005)"),
            ("holds its water for", TIME, f.stay, "water / flow", "definition"),
            ("through its face", RISE, f.speed, "flow at most / face", "continuity"),
            ("wets its media with", RISE, f.wetting, "flow / plan area", memory),
            ("is filled with carriers", SHARE, f.fill, "media / water", "Rusten et al. (2006), from memory"),
            ("drives out of the carbon dioxide", SHARE, f.stripped, "1 − 0.4^fall, by its air", memory),
            ("turns of ammonia (as N)", MASS_RATE, f.turns or None, "surface × removal rate", "SRAC 282"),
        ]  # fmt: skip
        yield from _cells("Filters", f"filter {f.name}", f"{f.name} ({', '.join(f.does)})", [cell for cell in cells if cell[2] is not None])
    if not s.filters and s.living.words == "beds":
        return
    rows = []
    for loop in s.loops.values():
        where = f"loop of {loop.line}: "
        rows += [
            (f"{loop.line} ammonia", f"{where}ammonia turned by {', '.join(loop.turns) or 'nothing'}", MASS_RATE, loop.turned, "surface × removal rate", "SRAC 282"),
            (f"{loop.line} solids", f"{where}solids leave by {', '.join(loop.solids) or 'no filter'}", MASS_RATE, s.fish.solids if loop.solids else 0.0, "those made, dry", memory),
        ]  # fmt: skip
        if math.isfinite(loop.margin):
            rows.append(
                (
                    f"{loop.line} first",
                    f"{where}nearest its limit, {loop.first}: has over needs",
                    NUMBER,
                    loop.margin,
                    "limit / load",
                    "as above",
                )
            )
    yield from _rows("Loops: ammonia and solids", "loop", rows)


def _rafts(s: Steady):
    """The oxygen under the boards of rafts, in the warmest water."""
    for r in s.rafts.values():
        yield from _cells("Oxygen under rafts, warmest water", f"raft {r.name}", r.name, [
            ("comes with", CONCENTRATION, r.comes, "as [water] has it, less what filters take", "mass balance"),
            ("its roots take", OXYGEN_RATE, r.roots, "boards × 3 g/m²/d", "common practice, no source"),
            ("its bacteria take", OXYGEN_RATE, r.bacteria, "4.57 × ammonia N, by its part of their surface", "stoichiometry"),
            ("blown in", AIR_FLOW, r.blown, "the build file", "FAO 589 (2014) §4.5: 4 L/min for 2 to 4 m²"),
            ("settles at", CONCENTRATION, r.settles, "inflow + stones = use", "mass balance"),
        ])  # fmt: skip


def _drippers(s: Steady):
    """What each end at towers gives, and with how much head."""
    for d in s.drippers:
        cells = [("each tower gets", FLOW, d.each, "flow of the end / towers on it", "the line at work")]
        if d.bored:
            cells += [
                ("through holes of", BORE, d.bore, "the build file", "the build file"),
                ("head over them", HEAD, d.head, "(Q / (n Cd A))² / 2g, Cd 0.61", "Torricelli"),
            ]
        yield from _cells("Drippers of towers, while the pump runs", f"dripper {d.name}", f"{d.name} ({d.tower})", cells)


def _need(s: Steady):
    n = s.need
    return _rows("Flow that is needed", "need", [
        ("turnover", "for turnover, through the tank", FLOW, n.turnover, "volume × turnovers", "definition"),
        ("oxygen", "for oxygen, through the tank, warmest water", FLOW, n.oxygen, "oxygen × peak / (in − out)", "mass balance"),
        ("carbon dioxide", "for carbon dioxide, through the tank", FLOW, n.carbon_dioxide, "(carbon dioxide − what stones drive out) / (limit − in)" if n.stripping else "carbon dioxide / (limit − in)", "mass balance"),
        *([("stripping", "… and so much water the air stones keep free of it", FLOW, n.stripping, "air × H × (1 − exp(−k/(air × H)))", "Matter-Müller et al. (1981); 0.9 of oxygen's KLa")] if n.stripping else []),
        ("ammonia", f"for ammonia, through the {s.living.words}", FLOW, n.ammonia, "ammonia / (limit × removal)", "Losordo & DeLong (2015), mass balance"),
        ("saturation", "oxygen in full water, warmest", CONCENTRATION, n.saturation, "Benson–Krause", "APHA 4500-O"),
    ])  # fmt: skip


def _pumped(p, s: Steady):
    seen = f"measured on {p.line.si.measured_on}; " if p.line.si.measured_on else ""
    low, high = (
        ("… at the least that the bucket leaves open", "… at the most")
        if seen
        else ("… if the fittings cost the most", "… if they cost the least")
    )
    rows = [
        ("wanted", f"flow wanted while it runs, {p.wanted_why}", FLOW, p.wanted, "need / share / duty", "mass balance"),
        ("flow", "flow delivered", FLOW, p.flow, "pump curve meets the tree's losses", f"{seen}Darcy–Weisbach, Colebrook"),
        (
            "flow low",
            low,
            FLOW,
            p.low,
            "with the high K of each fitting" if not seen else "losses a tenth higher, pump 2 % weaker",
            seen or "data/fittings.csv",
        ),
        (
            "flow high",
            high,
            FLOW,
            p.high,
            "with the low K of each fitting" if not seen else "losses a tenth lower, pump 2 % stronger",
            seen or "data/fittings.csv",
        ),
        ("head", "head of the pump", HEAD, p.head, "lift + friction + fittings", "energy balance"),
        (
            "lift",
            "lift alone, from the lowest water in use",
            HEAD,
            p.lift,
            "highest outlet − working level, or a float's off level",
            "geometry",
        ),
        ("box", "flow on its box (no lift)", FLOW, float(p.pump.si.flow[-1]), "the pump's last point", "maker's points"),
    ]
    if p.power is not None:
        rows.append(("power", "power drawn", POWER, p.power, "the pump's points", "maker's points"))
        rows.append(("energy", "energy of a year", ENERGY, p.power * p.duty * 8760 * 3600, "power × duty × 8760 h", "arithmetic"))
    if p.cost is not None:
        a_year = f"cost of a year, at {rounded(s.build.site.si.power_price)} a kWh"
        rows.append(("cost", a_year, NUMBER, p.cost, "power × duty × 8760 h × price, and what battery and charger keep", "arithmetic"))
    if p.duty < 1:
        rows.append(
            (
                "duty",
                "part of the time that it runs",
                SHARE,
                p.duty,
                "minutes on / cycle; of a float, over whole rounds of the run",
                "definition",
            )
        )
    if s.shown and (often := s.shown.pumps[p.name].starts):
        rows.append(("starts", "starts in an hour", NUMBER, often * HOUR, "starts of the run, while nothing fails", RUN))
    section = f"Pumped line: {p.name} ({p.pump.si.name})"
    yield from _rows(section, f"line {p.name}", rows)
    into = {o.name: o for o in p.outlets}
    for pipe in p.line.si.pipe:
        name = pipe.si.name
        cells = [
            ("flow", FLOW, p.stretch_flow[name], "whole tree at once", "energy and mass balance"),
            ("speed", SPEED, p.stretch_speed[name], "flow / area", "continuity"),
        ]
        if name in into:
            cells.append(("share", SHARE, into[name].share, "flow / flow of the line", "definition"))
            cells.append(("wanted share", SHARE, into[name].wanted_share, "the build file, else an even split", "definition"))
        yield from _cells(section, f"line {p.name} › {name}", name, cells)


def _vessels(s: Steady):
    for v in s.vessels.values():
        cells = [
            ("over an hour", FLOW, v.mean, "all lines that end in it", "mass balance"),
            ("at most, siphons running", FLOW, v.peak, "all lines that end in it, pumps running, siphons at full flow", "mass balance"),
        ]
        if s.shown:
            bands = [one.vessels[v.name] for one in s.shown.bands]
            cells += [
                ("water at its lowest", LENGTH, min(one.lowest for one in bands), "of the run, while nothing fails", RUN),
                ("at its highest", LENGTH, max(one.highest for one in bands), "of the run, while nothing fails", RUN),
            ]
        yield from _cells("What comes into each vessel, and how deep it stands", f"vessel {v.name}", v.name, cells)


def _falling(f, s: Steady):
    loss = "energy balance, Darcy–Weisbach"
    cells = [("has to carry", FLOW, f.load, "what comes into its vessel", "mass balance")]
    if f.siphon:
        c, section, own = f.siphon.si, "Siphons", f.line.si.siphon.si
        day = f"measured on {own.measured_on}" if own.measured_on else "measured"
        printed = [
            ("Froude number 1 in the standpipe", "print says 1 or 2; none measured"),
            ("Froude number 2", "Simpson (1968), from memory"),
        ]
        may, sure = [("a tenth round the flow that first started it", day)] * 2 if own.starts is not None else printed
        vent = ("the largest flow at which it stopped", day) if own.stops is not None else ("full bore, level at the vent", loss)
        cells += [
            ("may start from", FLOW, c.starting.si.may, *may),
            ("sure to start from", FLOW, c.starting.si.sure, *sure),
            ("carries when full", FLOW, c.flow_at_full, "full bore, level at the lip", loss),
            ("carries at its vent", FLOW, c.flow_at_vent, *vent),
        ]  # fmt: skip
        if s.shown:
            late, early = (one.siphons[f.name].starts * HOUR for one in (s.shown, s.shown.early or s.shown))
            cells.append(("rounds an hour", NUMBER, late, "starts of the run, siphons starting late", RUN))
            cells += (
                [("or, starting early", NUMBER, early, "starts of the run, siphons starting early", RUN)]
                if abs(early - late) > _ROUNDS
                else []
            )
    else:
        section = "Overflows, drains and gravity lines"
        cells += [
            ("carries up to the brim", FLOW, f.capacity, "least of weir, orifice and full pipe", "SCS riser formulas; " + loss),
            ("Froude number (quiet to 0.3)", NUMBER, f.froude, "speed / √(g bore)", "quiet to 0.3: Hills (1983)"),
        ] if f.leaves_vessel else [("speed, pipe full", SPEED, f.speed, "flow / bore's area", "continuity")]  # fmt: skip
    if f.screen_speed is not None:
        cells.append(("through its screen", SPEED, f.screen_speed, "load / open area", "continuity"))
    yield from _cells(
        section, f"fall {f.name}", f.name + (" (emergency)" if f.line.si.emergency and "emergency" not in f.name else ""), cells
    )

"""The review of a build: every steady number of it, with its formula and source, and what is wrong with it.

seen = review(load("my-build.toml"))
print(seen)                          # readable at a glance
seen["fish.feed"].quantity           # one number, as a quantity
seen.findings                        # what to mend, worst first
"""

from __future__ import annotations

import functools
import html
import json
import math
from dataclasses import dataclass, fields
from typing import Any

from aquaplumb.build import Build
from aquaplumb.build.sections import OPTIONAL
from aquaplumb.given import takes_things
from aquaplumb.review import findings as _findings
from aquaplumb.review.findings import Finding
from aquaplumb.system.air_plan import air_rows
from aquaplumb.system.heat_plan import heat_rows
from aquaplumb.system.power_plan import power_rows
from aquaplumb.system.steady import Steady
from aquaplumb.tables import unknown
from aquaplumb.units import (
    AREA,
    BODY_MASS,
    CONCENTRATION,
    DAY,
    DAYS,
    ENERGY,
    FLOOR_LOAD,
    FLOW,
    HEAD,
    MASS,
    MASS_RATE,
    NUMBER,
    POWER,
    SHARE,
    SPEED,
    VOLUME,
    DesignError,
    Kind,
    html_table,
    rounded,
)


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


@takes_things
def not_seen(build: Build) -> list[str]:
    """What the three words of a finding mean, and what no review looks at. Source: none."""
    left_out = [name for name in OPTIONAL if getattr(build, name) is None]
    told = f" Your file says nothing of {', '.join(left_out)}: little of that was looked at." if left_out else ""
    return [
        "stop: do not run it so; fix: it will disappoint; note: worth knowing.",
        "Power cuts and failures were run through by computer, not with your pipes. Not looked at: leaks, what holds pipe and",
        f"tanks up, dirt that gathers for months, disease.{told}",
        "Try each failure with real water before fish go in.",
    ]


class Review:
    """What a review found: `results` by name, `findings` worst first, and the solved `system` behind them."""

    def __init__(self, system: Steady):
        self.system, self.build = system, system.build
        self.results = {r.name: r for r in _results(system)}

    @functools.cached_property
    def findings(self) -> list[Finding]:
        """What is wrong, worst first; the first look runs the standard failures (`aquaplumb.system.drills`)."""
        return _findings.found(self.system, through_time=True)

    def __getitem__(self, name: str) -> Result:
        if name not in self.results:
            raise DesignError(unknown("review", name, self.results))
        return self.results[name]

    def finding(self, name: str) -> Finding:
        """The first finding of a name."""
        for one in self.findings:
            if one.name == name:
                return one
        raise DesignError(
            f"this review has no finding '{name}'; it has {', '.join(dict.fromkeys(f.name for f in self.findings)) or 'none'}."
        )

    @property
    def sound(self) -> bool:
        """Whether nothing is there to stop for or to fix."""
        return not any(f.severity in ("stop", "fix") for f in self.findings)

    @property
    def verdict(self) -> str:
        """The findings counted, in a few words."""
        count = {s: sum(f.severity == s for f in self.findings) for s in _findings.SEVERITIES}
        words = [f"{count['stop']} to stop for"] * bool(count["stop"]) + [f"{count['fix']} to fix"] * bool(count["fix"])
        notes = f"{count['note']} note{'s' * (count['note'] != 1)}" if count["note"] else ""
        return ", ".join([*words, *([notes] if notes else [])]) or "nothing found"

    @property
    def so_far(self) -> str:
        """The system in one line, as each notebook begins with it."""
        f, b, units = self.system.fish, self.system.beds, self.build.units
        lines = "; ".join(f"{p.name} brings {FLOW.text(p.flow, units)} at {HEAD.text(p.head, units)}" for p in self.system.pumped.values())
        return (
            f"{self.build.title or 'Your system'}: {VOLUME.text(f.tank_volume, units)} of water, {MASS.text(f.biomass, units)} of fish, "
            f"{MASS_RATE.text(f.feed, units)} of feed, {AREA.text(b.area, units)} of beds; {lines}. {self.verdict.capitalize()}."
        )

    def as_dict(self) -> dict:
        """All of it as plain data: results in SI units and in the build's, findings as they are said."""
        return {
            "build": self.build.title,
            "units": self.build.units,
            "sound": self.sound,
            "results": [
                {
                    "name": r.name, "label": r.what, "section": r.section,
                    "value": r.value if math.isfinite(r.value) else None, "unit": r.kind.si,
                    "shown": r.text(self.build.units), "formula": r.formula, "source": r.source,
                }
                for r in self.results.values()
            ],
            "findings": [vars(f) for f in self.findings],
        }  # fmt: skip

    def as_json(self) -> str:
        """`as_dict` as JSON text."""
        return json.dumps(self.as_dict(), indent=2, ensure_ascii=False)

    def frame(self):
        """The results as a pandas DataFrame, a row each: its key, what it is, its number and unit, and how it is shown."""
        import pandas as pd

        units = self.build.units
        rows = [
            (key, r.section, r.what, float(r.kind.shown(r.value, units)), r.kind.unit(units), r.text(units), r.formula, r.source)
            for key, r in self.results.items()
        ]
        return pd.DataFrame(rows, columns=["key", "part", "what", "number", "unit", "shown", "formula", "source"])

    def findings_frame(self):
        """The findings as a pandas DataFrame, a row each, worst first."""
        import pandas as pd

        return pd.DataFrame([vars(f) for f in self.findings], columns=[field.name for field in fields(Finding)])

    def _repr_html_(self) -> str:
        parts = dict.fromkeys(r.section for r in self.results.values())
        tables = [
            html_table(part, [(r.what, r.text(self.build.units)) for r in self.results.values() if r.section == part]) for part in parts
        ]
        found = [(f.severity, f"{f.name} · {f.where}", f.sentence, f"{f.cure} (notebook {f.notebook})") for f in self.findings]
        wrong = html_table("Findings", found, ("", "what", "how", "cure")) if found else ""
        head, *about = (f"<p>{html.escape(line)}</p>" for line in self._headline())
        numbers = f"<details><summary>The numbers</summary>{''.join(tables)}</details>"
        return f"<div>{head}{''.join(about)}{wrong}{numbers}<p>{html.escape(' '.join(not_seen(self.build)))}</p></div>"

    def __str__(self) -> str:
        return "\n".join([*self._headline(), *self._numbers(), *self._said()])

    __repr__ = __str__

    @property
    def advice(self) -> str:
        """The verdict and the findings, without the numbers."""
        return "\n".join([*self._headline()[:1], *self._said()])

    def part(self, start: str) -> str:
        """The numbers of the sections whose heading starts so, such as "Pumped line"."""
        return "\n".join(self._numbers(start)).strip("\n")

    def _headline(self) -> list[str]:
        b = self.build
        return [f"{b.title or b.name}: {self.verdict}", *([b.about] if b.about else [])]

    def _numbers(self, start: str = "") -> list[str]:
        """The results: one a line where they stand alone, one a column where several things have the same."""
        lines = []
        alone = [r for r in self.results.values() if r.column == ""]
        wide = max(len(r.label) for r in alone)
        for section in dict.fromkeys(r.section for r in self.results.values() if r.section.startswith(start)):
            rows = [r for r in self.results.values() if r.section == section]
            lines += ["", section]
            lines += [f"  {r.label:<{wide}}  {r.text(self.build.units)}" for r in rows if not r.column]
            lines += self._table([r for r in rows if r.column])
        return lines

    def _table(self, rows: list[Result]) -> list[str]:
        if not rows:
            return []
        columns = list(dict.fromkeys(r.column for r in rows))
        cells = {(r.label, r.column): r.text(self.build.units) for r in rows}
        things = list(dict.fromkeys(r.label for r in rows))
        first = max(len(t) for t in things)
        wide = {c: max(len(c), *(len(cells.get((t, c), "")) for t in things)) for c in columns}
        table = ["  " + " " * first + "".join(f"  {c:>{wide[c]}}" for c in columns)]
        table += [f"  {t:<{first}}" + "".join(f"  {cells.get((t, c), ''):>{wide[c]}}" for c in columns) for t in things]
        return [line.rstrip() for line in table]

    def _said(self) -> list[str]:
        lines = ["", f"Findings: {self.verdict}"]
        for f in self.findings:
            lines += [f"  {f.severity:<4}  {f.name} · {f.where}", f"        {f.sentence}", f"        → {f.cure} (notebook {f.notebook})"]
        return [*lines, "", *not_seen(self.build)]


@takes_things
def review(build: Build | Any) -> Review:
    """Everything steady about a build, computed once, and what is wrong with it.

    Parameters
    ----------
    build : Build
        A build, or a path or demo name as `load` takes it.

    Returns
    -------
    Review

    Raises
    ------
    DesignError
        Where the build cannot be read or solved.

    Source: each result names its own.

    Examples
    --------
    >>> review("courtyard").sound
    True
    """
    return Review(Steady(build))


# --- the list of results ---------------------------------------------------------------------------


def _results(s: Steady):
    yield from _fish(s)
    yield from _beds(s)
    yield from _need(s)
    yield from _rows("Air and oxygen, warmest water, after a meal", "air", air_rows(s.air))
    for line in s.pumped.values():
        yield from _pumped(line, s)
    yield from _vessels(s)
    for fall in sorted(s.falling.values(), key=lambda f: f.siphon is not None):
        yield from _falling(fall)
    yield from _rows("Power", "power", power_rows(s.power, s.year))
    yield from _rows("Warmth, on the coldest night", "heat", heat_rows(s.heat))
    yield from _upkeep(s)


def _rows(section: str, prefix: str, rows):
    for name, label, kind, value, formula, source in rows:
        yield Result(f"{prefix}.{name}", label, kind, float(value), formula, source, section)


def _cells(section: str, name: str, thing: str, rows):
    for column, kind, value, formula, source in rows:
        yield Result(f"{name}.{column}", thing, kind, float(value), formula, source, section, column)


def _fish(s: Steady):
    f = s.fish
    print_ = "Timmons & Ebeling, Recirculating Aquaculture"
    return _rows(f"Fish: {s.species.si.name}", "fish", [
        ("tank volume", "water in the fish tanks", VOLUME, f.tank_volume, "area × working depth", "geometry"),
        ("biomass", "fish on the heaviest day", MASS, f.biomass, "volume × density", "definition"),
        ("count", "number of fish", NUMBER, round(f.count), "biomass / body mass", "definition"),
        ("feed", "feed on the heaviest day", MASS_RATE, f.feed, "biomass × feeding rate", "definition"),
        ("ammonia", "ammonia made (as N)", MASS_RATE, f.ammonia, "0.092 × feed × protein", print_),
        ("oxygen", "oxygen that the fish use", MASS_RATE, f.oxygen, "a quarter of the feed", print_),
        ("bed oxygen", "oxygen that the beds' bacteria use", MASS_RATE, f.bed_oxygen, "4.57 × ammonia N", "stoichiometry"),
        ("carbon dioxide", "carbon dioxide made", MASS_RATE, f.carbon_dioxide, "1.375 × the fish's oxygen", "stoichiometry"),
        ("solids", "solids made (dry)", MASS_RATE, f.solids, "a share of the feed", print_),
        ("alkalinity", "alkalinity used (as CaCO3)", MASS_RATE, f.alkalinity, "7.15 × ammonia N", "stoichiometry"),
    ])  # fmt: skip


def _beds(s: Steady):
    b = s.beds
    rows = [
        ("area", "growing area", AREA, b.area, "length × width of the beds", "geometry"),
        ("area needed", f"area that the feed supports ({s.crop.si.name})", AREA, b.area_needed, "feed / feed per area", "FAO 589 (2014) §8.1"),
        ("plants", "plants it holds", NUMBER, int(b.plants), "area × spacing", "FAO 589 (2014) §8.1"),
        ("media", "media", VOLUME, b.media, "area × media depth", "geometry"),
        ("surface", "surface for bacteria", AREA, b.surface["typical"], "media × specific surface", "data/media.csv"),
        ("surface needed", "surface needed, coldest water", AREA, b.surface_needed["typical"], "ammonia / removal rate", "SRAC 282; FAO 589 (2014) app. 4"),
    ]  # fmt: skip
    loads = s.floor_loads()
    rows += [
        (f"load {n}", f"load of {n} on the floor", FLOOR_LOAD, load, "mass brimful × g / area", "statics") for n, load in loads.items()
    ]
    return _rows("Beds", "beds", rows)


def _need(s: Steady):
    n = s.need
    return _rows("Flow that is needed", "need", [
        ("turnover", "for turnover, through the tank", FLOW, n.turnover, "volume × turnovers", "definition"),
        ("oxygen", "for oxygen, through the tank, warmest water", FLOW, n.oxygen, "oxygen × peak / (in − out)", "mass balance"),
        ("carbon dioxide", "for carbon dioxide, through the tank", FLOW, n.carbon_dioxide, "carbon dioxide / (limit − in)", "mass balance"),
        ("ammonia", "for ammonia, through the beds", FLOW, n.ammonia, "ammonia / (limit × removal)", "Losordo & DeLong (2015), mass balance"),
        ("saturation", "oxygen in full water, warmest", CONCENTRATION, n.saturation, "Benson–Krause", "APHA 4500-O"),
    ])  # fmt: skip


def _pumped(p, s: Steady):
    rows = [
        ("wanted", f"flow wanted while it runs, {p.wanted_why}", FLOW, p.wanted, "need / share / duty", "mass balance"),
        ("flow", "flow delivered", FLOW, p.flow, "pump curve meets the tree's losses", "Darcy–Weisbach, Colebrook"),
        ("flow low", "… if the fittings cost the most", FLOW, p.low, "with the high K of each fitting", "data/fittings.csv"),
        ("flow high", "… if they cost the least", FLOW, p.high, "with the low K of each fitting", "data/fittings.csv"),
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
        rows.append(("duty", "part of the time that it runs", SHARE, p.duty, "minutes on / cycle, or inflow / flow", "definition"))
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
        yield from _cells("What comes into each vessel", f"vessel {v.name}", v.name, [
            ("over an hour", FLOW, v.mean, "all lines that end in it", "mass balance"),
            ("at most, siphons running", FLOW, v.peak, "all lines that end in it, pumps running, siphons at full flow", "mass balance"),
        ])  # fmt: skip


def _falling(f):
    loss = "energy balance, Darcy–Weisbach"
    cells = [("has to carry", FLOW, f.load, "what comes into its vessel", "mass balance")]
    if f.siphon:
        c, section = f.siphon.si, "Siphons"
        cells += [
            ("may start from", FLOW, c.starting.si.may, "Froude number 1 in the standpipe", "print says 1 or 2; none measured"),
            ("sure to start from", FLOW, c.starting.si.sure, "Froude number 2", "Simpson (1968), from memory"),
            ("carries when full", FLOW, c.flow_at_full, "full bore, level at the lip", loss),
            ("carries at its vent", FLOW, c.flow_at_vent, "full bore, level at the vent", loss),
        ]  # fmt: skip
    else:
        section = "Overflows, drains and gravity lines"
        cells += [
            ("carries up to the brim", FLOW, f.capacity, "least of weir, orifice and full pipe", "SCS riser formulas; " + loss),
            ("Froude number (quiet to 0.3)", NUMBER, f.froude, "speed / √(g bore)", "quiet to 0.3: Hills (1983)"),
        ]  # fmt: skip
    if f.screen_speed is not None:
        cells.append(("through its screen", SPEED, f.screen_speed, "load / open area", "continuity"))
    yield from _cells(
        section, f"fall {f.name}", f.name + (" (emergency)" if f.line.si.emergency and "emergency" not in f.name else ""), cells
    )


def _upkeep(s: Steady):
    """How the water is looked after; only where the build tells of it."""
    if s.build.upkeep is None:
        return []
    p, mixing = s.upkeep, "mass balance"
    rows = [
        ("water", "water in the whole system", VOLUME, p.water, "area × working depth, less the media", "geometry"),
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
    if p.nitrite > 0:
        rows.append(
            (
                "chloride wanted",
                "chloride that the nitrite asks for",
                CONCENTRATION,
                p.chloride_wanted,
                "ten for one of nitrite as NO2",
                "SRAC 462",
            )
        )
    if p.section.start == "with ammonia":
        rows.append(
            ("dose", "ammonium chloride for a dose of the start", BODY_MASS, p.dose_mass, "dose × water × 53.49 / 14.01", "molar masses")
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
    return _rows("Upkeep", "upkeep", rows)

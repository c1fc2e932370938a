"""The text of a first build file, from the numbers of a plan (see `aquaplumb.build.layouts`)."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from aquaplumb.build.falling_records import FallingLine, FallingTree
from aquaplumb.build.file_text import REMARKS
from aquaplumb.build.layout_plan import INCH, Loop, Plan, up
from aquaplumb.build.vessels import Vessel
from aquaplumb.units import AIR_FLOW, BODY_MASS, CONCENTRATION, MASS, RATE, STOCKING, VOLUME, Bare

_FOOT = 12 * INCH


def text(p: Plan) -> str:
    """The file's text. Every number in it is one that a person can read and change."""
    parts = [*_top(p), "# --- vessels ---", ""]
    for vessel in p.vessels:
        parts += _vessel(p, vessel)
    for loop in p.loops:
        parts += _pumped(p, loop)
    parts += ["# --- everything that falls: water needs no pump to go down, only a wide enough way ---", ""]
    for fall in p.falls:
        parts += _fall(p, fall)
    return "\n".join(parts).rstrip() + "\n"


# --- numbers as a builder writes them ---------------------------------------------------------------


def _short(number: float, digits: int) -> str:
    return f"{round(number, digits) + 0.0:g}"


def _length(p: Plan, si: float) -> str:
    """A size or a height: metres, or inches."""
    return f'"{_short(si / INCH, 1)} in"' if p.kit.units == "US" else f'"{si + 0.0:.2f} m"'


def _bore(p: Plan, si: float) -> str:
    """A small hole: millimetres, or inches."""
    return f'"{_short(si / INCH, 2)} in"' if p.kit.units == "US" else f'"{_short(1e3 * si, 1)} mm"'


def _degrees(p: Plan, kelvin: float) -> str:
    celsius = kelvin - 273.15
    return f'"{_short(celsius * 1.8 + 32, 1)} degF"' if p.kit.units == "US" else f'"{_short(celsius, 1)} degC"'


def _section(heading: str, rows: Sequence[tuple[str, ...]]) -> list[str]:
    """A TOML section: (key, value as it is written, remark)."""
    lines = [heading]
    for key, value, *remark in rows:
        line = f"{key} = {value}"
        lines.append(f"{line:<38} # {remark[0]}" if remark and remark[0] else line)
    return [*lines, ""]


# --- the parts of the file ------------------------------------------------------------------------------


def _top(p: Plan) -> list[str]:
    site, wanted = p.site.si, p.wanted.si
    us = p.kit.units == "US"
    altitude = f'"{_short(site.altitude / _FOOT, 0)} ft"' if us else f'"{_short(site.altitude, 0)} m"'
    title = p.title.replace("\\", "").replace('"', "'")
    title = "".join(sign for sign in title if sign.isprintable())[:80]
    return [
        "# Your build file: a first system, to change as you like. Any unit does (mm or in, L or gal).",
        "# Heights count from the ground; below it they are negative. A line that starts with # is only a remark.",
        "# Pumps are invented for the demo, sizes are common practice: check both before you buy.",
        "",
        f'title = "{title}"',
        f'about = "A first build: {p.about}."',
        f'units = "{p.kit.units}"' + (" " * 14 if us else " " * 10) + ' # how numbers are shown: "metric" or "US"',
        "",
        *_section("[site]", [
            ("altitude", altitude, "high up, water holds less oxygen"),
            ("coldest_water", _degrees(p, site.coldest_water)),
            ("warmest_water", _degrees(p, site.warmest_water)),
            ("# floor_rating", '"40 psf"' if us else '"2 kN/m2"', "ask what yours bears, then take the first # away"),
            ("power_price", "0.30", "for a kWh, in your own money"),
        ]),
        *itertools.chain.from_iterable(_fish(p, stock.si) for stock in p.stocks or (p.stock,)),
        *_section("[plants]", [("crop", '"lettuce"')]),
        *_section("[water]", [
            ("turnovers", '"1 /h"', "tank volumes each hour"),
            ("outlet_oxygen", f'"{_short(CONCENTRATION.shown(wanted.outlet_oxygen), 2)} mg/L"', "that the fish are left with"),
            ("aerated_share", f'"{wanted.aerated_share * 100:.0f} %"', "of the fish's oxygen, that air stones have to bring"),
            ("solids_stay", '"0 %"', "of their dirt, to rot in the tank; else take it out at the floor each day"),
            ("ammonia_limit", f'"{_short(CONCENTRATION.shown(wanted.ammonia_limit), 2)} mg/L"', "total ammonia, as nitrogen"),
            ("removal", '"40 %"', "of the ammonia, in one pass through the beds"),
            ("ph", "6.9"),
        ]),
        *_section("[pipe]", [("standard", f'"{p.kit.pipe_standard}"', "what the stretches below are, unless they say otherwise")]),
    ]  # fmt: skip


def _fish(p: Plan, stock: Bare) -> list[str]:
    """A stock by its name, or the only one."""
    us = p.kit.units == "US"
    density = f'"{STOCKING.shown(stock.density, "US"):.2f} lb/gal"' if us else f'"{stock.density:g} kg/m3"'
    body = f'"{_short(stock.body_mass / 0.45359237, 1)} lb"' if us else f'"{BODY_MASS.shown(stock.body_mass):.0f} g"'
    many = ("density", density) if stock.count is None else ("count", f"{stock.count:.0f}")
    return _section(f"[{_named('stocks', stock.name)}]" if stock.name else "[fish]", [
        *([("tank", f'"{stock.tank}"')] if stock.tank else []),
        ("species", f'"{stock.species}"', "the one that suits your water best"),
        (*many, "on the heaviest day, just before a harvest"),
        ("body_mass", body),
        ("feeding_rate", f'"{_short(RATE.shown(stock.feeding_rate), 2)} %/d"'),
        ("protein", f'"{stock.protein * 100:.0f} %"', "of the feed"),
    ])  # fmt: skip


def _crop(crop: dict) -> tuple[str, ...]:
    """What grows in a vessel: one crop, or several by share."""
    if len(crop) == 1:
        return "crop", f'"{next(iter(crop))}"'
    shares = ", ".join(f'"{name}" = "{100 * share:.0f} %"' for name, share in crop.items())
    return "crop", f"{{ {shares} }}", "by share of its places"


def _named(kind: str, name: str) -> str:
    """A section's name in the file."""
    return f'{kind}."{name}"' if " " in name else f"{kind}.{name}"


def _vessel(p: Plan, vessel: Vessel) -> list[str]:
    v = vessel.si

    def size(name: str, *remark: str) -> tuple[str, ...]:
        return name, _length(p, getattr(v, name)), *remark

    rows: list[tuple[str, ...]] = [("kind", f'"{v.kind}"'), ("shape", f'"{v.shape}"')]
    rows += [size(name) for name in ("diameter", "length", "width") if getattr(v, name) is not None]
    if v.does:
        rows.append(("does", f'"{v.does[0]}"', "what it is a filter for"))
    if v.cone_height is not None:
        rows += [size("height"), size("cone_height"), size("floor"), size("working_depth")]
    else:
        stands = ": it stands on blocks" if v.kind == "fish tank" else ""
        rows += [
            size("height", "from its bottom to its rim"),
            size("floor", f"height of its bottom{stands}"),
            *([] if v.kind in ("channel", "tower") else [size("working_depth", "of water")]),
        ]
    if v.slope:
        rows.append(("slope", f'"{100 * v.slope:g} %"'))
    if v.sites is not None:
        rows.append(("sites", f"{v.sites:g}", "for plants, in each"))
    if v.count > 1:
        rows.append(("count", f"{v.count:.0f}", "so many alike, joined at one level: all sizes are those of one"))
    if v.medium:
        rows.append(("medium", f'"{v.medium}"'))
        if v.media_depth is not None:
            rows.append(size("media_depth"))
        else:
            rows.append(
                ("media_volume", f'"{VOLUME.shown(v.media_volume, p.kit.units):.0f} {VOLUME.unit(p.kit.units)}"', "of carriers, heaped")
            )
    if v.air_flow is not None:
        rows.append(
            ("air_flow", f'"{AIR_FLOW.shown(v.air_flow, p.kit.units):.2g} {AIR_FLOW.unit(p.kit.units)}"', "by an air pump of its own")
        )
    if v.crop:
        rows.append(_crop(v.crop))
    if v.empty_mass:
        units = p.kit.units
        rows.append(("empty_mass", f'"{MASS.shown(v.empty_mass, units):.0f} {MASS.unit(units)}"'))
    return _section(f"[{_named('vessels', v.name)}]", rows)


def _pumped(p: Plan, loop: Loop) -> list[str]:
    rows: list[tuple[str, ...]] = [
        ("kind", '"pumped"'),
        ("from", f'"{loop.source.si.name}"'),
        ("pump", f'"{loop.pump}"'),
        ("inlet_depth", _length(p, p.kit.m("inlet depth")), "of water, or the pump draws air"),
    ]
    if any(end.drippers for end in loop.ends):
        rows.append(
            ("strainer_slot", _bore(p, p.kit.m("dripper", 1)), "width of its openings: a quarter of a dripper's hole, or grains bridge it")
        )
    if loop.on_float:
        on, off = (_length(p, p.kit.m("dosing", place)) for place in (2, 3))
        rows.append(("control", f'{{ kind = "float", on_depth = {on}, off_depth = {off} }}'))
    elif loop.source.si.kind == "fish tank":  # a pipe that comes off its pump is to leave the fish half of their water
        low = _length(p, up(loop.source.si.working_depth / 2, p.kit.step))
        rows.append(("control", f'{{ kind = "always", cut_out_depth = {low} }}', "a low-level switch: a loose pipe leaves the fish half"))
    name = _named("lines", loop.name)
    lines = [f"# --- {loop.what} ---", "", *_section(f"[{name}]", rows)]
    for s in (pipe.si for pipe in loop.pipe):
        rows = [("name", f'"{s.name}"'), *([("after", f'"{s.after}"')] if s.after else []), ("size", f'"{s.size}"'), ("length", _length(p, s.length)),
                ("fittings", _counted(s.fittings))]  # fmt: skip
        if s.to:
            rows += [
                ("valve", f'"{s.valve}"'),
                ("opening", f"{s.opening:.2f}", "1 is fully open"),
                ("to", f'"{s.to}"'),
                ("outlet", _length(p, s.outlet), "height of its end"),
            ]
        if s.nozzle_bore is not None:
            rows += [
                ("nozzles", f"{s.nozzles:.0f}", "drippers, one for each tower"),
                ("nozzle_bore", _bore(p, s.nozzle_bore), "of the hole in each"),
            ]
        if s.share is not None:
            rows.append(("share", f"{s.share:.3f}", "of this pump's water"))
        lines += _section(f"[[{name}.pipe]]", rows)
    return lines


def _counted(fittings: dict) -> str:
    return "{ " + ", ".join(f'"{fitting}" = {count}' for fitting, count in fittings.items()) + " }"


def _fall(p: Plan, fall: FallingLine | FallingTree) -> list[str]:
    f, tree = fall.si, isinstance(fall, FallingTree)
    rows: list[tuple[str, ...]] = [("kind", f'"{f.kind}"'), ("from", f'"{f.source}"')]
    lip = ("lip", _length(p, f.lip), "height at which water goes in")
    rows += [lip] if tree else [("to", f'"{f.to}"'), lip, *_pipe(p, f, "height of its lower end")]
    if f.vented:
        rows.append(("vented", "true", REMARKS["vented"]))
    if f.emergency:
        rows.append(("emergency", "true", "dry unless the usual way is blocked"))
    if f.siphon:
        rows.append(("siphon", f"{{ vent = {_length(p, f.siphon.si.vent)} }}", "air comes in here and stops it"))
    if f.screen_open_area:
        area = f.screen_open_area
        said = f"{-(-area * 1e4 // 10) * 10:.0f} cm2" if p.kit.units == "metric" else f"{-(-area / INCH**2 // 1):.0f} in2"
        rows.append(("screen_open_area", f'"{said}"', "all its holes together"))
    lines = _section(f'[lines."{f.name}"]', rows)
    for leg in (leg.si for leg in (f.pipe if tree else ())):
        rows = [
            ("name", f'"{leg.name}"'),
            *([("after", f'"{leg.after}"')] if leg.after else []),
            *([("to", f'"{leg.to}"')] if leg.to else []),
        ]
        rows += _pipe(p, leg, "height of its end")
        if leg.valve:
            rows += [("valve", f'"{leg.valve}"'), ("opening", f"{leg.opening:.2f}", "1 is fully open")]
        lines += _section(f'[[lines."{f.name}".pipe]]', rows)
    return lines


def _pipe(p: Plan, piece, remark: str) -> list[tuple[str, ...]]:
    """Where a falling pipe ends, its size and what is in it."""
    rows: list[tuple[str, ...]] = [("outlet", _length(p, piece.outlet), remark), ("size", f'"{piece.size}"')]
    if piece.standard != p.kit.pipe_standard:
        rows.append(("standard", f'"{piece.standard}"'))
    rows.append(("length", _length(p, piece.length)))
    if piece.fittings:
        rows.append(("fittings", _counted(piece.fittings)))
    return rows

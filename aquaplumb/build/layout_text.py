"""The text of a first build file, from the numbers of a plan (see `aquaplumb.build.layouts`)."""

from __future__ import annotations

from aquaplumb.units import BODY_MASS, CONCENTRATION, MASS, RATE, STOCKING

_INCH, _FOOT = 0.0254, 0.3048
_WHY = {
    "one loop": "one pump in the lowest sump feeds the fish tank and the beds; everything falls back",
    "two loops": "one pump keeps the fish tank turning, a second on a float switch feeds the beds",
}


def text(p) -> str:
    """The file's text. Every number in it is one that a person can read and change."""
    parts = [*_top(p), *_vessels(p)]
    for line in p.lines:
        parts += _pumped(p, line)
    parts += ["# --- everything that falls: water needs no pump to go down, only a wide enough way ---", ""]
    for fall in p.falls:
        parts += _fall(p, fall)
    return "\n".join(parts).rstrip() + "\n"


# --- numbers as a builder writes them ---------------------------------------------------------------


def _short(number: float, digits: int) -> str:
    return f"{round(number, digits) + 0.0:g}"


def _length(p, si: float) -> str:
    """A size or a height: metres, or inches."""
    return f'"{_short(si / _INCH, 1)} in"' if p.units == "US" else f'"{si + 0.0:.2f} m"'


def _degrees(p, kelvin: float) -> str:
    celsius = kelvin - 273.15
    return f'"{_short(celsius * 1.8 + 32, 1)} degF"' if p.units == "US" else f'"{_short(celsius, 1)} degC"'


def _section(heading: str, rows) -> list[str]:
    """A TOML section: (key, value as it is written, remark)."""
    lines = [heading]
    for key, value, *remark in rows:
        line = f"{key} = {value}"
        lines.append(f"{line:<38} # {remark[0]}" if remark and remark[0] else line)
    return [*lines, ""]


# --- the parts of the file ------------------------------------------------------------------------------


def _top(p) -> list[str]:
    us = p.units == "US"
    altitude = f'"{_short(p.altitude / _FOOT, 0)} ft"' if us else f'"{_short(p.altitude, 0)} m"'
    density = f'"{STOCKING.shown(p.density, "US"):.2f} lb/gal"' if us else f'"{p.density:g} kg/m3"'
    body = f'"{_short(p.body / 0.45359237, 1)} lb"' if us else f'"{BODY_MASS.shown(p.body):.0f} g"'
    title = p.title.replace("\\", "").replace('"', "'")
    title = "".join(sign for sign in title if sign.isprintable())[:80]
    return [
        "# Your build file: a first system, to change as you like. Any unit does (mm or in, L or gal).",
        "# Heights count from the ground; below it they are negative. A line that starts with # is only a remark.",
        "# Pumps are invented for the demo, sizes are common practice: check both before you buy.",
        "",
        f'title = "{title}"',
        f'about = "A first build: {_WHY[p.layout]}."',
        f'units = "{p.units}"' + (" " * 14 if us else " " * 10) + ' # how numbers are shown: "metric" or "US"',
        "",
        *_section("[site]", [
            ("altitude", altitude, "high up, water holds less oxygen"),
            ("coldest_water", _degrees(p, p.cold)),
            ("warmest_water", _degrees(p, p.warm)),
            ("# floor_rating", '"40 psf"' if us else '"2 kN/m2"', "ask what yours bears, then take the first # away"),
            ("power_price", "0.30", "for a kWh, in your own money"),
        ]),
        *_section("[fish]", [
            ("species", f'"{p.species}"', "the one that suits your water best"),
            ("density", density, "on the heaviest day, just before a harvest"),
            ("body_mass", body),
            ("feeding_rate", f'"{_short(RATE.shown(p.feeding_rate), 2)} %/d"'),
            ("protein", f'"{p.protein * 100:.0f} %"', "of the feed"),
        ]),
        *_section("[plants]", [("crop", '"lettuce"')]),
        *_section("[water]", [
            ("turnovers", '"1 /h"', "tank volumes each hour"),
            ("outlet_oxygen", f'"{_short(CONCENTRATION.shown(p.outlet_oxygen), 2)} mg/L"', "that the fish are left with"),
            ("aerated_share", f'"{p.aerated_share * 100:.0f} %"', "of the fish's oxygen, that air stones have to bring"),
            ("ammonia_limit", f'"{_short(CONCENTRATION.shown(p.ammonia_limit), 2)} mg/L"', "total ammonia, as nitrogen"),
            ("removal", '"40 %"', "of the ammonia, in one pass through the beds"),
            ("ph", "6.9"),
        ]),
        *_section("[pipe]", [("standard", f'"{p.pipe_standard}"', "what the stretches below are, unless they say otherwise")]),
    ]  # fmt: skip


def _vessels(p) -> list[str]:
    def size(value):
        return _length(p, value)

    def mass(kilograms):
        return f'"{MASS.shown(kilograms, p.units):.0f} {"lb" if p.units == "US" else "kg"}"'

    def rectangle(kind, length, width, height, floor, depth, *more):
        return [("kind", f'"{kind}"'), ("shape", '"rectangular"'), ("length", size(length)), ("width", size(width)),
                ("height", size(height), "from its bottom to its rim"), ("floor", size(floor), "height of its bottom"),
                ("working_depth", size(depth), "of water"), *more]  # fmt: skip

    t, s, d = p.tank, p.settling, p.dosing
    lines = ["# --- vessels ---", "", *_section('[vessels."fish tank"]', [
        ("kind", '"fish tank"'), ("shape", '"round"'), ("diameter", size(t.diameter)), ("height", size(t.height), "from its bottom to its rim"),
        ("floor", size(t.floor), "height of its bottom: it stands on blocks"), ("working_depth", size(t.depth), "of water"), ("empty_mass", mass(40)),
    ])]  # fmt: skip
    if s:
        lines += _section('[vessels."settling tank"]', [
            ("kind", '"settling tank"'), ("shape", '"cone-bottomed"'), ("diameter", size(s.diameter)), ("height", size(s.height)),
            ("cone_height", size(s.cone)), ("floor", size(0.0)), ("working_depth", size(s.depth)), ("empty_mass", mass(25)),
        ])  # fmt: skip
        lines += _section(
            '[vessels."dosing tank"]', rectangle("buffer tank", d.length, d.width, d.height, 0.0, d.depth, ("empty_mass", mass(30)))
        )
    length, width, height = (p.m("bed", i) for i in range(3))
    for name in p.names:
        more = [("medium", '"expanded clay 8-16 mm"'), ("media_depth", size(p.m("media"))), ("empty_mass", mass(60))]
        lines += _section(f'[vessels."{name}"]', rectangle("bed", length, width, height, p.m("bed floor"), p.m("bed depth"), *more))
    u = p.sump
    return lines + _section("[vessels.sump]", rectangle("sump", u.length, u.width, u.height, u.floor, u.depth))


def _pumped(p, line) -> list[str]:
    name = f'"{line.name}"' if " " in line.name else line.name
    rows = [
        ("kind", '"pumped"'),
        ("from", f'"{line.source}"'),
        ("pump", f'"{line.pump}"'),
        ("inlet_depth", _length(p, p.m("inlet depth")), "of water, or the pump draws air"),
    ]
    if line.float:
        on, off = _length(p, p.dosing.on), _length(p, p.dosing.off)
        rows.append(("control", f'{{ kind = "float", on_depth = {on}, off_depth = {off} }}'))
    what = "the pump and everything that it feeds"
    if p.two:
        what = "loop 2: the dosing tank's pump feeds the beds" if line.float else "loop 1: the sump's pump keeps the fish tank turning"
    lines = [f"# --- {what} ---", "", *_section(f"[lines.{name}]", rows)]
    for s in line.stretches:
        fittings = ", ".join(f'"{fitting}" = {count}' for fitting, count in s.fittings.items())
        rows = [("name", f'"{s.name}"'), *([("after", f'"{s.after}"')] if s.after else []), ("size", f'"{s.size}"'), ("length", _length(p, s.length)),
                ("fittings", f"{{ {fittings} }}")]  # fmt: skip
        if s.to:
            rows += [
                ("valve", f'"{s.valve}"'),
                ("opening", f"{s.opening:.2f}", "1 is fully open"),
                ("to", f'"{s.to}"'),
                ("outlet", _length(p, s.outlet), "height of its end"),
            ]
        if s.share is not None:
            rows.append(("share", f"{s.share:.3f}", "of this pump's water"))
        lines += _section(f"[[lines.{name}.pipe]]", rows)
    return lines


def _fall(p, f) -> list[str]:
    rows = [("kind", f'"{f.kind}"'), ("from", f'"{f.source}"'), ("to", f'"{f.to}"'), ("lip", _length(p, f.lip), "height at which water goes in"),
            ("outlet", _length(p, f.outlet), "height of its lower end"), ("size", f'"{f.size}"')]  # fmt: skip
    if f.standard != p.pipe_standard:
        rows.append(("standard", f'"{f.standard}"'))
    rows.append(("length", _length(p, f.length)))
    if f.fittings:
        rows.append(("fittings", "{ " + ", ".join(f'"{fitting}" = {count}' for fitting, count in f.fittings.items()) + " }"))
    if f.vented:
        rows.append(("vented", "true", "a tee, open at the top: it cannot siphon"))
    if f.emergency:
        rows.append(("emergency", "true", "dry unless the usual way is blocked"))
    if f.vent is not None:
        rows.append(("siphon", f"{{ vent = {_length(p, f.vent)} }}", "air comes in here and stops it"))
    if f.screen:
        area = f'"{-(-f.screen * 1e4 // 10) * 10:.0f} cm2"' if p.units == "metric" else f'"{-(-f.screen / _INCH**2 // 1):.0f} in2"'
        rows.append(("screen_open_area", area, "all its holes together"))
    return _section(f'[lines."{f.name}"]', rows)

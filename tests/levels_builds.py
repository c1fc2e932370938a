"""Small builds as text, by a few arguments, for the tests of water through time. All invented for the tests.

    build = made(vessel("tank", area=1.0), vessel("sump", "sump", area=2.0, floor=-1.0), fall("drain", "tank", "sump", lip=0.0))

Every build needs a fish tank: `made` adds a dry one, far away, where none is given.
"""

from aquaplumb.build import Build

HEAD = """
title = "Test bench"
about = "invented for the tests"
[site]
coldest_water = "20 degC"
warmest_water = "24 degC"
[fish]
species = "Nile tilapia"
density = "10 kg/m3"
body_mass = "400 g"
feeding_rate = "1.2 %/d"
protein = "32 %"
[plants]
crop = "lettuce"
"""
PUMP = "demo mains 120 W submersible"


def value(v) -> str:
    """A value as TOML."""
    if isinstance(v, bool):
        return "true" if v else "false"
    if isinstance(v, dict):
        return "{ " + ", ".join(f'"{k}" = {value(one)}' for k, one in v.items()) + " }"
    return f'"{v}"' if isinstance(v, str) else repr(v)


def section(heading: str, keys: dict) -> str:
    return heading + "\n" + "".join(f"{k} = {value(v)}\n" for k, v in keys.items() if v is not None)


def metres(keys: dict) -> dict:
    """Bare numbers as lengths in metres, where the key is one."""
    lengths = ("lip", "outlet", "length", "bore", "floor", "height", "working_depth", "cone_height", "media_depth", "diameter",
               "intake", "inlet_depth", "break_hole", "width", "crown")  # fmt: skip
    return {k: f"{v!r} m" if k in lengths and isinstance(v, (int, float)) and not isinstance(v, bool) else v for k, v in keys.items()}


def vessel(
    name: str, kind: str = "fish tank", *, area: float = 1.0, height: float = 1.0, floor: float = 0.0, depth: float = 0.5, **more
) -> str:
    """A vessel, a box unless `shape` says otherwise. Numbers in m and m²."""
    shape = {"shape": "rectangular", "length": area, "width": 1.0} if "shape" not in more else {}
    return section(f'[vessels."{name}"]', metres({"kind": kind, "height": height, "floor": floor, "working_depth": depth, **shape, **more}))


def fall(
    name: str,
    source: str,
    to: str,
    *,
    lip: float,
    outlet: float,
    bore: float = 0.03,
    length: float = 1.0,
    vent: float | None = None,
    **more,
) -> str:
    """A falling line; with `vent` a siphon."""
    keys = {
        "kind": "bed drain" if vent is not None else "overflow",
        "from": source,
        "to": to,
        "lip": lip,
        "outlet": outlet,
        "bore": bore,
        "length": length,
    }
    if vent is not None:
        more["siphon"] = {"vent": f"{vent!r} m"}
    return section(f'[lines."{name}"]', metres({**keys, **more}))


def tree(name: str, source: str, *, lip: float, pipe: list[dict], kind: str = "gravity line", **more) -> str:
    """A falling line with branches: a dict for each stretch."""
    whole = section(f'[lines."{name}"]', metres({"kind": kind, "from": source, "lip": lip, **more}))
    return whole + "".join(section(f'[[lines."{name}".pipe]]', metres(leg)) for leg in pipe)


def pumped(
    name: str,
    source: str,
    ends: dict,
    *,
    pump: str = PUMP,
    bore: float = 0.032,
    riser: float = 2.0,
    fittings=None,
    control=None,
    inlet_depth=None,
    **more,
) -> str:
    """A pumped line: a riser and a branch to each end. `ends` has {vessel: outlet}, or {vessel: {keys of the branch}}."""
    text = section(
        f'[lines."{name}"]',
        metres({"kind": "pumped", "from": source, "pump": pump, "control": control, "inlet_depth": inlet_depth, **more}),
    )
    text += section(f'[[lines."{name}".pipe]]', metres({"name": f"{name} riser", "bore": bore, "length": riser, "fittings": fittings}))
    for to, keys in ends.items():
        keys = keys if isinstance(keys, dict) else {"outlet": keys}
        keys = {"name": f"{name} to {to}", "after": f"{name} riser", "bore": bore, "length": 0.5, "to": to, **keys}
        text += section(f'[[lines."{name}".pipe]]', metres(keys))
    return text


def made(*parts: str) -> Build:
    """The build of these parts."""
    text = "\n".join((HEAD, *parts))
    if 'kind = "fish tank"' not in text:
        text += "\n" + vessel("spare fish tank", floor=50.0, depth=0.001)
    return Build(text, None)

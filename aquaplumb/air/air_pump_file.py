"""An air pump or blower of one's own, from a file of its maker's points: flow against pressure, or against depth of water.

    supply,mains
    power,250 W
    flow [m3/h],pressure [mbar]
    80,0
    55,60
    20,120

Reached through ``pump_file`` in a build's [air]. What stands above the header is as in the air pump table: `supply` (mains or
battery), `voltage` of one on a battery, and `power`, which may be a column instead; then the most of it counts.
"""

from __future__ import annotations

import csv
import itertools
from pathlib import Path

from aquaplumb import plausible, tables
from aquaplumb.air.air_pumps import AirPump
from aquaplumb.plumbing.pump_file import plain_text
from aquaplumb.tables import OwnName
from aquaplumb.units import AIR_FLOW, GRAVITY, LENGTH, POWER, PRESSURE, VOLTAGE, DesignError, quantity, si_value

_EXAMPLE = "flow [L/min],pressure [kPa]"
_COLUMNS = {"flow": AIR_FLOW, "pressure": PRESSURE, "depth": LENGTH, "power": POWER}
_SAYS = {"supply": None, "voltage": VOLTAGE, "power": POWER}
_SAID_SO = {"supply": "supply,mains", "voltage": "voltage,12 V", "power": "power,35 W"}
_WATER = 998.2  # kg/m³ at 20 °C, over a stone
_SMALL = f"a curve of a few points takes under 1 kB. Save only the points, with the header {_EXAMPLE}."


def air_pump_of(path: Path) -> OwnName:
    """The air pump of a file, as a name that carries its row: the file's own name without its ending."""
    where = f"air pump file {path.name}"
    try:
        lines = [cells for cells in csv.reader(plain_text(path, "air pump file", _SMALL).splitlines()) if any(c.strip() for c in cells)]
    except csv.Error:
        raise DesignError(f"{where} is not a table of points; write the header {_EXAMPLE}, then one point a line.") from None
    says: dict = {}
    while lines and lines[0][0].strip().lower() in _SAYS and len(lines[0]) == 2 and "[" not in lines[0][0]:
        key, value = (cell.strip() for cell in lines.pop(0))
        kind = _SAYS[key.lower()]
        says[key.lower()] = value if kind is None else _value(value, kind, f"{where}: {key}", key.lower())
    if not lines or (len(lines[0]) == 1 and ";" in lines[0][0]):
        raise DesignError(f"{where} has no table of points; write the header {_EXAMPLE}, then one point a line, parted by commas.")
    columns = _columns(lines[0], where)
    points = [_point(cells, columns, f"{where}, point {place}") for place, cells in enumerate(lines[1:], 1)]
    flows, pressures = (tuple(point[key] for point in points) for key in ("flow", "pressure"))
    if len(points) < 2:
        raise DesignError(
            f"{where} has {len(points)} point{'s' * (len(points) != 1)}; two are the least, open and near its stall, and five draw it well."
        )
    for place, (one, other) in enumerate(itertools.pairwise(points), 2):
        if not (other["pressure"] > one["pressure"] and other["flow"] < one["flow"]):
            raise DesignError(f"{where}, point {place}: flow has to fall as the pressure rises; give the points from open to stalled.")
    power = max((p["power"] for p in points if "power" in p), default=says.get("power"))
    if power is None:
        raise DesignError(f"{where} does not say what it draws; write a line above the header, such as {_SAID_SO['power']}.")
    supply = says.get("supply", "mains")
    if supply not in ("mains", "battery"):
        raise DesignError(f"{where}: supply is '{supply}'; write mains or battery.")
    if supply == "battery" and "voltage" not in says:
        raise DesignError(f"{where} is for a battery of unknown voltage; write a line above the header, such as {_SAID_SO['voltage']}.")
    name, middle = OwnName(path.stem), len(points) // 2
    two = len(points) == 2
    row = AirPump.from_si(
        name=name, basis=tables.YOURS, source=path.name, note="", supply=supply, voltage=says.get("voltage"), power=power, open_flow=flows[0],
        middle_flow=(flows[0] + flows[1]) / 2 if two else flows[middle], middle_pressure=(pressures[0] + pressures[1]) / 2 if two else pressures[middle],
        shut_pressure=pressures[-1], flows=flows, pressures=pressures,
    )  # fmt: skip
    return name._carrying((row,))


def _columns(header: list[str], where: str) -> list[tuple[str, str]]:
    """(name, unit) of each column; a pressure or a depth stands beside the flow."""
    found = [tables._HEADER.match(cell.strip()) for cell in header]
    columns = [(one["field"].strip().lower(), one["unit"] or "") if one else ("", "") for one in found]
    names = [name for name, _ in columns]
    for name, unit in columns:
        if name not in _COLUMNS:
            raise DesignError(f"{where}: " + tables.unknown("form of an air pump file", name, _COLUMNS))
        if not unit:
            raise DesignError(f"{where}: the column '{name}' has no unit; write it in brackets, as in {_EXAMPLE}.")
    if names.count("flow") != 1 or ("pressure" in names) == ("depth" in names) or len(set(names)) != len(names):
        raise DesignError(f"{where}: the first line of its table has flow, and pressure or depth, each once; write it as {_EXAMPLE}.")
    return columns


def _point(cells: list[str], columns: list[tuple[str, str]], where: str) -> dict[str, float]:
    if len(cells) != len(columns):
        raise DesignError(f"{where}: {len(cells)} cells where the header has {len(columns)}; one number a cell, with a decimal point.")
    found = {name: _value(f"{cell.strip()} {unit}", _COLUMNS[name], f"{where}: {name}", name) for (name, unit), cell in zip(columns, cells)}
    if "depth" in found:
        found["pressure"] = _WATER * GRAVITY * found.pop("depth")
    return found


def _value(text: str, kind, where: str, name: str) -> float:
    try:
        value = si_value(quantity(text, kind), kind, where)
    except DesignError as wrong:
        raise DesignError(f"{where}: {wrong}") from None
    if odd := plausible.row(f"air pump file.{name}").refused(value, kind, text):
        raise DesignError(plausible.about(where, odd))
    return value

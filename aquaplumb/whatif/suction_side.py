"""The way in of a pump that stands beside its water, as page 05 sets it: one pipe, what it begins with, and how high the pump stands."""

from __future__ import annotations

from typing import Any

from aquaplumb.build import Build, Pipe, PumpedLine
from aquaplumb.build.records import way_to
from aquaplumb.build.routes import rise, untold
from aquaplumb.units import HEAD, LENGTH
from aquaplumb.whatif.controls import Choice, Slider
from aquaplumb.whatif.keeping import written_length

NOT_SAID = "not yet said"
_FITTED = {  # what it is made of beside its pipe, by what it begins with; common practice, no source
    "with a foot valve": {"foot valve, hinged": 1, "elbow 90": 1},
    "with a strainer": {"strainer": 1, "elbow 90": 1},
}
# To begin with: a short pipe, and a pump that stands on the ground [m].
_LONG, _HIGH = {"metric": 1.0, "US": 3 * 0.3048}, {"metric": 0.1, "US": 0.5 * 0.3048}


class SuctionSide:
    """That of one line: `asked` says whether this page can set it. One of another make is left as its file has it."""

    def __init__(self, line: PumpedLine, external: bool, first: Pipe, units: str):
        record = line.si
        fitted = record.suction[0].si.fittings if len(record.suction) == 1 else None
        self._begins = next((words for words, counts in _FITTED.items() if counts == fitted), NOT_SAID)
        self.asked = (external or record.pump_height is not None) and (not record.suction or self._begins != NOT_SAID)
        self._had, self._first, self._line, self._units = record.suction, first.si, record.name, units
        self._length = self._had[0].si.length if self.asked and self._had else _LONG[units]
        self._height = _HIGH[units] if record.pump_height is None else record.pump_height
        taken = {pipe.si.name for pipe in record.pipe}
        self.name = next(name for name in ("suction", "suction pipe", "pipe before the pump", "way into the pump") if name not in taken)

    def own(self) -> dict[str, Any]:
        """The values that the build has, or that the controls begin with."""
        return {"begins": self._begins if self.asked else NOT_SAID, "suction_length": self._length, "pump_height": self._height}

    def changed(self, begins: str = NOT_SAID, suction_length: float = 0.0, pump_height: float = 0.0) -> dict[str, Any]:
        """The keys of the line's record that the controls set; none where nothing is said."""
        if not self.asked or begins == NOT_SAID:
            return {}
        size = {"bore": self._first.bore} if not self._first.size else {"size": self._first.size, "standard": self._first.standard}
        pipe = Pipe.from_si(name=self.name, length=suction_length, fittings=dict(_FITTED[begins]), **{"bore": self._first.bore, **size})
        return {"suction": (pipe,), "pump_height": pump_height}

    def written(self, moved: list[str], values) -> dict[tuple, object]:
        """What a Keep writes of it: all of it once any of it was moved."""
        begins = values.get("begins", NOT_SAID)
        if not self.asked or begins == NOT_SAID or not ({"begins", "suction_length", "pump_height"} & set(moved)):
            return {}
        return self._keys(begins, values.text("suction_length"), values.text("pump_height"))

    def _keys(self, begins: str, length: str, height: str) -> dict[tuple, object]:
        first = self._first
        size = {"size": first.size, "standard": first.standard} if first.size else {"bore": LENGTH.quantity(first.bore)}
        pipe = {"name": self.name, **size, "length": length, "fittings": inline(_FITTED[begins])}
        return {("lines", self._line, "suction"): [pipe], ("lines", self._line, "pump_height"): height}

    def told(self, values) -> str:
        """The same in words."""
        length, height = LENGTH.text(values["suction_length"], values.system), HEAD.text(values["pump_height"], values.system)
        return f"suction pipe {values['begins']}, {length} long, the pump's inlet at {height}"


class Beside(SuctionSide):
    """What a pump gets that takes the place of one in the water: a short pipe with a foot valve, and its inlet as low as the old one's."""

    def __init__(self, build: Build, line: PumpedLine):
        super().__init__(line, True, next(pipe for pipe in line.si.pipe if not pipe.si.after), build.units)
        if line.si.pump_height is None:
            self._height = _foot(build, line)
        self._source = line.si.source

    def records(self) -> dict[str, Any]:
        """The keys of the line's record that it changes."""
        return self.changed("with a foot valve", self._length, self._height)

    def keys(self) -> dict[tuple, object]:
        """What a Keep writes of it."""
        return self._keys("with a foot valve", written_length(self._length, self._units), written_length(self._height, self._units))

    def said(self, system: str) -> str:
        """The same in a sentence."""
        inlet = HEAD.text(self._height, system).replace("-", "\u2212")
        return (
            f"It stands beside {self._source}, its inlet at {inlet}, with a suction pipe of "
            f"{LENGTH.text(self._length, system)} and a foot valve. Page 05 sets them."
        )


def _foot(build: Build, line: PumpedLine) -> float:
    """The height at which a line's pipe begins, as its route tells; else the floor of the vessel that its pump stands in."""
    for end in (pipe for pipe in line.si.pipe if pipe.si.to):
        way = [pipe.si for pipe in way_to(line.si, end)]
        if not any(map(untold, way)):
            return (build.vessels[end.si.to].rim if end.si.outlet is None else end.si.outlet) - sum(rise(pipe.route) for pipe in way)
    return build.vessels[line.si.source].si.floor


def inline(counts: dict):
    """A table on one line, as build files have fittings."""
    import tomlkit

    table = tomlkit.inline_table()
    table.update(counts)
    return table


def controls(sides: dict[str, SuctionSide]) -> list:
    """Three controls, where any line has a pump beside its water; `sides` by the name of the line."""
    if not any(side.asked for side in sides.values()):
        return []
    begins = [NOT_SAID, *_FITTED]
    offered = {name: begins if side.asked else [] for name, side in sides.items()}
    several = len(sides) > 1
    return [
        Choice("begins", "suction pipe", offered if several else begins, of="line" if several else "", tip="from the water to a pump that stands beside it"),
        Slider("suction_length", "length of suction pipe", LENGTH, "0.1 m", "10 m", "0.1 m", us=("0.5 ft", "30 ft", "0.5 ft"),
               of="begins", highs=dict.fromkeys(_FITTED, "10 m"), key="lines.*.length"),
        Slider("pump_height", "height of pump's inlet", HEAD, "-2 m", "4 m", "0.05 m", tip="over the ground, as all heights of your build",
               of="begins", highs=dict.fromkeys(_FITTED, "4 m"), key="lines.*.pump_height"),
    ]  # fmt: skip

"""One place for units: quantities outside, bare SI numbers inside.

Everything a person gives or reads carries a unit. `u` is the one registry
(``900 * u.L / u.h``); `quantity` reads a person's text (``"1 1/2 in"``) and evaluates nothing.
A `Kind` (FLOW, LENGTH, BORE, ...) knows its SI unit, the builder's metric and US units and how to
round. `takes_quantities` puts a door on a function: its annotations say which arguments are
quantities; inside are plain SI floats or arrays; `function.si` is the function without the door.
`Record` does the same for a group of values: `record.flow` is a quantity, `record.si.flow` a number.
"""

from __future__ import annotations

import difflib
import functools
import inspect
import re
import typing
from dataclasses import dataclass
from fractions import Fraction as _Ratio
from types import SimpleNamespace
from typing import Annotated, Any

import numpy as np
import pint


def _registry() -> pint.UnitRegistry:
    """The registry; its 1,000 definitions are kept parsed in the user's cache folder, which saves half of the start."""
    for kept in ({"cache_folder": ":auto:"}, {}):
        try:
            return pint.UnitRegistry(autoconvert_offset_to_baseunit=True, **kept)
        except Exception:  # no folder to write to, or a file half written by another kernel: parse them afresh
            if not kept:
                raise
    raise AssertionError


u = _registry()
u.define("liter = decimeter ** 3 = L = l = litre")  # pint prints a bare "l", which reads as a 1
u.formatter.default_format = ".4g~P"
pint.set_application_registry(u)
Quantity = u.Quantity

SYSTEMS = ("metric", "US")


class DesignError(ValueError):
    """Something a person gave cannot be: the message says what it is, what is possible and what to do."""

    def _render_traceback_(self) -> list[str]:
        """What a notebook shows of it: the sentence, and no traceback."""
        return [f"✖ {self}"]


# --- kinds of quantity ------------------------------------------------------------------------


@dataclass(frozen=True)
class Kind:
    """What sort of quantity a value is: its name in a sentence, its units, and an example to type."""

    noun: str
    si: str
    metric: str
    us: str
    example: str

    def unit(self, system: str = "metric") -> str:
        """The builder's unit in a system, "metric" or "US"."""
        return self.us if system == "US" else self.metric

    @functools.cache  # noqa: B019  (a dozen module-level kinds, kept for good)
    def _scale(self, system: str) -> tuple[float, float]:
        zero = Quantity(0.0, _pint_unit(self.si)).to(_pint_unit(self.unit(system))).magnitude
        one = Quantity(1.0, _pint_unit(self.si)).to(_pint_unit(self.unit(system))).magnitude
        return float(one - zero), float(zero)

    def shown(self, si, system: str = "metric"):
        """The number to show for a bare SI value (scalar or array), in the builder's unit."""
        slope, zero = self._scale(system)
        return si * slope + zero

    def from_shown(self, number, system: str = "metric"):
        """The bare SI value of a number in the builder's unit: the inverse of `shown`."""
        slope, zero = self._scale(system)
        return (number - zero) / slope

    def text(self, si: float, system: str = "metric") -> str:
        """A bare SI value as a person reads it: ``FLOW.text(0.00042)`` is "1,510 L/h"."""
        unit, value = self.unit(system), self.shown(si, system)
        if unit == "ft" and 0 < abs(value) < 1:  # nobody says 0.667 ft
            unit, value = "in", 12 * value
        number = rounded(value)
        return f"{number} {unit}" if unit else number

    def quantity(self, si):
        """The bare SI value as a quantity in SI units."""
        return Quantity(si, _pint_unit(self.si))


def rounded(number: float, digits: int = 3) -> str:
    """A number to `digits` significant figures with no needless zeros: 1511.3 -> "1,510"."""
    number = float(number)
    if not np.isfinite(number):
        return str(number)
    number = float(f"{number:.{digits}g}") + 0.0
    if abs(number) >= 1000:
        return f"{number:,.0f}"
    return f"{number:.10f}".rstrip("0").rstrip(".") if abs(number) >= 1e-4 or number == 0 else f"{number:.{digits}g}"


FLOW = Kind("a flow", "m³/s", "L/h", "gal/h", "900 L/h")
LENGTH = Kind("a length", "m", "m", "ft", "2.5 m")
BORE = Kind("a length", "m", "mm", "in", "25 mm")
HEAD = Kind("a head", "m", "m", "ft", "1.2 m")
AREA = Kind("an area", "m²", "m²", "ft²", "2 m²")
VOLUME = Kind("a volume", "m³", "L", "gal", "1000 L")
MASS = Kind("a mass", "kg", "kg", "lb", "20 kg")
BODY_MASS = Kind("a mass", "kg", "g", "oz", "350 g")
MASS_RATE = Kind("a mass a day", "kg/s", "g/d", "oz/d", "200 g/d")
SPEED = Kind("a speed", "m/s", "m/s", "ft/s", "1 m/s")
TEMPERATURE = Kind("a temperature", "K", "°C", "°F", "24 degC")
STOCKING = Kind("a mass in a volume", "kg/m³", "kg/m³", "lb/gal", "20 kg/m3")
BULK_DENSITY = Kind("a mass in a volume", "kg/m³", "kg/m³", "lb/ft³", "1600 kg/m3")
CONCENTRATION = Kind("a concentration", "kg/m³", "mg/L", "mg/L", "5 mg/L")
SURFACE = Kind("a surface in a volume", "1/m", "m²/m³", "ft²/ft³", "300 m2/m3")
AREA_RATE = Kind("a mass on an area each day", "kg/m²/s", "g/m²/d", "oz/ft²/d", "50 g/m2/d")
RATE = Kind("a rate", "1/s", "%/d", "%/d", "1.5 %/d")
TURNOVER = Kind("a rate", "1/s", "1/h", "1/h", "1 /h")
TIME = Kind("a time", "s", "min", "min", "15 min")
POWER = Kind("a power", "W", "W", "W", "45 W")
ENERGY = Kind("an energy", "J", "kWh", "kWh", "1 kWh")
FLOOR_LOAD = Kind("a weight on an area", "Pa", "kN/m²", "psf", "2 kN/m2")
PRESSURE = Kind("a pressure", "Pa", "kPa", "psi", "10 kPa")
VOLTAGE = Kind("a voltage", "V", "V", "V", "12 V")
VISCOSITY = Kind("a kinematic viscosity", "m²/s", "mm²/s", "ft²/s", "1 mm2/s")
DYNAMIC_VISCOSITY = Kind("a dynamic viscosity", "Pa s", "mPa s", "mPa s", "1 mPa s")
PLANTING = Kind("plants on an area", "1/m²", "1/m²", "1/ft²", "20 /m2")
ENERGY_PER_VOLUME = Kind("an energy in a volume", "J/m³", "Wh/m³", "Wh/m³", "10 Wh/m3")
CURRENT = Kind("a current", "A", "A", "A", "4 A")
CHARGE = Kind("a charge", "A s", "Ah", "Ah", "100 Ah")
RESISTANCE = Kind("a resistance", "ohm", "ohm", "ohm", "0.1 ohm")
WIRE_RESISTANCE = Kind("a resistance along a length", "ohm/m", "ohm/km", "ohm/km", "8 ohm/km")
LINE_HEAT = Kind("a heat along a length", "W/m", "W/m", "W/ft", "2 W/m")
WIRE_AREA = Kind("an area", "m²", "mm²", "mm²", "2.5 mm2")
INSOLATION = Kind("sunshine on an area each day", "W/m²", "kWh/m²/d", "kWh/m²/d", "4 kWh/m2/d")
HEAT_TRANSFER = Kind("a heat transfer", "W/m²/K", "W/m²/K", "W/m²/K", "5 W/m2/K")
DIFFERENCE = Kind("a temperature difference", "K", "K", "K", "5 K")
ANGLE = Kind("an angle", "rad", "deg", "deg", "45 deg")
AERATION = Kind("oxygen for energy", "kg/J", "kg/kWh", "kg/kWh", "1.5 kg/kWh")
RESPIRATION = Kind("oxygen for a mass of fish", "1/s", "mg/kg/h", "mg/kg/h", "200 mg/kg/h")
DEPTH_RATE = Kind("a depth in a time", "m/s", "mm/d", "in/d", "5 mm/d")
AIR_FLOW = Kind("an air flow", "m³/s", "L/min", "ft³/min", "20 L/min")
DAYS = Kind("a time", "s", "days", "days", "14 days")
DEPTH_SHARE = Kind("a share for each metre of depth", "1/m", "%/m", "%/ft", "3 %/m")

Flow = Annotated[Quantity, FLOW]
Length = Annotated[Quantity, LENGTH]
Bore = Annotated[Quantity, BORE]
Head = Annotated[Quantity, HEAD]
Area = Annotated[Quantity, AREA]
Volume = Annotated[Quantity, VOLUME]
Mass = Annotated[Quantity, MASS]
BodyMass = Annotated[Quantity, BODY_MASS]
MassRate = Annotated[Quantity, MASS_RATE]
Speed = Annotated[Quantity, SPEED]
Temperature = Annotated[Quantity, TEMPERATURE]
Stocking = Annotated[Quantity, STOCKING]
BulkDensity = Annotated[Quantity, BULK_DENSITY]
Concentration = Annotated[Quantity, CONCENTRATION]
Surface = Annotated[Quantity, SURFACE]
AreaRate = Annotated[Quantity, AREA_RATE]
Rate = Annotated[Quantity, RATE]
Turnover = Annotated[Quantity, TURNOVER]
Time = Annotated[Quantity, TIME]
Power = Annotated[Quantity, POWER]
Energy = Annotated[Quantity, ENERGY]
FloorLoad = Annotated[Quantity, FLOOR_LOAD]
Pressure = Annotated[Quantity, PRESSURE]
Voltage = Annotated[Quantity, VOLTAGE]
Viscosity = Annotated[Quantity, VISCOSITY]
DynamicViscosity = Annotated[Quantity, DYNAMIC_VISCOSITY]
Planting = Annotated[Quantity, PLANTING]
EnergyPerVolume = Annotated[Quantity, ENERGY_PER_VOLUME]
Current = Annotated[Quantity, CURRENT]
Charge = Annotated[Quantity, CHARGE]
Resistance = Annotated[Quantity, RESISTANCE]
WireResistance = Annotated[Quantity, WIRE_RESISTANCE]
LineHeat = Annotated[Quantity, LINE_HEAT]
WireArea = Annotated[Quantity, WIRE_AREA]
Insolation = Annotated[Quantity, INSOLATION]
HeatTransfer = Annotated[Quantity, HEAT_TRANSFER]
Difference = Annotated[Quantity, DIFFERENCE]
Angle = Annotated[Quantity, ANGLE]
Aeration = Annotated[Quantity, AERATION]
Respiration = Annotated[Quantity, RESPIRATION]
DepthRate = Annotated[Quantity, DEPTH_RATE]
AirFlow = Annotated[Quantity, AIR_FLOW]
DepthShare = Annotated[Quantity, DEPTH_SHARE]

NUMBER = Kind("a plain number", "", "", "", "0.4")
SHARE = Kind("a plain number", "", "%", "%", "40 %")  # a pure number that people read in hundredths
Number = Annotated[float, NUMBER]  # a pure number; "32 %" serves as well as 0.32

KINDS = tuple(k for k in list(globals().values()) if isinstance(k, Kind))


# --- reading people's text --------------------------------------------------------------------

# What a builder writes -> the name pint knows. Only these: nothing a person types is evaluated.
_NAMES = {
    "m": "m", "km": "km", "cm": "cm", "mm": "mm", "in": "inch", "inch": "inch", "inches": "inch", '"': "inch",
    "ft": "foot", "foot": "foot", "feet": "foot", "yd": "yard",
    "L": "liter", "l": "liter", "litre": "liter", "litres": "liter", "liter": "liter", "liters": "liter",
    "mL": "milliliter", "ml": "milliliter", "gal": "gallon", "gallon": "gallon", "gallons": "gallon",
    "impgal": "imperial_gallon",
    "kg": "kg", "g": "g", "mg": "mg", "µg": "ug", "ug": "ug", "t": "tonne", "tonne": "tonne", "tonnes": "tonne",
    "lb": "lb", "lbs": "lb", "oz": "oz",
    "s": "s", "sec": "s", "min": "min", "mins": "min", "minute": "min", "minutes": "min",
    "h": "hour", "hr": "hour", "hour": "hour", "hours": "hour", "d": "day", "day": "day", "days": "day",
    "week": "week", "weeks": "week", "year": "year", "years": "year",
    "gph": "gallon/hour", "gpm": "gallon/minute", "gpd": "gallon/day", "lph": "liter/hour", "lpm": "liter/minute",
    "degC": "degC", "°C": "degC", "C": "degC", "degF": "degF", "°F": "degF", "F": "degF", "K": "kelvin",
    "Pa": "Pa", "mPa": "mPa", "kPa": "kPa", "bar": "bar", "mbar": "mbar", "psi": "psi", "psf": "pound_force/foot**2", "N": "N",
    "kN": "kN",
    "W": "W", "kW": "kW", "hp": "hp", "J": "J", "kJ": "kJ", "MJ": "MJ", "Wh": "W*hour", "kWh": "kW*hour",
    "V": "V", "A": "A", "mA": "mA", "Ah": "A*hour", "ohm": "ohm", "Ω": "ohm", "deg": "degree", "°": "degree", "rad": "radian",
    "%": "percent", "1": "",
}  # fmt: skip
_HINTS = {"ppm": "mg/L", "cc": "mL", "gals": "gal", "lt": "L", "ltr": "L", "kgs": "kg", "mtr": "m", "meter": "m",
          "metre": "m", "meters": "m", "metres": "m", "″": "in", "′": "ft", "'": "ft"}  # fmt: skip
_POWERS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_TOO_LONG = 60
_NUMBER = re.compile(
    r"(?P<sign>[+-]?)\s*(?:(?P<whole>\d{1,9})\s+(?P<top>\d{1,9})/(?P<bottom>\d{1,9})"
    r"|(?P<top2>\d{1,9})/(?P<bottom2>\d{1,9})"
    r"|(?P<decimal>(?:\d{1,15}(?:\.\d{0,20})?|\.\d{1,20})(?:[eE][+-]?\d{1,2}(?![\w]))?))"
)
_FACTOR = re.compile(r"(?P<name>[A-Za-zµμ°%\"″′']+|1(?=/|$))(?:(?:\*\*|\^)?(?P<power>-?[1-4]))?$")


@functools.cache
def _pint_unit(text: str):
    """The pint unit for a builder's unit such as "m²/m³" or "kg/m2/d"; factors joined by space, ·, * or /."""
    tidy = text.strip().replace("μ", "µ")
    tidy = re.sub(r"([⁰¹²³⁴⁵⁶⁷⁸⁹⁻]+)", lambda m: "^" + m[1].translate(_POWERS), tidy)
    tidy = re.sub(r"\s*/\s*", "/", tidy).replace("·", " ").replace("*", " ") if "**" not in tidy else tidy
    result = u.Unit("")
    for place, group in enumerate(tidy.split("/") if tidy else []):
        if place and not group.strip():
            raise DesignError(f"'{text}' ends in a '/' with no unit after it.")
        for factor in group.split():
            found = _FACTOR.match(factor)
            if not found:
                raise DesignError(f"'{text}' is not a unit I can read; write one such as L/h, kg/m3 or degC.")
            unit = u.Unit(_pint_name(found["name"])) ** int(found["power"] or 1)
            result = result / unit if place else result * unit
    return result


def _pint_name(name: str) -> str:
    if name in _NAMES:
        return _NAMES[name]
    low = {key.lower(): value for key, value in _NAMES.items()}
    if name.lower() in low and name.lower() not in ("c", "f", "k", "mpa"):
        return low[name.lower()]
    near = _HINTS.get(name.lower()) or next(iter(difflib.get_close_matches(name, _NAMES, 1, 0.6)), None)
    hint = f"; did you mean {near}?" if near else "; units are such as L, gal, kg, lb, m, in, L/h, mg/L, degC, W, %."
    raise DesignError(f"I do not know the unit '{name}'{hint}")


def quantity(text: str, kind: Kind | None = None):
    """The quantity that a person's text says, read strictly and safely.

    Parameters
    ----------
    text : str
        A number, then a unit: ``"1000 L"``, ``"1 1/2 in"``, ``"20 kg/m3"``, ``"75 °F"``. A decimal comma is
        refused, since 1,500 means a thousand to one reader and one and a half to the next.
    kind : Kind, optional
        What it must be, such as `FLOW`.

    Returns
    -------
    pint.Quantity

    Raises
    ------
    DesignError
        With what was found and what to type.

    Examples
    --------
    >>> print(quantity("1 1/2 in").to("mm"))
    38.1 mm
    """
    if isinstance(text, Quantity):
        return _fits(text, kind, "") if kind else text
    example = kind.example if kind else "1000 L"
    if not isinstance(text, str):
        raise DesignError(f"{text!r} has no unit; write it with one and in quotes, such as \"{example}\".")
    if len(text) > _TOO_LONG:
        raise DesignError(f"'{text[:20]}…' is {len(text)} characters long; a number and a unit are enough, such as {example}.")
    tidy = " ".join(text.replace("\u2212", "-").split())
    for sign, plain in _VULGAR.items():
        tidy = re.sub(rf"\s*{sign}", f" {plain}", tidy)
    tidy = tidy.strip()
    if re.match(r"[+-]?\d+,\d", tidy):
        thousands = f"; if the comma marks thousands, leave it out: {tidy.replace(',', '')}" if re.match(r"[+-]?[1-9]\d{0,2},\d{3}\b", tidy) else ""
        raise DesignError(f"'{text}' has a comma in its number. With a decimal point it is {tidy.replace(',', '.', 1)}{thousands}.")
    found = _NUMBER.match(tidy)
    if not found:
        raise DesignError(f"'{text}' does not start with a number; write a number and a unit, such as {example}.")
    value = _value(found, text)
    unit = tidy[found.end() :].strip()
    if not unit and not (kind and not kind.si):
        raise DesignError(f"'{text}' has no unit; write it with one, such as {example}.")
    try:
        result = Quantity(value, _pint_unit(unit))
    except DesignError as wrong:
        raise DesignError(f"'{text}': {wrong}") from None
    return _fits(result, kind, "", given=text) if kind else result


def _value(found: re.Match, text: str) -> float:
    sign = -1.0 if found["sign"] == "-" else 1.0
    if found["decimal"] is not None:
        return sign * float(found["decimal"])
    top, bottom = int(found["top"] or found["top2"]), int(found["bottom"] or found["bottom2"])
    if bottom == 0:
        raise DesignError(f"'{text}' divides by zero.")
    return sign * float(int(found["whole"] or 0) + _Ratio(top, bottom))


# --- the door -----------------------------------------------------------------------------------


def noun(value) -> str:
    """What a quantity is, in words: "a volume"."""
    for kind in KINDS:
        if value.check(_pint_unit(kind.si).dimensionality):
            return kind.noun
    return "something else"


def _fits(value, kind: Kind, where: str, given: str | None = None):
    if not value.check(_pint_unit(kind.si).dimensionality):
        said = given or f"{value:.6g~P}"
        raise DesignError(f"{where or 'this'} is {said}, {noun(value)}; it needs {kind.noun} such as {kind.example}.")
    return value


def si_value(value, kind: Kind, where: str):
    """The bare SI number (or array) of a quantity, refused in plain words where it is not of its kind."""
    if value is None:
        return None
    if not isinstance(value, Quantity):
        if not kind.si and not isinstance(value, (str, bytes)):
            number = value if isinstance(value, np.ndarray) else np.asarray(value, float)[()]
        elif isinstance(value, str):
            return si_value(quantity(value), kind, where)
        else:
            raise DesignError(f"{where} is {value!r}, with no unit; it needs {kind.noun} such as {kind.example}.")
    else:
        number = _fits(value, kind, where).m_as(_pint_unit(kind.si))
        if not isinstance(number, np.ndarray):
            number = float(number)
    if not np.all(np.isfinite(number)):
        raise DesignError(f"{where} is not a finite number; it needs {kind.noun} such as {kind.example}.")
    return number


def check_range(value, low: float, high: float, kind: Kind, where: str, why: str) -> None:
    """Refuse a bare SI value outside ``low`` to ``high``, naming the range and its reason."""
    slack = 1e-9 * (high - low)  # 104 °F is 40 °C, and not a rounding error more
    if isinstance(value, float):  # what a slider moves: stay lean
        if low - slack <= value <= high + slack:
            return
    elif np.all(np.greater_equal(value, low - slack)) and np.all(np.less_equal(value, high + slack)):
        return
    worst = float(np.min(value) if np.min(value) < low else np.max(value))
    unit = kind.unit()
    span = f"{rounded(kind.shown(low), 4)} to {rounded(kind.shown(high), 4)} {unit}".rstrip()
    raise DesignError(f"{where} is {kind.text(worst)}; {why} holds from {span}.")


def _kind_of(hint) -> Kind | None:
    """The Kind in an annotation such as `Flow` or `Flow | None`, or None."""
    if isinstance(hint, typing._UnionGenericAlias) or type(hint).__name__ == "UnionType":
        hint = next((arg for arg in typing.get_args(hint) if arg is not type(None)), hint)
    for extra in getattr(hint, "__metadata__", ()):
        if isinstance(extra, Kind):
            return extra
    return None


def takes_quantities(function):
    """Put the door on a function: quantities in and out, bare SI numbers inside.

    Arguments annotated with `Flow`, `Length`, ... are checked and turned to SI; a return annotated so is
    wrapped. Text such as ``"900 L/h"`` serves as a quantity. ``function.si`` is the kernel without the door.
    """
    hints = typing.get_type_hints(function, include_extras=True)
    kinds = {name: kind for name, hint in hints.items() if name != "return" and (kind := _kind_of(hint))}
    returns = _kind_of(hints.get("return"))
    signature = inspect.signature(function)

    @functools.wraps(function)
    def door(*args, **kwargs):
        try:
            bound = signature.bind(*args, **kwargs)
        except TypeError as wrong:
            raise TypeError(f"{function.__name__}: {wrong}; it is used as {function.__name__}{_usage(signature)}") from None
        for name, value in bound.arguments.items():
            if name in kinds:
                bound.arguments[name] = si_value(value, kinds[name], f"{function.__name__}: {name}")
        result = function(*bound.args, **bound.kwargs)
        return result if returns is None or returns is NUMBER or result is None else returns.quantity(result)

    door.si = function
    door.kinds = kinds
    door.returns = returns
    return door


def _usage(signature: inspect.Signature) -> str:
    return "(" + ", ".join(signature.parameters) + ")"


class Record:
    """A frozen group of values: quantities at the face, bare SI numbers in ``.si``.

    A subclass lists its fields as annotations, with defaults where there are any::

        class Point(Record):
            flow: Flow
            head: Head
            name: str = ""

    ``Point(flow="900 L/h", head=1.2 * u.m)`` checks units; `Point.from_si` takes bare SI numbers.
    """

    _kinds: typing.ClassVar[dict[str, Kind | None]] = {}
    _defaults: typing.ClassVar[dict[str, Any]] = {}

    def __init_subclass__(cls) -> None:
        hints = typing.get_type_hints(cls, include_extras=True)
        fields = [n for n, h in hints.items() if not n.startswith("_") and typing.get_origin(h) is not typing.ClassVar]
        cls._kinds = {name: _kind_of(hints[name]) for name in fields}
        cls._defaults = {n: vars(b)[n] for b in reversed(cls.__mro__) for n in fields if n in vars(b)}
        for name in cls._defaults:
            if name in vars(cls):
                delattr(cls, name)

    def __init__(self, **given):
        name = type(self).__name__
        self._fill({k: si_value(v, kind, f"{name}: {k}") if (kind := self._kinds.get(k)) else v for k, v in given.items()})

    @classmethod
    def from_si(cls, **given):
        """The record from bare SI numbers."""
        record = cls.__new__(cls)
        record._fill(given)
        return record

    def _fill(self, values: dict) -> None:
        name = type(self).__name__
        if unknown := [k for k in values if k not in self._kinds]:
            raise DesignError(f"{name} has no '{unknown[0]}'; it has {', '.join(self._kinds)}.")
        for field, kind in self._kinds.items():
            if field not in values:
                if field not in self._defaults:
                    raise DesignError(f"{name} needs {field}" + (f", {kind.noun} such as {kind.example}." if kind else "."))
                default = self._defaults[field]
                values[field] = si_value(default, kind, field) if kind and isinstance(default, (str, Quantity)) else default
        vars(self)["si"] = SimpleNamespace(**{field: values[field] for field in self._kinds})
        self.check()

    def check(self) -> None:
        """Refuse values that cannot be together; a subclass fills this in."""

    def __getattr__(self, name: str):
        if name.startswith("_") or name == "si" or name not in self._kinds:
            raise AttributeError(f"{type(self).__name__} has no '{name}'; it has {', '.join(self._kinds)}.")
        value, kind = getattr(self.si, name), self._kinds[name]
        return value if kind is None or kind is NUMBER or value is None else kind.quantity(value)

    def __setattr__(self, name, value):
        raise AttributeError(f"{type(self).__name__} does not change; make another with .replace({name}=…).")

    def replace(self, **changes):
        """A copy with some fields changed (given as quantities)."""
        name = type(self).__name__
        new = {k: si_value(v, kind, f"{name}: {k}") if (kind := self._kinds.get(k)) else v for k, v in changes.items()}
        return self.from_si(**{**vars(self.si), **new})

    def __eq__(self, other):
        return type(self) is type(other) and repr(vars(self.si)) == repr(vars(other.si))

    def __hash__(self):
        return hash((type(self), repr(vars(self.si))))

    def __getstate__(self):
        return vars(self.si)

    def __setstate__(self, state):
        self._fill(dict(state))

    def __dir__(self):
        return [*super().__dir__(), *self._kinds]

    def __repr__(self):
        def text(name, value):
            kind = self._kinds[name]
            return kind.text(value) if kind and isinstance(value, (int, float)) else repr(value)

        return f"{type(self).__name__}({', '.join(f'{n}={text(n, v)}' for n, v in vars(self.si).items())})"

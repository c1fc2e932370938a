"""The registry of units, the names people write for them, and the kinds of quantity.

A `Kind` (FLOW, LENGTH, BORE, ...) knows its SI unit, the builder's metric and US units and how to round. All of it is
reached through `units`; a new kind is entered here.
"""

from __future__ import annotations

import copyreg
import difflib
import functools
import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Any

import numpy as np
import pint

from aquaplumb.sentences import DesignError

# Sums in a text, which pint would work out, were it for hours: a power of a number or a bracket, one over 99, a sum.
_SUMS = re.compile(r"[\d)]\s*(?:\*\*|\^)|(?:\*\*|\^)(?!\s*[+-]?\d{1,2}(?:\.\d+)?(?!\d))|[^*^\s]\s+[+-]|[^eE*^\s(][+-]")


def _powers_raised(text: str) -> str:
    """ "m3/h" as pint wants it, "m**3/h": what we read can be asked for in ``.to(…)``, too. Sums are refused."""
    if len(text) > 200 or _SUMS.search(text):
        raise DesignError(f"'{text:.40}' is more than a number and its unit; nothing is worked out here: write such as 900 L/h.")
    return re.sub(r"(?<=[a-zA-Z])([2-4])(?![\w.])", r"**\1", text)


def _registry() -> pint.UnitRegistry:
    """The registry; its 1,000 definitions are kept parsed in the user's cache folder, which saves half of the start."""
    for folder in (":auto:", None):
        try:
            return pint.UnitRegistry(autoconvert_offset_to_baseunit=True, preprocessors=[_powers_raised], cache_folder=folder)
        except Exception:  # no folder to write to, or a file half written by another kernel: parse them afresh
            if not folder:
                raise
    raise AssertionError


u = _registry()
u.define("liter = decimeter ** 3 = L = l = litre")  # pint prints a bare "l", which reads as a 1
for _name, _is in (
    ("gph", "gallon / hour"),
    ("gpm", "gallon / minute"),
    ("gpd", "gallon / day"),
    ("lph", "liter / hour"),
    ("lpm", "liter / minute"),
    ("psf", "pound_force / foot ** 2"),
):
    u.define(f"{_name} = {_is}")
u.formatter.default_format = ".4g~P"


GRAVITY = 9.80665  # m/s², standard

if TYPE_CHECKING:

    class Quantity:
        """A number or array with its unit; of the registry `u`. Here for type checkers: pint makes the class at run time."""

        magnitude: Any
        units: Any
        dimensionless: bool

        def __init__(self, value: Any, units: Any = None) -> None: ...
        def to(self, units: Any) -> Quantity: ...
        def m_as(self, units: Any) -> Any: ...
        def check(self, dimension: Any) -> bool: ...
        def __getattr__(self, name: str) -> Any: ...
        def __array__(self, dtype: Any = ..., copy: Any = ...) -> Any: ...
        def __float__(self) -> float: ...
        def __round__(self, digits: int = 0) -> Quantity: ...
        def __neg__(self) -> Any: ...
        def __pos__(self) -> Any: ...
        def __abs__(self) -> Any: ...
        def __add__(self, other: Any) -> Any: ...
        def __radd__(self, other: Any) -> Any: ...
        def __sub__(self, other: Any) -> Any: ...
        def __rsub__(self, other: Any) -> Any: ...
        def __mul__(self, other: Any) -> Any: ...
        def __rmul__(self, other: Any) -> Any: ...
        def __truediv__(self, other: Any) -> Any: ...
        def __rtruediv__(self, other: Any) -> Any: ...
        def __floordiv__(self, other: Any) -> Any: ...
        def __mod__(self, other: Any) -> Any: ...
        def __pow__(self, other: Any) -> Any: ...
        def __lt__(self, other: Any) -> Any: ...
        def __le__(self, other: Any) -> Any: ...
        def __gt__(self, other: Any) -> Any: ...
        def __ge__(self, other: Any) -> Any: ...
        def __getitem__(self, index: Any) -> Any: ...
        def __len__(self) -> int: ...
        def __iter__(self) -> Any: ...

    _Amount = Quantity | Any  # a quantity comes back; one or text such as "900 L/h" goes in; bare SI numbers are inside
else:
    Quantity = _Amount = u.Quantity


def _again(magnitude, units: str):
    return Quantity(magnitude, units)


copyreg.pickle(Quantity, lambda one: (_again, (one.magnitude, str(one.units))))  # into our registry, whoever's is the default

SYSTEMS = ("metric", "US")


# --- kinds of quantity ------------------------------------------------------------------------


@dataclass(frozen=True)
class Kind:
    """What sort of quantity a value is: its name in a sentence, its units, an example, and whether it is measured with a `tape`.

    Such a length is written in US units as a tape shows it. Bores, films, losses and heads are not: print has them in decimals."""

    noun: str
    si: str
    metric: str
    us: str
    example: str
    tape: bool = False

    def unit(self, system: str = "metric") -> str:
        """The builder's unit in a system, "metric" or "US"."""
        return self.us if system == "US" else self.metric

    @functools.cache  # noqa: B019  (a dozen module-level kinds, kept for good)
    def _scale(self, system: str) -> tuple[float, float]:
        zero = Quantity(0.0, pint_unit(self.si)).to(pint_unit(self.unit(system))).magnitude
        one = Quantity(1.0, pint_unit(self.si)).to(pint_unit(self.unit(system))).magnitude
        return float(one - zero), float(zero)

    def shown(self, si, system: str = "metric"):
        """The number to show for a bare SI value (scalar or array), in the builder's unit."""
        slope, zero = self._scale(system)
        return si * slope + zero

    def from_shown(self, number, system: str = "metric"):
        """The bare SI value of a number in the builder's unit: the inverse of `shown`."""
        slope, zero = self._scale(system)
        return (number - zero) / slope

    def text(self, si: Any, system: str = "metric") -> str:
        """A bare SI value as a person reads it: ``FLOW.text(0.00042)`` is "1,510 L/h"."""
        unit, value = self.unit(system), self.shown(si, system)
        if getattr(value, "ndim", 0):
            return f"{_listed(value)} {unit}".rstrip()
        if self.tape and system == "US" and math.isfinite(value):
            return _as_on_a_tape(float(si)) if value else f"0 {unit}"
        if unit == "ft" and 0 < abs(value) < 1:  # nobody says 0.667 ft
            unit, value = "in", 12 * value
        number = rounded(value)
        return f"{number} {unit}" if unit else number

    def quantity(self, si):
        """The bare SI value as a quantity in SI units."""
        return Quantity(si, pint_unit(self.si))


def on_tape(metres: float) -> str:
    """Bare metres as feet and inches to a sixteenth: "3 ft 2 5/16 in". Source: common practice, no source."""
    feet, rest = divmod(round(abs(metres) / 0.0254 * 16), 16 * 12)
    inches = " ".join(str(part) for part in (rest // 16, Fraction(rest % 16, 16)) if part) or "0"
    words = [f"{feet} ft"] * (feet > 0) + [f"{inches} in"] * (rest > 0 or not feet)
    return "-" * (metres < 0.0 and feet + rest > 0) + " ".join(words)


def _as_on_a_tape(metres: float) -> str:
    """The same where a tape can read it: longer than one of 100 ft in feet, and less than half an inch that is no sixteenth in decimals."""
    inches = metres / 0.0254
    if abs(inches) > 1200:
        return f"{rounded(inches / 12)} ft"
    whole = round(16 * inches)
    return f"{rounded(inches)} in" if abs(inches) < 0.5 and (not whole or abs(16 * inches / whole - 1) > 0.01) else on_tape(metres)


def _listed(values) -> str:
    """An array as a person reads it: "[0 1,140 2,270]", with the middle left out of a long one."""
    if values.ndim > 1:
        return f"[{' '.join(map(_listed, values))}]"
    if len(values) > 12:
        return f"[{' '.join(map(rounded, values[:4]))} … {' '.join(map(rounded, values[-2:]))}; {len(values)} in all]"
    return f"[{' '.join(map(rounded, values))}]"


def rounded(number: float, digits: int = 3) -> str:
    """A number to `digits` significant figures with no needless zeros: 1511.3 -> "1,510"."""
    number = float(number)
    if not math.isfinite(number):
        return str(number)
    number = float(f"{number:.{digits}g}") + 0.0
    if abs(number) >= 1000:
        return f"{number:,.0f}" if abs(number) < 1e15 else f"{number:.{digits}g}"
    return f"{number:.10f}".rstrip("0").rstrip(".") if abs(number) >= 1e-4 or number == 0 else f"{number:.{digits}g}"


FLOW = Kind("a flow", "m³/s", "L/h", "gal/h", "900 L/h")
LENGTH = Kind("a length", "m", "m", "ft", "2.5 m", tape=True)
BORE = Kind("a length", "m", "mm", "in", "25 mm")  # and other small lengths that no tape is held to
DEPTH = Kind("a length", "m", "mm", "in", "25 mm", tape=True)
HEAD = Kind("a head", "m", "m", "ft", "1.2 m")
AREA = Kind("an area", "m²", "m²", "ft²", "2 m²")
VOLUME = Kind("a volume", "m³", "L", "gal", "1000 L")
MASS = Kind("a mass", "kg", "kg", "lb", "20 kg")
BODY_MASS = Kind("a mass", "kg", "g", "oz", "350 g")
MASS_RATE = Kind("a mass a day", "kg/s", "g/d", "oz/d", "200 g/d")
OXYGEN_RATE = Kind("a mass a day", "kg/s", "g/d", "g/d", "60 g/d")  # of oxygen: labels and meters tell it in grams everywhere
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
FORCE = Kind("a force", "N", "N", "lbf", "1.5 N")
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
WIRE_AREA = Kind("an area", "m²", "mm²", "mm²", "2.5 mm2")
INSOLATION = Kind("sunshine on an area each day", "W/m²", "kWh/m²/d", "kWh/m²/d", "4 kWh/m2/d")
HEAT_TRANSFER = Kind("a heat transfer", "W/m²/K", "W/m²/K", "W/m²/K", "5 W/m2/K")
ANGLE = Kind("an angle", "rad", "deg", "deg", "45 deg")
RESPIRATION = Kind("oxygen for a mass of fish", "1/s", "mg/kg/h", "mg/kg/h", "200 mg/kg/h")
DEPTH_RATE = Kind("a depth in a time", "m/s", "mm/d", "in/d", "5 mm/d")
AIR_FLOW = Kind("an air flow", "m³/s", "L/min", "ft³/min", "20 L/min")
DAYS = Kind("a time", "s", "days", "days", "14 days")
HOURS = Kind("a time", "s", "h", "h", "8 h")
RAIN = Kind("a depth of rain in a time", "m/s", "mm/h", "in/h", "30 mm/h")
RISE = Kind("a speed", "m/s", "m/h", "gal/min/ft²", "2 m/h")  # of water over a plan area
SALINITY = Kind("a salinity", "g/kg", "g/kg", "g/kg", "35 g/kg")  # a bare number is grams in a kilogram, too: see units.si_value
DEPTH_SHARE = Kind("a share for each metre of depth", "1/m", "%/m", "%/ft", "3 %/m")

Flow = Annotated[_Amount, FLOW]
Length = Annotated[_Amount, LENGTH]
Bore = Annotated[_Amount, BORE]
Head = Annotated[_Amount, HEAD]
Area = Annotated[_Amount, AREA]
Volume = Annotated[_Amount, VOLUME]
Mass = Annotated[_Amount, MASS]
BodyMass = Annotated[_Amount, BODY_MASS]
MassRate = Annotated[_Amount, MASS_RATE]
Speed = Annotated[_Amount, SPEED]
Temperature = Annotated[_Amount, TEMPERATURE]
Stocking = Annotated[_Amount, STOCKING]
BulkDensity = Annotated[_Amount, BULK_DENSITY]
Concentration = Annotated[_Amount, CONCENTRATION]
Surface = Annotated[_Amount, SURFACE]
AreaRate = Annotated[_Amount, AREA_RATE]
Rate = Annotated[_Amount, RATE]
Turnover = Annotated[_Amount, TURNOVER]
Time = Annotated[_Amount, TIME]
Power = Annotated[_Amount, POWER]
Energy = Annotated[_Amount, ENERGY]
FloorLoad = Annotated[_Amount, FLOOR_LOAD]
Force = Annotated[_Amount, FORCE]
Pressure = Annotated[_Amount, PRESSURE]
Voltage = Annotated[_Amount, VOLTAGE]
Viscosity = Annotated[_Amount, VISCOSITY]
DynamicViscosity = Annotated[_Amount, DYNAMIC_VISCOSITY]
Planting = Annotated[_Amount, PLANTING]
EnergyPerVolume = Annotated[_Amount, ENERGY_PER_VOLUME]
Current = Annotated[_Amount, CURRENT]
Charge = Annotated[_Amount, CHARGE]
Resistance = Annotated[_Amount, RESISTANCE]
WireResistance = Annotated[_Amount, WIRE_RESISTANCE]
WireArea = Annotated[_Amount, WIRE_AREA]
Insolation = Annotated[_Amount, INSOLATION]
HeatTransfer = Annotated[_Amount, HEAT_TRANSFER]
Angle = Annotated[_Amount, ANGLE]
Respiration = Annotated[_Amount, RESPIRATION]
DepthRate = Annotated[_Amount, DEPTH_RATE]
AirFlow = Annotated[_Amount, AIR_FLOW]
Salinity = Annotated[_Amount, SALINITY]
DepthShare = Annotated[_Amount, DEPTH_SHARE]

NUMBER = Kind("a plain number", "", "", "", "0.4")
SHARE = Kind("a plain number", "", "%", "%", "40 %")  # a pure number that people read in hundredths
Number = Annotated[float | Any, NUMBER]  # a pure number, or an array of them; "32 %" serves as well as 0.32

# What nobody can have less of than nothing, wherever it is given (flows, heads and lengths go both ways).
NEVER_NEGATIVE = frozenset((
    AREA, VOLUME, MASS, BODY_MASS, STOCKING, BULK_DENSITY, CONCENTRATION, SURFACE, AREA_RATE, RATE, TURNOVER, TIME, DAYS, HOURS, VISCOSITY,
    DYNAMIC_VISCOSITY, PLANTING, CHARGE, WIRE_RESISTANCE, WIRE_AREA, RESPIRATION, AIR_FLOW, RAIN, SALINITY, MASS_RATE, OXYGEN_RATE,
))  # fmt: skip
KINDS = tuple(k for k in list(globals().values()) if isinstance(k, Kind))


# --- the names that people write for units ------------------------------------------------------

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
    "Pa": "Pa", "mPa": "mPa", "kPa": "kPa", "bar": "bar", "mbar": "mbar", "psi": "psi", "psf": "pound_force/foot**2", "lbf": "pound_force", "N": "N",
    "kN": "kN",
    "W": "W", "kW": "kW", "hp": "hp", "J": "J", "kJ": "kJ", "MJ": "MJ", "Wh": "W*hour", "kWh": "kW*hour",
    "V": "V", "A": "A", "mA": "mA", "Ah": "A*hour", "ohm": "ohm", "Ω": "ohm", "deg": "degree", "°": "degree", "rad": "radian",
    "%": "percent", "‰": "permille", "1": "",
}  # fmt: skip
_HINTS = {"ppm": "mg/L", "ppt": "g/kg", "psu": "g/kg", "cc": "mL", "gals": "gal", "lt": "L", "ltr": "L", "kgs": "kg", "mtr": "m", "meter": "m",
          "metre": "m", "meters": "m", "metres": "m", "″": "in", "′": "ft", "'": "ft"}  # fmt: skip
_POWERS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
_FACTOR = re.compile(r"(?P<name>[A-Za-zµμΩ°%‰\"″′']+|1(?=/|$))(?:(?:\*\*|\^)?(?P<power>-?[1-4]))?$")


@functools.cache
def pint_unit(text: str):
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


# --- bounds of bare numbers: quick for one, which is nearly always what comes, and right for an array


def below(value, bound: float) -> bool:
    """Whether any of it is less than the bound."""
    return value < bound if isinstance(value, (float, int)) else bool(np.any(np.less(value, bound)))


def at_least(value, bound: float) -> bool:
    """Whether all of it is the bound or more; what is no number is not."""
    return value >= bound if isinstance(value, (float, int)) else bool(np.all(np.greater_equal(value, bound)))


def not_above(value, bound: float) -> bool:
    """Whether any of it is the bound or less."""
    return value <= bound if isinstance(value, (float, int)) else bool(np.any(np.less_equal(value, bound)))


__all__ = [
    "AIR_FLOW", "ANGLE", "AREA", "AREA_RATE", "BODY_MASS", "BORE", "BULK_DENSITY", "CHARGE", "CONCENTRATION", "CURRENT", "DAYS", "DEPTH",
    "DEPTH_RATE", "DEPTH_SHARE", "DYNAMIC_VISCOSITY", "ENERGY", "ENERGY_PER_VOLUME", "FLOOR_LOAD", "FLOW", "FORCE", "GRAVITY", "HEAD",
    "HEAT_TRANSFER", "HOURS", "INSOLATION", "KINDS", "LENGTH", "MASS", "MASS_RATE", "NUMBER", "OXYGEN_RATE", "PLANTING", "POWER", "PRESSURE", "RAIN",
    "RATE", "RESISTANCE", "RESPIRATION", "RISE", "SALINITY", "SHARE", "SPEED", "STOCKING", "SURFACE", "SYSTEMS", "TEMPERATURE", "TIME", "TURNOVER",
    "VISCOSITY", "VOLTAGE", "VOLUME", "WIRE_AREA", "WIRE_RESISTANCE", "AirFlow", "Angle", "Area", "AreaRate", "BodyMass", "Bore",
    "BulkDensity", "Charge", "Concentration", "Current", "DepthRate", "DepthShare", "DesignError", "DynamicViscosity", "Energy",
    "EnergyPerVolume", "FloorLoad", "Flow", "Force", "Head", "HeatTransfer", "Insolation", "Kind", "Length", "Mass", "MassRate", "Number",
    "Planting", "Power", "Pressure", "Quantity", "Rate", "Resistance", "Respiration", "Salinity", "Speed", "Stocking", "Surface", "Temperature",
    "Time", "Turnover", "Viscosity", "Voltage", "Volume", "WireArea", "WireResistance", "at_least", "below", "not_above", "on_tape", "pint_unit",
    "rounded", "u",
]  # fmt: skip

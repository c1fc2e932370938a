"""What stands in a log's header and cells: which column is which, on which basis, and whether a cell is sound.

Each reader gives back a value, or says in words why it cannot (`Unsound`). Nothing is guessed: a comma that may be a
decimal or a thousand, a reading that no living fish can see, are said and left to the grower. `dates` reads the dates.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from aquaplumb.tables import unknown
from aquaplumb.units import (
    CONCENTRATION,
    MASS,
    MASS_RATE,
    NUMBER,
    TEMPERATURE,
    VOLUME,
    DesignError,
    Kind,
    quantity,
    rounded,
    si_value,
)
from aquaplumb.water import chemistry


class Unsound(ValueError):
    """Why a cell is kept out, in the grower's words."""


@dataclass(frozen=True)
class Column:
    """A column that a log may have: its name and kind, what can be (bare SI), its bases, and how a cell becomes SI."""

    name: str
    kind: Kind
    low: float
    high: float
    forms: tuple[str, ...] = ()
    example: str = ""
    slope: float = 1.0
    zero: float = 0.0
    unit: str = ""

    @property
    def basis(self) -> str:
        """What it is kept as, such as "as N"."""
        return {"": "", "N": " as N", "CaCO3": " as CaCO3"}[self.forms[0] if self.forms else ""]

    def heading(self, system: str = "metric") -> str:
        """Its heading in a frame: "ammonia [mg/L as N]"."""
        unit = self.kind.unit(system)
        return f"{self.name} [{unit}{self.basis}]" if unit else self.name

    def si(self, number: float) -> float:
        """The bare SI value of a number in the column's own unit."""
        return number * self.slope + self.zero


_MG = 1e-3  # kg/m³ in a mg/L
# What water with living fish in it can show; past these it is a slip of the pen (common practice, no source).
COLUMNS = {c.name: c for c in (
    Column("temperature", TEMPERATURE, 273.15, 318.15, (), "temperature [degC]"),
    Column("pH", NUMBER, 3.0, 11.0, (), "pH"),
    Column("ammonia", CONCENTRATION, 0.0, 50 * _MG, ("N", "NH3", "NH4"), "ammonia [mg/L as N]"),
    Column("nitrite", CONCENTRATION, 0.0, 50 * _MG, ("N", "NO2"), "nitrite [mg/L as N]"),
    Column("nitrate", CONCENTRATION, 0.0, 1000 * _MG, ("N", "NO3"), "nitrate [mg/L as N]"),
    Column("oxygen", CONCENTRATION, 0.0, 30 * _MG, (), "oxygen [mg/L]"),
    Column("alkalinity", CONCENTRATION, 0.0, 1000 * _MG, ("CaCO3", "HCO3"), "alkalinity [mg/L as CaCO3]"),
    Column("feed", MASS_RATE, 0.0, 100 / 86400, (), "feed [g]"),
    Column("top-up", VOLUME, 0.0, 100.0, (), "top-up [L]"),
)}  # fmt: skip
DERIVED = {c.name: c for c in (
    Column("un-ionised ammonia", CONCENTRATION, 0.0, 50 * _MG, ("N",)),
    Column("carbon dioxide", CONCENTRATION, 0.0, 1.0),
)}  # fmt: skip

HEADER = re.compile(r"(?P<name>[^\[\]]+?)\s*(?:\[(?P<unit>[^\[\]]*)\])?$")
_FORMS = {"n": "N", "nh3-n": "N", "nh4-n": "N", "no2-n": "N", "no3-n": "N", "tan": "N", "nh3": "NH3", "nh4": "NH4", "no2": "NO2",
          "no3": "NO3", "caco3": "CaCO3", "hco3": "HCO3"}  # fmt: skip
_SMALL = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789", "⁺⁻")
_DEGREE = 17.848 * _MG  # a German degree, 10 mg/L of CaO, as CaCO3
_MEQ = 50.0435 * _MG  # a milliequivalent in a litre, as CaCO3


def column(cell: str) -> Column | None:
    """The column that a header cell names, with its unit and basis; None where the name is not one of ours."""
    found = HEADER.match(cell)
    name = re.sub(r"[\s_-]+", " ", (found["name"] if found else cell).strip()).casefold()
    known = next((c for c in COLUMNS.values() if c.name.casefold().replace("-", " ") == name), None)
    if known is None:
        bare = re.split(r"[(:]", name)[0].strip()
        if bare != name and bare in {c.casefold() for c in COLUMNS}:
            raise DesignError(
                f"the header '{cell}' needs its unit in square brackets, as in {COLUMNS[next(c for c in COLUMNS if c.casefold() == bare)].example}."
            )
        return None
    unit = (found["unit"] or "").strip() if found else ""
    if known.name == "pH":
        if unit:
            raise DesignError(f"the header '{cell}' has a unit; pH has none: write pH.")
        return known
    if not unit:
        raise DesignError(f"the header '{cell}' does not say its unit; write it in square brackets, as in {known.example}.")
    return _with_unit(known, unit, cell)


def _with_unit(known: Column, unit: str, cell: str) -> Column:
    ratio = 1.0
    if known.name == "alkalinity" and unit.casefold() in ("dkh", "°dkh", "dh", "°dh"):
        return replace(known, slope=_DEGREE, unit="dKH")
    if known.name == "alkalinity" and unit.casefold() in ("meq/l", "mval/l"):
        return replace(known, slope=_MEQ, unit="meq/L")
    if known.name == "oxygen" and "%" in unit:
        raise DesignError(
            f"the header '{cell}' is oxygen as a share of full; write it in mg/L (a meter shows both), as in {known.example}."
        )
    plain = re.sub(r"(?i)^ppm\b", "mg/L", unit) if known.kind is CONCENTRATION else unit  # the same in fresh water, to 0.3 %
    if known.forms:
        plain, form = _form(plain)
        if form not in known.forms:
            fault = "does not say what it is measured as" if not form else f"says '{form}'"
            choices = " or ".join(f"{known.name} [mg/L as {f}]" for f in known.forms)
            raise DesignError(
                f"the header '{cell}' {fault}; look at your kit and write {choices}. The numbers differ by up to a factor of four."
            )
        turn = chemistry.as_calcium_carbonate if known.name == "alkalinity" else chemistry.as_nitrogen
        ratio = turn.si(1.0, form)
    try:
        try:
            zero, one = (si_value(quantity(f"{n} {plain}", known.kind), known.kind, "") for n in (0, 1))
        except DesignError:
            if known.kind is not MASS_RATE:
                raise
            zero, one = (si_value(quantity(f"{n} {plain}", MASS), MASS, "") / 86400 for n in (0, 1))
    except DesignError:
        raise DesignError(f"the header '{cell}' has a unit that is not {known.kind.noun}; write it as in {known.example}.") from None
    return replace(known, slope=(one - zero) * ratio, zero=zero * ratio, unit=unit)


def _form(unit: str) -> tuple[str, str]:
    """("mg/L", "NO3") of "mg/L as NO3"; a form that nobody knows is given back as it stands."""
    words = unit.translate(_SMALL).split()
    if len(words) < 2:
        return unit, ""
    form = "".join(words[1:]) if words[1].casefold() != "as" else "".join(words[2:])
    key = form.casefold()
    return words[0], _FORMS.get(key) or _FORMS.get(key.rstrip("+-")) or form


# --- numbers ------------------------------------------------------------------------------------------------

_PLAIN = re.compile(
    r"[+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE]-[0-9]{1,2})?"
)  # the exponent is that of a small float as Python writes it


def number(text: str, known: Column, decimal: str) -> float:
    """The bare SI value of a cell that is not blank."""
    tidy = text.replace("\u2212", "-")
    if decimal == ",":
        if re.fullmatch(r"[+-]?[0-9]{1,3}(?:\.[0-9]{3})+", tidy):
            raise Unsound(
                "has a point, and you said that this file has decimal commas: write it without the point if that marks the thousands, else with a comma."
            )
        if "." in tidy:
            raise Unsound("has a point, and you said that this file has decimal commas; write it with a comma and no point.")
        tidy = tidy.replace(",", ".", 1)
    if not _PLAIN.fullmatch(tidy):
        raise Unsound(_not_a_number(text, known, decimal))
    value = known.si(float(tidy))
    slack = 1e-9 * (known.high - known.low)
    if not known.low - slack <= value <= known.high + slack:
        raise Unsound(
            f"cannot be: {known.name} in water with living fish lies from {rounded((known.low - known.zero) / known.slope)} to {_own(known, known.high)}; look it up and mend it."
        )
    return value


def _own(known: Column, value: float) -> str:
    return f"{rounded((value - known.zero) / known.slope)} {known.unit}".strip()


_DATE_LIKE = re.compile(
    r"[0-9]{1,4}[-/][0-9]{1,2}(?:[-/][0-9]{1,4})?|[0-9]{1,2}\.[0-9]{1,2}\.[0-9]{2,4}"
    r"|[0-9]{1,2}[-/. ]?(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*(?:[-/. ]?[0-9]{2,4})?|(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)-[0-9]{1,4}",
    re.IGNORECASE,
)


def _not_a_number(text: str, known: Column, decimal: str) -> str:
    bare = text.strip()
    if re.fullmatch(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+", bare):
        whole = bare.replace(",", "")
        return f"has a comma, which may mean {whole} or {float(bare.replace(',', '.', 1).replace(',', '')):g}; write the one that you mean without a comma."
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]+", bare):
        return f"has a comma. With a decimal point it is {bare.replace(',', '.')}; a log writes all its numbers one way."
    if re.match(r"[<>≤≥~]", bare):
        return "is a limit, not a reading; write what you want it to count as (0, or the kit's lowest step)."
    if bare.startswith("#") or bare.startswith("="):
        return "is a spreadsheet's formula or error; put the number itself there."
    if _DATE_LIKE.fullmatch(bare):
        return "looks like a date: spreadsheets turn numbers into dates. Set the column to plain numbers and write it again."
    if re.match(r"[+-]?[0-9.]+\s*[^\s0-9.,]", bare):
        return f"has more than a number in it; the unit stands in the header ({known.example}), so write the number alone."
    return "is not a number; write one, with a decimal " + ("comma" if decimal == "," else "point") + ", or leave the cell blank."


def unknown_column(cell: str) -> str:
    """What to say of a column that is not one of ours."""
    return f"is not a column that I know, so it is kept out: {unknown('log', cell.split('[')[0].strip(), ['date', *COLUMNS, 'note'])}"

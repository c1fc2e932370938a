"""What differs between two build files: key by key, amounts by what they are and not by how they are written.

    for change in changes(load("before.toml"), load("after.toml")):
        print(change)                       # fish › density: 15 kg/m3 → 10 kg/m3

Comments and the order of things are no change. Names and texts of the files are text, whatever they hold.
"""

from __future__ import annotations

import numbers
from dataclasses import dataclass

from aquaplumb.build import Build, file_text
from aquaplumb.units import DesignError, quantity

_LONGEST = 300  # characters of a text of a file that are shown
_WORDS = {
    "title",
    "about",
    "name",
    "kind",
    "from",
    "to",
    "after",
    "size",
    "standard",
    "pump",
    "pump_file",
    "log",
}  # never read as an amount


def quoted(text, longest: int = _LONGEST) -> str:
    """A text of a file on one line, without signs that turn or hide others, and not too long.

    Source: none.

    Examples
    --------
    >>> quoted("my\\nbed")
    'my bed'
    """
    shown = " ".join("".join(sign if sign.isprintable() else " " for sign in str(text)).split())
    return shown if len(shown) <= longest else shown[: longest - 1] + "…"


@dataclass(frozen=True)
class Change:
    """One thing that differs between the files: `where` it stands; `old` and `new` as they are written, None where there is none."""

    where: str
    old: str | None
    new: str | None

    def __str__(self) -> str:
        if self.new is None:
            return f"{self.where}: taken out" + (f" (was {self.old})" if self.old else "")
        return (
            f"{self.where}: {self.old} → {self.new}"
            if self.old is not None
            else f"{self.where}: added" + (f" ({self.new})" if self.new else "")
        )


def changes(old: Build, new: Build) -> list[Change]:
    """What differs between two build files; the same amount in another unit is no change, nor is another order.

    Source: none.

    Examples
    --------
    >>> from aquaplumb.build import load
    >>> yard = load("courtyard")
    >>> print(*changes(yard, yard.changed({("fish", "density"): "10 kg/m3"})))
    fish › density: 15 kg/m3 → 10 kg/m3
    """
    return list(_differing((), *(file_text.values(one.text, one.name) for one in (old, new))))


def _differing(way: tuple, old, new):
    """Each `Change` at or below one place of both files."""
    if isinstance(old, dict) and isinstance(new, dict):
        for key in [*new, *(key for key in old if key not in new)]:
            yield from _differing((*way, key), old.get(key), new.get(key))
    elif (named := _named(old)) is not None and (now := _named(new)) is not None:
        yield from _differing(way, named, now)
    elif old is None or new is None:
        if old is not new:
            yield Change(_where(way), _brief(way, old), _brief(way, new))
    elif not _same(way[-1] if way else "", old, new):
        yield Change(_where(way), _value(old), _value(new))


def _named(value) -> dict | None:
    """A list of tables, such as the stretches of a line, by their names."""
    if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
        return None
    names = [quoted(one.get("name", f"stretch {place}")) for place, one in enumerate(value, start=1)]
    return dict(zip(names, value)) if len(set(names)) == len(names) else None


def _where(way: tuple) -> str:
    return " › ".join(quoted(key, 80) for key in way)


def _brief(way: tuple, value) -> str | None:
    """What was added or taken out: a value, or a thing by what it is."""
    if value is None:
        return None
    if isinstance(value, dict):
        return quoted(
            ", ".join(str(value[key]) for key in ("kind", "size", "length") if key in value and not isinstance(value[key], (dict, list)))
        )
    return _value(value)


def _value(value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return quoted(", ".join(f"{key} {_value(one)}" for key, one in value.items()))
    if isinstance(value, list):
        return quoted(", ".join(_value(one) for one in value))
    return quoted(value)


def _same(key: str, old, new) -> bool:
    """Whether two values of a key say the same: amounts in SI units, everything else letter by letter."""
    if isinstance(old, bool) or isinstance(new, bool) or key in _WORDS:
        return old == new and type(old) is type(new)
    before, now = _amount(old), _amount(new)
    if before is None or now is None:
        return old == new
    return before[1] == now[1] and abs(now[0] - before[0]) <= 1e-9 * max(abs(now[0]), abs(before[0]))


def _amount(value) -> tuple | None:
    """(bare SI number, dimension) of a number, or of a text with a unit; None for other texts."""
    if isinstance(value, numbers.Real):
        return float(value), "dimensionless"
    if not isinstance(value, str):
        return None
    try:
        amount = quantity(value).to_base_units()
    except DesignError:
        return None
    return float(amount.magnitude), str(amount.dimensionality)

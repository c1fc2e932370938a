"""Several stocks of fish, as a build file has them: `[stocks."young tilapia"]`, each in one tank.

Of two stocks in one tank each has the count of its fish, or its density in its share of the tank's water.
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

from aquaplumb import tables
from aquaplumb.build.records import Stock
from aquaplumb.build.vessels import Vessel, water_volume

if TYPE_CHECKING:
    from aquaplumb.build.reader import Reader

ALONE = {"name": "", "tank": "", "count": None, "share": None}  # what one stock in all tanks has no need to say
_MANY = 1e-9


def read(reader: Reader, vessels: dict[str, Vessel]) -> dict[str, Stock]:
    """The stocks of a file by name; each refusal names the key and its line."""
    if "fish" in reader.doc:
        reader.refuse(("fish",), "the file has [stocks] as well; move these fish to a section of their own there, and take [fish] out.")
    tanks = [name for name, vessel in vessels.items() if vessel.si.kind == "fish tank"]
    found = {name: _one(reader, name, given, tanks, vessels) for name, given in reader.named("stocks").items()}
    for tank in tanks:
        _together(reader, tank, {name: stock for name, stock in found.items() if stock.si.tank == tank})
    return found


def _one(reader: Reader, name: str, given, tanks: list[str], vessels: dict[str, Vessel]) -> Stock:
    keys = ("stocks", name)
    if not isinstance(given, dict):
        reader.refuse(keys, f'is {given!r}; write a section [stocks."{name}"].')
    fixed = {"name": name}
    if "tank" not in given:
        if len(tanks) > 1:
            reader.refuse(keys, f'tank is missing, which holds these fish: tank = "{tanks[0]}" (there are {", ".join(tanks)}).')
        fixed["tank"] = tanks[0]
    elif given["tank"] not in tanks:
        reader.refuse((*keys, "tank"), tables.unknown("list of fish tanks", str(given["tank"]), tanks))
    if "count" in given:
        for other in ("density", "share"):
            if other in given:
                reader.refuse(
                    (*keys, other), f"these fish have a count, and {other} follows from it and body_mass; give one of the two, not both."
                )
        if "body_mass" in given:
            count, mass = (reader.field((*keys, field), given[field], Stock, field) for field in ("count", "body_mass"))
            tank = vessels[given.get("tank", tanks[0])]
            volume = water_volume.si(tank, tank.si.working_depth)
            if not volume > 0:
                reader.refuse((*keys, "tank"), f"{tank.si.name} holds no water; give it a working_depth of more than 0.")
            fixed["density"] = count * mass / volume
    elif "density" not in given:
        reader.refuse(keys, 'count is missing: how many fish there are, such as count = 40 (or density = "15 kg/m3").')
    stock = reader.record(keys, given, Stock, **fixed)
    reader.known((*keys, "species"), functools.partial(reader.species, stock))
    return stock


def _together(reader: Reader, tank: str, stocks: dict[str, Stock]) -> None:
    """Refuse stocks of one tank that do not say who has how much of it."""
    shares = {name: stock.si.share for name, stock in stocks.items() if stock.si.count is None}
    if len(stocks) > 1 and (unsaid := [name for name, share in shares.items() if share is None]):
        reader.refuse(
            ("stocks", unsaid[0]),
            f'{tank} holds {" and ".join(stocks)}; say of each how many there are (count = 40), or in which part of the water (share = "60 %").',
        )
    whole = sum(share for share in shares.values() if share is not None)
    if whole > 1 + _MANY:
        reader.refuse(
            ("stocks", [name for name, share in shares.items() if share][-1], "share"),
            f"the shares of {tank} come to {100 * whole:.4g} % of its water; together they are 100 % at most.",
        )

"""What each pump of a build hangs on: the mains, the battery, the panel alone; and what of it the mains are billed for.

Of the build file alone, so that every story can ask. A DC pump of which the file tells no supply is taken to hang on the
mains, by a small power unit: it then stops when they fail, and is billed.
"""

from __future__ import annotations

from aquaplumb.build import Build, Supply
from aquaplumb.plumbing.pump_curve import Pump
from aquaplumb.power.battery_kinds import battery_share

MAINS, BATTERY, PANEL = "the mains", "the battery", "the panel"
INVERTER, CHARGER = 0.85, 0.85  # what a small inverter, a charger give of what they take; common practice, no source
USUAL_BATTERY = "lead-acid flooded"


def is_dc(pump: Pump) -> bool:
    """Whether a pump runs on DC."""
    return pump.si.supply == "DC"


def fed_by(build: Build, pump: Pump) -> str:
    """What a pump hangs on."""
    s = build.power.si if build.power else None
    if s is None or not (is_dc(pump) or s.inverter):
        return MAINS
    return BATTERY if s.capacity is not None else PANEL if s.panel else MAINS


def filled_by(supply: Supply) -> list[str]:
    """What fills the battery of a supply, in words; none where nothing does."""
    s = supply.si
    charger = ["a charger on a generator" if s.generator else "a charger on the mains"] if s.charger or s.generator else []
    return (["a panel"] if s.panel else []) + charger


def outlasts_the_mains(supply: Supply) -> bool:
    """Whether a battery is filled although the mains fail."""
    return bool(supply.si.panel or supply.si.generator)


def billed(build: Build, pump: Pump) -> float:
    """The energy that the mains are billed for, over what the pump takes; 0 for sun and generator."""
    if fed_by(build, pump) == MAINS:
        return 1.0
    supply = build.power
    if supply is None or outlasts_the_mains(supply) or not supply.si.charger:
        return 0.0
    kept = CHARGER * battery_share(supply.si.battery or USUAL_BATTERY, "round_trip", "typical")
    return 1 / (kept * (1.0 if is_dc(pump) else INVERTER))

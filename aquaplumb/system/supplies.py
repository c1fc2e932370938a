"""What each pump of a build hangs on: the mains, the battery, the panel alone; what fails with it, and what the mains are billed for.

Of the build file alone, so that every story can ask. A DC pump of which the file tells no supply is taken to hang on the
mains, by a small power unit: it then stops when they fail, and is billed.
"""

from __future__ import annotations

from collections.abc import Mapping

from aquaplumb.air.air_pumps import air_pump
from aquaplumb.build import Build, Supply
from aquaplumb.plumbing.pump_curve import Pump
from aquaplumb.power.battery_kinds import battery_share

MAINS, BATTERY, PANEL, OWN = "the mains", "the battery", "the panel", "a battery of its own"
POWER_FAILS, MAINS_FAIL = "the power fails", "the mains fail"  # the first where all water pumps hang on the mains
FLAT, DARK = "the battery is flat", "the panel is dark"
INVERTER, CHARGER = 0.85, 0.85  # what a small inverter, a charger give of what they take; common practice, no source
STARTING = 2.0  # times what a motor draws as it runs, an inverter has to give as it starts; common practice, no source
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


def air_fed_by(build: Build, *, spare: bool = False) -> str:
    """What the usual air pump hangs on, or the spare; nothing without one.

    One that is made for a battery hangs on that of [power] where there is one, whatever its voltage, and so does one that is made
    for mains where there is an inverter; unless it has a battery of its own: a spare by `backup_capacity`, the usual by `keeps_on`.
    """
    a, s = build.air.si if build.air else None, build.power.si if build.power else None
    name = (a.backup_pump if spare else a.pump) if a else ""
    if a is None or not name:
        return ""
    made_for_it = air_pump(name).si.supply == "battery"
    if (a.backup_capacity is not None and (made_for_it or a.backup_inverter)) if spare else a.keeps_on:
        return OWN
    if s is not None and s.capacity is not None and (made_for_it or s.inverter):
        return BATTERY
    return OWN if made_for_it else MAINS


def stops(feeds: Mapping[str, str], supply: Supply | None, hours: float | None) -> dict[str, dict[str, float]]:
    """Each supply that can fail, and after how long [s] each thing stops that hangs on it; what goes on is left out.

    `feeds` has what each hangs on. All on the mains: "the power fails". Else each supply by its own name; a battery that
    the mains alone fill, or the panel, carries what hangs on it for the `hours` [s] that it lasts.
    """
    if set(feeds.values()) == {MAINS}:
        return {POWER_FAILS: dict.fromkeys(feeds, 0.0)}
    at_once = {feed: {name: 0.0 for name in feeds if feeds[name] == feed} for feed in (MAINS, BATTERY, PANEL)}
    found = {MAINS_FAIL: at_once[MAINS], FLAT: at_once[BATTERY], DARK: at_once[PANEL]}
    if supply and hours is not None and at_once[BATTERY]:
        later = dict.fromkeys(at_once[BATTERY], float(hours))
        if not outlasts_the_mains(supply):  # nothing fills it then
            found[MAINS_FAIL] = {**found[MAINS_FAIL], **later}
        if filled_by(supply) == ["a panel"]:
            found[DARK] = {**found[DARK], **later}
    return {kind: things for kind, things in found.items() if things}


def filled_by(supply: Supply) -> list[str]:
    """What fills the battery of a supply, in words; none where nothing does."""
    s = supply.si
    charger = ["a charger on a generator" if s.generator else "a charger on the mains"] if s.charger or s.generator else []
    return (["a panel"] if s.panel else []) + charger


def outlasts_the_mains(supply: Supply) -> bool:
    """Whether a battery is filled although the mains fail."""
    return bool(supply.si.panel or supply.si.generator)


def on_the_mains(build: Build, feeds: Mapping[str, str]) -> bool:
    """Whether a build has mains that can fail: something hangs on them, or they fill its battery."""
    supply = build.power
    return (
        MAINS in feeds.values() or supply is None or not outlasts_the_mains(supply) or bool(supply.si.charger and not supply.si.generator)
    )


def billed(build: Build, pump: Pump) -> float:
    """The energy that the mains are billed for, over what the pump takes; 0 for sun and generator."""
    if fed_by(build, pump) == MAINS:
        return 1.0
    supply = build.power
    if supply is None or outlasts_the_mains(supply) or not supply.si.charger:
        return 0.0
    kept = CHARGER * battery_share(supply.si.battery or USUAL_BATTERY, "round_trip", "typical")
    return 1 / (kept * (1.0 if is_dc(pump) else INVERTER))

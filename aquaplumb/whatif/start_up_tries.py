"""What to try on the two panels of notebook 12, and what to see in a build's own start."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aquaplumb.units import CONCENTRATION, SHARE, TEMPERATURE
from aquaplumb.whatif.base import alike
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.start_up import StartUpWeeks, StartWhatIf
    from aquaplumb.whatif.water_care import CareWhatIf, Day

_WARMER, _WARMEST = 6.0, 308.15  # K
_BIG, _HALF = 4e-3, 0.5  # kg/m³ of ammonia N in a dose; of the old media
_PH, _AMMONIA, _NITRITE, _LITTLE = 8.2, 3e-3, 2e-3, 20e-3  # kg/m³
_CAUSTIC = "potassium hydroxide"


def of_start(starts: StartWhatIf, with_fish: str, with_ammonia: str) -> list[Try]:
    """Warmer, a bigger dose, the other way, all fish at once, and old media brought along."""
    own = starts.own()
    first = starts(**own)
    other = with_fish if own["start"] == with_ammonia else with_ammonia

    def told(record: StartUpWeeks, system: str) -> str:
        return f"{record.sentence(system)} Your own start takes {first.weeks}."

    def than(record: StartUpWeeks, system: str) -> str:
        return f"{record.sentence(system, short=True)} It was {first.weeks}."

    warm = min(own["temperature"] + _WARMER, _WARMEST)
    tries = [Try("Warmer water: set *{temperature.label}* to **{temperature}**.", {"temperature": warm}, than)]
    if own["start"] == with_ammonia and own["dose"] < 0.9 * _BIG:
        tries.append(Try("A bigger dose: *{dose.label}* **{dose}**.", {"dose": _BIG}, told))
    tries.append(Try("Start the other way: *{start.label}* **{start}**.", {"start": other}, told))
    if own["start"] == with_fish and own["first_share"] < 1:  # else the page's guess has shown it
        all_at_once = {"start": with_fish, "first_share": 1.0}
        tries.append(Try("All fish at once: start **{start}**, and *{first_share.label}* **{first_share}**.", all_at_once, told))
    if own["seed"] < 0.9 * _HALF:
        tries.append(Try("Old media of a healthy system: set *{seed.label}* to **{seed}**.", {"seed": _HALF}, than))
    return [one for one in tries if not all(alike(value, own.get(name)) for name, value in one.to.items())]


def start_look(record: StartUpWeeks, system: str) -> str:
    """What to see in the picture of a start."""
    r = record.si
    bears = f"Dashed: what {r.species} bears, ammonia {CONCENTRATION.text(r.tan_limit, system)} and nitrite {CONCENTRATION.text(r.nitrite_limit, system)}"
    cross = "; a red-orange cross: fish have to live through that" if record.with_fish and not record.works else ""
    return f"Each morning's readings: ammonia goes up and down first, then nitrite; nitrate is what stays. Pale bands run from fast to slow bacteria. Green: when it may be ready. {bears}{cross}."


def start_differs(record: StartUpWeeks, demo: StartUpWeeks, system: str) -> str:
    """Why a build's start goes otherwise than that of the guess."""
    r, d = record.si, demo.si
    came = f"nitrite came to {CONCENTRATION.text(d.nitrite_peak[1], system)}, where {d.species} bears {CONCENTRATION.text(d.nitrite_limit, system)}"
    comes = f"Yours comes to {CONCENTRATION.text(r.nitrite_peak[1], system)}"
    warm = TEMPERATURE.text(r.temperature, system)
    if not record.with_fish:
        return f"In the guess {came}, and all the fish were in it. {comes} in water of {warm}, and none is in it: you start with ammonia."
    part = f"with {SHARE.text(r.first_share)} of your fish in from the first day"
    return f"In the guess {came}. {comes}, {part}, in water of {warm}; {r.species} bears {CONCENTRATION.text(r.nitrite_limit, system)}."


def of_day(care: CareWhatIf) -> list[Try]:
    """What a kit might read: a high pH, much ammonia, nitrite with little chloride; and a caustic base."""
    own = care.own()

    def told(record: Day, system: str) -> str:
        todo = next((text for severity, text in record.notes(system) if severity != "note"), "")
        return f"{record.sentence(system)} {todo}".strip()

    def based(record: Day, system: str) -> str:
        return next(text for severity, text in record.notes(system) if severity == "note")

    tries = [
        Try("Your kit reads a pH of **{ph}**: set *{ph.label}* to that.", {"ph": _PH}, told),
        Try("It reads much ammonia: **{tan}**.", {"tan": _AMMONIA}, told),
        Try("It reads **{nitrite}** of nitrite, and **{chloride}** of chloride.", {"nitrite": _NITRITE, "chloride": _LITTLE}, told),
        Try("Another base: **{base}**.", {"base": _CAUSTIC}, based),
    ]  # fmt: skip
    return [one for one in tries if not all(alike(value, own[name]) for name, value in one.to.items())]

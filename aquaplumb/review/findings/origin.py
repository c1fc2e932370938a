"""Findings about where the water comes from: tap, well, rain or reverse osmosis. Only where a build says it ([water] origin)."""

from __future__ import annotations

from aquaplumb.review.findings.base import finding, fix, note
from aquaplumb.units import CONCENTRATION, DAY, SHARE, VOLUME

# Free chlorine leaves standing water in 12 to 72 h, chloramine in one to two weeks (aquariumadvice.com 357786, a maker’s chemist quoted).
_MUCH = 0.10  # of the system's water at once: from here what a well lacks is felt by the fish; common practice, no source
_SMELL = 0.05e-3  # kg/m³ of hydrogen sulphide: about where water begins to smell of it (from memory)
_ZINC = 0.04e-3  # kg/m³: acute, at 25 mg/L of hardness, US EPA freshwater criteria 1996 (120 µg/L at 100 mg/L), from memory
_SULPHIDE = 2e-6  # kg/m³ of it that harm fish for good: US EPA, Quality Criteria for Water 1986 (from memory)


@finding("tap water of unknown treatment", notebook="12")
def unknown_treatment(system, say):
    """Tap water of which nobody has said whether chlorine or chloramine is in it."""
    w = system.build.water.si
    if w.origin == "tap" and not w.disinfectant:
        yield note(
            "fish tank",
            "The file does not say what the waterworks put into the fish tank's water: standing in air takes chlorine out in about 3 days, and chloramine not at all.",
            'Ask them, or read their yearly report, and write disinfectant = "chlorine" or "chloramine" under [water], and tap_chlorine under [upkeep].',
        )


@finding("well water without air", notebook="12")
def well_without_air(system, say):
    """Well water that goes in as it comes up: no oxygen, much carbon dioxide, at times iron, hydrogen sulphide and too much nitrogen."""
    w, p = system.build.water.si, system.upkeep
    if w.origin != "well" or w.rested:
        return
    share = min(1.0, p.tap_water / p.water)
    smell = f"; one that smells of eggs brings {say(CONCENTRATION, share * _SMELL)} of hydrogen sulphide"
    smell += f", and {say(CONCENTRATION, _SULPHIDE)} harm fish" if share * _SMELL > _SULPHIDE / 2 else ""
    yield (fix if share >= _MUCH else note)(
        "fish tank",
        f"{say(VOLUME, p.tap_water)} of well water at once, {say(SHARE, share)} of the system, come without oxygen and with carbon dioxide{smell}. Iron turns to rust on gills.",
        "Let it fall or bubble in an open vessel for a day before it goes in, let rust settle, and have iron, hydrogen sulphide, carbon dioxide and nitrate tested once; then write rested = true under [water].",
    )


@finding("water without minerals", notebook="12")
def without_minerals(system, say):
    """Rain, or water of reverse osmosis: nothing in it that holds the pH, nothing that plants and shells are made of."""
    w, p = system.build.water.si, system.upkeep
    if w.origin not in ("rain", "reverse osmosis"):
        return
    what = "Rain brings" if w.origin == "rain" else "Water of reverse osmosis brings"
    yield note(
        "fish tank",
        f"{what} next to no alkalinity, calcium or magnesium: the {say(CONCENTRATION, p.alkalinity_fall * DAY)} of alkalinity that the bacteria eat a day, and what plants and shells need, have to be given.",
        f"Bring the first fill to 100 mg/L of alkalinity before the start, hang in a bag of limestone grit or shell, and test the alkalinity each week: {say(VOLUME, p.tap_water)} of such water a day thin it.",
    )


@finding("metals of the roof", notebook="12")
def metals_of_the_roof(system, say):
    """Rain from a roof: zinc, copper and lead, which soft, sour rain takes along."""
    if system.build.water.si.origin == "rain" and not system.build.water.si.rested:
        yield note(
            "fish tank",
            f"Rain from zinc, copper or lead takes them along into the fish tank, the more the sourer it is. In soft water {say(CONCENTRATION, _ZINC)} of zinc harm fish at once, and less of copper.",
            "Take it from tiles, slate, glass or coated metal, send the first of each rain away, have zinc and copper tested once, and keep it in plastic; then write rested = true under [water].",
        )

"""What a number of the file is that it seldom is: mostly a slip of a unit, or of a decimal point."""

from __future__ import annotations

from aquaplumb.build import file_text
from aquaplumb.build.records import PumpedLine
from aquaplumb.review.findings.base import finding, note

# The first page after 00 with a control that changes a key, by page and section; a test reads the panels.
PAGES = {
    "01": "fish.body_mass fish.count fish.density fish.feeding_rate fish.protein season.harvest_mass site.coldest_water site.warmest_water",
    "02": "plants.feed_per_area vessels.media_depth",
    "03": "site.altitude water.aerated_share water.ammonia_limit water.outlet_oxygen water.ph water.removal water.turnovers",
    "04": "pumped.length",
    "05": "lines.nozzle_angle lines.nozzle_bore lines.nozzles lines.strainer_slot lines.wanted",
    "06": "falling.outlet lines.screen_open_area",
    "08": "lines.speed site.power_price",
    "09": "lines.cut_out_depth lines.off_depth lines.on_depth",
    "10": "air.backup_capacity air.backup_delay air.backup_stones air.depth air.response_time air.stones",
    "11": "heat.coldest_air heat.covered heat.heater heat.insulation heat.keep_at power.always power.capacity power.latitude power.panel power.sky_share power.tilt power.voltage power.wire_length",
    "12": "upkeep.alkalinity upkeep.chloride upkeep.dose upkeep.first_share upkeep.nitrite upkeep.ramp upkeep.seed",
}  # fmt: skip
_PAGE = {key: page for page, several in PAGES.items() for key in several.split()}
_FISH = ("stocks", "season")  # sections with fish in them


@finding("unusual value", notebook="00")
def unusual_value(system, say):
    """A number outside what is usual, in `data/plausible.csv`, or beside the others (`build.beside`); those that are alike are told once."""
    alike = {}
    for keys, odd in system.build.unusual.items():
        alike.setdefault((keys[0], [key for key in keys if isinstance(key, str)][-1], odd), []).append(keys)
    for (*_, odd), (keys, *others) in alike.items():
        line = file_text.line_of(system.build.text, keys)
        more = f" (and in {len(others)} more place{'s' * (len(others) > 1)})" if others else ""
        yield note(
            " › ".join(key for key in keys if isinstance(key, str)),
            f"Line {line}{more}: {odd}",
            "Look at its unit and its decimal point. Where it is as it should be, accept this note.",
            page_of(system.build, keys),
        )


def page_of(build, keys: tuple) -> str:
    """The page of the walk that changes a key of a build; "" where none does."""
    section, last = keys[0], next(key for key in reversed(keys) if isinstance(key, str))
    sorts = [section, *(["fish"] if section in _FISH else [])]
    if section == "lines":
        sorts.append("pumped" if isinstance(build.lines[keys[1]], PumpedLine) else "falling")
    return next((_PAGE[f"{sort}.{last}"] for sort in sorts if f"{sort}.{last}" in _PAGE), "")

"""What to try on the two panels of notebook 01: on the fish of the heaviest day, and on a year of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aquaplumb import tables
from aquaplumb.build.seasons import BEGINS, MONTHS, YEAR, day_text
from aquaplumb.review.findings.stock import limit_words
from aquaplumb.units import BODY_MASS, MASS, MASS_RATE, RATE, SHARE, TEMPERATURE, TIME
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.fish_load import FishLoad, FishWhatIf
    from aquaplumb.whatif.season import SeasonWhatIf, Year

_CROWDED, _FAR_TOO_MANY = 1.25, 1.08  # of what air stones carry; of what any home system carries
_RICHER = 0.08  # of protein more than the sack's
_RICH = 0.45  # protein, from where the try is a leaner feed
_SMALL, _LARGE = 0.05, 0.5  # kg: a young fish, a grown one
_OTHERS = ("rainbow trout", "Nile tilapia")  # of cold water, of warm water
_LIGHTER = 0.6  # of the mass at harvest


def of_stock(fish: FishWhatIf) -> list[Try]:
    """More fish and far too many; another feed, another size, and fish for other water."""
    own, first = fish.own(), fish(**{name: value for name, value in fish.own().items() if name != "stock"})
    f = first.si

    def limit(most: float, system: str) -> str:
        return limit_words(lambda kind, value: kind.text(value, system), most)

    def crowded(record: FishLoad, system: str) -> str:
        r = record.si
        lead = f"**{r.trouble}** " if r.trouble else ""
        times = f"all four numbers are {r.density / f.density:.1f} times what they were" if f.density > 0 else "all four numbers rise alike"
        return (
            f"{lead}Fish, feed, oxygen and ammonia go together: {times}. The fish have {TIME.text(r.minutes, system)}, where they had "
            f"{TIME.text(f.minutes, system)}. Past {limit(r.limit, system)} air stones no longer do."
        )

    def too_many(record: FishLoad, system: str) -> str:
        r = record.si
        return f"**{r.trouble or 'Many fish.'}** Past {limit(r.most, system)} no home system is safe: without pump and air such fish have {TIME.text(r.minutes, system)}."

    def other_feed(record: FishLoad, system: str) -> str:
        r = record.si
        return f"Only the ammonia moves: {MASS_RATE.text(r.ammonia, system)}, where it was {MASS_RATE.text(f.ammonia, system)}."

    def other_size(record: FishLoad, system: str) -> str:
        r = record.si
        if r.eaten_high <= 0:
            return f"In water of {TEMPERATURE.text(r.warm, system)} neither eats."
        now, was = (f"{RATE.text(one.eaten_low, system)} to {RATE.text(one.eaten_high, system)}" for one in (r, f))
        size, old = BODY_MASS.text(r.body_mass, system), BODY_MASS.text(f.body_mass, system)
        return f"The pale wedge, what print has them eat, moves: fish of {size} eat {now}, those of {old} {was}."

    def other_fish(record: FishLoad, system: str) -> str:
        r = record.si
        if r.trouble in ("Too warm.", "Too cold."):
            return f"**{r.trouble}** Choose the fish for your water, not the water for your fish."
        return f"The {r.species} could live in your water too."

    many = max(_CROWDED * f.limit, _CROWDED * own["density"])
    most = max(_FAR_TOO_MANY * f.most, 1.1 * many)
    small = _SMALL if own["body_mass"] > 1.2 * _SMALL else _LARGE
    richer = own["protein"] < _RICH
    return [
        Try("More fish: set *{density.label}* to **{density}**.", {"density": many}, crowded),
        Try("Far too many: **{density}**.", {"density": most}, too_many),
        Try(f"{'Richer' if richer else 'Leaner'} feed: set *{{protein.label}}* to **{{protein}}**.",
            {"protein": own["protein"] + (_RICHER if richer else -_RICHER)}, other_feed),
        Try(f"{'Small' if small == _SMALL else 'Grown'} fish: set *{{body_mass.label}}* to **{{body_mass}}**.", {"body_mass": small}, other_size),
        Try("Another fish: choose **{species}**.", {"species": _for_other_water(fish)}, other_fish),
    ]  # fmt: skip


def _for_other_water(fish: FishWhatIf) -> str:
    """A species that does not live in this water, rather one of the two that everybody knows; where all do, another one."""
    site, own = fish.build.site.si, fish.own()["species"]
    names = [name for name in (*_OTHERS, *sorted(fish.build.choice("species"))) if name != own]
    rows = {name: tables.row("species", name).si for name in names}
    apart = [name for name, row in rows.items() if row.survive_high < site.warmest_water or row.survive_low > site.coldest_water]
    return (apart or names)[0]


def of_year(season: SeasonWhatIf) -> list[Try]:
    """Twice as many; half a year later; and taken out lighter, where they leave by their mass."""
    own = season.own()
    first = season(**{name: value for name, value in own.items() if name != "stock"}).si

    def twice(record: Year, system: str) -> str:
        r = record.si
        lead = "" if r.works else "**Too much.** "
        return f"{lead}Twice the fish ask for twice as much: in {r.month} {r.asks}, where it was {SHARE.text(first.most)}."

    def later(record: Year, system: str) -> str:
        r = record.si
        when = f"still {r.month}" if r.month == first.month else f"{r.month}, not {first.month}"
        return f"The heaviest month is {when}; they weigh {BODY_MASS.text(r.last_mass, system)} on {r.goes}."

    def lighter(record: Year, system: str) -> str:
        r = record.si
        was = SHARE.text(first.most)
        most = (
            f"{r.asks}, where it was {was}"
            if SHARE.text(r.most) != was
            else f"{r.asks}, as before, for {r.month}, the heaviest month, is over by then"
        )
        return f"They leave on {r.goes}: at the most {most}. The year brings {MASS.text(r.out, system)} of fish, where it was {MASS.text(first.out, system)}."

    comes = next(day for day in range(YEAR) if day_text(day) == own["arrives"])
    month = next(place for place in reversed(range(12)) if BEGINS[place] <= comes)
    tries = [
        Try("Twice as many: set *{count.label}* to **{count}**.", {"count": 2 * own["count"]}, twice),
        Try("Half a year later: set *{arrives.label}* to **{arrives}**.", {"arrives": f"1 {MONTHS[(month + 6) % 12]}"}, later),
    ]
    if own["leaves"] == "when they weigh enough":
        tries.append(Try("Take them out sooner: set *{harvest.label}* to **{harvest}**.", {"harvest": _LIGHTER * own["harvest"]}, lighter))
    return tries

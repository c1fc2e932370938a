"""What to try on the panel of notebook 04: a size down and up, another wall, twice the flow, other water."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aquaplumb.plumbing import pipe_sizes, pipes
from aquaplumb.sentences import pipe_in_words
from aquaplumb.units import BORE, FLOW, HEAD, TEMPERATURE
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.pipe_size import SizedStretch, SizeWhatIf

_COLD, _WARM = 278.15, 303.15  # K: the water to try, whichever is farther from the build's


def lost(si: float, system: str) -> str:
    """A head as it is said of pipe: in the small unit up to half a metre."""
    return BORE.text(si, system) if si < 0.5 else HEAD.text(si, system)


def _begun(words: str) -> str:
    """Words as a sentence begins, its bold marks aside."""
    marks = len(words) - len(words.lstrip("*"))
    return words[:marks] + words[marks : marks + 1].upper() + words[marks + 1 :]


def _times(ratio: float) -> str:
    return "Twice" if abs(ratio - 2) < 0.05 else f"{ratio:.1f} times"


def of_stretch(sizes: SizeWhatIf, place: tuple) -> list[Try]:
    """Narrower, wider, another wall, twice the flow, colder or warmer water, in one stretch of a build."""
    own = sizes.own(place)
    bore, name = sizes.pipe(place).bore, place[2]
    standard = own["standard"] if own["size"] in sizes.sizes.get(own["standard"], ()) and own["standard"] in pipe_sizes.standards() else ""
    here = sizes.sizes[standard] if standard else []
    bores = {size: sizes.bore(place, size, standard) for size in here}
    under, over = ([s for s in here if bores[s] < 0.999 * bore], [s for s in here if bores[s] > 1.001 * bore])

    def before(record: SizedStretch, flow: float, temperature: float) -> float:
        """What the build's own bore loses in as long a stretch."""
        return float(pipes.friction_head.si(flow, bore, record.si.length, temperature=temperature))

    def sized(record: SizedStretch, system: str) -> str:
        r = record.si
        was = before(record, r.flow, r.temperature)
        told = f"{_begun(record.verdict)}. The same flow loses **{lost(r.loss, system)}**, where it was {lost(was, system)}"
        change = r.brings - r.brought
        if abs(change) < 0.005 * r.brought:
            return f"{told}; your pump hardly feels it, since this pipe is short or carries little of its water."
        return f"{told}. Your pump then brings {FLOW.text(r.brings, system)}, not {FLOW.text(r.brought, system)}{f'; {FLOW.text(r.gets, system)} of it run here' if r.gets < 0.995 * r.brings else ''}."

    def walled(record: SizedStretch, system: str) -> str:
        r = record.si
        was = before(record, r.flow, r.temperature)
        return f"The label says the same; the bore is {BORE.text(r.bore, system)}, where it was {BORE.text(bore, system)}. It loses {lost(r.loss, system)}, where it was {lost(was, system)}."

    def doubled(record: SizedStretch, system: str) -> str:
        r = record.si
        was = before(record, own["flow"], r.temperature)
        return f"{_begun(record.verdict)}. {_times(r.flow / own['flow'])} the flow loses {lost(r.loss, system)}, where it was {lost(was, system)}: {r.loss / was:.1f} times as much."

    def warmed(record: SizedStretch, system: str) -> str:
        r = record.si
        was = before(record, r.flow, own["temperature"])
        thicker = "Cold water is thicker" if r.temperature < own["temperature"] else "Warm water is thinner"
        return f"{thicker}: at {TEMPERATURE.text(r.temperature, system)} it loses {lost(r.loss, system)}, at {TEMPERATURE.text(own['temperature'], system)} {lost(was, system)}."

    tries = []
    for size, words in ((under[-1:], "narrower"), (over[:1], "wider")):
        if size:
            tries.append(
                Try(
                    f"Make {{stretch}} one size {words}: *{{size.label}}* **{{size}}**, {standard}.",
                    {"stretch": place, "size": size[0]},
                    sized,
                )
            )
    other = [s for s in pipe_sizes.standards() if s != standard and own["size"] in sizes.sizes[s]]
    other = [s for s in other if abs(pipe_sizes.bore.si(own["size"], s) - bore) > 0.02 * bore]
    if standard and other:
        tries.append(Try("The same label with another wall: *{standard.label}* **{standard}**.", {"standard": other[0]}, walled))
    if own["flow"] > 0:
        most = next(control for control in sizes.controls() if control.name == "flow").ends()[1]
        much = "Twice the" if 2 * own["flow"] <= most else "More"
        tries.append(
            Try(
                f"{much} water in {pipe_in_words(name)}: set *{{flow.label}}* to **{{flow}}**.",
                {"flow": min(2 * own["flow"], most)},
                doubled,
            )
        )
    water = max(_COLD, _WARM, key=lambda t: abs(t - own["temperature"]))
    tries.append(Try("Other water: set *{temperature.label}* to **{temperature}**.", {"temperature": water}, warmed))
    return tries

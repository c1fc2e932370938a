"""Questions that check themselves on a page without a kernel: what the page's own script needs to judge an answer, sealed.

The library works out here all that a reply can need; the script (`check.js`) reads a number and a unit, compares, and says
what the library would say. What is sealed cannot be read at a glance in the page's source; who takes the trouble can.
"""

from __future__ import annotations

import base64
import json
from typing import Any

from aquaplumb.questions.asked import Asked
from aquaplumb.questions.quiz import CLOSE, GRAVITY, SLIPS, TIMES, Order, Pick, Question
from aquaplumb.teaching.printing import ours, template
from aquaplumb.units import KINDS, DesignError, Quantity, pint_unit, u

_NAMES = (
    "L l litre litres liter liters mL ml gal gallon gallons qt kg g mg t lb oz m cm mm km in inch inches ft foot feet yd s second seconds "
    "min minute minutes h hr hour hours d day days week weeks year years W kW Wh kWh J kJ V mV A mA Ah mAh N kN lbf Pa kPa bar mbar psi psf "
    "degC °C degF °F K % rad deg"
)  # a trade's units as people write them
_DIMENSIONS = ("[length]", "[mass]", "[time]", "[current]", "[temperature]")
_NIL = {"degC": 273.15, "degF": 459.67}  # K and °R at the nil of each scale: ISO 80000-5, and 5/9 of a kelvin to a degree


def sealed(asked: Asked, salt: str) -> str:
    """All that the script needs of a question, with the page's numbers.

    Parameters
    ----------
    asked : Asked
    salt : str
        What the page calls the question; it is needed to read it again.

    Returns
    -------
    str

    Source: none; a way of writing.
    """
    plain = json.dumps(_told(asked), ensure_ascii=False, sort_keys=True).encode()
    return base64.b64encode(bytes(one ^ other for one, other in zip(plain, _stream(salt), strict=False))).decode()


def _stream(salt: str):
    """Bytes without end that follow from a salt: FNV-1a for the start, xorshift of 32 bits from there (Marsaglia 2003)."""
    state = 2166136261
    for sign in salt.encode():
        state = (state ^ sign) * 16777619 & 0xFFFFFFFF
    while True:
        state ^= state << 13 & 0xFFFFFFFF
        state ^= state >> 17
        state ^= state << 5 & 0xFFFFFFFF
        yield state & 0xFF


def _told(asked: Asked) -> dict[str, Any]:
    told: dict[str, Any] = {"helps": list(asked.helps), "why": asked.solution.why, "gate": asked.gate}
    if isinstance(asked, Pick):
        replies = [asked.verdict(option) for option in asked.options]
        return told | {"kind": "pick", "replies": [[reply.state, reply.text] for reply in replies]}
    if isinstance(asked, Order):
        return told | {"kind": "order", "orders": asked.orders, "right": asked.verdict(asked.solution.answer.split(":")[0]).text}
    if not isinstance(asked, Question):
        raise DesignError(f"there is no way to check a {type(asked).__name__} on a page.")
    answer = asked.answer
    return told | {
        "kind": "number",
        "answer": float(answer.magnitude),
        "unit": f"{answer.units:~P}",
        "scale": _scale(answer.units),
        "percent": answer.units == u.percent,
        "plain": asked.plain,
        "within": None if asked.rounds else asked.slack(0.0),
        "slips": asked.slips,
        "right": asked.verdict(answer).text,
        "also": [[_scale(other.units), float(other.magnitude), asked.verdict(other).text] for other in _in_other_words(asked)],
    }


def _in_other_words(asked: Question) -> list[Quantity]:
    """The answer in measures of another kind that the question takes as well: a mass for its weight, "240 g" for "240 g a day"."""
    answer, others = asked.answer, []
    if asked.plain or asked.answer.units in (u.degC, u.degF):
        return []
    others += [answer * GRAVITY, answer / GRAVITY]
    others += [found for time in TIMES.values() for found in (answer * (1 * time), answer / (1 * time))]
    return [other for other in others if asked.verdict(other).state == "right"]


def _scale(units) -> list[float]:
    """A unit as the script has it: its size in SI, the powers of five dimensions, and where its nil is."""
    name = next((name for name in _NIL if units == pint_unit(name)), "")
    size = float((Quantity(1.0, units) if not name else Quantity(1.0, f"delta_{name}")).to_base_units().magnitude)
    powers = Quantity(1.0, units).dimensionality
    return [size, *(round(float(powers.get(one, 0)), 6) for one in _DIMENSIONS), _NIL.get(name, 0.0)]


def script() -> str:
    """The script that a page's questions need: the same on each page."""
    names = {}
    for name in _NAMES.split():
        try:
            names[name] = _scale(pint_unit(name))
        except DesignError:
            continue
    nouns = {",".join(f"{power:g}" for power in _scale(pint_unit(kind.si))[1:6]): kind.noun for kind in reversed(KINDS)}
    told = {"units": names, "nouns": nouns, "slips": SLIPS, "close": CLOSE}
    return template("check.js").render({name: ours(json.dumps(one, ensure_ascii=False)) for name, one in told.items()})

"""What a person can change in a what-if: sliders with a typed entry, choices and switches.

`Slider`, `Count`, `Choice` and `Switch` only describe a control and can be shared by panels. `row` makes the widgets
of one (`rows`).
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Any

from aquaplumb import plausible
from aquaplumb.tables import unknown
from aquaplumb.units import NUMBER, DesignError, Kind, si_value
from aquaplumb.whatif.rows import ChoiceRow, SliderRow, SwitchRow, without_drift


@dataclass(frozen=True)
class Slider:
    """A quantity on a slider, with a box to type it into.

    Parameters
    ----------
    name : str
        The argument of the what-if's compute function.
    label : str
        What a builder calls it; its unit is added.
    kind : Kind
        Such as `aquaplumb.units.FLOW`.
    low, high, step : str or float
        The ends and the step with their unit, such as "100 L/h"; plain for a pure number.
    value : str, optional
        Where it starts; without it in the middle.
    us : tuple of str, optional
        Low, high and step in US units, where the converted ones are not good enough.
    tip : str
        A few words of explanation, shown when the pointer rests on it.
    whole : bool
        Only whole numbers.
    of, highs : str, dict, optional
        Where the slider has to do with some values of a choice only, `of` names the choice and `highs` has the high end
        for each of those values; for the others the slider is not shown.
    on_release : bool
        Heard when it is let go, not on the way: for what takes a moment to compute.
    play : int
        Milliseconds from step to step of a play button under the slider; none without it. It goes through the `stops` of the
        record [bare SI], where that has some.
    kept : bool
        Whether the keep button writes it (or it says what the others are of); one that is only to try says "not kept".
    rare : bool
        Folded away until it is asked for, or differs from the build.
    key : str
        The key of the build file that it moves, such as "fish.density": what the file refuses, its box refuses, too.
    """

    name: str
    label: str
    kind: Kind
    low: Any
    high: Any
    step: Any
    value: Any = None
    us: tuple | None = None
    tip: str = ""
    whole: bool = False
    of: str = ""
    highs: Any = None
    on_release: bool = False
    play: int = 0
    kept: bool = True
    rare: bool = False
    key: str = ""

    def ends(self) -> tuple[float, float]:
        """The lowest and the highest value, bare SI."""
        return self.si(self.low), self.si(self.high)

    def si(self, value) -> float:
        """The bare SI value of a quantity, a text or (for a pure number) a number."""
        return _read(value, self.kind, self.label) if isinstance(value, str) else float(si_value(value, self.kind, self.label))

    def refused(self, si: float, given) -> str:
        """Why the file would refuse a bare value, in its sentence; nothing where it would not. `given` is how it was said."""
        wrong = plausible.row(self.key).refused(si, self.kind, given) if self.key else ""
        return plausible.about(self.label, wrong) if wrong else ""

    def marks(self, system: str, low: float, high: float) -> tuple[float, float, float]:
        """Low, high and step of the slider in the builder's unit; never outside `low` to `high` (bare SI)."""
        shown = self.kind.shown
        if system == "US" and self.us:
            least, most, step = (without_drift(shown(self.si(t), "US")) for t in self.us)
            narrow = 1e-9 * (high - low)  # only a range that was widened goes past its round ends, or no step would be round
            wider = low < self.si(self.low) - narrow, high > self.si(self.high) + narrow
            return min(least, shown(low, "US")) if wider[0] else least, max(most, shown(high, "US")) if wider[1] else most, step
        step = shown(self.si(self.step), "metric")  # so that a step of 0.5 degC is half a degree, not 273.65 K
        if self.kind.unit(system) == self.kind.unit("metric"):
            return without_drift(shown(low)), without_drift(shown(high)), without_drift(step)
        step = step * (shown(1.0, system) - shown(0.0, system)) / (shown(1.0) - shown(0.0))
        step = _on_tape(step, self.kind.unit(system)) if self.kind.tape else _nice(step)
        ends = shown(low, system), shown(high, system)
        return without_drift(math.ceil(ends[0] / step - 1e-9) * step), without_drift(math.floor(ends[1] / step + 1e-9) * step), step

    def row(self):
        """The widgets of this control."""
        return SliderRow(self)


@functools.lru_cache(maxsize=2000)
def _read(text: str, kind: Kind, label: str) -> float:
    """The bare SI value of an end's or a step's text: a panel asks for all of them at each move."""
    return float(si_value(text, kind, label))


def Count(
    name: str,
    label: str,
    low: int,
    high: int,
    value: int | None = None,
    *,
    tip: str = "",
    kept: bool = True,
    rare: bool = False,
    key: str = "",
) -> Slider:
    """A slider for how many: whole numbers, no unit."""
    return Slider(name, label, NUMBER, low, high, 1, value, tip=tip, whole=True, kept=kept, rare=rare, key=key)


@dataclass(frozen=True)
class Choice:
    """One of several named things; `options` is a list of names, or a dict of label to value.

    Where they depend on another choice, `of` names that one and `options` has a list of names for each of its values;
    `near` (wish, list) then says what stands in for a name that is not in the list. With an empty list it is not shown.
    """

    name: str
    label: str
    options: Any
    value: Any = None
    tip: str = ""
    of: str = ""
    near: Any = None
    kept: bool = True
    rare: bool = False

    def row(self):
        """The widgets of this control."""
        return ChoiceRow(self)


@dataclass(frozen=True)
class Switch:
    """Yes or no."""

    name: str
    label: str
    value: bool = False
    tip: str = ""
    kept: bool = True
    rare: bool = False

    def row(self):
        """The widgets of this control."""
        return SwitchRow(self)


def form(spec) -> tuple:
    """What makes a control another one: its name, its words and what it offers."""
    return type(spec), spec.name, spec.label, getattr(spec, "options", None)


def named(name: str | None, names, first, what: str = "build's pumped lines") -> str:
    """The one of some names that a page was asked to begin with, or else the first to show."""
    if name is None:
        return first
    if name not in names:
        raise DesignError(unknown(what, name, names))
    return name


def short(name: str) -> str:
    """A pump's name without what all demo pumps have in theirs."""
    plain = name.removeprefix("demo ")
    return name if plain == name else plain.replace(" submersible", "").removesuffix(" air pump").replace("side-channel ", "")


def three_figures(kind, si: float, system: str) -> float:
    """A bare SI value rounded to three figures of the shown unit, so that a box does not read 2748.84."""
    return kind.from_shown(float(f"{kind.shown(si, system):.3g}"), system)


def alike(one, other) -> bool:
    """Whether a control stands where it stood, but for what rounding does to a slider that went there and back."""
    return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-12) if isinstance(one, float) and isinstance(other, float) else one == other


_INCHES = (0.0625, 0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0)


def _on_tape(step: float, unit: str) -> float:
    """The nearest step that a tape shows, in inches or feet; beyond a foot whole feet."""
    inches = 12 * step if unit == "ft" else step
    near = min(_INCHES, key=lambda mark: abs(math.log(mark / inches))) if inches < 12 else 12 * _nice(inches / 12)
    return without_drift(near / 12 if unit == "ft" else near)


def _nice(step: float) -> float:
    """The nearest of 1, 2 and 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(step))
    return without_drift(min((1, 2, 5, 10), key=lambda lead: abs(math.log(lead * power / step))) * power)

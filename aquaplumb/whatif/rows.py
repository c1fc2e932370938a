"""The widgets of one control in one panel: `controls` describes what they are of.

The row, not the widget, holds the true value: sliders clamp silently and their steps drift.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from aquaplumb.tables import unknown
from aquaplumb.units import NUMBER, DesignError, quantity, rounded, si_value
from aquaplumb.whatif import widgets

if TYPE_CHECKING:
    from aquaplumb.whatif.controls import Choice, Slider, Switch

NOT_KEPT = "not kept"
_TAPED = "1 ft 6 1/2 in"  # how a length is written on a tape


class ControlRow:
    """One control's widgets (`line`) and its true value. `heard` is called with a note when a person has changed it."""

    value: Any
    line: Any
    play: Any = None  # a play button, where there is one

    def __init__(self, spec):
        self.spec = spec
        self.tip = "; ".join(words for words in (spec.tip, "" if spec.kept else NOT_KEPT) if words) or None
        self.heard = lambda note: None
        self.quiet = False  # while the panel itself moves the widgets
        self.offered = True  # whether it has to do with what is chosen elsewhere, and is shown

    def label(self, system: str) -> str:
        """The label as shown."""
        return self.spec.label

    def quantity(self, system: str):
        """The value as a person would give it in code."""
        return self.value

    def text(self, system: str) -> str:
        """Label and value in words."""
        return f"{self.spec.label}: {self.value}"

    def checked(self, value):
        """A value from code as bare SI, refused in plain words where it cannot be."""
        raise NotImplementedError

    def of_build(self, value):
        """A value of a build, where a plain number is bare SI."""
        return self.checked(value)

    def take(self, value) -> None:
        """Set the true value."""
        raise NotImplementedError

    def offer(self, of) -> None:
        """Come in line with the value of the other choice that this control depends on."""
        raise NotImplementedError

    def play_through(self, stops: tuple[float, ...]) -> None:
        """Let play begin anew, and go through these values, bare SI; what has no play button does nothing."""

    def _show(self, system: str) -> None:
        raise NotImplementedError

    def show(self, system: str) -> None:
        """Make the widgets show the true value, without their being heard."""
        self.quiet = True
        try:
            self._show(system)
        finally:
            self.quiet = False

    def _watch(self, widget, heard) -> None:
        def callback(change):
            if not self.quiet:
                heard(change["new"])

        widget.observe(callback, "value")


class SliderRow(ControlRow):
    def __init__(self, spec: Slider):
        super().__init__(spec)
        self.low, self.high = spec.ends()
        if not self.low < self.high:
            raise DesignError(f"{spec.label}: its low end, {spec.low}, must be under its high end, {spec.high}.")
        self.system = "metric"
        middle = spec.kind.from_shown(self._snapped(spec.kind.shown(0.5 * (self.low + self.high))))
        self.take(middle if spec.value is None else self.checked(spec.value))
        self._typed_in: tuple = ()  # the unit system, and what a person typed in it last, bare SI and as it was typed
        self._number_box, self._tape_box = widgets.FloatText(tooltip=self.tip), widgets.Text(tooltip=self.tip, continuous_update=False)
        self._tape_box.add_class("ap-tape")
        self._pair = self.line = widgets.HBox()
        self._pair.add_class("ap-row")
        self._marks: tuple = ()
        self.slider: Any = None
        self.stops: tuple[float, ...] = ()  # what play goes through, bare SI; without them every step of the slider
        if spec.play:
            self.play = widgets.Play(interval=spec.play, description=f"play {spec.label}", tooltip=f"play {spec.label}", show_repeat=False)
            self._watch(self.play, self._played)
            self.line = widgets.VBox()
        self._watch(self._number_box, self._typed)
        self._watch(self._tape_box, self._written)

    @property
    def taped(self) -> bool:
        """Whether the box has feet and inches as on a tape."""
        return self.spec.kind.tape and self.system == "US"

    @property
    def box(self) -> Any:
        """What a value is typed into: numbers, or a length as on a tape."""
        return self._tape_box if self.taped else self._number_box

    def checked(self, value) -> float:
        """A value from code as bare SI. It is never clamped: the slider's range widens to hold it."""
        si = self.spec.si(value)
        if self.spec.whole and si != round(si):
            raise DesignError(f"{self.spec.label} is {rounded(si)}; it must be a whole number.")
        if not self.low <= si <= self.high and (wrong := self.spec.refused(si, value)):
            raise DesignError(wrong)
        return si

    def of_build(self, value) -> float:
        """A value of a build as bare SI; a plain number is that already."""
        return self.checked(value if not isinstance(value, (int, float)) or not self.spec.kind.si else self.spec.kind.quantity(value))

    def take(self, si: float) -> None:
        """Set the true value."""
        self.value, self.low, self.high = self._whole(si), min(self.low, si), max(self.high, si)

    def offer(self, of) -> None:
        """Take the high end that belongs to the value of the other choice; without one the slider is not shown."""
        self.offered = of in self.spec.highs
        if self.offered:
            self.high = self.spec.si(self.spec.highs[of])
            self.value = self._whole(min(self.value, self.high))

    def _whole(self, si: float):
        return round(si) if self.spec.whole else si

    def label(self, system: str) -> str:
        unit = "ft,\u00a0in" if self.spec.kind.tape and system == "US" else self.spec.kind.unit(system)
        return f"{self.spec.label} [{unit}]" if unit else self.spec.label

    def quantity(self, system: str):
        if self.spec.kind is NUMBER:
            return self.value
        unit = self.spec.kind.unit(system)
        if self.spec.kind.tape and unit == "ft":  # steps of inches are no round parts of a foot
            return quantity(f"{float(f'{12 * self._number(12):.10g}')!r} in", self.spec.kind)
        return quantity(f"{self._number(12)!r} {unit}", self.spec.kind) if unit else self.spec.kind.quantity(self.value)

    def text(self, system: str) -> str:
        return f"{self.spec.label}: {self.spec.kind.text(self.value, system)}"

    def _number(self, digits: int) -> float:
        return float(f"{self.spec.kind.shown(self.value, self.system):.{digits}g}")

    def _short(self):
        """What the box shows: what was typed or the slider reaches as it is, anything else with three figures; or as on a tape."""
        if self._typed_in[:2] == (self.system, self.value):
            return self._typed_in[2]
        if self.taped:
            return self.spec.kind.text(self.value, self.system)
        number = self._number(12)
        return number if number == self._snapped(number) and number == round(number, self._digits()) else self._number(3)

    def _digits(self) -> int:
        """The decimals of its step: an end that a build has moved lies on none."""
        _low, _high, step = self.spec.marks(self.system, self.low, self.high)
        return next((digits for digits in range(6) if without_drift(step) == round(step, digits)), 6)

    def _show(self, system: str) -> None:
        self.system = system
        low, high, step = self.spec.marks(system, self.low, self.high)
        self.box.description = self.label(system)
        self.box.step = step
        self.box.value = self._short()
        position = self._snapped(self._number(12))
        if self._marks == (low, high, step):
            self.slider.value = position
            self._arrange()
            return
        # A slider whose range changes snaps to its old steps on the way and reports that as a move: take a new one.
        old, self._marks = self.slider, (low, high, step)
        self.slider = widgets.FloatSlider(value=position, min=low, max=max(high, low + step), step=step, readout=False, tooltip=self.tip,
                                          continuous_update=not self.spec.on_release)  # fmt: skip
        self._watch(self.slider, self._slid)
        self._arrange()
        if old:
            old.unobserve_all()
            old.close()

    def _arrange(self) -> None:
        """Put the widgets side by side, or none where the slider has nothing to do with what is chosen."""
        self._pair.children = [self.box, self.slider] if self.offered else []
        if self.play:
            self.line.children = [self._pair, self.play] if self.offered else []
            low, _high, step = self._marks
            self.play.max = len(self.stops) - 1 if self.stops else round((self.slider.max - low) / step)
            self._follow()
        widgets.shown(self.line, bool(self.offered))

    def play_through(self, stops: tuple[float, ...]) -> None:
        """Let play begin anew, and go through these values."""
        if stops != self.stops:
            self.quiet, self.stops = True, stops
            self.play.value, self.play.max = 0, len(stops) - 1
            self.quiet = False

    def _follow(self) -> None:
        """Let play go on from where the slider is."""
        if self.play and self.stops:
            self.play.value = min(range(len(self.stops)), key=lambda place: abs(self.stops[place] - self.value))
        elif self.play:
            low, _high, step = self._marks
            self.play.value = round((self._snapped(self._number(12)) - low) / step)

    def _snapped(self, number: float) -> float:
        low, high, step = self.spec.marks(self.system, self.low, self.high)
        return without_drift(min(max(low + round((number - low) / step) * step, low), high))

    def _slid(self, number: float) -> None:
        # A slider that was told a value between its steps snaps to a step and says so; that is no move of a hand.
        if self._snapped(number) == self._snapped(self._number(12)):
            return
        self.take(self.spec.kind.from_shown(self._snapped(number), self.system))
        self.quiet = True
        self.box.value = self._short()  # the slider itself is left alone: it may be on its way already
        self._follow()
        self.quiet = False
        self.heard("")

    def _played(self, place: int) -> None:
        low, high, step = self._marks
        self.take(self.stops[place] if self.stops else self.spec.kind.from_shown(without_drift(min(low + place * step, high)), self.system))
        self.quiet = True
        self.box.value, self.slider.value = self._short(), self._snapped(self._number(12))  # play itself is on its way already
        self.quiet = False
        self.heard("")

    def _written(self, text: str) -> None:
        """A length was written as on a tape; a number alone, "18" or "11 3/4", is in the unit that the slider has."""
        kind = self.spec.kind
        tidy = text.strip().replace(",", "")
        if tidy and not tidy.strip("0123456789.+-/ ¼½¾⅓⅔⅛⅜⅝⅞"):
            tidy = text = f"{tidy} {kind.unit(self.system)}"
        try:
            si = si_value(quantity(tidy, kind), kind, self.spec.label)
        except DesignError as wrong:
            self.show(self.system)
            self.heard(f"{self.spec.label}: {str(wrong).replace(kind.example, _TAPED)}")
        else:
            self._to(si, text)

    def _typed(self, number: float) -> None:
        self._to(self.spec.kind.from_shown(number, self.system), number)

    def _to(self, si: float, typed) -> None:
        """Go where a person typed, or as near as can be, and say so."""
        note, kind = "", self.spec.kind
        slack = 1e-9 * (self.high - self.low)
        unit = kind.unit(self.system)
        given = typed if isinstance(typed, str) or not unit else f"{typed:.15g} {unit}"
        if math.isfinite(si) and not self.low <= si <= self.high and (wrong := self.spec.refused(si, given)):
            note = f"{wrong} {kind.text(self.value, self.system)} is kept."
            si = self.value
        elif not self.low - slack <= si <= self.high + slack:
            si = self.high if si > self.high else self.low if si < self.low else self.value  # the last for "not a number"
            span = f"from {kind.text(self.low, self.system)} to {kind.text(self.high, self.system)}"
            note = f"{self.spec.label} goes {span} here; {kind.text(si, self.system)} is used."
        self.value = self._whole(si)
        self._typed_in = () if note or self.value != si else (self.system, self.value, typed)
        self.show(self.system)
        self.heard(note)


class ChoiceRow(ControlRow):
    def __init__(self, spec: Choice):
        super().__init__(spec)
        first = next((names for names in spec.options.values() if names), {}) if spec.of else spec.options
        self.options = _labelled(first)
        self.all = {k: v for names in spec.options.values() for k, v in _labelled(names).items()} if spec.of else self.options
        if not self.options:
            raise DesignError(f"{spec.label}: there is nothing to choose from.")
        self.value = self.wish = next(iter(self.options.values())) if spec.value is None else self.checked(spec.value)
        self.menu = widgets.Dropdown(options=list(self.options.items()), value=self.value, description=spec.label)
        self.menu.tooltip = self.tip
        self.line = self.menu
        self._watch(self.menu, self._chosen)

    def checked(self, value):
        """The option that a value or its label names."""
        for label, option in self.all.items():
            if option is value or (isinstance(value, str) and value in (label, option)):
                return option
        if not isinstance(value, str) and any(option == value for option in self.all.values()):
            return value
        raise DesignError(unknown(f"choice of {self.spec.label}", value, self.options))

    def take(self, value) -> None:
        """Set the true value."""
        self.value = self.wish = value

    def offer(self, of) -> None:
        """The options that belong to the value of the other choice; the wish stands in again where it can."""
        self.offered, self.options = bool(self.spec.options[of]), _labelled(self.spec.options[of])
        here = list(self.options.values())
        if not self.offered:
            return
        self.value = self.wish if self.wish in here else self.spec.near(self.wish, here) if self.spec.near else here[0]

    def text(self, system: str) -> str:
        return f"{self.spec.label}: {self.menu.label}"

    def _show(self, system: str) -> None:
        widgets.shown(self.menu, bool(self.offered))
        if not self.offered:
            return
        if [label for label, _ in self.menu.options] != list(self.options):
            self.menu.options = list(self.options.items())
        self.menu.value = self.value

    def _chosen(self, value) -> None:
        self.take(value)
        self.heard("")


class SwitchRow(ControlRow):
    def __init__(self, spec: Switch):
        super().__init__(spec)
        self.value = bool(spec.value)
        self.box = widgets.Checkbox(value=self.value, description=spec.label, indent=False, tooltip=self.tip)
        self.line = self.box
        self._watch(self.box, self._turned)

    def checked(self, value) -> bool:
        """Yes or no."""
        if not isinstance(value, bool):
            raise DesignError(f"{self.spec.label} is {value!r}; it can be True or False.")
        return value

    def take(self, value: bool) -> None:
        """Set the true value."""
        self.value = value

    def text(self, system: str) -> str:
        return f"{self.spec.label}: {'yes' if self.value else 'no'}"

    def _show(self, system: str) -> None:
        self.box.value = self.value

    def _turned(self, value: bool) -> None:
        self.value = value
        self.heard("")


def _labelled(options) -> dict:
    return dict(options) if isinstance(options, dict) else {str(option): option for option in options}


def without_drift(number: float) -> float:
    """Without the drift of steps: 2.9999999999999996 -> 3."""
    return float(f"{number:.12g}")

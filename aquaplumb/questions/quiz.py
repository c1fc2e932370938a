"""Questions that check themselves: numbers with units, one of several, and put in order.

    question = quiz.Question(
        "A tank of {tank} is turned over once an hour. How much water must the pump move?",
        answer=lambda tank: tank / (1 * u.h),
        draw={"tank": ("600 L", "1400 L", "100 L")},       # each learner's name draws its own numbers
        hint="All of the tank, each hour.",
        why="This is the least that keeps the water mixed.",
    )
    question.reply("900 L/h")      # a sentence; never a traceback, whatever is typed
    question                       # in a notebook: a box to type into and a button

A question left blank says so and counts for nothing, so that "Run All" on a fresh notebook is quiet. The logic here
needs no widgets; `aquaplumb.questions.screen` shows it on a screen.
"""

from __future__ import annotations

import math

from aquaplumb.questions.asked import Asked, Verdict, as_text, bundle, cut, number_from, tidy_name
from aquaplumb.questions.choices import Order, Pick
from aquaplumb.units import NUMBER, DesignError, Quantity, noun, quantity, rounded, u

__all__ = ["Order", "Pick", "Question", "Quiz"]

# The slips that people make with units, as a ratio of what was said to what is right. Common practice, no source:
# each is the quotient of two units that stand side by side in this trade, or of a formula taken the wrong way.
SLIPS = (
    (10.0, "ten times too {way}: look at the decimal point"),
    (100.0, "a hundred times too {way}: look at the decimal point, at percent, and at cm against m"),
    (1000.0, "a thousand times too {way}: litres and cubic metres, grams and kilograms, or mm and m were mixed"),
    (60.0, "60 times too {way}: seconds and minutes, or minutes and hours, were mixed"),
    (3600.0, "3,600 times too {way}: seconds and hours were mixed"),
    (3.6, "3.6 times too {way}: litres a second and cubic metres an hour (or m/s and km/h) were mixed"),
    (24.0, "24 times too {way}: hours and days were mixed"),
    (4.0, "4 times too {way}: a radius stands where a diameter belongs, or the other way round"),
    (2.0, "twice too {way}: look for a half, or for something counted twice"),
)


class Question(Asked):
    """A question whose answer is a number, with a unit or plain.

    Parameters
    ----------
    prompt : str
        The question; ``{name}`` stands for a drawn number.
    answer : quantity, str, float or callable
        The right answer, in the unit it is best said in; or a function of the drawn quantities.
    tolerance : float
        How far off still counts as right, as a fraction of the answer.
    within : quantity or str, optional
        How far off still counts, in the answer's unit; for temperatures half a degree unless said.
    hint, worked, why : str
        Said on the second miss, after the third, and when it is right; ``{name}`` and ``{answer}`` are filled in.
    draw : dict, optional
        For each name a (low, high, step), or a list to choose from.
    slips : list, optional
        Pairs of a wrong answer (or a function of the drawn quantities) and what to say to it.
    learner : str
        Whose numbers; blank for the ones in print.

    Examples
    --------
    >>> question = Question("How much is 15 L a minute in an hour?", answer="900 L/h")
    >>> print(question.reply("15 L/h"))
    ✖ Not yet. 15 L/h is 60 times too low: seconds and minutes, or minutes and hours, were mixed.
    >>> print(question.reply("0.9 m3/h"))
    ✔ Right: 900 L/h.
    """

    def __init__(self, prompt, answer, *, tolerance=0.02, within=None, draw=None, slips=(), **words):
        self._answer, self._tolerance, self._within = answer, tolerance, within
        self._draw, self._slips = draw or {}, slips
        super().__init__(prompt, **words)

    def _deal(self) -> None:
        self.numbers = {name: _drawn(spec, f"{self.learner}\x1f{self._prompt}\x1f{name}") for name, spec in self._draw.items()}
        self.answer = self._worth(self._answer)

    def _worth(self, value):
        value = value(**self.numbers) if callable(value) else value
        if isinstance(value, str):
            return quantity(value)
        return value if isinstance(value, Quantity) else Quantity(float(value), "")

    def _filled(self, text: str) -> str:
        for name, value in self.numbers.items():
            text = text.replace(f"{{{name}}}", _said(value))
        return text.replace("{answer}", self._answer_text())

    def _answer_text(self) -> str:
        return _said(self.answer)

    def _close(self, number: float, right: float) -> bool:
        if self._within is not None:
            slack = quantity(self._within) if isinstance(self._within, str) else self._within
            return abs(number - right) <= getattr(slack, "magnitude", slack) * (1 + 1e-9)
        if _offset(self.answer):
            return abs(number - right) <= 0.5
        return abs(number - right) <= max(abs(right) * self._tolerance, 1e-12)

    def _judged(self, given) -> Verdict:
        right, unit = float(self.answer.magnitude), f"{self.answer.units:~P}"
        plain = not unit or self.answer.dimensionless
        said = cut(given)
        if isinstance(given, (int, float)) and not isinstance(given, bool):
            given = Quantity(given, "")
        typed = given if isinstance(given, Quantity) else _read(as_text(given), plain)
        try:
            number = float(typed.magnitude)
        except (TypeError, ValueError, OverflowError):
            return Verdict("unclear", f"{said} is not one number of a usual size.")
        if not math.isfinite(number):
            return Verdict("unclear", f"{said} is not a finite number.")
        if not plain and typed.unitless:
            if self._close(number, right):
                return Verdict("unclear", f"The number is right. Now give it its unit: {said} of what?")
            return Verdict("unclear", f"{said} has no unit; write one after the number, such as {unit}.")
        if not typed.check(self.answer.dimensionality):
            what, wanted = noun(typed), noun(self.answer)
            if self._close(number, right):
                return Verdict("wrong", f"The number is right, but {said} is {what}; the answer is {wanted}. Look at the unit.")
            return Verdict("wrong", f"{said} is {what}; the answer is {wanted}.")
        value = float(typed.m_as(self.answer.units))
        if self._close(value, right):
            return Verdict("right", f"{self._answer_text()}.")
        for slip, words in self._slips:
            if self._close(value, float(self._worth(slip).m_as(self.answer.units))):
                return Verdict("wrong", self._filled(words))
        if self._close(number, right):
            return Verdict("wrong", f"The number is right, but not with the unit in {said}. Which unit belongs to it?")
        return Verdict("wrong", self._slip(value, right, said))

    def _slip(self, value: float, right: float, said: str) -> str:
        """The likeliest reason for a wrong number."""

        def near(one: float, other: float) -> bool:
            return math.isclose(one, other, rel_tol=max(self._tolerance, 1e-6))

        if right and value and not _offset(self.answer):
            if near(value, -right):
                return f"{said} has the wrong sign."
            ratio = value / right
            for factor, words in SLIPS:
                if near(ratio, factor) or near(ratio, 1 / factor):
                    return f"{said} is {words.format(way='high' if ratio > 1 else 'low')}."
            if near(value * right, 1.0):
                return f"{said} is upside down: one was divided by the other the wrong way round."
        return f"{said} is too {'high' if value > right else 'low'}."


class Quiz:
    """A few questions under one title, for one learner.

    Parameters
    ----------
    title : str
        What they are about.
    questions : list
        `Question`, `Pick` and `Order`.
    learner : str
        Whose; the name draws the numbers. Blank for the numbers in print.
    """

    def __init__(self, title: str, questions: list, learner: str = ""):
        self.title, self.questions = title, list(questions)
        self.learner = learner

    @property
    def learner(self) -> str:
        """Whose answers these are."""
        return self._learner

    @learner.setter
    def learner(self, name: str) -> None:
        self._learner = tidy_name(name)
        for question in self.questions:
            question.learner = self._learner

    def __getitem__(self, number: int) -> Asked:
        """A question by its number, from 1."""
        if not isinstance(number, int) or not 1 <= number <= len(self.questions):
            raise DesignError(f"there is no question {number!r}; there are 1 to {len(self.questions)}.")
        return self.questions[number - 1]

    def results_line(self) -> str:
        """One line to show a teacher; it counts as right only what was right before the answer was shown."""
        right = sum(question.solved and not question.shown for question in self.questions)
        each = "; ".join(f"{place}: {question.standing}" for place, question in enumerate(self.questions, 1))
        return f"{self.learner or 'No name'} · {self.title} · {right} of {len(self.questions)} right ({each})"

    def __repr__(self):
        return "\n".join([self.title, *(f"{place}. {question!r}" for place, question in enumerate(self.questions, 1))])

    def _repr_mimebundle_(self, include=None, exclude=None):
        return bundle(self.questions, self, repr(self))


# --- numbers ------------------------------------------------------------------------------------


def _read(text: str, plain: bool):
    """A person's answer as a quantity; without a unit it is a plain number."""
    if plain:
        return quantity(text, NUMBER)
    try:
        return quantity(text, NUMBER)
    except DesignError:
        return quantity(text)


def _said(value) -> str:
    """A number as a sentence says it, with no comma for thousands: it can be typed back as it stands."""
    if not isinstance(value, Quantity):
        return rounded(value).replace(",", "") if isinstance(value, (int, float)) else str(value)
    return f"{rounded(value.magnitude).replace(',', '')} {value.units:~P}".strip()


def _offset(value) -> bool:
    return value.check("[temperature]") and value.units in (u.degC, u.degF)


def _drawn(spec, seed: str):
    """One of a list, or one of the steps from low to high."""
    if isinstance(spec, list):
        chosen = spec[number_from(seed) % len(spec)]
        return quantity(chosen) if isinstance(chosen, str) else chosen
    low, high, step = (quantity(end) if isinstance(end, str) else end for end in spec)
    if not isinstance(low, Quantity):
        return low + step * (number_from(seed) % (round((high - low) / step) + 1))
    if not low.units == high.units == step.units:
        raise DesignError(f"the numbers to draw from, {spec}, must have one unit.")
    count = round((high.magnitude - low.magnitude) / step.magnitude) + 1
    return Quantity(round(low.magnitude + step.magnitude * (number_from(seed) % count), 9), low.units)

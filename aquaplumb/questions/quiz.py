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

import contextlib
import math
import re

from aquaplumb.questions.asked import Asked, Verdict, as_text, bundle, cut, number_from, tidy_name
from aquaplumb.questions.choices import Order, Pick
from aquaplumb.questions.sums import readings
from aquaplumb.units import NUMBER, DesignError, Quantity, noun, pint_unit, quantity, rounded, u

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


CLOSE = 0.03  # of the answer: how far off still counts, for all questions alike
GRAVITY = 9.81 * u.m / u.s**2
TIMES = {"minute": u.minute, "hour": u.hour, "day": u.day, "week": u.week, "year": u.year}


class Question(Asked):
    """A question whose answer is a number, with a unit or plain.

    Parameters
    ----------
    prompt : str
        The question; ``{name}`` stands for a drawn number.
    answer : quantity, str, float or callable
        The right answer, in the unit it is best said in; or a function of the drawn quantities.
    within : quantity or str, optional
        How far off still counts, in the answer's unit; for temperatures half a degree unless said. All else is right
        within three parts in a hundred, or where it is the answer rounded to two figures.
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

    def __init__(self, prompt, answer, *, within=None, draw=None, slips=(), **words):
        self._answer, self._within = answer, within
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

    def _wrong(self) -> list[tuple[str, str]]:
        return [(_said(self._worth(slip).to(self.answer.units)), self._filled(words)) for slip, words in self._slips]

    def slack(self, right: float) -> float:
        """How far from a number in the answer's unit another may be that still counts as it."""
        if self._within is not None:
            slack = quantity(self._within) if isinstance(self._within, str) else self._within
            return getattr(slack, "magnitude", slack) * (1 + 1e-9)
        return 0.5 if _offset(self.answer) else max(abs(right) * CLOSE, 1e-12)

    @property
    def rounds(self) -> bool:
        """Whether the answer rounded to two figures is right as well, in whatever unit it is typed."""
        return self._within is None and not _offset(self.answer)

    @property
    def slips(self) -> list[tuple[float, str]]:
        """Wrong answers that are foreseen, in the answer's unit, each with the reply to it."""
        return [(float(self._worth(slip).m_as(self.answer.units)), self._filled(words)) for slip, words in self._slips]

    def _close(self, number: float, right: float) -> bool:
        return abs(number - right) <= self.slack(right)

    def _is_right(self, typed: Quantity) -> bool:
        """Whether a quantity of the answer's kind is near it, or is it rounded to two figures in the unit typed."""
        if self._close(float(typed.m_as(self.answer.units)), float(self.answer.magnitude)):
            return True
        return self.rounds and math.isclose(float(f"{float(self.answer.m_as(typed.units)):.2g}"), float(typed.magnitude))

    @property
    def plain(self) -> bool:
        """Whether the answer is a number without a unit, or a share."""
        return self.answer.dimensionless

    def _judged(self, given) -> Verdict:
        said = cut(given)
        if isinstance(given, (int, float)) and not isinstance(given, bool):
            given = Quantity(given, "")
        if isinstance(given, Quantity):
            return self._weighed(given, said)
        text = as_text(given)
        if not re.search(r"\d", text):
            asks = "a number" if self.plain else f"a number and its unit, such as {self.answer.units:~P}"
            return Verdict("unclear", f"{said} has no number in it; write {asks}.")
        try:
            typed = _read(text)
        except DesignError:
            read = list(readings(text))
            found = [self._weighed(one, said) for one in read]
            best = min(found, key=lambda verdict: ("right", "wrong", "unclear").index(verdict.state), default=None)
            right, told = float(self.answer.magnitude), [words for _, words in self.slips]
            foreseen = best is not None and (
                best.state == "right" or best.text in told or any(self._close(one.magnitude, right) for one in read)
            )
            if best is None or ("," in text and not foreseen):
                raise
            return best
        return self._weighed(typed, said)

    def _weighed(self, typed: Quantity, said: str) -> Verdict:
        """The judgement of one quantity."""
        right, unit = float(self.answer.magnitude), f"{self.answer.units:~P}"
        try:
            number = float(typed.magnitude)
        except (TypeError, ValueError, OverflowError):
            return Verdict("unclear", f"{said} is not one number of a usual size.")
        if not math.isfinite(number):
            return Verdict("unclear", f"{said} is not a finite number.")
        if not self.plain and typed.unitless and self._named():
            typed = typed * self.answer.units
        if not self.plain and typed.unitless:
            if self._close(number, right):
                return Verdict("unclear", f"The number is right. Now give it its unit: {said} of what?")
            return Verdict("unclear", f"{said} has no unit; write one after the number, such as {unit}.")
        if self.plain and typed.units == u.Unit("") and self.answer.units == u.percent and self._close(number, right):
            return Verdict("right", f"{self._answer_text()}.")
        if not typed.check(self.answer.dimensionality):
            if told := self._in_other_words(typed):
                return Verdict("right", told)
            what, wanted = noun(typed), noun(self.answer)
            if self._close(number, right):
                return Verdict("wrong", f"The number is right, but {said} is {what}; the answer is {wanted}. Look at the unit.")
            return Verdict("wrong", f"{said} is {what}; the answer is {wanted}.")
        value = float(typed.m_as(self.answer.units))
        if self._is_right(typed):
            return Verdict("right", f"{self._answer_text()}.")
        for slip, words in self.slips:
            if self._close(value, slip):
                return Verdict("wrong", words)
        if self._close(number, right):
            return Verdict("wrong", f"The number is right, but not with the unit in {said}. Which unit belongs to it?")
        return Verdict("wrong", self._slip(value, right, said))

    def _named(self) -> bool:
        """Whether the question itself asks for the number of a unit ("in how many seconds", "in Ah?"), so that the number will do."""
        if not (asked := re.search(r"\bin how many (second|minute)s|, in (\w+)\?$", self.prompt, re.IGNORECASE)):
            return False
        with contextlib.suppress(DesignError):  # a word that is no unit
            return pint_unit(asked[2] or {"second": "s", "minute": "min"}[asked[1].lower()]) == self.answer.units
        return False

    def _in_other_words(self, typed: Quantity) -> str:
        """What to say to a right answer in a measure that the question's own words suggest; nothing where it is none.

        A mass for the force with which it presses, and the other way round; "240 g" where the question says "a day".
        """
        for other, words in ((typed * GRAVITY, "times 9.81 that is"), (typed / GRAVITY, "over 9.81 that is")):
            if other.check(self.answer.dimensionality) and self._is_right(other.to(self.answer.units)):
                same = self._close(float(typed.magnitude), float(self.answer.magnitude))  # pounds press with as many pounds
                return f"{self._answer_text()}." if same else f"{typed:.4g~P}; {words} {self._answer_text()}."
        for word, time in TIMES.items():
            if not re.search(rf"\b(?:an?|each|per|every) {word}\b|\b{word}'s\b", self.prompt):
                continue
            asked = () if "flow" in self.prompt.casefold() else (typed / (1 * time),)
            for other in (*asked, typed * (1 * time)):
                if other.check(self.answer.dimensionality) and self._is_right(other.to(self.answer.units)):
                    return f"{self._answer_text()}."
        return ""

    def _slip(self, value: float, right: float, said: str) -> str:
        """The likeliest reason for a wrong number."""

        def near(one: float, other: float) -> bool:
            return math.isclose(one, other, rel_tol=CLOSE)

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
        tried = [(place, q) for place, q in enumerate(self.questions, 1) if q.solved or q.shown or q.misses]
        each = "; ".join(f"{place}: {question.standing}" for place, question in tried)
        return f"{self.learner or 'No name'} · {self.title} · {right} of {len(self.questions)} right" + (f" ({each})" if each else "")

    def __repr__(self):
        return "\n".join([self.title, *(f"{place}. {question!r}" for place, question in enumerate(self.questions, 1))])

    def _repr_mimebundle_(self, include=None, exclude=None):
        return bundle(self.questions, self, repr(self))


# --- numbers ------------------------------------------------------------------------------------


def _read(text: str):
    """A person's answer as a quantity; without a unit it is a plain number."""
    try:
        return quantity(text, NUMBER)
    except DesignError:
        return quantity(text)


def _said(value) -> str:
    """A number as all pages say it, with a comma for thousands."""
    if not isinstance(value, Quantity):
        return rounded(value) if isinstance(value, (int, float)) else str(value)
    return f"{rounded(value.magnitude)} {value.units:~P}".strip()


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

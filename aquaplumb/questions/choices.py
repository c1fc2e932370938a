"""Questions that need no number: one of several, and put in order."""

from __future__ import annotations

import re

from aquaplumb.questions.asked import Asked, Verdict, as_text, cut, shuffled
from aquaplumb.tables import unknown
from aquaplumb.units import DesignError


class Pick(Asked):
    """One of several answers.

    Parameters
    ----------
    prompt : str
        The question.
    options : dict or list
        The answers; in a dict each with what to say to who picks it.
    answer : str
        The right one.
    hint, worked, why, learner : str
        As in `Question`.

    Examples
    --------
    >>> question = Pick("Which figure is on a pump's box?", ["flow at no lift", "flow at your lift"], "flow at no lift")
    >>> print(question.reply("flow at no lift"))
    ✔ Right: flow at no lift.
    """

    def __init__(self, prompt, options, answer, **words):
        self._options = dict(options) if isinstance(options, dict) else dict.fromkeys(options, "")
        self.answer = answer
        if answer not in self._options:
            raise DesignError(unknown("list of answers", answer, self._options))
        super().__init__(prompt, **words)

    def _deal(self) -> None:
        self.options = shuffled(list(self._options), f"{self.learner}\x1f{self._prompt}")

    def _answer_text(self) -> str:
        return f"“{self.answer}”"

    def _answer_as_shown(self) -> str:
        return f"{'abcdefghij'[self.options.index(self.answer)]}) {self.answer}"

    def _wrong(self) -> list[tuple[str, str]]:
        return [(option, self.verdict(option).text) for option in self.options if option != self.answer]

    def _judged(self, given) -> Verdict:
        text = " ".join(as_text(given)[:400].split()).rstrip(").").casefold()
        named = {" ".join(option.split()).rstrip(").").casefold(): option for option in self.options}
        lettered = {"abcdefghij"[place]: option for place, option in enumerate(self.options[:10])}
        numbered = {str(place + 1): option for place, option in enumerate(self.options)}
        chosen = named.get(text) or lettered.get(text) or numbered.get(text)
        if chosen is None:
            letters = ", ".join(lettered)
            return Verdict("unclear", f"“{cut(given)}” is not one of the answers; give the letter: {letters}.")
        if chosen == self.answer:
            return Verdict("right", f"{chosen}.")
        return Verdict("wrong", self._options[chosen] or f"“{chosen}” is not it.")

    def __repr__(self):
        lines = [f"  {'abcdefghij'[place]}) {option}" for place, option in enumerate(self.options)]
        return "\n".join([self.prompt, *lines])


class Order(Asked):
    """Steps to put in order, answered by their numbers as shown: "3 1 2", or "312".

    Parameters
    ----------
    prompt : str
        The question.
    steps : list
        The steps in their right order; they are shown mixed. Several that may stand in any order are a tuple.
    also : list, optional
        Another right order, told in the same way: of a circle, one that begins elsewhere.
    hint, worked, why, learner : str
        As in `Question`.

    Examples
    --------
    >>> question = Order("Water's way:", ["tank", "bed", "sump"])
    >>> print(question.reply([question.options.index(step) + 1 for step in ("tank", "bed", "sump")]))
    ✔ Right: tank, then bed, then sump.
    """

    def __init__(self, prompt, steps, *, also=(), **words):
        self._orders = [
            [(part,) if isinstance(part, str) else tuple(part) for part in order] for order in (steps, *([also] if also else ()))
        ]
        self._steps = [step for part in self._orders[0] for step in part]
        if any(sorted(step for part in order for step in part) != sorted(self._steps) for order in self._orders):
            raise DesignError("an order and the one that is right as well must have the same steps.")
        super().__init__(prompt, **words)

    def _deal(self) -> None:
        self.options = shuffled(self._steps, f"{self.learner}\x1f{self._prompt}")
        for _ in self._steps:
            if self._first_wrong(self.options) is not None:
                break
            self.options = self.options[1:] + self.options[:1]  # never shown already solved

    @property
    def orders(self) -> list[list[list[int]]]:
        """Of each right order, for each place the numbers of the steps, as shown, that may stand there."""
        return [[[self.options.index(step) + 1 for step in part] for part in order for _ in part] for order in self._orders]

    def _first_wrong(self, order: list[str]) -> int | None:
        """The place of the first step that does not fit; None where all do."""
        places = [place for right in self._orders if (place := _misfit(order, right)) is not None]
        return max(places) if len(places) == len(self._orders) else None

    def _answer_text(self) -> str:
        apart = "; then " if any("," in step for step in self._steps) else ", then "
        return apart.join(f"{'in any order: ' * (len(part) > 1)}{'; and '.join(part)}" for part in self._orders[0])

    def _answer_as_shown(self) -> str:
        return f"{' '.join(str(self.options.index(step) + 1) for step in self._steps)}: {self._answer_text()}"

    def _judged(self, given) -> Verdict:
        text = " ".join(map(as_text, given)) if isinstance(given, (list, tuple)) else as_text(given)
        count = len(self._steps)
        close = re.sub(r"\s", "", text[:200])
        places = [int(one) for one in (close if re.fullmatch(rf"[1-9]{{{count}}}", close) else re.findall(r"\d{1,3}", text[:200]))]
        if sorted(places) != list(range(1, count + 1)) or re.sub(r"[\d\s,;.>-]", "", text):
            return Verdict("unclear", f"Write the numbers 1 to {count} in the order you think right, each once.")
        good = self._first_wrong([self.options[place - 1] for place in places])
        if good is None:
            return Verdict("right", f"{self._answer_text()}.")
        start = (
            "The first step is not right yet." if good == 0 else f"The first {'is' if good == 1 else f'{good} are'} right; what comes next?"
        )
        return Verdict("wrong", start)

    def _lasting(self, given):
        return (
            [self.options[int(one) - 1] for one in re.findall(r"\d", as_text(given))]
            if self.verdict(given).state in ("right", "wrong")
            else None
        )

    def _anew(self, lasting):
        return " ".join(str(self.options.index(step) + 1) for step in lasting)

    def __repr__(self):
        return "\n".join([self.prompt, *(f"  {place}. {step}" for place, step in enumerate(self.options, 1))])


def _misfit(order: list[str], right: list[tuple[str, ...]]) -> int | None:
    """The place of the first step of an order that another one does not have there; None where there is none."""
    allowed = [part for part in right for _ in part]
    return next((place for place, (step, part) in enumerate(zip(order, allowed)) if step not in part), None)

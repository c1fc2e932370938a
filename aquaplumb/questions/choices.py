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
    """Steps to put in order, answered by their numbers as shown: "3 1 2".

    Parameters
    ----------
    prompt : str
        The question.
    steps : list of str
        The steps in their right order; they are shown mixed.
    hint, worked, why, learner : str
        As in `Question`.

    Examples
    --------
    >>> question = Order("Water's way:", ["tank", "bed", "sump"])
    >>> print(question.reply([question.options.index(step) + 1 for step in ("tank", "bed", "sump")]))
    ✔ Right: tank, then bed, then sump.
    """

    def __init__(self, prompt, steps, **words):
        self._steps = list(steps)
        super().__init__(prompt, **words)

    def _deal(self) -> None:
        self.options = shuffled(self._steps, f"{self.learner}\x1f{self._prompt}")
        if self.options == self._steps and len(self._steps) > 1:
            self.options = self.options[1:] + self.options[:1]  # never shown already solved

    def _answer_text(self) -> str:
        return ", then ".join(self._steps)

    def _judged(self, given) -> Verdict:
        text = " ".join(map(as_text, given)) if isinstance(given, (list, tuple)) else as_text(given)
        count = len(self._steps)
        places = [int(word) for word in re.findall(r"\d{1,3}", text[:200])]
        if sorted(places) != list(range(1, count + 1)) or re.sub(r"[\d\s,;.>-]", "", text):
            return Verdict("unclear", f"Write the numbers 1 to {count} in the order you think right, each once, such as "
                                      f"{' '.join(str(place) for place in range(count, 0, -1))}.")  # fmt: skip
        order = [self.options[place - 1] for place in places]
        if order == self._steps:
            return Verdict("right", f"{self._answer_text()}.")
        good = next(place for place, (one, other) in enumerate(zip(order, self._steps)) if one != other)
        start = (
            "The first step is not right yet." if good == 0 else f"The first {good} {'is' if good == 1 else 'are'} right; what comes next?"
        )
        return Verdict("wrong", start)

    def __repr__(self):
        return "\n".join([self.prompt, *(f"  {place}. {step}" for place, step in enumerate(self.options, 1))])

"""The answer key: each page's guesses, questions and fault, as a learner of a given name sees them, with the answers."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from aquaplumb import __version__
from aquaplumb.build import load
from aquaplumb.questions.asked import WorkedAnswer, tidy_name
from aquaplumb.questions.quiz import Quiz
from aquaplumb.review import review
from aquaplumb.teaching.pages import Page, chosen, system

_FOUND = {"stop", "fix"}  # of a case's findings; notes are not its mistake


class Answered(NamedTuple):
    """One question with its answer; `what` is its place on the page."""

    what: str
    prompt: str
    solution: WorkedAnswer


class Case(NamedTuple):
    """The build of *What is wrong here?*: its name on the page and its file's, its title, and what the review finds in it."""

    name: str
    build: str
    title: str
    findings: list[str]


class PageKey(NamedTuple):
    """The key of one page."""

    number: str
    title: str
    answers: list[Answered]
    case: Case | None


class Key(NamedTuple):
    """The key of some pages, for one learner; blank is the name of nobody, whose numbers are those in print."""

    learner: str
    units: str
    pages: list[PageKey]

    def text(self) -> str:
        """For the screen."""
        said = [self.head, *(line for page in self.pages for line in _lines(page))]
        return "\n".join(said)

    @property
    def head(self) -> str:
        """Whose numbers these are."""
        whose = f"The numbers are those of “{self.learner}”." if self.learner else "The numbers are those of a box left without a name."
        return f"Answer key, {self.units} units. {whose} Another name draws others."

    def html(self, paper: str = "") -> str:
        """A page to print, which needs nothing else.

        Parameters
        ----------
        paper : str
            "A4" or "letter"; by default that of the units.
        """
        from aquaplumb.teaching.printing import paper_for, template

        return template("key.html").render(key=self, paper=paper_for(paper, self.units), version=__version__)


def key(numbers: list[str] | None = None, *, learner: str = "", units: str = "metric") -> Key:
    """The answer key.

    Parameters
    ----------
    numbers : list of str
        Of pages, such as "08"; all by default.
    learner : str
        The name that a learner has typed above the questions; it draws the numbers and the order of the choices.
    units : str
        "metric" or "US".

    Raises
    ------
    DesignError
        Where there is no such page, or there are no such units.

    Source: none; the questions hold their own answers.

    Examples
    --------
    >>> key(["8"], learner="Ama K").pages[0].answers[0].solution.answer[3:]
    'about seven tenths'
    """
    units, learner = system(units), tidy_name(learner)
    return Key(learner, units, [_page(page, learner, units) for page in chosen(numbers or [])])


def _page(page: Page, learner: str, units: str) -> PageKey:
    answers = []
    for name, asked in page.asked(learner, units).items():
        if isinstance(asked, Quiz):
            answers += [Answered(f"Check yourself, {place}", q.prompt, q.solution) for place, q in enumerate(asked.questions, 1)]
        else:
            what = "What is wrong here?" if name == "fault" else "Guess first" if name == "guess" else "Guess again"
            answers.append(Answered(what, asked.prompt, asked.solution))
    return PageKey(page.number, page.title, answers, _case(page, units))


def _case(page: Page, units: str) -> Case | None:
    if not page.case:
        return None
    name, build = page.case
    seen = review(load(build).changed({("units",): units}))
    found = [f"{f.severity}: {f.where}: {f.sentence} {f.cure}" for f in seen.findings if f.severity in _FOUND]
    return Case(name, Path(build).stem, seen.build.title, found)


def _lines(page: PageKey):
    yield f"\n{page.number} {page.title}\n{'=' * (len(page.title) + 3)}"
    for one in page.answers:
        if one.what == "What is wrong here?" and page.case:
            case = page.case
            yield f"\n{one.what} The build is {case.name}, “{case.title}” (in the files: {case.build})."
            yield from (f"    {line}" for line in case.findings)
            yield f"  {one.prompt}"
        else:
            yield f"\n{one.what}: {one.prompt}"
        yield f"  ANSWER  {one.solution.answer}"
        if one.solution.worked:
            yield f"  worked out: {one.solution.worked}"
        if one.solution.why:
            yield f"  why: {one.solution.why}"
        yield from (f"  to “{wrong}”: {reply}" for wrong, reply in one.solution.wrong)

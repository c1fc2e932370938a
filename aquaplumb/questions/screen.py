"""Questions on a screen: the prompt, a box or a list, a button and the reply. `aquaplumb.questions.quiz` has the logic."""

from __future__ import annotations

import asyncio
import contextlib

from aquaplumb.questions.asked import Asked, as_text
from aquaplumb.questions.learner import guessed, keep_guess, remember, remembered
from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.whatif import widgets
from aquaplumb.whatif.base import rich
from aquaplumb.whatif.screen import styled

STYLE = """
.ap-quiz, .ap-quiz > *, .ap-quiz .widget-vbox, .ap-quiz .widget-hbox { width: 100%; max-width: 720px; overflow: visible; }
.ap-quiz .widget-html, .ap-quiz .widget-html-content { height: auto; width: auto; overflow: visible; line-height: 1.4; margin: 0;
  color: var(--jp-ui-font-color1, #26323c); }
.ap-quiz .widget-hbox { flex-flow: row wrap; align-items: flex-end; gap: 2px 12px; }
.ap-quiz .widget-hbox > * { margin: 2px 0; }
.ap-quiz .widget-text, .ap-quiz .widget-radio { flex: 0 1 auto; width: auto; max-width: 100%; height: auto; }
.ap-quiz .widget-text { width: min(340px, 100%); margin: 2px 0; }
.ap-quiz .widget-text input { min-width: 0; }
.ap-quiz .widget-radio { display: flex; flex-flow: row wrap; gap: 2px 8px; align-items: baseline; }
.ap-quiz .widget-label { flex: 0 0 auto; width: auto; min-width: 70px; color: var(--jp-ui-font-color1, #26323c); text-align: left; }
.ap-quiz .widget-radio-box { flex: 1 1 260px; display: flex; flex-flow: column; min-width: 0; max-width: 640px; height: auto; gap: 5px; margin: 0; }
.ap-quiz .widget-radio-box label { display: flex; flex-flow: row nowrap; align-items: baseline; gap: 8px; width: auto; height: auto;
  white-space: normal; line-height: 1.35; overflow: visible; padding: 0; margin: 0; }
.ap-quiz .widget-radio-box label input { order: -1; flex: 0 0 auto; float: none; position: relative; top: 2px; margin: 0; }
.ap-quiz img { display: block; max-width: 100%; height: auto; }
"""
_SOON = 0.3  # seconds: from the Enter key until what was typed is here
# A gate that is shut hides all cells of its page that come after its own: in JupyterLab the cells stand side by side, in Voilà each in
# a box of its own. It needs no script, and a page without a kernel has no gate: there nothing is hidden.
_SHUT = "<style>.jp-Cell:has(.ap-shut) ~ .jp-Cell, div:has(> .jp-Cell .ap-shut) ~ div:has(> .jp-Cell) { display: none !important; }</style>"


def view(questions: list[Asked], quiz: Quiz | None):
    """The widget of some questions; with a quiz also the learner's name and the results line, and its questions one after another."""
    if quiz is not None:
        quiz.learner = quiz.learner or remembered()  # before anything is shown: the name draws the numbers
    asked = [_Shown(question, place) for place, question in enumerate(questions, 1)]
    parts = [styled(STYLE), *(shown.widget for shown in asked)]
    if quiz is not None:
        name = widgets.Text(value=quiz.learner, description="your name", placeholder="for numbers of your own", continuous_update=False)
        kept, line = widgets.HTML(), widgets.HTML()

        def tell() -> None:
            begun = quiz.learner or any(one.solved or one.shown or one.misses for one in quiz.questions)
            line.value = f'<div role="status" aria-live="polite">{rich(quiz.results_line()) if begun else ""}</div>'

        def named(change) -> None:
            quiz.learner = change["new"]
            kept.value = rich(remember(quiz.learner))
            for shown in asked:
                shown.refresh()
            tell()

        name.observe(named, "value")
        following = _Following(asked)

        def checked() -> None:
            tell()
            following.answered()

        for shown in asked:
            shown.told = checked
        tell()
        parts = [name, kept, *parts, following.button, line]
    box = widgets.VBox(parts)
    box.add_class("ap-quiz")
    return box


class _Following:
    """Shows one question after another: the next once those before are answered rightly or shown, or its button is pressed."""

    def __init__(self, asked: list[_Shown]):
        self.asked, self.open = asked, 1
        self.button = widgets.Button(tooltip="show the next question", layout=widgets.Layout(width="140px"))
        self.button.on_click(self._press)
        self._show(1)
        self.answered()

    def _show(self, many: int) -> None:
        self.open = many
        for shown in self.asked:
            widgets.shown(shown.widget, shown.place <= many)
        widgets.shown(self.button, many < len(self.asked))
        self.button.description = f"Question {many + 1} of {len(self.asked)}"

    def _press(self, _button) -> None:
        """Show one more; who works by keys stands in its box, not behind it at the button."""
        self._show(self.open + 1)
        self.asked[self.open - 1].entry.focus()

    def answered(self) -> None:
        """Look again at what is answered."""
        over = [shown.question.solved or shown.question.shown for shown in self.asked]
        done = over.index(False) if False in over else len(over)
        if self.open <= done < len(over):
            self._show(done + 1)


class _Shown:
    """One question's widgets."""

    def __init__(self, question: Asked, place: int):
        self.question, self.place = question, place
        self.told = lambda: None
        self._busy = self._enter = False
        self.prompt, self.reply = widgets.HTML(), widgets.HTML()
        if isinstance(question, Pick):
            self.entry = widgets.RadioButtons()
        else:
            ask = "the numbers in order" if isinstance(question, Order) else "a number and its unit"
            if isinstance(question, Question) and question.plain:
                ask = "a number"
            self.entry = widgets.Text(placeholder=ask, continuous_update=False)
            self.entry.on_msg(self._entered)
            self.entry.observe(self._typed, "value")
        self.entry.description = f"answer {place}"
        self.button = widgets.Button(description="Check", tooltip=f"check answer {place}", layout=widgets.Layout(width="90px"))
        self.button.on_click(self._check)
        self.widget = widgets.VBox([self.prompt, widgets.HBox([self.entry, self.button]), self.reply])
        if question.gate and not question.opened:
            self._hold()
        self.refresh()

    def _hold(self) -> None:
        """Hold back what stands below, unless the page was run before and its guess was made then."""
        question = self.question
        if (before := guessed(question.prompt)) is None:
            self._shut()
            question.when_opened.append(lambda: keep_guess(question.prompt, "" if question.given is None else as_text(question.given)))
            return
        question.given = before if question.verdict(before).state in ("right", "wrong") else None
        question.open()

    def _shut(self) -> None:
        """Hold back what stands below on the page until there is an answer, or *Show me* is pressed."""
        show = widgets.Button(
            description="Show me", tooltip="show the rest of the page without a guess", layout=widgets.Layout(width="90px")
        )
        show.on_click(lambda _button: self.question.open())
        waits = widgets.HTML(f"{_SHUT}<i>The rest of this page comes after your guess.</i>")
        row, parts = self.widget.children[1], self.widget.children

        def opened() -> None:
            self.widget.remove_class("ap-shut")
            row.children, self.widget.children = row.children[:-1], parts

        row.children, self.widget.children = (*row.children, show), (*parts, waits)
        self.widget.add_class("ap-shut")
        self.question.when_opened.append(opened)

    def refresh(self) -> None:
        """Show the question as it stands for this learner, with what is answered of it."""
        prompt = rich(self.question.prompt)
        if isinstance(self.question, Order):
            steps = "".join(f"<li>{rich(step)}</li>" for step in self.question.options)
            prompt += f'<ol style="margin: 2px 0">{steps}</ol>'
        self.prompt.value = f'<div style="margin-top: 10px"><b>{self.place}.</b> {prompt}</div>'
        self._busy = True
        given = self.question.given
        if isinstance(self.question, Pick):
            self.entry.options = self.question.options
            self.entry.value = given if given in self.question.options else None
        else:
            self.entry.value = "" if given is None else as_text(given)
        self._busy = False
        self._say(self.question.blank if given is None else self.question.reply(given))

    def _entered(self, _widget, content, _buffers) -> None:
        """The Enter key. The front end says so first, and what is new in the box, if anything, a moment later."""
        if content.get("event") == "submit":
            self._enter = True
            with contextlib.suppress(RuntimeError):  # outside a kernel nothing runs later
                asyncio.get_running_loop().call_later(_SOON, self._typed)

    def _typed(self, _change=None) -> None:
        """Something new in the box: an answer where the Enter key brought it; who only leaves the box is not judged."""
        if self._enter and not self._busy:
            self._enter = False
            self._check()

    def _check(self, _button=None) -> None:
        self._say(self.question.reply(self.entry.value))
        if self.question.gate and self.question.given is not None:
            keep_guess(self.question.prompt, as_text(self.question.given))  # a guess may be changed: the last one is there again
        self.told()

    def _say(self, text: str) -> None:
        self.reply.value = f'<div role="status" aria-live="polite">{rich(text)}</div>'

"""Plain pages in a real browser, from files: nothing is asked of a network, and a page's script says what the library would say."""

import math

import pytest

from aquaplumb.questions.quiz import Order, Pick, Question, Quiz
from aquaplumb.teaching import copies
from aquaplumb.teaching.pages import chosen
from aquaplumb.teaching.plain import Walk

NUMBERS = ["06", "08"]  # picks, an order, numbers with units, a fault
SAID = """([place, answer]) => { const form = document.querySelectorAll('form.ask')[place];
  const box = form.querySelector('input[type=text]');
  if (box) box.value = answer; else form.querySelectorAll('input')[answer].checked = true;
  form.querySelector('button').click();
  return form.querySelector('[role=status]').textContent; }"""


@pytest.fixture(scope="module", params=["metric", "US"])
def written(request, tmp_path_factory):
    """Some pages, whose questions are of these units, written to a folder; what surrounds the questions does not matter here."""
    folder, patch = tmp_path_factory.mktemp("plain"), pytest.MonkeyPatch()
    patch.setattr("aquaplumb.teaching.plain.pages", lambda: chosen(NUMBERS))
    patch.setattr(copies, "worked_tries", lambda _name, _build: [])
    patch.setattr(copies, "_run", lambda page, build: copies.stored(page))
    for name, text in Walk(units=request.param).files().items():
        (folder / name).write_text(text, encoding="utf-8")
    patch.undo()
    return folder, request.param


def answers(asked):
    """What somebody may give: right, each foreseen slip, and things that are wrong in common ways; for a pick its place."""
    if isinstance(asked, Pick):
        return range(len(asked.options))
    if isinstance(asked, Order):
        right = asked.solution.answer.split(":")[0]
        return [right, right[::-1], "1 1 2", "first"]
    value, unit = float(asked.answer.magnitude), f"{asked.answer.units:~P}"
    near, off = f"{value * 1.02:.6g}", f"{value * 1.5:.6g}"
    assert math.isfinite(value)
    typed = [
        f"{value:.6g} {unit}",
        f"{near} {unit}",
        f"{off} {unit}",
        f"{value * 10:.8g} {unit}",
        f"{value / 60:.8g} {unit}",
        f"{value:.6g}",
    ]
    return [*typed, f"{value:.6g} kg", f"{value * 2:.8g}/2 {unit}", *(wrong for wrong, _ in asked.solution.wrong)]


def test_a_page_answers_as_the_library_does_and_asks_nobody(browser, written):
    folder, units = written
    tab = browser.new_page(viewport={"width": 400, "height": 800})
    asked_for, faults = [], []
    tab.on("request", lambda request: asked_for.append(request.url))
    tab.on("console", lambda line: faults.append(line.text))
    tab.on("pageerror", lambda fault: faults.append(str(fault)))
    for page in chosen(NUMBERS):
        file = folder / copies.copy_name(page)
        tab.goto(file.as_uri())
        assert tab.evaluate("document.querySelector('details.rest').open") is False
        questions = [one for asked in _in_order(tab, page, units) for one in asked]
        states = set()
        for place, asked in enumerate(questions):
            for given in answers(asked):
                asked.misses = []
                asked.solved = asked.shown = False
                meant = asked.verdict(asked.options[given] if isinstance(asked, Pick) else given)
                said = tab.evaluate(SAID, [place, given])
                sign = {"right": "✔", "wrong": "✖", "unclear": "○", "blank": "○"}[meant.state]
                assert said.startswith(sign), (asked.prompt, given, said, meant)
                if meant.state != "unclear" or isinstance(asked, Order):
                    assert meant.text in said, (asked.prompt, given, said)
                states.add(meant.state)
        assert {"right", "wrong"} <= states and tab.evaluate("document.querySelector('details.rest').open") is True
        assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth"), "wider than a phone"
        wide = tab.evaluate("[...document.querySelectorAll('.wide > img.picture')].map(i => [i.clientWidth, i.parentElement.clientWidth])")
        assert wide and all(picture >= 500 > frame for picture, frame in wide), "a picture's letters are read by scrolling in its frame"
    assert all(url.startswith(("file:", "data:")) for url in asked_for) and faults == []
    tab.close()


def _in_order(tab, page, units):
    """The page's questions in the order in which they stand on it."""
    prompts = [" ".join(text.split()) for text in tab.evaluate("[...document.querySelectorAll('legend, .prompt')].map(e => e.textContent)")]
    every = [one for asked in page.asked("", units).values() for one in (asked.questions if isinstance(asked, Quiz) else [asked])]
    known = {" ".join(one.prompt.split()): one for one in every}
    assert sorted(prompts) == sorted(known) and any(isinstance(one, Question) for one in every)
    return [[known[prompt]] for prompt in prompts]


def test_a_checker_of_accessibility_finds_nothing(browser, written):
    """axe-core, an outside judge of WCAG 2.1; the page's own ban on scripts is lifted for it alone."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    folder, _units = written
    tab = browser.new_page(viewport={"width": 400, "height": 800}, bypass_csp=True)
    tab.goto((folder / "08-pump-choice.html").as_uri())
    tab.evaluate("document.querySelector('details.rest').open = true")
    found = axe.Axe().run(tab, options={"resultTypes": ["violations"]}).response["violations"]
    tab.close()
    assert not found, [(v["id"], v["nodes"][0]["html"][:120]) for v in found]

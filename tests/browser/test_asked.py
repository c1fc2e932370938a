"""Questions in a real JupyterLab: typed and checked from the keyboard, the results line follows."""

import pytest


@pytest.fixture(scope="module")
def page(lab, open_notebook, written_notebook):
    written_notebook(
        lab.root / "asked.ipynb",
        "from aquaplumb import quiz, u\n"
        "asked = quiz.Quiz('How much water', [\n"
        "    quiz.Question('A tank of {tank} is turned over once an hour. How much must the pump move?',\n"
        "                  lambda tank: tank / (1 * u.h), draw={'tank': ('600 L', '1400 L', '100 L')},\n"
        "                  hint='All of the tank, each hour.', why='It is the least that keeps the water mixed.'),\n"
        "    quiz.Pick('Which figure stands on the box of a pump?', ['its flow at no lift', 'its flow at your lift'],\n"
        "              'its flow at no lift'),\n"
        "    quiz.Order('Before you bury a pipe:', ['glue it', 'let it cure', 'test it under water', 'bury it'])])",
        "asked",
        "print(asked[1].reply())",
    )
    notebook = open_notebook("asked.ipynb", height=1200)
    notebook.run_all()
    notebook.page.wait_for_selector(".ap-quiz >> text=your name")
    yield notebook
    (lab.root / "my-name.txt").unlink(missing_ok=True)


def tank_said(page):
    """The litres in the first question, as this learner would type them."""
    return page.page.locator(".ap-quiz >> text=A tank of").inner_text().split("tank of ")[1].split(" L")[0].replace(",", "")


def test_blank_questions_are_quiet(page):
    assert page.errors() == []
    assert page.page.get_by_text("○ Not answered yet.").count() == 4  # three on the screen, one printed
    page.see("asked")


def test_the_next_question_waits_for_the_one_before(page):
    assert page.box("answer 1").is_visible() and not page.box("answer 3").is_visible()
    assert page.page.get_by_role("button", name="Question 2 of 3").is_visible()


def test_a_typed_answer_is_judged(page):
    page.type("your name", "Ada <b>")
    page.page.wait_for_selector(".ap-quiz >> text=Ada <b> · How much water · 0 of 3 right")
    page.type("answer 1", "9 frogs")
    page.page.wait_for_selector(".ap-quiz >> text=I do not know the unit 'frogs'")
    tank = tank_said(page)
    page.type("answer 1", f"{tank} L/min")
    page.page.wait_for_selector(".ap-quiz >> text=but not with the unit")


def test_leaving_a_box_does_not_check_it(page):
    """Judged by what comes after: the reply to the answer before still stands when the button is pressed."""
    page.box("answer 1").fill("8 frogs")
    page.box("your name").focus()
    page.page.wait_for_timeout(1500)
    assert "I do not know the unit 'frogs'" not in page.page.locator(".ap-quiz").inner_text()
    page.box("answer 1").press("Enter")  # nothing new in the box: what stands there is checked
    page.page.wait_for_selector(".ap-quiz >> text=I do not know the unit 'frogs'")


def test_a_name_is_kept_in_a_file_of_its_own(page, lab):
    page.page.wait_for_selector(".ap-quiz >> text=beside this page and nowhere else")
    assert (lab.root / "my-name.txt").read_text() == "Ada <b>\n"


def test_right_answers_count(page):
    tank = tank_said(page)
    page.type("answer 1", f"{tank} L/h")
    page.page.wait_for_selector(".ap-quiz >> text=It is the least that keeps the water mixed.")
    page.page.get_by_label("its flow at no lift").check()
    page.page.get_by_role("button", name="Check").nth(1).click()
    page.page.wait_for_selector(".ap-quiz >> text=2 of 3 right")
    page.box("answer 3").wait_for(state="visible")  # each comes once the one before is answered
    page.type("answer 3", "1 2 3 4")
    page.see("asked-answered")
    assert page.errors() == []

"""The answer key and the pages on paper: nothing left out, nothing given away, nothing fetched."""

import functools
import html
import re

import nbformat
import pytest

from aquaplumb import tables
from aquaplumb.build import load
from aquaplumb.figures.formula import formula
from aquaplumb.questions.quiz import Order, Pick, Quiz
from aquaplumb.teaching import copies as copying
from aquaplumb.teaching.copies import copies
from aquaplumb.teaching.key import key
from aquaplumb.teaching.pages import pages
from aquaplumb.units import DesignError

BOOKS = sorted(tables.folder("notebooks").glob("[0-9]*.ipynb"))
PAGES = pages()
NAMES = ["", "Ama K"]


def each(page, learner, units="metric"):
    """Every single question of a page."""
    for asked in page.asked(learner, units).values():
        yield from asked.questions if isinstance(asked, Quiz) else [asked]


def typed(question, answer):
    """What a learner would type who reads the key."""
    if isinstance(question, Order):
        return answer.split(":")[0]
    return answer.split(")")[0] if isinstance(question, Pick) else answer


def words(page):
    """All that a page says to a reader: without tags, and without the words of its pictures."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", re.sub(r"(?s)<style>.*?</style>", "", page))).split())


@pytest.fixture(scope="module", autouse=True)
def _each_picture_is_made_smaller_and_each_case_reviewed_once():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(copying, "_smaller", functools.cache(copying._smaller))
        patch.setitem(key.__globals__, "_case", functools.cache(key.__globals__["_case"]))
        yield


@pytest.fixture(scope="module")
def keys():
    return {(name, units): key(learner=name, units=units) for name, units in [("", "metric"), ("Ama K", "metric"), ("", "US")]}


@pytest.fixture(scope="module")
def printed():
    return copies()


# --- the key ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.number)
def test_a_page_asks_what_its_notebook_calls(page):
    book = nbformat.read(page.path, as_version=4)
    code = "\n".join(cell.source for cell in book.cells if cell.cell_type == "code")
    assert f"from aquaplumb.questions import {page.module} as questions" in code
    assert {name for name in re.findall(r"questions\.(\w+)\(", code) if name != "stronger"} == set(page.asked())
    if page.case:
        assert f'load("{page.case[0]}", units=build.units)' in code


@pytest.mark.parametrize(("name", "units"), [("", "metric"), ("Ama K", "metric"), ("", "US")])
def test_the_key_has_every_question_and_each_answer_is_taken(keys, name, units):
    made = keys[name, units]
    assert [page.number for page in made.pages] == [book.name[:2] for book in BOOKS]
    for page, found in zip(PAGES, made.pages, strict=True):
        for question, answered in zip(each(page, name, units), found.answers, strict=True):
            assert question.prompt == answered.prompt
            assert question.verdict(typed(question, answered.solution.answer)).state == "right", answered
            for wrong, reply in answered.solution.wrong:
                assert question.verdict(wrong).state == "wrong", (wrong, answered)
                assert reply
    for shown in (made.text(), words(made.html())):
        assert not re.search(r"\b(nan|inf|None)\b|[{}]", shown)
        assert all(" ".join(one.prompt.split()) in " ".join(shown.split()) for page in made.pages for one in page.answers)


def test_a_name_draws_the_numbers_that_the_learner_sees(keys):
    prompts = {
        name: [one.prompt for page in keys[name, "metric"].pages for one in page.answers if one.what.startswith("Check")] for name in NAMES
    }
    assert prompts[""] != prompts["Ama K"]
    for page, found in zip(PAGES, keys["Ama K", "metric"].pages):
        quiz = page.asked()["quiz"]
        quiz.learner = "Ama K"  # as the box above the questions does
        assert [question.prompt for question in quiz.questions] == [one.prompt for one in found.answers if one.what.startswith("Check")]
    assert "Ama K" in keys["Ama K", "metric"].head


def test_each_fault_names_its_case_and_what_the_review_finds(keys):
    with_case = [page for page in keys["", "metric"].pages if page.case]
    assert len(with_case) == len(PAGES) - 1  # page 13 compares two builds
    for page in with_case:
        assert re.fullmatch(r"case \d\d", page.case.name) and load(page.case.name).title == page.case.title
        assert page.case.findings and all(re.match("stop|fix", line) for line in page.case.findings)
    pump, same = (next(page for page in keys["", units].pages if page.number == "08").case for units in ("metric", "US"))
    assert "L/h" in pump.findings[0] and "gal/h" in same.findings[0] and "L/h" not in same.findings[0]


def test_the_key_as_a_page_asks_nothing_of_a_network_and_shows_a_name_as_text():
    page = key(["8"], learner="<b>Ama</b>").html()
    assert "http" not in page.replace("http-equiv", "") and "<b>Ama" not in page and "&lt;b&gt;Ama" in page
    assert "size: A4" in page and "size: letter" in key(["8"], units="us").html()


# --- on paper -----------------------------------------------------------------------------------------------


def test_every_page_has_its_copy(printed):
    assert list(printed) == [book.with_suffix(".html").name for book in BOOKS]


@pytest.mark.parametrize("book", BOOKS, ids=lambda book: book.name[:2])
def test_a_copy_holds_its_pictures_and_asks_nothing_of_a_network(printed, book):
    page = printed[book.with_suffix(".html").name]
    assert "http" not in page.replace("http-equiv", "")
    assert not re.search(r"<(script|link|iframe|form|input|button)\b", page)
    sources = re.findall(r"<img\b[^>]*?\bsrc=\"([^\"]{0,40})", page)
    assert sources and all(source.startswith("data:image/") for source in sources)
    assert page.count("<img") == len(re.findall(r"<img [^>]*alt=\"[^\"]{5,}\"", page)) == len(sources)
    notebook = nbformat.read(book, as_version=4)
    pictures = [out for cell in notebook.cells for out in cell.get("outputs", []) if "image/png" in out.get("data", {})]
    assert len(pictures) == page.count("data:image/png")
    formulas = sum(cell.source.count("$$") for cell in notebook.cells if cell.cell_type == "markdown") / 2
    assert page.count("data:image/svg+xml") == formulas and "$$" not in page and r"\frac" not in page
    for link in re.findall(r'href="([^"#]+)"', page):
        assert link in printed, "links lead from copy to copy"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.number)
def test_a_copy_has_every_question_with_room_to_write_and_no_answer(printed, page):
    copy = printed[page.path.with_suffix(".html").name]
    said, blocks = words(copy), re.findall(r'(?s)<div class="ask">(.*?)\n</div>\n', copy)
    asked = list(each(page, ""))
    assert len(blocks) == len(asked)
    for question, block in zip(asked, blocks, strict=True):
        assert words(block).startswith(" ".join(question.prompt.split())) and 'class="write"' in block
        if not isinstance(question, (Pick, Order)):
            assert question.solution.answer not in words(block).replace(question.prompt, "")
        else:
            listed = [re.sub(r"^(\w\)|\d\.) ", "", words(item)) for item in re.findall(r"<li>(.*?)</li>", block)]
            assert listed == [" ".join(option.split()) for option in question.options], "in the order in which the screen shows them"
        solution = question.solution
        for told in (solution.worked, solution.why, *(reply for _, reply in solution.wrong if not reply.startswith("“"))):
            assert not told or " ".join(told.split()) not in said
    assert "For my own system" in said and "I decide" in said and "Keep it" not in said  # no button can be pressed there
    assert said.index("turn to the next sheet") < said.index("The idea")


def test_a_learners_copy_has_the_learners_numbers():
    (page,) = copies(["8"], learner="Ama K").values()
    assert all(question.prompt in words(page) for question in each(PAGES[8], "Ama K")) and "For Ama K" in page


def test_a_copy_of_ones_own_build_has_its_numbers_and_units(printed):
    pytest.importorskip("nbclient")
    mine = load("courtyard").changed({("title",): "Søren's <yard>"})
    (page,) = copies(["8"], build=mine, units="US").values()
    said = words(page)
    assert "Søren's <yard>" in said and "<yard>" not in page
    assert "959 gal/h" not in words(printed["08-pump-choice.html"])
    assert re.search(r"riser brings [\d,]+ gal/h", said) and "size: letter" in page and "✖" not in said


def test_a_copy_opens_every_fold_a_styled_one_too():
    """Nobody can press a line on paper."""
    shown = copying._opened(
        '<details style="margin: 4px"><summary>a</summary>b</details><details><summary>c</summary>d</details><details open>e</details>'
    )
    assert shown.count("<details open") == 3 and shown.count("open") == 3 and 'style="margin: 4px"' in shown


def test_a_formula_that_cannot_be_set_is_said():
    drawn, width, height = formula(r"\text{speed} = \frac{\text{flow}}{\text{area}}")
    assert b"<svg" in drawn and width > height > 12
    assert formula("a") == formula("a")  # the same bytes each time
    with pytest.raises(DesignError, match="cannot be set"):
        formula(r"\nosuchword{")


# --- the commands -------------------------------------------------------------------------------------------


def test_the_commands_write_what_they_say_and_keep_what_somebody_wrote(tmp_path, here):
    told = here("key", "8", "--name", "Ama K", cwd=tmp_path)
    assert (told.returncode, told.stderr) == (0, "") and "about seven tenths" in told.stdout and "Ama K" in told.stdout
    assert here("key", "8", "-o", "key.html", cwd=tmp_path).returncode == 0
    assert here("paper", "8", "09", cwd=tmp_path).returncode == 0
    made = sorted(path.name for path in (tmp_path / "paper").iterdir())
    assert made == ["08-pump-choice.html", "09-levels-and-power-cuts.html"]
    assert here("paper", "8", cwd=tmp_path).returncode == 0  # what it wrote itself it may replace
    mine = tmp_path / "paper" / "08-pump-choice.html"
    mine.write_text("scribbled", encoding="utf-8")
    done = here("paper", "8", "9", cwd=tmp_path)
    assert done.returncode == 2 and "--force" in done.stderr and mine.read_text(encoding="utf-8") == "scribbled"
    assert here("paper", "8", "--force", cwd=tmp_path).returncode == 0 and "scribbled" not in mine.read_text(encoding="utf-8")


@pytest.mark.parametrize(("arguments", "says"), [
    (["key", "99"], "there is no page '99'"), (["key", "x" * 300], "there is no page"), (["key", "--units", "furlong"], "metric or US"),
    (["key", "-o", "key.txt"], "end it in .html"), (["key", "8", "-o", "."], "end it in .html"), (["paper", "14"], "from 00 to 13"),
    (["paper", "--units", "9**9"], "metric or US"), (["paper", "--build", "lost.toml"], "there is no file lost.toml"),
    (["paper", "8", "-o", "taken"], "is a file, not a folder"), (["key", "8", "-o", "taken/key.html"], "is a file, not a folder"),
])  # fmt: skip
def test_what_cannot_be_done_gets_one_sentence(tmp_path, here, arguments, says):
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    done = here(*arguments, cwd=tmp_path)
    assert done.returncode == 2 and says in done.stderr and len(done.stderr.strip().splitlines()) == 1 and len(done.stderr) < 300
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "mine" and "Traceback" not in done.stderr

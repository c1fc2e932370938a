"""Every notebook keeps to the house: run top to bottom, short, no code to be afraid of, and nothing unchecked by nbval."""

import importlib
import re
from pathlib import Path

import nbformat
import pytest

from aquaplumb import tables
from aquaplumb.build import cases as cases_module
from aquaplumb.build import demos, load
from aquaplumb.build.cases import cases
from aquaplumb.review import review
from aquaplumb.units import SYSTEMS, DesignError
from execute import metadata
from pages import one_sided

FOLDER = tables.folder("notebooks")
BOOKS = sorted(FOLDER.glob("*.ipynb"))


def code(book):
    return [cell for cell in book.cells if cell.cell_type == "code"]


def prose(book):
    return "\n".join(cell.source for cell in book.cells if cell.cell_type == "markdown")


@pytest.fixture(params=BOOKS, ids=[path.stem for path in BOOKS])
def book(request):
    return nbformat.read(request.param, as_version=4)


def test_there_are_notebooks():
    assert BOOKS


def test_it_was_run_from_top_to_bottom(book):
    cells = code(book)
    assert [cell.execution_count for cell in cells] == list(range(1, len(cells) + 1))
    assert not any(output.output_type == "error" for cell in cells for output in cell.outputs)
    assert not any(getattr(output, "name", "") == "stderr" for cell in cells for output in cell.outputs)


def test_nbval_has_something_to_compare(book):
    """Without outputs, strict nbval silently checks nothing."""
    assert sum(bool(cell.outputs) for cell in code(book)) >= len(code(book)) // 2
    loose = [cell for cell in code(book) if any(tag.startswith(("nbval-ignore", "nbval-skip")) for tag in cell.metadata.get("tags", []))]
    assert not loose


def test_it_carries_no_widget_state_and_no_machine(book):
    assert "widgets" not in book.metadata
    text = nbformat.writes(book)
    assert "vnd.jupyter.widget-view" not in text
    assert not re.search(r"/(home|root|Users|tmp)/", text)


def test_its_cells_are_locked_and_its_code_is_folded(book):
    """A key typed on a focused slider would else cut the panel's cell (x) or turn it to text (m)."""
    assert [dict(cell.metadata) for cell in book.cells] == [metadata(cell) for cell in book.cells]
    assert all(cell.metadata["editable"] is cell.metadata["deletable"] is False for cell in book.cells)
    assert all(cell.metadata["jupyter"]["source_hidden"] for cell in code(book))


def test_one_gate_holds_back_what_answers_it(book):
    """The guess is asked once, before any picture or panel."""
    sources = [cell.source for cell in code(book)]
    [gate] = [place for place, source in enumerate(sources) if "questions.guess(" in source]
    shows = [place for place, source in enumerate(sources) if re.search(r"\b(picture|panel)\(", source)]
    assert gate < min(shows)


def test_it_is_short_and_simple(book):
    assert len(book.cells) <= 25
    words = len(re.findall(r"[A-Za-z]{2,}", prose(book).partition("## All pages")[0]))  # notebook 00 ends with its links to the others
    most = 700 if "sight(build)" in "".join(cell.source for cell in code(book)) else 900  # a page made as DEVELOPERS.md says
    assert words <= most, f"{words} words"
    for cell in code(book):
        lines = cell.source.splitlines()
        assert len(lines) <= 10
        assert not any(re.match(r"\s*(def|class|for|while|import os|!|%)", line) for line in lines)


def test_a_per_cent_is_written_one_way(book):
    """ "70%" stood beside "15 %"."""
    outputs = [output for cell in code(book) for output in cell.outputs]
    said = [output.get("text", "") + output.get("data", {}).get("text/plain", "") for output in outputs]
    assert not [found for text in said for found in re.findall(r".{20}\d%", text)]


@pytest.mark.parametrize("units", SYSTEMS)
def test_no_line_of_it_measures_in_the_other_units_alone(book, units):
    """A page is one text for all: what it measures, it measures in both systems."""
    assert not one_sided(prose(book), units)


def test_it_keeps_the_order_of_its_parts(book):
    text = prose(book)
    parts = ["You decide", "Time:", "You need:", "After this page you can", "Guess first", "by hand", "What if?", "What you should have seen",
             "Against print", "Check yourself", "What goes wrong", "Caution", "Keep it", "Three things to remember", "A limit of this model", "Next:"]  # fmt: skip
    if "sight(build)" in "".join(cell.source for cell in code(book)):  # the guess answered first; tries and what they show are the panel's
        parts.remove("What you should have seen")
        assert "What to see" not in text
    places = [text.find(part) for part in parts]
    assert -1 not in places, [part for part, place in zip(parts, places) if place < 0]
    assert places == sorted(places)


def test_pictures_have_words(book):
    for cell in code(book):
        for output in cell.outputs:
            if "image/png" in output.get("data", {}):
                assert len(output.data["text/plain"]) > 60
                assert output.metadata["image/png"]["alt"]


def test_links_lead_somewhere(book):
    for target in re.findall(r"\]\(([^)]+)\)", prose(book)):
        if not target.startswith("http"):
            assert (FOLDER / target.split("#")[0]).exists(), target


@pytest.mark.parametrize(("page", "after"), list(zip(BOOKS, [*BOOKS[1:], None])), ids=[path.stem for path in BOOKS])
def test_next_leads_to_the_next_page(page, after):
    """The last one ends the walk: it leads back into it, not on."""
    told = prose(nbformat.read(page, as_version=4)).split("**Next:**")[-1]
    targets = re.findall(r"\]\(([^)#]+)", told)
    if after:
        assert targets[0] == after.name
    else:
        assert set(targets) <= {path.name for path in BOOKS}


def test_links_in_the_readmes_lead_somewhere():
    root = Path(__file__).resolve().parents[1]
    for page in (root / "README.md", root / "DEVELOPERS.md", FOLDER / "README.md", *(root / "data").rglob("README.md")):
        for target in re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8")):
            if not target.startswith("http"):
                assert (page.parent / target).exists(), f"{page.name}: {target}"


@pytest.mark.parametrize("page", ["README.md", "notebooks/README.md"])
def test_the_tables_name_each_page_and_its_minutes(page):
    text = (Path(__file__).resolve().parents[1] / page).read_text(encoding="utf-8")
    for path in BOOKS:
        first = nbformat.read(path, as_version=4).cells[0].source
        title, minutes = first.splitlines()[0].removeprefix("# ")[3:], re.search(r"Time:\*\* (\d+)", first)[1]
        [row] = [line for line in text.splitlines() if path.name in line and line.startswith("|")]
        assert f"[{title}]" in row
        assert row.endswith(f"| {minutes} |")


# --- no page gives its answer away ------------------------------------------------------------------

FAULT = "questions.fault("
PLAIN = set(
    re.findall(
        "[a-z]+",
        "a an and are as at be by for from in into is it its no not of on or out so than that the there they this to too what with",
    )
)


def questions_of(book):
    [name] = {name for cell in code(book) for name in re.findall(r"aquaplumb\.questions import (\w+) as questions", cell.source)}
    return importlib.import_module(f"aquaplumb.questions.{name}")


def above_the_fault(book):
    """What a learner reads in "What is wrong here?" down to its question: heading, words, code and what that prints."""
    cells = book.cells
    last = next(place for place, cell in enumerate(cells) if FAULT in cell.source)
    first = max(place for place, cell in enumerate(cells[:last]) if "## What is wrong here?" in cell.source)
    told = [
        cell.source.partition("## What is wrong here?")[2] if place == first else cell.source
        for place, cell in enumerate(cells)
        if first <= place <= last
    ]
    for cell in cells[first : last + 1]:
        for output in cell.get("outputs", []):
            told += [output.get("text", ""), output.get("data", {}).get("text/plain", ""), str(output.get("metadata", ""))]
    options = questions_of(book).fault().options
    text = "\n".join(told).lower()
    for option in options:
        text = text.replace(option.lower(), "")
    return text


@pytest.mark.sweep(5)
def test_pages_call_builds_with_a_mistake_by_number_only(book):
    questions, seen = questions_of(book), "\n".join(cell.source for cell in code(book))
    assert not [name for name in demos(faulty=True) if name in nbformat.writes(book)]
    assert "FAULTY" not in seen and "EXERCISE" not in seen
    called = re.findall(r'load\("(case \d\d)", units=build.units\)', seen)
    assert [cases()[name] for name in called] == ([questions.FAULTY] if hasattr(questions, "FAULTY") else [])


def test_nothing_above_a_fault_says_it(book):
    """Of the words of the fault (its file's name and the right answer, without the names of things) most stand nowhere above it."""
    questions, told = questions_of(book), above_the_fault(book)
    fault, named = questions.fault(), getattr(questions, "FAULTY", "")
    assert fault.prompt.lower() in told, "the question is among what is read"
    assert fault.answer.lower() not in told
    build = load(named) if named else questions.stronger()
    things = " ".join([*build.vessels, *build.lines, *(p.si.name for line in build.pumped.values() for p in line.si.pipe)])
    words = set(re.findall(r"[a-z]{3,}", f"{named} {fault.answer} {build.name}".lower())) - PLAIN - set(re.findall(r"[a-z]+", things))
    said = words & set(re.findall(r"[a-z]+", told))
    assert len(words) >= 2 and len(said) <= 2 * len(words) / 3, f"{said} of {words}"
    found = [f for f in review(build).findings if f.severity in ("stop", "fix")]
    assert found and not [f.name for f in found if f.name in told or f.sentence.lower() in told]


def test_a_right_answer_does_not_stand_out(book):
    """Among the choices of each guess and fault the right one is not the only one with a reason or a picture in it."""
    for question in picks(book):
        wordy = [
            option for option in question.options if len(option) > 1.6 * sorted(map(len, question.options))[len(question.options) // 2]
        ]
        assert wordy != [question.answer], question.answer


def picks(book):
    questions = questions_of(book)
    return [getattr(questions, name)() for name in dir(questions) if name == "fault" or name == "guess" or name.endswith("_guess")]


def test_no_guess_is_answered_above_it(book):
    """The right choice of a guess stands nowhere in what is read before it, its own list of choices aside."""
    questions = questions_of(book)
    for name in (name for name in dir(questions) if name == "guess" or name.endswith("_guess")):
        place = next(place for place, cell in enumerate(book.cells) if f"questions.{name}(" in cell.source)
        told = "\n".join(cell.source + "".join(str(o.get("text", "")) for o in cell.get("outputs", [])) for cell in book.cells[:place])
        answer = getattr(questions, name)().answer
        assert answer.lower() not in told.lower()
        for number in re.findall(r"\d[\d,.]*", answer):
            assert number not in re.findall(
                r"\d[\d,.]*\d|\d", "\n".join(str(o.get("text", "")) for o in book.cells[place].get("outputs", []))
            )


def test_a_panel_beside_a_guess_does_not_start_on_its_answer(book):
    """A number in the answer, such as "about 1,200 W", is no value at which a slider or a finding of that cell stands."""
    questions = questions_of(book)
    for cell in code(book):
        for name in re.findall(r"questions\.(\w*guess)\(", cell.source):
            guess = getattr(questions, name)()
            shown = "\n".join(output.get("data", {}).get("text/plain", "") for output in cell.outputs)
            starts = "\n".join(part for part in shown.split("What if? ")[1:])
            for number, unit in re.findall(r"(\d[\d,.]*) ([A-Za-z%°]+)", guess.answer):
                assert f"{number} {unit}" not in starts, f"{name}: {number} {unit}"


def test_cases_are_one_build_each(tmp_path, monkeypatch):
    assert sorted(cases().values()) == demos(faulty=True)
    assert list(cases()) == [f"case {place:02d}" for place in range(1, len(cases()) + 1)]
    assert list(cases().values()) != sorted(cases().values())
    assert load("case 8").text == load("Case 08").text == load(cases()["case 08"]).text
    with pytest.raises(DesignError, match="there is no case 99; there are case 01 to"):
        load("case 99")
    (tmp_path / "builds").mkdir()
    monkeypatch.setattr(tables, "folder", lambda name: tmp_path)
    for rows in ("case 01,flat-drain\ncase 01,one-way-out", "case 01,flat-drain\ncase 02,flat-drain"):
        path = tmp_path / "builds" / "cases.csv"
        path.write_text(f"name,build\n{rows}\n")
        cases_module._read.cache_clear()
        with pytest.raises(DesignError, match="stands there twice"):
            cases()
    cases_module._read.cache_clear()


# --- one number, one meaning ------------------------------------------------------------------------

# What is printed of the demo -> the number of its review: wherever a page says it, it says the same.
SAYS = {
    r"\briser brings ([\d,.]+ L/h)": "line riser.flow",
    r"\bpump settles at ([\d,.]+ L/h)": "line riser.flow",
    r"\bThe pump brings ([\d,.]+ L/h)": "line riser.flow",
    r"\bOn mains, demo mains 120 W submersible brings ([\d,.]+ L/h)": "line riser.flow",
    r"\bmeet at ([\d,.]+ L/h)": "line riser.flow",
    r"\bmeet at [\d,.]+ L/h and ([\d.]+ m)\b": "line riser.head",
    r"\bsettles at [\d,.]+ L/h and ([\d.]+ m)\b": "line riser.head",
    r"\bhead of ([\d.]+ m) at the pump": "line riser.head",
    r"\bgets? ([\d,.]+ L/h) for the tank": "line riser › to the tank.flow",
    r"\bto the tank, 32 mm: ([\d,.]+ L/h)": "line riser › to the tank.flow",
    r"\bto fish tank 32 mm PN16, ([\d,.]+ L/h)": "line riser › to the tank.flow",
    r"\bThrough the fish tank come ([\d,.]+ L/h)": "line riser › to the tank.flow",
    r"\bto bed 1(?:, 25 mm:| 25 mm PN16,) ([\d,.]+ L/h)": "line riser › to bed 1.flow",
    r"\b([\d,.]+ L/h) comes in": "line riser › to bed 1.flow",
    r"\b([\d,.]+ L) in the fish tank": "fish.tank volume",
    r"\b([\d,.]+ kg) of fish,": "fish.biomass",
    r"\b([\d,.]+ g/d) of feed": "fish.feed",
    r"\bwhich costs ([\d.]+) a year": "line riser.cost",
    r"\bIt draws ([\d.]+ W), which": "line riser.power",
}


def test_what_a_page_prints_twice_it_prints_alike(book):
    """Each figure of the demo that a page prints outside its own panel of another build, by what it is of, against the review."""
    seen = review("courtyard")
    known = {name: result.shown("metric") for name, result in seen.results.items()}
    cells = [
        cell
        for cell in code(book)
        if not re.search(r"start\.panel|questions\.|season\.|load\(|comparison|how_sure|lines\.Line|own_log\.", cell.source)
    ]
    told = [[str(output.get("text", "") or output.get("data", {}).get("text/plain", "")) for output in cell.outputs] for cell in cells]
    text = "\n".join(re.sub(r"(?s)^The case that you guessed about:.*?(?=And yours\?)", "", "\n".join(outputs)) for outputs in told)
    found = 0
    for pattern, name in SAYS.items():
        for said in re.findall(pattern, text):
            found += 1
            assert said == known[name], f"{pattern} is {said}; the review says {known[name]} ({name})"
    if "this page makes the file" in text:
        return  # 00, where nobody has a build yet
    assert found >= 4, "each later page begins with the flow, the tank, the fish and the feed of its build"

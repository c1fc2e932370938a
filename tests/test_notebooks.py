"""Every notebook keeps to the house: run top to bottom, short, no code to be afraid of, and nothing unchecked by nbval."""

import re
from pathlib import Path

import nbformat
import pytest

from aquaplumb import tables

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


def test_it_is_short_and_simple(book):
    assert len(book.cells) <= 25
    words = len(re.findall(r"[A-Za-z]{2,}", prose(book).partition("## Glossary")[0]))  # notebook 00 ends with it
    assert words <= 900, f"{words} words"
    for cell in code(book):
        lines = cell.source.splitlines()
        assert len(lines) <= 10
        assert not any(re.match(r"\s*(def|class|for|while|import os|!|%)", line) for line in lines)


def test_it_keeps_the_order_of_its_parts(book):
    text = prose(book)
    parts = ["You decide", "Time:", "You need:", "After this page you can", "Guess first", "by hand", "What if?", "What you should have seen",
             "Against print", "Check yourself", "What goes wrong", "Caution", "Keep it", "Three things to remember", "A limit of this model", "Next:"]  # fmt: skip
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


@pytest.mark.parametrize(("page", "after"), zip(BOOKS, [*BOOKS[1:], None]), ids=[path.stem for path in BOOKS])
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

"""The build sheet in a real browser: it opens without a network, is sound for who cannot see it, and prints on A4 and letter."""

import dataclasses
import re

import pytest

from aquaplumb.build import load
from aquaplumb.workshop.sheet import pdf, sheet, web_page
from aquaplumb.workshop.sheet.records import SheetDrawing

pdfium = pytest.importorskip("pypdfium2")
POINTS = {"A4": (595, 842), "letter": (612, 792)}  # ISO 216, ANSI/ASME Y14.1: 210 × 297 mm, 8.5 × 11 in
DEMOS = {"courtyard": "A4", "greenhouse": "letter"}


def read(document: bytes) -> list:
    """The pages of a PDF."""
    return list(pdfium.PdfDocument(document))


def words(page) -> str:
    """All text on a page of a PDF."""
    return page.get_textpage().get_text_range()


@pytest.fixture(scope="module")
def made():
    return {name: sheet(load(name), designs=60) for name in DEMOS}


@pytest.fixture(scope="module")
def printed(browser, made):
    """``printed(name, paper)``: the bytes of a PDF, printed once."""
    kept = {}

    def of(name, paper):
        if (name, paper) not in kept:
            kept[name, paper] = pdf.pdf(made[name], paper=paper)
        return kept[name, paper]

    return of


@pytest.fixture(scope="module", params=DEMOS)
def page(request, browser, made, tmp_path_factory):
    """A sheet's page, opened from a file once, with what it asked for and what it said."""
    file = tmp_path_factory.mktemp("sheet") / "sheet.html"
    file.write_text(web_page.html(made[request.param]), encoding="utf-8")
    tab = browser.new_page(viewport={"width": 1100, "height": 900})
    tab.asked, tab.said, tab.sheet, tab.name = [], [], made[request.param], request.param
    tab.on("request", lambda asked: tab.asked.append(asked.url))
    tab.on("console", lambda line: tab.said.append(line.text))
    tab.goto(file.as_uri())
    yield tab
    tab.close()


@pytest.mark.sweep(1)
def test_it_opens_without_asking_for_anything(page):
    assert page.asked == [page.url] and page.said == []
    assert page.title().startswith(page.sheet.title)
    assert page.locator("h2").count() == len(page.sheet.chapters)


@pytest.mark.sweep(1)
def test_a_checker_of_accessibility_finds_nothing(page):
    """axe-core, an outside judge of WCAG 2.1; the page's own ban on scripts is lifted for it alone."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    text = page.content().replace("default-src 'none'; ", "")
    tab = page.context.browser.new_page(viewport=page.viewport_size)
    tab.set_content(text)
    found = axe.Axe().run(tab, options={"resultTypes": ["violations"]}).response["violations"]
    tab.close()
    assert not found, [(v["id"], v["nodes"][0]["html"][:120]) for v in found]


def test_the_skip_link_is_the_first_stop_and_is_seen(page):
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    assert page.evaluate("document.activeElement.getBoundingClientRect().left") >= 0


@pytest.mark.parametrize("width", [720, 740, 1100], ids=["A4 less its margins", "letter less its margins", "a screen"])
def test_no_table_and_no_drawing_is_wider_than_the_paper(page, width):
    """186 mm of A4 and 192 mm of letter are 703 and 725 CSS pixels (96 an inch); the rest is the body's own edge."""
    page.emulate_media(media="print" if width < 1000 else "screen")
    page.set_viewport_size({"width": width, "height": 1000})
    wide = page.evaluate(
        "w => [...document.querySelectorAll('table, svg, p, li, td, th')].filter(e => e.getBoundingClientRect().right > w + 1 || e.scrollWidth > e.clientWidth + 2 && e.tagName != 'svg' && getComputedStyle(e).display != 'inline').map(e => e.outerHTML.slice(0, 80))",
        width,
    )
    assert wide == []


@pytest.mark.sweep(2)
@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("name", DEMOS)
def test_it_prints_whole_on_paper(printed, made, name, paper):
    pages = read(printed(name, paper))
    sizes = [sorted(page.get_size()) for page in pages]
    assert all(size == pytest.approx(POINTS[paper], abs=1.5) for size in sizes)
    texts = [re.sub(r"\s+", " ", words(page)) for page in pages]
    assert 10 <= len(texts) <= 20, "a sheet, not a book"
    assert "What kills fish here first" in texts[0] and "2. Decisions" not in texts[0], "page one is for the wall alone"
    assert "2. Decisions and open findings" in texts[1] and "What is decided" in texts[1]
    for number, text in enumerate(texts, start=1):
        assert f"{number} of {len(texts)}" in text
    things = {place: sum(1 for _ in page.get_objects()) for place, page in enumerate(pages)}  # lines, areas and words
    wide = [things[place] for place, page in enumerate(pages) if page.get_width() > page.get_height()]
    assert min(things.values()) > 100, "no page is all but empty"
    assert min(wide) > 500, "a wide page has its drawing (words in it are outlines)"
    drawings = [b for chapter in made[name].chapters if chapter.key != "wall" for b in chapter.blocks if isinstance(b, SheetDrawing)]
    assert 2 <= len(wide) <= len(drawings), "drawings but the wall's lie on wide pages, and nothing else does; two small ones may share"
    whole = " ".join(texts)
    for chapter in made[name].chapters:
        assert chapter.title in whole or chapter.key == "wall"  # the page for the wall has the sheet's own title alone
    assert "Numbers, formulas, sources" not in whole, "printed on demand"
    for branch in (row[1] for row in made[name].grid("bucket").rows):
        assert branch in whole
    parts = [text for text in texts if "why, and where" in text]
    assert len(parts) >= 2, "the head of a long table is on each of its pages"


def test_every_number_is_printed_on_demand(browser, made):
    last = dataclasses.replace(made["courtyard"], whole=True, chapters=made["courtyard"].chapters[-1:])
    whole = re.sub(r"\s", "", "".join(map(words, read(pdf.pdf(last)))))
    plain = [re.sub(r"\s", "", row[1]) for row in last.grid("sources").rows if row[1].isascii()]
    assert len(plain) > 100 and [label for label in plain if label not in whole] == []


def test_the_same_sheet_gives_the_same_pdf_and_us_units_give_letter_paper(browser, made):
    wall = dataclasses.replace(made["greenhouse"], chapters=made["greenhouse"].chapters[:1])
    document = pdf.pdf(wall)
    assert sorted(read(document)[0].get_size()) == pytest.approx(POINTS["letter"], abs=1.5)
    assert pdf.pdf(wall) == document

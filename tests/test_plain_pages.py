"""The walk to read without a kernel: every page is there, small, whole in one file, and gives no answer away at a glance."""

import base64
import html
import json
import re

import pytest

from aquaplumb.build import load
from aquaplumb.questions.quiz import Question, Quiz
from aquaplumb.teaching import copies
from aquaplumb.teaching.key import key
from aquaplumb.teaching.pages import pages
from aquaplumb.teaching.plain import Walk
from aquaplumb.teaching.sealed import _stream, _told, script, sealed
from pages import panel_of

PAGES = pages()
LARGEST = 500_000  # bytes of a page: what the issue allows
WORKED = {"pump", "pipe_size"}  # the others' tries are worked in test_tries.py's way below, and are left out here for time


@pytest.fixture(scope="module")
def walk():
    """All pages as they are stored, with the tries of a few."""
    patch, real = pytest.MonkeyPatch(), copies.worked_tries
    patch.setattr(copies, "worked_tries", lambda name, build: real(name, build) if name in WORKED else [("Do this.", "See that.")])
    yield Walk()
    patch.undo()


@pytest.fixture(scope="module")
def files(walk):
    return walk.files()


def questions(page, units="metric"):
    for asked in page.asked("", units).values():
        yield from asked.questions if isinstance(asked, Quiz) else [asked]


def test_every_page_is_written_small_and_whole(files):
    assert list(files) == ["index.html", *(copies.copy_name(page) for page in PAGES)]
    for name, text in files.items():
        assert len(text.encode()) < LARGEST, name
        assert not re.search(r"(?:src|href|action)\s*=\s*[\"']?\s*(?:https?:|//)", text), name
        assert all(source.startswith("data:image/") for source in re.findall(r'<img\b[^>]*?\bsrc="([^"]{0,40})', text))
        assert text.count("<img") == len(re.findall(r'<img [^>]*alt="[^"]{5,}"', text))
        assert not re.search(r"<(link|iframe)\b|\$\$|Run this cell|Start again|in the box brings|first Keep", text), name
        assert text.count("<details") == text.count("</details>")


def test_links_lead_from_file_to_file(files):
    for name, text in files.items():
        links = {html.unescape(link).split("#")[0] for link in re.findall(r'href="([^"]+)"', text)}
        assert links and links <= set(files), (name, links - set(files))
    assert all(f'href="{copies.copy_name(page)}"' in files["index.html"] for page in PAGES)


def test_no_answer_can_be_read_in_the_source(files):
    for page in PAGES:
        text = files[copies.copy_name(page)]
        forms = re.findall(r'(?s)<form class="ask".*?</form>', text)
        asked = list(questions(page))
        assert len(forms) == len(asked)
        for one in asked:
            told = [one.solution.worked, one.solution.why, *(reply for _, reply in one.solution.wrong if not reply.startswith("“"))]
            assert not [words for words in told if words and words in html.unescape(text)]
            (form,) = [said for form in forms if one.prompt in (said := html.unescape(re.sub(r"<[^>]+>", " ", form)))]
            if isinstance(one, Question):
                assert one.solution.answer not in form.replace(one.prompt, "")
        assert text.index('<details class="rest">') < text.index("The idea")
        assert text.index('<form class="ask"') < text.index('<details class="rest">')


def test_what_is_sealed_is_what_the_script_needs():
    for page in PAGES:
        for place, asked in enumerate(questions(page)):
            sign = f"{page.number}-{place}"
            plain = bytes(one ^ other for one, other in zip(base64.b64decode(sealed(asked, sign)), _stream(sign)))
            assert json.loads(plain) == json.loads(json.dumps(_told(asked)))
    assert '"gal"' in script() and "0.003785" in script()  # m³: the US gallon of 231 cubic inches, NIST Handbook 44, appendix C


@pytest.mark.sweep(1)
@pytest.mark.parametrize("name", ["pump", "drain_siphon", "beds_media", "start"])
@pytest.mark.usefixtures("strict")
def test_a_worked_try_is_what_the_sliders_would_say(name):
    worked = panel_of(name, "courtyard").worked()
    panel = panel_of(name, "courtyard")
    start = panel.values
    assert [ask for ask, _ in worked] == panel.tries.asks() and len(worked) > 2
    for place, one in enumerate(panel.tries.tries):
        printed = panel.tries.printed(one)
        to = panel.tries.reached(one)
        panel.set(**{key: value if isinstance(value, bool) or str(printed[key]) in getattr(panel.control(key), "options", ()) else panel.control(key).spec.kind.quantity(to[key]) for key, value in one.to.items()})  # fmt: skip
        assert panel.tries.said()[place] == worked[place][1]
        panel.set(**start)
    assert panel.values == start


def test_tries_stand_worked_on_the_page(files):
    text = files["08-pump-choice.html"]
    for ask, seen in copies.worked_tries("pump", load("courtyard")):
        assert str(ask) in text and str(seen) in text
    assert "Try, one at a time" not in text


def test_the_whole_walk_is_one_page_for_paper(walk, monkeypatch):
    monkeypatch.setattr("aquaplumb.teaching.plain.key", lambda units: key(["8"], units=units))  # all of them stand in test_teaching.py
    text = walk.on_paper("letter")
    assert "size: letter" in text and "<script" not in text and "https:" not in text
    marks = set(re.findall(r'\bid="([^"]+)"', text))
    links = re.findall(r'href="([^"]+)"', text)
    assert len(links) > 2 * len(PAGES) and all(link.startswith("#") and link[1:] in marks for link in links)
    assert text.index('id="page-13"') < text.index('id="answers"') < text.index("about seven tenths</p>")


@pytest.mark.parametrize(("arguments", "says"), [
    (["taken"], "is a file, not a folder"), (["--units", "9**9"], "metric or US"), (["--build", "lost.toml"], "there is no file lost.toml"),
    (["mine"], "--force"),
])  # fmt: skip
def test_what_cannot_be_done_gets_one_sentence_before_the_work(tmp_path, here, arguments, says):
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "index.html").write_text("mine", encoding="utf-8")
    done = here("pages", *arguments, cwd=tmp_path)
    assert done.returncode == 2 and says in done.stderr and len(done.stderr.strip().splitlines()) == 1
    assert (tmp_path / "mine" / "index.html").read_text(encoding="utf-8") == "mine"

"""What a page shows of findings: its own, what says stop, what its panel has just brought about; the rest it counts."""

import itertools
import re

import pytest

from aquaplumb.build import demos, load
from aquaplumb.review import review
from aquaplumb.review.findings.base import Finding
from aquaplumb.whatif import WALK, beds_media, found
from pages import panel_of

NAMES = itertools.count()


def finding(severity, page, cure="Do this.", where="riser"):
    name = f"fault {next(NAMES)}"
    return Finding(name=name, severity=severity, where=where, sentence=f"{name} is there.", cure=cure, notebook=page)


def test_its_own_first_and_the_rest_counted():
    own, later, earlier = finding("fix", "05"), finding("fix", "10"), finding("note", "01")
    told = found.on_page([earlier, later, own], "05")
    assert told[0] == ("fix", f"{own.sentence} Do this.")
    assert told[1:] == [("note", "And 1 more for later pages and 1 more for earlier pages. To fix: page 10.")]
    assert found.on_page([own], "05") == told[:1] and found.on_page([], "05") == []


def test_a_panel_does_not_count_what_it_does_not_look_at():
    """It leaves out what takes hours of run: its count was another than that of the page's first line."""

    seen = [finding("fix", "05"), finding("fix", "10"), finding("note", "01")]
    assert found.on_page(seen, "05", counted=False)[1:] == [("note", "And more for other pages. To fix: page 10.")]
    assert found.on_page(seen, "06", counted=False) == [("note", "Nothing for this page; some for other pages. To fix: pages 05, 10.")]


def test_a_page_does_not_send_to_itself():
    one = Finding(name="n", severity="fix", where="", sentence="It rises (notebook 12 shows how far).", cure="Wait.", notebook="12")
    assert found.told(one, "12") == "It rises (this page shows how far). Wait."
    assert found.told(one, "00") == "It rises (page 12 shows how far). Wait."
    other = Finding(name="n", severity="note", where="", sentence="It is May.", cure="page 01 shows the other months.", notebook="01")
    assert found.told(other, "01") == "It is May. this page shows the other months."
    assert found.told(other, "13") == "It is May. page 01 shows the other months."


def test_what_says_stop_is_told_on_every_page():
    stop, own = finding("stop", "09"), finding("note", "05")
    assert [text for _, text in found.on_page([own, stop], "05")] == [f"{stop.sentence} Do this.", f"{own.sentence} Do this."]


def test_what_the_panel_has_brought_about_is_told():
    old, new = finding("fix", "06"), finding("fix", "06")
    told = found.on_page([old, new], "08", known={(old.name, old.where)})
    assert told == [("fix", f"{new.sentence} Do this."), ("note", "And 1 more for earlier pages. To fix: page 06.")]


@pytest.mark.parametrize("count", [1, 3, 7])
def test_none_is_lost(count):
    every = [finding(severity, page) for severity in found.SIGNS for page in ("04", "05", "06") for _ in range(count)]
    told = found.on_page(every, "05")
    more = sum(int(number) for number in re.findall(r"(\d+) more", told[-1][1]))
    assert len(told) - 1 + more == len(every) and len(told) == 5


@pytest.mark.parametrize(
    ("cure", "here", "elsewhere"),
    [
        ("Use a bore of 40 mm.", "Use a bore of 40 mm.", "Use a bore of 40 mm."),
        ("Write a section [air] with pump and stones.", "The controls of this page set it.", "Page 10 sets it."),
        ("Use 63 mm, or give it an open top (vented = true).", "Use 63 mm, or give it an open top.", "Use 63 mm, or give it an open top."),
        ("Keep an alarm, and write it as response_time in [air].", "Keep an alarm.", "Keep an alarm."),
        ("Set ammonia_limit to 0.5 mg/L or less.", "Set ammonia limit to 0.5 mg/L or less.", "Set ammonia limit to 0.5 mg/L or less."),
        ("Hang it higher. Write depth = 1 m.", "Hang it higher. The controls of this page set it.", "Hang it higher. Page 10 sets it."),
    ],
)
def test_a_cure_is_told_in_the_page_s_words(cure, here, elsewhere):
    one = finding("stop", "10", cure)
    assert found.told(one, "10") == f"{one.sentence} {here}" and found.told(one, "08") == f"{one.sentence} {elsewhere}"


@pytest.mark.sweep(5)
@pytest.mark.parametrize("name", WALK)
def test_no_panel_sends_its_reader_into_the_file(name):
    """On a faulty build as well: neither a section in brackets nor a key of the file in what a panel shows."""
    for build in ("courtyard", "riser-too-thin"):
        panel = panel_of(name, build)
        for _, text in panel.found:
            assert not re.search(r"\[[a-z]|\b[a-z]+_[a-z]+\b", text), text


@pytest.mark.sweep(3)
@pytest.mark.parametrize("demo", demos())
def test_page_00_shows_as_many_as_it_counts(demo):
    panel = panel_of("start", demo)
    seen = review(panel.record.si.build)
    shown = [text for _, text in panel.found if not text.startswith(("And ", "Nothing for"))]
    more = sum(
        int(number)
        for _, text in panel.found
        if text.startswith(("And ", "Nothing for"))
        for number in re.findall(r"(\d+) (?:more|for|of)\b", text)
    )
    assert len(shown) + more == len(seen.findings) and seen.verdict in panel.said


def test_more_is_said_of_nothing_only_where_something_stands():
    later = [finding("note", "01"), finding("note", "02")]
    assert found.on_page(later, "00") == [("note", "Nothing for this page; 2 for later pages.")]


def test_a_stop_of_another_page_is_told_where_it_is_brought_about():
    panel = panel_of("pump", "courtyard")
    before = [text for _, text in panel.found]
    panel.set(pump="demo mains 280 W external")
    new = [f for f in panel.record.si.findings if f.notebook != "08" and f.severity in ("stop", "fix")]
    assert new and not [f for f in new if f.sentence in " ".join(before)]
    assert any(f.sentence in text for f in new for _, text in panel.found)
    assert load("courtyard").title


def test_a_page_is_called_a_page():
    build = load("courtyard")
    told = [found.told(one, "05") for one in review(build.changed({("site", "floor_rating"): None})).findings]
    assert told and not re.search(r"\bnotebook \d", " ".join(told))
    assert found.told(finding("fix", "07", "Set it as notebook 07 shows."), "05").endswith("Set it as page 07 shows.")


@pytest.mark.parametrize("system, rating", [("metric", "3 kN/m2"), ("US", "60 psf")])
def test_what_a_page_says_that_it_sets_it_has_a_control_for(tmp_path, system, rating):
    """What the floor carries was a line of the file to fill in; page 02 sets it now, and takes it out where it is not known."""
    path = tmp_path / "mine.toml"
    path.write_text(load("courtyard", units=system).changed({("site", "floor_rating"): None}).text, encoding="utf-8")
    mine = load(path)
    bare = review(mine).finding("load over floor rating")
    assert "The controls of this page set it." in found.told(bare, "02") and "Page 02 sets it." in found.told(bare, "10")
    panel = beds_media.panel(mine)
    assert panel.values["rating"].m == 0 and panel.control("rating").spec.label in bare.sentence
    panel.set(rating=rating)
    panel._press_keep()
    assert load(path).value("site.floor_rating") == rating and rating.replace("m2", "m²") in panel.kept
    panel.set(rating=rating.replace(rating.split()[0], "0"))
    panel._press_keep()
    assert load(path).value("site.floor_rating") is None


def test_advice_that_the_review_gives_too_is_given_once():
    """Page 11, after a Keep: "Each flat hour the pump stands. A panel of 7,700 W …" over the review's own sentence with the same end."""
    review = [
        ("stop", "The battery is flat for 455 hours. A panel of 7,700 W stands all years."),
        ("fix", "The tank gets too little. Send more water."),
    ]
    panel = [
        ("stop", "Each flat hour the pump stands. A panel of 7,700 W stands all years."),
        ("fix", "The gas needs more. Send more water."),
        review[1],
    ]
    assert found.not_said(panel, review) == [panel[1]]  # the same cure of another thing is said


def test_a_finding_calls_its_own_page_this_page():
    strong = finding("note", "08", "Look for a smaller one among the pumps of notebook 08.")
    assert found.told(strong, "08").endswith("among the pumps of this page.") and found.told(strong, "04").endswith("of page 08.")


def test_a_page_s_own_that_are_not_told_are_counted_as_here():
    told = found.on_page([finding("fix", "05") for _ in range(6)], "05")
    assert told[-1] == ("note", "And 2 more here.")

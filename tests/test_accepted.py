"""Findings that a builder has looked at: shown with the reason, back when they grow worse, a stop never silenced."""

import json

import pytest

from aquaplumb import load
from aquaplumb.review import accepted, review
from aquaplumb.review.findings import Finding
from aquaplumb.units import DesignError
from aquaplumb.workshop.sheet import sheet


@pytest.fixture
def yard(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(load("courtyard").changed({("fish", "density"): "22 kg/m3"}).text, encoding="utf-8")
    return load(path)


NAME, WHERE = "density over limit", "fish tank"


def test_accepted_it_is_shown_with_its_reason_and_counts_no_more(yard):
    before = review(yard)
    assert not before.sound and before.finding(NAME).severity == "fix"
    after = review(before.accept(NAME, reason="two air pumps and a man at the tank"))
    assert NAME not in [f.name for f in after.findings] and "1 accepted" in after.verdict
    assert "accepted (fix)  density over limit · fish tank" in str(after) and "Accepted: two air pumps and a man at the tank" in str(after)
    assert after.sound == (not [f for f in before.findings if f.severity != "note" and f.name != NAME])
    told = json.loads(after.as_json())["accepted"]
    assert told[0]["name"] == NAME and told[0]["reason"] == "two air pumps and a man at the tank"
    assert "accepted" not in json.loads(before.as_json())
    grid = sheet(after.build, designs=50).grid("accepted")
    assert grid.rows[0][0] == "fix" and "two air pumps" in grid.rows[0][3]


def test_it_comes_back_when_its_numbers_grow_worse_and_not_when_they_mend(yard):
    kept = review(yard).accept(NAME, WHERE, reason="seen")
    worse = review(kept.changed({("fish", "density"): "30 kg/m3"}))
    assert worse.finding(NAME) and worse.accepted[0].back.startswith("its numbers have grown worse") and "30" in worse.accepted[0].back
    assert "It counts all the same: its numbers have grown worse" in str(worse)
    better = review(kept.changed({("fish", "density"): "21 kg/m3"}))
    assert not better.accepted[0].back and NAME not in [f.name for f in better.findings]


def test_a_stop_stays_a_stop(yard):
    many = review(yard.keep({("fish", "density"): "65 kg/m3"}))
    assert many.finding(NAME).severity == "stop"
    after = review(many.accept(NAME, WHERE, reason="seen"))
    assert after.finding(NAME).severity == "stop" and not after.sound and "whoever accepts it" in str(after)
    assert after.verdict == many.verdict


def test_a_fix_that_became_a_stop_is_back(yard):
    kept = review(yard).accept(NAME, WHERE, reason="seen")
    worse = review(kept.changed({("fish", "density"): "65 kg/m3"}))
    assert worse.finding(NAME).severity == "stop" and worse.accepted[0].back


def test_written_by_hand_as_the_review_prints_it(yard):
    f = review(yard).finding(NAME)
    text = f'{yard.text}\n[accepted."{f.name} · {f.where}"]\nreason = "seen"\nkind = "{f.severity}"\nsaid = "{f.sentence}"\n'
    yard.path.write_text(text, encoding="utf-8")
    assert [a.reason for a in review(load(yard.path)).accepted] == ["seen"]


def test_what_is_mended_is_told_to_be_taken_out(yard):
    kept = review(yard).accept(NAME, WHERE, reason="seen")
    mended = review(kept.changed({("fish", "density"): "15 kg/m3"}))
    assert not mended.accepted and "accepts “density over limit · fish tank”, which is not found: take it out" in str(mended)


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ('[accepted."dense · fish tank"]\nreason = "x"\nkind = "fix"\nsaid = "y"', "the review has no 'dense'"),
        ('[accepted."density over limit"]\nreason = "x"\nkind = "fix"\nsaid = "y"', "what it is about"),
        ('[accepted]\n"density over limit · fish tank" = "seen"', "below it reason, kind and said"),
        ('[accepted."density over limit · fish tank"]\nreason = "x"', "kind is missing"),
        ('[accepted."density over limit · fish tank"]\nreason = " "\nkind = "fix"\nsaid = "y"', "reason: is blank; say why"),
        ('[accepted."density over limit · fish tank"]\nreason = "x"\nkind = "bad"\nsaid = "y"', "list of kinds has no 'bad'"),
        ("accepted = 3", "is 3; it needs a section"),
    ],
)
def test_a_wrong_entry_gets_one_sentence(yard, entry, words):
    text = f"{entry}\n{yard.text}" if entry.startswith("accepted =") else f"{yard.text}\n{entry}\n"
    yard.path.write_text(text, encoding="utf-8")
    with pytest.raises(DesignError, match=words) as refused:
        print(review(load(yard.path)))
    assert "\n" not in str(refused.value)


def test_accepting_what_is_not_found_is_refused(yard):
    seen = review(yard)
    with pytest.raises(DesignError, match="the review has no 'drain short · tank overflow'"):
        seen.accept("drain short", "tank overflow", reason="x")
    with pytest.raises(DesignError, match="say why it is accepted"):
        seen.accept(NAME, WHERE, reason=" ")


@pytest.mark.parametrize(
    ("old", "new", "back"),
    [
        pytest.param("It carries 900 L/h; 1,000 L/h come.", "It carries 900 L/h; 1,000 L/h come.", False, id="nothing moved"),
        pytest.param("It carries 900 L/h; 1,000 L/h come.", "It carries 950 L/h; 1,000 L/h come.", False, id="nearer to what is needed"),
        pytest.param("It carries 900 L/h; 1,000 L/h come.", "It carries 700 L/h; 1,000 L/h come.", True, id="further off"),
        pytest.param("It carries 900 L/h; 1,000 L/h come.", "It carries 900 L/h; 1,400 L/h come.", True, id="more is needed"),
        pytest.param("It holds 3 days.", "It holds 2 days.", True, id="alone, so in doubt it is back"),
        pytest.param("It carries 900 L/h.", "It floods.", True, id="other words"),
        pytest.param("It carries 1,000 L/h; 1,200 L/h come.", "It carries 1,001 L/h; 1,200 L/h come.", False, id="rounding"),
    ],
)
def test_worse_is_further_apart(old, new, back):
    found = Finding("drain short", "fix", "x", new, "", "06")
    was = type("Was", (), {"kind": "fix", "said": old})
    assert bool(accepted._back(found, was)) == back


def test_a_finding_that_was_named_otherwise_is_still_accepted(tmp_path):
    """Older files have "bed load over floor rating"; a tank and a filter weigh on floors too, so that it has no bed in its name any more."""
    build = load("courtyard").changed({("site", "floor_rating"): None})
    [f] = [f for f in review(build).findings if f.name == "load over floor rating"]
    old = build.changed(
        {("accepted", f"bed load over floor rating · {f.where}"): {"reason": "it stands on rock", "kind": f.severity, "said": f.sentence}}
    )
    assert f.name not in [one.name for one in review(old).findings]

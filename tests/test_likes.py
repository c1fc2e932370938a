"""Sections that are like another: what they mean, and that nothing is lost when one of them is saved."""

import re

import pytest
import tomlkit

from aquaplumb import DesignError
from aquaplumb.build import Build, load
from aquaplumb.review import review
from aquaplumb.whatif import beds_media

FOUR = ("bed 1", "bed 2", "bed 3", "bed 4")


@pytest.fixture
def alike():
    """The courtyard whose second bed, siphon and overflow are like the first, with a note of the builder's."""
    doc = tomlkit.parse(load("courtyard").text)
    doc["vessels"]["bed 2"] = {"like": "bed 1"}
    for line in ("siphon", "emergency overflow"):
        doc["lines"][f"bed 2 {line}"] = {"like": f"bed 1 {line}", "from": "bed 2"}
    return doc.as_string().replace('like = "bed 1"\n', 'like = "bed 1"   # from the same shop\n')


def test_one_that_is_like_another_is_the_same_but_for_its_own_keys(alike):
    before, after = load("courtyard"), Build(alike)
    elsewhere = before.changed({("vessels", "bed 2", "at"): None})  # two do not stand in one place: that is nobody else's
    assert after.vessels == elsewhere.vessels and after.lines == before.lines
    assert str(review(after)) == str(review(before))
    assert after.value("vessels", "bed 2", "length") == "2.0 m"


def test_four_equal_beds_are_four_lines():
    text = load("courtyard").text
    more = "".join(f'\n[vessels."{bed}"]\nlike = "bed 1"\n' for bed in FOUR[2:])
    build = Build(text + more + '\n[vessels."bed 5"]\nlike = "bed 4"\nlength = "1.5 m"\n')
    assert all(build.vessels[bed].with_si(name="x", at=()) == build.vessels["bed 1"].with_si(name="x", at=()) for bed in FOUR)
    assert [bool(build.vessels[bed].si.at) for bed in FOUR] == [True, True, False, False]
    assert build.vessels["bed 5"].si.length == 1.5 and build.vessels["bed 5"].si.width == 1.1


def saved(tmp_path, text, changes):
    path = tmp_path / "my-build.toml"
    path.write_text(text, encoding="utf-8")
    kept = load(path).keep(changes)
    assert load(path).text == kept.text
    return kept


def test_a_key_of_its_own_is_written_into_the_one_that_is_alike(alike, tmp_path):
    kept = saved(tmp_path, alike, {("vessels", "bed 2", "length"): "1.8 m"})
    assert kept.vessels["bed 2"].si.length == 1.8 and kept.vessels["bed 1"].si.length == 2.0
    assert 'like = "bed 1"   # from the same shop' in kept.text
    assert kept.vessels["bed 2"].si.width == 1.1


def test_where_the_model_stands_moves_nobody_else(alike, tmp_path):
    kept = saved(tmp_path, alike, {("vessels", "bed 1", "at"): ["2 m", "3 m"]})
    assert kept.vessels["bed 1"].si.at == ((2.0, 3.0),) and kept.vessels["bed 2"].si.at == () and 'like = "bed 1"' in kept.text
    kept = saved(tmp_path, alike, {("vessels", "bed 2", "at"): ["5 m", "3 m"]})
    assert kept.vessels["bed 2"].si.at == ((5.0, 3.0),) and kept.vessels["bed 2"].si.width == 1.1


def test_a_change_of_the_model_changes_nobody_else(alike, tmp_path):
    kept = saved(tmp_path, alike, {("vessels", "bed 1", "length"): "1.8 m"})
    assert (kept.vessels["bed 1"].si.length, kept.vessels["bed 2"].si.length) == (1.8, 2.0)
    kept = saved(tmp_path, alike, {("vessels", "bed 1", "crop"): "basil"})  # a key that it had not
    assert kept.vessels["bed 2"].si.crop == {} and kept.vessels["bed 2"].si.width == 1.1


def test_both_changed_together_are_both_changed(alike, tmp_path):
    kept = saved(tmp_path, alike, {("vessels", bed, "length"): "1.8 m" for bed in FOUR[:2]})
    assert {kept.vessels[bed].si.length for bed in FOUR[:2]} == {1.8}


def test_a_length_of_its_own_takes_away_a_route_that_is_another_s(alike, tmp_path):
    siphon = ("lines", "bed 2 siphon")  # its route is that of bed 1's, whose legs add up to 1.1 m
    kept = saved(tmp_path, alike, {(*siphon, "length"): "1.3 m"}).lines
    assert kept["bed 2 siphon"].si.length == 1.3 and kept["bed 2 siphon"].si.route == ()
    assert kept["bed 1 siphon"].si.length == 1.1 and kept["bed 1 siphon"].si.route


def test_what_is_inherited_can_be_taken_away(alike, tmp_path):
    kept = saved(tmp_path, alike, {("vessels", "bed 2", key): None for key in ("medium", "media_depth")})
    assert kept.vessels["bed 2"].si.medium == "" and kept.vessels["bed 1"].si.medium
    assert kept.vessels["bed 2"].si.length == 2.0


def test_a_key_inside_an_inherited_table_becomes_its_own(alike, tmp_path):
    kept = saved(tmp_path, alike, {("lines", "bed 2 siphon", "siphon", "vent"): "0.70 m"})
    assert kept.lines["bed 2 siphon"].si.siphon.si.vent == 0.7 and kept.lines["bed 1 siphon"].si.siphon.si.vent == 0.67
    assert kept.lines["bed 2 siphon"].si.lip == kept.lines["bed 1 siphon"].si.lip


def test_what_is_turned_back_is_inherited_again(alike, tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(alike, encoding="utf-8")
    load(path).keep({("vessels", "bed 2", "length"): "1.8 m"}).keep({("vessels", "bed 2", "length"): None})
    assert load(path).vessels["bed 2"].si.length == 2.0 and 'like = "bed 1"' in load(path).text


def test_a_panel_keeps_beds_that_are_alike(alike, tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(alike, encoding="utf-8")
    panel = beds_media.panel(load(path))
    panel.set(width="1 m")
    panel._press_keep()
    assert panel.kept.startswith("✔"), panel.kept
    assert {load(path).vessels[bed].si.width for bed in FOUR[:2]} == {1.0}


@pytest.mark.parametrize(
    ("section", "said"),
    [
        ('[vessels."bed 3"]\nlike = "bad 1"\n', "did you mean bed 1"),
        ('[vessels."bed 3"]\nlike = "bed 3"\n', "needs its own keys"),
        ('[vessels."bed 3"]\nlike = "bed 4"\n[vessels."bed 4"]\nlike = "bed 3"\n', "needs its own keys"),
        ('[vessels."bed 3"]\nlike = 1\n', "has no '1'"),
        ('[lines."bed 3 siphon"]\nlike = "bed 2 sifon"\n', "did you mean"),
    ],
)
def test_a_likeness_that_leads_nowhere_is_refused_with_its_line(section, said):
    with pytest.raises(DesignError, match=re.escape(said)) as refused:
        Build(load("courtyard").text + "\n" + section)
    assert re.search(r"line \d+", str(refused.value)) and "\n" not in str(refused.value)

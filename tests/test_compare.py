"""Two builds side by side: what is told of the files, of the numbers and of the findings."""

import json
import math
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import aquaplumb
from aquaplumb.build import Build, demos, load
from aquaplumb.review import review
from aquaplumb.review.compare import comparison, power_cut
from aquaplumb.review.file_changes import changes, quoted
from aquaplumb.system.drills import drills
from aquaplumb.system.failures import POWER
from aquaplumb.units import DesignError

HOUSE = Path(aquaplumb.__file__).parents[1]
PUMP = ("lines", "riser", "pump")
STRONG = "demo mains 180 W external"


@pytest.fixture(scope="module")
def yard():
    return load("courtyard")


@pytest.fixture(scope="module")
def stronger(yard):
    return comparison(yard, yard.changed({PUMP: STRONG}))


@pytest.fixture(scope="module")
def other_house():
    return comparison("courtyard", "greenhouse")


def said(old, new):
    return [str(change) for change in changes(old, new)]


# --- the files --------------------------------------------------------------------------------------------


@pytest.mark.sweep(4)
@pytest.mark.parametrize("name", [*demos(), "second-pump-in-the-fish-tank"])
def test_the_same_build_twice(name):
    build = load(name)
    seen = comparison(build, Build(build.text))
    assert seen.nothing and not seen.file and not seen.moved and not seen.went and not seen.came
    assert "Nothing changed." in str(seen)
    assert len(seen.stayed) == len(review(build).findings)


def test_a_changed_value_says_section_key_old_and_new(yard):
    assert said(yard, yard.changed({PUMP: STRONG})) == [f"lines › riser › pump: demo mains 120 W submersible → {STRONG}"]
    assert said(yard, yard.changed({("fish", "density"): "10 kg/m3"})) == ["fish › density: 15 kg/m3 → 10 kg/m3"]
    assert said(yard, yard.changed({("lines", "riser", "pipe", "to bed 1", "opening"): 0.6})) == [
        "lines › riser › pipe › to bed 1 › opening: 0.75 → 0.6"
    ]


def test_a_key_that_comes_or_goes(yard):
    aired = yard.changed({("water", "aerated_share"): "35 %"})
    assert said(yard, aired) == ["water › aerated_share: added (35 %)"]
    assert said(aired, yard) == ["water › aerated_share: taken out (was 35 %)"]
    assert said(yard, yard.changed({("heat",): None})) == ["heat: taken out"]


SAME = [
    (("vessels", "sump", "height"), "750 mm"),
    (("vessels", "sump", "height"), "0.7500 m"),
    (("site", "coldest_water"), "295.15 K"),
    (("site", "coldest_water"), "71.6 degF"),  # 22 × 1.8 + 32
    (("fish", "feeding_rate"), "12 g/kg/d"),
    (("air", "response_time"), "1.5 h"),
    (("vessels", "sump", "width"), "47.244094488189 in"),  # 1.2 / 0.0254
]


@pytest.mark.parametrize("key, text", SAME, ids=[f"{'.'.join(key)} {text}" for key, text in SAME])
def test_the_same_amount_in_another_unit_is_no_change(yard, key, text):
    other = yard.changed({key: text})
    assert other.text != yard.text
    assert changes(yard, other) == []


def test_names_are_never_read_as_amounts(yard):
    """A title "2.2 m" and a title "2200 mm" are two titles."""
    one, other = (yard.changed({("title",): text}) for text in ("2.2 m", "2200 mm"))
    assert said(one, other) == ["title: 2.2 m → 2200 mm"]


def test_comments_and_order_are_no_change(yard):
    assert changes(yard, Build(yard.text + "\n# a note of mine\n")) == []
    beds = re.search(r'\[vessels\."bed 1"\].*?(?=\[vessels\."bed 2"\])', yard.text, re.S)[0]
    turned = yard.text.replace(beds, "").replace("[vessels.sump]", beds + "[vessels.sump]")
    assert turned != yard.text and list(Build(turned).vessels) != list(yard.vessels)
    assert changes(yard, Build(turned)) == []


def test_stretches_are_known_by_their_names(yard):
    """One taken out of the middle: the others are not told as changed."""
    text = yard.text.replace('''[[lines.riser.pipe]]
name = "to bed 1"
after = "header"
size = "25 mm"
length = "1.0 m"
fittings = { "tee branch" = 1, "elbow 90" = 1 }
route = ["0.9 m", "elbow 90", "down 0.1 m"]
valve = "ball valve"
opening = 0.75
to = "bed 1"
outlet = "1.05 m"
share = 0.235
''', "")  # fmt: skip
    shorter = Build(text)
    assert said(yard, shorter) == ["lines › riser › pipe › to bed 1: taken out (was 25 mm, 1.0 m)"]
    assert said(shorter, yard) == ["lines › riser › pipe › to bed 1: added (25 mm, 1.0 m)"]


def test_vessels_and_lines_that_come_and_go():
    text = said(load("courtyard"), load("greenhouse"))
    assert "vessels › settling tank: added (settling tank)" in text
    assert "lines › riser: taken out (was pumped)" in text
    assert "lines › bed 1 siphon: taken out (was bed drain, 20 mm, 1.1 m)" in text
    assert not any(line.startswith("vessels › bed 3 ›") for line in text)  # what was added is told once


# --- the numbers ------------------------------------------------------------------------------------------


def test_numbers_are_the_reviews(stronger, yard):
    for side, build in (("old", yard), ("new", yard.changed({PUMP: STRONG}))):
        seen = review(build)
        for name, result in seen.results.items():
            value = getattr(stronger.numbers[name], side)
            assert value == pytest.approx(result.value, rel=1e-12) or not math.isfinite(result.value)
        line = seen.system.pumped["riser"]
        assert getattr(stronger.numbers["line riser.margin"], side) == pytest.approx(line.flow / line.wanted - 1)


def test_the_change_is_new_over_old(stronger):
    """In per cent of the old: (Q2/Q1 − 1), worked from the two flows told."""
    old, new, by = stronger.numbers["line riser.flow"].texts("metric")
    before, now = (float(text.removesuffix(" L/h").replace(",", "")) for text in (old, new))
    assert by == f"+{100 * (now / before - 1):.2g} %"
    line = next(line for line in str(stronger).splitlines() if line.strip().startswith("riser: flow  "))
    assert re.fullmatch(rf"  riser: flow +{old} → {new} +{re.escape(by)}", line)


def test_a_power_cut_is_the_deepest_of_all_its_moments(yard):
    # The pump stands still, and pipes, tank and beds drain into the sump; by hand it can hold no more than that above its 0.45 m.
    every = drills(yard).of(POWER)
    depth, spilled = power_cut(yard)["sump"]
    assert max(one.run.depth_at(one.at + half_hours * 1800)["sump"] for one in every for half_hours in range(17)) <= depth + 1e-9
    assert depth <= max(one.run.vessel("sump").si.highest for one in every)
    assert spilled == 0
    loose = 1.4**2 * math.pi / 4 * 0.05 + 2 * 2.0 * 1.1 * 0.25 * 0.45  # m³: the tank's last 5 cm over its lip and all water of both beds
    assert 0.45 < depth < 0.45 + (loose + 0.02) / (1.5 * 1.2)


def test_a_sump_too_small_spills_in_a_power_cut_and_that_is_told(yard):
    """By hand: it held some 0.68 m; a rim at 0.55 m is under that."""
    low = comparison(yard, yard.changed({("vessels", "sump", "height"): "0.55 m"}))
    spilled = low.numbers["vessel sump.power cut spill"]
    assert spilled.old is None and spilled.new > 1e-3
    assert "sump: over its rim in a power cut" in str(low)
    assert any(f.severity == "stop" for f in low.came)


def test_half_the_fish_is_half_the_feed(yard):
    seen = comparison(yard, yard.changed({("fish", "density"): "7.5 kg/m3"}))
    assert seen.numbers["fish.feed"].texts("metric")[2] == "−50 %"
    assert seen.numbers["line riser.flow"].moved is False


def test_units_are_those_of_the_second(yard):
    text = str(comparison(yard, yard.changed({("units",): "US", ("vessels", "sump", "height"): "70 cm"})))
    assert "units: metric → US" in text and "vessels › sump › height: 0.75 m → 70 cm" in text
    assert "L/h" not in text
    back = comparison("greenhouse", yard)
    assert "gal/h" not in str(back).partition("What it did")[2]
    only = comparison(yard, yard.changed({("units",): "US"}))
    assert not only.moved and "No number moved." in str(only)


def test_a_number_that_one_build_has_not(other_house):
    seen = other_house
    assert seen.numbers["line riser.flow"].texts("US")[1:] == ("–", "")
    assert seen.numbers["line tank loop.flow"].texts("US")[0] == "–"
    assert "all pumps: cost of a year" in str(seen)


def test_a_pump_file_that_changed_is_told_although_the_build_files_are_the_same(tmp_path, yard):
    text = yard.text.replace('pump = "demo mains 120 W submersible"', 'pump_file = "mine.csv"')
    rows = {"a": 4000, "b": 3000}
    for folder, most in rows.items():
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "mine.csv").write_text(f"flow [L/h],head [m]\n0,4\n{most / 2},3\n{most},0\n", encoding="utf-8")
        (tmp_path / folder / "my-build.toml").write_text(text, encoding="utf-8")
    seen = comparison(*(str(tmp_path / folder / "my-build.toml") for folder in rows))
    assert not seen.file and seen.numbers["line riser.flow"].moved and not seen.nothing
    assert "such as a pump file" in str(seen)


# --- the findings -----------------------------------------------------------------------------------------


def test_findings_that_come_go_and_stay(stronger, yard):
    before, after = review(yard).findings, review(yard.changed({PUMP: STRONG})).findings
    assert {f.name for f in stronger.came} >= {"siphon never stops"}
    assert len(stronger.came) + len(stronger.stayed) == len(after)
    assert len(stronger.went) + len(stronger.stayed) == len(before)
    turned = comparison(yard.changed({PUMP: STRONG}), yard)
    assert sorted(f.sentence for f in turned.went) == sorted(f.sentence for f in stronger.came)
    assert [k.finding.name for k in turned.stayed] == [k.finding.name for k in stronger.stayed]
    text = " ".join(str(stronger).split())
    for f in stronger.came:
        assert f.sentence in text and f.cure in text
    assert max(map(len, str(stronger).splitlines())) <= 112


def test_a_finding_that_gets_worse_says_what_it_was(yard):
    """Alkalinity for days: a note turns to something to fix, or nothing is told of it."""
    from aquaplumb.review.compare import Comparison, Kept
    from aquaplumb.review.findings import Finding

    one = Finding("pipe too fast", "note", "riser", "It is fast.", "Wider.", "04")
    other = Finding("pipe too fast", "fix", "riser", "It is too fast.", "Wider.", "04")
    seen = Comparison(yard, yard)
    seen.stayed = [Kept(other, one.severity)]
    assert not seen.nothing
    assert "stays  fix   pipe too fast · riser (was: note)" in str(seen)


# --- hostile ----------------------------------------------------------------------------------------------


def test_names_and_texts_are_text(yard):
    """Signs that turn the line, break it or look like markup stay text, each on its own line."""
    nasty = "tank\\n<b>x</b>\\u202Egnp\\u2066 **y** \\u001b[31m"
    text = yard.text.replace('"fish tank"', f'"{nasty}"').replace("Courtyard, one pump", "<script>\\u202E" + "x" * 3000)
    text = text.replace(f'kind = "{nasty}"', 'kind = "fish tank"')
    seen = comparison(yard, Build(text))
    for printed in (str(seen), seen.text()):
        assert not re.search("[\u202a-\u202e\u2066-\u2069\x1b\x07]", printed)
        assert "vessels › tank <b>x</b> gnp **y** [31m: added (fish tank)" in printed
        assert max(map(len, printed.splitlines())) < 1200
    assert "&lt;b&gt;" in seen.frame().to_html()
    assert quoted("a" * 1000).endswith("…")
    json.dumps(seen.as_dict())


def test_a_key_that_looks_like_markup_or_a_number(yard):
    other = Build(yard.text.replace("bed 1 siphon", "900 L/h").replace('"bed 2"', '"**bold**"'))
    lines = said(yard, other)
    assert any(line.startswith("lines › 900 L/h: added") for line in lines)
    assert any(line.startswith("vessels › **bold**: added") for line in lines)


def test_a_long_list_of_changes_is_cut_on_the_page_and_whole_in_text(other_house):
    seen = other_house
    assert f"and {len(seen.file) - 25} more" in str(seen)
    assert all(str(change) in seen.text() for change in seen.file)


def test_what_cannot_be_read_gets_a_sentence():
    with pytest.raises(DesignError, match="nowhere"):
        comparison("courtyard", "nowhere")


# --- tables and the command -------------------------------------------------------------------------------


def test_the_frame_and_the_dict(stronger):
    frame = stronger.frame()
    assert list(frame.columns) == ["what", "before", "now", "change"]
    assert frame.loc["line riser.flow", "what"] == "riser: flow"
    assert (frame["change"] != "").sum() <= len(stronger.moved)
    told_ = json.loads(json.dumps(stronger.as_dict(), allow_nan=False))
    assert told_["file"] == [{"where": "lines › riser › pump", "old": "demo mains 120 W submersible", "new": STRONG}]
    flow = next(n for n in told_["numbers"] if n["name"] == "line riser.flow")
    assert flow["unit"] == "m³/s" and flow["new"] > flow["old"]
    assert len(told_["findings"]["came"]) == len(stronger.came)


def run(*arguments, cwd):
    return subprocess.run([sys.executable, "-m", "aquaplumb", "compare", *map(str, arguments)], cwd=cwd, capture_output=True, encoding="utf-8",
                          errors="replace", timeout=120, check=False, env={**os.environ, "PYTHONPATH": str(HOUSE), "PYTHONIOENCODING": "utf-8"})  # fmt: skip


def test_the_command(tmp_path, yard, here):
    (tmp_path / "new.toml").write_text(yard.changed({PUMP: STRONG}).text, encoding="utf-8")
    done = run("courtyard", "new.toml", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (1, "")  # the new one is not sound
    assert "What changed in the file" in done.stdout and STRONG in done.stdout
    assert "from power failure to danger" in done.stdout and "lesser" not in done.stdout  # the main ones alone
    every = here("compare", "courtyard", "new.toml", "--all", cwd=tmp_path).stdout
    assert every.count(" → ") > done.stdout.count(" → ")
    back = here("compare", "new.toml", "courtyard", "--json", cwd=tmp_path)
    assert back.returncode == 0
    assert json.loads(back.stdout)["findings"]["went"]
    lost = here("compare", "courtyard", "lost.toml", cwd=tmp_path)
    assert lost.returncode == 2 and lost.stdout == "" and "lost.toml" in lost.stderr and "Traceback" not in lost.stderr

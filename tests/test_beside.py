"""What is odd about a number beside the others of its build: a note at the number, and none for what somebody could build so.

All limits are common practice, no source; that no demo, faulty build, first build or published system has such a note is held here and
in `test_plausible`.
"""

import re
from pathlib import Path

import pytest

from aquaplumb.build import Build, load
from aquaplumb.review import review

PUBLISHED = sorted((Path(__file__).parent / "published").glob("*.toml"))


def changed(demo, section, key, value):
    """A demo's text with another value of the first `key` after a section's head."""
    text = re.sub(r"(?m)^route = .*\n", "", load(demo).text)  # a route would say that its length is another
    found = re.compile(rf'(?ms)(^\[\[?{re.escape(section)}\]\]?\n.*?^{key} = )("[^"]*")').search(text)
    return text[: found.start(2)] + f'"{value}"' + text[found.end(2) :]


@pytest.mark.parametrize(
    ("demo", "section", "key", "value", "where", "says"),
    [
        ("courtyard", 'lines."bed 1 emergency overflow"', "length", "12 m", "bed [12] emergency overflow › length", r"(a tenth of|ten times) what bed [12] emergency overflow has, (1\.2|12) m"),
        ("courtyard", 'lines."tank overflow"', "length", "25 m", "tank overflow › length", r"25 m of pipe is far: .* about 5\.\d m\."),
        ("greenhouse", 'lines."tank emergency overflow"', "length", "60 ft", "tank emergency overflow › length", r"60 ft of pipe is far: .* about 2\d ft\."),
        ("greenhouse", 'vessels."bed 3"', "width", "0.3 ft", "vessels › bed 3 › width", "0.3 ft is a tenth of what bed [1245] has, 3 ft, and all else"),
        ("greenhouse", 'vessels."settling tank"', "cone_height", "1.4 in", "settling tank › cone_height", "1.4 in is flat for a cone 30 in across"),
        ("greenhouse", 'vessels."dosing tank"', "working_depth", "1.8 in", "dosing tank › working_depth", "1.8 in is little water for a height of"),
    ],
)  # fmt: skip
def test_a_decimal_point_that_slipped_is_told_at_its_number(demo, section, key, value, where, says):
    build = Build(changed(demo, section, key, value))
    found = review(build).finding("unusual value")
    assert found.severity == "note" and re.search(where, found.where) and re.search(says, found.sentence), found
    line = int(re.search(r"Line (\d+)", found.sentence)[1])
    assert build.text.split("\n")[line - 1].startswith(key)


@pytest.mark.parametrize(
    ("demo", "section", "key", "value"),
    [
        ("courtyard", 'lines."tank overflow"', "length", "7 m"),  # the other way is 5.4 m: a detour, and no slip
        ("courtyard", 'vessels."bed 1"', "empty_mass", "90 kg"),  # of other make than the bed beside it
        ("greenhouse", 'vessels."settling tank"', "cone_height", "6 in"),
        ("greenhouse", 'vessels."dosing tank"', "working_depth", "8 in"),
    ],
)
def test_what_somebody_could_build_so_is_not_told(demo, section, key, value):
    assert Build(changed(demo, section, key, value)).unusual == {}


@pytest.mark.parametrize("path", PUBLISHED, ids=lambda path: path.stem)
def test_no_published_system_is_called_unusual(path):
    assert load(path).unusual == {}

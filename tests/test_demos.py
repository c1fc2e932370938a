"""Every demo build: said to be invented, shown by every what-if, and called what it grows in."""

import functools
import html
import importlib
import pkgutil
import re

import pytest

from aquaplumb import whatif
from aquaplumb.build import demos, load
from aquaplumb.build.layout_kinds import KINDS
from aquaplumb.review import review
from aquaplumb.whatif.opened import Opened

pytestmark = pytest.mark.usefixtures("strict")

PANELS = [name for _, name, _ in pkgutil.iter_modules(whatif.__path__) if hasattr(importlib.import_module(f"aquaplumb.whatif.{name}"), "panel")]  # fmt: skip
WITHOUT_BEDS = ["raft-hall", "lean-to", "side-alley"]

LEND = ("siphon_round", "round_tank")
build = functools.lru_cache(maxsize=None)(load)


@functools.cache
def seen(demo):
    return review(build(demo))


@functools.cache
def opened(name, demo):
    return importlib.import_module(f"aquaplumb.whatif.{name}").panel(build(demo))


def of_beds(text):
    """The lines that speak of beds; a moving bed, a filter, is none, nor is what page 00 has to choose."""
    return [
        line for line in text.replace("moving bed", "").replace("beds, rafts or towers", "").split("\n") if re.search(r"\b[Bb]eds?\b", line)
    ]


@pytest.mark.parametrize("demo", demos())
def test_it_says_that_it_is_invented(demo):  # that it is sound: test_findings
    assert "Invented for the demo" in build(demo).text


def test_each_layout_has_a_demo():
    assert {name for name, kind in KINDS.items() for demo in demos() if kind.about in build(demo).about} >= {*KINDS} - {
        "one loop",
        "two loops",
    }


@pytest.mark.sweep(14)
@pytest.mark.parametrize("demo", demos())
@pytest.mark.parametrize("name", PANELS)
@pytest.mark.usefixtures("drawn")
def test_each_panel_opens_draws_and_speaks(name, demo):
    panel = opened(name, demo)
    assert not panel.stale, panel.said
    assert panel._png.startswith(b"\x89PNG")
    assert panel.said.strip().endswith((".", "!", "?")), panel.said
    assert panel.system == build(demo).units
    assert bool(panel.above) == (panel.keep_button is None)
    assert not panel.above or name in LEND


def test_who_has_none_practises_on_the_demos():
    """Rafts, channels and towers have no siphon; over a tank that holds the pump, nothing turns the water."""
    lent = {(name, demo) for name in LEND for demo in demos() if Opened(getattr(whatif, name).panel.__self__, build(demo), None).above}
    assert lent == {(name, demo) for name in ("siphon_round",) for demo in WITHOUT_BEDS} | {("round_tank", "balcony")}
    panel = opened("siphon_round", "raft-hall")
    assert panel.above.startswith("Your build has ") and panel.above.endswith("nothing here is kept.")
    head = panel.widget.children[1].children[1].children[0]
    assert html.escape(panel.above) in head.children[0].value  # over the result
    picture = importlib.import_module("aquaplumb.whatif.siphon_round").picture(build("raft-hall"))
    assert picture._repr_mimebundle_()[0]["text/plain"].startswith(panel.above)


@pytest.mark.sweep(1)
@pytest.mark.parametrize("demo", WITHOUT_BEDS)
def test_what_has_no_bed_is_not_called_one(demo):
    assert not of_beds(str(seen(demo)))
    assert not of_beds("\n".join(f"{f.sentence} {f.cure}" for f in seen(demo).findings))
    for name in PANELS:
        panel = opened(name, demo)
        if not panel.above:
            assert not of_beds("\n".join([panel.said, *(text for _, text in panel.found), panel._words.value])), name

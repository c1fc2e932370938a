"""Every try of every what-if, on several builds: it asks for what its panel offers, and says what there was to see."""

import re

import pytest

from aquaplumb.units import FLOW, NUMBER, SYSTEMS
from aquaplumb.whatif.rows import ChoiceRow, SliderRow, SwitchRow
from aquaplumb.whatif.tries import Try
from pages import panel_of
from test_kept_controls import PANELS
from test_whatif_base import toy

pytestmark = pytest.mark.usefixtures("strict")

BUILDS = ["courtyard", "greenhouse", "raft-hall", "lean-to"]  # siphons; US with plain drains; rafts; US with channels
OTHER = {"metric": r"\d (gal|in|ft|oz|lb)\b", "US": r"\d (L|mm|cm|m|g|kg)\b"}  # units that a sentence must not have
FEW = {
    "drain_siphon": 3,
    "siphon_round": 3,
    "fish_load": 5,
    "season": 2,
    "pipe_size": 5,
    "pump": 5,
    "line_head": 4,
    "round_tank": 2,
    "night_air": 5,
    "levels_time": 4,
    "start_up": 4,
    "build_sheet": 4,
    "supply": 3,
    "supply_year": 3,
    "warmth": 2,
    "water_care": 3,
    "flow_share": 3,
    "start": 5,
}  # pages that have their tries, and how many at least; a page that is written anew joins


def literally(panel, one):
    """Do what is asked in the words in which it is asked, as a learner reads them."""
    printed = panel.tries.printed(one)
    panel.set(**{n: value if isinstance(value, bool) else read(panel.control(n), printed[n]) for n, value in one.to.items()})


def without_names(panel, words):
    """What is said without the names of what is chosen: those of pipe and media have sizes in them."""
    names = [name for row in panel._rows.values() if isinstance(row, ChoiceRow) for name in row.all]
    return re.sub("|".join(map(re.escape, sorted(names, key=len, reverse=True))) or "$", "", words)


def read(row, shown):
    """What is printed of a control, as code gives it."""
    if not isinstance(row, SliderRow):
        return str(shown)
    return float(shown.replace(",", "")) if row.spec.kind is NUMBER else shown.replace(",", "")


@pytest.mark.sweep(6)
@pytest.mark.parametrize("build", BUILDS)
@pytest.mark.parametrize("name", PANELS)
def test_every_try_names_what_its_panel_offers(name, build):
    panel = panel_of(name, build)
    assert len(panel.tries.tries) >= FEW.get(name, 0)
    for system in SYSTEMS if panel.tries.tries else ():
        panel = panel_of(name, build)
        panel.system = system
        assert not panel.tries.done, "done before anything was tried"
        start, asks = panel.values, []
        for place, one in enumerate(panel.tries.tries):
            printed, ask = panel.tries.printed(one), panel.tries.asks()[place]
            asks.append(ask)
            literally(panel, one)
            for key in one.to:
                row, shown = panel.control(key), printed[key]
                assert row.offered, key
                if isinstance(row, SwitchRow):
                    assert shown.label in ask
                    continue
                assert shown in ask, f"{ask} does not say {shown}"
                if isinstance(row, SliderRow):
                    low, high, step = row.spec.marks(system, row.low, row.high)
                    number = row.spec.kind.shown(row.spec.si(read(row, shown)), system)
                    assert low - 0.5 * step <= number <= high + 0.5 * step
                    assert abs(number - row._snapped(number)) <= 0.5 * step
                else:
                    assert shown in row.options
            assert not panel.stale, panel.said
            assert place in panel.tries.done, f"{ask} was done, and is not marked"
            said = panel.tries.said()[place]
            assert re.search(r"[.!]$", said) and not re.search(r"\b(nan|inf)\b|[{}]", said), said
            for words in (said, ask):
                assert not re.search(OTHER[system], without_names(panel, words)), words
            assert panel.tries._list.value.count("✔") == len(panel.tries.done)
            panel.set(**start)
        assert not any(re.search(r"\b(nan|inf)\b|[{}]", ask) for ask in asks)
        assert len(set(asks)) == len(asks)


# --- the machinery, on a toy ------------------------------------------------------------------------------


def tried(**options):
    flow = 1700 / 3.6e6
    asked = [
        Try("Set *{flow.label}* to **{flow}**.", {"flow": flow}, lambda record, system: f"It lands at {record.si.landing:.2f}."),
        Try("And the wall **{wall}**, {flow}.", {"flow": flow, "wall": "near"}, lambda record, system: FLOW.text(flow, system)),
    ]
    return toy.panel(tries=asked, **options)


def test_a_try_is_done_once_stays_done_and_speaks_from_its_moment():
    panel = tried()
    assert panel.tries.done == {}
    assert "1. Set flow to" in repr(panel) and "1,700 L/h" in repr(panel)
    panel.set(flow="1700 L/h")
    assert list(panel.tries.done) == [0]
    landed = panel.tries.said()[0]
    panel.set(flow="3000 L/h")
    assert panel.tries.said()[0] == landed and "✔" in panel.tries._list.value and "○" in panel.tries._list.value
    panel.set(flow="1700 L/h", wall="near")
    assert list(panel.tries.done) == [0, 1]
    assert "○" not in panel.tries._list.value


def anew(panel, landed):
    """The panel goes on from another build: the same first try, told against that one, and another second."""
    asked = [
        Try("Set *{flow.label}* to **{flow}**.", {"flow": 1700 / 3.6e6}, lambda record, system: f"Of a build of {landed}."),
        Try("Then *{flow.label}* to **{flow}**.", {"flow": 2000 / 3.6e6}, lambda record, system: f"Of a build of {landed}."),
    ]
    panel.read_anew([row.spec for row in panel._rows.values()], panel.si, {}, asked, here=True)


def test_what_was_said_of_a_try_is_not_said_anew_of_the_build_that_was_kept():
    panel = tried()
    panel.set(flow="1700 L/h")
    landed = panel.tries.said()[0]
    anew(panel, "later")
    assert panel.tries.said() == {0: landed}
    panel.system = "US"
    panel.system = "metric"
    assert panel.tries.said() == {0: landed}
    panel.set(flow="2000 L/h")
    assert panel.tries.said() == {0: landed, 1: "Of a build of later."}
    panel.set(flow="1700 L/h")  # done again on the build that was kept
    assert panel.tries.said()[0] == "Of a build of later."


def test_a_try_that_a_keep_leaves_standing_is_not_done_by_it():
    panel = tried()
    panel.set(flow="2000 L/h")
    anew(panel, "later")
    panel.set(wall="near")
    assert panel.tries.said() == {}
    panel.set(flow="1000 L/h")
    panel.set(flow="2000 L/h")
    assert list(panel.tries.said()) == [1]


def test_asks_and_answers_follow_the_units_shown():
    panel = tried()
    panel.set(flow="1700 L/h", wall="near")
    panel.system = "US"
    assert all("gal/h" in ask and "L/h" not in ask.replace("gal/h", "") for ask in panel.tries.asks())
    assert panel.tries.said()[1].endswith("gal/h")


def test_a_slider_moved_by_hand_to_its_nearest_step_counts():
    panel = tried()
    panel.control("flow").slider.value = 1700
    assert 0 in panel.tries.done


def test_start_again_puts_every_control_back_and_keeps_what_was_done():
    panel = tried()
    start = panel.values
    panel.set(flow="1700 L/h", wall="near")
    panel.tries._again.click()
    assert panel.values == start
    assert len(panel.tries.done) == 2


def test_start_again_stays_with_the_line_that_is_shown():
    panel = panel_of("drain_siphon", "courtyard")
    panel.set(line="tank overflow")
    start = panel.values
    panel.set(size="110 mm, PN10")
    panel.tries._again.click()
    assert panel.values == start


def test_a_panel_without_tries_lists_none():
    panel = toy.panel()
    assert panel.tries.widget.children == () and "Try" not in repr(panel)

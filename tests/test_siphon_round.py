"""A siphon through time: against closed forms and an equation solver, its panel, what it keeps, and its picture."""

import copy
import re
from itertools import pairwise

import fluids
import numpy as np
import pytest
from scipy.integrate import solve_ivp

from aquaplumb.build import Build, demos, load, my_build
from aquaplumb.build.layouts import first_build
from aquaplumb.plumbing import siphons
from aquaplumb.system.levels import Event, simulate
from aquaplumb.system.steady import Steady
from aquaplumb.units import FLOW, SYSTEMS, DesignError, u
from aquaplumb.whatif import drain_siphon, siphon_round
from pages import WALKED, every_end, new_lines

pytestmark = pytest.mark.usefixtures("strict")


@pytest.fixture
def courtyard():
    return siphon_round.panel(load("courtyard"))


# --- times and volumes, against what stands outside ------------------------------------------------------


def test_the_bed_fills_as_a_bucket_does():
    """Closed form: 2.2 m² × 0.20 m × 45 % of voids is 198 L, at 854 L/h 13.9 min; then up over the lip, while some runs off.

    On the way from the lip to the start between none and 667 L/h (Froude 2, worked with pencil) runs off.
    """
    r = siphon_round.bed_round(load("courtyard")).si
    assert r.volume == pytest.approx(0.198, rel=1e-9)
    assert FLOW.shown(r.inflow) == pytest.approx(854, abs=1)
    over = 2.2 * 0.45 * (r.highest - 0.25)
    least, most = (0.198 / r.inflow + over / (r.inflow - away / 3.6e6) for away in (0.0, 667.0))
    assert least < r.fill < most


def test_the_bed_empties_as_an_equation_solver_says():
    """Cross-check: scipy's solve_ivp on dV/dt = Q_in − A √(2 g fall / (K + f L/D)), f after Colebrook by fluids; 2 %, for tables and coarse steps."""
    build = load("courtyard")
    r = siphon_round.bed_round(build).si
    line, k = build.falling["bed 1 siphon"].si, Steady(build).falling["bed 1 siphon"].k
    area, bore = np.pi / 4 * line.bore**2, line.bore

    def flow(depth):
        fall, f = 0.62 + depth - line.outlet, 0.03  # the bed's floor is at 0.62 m
        for _ in range(20):
            speed = np.sqrt(2 * 9.80665 * fall / (k + f * line.length / bore))
            f = fluids.friction_factor(Re=speed * bore / 9.55e-7, eD=1.5e-6 / bore)  # water at 22 °C
        return area * speed

    def reached(time, depth):
        return depth[0] - 0.05

    reached.terminal = True
    solved = solve_ivp(lambda _, depth: [(r.inflow - flow(depth[0])) / (2.2 * 0.45)], (0, 9999), [r.highest], events=reached, rtol=1e-8)
    assert r.empty == pytest.approx(solved.t_events[0][0], rel=0.02)
    assert r.biggest == pytest.approx(flow(r.highest), rel=0.01)


@pytest.mark.parametrize(
    "changes", [{}, {"vent": "60 mm"}, {"size": "25 mm, PN16", "inflow": "1400 L/h"}, {"outlet": "-0.5 m"}, {"inflow": "1100 L/h"}], ids=str
)
def test_what_comes_in_goes_out_in_each_round(courtyard, changes):
    """Continuity: the flow out, summed over one round, is the inflow times its length (1 %, for the coarse steps)."""
    courtyard.set(**changes)
    r = courtyard.record.si
    assert r.outcome == "goes round"
    last = np.flatnonzero(np.isclose(r.times, r.fill + r.empty))[0]
    assert np.trapezoid(r.flows[: last + 1], r.times[: last + 1]) == pytest.approx(r.inflow * (r.fill + r.empty), rel=0.01)
    assert r.per_hour == pytest.approx(3600 / (r.fill + r.empty))


@pytest.mark.parametrize("changes", [{}, {"vent": "50 mm"}, {"outlet": "-1 m", "inflow": "700 L/h"}], ids=str)
def test_the_rounds_shown_are_those_of_a_long_run(courtyard, changes):
    """The first round is repeated in the picture: a run of the same bed through six hours, not quick, starts as often, to 1 %."""
    courtyard.set(**changes)
    r = courtyard.record.si
    rounds = siphon_round.RoundWhatIf(load("courtyard"))
    values = {name: courtyard.control(name).value for name in ("size", "vent", "outlet")}
    line = rounds.falls.changed("bed 1 siphon", **values)
    run = simulate(
        siphon_round._alone(rounds.build, line),
        "6 h",
        events=[Event("top-up", "bed 1", flow=FLOW.quantity(r.inflow))],
        start={"bed 1": r.vent * u.m},
    )
    begins = run.time[1:][np.diff(run.running[:, run.siphons.index("bed 1 siphon")].astype(int)) > 0]
    assert len(begins) > 3
    assert np.diff(begins) == pytest.approx((r.fill + r.empty), rel=0.01)
    shown = run.time <= 7200
    depth = np.interp(run.time[shown], r.times, r.depths)
    off = np.abs(depth - run.depth[shown, run.vessels.index("bed 1")])
    assert np.median(off) < 2e-3


@pytest.mark.parametrize("size", ["20 mm, PN16", "25 mm, PN16", "32 mm, PN16"])
def test_the_run_ends_as_the_conditions_foretell(courtyard, size):
    """Identity: simulated outcomes agree with the steady band of starting flows and the flow at the vent."""
    courtyard.set(size=size)
    seen = set()
    for flow in (60, 200, 330, 350, 500, 660, 700, 900, 1200, 1300, 1600, 2400, 4000):
        courtyard.set(inflow=f"{flow} L/h")
        r = courtyard.record.si
        band = siphons.siphon_starting_band.si(r.bore).si
        if r.inflow < band.may:
            expected = "never starts"
        elif r.inflow >= r.flow_at_vent:
            expected = "never stops"
        else:
            expected = "goes round" if r.inflow >= band.sure else "may go round"
        assert r.outcome == expected, flow
        seen.add(r.outcome)
        assert r.doubtful == (r.inflow < r.flow_at_vent < 1.3 * r.inflow and "round" in r.outcome)
    assert len(seen) >= 3


def test_what_spills_is_what_no_way_takes(courtyard):
    courtyard.set(inflow="6000 L/h")
    r = courtyard.record.si
    assert r.outcome == "spills"
    assert r.spills + r.helps + r.flows[-1] == pytest.approx(r.inflow, rel=0.01)
    assert r.highest == pytest.approx(r.rim)


def test_where_it_may_start_both_are_shown(courtyard):
    courtyard.set(inflow="500 L/h")
    r = courtyard.record.si
    assert r.outcome == "may go round"
    assert r.depths[-1] == pytest.approx(r.depths.max(), abs=1e-3)  # the full line stays up
    assert r.early_depths.min() == pytest.approx(r.vent, abs=1e-3)  # the dashed one comes down
    assert "dashed" in courtyard.picture.alt(courtyard.record)
    courtyard.set(inflow="850 L/h")
    assert courtyard.record.si.early_times is None


def test_the_vent_sets_the_round(courtyard):
    """Monotone: the lower the vent, the longer the round and the larger the swing; the flow that it lets go hardly changes."""
    rounds = []
    for vent in range(20, 241, 20):
        courtyard.set(vent=f"{vent} mm")
        rounds.append(courtyard.record.si)
    assert all(one.per_hour > other.per_hour for one, other in pairwise(rounds))
    assert all(one.highest - one.lowest < other.highest - other.lowest for one, other in pairwise(rounds))
    assert rounds[0].biggest == pytest.approx(rounds[-1].biggest, rel=0.01)


def test_a_long_round_is_followed_to_its_end(courtyard):
    """1,270 L/h is just under what the siphon carries at its vent (1,280 L/h): it takes hours to come down, and it does."""
    courtyard.set(inflow="1270 L/h")
    r = courtyard.record.si
    assert r.fill + r.empty > 2 * 3600
    assert r.doubtful
    assert courtyard.said.endswith("It may not stop when it is dirty.")


# --- the panel --------------------------------------------------------------------------------------------


@pytest.mark.sweep(1)
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("demo", [*WALKED, "barrel-yard"])
def test_every_end_of_every_control(demo, system):
    panel = siphon_round.panel(load(demo))
    panel.system = system
    for _key, _end in every_end(panel):
        assert not panel.stale
        assert panel.said in panel.picture.alt(panel.record).replace("**", "")


@pytest.mark.usefixtures("drawn")
def test_choosing_a_siphon_is_the_same_as_starting_with_it():
    panel, other = siphon_round.panel(load("courtyard")), siphon_round.panel(load("courtyard"), "bed 2 siphon")
    panel.set(line="bed 2 siphon")
    assert panel.said == other.said
    assert panel._png == other._png
    with pytest.raises(DesignError, match="bed 2 siphon"):
        siphon_round.picture(load("courtyard"), "bed 3 siphon")


def test_a_build_without_a_siphon_gets_one_to_try():
    """It says so, and the one that it tries starts and stops by the conditions of `drains` on the bed's own inflow."""
    build = load("greenhouse")
    panel = siphon_round.panel(build)
    assert panel.said.startswith("A siphon is tried on bed 1 drain.")
    assert panel.record.surely
    assert any("at one height" in text for _, text in panel.found)
    assert panel.values["inflow"].m_as("gal/h") == pytest.approx(FLOW.shown(Steady(build).in_time.vessels["bed 1"].peak, "US"), rel=5e-3)
    assert list(panel.control("line").options) == [f"bed {n} drain" for n in (1, 2, 3, 4)]
    assert all(line.si.siphon is None for line in build.falling.values())
    panel.set(inflow="60 L/h")
    assert panel.record.si.outcome == "never starts" and panel.record.si.tried
    told = [(severity, text) for severity, text in panel.found if "Roots stay" in text]
    assert told and all(severity == "note" and text.startswith("Tried as a siphon.") for severity, text in told), (
        "no fault of a drain that is plain"
    )
    share = Steady(build).in_time.pumped["bed loop"].duty  # its float lets the pump rest now and then
    assert 0 < share < 0.98
    assert any(f"this water {100 * share:.0f} % of the time" in text for _, text in panel.found)


def test_a_siphon_that_is_only_tried_waits_behind_a_button():
    assert [siphon_round.panel(load(name)).shut.closed for name in ("courtyard", "greenhouse")] == [False, True]


def test_a_build_with_no_bed_drain_practises_on_the_demos():
    build = copy.copy(load("courtyard"))
    vars(build)["lines"] = {name: line for name, line in build.lines.items() if not name.startswith("bed")}
    with pytest.raises(DesignError, match="no bed with a drain"):
        siphon_round.bed_round(build)
    panel = siphon_round.panel(build)
    assert panel.above == "Your build has beds, and no bed with a drain: practise on the courtyard's siphon; nothing here is kept."
    assert panel.keep_button is None
    assert panel.record.line == "bed 1 siphon"


def test_a_vent_under_the_floor_is_refused_in_words(courtyard):
    courtyard.set(vent="260 mm")
    assert courtyard.stale
    assert "under the floor of bed 1" in courtyard.said
    assert "250 mm" in courtyard.said


def test_what_cannot_fall_is_said(courtyard):
    courtyard.set(outlet="1 m")
    assert courtyard.said.startswith("No fall.")
    assert courtyard.found[0][0] == "stop"


def test_water_near_the_top_of_the_media_is_said(courtyard):
    courtyard.set(inflow="3000 L/h")
    assert any("covers the media" in text for _, text in courtyard.found)
    courtyard.set(inflow="850 L/h")
    assert not any("media" in text for _, text in courtyard.found)


# --- its picture ------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("drawn")
def test_rulers_stay_while_sliders_move(courtyard):
    picture = courtyard.picture
    before = [plane.axes.get_ylim() for plane in (picture.bed, picture.out)]
    for changes in ({"inflow": "6000 L/h"}, {"vent": "20 mm"}, {"outlet": "-1 m"}, {"inflow": "50 L/h"}):
        courtyard.set(**changes)
        assert [plane.axes.get_ylim() for plane in (picture.bed, picture.out)] == before
        assert courtyard.record.si.flows.max() < courtyard.record.si.ruler


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.usefixtures("drawn")
def test_names_beside_the_ruler_keep_apart(courtyard, system):
    courtyard.system = system
    picture = courtyard.picture
    for vent in ("20 mm", "40 mm", "120 mm", "240 mm"):
        courtyard.set(vent=vent)
        drawn = picture.figure.canvas.get_renderer()
        boxes = [text.get_window_extent(drawn) for text in picture.bed.axes.texts if text.get_text() and text.get_visible()]
        assert len(boxes) >= 4
        assert all(box.x1 < picture.width for box in boxes)
        assert not any(one.overlaps(other) for i, one in enumerate(boxes) for other in boxes[:i])


@pytest.mark.sweep(3)
@pytest.mark.parametrize("demo", demos())
def test_the_picture_has_a_title_and_words(demo):
    picture = siphon_round.picture(load(demo))
    data, about = picture._repr_mimebundle_()
    assert about["image/png"]["alt"] == data["text/plain"]
    assert "vent" in data["text/plain"]
    assert "rounds an hour" in picture.title(picture.record)


# --- keeping ----------------------------------------------------------------------------------------------


def test_keep_writes_what_changed_and_back_again(tmp_path):
    panel = siphon_round.panel(my_build())
    panel.set(size="25 mm, PN16", vent="150 mm", outlet="0.1 m", inflow="1500 L/h")
    panel._press_keep()
    assert panel.kept.startswith("✔ Kept in my-build.toml: bed 1 siphon:")
    new = new_lines(tmp_path / "my-build.toml")
    assert new == ['outlet = "0.100 m"', 'length = "1.200 m"', 'siphon = { vent = "0.720 m" }   # air comes in here and stops it']
    assert my_build().falling["bed 1 siphon"].si.size == "25 mm"
    again = siphon_round.panel(my_build())
    again.set(inflow="1500 L/h")
    assert again.said == panel.said
    panel.set(size="20 mm, PN16", vent="200 mm", outlet="0.2 m")  # and as it was
    panel._press_keep()
    assert panel.kept.startswith("✔")
    assert vars(my_build().falling["bed 1 siphon"].si)["size"] == "20 mm"
    assert my_build().falling["bed 1 siphon"].si.siphon.si.vent == pytest.approx(0.67)


def test_keep_of_a_siphon_that_was_tried(tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(load("greenhouse").text, encoding="utf-8")
    panel = siphon_round.panel(my_build(), "bed 2 drain")
    panel.set(vent="6 in")
    panel._press_keep()
    assert panel.kept.startswith("✔ bed 2 drain is a siphon now. Kept in my-build.toml")
    assert "not open at its top, vent at 2 ft" in panel.kept  # it said "not vented, vent 2 ft": its key, and the height of its hole
    line = my_build().falling["bed 2 drain"].si
    assert line.siphon.si.vent == pytest.approx(line.lip - 6 * 0.0254, abs=2e-4)
    assert not line.vented
    assert line.size == "1/2 in"
    again = siphon_round.panel(my_build())
    assert not again.record.si.tried
    assert again.said == panel.said.removeprefix("A siphon is tried on bed 2 drain. ")
    drained = drain_siphon.fall(my_build(), "bed 2 drain")
    assert drained.si.siphon
    others = [line for name, line in my_build().falling.items() if name != "bed 2 drain"]
    assert all(line.si.siphon is None for line in others)


def test_a_kept_siphon_has_no_remark_beside_it_that_it_cannot_be_one(tmp_path):
    """Our own remark goes with what it says; what a person wrote stays."""
    path = tmp_path / "my-build.toml"
    remark, mine = "# a tee, open at the top: it cannot siphon", "# asked at the shop"
    beds = [f"bed {n} drain" for n in (1, 2)]
    ours = load("kitchen-garden").text
    first, rest = ours.split(f'[lines."{beds[1]}"]')
    path.write_text(f'{first}[lines."{beds[1]}"]{rest.replace(remark, mine, 1)}', encoding="utf-8")
    for name in beds:
        panel = siphon_round.panel(my_build()) if name == beds[0] else drain_siphon.panel(my_build(), name)
        panel.set(vented=False) if name == beds[1] else None
        panel._press_keep()
        assert not my_build().falling[name].si.vented
    kept = path.read_text(encoding="utf-8").split("[lines.")
    one, two = (next(part for part in kept if part.startswith(f'"{name}"]')) for name in beds)
    assert "vented = false\n" in one and remark not in one
    assert re.search(rf"vented = false +{mine}\n", two)
    assert sum(part.count(remark) for part in kept) == ours.count(remark) - 2


def test_a_drain_is_not_kept_as_a_siphon_that_cannot_start_on_its_own_water(tmp_path):
    """Four beds on plain drains: what is sure to start at 3,000 L/h dribbles on the 530 L/h or so that the pump brings."""
    path = tmp_path / "my-build.toml"
    path.write_text(first_build("one loop", beds=4, drains="plain"), encoding="utf-8")
    before = path.read_text(encoding="utf-8")
    panel = siphon_round.panel(my_build())
    panel.set(inflow="3000 L/h")
    panel._press_keep()
    assert panel.kept.startswith("✖ Not kept: on the ") and "a siphon on bed 1 drain never starts. Roots" in panel.kept
    assert path.read_text(encoding="utf-8") == before


def tried_out(panel, place):
    """Do a try, and what there was to see."""
    one = panel.tries.tries[place]
    reached = panel.tries.reached(one)
    panel.set(
        **{name: panel.control(name).spec.kind.quantity(value) if isinstance(value, float) else value for name, value in reached.items()}
    )
    return panel.tries.said()[place]


def test_a_siphon_that_would_not_start_gets_water_enough_before_its_vent_is_tried():
    """Four beds on plain drains get 530 L/h each: at that a siphon of 25 mm pipe dribbles, whatever its vent."""
    panel = siphon_round.panel(Build(first_build("one loop", beds=4, drains="plain")))
    assert "never starts" in panel.said
    assert "rounds an hour" in tried_out(panel, 0)
    assert "rounds an hour**, where it was" in tried_out(panel, 1)


def test_a_us_build_practises_on_pipe_of_its_own_kind():
    panel = siphon_round.panel(Build(first_build("rafts", beds=1, units="US")))
    assert (
        panel.above
        == "Your build has rafts, and no bed with a drain: practise on the kitchen garden's bed drain, with a siphon tried on it; nothing here is kept."
    )
    assert panel.record.si.tried and not any(f.si.siphon for f in load("kitchen-garden").falling.values())  # it has plain drains
    assert not siphon_round.bed_round(load("courtyard")).si.tried  # "the courtyard's siphon" is one
    assert all(size.endswith("Sch 40") for size in panel.control("size").all) and "mm" not in repr(panel.tries)

"""What was measured: read from the build file, and what stands on it once it is the build's own."""

import numpy as np
import pytest

from aquaplumb import load
from aquaplumb.__main__ import main
from aquaplumb.build import measured
from aquaplumb.measured.export import siphon_rows
from aquaplumb.plumbing import lines, pumps
from aquaplumb.plumbing.siphon_rows import MeasuredSiphon, measured_siphons, start_numbers
from aquaplumb.review import review
from aquaplumb.review.ranges import default_ranges
from aquaplumb.review.sweep import sweep
from aquaplumb.system.steady import Steady
from aquaplumb.units import DesignError

DAY = ("measured", "2026-05-03")
BUCKET = {"volume": "10 L", "time": "31 s"}


def with_measured(day=DAY, demo="courtyard", **what):
    return load(demo).changed({(*day, key): value for key, value in what.items()})


# --- the file ---------------------------------------------------------------------------------------------


def test_a_bucket_and_a_watch_make_a_flow_with_its_own_uncertainty():
    (day,) = with_measured(flow={"to bed 1": BUCKET, "to the tank": "1650 L/h"}).measured
    tank, bed = day.of("flow")
    assert bed.flow.to("L/h").m == pytest.approx(10 / 31 * 3600)  # arithmetic
    assert tank.flow.to("L/h").m == pytest.approx(1650)
    # root of the sum of squares (GUM, JCGM 100:2008, 5.1.2): 2 % of the mark, 0.7 s of 31 s
    assert bed.sure / bed.value == pytest.approx(np.hypot(0.02, 0.7 / 31))


def test_a_longer_pour_is_the_surer():
    ones = [measured.measured("flow", "to bed 1", {"volume": f"{n} L", "time": f"{3 * n} s"}) for n in (1, 5, 20)]
    parts = [one.sure / one.value for one in ones]
    assert parts == sorted(parts, reverse=True) and parts[-1] > 0.02


def test_days_are_read_in_order_and_one_day_may_have_several_sections():
    build = load("courtyard").changed(
        {
            ("measured", "2026-08-01", "flow", "to bed 1"): "300 L/h",
            (*DAY, "rest"): {"sump": "55 cm"},
            ("measured", "2026-05-03, bed 1 shut"): {"shut": ["to bed 1"], "flow": {"to bed 2": BUCKET}},
        }
    )
    assert [day.label for day in build.measured] == ["2026-05-03", "2026-05-03, bed 1 shut", "2026-08-01"]
    assert [day.date for day in build.measured] == ["2026-05-03", "2026-05-03", "2026-08-01"]
    assert build.measured[1].shut == ("to bed 1",)
    assert load("courtyard").measured == ()


def test_nothing_measured_is_lost_by_a_keep_of_something_else(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(with_measured(flow={"to bed 1": BUCKET}).text + "# the mark of the bucket was wet\n", encoding="utf-8")
    kept = load(path).keep({("lines", "riser", "loss_factor"): 1.2})
    assert kept.measured == load(path).measured and len(kept.measured[0].values) == 1
    assert "# the mark of the bucket was wet" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "what, value, said",
    [
        ("flow", {"to bed 1": "10 L"}, "this is 10 L, a volume; it needs a flow"),
        ("flow", {"to bed 9": "10 L/h"}, "list of outlets of pumped lines has no 'to bed 9'"),
        ("flow", {"riser": "10 L/h"}, "list of outlets of pumped lines has no 'riser'"),
        ("flow", "10 L/h", "say of what"),
        ("flow", {"to bed 1": {"volume": "10 L", "time": "0 s"}}, "the bucket's time: 0 s is below 0.1 s, the least for"),
        ("flow", {"to bed 1": {"volume": "10 s", "time": "4 s"}}, "this is 10 s, a time"),
        ("flow", {"to bed 1": {"volume": "10 L"}}, 'a flow is { volume = "10 L", time = "31 s" }'),
        ("flow", {"to bed 1": {"volume": "10 L", "time": "31 h"}}, "did you mean 31 s?"),
        ("flow", {"to bed 1": "-3 L/h"}, "less"),
        ("starts", {"bed 1 siphon": "0 L/h"}, "0 L/h is below 0.1 L/h, the least for the flow at which a siphon starts"),
        ("starts", {"bed 1 siphon": "-4 L/h"}, "is -4 L/h; a flow of less than nothing"),
        ("starts", {"tank overflow": "4 L/h"}, "list of siphons has no 'tank overflow'"),
        ("power", {"riser": True}, "it needs a power"),
        ("power", {"riser": "11 V"}, "a voltage"),
        ("running", {"pond": "30 cm"}, "list of vessels has no 'pond'"),
        ("empties", {"fish tank": "30 s"}, "list of vessels has no 'fish tank'"),
        ("voltage", {"riser": "0 V"}, "0 V is below 1 V, the least for the voltage at a pump"),
        ("shut", ["riser"], "list of stretches with a valve has no 'riser'"),
        ("speed", {"riser": 1}, "section has no 'speed'"),
    ],
)
def test_bad_input_is_one_sentence_with_its_place(what, value, said):
    with pytest.raises(DesignError, match="measured › 2026-05-03") as wrong:
        with_measured(**{what: value})
    assert said in str(wrong.value) or (said == "less" and "less" in str(wrong.value)), wrong.value
    assert "\n" not in str(wrong.value)


def test_a_section_that_names_no_day_is_refused():
    with pytest.raises(DesignError, match="'yesterday' does not begin with a day"):
        with_measured(day=("measured", "yesterday"), flow={"to bed 1": BUCKET})


# --- what stands on it --------------------------------------------------------------------------------------


def test_a_loss_factor_is_what_the_pipe_costs_more():
    """Identity: at one flow, all of a line's head but its lift is so many times as much; part by part too."""
    bed = lines.Stretch(
        name="bed", bore="20 mm", length="4 m", fittings={"elbow 90": 3}, valve="ball valve", opening=0.6, to="bed", outlet="1 m"
    )
    plain = lines.Line(name="one", source="0 m", stretches=(bed,))
    dear = lines.Line(name="one", source="0 m", stretches=(bed.with_si(loss_factor=1.7),))
    head, more = (lines.required_head.si(each, 3e-4) for each in (plain, dear))
    assert more - 1.0 == pytest.approx(1.7 * (head - 1.0), rel=1e-9)
    parts = [dict(zip(p.what, p.si.head)) for p in (lines.head_parts.si(each, 3e-4) for each in (plain, dear))]
    assert parts[1]["lift"] == parts[0]["lift"]
    for what in parts[0].keys() - {"lift"}:
        assert parts[1][what] == pytest.approx(1.7 * parts[0][what], rel=1e-6), what


def test_a_pump_factor_scales_flow_and_head_and_leaves_the_rest():
    build = load("courtyard").changed({("lines", "riser", "pump_factor"): 0.9})
    pump, own = (Steady(one).pumped["riser"].pump.si for one in (load("courtyard"), build))
    assert np.allclose(own.flow, 0.9 * pump.flow) and np.allclose(own.head, 0.9 * pump.head) and np.all(own.power == pump.power)
    with pytest.raises(DesignError, match="from 0.2 to 2"):
        load("courtyard").changed({("lines", "riser", "pump_factor"): 0.1})


@pytest.fixture(scope="module")
def own():
    return load("courtyard").changed(
        {
            ("lines", "riser", "loss_factor"): 1.3,
            ("lines", "riser", "measured_on"): "2026-05-03",
            ("lines", "bed 1 siphon", "siphon", "starts"): "500 L/h",
            ("lines", "bed 1 siphon", "siphon", "stops"): "2400 L/h",
            ("lines", "bed 1 siphon", "siphon", "measured_on"): "2026-05-03",
        }
    )


def test_every_band_grows_narrower_by_what_was_measured(own):
    before, after = (sweep(build, None, 600, seed=2) for build in (load("courtyard"), own))
    for name in ("line riser.flow", "fall bed 1 siphon.starts from"):
        widths = [np.ptp(one.results[name]) / np.median(one.results[name]) for one in (before, after)]
        assert widths[1] < 0.5 * widths[0], name
    assert np.median(after.results["fall bed 1 siphon.starts from"]) * 3.6e6 == pytest.approx(500, rel=0.01)
    other = [np.ptp(one.results["fall bed 2 siphon.starts from"]) for one in (before, after)]
    assert other[0] == pytest.approx(other[1], rel=0.05)  # nobody measured the other bed's
    band = [Steady(build).pumped["riser"] for build in (load("courtyard"), own)]
    assert (band[1].high - band[1].low) / band[1].flow < (band[0].high - band[0].low) / band[0].flow
    assert band[1].low < band[1].flow < band[1].high


def test_every_number_that_stands_on_it_says_when_it_was_measured(own):
    seen = review(own)
    assert seen["line riser.flow"].source.startswith("measured on 2026-05-03")
    assert seen["fall bed 1 siphon.may start from"].source == "measured on 2026-05-03"
    assert "none measured" in seen["fall bed 2 siphon.may start from"].source
    assert seen["fall bed 1 siphon.sure to start from"].quantity.to("L/h").m == pytest.approx(550)
    assert "measured on 2026-05-03" in default_ranges(own)["losses of riser"].source
    assert "losses of riser" not in default_ranges(load("courtyard"))


def test_a_siphon_starts_in_the_run_where_it_was_seen_to(own):
    """Cross-check: the run through time takes the measured flows, too."""
    n, plain = (Steady(build).network for build in (own, load("courtyard")))
    at = [n.falls[f] for f in n.siphons].index("bed 1 siphon")
    assert n.starts["sure"][at] * 3.6e6 == pytest.approx(550) and n.starts["may"][at] * 3.6e6 == pytest.approx(450)
    assert plain.starts["may"][at] != n.starts["may"][at]


def test_a_siphon_that_starts_at_nothing_is_refused():
    with pytest.raises(DesignError, match="starts: 0 L/h is below 0.1 L/h"):
        load("courtyard").changed({("lines", "bed 1 siphon", "siphon", "starts"): "0 L/h"})


def test_one_line_of_a_build_that_was_not_measured_is_as_before():
    assert pumps.curve(Steady(load("courtyard")).pumped["riser"].pump)(0.0)[0] == pytest.approx(pumps.curve(pumps.pump("demo mains 120 W submersible"))(0.0)[0])  # fmt: skip


# --- siphons that builders measured --------------------------------------------------------------------------


def siphon_row(starts, bore=0.02, basis="measured"):
    return MeasuredSiphon.from_si(
        name="a", bore=bore, bell=None, vent=None, fall=None, starts=starts, stops=None, basis=basis, source="us", note=""
    )


def test_the_band_is_prints_until_three_have_measured():
    (example,) = measured_siphons()
    assert example.basis == "invented for the demo" and start_numbers() == (1.0, 2.0)
    assert start_numbers([siphon_row(1e-4), siphon_row(2e-4)]) == (1.0, 2.0)
    assert start_numbers([siphon_row(1e-4, basis="invented for the demo")] * 5) == (1.0, 2.0)


def test_three_rows_make_the_band_theirs():
    """Closed form: Froude's number of a flow is 4Q / (π D² √(g D)); the least and the most, a tenth wider."""
    flows = (0.9e-4, 1.2e-4, 1.4e-4)
    may, sure = start_numbers([siphon_row(flow) for flow in flows])
    number = [4 * flow / (np.pi * 0.02**2 * np.sqrt(9.80665 * 0.02)) for flow in flows]
    assert may == pytest.approx(0.9 * number[0]) and sure == pytest.approx(1.1 * number[2])


def test_a_builders_row_has_bore_bell_vent_fall_and_flows_and_nothing_else(own, capsys, tmp_path):
    header, row = siphon_rows(own).splitlines()
    assert header == "bore [mm],bell [mm],vent [mm],fall [mm],starts [L/h],stops [L/h]"
    bore, bell, vent, _, starts, stops = row.split(",")
    f = own.falling["bed 1 siphon"].si
    assert float(bore) == pytest.approx(1000 * f.bore, rel=0.01) and bell == "" and float(vent) == pytest.approx(200)
    assert (float(starts), float(stops)) == (500, 2400)
    assert not any(word in row for word in ("courtyard", "bed", "2026"))
    path = tmp_path / "mine.toml"
    path.write_text(with_measured(starts={"bed 1 siphon": "310 L/h"}).text, encoding="utf-8")
    assert main(["siphons", str(path)]) == 0
    assert capsys.readouterr().out.splitlines()[1].endswith(",310,")
    with pytest.raises(DesignError, match="no siphon of this build was measured"):
        siphon_rows(load("courtyard"))

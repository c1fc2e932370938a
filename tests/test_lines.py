"""Pumped lines: print, closed forms, balances on random trees, SciPy, and what a builder can get wrong."""

import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import fsolve

import epanet_trees
from aquaplumb import u, water
from aquaplumb.plumbing import fittings, lines, pipes, pumps
from aquaplumb.plumbing.line_records import net
from aquaplumb.plumbing.lines import Line, Stretch
from aquaplumb.units import DesignError

GRAVITY = 9.80665
LPM = u.L / u.min
SEEDS = st.integers(0, 10**6)
common = settings(max_examples=40, deadline=None, derandomize=True)


def stretch(name, after="", bore=0.02, length=1.0, **more):
    """A stretch from bare SI numbers; one with an outlet ends in a bed."""
    return Stretch.from_si(name=name, after=after, bore=bore, length=length, to="bed" if "outlet" in more else "", **more)


def line(*stretches, source=0.0, **more):
    return Line.from_si(name="line", source=source, stretches=stretches, **more)


def straight(head, flow):
    """A pump whose head falls in a straight line."""
    return lambda q: (head * (1 - q / flow), -head / flow + 0 * q)


def speed_head(q, bore):
    return (q / (np.pi / 4 * bore**2)) ** 2 / (2 * GRAVITY)


def random_line(seed, links=None, spread=0.6):
    rng = np.random.default_rng(seed)
    made = epanet_trees.random_tree(rng, links or int(rng.integers(2, 25)), spread=spread)
    return made, made.line()


# --- published ----------------------------------------------------------------------------------


def header(valve_k=10.0):
    """A riser, a header and three branches: the reference network, all in its own figures."""
    wide, narrow = {"bore": 26.6446e-3}, {"bore": 20.9296e-3, "length": 1.0, "extra_k": 2.5 + valve_k - 1.0, "outlet": 1.2}
    return line(
        stretch("riser", length=3.0, extra_k=4.0, **wide),
        stretch("header 1", "riser", length=2.0, extra_k=0.4, **wide),
        stretch("header 2", "header 1", length=2.0, extra_k=0.4, **wide),
        stretch("B1", "riser", **narrow),  # the reference counts the exit in its K; here it is added by itself
        stretch("B2", "header 1", **narrow),
        stretch("B3", "header 2", **narrow),
    )


def header_pump(q):
    """H = 5 − 7.8093e-5 Q^2.3544, Q in L/min: the reference's fit through its three points."""
    c = 7.8093e-5 * 60000**2.3544
    return 5 - c * q**2.3544, -2.3544 * c * q**1.3544


@pytest.mark.parametrize(
    "flow, branches, tolerance",
    [
        pytest.param(66.97, (24.14, 21.77, 21.06), 3e-3, id="EPANET 2.2, case A of the reference network"),
        pytest.param(66.924, (24.131, 21.750, 21.043), 2e-4, id="SciPy with Colebrook, case A of the reference network"),
    ],
)
def test_reference_network(flow, branches, tolerance):
    found = lines.flows(header(), header_pump)
    assert found.flow.m_as(LPM) == pytest.approx(flow, rel=tolerance)
    assert [found.into[b].m_as(LPM) for b in ("B1", "B2", "B3")] == pytest.approx(branches, rel=tolerance)
    assert found.head.m_as("m") == pytest.approx(3.446, abs=5e-3)
    heads = dict(zip(found.names, found.end_head.m_as("m")))
    # heads of EPANET's run in the reference, 5 mm as it recommends
    assert [heads[n] for n in ("riser", "header 1", "header 2")] == pytest.approx([2.153, 1.977, 1.928], abs=5e-3)


FT, GPM, CFS = 0.3048, 6.30902e-5, 0.3048**3


@pytest.mark.parametrize(
    "cfs, feet", [pytest.param(q, 10 + 4.43 * q**2, id=f"Munson ex. 12.4 at {q} cfs, from memory") for q in (1, 2, 3.565)]
)
def test_system_curve_of_munson(cfs, feet):
    # 6 in, 200 ft, f 0.02, K 0.5 + 1.5 + 1, lift 10 ft: h = 10 + 4.43 Q². Its f stands for f L/D = 8.
    pipe = stretch("pipe", bore=0.5 * FT, length=0.0, extra_k=0.5 + 1.5 + 0.02 * 200 / 0.5, outlet=10 * FT)
    assert lines.required_head.si(line(pipe), cfs * CFS) / FT == pytest.approx(feet, rel=5e-3)
    # and the closed form, 11 v²/2g
    assert lines.required_head.si(line(pipe), cfs * CFS) == pytest.approx(10 * FT + 11 * speed_head(cfs * CFS, 0.5 * FT), rel=1e-9)


def test_pump_head_of_white():
    # White ex. 6.16: 0.2 cfs, 400 ft of 2 in, ε/D 0.001, ΣK 12.2 with the exit, 100 ft up, 4.2 hp (from memory);
    # 183.4 ft and 4.163 hp worked out independently. 2 %: water's viscosity is White's to a few percent only.
    pipe = stretch("pipe", bore=2 / 12 * FT, length=400 * FT, roughness=0.001 * 2 / 12 * FT, extra_k=11.2, outlet=100 * FT)
    head = lines.required_head.si(line(pipe), 0.2 * CFS) / FT
    assert head == pytest.approx(183.4, rel=0.01)
    assert 62.4 * 0.2 * head / 550 == pytest.approx(4.2, rel=0.02)


# --- identities ---------------------------------------------------------------------------------


@common
@given(st.floats(0, 2e-3), st.floats(0.01, 0.06), st.floats(0, 20), st.floats(0, 12), st.floats(-1, 3))
def test_single_pipe_is_friction_fittings_and_lift(flow, bore, length, k, lift):
    found = lines.required_head.si(line(stretch("pipe", bore=bore, length=length, extra_k=k, outlet=lift)), flow)
    expected = lift + pipes.friction_head.si(flow, bore, length) + (k + 1) * speed_head(flow, bore)
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-7)


@common
@given(SEEDS)
def test_every_junction_passes_on_what_it_gets(seed):
    made, whole = random_line(seed)
    found = lines.flows(whole, made.pump).si
    for i in range(len(made.parents)):
        fed = sum(found.stretch_flow[j] for j, parent in enumerate(made.parents) if parent == i)
        if i not in made.outlet:
            assert found.stretch_flow[i] == pytest.approx(fed, rel=1e-12, abs=1e-18)
    assert found.flow == pytest.approx(found.end_flow.sum(), rel=1e-12, abs=1e-18)


@common
@given(SEEDS)
def test_the_head_is_spent_on_every_way(seed):
    """Along each way to a running end the pump's head is lift plus losses; a dry end lies above its junction."""
    made, whole = random_line(seed, spread=1.5)
    found = lines.flows(whole, made.pump).si
    assert found.head == pytest.approx(made.pump(found.flow)[0], abs=1e-6)
    for end, outlet in made.outlet.items():
        spent, i = 0.0, end
        while i >= 0:
            q, bore = found.stretch_flow[i], made.bore[i]
            k = made.k[i] + (i in made.outlet)
            spent += pipes.friction_head.si(q, bore, made.length[i]) + k * speed_head(q, bore)
            i = made.parents[i]
        if f"s{end}" in found.dry:
            assert found.stretch_flow[end] == 0
            assert made.source + found.head - spent <= outlet + 1e-6
        else:
            assert made.source + found.head - spent == pytest.approx(outlet, abs=1e-6)


@common
@given(SEEDS)
def test_same_flows_as_a_general_solver(seed):
    """SciPy's fsolve on the flows of the ends, with the fluids library's Colebrook: nothing of ours but the tree."""
    from fluids.friction import friction_factor

    made, whole = random_line(seed, links=7, spread=0.2)
    found = lines.flows(whole, made.pump).si
    if found.dry:
        return
    ends, nu = [int(name[1:]) for name in found.ends], water.kinematic_viscosity.si(293.15)

    def off(end_flow):
        q = np.zeros(7)
        for end, flow in zip(ends, end_flow):
            i = end
            while i >= 0:
                q[i] += flow
                i = made.parents[i]
        result = []
        for end in ends:
            head, i = made.source + made.pump(q[0])[0], end
            while i >= 0:
                v = q[i] / (np.pi / 4 * made.bore[i] ** 2)
                f = friction_factor(Re=v * made.bore[i] / nu, eD=1.5e-6 / made.bore[i])
                head -= (f * made.length[i] / made.bore[i] + made.k[i] + (i in made.outlet)) * v * v / (2 * GRAVITY)
                i = made.parents[i]
            result.append(head - made.outlet[end])
        return result

    if np.any(found.speed * made.bore / nu < 4500):  # below Re 4000 the two bridge to laminar flow in their own ways
        return
    theirs = fsolve(off, found.end_flow * 1.1, xtol=1e-10)
    assert found.end_flow == pytest.approx(theirs, rel=1e-5)


@common
@given(st.integers(2, 9), st.floats(1e-5, 5e-4))
def test_equal_branches_share_equally(count, each):
    """n branches side by side ask for the head of one at an n-th of the flow."""
    branch = {"bore": 0.02, "length": 3.0, "extra_k": 4.0, "outlet": 1.0}
    root = stretch("root", bore=1.0, length=0.0)  # wide and short: it costs next to nothing
    many = line(root, *(stretch(f"b{i}", "root", **branch) for i in range(count)))
    found = lines.flows.si(many, flow=count * each).si
    assert found.end_flow == pytest.approx(np.full(count, each), rel=1e-9)
    assert found.head == pytest.approx(lines.required_head.si(line(stretch("b", **branch)), each), rel=1e-6)


@common
@given(st.floats(1e-5, 1e-3), st.floats(0.1, 0.9))
def test_a_stretch_cut_in_two_is_the_same_stretch(flow, part):
    whole = line(stretch("a", length=5.0, extra_k=3.0, outlet=1.0))
    cut = line(stretch("a", length=5.0 * part, extra_k=3.0), stretch("b", "a", length=5.0 * (1 - part), outlet=1.0))
    assert lines.required_head.si(cut, flow) == pytest.approx(lines.required_head.si(whole, flow), rel=1e-9)


@common
@given(SEEDS, st.floats(0.05, 3))
def test_more_pump_head_never_gives_less(seed, more):
    made, whole = random_line(seed, spread=1.5)
    weak = lines.flows(whole, made.pump).si
    strong = lines.flows(whole, epanet_trees.PowerPump(made.pump.head + more, made.pump.flow)).si
    assert np.all(strong.stretch_flow >= weak.stretch_flow - 1e-12)


@common
@given(SEEDS, st.floats(0.5, 30))
def test_a_branch_too_high_is_dry_and_the_rest_is_as_without_it(seed, height):
    made, whole = random_line(seed, links=9)
    without = lines.flows(whole, made.pump).si
    inner = next(i for i in range(9) if i not in made.outlet)
    level = made.source + made.pump.head + height
    extra = stretch("too high", f"s{inner}", bore=0.03, length=2.0, outlet=level)
    found = lines.flows(line(*whole.stretches, extra, source=made.source), made.pump).si
    assert "too high" in found.dry
    assert found.stretch_flow[-1] == 0
    assert found.stretch_flow[:-1] == pytest.approx(without.stretch_flow, rel=1e-7, abs=1e-12)
    at = found.names.index(f"s{inner}")
    assert found.end_head[-1] == pytest.approx(found.end_head[at]), "the water stands at its junction's head"


def test_a_pump_too_weak_moves_nothing():
    one = line(stretch("a"), stretch("b", "a", outlet=3.0), stretch("c", "a", outlet=2.5))
    found = lines.flows(one, straight(2.4, 1e-3)).si
    assert (found.flow, found.dry) == (0.0, ("b", "c"))
    assert np.all(found.stretch_flow == 0) and np.all(found.loss == 0)
    assert found.head == pytest.approx(2.4)
    assert lines.flows(one, straight(2.6, 1e-3)).si.dry == ("b",)


def test_a_check_valve_opens_at_its_head_and_costs_it():
    row = fittings.fitting("spring check valve").si
    plain = stretch("a", length=2.0, outlet=1.0)
    valved = stretch("a", length=2.0, outlet=1.0, fittings={"spring check valve": 1})
    opening = row.opening_head_typical
    assert lines.flows(line(valved), straight(1 + opening - 0.001, 1e-3)).si.flow == 0
    assert lines.flows(line(valved), straight(1 + opening + 0.001, 1e-3)).si.flow > 0
    for flow in (1e-6, 5e-5, 2e-4, 1e-3):
        cost = lines.required_head.si(line(valved), flow) - lines.required_head.si(line(plain), flow)
        # h = max(opening head, K v²/2g), as `fittings.check_valve_head` has it
        assert cost == pytest.approx(max(opening, row.k_typical * speed_head(flow, 0.02)), rel=1e-6)


def test_nozzles_are_orifices_in_parallel():
    """Three holes of 8 mm on a wide pipe at 1.5 m: q = n Cd a √(2gH), and no exit besides."""
    spray = stretch("spray", bore=0.2, length=0.0, outlet=0.4, nozzle_bore=0.008, nozzles=3.0, nozzle_coefficient=0.61)
    found = lines.flows(line(spray, source=0.4), lambda q: (1.5 + 0 * q, 0 * q)).si
    assert found.flow == pytest.approx(3 * 0.61 * np.pi / 4 * 0.008**2 * np.sqrt(2 * GRAVITY * 1.5), rel=1e-9)


def test_suction_costs_what_the_same_pipe_costs_after_the_pump():
    suction = stretch("suction", bore=0.03, length=2.0, extra_k=1.5)
    before = lines.flows.si(line(stretch("a", outlet=1.0), suction=(suction,)), flow=5e-4).si
    after = lines.flows.si(line(stretch("suction", bore=0.03, length=2.0, extra_k=1.5), stretch("a", "suction", outlet=1.0)), flow=5e-4).si
    assert before.head == pytest.approx(after.head, rel=1e-12)
    assert before.end_head[0] == pytest.approx(-before.loss[0]), "before the pump the head is under the water's level"
    assert before.end_head[1] == pytest.approx(1.0)


def test_exit_is_counted_once_however_it_is_listed():
    bare = lines.required_head.si(line(stretch("a", outlet=1.0)), 5e-4)
    listed = lines.required_head.si(line(stretch("a", outlet=1.0, fittings={"pipe exit": 1})), 5e-4)
    assert listed == pytest.approx(bare, rel=1e-12)


@pytest.mark.parametrize("side", ["at the pump", "suction"])
def test_a_strainer_that_nobody_listed_clogs_all_the_same(side):
    """Clean it is in the pump's points; half clogged it costs three times a listed one's K more, where the water comes in."""
    more = {"suction": (stretch("s", bore=0.04),)} if side == "suction" else {}
    one, at = stretch("a", bore=0.03, outlet=1.0), 0.04 if side == "suction" else 0.03
    clean, half = (lines.required_head.si(line(one, strainer_blocked=blocked, **more), 5e-4) for blocked in (0.0, 0.5))
    assert clean == pytest.approx(lines.required_head.si(line(one, **more), 5e-4), rel=1e-12)
    assert half - clean == pytest.approx(3 * fittings.fitting("strainer").si.k_typical * speed_head(5e-4, at), rel=1e-6)
    parts = lines.head_parts.si(line(one, strainer_blocked=0.5, **more), 5e-4).si
    assert dict(zip(parts.what, parts.head))["strainer"] == pytest.approx(half - clean, rel=1e-6)


def test_a_clogged_strainer_costs_by_the_square_of_what_is_left():
    one = stretch("a", bore=0.03, outlet=1.0, fittings={"strainer": 1})
    clean, half = (lines.required_head.si(line(one, strainer_blocked=blocked), 5e-4) for blocked in (0.0, 0.5))
    assert half - clean == pytest.approx(3 * fittings.fitting("strainer").si.k_typical * speed_head(5e-4, 0.03), rel=1e-6)


def test_a_shut_valve_stops_its_branch_only():
    shut = stretch("b", "a", outlet=0.5, valve="ball valve", opening=0.0)
    other = stretch("c", "a", outlet=0.8)
    found = lines.flows(line(stretch("a"), shut, other), straight(3, 1e-3)).si
    alone = lines.flows(line(stretch("a"), other), straight(3, 1e-3)).si
    assert found.dry == ("b",)
    assert found.flow == pytest.approx(alone.flow, rel=1e-7)


@pytest.mark.parametrize("opening", [0.001, 0.01, 0.03, 0.1, 0.3])
def test_a_trickle_through_a_nearly_shut_valve_settles_too(opening):
    one = line(stretch("a"), stretch("b", "a", outlet=0.5, valve="ball valve", opening=opening), stretch("c", "a", outlet=0.8))
    found = lines.flows(one, straight(3, 1e-3)).si
    assert not found.dry
    assert found.end_head[1:] == pytest.approx([0.5, 0.8], abs=1e-5)


@common
@given(SEEDS, st.floats(-7, -2))
def test_odd_trees_settle_too(seed, power):
    """Losses of every size, check valves, ends metres apart, a trickle or a flood: each running end is at its outlet."""
    rng = np.random.default_rng(seed)
    made, whole = random_line(seed, spread=5)
    parts = [
        part.replace(extra_k=float(part.si.extra_k * 10 ** rng.uniform(-2, 4)),
                     fittings={"spring check valve": 1} if rng.random() < 0.2 else {})
        for part in whole.stretches
    ]  # fmt: skip
    flow = 10.0**power
    found = lines.flows.si(line(*parts, source=made.source), flow=flow).si
    assert found.flow == pytest.approx(flow, rel=1e-6)
    for end, at in zip(found.ends, found.end_flow):
        level = made.outlet[int(end[1:])]
        above = found.end_head[found.names.index(end)]
        off = 1e-5 + 1e-8 * max(found.end_head)  # of the kilometres of head that a flood needs, fewer digits stand behind the point
        assert above == pytest.approx(level, abs=off) if at > 0 else above <= level + parts_opening(parts, end) + off


def parts_opening(parts, end):
    """The head that opens the check valves on a dry end's own way."""
    by_name, total = {part.si.name: part.si for part in parts}, 0.0
    while end:
        total += 0.7 * len(by_name[end].fittings)  # the most that the table's spring check valve needs to open
        end = by_name[end].after
    return total


# --- many designs at once -----------------------------------------------------------------------


@pytest.mark.parametrize("count", [1, 7, pytest.param(5000, id="more than one block")])
def test_designs_side_by_side_are_the_designs_one_by_one(count):
    rng = np.random.default_rng(3)
    bore, height, opening = rng.uniform(0.015, 0.03, count), rng.uniform(0.2, 4, count), rng.uniform(0.05, 1, count)

    def design(bore, height, opening):
        return line(
            stretch("a", bore=0.03, length=2.0, fittings={"swing check valve": 1}),
            stretch("b", "a", bore=bore, outlet=1.0, valve="ball valve", opening=opening),
            stretch("c", "a", bore=0.02, outlet=height),
        )

    pump = pumps.Pump.from_si(name="p", flow=np.array([0, 5e-4, 1e-3]), head=np.array([3.5, 2.5, 0.0]))
    swept = lines.flows(design(bore, height, opening), pump).si
    assert swept.flow.shape == (count,)
    assert swept.stretch_flow.shape == (3, count)
    some_dry = False
    for i in rng.choice(count, min(count, 25), replace=False):
        alone = lines.flows(design(bore[i], height[i], opening[i]), pump).si
        assert swept.stretch_flow[:, i] == pytest.approx(alone.stretch_flow, rel=1e-6, abs=1e-12)
        assert swept.end_head[:, i] == pytest.approx(alone.end_head, abs=1e-6)
        some_dry |= bool(alone.dry)
    assert some_dry or count < 25


def test_system_curve_of_designs_has_flows_last():
    flow = np.linspace(0, 8e-4, 6)
    bores = np.array([0.018, 0.022, 0.03, 0.04])
    curve = lines.system_curve.si(line(stretch("a", bore=bores, outlet=1.0, fittings={"elbow 90": 2})), flow).si
    assert curve.typical.shape == (4, 6)
    for i, bore in enumerate(bores):
        single = line(stretch("a", bore=bore, outlet=1.0, fittings={"elbow 90": 2}))
        assert curve.high[i] == pytest.approx(lines.required_head.si(single, flow, band="high"), rel=1e-9)


# --- the curve, the parts, the valves -----------------------------------------------------------


def fitted(**more):
    return line(
        stretch("suction", bore=0.035, length=0.6, fittings={"strainer": 1}),
        stretch("riser", "suction", bore=0.026, length=2.5, fittings={"elbow 90": 3, "swing check valve": 1}),
        stretch("near", "riser", length=0.7, fittings={"tee branch": 1}, valve="ball valve", outlet=1.0, **more),
        stretch("far", "riser", length=6.0, fittings={"tee run": 1, "elbow 90": 2}, valve="gate valve", outlet=1.1),
        stretch("jets", "riser", length=2.0, outlet=1.3, nozzle_bore=0.006, nozzles=4.0),
    )


def test_operating_point_is_where_the_whole_tree_settles():
    pump = pumps.pump("demo mains 80 W submersible")
    curve = lines.system_curve.si(fitted(), np.linspace(0, pump.si.flow[-1], 200))
    point = pumps.operating_point.si(pump, curve).si
    # the curve is interpolated between 200 flows; the tree is solved outright
    for found, band in ((point.flow, "typical"), (point.flow_low, "high"), (point.flow_high, "low")):
        assert found == pytest.approx(lines.flows(fitted(), pump, band=band).si.flow, rel=1e-3)


def test_low_typical_and_high_lie_in_order_and_start_at_the_lowest_outlet():
    curve = lines.system_curve.si(fitted(), np.linspace(0, 1e-3, 40)).si
    assert np.all(curve.low[1:] < curve.typical[1:]) and np.all(curve.typical[1:] < curve.high[1:])
    assert np.all(np.diff(curve.typical) > 0)
    opening = fittings.fitting("swing check valve").si.opening_head_typical
    assert curve.typical[0] == pytest.approx(1.0 + opening, abs=1e-6)


@common
@given(st.floats(0, 1.2e-3), st.floats(0.2, 1))
def test_parts_add_up_to_the_head(flow, opening):
    one = fitted(opening=opening)
    parts = lines.head_parts.si(one, flow).si
    assert np.sum(parts.head) == pytest.approx(lines.required_head.si(one, flow), abs=1e-6)
    assert np.all(parts.head[1:] >= 0)


def test_parts_are_named_and_each_is_its_own_closed_form():
    one = line(
        stretch("riser", bore=0.026, length=2.5, fittings={"elbow 90": 3, "swing check valve": 1}, extra_k=2.0),
        stretch("spray", "riser", length=1.0, outlet=1.3, valve="ball valve", opening=0.6, nozzle_bore=0.008, nozzles=2.0),
    )
    parts = lines.head_parts.si(one, 4e-4)
    head = dict(zip(zip(parts.where, parts.what), parts.si.head))
    assert head["", "lift"] == pytest.approx(1.3)
    assert head["riser", "pipe friction"] == pytest.approx(pipes.friction_head.si(4e-4, 0.026, 2.5))
    assert head["riser", "elbow 90"] == pytest.approx(3 * fittings.fitting("elbow 90").si.k_typical * speed_head(4e-4, 0.026))
    assert head["riser", "other"] == pytest.approx(2 * speed_head(4e-4, 0.026))
    check = fittings.fitting("swing check valve").si
    assert head["riser", "swing check valve"] == pytest.approx(
        fittings.check_valve_head.si(4e-4, 0.026, check.k_typical, check.opening_head_typical)
    )
    assert head["spray", "valve"] == pytest.approx(fittings.valve_k.si("ball valve", 0.6) * speed_head(4e-4, 0.02))
    jet = 4e-4 / (0.61 * 2 * np.pi / 4 * 0.008**2)
    assert head["spray", "nozzle"] == pytest.approx(jet**2 / (2 * GRAVITY))
    assert parts.total.m_as("m") == pytest.approx(sum(head.values()))
    assert parts.end == "spray"


@common
@given(st.floats(2e-4, 9e-4), st.lists(st.floats(0.1, 1), min_size=2, max_size=2))
def test_valves_set_so_give_each_end_its_share(flow, weights):
    """The inverse: with the openings that `valve_settings` finds, `flows` finds the shares."""
    one = line(
        stretch("riser", bore=0.03, length=2.0),
        stretch("near", "riser", length=0.7, valve="ball valve", outlet=1.0),
        stretch("far", "riser", length=6.0, valve="gate valve", outlet=1.2),
    )
    found = lines.valve_settings.si(one, flow=flow, shares=dict(zip(("near", "far"), weights))).si
    assert dict(zip(found.ends, found.opening))[found.neediest] == 1.0
    again = lines.flows.si(lines.with_openings(one, dict(zip(found.valves, found.opening))), flow=flow).si
    expected = dict(zip(("near", "far"), flow * np.array(weights) / sum(weights)))
    assert dict(zip(again.ends, again.end_flow)) == pytest.approx(expected, rel=1e-6)
    assert again.head == pytest.approx(found.head, rel=1e-6)


def test_valves_for_a_pump_meet_its_curve():
    pump = pumps.pump(pumps.names()[0])
    one = line(
        stretch("riser", bore=0.03, length=1.0),
        stretch("near", "riser", length=0.5, valve="ball valve", outlet=0.5, share=0.4),
        stretch("far", "riser", length=4.0, valve="ball valve", outlet=0.7),
    )
    found = lines.valve_settings(one, pump)
    assert dict(zip(found.ends, (found.end_flow / found.flow).m_as(""))) == pytest.approx({"near": 0.4, "far": 0.6})
    assert found.head.m_as("m") == pytest.approx(pumps.head.si(pump, found.si.flow), rel=1e-7)
    again = lines.flows(lines.with_openings(one, dict(zip(found.valves, found.opening))), pump)
    assert again.si.flow == pytest.approx(found.si.flow, rel=1e-6)


def test_valves_missing_and_nearly_shut_are_told():
    def with_(**near):
        return line(
            stretch("riser", bore=0.03),
            stretch("near", "riser", length=0.5, outlet=0.2, **near),
            stretch("far", "riser", bore=0.013, length=9.0, valve="ball valve", outlet=1.6),
        )

    told = lines.valve_settings.si(with_(), flow=3e-4).si
    assert (told.no_valve, told.nearly_shut, told.neediest) == (("near",), (), "far")
    told = lines.valve_settings.si(with_(valve="ball valve"), flow=3e-4).si
    assert (told.no_valve, told.nearly_shut) == ((), ("near",))


# --- door ---------------------------------------------------------------------------------------


def refused(match, **change):
    """A line of two stretches with something wrong in it."""
    riser, bed = {"name": "riser", "bore": "26 mm", "length": "2 m"}, {
        "name": "bed pipe", "after": "riser", "bore": "20 mm", "length": "1 m", "to": "bed", "outlet": "1 m"}  # fmt: skip
    riser |= change.pop("riser", {})
    bed |= change.pop("bed", {})
    more = [Stretch(**{"bore": "20 mm", "length": "1 m", **extra}) for extra in change.pop("more", [])]
    with pytest.raises(DesignError, match=match) as told:
        Line(name="main", source="0 m", stretches=(Stretch(**riser), Stretch(**bed), *more), **change)
    assert len(str(told.value)) < 300
    return str(told.value)


@pytest.mark.parametrize(
    "match, change",
    [
        pytest.param("'bed pipe' follows 'rizer'.*did you mean riser", {"bed": {"after": "rizer"}}, id="unknown stretch to follow"),
        pytest.param("both start at the pump", {"bed": {"after": ""}}, id="two at the pump"),
        pytest.param("loop", {"riser": {"after": "bed pipe"}}, id="a loop with no start"),
        pytest.param(
            "'x' and 'y' follow each other in a loop",
            {"more": [{"name": "x", "after": "y"}, {"name": "y", "after": "x"}]},
            id="a loop beside",
        ),
        pytest.param("2 stretches named 'riser'", {"bed": {"name": "riser"}}, id="same name twice"),
        pytest.param("neither feeds another stretch nor ends", {"bed": {"to": "", "outlet": None}}, id="an end that ends nowhere"),
        pytest.param("'riser' ends in bed and yet", {"riser": {"to": "bed", "outlet": "1 m"}}, id="an end with more after it"),
        pytest.param("say how high", {"bed": {"outlet": None}}, id="a vessel without a height"),
        pytest.param("'riser': bore is 0 mm", {"riser": {"bore": "0 mm"}}, id="no bore"),
        pytest.param("'riser': length is -2 m", {"riser": {"length": "-2 m"}}, id="negative length"),
        pytest.param("'riser'.*elbow 9o.*did you mean", {"riser": {"fittings": {"elbow 9o": 1}}}, id="unknown fitting"),
        pytest.param("'bed pipe'.*opening", {"bed": {"valve": "ball valve", "opening": 1.2}}, id="opening over 1"),
        pytest.param("'bed pipe'.*no opening curve", {"bed": {"valve": "magic valve"}}, id="unknown valve"),
        pytest.param("needs a length", {"riser": {"bore": "26 L"}}, id="wrong dimension"),
        pytest.param("nozzles is 0", {"bed": {"nozzle_bore": "8 mm", "nozzles": 0}}, id="no jets"),
        pytest.param("suction side", {"suction": (stretch("s", outlet=1.0),)}, id="suction that ends in a vessel"),
    ],
)
def test_refused_in_plain_words(match, change):
    refused(match, **change)


def test_a_line_without_pipe_is_refused():
    with pytest.raises(DesignError, match="no pipe after its pump"):
        Line(name="main", source="0 m", stretches=())


@pytest.mark.parametrize(
    "match, call",
    [
        pytest.param("either a pump or a flow", lambda one: lines.flows(one), id="neither pump nor flow"),
        pytest.param("pumped outwards", lambda one: lines.required_head(one, "-5 L/h"), id="negative flow"),
        pytest.param(
            "every branch of the line is shut",
            lambda one: lines.flows(lines.with_openings(one, {"b": 0, "c": 0}), flow="9 L/h"),
            id="all shut",
        ),
        pytest.param("did you mean|it has", lambda one: lines.with_openings(one, {"q": 0.5}), id="opening of an unknown stretch"),
        pytest.param("has no valve to set", lambda one: lines.with_openings(one, {"a": 0.5}), id="opening without a valve"),
        pytest.param(
            "the share of 'c' is 0", lambda one: lines.valve_settings(one, flow="9 L/h", shares={"b": 1}), id="an end without a share"
        ),
        pytest.param(
            "choose a pump with more head", lambda one: lines.valve_settings(one, straight(0.5, 1e-3)), id="pump too weak to share out"
        ),
        pytest.param("nothing to share out", lambda one: lines.valve_settings(one, flow="0 L/h"), id="no flow to share out"),
        pytest.param("band", lambda one: lines.flows(one, flow="9 L/h", band="middle"), id="unknown band"),
    ],
)
def test_calls_refused_in_plain_words(match, call):
    valve = {"valve": "ball valve"}
    with pytest.raises(DesignError, match=match):
        call(line(stretch("a"), stretch("b", "a", outlet=1.0, **valve), stretch("c", "a", outlet=1.0, **valve)))


def test_quantities_go_in_and_come_out():
    bed = Stretch(name="bed pipe", bore="1 in", length="10 ft", to="bed", outlet="4 ft", nozzle_bore=None)
    one = Line(name="main", source="1 ft", stretches=(bed,), temperature="75 degF")
    found = lines.flows(one, flow=[0, 200, 400] * u.gallon / u.hour)
    assert found.head.check("[length]") and found.stretch_flow.shape == (1, 3)
    assert found.head[0].m_as("ft") == pytest.approx(3)
    with pytest.raises(DesignError, match="a volume"):
        lines.required_head(one, "900 L")


def test_a_line_is_made_ready_once_and_a_changed_copy_afresh():
    """Identity: the solver's arrays belong to one line's values and to no other's."""
    first = fitted()
    made = net(first, "typical")
    assert net(first, "typical") is made and net(first, "high") is not made
    higher = first.with_si(source=first.si.source - 0.5)
    assert net(higher, "typical").source == pytest.approx(made.source - 0.5)
    assert net(pickle.loads(pickle.dumps(first)), "typical").names == made.names

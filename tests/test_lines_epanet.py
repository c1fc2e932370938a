"""Random pumped trees against EPANET 2.2, run through wntr; `epanet_trees` says what differs between the two."""

import numpy as np
import pytest

import epanet_trees
from aquaplumb.plumbing import line_solver, lines

pytestmark = pytest.mark.filterwarnings("ignore:Changing the headloss formula")
pytest.importorskip("wntr", reason="wntr is not installed; it comes with the test extra")

FLOW_TOLERANCE = 0.003  # Colebrook against Swamee–Jain
HEAD_TOLERANCE = 0.005  # m


@pytest.fixture(scope="module")
def trees():
    """240 trees of 3 to 40 stretches, their ends at one height or up to 0.5 or 1.5 m apart, and EPANET's flows and heads."""
    rng = np.random.default_rng(20)
    made = [epanet_trees.random_tree(rng, int(rng.integers(3, 41)), spread=float(rng.choice([0, 0.5, 1.5]))) for _ in range(240)]
    flow, head = epanet_trees.epanet(epanet_trees.model(made))
    results = []
    for t, one in enumerate(made):
        links = range(len(one.parents))
        results.append((one, np.array([flow[f"l{t}_{i}"] for i in links]), np.array([head[f"n{t}_{i}"] for i in links])))
    return results


@pytest.fixture(scope="module")
def solutions(trees):
    return [lines.flows(one.line(), one.pump).si for one, _, _ in trees]


def test_flows_in_every_stretch_as_epanet(trees, solutions):
    own, all_stretches = 0, 0
    for (_, flow, _), ours in zip(trees, solutions):
        difference = np.abs(ours.stretch_flow - flow)
        # An end that is reached with a few centimetres of head to spare, or runs laminar, magnifies the difference
        # between the two friction formulas: there it is held to the flow of the whole line.
        assert np.all(difference <= np.maximum(FLOW_TOLERANCE * flow, 0.0005 * ours.flow) + 1e-9)
        own += np.count_nonzero(difference <= FLOW_TOLERANCE * flow + 1e-9)
        all_stretches += len(flow)
    assert own >= 0.995 * all_stretches > 4000


def test_heads_at_every_junction_as_epanet(trees, solutions):
    for (one, _, head), ours in zip(trees, solutions):
        inner = [i for i in range(len(one.parents)) if i not in one.outlet]
        if ours.flow > 0:
            assert np.abs(ours.end_head - head)[inner].max(initial=0) <= HEAD_TOLERANCE


def test_the_same_ends_are_dry_as_in_epanet(trees, solutions):
    dry = 0
    for (one, flow, _), ours in zip(trees, solutions):
        theirs = {f"s{i}" for i in one.outlet if abs(flow[i]) < 1e-8}
        assert set(ours.dry) == theirs
        dry += len(theirs)
    assert dry >= 10, "too few dry ends to say anything"


def test_with_the_same_friction_formula_nothing_is_left(trees, monkeypatch):
    """With EPANET's own friction factor put in, the two agree to what its 32-bit results can hold."""
    monkeypatch.setattr(line_solver, "factor_and_slope", epanet_trees.epanet_factor_and_slope)
    for one, flow, head in trees:
        ours = lines.flows(one.line(), one.pump).si
        np.testing.assert_allclose(ours.stretch_flow, flow, rtol=2e-4, atol=2e-5 * ours.flow + 1e-9)
        if ours.flow > 0:
            inner = [i for i in range(len(one.parents)) if i not in one.outlet]
            np.testing.assert_allclose(ours.end_head[inner], head[inner], atol=2e-4)

"""Water through time against closed forms, scipy's solver of differential equations, and EPANET.

Closed forms are integrals of dV/(flow in − flow out), by hand or by `scipy.integrate.quad`.
"""

import tempfile
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

import epanet_trees
from aquaplumb import water
from aquaplumb.plumbing import drains, fittings, full_pipe, line_solver, lines, pumps, siphons
from aquaplumb.system.levels import Event, network, simulate
from aquaplumb.system.steady import Steady
from levels_builds import fall, made, pumped, vessel

G = 9.80665
T = 293.15  # K, the test builds' coldest water
DEEP = {"floor": -3.0, "height": 2.0, "depth": 0.1}  # a pit too low to drown anything


def crossing(run, name, depth):
    """The first moment at which a vessel's depth passes a value."""
    d = run.depth[:, run.vessels.index(name)] - depth
    i = np.flatnonzero(d[:-1] * d[1:] <= 0)[0]
    return run.time[i] + (run.time[i + 1] - run.time[i]) * d[i] / (d[i] - d[i + 1])


def tap(flow, **more):
    return Event("top-up", "tank", flow=flow, **more)


# --- one vessel that drains -----------------------------------------------------------------------


def drained(area=1.0, depth=0.9, bore=0.025, **more):
    """A tank with a hole (an open standpipe's mouth) 0.3 m over its bottom."""
    return made(
        vessel("tank", area=area, depth=depth), vessel("pit", "sump", area=8.0, **DEEP),
        fall("hole", "tank", "pit", lip=0.3, outlet=-0.9, bore=bore, length=1.2, vented=True, **more),
    )  # fmt: skip


@pytest.mark.parametrize("inflow", [0.0, 20.0], ids=["no inflow", "20 L/min in (hydraulics.md §4, acceptance item 22)"])
def test_a_tank_drains_through_a_drowned_mouth_as_the_closed_form(inflow):
    """A dh/dt = q − c√h from 0.5 to 0.1 m over the mouth: t = 2A/c² [c(√h1−√h2) + q ln((c√h1−q)/(c√h2−q))].

    Formula and procedure of hydraulics.md §4: 589.5 s and 1328.6 s there with Cd 0.61; a standpipe's mouth has 0.60.
    The tolerance is that of acceptance item 22, 0.1 %.
    """
    run = simulate(drained(depth=0.8), "1 h", events=[tap(f"{inflow} L/min")] if inflow else [])
    c, q = drains.ORIFICE * np.pi / 4 * 0.025**2 * np.sqrt(2 * G), inflow / 60000

    def time(c):
        a, b = c * np.sqrt(0.5), c * np.sqrt(0.1)
        return 2 / c**2 * (a - b + q * np.log((a - q) / (b - q)))

    assert time(c * 0.61 / drains.ORIFICE) == pytest.approx(1328.6 if inflow else 589.5, rel=1e-3)
    assert crossing(run, "tank", 0.4) == pytest.approx(time(c), rel=1e-3)


def test_a_tank_drains_down_to_a_weir_as_the_closed_form():
    """A dh/dt = −Cw π D h^1.5: h^−½ grows evenly, h^−½ − h0^−½ = Cw π D t / 2A. Within 0.1 mm over two hours."""
    run = simulate(drained(bore=0.09, depth=0.33), "2 h")  # under 0.36 bores: all weir
    over = (0.03**-0.5 + drains.WEIR * np.pi * 0.09 * run.time / 2) ** -2
    np.testing.assert_allclose(run.depth[:, 0] - 0.3, over, atol=1e-4)


def test_a_standpipe_passes_what_comes_in_at_its_own_depth():
    """In the end the level stands where the lip takes exactly the inflow: h = (q / Cw π D)^(2/3)."""
    run = simulate(drained(bore=0.09, depth=0.3), "6 h", events=[tap("30 L/min")])
    assert run.depth[-1, 0] - 0.3 == pytest.approx((30 / 60000 / (drains.WEIR * np.pi * 0.09)) ** (2 / 3), rel=1e-3)


def test_a_full_pipe_empties_a_tank_as_a_solver_of_differential_equations():
    """Torricelli with friction: a long pipe from the bottom runs full nearly to the end."""
    build = made(
        vessel("tank", area=1.0, depth=0.9), vessel("pit", "sump", area=8.0, **DEEP),
        fall("drain", "tank", "pit", lip=0.0, outlet=-0.4, bore=0.03, length=30.0, fittings={"elbow 90": 3}),
    )  # fmt: skip
    k = 3 * fittings.fitting("elbow 90").si.k_typical + 1.5

    def change(_, h):
        over = max(h[0], 0.0)
        full = full_pipe.full_bore_flow.si(over + 0.4, 0.03, 30.0, k=k, temperature=T)
        return [-min(full, drains.standpipe_flow.si(over, 0.03))]

    run = simulate(build, "25 min")
    exact = solve_ivp(change, (0, 1500), [0.9], rtol=1e-9, atol=1e-9, dense_output=True)
    deep = run.time[run.depth[:, 0] > 0.01]  # the last film of 5 mm fades
    np.testing.assert_allclose(run.depth[: len(deep), 0], exact.sol(deep)[0], atol=5e-4)


def test_a_tank_that_empties_into_a_brimful_box_does_so_against_its_rim():
    """The box's way out is blocked, so that all spills at its rim: A dh/dt = q − pipe(h − rim), by scipy's solver. It once took 166,000 steps."""
    build = made(
        vessel("tank", depth=0.9), vessel("box", "sump", area=0.05, height=0.5), vessel("pit", "sump", area=8.0, **DEEP),
        fall("drain", "tank", "box", lip=0.0, outlet=0.0, bore=0.05, length=10.0),
        fall("way on", "box", "pit", lip=0.45, outlet=-0.9, bore=0.05, length=1.5),
    )  # fmt: skip

    def change(_, h):
        return [0.001 - full_pipe.full_bore_flow.si(h[0] - 0.5, 0.05, 10.0, k=1.5, temperature=T)]

    run = simulate(build, "2 h", events=[Event("drain blocks", "way on"), tap("60 L/min")], start={"box": "50 cm"})
    exact = solve_ivp(change, (0, 7200), [0.9], rtol=1e-9, atol=1e-9, dense_output=True)
    np.testing.assert_allclose(run.depth[:, 0], exact.sol(run.time)[0], atol=5e-4)
    assert run.vessel("box").si.spilled == pytest.approx(0.9 + 7.2 - run.depth[-1, 0], rel=1e-6)
    assert len(run.time) < 100


def test_a_cone_empties_as_the_closed_form():
    """A(h) = A (h/H)², out of a hole at its tip: t = ∫ A(h)/(c √h) dh = 2A/(5 c H²) (h1^2.5 − h2^2.5)."""
    build = made(
        vessel("tank", shape="cone-bottomed", diameter=1.0, cone_height=0.6, height=1.0, depth=0.6),
        vessel("pit", "sump", area=8.0, **DEEP), fall("hole", "tank", "pit", lip=0.0, outlet=-0.9, bore=0.03, length=0.9, vented=True),
    )  # fmt: skip
    c = drains.ORIFICE * np.pi / 4 * 0.03**2 * np.sqrt(2 * G)
    exact = 2 * (np.pi / 4) / (5 * c * 0.6**2) * (0.6**2.5 - 0.1**2.5)
    run = simulate(build, "20 min")
    assert crossing(run, "tank", 0.1) == pytest.approx(exact, rel=2e-3)


def test_a_bed_with_media_fills_with_the_voids_first():
    """Void 0.45 (data/media.csv) up to the media's depth, all of the area above it: time = volume / flow."""
    bed = {"medium": "expanded clay 8-16 mm", "media_depth": 0.3}
    build = made(
        vessel("bed", "bed", area=2.0, height=0.5, depth=0.0, **bed),
        vessel("sump", "sump", **DEEP),
        fall("out", "bed", "sump", lip=0.5, outlet=-1.0),
    )
    run = simulate(build, "2 h", events=[Event("top-up", "bed", flow="10 L/min")], start={"bed": "0 cm"}, step="10 s")
    for depth, litres in ((0.1, 90), (0.3, 270), (0.4, 470)):
        assert crossing(run, "bed", depth) == pytest.approx(litres * 6, abs=3)  # rows 10 s apart


# --- bed siphons ----------------------------------------------------------------------------------

BED = {"medium": "expanded clay 8-16 mm", "media_depth": 0.40}
BORE, LENGTH, LIP, VENT, OUTLET = 0.0266, 1.2, 0.30, 0.05, -0.5


def siphoning(*more, sump_area=2.0):
    sump = {"floor": -1.5, "height": 1.45, "depth": 0.3}
    return made(
        vessel("bed", "bed", area=1.2, height=0.5, depth=VENT, **BED), vessel("sump", "sump", area=sump_area, **sump),
        fall("siphon", "bed", "sump", lip=LIP, outlet=OUTLET, bore=BORE, length=LENGTH, vent=VENT, fittings={"elbow 90": 1}), *more,
    )  # fmt: skip


def test_a_bed_fills_and_drains_as_the_integral():
    """Fill: voids between vent and start / inflow. Drain: ∫ dV / (siphon − inflow), `quad` of `drains.siphon_flow`."""
    inflow = 38 / 60000  # over Froude 2, 34 L/min for a 1 in pipe (hydraulics.md §5)
    run = simulate(siphoning(sump_area=20.0), "1 h", events=[Event("top-up", "bed", flow="38 L/min")])
    runs = run.running[:, 0].astype(int)
    starts, breaks = run.time[1:][np.diff(runs) > 0], run.time[1:][np.diff(runs) < 0]
    assert len(starts) > 3
    voids, k = 1.2 * 0.45, fittings.fitting("elbow 90").si.k_typical + 1.5
    net, flow = network(run.build), lambda h: drains.siphon_flow.si(h - OUTLET, BORE, LENGTH, k=k, temperature=T)
    sure = siphons.siphon_starting_band.si(BORE).si.sure
    top = LIP + (sure / (drains.WEIR * np.pi * BORE)) ** (2 / 3)  # where the crest takes the flow that is sure to start it
    rising = quad(lambda h: voids / (inflow - drains.crest_flow.si(h - LIP, BORE)), VENT, top, points=[LIP])[0]
    priming = net.siphon_held[0] / sure
    assert starts[0] == pytest.approx(rising + priming, abs=1.0)
    falling = quad(lambda h: voids / (flow(h) - inflow), VENT, top)[0]
    assert breaks[0] - starts[0] == pytest.approx(falling, abs=1.5)
    np.testing.assert_allclose(np.diff(breaks), np.diff(breaks)[0], atol=1.0)  # one round is as the next
    assert np.diff(breaks)[0] == pytest.approx(rising + priming + falling, abs=2.0)


def two_tanks(build, inflow, hours):
    """The same bed and sump with scipy: levels, and moments of starts and breaks. A machine of three states.

    The sump's pump sends `inflow` to the bed from its own source here: all of it comes from the sump.
    """
    area, voids = 2.0, 1.2 * 0.45
    k = fittings.fitting("elbow 90").si.k_typical + 1.5
    held = np.pi / 4 * BORE**2 * LENGTH
    start_depth = (siphons.siphon_starting_band.si(BORE).si.sure / (drains.WEIR * np.pi * BORE)) ** (2 / 3)

    def full(bed, sump):
        return full_pipe.full_bore_flow.si(bed - max(OUTLET, sump), BORE, LENGTH, k=k, temperature=T)

    def crest(bed, sump):
        return min(drains.crest_flow.si(bed - LIP, BORE), full(bed, sump))

    def change(_, y, state):
        q = full(y[0], y[1]) if state == "runs" else crest(y[0], y[1])
        into = 0.0 if state == "fills" else q
        come = inflow(y[1])
        return [(come - q) / voids, (into - come) / area, q if state == "fills" else 0.0]

    events = {
        "trickles": lambda t, y, s: y[0] - LIP - start_depth, "fills": lambda t, y, s: y[2] - held, "runs": lambda t, y, s: y[0] - VENT,
    }  # fmt: skip
    following = {"trickles": "fills", "fills": "runs", "runs": "trickles"}
    t, y, state, pieces, starts, breaks = 0.0, np.array([VENT, -1.2, 0.0]), "trickles", [], [], []
    while t < hours * 3600:
        event = events[state]
        event.terminal, event.direction = True, -1 if state == "runs" else 1
        out = solve_ivp(change, (t, hours * 3600), y, args=(state,), events=event, rtol=1e-7, atol=1e-8, dense_output=True, max_step=60)
        pieces.append((t, out.t[-1], out.sol))
        t, y = out.t[-1], out.y[:, -1]
        if out.status != 1:
            break
        state = following[state]
        if state == "runs":
            starts.append(t)
        elif state == "trickles":
            breaks.append(t)
            y = np.array([y[0], y[1] + y[2] / area, 0.0])  # its content falls into the sump
    levels = lambda times: np.array([next(sol(x)[:2] for a, b, sol in pieces if a <= x <= b) for x in times])  # noqa: E731
    return levels, np.array(starts), np.array(breaks)


def test_two_tanks_with_a_bed_siphon_as_a_solver_of_differential_equations():
    """Pump, bed, siphon, sump: four hours. Starts and breaks within 3 s, levels within 2.5 mm away from them."""
    pump = pumped("lift", "sump", {"bed": 0.6}, pump="demo mains 80 W submersible", fittings={"swing check valve": 1}, bore=0.0266)
    build = siphoning(pump)
    line = build.pumped["lift"]
    system = Steady(build)
    pipes, machine = system.tree(line), pumps.pump("demo mains 80 W submersible")
    levels = np.linspace(-1.5, -0.6, 181)  # what the pump brings, solved at each level anew
    brought = np.array([lines.flows.si(pipes.replace(source=f"{z} m"), machine).si.flow for z in levels])
    run = simulate(build, "4 h")
    exact, starts, breaks = two_tanks(build, lambda z: float(np.interp(z, levels, brought)), 4)
    runs = run.running[:, 0].astype(int)
    assert len(starts) > 8
    np.testing.assert_allclose(run.time[1:][np.diff(runs) > 0], starts, atol=3.0)
    np.testing.assert_allclose(run.time[1:][np.diff(runs) < 0], breaks, atol=3.0)
    times = np.linspace(10, 4 * 3600 - 10, 300)
    times = times[np.abs(times[:, None] - np.concatenate([starts, breaks])).min(axis=1) > 10]
    ours = np.array([np.interp(times, run.time, run.level[:, i]) for i in range(2)]).T
    np.testing.assert_allclose(ours, exact(times), atol=2.5e-3)  # 3 s in which the bed falls 0.8 mm a second


# --- EPANET ---------------------------------------------------------------------------------------


@pytest.mark.filterwarnings("ignore:Changing the headloss formula")
def test_tank_levels_over_half_a_day_as_epanet(monkeypatch):
    """Sump, pump under water into a tank (its flow answers to both levels), pipe back, level control on the sump.

    EPANET 2.2 through wntr, steps of 10 s, in each of which its flows stand still; it ends a step where a control
    level is met. With its own friction formula put in, so that rounds do not drift apart.
    """
    monkeypatch.setattr(line_solver, "factor_and_slope", epanet_trees.epanet_factor_and_slope)
    monkeypatch.setattr(full_pipe, "factor_and_slope", epanet_trees.epanet_factor_and_slope)
    wntr = pytest.importorskip("wntr", reason="wntr is not installed; it comes with the test extra")
    control = {"kind": "float", "on_depth": "90 cm", "off_depth": "60 cm"}
    bore, back_bore, pump_name = 0.0266, 0.0209, "demo mains 45 W submersible"
    build = made(
        vessel("tank", area=2.0, height=2.0, floor=0.3, depth=0.5), vessel("sump", "sump", area=1.0, height=1.4, floor=-1.0, depth=0.8),
        pumped("lift", "sump", {"tank": 0.31}, pump=pump_name, bore=bore, riser=3.0, fittings={"swing check valve": 1}, control=control),
        fall("back", "tank", "sump", lip=0.31, outlet=-1.0, bore=back_bore, length=40.0),
    )  # fmt: skip
    check = fittings.fitting("swing check valve").si
    ours = epanet_trees.LOSSES_AT_OUR_GRAVITY
    curve = pumps.curve(pumps.pump(pump_name))
    top = float(pumps.pump(pump_name).si.flow[-1])
    net = wntr.network.WaterNetworkModel()
    options = net.options
    options.hydraulic.inpfile_units, options.hydraulic.headloss = "LPS", "D-W"
    options.hydraulic.viscosity = water.kinematic_viscosity.si(T) / epanet_trees.EPANET_VISCOSITY
    options.hydraulic.accuracy, options.hydraulic.trials = 1e-6, 200
    options.time.duration, options.time.hydraulic_timestep, options.time.report_timestep = 43200, 10, 10
    net.add_tank("tank", elevation=0.3, init_level=0.5, min_level=0.0, max_level=2.0, diameter=np.sqrt(4 * 2.0 / np.pi))
    net.add_tank("sump", elevation=-1.0, init_level=0.8, min_level=0.0, max_level=1.4, diameter=np.sqrt(4 * 1.0 / np.pi))
    net.add_junction("p", elevation=-1.0)
    flows = np.linspace(0, top, 80)
    net.add_curve("curve", "HEAD", [(q, float(curve(q)[0]) - check.opening_head_typical) for q in flows])
    net.add_pump("pump", "sump", "p", pump_type="HEAD", pump_parameter="curve")
    # At these flows the flap costs its opening head; EPANET's check valve has none, so its pump is that much weaker.
    net.add_pipe("riser", "p", "tank", length=3.5 * ours, diameter=bore, roughness=1.5e-6, minor_loss=ours, check_valve=True)
    net.add_pipe("back", "tank", "sump", length=40.0 * ours, diameter=back_bore, roughness=1.5e-6, minor_loss=1.5 * ours, check_valve=True)
    pump, sump = net.get_link("pump"), net.get_node("sump")
    pump.initial_status = "Closed"
    act = wntr.network.controls.ControlAction
    for label, relation, level, status in (("on", ">", 0.9, 1), ("off", "<", 0.6, 0)):
        condition = wntr.network.controls.ValueCondition(sump, "level", relation, level)
        net.add_control(label, wntr.network.controls.Control(condition, act(pump, "status", status)))
    with tempfile.TemporaryDirectory() as folder:
        found = wntr.sim.EpanetSimulator(net).run_sim(file_prefix=str(Path(folder) / "run"))
    run = simulate(build, "12 h")
    on, their_on = (np.diff(np.asarray(x, int)) for x in (run.on[:, 0], found.link["flowrate"]["pump"].to_numpy() > 1e-6))
    theirs = found.node["head"]
    times = np.array(theirs.index, float)
    moments = [(run.time[1:][on == step], times[1:][their_on == step]) for step in (1, -1)]
    for mine, other in moments:
        assert len(mine) == len(other) > 10
        assert np.all(np.abs(mine - other) < 20 + 0.003 * other)  # a step or two; 0.3 % of flow, hydraulics.md §11
    # That little by which rounds drift apart taken out, the levels are compared round for round.
    mine, other = (np.sort(np.concatenate([pair[i] for pair in moments])) for i in (0, 1))
    shared = times <= other[-1]
    ours_then = np.interp(times[shared], np.concatenate([[0], other]), np.concatenate([[0], mine]))
    for i, name in enumerate(("tank", "sump")):
        difference = np.interp(ours_then, run.time, run.level[:, i]) - theirs[name].to_numpy()[shared]
        assert np.abs(difference).max() < 0.01

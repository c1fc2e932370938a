"""What is on its way through channels, towers and trickling media, and comes down when the pumps stop, against hand calculation."""

import math

import numpy as np
import pytest

from aquaplumb.build import Vessel, load
from aquaplumb.system import films
from aquaplumb.system.levels import Event, simulate

COLD = 294.15  # K
VISCOSITY = 0.98e-6  # m²/s of water at 21 °C: IAPWS, any handbook's table, from memory
CUT = [Event("power fails", at="1 h")]


def channel(**more):
    given = {
        "kind": "channel",
        "shape": "rectangular",
        "length": "3 m",
        "width": "20 cm",
        "height": "14 cm",
        "floor": "80 cm",
        "slope": 0.025,
    }
    return Vessel.from_si(**{**vars(Vessel(name="channel", **given).si), **more})


@pytest.mark.parametrize("litres", [30, 75, 150, 600])
def test_a_film_is_as_deep_as_manning_has_it(litres):
    """Q = A R^(2/3) √S / n (Manning; Chow 1959), put in by hand with the depth found, for each of twelve alike."""
    flow = litres / 3.6e6
    one = channel(count=12.0)
    deep = films.film(one, 12 * flow, COLD) / 12 / 3.0 / 0.2
    area, wet = 0.2 * deep, 0.2 + 2 * deep
    assert area * (area / wet) ** (2 / 3) * math.sqrt(0.025) / films.ROOTED == pytest.approx(flow, rel=1e-6)
    assert 1e-3 < deep < 10e-3  # growers' films: 1 to 10 mm; common practice, no source


def test_a_bare_film_is_laminar_where_that_is_deeper(monkeypatch):
    """Smooth plastic, n = 0.009: at 75 L/h in 20 cm Manning has 0.7 mm; as a falling film on a slope (Nusselt 1916) it is 1.1 mm."""
    monkeypatch.setattr(films, "ROOTED", 0.009)
    deep = films.film(channel(), 75 / 3.6e6, COLD) / 3.0 / 0.2
    assert deep == pytest.approx((3 * VISCOSITY * 75 / 3.6e6 / (0.2 * 9.81 * 0.025)) ** (1 / 3), rel=0.01)


def test_a_pipe_as_a_channel_fills_as_part_full_drains_do():
    """110 mm pipe at 2 %, n = 0.08: half full it carries half of its full flow, A R^(2/3) √S / n with R = D/4 (Manning)."""
    pipe = Vessel(name="pipe", kind="channel", shape="lying", diameter="110 mm", length="4 m", floor="1 m", slope=0.02)
    half = math.pi / 8 * 0.11**2 * (0.11 / 4) ** (2 / 3) * math.sqrt(0.02) / films.ROOTED
    assert films.film(pipe, half, COLD) == pytest.approx(4 * math.pi / 8 * 0.11**2, rel=1e-3)


def test_a_towers_water_is_a_falling_film():
    """Sixteen towers of 16 cm by 1.2 m with 200 m²/m³: 4.83 m² and 4.02 m round, so 0.098 mm and 0.47 L in each at 45 L/h (Nusselt 1916)."""
    towers = load("side-alley").vessels["towers"]
    assert films.film(towers, 16 * 45 / 3.6e6, COLD) == pytest.approx(16 * 0.47e-3, rel=0.01)


def test_nothing_is_on_its_way_without_flow_under_water_or_elsewhere():
    one = channel()
    assert films.film(one, 0.0, COLD) == 0
    assert films.film(one, 1e-4, COLD, depth=0.075) == pytest.approx(0)  # 2.5 % of 3 m: the foot's water reaches its head
    assert films.film(one, 1e-4, COLD, depth=0.0375) == pytest.approx(films.film(one, 1e-4, COLD) / 2)
    assert not films.flows_through(channel(slope=0.0))
    assert films.film(load("courtyard").vessels["sump"], 1e-4, COLD) == 0


@pytest.mark.parametrize(("name", "vessel"), [("side-alley", "towers"), ("lean-to", "channels")])
def test_after_a_power_cut_the_sump_has_what_was_on_its_way(name, vessel):
    """What the vessel holds in the run is what stands at its foot and the film at its flow; within hours most of both is in the sump."""
    build = load(name)
    run = simulate(build, "13 h", events=CUT)
    i, s, before = run.vessels.index(vessel), run.vessels.index("sump"), int(np.searchsorted(run.time, 3600.0 - 1))
    v = build.vessels[vessel].si
    flow = run.flow[before, run.flows.index(f"{vessel} drain")]
    foot = run.depth[before, i]
    stands = v.count * (math.pi / 4 * v.diameter**2 * foot if v.shape == "round" else v.width * foot**2 / (2 * v.slope))
    film = films.film(build.vessels[vessel], flow, build.site.si.coldest_water, foot)
    assert film > 5e-3
    assert run.volume[before, i] == pytest.approx(stands + film, rel=0.01)
    assert run.volume[-1, i] < 0.15 * run.volume[before, i]
    others = [k for k in range(len(run.vessels)) if k != s]
    lost = (run.volume[before, others] - run.volume[-1, others]).sum()
    assert run.volume[-1, s] - run.volume[before, s] == pytest.approx(lost + run.pipes[before] - run.pipes[-1], abs=1e-6)
    assert abs(run.balance) < 1e-9


@pytest.mark.parametrize("name", ["side-alley", "lean-to"])
def test_a_channel_or_tower_with_a_blocked_drain_holds_no_more_than_it_is_large(name):
    net = simulate(load(name), "1 min").network
    (i,) = net.filmed
    v = net.vessels[i].si
    geometry = v.count * (
        math.pi / 4 * v.diameter**2 * v.height if v.shape == "round" else v.length * v.width * (v.height - v.slope * v.length / 2)
    )
    assert net.full[i] == pytest.approx(geometry, rel=1e-6)
    assert (np.diff(net.filmed[i].volume) > 0).all()

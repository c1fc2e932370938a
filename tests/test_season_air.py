"""Air and sunshine in a season: what evaporates and what is lost month by month, and the panel by the darkest month."""

import importlib
import math

import pytest

from aquaplumb import heat, power, u
from aquaplumb.build import Build, load
from aquaplumb.review import review
from aquaplumb.system.steady import Steady
from aquaplumb.units import MONTHS, DesignError
from aquaplumb.whatif import WALK
from test_season import stock, text

AIR = 'air = { January = "2 degC", July = "22 degC" }'
SUN = 'sunshine = { January = "1.2 kWh/m2/d", July = "5.6 kWh/m2/d" }'
PANEL = """
[power]
voltage = "12 V"
wire = "2.5 mm2 stranded"
wire_length = "3 m"
battery = "lead-acid AGM"
capacity = "100 Ah"
panel = "200 W"
latitude = "48 deg"
always = "5 W"
"""


def build(*more, lines=AIR):
    return Build(text(more=lines, keep=True) + "".join(more))


def test_what_evaporates_is_that_of_the_months_air():
    system = Steady(build())
    [january, july] = (system.heat_months[n] for n in (0, 6))
    open_ = math.pi / 4 * sum(v.si.diameter**2 for v in load("courtyard").of_kind("fish tank"))
    sump = load("courtyard").vessels["sump"].si
    area = (open_ + sump.length * sump.width) * u.m**2
    for plan, air, water in ((january, 2, 20), (july, 22, 28)):
        by_hand = heat.evaporation(area, water * u.degC, air=air * u.degC, humidity=0.6, covered=0.8)
        assert (plan.evaporation * u.kg / u.s).m_as("kg/d") == pytest.approx(by_hand.m_as("kg/d"), rel=1e-6)
    assert january.loss > july.loss > 0  # 18 K against 6 K


def test_the_review_tells_each_months_air_and_evaporation():
    said = str(review(build()))
    assert "evaporates a day" in said and "heat to keep that water warm" in said
    assert "evaporates a day" not in str(review(build(lines="")))


def test_a_wave_between_two_months_of_air():
    year = build().season.si.air
    assert year[0] == pytest.approx(275.15) and year[6] == pytest.approx(295.15)
    assert year[3] == pytest.approx(285.15)  # half way, half wave
    assert list(year[:7]) == sorted(year[:7])


@pytest.mark.parametrize("heater, told", [("300 W", True), ("4000 W", False)])
def test_a_heater_short_in_a_month_is_told_with_the_month(heater, told):
    found = [f for f in review(build().changed({("heat", "heater"): heater})).findings if f.name == "heater short in a month"]
    assert bool(found) == told
    if told:
        assert "January" in found[0].sentence and found[0].severity == "fix"


def test_the_panel_is_reckoned_by_the_sunshine_of_the_darkest_month():
    made = build(PANEL, lines=SUN)
    clear = power.sunshine("48 deg", tilt="0 deg", sky_share=1.0).clear.m_as("kWh/m²/d")
    assert made.power.si.sky_share == pytest.approx(1.2 / clear[0], rel=1e-6) and MONTHS[0] == "January"
    assert 0.2 < made.power.si.sky_share < 0.8
    # what the file says of clouds stands
    own = build(PANEL + "sky_share = 0.5\n", lines=SUN)
    assert own.power.si.sky_share == 0.5
    assert build(PANEL, lines="").power.si.sky_share is None


@pytest.mark.parametrize("lines, said", [
    ('air = ["2 degC", "5 degC"]', "has 2 values; it needs that of the air, its mean"),
    ('air = "12 degC"', "needs that of the air"),
    ('sunshine = { January = "2 m" , July = "3 kWh/m2/d" }', "sunshine"),
    ('sunshine = { Juny = "2 kWh/m2/d" , July = "3 kWh/m2/d" }', "Juny"),
], ids=["two of a list", "one", "a length", "no month"])  # fmt: skip
def test_bad_weather_is_one_sentence(lines, said):
    with pytest.raises(DesignError, match=said) as refused:
        build(lines=lines)
    assert str(refused.value).count("\n") == 0


def test_a_season_without_air_reads_as_before():
    plain = build(lines="")
    assert plain.season.si.air == () == plain.season.si.sunshine and Steady(plain).heat_months == []


# --- the walk on a build with a season ------------------------------------------------------------------


@pytest.fixture(scope="module")
def mine(tmp_path_factory):
    path = tmp_path_factory.mktemp("season") / "mine.toml"
    path.write_text(text(stock(), more=f"{AIR}\n{SUN}") + PANEL, encoding="utf-8")
    return path


@pytest.mark.sweep(5)
@pytest.mark.parametrize("name", [name for name in WALK if name != "start"])
@pytest.mark.usefixtures("unseen")
def test_every_page_opens_on_a_build_with_a_season(name, mine):
    panel = importlib.import_module(f"aquaplumb.whatif.{name}").panel(load(mine))
    assert not panel.stale and panel.said
    assert all(severity in ("stop", "fix", "note") for severity, _ in panel.found)


def test_the_worst_month_is_used_and_named(mine):
    seen = review(load(mine))
    [f] = [f for f in seen.findings if f.name == "worst month of the year"]
    run = seen.system.season
    assert MONTHS[run.month] in f.sentence
    strains = [strain.max() for strain in run.strain.values()]
    assert run.most == pytest.approx(max(strains))  # no other day asks more of beds or air
    assert seen.system.fish.feed == pytest.approx(run.feed[run.day], rel=1e-6)  # and the steady numbers are of that day
    assert seen.system.warm == pytest.approx(run.warm[run.day])
